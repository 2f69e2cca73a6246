//! What can be wrong with drives on a CAN bus before anything is engaged: with the node, the object, what was found and
//! what to do. Plain values.

use super::cia402::{DriveState, Mode};

/// An entry of a drive's object dictionary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Object {
    /// Index.
    pub index: u16,
    /// Sub-index.
    pub sub: u8,
}

impl Object {
    /// At an index and a sub-index.
    pub const fn at(index: u16, sub: u8) -> Self {
        Self { index, sub }
    }
}

impl std::fmt::Display for Object {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "0x{:04X}:{:02X}", self.index, self.sub)
    }
}

/// Why drives on a CAN bus are not engaged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CanFault {
    /// No answer about an object.
    #[error(
        "node {node} does not answer about object {object}: look at its supply, its node id, the bit rate and the two terminators of the bus"
    )]
    Silent {
        /// Which node.
        node: u8,
        /// What was asked.
        object: Object,
    },
    /// The drive refuses.
    #[error("node {node} refuses to {} object {object}: {} (abort code 0x{code:08X})", if *write { "have written" } else { "tell" }, abort_words(*code))]
    Refused {
        /// Which node.
        node: u8,
        /// Which object.
        object: Object,
        /// Whether it was to be written.
        write: bool,
        /// Its abort code.
        code: u32,
    },
    /// The drive says something else than was written.
    #[error(
        "node {node} does not keep what is written to object {object}: written 0x{written:X}, read back 0x{found:X}; set it with the drive's own tool, or look for a lock of its parameters"
    )]
    NotKept {
        /// Which node.
        node: u8,
        /// Which object.
        object: Object,
        /// What was written.
        written: u32,
        /// What was read back.
        found: u32,
    },
    /// An object that is longer than this program reads.
    #[error("node {node} tells more of object {object} than the four bytes that it should have")]
    TooLong {
        /// Which node.
        node: u8,
        /// Which object.
        object: Object,
    },
    /// No drive.
    #[error(
        "node {node} is no drive: device type 0x{found:08X}, expected profile 402 (0x0192) in its lower half"
    )]
    NotADrive {
        /// Which node.
        node: u8,
        /// 0x1000.
        found: u32,
    },
    /// Another drive.
    #[error("node {node} is not the drive of the rig file: object {object} ({}) is 0x{found:X}, expected 0x{expected:X}; look whether node ids are swapped, or correct [[can.leg]]", identity_words(object.sub))]
    OtherDrive {
        /// Which node.
        node: u8,
        /// Which part of 0x1018.
        object: Object,
        /// What it is.
        found: u32,
        /// What the rig file says.
        expected: u32,
    },
    /// Somebody else runs the drive.
    #[error("node {node} is in `{}` already: another program or a panel runs it; end that first", state.words())]
    Running {
        /// Which node.
        node: u8,
        /// Its state.
        state: DriveState,
    },
    /// A mode that the drive does not have.
    #[error("node {node} does not have the mode {}: it says 0x{supported:08X} (object 0x6502); choose another `mode` in [can], or set the drive up for it", mode.words())]
    NoMode {
        /// Which node.
        node: u8,
        /// Which mode.
        mode: Mode,
        /// 0x6502.
        supported: u32,
    },
    /// The rated torque is another.
    #[error(
        "node {node} has a rated torque of {found} mN*m (object 0x6076), and the rig file says {expected} mN*m: every force would be wrong by that; correct `rated_torque`, or the motor's data in the drive"
    )]
    OtherTorque {
        /// Which node.
        node: u8,
        /// 0x6076.
        found: u32,
        /// What the rig file says.
        expected: u32,
    },
    /// Nothing stops the drive when this program falls silent.
    #[error(
        "node {node} would go on when this computer falls silent: it has neither a time-out of orders (0x1400:05) nor one of signs of life (0x1016:01) with a reaction (0x6007); it is not engaged. Set one up with the drive's own tool, or take another drive; a relay that watches the computer and takes the drive's enable away is the last way out, and then this link is not the one to use"
    )]
    NoWatchdog {
        /// Which node.
        node: u8,
    },
    /// It was told to begin with reports, and did not.
    #[error(
        "node {node} was told to become operational, and sends no report: look at its PDOs, and at who else manages the network"
    )]
    NoReport {
        /// Which node.
        node: u8,
    },
}

fn identity_words(sub: u8) -> &'static str {
    match sub {
        1 => "vendor",
        2 => "product",
        3 => "revision",
        4 => "serial number",
        _ => "identity",
    }
}

/// What an abort code means. Source: CiA 301, SDO abort codes.
pub fn abort_words(code: u32) -> &'static str {
    match code {
        0x0503_0000 => "the toggle bit did not alternate",
        0x0504_0000 => "the protocol timed out",
        0x0504_0001 => "a command that is not known",
        0x0504_0002 => "block size out of range",
        0x0504_0003 => "block sequence number out of range",
        0x0504_0004 => "checksum wrong",
        0x0504_0005 => "out of memory",
        0x0601_0000 => "this object cannot be accessed in that way",
        0x0601_0001 => "it can only be written",
        0x0601_0002 => "it can only be read",
        0x0602_0000 => "there is no such object",
        0x0604_0041 => "it cannot be mapped into a PDO",
        0x0604_0042 => "more than a PDO can carry",
        0x0604_0043 => "parameters do not go together",
        0x0604_0047 => "incompatible inside the drive",
        0x0606_0000 => "hardware error",
        0x0607_0010 => "of another type or length",
        0x0607_0012 => "too long",
        0x0607_0013 => "too short",
        0x0609_0011 => "there is no such sub-index",
        0x0609_0030 => "the value is not allowed",
        0x0609_0031 => "the value is too large",
        0x0609_0032 => "the value is too small",
        0x0609_0036 => "largest below smallest value",
        0x060A_0023 => "a resource is not there",
        0x0800_0000 => "general error",
        0x0800_0020 => "it cannot be stored or used",
        0x0800_0021 => "not while it is controlled locally",
        0x0800_0022 => "not in the state that the drive is in",
        0x0800_0023 => "there is no object dictionary",
        0x0800_0024 => "there are no data",
        _ => "a code that CiA 301 does not know",
    }
}

/// Whether an abort code says that the object is not there at all.
pub(super) fn is_absent(code: u32) -> bool {
    matches!(code, 0x0602_0000 | 0x0609_0011)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_name_the_node_the_object_and_what_to_do() {
        let object = Object::at(0x1018, 2);
        let other = CanFault::OtherDrive { node: 2, object, found: 0xBAD, expected: 0xC0DE };
        assert!(other.to_string().starts_with(
            "node 2 is not the drive of the rig file: object 0x1018:02 (product) is 0xBAD, expected 0xC0DE"
        ));
        let refused =
            CanFault::Refused { node: 1, object: Object::at(0x1600, 0), write: true, code: 0x0604_0041 };
        assert_eq!(
            refused.to_string(),
            "node 1 refuses to have written object 0x1600:00: it cannot be mapped into a PDO (abort code 0x06040041)"
        );
        assert!(is_absent(0x0602_0000) && is_absent(0x0609_0011) && !is_absent(0x0601_0002));
    }
}
