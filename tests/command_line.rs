//! The program as a user runs it: exit codes, forms of output, and what it says when something is missing.

#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

const PLAIN: &str = "scene \"small\" {\n    at 0 s  pitch hold(1 deg, ease: 1 s)  for 4 s\n}\n";
const HARD: &str = "scene \"hard\" {\n    at 0 s  pitch pulse(3 deg, 0.12 s)  as kick\n}\n";

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cueloom"));
    command.env_remove("NO_COLOR").env_remove("COLUMNS");
    command
}

fn run(arguments: &[&str]) -> Output {
    program().args(arguments).output().unwrap()
}

fn code(output: &Output) -> i32 {
    output.status.code().unwrap_or_else(|| panic!("ended by a signal: {output:?}"))
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// A folder with a profile of the given text in it.
fn folder_with(text: impl AsRef<[u8]>) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let profile = folder.path().join("small.cues");
    std::fs::write(&profile, text).unwrap();
    (folder, profile)
}

fn demo_rig() -> String {
    root().join("profiles/rigs/club-two-axis.toml").display().to_string()
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn word(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn a_profile_that_fits_is_clean_in_every_form() {
    let (_folder, profile) = folder_with(PLAIN);
    let human = run(&["check", word(&profile), "--rig", &demo_rig()]);
    assert_eq!(code(&human), 0, "{}{}", out(&human), err(&human));
    assert!(out(&human).contains("\nfits the rig file\n"), "{}", out(&human));
    assert!(out(&human).contains("not a safety function"));
    assert!(!out(&human).contains('\u{1b}'), "no colour where no terminal is");

    let short = run(&["check", word(&profile), "--rig", &demo_rig(), "--format", "short"]);
    assert_eq!((code(&short), out(&short).as_str()), (0, ""));

    let json = run(&["check", word(&profile), "--rig", &demo_rig(), "--format", "json"]);
    let value: serde_json::Value = serde_json::from_str(&out(&json)).unwrap();
    assert_eq!((code(&json), &value["fits"], &value["duration_s"]), (0, &true.into(), &4.0.into()));
    assert_eq!(value["findings"].as_array().map(Vec::len), Some(0));
    assert!(value["margins"][0]["used"].as_f64().is_some_and(|used| used > 0.0 && used < 1.0), "{value}");
}

#[test]
fn a_profile_that_does_not_fit_has_findings_and_a_gain() {
    let (_folder, profile) = folder_with(HARD);
    let arguments = ["check", word(&profile), "--rig", &demo_rig(), "--format", "json"];
    let output = run(&arguments);
    assert_eq!(code(&output), 1, "{}", err(&output));
    let value: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    let gain = value["fits_gain"].as_f64().unwrap();
    assert!(gain > 0.0 && gain < 1.0, "{value}");
    assert_eq!((&value["fits"], &value["findings"][0]["line"]), (&false.into(), &2.into()));
    assert_eq!(
        value["findings"][0]["blame"][0]["label"].as_str().map(|l| l.contains("kick")),
        Some(true),
        "{value}"
    );
    // The gain that is named does fit.
    let gain = format!("{}", (gain * 1000.0).floor() / 1000.0);
    assert_eq!(code(&run(&[&arguments[..4], &["--gain", &gain]].concat())), 0);

    let human = out(&run(&arguments[..4]));
    assert!(human.contains("does not fit the rig file") && human.contains("fits at gain"), "{human}");
    let short = out(&run(&[&arguments[..5], &["short"]].concat()));
    assert!(short.lines().all(|line| line.contains("small.cues:")), "{short}");
}

/// Threads share how far each limit is used already, to skip what cannot matter; when they tell each other differs from
/// run to run, and must not show.
#[test]
fn the_demos_report_has_the_same_bytes_on_any_number_of_threads_every_time() {
    let profile = root().join("profiles/evening-circuit.cues");
    let report = |threads: &str| {
        out(&run(&["check", word(&profile), "--rig", &demo_rig(), "--threads", threads, "--format", "json"]))
    };
    let alone = report("1");
    assert!(alone.contains("\"at_s\""), "{alone}");
    for threads in ["2", "3", "2", "4", "2"] {
        assert!(report(threads) == alone, "{threads} threads");
    }
}

#[test]
fn mistakes_are_all_reported_with_their_places() {
    let (_folder, profile) =
        folder_with("scene \"x\" {\n    at 0 s  picth hold(1 deg)\n    at 1 s  roll hold(1 kt)\n}\n");
    let output = run(&["check", word(&profile), "--rig", &demo_rig(), "--format", "short"]);
    assert_eq!(code(&output), 1);
    let text = out(&output);
    assert!(text.contains("small.cues:2:") && text.contains("small.cues:3:"), "{text}");
    assert!(text.lines().all(|line| line.contains(": error[")), "{text}");
}

#[test]
fn without_a_rig_it_says_what_to_do() {
    let (folder, profile) = folder_with(PLAIN);
    let output = run(&["check", word(&profile)]);
    assert_eq!(code(&output), 2);
    for words in ["--rig", "cueloom.toml", "rig = \""] {
        assert!(err(&output).contains(words), "{}", err(&output));
    }
    // As the advice says: a settings file in the folder or above.
    std::fs::write(folder.path().join("cueloom.toml"), format!("rig = {:?}\n", demo_rig())).unwrap();
    assert_eq!(code(&run(&["check", word(&profile)])), 0);
    std::fs::write(folder.path().join("cueloom.toml"), "rig = \"none.toml\"\n").unwrap();
    let output = run(&["check", word(&profile)]);
    assert_eq!(code(&output), 2);
    assert!(err(&output).contains("line 1 names the rig file `none.toml`"), "{}", err(&output));
    std::fs::write(folder.path().join("cueloom.toml"), format!("rigg = 1\nrig = {:?}\n", demo_rig()))
        .unwrap();
    let output = run(&["check", word(&profile)]);
    assert_eq!(code(&output), 1);
    assert!(out(&output).contains("did you mean `rig`?"), "{}", out(&output));
}

#[test]
fn a_rig_file_with_mistakes_is_findings() {
    let (folder, profile) = folder_with(PLAIN);
    let rig = folder.path().join("rig.toml");
    let text = std::fs::read_to_string(demo_rig()).unwrap().replacen("= \"250 mm/s\"", "= \"250 mm\"", 1);
    std::fs::write(&rig, text).unwrap();
    for output in [run(&["rig", word(&rig)]), run(&["check", word(&profile), "--rig", word(&rig)])] {
        assert_eq!(code(&output), 1, "{}", err(&output));
        assert!(out(&output).contains("rig.toml:") && out(&output).contains("250 mm"), "{}", out(&output));
    }
    let output = run(&["rig", &demo_rig()]);
    assert_eq!(code(&output), 0);
    assert!(out(&output).contains("Larkfield"), "{}", out(&output));
}

#[test]
fn what_cannot_be_read_is_two() {
    let (folder, binary) = folder_with(b"scene \xff\xfe");
    let huge = folder.path().join("huge.cues");
    std::fs::File::create(&huge).unwrap().set_len(64_000_000).unwrap();
    let missing = folder.path().join("missing.cues");
    for (path, words) in [
        (binary.as_path(), "not UTF-8"),
        (&huge, "larger than 4 MB"),
        (&missing, "there is no file"),
        (folder.path(), "is not a file"),
    ] {
        let output = run(&["check", word(path), "--rig", &demo_rig()]);
        assert_eq!(code(&output), 2, "{path:?}");
        assert!(err(&output).contains(words), "{}", err(&output));
    }
    let output = run(&["check", word(&missing), "--rig", &demo_rig(), "--format", "json"]);
    let value: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    assert!(value["failure"].as_str().is_some_and(|words| words.contains("there is no file")), "{value}");
    for wrong in
        [vec!["check"], vec!["wat"], vec!["check", "a", "--gain", "3 deg"], vec!["check", "a", "--rate", "0"]]
    {
        assert_eq!(code(&run(&wrong)), 2, "{wrong:?}");
    }
}

#[test]
fn several_profiles_are_all_looked_at() {
    let (folder, fits) = folder_with(PLAIN);
    let wrong = folder.path().join("wrong.cues");
    std::fs::write(&wrong, "scene \"x\" { at 0 s  pitch hold(1 kt) }\n").unwrap();
    let output = run(&["check", word(&wrong), word(&fits), "--rig", &demo_rig(), "--format", "json"]);
    assert_eq!((code(&output), out(&output).lines().count()), (1, 2));
    let output = run(&["check", "missing.cues", word(&wrong), "--rig", &demo_rig(), "--format", "short"]);
    assert_eq!(code(&output), 2);
    assert!(out(&output).contains("wrong.cues:1:"), "{}", out(&output));
}

#[test]
fn render_writes_both_kinds() {
    let (folder, profile) = folder_with(PLAIN);
    let (csv, wav) = (folder.path().join("a.csv"), folder.path().join("a.wav"));
    for path in [&csv, &wav] {
        let output = run(&["render", word(&profile), "--rig", &demo_rig(), "-o", word(path)]);
        assert_eq!(code(&output), 0, "{}{}", out(&output), err(&output));
        assert!(out(&output).lines().any(|line| line == word(path)));
    }
    let text = std::fs::read_to_string(&csv).unwrap();
    let header = text.lines().next().unwrap();
    assert!(header.starts_with("time_s,pitch_deg,pitch_deg_s,pitch_deg_s2,roll_deg"), "{header}");
    assert!(header.ends_with("right_length_m,right_speed_m_s,right_acceleration_m_s2"), "{header}");
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(1)
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    assert_eq!(rows.len(), 4001);
    // Held at 1 deg in the middle, level at both ends.
    assert_eq!((rows[2000][0], rows[2000][1], rows[0][1], rows[4000][1]), (2.0, 1.0, 0.0, 0.0));
    let mut sound = hound::WavReader::open(&wav).unwrap();
    assert_eq!((sound.spec().channels, sound.duration()), (12, 4001));
    let samples: Vec<f32> = sound.samples().map(Result::unwrap).collect();
    for (k, row) in rows.iter().enumerate() {
        for (value, sample) in row[1..].iter().zip(&samples[k * 12..]) {
            assert!(
                (value - f64::from(*sample)).abs() < 1e-5 * value.abs().max(1.0),
                "row {k}: {value} {sample}"
            );
        }
    }
    let list = std::fs::read_to_string(folder.path().join("a.channels.csv")).unwrap();
    assert!(list.starts_with("channel,name\n1,pitch_deg\n"), "{list}");
    let output = run(&["render", word(&profile), "--rig", &demo_rig(), "-o", "a.mp3"]);
    assert_eq!(code(&output), 2);
    assert!(err(&output).contains("`.csv` or a `.wav`"), "{}", err(&output));
}

#[test]
fn play_leaves_a_render_and_a_log() {
    let (folder, profile) = folder_with(PLAIN);
    let arguments = ["play", word(&profile), "--rig", &demo_rig(), "--fast"];
    let output = program().args(arguments).current_dir(folder.path()).output().unwrap();
    assert_eq!(code(&output), 0, "{}{}", out(&output), err(&output));
    let text = out(&output);
    for words in
        ["fits the rig file", "played to the end", "never held back", "small.render.csv", "small.log.csv"]
    {
        assert!(text.contains(words), "{words}: {text}");
    }
    let first = std::fs::read(folder.path().join("out/small.log.csv")).unwrap();
    let log = cueloom::record::read(&first).unwrap();
    assert!(log.rows.len() > 2000, "4 s at 2 ms and the moves: {}", log.rows.len());
    let header: std::collections::BTreeMap<_, _> = log.entries.iter().cloned().collect();
    assert_eq!((header["scene"].as_str(), header["link"].as_str()), ("small", "simulated"));
    assert!(
        header.keys().any(|key| key.starts_with("sha256 of ") && key.ends_with("small.cues")),
        "{header:?}"
    );

    let log = folder.path().join("again.csv");
    let more = ["--no-render", "--log", word(&log), "--format", "json"];
    std::fs::remove_dir_all(folder.path().join("out")).unwrap();
    let output = program().args(arguments).args(more).current_dir(folder.path()).output().unwrap();
    assert_eq!(code(&output), 0, "{}", err(&output));
    let lines = out(&output);
    let value: serde_json::Value = serde_json::from_str(lines.lines().nth(1).unwrap()).unwrap();
    assert_eq!((&value["played_out"], &value["interventions"]), (&true.into(), &0.into()));
    assert!(!folder.path().join("out").exists());
    assert_eq!(std::fs::read(log).unwrap(), first, "the same run twice is the same log");
}

#[test]
fn what_does_not_fit_is_not_played() {
    let (folder, profile) = folder_with(HARD);
    let arguments = ["play", word(&profile), "--rig", &demo_rig(), "--fast"];
    let output = program().args(arguments).current_dir(folder.path()).output().unwrap();
    assert_eq!(code(&output), 1);
    assert!(err(&output).contains("it fits with --gain 0."), "{}", err(&output));
    assert!(!folder.path().join("out").exists());
}

#[cfg(unix)]
#[test]
fn an_interrupt_slows_the_run_to_a_stop() {
    let (folder, profile) =
        folder_with("scene \"long\" {\n    at 0 s  roll sine(1 deg, 0.5 Hz)  for 90 s\n}\n");
    let arguments = ["play", word(&profile), "--rig", &demo_rig(), "--no-render"];
    let mut child =
        program().args(arguments).current_dir(folder.path()).stdout(Stdio::piped()).spawn().unwrap();
    // The log grows while it plays; what is in it now was played.
    let log = folder.path().join("out/small.log.csv");
    let length = || std::fs::metadata(&log).map_or(0, |about| about.len());
    while length() < 100_000 {
        assert_eq!(child.try_wait().unwrap(), None, "it plays");
        std::thread::yield_now();
    }
    let signal = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(signal.success());
    let mut text = String::new();
    child.stdout.take().unwrap().read_to_string(&mut text).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(1), "{text}");
    assert!(text.contains("stopped before the end"), "{text}");
}

#[test]
fn fmt_checks_rewrites_and_leaves_mistakes_alone() {
    let crooked = "scene \"small\" {\n at 0 s pitch hold(1 deg,ease:1 s) for 4 s # slow\n}\n";
    let (folder, profile) = folder_with(crooked);
    let output = run(&["fmt", "--check", word(&profile)]);
    assert_eq!(code(&output), 1);
    assert_eq!(std::fs::read_to_string(&profile).unwrap(), crooked, "--check changes nothing");
    assert_eq!(code(&run(&["fmt", word(&profile)])), 0);
    let formatted = std::fs::read_to_string(&profile).unwrap();
    assert!(formatted != crooked && formatted.contains("# slow"), "{formatted}");
    assert_eq!(code(&run(&["fmt", "--check", word(&profile)])), 0);

    let wrong = folder.path().join("wrong.cues");
    std::fs::write(&wrong, "scene \"x\" {\n at 0 s pitch hold(1 deg\n}").unwrap();
    let output = run(&["fmt", word(&wrong)]);
    assert_eq!(code(&output), 1);
    assert!(out(&output).contains("wrong.cues:"), "{}", out(&output));
    assert_eq!(std::fs::read_to_string(&wrong).unwrap(), "scene \"x\" {\n at 0 s pitch hold(1 deg\n}");

    let mut child =
        program().args(["fmt", "-"]).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(crooked.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!((code(&output), out(&output)), (0, formatted));
}

#[cfg(unix)]
#[test]
fn what_cannot_be_written_is_two_and_stays() {
    use std::os::unix::fs::PermissionsExt;
    let (folder, profile) =
        folder_with("scene \"small\" {\n at 0 s pitch hold(1 deg, ease: 1 s) for 4 s\n}\n");
    let before = std::fs::read(&profile).unwrap();
    // For an ordinary user the folder's mode stops the write; root is stopped by the file's own.
    std::fs::set_permissions(&profile, std::fs::Permissions::from_mode(0o444)).unwrap();
    std::fs::set_permissions(folder.path(), std::fs::Permissions::from_mode(0o555)).unwrap();
    let output = run(&["fmt", word(&profile)]);
    assert_eq!(code(&output), 2);
    assert!(err(&output).contains("cannot write"), "{}", err(&output));
    assert_eq!(std::fs::read(&profile).unwrap(), before);
    std::fs::set_permissions(folder.path(), std::fs::Permissions::from_mode(0o755)).unwrap();
    let nowhere = folder.path().join("none/a.csv");
    let output = run(&["render", word(&profile), "--rig", &demo_rig(), "-o", word(&nowhere)]);
    assert_eq!(code(&output), 2);
    assert!(err(&output).contains("cannot write"), "{}", err(&output));
}

#[test]
fn explain_schema_completions_and_man() {
    let output = run(&["explain", "speed"]);
    assert_eq!(code(&output), 0);
    assert!(out(&output).contains("Why it matters"), "{}", out(&output));
    let list = run(&["explain"]);
    assert!(out(&list).contains("\n  speed "), "{}", out(&list));
    let output = run(&["explain", "sped"]);
    assert_eq!(code(&output), 2);
    assert!(err(&output).contains("did you mean `speed`?"), "{}", err(&output));
    let output = run(&["schema", "rig"]);
    let schema: serde_json::Value = serde_json::from_str(&out(&output)).unwrap();
    assert_eq!(schema["title"], cueloom::rig::SCHEMA_TITLE);
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        assert!(out(&run(&["completions", shell])).contains("explain"), "{shell}");
    }
    assert!(out(&run(&["man"])).contains(".TH cueloom"));
    assert!(out(&run(&["man", "check"])).contains(".TH"));
    assert!(err(&run(&["man", "chek"])).contains("did you mean `check`?"));
    assert!(out(&run(&["--version"])).starts_with("cueloom "));
    assert_eq!(code(&run(&["--help"])), 0);
}

#[test]
fn a_reader_that_goes_away_is_no_panic() {
    for arguments in [&["explain"][..], &["--help"], &["completions", "bash"], &["schema", "rig"]] {
        let mut child =
            program().args(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        // Closed before the first byte is read.
        drop(child.stdout.take());
        let mut words = String::new();
        child.stderr.take().unwrap().read_to_string(&mut words).unwrap();
        assert_eq!((child.wait().unwrap().code(), words.as_str()), (Some(0), ""), "{arguments:?}");
    }
}

#[test]
fn odd_numbers_are_taken_or_refused_in_words() {
    let (folder, profile) = folder_with(PLAIN);
    let with = |option: &str, value: &str| {
        run(&["check", word(&profile), "--rig", &demo_rig(), option, value, "--format", "short"])
    };
    let output = with("--threads", "0");
    assert_eq!(code(&output), 2);
    assert!(err(&output).contains("expected a whole number from 1"), "{}", err(&output));
    // Not a multiple of the drive's 500 Hz: checked at the next one.
    let output = with("--rate", "44100");
    assert_eq!(code(&output), 0, "{}{}", out(&output), err(&output));
    let output = run(&["play", word(&profile), "--rig", &demo_rig(), "--level", "-6dB"]);
    assert_eq!(code(&output), 2);
    assert!(err(&output).contains("give --seat too"), "{}", err(&output));
    let empty = folder.path().join("empty.cues");
    std::fs::write(&empty, "").unwrap();
    let output = run(&["play", word(&empty), "--rig", &demo_rig(), "--fast"]);
    assert_eq!(code(&output), 1);
    assert!(err(&output).contains("there is nothing to play"), "{}", err(&output));
}

/// Neither what a command reads nor what drives did is written over, by whatever option; and what has no JSON says so.
#[test]
fn what_is_worth_more_than_an_output_stays_and_no_form_is_passed_over() {
    let (folder, profile) = folder_with(PLAIN);
    let (rig, record) = (folder.path().join("rig.toml"), folder.path().join("run.mcap"));
    std::fs::copy(demo_rig(), &rig).unwrap();
    std::fs::write(&record, b"\x89MCAP0\r\n and a run").unwrap();
    let (profile, rig, record) = (word(&profile), word(&rig), word(&record));
    let before = [profile, rig, record].map(|path| std::fs::read(path).unwrap());
    let own = "besides; name another file";
    for (arguments, words) in [
        (&["log", record, "--csv", record][..], own),
        (&["report", profile, "--rig", rig, "-o", rig], own),
        (&["report", profile, "--rig", rig, "-o", profile], own),
        (&["report", profile, "--rig", rig, "-o", record], "no record is written over"),
        (&["rig", rig, "--html", rig], own),
        (&["rig", rig, "--mjcf", rig], own),
        (&["rig", rig, "--html", "x.html", "--mjcf", "x.html"], own),
        (&["rig", rig, "--html", record], "no record is written over"),
        (&["play", profile, "--rig", rig, "--fast", "--no-render", "--log", profile], own),
        (&["log", record, "--format", "json"], "has no JSON form"),
        (&["log", record, "--mend", "x.mcap", "--format", "json"], "has no JSON form"),
        (&["explain", "--format", "json"], "has no JSON form"),
        (&["commission", rig, "--by", "Ada", "--format", "json"], "has no JSON form"),
    ] {
        let output = program().args(arguments).current_dir(folder.path()).output().unwrap();
        assert_eq!(code(&output), 2, "{arguments:?}");
        assert!(err(&output).contains(words), "{arguments:?}: {}", err(&output));
    }
    assert_eq!([profile, rig, record].map(|path| std::fs::read(path).unwrap()), before);
    assert!(!folder.path().join("x.html").exists());
}

/// A ladder is as its settings have it, for every command that speaks of it.
#[test]
fn the_levels_of_a_ladder_are_those_of_the_settings() {
    let (folder, _) = folder_with(PLAIN);
    let given = |levels: &str, arguments: &[&str]| {
        let text = format!("rig = {:?}\nlevels = {levels}\n", demo_rig());
        std::fs::write(folder.path().join("cueloom.toml"), text).unwrap();
        program().args(arguments).current_dir(folder.path()).output().unwrap()
    };
    let play = ["play", "small.cues", "--seat", "vacant", "--level", "-12dB"];
    let refused = given("[\"-20 dB\", \"0 dB\"]", &play);
    assert_eq!(code(&refused), 2);
    let words = "-12 dB is no level of the ladder, which has -20 and 0 dB: choose one of them";
    assert!(err(&refused).contains(words), "{}", err(&refused));
    let refused = given("[\"-1 dB\", \"0 dB\"]", &play);
    let place = "cueloom.toml:2:11: error[settings]: the ladder would begin at -1 dB";
    assert!(code(&refused) == 2 && err(&refused).contains(place), "{}", err(&refused));
    // With a rig of its own a check does not look at the settings; without, it says the same.
    assert_eq!(code(&given("[]", &["check", "small.cues"])), 1);
    let shown = given("[\"-20 dB\", \"0 dB\"]", &["audition"]);
    assert!(out(&shown).contains("is empty: begin at -20 dB, seat vacant"), "{}", out(&shown));
    let value: serde_json::Value =
        serde_json::from_str(&out(&given("[\"-20 dB\", \"0 dB\"]", &["audition", "--format", "json"])))
            .unwrap();
    assert_eq!(
        (&value["levels_db"], &value["to_sign"]),
        (&serde_json::json!([-20, 0]), &serde_json::Value::Null)
    );
}

/// Work on a rig is noted where its runs are, or it voids nothing.
#[test]
fn what_is_known_of_a_rig_is_looked_for_beside_its_settings() {
    let (folder, _) = folder_with(PLAIN);
    std::fs::write(folder.path().join("cueloom.toml"), format!("rig = {:?}\n", demo_rig())).unwrap();
    std::fs::create_dir(folder.path().join("below")).unwrap();
    let given = |below: &str, arguments: &[&str]| {
        program().args(arguments).current_dir(folder.path().join(below)).output().unwrap()
    };
    let maintenance = ["audition", "--maintenance", "new rod end"];
    let refused = given("below", &maintenance);
    assert_eq!(code(&refused), 2);
    let said = err(&refused);
    assert!(said.contains("no run is noted in `") && said.contains("--records"), "{said}");
    let records = folder.path().join("records");
    std::fs::create_dir(&records).unwrap();
    let override_ = r#"{"kind":"override","rung":{"level_db":-6,"load":"vacant"},"day":20000,"reason":"x"}"#;
    std::fs::write(records.join("audition.jsonl"), format!("{override_}\n")).unwrap();
    for below in ["", "below"] {
        let noted = given(below, &maintenance);
        assert!(out(&noted).contains("noted in `") && out(&noted).contains("records`"), "{}", err(&noted));
        assert!(out(&given(below, &["audition"])).contains("maintenance new rod end"));
        assert!(out(&given(below, &["wear"])).contains("nothing was counted yet in `"));
    }
    assert!(!folder.path().join("below/records").exists());
}
