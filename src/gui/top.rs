//! The top bar: the mode's word in its fixed place, tabs, and what is done with files.

use super::app::Cueloom;
use super::theme::Palette;
use crate::desk::keys::{Act, name};
use crate::desk::studio::Mode;
use egui::{Color32, Frame, Panel, RichText};

/// The mode's word in its fixed place, tabs, and what is done with files.
pub(super) fn show(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    Panel::top("top").resizable(false).show(ui, |ui| {
        ui.horizontal(|ui| {
            let mode = app.studio.mode();
            let (colour, text) = match mode {
                Mode::Writing => (palette.raised, palette.text),
                Mode::Rehearsing => (palette.rehearsing, Color32::BLACK),
                Mode::OnDrives => (palette.driving, Color32::BLACK),
            };
            Frame::new().fill(colour).inner_margin(egui::Margin::symmetric(8, 3)).show(ui, |ui| {
                ui.set_width(88.0);
                ui.label(RichText::new(mode.word()).color(text).strong()).on_hover_text(mode.meaning());
            });
            let driven = mode == Mode::OnDrives;
            let buttons = if driven { 200.0 } else { 390.0 };
            let width = (ui.available_width() - buttons).max(80.0);
            if driven {
                ui.label(app.studio.document().name());
                if app.studio.drives.are_simulated() {
                    ui.label(RichText::new("simulated drives: nothing real moves").strong());
                }
            } else {
                let area = egui::ScrollArea::horizontal().max_width(width).id_salt("tabs");
                area.show(ui, |ui| tabs(ui, app));
            }
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                for (words, act) in [
                    (if app.view.drives.open { "Text" } else { "Drives" }, Act::Drives),
                    ("Report…", Act::Report),
                    ("Keys", Act::Keys),
                    (app.studio.kept.look.word(), Act::Look),
                    ("Save", Act::Save),
                    ("Open…", Act::Open),
                    ("New", Act::New),
                ] {
                    if driven && !act.is_of_drives() {
                        continue;
                    }
                    if ui.button(words).on_hover_text(name(act)).clicked() {
                        app.act(ui.ctx(), act);
                    }
                }
            });
        });
    });
}

fn tabs(ui: &mut egui::Ui, app: &mut Cueloom) {
    let tabs: Vec<(String, String)> = app
        .studio
        .documents()
        .iter()
        .map(|document| {
            let star = if document.is_unsaved() { " *" } else { "" };
            (format!("{}{star}", document.name()), document.path().display().to_string())
        })
        .collect();
    ui.horizontal(|ui| {
        let front = app.studio.front();
        for (at, (words, path)) in tabs.iter().enumerate() {
            if ui.selectable_label(at == front, words).on_hover_text(path).clicked() {
                app.studio.bring_to_front(at);
            }
            if tabs.len() > 1 && ui.small_button("×").on_hover_text(format!("Close {words}")).clicked() {
                app.close(at);
            }
        }
    });
}
