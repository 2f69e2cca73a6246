//! `[[clearance]]` and `[[obstacle]]`: what must keep away from what.

use super::keys;
use super::limits::{COORDINATE, most};
use super::names::{named, own_name};
use super::reader::{Reader, Section, Want};
use crate::diag::Diagnostic;
use crate::rig::parts::{ClearancePoint, Obstacle, Shape};
use crate::units::Dimension;

/// Points and obstacles that a file may name at most, each.
const MOST: usize = 32;
/// A direction from two points needs them this far apart, m.
const APART_M: f64 = 1e-3;

pub(super) fn points(reader: &mut Reader, root: &Section<'_>) -> Vec<ClearancePoint> {
    let Some(value) = root.get("clearance") else { return Vec::new() };
    let mut names = Vec::new();
    let mut found = Vec::new();
    for section in named(reader, value, ("clearance", MOST), keys::CLEARANCE).unwrap_or_default() {
        let name = own_name(reader, &section, &mut names);
        let point = reader.point(&section, "point", COORDINATE);
        let distance = Want::within(Dimension::LENGTH, 0.0, most::LENGTH_M);
        let distance = reader.quantity(&section, "distance", distance);
        if let (Some(name), Some(point), Some(distance)) = (name, point, distance) {
            let (point_p_m, distance_m) = (point.value, distance.value);
            found.push(ClearancePoint { name, point_p_m, distance_m, span: section.span });
        }
    }
    found
}

pub(super) fn obstacles(reader: &mut Reader, root: &Section<'_>) -> Vec<Obstacle> {
    let Some(value) = root.get("obstacle") else { return Vec::new() };
    let mut names = Vec::new();
    let mut found = Vec::new();
    for section in named(reader, value, ("obstacle", MOST), keys::OBSTACLE).unwrap_or_default() {
        let name = own_name(reader, &section, &mut names);
        if let (Some(name), Some(shape)) = (name, shape(reader, &section)) {
            found.push(Obstacle { name, shape, span: section.span });
        }
    }
    found
}

fn shape(reader: &mut Reader, section: &Section<'_>) -> Option<Shape> {
    match (section.get("plane"), section.get("box")) {
        (Some(value), None) => {
            let label = format!("the `plane` of {}", section.label);
            let table = reader.table(value, label, keys::PLANE, section.example("plane"))?;
            let at = reader.point(&table, "at", COORDINATE);
            let free = reader.point(&table, "free", COORDINATE);
            let (at, free) = (at?, free?);
            let towards = free.value - at.value;
            if towards.norm() < APART_M {
                let title = "`at` and `free` are one point: the plane faces nowhere";
                let help = "`at` lies on the plane, `free` straight off it on the side that is free";
                reader.push(Diagnostic::error("rig-part", free.span, title).also(at.span, "at").help(help));
                return None;
            }
            Some(Shape::Plane { at_r_m: at.value, free_r: towards.normalize() })
        }
        (None, Some(value)) => {
            let label = format!("the `box` of {}", section.label);
            let table = reader.table(value, label, keys::BOX, section.example("box"))?;
            let min = reader.point(&table, "min", COORDINATE);
            let max = reader.point(&table, "max", COORDINATE);
            let (min, max) = (min?, max?);
            if (max.value - min.value).min() <= 0.0 {
                let title = "a box goes from `min` to `max`, and here some `min` is not the smaller one";
                reader.push(Diagnostic::error("rig-part", min.span, title).also(max.span, "max"));
                return None;
            }
            Some(Shape::Box { min_r_m: min.value, max_r_m: max.value })
        }
        _ => {
            let title = format!("{} must have either a `plane` or a `box`", section.label);
            let help = format!("such as `plane = {}`", section.example("plane"));
            reader.push(Diagnostic::error("rig-part", section.span, title).help(help));
            None
        }
    }
}
