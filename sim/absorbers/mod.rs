//! What surfaces are made of: which share of the energy of a bounce is mirrored and which is scattered, by band and angle.
//!
//! A [`Finish`] tabulates, for [`COSINE_BINS`] equal bins of the cosine `c` of the angle of incidence, the mirrored share `(1 - alpha)(1 - s)` and the
//! scattered share `(1 - alpha) s`. In a diffuse field the power that falls on a surface is spread over the cosine as `2 c dc`; a bin holds the mean over
//! its cosines with that weight, so that the sum over the bins with the weights `(2 i + 1) / COSINE_BINS^2` is the diffuse value exactly. Early sound, which
//! meets a surface at one angle, and late sound, which meets it at all, are served by the same numbers.
//!
//! - [`Finish::uniform`]: the same at every angle;
//! - [`Finish::from_random_incidence`]: a row of a table, through a real locally reacting impedance, in part a deep layer where none absorbs as much (`impedance`);
//! - [`Finish::from_sample`]: a row that holds the edges of the sample it was measured on (`sized::sample`); [`Finish::tabled`]: whichever of both a row is;
//! - [`Finish::suspended`]: a face of a panel that hangs free (`suspended`);
//! - [`Finish::of`]: a build-up of layers (`layers`: what it is made of; `fluid`, `opening`: what fiber and holes are to sound; `stack`: at one tone and angle; `average`: from all
//!   angles and in octaves; `resistivity`: what is known of fiber by its density);
//! - [`Finish::mixed`], [`Finish::with_edge`]: made from other finishes.
//!
//! How a wall moves as a whole, which is for waves only, is its [`Body`].
//!
//! *References.* Diffuse average: E. T. Paris, Phil. Mag. 5 (1928) (from memory). Scattering coefficient: ISO 17497-1:2004.
//!
//! *Limits.* Surfaces have no size here: edge effects belong to whoever knows the size (`sized`). The scattering coefficient is the same at every angle. No
//! surface adds energy: a share is never below 0 or above 1, whatever the table or the user says, and both shares of a bounce together are what it leaves,
//! to the last bit.

mod angles;
pub mod average;
pub mod body;
pub mod cache;
pub mod fluid;
pub mod impedance;
pub mod layers;
pub mod opening;
pub mod resistivity;
pub mod scattering;
pub mod sized;
pub mod stack;
pub mod suspended;
pub mod table;

use std::sync::Arc;

pub use body::Body;
pub use layers::{Backing, BuildUp, Incidence, Layer};
use num_complex::Complex64;
use suspended::Suspended;

use crate::bands::{Band, Bands};

/// How many bins the cosine of the angle of incidence is sorted into.
pub const COSINE_BINS: usize = 64;

/// A surface finish: mirrored and scattered share of the energy for every bin of the cosine of the angle of incidence.
///
/// A bin holds the mean over its cosines, weighted as in a diffuse field (2 cos), so that the diffuse average over all bins is the
/// diffuse value itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Finish {
    /// Name, for print.
    pub name: String,
    /// `(1 - alpha)(1 - s)` by cosine bin (0: grazing) and band.
    pub specular: Vec<Bands<f32>>,
    /// `(1 - alpha) s` by cosine bin and band.
    pub diffuse: Vec<Bands<f32>>,
    /// Random-incidence absorption coefficient, as used.
    pub absorption: Bands<f64>,
    /// Scattering coefficient: the share of what is mirrored that goes elsewhere.
    pub scattering: Bands<f64>,
    /// Share of what comes in a diffuse field that passes through to the other side and is scattered in place of what comes from there; 0 but of what hangs free.
    pub passed: Bands<f64>,
    /// Whether the value of this band was filled by rule, or lies outside the range the model was fitted on.
    pub extrapolated: Bands<bool>,
    /// Whether the value asked for is more than any flat material absorbs, and was held at that most: [`impedance::GREATEST_KEPT`], or 1 where every angle
    /// absorbs alike by the user's word.
    pub capped: Bands<bool>,
    /// Depth of the build-up before the surface it lies on, meters (0 for bare surfaces).
    pub depth: f64,
    /// The layers, where these are known: they tell the phase of what is mirrored.
    pub build_up: Option<Arc<BuildUp>>,
    /// The face of a panel that hangs free: it tells the phase there.
    pub suspended: Option<Arc<Suspended>>,
    /// The real admittance re that of air that a random-incidence value stands for; `None` where another law is known.
    pub admittance: Option<Bands<f64>>,
    /// Whether the values of a table were turned back into an endless surface: those of any other hold the edges of the sample that they were measured on.
    pub is_turned_back: bool,
    /// What it absorbs at the least and at the most flow resistivity that the density of its fiber leaves open; `None` where it has no fiber that is known by density.
    pub by_resistivity: Option<Bands<[f64; 2]>>,
    /// How it moves as a whole, where that is known: it tells waves the phase that its absorption leaves open.
    pub body: Option<Body>,
}

/// How a finish mirrors pressure at one angle of incidence, at its front face: layers as they tell it; a real admittance with its sign, which turns where sound grazes
/// it; any other finish in phase.
#[derive(Clone, Debug)]
pub struct Reflector<'a> {
    cosine: f64,
    build_up: Option<&'a BuildUp>,
    suspended: Option<&'a Suspended>,
    admittance: Option<Bands<f64>>,
    /// Root of what is not scattered; without layers root of the mirrored share.
    size: Bands<f64>,
}

impl Reflector<'_> {
    /// Pressure mirrored re the one that comes, for a tone of so many Hz.
    #[must_use]
    pub fn factor(&self, frequency: f64) -> Complex64 {
        let size = self.size.between(frequency);
        match (self.build_up, self.suspended, self.admittance) {
            (Some(build_up), ..) => build_up.reflection_factor(frequency, self.cosine) * size,
            (None, Some(face), _) => face.reflection_factor(frequency, self.cosine) * size,
            (None, None, Some(admittance)) if self.cosine < admittance.between(frequency) => Complex64::from(-size),
            _ => Complex64::from(size),
        }
    }
}

/// The bin of a cosine of the angle of incidence; 1 (normal incidence) falls into the last.
#[must_use]
pub fn cosine_bin(cosine: f64) -> u8 {
    ((cosine * COSINE_BINS as f64) as usize).min(COSINE_BINS - 1) as u8
}

/// Share of a diffuse field's incident power that falls into a bin: `(2 bin + 1) / COSINE_BINS^2`; all bins together make 1.
#[must_use]
pub fn bin_weight(bin: usize) -> f64 {
    (2 * bin + 1) as f64 / (COSINE_BINS * COSINE_BINS) as f64
}

/// Diffuse average of a quantity tabulated by cosine bin.
#[must_use]
pub fn diffuse_average(bins: &[Bands<f32>]) -> Bands<f64> {
    bins.iter().enumerate().fold(Bands::splat(0.0), |sum, (bin, shares)| sum + shares.map(|share| f64::from(share) * bin_weight(bin)))
}

impl Finish {
    /// The same absorption and scattering at every angle (rooms with a closed form; the laws of statistical acoustics).
    ///
    /// Values above 1 are held there and marked in `capped`.
    #[must_use]
    pub fn uniform(name: &str, absorption: Bands<f64>, scattering: Bands<f64>) -> Self {
        let capped = absorption.map(|value| value > 1.0);
        let absorption = absorption.map(share_of_one);
        let mut finish = Self::from_bins(name, scattering, |_| absorption);
        finish.absorption = absorption;
        finish.capped = capped;
        finish
    }

    /// A surface known by its random-incidence absorption coefficient: band by band a real locally reacting impedance, in part a deep layer where none absorbs as much.
    ///
    /// Values above [`impedance::GREATEST_KEPT`] are held there and marked in `capped`.
    #[must_use]
    pub fn from_random_incidence(name: &str, absorption: Bands<f64>, scattering: Bands<f64>, extrapolated: Bands<bool>) -> Self {
        let asked = absorption.map(|value| if value.is_nan() { 0.0 } else { value.max(0.0) });
        let capped = asked.map(|value| value > impedance::GREATEST_KEPT);
        let held = asked.map(|value| value.min(impedance::GREATEST_KEPT));
        let bins = held.map(impedance::bins);
        let mut finish = Self::from_bins(name, scattering, |bin| Bands::from_fn(|band| bins[band][bin]));
        finish.absorption = held;
        finish.admittance = Some(held.map(|absorption| 1.0 / impedance::from_random_incidence(absorption)));
        finish.extrapolated = extrapolated;
        finish.capped = capped;
        finish
    }

    /// A surface known by the absorption coefficient of a sample, with its edges: the endless one whose piece as large as the usual sample absorbs so much
    /// ([`sized::sample`]), as by [`Self::from_random_incidence`].
    ///
    /// Marked in `capped` where no such surface absorbs as much.
    #[must_use]
    pub fn from_sample(name: &str, absorption: Bands<f64>, scattering: Bands<f64>, extrapolated: Bands<bool>) -> Self {
        let found = sized::sample::Sample::usual().material(absorption);
        let mut finish = Self::from_random_incidence(name, found.map(|found| found.absorption), scattering, extrapolated);
        finish.capped = found.map(|found| found.capped);
        finish.is_turned_back = true;
        finish
    }

    /// A surface known by the values of a table: by [`Self::from_sample`] where one is above 1, which tells that the edges of its sample are in it, and then in all of its values; else by
    /// [`Self::from_random_incidence`].
    #[must_use]
    pub fn tabled(name: &str, absorption: Bands<f64>, scattering: Bands<f64>, extrapolated: Bands<bool>) -> Self {
        let of = if absorption.0.iter().any(|&value| value > 1.0) { Self::from_sample } else { Self::from_random_incidence };
        of(name, absorption, scattering, extrapolated)
    }

    /// A build-up of layers. A band is the mean over the octave ([`average`]); the depth is that of the layers.
    ///
    /// Marked as extrapolated where the model of a porous layer leaves the range that it was fitted on. With free air behind, what passes through the build-up is
    /// not absorbed: it is scattered, as by a panel without end that hangs free ([`Self::suspended`]).
    #[must_use]
    pub fn of(name: &str, build_up: &BuildUp, scattering: Bands<f64>) -> Self {
        Self::from_build_up(name, build_up, &build_up.bins(), scattering)
    }

    /// A build-up whose absorption by bin is known.
    fn from_build_up(name: &str, build_up: &BuildUp, bins: &cache::Bins, scattering: Bands<f64>) -> Self {
        let mut finish = match build_up.backing {
            Backing::Rigid => Self::from_bins(name, scattering, |bin| bins[bin]),
            Backing::FreeAir => {
                let endless = Suspended::new(build_up, suspended::Side::Front, f64::INFINITY, f64::INFINITY);
                Self::open(name, &endless.bins()[0], bins, scattering)
            }
        };
        finish.absorption = averaged(bins);
        finish.extrapolated = Bands::from_fn(|band| !build_up.is_fitted_at(band.center()));
        finish.depth = build_up.depth();
        finish.build_up = Some(Arc::new(build_up.clone()));
        finish
    }

    /// A face of a panel that hangs free: what passes through it is scattered, `scattering` is that of what it mirrors. A band is the mean over the octave.
    #[must_use]
    pub fn suspended(name: &str, face: &Suspended, scattering: Bands<f64>) -> Self {
        let [mirrored, absorbed] = face.bins();
        let mut finish = Self::open(name, &mirrored, &absorbed, scattering);
        finish.absorption = averaged(&absorbed);
        finish.extrapolated = Bands::from_fn(|band| !face.layers().is_fitted_at(band.center()));
        finish.depth = face.layers().depth();
        finish.suspended = Some(Arc::new(face.clone()));
        finish
    }

    /// Tables of what mirrors and absorbs these shares by bin, and lets the rest through.
    fn open(name: &str, mirrored: &cache::Bins, absorbed: &cache::Bins, scattering: Bands<f64>) -> Self {
        let mut finish = Self::from_bins(name, scattering, |bin| absorbed[bin]);
        (finish.specular, finish.diffuse) = tables(|bin, band| {
            let kept = 1.0 - share_of_one(absorbed[bin][band]);
            let mirrored = mirrored[bin][band].min(kept) * (1.0 - finish.scattering[band]);
            (kept, kept - mirrored)
        });
        finish.passed = averaged(absorbed).zip(averaged(mirrored), |absorbed, mirrored| share_of_one(1.0 - absorbed - mirrored));
        finish
    }

    /// Share of what is not absorbed that is scattered, in a diffuse field: what passes through, and of what is mirrored its [`Self::scattering`].
    #[must_use]
    pub fn scattered(&self, band: Band) -> f64 {
        let (passed, scattering, kept) = (self.passed[band], self.scattering[band], 1.0 - self.absorption[band]);
        if passed > 0.0 && kept > 0.0 { scattering + (1.0 - scattering) * (passed / kept).min(1.0) } else { scattering }
    }

    /// A surface of which `share` (0 to 1) is `other` and the rest `self`, too fine to tell apart.
    ///
    /// Linear in the mirrored and in the scattered share, so that a difference of two mixes measures a derivative.
    #[must_use]
    pub fn mixed(first: &Self, second: &Self, share: f64) -> Self {
        let share = share_of_one(share);
        let blend = |a: f64, b: f64| a * (1.0 - share) + b * share;
        let (specular, diffuse) = tables(|bin, band| {
            let ((kept, scattered), (other_kept, other_scattered)) = (first.kept(bin, band), second.kept(bin, band));
            (blend(kept, other_kept), blend(scattered, other_scattered))
        });
        let absorption = first.absorption.zip(second.absorption, blend);
        // What is scattered, as a share of what is not absorbed.
        let scattered = |finish: &Self| Bands::from_fn(|band| (1.0 - finish.absorption[band]) * finish.scattered(band));
        let scattering = Bands::from_fn(|band: Band| {
            let reflected = 1.0 - absorption[band];
            if reflected > 0.0 {
                blend(scattered(first)[band], scattered(second)[band]) / reflected
            } else {
                blend(first.scattering[band], second.scattering[band])
            }
        });
        let either = |a: Bands<bool>, b: Bands<bool>| a.zip(b, |a, b| (a && share < 1.0) || (b && share > 0.0));
        Self {
            name: format!("{:.1} % {} in {}", 100.0 * share, second.name, first.name),
            specular,
            diffuse,
            absorption,
            scattering,
            passed: Bands::splat(0.0),
            extrapolated: either(first.extrapolated, second.extrapolated),
            capped: either(first.capped, second.capped),
            depth: blend(first.depth, second.depth),
            build_up: None,
            suspended: None,
            admittance: None,
            is_turned_back: false,
            by_resistivity: None,
            body: None,
        }
    }

    /// The same finish with the share `edge_scattering` of its mirrored energy scattered instead: what the outline of a finite panel does not mirror.
    #[must_use]
    pub fn with_edge(&self, edge_scattering: Bands<f64>) -> Self {
        let edge = edge_scattering.map(share_of_one);
        let (specular, diffuse) = tables(|bin, band| {
            let (kept, scattered) = self.kept(bin, band);
            (kept, scattered + (kept - scattered) * edge[band])
        });
        let scattering = self.scattering.zip(edge, |scattering, edge| scattering + (1.0 - scattering) * edge);
        Self { specular, diffuse, scattering, ..self.clone() }
    }

    /// Between which values the random-incidence absorption coefficient of a band may lie, one standard uncertainty to either side.
    ///
    /// It is as uncertain as tables disagree, whether it came from one or from the model of a layer: [`table::range`]; that density leaves its flow resistivity open comes beside.
    /// The upper end does not pass [`impedance::GREATEST_KEPT`].
    #[must_use]
    pub fn absorption_range(&self, band: Band) -> (f64, f64) {
        let value = self.absorption[band];
        let range = table::range(value, band, self.extrapolated[band]);
        let (low, high) = self.by_resistivity.map_or(range, |ends| table::wider(value, range, ends[band]));
        (low, high.min(impedance::GREATEST_KEPT.max(value)))
    }

    /// The same finish as if it absorbed so much in a diffuse field, octave by octave, and scattered the same share of what it leaves.
    ///
    /// A value of a table is turned into an impedance anew and held at [`impedance::GREATEST_KEPT`]. Of any other law all angles absorb more or less by one factor, none of them
    /// more than all. The layers of a build-up are given up: no others are known that absorb so much.
    #[must_use]
    pub fn with_absorption(&self, absorption: Bands<f64>) -> Self {
        let most = if self.admittance.is_some() { impedance::GREATEST_KEPT } else { 1.0 };
        let absorption = absorption.map(|value| held(value, 0.0, most));
        let bins = Bands::from_fn(|band| match absorption[band] {
            value if value == self.absorption[band] => self.absorbed(band),
            value if self.admittance.is_some() => impedance::bins(value),
            value => scaled(self.absorbed(band), value),
        });
        let (specular, diffuse) = tables(|bin, band| {
            let (kept, scattered) = self.kept(bin, band);
            let left = 1.0 - bins[band][bin];
            (left, left * if kept > 0.0 { scattered / kept } else { self.scattering[band] })
        });
        Self {
            specular,
            diffuse,
            absorption,
            admittance: self.admittance.map(|_| absorption.map(|value| 1.0 / impedance::from_random_incidence(value))),
            build_up: None,
            by_resistivity: None,
            ..self.clone()
        }
    }

    /// The same finish off by a share of its uncertainty in all octaves: at -1 it absorbs as little as [`Self::absorption_range`] says, at 1 as much.
    #[must_use]
    pub fn off_by(&self, share: f64) -> Self {
        self.with_absorption(Bands::from_fn(|band| {
            let (value, (low, high)) = (self.absorption[band], self.absorption_range(band));
            value + share.max(0.0) * (high - value) + share.min(0.0) * (value - low)
        }))
    }

    /// What each bin of the cosine absorbs in one band.
    fn absorbed(&self, band: Band) -> [f64; COSINE_BINS] {
        std::array::from_fn(|bin| 1.0 - self.kept(bin, band).0)
    }

    /// Mirrored share of the energy at this cosine of incidence, linear between the middles of the bins.
    #[must_use]
    pub fn specular_at(&self, cosine: f64) -> Bands<f64> {
        at(&self.specular, cosine)
    }

    /// The same in one band.
    #[must_use]
    pub fn specular_in(&self, cosine: f64, band: Band) -> f64 {
        let (low, share) = between_bins(cosine);
        f64::from(self.specular[low][band]) * (1.0 - share) + f64::from(self.specular[low + 1][band]) * share
    }

    /// How it mirrors pressure at this cosine of incidence.
    #[must_use]
    pub fn reflector(&self, cosine: f64) -> Reflector<'_> {
        let size = if self.build_up.is_some() || self.suspended.is_some() {
            self.scattering.map(|scattering| (1.0 - scattering).max(0.0).sqrt())
        } else {
            self.specular_at(cosine).map(f64::sqrt)
        };
        let (build_up, suspended) = (self.build_up.as_deref(), self.suspended.as_deref());
        Reflector { cosine, build_up, suspended, admittance: self.admittance, size }
    }

    /// Scattered share of the energy at this cosine of incidence, linear between the middles of the bins.
    #[must_use]
    pub fn diffuse_at(&self, cosine: f64) -> Bands<f64> {
        at(&self.diffuse, cosine)
    }

    /// Builds the two tables from the absorption coefficient by bin; the caller sets what it knows better.
    fn from_bins(name: &str, scattering: Bands<f64>, absorption: impl Fn(usize) -> Bands<f64>) -> Self {
        let scattering = scattering.map(share_of_one);
        let kept: Vec<Bands<f64>> = (0..COSINE_BINS).map(|bin| absorption(bin).map(|absorption| 1.0 - share_of_one(absorption))).collect();
        let (specular, diffuse) = tables(|bin, band| (kept[bin][band], kept[bin][band] * scattering[band]));
        Self {
            name: name.to_owned(),
            specular,
            diffuse,
            absorption: Bands::splat(0.0),
            scattering,
            passed: Bands::splat(0.0),
            extrapolated: Bands::splat(false),
            capped: Bands::splat(false),
            depth: 0.0,
            build_up: None,
            suspended: None,
            admittance: None,
            is_turned_back: false,
            by_resistivity: None,
            body: None,
        }
    }

    /// What a bounce leaves, and how much of that it scatters.
    fn kept(&self, bin: usize, band: Band) -> (f64, f64) {
        let [mirrored, scattered] = [self.specular[bin][band], self.diffuse[bin][band]].map(f64::from);
        (mirrored + scattered, scattered)
    }
}

/// What bins absorb that are all scaled by one factor, none to more than all, until their diffuse average is `absorption`, as far as there is anything to scale.
fn scaled(bins: [f64; COSINE_BINS], absorption: f64) -> [f64; COSINE_BINS] {
    let by = |factor: f64| bins.map(|value| (value * factor).min(1.0));
    let mut factor = 0.0;
    // What is full takes no more: the rest is scaled up again, until none is filled anew.
    for _ in 0..COSINE_BINS {
        let (mut full, mut free) = (0.0, 0.0);
        for (bin, value) in bins.iter().enumerate() {
            let sum = if value * factor > 1.0 { &mut full } else { &mut free };
            *sum += bin_weight(bin) * if value * factor > 1.0 { 1.0 } else { *value };
        }
        let next = (absorption - full) / free;
        if !next.is_finite() || next <= factor {
            break;
        }
        factor = next;
    }
    by(factor)
}

/// Diffuse mean of a share by bin.
fn averaged(bins: &cache::Bins) -> Bands<f64> {
    (0..COSINE_BINS).fold(Bands::splat(0.0), |sum, bin| sum + bins[bin] * bin_weight(bin))
}

/// Mirrored and scattered share by bin and band, from what a bounce leaves and how much of that it scatters.
fn tables(of: impl Fn(usize, Band) -> (f64, f64)) -> (Vec<Bands<f32>>, Vec<Bands<f32>>) {
    let split = |bin| {
        let both = Bands::from_fn(|band| {
            let (kept, scattered) = of(bin, band);
            split(kept, scattered)
        });
        (both.map(|(mirrored, _)| mirrored), both.map(|(_, scattered)| scattered))
    };
    (0..COSINE_BINS).map(split).unzip()
}

/// Mirrored and scattered share, which together are exactly what a bounce leaves, itself rounded to single precision: each rounded by itself, they
/// made 3e-8 of the energy anew at every bounce off a hard wall, 2e-6 in half a second.
///
/// The larger is rounded; the smaller is the difference, which single precision holds exactly, since the larger is no less than half of the whole
/// (P. H. Sterbenz, Floating-Point Computation, 1974, theorem 4.3.1; from memory). The smaller is off by 3e-8 of the whole at most.
fn split(kept: f64, scattered: f64) -> (f32, f32) {
    let whole = kept as f32;
    let mirrored = f64::from(whole) - scattered;
    if mirrored > scattered {
        let mirrored = (mirrored as f32).min(whole);
        (mirrored, whole - mirrored)
    } else {
        let scattered = (scattered as f32).min(whole);
        (whole - scattered, scattered)
    }
}

/// The bin whose middle lies below a cosine, and how far to the next one's it is.
fn between_bins(cosine: f64) -> (usize, f64) {
    let place = (cosine * COSINE_BINS as f64 - 0.5).clamp(0.0, (COSINE_BINS - 1) as f64);
    let low = (place as usize).min(COSINE_BINS - 2);
    (low, place - low as f64)
}

/// Linear between the middles of the bins, constant beyond the outermost.
fn at(bins: &[Bands<f32>], cosine: f64) -> Bands<f64> {
    let (low, share) = between_bins(cosine);
    bins[low].zip(bins[low + 1], |a, b| f64::from(a) * (1.0 - share) + f64::from(b) * share)
}

/// A value held within bounds; not-a-number counts as the least.
fn held(value: f64, least: f64, most: f64) -> f64 {
    if value.is_nan() { least } else { value.clamp(least, most) }
}

/// A share, held between 0 and 1; not-a-number counts as 0.
fn share_of_one(value: f64) -> f64 {
    held(value, 0.0, 1.0)
}
