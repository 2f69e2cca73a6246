//! What is asked of a drive and written to it before anything is engaged, object by object, in order. Who it is comes
//! first: nothing is written to a stranger.
//!
//! Objects: CiA 301 (0x1000 to 0x1FFF), CiA 402 / IEC 61800-7-201 (0x6000 to 0x60FF).

use super::cia402::{DriveState, Mode};
use super::fault::{CanFault, Object, is_absent};
use super::load::{beat_ms, period};
use super::network::cob;
use super::sdo::{Task, Value};
use crate::rig::can::{CanLeg, CanPart, PositionMode, Reference};
use crate::rig::patience_ms;

/// What all drives of a rig share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shared {
    /// This program's node id.
    pub(super) host: u8,
    /// The mode of set-points.
    pub(super) mode: Mode,
    /// The homing method, where drives home.
    pub(super) homing: Option<i8>,
    /// Silence after which a drive stops by itself, ms.
    pub(super) silence_ms: u16,
    /// Every how many cycles forces and inputs are reported.
    pub(super) every: u8,
    /// The cycle as a count and a power of ten of seconds.
    pub(super) period: (u8, i8),
    /// The following error, m.
    pub(super) following_m: f64,
}

impl Shared {
    /// `None` when the cycle is no interpolation period.
    pub(super) fn of(part: &CanPart, cycle_us: u32, detection_s: f64, every: u8) -> Option<Self> {
        Some(Self {
            host: part.host,
            mode: match part.mode {
                PositionMode::CyclicSynchronous => Mode::CyclicPosition,
                PositionMode::Interpolated => Mode::Interpolated,
            },
            homing: match part.reference {
                Reference::Homing(method) => Some(method),
                Reference::Absolute => None,
            },
            silence_ms: patience_ms(detection_s, cycle_us),
            every,
            period: period(cycle_us)?,
            following_m: part.following_m,
        })
    }
}

/// What an answer is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Use {
    /// 0x1000.
    DeviceType,
    /// A part of 0x1018.
    Identity(u8),
    /// 0x6041 before anything is written: nobody else may run the drive.
    Idle,
    /// 0x6502.
    Modes,
    /// 0x6076.
    RatedTorque,
    /// It must be kept.
    Kept,
    /// It must be kept where there is such an object.
    KeptIfThere,
    /// One of those that stop the drive in silence: one of orders, one of signs of life.
    Watchdog,
    /// The reaction to lost signs of life.
    Reaction,
    /// Its value goes into the sum of parameters, where there is such an object.
    Parameter,
}

/// One object.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Step {
    pub(super) task: Task,
    pub(super) of: Use,
}

/// Bit 30 of a PDO's identifier, "no remote request", which drives set as they are made.
const WITHOUT_RTR: u32 = 0xBFFF_FFFF;
/// Bit 31: the PDO is not there.
const OFF: u32 = 1 << 31;

/// Settings of a drive that another tool makes; a change of one voids the commissioning: how it stops (ramps, options,
/// what lost signs of life and errors on the bus lead to), windows, software limits, largest torque, speed and
/// acceleration, gear and feed, homing speeds, polarity.
pub(super) const PARAMETERS: [Object; 27] = [
    Object::at(0x1029, 1),
    Object::at(0x1029, 2),
    Object::at(0x6007, 0),
    Object::at(0x605A, 0),
    Object::at(0x605B, 0),
    Object::at(0x605C, 0),
    Object::at(0x605D, 0),
    Object::at(0x605E, 0),
    Object::at(0x6066, 0),
    Object::at(0x607C, 0),
    Object::at(0x607D, 1),
    Object::at(0x607D, 2),
    Object::at(0x607E, 0),
    Object::at(0x607F, 0),
    Object::at(0x6084, 0),
    Object::at(0x6085, 0),
    Object::at(0x608F, 1),
    Object::at(0x608F, 2),
    Object::at(0x6091, 1),
    Object::at(0x6091, 2),
    Object::at(0x6092, 1),
    Object::at(0x6092, 2),
    Object::at(0x6099, 1),
    Object::at(0x6099, 2),
    Object::at(0x609A, 0),
    Object::at(0x60C5, 0),
    Object::at(0x60C6, 0),
];

/// Who it is: read before anything else.
pub(super) fn who() -> Vec<Step> {
    let read = |index, sub, of| Step { task: Task::Read(Object::at(index, sub)), of };
    let mut steps = vec![read(0x1000, 0, Use::DeviceType)];
    steps.extend((1..=4).map(|sub| read(0x1018, sub, Use::Identity(sub))));
    steps.extend([
        read(0x6041, 0, Use::Idle),
        read(0x6502, 0, Use::Modes),
        read(0x6076, 0, Use::RatedTorque),
    ]);
    steps
}

/// A following error window (m) in counts, up to the next; u32::MAX would mean that there is none (CiA 402).
pub(super) fn window(leg: &CanLeg, window_m: f64) -> u32 {
    (window_m * leg.counts_per_m().abs()).ceil().clamp(1.0, f64::from(u32::MAX - 1)) as u32
}

/// What is set, while the node is pre-operational. `warning` is the bit of the output that sounds the warning, where it
/// is on this drive.
pub(super) fn settings(leg: &CanLeg, shared: &Shared, warning: Option<u8>) -> Vec<Step> {
    let mut all = Vec::new();
    let mut put = |index, sub, value: Value, of| {
        all.push(Step { task: Task::write(Object::at(index, sub), value), of });
    };
    let node = u32::from(leg.node);
    let id = |base: u16| u32::from(base) + node;
    // Silence first: whatever comes after stands under it. CiA 301: node and time of the sign of life.
    let life = u32::from(shared.host) << 16 | u32::from(shared.silence_ms);
    put(0x1016, 1, Value::u32(life), Use::Watchdog);
    // CiA 402: lost signs of life are a fault; what the fault does is the drive's own (0x605E).
    put(0x6007, 0, Value::i16(1), Use::Reaction);
    put(0x1017, 0, Value::u16(beat_ms(shared.silence_ms)), Use::Kept);
    // The order: controlword and set-point, taken on at the synchronisation.
    let target = if shared.mode == Mode::Interpolated { 0x60C1_0120 } else { 0x607A_0020 };
    put(0x1400, 1, Value::u32(OFF | id(cob::RPDO1)), Use::Kept);
    put(0x1400, 2, Value::u8(1), Use::Kept);
    put(0x1400, 5, Value::u16(shared.silence_ms), Use::Watchdog);
    put(0x1600, 0, Value::u8(0), Use::Kept);
    put(0x1600, 1, Value::u32(0x6040_0010), Use::Kept);
    put(0x1600, 2, Value::u32(target), Use::Kept);
    put(0x1600, 0, Value::u8(2), Use::Kept);
    put(0x1400, 1, Value::u32(id(cob::RPDO1)), Use::Kept);
    // The reports: state, position and mode every cycle; torque and inputs as often as the bus bears it.
    let reports: [(u16, u16, u8, &[u32]); 2] = [
        (0, cob::TPDO1, 1, &[0x6041_0010, 0x6064_0020, 0x6061_0008]),
        (1, cob::TPDO2, shared.every, &[0x6077_0010, 0x60FD_0020]),
    ];
    for (number, base, every, objects) in reports {
        let (way, map) = (0x1800 + number, 0x1A00 + number);
        put(way, 1, Value::u32(OFF | 1 << 30 | id(base)), Use::Kept);
        put(way, 2, Value::u8(every), Use::Kept);
        put(map, 0, Value::u8(0), Use::Kept);
        for (object, sub) in objects.iter().zip(1..) {
            put(map, sub, Value::u32(*object), Use::Kept);
        }
        put(map, 0, Value::u8(objects.len() as u8), Use::Kept);
        put(way, 1, Value::u32(1 << 30 | id(base)), Use::Kept);
    }
    // What else a drive may send would not be in the bus's load.
    put(0x1802, 1, Value::u32(OFF | 1 << 30 | id(0x380)), Use::KeptIfThere);
    put(0x1803, 1, Value::u32(OFF | 1 << 30 | id(0x480)), Use::KeptIfThere);
    let (count, power) = shared.period;
    put(0x60C2, 1, Value::u8(count), Use::Kept);
    put(0x60C2, 2, Value::i8(power), Use::Kept);
    put(0x6065, 0, Value::u32(window(leg, shared.following_m)), Use::Kept);
    if let Some(method) = shared.homing {
        put(0x6098, 0, Value::i8(method), Use::Kept);
    }
    if let Some(bit) = warning {
        put(0x60FE, 2, Value::u32(1 << bit), Use::Kept);
        put(0x60FE, 1, Value::u32(0), Use::Kept);
    }
    put(0x6060, 0, Value::i8(shared.mode.number()), Use::Kept);
    for step in &mut all {
        if let Task::Write(object, value, _) = step.task
            && matches!(object.index, 0x1800..=0x1803)
            && object.sub == 1
        {
            step.task = Task::Write(object, value, WITHOUT_RTR);
        }
    }
    all.extend(PARAMETERS.map(|object| Step { task: Task::Read(object), of: Use::Parameter }));
    all
}

/// What was found out about a drive, step by step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Found {
    /// Vendor, product, revision, serial number.
    pub(super) identity: [u32; 4],
    /// A sum over what was read back and read.
    pub(super) sum: u64,
    /// Whether orders that stay away stop it.
    orders: bool,
    /// Whether signs of life that stay away are noticed, and whether that stops it.
    life: (bool, bool),
}

impl Default for Found {
    fn default() -> Self {
        // FNV-1a, 64 bits: offset basis.
        Self { identity: [0; 4], sum: 0xCBF2_9CE4_8422_2325, orders: false, life: (false, false) }
    }
}

impl Found {
    fn add(&mut self, object: Object, value: Value) {
        let bytes =
            object.index.to_le_bytes().into_iter().chain([object.sub]).chain(value.bits.to_le_bytes());
        for byte in bytes {
            // FNV-1a, 64 bits: prime.
            self.sum = (self.sum ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3);
        }
    }

    /// Whether silence stops the drive. Both time-outs are set where a drive has them; one is enough.
    pub(super) fn stops_in_silence(&self) -> bool {
        self.orders || self.life == (true, true)
    }

    /// Takes what came of a step.
    ///
    /// # Errors
    /// When it must not be so.
    pub(super) fn take(
        &mut self,
        step: Step,
        result: Result<Value, CanFault>,
        leg: &CanLeg,
        shared: &Shared,
    ) -> Result<(), CanFault> {
        let node = leg.node;
        let object = step.task.object();
        let absent = matches!(result, Err(CanFault::Refused { code, .. }) if is_absent(code));
        let value = match result {
            Ok(value) => value,
            // Missing, refused or not kept: as good as none, and the sum of it is judged at the end.
            Err(CanFault::Refused { .. } | CanFault::NotKept { .. })
                if matches!(step.of, Use::Watchdog | Use::Reaction) =>
            {
                return Ok(());
            }
            Err(_) if absent && matches!(step.of, Use::KeptIfThere | Use::Parameter | Use::RatedTorque) => {
                return Ok(());
            }
            // What cannot be read now, or is longer, is no parameter of those.
            Err(CanFault::Refused { .. } | CanFault::TooLong { .. }) if step.of == Use::Parameter => {
                return Ok(());
            }
            Err(fault) => return Err(fault),
        };
        match step.of {
            Use::DeviceType if value.bits & 0xFFFF != 402 => {
                return Err(CanFault::NotADrive { node, found: value.bits });
            }
            Use::Identity(sub) => {
                let place = usize::from(sub).checked_sub(1).and_then(|at| self.identity.get_mut(at));
                place.into_iter().for_each(|place| *place = value.bits);
                let expected = match sub {
                    1 => Some(leg.vendor),
                    2 => Some(leg.product),
                    4 => leg.serial,
                    _ => None,
                };
                if let Some(expected) = expected.filter(|expected| *expected != value.bits) {
                    return Err(CanFault::OtherDrive { node, object, found: value.bits, expected });
                }
            }
            Use::Idle => {
                let state = DriveState::of(value.bits as u16);
                if state.has_torque() && state != DriveState::FaultReaction {
                    return Err(CanFault::Running { node, state });
                }
                return Ok(());
            }
            Use::Modes => {
                let wanted = [Some(shared.mode), shared.homing.map(|_| Mode::Homing)];
                let missing = wanted.into_iter().flatten().find(|mode| !mode.is_supported(value.bits));
                if let Some(mode) = missing {
                    return Err(CanFault::NoMode { node, mode, supported: value.bits });
                }
            }
            Use::RatedTorque => {
                let expected = (leg.rated_nm * 1e3).round() as u32;
                if value.bits.abs_diff(expected) > 1 {
                    return Err(CanFault::OtherTorque { node, found: value.bits, expected });
                }
            }
            Use::Watchdog if object.index == 0x1400 => self.orders = true,
            Use::Watchdog => self.life.0 = true,
            Use::Reaction => self.life.1 = true,
            _ => {}
        }
        self.add(object, value);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    pub(super) fn leg() -> CanLeg {
        CanLeg {
            node: 3,
            vendor: 0x9A,
            product: 0xC0DE,
            serial: None,
            counts_per_turn: 10_000,
            lead_m: 0.005,
            longer: true,
            zero_m: 0.43,
            rated_nm: 0.64,
            brake: None,
            sag_m: None,
            homed_bit: None,
        }
    }

    fn shared() -> Shared {
        Shared {
            host: 127,
            mode: Mode::CyclicPosition,
            homing: Some(17),
            silence_ms: 20,
            every: 3,
            period: (2, -3),
            following_m: 0.005,
        }
    }

    fn written(steps: &[Step], index: u16, sub: u8) -> Vec<u32> {
        let of = |step: &Step| match step.task {
            Task::Write(object, value, _) if object == Object::at(index, sub) => Some(value.bits),
            _ => None,
        };
        steps.iter().filter_map(of).collect()
    }

    #[test]
    fn pdos_are_taken_away_mapped_and_put_back() {
        let steps = settings(&leg(), &shared(), Some(16));
        assert_eq!(written(&steps, 0x1400, 1), [0x8000_0203, 0x203]);
        assert_eq!((written(&steps, 0x1600, 0), written(&steps, 0x1600, 2)), (vec![0, 2], vec![0x607A_0020]));
        assert_eq!(written(&steps, 0x1800, 1), [0xC000_0183, 0x4000_0183]);
        assert_eq!((written(&steps, 0x1801, 2), written(&steps, 0x1A00, 0)), (vec![3], vec![0, 3]));
        assert_eq!(written(&steps, 0x1016, 1), [0x007F_0014]);
        assert_eq!((written(&steps, 0x1400, 5), written(&steps, 0x1017, 0)), (vec![20], vec![6]));
        assert_eq!((written(&steps, 0x60C2, 1), written(&steps, 0x60C2, 2)), (vec![2], vec![0xFD]));
        // 5 mm at 2 counts a micrometre.
        assert_eq!((written(&steps, 0x6065, 0), written(&steps, 0x60FE, 2)), (vec![10_000], vec![0x1_0000]));
        assert_eq!((written(&steps, 0x6060, 0), written(&steps, 0x6098, 0)), (vec![8], vec![17]));
        let mode = Mode::Interpolated;
        assert_eq!(written(&settings(&leg(), &Shared { mode, ..shared() }, None), 0x1600, 2), [0x60C1_0120]);
        // A map has bits for no more than eight bytes.
        for map in [0x1600, 0x1A00, 0x1A01] {
            let bits: u32 = (1..=3).flat_map(|sub| written(&steps, map, sub)).map(|entry| entry & 0xFF).sum();
            assert!(bits <= 64, "{map:x}");
        }
    }

    fn take(
        found: &mut Found,
        of: Use,
        object: Object,
        result: Result<Value, CanFault>,
    ) -> Result<(), CanFault> {
        found.take(Step { task: Task::Read(object), of }, result, &leg(), &shared())
    }

    #[test]
    fn another_drive_and_one_that_runs_are_refused() {
        let mut found = Found::default();
        let mut take = |of, object, bits| take(&mut found, of, object, Ok(Value::u32(bits)));
        let device = Object::at(0x1000, 0);
        assert_eq!(take(Use::DeviceType, device, 0x0002_0192), Ok(()));
        let other = Err(CanFault::NotADrive { node: 3, found: 0x0002_0191 });
        assert_eq!(take(Use::DeviceType, device, 0x0002_0191), other);
        let object = Object::at(0x1018, 2);
        let fault = CanFault::OtherDrive { node: 3, object, found: 0xBAD, expected: 0xC0DE };
        assert_eq!(take(Use::Identity(2), object, 0xBAD), Err(fault));
        assert_eq!(take(Use::Identity(4), Object::at(0x1018, 4), 77), Ok(()), "no serial is named");
        let status = Object::at(0x6041, 0);
        let running = CanFault::Running { node: 3, state: DriveState::OperationEnabled };
        assert_eq!(take(Use::Idle, status, 0x1637), Err(running));
        assert_eq!(take(Use::Idle, status, 0x0218), Ok(()), "a fault is left later");
        let modes = Object::at(0x6502, 0);
        assert_eq!(take(Use::Modes, modes, 0xA0), Ok(()));
        let none = CanFault::NoMode { node: 3, mode: Mode::CyclicPosition, supported: 0x7F };
        assert_eq!(take(Use::Modes, modes, 0x7F), Err(none));
        let torque = Object::at(0x6076, 0);
        assert_eq!(take(Use::RatedTorque, torque, 640), Ok(()));
        let other = CanFault::OtherTorque { node: 3, found: 1270, expected: 640 };
        assert_eq!(take(Use::RatedTorque, torque, 1270), Err(other));
    }

    #[test]
    fn silence_is_covered_by_orders_or_by_signs_of_life_with_a_reaction() {
        let absent = |code| Err(CanFault::Refused { node: 3, object: Object::at(0, 0), write: true, code });
        let (orders, life, reaction) = (Object::at(0x1400, 5), Object::at(0x1016, 1), Object::at(0x6007, 0));
        let cases = [(true, false, false, true), (false, true, true, true), (false, true, false, false)];
        for (has_orders, has_life, has_reaction, covered) in cases {
            let mut found = Found::default();
            let result = |has| if has { Ok(Value::u16(1)) } else { absent(0x0609_0011) };
            assert_eq!(take(&mut found, Use::Watchdog, orders, result(has_orders)), Ok(()));
            assert_eq!(take(&mut found, Use::Watchdog, life, result(has_life)), Ok(()));
            assert_eq!(take(&mut found, Use::Reaction, reaction, result(has_reaction)), Ok(()));
            assert_eq!(found.stops_in_silence(), covered);
        }
        // A drive that says yes and does not keep it has none.
        let mut found = Found::default();
        let lost = CanFault::NotKept { node: 3, object: orders, written: 20, found: 0 };
        assert_eq!(take(&mut found, Use::Watchdog, orders, Err(lost)), Ok(()));
        assert!(!found.stops_in_silence());
        // What must be kept must be kept, there or not.
        assert_eq!(take(&mut found, Use::Kept, orders, Err(lost)), Err(lost));
        assert!(take(&mut found, Use::Kept, orders, absent(0x0602_0000)).is_err());
        assert_eq!(take(&mut found, Use::KeptIfThere, orders, absent(0x0602_0000)), Ok(()));
    }

    #[test]
    fn a_changed_parameter_is_another_sum() {
        let sum = |bits| {
            let mut found = Found::default();
            take(&mut found, Use::Parameter, Object::at(0x605E, 0), Ok(Value::u16(bits))).unwrap();
            found.sum
        };
        assert_eq!(sum(2), sum(2));
        assert_ne!(sum(2), sum(1));
    }
}
