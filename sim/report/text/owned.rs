//! What becomes of the panels that hang already, and what the plan costs: sections and words that text and page share.

use super::columns::{Page, Table};
use super::figures::{estimate, extent, length_cell, length_head, number};
use crate::plan::stock::{MOVING_STEPS, money};
use crate::plan::{Becomes, HungBefore, NextPurchase, Plan, Purchase};
use crate::scene::Scene;

/// How many panels stay, move, come down and are new, in a sentence; nothing where none may be moved.
#[must_use]
pub fn fates(plan: &Plan) -> Option<String> {
    if plan.hung_before.is_empty() {
        return None;
    }
    let count = |becomes: Becomes| plan.hung_before.iter().filter(|before| before.becomes == becomes).count();
    let (stay, moved, down) = (count(Becomes::Stays), count(Becomes::Moves), count(Becomes::ComesDown));
    let new = plan.placed.len() - stay - moved;
    Some(format!(
        "Of {} that hang already {stay} stay, {moved} move and {down} come down; {new} are new. A place is left only where that makes the room better by more than {MOVING_STEPS} steps: a \
         hole to fill, and a panel to take off and hang again.",
        plan.hung_before.len()
    ))
}

/// What becomes of a panel, in words; lengths as `length` writes them.
#[must_use]
pub fn becomes(plan: &Plan, before: &HungBefore, length: impl Fn(f64) -> String) -> String {
    let now = before.number.and_then(|number| plan.placed.iter().find(|placed| placed.number == number));
    match (before.becomes, now) {
        (Becomes::Stays, Some(now)) => format!("stays: no {} of the plan", now.number),
        (Becomes::Moves, Some(now)) => {
            format!("moves to {}, {} x {}: no {}", now.place.surface, length(now.place.left_m), length(now.place.bottom_m), now.number)
        }
        (Becomes::Stays, None) => "stays".to_owned(),
        (Becomes::Moves | Becomes::ComesDown, _) => "comes down".to_owned(),
    }
}

/// What a panel of the plan is to somebody who hangs it: `, stays`, `, moves` or nothing for a new one.
#[must_use]
pub fn is_there(plan: &Plan, number: u32) -> &'static str {
    match plan.hung_before.iter().find(|before| before.number == Some(number)).map(|before| before.becomes) {
        Some(Becomes::Stays) => ", stays",
        Some(Becomes::Moves) => ", moves",
        Some(Becomes::ComesDown) | None => "",
    }
}

/// What the plan costs, in a sentence.
#[must_use]
pub fn cost(purchase: &Purchase) -> String {
    format!("It costs {} of {}; {} is left.", money(purchase.cost), money(purchase.budget), money(purchase.rest))
}

/// What the next purchase would bring, in a sentence; lengths as `length` writes them.
#[must_use]
pub fn next(purchase: &Purchase, length: impl Fn(f64) -> String) -> String {
    let Some(NextPurchase { kind, price, place, better_steps }) = &purchase.next else {
        return "No piece more that is for sale and has a place promises to make the room better.".to_owned();
    };
    let missing = price - purchase.rest;
    let asks = if missing > 1e-6 { format!(", {} more than is left", money(missing)) } else { String::new() };
    let told = if better_steps.value > better_steps.half_width_95() {
        format!("would make the room better by {} steps", estimate(*better_steps, 2))
    } else {
        format!("would bring no more than the tracing can tell ({} steps)", estimate(*better_steps, 2))
    };
    format!(
        "The next best purchase: one more \"{kind}\" for {}{asks}, on {} at {} x {}, {told}.",
        money(*price),
        place.surface,
        length(place.left_m),
        length(place.bottom_m)
    )
}

/// Both sections, where there is something to tell.
pub(super) fn print(page: &mut Page, scene: &Scene, plan: &Plan) {
    if let Some(sentence) = fates(plan) {
        page.section("What hangs already");
        let heads = [
            "panel".to_owned(),
            "<type".to_owned(),
            "<surface".to_owned(),
            length_head("from left", scene),
            length_head("from below", scene),
            length_head("<size", scene),
            "<becomes".to_owned(),
        ];
        let mut table = Table::new(&heads);
        for before in &plan.hung_before {
            table.row([
                before.panel.to_string(),
                before.kind.clone(),
                before.place.surface.clone(),
                length_cell(before.place.left_m, scene),
                length_cell(before.place.bottom_m, scene),
                extent(before.size_m, scene),
                becomes(plan, before, |length| length_cell(length, scene)),
            ]);
        }
        page.table(&table);
        page.paragraph(&sentence);
    }
    if let Some(purchase) = &plan.purchase {
        page.section("What it costs");
        if !purchase.bought.is_empty() {
            let mut table = Table::new(&["<type", "pieces", "price", "cost"]);
            for bought in &purchase.bought {
                table.row([bought.kind.clone(), bought.count.to_string(), number(bought.price, 2), number(bought.cost, 2)]);
            }
            page.table(&table);
        }
        page.paragraph(&cost(purchase));
        page.paragraph(&next(purchase, |length| length_cell(length, scene)));
    }
}
