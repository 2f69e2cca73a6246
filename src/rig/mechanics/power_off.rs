//! Power goes (stop category 0): the leg coasts until its brake drops, then slides to rest, or does not.
//!
//! One leg on its own, with the mass and force that it carries at that pose held constant: *model only*. The bench
//! procedure: run one leg at the speed in question, cut the power, measure the travel with a marker on the tube.

use super::screw::BallScrew;
use arrayvec::ArrayVec;

/// What a jolt must last to count in full, s. Own choice: about what a phone's accelerometer takes the mean of.
pub const FELT_S: f64 = 0.01;

/// Most stages that a stop can have: coast, turn back, brake, and room for more.
const MOST_STAGES: usize = 8;

/// Stages in order.
type Stages = ArrayVec<Stage, MOST_STAGES>;

/// A leg without power. Positive makes the leg longer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unpowered {
    /// The screw.
    pub screw: BallScrew,
    /// Rotor, screw and coupling, kg m^2; more than 0.
    pub turning_kg_m2: f64,
    /// Mass that moves with the nut, kg: the leg's own and what it feels of the platform.
    pub carried_kg: f64,
    /// With which the load pushes on the leg, N, + towards longer: minus the leg force that holds it.
    pub load_n: f64,
    /// The brake's torque, N m; 0 for a leg without a brake.
    pub brake_nm: f64,
    /// From loss of power until the brake brakes, s.
    pub delay_s: f64,
}

/// A part of the motion with constant acceleration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stage {
    /// Since power went, s.
    pub start_s: f64,
    /// How long, s; infinite when it never comes to rest.
    pub length_s: f64,
    /// Travel at its start, m.
    pub start_m: f64,
    /// Speed at its start, m/s.
    pub speed_m_s: f64,
    /// m/s^2.
    pub acceleration_m_s2: f64,
    /// Whether the brake brakes.
    pub is_braked: bool,
}

impl Stage {
    fn end_m(&self) -> f64 {
        self.start_m + self.length_s * (self.speed_m_s + self.acceleration_m_s2 * self.length_s / 2.0)
    }

    fn end_m_s(&self) -> f64 {
        self.speed_m_s + self.acceleration_m_s2 * self.length_s
    }
}

impl Unpowered {
    /// What happens from `speed_m_s` on.
    pub fn stop(&self, speed_m_s: f64) -> PowerOff {
        let mut run = Stopping::default();
        run.coast(self, speed_m_s);
        run.brake(self);
        run.so_far
    }

    /// Energy of the moving mass and of what turns at a speed, J: what an end stop has to take.
    pub fn energy_j(&self, speed_m_s: f64) -> f64 {
        (self.carried_kg + self.screw.reflected_kg(self.turning_kg_m2)) * speed_m_s * speed_m_s / 2.0
    }
}

/// Screw and masses of a leg, ready for many questions.
#[derive(Debug, Clone, Copy, Default)]
struct Train {
    turn_rad_m: f64,
    /// While the shaft drives the load: 1/eta, and what moves with the nut, kg.
    driving: (f64, f64),
    /// While the load drives the shaft: eta', and the same.
    back: (f64, f64),
    carried_kg: f64,
}

impl Train {
    fn of(leg: &Unpowered) -> Self {
        let reflected_kg = leg.screw.reflected_kg(leg.turning_kg_m2);
        let with = |e: f64| (e, reflected_kg + leg.carried_kg * e);
        Self {
            turn_rad_m: leg.screw.turn_rad_m(),
            driving: with(1.0 / leg.screw.efficiency_forward),
            back: with(leg.screw.efficiency_back),
            carried_kg: leg.carried_kg,
        }
    }

    /// Acceleration under a load while moving in `direction` (1 or -1) against `friction_nm` of brake and drag, m/s^2.
    ///
    /// Shaft: J (2 pi / l)^2 a = -N e - friction (2 pi / l) direction; load: m a = N + load. e is 1/eta while the shaft
    /// drives the load (N direction > 0), eta' while the load drives the shaft. Source: Newton's law for both, calculated.
    fn acceleration_m_s2(&self, load_n: f64, direction: f64, friction_nm: f64) -> f64 {
        let friction_n = friction_nm * self.turn_rad_m * direction;
        let with = |(e, mass_kg): (f64, f64)| (load_n * e - friction_n) / mass_kg;
        let driving = with(self.driving);
        if (self.carried_kg * driving - load_n) * direction > 0.0 { driving } else { with(self.back) }
    }
}

/// A stop without power under way. Large, and asked for often: one serves for many stops.
#[derive(Debug, Clone, Default)]
pub(super) struct Stopping {
    /// Its stages, and whether it stands with nothing that drives it on.
    pub(super) so_far: PowerOff,
    train: Train,
    time_s: f64,
    way_m: f64,
    speed_m_s: f64,
}

/// How far a stop had come.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reached {
    stages: usize,
    stops: bool,
    time_s: f64,
    way_m: f64,
    speed_m_s: f64,
}

impl Stopping {
    /// Begins anew: what happens to `leg` from `speed_m_s` on until the brake brakes, whatever its torque is.
    pub(super) fn coast(&mut self, leg: &Unpowered, speed_m_s: f64) {
        self.so_far.stages.clear();
        self.so_far.stops = false;
        self.train = Train::of(leg);
        (self.time_s, self.way_m, self.speed_m_s) = (0.0, 0.0, speed_m_s);
        while self.time_s < leg.delay_s && self.goes_on(leg, None) {}
    }

    /// The rest of it, under the brake of `leg`, which is in all else the leg that coasted.
    pub(super) fn brake(&mut self, leg: &Unpowered) {
        while self.goes_on(leg, Some(leg.brake_nm)) {}
    }

    /// How far it has come, to go on from there under another brake.
    pub(super) fn reached(&self) -> Reached {
        let (stages, stops) = (self.so_far.stages.len(), self.so_far.stops);
        Reached { stages, stops, time_s: self.time_s, way_m: self.way_m, speed_m_s: self.speed_m_s }
    }

    /// Back to where it had come.
    pub(super) fn back_to(&mut self, reached: &Reached) {
        self.so_far.stages.truncate(reached.stages);
        self.so_far.stops = reached.stops;
        (self.time_s, self.way_m, self.speed_m_s) = (reached.time_s, reached.way_m, reached.speed_m_s);
    }

    /// One stage more, under a brake or before it brakes; false when there is none.
    fn goes_on(&mut self, leg: &Unpowered, brake_nm: Option<f64>) -> bool {
        let stages = &mut self.so_far.stages;
        let is_endless = stages.last().is_some_and(|stage| stage.length_s == f64::INFINITY);
        if self.so_far.stops || is_endless || stages.is_full() {
            return false;
        }
        let (is_braked, brake_nm) = (brake_nm.is_some(), brake_nm.unwrap_or(0.0));
        let speed = self.speed_m_s;
        if speed == 0.0 && !leg.screw.is_driven_back(leg.load_n, brake_nm) {
            self.so_far.stops = true;
            return false;
        }
        let direction = 1.0_f64.copysign(if speed == 0.0 { leg.load_n } else { speed });
        let acceleration = self.train.acceleration_m_s2(leg.load_n, direction, leg.screw.drag_nm + brake_nm);
        let rest_s = if acceleration * direction < 0.0 { -speed / acceleration } else { f64::INFINITY };
        let brake_s = if is_braked { f64::INFINITY } else { leg.delay_s - self.time_s };
        let length = rest_s.min(brake_s);
        let stage = Stage {
            start_s: self.time_s,
            length_s: length,
            start_m: self.way_m,
            speed_m_s: speed,
            acceleration_m_s2: acceleration,
            is_braked,
        };
        stages.push(stage);
        self.way_m = stage.end_m();
        self.speed_m_s = if rest_s <= brake_s { 0.0 } else { stage.end_m_s() };
        self.time_s = if rest_s <= brake_s { self.time_s + length } else { leg.delay_s };
        true
    }
}

/// How a leg comes to rest without power, or fails to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PowerOff {
    /// In order; none when it stays where it is.
    pub stages: Stages,
    /// Whether it comes to rest before an end stop, given room enough.
    pub stops: bool,
}

impl PowerOff {
    /// Furthest travel to either side, m: (towards shorter, 0 or less; towards longer, 0 or more). Infinite when it
    /// does not stop.
    pub fn furthest_m(&self) -> (f64, f64) {
        let mut reach = (0.0_f64, 0.0_f64);
        for stage in &self.stages {
            let end = if stage.length_s.is_finite() {
                stage.end_m()
            } else {
                // Only a load that wins, or one in balance, runs for ever, and it does not turn round.
                f64::INFINITY.copysign(stage.speed_m_s + stage.acceleration_m_s2)
            };
            reach = (reach.0.min(end), reach.1.max(end));
        }
        reach
    }

    /// Until rest, s; infinite when it does not stop.
    pub fn rest_s(&self) -> f64 {
        self.stages.last().map_or(0.0, |stage| stage.start_s + stage.length_s)
    }

    /// Largest acceleration of either sign, m/s^2.
    pub fn peak_m_s2(&self) -> f64 {
        self.stages.iter().fold(0.0, |most, stage| most.max(stage.acceleration_m_s2.abs()))
    }

    /// Largest sudden change of acceleration, m/s^2, from `before_m_s2` when power goes to rest: the jolt.
    pub fn jolt_m_s2(&self, before_m_s2: f64) -> f64 {
        self.jolt(before_m_s2, |stage| stage.acceleration_m_s2)
    }

    /// The same from rest as something feels it that takes [`FELT_S`] to notice: a shorter stage counts by its share of
    /// that time, so that a leg caught from a creep is no hard jolt.
    pub fn felt_m_s2(&self) -> f64 {
        self.jolt(0.0, |stage| stage.acceleration_m_s2 * (stage.length_s / FELT_S).min(1.0))
    }

    fn jolt(&self, before_m_s2: f64, acceleration_m_s2: impl Fn(&Stage) -> f64) -> f64 {
        let mut last = before_m_s2;
        let mut most = 0.0_f64;
        for stage in &self.stages {
            let now = acceleration_m_s2(stage);
            most = most.max((now - last).abs());
            last = now;
        }
        if self.stops { most.max(last.abs()) } else { most }
    }

    /// Work that the brake turns into heat, J: torque times turning. Infinite when it never stops.
    pub fn brake_j(&self, leg: &Unpowered) -> f64 {
        let braking_n = leg.brake_nm * leg.screw.turn_rad_m();
        let braked = self.stages.iter().filter(|stage| stage.is_braked && leg.brake_nm > 0.0);
        braked.map(|stage| braking_n * (stage.end_m() - stage.start_m).abs()).sum()
    }

    /// Speed at which it meets an end stop `room_m` away (+ towards longer), m/s with its sign; `None` when it does not
    /// get there.
    pub fn speed_at_m_s(&self, room_m: f64) -> Option<f64> {
        self.stages.iter().find_map(|stage| {
            let (a, v, gap) = (stage.acceleration_m_s2, stage.speed_m_s, room_m - stage.start_m);
            let direction = 1.0_f64.copysign(if v == 0.0 { a } else { v });
            let reaches =
                gap == 0.0 || (gap * direction > 0.0 && (stage.end_m() - room_m) * direction >= 0.0);
            let endless = stage.length_s == f64::INFINITY && gap * direction > 0.0;
            (reaches || endless).then(|| direction * (v * v + 2.0 * a * gap).max(0.0).sqrt())
        })
    }
}

#[cfg(test)]
mod tests;
