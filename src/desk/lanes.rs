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
