//! What makes the level of the chosen reflection, and what the first sound does to the tone: combs, dips, edges.

use bevy_egui::egui::Ui;
use roomwright::bands::Band;
use roomwright::findings::{Pair, Reflection};
use roomwright::report::text::figures::{OCTAVES, length_cell, length_head, number};
use roomwright::report::text::response::making as made_of;
use roomwright::scene::Scene;

use super::say::{remark, section};
use super::table::Table;
use super::tokens::INK;

/// Edges that are listed.
const EDGES: usize = 6;

/// Heads of a table by octave.
fn octaves(first: &str) -> Vec<String> {
    std::iter::once(first.to_owned()).chain(OCTAVES.map(str::to_owned)).collect()
}

/// Row by row what adds up to the level of a reflection.
pub(crate) fn making(ui: &mut Ui, scene: &Scene, reflection: &Reflection) {
    section(ui, &format!("What makes it, {} ms later, dB by octave", number(reflection.delay_ms, 2)));
    let mut table = Table::new(&octaves("<by"));
    for (what, levels) in made_of(scene, reflection) {
        let hint = what.clone();
        table.row(std::iter::once(what).chain(levels)).colored(INK).hint(hint);
    }
    table.show(ui);
}

/// The first sound of a pair summed with its phases.
pub(crate) fn tone(ui: &mut Ui, scene: &Scene, pair: &Pair) {
    if pair.early_responses.is_empty() {
        return;
    }
    section(ui, "Tone of the first sound: peak to dip by octave, dB");
    let mut table = Table::new(&octaves("<at"));
    for ear in &pair.early_responses {
        table.row(std::iter::once(ear.at.clone()).chain(Band::ALL.map(|band| number(ear.comb_depth_db[band], 1))));
    }
    table.show(ui);
    let dips = pair.early_responses.iter().flat_map(|ear| ear.boundary_dips.iter().map(move |dip| (ear, dip)));
    let mut table = Table::new(&["<dip by", "<at", &length_head("longer", scene), "Hz", "alone dB", "all dB"]);
    let mut count = 0;
    for (ear, dip) in dips {
        let longer = length_cell(dip.longer_m, scene);
        table.row([
            dip.surface.clone(),
            ear.at.clone(),
            longer,
            number(dip.frequency_hz, 0),
            number(dip.alone_db, 1),
            number(dip.level_db, 1),
        ]);
        count += 1;
    }
    if count > 0 {
        table.show(ui);
        remark(ui, "Where one reflection first meets the direct sound in opposite phase: alone with it, and with all the first sound.");
    }
    edges(ui, pair);
}

/// The loudest that is bent round edges.
fn edges(ui: &mut Ui, pair: &Pair) {
    let mut all: Vec<_> = pair.early_responses.iter().flat_map(|ear| ear.edges.iter().map(move |edge| (ear, edge))).collect();
    if all.is_empty() {
        return;
    }
    all.sort_by(|one, other| other.1.level_db.total_cmp(&one.1.level_db));
    let mut table = Table::new(&["<bent round", "<at", "ms", "dB", "good above Hz"]);
    for (ear, edge) in all.into_iter().take(EDGES) {
        let cells =
            [edge.faces.join(" / "), ear.at.clone(), number(edge.delay_ms, 2), number(edge.level_db, 1), number(edge.holds_above_hz, 0)];
        let levels = Band::ALL.map(|band| format!("{} {} dB", band.label(), number(edge.level_by_octave_db[band], 1)));
        table.row(cells).hint(levels.join("\n"));
    }
    table.show(ui);
    remark(ui, "Once round an edge, or over a thin body from edge to edge; below the last figure that does not tell enough.");
}
