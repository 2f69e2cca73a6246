//! A rig made ready for its load rules.

use crate::rig::demand::{Demands, Drivetrain};
use crate::rig::kinematics::jacobian;
use crate::rig::mechanics::power_off::Unpowered;
use crate::rig::mechanics::stop_loads::{Leaving, WorstStops, worst_stops};
use crate::rig::parts::BrakePart;
use crate::rig::{Rig, demand::Moment};
use nalgebra::DMatrix;

/// Demands, and what stops without power need besides.
pub(in crate::check) struct Setup<'r> {
    pub(in crate::check) rig: &'r Rig,
    pub(in crate::check) demands: Demands<'r>,
    /// Level and at rest.
    pub(in crate::check) rest: Moment,
    /// For each case, one a leg: least and most mass that it feels of the platform, kg.
    carried_kg: Vec<Vec<(f64, f64)>>,
    /// One a case, where the file has a stop under control: the rig with that load, braking at once.
    pub(super) braked: Vec<Rig>,
}

impl<'r> Setup<'r> {
    pub(in crate::check) fn new(rig: &'r Rig) -> Self {
        let demands = Demands::new(rig);
        let mut rest = demands.moment();
        demands.at(&[], &[], &[], &mut rest);
        let carried_kg = carried(rig, &demands);
        let cases = demands.cases().iter().filter(|_| rig.parts.emergency.is_some());
        let braked = cases.map(|(_, payload)| super::emergency::braked(rig, payload)).collect();
        Self { rig, demands, rest, carried_kg, braked }
    }

    /// The name of a case.
    pub(in crate::check) fn case_name(&self, case: Option<usize>) -> &str {
        case.and_then(|case| self.demands.cases().get(case)).map_or("", |(name, _)| name.as_str())
    }

    /// `actuator `left``
    pub(in crate::check) fn leg_name(&self, leg: Option<usize>) -> &str {
        leg.and_then(|leg| self.rig.actuators.get(leg)).map_or("", |leg| leg.name.as_str())
    }

    /// Every leg with every case.
    pub(in crate::check) fn pairs(&self) -> impl Iterator<Item = (usize, usize)> + use<> {
        let (legs, cases) = (self.rig.actuators.len(), self.demands.cases().len());
        (0..legs).flat_map(move |leg| (0..cases).map(move |case| (leg, case)))
    }

    /// How a leg would stop without power at some instant. `None` without screw, motor or brake.
    pub(super) fn stops(&self, moment: &Moment, leg: usize, case: usize) -> Option<WorstStops> {
        let now = moment.legs.get(leg)?;
        let (cases, part) = self.unpowered(moment, leg, case)?;
        let actuator = self.rig.actuators.get(leg)?;
        let rooms = (actuator.min_m - now.length_m, actuator.max_m - now.length_m);
        let leaving = Leaving {
            speed_m_s: now.speed_m_s,
            acceleration_m_s2: now.acceleration_m_s2,
            ends_m: actuator.parts.end_stop.map(|_| (rooms.0.min(0.0), rooms.1.max(0.0))),
        };
        worst_stops(&cases, &part.brake, leaving)
    }

    /// A leg without power at some instant: as light and as heavy as it may feel. `None` without screw, motor or brake.
    pub(in crate::check) fn unpowered(
        &self,
        moment: &Moment,
        leg: usize,
        case: usize,
    ) -> Option<([Unpowered; 2], BrakePart)> {
        let drivetrain: Drivetrain = (*self.demands.drivetrains().get(leg)?)?;
        let brake = self.rig.actuators.get(leg)?.parts.brake?;
        let now = moment.legs.get(leg)?;
        let (least, most) = *self.carried_kg.get(case)?.get(leg)?;
        let load_n = -moment.still_n.get(case)?.get(leg)? + drivetrain.sliding_kg * now.gravity_m_s2;
        let with = |carried_kg: f64| Unpowered {
            screw: drivetrain.screw,
            turning_kg_m2: drivetrain.turning_kg_m2,
            carried_kg: carried_kg + drivetrain.sliding_kg,
            load_n,
            brake_nm: 0.0,
            delay_s: brake.brake.delay_s,
        };
        Some(([with(least), with(most)], brake))
    }
}

/// The platform's mass as the legs feel it at level, J^-T M J^-1: a leg's own entry, less and more what its neighbours
/// add when they move with it or against it. *Model only.*
fn carried(rig: &Rig, demands: &Demands<'_>) -> Vec<Vec<(f64, f64)>> {
    let legs = rig.actuators.len();
    let none = vec![vec![(0.0, 0.0); legs]; demands.cases().len()];
    let Some(inverse) = (legs == rig.axes.len()).then(|| jacobian(rig, &[]).try_inverse()).flatten() else {
        return none;
    };
    let mut moment = demands.moment();
    let mut columns = vec![DMatrix::zeros(legs, legs); demands.cases().len()];
    for j in 0..legs {
        let mut unit = vec![0.0; legs];
        unit[j] = 1.0;
        if !demands.at(&[], &[], &unit, &mut moment) {
            return none;
        }
        for (column, (forces, still)) in columns.iter_mut().zip(moment.forces_n.iter().zip(&moment.still_n)) {
            for (i, (force, still)) in forces.iter().zip(still).enumerate() {
                column[(i, j)] = force - still;
            }
        }
    }
    let of_case = |column: DMatrix<f64>| {
        let mass = column * &inverse;
        let leg = |i: usize| {
            let others: f64 = (0..legs).filter(|j| *j != i).map(|j| mass[(i, j)].abs()).sum();
            ((mass[(i, i)] - others).max(0.0), mass[(i, i)] + others)
        };
        (0..legs).map(leg).collect()
    };
    columns.into_iter().map(of_case).collect()
}
