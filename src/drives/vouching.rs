//! What a shell vouches for before anything follows a scene: that the commissioning record holds, that the ladder lets
//! the rung be played, that the seat is vacant; and why not.

use super::records::in_words;
use super::{DriveError, UnderWay, level_of};
use crate::audition::{Entry, Key, Levels, Load, Rung, missing};
use crate::link::FarEnd;
use crate::rig::Rig;
use crate::safety::operation::Permit;

/// What is to be played on what.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// Which rung of the ladder.
    pub rung: Rung,
    /// The levels of the ladder.
    pub levels: &'a Levels,
    /// Hash of the motion at full gain.
    pub motion: &'a str,
    /// The rig.
    pub rig: &'a Rig,
    /// Who answers.
    pub far: &'a FarEnd,
    /// Days since 1970-01-01.
    pub day: u64,
    /// Why the ladder is overridden, where it is.
    pub reason: Option<&'a str>,
}

/// What is vouched for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Vouched {
    /// What a sign-off of this run holds for.
    pub key: Key,
    /// Which rung.
    pub rung: Rung,
    /// Why the commissioning record does not hold; `None` when it does.
    pub void: Option<String>,
    /// Why the ladder does not let the rung be played; empty when it does.
    pub missing: Vec<String>,
    /// The reason given for playing it all the same; `None` where none was needed.
    pub overridden: Option<String>,
    /// The same for the run's state machine.
    pub permit: Permit,
}

/// Reads the records and says what they vouch for. An override that is needed is written down here, before anything
/// moves. What is vouched for holds as long as `under_way` does: nothing is noted meanwhile that would make it void.
///
/// # Errors
/// When the ladder has no such level, the override gives no reason, a record cannot be read, or the override cannot be
/// written: one that leaves no trace is none.
pub fn vouch(under_way: &UnderWay<'_>, asked: &Asked<'_>) -> Result<Vouched, DriveError> {
    level_of(asked.levels, asked.rung.level_db)?;
    let reason = asked.reason.map(|reason| in_words(reason, "the reason of the override")).transpose()?;
    let records = under_way.records();
    let commissioning = records.commissioning()?;
    let void = match &commissioning {
        None => {
            let folder = records.folder().display();
            Some(format!("there is none in `{folder}`: see `cueloom commission --help`"))
        }
        Some(record) => record.void(asked.rig, asked.far, asked.day),
    };
    let key = Key {
        motion: asked.motion.to_string(),
        rig: asked.rig.hash.clone(),
        tune: String::new(),
        commissioning: commissioning.as_ref().map(|record| record.hash()).unwrap_or_default(),
        drives: asked.far.fingerprint(),
        program: env!("CARGO_PKG_VERSION").to_string(),
    };
    let rung = asked.rung;
    let missing = missing(asked.levels, &records.entries()?, rung, &key, asked.day);
    let overridden = reason.filter(|_| !missing.is_empty());
    if let Some(reason) = &overridden {
        records.add(Entry::Override { rung, day: asked.day, reason: reason.clone() })?;
    }
    let permit = Permit {
        commissioned: void.is_none(),
        audition: missing.is_empty() || overridden.is_some(),
        vacant: rung.load == Load::Vacant,
    };
    Ok(Vouched { key, rung, void, missing, overridden, permit })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::commissioning::{CommissioningRecord, sample};
    use crate::drives::Records;
    use crate::link::sample::two_legs;

    #[test]
    fn nothing_is_vouched_for_without_records_and_an_override_leaves_a_trace() {
        let folder = tempfile::tempdir().unwrap();
        let records = Records::at(&folder.path().join("records"));
        let far = FarEnd {
            name: "f".into(),
            legs: 2,
            cycle_us: 2000,
            firmware: 1,
            parameters: 2,
            serials: vec![3, 4],
        };
        let rig = two_legs();
        let rung = |level_db| Rung { level_db, load: Load::Vacant };
        let levels = Levels::default();
        let asked = |level_db, reason| Asked {
            rung: rung(level_db),
            levels: &levels,
            motion: "m",
            rig: &rig,
            far: &far,
            day: 20_000,
            reason,
        };
        let under_way = records.under_way().unwrap();
        let first = vouch(&under_way, &asked(-12, None)).unwrap();
        assert!(first.void.as_ref().unwrap().contains("there is none in `") && first.missing.is_empty());
        assert_eq!(first.permit, Permit { commissioned: false, audition: true, vacant: true });
        let record = sample::record(&rig, &far, 20_000);
        // A record without steps vouches for nothing.
        records.keep_commissioning(&CommissioningRecord { steps: Vec::new(), ..record.clone() }).unwrap();
        let hollow = vouch(&under_way, &asked(-12, None)).unwrap();
        assert!(hollow.void.unwrap().contains("the step `vacant` is missing") && !hollow.permit.commissioned);
        records.keep_commissioning(&record).unwrap();
        let second = vouch(&under_way, &asked(-6, None)).unwrap();
        assert_eq!((second.void, second.permit.audition), (None, false));
        assert_eq!(second.missing, ["-12 dB vacant: not signed off"]);
        assert_eq!(records.entries().unwrap(), []);
        // A reason that is not needed overrides nothing.
        assert_eq!(vouch(&under_way, &asked(-12, Some("why not"))).unwrap().overridden, None);
        assert_eq!(records.entries().unwrap(), []);
        // Nor does one that says nothing, and nothing plays what is no rung.
        let refused = vouch(&under_way, &asked(-6, Some(" "))).unwrap_err().to_string();
        assert!(refused.starts_with("the reason of the override is empty"), "{refused}");
        let refused = vouch(&under_way, &asked(-9, Some("a test"))).unwrap_err().to_string();
        assert!(
            refused.starts_with("-9 dB is no level of the ladder, which has -12, -6, -3 and 0"),
            "{refused}"
        );
        assert_eq!(records.entries().unwrap(), []);
        let third = vouch(&under_way, &asked(-6, Some("a test"))).unwrap();
        assert!(third.permit.audition && third.overridden.as_deref() == Some("a test"));
        let reason = "a test".to_string();
        assert_eq!(records.entries().unwrap(), [Entry::Override { rung: rung(-6), day: 20_000, reason }]);
    }
}
