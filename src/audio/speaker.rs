//! The outputs as the window sees them: play this from here, how loud, where is it now. Without a device it says so
//! once. The shaker has an output of its own where one is chosen.

use super::feed::{AHEAD_S, Feed};
use super::score::{Heard, Score, Sounds};
use super::stream::{Shared, Stream};
use crate::scenario::Scenario;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

#[cfg(feature = "audio")]
type Device = super::kira::Device;
#[cfg(not(feature = "audio"))]
type Device = NoDevice;

/// What there is without the feature `audio`.
#[cfg(not(feature = "audio"))]
#[derive(Debug)]
struct NoDevice;

#[cfg(not(feature = "audio"))]
impl NoDevice {
    fn open(_: Option<&str>) -> Result<Self, String> {
        Err("this program was built without sound".to_string())
    }

    fn rate_hz(&self) -> u32 {
        48_000
    }

    fn pace(&mut self) -> Arc<super::stream::Pace> {
        Arc::default()
    }

    fn play(&mut self, _: Stream) -> Result<(), String> {
        Ok(())
    }

    fn trouble(&mut self) -> Option<Trouble> {
        None
    }
}

/// What a device complains of.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(not(feature = "audio"), allow(dead_code, reason = "no device, no complaints"))]
pub(super) enum Trouble {
    /// Samples came too late, so that there was a gap; it goes on.
    Gap,
    /// The system has turned the sound to another output; it goes on.
    Moved,
    /// It may play no more: what it said. It is watched, and goes on or is gone.
    Doubtful(String),
    /// It plays no more: why.
    Gone(String),
}

/// Names of the outputs that there are, for a choice; none without the feature `audio`.
pub fn outputs() -> Vec<String> {
    #[cfg(feature = "audio")]
    return super::kira::outputs();
    #[cfg(not(feature = "audio"))]
    Vec::new()
}

/// How long a stretch is waited for that no device has taken yet, s; then everything goes on without. Own choice: longer
/// than the two seconds that some systems take to start.
const WAIT_S: f64 = 4.0;

/// How long it has been heard, s, while nothing of it was taken yet: anything below zero.
const NOT_YET_S: f64 = -1.0;

/// A device that is opened when the first sound is to be heard on it.
#[derive(Debug, Default)]
struct Output {
    device: Option<Device>,
    /// It was tried and is not there; that was said.
    given_up: bool,
    playing: Option<Playing>,
    gaps_said: bool,
}

/// What is played, and from where to where, scene seconds.
struct Wanted {
    score: Score,
    from_s: f64,
    to_s: f64,
    tempo: f64,
    level: f32,
}

impl Output {
    /// Opens the device unless it is open or was not there before.
    ///
    /// # Errors
    /// Words, the first time that it is not there.
    fn open(&mut self, name: Option<&str>) -> Result<(), String> {
        if self.device.is_none() && !self.given_up {
            match Device::open(name) {
                Ok(device) => self.device = Some(device),
                Err(words) => {
                    self.given_up = true;
                    return Err(words);
                }
            }
        }
        Ok(())
    }

    /// Plays; silent without a device.
    fn play(&mut self, wanted: Wanted) -> Result<(), String> {
        let Some(device) = self.device.as_mut().filter(|_| !wanted.score.is_silent()) else { return Ok(()) };
        let Wanted { score, from_s, to_s, tempo, level } = wanted;
        let rate_hz = f64::from(device.rate_hz());
        let (ring_in, ring_out) = rtrb::RingBuffer::new((AHEAD_S * rate_hz) as usize + 2048);
        let (shared, fed) = (Shared::new(device.pace()), Arc::new(AtomicBool::new(false)));
        shared.set_level(level);
        let feed = Feed { score, from_s, to_s, tempo, rate_hz };
        let (for_feed, is_fed) = (shared.clone(), fed.clone());
        let feeder = std::thread::Builder::new().name("sound".to_string());
        if let Err(error) = feeder.spawn(move || feed.run(ring_in, &for_feed, &is_fed)) {
            return Err(format!("the system gives no thread ({error})"));
        }
        device.play(Stream::new(ring_out, shared.clone(), fed))?;
        self.playing = Some(Playing { shared, from_s, tempo, rate_hz });
        Ok(())
    }

    fn stop(&mut self) {
        if let Some(playing) = self.playing.take() {
            playing.shared.stop.store(true, Ordering::Relaxed);
        }
    }

    fn position_s(&self, latency_s: f64) -> Option<f64> {
        let playing =
            self.playing.as_ref().filter(|playing| !playing.shared.ended.load(Ordering::Relaxed))?;
        let heard_s = match playing.shared.heard_s(playing.rate_hz) {
            Some(heard_s) => heard_s,
            None if playing.shared.age_s() < WAIT_S => NOT_YET_S,
            None => return None,
        };
        Some(playing.from_s + (heard_s - latency_s) * playing.tempo)
    }

    /// The same, and `None` until it is heard, and where it is as loud as nothing.
    fn heard_s(&self, latency_s: f64) -> Option<f64> {
        let playing = self.playing.as_ref().filter(|playing| playing.shared.level() > 0.0)?;
        let is_heard = playing.shared.heard_s(playing.rate_hz)? > latency_s;
        self.position_s(latency_s).filter(|_| is_heard)
    }

    fn idles(&self) -> bool {
        self.device.is_some() && self.playing.is_none()
    }

    fn delay_s(&self) -> Option<f64> {
        self.playing.as_ref().map(|playing| playing.shared.delay_s())
    }

    /// What went wrong since asked last, once.
    fn trouble(&mut self, what: &str) -> Option<String> {
        let mut has_gaps = self
            .playing
            .as_ref()
            .is_some_and(|playing| playing.shared.starved.load(Ordering::Relaxed) > 4800);
        match self.device.as_mut().and_then(Device::trouble) {
            None | Some(Trouble::Doubtful(_)) => {}
            Some(Trouble::Gap) => has_gaps = true,
            Some(Trouble::Moved) => {
                return Some(format!(
                    "the {what} goes to another output now: the system has turned it there"
                ));
            }
            Some(Trouble::Gone(words)) => {
                // Whoever plays again may have plugged it in again.
                self.stop();
                close(self.device.take());
                return Some(format!("the {what} stopped: {words}; everything else runs on"));
            }
        }
        if has_gaps && !std::mem::replace(&mut self.gaps_said, true) {
            return Some(format!("the {what} has gaps: this computer makes it too slowly"));
        }
        None
    }
}

/// Closes a device, which may take as long as the system likes, on a thread of its own: whoever asks may be holding
/// presence.
fn close(device: Option<Device>) {
    if let Some(device) = device {
        // Without a thread it is dropped here.
        let _ = std::thread::Builder::new().name("close sound".to_string()).spawn(move || {
            let _closed_here = device;
        });
    }
}

/// Sound and shaker.
#[derive(Debug, Default)]
pub struct Speaker {
    sound: Output,
    shaker: Output,
    /// The output that the shaker has for itself; together with the sound where `None`.
    shaker_name: Option<String>,
    level: f32,
}

#[derive(Debug)]
struct Playing {
    shared: Arc<Shared>,
    from_s: f64,
    tempo: f64,
    rate_hz: f64,
}

impl Speaker {
    /// Not opened yet.
    pub fn closed() -> Self {
        Self::default()
    }

    /// Gives the shaker an output of its own, by name, from the next start on; `None`: the sound's.
    pub fn set_shaker(&mut self, name: Option<&str>) {
        if self.shaker_name.as_deref() != name {
            self.shaker.stop();
            self.shaker = Output::default();
            self.shaker_name = name.map(str::to_string);
        }
    }

    /// Opens the outputs that a scene asks for, which takes a moment: one for something that sounds, and none for nothing.
    /// What is worth saying: a device that is not there, a sound file that cannot be read.
    pub fn open_for(&mut self, scenario: &Arc<Scenario>, sounds: &Sounds) -> Option<String> {
        let mut said = sounds.failures.clone();
        let is_silent = |heard| Score::new(scenario.clone(), sounds.clone(), heard, 1.0).is_silent();
        let name = self.shaker_name.clone();
        if name.is_some()
            && !is_silent(Heard::Shaker)
            && let Err(words) = self.shaker.open(name.as_deref())
        {
            said.push(format!("{words}; the shaker plays with the sound"));
        }
        if !is_silent(self.heard_with_sound())
            && let Err(words) = self.sound.open(None)
        {
            said.push(format!("no sound: {words}; everything else runs on"));
        }
        (!said.is_empty()).then(|| said.join("; "))
    }

    /// What the sound's output plays: the shaker too where that has none of its own.
    fn heard_with_sound(&self) -> Heard {
        if self.shaker.device.is_some() { Heard::Sound } else { Heard::Both }
    }

    /// Plays the sound of a scene from `from_s` to `to_s` (scene seconds) at a tempo, on outputs that are open; what played
    /// before fades. Words when the system gives no thread for it, or an output takes nothing.
    pub fn play(
        &mut self,
        scenario: &Arc<Scenario>,
        sounds: &Sounds,
        (from_s, to_s): (f64, f64),
        tempo: f64,
    ) -> Option<String> {
        self.stop();
        let level = self.level;
        let wanted = |heard| {
            let score = Score::new(scenario.clone(), sounds.clone(), heard, tempo);
            Wanted { score, from_s, to_s, tempo, level }
        };
        let heard = self.heard_with_sound();
        let shaker = self.shaker.play(wanted(Heard::Shaker)).map_err(|words| format!("no shaker: {words}"));
        let sound = self.sound.play(wanted(heard)).map_err(|words| format!("no sound: {words}"));
        let said: Vec<String> = [shaker, sound].into_iter().filter_map(Result::err).collect();
        (!said.is_empty()).then(|| said.join("; "))
    }

    /// Fades what plays.
    pub fn stop(&mut self) {
        self.sound.stop();
        self.shaker.stop();
    }

    /// Whether an output is open on which nothing plays.
    pub fn idles(&self) -> bool {
        [&self.sound, &self.shaker].into_iter().any(Output::idles)
    }

    /// Closes outputs on which nothing plays: open ones take a little of the processor for silence.
    pub fn close_idle(&mut self) {
        for output in [&mut self.sound, &mut self.shaker] {
            if output.idles() {
                close(output.device.take());
            }
        }
    }

    /// How loud: a factor.
    pub fn set_level(&mut self, level: f64) {
        self.level = level.clamp(0.0, 1.0) as f32;
        for playing in [&self.sound, &self.shaker].into_iter().filter_map(|output| output.playing.as_ref()) {
            playing.shared.set_level(self.level);
        }
    }

    /// Where what is heard now stands, scene seconds, when a sample takes `latency_s` from the computer's output to the
    /// ear; before the start of the stretch while that is still on its way; `None` while nothing plays. The sound leads; the shaker where it plays alone.
    pub fn position_s(&self, latency_s: f64) -> Option<f64> {
        self.sound.position_s(latency_s).or_else(|| self.shaker.position_s(latency_s))
    }

    /// What is heard now, scene seconds; `None` until something is, and where it is as loud as nothing.
    pub fn heard_s(&self, latency_s: f64) -> Option<f64> {
        self.sound.heard_s(latency_s).or_else(|| self.shaker.heard_s(latency_s))
    }

    /// From the program to the computer's output, s, as the system says; `None` while nothing plays. Known and made up
    /// for: what is heard is what [`Speaker::position_s`] says.
    pub fn delay_s(&self) -> Option<f64> {
        [&self.sound, &self.shaker].into_iter().find_map(Output::delay_s)
    }

    /// What went wrong since asked last, once: a device that is gone, a computer too slow.
    pub fn trouble(&mut self) -> Option<String> {
        self.sound.trouble("sound").or_else(|| self.shaker.trouble("shaker"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::score::load;

    #[test]
    fn a_shaker_output_that_is_not_there_is_said_once() {
        let text = "scene \"s\" { shaker sine(20 %, 30 Hz) for 1 s }";
        let mut sources = crate::diag::Sources::new();
        let source = sources.add(crate::diag::SourceText::new("s.cues", text));
        let file = crate::lang::parse(source, text).file;
        let scene = crate::scenario::resolve(&file, source, None, &mut sources, &crate::files::Disk);
        let scene = Arc::new(scene.scenario.unwrap());
        let mut speaker = Speaker::closed();
        speaker.set_shaker(Some("no such output"));
        let mut play = || speaker.open_for(&scene, &load(&scene, &sources)).unwrap_or_default();
        let (first, again) = (play(), play());
        assert!(first.contains("the shaker plays with the sound"), "{first}");
        assert!(again.is_empty(), "once is enough: {again}");
    }
}
