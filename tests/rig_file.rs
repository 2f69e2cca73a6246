//! Rig files: the shipped one, broken ones, and any text at all.

#![allow(clippy::unwrap_used, reason = "a test may fail by it")]

use cueloom::diag::{Diagnostic, Severity, SourceText, Sources, render_short};
use cueloom::rig::{self, Axis, Loaded};
use proptest::prelude::*;
use serde_json::Value;
use std::collections::BTreeSet;

const DEMO: &str = include_str!("../profiles/rigs/club-two-axis.toml");
const CRANKS: &str = include_str!("../profiles/rigs/club-crank.toml");

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

/// Angles become ways of the pin, torques forces along its circle, a ratio what the pin goes in a turn of the motor.
#[test]
fn a_crank_leg_is_told_at_its_pin() {
    assert_eq!(report(CRANKS), "a rig\n");
    assert_eq!(against_schema(CRANKS), Vec::<String>::new());
    let rig = load(CRANKS).0.rig.unwrap();
    let leg = &rig.actuators[0];
    let near =
        |found: f64, expected: f64| assert!((found - expected).abs() < 1e-12, "{found} and not {expected}");
    // 150 mm, 58 deg, 3 deg, 200 deg/s, 180 N*m, 1 to 80.
    let deg = std::f64::consts::PI / 180.0;
    near(leg.max_m, 0.15 * 58.0 * deg);
    near(leg.min_m, -0.15 * 58.0 * deg);
    near(leg.soft_stop_m, 0.15 * 3.0 * deg);
    near(leg.speed_m_s, 0.15 * 200.0 * deg);
    near(leg.thrust_n, 1200.0);
    near(leg.motor_hz(), 200.0 / 360.0 * 80.0);
    let part = leg.crank.unwrap();
    // By hand: the crank points backward, its pin is right under the platform's point, the rod upright.
    near(rig::kinematics::lengths_m(&rig, &[0.0, 0.0])[0], 0.0);
    assert!((rig::kinematics::jacobian(&rig, &[0.0, 0.0])[(0, 0)].abs() - 0.7).abs() < 1e-12);
    // Full travel turns the crank by 58 deg from square, and the rod leans a little besides.
    assert!(part.least_transmission > 0.3 && part.least_transmission < libm::cos(58.0 * deg), "{part:?}");
    assert_eq!(leg.shown(leg.max_m), "58 deg");
}

/// The other way of putting a crank together is named where it fits.
#[test]
fn a_crank_assembled_the_other_way_is_found_out() {
    let said = report(&CRANKS.replace("\"behind\"", "\"ahead\""));
    assert!(said.contains("with `assembly = \"behind\"` it would stand at 0 deg"), "{said}");
}

/// TOML writes numbers in several ways.
#[test]
fn whole_numbers_may_have_underscores_and_bases() {
    for written in ["10_000", "0x2710", "+10000"] {
        let rig = load(&DEMO.replace("= 10000", &format!("= {written}"))).0.rig.unwrap();
        assert_eq!(rig.drive.counts_per_turn, 10_000, "{written}");
    }
}

/// Each file under tests/cases/rig is broken; beside it stands what must be said.
#[test]
fn broken_files_say_what_is_wrong() {
    insta::glob!("cases/rig/*.toml", |path| {
        let text = std::fs::read_to_string(path).unwrap();
        insta::assert_snapshot!(report(&text));
    });
}

const SCHEMA: &str = include_str!("../profiles/rigs/rig.schema.json");

/// The committed schema is what `cueloom schema rig` prints. To renew it: run this test with CUELOOM_RENEW=1.
#[test]
fn the_committed_schema_is_the_current_one() {
    let current = serde_json::to_string_pretty(&rig::schema()).unwrap() + "\n";
    if std::env::var_os("CUELOOM_RENEW").is_some() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/profiles/rigs/rig.schema.json");
        std::fs::write(path, &current).unwrap();
    }
    assert!(SCHEMA == current, "the schema has changed: run this test once with CUELOOM_RENEW=1, then again");
}

/// A part of JSON Schema draft 7, enough for this schema: what a value breaks, as text.
fn breaks(root: &Value, schema: &Value, value: &Value, at: &str, found: &mut Vec<String>) {
    let reference = schema.get("$ref").and_then(Value::as_str).map(|path| path.trim_start_matches('#'));
    if let Some(path) = reference {
        return breaks(root, root.pointer(path).unwrap(), value, at, found);
    }
    for part in schema.get("allOf").and_then(Value::as_array).into_iter().flatten() {
        breaks(root, part, value, at, found);
    }
    if let Some(choices) = schema.get("anyOf").or(schema.get("oneOf")).and_then(Value::as_array) {
        let fits = |choice: &&Value| {
            let mut inner = Vec::new();
            breaks(root, choice, value, at, &mut inner);
            inner.is_empty()
        };
        if !choices.iter().any(|choice| fits(&choice)) {
            found.push(format!("{at}: no choice fits"));
        }
    }
    for key in schema.get("required").and_then(Value::as_array).into_iter().flatten() {
        if value.get(key.as_str().unwrap()).is_none() {
            found.push(format!("{at}: no {key}"));
        }
    }
    let types: Vec<&str> = match schema.get("type") {
        Some(Value::String(one)) => vec![one],
        Some(Value::Array(several)) => several.iter().filter_map(Value::as_str).collect(),
        _ => Vec::new(),
    };
    let is = match value {
        Value::String(_) => "string",
        Value::Number(number) if number.is_f64() => "number",
        Value::Number(_) => "integer",
        Value::Array(_) => "array",
        Value::Object(_) => "object",
        _ => "other",
    };
    let is_number = is == "integer" && types.contains(&"number");
    if !types.is_empty() && !types.contains(&is) && !is_number {
        found.push(format!("{at}: {is}, not {types:?}"));
    }
    if let Some(words) = schema.get("enum").and_then(Value::as_array)
        && !words.contains(value)
    {
        found.push(format!("{at}: {value} is none of the words"));
    }
    if let (Value::Object(table), Some(properties)) = (value, schema.get("properties")) {
        for (key, inner) in table {
            match properties.get(key) {
                Some(property) => breaks(root, property, inner, &format!("{at}.{key}"), found),
                None => found.push(format!("{at}: unknown {key}")),
            }
        }
    }
    if let (Value::Array(list), Some(items)) = (value, schema.get("items")) {
        list.iter().for_each(|item| breaks(root, items, item, &format!("{at}[]"), found));
        let edge = |key| schema.get(key).and_then(Value::as_u64).map(|n| n as usize);
        if edge("minItems").is_some_and(|n| list.len() < n)
            || edge("maxItems").is_some_and(|n| list.len() > n)
        {
            found.push(format!("{at}: {} entries", list.len()));
        }
    }
}

fn against_schema(text: &str) -> Vec<String> {
    let value: Value = toml::from_str(text).unwrap();
    let (schema, mut found) = (rig::schema(), Vec::new());
    breaks(&schema, &schema, &value, "rig", &mut found);
    found
}

#[test]
fn the_demo_fits_the_schema_and_broken_ones_do_not() {
    assert_eq!(against_schema(DEMO), Vec::<String>::new());
    let broken = |from: &str, to: &str| {
        assert!(DEMO.contains(from), "{from}");
        against_schema(&DEMO.replacen(from, to, 1)).join("; ")
    };
    assert_eq!(
        broken("[link]\ndetection ", "[link]\ndetectio "),
        "rig.link: no \"detection\"; rig.link: unknown detectio"
    );
    assert_eq!(
        broken("kind         = \"ball screw\"", "kind = \"belt\""),
        "rig.actuator[].kind: \"belt\" is none of the words"
    );
    assert_eq!(broken("10000 ", "\"10000\" "), "rig.drive.counts_per_turn: string, not [\"integer\"]");
    assert_eq!(broken("[\"0 m\", \"0 m\", \"-0.20 m\"]", "[\"0 m\"]"), "rig.seat.point: 1 entries");
}

/// Every path of keys that a schema knows: `screw.whirl.ends`.
fn known_keys(root: &Value, schema: &Value, at: &str, found: &mut BTreeSet<String>) {
    if let Some(path) = schema.get("$ref").and_then(Value::as_str) {
        return known_keys(root, root.pointer(path.trim_start_matches('#')).unwrap(), at, found);
    }
    let choices = ["allOf", "anyOf", "oneOf"].iter().filter_map(|key| schema.get(*key)?.as_array()).flatten();
    choices.chain(schema.get("items")).for_each(|part| known_keys(root, part, at, found));
    for (key, inner) in schema.get("properties").and_then(Value::as_object).into_iter().flatten() {
        let path = format!("{at}{key}");
        known_keys(root, inner, &format!("{path}."), found);
        found.insert(path);
    }
}

/// Every path of keys that a file uses.
fn used_keys(value: &Value, at: &str, found: &mut BTreeSet<String>) {
    match value {
        Value::Array(list) => list.iter().for_each(|item| used_keys(item, at, found)),
        Value::Object(table) => table.iter().for_each(|(key, inner)| {
            let path = format!("{at}{key}");
            used_keys(inner, &format!("{path}."), found);
            found.insert(path);
        }),
        _ => {}
    }
}

/// The template with every sleeping line awake, as its head says: `# key = …` and `# [table]` without the `# `.
fn awake(template: &str) -> String {
    let is_key = |line: &str| {
        let word = line.split_once('=').map_or("", |(key, _)| key.trim_end());
        !word.is_empty() && word.chars().all(|c| c.is_ascii_lowercase() || c == '_')
    };
    let wake = |line: &str| {
        let inside = line.strip_prefix("# ").filter(|rest| rest.starts_with('[') || is_key(rest));
        inside.unwrap_or(line).to_string() + "\n"
    };
    template.lines().map(wake).collect()
}

/// What `cueloom rig new` writes cannot fall behind: asleep and awake it is a rig, and it holds every key there is.
#[test]
fn the_template_knows_every_key() {
    assert_eq!(report(rig::TEMPLATE), "a rig\n");
    let text = awake(rig::TEMPLATE);
    assert_eq!(report(&text), "a rig\n");
    assert_eq!(against_schema(&text), Vec::<String>::new());
    let (schema, mut known, mut used) = (rig::schema(), BTreeSet::new(), BTreeSet::new());
    known_keys(&schema, &schema, "", &mut known);
    used_keys(&toml::from_str(&text).unwrap(), "", &mut used);
    assert!(known.contains("screw.whirl.ends") && known.contains("obstacle.plane.free"), "{known:?}");
    let left: Vec<&str> = known.difference(&used).map(String::as_str).collect();
    // These exclude a key that is there; the words around say when to write them.
    let instead = [
        "actuator.crank",
        "actuator.crank.acceleration",
        "actuator.crank.angle",
        "actuator.crank.angle.max",
        "actuator.crank.angle.min",
        "actuator.crank.arm",
        "actuator.crank.assembly",
        "actuator.crank.centre",
        "actuator.crank.dead_point",
        "actuator.crank.gearbox",
        "actuator.crank.gearbox.backlash",
        "actuator.crank.gearbox.drag",
        "actuator.crank.gearbox.efficiency",
        "actuator.crank.gearbox.efficiency_back",
        "actuator.crank.gearbox.inertia",
        "actuator.crank.gearbox.pin_mass",
        "actuator.crank.jerk",
        "actuator.crank.park",
        "actuator.crank.ratio",
        "actuator.crank.rod",
        "actuator.crank.shaft",
        "actuator.crank.soft_stop",
        "actuator.crank.speed",
        "actuator.crank.torque",
        "actuator.crank.zero",
        "actuator.shortest",
        "actuator.stroke",
        "brake.legs",
        "end_stop.legs",
        "joint.heave",
        "joint.heave.max",
        "joint.heave.min",
        "joint.surge",
        "joint.surge.max",
        "joint.surge.min",
        "joint.sway",
        "joint.sway.max",
        "joint.sway.min",
        "joint.yaw",
        "joint.yaw.max",
        "joint.yaw.min",
        "motor.legs",
        "screw.legs",
    ];
    assert_eq!(left, instead);
    for key in instead {
        let word = key.split('.').nth(1).unwrap();
        let said = rig::TEMPLATE.lines().any(|line| line.starts_with('#') && line.contains(word));
        assert!(said, "no word of {key}");
    }
}

/// One line on where to read each number that sleeps: beside it, or above it.
#[test]
fn what_sleeps_in_the_template_says_where_to_look() {
    let awake = awake(rig::TEMPLATE);
    let mut above = "";
    for (before, after) in rig::TEMPLATE.lines().zip(awake.lines()) {
        let is_prose = before.starts_with("# ") && before == after;
        if is_prose {
            above = before;
        } else if before.is_empty() {
            above = "";
        } else if before != after && !after.starts_with('[') {
            let remark = after.rsplit_once("# ").map_or("", |(_, remark)| remark);
            let is_name = after.starts_with("name ");
            assert!(is_name || !remark.trim().is_empty() || !above.is_empty(), "{before}");
        }
    }
}

#[test]
fn heave_counts_up_in_the_file_and_down_inside() {
    let text = DEMO.replace("order = [\"pitch\", \"roll\"]", "order = [\"heave\", \"roll\"]").replace(
        "pitch = { min = \"-10 deg\", max = \"10 deg\" }",
        "heave = { min = \"-50 mm\", max = \"80 mm\" }",
    );
    let (loaded, _) = load(&text);
    let rig = loaded.rig.unwrap();
    assert_eq!((rig.axes[0].min, rig.axes[0].max), (-0.08, 0.05));
    // Up by 50 mm makes the legs longer.
    let up = rig::kinematics::lengths_m(&rig, &[-0.05, 0.0])[0];
    assert!((up - 0.63).abs() < 1e-12, "{up}");
}

/// The reader must get further than the first mistake: one broken line in every table.
#[test]
fn one_run_finds_a_mistake_in_every_table() {
    let text = DEMO
        .replace("height = \"0.62 m\"", "height = \"0.62 kg\"")
        .replace("max = \"12 deg\"", "max = \"-13 deg\"")
        .replace("mass    = \"130 kg\"", "mass    = \"0 kg\"")
        .replace("[\"0 m\", \"0 m\", \"-0.20 m\"]", "\"0 m\"")
        .replace("lead         = \"5 mm\"", "lead = \"5 parsec\"")
        .replace("[\"11 Hz\", \"13 Hz\"]", "[\"11 Hz\", \"3 Hz\"]")
        .replace("bandwidth       = \"25 Hz\"", "bandwidth = \"25 Hx\"")
        .replace("detection = \"10 ms\"", "detection = \"-10 ms\"");
    let rules: Vec<_> = load(&text).0.diagnostics.iter().map(|diagnostic| diagnostic.rule).collect();
    assert_eq!(
        rules,
        [
            "rig-dimension",
            "rig-joint-range",
            "rig-range",
            "rig-value",
            "rig-value",
            "rig-value",
            "rig-band",
            "rig-value",
            "rig-range"
        ]
    );
}

#[test]
fn too_much_is_refused() {
    let (loaded, _) = load(&"# long\n".repeat(60_000));
    assert_eq!(loaded.diagnostics[0].rule, "rig-size");
    let many = DEMO.to_string() + &"[[actuator]]\nname = \"x\"\n".repeat(40);
    assert!(load(&many).0.diagnostics.iter().any(|diagnostic| diagnostic.rule == "rig-size"));
    let bands = DEMO.to_string() + &"[[avoid]]\n".repeat(9000);
    assert!(load(&bands).0.diagnostics.len() <= 100);
    let deep = "a = ".to_string() + &"[".repeat(100_000);
    assert!(load(&deep).0.rig.is_none());
}

/// Any text ends in a rig or in diagnostics whose places lie in the text.
fn ends_well(text: &str) {
    let (loaded, sources) = load(text);
    let errors =
        loaded.diagnostics.iter().filter(|diagnostic| diagnostic.severity == Severity::Error).count();
    assert_eq!(loaded.rig.is_none(), errors > 0, "{text:?}");
    for diagnostic in &loaded.diagnostics {
        let places = diagnostic.secondary.iter().chain([&diagnostic.primary]).map(|label| label.span);
        for span in places.chain(diagnostic.fixes.iter().map(|fix| fix.span)) {
            assert!(span.start <= span.end && span.end as usize <= text.len(), "{span:?} in {text:?}");
        }
        assert!(!render_short(diagnostic, &sources).is_empty());
        assert!(!diagnostic.title.ends_with('.') && !diagnostic.title.contains('\n'), "{}", diagnostic.title);
    }
    if let Some(rig) = loaded.rig {
        let level = vec![0.0; rig.axes.len()];
        assert!(rig::kinematics::lengths_m(&rig, &level).iter().all(|length| length.is_finite()));
        assert!(rig::gravity_legs_n(&rig, &level).is_some());
    }
}

fn mutated() -> impl Strategy<Value = String> {
    prop_oneof![changed(DEMO), changed(CRANKS)]
}

fn changed(demo: &'static str) -> impl Strategy<Value = String> {
    let numbers = prop::sample::select(vec![
        "0",
        "-0",
        "1e308",
        "-1e308",
        "1e-308",
        "nan",
        "inf",
        "90",
        "-90",
        "99999999999999999999",
        "0.5",
        "",
        "1 m",
    ]);
    let change =
        (any::<prop::sample::Index>(), 0_usize..12, prop_oneof![numbers.prop_map(str::to_string), ".{0,6}"]);
    prop::collection::vec(change, 1..4).prop_map(|changes| {
        changes.into_iter().fold(demo.to_string(), |text, (at, length, with)| {
            let chars: Vec<char> = text.chars().collect();
            let start = at.index(chars.len() + 1);
            let end = (start + length).min(chars.len());
            chars[..start].iter().copied().chain(with.chars()).chain(chars[end..].iter().copied()).collect()
        })
    })
}

/// The demo with one number replaced by another.
fn renumbered() -> impl Strategy<Value = String> {
    let starts: Vec<usize> = DEMO
        .match_indices('"')
        .map(|(at, _)| at + 1)
        .filter(|at| DEMO[*at..].starts_with(|c: char| c.is_ascii_digit() || c == '-'))
        .collect();
    let number = prop_oneof![any::<f64>(), -1e3_f64..1e3, -1.0_f64..1.0];
    (prop::sample::select(starts), number).prop_map(|(at, number)| {
        let rest = &DEMO[at..];
        let end = rest.find([' ', '"']).unwrap_or(0);
        format!("{}{number:e}{}", &DEMO[..at], &rest[end..])
    })
}

proptest! {
    #[test]
    fn any_text_ends_well(text in ".{0,400}") {
        ends_well(&text);
    }

    #[test]
    fn a_mutated_demo_ends_well(text in mutated()) {
        ends_well(&text);
    }

    #[test]
    fn a_renumbered_demo_ends_well(text in renumbered()) {
        ends_well(&text);
    }
}

/// Every slug that the reader can say has its long text under four headings, and no other has one.
#[test]
fn every_rule_is_explained() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/rig/file");
    let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let sources = files.chain([format!("{folder}.rs").into()]);
    let text: String = sources.map(|path| std::fs::read_to_string(path).unwrap()).collect();
    let said: BTreeSet<&str> =
        text.split('"').filter(|part| part.starts_with("rig-") && part.len() < 30).collect();
    let explained: BTreeSet<&str> = rig::explain::RULES.iter().map(|rule| rule.slug).collect();
    assert_eq!(said, explained);
    assert_eq!(explained.len(), rig::explain::RULES.len());
    for rule in rig::explain::RULES {
        let headings = ["What it checks\n", "Why it matters\n", "Example\n", "Write instead\n"];
        let places: Vec<_> = headings.iter().map(|heading| rule.text.find(heading)).collect();
        assert!(places.iter().all(Option::is_some) && places.is_sorted(), "{}", rule.slug);
        assert!(rule.text.lines().all(|line| line.chars().count() <= 110), "{}", rule.slug);
    }
}
