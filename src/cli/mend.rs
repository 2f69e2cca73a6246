//! `log --mend`: a whole container from one that was cut off.

use super::output::{Failure, Outcome, say};
use super::reading::Watched;
use crate::files;
use crate::record::{is_container, mend};
use std::io::{BufRead, BufReader, ErrorKind};
use std::path::Path;

/// Writes what can be read of `file` to `to`; `file` is left as it is.
///
/// # Errors
/// When there is something at `to` already, the file is no container, or either cannot be read or written.
pub(super) fn run(file: &Path, to: &Path) -> Result<Outcome, Failure> {
    let (from, into) = (file.display(), to.display());
    if files::stamp(to).is_some() {
        return Err(Failure(format!(
            "`{into}` is there already, and no record is written over: name another file"
        )));
    }
    let failed = |words: &str| Failure(format!("`{from}` cannot be mended: {words}"));
    let mut read = BufReader::with_capacity(1 << 17, Watched::open(file, "mend")?);
    if !is_container(read.fill_buf().map_err(|e| failed(&e.to_string()))?) {
        return Err(failed("it is no MCAP file; a log in text is good up to its last line as it is"));
    }
    let (mut mended, mut none) = (None, None);
    files::save(to, |out| match mend(read, &file.display().to_string(), out) {
        Ok(done) => {
            mended = Some(done);
            Ok(())
        }
        Err(error) => {
            none = (error.kind() == ErrorKind::InvalidData).then(|| failed(&error.to_string()));
            Err(error)
        }
    })
    .map_err(|error| none.unwrap_or_else(|| error.into()))?;
    let mended = mended.ok_or_else(|| failed("nothing was written"))?;
    let was =
        mended.cut_off.map_or_else(|| "it was whole".to_string(), |why| format!("it was cut off: {why}"));
    say(&format!(
        "{} messages of `{from}` are in `{into}`, with an index and a summary ({was}); `{from}` is left as it is\n",
        mended.messages
    ))?;
    Ok(Outcome::Clean)
}
