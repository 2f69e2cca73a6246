//! A brake that no contacts tell of: on or off by what its leg does. A drive with a brake function builds torque before it
//! lets the brake go (docs/can.md, step 3). A leg that does not sag then is held by its drive; one that does not sag
//! without torque is held by its brake. One that does is a fault either way.

use super::node::Node;
use crate::link::DriveTime;
use crate::safety::operation::Brakes;

/// A brake that was let go is off after this, microseconds (own choice: brakes of such motors take some 0.1 s, and
/// `safety::operation` gives them a second).
const OPENS_US: u64 = 500_000;
/// A brake closes within this once torque is gone, microseconds (own choice; that of a drive which closes it under torque
/// is on already).
const CLOSES_US: u64 = 300_000;
/// A leg that sagged is a fault for so long, microseconds (own choice).
const FAULT_US: u64 = 1_000_000;

/// What a leg did since its drive's torque came or went.
#[derive(Debug, Clone, Copy)]
struct Since {
    torque: bool,
    at_us: u64,
    /// Where it stood, counts.
    counts: i32,
    /// It may move: its brake is off.
    settled: bool,
}

/// How a leg sags.
#[derive(Debug)]
pub(super) struct Sag {
    /// More is a fault, counts.
    most_counts: u32,
    /// Contacts tell when its brake is off: then only what happens without torque counts.
    has_contacts: bool,
    since: Option<Since>,
    /// When it sagged last, microseconds, and whether under torque.
    sagged: Option<(u64, bool)>,
}

impl Sag {
    pub(super) fn new(most_counts: u32, has_contacts: bool) -> Self {
        Self { most_counts, has_contacts, since: None, sagged: None }
    }

    /// Takes on where the leg is, counts, and whether its drive gives torque.
    fn look(&mut self, now_us: u64, torque: bool, counts: i32) {
        let begun = Since { torque, at_us: now_us, counts, settled: torque && self.has_contacts };
        let since = self.since.get_or_insert(begun);
        if since.torque != torque {
            *since = begun;
        }
        if since.settled {
            return;
        }
        if since.counts.abs_diff(counts) > self.most_counts {
            self.sagged = Some((now_us, torque));
            // From here on, or it would sag for ever.
            *since = begun;
        } else if torque && now_us.saturating_sub(since.at_us) >= OPENS_US {
            since.settled = true;
        }
    }

    /// Whether it sagged just now, and if so whether under torque.
    fn sagged(&self, now_us: u64) -> Option<bool> {
        let (at_us, torque) = self.sagged?;
        (now_us.saturating_sub(at_us) < FAULT_US).then_some(torque)
    }

    fn brakes(&self, now_us: u64) -> Option<Brakes> {
        let since = self.since?;
        let closed = !since.torque && now_us.saturating_sub(since.at_us) >= CLOSES_US;
        match self.sagged(now_us) {
            Some(_) => None,
            None if since.settled => Some(Brakes::Released),
            None => closed.then_some(Brakes::Set),
        }
    }
}

impl Node {
    /// Looks at how its leg stands.
    pub(super) fn feel(&mut self, now: DriveTime) {
        let (torque, counts) = (self.state().has_torque(), self.heard.position);
        if let (Some(sag), false) = (&mut self.sag, self.heard.status.is_none()) {
            sag.look(now.0, torque, counts);
        }
    }

    /// What is wrong with a leg that sags; in words.
    pub(super) fn sag_words(&self, now: DriveTime) -> Option<&'static str> {
        let under_torque = self.sag.as_ref()?.sagged(now.0)?;
        Some(if under_torque {
            "the leg sagged as its brake let go: the drive does not hold it"
        } else {
            "the leg sagged without torque: its brake does not hold it"
        })
    }

    /// What is known of its brake: by its two contacts, which must not agree with each other, or by how its leg stands.
    pub(super) fn brake(&self, now: DriveTime) -> Option<Brakes> {
        let Some((set, released)) = self.leg.brake else {
            let heard = self.sag.as_ref().filter(|_| !self.is_lost(now));
            return heard.and_then(|sag| sag.brakes(now.0));
        };
        match (self.input(now, set)?, self.input(now, released)?) {
            (true, false) => Some(Brakes::Set),
            (false, true) => Some(Brakes::Released),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A leg every 5 ms for so long, and where it is: what is known of its brake, and how it sagged, at the end.
    fn felt(
        sag: &mut Sag,
        from_ms: u64,
        ms: u64,
        torque: bool,
        counts: i32,
    ) -> (Option<Brakes>, Option<bool>) {
        let times = (from_ms..=from_ms + ms).step_by(5);
        times.for_each(|ms| sag.look(ms * 1000, torque, counts));
        ((sag.brakes((from_ms + ms) * 1000)), sag.sagged((from_ms + ms) * 1000))
    }

    #[test]
    fn a_leg_that_stands_is_held_by_its_brake_and_then_by_its_drive() {
        let mut sag = Sag::new(600, false);
        assert_eq!(sag.brakes(0), None);
        assert_eq!(felt(&mut sag, 0, 295, false, 1000), (None, None));
        assert_eq!(felt(&mut sag, 300, 0, false, 1600), (Some(Brakes::Set), None));
        assert_eq!(felt(&mut sag, 305, 495, true, 1500), (None, None), "not before it had its time");
        assert_eq!(felt(&mut sag, 805, 0, true, 900), (Some(Brakes::Released), None));
        // Then it may move.
        assert_eq!(felt(&mut sag, 810, 100, true, 90_000), (Some(Brakes::Released), None));
        assert_eq!(felt(&mut sag, 1000, 295, false, 90_100), (None, None));
        assert_eq!(felt(&mut sag, 1300, 0, false, 90_100), (Some(Brakes::Set), None));
    }

    #[test]
    fn one_that_sags_is_a_fault_and_nothing_is_known_of_its_brake() {
        let mut sag = Sag::new(600, false);
        felt(&mut sag, 0, 400, false, 1000);
        felt(&mut sag, 405, 100, true, 1000);
        assert_eq!(felt(&mut sag, 510, 0, true, 399), (None, Some(true)));
        assert_eq!(felt(&mut sag, 515, 300, false, 399), (None, Some(true)));
        assert_eq!(
            felt(&mut sag, 820, 700, false, 399),
            (Some(Brakes::Set), None),
            "a second later it stands"
        );
        assert_eq!(felt(&mut sag, 1525, 0, false, 1000), (None, Some(false)));
        // For as long as it goes on.
        for ms in 0..300 {
            let counts = 1000 + 10 * ms as i32;
            assert_eq!(felt(&mut sag, 1530 + 5 * ms, 0, false, counts), (None, Some(false)), "{ms}");
        }
    }

    #[test]
    fn with_contacts_a_leg_may_move_as_soon_as_they_say_so() {
        let mut sag = Sag::new(600, true);
        felt(&mut sag, 0, 400, false, 1000);
        assert_eq!(felt(&mut sag, 405, 50, true, 5000).1, None);
        assert_eq!(felt(&mut sag, 460, 50, false, 5000).1, None);
        assert_eq!(felt(&mut sag, 515, 0, false, 4399).1, Some(false));
    }
}
