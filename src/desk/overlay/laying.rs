//! Laying a record over its scene, cycle by cycle: what was played along the scene goes to the scene's time, the rest is
//! left out. What is held does not grow with the record.

use super::cells::{self, Cells};
use super::head::Head;
use super::marks::{Mark, marked};
use super::{Laid, Line, Worst};
use crate::record::LoggedCycle;
use crate::safety::State;
use std::collections::VecDeque;

/// Cycles that one cell holds at first.
const CYCLES: u64 = 4;

/// What happens so shortly after a run left the scene's path belongs to its end, s: a fault is noted in the cycle after
/// the last that was on the path. Own choice.
const AFTER_S: f64 = 0.1;

/// Parts of the scene with less between them are one stretch, s. Own choice: less cannot be seen.
const GAP_S: f64 = 0.05;

/// Most marks; a governor that holds back and follows in turns can write any number.
const MOST_MARKS: usize = 2000;

/// A record under way to its scene.
#[derive(Debug)]
pub struct Laying {
    laid: Laid,
    /// When the run was last on the scene's path, run and scene seconds.
    on: Option<(f64, f64)>,
    /// Events that wait for their cycle, run seconds.
    waiting: VecDeque<(f64, String)>,
}

impl Laying {
    /// Nothing yet, of a record with this head and these legs.
    pub fn new(head: Head, legs: Vec<String>) -> Self {
        let width_us = CYCLES * head.cycle_us.unwrap_or(1000).clamp(100, 100_000);
        let rows = legs.len() * Line::ALL.len();
        let laid = Laid {
            worst: vec![Worst::default(); legs.len()],
            head,
            legs,
            cells: Cells::new(rows, width_us, cells::MOST),
            played: Vec::new(),
            marks: Vec::new(),
            more_marks: 0,
            cut_off: false,
        };
        Self { laid, on: None, waiting: VecDeque::new() }
    }

    /// Takes a cycle; they come in the order of the record.
    pub fn cycle(&mut self, cycle: &LoggedCycle) {
        while let Some((time_s, words)) = self.waiting.pop_front_if(|(time_s, _)| *time_s < cycle.time_s) {
            self.mark(time_s, &words);
        }
        // A platform is asked for by the scene alone, not on the way there and back.
        if !cycle.platform.iter().any(|axis| axis.is_finite()) || !cycle.path_s.is_finite() {
            return;
        }
        self.on = Some((cycle.time_s, cycle.path_s));
        // At rest on the path the brakes hold the legs, wherever those settle.
        if ![State::Following, State::Slowing].iter().any(|state| state.word() == cycle.path) {
            return;
        }
        let at_s = cycle.path_s.max(0.0);
        match self.laid.played.last_mut() {
            Some((_, to_s)) if at_s <= *to_s + GAP_S => *to_s = to_s.max(at_s),
            _ => self.laid.played.push((at_s, at_s)),
        }
        let one = |values: &[f64], leg: usize| values.get(leg).copied().unwrap_or(f64::NAN);
        let of_leg = |leg: usize| {
            let (commanded_m, measured_m) = (one(&cycle.commanded_m, leg), one(&cycle.measured_m, leg));
            Line::ALL.map(|line| match line {
                Line::Commanded => commanded_m,
                Line::Measured => measured_m,
                Line::Error => measured_m - commanded_m,
            })
        };
        let legs = self.laid.legs.len();
        self.laid.cells.put((at_s * 1e6).round() as u64, (0..legs).flat_map(of_leg));
        for (leg, worst) in self.laid.worst.iter_mut().enumerate() {
            let error_m = (one(&cycle.measured_m, leg) - one(&cycle.commanded_m, leg)).abs();
            if error_m > worst.error_m {
                *worst = Worst { error_m, at_s };
            }
        }
    }

    /// Takes an event; they come in the order of the record, and none after the cycle that follows it.
    pub fn event(&mut self, time_s: f64, words: String) {
        self.waiting.push_back((time_s, words));
    }

    /// Marks what happened where the run stood then.
    fn mark(&mut self, time_s: f64, words: &str) {
        let Some((on_s, at_s)) = self.on else { return };
        if time_s - on_s > AFTER_S {
            return;
        }
        let Some((kind, words)) = marked(words) else { return };
        if self.laid.marks.len() < MOST_MARKS {
            self.laid.marks.push(Mark { at_s: at_s.max(0.0), kind, words });
        } else {
            self.laid.more_marks += 1;
        }
    }

    /// The record's end.
    ///
    /// # Errors
    /// When the scene was not played in it, in words.
    pub fn end(mut self, cut_off: bool) -> Result<Laid, String> {
        for (time_s, words) in std::mem::take(&mut self.waiting) {
            self.mark(time_s, &words);
        }
        if self.laid.played.is_empty() {
            let cut = if cut_off { "; it was cut off" } else { "" };
            return Err(format!(
                "nothing of a scene was played in it{cut}: choose a run in which one was (jogs and homing have none)"
            ));
        }
        self.laid.cut_off = cut_off;
        self.laid.marks.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        Ok(self.laid)
    }
}

#[cfg(test)]
mod tests {
    use super::super::marks::Kind;
    use super::*;

    /// A run at 500 Hz that goes to the scene's start for 1 s, plays 2 s of it, is let go of, slows, stands for 3 s, goes
    /// on to scene second 3, and is tripped. The path goes 10 mm a second; what is measured is 1 mm short, once 4 mm.
    fn run() -> Laying {
        let head = Head { cycle_us: Some(2000), ..Head::default() };
        let mut laying = Laying::new(head, vec!["left".to_string()]);
        let cycle = |tick: u64, path: &str, path_s: f64, on: bool, short_m: f64| LoggedCycle {
            tick,
            time_s: tick as f64 * 0.002,
            path: path.to_string(),
            path_s,
            platform: vec![if on { 0.1 } else { f64::NAN }],
            commanded_m: vec![0.5 + 0.01 * path_s],
            measured_m: vec![0.5 + 0.01 * path_s - short_m],
            ..LoggedCycle::default()
        };
        laying.event(0.0, "asked: start".to_string());
        // On the way there the path has a time of its own, and legs may be anywhere.
        (0..500).for_each(|k| laying.cycle(&cycle(k, "engaging", k as f64 * 0.002, false, 0.2)));
        laying.event(0.996, "run: parked to engaging: asked for".to_string());
        (0..1000).for_each(|k| {
            let short_m = if k == 700 { 0.004 } else { 0.001 };
            laying.cycle(&cycle(500 + k, "following", k as f64 * 0.002, true, short_m));
            if k == 1 {
                laying.event(1.002, "run: engaging to following: asked for".to_string());
            }
        });
        laying.cycle(&cycle(1500, "slowing", 2.0, true, 0.001));
        laying.event(3.0, "run: following to holding: the presence input was let go".to_string());
        // Brakes hold it elsewhere.
        (1501..3000).for_each(|k| laying.cycle(&cycle(k, "holding", 2.0, true, 0.05)));
        laying.event(5.9, "asked: resume".to_string());
        (0..500).for_each(|k| {
            laying.cycle(&cycle(3000 + k, "following", 2.0 + k as f64 * 0.002, true, 0.001));
        });
        laying.cycle(&cycle(3500, "braking", 3.0, false, 0.3));
        laying.event(7.0, "tripped: left measured at 0.5 m".to_string());
        (3501..3600).for_each(|k| laying.cycle(&cycle(k, "braking", 3.0, false, 0.3)));
        laying.event(7.199, "run: following to faulted: a leg is too far from its set-point".to_string());
        laying
    }

    #[test]
    fn what_was_played_lies_at_the_scenes_time_and_nothing_else_does() {
        let laid = run().end(false).unwrap();
        let mm = |line: Line, from_s: f64, to_s: f64| {
            let cell = laid.extent(line, 0, from_s, to_s)?;
            Some(((f64::from(cell.low) * 1e6).round() / 1e3, (f64::from(cell.high) * 1e6).round() / 1e3))
        };
        assert_eq!(laid.cell_s(), 0.008);
        // A cell of 8 ms from 1 s on: four cycles, 10 mm a second.
        assert_eq!(mm(Line::Commanded, 1.001, 1.007), Some((510.0, 510.06)));
        assert_eq!(mm(Line::Measured, 1.001, 1.007), Some((509.0, 509.06)));
        assert_eq!(mm(Line::Error, 1.001, 1.007), Some((-1.0, -1.0)));
        // Its worst is the one of cycle 700, at 1.4 s; neither the way there, nor the pause, nor the stop counts.
        assert_eq!(mm(Line::Error, 0.0, 3.0), Some((-4.0, -1.0)));
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
        let [Worst { error_m, at_s }] = laid.worst[..] else { panic!("{:?}", laid.worst) };
        assert!(near(error_m, 0.004) && near(at_s, 1.4), "{:?}", laid.worst);
        let [(from_s, to_s)] = laid.played[..] else { panic!("{:?}", laid.played) };
        assert!(near(from_s, 0.0) && near(to_s, 2.998), "{from_s} {to_s}");
        assert_eq!(mm(Line::Measured, 3.1, 9.0), None);
    }

    #[test]
    fn marks_stand_at_the_scenes_time_and_what_came_before_and_after_has_none() {
        let laid = run().end(true).unwrap();
        // To the millisecond: the test's own times are sums.
        let ms = |at_s: f64| (at_s * 1e3).round() / 1e3;
        let marks: Vec<(f64, Kind, &str)> =
            laid.marks.iter().map(|mark| (ms(mark.at_s), mark.kind, mark.words.as_str())).collect();
        assert_eq!(
            marks,
            [
                (0.002, Kind::Change, "engaging to following: asked for"),
                (2.0, Kind::LetGo, "following to holding: the presence input was let go"),
                (2.0, Kind::Change, "asked: resume"),
                (2.998, Kind::Fault, "tripped: left measured at 0.5 m"),
            ]
        );
        assert!(laid.cut_off);
    }

    #[test]
    fn a_record_without_a_scene_says_what_to_choose() {
        let error = Laying::new(Head::default(), vec!["left".to_string()]).end(true).unwrap_err();
        assert!(
            error.contains("nothing of a scene was played in it; it was cut off: choose a run"),
            "{error}"
        );
    }
}
