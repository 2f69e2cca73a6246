//! Scenes resolved from text: what is dated, and what is said about mistakes.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

#[path = "scenario/broken.rs"]
mod broken;
#[path = "scenario/desk.rs"]
mod desk;
#[path = "scenario/library.rs"]
mod library;
#[path = "scenario/soup.rs"]
mod soup;

use cueloom::diag::Severity;
use cueloom::scenario::{Content, Layer};
use cueloom::signal::{Factor, Order};
use desk::{deg, gain, near, page, run, scene, signal, starts};

#[test]
fn labels_are_times_before_they_are_set_and_in_inner_bodies() {
    let scene = scene(
        r#"scene "s" {
            at turn.end + 2 s  pitch pulse(1 deg, 1 s)  as bump
            at 3 s             roll hold(2 deg, ease: 1 s) for 5 s  as turn
            at 4 s             { at bump.end - 0.5 s  pitch pulse(1 deg, 1 s)
                                 at 0.25 s  roll pulse(1 deg, 1 s) }
            at (turn + bump) / 2  roll pulse(1 deg, 1 s)
        }"#,
    );
    // turn 3..8, bump 10..11, inner 10.5 and 4.25, the middle of 3 and 10.
    assert_eq!(starts(&scene), [10.0, 3.0, 10.5, 4.25, 6.5]);
    assert_eq!(scene.length_s, 11.5);
    let names: Vec<_> = scene.placements.iter().map(|placement| placement.name.as_str()).collect();
    assert_eq!(names, ["bump", "turn", "block", "roll pulse"]);
    assert_eq!(scene.placements[2].length_s, 7.5);
    assert_eq!(scene.layers[2].label, "pitch pulse");
    assert_eq!(scene.layers[2].placement, 2);
}

#[test]
fn every_fires_by_time_from_its_start_until_its_end() {
    let scene = scene(
        r#"scene "s" {
            during 1 s .. 5.5 s every 2 s  pitch pulse(1 deg, 0.2 s)  as bumps
            during bumps every 0.7 s after 0.2 s  roll pulse(1 deg, 0.2 s)
            during 0 s .. 4 s every 2 s  roll pulse(1 deg, 0.2 s)
        }"#,
    );
    assert_eq!(starts(&scene), [1.0, 3.0, 5.0, 1.2, 1.9, 2.6, 3.3, 4.0, 4.7, 5.4, 0.0, 2.0]);
    // 0.1 + 0.2 is a little more than 0.3 in binary; the end still does not fire.
    let scene = self::scene(
        r#"scene "s" { at 0.1 s  { every 0.1 s  pitch pulse(1 deg, 0.2 s) }  for 0.2 s
                        during 0.7 s .. 0.8 s every 0.1 s  pitch pulse(1 deg, 0.2 s) }"#,
    );
    assert_eq!(starts(&scene), [0.1, 0.2, 0.7]);
}

#[test]
fn every_by_distance_solves_the_exact_integral() {
    // v = 0 to 20 m/s over 10 s: s = t^2; joints every 5 m, the first at the start, the mains 2 m behind.
    let scene = scene(
        r#"cue slabs(speed: kt) {
            every 5 m at speed            pitch pulse(1 deg, 0.2 s)
            every 5 m after 2 m at speed  roll pulse(1 deg, 0.2 s)
        }
        scene "s" { at 3 s  slabs(0 m/s -> 20 m/s) for 10 s }"#,
    );
    let exact = |first: f64| (0..20).map(move |n| 3.0 + (first + 5.0 * f64::from(n)).sqrt());
    let expected: Vec<f64> = exact(0.0).chain(exact(2.0)).collect();
    let found = starts(&scene);
    assert_eq!(found.len(), 40);
    for (found, expected) in found.iter().zip(&expected) {
        near(*found, *expected, 0.6e-9);
    }
    // 4 kt to 40 kt over 22 s, slabs of 6 m: s = v0 t + (v1 - v0) t^2 / 2T, solved by the quadratic formula.
    let scene = self::scene(
        r#"scene "s" { during 1 s .. 23 s every 6 m at 4 kt -> 40 kt  pitch pulse(1 deg, 0.2 s) }"#,
    );
    let (v0, v1) = (4.0 * 1852.0 / 3600.0, 40.0 * 1852.0 / 3600.0);
    let half = (v1 - v0) / 44.0;
    let total: f64 = (v0 + v1) / 2.0 * 22.0;
    let expected: Vec<f64> = (0..(total / 6.0).ceil() as usize)
        .map(|n| 1.0 + ((v0 * v0 + 4.0 * half * 6.0 * n as f64).sqrt() - v0) / (2.0 * half))
        .collect();
    let found = starts(&scene);
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(&expected) {
        near(*found, *expected, 0.6e-9);
    }
}

#[test]
fn ramps_run_over_their_statement_and_on() {
    let scene = scene(
        r#"cue thump(size: deg) { at 1 s  pitch pulse(size, 0.5 s) }
        scene "s" {
            at 2 s  roll sine(1 deg -> 3 deg, 1 Hz) for 4 s
            during 10 s .. 14 s every 1.5 s  pitch pulse(2 deg -> 6 deg, 1.5 s)
            at 20 s  { let size = 1 deg -> 2 deg
                       roll sine(size, 1 Hz)
                       at 9.5 s  pitch pulse(size, 2 s) }  for 10 s
            at 40 s  thump(1 deg -> 4 deg)
        }"#,
    );
    let layers = &scene.layers;
    near(gain(&layers[0], 2.0), deg(1.0), 1e-15);
    near(gain(&layers[0], 5.0), deg(2.5), 1e-15);
    // Repetitions at 10, 11.5 and 13 share one ramp over 10..14; the last plays out to 14.5, where it has gone on.
    near(gain(&layers[3], 13.0), deg(5.0), 1e-15);
    near(gain(&layers[3], 14.5), deg(6.5), 1e-15);
    // A let's ramp runs over its body, 20..30; the pulse plays out to 31.5.
    near(gain(&layers[5], 30.0), deg(2.0), 1e-15);
    near(gain(&layers[5], 31.0), deg(2.1), 1e-14);
    assert_eq!((signal(&layers[5]).start_s, signal(&layers[5]).length_s), (29.5, 2.0));
    // An argument's ramp runs over the placed cue, which is as long as what is in it: 1.5 s.
    near(gain(&layers[6], 41.5), deg(4.0), 1e-15);
    near(gain(&layers[6], 41.0), deg(3.0), 1e-15);
}

#[test]
fn edges_by_default_and_as_said() {
    let scene = scene(
        r#"scene "s" {
            at 1 s   roll sine(1 deg, 1 Hz) for 4 s
            at 1 s   pitch sine(1 deg, 1 Hz) for 0.6 s  fall 0.3 s
            at 1 s   pitch ring(1 deg, 3 Hz)
            at 10 s  { roll noise(0.1 deg, 1 Hz..2 Hz)
                       at 3.9 s  pitch pulse(1 deg, 1 s) }  for 4 s  rise 1 s  fall 2 s  gain -6 dB
        }"#,
    );
    let edges = |k: usize| {
        let edges = signal(&scene.layers[k]).factors.iter().filter_map(|factor| match factor {
            Factor::Rise { start_s, length_s } => Some(('r', *start_s, *length_s)),
            Factor::Fall { end_s, length_s } => Some(('f', *end_s, *length_s)),
            Factor::Gain(_) => None,
        });
        edges.collect::<Vec<_>>()
    };
    assert_eq!(edges(0), [('r', 1.0, 0.25), ('f', 5.0, 0.25)]);
    assert_eq!(edges(1), [('r', 1.0, 0.15), ('f', 1.6, 0.3)]);
    assert_eq!(edges(2), []);
    assert_eq!(edges(3), [('r', 10.0, 1.0), ('f', 14.0, 2.0), ('r', 10.0, 0.25), ('f', 14.0, 0.25)]);
    // The pulse started in time, but the fall closes it at 14; the rise is over by then.
    assert_eq!(edges(4), [('f', 14.0, 2.0)]);
    near(signal(&scene.layers[4]).length_s, 0.1, 1e-12);
    near(gain(&scene.layers[4], 13.0), deg(1.0) * 0.501_187_233_627_272_2, 1e-15);
    near(scene.length_s, 14.0, 1e-12);
}

#[test]
fn lengths_come_from_what_things_are() {
    let scene = scene(
        r#"cue open() { roll sine(1 deg, 1 Hz) }
        cue closed() { at 2 s  open() for 3 s
                       pitch pulse(1 deg, 1 s) }
        scene "s" {
            at 1 s  closed()  as c
            at 1 s  { open()
                      at 2 s  pitch hold(1 deg, ease: 1 s) }  for 6 s  as o
            at 1 s  sound file("chirp.wav", -8 dB)
            at 1 s  sound loop("turbine.wav", 50 %) for 12 s
        }"#,
    );
    let lengths: Vec<_> = scene.placements.iter().map(|placement| placement.length_s).collect();
    assert_eq!(lengths, [5.0, 6.0, 0.8, 12.0]);
    // Open things last to the end of what they stand in.
    assert_eq!((signal(&scene.layers[2]).start_s, signal(&scene.layers[2]).length_s), (1.0, 6.0));
    assert_eq!((signal(&scene.layers[3]).start_s, signal(&scene.layers[3]).length_s), (3.0, 4.0));
    let Content::SoundFile { looped, level, length_s, .. } = &scene.layers[5].content else {
        panic!("no sound")
    };
    assert!(*looped && level.constant() == Some(0.5) && *length_s == 12.0);
    let Content::SoundFile { level, .. } = &scene.layers[4].content else { panic!("no sound") };
    near(level.constant().unwrap(), 0.398_107_170_553_497_2, 1e-15);
}

/// A layer's value at some times after its start, for comparing noise.
fn shape(layer: &Layer) -> Vec<f64> {
    let signal = signal(layer);
    (1..8).map(|n| signal.jet(signal.start_s + f64::from(n) * 0.37).0[0]).collect()
}

#[test]
fn seeds_come_from_labels_and_not_from_times_or_order() {
    let text = |first: &str, second: &str| {
        format!(
            "cue gusts() {{ roll noise(1 deg, 1 Hz..2 Hz)\n roll noise(1 deg, 1 Hz..2 Hz) }}\n\
             scene \"s\" {{\n at {first} gusts() for 5 s\n at {second} gusts() for 5 s as near\n }}"
        )
    };
    let a = scene(&text("0 s", "8 s"));
    let b = scene(&text("0 s", "2 s"));
    // The same label at another time: the same noise, shifted. The dice are the labels'.
    for (x, y) in shape(&a.layers[0]).iter().zip(shape(&b.layers[0])) {
        assert_eq!(*x, y);
    }
    for (x, y) in shape(&a.layers[2]).iter().zip(shape(&b.layers[2])) {
        near(*x, y, 1e-12);
    }
    // Another label, another place on the channel: other noise.
    assert!(shape(&a.layers[0]).iter().zip(shape(&a.layers[1])).any(|(x, y)| (x - y).abs() > 1e-4));
    assert!(shape(&a.layers[0]).iter().zip(shape(&b.layers[2])).any(|(x, y)| (x - y).abs() > 1e-4));
    // Repetitions differ.
    let c = scene("scene \"s\" { during 0 s .. 9 s every 4 s  roll noise(1 deg, 1 Hz..2 Hz) for 3 s }");
    assert_eq!(c.layers.len(), 3);
    assert!(shape(&c.layers[0]).iter().zip(shape(&c.layers[1])).any(|(x, y)| (x - y).abs() > 1e-4));
}

#[test]
fn the_unit_of_an_amplitude_decides_its_order() {
    let scene = scene(
        r#"scene "s" {
            at 0 s  roll  pulse(1 deg, 1 s)
            at 0 s  roll  pulse(1 deg/s, 1 s)
            at 0 s  heave pulse(0.1 g, 1 s)
            expect peak roll <= 10 deg/s
            expect rms heave >= 0.2 m/s^2 over 0.2 s .. 0.8 s
            expect margin >= 10 %
            expect peak sound <= -6 dB
        }"#,
    );
    // The largest swing of value, rate or acceleration, found on a fine grid, is the amplitude.
    for (k, order, amplitude) in [(0, 0, deg(1.0)), (1, 1, deg(1.0)), (2, 2, 0.980_665)] {
        let signal = signal(&scene.layers[k]);
        let largest =
            (0..=20_000).map(|n| signal.jet(f64::from(n) / 20_000.0).0[order].abs()).fold(0.0, f64::max);
        near(largest / amplitude, 1.0, 1e-6);
    }
    let expectations: Vec<_> =
        scene.expectations.iter().map(|e| (e.order, e.at_most, e.bound, e.over_s)).collect();
    assert_eq!(expectations[0], (Order::Rate, true, deg(10.0), (0.0, 1.0)));
    assert_eq!(expectations[1], (Order::Acceleration, false, 0.2, (0.2, 0.8)));
    assert_eq!(expectations[2], (Order::Value, false, 0.1, (0.0, 1.0)));
    near(expectations[3].2, 0.501_187_233_627_272_2, 1e-15);
}

#[test]
fn libraries_are_taken_once_and_without_their_scenes() {
    let (resolved, sources) = run(
        "use \"left.cues\"\nuse \"right.cues\"\nscene \"mine\" { at left / 3 m * 1 s  joint(0.1 deg)\n at right / 3 m * 1 s joint(0.1 deg) }",
        None,
    );
    assert!(resolved.diagnostics.is_empty(), "{}", page(&resolved.diagnostics, &sources));
    assert_eq!(resolved.scenes, ["mine"]);
    assert_eq!(starts(&resolved.scenario.unwrap()), [2.0, 4.0]);
}

#[test]
fn one_of_several_scenes_is_named() {
    let text =
        "scene \"a\" { at 1 s pitch ring(1 deg, 3 Hz) }\nscene \"b\" { at 2 s pitch ring(1 deg, 3 Hz) }";
    let (resolved, _) = run(text, Some("b"));
    assert!(resolved.diagnostics.is_empty());
    assert_eq!(starts(&resolved.scenario.unwrap()), [2.0]);
    let (resolved, _) = run(text, Some("c"));
    assert_eq!((resolved.diagnostics[0].rule, resolved.scenario.is_none()), ("scene", true));
    let (resolved, _) = run("let a = 3 s", None);
    assert_eq!((resolved.diagnostics[0].severity, resolved.diagnostics.len()), (Severity::Note, 1));
}

#[test]
fn traces_are_cut_and_start_where_they_are_told() {
    let scene = scene(
        r#"scene "s" {
            at 1 s  pitch trace(0.5 deg, "flight.csv", "pitch")
            at 1 s  roll  trace(1 deg, "flight.csv", "pitch", from: 4 s, below: 2 Hz) for 3 s
        }"#,
    );
    assert_eq!((signal(&scene.layers[0]).start_s, signal(&scene.layers[0]).length_s), (1.0, 10.0));
    assert_eq!(signal(&scene.layers[1]).length_s, 3.0);
    // The recording is sin(2 pi 0.2 t): slow against both band limits. At 5 s of the recording it is sin(2 pi).
    near(signal(&scene.layers[0]).jet(1.0 + 3.75).0[0], -deg(0.5), deg(0.005));
    near(signal(&scene.layers[1]).jet(1.0 + 1.0).0[0], 0.0, deg(0.01));
}

#[test]
fn the_rest_of_a_scene_is_dated_in_spite_of_mistakes() {
    let (resolved, _) = run(
        r#"scene "s" {
            at 1 s  seat.heave pulse(0.1 g, 0.2 s)
            at 2 s  pitch ring(1 m, 7 Hz)
            at 3 s  pitch ring(1 deg, 7 Hz)
        }"#,
        None,
    );
    assert_eq!(resolved.diagnostics.len(), 2);
    assert_eq!(starts(&resolved.scenario.unwrap()), [3.0]);
}

#[test]
fn all_twelve_examples_resolve_but_for_what_is_not_yet_understood() {
    let text = include_str!("cases/examples.cues");
    let (resolved, _) = run(text, Some("slabs"));
    assert!(resolved.scenes.len() >= 12);
    let mut whole = Vec::new();
    for title in resolved.scenes {
        let (resolved, sources) = run(text, Some(&title));
        let others: Vec<_> = resolved.diagnostics.iter().filter(|d| d.rule != "not-yet").cloned().collect();
        assert!(others.is_empty(), "{title}\n{}", page(&others, &sources));
        if resolved.diagnostics.is_empty() {
            whole.push(title);
        }
    }
    assert_eq!(whole, ["slabs", "run up", "sweep for the ear and the rig"]);
}

#[test]
fn long_chains_end_in_a_scene_or_a_message() {
    // Labels that refer backwards are shallow, however many.
    let mut text = String::from("scene \"s\" {\n at 0 s pitch pulse(1 deg, 1 s) as l0\n");
    for n in 1..3000 {
        text += &format!(" at l{}.end pitch pulse(1 deg, 1 s) as l{n}\n", n - 1);
    }
    assert_eq!(scene(&(text + "}")).length_s, 3000.0);
    // Forwards they are deep: a message, no overflow of the stack.
    let mut text = String::from("scene \"s\" {\n");
    for n in 0..3000 {
        text += &format!(" at l{}.end pitch pulse(1 deg, 1 s) as l{n}\n", n + 1);
    }
    let (resolved, _) = run(&(text + " at 1 s pitch pulse(1 deg, 1 s) as l3000\n}"), None);
    assert!(resolved.diagnostics.iter().any(|d| d.rule == "limit"));
    // Nesting beyond any need.
    for (open, close) in [("(", ")"), ("-", ""), ("min(", ")")] {
        let text = format!("let x = {}1{}\nscene \"s\" {{ }}", open.repeat(20_000), close.repeat(20_000));
        assert!(!run(&text, None).0.diagnostics.is_empty(), "{open}");
    }
    let text =
        format!("scene \"s\" {{ {} pitch pulse(1 deg, 1 s) {} }}", "{ ".repeat(20_000), "} ".repeat(20_000));
    assert!(!run(&text, None).0.diagnostics.is_empty());
    // A value that doubles its terms with every let.
    let mut text = String::from("scene \"s\" { at 0 s {\n let x0 = ease(1 kt -> 2 kt, 1 kt..2 kt)\n");
    for n in 1..60 {
        text += &format!(" let x{n} = x{} * x{}\n", n - 1, n - 1);
    }
    let (resolved, _) = run(&(text + " roll sine(1 deg * x59, 1 Hz)\n } for 5 s\n}"), None);
    assert!(resolved.diagnostics.iter().any(|d| d.rule == "limit"));
}
