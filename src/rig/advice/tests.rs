//! Mistakes that a builder makes, planted in the demo rigs: each must be seen, and the demos themselves must be quiet.

use super::*;
use crate::diag::SourceId;
use crate::rig::load;
use crate::rig::survey::{largest_box, map_axes, reach_map};

const TWO: &str = include_str!("../../../profiles/rigs/club-two-axis.toml");
const THREE: &str = include_str!("../../../profiles/rigs/club-three-axis.toml");
const SIX: &str = include_str!("../../../profiles/rigs/club-six-leg.toml");

fn advice(text: &str) -> Advice {
    let loaded = load(SourceId(0), text);
    let rig = loaded.rig.unwrap_or_else(|| panic!("{:?}", loaded.diagnostics));
    let map = map_axes(&rig).and_then(|axes| reach_map(&rig, axes, &[]));
    let biggest = map.as_ref().and_then(largest_box);
    advise(&rig, map.as_ref(), biggest)
}

/// One replacement, which must have happened.
fn changed(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "no `{from}`");
    text.replacen(from, to, 1)
}

/// The text of one leg's table with two keys' values exchanged.
fn ends_swapped(text: &str, leg: &str) -> String {
    let start = text.find(&format!("name         = \"{leg}\"")).unwrap();
    let (before, after) = text.split_at(start);
    let after = after.replacen("base  ", "kept  ", 1).replacen("platform  ", "base  ", 1);
    format!("{before}{}", after.replacen("kept  ", "platform  ", 1))
}

#[test]
fn the_demos_have_nothing_to_look_at_again() {
    for text in [TWO, THREE, SIX] {
        assert_eq!(advice(text).look_again, [""; 0]);
    }
}

#[test]
fn a_template_that_is_not_filled_in_is_seen() {
    let loaded = load(SourceId(0), crate::rig::TEMPLATE);
    assert_eq!(loaded.diagnostics, []);
    let found = advice(crate::rig::TEMPLATE).look_again;
    assert!(found.len() == 1 && found[0].contains("still the one in the template"), "{found:#?}");
}

#[test]
fn ends_of_a_leg_swapped_are_seen() {
    for (text, leg) in [(TWO, "left"), (THREE, "front"), (SIX, "rear_left")] {
        let found = load(SourceId(0), &ends_swapped(text, leg)).diagnostics;
        let words = format!("`{leg}` hangs, while others stand");
        let is_it = |found: &crate::diag::Diagnostic| {
            found.title.starts_with(&words) && found.help.iter().any(|help| help.contains("swapped"))
        };
        assert!(found.iter().any(is_it), "{found:#?}");
    }
    let both = ends_swapped(&ends_swapped(TWO, "left"), "right");
    let found = advice(&both).look_again;
    assert!(found.iter().any(|line| line.starts_with("all legs hang")), "{found:#?}");
}

/// Both ends of two legs exchanged: the geometry is the same, and the wrong drive moves.
#[test]
fn legs_with_each_others_points_are_seen() {
    for (text, one, other) in
        [(TWO, "left", "right"), (THREE, "rear_left", "rear_right"), (SIX, "front_left", "front_right")]
    {
        let text = text
            .replace(&format!("= \"{one}\""), "= \"kept\"")
            .replace(&format!("= \"{other}\""), &format!("= \"{one}\""))
            .replace("= \"kept\"", &format!("= \"{other}\""));
        let found = advice(&text).look_again;
        let seen = |leg: &str, side: &str| {
            found.iter().any(|line| line.starts_with(&format!("`{leg}`")) && line.contains(side))
        };
        assert!(
            seen(one, "to the RIGHT of the middle") && seen(other, "to the LEFT of the middle"),
            "{found:#?}"
        );
    }
}

/// Upper ends of two legs exchanged: on these rigs the legs cannot be so long, and the message says what was done.
#[test]
fn exchanged_upper_ends_are_refused_with_the_reason() {
    for (text, one, other) in [
        (TWO, "[\"-0.70 m\", \"-0.40 m\", \"0.02 m\"]", "[\"-0.70 m\", \"0.40 m\", \"0.02 m\"]"),
        (THREE, "[\"-0.44 m\", \"-0.40 m\", \"0.04 m\"]", "[\"-0.44 m\", \"0.40 m\", \"0.04 m\"]"),
        (SIX, "[\"0.51 m\", \"0.11 m\", \"0.06 m\"]", "[\"-0.35 m\", \"-0.39 m\", \"0.06 m\"]"),
    ] {
        let text = changed(text, one, "KEPT");
        let text = changed(&text, other, one).replacen("KEPT", other, 1);
        let loaded = load(SourceId(0), &text);
        assert!(loaded.rig.is_none());
        let found = loaded.diagnostics.iter().find(|found| found.rule == "rig-level-pose").unwrap();
        assert!(found.help.iter().any(|help| help.contains("exchanged both would fit")), "{found:?}");
    }
}

/// Legs long enough to take it: they cross, and that is asked about.
#[test]
fn crossed_legs_are_asked_about() {
    let long = TWO.replace("max = \"730 mm\"", "max = \"1100 mm\"");
    let text = changed(&long, "[\"-0.70 m\", \"-0.40 m\", \"0.02 m\"]", "KEPT");
    let text =
        changed(&text, "[\"-0.70 m\", \"0.40 m\", \"0.02 m\"]", "[\"-0.70 m\", \"-0.40 m\", \"0.02 m\"]");
    let text = text.replacen("KEPT", "[\"-0.70 m\", \"0.40 m\", \"0.02 m\"]", 1);
    // Both stand 0.8 m over: parked they must be longer too.
    let text = text.replace("park         = \"540 mm\"", "park         = \"960 mm\"");
    let found = advice(&text).look_again;
    assert!(found.iter().any(|line| line.starts_with("`left` and `right` cross")), "{found:#?}");
}

#[test]
fn a_number_mistyped_at_one_end_is_seen() {
    let text =
        changed(TWO, "platform     = [\"-0.70 m\", \"0.40 m\"", "platform     = [\"-0.70 m\", \"0.34 m\"");
    let found = advice(&text).look_again;
    assert!(
        found[0].contains("mirror each other at `base` but are off by 60 mm at `platform`"),
        "{found:#?}"
    );
}

#[test]
fn a_lead_ten_times_too_large_is_seen() {
    for (text, from, to, rpm, fits) in [
        (TWO, "\"5 mm\" ", "\"50 mm\" ", "300 rpm", "5 mm would"),
        (THREE, "= \"5 mm\"", "= \"50 mm\"", "300 rpm", "5 mm would"),
        (SIX, "= \"10 mm\"", "= \"100 mm\"", "240 rpm", "10 mm would"),
    ] {
        let one = advice(&changed(text, from, to)).look_again;
        assert!(one.iter().any(|line| line.contains(rpm) && line.contains(fits)), "{one:#?}");
        assert!(one.iter().any(|line| line.contains("look whether their screws really differ")), "{one:#?}");
        let all = advice(&text.replace(from.trim_end(), to.trim_end())).look_again;
        assert!(
            all.iter().any(|line| line.contains(rpm) && line.contains("measure how far the nut goes")),
            "{all:#?}"
        );
    }
    let fine = advice(&changed(TWO, "\"5 mm\" ", "\"0.5 mm\" ")).look_again;
    assert!(fine[0].contains("30000 rpm") && fine[0].contains("fine for a ball screw"), "{fine:#?}");
}

#[test]
fn a_centre_on_the_wrong_side_is_seen() {
    for (text, z) in
        [(TWO, "\"-0.10 m\"]      #"), (THREE, "\"-0.12 m\"]      #"), (SIX, "\"-0.16 m\"]      #")]
    {
        let found = advice(&changed(text, z, &z.replace('-', ""))).look_again;
        assert!(found.iter().any(|line| line.contains("BELOW the pivot")), "{found:#?}");
    }
    let right = advice(&changed(TWO, "[\"0.03 m\", \"0 m\"", "[\"0.03 m\", \"0.08 m\"")).look_again;
    assert!(right.iter().any(|line| line.contains("80 mm to the RIGHT")), "{right:#?}");
    // Outside of the front leg of the lift: it would tip.
    let tips =
        advice(&changed(THREE, "[\"0.02 m\", \"0 m\", \"-0.12 m\"]", "[\"-0.52 m\", \"0 m\", \"-0.12 m\"]"));
    assert!(tips.look_again.iter().any(|line| line.starts_with("level, `front` is PULLED")), "{tips:#?}");
}

/// A sign that no file can tell is said in a way that the rig can: which end drops.
#[test]
fn which_end_drops_is_said() {
    let drops = |text: &str| {
        let found = advice(text).balance;
        found.iter().find(|line| line.contains("wants to drop")).cloned().unwrap()
    };
    assert!(drops(TWO).contains("the nose is the end that wants to drop"));
    let wrong = changed(TWO, "[\"0.03 m\", \"0 m\"", "[\"-0.03 m\", \"0 m\"");
    assert!(drops(&wrong).contains("the tail is the end that wants to drop"));
    assert!(drops(&wrong).contains("the sign of x in the payload's `centre` is wrong"));
}

#[test]
fn what_limits_an_axis_is_said_with_its_reason() {
    let two = advice(TWO).limits;
    assert!(two[0].starts_with("pitch is limited by the joint, not by the stroke: +-10 deg"), "{two:#?}");
    let short = TWO.replace("min = \"430 mm\", max = \"730 mm\"", "min = \"500 mm\", max = \"660 mm\"");
    let short = advice(&short).limits;
    assert!(short[0].starts_with("pitch is limited by the stroke of `left`, not by the joint"), "{short:#?}");
    // At 10 deg the legs' ends move 0.7 m x sin 10 deg = 121.6 mm, and 70 mm of 80 mm are free: 52 mm and some are missing.
    assert!(short[0].contains("5") && short[0].contains("mm more stroke"), "{short:#?}");
    let weak = advice(&TWO.replace("\"1500 N\"", "\"60 N\"")).limits;
    assert!(weak.iter().any(|line| line.contains("limited by the thrust of")), "{weak:#?}");
}
