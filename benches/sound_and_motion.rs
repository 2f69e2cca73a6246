//! Whether sound and motion stay together: a scene with a knock and a step of pitch at the same instants is played through
//! the computer's sound, and the playhead follows it as the desktop's does. Says for each instant when the motion was
//! there, in seconds of the system's clock; `tests/peers/knocks_heard.py` listens to a recording of the output and says
//! when the sound was. DEVELOPERS.md, "Sound and motion together", has the commands. Asserts nothing.
//!
//! `cargo bench --bench sound_and_motion -- SECONDS LATENCY_MS`

#![allow(missing_docs, clippy::print_stdout, reason = "a bench is for people")]
#![allow(clippy::disallowed_methods, reason = "measuring time is its purpose")]

use cueloom::audio::{Speaker, load};
use cueloom::desk::transport::Transport;
use cueloom::diag::{SourceText, Sources};
use cueloom::files::Disk;
use std::fmt::Write;
use std::sync::Arc;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// Between two knocks, s.
const EVERY_S: u32 = 2;

/// Between two pictures of a window, about.
const FRAME: Duration = Duration::from_micros(16_667);

fn main() {
    let given: Vec<f64> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    // Among all benches it stays silent: who runs those wants no knocks in the room.
    let Some(length_s) = given.first().copied() else {
        println!(
            "plays knocks aloud; say for how long: cargo bench --bench sound_and_motion -- SECONDS LATENCY_MS"
        );
        return;
    };
    let latency_s = given.get(1).copied().unwrap_or(0.0) / 1000.0;
    let mut text = String::from("scene \"knocks\" {\n");
    let _ = writeln!(
        text,
        "    during {EVERY_S} s .. {length_s} s every {EVERY_S} s {{\n        sound ring(-6 dB, 900 Hz)\n        pitch ring(0.1 deg, 6 Hz)\n    }}\n}}"
    );
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new("knocks.cues", text.as_str()));
    let file = cueloom::lang::parse(source, &text).file;
    let resolved = cueloom::scenario::resolve(&file, source, None, &mut sources, &Disk);
    let scenario = Arc::new(resolved.scenario.expect("the scene is sound"));
    let sounds = load(&scenario, &sources);

    let mut speaker = Speaker::closed();
    speaker.set_level(1.0);
    let mut playhead = Transport { played_s: (0.0, scenario.length_s), ..Transport::default() };
    playhead.play();
    if let Some(words) = speaker.play(scenario.clone(), sounds, 0.0, scenario.length_s, 1.0) {
        println!("# {words}");
    }
    let (mut before, mut next_s, mut slowest, mut fastest) =
        (Instant::now(), f64::from(EVERY_S), f64::INFINITY, 0.0_f64);
    while playhead.playing && next_s < length_s {
        std::thread::sleep(FRAME);
        let now = Instant::now();
        let wall_s = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0.0, |since| since.as_secs_f64());
        let passed_s = now.duration_since(before).as_secs_f64();
        let at_s = playhead.at_s;
        playhead.advance(passed_s, speaker.position_s(latency_s));
        let rate = (playhead.at_s - at_s) / passed_s;
        (slowest, fastest, before) = (slowest.min(rate), fastest.max(rate), now);
        while playhead.at_s >= next_s && next_s < length_s {
            // Between two frames the playhead is taken to go evenly.
            println!("{next_s} {:.6}", wall_s - (playhead.at_s - next_s) / rate);
            next_s += f64::from(EVERY_S);
        }
        if let Some(words) = speaker.trouble() {
            println!("# at {:.1} s: {words}", playhead.at_s);
        }
    }
    println!("# the playhead went between {slowest:.4} and {fastest:.4} seconds a second");
}
