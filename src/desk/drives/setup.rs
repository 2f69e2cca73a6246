//! What is chosen before a link is opened: where to, what sits in the seat, how strong, and why the ladder is overridden.

use crate::audition::{LEVELS_DB, Load, Rung};
use crate::drives::Carrier;
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
        Self {
            carrier,
            to: to.to_string(),
            records: records_folder(profile).display().to_string(),
            level_db: LEVELS_DB[0],
            seat: None,
            reason: String::new(),
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
}
