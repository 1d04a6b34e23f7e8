//! Counts how often a thread asks for memory or gives some back.
#![allow(unsafe_code, reason = "a global allocator that counts cannot be written without")]

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

thread_local! {
    static HEAP_CALLS: Cell<u64> = const { Cell::new(0) };
}

/// The system's allocator, which counts the calls of each thread.
struct Counting;

fn count_one() {
    // A thread that is ending has no counter any more, and nobody reads it.
    let _ = HEAP_CALLS.try_with(|calls| calls.set(calls.get() + 1));
}

// SAFETY: every call goes on to the system's allocator unchanged.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count_one();
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        count_one();
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        count_one();
        unsafe { System.realloc(at, layout, size) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        count_one();
        unsafe { System.dealloc(at, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

/// How often this thread called the heap meanwhile.
pub fn heap_calls(work: impl FnOnce()) -> u64 {
    let before = HEAP_CALLS.get();
    work();
    HEAP_CALLS.get() - before
}

#[test]
fn the_counter_counts() {
    assert_eq!(heap_calls(|| {}), 0);
    assert_eq!(heap_calls(|| drop(std::hint::black_box(Box::new(1_u8)))), 2);
    assert!(heap_calls(|| drop(std::hint::black_box(vec![0_u8; 9]))) >= 2);
    let mut list = vec![1_u8];
    assert!(heap_calls(|| list.extend_from_slice(&[0; 99])) >= 1);
}
