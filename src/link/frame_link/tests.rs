use super::super::wire::{QueueWire, StreamWire, UdpWire};
use super::*;
use crate::link::frame::{FrameFault, Identity, LegFeedback, OrderKind, PowerState};
use crate::safety::operation::{Brakes, Inputs};
use std::time::Duration;

mod unallocated;

fn order(length_m: f64) -> DriveOrder {
    DriveOrder {
        apply_at: DriveTime(3000),
        kind: OrderKind::Follow,
        warn: false,
        release: true,
        lengths_m: Legs::filled(2, length_m),
        speeds_m_s: Legs::filled(2, -0.25),
        force_limits_n: Legs::filled(2, 900.0),
        windows_m: Legs::from_fn(2, |leg| [0.0031, 0.0042][leg]),
    }
}

fn feedback(session: u32, sequence: u32, position_nm: i64) -> Vec<u8> {
    let mut leg = [LegFeedback::default(); MAX_LEGS];
    leg[..2].fill(LegFeedback {
        position_nm,
        force_mn: -1500,
        temperature_dc: 305,
        flags: leg_flag::POWER,
        ..Default::default()
    });
    let feedback = Feedback {
        echo_us: 1000,
        echo_sequence: 1,
        state: PowerState::Follow,
        brakes: Brakes::Released,
        inputs: Inputs::CLOSED,
        homed: true,
        moving: false,
        fault: Some(FrameFault::Drive),
        fault_leg: 1,
        rejected: 0,
        legs: 2,
        leg,
    };
    bytes(Frame { header: Header { session, sequence, time_us: 1 }, body: Body::Feedback(feedback) })
}

fn bytes(frame: Frame) -> Vec<u8> {
    let mut to = [0; MAX_FRAME];
    let length = frame.write(&mut to).unwrap();
    to[..length].to_vec()
}

fn taken(wire: &mut QueueWire) -> Frame {
    let mut to = [0; MAX_FRAME];
    let length = wire.receive(&mut to).unwrap().unwrap();
    Frame::read(&to[..length]).unwrap()
}

#[test]
fn orders_go_out_in_the_wires_units_and_in_sequence() {
    let (near, mut far) = QueueWire::pair();
    let mut link = FrameLink::new(near, 7, 2, 20);
    link.send(DriveTime(2000), &order(0.5)).unwrap();
    link.send(DriveTime(4000), &order(0.501)).unwrap();
    let (one, two) = (taken(&mut far), taken(&mut far));
    assert_eq!((one.header.session, one.header.sequence, one.header.time_us), (7, 1, 2000));
    assert_eq!(two.header.sequence, 2);
    let Body::Order(order) = two.body else { panic!("{two:?}") };
    let leg = LegOrder { position_nm: 501_000_000, speed_um_s: -250_000, force_limit_mn: 900_000 };
    assert_eq!((order.leg[1], order.legs, order.silence_ms, order.apply_at_us), (leg, 2, 20, 3000));
    // The larger of both legs'.
    assert_eq!(order.window_um, 4200);
}

#[test]
fn what_is_not_fit_to_send_is_not_sent() {
    let (near, mut far) = QueueWire::pair();
    let mut link = FrameLink::new(near, 7, 2, 20);
    assert_eq!(link.send(DriveTime(0), &order(f64::NAN)), Err(LinkFault::NotANumber));
    assert_eq!(link.send(DriveTime(0), &order(f64::INFINITY)), Err(LinkFault::NotANumber));
    for window_m in [f64::NAN, 0.0] {
        let no_window = DriveOrder { windows_m: Legs::filled(2, window_m), ..order(0.5) };
        assert_eq!(link.send(DriveTime(0), &no_window), Err(LinkFault::NotANumber));
    }
    let three = DriveOrder { lengths_m: Legs::filled(3, 0.5), ..order(0.5) };
    assert_eq!(link.send(DriveTime(0), &three), Err(LinkFault::Count { found: 3, expected: 2 }));
    assert_eq!(far.receive(&mut [0; MAX_FRAME]), Ok(None));
}

#[test]
fn strangers_old_and_damaged_frames_are_dropped_and_counted() {
    let (near, mut far) = QueueWire::pair();
    let mut link = FrameLink::new(near, 7, 2, 20);
    far.send(&feedback(8, 1, 1)).unwrap();
    far.send(b"Cu\x01nonsense").unwrap();
    let mut damaged = feedback(7, 1, 2);
    damaged[60] ^= 1;
    far.send(&damaged).unwrap();
    assert_eq!((link.poll(DriveTime(0)).unwrap(), link.dropped()), (None, 3));
    // Reordered: the newest counts, the one that was overtaken is dropped; twice the same too.
    for (sequence, at) in [(u32::MAX, 10), (1, 30), (0, 20), (1, 40)] {
        far.send(&feedback(7, sequence, at)).unwrap();
    }
    let report = link.poll(DriveTime(4500)).unwrap().unwrap();
    assert_eq!((report.lengths_m[0], link.dropped()), (3e-8, 5));
    assert_eq!((report.round_trip_us, report.power), (Some(3500), true));
    assert_eq!(report.fault, Some((FrameFault::Drive, Some(1))));
    assert_eq!((report.forces_n[1], report.temperatures_c[0]), (-1.5, 30.5));
}

#[test]
fn a_flood_does_not_hold_the_cycle() {
    let (near, mut far) = QueueWire::pair();
    let mut link = FrameLink::new(near, 7, 2, 20);
    (0..500).for_each(|n| far.send(&feedback(7, n, i64::from(n))).unwrap());
    assert_eq!(link.poll(DriveTime(0)).unwrap().unwrap().lengths_m[0], 63e-9);
}

fn named(serial_number: u64) -> Vec<u8> {
    let mut name = [0; 32];
    name[..5].copy_from_slice(b"be\x07ch");
    let mut serial = [0; MAX_LEGS];
    serial[1] = serial_number;
    let identity = Identity { cycle_us: 2000, firmware: 3, parameters: 9, name, legs: 2, serial };
    let header = Header { session: 7, sequence: 1, time_us: 5 };
    bytes(Frame { header, body: Body::Identity(identity) })
}

/// A controller that is swapped, or switched off and on, while the program holds the link: it must say who it is before
/// what it reports counts.
#[test]
fn after_a_gap_or_a_new_beginning_who_is_there_must_say_so() {
    let (near, mut far) = QueueWire::pair();
    let mut link = FrameLink::new(near, 7, 2, 20);
    far.send(&named(42)).unwrap();
    assert!(link.identify(DriveTime(1)).unwrap().is_some());
    let taken = |far: &mut QueueWire| {
        let mut to = [0; MAX_FRAME];
        let all =
            std::iter::from_fn(|| far.receive(&mut to).unwrap().map(|n| Frame::read(&to[..n]).unwrap()));
        let (hellos, others): (Vec<_>, Vec<_>) = all.partition(|frame| frame.body == Body::Hello);
        (hellos.len(), others.len())
    };
    taken(&mut far);
    let heard = |link: &mut FrameLink<QueueWire>, far: &mut QueueWire, at_us: u64, sequence: u32| {
        far.send(&feedback(7, sequence, 1)).unwrap();
        let heard = link.poll(DriveTime(at_us)).map(|report| report.is_some());
        let sent = link.send(DriveTime(at_us), &order(0.5));
        let (hellos, orders) = taken(far);
        // Strangers are asked who they are, and get no orders.
        assert_eq!((sent, orders), if heard.is_ok() { (Ok(()), 1) } else { (Err(LinkFault::Stranger), 0) });
        (heard, hellos)
    };
    assert_eq!(heard(&mut link, &mut far, 10_000, 5000), (Ok(true), 0));
    // Somewhat late, and somewhat out of order: nothing.
    assert_eq!(heard(&mut link, &mut far, 109_000, 5001), (Ok(true), 0));
    assert_eq!(heard(&mut link, &mut far, 110_000, 4500), (Ok(false), 0));
    // A gap: reports count again when the name has been heard.
    assert_eq!(heard(&mut link, &mut far, 220_000, 5002), (Ok(false), 1));
    assert_eq!(heard(&mut link, &mut far, 221_000, 5003), (Ok(false), 1));
    far.send(&named(42)).unwrap();
    assert_eq!(heard(&mut link, &mut far, 222_000, 5004), (Ok(true), 0));
    // It counts from the beginning again, without a gap that one could see.
    assert_eq!(heard(&mut link, &mut far, 223_000, 1), (Ok(false), 1));
    far.send(&named(43)).unwrap();
    assert_eq!(heard(&mut link, &mut far, 224_000, 2), (Err(LinkFault::Stranger), 1));
    assert_eq!(heard(&mut link, &mut far, 225_000, 3).0, Err(LinkFault::Stranger));
    // The one that was there at first is back.
    far.send(&named(42)).unwrap();
    assert_eq!(heard(&mut link, &mut far, 226_000, 4), (Ok(true), 0));
}

#[test]
fn hello_is_answered_by_who_is_there() {
    let (near, mut far) = QueueWire::pair();
    let mut link = FrameLink::new(near, 7, 2, 20);
    assert_eq!(link.identify(DriveTime(1)), Ok(None));
    assert_eq!(taken(&mut far).body, Body::Hello);
    far.send(&named(42)).unwrap();
    let found = link.identify(DriveTime(2)).unwrap().unwrap();
    assert_eq!((found.name.as_str(), found.serials.as_slice()), ("bech", [0, 42].as_slice()));
}

/// A stream that takes a few bytes at a time and gives them back.
#[derive(Default)]
struct Trickle(std::collections::VecDeque<u8>, usize);

impl std::io::Write for Trickle {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.1 += 1;
        if self.1.is_multiple_of(31) {
            return Err(std::io::ErrorKind::WouldBlock.into());
        }
        let some = bytes.len().min(7);
        self.0.extend(&bytes[..some]);
        Ok(some)
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl std::io::Read for Trickle {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        let count = to.len().min(11).min(self.0.len());
        if count == 0 {
            return Err(std::io::ErrorKind::WouldBlock.into());
        }
        to.iter_mut().zip(self.0.drain(..count)).for_each(|(to, from)| *to = from);
        Ok(count)
    }
}

#[test]
fn a_line_that_takes_half_a_frame_loses_no_other() {
    let mut wire = StreamWire::over(Trickle::default());
    let frames: Vec<Vec<u8>> = (0..20).map(|n| feedback(7, n, 1 << n)).collect();
    let (mut sent, mut came) = (Vec::new(), Vec::new());
    let mut to = [0; MAX_FRAME];
    for frame in &frames {
        // What did not go out whole now goes out with the next.
        let before = wire.send(frame);
        sent.push(before.is_ok());
        while let Ok(Some(length)) = wire.receive(&mut to) {
            came.push(to[..length].to_vec());
        }
    }
    assert!(sent.contains(&false) && came.len() >= 15, "{sent:?} {}", came.len());
    assert!(came.iter().all(|frame| frames.contains(frame)), "every frame whole");
}

#[test]
fn datagrams_of_others_are_not_heard() {
    let far = std::net::UdpSocket::bind("127.0.0.1:0").unwrap();
    let stranger = std::net::UdpSocket::bind("127.0.0.1:0").unwrap();
    far.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
    let wire = UdpWire::to(&far.local_addr().unwrap().to_string()).unwrap();
    let mut link = FrameLink::new(wire, 7, 2, 20);
    link.send(DriveTime(1000), &order(0.5)).unwrap();
    let mut bytes = [0; 400];
    let (length, own) = far.recv_from(&mut bytes).unwrap();
    assert!(Frame::read(&bytes[..length]).is_ok());
    stranger.send_to(&feedback(7, 1, 111), own).unwrap();
    far.send_to(&feedback(7, 2, 222), own).unwrap();
    let report = (0..100_000).find_map(|_| link.poll(DriveTime(2000)).unwrap()).unwrap();
    assert_eq!((report.lengths_m[0], link.dropped()), (222e-9, 0));
}
