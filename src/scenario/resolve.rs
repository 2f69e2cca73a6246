//! The entry: a tree and its libraries to a dated scene.

use super::names::Program;
use super::place::{Stage, Under};
use super::resolver::{Extent, Opening, Resolver, TOP};
use super::{Content, Layer, Scenario, World, library};
use crate::diag::{Diagnostic, Severity, SourceId, Sources, Span, nearest};
use crate::lang::tree::{File, Scene, Statement};

/// What resolving gives: the scene as far as it could be understood, and every mistake.
#[derive(Debug, Clone)]
pub struct Resolved {
    /// The scene; `None` when there is none or nothing of it could be dated.
    pub scenario: Option<Scenario>,
    /// Errors (also the syntax errors of libraries), warnings and notes.
    pub diagnostics: Vec<Diagnostic>,
    /// Titles of all scenes in the main file, for choosing one.
    pub scenes: Vec<String>,
}

/// Resolves the scene titled `scene` (or the only one) of `file`. Libraries are added to `sources`.
///
/// A file without scenes gives a note and no scenario: libraries can be checked too.
pub fn resolve(
    file: &File,
    source: SourceId,
    scene: Option<&str>,
    sources: &mut Sources,
    world: &dyn World,
) -> Resolved {
    let (libraries, mut diagnostics) = library::load(file, source, sources, world);
    let program = Program::new(file, libraries.iter().map(|file| &**file), &mut diagnostics);
    let mut resolver = Resolver::new(&program, sources, world);
    resolver.review();
    // A cap that only unplaced things reached does not stop the scene.
    resolver.exhausted = false;
    let chosen = match choose(&program, source, scene) {
        Ok(chosen) => Some(chosen),
        Err(diagnostic) => {
            resolver.tell(*diagnostic);
            None
        }
    };
    let scenario = chosen.and_then(|scene| resolver.date(scene));
    diagnostics.append(&mut resolver.diagnostics);
    diagnostics.sort_by_key(|diagnostic| {
        let main = diagnostic.primary.span.source != source;
        (main, diagnostic.primary.span.source, diagnostic.primary.span.start)
    });
    let scenes = program.scenes.iter().map(|scene| scene.title.text.to_string()).collect();
    Resolved { scenario, diagnostics, scenes }
}

fn choose<'a>(
    program: &Program<'a>,
    source: SourceId,
    wanted: Option<&str>,
) -> Result<&'a Scene, Box<Diagnostic>> {
    let titles = || program.scenes.iter().map(|scene| &*scene.title.text);
    let first = program.scenes.first().map_or(Span::new(source, 0, 0), |scene| scene.title.span);
    let listed = || titles().map(|title| format!("\"{title}\"")).collect::<Vec<_>>().join(", ");
    match (wanted, program.scenes.as_slice()) {
        (Some(wanted), scenes) => {
            scenes.iter().find(|scene| &*scene.title.text == wanted).copied().ok_or_else(|| {
                let diagnostic =
                    Diagnostic::error("scene", first, format!("there is no scene \"{wanted}\" here"));
                Box::new(match nearest(wanted, titles()) {
                    Some(near) => diagnostic.help(format!("did you mean \"{near}\"?")),
                    None if scenes.is_empty() => diagnostic.help("this file has no scene at all"),
                    None => diagnostic.help(format!("its scenes are {}", listed())),
                })
            })
        }
        (None, [only]) => Ok(only),
        (None, []) => {
            let mut note =
                Diagnostic::error("scene", first, "this file has no scene, so there is nothing to play");
            note.severity = Severity::Note;
            Err(Box::new(note))
        }
        (None, [_, others @ ..]) => {
            let title = format!("this file has {} scenes, and a run plays one", program.scenes.len());
            let mut diagnostic = Diagnostic::error("scene", first, title);
            for other in others {
                diagnostic = diagnostic.also(other.title.span, "another");
            }
            Err(Box::new(diagnostic.help(format!("name one with --scene: {}", listed()))))
        }
    }
}

impl<'a> Resolver<'a> {
    /// Dates a scene; `None` when nothing of it could be dated.
    fn date(&mut self, scene: &'a Scene) -> Option<Scenario> {
        let opening = Opening {
            block: &scene.body,
            parent: TOP,
            above: TOP,
            params: Vec::new(),
            cue: None,
            start_s: Some(0.0),
            extent: Extent::Endless,
        };
        let frame = self.open(opening).ok()?;
        let mut stage = Stage::default();
        self.place_body(frame, &Under::scene(), &mut stage);
        self.one_seed_at_a_time(frame, &mut stage);
        let length_s = stage.layers.iter().map(end).fold(0.0, f64::max);
        let mut expectations = Vec::new();
        for statement in &scene.body.statements {
            if let Statement::Expect(expect) = statement
                && let Ok(Some(expectation)) = self.expectation(expect, frame, length_s)
            {
                expectations.push(expectation);
            }
        }
        Some(Scenario {
            title: scene.title.text.to_string(),
            title_span: scene.title.span,
            length_s,
            layers: stage.layers,
            placements: stage.placements,
            expectations,
        })
    }
}

fn end(layer: &Layer) -> f64 {
    match &layer.content {
        Content::Signal(signal) => signal.start_s + signal.length_s,
        Content::SoundFile { start_s, length_s, .. } => start_s + length_s,
    }
}
