//! The pages that the program writes, the rigs that it comes with, and its measuring help, as a user gets them.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_cueloom")).args(arguments).current_dir(root()).output().unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

/// Nothing is fetched, nothing runs, tags that are opened are closed.
fn stands_alone(page: &str) {
    assert!(page.starts_with("<!doctype html>") && page.ends_with("</html>\n"));
    let links = page.replace("http://www.w3.org/2000/svg", "").replace("safety function", "");
    for word in ["http:", "https:", "src=", "<link", "<script", "@import", "NaN", "safe"] {
        assert!(!links.contains(word), "{word}");
    }
    for tag in ["svg", "figure", "table", "p", "ul", "li", "td", "div", "section", "code", "pattern"] {
        let opened = page.matches(&format!("<{tag}>")).count() + page.matches(&format!("<{tag} ")).count();
        assert_eq!(opened, page.matches(&format!("</{tag}>")).count(), "<{tag}>");
    }
}

const DEMOS: [(&str, &str); 4] = [
    ("profiles/rigs/club-two-axis.toml", "profiles/evening-circuit.cues"),
    ("profiles/rigs/club-three-axis.toml", "profiles/three-axis-hop.cues"),
    ("profiles/rigs/club-six-leg.toml", "profiles/six-axis-turns.cues"),
    ("profiles/rigs/club-crank.toml", "profiles/crank-ramble.cues"),
];

#[test]
fn each_kind_of_rig_is_checked_rendered_played_and_drawn() {
    let folder = tempfile::tempdir().unwrap();
    let mut first = String::new();
    for (rig, profile) in DEMOS {
        let at = |name: &str| folder.path().join(name).display().to_string();
        let checked = run(&["check", profile, "--rig", rig]);
        assert_eq!(checked.status.code(), Some(0), "{}", out(&checked));
        let rendered = run(&["render", profile, "--rig", rig, "--rate", "50", "-o", &at("a.csv")]);
        assert_eq!(rendered.status.code(), Some(0), "{}", err(&rendered));
        let played =
            run(&["play", profile, "--rig", rig, "--fast", "--no-render", "--log", &at("a.log.csv")]);
        assert_eq!(played.status.code(), Some(0), "{}{}", out(&played), err(&played));
        let drawn =
            run(&["rig", rig, "--html", &at("rig.html"), "--mjcf", &at("rig.xml"), "--profile", profile]);
        assert_eq!(drawn.status.code(), Some(0), "{}{}", out(&drawn), err(&drawn));
        assert!(read(Path::new(&at("rig.xml"))).contains("<mujoco"));
        let page = read(Path::new(&at("rig.html")));
        stands_alone(&page);
        if rig == DEMOS[0].0 {
            first.clone_from(&page);
        }
        for words in [
            "The rig to scale",
            "Reach",
            "Holding forces",
            "When power fails",
            "model only",
            "the largest box",
        ] {
            assert!(page.contains(words), "{rig}: {words}");
        }
    }
    // The two-axis demo has motors, brakes and springs in its file.
    let path = folder.path().join("two.html").display().to_string();
    let (rig, profile) = DEMOS[0];
    run(&["rig", rig, "--html", &path, "--profile", profile]);
    let page = read(Path::new(&path));
    assert!(first == page, "same input, same bytes");
    for words in [
        "Natural frequencies",
        "mode 1, Hz",
        "continuous torque",
        "of the peak torque at its speed",
        "heavy pilot",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(page.matches("model only").count() >= 3, "stops, modes, brakes");
}

/// What people and programs read of a crank are angles; drives on a link are not sent what they would take for lengths.
#[test]
fn a_crank_is_told_in_angles() {
    let (rig, profile) = DEMOS[3];
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let checked = run(&["check", profile, "--rig", rig, "--format", "json"]);
    let value: serde_json::Value = serde_json::from_slice(&checked.stdout).unwrap();
    let margins = value["margins"].as_array().unwrap();
    let of = |quantity: &str| {
        margins.iter().find(|m| m["actuator"] == "left" && m["quantity"] == quantity).unwrap()
    };
    let units =
        ["stroke", "speed", "acceleration", "jerk"].map(|quantity| of(quantity)["unit"].as_str().unwrap());
    assert_eq!(units, ["rad", "rad/s", "rad/s^2", "rad/s^3"]);
    assert!((of("stroke")["limit"].as_f64().unwrap().abs().to_degrees() - 55.0).abs() < 1e-9);
    assert!((of("speed")["limit"].as_f64().unwrap().abs().to_degrees() - 200.0).abs() < 1e-9);

    run(&["render", profile, "--rig", rig, "--rate", "50", "-o", &at("a.csv")]);
    let series = read(Path::new(&at("a.csv")));
    let mut lines = series.lines();
    let header: Vec<&str> = lines.next().unwrap().split(',').collect();
    let column = header.iter().position(|name| *name == "left_angle_deg").unwrap();
    assert_eq!(header[column + 1..column + 3], ["left_rate_deg_s", "left_acceleration_deg_s2"]);
    let most = lines
        .map(|line| line.split(',').nth(column).unwrap().parse::<f64>().unwrap().abs())
        .fold(0.0, f64::max);
    let peak = of("stroke")["peak"].as_f64().unwrap().abs().to_degrees();
    assert!((most - peak).abs() < 0.05, "{most} {peak}");

    let summary = out(&run(&["rig", rig]));
    assert!(summary.contains("-58 deg to 58 deg") && summary.contains("200 deg/s"), "{summary}");
    assert!(!summary.contains("a ball screw back-drives"), "{summary}");

    let measured = run(&[
        "measure",
        "holding",
        rig,
        "--mass",
        "130 kg",
        "--mass-error",
        "1 kg",
        "--force-error",
        "1 N",
        "--tilt-error",
        "0.1 deg",
        "--hold",
        "0 deg, 0 deg: 1 N, 1 N / 1 N, 1 N",
    ]);
    assert!(err(&measured).contains("`left` is a crank"), "{}", err(&measured));
    let refused = run(&["commission", rig, "--link", "udp", "--to", "127.0.0.1:9", "--by", "Ada"]);
    let words = err(&refused);
    assert!(
        words.contains("`left` is a crank") && refused.status.code() == Some(2),
        "{:?} {words}",
        refused.status.code()
    );
}

#[test]
fn a_heave_reads_upwards_everywhere() {
    let (rig, profile) = DEMOS[1];
    let checked = run(&["check", profile, "--rig", rig, "--format", "json"]);
    let value: serde_json::Value = serde_json::from_slice(&checked.stdout).unwrap();
    let is_heave =
        |margin: &&serde_json::Value| margin["actuator"] == "heave" && margin["quantity"] == "joint angle";
    let heave = value["margins"].as_array().unwrap().iter().find(is_heave).unwrap().clone();
    // The thermal lifts by 40 mm of the 100 mm that there are.
    assert!((heave["peak"].as_f64().unwrap() - 0.04).abs() < 1e-4, "{heave}");
    assert!((heave["limit"].as_f64().unwrap() - 0.1).abs() < 1e-12, "{heave}");
}

#[test]
fn a_report_holds_margins_findings_traces_and_hashes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("deep/report.html").display().to_string();
    let (_, profile) = DEMOS[0];
    let output = run(&["report", profile, "-o", &path, "--gain", "1.5"]);
    assert_eq!(output.status.code(), Some(1), "{}", err(&output));
    let page = read(Path::new(&path));
    stands_alone(&page);
    for words in [
        "It does not fit the rig file.",
        "error[jerk]",
        "ruts / pitch ring",
        "left acceleration, m/s^2",
        "roll, (rad/s^2)^2/Hz",
        "model only",
        "not a safety function",
    ] {
        assert!(page.contains(words), "{words}");
    }
    for (file, _) in [DEMOS[0], ("profiles/evening-circuit.cues", "")] {
        let hash = sha256(&read(&root().join(file)));
        assert!(page.contains(&hash), "{file}");
    }
    let broken = folder.path().join("broken.cues");
    std::fs::write(&broken, "scene \"x\" { at 0 s  pitch hld(1 deg) }\n").unwrap();
    let output = run(&["report", broken.to_str().unwrap(), "-o", &path, "--rig", DEMOS[0].0]);
    assert_eq!(output.status.code(), Some(1));
    assert!(err(&output).contains("is not written") && read(Path::new(&path)) == page);
}

fn sha256(text: &str) -> String {
    use sha2::Digest;
    sha2::Sha256::digest(text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn a_template_is_written_once_and_loads() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("my-rig.toml").display().to_string();
    let output = run(&["rig", "new", &path]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert_eq!(read(Path::new(&path)), out(&run(&["rig", "new"])));
    let again = run(&["rig", "new", &path]);
    assert_eq!(again.status.code(), Some(2));
    assert!(err(&again).contains("is there already"), "{}", err(&again));
    let report = run(&["rig", &path]);
    assert_eq!(report.status.code(), Some(0), "{}", out(&report));
    assert!(out(&report).contains("still the one in the template"), "{}", out(&report));
    let json = run(&["rig", &path, "--format", "json"]);
    let value: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!(value["survey"]["axes"], serde_json::json!(["roll", "pitch"]));
    assert!(value["survey"]["together"].as_f64().unwrap() > 0.5);
    assert_eq!(value["survey"]["advice"]["look_again"].as_array().unwrap().len(), 1);
}

/// Weight, forces and model are said for every load that the file names.
#[test]
fn every_load_has_its_forces_and_its_model() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let demo = root().join("profiles/rigs/club-two-axis.toml").display().to_string();
    let (page, model) = (at("rig.html"), at("rig.xml"));
    let output = run(&["rig", &demo, "--html", &page, "--mjcf", &model, "--load", "heavy pilot"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let said = out(&output);
    for load in ["payload", "empty seat", "heavy pilot"] {
        assert!(said.contains(&format!("with `{load}` level and at rest")), "{load}: {said}");
        assert!(read(Path::new(&page)).contains(&format!("under the load <code>{load}</code>")), "{load}");
    }
    // 62 kg, 50 mm behind the joint, on two legs 0.7 m behind it: 21.7 N push each. 155 kg 45 mm before: 48.9 N pull.
    assert!(said.contains("`empty seat` level and at rest, `left` is pushed with 22 N"), "{said}");
    assert!(said.contains("`heavy pilot` level and at rest, `left` is pulled with 49 N"), "{said}");
    assert!(said.contains("holding it level with `heavy pilot` takes 3 % of the thrust of `left`"), "{said}");
    let xml = read(Path::new(&model));
    assert!(xml.contains("<!-- load: heavy pilot -->") && xml.contains(" mass=\"155\""), "{xml}");
    // The same numbers under another name are called by the name that was asked for.
    let file = read(Path::new(&demo));
    let (_, heavy) = file.split_once("name    = \"heavy pilot\"").unwrap();
    let twin = format!("\n[[load]]\nname = \"twin\"{}", heavy.split("\n#").next().unwrap());
    let twins = at("twins.toml");
    std::fs::write(&twins, file.clone() + &twin).unwrap();
    assert_eq!(run(&["rig", &twins, "--mjcf", &model, "--load", "twin"]).status.code(), Some(0));
    assert!(read(Path::new(&model)).contains("<!-- load: twin -->"));
    assert_eq!(run(&["rig", &twins, "--mjcf", &model]).status.code(), Some(0));
    assert!(read(Path::new(&model)).contains("<!-- load: payload -->"));
    let late = at("late.html");
    let none = run(&["rig", &demo, "--html", &late, "--mjcf", &model, "--load", "nobody"]);
    assert_eq!((none.status.code(), Path::new(&late).exists()), (Some(2), false));
    assert!(
        err(&none).contains("no load `nobody`; it has `payload`, `empty seat`, `heavy pilot`"),
        "{}",
        err(&none)
    );
}

/// A rig file with mistakes is told, and nothing is drawn of it.
#[test]
fn over_and_under_held_platforms_are_refused_with_the_reason() {
    let folder = tempfile::tempdir().unwrap();
    let text = read(&root().join(DEMOS[1].0));
    let file = folder.path().join("rig.toml");
    let page = folder.path().join("rig.html");
    for (order, words) in [
        (
            "order = [\"heave\", \"pitch\", \"roll\", \"yaw\"]\nyaw = { min = \"-5 deg\", max = \"5 deg\" }",
            "held by too little",
        ),
        ("order = [\"pitch\", \"roll\"]", "held by too much"),
    ] {
        let changed = text.replace("order = [\"heave\", \"pitch\", \"roll\"]", order);
        let changed =
            if order.contains("heave") { changed } else { changed.replace("heave = {", "# heave = {") };
        std::fs::write(&file, changed).unwrap();
        let output = run(&["rig", file.to_str().unwrap(), "--html", page.to_str().unwrap()]);
        assert_eq!(output.status.code(), Some(1));
        assert!(out(&output).replace('\n', " ").contains(words), "{}", out(&output));
        assert!(err(&output).contains("is not written") && !page.exists());
    }
}

/// By hand: 431 mm at 10 mm counted, 731 mm at 310 mm: stroke 300 mm, zero at 421 mm.
#[test]
fn tape_scales_and_gauge_give_lines_that_load() {
    let tape = run(&[
        "measure",
        "tape",
        "--at",
        "310 mm, 731 mm",
        "--at",
        "10 mm, 431 mm",
        "--tape-error",
        "1mm",
        "--encoder-error",
        "0.01mm",
        "--lead",
        "5 mm",
    ]);
    assert_eq!(tape.status.code(), Some(0), "{}", err(&tape));
    assert!(
        out(&tape).contains("stroke: 300 mm") && out(&tape).contains("counts 0: 421 mm"),
        "{}",
        out(&tape)
    );
    assert!(out(&tape).contains("the lead is right"), "{}", out(&tape));

    // Two scales 0.5 m before and behind: 66 and 54 kg level; pitched by asin 0.6 they read 48 and 72 kg: x 50 mm, z -200 mm.
    let scales = run(&[
        "measure",
        "scales",
        "--point",
        "0.5 m, 0 m, 0 m",
        "--point",
        "-0.5 m, 0 m, 0 m",
        "--weigh",
        "0 deg, 0 deg: 66 kg, 54 kg",
        "--weigh",
        "36.86989764584402 deg, 0 deg: 48 kg, 72 kg",
        "--scale-error",
        "0.1kg",
        "--tape-error",
        "2mm",
        "--tilt-error",
        "0.1deg",
        "--format",
        "json",
    ]);
    let value: serde_json::Value =
        serde_json::from_slice(&scales.stdout).unwrap_or_else(|_| panic!("{}", err(&scales)));
    let centre = value["values"]["centre_m"].as_array().unwrap();
    assert!((centre[0]["value"].as_f64().unwrap() - 0.05).abs() < 1e-9, "{value}");
    assert!((centre[2]["value"].as_f64().unwrap() + 0.2).abs() < 1e-9, "{value}");
    assert!(centre[2]["uncertainty"].as_f64().unwrap() > 1e-3);
    let lines: Vec<&str> =
        value["lines"].as_array().unwrap().iter().map(|line| line.as_str().unwrap()).collect();
    let mut text = read(&root().join(DEMOS[0].0));
    for (key, line) in [("mass    =", lines[0]), ("centre  =", lines[1])] {
        let old = text.lines().find(|line| line.starts_with(key)).unwrap().to_string();
        text = text.replacen(&old, line, 1);
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rig.toml");
    std::fs::write(&file, text).unwrap();
    let read_back = run(&["rig", file.to_str().unwrap()]);
    assert!(out(&read_back).contains("50 mm in front of"), "{}", out(&read_back));

    // 10 kg and 0.1 mm: 980 665 N/m.
    let gauge = run(&[
        "measure",
        "stiffness",
        "--key",
        "leg.mount",
        "--hang",
        "10 kg, 0.1 mm",
        "--scale-error",
        "0.05kg",
        "--gauge-error",
        "0.005mm",
    ]);
    assert!(out(&gauge).contains("9.8066e5 N/m") || out(&gauge).contains("9.8067e5 N/m"), "{}", out(&gauge));
    assert!(out(&gauge).contains("leg.mount = \"98"), "{}", out(&gauge));

    let wrong = run(&[
        "measure",
        "tape",
        "--at",
        "1 kg, 2 m",
        "--at",
        "0 m, 1 m",
        "--tape-error",
        "1mm",
        "--encoder-error",
        "0 mm",
    ]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(err(&wrong).contains("--at: `1 kg` has the wrong unit"), "{}", err(&wrong));
}

/// Forces of the demo at three poses with 40 N of friction either way: the centre of the file comes out again.
#[test]
fn holding_forces_give_the_centre_of_the_demo() {
    use cueloom::rig::{gravity_legs_n, load};
    let rig = load(cueloom::diag::SourceId(0), &read(&root().join(DEMOS[0].0))).rig.unwrap();
    let mut arguments: Vec<String> =
        ["measure", "holding", DEMOS[0].0, "--mass", "130kg", "--mass-error", "0.5kg"]
            .into_iter()
            .chain(["--force-error", "2N", "--tilt-error", "0.1deg", "--format", "json"])
            .map(str::to_string)
            .collect();
    for (pitch, roll) in [(0.0_f64, 0.0_f64), (6.0, 0.0), (-5.0, 5.0)] {
        let forces = gravity_legs_n(&rig, &[pitch.to_radians(), roll.to_radians()]).unwrap();
        let with = |by: f64| forces.iter().map(|n| format!("{} N", n + by)).collect::<Vec<_>>().join(", ");
        arguments.push("--hold".into());
        arguments.push(format!("{pitch} deg, {roll} deg: {} / {}", with(40.0), with(-40.0)));
    }
    let output = run(&arguments.iter().map(String::as_str).collect::<Vec<_>>());
    let value: serde_json::Value =
        serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", err(&output)));
    let centre = value["values"]["centre_m"].as_array().unwrap();
    for (part, expected) in centre.iter().zip([0.03, 0.0, -0.10]) {
        assert!((part["value"].as_f64().unwrap() - expected).abs() < 1e-9, "{value}");
    }
    assert!((value["values"]["friction_n"][0].as_f64().unwrap() - 40.0).abs() < 1e-9);
}

/// A sine of 2 deg at 3 Hz, full for 38 s of 40 s: peaks stay peaks, and the spectrum holds its mean square.
#[test]
fn traces_keep_peaks_and_spectra_keep_power() {
    use cueloom::motion::{Plan, envelope, spectra};
    let text = "scene \"s\" {\n at 0 s  roll sine(2 deg, 3 Hz) for 40 s  rise 1 s  fall 1 s\n}\n";
    let mut sources = cueloom::diag::Sources::new();
    let source = sources.add(cueloom::diag::SourceText::new("s.cues", text));
    let parsed = cueloom::lang::parse(source, text);
    let resolved =
        cueloom::scenario::resolve(&parsed.file, source, None, &mut sources, &cueloom::scenario::NoFiles);
    let rig = cueloom::rig::load(source, &read(&root().join(DEMOS[0].0))).rig.unwrap();
    let rate = cueloom::time::SampleRate::new(1000).unwrap();
    let plan = Plan::new(resolved.scenario.unwrap().into(), rig.into(), 1.0, rate).unwrap();
    let found = envelope(&plan, 77, &|_| {});
    let roll = &found.platform[1];
    assert!(roll[0].len() <= 77 && (found.column_s * roll[0].len() as f64 - 40.0).abs() < found.column_s);
    let most =
        |trace: &[(f64, f64)]| trace.iter().fold(0.0_f64, |most, (low, high)| most.max(high.max(-low)));
    let (size, turn) = (2.0_f64.to_radians(), 6.0 * std::f64::consts::PI);
    assert!((most(&roll[0]) / size - 1.0).abs() < 1e-4, "{}", most(&roll[0]));
    // Coming to rest adds a little to the acceleration.
    assert!((most(&roll[2]) / (size * turn * turn) - 1.0).abs() < 1e-2, "{}", most(&roll[2]));
    assert!(found.platform[0].iter().all(|trace| most(trace) == 0.0), "pitch is still");
    let spectrum = &spectra(&plan, &|_| {})[1];
    let total: f64 = spectrum.loudest.iter().sum::<f64>() * spectrum.step_hz;
    let acceleration = size * turn * turn;
    let expected = acceleration * acceleration / 2.0;
    // Bin by bin the loudest of all windows, so a little more than any one of them holds.
    assert!((0.98..1.15).contains(&(total / expected)), "{total} {expected}");
    let top =
        (0..spectrum.mean.len()).max_by(|a, b| spectrum.mean[*a].total_cmp(&spectrum.mean[*b])).unwrap();
    assert!((top as f64 * spectrum.step_hz - 3.0).abs() < spectrum.step_hz, "{top}");
}
