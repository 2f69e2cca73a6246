//! What the desktop program's user waits for: an hour opened, and a keystroke until its traces are there.
//!
//! `cargo bench --bench desk`. Says milliseconds; asserts nothing.

#![allow(missing_docs, clippy::print_stdout, reason = "a bench is for people")]
#![allow(clippy::disallowed_methods, reason = "measuring time is its purpose")]

use cueloom::desk::compiler::{Compiler, News, Request};
use cueloom::desk::variant::Variant;
use cueloom::desk::world::OpenFiles;
use cueloom::drives::Records;
use std::fmt::Write;
use std::path::Path;
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// Something on every channel all the time, and a knock every two seconds: denser than the demo.
fn profile(minutes: u32, knock_deg: f64) -> String {
    let mut text = String::from("use \"library/all.cues\"\nscene \"long\" {\n");
    for minute in 0..minutes {
        let at = minute * 60;
        let _ = writeln!(
            text,
            "    at {at} s  roll noise(0.05 deg, 0.3 Hz..2 Hz, slope: -1)  for 60 s  rise 4 s  fall 4 s"
        );
        let _ = writeln!(
            text,
            "    at {at} s  pitch noise(0.04 deg, 0.4 Hz..2 Hz, slope: -1)  for 60 s  rise 4 s  fall 4 s"
        );
        let _ = writeln!(text, "    at {} s  bank(1.5 deg, ease: 3 s)  for 18 s", at + 5);
        let knocks =
            format!("    during {} s .. {} s every 2 s  pitch ring({{}} deg, 6 Hz)", at + 1, at + 58);
        let size = if minute == minutes / 2 { knock_deg } else { 0.02 };
        let _ = writeln!(text, "{}", knocks.replace("{}", &size.to_string()));
    }
    text.push_str("}\n");
    text
}

struct Desk {
    compiler: Compiler,
    woken: Receiver<()>,
}

impl Desk {
    fn new() -> Self {
        let (wake, woken) = channel();
        Self {
            compiler: Compiler::start(move || wake.send(()).unwrap_or_default()).expect("a thread"),
            woken,
        }
    }

    /// Until traces in view, and until all traces; and their bytes.
    fn time(&mut self, text: &str, in_view_s: (f64, f64)) -> (Duration, Duration, usize) {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/long.cues");
        let begun = Instant::now();
        self.compiler.ask(Request {
            path,
            text: text.into(),
            open: OpenFiles::default(),
            files: 0,
            scene: None,
            variant: Variant::default(),
            records: Records::at(Path::new("no such folder")),
            in_view_s,
        });
        let mut first = None;
        loop {
            self.woken.recv().expect("the background lives");
            while let Some(news) = self.compiler.news() {
                if let News::Understood(understood) = &news {
                    assert!(!understood.has_errors(), "{:?}", understood.mistakes);
                }
                if let News::Motion(motion) = news {
                    let now = begun.elapsed();
                    let first = *first.get_or_insert(now);
                    if motion.complete {
                        return (first, now, motion.traces.bytes());
                    }
                }
            }
        }
    }
}

fn main() {
    let ms = |time: Duration| time.as_secs_f64() * 1000.0;
    let (first, all, bytes) = Desk::new().time(&profile(60, 0.02), (0.0, 60.0));
    println!(
        "1 h opened: in view after {:.0} ms, all after {:.0} ms, {:.0} MB of traces",
        ms(first),
        ms(all),
        bytes as f64 / 1e6
    );
    let mut desk = Desk::new();
    desk.time(&profile(10, 0.02), (0.0, 600.0));
    let mut times: Vec<f64> =
        (1..60).map(|k| ms(desk.time(&profile(10, 0.02 + f64::from(k) * 1e-4), (0.0, 600.0)).1)).collect();
    times.sort_by(f64::total_cmp);
    println!(
        "10 min, a keystroke to all traces: median {:.0} ms, worst of {} {:.0} ms",
        times[times.len() / 2],
        times.len(),
        times[times.len() - 1]
    );
}
