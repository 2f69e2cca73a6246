//! How far legs strayed from their set-points in runs that were played, and what is to be expected of the next.

use super::Entry;
use serde::{Deserialize, Serialize};

/// Runs that are looked back at.
const RUNS: usize = 8;

/// How far each leg strayed in a run, however late it was on its way.
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

/// How far each leg of a rig may stray in a run at `gain` (a factor), m: the most of the last eight runs on its newest
/// drives, in proportion to the gain where that was less. Empty where nothing is known.
pub fn expected_m(entries: &[Entry], rig: &str, gain: f64) -> Vec<f64> {
    let runs = entries.iter().rev().filter_map(|entry| match entry {
        Entry::Played { key, strayed: Some(strayed), .. } if key.rig == rig && strayed.gain_ppm > 0 => {
            Some((&key.drives, strayed))
        }
        _ => None,
    });
    let mut runs = runs.peekable();
    let Some(drives) = runs.peek().map(|(drives, _)| *drives) else { return Vec::new() };
    let mut most: Vec<f64> = Vec::new();
    for (_, strayed) in runs.filter(|(found, _)| *found == drives).take(RUNS) {
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
    use crate::audition::{Key, Load, Rung};

    fn played(rig: &str, drives: &str, gain: f64, legs_m: [f64; 2]) -> Entry {
        let (word, strayed) = (|word: &str| word.to_string(), Some(Strayed::of(gain, legs_m)));
        let (tune, commissioning, program) = (String::new(), String::new(), word("0"));
        let key =
            Key { motion: word("m"), rig: word(rig), tune, commissioning, drives: word(drives), program };
        let rung = Rung { level_db: -12, load: Load::Vacant };
        Entry::Played { rung, key, day: 1, record: String::new(), strayed }
    }

    fn is_near(found: &[f64], wanted: [f64; 2]) {
        assert_eq!(found.len(), 2);
        assert!(found.iter().zip(wanted).all(|(found, wanted)| (found - wanted).abs() < 1e-9), "{found:?}");
    }

    #[test]
    fn the_most_of_the_last_runs_counts_and_grows_with_the_gain() {
        assert_eq!(expected_m(&[], "r", 1.0), Vec::<f64>::new());
        let one = [played("r", "d", 0.25, [0.0001, 0.00025])];
        is_near(&expected_m(&one, "r", 1.0), [0.0004, 0.001]);
        is_near(&expected_m(&one, "r", 0.1), [0.0001, 0.00025]);
        assert_eq!(expected_m(&one, "another rig", 1.0), Vec::<f64>::new());
        let two = [one[0].clone(), played("r", "d", 1.0, [0.0007, 0.0002])];
        is_near(&expected_m(&two, "r", 1.0), [0.0007, 0.001]);
        // A micrometre's part is a micrometre.
        is_near(&expected_m(&[played("r", "d", 1.0, [1e-9, 0.0])], "r", 1.0), [1e-6, 0.0]);
    }

    #[test]
    fn runs_long_ago_and_on_other_drives_count_for_nothing() {
        let mut entries = vec![played("r", "d", 1.0, [0.009, 0.009])];
        entries.extend((0..RUNS).map(|_| played("r", "d", 1.0, [0.0003, 0.0004])));
        is_near(&expected_m(&entries, "r", 1.0), [0.0003, 0.0004]);
        entries.push(played("r", "tuned anew", 1.0, [0.0001, 0.0002]));
        is_near(&expected_m(&entries, "r", 1.0), [0.0001, 0.0002]);
    }

    #[test]
    fn entries_of_before_say_nothing_of_it() {
        let before = r#"{"kind":"played","rung":{"level_db":-12,"load":"vacant"},"key":{"motion":"m","rig":"r","tune":"",
            "commissioning":"","drives":"d","program":"0"},"day":1,"record":"a.mcap"}"#;
        let entry: Entry = serde_json::from_str(before).unwrap();
        assert_eq!(expected_m(&[entry], "r", 1.0), Vec::<f64>::new());
    }
}
