//! Steps in time: every cell's pressure from its own, its neighbors' and the one before, as fast as memory allows and faster.
//!
//! A step reads a slab and the slabs beside it, and writes over the slab's values of a step before. So `t` steps can follow each other through the room like waves, each one slab behind the
//! last: what one step has just written, the next reads while it is still near. Several threads take such groups of steps in turn, each behind the one before.
//! All of this only orders the same sums: results are the same to the last bit with any number of threads and any size of group.
//!
//! *References.* Blocking in time by wavefronts: M. Wolf, M. Lam, *A data locality optimizing algorithm*, PLDI 1991 (from memory).
//!
//! *Limits.* With more threads than the room has slabs for, threads wait.

use std::ops::{Add, Mul, Sub};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError, RwLock};

use fearless_simd::{Level, Simd, dispatch};

use super::layout::{Factors, Layout, SIDE_BY_SIDE, Slab, SlabFiber, SlabWall};
use super::stencil::StepBranch;
use crate::geometry::instructions::chosen;
use crate::progress::{Cancelled, Progress};

/// What fields are made of: `f32` to run, `f64` to prove.
pub trait Real: Copy + Default + Send + Sync + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> {
    /// The nearest to a number.
    fn of(number: f64) -> Self;
    /// As a number.
    fn number(self) -> f64;
}

impl Real for f32 {
    fn of(number: f64) -> Self {
        number as Self
    }

    fn number(self) -> f64 {
        f64::from(self)
    }
}

impl Real for f64 {
    fn of(number: f64) -> Self {
        number
    }

    fn number(self) -> f64 {
        self
    }
}

/// A cell that is driven or listened to: where it is, and how much of which signal.
#[derive(Clone, Copy, Debug)]
pub struct Port<T> {
    /// Slab.
    pub slab: usize,
    /// Cell in it.
    pub cell: usize,
    /// What of the signal goes into the cell, or of the cell into the signal.
    pub weight: T,
    /// Index of the signal.
    pub signal: usize,
}

/// What goes into a field.
#[derive(Clone, Copy, Debug)]
pub struct Driving<'a, T> {
    /// Cells that are driven.
    pub ports: &'a [Port<T>],
    /// Signals, a value a step; silence after their ends.
    pub signals: &'a [Vec<T>],
}

/// What is kept of a field: a signal is the sum of its ports.
#[derive(Clone, Copy, Debug)]
pub struct Listening<'a, T> {
    /// Cells that are listened to.
    pub ports: &'a [Port<T>],
    /// After every so many steps, counted from the field's first.
    pub every: usize,
}

impl<T> Driving<'_, T> {
    /// Nothing.
    pub const NONE: Self = Self { ports: &[], signals: &[] };
}

impl<T> Listening<'_, T> {
    /// Nothing.
    pub const NONE: Self = Self { ports: &[], every: 1 };
}

/// Values of cells together.
type Lanes<T> = [T; SIDE_BY_SIDE];

/// State of a branch of a wall, cells together.
#[derive(Clone, Copy, Debug, Default)]
struct Moving<T> {
    /// Velocity into it.
    velocity: Lanes<T>,
    /// Way that it has come, in steps.
    way: Lanes<T>,
}

impl<T: Real> Moving<T> {
    /// Mean velocity over a step in which cells press so.
    #[inline(always)]
    fn mean(&self, branch: &StepBranch<T>, pressed: &Lanes<T>) -> Lanes<T> {
        std::array::from_fn(|i| branch.answer * (pressed[i] + (self.velocity[i] * branch.inertia - self.way[i] * branch.spring)))
    }
}

/// What moves at cells that meet the same walls.
#[derive(Clone, Debug)]
struct Walls<T> {
    /// Cells by cells, branch by branch.
    branches: Vec<Moving<T>>,
    /// Cells by cells, finish by finish: mean velocities of all branches together over the last step.
    means: Vec<Lanes<T>>,
}

impl<T: Real> Walls<T> {
    fn new(wall: &SlabWall<T>) -> Self {
        let branches: usize = wall.parts.iter().map(|part| part.branches.len()).sum();
        let none = [T::default(); SIDE_BY_SIDE];
        Self {
            branches: vec![Moving { velocity: none, way: none }; wall.cells.len() * branches],
            means: vec![none; wall.cells.len() * wall.parts.len()],
        }
    }
}

/// What moves along with a slab.
#[derive(Clone, Debug, Default)]
struct Beside<T> {
    /// Wall by wall.
    walls: Vec<Walls<T>>,
    /// Flows through the faces of cells at fiber, side by side.
    flows: Vec<[[T; SIDE_BY_SIDE]; 6]>,
    /// Values of cut cells a step ago, while stretches run over them.
    kept: Vec<[T; SIDE_BY_SIDE]>,
    /// Values of its listened cells, step by step.
    heard: Vec<T>,
}

impl<T: Real> Beside<T> {
    fn new(slab: &Slab<T>) -> Self {
        let walls = slab.walls.iter().map(Walls::new).collect();
        let none = [T::default(); SIDE_BY_SIDE];
        Self { walls, flows: vec![[none; 6]; slab.fibers.len()], kept: vec![none; slab.cut.len()], heard: Vec::new() }
    }
}

/// Pressures in a room, at two steps that follow each other.
#[derive(Debug)]
pub struct Field<T> {
    layout: Layout<T>,
    /// At even and at odd steps, slab by slab.
    values: [Vec<RwLock<Vec<T>>>; 2],
    beside: Vec<Mutex<Beside<T>>>,
    /// Steps done.
    steps: usize,
    level: Level,
}

impl<T: Real> Field<T> {
    /// Silence.
    #[must_use]
    pub fn new(layout: Layout<T>) -> Self {
        let [length, rows, slabs] = layout.counts;
        let zeros = || (0..slabs).map(|_| RwLock::new(vec![T::default(); length * rows])).collect();
        let beside = layout.slabs.iter().map(|slab| Mutex::new(Beside::new(slab))).collect();
        Self { values: [zeros(), zeros()], beside, layout, steps: 0, level: chosen().level() }
    }

    /// The layout.
    #[must_use]
    pub fn layout(&self) -> &Layout<T> {
        &self.layout
    }

    /// Pressure of a cell now, and a step before.
    #[must_use]
    pub fn pressure(&self, (slab, cell): (usize, usize)) -> [T; 2] {
        let now = self.steps % 2;
        [now, 1 - now].map(|which| read(&self.values[which][slab])[cell])
    }

    /// Sets the pressure of a cell now, and a step before.
    pub fn set(&mut self, (slab, cell): (usize, usize), [now, before]: [T; 2]) {
        let which = self.steps % 2;
        write(&self.values[which][slab])[cell] = now;
        write(&self.values[1 - which][slab])[cell] = before;
    }

    /// Goes on by so many steps on so many threads, driven by signals; gives back what was heard, signal by signal.
    ///
    /// # Errors
    /// [`Cancelled`] if asked to stop; the field is then worthless.
    pub fn run(
        &mut self,
        progress: &Progress,
        threads: usize,
        driving: Driving<'_, T>,
        listening: Listening<'_, T>,
        steps: usize,
    ) -> Result<Vec<Vec<T>>, Cancelled> {
        let slabs = self.layout.counts[2];
        let group = self.group();
        let groups = steps.div_ceil(group);
        let by_slab = |ports: &[Port<T>]| {
            let mut all: Vec<Vec<Port<T>>> = vec![Vec::new(); slabs];
            ports.iter().for_each(|port| all[port.slab].push(*port));
            all
        };
        let (driven, heard) = (by_slab(driving.ports), by_slab(listening.ports));
        let every = listening.every.max(1);
        self.beside.iter_mut().for_each(|beside| held(beside).heard.clear());
        // How far each group has come: the last slab that its last step is done with.
        let done: Vec<AtomicUsize> = (0..=groups).map(|group| AtomicUsize::new(if group == 0 { usize::MAX } else { 0 })).collect();
        let stopped = AtomicBool::new(false);
        let worker = |first: usize, of: usize| {
            for number in (first..groups).step_by(of) {
                let within = group.min(steps - number * group);
                for wave in 1..slabs - 1 + within {
                    // The next slab must have come out of the group before.
                    let wanted = (wave + 1).min(slabs - 2);
                    while done[number].load(Ordering::Acquire) < wanted {
                        if stopped.load(Ordering::Relaxed) {
                            return;
                        }
                        std::thread::yield_now();
                    }
                    for late in 0..within.min(wave) {
                        let slab = wave - late;
                        if slab + 1 < slabs {
                            let step = number * group + late;
                            let drive = Driving { ports: &driven[slab], signals: driving.signals };
                            let heard: &[Port<T>] = if (self.steps + step + 1).is_multiple_of(every) { &heard[slab] } else { &[] };
                            self.unit((step, slab), drive, heard);
                        }
                    }
                    if wave + 1 >= within {
                        done[number + 1].store(wave + 1 - within, Ordering::Release);
                    }
                }
                done[number + 1].store(usize::MAX, Ordering::Release);
                if progress.step(within as u64).is_err() {
                    stopped.store(true, Ordering::Relaxed);
                    return;
                }
            }
        };
        let threads = threads.clamp(1, groups.max(1));
        std::thread::scope(|scope| {
            (1..threads).for_each(|first| {
                let worker = &worker;
                scope.spawn(move || worker(first, threads));
            });
            worker(0, threads);
        });
        if stopped.load(Ordering::Relaxed) {
            return Err(Cancelled);
        }
        let moments = (self.steps + steps) / every - self.steps / every;
        self.steps += steps;
        let signals = listening.ports.iter().map(|port| port.signal + 1).max().unwrap_or(0);
        let mut all = vec![vec![T::default(); moments]; signals];
        for (slab, ports) in heard.iter().enumerate().filter(|(_, ports)| !ports.is_empty()) {
            for (moment, values) in held(&self.beside[slab]).heard.chunks_exact(ports.len()).enumerate() {
                ports.iter().zip(values).for_each(|(port, value)| all[port.signal][moment] = all[port.signal][moment] + *value);
            }
        }
        Ok(all)
    }

    /// Steps that follow each other closely: as many as keep their slabs near the processor.
    fn group(&self) -> usize {
        let slab = self.layout.counts[0] * self.layout.counts[1] * size_of::<T>();
        (NEAR / (2 * slab.max(1))).saturating_sub(2).clamp(1, MOST_TOGETHER)
    }

    /// One step of one slab.
    fn unit(&self, (step, slab): (usize, usize), driving: Driving<'_, T>, heard: &[Port<T>]) {
        let now = (self.steps + step) % 2;
        let (now, before) = (&self.values[now], &self.values[1 - now]);
        let (own, behind, ahead) = (read(&now[slab]), read(&now[slab - 1]), read(&now[slab + 1]));
        let mut out = write(&before[slab]);
        let mut beside = held(&self.beside[slab]);
        let plan = &self.layout.slabs[slab];
        let around = Around { own: &own, behind: &behind, ahead: &ahead, length: self.layout.counts[0] };
        dispatch!(self.level, simd => sweep(simd, (plan, &self.layout.factors), &around, &mut out, &mut beside.kept));
        if !plan.fibers.is_empty() {
            dispatch!(self.level, simd => resist(simd, &plan.fibers, &around, &mut out, &mut beside.flows));
        }
        for port in driving.ports {
            if let Some(value) = driving.signals[port.signal].get(step) {
                out[port.cell] = out[port.cell] + port.weight * *value;
            }
        }
        if !plan.walls.is_empty() {
            dispatch!(self.level, simd => give_way(simd, &plan.walls, (&own, &mut out), &mut beside.walls));
        }
        beside.heard.extend(heard.iter().map(|port| port.weight * out[port.cell]));
    }
}

/// Bytes that stay nearer to a processor than memory: a good part of what the caches that processors share hold.
const NEAR: usize = 2 << 20;
/// Steps in a group at most: more gained nothing where it was tried.
const MOST_TOGETHER: usize = 8;

/// A slab's pressures and those of the slabs beside it.
#[derive(Clone, Copy)]
struct Around<'a, T> {
    own: &'a [T],
    behind: &'a [T],
    ahead: &'a [T],
    length: usize,
}

/// All air of a slab: stretches first, then cut cells from what they were before.
#[inline(always)]
fn sweep<S: Simd, T: Real>(
    _: S,
    (plan, factors): (&Slab<T>, &[Factors<T>]),
    around: &Around<'_, T>,
    out: &mut [T],
    kept: &mut [[T; SIDE_BY_SIDE]],
) {
    for (cut, kept) in plan.cut.iter().zip(kept.iter_mut()) {
        kept.copy_from_slice(&out[cut.begin as usize..][..SIDE_BY_SIDE]);
    }
    for stretch in &plan.stretches {
        whole(stretch.start, around, &mut out[stretch.clone()]);
    }
    for (one, kept) in plan.cut.iter().zip(kept.iter()) {
        cut(one.begin as usize, &factors[one.factors as usize], around, kept, out);
    }
}

/// So many cells from a first one on: the cells themselves, then their neighbors in the row, across rows, across slabs.
#[inline(always)]
fn around_of<'a, T>(begin: usize, len: usize, around: &Around<'a, T>) -> [&'a [T]; 7] {
    let Around { own, behind, ahead, length: row } = *around;
    [
        &own[begin..][..len],
        &own[begin - 1..][..len],
        &own[begin + 1..][..len],
        &own[begin - row..][..len],
        &own[begin + row..][..len],
        &behind[begin..][..len],
        &ahead[begin..][..len],
    ]
}

/// `p+ = p / 2 + (sum of six neighbors) / 4 - p-`.
#[inline(always)]
fn whole<T: Real>(begin: usize, around: &Around<'_, T>, out: &mut [T]) {
    let len = out.len();
    let [own, left, right, below, above, behind, ahead] = around_of(begin, len, around);
    let (half, quarter) = (T::of(0.5), T::of(0.25));
    for i in 0..len {
        let six = (left[i] + right[i]) + (below[i] + above[i]) + (behind[i] + ahead[i]);
        out[i] = half * own[i] + quarter * six - out[i];
    }
}

/// The same with factors of each cell.
#[inline(always)]
fn cut<T: Real>(begin: usize, factors: &Factors<T>, around: &Around<'_, T>, kept: &[T; SIDE_BY_SIDE], out: &mut [T]) {
    let [own, left, right, below, above, behind, ahead] = around_of(begin, SIDE_BY_SIDE, around);
    let out = &mut out[begin..][..SIDE_BY_SIDE];
    let [l, r, b, a, k, n] = &factors.neighbors;
    for i in 0..SIDE_BY_SIDE {
        let six = (l[i] * left[i] + r[i] * right[i]) + (b[i] * below[i] + a[i] * above[i]) + (k[i] * behind[i] + n[i] * ahead[i]);
        out[i] = factors.own[i] * own[i] + six - factors.before[i] * kept[i];
    }
}

/// Fiber takes of the flows through faces; these go on by the differences of pressure now.
#[inline(always)]
fn resist<S: Simd, T: Real>(_: S, fibers: &[SlabFiber<T>], around: &Around<'_, T>, out: &mut [T], flows: &mut [[[T; SIDE_BY_SIDE]; 6]]) {
    for (fiber, flows) in fibers.iter().zip(flows) {
        let begin = fiber.begin as usize;
        let [own, sides @ ..] = around_of(begin, SIDE_BY_SIDE, around);
        let mut lost = [T::default(); SIDE_BY_SIDE];
        for (side, (flow, there)) in flows.iter_mut().zip(sides).enumerate() {
            let (share, tie) = (&fiber.share[side], &fiber.tie[side]);
            let taken: [T; SIDE_BY_SIDE] = std::array::from_fn(|i| share[i] * flow[i]);
            lost = std::array::from_fn(|i| lost[i] + taken[i]);
            *flow = std::array::from_fn(|i| flow[i] - taken[i] + tie[i] * (there[i] - own[i]));
        }
        let out = &mut out[begin..][..SIDE_BY_SIDE];
        for i in 0..SIDE_BY_SIDE {
            out[i] = out[i] - fiber.taken[i] * lost[i];
        }
    }
}

/// Walls that move take of the pressure what they answer, then go on by what the step has come to.
#[inline(always)]
fn give_way<S: Simd, T: Real>(_: S, walls: &[SlabWall<T>], (own, out): (&[T], &mut [T]), moving: &mut [Walls<T>]) {
    let half = T::of(0.5);
    for (wall, moving) in walls.iter().zip(moving) {
        let branches = wall.parts.iter().map(|part| part.branches.len()).sum::<usize>();
        let states = moving.branches.chunks_exact_mut(branches).zip(moving.means.chunks_exact_mut(wall.parts.len()));
        for (bunch, (cells, (states, means))) in wall.cells.iter().zip(states).enumerate() {
            let pressed: Lanes<T> = cells.map(|cell| half * own[cell as usize]);
            let mut new: Lanes<T> = cells.map(|cell| out[cell as usize]);
            let mut those = states.iter();
            for (part, mean) in wall.parts.iter().zip(means.iter()) {
                let mut answered = mean.map(|mean| T::default() - mean);
                for (branch, state) in part.branches.iter().zip(&mut those) {
                    let mean = state.mean(branch, &pressed);
                    answered = std::array::from_fn(|i| answered[i] + mean[i]);
                }
                let taken = &part.taken[bunch];
                new = std::array::from_fn(|i| new[i] - taken[i] * answered[i]);
            }
            cells.iter().zip(new).for_each(|(cell, new)| out[*cell as usize] = new);
            let pressed: Lanes<T> = std::array::from_fn(|i| half * new[i] + pressed[i]);
            let mut those = states.iter_mut();
            for (part, sum) in wall.parts.iter().zip(means) {
                *sum = [T::default(); SIDE_BY_SIDE];
                for (branch, state) in part.branches.iter().zip(&mut those) {
                    let mean = state.mean(branch, &pressed);
                    *sum = std::array::from_fn(|i| sum[i] + mean[i]);
                    *state = Moving {
                        velocity: std::array::from_fn(|i| mean[i] + mean[i] - state.velocity[i]),
                        way: std::array::from_fn(|i| state.way[i] + mean[i]),
                    };
                }
            }
        }
    }
}

fn read<T>(lock: &RwLock<Vec<T>>) -> std::sync::RwLockReadGuard<'_, Vec<T>> {
    lock.read().unwrap_or_else(PoisonError::into_inner)
}

fn write<T>(lock: &RwLock<Vec<T>>) -> std::sync::RwLockWriteGuard<'_, Vec<T>> {
    lock.write().unwrap_or_else(PoisonError::into_inner)
}

fn held<T>(lock: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}
