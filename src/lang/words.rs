//! Every word of the language in one place: reserved words, channels, waveforms, functions.

/// Words that cannot be names.
pub const RESERVED: &[&str] = &[
    "use", "let", "cue", "input", "scene", "on", "above", "below", "until", "pause", "expect", "over", "at",
    "during", "every", "after", "for", "rise", "fall", "gain", "as", "end", "vehicle", "seat", "pitch",
    "roll", "yaw", "surge", "sway", "heave", "sound", "shaker",
];
