//! The front door: what the command line, the report and the viewer ask, each question answered by one result.

use crate::findings::{Findings, Survey, survey as measure};
use crate::plan::place as planner;
use crate::plan::{Plan, PlanPictures};
use crate::progress::{Cancelled, Progress};
use crate::room::{Bodies, Room, build};
use crate::scene::Scene;

/// What is the room? Sizes, areas, volume; nothing is traced.
#[must_use]
pub fn survey(scene: &Scene) -> Survey {
    measure::survey(scene, &build(scene, Bodies::Standing))
}

/// What does the seat hear now?
///
/// # Errors
/// [`Cancelled`].
pub fn hear(progress: &Progress, scene: &Scene) -> Result<(Findings, Room), Cancelled> {
    let (findings, traced) = planner::as_it_stands(progress, scene)?;
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
