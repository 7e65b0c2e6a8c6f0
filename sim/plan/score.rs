//! The score: what is wrong with a layout, term by term, in steps that are just noticed.
//!
//! | term | what is wrong, in steps | a step |
//! | --- | --- | --- |
//! | reflections | sum of what each is over the criterion, octave by octave, mean of 1-8 kHz; worst head position of the zone, worst pair | 1 dB (1) |
//! | early level | all early reflections together, over -10 dB re direct: under that none can be over the criterion | 1 dB (1) |
//! | decay | mean T30 outside its range: `ln(T / T_high) / ln 1.05`, or `ln(T_low / T)`; without a range `ln(T / T_bare)` | 5 % (1) |
//! | evenness | octaves of that off their mean, up (boom) and down (dull) alike: mean of `abs ln(T_b / T_mean) / ln 1.05` | 5 % (1) |
//! | likeness | early level of left against right, what is over 1 dB, mean of the octaves 1-8 kHz, worst seat | 1 dB (2) |
//! | speech | C50 of voices under 7 dB, octaves 500 Hz - 4 kHz weighted 0.15, 0.25, 0.35, 0.25; worst pair | 1.1 dB (3) |
//! | flutter | facing surfaces that ring over twice as long as the decay may be, where that is asked: share of all that faces | a tenth (4) |
//! | bass | T30 of each octave that waves bring over what is asked of it: `max(0, ln(T / T_high) / ln 1.05)`, or `ln(T / T_bare) / ln 1.05` where nothing is; their mean | 5 % (1) |
//!
//! The sum of all, each times the weight that the scene gives it (`scene::goals`), is what a plan makes small; the score of a layout is by how much it is smaller than bare. Bass is known of
//! layouts that were run through waves, which are the finished ones that a plan compares ([`super::bass`]): where thousands are weighed by rays, in the search, panel by panel, between
//! alternatives and without waves at all, it is left out of the sum and told of none.
//!
//! *References.* (1) ISO 3382-1:2009, annex A: 1 dB for G and C80, 5 % for EDT, from concert halls. (2) A level difference of 1 dB between the ears is just noticed (J. Blauert, Spatial
//! Hearing, 1997, ch. 2.4; from memory); the tolerance of one step is our own choice. (3) J. S. Bradley, R. Reich and S. G. Norcross, Applied Acoustics 58 (1999) 99-108: 1.1 dB; L. G.
//! Marshall, J. Acoust. Soc. Am. 96 (1994) 2251-2261: weights of the octaves, over 7 dB excellent (both from memory). (4) Common practice, no source.
//!
//! *Errors.* Layouts are weighed on the same rays, so their scores err together; [`Faults::better_by`] takes the difference batch by batch. Terms bend (a decay inside its range
//! has nothing to gain), so the error is that of the whole sum without each batch of all sources at once.
//!
//! *Limits.* Reflections and flutter are those of mirrors: exact, without an error. Corner panels and clouds count as what they cover, see `flush`.

use std::collections::BTreeMap;

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::decay::SideBySide;
use super::flush::Flush;
use super::search::{Goal, early_level, relative_batches};
use crate::bands::{Band, Bands};
use crate::findings::Estimate;
use crate::findings::flutter::{SLOWER, ringing_share};
use crate::findings::likeness::mirrored_loudspeakers;
use crate::findings::reflections::{Excess, excesses, octave_mean};
use crate::findings::targets::CRITERION_DB;
use crate::hanging::Hanging;
use crate::hotspots::CLARITY_LIMIT_S;
use crate::metrics::clarity::early_to_late_db;
use crate::progress::{Cancelled, Progress};
use crate::response::{Resampled, Response, Responses, heard_energies};
use crate::scene::{Panel, SourceKind, Term, Terms};
use crate::weigh::early::{Change, EarlyEnergy, EarlyIndex};
use crate::weigh::variants::changes;
use crate::weigh::{Linings, RayCurve, Traced, early_bands, flat_weights, weigh_rays};

/// A step of a decay time, as a share of it.
pub const DECAY_STEP: f64 = 0.05;

/// Scores, and terms of them, nearer to each other than this are not told apart, and a panel that is worth less is not hung, steps: a tenth of what is noticed, and the last digit that
/// is printed.
pub const LEAST_STEPS: f64 = 0.1;

/// A difference of left and right that is not noticed, dB.
const LIKE_DB: f64 = 1.0;

/// Clarity of speech that leaves nothing to wish for, and a step of it, dB.
const CLEAR_DB: f64 = 7.0;
const CLARITY_STEP_DB: f64 = 1.1;

/// What the octaves 500 Hz to 4 kHz count for clarity.
const CLARITY_WEIGHTS: [(usize, f64); 4] = [(3, 0.15), (4, 0.25), (5, 0.35), (6, 0.25)];

/// What share of all that faces makes a step of flutter.
pub const FLUTTER_STEP: f64 = 0.1;

/// A traced room, and what layouts in it are weighed and scored by.
#[derive(Clone, Copy)]
pub struct Ground<'a> {
    /// The room.
    pub traced: &'a Traced,
    /// The early part of its paths.
    pub index: &'a EarlyIndex<'a>,
    /// Panels as patches.
    pub flush: &'a Flush<'a>,
    /// What is asked.
    pub goal: &'a Goal<'a>,
}

/// What hangs, and what surfaces are made of then.
struct State {
    hanging: Hanging,
    linings: Linings,
}

impl State {
    fn new(traced: &Traced, hanging: Hanging) -> Self {
        Self { linings: Linings::new(&traced.room, &hanging), hanging }
    }
}

/// A layout as weighed.
pub struct Weighed {
    whole: State,
    /// What early sound was weighed by, where that is less than the whole.
    plain: Option<State>,
    pub(super) early: EarlyEnergy,
    /// What the rays bring to the judged pairs, in their order.
    curves: Vec<RayCurve>,
    /// What each image brings to them.
    images: Vec<Vec<Bands<f64>>>,
    /// Of the judged pairs.
    pub(super) responses: BTreeMap<(usize, usize), Response>,
}

impl Weighed {
    /// The room with these panels and no others.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn new(progress: &Progress, ground: Ground<'_>, panels: &[Panel]) -> Result<Self, Cancelled> {
        let Ground { traced, index, flush, goal } = ground;
        let (whole, plain) = Self::states(traced, flush, panels);
        let early = index.weigh(progress, &plain.as_ref().unwrap_or(&whole).linings)?;
        let all = weigh_rays(progress, traced, &whole.linings)?;
        let curves = goal.pairs.iter().map(|&(source, receiver)| all[source][receiver].clone()).collect();
        let images = goal.pairs.par_iter().map(|&pair| heard_energies(traced, &whole.linings, pair)).collect();
        Ok(Self::of(ground, (whole, plain), early, (curves, images)))
    }

    /// Other layouts, by what they differ in: exact, and quicker than each by itself. None of them can be what others differ from.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn others(&self, progress: &Progress, ground: Ground<'_>, layouts: &[Vec<Panel>]) -> Result<Vec<Self>, Cancelled> {
        let Ground { traced, index, flush, goal } = ground;
        let states: Vec<(State, Option<State>)> = layouts.par_iter().map(|panels| Self::states(traced, flush, panels)).collect();
        let variants: Vec<&Linings> = states.iter().map(|(whole, _)| &whole.linings).collect();
        let changes = changes(progress, traced, &self.whole.linings, &variants, goal.pairs)?;
        let other = |((whole, plain), changes): ((State, Option<State>), Vec<RayCurve>)| {
            let (before, after) = (self.plain.as_ref().unwrap_or(&self.whole), plain.as_ref().unwrap_or(&whole));
            let places = before.hanging.differing(&after.hanging);
            let change = Change { before: &before.linings, after: &after.linings, places: &places };
            let early = self.early.changed(&index.difference(&self.early, &change));
            let curves = self.curves.iter().zip(&changes).map(|(own, change)| own.changed(change)).collect();
            let change = Change { before: &self.whole.linings, after: &whole.linings, places: &places };
            let heard = |(&(source, receiver), own): (&(usize, usize), &Vec<Bands<f64>>)| {
                let paths = traced.images[source][receiver].heard.iter().zip(own);
                paths.map(|(path, &energy)| path.energy_after(&traced.room, &change, energy)).collect()
            };
            let images = goal.pairs.iter().zip(&self.images).map(heard).collect();
            Self::of(ground, (whole, plain), early, (curves, images))
        };
        Ok(states.into_par_iter().zip(changes).map(other).collect())
    }

    /// What surfaces are made of with these panels, and what early sound is weighed by.
    fn states(traced: &Traced, flush: &Flush<'_>, panels: &[Panel]) -> (State, Option<State>) {
        let plain = flush.for_early_trials(panels).map(|hanging| State::new(traced, hanging));
        (State::new(traced, flush.hanging(panels)), plain)
    }

    fn of(
        Ground { traced, goal, .. }: Ground<'_>,
        (whole, plain): (State, Option<State>),
        early: EarlyEnergy,
        (curves, images): (Vec<RayCurve>, Vec<Vec<Bands<f64>>>),
    ) -> Self {
        let response =
            |((&pair, rays), images): ((&(usize, usize), &RayCurve), &Vec<_>)| (pair, Response::of(traced, images, rays.clone(), pair));
        let responses = goal.pairs.iter().zip(&curves).zip(&images).map(response).collect();
        Self { whole, plain, early, curves, images, responses }
    }

    /// What it is scored by but for its decay.
    #[must_use]
    pub fn heard(&self, Ground { traced, goal, .. }: Ground<'_>) -> Heard {
        Heard::new(traced, goal, (&self.whole.hanging, &self.whole.linings), &self.early, &self.responses)
    }

    /// What hangs in it.
    #[must_use]
    pub fn hanging(&self) -> &Hanging {
        &self.whole.hanging
    }

    /// The response of a judged pair.
    #[must_use]
    pub fn response(&self, pair: (usize, usize)) -> Option<&Response> {
        self.responses.get(&pair)
    }

    /// What its surfaces are made of.
    #[must_use]
    pub fn linings(&self) -> &Linings {
        &self.whole.linings
    }
}

/// What a layout is judged by, in its own units.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Figures {
    /// Early reflected level re direct, mean energy of the judged pairs, zone-averaged, 1-8 kHz.
    pub early_level_db: Estimate,
    /// Sum of excess over the criterion, worst source.
    pub early_excess_db: f64,
    /// The same of each octave of 1-8 kHz by itself, of the pair where their mean is worst; 0 in the others.
    pub octave_excess_db: Bands<f64>,
    /// T30 by octave, mean over the pairs (T20 where one of the layouts does not reach that far); in the octaves of [`super::Plan::bass_octaves`] by waves, in the others by rays.
    pub t30_s: Bands<Option<Estimate>>,
    /// Mean of the octaves of [`super::Plan::decay_octaves_hz`].
    pub t_mid_s: Option<Estimate>,
    /// By how much that mean lies outside the range that is asked; `null` where nothing asks.
    pub outside_percent: Option<Estimate>,
    /// By how much the octaves depart from that mean, in the mean.
    pub unevenness_percent: Option<Estimate>,
    /// Early level of left against right, either way, mean of the octaves 1-8 kHz, worst seat; `null` without two loudspeakers.
    pub likeness_db: Option<Estimate>,
    /// C50 of voices, octaves weighted, worst pair; `null` without a voice.
    pub speech_c50_db: Option<Estimate>,
    /// Share of all facing surfaces that rings over twice as long as the decay may be; `null` where nothing asks.
    pub ringing_share: Option<f64>,
}

impl Figures {
    /// What is over the criterion octave by octave, mean of 1-8 kHz, dB: what the score counts.
    #[must_use]
    pub fn octave_mean_db(&self) -> f64 {
        octave_mean(self.octave_excess_db)
    }
}

/// What is wrong with a layout.
#[derive(Clone, Debug)]
pub struct Faults {
    /// What it is judged by.
    pub figures: Figures,
    /// Terms that are asked for and can be told.
    known: Terms<bool>,
    /// Weighted steps, 0 where not known.
    steps: Resampled<Terms<f64>>,
}

impl Faults {
    /// What is wrong, term by term, weighted steps; `None` where nothing is asked or can be told.
    #[must_use]
    pub fn told(&self) -> Terms<Option<Estimate>> {
        self.each(&self.steps)
    }

    /// All terms together, weighted steps.
    #[must_use]
    pub fn together(&self) -> Resampled<f64> {
        self.steps.map(sum)
    }

    /// By how many steps it is better than another layout on the same rays.
    #[must_use]
    pub fn better_by(&self, other: &Self) -> Resampled<f64> {
        self.steps.with(&other.steps, |own, other| sum(other) - sum(own))
    }

    /// The same term by term.
    #[must_use]
    pub fn better_by_term(&self, other: &Self) -> Terms<Option<Estimate>> {
        self.each(&self.steps.with(&other.steps, |own, other| Terms::from_fn(|term| other[term] - own[term])))
    }

    /// The same layout with what waves tell of it: its decay times in the octaves that they bring, and what is wrong there, in steps before their weight.
    #[must_use]
    pub(super) fn with_bass(mut self, weight: f64, times: impl Iterator<Item = (Band, Estimate)>, steps: &Resampled<f64>) -> Self {
        self.known.bass = true;
        self.steps = self.steps.with(steps, |own, bass| Terms { bass: weight * bass, ..*own });
        for (band, time) in times {
            self.figures.t30_s[band] = Some(time);
        }
        self
    }

    fn each(&self, steps: &Resampled<Terms<f64>>) -> Terms<Option<Estimate>> {
        Terms::from_fn(|term| self.known[term].then(|| steps.map(|steps| steps[term]).error()))
    }
}

fn sum(steps: &Terms<f64>) -> f64 {
    Term::ALL.into_iter().map(|term| steps[term]).sum()
}

/// What a layout is scored by but for its decay, which is read over the same range in all that it is compared with.
#[derive(Clone, Debug)]
pub struct Heard {
    /// Early level of the judged pairs together, as it is told.
    pub early_level_db: Estimate,
    level_db: Resampled<f64>,
    excess: Excess,
    /// Early level of left against right, either way, and what of it is noticed, dB.
    likeness_db: Option<[Resampled<f64>; 2]>,
    clarity_db: Option<Resampled<f64>>,
    ringing_share: Option<f64>,
}

impl Heard {
    /// Of a room with what hangs in it, weighed.
    #[must_use]
    pub fn new(
        traced: &Traced,
        goal: &Goal<'_>,
        (hanging, linings): (&Hanging, &Linings),
        early: &EarlyEnergy,
        responses: &(impl Responses + ?Sized),
    ) -> Self {
        let batches = relative_batches(traced, goal.pairs, flat_weights(), early);
        Self {
            early_level_db: early_level(traced, goal, early),
            level_db: resampled_mean(&batches).map(|energy| Estimate::level(Estimate::exact(*energy)).value),
            excess: worst_excess(traced, goal, linings),
            likeness_db: likeness(traced, goal, early),
            clarity_db: clarity(traced, goal, responses),
            ringing_share: goal.target.map(|(_, high)| ringing_share(&traced.room, hanging, SLOWER * high)),
        }
    }

    /// By how many decibels its early level is higher than that of another layout on the same rays.
    #[must_use]
    pub fn louder_than(&self, other: &Self) -> Estimate {
        self.level_db.with(&other.level_db, |own, other| own - other).error()
    }
}

/// What is wrong with layouts that were weighed on the same rays.
#[must_use]
pub fn faults_of(traced: &Traced, goal: &Goal<'_>, layouts: &[&Weighed]) -> Vec<Faults> {
    let curves: Vec<_> = layouts.iter().map(|layout| &layout.responses).collect();
    let one =
        |layout: &&Weighed| Heard::new(traced, goal, (&layout.whole.hanging, &layout.whole.linings), &layout.early, &layout.responses);
    let heard: Vec<Heard> = layouts.par_iter().map(one).collect();
    faults(goal, &heard.iter().collect::<Vec<_>>(), &SideBySide::of(&curves, goal))
}

/// What is wrong with each of some layouts, their decays in the same order. Where no range is asked for, the decay is held against that of the first.
#[must_use]
pub fn faults(goal: &Goal<'_>, heard: &[&Heard], decays: &[SideBySide]) -> Vec<Faults> {
    let times: Vec<Resampled<Vec<f64>>> = decays.iter().map(|decays| decays.known(goal.bands)).collect();
    let Some(bare) = times.first().map(|times| times.map(|times| mean(times))) else { return Vec::new() };
    let of_one =
        |((heard, decays), times): ((&&Heard, &SideBySide), &Resampled<Vec<f64>>)| faults_of_one(goal, heard, decays, (times, &bare));
    heard.iter().zip(decays).zip(&times).map(of_one).collect()
}

fn faults_of_one(goal: &Goal<'_>, heard: &Heard, decays: &SideBySide, (times, bare): (&Resampled<Vec<f64>>, &Resampled<f64>)) -> Faults {
    let Heard { level_db, excess, likeness_db, clarity_db, ringing_share, .. } = heard;
    let has_decay = !times.whole.is_empty();
    let outside = times.with(bare, |times, bare| outside_ratio(mean(times), goal.target, *bare));
    let unevenness = times.map(|times| unevenness_ratio(times));
    let exact = |value: f64| Resampled { whole: value, without: vec![value; level_db.without.len()] };
    let ratio_steps = |ratio: &Resampled<f64>| ratio.map(|ratio| ratio.ln() / DECAY_STEP.ln_1p());
    let lacks: Terms<Option<Resampled<f64>>> = Terms {
        reflections: Some(exact(excess.mean_db())),
        early_level: Some(level_db.map(|level| (level - CRITERION_DB).max(0.0))),
        decay: has_decay.then(|| ratio_steps(&outside)),
        evenness: has_decay.then(|| ratio_steps(&unevenness)),
        likeness: likeness_db.as_ref().map(|[_, noticed]| noticed.clone()),
        speech: clarity_db.as_ref().map(|clarity| clarity.map(|clarity| (CLEAR_DB - clarity).max(0.0) / CLARITY_STEP_DB)),
        flutter: ringing_share.map(|share| exact(share / FLUTTER_STEP)),
        // What waves bring is joined by those who have run them.
        bass: None,
    };
    let percent = |ratio: &Resampled<f64>| ratio.map(|ratio| 100.0 * (ratio - 1.0)).error();
    let figures = Figures {
        early_level_db: heard.early_level_db,
        early_excess_db: excess.whole_db,
        octave_excess_db: excess.by_octave_db,
        t30_s: decays.by_octave(),
        t_mid_s: decays.mean(goal.bands),
        outside_percent: (has_decay && goal.target.is_some()).then(|| percent(&outside)),
        unevenness_percent: has_decay.then(|| percent(&unevenness)),
        likeness_db: likeness_db.as_ref().map(|[whole, _]| whole.error()),
        speech_c50_db: clarity_db.as_ref().map(Resampled::error),
        ringing_share: *ringing_share,
    };
    let known = Terms::from_fn(|term| lacks[term].is_some() && goal.weights[term] > 0.0);
    let weighted = |read: &dyn Fn(&Resampled<f64>) -> f64| {
        Terms::from_fn(|term| if known[term] { goal.weights[term] * lacks[term].as_ref().map_or(0.0, read) } else { 0.0 })
    };
    let without = (0..level_db.without.len()).map(|batch| weighted(&|lack| lack.without[batch]));
    Faults { figures, known, steps: Resampled { whole: weighted(&|lack| lack.whole), without: without.collect() } }
}

/// Over the criterion, worst pair.
fn worst_excess(traced: &Traced, goal: &Goal<'_>, linings: &Linings) -> Excess {
    let mut worst = Excess { whole_db: 0.0, by_octave_db: Bands::splat(0.0) };
    for &(source, receiver) in goal.pairs {
        let excess = excesses(traced, linings, source, receiver);
        worst.whole_db = worst.whole_db.max(excess.whole_db);
        if excess.mean_db() > worst.mean_db() {
            worst.by_octave_db = excess.by_octave_db;
        }
    }
    worst
}

/// Early level of left against right, either way, and what of it is noticed; mean of the octaves, worst seat at which both are judged, dB.
fn likeness(traced: &Traced, goal: &Goal<'_>, early: &EarlyEnergy) -> Option<[Resampled<f64>; 2]> {
    let energy = |source: usize, seat: usize, band: Band| {
        let batches: Vec<f64> = early.rays[source][seat].iter().map(|batch| early.images[source][seat][band] + batch[band]).collect();
        resampled_mean(&batches)
    };
    let of_seat = |(left, right, seat): (usize, usize, usize)| -> Vec<Resampled<f64>> {
        let difference = |left: &f64, right: &f64| if *left > 0.0 && *right > 0.0 { (10.0 * (left / right).log10()).abs() } else { 0.0 };
        early_bands().map(|band| energy(left, seat, band).with(&energy(right, seat, band), difference)).collect()
    };
    let seats: Vec<Vec<Resampled<f64>>> = judged_seats(traced, goal).map(of_seat).collect();
    let worst = |read: &dyn Fn(&Resampled<f64>) -> f64, over: f64| {
        let of_seat =
            |octaves: &Vec<Resampled<f64>>| mean(&octaves.iter().map(|octave| (read(octave) - over).max(0.0)).collect::<Vec<_>>());
        seats.iter().map(of_seat).fold(0.0, f64::max)
    };
    let batches = seats.first()?.first()?.without.len();
    Some([0.0, LIKE_DB].map(|over| Resampled {
        whole: worst(&|octave| octave.whole, over),
        without: (0..batches).map(|batch| worst(&|octave| octave.without[batch], over)).collect(),
    }))
}

/// By how many steps the lack of likeness grows with the early energy of each octave, pair by pair, at the seat where most is noticed; steps for a unit of energy, none where none is noticed.
#[must_use]
pub fn likeness_slopes(traced: &Traced, goal: &Goal<'_>, early: &EarlyEnergy) -> Vec<((usize, usize), Bands<f64>)> {
    let count = early_bands().count() as f64;
    let of_seat = |(left, right, seat): (usize, usize, usize)| {
        let both = [left, right].map(|source| early.total(source, seat));
        let difference = both[0].zip(both[1], |left, right| if left > 0.0 && right > 0.0 { 10.0 * (left / right).log10() } else { 0.0 });
        let noticed: f64 = early_bands().map(|band| (difference[band].abs() - LIKE_DB).max(0.0)).sum();
        let slope = |(source, sign): (usize, f64)| {
            let is_noticed = |band: Band| early_bands().any(|one| one == band) && difference[band].abs() > LIKE_DB;
            let energy = both[usize::from(source == right)];
            let of_octave = |band: Band| sign * difference[band].signum() * 10.0 / std::f64::consts::LN_10 / (count * energy[band]);
            ((source, seat), Bands::from_fn(|band| if is_noticed(band) { of_octave(band) } else { 0.0 }))
        };
        (noticed, [(left, 1.0), (right, -1.0)].map(slope))
    };
    let worst = judged_seats(traced, goal).map(of_seat).max_by(|a, b| a.0.total_cmp(&b.0));
    worst.filter(|(noticed, _)| *noticed > 0.0).map_or_else(Vec::new, |(_, slopes)| slopes.to_vec())
}

/// Left and right loudspeaker and the seat between them, where both are judged.
fn judged_seats(traced: &Traced, goal: &Goal<'_>) -> impl Iterator<Item = (usize, usize, usize)> {
    let is_judged =
        |&(left, right, seat): &(usize, usize, usize)| [(left, seat), (right, seat)].iter().all(|pair| goal.pairs.contains(pair));
    mirrored_loudspeakers(&traced.room).into_iter().filter(is_judged)
}

/// C50 of voices, worst judged pair, dB; `None` without a voice or where one cannot be read.
fn clarity(traced: &Traced, goal: &Goal<'_>, responses: &(impl Responses + ?Sized)) -> Option<Resampled<f64>> {
    let pairs: Vec<Resampled<f64>> = voices(traced, goal).map(|pair| clarity_at(responses, pair)).collect::<Option<_>>()?;
    pairs.into_iter().reduce(|worst, pair| worst.with(&pair, |worst, pair| worst.min(*pair)))
}

/// The judged pairs of a voice.
fn voices(traced: &Traced, goal: &Goal<'_>) -> impl Iterator<Item = (usize, usize)> {
    goal.pairs.iter().copied().filter(|pair| traced.room.sources[pair.0].kind == SourceKind::Voice)
}

/// C50 of one pair, octaves weighted, dB; `None` where one cannot be read.
fn clarity_at(responses: &(impl Responses + ?Sized), pair: (usize, usize)) -> Option<Resampled<f64>> {
    let response = responses.at(pair);
    let of_octave = |(band, weight): (usize, f64)| {
        let clarity = |curve: &Vec<f64>| early_to_late_db(curve, response.bin_s, CLARITY_LIMIT_S);
        Some(response.resampled(Band::new(band)).measure(clarity)?.map(|clarity| weight * clarity))
    };
    let octaves: Vec<Resampled<f64>> = CLARITY_WEIGHTS.into_iter().map(of_octave).collect::<Option<_>>()?;
    octaves.into_iter().reduce(|sum, octave| sum.with(&octave, |sum, octave| sum + octave))
}

/// The pair at which a voice is least clear, and by how many steps what it lacks shrinks with each dB of C50, octave by octave; `None` where it lacks nothing.
#[must_use]
pub fn clarity_slopes(traced: &Traced, goal: &Goal<'_>, responses: &(impl Responses + ?Sized)) -> Option<((usize, usize), Bands<f64>)> {
    let read = |pair: (usize, usize)| Some((clarity_at(responses, pair)?.whole, pair));
    let (clarity, pair) = voices(traced, goal).map(read).collect::<Option<Vec<_>>>()?.into_iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
    let mut slopes = Bands::splat(0.0);
    for (band, weight) in CLARITY_WEIGHTS {
        slopes[Band::new(band)] = weight / CLARITY_STEP_DB;
    }
    (clarity < CLEAR_DB).then_some((pair, slopes))
}

/// The mean of batches, whole and without each.
fn resampled_mean(batches: &[f64]) -> Resampled<f64> {
    let (all, count) = (batches.iter().sum::<f64>(), batches.len() as f64);
    Resampled { whole: all / count, without: batches.iter().map(|batch| (all - batch) / (count - 1.0)).collect() }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// By what ratio a decay time lies outside a range, 1 within it; without a range its ratio to that of the bare room. Seconds.
#[must_use]
pub fn outside_ratio(time_s: f64, target: Option<(f64, f64)>, bare_s: f64) -> f64 {
    target.map_or(time_s / bare_s, |(low, high)| (time_s / high).max(low / time_s).max(1.0))
}

/// By what ratio decay times depart from their mean, either way, the geometric mean of these ratios.
#[must_use]
pub fn unevenness_ratio(times_s: &[f64]) -> f64 {
    let middle = mean(times_s);
    mean(&times_s.iter().map(|time| (time / middle).ln().abs()).collect::<Vec<_>>()).exp()
}
