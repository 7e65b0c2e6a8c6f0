//! Where along the frequencies cells have what air has: their waves are a little slow, and what all of them are slow by is put right when records are read.
//!
//! With `c dt / h = l` a plane wave of the frequency `w` and the direction `n` in air is in cells one of
//!
//! ```text
//! w' = w (1 - (w h / c)^2 (sum of n_i^4 - l^2) / 24),   sum of n_i^4: 1 along an axis, 1/3 along a space diagonal, 3/5 as the mean over all directions
//! ```
//!
//! so what a room does at `w` is read at `w' = w (1 - D (w h / c)^2)`, `D = (3/5 - l^2) / 24`; at a complex frequency `s` the same, `s' = s (1 + D (s h / c)^2)`. What is left is
//! `(w h / c)^2 / 60` along an axis, slow, and `(w h / c)^2 / 90` along a space diagonal, fast: half of what there was, and nothing on the mean.
//!
//! *References.* Dispersion of leapfrog: text books of finite differences. Time dispersion taken out of records after the run: C. Stork, EAGE workshop (2013); E. F. M. Koene and others, Geophys. J. Int.
//! 213 (2018) 770 (from memory); here with space's mean beside it.
//!
//! *Limits.* Second order in the cells: the next is `(w h / c)^4 / 500`, 1e-5 at 20 cells in a wave. Walls are those of `w'`, a thousandth lower.

use num_complex::Complex64;

use super::stencil::COURANT;

/// `D` above.
const MEAN: f64 = (3.0 / 5.0 - COURANT * COURANT) / 24.0;
/// What is left of `(w h / c)^2` along an axis.
const LEFT: f64 = (1.0 - 3.0 / 5.0) / 24.0;

/// Where cells that take steps of so many seconds have what air has at a complex frequency `s`, 1/s.
#[must_use]
pub fn in_cells(s: Complex64, step: f64) -> Complex64 {
    s * (1.0 + MEAN * (s * (step / COURANT)).powi(2))
}

/// The frequency of air, of which cells have this one, both in Hz.
#[must_use]
pub fn in_air(frequency: f64, step: f64) -> f64 {
    let slow = |air: f64| 1.0 - MEAN * (std::f64::consts::TAU * air * step / COURANT).powi(2);
    // Each time a thousandth of what it was off before.
    (0..4).fold(frequency, |air, _| frequency / slow(air))
}

/// By what share of their frequency waves along an axis are told too low, where `w h / c` is this.
#[must_use]
pub fn left(turn: f64) -> f64 {
    LEFT * turn * turn
}
