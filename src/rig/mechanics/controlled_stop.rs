//! A stop under control, power removed afterwards (stop category 1; IEC 60204-1 as guides explain it).

use super::data_error::{DataError, not_negative, positive};

/// What a controlled stop may use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StopLimits {
    /// From the button to the first change of speed, s.
    pub delay_s: f64,
    /// Largest deceleration, m/s^2.
    pub deceleration_m_s2: f64,
    /// Largest jerk, m/s^3.
    pub jerk_m_s3: f64,
    /// From the command to the brakes until they hold, s: the drives hold the load so long.
    pub brake_delay_s: f64,
}

/// A controlled stop from one speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ControlledStop {
    /// Travel until rest, m, in the direction of motion.
    pub travel_m: f64,
    /// Until rest, s.
    pub rest_s: f64,
    /// Until the brakes hold and power may go, s.
    pub power_s: f64,
    /// Largest deceleration reached, m/s^2.
    pub deceleration_m_s2: f64,
}

impl StopLimits {
    /// # Errors
    /// When a number is impossible.
    pub fn check(&self) -> Result<(), DataError> {
        not_negative("the stop's delay", self.delay_s, "s")?;
        positive("the stop's deceleration", self.deceleration_m_s2, "m/s^2")?;
        positive("the stop's jerk", self.jerk_m_s3, "m/s^3")?;
        not_negative("the brake's delay", self.brake_delay_s, "s")
    }

    /// The stop from a steady speed of either sign, m/s.
    ///
    /// The deceleration rises and falls evenly, so the mean speed is v/2: s = v delay + v t / 2, with t = v/a + a/j when
    /// v >= a^2/j, else 2 sqrt(v/j). Source: jerk-limited motion, half of a rest-to-rest move (calculated).
    pub fn stop(&self, speed_m_s: f64) -> ControlledStop {
        let speed = speed_m_s.abs();
        let (a, j) = (self.deceleration_m_s2, self.jerk_m_s3);
        let (ramp_s, deceleration_m_s2) = if speed >= a * a / j {
            (speed / a + a / j, a)
        } else {
            (2.0 * (speed / j).sqrt(), (speed * j).sqrt())
        };
        let rest_s = if speed > 0.0 { self.delay_s + ramp_s } else { 0.0 };
        ControlledStop {
            travel_m: speed * (self.delay_s + ramp_s / 2.0),
            rest_s,
            power_s: rest_s + self.brake_delay_s,
            deceleration_m_s2,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: StopLimits =
        StopLimits { delay_s: 0.01, deceleration_m_s2: 2.0, jerk_m_s3: 40.0, brake_delay_s: 0.05 };

    /// The rest-to-rest table: 0.2 m/s, 2 m/s^2, 40 m/s^3 over 0.05 m takes 0.4 s with top speed 0.25... its half is
    /// a stop: from 0.2 m/s: t = 0.1 + 0.05 s, way 0.015 m.
    #[test]
    fn worked_stops_come_out() {
        let stop = LIMITS.stop(-0.2);
        assert!((stop.travel_m - (0.002 + 0.015)).abs() < 1e-12);
        assert!((stop.rest_s - 0.16).abs() < 1e-12 && (stop.power_s - 0.21).abs() < 1e-12);
        assert_eq!(stop.deceleration_m_s2, 2.0);
        // Below a^2/j = 0.1 m/s the deceleration is not reached: 0.025 m/s, t = 0.05 s, 1 m/s^2.
        let slow = LIMITS.stop(0.025);
        assert!((slow.deceleration_m_s2 - 1.0).abs() < 1e-12);
        assert!((slow.rest_s - 0.06).abs() < 1e-12);
        let still = LIMITS.stop(0.0);
        assert_eq!((still.travel_m, still.rest_s, still.power_s), (0.0, 0.0, 0.05));
    }

    /// Integrated in small steps, the same way and time.
    #[test]
    fn agrees_with_integration() {
        let step = 1e-6;
        let (mut v, mut x, mut t, total) = (0.2_f64, 0.0_f64, 0.0_f64, 0.15_f64);
        while t < total {
            let a = (40.0 * t).min(2.0).min(40.0 * (total - t));
            v -= a * step;
            x += v * step;
            t += step;
        }
        assert!(v.abs() < 1e-5);
        assert!((x + 0.002 - LIMITS.stop(0.2).travel_m).abs() < 1e-6, "{x}");
    }

    #[test]
    fn impossible_limits_are_refused() {
        assert_eq!(LIMITS.check(), Ok(()));
        assert!(StopLimits { jerk_m_s3: 0.0, ..LIMITS }.check().is_err());
        assert!(StopLimits { delay_s: -1.0, ..LIMITS }.check().is_err());
    }
}
