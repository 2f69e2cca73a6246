//! What the check says of screws, motors, brakes and structure: rigs with one planted mistake each, and one sizing
//! example that docs/sizing-example.md works out by hand.
//!
//! `tests/cases/mechanics/NAME.txt`: `#` says what is wrong, `rule` names the rule that must find it, lines after `> `
//! are the scene's, and of the demo rig lines after `- ` are replaced by those after `+ `.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

use cueloom::check::{self, Margin, Quantity, Report};
use cueloom::diag::render_short;
use cueloom::rig::demand::Demands;
use cueloom::rig::mechanics::rms_window::RmsWindow;
use cueloom::threads::Threads;
use std::f64::consts::{PI, TAU};
use std::sync::Arc;

#[path = "bench/scene.rs"]
mod bench;

use bench::{Bench, RIG};

const LIFT: &str = include_str!("cases/mechanics/lift.toml");

fn margin(report: &Report, quantity: Quantity) -> &Margin {
    report.margins.iter().find(|margin| margin.quantity == quantity).unwrap()
}

#[test]
fn each_planted_mistake_is_found() {
    insta::with_settings!({snapshot_path => "cases/mechanics/expected", prepend_module_to_snapshot => false, omit_expression => true}, {
        insta::glob!("cases/mechanics", "*.txt", |path| {
            let words = std::fs::read_to_string(path).unwrap();
            let (mut rig, mut body, mut rule, mut what) = (RIG.to_string(), String::new(), "", "");
            let mut old = None;
            for line in words.lines() {
                match line.split_once(' ').unwrap_or((line, "")) {
                    ("#", text) => what = text,
                    ("rule", text) => rule = text,
                    (">", text) => body += &format!("    {text}\n"),
                    ("-", text) => old = Some(text),
                    ("+", text) => {
                        let from: &str = old.take().expect("a line to replace");
                        assert!(rig.contains(from), "{}: {from}", path.display());
                        rig = rig.replace(from, text);
                    }
                    _ => panic!("{}: {line}", path.display()),
                }
            }
            let bench = Bench::on(&rig, &body);
            let report = bench.check_at(1.0);
            assert!(
                report.findings.iter().any(|finding| finding.diagnostic.rule == rule),
                "{}: {:?}", path.display(), report.findings.iter().map(|f| &f.diagnostic.title).collect::<Vec<_>>()
            );
            let mut said = format!("{what}\n");
            for finding in report.findings.iter().filter(|finding| finding.diagnostic.rule == rule) {
                said += &format!("\n{}\n", render_short(&finding.diagnostic, &bench.sources));
                finding.diagnostic.help.iter().for_each(|help| said += &format!("  help: {help}\n"));
                finding.blame.iter().for_each(|blame| {
                    said += &format!("  {:.0} % {}\n", blame.share * 100.0, blame.label);
                });
            }
            // What is said to fit does, and a little more does not.
            let gain = report.findings.iter().find(|finding| finding.diagnostic.rule == rule).unwrap().fits_gain;
            if let Some(gain) = gain {
                let fails = |gain: f64| bench.check_at(gain).findings.iter().any(|f| f.diagnostic.rule == rule);
                assert!(!fails(gain) && fails(gain + 0.002), "{}: {gain}", path.display());
            }
            insta::assert_snapshot!(said);
        });
    });
}

/// Everything that the demo rig file gives is looked at, and the same on any number of threads.
#[test]
fn nothing_of_the_demo_is_left_out() {
    let bench = Bench::on(RIG, "pitch sine(2 deg, 1 Hz) for 6 s\nroll pulse(4 deg, 1.2 s)");
    let report = bench.check_at(1.0);
    assert_eq!(report.not_checked, []);
    let threads = check::run(&bench.plan, &bench.sources, &Threads::all(), &|_| {});
    assert_eq!(report.margins, threads.margins);
    assert_eq!(report.findings, threads.findings);
    for quantity in [Quantity::MotorTorque, Quantity::BrakeHolding, Quantity::Clearance, Quantity::ScrewLife]
    {
        assert!(margin(&report, quantity).used > 0.0, "{quantity:?}");
    }
    assert!(report.bound.contains("forces, torques and clearances sampled at"), "{}", report.bound);
}

/// Calm stretches are looked at less often than quick ones: neither hides a torque that a look at every sample finds, and
/// what is summed over them comes within half a percent of a sum over all.
#[test]
fn a_look_at_every_sample_finds_no_more() {
    let scenes = [
        "pitch sine(3 deg, 0.4 Hz) for 20 s rise 4 s fall 4 s",
        "roll pulse(3 deg, 0.4 s)\nat 6.1 s  pitch hold(2 deg, ease: 0.6 s) for 4 s",
        "pitch ring(0.4 deg, 9 Hz, damping: 0.3)\nat 5 s  roll noise(0.5 deg, 1 Hz..5 Hz) for 10 s rise 2 s fall 2 s",
        "pitch sine(1 deg, 2 Hz) for 12 s rise 0.2 s fall 0.2 s",
        "pitch sine(0.2 deg -> 1 deg, 1 Hz) for 20 s rise 2 s fall 2 s",
        "roll sine(3 deg, 1.3 Hz) for 20 s rise 2 s fall 2 s",
    ];
    for scene in scenes {
        let bench = Bench::on(RIG, scene);
        let report = bench.check_at(1.0);
        let (plan, rig) = (report.plan(), Arc::clone(report.plan().rig()));
        let demands = Demands::new(&rig);
        let (mut moment, mut jets) =
            (demands.moment(), vec![cueloom::signal::Jet::default(); rig.axes.len()]);
        let window_s = rig.actuators[0].parts.motor.as_ref().unwrap().window_s;
        let ticks = (window_s * f64::from(plan.rate().hz())) as u64;
        assert!(demands.at(&[], &[], &[], &mut moment));
        let rests = moment.torques_nm.concat();
        let mut windows: Vec<_> = rests.iter().map(|rest| RmsWindow::new(ticks, *rest).unwrap()).collect();
        let mut most_nm = 0.0_f64;
        for sample in 0..plan.samples() {
            plan.platform_at(plan.rate().at_s(sample), &mut jets);
            let order = |order: usize| jets.iter().map(|jet| jet.0[order]).collect::<Vec<f64>>();
            assert!(demands.at(&order(0), &order(1), &order(2), &mut moment));
            let torques = moment.torques_nm.concat();
            most_nm = torques.iter().fold(most_nm, |most, torque| most.max(torque.abs()));
            windows.iter_mut().zip(&torques).for_each(|(window, torque)| window.push(*torque));
        }
        let found = margin(&report, Quantity::MotorTorque);
        let (bound, peak) = (found.bound.abs() / most_nm, found.peak.abs() / most_nm);
        assert!(bound > 1.0 - 1e-4 && bound < 1.01 && peak > 1.0 - 1e-4, "{scene}: {bound} {peak}");
        let rms_nm = windows.iter().map(RmsWindow::peak).fold(0.0, f64::max);
        let rms = margin(&report, Quantity::MotorRms).peak / rms_nm;
        assert!((rms - 1.0).abs() < 0.005, "{scene}: {rms}");
    }
}

#[test]
fn what_the_file_lacks_is_said() {
    let (without, _) = RIG.split_once("\n[motor]\n").unwrap();
    let bench = Bench::on(without, "pitch sine(2 deg, 1 Hz) for 6 s");
    let report = bench.check_at(1.0);
    let lacks =
        |rule: &str| report.not_checked.iter().find(|found| found.rule == rule).map(|found| found.missing);
    assert_eq!(lacks("motor-torque"), Some("[motor] for every actuator"));
    assert_eq!(lacks("brake-holding"), Some("[brake] for every actuator"));
    assert_eq!(lacks("supply-power"), Some("[supply]"));
    assert_eq!(lacks("resonance"), Some("[stiffness]"));
    assert_eq!(lacks("buckling"), None);
    assert!(report.margins.iter().all(|margin| margin.quantity != Quantity::MotorTorque));
}

/// The numbers of docs/sizing-example.md, worked from the formulas there and not by this program: one leg lifts
/// 100 kg up and down by 50 mm at 0.5 Hz. Source of the formulas: servo sizing, common practice; life: ISO 3408-5 form
/// (from memory).
#[test]
fn the_sizing_example_by_hand() {
    let report = Bench::on(LIFT, "heave sine(50 mm, 0.5 Hz) for 300 s rise 4 s fall 4 s").check_at(1.0);
    let (platform_kg, sliding_kg, g, lead_m) = (100.0, 2.5, 9.80665, 0.005);
    let (turning_kg_m2, drag_nm, forward, back) = (5e-5, 0.03, 0.9, 0.88);
    let (k, peak_m_s2) = (TAU / lead_m, (PI * PI) * 0.05);
    let mass = platform_kg + sliding_kg;
    let inertia = |efficiency: f64| turning_kg_m2 * k + mass / k * efficiency;
    // The hardest instant: at the lowest point, about to rise.
    let torque_nm = mass * g / k / forward + drag_nm + inertia(1.0 / forward) * peak_m_s2;
    assert!((torque_nm - 0.9945).abs() < 1e-4, "{torque_nm}");
    let found = margin(&report, Quantity::MotorTorque);
    assert!((found.bound / torque_nm - 1.0).abs() < 2e-3, "{found:?}");
    // R.m.s. over one period: up and down are different lines with the same swing about each.
    let square = |level_nm: f64, swing_nm: f64| level_nm * level_nm + swing_nm * swing_nm / 2.0;
    let up = square(mass * g / k / forward + drag_nm, inertia(1.0 / forward) * peak_m_s2);
    let down = square(mass * g / k * back - drag_nm, inertia(back) * peak_m_s2);
    let rms_nm = f64::midpoint(up, down).sqrt();
    assert!((rms_nm - 0.8073).abs() < 1e-4, "{rms_nm}");
    let rig = Arc::clone(report.plan().rig());
    let demands = Demands::new(&rig);
    let mut moment = demands.moment();
    let squares = (0..4000).map(|k| {
        let (sin, cos) = libm::sincos(TAU * (f64::from(k) + 0.5) / 4000.0);
        assert!(demands.at(&[0.05 * sin], &[0.05 * PI * cos], &[-peak_m_s2 * sin], &mut moment));
        moment.torques_nm[0][0] * moment.torques_nm[0][0]
    });
    let found_nm = (squares.sum::<f64>() / 4000.0).sqrt();
    assert!((found_nm / rms_nm - 1.0).abs() < 1e-3, "{found_nm}");
    // Standing still counts as about to lift, and here that is the larger.
    let still_nm = mass * g / k / forward + drag_nm;
    assert!((margin(&report, Quantity::MotorRms).peak / still_nm - 1.0).abs() < 1e-3);
    assert!((margin(&report, Quantity::DriveCurrent).peak * 0.8 / still_nm - 1.0).abs() < 1e-3);
    // Speed: 157.1 mm/s, 1885 rpm.
    assert!((margin(&report, Quantity::ScrewSpeed).peak - 0.05 * PI).abs() < 1e-4);
    // Life: cubic mean load over 20 turns a second.
    let mean_n = platform_kg * libm::cbrt(g * g * g + g * peak_m_s2 * peak_m_s2);
    let hours = libm::pow(9000.0 / mean_n, 3.0) * 1e6 / 20.0 / 3600.0;
    assert!((hours - 10_708.6).abs() < 2.0, "{hours}");
    let found = margin(&report, Quantity::ScrewLife).peak / 3600.0;
    assert!((found / hours - 1.0).abs() < 0.025, "{found} {hours}");
}
