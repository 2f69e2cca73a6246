//! CANopen besides objects: network management, signs of life, synchronisation, emergencies. Source: CiA 301.

use super::wire::CanFrame;

/// Identifiers of the predefined connection set; those with a node have its number added.
pub mod cob {
    /// Network management.
    pub const NMT: u16 = 0x000;
    /// Synchronisation.
    pub const SYNC: u16 = 0x080;
    /// Emergencies, and a node.
    pub const EMERGENCY: u16 = 0x080;
    /// First report of a drive, and a node.
    pub const TPDO1: u16 = 0x180;
    /// Second report of a drive, and a node.
    pub const TPDO2: u16 = 0x280;
    /// Order to a drive, and a node.
    pub const RPDO1: u16 = 0x200;
    /// Answers about objects, and a node.
    pub const SDO_ANSWER: u16 = 0x580;
    /// Questions about objects, and a node.
    pub const SDO_QUESTION: u16 = 0x600;
    /// Signs of life, and a node.
    pub const HEARTBEAT: u16 = 0x700;
}

/// What a node is told; what else CiA 301 has (stop, reset) nothing here asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NmtCommand {
    /// Begin with orders and reports.
    Start,
    /// Only objects, signs of life and emergencies.
    PreOperational,
}

impl NmtCommand {
    /// To one node.
    pub fn to(self, node: u8) -> CanFrame {
        let command = match self {
            NmtCommand::Start => 0x01,
            NmtCommand::PreOperational => 0x80,
        };
        CanFrame::of(cob::NMT, 0, &[command, node])
    }
}

/// What a node says of itself in its sign of life.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NmtState {
    /// It has just begun anew.
    BootUp,
    /// Only signs of life.
    Stopped,
    /// Everything.
    Operational,
    /// No orders and reports.
    PreOperational,
    /// A number that means nothing.
    Unknown,
}

impl NmtState {
    /// Out of the byte of a heartbeat, its toggle bit left out.
    pub fn of(byte: u8) -> Self {
        match byte & 0x7F {
            0x00 => NmtState::BootUp,
            0x04 => NmtState::Stopped,
            0x05 => NmtState::Operational,
            0x7F => NmtState::PreOperational,
            _ => NmtState::Unknown,
        }
    }
}

/// This program's own sign of life.
pub fn heartbeat(host: u8) -> CanFrame {
    CanFrame::of(cob::HEARTBEAT, host, &[0x05])
}

/// The synchronisation.
pub fn sync() -> CanFrame {
    CanFrame::of(cob::SYNC, 0, &[])
}

/// What an emergency code means, the more special first. Source: CiA 301, emergency error codes; CiA 402
/// (IEC 61800-7-201), error codes of drives.
pub fn emergency_words(code: u16) -> &'static str {
    match code {
        0x0000 => "no error any more",
        0x2310 => "continuous over-current",
        0x2320 | 0x2330 | 0x2340 => "short circuit or earth leakage",
        0x2350 => "load too high for too long (i2t)",
        0x3110..=0x311F => "mains over-voltage",
        0x3120..=0x312F => "mains under-voltage",
        0x3210..=0x321F => "over-voltage of the DC link",
        0x3220..=0x322F => "under-voltage of the DC link",
        0x4210 => "drive too hot",
        0x4310 => "motor too hot",
        0x5441..=0x5444 => "a limit or stop input of the drive",
        0x6320 => "parameter error",
        0x7121 => "motor blocked",
        0x7300..=0x73FF => "encoder",
        0x8110 => "CAN overrun: messages lost",
        0x8120 => "CAN in error passive",
        0x8130 => "nothing was heard of this program: life guard or heartbeat",
        0x8140 => "recovered from bus off",
        0x8150 => "identifiers collide",
        0x8210 => "an order was too short",
        0x8220 => "an order was too long",
        0x8240 => "a synchronisation of unexpected length",
        0x8250 => "orders stayed away",
        0x8611 => "following error: too far from the set-point",
        0x8612 => "reference limit",
        _ => match code >> 8 {
            0x10 => "generic error",
            0x20..=0x2F => "current",
            0x30..=0x3F => "voltage",
            0x40..=0x4F => "temperature",
            0x50..=0x5F => "hardware of the drive",
            0x60..=0x6F => "software of the drive",
            0x70..=0x7F => "additional modules: brake, encoder, resistor",
            0x80 => "monitoring",
            0x81 => "communication",
            0x82 => "protocol",
            0x83..=0x8F => "monitoring of the drive: torque, speed or position",
            0x90 => "external error",
            0xF0..=0xFE => "additional functions",
            0xFF => "special to this drive: see its manual",
            _ => "a code that CiA 301 does not know: see the drive's manual",
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commands_and_signs_of_life_are_those_of_the_standard() {
        let frame = |id, data: &[u8]| CanFrame::new(id, data).unwrap();
        assert_eq!(NmtCommand::Start.to(5), frame(0, &[1, 5]));
        assert_eq!(NmtCommand::PreOperational.to(127), frame(0, &[0x80, 127]));
        assert_eq!((sync(), heartbeat(127)), (frame(0x80, &[]), frame(0x77F, &[5])));
        assert_eq!([0, 0x85, 0x7F, 4, 9].map(NmtState::of), {
            use NmtState::*;
            [BootUp, Operational, PreOperational, Stopped, Unknown]
        });
    }

    #[test]
    fn emergencies_are_named_from_special_to_general() {
        let words = [
            (0x8611, "following error: too far from the set-point"),
            (0x8130, "nothing was heard of this program: life guard or heartbeat"),
            (0x4377, "temperature"),
            (0x7305, "encoder"),
            (0x7110, "additional modules: brake, encoder, resistor"),
            (0xFF01, "special to this drive: see its manual"),
        ];
        words.iter().for_each(|(code, words)| assert_eq!(emergency_words(*code), *words, "{code:#06x}"));
    }
}
