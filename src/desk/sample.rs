//! Small scenes on the demo's rig, for tests.

use super::understand::{Understood, understand};
use super::world::OpenFiles;
use std::path::{Path, PathBuf};

/// The demo profile in this repository.
pub(super) fn demo_path() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/evening-circuit.cues")
}

/// The demo's text.
pub(super) fn demo_text() -> String {
    std::fs::read_to_string(demo_path()).unwrap()
}

/// A scene with this body on the demo's rig.
pub(super) fn scene(body: &str) -> Understood {
    let text = format!("scene \"bench\" {{\n{body}\n}}\n");
    understand(
        &demo_path().with_file_name("bench.cues"),
        &text,
        None,
        &OpenFiles::default(),
        &Default::default(),
    )
}
