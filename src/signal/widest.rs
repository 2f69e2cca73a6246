//! The widest vector instructions of the machine at hand.

/// Runs `work` with the widest vector instructions that this machine has. What `work` calls must be inlined into it to
/// gain. The same bytes on every machine: wider vectors do the same operations, and none is fused.
#[inline(always)]
pub(crate) fn widest<T>(work: impl FnOnce() -> T) -> T {
    pulp::Arch::new().dispatch(work)
}
