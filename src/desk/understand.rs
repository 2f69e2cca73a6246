//! A profile's text to everything that is known of it: scenes, the scene chosen, the rig, and every mistake.

use crate::diag::{Diagnostic, Severity, SourceId, SourceText, Sources};
use crate::files::{self, MAX_TOML_BYTES, SETTINGS_NAME, Stamp};
use crate::lang::tree::Item;
use crate::rig::Rig;
use crate::scenario::{Scenario, World};
use crate::{lang, scenario};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What a text says, as far as it can be understood.
#[derive(Debug, Clone)]
pub struct Understood {
    /// The profile, its libraries, settings and rig file.
    pub sources: Sources,
    /// The profile among them.
    pub profile: SourceId,
    /// Titles of the scenes in the text.
    pub scenes: Vec<String>,
    /// The scene; `None` when mistakes left nothing of it.
    pub scenario: Option<Arc<Scenario>>,
    /// The rig; `None` when there is none, or its file has errors.
    pub rig: Option<Arc<Rig>>,
    /// Where the rig file is.
    pub rig_path: Option<PathBuf>,
    /// Mistakes and notes, gravest first, in the order of the text.
    pub mistakes: Vec<Diagnostic>,
    /// Why there is no rig, in words, where there is none.
    pub no_rig: Option<String>,
    /// Why the rig is the last good one and not that of the file as it is now, in words.
    pub old_rig: Option<String>,
    /// The rig file as it is now, where it has errors and the rig is the last good one.
    pub broken_rig: Option<SourceId>,
    /// The settings file that holds for the profile; another one may be put nearer to it.
    pub settings: Option<PathBuf>,
    /// Settings and rig file, as they were before they were read.
    pub watched: Vec<(PathBuf, Option<Stamp>)>,
}

/// Texts of rig files that had no errors when they were read last, by path.
pub type GoodRigs = BTreeMap<PathBuf, Arc<str>>;

impl Understood {
    /// Whether a text holds an error, so that no motion can be made of it. Errors of a rig file whose last good state
    /// is at hand are none of these.
    pub fn has_errors(&self) -> bool {
        self.broken().is_some()
    }

    /// The text that holds the first of those errors, for people: "the text" is the profile's own.
    pub fn broken(&self) -> Option<String> {
        let counts = |mistake: &&Diagnostic| {
            mistake.severity == Severity::Error && self.broken_rig != Some(mistake.primary.span.source)
        };
        let source = self.mistakes.iter().find(counts)?.primary.span.source;
        if source == self.profile {
            return Some("the text".to_string());
        }
        let name = self.sources.get(source).name();
        let short = Path::new(name).file_name().map_or(name.into(), |short| short.to_string_lossy());
        Some(format!("`{short}`"))
    }
}

/// Reads a profile's `text`, which stands (or will stand) at `path`. `scene` chooses one by title; without it, or when
/// there is none of that title, the first is taken. `good` stands in for a rig file that has errors now.
pub fn understand(
    path: &Path,
    text: &str,
    scene: Option<&str>,
    world: &impl World,
    good: &GoodRigs,
) -> Understood {
    let mut sources = Sources::new();
    let profile = sources.add(SourceText::new(path.display().to_string(), text));
    let parsed = lang::parse(profile, text);
    let scenes: Vec<String> = parsed
        .file
        .items
        .iter()
        .filter_map(|item| match item {
            Item::Scene(scene) => Some(scene.title.text.to_string()),
            _ => None,
        })
        .collect();
    let chosen = scene.filter(|title| scenes.iter().any(|known| known == title));
    let chosen = chosen.or_else(|| scenes.first().map(String::as_str));
    let resolved = scenario::resolve(&parsed.file, profile, chosen, &mut sources, world);
    let mut mistakes = parsed.errors;
    mistakes.extend(resolved.diagnostics);
    let mut understood = Understood {
        sources,
        profile,
        scenes,
        scenario: resolved.scenario.map(Arc::new),
        rig: None,
        rig_path: None,
        mistakes,
        no_rig: None,
        old_rig: None,
        broken_rig: None,
        settings: files::find_settings(path),
        watched: Vec::new(),
    };
    if let Err(words) = add_rig(&mut understood, good) {
        understood.no_rig = Some(words);
    }
    understood.mistakes.sort_by_key(|mistake| std::cmp::Reverse(mistake.severity));
    understood
}

fn add_rig(understood: &mut Understood, good: &GoodRigs) -> Result<(), String> {
    let advice = || {
        format!(
            "no rig file for this profile: put a file `{SETTINGS_NAME}` with the line \
             `rig = \"rigs/my-rig.toml\"` into its folder or above it"
        )
    };
    let path = understood.settings.clone().ok_or_else(advice)?;
    // Before reading, here and below, so that what is written meanwhile is noticed.
    understood.watched.push((path.clone(), files::stamp(&path)));
    let text = files::read_text(&path, MAX_TOML_BYTES).map_err(|error| error.to_string())?;
    let source = understood.sources.add(SourceText::new(path.display().to_string(), text));
    let (settings, mistakes) = files::parse_settings(source, understood.sources.get(source).text());
    understood.mistakes.extend(mistakes);
    let Some(named) = settings.rig else {
        return Err(format!("`{}` names no rig; add `rig = \"rigs/my-rig.toml\"` to it", path.display()));
    };
    let rig_path = path.parent().unwrap_or(Path::new("")).join(&named.path);
    understood.watched.push((rig_path.clone(), files::stamp(&rig_path)));
    let why = match read_rig(understood, &rig_path) {
        Ok(()) => None,
        Err((words, broken)) => {
            let Some(text) = good.get(&rig_path) else { return Err(words) };
            let name = format!("{} (as it was without errors)", rig_path.display());
            let source = understood.sources.add(SourceText::new(name, text.clone()));
            understood.rig = crate::rig::load(source, text).rig.map(Arc::new);
            understood.broken_rig = broken;
            Some(words)
        }
    };
    understood.old_rig = why;
    understood.rig_path = Some(rig_path);
    Ok(())
}

/// The rig file as it is now.
///
/// # Errors
/// Words, and the text that has the errors where it could be read.
fn read_rig(understood: &mut Understood, path: &Path) -> Result<(), (String, Option<SourceId>)> {
    let text = files::read_text(path, MAX_TOML_BYTES).map_err(|error| (error.to_string(), None))?;
    let source = understood.sources.add(SourceText::new(path.display().to_string(), text));
    let loaded = crate::rig::load(source, understood.sources.get(source).text());
    understood.mistakes.extend(loaded.diagnostics);
    understood.rig = loaded.rig.map(Arc::new);
    match understood.rig {
        Some(_) => Ok(()),
        None => Err((format!("the rig file `{}` has errors", path.display()), Some(source))),
    }
}
