//! Workers that are threads: jobs in any order, results in the order of their numbers.
//!
//! The threads are rayon's and stay: a check asks for workers some forty times, and a thread takes longer to start than
//! many of those jobs last.

use crate::motion::Workers;
use rayon::ThreadPool;
use rayon::prelude::*;
use std::sync::{Arc, OnceLock};

/// Threads that wait for work; copies share them. Without any, whoever asks does the work.
#[derive(Debug, Clone)]
pub struct Threads(Option<Arc<ThreadPool>>);

impl Threads {
    /// This many; one is the caller's own, and so it is where the system gives no thread.
    pub fn new(count: usize) -> Self {
        let pool = || rayon::ThreadPoolBuilder::new().num_threads(count).build().ok();
        Self((count > 1).then(pool).flatten().map(Arc::new))
    }

    /// As many as the machine runs at once; always the same ones.
    pub fn all() -> Self {
        static ALL: OnceLock<Threads> = OnceLock::new();
        ALL.get_or_init(|| Self::new(std::thread::available_parallelism().map_or(1, usize::from))).clone()
    }
}

impl Workers for Threads {
    fn map<T: Send>(&self, count: u64, job: impl Fn(u64) -> T + Sync) -> Vec<T> {
        match &self.0 {
            Some(pool) if count > 1 => {
                // One at a time, because jobs are far from alike.
                pool.install(|| {
                    (0..count as usize).into_par_iter().with_max_len(1).map(|n| job(n as u64)).collect()
                })
            }
            _ => (0..count).map(job).collect(),
        }
    }

    fn both<A: Send, B: Send>(
        &self,
        here: impl FnOnce() -> A + Send,
        beside: impl FnOnce() -> B + Send,
    ) -> (A, B) {
        match &self.0 {
            Some(pool) => pool.install(|| rayon::join(here, beside)),
            None => (here(), beside()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_order_on_any_number_of_threads() {
        for threads in (0..5).map(Threads::new).chain([Threads::all()]) {
            let squares = threads.map(1000, |n| n * n);
            assert!(squares.iter().enumerate().all(|(k, square)| *square == (k * k) as u64));
            assert_eq!(
                threads.both(|| threads.map(2, |n| n), || threads.map(3, |n| n)),
                (vec![0, 1], vec![0, 1, 2])
            );
            assert_eq!(threads.map(0, |n| n), Vec::<u64>::new());
        }
    }
}
