//! Play, pause, loop, speed, parts, sound: the controls of a rehearsal, and in words what is rehearsed.

use super::app::Cueloom;
use super::canvas;
use super::theme::Palette;
use crate::desk::findings::sentence;
use crate::desk::kept::{LATENCY_MS, MASTER_DB};
use crate::desk::keys::{Act, name};
use crate::desk::studio::{Mode, TEMPOS, Verdict};
use crate::desk::variant::{Part, tempo_word};
use crate::diag::Severity;
use crate::time::clock;
use egui::containers::menu::{MenuButton, MenuConfig};
use egui::{PopupCloseBehavior, RichText, ScrollArea};
use std::collections::BTreeSet;

pub(super) fn show(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    ui.add_space(3.0);
    verdict(ui, app, palette);
    ui.horizontal_wrapped(|ui| {
        let (playing, looping) = (app.studio().transport().playing, app.studio().transport().looping);
        let play = egui::Button::new(if playing { "Pause" } else { "Play" }).min_size(egui::vec2(58.0, 0.0));
        if ui.add(play).on_hover_text(name(Act::PlayPause)).clicked() {
            app.studio_mut().play_pause();
        }
        if ui.button("Stop").on_hover_text(name(Act::Stop)).clicked() {
            app.studio_mut().stop();
        }
        if ui.selectable_label(looping, "Loop").on_hover_text(name(Act::Loop)).clicked() {
            app.studio_mut().set_looping(!looping);
        }
        let length_s = app.studio().scenario().map_or(0.0, |scenario| scenario.length_s);
        let at_s = (app.studio().transport().at_s * 10.0).floor() / 10.0;
        let words = format!("{} of {}", clock(at_s), clock((length_s * 10.0).round() / 10.0));
        ui.add_sized([112.0, 18.0], egui::Label::new(RichText::new(words).monospace()));
        for tempo in TEMPOS {
            let chosen = app.studio().variant().tempo == tempo;
            let word = sentence(&tempo_word(tempo));
            if ui
                .selectable_label(chosen, word)
                .on_hover_text(format!("Speed, {}", name(Act::Tempo)))
                .clicked()
            {
                app.studio_mut().set_tempo(tempo);
            }
        }
        let held = app.studio().variant().muted.len() + app.studio().variant().alone.len();
        let words = if held == 0 { "Parts…".to_string() } else { format!("Parts ({held})…") };
        if ui.button(words).on_hover_text("Play a channel or a cue alone, or leave it out").clicked() {
            app.view.parts_open = !app.view.parts_open;
        }
        sound(ui, app, palette);
        scenes(ui, app);
        let words = app.studio().variant().words();
        if !words.is_empty() {
            ui.separator();
            ui.label(RichText::new(words).color(palette.warning));
            if ui.button("As written").on_hover_text("The whole scene at gain 100 % and full speed").clicked()
            {
                app.studio_mut().as_written();
            }
        }
    });
    ui.add_space(2.0);
    parts(ui.ctx(), app);
}

/// That what is played, or would be, does not fit: a bar of its own, with a shape, the line, and the way to it.
fn verdict(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    let (words, finding) = match app.studio().verdict() {
        Verdict::TooMuch { words, finding } => (words, finding),
        Verdict::Open if app.studio().transport().playing => {
            ui.label(RichText::new("Not yet checked against the rig file").color(palette.warning));
            return;
        }
        _ => return,
    };
    let frame = egui::Frame::new()
        .fill(palette.beyond)
        .stroke(egui::Stroke::new(2.0, palette.error))
        .inner_margin(egui::Margin::symmetric(6, 3));
    frame.show(ui, |ui| {
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(egui::vec2(14.0, 16.0), egui::Sense::hover());
            canvas::mark(ui.painter(), rect.center(), 5.5, Severity::Error, palette);
            let head = match app.studio().mode() {
                Mode::Rehearsing => "This does not fit the rig: only the drawing plays it",
                Mode::Writing | Mode::OnDrives => "This does not fit the rig: only the drawing can play it",
            };
            ui.label(RichText::new(head).color(palette.error).strong());
            if finding.is_some() && ui.button("Show the line").on_hover_text(&words).clicked() {
                app.studio_mut().show_verdict();
            }
            ui.add(egui::Label::new(&words).truncate()).on_hover_text(&words);
        });
    });
}

/// The choice of no output for the shaker alone.
const TOGETHER: &str = "together with the sound";

fn sound(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    let mut outputs = app.view.outputs.take();
    let known = app.sound.delay_s();
    let mut knocks = false;
    let kept = &mut app.studio_mut().kept;
    let stays = MenuConfig::new().close_behavior(PopupCloseBehavior::CloseOnClickOutside);
    MenuButton::new(if kept.silent { "Sound off…" } else { "Sound…" }).config(stays).ui(ui, |ui| {
        ui.set_max_width(300.0);
        let faint = |words: String| egui::Label::new(RichText::new(words).color(palette.faint)).wrap();
        ui.checkbox(&mut kept.silent, "No sound").on_hover_text(name(Act::Silence));
        ui.horizontal(|ui| {
            let label = ui.label("Level");
            let slider = egui::Slider::new(&mut kept.master_db, MASTER_DB.0..=MASTER_DB.1).suffix(" dB");
            ui.add(slider).labelled_by(label.id);
        });
        ui.horizontal(|ui| {
            let label = ui.label("Latency");
            let slider =
                egui::Slider::new(&mut kept.output_to_ear_ms, LATENCY_MS.0..=LATENCY_MS.1).suffix(" ms");
            ui.add(slider).labelled_by(label.id);
        });
        let computers = known.map_or("own part is known while it plays, and".to_string(), |known_s| {
            format!("{:.0} ms before it are known and", known_s * 1e3)
        });
        ui.add(faint(format!(
            "From the output to your ear; the computer's {computers} made up for. Change it until a knock is seen and \
             heard at once"
        )));
        knocks = ui.button("New scene of knocks").on_hover_text("To set the latency by").clicked();
        ui.separator();
        let shown = format!("Shaker {}", kept.shaker.as_deref().unwrap_or(TOGETHER));
        egui::CollapsingHeader::new(shown).id_salt("shaker").show(ui, |ui| {
            ui.radio_value(&mut kept.shaker, None, sentence(TOGETHER));
            for name in outputs.get_or_insert_with(crate::audio::outputs) {
                ui.radio_value(&mut kept.shaker, Some(name.clone()), name.as_str());
            }
            if ui.button("Look again").on_hover_text("For outputs that were plugged in since").clicked() {
                outputs = None;
            }
            ui.add(faint(
                "Counts from the next start of playing. Another output has a clock of its own: both start together, and \
                 part by a few thousandths"
                    .to_string(),
            ));
        });
    });
    app.view.outputs = outputs;
    if knocks {
        app.studio_mut().new_knocks();
    }
}

fn scenes(ui: &mut egui::Ui, app: &mut Cueloom) {
    let Some(understood) = app.studio().understood().cloned() else { return };
    if understood.scenes.len() < 2 {
        return;
    }
    let shown = understood.scenario.as_ref().map_or("Scene", |scenario| &scenario.title).to_string();
    egui::ComboBox::from_id_salt("scene").selected_text(&shown).show_ui(ui, |ui| {
        for title in &understood.scenes {
            if ui.selectable_label(*title == shown, title).clicked() {
                app.studio_mut().choose_scene(title);
            }
        }
    });
}

/// Channels and placements, each to be played alone or left out.
fn parts(ctx: &egui::Context, app: &mut Cueloom) {
    let mut open = app.view.parts_open;
    let Some(scenario) = app.studio().scenario().cloned() else { return };
    egui::Window::new("Parts").open(&mut open).default_width(260.0).default_height(340.0).show(ctx, |ui| {
        ui.label("What is left out changes the motion; its margins are its own");
        let channels: BTreeSet<&str> = scenario.layers.iter().map(|layer| layer.line.word()).collect();
        let names: BTreeSet<&str> =
            scenario.placements.iter().map(|placement| placement.name.as_str()).collect();
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            egui::Grid::new("parts").num_columns(3).striped(true).show(ui, |ui| {
                let channels = channels.into_iter().map(|name| Part::Channel(name.to_string()));
                let placements = names.into_iter().map(|name| Part::Placement(name.to_string()));
                for part in channels.chain(placements) {
                    ui.label(part.name());
                    let alone = app.studio().variant().alone.contains(&part);
                    if ui
                        .selectable_label(alone, "Alone")
                        .on_hover_text(format!("Only {}", part.name()))
                        .clicked()
                    {
                        app.studio_mut().toggle_alone(part.clone());
                    }
                    let muted = app.studio().variant().muted.contains(&part);
                    if ui
                        .selectable_label(muted, "Mute")
                        .on_hover_text(format!("Without {}", part.name()))
                        .clicked()
                    {
                        app.studio_mut().toggle_muted(part.clone());
                    }
                    ui.end_row();
                }
            });
        });
    });
    app.view.parts_open = open;
}
