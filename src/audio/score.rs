//! The sounding layers of a scene as samples at any rate, from any instant on. Pure: same scene, same samples.

use crate::diag::Sources;
use crate::files::{self, SoundSamples};
use crate::lang::tree::Line;
use crate::scenario::{Content, Layer, Scenario};
use crate::signal::{BLOCK, JetBlock};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The sound files of a scene, by the file that names them and the name.
#[derive(Debug, Clone, Default)]
pub struct Sounds {
    files: BTreeMap<(String, String), Arc<SoundSamples>>,
    by_layer: Vec<Option<Arc<SoundSamples>>>,
    /// Why some are silent, in words.
    pub failures: Vec<String>,
}

/// Reads the sound files that a scene plays. What cannot be read is silent, and said.
pub fn load(scenario: &Scenario, sources: &Sources) -> Sounds {
    let mut sounds = Sounds::default();
    for layer in &scenario.layers {
        let Content::SoundFile { name, .. } = &layer.content else {
            sounds.by_layer.push(None);
            continue;
        };
        let key = (sources.get(layer.span.source).name().to_string(), name.clone());
        if !sounds.files.contains_key(&key) {
            match files::read_sound(&key.0, &key.1) {
                Ok(sound) => {
                    sounds.files.insert(key.clone(), Arc::new(sound));
                }
                Err(words) if !sounds.failures.contains(&words) => sounds.failures.push(words),
                Err(_) => {}
            }
        }
        sounds.by_layer.push(sounds.files.get(&key).cloned());
    }
    sounds
}

/// Which layers an output plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heard {
    /// `sound` and `shaker` together.
    Both,
    /// `sound` alone.
    Sound,
    /// `shaker` alone.
    Shaker,
}

impl Heard {
    fn holds(self, layer: &Layer) -> bool {
        match layer.line {
            Line::Sound => self != Heard::Shaker,
            Line::Shaker => self != Heard::Sound,
            _ => false,
        }
    }
}

/// What sounds, and how fast.
#[derive(Debug, Clone)]
pub struct Score {
    scenario: Arc<Scenario>,
    sounds: Sounds,
    heard: Heard,
    /// Scene seconds in a second.
    tempo: f64,
    scratch: JetBlock,
}

impl Score {
    /// The layers of a scene that an output plays, at a tempo.
    pub fn new(scenario: Arc<Scenario>, sounds: Sounds, heard: Heard, tempo: f64) -> Self {
        Self { scenario, sounds, heard, tempo, scratch: JetBlock::zero() }
    }

    /// Whether anything sounds in it at all.
    pub fn is_silent(&self) -> bool {
        !self.scenario.layers.iter().any(|layer| self.heard.holds(layer))
    }

    /// Adds the samples from scene time `from_s` on, `rate_hz` a second, to `out`. No allocation.
    pub fn add(&mut self, from_s: f64, rate_hz: f64, out: &mut [f32]) {
        let step_s = self.tempo / rate_hz;
        for (chunk, part) in out.chunks_mut(BLOCK).enumerate() {
            let start_s = from_s + (chunk * BLOCK) as f64 * step_s;
            let end_s = start_s + part.len() as f64 * step_s;
            self.scratch.0[0].fill(0.0);
            let mut heard = false;
            for (at, layer) in
                self.scenario.layers.iter().enumerate().filter(|(_, layer)| self.heard.holds(layer))
            {
                match &layer.content {
                    Content::Signal(signal) => {
                        if signal.start_s < end_s && signal.start_s + signal.length_s > start_s {
                            signal.add_block(start_s, step_s, part.len(), &mut self.scratch);
                            heard = true;
                        }
                    }
                    Content::SoundFile { looped, start_s: begins_s, length_s, level, .. } => {
                        let Some(Some(sound)) = self.sounds.by_layer.get(at) else { continue };
                        if *begins_s >= end_s || begins_s + length_s <= start_s {
                            continue;
                        }
                        for (k, value) in self.scratch.0[0][..part.len()].iter_mut().enumerate() {
                            let t_s = start_s + k as f64 * step_s;
                            let inside_s = t_s - begins_s;
                            if inside_s >= 0.0 && inside_s < *length_s {
                                *value += level.jet(t_s).0[0] * f64::from(sample(sound, inside_s, *looped));
                            }
                        }
                        heard = true;
                    }
                }
            }
            if heard {
                part.iter_mut().zip(&self.scratch.0[0]).for_each(|(out, value)| *out += *value as f32);
            }
        }
        // Rates and above are not needed here; the next block must not find them.
        self.scratch.clear();
    }
}

/// A sound at a time of its own, by the cubic through four samples (Catmull-Rom; common practice), so that any rate of
/// file and device go together.
fn sample(sound: &SoundSamples, at_s: f64, looped: bool) -> f32 {
    let count = sound.samples.len();
    if count == 0 {
        return 0.0;
    }
    let place = at_s * sound.rate_hz;
    let (whole, u) = (place.floor(), (place - place.floor()) as f32);
    let value = |offset: i64| {
        let at = whole as i64 + offset;
        let at = if looped { at.rem_euclid(count as i64) } else { at };
        usize::try_from(at).ok().and_then(|at| sound.samples.get(at)).copied().unwrap_or(0.0)
    };
    let [a, b, c, d] = [value(-1), value(0), value(1), value(2)];
    b + 0.5 * u * (c - a + u * (2.0 * a - 5.0 * b + 4.0 * c - d + u * (3.0 * (b - c) + d - a)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::Disk;
    use crate::scenario::resolve;

    fn score(body: &str, tempo: f64) -> Score {
        let text = format!("scene \"s\" {{\n{body}\n}}\n");
        let mut sources = Sources::new();
        let from = format!("{}/profiles/x.cues", env!("CARGO_MANIFEST_DIR"));
        let source = sources.add(crate::diag::SourceText::new(from, text.as_str()));
        let resolved = resolve(&crate::lang::parse(source, &text).file, source, None, &mut sources, &Disk);
        let scenario = Arc::new(resolved.scenario.expect("a scene"));
        let sounds = load(&scenario, &sources);
        assert!(sounds.failures.is_empty(), "{:?}", sounds.failures);
        Score::new(scenario, sounds, Heard::Both, tempo)
    }

    #[test]
    fn samples_are_the_layers_at_their_instants() {
        let mut whole = vec![0.0; 2000];
        let mut score =
            score("at 0.5 s  sound sine(50 %, 100 Hz) for 1 s\nat 0 s pitch pulse(1 deg, 1 s)", 1.0);
        score.add(0.0, 1000.0, &mut whole);
        let Content::Signal(sine) = &score.scenario.layers[0].content else { panic!("a sine") };
        assert!(whole[..500].iter().all(|value| *value == 0.0), "sounds from its own sample on");
        for (k, value) in whole.iter().enumerate().take(1500).skip(500) {
            let expected = sine.jet(k as f64 / 1000.0).0[0];
            assert!((f64::from(*value) - expected).abs() < 1e-6, "{k} {value} {expected}");
        }
        // 50 % at the middle, where the edges are long over: a quarter turn of 100 Hz is 2.5 samples.
        let loudest = whole[900..1100].iter().fold(0.0_f32, |most, value| most.max(value.abs()));
        assert!((0.47..=0.5001).contains(&loudest), "{loudest}");
        assert!(whole[1500..].iter().all(|value| *value == 0.0));
    }

    #[test]
    fn parts_rendered_apart_are_the_whole() {
        let body = "sound noise(20 %, 40 Hz..80 Hz) for 2 s rise 0.1 s fall 0.1 s\n\
                    at 0.3 s sound file(\"sounds/chirp.wav\", -6 dB)\nat 1 s shaker ring(30 %, 30 Hz)";
        let (mut whole, mut parts) = (vec![0.0; 4096], vec![0.0; 4096]);
        score(body, 1.0).add(0.25, 2048.0, &mut whole);
        let mut score = score(body, 1.0);
        for (at, part) in parts.chunks_mut(1024).enumerate() {
            score.add(0.25 + at as f64 * 0.5, 2048.0, part);
        }
        assert!(whole.iter().any(|value| value.abs() > 0.05));
        assert!(whole.iter().zip(&parts).all(|(a, b)| (a - b).abs() < 1e-6));
    }

    #[test]
    fn two_outputs_share_the_layers_out_and_lose_none() {
        let body =
            "sound sine(40 %, 50 Hz) for 1 s\nshaker sine(20 %, 30 Hz) for 1 s\npitch pulse(1 deg, 1 s)";
        let heard = |heard| {
            let (mut score, mut out) = (Score { heard, ..score(body, 1.0) }, vec![0.0; 1000]);
            score.add(0.0, 1000.0, &mut out);
            out
        };
        let (both, sound, shaker) = (heard(Heard::Both), heard(Heard::Sound), heard(Heard::Shaker));
        let loudest = |part: &[f32]| part.iter().fold(0.0_f32, |most, value| most.max(value.abs()));
        assert!((loudest(&sound) - 0.4).abs() < 0.01 && (loudest(&shaker) - 0.2).abs() < 0.01);
        let sums = sound.iter().zip(&shaker).map(|(a, b)| a + b);
        assert!(sums.zip(&both).all(|(sum, both)| (sum - both).abs() < 1e-6));
        let alone = Score { heard: Heard::Shaker, ..score("sound sine(40 %, 50 Hz) for 1 s", 1.0) };
        assert!(alone.is_silent());
    }

    #[test]
    fn half_the_tempo_takes_twice_as_long() {
        let body = "at 1 s  sound pulse(50 %, 1 s)";
        let (mut full, mut half) = (vec![0.0; 300], vec![0.0; 600]);
        score(body, 1.0).add(0.0, 100.0, &mut full);
        score(body, 0.5).add(0.0, 100.0, &mut half);
        assert!((0..300).all(|k| (full[k] - half[2 * k]).abs() < 1e-6) && full[150] > 0.4);
        assert!(score("at 0 s pitch pulse(1 deg, 1 s)", 1.0).is_silent());
    }

    #[test]
    fn an_odd_rate_keeps_its_pitch() {
        let samples: Vec<f32> = (0..11_025)
            .map(|k| libm::sin(std::f64::consts::TAU * 440.0 * f64::from(k) / 11_025.0) as f32)
            .collect();
        let sound = SoundSamples { rate_hz: 11_025.0, samples };
        for k in 100..4000 {
            let t_s = f64::from(k) / 48_000.0;
            let expected = libm::sin(std::f64::consts::TAU * 440.0 * t_s) as f32;
            assert!((sample(&sound, t_s, false) - expected).abs() < 0.01);
        }
        assert_eq!(sample(&sound, 2.0, false), 0.0);
        assert!((sample(&sound, 1.25, true) - sample(&sound, 0.25, true)).abs() < 1e-6);
    }
}
