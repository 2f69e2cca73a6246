//! One leg alone rolls the platform: it goes so over an empty seat only, whoever asks, with a reference and without one.

use super::*;
use crate::record::What;
use crate::safety::operation::{Refusal, Request};

const OCCUPIED: Permit = Permit { vacant: false, ..FIT };
const ONE: Order = Order::Jog { leg: Some(0), part: 1.0, longest_s: 9.0 };
const ALL: Order = Order::Jog { leg: None, part: 1.0, longest_s: 9.0 };

/// Asks for a jog, lets go and takes hold, until it would move.
fn jogged(bench: &mut Bench<Obedient>, order: Order) {
    bench.far.presence(Input::Open);
    bench.cycles(50);
    bench.order(order);
    bench.cycles(10);
    bench.far.presence(Input::Closed);
    bench.cycles(4500);
}

fn speeds_m_s(bench: &Bench<Obedient>) -> Vec<f64> {
    bench.far.with(|far| far.jog_m_s.to_vec())
}

/// How it stands after a trip as much as at first; a trip takes nothing back of what was said of the seat.
fn benches(permit: Permit) -> [(&'static str, Bench<Obedient>); 3] {
    let mut unhomed = Bench::new(permit);
    unhomed.far.with(|far| far.report.homed = false);
    unhomed.cycles(50);
    let mut tripped = Bench::new(permit);
    tripped.follow();
    tripped.far.with(|far| far.report.fault = Some((FrameFault::Drive, Some(0))));
    tripped.cycles(2500);
    tripped.far.with(|far| far.report.fault = None);
    tripped.order(Order::Reset);
    [("at first", Bench::new(permit)), ("without a reference", unhomed), ("after a trip", tripped)]
}

#[test]
fn with_somebody_in_the_seat_one_leg_is_refused_by_its_name_and_all_go() {
    for (when, mut bench) in benches(OCCUPIED) {
        jogged(&mut bench, ONE);
        assert_ne!(bench.state().0, Run::Jogging, "{when}");
        assert_eq!((bench.phase(), bench.far.with(|far| far.report.power)), (Phase::Rest, false), "{when}");
        let why = Some(What::NotNow { request: Request::Jog, why: Refusal::OneLeg });
        assert_eq!(bench.cycle.view().refused.what, why, "{when}");
        jogged(&mut bench, ALL);
        assert_eq!((bench.state().0, bench.phase()), (Run::Jogging, Phase::Moving), "{when}");
        assert_eq!(speeds_m_s(&bench), [0.01, 0.01], "{when}");
    }
}

/// As a commissioning needs it.
#[test]
fn over_an_empty_seat_one_leg_goes() {
    for (when, mut bench) in benches(FIT) {
        jogged(&mut bench, ONE);
        assert_eq!((bench.state().0, bench.phase()), (Run::Jogging, Phase::Moving), "{when}");
        assert_eq!(speeds_m_s(&bench), [0.01, 0.0], "{when}");
    }
}

/// No shell says so; the cycle does not rely on it.
#[test]
fn a_jog_of_all_legs_does_not_become_one_of_a_single_leg() {
    let mut bench = Bench::new(OCCUPIED);
    jogged(&mut bench, ALL);
    assert_eq!(speeds_m_s(&bench), [0.01, 0.01]);
    let one = Legs::from_fn(2, |leg| [0.01, 0.0][leg]);
    for speeds_m_s in [one, Legs::from_fn(2, |leg| [0.01, -0.01][leg])] {
        bench.commands.push_back(Command::Jog { speeds_m_s, begins: false });
        bench.cycles(1);
        assert_eq!(self::speeds_m_s(&bench), [0.0, 0.0]);
    }
}
