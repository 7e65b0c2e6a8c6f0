//! The sums of a step within one slab, eight cells side by side.
//!
//! | what | of which cells | sum |
//! | --- | --- | --- |
//! | `sweep` | all air | whole ones `p+ = p / 2 + (sum of six neighbors) / 4 - p-`, cut ones the same with factors of their own |
//! | `resist` | at fiber | less what fiber takes of the flows through their faces |
//! | `give_way` | at walls that move | less what these answer, then the walls go on |
//!
//! Whole cells are gone through in long stretches, over cut cells and what is no air in between; these are done again from what they were before.
//!
//! What of a branch outlasts a step is kept as two parts of the mean velocity that is next if nothing presses: `g = b (2 L / dt) v` of its mass and `d = -b D q` of its spring. With `P = (p+ + p) / 2`
//!
//! ```text
//! w = b P + g + d,   g+ = 2 b (2 L / dt) w - g,   d+ = d - b D dt w
//! ```
//!
//! is what `stencil` says of `v` and `q`, in half the loads. All of it is counted in what it takes from the cell's pressure, so that one number a cell, the sum of `w - g+ - d+`, is what the next step is less by.
//!
//! *References.* As in `stencil`.
//!
//! *Limits.* Sums are ordered as they stand here, product by product without fusing: the same to the last bit whatever the processor's lanes are.

use std::ops::{Add, Mul, Sub};

use fearless_simd::prelude::*;
use fearless_simd::{SimdElement, f32x8, f64x8};

use super::layout::{Cut, Factors, Moves, SIDE_BY_SIDE, Slab, SlabFiber, SlabWalls};

/// What fields are made of: `f32` to run, `f64` to prove.
pub trait Real: SimdElement + Send + Sync + Default + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> {
    /// By how much two roundings may be off, re what is rounded.
    const ROUNDED: f64;
    /// Eight of them in the processor.
    type Lanes<S: Simd>: SimdBase<S, Element = Self, Array = [Self; SIDE_BY_SIDE]>;
    /// The nearest to a number.
    fn of(number: f64) -> Self;
    /// The nearest to a number that is no more than it.
    fn at_most(number: f64) -> Self;
    /// As a number.
    fn number(self) -> f64;
}

impl Real for f32 {
    const ROUNDED: f64 = 2.0 * f32::EPSILON as f64;
    type Lanes<S: Simd> = f32x8<S>;

    fn of(number: f64) -> Self {
        number as Self
    }

    fn at_most(number: f64) -> Self {
        let near = number as Self;
        if f64::from(near) > number { near.next_down() } else { near }
    }

    fn number(self) -> f64 {
        f64::from(self)
    }
}

impl Real for f64 {
    const ROUNDED: f64 = 2.0 * Self::EPSILON;
    type Lanes<S: Simd> = f64x8<S>;

    fn of(number: f64) -> Self {
        number
    }

    fn at_most(number: f64) -> Self {
        number
    }

    fn number(self) -> f64 {
        self
    }
}

/// Values of cells together, in memory.
type Together<T> = [T; SIDE_BY_SIDE];

/// State of a branch of a wall, cells together: `g` and `d` above.
#[derive(Clone, Copy, Debug, Default)]
struct Moving<T> {
    /// Of its mass.
    swing: Together<T>,
    /// Of its spring.
    pull: Together<T>,
}

impl<T: Real> Moving<T> {
    /// Goes on by a step in which cells press so; gives back its mean velocity, less the next one if nothing pressed then.
    #[inline(always)]
    fn go_on<S: Simd>(&mut self, simd: S, branch: &Moves<T>, pressed: T::Lanes<S>) -> T::Lanes<S> {
        let (swing, pull) = (load(simd, &self.swing), load(simd, &self.pull));
        let mean = pressed * branch.answer + (swing + pull);
        let (swing, pull) = (mean * branch.swing - swing, pull - mean * branch.pull);
        swing.store_array(&mut self.swing);
        pull.store_array(&mut self.pull);
        mean - (swing + pull)
    }
}

/// What moves at the walls of a slab.
#[derive(Clone, Debug, Default)]
pub(super) struct Walls<T> {
    /// Cells by cells, branch by branch.
    branches: Vec<Moving<T>>,
    /// Cells by cells: what all branches add to the next pressure if nothing presses.
    left: Vec<Together<T>>,
}

impl<T: Real> Walls<T> {
    fn new(walls: &SlabWalls<T>) -> Self {
        let none = [T::default(); SIDE_BY_SIDE];
        let branches = walls.met.iter().map(|met| met.bunches * met.branches()).sum();
        Self { branches: vec![Moving { swing: none, pull: none }; branches], left: vec![none; walls.cells.len()] }
    }
}

/// What moves along with a slab.
#[derive(Clone, Debug, Default)]
pub(super) struct Beside<T> {
    /// Walls.
    pub(super) walls: Walls<T>,
    /// Flows through the faces of cells at fiber, side by side.
    pub(super) flows: Vec<[Together<T>; 6]>,
    /// Values of cut cells a step ago, while stretches run over them.
    pub(super) kept: Vec<Together<T>>,
    /// Values of its listened cells, step by step.
    pub(super) heard: Vec<T>,
}

impl<T: Real> Beside<T> {
    pub(super) fn new(slab: &Slab<T>) -> Self {
        let none = [T::default(); SIDE_BY_SIDE];
        let walls = Walls::new(&slab.walls);
        Self { walls, flows: vec![[none; 6]; slab.fibers.len()], kept: vec![none; slab.cut.len()], heard: Vec::new() }
    }
}

/// A slab's pressures and those of the slabs beside it, in rows of so many.
#[derive(Clone, Copy)]
pub(super) struct Slabs<'a, T> {
    pub(super) own: &'a [T],
    pub(super) behind: &'a [T],
    pub(super) ahead: &'a [T],
    pub(super) row: usize,
}

/// The cells of a slab that have rows on both sides, and their neighbors, each from the same cell on. All are of one length, so that one look at a place does for all of them.
#[derive(Clone, Copy)]
struct Around<'a, T> {
    own: &'a [T],
    left: &'a [T],
    right: &'a [T],
    below: &'a [T],
    above: &'a [T],
    behind: &'a [T],
    ahead: &'a [T],
}

impl<'a, T: Real> Slabs<'a, T> {
    #[inline(always)]
    fn around(self) -> Around<'a, T> {
        let Self { own, behind, ahead, row } = self;
        let count = own.len() - 2 * row;
        Around {
            own: &own[row..][..count],
            left: &own[row - 1..][..count],
            right: &own[row + 1..][..count],
            below: &own[..count],
            above: &own[2 * row..][..count],
            behind: &behind[row..][..count],
            ahead: &ahead[row..][..count],
        }
    }

    /// The same cells of what is written.
    #[inline(always)]
    fn inner(self, out: &mut [T]) -> &mut [T] {
        &mut out[self.row..][..self.own.len() - 2 * self.row]
    }
}

impl<T: Real> Around<'_, T> {
    /// Neighbors of eight cells from a place on: in the row, across rows, across slabs.
    #[inline(always)]
    fn neighbors<S: Simd>(&self, simd: S, at: usize) -> [T::Lanes<S>; 6] {
        [
            some(simd, self.left, at),
            some(simd, self.right, at),
            some(simd, self.below, at),
            some(simd, self.above, at),
            some(simd, self.behind, at),
            some(simd, self.ahead, at),
        ]
    }
}

/// All air of a slab: stretches first, then cut cells from what they were before.
#[inline(always)]
pub(super) fn sweep<S: Simd, T: Real>(
    simd: S,
    (plan, factors): (&Slab<T>, &[Factors<T>]),
    slabs: &Slabs<'_, T>,
    out: &mut [T],
    kept: &mut [Together<T>],
) {
    let (around, out, first) = (slabs.around(), slabs.inner(out), slabs.row);
    for (cut, kept) in plan.cut.iter().zip(kept.iter_mut()) {
        kept.copy_from_slice(&out[cut.begin as usize - first..][..SIDE_BY_SIDE]);
    }
    let (half, quarter) = (T::Lanes::simd_from(simd, T::of(0.5)), T::Lanes::simd_from(simd, T::of(0.25)));
    for stretch in &plan.stretches {
        let (mut at, end) = (stretch.start - first, stretch.end - first);
        while at < end {
            let [left, right, below, above, behind, ahead] = around.neighbors(simd, at);
            let six = (left + right) + (below + above) + (behind + ahead);
            let new = half * some(simd, around.own, at) + quarter * six - some(simd, out, at);
            new.store_slice(&mut out[at..at + SIDE_BY_SIDE]);
            at += SIDE_BY_SIDE;
        }
    }
    for (Cut { begin, factors: which }, before) in plan.cut.iter().zip(kept.iter()) {
        let (at, factors) = (*begin as usize - first, &factors[*which as usize]);
        let [left, right, below, above, behind, ahead] = around.neighbors(simd, at);
        let [l, r, b, a, k, n] = &factors.neighbors;
        let in_row = load(simd, l) * left + load(simd, r) * right;
        let across_rows = load(simd, b) * below + load(simd, a) * above;
        let across_slabs = load(simd, k) * behind + load(simd, n) * ahead;
        let own = load(simd, &factors.own) * some(simd, around.own, at);
        let new = own + (in_row + across_rows + across_slabs) - load(simd, &factors.before) * load(simd, before);
        new.store_slice(&mut out[at..at + SIDE_BY_SIDE]);
    }
}

/// Fiber takes of the flows through faces; these go on by the differences of pressure now.
#[inline(always)]
pub(super) fn resist<S: Simd, T: Real>(
    simd: S,
    fibers: &[SlabFiber<T>],
    slabs: &Slabs<'_, T>,
    out: &mut [T],
    flows: &mut [[Together<T>; 6]],
) {
    let (around, out, first) = (slabs.around(), slabs.inner(out), slabs.row);
    for (fiber, flows) in fibers.iter().zip(flows) {
        let at = fiber.begin as usize - first;
        let own = some(simd, around.own, at);
        let mut lost = T::Lanes::simd_from(simd, T::default());
        let sides = fiber.share.iter().zip(&fiber.tie).zip(around.neighbors(simd, at));
        for (flow, ((share, tie), there)) in flows.iter_mut().zip(sides) {
            let before = load(simd, flow);
            let taken = load(simd, share) * before;
            lost += taken;
            (before - taken + load(simd, tie) * (there - own)).store_array(flow);
        }
        let new = some(simd, out, at) - load(simd, &fiber.taken) * lost;
        new.store_slice(&mut out[at..at + SIDE_BY_SIDE]);
    }
}

/// Walls that move add to the pressure what the last step has left them, then go on by what this one has come to.
#[inline(always)]
pub(super) fn give_way<S: Simd, T: Real>(simd: S, walls: &SlabWalls<T>, (own, out): (&[T], &mut [T]), moving: &mut Walls<T>) {
    let half = T::of(0.5);
    let mut bunches = walls.cells.iter().zip(&mut moving.left);
    let (mut taken, mut states) = (walls.taken.iter(), moving.branches.iter_mut());
    for met in &walls.met {
        for (cells, left) in bunches.by_ref().take(met.bunches) {
            let new = gathered(simd, out, cells) + load(simd, left);
            scattered(new, out, cells);
            let pressed = (new + gathered(simd, own, cells)) * half;
            let mut all = T::Lanes::simd_from(simd, T::default());
            for (part, taken) in met.parts.iter().zip(&mut taken) {
                let pressed = load(simd, taken) * pressed;
                for (branch, state) in part.iter().zip(&mut states) {
                    all += state.go_on(simd, branch, pressed);
                }
            }
            all.store_array(left);
        }
    }
}

#[inline(always)]
fn load<S: Simd, T: Real>(simd: S, values: &Together<T>) -> T::Lanes<S> {
    T::Lanes::load_array_ref(simd, values)
}

/// Eight values from a place on.
#[inline(always)]
fn some<S: Simd, T: Real>(simd: S, values: &[T], at: usize) -> T::Lanes<S> {
    T::Lanes::from_slice(simd, &values[at..at + SIDE_BY_SIDE])
}

/// Whether cells follow each other in their row.
#[inline(always)]
fn follow(cells: &[u32; SIDE_BY_SIDE]) -> bool {
    cells[SIDE_BY_SIDE - 1] as usize == cells[0] as usize + SIDE_BY_SIDE - 1
}

/// Values of cells, wherever they lie.
#[inline(always)]
fn gathered<S: Simd, T: Real>(simd: S, values: &[T], cells: &[u32; SIDE_BY_SIDE]) -> T::Lanes<S> {
    if follow(cells) {
        return some(simd, values, cells[0] as usize);
    }
    let mut all = [T::default(); SIDE_BY_SIDE];
    for (one, cell) in all.iter_mut().zip(cells) {
        *one = values[*cell as usize];
    }
    load(simd, &all)
}

/// Puts values back where they came from.
#[inline(always)]
fn scattered<S: Simd, T: Real>(new: T::Lanes<S>, out: &mut [T], cells: &[u32; SIDE_BY_SIDE]) {
    if follow(cells) {
        let begin = cells[0] as usize;
        new.store_slice(&mut out[begin..begin + SIDE_BY_SIDE]);
        return;
    }
    let mut all = [T::default(); SIDE_BY_SIDE];
    new.store_array(&mut all);
    for (one, cell) in all.iter().zip(cells) {
        out[*cell as usize] = *one;
    }
}
