//! The demo, carried in the program and put into a folder of the user's own, so that it can be changed.

use crate::files::{self, FileError};
use std::path::{Path, PathBuf};

/// Every file of the demo, by its path inside the demo's folder.
const FILES: &[(&str, &[u8])] = &[
    ("evening-circuit.cues", include_bytes!("../../profiles/evening-circuit.cues")),
    ("cueloom.toml", include_bytes!("../../profiles/cueloom.toml")),
    ("library/all.cues", include_bytes!("../../profiles/library/all.cues")),
    ("library/bank.cues", include_bytes!("../../profiles/library/bank.cues")),
    ("library/buffet.cues", include_bytes!("../../profiles/library/buffet.cues")),
    ("library/rumble.cues", include_bytes!("../../profiles/library/rumble.cues")),
    ("library/slabs.cues", include_bytes!("../../profiles/library/slabs.cues")),
    ("library/touchdown.cues", include_bytes!("../../profiles/library/touchdown.cues")),
    ("rigs/club-two-axis.toml", include_bytes!("../../profiles/rigs/club-two-axis.toml")),
    ("rigs/rig.schema.json", include_bytes!("../../profiles/rigs/rig.schema.json")),
    ("sounds/chirp.wav", include_bytes!("../../profiles/sounds/chirp.wav")),
    ("sounds/turbine.wav", include_bytes!("../../profiles/sounds/turbine.wav")),
    ("traces/evening-circuit.csv", include_bytes!("../../profiles/traces/evening-circuit.csv")),
];

/// Puts into `folder` what is missing of the demo; what is there already, perhaps changed, stays. The profile's path.
///
/// # Errors
/// When the system refuses.
pub fn unpack(folder: &Path) -> Result<PathBuf, FileError> {
    for (name, bytes) in FILES {
        let path = folder.join(name);
        if files::stamp(&path).is_none() {
            files::make_folder_of(&path)?;
            files::save(&path, |out| std::io::Write::write_all(out, bytes))?;
        }
    }
    Ok(folder.join("evening-circuit.cues"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::understand::understand;
    use crate::desk::world::OpenFiles;

    #[test]
    fn the_unpacked_demo_lacks_nothing_and_keeps_what_was_changed() {
        let folder = tempfile::tempdir().unwrap();
        let profile = unpack(folder.path()).unwrap();
        let text = std::fs::read_to_string(&profile).unwrap();
        let understood = understand(&profile, &text, None, &OpenFiles::default(), &Default::default());
        assert!(understood.mistakes.is_empty() && understood.rig.is_some(), "{:?}", understood.mistakes);
        std::fs::write(&profile, "mine").unwrap();
        unpack(folder.path()).unwrap();
        assert_eq!(std::fs::read_to_string(&profile).unwrap(), "mine");
    }
}
