//! Materials fitted to a measured decay: what they must absorb for the prediction to meet it, how sure that is, and what a recording cannot tell.
//!
//! - `states`: bounds of materials, and decays with other values of them, weighed along stored paths;
//! - `emulator`: how a decay goes with them, as a polynomial;
//! - `posterior`: what measured decays leave of the bounds;
//! - `octave`: one octave of that: fitted, not told apart, not told;
//! - `variant`: the scene with fitted materials as a text;
//! - `words`: all of it in sentences.
//!
//! Each octave is fitted by itself: tables are off octave by octave, and nothing is known of how. What the filter of an octave reads of its neighbors ([`super::read`]) is counted as it is once those are fitted too: it
//! is fitted three times, and the polynomial is that of the decay as it is read. Where a tenth of the decay or more is read in the end the octave tells of its neighbors and is left out; that their decays are known no better than
//! they were measured is an uncertainty.
//!
//! *Uncertainty of a datum*: scatter of a single place ([`super::scatter`]) and the error of the polynomial, each place by itself; of all places together tracing, tape, what the filter reads of neighbors, and the materials that are not fitted.
//!
//! *References.* As those files say.
//!
//! *Limits.* T30 or T20 alone: the early decay time scatters three times as much from place to place and tells a tenth more at best. What is wrong with the room and no material (a door that stood open, furniture that the
//! scene lacks) ends in the materials as long as their bounds allow; beyond them it is said and nothing is fitted.

pub mod emulator;
pub mod octave;
pub mod posterior;
pub mod states;
pub mod variant;
mod words;

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bands::{Band, Bands};
use crate::findings::{Basis, Span};
use crate::scene::Scene;

use self::emulator::Emulator;
use self::octave::OctaveFit;
use self::posterior::{Datum, Problem};
use self::states::{Described, State};
use super::Proved;

/// What a fitted figure is, and what 90 of 100 lie in.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Interval {
    /// The middle.
    pub value: f64,
    /// 5 of 100 lie below.
    pub low: f64,
    /// 5 of 100 lie above.
    pub high: f64,
}

impl Interval {
    fn new(value: f64, [low, high]: [f64; 2]) -> Self {
        Self { value, low, high }
    }
}

/// What a recording says of a material in an octave.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Its interval is narrower by 30 % or more.
    Fitted,
    /// It is not, but that of the sum with others is.
    NotToldApart,
    /// Neither.
    NotTold,
}

/// A material in an octave.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FitMaterial {
    /// Its name.
    pub name: String,
    /// Absorption as the scene says it.
    pub absorption: f64,
    /// Between what it may lie.
    pub bounds: Span,
    /// What the recording leaves of that.
    pub fitted: Interval,
    /// By how much its interval is narrower than before the recording, in logarithms.
    pub narrowed_percent: f64,
    /// What of it the recording tells.
    pub outcome: Outcome,
    /// Absorption that the variant says; left out where it keeps that of the scene.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub written: Option<f64>,
}

/// A material and what is made of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Made {
    /// Its name.
    pub name: String,
    /// Surfaces, openings, blocks, panels.
    pub on: Vec<String>,
}

/// Materials that cannot be told apart in an octave.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NotToldApart {
    /// They, and what is made of them.
    pub materials: Vec<Made>,
    /// By which factor they take more together than the scene says.
    pub factor: Interval,
    /// By how much that is narrower than before the recording, in logarithms.
    pub narrowed_percent: f64,
}

/// The decay of one place in an octave.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FitDecay {
    /// Name of the source.
    pub source: String,
    /// Name of the seat or microphone.
    pub receiver: String,
    /// As measured, T30 or T20; of several recordings of one place their mean.
    pub measured_s: f64,
    /// As predicted by the scene.
    pub predicted_s: f64,
    /// As predicted by the variant.
    pub fitted_s: Option<f64>,
    /// One standard uncertainty of a difference: place, tracing, tape.
    pub sure_s: f64,
}

/// An octave that was fitted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FitOctave {
    /// Nominal frequency.
    pub frequency_hz: u32,
    /// Decays.
    pub decays: Vec<FitDecay>,
    /// Whether materials between their bounds can ring as was measured; where not, nothing is fitted.
    pub is_met: bool,
    /// Materials.
    pub materials: Vec<FitMaterial>,
    /// What cannot be told apart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_told_apart: Option<NotToldApart>,
}

/// What became of a material in the variant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Changed {
    /// The material of the scene.
    pub material: Made,
    /// Its name in the variant.
    pub written_as: String,
}

/// A plan of the variant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Replan {
    /// Panels that it hangs anew.
    pub hung_anew: u32,
    /// Panels that hang and stay.
    pub staying: u32,
    /// Panels that hang and leave their places.
    pub leaving: u32,
    /// What is wrong with the room as it hangs now.
    pub now_steps: Option<f64>,
    /// With the plan.
    pub planned_steps: Option<f64>,
}

/// Materials fitted to measured decays.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Fit {
    /// What came of it, in sentences.
    pub verdict: Vec<String>,
    /// Octaves, lowest first.
    pub octaves: Vec<FitOctave>,
    /// What the variant changes; none where nothing is told.
    pub changed: Vec<Changed>,
    /// The plan of the variant, where there was one to make.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replan: Option<Replan>,
    /// Where theory or data stop.
    pub notes: Vec<String>,
}

/// A measured decay in one octave beside the predicted one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// `ln` of measured over predicted.
    pub off: f64,
    /// Seconds, measured.
    pub measured_s: f64,
    /// Seconds, predicted.
    pub predicted_s: f64,
    /// Scatter of the place, as a share.
    pub scatter: f64,
    /// Error of the tracing, as a share.
    pub tracing: f64,
    /// How far off what its filter reads of neighbors may be, as a share; the same at all places.
    pub reading: f64,
    /// Whether it is T30, else T20.
    pub is_t30: bool,
}

/// Measured decays of one place, by octave; `None` where nothing is known.
#[must_use]
pub fn measured(recordings: &[&Proved]) -> Bands<Option<Measured>> {
    Bands::from_fn(|band: Band| {
        let one = |proved: &&Proved| {
            let octave = proved.octaves.get(band.index())?;
            let decay = octave.decay();
            let (measured, predicted, scatter) = (decay.measured.value?, decay.predicted?, decay.scatter?);
            let told = (octave.is_by_t30(), measured, predicted.value, [scatter / measured, predicted.se / predicted.value]);
            (measured > 0.0 && predicted.value > 0.0).then_some(told)
        };
        // Recordings of one place share its scatter: their mean is one datum.
        let known: Vec<_> = recordings.iter().filter_map(one).collect();
        let &(is_t30, _, predicted_s, [scatter, tracing]) = known.first()?;
        let alike: Vec<f64> = known.iter().filter(|one| one.0 == is_t30).map(|one| one.1.ln()).collect();
        let measured_s = (alike.iter().sum::<f64>() / alike.len() as f64).exp();
        Some(Measured { off: (measured_s / predicted_s).ln(), measured_s, predicted_s, scatter, tracing, reading: 0.0, is_t30 })
    })
}

/// Whether an octave of a place is judged, by octave.
#[must_use]
pub fn judged(recordings: &[&Proved]) -> Bands<bool> {
    let is_judged =
        |proved: &&Proved, band: Band| proved.octaves.get(band.index()).is_some_and(|octave| octave.basis != Basis::Statistical);
    Bands::from_fn(|band| recordings.iter().any(|proved| is_judged(proved, band)))
}

/// What is fitted: a room described, and what was measured at each of its pairs.
pub struct Fitting<'a> {
    /// How decays go with materials.
    pub described: &'a Described,
    /// Polynomials of that beside neighbors as they are believed to be, `[pair]`.
    pub emulators: &'a [Bands<Option<Emulator>>],
    /// By pair.
    pub measured: &'a [Bands<Option<Measured>>],
    /// How far off decays may be by the tape, one standard uncertainty, as a logarithm.
    pub tape: Bands<f64>,
    /// Seed of the scene.
    pub seed: u64,
}

impl Fitting<'_> {
    /// All octaves that can be fitted.
    #[must_use]
    pub fn octaves(&self) -> Vec<OctaveFit> {
        let fixed: Vec<bool> = self.described.materials.iter().map(|material| material.is_kept).collect();
        let bands: Vec<Band> = Band::ALL.into_iter().collect();
        let fitted = bands.into_par_iter().map(|band| Some(OctaveFit::new(band, self.problem(band)?, &fixed, self.seed)));
        fitted.collect::<Vec<_>>().into_iter().flatten().collect()
    }

    /// What is asked of an octave; `None` where nothing was measured in it, or nothing can be told of it.
    fn problem(&self, band: Band) -> Option<Problem> {
        let known: Vec<(usize, Measured)> = self.known(band).collect();
        let datum = |&(pair, one): &(usize, Measured)| {
            let emulator = self.emulators[pair][band].clone()?;
            Some(Datum { off: one.off, sure: one.scatter.hypot(emulator.error), emulator })
        };
        let data: Vec<Datum> = known.iter().filter_map(datum).collect();
        let mean =
            |of: fn(&Measured) -> f64| (known.iter().map(|(_, one)| of(one).powi(2)).sum::<f64>() / known.len().max(1) as f64).sqrt();
        let shared = mean(|one| one.tracing).hypot(mean(|one| one.reading)).hypot(self.tape[band]).hypot(self.described.left_out[band]);
        let unknowns: Vec<_> = self.described.materials.iter().map(|material| material.octaves[band]).collect();
        (!data.is_empty() && !unknowns.is_empty()).then_some(Problem { unknowns, data, shared })
    }

    /// What was measured in an octave of those pairs that can be described.
    fn known(&self, band: Band) -> impl Iterator<Item = (usize, Measured)> + '_ {
        let each = self.measured.iter().enumerate();
        each.filter_map(move |(pair, one)| Some((pair, one[band]?))).filter(move |&(pair, _)| self.emulators[pair][band].is_some())
    }

    /// The state of the room in the middle of what may be: it rings as was measured, whether or not materials are told apart.
    #[must_use]
    pub fn middle(&self, octaves: &[OctaveFit]) -> State {
        let factor = |index: usize, band: Band| {
            let fit = met(octaves, band);
            fit.map_or(1.0, |fit| fit.told[index].absorption / self.described.materials[index].octaves[band].absorption)
        };
        (0..self.described.materials.len()).map(|index| Bands::from_fn(|band| factor(index, band))).collect()
    }

    /// All of it as it is told; `pairs` are names of source and receiver, `after` decays by the variant, `[pair]`.
    #[must_use]
    pub fn told(
        &self,
        scene: &Scene,
        octaves: &[OctaveFit],
        pairs: &[[String; 2]],
        after: &[Bands<Option<f64>>],
        changed: Vec<Changed>,
    ) -> Fit {
        let told = octaves.iter().map(|fit| self.octave(scene, fit, pairs, after)).collect();
        let mut fit = Fit { verdict: Vec::new(), octaves: told, changed, replan: None, notes: Vec::new() };
        fit.notes = words::notes(scene, (self.described, self.emulators), &fit);
        fit.tell();
        fit
    }

    fn octave(&self, scene: &Scene, fit: &OctaveFit, pairs: &[[String; 2]], after: &[Bands<Option<f64>>]) -> FitOctave {
        let materials = &self.described.materials;
        let material = |(index, unknown): (usize, &posterior::Unknown)| {
            let told = fit.told[index];
            let is_together = fit.together.as_ref().is_some_and(|group| group.members.contains(&index));
            FitMaterial {
                name: materials[index].name.clone(),
                absorption: unknown.absorption,
                bounds: Span { low: unknown.low, high: unknown.high },
                fitted: Interval::new(told.absorption, told.ends),
                narrowed_percent: 100.0 * told.narrowed,
                outcome: match (fit.is_fitted(index), is_together) {
                    (true, _) => Outcome::Fitted,
                    (false, true) => Outcome::NotToldApart,
                    (false, false) => Outcome::NotTold,
                },
                written: fit.written[index],
            }
        };
        let decay = |(pair, one): (usize, Measured)| {
            let error = self.emulators[pair][fit.band].as_ref().map_or(0.0, |emulator| emulator.error);
            FitDecay {
                source: pairs[pair][0].clone(),
                receiver: pairs[pair][1].clone(),
                measured_s: one.measured_s,
                predicted_s: one.predicted_s,
                fitted_s: after[pair][fit.band],
                sure_s: one.predicted_s * one.scatter.hypot(error).hypot(fit.problem.shared),
            }
        };
        FitOctave {
            frequency_hz: fit.band.nominal(),
            decays: self.known(fit.band).map(decay).collect(),
            is_met: fit.is_met(),
            materials: fit.problem.unknowns.iter().enumerate().map(material).collect(),
            not_told_apart: fit.together.as_ref().map(|group| NotToldApart {
                materials: group.members.iter().map(|&index| variant::made(scene, &materials[index].name)).collect(),
                factor: Interval::new(group.factor, group.ends),
                narrowed_percent: 100.0 * group.narrowed,
            }),
        }
    }
}

/// An octave that materials between their bounds ring as.
#[must_use]
pub fn met(octaves: &[OctaveFit], band: Band) -> Option<&OctaveFit> {
    octaves.iter().find(|fit| fit.band == band && fit.is_met())
}

impl Fit {
    /// Makes the sentences anew.
    fn tell(&mut self) {
        self.verdict = words::sentences(self);
    }

    /// The same with what a plan of the variant brings, or why there is none.
    #[must_use]
    pub fn planned(mut self, replan: Result<Replan, String>) -> Self {
        match replan {
            Ok(replan) => self.replan = Some(replan),
            Err(why) => self.notes.push(why),
        }
        self.tell();
        self
    }
}
