//! How cells lie in memory for the steps: rows along the longest side of the grid, slabs across the second longest.
//!
//! A slab is what one step touches at a time, so it should be small; but the longer its rows, the fewer ends have they. It is gone through in few long stretches as if all cells of them were whole, over row ends and all; then cut cells and
//! what is no air in between are done again, eight side by side, each with factors of its own. One long loop costs less than many short ones, whatever it does in vain.
//!
//! *Limits.* Cells that hold no air stay at rest.

use std::collections::{BTreeMap, HashMap};
use std::ops::Range;

use rayon::prelude::*;

use super::grid::Grid;
use super::kernel::Real;
use super::stencil::{COURANT, Stencil, StepBranch, Wall};
use crate::room::FinishIndex;

/// Where cells are, and what is done with them.
#[derive(Clone, Debug)]
pub struct Layout<T> {
    /// Axes of the grid along a row, across rows within a slab, across slabs.
    pub axes: [usize; 3],
    /// Cells along these.
    pub counts: [usize; 3],
    /// Slab by slab.
    pub slabs: Vec<Slab<T>>,
    /// All factors there are: few, where walls lie along the grid.
    pub factors: Vec<Factors<T>>,
}

/// Cells that have factors of their own are done so many side by side, and so are those at walls that move, wherever these lie in their slab.
pub const SIDE_BY_SIDE: usize = 8;
/// So many cells in a row that are not whole end a stretch: going over them would cost more than beginning another.
const LONG: usize = 24;

/// What a step does in one slab.
#[derive(Clone, Debug, Default)]
pub struct Slab<T> {
    /// Cells that are gone through as if they were whole, in rising order.
    pub stretches: Vec<Range<usize>>,
    /// Cells that are not whole, in rising order.
    pub cut: Vec<Cut>,
    /// Walls that move.
    pub walls: SlabWalls<T>,
    /// Cells at fiber, in rising order.
    pub fibers: Vec<SlabFiber<T>>,
}

/// Cells side by side of which fiber resists the flow through some face. Each keeps the flows through all of its faces itself: neighbors' are the same to the bit but for their sign.
#[derive(Clone, Copy, Debug)]
pub struct SlabFiber<T> {
    /// The first cell.
    pub begin: u32,
    /// What a flow does to the pressure of each.
    pub taken: [T; SIDE_BY_SIDE],
    /// What of the flow a step takes away, side by side: in the row before and after, in the slab before and after, in the slabs before and after.
    pub share: [[T; SIDE_BY_SIDE]; 6],
    /// What a difference of pressure adds to it.
    pub tie: [[T; SIDE_BY_SIDE]; 6],
}

/// Cells side by side with factors of their own.
#[derive(Clone, Copy, Debug)]
pub struct Cut {
    /// The first, in its slab.
    pub begin: u32,
    /// Which of the factors.
    pub factors: u32,
}

/// `p+ = own p + sum of factor times neighbor - before p-` for cells side by side.
#[derive(Clone, Copy, Debug)]
pub struct Factors<T> {
    /// Of the cells themselves.
    pub own: [T; SIDE_BY_SIDE],
    /// Of their neighbors: in the row before and after, in the slab before and after, in the slabs before and after.
    pub neighbors: [[T; SIDE_BY_SIDE]; 6],
    /// Of their values a step ago.
    pub before: [T; SIDE_BY_SIDE],
}

/// Cells of a slab at walls with mass or spring, so many together, those that meet the same walls after each other: one row of each kind for the whole slab, which the processor sees coming.
#[derive(Clone, Debug, Default)]
pub struct SlabWalls<T> {
    /// Which cells; what is left of the last of those that meet the same walls is the slab's first, which is no air.
    pub cells: Vec<[u32; SIDE_BY_SIDE]>,
    /// What the velocity of each finish takes from the pressure of each cell, cells by cells, finish by finish.
    pub taken: Vec<[T; SIDE_BY_SIDE]>,
    /// Which walls they meet.
    pub met: Vec<Met<T>>,
}

/// So many bunches of cells, and the branches that move of each finish they meet.
#[derive(Clone, Debug)]
pub struct Met<T> {
    /// Bunches.
    pub bunches: usize,
    /// Finish by finish.
    pub parts: Vec<Vec<Moves<T>>>,
}

/// A branch as the kernel moves it: `b`, `2 b (2 L / dt)` and `b D dt` of `stencil`.
#[derive(Clone, Copy, Debug)]
pub struct Moves<T> {
    /// Mean velocity by pressure.
    pub answer: T,
    /// What its mass keeps of a mean velocity.
    pub swing: T,
    /// What its spring takes for a mean velocity.
    pub pull: T,
}

impl<T: Real> Moves<T> {
    fn new(branch: &StepBranch) -> Self {
        let StepBranch { answer, inertia, spring } = *branch;
        let (swing, pull) = (2.0 * answer * inertia, T::of(answer * spring));
        // What resists nothing has 2 of both together and swings on; with a rounded sum of more than 2 it would gain.
        Self { answer: T::of(answer), swing: T::at_most(swing + answer * spring - pull.number()), pull }
    }
}

impl<T> Met<T> {
    /// Branches of all finishes.
    #[must_use]
    pub fn branches(&self) -> usize {
        self.parts.iter().map(Vec::len).sum()
    }
}

/// A cell of a slab, and the walls in it.
type Meeting<'a> = (usize, &'a [Wall]);

/// Side of a cell, share of the flow through it that a step takes away, tie across it.
type Side = (usize, f64, f64);

/// A cell as a step sees it.
#[derive(Clone, Copy, Debug)]
enum Kind {
    Solid,
    Whole,
    /// Own factor, those of its neighbors, that of its value a step ago.
    Cut([f64; 8]),
}

impl Kind {
    /// Factors of a cell of any kind.
    fn factors(self) -> [f64; 8] {
        match self {
            Self::Solid => [0.0; 8],
            Self::Whole => [0.5, 0.25, 0.25, 0.25, 0.25, 0.25, 0.25, 1.0],
            Self::Cut(factors) => factors,
        }
    }

    /// The same in the kernel's own numbers. A pressure that is the same everywhere is left as it is, or its part that walls do not answer: that takes factors whose sum is right, or an error of rounding would lift it step
    /// by step as a force that grows with it. So the cell's own factor is what the others, rounded, leave, and no more; where walls answer, what rounding may add to their answer is left out as well.
    fn rounded<T: Real>(self) -> [T; 8] {
        let exact = self.factors();
        let mut rounded = exact.map(T::of);
        if let Self::Cut([own, .., before]) = self {
            let neighbors = |factors: &dyn Fn(usize) -> f64| (1..7).map(factors).sum::<f64>();
            let answered = 1.0 - (own + neighbors(&|side| exact[side]) - before);
            let left = own + neighbors(&|side| exact[side] - rounded[side].number()) - (before - rounded[7].number());
            rounded[0] = T::at_most(left - answered.max(0.0) * T::ROUNDED);
        }
        rounded
    }

    fn is_whole(self) -> bool {
        matches!(self, Self::Whole)
    }
}

impl<T: Real> Layout<T> {
    /// The layout of a stencil.
    #[must_use]
    pub fn new(grid: &Grid, stencil: &Stencil) -> Self {
        let mut axes = [0, 1, 2];
        axes.sort_by_key(|axis| (grid.counts[*axis], *axis));
        let axes = [axes[2], axes[0], axes[1]];
        let counts = axes.map(|axis| grid.counts[axis]);
        let mut layout = Self { axes, counts, slabs: Vec::new(), factors: Vec::new() };
        let kinds: Vec<Vec<Kind>> = (0..counts[2]).into_par_iter().map(|slab| layout.kinds(grid, stencil, slab)).collect();
        let mut known = HashMap::new();
        layout.slabs = kinds.iter().map(|kinds| slab(kinds, counts[0], |eight| layout.factors_of(eight, &mut known))).collect();
        layout.add_walls(grid, stencil);
        layout.add_fibers(grid, stencil);
        layout
    }

    /// Slab and cell in it of a cell of the grid.
    #[must_use]
    pub fn place(&self, grid: &Grid, cell: usize) -> (usize, usize) {
        let at = grid.place(cell);
        let [row, across, slab] = self.axes.map(|axis| at[axis]);
        (slab, across * self.counts[0] + row)
    }

    /// Cell of the grid at a place within a slab.
    fn cell(&self, grid: &Grid, slab: usize, at: usize) -> usize {
        let mut place = [0; 3];
        (place[self.axes[0]], place[self.axes[1]], place[self.axes[2]]) = (at % self.counts[0], at / self.counts[0], slab);
        grid.index(place)
    }

    fn kinds(&self, grid: &Grid, stencil: &Stencil, slab: usize) -> Vec<Kind> {
        (0..self.counts[0] * self.counts[1]).map(|at| self.kind(grid, stencil, self.cell(grid, slab, at))).collect()
    }

    /// Index of factors, new ones added.
    fn factors_of(&mut self, eight: [Kind; SIDE_BY_SIDE], known: &mut HashMap<[[u64; 8]; SIDE_BY_SIDE], u32>) -> u32 {
        let all = eight.map(Kind::rounded::<T>);
        // By the kernel's own numbers: what differs by less than these tell is one and the same, and stays near the processor.
        *known.entry(all.map(|factors| factors.map(|factor| factor.number().to_bits()))).or_insert_with(|| {
            let of = |which: usize| all.map(|factors| factors[which]);
            self.factors.push(Factors { own: of(0), neighbors: std::array::from_fn(|side| of(1 + side)), before: of(7) });
            self.factors.len() as u32 - 1
        })
    }

    /// Walls that move, slab by slab, by the finishes that meet in a cell.
    fn add_walls(&mut self, grid: &Grid, stencil: &Stencil) {
        let moves = |wall: &Wall| stencil.branches[wall.finish].iter().any(|branch| !branch.is_still());
        let mut together: BTreeMap<(usize, Vec<FinishIndex>), Vec<Meeting<'_>>> = BTreeMap::new();
        for walls in stencil.walls.chunk_by(|a, b| a.cell == b.cell) {
            let finishes: Vec<FinishIndex> = walls.iter().filter(|wall| moves(wall)).map(|wall| wall.finish).collect();
            if !finishes.is_empty() {
                let (slab, cell) = self.place(grid, walls[0].cell);
                together.entry((slab, finishes)).or_default().push((cell, walls));
            }
        }
        for ((slab, finishes), mut cells) in together {
            cells.sort_by_key(|(cell, _)| *cell);
            let moving =
                |finish: &FinishIndex| stencil.branches[*finish].iter().filter(|branch| !branch.is_still()).map(Moves::new).collect();
            let taken = |walls: &[Wall], finish: FinishIndex| {
                let area: f64 = walls.iter().filter(|wall| wall.finish == finish).map(|wall| wall.area).sum();
                T::of(COURANT * area / stencil.mass[walls[0].cell] / (1.0 + stencil.damping(walls[0].cell, |_| true)))
            };
            let walls = &mut self.slabs[slab].walls;
            walls.met.push(Met { bunches: cells.len().div_ceil(SIDE_BY_SIDE), parts: finishes.iter().map(moving).collect() });
            for some in cells.chunks(SIDE_BY_SIDE) {
                walls.cells.push(std::array::from_fn(|lane| some.get(lane).map_or(0, |(cell, _)| *cell as u32)));
                walls.taken.extend(finishes.iter().map(|finish| -> [T; SIDE_BY_SIDE] {
                    std::array::from_fn(|lane| some.get(lane).map_or(T::default(), |(_, walls)| taken(walls, *finish)))
                }));
            }
        }
    }

    /// Cells on both sides of faces that fiber resists.
    fn add_fibers(&mut self, grid: &Grid, stencil: &Stencil) {
        let strides = grid.strides();
        // By slab and cell.
        let mut sides: BTreeMap<(usize, usize), Vec<Side>> = BTreeMap::new();
        let mut taken: BTreeMap<(usize, usize), f64> = BTreeMap::new();
        for drag in &stencil.drags {
            let way = self.axes.iter().position(|axis| *axis == drag.axis).unwrap_or_default();
            let tie = COURANT * COURANT * stencil.open[drag.axis][drag.cell];
            for (cell, side) in [(drag.cell, 2 * way), (drag.cell - strides[drag.axis], 2 * way + 1)] {
                let place = self.place(grid, cell);
                sides.entry(place).or_default().push((side, drag.share, tie));
                taken.insert(place, 1.0 / (stencil.mass[cell] * (1.0 + stencil.damping(cell, |_| true))));
            }
        }
        let last = self.counts[0] * self.counts[1] - self.counts[0] - SIDE_BY_SIDE;
        let none = [T::default(); SIDE_BY_SIDE];
        for ((slab, cell), sides) in sides {
            let fibers = &mut self.slabs[slab].fibers;
            if fibers.last().is_none_or(|fiber| cell >= fiber.begin as usize + SIDE_BY_SIDE) {
                fibers.push(SlabFiber { begin: cell.min(last) as u32, taken: none, share: [none; 6], tie: [none; 6] });
            }
            if let Some(fiber) = fibers.last_mut() {
                let lane = cell - fiber.begin as usize;
                fiber.taken[lane] = T::of(taken[&(slab, cell)]);
                for (side, share, tie) in &sides {
                    (fiber.share[*side][lane], fiber.tie[*side][lane]) = (T::of(*share), T::of(*tie));
                }
            }
        }
    }

    fn kind(&self, grid: &Grid, stencil: &Stencil, cell: usize) -> Kind {
        let mass = stencil.mass[cell];
        if mass <= 0.0 {
            return Kind::Solid;
        }
        let neighbors = stencil.neighbors(cell, grid.strides());
        let walls = stencil.walls_of(cell);
        if walls.is_empty() && mass == 1.0 && neighbors.iter().all(|(_, open)| *open == 1.0) {
            return Kind::Whole;
        }
        // What walls take in the cell's own terms: half of it with the next value; the other half with the one before where nothing moves, with this one where the last step has left the rest.
        let (damped, still) = (stencil.damping(cell, |_| true), stencil.damping(cell, StepBranch::is_still));
        let tie = COURANT * COURANT / mass;
        let ties: f64 = neighbors.iter().map(|(_, open)| open).sum();
        let factors = [0, 1, 2, 3, 4, 5].map(|side| tie * neighbors[2 * self.axes[side / 2] + side % 2].1 / (1.0 + damped));
        let [r0, r1, b0, b1, s0, s1] = factors;
        Kind::Cut([(2.0 - tie * ties - (damped - still)) / (1.0 + damped), r0, r1, b0, b1, s0, s1, (1.0 - still) / (1.0 + damped)])
    }
}

/// Stretches of whole cells, on over what is not if that is short, and as far as makes them bunches of cells side by side; never into the last row.
fn stretches(kinds: &[Kind], row: usize) -> Vec<Range<usize>> {
    let mut all: Vec<Range<usize>> = Vec::new();
    for at in (0..kinds.len()).filter(|at| kinds[*at].is_whole()) {
        match all.last_mut().filter(|last| at - last.end < LONG) {
            Some(last) => last.end = at + 1,
            None => all.push(at..at + 1),
        }
    }
    for stretch in &mut all {
        let len = stretch.len().next_multiple_of(SIDE_BY_SIDE);
        stretch.end = (stretch.start + len).min(kinds.len() - row);
        stretch.start = stretch.end - len;
    }
    all
}

/// What is not whole: cut cells, and what is no air but is gone through.
fn cut(kinds: &[Kind], row: usize, stretches: &[Range<usize>], mut factors: impl FnMut([Kind; SIDE_BY_SIDE]) -> u32) -> Vec<Cut> {
    let is_gone_through =
        |at: usize| stretches[..stretches.partition_point(|stretch| stretch.start <= at)].last().is_some_and(|last| at < last.end);
    let mut all = Vec::new();
    let mut free = 0;
    for (at, kind) in kinds.iter().enumerate() {
        let is_meant = match kind {
            Kind::Whole => false,
            Kind::Solid => is_gone_through(at),
            Kind::Cut(..) => true,
        };
        if is_meant && at >= free {
            // The last row is solid and looked at from the row before it.
            let begin = at.min(kinds.len() - row - SIDE_BY_SIDE);
            all.push(Cut { begin: begin as u32, factors: factors(std::array::from_fn(|lane| kinds[begin + lane])) });
            free = begin + SIDE_BY_SIDE;
        }
    }
    all
}

/// A slab without its walls and fiber.
fn slab<T: Real>(kinds: &[Kind], row: usize, factors: impl FnMut([Kind; SIDE_BY_SIDE]) -> u32) -> Slab<T> {
    let stretches = stretches(kinds, row);
    let cut = cut(kinds, row, &stretches, factors);
    Slab { stretches, cut, ..Slab::default() }
}
