//! What is chosen before a link is opened: where to, what sits in the seat, how strong, and why the ladder is overridden.

use crate::audition::{Levels, Load, Rung};
use crate::drives::{Carrier, levels};
use crate::files::records_folder;
use std::path::Path;

/// The choices. The seat is never remembered: whoever connects has looked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Setup {
    /// What carries set-points.
    pub carrier: Carrier,
    /// Where the far end is.
    pub to: String,
    /// The folder of the records.
    pub records: String,
    /// The levels of the ladder, as the settings near the profile have them.
    pub levels: Levels,
    /// Why those are not known; `levels` are then the last that were, at first the usual ones.
    no_levels: Option<String>,
    /// dB below full gain.
    pub level_db: i32,
    /// What sits in the seat; `None` until it was said.
    pub seat: Option<Load>,
    /// Why the ladder is overridden; empty where it is not.
    pub reason: String,
}

impl Setup {
    /// For a profile at `profile`, with the link that was used last.
    pub fn of(profile: &Path, carrier: Carrier, to: &str) -> Self {
        let mut setup = Self {
            carrier,
            to: to.to_string(),
            records: records_folder(profile).display().to_string(),
            levels: Levels::default(),
            no_levels: None,
            level_db: 0,
            seat: None,
            reason: String::new(),
        };
        setup.read_levels(profile);
        setup.level_db = setup.levels.lowest_db();
        setup
    }

    /// Reads the levels for a profile anew. The one that was chosen stays: whether it is one of them is said.
    pub fn read_levels(&mut self, profile: &Path) {
        match levels(profile) {
            Ok(levels) => (self.levels, self.no_levels) = (levels, None),
            Err(error) => self.no_levels = Some(error.to_string()),
        }
    }

    /// The rung, once the seat was said.
    pub fn rung(&self) -> Option<Rung> {
        self.seat.map(|load| Rung { level_db: self.level_db, load })
    }

    /// The reason of an override, where one was typed.
    pub fn reason(&self) -> Option<&str> {
        Some(self.reason.trim()).filter(|reason| !reason.is_empty())
    }

    /// What must be chosen yet, a sentence each.
    pub fn lacks(&self) -> Vec<String> {
        let mut lacks = Vec::new();
        if self.carrier.has_address() && self.to.trim().is_empty() {
            lacks.push(format!("say where the far end is, for instance {}", self.carrier.example()));
        }
        match &self.no_levels {
            Some(why) => lacks.push(why.clone()),
            None => {
                let none = self.levels.why_none_of(self.level_db);
                lacks.extend(none.map(|why| format!("choose a level: {why}")));
            }
        }
        if self.seat.is_none() {
            lacks.push("look at the seat, and say what sits in it".to_string());
        }
        if self.records.trim().is_empty() {
            lacks.push("name the folder of the records".to_string());
        }
        lacks
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn begins_lowest_and_wants_the_seat_to_be_said() {
        let mut setup = Setup::of(Path::new("a/b.cues"), Carrier::Udp, "");
        assert_eq!((setup.level_db, setup.rung(), setup.reason()), (-12, None, None));
        assert!(setup.records.ends_with("records") && setup.records.starts_with('a'), "{}", setup.records);
        assert_eq!(setup.lacks().len(), 2);
        assert!(setup.lacks()[0].contains("192.168.7.2:7750"));
        (setup.to, setup.seat, setup.reason) = ("10.0.0.1:1".into(), Some(Load::Occupied), "  ".into());
        assert_eq!((setup.lacks().len(), setup.reason()), (0, None));
        assert_eq!(setup.rung(), Some(Rung { level_db: -12, load: Load::Occupied }));
        (setup.to, setup.carrier) = (String::new(), Carrier::Sim);
        assert_eq!(setup.lacks(), Vec::<String>::new());
    }

    #[test]
    fn the_levels_are_those_of_the_settings_and_a_bad_list_keeps_everything_back() {
        let folder = tempfile::tempdir().unwrap();
        let profile = folder.path().join("a.cues");
        let write = |text: &str| std::fs::write(folder.path().join("cueloom.toml"), text).unwrap();
        write("levels = [\"-20 dB\", \"-10 dB\", \"0 dB\"]");
        let mut setup = Setup::of(&profile, Carrier::Sim, "");
        setup.seat = Some(Load::Vacant);
        assert_eq!((setup.level_db, setup.levels.words().as_str()), (-20, "-20, -10 and 0 dB"));
        assert_eq!(setup.lacks(), Vec::<String>::new());
        write("levels = [\"-10 dB\", \"0 dB\"]");
        setup.read_levels(&profile);
        // Not changed behind anybody's back.
        assert_eq!(setup.level_db, -20);
        assert!(setup.lacks()[0].starts_with("choose a level: -20 dB is no level"), "{:?}", setup.lacks());
        write("levels = [\"-1 dB\", \"0 dB\"]");
        setup.read_levels(&profile);
        assert!(setup.lacks()[0].contains("would begin at -1 dB"), "{:?}", setup.lacks());
        assert_eq!((setup.lacks().len(), setup.levels.words().as_str()), (1, "-10 and 0 dB"));
    }
}
