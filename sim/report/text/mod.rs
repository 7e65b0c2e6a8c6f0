//! What the command line prints: plain text for a person with a tape measure.
//!
//! Lines hold at most 100 columns. Our own words are ASCII; names come as the scene writes them, without control characters. Lengths
//! are in the scene's unit. An estimate is printed as `value +- half width`, the half width being that of the interval that holds
//! 95 of 100 repeats of the tracing: Student's t with one degree of freedom less than there are batches, times the standard error. How many it
//! does hold, figure by figure, is in `tests/validation/COVERAGE.txt`. What materials and tape add stands apart, as the two ends of a range
//! (`findings::inputs`).
//!
//! *Limits.* Definition, center time and strength have no such range; their half width knows nothing of materials and tape.

pub mod absorbers;
pub mod bass;
pub mod bass_corners;
pub mod bass_short;
pub mod build;
pub mod choice;
pub mod cloud;
mod columns;
pub mod compare;
pub mod explain;
pub mod figures;
pub mod findings;
pub mod fit;
pub mod holding;
pub mod lesson;
pub mod listen;
pub mod owned;
pub mod plan;
pub mod positions;
pub mod prove;
pub mod response;
pub mod room;
pub mod score;
pub mod suspended;
pub mod sweep;
pub mod voice;

use crate::findings::bass::BassStudy;
use crate::findings::{Findings, Survey};
use crate::plan::Plan;
use crate::plan::cloud::CloudStudy;
use crate::plan::positions::PositionsStudy;
use crate::prove::Proof;
use crate::prove::voice::VoiceProof;
use crate::report::Contents;
use crate::report::content::Page;
use crate::room::Room;
use crate::scene::Scene;
use crate::scene::lessons::Lesson;
use crate::study::Absorbers;
use crate::study::compare::{ComparedRooms, Comparison};
use crate::units::LengthUnit;
use crate::workshop::Build;

/// How much of a page is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// The answer.
    Short,
    /// And all that it rests on.
    Full,
}

/// What the room is: sizes, areas, materials, first modes.
#[must_use]
pub fn survey(scene: &Scene, survey: &Survey) -> String {
    room::page(scene, survey).finish()
}

/// What a seat hears now: the answer first, then the tables it rests on.
#[must_use]
pub fn hear(scene: &Scene, findings: &Findings, extent: Extent) -> String {
    findings::page(scene, findings).print(extent)
}

/// What to buy, what to cut, when, and every mark.
#[must_use]
pub fn build(scene: &Scene, build: &Build, extent: Extent) -> String {
    build::page(scene, build).print(extent)
}

/// Where the panels go, what each earns, before and after.
#[must_use]
pub fn place(scene: &Scene, room: &Room, plan: &Plan, extent: Extent) -> String {
    plan::page(scene, room, plan).print(extent)
}

/// Versions of a room side by side.
#[must_use]
pub fn compare(name: &str, comparison: &Comparison) -> String {
    compare::page(name, comparison).finish()
}

/// A lesson: what is asked, what happens, every figure, what to change.
#[must_use]
pub fn lesson(lesson: &Lesson, scenes: &[Scene], compared: &ComparedRooms) -> String {
    lesson::page(lesson, scenes, compared).finish()
}

/// The low end: levels, decays, dips and modes.
#[must_use]
pub fn bass(scene: &Scene, study: &BassStudy) -> String {
    bass::page(scene, study).finish()
}

/// How high a cloud hangs: the height, its reasons, all others beside it.
#[must_use]
pub fn cloud(scene: &Scene, study: &CloudStudy, extent: Extent) -> String {
    cloud::print(scene, study, extent)
}

/// Where seat and loudspeakers stand: the place, its reasons, its measures, what else was tried.
#[must_use]
pub fn positions(scene: &Scene, study: &PositionsStudy) -> String {
    positions::print(scene, study)
}

/// Did it work? The answer, then the tables it rests on.
#[must_use]
pub fn prove(scene: &Scene, proof: &Proof, extent: Extent) -> String {
    prove::page(scene, proof).print(extent)
}

/// A voice before and after: the answer, then its octaves.
#[must_use]
pub fn voice(scene: &Scene, proof: &VoiceProof) -> String {
    voice::page(scene, proof).finish()
}

/// What the report says, and what it has to leave out.
#[must_use]
pub fn report(scene: &Scene, contents: &Contents) -> String {
    let mut page = Page::new(&format!("{}: the report", scene.name));
    let missing = || contents.parts.iter().filter(|part| !part.missing.is_empty());
    let said: Vec<&str> = contents.parts.iter().filter(|part| part.missing.is_empty()).map(|part| part.heading.as_str()).collect();
    page.section("What it says");
    said.iter().for_each(|heading| page.hanging("-", heading));
    if missing().next().is_some() {
        page.section("What it has to leave out, and how to fill that");
    }
    missing().for_each(|part| page.hanging("-", &format!("{}: {}", part.heading, part.missing.join(" "))));
    page.finish()
}

/// The materials table, or absorbers side by side; lengths in `unit`.
#[must_use]
pub fn absorbers(answer: &Absorbers, unit: LengthUnit) -> String {
    absorbers::print(answer, unit)
}
