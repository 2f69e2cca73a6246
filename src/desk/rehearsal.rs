//! The simulated rig that rehearses: it is sent the set-points of the motion that plays, and answers as its drives do,
//! late and only as fast as they can.
//!
//! Whatever can be drawn may be rehearsed, also what does not fit the rig: to see how it fails. So this is no player, and
//! there is nothing here that real drives could be put behind.

use crate::link::{DriveFault, DriveTime, EngagedLink, Link, SetPoints, SimRig};
use crate::motion::{Frames, Plan};
use crate::rig::kinematics;
use crate::safety::Legs;
use crate::signal::BLOCK;

/// A playhead further ahead than this is not caught up with, s: the rig is set down anew where it is. Own choice: a
/// window that hung for so long showed nothing of it.
const MOST_AHEAD_S: f64 = 2.0;

/// What the simulated drives answered in one cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// When, s of the plan.
    pub at_s: f64,
    /// The set-points for that instant, m.
    pub wanted_m: Legs,
    /// Where the legs were, m.
    pub legs_m: Legs,
}

/// A simulated rig under the playhead.
#[derive(Debug)]
pub struct Rehearsal {
    plan: Plan,
    link: <SimRig as Link>::Engaged,
    frames: Frames,
    /// The block that `frames` holds.
    block: Option<u64>,
    /// Where it was set down, s of the plan.
    from_s: f64,
    /// Cycles since.
    cycles: u64,
    /// Platform coordinates of the last answer.
    pose: Vec<f64>,
    fault: Option<DriveFault>,
    /// Drives go on reporting a fault; it is told once.
    is_told: bool,
}

impl Rehearsal {
    /// The rig of a plan, at rest where the plan is at `at_s` (s of the plan). `None` where simulated drives do not engage.
    pub fn set_down(plan: Plan, at_s: f64) -> Option<Self> {
        let (mut frames, mut block) = (plan.frames(), None);
        let start = sample(&plan, at_s, &mut frames, &mut block);
        let rig = SimRig::new(plan.rig(), &start);
        let link = rig.engage(DriveTime(0)).ok()?;
        let pose = frames.platform.iter().map(|jets| jets.at(index(&plan, at_s).1).0[0]).collect();
        Some(Self { plan, link, frames, block, from_s: at_s, cycles: 0, pose, fault: None, is_told: false })
    }

    /// The playhead is at `at_s` now, s of the plan; every cycle's answer until then goes to `heard`.
    pub fn follow(&mut self, at_s: f64, heard: &mut dyn FnMut(Answer)) {
        if at_s - self.now_s() > MOST_AHEAD_S
            && let Some(anew) = Self::set_down(self.plan.clone(), at_s)
        {
            *self = Self { fault: self.fault, is_told: self.is_told, ..anew };
            return;
        }
        let before = self.cycles;
        while self.now_s() + self.cycle_s() <= at_s {
            self.cycle(heard);
        }
        if self.cycles > before {
            let legs_m = self.link.rig().lengths_m();
            // A pose that no lengths have stays the one before.
            if let Ok(pose) = kinematics::forward(self.plan.rig(), &legs_m, &self.pose) {
                self.pose = pose.as_slice().to_vec();
            }
        }
    }

    fn cycle(&mut self, heard: &mut dyn FnMut(Answer)) {
        let cycle_us = u64::from(self.plan.rig().drive.cycle_us.max(1));
        let apply_at = DriveTime((self.cycles + 1) * cycle_us);
        let next_s = self.now_s() + self.cycle_s();
        let wanted_m = sample(&self.plan, next_s, &mut self.frames, &mut self.block);
        let sent = self.link.send(&SetPoints { sequence: self.cycles, apply_at, lengths_m: wanted_m });
        self.cycles += 1;
        if let (Ok(()), Ok(feedback)) = (sent, self.link.poll(apply_at)) {
            self.fault = self.fault.or(feedback.fault);
        }
        heard(Answer { at_s: self.now_s(), wanted_m, legs_m: self.link.rig().lengths_m() });
    }

    fn cycle_s(&self) -> f64 {
        f64::from(self.plan.rig().drive.cycle_us.max(1)) * 1e-6
    }

    fn now_s(&self) -> f64 {
        self.from_s + self.cycles as f64 * self.cycle_s()
    }

    /// Platform coordinates where its legs are now, rad and m.
    pub fn pose(&self) -> &[f64] {
        &self.pose
    }

    /// The name of a leg.
    pub fn leg(&self, leg: usize) -> &str {
        self.plan.rig().actuators.get(leg).map_or("?", |actuator| &actuator.name)
    }

    /// What went wrong with its drives first, once.
    pub fn take_fault(&mut self) -> Option<DriveFault> {
        let fault = self.fault.filter(|_| !self.is_told);
        self.is_told |= fault.is_some();
        fault
    }
}

/// Block and place in it of the sample nearest to `at_s`, the last beyond the end.
fn index(plan: &Plan, at_s: f64) -> (u64, usize) {
    let nearest = (at_s.max(0.0) * f64::from(plan.rate().hz())).round() as u64;
    let sample = nearest.min(plan.samples().saturating_sub(1));
    (sample / BLOCK as u64, (sample % BLOCK as u64) as usize)
}

/// The leg lengths there, m; `frames` hold block `block`.
fn sample(plan: &Plan, at_s: f64, frames: &mut Frames, block: &mut Option<u64>) -> Legs {
    let (wanted, k) = index(plan, at_s);
    if *block != Some(wanted) {
        plan.render(wanted, frames);
        *block = Some(wanted);
    }
    Legs::from_fn(frames.legs.len(), |leg| frames.legs[leg].at(k).0[0])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::sample::scene;
    use crate::desk::variant::Variant;
    use crate::time::SampleRate;

    fn plan(body: &str, gain: f64) -> Plan {
        let understood = scene(body);
        let (scenario, rig) = (understood.scenario.unwrap(), understood.rig.unwrap());
        Variant { gain, ..Variant::default() }.plan(&scenario, &rig, SampleRate::new(1000).unwrap()).unwrap()
    }

    fn answers(plan: &Plan, from_s: f64, to_s: f64, frame_s: f64) -> (Rehearsal, Vec<Answer>) {
        let (mut rig, mut heard) = (Rehearsal::set_down(plan.clone(), from_s).unwrap(), Vec::new());
        let mut at_s = from_s;
        while at_s < to_s {
            at_s = (at_s + frame_s).min(to_s);
            rig.follow(at_s, &mut |answer| heard.push(answer));
        }
        (rig, heard)
    }

    #[test]
    fn legs_come_after_their_set_points_by_the_lag_that_is_told() {
        let plan = plan("pitch sine(3 deg, 0.25 Hz) for 12 s rise 4 s fall 4 s", 1.0);
        let lag_s = crate::link::lag_s(&plan.rig().drive);
        assert!((0.005..0.1).contains(&lag_s), "{lag_s}");
        let (_, heard) = answers(&plan, 0.0, 12.0, 0.016);
        let off_m = |late_s: f64| {
            let by = (late_s / 0.002).round() as usize;
            heard
                .iter()
                .skip(by)
                .zip(&heard)
                .map(|(now, then)| (now.legs_m[0] - then.wanted_m[0]).abs())
                .fold(0.0, f64::max)
        };
        let way_m =
            heard.iter().map(|answer| (answer.wanted_m[0] - heard[0].wanted_m[0]).abs()).fold(0.0, f64::max);
        assert!(way_m > 0.01 && off_m(0.0) > 0.01 * way_m, "{way_m} {}", off_m(0.0));
        // What is left is the curve of the loop's phase and half a cycle of rounding.
        assert!(off_m(lag_s) < 0.1 * off_m(0.0), "{} of {}", off_m(lag_s), off_m(0.0));
    }

    #[test]
    fn what_the_frames_of_a_window_are_changes_no_answer() {
        let plan = plan("roll noise(2 deg, 1 Hz..4 Hz) for 5 s rise 1 s fall 1 s", 1.0);
        let ((rig, fine), (_, coarse)) = (answers(&plan, 1.0, 4.0, 0.003), answers(&plan, 1.0, 4.0, 0.25));
        assert_eq!(fine, coarse);
        assert!((fine.last().unwrap().at_s - 4.0).abs() < 2e-3 && fine.len() > 1495, "{}", fine.len());
        let lengths = kinematics::lengths_m(plan.rig(), rig.pose());
        let last = fine.last().unwrap().legs_m;
        assert!(lengths.iter().zip(&*last).all(|(a, b)| (a - b).abs() < 1e-9), "{lengths:?} {last:?}");
    }

    #[test]
    fn what_does_not_fit_runs_onto_the_end_and_is_told_once() {
        let plan = plan("pitch hold(9 deg, ease: 2 s, back: 2 s) for 8 s", 2.5);
        let (mut rig, heard) = answers(&plan, 0.0, 4.0, 0.016);
        assert!(matches!(rig.take_fault(), Some(DriveFault::EndStop { .. })), "{:?}", heard.last());
        rig.follow(4.5, &mut |_| ());
        assert_eq!(rig.take_fault(), None);
        let ends = |answer: &Answer| {
            answer
                .legs_m
                .iter()
                .zip(&plan.rig().actuators)
                .all(|(at, leg)| (leg.min_m..=leg.max_m).contains(at))
        };
        assert!(heard.iter().all(ends));
    }

    #[test]
    fn a_window_that_hung_finds_the_rig_where_the_scene_is() {
        let plan = plan("pitch hold(3 deg, ease: 2 s, back: 2 s) for 20 s", 1.0);
        let mut rig = Rehearsal::set_down(plan.clone(), 0.0).unwrap();
        let mut cycles = 0;
        rig.follow(10.0, &mut |_| cycles += 1);
        assert_eq!(cycles, 0);
        assert!((rig.pose()[0].abs().to_degrees() - 3.0).abs() < 0.01, "{:?}", rig.pose());
        rig.follow(10.5, &mut |_| cycles += 1);
        assert!((249..=250).contains(&cycles), "{cycles}");
        assert!((rig.pose()[0].abs().to_degrees() - 3.0).abs() < 0.01, "{:?}", rig.pose());
    }
}
