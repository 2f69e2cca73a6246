//! What exactly is wrong with a drive, besides the few faults that a run's states know: for notes and words. Plain
//! values, so that a cycle can carry them.

/// A cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DriveCause {
    /// On which leg, from 0; none where it is no one leg's.
    pub leg: Option<usize>,
    /// What.
    pub what: &'static str,
    /// The drive's own number, 0 where there is none.
    pub code: u32,
    /// What that number means; empty where there is none.
    pub meaning: &'static str,
}

impl DriveCause {
    /// `left: emergency 0x8611: following error`
    pub fn words(&self, leg_names: &[String]) -> String {
        let mut words = match self.leg {
            Some(leg) => match leg_names.get(leg) {
                Some(name) => format!("{name}: "),
                None => format!("leg {}: ", leg + 1),
            },
            None => String::new(),
        };
        words.push_str(self.what);
        if self.code != 0 {
            words.push_str(&format!(" 0x{:04X}", self.code));
        }
        if !self.meaning.is_empty() {
            words.push_str(&format!(": {}", self.meaning));
        }
        words
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_name_the_leg_the_number_and_what_it_means() {
        let cause = DriveCause { leg: Some(1), what: "emergency", code: 0x8611, meaning: "following error" };
        let names = ["left".to_string(), "right".to_string()];
        assert_eq!(cause.words(&names), "right: emergency 0x8611: following error");
        let cause = DriveCause { leg: None, code: 0, meaning: "", ..cause };
        assert_eq!(cause.words(&[]), "emergency");
    }
}
