//! Runs side by side: each waits more than it works, and two processors bear only so many of them at a time.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::Mutex;

/// Runs each of the cases, `most` at a time; what they gave, in the cases' order.
pub(crate) fn at_once<T: Sync, R: Send>(most: usize, cases: &[T], run: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let next = Mutex::new(0..cases.len());
    let done = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        let work = || {
            loop {
                let Some(at) = next.lock().unwrap().next() else { return };
                // One that fails keeps none of the others from being looked at.
                let gave = catch_unwind(AssertUnwindSafe(|| run(&cases[at])));
                done.lock().unwrap().push((at, gave));
            }
        };
        let workers: Vec<_> = (0..most.min(cases.len())).map(|_| scope.spawn(work)).collect();
        workers.into_iter().for_each(|worker| worker.join().unwrap());
    });
    let mut done = done.into_inner().unwrap();
    done.sort_by_key(|(at, _)| *at);
    done.into_iter().map(|(_, gave)| gave.unwrap_or_else(|why| resume_unwind(why))).collect()
}

/// All of them at a time.
pub(crate) fn all_at_once<T: Sync, R: Send>(cases: &[T], run: impl Fn(&T) -> R + Sync) -> Vec<R> {
    at_once(cases.len(), cases, run)
}
