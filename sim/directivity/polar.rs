//! Measured directivity: levels re the axis at angles off it, octave by octave.
//!
//! - Between two angles the level in decibels is linear in the angle; beyond the last one its level holds.
//! - An octave above or below those given is taken from the nearest one given. Octaves between two given ones must be given.
//! - One arc stands for all: what is sent depends on the angle from the axis alone. For a source that sends unlike to the side and upward, give the horizontal
//!   arc, or the mean of both.
//!
//! *Mean over all directions.* With `L` linear in `theta` on a piece, energy is `e0 exp(k (theta - theta0))`, and
//! `int exp(k t) sin(theta0 + t) dt = exp(k t) (k sin(theta0 + t) - cos(theta0 + t)) / (k^2 + 1)`: the mean is exact, not a quadrature.
//!
//! *Limits.* Levels only: all octaves leave in phase, as if from one point. Measured in the open at some distance; nearer than that a source is not a point.

use std::f64::consts::{LN_10, PI};

use crate::bands::{Band, Bands};

/// Most angles of an arc: every 5 degrees from 0 to 180.
pub const ANGLES_MOST: usize = 37;

/// Levels that an arc may hold, dB re the axis: less is below what is measured, more means that the axis is not where the source sends to.
pub const LEVELS_DB: (f64, f64) = (-60.0, 20.0);

/// The last angle of an arc is at least this, degrees: nobody could tell what goes to the rear.
pub const REACHES_DEG: f64 = 90.0;

/// Measured levels at angles off the axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Polar {
    /// How many of the angles are given; what follows them is zero.
    count: usize,
    angles_deg: [f64; ANGLES_MOST],
    /// Level of every octave at each angle, dB re the axis; octaves not given are filled.
    levels_db: [Bands<f64>; ANGLES_MOST],
    given: Bands<bool>,
}

impl Polar {
    /// The arc with these angles in degrees and these levels in dB re the axis, one at each angle; `None` for octaves not given.
    ///
    /// Nothing unless the angles (at most [`ANGLES_MOST`]) begin at 0, rise, and end between [`REACHES_DEG`] and 180; each list has a level for every angle, 0 dB
    /// on the axis and all within [`LEVELS_DB`]; and at least one octave is given, with none left out between two.
    #[must_use]
    pub fn new(angles_deg: &[f64], levels_db: &Bands<Option<Vec<f64>>>) -> Option<Self> {
        let given = Bands::from_fn(|band| levels_db[band].is_some());
        let rises = angles_deg.windows(2).all(|pair| pair[0] < pair[1]);
        let spans = angles_deg.first() == Some(&0.0) && angles_deg.last().is_some_and(|last| (REACHES_DEG..=180.0).contains(last));
        let fits = |levels: &Vec<f64>| {
            levels.len() == angles_deg.len()
                && levels.first() == Some(&0.0)
                && levels.iter().all(|level| (LEVELS_DB.0..=LEVELS_DB.1).contains(level))
        };
        let is_whole = gap(given).is_none() && levels_db.iter().filter_map(|(_, levels)| levels.as_ref()).all(fits);
        if angles_deg.len() > ANGLES_MOST || !(rises && spans && is_whole) {
            return None;
        }
        let mut polar =
            Self { count: angles_deg.len(), angles_deg: [0.0; ANGLES_MOST], levels_db: [Bands::splat(0.0); ANGLES_MOST], given };
        polar.angles_deg[..polar.count].copy_from_slice(angles_deg);
        for band in Band::ALL {
            let levels = levels_db[nearest(given, band)?].as_ref()?;
            for (filled, level) in polar.levels_db.iter_mut().zip(levels) {
                filled[band] = *level;
            }
        }
        Some(polar)
    }

    /// Angles off the axis, degrees.
    #[must_use]
    pub fn angles_deg(&self) -> &[f64] {
        &self.angles_deg[..self.count]
    }

    /// Levels of an octave at these angles, dB re the axis; `None` where it was not given.
    #[must_use]
    pub fn given_db(&self, band: Band) -> Option<Vec<f64>> {
        self.given[band].then(|| self.levels_db[..self.count].iter().map(|levels| levels[band]).collect())
    }

    /// The octave whose levels stand for this one.
    #[must_use]
    pub fn taken_from(&self, band: Band) -> Band {
        nearest(self.given, band).unwrap_or(band)
    }

    /// Level at an angle off the axis in degrees, dB re the axis.
    #[must_use]
    pub fn level_db(&self, angle_deg: f64) -> Bands<f64> {
        let after = self.angles_deg().partition_point(|&angle| angle <= angle_deg).max(1);
        let (low, high) = (self.levels_db[after - 1], self.levels_db[after.min(self.count - 1)]);
        if after == self.count {
            return low;
        }
        let share = (angle_deg - self.angles_deg[after - 1]) / (self.angles_deg[after] - self.angles_deg[after - 1]);
        low.zip(high, |low, high| low + share.max(0.0) * (high - low))
    }

    /// Energy sent at an angle of this cosine from the axis, re that on the axis.
    #[must_use]
    pub fn energy(&self, cosine: f64) -> Bands<f64> {
        self.level_db(cosine.clamp(-1.0, 1.0).acos().to_degrees()).map(energy)
    }

    /// Mean over all directions of the energy sent, re that on the axis.
    #[must_use]
    pub fn mean_energy(&self) -> Bands<f64> {
        let mut sum = Bands::splat(0.0);
        for (index, &from) in self.angles_deg().iter().enumerate() {
            let next = (index + 1).min(self.count - 1);
            let to = if next == index { PI } else { self.angles_deg[next].to_radians() };
            let piece = self.levels_db[index].zip(self.levels_db[next], |low, high| piece(from.to_radians(), to, low, high));
            sum = sum + piece;
        }
        sum * 0.5
    }
}

/// Energy of a level in dB.
fn energy(level_db: f64) -> f64 {
    10.0_f64.powf(0.1 * level_db)
}

/// `int e sin(theta) dtheta` over a piece between two angles in radians, its level in dB linear in the angle.
fn piece(from: f64, to: f64, low_db: f64, high_db: f64) -> f64 {
    if to <= from {
        return 0.0;
    }
    let slope = 0.1 * LN_10 * (high_db - low_db) / (to - from);
    let at = |angle: f64, level: f64| energy(level) * (slope * angle.sin() - angle.cos());
    (at(to, high_db) - at(from, low_db)) / (slope * slope + 1.0)
}

/// The given octave that is nearest to this one; nothing where none is given.
fn nearest(given: Bands<bool>, band: Band) -> Option<Band> {
    Band::ALL.into_iter().filter(|&other| given[other]).min_by_key(|other| other.index().abs_diff(band.index()))
}

/// The first octave left out between two that are given.
#[must_use]
pub fn gap(given: Bands<bool>) -> Option<Band> {
    let first = Band::ALL.into_iter().find(|&band| given[band])?;
    let last = Band::ALL.into_iter().rev().find(|&band| given[band])?;
    Band::ALL[first.index()..=last.index()].iter().copied().find(|&band| !given[band])
}
