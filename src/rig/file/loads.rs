//! `[payload]` and `[[load]]`: what may be carried.

use super::limits::{COORDINATE, most};
use super::names::{named, own_name};
use super::reader::{Reader, Section, Want};
use super::{judge, keys};
use crate::diag::Span;
use crate::rig::Payload;
use crate::rig::parts::{LoadCase, ONLY_CASE};
use crate::units::Dimension;
use nalgebra::Matrix3;

/// Load cases that a file may name at most: each costs the check its time.
const MOST_LOADS: usize = 8;

/// The payload that stands for all where one number is asked for, and every case.
///
/// `[payload]` alone is the only case and the list stays empty; with `[[load]]` it may be left out, and the first case
/// takes its place.
pub(super) fn loads(reader: &mut Reader, root: &Section<'_>) -> Option<(Payload, Vec<LoadCase>)> {
    let mut cases = Vec::new();
    let mut complete = true;
    if root.get("load").is_none() || root.get("payload").is_some() {
        let section = super::sections::part(reader, root, "payload", "[payload]", keys::PAYLOAD);
        let span = section.as_ref().map(|section| section.span);
        match section.and_then(|section| payload(reader, &section)).zip(span) {
            Some((payload, span)) => cases.push(LoadCase { name: ONLY_CASE.to_string(), payload, span }),
            None => complete = false,
        }
    }
    let Some(value) = root.get("load") else {
        let payload = cases.pop()?.payload;
        return Some((payload, Vec::new()));
    };
    let sections = named(reader, value, ("load", MOST_LOADS), keys::LOAD)?;
    let mut names: Vec<(String, Span)> = cases.iter().map(|case| (case.name.clone(), case.span)).collect();
    for section in sections {
        let name = own_name(reader, &section, &mut names);
        match (name, payload(reader, &section)) {
            (Some(name), Some(payload)) => cases.push(LoadCase { name, payload, span: section.span }),
            _ => complete = false,
        }
    }
    let first = cases.first().filter(|_| complete)?.payload.clone();
    Some((first, cases))
}

fn payload(reader: &mut Reader, section: &Section<'_>) -> Option<Payload> {
    let mass = reader.quantity(section, "mass", Want::above_zero(Dimension::MASS, most::MASS_KG));
    let centre = reader.point(section, "centre", COORDINATE);
    let inertia = reader.required(section, "inertia").and_then(|value| {
        let label = if section.label == "[payload]" {
            "the payload's `inertia`".to_string()
        } else {
            format!("the `inertia` of {}", section.label)
        };
        let table = reader.table(value, label, keys::INERTIA, section.example("inertia"))?;
        let on = Want::above_zero(Dimension::INERTIA, most::INERTIA_KG_M2);
        let off = Want::within(Dimension::INERTIA, -most::INERTIA_KG_M2, most::INERTIA_KG_M2);
        let read = [("xx", on), ("yy", on), ("zz", on), ("xy", off), ("xz", off), ("yz", off)]
            .map(|(name, want)| reader.quantity(&table, name, want));
        let [Some(xx), Some(yy), Some(zz), Some(xy), Some(xz), Some(yz)] = read.map(|v| v.map(|v| v.value))
        else {
            return None;
        };
        let matrix = Matrix3::new(xx, xy, xz, xy, yy, yz, xz, yz, zz);
        let span = reader.span(value.span());
        judge::inertia(reader, &matrix, span).then_some(matrix)
    });
    Some(Payload { mass_kg: mass?.value, centre_p_m: centre?.value, inertia_kg_m2: inertia? })
}
