//! What motors give while legs stand and move, as forces at the nuts, cycle by cycle: the platform's part under every
//! load case, and what the leg's own moving parts add.
//!
//! A motor knows its torque only, so a force is told as torque times 2 pi by the lead: what speeds up rotor and screw
//! counts, friction does not.

use super::dynamics::{Coordinates, Gradients, Gravity, Legs, MAX_LEGS, coordinates, generalised};
use super::kinematics::{MAX_AXES, Pose, along_r_m, coordinate_m};
use super::{Actuator, Payload, Rig};
use crate::units::STANDARD_GRAVITY_M_S2;

/// What a motor gives at its nut under the load cases of a rig file, N, positive pushing the leg longer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NutForce {
    /// The least of all cases.
    pub least_n: f64,
    /// The most of all cases.
    pub most_n: f64,
}

impl NutForce {
    /// Where nothing is known.
    pub const UNKNOWN: Self = Self { least_n: f64::NAN, most_n: f64::NAN };

    /// Half way between, N.
    pub fn middle_n(&self) -> f64 {
        0.5 * (self.least_n + self.most_n)
    }

    /// How far a force is outside, N; no number where one of them is none.
    pub fn off_n(&self, force_n: f64) -> f64 {
        let off_n = (self.least_n - force_n).max(force_n - self.most_n);
        if self.middle_n().is_nan() || force_n.is_nan() { f64::NAN } else { off_n.max(0.0) }
    }
}

/// The forces of legs that move, told from their lengths; the pose is followed from one question to the next.
#[derive(Debug, Clone, Copy, Default)]
pub struct Carried {
    q: Coordinates,
}

/// Where the platform is and how it moves.
struct Motion {
    pose: Pose,
    gradients: Gradients,
    rate: Coordinates,
    up: Coordinates,
}

impl Carried {
    /// Newton's steps of one question: legs move little from one to the next.
    const STEPS: usize = 4;

    /// Under the file's first load, N one a leg, on legs with these lengths, speeds and accelerations (m, m/s, m/s^2, one a
    /// leg). First order in the accelerations: how lengths bend with the pose is left out. Does not allocate. `None` where
    /// there are not as many legs as coordinates, at a singular pose, and where no pose fits.
    pub fn legs_n(
        &mut self,
        rig: &Rig,
        lengths_m: &[f64],
        speeds: &[f64],
        accelerations: &[f64],
    ) -> Option<Legs> {
        let motion = self.follow(rig, lengths_m, speeds, accelerations)?;
        let own = own_n(rig, &motion.pose, accelerations);
        let mut forces = motion.forces(&rig.payload)?;
        forces.iter_mut().zip(own).for_each(|(force, own)| *force += own);
        Some(forces)
    }

    /// The same under every load case of the file.
    pub fn cases_n(
        &mut self,
        rig: &Rig,
        lengths_m: &[f64],
        speeds: &[f64],
        accelerations: &[f64],
    ) -> Option<[NutForce; MAX_LEGS]> {
        let motion = self.follow(rig, lengths_m, speeds, accelerations)?;
        let own = own_n(rig, &motion.pose, accelerations);
        let mut all = [NutForce { least_n: f64::INFINITY, most_n: f64::NEG_INFINITY }; MAX_LEGS];
        for payload in rig.payloads() {
            for ((all, force_n), own_n) in all.iter_mut().zip(motion.forces(payload)?).zip(own) {
                all.least_n = all.least_n.min(force_n + own_n);
                all.most_n = all.most_n.max(force_n + own_n);
            }
        }
        Some(all)
    }

    fn follow(
        &mut self,
        rig: &Rig,
        lengths_m: &[f64],
        speeds: &[f64],
        accelerations: &[f64],
    ) -> Option<Motion> {
        let n = rig.axes.len();
        if rig.actuators.len() != n || n > MAX_AXES {
            return None;
        }
        let mut q = self.q;
        let mut at = (Pose::at(rig, &q[..n]), 0.0);
        for _ in 0..Self::STEPS {
            let gradients = Gradients::at(rig, &at.0)?;
            let mut left = [0.0; MAX_AXES];
            for ((left, leg), length_m) in left.iter_mut().zip(&rig.actuators).zip(lengths_m) {
                *left = length_m - coordinate_m(&at.0, leg);
            }
            let step = gradients.coordinates(&left)?;
            q.iter_mut().zip(step).for_each(|(q, step)| *q += step);
            at = (Pose::at(rig, &q[..n]), left.iter().fold(0.0, |most: f64, left| most.max(left.abs())));
        }
        // The last step began this far off, and Newton's steps square that.
        if at.1.partial_cmp(&1e-6) != Some(std::cmp::Ordering::Less) {
            return None;
        }
        self.q = q;
        let pose = at.0;
        let gradients = Gradients::at(rig, &pose)?;
        let rate = gradients.coordinates(&coordinates(speeds))?;
        let up = gradients.coordinates(&coordinates(accelerations))?;
        Some(Motion { pose, gradients, rate, up })
    }
}

impl Motion {
    fn forces(&self, payload: &Payload) -> Option<Legs> {
        self.gradients.forces(&generalised(payload, &self.pose, &self.rate, &self.up, Gravity::On))
    }
}

/// What the legs' own parts add, N: m (a - g) of what slides, and what turns as a mass at the nut. Nothing where the file
/// has no data of it.
fn own_n(rig: &Rig, pose: &Pose, accelerations: &[f64]) -> Legs {
    let mut out = [0.0; MAX_LEGS];
    for ((out, leg), up) in out.iter_mut().zip(&rig.actuators).zip(accelerations) {
        let Some(reduction) = leg.reduction() else { continue };
        let gravity_m_s2 = match leg.crank {
            None => STANDARD_GRAVITY_M_S2 * along_r_m(pose, leg).normalize().z,
            // A crank's pin has its weight in the gearbox's data, and is not moved on a link.
            Some(_) => 0.0,
        };
        *out = reduction.sliding_kg * (up - gravity_m_s2) + leg.turning_kg() * up;
    }
    out
}

impl Actuator {
    /// What turns in the leg, as a mass at its nut, kg: rotor, coupling and screw, J (2 pi / lead)^2. 0 where the file does
    /// not say.
    pub fn turning_kg(&self) -> f64 {
        let rotor_kg_m2 = self.parts.motor.as_ref().map_or(0.0, |part| part.motor.rotor_kg_m2);
        self.reduction()
            .map_or(0.0, |given| given.screw.reflected_kg(given.screw.inertia_kg_m2 + rotor_kg_m2))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::kinematics::{jacobian, lengths_m};
    use crate::rig::legs_n;
    use crate::rig::sample::six_legs;

    #[test]
    fn what_legs_carry_is_what_moves_the_payload() {
        let rig = six_legs();
        let (rate, up) = ([0.1, -0.2, 0.05, 0.2, 0.1, -0.1], [0.0; 6]);
        let mut carried = Carried::default();
        for share in [0.3, 0.6, 1.0] {
            let q = [0.02, -0.01, 0.03, 0.05, -0.04, 0.06].map(|q| q * share);
            let speeds = jacobian(&rig, &q) * nalgebra::DVector::from_column_slice(&rate);
            let found = carried.legs_n(&rig, &lengths_m(&rig, &q), speeds.as_slice(), &[0.0; 6]).unwrap();
            // Legs that do not accelerate are taken for coordinates that do not.
            let wanted = legs_n(&rig, &q, &rate, &up).unwrap();
            for (found, wanted) in found.iter().zip(&wanted) {
                assert!((found - wanted).abs() < 1e-6 * wanted.abs().max(1.0), "{found} {wanted}");
            }
        }
        let torn: Vec<f64> = lengths_m(&rig, &[0.0; 6]).iter().map(|length| length * 9.0).collect();
        assert_eq!(carried.legs_n(&rig, &torn, &[0.0; 6], &[0.0; 6]), None);
    }

    /// The two-axis demo: 5 mm of lead, so 1e-5 kg m^2 turn as 15.79 kg; a leg that stands at 1 m/s^2 upwards.
    #[test]
    fn rotor_and_rod_count_and_every_load_case_does() {
        let text = include_str!("../../profiles/rigs/club-two-axis.toml");
        let rig = crate::rig::load(crate::diag::SourceId(0), text).rig.unwrap();
        let leg = &rig.actuators[0];
        let screw = leg.reduction().unwrap();
        let turning_kg_m2 = screw.screw.inertia_kg_m2 + leg.parts.motor.as_ref().unwrap().motor.rotor_kg_m2;
        let per_m = std::f64::consts::TAU / leg.lead_m;
        assert!((leg.turning_kg() / (turning_kg_m2 * per_m * per_m) - 1.0).abs() < 1e-12);
        let level = lengths_m(&rig, &[0.0; 2]);
        let forces = |up: [f64; 2]| {
            (
                Carried::default().legs_n(&rig, &level, &[0.0; 2], &up).unwrap(),
                Carried::default().cases_n(&rig, &level, &[0.0; 2], &up).unwrap(),
            )
        };
        let ((still, cases), (moved, _)) = (forces([0.0; 2]), forces([1.0; 2]));
        // The rod's weight: these legs stand upright to a degree or so, and it hangs on the nut.
        let payload = legs_n(&rig, &[0.0; 2], &[], &[]).unwrap();
        let weight_n = screw.sliding_kg * STANDARD_GRAVITY_M_S2;
        assert!((still[0] - payload[0] - weight_n).abs() < 0.05 * weight_n, "{still:?} {payload:?}");
        // Both legs up by 1 m/s^2 pitch the platform: more than the leg's own parts alone.
        assert!(moved[0] - still[0] > leg.turning_kg() + screw.sliding_kg, "{moved:?} {still:?}");
        assert!(cases[0].least_n < still[0] + 1e-9 && cases[0].most_n > cases[0].least_n + 10.0, "{cases:?}");
    }

    #[test]
    fn a_force_is_off_by_what_no_load_case_explains() {
        let force = NutForce { least_n: -10.0, most_n: 40.0 };
        assert_eq!([-15.0, -10.0, 0.0, 41.0].map(|n| force.off_n(n)), [5.0, 0.0, 0.0, 1.0]);
        assert_eq!(force.middle_n(), 15.0);
        assert!(force.off_n(f64::NAN).is_nan() && NutForce::UNKNOWN.off_n(0.0).is_nan());
    }
}
