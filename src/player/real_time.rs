//! A run in real time: a thread renders ahead, a thread serves the cycles, a thread writes the record, and the
//! caller's thread directs.
//!
//! Between them are rings of fixed size with one end each. The cycle thread never waits for another.

use super::clock::{Clock, SystemClock};
use super::command::{Command, View};
use super::director::{Directs, Order};
use super::priority::Granted;
use super::recorder::{Entry, Recorder};
use super::rig_cycle::{Directed, Instant, Served};
use super::scene::{Frame, MotionSource};
use super::window::Frames;
use super::{PlayError, Played, Progress, Run};
use crate::record::{Note, What};
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// Frames that are rendered ahead, s.
const AHEAD_S: f64 = 2.0;

/// Rows that can wait for the log, s.
const BEHIND_S: f64 = 4.0;

/// How often the threads that only carry look for more.
const LOOK: Duration = Duration::from_millis(5);

/// Views that can wait, one every so many microseconds; who leaves a second of them does not look any more.
const VIEWS: usize = 64;
const VIEW_US: u64 = 20_000;
const MOST_WAITING: usize = 50;

pub(super) struct Rings {
    pub(super) frames: Consumer<Frame>,
    pub(super) commands: Consumer<Command>,
    pub(super) views: Producer<View>,
    pub(super) entries: Producer<Entry>,
}

impl Rings {
    /// Who does not take views does not look.
    fn directed(&self) -> Directed {
        if self.views.is_abandoned() {
            return Directed::Gone;
        }
        let waiting = VIEWS.saturating_sub(self.views.slots());
        if waiting > MOST_WAITING { Directed::Silent } else { Directed::Yes }
    }
}

struct Ring<'a>(&'a mut Consumer<Frame>);

impl Frames for Ring<'_> {
    fn next(&mut self) -> Option<Frame> {
        self.0.pop().ok()
    }

    fn waiting(&self) -> u64 {
        self.0.slots() as u64
    }
}

impl Run<'_> {
    pub(super) fn real_time<C: Served>(
        &self,
        cycle: C,
        mut director: impl Directs,
        recorder: Recorder,
        orders: &mut dyn FnMut() -> Option<Order>,
        progress: &mut dyn FnMut(&Progress),
    ) -> Result<Played, PlayError> {
        let cycles_in = |seconds: f64| (seconds / self.setup.cycle_s()).ceil() as usize + 8;
        let (frames_in, frames) = RingBuffer::new(cycles_in(AHEAD_S));
        let (commands_in, commands) = RingBuffer::new(64);
        let (views, views_out) = RingBuffer::new(VIEWS);
        let (entries, entries_out) = RingBuffer::new(cycles_in(BEHIND_S));
        let rings = Rings { frames, commands, views, entries };
        let system = SystemClock::start();
        let clock: &dyn Clock = self.clock.unwrap_or(&system);
        let log_failed = AtomicBool::new(false);
        let cycle_us = self.setup.cycle_us;
        let first = cycle.view();
        std::thread::scope(|scope| {
            // Theirs who direct: gone with them, so that the cycle knows when they are.
            let (mut views_out, mut commands_in) = (views_out, commands_in);
            let count = self.scene.frames();
            let source = self.scene.source();
            let named = |name: &str| std::thread::Builder::new().name(name.to_string());
            named("render")
                .spawn_scoped(scope, move || render(source, count, frames_in, &system_clock()))
                .map_err(|_| PlayError::Thread("render"))?;
            let failed = &log_failed;
            let writer = named("record")
                .spawn_scoped(scope, move || write(recorder, entries_out, &system_clock(), failed))
                .map_err(|_| PlayError::Thread("record"))?;
            let cycles = named("cycle")
                .spawn_scoped(scope, move || serve(cycle, rings, clock, cycle_us, failed))
                .map_err(|_| PlayError::Thread("cycle"))?;
            let pace = SystemClock::start();
            let mut view = first;
            let mut told = Duration::ZERO;
            while !cycles.is_finished() {
                while let Ok(newer) = views_out.pop() {
                    view = newer;
                }
                let mut send = |command| commands_in.push(command).is_ok();
                while let Some(order) = orders() {
                    director.order(&view, order, &mut send);
                }
                if failed.load(Ordering::Relaxed) && director.let_go_once() {
                    director.order(&view, Order::Stop, &mut send);
                }
                director.look(&view, &mut send);
                if pace.now() >= told {
                    told = pace.now() + Duration::from_millis(100);
                    let (wanted, remark) = (director.wanted(), director.remark());
                    progress(&Progress { wanted, remark, ..self.progress(&view) });
                }
                pace.wait_until(pace.now() + LOOK);
            }
            let last = cycles.join().map_err(|_| PlayError::Thread("cycle"))?;
            let recorder = writer.join().map_err(|_| PlayError::Thread("record"))?;
            progress(&self.progress(&last));
            Ok(self.played(&last, recorder, director.remarks()))
        })
    }
}

fn system_clock() -> SystemClock {
    SystemClock::start()
}

/// Renders ahead until every frame is delivered or nobody takes them any more.
fn render(mut source: Box<dyn MotionSource>, count: u64, mut to: Producer<Frame>, clock: &dyn Clock) {
    let mut buffer = Vec::new();
    let mut given = 0;
    while given < count && !to.is_abandoned() {
        buffer.clear();
        source.fill(given, &mut buffer);
        given += buffer.len() as u64;
        if buffer.is_empty() {
            return;
        }
        for frame in &buffer {
            while to.push(*frame).is_err() {
                if to.is_abandoned() {
                    return;
                }
                clock.wait_until(clock.now() + LOOK);
            }
        }
    }
}

/// Writes the record until the cycle thread is gone and everything is written.
fn write(
    mut recorder: Recorder,
    mut from: Consumer<Entry>,
    clock: &dyn Clock,
    failed: &AtomicBool,
) -> Recorder {
    loop {
        // Asked before the ring is emptied: what was pushed before it was abandoned is still in it.
        let last = from.is_abandoned();
        while let Ok(entry) = from.pop() {
            recorder.take(&entry);
        }
        if recorder.error.is_some() {
            failed.store(true, Ordering::Relaxed);
        }
        if last {
            recorder.finish();
            return recorder;
        }
        clock.wait_until(clock.now() + LOOK);
    }
}

/// Serves every cycle at its deadline. Locks and logs nothing, and allocates nothing while legs may move.
pub(super) fn serve<C: Served>(
    mut cycle: C,
    mut rings: Rings,
    clock: &dyn Clock,
    cycle_us: u64,
    log_failed: &AtomicBool,
) -> View {
    let period = Duration::from_micros(cycle_us);
    let view_every = (VIEW_US / cycle_us.max(1)).max(1);
    if cycle.is_urgent() {
        let Granted { priority, locked } = super::priority::claim();
        let what = What::Granted { priority, locked };
        // The ring is empty now.
        let _ = rings.entries.push(Entry::Note(Note { time_us: 0, what }));
    }
    let latest = Duration::from_micros(cycle.catches_up_us());
    let mut deadline = clock.now() + period;
    let mut dropped = 0;
    loop {
        clock.wait_until(deadline);
        let (due, now) = (deadline, clock.now());
        let late = now.saturating_sub(due);
        let tick = cycle.view().tick;
        let time_us = tick * cycle_us;
        if late > latest {
            deadline += late;
            let what = What::Late { by_us: late.as_micros() as u64 };
            dropped += u64::from(rings.entries.push(Entry::Note(Note { time_us, what })).is_err());
        }
        cycle.directed(rings.directed());
        if dropped > 0 || log_failed.load(Ordering::Relaxed) {
            cycle.record_lost();
        }
        let at = Instant { due_us: due.as_micros() as u64, now_us: now.as_micros() as u64 };
        let commands = &mut rings.commands;
        let served = cycle.serve(at, &mut || commands.pop().ok(), &mut Ring(&mut rings.frames));
        for note in served.notes() {
            dropped += u64::from(rings.entries.push(Entry::Note(*note)).is_err());
        }
        if dropped > 0 && rings.entries.slots() > 1 {
            let note = Note { time_us, what: What::Dropped { rows: dropped } };
            if rings.entries.push(Entry::Note(note)).is_ok() {
                dropped = 0;
            }
        }
        dropped += u64::from(rings.entries.push(Entry::Row(served.row)).is_err());
        if tick.is_multiple_of(view_every) {
            // A view that finds no room is followed by a newer one.
            let _ = rings.views.push(cycle.view());
        }
        if cycle.is_done() {
            let view = cycle.view();
            cycle.end();
            return view;
        }
        deadline += period;
    }
}
