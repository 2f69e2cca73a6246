//! Presence that is held at this computer, by a key or a button: said again and again, and gone when it is not said.
//!
//! It only ever takes presence away: legs move while the far end's own input is closed *and* the hand holds.

use crate::safety::operation::{Input, Inputs};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// A hand of which nothing is heard for so long has let go, microseconds: the same as for a jog (own choice).
const SILENT_US: u64 = super::thresholds::JOG_US;

#[derive(Debug, Default)]
struct Said {
    holds: AtomicBool,
    /// How often it was said.
    beats: AtomicU32,
    /// The cycle has taken it to have let go, because nothing was heard of it.
    missed: AtomicBool,
}

/// A hand on a key or button; its copies are the same hand.
#[derive(Debug, Clone, Default)]
pub struct Hand(Arc<Said>);

impl Hand {
    /// It holds; to be said again every 0.1 s or so.
    pub fn hold(&self) {
        self.0.beats.fetch_add(1, Ordering::SeqCst);
        self.0.holds.store(true, Ordering::SeqCst);
    }

    /// Whether it was taken to have let go although it holds; it counts again once it has let go.
    pub fn was_missed(&self) -> bool {
        self.0.missed.load(Ordering::SeqCst)
    }

    /// It has let go.
    pub fn let_go(&self) {
        self.0.holds.store(false, Ordering::SeqCst);
    }
}

/// What a cycle makes of it. Without a hand at this computer the far end's input counts alone.
#[derive(Debug, Default)]
pub(super) struct Held {
    hand: Option<Hand>,
    beats: u32,
    silent_us: u64,
    /// It fell silent while it held. Speaking again is not taking hold again: it must have let go first.
    lapsed: bool,
}

impl Held {
    pub(super) fn of(hand: Option<Hand>) -> Self {
        Self { hand, ..Self::default() }
    }

    /// The far end's inputs with this hand in them, a cycle of `cycle_us` later.
    pub(super) fn joined(&mut self, inputs: Inputs, cycle_us: u64) -> Inputs {
        let Some(hand) = &self.hand else { return inputs };
        let (holds, beats) = (hand.0.holds.load(Ordering::SeqCst), hand.0.beats.load(Ordering::SeqCst));
        self.silent_us = if beats == self.beats { self.silent_us.saturating_add(cycle_us) } else { 0 };
        self.beats = beats;
        self.lapsed = holds && (self.lapsed || self.silent_us > SILENT_US);
        hand.0.missed.store(self.lapsed, Ordering::SeqCst);
        if holds && !self.lapsed {
            inputs
        } else {
            Inputs { presence: inputs.presence.min(Input::Open), ..inputs }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hand_takes_presence_away_and_never_gives_it() {
        let hand = Hand::default();
        let mut held = Held::of(Some(hand.clone()));
        let mut joined = |presence| held.joined(Inputs { presence, ..Inputs::CLOSED }, 1000).presence;
        assert_eq!(joined(Input::Closed), Input::Open, "nobody holds yet");
        hand.hold();
        let far = [Input::Closed, Input::Open, Input::Unknown];
        assert_eq!(far.map(&mut joined), far);
        hand.let_go();
        assert_eq!(far.map(&mut joined), [Input::Open, Input::Open, Input::Unknown]);
        let mut alone = Held::of(None);
        assert_eq!(alone.joined(Inputs::CLOSED, 1000), Inputs::CLOSED);
    }

    #[test]
    fn a_hand_that_falls_silent_has_let_go_and_must_take_hold_anew() {
        let hand = Hand::default();
        let mut held = Held::of(Some(hand.clone()));
        let mut closed = || held.joined(Inputs::CLOSED, 1000).presence.is_closed();
        hand.hold();
        assert_eq!((0..1000).filter(|_| closed()).count(), 251);
        // A window that froze and thawed again, the key still down.
        hand.hold();
        assert!(!closed() && hand.was_missed());
        hand.let_go();
        assert!(!closed() && !hand.was_missed());
        hand.hold();
        assert!(closed());
    }
}
