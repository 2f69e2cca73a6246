//! The audition ladder: levels upwards, loads to the right, a word in each place.

use crate::audition::{Load, Rung};
use crate::desk::drives::ladder::Standing;
use crate::gui::app::Cueloom;
use crate::gui::theme::Palette;
use egui::{Grid, RichText};

pub(super) fn show(ui: &mut egui::Ui, app: &Cueloom, palette: &Palette) {
    ui.add_space(4.0);
    ui.label(RichText::new("Audition ladder").strong());
    let drives = &app.studio().drives;
    if drives.ladder().cells.is_empty() {
        ui.label(
            RichText::new("How its rungs stand is known once the drives have answered").color(palette.faint),
        );
        return;
    }
    let chosen = match drives.is_engaged() {
        true => drives.answered().map(|answered| answered.vouched.rung),
        false => drives.setup.rung(),
    };
    Grid::new("ladder").num_columns(4).spacing([14.0, 3.0]).show(ui, |ui| {
        ui.label("");
        for load in Load::ALL {
            ui.label(load.word());
        }
        ui.end_row();
        for level_db in drives.setup.levels.all_db().rev() {
            ui.label(format!("{level_db} dB"));
            for load in Load::ALL {
                let rung = Rung { level_db, load };
                let Some(cell) = drives.ladder().cell(rung) else { continue };
                let colour = match cell.standing {
                    Standing::Signed => palette.text,
                    Standing::Open => palette.accent,
                    Standing::Closed => palette.faint,
                };
                let mut words = RichText::new(cell.standing.word()).color(colour);
                if chosen == Some(rung) {
                    words = words.strong().underline();
                }
                ui.label(words).on_hover_text(cell.why.join("\n"));
            }
            ui.end_row();
        }
    });
    if let Some(cell) = chosen.and_then(|rung| drives.ladder().cell(rung)) {
        for why in &cell.why {
            ui.add(egui::Label::new(RichText::new(why).color(palette.faint)).wrap());
        }
    }
}
