//! What a report is made of: what the seat hears now, maps of what absorber earns, and what other commands left beside the scene: the plan, where it is one of this room, what was measured, sounds.
//!
//! *Limits.* A plan tells by its scene whose it is: another room, other materials, sources, seats or levels, and it is left out. Panels that were hung since, and stock that was bought, only raise a doubt. Sounds tell by what
//! hung when they were heard.

use crate::findings::Findings;
use crate::findings::bass::BassAsked;
use crate::plan::{Layout, Plan, PlanPictures};
use crate::progress::{Cancelled, Progress};
use crate::prove::Proof;
use crate::prove::voice::VoiceProof;
use crate::room::Room;
use crate::scene::{Panel, Scene, print_panels, read_panels};

use super::build::bare;
use super::listen::Sounds;
use super::live::Live;
use super::maps::{MapChoice, Quantity};
use super::{Placement, Sounded, planned, same_judgement, same_room, trace, usual_panel, waves_or_why};

/// A plan as `place` wrote it: its numbers, and the scene with its panels.
#[derive(Clone, Debug)]
pub struct StoredPlan {
    /// Its numbers.
    pub plan: Plan,
    /// The scene that it was written into.
    pub scene: Scene,
}

/// What another command wrote, or why it cannot be read; `None` where there is none.
pub type Stored<T> = Option<Result<T, String>>;

/// What other commands left in the folder that a report goes into.
#[derive(Clone, Debug, Default)]
pub struct Beside {
    /// The plan.
    pub plan: Stored<StoredPlan>,
    /// What was measured, beside what was predicted.
    pub proof: Stored<Proof>,
    /// A voice before and after.
    pub voice: Stored<VoiceProof>,
    /// Sounds of the scene.
    pub sounds: Stored<Sounds>,
    /// Sounds of the plan, which lie in a folder of their own.
    pub plan_sounds: Stored<Sounds>,
}

/// Sounds to listen to beside a report.
#[derive(Clone, Debug)]
pub struct Heard {
    /// What they are.
    pub sounds: Sounds,
    /// Where they lie from the report: nothing, or a folder with a stroke behind.
    pub folder: &'static str,
    /// What they are not, and how to get that.
    pub doubt: Option<String>,
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
    /// Measured beside predicted, or why not.
    pub proof: Result<Proof, String>,
    /// A voice before and after.
    pub voice: Option<VoiceProof>,
    /// Sounds to listen to, or why there are none.
    pub sounds: Result<Heard, String>,
}

/// Folder of what is made of a plan, from its report.
pub const OF_PLAN: &str = "plan/";

/// What is said without a plan.
const NO_PLAN: &str =
    "There is no plan yet: `roomwright place` with this scene makes one, with every panel, what it earns, and the room before and after.";

/// Said where nothing was measured, and where there are no sounds.
const NOT_MEASURED: &str = "Nothing was measured yet: `roomwright sweep` writes a signal to play, `roomwright prove` with the recording tells whether the room does what was predicted.";
const NO_SOUNDS: &str = "There are no sounds yet: `roomwright hear` with plan.toml and `--sound all` writes what the room sounds like bare and treated, equally loud and in turns.";
const BEFORE_THE_PLAN: &str = "These sounds were heard without this plan: `roomwright hear` with plan.toml and `--sound all` writes what the room sounds like bare and treated.";
const OTHERS_HUNG: &str = "These sounds were heard while something else hung here, and may be of a room that was another: `roomwright hear` with `--sound` writes them anew.";

/// Said where members were told after the plan.
const MEMBERS_AFTER: &str = "Studs, joists or whatever carries were changed after this plan was made, which does not know them: `roomwright build` marks by them and says what may be hung; `roomwright place` moves what would find nothing to hang from.";

/// Gathers all of it.
///
/// # Errors
/// [`Cancelled`].
pub fn gather(progress: &Progress, scene: &Scene, beside: Beside, waves: Option<&BassAsked>) -> Result<Gathered, Cancelled> {
    let Beside { plan, proof, voice, sounds, plan_sounds } = beside;
    let stored = match plan {
        None => Err(NO_PLAN.to_owned()),
        Some(Err(why)) => Err(format!("The plan cannot be read ({why}): run `roomwright place` with this scene again.")),
        Some(Ok(stored)) => match is_of(&stored, scene) {
            true => Ok(stored),
            false => Err("The plan that lies here is older than this scene, which says another room, other materials or other uses now: run `roomwright place` with it again.".to_owned()),
        },
    };
    let sounds = heard((sounds, plan_sounds), scene, stored.as_ref().ok().map(|stored| &stored.scene));
    let gathered = match stored {
        Ok(stored) => with_plan(progress, scene, stored)?,
        Err(why) => without_plan(progress, scene, why, waves)?,
    };
    Ok(Gathered { proof: told(proof, NOT_MEASURED), voice: voice.and_then(Result::ok), sounds, ..gathered })
}

/// Gathers what there is around a plan that has just been made; `planned` is the scene that it was made in ([`planned`]).
#[must_use]
pub fn of_plan(planned: &Scene, placement: &Placement, beside: Beside) -> Gathered {
    let Beside { proof, voice, sounds, plan_sounds, .. } = beside;
    let Placement { plan, pictures, room } = placement.clone();
    let hung = Scene { panels: pictures.panels.clone(), ..planned.clone() };
    Gathered {
        pictures,
        proof: told(proof, NOT_MEASURED),
        voice: voice.and_then(Result::ok),
        sounds: heard((sounds, plan_sounds), planned, Some(&hung)),
        ..Gathered::nothing_beside(planned.clone(), room, plan.before.clone(), Ok(plan))
    }
}

/// What is there, or why not.
fn told<T>(stored: Stored<T>, none: &str) -> Result<T, String> {
    stored.map_or_else(|| Err(none.to_owned()), |stored| stored.map_err(|why| format!("{why}. Run its command again.")))
}

/// Sounds of the plan before those of the scene, each with what it is not.
fn heard((sounds, plan_sounds): (Stored<Sounds>, Stored<Sounds>), scene: &Scene, plan: Option<&Scene>) -> Result<Heard, String> {
    // The order in which panels are written is no other room.
    let in_order = |hangs: &str| {
        let mut panels: Vec<String> = hangs.split("[[panel]]").map(|panel| panel.trim().to_owned()).collect();
        panels.sort();
        panels
    };
    let hangs = |sounds: &Sounds, scene: &Scene| {
        sounds.hangs.as_deref().is_none_or(|hangs| in_order(hangs) == in_order(&print_panels(scene, &scene.panels)))
    };
    if let (Some(plan), Some(Ok(sounds))) = (plan, &plan_sounds)
        && hangs(sounds, plan)
    {
        return Ok(Heard { sounds: sounds.clone(), folder: OF_PLAN, doubt: None });
    }
    let sounds = told(sounds, NO_SOUNDS)?;
    let doubt = match plan {
        Some(plan) => (!hangs(&sounds, plan)).then_some(BEFORE_THE_PLAN),
        None => (!hangs(&sounds, scene)).then_some(OTHERS_HUNG),
    };
    Ok(Heard { sounds, folder: "", doubt: doubt.map(str::to_owned) })
}

/// Whether a plan was made for this room, judged alike.
fn is_of(stored: &StoredPlan, scene: &Scene) -> bool {
    let (one, other) = (bare(scene), bare(&stored.scene));
    // Nothing that sounds, but a place for it.
    let is_as_free = one.clearances == other.clearances;
    is_as_free && same_room(&one, &other) && same_judgement(&one, &Scene { name: one.name.clone(), stock: one.stock.clone(), ..other })
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
    let members = scene.making.structure != hung.making.structure;
    let doubt = doubt.or_else(|| members.then(|| MEMBERS_AFTER.to_owned()));
    pictures.panels = scene_now.panels.iter().cloned().chain(new).collect();
    pictures.layouts = arranged(&plan, &hung).unwrap_or_default();
    let now = plan.before.clone();
    Ok(Gathered { pictures, doubt, ..Gathered::nothing_beside(scene_now, traced.room, now, Ok(plan)) })
}

/// All that hangs in each layout of a plan; `None` where a plan does not say it.
fn arranged(plan: &Plan, hung: &Scene) -> Option<Vec<Vec<Panel>>> {
    let of = |layout: &Layout| {
        let panels = read_panels(hung, &layout.hangs).ok()?;
        (panels.len() == layout.panels as usize).then_some(panels)
    };
    plan.layouts.iter().map(of).collect()
}

fn without_plan(progress: &Progress, scene: &Scene, why: String, waves: Option<&BassAsked>) -> Result<Gathered, Cancelled> {
    let (run, no_waves) = waves_or_why(progress, scene, waves)?;
    let sounded = Sounded::new(progress, scene, run.as_ref().map(|run| &run.low))?;
    let (now, traced, _) = sounded.judged(progress, scene, (run, no_waves), waves)?;
    // Maps are of flat panels, which may still move: on the same paths where none is a body.
    let traced = if scene.panels.is_empty() { traced } else { trace(progress, scene)? };
    let pictures = maps(progress, scene, &traced)?;
    Ok(Gathered { pictures, ..Gathered::nothing_beside(scene.clone(), traced.room, now, Err(why)) })
}

impl Gathered {
    /// A room and what is known of it, without pictures and with nothing beside.
    fn nothing_beside(scene: Scene, room: Room, now: Findings, plan: Result<Plan, String>) -> Self {
        let (proof, sounds) = (Err(NOT_MEASURED.to_owned()), Err(NO_SOUNDS.to_owned()));
        Self { scene, room, now, plan, pictures: PlanPictures::default(), doubt: None, proof, voice: None, sounds }
    }
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
