//! Whether sound and motion stay together: a scene with a knock and a jerk of pitch at the same instants is played through
//! the computer's sound and rehearsed on the simulated rig, as in the desktop program. Says for each instant when a leg of
//! that rig did what belongs to it, by the log of its drives, in seconds of the system's clock; `tests/peers/knocks_heard.py` listens to a recording of the output and says
//! when the sound was. DEVELOPERS.md, "Sound and motion together", has the commands. Asserts nothing.
//!
//! `cargo bench --bench sound_and_motion -- SECONDS LATENCY_MS`

#![allow(missing_docs, clippy::print_stdout, reason = "a bench is for people")]
#![allow(clippy::disallowed_methods, reason = "measuring time is its purpose")]

use cueloom::audio::{Speaker, load};
use cueloom::desk::rehearsal::{Answer, Rehearsal};
use cueloom::desk::transport::Transport;
use cueloom::desk::variant::Variant;
use cueloom::diag::{SourceText, Sources};
use cueloom::files::Disk;
use cueloom::link::lag_s;
use cueloom::time::SampleRate;
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

    let rig_text = include_str!("../profiles/rigs/club-two-axis.toml");
    let rig_source = sources.add(SourceText::new("rig.toml", rig_text));
    let rig = Arc::new(cueloom::rig::load(rig_source, rig_text).rig.expect("the rig is sound"));
    let rate = SampleRate::new(1000).expect("a rate");
    let plan = Variant::default().plan(&scenario, &rig, rate).expect("it can be planned");
    let lag_s = lag_s(&plan.rig().drive);

    let mut speaker = Speaker::closed();
    speaker.set_level(1.0);
    let mut playhead = Transport { played_s: (0.0, scenario.length_s), ..Transport::default() };
    playhead.play();
    let mut rig = Rehearsal::set_down(plan, 0.0).expect("simulated drives engage");
    if let Some(words) = speaker.open_for(&scenario, &sounds) {
        println!("# {words}");
    }
    if let Some(words) = speaker.play(&scenario, &sounds, (-lag_s, scenario.length_s), 1.0) {
        println!("# {words}");
    }
    println!("# legs come {:.1} ms after their set-points, and so does the sound", lag_s * 1000.0);
    let (mut before, mut next_s, mut slowest, mut fastest) =
        (Instant::now(), f64::from(EVERY_S), f64::INFINITY, 0.0_f64);
    let mut log: Vec<(f64, Answer)> = Vec::new();
    while playhead.playing && next_s < length_s {
        std::thread::sleep(FRAME);
        let now = Instant::now();
        let wall_s = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0.0, |since| since.as_secs_f64());
        let passed_s = now.duration_since(before).as_secs_f64();
        let before_s = playhead.at_s;
        playhead.advance(passed_s, speaker.position_s(latency_s).map(|heard_s| heard_s + lag_s));
        let rate = (playhead.at_s - before_s) / passed_s;
        (slowest, fastest, before) = (slowest.min(rate), fastest.max(rate), now);
        let at_s = playhead.at_s;
        // Between two frames the playhead is taken to go evenly.
        rig.follow(at_s, &mut |answer| log.push((wall_s - (at_s - answer.at_s) / rate, answer)));
        if at_s >= next_s + f64::from(EVERY_S) / 2.0 {
            match moved_s(&log, next_s) {
                Some(moved_s) => println!("{next_s} {moved_s:.6}"),
                None => println!("# the leg did not move at {next_s} s"),
            }
            log.retain(|(_, answer)| answer.at_s > at_s - 0.1);
            next_s += f64::from(EVERY_S);
        }
        if let Some(words) = speaker.trouble() {
            println!("# at {:.1} s: {words}", playhead.at_s);
        }
    }
    println!("# the playhead went between {slowest:.4} and {fastest:.4} seconds a second");
}

/// When the first leg did by the clock what the scene asks for at `instant_s`: where it was a quarter of the way to its
/// farthest, less the time that the scene takes for that.
fn moved_s(log: &[(f64, Answer)], instant_s: f64) -> Option<f64> {
    let rows: Vec<&(f64, Answer)> = log
        .iter()
        .filter(|(_, answer)| answer.at_s >= instant_s - 0.05 && answer.at_s < instant_s + 0.9)
        .collect();
    let quarter = |of: fn(&Answer) -> f64| {
        let rest = of(&rows.first()?.1);
        let way = |row: &&&(f64, Answer)| (of(&row.1) - rest).abs();
        let farthest = rows.iter().map(|row| way(&row)).fold(0.0, f64::max);
        let at = rows.iter().position(|row| way(&row) > farthest / 4.0)?;
        // Between two cycles as far as it went there.
        let (low, high) = (way(&rows.get(at.checked_sub(1)?)?), way(&&rows[at]));
        Some((at, (farthest / 4.0 - low) / (high - low)))
    };
    let (asked, asked_part) = quarter(|answer| answer.wanted_m[0])?;
    let (moved, moved_part) = quarter(|answer| answer.legs_m[0])?;
    let between = |at: usize, part: f64, of: fn(&(f64, Answer)) -> f64| {
        of(rows[at - 1]) + part * (of(rows[at]) - of(rows[at - 1]))
    };
    let took_s = between(asked, asked_part, |row| row.1.at_s) - instant_s;
    Some(between(moved, moved_part, |row| row.0) - took_s)
}
