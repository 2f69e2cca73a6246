//! The reach map: what of two axes the rig reaches, and what ends the rest.

use super::ink::{BLACK, Hatch, WHITE};
use super::plot::{Frame, Scale};
use super::quantity::{Shown, figures};
use super::svg::{Anchor, Pen, Svg, number};
use crate::rig::Rig;
use crate::rig::survey::{Limit, MapAxis, ReachMap, SymmetricBox, Used};
use std::collections::BTreeMap;
use std::fmt::Write;

/// The hatching of a kind of limit, and its word.
fn look(limit: Limit) -> (Hatch, &'static str) {
    match limit {
        Limit::Range(_) => (Hatch::Rising, "ended by the joint's range"),
        Limit::Stroke(_) => (Hatch::Dots, "ended by a leg's stroke"),
        Limit::Swing(_) => (Hatch::Sparse, "ended by a leg's end joint"),
        Limit::Clearance(_) => (Hatch::Level, "ended by clearance"),
        Limit::Force(_) => (Hatch::Crossed, "ended by a leg's thrust"),
    }
}

fn scale(axis: MapAxis) -> Scale {
    let shown = Shown::axis(axis.axis);
    let (first, last) =
        (shown.of(axis.first - axis.step / 2.0), shown.of(axis.at(axis.count - 1) + axis.step / 2.0));
    let words = format!("{}, {}", axis.axis.word(), shown.unit);
    Scale::new(first.min(last), first.max(last), words)
}

/// A frame over a map.
pub(super) fn frame(map: &ReachMap, left: f64, top: f64, width: f64) -> Frame {
    let (across, up) = (scale(map.across), scale(map.up));
    // Like units alike on both axes; a translation against a rotation gets a square.
    let alike = map.across.axis.is_rotation() == map.up.axis.is_rotation();
    let ratio = if alike { (up.high - up.low) / (across.high - across.low) } else { 1.0 };
    Frame { left, top, width, height: width * ratio.clamp(0.4, 1.6), across, up }
}

/// The map with its box, and a legend.
pub(super) fn reach_picture(rig: &Rig, map: &ReachMap, biggest: Option<SymmetricBox>, width: f64) -> Svg {
    let frame = frame(map, 56.0, 10.0, width);
    let label = format!("reach in {} and {}", map.across.axis.word(), map.up.axis.word());
    let (right, height) = (frame.left + frame.width, frame.top + frame.height + 40.0);
    let mut svg = Svg::new(right + 190.0, height.max(190.0), &label);
    areas(&mut svg, map, &frame);
    frame.zero(&mut svg);
    range(&mut svg, rig, map, &frame);
    let (across, up) = (Shown::axis(map.across.axis), Shown::axis(map.up.axis));
    if let Some(found) = biggest {
        let (x, y) = (frame.x(-across.of(found.across).abs()), frame.y(up.of(found.up).abs()));
        let size = (frame.x(across.of(found.across).abs()) - x, frame.y(-up.of(found.up).abs()) - y);
        svg.rect((x, y), size, &Pen::line(BLACK, 2.0).dashed("7 3"));
    }
    names(&mut svg, rig, map, &frame);
    frame.edges(&mut svg);
    legend(&mut svg, map, biggest.is_some(), (right + 14.0, frame.top));
    svg
}

/// Cells of one kind as one path each, run by run.
fn areas(svg: &mut Svg, map: &ReachMap, frame: &Frame) {
    let mut paths: BTreeMap<&str, (Hatch, String)> = BTreeMap::new();
    let (across, up) = (Shown::axis(map.across.axis), Shown::axis(map.up.axis));
    for k in 0..map.up.count {
        let kind = |i: usize| map.at(i, k).filter(|used| !used.fits()).map(|used| look(used.limit));
        let ends = [-0.5, 0.5].map(|half| frame.y(up.of(map.up.at(k) + half * map.up.step)));
        let (top, bottom) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
        let mut i = 0;
        while i < map.across.count {
            let Some((hatch, word)) = kind(i) else {
                i += 1;
                continue;
            };
            let first = i;
            while i < map.across.count && kind(i) == Some((hatch, word)) {
                i += 1;
            }
            let edge = |at: f64| frame.x(across.of(at));
            let (a, b) = (
                edge(map.across.at(first) - map.across.step / 2.0),
                edge(map.across.at(i - 1) + map.across.step / 2.0),
            );
            let path = &mut paths.entry(word).or_insert((hatch, String::new())).1;
            let [x, y, w, h] = [a.min(b), top, (b - a).abs(), bottom - top].map(number);
            // Writing to a string cannot fail.
            let _ = write!(path, "M{x} {y}h{w}v{h}h-{w}z");
        }
    }
    svg.rect((frame.left, frame.top), (frame.width, frame.height), &Pen::fill(WHITE));
    for (hatch, path) in paths.values() {
        svg.path(path, &Pen::fill(hatch.fill()));
    }
}

/// The range in the file, as a thin frame.
fn range(svg: &mut Svg, rig: &Rig, map: &ReachMap, frame: &Frame) {
    let ends = |axis: MapAxis| {
        let limits = rig.axes.get(axis.index)?;
        let (a, b) = (Shown::axis(axis.axis).of(limits.min), Shown::axis(axis.axis).of(limits.max));
        Some((a.min(b), a.max(b)))
    };
    if let (Some((left, right)), Some((low, high))) = (ends(map.across), ends(map.up)) {
        let from = frame.at(left, high);
        let to = frame.at(right, low);
        svg.rect(from, (to.0 - from.0, to.1 - from.1), &Pen::line(BLACK, 1.0));
    }
}

/// Which leg or point ends a larger area, written into each corner of the map that it ends.
fn names(svg: &mut Svg, rig: &Rig, map: &ReachMap, frame: &Frame) {
    let mut areas: BTreeMap<(Limit, bool, bool), Vec<(f64, f64)>> = BTreeMap::new();
    for k in 0..map.up.count {
        for i in 0..map.across.count {
            let Some(used) = map.at(i, k).filter(|used: &Used| !used.fits()) else { continue };
            let at = (map.across.at(i), map.up.at(k));
            areas.entry((used.limit, at.0 < 0.0, at.1 < 0.0)).or_default().push(at);
        }
    }
    let (across, up) = (Shown::axis(map.across.axis), Shown::axis(map.up.axis));
    svg.letters(10.0);
    for ((limit, ..), cells) in areas {
        let name = match limit {
            Limit::Stroke(leg) | Limit::Force(leg) | Limit::Swing(leg) => {
                rig.actuators.get(leg).map(|leg| leg.name.as_str())
            }
            Limit::Clearance(point) => rig.parts.points.get(point).map(|point| point.name.as_str()),
            // The frame around the range says it.
            Limit::Range(_) => None,
        };
        if let Some(name) = name.filter(|_| cells.len() as f64 >= 0.01 * map.cells.len() as f64) {
            let (x, y) = middle(&cells, map);
            svg.text((frame.x(across.of(x)), frame.y(up.of(y)) + 3.5), Anchor::Middle, name);
        }
    }
    svg.letters(11.0);
}

/// The cell nearest to the mean of an area, which may itself lie outside of it.
fn middle(cells: &[(f64, f64)], map: &ReachMap) -> (f64, f64) {
    let count = cells.len().max(1) as f64;
    let mean = cells.iter().fold((0.0, 0.0), |sum, cell| (sum.0 + cell.0 / count, sum.1 + cell.1 / count));
    let far = |cell: &&(f64, f64)| {
        libm::hypot((cell.0 - mean.0) / map.across.step, (cell.1 - mean.1) / map.up.step)
    };
    cells.iter().min_by(|a, b| far(a).total_cmp(&far(b))).copied().unwrap_or(mean)
}

fn legend(svg: &mut Svg, map: &ReachMap, has_box: bool, (x, mut y): (f64, f64)) {
    let mut kinds: BTreeMap<&str, Hatch> = BTreeMap::new();
    for used in map.cells.iter().filter(|used| !used.fits()) {
        let (hatch, word) = look(used.limit);
        kinds.insert(word, hatch);
    }
    let edge = Pen::line(BLACK, 0.8);
    let mut row = |svg: &mut Svg, pen: &Pen, words: &str| {
        svg.rect((x, y), (22.0, 13.0), pen);
        svg.text((x + 28.0, y + 10.5), Anchor::Start, words);
        y += 20.0;
    };
    row(svg, &edge.clone().around(WHITE), "within reach");
    for (word, hatch) in kinds {
        row(svg, &edge.clone().around(hatch.fill()), word);
    }
    row(svg, &Pen::line(BLACK, 1.0), "frame: the range in the file");
    if has_box {
        row(svg, &Pen::line(BLACK, 2.0).dashed("7 3"), "frame: the largest box");
    }
}

/// The box in words: `pitch +-9.25 deg, roll +-8 deg`.
pub(super) fn box_words(map: &ReachMap, found: SymmetricBox) -> String {
    let one = |axis: MapAxis, half: f64| {
        let shown = Shown::axis(axis.axis);
        format!("{} \u{b1}{} {}", axis.axis.word(), figures(shown.of(half).abs()), shown.unit)
    };
    format!("{}, {}", one(map.up, found.up), one(map.across, found.across))
}
