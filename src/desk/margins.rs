//! Margins as rows for people: worst first, a share, and the words beside it.

use crate::check::Margin;
use crate::time::clock;
use crate::units::show;

/// How near a margin is to its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Nearness {
    /// Less than four fifths are used.
    Clear,
    /// Four fifths or more. Own choice: where one starts to look.
    Near,
    /// More than there is.
    Past,
}

impl Nearness {
    /// Of a used share.
    pub fn of(used: f64) -> Self {
        match used {
            used if used > 1.0 || used.is_nan() => Self::Past,
            used if used >= 0.8 => Self::Near,
            _ => Self::Clear,
        }
    }

    /// Its word, so that colour is not needed.
    pub fn word(self) -> &'static str {
        match self {
            Self::Clear => "",
            Self::Near => "near",
            Self::Past => "too much",
        }
    }
}

/// One limit of one part.
#[derive(Debug, Clone, PartialEq)]
pub struct MarginRow {
    /// `left jerk`
    pub name: String,
    /// How much of the way to the limit is used, 0..
    pub used: f64,
    /// How near that is.
    pub nearness: Nearness,
    /// `156 m/s^3 of 200 m/s^3 at 4:50.837`
    pub words: String,
    /// When, scene seconds.
    pub at_s: f64,
}

/// Rows of margins, in their order. `tempo`: scene seconds in a second of the plan.
pub fn rows(margins: &[Margin], tempo: f64) -> Vec<MarginRow> {
    margins.iter().map(|margin| row(margin, tempo)).collect()
}

fn row(margin: &Margin, tempo: f64) -> MarginRow {
    let at_s = margin.at_s * tempo;
    let (bound, limit) = (show(margin.bound, margin.dimension), show(margin.limit, margin.dimension));
    MarginRow {
        name: format!("{} {}", margin.part, margin.quantity.word()),
        used: margin.used,
        nearness: Nearness::of(margin.used),
        words: format!("{bound} of {limit} at {}", clock(at_s)),
        at_s,
    }
}

/// A percentage that never hides a limit passed, and never claims one: 100.2 % is said as 101 %, 99.9 % as 99 %.
pub fn percent(used: f64) -> String {
    let percent = used * 100.0;
    if !percent.is_finite() {
        return "beyond".to_string();
    }
    if percent > 100.0 {
        format!("{:.0} %", percent.ceil())
    } else {
        format!("{:.0} %", percent.round().min(if percent < 100.0 { 99.0 } else { 100.0 }))
    }
}

/// A gain as a percentage to a tenth, rounded down so that a gain that fits still does.
pub fn gain_percent(gain: f64) -> String {
    let text = format!("{:.1}", ((gain * 1000.0) + 1e-6).floor() / 10.0);
    format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;
    use crate::desk::sample::scene;
    use crate::desk::variant::Variant;
    use crate::motion::Serial;
    use crate::time::SampleRate;

    #[test]
    fn a_limit_that_is_passed_is_never_rounded_to_fit() {
        assert_eq!([0.999, 1.0, 1.0001, 0.0].map(percent), ["99 %", "100 %", "101 %", "0 %"]);
        assert_eq!(percent(f64::INFINITY), "beyond");
        assert_eq!([1.2765, 1.0, 0.5849].map(gain_percent), ["127.6 %", "100 %", "58.4 %"]);
        assert_eq!(
            [0.79, 0.8, 1.0, 1.01].map(Nearness::of),
            [Nearness::Clear, Nearness::Near, Nearness::Near, Nearness::Past]
        );
    }

    #[test]
    fn rows_are_worst_first_and_in_scene_time() {
        let understood = scene("at 4 s  pitch pulse(2 deg, 1 s)");
        let variant = Variant { tempo: 0.5, ..Variant::default() };
        let (scenario, rig) = (understood.scenario.unwrap(), understood.rig.unwrap());
        let plan = variant.plan(&scenario, &rig, SampleRate::new(1000).unwrap()).unwrap();
        let rows = rows(&check::run(&plan, &understood.sources, &Serial, &|_| {}).margins, 0.5);
        assert!(rows.windows(2).all(|pair| pair[0].used >= pair[1].used));
        let pitch = rows.iter().find(|row| row.name == "pitch joint angle").unwrap();
        assert!((pitch.used - 0.2).abs() < 1e-3 && (pitch.at_s - 4.5).abs() < 0.01, "{pitch:?}");
        assert_eq!(pitch.words, "2 deg of 10 deg at 0:04.5");
    }
}
