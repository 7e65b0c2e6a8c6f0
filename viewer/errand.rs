//! Errands: studies that take long and are made when somebody asks for them - the plan, the cloud against its height, where the set could
//! stand, the low end, recordings beside the scene, one layout beside the other, the report. One at a time; an edit gives it up, and so does another errand.
//!
//! What came of one is kept with the scene that it is of, and drawn with that: it stays readable when the scene on screen is another.

use std::sync::Arc;

use roomwright::files::Disk;
use roomwright::progress::{Cancelled, Progress};
use roomwright::scene::Scene;
use roomwright::study::{
    self, BassAsked, BassError, BassRun, CloudAsked, CloudError, CloudStudy, Placement, PositionsAsked, PositionsError, PositionsStudy,
};

use crate::lesson::{Beside, Difference};
use crate::proving::{Answered, ProveAsked};
use crate::reason::{without_keys, without_options};
use crate::reporting::ReportAsked;

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Errand {
    /// Where the stock hangs; its low end by waves where they are asked something.
    Plan(Option<BassAsked>),
    /// How high a cloud hangs.
    Cloud(CloudAsked),
    /// Where seat and loudspeakers stand, likewise.
    Positions(PositionsAsked, Option<BassAsked>),
    /// What waves do below rays.
    LowEnd(BassAsked),
    /// What recordings say beside it.
    Prove(ProveAsked),
    /// By how much layout B differs from A.
    Difference(Box<Beside>),
    /// All that there is about the room, as one document.
    Report(Box<ReportAsked>),
}

impl Errand {
    /// What the machine does meanwhile.
    pub(crate) fn doing(&self) -> &'static str {
        match self {
            Self::Plan(_) => "planning",
            Self::Cloud(_) => "trying the cloud",
            Self::Positions(..) => "trying places",
            Self::LowEnd(_) => "the low end",
            Self::Prove(asked) if asked.fits.is_some() => "fitting materials",
            Self::Prove(_) => "comparing recordings",
            Self::Difference(_) => "comparing layouts",
            Self::Report(_) => "the report",
        }
    }

    /// Whether both ask the same question, however it is put.
    pub(crate) fn is_like(&self, other: &Self) -> bool {
        self.doing() == other.doing()
    }

    /// Runs it; recordings are read from the disk, and a report is written to it.
    pub(crate) fn run(&self, progress: &Progress, scene: &Arc<Scene>, disk: &dyn Disk) -> Result<Outcome, Cancelled> {
        fn told<T>(scene: &Arc<Scene>, found: Result<T, String>) -> Arc<OfScene<T>> {
            Arc::new(OfScene { scene: scene.clone(), found })
        }
        Ok(match self {
            Self::Plan(waves) => Outcome::Plan(Arc::new(study::place_with(progress, scene, waves.as_ref())?)),
            Self::Cloud(asked) => Outcome::Cloud(match study::cloud(progress, scene, asked) {
                Ok(study) => told(scene, Ok(study)),
                Err(CloudError::Cannot(why)) => told(scene, Err(without_keys(&why.to_string()))),
                Err(CloudError::Stopped(stopped)) => return Err(stopped),
            }),
            Self::Positions(asked, waves) => Outcome::Positions(match study::positions_with(progress, scene, asked, waves.as_ref()) {
                Ok(study) => told(scene, Ok((asked.clone(), study))),
                Err(PositionsError::Cannot(why)) => told(scene, Err(without_keys(&why.to_string()))),
                Err(PositionsError::Stopped(stopped)) => return Err(stopped),
            }),
            Self::LowEnd(asked) => Outcome::LowEnd(match study::waves(progress, scene, asked) {
                Ok(run) => told(scene, Ok(run)),
                Err(BassError::Stopped(stopped)) => return Err(stopped),
                Err(why) => told(scene, Err(why_no_low_end(&why))),
            }),
            Self::Prove(asked) => Outcome::Answer(asked.run(progress, scene, disk)?),
            Self::Difference(beside) => Outcome::Difference(beside.run(progress)?),
            Self::Report(asked) => Outcome::Report(asked.run(progress, scene, disk)?),
        })
    }
}

/// Why there is no study of the low end, in words of the screen.
pub(crate) fn why_no_low_end(why: &BassError) -> String {
    without_keys(&without_options(&why.to_string()))
}

/// An errand that is run.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Running {
    /// What is asked for.
    pub(crate) errand: Errand,
    /// What it does now, and how far that is, 0 to 1.
    pub(crate) stage: &'static str,
    pub(crate) done: f32,
    /// It has found something that it can end with.
    pub(crate) can_end: bool,
}

/// What was found of a scene, or why nothing can be found.
#[derive(Clone, Debug)]
pub(crate) struct OfScene<T> {
    /// The scene.
    pub(crate) scene: Arc<Scene>,
    /// What was found.
    pub(crate) found: Result<T, String>,
}

/// Places for the set, and what was asked.
pub(crate) type Positions = (PositionsAsked, PositionsStudy);

/// The low end of a scene: what waves do, the fields that tell it all over the room, and what its rays are joined with.
pub(crate) type LowEnd = OfScene<BassRun>;

/// What came of an errand.
#[derive(Clone, Debug)]
pub(crate) enum Outcome {
    /// The plan.
    Plan(Arc<Placement>),
    /// The cloud against its height.
    Cloud(Arc<OfScene<CloudStudy>>),
    /// Places for the set.
    Positions(Arc<OfScene<Positions>>),
    /// The low end.
    LowEnd(Arc<LowEnd>),
    /// What recordings say.
    Answer(Answered),
    /// Two layouts side by side.
    Difference(Arc<Difference>),
    /// Where the report is, or why there is none.
    Report(String),
}
