use super::*;
use crate::audition::{Key, Load, Rung};

const DAY: u64 = 20_000;

fn records() -> (tempfile::TempDir, Records) {
    let folder = tempfile::tempdir().unwrap();
    let records = Records::at(&folder.path().join("records"));
    (folder, records)
}

fn played(record: &str) -> Entry {
    let word = |word: &str| word.to_string();
    let key = Key {
        motion: word("m"),
        rig: word("r"),
        tune: word(""),
        commissioning: word("c"),
        drives: word("d"),
        program: word("p"),
    };
    Entry::Played { rung: Rung { level_db: -12, load: Load::Vacant }, key, day: DAY, record: word(record) }
}

#[test]
fn many_who_write_at_once_lose_nothing_of_each_other() {
    let (_folder, records) = records();
    let wear = |n: u64| Wear { runs: n, ..Wear::default() };
    let sweep = Sweep { legs: Vec::new(), tap_hz: None, of: "d".into() };
    std::thread::scope(|scope| {
        for thread in 0..4 {
            let (records, sweep) = (records.clone(), sweep.clone());
            scope.spawn(move || {
                for n in 0..25 {
                    records.add(Entry::Maintenance { day: thread * 100 + n, remark: "x".into() }).unwrap();
                    records.worn(&wear(1)).unwrap();
                    records.keep_sweep(n, &sweep).unwrap();
                }
            });
        }
    });
    let entries = records.entries().unwrap();
    assert_eq!(
        (entries.len(), records.wear().unwrap().runs, records.sweeps().unwrap().len()),
        (100, 100, 100)
    );
    let mut days: Vec<u64> = entries
        .iter()
        .map(|entry| match entry {
            Entry::Maintenance { day, .. } => *day,
            other => panic!("{other:?}"),
        })
        .collect();
    days.sort_unstable();
    days.dedup();
    assert_eq!(days.len(), 100);
}

#[test]
fn whoever_does_not_let_go_is_named_and_nothing_hangs_or_is_lost() {
    let (_folder, records) = records();
    records.add(played("a.mcap")).unwrap();
    let held = records.alone().unwrap();
    let refused = records.add(played("b.mcap")).unwrap_err().to_string();
    assert!(refused.contains("writing.lock` is held by another program"), "{refused}");
    drop(held);
    assert_eq!(records.entries().unwrap(), [played("a.mcap")]);
}

#[test]
fn work_is_noted_only_while_no_run_is_under_way_that_would_not_hear_of_it() {
    let (_folder, records) = records();
    let nothing = records.maintain("new belt", DAY).unwrap_err().to_string();
    assert!(nothing.contains("no run is noted in"), "{nothing}");
    records.add(played("a.mcap")).unwrap();
    let [one, other] = [(); 2].map(|()| records.under_way().unwrap());
    drop(one);
    let refused = records.maintain("new belt", DAY).unwrap_err().to_string();
    assert!(refused.starts_with("not noted: a run on drives is under way"), "{refused}");
    assert_eq!(records.entries().unwrap().len(), 1);
    drop(other);
    records.maintain(" new belt\n", DAY).unwrap();
    let noted = Entry::Maintenance { day: DAY, remark: "new belt".into() };
    assert_eq!(records.entries().unwrap(), [played("a.mcap"), noted]);
}

#[test]
fn what_is_signed_is_named_and_nothing_is_signed_without_a_word() {
    let (_folder, records) = records();
    records.add_all([played("a.mcap"), played("b.mcap")]).unwrap();
    for empty in ["", "  \t"] {
        let refused = records.sign(empty, DAY, None).unwrap_err().to_string();
        assert!(refused.starts_with("what was noticed of the run is empty"), "{refused}");
        let refused = records.maintain(empty, DAY).unwrap_err().to_string();
        assert!(refused.starts_with("what was done to the rig is empty"), "{refused}");
    }
    assert_eq!(records.entries().unwrap().len(), 2);
    // One who was shown another run has not looked at this one.
    let newest = to_sign(&records.entries().unwrap()).unwrap();
    let shown = Unsigned { record: "a.mcap".into(), ..newest.clone() };
    let refused = records.sign("nothing", DAY, Some(&shown)).unwrap_err().to_string();
    assert!(refused.contains("another run was played since") && refused.contains("`b.mcap`"), "{refused}");
    assert_eq!(records.entries().unwrap().len(), 2);
    assert_eq!(records.sign(" nothing ", DAY, Some(&newest)).unwrap().record, "b.mcap");
    assert!(matches!(&records.entries().unwrap()[2], Entry::Signed { remark, .. } if remark == "nothing"));
}

#[test]
fn a_bad_line_is_said_once_and_what_to_do_with_it() {
    let (_folder, records) = records();
    records.add_all([played("a.mcap"), played("b.mcap")]).unwrap();
    let path = records.ladder_file();
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text + "{\"kind\":\"danced\"}\n").unwrap();
    let refused = records.entries().unwrap_err().to_string();
    assert!(refused.contains("audition.jsonl line 3: unknown variant `danced`"), "{refused}");
    assert!(refused.contains("take that line out") && !refused.contains("line 1"), "{refused}");
}
