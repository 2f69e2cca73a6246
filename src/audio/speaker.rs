//! The output as the window sees it: play this from here, how loud, where is it now. Without a device it says so once.

use super::feed::{AHEAD_S, Feed};
use super::score::{Score, Sounds};
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
    fn open() -> Result<Self, String> {
        Err("this program was built without sound".to_string())
    }

    fn rate_hz(&self) -> u32 {
        48_000
    }

    fn play(&mut self, _: Stream) -> Result<(), String> {
        Ok(())
    }

    fn trouble(&mut self) -> Option<String> {
        None
    }
}

/// An output that is opened when the first sound is to be heard.
#[derive(Debug, Default)]
pub struct Speaker {
    device: Option<Device>,
    /// It was tried and is not there; that was said.
    given_up: bool,
    playing: Option<Playing>,
    level: f32,
    starved_said: bool,
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

    /// Plays the sound of a scene from `from_s` to `to_s` (scene seconds) at a tempo; what played before fades. What
    /// is worth saying: a device that is not there, a sound file that cannot be read.
    pub fn play(
        &mut self,
        scenario: Arc<Scenario>,
        sounds: Sounds,
        from_s: f64,
        to_s: f64,
        tempo: f64,
    ) -> Option<String> {
        self.stop();
        let failures = (!sounds.failures.is_empty()).then(|| sounds.failures.join("; "));
        let score = Score::new(scenario, sounds, tempo);
        if score.is_silent() || self.given_up {
            return failures;
        }
        if self.device.is_none() {
            match Device::open() {
                Ok(device) => self.device = Some(device),
                Err(words) => {
                    self.given_up = true;
                    return Some(format!("no sound: {words}; everything else runs on"));
                }
            }
        }
        let device = self.device.as_mut()?;
        let rate_hz = f64::from(device.rate_hz());
        let (ring_in, ring_out) = rtrb::RingBuffer::new((AHEAD_S * rate_hz) as usize + 2048);
        let (shared, fed) = (Shared::new(), Arc::new(AtomicBool::new(false)));
        shared.set_level(self.level);
        let feed = Feed { score, from_s, to_s, tempo, rate_hz };
        let (for_feed, is_fed) = (shared.clone(), fed.clone());
        let feeder = std::thread::Builder::new().name("sound".to_string());
        if let Err(error) = feeder.spawn(move || feed.run(ring_in, &for_feed, &is_fed)) {
            return Some(format!("no sound: the system gives no thread ({error})"));
        }
        if let Err(words) = device.play(Stream::new(ring_out, shared.clone(), fed)) {
            return Some(format!("no sound: {words}"));
        }
        self.playing = Some(Playing { shared, from_s, tempo, rate_hz });
        failures
    }

    /// Fades what plays.
    pub fn stop(&mut self) {
        if let Some(playing) = self.playing.take() {
            playing.shared.stop.store(true, Ordering::Relaxed);
        }
    }

    /// How loud: a factor.
    pub fn set_level(&mut self, level: f64) {
        self.level = level.clamp(0.0, 1.0) as f32;
        if let Some(playing) = &self.playing {
            playing.shared.set_level(self.level);
        }
    }

    /// Where what is heard now stands, scene seconds, when a sample takes `latency_s` to be heard; `None` while nothing
    /// plays.
    pub fn position_s(&self, latency_s: f64) -> Option<f64> {
        let playing =
            self.playing.as_ref().filter(|playing| !playing.shared.ended.load(Ordering::Relaxed))?;
        let heard_s = playing.shared.position(playing.rate_hz)? / playing.rate_hz - latency_s;
        Some(playing.from_s + heard_s * playing.tempo)
    }

    /// What went wrong since asked last, once: a device that is gone, a computer too slow.
    pub fn trouble(&mut self) -> Option<String> {
        if let Some(words) = self.device.as_mut().and_then(Device::trouble) {
            self.stop();
            self.device = None;
            self.given_up = true;
            return Some(format!("the sound stopped: {words}; everything else runs on"));
        }
        let starved = self
            .playing
            .as_ref()
            .is_some_and(|playing| playing.shared.starved.load(Ordering::Relaxed) > 4800);
        if starved && !self.starved_said {
            self.starved_said = true;
            return Some("the sound has gaps: this computer makes it too slowly".to_string());
        }
        None
    }
}
