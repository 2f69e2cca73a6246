//! The demo's sounds are what their recipes here make, sample by sample.
//!
//! After a change of recipe: `CUELOOM_WRITE=1 cargo test --test sounds` writes them anew.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

use std::f64::consts::TAU;
use std::path::PathBuf;

const RATE_HZ: u32 = 24_000;

fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("profiles/sounds").join(name)
}

/// Even noise in -1..1 from a linear congruential generator (multiplier and increment of Numerical Recipes, 2nd ed.,
/// 7.1; from memory).
fn noise() -> impl FnMut() -> f64 {
    let mut state = 20_260_418u32;
    move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 8) / f64::from(1u32 << 23) - 1.0
    }
}

/// A tyre that takes up its speed on asphalt: a falling squeal and a hiss, both gone after a third of a second.
fn chirp() -> Vec<i16> {
    let (mut noise, mut low, mut phase) = (noise(), 0.0, 0.0);
    let count = RATE_HZ * 32 / 100;
    let sample = |k: u32| {
        let t_s = f64::from(k) / f64::from(RATE_HZ);
        let part = f64::from(k) / f64::from(count);
        phase += (950.0 - 450.0 * part) / f64::from(RATE_HZ);
        low += 0.35 * (noise() - low);
        // In within 8 ms, and out to exactly nothing at the end.
        let envelope = (t_s / 0.008).min(1.0) * libm::exp(-t_s / 0.09) * (1.0 - part);
        let squeal = libm::sin(TAU * phase) + 0.35 * libm::sin(TAU * 2.0 * phase + 0.4);
        to_sample(envelope * (0.42 * squeal + 0.5 * low))
    };
    (0..count).map(sample).collect()
}

/// A small engine heard in the cabin: harmonics of 60 Hz and a whine, in whole cycles so that it loops without a seam.
fn turbine() -> Vec<i16> {
    const LENGTH_S: u32 = 1;
    // Cycles in the file, part of full scale, phase in turns.
    const PARTIALS: [(f64, f64, f64); 8] = [
        (60.0, 0.22, 0.00),
        (120.0, 0.26, 0.31),
        (180.0, 0.12, 0.77),
        (240.0, 0.10, 0.12),
        (360.0, 0.05, 0.54),
        (1_450.0, 0.035, 0.20),
        (1_453.0, 0.03, 0.90),
        (3_200.0, 0.012, 0.05),
    ];
    let sample = |k: u32| {
        let t = f64::from(k) / f64::from(RATE_HZ * LENGTH_S);
        to_sample(
            PARTIALS.iter().map(|(cycles, part, phase)| part * libm::sin(TAU * (cycles * t + phase))).sum(),
        )
    };
    (0..RATE_HZ * LENGTH_S).map(sample).collect()
}

fn to_sample(value: f64) -> i16 {
    (value.clamp(-1.0, 1.0) * 32_767.0).round() as i16
}

fn check(name: &str, made: &[i16]) {
    let path = path(name);
    if std::env::var_os("CUELOOM_WRITE").is_some() {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: RATE_HZ,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut wav = hound::WavWriter::create(&path, spec).unwrap();
        made.iter().for_each(|sample| wav.write_sample(*sample).unwrap());
        wav.finalize().unwrap();
    }
    let mut wav = hound::WavReader::open(&path).unwrap();
    assert_eq!((wav.spec().channels, wav.spec().sample_rate), (1, RATE_HZ), "{name}");
    let stored: Vec<i16> = wav.samples().map(Result::unwrap).collect();
    assert_eq!(stored, made, "{name}");
    assert!(std::fs::metadata(&path).unwrap().len() < 100_000, "{name} is small");
    let peak = made.iter().map(|sample| i32::from(*sample).abs()).max().unwrap();
    assert!((8_000..32_700).contains(&peak), "{name}: loud enough and not clipped: {peak}");
}

#[test]
fn chirp_is_its_recipe() {
    let made = chirp();
    assert_eq!((made[0], *made.last().unwrap()), (0, 0));
    check("chirp.wav", &made);
}

#[test]
fn turbine_is_its_recipe_and_loops() {
    let made = turbine();
    let step = |a: i16, b: i16| (i32::from(a) - i32::from(b)).abs();
    let largest = made.windows(2).map(|pair| step(pair[0], pair[1])).max().unwrap();
    assert!(step(made[0], *made.last().unwrap()) <= largest, "no seam");
    check("turbine.wav", &made);
}
