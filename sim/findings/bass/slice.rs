//! A level slice through the low end's field at any height, finer than the places that heard it.
//!
//! What a cell has is put together from the places round it by polynomials of degree 3 through the four nearest along each axis; where some of them are missing, near walls, floor and ceiling,
//! linearly from those that are there, and beyond the outermost one as at that.
//!
//! ```text
//! w_i(t) = product over j != i of (t - j) / (i - j),   i, j = -1, 0, 1, 2;   p = sum over x, y and z of w_x w_y w_z p_xyz
//! ```
//!
//! *References.* Lagrange's polynomials (text books).
//!
//! *Limits.* In the room's middle the error is 0.1 % of the pressure where a wave has fourteen places and 4 % where it has the fewest, five and a half; near walls, floor and ceiling up to four
//! times the latter. Round a corner a cell may take from places that it does not see.

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use glam::{DVec2, DVec3, IVec2, IVec3};
use num_complex::Complex64;

use super::BassFields;
use super::decibels;
use crate::room::Room;

/// Cells from place to place.
const FINER: i32 = 3;
/// Part of the cells that may be louder than the scale of a moment shows: those round a source.
const BEYOND: f64 = 0.02;

/// Cells of a slice, each with the places and weights that it takes from.
#[derive(Clone, Debug)]
pub struct BassSlice {
    /// Over the floor, meters.
    pub height_m: f64,
    /// Its left lower corner on the floor plan, meters.
    pub low_m: DVec2,
    /// Side of a cell, meters.
    pub cell_m: f64,
    /// Cells along x.
    pub columns: usize,
    /// Cells along y.
    pub rows: usize,
    /// Cell by cell, rows along x; without places where there is no air.
    takes: Vec<Vec<(usize, f64)>>,
}

/// What a slice shows.
#[derive(Clone, Debug, PartialEq)]
pub struct BassPicture {
    /// Complex pressure of each cell, rows along x; `None` where there is no air.
    pub pressures: Vec<Option<Complex64>>,
    /// Half the scale of a moment: so loud are nearly all cells at most.
    pub loud: f64,
}

impl BassFields {
    /// Heights over the floor at which there are places, from below, meters.
    #[must_use]
    pub fn heights(&self) -> Vec<f64> {
        let mut heights: Vec<f64> = self.points.iter().map(|point| point.z).collect();
        heights.sort_by(f64::total_cmp);
        heights.dedup_by(|one, other| (*one - *other).abs() < 0.5 * self.apart_m);
        heights
    }

    /// The slice at a height over the floor, meters, of the room whose fields these are; no lower than the lowest places, no higher than the highest.
    #[must_use]
    pub fn slice(&self, room: &Room, height_m: f64) -> BassSlice {
        let (low, high) = self.points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at.z), high.max(at.z)));
        let height_m = height_m.max(low).min(high);
        let origin = self.points.first().copied().unwrap_or_default();
        let number = |point: &DVec3| ((*point - origin) / self.apart_m).round().as_ivec3().to_array();
        let places: BTreeMap<[i32; 3], usize> = self.points.iter().enumerate().map(|(place, point)| (number(point), place)).collect();
        let up = (height_m - origin.z) / self.apart_m;
        let origin = origin.truncate();
        let (floor, ceil) = room
            .surfaces
            .iter()
            .flat_map(|surface| surface.outline.corners.iter().map(|corner| surface.chart.point(*corner)))
            .fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), corner| (low.min(corner.truncate()), high.max(corner.truncate())));
        let cell_m = self.apart_m / f64::from(FINER);
        // The middle of a cell lies on every place.
        let [first, last] = [floor, ceil].map(|corner| ((corner - origin) / cell_m).round().as_ivec2());
        let counts = last - first + 1;
        let cell = |index: i32| {
            let at = first + IVec2::new(index % counts.x, index / counts.x);
            let point = origin + cell_m * at.as_dvec2();
            let share = (at.as_dvec2() / f64::from(FINER)).extend(up);
            if room.contains(point.extend(height_m)) { takes(&places, share) } else { Vec::new() }
        };
        BassSlice {
            height_m,
            low_m: origin + cell_m * (first.as_dvec2() - 0.5),
            cell_m,
            columns: counts.x as usize,
            rows: counts.y as usize,
            takes: (0..counts.x * counts.y).map(cell).collect(),
        }
    }
}

/// Weights of the places at -1, 0, 1 and 2 for a point between 0 and 1.
fn cubic(into: f64) -> [f64; 4] {
    let weight =
        |own: i32| (-1..=2).filter(|other| *other != own).map(|other| (into - f64::from(other)) / f64::from(own - other)).product();
    [-1, 0, 1, 2].map(weight)
}

/// The same from the two next to it.
fn linear(into: f64) -> [f64; 4] {
    [0.0, 1.0 - into, into, 0.0]
}

/// Places and weights for a point given in distances of places: by cubes where all of them are there, along the floor alone if not, else linearly from those that are.
fn takes(places: &BTreeMap<[i32; 3], usize>, at: DVec3) -> Vec<(usize, f64)> {
    let below = (at + 1e-9).floor();
    let into = (at - below).max(DVec3::ZERO);
    let found = |along: fn(f64) -> [f64; 4], up: fn(f64) -> [f64; 4]| -> Vec<Option<(usize, f64)>> {
        let [x, y, z] = [along(into.x), along(into.y), up(into.z)];
        let steps = (0..4).flat_map(|k| (0..4).flat_map(move |j| (0..4).map(move |i| [i, j, k])));
        let weighed =
            steps.map(|[i, j, k]: [usize; 3]| (below.as_ivec3() + IVec3::new(i as i32, j as i32, k as i32) - 1, x[i] * y[j] * z[k]));
        let counting = weighed.filter(|(_, weight)| weight.abs() > 1e-12);
        counting.map(|(number, weight)| places.get(&number.to_array()).map(|place| (*place, weight))).collect()
    };
    for up in [cubic, linear] {
        if let Some(all) = found(cubic, up).into_iter().collect::<Option<Vec<_>>>() {
            return all;
        }
    }
    let near: Vec<(usize, f64)> = found(linear, linear).into_iter().flatten().collect();
    let whole: f64 = near.iter().map(|(_, weight)| weight).sum();
    if whole > 0.0 {
        return near.into_iter().map(|(place, weight)| (place, weight / whole)).collect();
    }
    // Between the outermost place and a wall.
    let off = |number: &[i32; 3]| DVec3::from_array(number.map(f64::from)).distance(at);
    let nearest = places.iter().min_by(|a, b| off(a.0).total_cmp(&off(b.0)));
    nearest.filter(|(number, _)| off(number) < 1.5).map(|(_, place)| (*place, 1.0)).into_iter().collect()
}

impl BassSlice {
    /// What sources make together at a frequency, re the free field of one of them at 1 m.
    #[must_use]
    pub fn sounding(&self, fields: &BassFields, sources: &[usize], frequency_hz: f64) -> BassPicture {
        let picture = self.picture(&fields.pressures(sources, frequency_hz));
        let mut loud: Vec<f64> = picture.pressures.iter().flatten().map(|pressure| pressure.norm()).collect();
        loud.sort_by(f64::total_cmp);
        let beyond = (BEYOND * loud.len() as f64) as usize;
        BassPicture { loud: loud.iter().rev().nth(beyond).copied().unwrap_or(1.0), ..picture }
    }

    /// The shape of a mode, counted as in [`BassFields::modes_hz`], re where in the room it is loudest.
    #[must_use]
    pub fn mode(&self, fields: &BassFields, mode: usize) -> BassPicture {
        let shape: Vec<Complex64> = fields.shape(mode).into_iter().map(Complex64::from).collect();
        self.picture(&shape)
    }

    fn picture(&self, pressures: &[Complex64]) -> BassPicture {
        let cell = |takes: &Vec<(usize, f64)>| {
            let sum = takes.iter().map(|(place, weight)| pressures[*place] * *weight).sum();
            (!takes.is_empty()).then_some(sum)
        };
        BassPicture { pressures: self.takes.iter().map(cell).collect(), loud: 1.0 }
    }

    /// The cell that holds a point of the floor plan.
    #[must_use]
    pub fn cell_at(&self, point: DVec2) -> Option<usize> {
        let at = ((point - self.low_m) / self.cell_m).floor();
        let is_in = at.cmpge(DVec2::ZERO).all() && at.x < self.columns as f64 && at.y < self.rows as f64;
        is_in.then(|| at.y as usize * self.columns + at.x as usize)
    }
}

impl BassPicture {
    /// Level of each cell, dB.
    #[must_use]
    pub fn levels(&self) -> Vec<Option<f64>> {
        self.pressures.iter().map(|pressure| pressure.map(|pressure| decibels(pressure.norm_sqr()))).collect()
    }

    /// Pressure of each cell at a moment, so many periods after the first.
    #[must_use]
    pub fn moment(&self, periods: f64) -> Vec<Option<f64>> {
        let turned = Complex64::cis(TAU * periods);
        self.pressures.iter().map(|pressure| pressure.map(|pressure| (pressure * turned).re)).collect()
    }
}
