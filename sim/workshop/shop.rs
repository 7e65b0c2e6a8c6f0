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
use super::cutting;
use super::hanging::Hanging;
use super::pieces::Made;
use super::words;
use crate::scene::making::{Construction, Making};
use crate::scene::prices::{Board, Per, PriceList, Supply, Timber};
use crate::units::LengthUnit;

/// A line of the shopping list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Purchase {
    /// What.
    pub name: String,
    /// What to ask for: sizes, density, what it must hold; empty where its name says all.
    pub ask_for: String,
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
    /// So much of something, sold by packs that hold so many of a unit.
    fn of(name: &str, needed: f64, (unit, pack): (&str, f64), price: Option<f64>, spare: f64) -> Self {
        let packs = packs(needed * (1.0 + spare), pack);
        let cost = price.map(|price| price * f64::from(packs));
        Self { name: name.to_owned(), ask_for: String::new(), needed, unit: unit.to_owned(), pack, packs, price, cost }
    }

    fn of_packs(self, packs: u32) -> Self {
        Self { packs, cost: self.price.map(|price| price * f64::from(packs)), ..self }
    }

    fn asking(self, ask_for: String) -> Self {
        Self { ask_for, ..self }
    }

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

/// What a shopping list is made of.
#[derive(Clone, Copy, Debug)]
pub struct Shopping<'a> {
    /// What things cost.
    pub prices: &'a PriceList,
    /// How panels are made.
    pub making: &'a Making,
    /// The unit that sizes are told in.
    pub unit: LengthUnit,
    /// How each type is made.
    pub made: &'a [Made],
    /// What is cut out of what.
    pub cuts: AllCuts<'a>,
    /// What hanging takes.
    pub hanging: &'a Hanging,
}

impl Shopping<'_> {
    /// The list: sheets, cloth, timber, what goes by consumption, panels that are bought.
    #[must_use]
    pub fn purchases(&self) -> Vec<Purchase> {
        let spare = self.making.spare;
        let mut all = Vec::new();
        for cuts in self.cuts.boards {
            let board = self.prices.boards.iter().find(|sold| sold.name == cuts.board);
            let line = Purchase::of(&cuts.board, cuts.sheets.len() as f64, ("sheet", 1.0), board.map(|sold| sold.price), spare);
            all.push(line.asking(board.map_or_else(String::new, |board| self.board(board))));
        }
        for cuts in self.cuts.cloths {
            let cloth = self.prices.cloths.iter().find(|sold| sold.name == cuts.cloth);
            // Cut by the tenth of a meter.
            let line = Purchase::of(&cuts.cloth, cuts.length_m, ("m", 0.1), cloth.map(|sold| sold.price / 10.0), spare);
            all.push(line.asking(format!(
                "{} of usable width, selvages cut off; one can breathe through it",
                words::print(cuts.width_m, self.unit)
            )));
        }
        for cuts in self.cuts.timbers {
            let timber = self.prices.timbers.iter().find(|sold| sold.name == cuts.timber);
            let line = Purchase::of(&cuts.timber, cuts.lengths.len() as f64, ("length", 1.0), timber.map(|sold| sold.price), spare);
            all.push(line.asking(timber.map_or_else(String::new, |timber| self.timber(timber))));
        }
        for supply in &self.prices.supplies {
            let needed = self.making_it(supply) + supply.uses * self.hanging.takes(supply.per);
            // Nobody takes a part of a piece.
            let needed = if supply.unit == "piece" { (needed - 1e-6).ceil() } else { needed };
            if needed > 0.0 {
                let mut line = Purchase::of(&supply.name, needed, (&supply.unit, supply.pack), Some(supply.price), spare);
                if supply.per == Per::Rail {
                    let packs = line.packs.max(self.rails_out_of(supply.pack / supply.uses));
                    line = line.of_packs(packs);
                }
                all.push(line.asking(self.hanging.ask_for(supply.per, self.unit)));
            }
        }
        for bought in self.made.iter().filter(|made| made.construction == Construction::Bought) {
            let line = Purchase::of(&bought.kind, f64::from(bought.count), ("panel", 1.0), bought.bought_price, 0.0);
            let [width, height, thickness] =
                [bought.face_m[0], bought.face_m[1], bought.thickness_m].map(|side| words::print(side, self.unit));
            all.push(line.asking(format!("{width} x {height}, {thickness} thick")));
        }
        all
    }

    /// How much of a supply goes into the panels.
    fn making_it(&self, supply: &Supply) -> f64 {
        let used = self.made.iter().flat_map(|made| made.supplies.iter().map(move |used| (made, used)));
        used.filter(|(_, used)| used.supply == supply.name).map(|(made, used)| used.quantity * f64::from(made.count)).sum()
    }

    /// How many lengths rails take, none of them spliced; each longer than a length takes as many as make it up.
    fn rails_out_of(&self, length: f64) -> u32 {
        let (whole, longer): (Vec<f64>, Vec<f64>) = self.hanging.rails_m.iter().partition(|rail| **rail <= length);
        let spliced: u32 = longer.iter().map(|rail| packs(*rail, length)).sum();
        cutting::bars(&whole, length, self.making.kerf).map_or(0, |bars| bars.bars.len() as u32) + spliced
    }

    /// Size, density and the flow resistivity that the plan reckons with.
    fn board(&self, board: &Board) -> String {
        let [width, height, thickness] = [board.size.x, board.size.y, board.thickness].map(|side| words::print(side, self.unit));
        let density = board.mass.map(|mass| format!(", about {:.0} kg/m3", mass / (board.size.x * board.size.y * board.thickness)));
        let cores = self.made.iter().flat_map(|made| &made.cores).filter(|core| core.board == board.name);
        let mut flows: Vec<f64> =
            cores.filter_map(|core| core.flow_resistivity_pa_s_m2).map(|flow| (flow / 100.0).round() * 100.0).collect();
        flows.sort_by(f64::total_cmp);
        flows.dedup();
        let flows: Vec<String> = flows.iter().map(|flow| format!("{flow:.0}")).collect();
        let flow = if flows.is_empty() { String::new() } else { format!("; flow resistivity as planned, {} Pa s/m2", flows.join(" and ")) };
        format!("{width} x {height}, {thickness} thick{}{flow}", density.unwrap_or_default())
    }

    fn timber(&self, timber: &Timber) -> String {
        let [thick, deep, long] = [timber.section.x, timber.section.y, timber.length].map(|side| words::print(side, self.unit));
        format!("{thick} x {deep}, {long} long, straight and dry")
    }
}

/// So many packs hold this much.
fn packs(needed: f64, pack: f64) -> u32 {
    (needed / pack - 1e-6).ceil().max(0.0) as u32
}

/// What all of it costs.
#[must_use]
pub fn costs(prices: &PriceList, made: &[Made], purchases: &[Purchase], hanging: &Hanging) -> Costs {
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
    let holding: f64 = prices.supplies.iter().map(|supply| supply.price * supply.uses * hanging.takes(supply.per) / supply.pack).sum();
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
