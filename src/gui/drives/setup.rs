//! Before a link is opened: where to, what sits in the seat, how strong; and what the last run left to be done.

use super::ladder;
use crate::audition::Load;
use crate::drives::{CAUTIONS, Carrier, Kept};
use crate::gui::app::Cueloom;
use crate::gui::theme::Palette;
use egui::{Button, Label, RichText, ScrollArea, TextEdit};

pub(in crate::gui) fn show(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    ScrollArea::vertical().id_salt("setup").auto_shrink(false).show(ui, |ui| {
        ui.add_space(4.0);
        ui.heading("Drives: not connected");
        last(ui, app, palette);
        choices(ui, app, palette);
        connect(ui, app, palette);
        ui.separator();
        ladder::show(ui, app, palette);
        sign(ui, app);
        ui.separator();
        commission(ui, app, palette);
    });
}

/// How the last run ended.
fn last(ui: &mut egui::Ui, app: &Cueloom, palette: &Palette) {
    let drives = &app.studio().drives;
    if let Some(over) = drives.over() {
        let colour = if over.kept == Kept::Tripped { palette.error } else { palette.text };
        for words in &over.words {
            ui.add(Label::new(RichText::new(words).color(colour)).wrap());
        }
        if let Some(log) = &over.log {
            ui.add(
                Label::new(RichText::new(format!("record: {}", log.display())).color(palette.faint)).wrap(),
            );
        }
        ui.separator();
    }
    if let Some(said) = drives.said() {
        ui.add(Label::new(RichText::new(said).color(palette.warning)).wrap());
    }
}

fn choices(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    let setup = &mut app.studio_mut().drives.setup;
    let carrier_before = setup.carrier;
    ui.horizontal_wrapped(|ui| {
        ui.label("Link");
        for carrier in Carrier::ALL {
            ui.selectable_value(&mut setup.carrier, carrier, carrier.word()).on_hover_text(carrier.meaning());
        }
    });
    let field = |ui: &mut egui::Ui, name: &str, text: &mut String, hint: &str| {
        ui.horizontal(|ui| {
            let label = ui.label(name);
            let width = ui.available_width() - 4.0;
            // Named: words above come and go with the check of the scene, and a field must not lose its cursor by that.
            let field = TextEdit::singleline(text).id(egui::Id::unique(("drives", name)));
            ui.add(field.hint_text(hint).desired_width(width)).labelled_by(label.id)
        })
        .inner
    };
    if setup.carrier.has_address() {
        field(ui, "Far end", &mut setup.to, setup.carrier.example());
    }
    let records = field(ui, "Records", &mut setup.records, "folder of commissioning and audition");
    ui.horizontal_wrapped(|ui| {
        ui.label("In the seat");
        for (load, words) in [
            (Load::Vacant, "vacant: nothing"),
            (Load::Ballasted, "ballasted: dead weight, belted"),
            (Load::Occupied, "occupied: a person"),
        ] {
            ui.selectable_value(&mut setup.seat, Some(load), words);
        }
    });
    ui.horizontal_wrapped(|ui| {
        ui.label("Level");
        let levels_db: Vec<i32> = setup.levels.all_db().collect();
        for level_db in levels_db {
            ui.selectable_value(&mut setup.level_db, level_db, format!("{level_db} dB"));
        }
    });
    field(ui, "Override", &mut setup.reason, "only where the ladder is to be overridden: why");
    if setup.reason().is_some() {
        let words = "An override plays what was not tried at the rung below. Its reason goes into the ladder's file and the \
                     run's record, and stands on the screen";
        ui.add(Label::new(RichText::new(words).color(palette.error)).wrap());
    }
    if records.changed() || setup.carrier != carrier_before {
        app.studio_mut().drives.read_ladder();
    }
}

fn connect(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    let back = app.studio().keeps_back();
    for why in &back {
        ui.add(Label::new(RichText::new(format!("First: {why}")).color(palette.faint)).wrap());
    }
    let button = Button::new(RichText::new("Connect").strong()).min_size(egui::vec2(120.0, 28.0));
    if ui.add_enabled(back.is_empty(), button).on_hover_text("Nothing moves by it").clicked() {
        app.studio_mut().connect();
    }
    for caution in CAUTIONS {
        ui.add(Label::new(RichText::new(caution).color(palette.warning)).wrap());
    }
}

fn sign(ui: &mut egui::Ui, app: &mut Cueloom) {
    let drives = &mut app.studio_mut().drives;
    let Some(run) = drives.ladder().to_sign.as_ref() else { return };
    ui.add_space(4.0);
    ui.add(Label::new(format!("{}, was played to its end: sign it off?", run.words())).wrap());
    ui.horizontal(|ui| {
        let label = ui.label("Noticed");
        let width = ui.available_width() - 80.0;
        let hint = "a knock in the left rod end; nothing";
        // Named, as those above are.
        let field = TextEdit::singleline(&mut drives.remark).id(egui::Id::unique("noticed"));
        ui.add(field.hint_text(hint).desired_width(width)).labelled_by(label.id);
        if ui.add_enabled(!drives.remark.trim().is_empty(), Button::new("Sign off")).clicked() {
            drives.sign();
        }
    });
}

/// What the record says is known once the drives have answered.
fn commission(ui: &mut egui::Ui, app: &Cueloom, palette: &Palette) {
    ui.label(RichText::new("Commissioning").strong());
    let words = match app.studio().drives.answered().map(|answered| &answered.vouched.void) {
        None => "Whether the record holds is known once the drives have answered".to_string(),
        Some(None) => "The record holds for the drives that answered last".to_string(),
        Some(Some(why)) => format!("The record: {why}"),
    };
    ui.add(Label::new(words).wrap());
    let words =
        "Its guided steps are asked once connected, the seat vacant; `cueloom commission` asks the same";
    ui.add(Label::new(RichText::new(words).color(palette.faint)).wrap());
}
