//! The whole window: where panels stand, and what keys do.

use super::theme::{self, Palette};
use super::{dialogs, drives, editor, findings, margins, overlay, rig, time, top, transport};
use crate::audio::Sounds;
use crate::desk::document::{Document, OnDisk};
use crate::desk::kept::Kept;
use crate::desk::keys::{Act, KEYS};
use crate::desk::rig_view::{Camera, Side};
use crate::desk::studio::{Lap, Mode, Standing, Studio};
use crate::scenario::Scenario;
use crate::units::factor_of_db;
use egui::{Key, KeyboardShortcut, Modifiers, Panel, RichText, Stroke, StrokeKind};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How long outputs stay open after the sound, s: who listens plays again and again. Own choice.
const SOUND_OPEN_S: f64 = 10.0;

/// The desktop program.
pub struct Cueloom {
    pub(super) studio: Studio,
    pub(super) sound: crate::audio::Speaker,
    pub(super) view: View,
}

/// What only the window knows.
pub(super) struct View {
    pub(super) camera: Camera,
    pub(super) side: Option<Side>,
    /// Show the rig where rig and margins do not fit side by side.
    pub(super) rig_in_front: bool,
    pub(super) traces: super::traces::Choice,
    pub(super) editor: editor::State,
    pub(super) dialog: Option<dialogs::Dialog>,
    pub(super) parts_open: bool,
    pub(super) drives: drives::State,
    /// Outputs that a shaker can have, asked for when the list is first opened.
    pub(super) outputs: Option<Vec<String>>,
    /// Of the last frame, s.
    last_s: Option<f64>,
    title: String,
    /// When files were last looked at, s.
    looked_s: f64,
    /// When unsaved text was last kept, s; `None` when nothing is to be kept.
    keep_at_s: Option<f64>,
    had_focus: bool,
    closing: bool,
    /// The lap that the sound plays.
    sound_lap: Option<Lap>,
    /// When the window was made.
    began: Instant,
    /// What is to be heard, read, with outputs open for it.
    sounds: Option<(Arc<Scenario>, Sounds)>,
    /// Something was wrong with an output since they were opened.
    sound_lost: bool,
    /// Since when an output is open on which nothing plays, s.
    sound_idle_s: Option<f64>,
}

#[allow(clippy::disallowed_methods, reason = "sound on drives goes by the clock that their cycles go by")]
fn now() -> Instant {
    Instant::now()
}

impl Cueloom {
    /// With a text open. `folder` is where things are kept between runs.
    pub fn new(ctx: &egui::Context, document: Document, kept: Kept, folder: Option<PathBuf>) -> Self {
        theme::set(ctx);
        theme::choose(ctx, kept.look);
        let waker = ctx.clone();
        let studio = Studio::new(document, kept, folder, move || waker.request_repaint());
        let view = View {
            camera: Side::Corner.camera(),
            side: Some(Side::Corner),
            rig_in_front: true,
            traces: super::traces::Choice::default(),
            editor: editor::State::default(),
            dialog: None,
            parts_open: false,
            drives: drives::State::default(),
            outputs: None,
            last_s: None,
            title: String::new(),
            looked_s: 0.0,
            keep_at_s: None,
            had_focus: true,
            closing: false,
            sound_lap: None,
            began: now(),
            sounds: None,
            sound_lost: false,
            sound_idle_s: None,
        };
        let mut app = Self { studio, sound: crate::audio::Speaker::closed(), view };
        if !app.studio.unsaved().is_empty() {
            app.view.dialog = Some(dialogs::Dialog::Recover);
        }
        app
    }

    /// The state behind the panels.
    pub fn studio(&self) -> &Studio {
        &self.studio
    }

    /// The state behind the panels, to change.
    pub fn studio_mut(&mut self) -> &mut Studio {
        &mut self.studio
    }

    /// One frame, without the native window: what `eframe` calls, and tests.
    pub fn show(&mut self, ui: &mut egui::Ui) {
        let ctx = ui.ctx().clone();
        drives::tend(self, &ctx);
        // A jump gives the text the keys, so it waits a frame: keys of this one were meant for something else.
        self.view.editor.jump = self.studio.take_jump();
        self.studio.hear();
        self.pass_time(&ctx);
        self.look_around(&ctx);
        self.keys(&ctx);
        let palette = Palette::of(ui);
        top::show(ui, self, &palette);
        if self.studio.mode() == Mode::OnDrives {
            drives::show(ui, self, &palette);
        } else {
            self.desk(ui, &palette);
        }
        dialogs::show(ui, self, &palette);
        self.frame(ui, &palette);
        self.after(&ctx);
    }

    /// Everything below the top bar while no drive is spoken to.
    fn desk(&mut self, ui: &mut egui::Ui, palette: &Palette) {
        self.notices(ui, palette);
        Panel::bottom("standing").resizable(false).show(ui, |ui| standing(ui, &mut self.studio, palette));
        let whole = ui.available_rect_before_wrap();
        let text_width = (whole.width() * 0.41).clamp(300.0, 760.0);
        Panel::left("text")
            .default_size(text_width)
            .size_range(260.0..=(whole.width() - 340.0).max(261.0))
            .show(ui, |ui| {
                if self.view.drives.open {
                    drives::setup(ui, self, palette);
                    return;
                }
                let list = (ui.available_height() * 0.26).clamp(90.0, 260.0);
                Panel::bottom("findings").default_size(list).size_range(60.0..=360.0).show(ui, |ui| {
                    findings::show(ui, &mut self.studio, palette);
                });
                editor::show(ui, &mut self.studio, &mut self.view.editor, palette);
            });
        Panel::bottom("transport").resizable(false).show(ui, |ui| transport::show(ui, self, palette));
        let upper = (ui.available_height() * 0.44).clamp(150.0, 520.0);
        Panel::top("rig and margins").default_size(upper).size_range(130.0..=620.0).show(ui, |ui| {
            self.rig_and_margins(ui, palette);
        });
        egui::CentralPanel::default().show(ui, |ui| {
            time::show(ui, &mut self.studio, &mut self.view.traces, palette);
        });
        overlay::tend(self);
    }

    fn rig_and_margins(&mut self, ui: &mut egui::Ui, palette: &Palette) {
        if ui.available_width() >= 560.0 {
            let width = (ui.available_width() * 0.46).clamp(250.0, 420.0);
            Panel::right("margins").default_size(width).size_range(230.0..=520.0).show(ui, |ui| {
                margins::show(ui, &mut self.studio, palette);
            });
            rig::show(ui, &self.studio, &mut self.view, palette);
            return;
        }
        ui.horizontal(|ui| {
            ui.selectable_value(&mut self.view.rig_in_front, true, "Rig");
            ui.selectable_value(&mut self.view.rig_in_front, false, "Gain and margins");
        });
        if self.view.rig_in_front {
            rig::show(ui, &self.studio, &mut self.view, palette);
        } else {
            margins::show(ui, &mut self.studio, palette);
        }
    }

    pub(super) fn close(&mut self, at: usize) {
        if !self.studio.close(at, false) {
            self.view.dialog = Some(dialogs::Dialog::Close(at));
        }
    }

    /// Bars that need an answer: a file changed under us, the first start.
    fn notices(&mut self, ui: &mut egui::Ui, palette: &Palette) {
        let on_disk = self.studio.document().on_disk;
        if on_disk != OnDisk::Same {
            Panel::top("changed").resizable(false).show(ui, |ui| {
                ui.horizontal_wrapped(|ui| {
                    let name = self.studio.document().name();
                    if on_disk == OnDisk::Gone {
                        ui.colored_label(
                            palette.warning,
                            format!("`{name}` is gone from the disk; saving writes it anew"),
                        );
                        return;
                    }
                    ui.colored_label(palette.warning, format!("`{name}` was changed by another program"));
                    if ui.button("Take the file's text").clicked() {
                        self.studio.reload();
                    }
                    if ui.button("Keep mine, write over it").clicked() {
                        self.studio.save(true);
                    }
                });
            });
        }
        if let Some(why) = self.studio.old_rig().map(crate::desk::findings::sentence) {
            Panel::top("rig file").resizable(false).show(ui, |ui| {
                ui.horizontal_wrapped(|ui| {
                    ui.colored_label(palette.warning, why);
                    ui.label(
                        "All that is shown is on the last rig without errors; no report is written of it",
                    );
                });
            });
        }
        if !self.studio.kept.hints_done {
            Panel::top("hints").resizable(false).show(ui, |ui| {
                ui.horizontal_wrapped(|ui| {
                    ui.label("Three things to try: change a number in the text and watch the traces;");
                    ui.label("raise the gain until something fails; press the fix that the finding offers.");
                    if ui.button("Got it").clicked() {
                        self.studio.kept.hints_done = true;
                    }
                });
            });
        }
    }

    /// The frame round the window: the mode once more.
    fn frame(&self, ui: &egui::Ui, palette: &Palette) {
        let colour = match self.studio.mode() {
            Mode::Writing => None,
            Mode::Rehearsing => Some(palette.rehearsing),
            Mode::OnDrives => Some(palette.driving),
        };
        if let Some(colour) = colour {
            let rect = ui.ctx().content_rect();
            let painter = ui
                .ctx()
                .layer_painter(egui::LayerId::new(egui::Order::Foreground, egui::Id::unique("frame")));
            painter.rect_stroke(rect, 0.0, Stroke::new(4.0, colour), StrokeKind::Inside);
        }
    }

    fn pass_time(&mut self, ctx: &egui::Context) {
        let now_s = ctx.input(|input| input.time);
        let passed_s = self.view.last_s.map_or(0.0, |last_s| now_s - last_s);
        self.view.last_s = Some(now_s);
        let playing = self.studio.transport().playing;
        let latency_s = self.studio.kept.output_to_ear_ms / 1000.0;
        let sound_s = if playing { self.sound.position_s(latency_s) } else { None };
        self.studio.pass(passed_s, sound_s);
        let driven = matches!(self.view.sound_lap, Some(Lap::Driven(_)));
        let heard_s = if driven { self.sound.heard_s(latency_s) } else { None };
        // By the computer's clock, which the run goes by, and not by the window's.
        let clock_s = self.view.began.elapsed().as_secs_f64();
        self.studio.hears(heard_s, clock_s);
        self.play_sound(clock_s);
        self.rest_sound(ctx, now_s);
        if self.studio.transport().playing {
            ctx.request_repaint();
        }
    }

    /// Lets outputs go on which nothing was played for a while.
    fn rest_sound(&mut self, ctx: &egui::Context, now_s: f64) {
        // On the drives they stay open: opening one takes a moment.
        if !self.sound.idles() || self.studio.mode() == Mode::OnDrives {
            self.view.sound_idle_s = None;
            return;
        }
        let left_s = *self.view.sound_idle_s.get_or_insert(now_s) + SOUND_OPEN_S - now_s;
        if left_s > 0.0 {
            ctx.request_repaint_after(Duration::from_secs_f64(left_s + 0.01));
        } else {
            self.sound.close_idle();
        }
    }

    /// Reads what sounds and opens outputs for it: before a rehearsal sets out, and before anything moves on drives, for a
    /// window that takes a moment over it is taken to have let go.
    fn ready_sound(&mut self) {
        let Some((scene, understood)) = self.studio.sounding_scene() else {
            self.view.sounds = None;
            return;
        };
        if self.view.sounds.as_ref().is_some_and(|(known, _)| Arc::ptr_eq(known, &scene)) {
            return;
        }
        let sounds = crate::audio::load(&scene, &understood.sources);
        self.sound.set_shaker(self.studio.kept.shaker.as_deref());
        if let Some(words) = self.sound.open_for(&scene, &sounds) {
            self.studio.say(words);
        }
        self.view.sounds = Some((scene, sounds));
    }

    /// Starts, stops and levels the sound as the playhead wants it.
    fn play_sound(&mut self, clock_s: f64) {
        self.ready_sound();
        let wanted = self.studio.sound_lap();
        if wanted != self.view.sound_lap {
            self.view.sound_lap = wanted;
            match (self.studio.to_hear(clock_s), &self.view.sounds) {
                (Some(hear), Some((scene, sounds))) => {
                    let words = self.sound.play(scene, sounds, (hear.from_s, hear.to_s), hear.tempo);
                    words.into_iter().for_each(|words| self.studio.say(words));
                }
                _ => self.sound.stop(),
            }
        }
        let kept = &self.studio.kept;
        self.sound.set_level(if kept.silent { 0.0 } else { factor_of_db(kept.master_db) });
        if let Some(words) = self.sound.trouble() {
            self.studio.say(words);
            self.view.sound_lost = true;
        }
        // Looked for again where nothing moves that somebody holds.
        if self.view.sound_lost && self.studio.sound_lap().is_none() && self.studio.stands_still() {
            self.view.sound_lost = false;
            self.view.sounds = None;
        }
    }

    /// Files dropped on the window, files changed under us, text to keep against a crash, the window closed.
    fn look_around(&mut self, ctx: &egui::Context) {
        let driven = self.studio.mode() == Mode::OnDrives;
        if !driven {
            let files = |input: &egui::InputState| -> Vec<PathBuf> {
                input.raw.dropped_files.iter().map(|file| file.path().to_path_buf()).collect()
            };
            ctx.input(files).iter().for_each(|path| _ = self.studio.open(path));
        }
        let (now_s, focused, close) =
            ctx.input(|input| (input.time, input.focused, input.viewport().close_requested()));
        // While one looks elsewhere nothing is painted, so a look on coming back is enough; and one while writing.
        // On the drives nothing is worked out anew: this computer has its cycles to serve.
        if !driven && ((focused && !self.view.had_focus) || now_s - self.view.looked_s > 5.0) {
            self.view.looked_s = now_s;
            self.studio.look_at_files();
        }
        self.view.had_focus = focused;
        if self.view.keep_at_s.is_some_and(|at_s| now_s >= at_s) {
            self.view.keep_at_s = None;
            self.studio.keep_unsaved();
        }
        if close && driven {
            drives::hold_back_closing(self, ctx);
        } else if close && !self.view.closing && self.studio.any_unsaved() {
            ctx.send_viewport_cmd(egui::ViewportCommand::CancelClose);
            self.view.dialog = Some(dialogs::Dialog::Quit);
        }
    }

    /// Closes the window, whatever is unsaved.
    pub(super) fn quit(&mut self, ctx: &egui::Context) {
        self.view.closing = true;
        ctx.send_viewport_cmd(egui::ViewportCommand::Close);
    }

    fn after(&mut self, ctx: &egui::Context) {
        let now_s = ctx.input(|input| input.time);
        if self.view.editor.take_changed() {
            // A moment after the last keystroke, not at each.
            self.view.keep_at_s = Some(now_s + 1.0);
        }
        if let Some(at_s) = self.view.keep_at_s {
            // Asked for by every frame until then: one that is painted for another reason forgets what was asked for before.
            ctx.request_repaint_after(Duration::from_secs_f64((at_s - now_s).max(0.0) + 0.01));
        }
        if self.studio.has_jump() {
            ctx.request_repaint();
        }
        if drives::may_close(self) {
            ctx.send_viewport_cmd(egui::ViewportCommand::Close);
        }
        let title = self.studio.title();
        if title != self.view.title {
            ctx.send_viewport_cmd(egui::ViewportCommand::Title(title.clone()));
            self.view.title = title;
        }
        if let Some(size) = ctx.input(|input| input.viewport().inner_rect).map(|rect| rect.size()) {
            self.studio.kept.window = Some([size.x, size.y]);
        }
    }

    fn keys(&mut self, ctx: &egui::Context) {
        // Shift and Alt first, because a shortcut without them takes theirs too.
        let mut keys: Vec<_> = KEYS.iter().collect();
        keys.sort_by_key(|key| std::cmp::Reverse(u8::from(key.shift) + u8::from(key.alt)));
        for key in keys {
            let driven = self.studio.mode() == Mode::OnDrives;
            if key.act == Act::Hold || (driven && !key.act.is_of_drives()) {
                continue;
            }
            if self.view.dialog.is_some() || (key.act == Act::Stop && self.view.editor.wants_escape()) {
                continue;
            }
            let Some(found) = Key::from_name(key.key) else { continue };
            let mut modifiers = Modifiers::NONE;
            modifiers.shift = key.shift;
            modifiers.alt = key.alt;
            modifiers.command = key.command;
            let shortcut = KeyboardShortcut::new(modifiers, found);
            if ctx.input_mut(|input| input.consume_shortcut(&shortcut)) {
                self.act(ctx, key.act);
            }
        }
    }

    pub(super) fn act(&mut self, ctx: &egui::Context, act: Act) {
        let studio = &mut self.studio;
        match act {
            Act::PlayPause => studio.play_pause(),
            Act::Stop => studio.stop(),
            // For as long as it is down; the drives look at it themselves.
            Act::Hold => {}
            Act::Drives => {
                studio.face_drives();
                self.view.drives.open = !self.view.drives.open;
            }
            Act::Open => self.view.dialog = Some(dialogs::Dialog::open(studio)),
            Act::Save => drop(studio.save(false)),
            Act::SaveAs => self.view.dialog = Some(dialogs::Dialog::save_as(studio)),
            Act::New => studio.new_document(),
            Act::Close => self.close(self.studio.front()),
            Act::NextTab => studio.next_tab(),
            Act::Find => self.view.editor.open_find(),
            Act::Complete => self.view.editor.complete(studio),
            Act::Format => studio.format(),
            Act::NextFinding => studio.select_next(false),
            Act::PreviousFinding => studio.select_next(true),
            Act::Remedy => studio.remedy(None, 0),
            Act::GainUp => studio.set_gain(studio.variant().gain + 0.05),
            Act::GainDown => studio.set_gain(studio.variant().gain - 0.05),
            Act::GainWhole => studio.set_gain(1.0),
            Act::Tempo => studio.next_tempo(),
            Act::Loop => studio.set_looping(!studio.transport().looping),
            Act::StepBack => studio.step(-1.0),
            Act::StepOn => studio.step(1.0),
            Act::ToStart => studio.put_playhead(0.0),
            Act::ZoomIn => studio.zoom(1.5, None),
            Act::ZoomOut => studio.zoom(1.0 / 1.5, None),
            Act::ZoomWhole => studio.zoom_whole(),
            Act::Silence => studio.kept.silent = !studio.kept.silent,
            Act::Report => self.view.dialog = Some(dialogs::Dialog::report(studio)),
            Act::Compare => studio.toggle_compare(),
            Act::Record => overlay::toggle(self),
            Act::Look => {
                studio.kept.look = studio.kept.look.next();
                theme::choose(ctx, studio.kept.look);
            }
            Act::Quit => ctx.send_viewport_cmd(egui::ViewportCommand::Close),
            Act::Keys => self.view.dialog = Some(dialogs::Dialog::Keys),
        }
    }
}

/// How things stand, what can be done next, and what was said last.
fn standing(ui: &mut egui::Ui, studio: &mut Studio, palette: &Palette) {
    ui.horizontal(|ui| {
        let standing = studio.standing();
        let colour = match standing {
            Standing::Broken { .. } | Standing::TooMuch => palette.error,
            Standing::NoRig(_) | Standing::OldRig(_) => palette.warning,
            _ => palette.text,
        };
        ui.label(RichText::new(standing.words()).color(colour).strong());
        let next = studio.next_step();
        if !next.is_empty() {
            ui.label(RichText::new(next).color(palette.faint));
        }
        if let Some(said) = studio.said().map(str::to_string) {
            ui.separator();
            ui.add(egui::Label::new(RichText::new(&said).color(palette.faint)).truncate().selectable(true))
                .on_hover_text(said);
        }
    });
}

impl eframe::App for Cueloom {
    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        self.show(ui);
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        self.sound.stop();
        self.studio.end();
    }
}
