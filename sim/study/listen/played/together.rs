//! How loud several states are in turns, with gains that are known only when all of it was heard: a meter for as many parts.
//!
//! *Limits.* Two states at the least and [`VERSIONS_MOST`] at most.

use std::fmt::Debug;

use crate::listen::loudness::{LoudnessError, Meter, Metered};
use crate::study::compare::VERSIONS_MOST;

/// What a meter of several parts has heard.
pub(super) trait Together: Debug + Send + Sync {
    /// Loudness in LKFS of all parts, each by its gain in dB.
    fn loudness_db(&self, gains_db: &[f64]) -> Result<f64, LoudnessError>;
}

impl<const PARTS: usize> Together for Metered<PARTS> {
    fn loudness_db(&self, gains_db: &[f64]) -> Result<f64, LoudnessError> {
        self.loudness_db(<[f64; PARTS]>::try_from(gains_db).ok().ok_or(LoudnessError::Shape)?)
    }
}

/// A meter of as many parts as there are states.
pub(super) struct Meters(Box<dyn Hearing>);

/// A meter at work.
trait Hearing {
    fn push(&mut self, parts: &[&[Vec<f32>]]) -> Result<(), LoudnessError>;
    fn finish(self: Box<Self>) -> Result<Box<dyn Together>, LoudnessError>;
}

impl<const PARTS: usize> Hearing for Meter<PARTS> {
    fn push(&mut self, parts: &[&[Vec<f32>]]) -> Result<(), LoudnessError> {
        self.push(<[&[Vec<f32>]; PARTS]>::try_from(parts).ok().ok_or(LoudnessError::Shape)?)
    }

    fn finish(self: Box<Self>) -> Result<Box<dyn Together>, LoudnessError> {
        Ok(Box::new((*self).finish()?))
    }
}

impl Meters {
    /// For so many states, with as many channels at a rate in samples a second.
    pub(super) fn new(states: usize, (rate, channels): (u32, usize)) -> Result<Self, LoudnessError> {
        const _: () = assert!(VERSIONS_MOST == 6);
        Ok(Self(match states {
            2 => Box::new(Meter::<2>::new(rate, channels)?),
            3 => Box::new(Meter::<3>::new(rate, channels)?),
            4 => Box::new(Meter::<4>::new(rate, channels)?),
            5 => Box::new(Meter::<5>::new(rate, channels)?),
            6 => Box::new(Meter::<6>::new(rate, channels)?),
            _ => return Err(LoudnessError::Shape),
        }))
    }

    /// Takes in a piece of each state.
    pub(super) fn push(&mut self, parts: &[&[Vec<f32>]]) -> Result<(), LoudnessError> {
        self.0.push(parts)
    }

    /// What was heard.
    pub(super) fn finish(self) -> Result<Box<dyn Together>, LoudnessError> {
        self.0.finish()
    }
}
