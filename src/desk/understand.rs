//! A profile's text to everything that is known of it: scenes, the scene chosen, the rig, and every mistake.

use crate::diag::{Diagnostic, Severity, SourceId, SourceText, Sources};
use crate::files::{self, MAX_TOML_BYTES, SETTINGS_NAME};
use crate::lang::tree::Item;
use crate::rig::Rig;
use crate::scenario::{Scenario, World};
use crate::{lang, scenario};
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
}

impl Understood {
    /// Whether a text holds an error, so that no motion can be made of it.
    pub fn has_errors(&self) -> bool {
        self.mistakes.iter().any(|mistake| mistake.severity == Severity::Error)
    }
}

/// Reads a profile's `text`, which stands (or will stand) at `path`. `scene` chooses one by title; without it, or when
/// there is none of that title, the first is taken.
pub fn understand(path: &Path, text: &str, scene: Option<&str>, world: &impl World) -> Understood {
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
    };
    if let Err(words) = add_rig(&mut understood, path) {
        understood.no_rig = Some(words);
    }
    understood.mistakes.sort_by_key(|mistake| std::cmp::Reverse(mistake.severity));
    understood
}

fn add_rig(understood: &mut Understood, profile: &Path) -> Result<(), String> {
    let advice = || {
        format!(
            "no rig file for this profile: put a file `{SETTINGS_NAME}` with the line \
             `rig = \"rigs/my-rig.toml\"` into its folder or above it"
        )
    };
    let (path, text) =
        files::find_settings(profile).map_err(|error| error.to_string())?.ok_or_else(advice)?;
    let source = understood.sources.add(SourceText::new(path.display().to_string(), text));
    let (settings, mistakes) = files::parse_settings(source, understood.sources.get(source).text());
    understood.mistakes.extend(mistakes);
    let Some(named) = settings.rig else {
        return Err(format!("`{}` names no rig; add `rig = \"rigs/my-rig.toml\"` to it", path.display()));
    };
    let rig_path = path.parent().unwrap_or(Path::new("")).join(&named.path);
    let text = files::read_text(&rig_path, MAX_TOML_BYTES).map_err(|error| error.to_string())?;
    let source = understood.sources.add(SourceText::new(rig_path.display().to_string(), text));
    let loaded = crate::rig::load(source, understood.sources.get(source).text());
    understood.mistakes.extend(loaded.diagnostics);
    understood.rig = loaded.rig.map(Arc::new);
    if understood.rig.is_none() {
        return Err(format!("the rig file `{}` has errors", rig_path.display()));
    }
    understood.rig_path = Some(rig_path);
    Ok(())
}
