//! Any text ends in a scene or in diagnostics.

use super::desk::run;
use cueloom::scenario::Content;
use proptest::prelude::*;

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

/// Mostly one of the words that fit a place, now and then anything.
fn mostly(words: &'static [&'static str]) -> impl Strategy<Value = String> {
    prop_oneof![24 => prop::sample::select(words).prop_map(String::from), 1 => value()]
}

fn instant() -> impl Strategy<Value = String> {
    mostly(&[
        "0 s",
        "1 s",
        "2.5 s",
        "0:04",
        "8 s",
        "a",
        "b",
        "a.end",
        "b.end + 1 s",
        "(a + b) / 2",
        "b - 0.5 s",
    ])
}

fn length() -> impl Strategy<Value = String> {
    mostly(&[
        "1 s",
        "3 s",
        "4 s",
        "0.2 s",
        "5 s",
        "c",
        "2 * c",
        "b - a",
        "a.end - a",
        "1e-9 s",
        "max(1 s, c)",
    ])
}

fn frequency() -> impl Strategy<Value = String> {
    mostly(&["7 Hz", "0.2 Hz", "3 Hz", "90 rpm", "1 / c", "20 kt / 3 m"])
}

fn amplitude() -> impl Strategy<Value = String> {
    mostly(&[
        "0.1 deg",
        "1 deg",
        "-0.2 deg",
        "1 deg/s",
        "3 deg/s^2",
        "0.1 deg -> 0.4 deg",
        "0.1 deg * (1 -> 3)^2",
        "0.1 deg * ease(5 kt -> 9 kt, 4 kt..8 kt)",
        "0.1 deg / (1 -> 2)",
        "1 deg / (1 -> -1)",
    ])
}

fn statement() -> impl Strategy<Value = String> {
    let when = prop_oneof![
        3 => Just(String::new()),
        4 => instant().prop_map(|v| format!("at {v} ")),
        1 => (instant(), instant(), length()).prop_map(|(a, b, c)| format!("during {a} .. {b} every {c} ")),
        1 => Just("every 4 m at 3 kt -> 20 kt ".to_string()),
        1 => (length(), length()).prop_map(|(a, b)| format!("during 1 s .. 4 s every {a} after {b} ")),
        1 => Just("during 1 s .. 4 s every 2 m at 0 kt -> 20 kt ".to_string()),
        1 => Just("during a every 3 m after 1 m at 20 kt ".to_string()),
    ];
    let closed = prop_oneof![
        2 => (amplitude(), frequency()).prop_map(|(a, f)| format!("pitch ring({a}, {f})")),
        1 => (amplitude(), length()).prop_map(|(a, t)| format!("roll pulse({a}, {t})")),
        1 => Just("pitch trace(1 deg, \"flight.csv\", \"pitch\", from: 2 s)".to_string()),
        1 => amplitude().prop_map(|v| format!("thump({v})")),
    ];
    let open = prop_oneof![
        2 => (amplitude(), frequency()).prop_map(|(a, f)| format!("roll sine({a}, {f})")),
        2 => (amplitude(), frequency()).prop_map(|(a, f)| format!("roll noise({a}, {f}..({f}) * 3)")),
        1 => (amplitude(), length()).prop_map(|(a, t)| format!("pitch hold({a}, ease: {t})")),
        1 => Just("sound loop(\"chirp.wav\", -3 dB -> 0 dB)".to_string()),
        1 => Just("gust(5 kt -> 9 kt)".to_string()),
    ]
    .prop_recursive(2, 6, 3, |inner| {
        prop::collection::vec((prop::option::of(instant()), inner), 1..3).prop_map(|inside| {
            let lines = inside.iter().map(|(at, what)| match at {
                Some(at) => format!("at {at} {what}\n"),
                None => format!("{what}\n"),
            });
            format!("{{\n{}}}", lines.collect::<String>())
        })
    });
    let what = prop_oneof![
        2 => closed,
        2 => (open.clone(), length()).prop_map(|(what, length)| format!("{what} for {length}")),
        1 => open,
    ];
    let small = || prop::option::of(mostly(&["0.1 s", "0.2 s", "1 s", "0.05 s"]));
    let gain = prop::option::of(mostly(&["0.5", "-3 dB", "80 %", "1 -> 0.2", "-20 dB -> 0 dB"]));
    let suffixes = (small(), small(), gain, prop::option::of(prop::sample::select(vec!["a", "b"])));
    (when, what, suffixes).prop_map(|(when, what, (rise, fall, gain, label))| {
        let part =
            |word: &str, value: Option<String>| value.map_or(String::new(), |v| format!(" {word} {v}"));
        let tail = [part("rise", rise), part("fall", fall), part("gain", gain)].concat();
        format!("{when}{what}{tail}{}\n", part("as", label.map(String::from)))
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
    ) {
        ends_well(&format!(
            "let c = 3 s\nlet d = 2 deg\ncue thump(size: deg) {{ pitch ring(size, 7 Hz) }}\n\
             cue gust(speed: kt) {{\n roll noise(0.1 deg, speed / 9 m..speed / 3 m)\n{}}}\n\
             scene \"s\" {{\n at 1 s pitch pulse(1 deg, 1 s) as a\n at 6 s roll hold(1 deg, ease: 1 s) for 3 s as b\n{}}}\n",
            cue.concat(),
            scene.concat(),
        ))?;
    }
}
