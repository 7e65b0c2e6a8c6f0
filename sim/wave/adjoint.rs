//! What fiber does to the way from a source to a seat before it is hung: first order, from two fields of the room without it.
//!
//! With `A p = -4 pi q` for the field of a source `q` and `G` that of the same source at the seat, both re free field at 1 m, a change `dA` of what the air does changes what the seat hears by
//!
//! ```text
//! dH = (1 / 4 pi) integral over the fiber of (K k^2 p G - grad p . T grad G) dV,   k^2 = -(s / c)^2
//! K = Phi C - 1,   r = ks / Phi + sigma / (rho0 s),   T = along: 1 / r - 1;   across: (1 - r) / (1 + (r - 1) (s d / c) (s b / c))
//! ```
//!
//! symbols as in `fiber`, `s` the complex frequency in 1/s, `d` the fiber's thickness. Compressibility acts on pressures, inertia and flow resistance on their gradients. Since `A` is symmetric (a source and a
//! seat are exchangeable, `spread`), `G` is one run, with the source at the seat: two fields, kept as their Fourier sums at the few cells that fiber may take, tell of every piece of fiber anywhere.
//!
//! **Across and along.** Where flow goes through a sheet it is the flow that is the same before and behind it, and the gradient in it is `r` times that of air; along it it is the gradient that is the same. Born's
//! approximation takes the gradient for all directions and so says of flow resistance of 12 kPa s/m2, where `r` is 20 to 50, that fiber stops all flow and takes nothing. The tensor `T` is that of a
//! thin sheet, exact to first order in its thickness.
//!
//! **Saturation.** Flow through a sheet of `sigma d` before a closed cavity that is `b` meters deep has, besides the sheet, to squeeze the air behind it: it is `1 / (1 + (r - 1) s^2 d b / c^2)` of what it was. At
//! low frequencies that is 1, where resistance is large against the cavity's stiffness fiber takes less the more it resists. `b = 0` leaves it out, which is first order in the fiber. With both, 8 places in the shipped
//! basement come in the order of fresh runs in 25 of 28 pairs and all signs are right (energies of all tones, cells of 0.1 m); with Born's approximation in 24, half of the signs wrong.
//!
//! **In cells.** What moves flow in a cell is the mean of the differences to its neighbors, each counted by how far the face between is open: walls cut cells, and the gradient along them is whole. A face in fiber that hangs
//! already lets flow through as far as that resists, `1 / (1 + sigma / (m rho0 s))` with the inertia `m`. In a duct both are exact to the second order in the cells (`tests/wave_adjoint.rs`): 0.7 % of what 0.1 m of
//! 12 kPa s/m2 changes up to 150 Hz in cells of 0.1 m, however the duct is turned; 12 % right behind as much that hangs. Differences times open shares were up to 20 % too small where walls cut cells, and taken for those
//! of free air beside what hangs they were too large by hundreds of times at 20 Hz. Of ten places in a small basement 42 of 45 pairs come in the order of fresh runs with both, 35 without.
//!
//! *References.* First-order (Born) approximation: P. M. Morse, K. U. Ingard, *Theoretical Acoustics*, chapter 8; sheets as small inclusions: H. Ammari, H. Kang, *Polarization and Moment Tensors* (2007);
//! adjoint fields: R.-E. Plessix, Geophys. J. Int. 167 (2006) 495 (all from memory). The cavity: our own.
//!
//! *Limits.* Fiber that changes a mode by more than its width is not small: it ranks, and what is kept must be run. 0.15 m of 20 kPa s/m2 flush in a corner of a small basement are told wrong by 68 % of what they change, of
//! 30 Pa s/m2 by 7 %, root mean squares over tones (`tests/bass_corners.rs`). Before a cavity of 0.24 m at the end of a duct of 8 m the complex frequencies of its first modes move as told within 3 to 6 %, before one of 0.44 m within 6 to 13 %:
//! a cavity is a spring here. Air within the fiber gives way as well, which is of second order: 0.1 m of fiber 0.1 m before a closed end take a fourth more than is told. Flow is that in the middle of a cell all over it: a sheet
//! much thinner than that, out of its middle, is told by it (20 mm 0.2 m before a closed end in cells of 0.1 m: a third too much). Where fiber hangs beside the place rather than before it, in one cell with it, it counts as
//! before it, as in `fiber`. Only fiber: a foil or board in a panel is not told.

use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::PI;

use glam::DVec3;
use num_complex::Complex64;

use super::cells::Cells;
use super::fiber::{Fiber, Fill};
use super::record::Record;
use super::sounding::Hearing;
use super::stencil::Stencil;
use crate::air::Medium;

/// A field at some cells as Fourier sums.
#[derive(Clone, Debug)]
pub struct Tones {
    values: BTreeMap<usize, Vec<Complex64>>,
}

impl Tones {
    /// What these cells heard of a source, in their order from the place `first` of the hearing on, at complex frequencies in 1/s.
    #[must_use]
    pub fn new(heard: &Hearing, (cells, first): (&[usize], usize), tones: &[Complex64]) -> Self {
        let of = |(cell, values): (&usize, &Vec<f32>)| {
            (*cell, Record::new(&heard.pulse, heard.pulse.every(), values).transfers(&heard.pulse, tones))
        };
        Self { values: cells.iter().zip(&heard.places[first..]).map(of).collect() }
    }

    fn at(&self, cell: usize, tone: usize) -> Complex64 {
        self.values[&cell][tone]
    }

    /// What moves flow along x, y and z in the air of a cell, as a difference of pressure over a cell: through faces in what hangs already flows as much less as that resists.
    fn gradient(&self, part: &Part, (tone, s): (usize, Complex64)) -> [Complex64; 3] {
        let own = self.at(part.cell, tone);
        let to = |face: &Face| {
            if face.open > 0.0 { (self.at(face.cell, tone) - own) * face.open / (1.0 + face.drag / s) } else { Complex64::ZERO }
        };
        [0, 1, 2].map(|axis| {
            let [before, after] = [&part.round[2 * axis], &part.round[2 * axis + 1]];
            let mean = 0.5 * (before.open + after.open);
            // Flow ends at a closed face, unless there is less air in the cell than up to it.
            let whole = if before.open > 0.0 && after.open > 0.0 { mean } else { part.air.max(mean) };
            0.5 * (to(after) - to(before)) / whole
        })
    }
}

/// A sheet of fiber as flow meets it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// Across it.
    pub normal: DVec3,
    /// Its thickness, meters.
    pub thickness: f64,
    /// Depth of the closed cavity behind it, as volume per area, meters; 0: none.
    pub behind: f64,
}

/// What of a cell is fiber.
#[derive(Clone, Copy, Debug)]
struct Part {
    cell: usize,
    /// Volume, in cells.
    share: f64,
    /// Share of it that is air.
    air: f64,
    /// Faces before and after along each axis.
    round: [Face; 6],
}

/// A face of a cell as flow meets it before the exchange.
#[derive(Clone, Copy, Debug)]
struct Face {
    /// The cell beyond.
    cell: usize,
    /// Its open share, no more than 1, over the inertia of what hangs in it.
    open: f64,
    /// Resistance of that over its inertia, 1/s.
    drag: f64,
}

/// Faces of a cell. What a step has taken off an open face in fiber (`Stencil::filled`) is put back: it hangs on how long a step is.
fn faces(stencil: &Stencil, cell: usize, strides: [usize; 3]) -> [Face; 6] {
    let mut side = 0;
    stencil.neighbors(cell, strides).map(|(beyond, open)| {
        let axis = side / 2;
        let behind = if side % 2 == 0 { cell } else { beyond };
        side += 1;
        let found = stencil.drags.binary_search_by_key(&(behind, axis), |drag| (drag.cell, drag.axis));
        let share = found.map_or(0.0, |found| stencil.drags[found].share);
        let r = share / (2.0 - share);
        Face { cell: beyond, open: (open * (1.0 + r)).min(1.0), drag: 2.0 * r / stencil.step }
    })
}

/// Air that is exchanged for a piece of fiber.
#[derive(Clone, Debug)]
pub struct Exchange {
    parts: Vec<Part>,
    fiber: Fiber,
    sheet: Sheet,
    spacing: f64,
    medium: Medium,
}

impl Exchange {
    /// In a room of these cells, what hangs already in its stencil.
    #[must_use]
    pub fn new(cells: &Cells, stencil: &Stencil, medium: &Medium, fiber: &Fiber, sheet: Sheet) -> Self {
        let whole = fiber.porosity * fiber.compressibility - 1.0;
        let fill = Fill::new(cells, stencil, std::slice::from_ref(fiber));
        let strides = cells.grid.strides();
        let part =
            |(cell, more): (usize, &f64)| Part { cell, share: more / whole, air: cells.air[cell], round: faces(stencil, cell, strides) };
        let filled = fill.compressibility.iter().enumerate().filter(|(cell, more)| **more != 0.0 && stencil.mass[*cell] > 0.0);
        Self { parts: filled.map(part).collect(), fiber: fiber.clone(), sheet, spacing: cells.grid.spacing, medium: *medium }
    }

    /// Cells whose pressures it is told by.
    #[must_use]
    pub fn cells(&self) -> BTreeSet<usize> {
        let round = self.parts.iter().flat_map(|part| part.round).filter(|face| face.open > 0.0).map(|face| face.cell);
        self.parts.iter().map(|part| part.cell).chain(round).collect()
    }

    /// Change of what the seat hears of the source, re free field at 1 m, from the fields of both: at tone number `tone`, which is `s`, 1/s.
    #[must_use]
    pub fn change(&self, (source, seat): (&Tones, &Tones), (tone, s): (usize, Complex64)) -> Complex64 {
        let Self { fiber, sheet, spacing, medium, .. } = self;
        let heavier = fiber.tortuosity / fiber.porosity + fiber.flow_resistivity / (medium.density * s);
        let (thickness, behind) = (s * sheet.thickness / medium.speed, s * sheet.behind / medium.speed);
        let across = (1.0 - heavier) / (1.0 + (heavier - 1.0) * thickness * behind);
        let along = heavier.inv() - 1.0;
        let squeezed = -(s * spacing / medium.speed).powi(2) * (fiber.porosity * fiber.compressibility - 1.0);
        let of = |part: &Part| {
            let (one, other) = (source.gradient(part, (tone, s)), seat.gradient(part, (tone, s)));
            let through = |gradient: &[Complex64; 3]| -> Complex64 {
                gradient.iter().zip(sheet.normal.to_array()).map(|(value, normal)| value * normal).sum()
            };
            let product = through(&one) * through(&other);
            let all: Complex64 = one.iter().zip(&other).map(|(one, other)| one * other).sum();
            let pressures = source.at(part.cell, tone) * seat.at(part.cell, tone);
            (squeezed * pressures - across * product - along * (all - product)) * part.share
        };
        self.parts.iter().map(of).sum::<Complex64>() * *spacing / (4.0 * PI)
    }
}
