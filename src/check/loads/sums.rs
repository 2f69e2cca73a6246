//! Sums over time: r.m.s. windows, heat, energy of the bus, life.

use super::Setup;
use super::gauge::{LoadGauge, Measure, Reading, Window, take};
use crate::check::gauge::Extreme;
use crate::check::rules::LOAD_RULES;
use crate::motion::Workers;
use crate::rig::demand::Moment;
use crate::rig::mechanics::bearing::{ball_load_n, life_rev, life_s};
use crate::rig::mechanics::drive_power::Ledger;
use crate::rig::mechanics::rms_window::RmsWindow;
use crate::rig::mechanics::thermal::{Play, Winding};
use crate::rig::parts::MotorPart;
use std::sync::{Mutex, PoisonError};

/// What coarse samples add, one after the other. Each sum goes through one leg and case, so those lie together.
#[derive(Debug, Clone)]
pub(super) struct Rows {
    cases: usize,
    /// One a leg and case, leg first; for each sample torque, N m, and force on the balls, N.
    pairs: Vec<Vec<(f64, f64)>>,
    /// One a leg; for each sample the turning rate of the motor, rad/s.
    rates: Vec<Vec<f64>>,
}

impl Rows {
    /// None yet, with room for so many samples.
    pub(super) fn new(setup: &Setup<'_>, samples: u64) -> Self {
        let (legs, cases) = (setup.rig.actuators.len(), setup.demands.cases().len());
        let room = samples as usize;
        Self {
            cases,
            pairs: (0..legs * cases).map(|_| Vec::with_capacity(room)).collect(),
            rates: (0..legs).map(|_| Vec::with_capacity(room)).collect(),
        }
    }

    /// One sample, `count` times.
    pub(super) fn push(&mut self, setup: &Setup<'_>, moment: &Moment, count: usize) {
        let trains = moment.legs.iter().zip(setup.demands.drivetrains());
        for ((rates, (now, train)), leg) in self.rates.iter_mut().zip(trains).zip(0..) {
            let rate = train.map_or(0.0, |train| now.speed_m_s * train.screw.turn_rad_m());
            rates.extend(std::iter::repeat_n(rate, count));
            let of_leg = self.pairs.iter_mut().skip(leg * self.cases);
            for (pairs, (torques, forces)) in of_leg.zip(moment.torques_nm.iter().zip(&moment.forces_n)) {
                pairs.extend(std::iter::repeat_n((torques[leg], forces[leg]), count));
            }
        }
    }

    /// Torque and force of a leg under a case, sample by sample.
    fn pairs(&self, leg: usize, case: usize) -> &[(f64, f64)] {
        self.pairs.get(leg * self.cases + case).map_or(&[], Vec::as_slice)
    }

    /// Torque, force and rate of a leg under a case, sample by sample.
    fn of(&self, leg: usize, case: usize) -> impl Iterator<Item = (f64, f64, f64)> {
        let rates = self.rates.get(leg).map_or(&[] as &[f64], Vec::as_slice);
        let both = self.pairs(leg, case).iter().zip(rates);
        both.map(|((torque_nm, force_n), rate_rad_s)| (*torque_nm, *force_n, *rate_rad_s))
    }

    fn count(&self) -> usize {
        self.rates.first().map_or(0, Vec::len)
    }
}

/// A sum in progress, for one gauge.
enum Running {
    Nothing,
    Rms { window: RmsWindow, per: f64 },
    Heat { winding: Winding, part: MotorPart, ends: Vec<(f64, f64)>, inside: u32, most: f64 },
    Books(Ledger),
    Life { cubes: f64, turned_rad: f64 },
}

/// What else came of sums, for the words of findings.
#[derive(Debug, Clone, Default)]
pub(super) struct Outcome {
    /// For each gauge of heat that stays within its limit once but not when repeated: how many plays fit.
    pub(super) plays: Vec<(usize, u32)>,
}

/// All sums of a pass.
pub(super) struct Sums<'a> {
    setup: &'a Setup<'a>,
    gauges: &'a [LoadGauge],
    step_s: f64,
    /// One a gauge, each fed by one worker at a time.
    running: Vec<Mutex<Running>>,
    tick: u64,
}

/// Samples of heat that share one memory of their largest: a second or so.
const REMEMBERED: u32 = 128;

impl<'a> Sums<'a> {
    pub(super) fn new(setup: &'a Setup<'a>, gauges: &'a [LoadGauge], step_s: f64) -> Self {
        let running = gauges.iter().map(|gauge| Mutex::new(start(setup, gauge, step_s))).collect();
        Self { setup, gauges, step_s, running, tick: 0 }
    }

    /// Adds samples in their order.
    pub(super) fn feed(&mut self, rows: &[Rows], workers: &impl Workers) {
        workers.map(self.running.len() as u64, |at| {
            let mut running = self.running[at as usize].lock().unwrap_or_else(PoisonError::into_inner);
            let mut tick = self.tick;
            for rows in rows {
                self.feed_one(&self.gauges[at as usize], &mut running, rows, tick);
                tick += rows.count() as u64;
            }
        });
        self.tick += rows.iter().map(|rows| rows.count() as u64).sum::<u64>();
    }

    fn feed_one(&self, gauge: &LoadGauge, running: &mut Running, rows: &Rows, tick: u64) {
        let (leg, case) = (gauge.leg.unwrap_or(0), gauge.case.unwrap_or(0));
        match running {
            Running::Nothing => {}
            Running::Rms { window, per } => {
                rows.of(leg, case).for_each(|(torque, ..)| window.push(torque / *per));
            }
            Running::Heat { winding, part, ends, inside, most } => {
                for (tick, (torque, _, rate)) in (tick + 1..).zip(rows.of(leg, case)) {
                    winding.push(part.motor.heating(torque, rate).min(1e6));
                    *most = most.max(winding.share());
                    *inside += 1;
                    if *inside == REMEMBERED {
                        let start_s = tick.saturating_sub(u64::from(REMEMBERED)) as f64 * self.step_s;
                        ends.push((start_s, *most));
                        (*inside, *most) = (0, f64::NEG_INFINITY);
                    }
                }
            }
            Running::Books(ledger) => {
                let mut shafts_w = vec![0.0; rows.rates.len()];
                for k in 0..rows.count() {
                    for (leg, (power, rates)) in shafts_w.iter_mut().zip(&rows.rates).enumerate() {
                        *power = rows.pairs(leg, case).get(k).map_or(0.0, |pair| pair.0) * rates[k];
                    }
                    ledger.push(&shafts_w);
                }
            }
            Running::Life { cubes, turned_rad } => {
                let screw = self.setup.rig.actuators.get(leg).and_then(|leg| leg.parts.screw.as_ref());
                let Some(life) = screw.and_then(|screw| screw.life) else { return };
                for (_, force, rate) in rows.of(leg, case) {
                    let turned = rate.abs() * self.step_s;
                    let load = ball_load_n(force, life.preload_n);
                    *cubes += load * load * load * turned;
                    *turned_rad += turned;
                }
            }
        }
    }

    /// Puts what was summed into the extremes.
    pub(super) fn finish(self, length_s: f64, extremes: &mut [Extreme]) -> Outcome {
        let mut outcome = Outcome::default();
        for (at, ((gauge, running), extreme)) in
            self.gauges.iter().zip(self.running).zip(extremes).enumerate()
        {
            let limit = gauge.limit;
            match running.into_inner().unwrap_or_else(PoisonError::into_inner) {
                Running::Nothing => {}
                Running::Rms { window, .. } => {
                    let at_s = window.peak_tick() as f64 * self.step_s;
                    take(extreme, Reading::plain(window.peak(), limit), 0.0, at_s);
                }
                Running::Heat { winding, part, mut ends, most, .. } => {
                    ends.push((self.tick as f64 * self.step_s, most));
                    let start = part.winding.share(part.start_degc);
                    let play = Play::new(
                        part.motor.time_constant_s,
                        length_s.max(self.step_s),
                        start,
                        winding.share(),
                    );
                    // What the start adds dies away; a play that starts elsewhere differs by that alone.
                    let steady = play.steady_share().max(start);
                    let shifted = |(from_s, share): &(f64, f64)| {
                        share + (steady - start) * libm::exp(-from_s / part.motor.time_constant_s)
                    };
                    let (mut worst, mut at_s) = (winding.peak(), 0.0);
                    for end in &ends {
                        let share = shifted(end);
                        if share > worst {
                            (worst, at_s) = (share, end.0);
                        }
                    }
                    if winding.peak() <= 1.0 && worst > 1.0 {
                        let room = 1.0 - (winding.peak() - start);
                        outcome
                            .plays
                            .push((at, play.plays_within(room.max(start), start).unwrap_or(u32::MAX)));
                    }
                    let value = part.winding.degc(worst);
                    take(extreme, Reading { value, used: worst.max(0.0) }, 0.0, at_s);
                }
                Running::Books(ledger) => {
                    let used = ledger.resistor_share();
                    take(extreme, Reading { value: ledger.burned_j, used }, 0.0, 0.0);
                }
                Running::Life { cubes, turned_rad } => {
                    let life = gauge
                        .leg
                        .and_then(|leg| self.setup.rig.actuators.get(leg)?.parts.screw.as_ref()?.life)
                        .filter(|_| turned_rad > 0.0);
                    if let Some(life) = life {
                        let mean_n = libm::cbrt(cubes / turned_rad);
                        let lasts_s = life_s(life_rev(life.rating_n, mean_n), turned_rad, length_s);
                        take(extreme, Reading { value: lasts_s, used: life.wanted_s / lasts_s }, 0.0, 0.0);
                    }
                }
            }
        }
        outcome
    }
}

fn start(setup: &Setup<'_>, gauge: &LoadGauge, step_s: f64) -> Running {
    let Measure::Summed(window) = &LOAD_RULES[gauge.rule].measure else { return Running::Nothing };
    let (leg, case) = (gauge.leg.unwrap_or(0), gauge.case.unwrap_or(0));
    let part = || setup.rig.actuators.get(leg).and_then(|leg| leg.parts.motor.clone());
    let rest_nm = setup.rest.torques_nm.get(case).and_then(|legs| legs.get(leg)).copied().unwrap_or(0.0);
    let rms = |window_s: f64, per: f64| {
        let ticks = (window_s / step_s).round().max(1.0) as u64;
        RmsWindow::new(ticks, rest_nm / per).map_or(Running::Nothing, |window| Running::Rms { window, per })
    };
    match window {
        Window::DriveCurrent => match (setup.rig.parts.currents, part()) {
            (Some(currents), Some(part)) => rms(currents.window_s, part.motor.torque_nm_a),
            _ => Running::Nothing,
        },
        Window::MotorTorque => part().map_or(Running::Nothing, |part| rms(part.window_s, 1.0)),
        Window::Heat => part()
            .and_then(|part| {
                let start = part.winding.share(part.start_degc);
                let winding = Winding::new(part.motor.time_constant_s, step_s, start).ok()?;
                Some(Running::Heat { winding, part, ends: Vec::new(), inside: 0, most: f64::NEG_INFINITY })
            })
            .unwrap_or(Running::Nothing),
        Window::Returned => setup
            .rig
            .parts
            .supply
            .and_then(|part| Ledger::new(part.supply, step_s).ok())
            .map_or(Running::Nothing, Running::Books),
        Window::Life => Running::Life { cubes: 0.0, turned_rad: 0.0 },
    }
}
