//! What the tests of scenes share: a world without a disk, and readings of what was resolved.

use cueloom::diag::{Diagnostic, SourceText, Sources, Span};
use cueloom::lang::parse;
use cueloom::scenario::{Content, Layer, Resolved, Scenario, World, resolve};
use cueloom::signal::{Factor, Signal};
use std::f64::consts::PI;

/// A world without a disk.
pub(crate) struct Desk;

const FLIGHT: &str = include_str!("../cases/resolve/flight.csv");

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

pub(crate) fn run(text: &str, scene: Option<&str>) -> (Resolved, Sources) {
    let mut sources = Sources::new();
    let id = sources.add(SourceText::new("main.cues", text));
    let parsed = parse(id, text);
    let mut resolved = resolve(&parsed.file, id, scene, &mut sources, &Desk);
    resolved.diagnostics.splice(0..0, parsed.errors);
    (resolved, sources)
}

/// The only scene of a text without any mistake.
pub(crate) fn scene(text: &str) -> Scenario {
    let (resolved, sources) = run(text, None);
    assert!(resolved.diagnostics.is_empty(), "{}", page(&resolved.diagnostics, &sources));
    resolved.scenario.expect("a scene")
}

pub(crate) fn signal(layer: &Layer) -> &Signal {
    match &layer.content {
        Content::Signal(signal) => signal,
        Content::SoundFile { .. } => panic!("a sound file"),
    }
}

pub(crate) fn starts(scenario: &Scenario) -> Vec<f64> {
    scenario.layers.iter().map(|layer| signal(layer).start_s).collect()
}

/// The gains of a layer multiplied, at a time.
pub(crate) fn gain(layer: &Layer, t_s: f64) -> f64 {
    let gains = signal(layer).factors.iter().filter_map(|factor| match factor {
        Factor::Gain(curve) => Some(curve.jet(t_s).0[0]),
        _ => None,
    });
    gains.product()
}

pub(crate) fn near(a: f64, b: f64, by: f64) {
    assert!((a - b).abs() <= by, "{a} is not {b}");
}

pub(crate) fn deg(value: f64) -> f64 {
    value * PI / 180.0
}

/// Diagnostics as these tests read them: everything that a person is shown, in one fixed form.
pub(crate) fn page(diagnostics: &[Diagnostic], sources: &Sources) -> String {
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
