//! The report for people: findings worst first, then how near everything comes to its limit.

use super::view::{LayerView, Measured, View};
use crate::check::{CAUTION, Finding, Margin, Unchecked};
use crate::diag::{Severity, Sources, render_human_in};
use crate::time::clock;
use crate::units::{Dimension, show};
use std::fmt::Write;

/// Margins shown at most, and layers on each channel.
const MARGINS: usize = 16;
const LAYERS: usize = 3;
/// The order in which channels are shown.
const CHANNELS: [&str; 8] = ["pitch", "roll", "yaw", "surge", "sway", "heave", "sound", "shaker"];
/// Layers named in a finding's blame.
const BLAMED: usize = 5;
/// Columns of a bar.
const BAR: usize = 24;

/// The whole report as text.
pub(super) fn human(view: &View, colour: bool, width: usize) -> String {
    let mut text = String::new();
    for finding in &view.findings {
        text.push_str(&finding_text(finding, &view.sources, colour, width));
        text.push('\n');
    }
    if let Some(measured) = &view.measured {
        text.push_str(&head(view, measured));
        text.push_str(&margins(&measured.margins));
        text.push_str(&layers(&measured.layers, &view.sources));
        text.push_str(&not_checked(&measured.not_checked, width));
        let bound = format!("at most: {}", measured.bound);
        let _ = writeln!(text, "\n{}", wrapped(&bound, width));
    }
    text.push('\n');
    text.push_str(&verdict(view));
    text
}

fn finding_text(finding: &Finding, sources: &Sources, colour: bool, width: usize) -> String {
    let mut text = render_human_in(&finding.diagnostic, sources, colour, width);
    text.push('\n');
    if finding.blame.len() < 2 {
        return text;
    }
    let shares: Vec<String> =
        finding.blame.iter().map(|blame| format!("{:>4.0} %", blame.share * 100.0)).collect();
    let labels =
        finding.blame.iter().map(|blame| blame.label.chars().count()).take(BLAMED).max().unwrap_or(0);
    for (blame, share) in finding.blame.iter().zip(&shares).take(BLAMED) {
        let (file, at) = sources.place(blame.span);
        let _ = writeln!(text, "  {share}  {:<labels$}  {file}:{}:{}", blame.label, at.line, at.column);
    }
    if finding.blame.len() > BLAMED {
        let rest: f64 = finding.blame.iter().skip(BLAMED).map(|blame| blame.share).sum();
        let _ = writeln!(text, "  {:>4.0} %  {} more layers", rest * 100.0, finding.blame.len() - BLAMED);
    }
    text
}

/// A gain rounded down, so that the number shown fits too.
pub(super) fn gain_words(gain: f64) -> String {
    let floored = (gain * 1000.0).floor() / 1000.0;
    format!("{floored}")
}

/// A gain as it is, and in dB where a number says little.
fn gain_exactly(gain: f64) -> String {
    match (gain * 1e4).round() / 1e4 {
        short if short == gain => format!("{gain}"),
        short => format!("{short} ({:.1} dB)", 20.0 * libm::log10(gain)),
    }
}

fn head(view: &View, measured: &Measured) -> String {
    let scene = view.scene.as_deref().unwrap_or("");
    let rig = view.rig.as_ref().map_or(String::new(), |rig| format!("{} ({})", rig.name, rig.file));
    format!(
        "scene     {scene} ({})\nrig       {rig}\nlength    {}, {} from {}\n\
         gain      {}, {} samples a second\n",
        view.profile,
        clock(measured.duration_s),
        counted(measured.layers.len(), "layer"),
        counted(measured.placements, "placement"),
        gain_exactly(view.gain),
        view.rate_hz,
    )
}

fn margins(margins: &[Margin]) -> String {
    if margins.is_empty() {
        return String::new();
    }
    let mut rows = vec![["", "", "peak", "at most", "limit", "at", "used"].map(String::from)];
    rows.extend(margins.iter().take(MARGINS).map(|margin| {
        [
            margin.part.clone(),
            margin.quantity.word().to_string(),
            show(margin.peak, margin.dimension),
            show(margin.bound, margin.dimension),
            show(margin.limit, margin.dimension),
            clock(margin.at_s),
            format!("{} {:>4.0} %", bar(margin.used), margin.used * 100.0),
        ]
    }));
    let mut text = format!("\nmargins, most used first\n{}", table(&rows, "llrrrrl"));
    if margins.len() > MARGINS {
        let _ = writeln!(text, "  and {} more, all used less", margins.len() - MARGINS);
    }
    if margins.iter().take(MARGINS).any(|margin| margin.quantity.word().ends_with('*')) {
        text.push_str("  * model only: measure it on the rig; `cueloom explain` says how\n");
    }
    text
}

/// What was not looked at, and what the rig file would need for it.
fn not_checked(unchecked: &[Unchecked], width: usize) -> String {
    let mut text = String::new();
    let mut said: Vec<&str> = Vec::new();
    for missing in unchecked.iter().map(|unchecked| unchecked.missing) {
        if said.contains(&missing) {
            continue;
        }
        said.push(missing);
        let rules: Vec<&str> =
            unchecked.iter().filter(|other| other.missing == missing).map(|other| other.rule).collect();
        let line = format!("not checked, because the rig file has no {missing}: {}", rules.join(", "));
        let _ = write!(text, "\n{}", wrapped(&line, width));
    }
    if !text.is_empty() {
        text.push('\n');
    }
    text
}

/// A bar of the part that is used; past its end it shows that it does not fit.
fn bar(used: f64) -> String {
    let full = (used.clamp(0.0, 1.0) * BAR as f64).round() as usize;
    let end = if used > 1.0 { '!' } else { '|' };
    format!("{}{}{end}", "#".repeat(full), ".".repeat(BAR - full))
}

fn layers(layers: &[LayerView], sources: &Sources) -> String {
    let mut rows = vec![["", "peak", "r.m.s.", "layer", "in"].map(String::from)];
    for channel in CHANNELS {
        // A repeated statement is one thing to its author: its strongest repetition stands for all.
        let mut on: Vec<&LayerView> = Vec::new();
        for layer in layers.iter().filter(|layer| layer.channel == channel) {
            match on.iter_mut().find(|other| other.span == layer.span && other.label == layer.label) {
                Some(other) if other.peak < layer.peak => *other = layer,
                Some(_) => {}
                None => on.push(layer),
            }
        }
        on.sort_by(|a, b| b.peak.total_cmp(&a.peak));
        rows.extend(on.iter().take(LAYERS).map(|layer| {
            let (file, at) = sources.place(layer.span);
            let number = |value| match layer.dimension {
                Dimension::NUMBER => format!("{} %", show(value * 100.0, Dimension::NUMBER)),
                dimension => show(value, dimension),
            };
            let (peak, rms) = (number(layer.peak), layer.rms.map_or_else(|| "-".to_string(), number));
            [channel.to_string(), peak, rms, layer.label.clone(), format!("{file}:{}", at.line)]
        }));
    }
    if rows.len() == 1 {
        String::new()
    } else {
        format!("\nstrongest layers of each channel\n{}", table(&rows, "lrrll"))
    }
}

/// Rows as columns two spaces apart; `sides` says `l` or `r` for each.
pub(super) fn table<const N: usize>(rows: &[[String; N]], sides: &str) -> String {
    let widths: Vec<usize> =
        (0..N).map(|k| rows.iter().map(|row| row[k].chars().count()).max().unwrap_or(0)).collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for ((cell, width), side) in row.iter().zip(&widths).zip(sides.chars()) {
            let _ = match side {
                'r' => write!(line, "  {cell:>width$}"),
                _ => write!(line, "  {cell:<width$}"),
            };
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

fn counted(n: usize, word: &str) -> String {
    format!("{n} {word}{}", if n == 1 { "" } else { "s" })
}

/// Words in lines of at most `width` columns.
fn wrapped(words: &str, width: usize) -> String {
    let (mut text, mut column) = (String::new(), 0);
    for word in words.split(' ') {
        let length = word.chars().count();
        if column > 0 && column + 1 + length > width {
            text.push('\n');
            column = 0;
        } else if column > 0 {
            text.push(' ');
            column += 1;
        }
        text.push_str(word);
        column += length;
    }
    text
}

fn verdict(view: &View) -> String {
    let count = |severity| view.findings.iter().filter(|f| f.diagnostic.severity == severity).count();
    let (errors, warnings) = (count(Severity::Error), count(Severity::Warning));
    let mut found = vec![counted(errors, "error")];
    if warnings > 0 {
        found.push(counted(warnings, "warning"));
    }
    let found = found.join(", ");
    match &view.measured {
        Some(_) if errors == 0 => {
            let also =
                if warnings > 0 { format!(", with {}", counted(warnings, "warning")) } else { String::new() };
            format!("fits the rig file{also}\n{CAUTION}\n")
        }
        Some(measured) => {
            let advice = match measured.fits_gain {
                Some(gain) if gain > 0.0 => format!("; the scene fits at gain {}", gain_words(gain)),
                _ => String::new(),
            };
            format!("does not fit the rig file: {found}{advice}\n")
        }
        None if errors == 0 => "nothing was checked\n".to_string(),
        None => format!("not checked against the rig: {found}\n"),
    }
}

/// One line a finding.
pub(super) fn short(view: &View) -> String {
    let line =
        |finding: &Finding| format!("{}\n", crate::diag::render_short(&finding.diagnostic, &view.sources));
    view.findings.iter().map(line).collect()
}

#[cfg(test)]
#[path = "report_tests.rs"]
pub(super) mod tests;
#[cfg(test)]
pub(super) use tests::sample;
