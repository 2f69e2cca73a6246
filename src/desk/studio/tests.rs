use super::*;
use crate::audition::{Entry, Key, Strayed};
use crate::desk::compare::Against;
use crate::desk::document::OnDisk;
use crate::desk::findings::Remedy;
use crate::desk::variant::Part;
use crate::player::today;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

/// A studio over a demo of its own, in a folder that goes with it.
struct Room {
    studio: Studio,
    woken: Receiver<()>,
    folder: tempfile::TempDir,
}

impl Room {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let profile = crate::desk::demo::unpack(&folder.path().join("demo")).unwrap();
        let (wake, woken) = channel();
        let kept = folder.path().join("kept");
        let document = Document::open(&profile).unwrap();
        let studio = Studio::new(document, Kept::default(), Some(kept), move || {
            let _ = wake.send(());
        });
        let mut room = Self { studio, woken, folder };
        room.settle();
        room
    }

    /// Until nothing is under way.
    fn settle(&mut self) {
        loop {
            self.studio.hear();
            if !self.studio.is_busy() {
                return;
            }
            self.woken.recv_timeout(Duration::from_secs(120)).expect("news in two minutes");
        }
    }

    fn edit(&mut self, from: &str, to: &str) {
        let text = self.studio.document().text.replacen(from, to, 1);
        assert_ne!(text, self.studio.document().text, "`{from}` stands in the text");
        self.studio.replace_text(text);
        self.settle();
    }
}

#[test]
fn a_slip_keeps_the_last_motion_and_its_fix_mends_it() {
    let mut room = Room::new();
    assert_eq!((room.studio.standing(), room.studio.mode()), (Standing::Fits, Mode::Writing));
    assert!(!room.studio.motion_is_old() && room.studio.margins()[0].used > 0.7);
    let before = room.studio.rows().len();
    room.edit("touchdown(sink: 1.1", "tuochdown(sink: 1.1");
    assert_eq!(room.studio.standing(), Standing::Broken { text: "the text".to_string(), shows_old: true });
    assert!(room.studio.motion().is_some() && room.studio.motion_is_old());
    assert!(room.studio.title().contains("(unsaved)") && room.studio.title().contains("errors"));
    room.studio.play_pause();
    assert_eq!(room.studio.mode(), Mode::Writing, "what is old is not played");
    room.studio.select_next(false);
    let jump = room.studio.take_jump().unwrap();
    assert_eq!(&room.studio.document().text[jump], "tuochdown");
    room.studio.remedy(None, 0);
    room.settle();
    assert!(room.studio.document().text.contains("touchdown(sink: 1.1"));
    assert_eq!((room.studio.standing(), room.studio.rows().len()), (Standing::Fits, before));
}

#[test]
fn gain_until_it_fails_then_what_fits() {
    let mut room = Room::new();
    room.studio.set_gain(1.5);
    room.settle();
    assert_eq!(room.studio.standing(), Standing::TooMuch);
    assert!(room.studio.margins()[0].used > 1.0);
    let at = room.studio.rows().iter().position(|row| row.rule == "jerk").unwrap();
    room.studio.select(at);
    let row = room.studio.rows()[at].clone();
    assert_eq!(room.studio.transport().at_s, row.at_s.unwrap());
    let blamed = room.studio.blocks().iter().map(|block| room.studio.blamed(block.placement));
    assert!(blamed.fold(0.0, f64::max) > 0.5);
    let gain = row.remedies.iter().position(|remedy| matches!(remedy, Remedy::Gain(_))).unwrap();
    room.studio.remedy(Some(at), gain);
    room.settle();
    assert_eq!(room.studio.standing(), Standing::Fits);
    assert!(room.studio.variant().gain > 1.0 && room.studio.variant().gain < 1.5);
}

#[test]
fn playing_from_the_middle_is_a_motion_of_its_own() {
    let mut room = Room::new();
    room.studio.put_playhead(100.0);
    room.studio.play_pause();
    room.settle();
    assert_eq!(room.studio.mode(), Mode::Rehearsing);
    assert_eq!(room.studio.transport().at_s, 98.0, "from rest, two seconds before");
    assert!(room.studio.pose().iter().all(|value| *value == 0.0));
    // What passed before the first frame is no part of it.
    room.studio.pass(60.0, None);
    assert_eq!(room.studio.transport().at_s, 98.0);
    room.studio.pass(3.0, None);
    assert!(room.studio.pose().iter().any(|value| *value != 0.0));
    assert_eq!(room.studio.transport().at_s, 101.0);
    let starts = room.studio.lap();
    room.studio.play_pause();
    assert!(!room.studio.transport().playing && room.studio.mode() == Mode::Rehearsing);
    room.studio.stop();
    assert_eq!((room.studio.mode(), room.studio.variant().stretch), (Mode::Writing, None));
    // A loop over a stretch starts over, from rest.
    room.settle();
    room.studio.set_stretch(Some((60.0, 50.0)));
    room.studio.play_pause();
    room.settle();
    room.studio.pass(0.0, None);
    room.studio.pass(13.9, None);
    assert!(room.studio.transport().playing);
    room.studio.pass(0.2, None);
    assert_eq!((room.studio.transport().at_s, room.studio.lap() > starts + 1), (48.0, true));
    room.edit("0.6 s  roll pulse(0.25 deg", "0.6 s  roll pulse(0.26 deg");
    assert_eq!(room.studio.mode(), Mode::Writing, "an edit ends a rehearsal");
}

#[test]
fn what_is_drawn_is_the_simulated_rig_and_what_is_heard_is_as_late() {
    let mut room = Room::new();
    room.studio.play_pause();
    room.settle();
    // The sound sets out a lag before the scene, so that both begin together.
    let lag_s = room.studio.lag_s();
    assert!((0.005..0.1).contains(&lag_s), "{lag_s}");
    let planned = |studio: &Studio, at_s: f64| {
        let mut jets = vec![crate::signal::Jet::default(); 2];
        studio.motion().unwrap().plan.platform_at(at_s, &mut jets);
        jets.iter().map(|jet| jet.0[0]).collect::<Vec<f64>>()
    };
    let apart = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    let (mut off, mut behind, mut way) = (0.0_f64, 0.0_f64, 0.0_f64);
    for frame in 0..1500 {
        let heard_s = f64::from(frame) * 0.016 - lag_s;
        room.studio.pass(0.016, Some(heard_s));
        let (at_s, pose) = (room.studio.transport().at_s, room.studio.pose());
        assert!((at_s - lag_s - heard_s).abs() < 1e-9, "{at_s} {heard_s}");
        way = way.max(apart(&pose, &[0.0, 0.0]));
        off = off.max(apart(&pose, &planned(&room.studio, at_s)));
        behind = behind.max(apart(&pose, &planned(&room.studio, at_s - lag_s)));
    }
    assert!(way.to_degrees() > 0.2 && off > 0.0 && behind < 0.5 * off, "{way} {off} {behind}");
    let (at_s, driven) = (room.studio.transport().at_s, room.studio.pose());
    room.studio.play_pause();
    assert_eq!(room.studio.pose(), planned(&room.studio, at_s), "at rest it stands as the text has it");
    assert_ne!(room.studio.pose(), driven);
}

#[test]
fn parts_alone_and_slower_are_checked_on_their_own() {
    let mut room = Room::new();
    let whole = room.studio.margins()[0].clone();
    room.studio.toggle_alone(Part::Placement("touch".to_string()));
    room.studio.set_tempo(0.5);
    room.settle();
    assert!(room.studio.margins()[0].used < whole.used);
    assert_eq!(room.studio.variant().words(), "half speed, only touch");
    room.studio.as_written();
    room.settle();
    assert_eq!(room.studio.margins()[0], whole);
}

#[test]
fn tabs_close_only_when_saved_or_meant() {
    let mut room = Room::new();
    let library = room.folder.path().join("demo/library/bank.cues");
    assert!(room.studio.open(&library) && room.studio.open(&library));
    assert_eq!((room.studio.documents().len(), room.studio.front()), (2, 1));
    room.studio.text_mut().push_str("# more\n");
    room.studio.edited();
    assert!(!room.studio.close(1, false));
    assert!(room.studio.save(false) && room.studio.close(1, false));
    assert!(std::fs::read_to_string(&library).unwrap().ends_with("# more\n"));
    assert!(room.studio.close(0, false));
    assert_eq!(room.studio.document().name(), "new.cues");
    assert!(!room.studio.open(&room.folder.path().join("none.cues")));
    assert!(room.studio.said().unwrap().contains("there is no file"));
}

#[test]
fn a_library_open_in_another_tab_counts_before_it_is_saved() {
    let mut room = Room::new();
    let library = room.folder.path().join("demo/library/bank.cues");
    room.studio.open(&library);
    let text = room.studio.document().text.replace("cue bank(", "cue banked(");
    room.studio.replace_text(text);
    room.studio.bring_to_front(0);
    room.settle();
    let broken = Standing::Broken { text: "the text".to_string(), shows_old: false };
    assert_eq!(room.studio.standing(), broken);
}

#[test]
fn what_others_write_is_noticed_and_a_crash_loses_nothing() {
    let mut room = Room::new();
    let profile = room.studio.document().path().to_path_buf();
    let text = room.studio.document().text.clone();
    std::fs::write(&profile, format!("{text}# by another\n")).unwrap();
    assert!(room.studio.look_at_files());
    assert!(room.studio.document().text.ends_with("# by another\n"), "nothing to lose, so it is taken");
    room.studio.text_mut().push_str("# mine\n");
    room.studio.edited();
    std::fs::write(&profile, &text).unwrap();
    assert!(room.studio.look_at_files());
    assert_eq!(room.studio.document().on_disk, OnDisk::Changed);
    assert!(!room.studio.save(false));
    assert!(room.studio.document().text.ends_with("# mine\n"));

    // The program ends without a word; the next one finds the text.
    room.studio.keep_unsaved();
    let (folder, mine) = (room.folder.path().join("kept"), room.studio.document().text.clone());
    let document = Document::open(&profile).unwrap();
    let mut next = Studio::new(document, Kept::default(), Some(folder.clone()), || {});
    assert_eq!(next.unsaved().len(), 1);
    next.recover();
    assert_eq!((next.document().text.as_str(), next.any_unsaved()), (mine.as_str(), true));
    next.end();
    assert!(crate::desk::recovery::found(&folder).is_empty());
    assert_eq!(Kept::read(&folder).open, [profile]);
}

#[test]
fn the_cursor_and_its_block_go_together() {
    let mut room = Room::new();
    let at = room.studio.document().text.find("touchdown(sink: 1.1").unwrap();
    room.studio.set_cursor(at);
    let block = room.studio.block_at_cursor().unwrap();
    assert_eq!(room.studio.scenario().unwrap().placements[block].name, "touch");
    let span = room.studio.blocks()[0].span;
    room.studio.go_to(span);
    assert_eq!(room.studio.take_jump(), Some(span.start as usize..span.end as usize));
    let (_, words) = room.studio.candidates();
    assert!(!words.is_empty());
}

#[test]
fn formatting_and_bad_words_are_said() {
    let mut room = Room::new();
    room.edit("at 0.6 s  roll", "at 0.6 s     roll");
    room.studio.format();
    assert!(room.studio.document().text.contains("at 0.6 s  roll"));
    room.edit("scene \"evening", "scene evening");
    room.studio.format();
    assert!(room.studio.said().unwrap().starts_with("not formatted"));
    room.studio.set_gain(f64::NAN);
    assert_eq!(room.studio.variant().gain, 1.0);
}

#[test]
fn the_text_as_saved_stands_beside_the_present_one() {
    let mut room = Room::new();
    let text = "scene \"s\" {\n    at 1 s  pitch pulse(2 deg, 2 s)\n}\n".to_string();
    room.studio.replace_text(text.clone());
    assert!(room.studio.save(false));
    room.studio.toggle_compare();
    room.settle();
    assert_eq!(room.studio.against(), Against::AsSaved);
    // Of the rig's 10 deg: a fifth, and 3 deg are three tenths.
    let pitch = |room: &Room| {
        let margins = room.studio.margins().iter();
        margins.clone().find(|row| row.name == "pitch joint angle").unwrap().clone()
    };
    assert!(room.studio.ghost().is_none() && room.studio.change(&pitch(&room)).is_none());

    room.edit("2 deg", "3 deg");
    assert_eq!(room.studio.against(), Against::There);
    let (ghost, shown) = (room.studio.ghost().unwrap().clone(), room.studio.motion().unwrap().clone());
    let peak_deg = |motion: &Motion| {
        f64::from(motion.traces.extent(0, 0, motion.traces.samples).unwrap().high).to_degrees()
    };
    assert!((peak_deg(&ghost) - 2.0).abs() < 1e-3 && (peak_deg(&shown) - 3.0).abs() < 1e-3);
    assert_eq!(room.studio.change(&pitch(&room)).unwrap().words(), "was 20 %, now 30 %");
    assert!(room.studio.compared().contains(" higher than as saved"), "{}", room.studio.compared());

    // At the gain that is rehearsed, both; and nothing when the text is as saved again.
    room.studio.set_gain(0.5);
    room.settle();
    assert_eq!(room.studio.change(&pitch(&room)).unwrap().words(), "was 10 %, now 15 %");
    room.studio.set_gain(1.0);
    room.edit("3 deg", "2 deg");
    assert_eq!((room.studio.against(), room.studio.ghost().is_none()), (Against::AsSaved, true));
    room.edit("2 deg", "1 deg");
    assert_eq!(room.studio.against(), Against::There);
    assert!(room.studio.save(false));
    assert_eq!((room.studio.against(), room.studio.ghost().is_none()), (Against::AsSaved, true));

    room.edit("pulse", "pulze");
    assert!(room.studio.save(false));
    room.edit("pulze", "pulse");
    assert_eq!(room.studio.against(), Against::NoMotion);
    room.studio.new_document();
    room.settle();
    assert_eq!(room.studio.against(), Against::NeverSaved);
    room.studio.toggle_compare();
    assert_eq!((room.studio.against(), room.studio.compared().as_str()), (Against::Off, ""));
}

/// Two pulses that take each other's speed away; either alone is too much for the demo's rig.
const HELD: &str = "scene \"held\" {\n    at 1 s  roll pulse(9 deg, 0.5 s)  as up\n    at 1 s  roll pulse(-9 deg, 0.5 s)  as down\n}\n";

#[test]
fn a_part_left_out_that_held_another_back_is_told_with_its_line_while_it_plays() {
    let mut room = Room::new();
    room.studio.replace_text(HELD.to_string());
    room.settle();
    assert_eq!((room.studio.standing(), room.studio.verdict()), (Standing::Fits, Verdict::Fits));
    room.studio.play_pause();
    assert!(!room.studio.said().unwrap_or("").contains("does not fit"));
    room.studio.toggle_muted(Part::Placement("down".to_string()));
    assert_eq!(room.studio.verdict(), Verdict::Open, "what is not checked is not called good");
    room.settle();
    let Verdict::TooMuch { words, finding } = room.studio.verdict() else {
        panic!("{:?}", room.studio.rows());
    };
    assert!(finding.is_some() && words.contains("(most of it `up`, evening-circuit.cues:2)"), "{words}");
    assert!(room.studio.transport().playing && room.studio.said().unwrap().ends_with(&words));
    room.studio.show_verdict();
    let jump = room.studio.take_jump().unwrap();
    assert!(room.studio.document().text[jump].contains("9 deg"));
    room.studio.as_written();
    room.settle();
    assert_eq!(room.studio.verdict(), Verdict::Fits);
    // Twelve degrees are more than the ten that there are; half the speed of eight is not.
    room.studio.replace_text("scene \"s\" { at 1 s  pitch pulse(8 deg, 6 s) }".to_string());
    for (gain, tempo, fits) in [(1.0, 0.5, true), (1.5, 1.0, false)] {
        room.studio.set_gain(gain);
        room.studio.set_tempo(tempo);
        room.settle();
        assert_eq!(room.studio.verdict() == Verdict::Fits, fits, "{gain} {tempo} {:?}", room.studio.rows());
    }
    room.studio.replace_text("scene \"s\" {".to_string());
    room.settle();
    assert_eq!(room.studio.verdict(), Verdict::Nothing);
}

#[test]
fn the_rig_file_is_watched_and_a_broken_one_keeps_the_last_good_rig() {
    let mut room = Room::new();
    room.studio.replace_text("scene \"s\" { at 1 s  pitch pulse(2 deg, 2 s) }\n".to_string());
    room.settle();
    let rig = room.studio.understood().unwrap().rig_path.clone().unwrap();
    let text = std::fs::read_to_string(&rig).unwrap();
    let limit = |room: &Room| room.studio.motion().unwrap().plan.rig().axes[0].max.to_degrees();
    let before = limit(&room);
    assert!((before - 10.0).abs() < 1e-9 && !room.studio.look_at_files());

    // Another program halves what pitch may do: the same text, new margins.
    let limits = "pitch = { min = \"-10 deg\", max = \"10 deg\" }";
    let with = |limits_now: &str| text.replacen(limits, limits_now, 1);
    std::fs::write(&rig, with("pitch = { min = \"-4.5 deg\", max = \"4.5 deg\" }")).unwrap();
    assert!(room.studio.look_at_files());
    room.settle();
    assert!((limit(&room) - 4.5).abs() < 1e-9);
    assert!(room.studio.said().unwrap().contains("changed; everything is worked out anew"));

    // It breaks: the last good one stays, and nothing is said to fit.
    std::fs::write(&rig, with("pitch = { min = \"-10 deg\", max = \"ten degrees\" }")).unwrap();
    assert!(room.studio.look_at_files());
    room.settle();
    assert!(matches!(room.studio.standing(), Standing::OldRig(_)), "{:?}", room.studio.standing());
    assert!((limit(&room) - 4.5).abs() < 1e-9 && !room.studio.motion_is_old());
    assert!(room.studio.rows().iter().any(|row| row.place.contains(".toml:")), "{:?}", room.studio.rows());
    assert!(room.studio.old_rig().unwrap().ends_with("has errors"));
    assert_eq!(room.studio.verdict(), Verdict::Fits, "of the motion, on the rig that is shown");
    assert!(!room.studio.write_report(&room.folder.path().join("r.html")));
    room.edit("2 deg", "3 deg");
    assert!(matches!(room.studio.standing(), Standing::OldRig(_)), "a new text too");
    // Gone altogether.
    std::fs::remove_file(&rig).unwrap();
    assert!(room.studio.look_at_files());
    room.settle();
    assert!(room.studio.old_rig().unwrap().contains("there is no file"), "{:?}", room.studio.old_rig());

    std::fs::write(&rig, &text).unwrap();
    assert!(room.studio.look_at_files());
    room.settle();
    assert_eq!((room.studio.standing(), room.studio.old_rig()), (Standing::Fits, None));
    assert!((limit(&room) - before).abs() < 1e-9 && !room.studio.look_at_files());
    assert!(room.studio.said().unwrap().contains("no errors any more"));
}

#[test]
fn settings_that_come_and_go_are_noticed() {
    let mut room = Room::new();
    room.studio.replace_text("scene \"s\" { at 1 s  pitch pulse(2 deg, 2 s) }\n".to_string());
    room.settle();
    let known = room.studio.understood().unwrap();
    let (rig, settings) = (known.rig_path.clone().unwrap(), known.settings.clone().unwrap());
    let kept = settings.with_file_name("elsewhere.toml");
    std::fs::rename(&settings, &kept).unwrap();
    assert!(room.studio.look_at_files());
    room.settle();
    let rig_path = |room: &Room| room.studio.understood().unwrap().rig_path.clone();
    assert_eq!((rig_path(&room), room.studio.look_at_files()), (None, false));
    // Some above the profile's folder, and then nearer ones.
    let above = settings.parent().unwrap().with_file_name("cueloom.toml");
    std::fs::write(&above, format!("rig = {rig:?}\n")).unwrap();
    assert!(room.studio.look_at_files());
    room.settle();
    assert_eq!(rig_path(&room), Some(rig.clone()));
    assert_eq!(room.studio.understood().unwrap().settings.as_deref(), Some(above.as_path()));
    std::fs::rename(&kept, &settings).unwrap();
    assert!(room.studio.look_at_files());
    room.settle();
    assert_eq!(room.studio.understood().unwrap().settings, Some(settings));
}

#[test]
fn what_keeps_a_text_from_the_drives_is_said_and_a_link_that_fails_leads_back_to_writing() {
    let mut room = Room::new();
    room.studio.drives.setup.carrier = crate::drives::Carrier::Udp;
    assert_eq!(room.studio.keeps_back().len(), 2, "{:?}", room.studio.keeps_back());
    room.studio.drives.setup.seat = Some(crate::audition::Load::Vacant);
    room.studio.drives.setup.to = "no port here".to_string();
    assert_eq!(room.studio.keeps_back(), [""; 0]);
    room.studio.set_tempo(0.5);
    room.settle();
    assert!(
        room.studio.keeps_back()[0].starts_with("half speed: on the drives the scene is played as it is")
    );
    room.studio.as_written();
    room.settle();
    // A gain is the level's full strength; what does not fit is not played.
    room.studio.set_gain(0.5);
    room.settle();
    assert_eq!(room.studio.keeps_back(), [""; 0]);
    room.studio.set_gain(1.5);
    room.settle();
    assert!(room.studio.keeps_back()[0].contains("does not fit"), "{:?}", room.studio.keeps_back());
    room.studio.connect();
    assert_eq!(room.studio.mode(), Mode::Writing, "{:?}", room.studio.said());
    room.studio.set_gain(1.0);
    room.edit("touchdown(sink: 1.1", "touchdown(sink: 1.0");
    assert!(room.studio.keeps_back()[0].starts_with("save the text"));
    assert!(room.studio.save(false));
    room.studio.connect();
    assert_eq!(room.studio.mode(), Mode::OnDrives);
    assert!(room.studio.title().starts_with("ON THE DRIVES, connecting"), "{}", room.studio.title());
    while room.studio.drives.is_engaged() {
        room.woken.recv_timeout(Duration::from_secs(120)).expect("news in two minutes");
        room.studio.hear();
    }
    let over = room.studio.drives.over().unwrap();
    assert!(over.words[0].contains("cannot open the link to `no port here`"), "{over:?}");
    assert_eq!((room.studio.mode(), &over.log), (Mode::Writing, &None));
    // Another profile has other records, and its seat is to be said anew.
    room.studio.new_document();
    room.settle();
    room.studio.face_drives();
    assert_eq!(room.studio.drives.setup.seat, None);
}

/// What a run left of it counts while the next scene is written, and what cannot be read is said.
#[test]
fn what_legs_strayed_on_drives_is_taken_off_the_margins_while_one_writes() {
    let mut room = Room::new();
    let used =
        |room: &Room, name: &str| room.studio.margins().iter().find(|row| row.name == name).unwrap().used;
    let (before, quick) = (used(&room, "left stroke"), used(&room, "left speed"));
    let rig = room.studio.motion().unwrap().plan.rig().hash.clone();
    let [motion, tune, commissioning, drives, program] = ["m", "", "c", "7 8", "1"].map(String::from);
    let key = Key { motion, rig, tune, commissioning, drives, program };
    let strayed = Strayed::of(1.0, [0.010, 0.010]);
    let entry = Entry::Strayed { key, day: today().0, strayed };
    let ladder = room.studio.drives.records_of_steel().folder().join("audition.jsonl");
    std::fs::create_dir_all(ladder.parent().unwrap()).unwrap();
    std::fs::write(&ladder, serde_json::to_string(&entry).unwrap() + "\n").unwrap();
    room.edit("touchdown(sink: 1.1", "touchdown(sink: 1.10");
    // The stroke from level, 580 mm, to its end at 440 mm is a centimetre less: 94 mm of 130, not of 140.
    assert!(
        (used(&room, "left stroke") / before - 140.0 / 130.0).abs() < 0.002,
        "{before} {}",
        used(&room, "left stroke")
    );
    assert!((used(&room, "left speed") / quick - 1.0).abs() < 1e-4, "{quick} {}", used(&room, "left speed"));
    std::fs::write(&ladder, "no entry\n").unwrap();
    room.edit("touchdown(sink: 1.10", "touchdown(sink: 1.1");
    assert!((used(&room, "left stroke"), used(&room, "left speed")) == (before, quick));
    assert!(room.studio.said().unwrap().contains("is not taken off the margins"), "{:?}", room.studio.said());
}
