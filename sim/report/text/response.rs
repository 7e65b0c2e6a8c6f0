//! What makes the direct sound, the loudest reflection and the loudest bend of a pair, and its first sound summed with its phases: combs by octave, the dips of
//! walls, floor and ceiling, what edges bend.

use super::columns::{Page, Table};
use super::figures::{OCTAVES, length, length_cell, length_head, number, place};
use crate::bands::{Band, Bands};
use crate::findings::{Basis, BoundaryDip, DirectSound, EarlyResponse, EdgeArrival, Pair, Reflection};
use crate::scene::Scene;

/// Two bends closer than this, meters, are told as one corner.
const AT_CORNER: f64 = 0.001;

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
    let is_of_waves = |band: Band| pair.octaves.get(band.index()).is_some_and(|octave| octave.basis != Basis::Geometric);
    heads.extend(Band::ALL.map(|band| format!("{} dB{}", band.label(), if is_of_waves(band) { "*" } else { "" })));
    let mut table = Table::new(&heads);
    for ear in &pair.early_responses {
        table.row(std::iter::once(ear.at.clone()).chain(ear.comb_depth_db.0.map(|depth| number(depth, 1))));
    }
    page.paragraph("How far peak and dip of the comb are apart, by octave (*: waves rule there):");
    page.table(&table);
    dips(page, scene, &pair.early_responses);
    edges(page, scene, &pair.early_responses);
    for ear in &pair.early_responses {
        let hidden = if ear.direct.hidden_by.is_empty() { String::new() } else { format!("; {}", hidden(&ear.direct)) };
        let what = format!("What makes the direct sound at the {}, re 1 m before the source on its axis, dB by octave{hidden}:", ear.at);
        made_of(page, &what, making_direct(scene, &ear.direct));
    }
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

fn edges(page: &mut Page, scene: &Scene, ears: &[EarlyResponse]) {
    let mut all: Vec<(&str, &EdgeArrival)> = ears.iter().flat_map(|ear| ear.edges.iter().map(|edge| (ear.at.as_str(), edge))).collect();
    if all.is_empty() {
        return;
    }
    all.sort_by(|one, other| other.1.level_db.total_cmp(&one.1.level_db).then(one.1.delay_ms.total_cmp(&other.1.delay_ms)));
    let mut table = Table::new(&["<bent round".to_owned(), "<at".to_owned(), "ms".to_owned(), "dB".to_owned(), "good above Hz".to_owned()]);
    for (at, edge) in all.iter().take(EDGES) {
        table.row([round(edge), (*at).to_owned(), number(edge.delay_ms, 2), number(edge.level_db, 1), number(edge.holds_above_hz, 0)]);
    }
    page.paragraph(&format!(
        "Sound bent round edges, loudest of {}; by faces that absorb only nearly so:",
        ears.iter().map(|ear| ear.edges_counted).sum::<u32>()
    ));
    page.table(&table);
    if let Some((at, loudest)) = all.first() {
        let what =
            format!("What makes the loudest of them, {} ms after the direct sound at the {at}, dB by octave:", number(loudest.delay_ms, 2));
        made_of(page, &what, making_bend(scene, loudest));
    }
}

/// What an arrival is bent round.
#[must_use]
pub fn round(edge: &EdgeArrival) -> String {
    let [one, other] = &edge.faces;
    let twice = if edge.bends > 1 { ", over it and round another" } else { "" };
    format!("{one} / {other}{twice}")
}

/// What stands in the way of the direct sound; for one that something hides.
#[must_use]
pub fn hidden(direct: &DirectSound) -> String {
    format!("hidden by {}: nothing of it arrives", direct.hidden_by.join(", "))
}

/// A table of what adds up.
fn made_of(page: &mut Page, what: &str, rows: Vec<Row>) {
    page.paragraph(what);
    let mut table = Table::new(&std::iter::once("<by").chain(OCTAVES).collect::<Vec<_>>());
    for (what, levels) in rows {
        table.row(std::iter::once(what).chain(levels));
    }
    page.table(&table);
}

/// What the row is that all before it add up to.
pub const SUM: &str = "together";

/// What it is, and levels in dB by octave.
pub type Row = (String, [String; 8]);

fn row(what: impl Into<String>, levels: Bands<f64>) -> Row {
    (what.into(), levels.0.map(|level| number(level, 1)))
}

/// What makes the level of the direct sound re 1 m before its source on the axis; the last row is the sum.
#[must_use]
pub fn making_direct(scene: &Scene, direct: &DirectSound) -> Vec<Row> {
    let mut rows = vec![
        row(format!("way {}, re 1 m", length(direct.way_m, scene)), Bands::splat(direct.spreading_db)),
        row("air on the way", direct.air_db),
        row("aim of the source", direct.source_db),
    ];
    if direct.pattern_db != 0.0 {
        rows.push(row("pattern of the microphone", Bands::splat(direct.pattern_db)));
    }
    rows.push(row(SUM, direct.level_by_octave_db));
    rows
}

/// What makes the level of sound bent round an edge re the direct sound; behind the row that is the sum stands what either face mirrors.
#[must_use]
pub fn making_bend(scene: &Scene, edge: &EdgeArrival) -> Vec<Row> {
    let made = &edge.made_of;
    let [to, across, on] = made.legs_m.map(|meters| length(meters, scene));
    let legs = if edge.bends > 1 { format!("{to} + {across} + {on}") } else { format!("{to} + {on}") };
    let bend = |index: usize| format!("{}, bent by {} degrees", place(&edge.places[index], scene), number(made.turns_deg[index], 0));
    let bends = match edge.bends {
        1 => bend(0),
        // Shortest by way of the corner that both edges share.
        _ if made.legs_m[1] < AT_CORNER => format!("{}, round both edges of that corner", bend(0)),
        _ => format!("{}, then {}", bend(0), bend(1)),
    };
    let mut rows = vec![
        row(format!("way {legs}, direct {}", length(made.direct_m, scene)), Bands::splat(made.spreading_db)),
        row("air on the longer way", made.air_db),
        row("aim of the source", made.source_db),
        row(format!("{bends}, as by hard faces"), made.bend_db),
        row("what its faces do not mirror", made.faces_db),
    ];
    if made.pattern_db != 0.0 {
        rows.push(row("pattern of the microphone", Bands::splat(made.pattern_db)));
    }
    if made.within_octave_db.0.iter().any(|level| level.abs() >= 0.05) {
        rows.push(row("air and aim over the octave", made.within_octave_db));
    }
    rows.push(row(SUM, edge.level_by_octave_db));
    rows.extend(edge.faces.iter().zip(made.mirrored_db).map(|(face, mirrored)| row(format!("{face} mirrors (counted above)"), mirrored)));
    rows
}

/// What makes the level of a reflection re the direct sound, row by row in dB by octave; the last row is the sum.
#[must_use]
pub fn making(scene: &Scene, reflection: &Reflection) -> Vec<Row> {
    let made = &reflection.made_of;
    let [way, direct] = made.way_m.map(|meters| length(meters, scene));
    let mut rows = vec![
        row(format!("way {way}, direct {direct}"), Bands::splat(made.spreading_db)),
        row("air on the longer way", made.air_db),
        row("aim of the source", made.source_db),
    ];
    for (index, levels) in made.bounces_db.iter().enumerate() {
        let at = reflection.places.get(index).map_or_else(|| reflection.surfaces[index].clone(), |at| place(at, scene));
        rows.push(row(format!("{at}, {} degrees off its normal", number(made.angles_deg[index], 0)), *levels));
    }
    if made.pattern_db != 0.0 {
        rows.push(row("pattern of the microphone", Bands::splat(made.pattern_db)));
    }
    if made.others_db.0.iter().any(|level| *level > 0.005) {
        rows.push(row("others within 1 ms", made.others_db));
    }
    rows.push(row(SUM, reflection.level_by_octave_db));
    rows
}

/// The table of that for the loudest reflection of a pair.
fn loudest(page: &mut Page, scene: &Scene, pair: &Pair) {
    let Some(loudest) = pair.reflections.iter().max_by(|one, other| one.level_db.total_cmp(&other.level_db)) else { return };
    let what = format!("What makes the loudest, {} ms after the direct sound, dB by octave:", number(loudest.delay_ms, 2));
    made_of(page, &what, making(scene, loudest));
}
