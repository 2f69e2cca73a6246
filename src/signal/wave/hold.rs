//! S up, stay, S down.

use super::{Instants, Rows, WaveError, above_zero};
use crate::signal::{Jet, Majorant, Order, smoothstep};

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hold {
    ease_s: f64,
    back_s: f64,
    length_s: f64,
    scale: f64,
}

impl Hold {
    pub(super) fn edge_hz(&self) -> f64 {
        1.0 / self.ease_s.min(self.back_s)
    }

    pub(super) fn new(ease_s: f64, back_s: f64, length_s: f64, order: Order) -> Result<Self, WaveError> {
        above_zero("ease", ease_s)?;
        above_zero("back", back_s)?;
        above_zero("length", length_s)?;
        // Times are given to the nanosecond; less than half of one is rounding.
        if ease_s + back_s > length_s + 5e-10 {
            return Err(WaveError::Length(format!(
                "the hold lasts {length_s} s, but going there takes {ease_s} s and coming back {back_s} s: make it at \
                 least {} s long or its edges shorter",
                ease_s + back_s
            )));
        }
        let steep = ease_s.min(back_s);
        let scale = match order {
            Order::Value => 1.0,
            Order::Rate => steep / smoothstep::PEAK_RATE,
            Order::Acceleration => steep * steep / smoothstep::PEAK_ACCELERATION,
        };
        Ok(Self { ease_s, back_s, length_s, scale })
    }

    #[inline(always)]
    pub(super) fn jet(&self, t_s: f64) -> Jet {
        let left_s = self.length_s - t_s;
        let (u, rate) = if t_s < self.ease_s {
            (t_s / self.ease_s, 1.0 / self.ease_s)
        } else if left_s < self.back_s {
            (left_s / self.back_s, -1.0 / self.back_s)
        } else {
            return Jet::constant(self.scale);
        };
        let s = smoothstep::smoothstep(u);
        let a = self.scale;
        Jet([a * s[0], a * s[1] * rate, a * s[2] * (rate * rate), a * s[3] * (rate * rate * rate)])
    }

    pub(super) fn fill(&self, instants: &Instants<'_>, rows: &mut Rows) {
        let first = instants.first_s() - instants.start_s;
        let last = instants.time_s.last().map_or(first, |t| t - instants.start_s);
        if first >= self.ease_s && self.length_s - last >= self.back_s {
            if let Some(part) = rows[0].get_mut(..instants.time_s.len()) {
                part.fill(self.scale);
            }
        } else {
            instants.each_local(rows, |t| self.jet(t));
        }
    }

    pub(super) fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        let mut out = Majorant::default();
        if from_s < self.ease_s {
            let up = smoothstep::bounds(from_s / self.ease_s, to_s / self.ease_s);
            out = out.larger(Majorant(up).stretched(self.ease_s));
        }
        let left = [self.length_s - to_s, self.length_s - from_s];
        if left[0] < self.back_s {
            let down = smoothstep::bounds(left[0] / self.back_s, left[1] / self.back_s);
            out = out.larger(Majorant(down).stretched(self.back_s));
        }
        if to_s >= self.ease_s && left[1] >= self.back_s {
            out = out.larger(Majorant::constant(1.0));
        }
        out.scaled(self.scale)
    }
}
