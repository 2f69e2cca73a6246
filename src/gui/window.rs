//! The native window around the program.

use super::app::Cueloom;
use crate::desk::demo;
use crate::desk::document::Document;
use crate::desk::kept::Kept;
use crate::files;
use std::path::{Path, PathBuf};

/// What is opened first.
struct First {
    document: Document,
    others: Vec<PathBuf>,
    said: Option<String>,
}

/// Opens the window on `profile`; on what was open last, or the demo, without one. Returns when it is closed.
///
/// # Errors
/// Words, when the profile cannot be read or there is no screen.
pub fn open(profile: Option<&Path>) -> Result<(), String> {
    let folder = files::kept_folder();
    let kept = folder.as_deref().map(Kept::read).unwrap_or_default();
    let first = first(profile, &kept, folder.as_deref())?;
    let size = kept.window.unwrap_or([1280.0, 800.0]);
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("Cueloom")
            .with_app_id("cueloom")
            .with_inner_size(size)
            .with_min_inner_size([640.0, 420.0])
            .with_drag_and_drop(true),
        ..Default::default()
    };
    let make: eframe::AppCreator<'_> = Box::new(move |context| {
        let ctx = context.egui_ctx.clone();
        let mut app = Cueloom::new(&ctx, first.document, kept, folder);
        for path in first.others {
            app.studio_mut().open(&path);
        }
        app.studio_mut().bring_to_front(0);
        if let Some(words) = first.said {
            app.studio_mut().say(words);
        }
        Ok(Box::new(app))
    });
    eframe::run_native("cueloom", options, make).map_err(|error| {
        format!(
            "the window cannot be opened: {error}\n\
             `cueloom open` needs a screen with OpenGL; `cueloom check` and `cueloom play` need none"
        )
    })
}

fn first(profile: Option<&Path>, kept: &Kept, folder: Option<&Path>) -> Result<First, String> {
    if let Some(path) = profile {
        let document = Document::open(path).map_err(|error| error.to_string())?;
        return Ok(First { document, others: Vec::new(), said: None });
    }
    let mut documents = kept.open.iter().filter_map(|path| Document::open(path).ok());
    if let Some(document) = documents.next() {
        let others = documents.map(|document| document.path().to_path_buf()).collect();
        return Ok(First { document, others, said: None });
    }
    let folder = folder.ok_or("there is no folder to put the demo into; name a profile")?;
    let path = demo::unpack(&folder.join("demo")).map_err(|error| error.to_string())?;
    let document = Document::open(&path).map_err(|error| error.to_string())?;
    let said = format!("this is the demo, a copy of your own in {}", folder.join("demo").display());
    Ok(First { document, others: Vec::new(), said: Some(said) })
}
