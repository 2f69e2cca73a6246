//! What can be done to simulated drives: inputs opened and closed, and every fault at will; and the words for it.

use crate::safety::operation::Input;
use crate::units::{Dimension, quantity};

/// An input of the simulated controller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SimInput {
    /// The operator's key, button or pedal.
    Presence,
    /// The fence's gates.
    Gate,
    /// The mats around the rig.
    Mat,
    /// The seat's belt.
    Belt,
    /// The stop devices.
    Stop,
}

/// A fault of simulated drives. Legs count from 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SimFault {
    /// Answers nothing.
    Mute,
    /// Hears nothing.
    Deaf,
    /// Hears every order so much later.
    Late {
        /// Microseconds.
        by_us: u64,
    },
    /// Hears every order twice.
    Twice,
    /// Hears every second order after the one that followed it.
    Swapped,
    /// Finds every order damaged.
    Corrupt,
    /// A drive gives up.
    Drive {
        /// Which.
        leg: usize,
    },
    /// A motor is too hot.
    Hot {
        /// Which.
        leg: usize,
    },
    /// The switch at the short end says that the leg is on it: its wire broke.
    EndSwitch {
        /// Which.
        leg: usize,
    },
    /// Brakes neither open nor close, and say so.
    BrakesStick,
    /// A coupling slips: the encoder shows more than there is.
    Slip {
        /// Which.
        leg: usize,
        /// By how much, m.
        by_m: f64,
    },
    /// Something pulls at a leg.
    Snag {
        /// Which.
        leg: usize,
        /// N, added to what it carries.
        force_n: f64,
    },
    /// A leg rubs: dry friction.
    Rub {
        /// Which.
        leg: usize,
        /// N, both ways.
        force_n: f64,
        /// The way within which it turns round from one to the other, m.
        way_m: f64,
    },
    /// Somebody pushes a leg along, brakes or not.
    Push {
        /// Which.
        leg: usize,
        /// By how much, m.
        by_m: f64,
    },
    /// Another rig answers from now on.
    Stranger,
    /// The encoders lose their count, and with it the reference.
    Unhomed,
}

/// One thing that is done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SimAct {
    /// An input is as it is.
    Input(SimInput, Input),
    /// A fault comes up.
    Fault(SimFault),
    /// Somebody knocks on the platform, and it rings.
    Tap {
        /// Hz.
        frequency_hz: f64,
        /// What each leg reports of it at first, N.
        force_n: f64,
    },
    /// All causes of faults go away; what was pushed stays pushed.
    Clear,
}

impl SimAct {
    /// The words that [`SimAct::from_words`] reads, for people.
    pub const WORDS: &'static str = "presence|gate|mat|belt|stop closed|open; fault mute, deaf, late 400 ms, twice, \
        swapped, corrupt, drive LEG, hot LEG, switch LEG, brakes, slip LEG 30 mm, snag LEG 900 N, \
        rub LEG 40 N 0.1 mm, push LEG 5 mm, stranger, unhomed; tap 9 Hz 80 N; clear";

    /// Reads words like `gate open` or `fault snag left 900 N`; `None` for what is none of them.
    pub fn from_words(line: &str, legs: &[String]) -> Option<Self> {
        let mut words = line.split_whitespace();
        let first = words.next()?;
        let rest: Vec<&str> = words.collect();
        let input = |input| match rest.as_slice() {
            ["closed"] => Some(Self::Input(input, Input::Closed)),
            ["open"] => Some(Self::Input(input, Input::Open)),
            _ => None,
        };
        match first {
            "presence" => input(SimInput::Presence),
            "gate" => input(SimInput::Gate),
            "mat" => input(SimInput::Mat),
            "belt" => input(SimInput::Belt),
            "stop" => input(SimInput::Stop),
            "tap" => {
                let [frequency @ .., _, _] = rest.as_slice() else { return None };
                let frequency_hz = size(frequency, Dimension::FREQUENCY).filter(|hz| *hz > 0.0)?;
                let force_n = size(&rest[frequency.len()..], Dimension::FORCE)?;
                Some(Self::Tap { frequency_hz, force_n })
            }
            "clear" => rest.is_empty().then_some(Self::Clear),
            "fault" => SimFault::from_words(&rest, legs).map(Self::Fault),
            _ => None,
        }
    }
}

/// A quantity of one dimension, in SI.
fn size(words: &[&str], dimension: Dimension) -> Option<f64> {
    let read = quantity(&words.join(" ")).ok()?;
    (read.dimension == dimension).then_some(read.value_si)
}

impl SimFault {
    fn from_words(words: &[&str], legs: &[String]) -> Option<Self> {
        let leg = |name: &str| legs.iter().position(|leg| leg == name);
        Some(match words {
            ["mute"] => Self::Mute,
            ["deaf"] => Self::Deaf,
            ["late", by @ ..] => {
                let by_s = size(by, Dimension::TIME).filter(|by_s| (0.0..10.0).contains(by_s))?;
                Self::Late { by_us: (by_s * 1e6) as u64 }
            }
            ["twice"] => Self::Twice,
            ["swapped"] => Self::Swapped,
            ["corrupt"] => Self::Corrupt,
            ["drive", name] => Self::Drive { leg: leg(name)? },
            ["hot", name] => Self::Hot { leg: leg(name)? },
            ["switch", name] => Self::EndSwitch { leg: leg(name)? },
            ["brakes"] => Self::BrakesStick,
            ["slip", name, by @ ..] => Self::Slip { leg: leg(name)?, by_m: size(by, Dimension::LENGTH)? },
            ["snag", name, by @ ..] => Self::Snag { leg: leg(name)?, force_n: size(by, Dimension::FORCE)? },
            ["rub", name, force, unit, way @ ..] => {
                let force_n = size(&[force, unit], Dimension::FORCE).filter(|force_n| *force_n >= 0.0)?;
                let way_m = size(way, Dimension::LENGTH).filter(|way_m| *way_m > 0.0)?;
                Self::Rub { leg: leg(name)?, force_n, way_m }
            }
            ["push", name, by @ ..] => Self::Push { leg: leg(name)?, by_m: size(by, Dimension::LENGTH)? },
            ["stranger"] => Self::Stranger,
            ["unhomed"] => Self::Unhomed,
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_read_and_nothing_else_is() {
        let legs = ["left".to_string(), "right".to_string()];
        let read = |line: &str| SimAct::from_words(line, &legs);
        assert_eq!(read("gate open"), Some(SimAct::Input(SimInput::Gate, Input::Open)));
        assert_eq!(read(" presence closed "), Some(SimAct::Input(SimInput::Presence, Input::Closed)));
        assert_eq!(read("tap 9 Hz 80 N"), Some(SimAct::Tap { frequency_hz: 9.0, force_n: 80.0 }));
        let rub = SimFault::Rub { leg: 0, force_n: 40.0, way_m: 1e-4 };
        assert_eq!(read("fault rub left 40 N 0.1 mm"), Some(SimAct::Fault(rub)));
        for wrong in ["tap", "tap 9 Hz", "tap 80 N", "tap 80 N 9 Hz", "tap 0 Hz 80 N", "fault rub left 40 N"]
        {
            assert_eq!(read(wrong), None, "{wrong}");
        }
        let snag = SimFault::Snag { leg: 1, force_n: 900.0 };
        assert_eq!(read("fault snag right 900 N"), Some(SimAct::Fault(snag)));
        assert_eq!(read("fault late 400 ms"), Some(SimAct::Fault(SimFault::Late { by_us: 400_000 })));
        for wrong in
            ["", "gate", "gate ajar", "stop", "fault", "fault snag middle 1 N", "fault slip left 3 N"]
        {
            assert_eq!(read(wrong), None, "{wrong}");
        }
        for wrong in ["fault late -1 s", "fault late 1 h", "clear all", "fault mute left"] {
            assert_eq!(read(wrong), None, "{wrong}");
        }
    }
}
