//! What the far end says of itself, as the record keeps it.

use crate::link::DriveReport;
use crate::record::FarSide;

/// By the newest report; `dropped` is what was dropped here so far.
pub(super) fn far_side(report: Option<&DriveReport>, dropped: u64) -> FarSide {
    FarSide {
        state: report.map_or("off", |report| report.state.word()),
        moving: report.is_some_and(|report| report.moving),
        fault: report.and_then(|report| report.fault).map(|(fault, leg)| (fault.word(), leg)),
        cause: report.and_then(|report| report.cause),
        rejected: report.map_or(0, |report| report.rejected),
        dropped,
    }
}
