//! The low end of a plan by waves: where its corner panels go, and how it is before and after.
//!
//! The room as it stands and the room with all that the plan hangs are run in the same cells with the same walls, so that they differ by nothing else; the crossover of both is that of the bare room.
//!
//! *References.* As `findings::bass`.
//!
//! *Limits.* All but corner panels is sought by rays: waves judge what was found.

use crate::findings::bass::{BassAsked, BassError, BassRun, BassStudy, CornerStep, bass, corner_order};
use crate::layout::candidates::candidates;
use crate::layout::free::Free;
use crate::progress::{Cancelled, Progress};
use crate::response::LowEnd;
use crate::room::{Bodies, build};
use crate::scene::{Panel, PanelPlace, PanelType, Scene, StockKind};
use crate::wave::seen::is_fiber;

use super::search::{Corners, STEP};
use super::stock::Stock;

/// Where the corner panels of a stock take most, type by type; nowhere in particular where no waves are asked for or they cannot be run.
///
/// # Errors
/// [`Cancelled`].
pub(super) fn corner_places(progress: &Progress, stock: &Stock, asked: Option<&BassAsked>) -> Result<Corners, Cancelled> {
    let mut corners = Corners::default();
    let Some(asked) = asked else { return Ok(corners) };
    let mut scene = stock.scene.clone();
    for kind in stock.scene.stock.iter().filter(|kind| kind.kind == StockKind::Corner && kind.count > 0 && is_fiber(kind)) {
        let steps = match corner_order(progress, &scene, asked, (kind, &places)) {
            Ok(steps) => steps,
            Err(BassError::Stopped(stopped)) => return Err(stopped),
            Err(_) => return Ok(corners),
        };
        let panel = |step: &CornerStep| {
            let place = PanelPlace::Corner { corner: step.place.corner, bottom: step.place.bottoms_m[0] };
            Panel { kind: kind.name.clone(), place }
        };
        scene.panels.extend(steps.iter().map(panel));
        let told = |step: CornerStep| (kind.name.clone(), step.place.corner, step.place.bottoms_m[0], step.verified_db);
        corners.steps.extend(steps.into_iter().map(told));
    }
    Ok(corners)
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
    /// Why there is nothing.
    why: Option<String>,
}

impl LowEnds {
    /// Of a scene as it stands and with what is planned; of nothing where nobody asks for it or it cannot be.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub(super) fn of(progress: &Progress, stands: &Scene, planned: &Scene, asked: Option<&BassAsked>) -> Result<Self, Cancelled> {
        let Some(asked) = asked else { return Ok(Self { stands: None, planned: None, why: None }) };
        let run = |scene: &Scene, beside_bare: bool| match bass(progress, scene, &BassAsked { beside_bare, ..*asked }) {
            Ok(run) => Ok(Ok(run)),
            Err(BassError::Stopped(stopped)) => Err(stopped),
            Err(why) => Ok(Err(why.to_string())),
        };
        let is_bare = stands.panels.is_empty();
        let planned = match run(planned, true)? {
            Ok(planned) => planned,
            Err(why) => return Ok(Self { stands: None, planned: None, why: Some(why) }),
        };
        let stands = if is_bare { None } else { run(stands, false)?.ok() };
        Ok(Self { stands, planned: Some(planned), why: None })
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

    /// What the low end of a plan rests on.
    pub(super) fn note(&self) -> String {
        match (&self.planned, &self.why) {
            (Some(_), _) => {
                "Corner panels go where they take most from the ring of the low end; what all that hangs does to it is computed, before and after."
                    .to_owned()
            }
            (None, Some(why)) => format!("Corner panels stand by common practice: their bass is not computed, since {why}."),
            (None, None) => "Corner panels stand by common practice: their bass is not computed.".to_owned(),
        }
    }
}
