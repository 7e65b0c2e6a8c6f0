//! Whether a room's surfaces close. Cells are cut by sums over oriented surfaces (`cells`): where one is missing they are no air but a wrong number, and nothing in them would tell.
//!
//! With area vectors `a` into the air and their middles `c`:
//!
//! ```text
//! along every line        sum of a = 0
//! along every axis        V = - sum of a c
//! ```
//!
//! The first sees every hole that no other one faces; what is missing there is `A = - sum of a`, and its middle lies at `(- sum of a c - V) / A`. The second sees holes that face each other, since
//! `V` is known from how the room was drawn.
//!
//! A checked scene has no leak: `room::build` makes walls that follow the ceiling's envelope, and bodies with all of their faces; nor has a mesh, whose own leaks are told before it is a room
//! (`mesh::close`). This is the last witness, for whatever else makes a room.
//!
//! *References.* The divergence theorem.
//!
//! *Limits.* Holes that face each other, alike along every axis, and take as much away as they add are not seen; of several holes one place is told.

use glam::DVec3;
use thiserror::Error;

use super::cells::{cut, sheets};
use super::grid::Grid;
use crate::room::Room;

/// Lines are looked at in bundles this wide, meters: sums are exact whatever it is, and it is how well the extent of a hole is told.
const BUNDLE: f64 = 0.1;
/// More than this of a bundle is open where it leaks; volumes differ by more than this of the room's: far above rounding, and 1 mm2 of a bundle.
const OPEN: f64 = 1e-4;

/// The surfaces of a room do not close.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum Leak {
    /// Something is missing.
    #[error(
        "the room's surfaces do not close: {area:.3} m2 are open round ({:.2}, {:.2}, {:.2}) m, {:.1} by {:.1} by {:.1} m in extent. A hole makes every volume wrong, so nothing is run, at any cost: draw the surface that is missing there",
        middle.x, middle.y, middle.z, extent.x, extent.y, extent.z
    )]
    Hole {
        /// How large it is, m2.
        area: f64,
        /// Its middle, meters.
        middle: DVec3,
        /// How far it reaches along x, y and z, meters, within a tenth of a meter.
        extent: DVec3,
    },
    /// What is missing faces something else that is missing.
    #[error(
        "the room's surfaces do not close: it holds {found:.2} m3 seen along {axis} and {volume:.2} m3 as it is drawn. Surfaces that face each other along {axis} are missing, so nothing is run, at any cost: draw them"
    )]
    Facing {
        /// The axis.
        axis: char,
        /// Volume by what looks along it, m3.
        found: f64,
        /// Volume of the room, m3.
        volume: f64,
    },
}

/// A bundle of lines along an axis: its middle, and what of its width is open to one side.
struct Bundle {
    middle: DVec3,
    open: f64,
}

/// Whether a room closes.
///
/// # Errors
/// [`Leak`] where it does not.
pub fn closed(room: &Room) -> Result<(), Leak> {
    let grid = Grid::over(room, BUNDLE);
    let pieces: Vec<_> = sheets(room).iter().flat_map(|sheet| cut(&grid, sheet)).collect();
    let bundles = [0, 1, 2].map(|axis| leaking(&grid, axis, pieces.iter().map(|piece| (piece.cell, piece.vector[axis]))));
    let side = grid.spacing * grid.spacing;
    let volume = |axis: usize| -pieces.iter().map(|piece| piece.vector[axis] * piece.middle[axis]).sum::<f64>() * side * grid.spacing;
    if bundles.iter().any(|bundles| !bundles.is_empty()) {
        return Err(hole(room, &grid, &bundles, &volume));
    }
    let off = |axis: &usize| (volume(*axis) - room.volume).abs() > OPEN * room.volume;
    let facing = (0..3).find(off).map(|axis| Leak::Facing { axis: ['x', 'y', 'z'][axis], found: volume(axis), volume: room.volume });
    facing.map_or(Ok(()), Err)
}

/// Bundles along an axis whose pieces, by cell, do not sum to nothing.
fn leaking(grid: &Grid, axis: usize, pieces: impl Iterator<Item = (usize, f64)>) -> Vec<Bundle> {
    let mut sums = vec![0.0; grid.len()];
    for (cell, passed) in pieces {
        // The first cell of its row stands for all of it.
        sums[cell - grid.place(cell)[axis] * grid.strides()[axis]] += passed;
    }
    let open = sums.into_iter().enumerate().filter(|(_, sum)| sum.abs() > OPEN);
    open.map(|(cell, sum)| Bundle { middle: grid.middle(cell), open: -sum }).collect()
}

/// What is missing where bundles are open; `volume` is that by what looks along an axis, from the grid's origin on.
fn hole(room: &Room, grid: &Grid, bundles: &[Vec<Bundle>; 3], volume: &dyn Fn(usize) -> f64) -> Leak {
    let side = grid.spacing * grid.spacing;
    let areas = DVec3::from_array([0, 1, 2].map(|axis: usize| side * bundles[axis].iter().map(|bundle| bundle.open.abs()).sum::<f64>()));
    let (mut middle, mut extent) = (DVec3::ZERO, DVec3::ZERO);
    for axis in 0..3 {
        let across = bundles.iter().enumerate().filter(|(other, _)| *other != axis).flat_map(|(_, bundles)| bundles);
        let (low, high) = across
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), bundle| (low.min(bundle.middle[axis]), high.max(bundle.middle[axis])));
        let missing = side * bundles[axis].iter().map(|bundle| bundle.open).sum::<f64>();
        if low <= high {
            extent[axis] = high - low + grid.spacing;
            middle[axis] = 0.5 * (low + high);
        }
        // Much of it looks along the axis: it lies where it makes the volume right.
        if missing.abs() > 0.1 * areas.length() {
            middle[axis] = grid.origin[axis] + (volume(axis) - room.volume) / missing;
        }
    }
    Leak::Hole { area: areas.length(), middle, extent }
}
