//! A recording played back.

use super::{Instants, Rows};
use crate::signal::trace::Spline;
use crate::signal::{Jet, Majorant};
use std::sync::Arc;

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Played {
    pub(super) spline: Arc<Spline>,
    /// The recording's time at the signal's start.
    pub(super) from_s: f64,
}

impl Played {
    pub(super) fn jet(&self, t_s: f64) -> Jet {
        self.spline.jet(self.from_s + t_s)
    }

    pub(super) fn fill(&self, instants: &Instants<'_>, rows: &mut Rows) {
        let mut cell = self.spline.cell(self.from_s + instants.first_s() - instants.start_s);
        let [value, rate, acceleration, jerk] = rows;
        let outs = value.iter_mut().zip(rate).zip(acceleration).zip(jerk);
        for ((((v, r), a), j), t) in outs.zip(instants.time_s) {
            let t_s = self.from_s + (t - instants.start_s);
            if !cell.holds(t_s) {
                cell = self.spline.cell(t_s);
            }
            [*v, *r, *a, *j] = cell.jet(t_s).0;
        }
    }

    pub(super) fn majorant(&self, from_s: f64, to_s: f64) -> Majorant {
        self.spline.majorant(self.from_s + from_s, self.from_s + to_s)
    }
}
