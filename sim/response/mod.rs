//! What one source does at one receiver over time: images, rays and below the crossover waves (`low`) joined, with all that a standard error needs.
//!
//! Time runs in bins from the arrival of the direct sound. Image arrivals are exact, the rays come in independent batches; the
//! standard error of any figure is that of the jackknife over the batches.
//!
//! *References.* B. Efron, The Jackknife, the Bootstrap and Other Resampling Plans, SIAM 1982, ch. 3 (standard error of a function of
//! a mean by leaving one out).
//!
//! *Limits.* Energies: where no waves were computed, they are a statistical reading only below Schroeder's frequency of the room.

mod estimate;
pub mod impulse;
pub mod low;

pub use estimate::{Estimate, widths_together};
pub use impulse::{Impulse, Pickup, Point};
pub use low::{Crossover, LowEnd};

use std::collections::BTreeMap;

use crate::bands::{Band, Bands};
use crate::weigh::variants::Shares;
use crate::weigh::{Linings, RayCurve, SpecularPath, Traced};

use low::Octaves;

/// Responses by source and receiver.
pub trait Responses {
    /// That of a source at a receiver, which is one of those asked for.
    fn at(&self, pair: (usize, usize)) -> &Response;
}

impl Responses for [Vec<Response>] {
    fn at(&self, (source, receiver): (usize, usize)) -> &Response {
        &self[source][receiver]
    }
}

impl Responses for Vec<Vec<Response>> {
    fn at(&self, pair: (usize, usize)) -> &Response {
        self[..].at(pair)
    }
}

impl Responses for BTreeMap<(usize, usize), Response> {
    fn at(&self, pair: (usize, usize)) -> &Response {
        &self[&pair]
    }
}

/// Energy over time from one source at one receiver.
#[derive(Clone, Debug)]
pub struct Response {
    /// Width of a bin in seconds.
    pub bin_s: f64,
    /// Free-field energy of the direct sound by band, 1/m2, whether or not it is visible.
    pub direct: Bands<f64>,
    /// Whether the direct sound reaches the receiver.
    pub direct_visible: bool,
    /// Mean over all directions of the energy that the source sends re its axis.
    pub mean_sent: Bands<f64>,
    /// Class (a) by bin, the direct sound included, 1/m2.
    specular: Vec<Bands<f64>>,
    /// Mean of the ray batches by bin, 1/m2.
    mean: Vec<Bands<f64>>,
    rays: RayCurve,
    /// What waves bring below the crossover.
    low: Option<Low>,
}

/// Waves of one source at one receiver.
#[derive(Clone, Debug)]
struct Low {
    crossover: Crossover,
    /// What is left of the rays' energy.
    rays_share: Bands<f64>,
    /// What waves bring in place of the rest; none where that is nothing.
    nominal: Octaves,
    /// The same in larger cells, and with other walls there.
    beside: Option<(Octaves, Vec<Octaves>)>,
}

/// What each image that is heard brings to a pair of source and receiver, 1/m2.
#[must_use]
pub fn heard_energies(traced: &Traced, linings: &Linings, (source, receiver): (usize, usize)) -> Vec<Bands<f64>> {
    traced.images[source][receiver].heard.iter().map(|path| path.energy(&traced.room, linings)).collect()
}

impl Response {
    /// Joins the images and the weighed rays of one source at one receiver.
    #[must_use]
    pub fn new(traced: &Traced, linings: &Linings, rays: RayCurve, source: usize, receiver: usize) -> Self {
        Self::of(traced, &heard_energies(traced, linings, (source, receiver)), rays, (source, receiver))
    }

    /// Joins images of these energies, in the order of those that are heard there, and the weighed rays.
    #[must_use]
    pub fn of(traced: &Traced, energies: &[Bands<f64>], rays: RayCurve, (source, receiver): (usize, usize)) -> Self {
        let mean = rays.mean();
        let mut specular = vec![Bands::splat(0.0); mean.len()];
        let paths = &traced.images[source][receiver].heard;
        for (path, &energy) in paths.iter().zip(energies) {
            if let Some(slot) = specular.get_mut(bin_of(traced, (source, receiver), path)) {
                *slot = *slot + energy;
            }
        }
        Self {
            bin_s: traced.settings.bin_s,
            direct: traced.direct_energy(source, traced.room.receivers[receiver].position),
            direct_visible: paths.first().is_some_and(|path| path.path.bounces.is_empty()),
            mean_sent: traced.directivity[source].mean_energy(),
            specular,
            mean,
            rays,
            low: None,
        }
    }

    /// The same with waves below their crossover.
    #[must_use]
    pub fn with_low(self, low: &LowEnd, (source, receiver): (usize, usize)) -> Self {
        let of = |octaves: &Vec<Vec<Octaves>>| {
            let energies = &octaves[source][receiver];
            Bands::from_fn(|band| energies[band].iter().map(|energy| energy * self.mean_sent[band]).collect())
        };
        let waves = Low {
            crossover: low.crossover,
            rays_share: Bands::from_fn(|band| low.crossover.rays_share(band)),
            nominal: of(&low.nominal),
            beside: low.beside.as_ref().map(|beside| (of(&beside.nominal), beside.others.iter().map(of).collect())),
        };
        Self { low: Some(waves), ..self }
    }

    /// Where waves end, Hz; 0 where none were run.
    #[must_use]
    pub fn crossover_hz(&self) -> f64 {
        self.low.as_ref().map_or(0.0, |low| low.crossover.frequency)
    }

    /// What is left of the rays' energy in a band: 1 above the crossover, 0 below it.
    #[must_use]
    pub fn rays_share(&self, band: Band) -> f64 {
        self.low.as_ref().map_or(1.0, |low| low.rays_share[band])
    }

    /// A band's curve with the waves of larger cells, and with those of other walls in them; `None` where waves have no part or nobody asked.
    #[must_use]
    pub fn beside(&self, band: Band) -> Option<(Vec<f64>, Vec<Vec<f64>>)> {
        let low = self.low.as_ref()?;
        let (nominal, others) = low.beside.as_ref().filter(|_| low.rays_share[band] < 1.0)?;
        let with = |octaves: &Octaves| joined(&self.of_rays(band), low.rays_share[band], &octaves[band]);
        Some((with(nominal), others.iter().map(with).collect()))
    }

    /// What images and rays bring by bin, as it comes from them or with less of it where waves bring the rest.
    fn with_waves(&self, band: Band, rays: Vec<f64>) -> Vec<f64> {
        match &self.low {
            Some(low) if low.rays_share[band] < 1.0 => joined(&rays, low.rays_share[band], &low.nominal[band]),
            _ => rays,
        }
    }

    /// What rays alone bring by bin, all of it, the mean of their batches, 1/m2.
    #[must_use]
    pub fn rays(&self) -> &[Bands<f64>] {
        &self.mean
    }

    /// What images and rays bring by bin in one band, 1/m2.
    fn of_rays(&self, band: Band) -> Vec<f64> {
        self.specular.iter().zip(&self.mean).map(|(&specular, &rays)| specular[band] + rays[band]).collect()
    }

    /// Energy by bin in one band, 1/m2.
    #[must_use]
    pub fn curve(&self, band: Band) -> Vec<f64> {
        self.with_waves(band, self.of_rays(band))
    }

    /// Curves of all bands in other states of the room, of which `others` are the finishes ([`Linings::refinished`]) and `shares` what share of the rays' energy each leaves.
    #[must_use]
    pub fn in_states(
        &self,
        traced: &Traced,
        (linings, others): (&Linings, &[Linings]),
        shares: &[&Shares],
        (source, receiver): (usize, usize),
    ) -> Vec<Bands<Vec<f64>>> {
        let with = |shares: &&Shares| {
            let rays = |bin: usize| self.mean[bin] * shares.at(bin);
            let energies: Vec<Bands<f64>> = (0..self.mean.len()).map(rays).collect();
            energies
        };
        let mut states: Vec<Vec<Bands<f64>>> = shares.iter().map(with).collect();
        for path in &traced.images[source][receiver].heard {
            let bin = bin_of(traced, (source, receiver), path);
            let energies = path.energies(&traced.room, linings, others, |_| true);
            for (slot, energy) in states.iter_mut().filter_map(|state| state.get_mut(bin)).zip(energies) {
                *slot = *slot + energy;
            }
        }
        let curve = |state: &Vec<Bands<f64>>, band: Band| self.with_waves(band, state.iter().map(|energy| energy[band]).collect());
        states.into_iter().map(|state| Bands::from_fn(|band| curve(&state, band))).collect()
    }

    /// What share of the energy that rays bring within a time there is in another state of the room; 1 where they bring none.
    #[must_use]
    pub fn share_within(&self, time_s: f64, shares: &Shares) -> Bands<f64> {
        let bins = ((time_s / self.bin_s).round() as usize).min(self.mean.len());
        let sum = |of: &dyn Fn(usize) -> Bands<f64>| (0..bins).map(of).fold(Bands::splat(0.0), |sum, energy| sum + energy);
        let (whole, left) = (sum(&|bin| self.mean[bin]), sum(&|bin| self.mean[bin] * shares.at(bin)));
        whole.zip(left, |whole, left| if whole > 0.0 { left / whole } else { 1.0 })
    }

    /// The same without one batch of rays.
    fn curve_without(&self, band: Band, batch: usize) -> Vec<f64> {
        let count = self.rays.batches.len() as f64;
        let left_out = &self.rays.batches[batch];
        let rays = self
            .specular
            .iter()
            .zip(&self.mean)
            .zip(left_out)
            .map(|((&specular, &mean), &out)| specular[band] + (mean[band] * count - out[band]) / (count - 1.0))
            .collect();
        self.with_waves(band, rays)
    }

    /// The curve of one band, whole and without each batch: what standard errors are made of.
    #[must_use]
    pub fn resampled(&self, band: Band) -> Resampled<Vec<f64>> {
        Resampled { whole: self.curve(band), without: (0..self.rays.batches.len()).map(|batch| self.curve_without(band, batch)).collect() }
    }

    /// Curves of all bands, whole and without each batch.
    #[must_use]
    pub fn resampled_bands(&self) -> Resampled<Bands<Vec<f64>>> {
        Resampled {
            whole: Bands::from_fn(|band| self.curve(band)),
            without: (0..self.rays.batches.len()).map(|batch| Bands::from_fn(|band| self.curve_without(band, batch))).collect(),
        }
    }

    /// The bands' curves summed with these weights, whole and without each batch; of bands that waves have a part in as long as they last.
    #[must_use]
    pub fn weighted(&self, weights: Bands<f64>) -> Resampled<Vec<f64>> {
        let bands = self.resampled_bands();
        let sum = |curves: &Bands<Vec<f64>>| {
            let at = |band: Band, bin: usize| weights[band] * curves[band].get(bin).copied().unwrap_or(0.0);
            (0..self.mean.len()).map(|bin| Bands::from_fn(|band| at(band, bin)).sum()).collect()
        };
        Resampled { whole: sum(&bands.whole), without: bands.without.iter().map(sum).collect() }
    }
}

/// What is left of the rays' energy with that of waves, as long as both last; waves alone where nothing is left of the rays.
fn joined(rays: &[f64], share: f64, waves: &[f64]) -> Vec<f64> {
    if share > 0.0 { rays.iter().zip(waves).map(|(rays, waves)| share * rays + waves).collect() } else { waves.to_vec() }
}

/// The bin of what arrives along a path.
fn bin_of(traced: &Traced, (source, receiver): (usize, usize), path: &SpecularPath) -> usize {
    let per_meter = 1.0 / (traced.settings.bin_s * traced.room.medium.speed);
    // The direct sound must fall into bin 0 whatever the rounding.
    ((path.path.length - traced.distance(source, receiver)) * per_meter + 1e-6).max(0.0) as usize
}

/// Something estimated from all batches, and from all but one for each of them.
#[derive(Clone, Debug)]
pub struct Resampled<T> {
    /// From all batches.
    pub whole: T,
    /// Without batch 0, 1, ...
    pub without: Vec<T>,
}

impl<T> Resampled<T> {
    /// Something made of each.
    pub fn map<U>(&self, make: impl Fn(&T) -> U) -> Resampled<U> {
        Resampled { whole: make(&self.whole), without: self.without.iter().map(make).collect() }
    }

    /// Something made of each and of another's, both on the same rays.
    pub fn with<U, V>(&self, other: &Resampled<U>, make: impl Fn(&T, &U) -> V) -> Resampled<V> {
        let without = self.without.iter().zip(&other.without).map(|(own, other)| make(own, other)).collect();
        Resampled { whole: make(&self.whole, &other.whole), without }
    }

    /// A measure of it; `None` where that is not defined on every resample.
    pub fn measure(&self, measure: impl Fn(&T) -> Option<f64>) -> Option<Resampled<f64>> {
        Some(Resampled { whole: measure(&self.whole)?, without: self.without.iter().map(measure).collect::<Option<_>>()? })
    }

    /// The value of `measure` and its jackknife standard error; `None` where it is not defined on every resample.
    pub fn estimate(&self, measure: impl Fn(&T) -> Option<f64>) -> Option<Estimate> {
        self.measure(measure).map(|figure| figure.error())
    }
}

impl Resampled<f64> {
    /// The value and its jackknife standard error, as it is told.
    #[must_use]
    pub fn error(&self) -> Estimate {
        Estimate::jackknife(self.whole, &self.without).told_of(&self.without)
    }

    /// Sum of figures, each with its source and a weight. Figures of one source stand on the same rays: batch by batch they are added before the
    /// jackknife. Sources are traced apart: their errors are added in squares.
    #[must_use]
    pub fn weighted_sum<'a>(figures: impl IntoIterator<Item = (usize, f64, &'a Self)>) -> Estimate {
        let mut by_source: BTreeMap<usize, Self> = BTreeMap::new();
        for (source, weight, figure) in figures {
            let sum = by_source.entry(source).or_insert_with(|| Self { whole: 0.0, without: vec![0.0; figure.without.len()] });
            sum.whole += weight * figure.whole;
            for (sum, one) in sum.without.iter_mut().zip(&figure.without) {
                *sum += weight * one;
            }
        }
        by_source
            .values()
            .map(Self::error)
            .fold(Estimate::exact(0.0), |sum, of_source| Estimate { value: sum.value + of_source.value, se: sum.se.hypot(of_source.se) })
    }
}
