//! Files for what is written while things happen: half of a log is worth more than nothing, and none goes over another.
//!
//! What is flushed is with the system, and outlives the program. A thread of its own asks the disk for it about once a
//! second, so that it outlives a power cut too; whoever writes never waits for the disk to say so.

use super::FileError;
use super::save::{keep_name, make_folder_of};
use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, SyncSender, channel, sync_channel};
use std::sync::{Arc, OnceLock};
use std::thread::JoinHandle;
use std::time::Duration;

/// The disk is asked at most so often (own choice: what is lost in a power cut, against wear and traffic).
const REST: Duration = Duration::from_secs(1);

/// A file to write a log to. One that was there goes.
///
/// # Errors
/// When the system refuses.
pub fn create(path: &Path) -> Result<Box<dyn Write + Send>, FileError> {
    recording(path, OpenOptions::new().write(true).create(true).truncate(true))
}

/// The same where nothing may go: refused where there is a file already with something in it. A pipe or a device is
/// written to.
///
/// # Errors
/// When there is one, or the system refuses.
pub fn create_new(path: &Path) -> Result<Box<dyn Write + Send>, FileError> {
    match recording(path, OpenOptions::new().write(true).create_new(true)) {
        Err(FileError::System { source, .. }) if source.kind() == ErrorKind::AlreadyExists => {
            if is_taken(path) {
                return Err(FileError::Taken { path: path.to_path_buf() });
            }
            recording(path, OpenOptions::new().write(true).create(true))
        }
        made => made,
    }
}

/// Whether there is a file with something in it.
pub fn is_taken(path: &Path) -> bool {
    std::fs::metadata(path).is_ok_and(|about| about.is_file() && about.len() > 0)
}

/// `FOLDER/STEM-1.EXTENSION`, or with the number after the highest that is there; the folder is made.
///
/// # Errors
/// When the system refuses.
pub fn create_numbered(
    folder: &Path,
    stem: &str,
    extension: &str,
) -> Result<(PathBuf, Box<dyn Write + Send>), FileError> {
    let numbered = |n: u64| folder.join(format!("{stem}-{n}.{extension}"));
    make_folder_of(&numbered(1))?;
    let number = |path: &PathBuf| {
        let rest = path.file_stem()?.to_str()?.strip_prefix(stem)?.strip_prefix('-')?;
        rest.parse::<u64>().ok()
    };
    let highest = super::files_in(folder, extension).iter().filter_map(number).max();
    let mut n = highest.unwrap_or(0).saturating_add(1);
    loop {
        let path = numbered(n);
        match recording(&path, OpenOptions::new().write(true).create_new(true)) {
            // Somebody else was quicker.
            Err(FileError::System { source, .. }) if source.kind() == ErrorKind::AlreadyExists => n += 1,
            made => return Ok((path, made?)),
        }
    }
}

fn recording(path: &Path, options: &OpenOptions) -> Result<Box<dyn Write + Send>, FileError> {
    #[cfg(unix)]
    outlive_full_files();
    let failed = |source| FileError::system("write", path, source);
    let file = options.open(path).map_err(failed)?;
    let is_file = file.metadata().map_err(failed)?.is_file();
    if !is_file {
        // Nothing outlives anything in a pipe.
        return Ok(Box::new(BufWriter::new(file)));
    }
    keep_name(path);
    Ok(Box::new(Recording::start(Arc::new(file), REST).map_err(failed)?))
}

/// A file at its limit comes with a signal besides the error, and that signal would end the program with legs under way.
#[cfg(unix)]
#[allow(unsafe_code, reason = "a system call that the standard library does not have; plain numbers go in")]
fn outlive_full_files() {
    // SAFETY: `signal` takes two numbers here, and no code of ours runs by it.
    unsafe {
        libc::signal(libc::SIGXFSZ, libc::SIG_IGN);
    }
}

/// Where bytes go, and may be asked to stay.
trait Medium: Send + Sync + 'static {
    fn put(&self, bytes: &[u8]) -> io::Result<usize>;

    /// Comes back when the disk has them; may take long.
    fn keep(&self) -> io::Result<()>;
}

impl Medium for File {
    fn put(&self, bytes: &[u8]) -> io::Result<usize> {
        let mut file = self;
        file.write(bytes)
    }

    fn keep(&self) -> io::Result<()> {
        self.sync_data()
    }
}

struct Put<M>(Arc<M>);

impl<M: Medium> Write for Put<M> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.put(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

struct Recording<M: Medium> {
    to: Option<BufWriter<Put<M>>>,
    asks: Option<SyncSender<()>>,
    ends: Option<Sender<()>>,
    failed: Arc<OnceLock<io::Error>>,
    thread: Option<JoinHandle<()>>,
}

impl<M: Medium> Recording<M> {
    fn start(medium: Arc<M>, rest: Duration) -> io::Result<Self> {
        let (asks, asked) = sync_channel(1);
        let (ends, ended) = channel();
        let failed = Arc::new(OnceLock::new());
        let (own, told) = (medium.clone(), failed.clone());
        let thread = std::thread::Builder::new().name("disk".to_string());
        let thread = thread.spawn(move || keep(&*own, rest, &asked, &ended, &told))?;
        let to = Some(BufWriter::new(Put(medium)));
        Ok(Self { to, asks: Some(asks), ends: Some(ends), failed, thread: Some(thread) })
    }

    fn to(&mut self) -> io::Result<&mut BufWriter<Put<M>>> {
        match (self.failed.get(), &mut self.to) {
            (None, Some(to)) => Ok(to),
            (Some(error), _) => {
                Err(io::Error::new(error.kind(), format!("the disk did not keep it: {error}")))
            }
            (None, None) => Err(ErrorKind::BrokenPipe.into()),
        }
    }
}

/// Asks the disk when somebody has written, rests, and asks again.
fn keep(
    medium: &impl Medium,
    rest: Duration,
    asked: &Receiver<()>,
    ended: &Receiver<()>,
    failed: &OnceLock<io::Error>,
) {
    while asked.recv().is_ok() {
        match medium.keep() {
            Ok(()) => {}
            // Some file systems know of no such thing.
            Err(error) if matches!(error.kind(), ErrorKind::InvalidInput | ErrorKind::Unsupported) => return,
            Err(error) => {
                let _ = failed.set(error);
                return;
            }
        }
        if ended.recv_timeout(rest) != Err(RecvTimeoutError::Timeout) {
            break;
        }
    }
    // The last of it: whoever wrote it is gone and hears of no failure any more.
    let _ = medium.keep();
}

impl<M: Medium> Write for Recording<M> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.to()?.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to()?.flush()?;
        // One that waits already asks for this too.
        self.asks.iter().for_each(|asks| _ = asks.try_send(()));
        Ok(())
    }
}

impl<M: Medium> Drop for Recording<M> {
    fn drop(&mut self) {
        // Writes what is left.
        self.to = None;
        (self.asks, self.ends) = (None, None);
        self.thread.take().into_iter().for_each(|thread| _ = thread.join());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    /// A disk that keeps when it is let, and tells what it had when it was asked.
    struct Slow {
        bytes: Mutex<Vec<u8>>,
        let_go: Mutex<Receiver<io::Result<()>>>,
        asked: Mutex<Sender<usize>>,
    }

    impl Medium for Slow {
        fn put(&self, bytes: &[u8]) -> io::Result<usize> {
            self.bytes.lock().unwrap().extend_from_slice(bytes);
            Ok(bytes.len())
        }

        fn keep(&self) -> io::Result<()> {
            let length = self.bytes.lock().unwrap().len();
            let _ = self.asked.lock().unwrap().send(length);
            self.let_go.lock().unwrap().recv().unwrap_or(Ok(()))
        }
    }

    fn slow() -> (Arc<Slow>, Sender<io::Result<()>>, Receiver<usize>) {
        let ((go, let_go), (ask, asked)) = (channel(), channel());
        let (bytes, let_go) = (Mutex::default(), Mutex::new(let_go));
        (Arc::new(Slow { bytes, let_go, asked: Mutex::new(ask) }), go, asked)
    }

    const SOON: Duration = Duration::from_secs(60);

    #[test]
    fn a_disk_that_takes_its_time_keeps_nobody_waiting_and_gets_all_of_it() {
        let (disk, go, asked) = slow();
        let mut recording = Recording::start(disk.clone(), Duration::ZERO).unwrap();
        recording.write_all(b"one").unwrap();
        recording.flush().unwrap();
        assert_eq!(asked.recv_timeout(SOON), Ok(3));
        // It does not come back; what is written meanwhile is with the system at once.
        for _ in 0..100 {
            recording.write_all(b"more").unwrap();
            recording.flush().unwrap();
        }
        assert_eq!(disk.bytes.lock().unwrap().len(), 403);
        go.send(Ok(())).unwrap();
        assert_eq!(asked.recv_timeout(SOON), Ok(403), "one more time for all hundred");
        go.send(Ok(())).unwrap();
        recording.write_all(b"last").unwrap();
        drop(go);
        drop(recording);
        assert_eq!(asked.try_iter().last(), Some(407), "the last of it before it is let go");
    }

    #[test]
    fn what_the_disk_did_not_keep_is_said_at_the_next_write() {
        let (disk, go, asked) = slow();
        let mut recording = Recording::start(disk, Duration::ZERO).unwrap();
        recording.flush().unwrap();
        assert_eq!(asked.recv_timeout(SOON), Ok(0));
        go.send(Err(ErrorKind::StorageFull.into())).unwrap();
        let refused = loop {
            match recording.flush() {
                Err(error) => break error,
                Ok(()) => std::thread::yield_now(),
            }
        };
        assert_eq!(refused.kind(), ErrorKind::StorageFull);
        assert!(
            recording.write(b"x").is_err() && refused.to_string().starts_with("the disk did not keep it")
        );
    }

    #[test]
    fn no_record_goes_over_another() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.mcap");
        create_new(&path).unwrap().write_all(b"first").unwrap();
        assert!(is_taken(&path));
        let refused = create_new(&path).err().unwrap().to_string();
        assert!(refused.contains("a.mcap` is there already"), "{refused}");
        assert_eq!(std::fs::read(&path).unwrap(), b"first");
        // An empty one holds nothing that could be lost.
        let empty = folder.path().join("b.mcap");
        std::fs::write(&empty, "").unwrap();
        create_new(&empty).unwrap().write_all(b"now").unwrap();
        assert_eq!(std::fs::read(&empty).unwrap(), b"now");
        create(&path).unwrap().write_all(b"2").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"2");
    }

    #[test]
    fn numbers_go_on_after_the_highest() {
        let folder = tempfile::tempdir().unwrap();
        let runs = folder.path().join("runs");
        let name = |made: (PathBuf, Box<dyn Write + Send>)| {
            made.0.file_name().unwrap().to_string_lossy().into_owned()
        };
        let next = || name(create_numbered(&runs, "evening", "mcap").unwrap());
        assert_eq!([next(), next()], ["evening-1.mcap", "evening-2.mcap"]);
        std::fs::remove_file(runs.join("evening-1.mcap")).unwrap();
        for other in
            ["evening-11.mcap", "evening-12.csv", "evening-b-40.mcap", "dawn-50.mcap", "evening.mcap"]
        {
            std::fs::write(runs.join(other), "x").unwrap();
        }
        assert_eq!(next(), "evening-12.mcap");
    }
}
