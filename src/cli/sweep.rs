//! `sweep`: what a slow sweep of the legs tells, against the first one that was kept.

use super::args::Format;
use super::json;
use super::output::{Failure, Outcome, say};
use super::reading::Reading;
use super::report::table;
use crate::drives::Records;
use crate::player::today;
use crate::record::{Change, Sweep, SweepExtent, SweepMeter, Told};
use crate::time::date;
use crate::units::{Dimension, show};
use std::fmt::Write as _;
use std::path::Path;

/// Reads a record, says what it tells, and keeps that where it is asked to.
///
/// # Errors
/// When the record cannot be read or tells nothing, or what was kept cannot be read or written.
pub(super) fn run(file: &Path, keep: bool, records: &Path, format: Format) -> Result<Outcome, Failure> {
    let sweep = swept(file)?;
    if sweep.tap_hz.is_none() && sweep.legs.iter().all(|leg| leg.friction_n.is_none()) {
        return Err(Failure(format!(
            "`{}` tells nothing: no leg went slowly there and back on drives that report forces, and nobody tapped the \
             platform while it stood for 3 s",
            file.display()
        )));
    }
    let records = Records::at(records);
    let first = records.sweeps()?.into_iter().find(|(_, first)| first.of == sweep.of);
    let changes = first.as_ref().map(|(_, first)| sweep.changes(first)).unwrap_or_default();
    let first = first.as_ref().map(|(day, first)| (*day, first));
    say(&match format {
        Format::Json => json::sweep(&sweep, first.map(|(day, _)| day), &changes),
        _ => human(&sweep, first, &changes),
    })?;
    if keep {
        records.keep_sweep(today().0, &sweep)?;
    }
    Ok(if changes.is_empty() { Outcome::Clean } else { Outcome::Findings })
}

/// What a record tells; it passes by twice.
fn swept(file: &Path) -> Result<Sweep, Failure> {
    let mut first = Reading::begin(file)?;
    let mut extent = SweepExtent::new(first.head().legs.len());
    while let Some(told) = first.told()? {
        if let Told::Cycle(cycle) = told {
            extent.add(&cycle);
        }
    }
    let mut second = Reading::begin(file)?;
    let mut meter = SweepMeter::after(&extent);
    while let Some(told) = second.told()? {
        if let Told::Cycle(cycle) = told {
            meter.add(&cycle);
        }
    }
    Ok(meter.sweep(second.head()))
}

fn human(sweep: &Sweep, first: Option<(u64, &Sweep)>, changes: &[Change]) -> String {
    let words = |value: Option<f64>, dimension| value.map_or("-".to_string(), |value| show(value, dimension));
    let mut rows = vec![["", "friction", "first", "turns round in", "first"].map(String::from)];
    for leg in &sweep.legs {
        let before = first.and_then(|(_, first)| first.legs.iter().find(|before| before.leg == leg.leg));
        rows.push([
            leg.leg.clone(),
            words(leg.friction_n, Dimension::FORCE),
            words(before.and_then(|before| before.friction_n), Dimension::FORCE),
            words(leg.turn_m, Dimension::LENGTH),
            words(before.and_then(|before| before.turn_m), Dimension::LENGTH),
        ]);
    }
    let mut text = table(&rows, "lrrrr");
    let tap = words(sweep.tap_hz, Dimension::FREQUENCY);
    let before = words(first.and_then(|(_, first)| first.tap_hz), Dimension::FREQUENCY);
    let _ = writeln!(text, "\na tap rings at {tap} (first: {before})");
    for Change { words, look } in changes {
        let _ = writeln!(text, "\nnot as it was: {words}\n  look for: {look}");
    }
    let _ = match first {
        Some((day, _)) if changes.is_empty() => writeln!(text, "\nas in the first sweep, of {}", date(day)),
        Some((day, _)) => writeln!(text, "\nthe first sweep is of {}", date(day)),
        None => writeln!(
            text,
            "\nno sweep of these drives was kept before: keep the first with --keep, on a rig that is as it should be"
        ),
    };
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::SweptLeg;

    fn sweep(friction_n: f64) -> Sweep {
        let leg = SweptLeg { leg: "left".into(), friction_n: Some(friction_n), turn_m: None };
        Sweep { legs: vec![leg], tap_hz: Some(11.5), of: "a bench 7 8".into() }
    }

    #[test]
    fn says_what_is_and_what_was_and_what_to_look_for() {
        let (first, now) = (sweep(30.0), sweep(55.0));
        let alone = human(&first, None, &[]);
        assert!(alone.contains("30 N") && alone.contains("11.5 Hz") && alone.contains("--keep"), "{alone}");
        let same = human(&first, Some((20_000, &first)), &[]);
        assert!(same.contains("as in the first sweep, of 2024-10-04"), "{same}");
        let changed = human(&now, Some((20_000, &first)), &now.changes(&first));
        for words in ["not as it was: friction of `left`: 55 N, 30 N", "look for: a dry or bent screw"] {
            assert!(changed.contains(words), "{words} in {changed}");
        }
    }
}
