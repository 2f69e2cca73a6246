//! A world without files: for text that stands alone, in tests and benches and wherever a disk has no say.

use super::World;

/// Has no file of any name.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoFiles;

impl World for NoFiles {
    fn library(&self, _: &str, name: &str) -> Result<(String, String), String> {
        Err(missing(name))
    }

    fn recording(&self, _: &str, name: &str) -> Result<Vec<u8>, String> {
        Err(missing(name))
    }

    fn sound_length_s(&self, _: &str, name: &str) -> Result<f64, String> {
        Err(missing(name))
    }
}

fn missing(name: &str) -> String {
    format!("there is no file `{name}`")
}
