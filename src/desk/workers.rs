//! Threads for a check that may be given up half-way, when what it checks is no longer what is wanted.

use crate::motion::Workers;
use crate::threads::Threads;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::atomic::{AtomicBool, Ordering};

/// Carried up through a check that is given up. The check knows nothing of it and holds nothing that it could break.
struct GivenUp;

/// Threads that stop taking jobs when told to.
#[derive(Debug)]
pub struct Interruptible<'a> {
    /// Which.
    pub threads: Threads,
    /// True from when nobody wants the result any more.
    pub stale: &'a AtomicBool,
}

impl Workers for Interruptible<'_> {
    fn map<T: Send>(&self, count: u64, job: impl Fn(u64) -> T + Sync) -> Vec<T> {
        let wanted = |number| (!self.stale.load(Ordering::Relaxed)).then(|| job(number));
        let done: Option<Vec<T>> = self.threads.map(count, wanted).into_iter().collect();
        done.unwrap_or_else(|| resume_unwind(Box::new(GivenUp)))
    }
}

/// What `work` gives, or `None` when it was given up (or failed by itself, which the panic has said).
pub fn unless_given_up<T>(work: impl FnOnce() -> T) -> Option<T> {
    catch_unwind(AssertUnwindSafe(work)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_order_and_a_stale_map_is_given_up() {
        let stale = AtomicBool::new(false);
        for threads in 1..4 {
            let workers = Interruptible { threads: Threads::new(threads), stale: &stale };
            assert_eq!(workers.map(100, |n| n * n), (0..100).map(|n| n * n).collect::<Vec<u64>>());
            assert_eq!(workers.map(0, |n| n), Vec::<u64>::new());
        }
        for threads in 1..4 {
            let stale = AtomicBool::new(false);
            let workers = Interruptible { threads: Threads::new(threads), stale: &stale };
            let job = |n| {
                if n == 10 {
                    stale.store(true, Ordering::Relaxed);
                }
                n
            };
            assert_eq!(unless_given_up(|| workers.map(1000, job)), None);
        }
        assert_eq!(unless_given_up(|| 7), Some(7));
    }
}
