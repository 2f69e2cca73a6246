//! What a drive that is set up is told, cycle by cycle: controlword and set-point out of an order, and the few objects
//! that change while it runs. Nothing here begins a motion: an order does.

use super::cia402::{DriveState, Homing, Mode, control};
use super::fault::{CanFault, Object};
use super::judge::Strays;
use super::network::cob;
use super::node::Node;
use super::sdo::{Task, Value};
use super::wire::{CanFrame, CanWire};
use crate::link::frame::OrderKind;
use crate::link::{DriveTime, LinkFault};
use crate::safety::operation::BRAKES_US;

/// No jog is faster, m/s (own choice; the program asks for 10 mm/s).
const CREEP_M_S: f64 = 0.015;
/// How a jog begins and ends, m/s^2 (own choice: a millimetre to stop in).
const CREEP_M_S2: f64 = 0.05;
/// How fast the difference between a leg and its first set-point fades, m/s: a tenth of creep, as in the open frame's
/// reference receiver.
const JOIN_M_S: f64 = 0.1 * CREEP_M_S;
/// A drive that took all its steps and is not let open its brakes by then lets them fall again, microseconds: longer
/// than they are given.
const OPENS_US: u64 = BRAKES_US + 200_000;
/// The same, once all drives give torque.
const ALL_OPEN_US: u64 = 100_000;
/// A drive that still gives torque when it is to be off closes its brake first; it is given so long, microseconds.
const CLOSES_US: u64 = BRAKES_US;
/// After so long the statusword speaks of this homing, and not of the one before, microseconds (own choice).
const HOMING_US: u64 = 100_000;
/// A fault is left for the first time after this, microseconds; then after twice that, and so on.
const RESET_US: u64 = 200_000;
const LONGEST_RESET_US: u64 = 30_000_000;

/// What an order wants of one drive.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wish {
    pub(super) kind: OrderKind,
    pub(super) release: bool,
    pub(super) warn: bool,
    /// Set-point, counts.
    pub(super) target: i32,
    /// Speed of a jog, m/s.
    pub(super) jog_m_s: f64,
    /// Torque limit, thousandths.
    pub(super) limit: u16,
    /// Following error window, counts.
    pub(super) window: u32,
    /// Since when all drives give torque.
    pub(super) all_on_us: Option<u64>,
    /// Whether all drives show the homing mode.
    pub(super) all_home: bool,
    /// Whether nobody else's object is under way: the bus bears one exchange a cycle.
    pub(super) may_ask: bool,
    /// Where jogs end, m; none while the reference is not known.
    pub(super) ends_m: Option<(f64, f64)>,
    pub(super) cycle_us: u32,
}

/// A homing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Home {
    None,
    /// Begun, when.
    Running(u64),
    Done,
    /// Ended before it was done: the drive is to rest.
    Broken,
    Failed,
}

/// An object that changes while a drive runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Change {
    Mode(i8),
    Limit(u16),
    Window(u32),
    Warn(bool),
    ErrorCode,
}

/// What a drive was told, and what of it is known to be kept.
#[derive(Debug)]
pub(super) struct Live {
    word: u16,
    target_counts: f64,
    /// From the set-points to where the leg stood when following began.
    join_counts: Option<f64>,
    /// That was further than the window: its set-points begin elsewhere.
    pub(super) leads_off: bool,
    jog_m_s: f64,
    power_us: Option<u64>,
    off_us: Option<u64>,
    /// It gave torque since power was asked for.
    pub(super) enabled: bool,
    released: bool,
    pub(super) closing: bool,
    /// Since when brakes are to close under torque, microseconds.
    closing_us: Option<u64>,
    /// Whether it shows another state, mode or will than it should.
    pub(super) strays: Strays,
    pub(super) mode: i8,
    mode_wanted: i8,
    limit: u16,
    limit_wanted: u16,
    window: u32,
    window_wanted: u32,
    warns: Option<bool>,
    warn_wanted: bool,
    under_way: Option<Change>,
    /// What did not work out while it ran.
    pub(super) trouble: Option<CanFault>,
    pub(super) home: Home,
    pub(super) homed: bool,
    /// 0x603F, once it was asked for.
    pub(super) error: Option<u16>,
    reset_us: Option<u64>,
    wait_us: u64,
    pulse: u8,
}

impl Live {
    /// A drive set up for this mode and following error window (counts), with or without an output that warns.
    pub(super) fn new(mode: i8, window: u32, can_warn: bool) -> Self {
        Self {
            word: 0,
            target_counts: 0.0,
            join_counts: None,
            leads_off: false,
            jog_m_s: 0.0,
            power_us: None,
            off_us: None,
            enabled: false,
            released: false,
            closing: false,
            closing_us: None,
            strays: Strays::default(),
            mode,
            mode_wanted: mode,
            limit: 0,
            limit_wanted: 0,
            window,
            window_wanted: window,
            warns: can_warn.then_some(false),
            warn_wanted: false,
            under_way: None,
            trouble: None,
            home: Home::None,
            homed: false,
            error: None,
            reset_us: None,
            wait_us: RESET_US,
            pulse: 0,
        }
    }

    /// What came of a change.
    pub(super) fn done(&mut self, result: Result<Value, CanFault>) {
        match (self.under_way.take(), result) {
            (Some(Change::Mode(mode)), Ok(_)) => self.mode = mode,
            (Some(Change::Limit(limit)), Ok(_)) => self.limit = limit,
            (Some(Change::Window(window)), Ok(_)) => self.window = window,
            (Some(Change::Warn(on)), Ok(_)) => self.warns = Some(on),
            (Some(Change::ErrorCode), Ok(value)) => self.error = Some(value.bits as u16),
            // A drive without that object has no more to say.
            (Some(Change::ErrorCode), Err(_)) => self.error = Some(0),
            (Some(_), Err(fault)) => self.trouble = Some(fault),
            (None, _) => {}
        }
    }

    /// Whether it moves by itself.
    pub(super) fn is_moving(&self) -> bool {
        self.jog_m_s != 0.0 || matches!(self.home, Home::Running(_))
    }

    /// Whether the last order was to stay off.
    pub(super) fn is_off(&self) -> bool {
        self.power_us.is_none()
    }

    /// Since when it was told to stay off.
    pub(super) fn off_since_us(&self) -> Option<u64> {
        self.off_us
    }
}

/// What lets a drive close its brake: it opened it with its torque by itself, and takes torque away once it is closed. One
/// that stops quickly by itself is left to that.
fn closes(state: DriveState) -> u16 {
    match state {
        DriveState::OperationEnabled | DriveState::SwitchedOn => control::SWITCH_ON,
        DriveState::QuickStop => control::QUICK_STOP,
        _ => control::DISABLE_VOLTAGE,
    }
}

impl Node {
    /// Whether the drive knows where its leg is.
    pub(super) fn is_homed(&self) -> bool {
        let said = self.leg.homed_bit.map(|bit| self.heard.status.unwrap_or(0) >> bit & 1 == 1);
        let by_itself = self.shared.homing.is_none();
        let unsettled = matches!(self.live.home, Home::Running(_) | Home::Broken | Home::Failed);
        let forgot = self.heard.booted && !by_itself;
        !(unsettled || forgot) && said.unwrap_or(by_itself || self.live.homed)
    }

    /// Whether it shows the homing mode.
    pub(super) fn shows_homing(&self) -> bool {
        self.live.mode == Mode::Homing.number() && self.heard.mode == self.live.mode
    }

    /// Whether its mode is being changed.
    pub(super) fn changes_mode(&self) -> bool {
        self.live.mode != self.live.mode_wanted
    }

    /// Takes an order on; sends what it makes of it.
    ///
    /// # Errors
    /// When the wire fails.
    pub(super) fn order(
        &mut self,
        now: DriveTime,
        wish: &Wish,
        wire: &mut dyn CanWire,
    ) -> Result<(), LinkFault> {
        if wish.kind != OrderKind::Home && matches!(self.live.home, Home::Running(_)) {
            // Whatever the drive makes of it: one that has left by itself is not waited for.
            self.live.home = Home::Broken;
        }
        self.live.word = self.word(now, wish);
        self.aim(wish);
        self.change(now, wish, wire)?;
        let [w0, w1] = self.live.word.to_le_bytes();
        let [t0, t1, t2, t3] = (self.live.target_counts.round() as i32).to_le_bytes();
        wire.send(&CanFrame::of(cob::RPDO1, self.leg.node, &[w0, w1, t0, t1, t2, t3]))
    }

    fn word(&mut self, now: DriveTime, wish: &Wish) -> u16 {
        let state = self.state();
        if wish.kind == OrderKind::Off {
            return self.off(now, state);
        }
        let live = &mut self.live;
        if live.off_us.take().is_some() {
            live.closing_us = None;
        }
        let since = *live.power_us.get_or_insert(now.0);
        live.released |= wish.release;
        let waited = now.0.saturating_sub(since) > OPENS_US;
        let all_waited = wish.all_on_us.is_some_and(|at| now.0.saturating_sub(at) > ALL_OPEN_US);
        live.closing |= !wish.release && (live.released || waited || all_waited);
        if live.closing {
            live.closing_us.get_or_insert(now.0);
            return closes(state);
        }
        if self.has_left() {
            // It has stopped by itself, or follows something else: nothing enables it again before it was off.
            let stops = self.state().has_torque();
            return if stops { control::QUICK_STOP } else { control::DISABLE_VOLTAGE };
        }
        let live = &mut self.live;
        if state != DriveState::OperationEnabled {
            let kept = live.mode == live.mode_wanted && self.heard.mode == live.mode;
            let bounded = live.limit == live.limit_wanted && live.window == live.window_wanted;
            let ready = kept && live.limit > 0 && bounded;
            return match state.towards_enabled() {
                Some(word) if ready => word,
                Some(_) => control::SHUTDOWN,
                None => control::DISABLE_VOLTAGE,
            };
        }
        if !live.enabled {
            (live.enabled, live.jog_m_s) = (true, 0.0);
            live.target_counts = f64::from(self.heard.position);
        }
        control::ENABLE | self.with_mode(now, wish)
    }

    /// What the mode adds to a drive that gives torque.
    fn with_mode(&mut self, now: DriveTime, wish: &Wish) -> u16 {
        let (shows, status) = (self.shows_homing(), self.heard.status.unwrap_or(0));
        let live = &mut self.live;
        if wish.kind != OrderKind::Home {
            return match live.home {
                _ if live.mode == Mode::Interpolated.number() => control::START,
                Home::Broken | Home::Failed => control::HALT,
                _ => 0,
            };
        }
        if live.home == Home::None && shows && wish.all_home {
            (live.home, live.homed) = (Home::Running(now.0), false);
        }
        if let Home::Running(since) = live.home
            && now.0.saturating_sub(since) > HOMING_US
        {
            match Homing::of(status) {
                Homing::Reached => {
                    (live.home, live.homed) = (Home::Done, true);
                    self.forget();
                }
                Homing::Failed => live.home = Home::Failed,
                Homing::Running | Homing::NotRunning | Homing::Attained => {}
            }
        }
        match self.live.home {
            Home::Running(_) | Home::Done => control::START,
            Home::Broken | Home::Failed => control::HALT,
            Home::None => 0,
        }
    }

    /// No torque; a fault is left by an edge, now and then.
    fn off(&mut self, now: DriveTime, state: DriveState) -> u16 {
        let lost = self.is_lost(now);
        let live = &mut self.live;
        live.power_us = None;
        live.off_us.get_or_insert(now.0);
        (live.enabled, live.released, live.closing, live.jog_m_s) = (false, false, false, 0.0);
        if live.home != Home::Failed {
            live.home = Home::None;
        }
        if matches!(state, DriveState::OperationEnabled | DriveState::QuickStop) {
            // Torque that ends before the brake holds lets the leg fall. One that is not heard gets the word too.
            let since = *live.closing_us.get_or_insert(now.0);
            if now.0.saturating_sub(since) <= CLOSES_US {
                return closes(state);
            }
        } else {
            live.closing_us = None;
        }
        let wrong = !lost && (state == DriveState::Fault || self.heard.emergency != 0);
        if live.pulse > 0 {
            live.pulse -= 1;
            if live.pulse == 0 && !state.is_fault() {
                // What was said before is over; what is not will be said again.
                self.heard.emergency = 0;
                live.error = None;
            }
            return control::FAULT_RESET;
        }
        if !wrong {
            (live.reset_us, live.wait_us) = (None, RESET_US);
            return control::DISABLE_VOLTAGE;
        }
        let since = *live.reset_us.get_or_insert(now.0);
        if now.0.saturating_sub(since) > live.wait_us {
            live.reset_us = Some(now.0);
            live.wait_us = (live.wait_us * 2).min(LONGEST_RESET_US);
            // For some cycles: the drive needs to see it, and to show what came of it.
            live.pulse = 8;
        }
        control::DISABLE_VOLTAGE
    }

    /// The set-point.
    fn aim(&mut self, wish: &Wish) {
        let follows = self.live.enabled && self.state() == DriveState::OperationEnabled && !self.live.closing;
        if !follows || self.live.mode == Mode::Homing.number() {
            self.live.target_counts = f64::from(self.heard.position);
            (self.live.jog_m_s, self.live.join_counts, self.live.leads_off) = (0.0, None, false);
            return;
        }
        let cycle_s = f64::from(wish.cycle_us) * 1e-6;
        if wish.kind == OrderKind::Follow {
            let wanted = f64::from(wish.target);
            // The first set-point is hardly where the leg stands to a count: the difference is faded out, and no step.
            let join = self.live.join_counts.unwrap_or(self.live.target_counts - wanted);
            let fades = JOIN_M_S * cycle_s * self.leg.counts_per_m().abs();
            self.live.join_counts = Some(join - join.clamp(-fades, fades));
            self.live.leads_off |= join.abs() > f64::from(self.live.window);
            (self.live.target_counts, self.live.jog_m_s) = (wanted + join, 0.0);
            return;
        }
        self.live.join_counts = None;
        let wanted = if wish.kind == OrderKind::Jog { wish.jog_m_s } else { 0.0 };
        let at_m = self.leg.zero_m + self.live.target_counts / self.leg.counts_per_m();
        let out = wish.ends_m.is_some_and(|(low_m, high_m)| {
            (wanted < 0.0 && at_m <= low_m) || (wanted > 0.0 && at_m >= high_m)
        });
        let wanted = if out || !wanted.is_finite() { 0.0 } else { wanted.clamp(-CREEP_M_S, CREEP_M_S) };
        let step = CREEP_M_S2 * cycle_s;
        self.live.jog_m_s += (wanted - self.live.jog_m_s).clamp(-step, step);
        self.live.target_counts += self.live.jog_m_s * cycle_s * self.leg.counts_per_m();
    }

    /// What was asked for while it runs, and may not have gone out, is asked for again.
    pub(super) fn ask_anew(&mut self) {
        if self.live.under_way.take().is_some() {
            self.sdo.forget();
        }
    }

    /// At most one object at a time is written: the mode, the torque limit, the following error window, the warning.
    fn change(&mut self, now: DriveTime, wish: &Wish, wire: &mut dyn CanWire) -> Result<(), LinkFault> {
        let (state, lost) = (self.state(), self.is_lost(now));
        let live = &mut self.live;
        if let Some(fault) = self.sdo.late(now) {
            match live.under_way.take() {
                Some(Change::ErrorCode) => live.error = Some(0),
                _ => live.trouble = Some(fault),
            }
        }
        let home = wish.kind == OrderKind::Home;
        if home && self.shared.homing.is_some() {
            live.mode_wanted = Mode::Homing.number();
        } else if !state.has_torque() {
            live.mode_wanted = self.shared.mode.number();
        }
        if wish.limit > 0 {
            live.limit_wanted = wish.limit;
            live.window_wanted = wish.window;
        }
        live.warn_wanted = wish.warn;
        if !wish.may_ask || lost || live.trouble.is_some() {
            return Ok(());
        }
        let write = |index, sub, value| Task::write(Object::at(index, sub), value);
        let (change, task) = if live.mode != live.mode_wanted {
            (Change::Mode(live.mode_wanted), write(0x6060, 0, Value::i8(live.mode_wanted)))
        } else if live.limit != live.limit_wanted {
            (Change::Limit(live.limit_wanted), write(0x6072, 0, Value::u16(live.limit_wanted)))
        } else if live.window != live.window_wanted {
            (Change::Window(live.window_wanted), write(0x6065, 0, Value::u32(live.window_wanted)))
        } else if let Some(warns) = live.warns.filter(|warns| *warns != live.warn_wanted) {
            let bit = self.warning.map_or(0, |bit| 1_u32 << (bit & 31));
            (Change::Warn(!warns), write(0x60FE, 1, Value::u32(if warns { 0 } else { bit })))
        } else if state.is_fault() && self.heard.emergency == 0 && live.error.is_none() {
            (Change::ErrorCode, Task::Read(Object::at(0x603F, 0)))
        } else {
            return Ok(());
        };
        if let Some(frame) = self.sdo.begin(now, task) {
            live.under_way = Some(change);
            wire.send(&frame)?;
        }
        Ok(())
    }
}
