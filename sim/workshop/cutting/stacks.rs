//! Full sheets of strips: blocks that reach from side to side of the sheet, stacked until next to nothing is left.
//!
//! Strips may be stacked in any number and order, so a list of all stacks would be too long to finish; of those that fill a sheet there are few.
//!
//! *References.* P. C. Gilmore, R. E. Gomory, "Multistage cutting stock problems of two and more dimensions", Operations Research 13 (1965)
//! 94-120 (strips, then sheets of strips; from memory).
//!
//! *Limits.* The search ends after counted steps.

use std::cmp::Reverse;

use super::blocks::{Block, Kinds, join};
use super::{Stock, TOLERANCE};

/// Full stacks that are added to a list at most, each way.
const STACKS: usize = 2_000;

/// Stacks of strips that fill the stock but for so much waste; a list without stacks lacks only these and worse.
struct Stacks<'a> {
    strips: Vec<usize>,
    blocks: &'a [Block],
    across: bool,
    /// Length that may remain, units.
    waste: i64,
    steps: u64,
    found: Vec<Vec<usize>>,
}

impl Stacks<'_> {
    fn extend(&mut self, from: usize, rest: i64, left: &mut [u16], chosen: &mut Vec<usize>) {
        if rest <= self.waste && chosen.len() > 1 {
            self.found.push(chosen.clone());
            return;
        }
        for at in from..self.strips.len() {
            if self.steps == 0 || self.found.len() >= STACKS {
                return;
            }
            self.steps -= 1;
            let strip = self.strips[at];
            let block = &self.blocks[strip];
            let length = if self.across { block.h } else { block.w };
            if length > rest || block.used.iter().zip(left.iter()).any(|(used, left)| used > left) {
                continue;
            }
            left.iter_mut().zip(&block.used).for_each(|(left, used)| *left -= used);
            chosen.push(strip);
            self.extend(at, rest - length, left, chosen);
            chosen.pop();
            let used = &self.blocks[strip].used;
            left.iter_mut().zip(used).for_each(|(left, used)| *left += used);
        }
    }
}

/// Adds full stacks of the strips among the blocks.
pub(super) fn stack(blocks: &mut Vec<Block>, kinds: &Kinds, stock: Stock, waste: f64, steps: u64) {
    let counts = kinds.counts();
    for across in [true, false] {
        let length = |block: &Block| if across { block.h } else { block.w };
        let (whole, other) = if across { (stock.h, stock.w) } else { (stock.w, stock.h) };
        let mut strips: Vec<usize> = (0..blocks.len()).filter(|&block| blocks[block].is_strip(stock, across)).collect();
        strips.sort_by_key(|&block| (Reverse(length(&blocks[block])), block));
        let mut stacks = Stacks { strips, blocks, across, waste: (waste / other as f64) as i64 + TOLERANCE, steps, found: Vec::new() };
        stacks.extend(0, whole, &mut counts.clone(), &mut Vec::new());
        for chosen in stacks.found {
            let mut stack = chosen[0];
            for &strip in &chosen[1..] {
                if let Some(block) = join(blocks, stack, strip, !across, stock, f64::INFINITY, &counts) {
                    blocks.push(block);
                    stack = blocks.len() - 1;
                }
            }
        }
    }
}
