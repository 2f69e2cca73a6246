//! What can be asked for while a link is engaged: choosing is one half of an act, taking hold after it the other.

use crate::desk::drives::shown::Shown;
use crate::gui::app::Cueloom;
use crate::gui::theme::Palette;
use crate::player::Order;
use egui::{Button, Grid, RichText};

pub(super) fn show(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    ui.add_space(4.0);
    let Some(shown) = app.studio().drives.shown() else {
        ui.label("Nothing moves yet");
        leave(ui, app);
        return;
    };
    let wanted = app.studio().drives.progress().and_then(|progress| progress.wanted);
    Grid::new("acts").num_columns(2).spacing([10.0, 5.0]).show(ui, |ui| {
        for offer in &shown.offers {
            let button = Button::new(offer.words)
                .selected(wanted == Some(offer.order))
                .min_size(egui::vec2(120.0, 26.0));
            if ui.add_enabled(offer.refused.is_none(), button).clicked() {
                app.studio().drives.ask(offer.order);
            }
            // While it moves the reason is the same for all, and stands above.
            let why = offer.refused.filter(|_| !shown.moving).unwrap_or_default();
            ui.add(egui::Label::new(RichText::new(why).color(palette.faint)).wrap());
            ui.end_row();
        }
    });
    jog(ui, app, &shown, wanted, palette);
    leave(ui, app);
    kept_back(ui, app, palette);
    ui.separator();
    ui.add(egui::Label::new(format!("Inputs: {}", shown.inputs)).wrap());
    let stands = app.studio().stands();
    if !stands.is_empty() {
        ui.add(egui::Label::new(format!("Legs and platform: {}", stands.join(", "))).wrap());
    }
}

fn jog(ui: &mut egui::Ui, app: &mut Cueloom, shown: &Shown, wanted: Option<Order>, palette: &Palette) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Jog");
        let legs = app.studio().drives.legs();
        ui.selectable_value(&mut app.view.drives.leg, None, "all legs");
        for (at, name) in legs.iter().enumerate() {
            ui.selectable_value(&mut app.view.drives.leg, Some(at), name);
        }
        let alone = app.view.drives.leg.is_some() && legs.len() > 1;
        let no_jog = if alone { shown.no_jog_of_one } else { shown.no_jog };
        for (words, part) in [("Longer", 1.0), ("Shorter", -1.0)] {
            let order = Order::Jog { leg: app.view.drives.leg, part, longest_s: f64::INFINITY };
            let button = Button::new(words).selected(wanted == Some(order));
            if ui.add_enabled(no_jog.is_none(), button).clicked() {
                app.studio().drives.ask(order);
            }
        }
        if let Some(why) = no_jog.filter(|_| !shown.moving) {
            ui.label(RichText::new(why).color(palette.faint));
        }
    });
}

fn leave(ui: &mut egui::Ui, app: &Cueloom) {
    let tip = "Stops, sets the brakes, and lets the link go";
    if ui.button("Leave the drives").on_hover_text(tip).clicked() {
        app.studio().drives.leave();
    }
}

/// What no record vouches for.
fn kept_back(ui: &mut egui::Ui, app: &Cueloom, palette: &Palette) {
    let Some(answered) = app.studio().drives.answered() else { return };
    let vouched = &answered.vouched;
    let mut back: Vec<String> = Vec::new();
    if let Some(why) = &vouched.void {
        back.push(format!("commissioning record: {why}; no scene is played, jog and homing only"));
    }
    back.extend(vouched.missing.iter().map(|why| format!("audition: {why}")));
    for words in back {
        ui.add(egui::Label::new(RichText::new(words).color(palette.error)).wrap());
    }
}

/// Who answered, over what.
pub(super) fn link(ui: &mut egui::Ui, app: &Cueloom) {
    let Some(answered) = app.studio().drives.answered() else { return };
    let (far, measure, vouched) = (&answered.far, &answered.measure, &answered.vouched);
    let serials: Vec<String> = far.serials.iter().map(u64::to_string).collect();
    let mut lines = vec![
        format!(
            "{} dB, seat {}; traces show the scene at full gain",
            vouched.rung.level_db,
            vouched.rung.load.word()
        ),
        format!("`{}` answers, drives {}", far.name, serials.join(", ")),
        format!(
            "round trips: half within {} us, 99 % within {} us, the longest {} us",
            measure.median_us, measure.p99_us, measure.longest_us
        ),
    ];
    lines.extend(answered.notes.iter().cloned());
    for line in lines {
        ui.add(egui::Label::new(line).wrap());
    }
}
