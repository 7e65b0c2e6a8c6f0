//! Two panels of different types and the same size that change places: the thick one hangs where depth pays, the thin one where it did.
//!
//! Each alone could only be hung elsewhere, and its own place is where the other must go; so no row of single moves finds it. By the derivative of the score a swap promises
//! `w_2(1) + w_1(2) - w_1(1) - w_2(2)`, where `w_k(p)` is what a panel hung as panel k is worth at the place of panel p. Those that promise most are weighed exactly, and the best is made.
//!
//! *Limits.* Same size, one pair at a time, each with the gap that it has.

use crate::layout::candidates::{Candidate, placed};
use crate::scene::{Panel, PanelPlace};

use super::exchange::Move;
use super::owned::Ranked;
use super::{Search, Way, places};

/// Swaps weighed exactly in a round.
const TRIED: usize = 12;

/// Sizes nearer to each other than this are the same, meters.
const SAME_SIZE: f64 = 0.001;

impl Search<'_> {
    /// The swaps that promise most, each of them legal; `ranked` has all ways that something hangs.
    pub(super) fn swaps(&self, ranked: &[Ranked]) -> Vec<Vec<Move>> {
        let flat: Vec<(usize, usize)> = (0..self.hung.len())
            .filter(|&number| matches!(self.hung[number].panel.place, PanelPlace::Surface { .. }))
            .filter_map(|number| Some((number, self.way_of(&self.hung[number].panel)?)))
            .collect();
        let pairs = || flat.iter().enumerate().flat_map(|(index, &one)| flat[index + 1..].iter().map(move |&other| (one, other)));
        let may_swap = |&((_, one), (_, other)): &((usize, usize), (usize, usize))| self.may_swap(one, other);
        let value = |way: usize, number: usize| {
            let map = ranked.iter().find(|of| of.way == way).map(|of| &of.map);
            map.map_or(0.0, |map| map.over_all(&places(self.ground.flush, &self.hung[number].panel)))
        };
        let promised = |((one, one_way), (other, other_way)): ((usize, usize), (usize, usize))| {
            let promise = value(other_way, one) + value(one_way, other) - value(one_way, one) - value(other_way, other);
            (promise > 0.0).then(|| Some((promise, vec![self.put(one, other, promise)?, self.put(other, one, promise)?])))?
        };
        let mut promised: Vec<(f64, Vec<Move>)> = pairs().filter(may_swap).filter_map(promised).collect();
        promised.sort_by(|a, b| b.0.total_cmp(&a.0));
        promised.into_iter().map(|(_, swap)| swap).filter(|swap| self.is_legal(swap)).take(TRIED).collect()
    }

    /// Whether these are different types of the same size.
    fn may_swap(&self, one: usize, other: usize) -> bool {
        let [one, other] = [one, other].map(|way| &self.ways[way]);
        one.kind != other.kind && one.hung.size.distance(other.hung.size) < SAME_SIZE
    }

    /// The move that hangs a panel as another one hangs, in its own place.
    fn put(&self, taken: usize, like: usize, promise: f64) -> Option<Move> {
        let put = self.in_place_of(&self.hung[taken].panel, &self.hung[like].panel)?;
        Some(Move { taken: Some(taken), put: Some(put), promise })
    }

    /// The type and gap of one panel at the place of another.
    fn in_place_of(&self, place: &Panel, like: &Panel) -> Option<Candidate> {
        let PanelPlace::Surface { surface, left, bottom, lying, .. } = &place.place else { return None };
        let PanelPlace::Surface { gap, .. } = like.place else { return None };
        let Way { hung, .. } = &self.ways[self.way_of(like)?];
        let there = PanelPlace::Surface { surface: surface.clone(), left: *left, bottom: *bottom, lying: *lying, gap };
        placed(self.scene, &self.free_without_hung(), hung, there).ok()
    }
}
