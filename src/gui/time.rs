//! One time axis: marks of findings, lanes of cues, traces; one playhead and one zoom for all of it.

use super::canvas;
use super::overlay;
use super::theme::{self, Palette};
use super::traces::{self, Choice};
use crate::desk::lanes::{self, Mark};
use crate::desk::studio::Studio;
use crate::desk::variant::Part;
use crate::time::clock;
use egui::{Align2, FontId, Rect, Sense, Stroke, pos2, vec2};

/// Width of the names at the left.
pub(super) const NAMES: f32 = 84.0;
const RULER: f32 = 34.0;
/// Points below which a block is narrow, and below which two narrow ones are too near to be told apart. Own choice.
const NARROW: f64 = 4.0;
const NEAR: f64 = 2.0;
/// Points from which a block has round corners.
const ROUNDED: f32 = 12.0;
/// How much closer a click on a crowd of blocks goes.
const CLOSER: f64 = 4.0;
/// Most marks of findings; a list of more says so itself.
const MOST_MARKS: usize = 600;

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
    // A record has a lane of its own to stand there.
    let share = if studio.laid().is_some() { 0.24 } else { 0.32 };
    let lane_room = (rect.height() * share).max(18.0);
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
    let below = overlay::lane(ui, studio, rect, lanes_rect.bottom() + 4.0, palette);
    let traces_rect = Rect::from_min_max(pos2(rect.left(), below), rect.max);
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

pub(super) fn x_of(studio: &Studio, rect: Rect, t_s: f64) -> f32 {
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
        .take(MOST_MARKS)
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

/// Draws what stands on the lanes in view; whether the pointer is on it.
fn blocks(ui: &mut egui::Ui, studio: &mut Studio, rect: Rect, height: f32, palette: &Palette) -> bool {
    let at_cursor = studio.block_at_cursor();
    let axis = studio.axis;
    let pixel_s = axis.span_s() / f64::from(rect.width());
    let marks = lanes::in_view(studio.blocks(), (axis.from_s, axis.to_s), NARROW * pixel_s, NEAR * pixel_s);
    let mut on_block = false;
    for mark in &marks {
        let members: Vec<&lanes::Block> =
            mark.members().iter().filter_map(|at| studio.blocks().get(*at)).collect();
        let (Some(first), Some(last)) = (members.first(), members.last()) else { continue };
        let (left, right) = (x_of(studio, rect, first.start_s), x_of(studio, rect, last.end_s));
        let top = rect.top() + height * first.lane as f32;
        if top > rect.bottom() {
            continue;
        }
        let place =
            Rect::from_min_max(pos2(left, top + 0.5), pos2(right.max(left + 2.0), top + height - 1.0));
        let look = Look {
            blamed: members.iter().map(|block| studio.blamed(block.placement) as f32).fold(0.0, f32::max),
            silent: members.iter().all(|block| is_silent(studio, block)),
            chosen: members.iter().any(|block| at_cursor == Some(block.placement)),
            words: match mark {
                Mark::One(_) => first.name.clone(),
                Mark::Crowd(_) => format!("{} cues", members.len()),
            },
        };
        let (block, end_s) = ((*first).clone(), last.end_s);
        draw_block(ui, &look, place, rect, height, palette);
        let visible = place.intersect(rect);
        if visible.width() < 1.0 {
            continue;
        }
        let response = ui.interact(visible, ui.scope_id().with(("block", block.placement)), Sense::click());
        let said = format!("{}, {} to {}", look.words, clock(block.start_s), clock(end_s));
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, &said));
        on_block |= response.hovered();
        match mark {
            Mark::One(_) => one(studio, &block, response, &said),
            Mark::Crowd(_) => {
                if response.on_hover_text(format!("{said}\nClick: closer, until each shows")).clicked() {
                    studio.zoom(CLOSER, Some((block.start_s + end_s) / 2.0));
                }
            }
        }
    }
    on_block
}

/// Whether a block does not sound in the variant that is played.
fn is_silent(studio: &Studio, block: &lanes::Block) -> bool {
    let (part, variant) = (Part::Placement(block.name.clone()), studio.variant());
    variant.muted.contains(&part) || (!variant.alone.is_empty() && !variant.alone.contains(&part))
}

/// What can be done with a block.
fn one(studio: &mut Studio, block: &lanes::Block, response: egui::Response, said: &str) {
    let part = Part::Placement(block.name.clone());
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

/// How a block, or a crowd of them, stands there.
struct Look {
    /// Its share of the selected finding.
    blamed: f32,
    silent: bool,
    /// The cursor is on its statement.
    chosen: bool,
    words: String,
}

fn draw_block(ui: &egui::Ui, look: &Look, place: Rect, lanes: Rect, height: f32, palette: &Palette) {
    let painter = ui.painter_at(lanes);
    let fill = match (look.blamed > 0.02, look.silent) {
        (true, _) => theme::mix(palette.raised, palette.error, 0.25 + 0.6 * look.blamed.min(1.0)),
        (false, true) => palette.ground,
        (false, false) => palette.raised,
    };
    let (width, colour) = if look.chosen { (2.0, palette.accent) } else { (1.0, palette.rule) };
    let visible = place.intersect(lanes);
    if place.width() < ROUNDED {
        // Hundreds of these may be in view, and round corners cost a hundred triangles each.
        painter.add(framed(visible, fill, width, colour));
        return;
    }
    painter.rect(place, 2.0, fill, Stroke::new(width, colour), egui::StrokeKind::Inside);
    if height >= 11.0 && visible.width() > 26.0 {
        let colour = if look.silent { palette.faint } else { palette.text };
        let words = if look.silent { format!("{} (mute)", look.words) } else { look.words.clone() };
        let at = pos2(visible.left() + 3.0, place.center().y);
        ui.painter_at(visible.shrink2(vec2(2.0, 0.0))).text(
            at,
            Align2::LEFT_CENTER,
            words,
            theme::small(),
            colour,
        );
    }
}

/// A filled rectangle in a frame, as four triangles.
fn framed(rect: Rect, fill: egui::Color32, width: f32, colour: egui::Color32) -> egui::Mesh {
    let mut mesh = egui::Mesh::default();
    mesh.add_colored_rect(rect, colour);
    if rect.width() > 2.0 * width {
        mesh.add_colored_rect(rect.shrink(width), fill);
    }
    mesh
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
        let from = ui.input(|input| input.pointer.press_origin());
        choice.drag_from_s = Some(t_of(studio, rect, from.map_or(pointer.x, |at| at.x)));
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
