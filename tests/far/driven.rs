//! The desktop program on drives, by hand: what one presses, holds and waits for.

use super::bench::{Bench, Truth};
#[cfg(feature = "serial")]
use super::can_rig;
use super::desk as far;
use crate::desktop::desk::Desk;
use cueloom::audition::Load;
use cueloom::desk::studio::Studio;
use cueloom::drives::Records;
use cueloom::player::wait;
use egui::Key;
use egui_kittest::kittest::Queryable;
use std::time::{Duration, Instant};

/// The window with its far end.
pub(crate) struct Driven {
    pub(crate) desk: Desk,
    pub(crate) bench: Bench,
    pub(crate) far: far::Desk,
}

impl Driven {
    /// The page of the drives, the seat said to be vacant, the rig's own presence input wired closed.
    pub(crate) fn new(arguments: &[&str]) -> Self {
        Self::over("udp", arguments)
    }

    /// The same over another link to the reference receiver.
    pub(crate) fn over(link: &str, arguments: &[&str]) -> Self {
        let far = far::Desk::new();
        let bench = far.bench(link, arguments);
        Self::by(link, far, bench)
    }

    /// The same with CAN drives, which are none of ours.
    #[cfg(feature = "serial")]
    pub(crate) fn over_can() -> Self {
        let far = far::Desk::with(&can_rig::rig());
        let bench = Bench::start("can", far.folder.path(), &[]);
        can_rig::commission(far.folder.path(), &bench.address);
        Self::by("can", far, bench)
    }

    fn by(link: &str, far: far::Desk, mut bench: Bench) -> Self {
        std::fs::write(far.folder.path().join("cueloom.toml"), "rig = \"rig.toml\"\n").unwrap();
        bench.say("presence 1");
        let kept = tempfile::tempdir().unwrap();
        let mut desk = Desk::on(&far.folder.path().join("small.cues"), kept, 1280.0, 800.0);
        // Too quiet to hear, and yet sound.
        let kept = &mut desk.harness.state_mut().as_mut().unwrap().studio_mut().kept;
        (kept.silent, kept.master_db) = (false, -60.0);
        desk.press("Drives");
        desk.press(link);
        assert!(desk.harness.query_by_label("Drives: not connected").is_some());
        assert!(desk.harness.query_by_label_contains("look at the seat").is_some());
        let mut driven = Self { desk, bench, far };
        driven.press("vacant: nothing");
        driven
    }

    /// Connected; where processors are shared the link may be found too slow, rightly, and then later.
    pub(crate) fn connected(mut self) -> Self {
        self.connect();
        self
    }

    pub(crate) fn connect(&mut self) {
        for _ in 0..5 {
            let address = self.bench.address.clone();
            let setup = &mut self.desk.harness.state_mut().as_mut().unwrap().studio_mut().drives.setup;
            (setup.to, setup.seat) = (address, Some(Load::Vacant));
            // After a run the scene is checked anew.
            self.until("nothing keeps it back", |studio| studio.keeps_back().is_empty());
            self.press("Connect");
            self.until("an answer", |studio| {
                // The run is there before it has taken the far end on.
                let taken = ["parked: brakes on", "connected: brakes on"];
                studio.drives.shown().is_some_and(|shown| taken.contains(&shown.state.as_str()))
                    || studio.drives.over().is_some()
            });
            let Some(over) = self.studio().drives.over() else { return };
            assert!(over.words[0].contains("does not hold"), "{over:?}");
        }
        panic!("the link never held its cycle");
    }

    pub(crate) fn studio(&self) -> &Studio {
        self.desk.app().studio()
    }

    pub(crate) fn press(&mut self, name: &str) {
        self.desk.harness.get_by_label(name).click();
        self.desk.harness.run_steps(2);
    }

    /// The same where it stands further down the page than is seen at first.
    pub(crate) fn press_below(&mut self, name: &str) {
        self.desk.harness.get_by_label(name).scroll_to_me();
        self.pass(200);
        self.press(name);
    }

    /// Puts the keys into a field, wherever on the page it stands.
    pub(crate) fn focus_below(&mut self, name: &str) {
        self.desk.harness.get_by_label(name).scroll_to_me();
        self.pass(200);
        self.desk.harness.get_by_label(name).focus();
        self.desk.harness.run_steps(2);
    }

    /// Presses an act while nothing is held, until the run has heard it: a hold that is heard first counts for nothing.
    pub(crate) fn choose(&mut self, act: &str) {
        self.press(act);
        self.until("the choice heard", |studio| {
            studio.drives.shown().is_some_and(|shown| shown.now.contains(": take hold of"))
        });
    }

    /// Frames for a while.
    pub(crate) fn pass(&mut self, ms: u64) {
        for _ in 0..ms / 20 {
            self.desk.harness.step();
            wait(Duration::from_millis(20));
        }
    }

    /// Frames until it is so.
    pub(crate) fn until(&mut self, what: &str, is: impl Fn(&Studio) -> bool) {
        for _ in 0..2000 {
            self.desk.harness.step();
            if is(self.studio()) {
                self.desk.harness.run_steps(2);
                return;
            }
            wait(Duration::from_millis(10));
        }
        panic!("waited for {what}: {:?} {:?}", self.studio().drives.shown(), self.studio().drives.over());
    }

    pub(crate) fn state(&self) -> String {
        self.studio().drives.state().unwrap_or_default()
    }

    pub(crate) fn until_state(&mut self, words: &str) {
        self.until(words, |studio| studio.drives.state().is_some_and(|state| state.contains(words)));
    }

    pub(crate) fn down(&mut self) {
        self.desk.harness.key_down(Key::F2);
        self.desk.harness.step();
    }

    /// Lets go, until the run has seen it: a choice before that is one made while holding.
    pub(crate) fn up(&mut self) {
        self.desk.harness.key_up(Key::F2);
        self.desk.harness.step();
        self.until("presence let go", |studio| {
            let run = studio.drives.progress().and_then(|now| now.run);
            run.is_none_or(|run| !run.seen().inputs.presence.is_closed())
        });
    }

    pub(crate) fn focus(&mut self, focused: bool) {
        self.desk.harness.input_mut().focused = focused;
        self.desk.harness.event(egui::Event::WindowFocused(focused));
        self.desk.harness.step();
    }

    pub(crate) fn sees(&self, words: &str) -> bool {
        self.desk.harness.query_all_by_label_contains(words).next().is_some()
    }

    /// A mark in the truth: rows from now on.
    pub(crate) fn mark(&mut self) -> u32 {
        self.bench.say("belt 1")
    }

    pub(crate) fn records(&self) -> Records {
        Records::at(&self.far.folder.path().join("records"))
    }

    /// Chosen, then held until it is so. Where this computer itself served the window too late, the hand was taken to
    /// have let go: then it is chosen and held again, as by an operator.
    #[allow(clippy::disallowed_methods, reason = "whether this computer was late is what is asked")]
    pub(crate) fn hold_until(&mut self, act: &str, is: impl Fn(&Studio) -> bool) {
        for _ in 0..4 {
            self.choose(act);
            self.down();
            let (mut before, mut longest, mut begun) = (Instant::now(), Duration::ZERO, false);
            for _ in 0..2000 {
                self.desk.harness.step();
                longest = longest.max(before.elapsed());
                before = Instant::now();
                if is(self.studio()) {
                    return;
                }
                begun |= !self.state().contains("brakes on");
                if begun && self.state().contains("brakes on") {
                    break;
                }
                wait(Duration::from_millis(10));
            }
            assert!(longest.as_millis() >= 200, "never late: {:?}", self.studio().drives.shown());
            self.up();
        }
        panic!("{act} was let go of again and again: this computer is too slow");
    }

    pub(crate) fn hold_until_state(&mut self, act: &str, words: &str) {
        self.hold_until(act, |studio| studio.drives.state().is_some_and(|state| state.contains(words)));
    }

    /// Chosen, then held until legs go along the scene.
    pub(crate) fn follow(&mut self) {
        self.hold_until_state("Play the scene", "following: MOVING");
        self.pass(600);
    }

    /// The window goes away; what legs did.
    pub(crate) fn end(self) -> Vec<Truth> {
        drop(self.desk);
        self.bench.end()
    }
}
