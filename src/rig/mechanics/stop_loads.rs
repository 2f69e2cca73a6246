//! Stops without power over all load cases: the worst need not be the heaviest.

use super::brake::Brake;
use super::power_off::Unpowered;

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
    /// Most work in the brake, J.
    pub brake_j: Worst,
    /// Longest time to rest, s.
    pub rest_s: Worst,
}

/// The worst stops from a speed and acceleration (m/s, m/s^2) with the weakest and the strongest brake of its kind, for
/// each load case. The cases' own `brake_nm` and `delay_s` do not count. `None` without cases.
pub fn worst_stops(
    cases: &[Unpowered],
    brake: &Brake,
    speed_m_s: f64,
    acceleration_m_s2: f64,
) -> Option<WorstStops> {
    let mut worst: Option<WorstStops> = None;
    for (case, leg) in cases.iter().enumerate() {
        for brake_nm in [brake.weakest_nm, brake.strongest_nm] {
            let leg = Unpowered { brake_nm, delay_s: brake.delay_s, ..*leg };
            let stop = leg.stop(speed_m_s);
            let (shorter, longer) = stop.furthest_m();
            let found = |value: f64| Worst { value, case };
            let now = WorstStops {
                travel_m: found(longer.max(-shorter)),
                shorter_m: shorter.min(0.0),
                longer_m: longer.max(0.0),
                peak_m_s2: found(stop.peak_m_s2()),
                jolt_m_s2: found(stop.jolt_m_s2(acceleration_m_s2)),
                brake_j: found(stop.brake_j(&leg)),
                rest_s: found(stop.rest_s()),
            };
            let larger = |a: Worst, b: Worst| if b.value > a.value { b } else { a };
            worst = Some(worst.map_or(now, |before| WorstStops {
                travel_m: larger(before.travel_m, now.travel_m),
                shorter_m: before.shorter_m.min(now.shorter_m),
                longer_m: before.longer_m.max(now.longer_m),
                peak_m_s2: larger(before.peak_m_s2, now.peak_m_s2),
                jolt_m_s2: larger(before.jolt_m_s2, now.jolt_m_s2),
                brake_j: larger(before.brake_j, now.brake_j),
                rest_s: larger(before.rest_s, now.rest_s),
            }));
        }
    }
    worst
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

    #[test]
    fn travel_is_the_heaviest_and_the_jolt_the_lightest() {
        let brake = Brake {
            weakest_nm: 1.3,
            strongest_nm: 2.6,
            release_v: 18.0,
            delay_s: 0.03,
            stop_j: 20.0,
            stops: 1000,
        };
        let cases = [case(20.0), case(80.0), case(50.0)];
        let worst = worst_stops(&cases, &brake, -0.2, 0.0).unwrap();
        assert_eq!(worst.travel_m.case, 1);
        let weakest = Unpowered { brake_nm: 1.3, delay_s: 0.03, ..cases[1] }.stop(-0.2);
        assert_eq!(worst.travel_m.value, -weakest.furthest_m().0);
        assert_eq!(worst.shorter_m, weakest.furthest_m().0);
        assert!(worst.longer_m >= 0.0 && worst.longer_m < -worst.shorter_m);
        assert_eq!(worst.peak_m_s2.case, 0);
        let strongest = Unpowered { brake_nm: 2.6, delay_s: 0.03, ..cases[0] }.stop(-0.2);
        assert_eq!(worst.peak_m_s2.value, strongest.peak_m_s2());
        assert_eq!((worst.brake_j.case, worst.rest_s.case), (1, 1));
        assert_eq!(worst_stops(&[], &brake, -0.2, 0.0), None);
    }
}
