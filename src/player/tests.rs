//! Whole runs of a scene in closed form on the simulated rig.

use super::sample::{Paper, Swing, play_on, play_with, setup};
use super::*;
use crate::link::{EngagedLink, Feedback, SetPoints, SimRig, sample::two_legs};
use crate::record::{Log, read};

/// Speeds and accelerations of what was sent stay inside the rig's limits; returns the largest of both.
fn assert_inside(log: &Log) -> (f64, f64) {
    let mut peaks = (0.0f64, 0.0f64);
    for leg in ["left", "right"] {
        let x = log.numbers(&format!("{leg} sent_m")).unwrap();
        assert!(x.iter().all(|x| (0.61 - 1e-9..=0.89 + 1e-9).contains(x)));
        for w in x.windows(3) {
            // The log has nanometres: 4e-9 / T^2 is 4e-3 m/s^2.
            let (speed, second) = ((w[2] - w[1]) / 1e-3, (w[2] - 2.0 * w[1] + w[0]) / 1e-6);
            assert!(speed.abs() <= 0.3 + 2e-6, "{speed}");
            assert!(second.abs() <= 3.0 + 4e-3, "{second}");
            peaks = (peaks.0.max(speed.abs()), peaks.1.max(second.abs()));
        }
    }
    peaks
}

fn states(log: &Log) -> Vec<String> {
    let mut states: Vec<String> = log.words("state").unwrap().iter().map(|s| s.to_string()).collect();
    states.dedup();
    states
}

/// Wherever the clock stands, what is sent is the scene's own path there.
fn assert_on_path(log: &Log, swing: &Swing) {
    let (t, gain) = (log.numbers("path_s").unwrap(), log.numbers("gain").unwrap());
    let state = log.words("state").unwrap();
    let sent = ["left", "right"].map(|leg| log.numbers(&format!("{leg} sent_m")).unwrap());
    let mut rows = 0;
    for row in (0..t.len()).filter(|row| ["following", "slowing"].contains(&state[*row])) {
        let path = swing.legs_m(t[row], gain[row]);
        for leg in 0..2 {
            // Scene time and gain stand in the log to a microsecond and a millionth, lengths to a nanometre.
            assert!((sent[leg][row] - path[leg]).abs() < 1e-6, "row {row} leg {leg}");
        }
        rows += 1;
    }
    assert!(rows > 1000);
}

#[test]
fn plays_from_park_to_the_end_and_holds() {
    let (played, log, _) = play_with(&Swing::default(), Options::default(), &[]);
    let played = played.unwrap();
    assert_eq!((played.state, played.played_out, played.interventions), (State::Holding, true, 0));
    assert_eq!(states(&log), ["engaging", "following", "holding"]);
    assert_on_path(&log, &Swing::default());
    let peaks = assert_inside(&log);
    assert!(peaks.0 > 0.1, "{peaks:?}");
    assert_eq!(played.end_m, [0.75, 0.75]);
    assert_eq!(log.rows.len() as u64, played.cycles);
    // The loop of 20 Hz lags 10.7 ms behind, the delay is 2 ms, a set-point applies a cycle after it was sent.
    for (name, leg) in &played.legs {
        let lag_s = leg.lag_s.unwrap();
        assert!((lag_s - 0.0137).abs() < 0.0003, "{name} {lag_s}");
        assert!(leg.peak_m < 0.24 * 0.014 && leg.rms_m < leg.peak_m && leg.rms_after_lag_m < 1e-4, "{leg:?}");
    }
    assert_eq!((played.late.total(), played.late.max_us()), (played.cycles, 0));
    let measured = log.numbers("left measured_m").unwrap();
    assert!((measured[measured.len() - 1] - 0.75).abs() < 1e-6);
}

#[test]
fn parks_at_the_end_when_told_to() {
    let options = Options { park_at_end: true, ..Options::default() };
    let (played, log, _) = play_with(&Swing::default(), options, &[]);
    let played = played.unwrap();
    assert_eq!((played.state, played.interventions), (State::Parked, 0));
    assert_eq!(states(&log), ["engaging", "following", "holding", "parking", "parked"]);
    assert_eq!(played.end_m, [0.65, 0.65]);
    assert_inside(&log);
}

#[test]
fn the_same_run_gives_the_same_bytes() {
    let script = [(6.0, Order::Pause), (8.0, Order::Resume)];
    let bytes = || play_with(&Swing::default(), Options::default(), &script).2;
    let one = bytes();
    assert!(one.len() > 100_000);
    assert!(one == bytes());
}

#[test]
fn a_pause_anywhere_stays_on_the_path_and_inside_the_limits() {
    for at in 0..12 {
        let at_s = 3.0 + f64::from(at) * 0.75;
        let script = [(at_s, Order::Pause), (at_s + 1.5, Order::Resume)];
        let (played, log, _) = play_with(&Swing::default(), Options::default(), &script);
        let played = played.unwrap();
        assert_eq!(
            (played.state, played.played_out, played.interventions),
            (State::Holding, true, 0),
            "{at_s}"
        );
        let expected = ["engaging", "following", "slowing", "holding", "following", "holding"];
        assert_eq!(states(&log), expected, "{at_s}");
        assert_on_path(&log, &Swing::default());
        assert_inside(&log);
        let rate = log.numbers("clock_rate").unwrap();
        assert!(rate.windows(2).all(|w| (w[1] - w[0]).abs() <= 0.0031 || w[1] == 0.0 || w[0] == 0.0));
    }
}

#[test]
fn a_clock_that_would_slow_too_hard_slows_as_hard_as_the_legs_allow() {
    // Up to 2.97 m/s^2 of 3, and a clock that would like to come to rest in a twentieth of a second.
    let swing = Swing { length_s: 8.0, pitch: (0.0, 1.0), roll: (0.0464, 2.0), ..Swing::default() };
    let mut setup = setup();
    setup.tempo = tempo::TempoLimits { change_per_s: 25.0, bend_per_s2: 2000.0 };
    for at in 0..10 {
        let script = [(3.8 + f64::from(at) * 0.053, Order::Pause), (6.5, Order::Resume)];
        let (played, log, _) = play_on(&setup, &swing, Options::default(), &script);
        let played = played.unwrap();
        assert_eq!((played.played_out, played.interventions), (true, 0), "{at} {:?}", log.events);
        assert_on_path(&log, &swing);
        let peaks = assert_inside(&log);
        assert!(peaks.1 > 2.8, "{peaks:?}");
    }
}

#[test]
fn a_clock_that_cannot_come_to_rest_in_time_leaves_the_path_for_a_coordinated_stop() {
    let mut setup = setup();
    setup.tempo = tempo::TempoLimits { change_per_s: 0.1, bend_per_s2: 1.0 };
    let script = [(5.0, Order::Pause)];
    let (played, log, _) = play_on(&setup, &Swing::default(), Options::default(), &script);
    let played = played.unwrap();
    assert_eq!((played.state, played.played_out), (State::Holding, false));
    assert_eq!(states(&log)[2..], ["slowing", "braking", "holding"]);
    assert!(log.events.iter().any(|(at_s, words)| words.starts_with("leaving the path") && *at_s < 7.1));
    assert_inside(&log);
}

#[test]
fn a_stop_ends_at_rest_on_the_path_and_begins_no_motion() {
    for order_at_s in [1.0, 4.0, 7.3, 9.1] {
        let options = Options { park_at_end: true, ..Options::default() };
        let script = [(order_at_s, Order::Stop), (order_at_s + 0.1, Order::Resume)];
        let (played, log, _) = play_with(&Swing::default(), options, &script);
        let played = played.unwrap();
        assert_eq!((played.state, played.played_out, played.interventions), (State::Stopped, false, 0));
        let states = states(&log);
        assert_eq!(states[states.len() - 2..], ["slowing", "stopped"]);
        assert!(!states.contains(&"parking".to_string()));
        assert!(log.events.iter().any(|(_, words)| words.starts_with("refused: the run is over")));
        assert_inside(&log);
        let state = log.words("state").unwrap();
        let sent = log.numbers("left sent_m").unwrap();
        let first = state.iter().position(|s| *s == "stopped").unwrap();
        assert!(sent[first..].iter().all(|x| *x == sent[first]));
        // From the order to rest in half a second.
        assert!((first as f64 / 1000.0 - order_at_s) < 0.5, "{first}");
    }
}

#[test]
fn park_and_level_are_acts_of_their_own() {
    let script = [
        (5.0, Order::Park),
        (6.0, Order::Pause),
        (7.0, Order::Level),
        (11.0, Order::Resume),
        (12.0, Order::Park),
    ];
    let (played, log, _) = play_with(&Swing::default(), Options::default(), &script);
    let played = played.unwrap();
    // After level nothing is left to wait for: the run ends there.
    assert_eq!((played.state, played.interventions), (State::Holding, 0));
    let expected = ["engaging", "following", "slowing", "holding", "levelling", "holding"];
    assert_eq!(states(&log), expected);
    assert!(log.events.iter().any(|(_, words)| words == "refused: moving: pause first"));
    assert_eq!(played.end_m, [0.75, 0.75]);
    assert_inside(&log);
}

#[test]
fn a_gain_change_is_a_ramp_inside_the_limits() {
    let script = [(4.0, Order::Gain(0.4)), (6.0, Order::Gain(1.5)), (7.5, Order::Gain(0.9))];
    let (played, log, _) = play_with(&Swing::default(), Options::default(), &script);
    let played = played.unwrap();
    assert_eq!((played.played_out, played.interventions), (true, 0));
    assert_eq!(played.remarks.len(), 1, "{:?}", played.remarks);
    assert!(played.remarks[0].contains("1.5 times"));
    assert_eq!(played.least_gain, 0.4);
    let gain = log.numbers("gain").unwrap();
    assert!(gain.contains(&0.4) && gain[gain.len() - 1] == 0.9, "{:?}", gain.last());
    assert_on_path(&log, &Swing::default());
    assert_inside(&log);
}

#[test]
fn a_start_outside_the_limits_is_refused_and_nothing_moves() {
    let setup = setup();
    let options = Options { fast: true, ..Options::default() };
    let swing = Swing::default();
    let run = Run { setup: &setup, scene: &swing, options: &options, clock: None };
    let paper = Paper::default();
    let link = SimRig::new(&two_legs(), &[0.65, 0.605]);
    let refused = run.play(link, &mut || None, Box::new(paper.clone()), &mut |_| ());
    assert!(matches!(refused, Err(PlayError::Start(StartError::Outside { leg: 1, .. }))), "{refused:?}");
    assert!(paper.0.lock().unwrap().is_empty());
}

/// A simulated rig to which something happens at a cycle.
struct Troubled<L> {
    link: L,
    at: u64,
    sent: u64,
    what: fn(&mut SimRig),
}

impl Link for Troubled<SimRig> {
    type Engaged = Troubled<<SimRig as Link>::Engaged>;
    fn identify(&mut self) -> Result<Identity, LinkFault> {
        self.link.identify()
    }
    fn poll(&mut self, now: DriveTime) -> Result<Feedback, LinkFault> {
        self.link.poll(now)
    }
    fn engage(self, now: DriveTime) -> Result<Self::Engaged, (Self, LinkFault)> {
        let link = self.link.engage(now).map_err(|e| e.1).unwrap();
        Ok(Troubled { link, at: self.at, sent: 0, what: self.what })
    }
}

impl EngagedLink for Troubled<<SimRig as Link>::Engaged> {
    type Idle = Troubled<SimRig>;
    fn send(&mut self, set_points: &SetPoints) -> Result<(), LinkFault> {
        self.sent += 1;
        if self.sent == self.at {
            (self.what)(self.link.rig());
        }
        self.link.send(set_points)
    }
    fn poll(&mut self, now: DriveTime) -> Result<Feedback, LinkFault> {
        self.link.poll(now)
    }
    fn release(self) -> Self::Idle {
        Troubled { link: self.link.release(), at: self.at, sent: 0, what: self.what }
    }
}

fn play_troubled(at: u64, what: fn(&mut SimRig)) -> (Played, Log) {
    let setup = setup();
    let options = Options { fast: true, park_at_end: true, ..Options::default() };
    let swing = Swing::default();
    let run = Run { setup: &setup, scene: &swing, options: &options, clock: None };
    let paper = Paper::default();
    let link = Troubled { link: SimRig::new(&two_legs(), &[]), at, sent: 0, what };
    let played = run.play(link, &mut || None, Box::new(paper.clone()), &mut |_| ()).unwrap();
    let bytes = paper.0.lock().unwrap().clone();
    (played, read(&bytes).unwrap())
}

#[test]
fn a_measured_jump_trips_and_stops_all_legs_together() {
    for at in [700, 7000, 8200] {
        let (played, log) = play_troubled(at, |rig| rig.slip_encoder(1, 0.05));
        assert_eq!((played.state, played.played_out), (State::Faulted, false));
        let states = states(&log);
        assert_eq!(states[states.len() - 2..], ["braking", "faulted"]);
        let trip = log.events.iter().find(|(_, words)| words.starts_with("tripped: right measured at"));
        assert!((trip.unwrap().0 - at as f64 / 1000.0).abs() < 0.002);
        assert_inside(&log);
        let sent = ["left", "right"].map(|leg| log.numbers(&format!("{leg} sent_m")).unwrap());
        let k = log.words("state").unwrap().iter().position(|s| *s == "braking").unwrap();
        let speed = |leg: usize, k: usize| sent[leg][k] - sent[leg][k - 1];
        for j in k..k + 20 {
            // Both have lost the same share of the speed that they had (to the nanometres of the log).
            let cross = speed(0, j) * speed(1, k - 1) - speed(1, j) * speed(0, k - 1);
            assert!(cross.abs() < 3e-9 * (speed(0, k - 1).abs() + speed(1, k - 1).abs()), "{cross}");
        }
    }
}

#[test]
fn a_silent_link_ends_braked_with_its_cause_in_the_record() {
    let (played, log) = play_troubled(6000, |rig| rig.set_silent(true));
    assert_eq!(played.state, State::Faulted);
    let causes: Vec<_> = log.events.iter().filter(|(_, words)| words.contains("the link failed")).collect();
    assert_eq!(causes.len(), 1);
    assert_inside(&log);
}

#[test]
fn frames_that_dry_up_end_in_a_coordinated_stop_and_a_reason() {
    let swing = Swing { dries_at: 6000, ..Swing::default() };
    let (played, log, _) = play_with(&swing, Options::default(), &[]);
    let played = played.unwrap();
    assert_eq!((played.state, played.played_out), (State::Holding, false));
    assert!(log.events.iter().any(|(_, words)| words == "slowing: the host renders too slowly"));
    assert_eq!(states(&log)[2..], ["braking", "holding"]);
    assert_inside(&log);
}

/// A log that takes so many bytes.
struct FullDisk(usize);

impl Write for FullDisk {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0 = self.0.checked_sub(bytes.len()).ok_or(std::io::ErrorKind::StorageFull)?;
        Ok(bytes.len())
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_full_disk_lets_go_on_the_path() {
    let setup = setup();
    let options = Options { fast: true, ..Options::default() };
    let swing = Swing::default();
    let run = Run { setup: &setup, scene: &swing, options: &options, clock: None };
    let link = SimRig::new(&two_legs(), &[]);
    let played = run.play(link, &mut || None, Box::new(FullDisk(400_000)), &mut |_| ()).unwrap();
    assert_eq!((played.state, played.played_out, played.interventions), (State::Stopped, false, 0));
    assert!(played.log_error.is_some());
}

#[test]
fn another_rig_is_not_played_on() {
    let setup = setup();
    let options = Options { fast: true, ..Options::default() };
    let swing = Swing::default();
    let run = Run { setup: &setup, scene: &swing, options: &options, clock: None };
    let mut rig = two_legs();
    rig.drive.cycle_us = 2000;
    let other = run.play(SimRig::new(&rig, &[]), &mut || None, Box::new(Paper::default()), &mut |_| ());
    assert!(matches!(other, Err(PlayError::WrongRig { .. })), "{other:?}");
}

#[test]
fn threads_on_a_cranked_clock_send_what_a_run_by_hand_sends() {
    // Lateness is the clock's here, so nothing depends on how busy the machine is.
    let setup = setup();
    let swing = Swing { length_s: 3.0, ..Swing::default() };
    let clock = clock::CrankedClock::default();
    clock.late_us.lock().unwrap().extend([0, 30, 700, 0, 60_000]);
    let options = Options::default();
    let run = Run { setup: &setup, scene: &swing, options: &options, clock: Some(&clock) };
    let paper = Paper::default();
    let link = SimRig::new(&two_legs(), &[]);
    let played = run.play(link, &mut || None, Box::new(paper.clone()), &mut |_| ()).unwrap();
    assert_eq!((played.late.max_us(), played.interventions), (60_000, 0));
    assert!(played.late.classes().any(|(edge, count)| edge == Some(1000) && count == 1));
    let bytes = paper.0.lock().unwrap().clone();
    let log = read(&bytes).unwrap();
    assert!(log.events.iter().any(|(_, words)| words == "late by 60000 us: deadlines set anew"));
    assert_eq!(log.entry("clock"), Some("real time"));
    assert_inside(&log);
}
