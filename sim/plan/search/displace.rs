//! A piece that is left in stock, hung where another hangs, which hangs elsewhere then or is taken down: a cloud whose only place a wall panel has under the ceiling.
//!
//! The piece has no place as things are, and moving the other one gains nothing by itself; so no row of single moves finds it. By the derivative of the score this promises
//! `w(here) - w_other(here) + w_other(there)`. Those that promise most are weighed exactly, and the best is made.
//!
//! *Limits.* One panel gives way to one; its new place is the best by the derivative that is free then.

use crate::layout::candidates::Candidate;
use crate::layout::free::Free;
use crate::scene::PanelPlace;

use super::exchange::Move;
use super::owned::Ranked;
use super::{Hung, Search, are_nearly_one};

/// Places weighed for each way of hanging what is left, no two of them nearly one.
const OFFERED: usize = 4;

/// Places looked at for these, the best by the derivative first.
const LOOKED_AT: usize = 400;

impl Search<'_> {
    /// What is left, each piece in the place of a panel that gives way; those that promise most first.
    pub(super) fn displacements(&self, ranked: &[Ranked]) -> Vec<Vec<Move>> {
        let all = self.free_with(&self.hung);
        let first = all.hanging().count() - self.hung.len();
        let mut found: Vec<(f64, Vec<Move>)> = Vec::new();
        for of in ranked.iter().filter(|of| self.has(self.ways[of.way].kind)) {
            let mut offered: Vec<&Candidate> = Vec::new();
            for (worth, place) in of.places.iter().take(LOOKED_AT).take_while(|(worth, _)| *worth > 0.0) {
                if offered.len() >= OFFERED {
                    break;
                }
                if offered.iter().any(|other| are_nearly_one(other, place)) {
                    continue;
                }
                let Some(number) = self.who_gives_way(&all, first, (of.way, place)) else { continue };
                let before = found.len();
                found.extend(self.given_way(ranked, number, (*worth, place)));
                if found.len() > before {
                    offered.push(place);
                }
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        found.into_iter().map(|(_, moves)| moves).filter(|moves| self.is_legal(moves)).collect()
    }

    /// The one panel without which a place is free, by its number among those hung; `None` where it is free as it is, or no one panel is all that is in the way.
    fn who_gives_way(&self, all: &Free, first: usize, (way, place): (usize, &Candidate)) -> Option<usize> {
        let kind = &self.ways[way].hung;
        let is_free = |without: &[usize]| all.fits_without(&place.panel, kind, without).is_ok();
        let may_move = |hung: &Hung| !matches!(hung.panel.place, PanelPlace::Corner { .. });
        let everything: Vec<usize> = (0..self.hung.len()).filter(|&number| may_move(&self.hung[number])).collect();
        let without: Vec<usize> = everything.iter().map(|number| first + number).collect();
        if is_free(&[]) || !is_free(&without) {
            return None;
        }
        everything.into_iter().find(|number| is_free(&[first + number]))
    }

    /// The moves that hang a piece where a panel hangs: that panel elsewhere, and taken down, each with what they promise.
    fn given_way(&self, ranked: &[Ranked], number: usize, (worth, place): (f64, &Candidate)) -> Vec<(f64, Vec<Move>)> {
        let own = |of: &Ranked| of.own.iter().find(|(other, _)| *other == number).map(|&(_, own)| own);
        let Some((of, own)) = ranked.iter().find_map(|of| Some((of, own(of)?))) else { return Vec::new() };
        let put = Move { taken: None, put: Some(place.clone()), promise: worth };
        let down = Move { taken: Some(number), put: None, promise: -own };
        let free = self.free_with(&self.after(&[down.clone(), put.clone()]));
        let elsewhere = self.offers(&free, (self.ways[of.way].kind, &of.places), 0.0, None).into_iter().next();
        let moved = elsewhere.map(|(there, other)| {
            let one = Move { taken: Some(number), put: Some(other), promise: there - own };
            (worth + there - own, vec![one, put.clone()])
        });
        moved.into_iter().chain([(worth - own, vec![down, put])]).filter(|(promise, _)| *promise > 0.0).collect()
    }
}
