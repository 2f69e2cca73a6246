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
    Entry::Signed { rung: rung(level_db, load), key: key(), day: 100, remark: String::new() }
}

/// Every rung signed off, in an order in which that was possible.
fn all() -> Vec<Entry> {
    Load::ALL.iter().flat_map(|load| LEVELS_DB.iter().map(|level| signed(*level, *load))).collect()
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
    assert_eq!(
        missing(&[], rung(-3, Load::Occupied), &key(), 100),
        ["-6 dB occupied: not signed off", "-3 dB ballasted: not signed off"]
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
        for level in LEVELS_DB {
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
    assert_eq!(to_sign(std::slice::from_ref(&played)).unwrap().0, rung(-12, Load::Vacant));
    assert_eq!(to_sign(&[played.clone(), signed(-12, Load::Vacant)]), None);
    let trip = Entry::Trip { drives: "d".into(), day: 1, cause: "x".into() };
    assert_eq!(to_sign(&[played, trip]), None);
}

proptest! {
    /// However entries are shuffled or thinned: a rung that is open has everything below it signed, all the way down
    /// to the lowest, or had when it was signed itself.
    #[test]
    fn no_rung_is_open_without_those_below(keep in proptest::collection::vec(any::<bool>(), 12), at in 0usize..12) {
        let kept: Vec<Entry> = all().into_iter().zip(&keep).filter(|(_, keep)| **keep).map(|(e, _)| e).collect();
        let wanted = rung(LEVELS_DB[at % 4], Load::ALL[at / 4]);
        let open = missing(&kept, wanted, &key(), 100).is_empty();
        let has = |rung: Rung| kept.iter().any(|e| matches!(e, Entry::Signed { rung: found, .. } if *found == rung));
        prop_assert_eq!(open, below(wanted).into_iter().all(has));
    }
}
