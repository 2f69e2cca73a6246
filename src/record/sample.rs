//! A row for tests.

use super::{DriveRow, FarSide, Row};
use crate::safety::operation::{Brakes, Operation, Seen, Timing};
use crate::safety::{Legs, MAX_AXES, Outcome, State};

/// A cycle on drives, 2 ms each: legs measured there, brakes seen so.
pub(super) fn driven(tick: u64, at_m: [f64; 2], brakes: Brakes) -> Row {
    let run = Operation::new(Timing::of(2000));
    let none = Legs::filled(2, f64::NAN);
    let demand = run.demand();
    Row {
        tick,
        time_us: tick * 2000,
        path_s: 0.0,
        rate: 1.0,
        gain: 1.0,
        state: State::Following,
        platform: [0.0; MAX_AXES],
        planned_m: none,
        sent_m: none,
        measured_m: Legs::from_slice(&at_m),
        late_us: 0,
        outcome: Outcome::Followed,
        drive: Some(DriveRow {
            state: run.state(),
            cause: run.cause(),
            category: run.category(),
            demand,
            seen: Seen { brakes, ..Seen::default() },
            predicted_n: none,
            limit_n: none,
            force_n: none,
            temperature_c: none,
            speed_m_s: none,
            far: FarSide { state: "hold", moving: false, fault: None, cause: None, rejected: 0, dropped: 0 },
            round_trip_us: None,
            report_age: 0,
            heard_s: f64::NAN,
        }),
    }
}
