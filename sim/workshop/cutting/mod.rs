//! Which piece is cut where: cores out of boards, cloth off a roll, timber off stock lengths; how much stock that takes, and how little it could.
//!
//! A cut loses a kerf `k`, and only between neighbors: a cut at the very edge is no cut. So pieces of `a + k` out of stock of `A + k` without a
//! kerf is the same question, and that is the one answered. All cuts go from edge to edge of what lies before the saw (guillotine cuts).
//! Each answer carries a proven bound, `least`; where it is met nobody can do with less.
//! [`sheets()`] and [`roll()`] search by the same two means, `greedy` and `blocks` (with `stacks`); [`bars()`] has one dimension less and lists `patterns`.
//!
//! *References.* S. P. Fekete, J. Schepers, "New classes of fast lower bounds for bin packing problems", Mathematical Programming 91 (2001)
//! 11-31 (dual feasible functions); S. Martello, D. Vigo, "Exact solution of the two-dimensional finite bin packing problem", Management
//! Science 44 (1998) 388-399. Both from memory.
//!
//! *Limits.* Lengths agree within 1e-9 m. Stock and pieces up to 100 m; longer stock counts as 100 m. The grain of a board is respected only by
//! `may_turn`. Made for up to some hundreds of pieces. Search ends after counted steps, so it may miss the best plan; then `least` is smaller
//! than what is used and says by how much at most.

mod bars;
mod blocks;
mod greedy;
mod patterns;
mod roll;
mod sheets;
mod stacks;

pub use bars::{Bar, Bars, bars};
pub use roll::{Roll, roll};
pub use sheets::{Cuts, Sheet, sheets};

use glam::{DVec2, Vec2Swizzles};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A rectangle to be cut out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Width along the stock's x and height along its y, meters.
    pub size: DVec2,
    /// Whether it may lie a quarter turned.
    pub may_turn: bool,
}

/// One piece where it lies on its sheet or roll.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laid {
    /// Index into the pieces asked for.
    pub piece: usize,
    /// Its corner next to the origin, meters.
    pub low: DVec2,
    /// Width and height as it lies, meters.
    pub size: DVec2,
    /// Whether it lies a quarter turned.
    pub turned: bool,
}

/// A piece that no stock of this size can give, or whose size is no positive number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct TooLarge {
    /// Index into the pieces asked for.
    pub piece: usize,
}

/// Lengths are whole numbers of these in a meter, so that sums are exact.
const UNITS: f64 = 1e12;

/// Lengths that differ by this much are the same, units: 1e-9 m.
const TOLERANCE: i64 = 1000;

/// The longest stock, meters.
const LONGEST: f64 = 100.0;

/// Whole units of a piece with its kerf; nothing for what is no positive length.
fn units_of_piece(length: f64, kerf: f64) -> Option<i64> {
    (length > 0.0 && length <= LONGEST).then(|| ((length + kerf) * UNITS).round() as i64)
}

/// Whole units of the stock with its kerf and the tolerance.
fn units_of_stock(length: f64, kerf: f64) -> i64 {
    if length > 0.0 { ((length.min(LONGEST) + kerf) * UNITS).round() as i64 + TOLERANCE } else { 0 }
}

/// A kerf that can be reckoned with: no number and less than none are none.
fn kerf_of(kerf: f64) -> f64 {
    kerf.clamp(0.0, LONGEST).max(0.0)
}

fn meters(units: i64) -> f64 {
    units as f64 / UNITS
}

/// A piece with its kerf, units.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Side {
    w: i64,
    h: i64,
    may_turn: bool,
}

impl Side {
    fn area(self) -> f64 {
        self.w as f64 * self.h as f64
    }

    /// The ways in which it may lie on stock of this size: width, height, turned.
    fn ways(self, stock: Stock) -> impl Iterator<Item = (i64, i64, bool)> {
        let turned = (self.may_turn && self.w != self.h).then_some((self.h, self.w, true));
        [Some((self.w, self.h, false)), turned].into_iter().flatten().filter(move |&(w, h, _)| w <= stock.w && h <= stock.h)
    }
}

/// A sheet, or the roll as long as it may become, units.
#[derive(Clone, Copy, Debug)]
struct Stock {
    w: i64,
    h: i64,
}

impl Stock {
    fn area(self) -> f64 {
        self.w as f64 * self.h as f64
    }

    /// The part of it that pieces pushed together towards the origin can reach: what lies beyond is waste in any plan.
    fn within_reach(self, sides: &[Side]) -> Stock {
        let across = |side: &Side| side.ways(self).map(|way| way.0).collect();
        let along = |side: &Side| side.ways(self).map(|way| way.1).collect();
        Stock { w: reach(sides.iter().map(across).collect(), self.w), h: reach(sides.iter().map(along).collect(), self.h) }
    }
}

/// Sums that [`reach`] keeps at most.
const SUMS: usize = 5_000;

/// The largest sum not over the limit of one of the lengths of each piece or none; the limit itself where there are too many sums to tell.
fn reach(mut pieces: Vec<Vec<i64>>, limit: i64) -> i64 {
    // Equal pieces one after the other add few sums.
    pieces.sort_unstable();
    let mut sums = vec![0];
    for lengths in pieces {
        let longer = lengths.iter().flat_map(|length| sums.iter().map(move |sum| sum + length)).filter(|sum| *sum <= limit);
        let mut all: Vec<i64> = longer.collect();
        all.extend(&sums);
        all.sort_unstable();
        all.dedup();
        sums = all;
        if sums.len() > SUMS {
            return limit;
        }
    }
    sums.last().copied().unwrap_or(limit)
}

/// Where a piece lies, units.
#[derive(Clone, Copy, Debug)]
struct Spot {
    piece: usize,
    sheet: usize,
    x: i64,
    y: i64,
    /// Height as it lies, with its kerf.
    h: i64,
    turned: bool,
}

impl Spot {
    /// As the caller knows it.
    fn laid(&self, pieces: &[Piece]) -> Laid {
        let size = pieces[self.piece].size;
        let size = if self.turned { size.yx() } else { size };
        Laid { piece: self.piece, low: DVec2::new(meters(self.x), meters(self.y)), size, turned: self.turned }
    }
}

/// The pieces in units, or all that lie on the stock in no way.
fn sides(pieces: &[Piece], stock: Stock, kerf: f64) -> Result<Vec<Side>, Vec<TooLarge>> {
    let side = |piece: &Piece| {
        let side = Side { w: units_of_piece(piece.size.x, kerf)?, h: units_of_piece(piece.size.y, kerf)?, may_turn: piece.may_turn };
        side.ways(stock).next().map(|_| side)
    };
    all_or_too_large(pieces.iter().map(side))
}

fn all_or_too_large<T>(found: impl Iterator<Item = Option<T>>) -> Result<Vec<T>, Vec<TooLarge>> {
    let (mut fit, mut too_large) = (Vec::new(), Vec::new());
    for (piece, found) in found.enumerate() {
        match found {
            Some(found) => fit.push(found),
            None => too_large.push(TooLarge { piece }),
        }
    }
    if too_large.is_empty() { Ok(fit) } else { Err(too_large) }
}

/// A dual feasible function: what fits into the stock side by side has shares that add up to 1 at most.
#[derive(Clone, Copy, Debug)]
enum Share {
    /// The length itself; from this length on its partner counts as nothing and it as the whole. 0: plainly the length.
    Above(i64),
    /// Rounded down to this many parts, of one part more.
    Parts(i64),
}

impl Share {
    fn of(self, length: i64, stock: i64) -> f64 {
        match self {
            Share::Above(least) if length > stock - least => 1.0,
            Share::Above(least) if length < least => 0.0,
            Share::Above(_) => length as f64 / stock as f64,
            Share::Parts(parts) => {
                let whole = i128::from(length) * i128::from(parts + 1);
                if whole % i128::from(stock) == 0 {
                    length as f64 / stock as f64
                } else {
                    (whole / i128::from(stock)) as f64 / parts as f64
                }
            }
        }
    }

    /// Those worth asking about for pieces of these lengths.
    fn all(lengths: impl Iterator<Item = i64>, stock: i64) -> Vec<Share> {
        let mut lengths: Vec<i64> = lengths.filter(|length| *length <= stock / 2).collect();
        lengths.sort_unstable();
        lengths.dedup();
        // A bound takes the square of how many there are; of very many lengths an even choice is as good.
        let step = lengths.len() / 40 + 1;
        let above = std::iter::once(0).chain(lengths.into_iter().step_by(step)).map(Share::Above);
        above.chain(std::iter::once(Share::Above(stock / 2))).chain((1..=6).map(Share::Parts)).collect()
    }
}

/// Sums of shares are rounded; this much is left out of a bound that becomes a whole number.
const ROUNDING: f64 = 1e-6;

/// Pseudo-random numbers of the search: equal questions have equal answers. `SplitMix64` (Steele, Lea and Flood 2014).
struct Draw(u64);

impl Draw {
    /// One of 0 .. `below`, which is not 0.
    fn below(&mut self, below: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) % below as u64) as usize
    }
}
