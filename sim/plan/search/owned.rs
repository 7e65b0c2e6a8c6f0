//! What the search may hang: what is left and can be paid, what hangs already, and what it would buy next.
//!
//! *Limits.* The next purchase is one piece more, hung where it is worth most beside all that hangs; several at once may be worth more or less than one after the other.

use crate::absorbers::Finish;
use crate::hotspots::Spot;
use crate::layout::candidates::{Candidate, placed};
use crate::layout::free::Free;
use crate::plan::integral::Integral;
use crate::plan::score::{Figures, Weighed, faults_of};
use crate::plan::thumb;
use crate::progress::Cancelled;
use crate::scene::{Panel, PanelPlace};

use super::exchange::{Layout, Move};
use super::worth::worth;
use super::{CORNER, DECAY, Hung, Search, USED_UP, Way, places};

/// All places of a way to hang a type, and what its panels are worth where they hang so.
pub(super) struct Ranked {
    /// Index of the way.
    pub(super) way: usize,
    /// What a square meter of it is worth everywhere, steps.
    pub(super) map: Integral,
    /// Places with what one is worth there, steps, the best first.
    pub(super) places: Vec<(f64, Candidate)>,
    /// Of those that hang: the number among those hung, and what it is worth, steps.
    pub(super) own: Vec<(usize, f64)>,
}

/// Places of each type that are weighed for the next purchase.
const NEXT_TRIED: usize = 3;

impl Search<'_> {
    /// Whether one more of a type is there or can be paid.
    pub(super) fn has(&self, kind: usize) -> bool {
        self.stock.has(&self.left, kind)
    }

    /// Why nothing more can hang, if nothing is left or can be paid.
    pub(super) fn all_used(&self) -> Option<String> {
        if self.left.iter().all(|&left| left == 0) {
            return Some(USED_UP.to_owned());
        }
        if (0..self.left.len()).any(|kind| self.has(kind)) {
            return None;
        }
        self.stock.spent(&self.left)
    }

    /// Whether a panel hangs where it did before the plan.
    pub(super) fn stays(&self, panel: &Panel) -> bool {
        self.stock.stays(panel)
    }

    /// What leaving places costs these, steps.
    pub(super) fn moving(&self, hung: &[Hung]) -> f64 {
        self.stock.moving_steps(hung.iter().map(|hung| &hung.panel))
    }

    /// First places for all that is there: of the room without what may be moved, and then of the room as it hangs, which is what hangs at the end. Why the last of them stopped, and the
    /// layouts before it.
    pub(super) fn begin(&mut self, spots: &[Spot]) -> Result<(String, Vec<Layout>), Cancelled> {
        if self.stock.hangs.is_empty() {
            return Ok((self.first_places(spots)?, Vec::new()));
        }
        self.first_places(spots)?;
        let from_bare = (self.hung.clone(), self.left.clone());
        let as_it_hangs = self.layout(self.stock.hangs.iter().map(|(_, panel)| panel.clone()).collect());
        (self.hung, self.left) = as_it_hangs.clone();
        self.corners_stopped = None;
        self.settle()?;
        Ok((self.first_places(spots)?, vec![from_bare, as_it_hangs]))
    }

    /// Corners come first, so that nothing else takes their place, but after the hot spots in hanging order; then what shortens the decay. Why it stopped.
    fn first_places(&mut self, spots: &[Spot]) -> Result<String, Cancelled> {
        self.corners()?;
        self.hot_spots(spots)?;
        self.hung.sort_by_key(|hung| hung.reason == "corner");
        self.decay()
    }

    /// Brings all that follows from what hangs up to date.
    pub(super) fn settle(&mut self) -> Result<(), Cancelled> {
        self.free = self.free_with(&self.hung);
        self.linings = self.ground.flush.without_margins(&self.panels());
        self.early = self.ground.index.weigh(self.progress, &self.linings)?;
        Ok(())
    }

    /// These panels as a layout; what each serves is to be told.
    pub(super) fn layout(&self, panels: Vec<Panel>) -> Layout {
        let mut left: Vec<u32> = self.scene.stock.iter().map(|kind| kind.count).collect();
        let hang = |panel: Panel| {
            if let Some(kind) = self.kind_of(&panel) {
                left[kind] -= 1;
            }
            if matches!(panel.place, PanelPlace::Corner { .. }) {
                let serves = self.corner_places.serves(&panel);
                return Hung { panel, reason: CORNER.0, serves };
            }
            Hung { panel, reason: DECAY, serves: String::new() }
        };
        let hung = panels.into_iter().map(hang).collect();
        (hung, left)
    }

    /// How many of each type the rules of thumb begin with: as many as hang now; where there is money what an installer buys, and what it buys of each type alone.
    pub(super) fn rule_counts(&self) -> Vec<Vec<u32>> {
        let now = self.stock.used(&self.left);
        if self.stock.budget().is_none() {
            return vec![now];
        }
        let mut all = vec![now, self.stock.installed(self.ground.flush, &self.ground.traced.room, self.ground.goal)];
        all.extend(self.stock.all_in_one(self.ground.flush, &self.ground.traced.room, self.ground.goal));
        let mut counts: Vec<Vec<u32>> = Vec::new();
        for one in all {
            if !counts.contains(&one) {
                counts.push(one);
            }
        }
        counts
    }

    /// Layouts by either rule of thumb with these many of each type.
    pub(super) fn ruled(&self, counts: &[u32]) -> [Layout; 2] {
        let free = self.free_without_hung();
        let points = thumb::mirror_points(self.ground.traced, self.ground.goal.pairs);
        [
            thumb::first_points(self.scene, &self.ground.traced.room, &free, counts, &points),
            thumb::even_spread(self.scene, &self.ground.traced.room, &free, counts),
        ]
        .map(|panels| self.layout(self.in_corners_of_waves(panels)))
    }

    /// The same with as many panels across corners, but those where waves say, as far as they and all others fit: the score knows no bass, so a rule's corners would be as good to it.
    fn in_corners_of_waves(&self, panels: Vec<Panel>) -> Vec<Panel> {
        if self.corner_places.steps.is_empty() {
            return panels;
        }
        let (corners, others): (Vec<Panel>, Vec<Panel>) =
            panels.into_iter().partition(|panel| matches!(panel.place, PanelPlace::Corner { .. }));
        let count = |kind: &str| corners.iter().filter(|panel| panel.kind == kind).count();
        let mut kept: Vec<Panel> = Vec::new();
        let mut free = self.free_without_hung();
        let first = self.corner_places.steps.iter().map(|step| step.panel.clone());
        for panel in first.chain(others) {
            let is_corner = matches!(panel.place, PanelPlace::Corner { .. });
            let is_more = is_corner && kept.iter().filter(|other| other.kind == panel.kind).count() >= count(&panel.kind);
            let Some(kind) = self.kind_of(&panel).filter(|_| !is_more) else { continue };
            let kind = &self.scene.stock[kind];
            if free.fits_panel(&panel, kind).is_ok() && free.hang(&panel, kind).is_ok() {
                kept.push(panel);
            }
        }
        kept
    }

    /// What types hung these ways are worth everywhere, by the derivative of the score.
    pub(super) fn ranked_by_worth(&self, now: (&Weighed, &Figures), ways: &[usize]) -> Result<Vec<Ranked>, Cancelled> {
        let finishes: Vec<Finish> = ways.iter().map(|&way| self.finish(way)).collect();
        let maps = worth(self.progress, self.ground, now, &finishes, &self.ground.flush.alone(&self.scene.panels))?;
        let empty = self.free_without_hung();
        let ranked = |(&way, map): (&usize, Integral)| {
            let value = |panel: &Panel| map.over_all(&places(self.ground.flush, panel));
            let mut places: Vec<(f64, Candidate)> = self
                .candidates(way, &empty)
                .into_iter()
                .chain(self.with_other_gap(way, &empty))
                .map(|candidate| (value(&candidate.panel), candidate))
                .collect();
            places.sort_by(|a, b| b.0.total_cmp(&a.0));
            let hung = (0..self.hung.len()).filter(|&number| self.way_of(&self.hung[number].panel) == Some(way));
            let own = hung.map(|number| (number, value(&self.hung[number].panel))).collect();
            Ranked { way, places, own, map }
        };
        Ok(ways.iter().zip(maps).map(ranked).collect())
    }

    /// Where panels of this type hang another way, the places with this way's gap.
    fn with_other_gap(&self, way: usize, empty: &Free) -> Vec<Candidate> {
        let Way { kind, hung: own } = &self.ways[way];
        let others = self.hung.iter().map(|hung| &hung.panel).filter(|panel| self.kind_of(panel) == Some(*kind));
        let others = others.filter(|panel| self.way_of(panel) != Some(way));
        let there = |panel: &Panel| match &panel.place {
            PanelPlace::Surface { surface, left, bottom, lying, .. } => {
                let place = PanelPlace::Surface { surface: surface.clone(), left: *left, bottom: *bottom, lying: *lying, gap: own.gap };
                placed(self.scene, empty, own, place).ok()
            }
            PanelPlace::Corner { .. } | PanelPlace::Cloud(_) => None,
        };
        others.filter_map(there).collect()
    }

    /// Moves that hang a panel with another gap of its type, there or elsewhere; and those that hang one of another type in its place, where there is money to choose by. `first` is the number in `all` of the first that the search hung.
    pub(super) fn trades(&self, all: &Free, first: usize, ranked: &[Ranked]) -> Vec<Move> {
        let mut moves = Vec::new();
        let is_for_money = self.stock.budget().is_some();
        for Ranked { way, places, .. } in ranked {
            let kind = self.ways[*way].kind;
            let is_traded = |other: &&Ranked| other.way != *way && (is_for_money || self.ways[other.way].kind == kind);
            for &(number, own) in ranked.iter().filter(is_traded).flat_map(|other| &other.own) {
                let offers = self.offers(all, (kind, places), own, Some((number, first + number)));
                let trades = offers.into_iter().map(|(worth, put)| Move { taken: Some(number), put: Some(put), promise: worth - own });
                moves.extend(trades.filter(|one| self.left_after(std::slice::from_ref(one)).is_some()));
            }
        }
        moves
    }

    /// What is left of each type after these moves; `None` where there are not as many, or the money is not enough.
    pub(super) fn left_after(&self, moves: &[Move]) -> Option<Vec<u32>> {
        let mut left = self.left.clone();
        for number in moves.iter().filter_map(|one| one.taken) {
            left[self.kind_of(&self.hung[number].panel)?] += 1;
        }
        for put in moves.iter().filter_map(|one| one.put.as_ref()) {
            left[put.kind_index] = left[put.kind_index].checked_sub(1)?;
        }
        self.stock.affords(&self.stock.used(&left)).then_some(left)
    }

    /// The piece that would bring most for its price if there were money for it, where it would hang; `None` where nothing is for sale or none would make the room better.
    pub(super) fn next_purchase(&self) -> Result<Option<Panel>, Cancelled> {
        if self.stock.budget().is_none() {
            return Ok(None);
        }
        let now = Weighed::new(self.progress, self.ground, &self.panels())?;
        let figures = faults_of(self.ground.traced, self.ground.goal, &[&now]).swap_remove(0).figures;
        let for_sale = |kind: usize| self.left[kind] > 0 && self.scene.stock[kind].price.is_some_and(|price| price > 0.0);
        let ways = self.flat_ways_of(for_sale);
        let mut sets: Vec<Vec<Move>> = Vec::new();
        let all = self.free_with(&self.hung);
        for Ranked { way, places, .. } in self.ranked_by_worth((&now, &figures), &ways)? {
            let offers = self.offers(&all, (self.ways[way].kind, &places), 0.0, None);
            sets.extend(offers.into_iter().take(NEXT_TRIED).map(|(promise, put)| vec![Move { taken: None, put: Some(put), promise }]));
        }
        if sets.is_empty() {
            return Ok(None);
        }
        let layouts: Vec<Vec<Hung>> = sets.iter().map(|moves| self.after(moves)).collect();
        let gains = self.gains(&now, &layouts)?;
        let per_price = |gain: f64, put: usize| gain / self.scene.stock[put].price.unwrap_or(1.0);
        let offered = sets.into_iter().flatten().filter_map(|one| one.put).zip(gains);
        let best = offered
            .filter(|(_, gain)| gain.whole > 0.0)
            .max_by(|a, b| per_price(a.1.whole, a.0.kind_index).total_cmp(&per_price(b.1.whole, b.0.kind_index)));
        Ok(best.map(|(put, _)| put.panel))
    }
}
