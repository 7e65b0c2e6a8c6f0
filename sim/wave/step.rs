//! Steps in time: every cell's pressure from its own, its neighbors' and the one before, as fast as memory allows and faster.
//!
//! A step reads a slab and the slabs beside it, and writes over the slab's values of a step before. So `t` steps can follow each other through the room like waves, each one slab behind the
//! last: what one step has just written, the next reads while it is still near. Several threads take such groups of steps in turn, each behind the one before.
//! All of this only orders the same sums: results are the same to the last bit with any number of threads and any size of group.
//!
//! *References.* Blocking in time by wavefronts: M. Wolf, M. Lam, *A data locality optimizing algorithm*, PLDI 1991 (from memory).
//!
//! *Limits.* With more threads than the room has slabs for, threads wait.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError, RwLock};

use fearless_simd::{Level, dispatch};

use super::kernel::{Beside, Real, Slabs, give_way, resist, sweep};
use super::layout::{Layout, SIDE_BY_SIDE};
use crate::geometry::instructions::chosen;
use crate::progress::{Cancelled, Progress};

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
        // The last cells are gone through side by side with what lies behind them.
        let zeros = || (0..slabs).map(|_| RwLock::new(vec![T::default(); length * rows + SIDE_BY_SIDE])).collect();
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
                ports.iter().zip(values).for_each(|(port, value)| all[port.signal][moment] += *value);
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
        let slabs = Slabs { own: &own, behind: &behind, ahead: &ahead, row: self.layout.counts[0] };
        dispatch!(self.level, simd => sweep(simd, (plan, &self.layout.factors), &slabs, &mut out, &mut beside.kept));
        if !plan.fibers.is_empty() {
            dispatch!(self.level, simd => resist(simd, &plan.fibers, &slabs, &mut out, &mut beside.flows));
        }
        for port in driving.ports {
            if let Some(value) = driving.signals[port.signal].get(step) {
                out[port.cell] += port.weight * *value;
            }
        }
        if !plan.walls.cells.is_empty() {
            dispatch!(self.level, simd => give_way(simd, &plan.walls, (&own, &mut out), &mut beside.walls));
        }
        beside.heard.extend(heard.iter().map(|port| port.weight * out[port.cell]));
    }
}

/// Bytes that stay nearer to a processor than memory: a good part of what the caches that processors share hold.
const NEAR: usize = 2 << 20;
/// Steps in a group at most: more gained nothing where it was tried.
const MOST_TOGETHER: usize = 8;

fn read<T>(lock: &RwLock<Vec<T>>) -> std::sync::RwLockReadGuard<'_, Vec<T>> {
    lock.read().unwrap_or_else(PoisonError::into_inner)
}

fn write<T>(lock: &RwLock<Vec<T>>) -> std::sync::RwLockWriteGuard<'_, Vec<T>> {
    lock.write().unwrap_or_else(PoisonError::into_inner)
}

fn held<T>(lock: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}
