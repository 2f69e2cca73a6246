//! The steps of a commissioning, made from the rig file: what to do, what to look at, what is expected.

use crate::rig::{Axis, Rig};
use crate::units::{Dimension, quantity};

/// What an answer must be.
#[derive(Debug, Clone, PartialEq)]
pub enum Wanted {
    /// `yes`; `no` ends the commissioning.
    Yes,
    /// One of these words; another of them than the first ends it.
    Word(Vec<String>),
    /// A length or an angle with its unit, between two (SI); outside ends it.
    Between(f64, f64, Dimension),
}

/// One step.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Its name in the record.
    pub name: String,
    /// What to do and to look at.
    pub words: String,
    /// What is expected.
    pub wanted: Wanted,
    /// What it means when it is not so.
    pub otherwise: String,
}

impl Question {
    /// `Err` when it is no answer (what would be), `Ok(Some(…))` when it is the wrong one.
    pub(super) fn judge(&self, text: &str) -> Result<Option<String>, String> {
        let wrong = || Some(format!("{}: answered `{text}`: {}", self.name, self.otherwise));
        match &self.wanted {
            Wanted::Yes => match text {
                "yes" => Ok(None),
                "no" => Ok(wrong()),
                _ => Err("expected yes or no".to_string()),
            },
            Wanted::Word(words) => match words.iter().position(|word| word == text) {
                Some(0) => Ok(None),
                Some(_) => Ok(wrong()),
                None => Err(format!("expected one of: {}", words.join(", "))),
            },
            Wanted::Between(low, high, dimension) => {
                let like = if *dimension == Dimension::ANGLE { "1.05 deg" } else { "10.2 mm" };
                match quantity(text) {
                    Ok(found) if found.dimension != *dimension => Err(format!(
                        "`{text}` is something else; expected a number with its unit, like {like}"
                    )),
                    Ok(found) if found.value_si >= *low && found.value_si <= *high => Ok(None),
                    Ok(_) => Ok(wrong()),
                    Err(e) => Err(format!("{e}; expected a number with its unit, like {like}")),
                }
            }
        }
    }
}

fn yes(name: &str, words: impl Into<String>, otherwise: &str) -> Question {
    let (name, otherwise) = (name.to_string(), otherwise.to_string());
    Question { name, words: words.into(), wanted: Wanted::Yes, otherwise }
}

/// All steps for a rig.
pub fn steps(rig: &Rig) -> Vec<Question> {
    let mut all = vec![
        yes(
            "vacant",
            "is the seat empty, is everybody outside the fence, and can you see all of the rig?",
            "begin when it is",
        ),
        yes(
            "hard-wired stop",
            "press the hard-wired stop with the drives on and standing: do brakes close and does torque go, without this program doing anything?",
            "the hard-wired stop comes first; nothing here replaces it",
        ),
        yes(
            "stop stays",
            "release the stop device: does everything stay off until you act again?",
            "a released stop must not restart anything",
        ),
        yes(
            "watchdog",
            "pull the cable of the link with the drives on and standing: do the brakes close by themselves?",
            "the controller's watchdog must hold without this program",
        ),
        yes(
            "end switches",
            "work every end switch by hand: does its drive stop that direction each time?",
            "an end switch that is not heeded is a bent leg",
        ),
        yes(
            "inputs",
            "open and close gate, mat, belt and presence one by one: does this program name each as it opens?",
            "an input that is not seen counts for nothing",
        ),
    ];
    for leg in &rig.actuators {
        let name = &leg.name;
        all.push(yes(
            &format!("brake of {name}"),
            format!("brake of `{name}` closed: drive it with the test torque that its maker gives (at least what holds a fully loaded leg): did it stand still?"),
            "a brake that slips does not hold a person",
        ));
    }
    let names: Vec<String> = rig.actuators.iter().map(|leg| leg.name.clone()).collect();
    for leg in &rig.actuators {
        let mut words = vec![leg.name.clone()];
        words.extend(names.iter().filter(|name| **name != leg.name).cloned());
        words.push("none".to_string());
        all.push(Question {
            name: format!("leg {}", leg.name),
            words: format!("jog `{}` longer at creep: which leg got longer?", leg.name),
            wanted: Wanted::Word(words),
            otherwise: "legs are swapped, or a sign is turned round".to_string(),
        });
        all.push(Question {
            name: format!("10 mm of {}", leg.name),
            words: format!(
                "jog `{}` by 10 mm as this program shows it: how far did it go by a rule?",
                leg.name
            ),
            wanted: Wanted::Between(0.009, 0.011, Dimension::LENGTH),
            otherwise: "lead, gear ratio or counts in the rig file or the drive are wrong".to_string(),
        });
    }
    for axis in &rig.axes {
        let (what, wanted) = match axis.axis {
            Axis::Pitch => ("nose up by 1 deg", 0.0175),
            Axis::Roll => ("right wing down by 1 deg", 0.0175),
            Axis::Yaw => ("nose right by 1 deg", 0.0175),
            Axis::Surge => ("forward by 10 mm", 0.010),
            Axis::Sway => ("right by 10 mm", 0.010),
            Axis::Heave => ("up by 10 mm", 0.010),
        };
        all.push(Question {
            name: format!("{} by an outside measure", axis.axis.word()),
            words: format!("from level, jog until this program shows {what}: what does an inclinometer (or rule) on the platform show? positive in that direction"),
            wanted: Wanted::Between(
                0.85 * wanted,
                1.15 * wanted,
                if axis.axis.is_rotation() { Dimension::ANGLE } else { Dimension::LENGTH },
            ),
            otherwise: "joint points, signs or axes in the rig file are not those of the steel".to_string(),
        });
    }
    all.push(yes(
        "homed twice",
        "home, note the lengths, home again, seat empty: do both agree within 0.2 mm?",
        "the reference is not repeatable",
    ));
    all.push(yes(
        "worst start",
        "home from the worst start pose that brakes can leave: does every joint stay inside its range?",
        "homing must be bounded for the worst start pose",
    ));
    all.push(yes(
        "way down",
        "bring the platform down as the guide says, power off: can a person be got out that way?",
        "whoever goes up must have a way down",
    ));
    all
}
