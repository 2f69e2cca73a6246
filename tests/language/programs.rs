//! Random programs that have no syntax errors, laid out at random.

use proptest::prelude::*;

/// A place where any spaces and, inside brackets, line breaks and comments may stand.
const LOOSE: char = '\u{1}';
/// A place where at least one space stands.
const SPACE: char = '\u{2}';
/// The end of a statement.
const END: char = '\u{3}';

fn name() -> impl Strategy<Value = String> {
    prop::sample::select(vec!["touch", "run_2", "m", "sine", "x", "_a", "Hz", "peak"])
        .prop_map(str::to_string)
}

fn unit() -> impl Strategy<Value = String> {
    prop::sample::select(vec!["s", "deg", "m/s^2", "N*m/rad", "%", "kg*m^2", "Hz", "s^-1", "dB", "foo"])
        .prop_map(str::to_string)
}

fn number() -> impl Strategy<Value = String> {
    let digits = prop::sample::select(vec!["0", "1", "0.30", "12", "1.5e3", "7e-2", "100000", "2e+1"]);
    (digits, prop::option::of((any::<bool>(), unit()))).prop_map(|(digits, unit)| match unit {
        Some((true, unit)) => format!("{digits}{SPACE}{unit}"),
        // Without a space, where the unit is not read as an exponent or more digits.
        Some((false, unit)) => format!("{digits}{unit}"),
        None => digits.to_string(),
    })
}

fn clock() -> impl Strategy<Value = String> {
    prop::sample::select(vec!["1:24.5", "0:00", "1:02:03", "90:59"]).prop_map(str::to_string)
}

fn expr() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![number(), clock(), name(), name().prop_map(|name| format!("{name}.end"))];
    leaf.prop_recursive(4, 24, 4, |inner| {
        let operator = prop::sample::select(vec!["+", "-", "*", "/"]);
        let ends = prop::sample::select(vec!["->", ".."]);
        prop_oneof![
            3 => (inner.clone(), operator, inner.clone()).prop_map(|(a, op, b)| format!("{a} {op} {b}")),
            1 => (inner.clone(), ends, inner.clone())
                .prop_map(|(a, op, b)| format!("({LOOSE}{a} {op} {b}{LOOSE})")),
            1 => inner.clone().prop_map(|a| format!("-({LOOSE}{a}{LOOSE})^-2")),
            1 => (name(), prop::collection::vec(inner, 0..3))
                .prop_map(|(name, args)| format!("{name}({})", args.join(&format!("{LOOSE},{LOOSE}")))),
        ]
    })
}

fn value() -> impl Strategy<Value = String> {
    prop_oneof![
        3 => expr(),
        1 => (expr(), expr()).prop_map(|(a, b)| format!("{a}{SPACE}->{SPACE}{b}")),
        1 => (expr(), expr()).prop_map(|(a, b)| format!("{a}..{b}")),
        1 => (expr(), expr()).prop_map(|(a, b)| format!("{a} .. {b}")),
    ]
}

fn call() -> impl Strategy<Value = String> {
    let arg = prop_oneof![
        3 => value(),
        1 => (prop::sample::select(vec!["below", "ease", "at"]), value())
            .prop_map(|(name, value)| format!("{name}:{LOOSE}{value}")),
        1 => Just("\"a # file.wav\"".to_string()),
    ];
    (name(), prop::collection::vec(arg, 0..4))
        .prop_map(|(name, args)| format!("{name}({LOOSE}{}{LOOSE})", args.join(&format!("{LOOSE},{LOOSE}"))))
}

fn stretch() -> impl Strategy<Value = String> {
    (expr(), prop::option::of(expr())).prop_map(|(a, b)| match b {
        Some(b) => format!("{a}{SPACE}..{SPACE}{b}"),
        None => a,
    })
}

fn channel() -> impl Strategy<Value = String> {
    prop::sample::select(vec!["pitch", "seat.heave", "vehicle.roll", "sound", "shaker"])
        .prop_map(str::to_string)
}

fn when() -> impl Strategy<Value = String> {
    let every = (prop::option::of(stretch()), expr(), prop::option::of(expr()), prop::option::of(value()));
    prop_oneof![
        Just(String::new()),
        expr().prop_map(|at| format!("at{SPACE}{at}{SPACE}")),
        every.prop_map(|(during, every, after, at)| {
            let part = |word: &str, part: Option<String>| {
                part.map_or(String::new(), |part| format!("{word}{SPACE}{part}{SPACE}"))
            };
            part("during", during) + &part("every", Some(every)) + &part("after", after) + &part("at", at)
        }),
    ]
}

fn suffixes() -> impl Strategy<Value = String> {
    let all: Vec<BoxedStrategy<String>> = ["for", "rise", "fall", "gain"]
        .into_iter()
        .map(|word| value().prop_map(move |value| format!("{SPACE}{word}{SPACE}{value}")).boxed())
        .chain([name().prop_map(|name| format!("{SPACE}as{SPACE}{name}")).boxed()])
        .collect();
    (all, prop::sample::subsequence(vec![0, 1, 2, 3, 4], 0..=5).prop_shuffle())
        .prop_map(|(all, picked)| picked.into_iter().map(|index: usize| all[index].clone()).collect())
}

fn statement() -> impl Strategy<Value = String> {
    let what = prop_oneof![
        (channel(), call()).prop_map(|(channel, call)| format!("{channel}{SPACE}{call}")),
        call()
    ];
    let leaf = prop_oneof![
        3 => (when(), what, suffixes()).prop_map(|(when, what, suffixes)| when + &what + &suffixes),
        1 => (name(), value()).prop_map(|(name, value)| format!("let{SPACE}{name}{LOOSE}={SPACE}{value}")),
    ];
    leaf.prop_recursive(2, 8, 3, |inner| {
        (when(), prop::collection::vec(inner, 0..3), suffixes())
            .prop_map(|(when, inner, suffixes)| format!("{when}{}{suffixes}", block(&inner)))
    })
}

fn block(statements: &[String]) -> String {
    match statements {
        [one] => format!("{{{LOOSE}{one}{LOOSE}}}"),
        all => format!("{{{END}{}}}", all.iter().map(|one| format!("{one}{END}")).collect::<String>()),
    }
}

fn scene_statement() -> impl Strategy<Value = String> {
    prop_oneof![
        5 => statement(),
        1 => (name(), prop::option::of(channel()), expr(), prop::option::of(stretch())).prop_map(
            |(measure, channel, bound, over)| {
                let channel = channel.map_or(String::new(), |channel| format!("{SPACE}{channel}"));
                let over = over.map_or(String::new(), |over| format!("{SPACE}over{SPACE}{over}"));
                format!("expect{SPACE}{measure}{channel}{LOOSE}<={LOOSE}{bound}{over}")
            }
        ),
        1 => (name(), expr(), expr(), prop::option::of(expr()), prop::collection::vec(statement(), 0..3)).prop_map(
            |(input, threshold, until, pause, inner)| {
                let pause = pause.map_or(String::new(), |pause| format!("pause{SPACE}{pause}{SPACE}"));
                format!("on {input} above {threshold}{SPACE}until {until}{SPACE}{pause}{}", block(&inner))
            }
        ),
    ]
}

fn item() -> impl Strategy<Value = String> {
    let param = (
        name(),
        prop_oneof![
            unit().prop_map(|unit| format!(":{LOOSE}{unit}")),
            value().prop_map(|value| format!(" = {value}"))
        ],
    )
        .prop_map(|(name, kind)| name + &kind);
    prop_oneof![
        1 => Just("use \"library.cues\"".to_string()),
        1 => (name(), value()).prop_map(|(name, value)| format!("let {name} = {value}")),
        1 => (name(), expr(), expr()).prop_map(|(name, low, high)| format!("input {name}{SPACE}{low}..{high}")),
        2 => (name(), prop::collection::vec(param, 0..3), prop::collection::vec(statement(), 0..4))
            .prop_map(|(name, params, body)| {
                format!("cue {name}({LOOSE}{}{LOOSE}){SPACE}{}", params.join(&format!("{LOOSE},{LOOSE}")), block(&body))
            }),
        3 => prop::collection::vec(scene_statement(), 0..4).prop_map(|body| format!("scene \"a\" {}", block(&body))),
    ]
}

/// A program and its layout: bytes pick what stands at each loose place.
pub(crate) fn program() -> impl Strategy<Value = String> {
    (prop::collection::vec(item(), 0..5), prop::collection::vec(any::<u8>(), 32)).prop_map(
        |(items, picks)| {
            lay_out(&items.iter().map(|item| format!("{item}{END}")).collect::<String>(), &picks)
        },
    )
}

fn lay_out(program: &str, picks: &[u8]) -> String {
    let mut out = String::new();
    let mut rounds = 0;
    let mut count: usize = 0;
    for c in program.chars() {
        match c {
            '(' => rounds += 1,
            ')' => rounds -= 1,
            _ => {}
        }
        count = count.wrapping_mul(31).wrapping_add(1);
        let pick = usize::from(picks[count % picks.len()]) ^ (count >> 3);
        match c {
            LOOSE if rounds > 0 => {
                out += ["", " ", "", "\n", " # note (\n", "\r\n\n  # own }\n", "\t", ""][pick % 8]
            }
            LOOSE => out += ["", " ", "  ", "\t"][pick % 4],
            SPACE if rounds > 0 => out += [" ", "   ", " \t", " "][pick % 4],
            SPACE => out += [" ", "   ", "\t", " "][pick % 4],
            END => {
                out += ["\n", "\n\n\n", "  # trailing\n", "\n\n# own\n   # more\n\n", "\r\n", "\n"][pick % 6]
            }
            c => out.push(c),
        }
    }
    out
}
