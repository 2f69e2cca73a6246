//! What carries set-points to drives, and a link opened from its words. Nothing is sent yet.

use super::DriveError;
#[cfg(feature = "serial")]
use crate::link::can::{self, CanLink, CanWire};
use crate::link::wire::UdpWire;
use crate::link::{DriveLink, FrameLink, SimDrives, SimHand};
use crate::player::run_number;
use crate::rig::Rig;
use crate::rig::patience_ms;

/// What carries set-points to drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Carrier {
    /// Nothing: the drives are simulated in this program.
    Sim,
    /// The open frame over a network.
    Udp,
    /// The open frame over a serial line.
    Serial,
    /// CiA 402 drives over CANopen, through an slcan adapter or an interface of the system.
    Can,
}

impl Carrier {
    /// All of them.
    pub const ALL: [Carrier; 4] = [Carrier::Sim, Carrier::Udp, Carrier::Serial, Carrier::Can];

    /// The word in records and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Carrier::Sim => "sim",
            Carrier::Udp => "udp",
            Carrier::Serial => "serial",
            Carrier::Can => "can",
        }
    }

    /// What it is, for people.
    pub fn meaning(self) -> &'static str {
        match self {
            Carrier::Sim => "simulated drives in this program: nothing real moves",
            Carrier::Udp => "the open frame over a network",
            Carrier::Serial => "the open frame over a serial line",
            Carrier::Can => {
                "CiA 402 drives over CANopen, through an slcan adapter or an interface of the system"
            }
        }
    }

    /// Whether a far end has to be found by an address.
    pub fn has_address(self) -> bool {
        self != Carrier::Sim
    }

    /// An address as it is written for this one.
    pub fn example(self) -> &'static str {
        match self {
            Carrier::Sim => "in this program",
            Carrier::Udp => "192.168.7.2:7750",
            Carrier::Serial => "/dev/ttyACM0@921600",
            Carrier::Can => "/dev/ttyACM0",
        }
    }
}

/// A link that was opened.
pub struct Opened {
    /// The link.
    pub link: Box<dyn DriveLink>,
    /// What an operator should know of it, a sentence each.
    pub notes: Vec<String>,
    /// What does things to the far end, where it is a simulated one.
    pub hand: Option<SimHand>,
}

/// Opens the link to the far end at `to`; a simulated one stands at park, its presence input open.
///
/// # Errors
/// When the rig has legs that drives are not spoken to about yet, or the address cannot be opened.
pub fn open(carrier: Carrier, to: &str, rig: &Rig) -> Result<Opened, DriveError> {
    if let Some(leg) = rig.actuators.iter().find(|leg| leg.crank.is_some()) {
        return Err(DriveError::Link(format!(
            "`{}` is a crank, and drives are sent lengths of ball screws so far: how a crank is homed and counted is not \
             known to this program yet; play it on the simulated rig, or render its set-points to a file",
            leg.name
        )));
    }
    if carrier != Carrier::Sim
        && let Some(leg) = rig.actuators.iter().find(|leg| !leg.thrust_n.is_finite())
    {
        return Err(DriveError::Link(format!(
            "`{}` has no `thrust` in the rig file, so its drive could be told no force limit, and a snagged cable or somebody \
             under the frame would meet all that it can give: write the largest force of the leg there",
            leg.name
        )));
    }
    let (legs, session) = (rig.actuators.len(), run_number());
    let silence_ms = patience_ms(rig.drive.detection_s, rig.drive.cycle_us);
    let failed = |e: std::io::Error| DriveError::Link(format!("cannot open the link to `{to}`: {e}"));
    match carrier {
        Carrier::Sim => {
            let (drives, hand) = SimDrives::new(rig, &[]);
            let notes = vec!["simulated drives: nothing real moves".to_string()];
            Ok(Opened { link: Box::new(drives), notes, hand: Some(hand) })
        }
        Carrier::Udp => {
            let wire = UdpWire::to(to).map_err(failed)?;
            let link = Box::new(FrameLink::new(wire, session, legs, silence_ms));
            Ok(Opened { link, notes: Vec::new(), hand: None })
        }
        #[cfg(feature = "serial")]
        Carrier::Serial => {
            let wire = crate::link::wire::StreamWire::serial(to).map_err(failed)?;
            let link = Box::new(FrameLink::new(wire, session, legs, silence_ms));
            Ok(Opened { link, notes: Vec::new(), hand: None })
        }
        #[cfg(feature = "serial")]
        Carrier::Can => open_can(to, rig),
        #[cfg(not(feature = "serial"))]
        Carrier::Serial | Carrier::Can => {
            Err(DriveError::Link("this program was built without the feature `serial`".into()))
        }
    }
}

#[cfg(feature = "serial")]
fn open_can(to: &str, rig: &Rig) -> Result<Opened, DriveError> {
    // What the rig file lacks is said before a port is looked for.
    let usage = can::usage(rig).map_err(|e| DriveError::Link(e.to_string()))?;
    if rig.parts.can.as_ref().is_some_and(|part| part.warning.is_none()) {
        return Err(DriveError::Link(
            "the table [can] names no output that sounds the warning, and nothing moves without one: wire a horn or a buzzer to a \
             digital output of a drive, and write which, like `warning = { leg = \"left\", bit = 16 }`"
                .to_string(),
        ));
    }
    let bit_rate = rig.parts.can.as_ref().map_or(0, |part| part.bit_rate);
    let failed = |e: std::io::Error| DriveError::Link(format!("cannot open the link to `{to}`: {e}"));
    let is_port = to.contains(['/', '\\']) || to.to_ascii_uppercase().starts_with("COM");
    let wire: Box<dyn CanWire> = if is_port {
        Box::new(can::SlcanWire::serial(to, bit_rate).map_err(failed)?)
    } else {
        interface(to).map_err(failed)?
    };
    let link = CanLink::new(wire, rig).map_err(|e| DriveError::Link(e.to_string()))?;
    let mut notes = vec![format!(
        "CAN at {bit_rate} bit/s: at most {:.0} % of the bus is used; forces and inputs every {} of {} us",
        usage.share * 100.0,
        usage.every,
        rig.drive.cycle_us
    )];
    if !is_port {
        notes.push(format!("the system sets the bit rate of `{to}`: it must be {bit_rate} bit/s there too"));
    }
    notes.extend(can::unknown(rig).iter().map(|words| format!("not known: {words}")));
    Ok(Opened { link: Box::new(link), notes, hand: None })
}

#[cfg(all(feature = "serial", target_os = "linux"))]
fn interface(name: &str) -> std::io::Result<Box<dyn CanWire>> {
    Ok(Box::new(can::SocketWire::open(name)?))
}

#[cfg(all(feature = "serial", not(target_os = "linux")))]
fn interface(_: &str) -> std::io::Result<Box<dyn CanWire>> {
    let words =
        "CAN interfaces of the system are spoken to on Linux only; give the serial port of an slcan adapter";
    Err(std::io::Error::new(std::io::ErrorKind::Unsupported, words))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::sample::two_legs;

    #[test]
    fn a_link_that_cannot_be_opened_says_why_and_where() {
        let mut rig = two_legs();
        rig.actuators.iter_mut().for_each(|leg| leg.thrust_n = 1500.0);
        let said = |carrier, to| open(carrier, to, &rig).err().map(|e| e.to_string()).unwrap_or_default();
        assert!(said(Carrier::Udp, "no port here").contains("cannot open the link to `no port here`"));
        assert_eq!(said(Carrier::Udp, "127.0.0.1:7750"), "");
        // Without a thrust there is no limit that a drive could be told, nor a force that would be too much.
        let mut rig = rig.clone();
        rig.actuators[1].thrust_n = f64::INFINITY;
        let refused =
            open(Carrier::Udp, "127.0.0.1:7750", &rig).err().map(|e| e.to_string()).unwrap_or_default();
        assert!(refused.contains("has no `thrust`") && refused.contains(&rig.actuators[1].name), "{refused}");
        assert!(open(Carrier::Sim, "", &rig).is_ok());
        if cfg!(feature = "serial") {
            assert!(said(Carrier::Serial, "/nowhere/tty@9600").contains("`/nowhere/tty@9600`"));
        }
    }
}
