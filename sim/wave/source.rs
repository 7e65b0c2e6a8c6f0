//! A point that sounds, calibrated by its free field, and a point that hears.
//!
//! A point source of `p'' / c^2 - lap p = S(t) delta(x - x0)` has the free field `S(t - r / c) / (4 pi r)`, so for the free-field pressure `u(t)` at 1 m (from there on later by 1 m of way)
//! `S = 4 pi u`. A step with lengths in cells is `M (p+ - 2 p + p-) = l^2 sum(...) + (l^2 / h) S w - l area (w+ - w-)`: cell `i` with weight `w_i` (`spread`) gets
//!
//! ```text
//! (l^2 / h) 4 pi u w_i / (M_i (1 + d_i)),   d_i = sum over its walls of l area b / (2 M_i)
//! ```
//!
//! `d` because walls take half of what they take from the new pressure. A signal's value `n` acts at `n` steps; a listener's value `m` is the pressure at `(m + 1) every` steps.
//!
//! *References.* P. M. Morse, K. U. Ingard, *Theoretical Acoustics*, chapter 7 (from memory).
//!
//! *Limits.* Sends alike in all directions. Cells weaken and strengthen waves of its own field by terms of the order `(k h)^2`: averaged over directions a spherical wave is too strong by
//! `(k h)^2 / 10`, 0.05 dB where `k h` is 0.23.

use std::f64::consts::PI;

use glam::DVec3;

use super::grid::Grid;
use super::kernel::Real;
use super::layout::Layout;
use super::spread::{NoAir, cells_round};
use super::stencil::{COURANT, Stencil};
use super::step::Port;

/// Ports by which signal number `signal`, the free-field pressure at 1 m step by step, sounds from a point.
///
/// # Errors
/// [`NoAir`] if the point does not lie in air.
pub fn source<T: Real>(grid: &Grid, layout: &Layout<T>, stencil: &Stencil, point: DVec3, signal: usize) -> Result<Vec<Port<T>>, NoAir> {
    let whole = COURANT * COURANT / grid.spacing * 4.0 * PI;
    let weight = |cell: usize, share: f64| whole * share / (stencil.mass[cell] * (1.0 + stencil.damping(cell, |_| true)));
    Ok(ports(grid, layout, &cells_round(grid, stencil, point)?, signal, weight))
}

/// Ports by which the pressure at a point is heard as signal number `signal`.
///
/// # Errors
/// [`NoAir`] if the point does not lie in air.
pub fn listener<T: Real>(grid: &Grid, layout: &Layout<T>, stencil: &Stencil, point: DVec3, signal: usize) -> Result<Vec<Port<T>>, NoAir> {
    Ok(ports(grid, layout, &cells_round(grid, stencil, point)?, signal, |_, share| share))
}

fn ports<T: Real>(
    grid: &Grid,
    layout: &Layout<T>,
    shares: &[(usize, f64)],
    signal: usize,
    weight: impl Fn(usize, f64) -> f64,
) -> Vec<Port<T>> {
    let port = |(index, share): &(usize, f64)| {
        let (slab, cell) = layout.place(grid, *index);
        Port { slab, cell, weight: T::of(weight(*index, *share)), signal }
    };
    shares.iter().map(port).collect()
}
