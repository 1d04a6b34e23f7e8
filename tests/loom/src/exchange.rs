//! `src/host/exchange.rs` in the model: the same places over the model's atomics.

use std::ptr;

use loom::sync::atomic::AtomicPtr;
pub use loom::sync::atomic::{AtomicU64, Ordering};

/// One thing, or none.
pub struct Exchange<T> {
    pointer: AtomicPtr<T>,
}

impl<T> Default for Exchange<T> {
    fn default() -> Exchange<T> {
        Exchange { pointer: AtomicPtr::new(ptr::null_mut()) }
    }
}

impl<T> Exchange<T> {
    /// Lays a thing down; what lay there comes back.
    pub fn put(&self, thing: Box<T>) -> Option<Box<T>> {
        self.swap(Box::into_raw(thing))
    }

    /// Takes what lies there.
    pub fn take(&self) -> Option<Box<T>> {
        self.swap(ptr::null_mut())
    }

    /// What `AtomicCell::swap` of crossbeam-utils 0.8 does with a thing as large as a pointer:
    /// one swap of the order `AcqRel`.
    fn swap(&self, pointer: *mut T) -> Option<Box<T>> {
        let before = self.pointer.swap(pointer, Ordering::AcqRel);
        // SAFETY: whatever lies there was laid down by `put`, and only one swap has it back.
        (!before.is_null()).then(|| unsafe { Box::from_raw(before) })
    }
}

impl<T> Drop for Exchange<T> {
    fn drop(&mut self) {
        drop(self.take());
    }
}
