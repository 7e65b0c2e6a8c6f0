//! What a panel across a corner buys, corner by corner: all places ranked by two fields of the room without it, the first of them run anew with the panel in place.
//!
//! Places are scored by what they take from the ring at the receivers, in dB:
//!
//! ```text
//! D = 10 lg mean over sources and receivers of (E with / E without),   E = sum over tones of |H(s)|^2,   s = j w - d / 4
//! ```
//!
//! with eight tones in each of the third octaves from 40 to 200 Hz, each third octave's evenly spaced in its logarithm. `E` is what the seat hears of the low end, with what is loud counting as loud: a panel is hung against
//! what booms. `H` at `j w - d / 4` is that of the pressure times `exp(d t / 4)`, `d` the decay constant of the ring of the room: of two modes that are as loud the one that rings longer counts
//! more. A mode of decay constant `m` brings energy as `1 / (m - d / 4)`. A larger part than a fourth would let single modes rule, and first order fail at them.
//!
//! *Predicted* is first order (`wave::adjoint`): `D = (10 / ln 10) mean of 2 Re(H* dH) summed / E`. One run a source and one a receiver tell of every place; fields are kept at the cells that
//! panels may take, as Fourier sums. It only ranks. *Verified* is the same `D` from a run with the panel in place. How well the two agree is told: pairs of places in the same order (Kendall's count), signs that agree.
//!
//! One after the other: the best verified panel is hung, all places are ranked anew with it in place, the best [`TRIED`] of them are run, the best of these is hung; until the stock is used up or nothing takes more.
//! What hangs then is run in cells of the usual size, with and without. Ranks and comparisons are made in cells twice as large, up to 0.1 m, both states of each in the same cells.
//!
//! *References.* Third octaves: IEC 61260-1:2014; rank correlation by pairs: M. G. Kendall, Biometrika 30 (1938) 81 (both from memory). The score is our own.
//!
//! *Limits.* Upright panels across corners of two walls, of fiber alone. Walls as they are likely, not as they may be: what is told is differences, which hang less on them than levels do. Levels and decays are those of all loudspeakers
//! together at the first receiver. Hung one after the other is not the best set of all.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::run::predicted as costs;
use super::trial::{Heard, TONES, Trial, cells_of, verified};
use super::{BassAsked, BassEffort, BassError};
use crate::progress::Progress;
use crate::scene::{Core, Filling, Panel, PanelPlace, PanelType, Scene, StockKind};
use crate::wave::sounding::LONGEST;
use crate::wave::{Cost, Exchange, Seen, cost, lattice};

/// Third octaves that count, nominal middles, Hz.
pub const CORNER_BANDS: std::ops::RangeInclusive<f64> = 40.0..=200.0;
/// Places that are run, the best first.
pub const VERIFIED: usize = 10;
/// Places that are run for each further panel.
pub const TRIED: usize = 3;
/// Largest cells that places are ranked and compared in, meters, unless those of the usual size are larger: in cells of 0.2 m first order told up to a third too little, and order suffered.
const COARSEST: f64 = 0.1;
/// Thicknesses that are compared in the best corner, re the panel's own.
const DEPTHS: [f64; 3] = [0.5, 1.0, 2.0];
/// A panel takes something if it takes so much at least, dB.
const LEAST_DB: f64 = 0.005;

/// What panels across corners buy.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassCorners {
    /// Type of the panels.
    pub kind: String,
    /// Its width and height.
    pub size_m: [f64; 2],
    /// Its thickness.
    pub thickness_m: f64,
    /// Whether it is in the scene's stock; else it is one that is made up.
    pub is_stock: bool,
    /// Third octaves that are scored, lowest and highest nominal middle.
    pub bands_hz: [f64; 2],
    /// Tones that they are scored at.
    pub tones: usize,
    /// Edge of the cells that places are ranked and compared in.
    pub cell_m: f64,
    /// Who hears what is told of levels and decays.
    pub receiver: String,
    /// Places, the best predicted first; those that were run have figures.
    pub candidates: Vec<CornerCandidate>,
    /// Pairs of places that were run which prediction and run have in the same order.
    pub same_order: usize,
    /// Pairs of places that were run.
    pub pairs: usize,
    /// Places that were run for which prediction and run have the same sign.
    pub same_sign: usize,
    /// Places that were run.
    pub verified: usize,
    /// Thicknesses in the corner that was best.
    pub depths: Vec<CornerDepth>,
    /// Panels hung one after the other.
    pub steps: Vec<CornerStep>,
    /// From the room as it stands to that with all of these, in cells of the usual size; `null` where none takes anything.
    pub settled: Option<CornersSettled>,
    /// Where theory or data stop, and what was refused.
    pub notes: Vec<String>,
}

/// A corner, and panels in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CornerPlace {
    /// Corner of the outline, from 0.
    pub corner: usize,
    /// The wall that ends there and the one that begins.
    pub walls: [String; 2],
    /// Lower edges of the panels over the floor, lowest first.
    pub bottoms_m: Vec<f64>,
}

/// A place that was scored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CornerCandidate {
    /// Where.
    pub place: CornerPlace,
    /// Change of the ring's energy to first order: less is better.
    pub predicted_db: f64,
    /// The same by a run; `null` where none was made.
    pub verified_db: Option<f64>,
    /// Rank among those that were run, 1 the best.
    pub verified_rank: Option<usize>,
    /// What it changes at the receiver.
    pub change: Option<BassCornerChange>,
}

/// A thickness.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CornerDepth {
    /// Thickness.
    pub thickness_m: f64,
    /// Change of the ring's energy to first order.
    pub predicted_db: f64,
    /// The same by a run.
    pub verified_db: f64,
}

/// A panel hung after others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CornerStep {
    /// Where.
    pub place: CornerPlace,
    /// What it changes where those before it hang, to first order.
    pub predicted_db: f64,
    /// The same by a run.
    pub verified_db: f64,
    /// What all so far change together, by a run.
    pub together_db: f64,
}

/// The room with all panels that were hung.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CornersSettled {
    /// Edge of the cells.
    pub cell_m: f64,
    /// Change of the ring's energy.
    pub verified_db: f64,
    /// What they change at the receiver.
    pub change: BassCornerChange,
}

/// What panels change at the receiver.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassCornerChange {
    /// Third octaves.
    pub thirds: Vec<BassThirdChange>,
    /// Modes that stand apart, lowest first.
    pub modes: Vec<BassModeChange>,
}

/// Change of a third octave.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassThirdChange {
    /// Its nominal middle.
    pub band_hz: f64,
    /// Change of its level.
    pub level_change_db: f64,
    /// Decay time without; `null` where the filter rings as long.
    pub decay_s: Option<f64>,
    /// Change of its decay time.
    pub decay_change_s: Option<f64>,
}

/// Change of a mode.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassModeChange {
    /// Its frequency without.
    pub frequency_hz: f64,
    /// Change of its frequency; `null` where it is not found again.
    pub frequency_change_hz: Option<f64>,
    /// Its decay time without.
    pub decay_s: Option<f64>,
    /// Change of its decay time.
    pub decay_change_s: Option<f64>,
}

/// Places for a type of panel in a scene with all that hangs there.
pub type Places<'a> = &'a dyn Fn(&Scene, &PanelType) -> Vec<Panel>;

/// Ranks the corners of a scene; `places` knows where a panel may hang.
///
/// # Errors
/// [`BassError`].
pub fn corners(progress: &Progress, scene: &Scene, asked: &BassAsked, places: Places<'_>) -> Result<BassCorners, BassError> {
    let (kind, is_stock) = kind_of(scene);
    let mut scene = scene.clone();
    if !is_stock {
        scene.stock.push(kind.clone());
    }
    let seen = Seen::new(&scene);
    super::run::check(&seen.room, asked)?;
    let speed = seen.room.medium.speed;
    let spacing = cost::spacing(asked.top_hz, speed);
    let predicted = costs(&seen, asked.top_hz, spacing).within(asked.memory)?;
    let (sources, receivers) = (seen.room.sources.len(), seen.room.receivers.len());
    // Most end in half the longest time; runs in cells twice as large take a sixteenth of the work.
    let further = kind.count.saturating_sub(1) as usize * (sources * (1 + TRIED) + receivers);
    let coarse = sources * (1 + VERIFIED + DEPTHS.len()) + receivers + further;
    progress.begin("corners", predicted.steps / 2 * (2 * sources + coarse / 2) as u64);
    let study = Study::new(progress, &kind, asked, (predicted, places));
    let (first, mut candidates) = study.ranked(scene.clone(), true)?;
    let ranks = study.verify(&first, &mut candidates)?;
    let depths = study.depths(&first, &candidates)?;
    let (hung, steps) = study.one_by_one(&first, &candidates)?;
    let settled = if steps.is_empty() { None } else { Some(study.settled(&first.trial.scene, &hung, spacing)?) };
    let bands: Vec<f64> = bands(asked.top_hz).collect();
    Ok(BassCorners {
        kind: kind.name.clone(),
        size_m: kind.size.to_array(),
        thickness_m: kind.thickness,
        is_stock,
        bands_hz: [bands.first().copied().unwrap_or(0.0), bands.last().copied().unwrap_or(0.0)],
        tones: first.tones.len(),
        cell_m: first.trial.spacing(),
        receiver: seen.room.receivers[0].name.clone(),
        same_order: ranks.same_order,
        pairs: ranks.pairs,
        same_sign: ranks.same_sign,
        verified: candidates.iter().filter(|candidate| candidate.told.verified_db.is_some()).count(),
        notes: notes(&kind, is_stock, candidates.len(), &steps),
        candidates: candidates.into_iter().map(|candidate| candidate.told).collect(),
        depths,
        steps,
        settled,
    })
}

/// Where panels of one type go across corners, one after the other: of the places that are best predicted the best by a run, all of them ranked anew beside it, until so many hang or nothing takes
/// more. For plans, in as few runs as that takes.
///
/// # Errors
/// [`BassError`].
pub fn corner_order(
    progress: &Progress,
    scene: &Scene,
    asked: &BassAsked,
    (kind, places): (&PanelType, Places<'_>),
) -> Result<Vec<CornerStep>, BassError> {
    let seen = Seen::new(scene);
    super::run::check(&seen.room, asked)?;
    let spacing = cost::spacing(asked.top_hz, seen.room.medium.speed);
    let predicted = costs(&seen, asked.top_hz, spacing).within(asked.memory)?;
    let (sources, receivers) = (seen.room.sources.len(), seen.room.receivers.len());
    // As in `corners`.
    progress.begin("corners", predicted.steps / 4 * (kind.count as usize * (sources * (1 + TRIED) + receivers)) as u64);
    let study = Study::new(progress, kind, asked, (predicted, places));
    let (first, mut candidates) = study.ranked(scene.clone(), false)?;
    for candidate in candidates.iter_mut().take(TRIED) {
        candidate.told.verified_db = Some(study.run(&first, kind, &candidate.panels)?.0);
    }
    Ok(study.one_by_one(&first, &candidates)?.1)
}

/// What [`corner_order`] adds at most to other runs of a scene's room, with as many panels as there are of the type.
#[must_use]
pub fn with_order(effort: BassEffort, (sources, receivers): (usize, usize), kind: &PanelType) -> BassEffort {
    let runs = kind.count as usize * (sources * (1 + TRIED) + receivers);
    effort.and_larger(runs, larger_cells(effort.cell_m) / effort.cell_m)
}

/// Edge of the cells that places are ranked in, for that of the usual ones, meters.
fn larger_cells(usual: f64) -> f64 {
    (2.0 * usual).min(COARSEST.max(usual))
}

/// Third octaves that are scored, nominal middles, Hz.
fn bands(top: f64) -> impl Iterator<Item = f64> {
    super::response::thirds(top).map(|third| third.0).filter(|band| CORNER_BANDS.contains(band))
}

/// The type that is hung across corners: the first of the stock that is fiber alone, else one that is made up.
fn kind_of(scene: &Scene) -> (PanelType, bool) {
    let is_fiber = |kind: &&PanelType| kind.kind == StockKind::Corner && crate::wave::seen::is_fiber(kind);
    let made_up = || PanelType {
        name: "corner panel".to_owned(),
        kind: StockKind::Corner,
        size: glam::DVec2::new(0.6, 1.2),
        thickness: 0.1,
        core: Core::Porous(Filling::of_resistivity(12_000.0)),
        facing: None,
        gap: 0.0,
        other_gaps: Vec::new(),
        count: 4,
        instead_of: None,
        price: None,
        drill: None,
        mass: None,
        made: None,
        fixing: None,
        scattering: None,
        least_distance: 0.0,
    };
    scene.stock.iter().find(is_fiber).map_or_else(|| (made_up(), false), |kind| (kind.clone(), true))
}

/// What stays the same through all of it.
struct Study<'a> {
    progress: &'a Progress,
    kind: &'a PanelType,
    spacing: f64,
    top: f64,
    /// Bytes that it may take.
    memory: u64,
    /// What the room takes in cells of the usual size.
    usual: Cost,
    places: Places<'a>,
}

/// A state of the room that places were ranked in.
struct State {
    trial: Trial,
    heard: Heard,
    tones: Vec<num_complex::Complex64>,
    transfers: Vec<Vec<num_complex::Complex64>>,
    fields: super::trial::Fields,
}

/// A place under study.
struct Candidate {
    panels: Vec<Panel>,
    told: CornerCandidate,
}

/// How well order and signs agree.
struct Ranks {
    same_order: usize,
    pairs: usize,
    same_sign: usize,
}

impl<'a> Study<'a> {
    /// For a room that takes `usual` in cells of the usual size.
    fn new(progress: &'a Progress, kind: &'a PanelType, asked: &BassAsked, (usual, places): (Cost, Places<'a>)) -> Self {
        let spacing = larger_cells(usual.spacing);
        Self { progress, kind, spacing, top: asked.top_hz, memory: asked.memory, usual, places }
    }

    /// Whether memory holds what is kept at so many cells beyond the lattice. Held at once are the first state, another one, and a run beside them; in the end the first state beside the run in
    /// cells of the usual size.
    fn afford(&self, trial: &Trial, cells: usize) -> Result<(), BassError> {
        let seen = trial.seen();
        let (sources, receivers) = (seen.room.sources.len() as u64, seen.room.receivers.len() as u64);
        let state = costs(seen, self.top, self.spacing);
        // Of two states what each source sent there, and of a receiver's run what it hands over.
        let records = lattice::bytes(cells, (LONGEST * 4.5 * self.top) as usize) * 2 * (sources + 1);
        let tones = (cells * bands(self.top).count() * TONES * size_of::<num_complex::Complex64>()) as u64 * 2 * (sources + receivers);
        let more = records + tones;
        Cost { bytes: 3 * state.bytes + more, ..state }.within(self.memory)?;
        Cost { bytes: self.usual.bytes + state.bytes + more, ..self.usual }.within(self.memory)?;
        Ok(())
    }

    /// All places of a state, the best predicted first; with stacks, or panel by panel.
    fn ranked(&self, scene: Scene, with_stacks: bool) -> Result<(State, Vec<Candidate>), BassError> {
        let singles = (self.places)(&scene, self.kind);
        let stacks = if with_stacks { stacks(&singles, self.kind) } else { Vec::new() };
        let sets: Vec<Vec<Panel>> = singles.into_iter().map(|panel| vec![panel]).chain(stacks).collect();
        let trial = Trial::new(scene, self.spacing, self.top);
        let exchanges: Vec<Vec<Exchange>> = sets.iter().map(|panels| trial.exchanges(self.kind, panels)).collect();
        // As deep as any that is compared.
        let deepest = PanelType { thickness: self.thickest(), ..self.kind.clone() };
        let widest: Vec<Exchange> = sets.iter().flat_map(|panels| trial.exchanges(&deepest, panels)).collect();
        let cells = cells_of(widest.iter().chain(exchanges.iter().flatten()));
        self.afford(&trial, cells.len())?;
        let heard = trial.hear(self.progress, &cells)?;
        let tones = heard.tones(self.top);
        let transfers = heard.transfers(&tones);
        let fields = trial.fields(self.progress, &heard, &cells, &tones)?;
        let candidate = |(panels, exchanges): (Vec<Panel>, &Vec<Exchange>)| {
            let predicted_db = fields.predicted(exchanges, &transfers, &tones);
            let place = place_of(&trial.scene, &panels)?;
            let told = CornerCandidate { place, predicted_db, verified_db: None, verified_rank: None, change: None };
            Some(Candidate { panels, told })
        };
        let mut candidates: Vec<Candidate> = sets.into_iter().zip(&exchanges).filter_map(candidate).collect();
        candidates.sort_by(|a, b| a.told.predicted_db.total_cmp(&b.told.predicted_db));
        Ok((State { trial, heard, tones, transfers, fields }, candidates))
    }

    /// The scene of a state with more panels in it.
    fn with(&self, scene: &Scene, kind: &PanelType, more: &[Panel]) -> Scene {
        let mut scene = scene.clone();
        scene.stock.iter_mut().filter(|other| other.name == kind.name).for_each(|other| *other = kind.clone());
        scene.panels.extend(more.iter().cloned());
        scene
    }

    /// Runs the state with more panels in it; what they take, dB.
    fn run(&self, state: &State, kind: &PanelType, more: &[Panel]) -> Result<(f64, Trial, Heard), BassError> {
        let trial = Trial::new(self.with(&state.trial.scene, kind, more), self.spacing, self.top);
        let heard = trial.hear(self.progress, &[])?;
        Ok((verified(&state.transfers, &heard.transfers(&state.tones)), trial, heard))
    }

    /// Runs the first of the candidates.
    fn verify(&self, state: &State, candidates: &mut [Candidate]) -> Result<Ranks, BassError> {
        let before = state.trial.figures(self.progress, &state.heard)?;
        for candidate in candidates.iter_mut().take(VERIFIED) {
            let (verified_db, trial, heard) = self.run(state, self.kind, &candidate.panels)?;
            candidate.told.verified_db = Some(verified_db);
            candidate.told.change = Some(trial.figures(self.progress, &heard)?.since(&before));
        }
        let told: Vec<[f64; 2]> = candidates
            .iter()
            .filter_map(|candidate| candidate.told.verified_db.map(|found| [candidate.told.predicted_db, found]))
            .collect();
        for candidate in candidates.iter_mut() {
            let rank = |own: f64| 1 + told.iter().filter(|[_, other]| *other < own).count();
            candidate.told.verified_rank = candidate.told.verified_db.map(rank);
        }
        let pairs: Vec<[[f64; 2]; 2]> =
            told.iter().enumerate().flat_map(|(index, one)| told[..index].iter().map(move |other| [*one, *other])).collect();
        let agrees = |[one, other]: &&[[f64; 2]; 2]| (one[0] - other[0]) * (one[1] - other[1]) > 0.0;
        Ok(Ranks {
            same_order: pairs.iter().filter(agrees).count(),
            pairs: pairs.len(),
            same_sign: told.iter().filter(|[predicted, verified]| predicted * verified > 0.0).count(),
        })
    }

    /// The most that is compared, meters.
    fn thickest(&self) -> f64 {
        self.kind.thickness * DEPTHS.iter().copied().fold(1.0, f64::max)
    }

    /// Other thicknesses where one panel alone took most.
    fn depths(&self, state: &State, candidates: &[Candidate]) -> Result<Vec<CornerDepth>, BassError> {
        let Some(best) = best_single(candidates) else { return Ok(Vec::new()) };
        let depth = |times: &f64| {
            let kind = PanelType { thickness: times * self.kind.thickness, ..self.kind.clone() };
            let exchanges = state.trial.exchanges(&kind, &best.panels);
            let predicted_db = state.fields.predicted(&exchanges, &state.transfers, &state.tones);
            let (verified_db, ..) = self.run(state, &kind, &best.panels)?;
            Ok(CornerDepth { thickness_m: kind.thickness, predicted_db, verified_db })
        };
        DEPTHS.iter().map(depth).collect()
    }

    /// The best panel, then the best beside it, and so on.
    fn one_by_one(&self, first: &State, candidates: &[Candidate]) -> Result<(Vec<Panel>, Vec<CornerStep>), BassError> {
        let (mut hung, mut steps): (Vec<Panel>, Vec<CornerStep>) = (Vec::new(), Vec::new());
        let taking = |verified: f64| verified < -LEAST_DB;
        let Some(best) = best_single(candidates).filter(|best| self.kind.count > 0 && best.told.verified_db.is_some_and(taking)) else {
            return Ok((hung, steps));
        };
        let verified_db = best.told.verified_db.unwrap_or(0.0);
        let told = &best.told;
        steps.push(CornerStep { place: told.place.clone(), predicted_db: told.predicted_db, verified_db, together_db: verified_db });
        hung.extend(best.panels.iter().cloned());
        while hung.len() < self.kind.count as usize && !self.progress.is_enough() {
            let (state, candidates) = self.ranked(self.with(&first.trial.scene, self.kind, &hung), false)?;
            let mut tried = Vec::new();
            for candidate in candidates.into_iter().take(TRIED) {
                let (verified_db, _, heard) = self.run(&state, self.kind, &candidate.panels)?;
                let together_db = verified(&first.transfers, &heard.transfers(&first.tones));
                tried.push((verified_db, together_db, candidate));
            }
            let next = tried.into_iter().min_by(|a, b| a.0.total_cmp(&b.0)).filter(|next| taking(next.0));
            let Some((verified_db, together_db, next)) = next else { break };
            steps.push(CornerStep { place: next.told.place, predicted_db: next.told.predicted_db, verified_db, together_db });
            hung.extend(next.panels);
        }
        Ok((hung, steps))
    }

    /// The room without and with these panels, in cells of this size.
    fn settled(&self, scene: &Scene, hung: &[Panel], spacing: f64) -> Result<CornersSettled, BassError> {
        let of = |scene: Scene| -> Result<(Heard, super::trial::Figures), BassError> {
            let trial = Trial::new(scene, spacing, self.top);
            let heard = trial.hear(self.progress, &[])?;
            let figures = trial.figures(self.progress, &heard)?;
            Ok((heard, figures))
        };
        let (before, without) = of(scene.clone())?;
        let (after, with) = of(self.with(scene, self.kind, hung))?;
        let tones = before.tones(self.top);
        let verified_db = verified(&before.transfers(&tones), &after.transfers(&tones));
        Ok(CornersSettled { cell_m: spacing, verified_db, change: with.since(&without) })
    }
}

/// The single panel that took most when it was run.
fn best_single(candidates: &[Candidate]) -> Option<&Candidate> {
    let run = candidates.iter().filter(|candidate| candidate.panels.len() == 1);
    let run = run.filter_map(|candidate| candidate.told.verified_db.map(|verified| (verified, candidate)));
    run.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, candidate)| candidate)
}

/// Where a panel stands: corner and lower edge.
fn stands(panel: &Panel) -> Option<(usize, f64)> {
    match panel.place {
        PanelPlace::Corner { corner, bottom } => Some((corner, bottom)),
        PanelPlace::Surface { .. } | PanelPlace::Cloud(_) => None,
    }
}

/// Corner by corner as many panels over one another as there is room and stock for, from the lowest place on; where that is more than one.
fn stacks(singles: &[Panel], kind: &PanelType) -> Vec<Vec<Panel>> {
    let mut stacks: Vec<Vec<Panel>> = Vec::new();
    let mut order: Vec<(usize, f64, &Panel)> =
        singles.iter().filter_map(|panel| stands(panel).map(|(corner, bottom)| (corner, bottom, panel))).collect();
    order.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut top: Option<(usize, f64)> = None;
    for (corner, bottom, panel) in order {
        match top {
            Some((same, under)) if same == corner && bottom < under - 1e-9 => continue,
            Some((same, _)) if same == corner => stacks.last_mut().into_iter().for_each(|stack| stack.push(panel.clone())),
            _ => stacks.push(vec![panel.clone()]),
        }
        top = Some((corner, bottom + kind.size.y));
    }
    stacks.iter_mut().for_each(|stack| stack.truncate(kind.count as usize));
    stacks.retain(|stack| stack.len() > 1);
    stacks
}

fn place_of(scene: &Scene, panels: &[Panel]) -> Option<CornerPlace> {
    let (corner, _) = panels.first().and_then(stands)?;
    let mut bottoms_m: Vec<f64> = panels.iter().filter_map(stands).map(|(_, bottom)| bottom).collect();
    bottoms_m.sort_by(f64::total_cmp);
    let before = (corner + scene.walls.len() - 1) % scene.walls.len();
    Some(CornerPlace { corner, walls: [before, corner].map(|wall| scene.walls[wall].name.clone()), bottoms_m })
}

fn notes(kind: &PanelType, is_stock: bool, candidates: usize, steps: &[CornerStep]) -> Vec<String> {
    let made_up = (!is_stock).then(|| {
        format!(
            "The stock has no panel of fiber for corners: reckoned with one of {:.2} by {:.2} m, {:.0} mm of 12 kPa s/m2, four of them.",
            kind.size.x,
            kind.size.y,
            1e3 * kind.thickness
        )
    });
    let nowhere = (candidates == 0).then(|| format!("\"{}\" fits across no corner.", kind.name));
    let stopped = (candidates > 0 && steps.len() < kind.count as usize)
        .then(|| format!("Of {} panels {} hang: no place is left, or none of those tried takes from the ring.", kind.count, steps.len()));
    let behind = "Prediction is first order and only ranks; what is verified is a run with the panel in place.".to_owned();
    made_up.into_iter().chain(nowhere).chain(stopped).chain([behind]).collect()
}
