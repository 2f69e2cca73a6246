//! What each leg holds with at each pose, still.

use super::ink::{BLACK, BLUE, Hatch, PALE, VERMILION};
use super::plot::Frame;
use super::quantity::{Shown, figures};
use super::reach::frame;
use super::svg::{Anchor, Pen, Svg, number};
use crate::rig::Rig;
use crate::rig::survey::{ForceMap, ReachMap};
use std::collections::BTreeMap;
use std::fmt::Write;

/// Shades of either sign.
const SHADES: f64 = 5.0;

/// One small map a leg, all in one shade of scale; the numbers say what the shades show, and pull is hatched besides.
pub(super) fn force_picture(rig: &Rig, map: &ReachMap, forces: &ForceMap) -> Svg {
    let legs = rig.actuators.len();
    let columns = if legs <= 2 { 2 } else { 3 };
    let width = if columns == 2 { 270.0 } else { 190.0 };
    let one = frame(map, 0.0, 0.0, width);
    let (cell_w, cell_h) = (width + 66.0, one.height + 66.0);
    let rows = legs.div_ceil(columns);
    let mut svg = Svg::new(
        cell_w * columns as f64,
        cell_h * rows as f64,
        "holding force of each leg over the poses within reach",
    );
    let most = (0..legs)
        .filter_map(|leg| forces.range_n(leg))
        .fold(0.0_f64, |most, (low, high)| most.max(low.abs()).max(high.abs()));
    for (leg, actuator) in rig.actuators.iter().enumerate() {
        let (column, row) = (leg % columns, leg / columns);
        let frame = frame(map, column as f64 * cell_w + 56.0, row as f64 * cell_h + 22.0, width);
        svg.letters(12.0);
        svg.text((frame.left + frame.width / 2.0, frame.top - 7.0), Anchor::Middle, &actuator.name);
        svg.letters(11.0);
        shades(&mut svg, map, forces, leg, most, &frame);
        numbers(&mut svg, map, forces, leg, &frame);
        frame.edges(&mut svg);
    }
    svg
}

fn shades(svg: &mut Svg, map: &ReachMap, forces: &ForceMap, leg: usize, most: f64, frame: &Frame) {
    svg.rect((frame.left, frame.top), (frame.width, frame.height), &Pen::fill(PALE));
    let mut paths: BTreeMap<i32, String> = BTreeMap::new();
    let (across, up) = (Shown::axis(map.across.axis), Shown::axis(map.up.axis));
    let every = |list: &[usize]| list.windows(2).next().map_or(1, |pair| pair[1] - pair[0]) as f64 / 2.0;
    let (half_x, half_y) = (every(&forces.columns) * map.across.step, every(&forces.rows) * map.up.step);
    let right = frame.left + frame.width;
    let bottom = frame.top + frame.height;
    for (k, row) in forces.rows.iter().enumerate() {
        for (i, column) in forces.columns.iter().enumerate() {
            let Some(force) = forces.at(leg, i, k) else { continue };
            let (x, y) = (map.across.at(*column), map.up.at(*row));
            let xs = [x - half_x, x + half_x].map(|x| frame.x(across.of(x)).clamp(frame.left, right));
            let ys = [y - half_y, y + half_y].map(|y| frame.y(up.of(y)).clamp(frame.top, bottom));
            let shade = (force / most * SHADES).clamp(-SHADES, SHADES);
            let shade = if shade < 0.0 { shade.floor() } else { shade.ceil() } as i32;
            let [left, top, w, h] =
                [xs[0].min(xs[1]), ys[0].min(ys[1]), (xs[1] - xs[0]).abs(), (ys[1] - ys[0]).abs()]
                    .map(number);
            // Writing to a string cannot fail.
            let _ = write!(paths.entry(shade).or_default(), "M{left} {top}h{w}v{h}h-{w}z");
        }
    }
    for (shade, path) in paths {
        svg.path(&path, &Pen::fill("#ffffff"));
        let colour = if shade < 0 { VERMILION } else { BLUE };
        svg.path(&path, &Pen::fill(colour).faint(0.12 + 0.12 * f64::from(shade.abs())));
        if shade < 0 {
            svg.path(&path, &Pen::fill(Hatch::Falling.fill()));
        }
    }
}

/// Numbers on about five by five places, level among them.
fn numbers(svg: &mut Svg, map: &ReachMap, forces: &ForceMap, leg: usize, frame: &Frame) {
    let (across, up) = (Shown::axis(map.across.axis), Shown::axis(map.up.axis));
    let zero = |list: &[usize], at: &dyn Fn(usize) -> f64| {
        list.iter().position(|k| at(*k).abs() < 1e-12).unwrap_or(0)
    };
    let picked = |list: &[usize], zero: usize| -> Vec<usize> {
        let every = (list.len() / 5).max(1);
        (zero % every..list.len()).step_by(every).collect()
    };
    let columns = picked(&forces.columns, zero(&forces.columns, &|k| map.across.at(k)));
    let rows = picked(&forces.rows, zero(&forces.rows, &|k| map.up.at(k)));
    svg.letters(8.5);
    for k in &rows {
        for i in &columns {
            if let (Some(force), Some(column), Some(row)) =
                (forces.at(leg, *i, *k), forces.columns.get(*i), forces.rows.get(*k))
            {
                let at = frame.at(across.of(map.across.at(*column)), up.of(map.up.at(*row)));
                svg.text_in((at.0, at.1 + 3.0), Anchor::Middle, &figures(force.round()), BLACK, "");
            }
        }
    }
    svg.letters(11.0);
}
