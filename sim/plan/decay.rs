//! The decay that a plan is judged by: the mean of T30 over the octaves and the pairs of source and receiver that are asked for.

use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::findings::pairs::reverberation;
use crate::progress::{Cancelled, Progress};
use crate::response::{Estimate, Resampled, Response};
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

/// Mean decay time over the goal's pairs in some octaves: of each octave the mean over the pairs that know it, of these the mean.
fn mean(responses: &[Vec<Response>], goal: &Goal<'_>, bands: &[Band]) -> Option<Estimate> {
    let of_pairs = |&band: &Band| -> Vec<(usize, Resampled<f64>)> {
        let one = |&(source, receiver): &(usize, usize)| {
            let response = &responses[source][receiver];
            Some((source, reverberation(&response.resampled(band), response.bin_s)?))
        };
        goal.pairs.iter().filter_map(one).collect()
    };
    let octaves: Vec<Vec<(usize, Resampled<f64>)>> = bands.iter().map(of_pairs).filter(|octave| !octave.is_empty()).collect();
    let count = octaves.len() as f64;
    let figures = octaves.iter().flat_map(|octave| {
        let weight = 1.0 / (count * octave.len() as f64);
        octave.iter().map(move |(source, time)| (*source, weight, time))
    });
    (!octaves.is_empty()).then(|| Resampled::weighted_sum(figures))
}

/// Mean decay time over the goal's octaves and pairs.
#[must_use]
pub fn mid_decay(responses: &[Vec<Response>], goal: &Goal<'_>) -> Option<Estimate> {
    mean(responses, goal, goal.bands)
}

/// Mean decay time of every octave over the goal's pairs.
#[must_use]
pub fn all_octaves(responses: &[Vec<Response>], goal: &Goal<'_>) -> Bands<Option<Estimate>> {
    Bands::from_fn(|band| mean(responses, goal, &[band]))
}
