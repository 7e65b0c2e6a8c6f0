//! Rectangles out of equal sheets: the fewest sheets, guillotine cuts.
//!
//! The bound: for dual feasible functions `f` and `g` of the widths and heights, `sheets >= sum over pieces of f(width) g(height)`, a piece
//! that may turn counted as it counts less. The largest over many such pairs is taken, the plain area among them.
//!
//! The search ends as soon as the bound is met. Until then it tries, one sheet fewer each time: fast rules; other orders of the pieces; sheets
//! chosen from blocks; full sheets and then what is left asked anew; and at last a few sheets at a time, the emptiest among them, cut anew.
//!
//! *References.* Fekete and Schepers (2001), see [`super`]; the bound for pieces that turn is the least over both ways, which is evident.
//!
//! *Limits.* See [`super`].

use super::blocks::{Cost, FULL, Kinds, by_blocks};
use super::greedy::{by_order, by_rules};
use super::{Draw, Laid, Piece, ROUNDING, Share, Side, Spot, Stock, TooLarge, kerf_of, sides, units_of_stock};
use glam::DVec2;

/// What is cut out of one sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// In rows from the origin.
    pub laid: Vec<Laid>,
}

/// Which piece is cut out of which sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Cuts {
    /// As many as are used, none of them empty.
    pub sheets: Vec<Sheet>,
    /// It is proven that fewer sheets than this are not enough.
    pub least: usize,
}

/// Free rectangles that a search over orders looks at, and pairs of blocks that a list looks at; half of it for what is left after full sheets.
const EFFORT: u64 = 6_000_000;

/// Pairs of blocks that one regrouping of a few sheets looks at.
const FEW_PAIRS: u64 = 400_000;

/// Free rectangles that it looks at, twice at most.
const FEW_STEPS: u64 = 100_000;

/// How often sheets are regrouped.
const ROUNDS: usize = 40;

/// Cuts the pieces out of as few sheets of this size (meters) as the search finds, the saw or knife losing `kerf` (meters) between neighbors.
///
/// # Errors
/// All pieces that no sheet of this size can give.
pub fn sheets(pieces: &[Piece], sheet: DVec2, kerf: f64) -> Result<Cuts, Vec<TooLarge>> {
    let kerf = kerf_of(kerf);
    let stock = Stock { w: units_of_stock(sheet.x, kerf), h: units_of_stock(sheet.y, kerf) };
    let sides = sides(pieces, stock, kerf)?;
    let stock = stock.within_reach(&sides);
    let least = least(&sides, stock);
    let mut cut: Vec<Sheet> = Vec::new();
    let all: Vec<usize> = (0..sides.len()).collect();
    let mut found = search(&all, &sides, stock, least, EFFORT);
    regroup(&mut found, &sides, stock, least);
    for spot in found {
        while cut.len() <= spot.sheet {
            cut.push(Sheet { laid: Vec::new() });
        }
        cut[spot.sheet].laid.push(spot.laid(pieces));
    }
    for sheet in &mut cut {
        sheet.laid.sort_by(|one, other| one.low.y.total_cmp(&other.low.y).then(one.low.x.total_cmp(&other.low.x)));
    }
    Ok(Cuts { sheets: cut, least })
}

fn count(spots: &[Spot]) -> usize {
    spots.iter().map(|spot| spot.sheet + 1).max().unwrap_or(0)
}

/// The fewest sheets for these pieces that are found.
fn search(pieces: &[usize], sides: &[Side], stock: Stock, least: usize, effort: u64) -> Vec<Spot> {
    let mut best = by_rules(pieces, sides, stock, pieces.len(), |packed| count(&packed.spots) as f64).2.spots;
    reorder(&mut best, pieces, sides, stock, least, effort / 4);
    if count(&best) > least {
        let found = by_blocks(&Kinds::new(pieces, sides), stock, Cost::Sheets, (count(&best) as i64, least as i64), effort);
        if let Some(better) = found.all.or_else(|| after(&found.full, pieces, sides, stock, least, effort / 2))
            && count(&better) < count(&best)
        {
            best = better;
        }
    }
    reorder(&mut best, pieces, sides, stock, least, effort);
    best
}

/// Keeps the full sheets and asks anew for the rest of the pieces: a shorter question, whose lists of blocks may be finished.
fn after(full: &[Spot], pieces: &[usize], sides: &[Side], stock: Stock, least: usize, effort: u64) -> Option<Vec<Spot>> {
    let sheets = count(full);
    if sheets == 0 {
        return None;
    }
    let rest: Vec<usize> = pieces.iter().copied().filter(|piece| full.iter().all(|spot| spot.piece != *piece)).collect();
    let then = search(&rest, sides, stock, least.saturating_sub(sheets), effort);
    Some(full.iter().copied().chain(then.into_iter().map(|spot| Spot { sheet: spot.sheet + sheets, ..spot })).collect())
}

/// Asks for one sheet fewer as long as another order of the pieces gives it.
fn reorder(best: &mut Vec<Spot>, pieces: &[usize], sides: &[Side], stock: Stock, least: usize, mut steps: u64) {
    while count(best) > least
        && let Some(better) = by_order(pieces, sides, stock, count(best) - 1, &mut steps)
    {
        *best = better;
    }
}

/// Empties the emptiest sheet: with a few others it is cut anew, on one sheet fewer or else on as many, some of them full.
fn regroup(best: &mut Vec<Spot>, sides: &[Side], stock: Stock, least: usize) {
    let mut draw = Draw(sides.len() as u64);
    for _ in 0..ROUNDS {
        let sheets = count(best);
        let mut area = vec![0.0; sheets];
        best.iter().for_each(|spot| area[spot.sheet] += sides[spot.piece].area());
        let mut open: Vec<usize> = (0..sheets).filter(|&sheet| area[sheet] < FULL * stock.area()).collect();
        open.sort_by(|&one, &other| area[one].total_cmp(&area[other]).then(one.cmp(&other)));
        if sheets <= least || open.len() < 2 {
            return;
        }
        let chosen = 2 + draw.below(3).min(open.len() - 2);
        for at in 1..chosen {
            let other = at + draw.below(open.len() - at);
            open.swap(at, other);
        }
        open.truncate(chosen);
        open.sort_unstable();
        let pieces: Vec<usize> = best.iter().filter(|spot| open.contains(&spot.sheet)).map(|spot| spot.piece).collect();
        let Some(anew) = again(&pieces, sides, stock, chosen) else { continue };
        let squares = |spots: &[Spot], sheets: &[usize]| {
            let filled = |sheet: &usize| {
                spots.iter().filter(|spot| spot.sheet == *sheet).map(|spot| sides[spot.piece].area()).sum::<f64>() / stock.area()
            };
            sheets.iter().map(|sheet| filled(sheet).powi(2)).sum::<f64>()
        };
        let numbered: Vec<usize> = (0..chosen).collect();
        if squares(&anew, &numbered) < squares(best, &open) {
            continue;
        }
        best.retain(|spot| !open.contains(&spot.sheet));
        best.extend(anew.into_iter().map(|spot| Spot { sheet: open[spot.sheet], ..spot }));
        close_up(best);
    }
}

/// Numbers the sheets that are used without a gap.
fn close_up(spots: &mut [Spot]) {
    let mut used: Vec<usize> = spots.iter().map(|spot| spot.sheet).collect();
    used.sort_unstable();
    used.dedup();
    spots.iter_mut().for_each(|spot| spot.sheet = used.partition_point(|sheet| *sheet < spot.sheet));
}

/// These pieces on one sheet fewer, or on as many with as many of them full as can be.
fn again(pieces: &[usize], sides: &[Side], stock: Stock, sheets: usize) -> Option<Vec<Spot>> {
    if let Some(fewer) = by_order(pieces, sides, stock, sheets - 1, &mut { FEW_STEPS }) {
        return Some(fewer);
    }
    let found = by_blocks(&Kinds::new(pieces, sides), stock, Cost::Sheets, (sheets as i64, sheets as i64 - 1), FEW_PAIRS);
    if found.all.is_some() {
        return found.all;
    }
    let full = count(&found.full);
    let rest: Vec<usize> = pieces.iter().copied().filter(|piece| found.full.iter().all(|spot| spot.piece != *piece)).collect();
    let then = by_order(&rest, sides, stock, sheets.checked_sub(full)?, &mut { FEW_STEPS })?;
    Some(found.full.into_iter().chain(then.into_iter().map(|spot| Spot { sheet: spot.sheet + full, ..spot })).collect())
}

/// A proven bound of the number of sheets.
fn least(sides: &[Side], stock: Stock) -> usize {
    let ways = || sides.iter().flat_map(|side| side.ways(stock));
    let across = Share::all(ways().map(|(w, _, _)| w), stock.w);
    let along = Share::all(ways().map(|(_, h, _)| h), stock.h);
    // The shares of each way of each piece, so that pairs of functions are products of what stands in a row.
    let table = |shares: &[Share], length: fn((i64, i64, bool)) -> i64, stock_length: i64| -> Vec<Vec<[f64; 2]>> {
        let of = |share: &Share, side: &Side| {
            let mut both = side.ways(stock).map(|way| share.of(length(way), stock_length));
            let first = both.next().unwrap_or(0.0);
            [first, both.next().unwrap_or(first)]
        };
        shares.iter().map(|share| sides.iter().map(|side| of(share, side)).collect()).collect()
    };
    let (across, along) = (table(&across, |way| way.0, stock.w), table(&along, |way| way.1, stock.h));
    let sum = |f: &[[f64; 2]], g: &[[f64; 2]]| f.iter().zip(g).map(|(f, g)| (f[0] * g[0]).min(f[1] * g[1])).sum::<f64>();
    let bound = across.iter().flat_map(|f| along.iter().map(|g| sum(f, g))).fold(0.0, f64::max);
    (bound - ROUNDING).ceil().max(0.0) as usize
}
