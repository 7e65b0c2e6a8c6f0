//! What hangs open on both sides, on the page of a plan.

use crate::findings::{Findings, SuspendedPanel};
use crate::scene::Scene;

use super::html::table;
use super::svg::escape;
use super::text::figures::{OCTAVES, area_cell, area_unit};
use super::text::suspended::{remarks, rows};

/// What hangs open on both sides, beside the same panel flush.
pub(super) fn html(scene: &Scene, findings: &Findings) -> String {
    let panels: Vec<&SuspendedPanel> = findings.survey.suspended.iter().filter(|panel| panel.hung).collect();
    if panels.is_empty() {
        return String::new();
    }
    let row = |panel: &SuspendedPanel| {
        rows(panel, scene).map(|(place, areas)| {
            let cells = areas.0.map(|area| area_cell(area, scene));
            [escape(&panel.name), escape(&place)].into_iter().chain(cells).collect::<Vec<String>>()
        })
    };
    let lines: Vec<Vec<String>> = panels.iter().flat_map(|panel| row(panel)).collect();
    let headings: Vec<String> =
        ["panel".to_owned(), "where".to_owned()].into_iter().chain(OCTAVES.map(|octave| format!("#{octave}"))).collect();
    let said = remarks(&panels, findings.survey.schroeder_hz).join(" ");
    format!(
        "<p>Open on both sides: {} of absorption of one panel, by octave in Hz.</p>\n{}<p class=\"quiet\">{}</p>\n",
        area_unit(scene),
        table(&headings.iter().map(String::as_str).collect::<Vec<_>>(), &lines),
        escape(&said)
    )
}
