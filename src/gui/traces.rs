//! Traces: every platform axis and every leg, its limits as bands; a column of pixels shows all that is in it.

use super::theme::{self, Palette};
use super::time::NAMES;
use crate::desk::clock;
use crate::desk::close_up::CloseUp;
use crate::desk::compiler::Motion;
use crate::desk::keys::{Act, name};
use crate::desk::studio::Studio;
use crate::desk::traces::{CELL, Extent, ORDERS, row};
use crate::rig::Rig;
use crate::units::{Dimension, show as in_words};
use egui::{Align2, Color32, Mesh, Rect, Stroke, pos2, vec2};
use std::sync::Arc;

/// What the traces show.
#[derive(Default)]
pub(super) struct Choice {
    /// 0 value, 1 rate, 2 acceleration, 3 jerk.
    order: usize,
    /// As large as they come, and not as large as the limits.
    fitted: bool,
    close_up: Option<CloseUp>,
    /// The same of the text as saved.
    ghost_close_up: Option<CloseUp>,
    pub(super) drag_from_s: Option<f64>,
}

const WORDS: [&str; ORDERS] = ["Position", "Speed", "Acceleration", "Jerk"];

/// Of the dashes of a ghost: points drawn, and points from one to the next.
const DASH: (usize, usize) = (5, 9);

pub(super) fn choose(ui: &mut egui::Ui, studio: &mut Studio, choice: &mut Choice, palette: &Palette) {
    ui.horizontal(|ui| {
        for (order, word) in WORDS.into_iter().enumerate() {
            ui.selectable_value(&mut choice.order, order, word);
        }
        ui.separator();
        ui.checkbox(&mut choice.fitted, "Fill the height")
            .on_hover_text("Scale to the motion, not to the limits");
        let compares = studio.compares();
        let tip = format!("The text as saved, dashed under the present one ({})", name(Act::Compare));
        if ui.selectable_label(compares, "Compare").on_hover_text(tip).clicked() {
            studio.toggle_compare();
        }
        let words = match compares {
            true => studio.compared(),
            false => "click: playhead, drag: play this stretch, wheel: zoom".to_string(),
        };
        // What is compared is said in a narrow window too; how the pointer works is known after a while.
        if compares || ui.available_width() > 230.0 {
            ui.add(egui::Label::new(egui::RichText::new(&words).color(palette.faint)).truncate())
                .on_hover_text(&words);
        }
    });
}

/// One strip.
struct Strip {
    name: String,
    row: usize,
    /// Limits, where the rig file has one.
    limits: Option<(f64, f64)>,
    dimension: Dimension,
}

fn strips(rig: &Rig, order: usize) -> Vec<Strip> {
    let over = |base: Dimension| Dimension { time: base.time - order as i8, ..base };
    let axes = rig.axes.iter().enumerate().map(|(at, axis)| Strip {
        name: axis.axis.word().to_string(),
        row: row(at, order),
        limits: (order == 0).then_some((axis.min, axis.max)),
        dimension: over(if axis.axis.is_rotation() { Dimension::ANGLE } else { Dimension::LENGTH }),
    });
    let legs = rig.actuators.iter().enumerate().map(|(at, leg)| {
        let most = [0.0, leg.speed_m_s, leg.acceleration_m_s2, leg.jerk_m_s3][order.min(3)];
        let soft = leg.soft_stop_m;
        Strip {
            // What is drawn of a crank is the way of its pin.
            name: if leg.crank.is_some() { format!("{} pin", leg.name) } else { leg.name.clone() },
            row: row(rig.axes.len() + at, order),
            limits: Some(if order == 0 { (leg.min_m + soft, leg.max_m - soft) } else { (-most, most) }),
            dimension: over(Dimension::LENGTH),
        }
    });
    axes.chain(legs).collect()
}

pub(super) fn show(ui: &egui::Ui, studio: &Studio, choice: &mut Choice, rect: Rect, palette: &Palette) {
    let Some(motion) = studio.motion().cloned() else { return };
    let strips = strips(motion.plan.rig(), choice.order);
    let height = (rect.height() / strips.len().max(1) as f32).floor();
    if height < 8.0 {
        return;
    }
    let fitted = choice.fitted;
    let columns = Columns::of(studio, &motion, rect, &mut choice.close_up);
    let ghost = studio.ghost().cloned();
    if ghost.is_none() {
        choice.ghost_close_up = None;
    }
    let ghost = ghost.map(|ghost| Columns::of(studio, &ghost, rect, &mut choice.ghost_close_up));
    for (at, strip) in strips.iter().enumerate() {
        let place = Rect::from_min_size(
            pos2(rect.left(), rect.top() + height * at as f32),
            vec2(rect.width(), height - 3.0),
        );
        let colour = palette.trace(at);
        draw(ui, &columns, ghost.as_ref(), strip, place, fitted, colour, studio.motion_is_old(), palette);
        let swatch =
            Rect::from_min_size(pos2(place.left() - NAMES + 4.0, place.top() + 3.0), vec2(4.0, 11.0));
        ui.painter().rect_filled(swatch, 0.0, colour);
        ui.painter().text(
            swatch.right_top() + vec2(4.0, -1.0),
            Align2::LEFT_TOP,
            &strip.name,
            theme::small(),
            palette.text,
        );
    }
}

/// The extent of any row over each column of pixels.
struct Columns<'a> {
    motion: Arc<Motion>,
    close_up: Option<&'a CloseUp>,
    /// Sample at the left edge, and samples in a column.
    first: f64,
    step: f64,
    count: usize,
}

impl<'a> Columns<'a> {
    fn of(studio: &Studio, motion: &Arc<Motion>, rect: Rect, close_up: &'a mut Option<CloseUp>) -> Self {
        let rate = motion.traces.rate_hz / motion.plan.tempo();
        let count = rect.width().ceil().max(1.0) as usize;
        let (first, last) = (studio.axis.from_s * rate, studio.axis.to_s * rate);
        let step = (last - first) / count as f64;
        if step < CELL as f64 {
            let range = (first.floor().max(0.0) as usize, last.ceil().max(0.0) as usize + 1);
            CloseUp::keep(close_up, motion, range);
        } else {
            *close_up = None;
        }
        Self { motion: motion.clone(), close_up: close_up.as_ref(), first, step, count }
    }

    fn extent(&self, row: usize, column: usize) -> Option<Extent> {
        let (from, to) =
            (self.first + column as f64 * self.step, self.first + (column + 1) as f64 * self.step);
        match self.close_up {
            Some(close_up) => close_up.extent(row, from, to),
            None => self.motion.traces.extent(
                row,
                from.max(0.0) as usize,
                (to.ceil().max(0.0) as usize).max(from.max(0.0) as usize + 1),
            ),
        }
    }
}

#[expect(clippy::too_many_arguments, reason = "a strip and where it stands")]
fn draw(
    ui: &egui::Ui,
    columns: &Columns<'_>,
    ghost: Option<&Columns<'_>>,
    strip: &Strip,
    place: Rect,
    fitted: bool,
    colour: Color32,
    old: bool,
    palette: &Palette,
) {
    let painter = ui.painter_at(place);
    let whole = columns.motion.traces.extent(strip.row, 0, columns.motion.traces.samples);
    let Some(whole) = whole else { return };
    let (mut low, mut high) = (f64::from(whole.low), f64::from(whole.high));
    if let Some(before) =
        ghost.and_then(|ghost| ghost.motion.traces.extent(strip.row, 0, ghost.motion.traces.samples))
    {
        (low, high) = (low.min(f64::from(before.low)), high.max(f64::from(before.high)));
    }
    if let Some((a, b)) = strip.limits.filter(|_| !fitted) {
        (low, high) = (low.min(a), high.max(b));
    }
    let room = ((high - low) * 0.06).max(1e-9);
    (low, high) = (low - room, high + room);
    let y = |value: f64| place.bottom() - ((value - low) / (high - low)) as f32 * place.height();
    if let Some((a, b)) = strip.limits {
        for (from, to) in [(place.bottom(), y(a)), (y(b), place.top())] {
            let band = Rect::from_x_y_ranges(place.x_range(), to.min(from)..=to.max(from)).intersect(place);
            painter.rect_filled(band, 0.0, palette.beyond);
        }
        for limit in [a, b] {
            let dashes = egui::Shape::dashed_line(
                &[pos2(place.left(), y(limit)), pos2(place.right(), y(limit))],
                Stroke::new(1.0, palette.error),
                5.0,
                4.0,
            );
            painter.extend(dashes);
        }
    }
    if low < 0.0 && high > 0.0 {
        painter.hline(place.x_range(), y(0.0), Stroke::new(1.0, palette.rule));
    }
    let colour = if old { theme::mix(palette.ground, colour, 0.45) } else { colour };
    if let Some(ghost) = ghost {
        let faint = theme::mix(palette.ground, palette.text, 0.55);
        painter.add(line(ghost, strip.row, place, &y, faint, |column| column % DASH.1 < DASH.0));
    }
    painter.add(line(columns, strip.row, place, &y, colour, |_| true));
    painter.rect_stroke(place, 0.0, Stroke::new(1.0, palette.rule), egui::StrokeKind::Inside);
    // Room for the name and both numbers, one below the other.
    if place.height() > 42.0 {
        for (value, anchor, at) in [
            (f64::from(whole.high), Align2::LEFT_BOTTOM, place.left_bottom() + vec2(-NAMES + 4.0, -13.0)),
            (f64::from(whole.low), Align2::LEFT_BOTTOM, place.left_bottom() + vec2(-NAMES + 4.0, -1.0)),
        ] {
            ui.painter().text(at, anchor, short(value, strip.dimension), theme::small(), palette.faint);
        }
    }
}

/// All samples of a row, a column of pixels each; `drawn` says which columns show.
fn line(
    columns: &Columns<'_>,
    row: usize,
    place: Rect,
    y: &dyn Fn(f64) -> f32,
    colour: Color32,
    drawn: impl Fn(usize) -> bool,
) -> Mesh {
    let mut mesh = Mesh::default();
    let mut before: Option<(f32, f32)> = None;
    for column in 0..columns.count {
        let Some(extent) = columns.extent(row, column) else {
            before = None;
            continue;
        };
        let (mut top, mut bottom) = (y(f64::from(extent.high)), y(f64::from(extent.low)));
        let own = (top, bottom);
        // Joined to its neighbour, so that a steep edge has no gap.
        if let Some((before_top, before_bottom)) = before {
            top = top.min(before_bottom);
            bottom = bottom.max(before_top);
        }
        before = Some(own);
        if !drawn(column) {
            continue;
        }
        let middle = (top + bottom) / 2.0;
        let half = ((bottom - top) / 2.0).max(0.75);
        let left = place.left() + column as f32;
        mesh.add_colored_rect(
            Rect::from_min_max(pos2(left, middle - half), pos2(left + 1.0, middle + half)),
            colour,
        );
    }
    mesh
}

/// Few figures, for the narrow place beside a strip.
fn short(value: f64, dimension: Dimension) -> String {
    let digits = if value.abs() < 1e-9 { 0.0 } else { value };
    let size = libm::pow(10.0, libm::floor(libm::log10(digits.abs().max(1e-12))) - 2.0);
    in_words((digits / size).round() * size, dimension)
}

/// The values under the pointer, beside it.
pub(super) fn read(
    ui: &egui::Ui,
    studio: &Studio,
    choice: &Choice,
    rect: Rect,
    pointer: egui::Pos2,
    t_s: f64,
    palette: &Palette,
) {
    let Some(motion) = studio.motion() else { return };
    let plan = &motion.plan;
    let mut jets = vec![crate::signal::Jet::default(); plan.rig().axes.len()];
    plan.platform_at(t_s / plan.tempo(), &mut jets);
    let mut lines = vec![clock(t_s)];
    for strip in strips(plan.rig(), choice.order) {
        let channel = strip.row / ORDERS;
        let jet = match jets.get(channel) {
            Some(jet) => *jet,
            None => crate::rig::kinematics::leg_jet(plan.rig(), channel - jets.len(), &jets),
        };
        lines.push(format!("{}  {}", strip.name, in_words(jet.0[choice.order.min(3)], strip.dimension)));
    }
    let painter = ui.painter_at(Rect::from_min_max(pos2(rect.left(), rect.top() - 400.0), rect.max));
    painter.vline(pointer.x, rect.y_range(), Stroke::new(1.0, palette.faint));
    let galley = painter.layout_no_wrap(lines.join("\n"), theme::small(), palette.text);
    let (at, anchor) = if pointer.x > rect.center().x {
        (pos2(pointer.x - 10.0, rect.top() + 6.0), Align2::RIGHT_TOP)
    } else {
        (pos2(pointer.x + 10.0, rect.top() + 6.0), Align2::LEFT_TOP)
    };
    let place = anchor.anchor_size(at, galley.size());
    painter.rect_filled(place.expand(4.0), 2.0, palette.raised);
    painter.galley(place.min, galley, palette.text);
}
