//! What clouds and free-standing panels absorb, open on both sides, as a table on the pages of `survey` and `place`.

use super::columns::{Page, Table};
use super::figures::{OCTAVES, area_cell, area_unit, length, number};
use crate::bands::Bands;
use crate::findings::{Survey, SuspendedPanel};
use crate::scene::Scene;

/// The section; nothing where there are no such panels.
pub(super) fn section(page: &mut Page, scene: &Scene, panels: &[&SuspendedPanel], schroeder_hz: f64) {
    if panels.is_empty() {
        return;
    }
    page.section(&format!("What is open on both sides: {} of absorption of one panel, by octave (Hz)", area_unit(scene)));
    let mut table = Table::new(&["<panel", "<where"].into_iter().chain(OCTAVES).collect::<Vec<_>>());
    for panel in panels {
        for (index, (place, values)) in rows(panel, scene).into_iter().enumerate() {
            let name = if index == 0 { panel.name.clone() } else { String::new() };
            table.row([name, place].into_iter().chain(values.0.map(|area| area_cell(area, scene))));
        }
    }
    page.table(&table);
    for line in remarks(panels, schroeder_hz) {
        page.hanging("-", &line);
    }
}

/// What flush means of a cloud while layouts are compared; nothing where none hangs.
#[must_use]
pub fn flush_means(survey: &Survey) -> &'static str {
    if survey.suspended.iter().any(|panel| panel.hung) {
        " (a cloud as a patch of the ceiling with the air behind it, without a back)"
    } else {
        ""
    }
}

/// As it hangs, and lying flush: where, and by octave.
#[must_use]
pub fn rows(panel: &SuspendedPanel, scene: &Scene) -> [(String, Bands<f64>); 2] {
    let gap = panel.gap_m.map_or_else(|| "far from any surface".to_owned(), |gap| format!("{} of air behind", length(gap, scene)));
    [(gap, panel.absorption_m2), ("flush".to_owned(), panel.flush_m2)]
}

/// How the table is to be read.
#[must_use]
pub fn remarks(panels: &[&SuspendedPanel], schroeder_hz: f64) -> Vec<String> {
    let mut lines = vec![
        format!(
            "In a diffuse field: front, back (by what comes in through the sides of the gap) and edges; flush: front and edges. Below Schroeder's frequency ({} Hz) a statistical reading.",
            number(schroeder_hz, 0)
        ),
        "Sound goes round a panel smaller than its wavelength and is not driven through it; that is counted, within 14 % of a disc's exact values. What passes through is \
         scattered, not lost."
            .to_owned(),
    ];
    let limits: Vec<String> =
        panels.iter().filter_map(|panel| panel.open_above_hz.map(|above| format!("{} {} Hz", panel.name, number(above, 0)))).collect();
    if !limits.is_empty() {
        lines.push(format!(
            "Both sides count above: {}; an octave below, panel and gap are one absorber before a wall, whose back takes nothing more.",
            limits.join(", ")
        ));
    }
    lines
}
