//! The rig to scale in two views, so that a wrong coordinate is seen at once.

use super::ink::{BLACK, GREY, Hatch, ORANGE, WHITE, line_of};
use super::quantity::figures;
use super::svg::{Anchor, Pen, Svg};
use crate::rig::Rig;
use nalgebra::Vector3;

/// Room for one view on paper, mm.
const ROOM_MM: (f64, f64) = (84.0, 88.0);
/// Around a view, mm: room for names.
const EDGE_MM: f64 = 9.0;
/// Scales that a ruler knows: so many millimetres of rig for one of paper.
const SCALES: [f64; 8] = [5.0, 10.0, 15.0, 20.0, 25.0, 50.0, 100.0, 200.0];

/// From which side one looks, x forward to the right in both.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum View {
    /// From the right wing: z goes down the page.
    Right,
    /// From above: y goes down the page.
    Above,
}

impl View {
    fn flat(self, point: Vector3<f64>) -> (f64, f64) {
        match self {
            View::Right => (point.x, point.z),
            View::Above => (point.x, point.y),
        }
    }
}

/// What a view must show: all points of the rig in the rig frame with the platform level.
fn extent(rig: &Rig, view: View) -> ((f64, f64), (f64, f64)) {
    let mut points = vec![Vector3::zeros(), rig.seat_p_m, rig.payload.centre_p_m];
    points.extend(rig.actuators.iter().flat_map(|leg| [leg.base_r_m, leg.anchor_p_m]));
    points.extend(rig.actuators.iter().filter_map(|leg| leg.crank?.pin_r_m(&leg.anchor_p_m)));
    if let (View::Right, Some(height)) = (view, rig.pivot_height_m) {
        points.push(Vector3::new(0.0, 0.0, height));
    }
    let flat = points.into_iter().map(|point| view.flat(point));
    flat.fold(((0.0, 0.0), (0.0, 0.0)), |((a, b), (c, d)), (x, y)| {
        ((a.min(x), b.min(y)), (c.max(x), d.max(y)))
    })
}

/// The drawing and its scale: so many millimetres of rig for one of paper.
pub(super) fn drawing(rig: &Rig) -> (Svg, f64) {
    let views = [View::Right, View::Above];
    let needed = views.iter().map(|view| {
        let ((x0, y0), (x1, y1)) = extent(rig, *view);
        let inside = |size_m: f64, room_mm: f64| size_m * 1e3 / (room_mm - 2.0 * EDGE_MM);
        inside(x1 - x0, ROOM_MM.0).max(inside(y1 - y0, ROOM_MM.1))
    });
    let needed = needed.fold(0.0, f64::max);
    let scale = SCALES.into_iter().find(|scale| *scale >= needed).unwrap_or(needed);
    let mut svg =
        Svg::new(2.0 * ROOM_MM.0, ROOM_MM.1 + 12.0, "the rig from the right and from above").on_paper(1.0);
    for (k, view) in views.into_iter().enumerate() {
        draw(&mut svg, rig, view, scale, k as f64 * ROOM_MM.0);
    }
    (svg, scale)
}

/// One view in its place on the page.
struct Place {
    view: View,
    /// Page millimetres of the pivot.
    pivot: (f64, f64),
    /// Page millimetres a metre.
    mm_per_m: f64,
}

impl Place {
    fn at(&self, point: Vector3<f64>) -> (f64, f64) {
        let (x, y) = self.view.flat(point);
        (self.pivot.0 + x * self.mm_per_m, self.pivot.1 + y * self.mm_per_m)
    }
}

fn draw(svg: &mut Svg, rig: &Rig, view: View, scale: f64, left_mm: f64) {
    let ((x0, y0), (x1, y1)) = extent(rig, view);
    let mm_per_m = 1e3 / scale;
    let pivot = (
        left_mm + ROOM_MM.0 / 2.0 - 0.5 * (x0 + x1) * mm_per_m,
        6.0 + ROOM_MM.1 / 2.0 - 0.5 * (y0 + y1) * mm_per_m,
    );
    let place = Place { view, pivot, mm_per_m };
    svg.letters(3.4);
    let title = if view == View::Right { "seen from the right" } else { "seen from above" };
    svg.text((left_mm + ROOM_MM.0 / 2.0, 4.5), Anchor::Middle, title);
    svg.letters(2.7);
    floor(svg, rig, &place, left_mm);
    platform(svg, rig, &place);
    legs(svg, rig, &place);
    marks(svg, rig, &place);
    arrows(svg, view, left_mm);
    bar(svg, mm_per_m, left_mm);
}

/// The floor, and what stands on it in the middle where not all six axes are free.
fn floor(svg: &mut Svg, rig: &Rig, place: &Place, left_mm: f64) {
    let (View::Right, Some(height)) = (place.view, rig.pivot_height_m) else { return };
    let foot = place.at(Vector3::new(0.0, 0.0, height));
    let (from, to) = (left_mm + 4.0, left_mm + ROOM_MM.0 - 4.0);
    svg.rect((from, foot.1), (to - from, 2.2), &Pen::fill(Hatch::Falling.fill()));
    svg.line((from, foot.1), (to, foot.1), &Pen::line(BLACK, 0.4));
    svg.text((to, foot.1 + 5.4), Anchor::End, "floor");
    if rig.axes.len() < 6 {
        svg.line(place.pivot, foot, &Pen::line(GREY, 1.2));
    }
}

/// The outline of the platform's points.
fn platform(svg: &mut Svg, rig: &Rig, place: &Place) {
    let mut points: Vec<(f64, f64)> = rig.actuators.iter().map(|leg| place.at(leg.anchor_p_m)).collect();
    points.push(place.pivot);
    svg.shape(&hull(points), &Pen::line(GREY, 0.5).around("#e6e6e6"));
}

fn legs(svg: &mut Svg, rig: &Rig, place: &Place) {
    let mut named: Vec<((f64, f64), String)> = Vec::new();
    for (k, leg) in rig.actuators.iter().enumerate() {
        let (base, anchor) = (place.at(leg.base_r_m), place.at(leg.anchor_p_m));
        let (colour, dashes) = line_of(k);
        // A crank and its rod: from the shaft to the pin, from there to the platform.
        let pin = leg.crank.and_then(|part| part.pin_r_m(&leg.anchor_p_m)).map(|pin| place.at(pin));
        let foot = pin.unwrap_or(base);
        if let Some(pin) = pin {
            svg.line(base, pin, &Pen::line(BLACK, 1.2));
        }
        svg.line(foot, anchor, &Pen::line(WHITE, 1.6));
        svg.line(
            foot,
            anchor,
            &Pen::line(colour, 0.8).dashed(match dashes {
                "" => "",
                "5 2" => "2.5 1",
                "2 2" => "1 1",
                "7 2 2 2" => "3.5 1 1 1",
                "1 2" => "0.5 1",
                _ => "4.5 1.5",
            }),
        );
        stroke_ends(svg, leg, place);
        svg.rect((base.0 - 1.1, base.1 - 1.1), (2.2, 2.2), &Pen::line(BLACK, 0.35).around(WHITE));
        if let Some(pin) = pin {
            svg.circle(pin, 0.9, &Pen::line(BLACK, 0.35).around(WHITE));
        }
        svg.circle(anchor, 1.2, &Pen::line(BLACK, 0.35).around(WHITE));
        let near =
            |other: &&mut ((f64, f64), String)| libm::hypot(other.0.0 - base.0, other.0.1 - base.1) < 4.0;
        match named.iter_mut().find(near) {
            Some(other) => other.1 = format!("{}, {}", other.1, leg.name),
            None => named.push((base, leg.name.clone())),
        }
    }
    for ((x, y), name) in named {
        let outward = if place.view == View::Above && y < place.pivot.1 { -2.6 } else { 5.0 };
        svg.text((x, y + outward), Anchor::Middle, &name);
    }
}

/// Where the leg would end on its line at its shortest and at its longest; of a crank where it would point at its ends.
fn stroke_ends(svg: &mut Svg, leg: &crate::rig::Actuator, place: &Place) {
    if let Some(part) = &leg.crank {
        let base = place.at(leg.base_r_m);
        for end_m in [leg.min_m, leg.max_m] {
            let pin = place.at(part.crank.pin_r_m(end_m / part.crank.arm_m));
            // From half of the arm on, so that it is not taken for a crank.
            let half = (f64::midpoint(base.0, pin.0), f64::midpoint(base.1, pin.1));
            svg.line(half, pin, &Pen::line(BLACK, 0.25).dashed("0.8 0.8"));
        }
        return;
    }
    let along = leg.anchor_p_m - leg.base_r_m;
    let length_m = along.norm();
    for end_m in [leg.min_m, leg.max_m] {
        let (base, end) = (place.at(leg.base_r_m), place.at(leg.base_r_m + along * (end_m / length_m)));
        let (dx, dy) = (end.0 - base.0, end.1 - base.1);
        let flat = libm::hypot(dx, dy);
        // Seen along its line a leg has no ends to show.
        if flat > 4.0 {
            let (nx, ny) = (-dy / flat * 1.5, dx / flat * 1.5);
            svg.line((end.0 - nx, end.1 - ny), (end.0 + nx, end.1 + ny), &Pen::line(BLACK, 0.35));
        }
    }
}

/// Pivot, centre of mass, seat.
fn marks(svg: &mut Svg, rig: &Rig, place: &Place) {
    let thin = Pen::line(BLACK, 0.35);
    let (x, y) = place.pivot;
    svg.circle((x, y), 1.8, &thin.clone().around(WHITE));
    svg.line((x - 2.6, y), (x + 2.6, y), &thin);
    svg.line((x, y - 2.6), (x, y + 2.6), &thin);
    let (x, y) = place.at(rig.payload.centre_p_m);
    svg.circle((x, y), 1.7, &thin.clone().around(WHITE));
    for (from, to) in [((0.0, -1.7), (1.7, 0.0)), ((0.0, 1.7), (-1.7, 0.0))] {
        let words = format!(
            "M{} {}L{} {}A1.7 1.7 0 0 1 {} {}Z",
            super::svg::number(x),
            super::svg::number(y),
            super::svg::number(x + from.0),
            super::svg::number(y + from.1),
            super::svg::number(x + to.0),
            super::svg::number(y + to.1)
        );
        svg.path(&words, &Pen::fill(BLACK));
    }
    let (sx, sy) = place.at(rig.seat_p_m);
    let diamond = [(sx, sy - 1.8), (sx + 1.8, sy), (sx, sy + 1.8), (sx - 1.8, sy)];
    svg.shape(&diamond, &thin.around(ORANGE));
    // Names beside the marks, where the view lets them stand apart.
    if place.view == View::Right {
        svg.text((place.pivot.0 + 3.2, place.pivot.1 + 3.6), Anchor::Start, "pivot");
        svg.text((x + 3.0, y + 1.0), Anchor::Start, "centre of mass");
        svg.text((sx - 2.8, sy + 0.6), Anchor::End, "seat point");
    }
}

fn arrows(svg: &mut Svg, view: View, left_mm: f64) {
    let pen = Pen::line(BLACK, 0.4);
    let (x, y) = (left_mm + ROOM_MM.0 - 27.0, ROOM_MM.1 + 3.0);
    svg.line((x, y), (x + 7.0, y), &pen);
    svg.shape(&[(x + 7.0, y - 0.9), (x + 9.0, y), (x + 7.0, y + 0.9)], &Pen::fill(BLACK));
    svg.line((x, y), (x, y + 5.0), &pen);
    svg.shape(&[(x - 0.9, y + 5.0), (x, y + 7.0), (x + 0.9, y + 5.0)], &Pen::fill(BLACK));
    svg.text((x + 10.0, y + 1.0), Anchor::Start, "x forward");
    let down = if view == View::Right { "z down" } else { "y right" };
    svg.text((x + 1.8, y + 6.8), Anchor::Start, down);
}

/// A bar of a round length.
fn bar(svg: &mut Svg, mm_per_m: f64, left_mm: f64) {
    let length_m = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0].into_iter().find(|m| m * mm_per_m >= 15.0).unwrap_or(10.0);
    let (x, y) = (left_mm + 6.0, ROOM_MM.1 + 8.0);
    svg.rect((x, y), (length_m * mm_per_m / 2.0, 1.2), &Pen::line(BLACK, 0.25).around(BLACK));
    svg.rect((x, y), (length_m * mm_per_m, 1.2), &Pen::line(BLACK, 0.25));
    svg.text(
        (x + length_m * mm_per_m + 2.0, y + 1.6),
        Anchor::Start,
        &format!("{} mm", figures(length_m * 1e3)),
    );
}

/// The convex hull, by Andrew's monotone chain (from memory).
fn hull(mut points: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    points.dedup();
    let turn =
        |o: (f64, f64), a: (f64, f64), b: (f64, f64)| (a.0 - o.0) * (b.1 - o.1) - (a.1 - o.1) * (b.0 - o.0);
    let chain = |points: &mut dyn Iterator<Item = (f64, f64)>| {
        let mut out: Vec<(f64, f64)> = Vec::new();
        for point in points {
            while let [.., a, b] = out.as_slice() {
                if turn(*a, *b, point) > 0.0 {
                    break;
                }
                out.pop();
            }
            out.push(point);
        }
        out.pop();
        out
    };
    let mut lower = chain(&mut points.iter().copied());
    lower.extend(chain(&mut points.iter().rev().copied()));
    lower
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hull_leaves_inner_points_out() {
        let points = vec![(0.0, 0.0), (2.0, 0.0), (1.0, 0.5), (2.0, 2.0), (0.0, 2.0), (0.0, 1.0)];
        assert_eq!(hull(points), [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)]);
    }
}
