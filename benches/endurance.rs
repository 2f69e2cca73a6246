//! A working day on simulated drives, cranked: states, path, governor, link and record, cycle after cycle, as fast as it
//! goes. Says how memory went, and whether every set-point followed the one before by one cycle.
//!
//! `cargo bench --bench endurance -- HOURS FILE` (8 if not said; without a file the record is counted and forgotten). Says
//! what it found, asserts nothing.

#![allow(missing_docs, clippy::print_stdout, reason = "a bench is for people")]
#![allow(clippy::disallowed_methods, reason = "measuring time is its purpose")]

use cueloom::check::{self, Cleared};
use cueloom::diag::{SourceText, Sources};
use cueloom::drives::{Carrier, open};
use cueloom::link::{
    Asking, DriveLink, DriveOrder, DriveReport, DriveTime, FarEnd, LinkFault, SimAct, SimInput,
};
use cueloom::motion::Plan;
use cueloom::player::{DrivePlan, Options, Progress, Record, Shell, connect, drive};
use cueloom::safety::operation::{Input, Permit};
use cueloom::scenario::{NoFiles, resolve};
use cueloom::threads::Threads;
use cueloom::time::SampleRate;
use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::channel;
use std::time::Instant;

const RIG: &str = include_str!("../profiles/rigs/club-two-axis.toml");

/// So many hours with something on both axes every minute.
fn cleared(hours: f64) -> Cleared {
    let minutes = (hours * 60.0).ceil().max(1.0);
    let text = format!(
        "scene \"day\" {{\n    during 0 s .. {} s every 60 s {{\n        roll noise(0.3 deg, 0.3 Hz..2 Hz)  for 55 s  \
         rise 1 s  fall 1 s\n        pitch hold(2 deg, ease: 2 s)  for 40 s\n    }}\n}}\n",
        minutes * 60.0
    );
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new("day.cues", text.as_str()));
    let parsed = cueloom::lang::parse(source, &text);
    let resolved = resolve(&parsed.file, source, None, &mut sources, &NoFiles);
    let rig_source = sources.add(SourceText::new("rig.toml", RIG));
    let rig = cueloom::rig::load(rig_source, RIG).rig.expect("the rig loads");
    let rate = SampleRate::new(1000).expect("a rate");
    let scenario = Arc::new(resolved.scenario.unwrap_or_else(|| panic!("{:?}", resolved.diagnostics)));
    let plan = Plan::new(scenario, Arc::new(rig), 1.0, rate).expect("a plan");
    check::run(&plan, &sources, &Threads::all(), &|_| {}).clear().expect("it fits")
}

/// A link that looks whether each order is for the cycle after that of the one before, and counts those that are not.
struct Watched<L> {
    link: L,
    cycle_us: u64,
    before: Option<DriveTime>,
    seen: Arc<[AtomicU64; 2]>,
}

impl<L: DriveLink> DriveLink for Watched<L> {
    fn asking(&self) -> Asking {
        self.link.asking()
    }

    fn identify(&mut self, now: DriveTime) -> Result<Option<FarEnd>, LinkFault> {
        self.link.identify(now)
    }

    fn send(&mut self, now: DriveTime, order: &DriveOrder) -> Result<(), LinkFault> {
        let [orders, missed] = &*self.seen;
        // The first of the run does not follow those that measured the link.
        if orders.fetch_add(1, Ordering::Relaxed) > 0
            && self.before.is_some_and(|before| order.apply_at.0 != before.0 + self.cycle_us)
        {
            missed.fetch_add(1, Ordering::Relaxed);
        }
        self.before = Some(order.apply_at);
        self.link.send(now, order)
    }

    fn poll(&mut self, now: DriveTime) -> Result<Option<DriveReport>, LinkFault> {
        self.link.poll(now)
    }
}

/// Bytes that are counted and forgotten.
#[derive(Clone, Default)]
struct Forgotten(Arc<AtomicU64>);

impl Write for Forgotten {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.fetch_add(bytes.len() as u64, Ordering::Relaxed);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// What this program has of the memory, MB; `None` where the system does not say it so.
fn resident_mb() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/statm").ok()?;
    let pages: f64 = text.split_whitespace().nth(1)?.parse().ok()?;
    Some(pages * 4096.0 / 1e6)
}

fn main() {
    let hours = std::env::args().skip(1).find_map(|word| word.parse().ok()).unwrap_or(8.0);
    let cleared = cleared(hours);
    let rig = cleared.plan().rig().clone();
    let mut opened = open(Carrier::Sim, "", &rig).expect("a link");
    let seen = Arc::new([AtomicU64::new(0), AtomicU64::new(0)]);
    let cycle_us = u64::from(rig.drive.cycle_us);
    let link = Watched { link: opened.link, cycle_us, before: None, seen: seen.clone() };
    let connected = connect(link, &rig, true).expect("simulated drives answer");
    let hand = opened.hand.as_mut().expect("they are simulated");
    let (_orders, heard) = channel();
    let permit = Permit { commissioned: true, audition: true, vacant: true };
    let shell = Shell { permit, orders: &heard, hand: None, by_word: false };
    let options = Options { fast: true, park_at_end: true, ..Options::default() };
    let paper = Forgotten::default();
    // What was sent to measure the link is another sequence.
    seen.iter().for_each(|count| count.store(0, Ordering::Relaxed));
    let (mut held, mut next_s, begun) = (false, 60.0, Instant::now());
    let mut progress = |now: &Progress| {
        let acts = now.run.is_some_and(|run| run.state().is_act());
        held = acts || (now.wanted.is_some() && !held);
        hand.act(SimAct::Input(SimInput::Presence, if held { Input::Closed } else { Input::Open }));
        if now.time_s >= next_s {
            let resident = resident_mb().map_or("-".to_string(), |mb| format!("{mb:.2} MB"));
            println!(
                "{:8.0} s of the run, {:6.1} s of this computer, {resident}",
                now.time_s,
                begun.elapsed().as_secs_f64()
            );
            next_s = if next_s < 1800.0 { next_s * 2.0 } else { next_s + 1800.0 };
        }
    };
    let file = std::env::args().skip(1).find(|word| word.ends_with(".mcap"));
    let record: Box<dyn Write + Send> = match file {
        Some(path) => Box::new(std::io::BufWriter::new(std::fs::File::create(path).expect("a file"))),
        None => Box::new(paper.clone()),
    };
    let record = Record::Mcap(record);
    let played =
        drive(&DrivePlan::of(&cleared).expect("limits"), connected, &options, &shell, record, &mut progress)
            .expect("a run");
    let [orders, missed] = &*seen;
    println!(
        "{:.2} h, {} cycles, played out: {}, tripped: {:?}, governor held back in {}; {} orders, {} of them out of their \
         sequence; {} rows lost; record of {:.1} MB; {:.2} us a cycle",
        played.time_s / 3600.0,
        played.cycles,
        played.played_out,
        played.tripped,
        played.interventions,
        orders.load(Ordering::Relaxed),
        missed.load(Ordering::Relaxed),
        played.dropped,
        paper.0.load(Ordering::Relaxed) as f64 / 1e6,
        begun.elapsed().as_secs_f64() * 1e6 / played.cycles as f64
    );
}
