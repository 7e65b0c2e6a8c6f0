//! Places of fixings and wires along one side of what hangs: evenly, or on members that cross it.
//!
//! Evenly, `count` places on a side, mirrored at its middle: the outer inset is `share side`, neighbors are `(1 - 2 share) side / (count - 1)`
//! apart, `share` a fifth or as much more, up to a quarter, as keeps them within the widest spacing. On members, of all pairs that enclose the middle the
//! outer two are those whose insets depart least from a fifth to a quarter, the most alike of equals; between them lie the members whose squared distances
//! to equal steps sum to least (exact, by dynamic programming).
//!
//! *References.* Common practice, no source: the insets and the least distance from an edge.
//!
//! *Limits.* Members are lines without end; two within 10 mm of each other count as one.

use std::ops::RangeInclusive;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Inset of the outer points as a share of the side; common practice, no source.
pub const INSET_SHARES: RangeInclusive<f64> = 0.2..=0.25;
/// Nearest that a point comes to an edge, meters; common practice, no source.
pub const EDGE_LEAST: f64 = 0.025;
/// Nearer than this, in meters, two members are one.
const SAME_MEMBER: f64 = 0.01;
/// Rounding that no tape shows, meters or shares.
pub(crate) const ROUNDING: f64 = 1e-9;

/// A side of a rectangle, by the axis along which it runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Axis {
    /// Along x.
    X,
    /// Along y.
    Y,
}

/// A place along a side, meters from its low end, and the member there.
pub type Place = (f64, Option<usize>);

/// Nearest that a point may come to the end of a side of so many meters.
pub(crate) fn edge(side: f64) -> f64 {
    EDGE_LEAST.min(side / 4.0)
}

/// Members in order of place, those in one place once.
pub(crate) fn sorted(mut members: Vec<(usize, f64)>) -> Vec<(usize, f64)> {
    members.sort_by(|one, other| one.1.total_cmp(&other.1).then(one.0.cmp(&other.0)));
    members.dedup_by(|later, kept| later.1 - kept.1 < SAME_MEMBER);
    members
}

/// Fewest places, at least two, that keep neighbors within `spacing_most` with outer insets of a quarter.
#[must_use]
pub fn count_least(side: f64, spacing_most: f64) -> usize {
    1 + (side * (1.0 - 2.0 * INSET_SHARES.end()) / spacing_most - ROUNDING).ceil().max(1.0) as usize
}

/// So many places (two or more) along a side of `side` meters, evenly, mirrored at its middle: inset by a fifth, towards a quarter as far as `spacing_most` asks.
#[must_use]
pub fn spread(side: f64, count: usize, spacing_most: f64) -> Vec<f64> {
    let steps = count.max(2) - 1;
    let share = (0.5 - steps as f64 * spacing_most / side / 2.0).clamp(*INSET_SHARES.start(), *INSET_SHARES.end());
    evenly(side, (share * side).max(edge(side)), steps + 1)
}

/// Places from `inset` to the same distance from the other end; a single one in the middle.
pub(crate) fn evenly(side: f64, inset: f64, count: usize) -> Vec<f64> {
    let place = |index: usize| inset + (side - 2.0 * inset) * index as f64 / (count - 1) as f64;
    if count == 1 { vec![side / 2.0] } else { (0..count).map(place).collect() }
}

/// Places on members, each with its index, in one set for each count from two on; empty where no two lie on either side of the middle with
/// insets within `insets` (meters). `members` in any order, meters from the low end of the side. The outer two are the same in all sets.
#[must_use]
pub fn on_members(side: f64, members: &[(usize, f64)], insets: &RangeInclusive<f64>) -> Vec<Vec<(usize, f64)>> {
    let members = sorted(members.to_vec());
    let allowed = |inset: f64| inset >= insets.start() - ROUNDING && inset <= insets.end() + ROUNDING && inset < side / 2.0;
    let off = |inset: f64| off_rule(inset / side) * side;
    let mut best: Option<(f64, f64, usize, usize)> = None;
    for (first, left) in members.iter().enumerate().filter(|(_, left)| allowed(left.1)) {
        for (last, right) in members.iter().enumerate().filter(|(_, right)| allowed(side - right.1)) {
            let (left, right) = (left.1, side - right.1);
            let cost = off(left) + off(right);
            let tie = (left - right).abs();
            if best.is_none_or(|(least, lean, ..)| cost < least - ROUNDING || (cost < least + ROUNDING && tie < lean - ROUNDING)) {
                best = Some((cost, tie, first, last));
            }
        }
    }
    let Some((_, _, first, last)) = best else { return Vec::new() };
    let (low, high, between) = (members[first], members[last], &members[first + 1..last]);
    let set = |inner: usize| {
        let target = |step: usize| low.1 + (high.1 - low.1) * step as f64 / (inner + 1) as f64;
        let inner = nearest(&(1..=inner).map(target).collect::<Vec<_>>(), between).expect("no more are asked for than lie between");
        [vec![low], inner, vec![high]].concat()
    };
    (0..=between.len()).map(set).collect()
}

/// The member for each place, both ascending, no member twice, so that the squares of the moves are least; `None` if there are too few.
pub(crate) fn nearest(places: &[f64], members: &[(usize, f64)]) -> Option<Vec<(usize, f64)>> {
    let spare = members.len().checked_sub(places.len())?;
    // `least[k][s]`: the first k places on the first k + s members, s of them skipped.
    let mut least = vec![vec![0.0; spare + 1]];
    for (index, place) in places.iter().enumerate() {
        let mut row: Vec<f64> = Vec::with_capacity(spare + 1);
        for skipped in 0..=spare {
            let taken = least[index][skipped] + (members[index + skipped].1 - place).powi(2);
            row.push(row.last().map_or(taken, |before| before.min(taken)));
        }
        least.push(row);
    }
    let (mut skipped, mut chosen) = (spare, Vec::new());
    for index in (0..places.len()).rev() {
        while skipped > 0 && least[index + 1][skipped - 1] <= least[index + 1][skipped] {
            skipped -= 1;
        }
        chosen.push(members[index + skipped]);
    }
    chosen.reverse();
    Some(chosen)
}

/// How far a share departs from [`INSET_SHARES`].
pub(crate) fn off_rule(share: f64) -> f64 {
    (INSET_SHARES.start() - share).max(share - INSET_SHARES.end()).max(0.0)
}

/// Widest step between neighbors, 0 for fewer than two.
pub(crate) fn widest(places: impl Iterator<Item = f64> + Clone) -> f64 {
    places.clone().zip(places.skip(1)).map(|(one, next)| (next - one).abs()).fold(0.0, f64::max)
}
