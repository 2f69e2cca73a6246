//! Reading a recording's two columns, with errors that name the row.

use super::header::{columns, shown};
use super::{LEAST_ROWS, Recording, TraceError, screen};
use memchr::{memchr, memchr_iter};
use std::borrow::Cow;

/// Largest file, bytes.
const LARGEST_BYTES: usize = 512 << 20;
/// Most rows.
const MOST_ROWS: usize = 20_000_000;
/// Larger values are no motion in any unit; a simulation that diverges passes through them.
const ABSURD: f64 = 1e9;

/// Reads one column of a CSV with a time column.
///
/// The first row names the columns. The time column is `time_s`, `time` or `t`, or else the first whose name starts with
/// `time`; it counts seconds, or milliseconds where its name ends so. Upper and lower case are one there; `column` is
/// compared as written. Blank lines are skipped but counted.
///
/// # Errors
/// The first row that cannot be used, with the reason.
pub fn read_csv(bytes: &[u8], column: &str) -> Result<Recording, TraceError> {
    if bytes.len() > LARGEST_BYTES {
        let size = bytes.len() >> 20;
        return Err(TraceError::new(
            1,
            format!(
                "the file has {size} MB; at most {} MB are read: thin it out or cut it",
                LARGEST_BYTES >> 20
            ),
        ));
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(TraceError::new(1, "the file is in UTF-16; save it as UTF-8"));
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut place = Place::new(bytes);
    let Some((row, header)) = place.next()? else {
        return Err(TraceError::new(1, "the file is empty; expected a header and rows of numbers"));
    };
    let names: Vec<String> =
        (0..header.len()).map(|field| header.get(field).trim_ascii().to_string()).collect();
    if names.iter().any(|name| name.contains(char::REPLACEMENT_CHARACTER)) {
        return Err(TraceError::new(row, "the header is not UTF-8"));
    }
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let columns = columns(&names, column)?;
    place.wanted = columns.time.max(columns.value) + 1;
    let (mut time_s, mut value, mut rows) = (Vec::new(), Vec::new(), Vec::<u32>::new());
    let mut before: Option<f64> = None;
    while let Some((row, record)) = place.next()? {
        if record.len() != names.len() {
            let (found, expected) = (record.len(), names.len());
            return Err(TraceError::new(
                row,
                format!("found {found} fields, expected {expected} as in the header"),
            ));
        }
        if rows.len() >= MOST_ROWS {
            return Err(TraceError::new(
                row,
                format!("more than {MOST_ROWS} rows: thin the recording out or cut it"),
            ));
        }
        let time = number(&record, columns.time, names.get(columns.time).copied().unwrap_or_default(), row)?
            * columns.second;
        if let Some(before) = before
            && time <= before
        {
            let what = if time == before {
                format!("the time {time} s repeats that of the row before")
            } else {
                format!("the time {time} s lies before {before} s in the row before")
            };
            return Err(TraceError::new(row, format!("{what}; times must rise: remove or sort the rows")));
        }
        let x = number(&record, columns.value, column, row)?;
        if x.abs() > ABSURD {
            return Err(TraceError::new(
                row,
                format!(
                    "`{}` is {x:e}, more than any motion: cut the recording before this row",
                    shown(column)
                ),
            ));
        }
        before = Some(time);
        time_s.push(time);
        value.push(x);
        rows.push(u32::try_from(row).unwrap_or(u32::MAX));
    }
    if time_s.len() < LEAST_ROWS {
        let found = time_s.len();
        return Err(TraceError::new(
            place.row,
            format!("the recording has {found} rows of numbers; at least {LEAST_ROWS} are needed"),
        ));
    }
    let remarks = screen::screen(&time_s, &value, &rows, column)?;
    Ok(Recording { time_s, value, remarks })
}

/// The number in a field.
fn number(record: &Record<'_>, column: usize, name: &str, row: u64) -> Result<f64, TraceError> {
    let field = record.get(column);
    let text = field.trim_ascii();
    let read = text.parse().ok();
    if let Some(number) = read.filter(|number: &f64| number.is_finite()) {
        return Ok(number);
    }
    let name = shown(name);
    if text.is_empty() {
        return Err(TraceError::new(
            row,
            format!("`{name}` is empty, expected a number: fill it or cut the row"),
        ));
    }
    if read.is_some() {
        return Err(TraceError::new(
            row,
            format!("`{name}` is `{}`, not a finite number: cut the recording before it", shown(text)),
        ));
    }
    let comma = if text.contains(',') { "; write decimals with a point" } else { "" };
    Err(TraceError::new(row, format!("`{name}` is `{}`, expected a number{comma}", shown(text))))
}

/// A file that is read record by record, and the row that was read last.
struct Place<'a> {
    bytes: &'a [u8],
    /// The same as text, for a file without quotes and lone carriage returns, as most are: its records are its lines.
    lines: Option<&'a str>,
    reader: csv::Reader<&'a [u8]>,
    record: csv::ByteRecord,
    /// Where the first commas of a line are, in bytes from its start.
    commas: Vec<usize>,
    /// How many of them are wanted.
    wanted: usize,
    row: u64,
    /// Where counting stands, in bytes.
    byte: usize,
    /// Line ends before it.
    ends: u64,
}

/// One record.
enum Record<'r> {
    /// A line, where its first commas are, and how many fields it has.
    Line(&'r str, &'r [usize], usize),
    Quoted(&'r csv::ByteRecord),
}

impl<'r> Record<'r> {
    fn len(&self) -> usize {
        match self {
            Self::Line(.., fields) => *fields,
            Self::Quoted(record) => record.len(),
        }
    }

    /// A field; of a line, one of those whose commas were wanted.
    fn get(&self, field: usize) -> Cow<'r, str> {
        match self {
            Self::Line(line, commas, _) => {
                let start = field.checked_sub(1).and_then(|before| commas.get(before)).map_or(0, |at| at + 1);
                let end = commas.get(field).copied().unwrap_or(line.len());
                Cow::Borrowed(line.get(start..end).unwrap_or_default())
            }
            Self::Quoted(record) => String::from_utf8_lossy(record.get(field).unwrap_or_default()),
        }
    }
}

impl<'a> Place<'a> {
    fn new(bytes: &'a [u8]) -> Self {
        let is_plain =
            !bytes.contains(&b'"') && memchr_iter(b'\r', bytes).all(|at| bytes.get(at + 1) == Some(&b'\n'));
        Self {
            bytes,
            lines: std::str::from_utf8(bytes).ok().filter(|_| is_plain),
            reader: csv::ReaderBuilder::new().flexible(true).has_headers(false).from_reader(bytes),
            record: csv::ByteRecord::new(),
            commas: Vec::new(),
            wanted: usize::MAX,
            row: 0,
            byte: 0,
            ends: 0,
        }
    }

    /// Reads the next record, and gives its row; `None` at the end.
    fn next(&mut self) -> Result<Option<(u64, Record<'_>)>, TraceError> {
        if let Some(lines) = self.lines {
            return Ok(self.next_line(lines));
        }
        let more = self
            .reader
            .read_byte_record(&mut self.record)
            .map_err(|error| TraceError::new(self.row + 1, error.to_string()))?;
        if !more {
            return Ok(None);
        }
        // The reader gives the place where it began to look, which may lie before blank lines.
        let began = self.record.position().map_or(self.byte, |position| position.byte() as usize);
        let rest = self.bytes.get(began..).unwrap_or_default();
        let start = (began + blank(rest)).max(self.byte);
        let passed = self.bytes.get(self.byte..start).unwrap_or_default();
        self.ends += line_ends(passed);
        self.byte = start;
        self.row = self.ends + 1;
        Ok(Some((self.row, Record::Quoted(&self.record))))
    }

    /// The same where records are lines.
    fn next_line(&mut self, lines: &'a str) -> Option<(u64, Record<'_>)> {
        let rest = lines.get(self.byte..).unwrap_or_default();
        let (passed, rest) = rest.split_at(blank(rest.as_bytes()));
        self.ends += memchr_iter(b'\n', passed.as_bytes()).count() as u64;
        self.byte += passed.len();
        if rest.is_empty() {
            return None;
        }
        let end = memchr(b'\n', rest.as_bytes()).unwrap_or(rest.len());
        let line = rest.get(..end).unwrap_or_default();
        let line = line.strip_suffix('\r').unwrap_or(line);
        self.commas.clear();
        self.commas.extend(memchr_iter(b',', line.as_bytes()).take(self.wanted));
        let known = self.commas.last().map_or(0, |last| last + 1);
        let others = line.as_bytes().get(known..).map_or(0, |rest| memchr_iter(b',', rest).count());
        self.byte += end;
        self.row = self.ends + 1;
        Some((self.row, Record::Line(line, &self.commas, self.commas.len() + others + 1)))
    }
}

/// How many bytes of line ends a text begins with.
fn blank(text: &[u8]) -> usize {
    text.iter().take_while(|byte| matches!(byte, b'\n' | b'\r')).count()
}

/// Line ends in a text: `\n`, `\r\n`, or `\r` alone.
fn line_ends(text: &[u8]) -> u64 {
    let count = |wanted: u8| text.iter().filter(|byte| **byte == wanted).count() as u64;
    let returns = count(b'\r');
    let pairs = if returns > 0 { text.windows(2).filter(|pair| *pair == b"\r\n").count() as u64 } else { 0 };
    count(b'\n') + returns - pairs
}
