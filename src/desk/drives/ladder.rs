//! The audition ladder as it is shown: every level with every load, and why it may not be played.

use crate::audition::{Entry, Key, Levels, Load, Rung, Unsigned, missing, to_sign, why_not_signed};

/// How a rung stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Played to its end and signed off; the sign-off holds.
    Signed,
    /// It may be played.
    Open,
    /// Those below it are not signed off.
    Closed,
}

impl Standing {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Standing::Signed => "signed",
            Standing::Open => "open",
            Standing::Closed => "closed",
        }
    }
}

/// A rung with its standing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// Which.
    pub rung: Rung,
    /// How it stands.
    pub standing: Standing,
    /// Why it may not be played, or why its own sign-off does not count; a sentence each.
    pub why: Vec<String>,
}

/// The ladder for one motion on one rig.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Ladder {
    /// Level by level from the lowest, and in each the loads in their order.
    pub cells: Vec<Cell>,
    /// The run that waits to be signed off.
    pub to_sign: Option<Unsigned>,
}

impl Ladder {
    /// From the entries of the ladder's file; without a key (nothing answered yet) no rung's standing is known.
    pub fn of(levels: &Levels, entries: &[Entry], key: Option<&Key>, day: u64) -> Self {
        let to_sign = to_sign(entries).filter(|run| run.too_old(day).is_none());
        let Some(key) = key else { return Self { cells: Vec::new(), to_sign } };
        let rungs = levels.all_db().flat_map(|level_db| Load::ALL.map(|load| Rung { level_db, load }));
        let cell = |rung| {
            let (own, below) =
                (why_not_signed(entries, rung, key, day), missing(levels, entries, rung, key, day));
            let standing = match (&own, below.is_empty()) {
                (None, true) => Standing::Signed,
                (Some(_), true) => Standing::Open,
                // Its own sign-off holds, but not one below it.
                (_, false) => Standing::Closed,
            };
            let why = if below.is_empty() { own.into_iter().collect() } else { below };
            Cell { rung, standing, why }
        };
        Self { cells: rungs.map(cell).collect(), to_sign }
    }

    /// How a rung stands, where that is known.
    pub fn cell(&self, rung: Rung) -> Option<&Cell> {
        self.cells.iter().find(|cell| cell.rung == rung)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key() -> Key {
        let [motion, rig, tune, commissioning, drives, program] =
            ["m", "r", "", "c", "d", "p"].map(String::from);
        Key { motion, rig, tune, commissioning, drives, program }
    }

    /// On the usual levels.
    fn of(entries: &[Entry], key: Option<&Key>, day: u64) -> Ladder {
        Ladder::of(&Levels::default(), entries, key, day)
    }

    #[test]
    fn the_levels_that_were_chosen_are_shown_and_no_others() {
        let ladder = Ladder::of(&Levels::of(&[-20, -10, 0]).unwrap(), &[], Some(&key()), 5);
        let levels_db: Vec<i32> = ladder.cells.iter().step_by(3).map(|cell| cell.rung.level_db).collect();
        assert_eq!((ladder.cells.len(), levels_db), (9, vec![-20, -10, 0]));
    }

    #[test]
    fn a_rung_is_open_when_those_below_are_signed_and_says_why_not() {
        let key = key();
        let rung = |level_db, load| Rung { level_db, load };
        let lowest = rung(-12, Load::Vacant);
        let played = Entry::Played { rung: lowest, key: key.clone(), day: 5, record: "x.mcap".to_string() };
        let signed = Entry::Signed {
            rung: lowest,
            key: key.clone(),
            played: 5,
            day: 5,
            remark: "nothing".to_string(),
        };
        let standing = |ladder: &Ladder, rung| ladder.cell(rung).map(|cell| cell.standing);
        let empty = of(&[], Some(&key), 5);
        assert_eq!((empty.cells.len(), &empty.to_sign), (12, &None));
        assert_eq!(standing(&empty, lowest), Some(Standing::Open));
        let next = rung(-6, Load::Vacant);
        assert_eq!(empty.cell(next).unwrap().why, ["-12 dB vacant: not signed off"]);
        assert_eq!(standing(&empty, next), Some(Standing::Closed));
        assert_eq!(of(std::slice::from_ref(&played), Some(&key), 5).to_sign.unwrap().rung, lowest);
        let ladder = of(&[played, signed], Some(&key), 6);
        assert_eq!(standing(&ladder, lowest), Some(Standing::Signed));
        assert_eq!(standing(&ladder, next), Some(Standing::Open));
        assert_eq!(standing(&ladder, rung(-12, Load::Ballasted)), Some(Standing::Open));
        assert_eq!(standing(&ladder, rung(-6, Load::Ballasted)), Some(Standing::Closed));
        assert_eq!(ladder.to_sign, None);
        assert_eq!(of(&[], None, 5).cells, []);
    }

    #[test]
    fn a_rung_above_one_that_is_void_by_age_is_closed_though_it_was_signed() {
        let key = key();
        let rung = |level_db| Rung { level_db, load: Load::Vacant };
        let signed = |level_db, played| {
            let (key, remark) = (key.clone(), String::new());
            Entry::Signed { rung: rung(level_db), key, played, day: played, remark }
        };
        let ladder = of(&[signed(-12, 0), signed(-6, 60)], Some(&key), 95);
        let cell = ladder.cell(rung(-6)).unwrap();
        assert_eq!(cell.standing, Standing::Closed);
        assert!(cell.why[0].starts_with("-12 dB vacant: the sign-off is void"), "{:?}", cell.why);
        // A run of so long ago is not offered to be signed off.
        let played =
            Entry::Played { rung: rung(-12), key: key.clone(), day: 5, record: "x.mcap".to_string() };
        assert_eq!(of(std::slice::from_ref(&played), Some(&key), 95).to_sign.unwrap().rung, rung(-12));
        assert_eq!(of(std::slice::from_ref(&played), Some(&key), 96).to_sign, None);
    }
}
