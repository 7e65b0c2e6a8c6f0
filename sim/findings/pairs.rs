//! What one source does at one receiver: decay, clarity, speech, strength by octave, each with its standard error and its basis.
//!
//! Strength is re the energy of the same source, averaged over its directions, at 10 m in a free field. The direct-to-reverberant
//! ratio is the direct sound over everything else, both in 1-8 kHz for a source flat over frequency.
//!
//! *References.* ISO 3382-1:2009, annex A (strength, early measures); ISO 3382-2:2008 (decay); IEC 60268-16 (speech). Comb depth of one
//! reflection of relative pressure a: `20 lg((1 + a) / (1 - a))`, any handbook.
//!
//! *Limits.* Octaves that no waves are joined to are marked statistical where their center lies below Schroeder's frequency of the bare room. Those of waves come through a filter that rings
//! itself: what decays about as fast as it is not told.

use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::metrics::clarity::Clarity;
use crate::metrics::decay::{DecayCurve, NotSupported, Range, Tail};
use crate::metrics::speech::speech_transmission_index;
use crate::response::{Estimate, Resampled, Response};
use crate::scene::Scene;
use crate::weigh::early::EarlyEnergy;
use crate::weigh::{Linings, Traced, flat_weights};

use super::reflections::early_reflections;
use super::{Basis, EnergyTime, NOTHING_DB, Octave, Pair};

/// Distance at which the reference of strength is taken, meters.
const STRENGTH_DISTANCE: f64 = 10.0;

/// One step of the decay curves for charts, in bins.
const DECAY_STEP: usize = 10;

/// Deeper combs than this are all the same, dB.
const COMB_MAX_DB: f64 = 40.0;

/// Pattern under which a microphone is deaf to the direct sound, as a share of its energy.
pub const DEAF_SHARE: f64 = 1e-4;

/// Bandwidth times time from which on a decay that waves bring is the room's and not the filter's: T20 and T30, early decay (4 for filters that run backward and 16 for those that run forward:
/// ISO 3382-2, from memory; ours ring to both sides, and 8 is our own choice between).
const SLOWER: [f64; 2] = [8.0, 16.0];

/// Effective share of the rays under which a band's figures are called thin.
const THIN_SHARE: f64 = 0.1;

/// What a pair is judged with.
pub struct Context<'a> {
    /// The scene.
    pub scene: &'a Scene,
    /// Its traced room.
    pub traced: &'a Traced,
    /// What its surfaces are made of.
    pub linings: &'a Linings,
    /// Early reflected energies.
    pub early: &'a EarlyEnergy,
    /// The pairs that the use is judged by.
    pub judged: &'a [(usize, usize)],
    /// Schroeder's frequency of the bare room, Hz.
    pub schroeder_hz: f64,
}

/// Decay times of one source at one receiver with all that the error of a mean over pairs and octaves needs.
#[derive(Clone, Debug)]
pub struct Decays {
    /// The source, whose rays all its pairs share.
    pub source: usize,
    /// By octave, what [`reverberation`] reads.
    pub octaves: Bands<Option<Resampled<f64>>>,
}

/// The findings of one source at one receiver, without what inputs move ([`super::inputs`]).
#[must_use]
pub fn pair(context: &Context<'_>, response: &Response, source: usize, receiver: usize) -> (Pair, Decays) {
    let (octaves, times): (Vec<_>, Vec<_>) = Band::ALL.into_par_iter().map(|band| octave(context, response, band)).unzip();
    let mut times = times.into_iter();
    let decays = Decays { source, octaves: Bands::from_fn(|_| times.next().flatten()) };
    (figures(context, response, (source, receiver), octaves), decays)
}

/// Everything about a pair, its octaves given.
fn figures(context: &Context<'_>, response: &Response, (source, receiver): (usize, usize), octaves: Vec<Octave>) -> Pair {
    let room = &context.traced.room;
    let reflections = early_reflections(context.traced, context.linings, source, receiver);
    let speech_to_noise = speech_to_noise(context.scene);
    let is_microphone = room.receivers[receiver].zone_radius.is_none();
    let flat = response.weighted(flat_weights());
    let direct_flat = (response.direct * flat_weights()).sum();
    let strongest = reflections.reflections.iter().map(|reflection| reflection.level_db).reduce(f64::max);
    let direct_share = context.traced.direct_share(source, receiver);
    let hears_direct = is_microphone && response.direct_visible && direct_share > DEAF_SHARE;
    let direct_heard = direct_flat * direct_share;
    Pair {
        source: room.sources[source].name.clone(),
        receiver: room.receivers[receiver].name.clone(),
        distance_m: context.traced.distance(source, receiver),
        octaves,
        speech_transmission_index: response
            .resampled_bands()
            .estimate(|curves| speech_transmission_index(curves, response.bin_s, speech_to_noise)),
        speech_transmission_index_inputs: None,
        speech_index_noise_free: speech_to_noise.is_none(),
        initial_delay_gap_ms: first_reflection_ms(context.traced, source, receiver),
        reflections: reflections.reflections,
        early_level_db: early_level(context.traced, context.early, source, receiver),
        early_level_inputs_db: None,
        early_excess_db: reflections.excess_db,
        direct_to_reverberant_db: hears_direct
            .then(|| flat.estimate(|curve| decibels(direct_heard / (curve.iter().sum::<f64>() - direct_heard))))
            .flatten(),
        comb_depth_db: hears_direct.then(|| strongest.map(|level| comb_depth(level - 10.0 * direct_share.log10()))).flatten(),
        at_microphone: is_microphone,
        judged: context.judged.contains(&(source, receiver)),
        early_responses: Vec::new(),
        energy_time: energy_time(response, &flat.whole, direct_flat),
    }
}

/// Level of speech over noise by octave, where the scene gives both, dB.
#[must_use]
pub fn speech_to_noise(scene: &Scene) -> Option<Bands<f64>> {
    scene.noise_level.zip(scene.speech_level).map(|(noise, speech)| speech - noise)
}

/// Early reflected level re direct, 1-8 kHz, zone-averaged, dB.
#[must_use]
pub fn early_level(traced: &Traced, early: &EarlyEnergy, source: usize, receiver: usize) -> Estimate {
    let weights = flat_weights();
    let direct = (traced.direct_energy(source, traced.room.receivers[receiver].position) * weights).sum();
    let images = (early.images[source][receiver] * weights).sum();
    let batches: Vec<f64> = early.rays[source][receiver].iter().map(|&batch| (images + (batch * weights).sum()) / direct).collect();
    let energy = Estimate::mean(&batches).told_of(&batches);
    Estimate::level(energy)
}

/// Delay of the first specular reflection after the direct sound, ms.
fn first_reflection_ms(traced: &Traced, source: usize, receiver: usize) -> Option<f64> {
    let first = traced.images[source][receiver].points[0].iter().find(|path| !path.path.bounces.is_empty())?;
    Some((first.path.length - traced.distance(source, receiver)) / traced.room.medium.speed * 1000.0)
}

/// Depth in dB of the comb that a reflection makes with the direct sound, its level in dB re direct (in a microphone's own signal); at most 40 dB.
#[must_use]
pub fn comb_depth(level_db: f64) -> f64 {
    let a = 10.0_f64.powf(level_db / 20.0);
    (20.0 * ((1.0 + a) / (1.0 - a).abs()).log10()).min(COMB_MAX_DB)
}

fn decibels(ratio: f64) -> Option<f64> {
    (ratio.is_finite() && ratio > 0.0).then(|| 10.0 * ratio.log10())
}

/// Decay curves of energies in bins of `bin_s` seconds.
#[must_use]
pub fn decay_curves(curves: &Resampled<Vec<f64>>, bin_s: f64) -> Resampled<Option<DecayCurve>> {
    curves.map(|curve| DecayCurve::new(curve, bin_s, Tail::Exponential).ok())
}

/// A decay time in seconds; `None` where a resample does not reach that far.
#[must_use]
pub fn decay_time(curves: &Resampled<Option<DecayCurve>>, range: Range) -> Option<Resampled<f64>> {
    curves.measure(|curve| Some(curve.as_ref()?.fit(range).ok()?.time_s))
}

/// T30 in seconds of a curve in bins of `bin_s` seconds, T20 where a resample does not reach; `None` where neither can be read.
///
/// One range for all resamples: mixing T30 and T20 would pass the curvature of the decay off as an error.
#[must_use]
pub fn reverberation(curves: &Resampled<Vec<f64>>, bin_s: f64) -> Option<Resampled<f64>> {
    reverberations([curves], bin_s).map(|[time]| time)
}

/// The same of curves that are compared: one range for all of them.
#[must_use]
pub fn reverberations<const COUNT: usize>(curves: [&Resampled<Vec<f64>>; COUNT], bin_s: f64) -> Option<[Resampled<f64>; COUNT]> {
    reverberations_of(curves, bin_s)?.try_into().ok()
}

/// The same of any number of curves.
#[must_use]
pub fn reverberations_of<'a>(curves: impl IntoIterator<Item = &'a Resampled<Vec<f64>>>, bin_s: f64) -> Option<Vec<Resampled<f64>>> {
    let curves: Vec<_> = curves.into_iter().map(|curves| decay_curves(curves, bin_s)).collect();
    let read = |range: Range| curves.iter().map(|curves| decay_time(curves, range)).collect::<Option<Vec<_>>>();
    read(Range::Thirty).or_else(|| read(Range::Twenty))
}

/// T30 and T20 in seconds of one of many curves that will be compared, so that one range can be chosen once all are known; `None` where a resample does not reach that far.
#[must_use]
pub fn both_ranges(curves: &Resampled<Vec<f64>>, bin_s: f64) -> [Option<Resampled<f64>>; 2] {
    let curves = decay_curves(curves, bin_s);
    [Range::Thirty, Range::Twenty].map(|range| decay_time(&curves, range))
}

/// The measures of an octave, and its T30 (or T20) resampled.
fn octave(context: &Context<'_>, response: &Response, band: Band) -> (Octave, Option<Resampled<f64>>) {
    let resampled = response.resampled(band);
    let bin_s = response.bin_s;
    let decays = decay_curves(&resampled, bin_s);
    let is_known = |range: Range, time: &Resampled<f64>| {
        let least = if range == Range::Early { SLOWER[1] / (band.upper() - band.lower()) } else { rings(band) };
        response.rays_share(band) >= 1.0 || time.whole > least
    };
    let ranges = [Range::Early, Range::Twenty, Range::Thirty];
    let times = ranges.map(|range| decay_time(&decays, range));
    let rings_as_long = ranges.iter().zip(&times).any(|(range, time)| time.as_ref().is_some_and(|time| !is_known(*range, time)));
    let mut known = ranges.into_iter().zip(times).map(|(range, time)| time.filter(|time| is_known(range, time)));
    let [early, twenty, thirty] = std::array::from_fn(|_| known.next().flatten());
    let [edt_s, t20_s, t30_s] = [&early, &twenty, &thirty].map(|time| time.as_ref().map(Resampled::error));
    let clarities = resampled.map(|curve| Clarity::new(curve, bin_s));
    let clarity = |part: fn(Clarity) -> Option<f64>| clarities.estimate(|clarity| (*clarity).and_then(part));
    let reference = response.mean_sent[band] / (4.0 * std::f64::consts::PI * STRENGTH_DISTANCE.powi(2));
    let effective = if response.rays_share(band) > 0.0 { context.traced.paths.effective_share[band] } else { 1.0 };
    let octave = Octave {
        frequency_hz: band.nominal(),
        basis: basis(context.schroeder_hz, response, band),
        edt_s,
        edt_inputs_s: None,
        t20_s,
        t20_inputs_s: None,
        t30_s,
        t30_inputs_s: None,
        c50_db: clarity(|clarity| clarity.c50_db),
        c50_inputs_db: None,
        c80_db: clarity(|clarity| clarity.c80_db),
        c80_inputs_db: None,
        d50: clarity(|clarity| Some(clarity.d50)),
        ts_ms: clarity(|clarity| Some(clarity.center_time_s * 1000.0)),
        g_db: resampled.estimate(|curve| decibels(curve.iter().sum::<f64>() / reference)),
        effective_sample_share: effective,
        note: note(&resampled.whole, bin_s, effective).or_else(|| rings_as_long.then(|| RINGS_AS_LONG.to_owned())),
    };
    (octave, thirty.or(twenty))
}

/// A decay time that waves bring is the room's only above this one, seconds.
#[must_use]
pub fn rings(band: Band) -> f64 {
    SLOWER[0] / (band.upper() - band.lower())
}

/// Why a decay that waves bring is not told.
const RINGS_AS_LONG: &str = "the octave's filter rings about as long as the room";

/// What the figures of an octave rest on. Where waves end below Schroeder's frequency, an octave whose center lies between is mostly one of rays where waves rule, though some of it is of waves.
#[must_use]
pub fn basis(schroeder_hz: f64, response: &Response, band: Band) -> Basis {
    let crossover = response.crossover_hz();
    let reaches = crossover >= 0.99 * schroeder_hz;
    match response.rays_share(band) {
        share if share <= 0.0 => Basis::Waves,
        share if share < 1.0 && (reaches || band.center() <= crossover) => Basis::Joined,
        _ if band.center() < schroeder_hz => Basis::Statistical,
        _ => Basis::Geometric,
    }
}

/// Why a figure of an octave is missing or thin.
fn note(curve: &[f64], bin_s: f64, effective: f64) -> Option<String> {
    let missing = match DecayCurve::new(curve, bin_s, Tail::Exponential) {
        Err(reason) => Some(reason),
        Ok(curve) => curve.t30().err().or_else(|| curve.edt().err()),
    };
    let thin = || (effective < THIN_SHARE).then(|| format!("only {:.0} % of the rays effectively carry this octave", 100.0 * effective));
    missing.as_ref().map(NotSupported::to_string).or_else(thin)
}

fn energy_time(response: &Response, flat: &[f64], direct_flat: f64) -> EnergyTime {
    let level_db = flat.iter().map(|energy| (10.0 * (energy / direct_flat).log10()).max(NOTHING_DB)).collect();
    let decay = |band: Band| {
        DecayCurve::new(&response.curve(band), response.bin_s, Tail::Exponential)
            .map(|curve| curve.level_db().iter().step_by(DECAY_STEP).map(|level| level.max(NOTHING_DB)).collect())
            .unwrap_or_default()
    };
    EnergyTime {
        bin_ms: response.bin_s * 1000.0,
        level_db,
        decay_db: Bands::from_fn(decay),
        decay_step_ms: response.bin_s * 1000.0 * DECAY_STEP as f64,
    }
}
