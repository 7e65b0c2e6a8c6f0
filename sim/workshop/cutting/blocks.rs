//! Pieces joined into blocks with little waste, bottom up, and sheets or lengths of roll chosen from the blocks so that each piece is cut once.
//!
//! A block is a piece, or two blocks beside or above one another; its rectangle must not hold more waste than allowed. Every block is
//! cuttable from edge to edge by how it was made. Pieces of one size are one kind, and blocks that use as many of each kind in the same
//! rectangle are one block. The allowance begins with none and grows as long as the list can be finished. From the list a tree search
//! takes blocks, always one that holds the largest piece still to be cut, best filled first.
//!
//! *References.* P. Y. Wang, "Two algorithms for constrained two-dimensional cutting stock problems", Operations Research 31 (1983) 573-586
//! (from memory).
//!
//! *Limits.* The lists and the tree end after counted steps.

use std::collections::{BTreeMap, BTreeSet};

use super::stacks::stack;
use super::{Side, Spot, Stock, TOLERANCE};

/// Pieces of the same size.
pub(super) struct Kinds {
    sides: Vec<Side>,
    members: Vec<Vec<usize>>,
}

impl Kinds {
    /// The largest first.
    pub(super) fn new(pieces: &[usize], sides: &[Side]) -> Kinds {
        let mut sorted = pieces.to_vec();
        sorted.sort_by(|&one, &other| {
            sides[other].area().total_cmp(&sides[one].area()).then(sides[one].cmp(&sides[other])).then(one.cmp(&other))
        });
        let mut kinds = Kinds { sides: Vec::new(), members: Vec::new() };
        for piece in sorted {
            if kinds.sides.last() != Some(&sides[piece]) {
                kinds.sides.push(sides[piece]);
                kinds.members.push(Vec::new());
            }
            if let Some(members) = kinds.members.last_mut() {
                members.push(piece);
            }
        }
        kinds
    }

    /// How many of each.
    pub(super) fn counts(&self) -> Vec<u16> {
        self.members.iter().map(|members| members.len() as u16).collect()
    }

    fn area(&self, counts: &[u16]) -> f64 {
        self.sides.iter().zip(counts).map(|(side, count)| side.area() * f64::from(*count)).sum()
    }
}

enum Made {
    One(usize, bool),
    Beside(usize, usize),
    Above(usize, usize),
}

pub(super) struct Block {
    pub(super) w: i64,
    pub(super) h: i64,
    area: f64,
    /// How many of each kind it holds.
    pub(super) used: Vec<u16>,
    made: Made,
}

impl Block {
    /// Whether it reaches from side to side of the stock, across or along it, so that strips may be stacked in any order.
    pub(super) fn is_strip(&self, stock: Stock, across: bool) -> bool {
        if across { self.w + TOLERANCE >= stock.w } else { self.h + TOLERANCE >= stock.h }
    }
}

/// What the stock costs that a block is cut from.
#[derive(Clone, Copy)]
pub(super) enum Cost {
    /// Whole sheets: 1 each.
    Sheets,
    /// The length of roll, units.
    Length,
}

impl Cost {
    /// The share from which on stock is as good as full.
    fn full(self) -> f64 {
        match self {
            Cost::Sheets => FULL,
            Cost::Length => FULL_BAND,
        }
    }
}

/// A list has one block for so many pairs of blocks that may be looked at, the tree one try, the stacks one step.
const PAIRS_A_BLOCK: u64 = 400;
const PAIRS_A_TRY: u64 = 25;
const PAIRS_A_STEP: u64 = 4;

/// A sheet filled to this share is as good as full.
pub(super) const FULL: f64 = 0.99;

/// The same of the band of roll that a block takes.
const FULL_BAND: f64 = 0.97;

/// What is filled to this share of the best is as good.
const NEARLY: f64 = 0.995;

/// Shares within such a step are the same.
const FULL_STEP: f64 = 0.00002;

/// Shares of the stock's area that a block may waste.
const ALLOWANCES: [f64; 6] = [0.0, 0.002, 0.01, 0.03, 0.08, 0.2];

/// The list of blocks of these kinds within the stock, and whether it is finished.
fn list(kinds: &Kinds, stock: Stock, waste: f64, stacked: bool, most_pairs: u64) -> (Vec<Block>, bool) {
    let counts = kinds.counts();
    let mut known = BTreeSet::new();
    let mut blocks = Vec::new();
    for (kind, side) in kinds.sides.iter().enumerate() {
        for (w, h, turned) in side.ways(stock) {
            let mut used = vec![0; counts.len()];
            used[kind] = 1;
            known.insert((w, h, used.clone()));
            blocks.push(Block { w, h, area: side.area(), used, made: Made::One(kind, turned) });
        }
    }
    // Blocks joined so far by the side that they would share: if two differ by more, the narrowest piece wastes too much.
    let narrowest = kinds.sides.iter().map(|side| side.w.min(side.h)).min().unwrap_or(1);
    let slack = (waste / narrowest as f64).min(i64::MAX as f64 / 4.0) as i64;
    let mut by_side: [BTreeMap<i64, Vec<usize>>; 2] = Default::default();
    let (mut next, mut pairs) = (0, 0);
    while next < blocks.len() {
        let shared = [blocks[next].h, blocks[next].w];
        for (by_side, (shared, beside)) in by_side.iter_mut().zip(shared.into_iter().zip([true, false])) {
            by_side.entry(shared).or_default().push(next);
            for &other in by_side.range(shared - slack..=shared + slack).flat_map(|(_, blocks)| blocks) {
                pairs += 1;
                if !stacked && blocks[next].is_strip(stock, !beside) && blocks[other].is_strip(stock, !beside) {
                    continue;
                }
                if let Some(block) = join(&blocks, next, other, beside, stock, waste, &counts)
                    && known.insert((block.w, block.h, block.used.clone()))
                {
                    blocks.push(block);
                }
            }
        }
        next += 1;
        if blocks.len() as u64 >= most_pairs / PAIRS_A_BLOCK || pairs >= most_pairs {
            return (blocks, false);
        }
    }
    (blocks, true)
}

/// The two beside or above one another, if that fits, wastes no more than this and asks for no more of a kind than there are.
pub(super) fn join(blocks: &[Block], one: usize, other: usize, beside: bool, stock: Stock, waste: f64, counts: &[u16]) -> Option<Block> {
    let (a, b) = (&blocks[one], &blocks[other]);
    let (w, h) = if beside { (a.w + b.w, a.h.max(b.h)) } else { (a.w.max(b.w), a.h + b.h) };
    let area = a.area + b.area;
    if w > stock.w || h > stock.h || w as f64 * h as f64 - area > waste {
        return None;
    }
    if a.used.iter().zip(&b.used).zip(counts).any(|((a, b), count)| u32::from(*a) + u32::from(*b) > u32::from(*count)) {
        return None;
    }
    let used = a.used.iter().zip(&b.used).map(|(a, b)| a + b).collect();
    Some(Block { w, h, area, used, made: if beside { Made::Beside(one, other) } else { Made::Above(one, other) } })
}

/// The search for blocks that cut every piece once.
struct Cover<'a> {
    kinds: &'a Kinds,
    blocks: &'a [Block],
    /// For each kind the blocks that hold it, best filled first.
    holders: Vec<Vec<usize>>,
    stock: Stock,
    cost: Cost,
    tries: u64,
    best_cost: i64,
    best: Option<Vec<usize>>,
}

impl Cover<'_> {
    fn cost(&self, block: usize) -> i64 {
        match self.cost {
            Cost::Sheets => 1,
            Cost::Length => self.blocks[block].h,
        }
    }

    /// What stock of so much area costs at least.
    fn least(&self, area: f64) -> i64 {
        match self.cost {
            Cost::Sheets => (area / self.stock.area() - super::ROUNDING).ceil().max(0.0) as i64,
            Cost::Length => (area / self.stock.w as f64 * (1.0 - 1e-12)).floor() as i64,
        }
    }

    fn search(&mut self, left: &mut [u16], area: f64, spent: i64, chosen: &mut Vec<usize>) {
        let Some(kind) = left.iter().position(|count| *count > 0) else {
            if spent < self.best_cost {
                self.best_cost = spent;
                self.best = Some(chosen.clone());
            }
            return;
        };
        for at in 0..self.holders[kind].len() {
            if self.tries == 0 {
                return;
            }
            self.tries -= 1;
            let blocks = self.blocks;
            let number = self.holders[kind][at];
            let block = &blocks[number];
            let rest = area - block.area;
            let now = spent + self.cost(number);
            if now + self.least(rest) >= self.best_cost || block.used.iter().zip(left.iter()).any(|(used, left)| used > left) {
                continue;
            }
            left.iter_mut().zip(&block.used).for_each(|(left, used)| *left -= used);
            chosen.push(number);
            self.search(left, rest, now, chosen);
            chosen.pop();
            left.iter_mut().zip(&block.used).for_each(|(left, used)| *left += used);
        }
    }

    /// Blocks as good as full without a piece in common, of the best filled those of few pieces first: many small pieces make up full
    /// sheets by chance, few large ones do not.
    fn full(&self) -> Vec<usize> {
        let mut left = self.kinds.counts();
        let mut chosen = Vec::new();
        // Where nothing is full the best filled are kept.
        let most = (0..self.blocks.len()).map(|block| self.share(block)).fold(0.0, f64::max);
        let enough = self.cost.full().min(most * NEARLY);
        let mut good: Vec<usize> = (0..self.blocks.len()).filter(|&block| self.share(block) >= enough).collect();
        let wasted = |block: usize| ((1.0 - self.share(block)) / FULL_STEP).round() as i64;
        good.sort_by_cached_key(|&block| (wasted(block), self.blocks[block].used.iter().map(|used| u32::from(*used)).sum::<u32>(), block));
        for block in good {
            let used = &self.blocks[block].used;
            if used.iter().zip(&left).all(|(used, left)| used <= left) {
                left.iter_mut().zip(used).for_each(|(left, used)| *left -= used);
                chosen.push(block);
            }
        }
        chosen
    }

    fn share(&self, block: usize) -> f64 {
        let whole = match self.cost {
            Cost::Sheets => self.stock.area(),
            Cost::Length => self.stock.w as f64 * self.blocks[block].h as f64,
        };
        self.blocks[block].area / whole
    }

    fn fill_holders(&mut self) {
        let mut by_share: Vec<usize> = (0..self.blocks.len()).collect();
        by_share.sort_by(|&one, &other| self.share(other).total_cmp(&self.share(one)).then(one.cmp(&other)));
        for &block in &by_share {
            for (kind, used) in self.blocks[block].used.iter().enumerate() {
                if *used > 0 {
                    self.holders[kind].push(block);
                }
            }
        }
    }
}

/// What the search for blocks found.
pub(super) struct Found {
    /// Where every piece lies, if that costs less than was asked.
    pub(super) all: Option<Vec<Spot>>,
    /// If the lists could not be finished: sheets or bands that are as good as full or the best there are, without a piece in common.
    pub(super) full: Vec<Spot>,
}

/// Looks for blocks that cut every piece and cost less than this, and is content with `enough`; a list looks at so many pairs of
/// blocks. The longest lists come last.
pub(super) fn by_blocks(kinds: &Kinds, stock: Stock, cost: Cost, (less_than, enough): (i64, i64), pairs: u64) -> Found {
    if kinds.members.iter().any(|members| members.len() > usize::from(u16::MAX)) {
        return Found { all: None, full: Vec::new() };
    }
    let counts = kinds.counts();
    // A roll is as a sheet in which the longest piece lies.
    let area = match cost {
        Cost::Sheets => stock.area(),
        Cost::Length => stock.w as f64 * kinds.sides.iter().map(|side| side.h).max().unwrap_or(0).min(stock.h) as f64,
    };
    let (mut best_cost, mut best, mut full) = (less_than, None, Vec::new());
    for allowance in ALLOWANCES {
        let waste = (allowance + 1e-8) * area;
        let stacked = matches!(cost, Cost::Sheets);
        let (mut blocks, finished) = list(kinds, stock, waste, stacked, pairs);
        if !finished && stacked {
            blocks = list(kinds, stock, waste, false, pairs).0;
            stack(&mut blocks, kinds, stock, waste, pairs / PAIRS_A_STEP);
        }
        let holders = vec![Vec::new(); counts.len()];
        let mut cover = Cover { kinds, blocks: &blocks, holders, stock, cost, tries: pairs / PAIRS_A_TRY, best_cost, best: None };
        cover.fill_holders();
        cover.search(&mut counts.clone(), kinds.area(&counts), 0, &mut Vec::new());
        if let Some(chosen) = cover.best.take() {
            best_cost = cover.best_cost;
            best = Some(cover.spots(&chosen));
        }
        if best_cost <= enough {
            break;
        }
        if !finished {
            full = cover.spots(&cover.full());
            break;
        }
    }
    Found { all: best, full }
}

impl Cover<'_> {
    fn spots(&self, chosen: &[usize]) -> Vec<Spot> {
        let mut members = self.kinds.members.clone();
        let mut spots = Vec::new();
        let mut y = 0;
        for (sheet, &block) in chosen.iter().enumerate() {
            match self.cost {
                Cost::Sheets => self.lay(block, sheet, 0, 0, &mut members, &mut spots),
                Cost::Length => {
                    self.lay(block, 0, 0, y, &mut members, &mut spots);
                    y += self.blocks[block].h;
                }
            }
        }
        spots
    }

    fn lay(&self, block: usize, sheet: usize, x: i64, y: i64, members: &mut [Vec<usize>], spots: &mut Vec<Spot>) {
        let h = self.blocks[block].h;
        match self.blocks[block].made {
            Made::One(kind, turned) => spots.extend(members[kind].pop().map(|piece| Spot { piece, sheet, x, y, h, turned })),
            Made::Beside(one, other) => {
                self.lay(one, sheet, x, y, members, spots);
                self.lay(other, sheet, x + self.blocks[one].w, y, members, spots);
            }
            Made::Above(one, other) => {
                self.lay(one, sheet, x, y, members, spots);
                self.lay(other, sheet, x, y + self.blocks[one].h, members, spots);
            }
        }
    }
}
