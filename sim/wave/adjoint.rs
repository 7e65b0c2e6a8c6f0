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
//! *References.* First-order (Born) approximation: P. M. Morse, K. U. Ingard, *Theoretical Acoustics*, chapter 8; sheets as small inclusions: H. Ammari, H. Kang, *Polarization and Moment Tensors* (2007);
//! adjoint fields: R.-E. Plessix, Geophys. J. Int. 167 (2006) 495 (all from memory). The cavity: our own.
//!
//! *Limits.* Fiber that changes a mode by more than its width is not small: it ranks, and what is kept must be run. Gradients are means over a cell of the differences to its neighbors, some percent off in fiber thinner than a cell.
//! Only fiber: a foil or board in a panel is not told.

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

    /// Differences along x, y and z over a cell.
    fn gradient(&self, part: &Part, tone: usize) -> [Complex64; 3] {
        let own = self.at(part.cell, tone);
        let to = |(cell, open): (usize, f64)| if open > 0.0 { (self.at(cell, tone) - own) * open } else { Complex64::ZERO };
        [0, 1, 2].map(|axis| 0.5 * (to(part.round[2 * axis + 1]) - to(part.round[2 * axis])))
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
    /// Neighbors, before and after along each axis, with the open share of the face between, no more than 1.
    round: [(usize, f64); 6],
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
        let part = |(cell, more): (usize, &f64)| Part {
            cell,
            share: more / whole,
            round: stencil.neighbors(cell, strides).map(|(cell, open)| (cell, open.min(1.0))),
        };
        let filled = fill.compressibility.iter().enumerate().filter(|(cell, more)| **more != 0.0 && stencil.mass[*cell] > 0.0);
        Self { parts: filled.map(part).collect(), fiber: fiber.clone(), sheet, spacing: cells.grid.spacing, medium: *medium }
    }

    /// Cells whose pressures it is told by.
    #[must_use]
    pub fn cells(&self) -> BTreeSet<usize> {
        let round = self.parts.iter().flat_map(|part| part.round).filter(|(_, open)| *open > 0.0).map(|(cell, _)| cell);
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
            let (one, other) = (source.gradient(part, tone), seat.gradient(part, tone));
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
