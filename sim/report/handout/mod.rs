//! The report: the whole job in one document to hand over, as a page of HTML that holds all it needs and as a PDF, of the same parts.
//!
//! What it says is what the pages of the command line say ([`super::text`]), section by section, with the drawings between. What is not there yet (a plan, a recording, sounds) leaves a gap that says so, in
//! the place where it belongs, and how to fill it.
//!
//! - `parts`: which sections and drawings make which part;
//! - `document` beside it: the two printers;
//! - `view`: the room as data for the picture that can be turned.
//!
//! *Limits.* Drawings are of the values given; nothing is computed here.

mod parts;
mod view;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::findings::Findings;
use crate::plan::{Plan, PlanPictures};
use crate::prove::Proof;
use crate::prove::voice::VoiceProof;
use crate::report::heatmap::Heat;
use crate::room::Room;
use crate::scene::Scene;
use crate::study::handout::{Gathered, Heard};

use super::document;
use super::pdf::{self, PdfError};

/// All that a report is made of.
#[derive(Clone, Debug)]
pub struct Handout<'a> {
    /// The scene as the room stands; with a plan that may move panels, without those.
    pub scene: &'a Scene,
    /// Its room.
    pub room: &'a Room,
    /// What the seat hears now.
    pub now: &'a Findings,
    /// The plan with its panels, or why there is none.
    pub plan: Result<(&'a Plan, &'a PlanPictures), String>,
    /// Maps of the room as it stands; empty where nothing is in stock.
    pub maps: &'a PlanPictures,
    /// Why the plan may no longer hold.
    pub doubt: Option<String>,
    /// Measured beside predicted, or why not.
    pub proof: Result<&'a Proof, String>,
    /// A voice before and after.
    pub voice: Option<&'a VoiceProof>,
    /// Sounds to listen to beside the report, or why there are none.
    pub sounds: Result<&'a Heard, String>,
}

impl<'a> From<&'a Gathered> for Handout<'a> {
    fn from(gathered: &'a Gathered) -> Self {
        Self {
            scene: &gathered.scene,
            room: &gathered.room,
            now: &gathered.now,
            plan: gathered.plan.as_ref().map(|plan| (plan, &gathered.pictures)).map_err(Clone::clone),
            maps: &gathered.pictures,
            doubt: gathered.doubt.clone(),
            proof: gathered.proof.as_ref().map_err(Clone::clone),
            voice: gathered.voice.as_ref(),
            sounds: gathered.sounds.as_ref().map_err(Clone::clone),
        }
    }
}

/// Maps of the room as it stands, each with what it shows.
fn maps(pictures: &PlanPictures) -> [(Heat, &Vec<crate::plan::SurfaceMap>); 4] {
    [(Heat::Earning, &pictures.earning), (Heat::Early, &pictures.early), (Heat::Clarity, &pictures.clarity), (Heat::Late, &pictures.late)]
}

/// What a report says, and what it has to leave out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Contents {
    /// Its parts in their order.
    pub parts: Vec<ContentsPart>,
}

/// A part of a report.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ContentsPart {
    /// Its heading.
    pub heading: String,
    /// What is not there, and how to get it.
    pub missing: Vec<String>,
}

/// Style of the room that can be turned.
pub(super) use view::STYLE;
/// The room around its drawing, so that it can be turned where a page allows it.
pub(super) use view::figure as turned;

/// Names and bytes.
type Files = Vec<(String, Vec<u8>)>;

/// Name of the page.
const PAGE: &str = "report.html";
/// Name of the pages to print.
const PAPER: &str = "report.pdf";

/// Name and bytes of both, and what they say.
///
/// # Errors
/// [`PdfError`].
pub fn handout_files(handout: &Handout<'_>) -> Result<(Contents, Files), PdfError> {
    let parts = parts::parts(handout);
    let title = parts::title(handout);
    let room = |still: &str, about: &str| turned(handout, still, about);
    let page = document::page((&title, &parts), (&room, STYLE));
    let printed = pdf::pdf(&title, &document::pages((&title, &parts), (handout.scene, "roomwright report")))?;
    let contents = Contents { parts: parts.iter().map(parts::contents).collect() };
    Ok((contents, vec![(PAGE.to_owned(), page.into_bytes()), (PAPER.to_owned(), printed)]))
}
