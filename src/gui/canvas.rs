//! Small marks that several drawings share.

use super::theme::Palette;
use crate::diag::Severity;
use egui::{Painter, Pos2, Shape, Stroke, pos2};

/// A severity as a shape: an error is a filled triangle on its tip, a warning a diamond, a note a ring.
pub(super) fn mark(painter: &Painter, at: Pos2, size: f32, severity: Severity, palette: &Palette) {
    let colour = palette.severity(severity);
    let stroke = Stroke::new(1.4, colour);
    match severity {
        Severity::Error => {
            let points =
                vec![pos2(at.x - size, at.y - size), pos2(at.x + size, at.y - size), pos2(at.x, at.y + size)];
            painter.add(Shape::convex_polygon(points, colour, stroke));
        }
        Severity::Warning => {
            let points = vec![
                pos2(at.x, at.y - size),
                pos2(at.x + size, at.y),
                pos2(at.x, at.y + size),
                pos2(at.x - size, at.y),
            ];
            painter.add(Shape::convex_polygon(points, palette.ground, stroke));
        }
        Severity::Note => {
            painter.circle_stroke(at, size * 0.9, stroke);
        }
    }
}
