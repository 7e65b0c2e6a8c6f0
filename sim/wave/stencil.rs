//! What a step in time does to each cell: its mass, what ties it to its neighbors, what its walls take.
//!
//! Volume and faces of the cells (`cells`) turn the wave equation into `M p'' = c^2 K p`, with `M` the air of a cell and `K` the open faces over the distance of the middles. With lengths in
//! cells and `l = c dt / h`, a step is
//!
//! ```text
//! M (p+ - 2 p + p-) = l^2 sum over faces of open (p_neighbor - p) - l sum over walls of area (w+ - w-)
//! ```
//!
//! `w` the mean velocity into a wall between two steps, by each of its branches and the trapezoidal rule:
//! `w = b ((p+ + p) / 2 + 2 L v / dt - D q)`, `b = 1 / (2 L / dt + R + D dt / 2)`, then `v+ = 2 w - v`, `q+ = q + w dt`.
//!
//! Through a face in fiber of inertia `m` and resistivity `s`, both re free air, flows `j+ = ((1 - r) j- + l^2 (open / m) (p_neighbor - p)) / (1 + r)` with `r = s dt / (2 m density)`, again by
//! the trapezoidal rule, and the cell gets `j+ - j-`: a face that is less open, and a share `2 r / (1 + r)` of `j-` that is taken away.
//!
//! **Stable by construction.** `K` is symmetric and takes as much from one cell as it gives to another, so with rigid walls
//! `E = sum M (p+ - p)^2 / 2 + l^2 sum open (p+_a - p+_b)(p_a - p_b) / 2` is the same after every step, exactly. It is positive where every cell has `l^2 sum open <= 2 M` (Gershgorin's circles
//! bound the largest eigenvalue of `K / M` by twice the largest of `sum open / M`). A whole cell has 6 open faces of the 8 that `l = 1/2` allows for its mass; a cut cell with too little mass for its
//! faces is lent the rest by its neighbors, so that the sum of masses stays, and what these cannot spare is met by closing its faces in part. Walls only take: branches are passive, and the
//! trapezoidal rule keeps them so; fiber only makes faces less open and cells heavier, and takes.
//!
//! **Dispersion.** A plane wave along an axis is slow by `(k h)^2 (1 - l^2) / 24 = (k h)^2 / 32`, along a space diagonal by `(k h)^2 (1/3 - l^2) / 24`: 0.16 % and 0.02 % at 250 Hz in cells of 50 mm. What
//! that is on the mean of all directions is put right when records are read (`dispersion`).
//!
//! *References.* R. Courant, K. Friedrichs, H. Lewy, Math. Ann. 100 (1928) 32; S. Gershgorin, Izv. Akad. Nauk SSSR 6 (1931) 749; S. Bilbao and others as in `cells` (all from memory).
//!
//! *Limits.* Second order in space and time. Pressure is taken in the middle of a cell that a wall cuts, too. Air itself absorbs next to nothing below 250 Hz (1.3 dB/km at 20 C, 50 %:
//! ISO 9613-1), and nothing here.

use super::admittance::{Admittance, Branch};
use super::cells::{Cells, Facet};
use super::fiber::Fill;
use crate::room::FinishIndex;

/// `c dt / h`. One half makes every factor of a whole cell exact in binary.
pub const COURANT: f64 = 0.5;
/// Cells are kept this far within the bound of stability.
const KEPT: f64 = 0.99;

/// Every cell that is not a whole one, and which are.
#[derive(Clone, Debug)]
pub struct Stencil {
    /// Mass of each cell: its share of air, after lending.
    pub mass: Vec<f64>,
    /// Open share of the face between each cell and the one before it along x, y and z.
    pub open: [Vec<f64>; 3],
    /// Time of a step, seconds.
    pub step: f64,
    /// What of each finish meets each cell, ordered by cell.
    pub walls: Vec<Wall>,
    /// Branches of each finish.
    pub branches: Vec<Vec<StepBranch>>,
    /// What fiber takes of the flows through faces, ordered by cell.
    pub drags: Vec<Drag>,
    /// Mass that was lent, in cells.
    pub lent: f64,
    /// Cells whose faces had to be closed in part.
    pub closed: usize,
}

/// A part of a wall in a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wall {
    /// The cell.
    pub cell: usize,
    /// Its area, in faces of a cell.
    pub area: f64,
    /// Index into the room's finishes.
    pub finish: FinishIndex,
}

/// A face whose flow fiber resists.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drag {
    /// The cell after it.
    pub cell: usize,
    /// Axis that it lies across.
    pub axis: usize,
    /// Share of the flow that a step takes away.
    pub share: f64,
}

/// A branch of a wall as a step sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepBranch {
    /// `b` above.
    pub answer: f64,
    /// `2 L / dt`.
    pub inertia: f64,
    /// `D dt`: its way is counted in steps.
    pub spring: f64,
}

impl StepBranch {
    /// A branch where a step takes so many seconds.
    #[must_use]
    pub fn new(branch: &Branch, step: f64) -> Self {
        let (inertia, spring) = (2.0 * branch.mass / step, branch.spring * step);
        Self { answer: 1.0 / (inertia + branch.resistance + 0.5 * spring), inertia, spring }
    }

    /// Whether it has neither mass nor spring, so that nothing of it outlasts a step.
    #[must_use]
    pub fn is_still(&self) -> bool {
        self.inertia == 0.0 && self.spring == 0.0
    }
}

/// Mass that a cell needs to be stable with this sum of open faces.
fn wanted(ties: f64) -> f64 {
    0.5 * COURANT * COURANT * ties / KEPT
}

impl Stencil {
    /// Of cut cells, where sound goes `speed` m/s, with a wall for each finish of the room.
    #[must_use]
    pub fn new(cells: &Cells, speed: f64, walls: &[Admittance]) -> Self {
        let step = COURANT * cells.grid.spacing / speed;
        let passive = |wall: &Admittance| {
            wall.branches.iter().filter(|branch| branch.is_passive()).map(|branch| StepBranch::new(branch, step)).collect()
        };
        let branches: Vec<Vec<StepBranch>> = walls.iter().map(passive).collect();
        let (mass, open) = (cells.air.clone(), cells.open.clone());
        let mut stencil = Self { mass, open, step, walls: Vec::new(), branches, drags: Vec::new(), lent: 0.0, closed: 0 };
        stencil.keep_stable(cells.grid.strides());
        let face = cells.grid.spacing.powi(2);
        let meets = |facet: &&Facet| {
            stencil.mass[facet.cell] > 0.0 && stencil.branches.get(facet.finish).is_some_and(|branches| !branches.is_empty())
        };
        let wall = |facet: &Facet| Wall { cell: facet.cell, area: facet.area / face, finish: facet.finish };
        stencil.walls = cells.facets.iter().filter(meets).map(wall).collect();
        stencil
    }

    /// With fiber in it, in air of so many kg/m3.
    #[must_use]
    pub fn filled(mut self, fill: &Fill, strides: [usize; 3], density: f64) -> Self {
        let air: Vec<usize> = (0..self.mass.len()).filter(|cell| self.mass[*cell] > 0.0).collect();
        for cell in air {
            // Fiber whose frame takes up room takes mass: never what keeps the cell stable.
            let kept = wanted(self.ties(cell, strides)).min(self.mass[cell]);
            self.mass[cell] = (self.mass[cell] + fill.compressibility[cell]).max(kept);
        }
        for cell in 0..self.mass.len() {
            for axis in 0..3 {
                let (open, inertia, resistivity) =
                    (&mut self.open[axis][cell], 1.0 + fill.inertia[axis][cell], fill.resistivity[axis][cell]);
                if *open > 0.0 && (resistivity > 0.0 || inertia != 1.0) {
                    let r = 0.5 * resistivity * self.step / (density * inertia);
                    *open /= inertia.max(1.0) * (1.0 + r);
                    self.drags.push(Drag { cell, axis, share: 2.0 * r / (1.0 + r) });
                }
            }
        }
        self
    }

    /// Walls of a cell.
    #[must_use]
    pub fn walls_of(&self, cell: usize) -> &[Wall] {
        let first = self.walls.partition_point(|wall| wall.cell < cell);
        let len = self.walls[first..].iter().take_while(|wall| wall.cell == cell).count();
        &self.walls[first..first + len]
    }

    /// `l area b / (2 M)`, the sum over the walls of a cell and those of their branches that are asked for.
    #[must_use]
    pub fn damping(&self, cell: usize, is_meant: fn(&StepBranch) -> bool) -> f64 {
        let answers =
            |wall: &Wall| self.branches[wall.finish].iter().filter(|branch| is_meant(branch)).map(|branch| branch.answer).sum::<f64>();
        let sum: f64 = self.walls_of(cell).iter().map(|wall| wall.area * answers(wall)).sum();
        0.5 * COURANT * sum / self.mass[cell]
    }

    /// Sum of the open faces of a cell.
    #[must_use]
    pub fn ties(&self, cell: usize, strides: [usize; 3]) -> f64 {
        self.neighbors(cell, strides).iter().map(|(_, open)| open).sum()
    }

    /// Neighbors of a cell with the open share of the face between: before and after along x, y, z.
    #[must_use]
    pub fn neighbors(&self, cell: usize, strides: [usize; 3]) -> [(usize, f64); 6] {
        let mut all = [(cell, 0.0); 6];
        for ((open, stride), pair) in self.open.iter().zip(strides).zip(all.chunks_exact_mut(2)) {
            pair[0] = (cell.saturating_sub(stride), open[cell]);
            if let Some(after) = open.get(cell + stride) {
                pair[1] = (cell + stride, *after);
            }
        }
        all
    }

    /// Lends mass to cells that are too small for what they are tied to, and closes faces where nobody has any left.
    fn keep_stable(&mut self, strides: [usize; 3]) {
        let cut: Vec<usize> = (0..self.mass.len()).filter(|cell| self.mass[*cell] < wanted(self.ties(*cell, strides))).collect();
        for cell in cut {
            let mut lacking = wanted(self.ties(cell, strides)) - self.mass[cell];
            if self.mass[cell] <= 0.0 && lacking <= 0.0 {
                continue;
            }
            // From the widest face on: that is the neighbor with which it shares most.
            let mut lenders = self.neighbors(cell, strides);
            lenders.sort_by(|a, b| b.1.total_cmp(&a.1));
            for (lender, open) in lenders {
                let spare = (self.mass[lender] - wanted(self.ties(lender, strides))).max(0.0);
                let given = if open > 0.0 { spare.min(lacking.max(0.0)) } else { 0.0 };
                self.mass[lender] -= given;
                self.mass[cell] += given;
                self.lent += given;
                lacking -= given;
            }
            if lacking > 1e-12 {
                let share = self.mass[cell] / wanted(self.ties(cell, strides));
                self.closed += 1;
                for (open, stride) in self.open.iter_mut().zip(strides) {
                    open[cell] *= share;
                    if let Some(after) = open.get_mut(cell + stride) {
                        *after *= share;
                    }
                }
            }
        }
        // Air that nothing is tied to is out of the room.
        for cell in 0..self.mass.len() {
            if self.mass[cell] > 0.0 && self.ties(cell, strides) <= 0.0 {
                self.mass[cell] = 0.0;
            }
        }
    }
}
