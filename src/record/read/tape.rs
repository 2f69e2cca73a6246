//! A record in text that passes by once, line by line.

use super::super::tape::{LoggedCycle, RunHead, Told};
use super::{Line, LogError, fit, layout};
use std::collections::{BTreeMap, VecDeque};
use std::io::{BufRead, Read};

/// The longest line that is taken, bytes: one of ours has some hundreds.
const LONGEST: u64 = 1 << 20;

/// The most lines of a head that are taken.
const MOST_ENTRIES: usize = 10_000;

/// A record in text.
pub(in crate::record) struct TextTape<R> {
    from: R,
    line: usize,
    bytes: Vec<u8>,
    head: RunHead,
    columns: Columns,
    names: Vec<String>,
    rows: u64,
    cut_off: bool,
    /// Events that stand above the column names.
    before: VecDeque<Told>,
}

/// Where in a row what stands.
#[derive(Default)]
struct Columns {
    time: Option<usize>,
    path: Option<usize>,
    state: Option<usize>,
    late: Option<usize>,
    platform: Vec<usize>,
    planned: Vec<Option<usize>>,
    sent: Vec<Option<usize>>,
    measured: Vec<Option<usize>>,
}

impl Columns {
    fn of(names: &[String], head: &mut RunHead) -> Self {
        // By name, for a line that claims to be one may have a hundred thousand; of two that are called alike the first.
        let places: BTreeMap<&str, usize> =
            names.iter().enumerate().rev().map(|(at, name)| (name.as_str(), at)).collect();
        let at = |name: &str| places.get(name).copied();
        let ending = |suffix| names.iter().filter_map(move |column| column.strip_suffix(suffix));
        head.legs = ending(" sent_m").map(String::from).collect();
        let axes =
            names.iter().enumerate().filter_map(|(k, column)| Some((k, column.strip_prefix("planned ")?)));
        let (platform, axes) = axes.map(|(k, axis)| (k, axis.to_string())).unzip();
        head.axes = axes;
        let of_legs = |what: &str| head.legs.iter().map(|leg| at(&format!("{leg} {what}"))).collect();
        Self {
            time: at("time_s"),
            path: at("path_s"),
            state: at("state"),
            late: at("late_us"),
            platform,
            planned: of_legs("planned_m"),
            sent: of_legs("sent_m"),
            measured: of_legs("measured_m"),
        }
    }

    fn cycle(&self, tick: u64, fields: &[String]) -> LoggedCycle {
        let word = |at: Option<usize>| at.and_then(|at| fields.get(at)).map_or("", String::as_str);
        let number = |at: Option<usize>| word(at).parse().unwrap_or(f64::NAN);
        let all = |columns: &[Option<usize>]| columns.iter().map(|at| number(*at)).collect();
        LoggedCycle {
            tick,
            time_s: number(self.time),
            path: word(self.state).to_string(),
            path_s: number(self.path),
            platform: self.platform.iter().map(|at| number(Some(*at))).collect(),
            commanded_m: all(&self.planned),
            sent_m: all(&self.sent),
            measured_m: all(&self.measured),
            late_us: number(self.late) as u32,
            ..LoggedCycle::default()
        }
    }
}

impl<R: BufRead> TextTape<R> {
    /// Reads up to the column names.
    ///
    /// # Errors
    /// The first line that does not belong in a record.
    pub(in crate::record) fn begin(from: R) -> Result<Self, LogError> {
        let mut tape = Self {
            from,
            line: 0,
            bytes: Vec::new(),
            head: RunHead::default(),
            columns: Columns::default(),
            names: Vec::new(),
            rows: 0,
            cut_off: false,
            before: VecDeque::new(),
        };
        while tape.names.is_empty() {
            let Some(line) = tape.next()? else { break };
            match line {
                Line::Fields(names) => tape.names = names,
                Line::Entry(key, value) => tape.entry(key, value)?,
                Line::Event(time_s, words) => {
                    tape.bounded()?;
                    tape.before.push_back(Told::Event { time_s, words });
                }
            }
        }
        layout(&tape.head.entries)?;
        tape.columns = Columns::of(&tape.names, &mut tape.head);
        Ok(tape)
    }

    pub(in crate::record) fn head(&self) -> &RunHead {
        &self.head
    }

    pub(in crate::record) fn is_cut_off(&self) -> bool {
        self.cut_off
    }

    /// What comes next.
    ///
    /// # Errors
    /// The first line that does not belong in a record.
    pub(in crate::record) fn told(&mut self) -> Result<Option<Told>, LogError> {
        if let Some(told) = self.before.pop_front() {
            return Ok(Some(told));
        }
        loop {
            return Ok(match self.next()? {
                None => None,
                Some(Line::Event(time_s, words)) => Some(Told::Event { time_s, words }),
                Some(Line::Entry(key, value)) => {
                    self.entry(key, value)?;
                    continue;
                }
                Some(Line::Fields(fields)) => {
                    fit(&fields, &self.names).map_err(|what| self.wrong(what))?;
                    self.rows += 1;
                    Some(Told::Cycle(Box::new(self.columns.cycle(self.rows - 1, &fields))))
                }
            });
        }
    }

    fn entry(&mut self, key: String, value: String) -> Result<(), LogError> {
        self.bounded()?;
        self.head.entries.push((key, value));
        Ok(())
    }

    fn bounded(&self) -> Result<(), LogError> {
        match self.head.entries.len() + self.before.len() < MOST_ENTRIES {
            true => Ok(()),
            false => Err(self.wrong(format!("more than {MOST_ENTRIES} lines of a head"))),
        }
    }

    fn wrong(&self, what: String) -> LogError {
        LogError { line: self.line, what }
    }

    /// The next whole line. One without an end is what was cut off.
    fn next(&mut self) -> Result<Option<Line>, LogError> {
        self.bytes.clear();
        self.line += 1;
        let read = (&mut self.from).take(LONGEST).read_until(b'\n', &mut self.bytes);
        read.map_err(|e| self.wrong(e.to_string()))?;
        if self.bytes.pop_if(|last| *last == b'\n').is_none() {
            if self.bytes.len() as u64 == LONGEST {
                return Err(self.wrong(format!("longer than {LONGEST} bytes")));
            }
            self.cut_off = !self.bytes.is_empty();
            return Ok(None);
        }
        self.bytes.pop_if(|last| *last == b'\r');
        let line = Line::of(&String::from_utf8_lossy(&self.bytes));
        line.map(Some).map_err(|what| self.wrong(what))
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::tape::{LoggedCycle, Tape, Told};

    const HEAD: &str = "# layout: 1\n# rig: Larkfield\n\
        time_s,path_s,state,late_us,planned pitch_rad,left planned_m,left sent_m,left measured_m\n";

    fn passed(text: &str) -> Result<(Vec<Told>, bool), String> {
        let mut tape = Tape::begin(text.as_bytes())?;
        assert_eq!(
            (tape.head().legs.join(" "), tape.head().axes.join(" ")),
            ("left".into(), "pitch_rad".into())
        );
        let mut all = Vec::new();
        while let Some(told) = tape.told()? {
            all.push(told);
        }
        Ok((all, tape.is_cut_off()))
    }

    #[test]
    fn lines_pass_by_and_one_without_an_end_is_cut_off() {
        let rows = "0.000000,1.5,following,7,0.125,0.7,0.71,\r\n# event: 0.002 late\n0.002,1.502,slowing,8,0.2,0.7,0.7,0.6";
        let (all, cut_off) = passed(&format!("{HEAD}{rows}")).unwrap();
        let [Told::Cycle(cycle), Told::Event { time_s: 0.002, words }] = &all[..] else { panic!("{all:?}") };
        assert!(cut_off && words == "late" && cycle.measured_m[0].is_nan());
        let LoggedCycle { tick, path_s, path, late_us, platform, commanded_m, sent_m, .. } = &**cycle;
        assert_eq!((*tick, *path_s, path.as_str(), *late_us), (0, 1.5, "following", 7));
        assert_eq!((platform[0], commanded_m[0], sent_m[0]), (0.125, 0.7, 0.71));
        let (all, cut_off) = passed(&format!("{HEAD}{rows}\n")).unwrap();
        let Told::Cycle(last) = &all[2] else { panic!("{all:?}") };
        assert!(!cut_off && last.tick == 1 && last.measured_m == [0.6]);
    }

    #[test]
    fn what_does_not_belong_there_has_its_line() {
        let wrong = |text: String| passed(&text).unwrap_err();
        assert_eq!(wrong(format!("{HEAD}1,2\n")), "line 4: 2 fields, expected 8");
        assert_eq!(wrong("a,b\n".into()), "line 1: expected `# layout: 1`");
        assert!(wrong(format!("{HEAD}{}", "x".repeat(2 << 20))).contains("longer than 1048576 bytes"));
    }
}
