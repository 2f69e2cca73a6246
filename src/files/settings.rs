//! `cueloom.toml`: which rig a folder of profiles uses; what is known of that rig is kept beside it.

use crate::diag::{Diagnostic, Rule, SourceId, Span, nearest};
use std::path::{Path, PathBuf};
use toml::de::{DeTable, DeValue};

/// The file's name.
pub const SETTINGS_NAME: &str = "cueloom.toml";

const KEYS: [&str; 1] = ["rig"];

/// What the folder of the records is called where no other was named.
const RECORDS_NAME: &str = "records";

/// What the settings' messages say when asked.
pub const RULES: &[Rule] = &[Rule { slug: "settings", text: include_str!("settings.txt") }];

/// A path named in the settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// As written, relative to the settings file.
    pub path: String,
    /// Where it is written.
    pub span: Span,
}

/// What a `cueloom.toml` says.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Settings {
    /// The rig file.
    pub rig: Option<Setting>,
}

/// The nearest settings file in the profile's folder or above it.
pub fn find_settings(profile: &Path) -> Option<PathBuf> {
    let folder = profile.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    // Without the real path `..` could not be walked up; a folder that is not there has no settings.
    let folder = std::fs::canonicalize(folder).ok()?;
    let here = std::fs::canonicalize(".").unwrap_or_default();
    for folder in folder.ancestors() {
        let path = folder.join(SETTINGS_NAME);
        if path.is_file() {
            // Messages show the short path where there is one.
            return Some(path.strip_prefix(&here).map(Path::to_path_buf).unwrap_or(path));
        }
    }
    None
}

/// Where the records of a rig are kept when no folder is named, `records/`: beside the settings file that `beside`, a profile
/// or a rig file, is under; else beside it.
pub fn records_folder(beside: &Path) -> PathBuf {
    let settings = find_settings(beside);
    settings.as_deref().unwrap_or(beside).with_file_name(RECORDS_NAME)
}

/// Reads the text of a settings file; every mistake has its place.
pub fn parse_settings(source: SourceId, text: &str) -> (Settings, Vec<Diagnostic>) {
    let mut settings = Settings::default();
    let span = |range: std::ops::Range<usize>| Span::new(source, range.start, range.end);
    let (table, errors) = DeTable::parse_recoverable(text);
    let mut found: Vec<Diagnostic> = errors
        .iter()
        .map(|error| {
            let at = span(error.span().unwrap_or(0..0));
            Diagnostic::error("settings", at, format!("not TOML: {}", error.message().replace('\n', "; ")))
        })
        .collect();
    for (key, value) in table.get_ref() {
        let (word, at) = (key.get_ref().as_ref(), span(key.span()));
        let slot = match word {
            "rig" => &mut settings.rig,
            _ => {
                let title = format!("`{word}` is no setting; the only one is `rig`");
                let mistake = Diagnostic::error("settings", at, title);
                found.push(match nearest(word, KEYS) {
                    Some(key) => mistake.help(format!("did you mean `{key}`?")).fix("rename it", at, key),
                    None => mistake,
                });
                continue;
            }
        };
        match value.get_ref() {
            DeValue::String(path) if !path.trim().is_empty() => {
                *slot = Some(Setting { path: path.to_string(), span: span(value.span()) });
            }
            _ => found.push(
                Diagnostic::error(
                    "settings",
                    span(value.span()),
                    format!("`{word}` must be a path in quotes"),
                )
                .help(format!("write `{word} = \"rigs/my-rig.toml\"`, relative to this file")),
            ),
        }
    }
    found.sort_by_key(|diagnostic| diagnostic.primary.span);
    (settings, found)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(text: &str) -> (Settings, Vec<Diagnostic>) {
        parse_settings(SourceId(0), text)
    }

    #[test]
    fn reads_paths_with_their_places() {
        let (settings, found) = parse("rig = \"rigs/a.toml\"\n");
        assert_eq!(found, []);
        let rig = settings.rig.unwrap();
        assert_eq!((rig.path.as_str(), rig.span), ("rigs/a.toml", Span::new(SourceId(0), 6, 19)));
    }

    #[test]
    fn every_mistake_is_reported() {
        let (_, found) = parse("rigg = \"a\"\nrig = 3\nrig = \"b\"\n");
        let titles: Vec<&str> = found.iter().map(|d| d.title.as_str()).collect();
        assert_eq!(found.len(), 3, "{titles:?}");
        assert_eq!(found[0].help, ["did you mean `rig`?"]);
        assert_eq!(found[0].primary.span, Span::new(SourceId(0), 0, 4));
        assert!(titles[1].contains("path in quotes"), "{titles:?}");
        assert!(titles[2].starts_with("not TOML: duplicate key"), "{titles:?}");
    }

    #[test]
    fn walks_up_from_the_profile() {
        let folder = tempfile::tempdir().unwrap();
        let deep = folder.path().join("a/b");
        std::fs::create_dir_all(&deep).unwrap();
        let profile = deep.join("x.cues");
        std::fs::write(folder.path().join(SETTINGS_NAME), "rig = \"far\"").unwrap();
        let text = || std::fs::read_to_string(find_settings(&profile).unwrap()).unwrap();
        assert_eq!(text(), "rig = \"far\"");
        std::fs::write(deep.join(SETTINGS_NAME), "rig = \"near\"").unwrap();
        assert_eq!(text(), "rig = \"near\"");
    }

    /// A profile and a rig file under one settings file have the same records; what is under none keeps its own.
    #[test]
    fn records_are_beside_the_settings_or_beside_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().canonicalize().unwrap();
        std::fs::create_dir_all(root.join("rigs")).unwrap();
        let (profile, rig) = (root.join("x.cues"), root.join("rigs/a.toml"));
        assert_eq!(records_folder(&profile), root.join("records"));
        assert_eq!(records_folder(&rig), root.join("rigs/records"));
        std::fs::write(root.join(SETTINGS_NAME), "rig = \"rigs/a.toml\"").unwrap();
        assert_eq!(records_folder(&rig), root.join("records"));
        assert_eq!(records_folder(&root.join("rigs").join(SETTINGS_NAME)), root.join("records"));
        assert_eq!(records_folder(Path::new("x.cues")), Path::new("records"));
    }

    proptest::proptest! {
        #[test]
        fn any_text_ends(text in "\\PC{0,60}") {
            let _ = parse(&text);
        }
    }
}
