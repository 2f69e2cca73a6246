//! The program is killed at any instant: the far end comes to rest by itself, braked, and the record can be read.
//!
//! `CUELOOM_KILLS=500 cargo test --test drives killed -- --nocapture` kills so many runs, at instants spread over homing,
//! the way to park, the scene and the way back, and says what they were doing.

use super::bench::{Bench, Program};
use super::desk::{CONTROLLED_M_S2, Desk, SHORTEST_M, alone, ends_at_rest, inside_from};
use super::faults::until_rest;
use super::states::pass;
use super::together::at_once;
use cueloom::player::wait;
use cueloom::record::read_container;
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

/// A run on a far end, and when it is killed.
struct Kill {
    link: &'static str,
    /// Whether it begins with homing, and parks, before it plays.
    whole: bool,
    after_ms: u64,
}

/// Over a serial line where there is one.
const SERIAL: &str = if cfg!(feature = "serial") { "serial" } else { "udp" };

/// What the program says, and what an operator does by it: a word, then letting go and taking hold.
/// Where the bench finds its reference the joint is past its range, so a jog leads back into it.
const COURSE: [(&str, Option<&str>); 5] = [
    ("\nconnected: brakes on", Some("home")),
    ("holding: brakes on: the reference was found", Some("jog all + 3")),
    ("holding: brakes on: asked to pause", Some("park")),
    ("\nparked: brakes on", Some("start")),
    ("holding: brakes on: the scene was played to its end", None),
];

/// How long the whole course takes, ms, to a little before the program ends.
const WHOLE_MS: u64 = 26_500;

impl Kill {
    /// So many, their instants made of a fixed number: the same every time.
    fn many(count: u64) -> Vec<Self> {
        // Weyl steps of the golden ratio fill the span evenly whatever the count is.
        let at = |k: u64| ((k.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 40) * WHOLE_MS) >> 24;
        let link = |k: u64| if k.is_multiple_of(4) { SERIAL } else { "udp" };
        (1..=count).map(|k| Self { link: link(k), whole: true, after_ms: at(k) }).collect()
    }

    /// At instants spread over warning, brakes, engaging and playing.
    fn few() -> Vec<Self> {
        let links =
            [("udp", 200), ("udp", 3100), (SERIAL, 3600), ("udp", 4400), (SERIAL, 5000), ("udp", 5600)];
        links.map(|(link, after_ms)| Self { link, whole: false, after_ms }).into()
    }

    /// Goes through the course until it is time; how long that was from where the run stood connected, s.
    #[allow(
        clippy::disallowed_methods,
        reason = "a test that looks at a program from outside has this clock only"
    )]
    fn until_time(&self, bench: &mut Bench, program: &mut Program) -> f64 {
        let course = &COURSE[if self.whole { 0 } else { 3 }..];
        let mut at = program.wait_for(course[0].0, 0) - course[0].0.len();
        let (begun, mut steps) = (Instant::now(), course.iter());
        let mut step = steps.next();
        while begun.elapsed() < Duration::from_millis(self.after_ms) {
            let said = program.said();
            if let Some((words, word)) = step
                && let Some(found) = said[at..].find(words)
            {
                at += found + words.len();
                word.iter().for_each(|word| program.say(word));
                bench.say("presence 0");
                pass(100);
                bench.say("presence 1");
                step = steps.next();
            }
            wait(Duration::from_millis(3));
        }
        begun.elapsed().as_secs_f64()
    }
}

/// What the program said last of where it is: `homing: MOVING`.
fn last_state(said: &str) -> String {
    let phases =
        ["brakes on", "WARNING", "brakes opening", "MOVING", "stopping", "brakes closing", "standing"];
    let shown = |line: &&str| phases.iter().any(|phase| line.contains(&format!(": {phase}")));
    let line = said.lines().rev().find(shown).unwrap_or_default();
    line.split(": ").take(2).collect::<Vec<_>>().join(": ")
}

/// What it was doing, and how long the legs took to rest, s.
fn kill(kill: &Kill) -> (String, f64) {
    let desk = Desk::new();
    let arguments: &[&str] = if kill.whole { &["--not-homed", "--start-mm", "445"] } else { &[] };
    let mut bench = desk.bench(kill.link, arguments);
    let mut program = desk.play(kill.link, &bench.address.clone(), "-12dB", &[]);
    let ran_s = kill.until_time(&mut bench, &mut program);
    let word = bench.say("belt 1");
    program.child.kill().unwrap();
    assert_eq!(program.end(), None, "{} ms: {}", kill.after_ms, program.said());
    pass(1500);
    let truth = bench.end();
    let (name, state) = (format!("{} ms on {}", kill.after_ms, kill.link), last_state(&program.said()));
    ends_at_rest(&truth);
    inside_from(if kill.whole { 0.430 } else { SHORTEST_M }, &truth, CONTROLLED_M_S2);
    let (rest_s, way_m) = until_rest(&truth, word);
    // 0.2 s until silence is noticed, at the 0.13 m/s of ways; brakes.
    assert!(rest_s < 1.0 && way_m < 0.035, "{name}, {state}: {rest_s} s, {way_m} m");
    let logged = read_container(&std::fs::read(desk.folder.path().join("run.mcap")).unwrap()).unwrap();
    let until_s = logged.cycles.last().map_or(0.0, |cycle| cycle.time_s);
    assert!(logged.cut_off && logged.cycles.len() > 20, "{name}, {state}: {}", logged.cycles.len());
    // A chunk is closed ten times a second.
    assert!(until_s > ran_s - 0.5, "{name}, {state}: the record ends at {until_s} of {ran_s} s");
    (state, rest_s)
}

#[test]
fn a_program_that_is_killed_leaves_legs_at_rest_and_a_record_that_can_be_read() {
    let _alone = alone();
    let count = std::env::var("CUELOOM_KILLS").ok().map(|count| count.parse().expect("a number of kills"));
    let kills = count.map_or_else(Kill::few, Kill::many);
    let mut found: BTreeMap<String, (u32, f64)> = BTreeMap::new();
    for (state, rest_s) in at_once(12, &kills, kill) {
        let (times, longest_s) = found.entry(state).or_default();
        (*times, *longest_s) = (*times + 1, longest_s.max(rest_s));
    }
    // Instants of every kind: nothing is shown by killing what stands.
    let moving = ["following", "homing", "jogging", "parking", "engaging"];
    for state in &moving[..if count.is_some() { 5 } else { 1 }] {
        assert!(found.contains_key(&format!("{state}: MOVING")), "never killed while {state}: {found:?}");
    }
    for (state, (times, longest_s)) in &found {
        eprintln!("{times:4} killed while {state}: at rest within {longest_s:.2} s");
    }
}
