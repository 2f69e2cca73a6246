//! The daily sweep that profiles hold, played on simulated drives that rub and a platform that is knocked on; what
//! `cueloom sweep` tells of two days.

use cueloom::check::{self, Cleared};
use cueloom::diag::{SourceText, Sources};
use cueloom::drives::{Carrier, open};
use cueloom::link::{SimAct, SimFault, SimInput};
use cueloom::motion::Plan;
use cueloom::player::{DrivePlan, Options, Progress, Record, Shell, connect, drive};
use cueloom::safety::operation::{Input, Permit};
use cueloom::scenario::{NoFiles, resolve};
use cueloom::threads::Threads;
use cueloom::time::SampleRate;
use std::fs::File;
use std::path::Path;
use std::process::{Command, Output};
use std::sync::Arc;
use std::sync::mpsc::channel;

/// When the profile calls for the knock and a little more, s of the scene.
const KNOCK_S: f64 = 167.0;

fn cleared() -> Cleared {
    let text = include_str!("../../profiles/daily-sweep.cues");
    let rig = include_str!("../../profiles/rigs/club-two-axis.toml");
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new("daily-sweep.cues", text));
    let parsed = cueloom::lang::parse(source, text);
    let scenario = resolve(&parsed.file, source, None, &mut sources, &NoFiles).scenario.unwrap();
    let rig_source = sources.add(SourceText::new("club-two-axis.toml", rig));
    let rig = cueloom::rig::load(rig_source, rig).rig.unwrap();
    let rate = SampleRate::new(1000).unwrap();
    let plan = Plan::new(Arc::new(scenario), Arc::new(rig), 1.0, rate).unwrap();
    check::run(&plan, &sources, &Threads::all(), &|_| {}).clear().unwrap()
}

/// A day: what the legs rub with (N, m), and what the platform rings at, Hz.
struct Day {
    rub: [(f64, f64); 2],
    rings_hz: f64,
}

/// Plays the sweep on drives of that day, as fast as it goes, from park to park.
fn played(day: &Day, cleared: &Cleared, to: &Path) {
    let rig = cleared.plan().rig().clone();
    let mut opened = open(Carrier::Sim, "", &rig).unwrap();
    let mut hand = opened.hand.take().unwrap();
    for (leg, (force_n, way_m)) in day.rub.into_iter().enumerate() {
        assert!(hand.act(SimAct::Fault(SimFault::Rub { leg, force_n, way_m })));
    }
    let connected = connect(opened.link, &rig, true).unwrap();
    let (_orders, heard) = channel();
    let permit = Permit { commissioned: true, audition: true, vacant: true };
    let shell = Shell { permit, orders: &heard, hand: None, by_word: false };
    let entries = [("answers", "simulated drives"), ("drives", "1 2")].map(|(k, v)| (k.into(), v.into()));
    let options = Options { fast: true, park_at_end: true, entries: entries.to_vec(), ..Options::default() };
    let (mut held, mut knocked) = (false, false);
    let mut progress = |now: &Progress| {
        // Held through every act, let go and held anew for the next.
        held = now.run.is_some_and(|run| run.state().is_act()) || (now.wanted.is_some() && !held);
        hand.act(SimAct::Input(SimInput::Presence, if held { Input::Closed } else { Input::Open }));
        if now.time_s > KNOCK_S && !knocked {
            knocked = hand.act(SimAct::Tap { frequency_hz: day.rings_hz, force_n: 120.0 });
        }
    };
    let record = Record::Mcap(Box::new(File::create(to).unwrap()));
    let played =
        drive(&DrivePlan::of(cleared).unwrap(), connected, &options, &shell, record, &mut progress).unwrap();
    assert!(played.played_out && played.tripped.is_none() && knocked, "{played:?}");
}

fn sweep(record: &Path, records: &Path, more: &[&str]) -> Output {
    let mut program = Command::new(env!("CARGO_BIN_EXE_cueloom"));
    program.arg("sweep").arg(record).arg("--records").arg(records).args(more);
    program.output().unwrap()
}

#[test]
fn a_daily_sweep_tells_what_rubs_and_what_has_come_loose() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let cleared = cleared();
    let first = Day { rub: [(40.0, 0.000_1), (40.0, 0.000_1)], rings_hz: 9.0 };
    played(&first, &cleared, &path("first.mcap"));
    let out = sweep(&path("first.mcap"), &path("records"), &["--keep", "--format", "json"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let told: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let near = |value: &serde_json::Value, wanted: f64, by: f64| {
        let value = value.as_f64().unwrap();
        assert!((value / wanted - 1.0).abs() < by, "{value}, not {wanted}: {told}");
    };
    for leg in 0..2 {
        near(&told["sweep"]["legs"][leg]["friction_n"], 40.0, 0.05);
        // A force has turned round when nine tenths of its change are done; the spring is straight.
        near(&told["sweep"]["legs"][leg]["turn_m"], 0.000_09, 0.12);
    }
    near(&told["sweep"]["tap_hz"], 9.0, 0.01);

    let next = Day { rub: [(40.0, 0.000_1), (70.0, 0.000_4)], rings_hz: 7.5 };
    played(&next, &cleared, &path("next.mcap"));
    let out = sweep(&path("next.mcap"), &path("records"), &[]);
    let text = String::from_utf8_lossy(&out.stdout);
    assert_eq!(out.status.code(), Some(1), "{text}");
    let found: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("not as it was: ")).collect();
    let begins = ["friction of `right`: ", "way of turning round of `right`: ", "frequency of a tap: 7.5"];
    assert!(
        found.len() == 3 && found.iter().zip(begins).all(|(line, begin)| line.starts_with(begin)),
        "{text}"
    );
}
