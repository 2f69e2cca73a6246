//! What is said of a run when it is over: how it ended, how the legs followed, where its record is.

use super::report::table;
use crate::player::Played;
use crate::safety::State;
use crate::time::clock;
use crate::units::{Dimension, show};
use std::fmt::Write;
use std::path::PathBuf;

/// The run in a few lines.
pub(super) fn human(played: &Played, written: &[PathBuf]) -> String {
    let how = match (played.state, played.played_out) {
        (State::Faulted, _) => "ended in a fault",
        (_, true) => "played to the end",
        (_, false) => "stopped before the end",
    };
    let mut text = format!("\n{how}, {}, now {}\n", clock(played.time_s), played.state.word());
    let head = ["leg", "largest error", "r.m.s.", "lag", "largest without it", "r.m.s. without it"];
    let mut rows = vec![head.map(String::from)];
    rows.extend(played.legs.iter().map(|(name, leg)| {
        let length = |value_m| show(value_m, Dimension::LENGTH);
        let lag =
            leg.lag_s.map_or_else(|| "-".to_string(), |lag_s| format!("{} ms", (lag_s * 1e4).round() / 10.0));
        let (peak, rms) = (length(leg.peak_after_lag_m), length(leg.rms_after_lag_m));
        [name.clone(), length(leg.peak_m), length(leg.rms_m), lag, peak, rms]
    }));
    let _ = writeln!(text, "\nhow the legs followed what was sent\n{}", table(&rows, "lrrrrr"));
    let _ = match played.interventions {
        0 => writeln!(text, "governor  never held back"),
        n => writeln!(text, "governor  held back in {n} of {} cycles", played.cycles),
    };
    if played.late.total() > 0 && played.late.max_us() > 0 {
        let _ = writeln!(
            text,
            "lateness  99.9 % of cycles within {} us, the latest {} us",
            played.late.within_us(0.999),
            played.late.max_us()
        );
    }
    if played.dropped > 0 {
        let _ = writeln!(text, "log       {} rows lost, because it was written too slowly", played.dropped);
    }
    if let Some(error) = &played.log_error {
        let _ = writeln!(text, "log       is not whole: {error}");
    }
    for remark in &played.remarks {
        let _ = writeln!(text, "remark    {remark}");
    }
    for path in written {
        let _ = writeln!(text, "written   {}", path.display());
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Histogram, LegTracking, Wear};

    #[test]
    fn says_how_it_ended_and_where_the_record_is() {
        let leg = LegTracking {
            peak_m: 0.0012,
            rms_m: 0.0004,
            lag_s: Some(0.0123),
            rms_after_lag_m: 0.00005,
            peak_after_lag_m: 0.0002,
        };
        let played = Played {
            state: State::Holding,
            played_out: false,
            run: None,
            tripped: None,
            cycles: 500,
            time_s: 1.0,
            legs: vec![("left".into(), leg)],
            least_gain: 1.0,
            strayed_m: None,
            wear: Wear::default(),
            interventions: 3,
            late: Histogram::default(),
            dropped: 2,
            end_m: vec![0.5],
            remarks: vec!["a remark".into()],
            log_error: None,
        };
        let text = human(&played, &["out/a.log.csv".into()]);
        for words in [
            "\nstopped before the end, 0:01, now holding\n",
            "left         1.2 mm  0.4 mm  12.3 ms",
            "held back in 3 of 500 cycles",
            "2 rows lost",
            "remark    a remark",
            "written   out/a.log.csv",
        ] {
            assert!(text.contains(words), "{words:?} in {text}");
        }
        assert!(!text.contains("lateness"), "nothing waited for a clock");
    }
}
