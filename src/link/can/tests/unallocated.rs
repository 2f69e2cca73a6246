//! CAN drives are spoken to and heard without an allocation, in every kind of order and whatever they say; over a wire
//! that has none of its own.

use super::*;
use crate::link::allocations::counted;
use rtrb::{Consumer, Producer, RingBuffer};

/// Frames between two ends whose room was made at the beginning.
struct Ring {
    to: Producer<CanFrame>,
    from: Consumer<CanFrame>,
}

impl Ring {
    fn pair() -> (Self, Self) {
        let ((to_b, from_a), (to_a, from_b)) = (RingBuffer::new(256), RingBuffer::new(256));
        (Self { to: to_b, from: from_b }, Self { to: to_a, from: from_a })
    }
}

impl CanWire for Ring {
    fn send(&mut self, frame: &CanFrame) -> Result<(), LinkFault> {
        self.to.push(*frame).map_err(|_| LinkFault::Silent)
    }

    fn flush(&mut self) -> Result<(), LinkFault> {
        Ok(())
    }

    fn receive(&mut self) -> Result<Option<CanFrame>, LinkFault> {
        Ok(self.from.pop().ok())
    }
}

/// Drives behind such a wire, and what was allocated while they were polled and told.
struct Counted {
    link: CanLink<Ring>,
    far: Ring,
    fakes: [Fake; 2],
    now_us: u64,
    allocated: u64,
}

impl Counted {
    fn ready() -> Self {
        let (near, far) = Ring::pair();
        let mut counted = Self {
            link: CanLink::new(near, &rig()).unwrap(),
            far,
            fakes: [Fake::new(1, 100_000), Fake::new(2, -100_000)],
            now_us: 1000,
            allocated: 0,
        };
        for _ in 0..4000 {
            counted.now_us += CYCLE_US;
            if counted.link.identify(DriveTime(counted.now_us)).unwrap().is_some() {
                counted.cycles(20, OrderKind::Off, false);
                return counted;
            }
            counted.exchange();
        }
        panic!("never ready");
    }

    /// What the drives answer allocates, and is not counted.
    fn exchange(&mut self) {
        let (mut near, mut answers) = QueueCan::pair();
        while let Ok(Some(frame)) = self.far.receive() {
            self.fakes.iter_mut().for_each(|fake| fake.answer(&frame, &mut answers));
            self.fakes.iter_mut().for_each(|fake| fake.pass(&mut answers));
        }
        while let Ok(Some(frame)) = near.receive() {
            self.far.send(&frame).unwrap();
        }
    }

    fn cycles(&mut self, count: usize, kind: OrderKind, release: bool) -> Option<DriveReport> {
        let mut last = None;
        for _ in 0..count {
            self.now_us += CYCLE_US;
            let now = DriveTime(self.now_us);
            let order = DriveOrder {
                apply_at: now,
                kind,
                warn: kind == OrderKind::Hold,
                release,
                lengths_m: Legs::filled(2, 0.651),
                speeds_m_s: Legs::filled(2, 0.01),
                force_limits_n: Legs::filled(2, if kind == OrderKind::Follow { 700.0 } else { 402.2 }),
                windows_m: Legs::filled(2, 0.003),
            };
            let link = &mut self.link;
            let ((heard, sent), count) = counted(|| (link.poll(now), link.send(now, &order)));
            self.allocated += count;
            last = heard.unwrap().or(last);
            sent.unwrap();
            self.exchange();
        }
        last
    }
}

#[test]
fn neither_polls_nor_orders_allocate_in_any_act() {
    let mut can = Counted::ready();
    let brakes = |can: &mut Counted| can.fakes.iter_mut().for_each(|fake| fake.inputs ^= 3 << 20);
    can.cycles(20, OrderKind::Hold, false);
    brakes(&mut can);
    // More synchronisations than may wait for an answer, and another torque limit to be written.
    let report = can.cycles(200, OrderKind::Follow, true).unwrap();
    assert_eq!((report.state, report.brakes), (PowerState::Follow, Brakes::Released));
    assert!(can.fakes[0].written.iter().filter(|(index, ..)| *index == 0x6072).count() > 1);
    can.cycles(100, OrderKind::Hold, false);
    brakes(&mut can);
    can.cycles(1500, OrderKind::Off, false);
    can.cycles(50, OrderKind::Hold, false);
    brakes(&mut can);
    can.cycles(200, OrderKind::Jog, true);
    can.cycles(100, OrderKind::Hold, false);
    brakes(&mut can);
    can.cycles(1500, OrderKind::Off, false);
    can.cycles(50, OrderKind::Home, false);
    brakes(&mut can);
    let report = can.cycles(200, OrderKind::Home, true).unwrap();
    assert_eq!(report.state, PowerState::Home);
    can.fakes.iter_mut().for_each(|fake| fake.status = 0x1637);
    assert!(can.cycles(50, OrderKind::Home, true).unwrap().homed);
    assert_eq!(can.allocated, 0);
}

#[test]
fn neither_polls_nor_orders_allocate_when_drives_fail() {
    type Change = fn(&mut Counted);
    let changes: [Change; 5] = [
        |can| can.far.send(&CanFrame::of(cob::EMERGENCY, 2, &[0x10, 0x43, 0, 0, 0, 0, 0, 0])).unwrap(),
        // A fault without an emergency: the drive is asked for its code.
        |can| can.fakes[1].status = 0x218,
        |can| can.fakes[1].mute = true,
        |can| can.fakes.iter_mut().for_each(|fake| fake.mute = true),
        |can| can.far.send(&CanFrame::of(cob::HEARTBEAT, 2, &[0])).unwrap(),
    ];
    for (at, change) in changes.into_iter().enumerate() {
        let mut can = Counted::ready();
        can.cycles(20, OrderKind::Hold, false);
        can.fakes.iter_mut().for_each(|fake| fake.inputs ^= 3 << 20);
        can.cycles(50, OrderKind::Follow, true);
        change(&mut can);
        let report = can.cycles(100, OrderKind::Follow, true).unwrap();
        // All lost are a lost link, of which there is no report.
        assert!(report.fault.is_some() || at == 3, "{at}");
        can.cycles(700, OrderKind::Off, false);
        assert_eq!(can.allocated, 0, "{at}");
    }
}

/// Frames as text on a line of bytes, taken a few bytes at a time.
#[test]
fn an_adapter_on_a_line_does_not_allocate() {
    let stream = Taken { came: [0; 64], length: 0 };
    let mut wire = SlcanWire::open(stream, 1_000_000).unwrap();
    let frame = CanFrame::of(cob::RPDO1, 1, &[1, 2, 3, 4, 5, 6, 7, 8]);
    let (heard, count) = counted(|| {
        let mut heard = 0;
        for _ in 0..200 {
            (0..4).for_each(|_| _ = wire.send(&frame));
            let _ = wire.flush();
            while let Ok(Some(came)) = wire.receive() {
                heard += usize::from(came == frame);
            }
        }
        heard
    });
    assert!(heard > 100, "{heard}");
    assert_eq!(count, 0);
    drop(wire);
}

/// Gives back the last that was written to it, as far as it has room.
struct Taken {
    came: [u8; 64],
    length: usize,
}

impl std::io::Write for Taken {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let some = bytes.len().min(self.came.len());
        self.came[..some].copy_from_slice(&bytes[..some]);
        self.length = some;
        Ok(some)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl std::io::Read for Taken {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        let some = std::mem::take(&mut self.length).min(to.len());
        to[..some].copy_from_slice(&self.came[..some]);
        Ok(some)
    }
}
