//! Rehearsing: play, pause, scrub, loop, tempo, gain, parts.

use super::{Fresh, Studio};
use crate::desk::axis::TimeAxis;
use crate::desk::compiler::Motion;
use crate::desk::rehearsal::Rehearsal;
use crate::desk::variant::{EDGE_S, Part};
use crate::link::DriveFault;
use crate::link::lag_s;
use std::sync::Arc;

/// Tempos in the round.
pub const TEMPOS: [f64; 3] = [1.0, 0.5, 0.25];

/// Largest gain of the control: half as much again, to see where it fails. Own choice.
pub const MOST_GAIN: f64 = 1.5;

impl Studio {
    /// Plays, or pauses.
    pub fn play_pause(&mut self) {
        if self.transport.playing {
            self.transport.pause();
            self.say(format!("paused at {}", crate::time::clock(self.transport.at_s)));
            return;
        }
        // From the middle: a motion of its own, from rest.
        let (at_s, end_s) = (self.transport.at_s, self.length_s());
        let own_stretch = self.variant.stretch.is_some() && !self.stretch_is_from_playhead;
        if !own_stretch {
            let from_middle = at_s > EDGE_S && at_s < end_s - 0.01;
            let stretch = from_middle.then_some((at_s, end_s));
            if self.variant.stretch != stretch {
                self.variant.stretch = stretch;
                self.compile();
            }
            self.stretch_is_from_playhead = stretch.is_some();
        }
        if self.motion_is == Fresh::Current {
            self.begin();
        } else {
            self.play_when_ready = true;
        }
    }

    pub(super) fn begin(&mut self) {
        self.rehearsing = true;
        self.transport.play();
        self.lap += 1;
        self.warn();
    }

    /// Stops, and goes back to writing. What was muted, slowed or cut out stays as it is set.
    pub fn stop(&mut self) {
        self.play_when_ready = false;
        self.transport.pause();
        self.rehearsing = false;
        if self.stretch_is_from_playhead {
            self.stretch_is_from_playhead = false;
            self.variant.stretch = None;
            self.compile();
        }
    }

    pub(super) fn no_play(&mut self, why: &str) {
        if std::mem::take(&mut self.play_when_ready) {
            self.say(format!("nothing is played: {why}"));
        }
    }

    /// Time has passed, s; `sound_s` is what is heard now, scene seconds, where something plays.
    pub fn pass(&mut self, passed_s: f64, sound_s: Option<f64>) {
        // A start, whatever passed before it: what sounds has not been asked for yet, and is waited for from here.
        if self.set_rig_down() && self.transport.at_s == self.transport.played_s.0 {
            return;
        }
        let led_s = sound_s.map(|sound_s| sound_s + self.lag_s());
        if self.transport.advance(passed_s, led_s) {
            self.lap += 1;
        }
        if self.transport.playing {
            self.axis = self.axis.showing(self.transport.at_s, self.length_s());
            self.move_rig();
        }
    }

    /// At rest under the playhead, for a start, a lap, or a change of what plays; away when nothing does. `true` when it
    /// was set down anew.
    fn set_rig_down(&mut self) -> bool {
        let lap = self.lap;
        let Some(motion) = self.playing() else {
            self.rehearsal = None;
            return false;
        };
        if self.rehearsal.as_ref().is_some_and(|(its, _)| *its == lap) {
            return false;
        }
        let at_s = self.transport.at_s / motion.plan.tempo();
        self.rehearsal = Rehearsal::set_down(motion.plan.clone(), at_s).map(|rig| (lap, rig));
        self.rehearsal.is_some()
    }

    /// The simulated rig goes after the playhead.
    fn move_rig(&mut self) {
        let Some((_, rig)) = &mut self.rehearsal else { return };
        rig.follow(self.transport.at_s / self.transport.tempo, &mut |_| ());
        let Some(fault) = rig.take_fault() else { return };
        let what = match fault {
            DriveFault::EndStop { leg } => format!("leg `{}` ran onto the end of its stroke", rig.leg(leg)),
            DriveFault::Silence => "the drives stopped by themselves".to_string(),
        };
        self.say(format!("{what} on the simulated rig, at {}", crate::time::clock(self.transport.at_s)));
    }

    /// How far what is felt is behind the playhead, scene seconds: the legs follow their set-points late, so what is heard
    /// must be as late as they are.
    pub fn lag_s(&self) -> f64 {
        self.motion.as_ref().map_or(0.0, |motion| lag_s(&motion.plan.rig().drive) * motion.plan.tempo())
    }

    /// Puts the playhead somewhere.
    pub fn put_playhead(&mut self, at_s: f64) {
        let length_s = self.length_s();
        self.transport.put(at_s, length_s);
    }

    /// Moves the playhead by a step: a hundredth of what is in view.
    pub fn step(&mut self, steps: f64) {
        let at_s = self.transport.at_s + steps * self.axis.span_s() / 100.0;
        self.put_playhead(at_s);
        self.axis = self.axis.showing(self.transport.at_s, self.length_s());
    }

    /// Strength of all motion; 0 to [`MOST_GAIN`], in tenths of a percent.
    pub fn set_gain(&mut self, gain: f64) {
        if !gain.is_finite() {
            return;
        }
        // Downwards, so that a gain that fits still does.
        let gain = ((gain.clamp(0.0, MOST_GAIN) * 1000.0) + 1e-6).floor() / 1000.0;
        if gain != self.variant.gain {
            self.variant.gain = gain;
            self.compile();
        }
    }

    /// Scene seconds in a second.
    pub fn set_tempo(&mut self, tempo: f64) {
        if tempo != self.variant.tempo {
            let at_s = self.transport.at_s;
            self.transport.pause();
            self.variant.tempo = tempo;
            self.compile();
            self.transport.at_s = at_s;
        }
    }

    /// The next tempo in the round.
    pub fn next_tempo(&mut self) {
        let at = TEMPOS.iter().position(|tempo| *tempo == self.variant.tempo).unwrap_or(0);
        self.set_tempo(TEMPOS[(at + 1) % TEMPOS.len()]);
    }

    /// Loop on or off.
    pub fn set_looping(&mut self, looping: bool) {
        self.transport.looping = looping;
    }

    /// Plays this stretch only, round and round; the whole scene again with `None`.
    pub fn set_stretch(&mut self, stretch: Option<(f64, f64)>) {
        self.stretch_is_from_playhead = false;
        let length_s = self.length_s();
        let stretch = stretch
            .map(|(a, b)| (a.min(b).clamp(0.0, length_s), a.max(b).clamp(0.0, length_s)))
            .filter(|(a, b)| b - a > 0.01);
        if stretch != self.variant.stretch {
            self.transport.pause();
            self.transport.looping = stretch.is_some();
            self.variant.stretch = stretch;
            self.compile();
        }
    }

    /// Mutes a part, or lets it sound again.
    pub fn toggle_muted(&mut self, part: Part) {
        if !self.variant.muted.remove(&part) {
            self.variant.muted.insert(part);
        }
        self.compile();
    }

    /// Plays a part alone (beside others that play alone), or not alone any more.
    pub fn toggle_alone(&mut self, part: Part) {
        if !self.variant.alone.remove(&part) {
            self.variant.alone.insert(part);
        }
        self.compile();
    }

    /// The scene as it is written again.
    pub fn as_written(&mut self) {
        if !self.variant.is_as_written() {
            self.transport.pause();
            self.variant = crate::desk::variant::Variant::default();
            self.stretch_is_from_playhead = false;
            self.compile();
        }
    }

    /// Zooms the axis; around the playhead where no instant is named.
    pub fn zoom(&mut self, factor: f64, around_s: Option<f64>) {
        let around_s = around_s.unwrap_or(self.transport.at_s.clamp(self.axis.from_s, self.axis.to_s));
        self.axis = self.axis.zoomed(factor, around_s, self.length_s());
        self.axis_set = true;
    }

    /// Moves the axis by a part of its width.
    pub fn pan(&mut self, part: f64) {
        self.axis = self.axis.moved(part, self.length_s());
        self.axis_set = true;
    }

    /// All of the scene.
    pub fn zoom_whole(&mut self) {
        self.axis = TimeAxis::whole(self.length_s());
        self.axis_set = false;
    }

    /// The motion that plays, while one does.
    pub fn playing(&self) -> Option<&Arc<Motion>> {
        self.motion.as_ref().filter(|_| self.transport.playing)
    }
}
