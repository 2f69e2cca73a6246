//! The record of a run: its rows and notes, how they are written as text and read again, what they add up to.
//!
//! Cannot: touch a file; bytes go to and come from whoever calls.

mod check_notes;
mod container;
mod container_glance;
mod container_read;
mod csv;
mod drive_cause;
mod histogram;
mod mend;
mod read;
mod row;
#[cfg(test)]
mod sample;
mod summary;
mod sweep;
mod tape;
mod tracking;
mod wear;

pub use check_notes::{CheckNotes, FindingNote, MarginNote};
pub use container::Container;
pub use container_glance::glance;
pub use container_read::{Logged, is_container, read_container};
pub use csv::{Header, write_header, write_note, write_row};
pub use drive_cause::DriveCause;
pub use histogram::Histogram;
pub use mend::{Mended, mend};
pub use read::{Log, LogError, read};
pub use row::{Cause, DriveRow, FarSide, Note, Row, What};
pub use summary::{Events, LegPeaks, RoundTrips, Summary};
pub use sweep::{Change, Sweep, SweepExtent, SweepMeter, SweptLeg};
pub use tape::{LoggedCycle, RunHead, Tape, Told};
pub use tracking::{LegTracking, Tracking};
pub use wear::{LegWear, Wear, WearMeter};
