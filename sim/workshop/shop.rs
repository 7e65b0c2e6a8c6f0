//! What to buy, and what it costs: made against bought, per panel and together.
//!
//! ```text
//! packs = ceil(needed (1 + spare) / pack);  cost = packs x price;  total = sum of the lines
//! left over = 1 - price of what is in the panels and holds them / total
//! ```
//!
//! *Limits.* Prices are those of the list, one a thing. Tools, paint and work have none.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::cuts::{BoardCuts, ClothCuts, TimberCuts};
use super::pieces::Made;
use crate::scene::making::{Construction, Making};
use crate::scene::prices::{Per, PriceList};

/// A line of the shopping list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Purchase {
    /// What.
    pub name: String,
    /// How much is used, of its unit.
    pub needed: f64,
    /// Its unit: `sheet`, `m`, `length`, `liter`, `piece`, `panel`.
    pub unit: String,
    /// How much of its unit one pack holds.
    pub pack: f64,
    /// How many packs to buy, the spare included.
    pub packs: u32,
    /// Price of a pack; none where the scene gives none.
    pub price: Option<f64>,
    /// Price of all of them.
    pub cost: Option<f64>,
}

impl Purchase {
    /// Whether it is cut off a roll, and sold by its length.
    #[must_use]
    pub fn is_cut_to_length(&self) -> bool {
        self.unit == "m" && self.pack < 1.0
    }
}

/// What one type costs, either way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TypeCost {
    /// Type.
    pub kind: String,
    /// How many.
    pub count: u32,
    /// Price of what is in one, nothing wasted; none where it is bought.
    pub made_each: Option<f64>,
    /// Price of one that is bought; none where the scene gives none.
    pub bought_each: Option<f64>,
}

/// What all of it costs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Costs {
    /// By type.
    pub types: Vec<TypeCost>,
    /// Sum of the shopping list.
    pub total: f64,
    /// Of that, what hangs afterwards.
    pub used: f64,
    /// Of the total, the share of off-cuts, spare and rests of packs.
    pub left_over_share: f64,
    /// Price of the panels that are made here, if they were bought; none where one of them has no price.
    pub bought_total: Option<f64>,
    /// Names of what has no price and is in no sum.
    pub without_price: Vec<String>,
}

/// What hanging takes, all panels together.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Hanging {
    /// Fixing points on walls and ceilings.
    pub fixing_points: u32,
    /// Points that clouds hang from.
    pub overhead_points: u32,
    /// Secondary wires.
    pub secondary_wires: u32,
    /// Wire together, meters.
    pub wire_m: f64,
}

/// What is cut out of what.
#[derive(Clone, Copy, Debug)]
pub struct AllCuts<'a> {
    /// Sheets.
    pub boards: &'a [BoardCuts],
    /// Rolls.
    pub cloths: &'a [ClothCuts],
    /// Lengths.
    pub timbers: &'a [TimberCuts],
}

/// The shopping list: sheets, cloth, timber, what goes by consumption, panels that are bought.
#[must_use]
pub fn purchases(prices: &PriceList, making: &Making, made: &[Made], cuts: AllCuts<'_>, hanging: Hanging) -> Vec<Purchase> {
    let line = |name: &str, needed: f64, unit: &str, pack: f64, price: Option<f64>, spare: f64| {
        let packs = packs(needed * (1.0 + spare), pack);
        Purchase {
            name: name.to_owned(),
            needed,
            unit: unit.to_owned(),
            pack,
            packs,
            price,
            cost: price.map(|price| price * f64::from(packs)),
        }
    };
    let mut all = Vec::new();
    for board in cuts.boards {
        let price = prices.boards.iter().find(|sold| sold.name == board.board).map(|sold| sold.price);
        all.push(line(&board.board, board.sheets.len() as f64, "sheet", 1.0, price, making.spare));
    }
    for cloth in cuts.cloths {
        let price = prices.cloths.iter().find(|sold| sold.name == cloth.cloth).map(|sold| sold.price / 10.0);
        // Cut by the tenth of a meter.
        all.push(line(&cloth.cloth, cloth.length_m, "m", 0.1, price, making.spare));
    }
    for timber in cuts.timbers {
        let price = prices.timbers.iter().find(|sold| sold.name == timber.timber).map(|sold| sold.price);
        all.push(line(&timber.timber, timber.lengths.len() as f64, "length", 1.0, price, making.spare));
    }
    for supply in &prices.supplies {
        let making_it: f64 = made
            .iter()
            .flat_map(|made| made.supplies.iter().map(move |used| (made, used)))
            .filter(|(_, used)| used.supply == supply.name)
            .map(|(made, used)| used.quantity * f64::from(made.count))
            .sum();
        let needed = making_it + supply.uses * hung_by(supply.per, hanging);
        if needed > 0.0 {
            all.push(line(&supply.name, needed, &supply.unit, supply.pack, Some(supply.price), making.spare));
        }
    }
    for bought in made.iter().filter(|made| made.construction == Construction::Bought) {
        all.push(line(&bought.kind, f64::from(bought.count), "panel", 1.0, bought.bought_price, 0.0));
    }
    all
}

/// How much of what a supply goes by hanging takes.
fn hung_by(per: Per, hanging: Hanging) -> f64 {
    match per {
        Per::FixingPoint => f64::from(hanging.fixing_points),
        Per::OverheadPoint => f64::from(hanging.overhead_points),
        Per::SecondaryWire => f64::from(hanging.secondary_wires),
        Per::Wire => hanging.wire_m,
        Per::Panel | Per::Edge | Per::EdgeArea | Per::Face | Per::Cloth | Per::Joint => 0.0,
    }
}

/// So many packs hold this much.
fn packs(needed: f64, pack: f64) -> u32 {
    (needed / pack - 1e-6).ceil().max(0.0) as u32
}

/// What all of it costs.
#[must_use]
pub fn costs(prices: &PriceList, made: &[Made], purchases: &[Purchase], hanging: Hanging) -> Costs {
    let types: Vec<TypeCost> = made
        .iter()
        .map(|made| TypeCost { kind: made.kind.clone(), count: made.count, made_each: made.materials_cost, bought_each: made.bought_price })
        .collect();
    let total: f64 = purchases.iter().filter_map(|purchase| purchase.cost).sum();
    let in_panels: f64 = made
        .iter()
        .map(|made| {
            let each = if made.construction == Construction::Bought { made.bought_price } else { made.materials_cost };
            each.unwrap_or(0.0) * f64::from(made.count)
        })
        .sum();
    let holding: f64 = prices.supplies.iter().map(|supply| supply.price * supply.uses * hung_by(supply.per, hanging) / supply.pack).sum();
    let used = in_panels + holding;
    let own = || made.iter().filter(|made| made.construction != Construction::Bought);
    let bought_total = own().map(|made| Some(made.bought_price? * f64::from(made.count))).sum();
    Costs {
        types,
        total,
        used,
        left_over_share: if total > 0.0 { (1.0 - used / total).max(0.0) } else { 0.0 },
        bought_total: if own().next().is_some() { bought_total } else { None },
        without_price: purchases.iter().filter(|purchase| purchase.price.is_none()).map(|purchase| purchase.name.clone()).collect(),
    }
}
