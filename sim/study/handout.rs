//! What a report is made of: what the seat hears now, maps of what absorber earns, and the plan that was made before, where it is one of this room.
//!
//! *Limits.* A plan tells by its scene whose it is: another room, other materials, sources, seats or levels, and it is left out. Panels that were hung since, and stock that was bought, only raise a doubt.

use crate::findings::Findings;
use crate::findings::bass::BassAsked;
use crate::plan::{Plan, PlanPictures};
use crate::progress::{Cancelled, Progress};
use crate::room::Room;
use crate::scene::Scene;

use super::live::Live;
use super::maps::{MapChoice, Quantity};
use super::{Sounded, planned, same_judgement, same_room, trace, usual_panel, waves_or_why};

/// A plan as `place` wrote it: its numbers, and the scene with its panels.
#[derive(Clone, Debug)]
pub struct StoredPlan {
    /// Its numbers.
    pub plan: Plan,
    /// The scene that it was written into.
    pub scene: Scene,
}

/// What a report is made of.
#[derive(Clone, Debug)]
pub struct Gathered {
    /// The scene as drawings of it are made; with a plan that may move panels, without those.
    pub scene: Scene,
    /// Its room.
    pub room: Room,
    /// What the seat hears now.
    pub now: Findings,
    /// The plan, or why there is none.
    pub plan: Result<Plan, String>,
    /// Maps of the room as it stands, and the panels of the plan.
    pub pictures: PlanPictures,
    /// Why the plan may no longer hold.
    pub doubt: Option<String>,
}

/// What is said without a plan.
const NO_PLAN: &str =
    "There is no plan yet: `roomwright place` with this scene makes one, with every panel, what it earns, and the room before and after.";

/// Gathers all of it; `stored` is the plan, or why it cannot be read, or `None` where there is none.
///
/// # Errors
/// [`Cancelled`].
pub fn gather(
    progress: &Progress,
    scene: &Scene,
    stored: Option<Result<StoredPlan, String>>,
    waves: Option<&BassAsked>,
) -> Result<Gathered, Cancelled> {
    let stored = match stored {
        None => Err(NO_PLAN.to_owned()),
        Some(Err(why)) => Err(format!("The plan cannot be read ({why}): run `roomwright place` with this scene again.")),
        Some(Ok(stored)) => match is_of(&stored, scene) {
            true => Ok(stored),
            false => Err("The plan that lies here is older than this scene, which says another room, other materials or other uses now: run `roomwright place` with it again.".to_owned()),
        },
    };
    match stored {
        Ok(stored) => with_plan(progress, scene, stored),
        Err(why) => without_plan(progress, scene, why, waves),
    }
}

/// Whether a plan was made for this room, judged alike.
fn is_of(stored: &StoredPlan, scene: &Scene) -> bool {
    let bare = |scene: &Scene| Scene { panels: Vec::new(), ..scene.clone() };
    let money_aside = |scene: &Scene, other: &Scene| {
        let goals = crate::scene::Goals { budget: other.goals.budget, ..scene.goals.clone() };
        Scene { goals, ..scene.clone() }
    };
    let (one, other) = (bare(scene), bare(&money_aside(&stored.scene, scene)));
    same_room(&one, &other) && same_judgement(&one, &Scene { name: one.name.clone(), stock: one.stock.clone(), ..other })
}

fn with_plan(progress: &Progress, scene: &Scene, stored: StoredPlan) -> Result<Gathered, Cancelled> {
    let StoredPlan { plan, scene: hung } = stored;
    let scene_now = planned(scene);
    let traced = trace(progress, scene)?;
    let mut pictures = maps(progress, scene, &traced)?;
    let placed = plan.placed.len();
    // The plan's panels stand last in its scene, those that stay where they hang before them.
    let new: Vec<_> = hung.panels.iter().skip(hung.panels.len().saturating_sub(placed)).cloned().collect();
    let doubt = (scene.stock.iter().map(|kind| &kind.name).ne(hung.stock.iter().map(|kind| &kind.name)) || new.len() != placed)
        .then(|| "The stock or what hangs has changed since this plan was made: `roomwright place` makes a new one.".to_owned());
    pictures.panels = scene_now.panels.iter().cloned().chain(new).collect();
    let now = plan.before.clone();
    Ok(Gathered { scene: scene_now, room: traced.room, now, plan: Ok(plan), pictures, doubt })
}

fn without_plan(progress: &Progress, scene: &Scene, why: String, waves: Option<&BassAsked>) -> Result<Gathered, Cancelled> {
    let (run, no_waves) = waves_or_why(progress, scene, waves)?;
    let sounded = Sounded::new(progress, scene, run.as_ref().map(|run| &run.low))?;
    let (now, traced, _) = sounded.judged(progress, scene, (run, no_waves), waves)?;
    let pictures = maps(progress, scene, &traced)?;
    Ok(Gathered { scene: scene.clone(), room: traced.room, now, plan: Err(why), pictures, doubt: None })
}

/// Maps for the usual type of panel; empty where nothing is in stock.
fn maps(progress: &Progress, scene: &Scene, traced: &super::Traced) -> Result<PlanPictures, Cancelled> {
    let Some(kind) = usual_panel(scene).and_then(|index| scene.stock.get(index)) else { return Ok(PlanPictures::default()) };
    let live = Live::new(progress, traced)?;
    let quantities = [Quantity::Earning, Quantity::Early, Quantity::Clarity, Quantity::Late];
    let choices = quantities.map(|quantity| MapChoice { quantity, source: None, octave: None });
    let mut maps = live.maps(progress, scene, kind, &choices)?.into_iter();
    let mut next = || maps.next().unwrap_or_default();
    Ok(PlanPictures { earning: next(), early: next(), clarity: next(), late: next(), ..PlanPictures::default() })
}
