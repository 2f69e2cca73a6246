//! Whether a rung may be played, and why not: what is below it, and what voids a sign-off.

use super::runs::{are_same, is_open};
use super::{Entry, Key, Levels, Load, MOST_DAYS, Rung};

/// Rungs that must be signed off before `rung`: all others that are no louder and whose load is no heavier, down to the
/// first. Those directly below are not enough: what voids the lowest must close all of them. Only levels that the ladder
/// has now count: what was signed off at another is none of them.
pub fn below(levels: &Levels, rung: Rung) -> Vec<Rung> {
    let levels = levels.all_db().filter(|level_db| *level_db <= rung.level_db);
    let loads = |level_db| {
        let lighter = Load::ALL.into_iter().filter(move |load| *load <= rung.load);
        lighter.map(move |load| Rung { level_db, load })
    };
    levels.flat_map(loads).filter(|other| *other != rung).collect()
}

/// Why `rung` may not be played; empty when it may. Of what is not signed off only the lowest are named: they come first.
pub fn missing(levels: &Levels, entries: &[Entry], rung: Rung, key: &Key, day: u64) -> Vec<String> {
    if let Some(why) = levels.why_none_of(rung.level_db) {
        return vec![why];
    }
    let why = |rung| why_not_signed(entries, rung, key, day).map(|why| (rung, why));
    let unsigned: Vec<(Rung, String)> = below(levels, rung).into_iter().filter_map(why).collect();
    let is_lowest = |rung: Rung| {
        let below = below(levels, rung);
        !unsigned.iter().any(|(other, _)| below.contains(other))
    };
    unsigned.iter().filter(|(rung, _)| is_lowest(*rung)).map(|(_, why)| why.clone()).collect()
}

/// Why `rung` does not count as signed off; `None` when it does.
pub fn why_not_signed(entries: &[Entry], rung: Rung, key: &Key, day: u64) -> Option<String> {
    let name = rung.words();
    let signed = entries.iter().enumerate().rev().filter_map(|(at, entry)| match entry {
        Entry::Signed { rung: found, key, played, day, .. } if *found == rung => {
            Some((at, key, [*played, *day]))
        }
        _ => None,
    });
    let mut why = None;
    for (at, found, days) in signed {
        let void = void(entries.get(at + 1..).unwrap_or(&[]), found, key, days, day);
        match void {
            None => return None,
            // The newest one says best what is wrong.
            Some(void) => why = why.or(Some(void)),
        }
    }
    Some(match why {
        Some(why) => format!("{name}: the sign-off is void: {why}"),
        None => format!("{name}: not signed off"),
    })
}

/// Why a sign-off of a run does not hold any more.
fn void(later: &[Entry], found: &Key, key: &Key, [played, signed]: [u64; 2], day: u64) -> Option<String> {
    let parts = [
        (&found.motion, &key.motion, "the motion is another (an amplitude, a time or a cue was changed)"),
        (&found.rig, &key.rig, "the rig file is another"),
        (&found.tune, &key.tune, "the tune is another"),
        (&found.commissioning, &key.commissioning, "the rig was commissioned anew"),
        (&found.drives, &key.drives, "other drives answer, or a drive's parameters were changed"),
        (&found.program, &key.program, "it was made with another version of this program"),
    ];
    if let Some((_, _, why)) = parts.into_iter().find(|(found, now, _)| found != now) {
        return Some(why.to_string());
    }
    for (at, entry) in later.iter().enumerate() {
        match entry {
            Entry::Trip { drives, cause, .. } if are_same(drives, &key.drives) => {
                return Some(format!("a run was tripped after it: {cause}"));
            }
            Entry::Begun { drives, record, .. } if are_same(drives, &key.drives) && is_open(later, at) => {
                return Some(format!(
                    "how a run after it ended was never written down (this program was killed, the power went or the disk \
                     was full), which counts as a trip; what is left of it: {record}"
                ));
            }
            Entry::Maintenance { remark, .. } => {
                return Some(format!("the rig was worked on after it: {remark}"));
            }
            _ => {}
        }
    }
    if day < played.max(signed) {
        return Some("it is dated in the future: see this computer's clock".to_string());
    }
    too_old(played, day)
}

/// Why a run of day `played` counts for nothing any more.
pub(super) fn too_old(played: u64, day: u64) -> Option<String> {
    let age = day.saturating_sub(played);
    (age > MOST_DAYS).then(|| format!("the run is {age} days old, and {MOST_DAYS} are the most"))
}
