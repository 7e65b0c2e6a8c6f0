//! What becomes of the panels that hang already, and what the plan costs: parts of the page.

use super::html::table;
use super::svg::escape;
use super::tape::Tape;
use super::text::owned::{becomes, cost, fates, next};
use crate::plan::Plan;
use crate::plan::stock::money;

/// Both parts, where there is something to tell.
#[must_use]
pub(super) fn html(plan: &Plan, tape: Tape) -> String {
    hung_before(plan, tape) + &purchase(plan, tape)
}

fn hung_before(plan: &Plan, tape: Tape) -> String {
    let Some(sentence) = fates(plan) else { return String::new() };
    let unit = if tape.is_inch() { "" } else { ", mm" };
    let row = |before: &crate::plan::HungBefore| {
        vec![
            before.panel.to_string(),
            escape(&before.kind),
            escape(&before.place.surface),
            tape.read(before.place.left_m),
            tape.read(before.place.bottom_m),
            escape(&becomes(plan, before, |length| tape.read(length))),
        ]
    };
    let rows: Vec<Vec<String>> = plan.hung_before.iter().map(row).collect();
    let (left, lower) = (format!("#from left{unit}"), format!("#from floor or lower edge{unit}"));
    let heads = ["panel of the scene", "type", "hangs on", &left, &lower, "becomes"];
    format!("<h2>What hangs already</h2>\n<p>{}</p>\n{}", escape(&sentence), table(&heads, &rows))
}

fn purchase(plan: &Plan, tape: Tape) -> String {
    let Some(purchase) = &plan.purchase else { return String::new() };
    let row = |bought: &crate::plan::Bought| vec![escape(&bought.kind), bought.count.to_string(), money(bought.price), money(bought.cost)];
    let rows: Vec<Vec<String>> = purchase.bought.iter().map(row).collect();
    let bought = if rows.is_empty() { String::new() } else { table(&["type", "#pieces", "#price", "#cost"], &rows) };
    let next = escape(&next(purchase, |length| tape.say(length)));
    format!("<h2>What it costs</h2>\n{bought}<p>{} {next}</p>\n", escape(&cost(purchase)))
}
