//! A place for one thing, which two threads exchange without either waiting for the other.
//!
//! `tests/loom` has the same file in a model of Rust's atomics, and lets every order of the two
//! threads' steps happen there.

use crossbeam_utils::atomic::AtomicCell;

pub use std::sync::atomic::{AtomicU64, Ordering};

// Otherwise the two sides would share a lock.
const _: () = assert!(AtomicCell::<Option<Box<u8>>>::is_lock_free());

/// One thing, or none.
pub struct Exchange<T> {
    cell: AtomicCell<Option<Box<T>>>,
}

impl<T> Default for Exchange<T> {
    fn default() -> Exchange<T> {
        Exchange { cell: AtomicCell::default() }
    }
}

impl<T> Exchange<T> {
    /// Any thread, never waits. Lays a thing down; what lay there comes back.
    pub fn put(&self, thing: Box<T>) -> Option<Box<T>> {
        self.cell.swap(Some(thing))
    }

    /// Any thread, never waits. Takes what lies there.
    pub fn take(&self) -> Option<Box<T>> {
        self.cell.take()
    }
}
