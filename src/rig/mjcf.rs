//! A rig as an MJCF model, so that anyone can check this program's mechanics with MuJoCo.
//!
//! The platform is one body with one joint an axis; each leg is a spatial tendon between a site of the frame and a site
//! of the platform, so that `ten_length` is the inverse kinematics and `ten_J` the Jacobian, and each has a motor whose
//! control is the leg's force in newtons, + pushing the ends apart. A crank leg is a body on a hinge at the frame, whose
//! joint position is the crank's angle, and its rod a tendon from the pin to the platform that is held to its length at
//! level; its motor turns the hinge, its control is the torque at the crank. MuJoCo counts z up: its frame is the rig's after
//! half a turn about x, so that x stays forward, y is left and z up, and all points are written in it.
//! Source: MuJoCo's documentation of MJCF (from memory); tests/mjcf_peers.rs loads what is written here.
//!
//! Cannot: compute anything. There is no formula of the kinematics in here.

use super::parts::CrankPart;
use super::{Actuator, Payload, Rig};
use crate::units::STANDARD_GRAVITY_M_S2;
use nalgebra::Vector3;
use std::fmt::Write;

/// The model as XML. Joints are called `pitch`, `roll`, …, tendons and motors after their legs. Each joint turns by the
/// right hand about the rig's own axis, so that joint positions are this program's platform coordinates: rad, m, heave
/// counted down. `load` is the name of the load that the rig carries.
pub fn mjcf(rig: &Rig, load: &str) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = write(&mut out, rig, load);
    out
}

fn write(out: &mut String, rig: &Rig, load: &str) -> std::fmt::Result {
    writeln!(out, "<!-- {} -->", comment(&rig.name))?;
    writeln!(out, "<!-- rig file SHA-256 {} -->", comment(&rig.hash))?;
    writeln!(out, "<!-- load: {} -->", comment(load))?;
    writeln!(
        out,
        "<!-- x forward, y left, z up: half a turn about x from the rig file. Joints are signed as in this program: \
         pitch nose up, roll right wing down, yaw nose right, surge forward, sway right, heave DOWN. -->"
    )?;
    writeln!(out, "<mujoco model=\"{}\">", escaped(&rig.name))?;
    writeln!(
        out,
        "  <compiler angle=\"radian\" autolimits=\"false\" balanceinertia=\"false\" inertiafromgeom=\"false\"/>"
    )?;
    writeln!(out, "  <option gravity=\"0 0 {}\"/>", -STANDARD_GRAVITY_M_S2)?;
    writeln!(out, "  <worldbody>")?;
    writeln!(out, "    <light pos=\"1 -1 3\" dir=\"-0.3 0.3 -1\"/>")?;
    if let Some(height_m) = rig.pivot_height_m {
        writeln!(
            out,
            "    <geom name=\"floor\" type=\"plane\" size=\"2 2 0.1\" pos=\"0 0 {}\" rgba=\"0.9 0.9 0.9 1\" \
             contype=\"0\" conaffinity=\"0\"/>",
            -height_m
        )?;
    }
    for (k, leg) in rig.actuators.iter().enumerate() {
        if let Some(part) = &leg.crank {
            crank(out, k, leg, part)?;
            continue;
        }
        writeln!(out, "    <site name=\"base {k}\" pos=\"{}\" size=\"0.02\"/>", point(leg.base_r_m))?;
    }
    writeln!(out, "    <body name=\"platform\">")?;
    // Slides first: translations run along the frame's axes whatever their place in the order.
    let order = rig.axes.iter().filter(|limits| !limits.axis.is_rotation());
    for limits in order.chain(rig.axes.iter().filter(|limits| limits.axis.is_rotation())) {
        let kind = if limits.axis.is_rotation() { "hinge" } else { "slide" };
        writeln!(
            out,
            "      <joint name=\"{}\" type=\"{kind}\" axis=\"{}\" limited=\"false\" range=\"{} {}\"/>",
            limits.axis.word(),
            point(limits.axis.unit()),
            limits.min,
            limits.max
        )?;
    }
    inertial(out, &rig.payload)?;
    writeln!(
        out,
        "      <geom name=\"payload\" type=\"sphere\" size=\"0.06\" pos=\"{}\" rgba=\"0.85 0.35 0 0.6\" contype=\"0\" \
         conaffinity=\"0\"/>",
        point(rig.payload.centre_p_m)
    )?;
    writeln!(out, "      <site name=\"seat\" pos=\"{}\" size=\"0.03\"/>", point(rig.seat_p_m))?;
    for (k, leg) in rig.actuators.iter().enumerate() {
        writeln!(out, "      <site name=\"platform {k}\" pos=\"{}\" size=\"0.02\"/>", point(leg.anchor_p_m))?;
        if leg.anchor_p_m.norm() > 1e-6 {
            writeln!(
                out,
                "      <geom type=\"capsule\" size=\"0.012\" fromto=\"0 0 0 {}\" rgba=\"0.3 0.3 0.3 1\" contype=\"0\" \
                 conaffinity=\"0\"/>",
                point(leg.anchor_p_m)
            )?;
        }
    }
    writeln!(out, "    </body>\n  </worldbody>\n  <tendon>")?;
    for (k, leg) in rig.actuators.iter().enumerate() {
        if leg.crank.is_some() {
            writeln!(
                out,
                "    <spatial name=\"rod {}\" limited=\"false\" width=\"0.02\"><site site=\"pin {k}\"/><site \
                 site=\"platform {k}\"/></spatial>",
                escaped(&leg.name)
            )?;
            continue;
        }
        writeln!(
            out,
            "    <spatial name=\"{}\" limited=\"false\" range=\"{} {}\" width=\"0.02\"><site site=\"base {k}\"/><site \
             site=\"platform {k}\"/></spatial>",
            escaped(&leg.name),
            leg.min_m,
            leg.max_m
        )?;
    }
    writeln!(out, "  </tendon>")?;
    if rig.has_cranks() {
        // A tendon on one side only is held to its length in the model as it stands here, which is level.
        writeln!(out, "  <equality>")?;
        for leg in rig.actuators.iter().filter(|leg| leg.crank.is_some()) {
            let name = escaped(&leg.name);
            writeln!(
                out,
                "    <tendon name=\"rod {name}\" tendon1=\"rod {name}\" solref=\"0.004 1\" solimp=\"0.9999 0.9999 0.001\"/>"
            )?;
        }
        writeln!(out, "  </equality>")?;
    }
    writeln!(out, "  <actuator>")?;
    for leg in &rig.actuators {
        let arm_m = leg.crank.map_or(1.0, |part| part.crank.arm_m);
        let range = if leg.thrust_n.is_finite() {
            let most = leg.thrust_n * arm_m;
            format!(" ctrllimited=\"true\" ctrlrange=\"{} {most}\"", -most)
        } else {
            String::new()
        };
        let name = escaped(&leg.name);
        let target = if leg.crank.is_some() { "joint=\"crank " } else { "tendon=\"" };
        writeln!(out, "    <motor name=\"{name}\" {target}{name}\"{range}/>")?;
    }
    writeln!(out, "  </actuator>\n</mujoco>")
}

/// A crank as it stands level. MuJoCo wants a body that turns to have some inertia: this one has hardly any, and its mass
/// at the shaft, for a rig file's loads do not hold the cranks.
fn crank(out: &mut String, k: usize, leg: &Actuator, part: &CrankPart) -> std::fmt::Result {
    let crank = &part.crank;
    let level_rad = part.coordinate_m(&leg.anchor_p_m) / crank.arm_m;
    writeln!(out, "    <body name=\"crank {k}\" pos=\"{}\">", point(crank.centre_r_m))?;
    writeln!(
        out,
        "      <joint name=\"crank {}\" type=\"hinge\" axis=\"{}\" ref=\"{level_rad}\" limited=\"false\" range=\"{} {}\"/>",
        escaped(&leg.name),
        point(crank.axis_r),
        leg.min_m / crank.arm_m,
        leg.max_m / crank.arm_m
    )?;
    let pin = point(crank.pin_r_m(level_rad) - crank.centre_r_m);
    writeln!(out, "      <inertial pos=\"0 0 0\" mass=\"0.001\" diaginertia=\"0.0001 0.0001 0.0001\"/>")?;
    writeln!(
        out,
        "      <geom type=\"capsule\" size=\"0.015\" fromto=\"0 0 0 {pin}\" rgba=\"0.2 0.2 0.2 1\" contype=\"0\" \
         conaffinity=\"0\"/>"
    )?;
    writeln!(out, "      <site name=\"pin {k}\" pos=\"{pin}\" size=\"0.02\"/>")?;
    writeln!(out, "    </body>")
}

/// Mass, centre and the full matrix of inertia about it. Half a turn about x turns the signs of xy and xz.
fn inertial(out: &mut String, payload: &Payload) -> std::fmt::Result {
    let of = |i: usize, j: usize| {
        let sign = if (i == 0) == (j == 0) { 1.0 } else { -1.0 };
        payload.inertia_kg_m2[(i, j)] * sign + 0.0
    };
    writeln!(
        out,
        "      <inertial pos=\"{}\" mass=\"{}\" fullinertia=\"{} {} {} {} {} {}\"/>",
        point(payload.centre_p_m),
        payload.mass_kg,
        of(0, 0),
        of(1, 1),
        of(2, 2),
        of(0, 1),
        of(0, 2),
        of(1, 2)
    )
}

/// A point or a direction after half a turn about x. Rust prints as many digits as it takes to read the same number
/// back.
fn point(of: Vector3<f64>) -> String {
    // Adding zero leaves no negative zero.
    format!("{} {} {}", of.x + 0.0, -of.y + 0.0, -of.z + 0.0)
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// What may stand in an XML comment: no two hyphens together.
fn comment(text: &str) -> String {
    escaped(text).replace('-', "- ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::sample::{mixed_legs, six_legs, two_legs};

    /// A crank is a hinge with the angle of level, its rod a tendon of a name of its own, its motor on the hinge.
    #[test]
    fn a_model_of_a_screw_and_a_crank() {
        let mut rig = mixed_legs();
        rig.actuators[0].thrust_n = 500.0;
        let model = mjcf(&rig, "payload");
        for part in [
            "<site name=\"base 1\"",
            "<joint name=\"crank left\" type=\"hinge\" axis=\"0 -1 0\" ref=\"",
            "range=\"-0.8999999999999999 0.8999999999999999\"",
            "<spatial name=\"rod left\"",
            "<tendon name=\"rod left\" tendon1=\"rod left\"",
            "<motor name=\"right\" tendon=\"right\"/>",
            "<motor name=\"left\" joint=\"crank left\" ctrllimited=\"true\" ctrlrange=\"-50 50\"/>",
        ] {
            assert!(model.contains(part), "{part}\n{model}");
        }
        assert!(!model.contains("<site name=\"base 0\""), "{model}");
    }

    #[test]
    fn a_model_of_two_legs() {
        let mut rig = two_legs();
        rig.name = "a <b> \"c\" & d--e".to_string();
        rig.actuators[0].thrust_n = 1500.0;
        rig.payload.inertia_kg_m2[(0, 2)] = 0.6;
        rig.payload.inertia_kg_m2[(1, 2)] = 0.1;
        let model = mjcf(&rig, "payload");
        assert!(model.starts_with("<!-- a &lt;b&gt; &quot;c&quot; &amp; d- - e -->\n"), "{model}");
        assert!(model.contains("<site name=\"base 0\" pos=\"-0.45 0.3 -0.6\""), "{model}");
        assert!(model.contains("<joint name=\"pitch\" type=\"hinge\" axis=\"0 -1 0\""), "{model}");
        assert!(model.contains("fullinertia=\"9 14 15 0 -0.6 0.1\""), "{model}");
        assert!(model.contains(
            "<motor name=\"left\" tendon=\"left\" ctrllimited=\"true\" ctrlrange=\"-1500 1500\"/>"
        ));
        assert!(model.contains("<motor name=\"right\" tendon=\"right\"/>"));
    }

    #[test]
    fn slides_come_before_hinges() {
        let model = mjcf(&six_legs(), "payload");
        let at = |word: &str| model.find(&format!("<joint name=\"{word}\"")).unwrap();
        assert!(at("surge") < at("heave") && at("heave") < at("sway") && at("sway") < at("yaw"));
        assert!(at("yaw") < at("pitch") && at("pitch") < at("roll"));
    }
}
