//! `[screw]`, `[motor]`, `[brake]`, `[end_stop]`: one table for all legs, or one for each kind with the names of its `legs`.

use super::keys::{self, Key};
use super::legs::Draft;
use super::limits::{PART, SHARE, SIZE, TORQUE, most};
use super::names::named;
use super::reader::{Reader, Section, Want, clip};
use crate::diag::{Diagnostic, Span, nearest};
use crate::rig::MAX_LEGS;
use crate::rig::mechanics::brake::Brake;
use crate::rig::mechanics::column::{Column, STEEL_MODULUS_PA};
use crate::rig::mechanics::ends::Ends;
use crate::rig::mechanics::screw::BallScrew;
use crate::rig::mechanics::whirl::Shaft;
use crate::rig::parts::{BrakePart, LegParts, ScrewLife, ScrewPart};
use crate::units::Dimension;

/// Reads these tables into the legs that they speak of. What a leg lacks stays absent.
pub(super) fn powertrain(reader: &mut Reader, root: &Section<'_>, drafts: &mut [Draft]) {
    each(reader, root, drafts, ("screw", keys::SCREW), screw, |parts, part| parts.screw = Some(part));
    each(reader, root, drafts, ("motor", keys::MOTOR), super::motor::motor, |parts, part| {
        parts.motor = Some(part);
    });
    each(reader, root, drafts, ("brake", keys::BRAKE), brake, |parts, part| parts.brake = Some(part));
    each(reader, root, drafts, ("end_stop", keys::END_STOP), super::stops::end_stop, |parts, part| {
        parts.end_stop = Some(part);
    });
    // The lead stands with the leg.
    for actuator in drafts.iter_mut().flat_map(|draft| [&mut draft.actuator, &mut draft.geometry]).flatten() {
        if let Some(screw) = &mut actuator.parts.screw {
            screw.screw.lead_m = actuator.lead_m;
        }
    }
}

/// Every table of one kind, given to the legs that it names.
fn each<T: Clone>(
    reader: &mut Reader,
    root: &Section<'_>,
    drafts: &mut [Draft],
    (word, keys): (&'static str, &'static [Key]),
    read: fn(&mut Reader, &Section<'_>) -> Option<T>,
    put: fn(&mut LegParts, T),
) {
    let Some(value) = root.get(word) else { return };
    let mut taken: Vec<(usize, Span)> = Vec::new();
    for mut section in named(reader, value, (word, MAX_LEGS), keys).unwrap_or_default() {
        section.label = format!("[{word}]");
        let legs = legs(reader, &section, drafts);
        let legs = if word == "screw" { screws(reader, &section, drafts, legs) } else { legs };
        let part = read(reader, &section);
        for leg in legs {
            if let Some((_, first)) = taken.iter().find(|(other, _)| *other == leg) {
                let name = drafts.get(leg).map_or("", |draft| draft.name.as_str());
                let title = format!("`{name}` has a second [{word}]");
                let help = format!("give each [[{word}]] the names of its legs: `legs = [\"left\"]`");
                reader.push(
                    Diagnostic::error("rig-part", section.span, title).also(*first, "the first").help(help),
                );
                break;
            }
            taken.push((leg, section.span));
            let Some(draft) = drafts.get_mut(leg) else { continue };
            for actuator in [&mut draft.actuator, &mut draft.geometry].into_iter().flatten() {
                if let Some(part) = &part {
                    put(&mut actuator.parts, part.clone());
                }
            }
        }
    }
}

/// Indices of the legs that a table speaks of: all without `legs`.
fn legs(reader: &mut Reader, section: &Section<'_>, drafts: &[Draft]) -> Vec<usize> {
    if section.get("legs").is_none() {
        return (0..drafts.len()).collect();
    }
    let Some((entries, _)) = reader.list(section, "legs", None) else { return Vec::new() };
    let mut found = Vec::new();
    for entry in entries {
        let Some(name) = reader.as_text(entry, "legs", "\"left\"") else { continue };
        match drafts.iter().position(|draft| draft.name == name.value) {
            Some(leg) => found.push(leg),
            None => {
                let title = format!("there is no actuator `{}`", clip(name.value));
                let mut diagnostic = Diagnostic::error("rig-part", name.span, title);
                if let Some(near) = nearest(name.value, drafts.iter().map(|draft| draft.name.as_str())) {
                    diagnostic = diagnostic.fix(format!("use `{near}`"), name.span, format!("\"{near}\""));
                }
                reader.push(diagnostic.help("`legs` holds names of `[[actuator]]` tables"));
            }
        }
    }
    found
}

/// The ball screws among the legs that a table speaks of; a crank that it names, or no screw at all, is reported.
fn screws(reader: &mut Reader, section: &Section<'_>, drafts: &[Draft], legs: Vec<usize>) -> Vec<usize> {
    let is_crank = |leg: &usize| drafts.get(*leg).is_some_and(|draft| draft.is_crank);
    let named = section.get("legs").is_some();
    let (cranks, screws): (Vec<usize>, Vec<usize>) = legs.into_iter().partition(is_crank);
    if let Some(draft) =
        cranks.first().and_then(|leg| drafts.get(*leg)).filter(|_| named || screws.is_empty())
    {
        let title = format!("[screw] is for ball screws, and `{}` is a crank", draft.name);
        let help = "a crank has no lead, no buckling load, no critical speed and no nut that wears: what its gearbox loses \
                    and weighs stands in the `gearbox` of its `[actuator.crank]`";
        reader.push(Diagnostic::error("rig-leg-kind", section.span, title).help(help));
    }
    screws
}

fn screw(reader: &mut Reader, section: &Section<'_>) -> Option<ScrewPart> {
    let forward = reader.quantity(section, "efficiency", SHARE);
    let back = reader.quantity(section, "efficiency_back", PART);
    let drag = reader.quantity(section, "drag", Want::within(Dimension::TORQUE, 0.0, most::TORQUE_NM));
    let inertia = Want::within(Dimension::INERTIA, 0.0, most::SMALL_INERTIA_KG_M2);
    let inertia = reader.quantity(section, "inertia", inertia);
    let sliding = reader.quantity(section, "sliding_mass", Want::within(Dimension::MASS, 0.0, most::MASS_KG));
    let slender = section.get("whirl").is_some() || section.get("buckling").is_some();
    let root = if slender || section.get("root_diameter").is_some() {
        reader.quantity(section, "root_diameter", Want::above_zero(Dimension::LENGTH, 0.5))
    } else {
        None
    };
    let asked = |name: &str| section.get(name).is_some();
    let whirl = read_slender(reader, section, "whirl");
    let buckling = read_slender(reader, section, "buckling");
    let life = life(reader, section);
    // A part that was begun and not finished is reported already; without it the screw is not complete.
    let unfinished = asked("whirl") && whirl.is_none()
        || asked("buckling") && buckling.is_none()
        || asked("life") && life.is_none()
        || slender && root.is_none();
    if unfinished {
        return None;
    }
    let root_diameter_m = root.map_or(0.0, |root| root.value);
    let shaft =
        whirl.map(|(length_m, ends, share, span)| (Shaft { root_diameter_m, length_m, ends, share }, span));
    let column = buckling.map(|(length_m, ends, share, span)| {
        (Column { root_diameter_m, length_m, ends, modulus_pa: STEEL_MODULUS_PA, share }, span)
    });
    Some(ScrewPart {
        screw: BallScrew {
            // The leg's own lead is put in once all legs are read.
            lead_m: f64::NAN,
            efficiency_forward: forward?.value,
            efficiency_back: back?.value,
            drag_nm: drag?.value,
            inertia_kg_m2: inertia?.value,
        },
        sliding_kg: sliding?.value,
        shaft,
        column,
        life,
        span: section.span,
    })
}

/// `{ length, ends, share }`
fn read_slender(reader: &mut Reader, section: &Section<'_>, name: &str) -> Option<(f64, Ends, f64, Span)> {
    let value = section.get(name)?;
    let table = reader.table(value, format!("the screw's `{name}`"), keys::SLENDER, section.example(name))?;
    let length = reader.quantity(&table, "length", SIZE);
    let ends = super::names::word(reader, &table, "ends", &Ends::ALL.map(Ends::words));
    let share = reader.quantity(&table, "share", SHARE);
    Some((length?.value, Ends::from_words(ends?)?, share?.value, reader.span(value.span())))
}

fn life(reader: &mut Reader, section: &Section<'_>) -> Option<ScrewLife> {
    let value = section.get("life")?;
    let table = reader.table(value, "the screw's `life`", keys::LIFE, section.example("life"))?;
    let rating = reader.quantity(&table, "rating", Want::above_zero(Dimension::FORCE, 1e7));
    let preload = reader.quantity(&table, "preload", Want::within(Dimension::FORCE, 0.0, most::THRUST_N));
    let hours = reader.quantity(&table, "hours", Want::above_zero(Dimension::TIME, most::LIFE_S));
    Some(ScrewLife {
        rating_n: rating?.value,
        preload_n: preload?.value,
        wanted_s: hours?.value,
        span: reader.span(value.span()),
    })
}

fn brake(reader: &mut Reader, section: &Section<'_>) -> Option<BrakePart> {
    let holding = reader.quantity(section, "holding", TORQUE);
    let margin = reader.quantity(section, "margin", Want::within(Dimension::NUMBER, 1.0, 100.0));
    let weakest = reader.quantity(section, "weakest", TORQUE);
    let strongest = reader.quantity(section, "strongest", TORQUE);
    let release = reader.quantity(section, "release", Want::above_zero(Dimension::VOLTAGE, most::VOLTAGE_V));
    let delay = reader.quantity(section, "delay", super::limits::DELAY);
    let work = reader.quantity(section, "stop_work", Want::within(Dimension::TORQUE, 0.0, most::ENERGY_J));
    let stops = reader.count(section, "stops", 1..1_000_000_001);
    let jolt = Want::above_zero(Dimension::ACCELERATION, most::ACCELERATION_M_S2);
    let jolt = reader.quantity(section, "jolt", jolt);
    if let Some((weakest, strongest)) = weakest.zip(strongest).filter(|(w, s)| w.value > s.value) {
        let title = "the weakest brake is stronger than the strongest; are the two swapped?";
        reader.push(Diagnostic::error("rig-part", weakest.span, title).also(strongest.span, "the strongest"));
        return None;
    }
    Some(BrakePart {
        holding_nm: holding?.value,
        margin: margin?.value,
        brake: Brake {
            weakest_nm: weakest?.value,
            strongest_nm: strongest?.value,
            release_v: release?.value,
            delay_s: delay?.value,
            stop_j: work?.value,
            stops: stops?,
        },
        jolt_m_s2: jolt?.value,
        span: section.span,
    })
}
