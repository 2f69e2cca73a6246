//! The list of findings: a shape and a word for how grave, the words, where, and what one press would do.

use super::canvas;
use super::theme::Palette;
use crate::desk::findings::summary;
use crate::desk::studio::Studio;
use crate::time::clock;
use egui::{RichText, ScrollArea, Sense};

pub(super) fn show(ui: &mut egui::Ui, studio: &mut Studio, palette: &Palette) {
    let rows = studio.rows().to_vec();
    ui.horizontal(|ui| {
        ui.label(RichText::new("Findings").strong());
        ui.label(RichText::new(summary(&rows)).color(palette.faint));
        if !rows.is_empty() && ui.small_button("Copy all").clicked() {
            let all: Vec<String> = rows.iter().map(crate::desk::findings::Row::text).collect();
            ui.ctx().copy_text(all.join("\n\n"));
        }
    });
    if rows.is_empty() {
        ui.label(
            RichText::new("What does not fit, and what is not understood, is listed here")
                .color(palette.faint),
        );
        // The panel keeps its height, so that the first finding does not push the text about.
        ui.allocate_space(ui.available_size());
        return;
    }
    ScrollArea::vertical().id_salt("findings").auto_shrink(false).show(ui, |ui| {
        for (at, row) in rows.iter().enumerate() {
            let chosen = studio.selected() == Some(at);
            ui.horizontal(|ui| {
                let (rect, _) = ui.allocate_exact_size(egui::vec2(12.0, 14.0), Sense::hover());
                canvas::mark(ui.painter(), rect.center(), 4.5, row.severity, palette);
                let word = RichText::new(row.severity.word()).color(palette.severity(row.severity)).strong();
                ui.label(word);
                let when = row.at_s.map(|at_s| format!("  {}", clock(at_s))).unwrap_or_default();
                let place = ui.selectable_label(chosen, format!("{}{when}", row.place));
                if place.on_hover_text("Go there").clicked() {
                    studio.select(at);
                }
            });
            let words = ui.add(egui::Label::new(&row.title).wrap().sense(Sense::click()));
            if words.clicked() {
                studio.select(at);
            }
            words.context_menu(|ui| {
                if ui.button("Copy").clicked() {
                    ui.ctx().copy_text(row.text());
                    ui.close();
                }
            });
            ui.horizontal_wrapped(|ui| {
                for (remedy, what) in row.remedies.iter().enumerate() {
                    if ui.button(what.words()).clicked() {
                        studio.remedy(Some(at), remedy);
                    }
                }
            });
            for line in &row.help {
                ui.add(egui::Label::new(RichText::new(line).color(palette.faint)).wrap());
            }
            ui.add_space(4.0);
        }
    });
}
