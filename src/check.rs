//! Limits with blame: one rule a file, a report at the end.
//!
//! Cannot: change motion, clear a plan that has an error.

mod report;

pub use report::{Blame, Cleared, Finding, LayerSummary, Margin, Quantity, Report};

use crate::motion::Plan;

/// Checks a plan against its rig on `threads` threads (same report on any number). `progress` hears a share 0..1.
pub fn run(plan: &Plan, threads: usize, progress: &(dyn Fn(f64) + Sync)) -> Report {
    let _ = (plan, threads, progress);
    unimplemented!("check")
}
