//! What a drive says and is told by CiA 402 (IEC 61800-7-201, -301): states out of the statusword, controlwords,
//! modes. Pure numbers.

/// Where a drive's power stage is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DriveState {
    /// It starts.
    NotReady,
    /// No power stage; waits to be shut down (controlword 0x06).
    SwitchOnDisabled,
    /// High voltage may come.
    Ready,
    /// High voltage is there, no torque.
    SwitchedOn,
    /// Torque; it follows what its mode says.
    OperationEnabled,
    /// A quick stop is under way, or done and held.
    QuickStop,
    /// It reacts to a fault.
    FaultReaction,
    /// A fault; no torque.
    Fault,
    /// Bits that mean nothing.
    Unknown,
}

impl DriveState {
    /// Out of statusword 0x6041. Source: IEC 61800-7-201, state coding of the statusword.
    pub fn of(status: u16) -> Self {
        match status & 0x6F {
            0x21 => DriveState::Ready,
            0x23 => DriveState::SwitchedOn,
            0x27 => DriveState::OperationEnabled,
            0x07 => DriveState::QuickStop,
            _ => match status & 0x4F {
                0x00 => DriveState::NotReady,
                0x40 => DriveState::SwitchOnDisabled,
                0x0F => DriveState::FaultReaction,
                0x08 => DriveState::Fault,
                _ => DriveState::Unknown,
            },
        }
    }

    /// What it is called.
    pub fn words(self) -> &'static str {
        match self {
            DriveState::NotReady => "not ready to switch on",
            DriveState::SwitchOnDisabled => "switch on disabled",
            DriveState::Ready => "ready to switch on",
            DriveState::SwitchedOn => "switched on",
            DriveState::OperationEnabled => "operation enabled",
            DriveState::QuickStop => "quick stop active",
            DriveState::FaultReaction => "fault reaction active",
            DriveState::Fault => "fault",
            DriveState::Unknown => "a state that CiA 402 does not know",
        }
    }

    /// Whether a fault is there or being reacted to.
    pub fn is_fault(self) -> bool {
        matches!(self, DriveState::Fault | DriveState::FaultReaction)
    }

    /// Whether it gives torque, or may.
    pub fn has_torque(self) -> bool {
        matches!(self, DriveState::OperationEnabled | DriveState::QuickStop | DriveState::FaultReaction)
    }

    /// The controlword of the next step towards operation enabled; `None` where there is none that an order may take.
    pub fn towards_enabled(self) -> Option<u16> {
        match self {
            DriveState::SwitchOnDisabled => Some(control::SHUTDOWN),
            DriveState::Ready => Some(control::SWITCH_ON),
            DriveState::SwitchedOn | DriveState::OperationEnabled => Some(control::ENABLE),
            _ => None,
        }
    }
}

/// Controlwords 0x6040. Source: IEC 61800-7-201, command coding.
pub mod control {
    /// To ready to switch on.
    pub const SHUTDOWN: u16 = 0x06;
    /// To switched on; from operation enabled the same bits take torque away (disable operation).
    pub const SWITCH_ON: u16 = 0x07;
    /// To operation enabled.
    pub const ENABLE: u16 = 0x0F;
    /// Power stage off at once.
    pub const DISABLE_VOLTAGE: u16 = 0x00;
    /// Stop by the drive's own quick stop.
    pub const QUICK_STOP: u16 = 0x02;
    /// A fault is left on its rising edge.
    pub const FAULT_RESET: u16 = 0x80;
    /// Homing: begin. Interpolated position: take set-points.
    pub const START: u16 = 0x10;
    /// Come to rest by the mode's own ramp.
    pub const HALT: u16 = 0x100;
}

/// Statusword bits with a meaning of the mode. Source: IEC 61800-7-201, the modes' statuswords.
pub mod status {
    /// Cyclic and interpolated position: set-points are followed.
    pub const FOLLOWS: u16 = 1 << 12;
    /// Cyclic position: too far from the set-point.
    pub const FOLLOWING_ERROR: u16 = 1 << 13;
}

/// Modes of operation that this program uses.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// The drive finds its reference by itself.
    Homing,
    /// A set-point every cycle, the drive draws lines between them: 0x60C1.
    Interpolated,
    /// A set-point every cycle: 0x607A.
    CyclicPosition,
}

impl Mode {
    /// Its number in 0x6060 and 0x6061.
    pub fn number(self) -> i8 {
        match self {
            Mode::Homing => 6,
            Mode::Interpolated => 7,
            Mode::CyclicPosition => 8,
        }
    }

    /// What it is called.
    pub fn words(self) -> &'static str {
        match self {
            Mode::Homing => "homing (6)",
            Mode::Interpolated => "interpolated position (7)",
            Mode::CyclicPosition => "cyclic synchronous position (8)",
        }
    }

    /// Whether 0x6502 names it: bit n - 1 for mode n.
    pub fn is_supported(self, supported: u32) -> bool {
        supported >> (self.number() - 1) & 1 == 1
    }
}

/// How far homing has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Homing {
    /// Under way.
    Running,
    /// Interrupted, or not begun.
    NotRunning,
    /// The reference is found, the leg still moves.
    Attained,
    /// The reference is found and reached.
    Reached,
    /// It was not found.
    Failed,
}

impl Homing {
    /// Out of the statusword in mode 6. Source: IEC 61800-7-201, homing mode, bits 10, 12 and 13.
    pub fn of(status: u16) -> Self {
        match status & 0x3400 {
            0x0000 => Homing::Running,
            0x0400 => Homing::NotRunning,
            0x1000 => Homing::Attained,
            0x1400 => Homing::Reached,
            _ => Homing::Failed,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every pattern of the bits that count, with others set that do not.
    #[test]
    fn states_are_told_by_their_masks() {
        let table = [
            (0x4F, 0x00, DriveState::NotReady),
            (0x4F, 0x40, DriveState::SwitchOnDisabled),
            (0x6F, 0x21, DriveState::Ready),
            (0x6F, 0x23, DriveState::SwitchedOn),
            (0x6F, 0x27, DriveState::OperationEnabled),
            (0x6F, 0x07, DriveState::QuickStop),
            (0x4F, 0x0F, DriveState::FaultReaction),
            (0x4F, 0x08, DriveState::Fault),
        ];
        for status in 0..=u16::MAX {
            let mut found = table.iter().filter(|(mask, value, _)| status & mask == *value);
            let expected = found.next().map_or(DriveState::Unknown, |(_, _, state)| *state);
            assert_eq!(DriveState::of(status), expected, "{status:#06x}");
            assert_eq!(found.next(), None, "no two masks fit {status:#06x}");
        }
        // As drives commonly show them: voltage, remote, target reached.
        assert_eq!(DriveState::of(0x0650), DriveState::SwitchOnDisabled);
        assert_eq!(DriveState::of(0x1637), DriveState::OperationEnabled);
        assert_eq!(DriveState::of(0x0218), DriveState::Fault);
    }

    #[test]
    fn enabling_goes_step_by_step_and_never_out_of_a_fault_or_a_quick_stop() {
        let word = |status| DriveState::of(status).towards_enabled();
        assert_eq!([0x40, 0x21, 0x23, 0x27].map(word), [Some(6), Some(7), Some(15), Some(15)]);
        assert_eq!([0x00, 0x07, 0x0F, 0x08, 0x05].map(word), [None; 5]);
    }

    #[test]
    fn modes_are_bits_of_what_is_supported() {
        // 0x20 homing, 0x40 interpolated, 0x80 cyclic position.
        for (mode, bit) in [(Mode::Homing, 0x20), (Mode::Interpolated, 0x40), (Mode::CyclicPosition, 0x80)] {
            assert!(mode.is_supported(bit) && !mode.is_supported(!bit), "{mode:?}");
        }
    }

    #[test]
    fn homing_is_told_by_three_bits() {
        let of = |status: u16| Homing::of(status | 0x0237);
        assert_eq!(of(0x1400), Homing::Reached);
        assert_eq!(of(0x1000), Homing::Attained);
        assert_eq!([of(0x2000), of(0x2400), of(0x3400)], [Homing::Failed; 3]);
        assert_eq!([of(0), of(0x0400)], [Homing::Running, Homing::NotRunning]);
    }
}
