//! The window: thin panels over the desk's state. What they show and do is decided in `desk`.
//!
//! Cannot: decide anything about motion or files; speak to a drive. egui is named in this folder only.

mod app;
mod canvas;
mod dialogs;
mod drives;
mod editor;
mod findings;
mod margins;
mod overlay;
mod rig;
mod theme;
mod time;
mod top;
mod traces;
mod transport;
mod window;

pub use app::Cueloom;
pub use window::open;
