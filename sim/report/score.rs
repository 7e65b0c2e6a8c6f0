//! What is wrong with each layout, term by term, in steps that are just noticed: a table of the page.

use super::html::{estimate, maybe, table};
use super::svg::escape;
use super::text::score::{STEPS, bass, known, weights};
use crate::plan::{Layout, Plan};

/// What is wrong with each layout, term by term.
#[must_use]
pub(super) fn faults(plan: &Plan) -> String {
    let terms = known(plan.layouts.iter().map(|layout| &layout.faults_steps));
    let row = |layout: &Layout| -> Vec<String> {
        let name = escape(&layout.name);
        let name = if layout.name == "plan" { format!("<b>{name}</b>") } else { name };
        let cells = terms.iter().map(|&term| maybe(layout.faults_steps[term], 1));
        let better = if layout.name == "plan" { "\u{2013}".to_owned() } else { estimate(layout.plan_better_steps, 1) };
        let together = [format!("<b>{}</b>", estimate(layout.together_steps, 1)), better];
        std::iter::once(name).chain(cells).chain(together).collect()
    };
    let rows: Vec<Vec<String>> = plan.layouts.iter().map(row).collect();
    let words = terms.iter().map(|term| format!("#{}", term.words()));
    let heads: Vec<String> = std::iter::once("what is wrong, steps".to_owned())
        .chain(words)
        .chain(["#together", "#plan better by"].map(str::to_owned))
        .collect();
    let more: String = bass(plan).into_iter().chain(weights(plan)).map(|words| format!(" {}", escape(&words))).collect();
    table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows) + &format!("<p class=\"quiet\">{}{more}</p>\n", escape(STEPS))
}
