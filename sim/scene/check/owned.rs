//! Rules about what a person owns, may buy and may drill: a budget buys something, and what is screwed on has a surface to be screwed to.
//!
//! *Limits.* Whether a piece finds a place beside what stands and hangs is asked when it is hung, not here.

use super::super::goals::Drilling;
use super::super::read::Draft;
use super::super::walk::Walk;
use super::super::{Scene, StockKind};
use super::name_hint;

/// A budget has something to buy, and is enough for the cheapest of it.
pub(super) fn money_buys(walk: &mut Walk<'_>, draft: &Draft) {
    let Some(budget) = draft.scene.goals.budget else { return };
    let span = draft.at.goals.of("budget");
    let for_sale = || draft.scene.stock.iter().filter(|kind| kind.count > 0);
    let cheapest = for_sale().filter_map(|kind| Some((kind.price?, &kind.name))).min_by(|a, b| a.0.total_cmp(&b.0));
    match cheapest {
        None => {
            let hint = "give a [[stock]] its `price`, and `count` for how many may be bought at most; what has no price is taken as owned";
            walk.warning("budget-unused", span, "there is nothing to buy: no type in stock has a price and a count", hint.to_owned());
        }
        Some((price, name)) if price > budget => {
            let message = format!("a budget of {budget} buys nothing: the cheapest, \"{name}\", costs {price}");
            walk.warning("budget-unused", span, message, "raise `budget`, or leave it out where everything in stock is owned".to_owned());
        }
        Some(_) => {}
    }
}

/// Surfaces that must not be drilled are walls or parts of the ceiling.
pub(super) fn undrilled_exist(walk: &mut Walk<'_>, draft: &Draft) {
    let (scene, Drilling::NotInto(names)) = (&draft.scene, &draft.scene.goals.drilling) else { return };
    if scene.walls.is_empty() {
        return;
    }
    let known = || scene.walls.iter().map(|wall| wall.name.as_str()).chain(scene.ceiling.iter().map(|plane| plane.name.as_str()));
    for name in names.iter().filter(|name| !known().any(|known| known == name.as_str())) {
        let message = format!("there is no wall or ceiling \"{name}\"");
        walk.error("surface-not-found", draft.at.goals.of("no_drill"), message, name_hint(name, known(), "the surfaces are"));
    }
}

/// What is screwed on may be screwed to something.
pub(super) fn drill_allowed(walk: &mut Walk<'_>, draft: &Draft) {
    let drilling = &draft.scene.goals.drilling;
    for (kind, places) in draft.scene.stock.iter().zip(&draft.at.stock) {
        if kind.count == 0 || !kind.is_drilled() || carriers(&draft.scene, kind.kind).any(|surface| !drilling.forbids(surface)) {
            continue;
        }
        let message = format!("\"{}\" is screwed on, and nothing may be drilled where it could go", kind.name);
        let hint = "write `drill = false` in its [[stock]] if it hangs without (from a rail that is there, or leaning), or take what stands on the floor";
        walk.warning("drill-needed", places.first(&["kind", "name"]), message, hint.to_owned());
    }
}

/// Names of the surfaces that carry what is screwed on.
fn carriers(scene: &Scene, kind: StockKind) -> impl Iterator<Item = &str> {
    let (walls, ceiling) = match kind {
        StockKind::Panel => (true, true),
        StockKind::Cloud => (false, true),
        _ => (true, false),
    };
    let walls = scene.walls.iter().filter(move |_| walls).map(|wall| wall.name.as_str());
    walls.chain(scene.ceiling.iter().filter(move |_| ceiling).map(|plane| plane.name.as_str()))
}
