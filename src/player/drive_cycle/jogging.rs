//! A jog: speeds that a hand asks for, for as long as it does, and no further than legs and joints reach.

use super::super::thresholds::JOG_US;
use super::DriveCycle;
use crate::link::DriveLink;
use crate::record::What;
use crate::safety::operation::{Event, Refusal, Request, State};
use crate::safety::{Legs, Limits};

/// A jog stands so long before it would come to an end, s: what it takes to hear of it, and to stop, with room to spare
/// (own choice).
const AHEAD_S: f64 = 0.2;

/// The speeds of a jog.
#[derive(Debug, Clone, Copy)]
pub(super) struct Jog {
    asked_m_s: Legs,
    /// Since somebody asked, microseconds.
    age_us: u64,
    /// It would leave what legs or joints reach.
    is_at_end: bool,
}

impl Jog {
    pub(super) fn none(legs: usize) -> Self {
        Self { asked_m_s: Legs::filled(legs, 0.0), age_us: u64::MAX, is_at_end: false }
    }

    /// Somebody asks for these speeds, m/s.
    pub(super) fn ask(&mut self, speeds_m_s: Legs) {
        (self.asked_m_s, self.age_us) = (speeds_m_s, 0);
    }

    /// So many microseconds on. `at_m` where legs are, as far as that is known. Whether it came to an end of what legs reach just now.
    pub(super) fn look(&mut self, elapsed_us: u64, at_m: Option<&Legs>, limits: &Limits) -> bool {
        self.age_us = self.age_us.saturating_add(elapsed_us);
        if self.age_us > JOG_US {
            self.asked_m_s = Legs::filled(self.asked_m_s.len(), 0.0);
        }
        let was_at_end = self.is_at_end;
        self.is_at_end = at_m.is_some_and(|at_m| limits.are_left_by(at_m, &self.asked_m_s, AHEAD_S));
        self.is_at_end && !was_at_end
    }

    /// What goes out, m/s: all legs or none, so that the platform keeps to the way that was asked for.
    pub(super) fn speeds_m_s(&self) -> Legs {
        if self.is_at_end { Legs::filled(self.asked_m_s.len(), 0.0) } else { self.asked_m_s }
    }
}

impl<L: DriveLink> DriveCycle<L> {
    /// Somebody asks for these speeds, m/s, whatever shell it was. With the seat not declared vacant legs go together, or
    /// stand: in one that goes on as in one that begins.
    pub(super) fn jogs(&mut self, speeds_m_s: Legs, begins: bool) {
        let goes_on = self.run.state() == State::Jogging;
        if !goes_on && !begins {
            return;
        }
        let together = speeds_m_s.windows(2).all(|pair| pair[0] == pair[1]);
        if !together && !self.run.permit().vacant {
            let why = self.run.refusal_of_one_leg().filter(|_| !goes_on).unwrap_or(Refusal::OneLeg);
            self.note(What::NotNow { request: Request::Jog, why });
            self.jog.ask(Legs::filled(speeds_m_s.len(), 0.0));
        } else if goes_on || self.event(Event::Ask(Request::Jog)) {
            self.jog.ask(speeds_m_s);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::sample::two_legs;

    #[test]
    fn it_stands_before_an_end_and_goes_back_from_it() {
        let limits = Limits::of(&two_legs()).unwrap();
        let high_m = limits.legs()[0].high_m;
        let (both, at) = (|m_s: f64| Legs::filled(2, m_s), |m: f64| Legs::filled(2, m));
        let mut jog = Jog::none(2);
        assert_eq!(jog.speeds_m_s(), both(0.0));
        jog.ask(both(0.01));
        assert!(!jog.look(1000, Some(&at(high_m - 0.0021)), &limits));
        assert_eq!(jog.speeds_m_s(), both(0.01));
        // 10 mm/s for 0.2 s are 2 mm; it is said once.
        assert!(jog.look(1000, Some(&at(high_m - 0.0019)), &limits));
        assert!(!jog.look(1000, Some(&at(high_m - 0.0018)), &limits));
        assert_eq!(jog.speeds_m_s(), both(0.0));
        // Beyond the end, as after a trip: further out it does not go, back it does.
        jog.look(1000, Some(&at(high_m + 0.01)), &limits);
        assert_eq!(jog.speeds_m_s(), both(0.0));
        jog.ask(both(-0.01));
        jog.look(1000, Some(&at(high_m + 0.01)), &limits);
        assert_eq!(jog.speeds_m_s(), both(-0.01));
        // Without a reference nobody knows where the ends are.
        jog.ask(both(0.01));
        assert!(!jog.look(1000, None, &limits));
        assert_eq!(jog.speeds_m_s(), both(0.01));
        // Nobody asks any more.
        (0..=JOG_US / 1000).for_each(|_| _ = jog.look(1000, None, &limits));
        assert_eq!(jog.speeds_m_s(), both(0.0));
    }

    /// A joint's bound counts as a leg's does: 0.3 rad of roll on legs 0.8 m apart are 0.24 m.
    #[test]
    fn joints_are_ends_too() {
        let rig = std::sync::Arc::new(two_legs());
        let limits = crate::safety::within_joints(&rig, Limits::of(&rig).unwrap()).unwrap();
        let mut jog = Jog::none(2);
        let along = |left: f64, right: f64| Legs::from_fn(2, |leg| [left, right][leg]);
        jog.ask(along(0.01, -0.01));
        jog.look(1000, Some(&along(0.75 + 0.10, 0.75 - 0.10)), &limits);
        assert_eq!(jog.speeds_m_s(), along(0.01, -0.01));
        jog.look(1000, Some(&along(0.75 + 0.13, 0.75 - 0.13)), &limits);
        assert_eq!(jog.speeds_m_s(), along(0.0, 0.0));
    }
}
