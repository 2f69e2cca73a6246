//! Cueloom: write motion cues down, check them against the rig's mechanics, play them the same way twice.
//!
//! # Conventions, declared once
//!
//! | what | convention |
//! | --- | --- |
//! | units | SI inside; a raw `f64` carries its unit in its name (`rate_rad_s`, `length_m`) |
//! | body axes | x forward, y right, z down (ISO 1151-1) |
//! | signs | pitch nose up, roll right wing down, yaw nose right, surge forward, sway right are positive; what people read and write counts heave positive up (`motion::sign`), the core counts z positive down |
//! | rig frame | origin at the pivot centre with the platform level; z down, so the floor has positive z |
//! | frames | `r` rig (does not move), `p` platform; a point names its frame as a suffix: `anchor_p_m` |
//! | platform coordinates | one value per degree of freedom of the rig, in the rig's order: rad for rotations, m for translations |
//! | time | scenario time in seconds from the scene's start, quantised to whole nanoseconds where things are placed; sample k is at k / rate, from the integer |
//! | phase | in turns, never radians, until a sine is taken |
//!
//! # Levels: `use crate::` goes down only (tests/tidy.rs enforces it)
//!
//! 0 `decimal` `diag` `time` · 1 `units` · 2 `lang` `signal` · 3 `rig` · 4 `scenario` · 5 `motion` · 6 `check` `safety` ·
//! 7 `audition` `commissioning` `page` `record` — the line between the pure core and the shell — 8 `files` `link`
//! `threads` · 9 `audio` `player` · 10 `drives` · 11 `desk` · 12 `gui` · 13 `cli`

// Output goes through `cli/output.rs`, which lives on when its reader goes away.
#![warn(clippy::print_stdout, clippy::print_stderr)]

pub mod decimal;
pub mod diag;
pub mod time;

pub mod units;

pub mod lang;
pub mod signal;

pub mod rig;

pub mod scenario;

pub mod motion;

pub mod check;
pub mod safety;

pub mod audition;
pub mod commissioning;
pub mod page;
pub mod record;

pub mod files;
pub mod link;
pub mod threads;

pub mod audio;
pub mod player;

pub mod drives;

pub mod desk;

#[cfg(feature = "gui")]
pub mod gui;

pub mod cli;
