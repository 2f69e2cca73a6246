//! A folder with a scene and a rig of CAN drives, commissioned by the program, and a run on it.

use super::bench::{Bench, PROGRAM, Program};
use super::can_rig::{commission, rig};
use super::states::{State, pass};
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;
use std::sync::Mutex;

const SCENE: &str = "scene \"short\" {
    at 0.2 s  roll sine(3 deg, 0.6 Hz)  for 3 s  rise 0.8 s  fall 0.8 s
    at 0.2 s  pitch hold(2 deg, ease: 1 s)  for 3 s
}
";

/// What was kept of commissioning, by rig files: the drives of every bench are the same ones.
static KEPT: Mutex<BTreeMap<String, Vec<u8>>> = Mutex::new(BTreeMap::new());

/// The rig of CAN drives where the drives find their reference by themselves.
pub(crate) fn homing_rig() -> String {
    rig().replace("reference       = \"absolute\"", "reference       = \"homing\"\nhoming_method   = 17")
}

pub(crate) struct CanDesk {
    folder: tempfile::TempDir,
    /// The program.
    by: fn() -> Command,
}

impl CanDesk {
    pub(crate) fn new(rig: &str) -> Self {
        Self::by(rig, || Command::new(PROGRAM))
    }

    /// The same by a command that gets the program's arguments.
    pub(crate) fn by(rig: &str, by: fn() -> Command) -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("rig.toml"), rig).unwrap();
        std::fs::write(folder.path().join("short.cues"), SCENE).unwrap();
        Self { folder, by }
    }

    pub(crate) fn folder(&self) -> &Path {
        self.folder.path()
    }

    pub(crate) fn bench(&self, arguments: &[&str]) -> Bench {
        Bench::start("can", self.folder(), arguments)
    }

    /// By the program, once for each rig file.
    pub(crate) fn commission(&self, address: &str) {
        let rig = std::fs::read_to_string(self.folder().join("rig.toml")).unwrap();
        let path = self.folder().join("records/commissioning.json");
        let mut kept = KEPT.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        match kept.get(&rig) {
            Some(record) => {
                std::fs::create_dir_all(self.folder().join("records")).unwrap();
                std::fs::write(path, record).unwrap();
            }
            None => {
                commission(self.folder(), address);
                kept.insert(rig, std::fs::read(path).unwrap());
            }
        }
    }

    /// Of drives that are not on the bus now.
    pub(crate) fn keep_commissioning(&self) {
        let other = Self::new(&std::fs::read_to_string(self.folder().join("rig.toml")).unwrap());
        let bench = other.bench(&[]);
        other.commission(&bench.address);
        self.commission("");
    }

    /// The program, whatever becomes of it. Its record takes the place of the last run's; the program itself writes over none.
    pub(crate) fn try_play(&self, address: &str, level: &str) -> Program {
        let _ = std::fs::remove_file(self.folder().join("run.mcap"));
        let level = format!("--level={level}");
        let mut arguments = vec!["play", "short.cues", "--rig", "rig.toml", "--no-render", "--link", "can"];
        arguments.extend(["--to", address, "--seat", "vacant", &level, "--log", "run.mcap"]);
        Program::started((self.by)().args(arguments).current_dir(self.folder()))
    }

    /// Connected, brakes on. Where processors are shared the link may be found too slow, rightly, or Python takes more than
    /// half a second to answer; then later.
    pub(crate) fn play(&self, address: &str, level: &str) -> Program {
        for _ in 0..5 {
            let program = self.try_play(address, level);
            if program.wait_for_one(&["the link does not hold", "does not answer about", ": brakes on:"]) == 2
            {
                return program;
            }
        }
        panic!("the link never held its cycle");
    }

    /// Commissioned, and brought to a state; where that begins in what the program said. Anew where Python was too late for
    /// the link to last so long.
    pub(crate) fn reach(&self, state: State, arguments: &[&str]) -> (Bench, Program, usize) {
        for _ in 0..5 {
            let mut bench = self.bench(arguments);
            self.commission(&bench.address);
            let mut program = self.play(&bench.address.clone(), "-12dB");
            let at = state.begin(&mut bench, &mut program);
            if state == State::Parked {
                return (bench, program, at);
            }
            let (moving, more_ms) = state.moving();
            let over = ["faulted: brakes on", "the link fell silent", "stopped before the end"];
            program.wait_for_any(&[&[moving], &over[..]].concat(), at);
            pass(more_ms);
            if !over.iter().any(|words| program.said().contains(words)) {
                let at = state.settle(&mut bench, &mut program, at);
                return (bench, program, at);
            }
        }
        panic!("the link never lasted until {}", state.word());
    }

    /// Commissioned, and playing the scene.
    pub(crate) fn following(&self) -> (Bench, Program, usize) {
        let bench = self.bench(&[]);
        self.commission(&bench.address);
        self.follow(bench, "-12dB")
    }

    /// Playing the scene.
    pub(crate) fn follow(&self, mut bench: Bench, level: &str) -> (Bench, Program, usize) {
        let program = self.play(&bench.address.clone(), level);
        let at = program.wait_for("parked: brakes on", 0);
        bench.say("presence 1");
        let at = program.wait_for("following: MOVING", at);
        (bench, program, at)
    }

    pub(crate) fn sign(&self) {
        let mut sign = Command::new(PROGRAM);
        sign.args(["audition", "--sign", "nothing to hear"]).current_dir(self.folder());
        assert!(sign.output().unwrap().status.success());
    }
}

impl AsRef<Path> for CanDesk {
    fn as_ref(&self) -> &Path {
        self.folder()
    }
}
