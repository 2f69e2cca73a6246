//! Leads that do not go with the speed of the leg.

use super::{Doubt, names};
use crate::rig::{Actuator, Rig};
use crate::units::{Dimension, show};

/// Servo motors on such screws run up to 2000 to 6000 rpm. Source: common practice. Outside of these a lead is asked
/// about.
const SLOWEST_RPM: f64 = 1000.0;
const FASTEST_RPM: f64 = 8000.0;
/// What most of them run at, for what would fit.
const USUAL_RPM: f64 = 3000.0;
/// Leads that are sold, m. Source: common practice.
const LEADS_M: [f64; 7] = [0.002, 0.004, 0.005, 0.010, 0.016, 0.020, 0.025];

pub(super) fn look(rig: &Rig) -> Vec<Doubt> {
    let mut out: Vec<Doubt> = Vec::new();
    let odd = |leg: &&Actuator| !(SLOWEST_RPM..=FASTEST_RPM).contains(&(leg.motor_hz() * 60.0));
    let mut seen: Vec<&Actuator> = Vec::new();
    for leg in rig.actuators.iter().filter(odd) {
        if leg.crank.is_some() {
            out.push(ratio(leg));
            continue;
        }
        let is_same = |other: &&Actuator| {
            other.crank.is_none() && other.lead_m == leg.lead_m && other.speed_m_s == leg.speed_m_s
        };
        if seen.iter().any(is_same) {
            continue;
        }
        seen.push(leg);
        let alike: Vec<&str> = rig.actuators.iter().filter(is_same).map(|leg| leg.name.as_str()).collect();
        let rpm = leg.motor_hz() * 60.0;
        let way = if rpm < SLOWEST_RPM { "only " } else { "" };
        let unlike = if rpm < SLOWEST_RPM { "coarse" } else { "fine" };
        let words = format!(
            "{} with a lead of {} turns its motor at {way}{rpm:.0} rpm at {}, which is {unlike} for a ball screw: servo \
             motors run {SLOWEST_RPM:.0} to {FASTEST_RPM:.0} rpm, and {} would give about {USUAL_RPM:.0}. Turn the \
             screw ten times by hand and measure how far the nut goes",
            names(alike.into_iter()),
            show(leg.lead_m, Dimension::LENGTH),
            show(leg.speed_m_s, Dimension::SPEED),
            show(nearest_lead_m(leg.speed_m_s / (USUAL_RPM / 60.0)), Dimension::LENGTH),
        );
        out.push(Doubt::new(leg.spans.table, words));
    }
    out.extend(uneven(rig));
    out
}

/// A crank whose gearbox does not go with its speed.
fn ratio(leg: &Actuator) -> Doubt {
    let rpm = leg.motor_hz() * 60.0;
    let way = if rpm < SLOWEST_RPM { "only " } else { "" };
    let words = format!(
        "`{}` turns its motor at {way}{rpm:.0} rpm at its limit of speed: servo motors run {SLOWEST_RPM:.0} to \
         {FASTEST_RPM:.0} rpm. Count the turns of the motor for one of the crank, and look at `ratio` and `speed` again",
        leg.name
    );
    Doubt::new(leg.spans.table, words)
}

/// The lead on sale that comes nearest to `wanted_m` in proportion.
fn nearest_lead_m(wanted_m: f64) -> f64 {
    let off = |lead: &f64| libm::fabs(libm::log(lead / wanted_m));
    LEADS_M.into_iter().min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(wanted_m)
}

/// Legs that are the same but for their leads.
fn uneven(rig: &Rig) -> Option<Doubt> {
    let (first, rest) = rig.actuators.split_first()?;
    if rig.has_cranks() {
        return None;
    }
    let other = rest.iter().find(|leg| leg.lead_m != first.lead_m && leg.speed_m_s == first.speed_m_s)?;
    let words = format!(
        "`{}` has a lead of {} and `{}` one of {} at the same speed; look whether their screws really differ",
        first.name,
        show(first.lead_m, Dimension::LENGTH),
        other.name,
        show(other.lead_m, Dimension::LENGTH)
    );
    Some(Doubt::new(other.spans.table, words))
}
