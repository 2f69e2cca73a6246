use super::*;
use proptest::prelude::*;

fn key() -> Key {
    let word = |text: &str| text.to_string();
    Key {
        motion: word("m"),
        rig: word("r"),
        tune: String::new(),
        commissioning: word("c"),
        drives: word("d"),
        program: word("p"),
    }
}

fn rung(level_db: i32, load: Load) -> Rung {
    Rung { level_db, load }
}

fn signed(level_db: i32, load: Load) -> Entry {
    signed_on(level_db, load, 100)
}

/// Played and signed off on one day.
fn signed_on(level_db: i32, load: Load, day: u64) -> Entry {
    Entry::Signed { rung: rung(level_db, load), key: key(), played: day, day, remark: String::new() }
}

/// On the usual levels.
fn missing(entries: &[Entry], rung: Rung, key: &Key, day: u64) -> Vec<String> {
    super::missing(&Levels::default(), entries, rung, key, day)
}

fn begun(drives: &str) -> Entry {
    Entry::Begun { drives: drives.into(), day: 100, record: "a.mcap".into() }
}

fn ended(drives: &str) -> Entry {
    Entry::Ended { drives: drives.into(), day: 100 }
}

/// Every rung signed off, in an order in which that was possible.
fn all() -> Vec<Entry> {
    Load::ALL
        .iter()
        .flat_map(|load| Levels::default().all_db().map(|level| signed(level, *load)).collect::<Vec<_>>())
        .collect()
}

/// Values of 10^(-12/20) and 10^(-6/20): any table of levels.
#[test]
fn a_level_is_a_part_of_full_gain() {
    let part = |level_db| Rung { level_db, load: Load::Vacant }.part();
    assert!((part(-12) - 0.251_189).abs() < 1e-6 && (part(-6) - 0.501_187).abs() < 1e-6);
    assert_eq!(part(0), 1.0);
}

#[test]
fn the_first_rung_is_open_and_every_other_needs_those_below() {
    assert_eq!(missing(&[], rung(-12, Load::Vacant), &key(), 100), [""; 0]);
    assert_eq!(missing(&[], rung(-6, Load::Vacant), &key(), 100), ["-12 dB vacant: not signed off"]);
    assert_eq!(missing(&[], rung(-3, Load::Occupied), &key(), 100), ["-12 dB vacant: not signed off"]);
    // What comes first is named, and no more of it than can be played now.
    let some = [signed(-12, Load::Vacant), signed(-6, Load::Vacant), signed(-12, Load::Ballasted)];
    assert_eq!(
        missing(&some, rung(-3, Load::Occupied), &key(), 100),
        [
            "-12 dB occupied: not signed off",
            "-6 dB ballasted: not signed off",
            "-3 dB vacant: not signed off"
        ]
    );
    assert_eq!(missing(&all(), rung(0, Load::Occupied), &key(), 100), [""; 0]);
    assert!(missing(&all(), rung(-1, Load::Vacant), &key(), 100)[0].contains("no level of the ladder"));
}

#[test]
fn what_changes_the_motion_or_the_machine_voids_and_says_why() {
    let wanted = rung(-6, Load::Vacant);
    let why = |key: &Key, day| missing(&all(), wanted, key, day).join("\n");
    let other = "other".to_string();
    assert!(why(&Key { motion: other.clone(), ..key() }, 100).contains("the motion is another"));
    assert!(why(&Key { rig: other.clone(), ..key() }, 100).contains("the rig file is another"));
    assert!(why(&Key { tune: other.clone(), ..key() }, 100).contains("the tune is another"));
    assert!(why(&Key { commissioning: other.clone(), ..key() }, 100).contains("commissioned anew"));
    assert!(why(&Key { drives: other.clone(), ..key() }, 100).contains("other drives answer"));
    assert!(why(&Key { program: other, ..key() }, 100).contains("another version"));
    assert_eq!(why(&key(), 190), "");
    assert!(why(&key(), 191).contains("91 days old"));
    assert!(why(&key(), 99).contains("in the future"));
}

#[test]
fn a_trip_or_maintenance_returns_to_the_lowest_level() {
    let trip = |drives: &str| Entry::Trip { drives: drives.into(), day: 100, cause: "end switch".into() };
    let mut entries = all();
    entries.push(trip("d"));
    for load in Load::ALL {
        for level in Levels::default().all_db() {
            let open = missing(&entries, rung(level, load), &key(), 100).is_empty();
            assert_eq!(open, (level, load) == (-12, Load::Vacant), "{level} {load:?}");
        }
    }
    assert!(
        missing(&entries, rung(-6, Load::Vacant), &key(), 100)[0].contains("tripped after it: end switch")
    );
    let mut entries = all();
    entries.push(trip("another rig"));
    assert!(missing(&entries, rung(0, Load::Occupied), &key(), 100).is_empty());
    entries.push(Entry::Maintenance { day: 100, remark: "new rod end".into() });
    assert!(missing(&entries, rung(0, Load::Occupied), &key(), 100)[0].contains("new rod end"));
}

#[test]
fn only_a_run_played_out_can_be_signed_and_only_once() {
    let played = Entry::Played { rung: rung(-12, Load::Vacant), key: key(), day: 1, record: "a.mcap".into() };
    assert_eq!(to_sign(&[]), None);
    assert_eq!(to_sign(std::slice::from_ref(&played)).unwrap().rung, rung(-12, Load::Vacant));
    assert_eq!(to_sign(&[played.clone(), signed(-12, Load::Vacant)]), None);
    let trip = Entry::Trip { drives: "d".into(), day: 1, cause: "x".into() };
    assert_eq!(to_sign(&[played.clone(), trip]), None);
    assert_eq!(to_sign(&[begun("d"), played.clone(), ended("d")]).unwrap().day, 1);
    // Who knows what the run after it has done to the rig.
    assert_eq!(to_sign(&[begun("d"), played.clone(), ended("d"), begun("d")]), None);
    assert!(to_sign(&[begun("d"), played, ended("d"), begun("d"), ended("d")]).is_some());
}

#[test]
fn a_rung_that_is_void_by_age_closes_all_above_it() {
    let open = |entries: &[Entry], level_db, day| {
        missing(entries, rung(level_db, Load::Vacant), &key(), day).is_empty()
    };
    let mut entries = vec![
        signed_on(-12, Load::Vacant, 0),
        signed_on(-6, Load::Vacant, 60),
        signed_on(-3, Load::Vacant, 61),
    ];
    assert!(open(&entries, -3, 90) && open(&entries, 0, 90));
    assert!(!open(&entries, -3, 95) && !open(&entries, 0, 95) && open(&entries, -12, 95));
    assert_eq!(
        missing(&entries, rung(0, Load::Vacant), &key(), 95),
        ["-12 dB vacant: the sign-off is void: the run is 95 days old, and 90 are the most"]
    );
    entries.push(signed_on(-12, Load::Vacant, 95));
    assert!(open(&entries, -3, 95) && open(&entries, 0, 95));
}

#[test]
fn an_age_counts_from_the_run_and_not_from_the_signature() {
    let late = Entry::Signed {
        rung: rung(-12, Load::Vacant),
        key: key(),
        played: 10,
        day: 100,
        remark: String::new(),
    };
    let why = |day| missing(std::slice::from_ref(&late), rung(-6, Load::Vacant), &key(), day).join("");
    assert_eq!(why(100), "");
    assert!(why(101).contains("91 days old"), "{}", why(101));
    assert!(why(99).contains("in the future"), "{}", why(99));
}

#[test]
fn a_run_whose_end_nobody_wrote_down_is_a_trip() {
    let first_is = |more: &[Entry]| {
        let entries: Vec<Entry> = all().into_iter().chain(more.iter().cloned()).collect();
        missing(&entries, rung(0, Load::Occupied), &key(), 100).join("")
    };
    assert_eq!(first_is(&[begun("d"), ended("d")]), "");
    assert!(first_is(&[begun("d")]).contains("counts as a trip; what is left of it: a.mcap"));
    // Another run does not end it, and neither does one on other drives.
    assert!(first_is(&[begun("d"), begun("d"), ended("d")]).contains("counts as a trip"));
    assert!(first_is(&[begun("d"), ended("other drives")]).contains("counts as a trip"));
    assert_eq!(first_is(&[begun("other drives"), begun("d"), ended("d")]), "");
    // The one that is under way is none yet; one before it is.
    let way = |more: &[Entry]| without_run_under_way(more.to_vec(), "d");
    assert_eq!(way(&[begun("d"), ended("d"), begun("d")]), [begun("d"), ended("d")]);
    assert_eq!(way(&[begun("d"), ended("d")]), [begun("d"), ended("d")]);
    assert_eq!(way(&[begun("d"), begun("d")]), [begun("d")]);
}

#[test]
fn a_ladder_of_other_levels_counts_only_those_that_it_has_and_asks_for_all_of_them() {
    let missing = |list: &[i32], entries: &[Entry], level_db| {
        super::missing(&Levels::of(list).unwrap(), entries, rung(level_db, Load::Vacant), &key(), 100)
            .join("\n")
    };
    // What was signed off by the usual ladder, on one that has a level more below, or between, or other ones.
    assert_eq!(missing(&[-18, -12, -6, 0], &all(), -12), "-18 dB vacant: not signed off");
    assert_eq!(missing(&[-12, -9, -3, 0], &all(), 0), "-9 dB vacant: not signed off");
    assert_eq!(missing(&[-12, -6, 0], &all(), 0), "");
    let some = [signed(-12, Load::Vacant), signed(-3, Load::Vacant)];
    assert_eq!(missing(&[-10, 0], &some, 0), "-10 dB vacant: not signed off");
    assert!(
        missing(&[-12, -6, 0], &all(), -3).contains("-3 dB is no level of the ladder, which has -12, -6 and")
    );
}

#[test]
fn a_parameter_that_was_changed_and_set_back_takes_no_trip_away() {
    let [was, changed] = ["bench 7,8 00aa 01", "bench 7,8 00bb 02"].map(String::from);
    let key = Key { drives: was.clone(), ..key() };
    let lowest = Entry::Signed {
        rung: rung(-12, Load::Vacant),
        key: key.clone(),
        played: 100,
        day: 100,
        remark: String::new(),
    };
    let why = |more: Entry| {
        super::missing(&Levels::default(), &[lowest.clone(), more], rung(-6, Load::Vacant), &key, 100)
            .join("")
    };
    let trip = |drives: &str| Entry::Trip { drives: drives.into(), day: 100, cause: "end switch".into() };
    assert!(why(trip(&changed)).contains("tripped after it: end switch"));
    assert!(why(begun(&changed)).contains("counts as a trip"));
    assert_eq!(why(trip("bench 7,9 00aa 01")), "", "other drives");
    assert_eq!(why(trip("desk 7,8 00aa 01")), "", "other drives");
    assert_eq!(why(ended(&changed)), "");
}

proptest! {
    /// Whatever is signed off: a rung that is open has everything below it signed, all the way down to the lowest.
    #[test]
    fn no_rung_is_open_without_those_below(keep in proptest::collection::vec(any::<bool>(), 12), at in 0usize..12) {
        let kept: Vec<Entry> = all().into_iter().zip(&keep).filter(|(_, keep)| **keep).map(|(e, _)| e).collect();
        let (level, load) = (at % 4, at / 4);
        let open = missing(&kept, rung([-12, -6, -3, 0][level], Load::ALL[load]), &key(), 100).is_empty();
        // `all` goes load by load, and in each level by level.
        let below = (0..12).filter(|other| other % 4 <= level && other / 4 <= load && *other != at);
        prop_assert_eq!(open, below.into_iter().all(|other| keep[other]));
    }
}
