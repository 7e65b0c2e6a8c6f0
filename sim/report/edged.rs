//! What one flat panel of each type takes with its edges, on the page of a plan.

use crate::findings::Survey;
use crate::scene::Scene;

use super::html::table;
use super::svg::escape;
use super::text::figures::{OCTAVES, area_cell, area_unit};
use super::text::room::{EDGES, beside};

/// By itself, in rows, and without edges; nothing where no type in stock hangs flat with edges that are known.
pub(super) fn html(scene: &Scene, survey: &Survey) -> String {
    let known = survey.stock.iter().filter_map(|kind| Some((kind, kind.edged.as_ref()?)));
    let lines: Vec<Vec<String>> = known
        .flat_map(|(kind, panel)| beside(panel, scene).map(|(how, areas)| (kind, how, areas)))
        .map(|(kind, how, areas)| {
            [escape(&kind.name), escape(&how)].into_iter().chain(areas.0.map(|area| area_cell(area, scene))).collect()
        })
        .collect();
    if lines.is_empty() {
        return String::new();
    }
    let headings: Vec<String> =
        ["panel".to_owned(), "hung".to_owned()].into_iter().chain(OCTAVES.map(|octave| format!("#{octave}"))).collect();
    format!(
        "<p>One panel on the wall, with what its edges draw in: {} of absorption, by octave in Hz.</p>\n{}<p class=\"quiet\">{}</p>\n",
        area_unit(scene),
        table(&headings.iter().map(String::as_str).collect::<Vec<_>>(), &lines),
        escape(EDGES)
    )
}
