//! Values over scene time: smallest and largest in each column, never a mean; and their spectra.

use super::ink::{BLACK, BLUE, Hatch, VERMILION};
use super::plot::{Frame, Scale};
use super::svg::{Anchor, Pen, Svg};
use crate::motion::{Spectrum, Trace};

/// Columns of a trace: two a unit of the picture.
pub(super) const COLUMNS: usize = 1240;
const WIDTH: f64 = 620.0;

/// What is drawn of a trace.
pub(super) struct Drawn<'a> {
    pub(super) trace: &'a Trace,
    pub(super) column_s: f64,
    /// Multiplies the SI value.
    pub(super) factor: f64,
    /// Name and unit.
    pub(super) words: &'a str,
    /// Limits in SI units, where there are any.
    pub(super) limits: Option<(f64, f64)>,
}

/// One trace. Limits are drawn where they are within three times what the trace needs; else they are written down.
pub(super) fn trace_picture(drawn: &Drawn<'_>) -> Svg {
    let value = |v: f64| v * drawn.factor + 0.0;
    let seen = drawn.trace.iter().filter(|(low, high)| low <= high);
    let ends = seen.flat_map(|(low, high)| [value(*low), value(*high)]);
    let (mut low, mut high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let limits = drawn.limits.map(|(a, b)| (value(a).min(value(b)), value(a).max(value(b))));
    let span = (high - low).max(1e-9);
    let near = limits.filter(|(l, h)| h - l < 6.0 * span);
    if let Some((l, h)) = near {
        (low, high) = (low.min(l), high.max(h));
    }
    let seconds = drawn.column_s * drawn.trace.len() as f64;
    let frame = Frame {
        left: 62.0,
        top: 8.0,
        width: WIDTH,
        height: 120.0,
        across: Scale::new(0.0, seconds, "scene time, s"),
        up: Scale::roomy(low, high, drawn.words),
    };
    let mut svg = Svg::new(700.0, 168.0, drawn.words);
    frame.grid(&mut svg);
    frame.zero(&mut svg);
    if let Some((l, h)) = near {
        let pen = Pen::line(VERMILION, 1.4).dashed("6 3");
        for limit in [l, h] {
            svg.line(frame.at(0.0, limit), frame.at(seconds, limit), &pen);
        }
        svg.text((frame.left + WIDTH - 4.0, frame.y(h) + 11.0), Anchor::End, "limit");
    }
    let mut points: Vec<(f64, f64)> = Vec::with_capacity(2 * drawn.trace.len());
    let at = |k: usize| frame.x((k as f64 + 0.5) * drawn.column_s);
    let used = || drawn.trace.iter().enumerate().filter(|(_, (low, high))| low <= high);
    points.extend(used().map(|(k, (low, high))| (at(k), frame.y(value(*high).max(value(*low))))));
    let lower: Vec<(f64, f64)> =
        used().map(|(k, (low, high))| (at(k), frame.y(value(*high).min(value(*low))))).collect();
    points.extend(lower.into_iter().rev());
    svg.shape(&points, &Pen::line(BLUE, 0.8).around(BLUE));
    frame.edges(&mut svg);
    if let Some((l, h)) = limits.filter(|_| near.is_none()) {
        let words = format!(
            "limits far outside: {} and {}",
            super::quantity::figures(l),
            super::quantity::figures(h)
        );
        svg.text((frame.left + WIDTH - 4.0, frame.top + 12.0), Anchor::End, &words);
    }
    svg
}

/// The density of one axis's acceleration up to 50 Hz on logarithmic scales; bands that the rig wants avoided hatched.
/// `None` when nothing moves.
pub(super) fn spectrum_picture(spectrum: &Spectrum, words: &str, bands_hz: &[(f64, f64)]) -> Option<Svg> {
    const LOW_HZ: f64 = 0.25;
    const HIGH_HZ: f64 = 50.0;
    let hz = |k: usize| k as f64 * spectrum.step_hz;
    let inside = |k: &usize| (LOW_HZ..=HIGH_HZ).contains(&hz(*k));
    let most = (0..spectrum.loudest.len()).filter(inside).filter_map(|k| spectrum.loudest.get(k)).copied();
    let most = most.fold(0.0, f64::max);
    if most <= 0.0 {
        return None;
    }
    let top = libm::ceil(libm::log10(most));
    let frame = Frame {
        left: 62.0,
        top: 8.0,
        width: WIDTH,
        height: 150.0,
        across: Scale::new(libm::log10(LOW_HZ), libm::log10(HIGH_HZ), "frequency, Hz"),
        up: Scale::new(top - 6.0, top, words),
    };
    let mut svg = Svg::new(700.0, 200.0, words);
    let x = |f: f64| frame.x(libm::log10(f.clamp(LOW_HZ, HIGH_HZ)));
    for (low, high) in bands_hz.iter().filter(|(low, high)| *low < HIGH_HZ && *high > LOW_HZ) {
        svg.rect((x(*low), frame.top), (x(*high) - x(*low), frame.height), &Pen::fill(Hatch::Falling.fill()));
    }
    let grid = Pen::line(super::ink::PALE, 0.7);
    let bottom = frame.top + frame.height;
    for f in [0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0] {
        svg.line((x(f), frame.top), (x(f), bottom), &grid);
        svg.text((x(f), bottom + 15.0), Anchor::Middle, &super::quantity::figures(f));
    }
    for power in (top as i32 - 6)..=(top as i32) {
        let y = frame.y(f64::from(power));
        svg.line((frame.left, y), (frame.left + WIDTH, y), &grid);
        if power % 2 == 0 {
            svg.text((frame.left - 6.0, y + 4.0), Anchor::End, &format!("1e{power}"));
        }
    }
    for (values, pen) in
        [(&spectrum.loudest, Pen::line(VERMILION, 1.0).dashed("3 2")), (&spectrum.mean, Pen::line(BLUE, 1.6))]
    {
        let points: Vec<(f64, f64)> = (0..values.len())
            .filter(inside)
            .filter_map(|k| {
                Some((x(hz(k)), frame.y(libm::log10(values.get(k)?.max(1e-300)).clamp(top - 6.0, top))))
            })
            .collect();
        svg.trail(&points, &pen);
    }
    svg.rect((frame.left, frame.top), (WIDTH, frame.height), &Pen::line(BLACK, 1.0));
    svg.text((frame.left + WIDTH / 2.0, bottom + 30.0), Anchor::Middle, "frequency, Hz");
    svg.text_in((16.0, frame.top + frame.height / 2.0), Anchor::Middle, words, BLACK, "-90");
    Some(svg)
}
