//! What a closed brake must have been loaded with before it counts as tested: what holds its leg by the rig file, and
//! more. *Model only*: poses are sampled, and the platform stands in each of them under every load of the file.
//!
//! Cannot: know what a brake holds. Only a person who loads it sees that.

use crate::rig::demand::Demands;
use crate::rig::{Actuator, AxisLimits, Rig};
use crate::units::{Dimension, quantity, show};

/// A brake is loaded with so many times what holds its leg (own choice), or with as many as `margin` of the rig file's
/// `[brake]` has, where that is more.
const TIMES: f64 = 1.25;

/// A leg that carries less than this is taken to carry it, N (own choice: somebody who leans on the platform).
const LEANING_N: f64 = 100.0;

/// A torque of more than so many times what the rig file gives the brake is a slip of the pen (own choice).
const SLIP: f64 = 5.0;

/// A load that a closed brake must have held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BrakeLoad {
    /// What holds the leg at its worst pose and load, without friction's help, at the motor, N m.
    pub holds_nm: f64,
    /// As many times that is wanted.
    pub times: f64,
    /// Whether `times` is the rig file's margin, and not this program's.
    pub by_file: bool,
    /// The least torque at the motor, N m.
    pub least_nm: f64,
    /// The least force along the leg that still brings that much to the motor, N; `None` where the file has no friction of
    /// the leg, or the leg locks itself.
    pub least_n: Option<f64>,
    /// What the rig file gives the brake at rest, N m.
    pub given_nm: Option<f64>,
}

impl BrakeLoad {
    /// What must be held, in words.
    pub(super) fn words(&self) -> String {
        let torque = |nm| show(nm, Dimension::TORQUE);
        let force = self.least_n.map(|n| format!(", or {} along the leg", show(n, Dimension::FORCE)));
        let whose = if self.by_file { "by `margin` of its rig file" } else { "this program's own choice" };
        let given = self.given_nm.map(|nm| format!("; the rig file gives the brake {}", torque(nm)));
        format!(
            "at least {} at the motor{} ({} hold this leg at its worst by the rig file, times {}, {whose}{})",
            torque(self.least_nm),
            force.unwrap_or_default(),
            torque(self.holds_nm),
            show(self.times, Dimension::NUMBER),
            given.unwrap_or_default()
        )
    }

    /// What was typed for the brake of step `name`: `Err` when it is no answer (what would be), `Ok(Some(…))` when it is
    /// the wrong one.
    pub(super) fn judge(&self, name: &str, text: &str) -> Result<Option<String>, String> {
        const LIKE: &str = "expected the load that it held with its unit, like 1.3 N*m, or no";
        if text == "no" {
            return Ok(Some(format!("{name}: answered `no`: a brake that slips does not hold a person")));
        }
        let found = quantity(text).map_err(|e| format!("{e}; {LIKE}"))?;
        let least_si = match (found.dimension, self.least_n) {
            (Dimension::TORQUE, _) => self.least_nm,
            (Dimension::FORCE, Some(least_n)) => least_n,
            (Dimension::FORCE, None) => {
                let why = "what a force along this leg brings to its brake cannot be told from the rig file";
                return Err(format!(
                    "`{text}`: {why}; expected the torque at the motor, like 1.3 N*m, or no"
                ));
            }
            _ => return Err(format!("`{text}` is something else; {LIKE}")),
        };
        // What the brake has by the rig file, as it was answered: a torque, or the force that brings it.
        let given_si = self.given_nm.map(|given_nm| given_nm * least_si / self.least_nm);
        if let Some(given_si) = given_si.filter(|given_si| found.value_si > SLIP * given_si) {
            let given = show(given_si, found.dimension);
            return Err(format!(
                "`{text}` is more than {SLIP} times the {given} that the rig file gives this brake; {LIKE}"
            ));
        }
        if found.value_si >= least_si {
            return Ok(None);
        }
        Ok(Some(format!(
            "{name}: held `{text}`, expected {} at least: too small a load tells nothing; load it with more, and if it cannot \
             bear that, it is too weak for this rig",
            show(least_si, found.dimension)
        )))
    }
}

/// What each leg's brake must hold.
pub(super) fn brake_loads(rig: &Rig) -> Vec<BrakeLoad> {
    let of_leg = |(leg, holds_n): (&Actuator, f64)| {
        // Friction does not count as help, as in `brake-holding`: shaking sets it free.
        let torque_nm = |force_n: f64| force_n * leg.lead_m / std::f64::consts::TAU;
        let margin = leg.parts.brake.map(|brake| brake.margin).filter(|margin| *margin > TIMES);
        let times = margin.unwrap_or(TIMES);
        let least_nm = torque_nm((times * holds_n).max(LEANING_N));
        // What a force brings to the motor is less by friction, so more of it is wanted.
        let screw =
            leg.reduction().map(|reduction| reduction.screw).filter(|screw| screw.efficiency_back > 0.0);
        BrakeLoad {
            holds_nm: torque_nm(holds_n),
            times,
            by_file: margin.is_some(),
            least_nm,
            least_n: screw.map(|s| (least_nm + s.drag_nm) * s.turn_rad_m() / s.efficiency_back),
            given_nm: leg.parts.brake.map(|brake| brake.holding_nm),
        }
    };
    rig.actuators.iter().zip(holding_n(rig)).map(of_leg).collect()
}

/// The largest force that holds each leg, N: the platform still at poses all over the joint's ranges that the strokes
/// reach, under every load of the rig file.
fn holding_n(rig: &Rig) -> Vec<f64> {
    let demands = Demands::new(rig);
    let mut moment = demands.moment();
    let mut most_n = vec![0.0_f64; rig.actuators.len()];
    for pose in poses(rig) {
        if !demands.at(&pose, &[], &[], &mut moment) {
            continue;
        }
        let mut legs = rig.actuators.iter().zip(&moment.legs);
        if !legs.all(|(leg, now)| (leg.min_m..=leg.max_m).contains(&now.length_m)) {
            continue;
        }
        for still_n in &moment.still_n {
            let legs = rig.actuators.iter().zip(&moment.legs).zip(still_n).zip(&mut most_n);
            for (((leg, now), still_n), most_n) in legs {
                let sliding_kg = leg.reduction().map_or(0.0, |reduction| reduction.sliding_kg);
                *most_n = most_n.max((sliding_kg * now.gravity_m_s2 - still_n).abs());
            }
        }
    }
    most_n
}

/// Level, and a grid over the ranges of the joint with their ends: under a thousand poses for six axes (own choice; what
/// holds a leg changes slowly from pose to pose).
fn poses(rig: &Rig) -> impl Iterator<Item = Vec<f64>> + '_ {
    let each: usize = match rig.axes.len() {
        0..=2 => 9,
        3 => 5,
        _ => 3,
    };
    let level = std::iter::once(vec![0.0; rig.axes.len()]);
    level.chain((0..each.pow(rig.axes.len() as u32)).map(move |place| {
        let mut index = place;
        let at = |axis: &AxisLimits| {
            let part = (index % each) as f64 / (each - 1) as f64;
            index /= each;
            axis.min + part * (axis.max - axis.min)
        };
        rig.axes.iter().map(at).collect()
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::gravity_legs_n;

    fn demo() -> Rig {
        let text = include_str!("../../profiles/rigs/club-two-axis.toml");
        crate::rig::load(crate::diag::SourceId(0), text).rig.unwrap()
    }

    /// Worked out the other way, for one payload at a time and on a finer grid, without what slides; that (2.5 kg) weighs
    /// 24.5 N on an upright leg.
    #[test]
    fn what_holds_a_leg_is_its_worst_by_every_pose_and_load() {
        let (heavy, mut rig) = (demo(), demo());
        rig.actuators.iter_mut().for_each(|leg| leg.parts.screw.as_mut().unwrap().sliding_kg = 0.0);
        let mut most_n = [0.0f64; 2];
        for load in &rig.parts.loads {
            let loaded = Rig { payload: load.payload.clone(), ..rig.clone() };
            for (pitch, roll) in (0..=40).flat_map(|a| (0..=40).map(move |b| (a, b))) {
                let along = |axis: usize, at: i32| {
                    let limits = &rig.axes[axis];
                    limits.min + f64::from(at) / 40.0 * (limits.max - limits.min)
                };
                let pose = [along(0, pitch), along(1, roll)];
                let lengths_m = crate::rig::kinematics::lengths_m(&rig, &pose);
                if lengths_m.iter().all(|at| (0.430..=0.730).contains(at)) {
                    let forces_n = gravity_legs_n(&loaded, &pose).unwrap();
                    most_n.iter_mut().zip(forces_n).for_each(|(most, force)| *most = most.max(force.abs()));
                }
            }
        }
        for ((found_n, with_slide_n), most_n) in holding_n(&rig).iter().zip(holding_n(&heavy)).zip(most_n) {
            assert!((found_n / most_n - 1.0).abs() < 0.02 && most_n > 50.0, "{found_n} {most_n}");
            let slide_n = with_slide_n - found_n;
            assert!((20.0..24.6).contains(&slide_n.abs()), "{slide_n}");
        }
    }

    /// 1000 N on 5 mm are 0.79577 N m without friction; so much at the motor takes (0.79577 + 0.03) / 0.88 of the nut.
    #[test]
    fn the_margin_is_the_files_where_that_is_more_and_a_force_must_overcome_friction() {
        let mut rig = demo();
        let holds_n = holding_n(&rig)[0];
        let found = brake_loads(&rig)[0];
        let holds_nm = holds_n / 1000.0 * 0.795_775;
        assert!((found.holds_nm - holds_nm).abs() < 1e-5, "{found:?}");
        assert!((found.least_nm - 1.5 * holds_nm).abs() < 1e-5 && found.by_file, "{found:?}");
        let force_n = (found.least_nm + 0.03) / 0.88 * 1000.0 / 0.795_775;
        assert!((found.least_n.unwrap() / force_n - 1.0).abs() < 1e-5, "{found:?} {force_n}");
        rig.actuators[0].parts.brake.as_mut().unwrap().margin = 1.1;
        let own = brake_loads(&rig)[0];
        assert!((own.least_nm - 1.25 * holds_nm).abs() < 1e-5 && !own.by_file, "{own:?}");
        assert!(own.words().contains("times 1.25, this program's own choice"), "{}", own.words());
        assert!(own.words().contains("the rig file gives the brake 1.3 N*m"), "{}", own.words());
        // A leg that carries nothing, and of which nothing is known, still holds somebody who leans on it.
        rig.parts.loads.iter_mut().for_each(|load| load.payload.mass_kg = 0.0);
        (rig.actuators[0].parts.screw, rig.actuators[0].parts.brake) = (None, None);
        let light = brake_loads(&rig)[0];
        assert!((light.least_nm - 0.079_577_5).abs() < 1e-6, "{light:?}");
        assert_eq!((light.holds_nm, light.least_n, light.given_nm), (0.0, None, None));
    }

    #[test]
    fn a_load_is_typed_with_its_unit_and_too_small_a_one_is_refused_with_words() {
        let load = BrakeLoad {
            holds_nm: 0.4,
            times: 1.5,
            by_file: true,
            least_nm: 0.6,
            least_n: Some(900.0),
            given_nm: Some(1.3),
        };
        let judge = |text| load.judge("brake of left", text);
        assert_eq!((judge("0.6 N*m"), judge("600 N*mm"), judge("0.9 kN")), (Ok(None), Ok(None), Ok(None)));
        let little = judge("0.59 N*m").unwrap().unwrap();
        assert!(little.contains("held `0.59 N*m`, expected 0.6 N*m at least"), "{little}");
        assert!(judge("890 N").unwrap().unwrap().contains("expected 900 N at least"));
        assert!(judge("-1 N*m").unwrap().is_some());
        assert!(judge("no").unwrap().unwrap().contains("answered `no`"));
        for text in ["yes", "1.3", "1.3 mm", "", "6.6 N*m"] {
            let expected = judge(text).unwrap_err();
            assert!(expected.contains("expected the load that it held"), "{text}: {expected}");
        }
        let unknown = BrakeLoad { least_n: None, ..load };
        assert!(unknown.judge("brake of left", "900 N").unwrap_err().contains("expected the torque"));
    }
}
