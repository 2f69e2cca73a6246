//! What of a scene is to be heard while drives follow it: where the path is by the computer's clock, and whether the sound
//! keeps up with it. The sound goes by the path and never the path by the sound: a device that is lost stops nothing.

use crate::player::Progress;
use crate::safety::operation::{Phase, State};

/// Sound that is further off than this begins anew, s (own choice: less than what one notices between a bump and its
/// sound, and more than one frame of the window).
const OFF_S: f64 = 0.04;
/// It does so no more often than this, s; what has just begun is not heard yet.
const EVERY_S: f64 = 1.0;
/// How long a device takes at first, s, until one was heard (own choice, about what systems do).
const FIRST_LEAD_S: f64 = 0.05;

/// How sound and path stand to each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Sounding {
    /// Path time less the computer's clock, s, while the path is followed; by the word that was the least late.
    offset_s: Option<f64>,
    /// Counts starts.
    lap: u64,
    begun_s: f64,
    /// How much before it is heard a sound has to be asked for, s.
    lead_s: f64,
}

impl Default for Sounding {
    fn default() -> Self {
        Self { offset_s: None, lap: 0, begun_s: 0.0, lead_s: FIRST_LEAD_S }
    }
}

/// Where the path is, s, while it is followed at full speed.
fn path_s(progress: &Progress) -> Option<f64> {
    let run = progress.run?;
    let follows = progress.on_scene && run.state() == State::Following && run.phase() == Phase::Moving;
    // While its clock sets out, where it will be is not known.
    (follows && progress.rate == 1.0).then_some(progress.path_s)
}

impl Sounding {
    /// Takes how the run stands, as it came at `now_s` of the computer's clock; `None` when there is no run any more.
    pub fn hear(&mut self, progress: Option<&Progress>, now_s: f64) {
        let offset_s = progress.and_then(path_s).map(|path_s| path_s - now_s);
        match (&mut self.offset_s, offset_s) {
            // A word is late by what it took to come, so the largest is the nearest.
            (Some(known), Some(new)) => *known = known.max(new),
            (None, Some(new)) => {
                self.offset_s = Some(new);
                self.begin(now_s);
            }
            (_, None) => self.offset_s = None,
        }
    }

    /// Which start this is; `None` while nothing is to be heard.
    pub fn lap(&self) -> Option<u64> {
        self.offset_s.map(|_| self.lap)
    }

    /// Where a sound that is asked for now has to begin, scene seconds, so that it is as late as legs that follow the path
    /// `lag_s` late.
    pub fn from_s(&self, now_s: f64, lag_s: f64) -> Option<f64> {
        self.offset_s.map(|offset_s| now_s + offset_s - lag_s + self.lead_s)
    }

    /// Holds what is heard now, scene seconds, against the path; begins anew where it is off. `None` where nothing is heard
    /// yet, or any more.
    pub fn compare(&mut self, heard_s: Option<f64>, now_s: f64, lag_s: f64) {
        let (Some(heard_s), Some(offset_s)) = (heard_s, self.offset_s) else { return };
        let behind_s = now_s + offset_s - lag_s - heard_s;
        if behind_s.abs() > OFF_S && now_s - self.begun_s >= EVERY_S {
            // Not more than a second of it: a device that stands is not run after.
            self.lead_s = (self.lead_s + behind_s).clamp(0.0, 1.0);
            self.begin(now_s);
        }
    }

    fn begin(&mut self, now_s: f64) {
        self.lap += 1;
        self.begun_s = now_s;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::player::sample;
    use crate::safety::operation::{
        Brakes, Event, Input, Inputs, Operation, Permit, Request, Seen, Timing, step,
    };

    /// A run that follows its scene, or one that has just been let go of.
    fn progress(path_s: f64, held: bool) -> Progress {
        at_rate(path_s, held, 1.0)
    }

    fn at_rate(path_s: f64, held: bool, rate: f64) -> Progress {
        let all = Permit { commissioned: true, audition: true, vacant: true };
        let free = Inputs { presence: Input::Open, ..Inputs::CLOSED };
        let seen = |inputs, brakes| Seen {
            link: true,
            inputs,
            brakes,
            homed: true,
            at_park: true,
            ..Seen::default()
        };
        let mut run = Operation::new(Timing::of(100_000));
        let mut take = |event| run = step(run, event).0;
        take(Event::Permit(all));
        take(Event::Cycle(seen(free, Brakes::Set)));
        take(Event::Ask(Request::Connect));
        take(Event::Cycle(seen(Inputs::CLOSED, Brakes::Set)));
        take(Event::Ask(Request::Start));
        for _ in 0..40 {
            take(Event::Cycle(seen(Inputs::CLOSED, Brakes::Set)));
        }
        let moving =
            Seen { moving: true, power: true, at_park: false, ..seen(Inputs::CLOSED, Brakes::Released) };
        take(Event::Cycle(moving));
        take(Event::Cycle(Seen { arrived: true, ..moving }));
        if !held {
            take(Event::Cycle(Seen { inputs: free, ..moving }));
        }
        Progress { path_s, rate, scene_s: 60.0, on_scene: true, ..sample::progress(run) }
    }

    #[test]
    fn sound_begins_with_the_path_and_ends_when_it_is_let_go_of() {
        let mut sounding = Sounding::default();
        sounding.hear(None, 10.0);
        assert_eq!((sounding.lap(), sounding.from_s(10.0, 0.0)), (None, None));
        sounding.hear(Some(&progress(2.0, true)), 20.0);
        assert_eq!(sounding.lap(), Some(1));
        let from_s = sounding.from_s(20.5, 0.03).unwrap();
        assert!((from_s - (2.5 - 0.03 + FIRST_LEAD_S)).abs() < 1e-12, "{from_s}");
        // Words come late now and then; the one that came soonest counts.
        sounding.hear(Some(&progress(3.0, true)), 21.05);
        sounding.hear(Some(&progress(4.0, true)), 21.98);
        assert_eq!(sounding.lap(), Some(1));
        assert!((sounding.from_s(30.0, 0.0).unwrap() - (12.02 + FIRST_LEAD_S)).abs() < 1e-12);
        sounding.hear(Some(&progress(4.5, false)), 22.5);
        assert_eq!(sounding.lap(), None);
        // Its clock sets out again: a path that is slower than the sound is not followed yet.
        sounding.hear(Some(&at_rate(4.5, true, 0.2)), 29.8);
        assert_eq!(sounding.lap(), None);
        sounding.hear(Some(&progress(4.6, true)), 30.0);
        assert_eq!(sounding.lap(), Some(2), "going on is a start");
        assert!((sounding.from_s(30.0, 0.0).unwrap() - (4.6 + FIRST_LEAD_S)).abs() < 1e-12);
        sounding.hear(None, 31.0);
        assert_eq!(sounding.lap(), None);
    }

    #[test]
    fn what_is_off_begins_anew_so_that_it_is_not_and_no_more_often_than_once_a_second() {
        let (mut sounding, device_s, lag_s) = (Sounding::default(), 0.18, 0.02);
        sounding.hear(Some(&progress(0.0, true)), 0.0);
        // A device that is heard so late: where a start begins, and what is heard of it later.
        let mut starts = vec![(1, sounding.from_s(0.0, lag_s).unwrap(), 0.0)];
        for frame in 1..600 {
            let now_s = f64::from(frame) / 60.0;
            sounding.hear(Some(&progress(now_s, true)), now_s);
            let (_, from_s, begun_s) = starts[starts.len() - 1];
            let heard_s = from_s + now_s - begun_s - device_s;
            sounding.compare((now_s - begun_s > device_s).then_some(heard_s), now_s, lag_s);
            if sounding.lap() != Some(starts[starts.len() - 1].0) {
                starts.push((sounding.lap().unwrap(), sounding.from_s(now_s, lag_s).unwrap(), now_s));
            }
            if now_s > 3.0 {
                assert!((heard_s - (now_s - lag_s)).abs() < 0.001, "{heard_s} at {now_s}");
            }
        }
        assert_eq!(starts.len(), 2, "{starts:?}");
        assert!(starts[1].2 >= EVERY_S);
        // A device that is lost is heard no more, and changes nothing.
        let before = sounding.clone();
        sounding.compare(None, 20.0, lag_s);
        assert_eq!(sounding, before);
    }
}
