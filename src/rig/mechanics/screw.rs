//! A ball screw between motor and platform: torque, friction and what turns with it.

use super::data_error::{DataError, efficiency, not_negative, positive};
use super::range::Range;
use std::f64::consts::PI;

/// A ball screw as its data sheet gives it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BallScrew {
    /// Travel for a turn, m.
    pub lead_m: f64,
    /// Work out by work in when the motor drives the load, 0..1.
    pub efficiency_forward: f64,
    /// Work out by work in when the load drives the motor, 0..1; 0 when the screw locks itself.
    pub efficiency_back: f64,
    /// Torque of preload and seals that opposes any turning, N m.
    pub drag_nm: f64,
    /// Moment of inertia of screw and coupling about the screw's axis, kg m^2.
    pub inertia_kg_m2: f64,
}

/// A screw with its divisions done once: what is asked many times a second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gear {
    /// Turning for a travel, rad/m.
    turn_rad_m: f64,
    /// Torque for a force that the motor drives, N m/N.
    driving_m: f64,
    /// Torque for a force that drives the motor, N m/N.
    back_m: f64,
    /// N m.
    drag_nm: f64,
}

/// What a leg does at one instant. Positive makes the leg longer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegState {
    /// With which the leg pushes its ends apart, N; the platform's need, without the leg's own moving mass.
    pub force_n: f64,
    /// m/s.
    pub speed_m_s: f64,
    /// m/s^2.
    pub acceleration_m_s2: f64,
}

/// What the leg's own moving parts add.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MovingParts {
    /// Rotor, screw and coupling about the screw's axis, kg m^2.
    pub turning_kg_m2: f64,
    /// Mass that the nut carries besides the platform, kg.
    pub sliding_kg: f64,
    /// Gravity along the leg, m/s^2, + towards longer: about -9.81 for an upright leg that pushes up.
    pub gravity_m_s2: f64,
}

/// What the motor must give. Positive turns towards a longer leg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShaftDemand {
    /// Torque, N m: one value while it moves; all that friction leaves open at standstill.
    pub torque_nm: Range,
    /// Turning rate, rad/s.
    pub rate_rad_s: f64,
}

impl ShaftDemand {
    /// Torque of the worse branch, N m.
    pub fn worst_nm(&self) -> f64 {
        self.torque_nm.worst()
    }

    /// Power at the shaft with the worst torque, W; negative when the load drives the motor.
    pub fn power_w(&self) -> f64 {
        self.worst_nm() * self.rate_rad_s
    }
}

/// The back-driving efficiency that belongs to a forward one when the friction torque is the same both ways:
/// 2 - 1/eta. `None` when the screw locks itself. Source: power screws, equal loss torque (from memory).
pub fn back_from_forward(efficiency_forward: f64) -> Option<f64> {
    let back = 2.0 - 1.0 / efficiency_forward;
    (back > 0.0).then_some(back)
}

impl BallScrew {
    /// # Errors
    /// When a number is impossible.
    pub fn check(&self) -> Result<(), DataError> {
        positive("the lead", self.lead_m, "m")?;
        efficiency("the screw's forward efficiency", self.efficiency_forward)?;
        if self.efficiency_back != 0.0 {
            efficiency("the screw's efficiency when driven back", self.efficiency_back)?;
        }
        not_negative("the screw's drag torque", self.drag_nm, "N m")?;
        not_negative("the screw's moment of inertia", self.inertia_kg_m2, "kg m^2")
    }

    /// Turning for a travel of 1 m, rad/m: 2 pi / l.
    pub fn turn_rad_m(&self) -> f64 {
        2.0 * PI / self.lead_m
    }

    /// Torque of a force through a screw without friction, N m: F l / (2 pi).
    pub fn ideal_nm(&self, force_n: f64) -> f64 {
        force_n / self.turn_rad_m()
    }

    /// Ready for many questions.
    pub fn gear(&self) -> Gear {
        let turn_rad_m = self.turn_rad_m();
        Gear {
            turn_rad_m,
            driving_m: 1.0 / (turn_rad_m * self.efficiency_forward),
            back_m: self.efficiency_back / turn_rad_m,
            drag_nm: self.drag_nm,
        }
    }

    /// Torque that drives a load, N m: F l / (2 pi eta). Source: machine design handbooks, ISO 3408 terms.
    pub fn driving_nm(&self, force_n: f64) -> f64 {
        force_n * self.gear().driving_m
    }

    /// Torque with which a load drives the screw, N m: F l eta' / (2 pi). Source: the same.
    pub fn back_driving_nm(&self, force_n: f64) -> f64 {
        force_n * self.gear().back_m
    }

    /// Torque at the screw for a force at the nut, without inertia, N m.
    ///
    /// The efficiency flips with the sign of force times speed; drag opposes the turning. At a speed of no more than
    /// `still_m_s` either way friction may hold or hinder, so the answer is all of both branches.
    pub fn torque_nm(&self, force_n: f64, speed_m_s: f64, still_m_s: f64) -> Range {
        self.gear().torque_nm(force_n, speed_m_s, still_m_s)
    }

    /// Heat in screw and nut at a force and speed, W; never negative.
    pub fn loss_w(&self, force_n: f64, speed_m_s: f64) -> f64 {
        let torque = self.torque_nm(force_n, speed_m_s, 0.0).worst();
        if speed_m_s == 0.0 { 0.0 } else { torque * speed_m_s * self.turn_rad_m() - force_n * speed_m_s }
    }

    /// What the motor must give for a leg's state.
    ///
    /// T = J alpha + T_screw(F + m (a - g)), alpha = 2 pi a / l. Source: servo sizing, common practice.
    /// `still_m_s` as in [`Self::torque_nm`].
    pub fn demand(&self, parts: &MovingParts, state: &LegState, still_m_s: f64) -> ShaftDemand {
        self.gear().demand(parts, state, still_m_s)
    }

    /// Mass at the nut that feels like a moment of inertia at the screw, kg: J (2 pi / l)^2.
    pub fn reflected_kg(&self, turning_kg_m2: f64) -> f64 {
        turning_kg_m2 * self.turn_rad_m() * self.turn_rad_m()
    }

    /// Moment of inertia at the screw that feels like a mass at the nut, kg m^2: m (l / 2 pi)^2, without friction.
    pub fn reflected_kg_m2(&self, sliding_kg: f64) -> f64 {
        sliding_kg / (self.turn_rad_m() * self.turn_rad_m())
    }

    /// Whether a force at the nut turns the screw when neither motor nor brake holds it, with `holding_nm` (cogging,
    /// seals of the motor; 0 if unknown) besides the screw's own drag.
    pub fn is_driven_back(&self, force_n: f64, holding_nm: f64) -> bool {
        self.back_driving_nm(force_n).abs() > self.drag_nm + holding_nm
    }
}

impl Gear {
    /// As [`BallScrew::torque_nm`].
    #[inline]
    pub fn torque_nm(&self, force_n: f64, speed_m_s: f64, still_m_s: f64) -> Range {
        let moving = |direction: f64| {
            let drives = force_n * direction > 0.0;
            force_n * (if drives { self.driving_m } else { self.back_m }) + direction * self.drag_nm
        };
        if speed_m_s.abs() <= still_m_s {
            Range::between(moving(1.0), moving(-1.0))
        } else {
            Range::exact(moving(1.0_f64.copysign(speed_m_s)))
        }
    }

    /// As [`BallScrew::demand`].
    #[inline]
    pub fn demand(&self, parts: &MovingParts, state: &LegState, still_m_s: f64) -> ShaftDemand {
        let slide_n = parts.sliding_kg * (state.acceleration_m_s2 - parts.gravity_m_s2);
        let turning_nm = parts.turning_kg_m2 * state.acceleration_m_s2 * self.turn_rad_m;
        let screw_nm = self.torque_nm(state.force_n + slide_n, state.speed_m_s, still_m_s);
        ShaftDemand { torque_nm: screw_nm.shifted(turning_nm), rate_rad_s: state.speed_m_s * self.turn_rad_m }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn screw() -> BallScrew {
        BallScrew {
            lead_m: 0.005,
            efficiency_forward: 0.9,
            efficiency_back: 0.9,
            drag_nm: 0.0,
            inertia_kg_m2: 2e-5,
        }
    }

    /// 1000 N on a lead of 5 mm at 0.9 both ways: 0.88419 N m to drive, 0.71620 N m back.
    #[test]
    fn worked_torques_come_out() {
        let screw = screw();
        assert!((screw.driving_nm(1000.0) - 0.88419).abs() < 5e-6);
        assert!((screw.back_driving_nm(1000.0) - 0.71620).abs() < 5e-6);
        assert_eq!(screw.torque_nm(1000.0, 0.1, 0.0), Range::exact(screw.driving_nm(1000.0)));
        assert_eq!(screw.torque_nm(1000.0, -0.1, 0.0), Range::exact(screw.back_driving_nm(1000.0)));
        assert_eq!(screw.torque_nm(-1000.0, -0.1, 0.0), Range::exact(screw.driving_nm(-1000.0)));
        assert!(screw.is_driven_back(1000.0, 0.0));
        assert!(!screw.is_driven_back(1000.0, 0.72));
    }

    #[test]
    fn standstill_leaves_all_of_the_friction_open() {
        let screw = BallScrew { drag_nm: 0.05, ..screw() };
        let still = screw.torque_nm(1000.0, 0.0, 0.0);
        assert!((still.low - 0.66620).abs() < 1e-5 && (still.high - 0.93419).abs() < 1e-5, "{still:?}");
        assert_eq!(screw.torque_nm(1000.0, 0.0009, 0.001), still);
        let pulled = screw.torque_nm(-1000.0, 0.0, 0.0);
        assert_eq!(pulled, Range { low: -still.high, high: -still.low });
        assert_eq!(pulled.worst(), -still.high);
        assert_eq!(screw.torque_nm(0.0, 0.0, 0.0), Range { low: -0.05, high: 0.05 });
    }

    /// Servo sizing worked by hand: J 4e-5 + 2e-5, 20 kg at 2 m/s^2 up against gravity, 500 N, lead 5 mm, 0.9:
    /// alpha 2513.274 rad/s^2 -> 0.150796; (500 + 20 x 11.80665) N -> 736.133 N -> 0.650884; drag 0.03.
    #[test]
    fn the_sizing_formula_comes_out() {
        let screw = BallScrew { drag_nm: 0.03, ..screw() };
        let parts = MovingParts { turning_kg_m2: 6e-5, sliding_kg: 20.0, gravity_m_s2: -9.80665 };
        let state = LegState { force_n: 500.0, speed_m_s: 0.2, acceleration_m_s2: 2.0 };
        let demand = screw.demand(&parts, &state, 0.0);
        assert!((demand.worst_nm() - (0.150_796 + 0.650_884 + 0.03)).abs() < 2e-6, "{demand:?}");
        assert!((demand.rate_rad_s - 251.327).abs() < 1e-3);
        assert!((demand.power_w() - demand.worst_nm() * 251.327).abs() < 1e-3);
    }

    #[test]
    fn inertia_is_reflected_both_ways() {
        let screw = screw();
        assert!((screw.reflected_kg(6e-5) - 94.748).abs() < 1e-3, "{}", screw.reflected_kg(6e-5));
        assert!((screw.reflected_kg_m2(screw.reflected_kg(6e-5)) - 6e-5).abs() < 1e-18);
    }

    #[test]
    fn equal_friction_both_ways_links_the_efficiencies() {
        assert!((back_from_forward(0.9).unwrap() - 0.888_889).abs() < 1e-6);
        assert_eq!(back_from_forward(0.4), None);
    }

    #[test]
    fn impossible_screws_are_refused() {
        assert_eq!(screw().check(), Ok(()));
        assert_eq!(BallScrew { efficiency_back: 0.0, ..screw() }.check(), Ok(()));
        for bad in [
            BallScrew { efficiency_forward: 1.2, ..screw() },
            BallScrew { efficiency_back: -0.1, ..screw() },
            BallScrew { lead_m: 0.0, ..screw() },
            BallScrew { drag_nm: -1.0, ..screw() },
            BallScrew { inertia_kg_m2: f64::NAN, ..screw() },
        ] {
            assert!(bad.check().is_err(), "{bad:?}");
        }
    }

    proptest! {
        /// At every instant the shaft's power is the load's, what the inertia takes, and heat; over a closed cycle the
        /// inertia gives back what it took, so the work of the motor is that on the load and the heat.
        #[test]
        fn energy_is_booked_to_the_last(
            eta in 0.3..1.0_f64, back in 0.0..1.0_f64, drag in 0.0..0.2_f64, force in -2000.0..2000.0_f64, spring in -5e3..5e3_f64,
        ) {
            let screw = BallScrew { efficiency_forward: eta, efficiency_back: back, drag_nm: drag, ..screw() };
            let parts = MovingParts { turning_kg_m2: 6e-5, sliding_kg: 8.0, gravity_m_s2: -9.8 };
            let (n, omega, size) = (2000_u32, 6.0, 0.05);
            let (mut shaft, mut load, mut heat, mut gross) = (0.0, 0.0, 0.0, 0.0);
            for k in 0..n {
                let (sin, cos) = libm::sincos(2.0 * PI * (f64::from(k) + 0.5) / f64::from(n));
                let (x, v, a) = (size * sin, size * omega * cos, -size * omega * omega * sin);
                let state = LegState { force_n: force + spring * x, speed_m_s: v, acceleration_m_s2: a };
                let at_nut = state.force_n + parts.sliding_kg * (a - parts.gravity_m_s2);
                let power = screw.demand(&parts, &state, 0.0).power_w();
                let lost = screw.loss_w(at_nut, v);
                prop_assert!(lost >= -1e-9);
                shaft += power;
                load += state.force_n * v;
                heat += lost;
                gross += power.abs();
            }
            prop_assert!((shaft - load - heat).abs() <= 1e-9 * gross.max(1.0), "{shaft} {load} {heat}");
        }
    }
}
