//! What the first sound does to the tone: combs by octave, dips.

use bevy_egui::egui::Ui;
use roomwright::bands::Band;
use roomwright::findings::{Findings, Pair};
use roomwright::report::text::figures::{OCTAVES, is_of_waves, length_cell, length_head, number};
use roomwright::scene::Scene;

use super::say::{remark, section};
use super::table::Table;

/// The first sound of a pair summed with its phases.
pub(crate) fn tone(ui: &mut Ui, scene: &Scene, findings: &Findings, pair: &Pair) {
    if pair.early_responses.is_empty() {
        return;
    }
    section(ui, "Tone of the first sound: peak to dip by octave, dB");
    // Images alone are no more than a part of it, whatever the octave's decay rests on.
    let head = |band: Band| format!("{}{}", OCTAVES[band.index()], if is_of_waves(findings, band) { "*" } else { "" });
    let heads: Vec<String> = std::iter::once("<at".to_owned()).chain(Band::ALL.map(head)).collect();
    let mut table = Table::new(&heads);
    for ear in &pair.early_responses {
        table.row(std::iter::once(ear.at.clone()).chain(Band::ALL.map(|band| number(ear.comb_depth_db[band], 1))));
    }
    table.show(ui);
    remark(ui, "*: waves rule there.");
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
}
