//! The first sound of a pair summed with its phases: combs by octave, the dips of walls, floor and ceiling, what edges bend.

use super::columns::{Page, Table};
use super::figures::{length_cell, length_head, number};
use crate::bands::Band;
use crate::findings::{BoundaryDip, EarlyResponse, EdgeArrival, Pair};
use crate::scene::Scene;

/// Edges that the table shows.
const EDGES: usize = 4;

/// The section of one pair.
pub(super) fn print(page: &mut Page, scene: &Scene, pair: &Pair) {
    if pair.early_responses.is_empty() {
        return;
    }
    page.section(&format!("{} to {}: the first sound summed with its phases", pair.source, pair.receiver));
    let mut heads = vec!["<at".to_owned()];
    heads.extend(Band::ALL.map(|band| format!("{} dB", band.label())));
    let mut table = Table::new(&heads);
    for ear in &pair.early_responses {
        table.row(std::iter::once(ear.at.clone()).chain(ear.comb_depth_db.0.map(|depth| number(depth, 1))));
    }
    page.paragraph("How far peak and dip of the comb are apart, by octave:");
    page.table(&table);
    dips(page, scene, &pair.early_responses);
    edges(page, &pair.early_responses);
}

/// Dips by surface, one line a surface and ear.
fn dips(page: &mut Page, scene: &Scene, ears: &[EarlyResponse]) {
    let all: Vec<(&str, &BoundaryDip)> = ears.iter().flat_map(|ear| ear.boundary_dips.iter().map(|dip| (ear.at.as_str(), dip))).collect();
    if all.is_empty() {
        return;
    }
    let heads = [
        "<reflected by".to_owned(),
        "<at".to_owned(),
        length_head("longer", scene),
        "Hz".to_owned(),
        "alone dB".to_owned(),
        "all dB".to_owned(),
    ];
    let mut table = Table::new(&heads);
    for (at, dip) in all {
        table.row([
            dip.surface.clone(),
            at.to_owned(),
            length_cell(dip.longer_m, scene),
            number(dip.frequency_hz, 0),
            number(dip.alone_db, 1),
            number(dip.level_db, 1),
        ]);
    }
    page.paragraph(
        "Where one reflection first meets the direct sound in opposite phase: the level there with it alone, and of all the first sound:",
    );
    page.table(&table);
}

fn edges(page: &mut Page, ears: &[EarlyResponse]) {
    let mut all: Vec<(&str, &EdgeArrival)> = ears.iter().flat_map(|ear| ear.edges.iter().map(|edge| (ear.at.as_str(), edge))).collect();
    if all.is_empty() {
        return;
    }
    all.sort_by(|one, other| other.1.level_db.total_cmp(&one.1.level_db));
    let mut table = Table::new(&["<bent round".to_owned(), "<at".to_owned(), "ms".to_owned(), "dB".to_owned(), "good above Hz".to_owned()]);
    for (at, edge) in all.iter().take(EDGES) {
        let [one, other] = &edge.faces;
        let twice = if edge.points_m[0] == edge.points_m[1] { "" } else { ", over it and round another" };
        table.row([
            format!("{one} / {other}{twice}"),
            (*at).to_owned(),
            number(edge.delay_ms, 2),
            number(edge.level_db, 1),
            number(edge.holds_above_hz, 0),
        ]);
    }
    page.paragraph(&format!(
        "Sound bent round edges, loudest of {}; by faces that absorb only nearly so:",
        ears.iter().map(|ear| ear.edges_counted).sum::<u32>()
    ));
    page.table(&table);
}
