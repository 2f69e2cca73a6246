use super::super::sample::driven;
use super::super::{Container, Header, Note, Row, What};
use super::*;
use crate::safety::operation::Brakes;
use crate::safety::{Hold, Legs, MAX_AXES, Outcome, State};
use std::io::Write;
use std::sync::{Arc, Mutex};

#[derive(Clone, Default)]
pub(in crate::record) struct Paper(pub(in crate::record) Arc<Mutex<Vec<u8>>>);

impl Write for Paper {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

fn row(tick: u64) -> Row {
    let mut platform = [f64::NAN; MAX_AXES];
    platform[0] = 0.25;
    Row {
        tick,
        time_us: tick * 2000,
        path_s: 0.002 * tick as f64,
        rate: 1.0,
        gain: 0.5,
        state: if tick < 600 { State::Engaging } else { State::Following },
        platform,
        planned_m: Legs::filled(2, 0.5),
        sent_m: Legs::from_fn(2, |leg| 0.5 + 0.125 * leg as f64),
        measured_m: (tick > 0).then_some(Legs::filled(2, 0.75)),
        late_us: 7,
        outcome: Outcome::Held(Hold::Braking),
        drive: None,
    }
}

pub(in crate::record) fn written(finish: bool) -> Vec<u8> {
    written_by(u32::MAX, finish)
}

/// By a writer that is made anew after so many chunks.
pub(in crate::record) fn written_by(chunks: u32, finish: bool) -> Vec<u8> {
    written_cycles(1000, chunks, finish)
}

fn written_cycles(cycles: u64, chunks: u32, finish: bool) -> Vec<u8> {
    let paper = Paper::default();
    let header = Header {
        entries: vec![("rig".into(), "Larkfield".into())],
        legs: vec!["left".into(), "right".into()],
        axes: vec!["pitch_rad".into()],
        ..Header::default()
    };
    let mut container = Container::start(Box::new(paper.clone()), &header).unwrap().renewed_after(chunks);
    for tick in 0..cycles {
        container.row(&row(tick), 1).unwrap();
        if tick % 100 == 99 {
            container.flush().unwrap();
        }
    }
    let note = Note { time_us: 2_000_000, what: What::Late { by_us: 9 } };
    container.note(&note, &header.legs).unwrap();
    if finish {
        container.finish().unwrap();
    } else {
        container.flush().unwrap();
        std::mem::forget(container);
    }
    paper.0.lock().unwrap().clone()
}

#[test]
fn reads_what_it_wrote() {
    let logged = read_container(&written(true)).unwrap();
    assert!(!logged.cut_off);
    assert_eq!(
        (logged.legs.as_slice(), logged.axes.as_slice()),
        (["left", "right"].map(String::from).as_slice(), ["pitch_rad".to_string()].as_slice())
    );
    assert!(logged.entries.contains(&("rig".to_string(), "Larkfield".to_string())));
    assert_eq!(logged.cycles.len(), 1000);
    let (first, last) = (&logged.cycles[0], &logged.cycles[999]);
    assert!(first.measured_m[0].is_nan());
    assert_eq!((last.tick, last.time_s, last.sent_m[1], last.measured_m[0]), (999, 1.998, 0.625, 0.75));
    assert_eq!((last.platform[0], last.late_us, last.round_trip_us), (0.25, 7, None));
    assert_eq!(
        (logged.cycles[599].path.as_str(), logged.cycles[600].path.as_str()),
        ("engaging", "following")
    );
    assert_eq!(logged.events, [(2.0, "late by 9 us: deadlines set anew".to_string())]);
}

#[test]
fn a_container_cut_off_anywhere_is_good_up_to_its_last_chunk() {
    let bytes = written(false);
    let mut counts = Vec::new();
    for share in 4..=40 {
        let logged = read_container(&bytes[..bytes.len() * share / 40]).unwrap();
        assert!(logged.cut_off);
        assert!(logged.cycles.iter().enumerate().all(|(k, cycle)| cycle.tick == k as u64));
        counts.push(logged.cycles.len());
    }
    assert!(counts.is_sorted() && counts[0] < 200 && counts[36] == 1000, "{counts:?}");
}

#[test]
fn refuses_what_is_none() {
    assert!(read_container(b"").is_err() && read_container(b"a,b\n1,2\n").is_err());
    let bytes = written_cycles(60, u32::MAX, true);
    for at in (0..bytes.len()).step_by(37) {
        let mut bad = bytes.clone();
        bad[at] ^= 0x55;
        let _ = read_container(&bad);
    }
}

#[test]
fn what_is_heard_stands_with_its_cycle_and_silence_with_none() {
    let paper = Paper::default();
    let legs: Vec<String> = ["left", "right"].map(String::from).to_vec();
    let header = Header { entries: Vec::new(), legs, ..Header::default() };
    let mut container = Container::start(Box::new(paper.clone()), &header).unwrap();
    for (tick, heard_s) in [(0, f64::NAN), (1, 1.25), (2, 1.252), (3, f64::NAN)] {
        let mut row = driven(tick, [0.5, 0.6], Brakes::Released);
        row.drive.as_mut().unwrap().heard_s = heard_s;
        container.row(&row, 0).unwrap();
    }
    container.finish().unwrap();
    let logged = read_container(&paper.0.lock().unwrap()).unwrap();
    let heard: Vec<Option<f64>> = logged.cycles.iter().map(|cycle| cycle.heard_s).collect();
    assert_eq!(heard, [None, Some(1.25), Some(1.252), None]);
}

/// What lasts longer than an index may grow reads the same, whole and cut off; it only has no index.
#[test]
fn a_long_record_reads_as_a_short_one() {
    for finish in [true, false] {
        let (short, long) = (written(finish), written_by(3, finish));
        // By their words, in which what is no number is the same as itself.
        let words = |bytes: &[u8]| format!("{:?}", read_container(bytes).unwrap());
        assert!(words(&long) == words(&short), "finished: {finish}");
        assert_eq!(long[..8], short[..8]);
        assert!(!long[8..long.len() - 8].windows(8).any(|eight| eight == mcap::MAGIC), "begun once");
    }
    let summary = |bytes: &[u8]| mcap::Summary::read(bytes).unwrap();
    assert!(summary(&written(true)).unwrap().chunk_indexes.len() > 10);
    assert!(summary(&written_by(3, true)).is_none_or(|summary| summary.chunk_indexes.is_empty()));
}
