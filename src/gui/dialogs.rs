//! What needs an answer first: a path, what to do with unsaved text, the list of keys.

use super::app::Cueloom;
use super::theme::Palette;
use crate::desk::keys::{Act, KEYS};
use crate::desk::studio::{Mode, Studio};
use crate::files;
use egui::{Key, Modal, RichText, ScrollArea, TextEdit};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, channel};

/// The one that is open.
pub(super) enum Dialog {
    /// Choose a file.
    Path(PathDialog),
    /// Close an unsaved tab?
    Close(usize),
    /// Close the window with unsaved tabs?
    Quit,
    /// Take back what a crash left behind?
    Recover,
    /// Every key.
    Keys,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Purpose {
    Open,
    SaveAs,
    Report,
    Record,
}

pub(super) struct PathDialog {
    purpose: Purpose,
    path: String,
    fresh: bool,
    /// The system's own dialog, while it is open.
    system: Option<Receiver<Option<PathBuf>>>,
}

impl Dialog {
    fn path(purpose: Purpose, path: PathBuf) -> Self {
        Self::Path(PathDialog { purpose, path: path.display().to_string(), fresh: true, system: None })
    }

    pub(super) fn open(studio: &Studio) -> Self {
        let folder = studio.document().path().parent().unwrap_or(Path::new(""));
        Self::path(Purpose::Open, folder.join(""))
    }

    pub(super) fn save_as(studio: &Studio) -> Self {
        Self::path(Purpose::SaveAs, studio.document().path().to_path_buf())
    }

    pub(super) fn report(studio: &Studio) -> Self {
        Self::path(Purpose::Report, studio.document().path().with_extension("html"))
    }

    /// The newest run of the profile is proposed.
    pub(super) fn record(studio: &mut Studio) -> Self {
        studio.look_for_runs();
        let folder = || studio.drives.records_of_steel().folder().join("");
        Self::path(Purpose::Record, studio.runs().first().map_or_else(folder, |run| run.path.clone()))
    }
}

enum Answer {
    Stay,
    Done,
}

pub(super) fn show(ui: &egui::Ui, app: &mut Cueloom, palette: &Palette) {
    let ctx = ui.ctx().clone();
    let Some(mut dialog) = app.view.dialog.take() else { return };
    let modal = Modal::new(egui::Id::unique("dialog")).show(&ctx, |ui| {
        ui.set_max_width(520.0);
        match &mut dialog {
            Dialog::Path(path) => choose_path(ui, app, path, palette),
            Dialog::Close(at) => close(ui, app, *at),
            Dialog::Quit => quit(ui, app),
            Dialog::Recover => recover(ui, app),
            Dialog::Keys => keys(ui, app.studio().mode() == Mode::OnDrives, palette),
        }
    });
    let escaped =
        modal.should_close() || ctx.input_mut(|input| input.consume_key(egui::Modifiers::NONE, Key::Escape));
    if escaped || matches!(modal.inner, Answer::Done) {
        return;
    }
    app.view.dialog.get_or_insert(dialog);
}

fn choose_path(ui: &mut egui::Ui, app: &mut Cueloom, dialog: &mut PathDialog, palette: &Palette) -> Answer {
    let (heading, button) = match dialog.purpose {
        Purpose::Open => ("Open a profile or library", "Open"),
        Purpose::SaveAs => ("Save under another name", "Save"),
        Purpose::Report => ("Write the report", "Write"),
        Purpose::Record => ("Lay a record of a run over the scene", "Lay over"),
    };
    ui.heading(heading);
    if dialog.purpose == Purpose::Record {
        super::overlay::runs(ui, app.studio(), &mut dialog.path, palette);
    }
    let label = ui.label("Path");
    let field = ui.add(TextEdit::singleline(&mut dialog.path).desired_width(480.0)).labelled_by(label.id);
    if std::mem::take(&mut dialog.fresh) {
        field.request_focus();
    }
    if dialog.purpose == Purpose::Open {
        let typed = PathBuf::from(&dialog.path);
        let folder = if dialog.path.ends_with(['/', '\\']) {
            typed
        } else {
            typed.parent().unwrap_or(Path::new("")).to_path_buf()
        };
        ScrollArea::vertical().max_height(160.0).show(ui, |ui| {
            for path in files::files_in(&folder, "cues") {
                let name = path.file_name().map_or(String::new(), |name| name.to_string_lossy().into_owned());
                if ui.selectable_label(false, name).clicked() {
                    dialog.path = path.display().to_string();
                }
            }
        });
    }
    if let Some(answer) = dialog.system.as_ref().and_then(|system| system.try_recv().ok()) {
        dialog.system = None;
        if let Some(path) = answer {
            dialog.path = path.display().to_string();
        }
    }
    if let Some(said) = app.studio().said() {
        ui.label(RichText::new(said).color(palette.faint));
    }
    let enter = ui.input(|input| input.key_pressed(Key::Enter));
    let mut answer = Answer::Stay;
    ui.horizontal(|ui| {
        if ui.button(button).clicked() || enter {
            let path = PathBuf::from(dialog.path.trim());
            let done = match dialog.purpose {
                Purpose::Open => app.studio_mut().open(&path),
                Purpose::SaveAs => app.studio_mut().save_as(&path),
                Purpose::Report => app.studio_mut().write_report(&path),
                Purpose::Record => {
                    app.studio_mut().lay_over(&path);
                    true
                }
            };
            if done {
                answer = Answer::Done;
            }
        }
        if ui.add_enabled(dialog.system.is_none(), egui::Button::new("Browse…")).clicked() {
            dialog.system = Some(browse(dialog, ui.ctx()));
        }
        if ui.button("Cancel").clicked() {
            answer = Answer::Done;
        }
    });
    answer
}

/// The system's own dialog, on a thread of its own, because it waits.
fn browse(dialog: &PathDialog, ctx: &egui::Context) -> Receiver<Option<PathBuf>> {
    let (sender, receiver) = channel();
    let (purpose, path, ctx) = (dialog.purpose, PathBuf::from(&dialog.path), ctx.clone());
    std::thread::spawn(move || {
        let (kind, suffix) = match purpose {
            Purpose::Report => ("Page", "html"),
            Purpose::Record => ("Record", "mcap"),
            Purpose::Open | Purpose::SaveAs => ("Profile", "cues"),
        };
        let folder = path.parent().unwrap_or(Path::new(".")).to_path_buf();
        let system = rfd::FileDialog::new().add_filter(kind, &[suffix]).set_directory(folder);
        let is_there = matches!(purpose, Purpose::Open | Purpose::Record);
        let chosen = if is_there { system.pick_file() } else { system.save_file() };
        let _ = sender.send(chosen);
        ctx.request_repaint();
    });
    receiver
}

fn close(ui: &mut egui::Ui, app: &mut Cueloom, at: usize) -> Answer {
    let Some(name) = app.studio().documents().get(at).map(crate::desk::document::Document::name) else {
        return Answer::Done;
    };
    ui.heading(format!("{name} is not saved"));
    let mut answer = Answer::Stay;
    ui.horizontal(|ui| {
        if ui.button("Save and close").clicked() {
            app.studio_mut().bring_to_front(at);
            if app.studio_mut().save(false) {
                app.studio_mut().close(at, false);
            }
            answer = Answer::Done;
        }
        if ui.button("Close without saving").clicked() {
            app.studio_mut().close(at, true);
            answer = Answer::Done;
        }
        if ui.button("Stay").clicked() {
            answer = Answer::Done;
        }
    });
    answer
}

fn quit(ui: &mut egui::Ui, app: &mut Cueloom) -> Answer {
    let names: Vec<String> = app
        .studio()
        .documents()
        .iter()
        .filter(|document| document.is_unsaved())
        .map(crate::desk::document::Document::name)
        .collect();
    ui.heading(format!("Not saved: {}", names.join(", ")));
    let mut answer = Answer::Stay;
    ui.horizontal(|ui| {
        if ui.button("Save all and quit").clicked() {
            let count = app.studio().documents().len();
            let saved = (0..count).all(|at| {
                app.studio_mut().bring_to_front(at);
                !app.studio().document().is_unsaved() || app.studio_mut().save(false)
            });
            if saved {
                app.quit(ui.ctx());
            }
            answer = Answer::Done;
        }
        if ui.button("Quit without saving").clicked() {
            app.quit(ui.ctx());
            answer = Answer::Done;
        }
        if ui.button("Stay").clicked() {
            answer = Answer::Done;
        }
    });
    answer
}

fn recover(ui: &mut egui::Ui, app: &mut Cueloom) -> Answer {
    ui.heading("Unsaved text was found");
    ui.label("The program ended before these were saved:");
    for unsaved in app.studio().unsaved() {
        ui.monospace(unsaved.path.display().to_string());
    }
    let mut answer = Answer::Stay;
    ui.horizontal(|ui| {
        if ui.button("Take it back").clicked() {
            app.studio_mut().recover();
            answer = Answer::Done;
        }
        if ui.button("Let it go").clicked() {
            app.studio_mut().forget_unsaved();
            answer = Answer::Done;
        }
    });
    answer
}

/// Every key; on the drives those that count there, so that the state behind stays in sight.
fn keys(ui: &mut egui::Ui, driven: bool, palette: &Palette) -> Answer {
    let counts = |act: Act| !driven || act.is_of_drives() || matches!(act, Act::Stop | Act::Hold);
    ui.heading("Keys");
    ScrollArea::vertical().max_height(420.0).show(ui, |ui| {
        egui::Grid::new("keys").num_columns(2).spacing([24.0, 3.0]).show(ui, |ui| {
            for key in KEYS.iter().filter(|key| counts(key.act)) {
                ui.monospace(key.name());
                ui.label(key.words);
                ui.end_row();
            }
        });
    });
    if !driven {
        ui.label(
            RichText::new("Ctrl+Z undoes while the text has the cursor; Tab goes from control to control")
                .color(palette.faint),
        );
        ui.label(
            RichText::new("In the list of words: Up and Down choose, Enter or Tab takes, Escape closes")
                .color(palette.faint),
        );
    }
    if ui.button("Close").clicked() { Answer::Done } else { Answer::Stay }
}
