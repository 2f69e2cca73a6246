//! Speed and acceleration that two axes can have at once at level.

use super::ink::{BLACK, PALE, line_of};
use super::plot::{Frame, Scale};
use super::quantity::Shown;
use super::svg::{Anchor, Pen, Svg};
use crate::rig::Rig;
use crate::rig::survey::{Limit, Polygon};

/// The region with its edges in the lines of the legs that end them; `order` is 1 for rates, 2 for accelerations.
/// `None` when nothing bounds it or nothing is left.
pub(super) fn polygon_picture(
    rig: &Rig,
    (across, up): (usize, usize),
    polygon: &Polygon,
    order: usize,
) -> Option<Svg> {
    if polygon.corners.len() < 3 || !polygon.is_bounded() {
        return None;
    }
    let (x, y) = (rig.axes.get(across)?.axis, rig.axes.get(up)?.axis);
    let (x_shown, y_shown) = (Shown::axis(x), Shown::axis(y));
    let corners: Vec<(f64, f64)> =
        polygon.corners.iter().map(|(a, b)| (x_shown.of(*a), y_shown.of(*b))).collect();
    let most =
        |of: fn(&(f64, f64)) -> f64| corners.iter().map(of).fold(0.0_f64, |most, v| most.max(v.abs())) * 1.15;
    let (wide, high) = (most(|c| c.0), most(|c| c.1));
    let frame = Frame {
        left: 62.0,
        top: 8.0,
        width: 300.0,
        height: 230.0,
        across: Scale::new(-wide, wide, format!("{}, {}", x.word(), x_shown.per(order))),
        up: Scale::new(-high, high, format!("{}, {}", y.word(), y_shown.per(order))),
    };
    let what = if order == 1 { "rates" } else { "accelerations" };
    let mut svg = Svg::new(560.0, 282.0, &format!("{what} of {} and {} at level", x.word(), y.word()));
    frame.grid(&mut svg);
    let places: Vec<(f64, f64)> = corners.iter().map(|(a, b)| frame.at(*a, *b)).collect();
    svg.shape(&places, &Pen::fill(PALE));
    frame.zero(&mut svg);
    let mut seen: Vec<Limit> = Vec::new();
    for (k, edge) in polygon.edges.iter().enumerate() {
        let (Some(limit), Some(from)) = (edge.limit, places.get(k)) else { continue };
        let Some(to) = places.get((k + 1) % places.len()) else { continue };
        svg.line(*from, *to, &pen(limit));
        if !seen.contains(&limit) {
            seen.push(limit);
        }
    }
    frame.edges(&mut svg);
    seen.sort_unstable();
    for (row, limit) in seen.into_iter().enumerate() {
        let y = 20.0 + 20.0 * row as f64;
        svg.line((380.0, y), (412.0, y), &pen(limit));
        svg.text((418.0, y + 4.0), Anchor::Start, &words(rig, limit, order));
    }
    Some(svg)
}

fn pen(limit: Limit) -> Pen {
    match limit {
        Limit::Stroke(leg) => {
            let (colour, dashes) = line_of(leg);
            Pen::line(colour, 2.2).dashed(dashes)
        }
        Limit::Force(leg) => {
            let (colour, dashes) = line_of(leg);
            Pen::line(colour, 4.0).dashed(dashes)
        }
        Limit::Range(_) | Limit::Swing(_) | Limit::Clearance(_) => Pen::line(BLACK, 1.0),
    }
}

fn words(rig: &Rig, limit: Limit, order: usize) -> String {
    let name = |leg: usize| rig.actuators.get(leg).map_or(String::new(), |leg| leg.name.clone());
    match limit {
        Limit::Stroke(leg) if order == 1 => format!("{}, its speed", name(leg)),
        Limit::Stroke(leg) => format!("{}, its acceleration", name(leg)),
        Limit::Force(leg) => format!("{}, its thrust (thick)", name(leg)),
        Limit::Range(_) | Limit::Swing(_) | Limit::Clearance(_) => String::new(),
    }
}
