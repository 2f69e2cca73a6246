//! The head of a run's record: what was played, at what strength, from which texts, as keys and values.

use super::{Carrier, Vouched};
use crate::diag::{Sources, sha256};
use crate::player::LinkMeasure;

/// What was played.
#[derive(Debug, Clone, Copy)]
pub struct Head<'a> {
    /// The profile as it was named.
    pub profile: &'a str,
    /// The scene's title.
    pub scene: &'a str,
    /// The gain that was checked, a factor, the level in it.
    pub gain: f64,
    /// The profile, its libraries, settings and rig.
    pub sources: &'a Sources,
}

impl Head<'_> {
    /// For a run over `link`.
    pub fn entries(&self, link: &str) -> Vec<(String, String)> {
        let word = |name: &str, value: &str| (name.to_string(), value.to_string());
        let mut entries = vec![
            word("profile", self.profile),
            word("scene", self.scene),
            word("gain", &self.gain.to_string()),
            word("link", link),
        ];
        let texts = self.sources.iter();
        entries.extend(texts.map(|(_, text)| (format!("sha256 of {}", text.name()), sha256(text.text()))));
        entries
    }

    /// For a run on drives: what was vouched for besides, and what the link was measured to do.
    pub fn on_drives(
        &self,
        carrier: Carrier,
        vouched: &Vouched,
        measure: &LinkMeasure,
    ) -> Vec<(String, String)> {
        let word = |name: &str, value: String| (name.to_string(), value);
        let mut entries = self.entries(carrier.word());
        entries.extend([
            word("level_db", vouched.rung.level_db.to_string()),
            word("seat", vouched.rung.load.word().to_string()),
            word("motion", vouched.key.motion.clone()),
            word("override", vouched.overridden.clone().unwrap_or_default()),
            word("round trips", format!("{measure:?}")),
        ]);
        entries
    }
}
