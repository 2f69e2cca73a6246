//! Scenes resolved from text: what is dated, and what is said about mistakes.

use cueloom::diag::{Diagnostic, Severity, SourceText, Sources, Span};
use cueloom::lang::parse;
use cueloom::scenario::{Content, Layer, RULES, Resolved, Scenario, World, resolve};
use cueloom::signal::{Factor, Order, Signal};
use proptest::prelude::*;
use std::f64::consts::PI;

/// A world without a disk.
struct Desk;

const FLIGHT: &str = include_str!("cases/resolve/flight.csv");

impl World for Desk {
    fn library(&self, _: &str, name: &str) -> Result<(String, String), String> {
        let text = match name {
            "lib.cues" => {
                "cue joint(size: deg) { pitch ring(size, 7 Hz) }\nlet slab = 6 m\nscene \"not taken\" { }"
            }
            "round_a.cues" => "use \"round_b.cues\"",
            "round_b.cues" => "use \"round_a.cues\"",
            "broken.cues" => "let x = \ncue knock(size: deg) { pitch ring(size, 7 m) }",
            "left.cues" => "use \"lib.cues\"\nlet left = slab",
            "right.cues" => "use \"lib.cues\"\nlet right = slab * 2",
            _ => return Err("there is no such file".to_string()),
        };
        Ok((name.to_string(), text.to_string()))
    }

    fn recording(&self, _: &str, name: &str) -> Result<Vec<u8>, String> {
        match name {
            "flight.csv" => Ok(FLIGHT.into()),
            "circuit.csv" => {
                let rows = (0..4000)
                    .map(|n| f64::from(n) * 0.1)
                    .map(|t| format!("{t:.1},{},{},{}\n", t % 7.0, t % 5.0, t % 3.0));
                Ok(format!("time,pitch,roll,nz_minus_1\n{}", rows.collect::<String>()).into())
            }
            "backwards.csv" => Ok("time,pitch\n0,1\n1,2\n0.5,3\n2,4\n".into()),
            _ => Err("there is no such file".to_string()),
        }
    }

    fn sound_length_s(&self, _: &str, name: &str) -> Result<f64, String> {
        match name {
            "chirp.wav" => Ok(0.8),
            "turbine.wav" => Ok(4.0),
            _ => Err("there is no such file".to_string()),
        }
    }
}

fn run(text: &str, scene: Option<&str>) -> (Resolved, Sources) {
    let mut sources = Sources::new();
    let id = sources.add(SourceText::new("main.cues", text));
    let parsed = parse(id, text);
    let mut resolved = resolve(&parsed.file, id, scene, &mut sources, &Desk);
    resolved.diagnostics.splice(0..0, parsed.errors);
    (resolved, sources)
}

/// The only scene of a text without any mistake.
fn scene(text: &str) -> Scenario {
    let (resolved, sources) = run(text, None);
    assert!(resolved.diagnostics.is_empty(), "{}", page(&resolved.diagnostics, &sources));
    resolved.scenario.expect("a scene")
}

fn signal(layer: &Layer) -> &Signal {
    match &layer.content {
        Content::Signal(signal) => signal,
        Content::SoundFile { .. } => panic!("a sound file"),
    }
}

fn starts(scenario: &Scenario) -> Vec<f64> {
    scenario.layers.iter().map(|layer| signal(layer).start_s).collect()
}

/// The gains of a layer multiplied, at a time.
fn gain(layer: &Layer, t_s: f64) -> f64 {
    let gains = signal(layer).factors.iter().filter_map(|factor| match factor {
        Factor::Gain(curve) => Some(curve.jet(t_s).0[0]),
        _ => None,
    });
    gains.product()
}

fn near(a: f64, b: f64, by: f64) {
    assert!((a - b).abs() <= by, "{a} is not {b}");
}

fn deg(value: f64) -> f64 {
    value * PI / 180.0
}

/// Diagnostics as these tests read them: everything that a person is shown, in one fixed form.
fn page(diagnostics: &[Diagnostic], sources: &Sources) -> String {
    let place = |span: Span| {
        let (name, at) = sources.place(span);
        let name = if name == "main.cues" { String::new() } else { format!("{name}:") };
        format!("{name}{}:{} `{}`", at.line, at.column, sources.snippet(span).lines().next().unwrap_or(""))
    };
    let mut text = String::new();
    for diagnostic in diagnostics {
        text += &format!("{}[{}] {}\n", diagnostic.severity.word(), diagnostic.rule, diagnostic.title);
        text += &format!("   at {} {}\n", place(diagnostic.primary.span), diagnostic.primary.text);
        for label in &diagnostic.secondary {
            text += &format!("   and {} {}\n", place(label.span), label.text);
        }
        for help in &diagnostic.help {
            text += &format!("   help: {help}\n");
        }
        for fix in &diagnostic.fixes {
            text += &format!("   fix: {}: {} -> `{}`\n", fix.title, place(fix.span), fix.replacement);
        }
    }
    text.lines().map(str::trim_end).collect::<Vec<_>>().join("\n")
}

#[test]
fn broken_scenes_are_explained() {
    insta::with_settings!({snapshot_path => "cases/resolve/expected", prepend_module_to_snapshot => false, omit_expression => true}, {
        insta::glob!("cases/resolve/*.cues", |path| {
            let text = std::fs::read_to_string(path).unwrap();
            let (resolved, sources) = run(&text, None);
            insta::assert_snapshot!(page(&resolved.diagnostics, &sources));
        });
    });
}

fn cases() -> Vec<(String, String)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/cases/resolve");
    let mut found: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|kind| kind == "cues"))
        .map(|path| (path.display().to_string(), std::fs::read_to_string(&path).unwrap()))
        .collect();
    found.sort();
    found
}

#[test]
fn every_case_has_a_mistake_and_every_mistake_a_rule() {
    let cases = cases();
    assert!(cases.len() >= 30);
    let mut seen = std::collections::BTreeSet::new();
    for (name, text) in cases {
        let (resolved, _) = run(&text, None);
        assert!(!resolved.diagnostics.is_empty(), "{name}");
        // The parser's own rules are its own affair.
        let own = |rule: &str| RULES.iter().any(|known| known.slug == rule);
        assert!(resolved.diagnostics.iter().any(|diagnostic| own(diagnostic.rule)), "{name}");
        for diagnostic in
            resolved.diagnostics.iter().filter(|d| !["syntax", "repeated-suffix"].contains(&d.rule))
        {
            assert!(RULES.iter().any(|rule| rule.slug == diagnostic.rule), "{name}: {}", diagnostic.rule);
            let title = &diagnostic.title;
            assert!(!title.ends_with('.') && !title.starts_with(char::is_uppercase), "{name}: {title}");
            seen.insert(diagnostic.rule);
        }
    }
    for rule in RULES {
        assert!(seen.contains(rule.slug), "no case breaks {}", rule.slug);
    }
}

#[test]
fn fixes_do_away_with_what_they_fix() {
    let mut fixed = 0;
    for (name, text) in cases() {
        let (resolved, _) = run(&text, None);
        for diagnostic in &resolved.diagnostics {
            for fix in diagnostic.fixes.iter().filter(|fix| fix.span.source.0 == 0) {
                let mut better = text.clone();
                better.replace_range(fix.span.start as usize..fix.span.end as usize, &fix.replacement);
                let (again, _) = run(&better, None);
                let same = |other: &&Diagnostic| {
                    other.rule == diagnostic.rule && other.primary.span.start == diagnostic.primary.span.start
                };
                assert!(again.diagnostics.iter().find(same).is_none(), "{name}: {}\n{better}", fix.title);
                let errors =
                    |all: &[Diagnostic]| all.iter().filter(|d| d.severity == Severity::Error).count();
                assert!(errors(&again.diagnostics) <= errors(&resolved.diagnostics), "{name}: {}", fix.title);
                fixed += 1;
            }
        }
    }
    assert!(fixed >= 15, "{fixed}");
}

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
    near(gain(&scene.layers[4], 13.0), deg(1.0) * 10f64.powf(-6.0 / 20.0), 1e-15);
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
fn the_library_resolves_on_a_rig_with_pitch_and_roll() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/profiles/library");
    struct Shelf(&'static str);
    impl World for Shelf {
        fn library(&self, _: &str, name: &str) -> Result<(String, String), String> {
            let text = std::fs::read_to_string(format!("{}/{name}", self.0)).map_err(|e| e.to_string())?;
            Ok((name.to_string(), text))
        }
        fn recording(&self, _: &str, _: &str) -> Result<Vec<u8>, String> {
            Err("no recordings".to_string())
        }
        fn sound_length_s(&self, _: &str, _: &str) -> Result<f64, String> {
            Err("no sounds".to_string())
        }
    }
    let text = r#"use "all.cues"
        scene "all" {
            at 0 s   rumble(0 kt -> 60 kt, roughness: 0.5) for 14 s  rise 1 s  fall 1 s
            at 0 s   slabs(0 kt -> 60 kt) for 14 s
            at 16 s  bank(-4 deg) for 12 s
            at 30 s  buffet(stall: 48 kt, speed: 60 kt -> 46 kt) for 14 s  fall 1 s
            at 46 s  touchdown(1.4 m/s)
        }"#;
    let mut sources = Sources::new();
    let id = sources.add(SourceText::new("main.cues", text));
    let parsed = parse(id, text);
    let resolved = resolve(&parsed.file, id, None, &mut sources, &Shelf(folder));
    assert!(
        parsed.errors.is_empty() && resolved.diagnostics.is_empty(),
        "{}",
        page(&resolved.diagnostics, &sources)
    );
    let scenario = resolved.scenario.unwrap();
    // 60 kt over 14 s average 15.43 m/s: 216.07 m, joints of 7.62 m; 29 of the nose and 29 of the mains, 3 layers each.
    let joints = scenario.layers.iter().filter(|layer| layer.label.contains("joint")).count();
    assert_eq!(joints, (29 + 29) * 3);
    // The worst jerk at 0.7 m from the pivot stays below what the rig of the examples has, 200 m/s^3.
    let mut worst: f64 = 0.0;
    let mut speed: f64 = 0.0;
    for n in 0..60_000 {
        let t_s = f64::from(n) * 1e-3;
        let (mut jerk, mut rate) = (0.0, 0.0);
        for layer in scenario.layers.iter().filter(|layer| !matches!(word(layer), "sound" | "shaker")) {
            let signal = signal(layer);
            if t_s >= signal.start_s && t_s <= signal.start_s + signal.length_s {
                let jet = signal.jet(t_s).0;
                jerk += jet[3];
                rate += jet[1];
            }
        }
        worst = worst.max(jerk.abs() * 0.7);
        speed = speed.max(rate.abs() * 0.7);
    }
    assert!(worst > 20.0 && worst < 150.0, "{worst}");
    assert!(speed < 0.2, "{speed}");
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

fn word(layer: &Layer) -> &'static str {
    use cueloom::lang::tree::Line;
    match layer.line {
        Line::Sound => "sound",
        Line::Shaker => "shaker",
        _ => "axis",
    }
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

/// Values that mostly fit a time, a frequency, an angle or a level; some fit nothing.
fn value() -> impl Strategy<Value = String> {
    let leaf = prop::sample::select(vec![
        "1 s", "2.5 s", "0 s", "1:30", "7 Hz", "0.2 Hz", "3 deg", "0.1 deg", "-2 deg", "5 m", "60 kt",
        "0 kt", "-3 dB", "20 %", "2", "0", "3 degC", "1e-9 s", "1e300 s", "a", "b", "a.end", "b.end", "size",
        "speed", "c", "d", "nobody", "1 deg/s", "0.1 g",
    ])
    .prop_map(String::from);
    leaf.prop_recursive(3, 12, 3, |inner| {
        prop_oneof![
            (inner.clone(), prop::sample::select(vec!["+", "-", "*", "/"]), inner.clone())
                .prop_map(|(a, sign, b)| format!("{a} {sign} {b}")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a} -> {b})")),
            (inner.clone(), inner.clone(), inner.clone())
                .prop_map(|(x, a, b)| format!("ease({x}, {a}..{b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("max({a}, {b})")),
            (inner.clone(), -3..4_i32).prop_map(|(a, n)| format!("({a})^{n}")),
        ]
    })
}

fn statement() -> impl Strategy<Value = String> {
    let when = prop_oneof![
        3 => Just(String::new()),
        3 => value().prop_map(|v| format!("at {v} ")),
        1 => (value(), value(), value()).prop_map(|(a, b, c)| format!("during {a} .. {b} every {c} ")),
        1 => (value(), value()).prop_map(|(a, b)| format!("every {a} at {b} ")),
        1 => Just("during 1 s .. 4 s every 0.5 s ".to_string()),
        1 => Just("during 1 s .. 4 s every 2 m at 0 kt -> 20 kt ".to_string()),
    ];
    let layer = prop_oneof![
        2 => (value(), value()).prop_map(|(a, f)| format!("pitch ring({a}, {f})")),
        1 => (value(), value()).prop_map(|(a, f)| format!("roll sine({a}, {f})")),
        1 => (value(), value(), value()).prop_map(|(a, f, g)| format!("roll noise({a}, {f}..{g})")),
        1 => value().prop_map(|t| format!("pitch hold(1 deg, ease: {t})")),
        1 => value().prop_map(|t| format!("roll pulse(1 deg, {t})")),
        2 => Just("pitch ring(0.1 deg, 7 Hz)".to_string()),
        2 => Just("roll noise(0.1 deg, 1 Hz..3 Hz)".to_string()),
        1 => Just("pitch trace(1 deg, \"flight.csv\", \"pitch\")".to_string()),
        1 => Just("sound loop(\"chirp.wav\", -3 dB -> 0 dB)".to_string()),
        1 => value().prop_map(|v| format!("thump({v})")),
        1 => (value(), value()).prop_map(|(a, b)| format!("gust({a} -> {b})")),
    ];
    let layer = layer.prop_recursive(2, 6, 3, |inner| {
        prop::collection::vec((prop::option::of(value()), inner), 1..4).prop_map(|inside| {
            let lines = inside.iter().map(|(at, what)| match at {
                Some(at) => format!("at {at} {what}\n"),
                None => format!("{what}\n"),
            });
            format!("{{\n{}}}", lines.collect::<String>())
        })
    });
    let suffixes = (
        prop::option::of(prop_oneof![Just("3 s".to_string()), value()]),
        prop::option::of(value()),
        prop::option::of(value()),
        prop::option::of(value()),
        prop::option::of(prop::sample::select(vec!["a", "b"])),
    );
    (when, layer, suffixes).prop_map(|(when, layer, (length, rise, fall, gain, label))| {
        let part =
            |word: &str, value: Option<String>| value.map_or(String::new(), |v| format!(" {word} {v}"));
        let tail = [part("for", length), part("rise", rise), part("fall", fall), part("gain", gain)].concat();
        format!("{when}{layer}{tail}{}\n", part("as", label.map(String::from)))
    })
}

fn token() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "at",
        "during",
        "every",
        "after",
        "for",
        "rise",
        "fall",
        "gain",
        "as",
        "let",
        "expect",
        "over",
        "on",
        "peak",
        "rms",
        "margin",
        "pitch",
        "roll",
        "sound",
        "seat.heave",
        "vehicle.roll",
        "sine(",
        "noise(",
        "ring(",
        "pulse(",
        "hold(",
        "trace(",
        "loop(",
        "file(",
        "\"flight.csv\"",
        "\"pitch\"",
        "\"chirp.wav\"",
        "ease(",
        "max(",
        "abs(",
        "gust(",
        "thump(",
        "a",
        "b",
        "c",
        "a.end",
        "b.end",
        "speed",
        "size",
        "1 s",
        "2 s",
        "0 s",
        "10 s",
        "1e-9 s",
        "1e300 s",
        "3 deg",
        "0.1 deg",
        "7 Hz",
        "0.2 Hz",
        "5 m",
        "60 kt",
        "0 kt",
        "-3 dB",
        "20 %",
        "1:30",
        "0",
        "2",
        "degC",
        "3 degC",
        "+",
        "-",
        "*",
        "/",
        "^2",
        "^-1",
        "->",
        "..",
        "(",
        ")",
        ",",
        "{",
        "}",
        "=",
        ":",
        "ease:",
        "damping:",
        "\n",
        "\n",
        "\n",
        "1 s ..",
        "<=",
        ">=",
        "below",
        "until",
        "as a",
        "as b",
        "at 1 s",
        "for 3 s",
        "pitch ring(0.1 deg, 7 Hz)",
        "roll noise(0.1 deg, 1 Hz..3 Hz)",
        "thump(0.1 deg)",
        "gust(5 kt -> 9 kt)",
        "during 1 s .. 4 s every 1 s",
        "every 5 m at speed",
        "{ at a.end",
        "}",
    ])
}

/// What holds of every text.
fn ends_well(text: &str) -> Result<usize, TestCaseError> {
    let (resolved, sources) = run(text, None);
    for diagnostic in &resolved.diagnostics {
        let spans =
            std::iter::once(diagnostic.primary.span).chain(diagnostic.secondary.iter().map(|l| l.span));
        for span in spans {
            let whole = sources.get(span.source).text();
            prop_assert!(whole.get(span.start as usize..span.end as usize).is_some(), "{diagnostic:?}");
        }
    }
    if let Some(scenario) = &resolved.scenario {
        prop_assert!(scenario.length_s.is_finite() && scenario.length_s >= 0.0);
        for layer in &scenario.layers {
            prop_assert!(layer.placement < scenario.placements.len());
            if let Content::Signal(signal) = &layer.content {
                prop_assert!(signal.length_s > 0.0 && signal.start_s >= 0.0);
                let jet = signal.jet(signal.start_s + 0.5 * signal.length_s).0;
                prop_assert!(jet.iter().all(|x| x.is_finite()), "{jet:?} {layer:?}");
            }
        }
    }
    // The same text, the same scene.
    let (again, _) = run(text, None);
    let layers = resolved.scenario.as_ref().map_or(0, |scenario| scenario.layers.len());
    prop_assert!(again.scenario == resolved.scenario && again.diagnostics == resolved.diagnostics);
    Ok(layers)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn any_soup_of_words_ends_in_a_scene_or_diagnostics(
        scene in prop::collection::vec(token(), 0..60),
        cue in prop::collection::vec(token(), 0..20),
    ) {
        ends_well(&format!(
            "let c = 3 s\ncue thump(size: deg) {{ pitch ring(size, 7 Hz) }}\ncue gust(speed: kt) {{ {} }}\nscene \"s\" {{\n{}\n}}\n",
            cue.join(" "),
            scene.join(" "),
        ))?;
    }

    #[test]
    fn any_soup_of_statements_ends_in_a_scene_or_diagnostics(
        scene in prop::collection::vec(statement(), 0..6),
        cue in prop::collection::vec(statement(), 0..3),
        d in value(),
    ) {
        ends_well(&format!(
            "let c = 3 s\nlet d = {d}\ncue thump(size: deg) {{ pitch ring(size, 7 Hz) }}\ncue gust(speed: kt) {{\n{}}}\nscene \"s\" {{\n{}}}\n",
            cue.concat(),
            scene.concat(),
        ))?;
    }
}
