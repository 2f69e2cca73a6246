//! `play`: check, and when it fits, play on the simulated rig.

use super::args::{CheckedArgs, Format};
use super::compile::examine;
use super::output::{Failure, Outcome, say, tell};
use super::progress::Progress;
use super::report::gain_words;
use super::view::View;
use super::written_over::may_write;
use super::{json, played};
use crate::check::Cleared;
use crate::diag::Severity;
use crate::drives::Head;
use crate::files::{self, write_series};
use crate::link::SimRig;
use crate::player::{self, Options, Order};
use crate::safety::State;
use crate::time::clock;
use std::path::{Path, PathBuf};
use std::sync::mpsc;

/// How a run goes.
pub(super) struct How {
    /// Do not wait for the clock.
    pub(super) fast: bool,
    /// Where its log goes.
    pub(super) log: Option<PathBuf>,
    /// Leave no render behind.
    pub(super) no_render: bool,
}

/// Where a run's files go when nobody says otherwise.
pub(super) const FOLDER: &str = "out";

/// Checks `profile` and plays it.
///
/// # Errors
/// When something cannot be read or written, or the run fails.
pub(super) fn run(profile: &Path, args: &CheckedArgs, how: &How, format: Format) -> Result<Outcome, Failure> {
    let (view, report) = examine(profile, args, format)?;
    super::print(&view, format)?;
    let Some(cleared) = report.and_then(|report| report.clear()) else {
        tell(&refusal(&view, 1.0));
        return Ok(Outcome::Findings);
    };
    let stem = profile.file_stem().map_or_else(|| "profile".into(), |stem| stem.to_string_lossy());
    let mut written = Vec::new();
    if !how.no_render {
        let path = Path::new(FOLDER).join(format!("{stem}.render.csv"));
        files::make_folder_of(&path)?;
        let progress = Progress::new("render");
        let files = write_series(&path, cleared.plan(), &|share| progress.set(share));
        progress.finish();
        written.extend(files?);
    }
    let log = how.log.clone().unwrap_or_else(|| Path::new(FOLDER).join(format!("{stem}.log.csv")));
    let played = play(&cleared, &view, how.fast, &log)?;
    written.push(log);
    match format {
        Format::Json => say(&json::played(&played, &written, None))?,
        _ => say(&played::human(&played, &written))?,
    }
    Ok(match played.state {
        State::Faulted => return Err(Failure("the run ended in a fault; the log says which".into())),
        _ if played.played_out => Outcome::Clean,
        _ => Outcome::Findings,
    })
}

/// Why it is not played, and what would be, at the same part (a factor) of the gain that is named.
pub(super) fn refusal(view: &View, part: f64) -> String {
    let gain = view.measured.as_ref().and_then(|measured| measured.fits_gain).filter(|gain| *gain > 0.0);
    let errors = view.findings.iter().any(|finding| finding.diagnostic.severity == Severity::Error);
    match gain {
        _ if !errors => "cueloom: there is nothing to play".to_string(),
        Some(gain) => format!(
            "cueloom: not played, because it does not fit the rig file; it fits with --gain {}",
            gain_words(gain / part)
        ),
        None => "cueloom: not played, because of the errors above".to_string(),
    }
}

fn play(cleared: &Cleared, view: &View, fast: bool, log: &Path) -> Result<player::Played, Failure> {
    let rig = cleared.plan().rig();
    let parked: Vec<f64> = rig.actuators.iter().map(|leg| leg.park_m).collect();
    let entries = head(view).entries("simulated");
    let options = Options { fast, park_at_end: true, entries, ..Options::default() };
    let (orders, heard) = mpsc::channel();
    // Where no handler can be set, the system's own ends the program: on the simulated rig nothing is lost by it.
    let handled = ctrlc::set_handler(move || {
        tell("\nslowing to a stop on the path ...");
        let _ = orders.send(Order::Stop);
    });
    if let Err(error) = handled {
        tell(&format!("Ctrl-C will end the run at once: {error}"));
    }
    files::make_folder_of(log)?;
    // What was simulated can be had again, as its render can; what drives did cannot.
    may_write(log, view.inputs())?;
    let record = files::create(log)?;
    let progress = Progress::new("play");
    let played = player::play(cleared, SimRig::new(rig, &parked), &options, &heard, record, &mut |now| {
        let path_s = now.path_s.min(now.scene_s);
        progress.set(if now.on_scene && now.scene_s > 0.0 { path_s / now.scene_s } else { 0.0 });
        let scene = if now.on_scene {
            format!("{} of {}, ", clock(path_s), clock(now.scene_s))
        } else {
            String::new()
        };
        progress.say(format!("{scene}{}, gain {}", now.state.word(), gain_words(now.gain * view.gain)));
    });
    progress.finish();
    Ok(played?)
}

/// What the head of the log says of the run.
pub(super) fn head(view: &View) -> Head<'_> {
    let scene = view.scene.as_deref().unwrap_or_default();
    Head { profile: &view.profile, scene, gain: view.gain, sources: &view.sources }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::report::sample;

    /// The sample fits at 0.6554 of all that can be: at half of what is named, twice as much can be named.
    #[test]
    fn the_gain_that_is_advised_is_the_one_to_type_at_this_level() {
        let said = |part| refusal(&sample(), part);
        assert!(said(1.0).ends_with("it fits with --gain 0.655"), "{}", said(1.0));
        assert!(said(0.5).ends_with("it fits with --gain 1.31"), "{}", said(0.5));
    }
}
