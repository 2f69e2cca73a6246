//! A record in text read again: header, columns, rows, events. Takes a record that was cut off in its last line.

mod tape;

pub(super) use tape::TextTape;

/// A record in memory.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Log {
    /// Keys and values of the header.
    pub entries: Vec<(String, String)>,
    /// Column names.
    pub columns: Vec<String>,
    /// Fields, one row a cycle.
    pub rows: Vec<Vec<String>>,
    /// Time (s) and words of every event.
    pub events: Vec<(f64, String)>,
    /// Whether the last line was cut off (and left out).
    pub cut_off: bool,
}

/// Why bytes are no record.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("line {line}: {what}")]
pub struct LogError {
    /// Line, from 1.
    pub line: usize,
    /// Found and expected.
    pub what: String,
}

/// A line, by what it is.
enum Line {
    Entry(String, String),
    Event(f64, String),
    Fields(Vec<String>),
}

impl Line {
    /// # Errors
    /// What does not belong in a record.
    fn of(line: &str) -> Result<Self, String> {
        let Some(comment) = line.strip_prefix("# ") else {
            return fields(line).map(Line::Fields).ok_or_else(|| "a quote is not closed".to_string());
        };
        let (key, value) = comment
            .split_once(": ")
            .or_else(|| comment.strip_suffix(':').map(|key| (key, "")))
            .ok_or_else(|| "expected `# key: value`".to_string())?;
        if key != "event" {
            return Ok(Line::Entry(key.to_string(), value.to_string()));
        }
        let (time, words) = value.split_once(' ').unwrap_or((value, ""));
        let time_s = time.parse().map_err(|_| format!("`{time}` is no time in seconds"))?;
        Ok(Line::Event(time_s, words.to_string()))
    }
}

fn fit(fields: &[String], columns: &[String]) -> Result<(), String> {
    let (found, expected) = (fields.len(), columns.len());
    if found == expected { Ok(()) } else { Err(format!("{found} fields, expected {expected}")) }
}

fn layout(entries: &[(String, String)]) -> Result<(), LogError> {
    match entries.first() {
        Some((key, value)) if key == "layout" && value == super::csv::LAYOUT => Ok(()),
        _ => Err(LogError { line: 1, what: format!("expected `# layout: {}`", super::csv::LAYOUT) }),
    }
}

/// Reads a record that is in memory.
///
/// # Errors
/// The first line that does not belong in one.
pub fn read(bytes: &[u8]) -> Result<Log, LogError> {
    let whole = bytes.iter().rposition(|b| *b == b'\n').map_or(0, |at| at + 1);
    let (bytes, rest) = bytes.split_at(whole);
    let mut log = Log { cut_off: !rest.is_empty(), ..Log::default() };
    let text = String::from_utf8_lossy(bytes);
    for (index, line) in text.lines().enumerate() {
        let wrong = |what: String| LogError { line: index + 1, what };
        match Line::of(line).map_err(wrong)? {
            Line::Entry(key, value) => log.entries.push((key, value)),
            Line::Event(time_s, words) => log.events.push((time_s, words)),
            Line::Fields(fields) if log.columns.is_empty() => log.columns = fields,
            Line::Fields(fields) => {
                fit(&fields, &log.columns).map_err(wrong)?;
                log.rows.push(fields);
            }
        }
    }
    layout(&log.entries).map(|()| log)
}

impl Log {
    /// The value of a header key.
    pub fn entry(&self, key: &str) -> Option<&str> {
        self.entries.iter().find(|(k, _)| k == key).map(|(_, value)| value.as_str())
    }

    /// A column as numbers; what is no number (or empty) is NaN. `None` when there is no such column.
    pub fn numbers(&self, column: &str) -> Option<Vec<f64>> {
        let index = self.columns.iter().position(|c| c == column)?;
        let number = |row: &Vec<String>| row.get(index).and_then(|f| f.parse().ok()).unwrap_or(f64::NAN);
        Some(self.rows.iter().map(number).collect())
    }

    /// A column as words. `None` when there is no such column.
    pub fn words(&self, column: &str) -> Option<Vec<&str>> {
        let index = self.columns.iter().position(|c| c == column)?;
        Some(self.rows.iter().map(|row| row.get(index).map_or("", String::as_str)).collect())
    }
}

fn fields(line: &str) -> Option<Vec<String>> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                fields.last_mut()?.push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            c => fields.last_mut()?.push(c),
        }
    }
    (!quoted).then_some(fields)
}

#[cfg(test)]
mod tests {
    use super::super::*;
    use crate::safety::{Hold, Legs, MAX_AXES, Outcome, State};

    fn header() -> Header {
        Header {
            entries: vec![("rig".into(), "Demo: two\nlegs".into())],
            legs: vec!["left, \"rear\"".into(), "right".into()],
            axes: vec!["pitch_rad".into()],
            ..Header::default()
        }
    }

    fn row(tick: u64) -> Row {
        let mut platform = [f64::NAN; MAX_AXES];
        platform[0] = 0.125;
        Row {
            tick,
            time_us: tick * 1000,
            path_s: 1.5,
            rate: 1.0,
            gain: 0.5,
            state: State::Following,
            platform,
            planned_m: Legs::filled(2, 0.7),
            sent_m: Legs::from_fn(2, |leg| 0.75 + leg as f64 / 8.0),
            measured_m: (tick > 0).then_some(Legs::filled(2, 0.625)),
            late_us: 7,
            outcome: Outcome::Held(Hold::Speed { leg: 1 }),
            drive: None,
        }
    }

    fn written() -> Vec<u8> {
        let mut bytes = Vec::new();
        write_header(&mut bytes, &header()).unwrap();
        write_row(&mut bytes, &row(0), 1).unwrap();
        let what = What::Held(Hold::Speed { leg: 1 });
        write_note(&mut bytes, &Note { time_us: 1_002_000, what }, &header().legs).unwrap();
        write_row(&mut bytes, &row(1002), 1).unwrap();
        bytes
    }

    #[test]
    fn reads_what_it_wrote() {
        let log = read(&written()).unwrap();
        assert_eq!(log.entry("rig"), Some("Demo: two legs"));
        assert_eq!(log.columns, header().columns());
        assert_eq!(log.numbers("time_s").unwrap(), [0.0, 1.002]);
        assert_eq!(log.numbers("right sent_m").unwrap(), [0.875, 0.875]);
        assert!(log.numbers("right measured_m").unwrap()[0].is_nan());
        assert_eq!(log.numbers("left, \"rear\" measured_m").unwrap()[1], 0.625);
        assert_eq!(log.numbers("planned pitch_rad").unwrap()[0], 0.125);
        assert_eq!(log.words("governor").unwrap(), ["speed", "speed"]);
        assert_eq!(log.events, [(1.002, "governor holds back: speed of right".to_string())]);
        assert_eq!(log.numbers("nothing"), None);
    }

    #[test]
    fn a_record_cut_off_anywhere_is_good_up_to_its_last_line() {
        let bytes = written();
        let head = {
            let mut head = Vec::new();
            write_header(&mut head, &header()).unwrap();
            head.len()
        };
        for end in head..bytes.len() {
            let log = read(&bytes[..end]).unwrap();
            let lines = bytes[head..end].iter().filter(|b| **b == b'\n').count();
            assert_eq!(log.rows.len() + log.events.len(), lines);
            assert_eq!(log.cut_off, bytes[end - 1] != b'\n');
        }
    }

    #[test]
    fn refuses_what_is_no_record() {
        assert_eq!(read(b"a,b\n").unwrap_err().line, 1);
        assert_eq!(read(b"# layout: 1\na,b\n1,2\n1,2,3\n").unwrap_err().line, 4);
        assert_eq!(read(b"# layout: 1\n# event: soon x\n").unwrap_err().line, 2);
        assert!(read(b"# layout: 1\n\"a\n").is_err());
        assert!(read(&[0xff, 0x0a]).is_err());
    }
}
