//! What is asked for on drives and does not begin: what the path has against it beside the state machine, and what an operator
//! is told of it at once.

use super::director::Order;
use crate::record::What;
use crate::safety as path;
use crate::safety::operation::{Operation, Refusal, Request};
use std::sync::Arc;

/// What the path says to acts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ready {
    /// The scene has not begun in this run.
    pub fresh: bool,
    /// Legs and set-points stand where a path may begin.
    pub placed: bool,
    /// A path was interrupted, and can be gone on with.
    pub interrupted: bool,
}

impl Ready {
    /// Why `request` would not begin now, by this and by the state machine; `None` when it would. A scene that was begun is
    /// said first: to park for it would be in vain.
    pub fn refusal(self, run: &Operation, request: Request) -> Option<Refusal> {
        if request == Request::Start && !self.fresh {
            return Some(Refusal::Begun);
        }
        if request == Request::Resume && !self.interrupted {
            return Some(run.refusal(request).unwrap_or(Refusal::Nothing));
        }
        let path = matches!(request, Request::Start | Request::Park | Request::Resume);
        let outside = (path && !self.placed).then_some(Refusal::Outside);
        match run.refusal(request) {
            // What one takes hold of last is said last.
            Some(Refusal::Presence) => outside.or(Some(Refusal::Presence)),
            own => own.or(outside),
        }
    }

    /// Why `order` to so many legs would not begin now; `None` when it would, and where no legs move by it.
    pub fn refusal_of(self, run: &Operation, order: Order, legs: usize) -> Option<Refusal> {
        if order.is_one_leg(legs) {
            return run.refusal_of_one_leg();
        }
        self.refusal(run, order.act()?)
    }
}

/// What was asked for last and does not begin.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Refused {
    /// Counts them, so that the same twice is seen to be two; a jog is said again and again, and counts once.
    pub number: u64,
    /// What, and why; `None` once something else has begun.
    pub what: Option<What>,
}

impl Refused {
    /// What is known after `what` was noted.
    #[must_use]
    pub(super) fn after(self, what: What) -> Self {
        let jogs = matches!(what, What::NotNow { request: Request::Jog, .. });
        let again = jogs && self.what == Some(what);
        match what {
            // A stop where nothing is to be stopped has what it wants.
            What::NotNow { request: Request::Stop | Request::Pause, .. } => self,
            // Said with its reason by whoever planned it.
            What::Refused(path::Refusal::NoMove | path::Refusal::NoRamp) => self,
            What::NotNow { .. } | What::Refused(_) if !again => {
                Self { number: self.number + 1, what: Some(what) }
            }
            What::Asked(_) => Self { what: None, ..self },
            _ => self,
        }
    }
}

/// Why something that was ordered cannot be done, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// Counts them.
    pub number: usize,
    /// The words.
    pub words: Arc<str>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::safety::operation::Timing;

    #[test]
    fn what_is_refused_is_counted_and_a_jog_that_is_said_again_is_not() {
        let not_now = |request, why| What::NotNow { request, why };
        let mut refused = Refused::default();
        let mut number = |what| {
            refused = refused.after(what);
            refused.what.map(|_| refused.number)
        };
        assert_eq!(number(not_now(Request::Pause, Refusal::Nothing)), None);
        assert_eq!(number(not_now(Request::Park, Refusal::There)), Some(1));
        assert_eq!(number(not_now(Request::Park, Refusal::There)), Some(2));
        assert_eq!(number(not_now(Request::Jog, Refusal::Gate)), Some(3));
        assert_eq!(number(not_now(Request::Jog, Refusal::Gate)), Some(3));
        assert_eq!(number(not_now(Request::Jog, Refusal::Mat)), Some(4));
        assert_eq!(number(What::Refused(path::Refusal::Late)), Some(5));
        assert_eq!(number(What::Refused(path::Refusal::NoRamp)), Some(5));
        assert_eq!(number(What::Asked(Request::Park)), None);
        assert_eq!(number(not_now(Request::Jog, Refusal::Mat)), Some(6));
    }

    #[test]
    fn a_scene_that_was_begun_is_not_begun_again_whatever_else_lacks() {
        let run = Operation::new(Timing::of(2000));
        let ready = |fresh, placed| Ready { fresh, placed, interrupted: true };
        assert_eq!(ready(true, true).refusal(&run, Request::Start), Some(Refusal::NotConnected));
        assert_eq!(ready(false, true).refusal(&run, Request::Start), Some(Refusal::Begun));
        assert_eq!(ready(true, false).refusal(&run, Request::Park), Some(Refusal::NotConnected));
    }
}
