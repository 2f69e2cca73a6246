//! The device, by way of kira: our own `Sound`, so that the first sample is the first and every one is counted.

use super::outlet::{Outlet, PIECE};
use super::speaker::Trouble;
use super::stream::{Pace, Stream};
use ::kira::backend::Backend;
use ::kira::backend::cpal::cpal;
use ::kira::backend::cpal::cpal::traits::{DeviceTrait, HostTrait};
use ::kira::info::Info;
use ::kira::sound::{Sound, SoundData};
use ::kira::{AudioManager, AudioManagerSettings, Frame};
use std::sync::Arc;
use std::time::Instant;

/// The computer's sound output.
pub(super) struct Device {
    manager: AudioManager<Outlet>,
    rate_hz: u32,
    doubt: Option<Doubt>,
}

/// A complaint after which a device may still go on: some systems say such things while they start.
struct Doubt {
    words: String,
    /// When, by what it had taken and by the clock.
    taken: u64,
    since: Instant,
}

/// How long a device in doubt may stand still before it counts as gone, s: longer than some take to start. Own choice.
const PATIENCE_S: f64 = 3.0;

impl std::fmt::Debug for Device {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.debug_struct("Device").field("rate_hz", &self.rate_hz).finish_non_exhaustive()
    }
}

impl Device {
    /// The output called `name`; the default one without a name.
    ///
    /// # Errors
    /// Words, when there is none.
    pub(super) fn open(name: Option<&str>) -> Result<Self, String> {
        let settings = settings_of(name.map(named).transpose()?);
        let mut manager =
            AudioManager::<Outlet>::new(settings).map_err(|error| reason(&error.to_string()))?;
        let rate_hz = manager.backend_mut().rate_hz();
        Ok(Self { manager, rate_hz, doubt: None })
    }

    /// What its callback says.
    pub(super) fn pace(&mut self) -> Arc<Pace> {
        self.manager.backend_mut().pace()
    }

    pub(super) fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Plays a stream beside what plays.
    ///
    /// # Errors
    /// Words, when too many play.
    pub(super) fn play(&mut self, stream: Stream) -> Result<(), String> {
        self.manager.play(Data(stream)).map_err(|error| error.to_string())
    }

    /// What the device complained of next.
    #[allow(clippy::disallowed_methods, reason = "how long a device stands still is told by the clock alone")]
    pub(super) fn trouble(&mut self) -> Option<Trouble> {
        let taken = self.pace().taken();
        while let Some(error) = self.manager.backend_mut().complaint() {
            match of(&error) {
                Trouble::Doubtful(words) => {
                    self.doubt.get_or_insert_with(|| Doubt { words, taken, since: Instant::now() });
                }
                clear => return Some(clear),
            }
        }
        let doubt = self.doubt.as_ref()?;
        // More than what it holds, so it plays; a gap would have been said or seen.
        if taken - doubt.taken > u64::from(self.rate_hz) / 10 {
            self.doubt = None;
            return None;
        }
        (doubt.since.elapsed().as_secs_f64() > PATIENCE_S).then(|| Trouble::Gone(doubt.words.clone()))
    }
}

/// The manager's settings for a backend's own.
fn settings_of<B: Backend>(backend_settings: B::Settings) -> AudioManagerSettings<B> {
    AudioManagerSettings {
        capacities: Default::default(),
        main_track_builder: Default::default(),
        internal_buffer_size: PIECE,
        backend_settings,
    }
}

/// What a complaint of the device means for who listens.
fn of(error: &cpal::Error) -> Trouble {
    match error.kind() {
        // The library has begun again by itself; a computer that is refused real time may have more of them.
        cpal::ErrorKind::Xrun | cpal::ErrorKind::RealtimeDenied => Trouble::Gap,
        cpal::ErrorKind::DeviceChanged => Trouble::Moved,
        cpal::ErrorKind::DeviceNotAvailable | cpal::ErrorKind::StreamInvalidated => {
            Trouble::Gone(reason(&error.to_string()))
        }
        _ => Trouble::Doubtful(reason(&error.to_string())),
    }
}

/// Names of the outputs that there are, in the system's order; one that names several stands there once.
pub(super) fn outputs() -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for device in devices() {
        if let Some(name) = name_of(&device)
            && !names.contains(&name)
        {
            names.push(name);
        }
    }
    names
}

fn named(name: &str) -> Result<cpal::Device, String> {
    let found = devices().into_iter().find(|device| name_of(device).as_deref() == Some(name));
    found.ok_or_else(|| format!("there is no output called `{name}`"))
}

fn devices() -> Vec<cpal::Device> {
    // A system that cannot list its outputs has none to choose from; the default one is tried all the same.
    cpal::default_host().output_devices().map(Iterator::collect).unwrap_or_default()
}

fn name_of(device: &cpal::Device) -> Option<String> {
    Some(device.description().ok()?.name().to_string())
}

/// A library's words as ours: one line, with a small first letter unless it begins with an abbreviation.
fn reason(words: &str) -> String {
    let line = words.lines().next().unwrap_or("").trim_end_matches('.');
    let mut letters = line.chars();
    let first = letters.next();
    if letters.clone().next().is_some_and(char::is_uppercase) {
        return line.to_string();
    }
    first.map_or(String::new(), |first| first.to_lowercase().chain(letters).collect())
}

struct Data(Stream);

impl SoundData for Data {
    type Error = std::convert::Infallible;
    type Handle = ();

    fn into_sound(self) -> Result<(Box<dyn Sound>, ()), Self::Error> {
        Ok((Box::new(Playing(self.0)), ()))
    }
}

struct Playing(Stream);

impl Sound for Playing {
    fn process(&mut self, out: &mut [Frame], dt: f64, _: &Info<'_>) {
        self.0.fill(out, dt, |frame, value| *frame = Frame::from_mono(value));
    }

    fn finished(&self) -> bool {
        self.0.has_ended()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::feed::Feed;
    use crate::audio::score::{Heard, Score, load};
    use crate::audio::stream::Shared;
    use ::kira::backend::Renderer;
    use std::sync::atomic::AtomicBool;
    use std::sync::{Arc, Mutex};

    /// A device that is turned by hand.
    struct Offline(Arc<Mutex<Option<Renderer>>>);

    impl Backend for Offline {
        type Settings = Arc<Mutex<Option<Renderer>>>;
        type Error = ();

        fn setup(slot: Self::Settings, _: usize) -> Result<(Self, u32), ()> {
            Ok((Self(slot), 48_000))
        }

        fn start(&mut self, renderer: Renderer) -> Result<(), ()> {
            *self.0.lock().unwrap() = Some(renderer);
            Ok(())
        }
    }

    #[test]
    fn a_gap_is_no_end() {
        assert_eq!(of(&cpal::ErrorKind::Xrun.into()), Trouble::Gap);
        assert_eq!(of(&cpal::ErrorKind::DeviceChanged.into()), Trouble::Moved);
        let gone = of(&cpal::ErrorKind::DeviceNotAvailable.into());
        assert!(matches!(&gone, Trouble::Gone(words) if words.contains("not available")), "{gone:?}");
        // Said by a sound server that is slow to start, for one.
        assert!(matches!(of(&cpal::ErrorKind::BackendError.into()), Trouble::Doubtful(_)));
        let said = ["Gone away.\nAt line 3", "ALSA gave up.", "X", ""].map(reason);
        assert_eq!(said, ["gone away", "ALSA gave up", "x", ""]);
    }

    #[test]
    fn an_output_that_is_not_there_is_named() {
        let said = Device::open(Some("no such output")).unwrap_err();
        assert_eq!(said, "there is no output called `no such output`");
        assert!(!outputs().contains(&"no such output".to_string()));
    }

    /// What a scene sounds like through the whole of the output, in a WAV of 32-bit floats; and what its layers are.
    fn rendered(body: &str, length_s: f64, wav: &std::path::Path) -> Vec<f32> {
        let text = format!("scene \"s\" {{\n{body}\n}}\n");
        let mut sources = crate::diag::Sources::new();
        let from = format!("{}/profiles/x.cues", env!("CARGO_MANIFEST_DIR"));
        let source = sources.add(crate::diag::SourceText::new(from, text.as_str()));
        let file = crate::lang::parse(source, &text).file;
        let resolved = crate::scenario::resolve(&file, source, None, &mut sources, &crate::files::Disk);
        let scenario = Arc::new(resolved.scenario.unwrap());
        let sounds = load(&scenario, &sources);
        assert!(sounds.failures.is_empty(), "{:?}", sounds.failures);
        let score = Score::new(scenario, sounds, Heard::Both, 1.0);
        let mut feed = Feed { score, from_s: 0.0, to_s: length_s, tempo: 1.0, rate_hz: 48_000.0 };
        let mut expected = vec![0.0; (length_s * 48_000.0) as usize];
        assert_eq!(feed.fill(0, &mut expected), expected.len());

        let (mut ring_in, ring_out) = rtrb::RingBuffer::new(expected.len());
        expected.iter().for_each(|value| ring_in.push(*value).unwrap());
        let pace = Arc::new(Pace::default());
        pace.took(48_000);
        let (shared, slot) = (Shared::new(pace), Arc::new(Mutex::new(None)));
        shared.set_level(1.0);
        let mut manager = AudioManager::<Offline>::new(settings_of(slot.clone())).unwrap();
        let stream = Stream::new(ring_out, shared.clone(), Arc::new(AtomicBool::new(true)));
        manager.play(Data(stream)).unwrap();
        let mut renderer = slot.lock().unwrap().take().unwrap();
        let spec = hound::WavSpec {
            channels: 2,
            sample_rate: 48_000,
            bits_per_sample: 32,
            sample_format: hound::SampleFormat::Float,
        };
        let mut out = hound::WavWriter::create(wav, spec).unwrap();
        // Blocks of a size that nothing else has.
        for _ in 0..expected.len().div_ceil(500) {
            let mut block = vec![0.0; 2 * 500];
            renderer.on_start_processing();
            renderer.process(&mut block, 2);
            block.iter().for_each(|value| out.write_sample(*value).unwrap());
        }
        out.finalize().unwrap();
        assert!(shared.heard_s(48_000.0).unwrap() > length_s - 0.011);
        expected
    }

    #[test]
    fn what_is_heard_renders_to_a_wav_sample_by_sample() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("heard.wav");
        let body = "at 0.1 s  sound sine(50 %, 1000 Hz) for 0.2 s\n\
                    at 0.7 s  sound file(\"sounds/chirp.wav\", -6 dB)\n\
                    at 0.5 s  shaker noise(20 %, 20 Hz..60 Hz) for 1 s rise 0.1 s fall 0.1 s";
        let expected = rendered(body, 2.0, &path);
        let mut wav = hound::WavReader::open(&path).unwrap();
        assert_eq!((wav.spec().channels, wav.spec().sample_rate, wav.duration()), (2, 48_000, 96_000));
        let heard: Vec<f32> = wav.samples().map(Result::unwrap).collect();
        for (at, (frame, value)) in heard.chunks(2).zip(&expected).enumerate() {
            assert_eq!((frame[0].to_bits(), frame[1].to_bits()), (value.to_bits(), value.to_bits()), "{at}");
        }
        // Nothing before its instant, and from there on the sine: at rest in its first sample.
        let first = expected.iter().position(|value| *value != 0.0);
        assert_eq!(first, Some(4801));
        let loudest = |from: usize, to: usize| {
            expected[from..to].iter().fold(0.0_f32, |most, value| most.max(value.abs()))
        };
        assert!(
            loudest(4800, 14_400) > 0.45 && loudest(33_600, 48_000) > 0.1 && loudest(14_401, 24_000) == 0.0
        );
    }
}
