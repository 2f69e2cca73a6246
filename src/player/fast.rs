//! A run cranked by hand: every cycle after the other on the calling thread, as fast as it goes.

use super::director::{Directs, Order};
use super::recorder::{Entry, Recorder};
use super::rig_cycle::{Instant, Served};
use super::scene::{Frame, MotionSource};
use super::window::Frames;
use super::{Played, Progress, Run};
use std::collections::VecDeque;

/// Frames straight from a source, rendered when they are asked for.
struct Direct {
    source: Box<dyn MotionSource>,
    ready: VecDeque<Frame>,
    buffer: Vec<Frame>,
    given: u64,
    count: u64,
}

impl Frames for Direct {
    fn next(&mut self) -> Option<Frame> {
        if self.ready.is_empty() && self.given < self.count {
            self.buffer.clear();
            self.source.fill(self.given, &mut self.buffer);
            self.given += self.buffer.len() as u64;
            self.ready.extend(self.buffer.drain(..));
        }
        self.ready.pop_front()
    }

    fn waiting(&self) -> u64 {
        self.count
    }
}

impl Run<'_> {
    pub(super) fn fast<C: Served>(
        &self,
        mut cycle: C,
        mut director: impl Directs,
        mut recorder: Recorder,
        orders: &mut dyn FnMut() -> Option<Order>,
        progress: &mut dyn FnMut(&Progress),
    ) -> Played {
        let count = self.scene.frames();
        let mut frames = Direct {
            source: self.scene.source(),
            ready: VecDeque::new(),
            buffer: Vec::new(),
            given: 0,
            count,
        };
        let mut commands = VecDeque::new();
        // On drives the link has been cranked before.
        let start_us = self.clock.map_or(0, |clock| clock.now().as_micros() as u64);
        let every = (0.1 / self.setup.cycle_s()).ceil() as u64;
        loop {
            let view = cycle.view();
            let mut send = |command| {
                commands.push_back(command);
                true
            };
            while let Some(order) = orders() {
                director.order(&view, order, &mut send);
            }
            // A run without a record is no run: let go, once.
            if recorder.error.is_some() && director.let_go_once() {
                director.order(&view, Order::Stop, &mut send);
            }
            director.look(&view, &mut send);
            if recorder.error.is_some() {
                cycle.record_lost();
            }
            let due_us = start_us + view.tick * self.setup.cycle_us;
            let at = Instant { due_us, now_us: due_us };
            let served = cycle.serve(at, &mut || commands.pop_front(), &mut frames);
            served.notes().for_each(|note| recorder.take(&Entry::Note(*note)));
            recorder.take(&Entry::Row(served.row));
            if view.tick.is_multiple_of(every) {
                let (wanted, remark) = (director.wanted(), director.remark());
                progress(&Progress { wanted, remark, ..self.progress(&cycle.view()) });
            }
            if cycle.is_done() {
                break;
            }
        }
        recorder.finish();
        let view = cycle.view();
        progress(&self.progress(&view));
        cycle.end();
        self.played(&view, recorder, director.remarks())
    }
}
