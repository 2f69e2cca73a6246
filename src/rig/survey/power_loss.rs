//! What happens to each leg when power fails at its fastest, at level, under every load. *Model only.*
//!
//! One leg at a time: it moves at its limit of speed the way its load pushes, the others stand. The platform then turns
//! about a line through the other legs, and the leg feels so much mass: the force that it needs for each m/s^2.

use crate::rig::Rig;
use crate::rig::demand::Demands;
use crate::rig::kinematics::jacobian;
use crate::rig::mechanics::controlled_stop::StopLimits;
use crate::rig::mechanics::power_off::Unpowered;
use crate::rig::mechanics::stop_loads::{Leaving, WorstStops, worst_stops};
use crate::rig::parts::BrakePart;
use nalgebra::DVector;

/// One leg without power.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerLoss {
    /// Its place in the rig's order.
    pub leg: usize,
    /// The worst over loads and brakes of its kind; `None` without a brake.
    pub stops: Option<WorstStops>,
    /// How many stops with the most work the brake bears; `None` when that is more than it may take at once.
    pub bears: Option<f64>,
    /// Names of the loads under which it runs back when no brake holds it.
    pub runs_back: Vec<String>,
    /// Smallest holding torque of the brake for what the loads need at level; infinite where they need none.
    pub holding_margin: Option<f64>,
    /// Energy at that speed with the heaviest feel, J: what an end stop takes when nothing brakes.
    pub energy_j: f64,
    /// Travel of a controlled stop (category 1) from that speed, m.
    pub controlled_m: f64,
    /// From the call until the brakes hold and power may go, s.
    pub controlled_s: f64,
}

/// Every leg whose screw and motor the file describes. Empty at a singular level pose.
pub fn power_losses(rig: &Rig) -> Vec<PowerLoss> {
    let demands = Demands::new(rig);
    let level = vec![0.0; rig.axes.len()];
    let mut held = demands.moment();
    if !demands.at(&level, &level, &level, &mut held) {
        return Vec::new();
    }
    (0..rig.actuators.len()).filter_map(|leg| one(rig, &demands, &held.still_n, leg)).collect()
}

fn one(rig: &Rig, demands: &Demands<'_>, still_n: &[Vec<f64>], leg: usize) -> Option<PowerLoss> {
    let drivetrain = demands.drivetrains().get(leg)?.as_ref()?;
    let actuator = rig.actuators.get(leg)?;
    let level = vec![0.0; rig.axes.len()];
    // Coordinates that move this leg by 1 m/s^2 and no other.
    let alone = DVector::from_fn(rig.actuators.len(), |i, _| if i == leg { 1.0 } else { 0.0 });
    let moved = jacobian(rig, &level).lu().solve(&alone)?;
    let mut moving = demands.moment();
    if !demands.at(&level, &level, moved.as_slice(), &mut moving) {
        return None;
    }
    let cases: Vec<Unpowered> = still_n
        .iter()
        .zip(&moving.forces_n)
        .filter_map(|(still, moving)| {
            let (still, moving) = (*still.get(leg)?, *moving.get(leg)?);
            Some(Unpowered {
                screw: drivetrain.screw,
                turning_kg_m2: drivetrain.turning_kg_m2,
                carried_kg: (moving - still).max(0.0) + drivetrain.sliding_kg,
                load_n: -still,
                brake_nm: 0.0,
                delay_s: f64::INFINITY,
            })
        })
        .collect();
    // The way that the heaviest load pushes.
    let heaviest = cases.iter().map(|case| case.load_n).max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
    let speed_m_s = actuator.speed_m_s.copysign(heaviest);
    let part: Option<BrakePart> = actuator.parts.brake;
    let leaving = Leaving { speed_m_s, acceleration_m_s2: 0.0, ends_m: None };
    let stops = part.and_then(|part| worst_stops(&cases, &part.brake, leaving));
    let name = |at: usize| demands.cases().get(at).map_or(String::new(), |(name, _)| name.clone());
    let delay_s = rig.drive.detection_s + rig.drive.link_s + rig.drive.delay_s;
    let controlled = StopLimits {
        delay_s,
        deceleration_m_s2: actuator.acceleration_m_s2,
        jerk_m_s3: actuator.jerk_m_s3,
        brake_delay_s: part.map_or(0.0, |part| part.brake.delay_s),
    }
    .stop(speed_m_s);
    Some(PowerLoss {
        leg,
        bears: part.zip(stops).and_then(|(part, stops)| part.brake.stops_of(stops.brake_j.value)),
        stops,
        runs_back: cases
            .iter()
            .enumerate()
            .filter(|(_, case)| case.screw.is_driven_back(case.load_n, 0.0))
            .map(|(at, _)| name(at))
            .collect(),
        holding_margin: part.map(|part| {
            let margin = |case: &Unpowered| part.holding_nm / case.screw.ideal_nm(case.load_n).abs();
            cases.iter().map(margin).fold(f64::INFINITY, f64::min)
        }),
        energy_j: cases.iter().map(|case| case.energy_j(speed_m_s)).fold(0.0, f64::max),
        controlled_m: controlled.travel_m,
        controlled_s: controlled.power_s,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diag::SourceId;

    fn demo() -> Rig {
        let text = include_str!("../../../profiles/rigs/club-two-axis.toml");
        crate::rig::load(SourceId(0), text).rig.unwrap()
    }

    /// By hand for the left leg: the platform turns about the level line from the joint below the right leg's end, which is
    /// 2 x 0.7 x 0.4 / sqrt(0.7^2 + 0.4^2) = 0.6946 m from the left one. Moment of inertia about that line over its
    /// square, and 2.5 kg that slide.
    #[test]
    fn the_mass_that_a_leg_feels() {
        let mut rig = demo();
        rig.parts.loads.clear();
        let losses = power_losses(&rig);
        assert_eq!(losses.len(), 2);
        let (x, y) = (-0.7, 0.4);
        let line = nalgebra::Vector3::new(x, y, 0.0).normalize();
        let (payload, arm) = (&rig.payload, nalgebra::Vector3::new(-0.7, -0.4, 0.02));
        let centre = payload.centre_p_m - line * payload.centre_p_m.dot(&line);
        let inertia =
            (line.transpose() * payload.inertia_kg_m2 * line)[0] + payload.mass_kg * centre.norm_squared();
        // The leg is vertical: what counts of its end's path is its vertical part.
        let vertical = line.cross(&arm).z;
        let felt_kg = inertia / (vertical * vertical) + 2.5;
        let turn_rad_m = 2.0 * std::f64::consts::PI / 0.005;
        let turning = (2e-5 + 3e-5) * turn_rad_m * turn_rad_m;
        let energy = 0.5 * (felt_kg + turning) * 0.25 * 0.25;
        assert!((losses[0].energy_j - energy).abs() < 1e-9 * energy, "{} {energy}", losses[0].energy_j);
        // A ball screw of 88 % runs back as soon as the load beats its drag: 27 N x 5 mm / 2 pi x 0.88 = 0.019 N m.
        assert_eq!(losses[0].runs_back, [""; 0], "less than the drag of 0.03 N m");
    }

    #[test]
    fn every_load_counts_and_no_brake_is_no_stop() {
        let mut rig = demo();
        let losses = power_losses(&rig);
        let stops = losses[0].stops.unwrap();
        assert!(stops.travel_m.value > 0.0 && stops.travel_m.value < 0.1, "{stops:?}");
        assert!(stops.jolt_m_s2.case != stops.travel_m.case, "lightest and heaviest: {stops:?}");
        // 15 ms of delay, 250 mm/s, 4 m/s^2, 200 m/s^3: 3.75 + 7.81 + 2.5 mm; 97.5 ms and the brake's 30 ms.
        assert!(
            (losses[0].controlled_m - 0.014_062_5).abs() < 1e-12
                && (losses[0].controlled_s - 0.1275).abs() < 1e-12
        );
        rig.actuators[0].parts.brake = None;
        assert_eq!(power_losses(&rig)[0].stops, None);
        rig.actuators[0].parts.motor = None;
        assert_eq!(power_losses(&rig).len(), 1);
    }
}
