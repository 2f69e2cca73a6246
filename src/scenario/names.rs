//! Who defines what: the names of a file with its libraries, and those of one block.

use crate::diag::{Diagnostic, Span};
use crate::lang::tree::{
    Block, CueDefinition, File, Input, Item, Let, Name, Param, Play, Scene, Statement, SuffixKind,
};
use std::collections::BTreeMap;
use std::sync::Arc;

/// What a name stands for in the body that defines it; the number says which.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Symbol {
    /// A parameter of the cue.
    Param(usize),
    /// A let.
    Let(usize),
    /// A labelled statement.
    Label(usize),
    /// A cue.
    Cue(usize),
    /// An input.
    Input(usize),
}

/// The names that one body defines.
#[derive(Debug, Default)]
pub(super) struct Names<'a> {
    /// By name, with the place of its definition.
    pub(super) symbols: BTreeMap<Arc<str>, (Symbol, Span)>,
    /// The lets, as [`Symbol::Let`] counts them.
    pub(super) lets: Vec<&'a Let>,
}

impl<'a> Names<'a> {
    fn define(&mut self, name: &Name, symbol: Symbol, wrong: &mut Vec<Diagnostic>) {
        if let Some((_, first)) = self.symbols.get(&name.text) {
            wrong.push(
                Diagnostic::error("duplicate", name.span, format!("`{}` is defined twice", name.text))
                    .label("the second time")
                    .also(*first, "the first time")
                    .help("give one of them another name"),
            );
        } else {
            self.symbols.insert(name.text.clone(), (symbol, name.span));
        }
    }

    /// The names of a block, and of the parameters of the cue whose body it is.
    pub(super) fn of_block(block: &'a Block, params: &[Param], wrong: &mut Vec<Diagnostic>) -> Self {
        let mut names = Self::default();
        for (k, param) in params.iter().enumerate() {
            names.define(&param.name, Symbol::Param(k), wrong);
        }
        for (k, statement) in block.statements.iter().enumerate() {
            match statement {
                Statement::Let(definition) => {
                    names.define(&definition.name, Symbol::Let(names.lets.len()), wrong);
                    names.lets.push(definition);
                }
                Statement::Play(play) => {
                    if let Some(label) = label(play) {
                        names.define(label, Symbol::Label(k), wrong);
                    }
                }
                _ => {}
            }
        }
        names
    }
}

/// The label that `as` gives a statement.
pub(super) fn label(play: &Play) -> Option<&Name> {
    play.suffixes.iter().find_map(|suffix| match &suffix.kind {
        SuffixKind::As(name) => Some(name),
        _ => None,
    })
}

/// Everything at the top level of the main file and its libraries.
#[derive(Debug, Default)]
pub(super) struct Program<'a> {
    /// The top level's own names.
    pub(super) names: Names<'a>,
    /// The cues, as [`Symbol::Cue`] counts them.
    pub(super) cues: Vec<&'a CueDefinition>,
    /// The inputs, as [`Symbol::Input`] counts them.
    pub(super) inputs: Vec<&'a Input>,
    /// The main file's scenes.
    pub(super) scenes: Vec<&'a Scene>,
}

impl<'a> Program<'a> {
    /// Gathers the names. Libraries first, so that a clash is reported in the main file.
    pub(super) fn new(
        main: &'a File,
        libraries: impl Iterator<Item = &'a File>,
        wrong: &mut Vec<Diagnostic>,
    ) -> Self {
        let mut program = Self::default();
        for file in libraries {
            program.gather(file, wrong);
        }
        program.gather(main, wrong);
        for item in &main.items {
            let Item::Scene(scene) = item else { continue };
            if let Some(first) = program.scenes.iter().find(|other| other.title.text == scene.title.text) {
                let title = format!("two scenes are called \"{}\"", scene.title.text);
                let diagnostic = Diagnostic::error("duplicate", scene.title.span, title)
                    .label("the second")
                    .also(first.title.span, "the first")
                    .help("a run names one scene: give each its own title");
                wrong.push(diagnostic);
            } else {
                program.scenes.push(scene);
            }
        }
        program
    }

    fn gather(&mut self, file: &'a File, wrong: &mut Vec<Diagnostic>) {
        for item in &file.items {
            match item {
                Item::Let(definition) => {
                    self.names.define(&definition.name, Symbol::Let(self.names.lets.len()), wrong);
                    self.names.lets.push(definition);
                }
                Item::Cue(cue) => {
                    self.names.define(&cue.name, Symbol::Cue(self.cues.len()), wrong);
                    self.cues.push(cue);
                }
                Item::Input(input) => {
                    self.names.define(&input.name, Symbol::Input(self.inputs.len()), wrong);
                    self.inputs.push(input);
                }
                Item::Use(..) | Item::Scene(_) | Item::Unreadable(_) => {}
            }
        }
    }

    /// The cue of this name.
    pub(super) fn cue(&self, name: &str) -> Option<(usize, &'a CueDefinition)> {
        match self.names.symbols.get(name) {
            Some((Symbol::Cue(k), _)) => self.cues.get(*k).map(|cue| (*k, *cue)),
            _ => None,
        }
    }
}
