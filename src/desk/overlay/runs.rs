//! The runs that the records' folder holds of a profile, newest first: when, how strong, how each ended.

use super::head::Head;
use super::marks::{Kind, marked};
use crate::drives::{Carrier, Records};
use crate::files::{self, LongFile};
use crate::record::{Logged, glance};
use crate::safety::operation::Cause;
use std::path::{Path, PathBuf};

/// Most runs that are listed; older ones are chosen by their path. Own choice.
pub const MOST: usize = 200;

/// A run's record as it is listed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    /// Where it is.
    pub path: PathBuf,
    /// On simulated drives.
    pub simulated: bool,
    /// When it was written last, s since 1970-01-01.
    pub written_s: u64,
    /// What it says of itself, one line; `None` until it was looked at.
    pub said: Option<String>,
}

impl Run {
    /// Its file's name, without the suffix.
    pub fn name(&self) -> String {
        self.path.file_stem().map_or(String::new(), |stem| stem.to_string_lossy().into_owned())
    }

    /// `2026-11-29  small-3, simulated drives`, and below it `-12 dB, vacant: played to its end`.
    pub fn words(&self) -> String {
        let simulated = if self.simulated { ", simulated drives" } else { "" };
        let said = self.said.as_deref().unwrap_or("not looked into yet");
        format!("{}  {}{simulated}\n{said}", crate::time::date(self.written_s / 86_400), self.name())
    }
}

/// Runs of `profile` in the folder of the records, newest first; not yet looked into.
pub fn of(profile: &Path, folder: &Path) -> Vec<Run> {
    let stem = profile.file_stem().map_or(String::new(), |stem| stem.to_string_lossy().into_owned());
    let mut runs = Vec::new();
    for (simulated, records) in [(false, Records::at(folder)), (true, Records::of(folder, Carrier::Sim))] {
        for path in files::files_in(&records.folder().join("runs"), "mcap") {
            let name = path.file_stem().map_or(String::new(), |stem| stem.to_string_lossy().into_owned());
            if number(&name, &stem).is_some() {
                let written_s = files::stamp(&path).map_or(0, |stamp| stamp.written_s());
                runs.push(Run { path, simulated, written_s, said: None });
            }
        }
    }
    runs.sort_by_key(|run| std::cmp::Reverse((run.written_s, number(&run.name(), &stem))));
    runs.truncate(MOST);
    runs
}

/// Which run of a profile a record is by its name: `small-3` is the third of `small`, `small-b-3` is none of it.
fn number(name: &str, stem: &str) -> Option<u64> {
    let number = name.strip_prefix(stem)?.strip_prefix('-')?;
    number.bytes().all(|byte| byte.is_ascii_digit()).then(|| number.parse().ok())?
}

/// What a record says of itself, one line.
pub fn said(path: &Path) -> String {
    let file = match LongFile::open(path) {
        Ok(file) => std::io::BufReader::new(file),
        Err(error) => return error.to_string(),
    };
    match glance(file) {
        Ok(logged) => format!("{}: {}", Head::of(&logged.entries).strength(), ended(&logged)),
        Err(why) => format!("no record of a run: {why}"),
    }
}

/// How a run ended.
fn ended(logged: &Logged) -> String {
    let marks: Vec<(Kind, String)> = logged.events.iter().filter_map(|(_, words)| marked(words)).collect();
    let fault = marks.iter().find(|(kind, words)| *kind == Kind::Fault && words.contains(" to "));
    let fault = fault.or_else(|| marks.iter().find(|(kind, _)| *kind == Kind::Fault));
    let of_run = |(_, words): &&(f64, String)| words.starts_with("run: ");
    let last = logged.events.iter().rfind(of_run).and_then(|(_, words)| words.strip_prefix("run: "));
    let reason = |words: &str| words.split_once(": ").map_or(words, |(_, reason)| reason).to_string();
    let to_its_end = logged.events.iter().any(|(_, words)| words.ends_with(Cause::SceneEnded.words()));
    let mut words = match (fault, to_its_end, last) {
        (Some((_, words)), _, _) => reason(words),
        (None, true, _) => "played to its end".to_string(),
        (None, false, Some(last)) => format!("not to its end, last {last}"),
        (None, false, None) => "nothing said of its end".to_string(),
    };
    if logged.cut_off {
        words.push_str(", cut off");
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_a_profile_are_its_own_and_the_newest_stands_first() {
        let folder = tempfile::tempdir().unwrap();
        let (runs, simulated) = (folder.path().join("runs"), folder.path().join("simulated/runs"));
        for records in [&runs, &simulated] {
            std::fs::create_dir_all(records).unwrap();
        }
        for name in ["small-2.mcap", "small-10.mcap", "small-b-3.mcap", "smaller-1.mcap", "small-1.csv"] {
            let file = std::fs::File::create(runs.join(name)).unwrap();
            let time = std::time::SystemTime::UNIX_EPOCH + std::time::Duration::from_secs(1000);
            file.set_modified(time).unwrap();
        }
        let later = std::fs::File::create(simulated.join("small-1.mcap")).unwrap();
        later
            .set_modified(std::time::SystemTime::UNIX_EPOCH + std::time::Duration::from_secs(90_000))
            .unwrap();
        let found = of(Path::new("x/small.cues"), folder.path());
        let seen: Vec<(String, bool)> = found.iter().map(|run| (run.name(), run.simulated)).collect();
        let wanted = [("small-1", true), ("small-10", false), ("small-2", false)];
        assert_eq!(seen, wanted.map(|(name, simulated)| (name.to_string(), simulated)));
        assert_eq!(found[0].words(), "1970-01-02  small-1, simulated drives\nnot looked into yet");
        assert!(said(&runs.join("small-2.mcap")).starts_with("no record of a run: "));
        assert!(said(&runs.join("gone.mcap")).starts_with("there is no file"));
    }

    #[test]
    fn how_it_ended_is_told_by_its_events() {
        let told = |events: &[&str], cut_off| {
            let events = events.iter().map(|words| (0.0, format!("run: {words}"))).collect();
            ended(&Logged { events, cut_off, ..Logged::default() })
        };
        let end = "following to holding: the scene was played to its end";
        let parked = "parking to parked: it came to its park lengths";
        assert_eq!(told(&["engaging to following: asked for", end, parked], false), "played to its end");
        let let_go = "following to holding: the presence input was let go";
        let stop = "holding to stopped: asked to stop: the run is over";
        assert_eq!(
            told(&[let_go, stop], false),
            "not to its end, last holding to stopped: asked to stop: the run is over"
        );
        assert_eq!(
            told(&["following to faulted: a leg is on an end switch", parked], false),
            "a leg is on an end switch"
        );
        assert_eq!(
            told(&[let_go], true),
            "not to its end, last following to holding: the presence input was let go, cut off"
        );
        assert_eq!(told(&[], true), "nothing said of its end, cut off");
    }
}
