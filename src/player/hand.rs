//! Presence that is held at this computer, by a key or a button: said again and again, and gone when it is not said.
//!
//! It only ever takes presence away: legs move while the far end's own input is closed *and* the hand holds. Beside it goes
//! what is heard at this computer, for the record alone.

use crate::safety::operation::{Input, Inputs};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};

/// A hand of which nothing is heard for so long has let go, microseconds: the same as for a jog (own choice).
const SILENT_US: u64 = super::thresholds::JOG_US;

#[derive(Debug)]
struct Said {
    holds: AtomicBool,
    /// How often it was said.
    beats: AtomicU32,
    /// The cycle has taken it to have let go, because nothing was heard of it.
    missed: AtomicBool,
    /// What is heard, scene seconds as the bits of a number; no number for nothing.
    heard_s: AtomicU64,
}

impl Default for Said {
    fn default() -> Self {
        let heard_s = AtomicU64::new(f64::NAN.to_bits());
        Self {
            holds: AtomicBool::default(),
            beats: AtomicU32::default(),
            missed: AtomicBool::default(),
            heard_s,
        }
    }
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

    /// What is heard at this computer now, scene seconds.
    pub fn hears(&self, scene_s: Option<f64>) {
        self.0.heard_s.store(scene_s.unwrap_or(f64::NAN).to_bits(), Ordering::Relaxed);
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

    /// What is heard at this computer, scene seconds; no number where nothing is.
    pub(super) fn heard_s(&self) -> f64 {
        self.hand.as_ref().map_or(f64::NAN, |hand| f64::from_bits(hand.0.heard_s.load(Ordering::Relaxed)))
    }

    /// The far end's inputs with this hand in them, so many microseconds later.
    pub(super) fn joined(&mut self, inputs: Inputs, elapsed_us: u64) -> Inputs {
        let Some(hand) = &self.hand else { return inputs };
        let (holds, beats) = (hand.0.holds.load(Ordering::SeqCst), hand.0.beats.load(Ordering::SeqCst));
        self.silent_us = if beats == self.beats { self.silent_us.saturating_add(elapsed_us) } else { 0 };
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
    fn what_is_heard_is_passed_on_and_holds_nothing() {
        let hand = Hand::default();
        let mut held = Held::of(Some(hand.clone()));
        assert!(held.heard_s().is_nan() && Held::of(None).heard_s().is_nan());
        hand.hears(Some(12.5));
        assert_eq!(held.heard_s(), 12.5);
        assert_eq!(held.joined(Inputs::CLOSED, 1000).presence, Input::Open);
        hand.hears(None);
        assert!(held.heard_s().is_nan());
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
