//! Everything that `build` writes: the PDF to print, its drawings as SVG, its lists as CSV.

use rayon::prelude::*;

use super::html::Names;
use super::hung;
use super::mark_sheet::{self, Marking};
use super::sheet::Job;
use super::tape::Tape;
use crate::scene::making::Paper;
use crate::study::Building;

/// File name and bytes, build.pdf first. `paper` where another one than the scene's is asked for.
#[must_use]
pub fn build_files(building: &Building, paper: Option<Paper>) -> Vec<(String, Vec<u8>)> {
    let scene = &building.scene;
    let paper = paper.unwrap_or_else(|| mark_sheet::usual_paper(&scene.making, Tape::of(scene.unit)));
    surfaces(building, paper).into_iter().map(|(name, page)| (name, page.into_bytes())).collect()
}

/// The sheets of the surfaces.
fn surfaces(building: &Building, paper: Paper) -> Vec<(String, String)> {
    let (scene, room, build) = (&building.scene, &building.room, &building.build);
    let all: Vec<_> = scene.panels.iter().chain(&building.panels).cloned().collect();
    let hung = hung::panels(scene, room, &[], &all);
    let sheets = build.surfaces.len();
    let mut names = Names::default();
    let drawn: Vec<(String, Vec<String>)> = build
        .surfaces
        .iter()
        .map(|surface| names.give("marks", &surface.surface, "svg"))
        .collect::<Vec<_>>()
        .into_par_iter()
        .zip(&build.surfaces)
        .enumerate()
        .map(|(order, (name, surface))| {
            let job = Job {
                scene,
                room,
                hung: &hung,
                hot_spots: &[],
                sheet: order + 1,
                sheets,
                planned: building.panels.len(),
                command: "roomwright build",
            };
            let cautions = build.cautions.iter().find(|caution| caution.facet == Some(surface.facet));
            (name, mark_sheet::svg(Marking { job, surface, overhead: &build.overhead, cautions, paper }))
        })
        .collect();
    drawn.into_iter().flat_map(|(name, pages)| numbered(&name, pages)).collect()
}

/// The first page under its name, further ones with a number.
fn numbered(name: &str, pages: Vec<String>) -> Vec<(String, String)> {
    let stem = name.trim_end_matches(".svg");
    let name = |index: usize| if index == 0 { name.to_owned() } else { format!("{stem}-{}.svg", index + 1) };
    pages.into_iter().enumerate().map(|(index, page)| (name(index), page)).collect()
}
