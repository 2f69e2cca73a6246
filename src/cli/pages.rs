//! What is printed for other programs to read: schemas, completions, manual pages.

use super::args::Cli;
use super::output::{Failure, Outcome, say};
use crate::diag::nearest;
use clap::CommandFactory;

/// The JSON Schema of rig files.
pub(super) fn rig_schema() -> Result<Outcome, Failure> {
    let text = serde_json::to_string_pretty(&crate::rig::schema())?;
    say(&format!("{text}\n"))?;
    Ok(Outcome::Clean)
}

/// Completions for a shell.
pub(super) fn completions(shell: clap_complete::Shell) -> Result<Outcome, Failure> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "cueloom", &mut text);
    say(&String::from_utf8_lossy(&text))?;
    Ok(Outcome::Clean)
}

/// The manual page of the program or of one command.
pub(super) fn man(name: Option<&str>) -> Result<Outcome, Failure> {
    let mut command = Cli::command();
    command.build();
    let page = match name {
        None => command,
        Some(name) => command.find_subcommand(name).cloned().ok_or_else(|| unknown(&command, name))?,
    };
    let mut text = Vec::new();
    clap_mangen::Man::new(page).render(&mut text)?;
    say(&String::from_utf8_lossy(&text))?;
    Ok(Outcome::Clean)
}

fn unknown(command: &clap::Command, name: &str) -> Failure {
    let names = command.get_subcommands().map(clap::Command::get_name);
    let hint = nearest(name, names).map_or(String::new(), |name| format!("; did you mean `{name}`?"));
    Failure(format!("there is no command `{name}`{hint}"))
}
