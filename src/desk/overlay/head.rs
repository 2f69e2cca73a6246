//! What a record says of its run before its first cycle: what was played, at what strength, on what.

/// A record's head.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Head {
    /// The profile's path as it was named.
    pub profile: String,
    /// The scene's title.
    pub scene: String,
    /// The gain that was checked, a factor, the level in it; `None` where it is not said.
    pub gain: Option<f64>,
    /// dB below full gain.
    pub level_db: Option<i32>,
    /// What sat in the seat; empty where it is not said.
    pub seat: String,
    /// What carried set-points: `udp`.
    pub link: String,
    /// Hash of the motion at full gain.
    pub motion: Option<String>,
    /// Why the ladder was overridden; empty where it was not.
    pub overridden: String,
    /// Hashes of the texts: profile, libraries, settings, rig.
    pub texts: Vec<String>,
    /// A cycle, microseconds.
    pub cycle_us: Option<u64>,
}

impl Head {
    /// From the entries of a record.
    pub fn of(entries: &[(String, String)]) -> Self {
        let mut head = Self::default();
        for (key, value) in entries {
            match key.as_str() {
                "profile" => head.profile.clone_from(value),
                "scene" => head.scene.clone_from(value),
                "gain" => head.gain = value.parse().ok().filter(|gain: &f64| gain.is_finite()),
                "level_db" => head.level_db = value.parse().ok(),
                "seat" => head.seat.clone_from(value),
                "link" => head.link.clone_from(value),
                "motion" => head.motion = Some(value.clone()).filter(|hash| !hash.is_empty()),
                "override" => head.overridden.clone_from(value),
                "cycle_us" => head.cycle_us = value.parse().ok(),
                key if key.starts_with("sha256 of ") => head.texts.push(value.clone()),
                _ => {}
            }
        }
        head
    }

    /// `-12 dB, vacant`; `strength not said` where there is neither level nor gain.
    pub fn strength(&self) -> String {
        let strength = match (self.level_db, self.gain) {
            (Some(level_db), _) => format!("{level_db} dB"),
            (None, Some(gain)) => format!("gain {}", gain_words(gain)),
            (None, None) => "strength not said".to_string(),
        };
        let seat = if self.seat.is_empty() { String::new() } else { format!(", {}", self.seat) };
        let loud = if self.overridden.is_empty() { "" } else { ", ladder overridden" };
        format!("{strength}{seat}{loud}")
    }

    /// What it is held against, where that is not the scene at full gain; empty where it is.
    pub fn held_against(&self) -> String {
        match self.gain {
            Some(gain) if (gain - 1.0).abs() > 5e-4 => {
                format!("held against the plan at gain {}", gain_words(gain))
            }
            Some(_) => String::new(),
            None => "held against the plan at a gain that the record does not say".to_string(),
        }
    }
}

/// `25.1 %`; whole percents without a decimal.
pub fn gain_words(gain: f64) -> String {
    let tenths = (gain * 1000.0).round() / 10.0;
    format!("{tenths} %")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn head(entries: &[(&str, &str)]) -> Head {
        let entry = |(key, value): &(&str, &str)| (key.to_string(), value.to_string());
        Head::of(&entries.iter().map(entry).collect::<Vec<_>>())
    }

    #[test]
    fn says_how_strong_it_was_and_what_it_is_held_against() {
        let quarter = head(&[("gain", "0.251188643150958"), ("level_db", "-12"), ("seat", "vacant")]);
        assert_eq!(quarter.strength(), "-12 dB, vacant");
        assert_eq!(quarter.held_against(), "held against the plan at gain 25.1 %");
        let full = head(&[("gain", "1"), ("level_db", "0"), ("seat", "occupied"), ("override", "in haste")]);
        assert_eq!(full.strength(), "0 dB, occupied, ladder overridden");
        assert_eq!(full.held_against(), "");
        assert_eq!(head(&[("gain", "1.2")]).strength(), "gain 120 %");
        assert_eq!(head(&[("gain", "inf")]).strength(), "strength not said");
        assert!(head(&[]).held_against().contains("does not say"));
    }

    #[test]
    fn keeps_every_hash_whatever_its_text_was_called() {
        let head = head(&[("sha256 of a/b.cues", "aa"), ("sha256 of rig.toml", "bb"), ("motion", "")]);
        assert_eq!(head.texts, ["aa", "bb"]);
        assert_eq!(head.motion, None);
    }
}
