//! Where the playhead is and how it moves. Time is handed in; the sound's clock leads where there is one.

/// Most that the playhead's rate may differ from 1 while it follows the sound: a second in twenty. Own choice: drifts
/// of sound cards are thousandths, and a pose that creeps by a twentieth cannot be seen.
const MOST_BEND: f64 = 0.05;

/// How fast a difference to the sound is made up, 1/s: half of it in about a third of a second. Own choice.
const PULL_PER_S: f64 = 2.0;

/// The playhead.
#[derive(Debug, Clone, PartialEq)]
pub struct Transport {
    /// Where it is, scene seconds.
    pub at_s: f64,
    /// Whether it moves.
    pub playing: bool,
    /// Whether it starts over at the end of what is played.
    pub looping: bool,
    /// What is played, scene seconds.
    pub played_s: (f64, f64),
    /// Scene seconds in a second.
    pub tempo: f64,
}

impl Default for Transport {
    fn default() -> Self {
        Self { at_s: 0.0, playing: false, looping: false, played_s: (0.0, 0.0), tempo: 1.0 }
    }
}

impl Transport {
    /// Starts from rest: at the start of what is played. A playhead that was put elsewhere has made a stretch of its
    /// own that starts there.
    pub fn play(&mut self) {
        self.at_s = self.played_s.0;
        self.playing = self.played_s.1 > self.played_s.0;
    }

    /// Stays where it is.
    pub fn pause(&mut self) {
        self.playing = false;
    }

    /// Puts the playhead somewhere, and stays there.
    pub fn put(&mut self, at_s: f64, length_s: f64) {
        self.playing = false;
        self.at_s = at_s.clamp(0.0, length_s.max(0.0));
    }

    /// `passed_s` later by the machine's clock. `sound_s`: where the sound is, scene seconds, if one plays; the
    /// playhead sets out with it, follows it by a bounded rate, never jumps and never runs back. `true` when it started over.
    pub fn advance(&mut self, passed_s: f64, sound_s: Option<f64>) -> bool {
        if !(self.playing && passed_s > 0.0 && passed_s.is_finite()) {
            return false;
        }
        let own = passed_s * self.tempo;
        let (from_s, to_s) = self.played_s;
        let step = sound_s.map_or(own, |sound_s| {
            if self.at_s == from_s {
                // At rest still: it waits for the sound's first sample and sets out with it.
                return (sound_s - from_s).clamp(0.0, own * (1.0 + MOST_BEND));
            }
            let behind_s = sound_s - (self.at_s + own);
            let bend = (PULL_PER_S * passed_s * behind_s).clamp(-MOST_BEND * own, MOST_BEND * own);
            own + bend
        });
        self.at_s += step;
        if self.at_s < to_s {
            return false;
        }
        if self.looping {
            // What is played ends at rest and starts at rest, so the lap needs no blend.
            self.at_s = from_s;
        } else {
            self.at_s = to_s;
            self.playing = false;
        }
        self.looping
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn playing(tempo: f64) -> Transport {
        let mut transport = Transport { played_s: (2.0, 10.0), tempo, ..Transport::default() };
        transport.play();
        transport
    }

    #[test]
    fn plays_from_rest_to_rest_and_loops() {
        let mut transport = playing(0.5);
        assert!(!transport.advance(4.0, None));
        assert_eq!(transport.at_s, 4.0);
        transport.advance(100.0, None);
        assert_eq!((transport.at_s, transport.playing), (10.0, false));
        transport.looping = true;
        transport.play();
        assert!(transport.advance(16.5, None));
        assert_eq!((transport.at_s, transport.playing), (2.0, true));
        transport.put(99.0, 12.0);
        assert_eq!((transport.at_s, transport.playing), (12.0, false));
        let mut nothing = Transport::default();
        nothing.play();
        assert!(!nothing.playing);
    }

    #[test]
    fn it_sets_out_when_the_sound_is_heard() {
        let mut transport = playing(0.5);
        for sound_s in [1.0, 1.5, 1.999, 2.0] {
            transport.advance(0.016, Some(sound_s));
            assert_eq!(transport.at_s, 2.0);
        }
        // 6 ms of the last frame it was heard, at half speed.
        transport.advance(0.016, Some(2.003));
        assert_eq!(transport.at_s, 2.003);
        transport.advance(0.016, Some(2.011));
        assert!((transport.at_s - 2.011).abs() < 1e-12);
    }

    #[test]
    fn a_sound_card_that_runs_slow_is_followed_without_drift() {
        let mut transport = Transport { played_s: (0.0, 1e9), ..Transport::default() };
        transport.play();
        let (step_s, mut sound_s) = (1.0 / 60.0, 0.0);
        let mut worst: f64 = 0.0;
        // Ten minutes; the card is three thousandths slow, and says where it is every 10.67 ms.
        for k in 0..36_000 {
            sound_s += step_s * 0.997;
            let said = (sound_s / 0.010_67_f64).floor() * 0.010_67;
            transport.advance(step_s, Some(said));
            if k > 600 {
                worst = worst.max((transport.at_s - sound_s).abs());
            }
        }
        assert!(worst < 0.02, "{worst}");
    }

    proptest! {
        #[test]
        fn never_runs_back_and_never_jumps(steps in prop::collection::vec((0.0..0.3f64, -5.0..20.0f64), 1..50)) {
            let mut transport = playing(1.0);
            for (passed_s, sound_s) in steps {
                let before = transport.at_s;
                transport.advance(passed_s, Some(sound_s));
                let moved = transport.at_s - before;
                prop_assert!(moved >= 0.0 && moved <= passed_s * (1.0 + MOST_BEND) + 1e-12, "{moved} in {passed_s}");
            }
        }
    }
}
