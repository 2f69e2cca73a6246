//! Workers that are threads: jobs in any order, results in the order of their numbers.

use crate::motion::Workers;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// This many threads, at least one.
#[derive(Debug, Clone, Copy)]
pub struct Threads(pub usize);

impl Threads {
    /// As many as the machine runs at once.
    pub fn all() -> Self {
        Self(std::thread::available_parallelism().map_or(1, usize::from))
    }
}

impl Workers for Threads {
    fn map<T: Send>(&self, count: u64, job: impl Fn(u64) -> T + Sync) -> Vec<T> {
        if self.0 <= 1 || count <= 1 {
            return (0..count).map(job).collect();
        }
        let next = AtomicU64::new(0);
        let done: Mutex<Vec<(u64, T)>> = Mutex::new(Vec::new());
        let work = || {
            let mut mine = Vec::new();
            loop {
                let number = next.fetch_add(1, Ordering::Relaxed);
                if number >= count {
                    break;
                }
                mine.push((number, job(number)));
            }
            // A poisoned lock means that another job panicked, and the scope panics with it anyway.
            done.lock().unwrap_or_else(std::sync::PoisonError::into_inner).append(&mut mine);
        };
        // The caller is one of them: it would only wait.
        std::thread::scope(|scope| {
            for _ in 1..(self.0 as u64).min(count) {
                scope.spawn(work);
            }
            work();
        });
        let mut done = done.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
        done.sort_by_key(|(number, _)| *number);
        done.into_iter().map(|(_, result)| result).collect()
    }

    fn both<A, B: Send>(&self, here: impl FnOnce() -> A, beside: impl FnOnce() -> B + Send) -> (A, B) {
        if self.0 <= 1 {
            return (here(), beside());
        }
        std::thread::scope(|scope| {
            let other = scope.spawn(beside);
            let first = here();
            (first, other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_order_on_any_number_of_threads() {
        for threads in 1..5 {
            let squares = Threads(threads).map(1000, |n| n * n);
            assert!(squares.iter().enumerate().all(|(k, square)| *square == (k * k) as u64));
            assert_eq!(Threads(threads).both(|| 1, || Threads(threads).map(3, |n| n)), (1, vec![0, 1, 2]));
        }
    }
}
