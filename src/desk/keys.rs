//! Every key and what it does: the window acts on this table, and shows it.

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Act {
    /// Play or pause.
    PlayPause,
    /// Stop and go back to writing; on the drives STOP.
    Stop,
    /// Presence, for as long as it is down.
    Hold,
    /// The page of the drives, or back to the text.
    Drives,
    /// Open a file.
    Open,
    /// Save.
    Save,
    /// Save under another name.
    SaveAs,
    /// A new profile.
    New,
    /// Close the tab.
    Close,
    /// The next tab.
    NextTab,
    /// Find in the text.
    Find,
    /// Put the text into the one layout.
    Format,
    /// Words that could stand here.
    Complete,
    /// The next finding.
    NextFinding,
    /// The finding before.
    PreviousFinding,
    /// The first remedy of the finding that is selected.
    Remedy,
    /// More gain.
    GainUp,
    /// Less gain.
    GainDown,
    /// Gain 100 %.
    GainWhole,
    /// Full, half, quarter speed.
    Tempo,
    /// Loop on or off.
    Loop,
    /// Back by a step.
    StepBack,
    /// On by a step.
    StepOn,
    /// To the start.
    ToStart,
    /// Closer.
    ZoomIn,
    /// Wider.
    ZoomOut,
    /// All of the scene.
    ZoomWhole,
    /// Sound on or off.
    Silence,
    /// Write the report.
    Report,
    /// Compare with the text as saved, or not any more.
    Compare,
    /// Lay a record of a run over the scene, or put it away.
    Record,
    /// Light, dark or as the system.
    Look,
    /// The list of keys.
    Keys,
    /// Close the window.
    Quit,
}

impl Act {
    /// Whether its key counts while a link to drives is engaged. STOP and presence are looked at before any of these.
    pub fn is_of_drives(self) -> bool {
        matches!(self, Act::Look | Act::Keys | Act::Quit)
    }
}

/// A key with its modifiers, in words that the window library knows: `Space`, `S`, `F5`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// What it does.
    pub act: Act,
    /// The key's name.
    pub key: &'static str,
    /// With Ctrl (Cmd on a Mac).
    pub command: bool,
    /// With Shift.
    pub shift: bool,
    /// With Alt.
    pub alt: bool,
    /// One line for the list.
    pub words: &'static str,
}

const fn key(act: Act, key: &'static str, words: &'static str) -> Key {
    Key { act, key, command: false, shift: false, alt: false, words }
}

const fn command(act: Act, key: &'static str, words: &'static str) -> Key {
    Key { act, key, command: true, shift: false, alt: false, words }
}

const fn command_shift(act: Act, key: &'static str, words: &'static str) -> Key {
    Key { act, key, command: true, shift: true, alt: false, words }
}

const fn alt(act: Act, key: &'static str, words: &'static str) -> Key {
    Key { act, key, command: false, shift: false, alt: true, words }
}

/// All of them, in the order of the list. None is a plain letter, so that all work while one writes.
pub const KEYS: &[Key] = &[
    key(Act::PlayPause, "F5", "play or pause"),
    key(Act::Stop, "Escape", "stop, and back to writing; on the drives STOP, from everywhere"),
    key(Act::Hold, crate::desk::drives::HOLD, "on the drives: hold it for as long as legs are to move"),
    command(Act::Drives, "D", "the drives: choose and connect, or back to the text"),
    key(Act::Loop, "F6", "loop on or off"),
    key(Act::Tempo, "F7", "full, half, quarter speed"),
    alt(Act::StepBack, "ArrowLeft", "playhead back by a step"),
    alt(Act::StepOn, "ArrowRight", "playhead on by a step"),
    alt(Act::ToStart, "Home", "playhead to the start"),
    alt(Act::GainUp, "ArrowUp", "gain up by 5 %"),
    alt(Act::GainDown, "ArrowDown", "gain down by 5 %"),
    command(Act::GainWhole, "0", "gain 100 %"),
    command(Act::Silence, "M", "sound on or off"),
    key(Act::NextFinding, "F8", "next finding"),
    Key { shift: true, ..key(Act::PreviousFinding, "F8", "finding before") },
    command(Act::Remedy, "Period", "do what the finding advises"),
    command(Act::ZoomIn, "Plus", "closer on the time axis"),
    command(Act::ZoomOut, "Minus", "wider on the time axis"),
    command_shift(Act::ZoomWhole, "0", "all of the scene"),
    key(Act::Compare, "F9", "compare with the text as saved"),
    command(Act::Record, "R", "lay a record of a run over the scene, or put it away"),
    command(Act::New, "N", "new profile"),
    command(Act::Open, "O", "open"),
    command(Act::Save, "S", "save"),
    command_shift(Act::SaveAs, "S", "save under another name"),
    command(Act::Close, "W", "close this tab"),
    command(Act::NextTab, "Tab", "next tab"),
    command(Act::Find, "F", "find in the text"),
    command(Act::Complete, "Space", "words that can stand here"),
    command_shift(Act::Format, "F", "put the text into the one layout"),
    command(Act::Report, "P", "write the report"),
    command(Act::Look, "L", "light, dark, as the system"),
    key(Act::Keys, "F1", "this list"),
    command(Act::Quit, "Q", "close the window"),
];

impl Key {
    /// `Ctrl+Shift+S`
    pub fn name(&self) -> String {
        let key = match self.key {
            "Period" => ".",
            "ArrowLeft" => "Left",
            "ArrowRight" => "Right",
            "ArrowUp" => "Up",
            "ArrowDown" => "Down",
            key => key,
        };
        let mut name = String::new();
        for (held, word) in [(self.command, "Ctrl+"), (self.shift, "Shift+"), (self.alt, "Alt+")] {
            if held {
                name.push_str(word);
            }
        }
        name + key
    }
}

/// The name of the key for `act`, for tips on buttons.
pub fn name(act: Act) -> String {
    KEYS.iter().find(|key| key.act == act).map(Key::name).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_does_two_things_and_no_act_has_two_keys() {
        for (k, a) in KEYS.iter().enumerate() {
            assert!(!a.words.is_empty());
            for b in &KEYS[k + 1..] {
                assert_ne!(a.name(), b.name());
                assert_ne!(a.act, b.act);
            }
        }
        assert_eq!(name(Act::SaveAs), "Ctrl+Shift+S");
    }
}
