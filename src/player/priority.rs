//! A real-time priority and locked memory for the cycle thread, where the system grants them. Linux is the supported
//! host; elsewhere it is best effort: nothing is asked for, and the record says so where nothing was granted.

/// What the system granted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Granted {
    /// A real-time priority.
    pub(super) priority: bool,
    /// Memory that stays in memory.
    pub(super) locked: bool,
}

/// In the middle of Linux's 1 to 99: above ordinary threads, below the kernel's own helpers (common practice).
#[cfg(target_os = "linux")]
const PRIORITY: i32 = 40;

/// Asks for both, for the calling thread and for this process; what is refused is done without.
#[cfg(target_os = "linux")]
#[allow(
    unsafe_code,
    reason = "two system calls that the standard library does not have; plain numbers go in"
)]
pub(super) fn claim() -> Granted {
    // SAFETY: `mlockall` takes flags only; `sched_setscheduler` reads one structure that lives until it returns, and
    // 0 names the calling thread.
    unsafe {
        let locked = libc::mlockall(libc::MCL_CURRENT | libc::MCL_FUTURE) == 0;
        let parameters = libc::sched_param { sched_priority: PRIORITY };
        let priority = libc::sched_setscheduler(0, libc::SCHED_FIFO, &raw const parameters) == 0;
        Granted { priority, locked }
    }
}

/// Nothing is asked for here.
#[cfg(not(target_os = "linux"))]
pub(super) fn claim() -> Granted {
    Granted { priority: false, locked: false }
}
