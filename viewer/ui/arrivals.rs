//! The direct sound and what is bent round edges, to be chosen; and row by row what makes the level of an arrival that is chosen.

use bevy_egui::egui::Ui;
use roomwright::bands::{Band, Bands};
use roomwright::findings::{DirectSound, EdgeArrival};
use roomwright::report::text::figures::{OCTAVES, length, number};
use roomwright::report::text::findings::direction;
use roomwright::report::text::response::{Row, SUM, hidden, making as of_reflection, making_bend, making_direct, round};
use roomwright::scene::Scene;

use super::say::{choose_ear, known, remark, section};
use super::table::Table;
use super::tokens::{ACCENT, INK, QUIET};
use super::{Asked, Shown};
use crate::arrival::{self, Found};
use crate::command::Command;
use crate::view::{ArrivalChoice, Which};

/// Chooses an arrival, or lets go of it where it is chosen already.
pub(crate) fn chosen_or_let_go(shown: Shown<'_>, choice: ArrivalChoice) -> Command {
    Command::ChooseArrival((shown.view.arrival != Some(choice)).then_some(choice))
}

/// The direct sound and what is bent, at one ear of the pair in front; a click draws the path.
pub(crate) fn straight_and_bent(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    section(ui, "Direct sound, and round edges");
    if known(ui, shown, shown.results.findings.as_ref()).is_none() {
        return;
    }
    let Some((pair, _)) = arrival::in_front(shown.view, shown.results) else { return };
    choose_ear(ui, shown, asked);
    let ear = shown.view.ear;
    let Some(response) = arrival::response(shown.results, pair, ear) else { return };
    let mut table = Table::new(&["ms", "dB", "bends", "<way", "<comes from"]);
    let choice = |row: usize| {
        let which = row.checked_sub(1).map_or(Which::Direct { ear }, |row| Which::Edge { ear, row });
        ArrivalChoice { pair, which }
    };
    let is_chosen = |row: usize| shown.view.arrival == Some(choice(row));
    let direct = &response.direct;
    let color = if direct.hidden_by.is_empty() { INK } else { ACCENT };
    table.row(direct_cells(direct)).chosen(is_chosen(0)).colored(color).hint(direct_hint(direct));
    for (row, edge) in response.edges.iter().enumerate() {
        table.row(edge_cells(edge)).chosen(is_chosen(row + 1)).hint(by_octave(edge.level_by_octave_db));
    }
    if let Some(row) = table.choose(ui) {
        asked.push(chosen_or_let_go(shown, choice(row)));
    }
    let listed = response.edges.len() as u32;
    let weak = match response.edges_counted - listed {
        0 => String::new(),
        more => format!(" {more} more ways round edges are weaker than -40 dB."),
    };
    remark(ui, format!("re direct, had nothing stood in its way. Rings in the room are where sound bends.{weak}"));
    making(ui, shown, |which| !matches!(which, Which::Reflection(_)));
}

fn direct_cells(direct: &DirectSound) -> [String; 5] {
    let is_hidden = !direct.hidden_by.is_empty();
    [
        number(0.0, 2),
        if is_hidden { "-".to_owned() } else { number(direct.level_db, 1) },
        String::new(),
        if is_hidden { hidden(direct) } else { "straight".to_owned() },
        direction(direct.azimuth_deg, direct.elevation_deg),
    ]
}

fn direct_hint(direct: &DirectSound) -> String {
    format!("re 1 m before the source on its axis:\n{}", by_octave(direct.level_by_octave_db))
}

fn edge_cells(edge: &EdgeArrival) -> [String; 5] {
    let [delay, level] = [number(edge.delay_ms, 2), number(edge.level_db, 1)];
    [delay, level, edge.bends.to_string(), format!("round {}", round(edge)), direction(edge.azimuth_deg, edge.elevation_deg)]
}

fn by_octave(levels: Bands<f64>) -> String {
    Band::ALL.map(|band| format!("{} {} dB", band.label(), number(levels[band], 1))).join("\n")
}

/// Row by row what adds up to the level of the arrival that is chosen, if it is of the pair in front and one of those that are meant.
pub(crate) fn making(ui: &mut Ui, shown: Shown<'_>, is_meant: fn(Which) -> bool) {
    let (Some(choice), Some(scene)) = (shown.view.arrival, shown.results.scene.as_deref()) else { return };
    let is_in_front = arrival::in_front(shown.view, shown.results).is_some_and(|(pair, _)| pair == choice.pair);
    let Some(found) = arrival::find(shown.results, choice).filter(|_| is_in_front && is_meant(choice.which)) else { return };
    let (head, rows, more) = made_of(scene, found);
    section(ui, &head);
    let mut table = Table::new(&std::iter::once("<by").chain(OCTAVES).collect::<Vec<_>>());
    for (index, (what, levels)) in rows.iter().enumerate() {
        let color = if rows[..index].iter().any(|(before, _)| before == SUM) { QUIET } else { INK };
        table.row(std::iter::once(what.clone()).chain(levels.clone())).colored(color).hint(what.clone());
    }
    table.show(ui);
    if let Some(more) = more {
        remark(ui, more);
    }
}

/// A heading, the rows, and what is to be known beside.
fn made_of(scene: &Scene, found: Found<'_>) -> (String, Vec<Row>, Option<String>) {
    let later = |delay_ms: f64| format!("What makes it, {} ms later, dB by octave", number(delay_ms, 2));
    match found {
        Found::Reflection(reflection) => (later(reflection.delay_ms), of_reflection(scene, reflection), None),
        Found::Direct(response) => {
            let direct = &response.direct;
            let head = format!("What makes it, {} ms after it left the source, dB by octave", number(direct.arrives_ms, 2));
            let more = if direct.hidden_by.is_empty() {
                format!("re 1 m before the source on its axis; {} to {}.", length(direct.way_m, scene), response.at)
            } else {
                format!("{}; this is what would, re 1 m before the source on its axis.", capitalized(&hidden(direct)))
            };
            (head, making_direct(scene, direct), Some(more))
        }
        Found::Edge(_, edge) => {
            let more = format!(
                "Of this edge that does not tell enough below {} Hz; by faces that absorb only nearly so.",
                number(edge.holds_above_hz, 0)
            );
            (later(edge.delay_ms), making_bend(scene, edge), Some(more))
        }
    }
}

fn capitalized(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
