//! A scene and a mechanism for tests, in closed form: nothing of other modules is needed to know what they should do.

use super::scene::{Frame, Mechanism, MotionSource, PastJoint, Scene};
use super::setup::Setup;
use super::{Options, PlayError, Played, Progress, Ready, Refused, Run};
use crate::link::{SimRig, sample::two_legs};
use crate::record::{Histogram, Log, Wear, read};
use crate::safety::operation::Operation;
use crate::safety::{Legs, Limits, MAX_AXES};
use std::io::Write;
use std::sync::{Arc, Mutex};

/// A run of a second that was played to its end, nothing to be said of it.
pub(crate) fn played_out() -> Played {
    Played {
        state: crate::safety::State::Parked,
        played_out: true,
        run: None,
        tripped: None,
        cycles: 500,
        time_s: 1.0,
        legs: Vec::new(),
        least_gain: 1.0,
        strayed_m: None,
        wear: Wear::default(),
        interventions: 0,
        late: Histogram::default(),
        dropped: 0,
        end_m: vec![0.5, 0.5],
        remarks: Vec::new(),
        log_error: None,
    }
}

/// How far a run on drives with two legs is that has just begun, by its state machine.
pub(crate) fn progress(run: Operation) -> Progress {
    Progress {
        state: crate::safety::State::Parked,
        time_s: 0.0,
        path_s: 0.0,
        rate: 0.0,
        scene_s: 1.0,
        on_scene: false,
        gain: 1.0,
        run: Some(run),
        cause: None,
        wanted: None,
        ready: Ready { fresh: true, placed: true, interrupted: true },
        refused: Refused::default(),
        remark: None,
        legs_m: Legs::filled(2, 0.6),
    }
}

/// Two legs with a bend: L = 0.75 - 0.5 p -+ 0.4 r + 0.1 p^2 (m, rad).
pub(super) struct Bent;

pub(super) fn bent_m(leg: usize, p: f64, r: f64) -> f64 {
    let side = if leg == 0 { -0.4 } else { 0.4 };
    0.75 - 0.5 * p + side * r + 0.1 * p * p
}

impl Mechanism for Bent {
    fn axes(&self) -> usize {
        2
    }

    fn length_m(&self, leg: usize, platform: &[f64]) -> f64 {
        bent_m(leg, platform[0], platform[1])
    }

    fn pose(&self, lengths_m: &[f64], _: &[f64]) -> Option<Vec<f64>> {
        // 0.1 p^2 - 0.5 p + 0.75 - mean = 0, the smaller root.
        let mean = 0.5 * (lengths_m[0] + lengths_m[1]);
        let root = 0.25 - 0.4 * (0.75 - mean);
        (root >= 0.0).then(|| vec![(0.5 - root.sqrt()) / 0.2, (lengths_m[1] - lengths_m[0]) / 0.8])
    }

    fn joints(&self, platform: &[f64]) -> Result<(), PastJoint> {
        let past = platform.iter().position(|value| value.abs() > 0.3);
        past.map_or(Ok(()), |axis| Err(PastJoint { axis, value: platform[axis] }))
    }
}

/// Swings eased in and out: 20 cos-windowed seconds or so.
#[derive(Clone)]
pub(super) struct Swing {
    pub(super) length_s: f64,
    /// Amplitude (rad) and frequency (Hz) of pitch and roll.
    pub(super) pitch: (f64, f64),
    pub(super) roll: (f64, f64),
    /// How many frames it gives before it dries up.
    pub(super) dries_at: u64,
}

impl Default for Swing {
    fn default() -> Self {
        // Speed of a leg at most 0.5 * 0.08 * 2 pi * 0.4 + 0.4 * 0.1 * 2 pi * 0.55 = 0.24 m/s, and 0.73 m/s^2.
        Self { length_s: 12.0, pitch: (0.08, 0.4), roll: (0.1, 0.55), dries_at: u64::MAX }
    }
}

impl Swing {
    /// Value, rate and acceleration of both coordinates.
    pub(super) fn at(&self, t: f64) -> [[f64; 3]; 2] {
        let (w, dw, ddw) = self.window(t);
        [self.pitch, self.roll].map(|(amplitude, hz)| {
            let omega = std::f64::consts::TAU * hz;
            let (sin, cos) = libm::sincos(omega * t);
            let (s, ds, dds) = (amplitude * sin, amplitude * omega * cos, -amplitude * omega * omega * sin);
            [w * s, dw * s + w * ds, ddw * s + 2.0 * dw * ds + w * dds]
        })
    }

    /// 1 - cos^4-like window over the whole length, at rest at both ends: sin^4.
    fn window(&self, t: f64) -> (f64, f64, f64) {
        if !(t > 0.0 && t < self.length_s) {
            return (0.0, 0.0, 0.0);
        }
        let a = std::f64::consts::PI / self.length_s;
        let (s, c) = libm::sincos(a * t);
        let (s2, s3) = (s * s, s * s * s);
        (s2 * s2, 4.0 * a * s3 * c, 4.0 * a * a * (3.0 * s2 * c * c - s2 * s2))
    }

    /// Leg lengths at `t` and a gain.
    pub(super) fn legs_m(&self, t: f64, gain: f64) -> [f64; 2] {
        let [p, r] = self.at(t);
        [0, 1].map(|leg| bent_m(leg, gain * p[0], gain * r[0]))
    }
}

impl Scene for Swing {
    fn frames(&self) -> u64 {
        (self.length_s * 1000.0).ceil() as u64 + 1
    }

    fn source(&self) -> Box<dyn MotionSource> {
        Box::new(self.clone())
    }
}

impl MotionSource for Swing {
    fn fill(&mut self, given: u64, frames: &mut Vec<Frame>) {
        let until = (given + 256).min(Scene::frames(self)).min(self.dries_at);
        for k in given..until {
            let t = k as f64 / 1000.0;
            let mut platform = [[0.0; 3]; MAX_AXES];
            platform[..2].copy_from_slice(&self.at(t));
            let legs_m = Legs::from_slice(&self.legs_m(t, 1.0)).unwrap();
            frames.push(Frame { platform, legs_m });
        }
    }
}

/// The sample rig's setup on the bent mechanism.
pub(super) fn setup() -> Setup {
    let rig = two_legs();
    Setup::with(&rig, Limits::of(&rig).unwrap(), Arc::new(Bent)).unwrap()
}

/// A log in memory that more than one can hold.
#[derive(Clone, Default)]
pub(super) struct Paper(pub(super) Arc<Mutex<Vec<u8>>>);

impl Write for Paper {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Plays a swing fast from park, with orders by the time (s) at which they come.
pub(super) fn play_with(
    swing: &Swing,
    options: Options,
    script: &[(f64, super::Order)],
) -> (Result<Played, PlayError>, Log, Vec<u8>) {
    play_on(&setup(), swing, options, script)
}

/// The same on a setup of the caller's.
pub(super) fn play_on(
    setup: &Setup,
    swing: &Swing,
    options: Options,
    script: &[(f64, super::Order)],
) -> (Result<Played, PlayError>, Log, Vec<u8>) {
    let options = Options { fast: true, ..options };
    let paper = Paper::default();
    let mut tick = 0u64;
    let mut script: std::collections::VecDeque<_> = script.to_vec().into();
    let mut orders = || {
        let due = script.front().is_some_and(|(at_s, _)| *at_s * 1000.0 <= tick as f64);
        if due {
            return script.pop_front().map(|(_, order)| order);
        }
        tick += 1;
        None
    };
    let run = Run { setup, scene: swing, options: &options, clock: None };
    let link = SimRig::new(&two_legs(), &[]);
    let played = run.play(link, &mut orders, Box::new(paper.clone()), &mut |_| ());
    let bytes = paper.0.lock().unwrap().clone();
    (played, read(&bytes).unwrap_or_default(), bytes)
}
