//! The low end all over the room: the pressure at any frequency, and the modes' shapes, of the room as it stands.
//!
//! ```text
//! p(r, f) = sum over sources of H(r, f)           a moment of it: Re [ p exp(j turn) ]
//! ```
//!
//! `H` as in `wave::record`: re the free field of one source at 1 m, sources in phase. Shapes are those of `wave::ringing`, turned there to be as real as can be: of a damped mode they are a
//! wave that runs toward what damps it, and the real part is what stands.
//!
//! *References.* As in `wave::lattice` and `wave::ringing`.
//!
//! *Limits.* At the places alone: [`BassFields::apart_m`] is a fifth of the shortest wave. The nearest places to a source know its own field only roughly. Of modes at one frequency each shape is
//! one of many.

use std::sync::Arc;

use glam::DVec3;
use num_complex::Complex64;

use crate::room::Room;
use crate::wave::record::readers;
use crate::wave::{Hearing, Pulse, Ringing, Sounding};

/// What was heard all over a room. Clones share it.
#[derive(Clone, Debug)]
pub struct BassFields {
    /// Places in air, row by row, layer by layer from below; meters.
    pub points: Vec<DVec3>,
    /// From one place to the next along each axis, meters.
    pub apart_m: f64,
    /// Names of the sources, in the order that [`Self::pressures`] counts them.
    pub sources: Vec<String>,
    /// Up to this frequency pressures are known.
    pub top_hz: f64,
    /// Frequencies of the modes, lowest first, as the study tells them.
    pub modes_hz: Vec<f64>,
    /// Of each source what it sent and what the places heard.
    heard: Arc<Vec<Kept>>,
    /// Mode by mode, place by place.
    shapes: Arc<Vec<Vec<f64>>>,
}

/// What is kept of a source's run.
#[derive(Debug)]
struct Kept {
    pulse: Pulse,
    places: Vec<Vec<f32>>,
}

/// The fields of a room whose sources were heard.
pub(super) fn fields(room: &Room, sounding: &Sounding, heard: Vec<Hearing>, ringing: &Ringing, top: f64) -> BassFields {
    let point = |place: usize| sounding.lattice.point(&sounding.grid, place);
    let standing = |shape: &[nalgebra::Complex<f64>]| {
        let loudest = shape.iter().map(|value| value.re.abs()).fold(f64::MIN_POSITIVE, f64::max);
        shape.iter().map(|value| value.re / loudest).collect()
    };
    BassFields {
        points: (0..sounding.lattice.cells.len()).map(point).collect(),
        apart_m: sounding.lattice.every as f64 * sounding.grid.spacing,
        sources: room.sources.iter().map(|source| source.name.clone()).collect(),
        top_hz: top,
        modes_hz: ringing.resonances.iter().map(|mode| mode.frequency).collect(),
        heard: Arc::new(heard.into_iter().map(|heard| Kept { pulse: heard.pulse, places: heard.places }).collect()),
        shapes: Arc::new(ringing.resonances.iter().map(|mode| standing(&mode.shape)).collect()),
    }
}

impl BassFields {
    /// Complex pressure at every place re the free field of one source at 1 m, these sources sounding together in phase, at a frequency up to [`Self::top_hz`].
    ///
    /// # Panics
    /// Where there is no such source.
    #[must_use]
    pub fn pressures(&self, sources: &[usize], frequency_hz: f64) -> Vec<Complex64> {
        let mut sum = vec![Complex64::ZERO; self.points.len()];
        for heard in sources.iter().map(|source| &self.heard[*source]) {
            let count = heard.places.first().map_or(0, Vec::len);
            let readers = readers(&heard.pulse, heard.pulse.every() as f64 * heard.pulse.step, count, frequency_hz);
            for (sum, record) in sum.iter_mut().zip(&heard.places) {
                *sum += record.iter().zip(&readers).map(|(value, reader)| reader * f64::from(*value)).sum::<Complex64>();
            }
        }
        sum
    }

    /// A moment of complex pressures, `turn` the angle since they began, radians.
    #[must_use]
    pub fn moment(pressures: &[Complex64], turn: f64) -> Vec<f64> {
        let turned = Complex64::cis(turn);
        pressures.iter().map(|pressure| (pressure * turned).re).collect()
    }

    /// Shape of a mode, counted as in [`Self::modes_hz`]: pressure at every place with its sign, +-1 where it is loudest.
    ///
    /// # Panics
    /// Where there is no such mode.
    #[must_use]
    pub fn shape(&self, mode: usize) -> Vec<f64> {
        self.shapes[mode].clone()
    }

    /// Places in the layer nearest to a height over the floor in meters, in the order of the points: a horizontal slice.
    #[must_use]
    pub fn layer(&self, height_m: f64) -> Vec<usize> {
        let off = |point: &DVec3| (point.z - height_m).abs();
        let Some(nearest) = self.points.iter().min_by(|a, b| off(a).total_cmp(&off(b))) else { return Vec::new() };
        (0..self.points.len()).filter(|index| (self.points[*index].z - nearest.z).abs() < 0.5 * self.apart_m).collect()
    }
}
