//! Power from the supply and back: drives on one bus, its capacitors and the brake resistor.

use super::data_error::{DataError, efficiency, not_negative, positive};

/// The supply of one bus and what takes returned energy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Supply {
    /// Most that it gives, W.
    pub most_w: f64,
    /// Shaft power by bus power, drive and motor together, 0..1; the same when power flows back.
    pub efficiency: f64,
    /// Energy that the bus takes between its normal voltage and the resistor's threshold, J: C (U2^2 - U1^2) / 2.
    pub store_j: f64,
    /// The brake resistor, where there is one.
    pub resistor: Option<BrakeResistor>,
}

/// A brake resistor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BrakeResistor {
    /// For a moment, W: U^2 / R.
    pub peak_w: f64,
    /// Without end, W.
    pub continuous_w: f64,
}

impl Supply {
    /// # Errors
    /// When a number is impossible.
    pub fn check(&self) -> Result<(), DataError> {
        positive("the supply's power", self.most_w, "W")?;
        efficiency("the efficiency of drive and motor", self.efficiency)?;
        not_negative("the energy that the bus takes", self.store_j, "J")?;
        let Some(resistor) = self.resistor else { return Ok(()) };
        positive("the brake resistor's peak power", resistor.peak_w, "W")?;
        positive("the brake resistor's continuous power", resistor.continuous_w, "W")?;
        if resistor.continuous_w > resistor.peak_w {
            return Err(DataError::Order {
                small: "the brake resistor's continuous power",
                found: resistor.continuous_w,
                large: "its peak power",
                limit: resistor.peak_w,
                unit: "W",
            });
        }
        Ok(())
    }

    /// Power at the bus for a power at a shaft, W: more when driving, less of it back when driven.
    pub fn bus_w(&self, shaft_w: f64) -> f64 {
        if shaft_w > 0.0 { shaft_w / self.efficiency } else { shaft_w * self.efficiency }
    }
}

/// Where power went during one sample, W.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Flow {
    /// From the supply.
    pub drawn_w: f64,
    /// More than the bus could take: into the resistor, or into overvoltage when there is none.
    pub burned_w: f64,
}

/// The books of one bus over a motion: every joule at the shafts is drawn, burned, kept or lost.
#[derive(Debug, Clone, PartialEq)]
pub struct Ledger {
    supply: Supply,
    step_s: f64,
    /// Supplied so far, J.
    pub drawn_j: f64,
    /// Given back to the bus so far by shafts together, J; part of it was kept and used again.
    pub returned_j: f64,
    /// Burned so far, J.
    pub burned_j: f64,
    /// Lost in drives and motors so far, J.
    pub lost_j: f64,
    /// In the bus now above its normal voltage, J.
    pub stored_j: f64,
    /// Most drawn, W.
    pub peak_drawn_w: f64,
    /// Most burned, W.
    pub peak_burned_w: f64,
    samples: u64,
}

impl Ledger {
    /// Empty books for samples every `step_s`.
    ///
    /// # Errors
    /// When the supply's data or the step is impossible.
    pub fn new(supply: Supply, step_s: f64) -> Result<Self, DataError> {
        supply.check()?;
        positive("the time between samples", step_s, "s")?;
        Ok(Self {
            supply,
            step_s,
            drawn_j: 0.0,
            returned_j: 0.0,
            burned_j: 0.0,
            lost_j: 0.0,
            stored_j: 0.0,
            peak_drawn_w: 0.0,
            peak_burned_w: 0.0,
            samples: 0,
        })
    }

    /// Adds a sample: the shaft powers of all drives on this bus, W, held for one step.
    ///
    /// What one drive returns another may use; the rest goes into the capacitors and then into the resistor.
    pub fn push(&mut self, shafts_w: &[f64]) -> Flow {
        let mut bus_w = 0.0;
        for shaft_w in shafts_w {
            let at_bus = self.supply.bus_w(*shaft_w);
            bus_w += at_bus;
            self.lost_j += (at_bus - shaft_w) * self.step_s;
        }
        let wanted_j = bus_w * self.step_s;
        let mut flow = Flow::default();
        if wanted_j >= 0.0 {
            let reused_j = wanted_j.min(self.stored_j);
            self.stored_j -= reused_j;
            flow.drawn_w = (wanted_j - reused_j) / self.step_s;
            self.drawn_j += wanted_j - reused_j;
        } else {
            let kept_j = (-wanted_j).min(self.supply.store_j - self.stored_j);
            self.stored_j += kept_j;
            flow.burned_w = (-wanted_j - kept_j) / self.step_s;
            self.returned_j -= wanted_j;
            self.burned_j += -wanted_j - kept_j;
        }
        self.peak_drawn_w = self.peak_drawn_w.max(flow.drawn_w);
        self.peak_burned_w = self.peak_burned_w.max(flow.burned_w);
        self.samples += 1;
        flow
    }

    /// Mean power burned so far, W: what the resistor bears when the motion is repeated for ever.
    pub fn mean_burned_w(&self) -> f64 {
        if self.samples == 0 { 0.0 } else { self.burned_j / (self.samples as f64 * self.step_s) }
    }

    /// Most drawn as a share of what the supply gives; above 1 is too much.
    pub fn supply_share(&self) -> f64 {
        self.peak_drawn_w / self.supply.most_w
    }

    /// Largest of peak and mean burned power as a share of what the resistor takes; infinite when something is burned
    /// and there is no resistor: the bus voltage rises until the drive trips.
    pub fn resistor_share(&self) -> f64 {
        match self.supply.resistor {
            Some(resistor) => {
                (self.peak_burned_w / resistor.peak_w).max(self.mean_burned_w() / resistor.continuous_w)
            }
            None if self.burned_j > 0.0 => f64::INFINITY,
            None => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn supply() -> Supply {
        Supply {
            most_w: 1000.0,
            efficiency: 0.8,
            store_j: 10.0,
            resistor: Some(BrakeResistor { peak_w: 500.0, continuous_w: 50.0 }),
        }
    }

    /// 100 W for 1 s draws 125 J; then -100 W for 1 s gives 80 J back: 10 J kept, 70 J burned; then 10 W needs 12.5 J,
    /// of which 10 J come from the bus.
    #[test]
    fn a_lift_and_a_fall_by_hand() {
        let mut ledger = Ledger::new(supply(), 0.1).unwrap();
        (0..10).for_each(|_| {
            ledger.push(&[60.0, 40.0]);
        });
        assert!((ledger.drawn_j - 125.0).abs() < 1e-9);
        (0..10).for_each(|_| {
            ledger.push(&[-100.0]);
        });
        assert!((ledger.returned_j - 80.0).abs() < 1e-9 && (ledger.burned_j - 70.0).abs() < 1e-9);
        assert_eq!((ledger.stored_j, ledger.peak_burned_w), (10.0, 80.0));
        assert!((ledger.mean_burned_w() - 35.0).abs() < 1e-9);
        assert!((ledger.resistor_share() - 0.7).abs() < 1e-9);
        (0..10).for_each(|_| {
            ledger.push(&[10.0]);
        });
        assert!((ledger.drawn_j - 127.5).abs() < 1e-9);
        assert!((ledger.supply_share() - 0.125).abs() < 1e-9);
    }

    #[test]
    fn drives_on_one_bus_feed_each_other() {
        let mut ledger = Ledger::new(Supply { efficiency: 1.0, ..supply() }, 0.01).unwrap();
        assert_eq!(ledger.push(&[300.0, -200.0]), Flow { drawn_w: 100.0, burned_w: 0.0 });
    }

    #[test]
    fn burning_without_a_resistor_is_too_much() {
        let mut ledger = Ledger::new(Supply { resistor: None, store_j: 0.0, ..supply() }, 0.01).unwrap();
        assert_eq!(ledger.resistor_share(), 0.0);
        ledger.push(&[-1.0]);
        assert_eq!(ledger.resistor_share(), f64::INFINITY);
    }

    #[test]
    fn impossible_supplies_are_refused() {
        assert_eq!(supply().check(), Ok(()));
        assert!(Ledger::new(Supply { efficiency: 80.0, ..supply() }, 0.1).is_err());
        assert!(Ledger::new(supply(), 0.0).is_err());
        let swapped = BrakeResistor { peak_w: 50.0, continuous_w: 500.0 };
        assert!(Supply { resistor: Some(swapped), ..supply() }.check().is_err());
        assert!(Supply { store_j: -1.0, ..supply() }.check().is_err());
    }

    proptest! {
        #[test]
        fn the_books_balance(shafts in prop::collection::vec((-500.0..500.0_f64, -500.0..500.0_f64), 1..200), eta in 0.3..1.0_f64) {
            let mut ledger = Ledger::new(Supply { efficiency: eta, ..supply() }, 0.01).unwrap();
            for (a, b) in &shafts {
                ledger.push(&[*a, *b]);
            }
            let shaft_j = shafts.iter().map(|(a, b)| (a + b) * 0.01).sum::<f64>();
            let books_j = ledger.drawn_j - ledger.burned_j - ledger.stored_j - ledger.lost_j;
            prop_assert!((shaft_j - books_j).abs() < 1e-9 * ledger.drawn_j.max(100.0), "{shaft_j} {books_j}");
            prop_assert!((0.0..=10.0).contains(&ledger.stored_j) && ledger.lost_j >= 0.0);
        }
    }
}
