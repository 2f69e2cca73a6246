//! The command line: what was typed, what to print, the exit code.
//!
//! Cannot: decide anything about motion; it joins the core, the files and the player.

mod args;
mod commission;
mod compile;
mod drive;
mod explain;
mod fmt;
mod gain;
mod json;
mod ladder;
mod log;
mod measure;
mod mend;
mod output;
mod page;
mod pages;
mod play;
mod played;
mod progress;
mod reading;
mod render;
mod report;
mod rig;
mod sweep;
mod typed;
mod view;
mod wear;
mod written_over;

use crate::diag::{Diagnostic, Sources, render_human_in, render_short};
use args::{CheckedArgs, Cli, Command, Format};
use clap::Parser;
use output::{Failure, Outcome, say, tell};
use std::path::PathBuf;
use std::process::ExitCode;

pub use explain::rules;

/// Runs the command line: exit code 0 clean, 1 findings, 2 could not run.
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version are asked for and go to standard output; a reader that went away is no failure.
            let _ = error.print();
            return if error.use_stderr() { ExitCode::from(2) } else { ExitCode::SUCCESS };
        }
    };
    match run(cli.command, cli.format) {
        Ok(Outcome::Clean) => ExitCode::SUCCESS,
        Ok(Outcome::Findings) => ExitCode::from(1),
        Err(Failure(words)) => {
            if cli.format == Format::Json {
                let _ = say(&json::failure(&words));
            }
            tell(&format!("cueloom: {words}"));
            ExitCode::from(2)
        }
    }
}

fn run(command: Command, format: Format) -> Result<Outcome, Failure> {
    if let (Format::Json, Some((name, instead))) = (format, without_json(&command)) {
        return Err(Failure(format!("`cueloom {name}` has no JSON form: leave --format json away{instead}")));
    }
    match command {
        Command::Check { profiles, checked, strict } => check(&profiles, &checked, strict, format),
        Command::Render { profile, output, scene } => render::run(&profile, &output, &scene, format),
        Command::Play { profile, checked, fast, log, no_render, drives, level, seat, r#override } => {
            let how = play::How { fast, log, no_render };
            // What sits in the seat is asked where there are drives, be they simulated.
            if drives.link == args::LinkKind::Sim && seat.is_none() {
                if level.is_some() || r#override.is_some() {
                    return Err(Failure(
                        "--level and --override are for drives: give --seat too to play on simulated ones"
                            .into(),
                    ));
                }
                play::run(&profile, &checked, &how, format)
            } else {
                let on = drive::On { drives, level, seat, reason: r#override };
                drive::run(&profile, &checked, &how, &on, format)
            }
        }
        Command::Commission { rig, drives, records, by, brakes } => {
            commission::run(&rig, &drives, &records.of(&rig), &by, brakes)
        }
        Command::Audition { sign, maintenance, records } => {
            ladder::run(&records.here(), sign, maintenance, format)
        }
        Command::Sweep { file, keep, records } => sweep::run(&file, keep, &records.here(), format),
        Command::Wear { records } => wear::run(&records.here(), format),
        Command::Log { file, mend: Some(to), .. } => mend::run(&file, &to),
        Command::Log { file, csv, mend: None } => log::run(&file, csv.as_deref()),
        Command::Rig { what: Some(args::RigCommand::New { output }), .. } => rig::new(output.as_deref()),
        Command::Rig { file: Some(file), html, mjcf, profile, load, .. } => {
            let wanted = rig::Wanted {
                html: html.as_deref(),
                mjcf: mjcf.as_deref(),
                profile: profile.as_deref(),
                load: load.as_deref(),
            };
            rig::run(&file, &wanted, format)
        }
        Command::Report { profile, output, checked } => page::run(&profile, &output, &checked, format),
        Command::Measure { what } => measure::run(&what, format),
        // The parser lets neither through.
        Command::Rig { file: None, .. } => Err(Failure("give a rig file, or `new`".to_string())),
        #[cfg(feature = "gui")]
        Command::Open { profile } => {
            crate::gui::open(profile.as_deref()).map(|()| Outcome::Clean).map_err(Failure)
        }
        Command::Fmt { files, check } => fmt::run(&files, check, format),
        Command::Explain { rule } => explain::run(rule.as_deref()),
        Command::Schema { kind: args::SchemaKind::Rig } => pages::rig_schema(),
        Command::Completions { shell } => pages::completions(shell),
        Command::Man { command } => pages::man(command.as_deref()),
    }
}

/// What has no form for programs, and what programs can have in its place. Passed over in silence the words for people
/// would be taken for JSON.
fn without_json(command: &Command) -> Option<(&'static str, &'static str)> {
    Some(match command {
        Command::Commission { .. } => ("commission", ", or read records/commissioning.json, which it writes"),
        Command::Log { mend: Some(_), .. } => ("log --mend", ""),
        Command::Log { .. } => ("log", ", or read the record itself (docs/record.md) or what --csv writes"),
        Command::Rig { what: Some(args::RigCommand::New { .. }), .. } => ("rig new", ""),
        Command::Explain { .. } => ("explain", ""),
        Command::Completions { .. } => ("completions", ""),
        Command::Man { .. } => ("man", ""),
        _ => return None,
    })
}

/// Every profile is looked at, also after one that could not be read; the worst outcome counts.
fn check(profiles: &[PathBuf], args: &CheckedArgs, strict: bool, format: Format) -> Result<Outcome, Failure> {
    let mut worst = Outcome::Clean;
    let mut failures = Vec::new();
    let mut rigs_seen = std::collections::BTreeSet::new();
    for profile in profiles {
        match compile::examine(profile, args, format) {
            Ok((mut view, _)) => {
                // What looks odd in a rig file is said once, and not under every profile.
                if view.rig.as_ref().is_some_and(|rig| !rigs_seen.insert(rig.hash.clone())) {
                    view.forget_doubts();
                }
                print(&view, format)?;
                if view.has_findings(strict) {
                    worst = Outcome::Findings;
                }
            }
            Err(Failure(words)) => failures.push(words),
        }
    }
    if failures.is_empty() { Ok(worst) } else { Err(Failure(failures.join("\n"))) }
}

/// Prints mistakes in texts that were not checked against a rig.
fn print_mistakes(mistakes: &[Diagnostic], sources: &Sources, format: Format) -> Result<(), Failure> {
    let (colour, width) = (output::colour(), output::width());
    let human = |mistake| format!("{}\n\n", render_human_in(mistake, sources, colour, width));
    say(&match format {
        Format::Human => mistakes.iter().map(human).collect(),
        Format::Json => json::mistakes(mistakes, sources),
        Format::Short => {
            mistakes.iter().map(|mistake| render_short(mistake, sources) + "\n").collect::<String>()
        }
    })
}

fn print(view: &view::View, format: Format) -> Result<(), Failure> {
    say(&match format {
        Format::Human => report::human(view, output::colour(), output::width()),
        Format::Json => json::json(view),
        Format::Short => report::short(view),
    })
}
