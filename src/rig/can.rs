//! What a rig file says of drives on a CAN bus: `[can]`. Data only; the arithmetic between leg lengths and a drive's
//! counts, and between forces at the nut and its torques, stands beside them.

use crate::diag::Span;

/// Drives on a CAN bus.
#[derive(Debug, Clone, PartialEq)]
pub struct CanPart {
    /// Bits a second.
    pub bit_rate: u32,
    /// This program's own node id.
    pub host: u8,
    /// How set-points reach the drives.
    pub mode: PositionMode,
    /// How a drive knows where its leg is.
    pub reference: Reference,
    /// A leg further than this from its set-point is a fault of its drive, m.
    pub following_m: f64,
    /// One a leg, in the order of the rig's legs.
    pub legs: Vec<CanLeg>,
    /// What is wired to the drives' inputs; what is not there is not known, which counts as open.
    pub inputs: CanInputs,
    /// The output that sounds the warning.
    pub warning: Option<Terminal>,
    /// The table.
    pub span: Span,
}

/// How set-points reach the drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PositionMode {
    /// Mode 8 of CiA 402.
    CyclicSynchronous,
    /// Mode 7 of CiA 402.
    Interpolated,
}

/// How a drive knows where its leg is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reference {
    /// Its encoder counts through a loss of power.
    Absolute,
    /// It finds it by this method of its own, on command.
    Homing(i8),
}

/// One leg's drive.
#[derive(Debug, Clone, PartialEq)]
pub struct CanLeg {
    /// Node id.
    pub node: u8,
    /// Object 0x1018:01.
    pub vendor: u32,
    /// Object 0x1018:02.
    pub product: u32,
    /// Object 0x1018:04, where the file says so.
    pub serial: Option<u32>,
    /// The drive's counts for a turn of the screw.
    pub counts_per_turn: u32,
    /// Travel for a turn of the screw, m: that of the leg.
    pub lead_m: f64,
    /// Whether counting up makes the leg longer.
    pub longer: bool,
    /// Length of the leg at count zero, m.
    pub zero_m: f64,
    /// What 100 % of the drive's torque is, N m.
    pub rated_nm: f64,
    /// Bits of 0x60FD that tell of its brake: confirmed on, confirmed off.
    pub brake: Option<(u8, u8)>,
    /// How far the leg may sag as its brake lets go, and while it holds, m; where there are no contacts the brake is known
    /// by that alone.
    pub sag_m: Option<f64>,
    /// Bit of the statusword that says that the reference is known, special to the drive.
    pub homed_bit: Option<u8>,
}

/// A bit of the digital inputs (0x60FD) or outputs (0x60FE:01) of a leg's drive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Terminal {
    /// Which leg's drive, from 0.
    pub leg: usize,
    /// Which bit.
    pub bit: u8,
}

/// Two-wire inputs; a one is closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct CanInputs {
    /// The operator's hold-to-run device.
    pub presence: Option<Terminal>,
    /// The gates.
    pub gate: Option<Terminal>,
    /// The mats.
    pub mat: Option<Terminal>,
    /// The belt.
    pub belt: Option<Terminal>,
    /// The stop devices.
    pub stop: Option<Terminal>,
}

impl CanLeg {
    /// The drive's counts for a metre, with the sign of its direction.
    pub fn counts_per_m(&self) -> f64 {
        let count = f64::from(self.counts_per_turn) / self.lead_m;
        if self.longer { count } else { -count }
    }

    /// The nearest count to a length; `None` for one that a drive cannot hold.
    pub fn counts(&self, length_m: f64) -> Option<i32> {
        let count = ((length_m - self.zero_m) * self.counts_per_m()).round();
        (count.abs() < f64::from(i32::MAX)).then_some(count as i32)
    }

    /// The length at a count, m.
    pub fn length_m(&self, counts: i32) -> f64 {
        self.zero_m + f64::from(counts) / self.counts_per_m()
    }

    /// The torque that gives a force at the nut, in thousandths of the rated torque, rounded down: F lead / (2 pi).
    pub fn permille(&self, force_n: f64) -> u16 {
        let torque_nm = force_n.max(0.0) * self.lead_m / std::f64::consts::TAU;
        (torque_nm / self.rated_nm * 1e3).min(f64::from(u16::MAX)) as u16
    }

    /// The force at the nut of a torque in thousandths, N, positive pushing the leg longer.
    pub fn force_n(&self, permille: i16) -> f64 {
        let torque_nm = f64::from(permille) * 1e-3 * self.rated_nm;
        let force_n = torque_nm * std::f64::consts::TAU / self.lead_m;
        if self.longer { force_n } else { -force_n }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn leg(longer: bool) -> CanLeg {
        CanLeg {
            node: 1,
            vendor: 1,
            product: 1,
            serial: None,
            counts_per_turn: 10_000,
            lead_m: 0.005,
            longer,
            zero_m: 0.43,
            rated_nm: 0.64,
            brake: None,
            sag_m: None,
            homed_bit: None,
        }
    }

    #[test]
    fn lengths_are_counts_from_zero() {
        // 10000 counts for 5 mm: 2 counts a micrometre.
        assert_eq!((leg(true).counts(0.540), leg(false).counts(0.540)), (Some(220_000), Some(-220_000)));
        assert!((leg(true).length_m(220_001) - 0.540_000_5).abs() < 1e-12);
        assert!((leg(false).length_m(220_001) - 0.319_999_5).abs() < 1e-12);
        assert_eq!((leg(true).counts(f64::NAN), leg(true).counts(2000.0)), (None, None));
    }

    #[test]
    fn forces_are_torques_by_the_lead() {
        // 0.64 N m at 5 mm: 0.64 * 2 pi / 0.005 = 804.2 N.
        assert!((leg(true).force_n(1000) - 804.247_719).abs() < 1e-6);
        assert!((leg(false).force_n(-500) - 402.123_859).abs() < 1e-6);
        assert_eq!((leg(true).permille(804.3), leg(true).permille(804.2)), (1000, 999));
        assert_eq!((leg(true).permille(-5.0), leg(true).permille(f64::INFINITY)), (0, u16::MAX));
    }
}
