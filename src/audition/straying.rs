//! How far legs strayed from their set-points in runs on drives, and what is to be expected of the next.

use super::{Entry, MOST_DAYS};
use serde::{Deserialize, Serialize};

/// How far each leg strayed in a run, however late all of them were on their way.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Strayed {
    /// The gain of the run, millionths.
    pub gain_ppm: u32,
    /// One a leg, the largest of the run, micrometres.
    pub legs_um: Vec<u32>,
}

impl Strayed {
    /// Of a run at `gain` (a factor), m a leg; rounded up.
    pub fn of(gain: f64, legs_m: impl IntoIterator<Item = f64>) -> Self {
        // A cast saturates.
        Self {
            gain_ppm: (gain * 1e6).round() as u32,
            legs_um: legs_m.into_iter().map(|leg_m| (leg_m * 1e6).ceil() as u32).collect(),
        }
    }
}

/// How far each leg of a rig may stray in a run at `gain` (a factor) on `day` (since 1970-01-01), m: the most of all runs on
/// its newest drives in the last [`MOST_DAYS`] days and since somebody worked on the rig, in proportion to the gain where
/// that was less. Empty where nothing is known.
pub fn expected_m(entries: &[Entry], rig: &str, gain: f64, day: u64) -> Vec<f64> {
    let since_work = entries.iter().rev().take_while(|entry| !matches!(entry, Entry::Maintenance { .. }));
    let runs = since_work.filter_map(|entry| match entry {
        Entry::Strayed { key, day: then, strayed }
            if key.rig == rig && strayed.gain_ppm > 0 && day.saturating_sub(*then) <= MOST_DAYS =>
        {
            Some((&key.drives, strayed))
        }
        _ => None,
    });
    let mut runs = runs.peekable();
    let Some(drives) = runs.peek().map(|(drives, _)| *drives) else { return Vec::new() };
    let mut most: Vec<f64> = Vec::new();
    for (_, strayed) in runs.filter(|(found, _)| *found == drives) {
        // Part of it may be friction, which does not shrink with the gain.
        let more = (gain * 1e6 / f64::from(strayed.gain_ppm)).max(1.0);
        most.resize(most.len().max(strayed.legs_um.len()), 0.0);
        for (most, leg_um) in most.iter_mut().zip(&strayed.legs_um) {
            *most = most.max(f64::from(*leg_um) * 1e-6 * more);
        }
    }
    most
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audition::Key;

    fn run(rig: &str, drives: &str, day: u64, gain: f64, legs_m: [f64; 2]) -> Entry {
        let word = |word: &str| word.to_string();
        let (tune, commissioning, program) = (String::new(), String::new(), word("0"));
        let key =
            Key { motion: word("m"), rig: word(rig), tune, commissioning, drives: word(drives), program };
        Entry::Strayed { key, day, strayed: Strayed::of(gain, legs_m) }
    }

    fn is_near(found: &[f64], wanted: [f64; 2]) {
        assert_eq!(found.len(), 2);
        assert!(found.iter().zip(wanted).all(|(found, wanted)| (found - wanted).abs() < 1e-9), "{found:?}");
    }

    #[test]
    fn the_most_of_all_runs_counts_and_grows_with_the_gain() {
        assert_eq!(expected_m(&[], "r", 1.0, 9), Vec::<f64>::new());
        let one = [run("r", "d", 9, 0.25, [0.0001, 0.00025])];
        is_near(&expected_m(&one, "r", 1.0, 9), [0.0004, 0.001]);
        is_near(&expected_m(&one, "r", 0.1, 9), [0.0001, 0.00025]);
        assert_eq!(expected_m(&one, "another rig", 1.0, 9), Vec::<f64>::new());
        // However many quiet runs came after it.
        let mut many = one.to_vec();
        many.extend((0..50).map(|_| run("r", "d", 10, 1.0, [0.0007, 0.0002])));
        is_near(&expected_m(&many, "r", 1.0, 11), [0.0007, 0.001]);
        // A micrometre's part is a micrometre.
        is_near(&expected_m(&[run("r", "d", 9, 1.0, [1e-9, 0.0])], "r", 1.0, 9), [1e-6, 0.0]);
    }

    #[test]
    fn runs_long_ago_before_work_or_on_other_drives_count_for_nothing() {
        let mut entries =
            vec![run("r", "d", 9, 1.0, [0.009, 0.009]), run("r", "d", 60, 1.0, [0.0003, 0.0004])];
        is_near(&expected_m(&entries, "r", 1.0, 99), [0.009, 0.009]);
        is_near(&expected_m(&entries, "r", 1.0, 100), [0.0003, 0.0004]);
        entries.push(run("r", "tuned anew", 100, 1.0, [0.0001, 0.0002]));
        is_near(&expected_m(&entries, "r", 1.0, 100), [0.0001, 0.0002]);
        entries.push(Entry::Maintenance { day: 100, remark: "a new belt".into() });
        assert_eq!(expected_m(&entries, "r", 1.0, 100), Vec::<f64>::new());
    }
}
