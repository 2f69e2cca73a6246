//! Placements as blocks on lanes: a block a placement, blocks that meet in time on different lanes.

use crate::diag::Span;
use crate::scenario::Scenario;

/// A block on a lane.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Its label, as in the text.
    pub name: String,
    /// Start, scene seconds.
    pub start_s: f64,
    /// End, scene seconds.
    pub end_s: f64,
    /// Which lane, from 0.
    pub lane: usize,
    /// The statement.
    pub span: Span,
    /// Index of the placement.
    pub placement: usize,
}

/// Blocks in the order of their starts. Each takes the first lane that is free at its start, so that few lanes are
/// needed and a block does not wander while others are edited later in the scene.
pub fn blocks(scenario: &Scenario) -> Vec<Block> {
    let mut order: Vec<usize> = (0..scenario.placements.len()).collect();
    let start = |at: &usize| scenario.placements[*at].start_s;
    order.sort_by(|a, b| start(a).total_cmp(&start(b)).then(a.cmp(b)));
    let mut free_s: Vec<f64> = Vec::new();
    order
        .into_iter()
        .map(|at| {
            let placement = &scenario.placements[at];
            let end_s = placement.start_s + placement.length_s;
            let lane = free_s.iter().position(|free| *free <= placement.start_s).unwrap_or_else(|| {
                free_s.push(0.0);
                free_s.len() - 1
            });
            free_s[lane] = end_s;
            let (name, span) = (placement.name.clone(), placement.span);
            Block { name, start_s: placement.start_s, end_s, lane, span, placement: at }
        })
        .collect()
}

/// What stands on a lane in view.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// A block, by its place.
    One(usize),
    /// Blocks that are too narrow and too near to be told apart, by their places.
    Crowd(Vec<usize>),
}

impl Mark {
    /// Places of its blocks, in the order of their starts; never none.
    pub fn members(&self) -> &[usize] {
        match self {
            Self::One(at) => std::slice::from_ref(at),
            Self::Crowd(members) => members,
        }
    }

    fn push(&mut self, at: usize) {
        match self {
            Self::One(first) => *self = Self::Crowd(vec![*first, at]),
            Self::Crowd(members) => members.push(at),
        }
    }
}

/// What shows of `blocks` (in the order of their starts) between two instants, scene seconds: blocks shorter than
/// `narrow_s` that follow each other on a lane within `near_s` show as one. Nothing is left out.
pub fn in_view(blocks: &[Block], (from_s, to_s): (f64, f64), narrow_s: f64, near_s: f64) -> Vec<Mark> {
    let mut marks: Vec<Mark> = Vec::new();
    // Of each lane: the crowd that may still grow, as its place in `marks`, and where it ends.
    let mut open: Vec<Option<(usize, f64)>> = vec![None; count(blocks)];
    let shown = blocks.iter().enumerate().filter(|(_, block)| block.start_s < to_s && block.end_s > from_s);
    for (at, block) in shown {
        let is_narrow = block.end_s - block.start_s < narrow_s;
        let open = &mut open[block.lane];
        if let Some((crowd, end_s)) = open.filter(|(_, end_s)| is_narrow && block.start_s - end_s < near_s) {
            marks[crowd].push(at);
            *open = Some((crowd, end_s.max(block.end_s)));
        } else {
            *open = is_narrow.then_some((marks.len(), block.end_s));
            marks.push(Mark::One(at));
        }
    }
    marks
}

/// How many lanes the blocks take.
pub fn count(blocks: &[Block]) -> usize {
    blocks.iter().map(|block| block.lane + 1).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::sample::{demo_path, demo_text, scene};
    use crate::desk::understand::understand;
    use crate::desk::world::OpenFiles;

    #[test]
    fn blocks_that_meet_stand_on_different_lanes() {
        let understood = scene(
            "at 0 s pitch pulse(1 deg, 4 s) as a\nat 1 s roll pulse(1 deg, 2 s) as b\nat 2 s roll pulse(1 deg, 1 s) as c\n\
             at 3 s roll pulse(1 deg, 1 s) as d",
        );
        let blocks = blocks(&understood.scenario.unwrap());
        let said: Vec<_> = blocks.iter().map(|block| (block.name.as_str(), block.lane)).collect();
        assert_eq!(said, [("a", 0), ("b", 1), ("c", 2), ("d", 1)]);
        assert_eq!(count(&blocks), 3);
    }

    #[test]
    fn narrow_blocks_crowd_together_and_none_is_left_out() {
        let understood = scene(
            "during 1 s .. 100 s every 2 s  pitch ring(0.02 deg, 6 Hz) as knock\nat 110 s roll pulse(1 deg, 30 s) as turn\n\
             at 150 s roll pulse(1 deg, 0.4 s) as last",
        );
        let blocks = blocks(&understood.scenario.unwrap());
        let view = |narrow_s, near_s| in_view(&blocks, (0.0, 200.0), narrow_s, near_s);
        let told = |marks: &[Mark]| marks.iter().map(|mark| mark.members().len()).collect::<Vec<_>>();
        // Far away: all knocks at once; the turn is wide, and what follows it stands by itself.
        let far = view(3.0, 2.0);
        assert_eq!(told(&far), [50, 1, 1]);
        assert!(matches!(&far[0], Mark::Crowd(members) if members[49] == 49), "{far:?}");
        // Near: each by itself.
        let near = view(0.1, 0.1);
        assert!(near.len() == 52 && near.iter().all(|mark| matches!(mark, Mark::One(_))), "{near:?}");
        // Only what is in view.
        assert_eq!(told(&in_view(&blocks, (51.0, 120.0), 3.0, 2.0)), [25, 1]);
    }

    #[test]
    fn no_two_of_the_demo_overlap_on_a_lane() {
        let understood =
            understand(&demo_path(), &demo_text(), None, &OpenFiles::default(), &Default::default());
        let blocks = blocks(understood.scenario.as_ref().unwrap());
        assert_eq!(blocks.len(), 61);
        for (k, a) in blocks.iter().enumerate() {
            for b in &blocks[k + 1..] {
                assert!(a.lane != b.lane || a.end_s <= b.start_s, "{} {}", a.name, b.name);
            }
        }
    }
}
