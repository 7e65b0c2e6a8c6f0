//! Panels moved, added and taken down as long as the score of the whole layout gets better.
//!
//! The derivative of the score says where panels of each type are worth most against where they hang. The moves that promise most are weighed exactly, all in one walk along the rays,
//! by themselves and then the best of them together; the best of all is made, and all is reckoned anew, until no move makes the room better by more than its error and a tenth of a step.
//! Where no single move is left, two are tried that are good only together (`displace`, `swaps`).
//! A panel that is worth less goes back into the stock. It begins with several layouts: the places found so far, those of the rules of thumb where they are nearly as good, and the best that
//! came of these with a part of its panels hung elsewhere by chance, seeded.
//!
//! *Limits.* Corner panels stay: what they do to the bass is not in the score. Weighed on fewer rays than the plan is judged by, every move on the same.

use crate::layout::candidates::Candidate;
use crate::layout::free::Free;
use crate::plan::score::{Faults, Figures, LEAST_STEPS, Weighed, faults_of};
use crate::plan::stock::MOVING_STEPS;
use crate::progress::Cancelled;
use crate::random::{Purpose, Stream};
use crate::response::Resampled;
use crate::scene::{Panel, PanelPlace};

use super::owned::Ranked;
use super::{DECAY, Hung, Search, Way, are_nearly_one};

/// Rounds of moves at most.
const ROUNDS: u32 = 16;

/// Moves weighed exactly at once.
const TRIED: usize = 24;

/// So often at most in a round: those that promise less only where none that promises more is worth it.
const TRIED_TIMES: usize = 3;

/// Places that are offered to each panel in a round.
const OFFERED: usize = 3;

/// Moves made together at most.
const TOGETHER: usize = 6;

/// A rule of thumb that is no more steps behind the best start is begun with, too.
const NEARLY: f64 = 1.5;

/// Panels that hang elsewhere in all starts together that are made from the best layout by chance: many starts of few panels, and one of many.
const KICKED_PANELS: usize = 12;

/// Such starts at most.
const KICKS_MOST: usize = 4;

/// Rounds after which a start is left that is far behind the best layout.
const FIRST_ROUNDS: u32 = 2;

/// Share of its panels that hang elsewhere then.
const KICKED: f64 = 0.34;

/// Places tried for each of them.
const KICK_TRIES: usize = 32;

/// What hangs, and what is left of each type in the stock.
pub(super) type Layout = (Vec<Hung>, Vec<u32>);

/// A change of a layout.
#[derive(Clone, Debug)]
pub(super) struct Move {
    /// The panel that is taken down, by its number among those hung.
    pub(super) taken: Option<usize>,
    /// The panel that is hung.
    pub(super) put: Option<Candidate>,
    /// By how many steps it promises to make the room better.
    pub(super) promise: f64,
}

impl Search<'_> {
    /// Exchanges panels: beginning with the first places, and with those of the rules of thumb where they are nearly as good.
    pub(super) fn exchange(&mut self, begun: Vec<Layout>) -> Result<(), Cancelled> {
        let starts = self.starts(begun);
        let kicks = (KICKED_PANELS / self.hung.len().max(1)).clamp(1, KICKS_MOST);
        self.progress.begin("exchanging panels", (starts.len() + kicks) as u64 * u64::from(ROUNDS));
        let first = starts.into_iter().map(|start| self.weighed(start)).collect::<Result<Vec<_>, _>>()?;
        let least = first.iter().map(|(faults, _)| *faults).fold(f64::INFINITY, f64::min);
        let mut best: Option<(f64, Layout)> = None;
        for (_, start) in first.into_iter().filter(|(faults, _)| *faults <= least + NEARLY) {
            (self.hung, self.left) = start;
            let faults = self.improve(best.as_ref().map_or(f64::INFINITY, |best| best.0 + NEARLY))?;
            if best.as_ref().is_none_or(|best| faults < best.0) {
                best = Some((faults, (self.hung.clone(), self.left.clone())));
            }
        }
        for number in 0..kicks {
            if self.progress.is_enough() {
                break;
            }
            let Some((least, layout)) = best.clone() else { break };
            (self.hung, self.left) = self.kicked(&layout, number as u64);
            let faults = self.improve(least + NEARLY)?;
            if faults < least {
                best = Some((faults, (self.hung.clone(), self.left.clone())));
            }
        }
        if let Some((_, layout)) = best {
            (self.hung, self.left) = layout;
        }
        self.settle()
    }

    /// What hangs now, what the search began with before, and rules of thumb.
    fn starts(&self, begun: Vec<Layout>) -> Vec<Layout> {
        let ruled = self.rule_counts().into_iter().flat_map(|counts| self.ruled(&counts));
        std::iter::once((self.hung.clone(), self.left.clone())).chain(begun).chain(ruled).collect()
    }

    /// What a move must bring, in steps.
    pub(super) fn least(&self, one: &Move) -> f64 {
        let leaves = one.taken.is_some_and(|number| self.stays(&self.hung[number].panel));
        let moving = if leaves { MOVING_STEPS } else { 0.0 };
        moving + if one.put.is_none() { -LEAST_STEPS } else { LEAST_STEPS }
    }

    /// A layout with some of its panels hung elsewhere, by chance; one that finds no place goes back into the stock.
    fn kicked(&self, (hung, left): &Layout, number: u64) -> Layout {
        let mut chance = Stream::new(self.ground.traced.settings.seed, Purpose::Search, number);
        let is_kicked = |hung: &&Hung| !matches!(hung.panel.place, PanelPlace::Corner { .. }) && chance.unit() < KICKED;
        let (kicked, stays): (Vec<&Hung>, Vec<&Hung>) = hung.iter().partition(is_kicked);
        let mut after: Vec<Hung> = stays.into_iter().cloned().collect();
        let mut left = left.clone();
        let mut free = self.free_with(&after);
        let empty = self.free_without_hung();
        for way in kicked.into_iter().filter_map(|hung| self.way_of(&hung.panel)) {
            let Way { kind, hung: own } = &self.ways[way];
            let places = self.candidates(way, &empty);
            let some = (0..KICK_TRIES).filter_map(|_| places.get((chance.unit() * places.len() as f64) as usize));
            let place = some.map(|place| &place.panel).find(|panel| free.fits_panel(panel, own).is_ok());
            match place.filter(|panel| free.hang(panel, own).is_ok()) {
                Some(panel) => after.push(Hung { panel: panel.clone(), reason: DECAY, serves: String::new() }),
                None => left[*kind] += 1,
            }
        }
        (after, left)
    }

    /// A layout with what is wrong with it, in steps.
    fn weighed(&self, layout: Layout) -> Result<(f64, Layout), Cancelled> {
        let weighed = Weighed::new(self.progress, self.ground, &self.all_panels(&layout.0))?;
        let faults = faults_of(self.ground.traced, self.ground.goal, &[&weighed])[0].together().whole;
        Ok((faults + self.moving(&layout.0), layout))
    }

    /// Moves panels until no move makes the room better, or while it is worse than `most` steps after the first rounds; returns what is wrong then, in steps.
    fn improve(&mut self, most: f64) -> Result<f64, Cancelled> {
        let mut rounds = 0..ROUNDS;
        loop {
            let now = Weighed::new(self.progress, self.ground, &self.panels())?;
            let faults = faults_of(self.ground.traced, self.ground.goal, &[&now]).swap_remove(0);
            let steps = faults.together().whole + self.moving(&self.hung);
            let goes_on = !self.progress.is_enough() && rounds.next().is_some_and(|round| round < FIRST_ROUNDS || steps <= most);
            if !goes_on {
                return Ok(steps);
            }
            let Some(best) = self.best_moves((&now, &faults.figures))? else { return Ok(steps) };
            self.make(&best);
            self.progress.step(1)?;
        }
    }

    /// The moves to make next: single ones that are good together, else two that are good only together; none where nothing is worth it.
    fn best_moves(&self, now: (&Weighed, &Figures)) -> Result<Option<Vec<Move>>, Cancelled> {
        let is_in_use = |kind: usize| self.left[kind] > 0 || self.hung.iter().any(|hung| self.kind_of(&hung.panel) == Some(kind));
        let ranked = self.ranked_by_worth(now, &self.flat_ways_of(is_in_use))?;
        let single = self.proposals(&ranked);
        let best = single.chunks(TRIED).map(|some| self.best_of(now.0, some)).find_map(Result::transpose).transpose()?;
        if best.is_some() {
            return Ok(best);
        }
        let mut double = self.displacements(&ranked);
        double.truncate(TRIED);
        double.extend(self.swaps(&ranked));
        self.best_double(now.0, double)
    }

    /// The best of moves that are made together or not at all; none where none is worth it.
    fn best_double(&self, now: &Weighed, moves: Vec<Vec<Move>>) -> Result<Option<Vec<Move>>, Cancelled> {
        if moves.is_empty() {
            return Ok(None);
        }
        let layouts: Vec<Vec<Hung>> = moves.iter().map(|moves| self.after(moves)).collect();
        let gains = self.gains(now, &layouts)?;
        let over = |(gain, moves): (&Resampled<f64>, Vec<Move>)| {
            let gain = gain.error();
            let over = gain.value - moves.iter().map(|one| self.least(one)).sum::<f64>();
            (over > 0.0 && gain.value > gain.half_width_95()).then_some((over, moves))
        };
        Ok(gains.iter().zip(moves).filter_map(over).max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, moves)| moves))
    }

    /// The single moves that promise most.
    fn proposals(&self, ranked: &[Ranked]) -> Vec<Move> {
        let all = self.free_with(&self.hung);
        let first = all.hanging().count() - self.hung.len();
        let mut moves = Vec::new();
        for Ranked { way, places, own, .. } in ranked {
            let kind = self.ways[*way].kind;
            for &(number, own) in own {
                moves.extend((own < 2.0 * LEAST_STEPS).then_some(Move { taken: Some(number), put: None, promise: -own }));
                let offers = self.offers(&all, (kind, places), own, Some((number, first + number)));
                moves.extend(offers.into_iter().map(|(worth, put)| Move { taken: Some(number), put: Some(put), promise: worth - own }));
            }
            if self.has(kind) {
                let offers = self.offers(&all, (kind, places), 0.0, None);
                moves.extend(offers.into_iter().map(|(worth, put)| Move { taken: None, put: Some(put), promise: worth }));
            }
        }
        moves.extend(self.trades(&all, first, ranked));
        moves.sort_by(|a, b| b.promise.total_cmp(&a.promise));
        moves.truncate(TRIED_TIMES * TRIED);
        moves
    }

    /// The best places that are free and worth more than `own` steps, no two of them nearly one; `instead` of a panel that hangs, by its number among those hung and in `all`.
    pub(super) fn offers(
        &self,
        all: &Free,
        (kind, ranked): (usize, &[(f64, Candidate)]),
        own: f64,
        instead: Option<(usize, usize)>,
    ) -> Vec<(f64, Candidate)> {
        let without: Vec<usize> = instead.iter().map(|&(_, number)| number).collect();
        let mut offers: Vec<(f64, Candidate)> = Vec::new();
        for (worth, candidate) in ranked.iter().take_while(|(worth, _)| *worth > own) {
            let stays = instead.is_some_and(|(number, _)| self.hung[number].panel == candidate.panel);
            if stays || offers.iter().any(|(_, other)| are_nearly_one(other, candidate)) {
                continue;
            }
            if all.fits_without(&candidate.panel, &self.scene.stock[kind], &without).is_ok() {
                offers.push((*worth, candidate.clone()));
            }
            if offers.len() >= OFFERED {
                break;
            }
        }
        offers
    }

    /// The moves that together make the room best; none where no move is worth it.
    fn best_of(&self, now: &Weighed, moves: &[Move]) -> Result<Option<Vec<Move>>, Cancelled> {
        if moves.is_empty() {
            return Ok(None);
        }
        let singles: Vec<Vec<Hung>> = moves.iter().map(|one| self.after(std::slice::from_ref(one))).collect();
        let gains = self.gains(now, &singles)?;
        let mut good: Vec<(f64, &Move)> = gains
            .iter()
            .zip(moves)
            .filter_map(|(gain, one)| {
                let gain = gain.error();
                let over = gain.value - self.least(one);
                (over > 0.0 && (one.put.is_none() || gain.value > gain.half_width_95())).then_some((over, one))
            })
            .collect();
        good.sort_by(|a, b| b.0.total_cmp(&a.0));
        let Some(&(best, first)) = good.first() else { return Ok(None) };
        // Of the others those that go together with what is better.
        let mut together = vec![first.clone()];
        let mut compounds: Vec<Vec<Move>> = Vec::new();
        for (_, one) in &good[1..] {
            let mut more = together.clone();
            more.push((*one).clone());
            if self.is_legal(&more) {
                compounds.push(more.clone());
                together = more;
            }
            if together.len() >= TOGETHER {
                break;
            }
        }
        let layouts: Vec<Vec<Hung>> = compounds.iter().map(|moves| self.after(moves)).collect();
        let gains = if layouts.is_empty() { Vec::new() } else { self.gains(now, &layouts)? };
        let worth =
            |(gain, moves): (&Resampled<f64>, Vec<Move>)| (gain.whole - moves.iter().map(|one| self.least(one)).sum::<f64>(), moves);
        let better = gains.iter().zip(compounds).map(worth).filter(|(worth, _)| *worth > best).max_by(|a, b| a.0.total_cmp(&b.0));
        Ok(Some(better.map_or_else(|| vec![first.clone()], |(_, moves)| moves)))
    }

    /// By how many steps each of some layouts makes the room better.
    pub(super) fn gains(&self, now: &Weighed, layouts: &[Vec<Hung>]) -> Result<Vec<Resampled<f64>>, Cancelled> {
        let layouts: Vec<Vec<Panel>> = layouts.iter().map(|hung| self.all_panels(hung)).collect();
        let others = now.others(self.progress, self.ground, &layouts)?;
        let all: Vec<&Weighed> = std::iter::once(now).chain(&others).collect();
        let faults: Vec<Faults> = faults_of(self.ground.traced, self.ground.goal, &all);
        Ok(faults[1..].iter().map(|other| other.better_by(&faults[0])).collect())
    }

    /// What hangs after these moves: what is moved keeps its number, what is taken down leaves none.
    pub(super) fn after(&self, moves: &[Move]) -> Vec<Hung> {
        let mut hung: Vec<Option<Hung>> = self.hung.iter().cloned().map(Some).collect();
        for one in moves {
            let put = one.put.as_ref().map(|put| Hung { panel: put.panel.clone(), reason: DECAY, serves: String::new() });
            match one.taken {
                Some(number) => hung[number] = put,
                None => hung.push(put),
            }
        }
        hung.into_iter().flatten().collect()
    }

    /// Whether moves concern different panels, each of which fits beside the others, and no type is hung more often than there are or can be paid.
    pub(super) fn is_legal(&self, moves: &[Move]) -> bool {
        let mut taken: Vec<usize> = moves.iter().filter_map(|one| one.taken).collect();
        let count = taken.len();
        taken.sort_unstable();
        taken.dedup();
        taken.len() == count && self.left_after(moves).is_some() && self.are_legal(&self.after(moves))
    }

    /// Makes moves that are legal.
    fn make(&mut self, moves: &[Move]) {
        if let Some(left) = self.left_after(moves) {
            self.left = left;
        }
        self.hung = self.after(moves);
    }

    /// Index of a panel's type.
    pub(super) fn kind_of(&self, panel: &Panel) -> Option<usize> {
        self.scene.stock.iter().position(|kind| kind.name == panel.kind)
    }

    /// The room with these hung.
    pub(super) fn free_with(&self, hung: &[Hung]) -> Free {
        let mut free = self.free_without_hung();
        for hung in hung {
            if let Some(kind) = self.kind_of(&hung.panel) {
                // Each was asked to fit.
                drop(free.hang(&hung.panel, &self.scene.stock[kind]));
            }
        }
        free
    }
}
