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

use super::layout::{Layout, Run, Slab, Stray};
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

/// State of a branch of a wall.
#[derive(Clone, Copy, Debug, Default)]
struct Moving<T> {
    /// Velocity into it.
    velocity: T,
    /// Way that it has come, in steps.
    way: T,
    /// Mean velocity over the last step.
    mean: T,
}

/// What moves along with a slab.
#[derive(Clone, Debug, Default)]
struct Beside<T> {
    walls: Vec<Moving<T>>,
    /// Values of its listened cells, step by step.
    heard: Vec<T>,
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
        let beside =
            layout.slabs.iter().map(|slab| Mutex::new(Beside { walls: vec![Moving::default(); slab.walls.len()], heard: Vec::new() }));
        Self { values: [zeros(), zeros()], beside: beside.collect(), layout, steps: 0, level: chosen().level() }
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

    /// Velocity and way of the branches of a slab's walls.
    #[must_use]
    pub fn walls(&self, slab: usize) -> Vec<[T; 2]> {
        held(&self.beside[slab]).walls.iter().map(|wall| [wall.velocity, wall.way]).collect()
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
        let Beside { walls, heard: record } = &mut *beside;
        let around = Around { own: &own, behind: &behind, ahead: &ahead, length: self.layout.counts[0] };
        dispatch!(self.level, simd => sweep(simd, plan, &around, &mut out, walls));
        for port in driving.ports {
            if let Some(value) = driving.signals[port.signal].get(step) {
                out[port.cell] = out[port.cell] + port.weight * *value;
            }
        }
        settle(plan, &own, &out, walls);
        record.extend(heard.iter().map(|port| port.weight * out[port.cell]));
    }
}

/// Bytes that stay near a processor: half of what the caches of its own hold on most.
const NEAR: usize = 384 << 10;
/// Steps in a group at most.
const MOST_TOGETHER: usize = 16;

/// A slab's pressures and those of the slabs beside it.
struct Around<'a, T> {
    own: &'a [T],
    behind: &'a [T],
    ahead: &'a [T],
    length: usize,
}

/// Every run of a slab, and what moving walls take of it.
#[inline(always)]
fn sweep<S: Simd, T: Real>(_: S, plan: &Slab<T>, around: &Around<'_, T>, out: &mut [T], walls: &[Moving<T>]) {
    for run in &plan.runs {
        match run.cut {
            None => whole(*run, around, out),
            Some(first) => cut(plan, *run, first, around, out),
        }
    }
    plan.strays.iter().for_each(|one| stray(one, around, out));
    let half = T::of(0.5);
    for (wall, state) in plan.walls.iter().zip(walls) {
        let kept = state.velocity * wall.inertia - state.way * wall.spring;
        out[wall.cell] = out[wall.cell] - wall.taken * (wall.answer * (half * around.own[wall.cell] + kept) - state.mean);
    }
}

/// Cells that go side by side: as many as the widest vectors take, and no more than is worth a rest one by one.
const LANES: usize = 8;

/// Slices of so many cells from a first one on: the cell itself, then its neighbors in the row, across rows, across slabs.
#[inline(always)]
fn around_of<'a, T>(run: Run, around: &Around<'a, T>) -> [&'a [T]; 7] {
    let (begin, len, row) = (run.begin, run.len, around.length);
    let Around { own, behind, ahead, .. } = *around;
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
fn whole<T: Real>(run: Run, around: &Around<'_, T>, out: &mut [T]) {
    let out = &mut out[run.begin..][..run.len];
    let [own, left, right, below, above, behind, ahead] = around_of(run, around);
    let (half, quarter) = (T::of(0.5), T::of(0.25));
    let one = |own: T, [l, r, b, a, k, n]: [T; 6], before: T| half * own + quarter * ((l + r) + (b + a) + (k + n)) - before;
    let (many, rest) = out.as_chunks_mut::<LANES>();
    let (o, l, r) = (own.as_chunks::<LANES>().0, left.as_chunks::<LANES>().0, right.as_chunks::<LANES>().0);
    let (b, a) = (below.as_chunks::<LANES>().0, above.as_chunks::<LANES>().0);
    let (k, n) = (behind.as_chunks::<LANES>().0, ahead.as_chunks::<LANES>().0);
    let len = many.len();
    let (o, l, r, b, a, k, n) = (&o[..len], &l[..len], &r[..len], &b[..len], &a[..len], &k[..len], &n[..len]);
    for i in 0..len {
        for j in 0..LANES {
            many[i][j] = one(o[i][j], [l[i][j], r[i][j], b[i][j], a[i][j], k[i][j], n[i][j]], many[i][j]);
        }
    }
    let first = len * LANES;
    for (j, out) in rest.iter_mut().enumerate() {
        let i = first + j;
        *out = one(own[i], [left[i], right[i], below[i], above[i], behind[i], ahead[i]], *out);
    }
}

/// The same with factors of each cell.
#[inline(always)]
fn cut<T: Real>(plan: &Slab<T>, run: Run, first: usize, around: &Around<'_, T>, out: &mut [T]) {
    let out = &mut out[run.begin..][..run.len];
    let len = out.len();
    let [own, left, right, below, above, behind, ahead] = around_of(run, around);
    let of = &plan.factors;
    let (l, r) = (&of.neighbors[0][first..][..len], &of.neighbors[1][first..][..len]);
    let (b, a) = (&of.neighbors[2][first..][..len], &of.neighbors[3][first..][..len]);
    let (k, n) = (&of.neighbors[4][first..][..len], &of.neighbors[5][first..][..len]);
    let (o, p) = (&of.own[first..][..len], &of.before[first..][..len]);
    for i in 0..len {
        let six = (l[i] * left[i] + r[i] * right[i]) + (b[i] * below[i] + a[i] * above[i]) + (k[i] * behind[i] + n[i] * ahead[i]);
        out[i] = o[i] * own[i] + six - p[i] * out[i];
    }
}

/// The same for a cell by itself.
#[inline(always)]
fn stray<T: Real>(stray: &Stray<T>, around: &Around<'_, T>, out: &mut [T]) {
    let (at, row) = (stray.cell, around.length);
    let Around { own, behind, ahead, .. } = *around;
    let [l, r, b, a, k, n] = stray.neighbors;
    let six = (l * own[at - 1] + r * own[at + 1]) + (b * own[at - row] + a * own[at + row]) + (k * behind[at] + n * ahead[at]);
    out[at] = stray.own * own[at] + six - stray.before * out[at];
}

/// Moving walls go on by what the step has come to.
fn settle<T: Real>(plan: &Slab<T>, own: &[T], out: &[T], walls: &mut [Moving<T>]) {
    let (half, two) = (T::of(0.5), T::of(2.0));
    for (wall, state) in plan.walls.iter().zip(walls) {
        let kept = state.velocity * wall.inertia - state.way * wall.spring;
        state.mean = wall.answer * (half * (out[wall.cell] + own[wall.cell]) + kept);
        state.velocity = two * state.mean - state.velocity;
        state.way = state.way + state.mean;
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
