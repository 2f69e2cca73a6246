//! Comparing with the text as saved: a second background works out its motion, at the same gain, speed and parts.

use super::{Fresh, Studio};
use crate::desk::compare::{self, Against, Change};
use crate::desk::compiler::{Compiler, Motion, News, Request};
use crate::desk::document::Document;
use crate::desk::margins::{self, MarginRow};
use std::sync::Arc;

/// The saved text, as far as the background has told of it.
#[derive(Default)]
pub(super) struct Comparing {
    on: bool,
    /// Started when first needed.
    compiler: Option<Compiler>,
    /// What it was asked last; asked again only for something else.
    asked: Option<Request>,
    motion: Option<Arc<Motion>>,
    /// `None` until the check has measured.
    margins: Option<Vec<MarginRow>>,
    no_motion: bool,
}

impl Comparing {
    /// What was told belongs to something else, or nothing is compared.
    fn forget(&mut self) {
        self.asked = None;
        self.motion = None;
        self.margins = None;
        self.no_motion = false;
    }

    pub(super) fn is_working(&self) -> bool {
        self.asked.is_some() && !self.no_motion && self.margins.is_none()
    }

    fn hear(&mut self, news: News, tempo: f64) {
        match news {
            News::Understood(understood) => {
                self.no_motion =
                    understood.has_errors() || understood.rig.is_none() || understood.scenario.is_none();
            }
            News::Refused(_) => self.no_motion = true,
            News::Motion(motion) => self.motion = Some(motion),
            // Of the motion alone; those of forces and brakes come with the whole check, and a part is no comparison.
            News::Margins(_) => {}
            News::Checked(checked) => {
                self.margins = Some(margins::rows(&checked.report.margins, tempo));
            }
        }
    }
}

/// Whether both would be answered alike. What is in view only changes the order in which traces come.
fn same(a: &Request, b: &Request) -> bool {
    a.path == b.path
        && a.text == b.text
        && a.open.texts == b.open.texts
        && a.files == b.files
        && a.scene == b.scene
        && a.variant == b.variant
}

impl Studio {
    /// Whether the saved text is compared with.
    pub fn compares(&self) -> bool {
        self.comparing.on
    }

    /// Compares with the saved text, or not any more.
    pub fn toggle_compare(&mut self) {
        self.comparing.on = !self.comparing.on;
        self.look_back();
    }

    /// Has the saved text worked out when that is wanted and not yet asked for; lets go of it when it is not.
    pub(super) fn look_back(&mut self) {
        let wanted = self.comparing.on
            && self.documents.iter().any(Document::is_unsaved)
            && !self.document().was_never_saved();
        let Some(request) = wanted.then(|| self.request(Document::saved)).flatten() else {
            // What is under way is of no use to anybody.
            if let Some(compiler) = &self.comparing.compiler {
                compiler.rest();
            }
            self.comparing.forget();
            return;
        };
        if self.comparing.asked.as_ref().is_some_and(|asked| same(asked, &request)) {
            return;
        }
        if self.comparing.compiler.is_none() {
            let wake = self.wake.clone();
            match Compiler::start(move || wake()) {
                Ok(compiler) => self.comparing.compiler = Some(compiler),
                Err(error) => {
                    self.comparing.on = false;
                    self.say(format!("nothing can be compared: the system gives no thread ({error})"));
                    return;
                }
            }
        }
        self.comparing.forget();
        if let Some(compiler) = &mut self.comparing.compiler {
            compiler.ask(request.clone());
            self.comparing.asked = Some(request);
        }
    }

    /// Takes the news of the saved text; `true` when there was any.
    pub(super) fn hear_of_saved(&mut self) -> bool {
        let (mut any, tempo) = (false, self.variant.tempo);
        while let Some(news) = self.comparing.compiler.as_ref().and_then(Compiler::news) {
            any = true;
            if self.comparing.asked.is_some() {
                self.comparing.hear(news, tempo);
            }
        }
        any
    }

    /// How the comparison stands.
    pub fn against(&self) -> Against {
        let comparing = &self.comparing;
        if !comparing.on {
            Against::Off
        } else if self.document().was_never_saved() {
            Against::NeverSaved
        } else if comparing.asked.is_none() {
            Against::AsSaved
        } else if comparing.no_motion {
            Against::NoMotion
        } else if comparing.margins.is_none() {
            Against::Working
        } else {
            Against::There
        }
    }

    /// The motion of the saved text, where it can be drawn under the one shown: on the same rig, at the same speed.
    pub fn ghost(&self) -> Option<&Arc<Motion>> {
        let (ghost, shown) = (self.comparing.motion.as_ref()?, self.motion.as_ref()?);
        let alike =
            ghost.plan.rig().hash == shown.plan.rig().hash && ghost.plan.tempo() == shown.plan.tempo();
        alike.then_some(ghost)
    }

    /// How a margin shown changed since the text was saved.
    pub fn change(&self, row: &MarginRow) -> Option<Change> {
        let before = self.comparing.margins.as_ref().filter(|_| self.margins_are == Fresh::Current)?;
        compare::change(before, row)
    }

    /// The comparison in one line; empty when nothing is compared.
    pub fn compared(&self) -> String {
        let margins = self.comparing.margins.as_ref().filter(|_| self.margins_are == Fresh::Current);
        match (self.against(), margins) {
            (against @ Against::There, Some(before)) => {
                format!("{}; {}", against.words(), compare::summary(before, &self.margins))
            }
            (against, _) => against.words().to_string(),
        }
    }
}
