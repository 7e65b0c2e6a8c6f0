//! What an errand found, taken into the text: the panels of the plan, the cloud at a height, the set at a place. Each is one step of undo, by the
//! functions that write the scenes of the command line.
//!
//! A failure is told in one sentence, and the text stays as it was.

use roomwright::scene::{with_cloud, with_positions};
use roomwright::study;

use crate::document::Document;
use crate::errand::OfScene;
use crate::reason::reason;
use crate::results::Results;

/// Hangs what the plan hangs.
pub(crate) fn plan(document: &mut Document, results: &Results) -> Result<(), String> {
    let known = results.plan.clone().filter(|plan| results.is_fresh(plan));
    let (Some(known), Some(scene)) = (known, document.scene()) else {
        return Err("There is no plan for the scene as it is.".to_owned());
    };
    let placed = known.value.pictures.panels.get(study::planned(scene).panels.len()..).unwrap_or_default();
    let plan = &known.value.plan;
    let (panels, rest) = (plan.to_hang(placed), plan.purchase.as_ref().map(|purchase| purchase.rest));
    let taken = document.edit(|editor| editor.take_plan(&plan.leaving(), &panels, (&plan.out(), rest)));
    taken.map(drop).map_err(|error| reason(&error))
}

/// Hangs the cloud at the height of this number, or takes it there; its number among the panels.
pub(crate) fn cloud(document: &mut Document, results: &Results, height: usize) -> Result<usize, String> {
    let study = fresh(document, results, results.cloud.as_deref());
    let found = study.and_then(|study| Some((study, study.heights.iter().find(|one| one.number == height)?)));
    let (Some((study, variant)), Some(scene)) = (found, document.scene()) else {
        return Err("No cloud was tried at that height in the scene as it is.".to_owned());
    };
    let hung = study.hung_panel_number.map(|number| number - 1);
    let panel = hung.unwrap_or(scene.panels.len());
    let text = with_cloud(document.text(), hung, &study.hung(variant)).map_err(|error| reason(&error))?;
    document.replace(text);
    Ok(panel)
}

/// Moves the set to the place of this number.
pub(crate) fn place(document: &mut Document, results: &Results, place: usize) -> Result<(), String> {
    let positions = fresh(document, results, results.positions.as_deref());
    let found = positions.and_then(|(asked, study)| Some((asked, study, study.finalists.iter().find(|one| one.number == place)?)));
    let (Some((asked, study, one)), Some(scene)) = (found, document.scene()) else {
        return Err("No place was found for the scene as it is.".to_owned());
    };
    let moved = study.moved_to(scene, asked, one).ok_or("It cannot be moved there.")?;
    let text = with_positions(document.text(), &moved).map_err(|error| reason(&error))?;
    document.replace(text);
    Ok(())
}

/// What was found of the scene that is open.
fn fresh<'a, T>(document: &Document, results: &Results, of: Option<&'a OfScene<T>>) -> Option<&'a T> {
    of.filter(|of| !document.is_broken() && results.shows(&of.scene))?.found.as_ref().ok()
}
