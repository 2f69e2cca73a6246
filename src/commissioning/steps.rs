//! The steps of a commissioning, made from the rig file: what to do, what to look at, what is expected.

use super::brake_load::{BrakeLoad, brake_loads};
use crate::rig::{Actuator, Axis, Rig};
use crate::units::{Dimension, quantity, show};

/// What decimals lose when two readings are taken from each other, m or rad.
const ROUNDING_SI: f64 = 1e-9;

/// Two references are the same when a leg stands within this after both, m (own choice: what a caliper still tells apart).
const SAME_M: f64 = 0.0002;

/// What an answer must be.
#[derive(Debug, Clone, PartialEq)]
pub enum Wanted {
    /// `yes`; `no` ends the commissioning.
    Yes,
    /// One of these words; another of them than the first ends it.
    Word(Vec<String>),
    /// A length or an angle with its unit, between two (SI); outside ends it.
    Between(f64, f64, Dimension),
    /// Two readings of one length with their units, a comma between them; further apart than this (m) ends it.
    Twice(f64),
    /// The load that a closed brake held, with its unit; `no`, or too small a one, ends it.
    Held(BrakeLoad),
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
                let found_si = measured(text, *dimension, like)?;
                Ok(if (*low..=*high).contains(&found_si) { None } else { wrong() })
            }
            Wanted::Twice(most_m) => {
                const LIKE: &str = "12.30 mm, 12.42 mm";
                let Some((first, second)) = text.split_once(',') else {
                    let why = "is one reading; expected two with their units, a comma between them";
                    return Err(format!("`{text}` {why}, like {LIKE}"));
                };
                let read_m = |text: &str| measured(text.trim(), Dimension::LENGTH, LIKE);
                let apart_m = (read_m(first)? - read_m(second)?).abs();
                Ok((apart_m > most_m + ROUNDING_SI).then(|| {
                    let [apart, most] = [apart_m, *most_m].map(|m| show(m, Dimension::LENGTH));
                    format!(
                        "{}: answered `{text}`, which is {apart} apart, expected {most} at most: {}",
                        self.name, self.otherwise
                    )
                }))
            }
            Wanted::Held(load) => load.judge(&self.name, text),
        }
    }
}

/// A number with a unit of `dimension`, SI. `Err`: what was expected.
fn measured(text: &str, dimension: Dimension, like: &str) -> Result<f64, String> {
    match quantity(text) {
        Ok(found) if found.dimension == dimension => Ok(found.value_si),
        Ok(_) => Err(format!("`{text}` is something else; expected a number with its unit, like {like}")),
        Err(e) => Err(format!("{e}; expected a number with its unit, like {like}")),
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
    all.extend(brakes(rig));
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
    all.extend(rig.actuators.iter().map(homed_twice));
    all.push(yes(
        "worst start",
        "home from the worst start pose that brakes can leave: does every joint stay inside its range?",
        "homing must be bounded for the worst start pose",
    ));
    all.push(yes(
        "way down",
        "ballast in the seat, power off and locked, the platform as high and as steep as it stops: can a person be got down as docs/first-motion.md says (propped first, belted until then, brakes by hand only together)?",
        "whoever goes up must have a way down",
    ));
    all
}

/// The brakes alone: what is repeated every day.
pub fn brakes(rig: &Rig) -> Vec<Question> {
    let of_leg = |(leg, load): (&Actuator, BrakeLoad)| Question {
        name: format!("brake of {}", leg.name),
        words: format!(
            "the platform propped and nobody near it: load the closed brake of `{}` with its drive, or with a lever or a jack \
             and a scale, {}. With what load did it stand still? `no` if it moved at all",
            leg.name,
            load.words()
        ),
        wanted: Wanted::Held(load),
        otherwise: "a brake that slips does not hold a person".to_string(),
    };
    rig.actuators.iter().zip(brake_loads(rig)).map(of_leg).collect()
}

/// What this program shows after homing is the same by its making; so an outside measure tells.
fn homed_twice(leg: &Actuator) -> Question {
    Question {
        name: format!("homed twice, {}", leg.name),
        words: format!(
            "seat empty: home, and read at a caliper or a dial gauge on `{}` where it stands; jog it away, home again, and read \
             the same at the same place (where drives keep their reference, switch them off and on and come back to the same \
             length instead). Both readings? They may be {} apart",
            leg.name,
            show(SAME_M, Dimension::LENGTH)
        ),
        wanted: Wanted::Twice(SAME_M),
        otherwise: "the reference is not repeatable: look at the reference switch, coupling and homing speed"
            .to_string(),
    }
}
