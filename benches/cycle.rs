//! The cycle thread at 1 kHz: what a cycle costs, and how late cycles are served, in turns with a bare loop at the same
//! priority that waits for its deadlines and does nothing else.
//!
//! `cargo bench --bench cycle -- SECONDS PAIRS` (of one turn, and pairs of turns; 5 and 3 if not said). Says microseconds,
//! asserts nothing. Wants a quiet computer; needs the right to a real-time priority, and says whether it had it.

#![allow(missing_docs, clippy::print_stdout, reason = "a bench is for people")]
#![allow(clippy::disallowed_methods, reason = "measuring time is its purpose")]

use cueloom::check::{self, Cleared};
use cueloom::diag::{SourceText, Sources};
use cueloom::drives::{Carrier, open};
use cueloom::link::{SimAct, SimInput};
use cueloom::motion::{Plan, Serial};
use cueloom::player::{DrivePlan, Options, Progress, Record, Shell, connect, drive};
use cueloom::record::{Logged, read_container};
use cueloom::safety::operation::{Input, Permit};
use cueloom::scenario::{NoFiles, resolve};
use cueloom::time::SampleRate;
use std::io::Write;
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// The demo rig at 1 kHz. A computer that shares its processors is no rig's host: the link is not judged.
fn rig() -> String {
    let text = include_str!("../profiles/rigs/club-two-axis.toml");
    let slow = text.replace("detection = \"10 ms\"", "detection = \"300 ms\"");
    slow.replace("cycle           = \"2 ms\"", "cycle           = \"1 ms\"")
}

/// Something on both axes for so long.
fn cleared(seconds: f64) -> Cleared {
    let text = format!(
        "scene \"turn\" {{\n    roll noise(0.2 deg, 0.3 Hz..2 Hz)  for {seconds} s  rise 1 s  fall 1 s\n    \
         pitch noise(0.2 deg, 0.4 Hz..3 Hz)  for {seconds} s  rise 1 s  fall 1 s\n}}\n"
    );
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new("turn.cues", text.as_str()));
    let parsed = cueloom::lang::parse(source, &text);
    let resolved = resolve(&parsed.file, source, None, &mut sources, &NoFiles);
    let rig_source = sources.add(SourceText::new("rig.toml", rig()));
    let rig = cueloom::rig::load(rig_source, &rig()).rig.expect("the rig loads");
    assert_eq!(rig.drive.cycle_us, 1000, "the demo rig's file reads otherwise now");
    let rate = SampleRate::new(1000).expect("a rate");
    let scenario = Arc::new(resolved.scenario.expect("a scene"));
    let plan = Plan::new(scenario, Arc::new(rig), 1.0, rate).expect("a plan");
    check::run(&plan, &sources, &Serial, &|_| {}).clear().expect("it fits")
}

#[derive(Clone, Default)]
struct Paper(Arc<Mutex<Vec<u8>>>);

impl Write for Paper {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// From park to park on simulated drives, as the command line does it; the record, and how long all took.
fn played(cleared: &Cleared, fast: bool) -> (Logged, Duration) {
    let rig = cleared.plan().rig();
    let mut opened = open(Carrier::Sim, "", rig).expect("a link");
    let connected = connect(opened.link, rig, fast).expect("simulated drives answer");
    let hand = opened.hand.as_mut().expect("they are simulated");
    let (_orders, heard) = channel();
    let permit = Permit { commissioned: true, audition: true, vacant: true };
    let shell = Shell { permit, orders: &heard, hand: None, by_word: false };
    let options = Options { fast, park_at_end: true, ..Options::default() };
    let paper = Paper::default();
    let mut held = false;
    let begun = Instant::now();
    let mut progress = |now: &Progress| {
        assert!(now.time_s < 3.0 * now.scene_s + 60.0, "the run does not get on: {:?}", now.run);
        let acts = now.run.is_some_and(|run| run.state().is_act());
        // Taken hold of when something is wanted; what was held before is let go first.
        held = acts || (now.wanted.is_some() && !held);
        hand.act(SimAct::Input(SimInput::Presence, if held { Input::Closed } else { Input::Open }));
    };
    drive(
        &DrivePlan::of(cleared).expect("limits"),
        connected,
        &options,
        &shell,
        Record::Mcap(Box::new(paper.clone())),
        &mut progress,
    )
    .expect("a run");
    let took = begun.elapsed();
    let bytes = paper.0.lock().unwrap_or_else(PoisonError::into_inner).clone();
    (read_container(&bytes).expect("a record"), took)
}

/// How late a loop of that many cycles of 1 ms is that only waits, us, at the priority that the cycle thread asks for.
fn bare(cycles: usize) -> (Vec<u32>, bool) {
    let work = move || {
        let granted = urgent();
        let period = Duration::from_millis(1);
        let begun = Instant::now();
        let mut late = Vec::with_capacity(cycles);
        let mut deadline = begun.elapsed() + period;
        for _ in 0..cycles {
            while let Some(left) = deadline.checked_sub(begun.elapsed()).filter(|left| !left.is_zero()) {
                std::thread::sleep(left);
            }
            late.push(begun.elapsed().saturating_sub(deadline).as_micros() as u32);
            deadline += period;
        }
        (late, granted)
    };
    std::thread::spawn(work).join().expect("it only waits")
}

#[cfg(target_os = "linux")]
#[allow(unsafe_code, reason = "a system call that the standard library does not have; plain numbers go in")]
fn urgent() -> bool {
    let parameters = libc::sched_param { sched_priority: 40 };
    // SAFETY: it reads one structure that lives until it returns, and 0 names the calling thread.
    unsafe { libc::sched_setscheduler(0, libc::SCHED_FIFO, &raw const parameters) == 0 }
}

#[cfg(not(target_os = "linux"))]
fn urgent() -> bool {
    false
}

/// Of all values: that below which a share of them lies.
fn quantile(values: &mut [u32], share: f64) -> u32 {
    values.sort_unstable();
    values
        .get(((values.len() as f64 * share) as usize).min(values.len().saturating_sub(1)))
        .copied()
        .unwrap_or(0)
}

fn main() {
    let given: Vec<f64> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    let seconds = given.first().copied().unwrap_or(5.0).max(2.0);
    let pairs = given.get(1).map_or(3, |pairs| *pairs as usize).max(1);

    let (logged, took) = played(&cleared(60.0), true);
    println!(
        "a cycle costs {:.2} us with all that belongs to it: path, governor, states, simulated drives, record ({} cycles)",
        took.as_secs_f64() * 1e6 / logged.cycles.len() as f64,
        logged.cycles.len()
    );

    let cleared = cleared(seconds);
    let (mut p99, mut p999) = ([Vec::new(), Vec::new()], [Vec::new(), Vec::new()]);
    for pair in 1..=pairs {
        let (logged, _) = played(&cleared, false);
        let mut ours: Vec<u32> = logged.cycles.iter().map(|cycle| cycle.late_us).collect();
        let granted = logged.events.iter().find(|(_, words)| words.contains("real-time priority"));
        let (mut theirs, allowed) = bare(ours.len());
        for (which, late) in [&mut ours, &mut theirs].into_iter().enumerate() {
            p99[which].push(quantile(late, 0.99));
            p999[which].push(quantile(late, 0.999));
        }
        let last = |of: &[Vec<u32>; 2], which: usize| of[which].last().copied().unwrap_or(0);
        println!(
            "{pair}: {} cycles, late by at most (us)  99 %: ours {:5}, bare {:5}   99.9 %: ours {:5}, bare {:5}   {}; bare {}",
            ours.len(),
            last(&p99, 0),
            last(&p99, 1),
            last(&p999, 0),
            last(&p999, 1),
            granted.map_or("nothing asked for", |(_, words)| words.as_str()),
            if allowed { "granted" } else { "refused" }
        );
    }
    for (name, both) in [("99 %", &mut p99), ("99.9 %", &mut p999)] {
        let [ours, bare] = both;
        let (ours, bare) = (quantile(ours, 0.5), quantile(bare, 0.5));
        println!(
            "median of {name}: ours {ours} us, bare {bare} us, ratio {:.2}",
            f64::from(ours) / f64::from(bare.max(1))
        );
    }
}
