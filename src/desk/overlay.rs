//! A record of a run laid over the scene that it was made of: what its legs were asked for, what came back, and how far
//! one was from the other, at the scene's own time; and what happened on the way, as marks.
//!
//! Only what was played along the scene is laid there. Cannot: change a record; say what a rig may do.

pub mod cells;
pub mod head;
pub mod laying;
pub mod made;
pub mod marks;
pub mod reading;
pub mod runs;

use cells::Cells;
use head::Head;
use marks::Mark;

/// What is known of a leg at a time of the scene.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// What the path asked for: the plan at the record's gain.
    Commanded,
    /// What came back.
    Measured,
    /// Measured less commanded, of the same cycle: how late the leg comes is in it.
    Error,
}

impl Line {
    /// All, in the order of a leg's rows.
    pub const ALL: [Line; 3] = [Line::Commanded, Line::Measured, Line::Error];
}

/// The largest error of a leg.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Worst {
    /// Its size, m.
    pub error_m: f64,
    /// When, scene seconds.
    pub at_s: f64,
}

/// A record as it is laid over a scene.
#[derive(Debug, Clone, PartialEq)]
pub struct Laid {
    /// What it says of its run.
    pub head: Head,
    /// Names of its legs.
    pub legs: Vec<String>,
    cells: Cells,
    /// Stretches of the scene that it has, scene seconds.
    pub played: Vec<(f64, f64)>,
    /// What happened, by scene time.
    pub marks: Vec<Mark>,
    /// Marks that found no room.
    pub more_marks: usize,
    /// One a leg.
    pub worst: Vec<Worst>,
    /// The record was cut off.
    pub cut_off: bool,
}

impl Laid {
    /// Smallest and largest over a stretch of the scene, m, whole cells; `None` where nothing was played.
    pub fn extent(&self, line: Line, leg: usize, from_s: f64, to_s: f64) -> Option<super::traces::Extent> {
        let at = Line::ALL.iter().position(|known| *known == line)?;
        self.cells.extent(leg * Line::ALL.len() + at, from_s, to_s)
    }

    /// The same over all of it.
    pub fn whole(&self, line: Line, leg: usize) -> Option<super::traces::Extent> {
        self.extent(line, leg, 0.0, self.played.last()?.1)
    }

    /// How long a cell is, s: nothing shorter can be told apart.
    pub fn cell_s(&self) -> f64 {
        self.cells.width_s()
    }
}
