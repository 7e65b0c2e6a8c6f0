//! The page of `hear`: what is wrong first, then every table it rests on.

use super::columns::{Page, Table};
use super::figures::{
    ERRORS, MERGED, STATISTICAL, asked, estimate, inputs_behind, inputs_cell, inputs_to, is_statistical, length, length_cell, length_head,
    misses_outside, number, octave_heads, octave_label, optional, optional_estimate, pair_label, percent, place, standing, verdict,
};
use super::{bass_short, response};
use crate::bands::{Band, Bands};
use crate::findings::targets::{REFLECTION_QUESTION, too_loud};
use crate::findings::{Basis, Findings, Flutter, Pair, Reflection, Target, Tracing};
use crate::report::sheet::grouped;
use crate::scene::Scene;

/// Reflections that the answer names.
const NAMED: usize = 5;
/// Reflections that the table of a pair shows.
const SHOWN: usize = 12;
/// Pairs of surfaces that the table of flutter shows.
const FLUTTERS: usize = 10;
/// Octaves of the flutter table: 500 Hz to 4 kHz.
pub const FLUTTER_OCTAVES: [usize; 4] = [3, 4, 5, 6];

/// The whole page.
pub(in crate::report) fn page(scene: &Scene, findings: &Findings) -> Page {
    let mut page = Page::new(&format!("{}: what is heard now", scene.name));
    page.section("What is wrong here");
    let wrong = wrong(scene, findings);
    if wrong.is_empty() {
        page.paragraph("Nothing that these figures can judge.");
    }
    for (index, sentence) in wrong.iter().enumerate() {
        page.hanging(&format!("{}.", index + 1), sentence);
    }
    targets(&mut page, findings);
    if let Some(study) = &findings.bass {
        bass_short::print(&mut page, study);
    }
    page.rest();
    page.section("How to read the tables");
    page.paragraph(ERRORS);
    page.paragraph(&rests_on(findings.tracing));
    page.paragraph(MERGED);
    if Band::ALL.into_iter().any(|band| is_statistical(findings, band)) {
        page.paragraph(STATISTICAL);
    }
    for pair in &findings.pairs {
        reflections(&mut page, scene, pair);
        response::print(&mut page, scene, pair);
        decay(&mut page, pair);
    }
    flutter(&mut page, scene, findings);
    likeness(&mut page, findings);
    notes(&mut page, &findings.notes);
    page
}

/// How many rays, and whether the room kept them.
pub(super) fn rests_on(tracing: Tracing) -> String {
    let kept = match tracing.rays_escaped {
        0 => "none left the room through a crack".to_owned(),
        1 => "one left the room through a crack".to_owned(),
        escaped => format!("{escaped} left the room through cracks"),
    };
    let rounds = if tracing.rounds > 1 { format!(" in {} rounds", tracing.rounds) } else { String::new() };
    format!("Traced: {} rays from each source{rounds}; {kept}.", grouped(tracing.rays_per_source))
}

/// One sentence for each thing that is wrong: targets missed, with the reflections that miss theirs by name, then flutter.
#[must_use]
pub fn wrong(scene: &Scene, findings: &Findings) -> Vec<String> {
    let mut wrong: Vec<String> = Vec::new();
    wrong.extend(findings.targets.iter().filter_map(outside));
    for target in findings.targets.iter().filter(|target| missed(target)) {
        let loud = if target.question == REFLECTION_QUESTION { loud_reflections(scene, findings) } else { Vec::new() };
        if loud.is_empty() { wrong.push(target_sentence(target)) } else { wrong.extend(loud) }
    }
    wrong.extend(findings.flutter.iter().filter(|pair| pair.audible).map(|pair| flutter_sentence(scene, pair)));
    wrong
}

/// Whether a target is missed.
#[must_use]
pub fn missed(target: &Target) -> bool {
    matches!(target.verdict.as_str(), "too high" | "too low")
}

fn target_sentence(target: &Target) -> String {
    format!("{}: {}, asked {}: {}.", capitalized(&target.question), standing(target), asked(target), target.verdict)
}

/// What a figure would be by a document that is about other rooms; nothing where it would be met.
fn outside(target: &Target) -> Option<String> {
    let would = misses_outside(target)?;
    Some(format!(
        "{}: {}, asked {}: {would}, by a document that is about rooms of another size ({}).",
        capitalized(&target.question),
        standing(target),
        asked(target),
        target.source
    ))
}

/// A sentence's beginning.
#[must_use]
pub fn capitalized(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// The strongest reflections over the criterion where the use listens, and how many more there are.
#[must_use]
pub fn loud_reflections(scene: &Scene, findings: &Findings) -> Vec<String> {
    let loud = too_loud(&findings.pairs);
    let mut sentences: Vec<String> = loud.iter().take(NAMED).map(|(pair, one)| reflection_sentence(scene, pair, one)).collect();
    if loud.len() > NAMED {
        sentences.push(format!("{} more reflections are too loud; the tables below list them.", loud.len() - NAMED));
    }
    sentences
}

fn reflection_sentence(scene: &Scene, pair: &Pair, reflection: &Reflection) -> String {
    let bounces: Vec<String> = match reflection.places.len() {
        0 => reflection.surfaces.clone(),
        _ => reflection.places.iter().map(|at| place(at, scene)).collect(),
    };
    format!(
        "A reflection of {} dB arrives {} ms after the direct sound from {}, {} dB too loud. It bounces off {}.",
        number(reflection.level_db, 1),
        number(reflection.delay_ms, 1),
        pair_label(pair),
        number(reflection.excess_db, 1),
        bounces.join("; then off "),
    )
}

fn flutter_sentence(scene: &Scene, pair: &Flutter) -> String {
    let ratio = |band: Band| pair.room_t_s[band].map_or(0.0, |room| pair.t_s[band] / room);
    // Of equals the last wins, so the lowest octave comes last.
    let heard = [Band::new(7)].into_iter().chain(FLUTTER_OCTAVES.into_iter().rev().map(Band::new));
    let worst = heard.max_by(|&a, &b| ratio(a).total_cmp(&ratio(b))).unwrap_or(Band::new(4));
    let against = pair.room_t_s[worst].map_or_else(String::new, |room| format!(", the room itself {} s", number(room, 2)));
    let [x, y, z] = pair.clap_at_m.map(|coordinate| length(coordinate, scene));
    format!(
        "Flutter between {} and {}: every {} ms, ringing {} s at {}{against}. To hear it stand at x {x}, y {y} and clap {z} above the floor.",
        pair.between[0],
        pair.between[1],
        number(pair.period_ms, 1),
        number(pair.t_s[worst], 2),
        worst.label(),
    )
}

fn targets(page: &mut Page, findings: &Findings) {
    page.section("Targets");
    let mut table = Table::new(&["<what is asked", "<here", "<asked", "<verdict", "<document"]);
    for target in &findings.targets {
        table.row([target.question.clone(), standing(target), asked(target), verdict(target), target.source.clone()]);
    }
    page.table(&table);
}

/// Delay, level, way and direction of the early reflections of one pair, then their levels by octave.
fn reflections(page: &mut Page, scene: &Scene, pair: &Pair) {
    page.section(&format!("{}, {} apart: early reflections", pair_label(pair), length(pair.distance_m, scene)));
    page.paragraph(&pair_sentence(pair));
    let shown = strongest(&pair.reflections);
    let heads = [
        "ms".to_owned(),
        "dB".to_owned(),
        "too loud".to_owned(),
        "order".to_owned(),
        "<bounces off".to_owned(),
        length_head("from left", scene),
        length_head("from below", scene),
        "<comes from".to_owned(),
    ];
    let mut table = Table::new(&heads);
    for reflection in &shown {
        for row in reflection_rows(scene, reflection) {
            table.row(row);
        }
    }
    page.table(&table);
    page.paragraph("The same by octave, dB, and where the level of 1-8 kHz may lie within the inputs:");
    let mut heads = vec!["ms".to_owned()];
    heads.extend(Band::ALL.map(|band| band.label().to_owned()));
    heads.push("<inputs".to_owned());
    let mut table = Table::new(&heads);
    for reflection in &shown {
        let levels = reflection.level_by_octave_db.0.map(|level| number(level, 1));
        let inputs = inputs_to(reflection.level_inputs_db, 1);
        table.row(std::iter::once(number(reflection.delay_ms, 2)).chain(levels).chain([inputs]));
    }
    page.table(&table);
    if pair.reflections.len() > SHOWN {
        page.paragraph(&format!("{} weaker reflections are left out here.", pair.reflections.len() - SHOWN));
    }
}

/// The strongest reflections, by delay.
fn strongest(reflections: &[Reflection]) -> Vec<&Reflection> {
    let mut shown: Vec<&Reflection> = reflections.iter().collect();
    shown.sort_by(|a, b| b.level_db.total_cmp(&a.level_db));
    shown.truncate(SHOWN);
    shown.sort_by(|a, b| a.delay_ms.total_cmp(&b.delay_ms));
    shown
}

/// A row for the first bounce with all figures, and one for each further bounce.
fn reflection_rows(scene: &Scene, reflection: &Reflection) -> Vec<[String; 8]> {
    let mut rows: Vec<[String; 8]> = Vec::new();
    for (index, surface) in reflection.surfaces.iter().enumerate() {
        let cell = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |meters| length_cell(meters, scene));
        let place = reflection.places.get(index);
        let (left, bottom) = (cell(place.map(|place| place.left_m)), cell(place.map(|place| place.bottom_m)));
        let mut row = [const { String::new() }; 8];
        row[4..7].clone_from_slice(&[surface.clone(), left, bottom]);
        rows.push(row);
    }
    if rows.is_empty() {
        rows.push([const { String::new() }; 8]);
    }
    rows[0][0] = number(reflection.delay_ms, 2);
    rows[0][1] = number(reflection.level_db, 1);
    rows[0][2] = if reflection.is_too_loud() { number(reflection.excess_db, 1) } else { String::new() };
    rows[0][3] = reflection.order.to_string();
    rows[0][7] = direction(reflection.azimuth_deg, reflection.elevation_deg);
    rows
}

/// `32 left, 5 up`: azimuth and elevation at the head, in degrees.
#[must_use]
pub fn direction(azimuth_deg: f64, elevation_deg: f64) -> String {
    let side = |angle: f64, positive: &str, negative: &str| match angle.round() {
        0.0 => None,
        rounded => Some(format!("{} {}", number(rounded.abs(), 0), if rounded > 0.0 { positive } else { negative })),
    };
    let horizontal = side(azimuth_deg, "left", "right").unwrap_or_else(|| "ahead".to_owned());
    match side(elevation_deg, "up", "down") {
        Some(vertical) => format!("{horizontal}, {vertical}"),
        None => horizontal,
    }
}

/// Every figure of a pair that has one value, in a sentence.
#[must_use]
pub fn pair_sentence(pair: &Pair) -> String {
    let mut parts = vec![match pair.initial_delay_gap_ms {
        Some(gap) => {
            format!("first reflection after {} ms in the middle of the zone (the rows below: where in it each is worst)", number(gap, 1))
        }
        None => "no reflection found in the early window".to_owned(),
    }];
    let inputs = inputs_behind(pair.early_level_inputs_db, 1, "dB");
    parts.push(format!("early reflections together {} dB re direct{inputs}", estimate(pair.early_level_db, 1)));
    parts.push(format!("sum over the criterion {} dB", number(pair.early_excess_db, 1)));
    if let Some(index) = pair.speech_transmission_index {
        let noise = if pair.speech_index_noise_free { " without noise" } else { "" };
        let inputs = inputs_behind(pair.speech_transmission_index_inputs, 3, "");
        parts.push(format!("speech transmission index {}{noise}{inputs}", estimate(index, 3)));
    }
    if let Some(ratio) = pair.direct_to_reverberant_db {
        parts.push(format!("direct to reverberant {} dB", estimate(ratio, 1)));
    }
    if let Some(depth) = pair.comb_depth_db {
        parts.push(format!("comb depth {} dB", number(depth, 1)));
    }
    format!("{}. Directions are degrees from where the head faces.", capitalized(&parts.join("; ")))
}

/// Decay and clarity of one pair by octave.
fn decay(page: &mut Page, pair: &Pair) {
    page.section(&format!("{}: decay and clarity", pair_label(pair)));
    let mut decay = Table::new(&["<octave", "EDT s", "T20 s", "T30 s", "rays that count", "<remark"]);
    let mut inputs = Table::new(&["<octave", "EDT inputs, s", "T20 inputs, s", "T30 inputs, s", "<C50 inputs, dB", "<C80 inputs, dB"]);
    let mut clarity = Table::new(&["<octave", "C50 dB", "C80 dB", "D50 %", "Ts ms", "G dB"]);
    for octave in &pair.octaves {
        let label = octave_label(octave.frequency_hz, octave.basis == Basis::Statistical);
        decay.row([
            label.clone(),
            optional_estimate(octave.edt_s, 3),
            optional_estimate(octave.t20_s, 3),
            optional_estimate(octave.t30_s, 3),
            format!("{} %", number(100.0 * octave.effective_sample_share, 0)),
            octave.note.clone().unwrap_or_default(),
        ]);
        let times = [octave.edt_inputs_s, octave.t20_inputs_s, octave.t30_inputs_s].map(inputs_cell);
        let levels = [octave.c50_inputs_db, octave.c80_inputs_db].map(|inputs| inputs_to(inputs, 1));
        inputs.row(std::iter::once(label.clone()).chain(times).chain(levels));
        clarity.row([
            label,
            optional_estimate(octave.c50_db, 1),
            optional_estimate(octave.c80_db, 1),
            optional_estimate(octave.d50.map(percent), 1),
            optional_estimate(octave.ts_ms, 1),
            optional_estimate(octave.g_db, 1),
        ]);
    }
    page.table(&decay);
    page.table(&inputs);
    page.table(&clarity);
}

/// Pairs of surfaces, those that are heard first, then by how long they ring.
fn flutter(page: &mut Page, scene: &Scene, findings: &Findings) {
    if findings.flutter.is_empty() {
        return;
    }
    page.section("Flutter: how long facing surfaces ring by themselves, s");
    let unit = length_head("", scene).replace(", ", "");
    let clap = if unit.is_empty() { "<clap at x, y, z".to_owned() } else { format!("<clap at x, y, z in {unit}") };
    let mut heads = vec!["<between".to_owned(), length_head("apart", scene), "every ms".to_owned()];
    heads.extend(FLUTTER_OCTAVES.map(|index| Band::new(index).label().to_owned()));
    heads.extend(["<heard".to_owned(), clap]);
    let mut table = Table::new(&heads);
    for pair in longest(&findings.flutter) {
        let mut row = vec![format!("{} and {}", pair.between[0], pair.between[1])];
        row.extend([length_cell(pair.distance_m, scene), number(pair.period_ms, 1)]);
        row.extend(FLUTTER_OCTAVES.map(|index| number(pair.t_s[Band::new(index)], 2)));
        row.push(if pair.audible { "yes" } else { "no" }.to_owned());
        row.push(if pair.audible { pair.clap_at_m.map(|coordinate| length_cell(coordinate, scene)).join(", ") } else { String::new() });
        table.row(row);
    }
    let mut row = vec!["the room itself".to_owned(), String::new(), String::new()];
    row.extend(FLUTTER_OCTAVES.map(|index| optional(findings.flutter[0].room_t_s[Band::new(index)], 2)));
    row.extend([String::new(), String::new()]);
    table.row(row);
    page.table(&table);
    if findings.flutter.len() > FLUTTERS {
        page.paragraph(&format!("{} pairs that ring shorter are left out here.", findings.flutter.len() - FLUTTERS));
    }
    page.paragraph("Heard: more than twice slower than the room in some octave from 500 Hz up (a rule from memory).");
}

/// The pairs that a table shows: audible ones first, then by their longest ring.
#[must_use]
pub fn longest(flutter: &[Flutter]) -> Vec<&Flutter> {
    let ring = |pair: &Flutter| FLUTTER_OCTAVES.map(|index| pair.t_s[Band::new(index)]).into_iter().fold(0.0, f64::max);
    let mut pairs: Vec<&Flutter> = flutter.iter().collect();
    pairs.sort_by(|a, b| b.audible.cmp(&a.audible).then(ring(b).total_cmp(&ring(a))));
    pairs.truncate(FLUTTERS);
    pairs
}

fn likeness(page: &mut Page, findings: &Findings) {
    if findings.likeness.is_empty() {
        return;
    }
    page.section("Left against right: level difference by octave (Hz), dB");
    let mut heads = vec!["<at".to_owned(), "<of".to_owned()];
    heads.extend(octave_heads(findings));
    let mut table = Table::new(&heads);
    for one in &findings.likeness {
        let label = format!("{}: {} - {}", one.seat, one.left, one.right);
        for (what, difference) in [("early reflections", one.early_difference_db), ("direct sound", one.direct_difference_db)] {
            table.row([label.clone(), what.to_owned()].into_iter().chain(signed(difference)));
        }
    }
    page.table(&table);
}

/// Differences with their sign.
#[must_use]
pub fn signed(difference: Bands<f64>) -> [String; 8] {
    difference.0.map(|value| {
        let text = number(value, 1);
        if value > 0.0 && text.chars().any(|c| matches!(c, '1'..='9')) { format!("+{text}") } else { text }
    })
}

/// Where theory or data stop.
pub(super) fn notes(page: &mut Page, notes: &[String]) {
    if notes.is_empty() {
        return;
    }
    page.section("Notes");
    for note in notes {
        page.hanging("-", note);
    }
}
