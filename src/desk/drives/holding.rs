//! Presence at this computer, from what the window sees: a key or a button that is down, and whether the window has the
//! keys at all.

/// Whether somebody holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Holding {
    /// What is down was down when the window lost the keys or fell silent, or STOP was pressed; it counts again once it
    /// was let go.
    spent: bool,
    holds: bool,
}

impl Holding {
    /// One look at key and button. Whether presence is held.
    pub fn look(&mut self, down: bool, focused: bool) -> bool {
        self.spent = down && (self.spent || !focused);
        self.holds = down && focused && !self.spent;
        self.holds
    }

    /// What is down does not count any more until it was let go.
    pub fn spend(&mut self) {
        self.spent = true;
        self.holds = false;
    }

    /// Whether something is down that does not count.
    pub fn is_spent(&self) -> bool {
        self.spent
    }

    /// Whether it is held.
    pub fn holds(&self) -> bool {
        self.holds
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_counts_while_the_window_has_the_keys_and_not_on_coming_back() {
        let mut holding = Holding::default();
        let looks = [
            ((false, true), false),
            ((true, true), true),
            ((true, false), false),
            ((true, true), false),
            ((false, true), false),
            ((true, true), true),
            ((false, false), false),
            ((true, true), true),
        ];
        for (at, ((down, focused), holds)) in looks.into_iter().enumerate() {
            assert_eq!(holding.look(down, focused), holds, "look {at}");
        }
        holding.spend();
        assert!(!holding.holds() && !holding.look(true, true) && holding.is_spent(), "STOP was pressed");
        holding.look(false, true);
        assert!(holding.look(true, true));
    }
}
