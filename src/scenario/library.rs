//! `use`: reads libraries, and theirs, once each.

use super::{World, limit};
use crate::diag::{Diagnostic, SourceId, SourceText, Sources, Span};
use crate::lang::{
    parse,
    tree::{File, Item, Text},
};
use std::rc::Rc;

/// The main file's libraries, those used first coming first, and what went wrong with them.
pub(super) fn load(
    main: &File,
    source: SourceId,
    sources: &mut Sources,
    world: &dyn World,
) -> (Vec<Rc<File>>, Vec<Diagnostic>) {
    let name = sources.get(source).name().to_string();
    let mut shelf = Shelf { world, loaded: Vec::new(), files: Vec::new(), diagnostics: Vec::new() };
    shelf.uses(main, &[(name, None)], sources);
    (shelf.files, shelf.diagnostics)
}

struct Shelf<'w> {
    world: &'w dyn World,
    loaded: Vec<String>,
    files: Vec<Rc<File>>,
    diagnostics: Vec<Diagnostic>,
}

/// A file's name, and the `use` that asked for it.
type Link = (String, Option<Span>);

impl Shelf<'_> {
    fn uses(&mut self, file: &File, chain: &[Link], sources: &mut Sources) {
        for item in &file.items {
            if let Item::Use(text, _) = item {
                self.one(text, chain, sources);
            }
        }
    }

    fn one(&mut self, text: &Text, chain: &[Link], sources: &mut Sources) {
        let from = chain.last().map_or("", |(name, _)| name.as_str());
        let (name, library) = match self.world.library(from, &text.text) {
            Ok(found) => found,
            Err(words) => {
                self.diagnostics.push(
                    Diagnostic::error("file", text.span, format!("`{}` cannot be used: {words}", text.text))
                        .help("a `use` names a file by its path from the file it stands in"),
                );
                return;
            }
        };
        if let Some(first) = chain.iter().position(|(on, _)| *on == name) {
            self.diagnostics.push(circle(text, &name, &chain[first..]));
            return;
        }
        if self.loaded.contains(&name) {
            return;
        }
        if self.loaded.len() >= limit::LIBRARIES {
            let title = format!("more than {} libraries", limit::LIBRARIES);
            self.diagnostics.push(Diagnostic::error("limit", text.span, title));
            return;
        }
        self.loaded.push(name.clone());
        let library: std::sync::Arc<str> = library.into();
        let id = sources.add(SourceText::new(name.clone(), library.clone()));
        let parsed = parse(id, &library);
        self.diagnostics.extend(parsed.errors);
        let mut longer = chain.to_vec();
        longer.push((name, Some(text.span)));
        self.uses(&parsed.file, &longer, sources);
        self.files.push(Rc::new(parsed.file));
    }
}

fn circle(text: &Text, name: &str, chain: &[Link]) -> Diagnostic {
    let names: Vec<_> = chain.iter().map(|(on, _)| format!("`{on}`")).collect();
    let title = format!("`use` goes in a circle: {} uses `{name}`", names.join(" uses "));
    let mut diagnostic = Diagnostic::error("cycle", text.span, title);
    for (on, span) in chain.iter().skip(1) {
        if let Some(span) = span {
            diagnostic = diagnostic.also(*span, format!("this brings in `{on}`"));
        }
    }
    diagnostic.help("move what both need into a third file, and use that from both")
}
