//! The levels of the ladder as the settings near a profile have them, for both shells.

use super::DriveError;
use crate::audition::Levels;
use crate::diag::{SourceText, Sources, render_short};
use crate::files::{self, MAX_TOML_BYTES};
use std::path::Path;

/// The levels for `beside`, a profile: what the settings file that it is under names, else the usual ones.
///
/// # Errors
/// When the settings file cannot be read, or has any mistake: a misspelt `levels` must not be passed over.
pub fn levels(beside: &Path) -> Result<Levels, DriveError> {
    let Some(path) = files::find_settings(beside) else { return Ok(Levels::default()) };
    let text = files::read_text(&path, MAX_TOML_BYTES)?;
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new(path.display().to_string(), text));
    let (settings, mistakes) = files::parse_settings(source, sources.get(source).text());
    if mistakes.is_empty() {
        return Ok(settings.levels.unwrap_or_default());
    }
    let words = mistakes.iter().map(|mistake| {
        let help: String = mistake.help.iter().map(|help| format!("; {help}")).collect();
        render_short(mistake, &sources) + &help
    });
    Err(DriveError::Settings(words.collect::<Vec<_>>().join("\n")))
}

/// Refuses a level that the ladder does not have.
///
/// # Errors
/// When it does not.
pub fn level_of(levels: &Levels, level_db: i32) -> Result<(), DriveError> {
    levels.why_none_of(level_db).map_or(Ok(()), |why| Err(DriveError::NoLevel(why)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_settings_near_the_profile_have_the_word_and_no_mistake_of_theirs_is_passed_over() {
        let folder = tempfile::tempdir().unwrap();
        let profile = folder.path().join("a/x.cues");
        std::fs::create_dir(folder.path().join("a")).unwrap();
        let with = |text: &str| {
            std::fs::write(folder.path().join(files::SETTINGS_NAME), text).unwrap();
            levels(&profile)
        };
        assert_eq!(with("rig = \"r.toml\"\n").unwrap(), Levels::default());
        let own = with("levels = [\"-20 dB\", \"0 dB\"]\n").unwrap();
        assert_eq!(own, Levels::of(&[-20, 0]).unwrap());
        let refused = with("rig = \"r.toml\"\nlevel = [\"-20 dB\", \"0 dB\"]\n").unwrap_err().to_string();
        assert!(refused.contains("cueloom.toml:2:1: error[settings]: `level` is no setting"), "{refused}");
        assert!(refused.contains("did you mean `levels`?"), "{refused}");
        assert!(with("levels = [\"0 dB\"]\n").is_err());
        let refused = level_of(&own, -12).unwrap_err().to_string();
        assert!(refused.contains("-12 dB is no level of the ladder, which has -20 and 0 dB"), "{refused}");
        assert!(level_of(&own, -20).is_ok());
    }
}
