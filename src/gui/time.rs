//! One time axis: marks of findings, lanes of cues, traces; one playhead and one zoom for all of it.

use super::canvas;
use super::theme::{self, Palette};
use super::traces::{self, Choice};
use crate::desk::clock;
use crate::desk::lanes;
use crate::desk::studio::Studio;
use crate::desk::variant::Part;
use egui::{Align2, FontId, Rect, Sense, Stroke, pos2, vec2};

/// Width of the names at the left.
pub(super) const NAMES: f32 = 84.0;
const RULER: f32 = 34.0;
/// Most blocks drawn one by one; beyond, the lane says how many there are. Own choice.
const MOST_BLOCKS: usize = 600;

pub(super) fn show(ui: &mut egui::Ui, studio: &mut Studio, choice: &mut Choice, palette: &Palette) {
    traces::choose(ui, studio, choice, palette);
    let whole = ui.available_rect_before_wrap();
    let rect = Rect::from_min_max(whole.min + vec2(NAMES, 0.0), whole.max);
    if rect.width() < 40.0 || rect.height() < 60.0 {
        return;
    }
    let response = ui.interact(rect, ui.scope_id().with("time axis"), Sense::click_and_drag());
    let said = format!(
        "Time axis from {} to {}, playhead at {}",
        clock(studio.axis.from_s),
        clock(studio.axis.to_s),
        clock(studio.transport().at_s)
    );
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ScrollBar, true, &said));
    ui.painter_at(whole).rect_filled(rect, 0.0, palette.ground);
    if studio.motion().is_none() {
        let words = "What the scene does over time shows here";
        ui.painter().text(
            rect.center(),
            Align2::CENTER_CENTER,
            words,
            FontId::proportional(13.0),
            palette.faint,
        );
        return;
    }
    wheel(ui, studio, &response, rect);
    ruler(ui, studio, rect, palette);
    let lane_count = lanes::count(studio.blocks()).max(1);
    let lane_room = (rect.height() * 0.32).max(18.0);
    let lane_height = (lane_room / lane_count as f32).clamp(5.0, 17.0);
    let lanes_rect = Rect::from_min_size(
        rect.min + vec2(0.0, RULER),
        vec2(rect.width(), (lane_height * lane_count as f32).min(lane_room)),
    );
    ui.painter().text(
        pos2(whole.left() + 4.0, lanes_rect.top() + 1.0),
        Align2::LEFT_TOP,
        "cues",
        theme::small(),
        palette.faint,
    );
    let on_block = blocks(ui, studio, lanes_rect, lane_height, palette);
    let traces_rect = Rect::from_min_max(pos2(rect.left(), lanes_rect.bottom() + 4.0), rect.max);
    traces::show(ui, studio, choice, traces_rect, palette);
    stretch_and_playhead(ui, studio, rect, palette);
    pointer(ui, studio, choice, &response, rect, traces_rect, on_block, palette);
    old_marker(ui, studio, rect, palette);
}

fn old_marker(ui: &egui::Ui, studio: &Studio, rect: Rect, palette: &Palette) {
    if studio.motion_is_old() {
        let painter = ui.painter_at(rect);
        painter.rect_stroke(rect, 0.0, Stroke::new(2.0, palette.warning), egui::StrokeKind::Inside);
        let at = rect.right_top() + vec2(-6.0, RULER + 3.0);
        let galley = painter.layout_no_wrap("old motion".to_string(), theme::small(), palette.warning);
        let place = Align2::RIGHT_TOP.anchor_size(at, galley.size());
        painter.rect_filled(place.expand(2.0), 1.0, palette.ground);
        painter.galley(place.min, galley, palette.warning);
    }
}

fn x_of(studio: &Studio, rect: Rect, t_s: f64) -> f32 {
    rect.left() + (studio.axis.part(t_s) as f32) * rect.width()
}

fn t_of(studio: &Studio, rect: Rect, x: f32) -> f64 {
    studio.axis.at(f64::from((x - rect.left()) / rect.width()))
}

fn wheel(ui: &egui::Ui, studio: &mut Studio, response: &egui::Response, rect: Rect) {
    let Some(pointer) = response.hover_pos() else { return };
    let (wheel, pinch) = ui.input(|input| (input.smooth_scroll_delta(), input.zoom_delta()));
    let factor = f64::from(pinch) * (1.0 + f64::from(wheel.y) * 0.004).clamp(0.5, 2.0);
    if factor != 1.0 {
        let around = t_of(studio, rect, pointer.x);
        studio.zoom(factor, Some(around));
    }
    if wheel.x != 0.0 {
        studio.pan(f64::from(-wheel.x / rect.width()));
    }
}

fn ruler(ui: &mut egui::Ui, studio: &mut Studio, rect: Rect, palette: &Palette) {
    let painter = ui.painter_at(rect);
    let most = (rect.width() / 80.0).max(2.0) as usize;
    let (marks, _) = studio.axis.marks(most);
    for t_s in marks {
        let x = x_of(studio, rect, t_s);
        painter.vline(
            x,
            rect.top() + RULER - 5.0..=rect.bottom(),
            Stroke::new(1.0, palette.rule.gamma_multiply(0.6)),
        );
        painter.text(
            pos2(x + 3.0, rect.top() + RULER - 3.0),
            Align2::LEFT_BOTTOM,
            clock(t_s),
            theme::small(),
            palette.faint,
        );
    }
    let found: Vec<(usize, f64, crate::diag::Severity, String)> = studio
        .rows()
        .iter()
        .enumerate()
        .filter_map(|(at, row)| Some((at, row.at_s?, row.severity, row.title.clone())))
        .take(MOST_BLOCKS)
        .collect();
    for (at, at_s, severity, title) in found {
        let x = x_of(studio, rect, at_s);
        if !rect.x_range().contains(x) {
            continue;
        }
        let place = pos2(x, rect.top() + 9.0);
        let chosen = studio.selected() == Some(at);
        let size = if chosen { 7.0 } else { 5.0 };
        if chosen {
            painter.vline(x, rect.y_range(), Stroke::new(1.0, palette.severity(severity)));
        }
        canvas::mark(&painter, place, size, severity, palette);
        let area = Rect::from_center_size(place, vec2(14.0, 14.0));
        let response = ui.interact(area, ui.scope_id().with(("finding", at)), Sense::click());
        let said = format!("{} at {}: {title}", severity.word(), clock(at_s));
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, &said));
        if response.on_hover_text(said).clicked() {
            studio.select(at);
        }
    }
}

/// Draws the blocks in view; whether the pointer is on one.
fn blocks(ui: &mut egui::Ui, studio: &mut Studio, rect: Rect, height: f32, palette: &Palette) -> bool {
    let painter = ui.painter_at(rect);
    let at_cursor = studio.block_at_cursor();
    let (from_s, to_s) = (studio.axis.from_s, studio.axis.to_s);
    let shown: Vec<lanes::Block> = studio
        .blocks()
        .iter()
        .filter(|block| block.start_s < to_s && block.end_s > from_s)
        .cloned()
        .collect();
    let mut on_block = false;
    for block in shown.iter().take(MOST_BLOCKS) {
        let (left, right) = (x_of(studio, rect, block.start_s), x_of(studio, rect, block.end_s));
        let top = rect.top() + height * block.lane as f32;
        let place =
            Rect::from_min_max(pos2(left, top + 0.5), pos2(right.max(left + 2.0), top + height - 1.0));
        if top > rect.bottom() {
            continue;
        }
        let part = Part::Placement(block.name.clone());
        let silent = studio.variant().muted.contains(&part)
            || (!studio.variant().alone.is_empty() && !studio.variant().alone.contains(&part));
        let blamed = studio.blamed(block.placement) as f32;
        let fill = match (blamed > 0.02, silent) {
            (true, _) => theme::mix(palette.raised, palette.error, 0.25 + 0.6 * blamed.min(1.0)),
            (false, true) => palette.ground,
            (false, false) => palette.raised,
        };
        painter.rect_filled(place, 2.0, fill);
        let chosen = at_cursor == Some(block.placement);
        let stroke = if chosen { Stroke::new(2.0, palette.accent) } else { Stroke::new(1.0, palette.rule) };
        painter.rect_stroke(place, 2.0, stroke, egui::StrokeKind::Inside);
        let visible = place.intersect(rect);
        if height >= 11.0 && visible.width() > 26.0 {
            let colour = if silent { palette.faint } else { palette.text };
            let words = if silent { format!("{} (mute)", block.name) } else { block.name.clone() };
            let at = pos2(visible.left() + 3.0, place.center().y);
            ui.painter_at(visible.shrink2(vec2(2.0, 0.0))).text(
                at,
                Align2::LEFT_CENTER,
                words,
                theme::small(),
                colour,
            );
        }
        if visible.width() < 1.0 {
            continue;
        }
        let response = ui.interact(visible, ui.scope_id().with(("block", block.placement)), Sense::click());
        let said = format!("{}, {} to {}", block.name, clock(block.start_s), clock(block.end_s));
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, &said));
        on_block |= response.hovered();
        response.context_menu(|ui| {
            if ui.button("Alone").on_hover_text("Play this alone, or not any more").clicked() {
                studio.toggle_alone(part.clone());
                ui.close();
            }
            if ui.button("Mute").on_hover_text("Leave this out, or let it sound again").clicked() {
                studio.toggle_muted(part.clone());
                ui.close();
            }
        });
        if response.on_hover_text(format!("{said}\nClick: to its line. Right click: alone, mute")).clicked() {
            studio.go_to(block.span);
        }
    }
    on_block
}

fn stretch_and_playhead(ui: &egui::Ui, studio: &Studio, rect: Rect, palette: &Palette) {
    let painter = ui.painter_at(rect);
    if let Some((from_s, to_s)) = studio.variant().stretch {
        let (left, right) = (x_of(studio, rect, from_s), x_of(studio, rect, to_s));
        let colour = palette.accent.gamma_multiply(0.10);
        painter.rect_filled(Rect::from_x_y_ranges(left..=right, rect.y_range()), 0.0, colour);
        for x in [left, right] {
            painter.vline(x, rect.y_range(), Stroke::new(1.0, palette.accent));
        }
    }
    let x = x_of(studio, rect, studio.transport().at_s);
    let colour = if studio.mode() == crate::desk::studio::Mode::Rehearsing {
        palette.rehearsing
    } else {
        palette.accent
    };
    painter.vline(x, rect.top() + 16.0..=rect.bottom(), Stroke::new(1.6, colour));
    let flag =
        vec![pos2(x - 5.0, rect.top() + 15.0), pos2(x + 5.0, rect.top() + 15.0), pos2(x, rect.top() + 23.0)];
    painter.add(egui::Shape::convex_polygon(flag, colour, Stroke::NONE));
}

#[expect(clippy::too_many_arguments, reason = "all of it is what the pointer is over")]
fn pointer(
    ui: &egui::Ui,
    studio: &mut Studio,
    choice: &mut Choice,
    response: &egui::Response,
    rect: Rect,
    traces_rect: Rect,
    on_block: bool,
    palette: &Palette,
) {
    let Some(pointer) = response.interact_pointer_pos().or(response.hover_pos()) else { return };
    let t_s = t_of(studio, rect, pointer.x);
    if response.clicked() && !on_block {
        studio.put_playhead(t_s);
    }
    if response.drag_started() {
        choice.drag_from_s = Some(t_of(studio, rect, response.drag_start(ui).map_or(pointer.x, |at| at.x)));
    }
    if let Some(from_s) = choice.drag_from_s {
        let colour = palette.accent.gamma_multiply(0.2);
        let (left, right) = (x_of(studio, rect, from_s.min(t_s)), x_of(studio, rect, from_s.max(t_s)));
        ui.painter_at(rect).rect_filled(Rect::from_x_y_ranges(left..=right, rect.y_range()), 0.0, colour);
        if response.drag_stopped() {
            choice.drag_from_s = None;
            studio.set_stretch(Some((from_s, t_s)));
        }
    } else if response.hovered() && !on_block {
        traces::read(ui, studio, choice, traces_rect, pointer, t_s, palette);
    }
}

/// Where a drag began.
trait DragStart {
    fn drag_start(&self, ui: &egui::Ui) -> Option<egui::Pos2>;
}

impl DragStart for egui::Response {
    fn drag_start(&self, ui: &egui::Ui) -> Option<egui::Pos2> {
        ui.input(|input| input.pointer.press_origin())
    }
}
