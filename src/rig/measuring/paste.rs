//! Lines for a rig file, with the uncertainty behind a `#`.
//!
//! As many decimals as the expanded uncertainty has in its second digit. Source: GUM, JCGM 100:2008, 7.2.6 (from memory).

use super::Estimate;

/// Most decimals of a pasted number.
const MOST_DECIMALS: usize = 6;

/// Decimals so that the last one is the second digit of `expanded`.
fn decimals(expanded: f64) -> usize {
    (0..MOST_DECIMALS)
        .find(|places| expanded * libm::pow(10.0, *places as f64) >= 9.95)
        .unwrap_or(MOST_DECIMALS)
}

/// An estimate in a unit: the quantity as a rig file writes it, and its uncertainty.
struct Written {
    quantity: String,
    uncertainty: String,
}

fn written(estimate: Estimate, unit: &str, scale: f64) -> Written {
    let (value, expanded) = (estimate.value / scale, estimate.expanded() / scale);
    let places = decimals(expanded);
    // A rounded zero has no sign.
    let value = format!("{value:.places$}");
    let value = if value.trim_start_matches(['-', '0', '.']).is_empty() {
        value.trim_start_matches('-')
    } else {
        &value
    };
    Written { quantity: format!("\"{value} {unit}\""), uncertainty: format!("+- {expanded:.places$} {unit}") }
}

/// `mass = "130.2 kg"`, for the table `[payload]`.
pub fn paste_mass(mass_kg: Estimate) -> String {
    let mass = written(mass_kg, "kg", 1.0);
    format!("mass    = {}      # measured, {} (k = 2)", mass.quantity, mass.uncertainty)
}

/// `centre = ["31 mm", "2 mm", "-104 mm"]`, for the table `[payload]`; m, platform frame.
pub fn paste_centre(centre_p_m: [Estimate; 3]) -> String {
    let parts = centre_p_m.map(|part| written(part, "mm", 1e-3));
    let list = |of: fn(&Written) -> &str| parts.iter().map(of).collect::<Vec<_>>().join(", ");
    format!(
        "centre  = [{}]      # measured, {} (k = 2)",
        list(|part| &part.quantity),
        list(|part| &part.uncertainty)
    )
}

/// `length = { min = "431 mm", max = "731 mm" }`, for an `[[actuator]]`; m.
pub fn paste_length(min_m: Estimate, max_m: Estimate) -> String {
    let (min, max) = (written(min_m, "mm", 1e-3), written(max_m, "mm", 1e-3));
    format!(
        "length       = {{ min = {}, max = {} }}      # measured, {} and {} (k = 2)",
        min.quantity, max.quantity, min.uncertainty, max.uncertainty
    )
}

/// `key = "14700 N*m/rad"` or `key = "980000 N/m"`: a stiffness in its SI unit, as a rig file writes it.
pub fn paste_stiffness(key: &str, stiffness: Estimate, unit: &str) -> String {
    let stiffness = written(stiffness, unit, 1.0);
    format!("{key} = {}      # measured, {} (k = 2)", stiffness.quantity, stiffness.uncertainty)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diag::SourceId;
    use crate::rig::load;
    use crate::units::quantity;

    const DEMO: &str = include_str!("../../../profiles/rigs/club-two-axis.toml");

    /// The demo with the first line that starts with `key` and is followed by a space replaced.
    fn with_line(text: &str, line: &str) -> String {
        let key = line.split(' ').next().unwrap();
        let mut done = false;
        let lines = text.lines().map(|old| {
            let hit = !done && old.starts_with(key) && old[key.len()..].starts_with([' ', '=']);
            done |= hit;
            if hit { line } else { old }
        });
        let text = lines.collect::<Vec<_>>().join("\n");
        assert!(done, "no line `{key}`");
        text
    }

    #[test]
    fn pasted_lines_load() {
        let mass = paste_mass(Estimate::new(130.24, 0.31));
        assert_eq!(mass, "mass    = \"130.24 kg\"      # measured, +- 0.62 kg (k = 2)");
        let centre = paste_centre([
            Estimate::new(0.0312, 0.002),
            Estimate::new(-0.00001, 0.006),
            Estimate::new(-0.1044, 0.0051),
        ]);
        assert_eq!(
            centre,
            "centre  = [\"31.2 mm\", \"0 mm\", \"-104 mm\"]      # measured, +- 4.0 mm, +- 12 mm, +- 10 mm (k = 2)"
        );
        let length = paste_length(Estimate::new(0.4312, 0.0005), Estimate::new(0.7308, 0.0005));
        let text = with_line(&with_line(&with_line(DEMO, &mass), &centre), &length);
        let loaded = load(SourceId(0), &text);
        assert_eq!(loaded.diagnostics, []);
        let rig = loaded.rig.unwrap();
        assert!((rig.payload.mass_kg - 130.24).abs() < 1e-12);
        assert!((rig.payload.centre_p_m - nalgebra::Vector3::new(0.0312, 0.0, -0.104)).norm() < 1e-12);
        assert!(
            (rig.actuators[0].min_m - 0.4312).abs() < 1e-12
                && (rig.actuators[0].max_m - 0.7308).abs() < 1e-12
        );
    }

    #[test]
    fn a_stiffness_is_a_quantity() {
        let line = paste_stiffness("torsion", Estimate::new(14709.9, 120.0), "N*m/rad");
        assert_eq!(line, "torsion = \"14710 N*m/rad\"      # measured, +- 240 N*m/rad (k = 2)");
        assert!((quantity("14710 N*m/rad").unwrap().value_si - 14710.0).abs() < 1e-9);
    }

    #[test]
    fn decimals_follow_the_uncertainty() {
        for (expanded, places) in
            [(240.0, 0), (12.0, 0), (4.0, 1), (0.62, 2), (0.0, 6), (0.0997, 2), (0.05, 3)]
        {
            assert_eq!(decimals(expanded), places, "{expanded}");
        }
    }
}
