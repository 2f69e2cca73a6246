//! Whole runs of checked profiles on the demo rig, simulated: what the check clears is played without the governor
//! having a word to say, and whatever is ordered meanwhile stays inside the rig file's limits.

use cueloom::check::{self, Cleared};
use cueloom::diag::{SourceText, Sources};
use cueloom::link::SimRig;
use cueloom::motion::{Plan, Serial};
use cueloom::player::{Options, Order, PlayError, Played, Progress, play};
use cueloom::record::{Log, read};
use cueloom::rig::{Rig, kinematics};
use cueloom::safety::State;
use cueloom::scenario::{NoFiles, resolve};
use cueloom::signal::Jet;
use cueloom::time::SampleRate;
use proptest::prelude::*;
use std::io::Write;
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex};

const RIG: &str = include_str!("../profiles/rigs/club-two-axis.toml");

/// Twelve seconds of everything, well inside the demo rig.
const SCENE: &str = "
at 0 s roll sine(3 deg, 0.3 Hz) for 12 s
at 1 s pitch sine(1.5 deg, 0.5 Hz) for 8 s
at 3 s pitch noise(0.05 deg, 2 Hz..8 Hz) for 4 s
at 6 s roll pulse(1 deg, 0.8 s)";

/// The body as a scene on the demo rig, changed; cleared at the largest gain that fits when 1 does not, or when asked.
fn clear(body: &str, change: impl FnOnce(&mut Rig), at_the_edge: bool) -> Option<Cleared> {
    let text = format!("scene \"bench\" {{\n{body}\n}}\n");
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new("bench.cues", text.as_str()));
    let parsed = cueloom::lang::parse(source, &text);
    assert!(parsed.errors.is_empty(), "{:?}\n{text}", parsed.errors);
    let resolved = resolve(&parsed.file, source, None, &mut sources, &NoFiles);
    assert!(resolved.diagnostics.is_empty(), "{:?}\n{text}", resolved.diagnostics);
    let rig_source = sources.add(SourceText::new("rig.toml", RIG));
    let mut rig = cueloom::rig::load(rig_source, RIG).rig.expect("a rig");
    change(&mut rig);
    let scenario = Arc::new(resolved.scenario.expect("a scene"));
    let plan =
        Plan::new(scenario, Arc::new(rig), 1.0, SampleRate::new(1000).expect("as prepared")).expect("a plan");
    let report = check::run(&plan, &sources, &Serial, &|_| {});
    match (report.clear(), at_the_edge) {
        (Some(cleared), false) => Some(cleared),
        (None, false) => panic!("{}", report.findings[0].diagnostic.title),
        (_, true) => {
            let gain = report.fits_gain.filter(|gain| *gain > 0.0)?;
            check::run(&plan.at_gain(gain), &sources, &Serial, &|_| {}).clear()
        }
    }
}

#[derive(Clone, Default)]
struct Paper(Arc<Mutex<Vec<u8>>>);

impl Write for Paper {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().expect("as prepared").extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Plays by hand with orders at their times (s, to a tenth).
fn run(cleared: &Cleared, park: bool, script: &[(f64, Order)]) -> (Played, Log, Vec<u8>) {
    let (send, orders) = channel();
    let mut script = script.iter().peekable();
    let mut told = |progress: &Progress| {
        while let Some((_, order)) = script.next_if(|(at_s, _)| *at_s <= progress.time_s) {
            send.send(*order).expect("as prepared");
        }
    };
    let paper = Paper::default();
    let options = Options { fast: true, park_at_end: park, ..Options::default() };
    let link = SimRig::new(cleared.plan().rig(), &[]);
    let played =
        play(cleared, link, &options, &orders, Box::new(paper.clone()), &mut told).expect("as prepared");
    let bytes = paper.0.lock().expect("as prepared").clone();
    let log = read(&bytes).expect("as prepared");
    (played, log, bytes)
}

fn column(log: &Log, leg: &str, what: &str) -> Vec<f64> {
    log.numbers(&format!("{leg} {what}_m")).expect("as prepared")
}

/// What was sent stays inside strokes, speeds and accelerations of the rig file (to the nanometres of the log).
fn assert_inside(cleared: &Cleared, log: &Log) {
    let rig = cleared.plan().rig();
    let cycle_s = f64::from(rig.drive.cycle_us) * 1e-6;
    for a in &rig.actuators {
        let x = column(log, &a.name, "sent");
        let (low, high) = (a.min_m + a.soft_stop_m - 1e-9, a.max_m - a.soft_stop_m + 1e-9);
        assert!(x.iter().all(|x| (low..=high).contains(x)));
        for w in x.windows(3) {
            let speed = (w[2] - w[1]) / cycle_s;
            let second = (w[2] - 2.0 * w[1] + w[0]) / (cycle_s * cycle_s);
            assert!(speed.abs() <= a.speed_m_s + 1e-9 / cycle_s, "{speed}");
            assert!(second.abs() <= a.acceleration_m_s2 + 2e-9 / (cycle_s * cycle_s), "{second}");
        }
    }
}

/// What was sent while the scene played is the plan's own path at the place of its clock.
fn assert_on_path(cleared: &Cleared, log: &Log) {
    let (plan, rig) = (cleared.plan(), cleared.plan().rig());
    let path_s = log.numbers("path_s").expect("as prepared");
    let gain = log.numbers("gain").expect("as prepared");
    let state = log.words("state").expect("as prepared");
    let sent: Vec<_> = rig.actuators.iter().map(|a| column(log, &a.name, "sent")).collect();
    let mut platform = vec![Jet::default(); rig.axes.len()];
    let mut rows = 0;
    for row in (0..state.len()).filter(|row| state[*row] == "following" || state[*row] == "slowing") {
        // While the way to the start is slowed its clock is not the scene's; those rows come before the scene.
        plan.platform_at(path_s[row], &mut platform);
        let q: Vec<f64> = platform.iter().map(|jet| gain[row] * jet.0[0]).collect();
        for (leg, length) in kinematics::lengths_m(rig, &q).into_iter().enumerate() {
            // The log has microseconds of scene time: at 0.25 m/s a quarter of a micrometre.
            assert!(
                (sent[leg][row] - length).abs() < 6e-7,
                "row {row} leg {leg} {}",
                sent[leg][row] - length
            );
        }
        rows += 1;
    }
    assert!(rows > 100, "{rows}");
}

#[test]
fn a_cleared_scene_plays_from_park_to_park() {
    let cleared = clear(SCENE, |_| (), false).expect("as prepared");
    let (played, log, _) = run(&cleared, true, &[]);
    assert_eq!((played.state, played.played_out, played.interventions), (State::Parked, true, 0));
    assert_eq!(played.end_m, [0.54, 0.54]);
    assert_on_path(&cleared, &log);
    assert_inside(&cleared, &log);
    // Loop of 25 Hz at 0.9: 8.55 ms; delay 4 ms; one cycle of 2 ms ahead and one for the cubic.
    for (name, leg) in &played.legs {
        assert!((leg.lag_s.expect("as prepared") - 0.01655).abs() < 0.0005, "{name} {leg:?}");
        assert!(leg.rms_after_lag_m < 0.1 * leg.rms_m, "{name} {leg:?}");
    }
    let pitch = log.numbers("planned pitch_rad").expect("as prepared");
    assert!(pitch.iter().any(|p| p.abs() > 0.02));
}

#[test]
fn the_same_run_gives_the_same_bytes() {
    let cleared = clear(SCENE, |_| (), false).expect("as prepared");
    let script = [(5.0, Order::Pause), (6.0, Order::Resume), (7.0, Order::Gain(0.5))];
    assert!(run(&cleared, true, &script).2 == run(&cleared, true, &script).2);
}

#[test]
fn pauses_gain_ramps_and_a_stop_keep_to_the_path() {
    let cleared = clear(SCENE, |_| (), false).expect("as prepared");
    let script = [
        (4.0, Order::Pause),
        (5.0, Order::Resume),
        (6.0, Order::Gain(0.3)),
        (7.4, Order::Pause),
        (8.5, Order::Resume),
        (11.0, Order::Stop),
    ];
    let (played, log, _) = run(&cleared, true, &script);
    assert_eq!((played.state, played.interventions), (State::Stopped, 0), "{:?}", played.remarks);
    assert!(log.numbers("gain").expect("as prepared").contains(&0.3), "{:?}", log.events);
    assert_on_path(&cleared, &log);
    assert_inside(&cleared, &log);
}

#[test]
fn a_rig_that_stands_outside_its_limits_is_not_moved() {
    let cleared = clear(SCENE, |_| (), false).expect("as prepared");
    let (_send, orders) = channel();
    let options = Options { fast: true, ..Options::default() };
    let link = SimRig::new(cleared.plan().rig(), &[0.54, 0.725]);
    let refused = play(&cleared, link, &options, &orders, Box::new(Paper::default()), &mut |_| ());
    let Err(PlayError::Start(why)) = refused else { panic!("{refused:?}") };
    assert_eq!(why.to_string(), "leg 2 stands at 0.725 m, expected 0.44 m to 0.72 m");
}

fn statement() -> impl Strategy<Value = String> {
    let axis = prop::sample::select(vec!["pitch", "roll"]);
    let shape = prop_oneof![
        (0.1f64..6.0, 0.1f64..3.0).prop_map(|(a, f)| (a, format!("sine(AMP, {f:.2} Hz)"))),
        (0.1f64..4.0, 0.4f64..2.0).prop_map(|(a, s)| (a, format!("pulse(AMP, {s:.2} s)"))),
        (0.05f64..1.0, 1.0f64..4.0)
            .prop_map(|(a, f)| (a, format!("noise(AMP, {f:.1} Hz..{:.1} Hz)", 2.0 * f))),
    ];
    (axis, 0.0f64..3.0, 0.8f64..4.0, shape).prop_map(|(axis, at, length, (amplitude, shape))| {
        let length = if shape.starts_with("pulse") { String::new() } else { format!(" for {length:.2} s") };
        format!("at {at:.2} s {axis} {}{length}", shape.replace("AMP", &format!("{amplitude:.2} deg")))
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn at_the_very_edge_of_what_is_cleared_the_governor_has_nothing_to_say(
        body in prop::collection::vec(statement(), 1..5),
        pause_at_s in 1.0f64..6.0,
        cubic in any::<bool>(),
    ) {
        let change = |rig: &mut Rig| {
            if !cubic {
                rig.drive.interpolation = cueloom::rig::Interpolation::Linear;
                rig.drive.cycle_us = 1000;
            }
        };
        let Some(cleared) = clear(&body.join("\n"), change, true) else { return Ok(()) };
        let (played, log, _) = run(&cleared, false, &[]);
        prop_assert_eq!((played.state, played.played_out, played.interventions), (State::Holding, true, 0));
        assert_inside(&cleared, &log);
        let script = [(pause_at_s, Order::Pause), (pause_at_s + 2.5, Order::Resume)];
        let (played, log, _) = run(&cleared, false, &script);
        prop_assert_eq!((played.played_out, played.interventions), (true, 0), "{:?}", log.events);
        assert_inside(&cleared, &log);
    }
}
