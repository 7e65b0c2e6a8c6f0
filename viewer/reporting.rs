//! The report of the room on screen, one page and one PDF, where the command line puts it: made of what is known in the window and of what
//! lies in that folder.
//!
//! A plan of this window goes before one on disk: one that was found for the room on screen, or the one that was hung last, while nothing
//! else was changed since. The same holds for recordings that were compared here. All else is read from the folder, or computed.
//!
//! *Limits.* Sounds are files: what was played here by ear is not in it.

use std::path::PathBuf;
use std::sync::Arc;

use roomwright::files::{self, Disk};
use roomwright::progress::{Cancelled, Progress};
use roomwright::report;
use roomwright::scene::Scene;
use roomwright::study::handout::{Beside, gather, of_plan};
use roomwright::study::{self, BassAsked, Placement};

use crate::document::Document;
use crate::proving::Proven;
use crate::results::Results;
use crate::sheets::{folder, said};
use crate::view::View;

/// A plan, and the scene that it was made for.
#[derive(Clone, Debug)]
pub(crate) struct PlanOf {
    /// The scene, without what the plan hangs.
    pub(crate) scene: Arc<Scene>,
    /// The plan.
    pub(crate) placement: Arc<Placement>,
}

/// What a report is made of.
#[derive(Clone, Debug)]
pub(crate) struct ReportAsked {
    /// File of the scene.
    path: PathBuf,
    /// The plan of this window.
    plan: Option<PlanOf>,
    /// What recordings said in it.
    proven: Option<Arc<Proven>>,
    /// The low end by waves, where they are asked something.
    waves: Option<BassAsked>,
}

/// The same parts, not equal ones.
impl PartialEq for ReportAsked {
    fn eq(&self, other: &Self) -> bool {
        let plan = |asked: &Self| asked.plan.as_ref().map(|plan| Arc::as_ptr(&plan.placement));
        let proven = |asked: &Self| asked.proven.as_ref().map(Arc::as_ptr);
        self.path == other.path && self.waves == other.waves && plan(self) == plan(other) && proven(self) == proven(other)
    }
}

/// Why there can be none; empty where it can be written.
pub(crate) fn why_not(document: &Document) -> &'static str {
    match document.path() {
        _ if document.is_broken() => "The scene text has mistakes.",
        None => "The scene has no file yet: save it first, and the report goes beside it.",
        Some(_) => "",
    }
}

impl ReportAsked {
    /// Of the room on screen, or why not.
    pub(crate) fn of(document: &Document, results: &Results, view: &View) -> Result<Self, &'static str> {
        let (Some(path), "") = (document.path(), why_not(document)) else { return Err(why_not(document)) };
        let proven = results.proof.clone().filter(|proven| results.shows(&proven.scene));
        Ok(Self { path: path.to_owned(), plan: results.plan_here(), proven, waves: view.low_end.waves() })
    }

    /// Makes it and writes both files, or none; where they are, or why there are none.
    pub(crate) fn run(&self, progress: &Progress, scene: &Scene, disk: &dyn Disk) -> Result<String, Cancelled> {
        let folder = folder(&self.path);
        let beside = self.with_recordings(files::beside(disk, &folder));
        let gathered = match &self.plan {
            Some(plan) => of_plan(&study::planned(&plan.scene), &plan.placement, beside),
            None => gather(progress, scene, beside, self.waves.as_ref())?,
        };
        progress.begin("drawing", 1);
        progress.step(0)?;
        let made = report::handout_files(&(&gathered).into()).map_err(|why| why.to_string());
        progress.step(1)?;
        let written = made
            .and_then(|(_, sheets)| files::write_all(disk, &folder, "report", &self.path, &sheets).map_err(|failure| failure.to_string()));
        Ok(written.map_or_else(|why| format!("No report was written: {why}."), |written| said(&written, &folder)))
    }

    /// What was compared in this window goes before what lies on disk.
    fn with_recordings(&self, beside: Beside) -> Beside {
        let Some(proven) = &self.proven else { return beside };
        let proof = proven.proof.clone().map(Ok).or(beside.proof);
        let voice = proven.voices.as_ref().map(|voices| Ok(voices.proof.clone())).or(beside.voice);
        Beside { proof, voice, ..beside }
    }
}
