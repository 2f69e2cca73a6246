//! `play` on drives: what is vouched for, the link, an operator's words on standard input, and what is kept after.

mod listening;
mod spoken;
mod telling;
mod words;

use super::args::{CheckedArgs, DriveArgs, Format, LinkKind, SeatLoad};
use super::compile::examine_part;
use super::output::{Failure, Outcome, say, tell};
use super::play::{FOLDER, How, head, refusal};
use super::{json, played};
use crate::audition::{Load, Rung, motion_hash};
use crate::drives::{self, Asked, CAUTIONS, Carrier, Kept, Left, Opened, Records, Vouched, refused, vouch};
use crate::files;
use crate::link::DriveLink;
use crate::player::{self, Options, PlayError, Played, Record, Shell, today};
use crate::record::CheckNotes;
use crate::rig::Rig;
use crate::safety::operation::{Cause, State};
use std::path::Path;
use std::sync::mpsc::channel;
use telling::Teller;

/// On which drives, and how.
pub(super) struct On {
    /// Which link.
    pub(super) drives: DriveArgs,
    /// dB below full gain; the lowest level when not given.
    pub(super) level: Option<i32>,
    /// What sits in the seat.
    pub(super) seat: Option<SeatLoad>,
    /// Why the ladder is overridden.
    pub(super) reason: Option<String>,
}

pub(super) fn carrier(drives: &DriveArgs) -> Carrier {
    match drives.link {
        LinkKind::Sim => Carrier::Sim,
        LinkKind::Udp => Carrier::Udp,
        LinkKind::Serial => Carrier::Serial,
        LinkKind::Can => Carrier::Can,
    }
}

/// Opens the link, and tells what an operator should know of it.
///
/// # Errors
/// When its address is missing or cannot be opened.
pub(super) fn open(drives: &DriveArgs, rig: &Rig) -> Result<Opened, Failure> {
    let carrier = carrier(drives);
    let to = match drives.to.as_deref() {
        None if carrier.has_address() => {
            let example = carrier.example();
            return Err(Failure(format!("where is the far end? give --to, for instance --to {example}")));
        }
        to => to.unwrap_or_default(),
    };
    let opened = drives::open(carrier, to, rig)?;
    opened.notes.iter().for_each(|note| tell(note));
    Ok(opened)
}

/// Checks `profile` and plays it on drives.
///
/// # Errors
/// When something cannot be read or written, is not vouched for, or the run fails.
pub(super) fn run(
    profile: &Path,
    args: &CheckedArgs,
    how: &How,
    on: &On,
    format: Format,
) -> Result<Outcome, Failure> {
    let seat = match on.seat {
        Some(SeatLoad::Vacant) => Load::Vacant,
        Some(SeatLoad::Ballasted) => Load::Ballasted,
        Some(SeatLoad::Occupied) => Load::Occupied,
        None => {
            return Err(Failure("what sits in the seat? give --seat vacant, ballasted or occupied".into()));
        }
    };
    if how.fast {
        return Err(Failure("drives keep the clock's time: --fast is for the simulated rig".into()));
    }
    // Said before anybody takes a seat. A name that was given is not changed: whoever gave it looks for the run there.
    if let Some(path) = how.log.clone().filter(|log| files::is_taken(log)) {
        return Err(files::FileError::Taken { path }.into());
    }
    let full = args.scene.gain.factor();
    let levels = drives::levels(profile)?;
    let rung = Rung { level_db: on.level.unwrap_or(levels.lowest_db()), load: seat };
    drives::level_of(&levels, rung.level_db)?;
    let carrier = carrier(&on.drives);
    let records = Records::of(&args.records.of(profile), carrier);
    let (view, report) = examine_part(profile, &args.scene, (&records, true), rung.part(), format)?;
    super::print(&view, format)?;
    let Some((cleared, report)) = report.and_then(|report| Some((report.clear()?, report))) else {
        tell(&refusal(&view, rung.part()));
        return Ok(Outcome::Findings);
    };
    let rig = cleared.plan().rig().clone();
    caution();
    // What takes long comes first: a far end is not kept waiting for it.
    let (plan, motion) = (player::DrivePlan::of(&cleared)?, motion_hash(&report.plan().at_gain(full)));
    let opened = open(&on.drives, &rig)?;
    let connected = player::connect(opened.link, &rig, false)?;
    let (far, measure, (day, _)) = (connected.far.clone(), connected.measure, today());
    tell(&format!(
        "connected to `{}`, drives {:?}; round trips: half within {} us, 99 % within {} us, the longest {} us",
        far.name, far.serials, measure.median_us, measure.p99_us, measure.longest_us
    ));
    let reason = on.reason.as_deref();
    let under_way = records.under_way()?;
    let (levels, motion) = (&levels, motion.as_str());
    let vouched = vouch(&under_way, &Asked { rung, levels, motion, rig: &rig, far: &far, day, reason })?;
    tell_vouched(&vouched);

    let stem = profile.file_stem().map_or_else(|| "profile".into(), |stem| stem.to_string_lossy());
    let (log, record) = match &how.log {
        Some(log) => (log.clone(), files::make_folder_of(log).and_then(|()| files::create_new(log))?),
        None => files::create_numbered(Path::new(FOLDER), &stem, "mcap")?,
    };
    let record = Record::Mcap(record);
    let entries = head(&view).on_drives(carrier, &vouched, &measure);
    let check = CheckNotes::of(&report, &view.sources);
    let options = Options { fast: false, park_at_end: true, entries, check };
    let (orders, heard) = channel();
    let teller = Teller::start(tell).map_err(|_| Failure("the system gives no thread".into()))?;
    listening::listen(&orders, &rig, opened.hand, &teller);
    let shell = Shell { permit: vouched.permit, orders: &heard, hand: None, by_word: false };
    drives::begin(&records, &vouched, day, &log)?;
    let played = match play(&plan, &rig, connected, &options, &shell, record, &teller) {
        Ok(played) => played,
        Err(error) => {
            drives::never_begun(&records, &vouched, day, &error)?;
            return Err(error.into());
        }
    };
    // Kept before anything is said: a terminal that stands still must not make a trip of it.
    let left = drives::keep(&records, &played, &vouched, (day, report.plan().gain()), &log);
    teller.finish();
    match format {
        Format::Json => say(&json::played(&played, std::slice::from_ref(&log), Some((&vouched, left.kept))))?,
        _ => say(&played::human(&played, std::slice::from_ref(&log)))?,
    }
    left.failed().iter().for_each(|failed| tell(failed));
    match left.kept {
        Kept::Nothing => {}
        Kept::Played => tell(&format!(
            "audition: {}; sign it off with `cueloom audition --records {} --sign \"what you noticed\"`",
            left.kept.words(),
            quoted(&records.folder().display().to_string())
        )),
        kept => tell(&format!("audition: {}", kept.words())),
    }
    outcome(&played, &left)
}

/// What the exit code says of a run. One that an operator ended, by a word or by Ctrl-C, has not failed; one that came to a
/// fault or an emergency stop has, even if that was acknowledged.
fn outcome(played: &Played, left: &Left) -> Result<Outcome, Failure> {
    let fault = played.run.filter(|run| run.is_latched() || run.state() == State::Faulted);
    let early = |cause: Cause| Err(Failure(format!("the run ended early: {}", cause.words())));
    match (fault, played.tripped) {
        (Some(run), _) => early(run.cause()),
        (None, Some(cause)) => early(cause),
        _ if left.not_kept.is_some() => Err(Failure("this run is not in the ladder's file".into())),
        _ if played.played_out => Ok(Outcome::Clean),
        _ => Ok(Outcome::Findings),
    }
}

/// A word for a shell to paste: in single quotes where it holds more than a name's letters.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "/\\:._-".contains(c);
    match word.chars().all(is_plain) {
        true => word.to_string(),
        false => format!("'{}'", word.replace('\'', "'\\''")),
    }
}

fn caution() {
    let [first, rest @ ..] = CAUTIONS;
    tell(&format!("CAUTION  {first}. {}.", rest.join(".\n         ")));
}

/// What keeps the scene back, and what is overridden.
fn tell_vouched(vouched: &Vouched) {
    if let Some(why) = &vouched.void {
        tell(&format!("commissioning record: {why}; nothing will follow a profile, jog and homing only"));
    }
    for why in &vouched.missing {
        tell(&format!("audition: {why}"));
    }
    if let Some(reason) = &vouched.overridden {
        tell(&format!("OVERRIDE  the audition ladder does not let this be played; overridden: {reason}"));
    }
}

fn play(
    plan: &player::DrivePlan<'_>,
    rig: &Rig,
    connected: player::Connected<Box<dyn DriveLink>>,
    options: &Options,
    shell: &Shell<'_>,
    record: Record,
    teller: &Teller,
) -> Result<Played, PlayError> {
    let (mut told, mut counted) = (String::new(), [0; 2]);
    let names: Vec<String> = rig.actuators.iter().map(|leg| leg.name.clone()).collect();
    player::drive(plan, connected, options, shell, record, &mut |now| {
        if let Some((number, words)) = refused(now, &names).filter(|(number, _)| *number != counted) {
            counted = number;
            teller.tell(words);
        }
        let Some(words) = words::of(rig, &names, now).filter(|words| *words != told) else { return };
        teller.tell(words.clone());
        told = words;
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::safety::operation::{Brakes, Event, Inputs, Operation, Request, Seen, Timing, step};

    /// At rest after these events, from a far end that answers.
    fn after(events: &[Event]) -> Operation {
        let seen = Seen {
            link: true,
            inputs: Inputs::CLOSED,
            brakes: Brakes::Set,
            homed: true,
            at_park: true,
            ..Seen::default()
        };
        let first = [Event::Cycle(seen), Event::Ask(Request::Connect)];
        first.iter().chain(events).fold(Operation::new(Timing::of(2000)), |run, event| step(run, *event).0)
    }

    #[test]
    fn who_ends_a_run_has_not_failed_and_a_fault_has_though_it_was_acknowledged() {
        let left = || Left { kept: Kept::Nothing, not_kept: None, not_counted: None };
        let of = |run, played_out, tripped| {
            let played =
                Played { run: Some(run), played_out, tripped, ..crate::player::sample::played_out() };
            outcome(&played, &left())
        };
        let ended = after(&[Event::Ask(Request::Stop)]);
        assert_eq!((ended.state(), ended.is_latched()), (State::Stopped, false));
        assert_eq!(of(ended, false, None), Ok(Outcome::Findings));
        assert_eq!(of(after(&[]), false, None), Ok(Outcome::Findings));
        assert_eq!(of(after(&[]), true, None), Ok(Outcome::Clean));
        let pressed = after(&[Event::Ask(Request::EmergencyStop)]);
        assert!(pressed.is_latched());
        let words = |outcome: Result<Outcome, Failure>| outcome.unwrap_err().0;
        let why = words(of(pressed, false, Some(Cause::EmergencyAsked)));
        assert_eq!(why, "the run ended early: emergency stop asked for");
        let why = words(of(ended, false, Some(Cause::LinkSilent)));
        assert_eq!(why, "the run ended early: the link fell silent");
        let full = Left { not_kept: Some(drives::DriveError::NothingToSign), ..left() };
        let played = Played { run: Some(after(&[])), ..crate::player::sample::played_out() };
        assert_eq!(words(outcome(&played, &full)), "this run is not in the ladder's file");
    }

    #[test]
    fn a_folder_with_a_space_can_be_pasted() {
        assert_eq!(quoted("profiles/records"), "profiles/records");
        assert_eq!(quoted("my profiles/records"), "'my profiles/records'");
        assert_eq!(quoted("Ada's"), r"'Ada'\''s'");
    }
}
