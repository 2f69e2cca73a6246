//! Counts what the calling thread allocates, in tests only.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

thread_local! {
    static COUNT: Cell<u64> = const { Cell::new(0) };
}

struct Counting;

#[allow(unsafe_code, reason = "an allocator that counts and hands on to the system's; tests only")]
// SAFETY: everything is handed on unchanged to the system's allocator.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        // At a thread's very end the counter is gone already.
        let _ = COUNT.try_with(|count| count.set(count.get() + 1));
        // SAFETY: as above.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        let _ = COUNT.try_with(|count| count.set(count.get() + 1));
        // SAFETY: as above.
        unsafe { System.dealloc(pointer, layout) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

/// How often the calling thread allocated or freed during `act`.
pub(crate) fn counted<T>(act: impl FnOnce() -> T) -> (T, u64) {
    let before = COUNT.with(Cell::get);
    let made = act();
    (made, COUNT.with(Cell::get) - before)
}

#[test]
fn it_counts() {
    assert_eq!(counted(|| std::hint::black_box(1 + 1)).1, 0);
    assert_eq!(counted(|| drop(std::hint::black_box(Box::new(7)))).1, 2);
}
