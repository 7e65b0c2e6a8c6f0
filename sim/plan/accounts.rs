//! What becomes of each panel that hangs already, what the plan costs, and what stayed in the stack for want of a place.
//!
//! *Limits.* Panels of a type are alike: which of them goes to which new place is chosen by the least distance, pair by pair.

use glam::DVec3;

use crate::findings::Estimate;
use crate::layout::free::Free;
use crate::layout::{self, candidates};
use crate::room::Room;
use crate::scene::{Panel, PanelType, Scene};

use super::search::{Found, Hung};
use super::stock::{Fate, Stock, fates};
use super::{Becomes, Bought, HungBefore, NextPurchase, Purchase};

/// Grid on which it is asked whether something has a place, meters.
const STEP: f64 = 0.1;

/// What is in the way of a type is told of so many things at most.
const REFUSALS_TOLD: usize = 3;

/// What becomes of each panel that hangs already and may be moved.
#[must_use]
pub(super) fn hung_before(stock: &Stock, room: &Room, hung: &[Hung]) -> Vec<HungBefore> {
    let scene = &stock.scene;
    let free = Free::new(scene, room);
    let before: Vec<Panel> = stock.hangs.iter().map(|(_, panel)| panel.clone()).collect();
    let after: Vec<Panel> = hung.iter().map(|hung| hung.panel.clone()).collect();
    let front = |panel: &Panel| kind_of(scene, panel).and_then(|kind| free.body(panel, kind).ok()).map_or(DVec3::ZERO, |body| body.front);
    let told = |((number, panel), fate): (&(usize, Panel), Fate)| {
        let (place, size) = layout::place(&free, panel, kind_of(scene, panel)?).ok()?;
        let (becomes, number_after) = match fate {
            Fate::Stays(other) => (Becomes::Stays, Some(other as u32 + 1)),
            Fate::Moves(other) => (Becomes::Moves, Some(other as u32 + 1)),
            Fate::ComesDown => (Becomes::ComesDown, None),
        };
        Some(HungBefore {
            panel: *number as u32 + 1,
            kind: panel.kind.clone(),
            place,
            size_m: size.to_array(),
            becomes,
            number: number_after,
        })
    };
    let fates = fates(&before, &after, |one, other| front(one).distance(front(other)));
    stock.hangs.iter().zip(fates).filter_map(told).collect()
}

/// What the plan costs; `next` is by how many steps the piece that would be bought next makes the room better.
#[must_use]
pub(super) fn purchase(stock: &Stock, room: &Room, found: &Found, next: Option<Estimate>) -> Option<Purchase> {
    let budget = stock.budget()?;
    let scene = &stock.scene;
    let used = stock.used(&found.left);
    let bought = scene.stock.iter().zip(stock.bought(&used)).filter(|(_, count)| *count > 0);
    let bought = bought.filter_map(|(kind, count)| {
        let price = kind.price?;
        Some(Bought { kind: kind.name.clone(), count, price, cost: price * f64::from(count) })
    });
    let free = Free::new(scene, room);
    let next = found.next.as_ref().zip(next).and_then(|(panel, better_steps)| {
        let kind = kind_of(scene, panel)?;
        let (place, _) = layout::place(&free, panel, kind).ok()?;
        Some(NextPurchase { kind: kind.name.clone(), price: kind.price?, place, better_steps })
    });
    let cost = stock.cost(&used);
    Some(Purchase { budget, bought: bought.collect(), cost, rest: (budget - cost).max(0.0), next })
}

/// Types in stock that have no place in the room even before anything is hung, and what is in the way.
#[must_use]
pub fn without_place(scene: &Scene, room: &Room) -> Vec<String> {
    let free = Free::new(scene, room);
    let told = |kind: &PanelType| {
        let found = candidates::search(scene, room, &free, kind, STEP);
        let has_other_way = || kind.ways().skip(1).any(|way| !candidates(scene, room, &free, &way, STEP).is_empty());
        let refusals: Vec<String> = found.refusals.iter().take(REFUSALS_TOLD).map(|(refusal, _)| refusal.to_string()).collect();
        let all = if found.refusals.len() > REFUSALS_TOLD { ", and so on" } else { "" };
        (found.candidates.is_empty() && !has_other_way())
            .then(|| format!("\"{}\" has no place in this room: {}{all}.", kind.name, refusals.join("; ")))
    };
    scene.stock.iter().filter(|kind| kind.count > 0).filter_map(told).collect()
}

fn kind_of<'a>(scene: &'a Scene, panel: &Panel) -> Option<&'a PanelType> {
    scene.stock.iter().find(|kind| kind.name == panel.kind)
}
