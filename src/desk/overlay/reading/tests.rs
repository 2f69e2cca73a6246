use super::*;
use crate::record::{CheckNotes, Container, Header, Note, Row, What};
use crate::safety::{Legs, MAX_AXES, Outcome, State};
use std::path::PathBuf;

/// A record of 2 s at 500 Hz: left stands at 0.6 m and comes to 0.601 m, right is not heard of.
fn written(folder: &Path, finish: bool) -> PathBuf {
    let path = folder.join("small-1.mcap");
    let header = Header {
        entries: vec![("scene".into(), "small".into()), ("cycle_us".into(), "2000".into())],
        legs: ["left", "right"].map(String::from).to_vec(),
        axes: vec!["pitch_rad".into()],
        check: CheckNotes::default(),
    };
    let mut container = Container::start(Box::new(std::fs::File::create(&path).unwrap()), &header).unwrap();
    for tick in 0..1000 {
        let row = Row {
            tick,
            time_us: tick * 2000,
            path_s: tick as f64 * 0.002,
            rate: 1.0,
            gain: 1.0,
            state: State::Following,
            platform: [0.0; MAX_AXES],
            planned_m: Legs::filled(2, 0.6),
            sent_m: Legs::filled(2, 0.6),
            measured_m: Legs::from_slice(&[0.601, f64::NAN]),
            late_us: 0,
            outcome: Outcome::Followed,
            drive: None,
        };
        container.row(&row, 1).unwrap();
        if tick == 500 {
            let note = Note { time_us: 1_000_000, what: What::Late { by_us: 9 } };
            container.note(&note, &header.legs).unwrap();
        }
        if tick % 50 == 49 {
            container.flush().unwrap();
        }
    }
    if finish {
        container.finish().unwrap();
    } else {
        std::mem::forget(container);
    }
    path
}

fn failed(path: &Path) -> String {
    read(path, &mut |_| true).unwrap_err()
}

#[test]
fn a_record_is_laid_with_its_marks_and_a_cut_off_one_as_far_as_it_goes() {
    let folder = tempfile::tempdir().unwrap();
    let laid = read(&written(folder.path(), true), &mut |_| true).unwrap().unwrap();
    assert_eq!((laid.head.scene.as_str(), laid.played.as_slice()), ("small", [(0.0, 1.998)].as_slice()));
    assert_eq!((laid.marks.len(), laid.marks[0].at_s, laid.cut_off), (1, 1.0, false));
    assert!((laid.worst[0].error_m - 0.001).abs() < 1e-12);
    assert_eq!(laid.whole(super::super::Line::Error, 1), None, "nothing was heard of the right leg");
    let path = written(folder.path(), false);
    let bytes = std::fs::read(&path).unwrap();
    std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    let half = read(&path, &mut |_| true).unwrap().unwrap();
    assert!(half.cut_off && (0.5..1.5).contains(&half.played[0].1), "{:?}", half.played);
}

#[test]
fn what_is_no_record_says_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("x.mcap");
    assert!(
        failed(&path).ends_with("x.mcap`: choose one of the list, or look at the path"),
        "{}",
        failed(&path)
    );
    std::fs::write(&path, "scene").unwrap();
    assert!(
        failed(&path).contains("is no record of a run on drives (it does not begin like one): choose a file")
    );
    std::fs::write(&path, "# layout: 1\na\n").unwrap();
    assert!(failed(&path).contains("text log"));
    std::fs::write(&path, mcap::MAGIC).unwrap();
    let empty = failed(&path);
    assert!(
        empty.contains("is no record of a run on drives (") && empty.contains("choose a file"),
        "{empty}"
    );
    assert!(failed(folder.path()).contains("is not a file"));
}

#[test]
fn nobody_waits_for_what_is_not_wanted_any_more() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(read(&written(folder.path(), true), &mut |_| false), Ok(None));
}
