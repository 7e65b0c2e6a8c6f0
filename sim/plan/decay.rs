//! The decay that a plan is judged by: the mean of T30 over the octaves and the pairs of source and receiver that are asked for; and what a panel
//! does to it, weighed with and without that panel alone.

use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::findings::pairs::{both_ranges, reverberation, reverberations_of};
use crate::progress::{Cancelled, Progress};
use crate::response::{Estimate, Resampled, Response, Responses};
use crate::settings::BATCHES;
use crate::weigh::{Linings, Traced, weigh_rays};

use super::search::Goal;

/// The responses of every source at every receiver with these linings: `[source][receiver]`.
///
/// # Errors
/// [`Cancelled`].
pub fn responses(progress: &Progress, traced: &Traced, linings: &Linings) -> Result<Vec<Vec<Response>>, Cancelled> {
    let curves = weigh_rays(progress, traced, linings)?;
    Ok(curves
        .into_par_iter()
        .enumerate()
        .map(|(source, row)| {
            row.into_par_iter().enumerate().map(|(receiver, rays)| Response::new(traced, linings, rays, source, receiver)).collect()
        })
        .collect())
}

/// Figures by octave and pair, each with its source.
type Octaves = Vec<Vec<(usize, Resampled<f64>)>>;

/// Of each octave the mean over the pairs that know it, of these the mean; `None` of none.
fn mean_of(octaves: &Octaves) -> Option<Estimate> {
    let known: Vec<_> = octaves.iter().filter(|octave| !octave.is_empty()).collect();
    let figures = known.iter().flat_map(|octave| {
        let weight = 1.0 / (known.len() as f64 * octave.len() as f64);
        octave.iter().map(move |(source, figure)| (*source, weight, figure))
    });
    (!known.is_empty()).then(|| Resampled::weighted_sum(figures))
}

/// Mean decay time over the goal's pairs in some octaves.
fn mean(responses: &[Vec<Response>], goal: &Goal<'_>, bands: &[Band]) -> Option<Estimate> {
    let of_pairs = |&band: &Band| {
        let one = |&(source, receiver): &(usize, usize)| {
            let response = &responses[source][receiver];
            Some((source, reverberation(&response.resampled(band), response.bin_s)?))
        };
        goal.pairs.iter().filter_map(one).collect()
    };
    mean_of(&bands.iter().map(of_pairs).collect())
}

/// Mean decay time over the goal's octaves and pairs.
#[must_use]
pub fn mid_decay(responses: &[Vec<Response>], goal: &Goal<'_>) -> Option<Estimate> {
    mean(responses, goal, goal.bands)
}

/// T30 and T20 of one room by octave over the goal's pairs, each with its source: what is kept of rooms that are traced one after the other, until all are known that it is compared with.
#[derive(Clone, Debug)]
pub struct BothRanges(Bands<Vec<(usize, TwoTimes)>>);

/// T30 and T20, where a decay reaches that far.
type TwoTimes = [Option<Resampled<f64>>; 2];

impl BothRanges {
    /// Of a room whose decay is not asked for.
    #[must_use]
    pub fn unknown() -> Self {
        Self(Bands::from_fn(|_| Vec::new()))
    }

    /// Of the responses of a room.
    #[must_use]
    pub fn of(responses: &(impl Responses + Sync + ?Sized), goal: &Goal<'_>) -> Self {
        let of_pair = |band: Band, &(source, receiver): &(usize, usize)| {
            let response = responses.at((source, receiver));
            (source, both_ranges(&response.resampled(band), response.bin_s))
        };
        Self(Bands::from_fn(|band| goal.pairs.par_iter().map(|pair| of_pair(band, pair)).collect()))
    }
}

/// Decay times of one of several layouts, by octave over the goal's pairs, each with its source.
#[derive(Clone, Debug)]
pub struct SideBySide(Bands<Vec<(usize, Resampled<f64>)>>);

impl SideBySide {
    /// Decay times of layouts on the same rays. Each pair and octave is read over one range in all of them, or in none.
    #[must_use]
    pub fn of<R: Responses + Sync>(layouts: &[&R], goal: &Goal<'_>) -> Vec<Self> {
        let mut all: Vec<Self> = layouts.iter().map(|_| Self(Bands::from_fn(|_| Vec::new()))).collect();
        for band in Band::ALL {
            let of_pair = |&(source, receiver): &(usize, usize)| {
                let curves: Vec<_> = layouts.iter().map(|responses| responses.at((source, receiver)).resampled(band)).collect();
                Some((source, reverberations_of(&curves, layouts.first()?.at((source, receiver)).bin_s)?))
            };
            for (source, times) in goal.pairs.par_iter().filter_map(of_pair).collect::<Vec<_>>() {
                for (layout, time) in all.iter_mut().zip(times) {
                    layout.0[band].push((source, time));
                }
            }
        }
        all
    }

    /// Decay times of rooms that were traced each by itself, with as many batches and the same pairs. Each pair and octave is read over one range in all of them, or in none.
    #[must_use]
    pub fn among(rooms: &[&BothRanges]) -> Vec<Self> {
        let mut all: Vec<Self> = rooms.iter().map(|_| Self(Bands::from_fn(|_| Vec::new()))).collect();
        for band in Band::ALL {
            for pair in 0..rooms.first().map_or(0, |room| room.0[band].len()) {
                let source = rooms[0].0[band][pair].0;
                let read = |range: usize| rooms.iter().map(|room| room.0[band][pair].1[range].clone()).collect::<Option<Vec<_>>>();
                for (room, time) in all.iter_mut().zip(read(0).or_else(|| read(1)).into_iter().flatten()) {
                    room.0[band].push((source, time));
                }
            }
        }
        all
    }

    /// Mean decay time of every octave.
    #[must_use]
    pub fn by_octave(&self) -> Bands<Option<Estimate>> {
        Bands::from_fn(|band| self.mean(&[band]))
    }

    /// Mean over these octaves.
    #[must_use]
    pub fn mean(&self, bands: &[Band]) -> Option<Estimate> {
        mean_of(&bands.iter().map(|&band| self.0[band].clone()).collect())
    }

    /// By how many percent decay times grow from this layout to another that stood beside it, mean over these octaves and the pairs; `None` where none is known.
    #[must_use]
    pub fn growth_to(&self, other: &Self, bands: &[Band]) -> Option<Estimate> {
        let grown = |band: &Band| {
            let both = self.0[*band].iter().zip(&other.0[*band]);
            both.map(|((source, own), (_, other))| (*source, own.with(other, |own, other| 100.0 * (other / own - 1.0)))).collect()
        };
        mean_of(&bands.iter().map(grown).collect())
    }

    /// Mean over the pairs of each of these octaves that is known, whole and without each batch of all sources at once: for what is no sum of them.
    #[must_use]
    pub fn known(&self, bands: &[Band]) -> Resampled<Vec<f64>> {
        let octaves = || bands.iter().map(|&band| &self.0[band]).filter(|octave| !octave.is_empty());
        let means = |read: &dyn Fn(&Resampled<f64>) -> f64| -> Vec<f64> {
            octaves().map(|octave| octave.iter().map(|(_, time)| read(time)).sum::<f64>() / octave.len() as f64).collect()
        };
        let without = |batch: u32| means(&|time| time.without[batch as usize]);
        Resampled { whole: means(&|time| time.whole), without: (0..BATCHES).map(without).collect() }
    }
}
