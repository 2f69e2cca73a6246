use super::*;
use proptest::prelude::*;

/// A file of 60 Hz rows: time and a column `pitch`.
fn file(rows: usize, row: impl Fn(usize) -> (f64, f64)) -> String {
    let mut out = String::from("time_s,roll,pitch\n");
    for k in 0..rows {
        let (t, x) = row(k);
        out.push_str(&format!("{t},0,{x}\n"));
    }
    out
}

fn plain(k: usize) -> (f64, f64) {
    (k as f64 / 60.0, libm::sin(k as f64 * 0.05))
}

fn error(text: &str) -> (u64, String) {
    let error = read_csv(text.as_bytes(), "pitch").unwrap_err();
    (error.row, error.what)
}

#[test]
fn a_plain_file_is_read() {
    let recording = read_csv(file(100, plain).as_bytes(), "pitch").unwrap();
    assert_eq!(recording.time_s.len(), 100);
    assert_eq!((recording.time_s[6], recording.value[6]), plain(6));
    assert_eq!(recording.remarks, []);
    assert_eq!(recording.extent_s(), (0.0, 99.0 / 60.0));
    let with_mark = format!("\u{feff}{}", file(100, plain).replace('\n', "\r\n"));
    assert_eq!(read_csv(with_mark.as_bytes(), "pitch").unwrap(), recording);
}

/// Whatever was read of a table before, a column is what it is alone, and so is what is wrong with it.
#[test]
fn a_second_column_is_what_it_is_alone() {
    let mut text = String::from("time_ms,roll,pitch\n");
    for k in 0..60 {
        let (t, x) = plain(k);
        let row = format!("{},{},{x}\n", t * 1000.0, -2.0 * x);
        text += &row;
        // Blank lines are no rows of a column, and count all the same.
        text += if k % 7 == 0 { "\n" } else { "" };
    }
    let broken = text.replace(&format!("{},", -2.0 * plain(30).1), "x,");
    for text in [text.replace('\n', "\r\n"), text.replace("roll", "\"roll\""), text, broken] {
        let mut table = Table::new(text.as_bytes());
        for column in ["pitch", "roll", "yaw", "pitch", "roll"] {
            assert_eq!(table.column(column), read_csv(text.as_bytes(), column), "{column}");
        }
    }
}

#[test]
fn the_time_column_is_found_and_its_unit_understood() {
    let rows: String = (0..20).map(|k| format!("{},{}\n", k * 20, k * k)).collect();
    let last = |header: &str| {
        read_csv(format!("{header}\n{rows}").as_bytes(), "pitch").map(|r| *r.time_s.last().unwrap())
    };
    for (header, expected) in [
        ("time_ms,pitch", 0.38),
        ("Time [ms],pitch", 0.38),
        ("t,pitch", 380.0),
        ("time (s),pitch", 380.0),
        ("TIME,pitch", 380.0),
    ] {
        assert_eq!(last(header).unwrap(), expected, "{header}");
    }
    for header in ["time_min,pitch", "timestamp,pitch", "time_us,pitch"] {
        let error = last(header).unwrap_err();
        assert!(error.row == 1 && error.what.contains("in no known unit"), "{error}");
    }
    assert!(last("clock,pitch").unwrap_err().what.contains("no time column among `clock`, `pitch`"));
    assert!(last("time,pich").unwrap_err().what.contains("did you mean `pich`?"));
    assert!(last("pitch,pitch").unwrap_err().what.contains("no time column"));
}

#[test]
fn what_cannot_be_used_is_refused_with_its_row() {
    let text = |bad: &str| {
        let mut lines: Vec<String> = file(30, plain).lines().map(str::to_owned).collect();
        lines[11] = bad.to_owned();
        lines.join("\n")
    };
    // Row 12 is line index 11: sample 10, at 1/6 s; the one before is at 0.15 s.
    for (bad, expected) in [
        ("0.16,0,fast", "`pitch` is `fast`, expected a number"),
        ("0.16,0,", "`pitch` is empty"),
        ("0.16,0,\"1,5\"", "write decimals with a point"),
        ("0.16,0,NaN", "not a finite number"),
        ("0.16,0,inf", "not a finite number"),
        ("nan,0,1", "not a finite number"),
        ("0.16,0,1e100", "more than any motion"),
        ("0.16,0", "found 2 fields, expected 3"),
        ("0.16,0,1,2", "found 4 fields, expected 3"),
        ("0.15,0,1", "repeats that of the row before"),
        ("0.14,0,1", "lies before 0.15 s"),
    ] {
        let (row, what) = error(&text(bad));
        assert_eq!(row, 12, "{bad}: {what}");
        assert!(what.contains(expected), "{what}");
    }
    // Blank lines count as rows of the file, and so does a line end inside quotes.
    let (row, what) = error(&text("\n\n0.16,0,fast"));
    assert_eq!(row, 14, "{what}");
    let (row, _) = error(&text("0.16,\"a\nb\",1\n0.161,0,fast"));
    assert_eq!(row, 14);
    let (row, _) = error(&text("0.16,0,fast").replace('\n', "\r\n"));
    assert_eq!(row, 12);
}

#[test]
fn whole_files_are_refused_in_words() {
    assert!(error("").1.contains("empty"));
    assert!(error("\n\n").1.contains("empty"));
    assert!(error("time;pitch\n0;1\n").1.contains("`;`"));
    assert!(error("time\tpitch\n0\t1\n").1.contains("tabs"));
    assert!(error("0,1\n0.1,2\n").1.contains("add a header row"));
    assert!(error("time,pitch\n0,1\n").1.contains("at least 8"));
    assert!(error("time,pitch,pitch\n0,1,1\n").1.contains("two columns"));
    let utf16 = read_csv(&[0xff, 0xfe, b't', 0], "pitch").unwrap_err();
    assert!(utf16.what.contains("UTF-16"));
    assert!(read_csv(b"time,\xff\xfe\n", "pitch").unwrap_err().what.contains("not UTF-8"));
    let gap = file(60, |k| (plain(k).0 + if k >= 20 { 0.6 } else { 0.0 }, plain(k).1));
    let (row, what) = error(&gap);
    assert_eq!(row, 22);
    assert!(what.contains("gap of 0.617 s"), "{what}");
    assert!(error(&file(60, |k| (plain(k).0, 1.5))).1.contains("1.5 in every row"));
}

#[test]
fn oddities_are_remarked_on_with_their_row() {
    let remark = |text: String| {
        let recording = read_csv(text.as_bytes(), "pitch").unwrap();
        assert_eq!(recording.remarks.len(), 1, "{:?}", recording.remarks);
        (recording.remarks[0].row, recording.remarks[0].what.clone())
    };
    let (row, what) = remark(file(600, |k| (plain(k).0 + if k >= 20 { 0.1 } else { 0.0 }, plain(k).1)));
    assert!(row == 22 && what.contains("uneven"), "{row} {what}");
    let (row, what) =
        remark(file(600, |k| (plain(k).0, plain(if (100..=400).contains(&k) { 100 } else { k }).1)));
    assert!(row == 102 && what.contains("does not move at all for 5.000 s, up to row 402"), "{row} {what}");
    let (row, what) = remark(file(600, |k| (plain(k).0, if k == 50 { 900.0 } else { plain(k).1 })));
    assert!(row == 52 && what.contains("jumps"), "{row} {what}");
}

#[test]
fn a_spline_goes_through_its_points_and_is_smooth() {
    let recording = read_csv(file(100, plain).as_bytes(), "pitch").unwrap();
    let spline = recording.spline(1000.0).unwrap();
    assert_eq!(spline.below_hz, 30.0);
    assert!(recording.band_remark(1000.0).is_some() && recording.band_remark(10.0).is_none());
    for (t, x) in recording.time_s.iter().zip(&recording.value) {
        assert!((spline.jet(*t).0[0] - x).abs() < 1e-12);
    }
    // sin(3 t) in the middle; the fourth derivative is continuous, so all four meet at a grid point.
    let jet = spline.jet(0.8).0;
    let (s, c) = (libm::sin(2.4), libm::cos(2.4));
    for (found, expected) in jet.iter().zip([s, 3.0 * c, -9.0 * s, -27.0 * c]) {
        assert!((found - expected).abs() < 1e-4, "{jet:?}");
    }
    let knot = spline.start_s + 30.0 * spline.step_s;
    let (before, after) = (spline.jet(knot - 1e-9).0, spline.jet(knot + 1e-9).0);
    for k in 0..4 {
        assert!((before[k] - after[k]).abs() < 1e-6);
    }
    assert_eq!(spline.jet(99.0).0, [spline.jet(99.0 / 60.0).0[0], 0.0, 0.0, 0.0]);
}

#[test]
fn a_filtered_recording_keeps_what_is_below_and_loses_what_is_above() {
    let text = file(3000, |k| {
        let t = k as f64 / 1000.0;
        (t, libm::sin(t * std::f64::consts::TAU * 2.0) + libm::sin(t * std::f64::consts::TAU * 40.0))
    });
    let recording = read_csv(text.as_bytes(), "pitch").unwrap();
    let spline = recording.spline(10.0).unwrap();
    // Thinned from 1000 Hz to at least 160 Hz.
    assert!((spline.step_s - 0.006).abs() < 1e-9, "{}", spline.step_s);
    for k in 600..2400 {
        let t = f64::from(k) / 1000.0;
        let expected = libm::sin(t * std::f64::consts::TAU * 2.0);
        assert!((spline.jet(t).0[0] - expected).abs() < 3e-4);
    }
    assert!(recording.spline(0.01).unwrap_err().what.contains("too short for a band limit"));
    assert!(recording.spline(0.0).is_err() && recording.spline(f64::NAN).is_err());
}

#[test]
fn jitter_is_taken_out() {
    let exact = |t: f64| libm::sin(2.0 * t);
    let text = file(600, |k| {
        let jitter = libm::sin(k as f64 * 12.9) * 0.004;
        let t = k as f64 / 60.0 + if k == 0 { 0.0 } else { jitter };
        (t, exact(t))
    });
    let recording = read_csv(text.as_bytes(), "pitch").unwrap();
    let spline = recording.spline(100.0).unwrap();
    for k in 10..950 {
        let t = f64::from(k) * 0.01;
        assert!((spline.jet(t).0[0] - exact(t)).abs() < 2e-5, "{t}");
    }
}

#[test]
fn wildly_uneven_times_are_refused_rather_than_filled() {
    let time_s = (0..1000).map(|k| f64::from(k / 100) * 0.4 + f64::from(k % 100) * 1e-9).collect();
    let recording = Recording { time_s, value: (0..1000).map(f64::from).collect(), remarks: Vec::new() };
    assert!(recording.spline(1.0).unwrap_err().what.contains("too uneven"));
}

proptest! {
    #[test]
    fn any_bytes_end_in_a_recording_or_a_row(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = read_csv(&bytes, "pitch").map(|r| r.spline(5.0));
    }

    /// Quotes ask for the library's reader, which the plain one must agree with.
    #[test]
    fn lines_are_read_as_the_library_reads_them(
        cells in prop::collection::vec("[0-9]{1,2}|,|,|\n|\n| |x", 0..60),
        rows in 0..12_usize,
    ) {
        let text = format!("\n\ntime,pitch,\n{}\n{}", (0..rows).map(|k| format!("{k},{},\n", k % 3)).collect::<String>(), cells.concat());
        let plain = read_csv(text.as_bytes(), "pitch");
        prop_assert_eq!(&plain, &read_csv(text.replace('\n', "\r\n").as_bytes(), "pitch"));
        prop_assert_eq!(&plain, &read_csv(text.replace("time,pitch", "time,\"pitch\"").as_bytes(), "pitch"));
    }

    #[test]
    fn any_table_ends_in_a_spline_or_a_row(
        cells in prop::collection::vec(("[0-9]{1,3}(\\.[0-9]{1,3})?|1e[0-9]{1,3}|-|\"|", "[0-9.\"\n;e-]{0,5}"), 0..40),
        sorted in any::<bool>(),
        below in 0.01..100.0_f64,
    ) {
        let mut text = String::from("time,pitch\n");
        for (k, (t, x)) in cells.iter().enumerate() {
            if sorted { text.push_str(&format!("{k},{x}\n")); } else { text.push_str(&format!("{t},{x}\n")); }
        }
        if let Ok(recording) = read_csv(text.as_bytes(), "pitch") {
            prop_assert!(recording.time_s.iter().zip(recording.time_s.iter().skip(1)).all(|(a, b)| a < b));
            if let Ok(spline) = recording.spline(below) {
                prop_assert!(spline.control.iter().all(|x| x.is_finite()));
            }
        }
    }

    #[test]
    fn control_points_bound_every_stretch(value in prop::collection::vec(-5.0..5.0_f64, 8..60), from in -0.2..1.2_f64, part in 0.0..0.6_f64) {
        let spline = Spline::through(2.0, 0.1, &value, 5.0);
        let length = (value.len() - 1) as f64 * 0.1;
        let (from, to) = (2.0 + from * length, 2.0 + (from + part) * length);
        let bound = spline.majorant(from, to).0;
        for i in 0..=200 {
            let jet = spline.jet(from + (to - from) * f64::from(i) / 200.0).0;
            for k in 0..4 {
                prop_assert!(jet[k].abs() <= bound[k] * (1.0 + 1e-9) + 1e-9, "order {}: {} above {}", k, jet[k], bound[k]);
            }
        }
    }
}
