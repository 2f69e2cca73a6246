//! `play` on drives: what is vouched for, the link, an operator's words on standard input, and what is kept after.

use super::args::{DriveArgs, Format, LinkKind, SceneArgs, SeatLoad};
use super::compile::examine;
use super::ladder::{add_entry, read_commissioning, read_entries};
use super::output::{Failure, Outcome, say, tell};
use super::play::{FOLDER, How, entries, refusal};
use super::{json, played};
use crate::audition::{Entry, Key, Load, Rung, missing, motion_hash};
use crate::files;
#[cfg(feature = "serial")]
use crate::link::can::{self, CanLink};
use crate::link::wire::UdpWire;
use crate::link::{DriveLink, FrameLink};
use crate::player::{self, Options, Order, Played, Record, run_number, today, wait};
use crate::rig::Rig;
use crate::safety::operation::{Brakes, Operation, Permit, Phase, State};
use std::io::BufRead;
use std::path::Path;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Duration;

/// On which drives, and how.
pub(super) struct On {
    /// Which link.
    pub(super) drives: DriveArgs,
    /// dB below full gain.
    pub(super) level: i32,
    /// What sits in the seat.
    pub(super) seat: Option<SeatLoad>,
    /// Why the ladder is overridden.
    pub(super) reason: Option<String>,
}

const CAUTION: &str = "\
CAUTION  legs will move. This program is not a safety function: a hard-wired stop, the drives' own limits and the
         controller's watchdog must hold without it. Keep everybody outside the fence; keep a hand at the stop.
         Follow local rules; have guards, stops and wiring looked at by somebody licensed for it.
";

/// Opens the link.
///
/// # Errors
/// When its address is missing or cannot be opened.
pub(super) fn open(drives: &DriveArgs, rig: &Rig) -> Result<Box<dyn DriveLink>, Failure> {
    if let Some(leg) = rig.actuators.iter().find(|leg| leg.crank.is_some()) {
        return Err(Failure(format!(
            "`{}` is a crank, and drives are sent lengths of ball screws so far: how a crank is homed and counted is not \
             known to this program yet; play it on the simulated rig, or render its set-points to a file",
            leg.name
        )));
    }
    let to = drives.to.as_deref();
    let address = |example: &str| {
        to.ok_or_else(|| Failure(format!("where is the far end? give --to, for instance --to {example}")))
    };
    let (legs, session) = (rig.actuators.len(), run_number());
    // In whole milliseconds, and at least three cycles: one frame may be lost without a stop.
    let silence_ms = (rig.drive.detection_s * 1e3).max(3e-3 * f64::from(rig.drive.cycle_us)).ceil();
    let silence_ms = silence_ms.min(f64::from(u16::MAX)) as u16;
    let failed = |e: std::io::Error| Failure(format!("cannot open the link: {e}"));
    match drives.link {
        LinkKind::Sim => {
            Err(Failure("the simulated rig has no drives: give --link udp, serial or can".into()))
        }
        LinkKind::Udp => {
            let wire = UdpWire::to(address("192.168.7.2:7750")?).map_err(failed)?;
            Ok(Box::new(FrameLink::new(wire, session, legs, silence_ms)))
        }
        #[cfg(feature = "serial")]
        LinkKind::Serial => {
            let wire =
                crate::link::wire::StreamWire::serial(address("/dev/ttyACM0@921600")?).map_err(failed)?;
            Ok(Box::new(FrameLink::new(wire, session, legs, silence_ms)))
        }
        #[cfg(feature = "serial")]
        LinkKind::Can => {
            // What the rig file lacks is said before a port is looked for.
            let usage = can::usage(rig).map_err(|e| Failure(e.to_string()))?;
            let to = address("/dev/ttyACM0")?;
            if !(to.contains(['/', '\\']) || to.to_ascii_uppercase().starts_with("COM")) {
                return Err(Failure(format!(
                    "`{to}` looks like a SocketCAN interface, and those are not spoken to yet: give the serial port of an slcan adapter, for instance --to /dev/ttyACM0"
                )));
            }
            let bit_rate = rig.parts.can.as_ref().map_or(0, |part| part.bit_rate);
            let wire = can::SlcanWire::serial(to, bit_rate).map_err(failed)?;
            let link = CanLink::new(wire, rig).map_err(|e| Failure(e.to_string()))?;
            tell(&format!(
                "CAN at {bit_rate} bit/s: at most {:.0} % of the bus is used; forces and inputs every {} of {} us",
                usage.share * 100.0,
                usage.every,
                rig.drive.cycle_us
            ));
            can::unknown(rig).iter().for_each(|words| tell(&format!("not known: {words}")));
            Ok(Box::new(link))
        }
        #[cfg(not(feature = "serial"))]
        LinkKind::Serial | LinkKind::Can => {
            Err(Failure("this program was built without the feature `serial`".into()))
        }
    }
}

/// Checks `profile` and plays it on drives.
///
/// # Errors
/// When something cannot be read or written, is not vouched for, or the run fails.
pub(super) fn run(
    profile: &Path,
    args: &SceneArgs,
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
    let full = args.gain.factor();
    // An amplitude's level: 20 log10 of its ratio (ISO 80000-1, annex C).
    let level = libm::pow(10.0, f64::from(on.level) / 20.0);
    let (view, report) =
        examine(profile, &SceneArgs { gain: args.gain.times(level), ..args.clone() }, format)?;
    super::print(&view, format)?;
    let Some((cleared, report)) = report.and_then(|report| Some((report.clear()?, report))) else {
        tell(&refusal(&view));
        return Ok(Outcome::Findings);
    };
    let rig = cleared.plan().rig().clone();
    tell(CAUTION);
    let connected = player::connect(open(&on.drives, &rig)?, &rig, false)?;
    let (far, measure, (day, _)) = (connected.far.clone(), connected.measure, today());
    tell(&format!(
        "connected to `{}`, drives {:?}; round trips: half within {} us, 99 % within {} us, the longest {} us",
        far.name, far.serials, measure.median_us, measure.p99_us, measure.longest_us
    ));
    let commissioning = read_commissioning(&on.drives.records)?;
    let void = match &commissioning {
        None => Some("there is none: see `cueloom commission`".to_string()),
        Some(record) => record.void(&rig.hash, &far, day),
    };
    if let Some(why) = &void {
        tell(&format!("commissioning record: {why}; nothing will follow a profile, jog and homing only"));
    }
    let key = Key {
        motion: motion_hash(&report.plan().at_gain(full)),
        rig: rig.hash.clone(),
        tune: String::new(),
        commissioning: commissioning.as_ref().map(|record| record.hash()).unwrap_or_default(),
        drives: far.fingerprint(),
        program: env!("CARGO_PKG_VERSION").to_string(),
    };
    let rung = Rung { level_db: on.level, load: seat };
    let missing = missing(&read_entries(&on.drives.records)?, rung, &key, day);
    for why in &missing {
        tell(&format!("audition: {why}"));
    }
    if let (Some(reason), false) = (&on.reason, missing.is_empty()) {
        tell(&format!("OVERRIDE  the audition ladder does not let this be played; overridden: {reason}"));
        add_entry(&on.drives.records, Entry::Override { rung, day, reason: reason.clone() })?;
    }
    let permit = Permit {
        commissioned: void.is_none(),
        audition: missing.is_empty() || on.reason.is_some(),
        vacant: seat == Load::Vacant,
    };

    let stem = profile.file_stem().map_or_else(|| "profile".into(), |stem| stem.to_string_lossy());
    let log = how.log.clone().unwrap_or_else(|| Path::new(FOLDER).join(format!("{stem}.mcap")));
    files::make_folder_of(&log)?;
    let record = Record::Mcap(files::create(&log)?);
    let mut head = entries(&view);
    head.retain(|(name, _)| name != "link");
    let word = |name: &str, value: String| (name.to_string(), value);
    head.extend([
        word("link", format!("{:?}", on.drives.link).to_lowercase()),
        word("level_db", on.level.to_string()),
        word("seat", seat.word().to_string()),
        word("motion", key.motion.clone()),
        word("override", on.reason.clone().unwrap_or_default()),
        word("round trips", format!("{measure:?}")),
    ]);
    let options = Options { fast: false, park_at_end: true, entries: head };
    let (orders, heard) = channel();
    listen(&orders, &rig);
    let played = play(&cleared, connected, &options, permit, &heard, record)?;
    keep(&played, rung, &key, day, on, &log)?;
    match format {
        Format::Json => say(&json::played(&played, std::slice::from_ref(&log)))?,
        _ => say(&played::human(&played, std::slice::from_ref(&log)))?,
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

/// Whether a fault or an emergency stop came up at any time is not in the last state alone; so it was counted.
fn keep(played: &Played, rung: Rung, key: &Key, day: u64, on: &On, log: &Path) -> Result<(), Failure> {
    let records = &on.drives.records;
    if let Some(cause) = played.tripped {
        let cause = cause.words().to_string();
        add_entry(records, Entry::Trip { drives: key.drives.clone(), day, cause })?;
        tell("audition: this run was tripped: the ladder begins at -12 dB, seat vacant, again");
        return Ok(());
    }
    let parked = played.run.is_some_and(|run| run.state() == State::Parked);
    if played.played_out && parked && played.interventions == 0 && played.log_error.is_none() {
        let record = log.display().to_string();
        add_entry(records, Entry::Played { rung, key: key.clone(), day, record })?;
        tell("audition: played to its end; sign it off with `cueloom audition --sign \"what you noticed\"`");
    }
    Ok(())
}

fn play(
    cleared: &crate::check::Cleared,
    connected: player::Connected<Box<dyn DriveLink>>,
    options: &Options,
    permit: Permit,
    orders: &Receiver<Order>,
    record: Record,
) -> Result<Played, Failure> {
    let mut told = String::new();
    let rig = cleared.plan().rig();
    let names: Vec<String> = rig.actuators.iter().map(|leg| leg.name.clone()).collect();
    let played = player::drive(cleared, connected, options, permit, orders, record, &mut |now| {
        let Some(run) = &now.run else { return };
        let cause = now.cause.map_or_else(String::new, |cause| format!("\n  cause: {}", cause.words(&names)));
        let words = format!("{}{cause}{}", words(run), stands(rig, run, &now.legs_m));
        if words != told {
            tell(&words);
            told = words;
        }
    });
    Ok(played?)
}

/// Where the run is, why, and what could be done next.
pub(super) fn words(run: &Operation) -> String {
    let phase = match run.phase() {
        Phase::Rest if run.seen().brakes == Brakes::Set => "brakes on",
        Phase::Rest => "drives off, brakes not known to be on",
        Phase::Standing if run.state() == State::Faulted => "held by the drives, brakes not known to be on",
        Phase::Standing => "standing, brakes off",
        Phase::Warning { .. } => "WARNING: about to move",
        Phase::Releasing { .. } => "brakes opening",
        Phase::Moving => "MOVING",
        Phase::Stopping { .. } => "stopping",
        Phase::Setting { .. } => "brakes closing",
    };
    let options: Vec<&str> = run.options().map(|request| request.word()).collect();
    let look = run.cause().look_at();
    let look = if look.is_empty() { String::new() } else { format!("\n  look: {look}") };
    let blocked: Vec<&str> =
        [crate::safety::operation::Request::Start, crate::safety::operation::Request::Home]
            .into_iter()
            .filter(|_| run.phase() == Phase::Rest)
            .filter_map(|request| run.refusal(request))
            .map(|why| why.words())
            .collect();
    let next = match (options.is_empty(), blocked.first()) {
        (true, Some(why)) => format!("first: {why}"),
        (true, None) => "wait".to_string(),
        (false, _) => options.join(", "),
    };
    let start = crate::safety::operation::Request::Start;
    let not_now = match run.refusal(start) {
        Some(why) if run.state() == State::Parked && run.phase() == Phase::Rest => {
            format!("\n  not now: start: {}", why.words())
        }
        _ => String::new(),
    };
    format!("{}: {phase}: {}{look}{not_now}\n  next: {next}", run.state().word(), run.cause().words())
}

/// At rest: where the legs are, and the platform by them.
fn stands(rig: &Rig, run: &Operation, legs_m: &[f64]) -> String {
    if run.phase() != Phase::Rest {
        return String::new();
    }
    let legs = rig.actuators.iter().zip(legs_m).map(|(leg, at)| format!("{} {:.1} mm", leg.name, at * 1e3));
    let mut parts: Vec<String> = legs.collect();
    if let Ok(pose) = crate::rig::kinematics::forward(rig, legs_m, &vec![0.0; rig.axes.len()]) {
        parts.extend(rig.axes.iter().zip(pose.iter()).map(|(axis, value)| {
            let value = value * crate::motion::sign(axis.axis);
            if axis.axis.is_rotation() {
                format!("{} {:.2} deg", axis.axis.word(), value.to_degrees())
            } else {
                format!("{} {:.1} mm", axis.axis.word(), value * 1e3)
            }
        }));
    }
    format!("\n  stands: {}", parts.join(", "))
}

/// Words on standard input become orders, and so does Ctrl-C; a person's words, and none of them moves anything without
/// the presence input held after it.
fn listen(orders: &Sender<Order>, rig: &Rig) {
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
    let (orders, legs) = (orders.clone(), rig.actuators.iter().map(|a| a.name.clone()).collect::<Vec<_>>());
    let listener = std::thread::Builder::new().name("words".to_string());
    let spawned = listener.spawn(move || {
        for line in std::io::stdin().lock().lines() {
            let Ok(line) = line else { break };
            match order(&line, &legs) {
                Some(Spoken::Once(order)) => _ = orders.send(order),
                Some(Spoken::Jog(leg, part, seconds)) => {
                    // The warning and the brakes come first.
                    for _ in 0..((seconds + 3.5) * 10.0) as u32 {
                        let _ = orders.send(Order::Jog(leg, part));
                        wait(Duration::from_millis(100));
                    }
                    let _ = orders.send(Order::Pause);
                }
                None => tell(&format!("`{}` is not a word that is known here", line.trim())),
            }
        }
        // Nobody can speak any more: the run ends on its path.
        let _ = orders.send(Order::End);
    });
    if spawned.is_err() {
        tell("words on standard input are not heard: only Ctrl-C and the inputs are");
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
