//! `[can]` and `[[can.leg]]`: drives on a CAN bus.

use super::keys;
use super::legs::Draft;
use super::limits::{COORDINATE, SIZE, TORQUE};
use super::names::{named, word};
use super::reader::{Reader, Section, Want, clip};
use crate::diag::{Diagnostic, Span, nearest};
use crate::rig::MAX_LEGS;
use crate::rig::can::{CanInputs, CanLeg, CanPart, PositionMode, Reference, Terminal};
use crate::units::Dimension;

/// Bit rates on which adapters and drives agree (CiA 301).
const BIT_RATES: [(&str, u32); 5] = [
    ("1 Mbit/s", 1_000_000),
    ("500 kbit/s", 500_000),
    ("250 kbit/s", 250_000),
    ("125 kbit/s", 125_000),
    ("50 kbit/s", 50_000),
];
const CYCLIC: &str = "cyclic synchronous position";
const INTERPOLATED: &str = "interpolated position";
/// Bits of the statusword that CiA 402 leaves to the maker.
const MAKERS_BITS: [u32; 3] = [8, 14, 15];
/// A leg that sags by more is not held, whatever its file says (own choice).
const SAG: Want = Want::above_zero(Dimension::LENGTH, 5e-3);
/// Inputs and outputs below 16 have meanings of their own (CiA 402, 0x60FD and 0x60FE); above stand the maker's.
const BITS: std::ops::Range<u32> = 0..32;
const OUTPUTS: std::ops::Range<u32> = 16..32;

/// Reads the table; `None` when it is absent or not whole.
pub(super) fn can(reader: &mut Reader, root: &Section<'_>, drafts: &[Draft]) -> Option<CanPart> {
    let section = reader.table(root.get("can")?, "[can]", keys::CAN, "[can]")?;
    let bit_rate = word(reader, &section, "bit_rate", &BIT_RATES.map(|(words, _)| words));
    let host = reader.count(&section, "host", 1..128);
    let mode = word(reader, &section, "mode", &[CYCLIC, INTERPOLATED]);
    let reference = reference(reader, &section);
    let following = reader.quantity(&section, "following_error", SIZE);
    let legs = legs(reader, &section, drafts, host);
    let mut taken = Vec::new();
    let mut input = |name| terminal(reader, &section, name, drafts, BITS, &mut taken);
    let (presence, gate, mat) = (input("presence"), input("gate"), input("mat"));
    let (belt, stop) = (input("belt"), input("stop"));
    let warning = terminal(reader, &section, "warning", drafts, OUTPUTS, &mut Vec::new());
    let legs = legs?;
    for (leg, (contacts, span)) in legs.iter().enumerate() {
        let bits = contacts.brake.map(|(set, released)| [set, released]).into_iter().flatten();
        for bit in bits {
            once(reader, Terminal { leg, bit }, *span, &mut taken);
        }
    }
    let inputs = CanInputs { presence: presence?, gate: gate?, mat: mat?, belt: belt?, stop: stop? };
    let bit_rate = BIT_RATES.iter().find(|(words, _)| Some(*words) == bit_rate)?.1;
    let mode = if mode? == CYCLIC { PositionMode::CyclicSynchronous } else { PositionMode::Interpolated };
    Some(CanPart {
        bit_rate,
        host: host? as u8,
        mode,
        reference: reference?,
        following_m: following?.value,
        legs: legs.into_iter().map(|(leg, _)| leg).collect(),
        inputs,
        warning: warning?,
        span: section.span,
    })
}

fn reference(reader: &mut Reader, section: &Section<'_>) -> Option<Reference> {
    match word(reader, section, "reference", &["absolute", "homing"])? {
        "homing" => {
            let method = reader.whole(section, "homing_method", -128..128)?;
            i8::try_from(method).ok().map(Reference::Homing)
        }
        _ => {
            if let Some(value) = section.get("homing_method") {
                let title = "`homing_method` says how a drive finds its reference, and `reference` says that it need not";
                let help = "take one of the two out, or write `reference = \"homing\"`";
                let span = reader.span(value.span());
                reader.push(Diagnostic::error("rig-can", span, title).help(help));
            }
            Some(Reference::Absolute)
        }
    }
}

/// Every leg's table, in the order of the legs.
fn legs(
    reader: &mut Reader,
    section: &Section<'_>,
    drafts: &[Draft],
    host: Option<u32>,
) -> Option<Vec<(CanLeg, Span)>> {
    let value = reader.required(section, "leg")?;
    let sections = named(reader, value, ("can.leg", MAX_LEGS), keys::CAN_LEG)?;
    let mut found: Vec<Option<(CanLeg, Span)>> = vec![None; drafts.len()];
    let mut nodes: Vec<(u32, Span)> = Vec::new();
    let mut whole = true;
    for section in &sections {
        let Some(leg) = leg_named(reader, section, drafts) else {
            whole = false;
            continue;
        };
        let node = reader.count(section, "node", 1..128);
        if let Some(node) = node {
            if host == Some(node) {
                let title = format!("{} has the node id {node} of this program itself", section.label);
                let help = "`host` is an id that no drive has: 127 is usual";
                reader.push(Diagnostic::error("rig-can", section.span, title).help(help));
            }
            if let Some((_, first)) = nodes.iter().find(|(other, _)| *other == node) {
                let title = format!("node id {node} is taken: two drives would answer at once");
                reader.push(Diagnostic::error("rig-can", section.span, title).also(*first, "first here"));
            }
            nodes.push((node, section.span));
        }
        let read = leg_part(reader, section, drafts.get(leg), node);
        match found.get_mut(leg) {
            Some(place @ None) => match read {
                Some(read) => *place = Some((read, section.span)),
                None => whole = false,
            },
            Some(Some((_, first))) => {
                let title = format!("{} stands twice", section.label);
                let first = *first;
                reader.push(Diagnostic::error("rig-can", section.span, title).also(first, "first here"));
            }
            None => {}
        }
    }
    if whole {
        let missing = drafts.iter().zip(&found).filter(|(_, leg)| leg.is_none());
        let missing: Vec<_> = missing.map(|(draft, _)| format!("`{}`", draft.name)).collect();
        if !missing.is_empty() {
            let title = format!("no [[can.leg]] speaks of {}", missing.join(", "));
            let help = "each leg has a drive of its own: one table a leg, with its `name`";
            reader.push(Diagnostic::error("rig-can", section.span, title).help(help));
        }
    }
    found.into_iter().collect()
}

fn leg_named(reader: &mut Reader, section: &Section<'_>, drafts: &[Draft]) -> Option<usize> {
    let name = reader.text(section, "name")?;
    leg_index(reader, name.value, name.span, drafts)
}

fn leg_index(reader: &mut Reader, name: &str, span: Span, drafts: &[Draft]) -> Option<usize> {
    let found = drafts.iter().position(|draft| draft.name == name);
    if found.is_none() {
        let title = format!("there is no actuator `{}`", clip(name));
        let mut diagnostic = Diagnostic::error("rig-can", span, title);
        if let Some(near) = nearest(name, drafts.iter().map(|draft| draft.name.as_str())) {
            diagnostic = diagnostic.fix(format!("use `{near}`"), span, format!("\"{near}\""));
        }
        reader.push(diagnostic.help("the names are those of the `[[actuator]]` tables"));
    }
    found
}

fn leg_part(
    reader: &mut Reader,
    section: &Section<'_>,
    draft: Option<&Draft>,
    node: Option<u32>,
) -> Option<CanLeg> {
    let vendor = reader.count(section, "vendor", 0..u32::MAX);
    let product = reader.count(section, "product", 0..u32::MAX);
    let optional = |reader: &mut Reader, name, range: std::ops::Range<u32>| match section.get(name) {
        None => Some(None),
        Some(_) => reader.count(section, name, range).map(Some),
    };
    let serial = optional(reader, "serial", 0..u32::MAX);
    let counts = reader.count(section, "counts_per_turn", 1..(1 << 24) + 1);
    let direction = word(reader, section, "direction", &["longer", "shorter"]);
    let zero = reader.quantity(section, "zero", COORDINATE);
    let rated = reader.quantity(section, "rated_torque", TORQUE);
    let set = optional(reader, "brake_set", BITS);
    let released = optional(reader, "brake_released", BITS);
    let sag = match section.get("brake_sag") {
        None => Some(None),
        Some(_) => reader.quantity(section, "brake_sag", SAG).map(|sag| Some(sag.value)),
    };
    let homed = optional(reader, "homed_bit", 0..16);
    let (set, released, sag, homed) = (set?, released?, sag?, homed?);
    let brake = match (set, released) {
        (Some(set), Some(released)) => Some((set as u8, released as u8)),
        (None, None) => None,
        _ => {
            let title = format!("{} has one contact of its brake and not the other", section.label);
            let help = "one contact alone cannot tell a broken wire from a brake; give `brake_set` and \
                        `brake_released`, or `brake_sag`: a brake that nothing tells of lets nothing move";
            reader.push(Diagnostic::error("rig-can", section.span, title).help(help));
            return None;
        }
    };
    if homed.is_some_and(|bit| !MAKERS_BITS.contains(&bit)) {
        let title = "`homed_bit` must be one that CiA 402 leaves to the maker: 8, 14 or 15";
        reader.push(
            Diagnostic::error("rig-can", section.span, title).help("see the drive's manual: statusword"),
        );
        return None;
    }
    let (counts, zero) = (counts?, zero?);
    let leg = CanLeg {
        node: node? as u8,
        vendor: vendor?,
        product: product?,
        serial: serial?,
        counts_per_turn: counts,
        lead_m: draft?.actuator.as_ref()?.lead_m,
        longer: direction? == "longer",
        zero_m: zero.value,
        rated_nm: rated?.value,
        brake,
        sag_m: sag,
        homed_bit: homed.map(|bit| bit as u8),
    };
    let actuator = draft?.actuator.as_ref()?;
    if !actuator.thrust_n.is_finite() {
        let title = format!("{} needs the `thrust` of its actuator", section.label);
        let help =
            "the torque that the drive may use is set from it; add a line such as `thrust = \"1500 N\"`";
        reader.push(
            Diagnostic::error("rig-can", section.span, title).also(actuator.spans.table, "here").help(help),
        );
        return None;
    }
    if leg.counts(actuator.min_m).is_none() || leg.counts(actuator.max_m).is_none() {
        let title = format!("{} counts further than the 32 bits of a drive's position", section.label);
        reader.push(
            Diagnostic::error("rig-can", section.span, title)
                .also(zero.span, "zero")
                .help("put `zero` nearer, or have the drive count fewer for a turn"),
        );
        return None;
    }
    Some(leg)
}

/// A bit of a leg's drive; `Some(None)` when it is absent.
fn terminal(
    reader: &mut Reader,
    section: &Section<'_>,
    name: &str,
    drafts: &[Draft],
    bits: std::ops::Range<u32>,
    taken: &mut Vec<(Terminal, Span)>,
) -> Option<Option<Terminal>> {
    let Some(value) = section.get(name) else { return Some(None) };
    let table =
        reader.table(value, format!("`{name}` of [can]"), keys::CAN_TERMINAL, section.example(name))?;
    let leg = reader.text(&table, "leg");
    let bit = reader.count(&table, "bit", bits);
    let leg = leg.and_then(|leg| leg_index(reader, leg.value, leg.span, drafts));
    let terminal = Terminal { leg: leg?, bit: bit? as u8 };
    once(reader, terminal, table.span, taken);
    Some(Some(terminal))
}

/// One wire, one meaning.
fn once(reader: &mut Reader, terminal: Terminal, span: Span, taken: &mut Vec<(Terminal, Span)>) {
    match taken.iter().find(|(other, _)| *other == terminal) {
        Some((_, first)) => {
            let title = format!("input bit {} of this drive has a meaning already", terminal.bit);
            let help = "one input tells one thing: two devices on one wire cannot be told apart";
            reader.push(Diagnostic::error("rig-can", span, title).also(*first, "first here").help(help));
        }
        None => taken.push((terminal, span)),
    }
}
