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
            Wanted::Between(..) => measure(ui, &mut drives.steps.typed, "10.2 mm", &mut answer),
            Wanted::Twice(_) => measure(ui, &mut drives.steps.typed, "12.30 mm, 12.42 mm", &mut answer),
            Wanted::Held(_) => {
                measure(ui, &mut drives.steps.typed, "1.3 N*m", &mut answer);
                if ui.button("It moved").clicked() {
                    answer = Some("no".to_string());
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

fn measure(ui: &mut egui::Ui, typed: &mut String, hint: &str, answer: &mut Option<String>) {
    let label = ui.label("Measured");
    ui.add(TextEdit::singleline(typed).hint_text(hint).desired_width(150.0)).labelled_by(label.id);
    if ui.button("Answer").clicked() {
        *answer = Some(typed.clone());
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
        let tip = "Every day: asks with what load each brake was tested";
        if ui.add_enabled(named, Button::new("Test the brakes")).on_hover_text(tip).clicked() {
            drives.begin_brakes();
        }
    });
}
