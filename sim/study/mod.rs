//! The front door: what the command line, the report and the viewer ask, each question answered by one result.

pub mod live;

pub use live::{EarlyFindings, EarlyPair, Live};

use crate::findings::judge::judge;
use crate::findings::{Findings, Survey, survey as measure};
use crate::hanging::{self, Hanging};
use crate::plan::place as planner;
use crate::plan::{Plan, PlanPictures};
use crate::progress::{Cancelled, Progress};
use crate::room::{Bodies, Room, build};
use crate::scene::Scene;
use crate::weigh::Traced;

/// What is the room? Sizes, areas, volume; nothing is traced.
#[must_use]
pub fn survey(scene: &Scene) -> Survey {
    measure::survey(scene, &build(scene, Bodies::Standing))
}

/// Everything of a scene that does not depend on what its surfaces absorb: geometry, images, rays. Panels that lie flat are left to
/// [`study`].
///
/// # Errors
/// [`Cancelled`].
pub fn trace(progress: &Progress, scene: &Scene) -> Result<Traced, Cancelled> {
    planner::trace(progress, scene)
}

/// Findings of a traced scene with other things hanging flat on its surfaces: nothing is traced anew.
///
/// # Errors
/// [`Cancelled`].
pub fn study(progress: &Progress, scene: &Scene, traced: &Traced, hanging: &Hanging) -> Result<Findings, Cancelled> {
    judge(progress, scene, traced, hanging, measure::survey(scene, &traced.room))
}

/// What does the seat hear now? The findings, and the room they are drawn in.
///
/// # Errors
/// [`Cancelled`].
pub fn hear(progress: &Progress, scene: &Scene) -> Result<(Findings, Room), Cancelled> {
    let traced = trace(progress, scene)?;
    let hanging = hanging::from_panels(scene, &traced.room, &scene.panels);
    let findings = study(progress, scene, &traced, &hanging)?;
    Ok((findings, traced.room))
}

/// The plan, its pictures and the room they are drawn in.
#[derive(Clone, Debug)]
pub struct Placement {
    /// The plan and what it is worth.
    pub plan: Plan,
    /// Maps and panels for the drawings.
    pub pictures: PlanPictures,
    /// The room as it stands.
    pub room: Room,
}

/// Where do the panels go?
///
/// # Errors
/// [`Cancelled`].
pub fn place(progress: &Progress, scene: &Scene) -> Result<Placement, Cancelled> {
    let (plan, pictures, room) = planner::place(progress, scene)?;
    Ok(Placement { plan, pictures, room })
}
