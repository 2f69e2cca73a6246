//! Any text as a rig file: a rig or diagnostics, every place inside the text.
#![no_main]

use cueloom::diag::{SourceText, Sources, render_human};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new("fuzz.toml", text));
    let loaded = cueloom::rig::load(source, text);
    assert!(loaded.rig.is_some() || !loaded.diagnostics.is_empty(), "no rig and no reason");
    for diagnostic in &loaded.diagnostics {
        let _ = render_human(diagnostic, &sources, false);
    }
});
