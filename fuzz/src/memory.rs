//! How much memory is in use, counted where it is asked for.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

/// The system's allocator, counting.
pub struct Counted;

static NOW: AtomicUsize = AtomicUsize::new(0);
static MOST: AtomicUsize = AtomicUsize::new(0);

fn more(bytes: usize) {
    let now = NOW.fetch_add(bytes, Relaxed) + bytes;
    MOST.fetch_max(now, Relaxed);
}

// Sound: every call goes to the system's allocator unchanged.
unsafe impl GlobalAlloc for Counted {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        more(layout.size());
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        NOW.fetch_sub(layout.size(), Relaxed);
        unsafe { System.dealloc(at, layout) }
    }

    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        // Both may exist for a moment.
        more(size);
        NOW.fetch_sub(layout.size(), Relaxed);
        unsafe { System.realloc(at, layout, size) }
    }
}

/// The most bytes in use at once during a run, beyond those in use before it. Nothing is counted unless [`Counted`] is
/// the program's allocator.
pub fn most_during<T>(run: impl FnOnce() -> T) -> (T, usize) {
    let before = NOW.load(Relaxed);
    MOST.store(before, Relaxed);
    let result = run();
    (result, MOST.load(Relaxed).saturating_sub(before))
}
