use super::*;
use crate::desk::sample::{demo_path, demo_text};
use std::path::Path;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

struct Desk {
    compiler: Compiler,
    woken: Receiver<()>,
}

impl Desk {
    fn new() -> Self {
        let (wake, woken) = channel();
        let compiler = Compiler::start(move || {
            let _ = wake.send(());
        })
        .unwrap();
        Self { compiler, woken }
    }

    fn ask(&mut self, text: &str, variant: Variant) -> u64 {
        self.compiler.ask(Request {
            path: demo_path(),
            text: text.into(),
            open: OpenFiles::default(),
            files: 0,
            scene: None,
            variant,
            records: Records::at(Path::new("no such folder")),
            in_view_s: (0.0, 20.0),
        })
    }

    /// News until the last of a request, or until there is none for long.
    fn all(&mut self) -> Vec<News> {
        let mut all = Vec::new();
        loop {
            match self.woken.recv_timeout(Duration::from_secs(120)) {
                Ok(()) => all.extend(std::iter::from_fn(|| self.compiler.news())),
                Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => return all,
            }
            match all.last() {
                Some(News::Checked(_) | News::Refused(_)) => return all,
                Some(News::Understood(understood)) if understood.has_errors() => return all,
                _ => {}
            }
        }
    }
}

#[test]
fn the_demo_is_read_rendered_and_checked_and_a_slip_is_told_at_once() {
    let mut desk = Desk::new();
    let text = demo_text();
    desk.ask(&text, Variant::default());
    let news = desk.all();
    assert!(matches!(news.first(), Some(News::Understood(_))));
    let motions: Vec<_> = news
        .iter()
        .filter_map(|news| match news {
            News::Motion(motion) => Some(motion),
            _ => None,
        })
        .collect();
    assert!(!motions[0].complete && motions[0].traces.extent(0, 0, 1000).is_some(), "what is in view first");
    assert!(motions[0].traces.extent(0, 200_000, 201_000).is_none());
    let whole = motions.last().unwrap();
    assert!(whole.complete && whole.traces.missing().next().is_none());
    let Some(News::Checked(checked)) = news.last() else { panic!("{} news", news.len()) };
    assert!(checked.report.clear().is_some());

    desk.ask(&text.replacen("touchdown(sink", "tuochdown(sink", 1), Variant::default());
    let news = desk.all();
    let [News::Understood(understood)] = news.as_slice() else { panic!("{} news", news.len()) };
    assert!(understood.mistakes.iter().any(|mistake| !mistake.fixes.is_empty()), "{:?}", understood.mistakes);

    // A text that was overtaken is never spoken of.
    let old = desk.ask(&text, Variant { gain: 0.3, ..Variant::default() });
    let new = desk.ask(&text, Variant { gain: 1.5, ..Variant::default() });
    assert!(new > old);
    let news = desk.all();
    let Some(News::Checked(checked)) = news.last() else { panic!("{} news", news.len()) };
    assert_eq!(checked.report.plan().gain(), 1.5);
    let fits = checked.report.fits_gain.unwrap();
    assert!(fits > 1.0 && fits < 1.5 && checked.report.clear().is_none(), "{fits}");
}
