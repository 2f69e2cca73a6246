//! `play` on drives: what is vouched for, the link, an operator's words on standard input, and what is kept after.

use super::args::{CheckedArgs, DriveArgs, Format, LinkKind, SeatLoad};
use super::compile::examine_part;
use super::output::{Failure, Outcome, say, tell};
use super::play::{FOLDER, How, head, refusal};
use super::{json, played};
use crate::audition::{LEVELS_DB, Load, Rung, motion_hash};
use crate::drives::{
    self, Asked, CAUTIONS, Carrier, Kept, Opened, Records, Standing, Vouched, stands, vouch,
};
use crate::files;
use crate::link::{DriveLink, SimAct, SimHand};
use crate::player::{self, Options, Order, Played, Record, Shell, today, wait};
use crate::record::CheckNotes;
use crate::rig::Rig;
use crate::safety::operation::{Operation, Phase, State};
use std::io::BufRead;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Sender, channel};
use std::time::Duration;

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
    let rung = Rung { level_db: on.level.unwrap_or(LEVELS_DB[0]), load: seat };
    let carrier = carrier(&on.drives);
    let records = Records::of(&args.records, carrier);
    let (view, report) = examine_part(profile, &args.scene, (&records, true), rung.part(), format)?;
    super::print(&view, format)?;
    let Some((cleared, report)) = report.and_then(|report| Some((report.clear()?, report))) else {
        tell(&refusal(&view));
        return Ok(Outcome::Findings);
    };
    let rig = cleared.plan().rig().clone();
    caution();
    let opened = open(&on.drives, &rig)?;
    let connected = player::connect(opened.link, &rig, false)?;
    let (far, measure, (day, _)) = (connected.far.clone(), connected.measure, today());
    tell(&format!(
        "connected to `{}`, drives {:?}; round trips: half within {} us, 99 % within {} us, the longest {} us",
        far.name, far.serials, measure.median_us, measure.p99_us, measure.longest_us
    ));
    let motion = motion_hash(&report.plan().at_gain(full));
    let reason = on.reason.as_deref();
    let vouched = vouch(&records, &Asked { rung, motion: &motion, rig: &rig.hash, far: &far, day, reason })?;
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
    listen(&orders, &rig, opened.hand);
    let shell = Shell { permit: vouched.permit, orders: &heard, hand: None, by_word: false };
    let played = play(&cleared, connected, &options, &shell, record)?;
    // How it ended is said whatever becomes of the ladder's file.
    match format {
        Format::Json => say(&json::played(&played, std::slice::from_ref(&log)))?,
        _ => say(&played::human(&played, std::slice::from_ref(&log)))?,
    }
    let left = drives::keep(&records, &played, &vouched, (day, report.plan().gain()), &log)?;
    left.not_counted.iter().for_each(|error| tell(&format!("the wear of this run was not counted: {error}")));
    match left.kept {
        Kept::Nothing => {}
        Kept::Tripped => tell(&format!("audition: {}", Kept::Tripped.words())),
        Kept::Played => tell(&format!(
            "audition: {}; sign it off with `cueloom audition --records {} --sign \"what you noticed\"`",
            Kept::Played.words(),
            records.folder().display()
        )),
    }
    match played.run.map(|run| (run.state(), run.cause())) {
        Some((State::Faulted | State::Stopped, cause)) if !played.played_out || is_fault(&played) => {
            Err(Failure(format!("the run ended early: {}", cause.words())))
        }
        _ if played.played_out => Ok(Outcome::Clean),
        _ => Ok(Outcome::Findings),
    }
}

fn is_fault(played: &Played) -> bool {
    played.run.is_some_and(|run| run.is_latched() || run.state() == State::Faulted)
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
    cleared: &crate::check::Cleared,
    connected: player::Connected<Box<dyn DriveLink>>,
    options: &Options,
    shell: &Shell<'_>,
    record: Record,
) -> Result<Played, Failure> {
    let mut told = String::new();
    let rig = cleared.plan().rig();
    let names: Vec<String> = rig.actuators.iter().map(|leg| leg.name.clone()).collect();
    let played = player::drive(cleared, connected, options, shell, record, &mut |now| {
        let Some(run) = &now.run else { return };
        let cause = now.cause.map_or_else(String::new, |cause| format!("\n  cause: {}", cause.words(&names)));
        let words = format!("{}{cause}{}", words(run), at_rest(rig, run, &now.legs_m));
        if words != told {
            tell(&words);
            told = words;
        }
    });
    Ok(played?)
}

/// Where the run is, why, and what could be done next.
fn words(run: &Operation) -> String {
    let Standing { state, phase, cause, look, not_now, next } = Standing::of(run);
    let look = if look.is_empty() { String::new() } else { format!("\n  look: {look}") };
    let not_now = not_now.map_or_else(String::new, |why| format!("\n  not now: start: {why}"));
    format!("{state}: {phase}: {cause}{look}{not_now}\n  next: {next}")
}

/// At rest: where the legs are, and the platform by them.
fn at_rest(rig: &Rig, run: &Operation, legs_m: &[f64]) -> String {
    if run.phase() != Phase::Rest {
        return String::new();
    }
    format!("\n  stands: {}", stands(rig, legs_m).join(", "))
}

/// Words on standard input become orders, and so does Ctrl-C; a person's words, and none of them moves anything without
/// the presence input held after it. To simulated drives more can be done by words.
fn listen(orders: &Sender<Order>, rig: &Rig, mut hand: Option<SimHand>) {
    let stop = orders.clone();
    let handled = ctrlc::set_handler(move || {
        tell("\nslowing to a stop on the path, brakes on, then the end ...");
        let _ = stop.send(Order::End);
    });
    if let Err(error) = handled {
        tell(&format!("Ctrl-C will end this program at once, and the far end will stop by itself: {error}"));
    }
    tell(
        "words: start, pause, resume, park, home, jog all|LEG +|- SECONDS, stop, emergency, acknowledge, gain X, end",
    );
    if hand.is_some() {
        tell(&format!("what can be done to the simulated drives: {}", SimAct::WORDS));
    }
    let (orders, legs) = (orders.clone(), rig.actuators.iter().map(|a| a.name.clone()).collect::<Vec<_>>());
    let listener = std::thread::Builder::new().name("words".to_string());
    // How many words were spoken: a jog goes on until the next.
    let spoken = Arc::new(AtomicU64::new(0));
    let spawned = listener.spawn(move || {
        for line in std::io::stdin().lock().lines() {
            let Ok(line) = line else { break };
            let number = spoken.fetch_add(1, Ordering::SeqCst) + 1;
            match order(&line, &legs) {
                Some(Spoken::Once(order)) => _ = orders.send(order),
                Some(Spoken::Jog(leg, part, seconds)) => {
                    let (orders, spoken) = (orders.clone(), spoken.clone());
                    // Words are heard meanwhile.
                    let jogging = std::thread::Builder::new().name("jog".to_string());
                    let last = move || spoken.load(Ordering::SeqCst) == number;
                    if jogging.spawn(move || say_jog(&orders, leg, part, seconds, &last)).is_err() {
                        tell("no jog: the system gives no thread for it");
                    }
                }
                None => tell(&match (hand.as_mut(), SimAct::from_words(&line, &legs)) {
                    (Some(hand), Some(act)) => match hand.act(act) {
                        true => format!("done: {}", line.trim()),
                        false => format!("too late for `{}`: the run is over", line.trim()),
                    },
                    _ => format!("`{}` is not a word that is known here", line.trim()),
                }),
            }
        }
        // Nobody can speak any more: the run ends on its path.
        let _ = orders.send(Order::End);
    });
    if spawned.is_err() {
        tell("words on standard input are not heard: only Ctrl-C and the inputs are");
    }
}

/// Says a jog again and again, as a hand on a button does, while no other word is spoken.
fn say_jog(orders: &Sender<Order>, leg: Option<usize>, part: f64, seconds: f64, last: &dyn Fn() -> bool) {
    // The warning and the brakes come first.
    for _ in 0..((seconds + 3.5) * 10.0) as u32 {
        if !last() {
            return;
        }
        let _ = orders.send(Order::Jog(leg, part));
        wait(Duration::from_millis(100));
    }
    if last() {
        let _ = orders.send(Order::Pause);
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Spoken {
    Once(Order),
    Jog(Option<usize>, f64, f64),
}

fn order(line: &str, legs: &[String]) -> Option<Spoken> {
    let mut words = line.split_whitespace();
    let order = match words.next()? {
        "start" => Order::Start,
        "pause" => Order::Pause,
        "resume" => Order::Resume,
        "park" => Order::Park,
        "home" => Order::Home,
        "stop" => Order::Stop,
        "emergency" => Order::EmergencyStop,
        "acknowledge" => Order::Reset,
        "end" => Order::End,
        "gain" => Order::Gain(words.next()?.parse().ok()?),
        "jog" => {
            let leg = words.next()?;
            let leg = if leg == "all" { None } else { Some(legs.iter().position(|name| name == leg)?) };
            let part = match words.next()? {
                "+" => 1.0,
                "-" => -1.0,
                _ => return None,
            };
            let seconds: f64 = words.next()?.parse().ok()?;
            return (seconds > 0.0 && seconds <= 10.0).then_some(Spoken::Jog(leg, part, seconds));
        }
        _ => return None,
    };
    words.next().is_none().then_some(Spoken::Once(order))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_become_orders_and_nothing_else_does() {
        let legs = ["left".to_string(), "right".to_string()];
        assert_eq!(order("park", &legs), Some(Spoken::Once(Order::Park)));
        assert_eq!(order(" jog right - 2 ", &legs), Some(Spoken::Jog(Some(1), -1.0, 2.0)));
        assert_eq!(order("jog all + 0.5", &legs), Some(Spoken::Jog(None, 1.0, 0.5)));
        for wrong in
            ["", "parking", "park now", "jog", "jog middle + 1", "jog all + 60", "jog all up 1", "gain"]
        {
            assert_eq!(order(wrong, &legs), None, "{wrong}");
        }
    }
}
