//! The desktop program without a window, over texts of its own: what the tests press and read.

#![allow(dead_code, reason = "each of the test programs that share it presses other things")]

use cueloom::desk::document::Document;
use cueloom::desk::kept::Kept;
use cueloom::gui::Cueloom;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use std::path::Path;

/// The program over a demo of its own.
pub(crate) struct Desk {
    pub(crate) harness: Harness<'static, Option<Cueloom>>,
    pub(crate) folder: tempfile::TempDir,
}

impl Desk {
    pub(crate) fn sized(width: f32, height: f32) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let profile = cueloom::desk::demo::unpack(&folder.path().join("demo")).unwrap();
        Self::on(&profile, folder, width, height)
    }

    /// Over a short text of its own on the demo's rig.
    pub(crate) fn with(text: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let demo = cueloom::desk::demo::unpack(&folder.path().join("demo")).unwrap();
        let profile = demo.with_file_name("short.cues");
        std::fs::write(&profile, text).unwrap();
        Self::on(&profile, folder, 1280.0, 800.0)
    }

    pub(crate) fn on(profile: &Path, folder: tempfile::TempDir, width: f32, height: f32) -> Self {
        let document = Document::open(profile).unwrap();
        let (kept, mut document) = (folder.path().join("kept"), Some(document));
        let harness = Harness::builder().with_size([width, height]).with_max_steps(20).build_ui_state(
            move |ui, app: &mut Option<Cueloom>| {
                let app = app.get_or_insert_with(|| {
                    let document = document.take().expect("made once");
                    let kept_before = Kept { silent: true, ..Kept::default() };
                    Cueloom::new(ui.ctx(), document, kept_before, Some(kept.clone()))
                });
                app.show(ui);
            },
            None,
        );
        let mut desk = Self { harness, folder };
        desk.settle();
        desk
    }

    pub(crate) fn app(&self) -> &Cueloom {
        self.harness.state().as_ref().unwrap()
    }

    /// Until the background has said all, and the panels show it.
    pub(crate) fn settle(&mut self) {
        for _ in 0..40_000 {
            self.harness.step();
            if !self.app().studio().is_busy() {
                self.harness.run_steps(3);
                return;
            }
            std::thread::yield_now();
        }
        panic!("the background is still busy: {:?}", self.app().studio().standing());
    }

    pub(crate) fn press(&mut self, name: &str) {
        self.harness.get_by_label(name).click();
        self.harness.run_steps(2);
        self.settle();
    }

    pub(crate) fn key(&mut self, modifiers: Modifiers, key: Key) {
        self.harness.key_press_modifiers(modifiers, key);
        self.harness.run_steps(2);
        self.settle();
    }

    /// Replaces text as a person would who found it and typed over it.
    pub(crate) fn edit(&mut self, from: &str, to: &str) {
        let studio = self.harness.state_mut().as_mut().unwrap().studio_mut();
        let at = studio.document().text.find(from).unwrap();
        studio.jump_to(at..at + from.len());
        self.harness.run_steps(3);
        self.harness.event(egui::Event::Text(to.to_string()));
        self.harness.run_steps(2);
        self.settle();
    }
}
