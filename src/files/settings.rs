//! `cueloom.toml`: which rig a folder of profiles uses, and at which levels scenes are tried on it; what is known of that
//! rig is kept beside it.

use crate::audition::Levels;
use crate::diag::{Diagnostic, Rule, SourceId, Span, nearest};
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The file's name.
pub const SETTINGS_NAME: &str = "cueloom.toml";

const KEYS: [&str; 2] = ["rig", "levels"];

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
    /// The levels of the audition ladder; `None` where none are written: the usual ones.
    pub levels: Option<Levels>,
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
        match (word, value.get_ref()) {
            ("rig", DeValue::String(path)) if !path.trim().is_empty() => {
                settings.rig = Some(Setting { path: path.to_string(), span: span(value.span()) });
            }
            ("rig", _) => found.push(
                Diagnostic::error("settings", span(value.span()), "`rig` must be a path in quotes")
                    .help("write `rig = \"rigs/my-rig.toml\"`, relative to this file"),
            ),
            ("levels", _) => match levels(value) {
                Ok(levels) => settings.levels = Some(levels),
                Err((range, why)) => {
                    found.push(Diagnostic::error("settings", span(range), why).help(LEVELS));
                }
            },
            _ => {
                let title = format!("`{word}` is no setting; there are `rig` and `levels`");
                let mistake = Diagnostic::error("settings", at, title);
                found.push(match nearest(word, KEYS) {
                    Some(key) => mistake.help(format!("did you mean `{key}`?")).fix("rename it", at, key),
                    None => mistake,
                });
            }
        }
    }
    found.sort_by_key(|diagnostic| diagnostic.primary.span);
    (settings, found)
}

/// What to write for levels.
const LEVELS: &str =
    "write `levels = [\"-12 dB\", \"-6 dB\", \"-3 dB\", \"0 dB\"]`, whole dB below full gain, lowest first";

/// The levels of a ladder, or where they are wrong and why.
fn levels(value: &Spanned<DeValue<'_>>) -> Result<Levels, (std::ops::Range<usize>, String)> {
    let DeValue::Array(list) = value.get_ref() else {
        return Err((value.span(), "`levels` must be a list of levels in quotes".to_string()));
    };
    let mut list_db = Vec::new();
    for one in list.iter() {
        let level = match one.get_ref() {
            DeValue::String(text) => text.trim().strip_suffix("dB").and_then(|db| db.trim().parse().ok()),
            _ => None,
        };
        let Some(level_db) = level else {
            return Err((
                one.span(),
                "expected a level in quotes, a whole number of dB: \"-6 dB\"".to_string(),
            ));
        };
        list_db.push(level_db);
    }
    Levels::of(&list_db).map_err(|wrong| {
        let one = wrong.at.and_then(|at| list.get(at));
        (one.map_or_else(|| value.span(), Spanned::span), wrong.why)
    })
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
    fn levels_are_read_and_what_is_no_ladder_is_refused_where_it_stands() {
        let (settings, found) = parse("rig = \"a\"\nlevels = [\"-18 dB\", \" -6dB \", \"0 dB\"]\n");
        assert_eq!((settings.levels, found), (Some(Levels::of(&[-18, -6, 0]).unwrap()), vec![]));
        assert_eq!(parse("rig = \"a\"\n").0.levels, None);
        for (text, place, words) in [
            ("levels = -12", "-12", "must be a list"),
            ("levels = \"-12 dB\"", "\"-12 dB\"", "must be a list"),
            ("levels = [-12, 0]", "-12", "a whole number of dB"),
            ("levels = [\"-12\", \"0 dB\"]", "\"-12\"", "a whole number of dB"),
            ("levels = [\"-12.5 dB\", \"0 dB\"]", "\"-12.5 dB\"", "a whole number of dB"),
            ("levels = []", "[]", "no level"),
            ("levels = [\"-3 dB\", \"0 dB\"]", "\"-3 dB\"", "would begin at -3 dB"),
            ("levels = [\"-6 dB\", \"-3 dB\"]", "\"-3 dB\"", "would end at -3 dB"),
        ] {
            let (settings, found) = parse(text);
            let [mistake] = &found[..] else { panic!("{text}: {found:?}") };
            let span = mistake.primary.span;
            assert_eq!(&text[span.start as usize..span.end as usize], place, "{text}");
            assert!(mistake.title.contains(words) && settings.levels.is_none(), "{text}: {}", mistake.title);
            assert!(mistake.help[0].starts_with("write `levels = ["), "{:?}", mistake.help);
        }
        assert_eq!(parse("level = []").1[0].help, ["did you mean `levels`?"]);
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
