//! Places all over the room that are listened to at once, so that one run tells the pressure everywhere.
//!
//! Every so many cells along each axis, as far from the walls on one side as on the other. The field between them follows from `spread`, through those places that a point sees.
//!
//! | places a wavelength | error within the lattice | within one distance of a wall |
//! | --- | --- | --- |
//! | 5.5 | 3.2 % of the pressure | 6.8 % |
//! | 6.9 | 1.2 % | 2.7 % |
//! | 9.1 | 0.2 % | 1.4 % |
//!
//! Measured in a box, root mean square over 100 places and all directions (`tests/wave_response.rs`). Nearer to the source than four distances its own field bends too sharply: 15 % at one distance, 6 % at two.
//!
//! *References.* As in `spread`.
//!
//! *Limits.* Places take `places x moments x 4` bytes, and as much again while a run hands them over.

use glam::DVec3;

use super::grid::Grid;
use super::kernel::Real;
use super::layout::Layout;
use super::spread::{NoAir, REACH, cell_of, sees, weights};
use super::stencil::Stencil;
use super::step::Port;

/// Places of a room.
#[derive(Clone, Debug, PartialEq)]
pub struct Lattice {
    /// Cells from one place to the next.
    pub every: usize,
    /// First place, in cells of the grid.
    pub first: [usize; 3],
    /// How many along x, y and z, in air or not.
    pub counts: [usize; 3],
    /// Cells of the places in air: rows along x first, then along y.
    pub cells: Vec<usize>,
}

impl Lattice {
    /// Places at most `apart` meters from one to the next.
    #[must_use]
    pub fn new(grid: &Grid, stencil: &Stencil, apart: f64) -> Self {
        let every = ((apart / grid.spacing + 1e-9).floor() as usize).max(1);
        let counts = grid.counts.map(|count| (count - 3) / every + 1);
        let first = [0, 1, 2].map(|axis| 1 + (grid.counts[axis] - 3 - (counts[axis] - 1) * every) / 2);
        let place = |index: usize| [index % counts[0], index / counts[0] % counts[1], index / (counts[0] * counts[1])];
        let cell = |index: usize| {
            let at = place(index);
            grid.index([0, 1, 2].map(|axis| first[axis] + every * at[axis]))
        };
        let cells = (0..counts.iter().product()).map(cell).filter(|cell| stencil.mass[*cell] > 0.0).collect();
        Self { every, first, counts, cells }
    }

    /// Ports by which place `i` is heard as signal `i`.
    #[must_use]
    pub fn ports<T: Real>(&self, grid: &Grid, layout: &Layout<T>) -> Vec<Port<T>> {
        ports(&self.cells, grid, layout).collect()
    }

    /// Where place `i` lies, meters.
    #[must_use]
    pub fn point(&self, grid: &Grid, place: usize) -> DVec3 {
        grid.middle(self.cells[place])
    }

    /// Places and weights that the pressure at a point is put together by.
    ///
    /// # Errors
    /// [`NoAir`] if the point does not lie in air, or sees no place.
    pub fn round(&self, grid: &Grid, stencil: &Stencil, point: DVec3) -> Result<Vec<(usize, f64)>, NoAir> {
        cell_of(grid, stencil, point)?;
        let apart = self.every as f64 * grid.spacing;
        let relative = |place: usize| (self.point(grid, place) - point) / apart;
        let near = |place: &usize| relative(*place).abs().max_element() < REACH as f64;
        let seen: Vec<usize> =
            (0..self.cells.len()).filter(|place| near(place) && sees(grid, stencil, point, self.cells[*place])).collect();
        let found = weights(&seen.iter().map(|place| relative(*place)).collect::<Vec<_>>());
        let found: Vec<(usize, f64)> = seen.into_iter().zip(found).filter(|(_, weight)| *weight != 0.0).collect();
        if found.is_empty() { Err(NoAir(point)) } else { Ok(found) }
    }

    /// Bytes of all its records over so many moments in `f32`.
    #[must_use]
    pub fn bytes(&self, moments: usize) -> u64 {
        bytes(self.cells.len(), moments)
    }
}

/// Ports by which cell `i` of these is heard as signal `i`.
pub(super) fn ports<T: Real>(cells: &[usize], grid: &Grid, layout: &Layout<T>) -> impl Iterator<Item = Port<T>> {
    cells.iter().enumerate().map(|(signal, index)| {
        let (slab, cell) = layout.place(grid, *index);
        Port { slab, cell, weight: T::of(1.0), signal }
    })
}

/// Places in so many m3 of air, `apart` meters from one to the next: before there is a grid.
#[must_use]
pub fn places(volume: f64, apart: f64) -> usize {
    (volume / apart.powi(3)).ceil() as usize
}

/// Bytes of the records of so many places over so many moments in `f32`.
#[must_use]
pub fn bytes(places: usize, moments: usize) -> u64 {
    places as u64 * moments as u64 * size_of::<f32>() as u64
}
