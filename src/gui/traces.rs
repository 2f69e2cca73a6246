//! Traces: every platform axis and every leg, its limits as bands; a column of pixels shows all that is in it. Under them
//! lies the text as saved, over them a record of a run, where one is compared with.

use super::overlay;
use super::theme::{self, Palette};
use super::time::NAMES;
use crate::desk::close_up::CloseUp;
use crate::desk::compiler::Motion;
use crate::desk::keys::{Act, name};
use crate::desk::overlay::{Laid, Line};
use crate::desk::studio::{Overlaid, Studio};
use crate::desk::traces::{CELL, Extent, ORDERS, row};
use crate::motion::sign;
use crate::rig::Rig;
use crate::time::clock;
use crate::units::{Dimension, show as in_words};
use egui::{Align2, Color32, Mesh, Rect, Stroke, pos2, vec2};
use std::sync::Arc;

/// What the traces show.
#[derive(Default)]
pub(super) struct Choice {
    /// 0 value, 1 rate, 2 acceleration, 3 jerk, [`ERROR`].
    order: usize,
    /// As large as they come, and not as large as the limits.
    fitted: bool,
    close_up: Option<CloseUp>,
    /// The same of the text as saved.
    ghost_close_up: Option<CloseUp>,
    pub(super) drag_from_s: Option<f64>,
    /// The button for a record was pressed.
    pub(super) wants_record: bool,
}

impl Choice {
    /// Which of them.
    pub(super) fn order(&self) -> usize {
        self.order
    }
}

/// In place of an order: how far the legs of the record that lies there were from what was asked of them.
pub(super) const ERROR: usize = ORDERS;

const WORDS: [&str; ORDERS] = ["Position", "Speed", "Acceleration", "Jerk"];

/// With less room than this after them, points, what is chosen stands close to its neighbours.
const NARROW: f32 = 300.0;

/// Lower than this, points, only the strips show that have something of a record over them.
const LOW: f32 = 18.0;

/// Of the dashes of a ghost, and of the dots of what a record was asked for: points drawn, and points from one to the
/// next.
const DASH: (usize, usize) = (5, 9);
const DOT: (usize, usize) = (2, 6);

pub(super) fn choose(ui: &mut egui::Ui, studio: &mut Studio, choice: &mut Choice, palette: &Palette) {
    ui.horizontal(|ui| {
        for (order, word) in WORDS.into_iter().enumerate() {
            ui.selectable_value(&mut choice.order, order, word);
        }
        if studio.laid().is_some() {
            let tip = "How far the legs of the record were from what was asked of them";
            ui.selectable_value(&mut choice.order, ERROR, "Error").on_hover_text(tip);
        } else if choice.order == ERROR {
            choice.order = 0;
        }
        if ui.available_width() > NARROW {
            ui.separator();
        }
        ui.checkbox(&mut choice.fitted, "Fill the height")
            .on_hover_text("Scale to the motion, not to the limits");
        let compares = studio.compares();
        let tip = format!("The text as saved, dashed under the present one ({})", name(Act::Compare));
        if ui.selectable_label(compares, "Compare").on_hover_text(tip).clicked() {
            studio.toggle_compare();
        }
        if studio.overlaid() == Overlaid::Nothing {
            let tip = format!("Lays the record of a run over the scene ({})", name(Act::Record));
            choice.wants_record |= ui.button("Record…").on_hover_text(tip).clicked();
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
    overlay::row(ui, studio, choice, palette);
}

/// One strip.
struct Strip {
    name: String,
    row: usize,
    /// What its values are multiplied by to be read: people count heave up, the rig counts it down.
    sign: f64,
    /// Limits as they are read, where the rig file has one.
    limits: Option<(f64, f64)>,
    dimension: Dimension,
    /// Which leg, where it is one.
    leg: Option<usize>,
}

/// A range as it is read with that sign.
fn turned((low, high): (f64, f64), sign: f64) -> (f64, f64) {
    if sign < 0.0 { (-high, -low) } else { (low, high) }
}

fn strips(rig: &Rig, order: usize) -> Vec<Strip> {
    let over = |base: Dimension| Dimension { time: base.time - order as i8, ..base };
    let axes = rig.axes.iter().enumerate().map(|(at, axis)| Strip {
        name: axis.axis.word().to_string(),
        row: row(at, order),
        sign: sign(axis.axis),
        limits: (order == 0).then(|| turned((axis.min, axis.max), sign(axis.axis))),
        dimension: over(if axis.axis.is_rotation() { Dimension::ANGLE } else { Dimension::LENGTH }),
        leg: None,
    });
    let errors = rig.actuators.iter().enumerate().map(|(at, leg)| Strip {
        name: leg.name.clone(),
        row: row(rig.axes.len() + at, 0),
        sign: 1.0,
        limits: None,
        dimension: Dimension::LENGTH,
        leg: Some(at),
    });
    if order == ERROR {
        return errors.collect();
    }
    let legs = rig.actuators.iter().enumerate().map(|(at, leg)| {
        let most = [0.0, leg.speed_m_s, leg.acceleration_m_s2, leg.jerk_m_s3][order.min(3)];
        Strip {
            // What is drawn of a crank is the way of its pin.
            name: if leg.crank.is_some() { format!("{} pin", leg.name) } else { leg.name.clone() },
            row: row(rig.axes.len() + at, order),
            sign: 1.0,
            limits: Some(if order == 0 { leg.soft_ends_m() } else { (-most, most) }),
            dimension: over(Dimension::LENGTH),
            leg: Some(at),
        }
    });
    axes.chain(legs).collect()
}

pub(super) fn show(ui: &egui::Ui, studio: &Studio, choice: &mut Choice, rect: Rect, palette: &Palette) {
    let Some(motion) = studio.motion().cloned() else { return };
    let mut strips = strips(motion.plan.rig(), choice.order);
    if studio.laid().is_some() && rect.height() < LOW * strips.len() as f32 {
        strips.retain(|strip| strip.leg.is_some());
    }
    let first = strips.first().map_or(0, |strip| strip.row / ORDERS);
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
    let laid = studio.laid().cloned();
    let old = studio.motion_is_old();
    for strip in &strips {
        let at = strip.row / ORDERS;
        let place = Rect::from_min_size(
            pos2(rect.left(), rect.top() + height * (at - first) as f32),
            vec2(rect.width(), height - 3.0),
        );
        let colour = palette.trace(at);
        let of_record = laid.as_deref().zip(strip.leg);
        let over = |line: Line| of_record.map(|(laid, leg)| recorded(laid, line, leg, studio, columns.count));
        let mut lines = Vec::new();
        if choice.order == ERROR {
            lines.extend(over(Line::Error).map(|line| line.look(colour, THIN)));
        } else {
            let ghost = ghost.as_ref().map(|ghost| ghost.line(strip.row).turned(strip.sign));
            let faint = theme::mix(palette.ground, palette.text, 0.55);
            lines.extend(ghost.map(|ghost| Drawn { dash: Some(DASH), ..ghost.look(faint, USUAL) }));
            let commanded = over(Line::Commanded).filter(|_| choice.order == 0);
            // What is drawn over a line lets it be seen on both sides.
            let (width, part) = if commanded.is_some() { (BROAD, 0.6) } else { (USUAL, 1.0) };
            let own = theme::mix(palette.ground, colour, if old { 0.45 } else { part });
            lines.push(columns.line(strip.row).turned(strip.sign).look(own, width));
            if let Some(commanded) = commanded {
                lines.push(Drawn { dash: Some(DOT), ..commanded.look(palette.text, USUAL) });
                lines.extend(over(Line::Measured).map(|line| line.look(palette.text, THIN)));
            }
        }
        draw(ui, &lines, strip, place, fitted, palette);
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

    fn line(&self, row: usize) -> Drawn<'_> {
        let whole = self.motion.traces.extent(row, 0, self.motion.traces.samples);
        Drawn::of(move |column| self.extent(row, column), whole, self.count)
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

/// Half of a line's height where it is level, points.
const THIN: f32 = 0.5;
const USUAL: f32 = 0.75;
const BROAD: f32 = 2.0;

/// A line in a strip.
struct Drawn<'a> {
    /// What is in a column of pixels.
    extent: Box<dyn Fn(usize) -> Option<Extent> + 'a>,
    /// What is in all of it.
    whole: Option<Extent>,
    count: usize,
    colour: Color32,
    half: f32,
    /// Points drawn, and points from one dash to the next; all where `None`.
    dash: Option<(usize, usize)>,
}

impl<'a> Drawn<'a> {
    fn of(extent: impl Fn(usize) -> Option<Extent> + 'a, whole: Option<Extent>, count: usize) -> Self {
        Self { extent: Box::new(extent), whole, count, colour: Color32::BLACK, half: USUAL, dash: None }
    }

    /// As it is read with that sign.
    fn turned(self, sign: f64) -> Self {
        if sign > 0.0 {
            return self;
        }
        let turn = |found: Extent| Extent { low: -found.high, high: -found.low };
        let extent = self.extent;
        Self { extent: Box::new(move |column| extent(column).map(turn)), whole: self.whole.map(turn), ..self }
    }

    fn look(self, colour: Color32, half: f32) -> Self {
        Self { colour, half, ..self }
    }

    /// All of it, a column of pixels each.
    fn mesh(&self, place: Rect, y: &dyn Fn(f64) -> f32) -> Mesh {
        let mut mesh = Mesh::default();
        let mut before: Option<(f32, f32)> = None;
        for column in 0..self.count {
            let Some(extent) = (self.extent)(column) else {
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
            if self.dash.is_some_and(|(drawn, step)| column % step >= drawn) {
                continue;
            }
            let middle = (top + bottom) / 2.0;
            let half = ((bottom - top) / 2.0).max(self.half);
            let left = place.left() + column as f32;
            mesh.add_colored_rect(
                Rect::from_min_max(pos2(left, middle - half), pos2(left + 1.0, middle + half)),
                self.colour,
            );
        }
        mesh
    }
}

/// A line of the record that lies over the scene.
fn recorded<'a>(laid: &'a Laid, line: Line, leg: usize, studio: &Studio, count: usize) -> Drawn<'a> {
    let (from_s, step_s) = (studio.axis.from_s, studio.axis.span_s() / count as f64);
    let extent = move |column: usize| {
        let from_s = from_s + column as f64 * step_s;
        laid.extent(line, leg, from_s, from_s + step_s)
    };
    Drawn::of(extent, laid.whole(line, leg), count)
}

/// Draws lines on one scale, and says between what values the scene, or else the first of them, goes.
fn draw(ui: &egui::Ui, lines: &[Drawn<'_>], strip: &Strip, place: Rect, fitted: bool, palette: &Palette) {
    let painter = ui.painter_at(place);
    let mut all = Extent::NONE;
    lines.iter().filter_map(|line| line.whole).for_each(|whole| all.take(whole));
    if all.is_none() {
        return;
    }
    let (mut low, mut high) = (f64::from(all.low), f64::from(all.high));
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
    for line in lines {
        painter.add(line.mesh(place, &y));
    }
    painter.rect_stroke(place, 0.0, Stroke::new(1.0, palette.rule), egui::StrokeKind::Inside);
    // Room for the name and both numbers, one below the other. Of what lies under and over the scene nothing is said here.
    let own = lines.iter().find(|line| line.dash.is_none()).and_then(|line| line.whole);
    if let Some(own) = own.filter(|_| place.height() > 42.0) {
        for (value, anchor, at) in [
            (f64::from(own.high), Align2::LEFT_BOTTOM, place.left_bottom() + vec2(-NAMES + 4.0, -13.0)),
            (f64::from(own.low), Align2::LEFT_BOTTOM, place.left_bottom() + vec2(-NAMES + 4.0, -1.0)),
        ] {
            ui.painter().text(at, anchor, short(value, strip.dimension), theme::small(), palette.faint);
        }
    }
}

/// Few figures, for the narrow place beside a strip.
fn short(value: f64, dimension: Dimension) -> String {
    let digits = if value.abs() < 1e-9 { 0.0 } else { value };
    let size = libm::pow(10.0, libm::floor(libm::log10(digits.abs().max(1e-12))) - 2.0);
    in_words((digits / size).round() * size, dimension)
}

/// `commanded 583.1 mm, measured 582.6 mm, error -0.5 mm`; of the cell that this instant lies in.
fn said_of_record(laid: &Laid, leg: usize, t_s: f64) -> String {
    let at = |line: Line| laid.extent(line, leg, t_s, t_s);
    let middle = |extent: Extent| in_words(f64::from(extent.low + extent.high) / 2.0, Dimension::LENGTH);
    // Of an error the larger side counts.
    let larger = |extent: Extent| if extent.high > -extent.low { extent.high } else { extent.low };
    match (at(Line::Commanded), at(Line::Measured), at(Line::Error)) {
        (Some(commanded), Some(measured), Some(error)) => format!(
            "commanded {}, measured {}, error {}",
            middle(commanded),
            middle(measured),
            short(f64::from(larger(error)), Dimension::LENGTH)
        ),
        (Some(commanded), ..) => format!("commanded {}, nothing measured", middle(commanded)),
        _ => "not played here".to_string(),
    }
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
        let of_record = studio.laid().zip(strip.leg).map(|(laid, leg)| said_of_record(laid, leg, t_s));
        if choice.order == ERROR {
            lines.push(format!("{}  {}", strip.name, of_record.unwrap_or_default()));
            continue;
        }
        let channel = strip.row / ORDERS;
        let jet = match jets.get(channel) {
            Some(jet) => *jet,
            None => crate::rig::kinematics::leg_jet(plan.rig(), channel - jets.len(), &jets),
        };
        lines.push(format!(
            "{}  {}",
            strip.name,
            in_words(strip.sign * jet.0[choice.order.min(3)], strip.dimension)
        ));
        lines.extend(of_record.filter(|_| choice.order == 0).map(|said| format!("    {said}")));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heave_is_drawn_and_read_up() {
        let text = include_str!("../../profiles/rigs/club-three-axis.toml");
        let rig = crate::rig::load(crate::diag::SourceId(0), text).rig.unwrap();
        let at = rig.axes.iter().position(|axis| axis.axis == crate::rig::Axis::Heave).unwrap();
        let strip = &strips(&rig, 0)[at];
        assert_eq!((strip.sign, strip.limits), (-1.0, Some((-rig.axes[at].max, -rig.axes[at].min))));
        let whole = Extent { low: -0.01, high: 0.03 };
        let turned = Drawn::of(move |_| Some(whole), Some(whole), 1).turned(strip.sign);
        let up = Extent { low: -0.03, high: 0.01 };
        assert_eq!(((turned.extent)(0), turned.whole), (Some(up), Some(up)));
    }
}
