//! What legs need at most, as forces at their nuts: at rest, on the way to and from a scene, in it, and in a stop from any
//! instant of it; under every load case of the rig file, friction of screws and what speeds up rotors counted in.

use super::super::setup::MOVE_PART;
use crate::motion::Plan;
use crate::rig::Rig;
use crate::rig::demand::{Demands, Moment};
use crate::safety::{Legs, MAX_AXES};

/// How often a scene's forces are looked at, Hz (own choice: a knock of some hundredths of a second is not passed over).
const LOOKS_HZ: u32 = 200;

/// A leg that its force limit holds back may take so long to stop, s, where the rig file lets it stop quicker (own
/// choice: at the small speeds of a low level hardly a millimetre, and the limit stays small).
const STOP_S: f64 = 0.05;

/// Largest forces, N, and fastest speeds, m/s, one a leg.
#[derive(Debug, Clone)]
pub(super) struct Need {
    /// At rest and in the scene as it is.
    pub(super) scene_n: Legs,
    /// With all else: moves to and from it, and stops.
    pub(super) most_n: Legs,
    pub(super) fastest_m_s: Legs,
}

impl Need {
    /// What holds the platform at the ends of its joint's ranges and level.
    pub(super) fn at_rest(rig: &Rig) -> Self {
        let legs = rig.actuators.len();
        let zero = Legs::filled(legs, 0.0);
        let mut need = Self { scene_n: zero, most_n: zero, fastest_m_s: zero };
        let demands = Demands::new(rig);
        let mut moment = demands.moment();
        for pose in corners(rig) {
            if demands.at(&pose, &[], &[], &mut moment) {
                need.take(&demands, &moment);
            }
        }
        need.scene_n = need.most_n;
        need
    }

    /// Adds what moves to a scene and to park need: each axis speeding up and slowing down as quickly as a leg may on such
    /// a move, or as quickly as it stops there.
    pub(super) fn moves(&mut self, rig: &Rig) {
        let demands = Demands::new(rig);
        let mut moment = demands.moment();
        for pose in corners(rig) {
            for axis in 0..rig.axes.len().min(MAX_AXES) {
                let mut up = [0.0; MAX_AXES];
                up[axis] = 1.0;
                if !demands.at(&pose, &[], &up, &mut moment) {
                    continue;
                }
                // As far as every leg may, by what one unit asks of each.
                let most = rig.actuators.iter().zip(&moment.legs).map(|(leg, now)| {
                    let quickest = leg.acceleration_m_s2.min(MOVE_PART * leg.speed_m_s / STOP_S);
                    quickest / now.acceleration_m_s2.abs()
                });
                let most = most.fold(f64::INFINITY, f64::min);
                for sign in [-1.0, 1.0] {
                    up[axis] = sign * most;
                    if most.is_finite() && demands.at(&pose, &[], &up, &mut moment) {
                        self.take(&demands, &moment);
                    }
                }
            }
        }
        for (fastest, leg) in self.fastest_m_s.iter_mut().zip(&rig.actuators) {
            *fastest = fastest.max(MOVE_PART * leg.speed_m_s);
        }
    }

    /// Adds what a scene needs, and a stop of all legs together from each instant of it.
    pub(super) fn scene(&mut self, plan: &Plan) {
        let rig = plan.rig();
        let axes = rig.axes.len().min(MAX_AXES);
        let demands = Demands::new(rig);
        let mut moment = demands.moment();
        let stride = (plan.rate().hz() / LOOKS_HZ).max(1) as usize;
        let mut frames = plan.frames();
        for block in 0..plan.blocks() {
            plan.render_platform(block, &mut frames);
            for sample in (0..frames.count).step_by(stride) {
                let mut state = [[0.0; MAX_AXES]; 3];
                for (j, axis) in frames.platform.iter().enumerate().take(axes) {
                    let jet = axis.at(sample).0;
                    state.iter_mut().zip(jet).for_each(|(row, value)| row[j] = value);
                }
                let [q, rate, up] = &state;
                if !demands.at(&q[..axes], &rate[..axes], &up[..axes], &mut moment) {
                    continue;
                }
                self.take(&demands, &moment);
                largest(&mut self.scene_n, &demands, &moment);
                for (fastest, now) in self.fastest_m_s.iter_mut().zip(&moment.legs) {
                    *fastest = fastest.max(now.speed_m_s.abs());
                }
                // Every leg loses the same share of its speed.
                let share = rig.actuators.iter().zip(&moment.legs).fold(1.0 / STOP_S, |share, (leg, now)| {
                    share.min(leg.acceleration_m_s2 / now.speed_m_s.abs())
                });
                let slowing = rate.map(|rate| -share * rate);
                if demands.at(&q[..axes], &rate[..axes], &slowing[..axes], &mut moment) {
                    self.take(&demands, &moment);
                }
            }
        }
    }

    fn take(&mut self, demands: &Demands<'_>, moment: &Moment) {
        largest(&mut self.most_n, demands, moment);
    }
}

/// The larger of what is known and what an instant needs, N.
fn largest(most_n: &mut Legs, demands: &Demands<'_>, moment: &Moment) {
    for (forces, torques) in moment.forces_n.iter().zip(&moment.torques_nm) {
        let legs = demands.drivetrains().iter().zip(forces.iter().zip(torques));
        for (most_n, (train, (force_n, torque_nm))) in most_n.iter_mut().zip(legs) {
            let force_n = train.map_or(*force_n, |train| torque_nm * train.screw.turn_rad_m());
            *most_n = most_n.max(force_n.abs());
        }
    }
}

/// Level, and every corner of the joint's ranges with their middles.
fn corners(rig: &Rig) -> impl Iterator<Item = Vec<f64>> + '_ {
    let axes = rig.axes.len().min(MAX_AXES);
    (0..3_usize.pow(axes as u32)).map(move |corner| {
        let mut index = corner;
        let pose = rig.axes.iter().take(axes).map(|axis| {
            let at = [0.0, axis.min, axis.max][index % 3];
            index /= 3;
            at
        });
        pose.collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::sample::two_legs;
    use crate::rig::gravity_legs_n;

    fn demo() -> Rig {
        let text = include_str!("../../../profiles/rigs/club-two-axis.toml");
        crate::rig::load(crate::diag::SourceId(0), text).rig.unwrap()
    }

    /// A rig file without motors: forces are those of the payload, whose weight two upright legs half a metre behind or
    /// before the joint carry.
    #[test]
    fn without_motors_it_is_what_the_platform_needs() {
        let rig = two_legs();
        let need = Need::at_rest(&rig);
        let corner = [rig.axes[0].max, rig.axes[1].min];
        let wanted = gravity_legs_n(&rig, &corner).unwrap();
        assert!(need.most_n.iter().zip(&wanted).all(|(most, force)| *most >= force.abs() - 1e-9));
    }

    /// Every load counts, whichever stands first in the file: of three here.
    #[test]
    fn the_heaviest_load_sets_the_need() {
        let mut rig = demo();
        let most = Need::at_rest(&rig).most_n;
        rig.parts.loads.reverse();
        rig.payload = rig.parts.loads[0].payload.clone();
        assert_eq!(Need::at_rest(&rig).most_n, most);
        let masses: Vec<f64> = rig.parts.loads.iter().map(|load| load.payload.mass_kg).collect();
        let heaviest = masses.iter().copied().fold(0.0, f64::max);
        let light = rig.parts.loads.iter().position(|load| load.payload.mass_kg < 0.7 * heaviest).unwrap();
        rig.parts.loads = vec![rig.parts.loads[light].clone()];
        let less = Need::at_rest(&rig).most_n;
        assert!(less.iter().zip(most.iter()).all(|(less, most)| *less < 0.9 * most), "{less:?} {most:?}");
    }

    /// A motor that turns its rotor needs force for that: 1e-4 kg m^2 on 5 mm are 158 kg at the nut.
    #[test]
    fn what_turns_is_moved_too() {
        let mut rig = demo();
        let moved = |rig: &Rig| {
            let mut need = Need::at_rest(rig);
            need.moves(rig);
            need.most_n
        };
        let before = moved(&rig);
        let per_m = std::f64::consts::TAU / rig.actuators[0].lead_m;
        for leg in &mut rig.actuators {
            leg.parts.motor.as_mut().unwrap().motor.rotor_kg_m2 += 1e-4;
        }
        let quickest = rig.actuators[0].acceleration_m_s2.min(0.3 * rig.actuators[0].speed_m_s / 0.05);
        let more_n = 1e-4 * per_m * per_m * quickest;
        for (after, before) in moved(&rig).iter().zip(before.iter()) {
            let share = (after - before) / more_n;
            // Where both legs are the quicker of the two at some corner, all of it.
            assert!((0.5..1.001).contains(&share), "{after} {before} {more_n}");
        }
    }
}
