//! Lengths out of equal bars: the fewest bars.
//!
//! The bound: for a dual feasible function `f` of the lengths, `bars >= sum over pieces of f(length)`; with `f` of the kind "whole above
//! `1 - e`, nothing below `e`" that is Martello and Toth's L2.
//!
//! The search asks for one bar fewer as long as it can. First all fillings are listed and searched (`patterns`), which may also
//! prove that so few bars are not enough. Where there are too many, bars are filled one after the other, each with the largest piece left and
//! then as full as pieces make it; what finds no place waits. Then a few bars at a time are emptied and filled anew with what waits, and that
//! is kept if no more waits and the bars are no more evenly filled.
//!
//! *References.* S. Martello, P. Toth, "Lower bounds and reduction procedures for the bin packing problem", Discrete Applied Mathematics
//! 28 (1990) 59-70; J. N. D. Gupta, J. C. Ho, "A new heuristic algorithm for the one-dimensional bin-packing problem", Production Planning &
//! Control 10 (1999) 598-603 (filling one bin as full as can be); E. Falkenauer, "A hybrid grouping genetic algorithm for bin packing",
//! Journal of Heuristics 2 (1996) 5-30 (the sum of squares as measure). All from memory.
//!
//! *Limits.* See [`super`].

use super::patterns::{Answer, by_patterns};
use super::{Draw, ROUNDING, Share, TooLarge, all_or_too_large, kerf_of, meters, units_of_piece, units_of_stock};

/// What is cut off one bar.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// Indices into the pieces asked for, in order along the bar.
    pub pieces: Vec<usize>,
    /// What is left after the last cut, meters.
    pub rest: f64,
}

/// Which piece is cut off which bar.
#[derive(Clone, Debug, PartialEq)]
pub struct Bars {
    /// As many as are used.
    pub bars: Vec<Bar>,
    /// It is proven that fewer bars than this are not enough.
    pub least: usize,
}

/// Sums of pieces that the search looks at, in all, a piece.
const STEPS: u64 = 60_000;

/// Fillings that the exact search looks at, in all, a piece.
const TREE_STEPS: u64 = 150_000;

/// Sums of pieces that filling one bar looks at.
const FILL_STEPS: u64 = 2_000;

/// Cuts the pieces (lengths, meters) off as few bars of this length as the search finds, the saw losing `kerf` (meters) between neighbors.
///
/// # Errors
/// All pieces longer than a bar.
pub fn bars(pieces: &[f64], length: f64, kerf: f64) -> Result<Bars, Vec<TooLarge>> {
    let kerf = kerf_of(kerf);
    let stock = units_of_stock(length, kerf);
    let sizes = all_or_too_large(pieces.iter().map(|&piece| units_of_piece(piece, kerf).filter(|size| *size <= stock)))?;
    let mut least = least(&sizes, stock);
    let mut best = first_fit(&sizes, stock);
    let (mut steps, mut tree_steps) = (STEPS * sizes.len() as u64, TREE_STEPS * sizes.len() as u64);
    while best.len() > least {
        let fewer = best.len() - 1;
        let found = match by_patterns(&sizes, stock, fewer, &mut tree_steps) {
            Answer::Cut(better) => Some(better),
            Answer::Open => Bench::new(&sizes, stock, fewer).search(&mut steps),
            Answer::TooFew => {
                least = best.len();
                None
            }
        };
        let Some(better) = found else { break };
        best = better;
    }
    let bar = |pieces_of: Vec<usize>| {
        // A rest shorter than the kerf is lost in the last cut.
        let used: i64 = pieces_of.iter().map(|&piece| sizes[piece]).sum();
        Bar { rest: (meters(stock - super::TOLERANCE - used) - kerf).max(0.0), pieces: pieces_of }
    };
    Ok(Bars { bars: best.into_iter().map(bar).collect(), least })
}

/// A proven bound of the number of bars.
fn least(sizes: &[i64], stock: i64) -> usize {
    let bound = |share: &Share| sizes.iter().map(|&size| share.of(size, stock)).sum::<f64>();
    let most = Share::all(sizes.iter().copied(), stock).iter().map(bound).fold(0.0, f64::max);
    (most - ROUNDING).ceil().max(0.0) as usize
}

/// The largest first, equal ones in their order.
fn falling(mut pieces: Vec<usize>, sizes: &[i64]) -> Vec<usize> {
    pieces.sort_by_key(|&piece| (std::cmp::Reverse(sizes[piece]), piece));
    pieces
}

/// The largest first, each in the first bar that has room.
fn first_fit(sizes: &[i64], stock: i64) -> Vec<Vec<usize>> {
    let mut bars: Vec<(i64, Vec<usize>)> = Vec::new();
    for piece in falling((0..sizes.len()).collect(), sizes) {
        match bars.iter_mut().find(|(rest, _)| *rest >= sizes[piece]) {
            Some((rest, pieces)) => {
                *rest -= sizes[piece];
                pieces.push(piece);
            }
            None => bars.push((stock - sizes[piece], vec![piece])),
        }
    }
    bars.into_iter().map(|(_, pieces)| pieces).collect()
}

/// So many bars, and what waits for a place in them.
struct Bench<'a> {
    sizes: &'a [i64],
    stock: i64,
    bars: Vec<Vec<usize>>,
    waiting: Vec<usize>,
    draw: Draw,
}

impl Bench<'_> {
    fn new(sizes: &[i64], stock: i64, bars: usize) -> Bench<'_> {
        let waiting = falling((0..sizes.len()).collect(), sizes);
        Bench { sizes, stock, bars: vec![Vec::new(); bars], waiting, draw: Draw(sizes.len() as u64) }
    }

    fn sum(&self, pieces: &[usize]) -> i64 {
        pieces.iter().map(|&piece| self.sizes[piece]).sum()
    }

    /// All pieces in the bars, or nothing when the steps run out.
    fn search(mut self, steps: &mut u64) -> Option<Vec<Vec<usize>>> {
        let all: Vec<usize> = (0..self.bars.len()).collect();
        let mut waiting = std::mem::take(&mut self.waiting);
        let first = self.fill(&all, &mut waiting, false, steps);
        self.bars = first;
        self.waiting = waiting;
        while !self.waiting.is_empty() && *steps > 0 && !self.bars.is_empty() {
            let mut open: Vec<usize> = (0..2 + self.draw.below(3)).map(|_| self.draw.below(self.bars.len())).collect();
            open.sort_unstable();
            open.dedup();
            let mut pool = self.waiting.clone();
            pool.extend(open.iter().flat_map(|&bar| self.bars[bar].iter().copied()));
            let mut pool = falling(pool, self.sizes);
            let filled = self.fill(&open, &mut pool, true, steps);
            let squares = |bars: &mut dyn Iterator<Item = &Vec<usize>>| {
                bars.map(|bar| (self.sum(bar) as f64 / self.stock as f64).powi(2)).sum::<f64>()
            };
            let before = (self.sum(&self.waiting), -squares(&mut open.iter().map(|&bar| &self.bars[bar])));
            let after = (self.sum(&pool), -squares(&mut filled.iter()));
            if after.0 < before.0 || after.0 == before.0 && after.1 <= before.1 + 1e-12 {
                for (&bar, pieces) in open.iter().zip(filled) {
                    self.bars[bar] = pieces;
                }
                self.waiting = pool;
            }
        }
        self.waiting.is_empty().then_some(self.bars)
    }

    /// Fills as many bars as are open from the pool, one after the other.
    fn fill(&mut self, open: &[usize], pool: &mut Vec<usize>, mixed: bool, steps: &mut u64) -> Vec<Vec<usize>> {
        open.iter()
            .map(|_| {
                if pool.is_empty() {
                    return Vec::new();
                }
                let first = if mixed && self.draw.below(4) == 0 { self.draw.below(pool.len()) } else { 0 };
                let skip = if mixed { self.draw.below(pool.len()) } else { 0 };
                let mut fill = Fill { sizes: self.sizes, pool, skip, best: Vec::new(), best_rest: i64::MAX, steps: FILL_STEPS };
                let piece = pool[first];
                fill.extend(0, self.stock - self.sizes[piece], &mut vec![first], first);
                *steps = steps.saturating_sub(FILL_STEPS - fill.steps + 1);
                let mut taken = fill.best;
                taken.sort_unstable();
                let pieces = taken.iter().map(|&at| pool[at]).collect();
                for &at in taken.iter().rev() {
                    pool.remove(at);
                }
                pieces
            })
            .collect()
    }
}

/// Which pieces of the pool fill a bar best.
struct Fill<'a> {
    sizes: &'a [i64],
    pool: &'a [usize],
    /// The pool is gone through from here round, so that equal fillings take turns.
    skip: usize,
    best: Vec<usize>,
    best_rest: i64,
    steps: u64,
}

impl Fill<'_> {
    fn extend(&mut self, from: usize, rest: i64, taken: &mut Vec<usize>, first: usize) {
        if rest < self.best_rest {
            self.best_rest = rest;
            self.best.clone_from(taken);
        }
        let mut tried = None;
        for number in from..self.pool.len() {
            if self.steps == 0 || self.best_rest <= super::TOLERANCE {
                return;
            }
            self.steps -= 1;
            let at = (number + self.skip) % self.pool.len();
            let size = self.sizes[self.pool[at]];
            // Of equal pieces the first that was tried stands for all.
            if at == first || size > rest || tried == Some(size) {
                continue;
            }
            tried = Some(size);
            taken.push(at);
            self.extend(number + 1, rest - size, taken, first);
            taken.pop();
        }
    }
}
