use super::*;
use crate::audition::{Key, Levels, Load, Rung, missing, to_sign};
use crate::link::{FarEnd, LinkFault};
use crate::player::sample;
use crate::safety::operation::{
    Brakes, Cause, Event, Inputs, Operation, Permit, Request, Seen, Timing, step,
};

const DAY: u64 = 20_000;

fn key() -> Key {
    let word = |text: &str| text.to_string();
    let (motion, rig, commissioning) = (word("m"), word("r"), word("c"));
    Key { motion, rig, tune: String::new(), commissioning, drives: word("d"), program: word("p") }
}

fn vouched(level_db: i32, overridden: Option<&str>) -> Vouched {
    Vouched {
        key: key(),
        rung: Rung { level_db, load: Load::Vacant },
        void: None,
        missing: Vec::new(),
        overridden: overridden.map(str::to_string),
        permit: Permit { commissioned: true, audition: true, vacant: true },
    }
}

/// A run that was played to its end and stands parked.
fn played_out() -> Played {
    let seen = Seen {
        link: true,
        inputs: Inputs::CLOSED,
        brakes: Brakes::Set,
        homed: true,
        at_park: true,
        ..Seen::default()
    };
    let events = [Event::Cycle(seen), Event::Ask(Request::Connect)];
    let run = events.into_iter().fold(Operation::new(Timing::of(2000)), |run, event| step(run, event).0);
    assert_eq!(run.state(), State::Parked);
    Played { run: Some(run), strayed_m: Some(vec![0.0002, 0.0003]), ..sample::played_out() }
}

/// A folder of records in which -12 dB, seat vacant, is signed off.
fn first_signed(folder: &Path) -> Records {
    let records = Records::at(&folder.join("records"));
    let (rung, remark) = (Rung { level_db: -12, load: Load::Vacant }, String::new());
    records.add(Entry::Signed { rung, key: key(), played: DAY, day: DAY, remark }).unwrap();
    records
}

/// Whether -6 dB is open, or why not.
fn second(records: &Records) -> Vec<String> {
    missing(
        &Levels::default(),
        &records.entries().unwrap(),
        Rung { level_db: -6, load: Load::Vacant },
        &key(),
        DAY,
    )
}

fn log() -> &'static Path {
    Path::new("run.mcap")
}

#[test]
fn a_run_that_was_begun_and_never_ended_is_a_trip_and_one_that_ended_is_none() {
    let folder = tempfile::tempdir().unwrap();
    let records = first_signed(folder.path());
    assert_eq!(second(&records), [""; 0]);
    let vouched = vouched(-6, None);
    begin(&records, &vouched, DAY, log()).unwrap();
    // Killed here.
    let why = second(&records).join("\n");
    assert!(why.contains("never written down") && why.contains("run.mcap"), "{why}");
    // It was not; the run ends, and can be signed off.
    let left = keep(&records, &played_out(), &vouched, (DAY, 0.5), log());
    assert_eq!((left.kept, left.failed()), (Kept::Played, Vec::new()));
    assert_eq!(second(&records), [""; 0]);
    assert_eq!(to_sign(&records.entries().unwrap()).unwrap().rung.level_db, -6);
}

#[test]
fn nothing_is_a_trip_where_nothing_can_have_moved() {
    let folder = tempfile::tempdir().unwrap();
    let records = first_signed(folder.path());
    let vouched = vouched(-6, None);
    begin(&records, &vouched, DAY, log()).unwrap();
    never_begun(&records, &vouched, DAY, &PlayError::Link(LinkFault::Silent)).unwrap();
    assert_eq!(second(&records), [""; 0]);
    begin(&records, &vouched, DAY, log()).unwrap();
    never_begun(&records, &vouched, DAY, &PlayError::Thread("cycle")).unwrap();
    assert!(second(&records).join("").contains("never written down"));
}

#[test]
fn a_trip_that_cannot_be_written_down_is_one_all_the_same_and_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let records = first_signed(folder.path());
    let vouched = vouched(-6, None);
    begin(&records, &vouched, DAY, log()).unwrap();
    let file = records.folder().join("audition.jsonl");
    let before = std::fs::read_to_string(&file).unwrap();
    // As unreadable as it gets, for a reader and a writer.
    std::fs::remove_file(&file).unwrap();
    std::fs::create_dir(&file).unwrap();
    let played = Played { tripped: Some(Cause::LinkSilent), ..played_out() };
    let left = keep(&records, &played, &vouched, (DAY, 0.5), log());
    assert_eq!(left.kept, Kept::Tripped);
    assert!(left.failed()[0].contains("counts as a trip"), "{:?}", left.failed());
    std::fs::remove_dir(&file).unwrap();
    std::fs::write(&file, before).unwrap();
    assert!(second(&records).join("").contains("never written down"));
}

#[test]
fn a_run_at_a_lowered_gain_is_not_its_level_and_its_legs_did_not_stray_as_at_it() {
    let folder = tempfile::tempdir().unwrap();
    let records = first_signed(folder.path());
    let (vouched, count) = (vouched(-6, None), records.entries().unwrap().len());
    let left = keep(&records, &Played { least_gain: 0.1, ..played_out() }, &vouched, (DAY, 0.5), log());
    assert_eq!(left.kept, Kept::Lowered(0.1));
    assert!(left.kept.words().contains("lowered to 0.1"), "{}", left.kept.words());
    let entries = records.entries().unwrap();
    assert_eq!(entries[count..], [Entry::Ended { drives: "d".into(), day: DAY }]);
    assert_eq!(to_sign(&entries), None);
    // At its gain it is, and they did.
    keep(&records, &played_out(), &vouched, (DAY, 0.5), log());
    let entries = records.entries().unwrap();
    let strayed = Strayed { gain_ppm: 500_000, legs_um: vec![200, 300] };
    assert_eq!(entries[count + 1], Entry::Strayed { key: key(), day: DAY, strayed });
    assert!(to_sign(&entries).is_some());
}

#[test]
fn a_run_that_was_played_out_and_counts_for_nothing_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let records = first_signed(folder.path());
    let kept = |played: Played| keep(&records, &played, &vouched(-6, None), (DAY, 0.5), log()).kept;
    let not_parked = Operation::new(Timing::of(2000));
    for (played, why, words) in [
        (Played { run: Some(not_parked), ..played_out() }, Unfit::NotParked, "did not end parked"),
        (Played { interventions: 3, ..played_out() }, Unfit::HeldBack(3), "held back in 3 cycles"),
        (Played { log_error: Some("full".into()), ..played_out() }, Unfit::RecordBroken, "not whole"),
    ] {
        let found = kept(played);
        assert_eq!(found, Kept::Unfit(why));
        assert!(found.words().contains(words) && found.words().contains("cannot be signed off"), "{found:?}");
    }
    assert_eq!(to_sign(&records.entries().unwrap()), None);
    assert_eq!(kept(Played { played_out: false, ..played_out() }), Kept::Nothing);
}

/// The drives as the far end says who it is: with another parameter they are the same drives.
#[test]
fn a_trip_with_other_parameters_counts_when_they_are_set_back() {
    let folder = tempfile::tempdir().unwrap();
    let records = Records::at(folder.path());
    let far = |parameters| FarEnd {
        name: "a bench".into(),
        legs: 2,
        cycle_us: 2000,
        firmware: 1,
        parameters,
        serials: vec![7, 8],
    };
    let of = |parameters| {
        let key = Key { drives: far(parameters).fingerprint(), ..key() };
        Vouched { key, ..vouched(-12, None) }
    };
    keep(&records, &played_out(), &of(1), (DAY, 0.25), log());
    records.sign("nothing", DAY, None).unwrap();
    let why = || {
        let rung = Rung { level_db: -6, load: Load::Vacant };
        missing(&Levels::default(), &records.entries().unwrap(), rung, &of(1).key, DAY).join("")
    };
    assert_eq!(why(), "");
    let tripped = Played { tripped: Some(Cause::LinkSilent), ..played_out() };
    keep(&records, &tripped, &of(2), (DAY, 0.25), log());
    assert!(why().contains("tripped after it: the link fell silent"), "{}", why());
}

#[test]
fn an_overridden_run_cannot_be_signed_off() {
    let folder = tempfile::tempdir().unwrap();
    let records = first_signed(folder.path());
    let left = keep(&records, &played_out(), &vouched(0, Some("a show")), (DAY, 1.0), log());
    assert_eq!(left.kept, Kept::Overridden);
    assert!(matches!(records.sign("nothing", DAY, None), Err(DriveError::NothingToSign)));
}

#[test]
fn a_run_is_signed_off_while_it_is_young_and_ages_from_its_own_day() {
    let folder = tempfile::tempdir().unwrap();
    let records = Records::at(folder.path());
    keep(&records, &played_out(), &vouched(-12, None), (DAY, 0.25), log());
    let late = records.sign("nothing", DAY + 91, None).unwrap_err().to_string();
    assert!(late.contains("91 days old") && late.contains("play the level again"), "{late}");
    records.sign("nothing", DAY + 80, None).unwrap();
    let rung = Rung { level_db: -6, load: Load::Vacant };
    let why = |day| missing(&Levels::default(), &records.entries().unwrap(), rung, &key(), day).join("");
    assert_eq!(why(DAY + 90), "");
    assert!(why(DAY + 91).contains("91 days old"), "{}", why(DAY + 91));
}
