//! The desktop program in a real window on a screen of its own: keys go in by the X server, titles and files come out.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

mod window {
    pub(crate) mod picture;
}

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use window::picture::{self, Area, Grid};

/// A screen without a monitor, gone when dropped.
struct Screen {
    server: Child,
    name: String,
    /// Holds the frame buffer.
    memory: tempfile::TempDir,
}

impl Screen {
    fn new(size: &str) -> Self {
        // The server chooses a free number and writes it to its standard output.
        let memory = tempfile::tempdir().unwrap();
        let mut server = Command::new("Xvfb")
            .arg("-fbdir")
            .arg(memory.path())
            .args([
                "-displayfd",
                "1",
                "-screen",
                "0",
                &format!("{size}x24"),
                "+extension",
                "GLX",
                "-nolisten",
                "tcp",
            ])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb starts; `sh .ci/setup` gets it (Debian: xvfb xdotool libgl1-mesa-dri)");
        let mut line = String::new();
        std::io::BufRead::read_line(&mut std::io::BufReader::new(server.stdout.take().unwrap()), &mut line)
            .unwrap();
        Self { server, name: format!(":{}", line.trim()), memory }
    }

    fn xdotool(&self, arguments: &[&str]) -> String {
        let output = Command::new("xdotool")
            .env("DISPLAY", &self.name)
            .args(arguments)
            .output()
            .expect("xdotool runs; `sh .ci/setup` gets it");
        String::from_utf8_lossy(&output.stdout).trim().to_string()
    }

    fn title(&self) -> String {
        self.xdotool(&["search", "--name", "Cueloom", "getwindowname"])
    }

    /// Waits until the title holds all of these; what it is then.
    fn wait(&self, wanted: &[&str]) -> String {
        let mut title = String::new();
        for _ in 0..1200 {
            title = self.title();
            if wanted.iter().all(|word| title.contains(word)) {
                return title;
            }
            pause(250);
        }
        panic!("waited for {wanted:?}; the title is `{title}`");
    }

    fn keys(&self, keys: &[&str]) {
        for key in keys {
            self.xdotool(&["key", key]);
            pause(250);
        }
    }

    /// Keeps a picture for people to look at, where ImageMagick is there.
    fn picture(&self, name: &str) {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("desktop");
        std::fs::create_dir_all(&folder).unwrap();
        let _ = Command::new("import")
            .env("DISPLAY", &self.name)
            .args(["-window", "root", &folder.join(name).display().to_string()])
            .status();
    }
}

impl Screen {
    /// Keeps a picture, and compares it coarsely with the one that was looked at.
    fn compare(&self, name: &str) {
        self.picture(&format!("{name}.png"));
        picture::compare(name, &Grid::of_screen(&self.memory.path().join("Xvfb_screen0")));
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

#[allow(clippy::disallowed_methods, reason = "another process is waited for")]
fn pause(ms: u64) {
    std::thread::sleep(std::time::Duration::from_millis(ms));
}

/// The program in its window.
struct Program<'a> {
    child: Child,
    screen: &'a Screen,
}

impl Program<'_> {
    /// Not while it plays: it never rests then.
    fn keys(&self, keys: &[&str]) {
        for key in keys {
            self.screen.xdotool(&["key", key]);
            self.settle();
        }
    }

    fn types(&self, text: &str) {
        self.screen.xdotool(&["type", "--delay", "30", text]);
        self.settle();
    }

    /// Waits until the program has done what it was told: for a while none of its threads ran or wanted to. A fixed
    /// pause would be too short on a busy machine.
    fn settle(&self) {
        let mut still = (0, 0);
        for _ in 0..1200 {
            pause(60);
            let (busy, ticks) = self.work();
            still = if busy || ticks != still.1 { (0, ticks) } else { (still.0 + 1, ticks) };
            if still.0 == 4 {
                return;
            }
        }
        panic!("the program did not come to rest in over a minute");
    }

    /// Whether a thread runs or waits for its turn, and the processor time of all, in ticks (proc(5)).
    fn work(&self) -> (bool, u64) {
        let tasks =
            std::fs::read_dir(format!("/proc/{}/task", self.child.id())).unwrap().filter_map(Result::ok);
        let stats = tasks.filter_map(|task| std::fs::read_to_string(task.path().join("stat")).ok());
        stats.fold((false, 0), |(busy, ticks), stat| {
            // The name in brackets may hold anything; what follows it does not.
            let fields: Vec<&str> = stat.rsplit(')').next().unwrap_or("").split_whitespace().collect();
            let time = |at: usize| fields[at].parse::<u64>().unwrap();
            (busy || matches!(fields[0], "R" | "D"), ticks + time(11) + time(12))
        })
    }
}

impl Drop for Program<'_> {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn open<'a>(screen: &'a Screen, state: &Path, profile: Option<&Path>) -> Program<'a> {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cueloom"));
    command.arg("open").args(profile).current_dir(state);
    command.env("DISPLAY", &screen.name).env("CUELOOM_STATE", state).env_remove("WAYLAND_DISPLAY");
    command.env("LIBGL_ALWAYS_SOFTWARE", "1").stderr(Stdio::null());
    let program = Program { child: command.spawn().unwrap(), screen };
    screen.wait(&["Cueloom"]);
    program.settle();
    let window = screen.xdotool(&["search", "--name", "Cueloom"]);
    // Nobody manages windows on this screen, so nobody gives one the keys.
    screen.xdotool(&["windowfocus", window.lines().last().unwrap_or("")]);
    program
}

/// A page once it is written; saving is one step, so it is never half of one.
fn written(path: &Path) -> String {
    for _ in 0..480 {
        if let Ok(page) = std::fs::read_to_string(path) {
            return page;
        }
        pause(250);
    }
    panic!("nobody wrote {}", path.display());
}

/// What a page begins to say, its style left out.
fn head(page: &str) -> &str {
    let body = page.split("<h1>").nth(1).unwrap_or(page);
    body.get(..body.floor_char_boundary(600)).unwrap_or("")
}

#[test]
fn from_the_first_start_to_a_rehearsed_and_changed_profile() {
    let (screen, state) = (Screen::new("1280x800"), tempfile::tempdir().unwrap());
    let mut program = open(&screen, state.path(), None);
    screen.wait(&["evening-circuit.cues - writing, gain 100 %", "fits the rig file"]);
    screen.compare("1-demo");
    let profile: PathBuf = state.path().join("demo/evening-circuit.cues");
    let text = std::fs::read_to_string(&profile).unwrap();

    // A slip, its finding, its fix.
    program.keys(&["ctrl+f"]);
    program.types("touchdown(sink: 1.1");
    program.keys(&["Return"]);
    program.types("tuochdown(sink: 1.2");
    screen.wait(&["(unsaved)", "the text has errors"]);
    screen.compare("2-slip");
    program.keys(&["Escape", "F9"]);
    program.keys(&["F8", "ctrl+period"]);
    screen.compare("8-compare");
    program.keys(&["F9"]);
    screen.wait(&["(unsaved)", "fits the rig file"]);
    assert_eq!(std::fs::read_to_string(&profile).unwrap(), text, "nothing is saved unasked");
    program.keys(&["ctrl+s"]);
    screen.wait(&["evening-circuit.cues - writing"]);
    let changed = text.replace("touchdown(sink: 1.1", "touchdown(sink: 1.2");
    assert_eq!(std::fs::read_to_string(&profile).unwrap(), changed);

    // The report, by its key and the path that its dialog proposes: the page that the command line writes.
    program.keys(&["ctrl+p"]);
    screen.compare("7-report");
    program.keys(&["Return"]);
    let page = written(&profile.with_extension("html"));
    assert!(page.contains("<p>It fits the rig file.</p>"), "{}", head(&page));
    let own = state.path().join("own.html");
    let output = Command::new(env!("CARGO_BIN_EXE_cueloom"))
        .args(["report".as_ref(), profile.as_os_str(), "-o".as_ref(), own.as_os_str()])
        // Paths are shown from there.
        .current_dir(state.path())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(page == written(&own), "the same page:\n{}\n{}", head(&page), head(&written(&own)));

    // Play, and more gain until it does not fit, and what fits.
    screen.keys(&["F5"]);
    screen.wait(&["rehearsing"]);
    for percent in (105..=150).step_by(5) {
        screen.keys(&["alt+Up"]);
        // Each by itself: two presses in one frame of a busy machine are one step.
        screen.wait(&[&format!("gain {percent} %")]);
    }
    screen.wait(&["does not fit"]);
    screen.picture("3-too-much.png");
    screen.keys(&["Escape"]);
    program.settle();
    std::fs::remove_file(profile.with_extension("html")).unwrap();
    program.keys(&["ctrl+p", "Return"]);
    let page = written(&profile.with_extension("html"));
    assert!(page.contains("gain 1.5, ") && page.contains("It does not fit the rig file"), "{}", head(&page));
    program.keys(&["F8", "ctrl+period"]);
    let title = screen.wait(&["writing", ", fits the rig file"]);
    assert!(!title.contains("gain 150 %"), "{title}");

    program.keys(&["ctrl+l"]);
    screen.compare("6-light");
    screen.keys(&["ctrl+q"]);
    let ended = (0..120).find_map(|_| {
        pause(250);
        program.child.try_wait().unwrap()
    });
    assert!(ended.expect("it ends").success());
    assert!(state.path().join("window.json").is_file(), "what the window was like is kept");
}

#[test]
fn a_killed_program_loses_no_text_and_a_bad_file_opens_no_window() {
    let (screen, state) = (Screen::new("900x600"), tempfile::tempdir().unwrap());
    let mut program = open(&screen, state.path(), None);
    screen.wait(&["fits the rig file"]);
    screen.compare("4-small");
    program.keys(&["ctrl+f"]);
    program.types("as cough");
    program.keys(&["Return"]);
    program.types("as sneeze");
    screen.wait(&["(unsaved)"]);
    let kept = || -> Option<String> {
        let mut entries =
            std::fs::read_dir(state.path()).unwrap().filter_map(Result::ok).map(|entry| entry.path());
        let found = entries.find(|path| path.extension().is_some_and(|suffix| suffix == "unsaved"))?;
        std::fs::read_to_string(found).ok()
    };
    let is_kept = (0..240).any(|_| {
        pause(250);
        kept().is_some_and(|text| text.contains("as sneeze"))
    });
    assert!(is_kept, "kept beside, a second after the last key");
    program.child.kill().unwrap();
    program.child.wait().unwrap();
    drop(program);
    let again = open(&screen, state.path(), None);
    // The question comes first, and its first button takes the text back.
    screen.wait(&["evening-circuit.cues - writing"]);
    again.settle();
    screen.compare("5-found");
    again.keys(&["Tab", "Return"]);
    screen.wait(&["evening-circuit.cues (unsaved)"]);
    let bad = state.path().join("bad.cues");
    std::fs::write(&bad, b"one\n\xff\xfe").unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_cueloom")).arg("open").arg(&bad).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("not UTF-8"));
}

#[test]
fn a_panel_that_is_empty_is_another_picture() {
    // Not the drawn rig: its few thin lines are too little for so coarse a look.
    let demo = Grid::read(&std::fs::read_to_string(picture::kept("1-demo")).unwrap());
    assert!(demo.is_like(&demo));
    for (panel, columns, rows) in [
        ("text", 1..16, 3..22),
        ("margins", 29..40, 3..14),
        ("cues", 19..40, 17..20),
        ("traces", 17..40, 20..29),
    ] {
        assert!(!demo.emptied(&Area { columns, rows }).is_like(&demo), "{panel}");
    }
}
