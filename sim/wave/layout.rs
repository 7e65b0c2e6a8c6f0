//! How cells lie in memory for the steps: slabs across the longest side of the grid, rows along the second longest.
//!
//! A slab is what one step touches at a time, so it should be small; a row is what one vector loop runs along, so it should be long. Within each row cells are gathered into runs of
//! whole cells, and runs of cut ones, each of which has factors of its own.
//!
//! *Limits.* Cells that hold no air are in no run, and stay at rest.

use super::grid::Grid;
use super::stencil::{COURANT, Stencil};
use super::step::Real;

/// Where cells are, and what is done with them.
#[derive(Clone, Debug)]
pub struct Layout<T> {
    /// Axes of the grid along a row, across rows within a slab, across slabs.
    pub axes: [usize; 3],
    /// Cells along these.
    pub counts: [usize; 3],
    /// Slab by slab.
    pub slabs: Vec<Slab<T>>,
}

/// A run of cut cells shorter than this costs more to begin than its cells one by one.
const SHORT: usize = 8;

/// What a step does in one slab.
#[derive(Clone, Debug, Default)]
pub struct Slab<T> {
    /// Runs in rising order.
    pub runs: Vec<Run>,
    /// Cut cells that make no run, in rising order.
    pub strays: Vec<Stray<T>>,
    /// Factors of the cells of cut runs, in their order.
    pub factors: Factors<T>,
    /// Branches of walls, ordered by cell.
    pub walls: Vec<SlabWall<T>>,
}

/// Cells side by side in a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// First cell, in its slab.
    pub begin: usize,
    /// How many.
    pub len: usize,
    /// Where its factors begin; `None`: whole cells.
    pub cut: Option<usize>,
}

/// A cut cell by itself: [`Factors`] of one.
#[derive(Clone, Copy, Debug)]
pub struct Stray<T> {
    /// Cell in its slab.
    pub cell: usize,
    /// Of the cell itself.
    pub own: T,
    /// Of its neighbors.
    pub neighbors: [T; 6],
    /// Of its value a step ago.
    pub before: T,
}

/// `p+ = own p + sum of factor times neighbor - before p-`.
#[derive(Clone, Debug, Default)]
pub struct Factors<T> {
    /// Of the cell itself.
    pub own: Vec<T>,
    /// Of its neighbors: in the row before and after, in the slab before and after, in the slabs before and after.
    pub neighbors: [Vec<T>; 6],
    /// Of its value a step ago.
    pub before: Vec<T>,
}

/// A branch with mass or spring.
#[derive(Clone, Copy, Debug)]
pub struct SlabWall<T> {
    /// Cell in its slab.
    pub cell: usize,
    /// What its velocity takes from the pressure of the cell.
    pub taken: T,
    /// `b`, see [`Stencil`].
    pub answer: T,
    /// `2 L / dt`.
    pub inertia: T,
    /// `D dt`: the spring's state is kept re the step.
    pub spring: T,
}

impl<T: Real> Layout<T> {
    /// The layout of a stencil.
    #[must_use]
    pub fn new(grid: &Grid, stencil: &Stencil) -> Self {
        let mut axes = [0, 1, 2];
        axes.sort_by_key(|axis| (grid.counts[*axis], *axis));
        let axes = [axes[1], axes[0], axes[2]];
        let counts = axes.map(|axis| grid.counts[axis]);
        let slabs = (0..counts[2]).map(|slab| Self::slab(grid, stencil, axes, slab)).collect();
        Self { axes, counts, slabs }
    }

    /// Slab and cell in it of a cell of the grid.
    #[must_use]
    pub fn place(&self, grid: &Grid, cell: usize) -> (usize, usize) {
        let at = grid.place(cell);
        let [row, across, slab] = self.axes.map(|axis| at[axis]);
        (slab, across * self.counts[0] + row)
    }

    fn slab(grid: &Grid, stencil: &Stencil, axes: [usize; 3], slab: usize) -> Slab<T> {
        let strides = grid.strides();
        let [length, rows, _] = axes.map(|axis| grid.counts[axis]);
        let mut made = Slab::default();
        for row in 0..rows {
            for at in 0..length {
                let mut place = [0; 3];
                (place[axes[0]], place[axes[1]], place[axes[2]]) = (at, row, slab);
                let cell = grid.index(place);
                let mass = stencil.mass[cell];
                if mass <= 0.0 {
                    continue;
                }
                let here = row * length + at;
                let neighbors = stencil.neighbors(cell, strides);
                let first = stencil.walls.partition_point(|wall| wall.cell < cell);
                let walls: Vec<_> = stencil.walls[first..].iter().take_while(|wall| wall.cell == cell).collect();
                let is_whole = walls.is_empty() && mass == 1.0 && neighbors.iter().all(|(_, open)| *open == 1.0);
                let last = made
                    .runs
                    .last_mut()
                    .filter(|run| run.begin + run.len == here && run.begin / length == row && run.cut.is_none() == is_whole);
                match last {
                    Some(run) => run.len += 1,
                    None => made.runs.push(Run { begin: here, len: 1, cut: (!is_whole).then_some(made.factors.own.len()) }),
                }
                if !is_whole {
                    // What walls take is in the cell's own terms: half of it with the next value, half with the one before.
                    let taken = |wall: &super::stencil::Wall| COURANT * wall.area / mass;
                    let damped: f64 = walls.iter().map(|wall| 0.5 * taken(wall) * wall.answer).sum();
                    let still: f64 = walls.iter().filter(|wall| wall.is_still()).map(|wall| 0.5 * taken(wall) * wall.answer).sum();
                    let whole = 1.0 + damped;
                    let tie = COURANT * COURANT / mass;
                    let ties: f64 = neighbors.iter().map(|(_, open)| open).sum();
                    made.factors.own.push(T::of((2.0 - tie * ties) / whole));
                    for (index, axis) in axes.iter().enumerate() {
                        made.factors.neighbors[2 * index].push(T::of(tie * neighbors[2 * axis].1 / whole));
                        made.factors.neighbors[2 * index + 1].push(T::of(tie * neighbors[2 * axis + 1].1 / whole));
                    }
                    made.factors.before.push(T::of((1.0 - still) / whole));
                    made.walls.extend(walls.iter().filter(|wall| !wall.is_still()).map(|wall| SlabWall {
                        cell: here,
                        taken: T::of(taken(wall) / whole),
                        answer: T::of(wall.answer),
                        inertia: T::of(wall.inertia),
                        spring: T::of(wall.spring * stencil.step),
                    }));
                }
            }
        }
        made.part_strays();
        made
    }
}

impl<T: Real> Slab<T> {
    /// Takes short runs of cut cells apart.
    fn part_strays(&mut self) {
        let (factors, strays) = (&self.factors, &mut self.strays);
        self.runs.retain(|run| {
            let Some(first) = run.cut.filter(|_| run.len < SHORT) else { return true };
            strays.extend((0..run.len).map(|at| Stray {
                cell: run.begin + at,
                own: factors.own[first + at],
                neighbors: [0, 1, 2, 3, 4, 5].map(|side| factors.neighbors[side][first + at]),
                before: factors.before[first + at],
            }));
            false
        });
    }
}
