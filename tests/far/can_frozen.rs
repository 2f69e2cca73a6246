//! The program stands still for a while (SIGSTOP) on CAN drives, which take set-points as they come: it goes on one at a
//! time, or the drives have stopped by themselves.

use super::bench::Truth;
use super::can_desk::CanDesk;
use super::can_rig::rig;
use super::desk::{CONTROLLED_M_S2, alone, ends_at_rest, inside};
use super::states::{State, pass};
use super::together::all_at_once;
use cueloom::record::{Logged, LoggedCycle, read_container};
use std::process::Command;

const LATE: &str = "this computer served its cycles too late";

/// Frozen for `ms` while following: what legs did, the record, and the words just before and just after.
fn frozen(ms: u64) -> (Vec<Truth>, Logged, [u32; 2]) {
    let desk = CanDesk::new(&rig());
    let (mut bench, mut program, _) = desk.reach(State::Following, &[]);
    let id = program.child.id().to_string();
    let signal = |name: &str| assert!(Command::new("kill").args([name, &id]).status().unwrap().success());
    let before = bench.say("belt 1");
    signal("-STOP");
    pass(ms);
    let after = bench.say("belt 1");
    signal("-CONT");
    pass(1000);
    bench.say("presence 0");
    pass(1500);
    program.say("end");
    program.end();
    let logged = read_container(&std::fs::read(desk.folder().join("run.mcap")).unwrap()).unwrap();
    (bench.end(), logged, [before, after])
}

#[test]
fn a_stall_is_followed_by_no_burst_of_set_points() {
    let _alone = alone();
    // Silence is noticed after 200 ms, and the last sign of life may have been 66 ms old already.
    let runs = all_at_once(&[80, 110, 400], |&ms| (ms, frozen(ms)));
    for (ms, (truth, logged, [before, after])) in runs {
        ends_at_rest(&truth);
        inside(&truth, CONTROLLED_M_S2);
        assert_eq!(truth.last().unwrap().fault, 0, "a leg fell");
        // All that were missed would come within some milliseconds: 16 of 80 ms, 22 of 110 ms. Some do when Python is late itself.
        let hurried = |word: u32, s: f64| {
            let from = truth.iter().find(|row| row.words >= word).unwrap();
            let to = truth.iter().rfind(|row| row.time_s < from.time_s + s).unwrap();
            to.state - from.state
        };
        eprintln!("{ms} ms: {} SYNCs in a hurry in 0.2 s", hurried(after, 0.2));
        assert!(hurried(after, 0.2) < 8, "{ms} ms: {}", hurried(after, 0.2));
        // No leg is where it would be without the stall: a step is a cycle's way at most.
        let leads = |pair: &&[LoggedCycle]| pair.iter().all(|cycle| cycle.run == "following");
        for pair in logged.cycles.windows(2).filter(leads) {
            let steps = pair[0].sent_m.iter().zip(&pair[1].sent_m).map(|(a, b)| (a - b).abs());
            let step_m = steps.fold(0.0, f64::max);
            assert!(step_m < State::Following.speed_m_s() * 0.005, "{step_m} m at {} s", pair[1].time_s);
        }
        let said = |words: &str| logged.events.iter().any(|(_, event)| event.contains(words));
        let from = truth.iter().find(|row| row.words >= before).unwrap().time_s;
        let rests = truth.iter().find(|row| row.time_s > from && row.braked);
        if ms == 400 {
            assert!(said(LATE), "{:?}", logged.events);
            assert!(rests.unwrap().time_s - from < 0.8, "{} s", rests.unwrap().time_s - from);
        } else {
            // It rode through, until presence was let go a second later.
            assert!(said("deadlines set anew") && !said(LATE), "{ms} ms: {:?}", logged.events);
            assert!(said("following to holding") && rests.unwrap().time_s - from > 1.0, "{ms} ms");
        }
    }
}
