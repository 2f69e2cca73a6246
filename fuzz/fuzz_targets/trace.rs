//! Any bytes as a recording: a spline that stays finite, or the row that is wrong.
#![no_main]

use cueloom::signal::trace::read_csv;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok(recording) = read_csv(bytes, "pitch") else { return };
    assert!(recording.time_s.windows(2).all(|pair| pair[0] < pair[1]), "times rise");
    if let Ok(spline) = recording.spline(10.0) {
        assert!(spline.control.iter().all(|value| value.is_finite()), "a finite recording has a finite spline");
    }
});
