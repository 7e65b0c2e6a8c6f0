//! Sound as samples: filters for the bands that standards name, and the test signal with what comes back of it.
//!
//! - `filter`: octaves and third octaves, forward or backward in time;
//! - `transform`: real Fourier transforms of any length;
//! - `resample`: another clock;
//! - `sweep`: the exponential sweep, as a signal and as what undoes it;
//! - `recorded`: impulse responses, clock and distortion out of a recording of a sweep.

pub mod filter;
pub mod recorded;
pub mod resample;
pub mod sweep;
pub mod transform;
