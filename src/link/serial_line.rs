//! A serial line. Nothing that is asked of it waits: neither for bytes, nor for what the system does between them.

use std::io::{Error, ErrorKind, Read, Write};
use std::time::Duration;

#[cfg(target_os = "linux")]
type Port = std::os::fd::OwnedFd;
#[cfg(not(target_os = "linux"))]
type Port = serial2::SerialPort;

/// A serial line: 8 data bits, no parity, one stop bit, no flow control.
#[derive(Debug)]
pub struct SerialLine(Port);

impl SerialLine {
    /// `/dev/ttyACM0`, or `/dev/ttyACM0@921600` (baud; 115200 when not given).
    ///
    /// # Errors
    /// When the port cannot be opened or set up.
    pub fn open(port: &str) -> std::io::Result<Self> {
        let (name, baud) = port.split_once('@').unwrap_or((port, "115200"));
        let baud: u32 = baud
            .parse()
            .map_err(|_| Error::new(ErrorKind::InvalidInput, format!("`{baud}` is no number of baud")))?;
        let mut port = serial2::SerialPort::open(name, baud)?;
        port.set_read_timeout(Duration::ZERO)?;
        port.set_write_timeout(Duration::ZERO)?;
        port.discard_buffers()?;
        // On Linux it was opened so that it does not block.
        #[cfg(target_os = "linux")]
        let port = Port::from(port);
        Ok(Self(port))
    }
}

impl Read for SerialLine {
    /// Linux hands on what came by threads of its own at an everyday priority, and whoever looks for bytes where there are
    /// none, by `poll` or `read`, waits for these (n_tty.c: `tty_buffer_flush_work`; from memory, and measured): for as long
    /// as others keep the processors busy. How many there are is told at once.
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        #[cfg(target_os = "linux")]
        return match rustix::io::ioctl_fionread(&self.0)? {
            0 => Err(ErrorKind::WouldBlock.into()),
            _ => Ok(rustix::io::read(&self.0, to)?),
        };
        #[cfg(not(target_os = "linux"))]
        self.0.read(to)
    }
}

impl Write for SerialLine {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        #[cfg(target_os = "linux")]
        return Ok(rustix::io::write(&self.0, bytes)?);
        #[cfg(not(target_os = "linux"))]
        self.0.write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}
