//! What a profile asks of each motor, as a cloud of torque over speed, against the motor's curves.

use super::ink::{BLACK, BLUE, VERMILION, line_of};
use super::plot::{Frame, Scale};
use super::svg::{Anchor, Pen, Svg, number};
use crate::motion::Plan;
use crate::rig::demand::Demands;
use crate::signal::BLOCK;
use std::collections::BTreeSet;
use std::f64::consts::TAU;
use std::fmt::Write;

/// Cells of a cloud each way.
const CELLS: f64 = 110.0;
const RPM_PER_RAD_S: f64 = 60.0 / TAU;

/// Where one motor has been.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cloud {
    pub(super) leg: usize,
    /// Size of a cell: rad/s and N m.
    cell: (f64, f64),
    cells: BTreeSet<(i32, i32)>,
    /// Largest share of the peak curve that was used, and of the continuous one as r.m.s. torque over the whole plan to
    /// its torque at standstill.
    pub(super) peak_share: f64,
    pub(super) rms_nm: f64,
}

/// One cloud for each leg whose screw and motor are described, over all loads; `None` where there is none.
pub(super) fn clouds(plan: &Plan) -> Option<Vec<Cloud>> {
    let rig = plan.rig();
    let demands = Demands::new(rig);
    let mut clouds: Vec<Cloud> = Vec::new();
    for (leg, actuator) in rig.actuators.iter().enumerate() {
        let (Some(motor), Some(Some(_))) = (&actuator.parts.motor, demands.drivetrains().get(leg)) else {
            continue;
        };
        let top_nm = motor.motor.peak.at_nm(0.0).unwrap_or(1.0).max(1e-9);
        let cell = (motor.motor.peak.most_rad_s().max(1e-9) / CELLS, 1.2 * top_nm / CELLS);
        clouds.push(Cloud { leg, cell, cells: BTreeSet::new(), peak_share: 0.0, rms_nm: 0.0 });
    }
    if clouds.is_empty() {
        return None;
    }
    let (mut frames, mut moment) = (plan.frames(), demands.moment());
    let axes = rig.axes.len();
    let mut now = [vec![0.0; axes], vec![0.0; axes], vec![0.0; axes]];
    let mut squares: Vec<Vec<f64>> = vec![vec![0.0; demands.cases().len()]; clouds.len()];
    for block in 0..plan.blocks() {
        plan.render_platform(block, &mut frames);
        for k in 0..frames.count.min(BLOCK) {
            for (order, values) in now.iter_mut().enumerate() {
                values.iter_mut().zip(&frames.platform).for_each(|(slot, jet)| *slot = jet.0[order][k]);
            }
            if !demands.at(&now[0], &now[1], &now[2], &mut moment) {
                continue;
            }
            for (cloud, squares) in clouds.iter_mut().zip(&mut squares) {
                cloud.take(plan, &demands, &moment, squares);
            }
        }
    }
    for (cloud, squares) in clouds.iter_mut().zip(squares) {
        let most = squares.into_iter().fold(0.0, f64::max);
        cloud.rms_nm = (most / plan.samples().max(1) as f64).sqrt();
    }
    Some(clouds)
}

impl Cloud {
    fn take(
        &mut self,
        plan: &Plan,
        demands: &Demands<'_>,
        moment: &crate::rig::demand::Moment,
        squares: &mut [f64],
    ) {
        let (Some(Some(drivetrain)), Some(now)) =
            (demands.drivetrains().get(self.leg), moment.legs.get(self.leg))
        else {
            return;
        };
        let rate = now.speed_m_s * drivetrain.screw.turn_rad_m();
        let motor = plan.rig().actuators.get(self.leg).and_then(|leg| leg.parts.motor.as_ref());
        for (torques, square) in moment.torques_nm.iter().zip(squares) {
            let torque = torques.get(self.leg).copied().unwrap_or(0.0);
            *square += torque * torque;
            let cell = ((rate / self.cell.0).round(), (torque / self.cell.1).round());
            self.cells.insert((cell.0.clamp(-1e6, 1e6) as i32, cell.1.clamp(-1e6, 1e6) as i32));
            if let Some(motor) = motor {
                self.peak_share = self.peak_share.max(motor.motor.peak.share(torque, rate));
            }
        }
    }
}

/// The cloud of one leg with its motor's curves on all four sides.
pub(super) fn cloud_picture(plan: &Plan, cloud: &Cloud) -> Option<Svg> {
    let actuator = plan.rig().actuators.get(cloud.leg)?;
    let motor = &actuator.parts.motor.as_ref()?.motor;
    let of = |cell: fn(&(i32, i32)) -> i32| {
        cloud.cells.iter().map(cell).map(|v| f64::from(v.abs())).fold(0.0, f64::max)
    };
    let wide = (of(|c| c.0) * cloud.cell.0).max(motor.peak.most_rad_s()) * RPM_PER_RAD_S * 1.06;
    let high = (of(|c| c.1) * cloud.cell.1).max(motor.peak.at_nm(0.0).unwrap_or(1.0)) * 1.1;
    let frame = Frame {
        left: 60.0,
        top: 24.0,
        width: 380.0,
        height: 230.0,
        across: Scale::new(-wide, wide, "motor speed, rpm"),
        up: Scale::new(-high, high, "motor torque, N m"),
    };
    let mut svg = Svg::new(600.0, 300.0, &format!("torque over speed of the motor of {}", actuator.name));
    svg.text((frame.left + frame.width / 2.0, 15.0), Anchor::Middle, &actuator.name);
    frame.grid(&mut svg);
    frame.zero(&mut svg);
    let size = (frame.x(cloud.cell.0 * RPM_PER_RAD_S) - frame.x(0.0), frame.y(0.0) - frame.y(cloud.cell.1));
    let mut path = String::new();
    for (x, y) in &cloud.cells {
        let at = frame
            .at((f64::from(*x) - 0.5) * cloud.cell.0 * RPM_PER_RAD_S, (f64::from(*y) + 0.5) * cloud.cell.1);
        let [x, y, w, h] = [at.0, at.1, size.0.max(1.2), size.1.max(1.2)].map(number);
        // Writing to a string cannot fail.
        let _ = write!(path, "M{x} {y}h{w}v{h}h-{w}z");
    }
    svg.path(&path, &Pen::fill(BLUE));
    let curves = [
        (&motor.peak, Pen::line(BLACK, 2.0), "peak torque"),
        (&motor.continuous, Pen::line(VERMILION, 2.0).dashed("6 3"), "continuous torque"),
    ];
    for (row, (curve, pen, words)) in curves.iter().enumerate() {
        let mut points: Vec<(f64, f64)> =
            curve.points().iter().map(|(w, t)| (w * RPM_PER_RAD_S, *t)).collect();
        // Beyond its last point a motor does not run: the curve ends upright.
        points.extend(points.last().map(|(w, _)| (*w, 0.0)));
        for (sx, sy) in [(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)] {
            let side: Vec<(f64, f64)> = points.iter().map(|(w, t)| frame.at(w * sx, t * sy)).collect();
            svg.trail(&side, pen);
        }
        let y = 36.0 + 20.0 * row as f64;
        svg.line((452.0, y), (484.0, y), pen);
        svg.text((490.0, y + 4.0), Anchor::Start, words);
    }
    svg.rect((462.0, 70.0), (10.0, 10.0), &Pen::fill(line_of(0).0));
    svg.text((490.0, 79.0), Anchor::Start, "the profile");
    frame.edges(&mut svg);
    Some(svg)
}
