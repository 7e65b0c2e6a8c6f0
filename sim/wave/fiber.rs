//! Fiber as a volume: what an absorber of any depth, in any place, does to the flow through it and to the air in it.
//!
//! A frame that stands still holds air that is heavier to move, meets resistance and keeps one temperature. With `Phi` porosity, `ks` tortuosity, `sigma` flow resistivity, velocity `u` per
//! whole area and `rho0` the density of air:
//!
//! ```text
//! (ks rho0 / Phi) u' + sigma u = -grad p          (Phi C) p' = -div u
//! ```
//!
//! with compressibility `C = 1 / P0`, isothermal: `gamma` times that of free air. Below 1 kHz this follows the fits for fiber within 0.05 of absorption (50 mm of 20 kPa s/m2, normal
//! incidence, 63 to 500 Hz: 0.020 0.074 0.246 0.585 beside Miki's 0.025 0.085 0.262 0.621); an adiabatic `C` would give half of it at the lowest octaves.
//!
//! On the grid a cell holds the compressibility of the fiber in it, and a face between two cells has the inertia and resistance of the fiber nearer to it than to other faces. Shares are
//! cut exactly (`cells`), so a panel need not lie along the grid, nor fill a cell. Before a wall the flow grows with the distance `x` from it, and with it what fiber takes, by its square:
//! so fiber at `x` counts `(x / x_face)^2` times. That is what makes a panel as thick as one cell right: it takes `sigma d / 3`, where the flow at its front alone would say `sigma d / 2`.
//!
//! *References.* C. Zwikker and C. W. Kosten, Sound Absorbing Materials (1949) (from memory). Y. Miki, J. Acoust. Soc. Jpn (E) 11 (1990) 19.
//!
//! *Limits.* Fiber that does not move along: mats lighter than some 20 kg/m3 do below 100 Hz. One resistivity in all directions. Where fiber fills a part of what lies between two
//! middles side by side, not one after the other, it resists as if one after the other: across the thickness of a panel that is right.

use glam::DVec3;

use super::cells::{Cells, share};
use super::grid::Grid;
use super::stencil::Stencil;

/// Ratio of the specific heats of air (two-atomic gas).
pub const HEATS: f64 = 1.4;

/// A convex piece of fiber.
#[derive(Clone, Debug, PartialEq)]
pub struct Fiber {
    /// Outward unit normal and offset in meters of each face; inside is where `normal . point < offset` for all.
    pub faces: Vec<(DVec3, f64)>,
    /// Flow resistivity, Pa s/m2.
    pub flow_resistivity: f64,
    /// Share of it that is air.
    pub porosity: f64,
    /// By how much longer ways through it are, squared.
    pub tortuosity: f64,
    /// Compressibility of the air in it re free air: [`HEATS`] where it keeps its temperature, 1 where it keeps its heat.
    pub compressibility: f64,
}

impl Fiber {
    /// Mineral fiber as absorbers are made of: nearly all air, its ways straight.
    #[must_use]
    pub fn new(faces: Vec<(DVec3, f64)>, flow_resistivity: f64) -> Self {
        Self { faces, flow_resistivity, porosity: 0.98, tortuosity: 1.0, compressibility: HEATS }
    }

    /// Flat faces with their outward normals, corners in order.
    fn polygons(&self) -> Vec<(Vec<DVec3>, DVec3)> {
        let polygon = |(normal, offset): &(DVec3, f64)| {
            let (right, up) = normal.any_orthonormal_pair();
            // Larger than any room; what others cut away is cut away.
            let wide = [(-FAR, -FAR), (FAR, -FAR), (FAR, FAR), (-FAR, FAR)].map(|(x, y)| *normal * *offset + right * x + up * y);
            let others = self.faces.iter().filter(|(other, _)| other != normal);
            let corners =
                others.fold(wide.to_vec(), |corners, (normal, offset)| super::cells::clip(&corners, |at| offset - normal.dot(*at)));
            (corners, *normal)
        };
        self.faces.iter().map(polygon).filter(|(corners, _)| corners.len() >= 3).collect()
    }
}

/// Half the side of a square that no room is as large as, meters.
const FAR: f64 = 1e3;

/// What fiber does to the cells of a grid and to the faces between them.
#[derive(Clone, Debug, PartialEq)]
pub struct Fill {
    /// What it adds to the compressibility of each cell, in cells of free air.
    pub compressibility: Vec<f64>,
    /// What it adds to the inertia of the face between each cell and the one before it along x, y and z, re that of free air.
    pub inertia: [Vec<f64>; 3],
    /// Flow resistivity between the middles of these cells, Pa s/m2.
    pub resistivity: [Vec<f64>; 3],
}

/// Parts of a cell along each axis in which fiber is counted.
const PARTS: usize = 4;
/// Cells along an axis within which a wall is looked for: from there on flow is the same all over a cell.
const NEAR: usize = 6;

impl Fill {
    /// Of pieces of fiber that do not overlap, in cells with the masses and open faces of a stencil.
    #[must_use]
    pub fn new(cells: &Cells, stencil: &Stencil, fibers: &[Fiber]) -> Self {
        let none = || vec![0.0; cells.grid.len()];
        let three = || [none(), none(), none()];
        let mut fill = Self { compressibility: none(), inertia: three(), resistivity: three() };
        fibers.iter().for_each(|fiber| fill.add(cells, stencil, fiber));
        fill
    }

    fn add(&mut self, cells: &Cells, stencil: &Stencil, fiber: &Fiber) {
        let faces = fiber.polygons();
        let corners = || faces.iter().flat_map(|(corners, _)| corners);
        let (low, high) = corners().fold((DVec3::INFINITY, DVec3::NEG_INFINITY), |(low, high), at| (low.min(*at), high.max(*at)));
        let spacing = cells.grid.spacing;
        // Parts of cells round the piece alone, their borders those of the grid.
        let first = ((low - cells.grid.origin) / spacing).floor() - 1.0;
        let counts = ((high - cells.grid.origin) / spacing - first).ceil() + 1.0;
        let parts = Grid {
            spacing: spacing / PARTS as f64,
            origin: cells.grid.origin + first * spacing,
            counts: counts.to_array().map(|count| count as usize * PARTS),
        };
        for (part, share) in share(&parts, &faces) {
            let (at, share) = (parts.middle(part), share / (PARTS * PARTS * PARTS) as f64);
            let Some(cell) = cells.grid.cell_at(at).filter(|cell| cells.air[*cell] > 0.0) else { continue };
            self.compressibility[cell] += share * (fiber.porosity * fiber.compressibility - 1.0);
            for axis in 0..3 {
                if let Some((face, weight)) = face_of(&cells.grid, stencil, (cell, at[axis]), axis) {
                    self.inertia[axis][face] += share * weight * (fiber.tortuosity / fiber.porosity - 1.0);
                    self.resistivity[axis][face] += share * weight * fiber.flow_resistivity;
                }
            }
        }
    }
}

/// The open face across an axis that is nearest to a place in a cell, and how many times fiber there counts for it: the more, the less the face is open; `None` where all are closed.
fn face_of(grid: &Grid, stencil: &Stencil, (cell, at): (usize, f64), axis: usize) -> Option<(usize, f64)> {
    let stride = grid.strides()[axis];
    let low = grid.origin[axis] + grid.spacing * grid.place(cell)[axis] as f64;
    let is_open = |face: usize| stencil.open[axis][face] > 0.0;
    let is_above = at > low + 0.5 * grid.spacing;
    let (face, place) = match (is_open(cell), is_open(cell + stride)) {
        (false, false) => return None,
        (true, false) => (cell, low),
        (true, true) if !is_above => (cell, low),
        (_, true) => (cell + stride, low + grid.spacing),
    };
    // How far air reaches from the face to the wall before it, and behind it, were it as wide as the face is open: that air goes through it, lent masses too.
    let mut reaches = [0.0; 2];
    for (side, reach) in reaches.iter_mut().enumerate() {
        let step = |away: usize| if side == 0 { face - (away + 1) * stride } else { face + away * stride };
        for away in 0..NEAR {
            *reach += grid.spacing * stencil.mass[step(away)] / stencil.open[axis][face];
            let border = if side == 0 { step(away) } else { step(away) + stride };
            if !is_open(border) {
                break;
            }
            if away + 1 == NEAR {
                *reach = f64::INFINITY;
            }
        }
    }
    let [before, behind] = reaches;
    let (wall, reach) = if before <= behind { (place - before, before) } else { (place + behind, behind) };
    let part = grid.spacing / PARTS as f64;
    let weight = if reach.is_finite() { ((at - wall).powi(2) + part * part / 12.0) / (reach * reach) } else { 1.0 };
    Some((face, weight / stencil.open[axis][face]))
}
