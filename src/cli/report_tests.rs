//! Tests of the report for people, and the sample that other forms are tested on.

use super::super::view::RigView;
use super::*;
use crate::check::{Blame, Quantity};
use crate::diag::{Diagnostic, SourceText, Span};

/// A report with one of everything.
pub(in crate::cli) fn sample() -> View {
    let mut sources = Sources::new();
    let text = "scene \"stall\" {\n    pitch noise(0.15 deg, 8 Hz..14 Hz) for 9 s\n}\n";
    let id = sources.add(SourceText::new("stall.cues", text));
    let span = Span::new(id, 20, 54);
    let amplitude = Span::new(id, 32, 40);
    let title = "actuator `left` needs 381 mm/s at 12.431 s; the rig file allows 250 mm/s";
    let blame = |label: &str, share| Blame { layer: 0, label: label.into(), span, share };
    let finding = Finding {
        diagnostic: Diagnostic::error("speed", span, title)
            .label("87 % of the speed at that instant")
            .also(Span::new(id, 0, 13), "in this scene")
            .help("the scene fits at gain 0.655")
            .help("or this layer at 0.09 deg")
            .fix("write 0.09 deg", amplitude, "0.09 deg"),
        part: Some("left".into()),
        at_s: Some(12.431),
        value: Some(0.381),
        limit: Some(0.25),
        dimension: Dimension::SPEED,
        blame: vec![blame("stall / pitch noise", 0.87), blame("turn", 0.13)],
        fits_gain: Some(0.6554),
    };
    let margin = |part: &str, quantity, peak, limit, dimension| Margin {
        part: part.into(),
        quantity,
        peak,
        bound: peak * 1.01,
        limit,
        used: peak / limit,
        dimension,
        at_s: 12.431,
    };
    View {
        profile: "stall.cues".into(),
        scene: Some("stall".into()),
        sources,
        rig: Some(RigView { file: "rig.toml".into(), name: "two axes".into(), hash: "ab".into() }),
        gain: 1.0,
        rate_hz: 1000,
        findings: vec![
            finding,
            Finding::unmeasured(Diagnostic::warning("unused", Span::new(id, 6, 13), "`x` is unused")),
        ],
        measured: Some(Measured {
            duration_s: 83.5,
            placements: 1,
            margins: vec![
                margin("left", Quantity::Speed, 0.381, 0.25, Dimension::SPEED),
                margin("left", Quantity::Stroke, 0.075, 0.15, Dimension::LENGTH),
            ],
            layers: vec![
                LayerView {
                    label: "stall / pitch noise".into(),
                    channel: "pitch",
                    span,
                    peak: 0.0087,
                    rms: Some(0.002),
                    dimension: Dimension::ANGLE,
                },
                LayerView {
                    label: "stall / sound".into(),
                    channel: "sound",
                    span,
                    peak: 0.25,
                    rms: Some(0.1),
                    dimension: Dimension::NUMBER,
                },
            ],
            fits_gain: Some(0.6554),
            bound: "larger end plus h^2/8 times the largest second derivative".into(),
            not_checked: vec![crate::check::Unchecked { rule: "motor-heat", missing: "[motor]" }],
        }),
    }
}

#[test]
fn findings_then_margins_then_the_verdict() {
    let expected = "\
error[speed]: actuator `left` needs 381 mm/s at 12.431 s; the rig file allows 250 mm/s
 --> stall.cues:2:5
  |
1 | scene \"stall\" {
  | ------------- in this scene
2 |     pitch noise(0.15 deg, 8 Hz..14 Hz) for 9 s
  |     ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ 87 % of the speed at that instant
  |
  = help: the scene fits at gain 0.655
  = help: or this layer at 0.09 deg
    87 %  stall / pitch noise  stall.cues:2:5
    13 %  turn                 stall.cues:2:5

warning[unused]: `x` is unused
 --> stall.cues:1:7
  |
1 | scene \"stall\" {
  |       ^^^^^^^

scene     stall (stall.cues)
rig       two axes (rig.toml)
length    1:23.5, 2 layers from 1 placement
gain      1, 1000 samples a second

margins, most used first
                    peak     at most     limit        at  used
  left  speed   381 mm/s  384.8 mm/s  250 mm/s  0:12.431  ########################!  152 %
  left  stroke     75 mm    75.75 mm    150 mm  0:12.431  ############............|   50 %

strongest layers of each channel
               peak      r.m.s.  layer                in
  pitch  0.4985 deg  0.1146 deg  stall / pitch noise  stall.cues:2
  sound        25 %        10 %  stall / sound        stall.cues:2

not checked, because the rig file has no [motor]: motor-heat

at most: larger end plus h^2/8 times the largest second derivative

does not fit the rig file: 1 error, 1 warning; the scene fits at gain 0.655
";
    assert_eq!(human(&sample(), false, 100), expected);
}

#[test]
fn a_fit_is_said_with_the_caution_and_never_called_safe() {
    let mut view = sample();
    view.findings.clear();
    let text = human(&view, false, 100);
    assert!(text.contains("\nfits the rig file\n"), "{text}");
    assert!(text.contains("not a safety function"));
    assert!(!text.contains(" safe "));
}

#[test]
fn a_gain_shown_is_never_above_the_gain_found() {
    assert_eq!(gain_words(0.6559), "0.655");
    assert_eq!(gain_words(1.0), "1");
    assert_eq!([1.0, 0.5, 0.251188643150958].map(gain_exactly), ["1", "0.5", "0.2512 (-12.0 dB)"]);
}

#[test]
fn times_read_as_profiles_write_them() {
    let words = [0.0, 12.431, 83.5, 60.0, 3723.0, 59.9996].map(clock);
    assert_eq!(words, ["0:00", "0:12.431", "1:23.5", "1:00", "1:02:03", "1:00"]);
}

#[test]
fn short_is_one_line_a_finding() {
    assert_eq!(
        short(&sample()),
        "stall.cues:2:5: error[speed]: actuator `left` needs 381 mm/s at 12.431 s; the rig file allows 250 mm/s\n\
         stall.cues:1:7: warning[unused]: `x` is unused\n"
    );
}
