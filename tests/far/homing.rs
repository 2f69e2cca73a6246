//! Homing from wherever brakes have left the legs: no leg run alone rolls the platform further than it stands rolled at the
//! start, whether its switch works or not.

use super::bench::Truth;
use super::desk::{CONTROLLED_M_S2, Desk, beside_others, ends_at_rest, inside_from};
use super::states::pass;
use super::together::all_at_once;

/// One leg stands so much further out; the word that breaks something, what is said at the end, and how much further apart
/// legs may come, m.
const CASES: [(f64, &str, &str, f64); 4] = [
    (60.0, "belt 1", "holding: brakes on: the reference was found", 0.0005),
    (-60.0, "belt 1", "holding: brakes on: the reference was found", 0.0005),
    // It looks closed: the leg goes off it by the way that a switch may need, 11.5 mm, and no further.
    (60.0, "switch 2", "faulted: brakes on", 0.0120),
    (-60.0, "switch 1", "faulted: brakes on", 0.0120),
];

fn apart_m(row: &Truth) -> f64 {
    (row.at_m[0] - row.at_m[1]).abs()
}

#[test]
fn homing_from_legs_that_stand_apart_rolls_no_further_than_they_stand() {
    let _shared = beside_others();
    all_at_once(&CASES, |&(apart_mm, word, says, more_m)| {
        let desk = Desk::new();
        let (start, apart) = (format!("{}", 510.0 - 0.5 * apart_mm), apart_mm.to_string());
        let mut bench = desk.bench("udp", &["--not-homed", "--start-mm", &start, "--apart-mm", &apart]);
        let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
        let at = program.wait_for("\nconnected: brakes on", 0);
        program.say("home");
        pass(200);
        bench.say(word);
        bench.say("presence 1");
        let at = program.wait_for("homing: MOVING", at);
        program.wait_for(says, at);
        program.say("end");
        program.end();
        let truth = bench.end();
        ends_at_rest(&truth);
        inside_from(0.430, &truth, CONTROLLED_M_S2);
        let widest_m = truth.iter().map(apart_m).fold(0.0, f64::max);
        let most_m = 1e-3 * apart_mm.abs() + more_m;
        assert!(
            widest_m <= most_m,
            "{apart_mm} mm, `{word}`: {widest_m} m apart, expected at most {most_m} m"
        );
        if more_m < 0.001 {
            let last = truth.last().unwrap();
            assert!(apart_m(last) < 0.001 && last.at_m[0] < 0.445, "both back off their ends: {last:?}");
        }
    });
}
