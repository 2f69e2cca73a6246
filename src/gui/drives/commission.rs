//! The guided steps of a commissioning, beside what jogs and homes.

use crate::audition::Load;
use crate::commissioning::Wanted;
use crate::gui::app::Cueloom;
use crate::gui::theme::Palette;
use egui::{Button, Label, RichText, TextEdit};

pub(super) fn show(ui: &mut egui::Ui, app: &mut Cueloom, palette: &Palette) {
    let drives = &mut app.studio_mut().drives;
    let Some(answered) = drives.answered() else { return };
    let (vacant, holds) = (answered.vouched.rung.load == Load::Vacant, answered.vouched.void.is_none());
    ui.separator();
    ui.label(RichText::new("Commissioning").strong());
    if !vacant {
        ui.label(RichText::new("Its steps are asked with the seat vacant only").color(palette.faint));
        return;
    }
    if let Some(said) = drives.steps.said().map(str::to_string) {
        ui.add(Label::new(RichText::new(said).color(palette.warning)).wrap());
    }
    let Some((question, at, all)) = drives.steps.question() else { return begin(ui, app, holds) };
    let (name, words, wanted) = (question.name.clone(), question.words.clone(), question.wanted.clone());
    ui.add(Label::new(RichText::new(format!("{at} of {all}: {name}")).strong()).wrap());
    ui.add(Label::new(words).wrap());
    let mut answer = None;
    ui.horizontal_wrapped(|ui| {
        match wanted {
            Wanted::Yes => choose(ui, &["yes".to_string(), "no".to_string()], &mut answer),
            Wanted::Word(words) => {
                // Not in an order that gives the right one away.
                let mut words = words;
                words.sort();
                choose(ui, &words, &mut answer);
            }
            Wanted::Between(..) => {
                let label = ui.label("Measured");
                let field =
                    TextEdit::singleline(&mut drives.steps.typed).hint_text("10.2 mm").desired_width(90.0);
                ui.add(field).labelled_by(label.id);
                if ui.button("Answer").clicked() {
                    answer = Some(drives.steps.typed.clone());
                }
            }
        }
        if ui.button("Give the steps up").clicked() {
            drives.steps.give_up();
        }
    });
    if let Some(text) = answer {
        drives.answer(&text);
    }
}

fn choose(ui: &mut egui::Ui, words: &[String], answer: &mut Option<String>) {
    for word in words {
        if ui.button(word).clicked() {
            *answer = Some(word.clone());
        }
    }
}

fn begin(ui: &mut egui::Ui, app: &mut Cueloom, holds: bool) {
    ui.add(Label::new("Read docs/first-motion.md first. Nothing is kept before the last step").wrap());
    let drives = &mut app.studio_mut().drives;
    ui.horizontal_wrapped(|ui| {
        let label = ui.label("By");
        ui.add(TextEdit::singleline(&mut drives.steps.by).desired_width(90.0)).labelled_by(label.id);
        let named = !drives.steps.by.trim().is_empty();
        let words = if holds { "Commission anew" } else { "Begin the steps" };
        if ui.add_enabled(named, Button::new(words)).clicked() {
            drives.begin_steps();
        }
        let tip = "The daily test of every brake against a known torque, done today";
        if ui.add_enabled(named, Button::new("Every brake was tested today")).on_hover_text(tip).clicked() {
            drives.brakes_tested();
        }
    });
}
