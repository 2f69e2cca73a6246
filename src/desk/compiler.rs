//! The background: text to meaning, to traces, to findings, always for the newest text and variant only.
//!
//! One thread. A newer request makes it give up what it is at; results carry the number of their request.

use super::change::kept;
use super::traces::{Chunk, Traces};
use super::understand::{GoodRigs, Understood, understand};
use super::variant::Variant;
use super::workers::{Interruptible, unless_given_up};
use super::world::OpenFiles;
use crate::check::{self, Margin, Report};
use crate::diag::Diagnostic;
use crate::drives::Records;
use crate::motion::{Plan, Workers};
use crate::player::today;
use crate::threads::Threads;
use crate::time::SampleRate;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};

/// Samples a second of traces and checks.
pub const RATE_HZ: u32 = 1000;

/// What is to be compiled.
#[derive(Debug, Clone)]
pub struct Request {
    /// Where the profile stands or would stand.
    pub path: PathBuf,
    /// Its text.
    pub text: Arc<str>,
    /// Texts of other open files.
    pub open: OpenFiles,
    /// Counts changes of settings and rig files: the texts are the same, what was read of them is not.
    pub files: u64,
    /// Which scene.
    pub scene: Option<String>,
    /// How it is rehearsed.
    pub variant: Variant,
    /// Of runs on drives: what legs strayed in them is taken off the margins.
    pub records: Records,
    /// The stretch in view, plan seconds: rendered first.
    pub in_view_s: (f64, f64),
}

/// A motion that can be looked at.
#[derive(Debug, Clone)]
pub struct Motion {
    /// What moves.
    pub plan: Plan,
    /// Its rows.
    pub traces: Traces,
    /// Whether all of it is rendered.
    pub complete: bool,
    /// The variant.
    pub variant: Variant,
    /// The texts and scene that it came from.
    pub understood: Arc<Understood>,
}

/// A check of a motion.
#[derive(Debug, Clone)]
pub struct Checked {
    /// What was found.
    pub report: Arc<Report>,
    /// The texts that its places are in.
    pub understood: Arc<Understood>,
    /// Why what legs strayed in runs before is not taken off the margins, where it should be.
    pub not_narrowed: Option<String>,
}

/// What the background has to say of a request, in this order; a request overtaken says nothing more.
#[derive(Debug, Clone)]
pub enum News {
    /// The text was read.
    Understood(Arc<Understood>),
    /// It cannot be planned on the rig.
    Refused(Arc<Vec<Diagnostic>>),
    /// Some or all of the traces are there.
    Motion(Arc<Motion>),
    /// How near it comes to every limit; what would fit is still being looked for.
    Margins(Arc<Vec<Margin>>),
    /// The check ran.
    Checked(Checked),
}

/// A handle on the background thread, which ends with it.
pub struct Compiler {
    requests: Option<Sender<Job>>,
    news: Receiver<(u64, News)>,
    /// Of the newest request.
    stale: Arc<AtomicBool>,
    asked: u64,
    thread: Option<std::thread::JoinHandle<()>>,
}

/// A request on its way.
struct Job {
    number: u64,
    request: Request,
    /// Put up when a newer one was asked for.
    stale: Arc<AtomicBool>,
}

impl std::fmt::Debug for Compiler {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.debug_struct("Compiler").field("asked", &self.asked).finish_non_exhaustive()
    }
}

impl Compiler {
    /// Starts the thread; `wake` is called when there is news.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub fn start(wake: impl Fn() + Send + 'static) -> std::io::Result<Self> {
        let (requests, inbox) = channel::<Job>();
        let (outbox, news) = channel();
        let thread = std::thread::Builder::new().name("compiler".to_string()).spawn(move || {
            let mut bench = Bench::default();
            while let Ok(job) = inbox.recv() {
                let mut say = |news| {
                    if !job.stale.load(Ordering::Relaxed) && outbox.send((job.number, news)).is_ok() {
                        wake();
                    }
                };
                if !job.stale.load(Ordering::Relaxed) {
                    bench.work(job.request, &job.stale, &mut say);
                }
            }
        })?;
        let stale = Arc::new(AtomicBool::new(false));
        Ok(Self { requests: Some(requests), news, stale, asked: 0, thread: Some(thread) })
    }

    /// Asks for a newer text or variant; what is under way is given up. The number that its news will carry.
    pub fn ask(&mut self, request: Request) -> u64 {
        self.asked += 1;
        self.stale.store(true, Ordering::Relaxed);
        self.stale = Arc::default();
        if let Some(requests) = &self.requests {
            // A thread that ended by itself can only have panicked; then there is no news, and the window lives on.
            let _ = requests.send(Job { number: self.asked, request, stale: self.stale.clone() });
        }
        self.asked
    }

    /// Gives up what is under way: enough is known.
    pub fn rest(&self) {
        self.stale.store(true, Ordering::Relaxed);
    }

    /// News of the newest request, and of no older one.
    pub fn news(&self) -> Option<News> {
        while let Ok((number, news)) = self.news.try_recv() {
            if number == self.asked {
                return Some(news);
            }
        }
        None
    }
}

impl Drop for Compiler {
    fn drop(&mut self) {
        self.requests = None;
        self.stale.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// What the thread keeps from one request to the next.
#[derive(Default)]
struct Bench {
    read: Option<(Request, Arc<Understood>)>,
    motion: Option<Arc<Motion>>,
    good: GoodRigs,
}

impl Bench {
    fn work(&mut self, request: Request, stale: &AtomicBool, say: &mut dyn FnMut(News)) {
        let understood = self.understood(&request);
        say(News::Understood(understood.clone()));
        if stale.load(Ordering::Relaxed) || understood.has_errors() {
            return;
        }
        let (Some(scenario), Some(rig)) = (&understood.scenario, &understood.rig) else { return };
        let Some(rate) = SampleRate::new(RATE_HZ) else { return };
        let plan = match request.variant.plan(scenario, rig, rate) {
            Ok(plan) => plan,
            Err(errors) => {
                say(News::Refused(Arc::new(check::refusals(&request.variant.scene(scenario), rig, &errors))));
                return;
            }
        };
        let Some(motion) = self.render(plan, &request, &understood, stale, say) else { return };
        let (plan, not_narrowed) = match request.records.straying(&motion.plan, today().0) {
            Ok(plan) => (plan, None),
            Err(error) => (motion.plan.clone(), Some(error.to_string())),
        };
        let workers = Interruptible { threads: Threads::all(), stale };
        let run = || {
            let mut tell = |margins: &[Margin]| say(News::Margins(Arc::new(margins.to_vec())));
            check::run_telling(&plan, &understood.sources, &workers, &|_| {}, &mut tell)
        };
        if let Some(report) = unless_given_up(run) {
            say(News::Checked(Checked { report: Arc::new(report), understood, not_narrowed }));
        }
    }

    fn understood(&mut self, request: &Request) -> Arc<Understood> {
        if let Some((known, understood)) = &self.read
            && known.text == request.text
            && known.path == request.path
            && known.files == request.files
            && known.scene == request.scene
            && known.open.texts == request.open.texts
        {
            return understood.clone();
        }
        let scene = request.scene.as_deref();
        let understood = Arc::new(understand(&request.path, &request.text, scene, &request.open, &self.good));
        if let (Some(path), None) = (&understood.rig_path, &understood.old_rig) {
            let name = path.display().to_string();
            let mut texts = understood.sources.iter().map(|(_, text)| text);
            if let Some(text) = texts.find(|text| text.name() == name) {
                self.good.insert(path.clone(), text.text().into());
            }
        }
        self.read = Some((request.clone(), understood.clone()));
        understood
    }

    /// Renders what is new; what is in view first.
    fn render(
        &mut self,
        plan: Plan,
        request: &Request,
        understood: &Arc<Understood>,
        stale: &AtomicBool,
        say: &mut dyn FnMut(News),
    ) -> Option<Arc<Motion>> {
        let mut traces = Traces::of(&plan);
        if let Some(before) = &self.motion {
            for (number, _) in
                kept(&before.plan, &plan).into_iter().enumerate().filter(|(_, is_kept)| *is_kept)
            {
                if let Some(chunk) = before.traces.chunk(number) {
                    traces.put(number, chunk.clone());
                }
            }
        }
        let chunk_s = super::traces::CHUNK as f64 / f64::from(RATE_HZ);
        let (from_s, to_s) = request.in_view_s;
        let seen = |number: &usize| {
            let start_s = *number as f64 * chunk_s;
            start_s < to_s && start_s + chunk_s > from_s
        };
        let (first, rest): (Vec<usize>, Vec<usize>) = traces.missing().partition(seen);
        let motion = |traces: &Traces, complete| {
            Arc::new(Motion {
                plan: plan.clone(),
                traces: traces.clone(),
                complete,
                variant: request.variant.clone(),
                understood: understood.clone(),
            })
        };
        let workers = Interruptible { threads: Threads::all(), stale };
        for (part, complete) in [(first, rest.is_empty()), (rest, true)] {
            // A few chunks a job, so that each job's buffers are worth making.
            const JOB: usize = 8;
            let jobs: Vec<&[usize]> = part.chunks(JOB).collect();
            let render = |job: u64| {
                let mut frames = plan.frames();
                let numbers = jobs.get(job as usize).copied().unwrap_or_default();
                let chunk = |number: &usize| (*number, Arc::new(Chunk::render(&plan, *number, &mut frames)));
                numbers.iter().map(chunk).collect::<Vec<_>>()
            };
            let rendered = unless_given_up(|| workers.map(jobs.len() as u64, render))?;
            rendered.into_iter().flatten().for_each(|(number, chunk)| traces.put(number, chunk));
            let now = motion(&traces, complete);
            // Also kept when not complete: what is there need not be rendered again.
            self.motion = Some(now.clone());
            if !complete || !part.is_empty() || traces.missing().next().is_none() {
                say(News::Motion(now.clone()));
            }
            if complete {
                return Some(now);
            }
        }
        None
    }
}

#[cfg(test)]
mod tests;
