//! The program stands still for a while (SIGSTOP) and goes on (SIGCONT) while a scene plays: as on a computer that is
//! suspended or starved. Legs ride through it or come to rest; nothing jumps, nothing begins by itself, and the record
//! blames the computer and not the link.

use super::bench::{Program, Truth};
use super::desk::{CONTROLLED_M_S2, Desk, ends_at_rest, inside};
use super::faults::until_rest;
use super::states::{State, pass};
use super::together::all_at_once;
use cueloom::record::{Logged, LoggedCycle, read_container};
use std::process::Command;

const LATE: &str = "this computer served its cycles too late";

fn signal(program: &Program, name: &str) {
    let id = program.child.id().to_string();
    assert!(Command::new("kill").args([name, &id]).status().unwrap().success());
}

/// What was done to a run, and what came of it.
struct Frozen {
    truth: Vec<Truth>,
    logged: Logged,
    said: String,
    /// Words told to the bench: just before, just after, and before presence was taken hold of again.
    words: [u32; 3],
}

impl Frozen {
    /// Frozen for `ms` while following.
    fn for_ms(ms: u64) -> Self {
        let desk = Desk::new();
        let mut bench = desk.bench("udp", &[]);
        let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
        State::Following.reach(&mut bench, &mut program);
        let before = bench.say("belt 1");
        signal(&program, "-STOP");
        pass(ms);
        let after = bench.say("belt 1");
        signal(&program, "-CONT");
        pass(2000);
        let again = bench.say("presence 0");
        pass(200);
        bench.say("presence 1");
        pass(700);
        program.say("end");
        program.end();
        let bytes = std::fs::read(desk.folder.path().join("run.mcap")).unwrap();
        let logged = read_container(&bytes).unwrap();
        assert!(!logged.cut_off);
        Self { truth: bench.end(), logged, said: program.said(), words: [before, after, again] }
    }

    fn said(&self, words: &str) -> bool {
        self.logged.events.iter().any(|(_, event)| event.contains(words))
    }

    /// What must be true however long it was.
    fn looks_well(&self) {
        ends_at_rest(&self.truth);
        inside(&self.truth, CONTROLLED_M_S2);
        // The scene's own 0.1 m/s^2, what the far end went on wrongly by, and a stop from 15 mm/s. Set-points that step back
        // to where the program stood still turn a leg around: 4 m/s^2.
        let from = self.truth.iter().position(|row| row.words >= self.words[0]).unwrap();
        let (_, hardest_m_s2) = inside(&self.truth[from..], CONTROLLED_M_S2);
        assert!(hardest_m_s2 < 2.0, "{hardest_m_s2}");
        let fastest = self.truth[from..]
            .iter()
            .flat_map(|row| row.speed_m_s)
            .fold(0.0, |most, speed| speed.abs().max(most));
        assert!(fastest < State::Following.speed_m_s(), "{fastest}\n{}", self.said);
        // With drives off set-points are put where legs stand; as long as they lead there is no step in them.
        let leads = |pair: &&[LoggedCycle]| pair.iter().all(|cycle| cycle.run == "following");
        for pair in self.logged.cycles.windows(2).filter(leads) {
            let steps = pair[0].sent_m.iter().zip(&pair[1].sent_m).map(|(a, b)| (a - b).abs());
            let step_m = steps.fold(0.0, f64::max);
            assert!(step_m < 0.25 * 0.002, "{step_m} m at {} s", pair[1].time_s);
        }
        assert!(
            !self.said("the link fell silent") && !self.said("the far end heard nothing"),
            "{}",
            self.said
        );
    }

    /// Stopped, and nothing began again, though presence was let go and taken hold of.
    fn stands(&self) {
        assert!(self.said(LATE), "{}", self.said);
        let after = self.truth.iter().filter(|row| row.words >= self.words[2]);
        let begun = after.into_iter().find(|row| row.warning || row.power || !row.braked);
        assert!(begun.is_none(), "{begun:?}\n{}", self.said);
    }
}

/// The link's patience is 200 ms here, and the far end's own.
pub(crate) fn a_program_that_stands_still_for_a_while_jumps_nowhere_and_blames_itself() {
    let runs = all_at_once(&[100, 200, 300, 2000], |&ms| (ms, Frozen::for_ms(ms)));
    for (ms, run) in runs {
        run.looks_well();
        if ms >= 200 {
            run.stands();
            let (rest_s, way_m) = until_rest(&run.truth, run.words[0]);
            assert!(rest_s < 1.0 && way_m < 0.025 * 0.35, "{ms} ms: {rest_s} s, {way_m} m");
        } else {
            // Rides through, and how late it was stands in the record.
            assert!(run.said("following to holding") && !run.said(LATE), "{}", run.said);
            let late = |cycle: &LoggedCycle| u64::from(cycle.late_us) >= 900 * ms;
            assert!(run.logged.cycles.iter().any(late), "{ms} ms");
        }
    }
}
