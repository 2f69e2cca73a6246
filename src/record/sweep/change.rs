//! What a sweep shows that the first one did not.

use super::Sweep;
use crate::units::{Dimension, show};

/// Friction that differs by more than this part, and by more than so many newtons, is another (own choice: temperature
/// and grease alone make tens of percent, common practice).
const FRICTION: (f64, f64) = (0.4, 5.0);
/// The way in which a force turns round has grown when it is longer by this part and by so many metres (own choice).
const TURN: (f64, f64) = (0.5, 0.00005);
/// A frequency that differs by more than this part is another (own choice: stiffness and mass go by its square).
const TAP: f64 = 0.1;

/// Something that is not as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// What it was and what it is: ``friction of `left`: 52 N, 31 N in the first sweep``.
    pub words: String,
    /// What to look at.
    pub look: &'static str,
}

impl Sweep {
    /// What is not as it was in the first sweep. Legs are known by their names.
    pub fn changes(&self, first: &Sweep) -> Vec<Change> {
        let mut changes = Vec::new();
        let mut say = |what: String, before: String, now: String, look| {
            changes.push(Change { words: format!("{what}: {now}, {before} in the first sweep"), look });
        };
        for leg in &self.legs {
            let Some(before) = first.legs.iter().find(|before| before.leg == leg.leg) else { continue };
            if let (Some(now), Some(before)) = (leg.friction_n, before.friction_n) {
                let words = |value| show(value, Dimension::FORCE);
                let off = now - before;
                if off.abs() > FRICTION.1.max(FRICTION.0 * before.abs()) {
                    let look = match off > 0.0 {
                        true => "a dry or bent screw, a tight rod end, a brake that rubs, a cable that drags",
                        false => "a preload that is gone, a loose rod end or mount",
                    };
                    say(format!("friction of `{}`", leg.leg), words(before), words(now), look);
                }
            }
            if let (Some(now), Some(before)) = (leg.turn_m, before.turn_m) {
                let words = |value| show(value, Dimension::LENGTH);
                if now - before > TURN.1.max(TURN.0 * before) {
                    let look = "a worn nut or rod end, a loose mount or coupling";
                    say(format!("way of turning round of `{}`", leg.leg), words(before), words(now), look);
                }
            }
        }
        if let (Some(now), Some(before)) = (self.tap_hz, first.tap_hz) {
            let words = |value| show(value, Dimension::FREQUENCY);
            if (now / before - 1.0).abs() > TAP {
                let look = match now < before {
                    true => "something loose or cracked in frame, joint or mounts; more weight than before",
                    false => "something that binds; less weight than before",
                };
                say("frequency of a tap".to_string(), words(before), words(now), look);
            }
        }
        changes
    }
}

#[cfg(test)]
mod tests {
    use super::super::SweptLeg;
    use super::*;

    fn sweep(friction_n: f64, turn_m: f64, tap_hz: f64) -> Sweep {
        let leg = SweptLeg { leg: "left".into(), friction_n: Some(friction_n), turn_m: Some(turn_m) };
        Sweep { legs: vec![leg], tap_hz: Some(tap_hz), of: String::new() }
    }

    fn said(now: &Sweep) -> Vec<String> {
        now.changes(&sweep(30.0, 0.0001, 12.0)).into_iter().map(|change| change.words).collect()
    }

    #[test]
    fn what_has_changed_is_said_with_both_numbers_and_what_has_not_is_not() {
        assert_eq!(said(&sweep(41.0, 0.000149, 11.0)), Vec::<String>::new());
        assert_eq!(said(&sweep(43.0, 0.0001, 12.0)), ["friction of `left`: 43 N, 30 N in the first sweep"]);
        assert_eq!(said(&sweep(15.0, 0.0001, 12.0)), ["friction of `left`: 15 N, 30 N in the first sweep"]);
        let worn = "way of turning round of `left`: 0.16 mm, 0.1 mm in the first sweep";
        assert_eq!(said(&sweep(30.0, 0.00016, 12.0)), [worn]);
        assert_eq!(said(&sweep(30.0, 0.00001, 12.0)), Vec::<String>::new(), "less is no harm");
        let loose = sweep(30.0, 0.0001, 9.0).changes(&sweep(30.0, 0.0001, 12.0));
        assert_eq!(loose[0].words, "frequency of a tap: 9 Hz, 12 Hz in the first sweep");
        assert!(loose[0].look.contains("loose"));
        // Little friction differs by a few newtons from day to day.
        assert_eq!(sweep(6.0, 0.0001, 12.0).changes(&sweep(2.0, 0.0001, 12.0)), []);
    }

    #[test]
    fn what_one_of_them_does_not_tell_is_no_change() {
        let blind = Sweep::default();
        assert_eq!(said(&blind), Vec::<String>::new());
        assert_eq!(sweep(99.0, 0.01, 1.0).changes(&blind), []);
    }
}
