//! What is to be built: the difference between the room as it stands and the room of its plan.
//!
//! What is only made, held and carried (`[build]`, `[[structure]]`, `mass`, `fixing`, `price`) may be told after the plan: the room's own text says it.
//!
//! *Limits.* A plan is of this room where both texts say the same of everything else but what hangs, what is left in stock and what is left of a budget. That it
//! would hang elsewhere had it known the members is said, not tried.

use crate::plan::{HeldBack, Plan, PlanPictures};
use crate::room::{Bodies, Room, build as room_of};
use crate::scene::making::Making;
use crate::scene::prices::{PriceList, example};
use crate::scene::{Goals, Panel, PanelType, Scene};
use crate::workshop::{self, Build, Job, Trouble};

use super::planned;

/// What is built, and what its sheets are drawn in.
#[derive(Clone, Debug)]
pub struct Building {
    /// All of it.
    pub build: Build,
    /// The scene with what hangs in it already, and stays.
    pub scene: Scene,
    /// Its room.
    pub room: Room,
    /// What is to be hung, in hanging order, as it is marked.
    pub panels: Vec<Panel>,
}

/// Why nothing can be built.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CannotBuild {
    /// There is no panel.
    #[error(
        "no panel hangs in this scene, so there is nothing to build: `place` makes the plan, and its plan.toml is a scene that can be built"
    )]
    NothingHangs,
    /// The plan leaves everything where it hangs.
    #[error("the plan hangs nothing that does not hang already: there is nothing to build")]
    NothingNew,
    /// The plan is of another room.
    #[error("the plan was made of another state of this scene: run `place` again, or build the plan itself by naming its file")]
    AnotherRoom,
}

/// What do I cut, and where do I drill? `before` is the room as it stands, where the plan hangs more in it; without it everything that hangs in the plan is to be built.
///
/// # Errors
/// [`CannotBuild`].
pub fn build(before: Option<&Scene>, plan: &Scene, prices: &PriceList) -> Result<Building, CannotBuild> {
    if plan.panels.is_empty() {
        return Err(CannotBuild::NothingHangs);
    }
    if before.is_some_and(|before| bare(before) != bare(plan)) {
        return Err(CannotBuild::AnotherRoom);
    }
    let members_are_new = before.is_some_and(|before| before.making.structure != plan.making.structure);
    let now = before.map(|before| as_made_now(before, plan));
    let plan = now.as_ref().unwrap_or(plan);
    let hung = before.map_or(&[][..], |before| &before.panels);
    let mut left: Vec<&Panel> = hung.iter().collect();
    let (mut stays, mut new) = (Vec::new(), Vec::new());
    for panel in &plan.panels {
        match left.iter().position(|other| *other == panel) {
            Some(place) => {
                left.remove(place);
                stays.push(panel.clone());
            }
            None => new.push(panel.clone()),
        }
    }
    if new.is_empty() {
        return Err(CannotBuild::NothingNew);
    }
    let count = |panels: &[Panel], kind: &PanelType| panels.iter().filter(|panel| panel.kind == kind.name).map(Panel::count).sum::<u32>();
    let pieces: Vec<(String, u32)> =
        plan.stock.iter().map(|kind| (kind.name.clone(), count(&plan.panels, kind).saturating_sub(count(hung, kind)))).collect();
    let scene = Scene { panels: stays, ..plan.clone() };
    let room = room_of(&scene, Bodies::Standing);
    let (mut build, panels) = workshop::build(Job { scene: &scene, room: &room, panels: &new, pieces: &pieces, prices });
    if members_are_new {
        let message = "studs, joists or whatever carries were changed after the plan was made, which does not know them".to_owned();
        let hint = "run `place` again: it moves what would find nothing to hang from to where it does; or hang it as it is marked here";
        build.troubles.push(Trouble::new("members-after-plan", message, hint));
    }
    Ok(Building { build, scene, room, panels })
}

/// Panels of a plan that its sheets forbid to hang, by the numbers of the plan.
pub(super) fn held_back(scene: &Scene, plan: &Plan, pictures: &PlanPictures) -> Vec<HeldBack> {
    let planned = Scene { panels: pictures.panels.clone(), ..planned(scene) };
    let before = Scene { panels: scene.panels.clone(), ..planned.clone() };
    // What a price list says has no part in it.
    let Ok(building) = build(Some(&before), &planned, &example()) else { return Vec::new() };
    let numbers: Vec<u32> = plan.placed.iter().map(|placed| placed.number).filter(|&number| !plan.hangs_already(number)).collect();
    let held = building.build.overhead.iter().filter(|overhead| !overhead.not_to_be_hung.is_empty());
    let told = held.filter_map(|overhead| {
        let number = *numbers.get((overhead.number as usize).checked_sub(1)?)?;
        Some(HeldBack { number, surface: overhead.surface.clone(), why: overhead.not_to_be_hung.clone() })
    });
    told.collect()
}

/// The plan with all that is made, held and carried as the room's own text says it now.
fn as_made_now(before: &Scene, plan: &Scene) -> Scene {
    // Both say the same types in the same order.
    let stock = before.stock.iter().zip(&plan.stock).map(|(now, planned)| PanelType { count: planned.count, ..now.clone() }).collect();
    Scene { panels: plan.panels.clone(), goals: plan.goals.clone(), stock, ..before.clone() }
}

/// A scene without what a plan changes, and without what no plan is made by.
pub(super) fn bare(scene: &Scene) -> Scene {
    let stock = scene.stock.iter().map(|kind| PanelType { count: 0, mass: None, fixing: None, price: None, ..kind.clone() }).collect();
    let goals = Goals { budget: None, ..scene.goals.clone() };
    Scene { panels: Vec::new(), stock, goals, making: Making::default(), ..scene.clone() }
}
