//! What maps differentiate: the early level, clarity, the decay time, each as the weights of all arrivals that its change is the sum of.
//!
//! With `E` the energy of the arrivals: the early level falls by `-(10 / ln 10) dE / E`, all pairs of source and receiver together; clarity
//! rises by `(10 / ln 10) (dE_early / E_early - dE_late / E_late)`, the decay time falls by `-dT / T`, both the mean over pairs and octaves.

use crate::bands::{Band, Bands};
use crate::metrics::clarity;
use crate::metrics::decay::{DecayCurve, Range, Tail};
use crate::response::Responses;
use crate::weigh::early::EarlyEnergy;
use crate::weigh::sensitivity::Quantity;
use crate::weigh::{Traced, early_bands};

/// Clarity is that of speech, C50: its limit, seconds after the direct sound.
pub const CLARITY_LIMIT_S: f64 = 0.050;

/// How octaves make maps.
#[derive(Clone, Copy, Debug)]
pub enum Octaves<'a> {
    /// One map of all of them.
    Together(&'a [Band]),
    /// A map of each by itself.
    Apart(&'a [Band]),
    /// One map of all of them, the mean over the pairs of each counted so much.
    Weighted(&'a [Band], Bands<f64>),
}

impl Octaves<'_> {
    /// The octaves.
    fn all(&self) -> &[Band] {
        match self {
            Self::Together(bands) | Self::Apart(bands) | Self::Weighted(bands, _) => bands,
        }
    }

    /// The octaves of each map.
    fn parts(&self) -> Vec<Vec<Band>> {
        match self {
            Self::Together(bands) | Self::Weighted(bands, _) => vec![bands.to_vec()],
            Self::Apart(bands) => bands.iter().map(|&band| vec![band]).collect(),
        }
    }

    /// What an octave counts by itself.
    fn weight(&self, band: Band) -> f64 {
        if let Self::Weighted(_, weights) = self { weights[band] } else { 1.0 }
    }

    /// By octave: the sum over all octaves that share its map.
    fn shared(&self, values: Bands<f64>) -> Bands<f64> {
        match self {
            Self::Together(bands) => Bands::splat(bands.iter().map(|&band| values[band]).sum()),
            Self::Apart(_) | Self::Weighted(..) => values,
        }
    }
}

/// By how many dB the early level of these pairs together falls, their energies re direct (with these weights of the octaves): G.
#[must_use]
pub fn early(traced: &Traced, early: &EarlyEnergy, pairs: &[(usize, usize)], (weights, octaves): (Bands<f64>, Octaves<'_>)) -> Quantity {
    let bins = (traced.settings.window_s / traced.settings.bin_s).round() as usize;
    let is_asked = |band: Band| octaves.all().contains(&band);
    let mut phi = nothing(traced);
    let mut level = Bands::splat(0.0);
    for &(source, receiver) in pairs {
        let direct = octaves.shared(traced.direct_energy(source, traced.room.receivers[receiver].position) * weights);
        let relative = Bands::from_fn(|band| if is_asked(band) { weights[band] / direct[band] } else { 0.0 });
        level = level + octaves.shared(early.total(source, receiver) * relative);
        phi[source][receiver] = vec![relative; bins];
    }
    let scale = Bands::from_fn(|band| if is_asked(band) { -10.0 / std::f64::consts::LN_10 / level[band] } else { 0.0 });
    for phi in phi.iter_mut().flatten().flatten() {
        *phi = *phi * scale;
    }
    Quantity { phi, early: true, parts: octaves.parts() }
}

/// What grows with the early energy of some pairs of source and receiver by so much for a unit of each octave.
#[must_use]
pub fn early_energies(traced: &Traced, slopes: &[((usize, usize), Bands<f64>)]) -> Quantity {
    let bins = (traced.settings.window_s / traced.settings.bin_s).round() as usize;
    let mut phi = nothing(traced);
    for &((source, receiver), slope) in slopes {
        phi[source][receiver] = vec![slope; bins];
    }
    Quantity { phi, early: true, parts: vec![early_bands().collect()] }
}

/// By how many percent T30 falls (T20 where the record does not reach), where its fit begins and ends falling with it; none where no decay
/// supports the fit.
#[must_use]
pub fn decay(traced: &Traced, responses: &(impl Responses + ?Sized), pairs: &[(usize, usize)], octaves: Octaves<'_>) -> Option<Quantity> {
    let weights = |energy: &[f64], bin_s: f64| {
        let curve = DecayCurve::new(energy, bin_s, Tail::Exponential).ok()?;
        let fit = curve.fit(Range::Thirty).or_else(|_| curve.fit(Range::Twenty)).ok()?;
        Some(curve.sensitivity(&fit))
    };
    of_responses(traced, responses, pairs, octaves, (-100.0, weights))
}

/// By how many dB clarity (C50) rises; none where nothing comes early or late.
#[must_use]
pub fn clarity(traced: &Traced, responses: &(impl Responses + ?Sized), pairs: &[(usize, usize)], octaves: Octaves<'_>) -> Option<Quantity> {
    of_responses(traced, responses, pairs, octaves, (1.0, |energy, bin_s| clarity::sensitivity(energy, bin_s, CLARITY_LIMIT_S)))
}

/// Mean over pairs and octaves of what is read from a response, times a factor; `weights` is its derivative by the energy of each bin.
fn of_responses(
    traced: &Traced,
    responses: &(impl Responses + ?Sized),
    pairs: &[(usize, usize)],
    octaves: Octaves<'_>,
    (factor, weights): (f64, impl Fn(&[f64], f64) -> Option<Vec<f64>>),
) -> Option<Quantity> {
    let mut read = Bands::splat(0.0);
    let mut phi = nothing(traced);
    for &(source, receiver) in pairs {
        let response = responses.at((source, receiver));
        let of_pair = &mut phi[source][receiver];
        for &band in octaves.all() {
            let curve = response.curve(band);
            if let Some(weights) = weights(&curve, response.bin_s) {
                read[band] += 1.0;
                of_pair.resize(curve.len(), Bands::splat(0.0));
                for (slot, weight) in of_pair.iter_mut().zip(weights) {
                    slot[band] = weight;
                }
            }
        }
    }
    let count = octaves.shared(read);
    let scale = Bands::from_fn(|band| if count[band] > 0.0 { factor * octaves.weight(band) / count[band] } else { 0.0 });
    for phi in phi.iter_mut().flatten().flatten() {
        *phi = *phi * scale;
    }
    (read.sum() > 0.0).then(|| Quantity { phi, early: false, parts: octaves.parts() })
}

/// No arrival counts.
fn nothing(traced: &Traced) -> Vec<Vec<Vec<Bands<f64>>>> {
    vec![vec![Vec::new(); traced.room.receivers.len()]; traced.room.sources.len()]
}
