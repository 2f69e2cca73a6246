//! Ctrl-C while legs move: it is a stop like any other, and the program ends by itself once the brakes are on.

use super::desk::{CONTROLLED_M_S2, Desk, beside_others, ends_at_rest, inside};
use super::faults::until_rest;
use super::states::State;
use super::unconfirmed::interrupt;
use cueloom::audition::Entry;
use cueloom::drives::Records;
use cueloom::record::read_container;

#[test]
fn ctrl_c_while_legs_move_brings_them_to_rest_on_their_path_and_ends_with_brakes_on() {
    let _shared = beside_others();
    let desk = Desk::new();
    let mut bench = desk.bench("udp", &[]);
    let mut program = desk.play("udp", &bench.address.clone(), "-12dB", &[]);
    let at = State::Following.reach(&mut bench, &mut program);
    // A word that changes nothing, by which its moment is found in what the legs did.
    let word = bench.say("belt 1");
    interrupt(&program);
    let at = program.wait_for("following: stopping: asked to stop", at);
    program.wait_for("stopped: brakes on: asked to stop", at);
    // The presence input is held all the while.
    assert_eq!(program.end(), Some(1), "{}", program.said());
    let truth = bench.end();
    ends_at_rest(&truth);
    inside(&truth, CONTROLLED_M_S2);
    let after = truth.iter().filter(|row| row.words >= word);
    let fastest = after.flat_map(|row| row.speed_m_s).fold(0.0, |most: f64, speed| most.max(speed.abs()));
    assert!(fastest > 2e-3, "legs moved when it came: {fastest} m/s");
    // Along the path in half a second, and brakes: not the silence of a program that is gone.
    let (rest_s, way_m) = until_rest(&truth, word);
    assert!(rest_s < 1.2 && way_m < 0.6 * State::Following.speed_m_s() + 0.0005, "{rest_s} s, {way_m} m");
    assert!(truth.iter().all(|row| row.fault == 0 && row.state != 5), "the far end stopped by itself");
    let logged = read_container(&std::fs::read(desk.folder.path().join("run.mcap")).unwrap()).unwrap();
    let said = |words: &str| logged.events.iter().any(|(_, event)| event.contains(words));
    assert!(!logged.cut_off && said("asked to stop"), "{:?}", logged.events);
    assert_eq!(logged.cycles.last().unwrap().run, "stopped");
    // It was no fault, and nobody has to begin the ladder anew for it.
    let entries = Records::at(&desk.folder.path().join("records")).entries().unwrap();
    let ended = matches!(entries.last(), Some(Entry::Ended { .. }));
    assert!(ended && !entries.iter().any(|entry| matches!(entry, Entry::Trip { .. })), "{entries:?}");
}
