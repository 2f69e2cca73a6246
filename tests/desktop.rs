//! The desktop program's panels, driven by their accessible names, without a window: what one sees and presses.

#![cfg(feature = "gui-test")]
#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

mod desktop {
    pub(crate) mod desk;
}

use cueloom::desk::studio::{Mode, Standing};
use cueloom::lang::tree::Line;
use cueloom::scenario::{Content, Layer};
use desktop::desk::Desk;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;

#[test]
fn the_demo_shows_its_cues_its_margins_and_what_to_try() {
    let desk = Desk::sized(1280.0, 800.0);
    let harness = &desk.harness;
    for name in ["Writing", "fits the rig file", "1 note", "Rig at 0:00", "Play", "Margins", "Got it"] {
        assert!(harness.query_by_label(name).is_some(), "{name}");
    }
    assert!(harness.query_by_label_contains("touch, 4:37").is_some());
    assert!(harness.query_by_label_contains("left jerk 8").is_some());
    assert!(harness.query_by_label_contains("Time axis from 0:00 to 5:02").is_some());
    assert!(desk.folder.path().exists());
}

#[test]
fn a_slip_is_typed_seen_and_mended_by_its_button() {
    let mut desk = Desk::sized(1280.0, 800.0);
    desk.edit("touchdown(sink: 1.1", "tuochdown(sink: 1.1");
    assert!(desk.app().studio().document().text.contains("tuochdown"));
    assert!(desk.harness.query_by_label("1 error").is_some());
    assert!(desk.harness.query_by_label("old motion").is_some(), "the last good motion stays and is marked");
    let remedy = desk.app().studio().rows()[0].remedies[0].words();
    desk.press(&remedy);
    assert_eq!(desk.app().studio().standing(), Standing::Fits);
    assert!(desk.harness.query_by_label("1 note").is_some());
    // One key takes the mending back, and another the slip.
    desk.harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    desk.harness.run_steps(3);
    desk.settle();
    assert!(desk.app().studio().document().text.contains("tuochdown"), "undone");
}

#[test]
fn gain_up_until_it_fails_and_the_press_that_fits() {
    let mut desk = Desk::sized(1280.0, 800.0);
    for _ in 0..10 {
        desk.key(Modifiers::ALT, Key::ArrowUp);
    }
    assert_eq!(desk.app().studio().standing(), Standing::TooMuch);
    assert!(
        desk.harness.query_all_by_label_contains("does not fit").count() > 1,
        "the bar above the controls, the drawing"
    );
    assert!(desk.harness.query_by_label_contains("left jerk 12").is_some());
    let fits = desk.app().studio().fits_gain().unwrap();
    desk.press(&format!("{} fits", cueloom::desk::margins::gain_percent(fits)));
    let gain = desk.app().studio().variant().gain;
    assert_eq!(desk.app().studio().standing(), Standing::Fits);
    assert!(gain <= fits && gain > fits - 0.001, "{gain} {fits}");
    desk.key(Modifiers::COMMAND, Key::Num0);
    assert_eq!(desk.app().studio().variant().gain, 1.0);
}

#[test]
fn play_moves_the_playhead_and_the_mode_cannot_be_mistaken() {
    let mut desk = Desk::sized(1280.0, 800.0);
    desk.key(Modifiers::NONE, Key::F5);
    assert_eq!(desk.app().studio().mode(), Mode::Rehearsing);
    assert!(
        desk.harness.query_by_label("Rehearsing").is_some() && desk.harness.query_by_label("Pause").is_some()
    );
    let before = desk.app().studio().transport().at_s;
    desk.harness.run_steps(30);
    assert!(desk.app().studio().transport().at_s > before + 0.1);
    desk.key(Modifiers::NONE, Key::Escape);
    assert_eq!(desk.app().studio().mode(), Mode::Writing);
    assert!(desk.harness.query_by_label("Writing").is_some());
}

#[test]
fn parts_speeds_and_the_way_back() {
    let mut desk = Desk::sized(1280.0, 800.0);
    desk.press("Half");
    desk.press("Parts…");
    desk.harness.get_all_by_label("Mute").next().unwrap().click();
    desk.harness.run_steps(2);
    desk.settle();
    assert!(desk.harness.query_by_label("half speed, without pitch").is_some());
    desk.press("As written");
    assert!(desk.app().studio().variant().is_as_written());
}

#[test]
fn the_sound_menu_gives_the_shaker_an_output_and_knocks_to_set_the_latency_by() {
    let mut desk = Desk::sized(1280.0, 800.0);
    let kept = |desk: &Desk| desk.app().studio().kept.clone();
    let studio = desk.harness.state_mut().as_mut().unwrap().studio_mut();
    studio.kept.shaker = Some("an amplifier under the seat".to_string());
    desk.press("Sound off…");
    desk.press("Shaker an amplifier under the seat");
    desk.press("Look again");
    desk.press("Together with the sound");
    assert_eq!(kept(&desk).shaker, None);
    // Without a device nothing is known of it, and that is said.
    assert!(desk.harness.query_by_label_contains("the computer's own part is known").is_some());
    desk.harness.get_by_role_and_label(egui::accesskit::Role::Slider, "Latency").focus();
    desk.harness.run_steps(2);
    desk.key(Modifiers::NONE, Key::ArrowRight);
    assert!(kept(&desk).output_to_ear_ms > 0.0, "{}", kept(&desk).output_to_ear_ms);
    desk.press("New scene of knocks");
    let studio = desk.app().studio();
    assert_eq!((studio.document().name().as_str(), studio.standing()), ("knocks.cues", Standing::Fits));
    let starts = |wanted| -> Vec<f64> {
        let layers = studio.scenario().unwrap().layers.iter().filter(|layer| layer.line == wanted);
        let start = |layer: &Layer| match &layer.content {
            Content::Signal(signal) => signal.start_s,
            Content::SoundFile { start_s, .. } => *start_s,
        };
        layers.map(start).collect()
    };
    let (heard, felt) = (starts(Line::Sound), starts(Line::Pitch));
    // A knock in the middle of each nod.
    let knocks = heard.iter().zip(&felt).all(|(knock, nod)| (knock - nod - 0.2).abs() < 1e-9);
    assert!(heard.len() > 5 && heard.len() == felt.len() && knocks, "{heard:?} {felt:?}");
}

#[test]
fn a_block_leads_to_its_line_and_find_to_its_word() {
    let mut desk = Desk::sized(1280.0, 800.0);
    desk.harness.get_by_label_contains("full_power, ").click();
    desk.harness.run_steps(3);
    let studio = desk.app().studio();
    let at = studio.block_at_cursor().unwrap();
    assert_eq!(studio.scenario().unwrap().placements[at].name, "full_power");
    desk.key(Modifiers::COMMAND, Key::F);
    desk.harness.event(egui::Event::Text("bounce".to_string()));
    desk.harness.run_steps(3);
    assert!(desk.harness.query_by_label_contains(" places").is_some());
}

#[test]
fn a_small_window_folds_and_nothing_lacks_a_name() {
    for (width, height) in [(900.0, 600.0), (640.0, 420.0), (2560.0, 1440.0)] {
        let mut desk = Desk::sized(width, height);
        assert!(desk.harness.query_by_label("Play").is_some(), "{width}");
        if width < 1000.0 {
            desk.press("Gain and margins");
            assert!(desk.harness.query_by_label_contains("left jerk").is_some());
        }
        desk.harness.check_accessibility();
    }
}

#[test]
fn dialogs_ask_before_anything_is_lost() {
    let mut desk = Desk::sized(1280.0, 800.0);
    desk.key(Modifiers::NONE, Key::F1);
    assert!(desk.harness.query_by_label("Ctrl+Shift+S").is_some());
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(desk.harness.query_by_label("Ctrl+Shift+S").is_none());
    desk.edit("0.25 deg, 0.7 s", "0.26 deg, 0.7 s");
    desk.key(Modifiers::COMMAND, Key::W);
    assert!(desk.harness.query_by_label("evening-circuit.cues is not saved").is_some());
    desk.press("Stay");
    assert!(desk.app().studio().document().is_unsaved());
    desk.key(Modifiers::COMMAND, Key::S);
    assert!(!desk.app().studio().document().is_unsaved());
}

#[test]
fn a_text_of_nothing_and_a_folder_without_a_rig_say_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let profile = folder.path().join("empty.cues");
    std::fs::write(&profile, "").unwrap();
    let desk = Desk::on(&profile, folder, 1280.0, 800.0);
    assert!(
        desk.harness.query_by_label_contains("no rig file").is_some()
            || desk.harness.query_by_label("1 error").is_some()
    );
    assert!(desk.harness.query_by_label("Play").is_some());
}

#[test]
fn what_was_saved_is_drawn_dashed_and_its_peaks_are_told() {
    let mut desk = Desk::with("scene \"s\" {\n    at 1 s  pitch pulse(2 deg, 2 s)\n}\n");
    assert!(desk.harness.query_by_label_contains("as saved").is_none());
    desk.key(Modifiers::NONE, Key::F9);
    assert!(desk.harness.query_by_label("as saved: nothing to compare").is_some());
    assert!(desk.harness.query_by_label_contains(", was ").is_none());
    desk.edit("2 deg", "3 deg");
    assert!(desk.app().studio().ghost().is_some());
    assert!(desk.harness.query_by_label_contains("dashed: as saved; ").is_some());
    let said = "pitch joint angle 30 % used, was 20 %, now 30 %, 3 deg of 10 deg";
    assert!(desk.harness.query_by_label_contains(said).is_some());
    desk.press("Compare");
    assert!(desk.harness.query_by_label_contains("as saved").is_none());
    assert!(desk.harness.query_by_label_contains(", was ").is_none());
}

#[test]
fn what_does_not_fit_says_so_beside_the_controls_that_play_it() {
    let mut desk = Desk::with(
        "scene \"held\" {\n    at 1 s  roll pulse(9 deg, 0.8 s)  as up\n    at 1 s  roll pulse(-9 deg, 0.8 s)  as down\n}\n",
    );
    assert!(desk.harness.query_by_label_contains("This does not fit").is_none());
    desk.press("Parts…");
    desk.harness.get_all_by_label("Mute").last().unwrap().click();
    desk.harness.run_steps(2);
    desk.settle();
    assert!(desk.harness.query_by_label("This does not fit the rig: only the drawing can play it").is_some());
    assert!(desk.harness.query_by_label_contains("(most of it `down`, short.cues:3)").is_some());
    desk.key(Modifiers::NONE, Key::F5);
    assert_eq!(desk.app().studio().mode(), Mode::Rehearsing);
    assert!(desk.harness.query_by_label("This does not fit the rig: only the drawing plays it").is_some());
    desk.press("Show the line");
    assert!(desk.app().studio().selected().is_some());
    desk.press("As written");
    assert!(desk.harness.query_by_label_contains("This does not fit").is_none());
}

#[test]
fn a_rig_file_that_breaks_is_told_in_place_and_mended_in_place() {
    let mut desk = Desk::with("scene \"s\" { at 1 s  pitch pulse(2 deg, 2 s) }\n");
    let rig = desk.app().studio().understood().unwrap().rig_path.clone().unwrap();
    let text = std::fs::read_to_string(&rig).unwrap();
    let mut write = |text: &str| {
        std::fs::write(&rig, text).unwrap();
        // The window looks on coming back to it.
        for focused in [false, true] {
            desk.harness.input_mut().focused = focused;
            desk.harness.run_steps(2);
        }
        desk.settle();
        let harness = &desk.harness;
        (
            harness.query_by_label("last good rig file").is_some(),
            harness.query_by_label_contains("shown on its last state").is_some(),
        )
    };
    assert_eq!(write(&format!("{text}\nnonsense = 3\n")), (true, true));
    assert_eq!(write(&text), (false, false));
    assert!(desk.harness.query_by_label("fits the rig file").is_some());
}

#[test]
fn words_are_chosen_and_taken_by_keys_alone() {
    let mut desk = Desk::with("scene \"s\" {\n    at 1 s  pitch HERE(2 deg, 2 s)\n}\n");
    let text = |desk: &Desk| desk.app().studio().document().text.clone();
    let listed = |desk: &Desk| desk.harness.query_by_label_contains("Enter, Tab: take").is_some();
    // What begins with `p`: the list, narrowed by one more letter, and its first word by Enter.
    desk.edit("HERE", "p");
    desk.key(Modifiers::COMMAND, Key::Space);
    assert!(listed(&desk) && desk.harness.query_by_label_contains("pitch   ").is_some());
    desk.harness.event(egui::Event::Text("u".to_string()));
    desk.harness.run_steps(3);
    assert!(listed(&desk) && desk.harness.query_by_label_contains("pitch   ").is_none());
    desk.key(Modifiers::NONE, Key::Enter);
    assert!(text(&desk).contains("pitch pulse(2 deg, 2 s)\n"), "{}", text(&desk));
    assert!(!listed(&desk));
    assert_eq!(desk.app().studio().standing(), Standing::Fits);
    // A unit: the second of the list by Down and Tab, and back to the first with Up at another time.
    desk.edit("2 deg", "2 ");
    desk.key(Modifiers::COMMAND, Key::Space);
    let (_, words) = desk.app().studio().candidates();
    let before = text(&desk);
    desk.key(Modifiers::NONE, Key::ArrowDown);
    assert_eq!(text(&desk), before, "an arrow only chooses");
    desk.key(Modifiers::NONE, Key::Tab);
    assert!(text(&desk).contains(&format!("pulse(2 {}, 2 s)", words[1].text)), "{}", text(&desk));
    // Up from the first is the last; Escape takes none, and the text keeps the keys.
    desk.key(Modifiers::COMMAND, Key::Z);
    desk.edit("2 ,", "2 d,");
    desk.edit("d,", "d");
    desk.key(Modifiers::COMMAND, Key::Space);
    desk.key(Modifiers::NONE, Key::ArrowUp);
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!listed(&desk) && text(&desk).contains("pulse(2 d 2 s)"), "{}", text(&desk));
    desk.harness.event(egui::Event::Text("eg,".to_string()));
    desk.harness.run_steps(2);
    desk.settle();
    assert!(text(&desk).contains("pulse(2 deg, 2 s)"), "{}", text(&desk));
}

/// Frames come for many reasons, and each forgets when the next was wanted: what was typed is kept with no further key.
#[test]
fn what_is_typed_is_kept_against_a_crash_without_another_key() {
    let mut desk = Desk::sized(1280.0, 800.0);
    desk.harness.input_mut().time = Some(100.0);
    desk.edit("as cough", "as sneeze");
    desk.harness.step();
    let next = desk.harness.output().viewport_output[&egui::ViewportId::ROOT].repaint_delay;
    assert!(next.as_secs_f64() <= 1.01, "the next frame comes after {next:?}");
    let kept = |desk: &Desk| cueloom::desk::recovery::found(&desk.folder.path().join("kept"));
    assert!(kept(&desk).is_empty(), "not at each key");
    desk.harness.input_mut().time = Some(101.1);
    desk.harness.run_steps(2);
    assert!(kept(&desk)[0].text.contains("as sneeze"));
}

#[test]
fn every_key_of_the_list_is_one_that_the_window_knows() {
    for key in cueloom::desk::keys::KEYS {
        assert!(Key::from_name(key.key).is_some(), "{}: `{}`", key.words, key.key);
    }
}
