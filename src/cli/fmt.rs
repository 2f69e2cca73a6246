//! `fmt`: profiles in the one layout.

use super::args::Format;
use super::output::{Failure, Outcome, say, tell};
use crate::diag::{SourceText, Sources};
use crate::files::{MAX_PROFILE_BYTES, read_text, save, to_text};
use crate::lang;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// Formats `files`, or with `check` only says which would change. Every file is looked at.
///
/// # Errors
/// When one cannot be read or written.
pub(super) fn run(files: &[PathBuf], check: bool, format: Format) -> Result<Outcome, Failure> {
    let mut worst = Outcome::Clean;
    let mut failures = Vec::new();
    for file in files {
        match one(file, check, format) {
            Ok(outcome) => worst = worst.max(outcome),
            Err(Failure(words)) => failures.push(words),
        }
    }
    if failures.is_empty() { Ok(worst) } else { Err(Failure(failures.join("\n"))) }
}

fn one(file: &Path, check: bool, format: Format) -> Result<Outcome, Failure> {
    let piped = file == Path::new("-");
    let text = if piped { standard_input()? } else { read_text(file, MAX_PROFILE_BYTES)? };
    let formatted = match lang::format(&text) {
        Ok(formatted) => formatted,
        Err(_) => return mistakes(if piped { Path::new("standard input") } else { file }, text, format),
    };
    match (piped, check) {
        (true, false) => say(&formatted)?,
        _ if formatted == text => {}
        (_, true) => {
            say(&format!("{}: not formatted\n", file.display()))?;
            return Ok(Outcome::Findings);
        }
        (false, false) => {
            save(file, |out| out.write_all(formatted.as_bytes()))?;
            tell(&format!("formatted {}", file.display()));
        }
    }
    Ok(Outcome::Clean)
}

/// Prints why a text cannot be formatted. It stays as it is: a layout of half a text would lose the other half.
fn mistakes(name: &Path, text: String, format: Format) -> Result<Outcome, Failure> {
    let mut sources = Sources::new();
    let source = sources.add(SourceText::new(name.display().to_string(), text));
    // Read once more under the name that messages show; only a broken text pays for it.
    let errors = lang::parse(source, sources.get(source).text()).errors;
    super::print_mistakes(&errors, &sources, format)?;
    Ok(Outcome::Findings)
}

fn standard_input() -> Result<String, Failure> {
    let mut bytes = Vec::new();
    std::io::stdin().lock().take(MAX_PROFILE_BYTES + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > MAX_PROFILE_BYTES {
        return Err(Failure(format!("standard input is larger than {} MB", MAX_PROFILE_BYTES / 1_000_000)));
    }
    Ok(to_text(Path::new("standard input"), bytes)?)
}
