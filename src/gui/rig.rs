//! The rig drawn to scale, moved by the playhead, and what the occupant would see of the horizon.

use super::app::View;
use super::theme::{self, Palette};
use crate::desk::margins::{Nearness, percent};
use crate::desk::rig_view::{Kind, Side, horizon_rad, parts, reach_m, shapes};
use crate::desk::studio::{Mode, Studio, Verdict};
use egui::{Align2, Color32, Painter, Pos2, Rect, RichText, Sense, Shape, Stroke, pos2, vec2};

pub(super) fn show(ui: &mut egui::Ui, studio: &Studio, view: &mut View, palette: &Palette) {
    ui.horizontal(|ui| {
        for side in Side::ALL {
            if ui.selectable_label(view.side == Some(side), side.word()).clicked() {
                view.side = Some(side);
                view.camera = side.camera();
            }
        }
        if studio.motion_is_old() && studio.motion().is_some() {
            ui.label(RichText::new("old motion").color(palette.warning));
        }
        if studio.old_rig().is_some() {
            ui.label(RichText::new("last good rig file").color(palette.warning));
        }
    });
    let (rect, response) = ui.allocate_exact_size(ui.available_size(), Sense::click_and_drag());
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, palette.ground);
    let moved = studio.motion().map(|motion| motion.plan.rig().clone());
    let Some(rig) = moved.or_else(|| studio.understood()?.rig.clone()) else {
        let words = "No rig to draw";
        painter.text(
            rect.center(),
            Align2::CENTER_CENTER,
            words,
            egui::FontId::proportional(13.0),
            palette.faint,
        );
        return;
    };
    let pose = studio.pose();
    let said = format!("Rig at {}", crate::time::clock(studio.transport().at_s));
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Canvas, true, &said));
    let response = response.on_hover_text("Drag turns, drag with Shift moves, wheel zooms");
    let scale = f64::from(rect.width().min(rect.height())) / (2.6 * reach_m(&rig)) * view.camera.zoom;
    if response.dragged() {
        let drag = response.drag_delta();
        view.side = None;
        if ui.input(|input| input.modifiers.shift) {
            view.camera.pan_m[0] += f64::from(drag.x) / scale;
            view.camera.pan_m[1] -= f64::from(drag.y) / scale;
        } else {
            view.camera = view.camera.turned(f64::from(drag.x) * 0.008, f64::from(drag.y) * 0.008);
        }
    }
    if response.hovered() {
        let wheel = ui.input(|input| input.smooth_scroll_delta().y);
        view.camera.zoom = (view.camera.zoom * libm::exp(f64::from(wheel) * 0.003)).clamp(0.2, 20.0);
    }
    let pan = view.camera.pan_m;
    // The joint sits a little above the middle: most of a rig is below it.
    let origin = rect.center() - vec2(0.0, rect.height() * 0.10);
    let at = |point: &[f64; 2]| {
        origin + vec2(((point[0] + pan[0]) * scale) as f32, (-(point[1] + pan[1]) * scale) as f32)
    };
    let (legs, axes) = parts(&rig, &pose);
    for shape in shapes(&rig, &pose, &view.camera) {
        let points: Vec<Pos2> = shape.points_m.iter().map(at).collect();
        match (shape.kind, points.as_slice()) {
            (Kind::Floor, _) => {
                painter.add(Shape::closed_line(points, Stroke::new(1.0, palette.rule)));
            }
            (Kind::Plate, [_, _]) => {
                painter.line_segment([points[0], points[1]], Stroke::new(2.0, palette.text));
            }
            (Kind::Plate, _) => {
                let fill = palette.raised.gamma_multiply(0.85);
                painter.add(Shape::convex_polygon(points, fill, Stroke::new(1.6, palette.text)));
            }
            (Kind::Frame, [from, to]) => {
                painter.line_segment([*from, *to], Stroke::new(5.0, palette.rule));
            }
            (Kind::Leg(leg), [base, anchor]) => {
                let state = &legs[leg];
                let colour = if state.nearness == Nearness::Clear {
                    palette.trace(axes.len() + leg)
                } else {
                    palette.nearness(state.nearness)
                };
                painter.line_segment([*base, *anchor], Stroke::new(4.0, colour));
                let words = match state.nearness {
                    Nearness::Clear => state.name.clone(),
                    near => format!("{} {} {}", state.name, percent(state.used), near.word()),
                };
                let side =
                    if anchor.x < rect.center().x { Align2::RIGHT_CENTER } else { Align2::LEFT_CENTER };
                let away = if anchor.x < rect.center().x { -8.0 } else { 8.0 };
                let middle = pos2((base.x + anchor.x) / 2.0 + away, (base.y + anchor.y) / 2.0);
                label(&painter, middle, side, &words, colour, palette);
            }
            (Kind::Seat, [from, to]) => {
                painter.line_segment([*from, *to], Stroke::new(1.4, palette.faint));
            }
            (Kind::Seat, [point]) => {
                painter.circle_stroke(*point, 5.0, Stroke::new(1.6, palette.text));
                label(&painter, *point + vec2(9.0, 0.0), Align2::LEFT_CENTER, "seat", palette.faint, palette);
            }
            (Kind::Mass, [point]) => {
                painter.circle_filled(*point, 2.5, palette.faint);
            }
            (Kind::Joint, [point]) => {
                painter.circle_filled(*point, 3.2, palette.text);
            }
            _ => {}
        }
    }
    for (row, axis) in axes.iter().enumerate() {
        let colour =
            if axis.nearness == Nearness::Clear { palette.text } else { palette.nearness(axis.nearness) };
        let at = crate::motion::sign(rig.axes[row].axis) * pose.get(row).unwrap_or(&0.0);
        let value = match rig.axes[row].axis.is_rotation() {
            true => format!("{:+.2} deg", at.to_degrees()),
            false => format!("{:+.1} mm", at * 1000.0),
        };
        let words = format!("{:5} {value:>10}  {}", axis.name, axis.nearness.word());
        let corner = rect.left_top() + vec2(8.0, 8.0 + 16.0 * row as f32);
        painter.text(corner, Align2::LEFT_TOP, words, egui::FontId::monospace(11.5), colour);
    }
    if studio.mode() == Mode::Rehearsing && matches!(studio.verdict(), Verdict::TooMuch { .. }) {
        let at = rect.center_bottom() + vec2(0.0, -8.0);
        let words = "does not fit the rig: a drawing only";
        label(&painter, at, Align2::CENTER_BOTTOM, words, palette.error, palette);
    }
    let width = (rect.width() * 0.24).clamp(64.0, 110.0);
    let view = Rect::from_min_size(rect.right_top() + vec2(-width - 8.0, 8.0), vec2(width, width * 0.72));
    horizon(&painter.with_clip_rect(view), view, horizon_rad(&rig, &pose), palette);
}

fn label(painter: &Painter, at: Pos2, anchor: Align2, words: &str, colour: Color32, palette: &Palette) {
    let galley = painter.layout_no_wrap(words.to_string(), theme::small(), colour);
    let rect = anchor.anchor_size(at, galley.size());
    painter.rect_filled(rect.expand(1.5), 1.0, palette.ground.gamma_multiply(0.8));
    painter.galley(rect.min, galley, colour);
}

/// The outside horizon over a field of view of forty degrees across.
fn horizon(painter: &Painter, rect: Rect, (pitch_rad, roll_rad): (f64, f64), palette: &Palette) {
    painter.rect_filled(rect, 0.0, palette.sky);
    let pixels_rad = f64::from(rect.width()) / 40.0_f64.to_radians();
    let (sin, cos) = libm::sincos(-roll_rad);
    // Nose up: the horizon sinks in the picture; right wing down: it turns to the left.
    let across = vec2(cos as f32, sin as f32);
    let down = vec2(-across.y, across.x);
    let middle = rect.center() + down * (pitch_rad * pixels_rad) as f32;
    let reach = rect.width() * 2.0;
    let (left, right) = (middle - across * reach, middle + across * reach);
    let land = vec![left, right, right + down * reach, left + down * reach];
    painter.add(Shape::convex_polygon(land, palette.land, Stroke::NONE));
    painter.line_segment([left, right], Stroke::new(1.5, palette.text));
    painter.hline(
        rect.center().x - 9.0..=rect.center().x + 9.0,
        rect.center().y,
        Stroke::new(1.5, palette.accent),
    );
    painter.rect_stroke(rect, 0.0, Stroke::new(1.0, palette.rule), egui::StrokeKind::Inside);
    painter.text(
        rect.left_bottom() + vec2(4.0, -2.0),
        Align2::LEFT_BOTTOM,
        "horizon",
        theme::small(),
        palette.faint,
    );
}
