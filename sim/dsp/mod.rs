//! Sound as samples: WAV files, fast convolution, filters for the bands that standards name, and the test signal with what comes back of it.
//!
//! - `wav`: bytes of files to samples and back, whole or in pieces; samples are `f32` with full scale 1, and what full scale means in pascals whoever makes a signal says in words (`wav::Broadcast`);
//! - `convolve`: fast convolution, live and whole;
//! - `filter`: octaves and third octaves, forward or backward in time;
//! - `transform`: real Fourier transforms of any length;
//! - `resample`: another clock, another rate, whole or in pieces;
//! - `sweep`: the exponential sweep, as a signal and as what undoes it;
//! - `recorded`: impulse responses, clock and distortion out of a recording of a sweep.

pub mod convolve;
pub mod filter;
pub mod recorded;
pub mod resample;
pub mod sweep;
pub mod transform;
pub mod wav;
