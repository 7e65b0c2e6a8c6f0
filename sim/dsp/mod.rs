//! Signals: WAV bytes to samples and back, convolution.
//!
//! Samples are `f32` with full scale 1; what full scale means in pascals, whoever makes a signal says in words (`wav::Broadcast`).

pub mod convolve;
pub mod wav;
