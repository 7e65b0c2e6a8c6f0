//! How far a long computation has come, and how to stop it.
//!
//! Workers count steps and learn of a cancel in the same call; whoever waits polls. Nothing here can change a result.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

/// The computation was stopped by whoever asked for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("stopped before it was done")]
pub struct Cancelled;

#[derive(Debug, Default)]
struct Shared {
    cancelled: AtomicBool,
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

    /// Stage, steps done, steps in all.
    #[must_use]
    pub fn state(&self) -> (&'static str, u64, u64) {
        let stage = self.0.stage.lock().map_or("", |name| *name);
        (stage, self.0.done.load(Ordering::Relaxed), self.0.total.load(Ordering::Relaxed))
    }
}
