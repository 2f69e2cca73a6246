//! Every word of the language in one place: reserved words, channels, waveforms, functions, measures.
//!
//! The parser's messages, did-you-mean and completion read these lists; tests/language.rs holds the grammar
//! file and the parser to them.

/// Words that cannot be names. The grammar quotes exactly these.
pub const RESERVED: &[&str] = &[
    "use", "let", "cue", "input", "scene", "on", "above", "below", "until", "pause", "expect", "over", "at",
    "during", "every", "after", "for", "rise", "fall", "gain", "as", "end", "vehicle", "seat", "pitch",
    "roll", "yaw", "surge", "sway", "heave", "sound", "shaker",
];

/// Words that start a thing at the top level of a file.
pub const ITEM_STARTS: &[&str] = &["use", "let", "cue", "input", "scene"];

/// Words that start a statement of a scene or block, beside a cue's name and `{`.
pub const STATEMENT_STARTS: &[&str] = &[
    "let", "at", "during", "every", "on", "expect", "vehicle", "seat", "pitch", "roll", "yaw", "surge",
    "sway", "heave", "sound", "shaker",
];

/// The words before a channel's dot.
pub const GROUPS: &[&str] = &["vehicle", "seat"];

/// The channels that move, with the direction that counts as positive.
pub const AXES: &[(&str, &str)] = &[
    ("pitch", "nose up"),
    ("roll", "right wing down"),
    ("yaw", "nose right"),
    ("surge", "forward"),
    ("sway", "to the right"),
    ("heave", "up"),
];

/// The channels that are heard or felt as sound.
pub const SOUND_CHANNELS: &[(&str, &str)] = &[("sound", "loudspeakers"), ("shaker", "tactile transducer")];

/// Every word that can end a channel.
pub fn channels() -> impl Iterator<Item = &'static str> {
    AXES.iter().chain(SOUND_CHANNELS).map(|(word, _)| *word)
}

/// Suffixes of a play, in the formatter's order.
pub const SUFFIXES: &[(&str, &str)] = &[
    ("for", "how long it lasts"),
    ("rise", "how long it takes to swell"),
    ("fall", "how long it takes to die away"),
    ("gain", "how strong, as a factor or in dB"),
    ("as", "its label, a time that others can name"),
];

/// What an `expect` can measure.
pub const MEASURES: &[(&str, &str)] = &[
    ("peak", "largest absolute value"),
    ("rms", "root mean square"),
    ("margin", "the part of every limit that stays unused; takes no channel"),
];

/// A parameter of a waveform or function.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Parameter {
    /// As it is named in a call.
    pub name: &'static str,
    /// What it is when nothing is said; `None` when it must be given.
    pub default: Option<&'static str>,
    /// One line for people.
    pub help: &'static str,
}

/// A word that is called: a waveform or a function.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Callable {
    /// The word before the parenthesis.
    pub name: &'static str,
    /// Its parameters, in order.
    pub parameters: &'static [Parameter],
    /// One line for people.
    pub help: &'static str,
}

const fn must(name: &'static str, help: &'static str) -> Parameter {
    Parameter { name, default: None, help }
}

const fn may(name: &'static str, default: &'static str, help: &'static str) -> Parameter {
    Parameter { name, default: Some(default), help }
}

const AMPLITUDE: Parameter = must("amplitude", "largest swing, rate or acceleration, as its unit says");
const LEVEL: Parameter = must("level", "dB or a part of full scale");

/// The waveforms of a layer.
pub const WAVEFORMS: &[Callable] = &[
    Callable {
        name: "sine",
        parameters: &[
            AMPLITUDE,
            must("frequency", "cycles in a time"),
            may("phase", "0 deg", "where it starts"),
        ],
        help: "sinusoid",
    },
    Callable {
        name: "sweep",
        parameters: &[
            AMPLITUDE,
            must("first", "frequency at the start"),
            must("last", "frequency at the end"),
        ],
        help: "sinusoid that takes equal time for each octave",
    },
    Callable {
        name: "noise",
        parameters: &[
            must("amplitude", "root mean square of value, rate or acceleration, as its unit says"),
            must("band", "frequencies, lowest..highest"),
            may("slope", "0", "power follows frequency to this power"),
        ],
        help: "seeded random motion within a band",
    },
    Callable {
        name: "ring",
        parameters: &[
            AMPLITUDE,
            must("frequency", "cycles in a time"),
            may("damping", "0.2", "damping ratio"),
        ],
        help: "sinusoid that dies away, for a knock",
    },
    Callable {
        name: "pulse",
        parameters: &[AMPLITUDE, must("width", "from rest to rest")],
        help: "one smooth bump",
    },
    Callable {
        name: "hold",
        parameters: &[
            AMPLITUDE,
            must("ease", "time to get there"),
            may("back", "as ease", "time to come back"),
        ],
        help: "go there, stay, come back",
    },
    Callable {
        name: "trace",
        parameters: &[
            must("amplitude", "what one recorded unit stands for"),
            must("file", "a CSV file with a time column"),
            must("column", "which column"),
            may("from", "0 s", "time in the recording to start at"),
            may("below", "10 Hz", "low-pass corner"),
        ],
        help: "recorded motion",
    },
    Callable {
        name: "file",
        parameters: &[must("file", "a WAV file"), LEVEL],
        help: "sound file, played once",
    },
    Callable {
        name: "loop",
        parameters: &[must("file", "a WAV file"), LEVEL],
        help: "sound file, played round and round",
    },
];

const X: Parameter = must("x", "a value that may vary");

/// The functions of an expression.
pub const FUNCTIONS: &[Callable] = &[
    Callable {
        name: "ease",
        parameters: &[X, must("range", "0 at its first end, 1 at its last")],
        help: "smooth step",
    },
    Callable {
        name: "min",
        parameters: &[must("a", "a constant"), must("b", "a constant")],
        help: "smaller one",
    },
    Callable {
        name: "max",
        parameters: &[must("a", "a constant"), must("b", "a constant")],
        help: "larger one",
    },
    Callable { name: "abs", parameters: &[must("a", "a constant")], help: "size without sign" },
];
