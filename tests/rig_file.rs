//! Rig files: the shipped one, broken ones, and any text at all.

use cueloom::diag::{Diagnostic, Severity, SourceText, Sources, render_short};
use cueloom::rig::{self, Axis, Loaded};
use proptest::prelude::*;

const DEMO: &str = include_str!("../profiles/rigs/club-two-axis.toml");

fn load(text: &str) -> (Loaded, Sources) {
    let mut sources = Sources::new();
    let id = sources.add(SourceText::new("rig.toml", text));
    (rig::load(id, text), sources)
}

/// Every diagnostic on a line, with its label, other places, help and fixes beneath.
fn report(text: &str) -> String {
    let (loaded, sources) = load(text);
    let line = |diagnostic: &Diagnostic| {
        let mut out = render_short(diagnostic, &sources) + "\n";
        for label in &diagnostic.secondary {
            let (_, at) = sources.place(label.span);
            out += &format!("  also {}:{} {}\n", at.line, at.column, label.text);
        }
        for help in &diagnostic.help {
            out += &format!("  help: {help}\n");
        }
        for fix in &diagnostic.fixes {
            out += &format!("  fix: {}: {} -> {}\n", fix.title, sources.snippet(fix.span), fix.replacement);
        }
        out
    };
    let end = if loaded.rig.is_some() { "a rig\n" } else { "no rig\n" };
    loaded.diagnostics.iter().map(line).collect::<String>() + end
}

#[test]
fn the_demo_loads_with_nothing_to_say() {
    assert_eq!(report(DEMO), "a rig\n");
    let rig = load(DEMO).0.rig.unwrap();
    assert_eq!(rig.axes.iter().map(|limits| limits.axis).collect::<Vec<_>>(), [Axis::Pitch, Axis::Roll]);
    assert!((rig.axes[1].max.to_degrees() - 12.0).abs() < 1e-12);
    assert_eq!((rig.drive.cycle_us, rig.drive.counts_per_turn), (2000, 10_000));
    assert_eq!(rig.actuators[0].name, "left");
    assert!((rig.actuators[0].speed_m_s - 0.25).abs() < 1e-15);
    assert_eq!(rig.pivot_height_m, Some(0.62));
    assert_eq!(rig.hash.len(), 64);
}

/// Each file under tests/cases/rig is broken; beside it stands what must be said.
#[test]
fn broken_files_say_what_is_wrong() {
    insta::glob!("cases/rig/*.toml", |path| {
        let text = std::fs::read_to_string(path).unwrap();
        insta::assert_snapshot!(report(&text));
    });
}
