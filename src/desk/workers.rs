//! Threads for a check that may be given up half-way, when what it checks is no longer what is wanted.

use crate::motion::Workers;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Carried up through a check that is given up. The check knows nothing of it and holds nothing that it could break.
struct GivenUp;

/// Threads that stop taking jobs when told to.
#[derive(Debug)]
pub struct Interruptible<'a> {
    /// How many threads.
    pub threads: usize,
    /// True from when nobody wants the result any more.
    pub stale: &'a AtomicBool,
}

impl Workers for Interruptible<'_> {
    fn map<T: Send>(&self, count: u64, job: impl Fn(u64) -> T + Sync) -> Vec<T> {
        let (next, done) = (AtomicU64::new(0), Mutex::new(Vec::new()));
        let work = || {
            let mut mine: Vec<(u64, T)> = Vec::new();
            while !self.stale.load(Ordering::Relaxed) {
                let number = next.fetch_add(1, Ordering::Relaxed);
                if number >= count {
                    break;
                }
                mine.push((number, job(number)));
            }
            // A poisoned lock means that another job panicked, and the scope panics with it anyway.
            done.lock().unwrap_or_else(std::sync::PoisonError::into_inner).append(&mut mine);
        };
        let threads = (self.threads.max(1) as u64).min(count);
        std::thread::scope(|scope| {
            for _ in 1..threads {
                scope.spawn(work);
            }
            work();
        });
        let mut done = done.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
        if (done.len() as u64) < count {
            resume_unwind(Box::new(GivenUp));
        }
        done.sort_by_key(|(number, _)| *number);
        done.into_iter().map(|(_, result)| result).collect()
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
            let workers = Interruptible { threads, stale: &stale };
            assert_eq!(workers.map(100, |n| n * n), (0..100).map(|n| n * n).collect::<Vec<u64>>());
            assert_eq!(workers.map(0, |n| n), Vec::<u64>::new());
        }
        for threads in 1..4 {
            let stale = AtomicBool::new(false);
            let workers = Interruptible { threads, stale: &stale };
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
