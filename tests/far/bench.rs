//! The reference receiver in C, built here and run as the far end: what it is told in words, and what its legs truly do.

use cueloom::player::wait;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Arc, Mutex, OnceLock};
use std::time::Duration;

pub(crate) fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// One of the programs of `controller/`, every warning an error.
fn compiled(program: &str, more: &[&str]) -> PathBuf {
    let to = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("{program}-{}", std::process::id()));
    let folder = root().join("controller");
    let sources = [program, "cueloom_receiver", "cueloom_motion", "cueloom_frame"];
    let out = Command::new("cc")
        .args(["-std=c99", "-Wall", "-Wextra", "-Wpedantic", "-Wconversion", "-Werror", "-O1"])
        .args(more)
        .arg("-o")
        .arg(&to)
        .args(sources.map(|name| folder.join(name).with_extension("c")))
        .arg("-lm")
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    to
}

/// The program, built once.
pub(crate) fn built() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| compiled("bench", &[]))
}

/// What the receiver is held to without a link, with the compiler's looks at memory and arithmetic built in.
pub(crate) fn checks() -> PathBuf {
    compiled("checks", &["-fsanitize=address,undefined", "-fno-sanitize-recover=all"])
}

/// One row of the truth, every millisecond or so.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Truth {
    pub(crate) time_s: f64,
    /// How many words it had been told.
    pub(crate) words: u32,
    /// What the controller does; 5 where it stops by itself. Of CAN drives how many SYNCs came within half a period of the one
    /// before.
    pub(crate) state: u32,
    pub(crate) power: bool,
    /// All of them.
    pub(crate) braked: bool,
    /// Each leg's: set. Of a far end that does not tell them apart, all or none.
    pub(crate) brakes: [bool; 2],
    pub(crate) warning: bool,
    /// What the controller itself found wrong; 0 is nothing, 1 that no orders came. Of CAN drives how far a leg fell, um.
    pub(crate) fault: u32,
    pub(crate) at_m: [f64; 2],
    pub(crate) speed_m_s: [f64; 2],
}

/// A bench that runs.
pub(crate) struct Bench {
    child: Child,
    words: ChildStdin,
    told: u32,
    /// `127.0.0.1:PORT`, or the pseudo-terminal.
    pub(crate) address: String,
    truth: PathBuf,
}

impl Bench {
    pub(crate) fn start(kind: &str, folder: &Path, arguments: &[&str]) -> Self {
        let truth = folder.join("truth.csv");
        let mut command = match kind {
            "can" => Command::new(root().join(".venv/bin/python")),
            _ => Command::new(built()),
        };
        match kind {
            "udp" => command.args(["--udp", "0"]),
            "can" => command.arg(root().join("tests/peers/can_nodes.py")),
            _ => command.arg("--pty"),
        };
        command.arg("--truth").arg(&truth).args(arguments);
        let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().expect("see .ci/setup");
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let mut first = String::new();
        out.read_line(&mut first).unwrap();
        std::thread::spawn(move || out.read_to_end(&mut Vec::new()));
        let (name, value) = first.trim().split_once(' ').unwrap();
        let address = if name == "port" { format!("127.0.0.1:{value}") } else { value.to_string() };
        let words = child.stdin.take().unwrap();
        Self { child, words, told: 0, address, truth }
    }

    /// Tells it a word; the number of that word.
    pub(crate) fn say(&mut self, word: &str) -> u32 {
        self.words.write_all(format!("{word}\n").as_bytes()).unwrap();
        self.words.flush().unwrap();
        self.told += 1;
        self.told
    }

    /// Ends it; everything that its legs did.
    pub(crate) fn end(mut self) -> Vec<Truth> {
        self.say("quit");
        let _ = self.child.wait();
        let text = std::fs::read_to_string(&self.truth).unwrap();
        let row = |line: &str| -> Option<Truth> {
            let n: Vec<f64> = line.split(',').map(|field| field.parse().ok()).collect::<Option<_>>()?;
            matches!(n.len(), 11 | 13).then(|| Truth {
                time_s: n[0] * 1e-6,
                words: n[1] as u32,
                state: n[2] as u32,
                power: n[3] != 0.0,
                braked: n[4] != 0.0,
                brakes: [11, 12].map(|at| *n.get(at).unwrap_or(&n[4]) != 0.0),
                warning: n[5] != 0.0,
                fault: n[6] as u32,
                at_m: [n[7], n[9]],
                speed_m_s: [n[8], n[10]],
            })
        };
        text.lines().filter_map(row).collect()
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Where the program under test is.
pub(crate) const PROGRAM: &str = env!("CARGO_BIN_EXE_cueloom");

/// The program under test, with what it says.
pub(crate) struct Program {
    pub(crate) child: Child,
    words: Option<ChildStdin>,
    said: Arc<Mutex<String>>,
}

impl Program {
    #[cfg(feature = "serial")]
    pub(crate) fn start(arguments: &[&str], folder: &Path) -> Self {
        Self::started(Command::new(PROGRAM).args(arguments).current_dir(folder))
    }

    /// By a command that may set more than arguments and folder.
    pub(crate) fn started(command: &mut Command) -> Self {
        let mut child =
            command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let said = Arc::new(Mutex::new(String::new()));
        let outputs: [Box<dyn Read + Send>; 2] =
            [Box::new(child.stdout.take().unwrap()), Box::new(child.stderr.take().unwrap())];
        for output in outputs {
            let said = said.clone();
            std::thread::spawn(move || {
                for line in BufReader::new(output).lines().map_while(Result::ok) {
                    said.lock().unwrap().push_str(&format!("{line}\n"));
                }
            });
        }
        let words = child.stdin.take();
        Self { child, words, said }
    }

    pub(crate) fn say(&mut self, word: &str) {
        self.say_bytes(format!("{word}\n").as_bytes());
    }

    pub(crate) fn say_bytes(&mut self, bytes: &[u8]) {
        let words = self.words.as_mut().unwrap();
        words.write_all(bytes).unwrap();
        words.flush().unwrap();
    }

    /// Nothing will be said to it any more.
    pub(crate) fn falls_silent(&mut self) {
        self.words = None;
    }

    pub(crate) fn said(&self) -> String {
        self.said.lock().unwrap().clone()
    }

    /// Waits until it has said `words` after the first `from` bytes of what it said; where that ends.
    pub(crate) fn wait_for(&self, words: &str, from: usize) -> usize {
        for _ in 0..20_000 {
            let said = self.said();
            if let Some(at) = said[from..].find(words) {
                return from + at + words.len();
            }
            wait(Duration::from_millis(5));
        }
        panic!("waited for `{words}` in:\n{}", self.said());
    }

    /// Waits until it has said one of these; which.
    pub(crate) fn wait_for_one(&self, choices: &[&str]) -> usize {
        for _ in 0..20_000 {
            let said = self.said();
            if let Some(which) = choices.iter().position(|words| said.contains(words)) {
                return which;
            }
            wait(Duration::from_millis(5));
        }
        panic!("waited for one of {choices:?} in:\n{}", self.said());
    }

    /// Waits until it has said one of these after the first `from` bytes of what it said.
    #[cfg(feature = "serial")]
    pub(crate) fn wait_for_any(&self, choices: &[&str], from: usize) {
        for _ in 0..20_000 {
            if choices.iter().any(|words| self.said()[from..].contains(words)) {
                return;
            }
            wait(Duration::from_millis(5));
        }
        panic!("waited for any of {choices:?} in:\n{}", self.said());
    }

    /// Waits for its end; its exit code, none when a signal ended it.
    pub(crate) fn end(&mut self) -> Option<i32> {
        for _ in 0..12_000 {
            if let Some(status) = self.child.try_wait().unwrap() {
                wait(Duration::from_millis(50));
                return status.code();
            }
            wait(Duration::from_millis(5));
        }
        panic!("it did not end:\n{}", self.said());
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
