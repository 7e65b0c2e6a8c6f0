//! Everything that `build` writes: all of it as JSON, the PDF to print, its drawings as SVG, its lists as CSV.

pub mod corner_view;
pub mod cut_plans;
pub mod lists;
pub mod mark_sheet;
pub mod overhead_pages;
pub mod overhead_views;
pub mod room_plan;
pub mod shop_list;
pub mod shop_pages;
pub mod work_pages;

use glam::DVec2;
use rayon::prelude::*;

use self::mark_sheet::Marking;
use crate::report::heatmap::heading;
use crate::report::html::Names;
use crate::report::sheet::{Job, MARGIN};
use crate::report::svg::{Drawing, Lettering};
use crate::report::tape::Tape;
use crate::report::{hung, paper as ink, pdf};
use crate::scene::Scene;
use crate::scene::making::{Making, Paper};
use crate::study::Building;

/// Where the pages of what hangs overhead begin: the sheets of walls and ceilings stand before them.
const OVERHEAD: &str = "build-overhead";

/// A page in the making: file name, title, drawing.
type Page = (String, String, Drawing);

/// File name and bytes, build.json and build.pdf first. `paper` where another one than the scene's is asked for.
#[must_use]
pub fn build_files(building: &Building, paper: Option<Paper>) -> Vec<(String, Vec<u8>)> {
    let own = &building.scene;
    let paper = paper.unwrap_or_else(|| mark_sheet::usual_paper(&own.making, Tape::of(own.unit)));
    let scene = Scene { making: Making { paper: Some(paper), ..own.making.clone() }, ..own.clone() };
    let mut surfaces = surfaces(building, paper);
    let titles: Vec<String> = surfaces.iter().map(|(_, title, _)| title.clone()).collect();
    let job = shop_pages::Job { scene: &scene, room: &building.room, build: &building.build, panels: &building.panels, sheets: &titles };
    let mut pages: Vec<(String, String)> =
        shop_pages::pages(job).into_iter().map(|(stem, drawing)| (format!("{stem}.svg"), drawing)).collect();
    let place = pages.iter().position(|(name, _)| name.starts_with(OVERHEAD)).unwrap_or(pages.len());
    let of = pages.len() + surfaces.len();
    for (index, (_, _, drawing)) in surfaces.iter_mut().enumerate() {
        let letters = Lettering::new(ink::BODY, ink::QUIET).end();
        drawing.text(DVec2::new(drawing.size.x - MARGIN, 6.6), &format!("page {} of {of}", place + index + 1), letters);
    }
    pages.splice(place..place, surfaces.into_iter().map(|(name, _, drawing)| (name, drawing.finish())));
    let drawings: Vec<String> = pages.iter().map(|(_, drawing)| drawing.clone()).collect();
    let printed = pdf::pdf(&building.build.scene, &drawings).expect("our own drawings are well-formed");
    let json = serde_json::to_string_pretty(&building.build).expect("a build has no keys but texts");
    let mut files = vec![("build.json".to_owned(), format!("{json}\n").into_bytes()), ("build.pdf".to_owned(), printed)];
    files.extend(pages.into_iter().map(|(name, drawing)| (name, drawing.into_bytes())));
    files.extend(lists::files(&scene, &building.build));
    files
}

/// The sheets of the surfaces: name of the file, title, drawing.
fn surfaces(building: &Building, paper: Paper) -> Vec<Page> {
    let (scene, room, build) = (&building.scene, &building.room, &building.build);
    let all: Vec<_> = scene.panels.iter().chain(&building.panels).cloned().collect();
    let hung = hung::panels(scene, room, &[], &all);
    let sheets = build.surfaces.len();
    let mut names = Names::default();
    let named: Vec<String> = build.surfaces.iter().map(|surface| names.give("marks", &surface.surface, "svg")).collect();
    let drawn: Vec<Vec<Page>> = named
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
                held_back: &[],
                command: "roomwright build",
            };
            let cautions = build.cautions.iter().find(|caution| caution.facet == Some(surface.facet));
            let title = heading(&surface.surface, room.surfaces[surface.facet].role);
            let pages = mark_sheet::pages(Marking { job, surface, overhead: &build.overhead, cautions, paper });
            numbered(&name, &title, pages)
        })
        .collect();
    drawn.into_iter().flatten().collect()
}

/// The first page under its name, further ones with a number.
fn numbered(name: &str, title: &str, pages: Vec<Drawing>) -> Vec<Page> {
    let stem = name.trim_end_matches(".svg");
    let named = |index: usize| match index {
        0 => (name.to_owned(), title.to_owned()),
        _ => (format!("{stem}-{}.svg", index + 1), format!("{title}, continued")),
    };
    let page = |(index, page): (usize, Drawing)| {
        let (name, title) = named(index);
        (name, title, page)
    };
    pages.into_iter().enumerate().map(page).collect()
}
