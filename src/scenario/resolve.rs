//! The entry: a tree and its libraries to a dated scene.

use super::{Scenario, World};
use crate::diag::{Diagnostic, SourceId, Sources};
use crate::lang::tree::File;

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
pub fn resolve(
    file: &File,
    source: SourceId,
    scene: Option<&str>,
    sources: &mut Sources,
    world: &dyn World,
) -> Resolved {
    let _ = (file, source, scene, sources, world);
    unimplemented!("H4")
}
