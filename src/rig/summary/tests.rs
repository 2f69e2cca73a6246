//! The summary of the demo rig, and facts of the trade.

use super::*;
use crate::diag::SourceId;
use crate::rig::sample::{actuator, lift, six_legs};

fn demo() -> Rig {
    let text = include_str!("../../../profiles/rigs/club-two-axis.toml");
    crate::rig::load(SourceId(0), text).rig.expect("the demo rig loads")
}

#[test]
fn the_demo_in_a_few_lines() {
    insta::assert_snapshot!(text(&summarise(&demo())));
}

/// Common practice: 3000 rpm on a lead of 5 mm is 250 mm/s; 49 m/s^2 on it asks 61.6 krad/s^2 of the motor.
#[test]
fn motor_facts_of_the_trade() {
    let mut leg = actuator("one", [0.0, 0.0, 0.6], [0.0; 3]);
    assert!((leg.motor_hz() * 60.0 - 3000.0).abs() < 1e-9);
    leg.acceleration_m_s2 = 49.0;
    assert!((leg.motor_rad_s2() - 61.6e3).abs() < 50.0, "{}", leg.motor_rad_s2());
}

#[test]
fn the_demo_has_room_for_a_lively_profile() {
    let rig = demo();
    let summary = summarise(&rig);
    let deg = std::f64::consts::PI / 180.0;
    assert!(summary.axes[0].alone.value >= 9.9 * deg && summary.axes[1].alone.value >= 11.9 * deg);
    assert!(summary.axes.iter().all(|axis| axis.rate > 15.0 * deg));
    // 8 deg of bank leaves 6 deg of pitch either way.
    for (pitch, roll) in [(6.0, 8.0), (-6.0, 8.0), (6.0, -8.0), (-6.0, -8.0)] {
        for (leg, length) in rig.actuators.iter().zip(lengths_m(&rig, &[pitch * deg, roll * deg])) {
            assert!(
                length > leg.min_m + leg.soft_stop_m && length < leg.max_m - leg.soft_stop_m,
                "{pitch} {roll}"
            );
        }
    }
    // 250 mm/s, 15 ms of delay, 4 m/s^2, 200 m/s^3: 3.75 + 7.8 + 2.5 mm on a leg that stays upright.
    for axis in &summary.axes {
        let stop = axis.stop.as_ref().unwrap();
        assert!((stop.leg_m - 0.0141).abs() < 0.001 && (stop.time_s - 0.0975).abs() < 0.005, "{axis:?}");
    }
}

#[test]
fn reach_ends_at_a_leg_where_the_joint_allows_more() {
    let mut rig = lift();
    let reach = reach::alone(&rig, 0);
    // 0.6 m at level, 0.9 m less a soft stop of 10 mm: 0.29 m either way.
    assert!((reach.value - 0.29).abs() < 1e-9 && reach.limited_by == "lift", "{reach:?}");
    rig.axes[0].min = -0.1;
    assert_eq!(reach::alone(&rig, 0), Reach { value: 0.1, limited_by: "joint".to_string() });
    let axis = &summarise(&rig).axes[0];
    assert_eq!((axis.min, axis.max), (-0.4, 0.1), "up is positive for people");
}

#[test]
fn six_legs_are_summed_up_too() {
    let summary = summarise(&six_legs());
    assert_eq!((summary.axes.len(), summary.legs.len()), (6, 6));
    assert!(text(&summary).contains("arm heave"));
    assert!(serde_json::to_string(&summary).unwrap().contains("\"thrust_n\":null"));
}
