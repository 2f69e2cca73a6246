//! A record of a run laid over its scene, by what one presses and reads: a run on simulated drives, what is said when
//! something else is open, and what is said of files that are no record.

#![cfg(feature = "gui-test")]
#![allow(clippy::unwrap_used, reason = "what is missing shows by the line that fails")]

mod desktop {
    pub(crate) mod desk;
    pub(crate) mod recorded;
}

use cueloom::desk::overlay::Line;
use cueloom::desk::overlay::marks::Kind;
use desktop::desk::Desk;
use desktop::recorded::play;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;

const SCENE: &str = "# a nod and a roll
scene \"short\" {
    at 1 s  pitch pulse(2 deg, 2 s)  as nod
    at 4 s  roll pulse(3 deg, 2 s)  as lean
}
";

fn sees(desk: &Desk, words: &str) -> bool {
    desk.harness.query_all_by_label_contains(words).next().is_some()
}

/// The scene with one run of it at -12 dB kept among those of simulated drives.
fn with_a_run() -> Desk {
    let desk = Desk::with(SCENE);
    play(&desk, 2.0, &desk.folder.path().join("demo/records/simulated/runs/short-1.mcap"));
    desk
}

fn laid() -> Desk {
    let mut desk = with_a_run();
    desk.key(Modifiers::COMMAND, Key::R);
    desk.press("Lay over");
    desk
}

#[test]
fn a_run_on_simulated_drives_is_chosen_laid_over_its_scene_and_put_away() {
    let mut desk = with_a_run();
    desk.press("Record…");
    assert!(sees(&desk, "short-1, simulated drives\n-12 dB, vacant: played to its end"));
    desk.press("Lay over");
    assert!(
        sees(&desk, "Record short-1, -12 dB, vacant") && sees(&desk, "dotted: commanded, thin: measured")
    );
    assert!(sees(&desk, "Held against the plan at gain 25.1 %; the scene is drawn at 100 %"));
    assert!(!sees(&desk, "NOT of what is open"));
    // What the drives were asked for is the plan at that gain, instant by instant; and they were not far from it.
    let studio = desk.app().studio();
    let (laid, plan) = (studio.laid().unwrap().clone(), studio.motion().unwrap().plan.at_gain(0.251_188_643));
    let mut frames = plan.frames();
    for t_s in [1.5, 2.5, 4.9, 5.5] {
        let sample = (t_s * 1000.0) as u64;
        plan.render(sample / 256, &mut frames);
        for leg in 0..2 {
            let planned_m = frames.legs[leg].at((sample % 256) as usize).0[0];
            let seen = |line: Line| laid.extent(line, leg, t_s, t_s).unwrap();
            let (commanded, error) = (seen(Line::Commanded), seen(Line::Error));
            // A cell is a few milliseconds wide, in which a leg goes less than a tenth of a millimetre.
            let (low_m, high_m) = (f64::from(commanded.low) - 1e-4, f64::from(commanded.high) + 1e-4);
            assert!((low_m..high_m).contains(&planned_m), "{planned_m} {commanded:?}");
            assert!(error.low > -0.003 && error.high < 0.003, "{error:?}");
        }
    }
    assert!(laid.worst.iter().all(|worst| worst.error_m > 1e-5), "legs come late: {:?}", laid.worst);
    // Where the operator let go a mark stands, and leads there.
    let mark = laid.marks.iter().find(|mark| mark.kind == Kind::LetGo).unwrap().clone();
    assert!((2.0..2.5).contains(&mark.at_s), "{mark:?}");
    assert!(
        sees(&desk, "let go at 0:02.") && sees(&desk, "following to holding: the presence input was let go")
    );
    desk.harness.query_all_by_label_contains("let go at 0:02.").next().unwrap().click();
    desk.harness.run_steps(3);
    assert_eq!(desk.app().studio().transport().at_s, mark.at_s);
    desk.press("Error");
    assert!(sees(&desk, "measured less commanded"));
    desk.press("Speed");
    assert!(sees(&desk, "a record holds lengths: choose Position or Error"));
    // Drawn at the record's gain nothing has to be said of it.
    desk.press("Draw at 25.1 %");
    assert!(!sees(&desk, "the scene is drawn at") && sees(&desk, "Held against the plan at gain 25.1 %"));
    desk.press("Put away");
    assert!(desk.app().studio().laid().is_none() && !sees(&desk, "Record short-1"));
}

#[test]
fn what_the_record_was_made_of_is_held_against_what_is_open() {
    let mut desk = laid();
    desk.edit("a nod and", "one nod and");
    assert!(sees(&desk, "The text changed since, the motion did not"));
    desk.edit("pulse(2 deg", "pulse(2.5 deg");
    assert!(sees(&desk, "NOT of what is open: the motion is another"));
    assert!(desk.app().studio().laid().is_some(), "shown all the same");
    // Another text of its own has no record over it.
    desk.key(Modifiers::COMMAND, Key::N);
    assert!(!sees(&desk, "Record short-1"));
}

#[test]
fn what_is_no_record_says_what_to_do() {
    let mut desk = Desk::with(SCENE);
    desk.key(Modifiers::COMMAND, Key::R);
    assert!(sees(&desk, "No run of this profile is kept in"));
    for (name, bytes, words) in [
        ("gone.mcap", None, "choose one of the list, or look at the path"),
        ("short.cues", None, "is no record of a run on drives (it does not begin like one)"),
        ("half.mcap", Some("# layout: 1\n"), "it is the text log of a run without drives"),
    ] {
        let path = desk.folder.path().join("demo").join(name);
        bytes.iter().for_each(|bytes| std::fs::write(&path, bytes).unwrap());
        let studio = desk.harness.state_mut().as_mut().unwrap().studio_mut();
        studio.lay_over(&path);
        desk.settle();
        assert!(sees(&desk, words), "{words}");
    }
    desk.press("Put away");
    // Dropped on the window like a profile.
    let path = desk.folder.path().join("demo/half.mcap");
    desk.harness.state_mut().as_mut().unwrap().studio_mut().open(&path);
    desk.settle();
    assert!(sees(&desk, "it is the text log of a run without drives"));
    assert_eq!(desk.app().studio().documents().len(), 1);
}
