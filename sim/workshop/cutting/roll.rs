//! Rectangles off a roll: the shortest length of it, guillotine cuts.
//!
//! The bound: for a dual feasible function `f` of the widths, `length >= sum over pieces of f(width) height`, a piece that may turn counted as
//! it counts less; and no roll is shorter than a piece on it.
//!
//! The search keeps the shortest of three: bands across the roll chosen from blocks, full bands and then what is left asked anew, and one
//! piece after the other in orders that are changed step by step.
//!
//! *References.* See [`super`].
//!
//! *Limits.* See [`super`]. Cloth is taken not to stretch.

use super::blocks::{Cost, Kinds, by_blocks};
use super::greedy::{by_order, by_rules};
use super::{Laid, Piece, Share, Side, Spot, Stock, TOLERANCE, TooLarge, UNITS, kerf_of, meters, sides, units_of_stock};

/// What is cut off one roll.
#[derive(Clone, Debug, PartialEq)]
pub struct Roll {
    /// In rows from the end of the roll; x across the roll, y along it.
    pub laid: Vec<Laid>,
    /// Length of roll that is used, meters.
    pub length: f64,
    /// It is proven that less than this is not enough, meters.
    pub least: f64,
}

/// Free rectangles that a search over orders looks at, and pairs of blocks that a list looks at; half of it for what is left after full bands.
const EFFORT: u64 = 5_000_000;

/// Cuts the pieces off as short a length of roll of this width (meters) as the search finds, with a `gap` (meters) between neighbors.
/// A pattern with a direction is a piece that may not turn.
///
/// # Errors
/// All pieces that are too wide for the roll.
pub fn roll(pieces: &[Piece], width: f64, gap: f64) -> Result<Roll, Vec<TooLarge>> {
    let gap = kerf_of(gap);
    let endless = Stock { w: units_of_stock(width, gap), h: i64::MAX / 4 };
    let sides = sides(pieces, endless, gap)?;
    let endless = endless.within_reach(&sides);
    let least = least(&sides, endless);
    let all: Vec<usize> = (0..pieces.len()).collect();
    let mut laid: Vec<Laid> = search(&all, &sides, endless, least, EFFORT).iter().map(|spot| spot.laid(pieces)).collect();
    laid.sort_by(|one, other| one.low.y.total_cmp(&other.low.y).then(one.low.x.total_cmp(&other.low.x)));
    let length = laid.iter().map(|laid| laid.low.y + laid.size.y).fold(0.0, f64::max);
    Ok(Roll { laid, length, least: (meters(least) - gap).clamp(0.0, length) })
}

fn length(spots: &[Spot]) -> i64 {
    spots.iter().map(|spot| spot.y + spot.h).max().unwrap_or(0)
}

/// The shortest length for these pieces that is found.
fn search(pieces: &[usize], sides: &[Side], endless: Stock, least: i64, effort: u64) -> Vec<Spot> {
    let mut best = by_rules(pieces, sides, endless, 1, |packed| length(&packed.spots) as f64).2.spots;
    let enough = least + TOLERANCE;
    let shorter = |best: &[Spot]| Stock { h: length(best) - 1, ..endless };
    if length(&best) > enough {
        let found = by_blocks(&Kinds::new(pieces, sides), shorter(&best), Cost::Length, (length(&best), enough), effort);
        let after = after(&found.full, pieces, sides, endless, least, effort / 2);
        best = found.all.into_iter().chain(after).chain([best]).min_by_key(|spots| length(spots)).unwrap_or_default();
    }
    let mut steps = effort;
    while length(&best) > enough
        && let Some(better) = by_order(pieces, sides, shorter(&best), 1, &mut steps)
    {
        best = better;
    }
    best
}

/// Keeps the full bands and asks anew for the rest of the pieces: a shorter question.
fn after(full: &[Spot], pieces: &[usize], sides: &[Side], endless: Stock, least: i64, effort: u64) -> Option<Vec<Spot>> {
    if full.is_empty() {
        return None;
    }
    let bands = length(full);
    let rest: Vec<usize> = pieces.iter().copied().filter(|piece| full.iter().all(|spot| spot.piece != *piece)).collect();
    let then = search(&rest, sides, endless, (least - bands).max(0), effort);
    Some(full.iter().copied().chain(then.into_iter().map(|spot| Spot { y: spot.y + bands, ..spot })).collect())
}

/// A proven bound of the length, units.
fn least(sides: &[Side], endless: Stock) -> i64 {
    let ways = |side: &Side| side.ways(endless).map(|(w, h, _)| (w, h)).collect::<Vec<_>>();
    let longest = sides.iter().filter_map(|side| ways(side).iter().map(|way| way.1).min()).max().unwrap_or(0);
    let shares = Share::all(sides.iter().flat_map(|side| ways(side).into_iter().map(|way| way.0)), endless.w);
    let of = |share: &Share, side: &Side| ways(side).iter().map(|&(w, h)| share.of(w, endless.w) * h as f64).fold(f64::INFINITY, f64::min);
    let bound = shares.iter().map(|share| sides.iter().map(|side| of(share, side)).sum::<f64>()).fold(0.0, f64::max);
    // The sum is right to some parts in 1e16 of itself.
    longest.max((bound * (1.0 - 1e-12) - 1e-12 * UNITS).floor().max(0.0) as i64)
}
