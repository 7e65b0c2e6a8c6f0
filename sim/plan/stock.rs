//! What a plan may hang: what is owned, what may be bought for the money, and what hangs already and may be moved.
//!
//! Where the scene lets a plan move what hangs (`move_hung`), panels that hang flat, stand or lie join the stock: the planned room is that without them. Each may stay, move or come
//! down; a place that is left costs [`MOVING_STEPS`], a hole to fill and a panel to take off and hang again, so a panel stays unless the room gets better by more.
//! With a `budget` types that have a price are for sale, `count` at most of each, and all others are owned; what hangs already is owned, too. A layout costs
//! `sum_k max(0, n_k - owned_k) p_k`, and no layout costs more than the budget.
//!
//! The rules of thumb get the same money ([`Stock::installed`]): an installer takes what is owned, then buys what absorbs most for its money, octaves 250 Hz to 4 kHz, next best after
//! next best while the money lasts, and stops before the room by Sabine's formula would be deader than is asked.
//!
//! *References.* W. C. Sabine's formula in the form of ISO 354, `A = 24 ln(10) V / (c T)`; what a place left is worth is our own choice.
//!
//! *Limits.* Corner panels and clouds stay where they hang: they are bodies of the traced room, and what corners do to the bass is not in the score.

use crate::bands::Band;
use crate::hanging::{self, Hanging};
use crate::room::Room;
use crate::scene::{Panel, PanelPlace, Scene};

use super::flush::Flush;
use super::search::Goal;

/// What leaving a place costs, steps: a quarter of what is just noticed.
pub const MOVING_STEPS: f64 = 0.25;

/// Sums of money are told apart to this.
const LEAST_MONEY: f64 = 1e-6;

/// What a plan may hang.
#[derive(Clone, Debug)]
pub struct Stock {
    /// The scene without what may be moved; `count` of its types is all that may hang, owned or bought.
    pub scene: Scene,
    /// What hangs already and may be moved, with its number among the panels of the scene as written, from 0.
    pub hangs: Vec<(usize, Panel)>,
    /// Of each type, how many cost nothing.
    owned: Vec<u32>,
}

impl Stock {
    /// The stock of a scene.
    #[must_use]
    pub fn of(scene: &Scene) -> Self {
        let may_move = |panel: &Panel| scene.goals.move_hung && matches!(panel.place, PanelPlace::Surface { .. });
        let mut planned = scene.clone();
        planned.panels.retain(|panel| !may_move(panel));
        let hangs: Vec<(usize, Panel)> = scene.panels.iter().cloned().enumerate().filter(|(_, panel)| may_move(panel)).collect();
        let mut owned = Vec::new();
        for kind in &mut planned.stock {
            let hung = hangs.iter().filter(|(_, panel)| panel.kind == kind.name).count() as u32;
            let is_for_sale = scene.goals.budget.is_some() && kind.price.is_some();
            owned.push(if is_for_sale { hung } else { hung + kind.count });
            kind.count += hung;
        }
        Self { scene: planned, hangs, owned }
    }

    /// Money that may be spent; `None` where everything is owned.
    #[must_use]
    pub fn budget(&self) -> Option<f64> {
        self.scene.goals.budget
    }

    /// How many of each type hang where so many are left.
    #[must_use]
    pub fn used(&self, left: &[u32]) -> Vec<u32> {
        self.scene.stock.iter().zip(left).map(|(kind, left)| kind.count - left).collect()
    }

    /// How many of each type these are.
    #[must_use]
    pub fn counted(&self, panels: &[Panel]) -> Vec<u32> {
        let of = |name: &str| panels.iter().filter(|panel| panel.kind == name).map(Panel::count).sum();
        self.scene.stock.iter().map(|kind| of(&kind.name)).collect()
    }

    /// How many of each type are bought where so many hang.
    #[must_use]
    pub fn bought(&self, used: &[u32]) -> Vec<u32> {
        used.iter().zip(&self.owned).map(|(used, owned)| used.saturating_sub(*owned)).collect()
    }

    /// What it costs to hang so many of each type, in the currency of the prices.
    #[must_use]
    pub fn cost(&self, used: &[u32]) -> f64 {
        let bought = self.bought(used);
        self.scene.stock.iter().zip(bought).map(|(kind, count)| kind.price.unwrap_or(0.0) * f64::from(count)).sum()
    }

    /// Whether the money is enough to hang so many of each type.
    #[must_use]
    pub fn affords(&self, used: &[u32]) -> bool {
        self.budget().is_none_or(|budget| self.cost(used) <= budget + LEAST_MONEY)
    }

    /// Whether one more of a type is there, or may be bought for the money, where so many are left.
    #[must_use]
    pub fn has(&self, left: &[u32], kind: usize) -> bool {
        let mut used = self.used(left);
        used[kind] += 1;
        left[kind] > 0 && self.affords(&used)
    }

    /// Pieces that are owned and do not hang, by type.
    #[must_use]
    pub fn left_over(&self, left: &[u32]) -> Vec<(String, u32)> {
        let used = self.used(left);
        let unused = self.scene.stock.iter().zip(used.iter().zip(&self.owned));
        unused.filter(|(_, (used, owned))| owned > used).map(|(kind, (used, owned))| (kind.name.clone(), owned - used)).collect()
    }

    /// Whether a panel hangs where it did before.
    #[must_use]
    pub fn stays(&self, panel: &Panel) -> bool {
        self.hangs.iter().any(|(_, hung)| hung == panel)
    }

    /// What leaving places costs a layout, steps.
    #[must_use]
    pub fn moving_steps<'a>(&self, panels: impl Iterator<Item = &'a Panel>) -> f64 {
        MOVING_STEPS * (self.hangs.len() - panels.filter(|panel| self.stays(panel)).count()) as f64
    }

    /// Why nothing more is bought, where so many are left; `None` where the money is not why.
    #[must_use]
    pub fn spent(&self, left: &[u32]) -> Option<String> {
        let budget = self.budget()?;
        let is_dear = |kind: &usize| left[*kind] > 0 && !self.has(left, *kind);
        let cheapest = (0..left.len())
            .filter(is_dear)
            .map(|kind| &self.scene.stock[kind])
            .min_by(|a, b| a.price.unwrap_or(0.0).total_cmp(&b.price.unwrap_or(0.0)))?;
        let rest = (budget - self.cost(&self.used(left))).max(0.0);
        Some(format!(
            "only {} of the money is left, and the cheapest piece more, \"{}\", costs {}",
            money(rest),
            cheapest.name,
            money(cheapest.price?)
        ))
    }

    /// What an installer hangs for the money: how many of each type.
    #[must_use]
    pub fn installed(&self, flush: &Flush<'_>, room: &Room, goal: &Goal<'_>) -> Vec<u32> {
        let absorbs: Vec<f64> = (0..self.owned.len()).map(|kind| self.absorbs(flush, kind)).collect();
        let mut used: Vec<u32> = self.owned.iter().zip(&self.scene.stock).map(|(owned, kind)| (*owned).min(kind.count)).collect();
        let mut room_left = wanted(room, goal) - used.iter().zip(&absorbs).map(|(&count, area)| f64::from(count) * area).sum::<f64>();
        for kind in self.by_value(&absorbs) {
            loop {
                let mut more = used.clone();
                more[kind] += 1;
                if more[kind] > self.scene.stock[kind].count || !self.affords(&more) || absorbs[kind] > room_left {
                    break;
                }
                room_left -= absorbs[kind];
                used = more;
            }
        }
        used
    }

    /// What the money buys if it all goes into one type, for each type that is for sale; what is owned hangs, too.
    #[must_use]
    pub fn all_in_one(&self, flush: &Flush<'_>, room: &Room, goal: &Goal<'_>) -> Vec<Vec<u32>> {
        let for_sale = (0..self.owned.len()).filter(|&kind| self.scene.stock[kind].count > self.owned[kind]);
        let only = |kind: usize| {
            let mut alone = self.clone();
            for other in (0..self.owned.len()).filter(|&other| other != kind) {
                alone.scene.stock[other].count = self.owned[other];
            }
            alone.installed(flush, room, goal)
        };
        for_sale.map(only).collect()
    }

    /// Types that are for sale, what absorbs most for its money first.
    fn by_value(&self, absorbs: &[f64]) -> Vec<usize> {
        let mut kinds: Vec<usize> = (0..self.owned.len()).filter(|&kind| self.scene.stock[kind].count > self.owned[kind]).collect();
        let value = |kind: usize| absorbs[kind] / self.scene.stock[kind].price.unwrap_or(0.0).max(LEAST_MONEY);
        kinds.sort_by(|&a, &b| value(b).total_cmp(&value(a)).then(a.cmp(&b)));
        kinds
    }

    /// What one of a type absorbs, mean of 250 Hz - 4 kHz, m2.
    fn absorbs(&self, flush: &Flush<'_>, kind: usize) -> f64 {
        let stock = &self.scene.stock[kind];
        mean(flush.finish(kind, stock.gap).absorption) * stock.size.x * stock.size.y
    }
}

/// Absorption that may be brought into a room until it is as dead as is asked at least, mean of 250 Hz - 4 kHz, m2; without end where nothing asks.
fn wanted(room: &Room, goal: &Goal<'_>) -> f64 {
    let Some((low, _)) = goal.target else { return f64::INFINITY };
    let size = 24.0 * std::f64::consts::LN_10 * room.volume / room.medium.speed;
    let bare = mean(hanging::eyring(room, &Hanging::default()).map(|time| if time.is_finite() { size / time } else { 0.0 }));
    (size / low - bare).max(0.0)
}

/// Mean of the octaves that decays are judged in.
fn mean(bands: crate::bands::Bands<f64>) -> f64 {
    let judged = || Band::ALL.into_iter().filter(|band| (250..=4000).contains(&band.nominal()));
    judged().map(|band| bands[band]).sum::<f64>() / judged().count() as f64
}

/// A sum of money without needless digits.
#[must_use]
pub fn money(sum: f64) -> String {
    if (sum - sum.round()).abs() < 0.005 { format!("{sum:.0}") } else { format!("{sum:.2}") }
}

/// Which panels of a plan were those that leave their places: for each that hung before what becomes of it, by its number among `after`. What leaves goes to the nearest new place of its
/// type, pair by pair, the nearest first; at the same distance in the order of the scene.
#[must_use]
pub fn fates(before: &[Panel], after: &[Panel], distance: impl Fn(&Panel, &Panel) -> f64) -> Vec<Fate> {
    let mut fates: Vec<Option<Fate>> = before.iter().map(|panel| after.iter().position(|other| other == panel).map(Fate::Stays)).collect();
    let stays = |number: usize| before.contains(&after[number]);
    let mut pairs: Vec<(i64, usize, usize)> = Vec::new();
    for own in (0..before.len()).filter(|&own| fates[own].is_none()) {
        for other in (0..after.len()).filter(|&other| !stays(other) && after[other].kind == before[own].kind) {
            // To the millimeter, so that what is alike stays in order.
            pairs.push(((distance(&before[own], &after[other]) * 1000.0).round() as i64, own, other));
        }
    }
    pairs.sort_unstable();
    let mut taken: Vec<usize> = Vec::new();
    for (_, own, other) in pairs {
        if fates[own].is_none() && !taken.contains(&other) {
            fates[own] = Some(Fate::Moves(other));
            taken.push(other);
        }
    }
    fates.into_iter().map(|fate| fate.unwrap_or(Fate::ComesDown)).collect()
}

/// What becomes of a panel that hangs already.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fate {
    /// It stays, as this one of the plan's.
    Stays(usize),
    /// It becomes this one.
    Moves(usize),
    /// It goes back into the stack.
    ComesDown,
}
