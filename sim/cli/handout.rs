//! `report`: what there is about a room, gathered from what other commands wrote beside it, as one page and one PDF.

use std::path::{Path, PathBuf};

use roomwright::files::{self, RealDisk, Written};
use roomwright::report;
use roomwright::scene::Scene;
use roomwright::study::Placement;
use roomwright::study::handout::{gather, of_plan};

use super::arguments::{Judged, OneScene};
use super::{Failure, begin_sheets, finish, json, read, waiting, write};

/// Writes both for a plan that has just been made.
pub(super) fn report_plan(given: &OneScene, (planned, placement): (&Scene, &Placement), folder: &Path) -> Result<Written, Failure> {
    let gathered = of_plan(planned, placement, files::beside(&RealDisk, folder));
    let (_, sheets) = report::handout_files(&(&gathered).into()).map_err(|why| Failure::Usage(why.to_string()))?;
    write("report", Some(&given.scene), Some(folder), &sheets)
}

/// Gathers, and writes both.
pub(super) fn report(judged: &Judged, out: Option<&Path>) -> Result<(), Failure> {
    let (_, scene) = read(&judged.of.scene)?;
    let folder = out.map_or_else(|| files::sheets_folder(&judged.of.scene, "".as_ref()), PathBuf::from);
    let beside = files::beside(&RealDisk, &folder);
    let asked = judged.waves.asked();
    let made = waiting::wait(|progress| {
        let gathered = gather(progress, &scene, beside, (!judged.rays_only).then_some(&asked))?;
        begin_sheets(progress)?;
        let made = report::handout_files(&(&gathered).into());
        progress.step(1)?;
        Ok(made)
    })?;
    let (contents, sheets) = made.map_err(|why| Failure::Usage(why.to_string()))?;
    let written = write("report", Some(&judged.of.scene), Some(&folder), &sheets)?;
    finish(judged.of.json, &written, &json(&contents)?, || report::text::report(&scene, &contents))
}
