//! The levels of a ladder, lowest first. A list with which somebody would begin near full gain, or never come to it, is
//! none.

/// Most levels (own choice: with three loads they are 36 runs).
const MOST: usize = 12;

/// The first level is so low at least, dB (own choice: half the amplitude).
const FIRST_DB: i32 = -6;

/// None is lower, dB (own choice: a hundredth of the amplitude, of which nobody sees what is wrong).
const LEAST_DB: i32 = -40;

/// How far below full gain a motion is tried: whole dB upwards, the last of them full gain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Levels {
    lowest_db: i32,
    above_db: Vec<i32>,
}

/// Why a list is no ladder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoLevels {
    /// Which of the list, from 0; `None` where it is the list as a whole.
    pub at: Option<usize>,
    /// What was found, and what was expected.
    pub why: String,
}

impl Default for Levels {
    /// -12, -6, -3 and 0 dB (common practice of vibration tests).
    fn default() -> Self {
        Self { lowest_db: -12, above_db: vec![-6, -3, 0] }
    }
}

impl Levels {
    /// Of a list, dB below full gain, lowest first.
    ///
    /// # Errors
    /// When it has fewer than two levels or more than 12, does not go up, begins above -6 dB or below -40 dB, or does not
    /// end at 0 dB.
    pub fn of(list_db: &[i32]) -> Result<Self, NoLevels> {
        let wrong = |at, why| Err(NoLevels { at, why });
        let (Some((first, above)), 2..=MOST) = (list_db.split_first(), list_db.len()) else {
            let found = match list_db.len() {
                0 => "no level".to_string(),
                1 => "one level".to_string(),
                n => format!("{n} levels"),
            };
            return wrong(None, format!("{found}: a ladder has 2 to {MOST}, the last of them 0 dB"));
        };
        for (at, level_db) in list_db.iter().enumerate() {
            if *level_db > 0 {
                return wrong(Some(at), format!("{level_db} dB is above full gain, which is 0 dB"));
            }
            if *level_db < LEAST_DB {
                return wrong(Some(at), format!("{level_db} dB is too low: {LEAST_DB} dB is the least"));
            }
        }
        if *first > FIRST_DB {
            let why =
                format!("the ladder would begin at {first} dB: its first level is {FIRST_DB} dB or lower");
            return wrong(Some(0), why);
        }
        for (at, pair) in list_db.windows(2).enumerate() {
            if let [below, level] = pair
                && level <= below
            {
                let why = format!("{level} dB is not above {below} dB before it: each level is louder");
                return wrong(Some(at + 1), why);
            }
        }
        match above.last() {
            Some(0) => Ok(Self { lowest_db: *first, above_db: above.to_vec() }),
            _ => {
                let last_db = above.last().unwrap_or(first);
                let why = format!("the ladder would end at {last_db} dB: its last level is 0 dB, full gain");
                wrong(Some(list_db.len() - 1), why)
            }
        }
    }

    /// The first, dB: where everything begins.
    pub fn lowest_db(&self) -> i32 {
        self.lowest_db
    }

    /// All of them, dB, lowest first.
    pub fn all_db(&self) -> impl DoubleEndedIterator<Item = i32> + '_ {
        std::iter::once(self.lowest_db).chain(self.above_db.iter().copied())
    }

    /// Why `level_db` cannot be played; `None` where it is one of them.
    pub fn why_none_of(&self, level_db: i32) -> Option<String> {
        let is_one = self.all_db().any(|own_db| own_db == level_db);
        (!is_one).then(|| format!("{level_db} dB is no level of the ladder, which has {}", self.words()))
    }

    /// In words: `-12, -6, -3 and 0 dB`.
    pub fn words(&self) -> String {
        let mut all: Vec<String> = self.all_db().map(|level_db| level_db.to_string()).collect();
        let last = all.pop().unwrap_or_default();
        format!("{} and {last} dB", all.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_that_begins_low_and_goes_up_to_full_gain_is_a_ladder() {
        let usual = Levels::default();
        assert_eq!(Levels::of(&[-12, -6, -3, 0]), Ok(usual.clone()));
        assert_eq!((usual.lowest_db(), usual.words().as_str()), (-12, "-12, -6, -3 and 0 dB"));
        assert_eq!(usual.all_db().rev().collect::<Vec<_>>(), [0, -3, -6, -12]);
        let two = Levels::of(&[-6, 0]).unwrap();
        assert_eq!((two.lowest_db(), two.words().as_str()), (-6, "-6 and 0 dB"));
        assert_eq!(two.why_none_of(-6), None);
        assert_eq!(two.why_none_of(-3).unwrap(), "-3 dB is no level of the ladder, which has -6 and 0 dB");
        let twelve: Vec<i32> = (-40..-29).chain([0]).collect();
        assert!(twelve.len() == 12 && Levels::of(&twelve).is_ok());
    }

    #[test]
    fn every_other_list_is_refused_with_its_place() {
        let thirteen: Vec<i32> = (-12..=0).collect();
        for (list, at, words) in [
            (&[][..], None, "no level: a ladder has 2 to 12"),
            (&[0], None, "one level"),
            (&thirteen, None, "13 levels"),
            (&[-12, 3], Some(1), "3 dB is above full gain"),
            (&[-41, 0], Some(0), "-41 dB is too low: -40 dB is the least"),
            (&[-5, 0], Some(0), "would begin at -5 dB: its first level is -6 dB or lower"),
            (&[-12, -6, -6, 0], Some(2), "-6 dB is not above -6 dB before it"),
            (&[-12, -3, -6, 0], Some(2), "-6 dB is not above -3 dB before it"),
            (&[-12, -6], Some(1), "would end at -6 dB"),
        ] {
            let found = Levels::of(list).unwrap_err();
            assert!(found.at == at && found.why.contains(words), "{list:?}: {found:?}");
        }
    }
}
