//! What is rehearsed of a scene: its gain, its tempo, which parts sound, and which stretch.
//!
//! A variant is a motion of its own and may be worse than the whole: parts may have cancelled, and half the tempo moves
//! a buffet onto a mode. So a variant is made into a scene that goes from rest to rest, and is checked like any other.

use crate::motion::{Plan, PlanError};
use crate::rig::Rig;
use crate::scenario::{Content, Layer, Scenario};
use crate::signal::{Curve, Factor};
use crate::time::SampleRate;
use std::collections::BTreeSet;
use std::sync::Arc;

/// How long a stretch takes to swell before it and to die away after it, s. Own choice: slow enough that a bank of ten
/// degrees comes in gently, short enough to wait for.
pub const EDGE_S: f64 = 2.0;

/// Something that can be heard or felt alone.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// All of a channel, by its word.
    Channel(String),
    /// A placed statement of the scene with all that it plays, by its label.
    Placement(String),
}

impl Part {
    /// Its name for people.
    pub fn name(&self) -> &str {
        match self {
            Part::Channel(name) | Part::Placement(name) => name,
        }
    }
}

/// How a scene is rehearsed.
#[derive(Debug, Clone, PartialEq)]
pub struct Variant {
    /// Strength of all motion, a factor.
    pub gain: f64,
    /// Scene seconds in a second: 1, 0.5, 0.25.
    pub tempo: f64,
    /// What does not sound.
    pub muted: BTreeSet<Part>,
    /// When not empty: what alone sounds.
    pub alone: BTreeSet<Part>,
    /// The stretch that is played, scene seconds; the whole scene where `None`.
    pub stretch: Option<(f64, f64)>,
}

impl Default for Variant {
    fn default() -> Self {
        Self { gain: 1.0, tempo: 1.0, muted: BTreeSet::new(), alone: BTreeSet::new(), stretch: None }
    }
}

impl Variant {
    /// Whether this is the scene as it is written.
    pub fn is_as_written(&self) -> bool {
        *self == Self::default()
    }

    /// Whether it sounds: its channel and its placement.
    pub fn sounds(&self, scenario: &Scenario, layer: &Layer) -> bool {
        let placement = scenario.placements.get(layer.placement).map_or("", |placement| &placement.name);
        let held = |set: &BTreeSet<Part>| {
            set.iter().any(|part| match part {
                Part::Channel(word) => word == layer.line.word(),
                Part::Placement(name) => name == placement,
            })
        };
        !held(&self.muted) && (self.alone.is_empty() || held(&self.alone))
    }

    /// What it differs in from the scene as written, in words; empty when in nothing.
    pub fn words(&self) -> String {
        let names = |set: &BTreeSet<Part>| set.iter().map(Part::name).collect::<Vec<_>>().join(", ");
        let mut words = Vec::new();
        if self.gain != 1.0 {
            words.push(format!("gain {:.0} %", self.gain * 100.0));
        }
        if self.tempo != 1.0 {
            words.push(format!("{} speed", tempo_word(self.tempo)));
        }
        if !self.alone.is_empty() {
            words.push(format!("only {}", names(&self.alone)));
        }
        if !self.muted.is_empty() {
            words.push(format!("without {}", names(&self.muted)));
        }
        if let Some((from_s, to_s)) = self.stretch {
            words.push(format!("{} to {}", crate::time::clock(from_s), crate::time::clock(to_s)));
        }
        words.join(", ")
    }

    /// Scene seconds that are played, edges included.
    pub fn played_s(&self, scenario: &Scenario) -> (f64, f64) {
        match self.edges(scenario.length_s) {
            None => (0.0, scenario.length_s),
            Some((rise_s, fall_s)) => (rise_s.unwrap_or(0.0), fall_s.unwrap_or(scenario.length_s)),
        }
    }

    /// Where the rise starts and the fall ends; `None` for an end that is the scene's own, which is at rest by itself.
    fn edges(&self, length_s: f64) -> Option<(Option<f64>, Option<f64>)> {
        let (from_s, to_s) = self.stretch?;
        Some((
            (from_s > EDGE_S).then_some(from_s - EDGE_S),
            (to_s + EDGE_S < length_s).then_some(to_s + EDGE_S),
        ))
    }

    /// The scene of this variant. Expectations are the written scene's and are kept for that alone.
    pub fn scene(&self, scenario: &Arc<Scenario>) -> Arc<Scenario> {
        if self.is_as_written() {
            return scenario.clone();
        }
        let mut scene = Scenario::clone(scenario);
        scene.expectations.clear();
        scene.layers.retain(|layer| self.sounds(scenario, layer));
        if let Some((rise_s, fall_s)) = self.edges(scenario.length_s) {
            let factors: Vec<Factor> = rise_s
                .map(|start_s| Factor::Rise { start_s, length_s: EDGE_S })
                .into_iter()
                .chain(fall_s.map(|end_s| Factor::Fall { end_s, length_s: EDGE_S }))
                .collect();
            let (from_s, to_s) = self.played_s(scenario);
            scene.layers.retain_mut(|layer| within(layer, &factors, from_s, to_s));
            scene.length_s = to_s;
        }
        Arc::new(scene)
    }

    /// The plan of this variant on a rig.
    ///
    /// # Errors
    /// As [`Plan::new`].
    pub fn plan(
        &self,
        scenario: &Arc<Scenario>,
        rig: &Arc<Rig>,
        rate: SampleRate,
    ) -> Result<Plan, Vec<PlanError>> {
        let plan = Plan::new(self.scene(scenario), rig.clone(), self.gain, rate)?;
        Ok(if self.tempo == 1.0 { plan } else { plan.at_tempo(self.tempo) })
    }
}

/// Puts a stretch's edges onto a layer; `false` when it lies outside of it.
fn within(layer: &mut Layer, factors: &[Factor], from_s: f64, to_s: f64) -> bool {
    match &mut layer.content {
        Content::Signal(signal) => {
            signal.factors.extend(factors.iter().cloned());
            signal.start_s < to_s && signal.start_s + signal.length_s > from_s
        }
        Content::SoundFile { start_s, length_s, level, .. } => {
            for factor in factors {
                let ramp = |from, to, start_s: f64| Curve::Ease {
                    x: Arc::new(Curve::Ramp { from, to, start_s, end_s: start_s + EDGE_S }),
                    low: 0.0,
                    high: 1.0,
                };
                let edge = match factor {
                    Factor::Rise { start_s, .. } => ramp(0.0, 1.0, *start_s),
                    Factor::Fall { end_s, .. } => ramp(1.0, 0.0, end_s - EDGE_S),
                    Factor::Gain(curve) => curve.clone(),
                };
                *level = Curve::Product(Arc::new(level.clone()), Arc::new(edge));
            }
            *start_s < to_s && *start_s + *length_s > from_s
        }
    }
}

/// `full`, `half`, `quarter`; a percentage for any other.
pub fn tempo_word(tempo: f64) -> String {
    match tempo {
        1.0 => "full".to_string(),
        0.5 => "half".to_string(),
        0.25 => "quarter".to_string(),
        other => format!("{:.0} %", other * 100.0),
    }
}

#[cfg(test)]
mod tests;
