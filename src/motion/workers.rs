//! Work that splits by time ranges, whoever does it. The core cannot start threads; the shell hands in one that can.

/// Runs numbered jobs and gives their results in the order of the numbers, so that the number of threads never
/// shows in a result.
pub trait Workers: Sync {
    /// `job(0)`, `job(1)`, … `job(count - 1)`.
    fn map<T: Send>(&self, count: u64, job: impl Fn(u64) -> T + Sync) -> Vec<T>;

    /// Two pieces of work that know nothing of each other, beside each other where there are threads: what one leaves idle
    /// while it waits for its last job, the other takes. Both may use workers.
    fn both<A: Send, B: Send>(
        &self,
        here: impl FnOnce() -> A + Send,
        beside: impl FnOnce() -> B + Send,
    ) -> (A, B) {
        (here(), beside())
    }
}

/// One after another, on the caller's thread.
#[derive(Debug, Clone, Copy)]
pub struct Serial;

impl Workers for Serial {
    fn map<T: Send>(&self, count: u64, job: impl Fn(u64) -> T + Sync) -> Vec<T> {
        (0..count).map(job).collect()
    }
}
