//! The decay that a plan is judged by: the mean of T30 over the octaves and the pairs of source and receiver that are asked for.

use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::metrics::decay::{DecayCurve, Range, Tail};
use crate::progress::{Cancelled, Progress};
use crate::response::{Estimate, Response};
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

/// T30 of one octave of a response in seconds, T20 where a resample does not reach; `None` where neither can be read.
///
/// One range for all resamples: mixing T30 and T20 would pass the curvature of the decay off as an error.
#[must_use]
pub fn decay_time(response: &Response, band: Band) -> Option<Estimate> {
    let curves = response.resampled(band);
    let read = |range: Range| {
        curves.estimate(|curve| {
            DecayCurve::new(curve, response.bin_s, Tail::Exponential).and_then(|curve| curve.fit(range)).ok().map(|fit| fit.time_s)
        })
    };
    read(Range::Thirty).or_else(|| read(Range::Twenty))
}

/// Mean decay time over the goal's pairs in one octave.
#[must_use]
pub fn octave_decay(responses: &[Vec<Response>], goal: &Goal<'_>, band: Band) -> Option<Estimate> {
    let estimates: Vec<Estimate> =
        goal.pairs.iter().filter_map(|&(source, receiver)| decay_time(&responses[source][receiver], band)).collect();
    combined(&estimates)
}

/// Mean decay time over the goal's octaves and pairs.
#[must_use]
pub fn mid_decay(responses: &[Vec<Response>], goal: &Goal<'_>) -> Option<Estimate> {
    let estimates: Vec<Estimate> = goal.bands.iter().filter_map(|&band| octave_decay(responses, goal, band)).collect();
    combined(&estimates)
}

/// Mean decay time of every octave over the goal's pairs.
#[must_use]
pub fn all_octaves(responses: &[Vec<Response>], goal: &Goal<'_>) -> Bands<Option<Estimate>> {
    Bands::from_fn(|band| octave_decay(responses, goal, band))
}

/// Mean of estimates that share their rays: their errors are taken as wholly dependent, which never flatters.
fn combined(estimates: &[Estimate]) -> Option<Estimate> {
    let count = estimates.len() as f64;
    (!estimates.is_empty()).then(|| Estimate {
        value: estimates.iter().map(|estimate| estimate.value).sum::<f64>() / count,
        se: estimates.iter().map(|estimate| estimate.se).sum::<f64>() / count,
    })
}
