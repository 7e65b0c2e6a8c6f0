//! The front door: what the command line, the report and the viewer ask, each question answered by one result.

pub mod absorbers;
pub mod build;
pub mod compare;
pub mod corners;
pub mod fit;
pub mod handout;
pub mod landing;
pub mod listen;
pub mod live;
pub mod maps;
pub mod prove;
pub mod sound;
pub mod sweep;
pub mod voice;
pub mod wavefront;

pub use crate::findings::bass::{
    BassAsked, BassCorners, BassEffort, BassError, BassFields, BassPicture, BassRun, BassSlice, BassStudy, MEMORY, MOST_OTHERS, OTHERS,
    TOPS, USUAL_TOP,
};
pub use crate::plan::cloud::{CannotHang, CloudAsked, CloudError, CloudStudy, HEIGHTS_MOST};
pub use crate::plan::positions::{CannotMove, PositionsAsked, PositionsError, PositionsStudy};
pub use crate::response::LowEnd;
pub use crate::weigh::Traced;
pub use crate::weigh::landing::Landing;
pub use absorbers::{Absorbers, Asked, absorbers};
pub use build::{Building, CannotBuild, build};
pub use compare::{Compared, ComparedFigure, ComparedRooms, Comparison, VERSIONS_MOST, Version, compare, compare_and_listen};
pub use corners::bass_corners;
pub use fit::{FitError, Fitted, prove_and_fit};
pub use landing::landing;
pub use listen::{ListenAsked, ListenError, Listened, Listener, Played, SoundFile, Sounds, hear_and_listen, responses};
pub use live::{EarlyFindings, EarlyPair, Live, same_judgement, same_room};
pub use maps::{MapChoice, Quantity};
pub use num_complex::Complex64;
pub use prove::{NoTake, ProveError, Recording, prove, usual_ends};
pub use sound::{Impulse, Pickup, Point, SoundAsked, Tails, impulses};
pub use sweep::{TestSignal, sweep};
pub use voice::{MatchedVoice, VoiceRecording, prove_voices};
pub use wavefront::{Curve, Wavefront};

use crate::findings::judge::{Heard, judge};
use crate::findings::sure::hear_until_sure;
use crate::findings::{Findings, Survey, survey as measure};
use crate::hanging::Hanging;
use crate::plan::accounts::without_place;
use crate::plan::place::{self as planner, AsBuilt};
use crate::plan::stock::Stock;
use crate::plan::{Plan, PlanPictures};
use crate::progress::{Cancelled, Progress};
use crate::room::{Bodies, Room, build as room_of};
use crate::scene::Scene;
use crate::settings::Settings;

/// What is the room? Sizes, areas, volume; nothing is traced.
#[must_use]
pub fn survey(scene: &Scene) -> Survey {
    let room = room_of(scene, Bodies::Standing);
    Survey { without_place: without_place(scene, &room), ..measure::survey(scene, &room) }
}

/// Everything of a scene that does not depend on what its surfaces absorb: geometry, images, rays. Panels that lie flat are left to
/// [`study`].
///
/// # Errors
/// [`Cancelled`].
pub fn trace(progress: &Progress, scene: &Scene) -> Result<Traced, Cancelled> {
    planner::trace(progress, scene)
}

/// The room of a scene as it is drawn, its flat panels left out; nothing is traced.
#[must_use]
pub fn room(scene: &Scene) -> Room {
    room_of(scene, Bodies::Standing)
}

/// As [`trace`], but with this many rays a source, followed long enough for every layout of flat panels, none of them included.
///
/// # Errors
/// [`Cancelled`].
pub fn trace_for_trials(progress: &Progress, scene: &Scene, rays: u32) -> Result<Traced, Cancelled> {
    let room = room_of(scene, Bodies::Standing);
    let settings = Settings { rays, ..scene.settings.clone() };
    let end_s = planner::record_length(progress, &room, &settings)?;
    Traced::new(progress, room, settings, end_s)
}

/// The type of panel that maps are for unless another one is chosen: the flat one of which there are most; its number in the stock.
#[must_use]
pub fn usual_panel(scene: &Scene) -> Option<usize> {
    planner::reference_panel(scene)
}

/// Findings of a traced scene with other things hanging flat on its surfaces: nothing is traced anew.
///
/// # Errors
/// [`Cancelled`].
pub fn study(progress: &Progress, scene: &Scene, traced: &Traced, hanging: &Hanging) -> Result<Findings, Cancelled> {
    study_with(progress, scene, (traced, None), hanging)
}

/// The same joined with what waves bring below the crossover; they were run in the scene as it hangs here (`low` of a [`BassRun`], `bare_low` where nothing hangs).
///
/// # Errors
/// [`Cancelled`].
pub fn study_with(
    progress: &Progress,
    scene: &Scene,
    (traced, low): (&Traced, Option<&LowEnd>),
    hanging: &Hanging,
) -> Result<Findings, Cancelled> {
    judge(progress, scene, (traced, low), hanging, measure::survey(scene, &traced.room))
}

/// What does the seat hear now? The findings, every panel as it is built, and the room they are drawn in; by images and rays alone.
///
/// # Errors
/// [`Cancelled`].
pub fn hear(progress: &Progress, scene: &Scene) -> Result<(Findings, Room), Cancelled> {
    hear_with(progress, scene, None)
}

/// The same with waves below the crossover, and what else they tell; where they cannot be run a note says why.
///
/// # Errors
/// [`Cancelled`].
pub fn hear_with(progress: &Progress, scene: &Scene, waves: Option<&BassAsked>) -> Result<(Findings, Room), Cancelled> {
    let (run, why) = waves_or_why(progress, scene, waves)?;
    let sounded = Sounded::new(progress, scene, run.as_ref().map(|run| &run.low))?;
    Ok((sounded.judged(progress, scene, (run, why), waves)?.0, room(scene)))
}

/// What waves tell, or a sentence why they cannot be run; neither where nobody asks.
fn waves_or_why(progress: &Progress, scene: &Scene, waves: Option<&BassAsked>) -> Result<(Option<BassRun>, Option<String>), Cancelled> {
    match waves.map(|asked| self::waves(progress, scene, asked)) {
        None => Ok((None, None)),
        Some(Ok(run)) => Ok((Some(run), None)),
        Some(Err(BassError::Stopped(stopped))) => Err(stopped),
        Some(Err(why)) => Ok((None, Some(format!("The low end was not computed: {why}.")))),
    }
}

/// A room that is traced as built until every figure is sure, not judged yet.
struct Sounded {
    traced: Traced,
    hanging: Hanging,
    survey: Survey,
    heard: Heard,
}

impl Sounded {
    fn new(progress: &Progress, scene: &Scene, low: Option<&LowEnd>) -> Result<Self, Cancelled> {
        let AsBuilt { mut traced, hanging, survey } = planner::trace_as_built(progress, scene)?;
        let heard = hear_until_sure(progress, scene, (&mut traced, low), &hanging, &survey)?;
        Ok(Self { traced, hanging, survey, heard })
    }

    /// The findings, with what waves told or why they did not.
    fn judged(
        self,
        progress: &Progress,
        scene: &Scene,
        (run, why): (Option<BassRun>, Option<String>),
        waves: Option<&BassAsked>,
    ) -> Result<(Findings, Traced, Hanging), Cancelled> {
        let Self { traced, hanging, survey, heard } = self;
        let mut findings = heard.judged(progress, scene, (&traced, run.as_ref().map(|run| &run.low)), &hanging, survey)?;
        findings.notes.extend(why);
        findings.notes.extend(waves.filter(|_| run.is_some()).and_then(|asked| crate::findings::bass::too_small(scene, asked)));
        findings.bass = run.map(|run| run.study);
        Ok((findings, traced, hanging))
    }
}

/// The scene that a plan of it hangs its panels in: without what hangs already where the plan may move it; drawings and pages of a plan are made with it.
#[must_use]
pub fn planned(scene: &Scene) -> Scene {
    Stock::of(scene).scene
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
    place_with(progress, scene, None)
}

/// The same with waves below the crossover, before and after.
///
/// # Errors
/// [`Cancelled`].
pub fn place_with(progress: &Progress, scene: &Scene, waves: Option<&BassAsked>) -> Result<Placement, Cancelled> {
    let (plan, pictures, room) = planner::place(progress, scene, waves)?;
    let held_back = build::held_back(scene, &plan, &pictures);
    let plan = Plan { held_back, ..plan };
    let meanwhile = meanwhile(progress, scene, (&plan, &pictures))?;
    Ok(Placement { plan: Plan { meanwhile, ..plan }, pictures, room })
}

/// What is heard as long as the panels that are held back stay down.
fn meanwhile(progress: &Progress, scene: &Scene, (plan, pictures): (&Plan, &PlanPictures)) -> Result<Option<Findings>, Cancelled> {
    if plan.held_back.is_empty() {
        return Ok(None);
    }
    let own = planned(scene).panels.len();
    let is_held = |number: u32| plan.held_back.iter().any(|held| held.number == number);
    let hangs = |index: usize| index.checked_sub(own).and_then(|index| plan.placed.get(index)).is_none_or(|placed| !is_held(placed.number));
    let panels = pictures.panels.iter().enumerate().filter(|(index, _)| hangs(*index)).map(|(_, panel)| panel.clone()).collect();
    let hung = Scene { panels, settings: planner::fresh_settings(&scene.settings), ..scene.clone() };
    planner::as_built(progress, &hung, None).map(Some)
}

/// What the waves of a plan would take at most, beside its rays.
///
/// # Errors
/// [`BassError`]: nobody sounds or hears, the room does not close, or it takes too much.
pub fn place_effort(scene: &Scene, waves: &BassAsked) -> Result<BassEffort, BassError> {
    crate::plan::low::effort(scene, waves)
}

/// What do waves do below the frequency at which rays begin to be right?
///
/// # Errors
/// [`BassError`]: nobody sounds or hears, the room does not close, it takes too much, or stopped.
pub fn bass(progress: &Progress, scene: &Scene, asked: &BassAsked) -> Result<BassStudy, BassError> {
    waves(progress, scene, asked).map(|run| run.study)
}

/// The same, the field all over the room as it stands, and what its rays are joined with, out of the same run.
///
/// # Errors
/// As [`bass`].
pub fn waves(progress: &Progress, scene: &Scene, asked: &BassAsked) -> Result<BassRun, BassError> {
    crate::findings::bass::bass(progress, scene, asked)
}

/// What that study would take.
///
/// # Errors
/// [`BassError`]: nobody sounds or hears, the room does not close, or it takes too much.
pub fn bass_effort(scene: &Scene, asked: &BassAsked) -> Result<BassEffort, BassError> {
    crate::findings::bass::effort(scene, asked)
}

/// How high does a cloud hang, and how much does it matter?
///
/// # Errors
/// [`CloudError`]: there is no cloud or no place for it, or stopped.
pub fn cloud(progress: &Progress, scene: &Scene, asked: &CloudAsked) -> Result<CloudStudy, CloudError> {
    crate::plan::cloud::cloud(progress, scene, asked)
}

/// Where do seat and loudspeakers stand before a single panel is hung? By images and rays alone.
///
/// # Errors
/// [`PositionsError`]: nothing may move, it fits nowhere, or stopped.
pub fn positions(progress: &Progress, scene: &Scene, asked: &PositionsAsked) -> Result<PositionsStudy, PositionsError> {
    positions_with(progress, scene, asked, None)
}

/// The same with what waves tell of the low end at each place; where they cannot be run a note says why.
///
/// # Errors
/// As [`positions`].
pub fn positions_with(
    progress: &Progress,
    scene: &Scene,
    asked: &PositionsAsked,
    waves: Option<&BassAsked>,
) -> Result<PositionsStudy, PositionsError> {
    crate::plan::positions::positions(progress, scene, asked, waves)
}

/// What the waves of that study would take at most where no step of the grid is asked for, beside its rays.
///
/// # Errors
/// As [`place_effort`].
pub fn positions_effort(scene: &Scene, waves: &BassAsked) -> Result<BassEffort, BassError> {
    crate::plan::positions::effort(scene, waves)
}
