//! A folder with a scene, a commissioning record for the bench, and a run on it.

use super::bench::{Bench, PROGRAM, Program, Truth, root};
use cueloom::commissioning::{
    Answered, BrakeTest, CommissioningRecord, FarEnd, Question, Wanted, brakes, steps,
};
use cueloom::rig::Rig;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{OnceLock, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};

/// About four seconds of roll and pitch; up to 0.1 m/s of a leg. What it expects of itself holds at full strength only.
const SCENE: &str = "scene \"small\" {
    at 0.2 s  roll sine(3 deg, 0.6 Hz)  for 3 s  rise 0.8 s  fall 0.8 s
    at 0.2 s  pitch hold(2 deg, ease: 1 s)  for 3 s
    at 0.2 s  sound sine(-20 dB, 440 Hz)  for 3 s  rise 0.1 s  fall 0.1 s
    expect peak roll >= 2.5 deg
}
";

static RUNS: RwLock<()> = RwLock::new(());

/// Runs that want the processors for themselves: many at a time, or with a far end that is slow.
pub(crate) fn alone() -> RwLockWriteGuard<'static, ()> {
    RUNS.write().unwrap_or_else(PoisonError::into_inner)
}

/// A run that waits more than it works: others like it may go beside it.
pub(crate) fn beside_others() -> RwLockReadGuard<'static, ()> {
    RUNS.read().unwrap_or_else(PoisonError::into_inner)
}

pub(crate) fn far_end() -> FarEnd {
    FarEnd {
        name: "bench".into(),
        legs: 2,
        cycle_us: 2000,
        firmware: 0x0001_0000,
        parameters: 0x5EED,
        serials: vec![1000, 1001],
    }
}

/// The answer of somebody whose rig is as its file says.
pub(crate) fn right(question: &Question) -> String {
    match &question.wanted {
        Wanted::Yes => "yes".to_string(),
        Wanted::Word(words) => words[0].clone(),
        Wanted::Between(low, ..) if question.name.ends_with("outside measure") => {
            format!("{} rad", low * 1.1)
        }
        Wanted::Between(low, ..) => format!("{} m", low * 1.1),
        Wanted::Twice(most_m) => format!("0.007 m, {} m", 0.007 + 0.5 * most_m),
        Wanted::Held(load) => format!("{} N*m", 1.1 * load.least_nm),
    }
}

/// All of them answered so: what a record needs to vouch for anything.
fn answered(questions: &[Question]) -> Vec<Answered> {
    let of = |question: &Question| Answered { step: question.name.clone(), answer: right(question) };
    questions.iter().map(of).collect()
}

pub(crate) struct Desk {
    pub(crate) folder: tempfile::TempDir,
    rig: PathBuf,
}

impl Desk {
    pub(crate) fn new() -> Self {
        // A desktop that shares its processors is no rig's host: the link may be slow here, and is not judged.
        let text = std::fs::read_to_string(root().join("profiles/rigs/club-two-axis.toml")).unwrap();
        let text = text.replace("detection = \"10 ms\"", "detection = \"200 ms\"");
        let text = text.replace("delay     = \"1 ms\"", "delay     = \"40 ms\"");
        let desk = Self::with(&text);
        desk.commission("records", far_end());
        desk
    }

    /// With a rig file, and not commissioned.
    pub(crate) fn with(rig: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("small.cues"), SCENE).unwrap();
        let path = folder.path().join("rig.toml");
        std::fs::write(&path, rig).unwrap();
        Self { folder, rig: path }
    }

    /// Commissioned on `drives`, the record kept in `folder`.
    pub(crate) fn commission(&self, folder: &str, drives: FarEnd) {
        let text = std::fs::read_to_string(&self.rig).unwrap();
        let rig = cueloom::rig::load(cueloom::diag::SourceId(0), &text).rig.unwrap();
        let day = cueloom::player::today().0;
        let record = CommissioningRecord {
            rig: rig.hash.clone(),
            drives,
            day,
            brakes: BrakeTest { day, by: "a test".into(), held: answered(&brakes(&rig)) },
            by: "a test".into(),
            steps: answered(&steps(&rig)),
        };
        let records = self.folder.path().join(folder);
        std::fs::create_dir_all(&records).unwrap();
        std::fs::write(records.join("commissioning.json"), serde_json::to_string(&record).unwrap()).unwrap();
    }

    pub(crate) fn bench(&self, kind: &str, arguments: &[&str]) -> Bench {
        let mut all = vec!["--load-n", "-27", "--silence-ms", "300"];
        all.extend(arguments);
        Bench::start(kind, self.folder.path(), &all)
    }

    pub(crate) fn play(&self, link: &str, address: &str, level: &str, more: &[&str]) -> Program {
        self.play_by(&|| Command::new(PROGRAM), link, address, level, more)
    }

    /// The same by the command that `by` gives, which gets the arguments.
    pub(crate) fn play_by(
        &self,
        by: &dyn Fn() -> Command,
        link: &str,
        address: &str,
        level: &str,
        more: &[&str],
    ) -> Program {
        let record = self.folder.path().join("run.mcap");
        if std::fs::symlink_metadata(&record).is_ok_and(|about| about.is_file()) {
            // The last run's; the program itself writes over none.
            std::fs::remove_file(&record).unwrap();
        }
        // Where processors are shared the link may be found too slow, rightly; then later.
        for _ in 0..5 {
            let mut command = by();
            command.args(["play", "small.cues", "--rig", "rig.toml", "--no-render", "--link", link]);
            command.args(["--to", address, "--seat", "vacant", &format!("--level={level}")]);
            command.args(["--log", "run.mcap"]).args(more).current_dir(self.folder.path());
            let program = Program::started(&mut command);
            if program.wait_for_one(&["the link does not hold", ": brakes on:"]) == 1 {
                return program;
            }
        }
        panic!("the link never held its cycle");
    }

    pub(crate) fn run(&self, arguments: &[&str]) -> String {
        let out = Command::new(PROGRAM).args(arguments).current_dir(self.folder.path()).output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    }

    /// From park until the scene is under way, the presence input held.
    pub(crate) fn until_following(&self, bench: &mut Bench, program: &Program) -> usize {
        let at = program.wait_for("parked: brakes on", 0);
        bench.say("presence 1");
        program.wait_for("following: MOVING", at)
    }
}

impl AsRef<Path> for Desk {
    fn as_ref(&self) -> &Path {
        self.folder.path()
    }
}

/// What legs may be braked by, m/s^2: 4 of the rig file, and some of the bench's own loop.
pub(crate) const CONTROLLED_M_S2: f64 = 5.0;

/// Legs are no shorter but where they are homed, m.
pub(crate) const SHORTEST_M: f64 = 0.440;

/// How far the platform is past a range of its joint with legs so long, rad.
fn past_rad(at_m: &[f64; 2]) -> f64 {
    static RIG: OnceLock<Rig> = OnceLock::new();
    let rig = RIG.get_or_init(|| {
        let text = std::fs::read_to_string(root().join("profiles/rigs/club-two-axis.toml")).unwrap();
        cueloom::rig::load(cueloom::diag::SourceId(0), &text).rig.unwrap()
    });
    let pose = cueloom::rig::kinematics::forward(rig, at_m, &[0.0, 0.0]).unwrap();
    let past = rig.axes.iter().zip(pose.iter()).map(|(axis, at)| (at - axis.max).max(axis.min - at));
    past.fold(f64::NEG_INFINITY, f64::max)
}

/// Legs inside their strokes and limits, and the joint inside its ranges, all the while; the largest speed and acceleration found, m/s and m/s^2.
pub(crate) fn inside(truth: &[Truth], hardest_m_s2: f64) -> (f64, f64) {
    inside_from(SHORTEST_M, truth, hardest_m_s2)
}

/// The same for legs that may come as near as `shortest_m`: homing looks for the end itself, where the joint is past its
/// range.
pub(crate) fn inside_from(shortest_m: f64, truth: &[Truth], hardest_m_s2: f64) -> (f64, f64) {
    let (mut speed, mut hardest) = (0.0f64, 0.0f64);
    for row in truth {
        for leg in 0..2 {
            assert!((shortest_m..=0.720).contains(&row.at_m[leg]), "{row:?}");
            speed = speed.max(row.speed_m_s[leg].abs());
        }
        assert!(shortest_m < SHORTEST_M || past_rad(&row.at_m) <= 0.0, "past a range of the joint: {row:?}");
    }
    for pair in truth.windows(11) {
        let (a, b) = (pair[0], pair[10]);
        for leg in 0..2 {
            hardest = hardest.max(((b.speed_m_s[leg] - a.speed_m_s[leg]) / (b.time_s - a.time_s)).abs());
        }
    }
    // What the bench's own loop adds to 0.25 m/s and 4 m/s^2; brakes that close on a leg that still creeps besides.
    assert!(speed < 0.26, "{speed}");
    assert!(hardest < hardest_m_s2, "{hardest}");
    (speed, hardest)
}

/// Whether legs end still, braked and off.
pub(crate) fn ends_at_rest(truth: &[Truth]) {
    let last = truth.last().unwrap();
    assert!(last.braked && !last.power, "{last:?}");
    assert!(last.speed_m_s.iter().all(|speed| speed.abs() < 1e-4), "{last:?}");
}
