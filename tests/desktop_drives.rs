//! The desktop program on a real far end, the reference receiver in C: what one chooses and holds there, and what legs do
//! by it. Every stop is looked at where the legs are, not only on the screen.

#![cfg(all(feature = "gui-test", unix))]
#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

mod desktop {
    pub(crate) mod desk;
}
mod far {
    #[allow(dead_code, reason = "shared with the tests of whole runs by words")]
    pub(crate) mod bench;
    #[cfg(feature = "serial")]
    pub(crate) mod can_rig;
    #[allow(dead_code, reason = "shared with the tests of whole runs by words")]
    pub(crate) mod desk;
    pub(crate) mod driven;
}

use cueloom::audition::{Entry, Load, Rung};
use cueloom::desk::drives::ladder::Standing as Rungs;
use cueloom::desk::studio::Mode;
use cueloom::player::wait;
use cueloom::record::{LoggedCycle, read_container};
use egui::{Event, Key, Modifiers};
use egui_kittest::kittest::Queryable;
use far::bench::Truth;
use far::desk::{CONTROLLED_M_S2, alone, ends_at_rest, inside};
use far::driven::Driven;
use std::time::Duration;

/// Rows between two marks.
fn between(truth: &[Truth], from: u32, to: u32) -> Vec<Truth> {
    truth.iter().copied().filter(|row| row.words >= from && row.words < to).collect()
}

/// Where there is an output, what is heard keeps up with the path; where there is none, that is said, and the scene is
/// played all the same.
fn is_heard_or_said_not_to_be(driven: &Driven) {
    let record = std::fs::read(driven.far.folder.path().join("records/runs/small-1.mcap")).unwrap();
    let cycles = read_container(&record).unwrap().cycles;
    if !driven.sees("no sound: ") {
        // Let go in between: what is heard at the scene's end began anew.
        let off_s = |cycle: &LoggedCycle| Some(cycle.heard_s? - cycle.path_s);
        let mut last: Vec<f64> = cycles.iter().rev().filter_map(off_s).take(250).collect();
        last.sort_unstable_by(f64::total_cmp);
        // Legs come some 55 ms after their set-points by this rig's file and on this bench; 40 ms either way are left.
        assert!(last.len() == 250 && (-0.095..-0.015).contains(&last[125]), "{last:?}");
    }
}

fn moves(rows: &[Truth]) -> bool {
    rows.iter().any(|row| row.speed_m_s.iter().any(|speed| speed.abs() > 1e-3))
}

/// From a mark on: how long until legs are still and braked, s.
fn rest_s(truth: &[Truth], from: u32) -> f64 {
    let rows: Vec<&Truth> = truth.iter().filter(|row| row.words >= from).collect();
    let busy = |row: &&Truth| row.speed_m_s.iter().any(|speed| speed.abs() > 1e-3) || !row.braked;
    let last = rows.iter().rposition(busy).expect("it moved at the mark");
    rows[last].time_s - rows[0].time_s
}

#[test]
fn a_level_is_played_by_choice_and_hold_from_park_to_park_and_signed_off() {
    let _alone = alone();
    let mut driven = Driven::new(&[]).connected();
    assert_eq!(driven.studio().mode(), Mode::OnDrives);
    assert!(driven.studio().title().starts_with("ON THE DRIVES, parked: brakes on"));
    for words in ["On the drives", "STOP", "Hold", "not a safety function", "parked: brakes on", "Because: "]
    {
        assert!(driven.sees(words), "{words}");
    }
    assert!(driven.desk.harness.query_all_by_label_contains("Text of ").next().is_none(), "no editor");
    driven.desk.harness.check_accessibility();
    // Holding without a choice, and a choice while holding.
    let begun = driven.mark();
    driven.down();
    driven.pass(400);
    driven.press("Play the scene");
    driven.pass(4500);
    assert!(driven.sees("let go first, then take hold"), "{:?}", driven.studio().drives.shown());
    driven.up();
    driven.pass(500);
    assert!(driven.sees("take hold of F2"));
    // The rig's own presence input has a say too.
    driven.bench.say("presence 0");
    driven.pass(300);
    driven.down();
    driven.pass(400);
    assert!(driven.sees("the rig's own presence input is open"));
    driven.up();
    driven.bench.say("presence 1");
    driven.pass(200);
    let held = driven.mark();
    driven.down();
    driven.until_state("following: MOVING");
    driven.pass(600);
    let let_go = driven.mark();
    driven.up();
    driven.until_state("holding: brakes on");
    assert!(driven.sees("Because: the presence input was let go"));
    driven.pass(200);
    let again = driven.mark();
    driven.down();
    driven.pass(4500);
    driven.up();
    driven.pass(100);
    let on = driven.mark();
    driven.hold_until("Go on", |studio| {
        studio.drives.shown().is_some_and(|shown| shown.cause.contains("played to its end") && !shown.moving)
    });
    driven.up();
    driven.until_state("holding: brakes on");
    driven.hold_until("Park", |studio| {
        studio.drives.over().is_some() || studio.drives.state().is_some_and(|state| state.contains("parked"))
    });
    driven.until("the session's end", |studio| studio.drives.over().is_some());
    driven.up();
    assert_eq!(driven.studio().mode(), Mode::Writing);
    assert!(driven.sees("-12 dB vacant, the run of `") && driven.sees("was played to its end: sign it off?"));
    // Signed off by what was noticed, and the rung above is open.
    let standing = |driven: &Driven, level_db| {
        let rung = Rung { level_db, load: Load::Vacant };
        driven.studio().drives.ladder().cell(rung).map(|cell| cell.standing)
    };
    assert_eq!(standing(&driven, -6), Some(Rungs::Closed));
    driven.focus_below("Noticed");
    driven.desk.harness.event(Event::Text("a knock on the left".to_string()));
    driven.desk.harness.run_steps(2);
    assert_eq!(driven.studio().drives.remark, "a knock on the left");
    driven.press_below("Sign off");
    assert_eq!([-12, -6].map(|db| standing(&driven, db)), [Some(Rungs::Signed), Some(Rungs::Open)]);
    let entries = driven.records().entries().unwrap();
    assert!(matches!(&entries[0], Entry::Begun { record, .. } if record.ends_with("small-1.mcap")));
    assert!(matches!(&entries[1], Entry::Strayed { .. }));
    assert!(matches!(&entries[2], Entry::Played { record, .. } if record.ends_with("small-1.mcap")));
    assert!(matches!(&entries[3], Entry::Ended { .. }));
    assert!(matches!(&entries[4], Entry::Signed { remark, .. } if remark == "a knock on the left"));
    // The command line reads the same ladder, and the record.
    assert!(driven.far.run(&["audition"]).contains("signed off  -12 dB vacant  a knock on the left"));
    assert!(driven.far.run(&["log", "records/runs/small-1.mcap"]).contains("following to"));
    is_heard_or_said_not_to_be(&driven);
    let truth = driven.end();
    ends_at_rest(&truth);
    let (speed, _) = inside(&truth, CONTROLLED_M_S2);
    assert!(speed > 0.005, "{speed}");
    assert!(!moves(&between(&truth, begun, held)), "moved without a choice and a hand after it");
    assert!(moves(&between(&truth, held, let_go)) && moves(&between(&truth, on, u32::MAX)));
    assert!(!moves(&between(&truth, again, on)), "holding again is no choice");
    assert!(rest_s(&between(&truth, let_go, again), let_go) < 1.2);
    let first = truth.iter().position(|row| row.speed_m_s[0].abs() > 1e-3).unwrap();
    assert!(truth[..first].iter().any(|row| row.warning) && truth[first].brakes == [false, false]);
}

#[test]
fn simulated_drives_need_no_far_end_and_are_not_taken_for_others() {
    let _alone = alone();
    let mut driven = Driven::new(&[]);
    driven.press("sim");
    assert!(driven.desk.harness.query_by_label("Far end").is_none());
    driven.press("Connect");
    driven.until_state("parked: brakes on");
    assert!(driven.studio().title().starts_with("ON SIMULATED DRIVES"), "{}", driven.studio().title());
    assert!(driven.sees("nothing real moves"));
    // What was commissioned on steel vouches for nothing here.
    assert!(driven.sees("commission"));
    let park = driven.studio().drives.progress().unwrap().legs_m;
    driven.hold_until_state("Longer", "jogging: MOVING");
    driven.pass(500);
    let way_m = driven.studio().drives.progress().unwrap().legs_m[1] - park[1];
    assert!(way_m > 0.001, "where the legs are is shown while they move: {way_m}");
    driven.up();
    driven.until_state("brakes on");
    let stand = driven.studio().drives.progress().unwrap().legs_m;
    driven.pass(600);
    assert_eq!(driven.studio().drives.progress().unwrap().legs_m, stand, "nothing goes on by itself");
    driven.desk.harness.key_press(Key::Escape);
    driven.until_state("stopped: brakes on");
    let truth = driven.end();
    assert!(!moves(&truth), "the far end that was not chosen heard nothing");
}

#[test]
fn a_window_without_the_keys_and_stop_over_a_dialog_rest_in_place() {
    let _alone = alone();
    let mut driven = Driven::new(&[]).connected();
    driven.follow();
    let lost = driven.mark();
    driven.focus(false);
    driven.until_state("holding: brakes on");
    let back = driven.mark();
    // The key is still down when the window gets the keys again.
    driven.focus(true);
    driven.down();
    driven.pass(4500);
    driven.up();
    driven.pass(200);
    let on = driven.mark();
    driven.hold_until_state("Go on", "following: MOVING");
    driven.desk.harness.key_press(Key::F1);
    driven.pass(200);
    assert!(driven.sees("Ctrl+Q") && driven.state().contains("following: MOVING"), "{}", driven.state());
    let stop = driven.mark();
    driven.desk.harness.key_down(Key::Escape);
    driven.desk.harness.step();
    // A key that stays down is pressed once.
    for _ in 0..3 {
        driven.desk.harness.event(Event::Key {
            key: Key::Escape,
            physical_key: None,
            pressed: true,
            repeat: true,
            modifiers: Modifiers::NONE,
        });
        driven.desk.harness.step();
    }
    driven.until_state("stopped: brakes on");
    driven.desk.harness.key_up(Key::Escape);
    assert!(driven.sees("Because: asked to stop") && !driven.sees("Ctrl+Q"));
    assert!(driven.sees("the run is over: only park and jog are left"));
    // The key was never let go; and what is left begins by a choice and a hand after it.
    let still = driven.mark();
    driven.pass(600);
    driven.up();
    let jog = driven.mark();
    driven.hold_until_state("Longer", "jogging: MOVING");
    driven.pass(500);
    driven.desk.harness.key_press(Key::F1);
    driven.pass(200);
    assert!(driven.sees("Ctrl+Q") && driven.state().contains("jogging: MOVING"), "{}", driven.state());
    let button = driven.mark();
    // Pressed, and never let go: it acts at once, above the dialog.
    let at = driven.desk.harness.get_by_label("STOP").rect().center();
    driven.desk.harness.hover_at(at);
    driven.desk.harness.drag_at(at);
    driven.desk.harness.step();
    driven.until_state("stopped: brakes on");
    driven.pass(300);
    let truth = driven.end();
    ends_at_rest(&truth);
    inside(&truth, CONTROLLED_M_S2);
    for (name, from, to) in
        [("keys lost", lost, back), ("stop by key", stop, still), ("stop by button", button, u32::MAX)]
    {
        let rest_s = rest_s(&between(&truth, from, to), from);
        assert!(rest_s < 1.2, "{name}: {rest_s} s");
    }
    assert!(!moves(&between(&truth, back, on)), "moved when the keys came back");
    assert!(!moves(&between(&truth, still, jog)), "moved after STOP");
    assert!(moves(&between(&truth, on, stop)) && moves(&between(&truth, jog, button)));
}

#[test]
#[cfg(feature = "serial")]
fn a_serial_line_is_the_same_from_the_window() {
    let _alone = alone();
    follows_and_is_let_go(Driven::over("serial", &[]), CONTROLLED_M_S2);
}

/// Drives of others, over CANopen; their own loops are harder than the receiver's.
#[test]
#[cfg(feature = "serial")]
fn can_drives_are_the_same_from_the_window() {
    let _alone = alone();
    follows_and_is_let_go(Driven::over_can(), 25.0);
}

fn follows_and_is_let_go(driven: Driven, hardest_m_s2: f64) {
    let mut driven = driven.connected();
    driven.follow();
    let let_go = driven.mark();
    driven.up();
    driven.until_state("holding: brakes on");
    driven.press("Leave the drives");
    driven.until("the session's end", |studio| studio.drives.over().is_some());
    let truth = driven.end();
    ends_at_rest(&truth);
    inside(&truth, hardest_m_s2);
    assert!(rest_s(&truth, let_go) < 1.2);
}

#[test]
fn stop_pressed_twice_brakes_at_once_and_wants_to_be_acknowledged() {
    let _alone = alone();
    let mut driven = Driven::new(&[]).connected();
    driven.follow();
    let stop = driven.mark();
    for _ in 0..2 {
        driven.desk.harness.key_press(Key::Escape);
        driven.desk.harness.step();
    }
    driven.until_state("stopped: brakes on");
    driven.up();
    let still = driven.mark();
    assert!(driven.sees("Because: emergency stop"), "{:?}", driven.studio().drives.shown());
    assert!(driven.sees("Acknowledge it, which moves nothing"));
    driven.press("Longer");
    driven.down();
    driven.pass(4500);
    driven.up();
    driven.press("Acknowledge");
    driven.until_state("holding: brakes on");
    // At rest there is nothing to brake at once, however often it is pressed.
    for _ in 0..3 {
        driven.desk.harness.key_press(Key::Escape);
        driven.desk.harness.step();
    }
    driven.until_state("stopped: brakes on");
    driven.pass(300);
    assert!(!driven.sees("Acknowledge it"), "{:?}", driven.studio().drives.shown());
    let jog = driven.mark();
    driven.hold_until_state("Longer", "jogging: MOVING");
    driven.pass(300);
    driven.up();
    let truth = driven.end();
    ends_at_rest(&truth);
    inside(&truth, CONTROLLED_M_S2);
    let rest_s = rest_s(&between(&truth, stop, still), stop);
    assert!(rest_s < 1.2, "{rest_s} s");
    assert!(!moves(&between(&truth, still, jog)), "moved before it was acknowledged");
    assert!(moves(&between(&truth, jog, u32::MAX)));
}

#[test]
fn a_closed_rung_is_not_played_and_an_override_is_loud() {
    let _alone = alone();
    let mut driven = Driven::new(&[]);
    driven.press("-6 dB");
    driven.connect();
    assert!(driven.sees("The scene cannot be played: the audition ladder does not let this level be played"));
    assert!(driven.sees("audition: -12 dB vacant: not signed off"));
    driven.press("Play the scene");
    driven.down();
    driven.pass(4500);
    driven.up();
    assert_eq!(driven.state(), "parked: brakes on");
    driven.press("Leave the drives");
    driven.until("the session's end", |studio| studio.drives.over().is_some());
    let setup = &mut driven.desk.harness.state_mut().as_mut().unwrap().studio_mut().drives.setup;
    setup.reason = "a test".to_string();
    driven.connect();
    assert!(driven.sees("OVERRIDE: the audition ladder does not let this be played; overridden: a test"));
    let rung = Rung { level_db: -6, load: Load::Vacant };
    let mut entries = driven.records().entries().unwrap();
    entries.retain(|entry| matches!(entry, Entry::Override { .. }));
    assert!(
        matches!(&entries[..], [Entry::Override { rung: r, reason, .. }] if *r == rung && reason == "a test")
    );
    driven.press("Leave the drives");
    driven.until("the session's end", |studio| studio.drives.over().is_some());
    assert_eq!(driven.studio().drives.setup.reason, "", "a reason is for one run");
    let truth = driven.end();
    assert!(!moves(&truth) && truth.iter().all(|row| row.braked && !row.power && !row.warning));
}

#[test]
fn homing_is_held_and_a_window_that_goes_away_comes_to_rest_first() {
    let _alone = alone();
    let mut driven = Driven::new(&["--not-homed", "--start-mm", "460"]).connected();
    assert!(driven.state().starts_with("connected"), "{}", driven.state());
    driven.choose("Home");
    // By the area, not the key; the pointer slides off it.
    let at = driven.desk.harness.get_by_label("Hold").rect().center();
    driven.desk.harness.hover_at(at);
    driven.desk.harness.drag_at(at);
    driven.until_state("homing: MOVING");
    driven.pass(400);
    let off = driven.mark();
    driven.desk.harness.hover_at(at - egui::vec2(0.0, 300.0));
    driven.until_state("connected: brakes on");
    driven.desk.harness.drop_at(at - egui::vec2(0.0, 300.0));
    driven.pass(100);
    let again = driven.mark();
    driven.hold_until("Home", |studio| {
        studio.drives.shown().is_some_and(|shown| shown.cause == "the reference was found" && !shown.moving)
    });
    driven.up();
    driven.until_state("brakes on");
    driven.press("right");
    driven.hold_until_state("Longer", "jogging: MOVING");
    driven.pass(500);
    // Asked to close, it first comes to rest, and then closes.
    let close = driven.mark();
    let input = driven.desk.harness.input_mut();
    input.viewports.entry(egui::ViewportId::ROOT).or_default().events.push(egui::ViewportEvent::Close);
    driven.desk.harness.step();
    assert!(driven.sees("The window closes when the run has come to rest"));
    driven.until("the session's end", |studio| studio.drives.over().is_some());
    let truth = driven.end();
    ends_at_rest(&truth);
    // Homing goes onto the switches at the short ends, at creep.
    let fastest =
        truth.iter().flat_map(|row| row.speed_m_s).fold(0.0, |most: f64, speed| most.max(speed.abs()));
    assert!(fastest > 0.015 && fastest < 0.03, "{fastest}");
    assert!(rest_s(&between(&truth, off, again), off) < 1.2 && rest_s(&truth, close) < 1.2);
}

#[test]
fn a_window_that_is_gone_stops_what_moves() {
    let _alone = alone();
    let mut driven = Driven::new(&[]).connected();
    driven.follow();
    let gone = driven.mark();
    // As by a panic of the window: nothing is asked, all is dropped.
    let truth = driven.end();
    ends_at_rest(&truth);
    inside(&truth, CONTROLLED_M_S2);
    assert!(moves(&between(&truth, gone, u32::MAX)) && rest_s(&truth, gone) < 1.2);
}

#[test]
fn a_window_that_freezes_is_taken_to_have_let_go() {
    let _alone = alone();
    let mut driven = Driven::new(&[]).connected();
    driven.follow();
    let frozen = driven.mark();
    wait(Duration::from_millis(1500));
    driven.desk.harness.key_press_modifiers(Modifiers::NONE, Key::F5);
    driven.pass(4500);
    assert_eq!(driven.state(), "holding: brakes on");
    assert!(!driven.studio().drives.holds() && driven.studio().drives.is_spent(), "still down, and spent");
    let truth = driven.end();
    ends_at_rest(&truth);
    inside(&truth, CONTROLLED_M_S2);
    assert!(rest_s(&truth, frozen) < 1.5, "{}", rest_s(&truth, frozen));
}

#[test]
fn the_steps_of_a_commissioning_are_asked_where_legs_can_be_jogged() {
    let _alone = alone();
    let mut driven = Driven::new(&[]);
    let record = driven.records().folder().join("commissioning.json");
    std::fs::remove_file(&record).unwrap();
    driven.connect();
    assert!(driven.sees("no commissioning record holds for this rig and these drives"));
    assert!(driven.sees("no scene is played, jog and homing only"));
    driven.desk.harness.get_by_label("By").focus();
    driven.desk.harness.run_steps(2);
    driven.desk.harness.event(Event::Text("Ada".to_string()));
    driven.desk.harness.run_steps(2);
    driven.press("Begin the steps");
    assert!(driven.sees("1 of ") && driven.sees("is the seat empty"));
    driven.press("yes");
    assert!(driven.sees("2 of "));
    // STOP is there from a text field too; the steps end with the run.
    driven.desk.harness.key_press(Key::Escape);
    driven.until_state("stopped: brakes on");
    driven.press("no");
    assert!(driven.sees("nothing was kept") && !record.exists());
    driven.press("Leave the drives");
    driven.until("the session's end", |studio| studio.drives.over().is_some());
    assert!(!moves(&driven.end()));
}

#[test]
fn the_daily_test_of_the_brakes_asks_what_each_held() {
    let _alone = alone();
    let mut driven = Driven::new(&[]).connected();
    let app = driven.desk.harness.state_mut().as_mut().unwrap();
    app.studio_mut().drives.steps.by = "Ada".to_string();
    driven.pass(40);
    driven.press_below("Test the brakes");
    assert!(driven.sees("1 of 2: brake of left") && driven.sees("at least"));
    driven.press_below("It moved");
    assert!(driven.sees("brake of left: answered `no`") && driven.sees("nothing was kept"));
}

#[test]
fn where_brakes_are_not_confirmed_the_window_names_the_way_out_and_closes_when_asked_twice() {
    let _alone = alone();
    let mut driven = Driven::new(&[]).connected();
    driven.follow();
    driven.bench.say("stick 1");
    driven.until_state("held by the drives, brakes not known to be on");
    driven.up();
    assert!(driven.sees("press the hard-wired stop") && driven.sees("Closing the window twice"));
    let close = |driven: &mut Driven| {
        let input = driven.desk.harness.input_mut();
        input.viewports.entry(egui::ViewportId::ROOT).or_default().events.push(egui::ViewportEvent::Close);
        driven.desk.harness.step();
        let output = &driven.desk.harness.output().viewport_output[&egui::ViewportId::ROOT];
        !output.commands.contains(&egui::ViewportCommand::CancelClose)
    };
    // A double click is one wish.
    assert!(!close(&mut driven) && !close(&mut driven), "held back");
    assert!(driven.sees("Closed once more it goes at once"));
    driven.pass(1500);
    assert!(driven.studio().drives.is_engaged());
    assert!(close(&mut driven), "asked again, it closes");
    assert!(!driven.studio().drives.is_engaged());
    let truth = driven.end();
    assert!(
        truth.last().unwrap().braked && truth.last().unwrap().speed_m_s.iter().all(|speed| *speed == 0.0)
    );
}
