//! One leg that is not heard any more, while the others are.

use super::*;

/// A drive that is not heard any more while its leg was fast: the brakes of the others close under torque, at once.
#[test]
fn brakes_of_legs_that_are_heard_do_not_wait_for_one_that_is_not() {
    for jogs in [false, true] {
        let mut bench = Bench::fit();
        if jogs {
            bench.cycles(50);
            bench.order(Order::Jog { leg: None, part: 1.0, longest_s: f64::INFINITY });
            bench.cycles(10);
            bench.far.presence(Input::Closed);
            bench.cycles(4500);
            assert_eq!((bench.state().0, bench.phase()), (Run::Jogging, Phase::Moving));
        } else {
            bench.follow();
        }
        bench.far.with(|far| {
            far.report.fault = Some((FrameFault::Drive, Some(1)));
            far.report.speeds_m_s = Legs::from_slice(&[0.0, f64::NAN]).unwrap();
        });
        let mut cycles = 0;
        while bench.far.with(|far| far.report.brakes) != Brakes::Set {
            assert!(bench.far.with(|far| far.report.power), "torque went before brakes, after {cycles} ms");
            bench.cycles(1);
            cycles += 1;
        }
        // The stop of the path, and the loops' lag; a jog has only to end.
        assert!(cycles < if jogs { 20 } else { 600 }, "{cycles} ms");
    }
}
