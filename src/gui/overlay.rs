//! A record of a run over the scene: the runs to choose from, what is said of the one that lies there, and what happened
//! in it as marks on the time axis. The lines themselves are drawn with the traces.

use super::app::Cueloom;
use super::canvas;
use super::dialogs::Dialog;
use super::theme::{self, Palette};
use super::time::{NAMES, x_of};
use super::traces::{Choice, ERROR};
use crate::desk::findings::sentence;
use crate::desk::keys::{Act, name};
use crate::desk::overlay::head::gain_words;
use crate::desk::overlay::made::Made;
use crate::desk::overlay::marks::{self, Kind, Mark};
use crate::desk::studio::{Overlaid, Studio};
use crate::diag::Severity;
use crate::time::clock;
use egui::text::{LayoutJob, TextWrapping};
use egui::{Align2, Label, Rect, RichText, ScrollArea, Sense, pos2, vec2};

/// Height of the marks' lane, points.
const LANE: f32 = 17.0;
/// Marks nearer than this are one, points. Own choice: two of them would touch.
const NEAR: f32 = 13.0;
/// Less room than this is none for a mark's words, points.
const ROOM: f32 = 48.0;

/// Puts the record away that lies there, or asks for one.
pub(super) fn toggle(app: &mut Cueloom) {
    if app.studio().overlaid() == Overlaid::Nothing {
        app.view.dialog = Some(Dialog::record(app.studio_mut()));
    } else {
        app.studio_mut().put_record_away();
    }
}

/// Does what the button beside the traces asked for.
pub(super) fn tend(app: &mut Cueloom) {
    if std::mem::take(&mut app.view.traces.wants_record) {
        toggle(app);
    }
}

/// The runs of the profile; a click takes one's path.
pub(super) fn runs(ui: &mut egui::Ui, studio: &Studio, path: &mut String, palette: &Palette) {
    if studio.runs().is_empty() {
        let folder = studio.drives.records_of_steel();
        let words = format!(
            "No run of this profile is kept in {}: play one on drives, simulated ones will do, or name a record's path",
            folder.folder().join("runs").display()
        );
        ui.add(Label::new(RichText::new(words).color(palette.faint)).wrap());
        return;
    }
    ui.label(RichText::new("Runs of this profile, the newest first").color(palette.faint));
    ScrollArea::vertical().id_salt("runs").max_height(230.0).show(ui, |ui| {
        for run in studio.runs() {
            let chosen = run.path.display().to_string();
            if ui.selectable_label(*path == chosen, run.words()).clicked() {
                *path = chosen;
            }
        }
    });
}

/// What is chosen and what is said of it, above the time axis; nothing where no record is.
pub(super) fn row(ui: &mut egui::Ui, studio: &mut Studio, choice: &mut Choice, palette: &Palette) {
    let overlaid = studio.overlaid();
    let Some(record) = studio.record_name().filter(|_| overlaid != Overlaid::Nothing) else { return };
    let shown = studio.laid().is_some();
    ui.horizontal(|ui| {
        let strength = studio.laid().map_or(String::new(), |laid| format!(", {}", laid.head.strength()));
        ui.label(RichText::new(format!("Record {record}{strength}")).strong());
        if let Some(gain) = studio.gain_of_record().filter(|_| shown) {
            let tip = "Draws the scene at the record's gain, so that both lie on one another";
            if ui.button(format!("Draw at {}", gain_words(gain))).on_hover_text(tip).clicked() {
                studio.set_gain(gain);
            }
        }
        let tip = format!("Takes the record off the traces ({})", name(Act::Record));
        if ui.button("Put away").on_hover_text(tip).clicked() {
            studio.put_record_away();
        }
        if let Overlaid::Reading(part) = overlaid {
            ui.add(egui::Spinner::new().size(14.0));
            ui.label(format!("reading, {:.0} %", part * 100.0));
        }
        if shown {
            let words = match choice.order() {
                0 => "broad: the scene, dotted: commanded, thin: measured",
                ERROR => "measured less commanded, the leg's lag in it",
                _ => "a record holds lengths: choose Position or Error",
            };
            ui.add(Label::new(RichText::new(words).color(palette.faint)).truncate()).on_hover_text(words);
        }
    });
    let other = matches!(studio.made(), Some(Made::OfAnother(_) | Made::NotShown(_)));
    let words: Vec<String> = match &overlaid {
        Overlaid::Failed(why) => vec![why.clone()],
        _ => studio.of_record(),
    };
    if words.is_empty() {
        return;
    }
    let warns = other || matches!(overlaid, Overlaid::Failed(_));
    let colour = if warns { palette.warning } else { palette.faint };
    let words = words.iter().map(|words| sentence(words)).collect::<Vec<_>>().join(". ");
    let label = Label::new(RichText::new(&words).color(colour));
    // What has to be known is read in a narrow window too.
    ui.add(if warns { label.wrap() } else { label.truncate() }).on_hover_text(words);
}

/// What happened, in a lane of its own from `top` on; where the lane ends.
pub(super) fn lane(ui: &egui::Ui, studio: &mut Studio, rect: Rect, top: f32, palette: &Palette) -> f32 {
    let Some(laid) = studio.laid().cloned() else { return top };
    let lane = Rect::from_min_size(pos2(rect.left(), top), vec2(rect.width(), LANE));
    let name_at = pos2(lane.left() - NAMES + 4.0, lane.top() + 1.0);
    ui.painter().text(name_at, Align2::LEFT_TOP, "record", theme::small(), palette.faint);
    // A mark at an end of the axis is seen whole.
    let painter = ui.painter_at(lane.expand2(vec2(NEAR / 2.0, 0.0)));
    for (from_s, to_s) in &laid.played {
        let (left, right) = (x_of(studio, rect, *from_s), x_of(studio, rect, *to_s));
        let bar = Rect::from_x_y_ranges(left..=right.max(left + 1.0), lane.bottom() - 2.0..=lane.bottom());
        painter.rect_filled(bar.intersect(lane), 0.0, palette.faint);
    }
    let axis = studio.axis;
    let near_s = f64::from(NEAR / rect.width()) * axis.span_s();
    let groups = marks::in_view(&laid.marks, (axis.from_s, axis.to_s), near_s);
    let x = |group: &[usize]| {
        let first = group.first().and_then(|at| laid.marks.get(*at));
        first.map(|mark| x_of(studio, rect, mark.at_s))
    };
    let places: Vec<f32> = groups.iter().filter_map(|group| x(group)).collect();
    let mut chosen = None;
    for (at, (group, x)) in groups.iter().zip(&places).enumerate() {
        let members: Vec<&Mark> = group.iter().filter_map(|at| laid.marks.get(*at)).collect();
        let Some(gravest) = members.iter().min_by_key(|mark| mark.kind) else { continue };
        let place = pos2(*x, lane.center().y - 1.5);
        let severity = match gravest.kind {
            Kind::Fault => Severity::Error,
            Kind::LetGo => Severity::Warning,
            Kind::Change => Severity::Note,
        };
        canvas::mark(&painter, place, 4.5, severity, palette);
        let room = places.get(at + 1).copied().unwrap_or(lane.right()) - x - NEAR;
        if room > ROOM {
            let mut job = LayoutJob::simple_singleline(gravest.words.clone(), theme::small(), palette.text);
            job.wrap = TextWrapping::truncate_at_width(room);
            let galley = painter.layout_job(job);
            painter.galley(pos2(x + 7.0, lane.top()), galley, palette.text);
        }
        let said: Vec<String> = members
            .iter()
            .map(|mark| format!("{} at {}: {}", mark.kind.word(), clock(mark.at_s), mark.words))
            .collect();
        let said = said.join("\n");
        let area = Rect::from_center_size(place, vec2(NEAR, LANE));
        let response = ui.interact(area, ui.scope_id().with(("of the record", at)), Sense::click());
        let label = format!("Record: {said}");
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, &label));
        if response.on_hover_text(format!("{said}\nClick: go there")).clicked() {
            chosen = group.iter().copied().min_by_key(|at| laid.marks.get(*at).map(|mark| mark.kind));
        }
    }
    if let Some(at) = chosen {
        studio.go_to_mark(at);
    }
    lane.bottom() + 4.0
}
