//! Which of the types in stock that exclude one another is hung, and why: the reasons first, then the tables they rest on.

use super::columns::{Page, Table};
use super::figures::{area_cell, area_unit, estimate, number, octave_heads, optional, optional_estimate};
use super::score::{STEPS, known};
use crate::bands::{Band, Bands};
use crate::plan::choice::{Alternative, Choice};
use crate::plan::{Figures, Plan};
use crate::scene::Scene;

/// What the absorption areas are of.
pub const FACES: &str = "Faces and what flat panels draw in round them, corner panels and clouds as if flat on a wall without edges; what the covered walls absorbed is not taken off.";

/// The section; nothing where there was nothing to choose.
pub(super) fn print(page: &mut Page, scene: &Scene, plan: &Plan) {
    let Some(choice) = &plan.choice else { return };
    page.section("Which of the stock, and why");
    for reason in &choice.reasons {
        page.hanging("-", reason);
    }
    page.section("The alternatives side by side");
    what(page, scene, choice);
    figures(page, choice);
    gains(page, choice);
    page.paragraph(&choice.rule());
    page.paragraph("All are weighed on one fresh trace, each panel as flush: figures of the room as built differ.");
    by_octave(page, "T30 by octave (Hz), s", octave_heads(&plan.before), choice, |figures, _| {
        figures.t30_s.map(|time| optional(time.map(|time| time.value), 2))
    });
    by_octave(
        page,
        &format!("What is hung absorbs in a diffuse field, by octave (Hz), {}", area_unit(scene)),
        octave_heads(&plan.before),
        choice,
        |_, one| one.map_or_else(|| Bands::splat("-").map(str::to_owned), |one| one.absorption_m2.map(|area| area_cell(area, scene))),
    );
    page.paragraph(FACES);
}

/// `thick panel`, `thin panel with rug`, and whether it is hung.
#[must_use]
pub fn name(choice: &Choice, one: &Alternative) -> String {
    let hung = if one.number == choice.chosen { " (hung)" } else { "" };
    format!("{}{hung}", one.types.join(" with "))
}

/// `12 x wall panel, 2 x cloud`
#[must_use]
pub fn counted(panels: &[(String, u32)]) -> String {
    let words: Vec<String> = panels.iter().map(|(kind, count)| format!("{count} x {kind}")).collect();
    if words.is_empty() { "none".to_owned() } else { words.join(", ") }
}

fn what(page: &mut Page, scene: &Scene, choice: &Choice) {
    let area_head = format!("area, {}", area_unit(scene));
    let mut table = Table::new(&["no", "<alternative", "<hangs", "<leaves", "cost", &area_head]);
    for one in &choice.alternatives {
        table.row([
            one.number.to_string(),
            name(choice, one),
            counted(&one.hung),
            counted(&one.left_over),
            optional(one.cost, 2),
            area_cell(one.area_m2, scene),
        ]);
    }
    page.table(&table);
    if choice.alternatives.iter().any(|one| one.cost.is_none()) {
        page.paragraph("-: something that it hangs has no `price`.");
    }
}

fn figures(page: &mut Page, choice: &Choice) {
    let mut table = Table::new(&["no", "early, dB", "too loud, dB", "decay, s", "outside, %", "uneven, %"]);
    for (number_of, figures) in all(choice) {
        table.row([
            number_of,
            estimate(figures.early_level_db, 1),
            number(figures.early_excess_db, 1),
            optional_estimate(figures.t_mid_s, 3),
            optional_estimate(figures.outside_percent, 0),
            optional_estimate(figures.unevenness_percent, 0),
        ]);
    }
    page.table(&table);
    page.paragraph(&match choice.asked_decay_s {
        Some([low, high]) => format!("Decay: {low:.2} to {high:.2} s are asked; outside: how far it lies outside them."),
        None => "Decay: nothing asks for a range here.".to_owned(),
    });
}

fn gains(page: &mut Page, choice: &Choice) {
    let terms = known(choice.alternatives.iter().map(|one| &one.gains_steps));
    let words = terms.iter().map(|term| term.words().to_owned());
    let heads: Vec<String> = std::iter::once("no".to_owned()).chain(words).chain(["score, steps".to_owned()]).collect();
    let mut table = Table::new(&heads);
    for one in &choice.alternatives {
        let cells = terms.iter().map(|&term| optional_estimate(one.gains_steps[term], 1));
        table.row(std::iter::once(one.number.to_string()).chain(cells).chain([estimate(one.score_steps, 1)]));
    }
    page.paragraph("Better than bare by, steps:");
    page.table(&table);
    page.paragraph(STEPS);
}

/// The bare room and every alternative, each with its number.
fn all(choice: &Choice) -> impl Iterator<Item = (String, &Figures)> {
    std::iter::once(("bare".to_owned(), &choice.bare)).chain(choice.alternatives.iter().map(|one| (one.number.to_string(), &one.figures)))
}

/// A line for the bare room and each alternative, a column an octave; lines of dashes are left out.
fn by_octave(
    page: &mut Page,
    what: &str,
    heads: Vec<String>,
    choice: &Choice,
    cells: impl Fn(&Figures, Option<&Alternative>) -> Bands<String>,
) {
    page.paragraph(&format!("{what}:"));
    let mut table = Table::new(&std::iter::once("no".to_owned()).chain(heads).collect::<Vec<_>>());
    for (index, (number_of, figures)) in all(choice).enumerate() {
        let cells = cells(figures, index.checked_sub(1).and_then(|index| choice.alternatives.get(index)));
        if Band::ALL.into_iter().any(|band| cells[band] != "-") {
            table.row(std::iter::once(number_of).chain(cells.0));
        }
    }
    page.table(&table);
}
