//! What makes the loudest reflection of a pair, and its first sound summed with its phases: combs by octave, the dips of walls, floor and ceiling, what
//! edges bend.

use super::columns::{Page, Table};
use super::figures::{length, length_cell, length_head, number, place};
use crate::bands::{Band, Bands};
use crate::findings::{Basis, BoundaryDip, EarlyResponse, EdgeArrival, Pair, Reflection};
use crate::scene::Scene;

/// Edges that the table shows.
const EDGES: usize = 4;

/// The section of one pair.
pub(super) fn print(page: &mut Page, scene: &Scene, pair: &Pair) {
    loudest(page, scene, pair);
    if pair.early_responses.is_empty() {
        return;
    }
    page.section(&format!("{} to {}: the first sound summed with its phases", pair.source, pair.receiver));
    let mut heads = vec!["<at".to_owned()];
    let is_statistical = |band: Band| pair.octaves.get(band.index()).is_some_and(|octave| octave.basis == Basis::Statistical);
    heads.extend(Band::ALL.map(|band| format!("{} dB{}", band.label(), if is_statistical(band) { "*" } else { "" })));
    let mut table = Table::new(&heads);
    for ear in &pair.early_responses {
        table.row(std::iter::once(ear.at.clone()).chain(ear.comb_depth_db.0.map(|depth| number(depth, 1))));
    }
    page.paragraph("How far peak and dip of the comb are apart, by octave (*: waves rule there):");
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

/// What makes the level of a reflection re the direct sound, row by row in dB by octave; the last row is the sum.
#[must_use]
pub fn making(scene: &Scene, reflection: &Reflection) -> Vec<(String, [String; 8])> {
    let made = &reflection.made_of;
    let row = |what: String, levels: Bands<f64>| (what, levels.0.map(|level| number(level, 1)));
    let [way, direct] = made.way_m.map(|meters| length(meters, scene));
    let mut rows = vec![
        row(format!("way {way}, direct {direct}"), Bands::splat(made.spreading_db)),
        row("air on the longer way".to_owned(), made.air_db),
        row("aim of the source".to_owned(), made.source_db),
    ];
    for (index, levels) in made.bounces_db.iter().enumerate() {
        let at = reflection.places.get(index).map_or_else(|| reflection.surfaces[index].clone(), |at| place(at, scene));
        rows.push(row(format!("{at}, {} degrees off its normal", number(made.angles_deg[index], 0)), *levels));
    }
    if made.pattern_db != 0.0 {
        rows.push(row("pattern of the microphone".to_owned(), Bands::splat(made.pattern_db)));
    }
    if made.others_db.0.iter().any(|level| *level > 0.005) {
        rows.push(row("others within 1 ms".to_owned(), made.others_db));
    }
    rows.push(row("together".to_owned(), reflection.level_by_octave_db));
    rows
}

/// The table of that for the loudest reflection of a pair.
fn loudest(page: &mut Page, scene: &Scene, pair: &Pair) {
    let Some(loudest) = pair.reflections.iter().max_by(|one, other| one.level_db.total_cmp(&other.level_db)) else { return };
    page.paragraph(&format!("What makes the loudest, {} ms after the direct sound, dB by octave:", number(loudest.delay_ms, 2)));
    let mut heads = vec!["<by".to_owned()];
    heads.extend(Band::ALL.map(|band| band.label().to_owned()));
    let mut table = Table::new(&heads);
    for (what, levels) in making(scene, loudest) {
        table.row(std::iter::once(what).chain(levels));
    }
    page.table(&table);
}
