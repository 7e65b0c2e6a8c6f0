//! Which of the types in stock that exclude one another is hung, and why: a part of the page, and the absorption curves of those types in one chart.
//!
//! *Limits.* The chart is that of `absorbers`: surfaces without edges, corner panels and clouds as if they lay flat on a wall.

use crate::bands::{Band, Bands};
use crate::plan::choice::{Alternative, Choice};
use crate::plan::{Figures, Plan};
use crate::scene::Scene;
use crate::study::absorbers::{Asked, absorbers};

use super::absorption;
use super::html::{estimate, list, maybe, plain, table};
use super::svg::escape;
use super::text::choice::{FACES, counted};
use super::text::figures::{area_cell, area_unit, is_statistical};
use super::text::score::{STEPS, known};

/// The chart of the types at stake.
#[must_use]
pub fn curves(scene: &Scene, choice: &Choice) -> String {
    let at_stake = choice.types();
    let mut only = scene.clone();
    only.stock.retain(|kind| at_stake.contains(&kind.name.as_str()));
    // Nothing is asked with words that could be wrong.
    absorbers(&Asked::default(), Some(&only)).map_or_else(|_| String::new(), |answer| absorption::svg(&answer, scene.unit))
}

/// The part of the page; `chart` is the figure of the curves.
#[must_use]
pub fn html(scene: &Scene, plan: &Plan, chart: &str) -> String {
    let Some(choice) = &plan.choice else { return String::new() };
    let mut out = String::from("<h2>Which of the stock, and why</h2>\n");
    out += &list(&choice.reasons).replace("+-", "\u{b1} ");
    out += &what(scene, choice);
    out += &figures(choice);
    out += &gains(choice);
    out += &format!("<p class=\"quiet\">{}</p>\n", escape(&choice.rule()));
    out += chart;
    let rows = |cells: &dyn Fn(&Alternative) -> Bands<String>| -> Vec<Vec<String>> {
        choice.alternatives.iter().map(|one| std::iter::once(name(choice, one)).chain(cells(one).0).collect()).collect()
    };
    let absorbed = rows(&|one| one.absorption_m2.map(|area| area_cell(area, scene)));
    out += &by_octave(plan, &format!("what is hung absorbs, {}", area_unit(scene)), &absorbed);
    let times = |figures: &Figures| figures.t30_s.map(|time| maybe(time, 2));
    let bare = std::iter::once("bare".to_owned()).chain(times(&choice.bare).0).collect();
    let times: Vec<Vec<String>> = std::iter::once(bare).chain(rows(&|one| times(&one.figures))).collect();
    out += &by_octave(plan, "T30, seconds", &times);
    out + &format!(
        "<p class=\"quiet\">*: below Schroeder\u{2019}s frequency, a statistical reading that has no part in the choice. Absorption in a diffuse field. {FACES} \
         All are weighed on one fresh trace, each panel as flush: figures of the room as built differ.</p>\n"
    )
}

/// The name of an alternative, bold where it is hung.
fn name(choice: &Choice, one: &Alternative) -> String {
    let name = escape(&one.types.join(" with "));
    if one.number == choice.chosen { format!("<b>{name}</b>, hung") } else { name }
}

fn what(scene: &Scene, choice: &Choice) -> String {
    let of_one = |one: &Alternative| {
        vec![
            name(choice, one),
            escape(&counted(&one.hung)),
            escape(&counted(&one.left_over)),
            one.cost.map_or_else(|| "\u{2013}".to_owned(), |cost| plain(cost, 2)),
            area_cell(one.area_m2, scene),
        ]
    };
    let rows: Vec<Vec<String>> = choice.alternatives.iter().map(of_one).collect();
    table(&["alternative", "hangs", "leaves", "#cost", &format!("#area, {}", area_unit(scene))], &rows)
}

fn figures(choice: &Choice) -> String {
    let row = |name: String, figures: &Figures| {
        vec![
            name,
            estimate(figures.early_level_db, 1),
            plain(figures.early_excess_db, 1),
            maybe(figures.t_mid_s, 3),
            maybe(figures.outside_percent, 0),
            maybe(figures.unevenness_percent, 0),
        ]
    };
    let alternatives = choice.alternatives.iter().map(|one| row(name(choice, one), &one.figures));
    let rows: Vec<Vec<String>> = std::iter::once(row("bare".to_owned(), &choice.bare)).chain(alternatives).collect();
    let outside =
        choice.asked_decay_s.map_or_else(|| "#outside, %".to_owned(), |[low, high]| format!("#outside {low:.2} to {high:.2} s, %"));
    table(&["", "#early level, dB re direct", "#over the line, dB", "#decay, s", &outside, "#octaves off their mean, %"], &rows)
}

fn gains(choice: &Choice) -> String {
    let terms = known(choice.alternatives.iter().map(|one| &one.gains_steps));
    let of_one = |one: &Alternative| -> Vec<String> {
        let cells = terms.iter().map(|&term| maybe(one.gains_steps[term], 1));
        let score = format!("<b>{}</b>", estimate(one.score_steps, 1));
        std::iter::once(name(choice, one)).chain(cells).chain([score]).collect()
    };
    let rows: Vec<Vec<String>> = choice.alternatives.iter().map(of_one).collect();
    let words = terms.iter().map(|term| format!("#{}", term.words()));
    let heads: Vec<String> = std::iter::once("better than bare by, steps".to_owned()).chain(words).chain(["#score".to_owned()]).collect();
    let steps = format!("<p class=\"quiet\">{}</p>\n", escape(STEPS));
    table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows) + &steps
}

fn by_octave(plan: &Plan, what: &str, rows: &[Vec<String>]) -> String {
    let octave = |band: Band| format!("#{}{}", band.label(), if is_statistical(&plan.before, band) { "*" } else { "" });
    let headings: Vec<String> = std::iter::once(what.to_owned()).chain(Band::ALL.map(octave)).collect();
    table(&headings.iter().map(String::as_str).collect::<Vec<_>>(), rows)
}
