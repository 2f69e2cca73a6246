//! Reading a recording's two columns, with errors that name the row.

use super::header::{columns, shown};
use super::{LEAST_ROWS, Recording, TraceError, screen};
use crate::decimal::decimal;
use memchr::{memchr, memchr_iter};
use std::borrow::Cow;

/// Largest file, bytes.
const LARGEST_BYTES: usize = 512 << 20;
/// Most rows.
const MOST_ROWS: usize = 20_000_000;
/// Larger values are no motion in any unit; a simulation that diverges passes through them.
const ABSURD: f64 = 1e9;

/// A CSV with a time column, whose other columns are read one at a time.
///
/// The first row names the columns. The time column is `time_s`, `time` or `t`, or else the first whose name starts with
/// `time`; it counts seconds, or milliseconds where its name ends so. Upper and lower case are one there. Blank lines are
/// skipped but counted.
#[derive(Debug, Clone)]
pub struct Table<B> {
    bytes: B,
    /// The time of every row, s, once a column could be read: all rows are then known to have their fields.
    time_s: Option<Vec<f64>>,
}

impl<B: AsRef<[u8]>> Table<B> {
    /// A file's bytes, none of them read yet.
    pub fn new(bytes: B) -> Self {
        Self { bytes, time_s: None }
    }

    /// Reads one column, whose name is compared as written.
    ///
    /// # Errors
    /// The first row that cannot be used, with the reason.
    pub fn column(&mut self, column: &str) -> Result<Recording, TraceError> {
        let read = read(self.bytes.as_ref(), column, self.time_s.as_deref())?;
        self.time_s.get_or_insert_with(|| read.time_s.clone());
        Ok(read)
    }
}

/// Reads one column of a CSV of which no other is wanted: see [`Table`].
///
/// # Errors
/// The first row that cannot be used, with the reason.
pub fn read_csv(bytes: &[u8], column: &str) -> Result<Recording, TraceError> {
    Table::new(bytes).column(column)
}

/// Reads a column. `known` are the times of all rows, where another column could be read before.
fn read(bytes: &[u8], column: &str, known: Option<&[f64]>) -> Result<Recording, TraceError> {
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
    let (mut time_s, mut value, mut rows) = (Vec::<f64>::new(), Vec::new(), Vec::<u32>::new());
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
        let time = match known.and_then(|known| known.get(time_s.len())) {
            Some(known) => *known,
            None => {
                let name = names.get(columns.time).copied().unwrap_or_default();
                let time = number(&record, columns.time, name, row)? * columns.second;
                rises(time_s.last().copied(), time, row)?;
                time
            }
        };
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

/// That a time lies after the one before.
fn rises(before: Option<f64>, time: f64, row: u64) -> Result<(), TraceError> {
    let Some(before) = before.filter(|before| time <= *before) else { return Ok(()) };
    let what = if time == before {
        format!("the time {time} s repeats that of the row before")
    } else {
        format!("the time {time} s lies before {before} s in the row before")
    };
    Err(TraceError::new(row, format!("{what}; times must rise: remove or sort the rows")))
}

/// The number in a field.
fn number(record: &Record<'_>, column: usize, name: &str, row: u64) -> Result<f64, TraceError> {
    let field = record.get(column);
    let text = field.trim_ascii();
    let read = decimal(text).or_else(|| text.parse().ok());
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
    /// The file as lines, where its records are that.
    lines: Option<Lines<'a>>,
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

/// What is left of a text without quotes and lone carriage returns, as most are: its records are its lines.
struct Lines<'a> {
    text: &'a str,
    /// Where the next line starts.
    start: usize,
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
            lines: std::str::from_utf8(bytes).ok().filter(|_| is_plain).map(|text| Lines { text, start: 0 }),
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
        if let Some(lines) = &mut self.lines {
            let next = lines.next(&mut self.row, self.wanted, &mut self.commas);
            return Ok(next.map(|(line, fields)| (self.row, Record::Line(line, &self.commas, fields))));
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
}

impl<'a> Lines<'a> {
    /// The next line that is not blank and how many fields it has. Counts the rows, and notes the `wanted` first commas.
    fn next(&mut self, row: &mut u64, wanted: usize, commas: &mut Vec<usize>) -> Option<(&'a str, usize)> {
        while self.start < self.text.len() {
            let start = self.start;
            let rest = self.text.get(start..).unwrap_or_default();
            let length = memchr(b'\n', rest.as_bytes()).unwrap_or(rest.len());
            let bytes = rest.as_bytes().get(..length).unwrap_or_default();
            commas.clear();
            commas.extend(
                bytes.iter().enumerate().filter(|(_, byte)| **byte == b',').map(|(at, _)| at).take(wanted),
            );
            // Those beyond need no places, and counting alone goes many at once.
            let beyond = commas.last().and_then(|last| bytes.get(last + 1..)).unwrap_or_default();
            let fields = 1 + commas.len() + beyond.iter().filter(|byte| **byte == b',').count();
            *row += 1;
            self.start = start + length + 1;
            let line = rest.get(..length).unwrap_or_default();
            let line = line.strip_suffix('\r').unwrap_or(line);
            if !line.is_empty() {
                return Some((line, fields));
            }
        }
        None
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
