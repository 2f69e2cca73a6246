use super::*;
use crate::safety::operation::{Brakes, Input, Inputs};
use proptest::prelude::*;

fn order() -> Frame {
    let mut leg = [LegOrder::default(); MAX_LEGS];
    leg[0] = LegOrder { position_nm: 541_250_001, speed_um_s: -120_500, force_limit_mn: 980_000 };
    leg[1] = LegOrder { position_nm: -7, speed_um_s: 1, force_limit_mn: u32::MAX };
    let header = Header { session: 0xA1B2_C3D4, sequence: 70_000, time_us: 5_000_000_123 };
    let order = Order {
        apply_at_us: 5_000_002_123,
        kind: OrderKind::Follow,
        warn: false,
        release: true,
        silence_ms: 20,
        window_um: 3_100,
        legs: 2,
        leg,
    };
    Frame { header, body: Body::Order(order) }
}

fn feedback() -> Frame {
    let mut leg = [LegFeedback::default(); MAX_LEGS];
    leg[0] = LegFeedback {
        position_nm: 541_249_500,
        speed_um_s: -120_000,
        force_mn: 612_345,
        temperature_dc: 413,
        flags: leg_flag::POWER | leg_flag::RELEASED,
    };
    leg[1] = LegFeedback { force_mn: -1, temperature_dc: -5, flags: leg_flag::FAULT, ..leg[0] };
    let feedback = Feedback {
        echo_us: 5_000_000_123,
        echo_sequence: 70_000,
        state: PowerState::Fault,
        brakes: Brakes::Set,
        inputs: Inputs { mat: Input::Open, belt: Input::Unknown, ..Inputs::CLOSED },
        homed: true,
        moving: false,
        fault: Some(FrameFault::EndSwitch),
        fault_leg: 1,
        rejected: 3,
        legs: 2,
        leg,
    };
    let header = Header { session: 0xA1B2_C3D4, sequence: 9, time_us: 77 };
    Frame { header, body: Body::Feedback(feedback) }
}

fn identity() -> Frame {
    let mut name = [0; 32];
    name[..14].copy_from_slice("Larkfield no 1".as_bytes());
    let mut serial = [0; MAX_LEGS];
    serial[..2].copy_from_slice(&[0x1122_3344_5566_7788, 42]);
    let body = Body::Identity(Identity {
        cycle_us: 2000,
        firmware: 0x0001_0203,
        parameters: 99,
        name,
        legs: 2,
        serial,
    });
    Frame { header: Header { session: 1, sequence: 2, time_us: 3 }, body }
}

fn hello() -> Frame {
    Frame { header: Header { session: 1, sequence: 0, time_us: 3 }, body: Body::Hello }
}

fn bytes(frame: &Frame) -> Vec<u8> {
    let mut to = [0; MAX_FRAME];
    let length = frame.write(&mut to).unwrap();
    to[..length].to_vec()
}

#[test]
fn the_published_vectors_are_what_is_written_and_read() {
    let vectors = include_str!("../../../controller/vectors.txt");
    let frames = [("hello", hello()), ("order", order()), ("feedback", feedback()), ("identity", identity())];
    let hex = |frame: &Frame| bytes(frame).iter().map(|b| format!("{b:02x}")).collect::<String>();
    let lines: Vec<String> = frames.iter().map(|(name, frame)| format!("{name} {}", hex(frame))).collect();
    let published: Vec<&str> = vectors.lines().filter(|line| !line.starts_with('#')).collect();
    assert_eq!(published, lines);
    for (_, frame) in frames {
        assert_eq!(Frame::read(&bytes(&frame)), Ok(frame));
    }
}

#[test]
fn fields_stand_where_the_tables_say() {
    let order = bytes(&order());
    assert_eq!(order.len(), 40 + 2 * 16 + 4);
    assert_eq!(&order[..8], b"Cu\x02\x02\x4c\x00\x02\x00");
    assert_eq!(order[8..12], 0xA1B2_C3D4u32.to_le_bytes());
    assert_eq!(order[24..32], 5_000_002_123u64.to_le_bytes());
    assert_eq!(order[32..40], [2, 2, 20, 0, 0x1C, 0x0C, 0, 0]);
    assert_eq!(order[40..48], 541_250_001i64.to_le_bytes());
    assert_eq!(order[48..52], (-120_500i32).to_le_bytes());
    let feedback = bytes(&feedback());
    // presence 2, gate 2, mat 1, belt 0, stop 2, lowest first.
    assert_eq!(feedback[36..44], [6, 1, 0b0001_1010, 0b10, 1, 4, 1, 0]);
    assert_eq!(bytes(&identity())[40..44], *b"Lark");
}

/// Byte, value, and the field that cannot hold it.
const FEEDBACK_MUST_NOT: [(usize, u8, usize); 9] = [
    (36, 7, 36),
    (37, 3, 37),
    (38, 3, 38),
    (39, 4, 38),
    (40, 4, 40),
    (41, 9, 41),
    (42, 2, 42),
    (43, 1, 43),
    (48 + 18, 64, 48 + 18),
];

#[test]
fn what_is_wrong_is_named() {
    let changed = |frame: &Frame, at: usize, value: u8, mend: bool| {
        let mut bad = bytes(frame);
        bad[at] = value;
        if mend {
            let end = bad.len() - 4;
            let sum = crc32(&bad[..end]);
            bad[end..].copy_from_slice(&sum.to_le_bytes());
        }
        Frame::read(&bad).unwrap_err()
    };
    let with = |at, value, mend| changed(&order(), at, value, mend);
    assert_eq!(with(0, b'X', true), FrameError::Magic);
    assert_eq!(with(2, 1, true), FrameError::Version(1));
    assert_eq!(with(3, 9, true), FrameError::Kind(9));
    assert_eq!(with(6, 13, true), FrameError::Legs(13));
    assert!(matches!(with(6, 3, true), FrameError::Length { expected: 92, .. }));
    assert_eq!(with(7, 1, true), FrameError::Field(7));
    assert_eq!(with(32, 5, true), FrameError::Field(32));
    assert_eq!(with(33, 4, true), FrameError::Field(33));
    assert!(matches!(with(45, 0xff, false), FrameError::Checksum { .. }));
    // What is written as 0 is 0, and nothing is anything else than the tables name; in C the same places are looked at.
    let mut no_window = order();
    if let Body::Order(order) = &mut no_window.body {
        order.window_um = 0;
    }
    assert_eq!(Frame::read(&bytes(&no_window)), Err(FrameError::Field(36)));
    for (at, value, field) in FEEDBACK_MUST_NOT {
        assert_eq!(changed(&feedback(), at, value, true), FrameError::Field(field), "{at} {value}");
    }
    assert!(matches!(changed(&hello(), 6, 1, true), FrameError::Field(6)));
    assert_eq!(Frame::read(&[]), Err(FrameError::Length { found: 0, expected: 0 }));
}

proptest! {
    #[test]
    fn any_bytes_are_a_frame_or_a_reason(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = Frame::read(&bytes);
    }

    #[test]
    fn damage_is_found(at in 0usize..76, bit in 0u8..8) {
        let mut bad = bytes(&order());
        bad[at] ^= 1 << bit;
        prop_assert!(Frame::read(&bad).is_err());
    }

    #[test]
    fn orders_come_back_as_they_went(
        legs in 0..=MAX_LEGS,
        position_nm: i64, speed_um_s: i32, force_limit_mn: u32,
        session: u32, sequence: u32, time_us: u64, apply_at_us: u64, silence_ms: u16, window_um in 1_u32.., warn: bool, release: bool,
    ) {
        let mut leg = [LegOrder::default(); MAX_LEGS];
        leg[..legs].fill(LegOrder { position_nm, speed_um_s, force_limit_mn });
        let kind = OrderKind::Jog;
        let order = Order { apply_at_us, kind, warn, release, silence_ms, window_um, legs, leg };
        let frame = Frame { header: Header { session, sequence, time_us }, body: Body::Order(order) };
        prop_assert_eq!(Frame::read(&bytes(&frame)), Ok(frame));
    }
}
