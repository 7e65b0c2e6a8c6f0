//! How far a long computation has come, and how to stop it, or to have it end with the best that it has.
//!
//! Workers count steps and learn of a cancel in the same call; whoever waits polls. Nothing here can change a result but [`Progress::enough`], where somebody asks for less.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

/// The computation was stopped by whoever asked for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("stopped before it was done")]
pub struct Cancelled;

#[derive(Debug, Default)]
struct Shared {
    cancelled: AtomicBool,
    /// There is something to end with.
    offers: AtomicBool,
    /// It is enough.
    enough: AtomicBool,
    done: AtomicU64,
    total: AtomicU64,
    stage: Mutex<&'static str>,
    /// What it is a part of.
    whole: Option<Progress>,
}

/// Shared counters and a cancel flag; clones speak of the same computation.
#[derive(Clone, Debug, Default)]
pub struct Progress(Arc<Shared>);

impl Progress {
    /// Fresh counters.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Counters of a part: what it counts is not seen in the whole, and whoever stops the whole stops it.
    #[must_use]
    pub fn part(&self) -> Self {
        Self(Arc::new(Shared { whole: Some(self.clone()), ..Shared::default() }))
    }

    /// Names the stage that begins and how many steps it has.
    pub fn begin(&self, stage: &'static str, total: u64) {
        if let Ok(mut name) = self.0.stage.lock() {
            *name = stage;
        }
        self.0.done.store(0, Ordering::Relaxed);
        self.0.total.store(total, Ordering::Relaxed);
    }

    /// Counts `steps` and tells whether to go on.
    ///
    /// # Errors
    /// [`Cancelled`] once [`Progress::cancel`] was called, for it or for what it is a part of.
    pub fn step(&self, steps: u64) -> Result<(), Cancelled> {
        self.0.done.fetch_add(steps, Ordering::Relaxed);
        if self.0.cancelled.load(Ordering::Relaxed) { Err(Cancelled) } else { self.0.whole.as_ref().map_or(Ok(()), |whole| whole.step(0)) }
    }

    /// Asks the workers to stop at their next step.
    pub fn cancel(&self) {
        self.0.cancelled.store(true, Ordering::Relaxed);
    }

    /// Says that from now on there is something that it can end with before it is done, or no longer.
    pub fn offer(&self, is_there: bool) {
        self.0.offers.store(is_there, Ordering::Relaxed);
        if let Some(whole) = &self.0.whole {
            whole.offer(is_there);
        }
    }

    /// Whether there is something to end with, and nobody asked for it yet.
    #[must_use]
    pub fn can_end(&self) -> bool {
        self.0.offers.load(Ordering::Relaxed) && !self.is_enough()
    }

    /// Asks the workers to end with the best that they have; `false` where there is nothing yet to end with, or no more to be had, and then nothing is asked.
    #[must_use]
    pub fn enough(&self) -> bool {
        let offers = self.0.offers.load(Ordering::Relaxed);
        if offers {
            self.0.enough.store(true, Ordering::Relaxed);
        }
        offers
    }

    /// Whether [`Progress::enough`] was asked of it or of what it is a part of.
    #[must_use]
    pub fn is_enough(&self) -> bool {
        self.0.enough.load(Ordering::Relaxed) || self.0.whole.as_ref().is_some_and(Self::is_enough)
    }

    /// Stage, steps done, steps in all.
    #[must_use]
    pub fn state(&self) -> (&'static str, u64, u64) {
        let stage = self.0.stage.lock().map_or("", |name| *name);
        (stage, self.0.done.load(Ordering::Relaxed), self.0.total.load(Ordering::Relaxed))
    }
}
