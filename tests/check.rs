//! The check as a whole: what it clears stays inside every limit, what it refuses names its cause and what fits.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

use cueloom::check::{self, Margin, Quantity, Report};
use cueloom::diag::{Severity, SourceText, Sources};
use cueloom::motion::Plan;
use cueloom::rig::{Interpolation, Rig, kinematics};
use cueloom::scenario::{NoFiles, resolve};
use cueloom::signal::Jet;
use cueloom::threads::Threads;
use cueloom::time::SampleRate;
use proptest::prelude::*;
use std::sync::Arc;

#[path = "bench/scene.rs"]
mod bench;

use bench::{Bench, RIG};

const CRANKS: &str = include_str!("../profiles/rigs/club-crank.toml");

/// A scene with this body on the demo rig.
fn on_demo(body: &str) -> Bench {
    Bench::on(RIG, body)
}

/// A scene with this body on the demo rig, or on the one with cranks as far as its geometry goes.
fn on_either(body: &str, cranks: bool) -> Bench {
    let (geometry, _) = CRANKS.split_once("# An invented motor").unwrap();
    Bench::on(if cranks { geometry } else { RIG }, body)
}

fn rules(report: &Report) -> Vec<&'static str> {
    let grave = report.findings.iter().filter(|finding| finding.diagnostic.severity > Severity::Note);
    let mut rules: Vec<_> = grave.map(|finding| finding.diagnostic.rule).collect();
    rules.sort_unstable();
    rules.dedup();
    rules
}

/// Everything that a rig file limits, looked at far between the samples of the check.
fn stays_inside(plan: &Plan, finer: u32) -> Result<(), String> {
    let rig: &Rig = plan.rig();
    let rate = SampleRate::new(plan.rate().hz() * finer).unwrap();
    let mut platform = vec![Jet::default(); rig.axes.len()];
    for tick in 0..rate.samples_over(plan.scenario().length_s) {
        let t_s = rate.at_s(tick);
        plan.platform_at(t_s, &mut platform);
        for (jet, limits) in platform.iter().zip(&rig.axes) {
            if !(limits.min..=limits.max).contains(&jet.0[0]) {
                return Err(format!("{:?} at {} at {t_s} s", limits.axis, jet.0[0]));
            }
        }
        for (leg, actuator) in rig.actuators.iter().enumerate() {
            let [length, speed, acceleration, jerk] = kinematics::leg_jet(rig, leg, &platform).0;
            let inside = (actuator.min_m + actuator.soft_stop_m..=actuator.max_m - actuator.soft_stop_m)
                .contains(&length)
                && speed.abs() <= actuator.speed_m_s
                && acceleration.abs() <= actuator.acceleration_m_s2
                && jerk.abs() <= actuator.jerk_m_s3;
            if !inside {
                return Err(format!("leg {leg} {length} {speed} {acceleration} {jerk} at {t_s} s"));
            }
        }
    }
    drive_stays_inside(plan, finer)
}

/// The drive's own curve through its set-points, drawn here from the definition alone.
fn drive_stays_inside(plan: &Plan, finer: u32) -> Result<(), String> {
    let rig: &Rig = plan.rig();
    assert_eq!(rig.drive.interpolation, Interpolation::Cubic);
    let cycle_s = f64::from(rig.drive.cycle_us) * 1e-6;
    let mut platform = vec![Jet::default(); rig.axes.len()];
    for (leg, actuator) in rig.actuators.iter().enumerate() {
        let mut length = |k: i64| {
            plan.platform_at(k as f64 * cycle_s, &mut platform);
            kinematics::leg_jet(rig, leg, &platform).0[0]
        };
        for k in 0..(plan.scenario().length_s / cycle_s) as i64 {
            let [a, b, c, d] = [length(k - 1), length(k), length(k + 1), length(k + 2)];
            let (enter, leave) = ((c - a) / 2.0, (d - b) / 2.0);
            for part in 0..=finer {
                let u = f64::from(part) / f64::from(finer);
                let speed = ((6.0 * u * u - 6.0 * u) * (b - c)
                    + enter * (3.0 * u * u - 4.0 * u + 1.0)
                    + leave * (3.0 * u * u - 2.0 * u))
                    / cycle_s;
                let acceleration =
                    ((12.0 * u - 6.0) * (b - c) + enter * (6.0 * u - 4.0) + leave * (6.0 * u - 2.0))
                        / (cycle_s * cycle_s);
                // Differences of lengths cost digits: a nanometre over a cycle squared is 0.25 mm/s^2.
                if speed.abs() > actuator.speed_m_s + 1e-9
                    || acceleration.abs() > actuator.acceleration_m_s2 + 1e-6
                {
                    return Err(format!(
                        "the drive's curve of leg {leg}: {speed} {acceleration} in cycle {k}"
                    ));
                }
            }
        }
    }
    Ok(())
}

/// One layer, often too strong for the rig.
fn layer() -> impl Strategy<Value = String> {
    let channel = prop::sample::select(vec!["pitch", "roll"]);
    let wave = prop_oneof![
        (0.2..6.0f64, 0.2..3.0f64).prop_map(|(a, f)| format!("sine({a:.3} deg, {f:.3} Hz) for 3 s")),
        (0.2..3.0f64, 0.2..1.0f64, 2.0..6.0f64)
            .prop_map(|(a, f, g)| format!("sweep({a:.3} deg, {f:.3} Hz, {g:.3} Hz) for 4 s")),
        (0.02..0.6f64, 0.5..4.0f64, 1.2..4.0f64)
            .prop_map(|(a, f, r)| format!("noise({a:.3} deg, {f:.3} Hz..{:.3} Hz) for 3 s", f * r)),
        (0.1..2.0f64, 1.0..9.0f64, 0.1..0.6f64)
            .prop_map(|(a, f, d)| format!("ring({a:.3} deg, {f:.3} Hz, damping: {d:.3})")),
        (-4.0..4.0f64, 0.15..2.0f64).prop_map(|(a, w)| format!("pulse({a:.3} deg, {w:.3} s)")),
        (-12.0..12.0f64, 0.5..2.0f64).prop_map(|(a, e)| format!("hold({a:.3} deg, ease: {e:.3} s) for 5 s")),
        (1.0..30.0f64, 0.3..2.0f64).prop_map(|(a, e)| format!("hold({a:.3} deg/s, ease: {e:.3} s) for 5 s")),
    ];
    (channel, wave, 0..3000u32).prop_map(|(channel, wave, at_ms)| format!("at {at_ms} ms {channel} {wave}"))
}

fn scene() -> impl Strategy<Value = String> {
    prop::collection::vec(layer(), 1..4)
        .prop_map(|layers| layers.iter().enumerate().map(|(k, layer)| format!("{layer} as l{k}\n")).collect())
}

/// A check is a search: few cases by default, as many as `PROPTEST_CASES` says when it says so.
fn few() -> ProptestConfig {
    let default = ProptestConfig::default();
    let cases = if std::env::var_os("PROPTEST_CASES").is_some() { default.cases } else { 8 };
    ProptestConfig { cases, ..default }
}

proptest! {
    #![proptest_config(few())]

    #[test]
    fn a_cleared_plan_never_leaves_a_limit(body in scene(), cranks: bool) {
        let bench = on_either(&body, cranks);
        let report = bench.check_at(1.0);
        // At the gain that fits, the scene stands at the very edge of what is allowed.
        let gain = if report.clear().is_some() { 1.0 } else { report.fits_gain.unwrap_or(0.0) };
        prop_assume!(gain > 0.0);
        let edge = bench.check_at(gain);
        prop_assert!(edge.clear().is_some(), "said to fit at {}: {:?}", gain, edge.findings);
        let inside = stays_inside(edge.plan(), 20);
        prop_assert!(inside.is_ok(), "{:?}\n{}", inside, body);
    }

    #[test]
    fn the_gain_that_fits_is_the_largest(body in scene(), cranks: bool) {
        let bench = on_either(&body, cranks);
        let report = bench.check_at(1.0);
        prop_assume!(report.clear().is_none());
        let Some(gain) = report.fits_gain else { return Ok(()) };
        let beyond = bench.check_at(gain + 0.003);
        prop_assert!(beyond.clear().is_none(), "fits at {} and still at 0.003 more", gain);
        for part in [0.97, 0.85, 0.6, 0.4, 0.1] {
            let below = bench.check_at(gain * part);
            prop_assert!(below.clear().is_some(), "fits at {} but not at {}: {:?}", gain, gain * part, below.findings);
        }
    }

    #[test]
    fn the_report_is_the_same_on_any_number_of_threads(body in scene()) {
        same_on_any_number_of_threads(&on_demo(&body));
    }

    #[test]
    fn margins_are_the_peaks_of_the_plain_samples(body in scene()) {
        let bench = on_demo(&body);
        let report = bench.check_at(1.0);
        let mut frames = bench.plan.frames();
        let mut fastest = [0.0_f64; 2];
        for block in 0..bench.plan.blocks() {
            bench.plan.render(block, &mut frames);
            for (leg, fastest) in fastest.iter_mut().enumerate() {
                *fastest = frames.legs[leg].0[1][..frames.count].iter().fold(*fastest, |most, v| most.max(v.abs()));
            }
        }
        for (leg, actuator) in bench.plan.rig().actuators.iter().enumerate() {
            let margin = report.margins.iter().find(|m| m.part == actuator.name && m.quantity == Quantity::Speed).unwrap();
            prop_assert!(margin.bound.abs() >= fastest[leg], "{} and not {}", margin.bound, fastest[leg]);
            // The bound costs little: a few parts in a hundred of the peak at most (3.1 for a strongly damped ring at 9 Hz,
            // whose envelope is loose).
            prop_assert!(margin.bound.abs() <= fastest[leg] * 1.05 + 1e-6, "{} for {}", margin.bound, fastest[leg]);
        }
    }
}

/// Its bytes, whoever is the faster thread.
fn same_on_any_number_of_threads(bench: &Bench) {
    let reports = [1, 2, 3].map(|threads| {
        let report = check::run(&bench.plan, &bench.sources, &Threads::new(threads), &|_| {});
        format!("{:?} {:?} {:?} {:?}", report.findings, report.margins, report.layers, report.fits_gain)
    });
    assert_eq!(reports[0], reports[1]);
    assert_eq!(reports[0], reports[2]);
}

/// Swings of one size: what is known of one stretch is as near as can be to what a look at another says. The first was
/// found by chance.
#[test]
fn peaks_alike_in_many_stretches_are_told_alike_on_any_number_of_threads() {
    for body in [
        "at 345 ms pitch sweep(0.2 deg, 0.2 Hz, 2 Hz) for 4 s",
        "at 0 s pitch sweep(0.2 deg, 0.2 Hz, 2 Hz) for 60 s\nexpect peak pitch >= 0.1 deg",
        "at 1 s roll hold(3 deg, ease: 1 s) for 20 s",
    ] {
        same_on_any_number_of_threads(&on_demo(body));
    }
}

/// Where a crank cannot follow, the check says so, and in words: no number that is none.
#[test]
fn a_motion_past_a_dead_point_is_refused_in_words() {
    let report = on_either("at 0 s pitch hold(25 deg, ease: 3 s) for 8 s", true).check_at(1.0);
    assert!(report.clear().is_none());
    let found = rules(&report);
    assert!(
        found.contains(&"stroke") && found.contains(&"joint-angle") && found.contains(&"speed"),
        "{found:?}"
    );
    for finding in &report.findings {
        let title = &finding.diagnostic.title;
        assert!(
            !title.contains("not a number") && !title.contains("NaN") && !title.contains("infinite"),
            "{title}"
        );
    }
    let stroke = report.findings.iter().find(|finding| finding.diagnostic.rule == "stroke").unwrap();
    assert!(stroke.diagnostic.title.contains("the crank of `left` would have to stand at"), "{stroke:?}");
    assert_eq!(stroke.limit.map(|limit| limit.abs().to_degrees().round()), Some(55.0));
    let gain = report.fits_gain.unwrap();
    assert!(gain > 0.2 && gain < 0.33, "{gain}");
}

#[test]
fn the_layer_that_does_it_is_blamed_by_its_share() {
    let bench = on_demo("at 0 s pitch pulse(9 deg, 0.5 s) as big\nat 0 s pitch pulse(1 deg, 0.5 s) as small");
    let report = bench.check_at(1.0);
    let finding = report.findings.iter().find(|f| f.diagnostic.rule == "speed").expect("too fast");
    let shares: Vec<_> = finding.blame.iter().map(|blame| blame.share).collect();
    assert!((shares[0] - 0.9).abs() < 1e-9 && (shares[1] - 0.1).abs() < 1e-9, "{shares:?}");
    assert!(finding.blame[0].label.contains("big"), "{:?}", finding.blame);
    let line = bench.sources.place(finding.diagnostic.primary.span).1.line;
    assert_eq!(line, 2);
}

#[test]
fn what_would_fit_in_the_layer_is_given_in_its_own_number_and_fits() {
    let bench = on_demo("at 0 s pitch pulse(9 deg, 0.5 s)");
    let report = bench.check_at(1.0);
    let fix = report.findings.iter().find_map(|f| f.diagnostic.fixes.first().cloned()).expect("a fix");
    let worst = report.findings.iter().filter_map(|f| Some(f.diagnostic.fixes.first()?.replacement.clone()));
    let least =
        worst.map(|text| text.trim_end_matches(" deg").parse::<f64>().unwrap()).fold(f64::INFINITY, f64::min);
    assert!(fix.replacement.ends_with(" deg"), "{fix:?}");
    let mended = on_demo(&format!("at 0 s pitch pulse({least} deg, 0.5 s)"));
    assert!(mended.check_at(1.0).clear().is_some(), "{:?}", mended.check_at(1.0).findings);
    let more = on_demo(&format!("at 0 s pitch pulse({} deg, 0.5 s)", least * 1.01));
    assert!(more.check_at(1.0).clear().is_none());
}

#[test]
fn two_mistakes_apart_in_time_are_both_found() {
    let bench = on_demo("at 0 s pitch pulse(9 deg, 0.5 s)\nat 30 s roll pulse(9 deg, 0.4 s)");
    let report = bench.check_at(1.0);
    let grave = report.findings.iter().filter(|f| f.diagnostic.severity > Severity::Note);
    let found: std::collections::BTreeSet<_> =
        grave.map(|f| (bench.sources.place(f.diagnostic.primary.span).1.line, f.diagnostic.rule)).collect();
    // The energy that both give back is the scene's, and stands at its line.
    let lines: std::collections::BTreeSet<_> = found.iter().map(|(line, _)| *line).collect();
    assert_eq!(lines.into_iter().collect::<Vec<_>>(), [1, 2, 3], "{found:?}");
    assert!(found.iter().all(|(line, rule)| (*line == 1) == (*rule == "returned-energy")), "{found:?}");
}

#[test]
fn a_long_roll_fails_the_joint_and_says_the_exact_gain() {
    let bench = on_demo("at 0 s roll hold(20 deg, ease: 4 s) for 12 s");
    let report = bench.check_at(1.0);
    let finding =
        report.findings.iter().find(|f| f.diagnostic.rule == "joint-angle").expect("beyond the joint");
    let limit = bench.plan.rig().axes.iter().find(|a| a.axis == cueloom::rig::Axis::Roll).unwrap().max;
    let exact = limit / 20.0_f64.to_radians();
    let found = finding.fits_gain.expect("a gain");
    assert!(found <= exact && found > exact - 0.0011, "{found} and {exact}");
}

#[test]
fn a_fast_swing_near_an_end_cannot_be_stopped_in_time() {
    // Inside every other limit; only a stop called on the way to the end would not come in time.
    let rig = RIG.to_string();
    let bench = Bench::on(&rig, "at 0 s pitch sine(7 deg, 0.4 Hz) for 20 s  rise 5 s  fall 5 s");
    let report = bench.check_at(1.0);
    let margin = |quantity| {
        let of = report.margins.iter().filter(|m| m.quantity == quantity).map(|m| m.used);
        of.fold(0.0, f64::max)
    };
    let still = Bench::on(&rig, "at 0 s pitch hold(7 deg, ease: 8 s) for 20 s").check_at(1.0);
    let slow =
        still.margins.iter().filter(|m| m.quantity == Quantity::Stopping).map(|m| m.used).fold(0.0, f64::max);
    assert!(margin(Quantity::Stopping) > margin(Quantity::Stroke), "a moving platform runs on");
    assert!(slow < margin(Quantity::Stopping), "and a slower one less");
}

#[test]
fn energy_in_an_avoided_band_is_found_and_energy_beside_it_is_not() {
    let band = {
        let bench = on_demo("at 0 s roll pulse(0.1 deg, 1 s)");
        let avoid = bench.plan.rig().avoid.first().cloned().expect("the demo rig avoids a band");
        (f64::midpoint(avoid.low_hz, avoid.high_hz), avoid.low_hz)
    };
    let inside = on_demo(&format!("at 0 s roll sine(0.02 deg, {:.3} Hz) for 12 s", band.0)).check_at(1.0);
    assert_eq!(rules(&inside), ["avoided-band"], "{:?}", inside.findings);
    assert_eq!(inside.fits_gain, None, "a share does not shrink with the gain");
    let beside =
        on_demo(&format!("at 0 s roll sine(0.02 deg, {:.3} Hz) for 12 s", band.1 * 0.6)).check_at(1.0);
    assert_eq!(rules(&beside), Vec::<&str>::new());
}

#[test]
fn expectations_are_held_against_the_motion() {
    let holds = on_demo(
        "at 0 s roll sine(2 deg, 0.5 Hz) for 20 s as s\nexpect peak roll <= 2.01 deg\nexpect peak roll >= 1.9 deg\nexpect rms roll <= 1.5 deg\nexpect peak pitch <= 0.001 deg\nexpect margin >= 10 %",
    );
    assert_eq!(rules(&holds.check_at(1.0)), Vec::<&str>::new(), "{:?}", holds.check_at(1.0).findings);
    let fails = on_demo(
        "at 0 s roll sine(2 deg, 0.5 Hz) for 20 s as s\nexpect peak roll <= 1 deg\nexpect rms roll >= 1.5 deg over 5 s .. 15 s\nexpect margin >= 95 %",
    );
    let report = fails.check_at(1.0);
    let unmet = report.findings.iter().filter(|f| f.diagnostic.rule == "unmet-expectation").count();
    assert_eq!(unmet, 3, "{:?}", report.findings);
    let peak = report.findings.iter().find(|f| f.fits_gain.is_some()).expect("a peak scales with the gain");
    assert!((peak.fits_gain.unwrap() - 0.5).abs() < 0.002);
    // A sine's r.m.s. is its amplitude over the root of two.
    let rms = report.findings.iter().find(|f| f.diagnostic.title.contains("r.m.s.")).unwrap();
    assert!((rms.value.unwrap() - 2.0_f64.to_radians() / 2.0_f64.sqrt()).abs() < 1e-4, "{:?}", rms.value);
}

#[test]
fn margins_are_less_by_what_legs_strayed_and_the_report_says_so() {
    let bench = on_demo("at 0 s roll sine(2 deg, 0.5 Hz) for 20 s");
    let check = |stray_m: &[f64]| {
        check::run(&bench.plan.with_stray(stray_m.to_vec()), &bench.sources, &Threads::new(2), &|_| {})
    };
    let limit = |report: &Report, quantity, part: &str| {
        let mine = |margin: &&Margin| margin.quantity == quantity && margin.part == part;
        report.margins.iter().find(mine).unwrap().limit.abs()
    };
    let (before, after) = (check(&[]), check(&[0.001, 0.002]));
    for (part, stray_m) in [("left", 0.001), ("right", 0.002)] {
        for quantity in [Quantity::Stroke, Quantity::Stopping] {
            let less = limit(&before, quantity, part) - limit(&after, quantity, part);
            assert!((less.abs() - stray_m).abs() < 1e-12, "{part}: {less}");
        }
    }
    assert!(limit(&after, Quantity::JointAngle, "roll") < limit(&before, Quantity::JointAngle, "roll"));
    assert!(!before.bound.contains("strayed"), "{}", before.bound);
    assert!(after.bound.ends_with("in runs on drives before: left 1 mm, right 2 mm"), "{}", after.bound);
    // What is cleared is the plan on the rig of its file.
    assert_eq!(after.clear().unwrap().plan().rig(), bench.plan.rig());
    // No stroke is left: nothing fits, and the reason is the only finding.
    let report = check(&[0.0, 0.5]);
    let [finding] = &report.findings[..] else { panic!("{:?}", report.findings) };
    assert_eq!((finding.diagnostic.rule, finding.value, report.fits_gain), ("tracking", Some(0.5), None));
    assert!(report.clear().is_none());
}

#[test]
fn a_band_above_half_the_rate_is_refused() {
    let bench = on_demo("at 0 s pitch sine(0.0001 deg, 300 Hz) for 1 s");
    assert!(rules(&bench.check_at(1.0)).contains(&"sample-band"));
}

#[test]
fn an_axis_that_the_rig_lacks_is_refused_by_name() {
    let text = "scene \"x\" {\n at 0 s heave pulse(4 mm, 0.3 s)\n}\n";
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new("x.cues", text));
    let resolved = resolve(&cueloom::lang::parse(source, text).file, source, None, &mut sources, &NoFiles);
    let rig = cueloom::rig::load(source, RIG).rig.unwrap();
    let scenario = Arc::new(resolved.scenario.unwrap());
    let rig = Arc::new(rig);
    let errors = Plan::new(scenario.clone(), rig.clone(), 1.0, SampleRate::new(1000).unwrap()).unwrap_err();
    let words = check::refusals(&scenario, &rig, &errors);
    assert_eq!(words.len(), 1);
    assert_eq!(words[0].title, "the rig has no heave");
}

#[test]
fn a_day_with_one_cue_an_hour_is_checked_by_its_cues_alone() {
    // 86 million samples at 1 kHz; all but a minute of them are idle and must cost nothing.
    let body: String = (0..24).map(|h| format!("at {h}:00:01 pitch pulse(1 deg, 1 s) as p{h}\n")).collect();
    let (day, hour) =
        (on_demo(&body).check_at(1.0), on_demo("at 0:00:01 pitch pulse(1 deg, 1 s)").check_at(1.0));
    assert!(day.clear().is_some());
    // What adds up over a play depends on how long it is.
    let adds_up = |margin: &&Margin| {
        matches!(margin.quantity, Quantity::MotorHeat | Quantity::ScrewLife | Quantity::ReturnedEnergy)
    };
    for day in day.margins.iter().filter(|margin| !adds_up(margin)) {
        let same = |hour: &&Margin| (hour.part == day.part) && hour.quantity == day.quantity;
        let hour = hour.margins.iter().find(same).expect("the same margin");
        // Means over windows stand on a grid that begins with the scene, so the cue lies in them a little otherwise.
        let is_mean = matches!(day.quantity, Quantity::DriveCurrent | Quantity::MotorRms);
        let near = if is_mean { 0.02 * hour.used } else { 1e-6 };
        assert!((day.used - hour.used).abs() < near, "{day:?} {hour:?}");
    }
}
