//! Which stretches of time differ between two plans, so that only those are rendered anew.

use super::traces::CHUNK;
use crate::motion::{Plan, axis};
use crate::scenario::{Content, Layer};
use crate::signal::Signal;
use std::collections::BTreeMap;

/// For each chunk of `new`, whether `old` has the same samples there.
pub fn kept(old: &Plan, new: &Plan) -> Vec<bool> {
    let chunks = (new.samples() as usize).div_ceil(CHUNK);
    let same_frame = old.rig().hash == new.rig().hash
        && old.gain() == new.gain()
        && old.tempo() == new.tempo()
        && old.rate() == new.rate();
    if !same_frame {
        return vec![false; chunks];
    }
    let mut kept = vec![true; chunks];
    let chunk_s = CHUNK as f64 * new.rate().step_s() * new.tempo();
    let mut touch = |signal: &Signal| {
        let from = (signal.start_s / chunk_s).floor().max(0.0) as usize;
        let to = ((signal.start_s + signal.length_s) / chunk_s).floor().max(0.0) as usize;
        kept.iter_mut().take(to.saturating_add(1)).skip(from).for_each(|kept| *kept = false);
    };
    let mut before: BTreeMap<(u8, u64, u64), Vec<&Signal>> = BTreeMap::new();
    for (line, signal) in old.scenario().layers.iter().filter_map(moving) {
        before.entry(key(line, signal)).or_default().push(signal);
    }
    for (line, signal) in new.scenario().layers.iter().filter_map(moving) {
        let same = before.get_mut(&key(line, signal));
        let found = same.and_then(|list| list.iter().position(|old| *old == signal).map(|at| (list, at)));
        match found {
            Some((list, at)) => {
                list.swap_remove(at);
            }
            None => touch(signal),
        }
    }
    before.values().flatten().for_each(|signal| touch(signal));
    // The last chunk of a plan may be cut short, and is not when the plan grows.
    if old.samples() != new.samples() {
        let first = (old.samples().min(new.samples()) as usize / CHUNK).min(chunks);
        kept.iter_mut().skip(first).for_each(|kept| *kept = false);
    }
    kept
}

fn moving(layer: &Layer) -> Option<(u8, &Signal)> {
    axis(layer.line)?;
    match &layer.content {
        Content::Signal(signal) => Some((layer.line as u8, signal)),
        Content::SoundFile { .. } => None,
    }
}

fn key(line: u8, signal: &Signal) -> (u8, u64, u64) {
    (line, signal.start_s.to_bits(), signal.length_s.to_bits())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::sample::scene;
    use crate::desk::traces::Chunk;
    use crate::desk::variant::Variant;
    use crate::time::SampleRate;

    fn plan(body: &str, variant: &Variant) -> Plan {
        let understood = scene(body);
        let (scenario, rig) = (understood.scenario.unwrap(), understood.rig.unwrap());
        variant.plan(&scenario, &rig, SampleRate::new(1000).unwrap()).unwrap()
    }

    #[test]
    fn what_is_kept_is_the_same_and_what_changed_is_not_kept() {
        let body = |size: &str, more: &str| {
            format!(
                "pitch noise(0.1 deg, 1 Hz..4 Hz) for 40 s rise 1 s fall 1 s\nat 10 s roll pulse({size}, 1 s)\n\
                 at 30 s roll ring(0.1 deg, 5 Hz)\nat 5 s sound sine(-20 dB, 100 Hz) for 2 s\n{more}"
            )
        };
        let before = plan(&body("1 deg", ""), &Variant::default());
        for (text, changed) in [
            (body("1.5 deg", ""), vec![2]),
            (body("1 deg", "at 20 s pitch pulse(1 deg, 2 s)"), vec![4, 5]),
            (body("1 deg", "at 20 s sound sine(-20 dB, 50 Hz) for 2 s"), vec![]),
            (body("1 deg", "at 41 s pitch pulse(1 deg, 1 s)"), vec![9, 10]),
        ] {
            let after = plan(&text, &Variant::default());
            let kept = kept(&before, &after);
            let lost: Vec<usize> = (0..kept.len()).filter(|k| !kept[*k]).collect();
            assert_eq!(lost, changed, "{text}");
            let (mut a, mut b) = (before.frames(), after.frames());
            for number in (0..kept.len()).filter(|k| kept[*k]) {
                assert_eq!(Chunk::render(&before, number, &mut a), Chunk::render(&after, number, &mut b));
            }
        }
        let louder = plan(&body("1 deg", ""), &Variant { gain: 0.5, ..Variant::default() });
        assert!(kept(&before, &louder).iter().all(|kept| !kept));
    }
}
