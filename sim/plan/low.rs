//! The low end of a plan by waves: where its corner panels go, and how it is before and after.
//!
//! The room as it stands and the room with all that the plan hangs are run in the same cells with the same walls, so that they differ by nothing else; the crossover of both is that of the bare room.
//!
//! *References.* As `findings::bass`.
//!
//! *Limits.* Corners are ranked without the rest of the plan; all else is sought by rays, and waves judge what was found.

use crate::findings::bass::{
    self, BassAsked, BassEffort, BassError, BassRun, BassStudy, corner_order, effort_of_states, too_small, with_order,
};
use crate::layout::candidates::candidates;
use crate::layout::free::Free;
use crate::progress::{Cancelled, Progress};
use crate::response::LowEnd;
use crate::room::{Bodies, build};
use crate::scene::{Panel, PanelPlace, PanelType, Scene, StockKind};
use crate::wave::seen::is_fiber;

use super::search::{CornerStep, Corners, STEP};
use super::stock::Stock;

/// Where the corner panels of a stock take most, type by type; nowhere in particular where no waves are asked for or they cannot be run.
///
/// # Errors
/// [`Cancelled`].
pub(super) fn corner_places(progress: &Progress, stock: &Stock, asked: Option<&BassAsked>) -> Result<Corners, Cancelled> {
    let mut corners = Corners::default();
    let Some(asked) = asked else { return Ok(corners) };
    let mut scene = stock.scene.clone();
    for kind in stock.scene.stock.iter().filter(|kind| is_ranked(kind)) {
        let steps = match corner_order(progress, &scene, asked, (kind, &places)) {
            Ok(steps) => steps,
            Err(BassError::Stopped(stopped)) => return Err(stopped),
            Err(why) => return Ok(Corners { why: Some(why.to_string()), ..corners }),
        };
        let step = |step: bass::CornerStep| {
            let place = PanelPlace::Corner { corner: step.place.corner, bottom: step.place.bottoms_m[0] };
            CornerStep { panel: Panel { kind: kind.name.clone(), place }, change_db: step.verified_db }
        };
        let steps: Vec<CornerStep> = steps.into_iter().map(step).collect();
        scene.panels.extend(steps.iter().map(|step| step.panel.clone()));
        corners.steps.extend(steps);
        corners.ranked.push(kind.name.clone());
    }
    Ok(corners)
}

/// Whether waves say where a type goes.
fn is_ranked(kind: &PanelType) -> bool {
    kind.kind == StockKind::Corner && kind.count > 0 && is_fiber(kind)
}

/// Layouts that are run for the score alone: both rules of thumb.
const LAYOUTS: usize = 2;

/// What the waves of a plan would take at most: the planned room, the bare one and the room as it stands, the layouts that it is compared with, the plan without each of its corner panels, the order of its corners.
///
/// # Errors
/// [`BassError`] as far as nothing needs to be run for it.
pub fn effort(scene: &Scene, asked: &BassAsked) -> Result<BassEffort, BassError> {
    let states = if scene.panels.is_empty() { 2 } else { 3 };
    let (sources, receivers) = (scene.sources.len(), scene.seats.len() + scene.microphones.len());
    let stocks: Vec<Stock> = scene.alternatives().iter().map(|types| Stock::of(&scene.with_alternative(types))).collect();
    let corner_panels = |stock: &Stock| {
        let corners = stock.scene.stock.iter().filter(|kind| kind.kind == StockKind::Corner);
        corners.map(|kind| kind.count as usize).sum::<usize>()
    };
    let most = stocks.iter().map(corner_panels).max().unwrap_or(0);
    let layouts = if scene.goals.weights(scene.activity).bass > 0.0 { LAYOUTS + most } else { 0 };
    let own = effort_of_states(scene, asked, states)?.and_runs(sources * layouts);
    let ranked = stocks.iter().flat_map(|stock| stock.scene.stock.iter().filter(|kind| is_ranked(kind)));
    Ok(ranked.fold(own, |effort, kind| with_order(effort, (sources, receivers), kind)))
}

/// Where a panel may hang across a corner, as the search tries them.
fn places(scene: &Scene, kind: &PanelType) -> Vec<Panel> {
    let room = build(scene, Bodies::Standing);
    let free = Free::new(scene, &room);
    candidates(scene, &room, &free, kind, STEP).into_iter().map(|candidate| candidate.panel).collect()
}

/// What waves tell of a plan.
pub(super) struct LowEnds {
    /// Of the room as it stands, where that is not the planned one without its panels.
    stands: Option<BassRun>,
    planned: Option<BassRun>,
    /// What of the plan is smaller than a cell.
    small: Option<String>,
    /// Why there is nothing.
    why: Option<String>,
}

impl LowEnds {
    /// Of a scene as it stands and with what is planned; of nothing where nobody asks for it or it cannot be.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub(super) fn of(progress: &Progress, stands: &Scene, planned: &Scene, asked: Option<&BassAsked>) -> Result<Self, Cancelled> {
        let Some(asked) = asked else { return Ok(Self::nothing(None)) };
        let run = |scene: &Scene, beside_bare: bool| match bass::bass(progress, scene, &BassAsked { beside_bare, ..*asked }) {
            Ok(run) => Ok(Ok(run)),
            Err(BassError::Stopped(stopped)) => Err(stopped),
            Err(why) => Ok(Err(why.to_string())),
        };
        let is_bare = stands.panels.is_empty();
        let small = too_small(planned, asked);
        let planned = match run(planned, true)? {
            Ok(planned) => planned,
            Err(why) => return Ok(Self::nothing(Some(why))),
        };
        if is_bare {
            return Ok(Self { stands: None, planned: Some(planned), small, why: None });
        }
        match run(stands, false)? {
            Ok(stands) => Ok(Self { stands: Some(stands), planned: Some(planned), small, why: None }),
            // One without the other would compare nothing.
            Err(why) => Ok(Self::nothing(Some(why))),
        }
    }

    fn nothing(why: Option<String>) -> Self {
        Self { stands: None, planned: None, small: None, why }
    }

    /// Of the room as it stands.
    pub(super) fn before(&self) -> Option<&LowEnd> {
        let planned = self.planned.as_ref()?;
        match &self.stands {
            Some(stands) => Some(&stands.low),
            // Without panels of its own it is the planned room without any.
            None => Some(planned.bare_low.as_ref().unwrap_or(&planned.low)),
        }
    }

    /// Of the planned room.
    pub(super) fn after(&self) -> Option<&LowEnd> {
        self.planned.as_ref().map(|planned| &planned.low)
    }

    /// Rooms that were run besides the planned one, by what hangs in them; `stands` is the room as it stands.
    pub(super) fn others<'a>(&'a self, stands: &'a Scene) -> Vec<(&'a [Panel], &'a LowEnd)> {
        let bare = self.planned.as_ref().and_then(|planned| planned.bare_low.as_ref()).map(|low| (&[][..], low));
        let stands = self.stands.as_ref().map(|run| (&stands.panels[..], &run.low));
        bare.into_iter().chain(stands).collect()
    }

    /// The low end of the room as it stands, and of the planned room beside the bare one.
    pub(super) fn studies(self) -> [Option<BassStudy>; 2] {
        let planned = self.planned.map(|planned| planned.study);
        let bare = |planned: &BassStudy| BassStudy {
            stands: planned.bare.clone().unwrap_or_else(|| planned.stands.clone()),
            bare: None,
            ..planned.clone()
        };
        let before = self.stands.map(|stands| stands.study).or_else(|| planned.as_ref().map(bare));
        [before, planned]
    }

    /// What the low end of a plan rests on; `corners` is where its corner panels go.
    pub(super) fn notes(&self, corners: &Corners) -> Vec<String> {
        match (&self.planned, &self.why) {
            (Some(_), _) => {
                let told = [corners.note(), "What all that hangs does to the low end is computed, before and after.".to_owned()];
                told.into_iter().chain(self.small.clone()).collect()
            }
            (None, Some(why)) => vec![format!("Corner panels stand by common practice: their bass is not computed, since {why}.")],
            (None, None) => vec!["Corner panels stand by common practice: their bass is not computed.".to_owned()],
        }
    }
}
