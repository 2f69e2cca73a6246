//! Any text as a profile: it parses, resolves and formats to a result or to diagnostics, and formats to the same twice.
#![no_main]

use cueloom::diag::{SourceText, Sources, render_human};
use cueloom::scenario::World;
use libfuzzer_sys::fuzz_target;

/// No file but one small recording.
struct Nothing;

impl World for Nothing {
    fn library(&self, _: &str, name: &str) -> Result<(String, String), String> {
        Err(format!("there is no file `{name}`"))
    }

    fn recording(&self, _: &str, _: &str) -> Result<Vec<u8>, String> {
        let rows: String = (0..200).map(|k| format!("{}.{:02},{}\n", k / 50, k % 50 * 2, k * k % 17)).collect();
        Ok(format!("time_s,pitch\n{rows}").into_bytes())
    }

    fn sound_length_s(&self, _: &str, _: &str) -> Result<f64, String> {
        Ok(0.5)
    }
}

fuzz_target!(|text: &str| {
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new("fuzz.cues", text));
    let parsed = cueloom::lang::parse(source, text);
    for error in &parsed.errors {
        let _ = render_human(error, &sources, false);
    }
    let resolved = cueloom::scenario::resolve(&parsed.file, source, None, &mut sources, &Nothing);
    for diagnostic in &resolved.diagnostics {
        let _ = render_human(diagnostic, &sources, false);
    }
    if let Ok(once) = cueloom::lang::format(text) {
        assert_eq!(cueloom::lang::format(&once).ok().as_deref(), Some(once.as_str()), "formatting settles at once");
    }
});
