//! Texts and their files: open, save, close, what others did to them, what a crash left behind.

use super::{Fresh, Studio};
use crate::check::Finding;
use crate::desk::compiler::Checked;
use crate::desk::document::{Document, OnDisk};
use crate::desk::recovery;
use crate::desk::understand::Understood;
use crate::{files, page};
use std::path::{Path, PathBuf};

/// What a new profile says.
const NEW_TEXT: &str = "scene \"new scene\" {\n    at 1 s  pitch pulse(1 deg, 2 s)  as first\n}\n";

/// What is played to set the latency by.
const KNOCKS_TEXT: &str =
    "# Play this round and round, and set the latency so that the nose is highest when the knock is heard.
scene \"knocks\" {
    during 1 s .. 20 s every 2 s  {
        pitch pulse(1 deg, 0.4 s)
        at 0.2 s  sound ring(-6 dB, 900 Hz)
    }
}
";

impl Studio {
    /// Opens a file in a tab of its own, or brings its tab to the front; a record is laid over the scene that is open.
    /// `false` when it cannot be read; that is said.
    pub fn open(&mut self, path: &Path) -> bool {
        if path.extension().is_some_and(|suffix| suffix == "mcap") {
            self.lay_over(path);
            return true;
        }
        let same = |document: &Document| document.path() == path;
        if let Some(at) = self.documents.iter().position(same) {
            self.bring_to_front(at);
            return true;
        }
        match Document::open(path) {
            Ok(document) => {
                self.documents.push(document);
                self.bring_to_front(self.documents.len() - 1);
                true
            }
            Err(error) => {
                self.say(format!("not opened: {error}"));
                false
            }
        }
    }

    /// A new profile beside the one in front.
    pub fn new_document(&mut self) {
        self.add("new", NEW_TEXT);
    }

    /// A new profile of knocks that are seen and heard at once when the latency is set right.
    pub fn new_knocks(&mut self) {
        self.add("knocks", KNOCKS_TEXT);
    }

    /// A text that no file has yet, under a name that is free.
    fn add(&mut self, stem: &str, text: &str) {
        let folder = self.document().path().parent().unwrap_or(Path::new("")).to_path_buf();
        let taken = |path: &PathBuf| {
            files::stamp(path).is_some() || self.documents.iter().any(|document| document.path() == path)
        };
        let numbered = (2..).map(|n| folder.join(format!("{stem}-{n}.cues")));
        let path =
            std::iter::once(folder.join(format!("{stem}.cues"))).chain(numbered).find(|path| !taken(path));
        if let Some(path) = path {
            self.documents.push(Document::new(path, text.to_string()));
            self.bring_to_front(self.documents.len() - 1);
        }
    }

    /// Brings a tab to the front.
    pub fn bring_to_front(&mut self, at: usize) {
        if at >= self.documents.len() || at == self.front {
            return;
        }
        self.stop();
        self.keep_unsaved();
        self.turn_to(at);
    }

    /// The text in front is that one, whatever was there before.
    fn turn_to(&mut self, at: usize) {
        self.front = at;
        self.cursor = 0;
        self.jump = None;
        self.scene = None;
        self.variant = crate::desk::variant::Variant::default();
        self.forget();
        self.compile();
    }

    /// What is shown belongs to another text.
    fn forget(&mut self) {
        self.understood = None;
        self.motion = None;
        self.motion_is = Fresh::Old;
        self.checked = None;
        self.rows.clear();
        self.margins.clear();
        self.blocks.clear();
        self.selected = None;
        self.axis_set = false;
        self.overlay.put_away();
        self.transport = crate::desk::transport::Transport::default();
    }

    /// The next tab.
    pub fn next_tab(&mut self) {
        self.bring_to_front((self.front + 1) % self.documents.len());
    }

    /// Closes a tab; an unsaved one only when `sure`. The last one gives way to a new profile. `false` when it stayed.
    pub fn close(&mut self, at: usize, sure: bool) -> bool {
        let Some(document) = self.documents.get(at) else { return true };
        if document.is_unsaved() && !sure {
            return false;
        }
        if let Some(folder) = &self.folder {
            let _ = files::remove(&recovery::place(folder, document.path()));
        }
        if self.documents.len() == 1 {
            self.new_document();
        }
        self.documents.remove(at);
        let front = if self.front > at { self.front - 1 } else { self.front.min(self.documents.len() - 1) };
        if self.front == at {
            // Another text comes to the front whatever its number.
            self.stop_silently();
            self.turn_to(front);
        } else {
            self.front = front;
        }
        true
    }

    fn stop_silently(&mut self) {
        self.play_when_ready = false;
        self.rehearsing = false;
        self.transport.pause();
        self.stretch_is_from_playhead = false;
    }

    /// Chooses a scene of the text in front.
    pub fn choose_scene(&mut self, title: &str) {
        self.stop();
        self.scene = Some(title.to_string());
        self.axis_set = false;
        self.compile();
    }

    /// Saves the text in front; `over` what somebody else wrote when told to.
    pub fn save(&mut self, over: bool) -> bool {
        let result = self.documents[self.front].save(over);
        self.after_save(result)
    }

    /// Saves the text in front under another name.
    pub fn save_as(&mut self, path: &Path) -> bool {
        let old = self.document().path().to_path_buf();
        let result = self.documents[self.front].save_to(path);
        if result.is_ok() {
            if let Some(folder) = &self.folder {
                let _ = files::remove(&recovery::place(folder, &old));
            }
            // Libraries and the rig are looked for beside the new place.
            self.compile();
        }
        self.after_save(result)
    }

    fn after_save(&mut self, result: Result<(), String>) -> bool {
        let saved = result.is_ok();
        self.say(match result {
            Ok(()) => format!("saved {}", self.document().path().display()),
            Err(words) => words,
        });
        if saved {
            self.look_back();
            self.keep_unsaved();
        }
        saved
    }

    /// Writes the report of what is shown to a page, in the background. `false` when there is nothing to report yet.
    pub fn write_report(&mut self, path: &Path) -> bool {
        let Some(checked) = self.checked.clone().filter(|_| self.checked_is == Fresh::Current) else {
            self.say("there is no check of this text yet to report on");
            return false;
        };
        if let Some(why) = &checked.understood.old_rig {
            self.say(format!("no report written: {why}, and a report is on the rig file as it is"));
            return false;
        }
        let (sender, page) = std::sync::mpsc::channel();
        let (path, wake) = (path.to_path_buf(), self.wake.clone());
        let work = move || {
            let page = report_page(&checked);
            let saved = files::save(&path, |out| std::io::Write::write_all(out, page.as_bytes()));
            let _ = sender.send(match saved {
                Ok(()) => format!("report written to {}", path.display()),
                Err(error) => format!("no report written: {error}"),
            });
            wake();
        };
        match std::thread::Builder::new().name("report".to_string()).spawn(work) {
            Ok(_) => {
                self.page = Some(page);
                self.say("writing the report");
                true
            }
            Err(error) => {
                self.say(format!("no report written: {error}"));
                false
            }
        }
    }

    /// Looks whether files changed under us. `true` when something new is known.
    pub fn look_at_files(&mut self) -> bool {
        let mut news = false;
        for document in &mut self.documents {
            let before = document.on_disk;
            news |= document.look() != before;
            // Nothing was written here, so there is nothing to decide.
            if document.on_disk == OnDisk::Changed && !document.is_unsaved() && document.reload().is_ok() {
                news = true;
            }
        }
        if self.rig_files_changed() {
            self.files += 1;
            // The levels of the ladder stand in the settings too.
            self.drives.read_ladder();
            news = true;
        }
        if news {
            self.compile();
        }
        news
    }

    /// Whether settings or rig file are not as they were when they were read last.
    fn rig_files_changed(&self) -> bool {
        // What is being read now will be looked at next time.
        let known = self.understood.as_ref().filter(|_| self.understood_is == Fresh::Current);
        known.is_some_and(|known| {
            known.watched.iter().any(|(path, stamp)| files::stamp(path) != *stamp)
                || files::find_settings(self.document().path()) != known.settings
        })
    }

    /// Says what became of the rig since the text was read before.
    pub(super) fn say_of_rig(&mut self, new: &Understood) {
        let Some(before) = self.understood.clone() else { return };
        let name = |known: &Understood| {
            known.rig_path.as_ref().map_or(String::new(), |path| path.display().to_string())
        };
        let hash = |known: &Understood| known.rig.as_ref().map(|rig| rig.hash.clone());
        match (&before.old_rig, &new.old_rig) {
            (was, Some(why)) if was.as_ref() != Some(why) => {
                self.say(format!("{why}; the rig is the last one without"));
            }
            (Some(_), None) if new.rig.is_some() => {
                self.say(format!("the rig file `{}` is read again: it has no errors any more", name(new)));
            }
            (None, None) if before.rig.is_some() && new.rig.is_some() && hash(&before) != hash(new) => {
                self.say(format!(
                    "the rig file `{}` changed; everything is worked out anew on it",
                    name(new)
                ));
            }
            _ => {}
        }
    }

    /// Takes the file's text in place of the one in front.
    pub fn reload(&mut self) {
        match self.documents[self.front].reload() {
            Ok(()) => self.edited(),
            Err(error) => self.say(format!("not read again: {error}")),
        }
    }

    /// Keeps what is unsaved beside, against a crash.
    pub fn keep_unsaved(&mut self) {
        let Some(folder) = self.folder.clone() else { return };
        let failed = self.documents.iter().find_map(|document| recovery::keep(&folder, document).err());
        if let Some(error) = failed {
            self.say(format!("unsaved text is not kept against a crash: {error}"));
        }
    }

    /// Takes back what a crash left behind.
    pub fn recover(&mut self) {
        for unsaved in std::mem::take(&mut self.unsaved) {
            self.open_text(&unsaved.path, unsaved.text);
        }
        self.keep_unsaved();
    }

    /// Opens a text that stands for the file at `path`.
    fn open_text(&mut self, path: &Path, text: String) {
        let known = self.documents.iter().position(|document| document.path() == path);
        let at = known.unwrap_or_else(|| {
            let document =
                Document::open(path).unwrap_or_else(|_| Document::new(path.to_path_buf(), String::new()));
            self.documents.push(document);
            self.documents.len() - 1
        });
        self.documents[at].text = text;
        if at == self.front {
            self.edited();
        } else {
            self.bring_to_front(at);
        }
    }

    /// Lets go of what a crash left behind.
    pub fn forget_unsaved(&mut self) {
        for unsaved in std::mem::take(&mut self.unsaved) {
            let _ = files::remove(&unsaved.kept);
        }
    }

    /// Whether any text is unsaved.
    pub fn any_unsaved(&self) -> bool {
        self.documents.iter().any(Document::is_unsaved)
    }

    /// The program ends on purpose: what was not saved was meant so.
    pub fn end(&mut self) {
        self.drives.end();
        if let Some(folder) = self.folder.clone() {
            for document in &self.documents {
                let _ = files::remove(&recovery::place(&folder, document.path()));
            }
            self.kept.open = self.documents.iter().map(|document| document.path().to_path_buf()).collect();
            self.kept.front = self.front;
            let _ = self.kept.write(&folder);
        }
    }
}

/// The page of a check.
fn report_page(checked: &Checked) -> String {
    let Checked { report, understood, .. } = checked;
    let mistakes = understood.mistakes.iter().cloned().map(Finding::unmeasured);
    let mut findings: Vec<Finding> = mistakes.chain(report.findings.iter().cloned()).collect();
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.diagnostic.severity));
    let rig = understood.rig_path.as_ref().map(|path| path.display().to_string()).unwrap_or_default();
    let of = page::Checked {
        profile: understood.sources.get(understood.profile).name(),
        rig: &rig,
        findings: &findings,
        sources: &understood.sources,
    };
    page::profile_page(report, of, &|_| {})
}
