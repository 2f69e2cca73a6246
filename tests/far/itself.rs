//! What the program and its computer can suffer, besides being killed: all of it side by side, in one test, for each case
//! waits for tens of seconds and works for less than one.

use super::desk::beside_others;
use super::together::at_once;
use super::{clock, frozen, records};

type Suffered = (&'static str, fn());

/// The longest first.
const ALL: [Suffered; 8] = [
    ("a record that nobody takes", records::a_record_that_nobody_takes_stalls_no_cycle_and_ends_the_run),
    ("no more files", records::files_that_run_out_under_way_stop_nothing_and_what_cannot_be_kept_is_said),
    ("stands still", frozen::a_program_that_stands_still_for_a_while_jumps_nowhere_and_blames_itself),
    ("wall clock", clock::a_wall_clock_that_jumps_moves_nothing_and_times_nothing),
    ("disk fills up", records::a_disk_that_fills_up_ends_the_run_along_its_path_and_is_named),
    ("few files", records::with_one_file_for_the_record_it_plays_and_has_one),
    ("disk full from the first", records::without_a_record_nothing_begins),
    ("no file for a record", records::where_no_record_can_be_begun_it_is_said_and_nothing_moves),
];

/// `CUELOOM_ONLY="disk" cargo test --test drives itself` looks at those whose names hold that.
#[test]
#[cfg(target_os = "linux")]
fn what_the_program_itself_suffers_ends_at_rest_and_is_said() {
    let _shared = beside_others();
    let only = std::env::var("CUELOOM_ONLY").unwrap_or_default();
    let chosen: Vec<_> = ALL.into_iter().filter(|(name, _)| name.contains(&only)).collect();
    assert!(!chosen.is_empty(), "none is called `{only}`");
    at_once(6, &chosen, |(name, case)| {
        eprintln!("{name}");
        case();
    });
}
