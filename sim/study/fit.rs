//! Materials fitted to what was measured: the room weighed with other materials, the fit, the scene's text with its values, and that weighed to see what it brings.
//!
//! Weighed with other materials before the recordings are compared, since the rays' curves are there then; nothing is traced for it.

use crate::bands::{Band, Bands};
use crate::findings::bass::BassAsked;
use crate::findings::inputs;
use crate::hanging;
use crate::plan::Plan;
use crate::plan::stock::Stock;
use crate::progress::{Cancelled, Progress};
use crate::prove::Proof;
use crate::prove::fit::emulator::Emulator;
use crate::prove::fit::octave::OctaveFit;
use crate::prove::fit::states::{Beside, Described, Heard, stretched};
use crate::prove::fit::variant::variant;
use crate::prove::fit::{Fit, Fitting, Measured, Replan, judged, measured, met};
use crate::prove::read::as_read;
use crate::response::{LowEnd, Response};
use crate::room::{Bodies, build};
use crate::scene::Scene;
use crate::scene::edit::{EditError, Edited};
use crate::weigh::{Linings, RayCurve, weigh_rays};

use super::prove::{Judged, ProveError, Recording, proved, sounding};

/// What recordings say, with materials fitted to them.
pub struct Fitted {
    /// All of it, its `fit` among it.
    pub proof: Proof,
    /// The scene with fitted materials; `None` where nothing is told.
    pub variant: Option<Edited>,
}

/// Why nothing is fitted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FitError {
    /// Nothing is proved.
    #[error(transparent)]
    Prove(#[from] ProveError),
    /// The text is not that of the scene.
    #[error(transparent)]
    Text(#[from] EditError),
}

impl From<Cancelled> for FitError {
    fn from(stopped: Cancelled) -> Self {
        Self::Prove(stopped.into())
    }
}

/// A room as its rays have it, heard where it was recorded.
struct Of {
    pairs: Vec<(usize, usize)>,
    rates_hz: Vec<f64>,
    responses: Vec<Response>,
    curves: Vec<Vec<RayCurve>>,
    low: Option<LowEnd>,
}

/// As [`super::prove()`], with materials fitted to the decays of the recordings (those of after); `text` is that of the scene.
///
/// # Errors
/// [`FitError`].
pub fn prove_and_fit(
    progress: &Progress,
    (text, scene): (&str, &Scene),
    recordings: &[Recording],
    waves: Option<&BassAsked>,
) -> Result<Fitted, FitError> {
    let (takes, sounded, run) = sounding(progress, scene, recordings, waves)?;
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for recording in recordings {
        let pair = (recording.source, recording.receiver);
        if !pairs.contains(&pair) {
            pairs.push(pair);
        }
    }
    let rate = |pair: &(usize, usize)| {
        let of = recordings.iter().position(|recording| (recording.source, recording.receiver) == *pair);
        of.map_or(0.0, |index| takes[index].0.about.rate_hz)
    };
    let of = Of {
        rates_hz: pairs.iter().map(rate).collect(),
        responses: pairs.iter().map(|&pair| sounded.heard.response(pair).clone()).collect(),
        curves: sounded.heard.curves().to_vec(),
        low: run.0.as_ref().map(|run| run.low.clone()),
        pairs,
    };
    let judged = proved(progress, scene, (recordings, &takes), sounded, (run, waves))?;
    let linings = Linings::new(&judged.traced.room, &judged.hanging);
    let heard = Heard {
        traced: &judged.traced,
        linings: &linings,
        curves: &of.curves,
        pairs: of.pairs.clone(),
        responses: of.responses.iter().collect(),
    };
    let described = Described::new(progress, scene, &heard, heard.beside(&of.rates_hz))?;
    let (known, are_judged): (Vec<_>, Vec<_>) = of.pairs.iter().map(|pair| of.data(&judged.proof, recordings, *pair)).unzip();
    let judged_ones = |(known, judged): (&Bands<Option<Measured>>, &Bands<bool>)| known.zip(*judged, |one, judged| one.filter(|_| judged));
    let mut data: Vec<Bands<Option<Measured>>> = known.iter().zip(&are_judged).map(judged_ones).collect();
    let tape = inputs::tape(&judged.traced.room, &judged.hanging, scene.tape_tolerance.0);
    let tape = tape.map(|span| span.map_or(0.0, |span| 0.5 * (span.low + span.high)));
    let (octaves, emulators) = fit(progress, (&described, &heard), (&mut data, &known), (tape, scene.settings.seed))?;
    let fitting = Fitting { described: &described, emulators: &emulators, measured: &data, tape, seed: scene.settings.seed };
    let (variant, changed) = variant(text, scene, (&described.materials, &octaves))?;
    let after = match &variant {
        Some(edited) => of.after(progress, &judged, &edited.scene, &data)?,
        None => data.iter().map(|data| data.map(|one| one.map(|one| one.predicted_s))).collect(),
    };
    let name = |pair: &(usize, usize)| [judged.traced.room.sources[pair.0].name.clone(), judged.traced.room.receivers[pair.1].name.clone()];
    let names: Vec<[String; 2]> = of.pairs.iter().map(name).collect();
    let told = fitting.told(scene, &octaves, &names, &after, changed);
    Ok(Fitted { proof: Proof { fit: Some(told), ..judged.proof }, variant })
}

/// Polynomials by pair and octave.
type Emulators = Vec<Bands<Option<Emulator>>>;

/// An octave whose filter reads more than this of its neighbors tells of them and not of itself, as a logarithm: a tenth of its decay.
const READ_MOST: f64 = 0.1;

/// Measured decays of a pair.
type Decays = Bands<Option<Measured>>;

/// How often octaves are fitted, each time beside neighbors as they were fitted the time before.
const ROUNDS: usize = 3;

/// How surely the decay of a neighbor is known that was not measured, as a share: what materials off by up to a factor of 2 make of it.
const NOT_MEASURED: f64 = 0.4;

/// Fits octave by octave, each beside its neighbors as they are believed to be then: as they were fitted the round before, those that are not fitted as the scene has them, as long as they were measured. In the last round octaves
/// that tell of their neighbors are left out of `data`.
fn fit(
    progress: &Progress,
    (described, heard): (&Described, &Heard<'_>),
    (data, known): (&mut [Decays], &[Decays]),
    (tape, seed): (Bands<f64>, u64),
) -> Result<(Vec<OctaveFit>, Emulators), Cancelled> {
    let mut found: (Vec<OctaveFit>, Emulators) = (Vec::new(), Vec::new());
    for round in 0..ROUNDS {
        progress.begin("fitting materials", 1);
        let beside = believed(progress, (described, heard), known, &found)?;
        for (((data, known), beside), response) in data.iter_mut().zip(known).zip(&beside).zip(&heard.responses) {
            let sure = known.map(|one| one.map_or(NOT_MEASURED, |one| one.scatter));
            let tells = |band: Band| beside.more(band, response.bin_s).is_some_and(|more| more.abs() <= READ_MOST);
            *data = Bands::from_fn(|band| {
                let one = data[band].filter(|_| round + 1 < ROUNDS || tells(band))?;
                Some(Measured { reading: beside.unsure(band, &sure, response.bin_s), ..one })
            });
        }
        let emulators = described.emulators(&beside);
        let octaves = Fitting { described, emulators: &emulators, measured: data, tape, seed }.octaves();
        found = (octaves, emulators);
        progress.step(1)?;
    }
    Ok(found)
}

/// What filters read at each place, by what was fitted before.
fn believed(
    progress: &Progress,
    (described, heard): (&Described, &Heard<'_>),
    known: &[Decays],
    (octaves, emulators): &(Vec<OctaveFit>, Emulators),
) -> Result<Vec<Beside>, Cancelled> {
    let fitting = Fitting { described, emulators, measured: known, tape: Bands::splat(0.0), seed: 0 };
    let fitted = match octaves.is_empty() {
        true => Vec::new(),
        false => heard.in_states(progress, &described.materials, &[fitting.middle(octaves)])?,
    };
    let of_pair = |(pair, scene): (usize, &Beside)| {
        let now = fitted.get(pair).and_then(|states| states.first()).filter(|_| !octaves.is_empty());
        let curve = |band: Band| match (now.filter(|_| met(octaves, band).is_some()), known[pair][band]) {
            (Some(curves), _) => curves[band].clone(),
            (None, Some(one)) => stretched(&scene.curves[band], one.measured_s / one.predicted_s),
            (None, None) => scene.curves[band].clone(),
        };
        scene.with(Bands::from_fn(curve))
    };
    Ok(described.scene.iter().enumerate().map(of_pair).collect())
}

impl Of {
    /// What was measured at a pair, and what of it is judged.
    fn data(&self, proof: &Proof, recordings: &[Recording], pair: (usize, usize)) -> (Bands<Option<Measured>>, Bands<bool>) {
        let own = proof.recordings.iter().zip(recordings).filter(|(_, of)| (of.source, of.receiver) == pair).map(|(proved, _)| proved);
        let own: Vec<_> = own.collect();
        (measured(&own), judged(&own))
    }

    /// Decays that the variant predicts, as filters read them, by pair.
    fn after(
        &self,
        progress: &Progress,
        judged: &Judged,
        variant: &Scene,
        data: &[Bands<Option<Measured>>],
    ) -> Result<Vec<Bands<Option<f64>>>, Cancelled> {
        let room = build(variant, Bodies::All);
        let linings = Linings::new(&room, &hanging::from_panels(variant, &room, &variant.panels));
        let curves = weigh_rays(progress, &judged.traced, &linings)?;
        let receivers = judged.traced.room.receivers.len();
        let of_pair = |pair: usize| {
            let ((source, receiver), rate, data) = (self.pairs[pair], self.rates_hz[pair], &data[pair]);
            let rays = Response::new(&judged.traced, &linings, curves[source][receiver].clone(), source, receiver);
            let response = match &self.low {
                Some(low) => rays.with_low(low, (source, receiver)),
                None => rays,
            };
            let read = as_read(&judged.findings.pairs[source * receivers + receiver], &response, rate);
            let one = |band: Band| {
                let octave = &read.octaves[band.index()];
                let time = if data[band].is_none_or(|one| one.is_t30) { octave.t30_s } else { octave.t20_s };
                time.map(|time| time.value)
            };
            Bands::from_fn(one)
        };
        Ok((0..self.pairs.len()).map(of_pair).collect())
    }
}

/// Why there is nothing to plan in a scene; `None` where there is.
#[must_use]
pub fn nothing_to_plan(scene: &Scene) -> Option<String> {
    let stock = Stock::of(scene);
    let is_left = stock.scene.stock.iter().any(|kind| kind.count > 0);
    (!is_left).then(|| "Not planned anew: no panel is left in stock, and what hangs may not be moved (`move_hung` in [goals]).".to_owned())
}

/// What a plan of the variant brings.
#[must_use]
pub fn replan(variant: &Scene, plan: &Plan) -> Replan {
    let leaving = plan.leaving().len() as u32;
    let staying = plan.hung_before.len() as u32 - leaving;
    let steps = |names: &[&str]| {
        let layout = plan.layouts.iter().find(|layout| names.contains(&layout.name.as_str()));
        layout.map(|layout| layout.together_steps.value)
    };
    let now = if Stock::of(variant).hangs.is_empty() { "bare" } else { "as it hangs" };
    Replan { hung_anew: plan.placed.len() as u32 - staying, staying, leaving, now_steps: steps(&[now]), planned_steps: steps(&["plan"]) }
}

/// A fit with what a plan of the variant brings, or why there is none.
#[must_use]
pub fn with_plan(proof: Proof, replan: Result<Replan, String>) -> Proof {
    let fit = proof.fit.map(|fit: Fit| fit.planned(replan));
    Proof { fit, ..proof }
}
