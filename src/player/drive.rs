//! A run on drives: who answers, whether the link holds the cycle, then the run itself.

use super::clock::{Clock, SystemClock, TickingClock};
use super::drive_cycle::DriveCycle;
use super::forces::Forces;
use super::operator::Operator;
use super::recorder::Recorder;
use super::scene::ClearedScene;
use super::setup::Setup;
use super::thresholds::most_early_us;
use super::{Hand, Options, Order, PlayError, Played, Progress, Run};
use crate::check::Cleared;
use crate::link::{DriveLink, DriveOrder, DriveReport, DriveTime, FarEnd};
use crate::rig::Rig;
use crate::safety::operation::Permit;
use std::sync::mpsc::{Receiver, TryRecvError};
use std::time::Duration;

/// Cycles over which round trips are measured.
const MEASURED: usize = 250;

/// What a link was measured to do before anything was engaged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LinkMeasure {
    /// Orders sent.
    pub orders: usize,
    /// Reports that came.
    pub reports: usize,
    /// Half of the round trips were no longer, microseconds.
    pub median_us: u64,
    /// All but one in a hundred were no longer, microseconds.
    pub p99_us: u64,
    /// The longest, microseconds.
    pub longest_us: u64,
    /// What one in a hundred may take at most, microseconds: two cycles (ours, and the far end's) and the link's time of
    /// the rig file both ways (own choice).
    pub most_us: u64,
    /// The longest time without a report, microseconds.
    pub gap_us: u64,
    /// After such a time a run stops, microseconds: the rig file's detection time, at least three cycles.
    pub patience_us: u64,
    /// How late this computer served a cycle at most, microseconds: the link bears no blame for that.
    pub late_us: u64,
}

impl LinkMeasure {
    /// Whether the link holds the cycle: answers in time, and never a silence that would stop the rig.
    pub fn holds(&self) -> bool {
        self.reports > 0 && self.p99_us <= self.most_us && self.gap_us <= self.patience_us
    }

    /// What keeps it from holding a cycle of `cycle_us`, and what to do about it.
    pub(super) fn why_not(&self, cycle_us: u64) -> String {
        let mut found = Vec::new();
        if self.reports == 0 {
            found.push(format!("no report answered any of {} orders", self.orders));
        } else if self.p99_us > self.most_us {
            let (p99, most) = (self.p99_us, self.most_us);
            found.push(format!("99 % of answers came within {p99} us, expected {most} us"));
        }
        if self.gap_us > self.patience_us {
            let (gap, most) = (self.gap_us, self.patience_us);
            found.push(format!("the longest silence was {gap} us, expected at most {most} us"));
        }
        let advice = if self.late_us > cycle_us {
            let late = self.late_us;
            format!(
                "this computer itself was up to {late} us late: end other programs, or use a longer cycle"
            )
        } else {
            "use a longer cycle or a better link, or give the link's delay in the rig file".to_string()
        };
        format!("{}; {advice}", found.join(", and "))
    }
}

/// A link with its far end known and measured.
pub struct Connected<L> {
    link: L,
    /// Who is there.
    pub far: FarEnd,
    /// What the link was measured to do.
    pub measure: LinkMeasure,
    report: DriveReport,
    clock: Box<dyn Clock>,
}

impl<L: DriveLink> Connected<L> {
    /// Lets the link go before anything was engaged: who was there, and what the link was measured to do.
    pub fn leave(mut self) -> (FarEnd, LinkMeasure) {
        let _ = self.link.leave();
        (self.far, self.measure)
    }
}

impl<L> std::fmt::Debug for Connected<L> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Connected")
            .field("far", &self.far)
            .field("measure", &self.measure)
            .finish_non_exhaustive()
    }
}

/// Finds out who is at the far end, and sends it orders to stay off for a while to see how the link carries them.
/// Nothing moves. `cranked` for links that are cranked by hand.
///
/// # Errors
/// When nobody answers, another rig does, or the link does not hold the rig's cycle.
pub fn connect<L: DriveLink>(mut link: L, rig: &Rig, cranked: bool) -> Result<Connected<L>, PlayError> {
    let clock: Box<dyn Clock> =
        if cranked { Box::new(TickingClock::default()) } else { Box::new(SystemClock::start()) };
    let us = |clock: &dyn Clock| clock.now().as_micros() as u64;
    let asking = link.asking();
    let far = loop {
        if let Some(far) = link.identify(DriveTime(us(&*clock)))? {
            break far;
        }
        if us(&*clock) > asking.most_us {
            return Err(crate::link::LinkFault::Silent.into());
        }
        clock.wait_until(clock.now() + Duration::from_micros(asking.every_us));
    };
    let (legs, cycle_us) = (rig.actuators.len(), u64::from(rig.drive.cycle_us));
    if far.legs != legs || u64::from(far.cycle_us) != cycle_us {
        let found = crate::link::Identity { name: far.name, legs: far.legs, cycle_us: far.cycle_us };
        return Err(PlayError::WrongRig { found, legs, cycle_us });
    }
    let mut trips = Vec::with_capacity(MEASURED);
    let mut newest = None;
    let (mut heard_us, mut gap_us, mut late_us) = (us(&*clock), 0, 0);
    let mut due = clock.now();
    // The first orders make the far end take on this run; only what comes after that counts.
    for cycle in 0..MEASURED + 20 {
        due += Duration::from_micros(cycle_us);
        clock.wait_until(due);
        let now_us = us(&*clock);
        let late = clock.now().saturating_sub(due);
        if !link.is_dated() && late.as_micros() as u64 > most_early_us(cycle_us) {
            due += late;
        }
        if let Some(report) = link.poll(DriveTime(now_us))? {
            trips.extend(report.round_trip_us.filter(|_| cycle >= 20));
            newest = Some(report);
            heard_us = now_us;
        }
        // Until it has taken this run on, the far end says nothing.
        if cycle >= 20 {
            gap_us = gap_us.max(now_us.saturating_sub(heard_us));
            late_us = late_us.max(late.as_micros() as u64);
        }
        // One that does not go out is one that is not answered.
        let _ = link.send(DriveTime(now_us), &DriveOrder::off(DriveTime(now_us), legs));
    }
    trips.sort_unstable();
    let at =
        |share: f64| trips.get(((trips.len() as f64 * share) as usize).min(trips.len().saturating_sub(1)));
    let link_us = (rig.drive.link_s * 1e6) as u64;
    let measure = LinkMeasure {
        orders: MEASURED,
        reports: trips.len(),
        median_us: at(0.5).copied().unwrap_or(0),
        p99_us: at(0.99).copied().unwrap_or(u64::MAX),
        longest_us: trips.last().copied().unwrap_or(u64::MAX),
        most_us: 2 * cycle_us + 2 * link_us,
        gap_us,
        patience_us: rig.drive.patience_us(),
        late_us,
    };
    match newest {
        Some(report) if measure.holds() => Ok(Connected { link, far, measure, report, clock }),
        _ => {
            let _ = link.leave();
            Err(PlayError::Slow { measure, cycle_us })
        }
    }
}

/// Who runs a run: what is vouched for, and where an operator's wishes come from.
#[derive(Debug)]
pub struct Shell<'a> {
    /// What the shell vouches for.
    pub permit: Permit,
    /// Heard all the while; when nobody can give orders any more the run stops on its path and ends.
    pub orders: &'a Receiver<Order>,
    /// Presence that is held at this computer, besides the far end's own.
    pub hand: Option<Hand>,
    /// Nothing is wanted but what was ordered; else the start is wanted at once, and the way to park after the end.
    pub by_word: bool,
}

impl Shell<'_> {
    /// The next order. A shell that is gone ends the run, once.
    fn next(&self, gone: &mut bool) -> Option<Order> {
        match self.orders.try_recv() {
            Ok(order) => Some(order),
            Err(TryRecvError::Disconnected) if !std::mem::replace(gone, true) => Some(Order::End),
            Err(_) => None,
        }
    }
}

/// A cleared plan with what drives need for it. Made before a link is opened: it takes a look at the whole scene, and a far
/// end that hears nothing meanwhile would stop.
#[allow(missing_debug_implementations, reason = "its mechanics are whatever tells lengths")]
pub struct DrivePlan<'c> {
    cleared: &'c Cleared,
    forces: Forces,
    setup: Setup,
}

impl<'c> DrivePlan<'c> {
    /// For a cleared plan.
    ///
    /// # Errors
    /// When limits cannot be made of its rig.
    pub fn of(cleared: &'c Cleared) -> Result<Self, PlayError> {
        let (forces, fastest_m_s) = Forces::of(cleared);
        let setup = Setup::of(cleared.plan().rig())?.no_faster_than(&fastest_m_s);
        Ok(Self { cleared, forces, setup })
    }
}

/// Plays a cleared plan on drives, from park to park as the operator wants it; ends at rest. `record` gets the record.
///
/// # Errors
/// When the run cannot begin; once begun, how it ended is in [`Played`].
pub fn drive<L: DriveLink>(
    plan: &DrivePlan<'_>,
    connected: Connected<L>,
    options: &Options,
    shell: &Shell<'_>,
    record: super::Record,
    progress: &mut dyn FnMut(&Progress),
) -> Result<Played, PlayError> {
    let DrivePlan { cleared, forces, setup } = plan;
    let rig = cleared.plan().rig();
    let scene = ClearedScene::new(cleared)
        .ok_or(PlayError::Cycle { rate_hz: cleared.plan().rate().hz(), cycle_us: rig.drive.cycle_us })?;
    let Connected { link, far, report, clock, .. } = connected;
    let run = Run { setup, scene: &scene, options, clock: Some(&*clock) };
    run.drive(link, report, &far, forces.clone(), rig, shell, record, progress)
}

impl Run<'_> {
    #[allow(clippy::too_many_arguments, reason = "each is one thing, and this is called in one place")]
    fn drive<L: DriveLink>(
        &self,
        link: L,
        report: DriveReport,
        far: &FarEnd,
        forces: Forces,
        rig: &Rig,
        shell: &Shell<'_>,
        record: super::Record,
        progress: &mut dyn FnMut(&Progress),
    ) -> Result<Played, PlayError> {
        let setup = self.setup;
        let first_m = self.first_m()?;
        let operator =
            Operator::new(setup, self.scene, first_m, self.options.park_at_end).by_word(shell.by_word);
        let frames = super::scene::Scene::frames(self.scene);
        let cycle =
            DriveCycle::new(setup, link, frames, forces, shell.permit, report, rig.drive.patience_us())
                .with_hand(shell.hand.clone());
        let mut gone = false;
        let orders = &mut || shell.next(&mut gone);
        let mut header = self.header(&crate::link::Identity {
            name: far.name.clone(),
            legs: far.legs,
            cycle_us: far.cycle_us,
        });
        let serials: Vec<String> = far.serials.iter().map(u64::to_string).collect();
        header.entries.extend([
            ("drives".to_string(), serials.join(" ")),
            ("firmware".to_string(), far.firmware.to_string()),
            ("parameters".to_string(), format!("{:016x}", far.parameters)),
        ]);
        let recorder = Recorder::start(record, header, setup.cycle_s());
        if self.options.fast {
            Ok(self.fast(cycle, operator, recorder, orders, progress))
        } else {
            self.real_time(cycle, operator, recorder, orders, progress)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Only what is wrong is named, and the computer's own lateness is not the link's.
    #[test]
    fn a_link_too_slow_says_what_is_and_who_is_to_blame() {
        let fit = LinkMeasure {
            orders: 250,
            reports: 250,
            median_us: 900,
            p99_us: 1500,
            longest_us: 1900,
            most_us: 6000,
            gap_us: 2100,
            patience_us: 10_000,
            late_us: 80,
        };
        assert!(fit.holds());
        let far = LinkMeasure { p99_us: 9000, ..fit }.why_not(2000);
        assert!(far.contains("within 9000 us, expected 6000 us") && far.contains("better link"), "{far}");
        assert!(!far.contains("silence"), "{far}");
        let host = LinkMeasure { gap_us: 14_000, late_us: 13_000, ..fit }.why_not(2000);
        assert!(
            host.contains("silence was 14000 us") && host.contains("itself was up to 13000 us"),
            "{host}"
        );
        assert!(!host.contains("better link") && !host.contains("99 %"), "{host}");
        let deaf = LinkMeasure { reports: 0, p99_us: u64::MAX, ..fit }.why_not(2000);
        assert!(deaf.starts_with("no report answered any of 250 orders"), "{deaf}");
    }
}
