//! One piece after the other where it fits best: fast plans by many rules, and a search over the order of the pieces.
//!
//! What is free is a list of rectangles. A piece goes into the corner of one of them, and one cut from edge to edge parts the rest in two.
//!
//! *References.* J. Jylänki, "A thousand ways to pack the bin" (2010), the guillotine family (from memory).
//!
//! *Limits.* Free rectangles are never joined again.

use super::{Draw, Side, Spot, Stock};

/// Which free rectangle a piece takes.
#[derive(Clone, Copy, Debug)]
enum Fit {
    Area,
    ShortSide,
    LongSide,
}

/// Which way the rest is cut.
#[derive(Clone, Copy, Debug)]
enum Split {
    Across,
    Along,
    ShorterRest,
    LongerRest,
    LargestRest,
    EvenRest,
}

/// How a piece is laid.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rule {
    fit: Fit,
    split: Split,
}

/// All of them.
const RULES: [Rule; 18] = {
    let fits = [Fit::Area, Fit::ShortSide, Fit::LongSide];
    let splits = [Split::Across, Split::Along, Split::ShorterRest, Split::LongerRest, Split::LargestRest, Split::EvenRest];
    let mut rules = [Rule { fit: Fit::Area, split: Split::Across }; 18];
    let mut number = 0;
    while number < 18 {
        rules[number] = Rule { fit: fits[number / 6], split: splits[number % 6] };
        number += 1;
    }
    rules
};

struct Free {
    sheet: usize,
    x: i64,
    y: i64,
    w: i64,
    h: i64,
}

/// What became of an order of pieces.
pub(super) struct Packed {
    /// What found a place.
    pub(super) spots: Vec<Spot>,
    /// Area of what found none, square units.
    pub(super) missed: f64,
}

impl Rule {
    fn score(self, free: &Free, w: i64, h: i64) -> f64 {
        let (rest_w, rest_h) = ((free.w - w) as f64, (free.h - h) as f64);
        match self.fit {
            Fit::Area => free.w as f64 * free.h as f64 - w as f64 * h as f64,
            Fit::ShortSide => rest_w.min(rest_h),
            Fit::LongSide => rest_w.max(rest_h),
        }
    }

    /// Whether the first cut runs along x, so that the rest beside the piece is only as high as the piece.
    fn across(self, rest_w: i64, rest_h: i64, w: i64, h: i64) -> bool {
        let (beside, above) = (rest_w as f64 * h as f64, rest_h as f64 * w as f64);
        match self.split {
            Split::Across => true,
            Split::Along => false,
            Split::ShorterRest => rest_w < rest_h,
            Split::LongerRest => rest_w >= rest_h,
            Split::LargestRest => beside <= above,
            Split::EvenRest => beside > above,
        }
    }

    /// Lays the pieces in this order on so many sheets; `work` counts the free rectangles looked at.
    pub(super) fn pack(self, order: &[usize], sides: &[Side], stock: Stock, sheets: usize, work: &mut u64) -> Packed {
        let mut free: Vec<Free> = Vec::with_capacity(2 * order.len());
        let mut opened = 0;
        let mut packed = Packed { spots: Vec::with_capacity(order.len()), missed: 0.0 };
        for &piece in order {
            let side = sides[piece];
            let mut best = self.best(&free, side, stock);
            *work += free.len() as u64 + 1;
            if best.is_none() && opened < sheets {
                free.push(Free { sheet: opened, x: 0, y: 0, w: stock.w, h: stock.h });
                opened += 1;
                best = self.best(&free[free.len() - 1..], side, stock).map(|(_, w, h, turned)| (free.len() - 1, w, h, turned));
            }
            let Some((at, w, h, turned)) = best else {
                packed.missed += side.area();
                continue;
            };
            let place = free.swap_remove(at);
            packed.spots.push(Spot { piece, sheet: place.sheet, x: place.x, y: place.y, h, turned });
            let (rest_w, rest_h) = (place.w - w, place.h - h);
            let across = self.across(rest_w, rest_h, w, h);
            let beside = Free { x: place.x + w, w: rest_w, h: if across { h } else { place.h }, ..place };
            let above = Free { y: place.y + h, h: rest_h, w: if across { place.w } else { w }, ..place };
            free.extend([beside, above].into_iter().filter(|free| free.w > 0 && free.h > 0));
        }
        packed
    }

    fn best(self, free: &[Free], side: Side, stock: Stock) -> Option<(usize, i64, i64, bool)> {
        let mut best: Option<(f64, (usize, i64, i64, bool))> = None;
        for (w, h, turned) in side.ways(stock) {
            for (at, place) in free.iter().enumerate() {
                if w <= place.w && h <= place.h {
                    let score = self.score(place, w, h);
                    if best.is_none_or(|(least, _)| score < least) {
                        best = Some((score, (at, w, h, turned)));
                    }
                }
            }
        }
        best.map(|(_, found)| found)
    }
}

/// What makes a piece large; ties go to the second.
type Measure = fn(&Side) -> (i64, i64);

/// Orders to begin with: the large ones first, by several measures of large.
fn orders(pieces: &[usize], sides: &[Side]) -> Vec<Vec<usize>> {
    let measures: [Measure; 5] = [
        |side| ((side.area() / 1e12) as i64, side.w),
        |side| (side.w.max(side.h), side.w.min(side.h)),
        |side| (side.w.min(side.h), side.w.max(side.h)),
        |side| (side.h, side.w),
        |side| (side.w, side.h),
    ];
    let sorted = |measure: &Measure| {
        let mut order = pieces.to_vec();
        order.sort_by_key(|&piece| (std::cmp::Reverse(measure(&sides[piece])), piece));
        order
    };
    measures.iter().map(sorted).collect()
}

/// The order and rule with which the least area finds no place on so many sheets, and what then finds one; ties go to the smaller `size` of the plan.
pub(super) fn by_rules(
    pieces: &[usize],
    sides: &[Side],
    stock: Stock,
    sheets: usize,
    size: impl Fn(&Packed) -> f64,
) -> (Vec<usize>, usize, Packed) {
    let mut best: Option<(Vec<usize>, usize, Packed)> = None;
    for order in orders(pieces, sides) {
        for (number, rule) in RULES.iter().enumerate() {
            let packed = rule.pack(&order, sides, stock, sheets, &mut 0);
            let better = |(_, _, best): &(Vec<usize>, usize, Packed)| (packed.missed, size(&packed)) < (best.missed, size(best));
            if best.as_ref().is_none_or(better) {
                best = Some((order.clone(), number, packed));
            }
        }
    }
    best.unwrap_or((Vec::new(), 0, Packed { spots: Vec::new(), missed: 0.0 }))
}

/// All the pieces on so many sheets, by exchanging pieces of the order as long as no more area finds no place; nothing if the steps run out. Takes from `steps` what it used.
pub(super) fn by_order(pieces: &[usize], sides: &[Side], stock: Stock, sheets: usize, steps: &mut u64) -> Option<Vec<Spot>> {
    let (mut order, mut rule, mut packed) = by_rules(pieces, sides, stock, sheets, |_| 0.0);
    let mut draw = Draw(pieces.len() as u64);
    let mut work = 0;
    while packed.missed > 0.0 && work < *steps {
        let mut trial = order.clone();
        let mut trial_rule = rule;
        let (one, other) = (draw.below(order.len()), draw.below(order.len()));
        match draw.below(8) {
            0 => trial_rule = draw.below(RULES.len()),
            1..4 => trial[one.min(other)..=one.max(other)].rotate_right(1),
            _ => trial.swap(one, other),
        }
        let trial_packed = RULES[trial_rule].pack(&trial, sides, stock, sheets, &mut work);
        if trial_packed.missed <= packed.missed {
            (order, rule, packed) = (trial, trial_rule, trial_packed);
        }
    }
    *steps = steps.saturating_sub(work);
    (packed.missed <= 0.0).then_some(packed.spots)
}
