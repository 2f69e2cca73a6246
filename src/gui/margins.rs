//! Gain beside margins: one thing. Moving the gain moves the bars, and the mark on the control is what would fit.

use super::theme::{self, Palette};
use crate::desk::margins::{Nearness, gain_percent, percent};
use crate::desk::studio::{MOST_GAIN, Studio};
use egui::text::{LayoutJob, TextWrapping};
use egui::{Align2, RichText, ScrollArea, Sense, Stroke, pos2, vec2};

/// Room for a limit's name, points; a longer one is cut, and whole when it is pointed at.
const NAME: f32 = 142.0;

/// Room for how much of a limit is used, and the word for that, points.
const USED: f32 = 100.0;

/// Height of the words about a change, points.
const SECOND: f32 = 14.0;

pub(super) fn show(ui: &mut egui::Ui, studio: &mut Studio, palette: &Palette) {
    gain(ui, studio, palette);
    ui.separator();
    ui.horizontal(|ui| {
        ui.label(RichText::new("Margins").strong());
        let words = match (studio.margins().is_empty(), studio.margins_are_old()) {
            (true, _) => "none yet",
            (false, true) => "of the motion before",
            (false, false) => "worst first; used of the way to the limit",
        };
        ui.label(RichText::new(words).color(palette.faint));
    });
    let (rows, old) = (studio.margins().to_vec(), studio.margins_are_old());
    ScrollArea::vertical().id_salt("margins").auto_shrink(false).show(ui, |ui| {
        for row in &rows {
            let change = studio.change(row);
            let height = if change.is_some() { 19.0 + SECOND } else { 19.0 };
            let (whole, response) =
                ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click());
            let rect = egui::Rect::from_min_size(whole.min, vec2(whole.width(), 19.0));
            let (name, used) = (rect.left() + NAME + 6.0, rect.right() - USED);
            let painter = ui.painter();
            let colour = palette.nearness(row.nearness);
            let text = if old { palette.faint } else { palette.text };
            let middle = rect.center().y;
            let font = egui::FontId::proportional(12.0);
            let mut job = LayoutJob::simple_singleline(row.name.clone(), font.clone(), text);
            job.wrap = TextWrapping::truncate_at_width(NAME);
            let galley = painter.layout_job(job);
            painter.galley(pos2(rect.left(), middle - galley.size().y / 2.0), galley, text);
            let bar =
                egui::Rect::from_min_max(pos2(name, middle - 4.0), pos2(used.max(name + 20.0), middle + 4.0));
            painter.rect_filled(bar, 1.0, palette.raised);
            // The bar ends a quarter beyond the limit, so that what is too much is seen to be.
            let full = bar.width() / 1.25;
            let width = (row.used as f32).clamp(0.0, 1.25) * full;
            let filled = egui::Rect::from_min_size(bar.min, vec2(width, bar.height()));
            painter.rect_filled(
                filled,
                1.0,
                if old { theme::mix(palette.raised, colour, 0.4) } else { colour },
            );
            let limit = bar.left() + full;
            painter.vline(limit, bar.y_range().expand(3.0), Stroke::new(1.4, palette.text));
            let words = match row.nearness {
                Nearness::Clear => percent(row.used),
                near => format!("{}  {}", percent(row.used), near.word()),
            };
            painter.text(pos2(rect.right(), middle), Align2::RIGHT_CENTER, words, font, text);
            if let Some(change) = &change {
                // As saved: a mark across the bar, and both in words below it.
                let was = bar.left() + (change.was as f32).clamp(0.0, 1.25) * full;
                let dashes = [pos2(was, bar.top() - 4.0), pos2(was, bar.bottom() + 4.0)];
                painter.extend(egui::Shape::dashed_line(&dashes, Stroke::new(1.6, palette.text), 3.0, 2.0));
                let at = pos2(rect.right(), rect.bottom() - 3.0);
                painter.text(at, Align2::RIGHT_TOP, change.words(), theme::small(), palette.text);
            }
            let was = change.map(|change| format!("{}, ", change.words())).unwrap_or_default();
            let said = format!("{} {} used, {was}{}", row.name, percent(row.used), row.words);
            response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, &said));
            if response.on_hover_text(format!("{}: {}\nClick: go there", row.name, row.words)).clicked() {
                studio.put_playhead(row.at_s);
            }
        }
    });
}

fn gain(ui: &mut egui::Ui, studio: &mut Studio, palette: &Palette) {
    let fits = studio.fits_gain().filter(|_| !studio.margins().is_empty());
    ui.horizontal(|ui| {
        ui.label(RichText::new("Gain").strong());
        let mut percent = studio.variant().gain * 100.0;
        let most = MOST_GAIN * 100.0;
        let number =
            egui::DragValue::new(&mut percent).range(0.0..=most).suffix(" %").speed(0.5).max_decimals(1);
        let number = ui.add(number).on_hover_text("Strength of all motion");
        number.widget_info(|| {
            egui::WidgetInfo::labeled(egui::accesskit::Role::SpinButton, true, "Gain in percent")
        });
        if number.changed() {
            studio.set_gain(percent / 100.0);
        }
        if let Some(gain) = fits {
            let words = format!("{} fits", gain_percent(gain));
            let said = if studio.variant().gain <= gain {
                "fits up to here at least"
            } else {
                "the largest that fits"
            };
            if ui.link(words).on_hover_text(said).clicked() {
                studio.set_gain(gain);
            }
        }
    });
    ui.spacing_mut().slider_width = ui.available_width() - 8.0;
    let mut value = studio.variant().gain;
    let slider = ui.add(egui::Slider::new(&mut value, 0.0..=MOST_GAIN).show_value(false));
    slider.widget_info(|| egui::WidgetInfo::slider(true, value, "Gain"));
    if slider.changed() {
        studio.set_gain((value * 100.0).round() / 100.0);
    }
    let rail = slider.rect;
    let at = |gain: f64| {
        let reach = rail.width() - rail.height() * 0.8;
        rail.left() + rail.height() * 0.4 + reach * (gain / MOST_GAIN) as f32
    };
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 12.0), Sense::hover());
    let painter = ui.painter();
    for (gain, words) in [(0.0, "0"), (0.5, "50"), (1.0, "100 %"), (1.5, "150")] {
        painter.vline(
            at(gain),
            (rail.bottom() - 3.0)..=(rail.bottom() + 1.0),
            Stroke::new(1.0, palette.faint),
        );
        let anchor = match gain {
            0.0 => Align2::LEFT_TOP,
            1.5 => Align2::RIGHT_TOP,
            _ => Align2::CENTER_TOP,
        };
        painter.text(pos2(at(gain), rect.top() - 2.0), anchor, words, theme::small(), palette.faint);
    }
    if let Some(gain) = fits {
        let x = at(gain.min(MOST_GAIN));
        let tip =
            vec![pos2(x - 5.0, rail.top() - 4.0), pos2(x + 5.0, rail.top() - 4.0), pos2(x, rail.top() + 4.0)];
        painter.add(egui::Shape::convex_polygon(tip, palette.accent, Stroke::NONE));
    }
}
