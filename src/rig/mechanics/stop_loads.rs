//! Stops without power over all load cases: the worst need not be the heaviest.

use super::brake::Brake;
use super::power_off::{PowerOff, Stopping, Unpowered};

/// A value and the load case that it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worst {
    /// In the unit of the field.
    pub value: f64,
    /// Place of the load case in the list.
    pub case: usize,
}

/// The worst of every kind over all load cases and the range of brakes. *Model only.*
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorstStops {
    /// Furthest travel to either side, m (mostly the weakest brake and the heaviest load).
    pub travel_m: Worst,
    /// Furthest travel that shortens the leg, m, not above zero.
    pub shorter_m: f64,
    /// Furthest travel that lengthens it, m, not below zero.
    pub longer_m: f64,
    /// Largest acceleration of either sign at the leg, m/s^2.
    pub peak_m_s2: Worst,
    /// Largest sudden change of acceleration, m/s^2 (mostly the strongest brake and the lightest load).
    pub jolt_m_s2: Worst,
    /// The same from rest, as it is felt: what lasts too short counts less.
    pub felt_m_s2: Worst,
    /// Most work in the brake, J.
    pub brake_j: Worst,
    /// Longest time to rest, s.
    pub rest_s: Worst,
    /// Most energy with which it meets an end stop, J; 0 where it comes to rest before.
    pub end_j: Worst,
}

/// A leg when power goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leaving {
    /// + gets longer, m/s.
    pub speed_m_s: f64,
    /// m/s^2.
    pub acceleration_m_s2: f64,
    /// Way to its end stops, m: (towards shorter, 0 or less; towards longer, 0 or more), where it has any.
    pub ends_m: Option<(f64, f64)>,
}

/// Energy with which a leg meets the one or the other end stop, J; 0 where it comes to rest before.
///
/// Kinetic energy of all that moves and turns with it. What load and brake add while rubber gives way is not in it.
fn end_j(leg: &Unpowered, stop: &PowerOff, ends_m: (f64, f64)) -> f64 {
    let at = |room_m: f64, sign: f64| {
        let speed = stop.speed_at_m_s(room_m).filter(|speed| speed * sign > 0.0);
        speed.map_or(0.0, |speed| leg.energy_j(speed))
    };
    at(ends_m.0, -1.0).max(at(ends_m.1, 1.0))
}

/// The worst stops with the weakest and the strongest brake of its kind, for
/// each load case. The cases' own `brake_nm` and `delay_s` do not count. `None` without cases.
pub fn worst_stops(cases: &[Unpowered], brake: &Brake, now: Leaving) -> Option<WorstStops> {
    let mut worst: Option<WorstStops> = None;
    each_stop(cases, brake, now.speed_m_s, &mut |case, leg, stop| {
        let (shorter, longer) = stop.furthest_m();
        let found = |value: f64| Worst { value, case };
        // An end that it does not come to is none.
        let ends_m = now.ends_m.filter(|ends_m| shorter <= ends_m.0 || longer >= ends_m.1);
        let these = WorstStops {
            travel_m: found(longer.max(-shorter)),
            shorter_m: shorter.min(0.0),
            longer_m: longer.max(0.0),
            peak_m_s2: found(stop.peak_m_s2()),
            jolt_m_s2: found(stop.jolt_m_s2(now.acceleration_m_s2)),
            felt_m_s2: found(stop.felt_m_s2()),
            brake_j: found(stop.brake_j(leg)),
            rest_s: found(stop.rest_s()),
            end_j: found(ends_m.map_or(0.0, |ends_m| end_j(leg, stop, ends_m))),
        };
        match &mut worst {
            None => worst = Some(these),
            Some(worst) => worst.take(&these),
        }
    });
    worst
}

/// What comes of a leg at rest that is let go until its brake holds. *Model only.*
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct WorstDrop {
    /// Furthest travel that shortens the leg, m, not above zero.
    pub shorter_m: f64,
    /// Furthest travel that lengthens it, m, not below zero.
    pub longer_m: f64,
    /// Largest sudden change of acceleration, m/s^2, as it is felt: what lasts too short counts less.
    pub felt_m_s2: f64,
}

/// The worst drops from rest, over the same cases and brakes as [`worst_stops`]. `None` without cases.
pub fn worst_drop(cases: &[Unpowered], brake: &Brake) -> Option<WorstDrop> {
    let mut worst = WorstDrop::default();
    each_stop(cases, brake, 0.0, &mut |_, _, stop| {
        let (shorter, longer) = stop.furthest_m();
        worst.shorter_m = worst.shorter_m.min(shorter);
        worst.longer_m = worst.longer_m.max(longer);
        worst.felt_m_s2 = worst.felt_m_s2.max(stop.felt_m_s2());
    });
    (!cases.is_empty()).then_some(worst)
}

/// Every stop without power from a speed: each case with the weakest and the strongest brake of its kind.
fn each_stop(
    cases: &[Unpowered],
    brake: &Brake,
    speed_m_s: f64,
    found: &mut impl FnMut(usize, &Unpowered, &PowerOff),
) {
    let mut run = Stopping::default();
    for (case, leg) in cases.iter().enumerate() {
        let leg = Unpowered { delay_s: brake.delay_s, ..*leg };
        // The way until the brake brakes is the same under both.
        run.coast(&leg, speed_m_s);
        let coasted = run.reached();
        for brake_nm in [brake.weakest_nm, brake.strongest_nm] {
            let leg = Unpowered { brake_nm, ..leg };
            run.back_to(&coasted);
            run.brake(&leg);
            found(case, &leg, &run.so_far);
        }
    }
}

impl WorstStops {
    /// The worse of both, kind by kind; this one where they are equal.
    fn take(&mut self, other: &Self) {
        let larger = |mine: &mut Worst, other: Worst| {
            if other.value > mine.value {
                *mine = other;
            }
        };
        larger(&mut self.travel_m, other.travel_m);
        self.shorter_m = self.shorter_m.min(other.shorter_m);
        self.longer_m = self.longer_m.max(other.longer_m);
        larger(&mut self.peak_m_s2, other.peak_m_s2);
        larger(&mut self.jolt_m_s2, other.jolt_m_s2);
        larger(&mut self.felt_m_s2, other.felt_m_s2);
        larger(&mut self.brake_j, other.brake_j);
        larger(&mut self.rest_s, other.rest_s);
        larger(&mut self.end_j, other.end_j);
    }
}

#[cfg(test)]
mod tests {
    use super::super::screw::BallScrew;
    use super::*;

    fn case(carried_kg: f64) -> Unpowered {
        let screw = BallScrew {
            lead_m: 0.005,
            efficiency_forward: 0.9,
            efficiency_back: 0.88,
            drag_nm: 0.02,
            inertia_kg_m2: 2e-5,
        };
        Unpowered {
            screw,
            turning_kg_m2: 6e-5,
            carried_kg,
            load_n: -9.8 * carried_kg,
            brake_nm: 0.0,
            delay_s: 9.0,
        }
    }

    fn falling(ends_m: Option<(f64, f64)>) -> Leaving {
        Leaving { speed_m_s: -0.2, acceleration_m_s2: 0.0, ends_m }
    }

    const BRAKE: Brake = Brake {
        weakest_nm: 1.3,
        strongest_nm: 2.6,
        release_v: 18.0,
        delay_s: 0.03,
        stop_j: 20.0,
        stops: 1000,
    };

    /// Before the brake drops the leg falls freely: v^2 = v0^2 + 2 a s, and all that moves has m v^2 / 2.
    #[test]
    fn an_end_takes_what_is_left_of_the_speed() {
        let worst = |ends_m| worst_stops(&[case(80.0)], &BRAKE, falling(ends_m)).unwrap().end_j.value;
        let at_once = worst(Some((0.0, 0.3)));
        assert!((at_once - case(80.0).energy_j(0.2)).abs() < 1e-12);
        // 4 mm on it still has not braked.
        let a = (80.0 * 9.8 * 0.88 - 0.02 * std::f64::consts::TAU / 0.005)
            / (case(80.0).energy_j(1.0) * 2.0 - 80.0 + 80.0 * 0.88);
        let by_hand = case(80.0).energy_j((0.04_f64 + 2.0 * a * 0.004).sqrt());
        assert!(
            (worst(Some((-0.004, 0.3))) - by_hand).abs() < 1e-9,
            "{} {by_hand}",
            worst(Some((-0.004, 0.3)))
        );
        // Further on it has come to rest; and nothing is asked of an end that it leaves.
        assert_eq!(worst(Some((-0.3, 0.3))), 0.0);
        assert_eq!(worst(Some((-0.3, 0.0))), 0.0);
        assert_eq!(worst(None), 0.0);
    }

    /// Let go at rest, 80 kg fall for 100 ms and are caught: long enough to be felt in full. After 1 ms they are not.
    #[test]
    fn a_short_knock_counts_by_its_share() {
        let felt = |delay_s: f64| {
            let brake = Brake { delay_s, ..BRAKE };
            let still = Leaving { speed_m_s: 0.0, ..falling(None) };
            worst_stops(&[case(80.0)], &brake, still).unwrap()
        };
        let (long, short) = (felt(0.1), felt(0.001));
        assert_eq!(long.felt_m_s2.value, long.jolt_m_s2.value);
        // Falling takes 1 ms of 10, and catching less than that.
        assert!(short.felt_m_s2.value < 0.2 * short.jolt_m_s2.value, "{short:?}");
        let fall = Unpowered { brake_nm: 1.3, delay_s: 0.001, ..case(80.0) }.stop(0.0).stages[0];
        assert!(short.felt_m_s2.value >= 0.1 * fall.acceleration_m_s2.abs() * 1.9, "{short:?}");
    }

    #[test]
    fn travel_is_the_heaviest_and_the_jolt_the_lightest() {
        let brake = BRAKE;
        let cases = [case(20.0), case(80.0), case(50.0)];
        let worst = worst_stops(&cases, &brake, falling(Some((-0.02, 0.3)))).unwrap();
        assert_eq!(worst.travel_m.case, 1);
        let weakest = Unpowered { brake_nm: 1.3, delay_s: 0.03, ..cases[1] }.stop(-0.2);
        assert_eq!(worst.travel_m.value, -weakest.furthest_m().0);
        assert_eq!(worst.shorter_m, weakest.furthest_m().0);
        assert!(worst.longer_m >= 0.0 && worst.longer_m < -worst.shorter_m);
        assert_eq!(worst.peak_m_s2.case, 0);
        let strongest = Unpowered { brake_nm: 2.6, delay_s: 0.03, ..cases[0] }.stop(-0.2);
        assert_eq!(worst.peak_m_s2.value, strongest.peak_m_s2());
        assert_eq!((worst.brake_j.case, worst.rest_s.case), (1, 1));
        assert_eq!(worst_stops(&[], &brake, falling(None)), None);
    }
}
