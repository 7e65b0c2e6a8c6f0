//! Cutting plans: instances whose optimum is known because they were made by cutting whole stock, published kinds, and what holds for any plan.

use std::sync::LazyLock;

use glam::{DVec2, dvec2};
use proptest::prelude::*;
use roomwright::workshop::cutting::{Bars, Cuts, Laid, Piece, Roll, TooLarge, bars, roll, sheets};

use crate::validation::{Check, hold};

/// Lengths that differ by less are the same, meters.
const TOLERANCE: f64 = 1e-8;

/// The generator that instances are made with: `SplitMix64` (Steele, Lea and Flood 2014).
struct Draw(u64);

impl Draw {
    /// One of 0 .. `below`.
    fn below(&mut self, below: i64) -> i64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) % below as u64) as i64
    }

    fn shuffle<T>(&mut self, list: &mut [T]) {
        for at in (1..list.len()).rev() {
            list.swap(at, self.below(at as i64 + 1) as usize);
        }
    }
}

/// Whether pieces of an instance may turn.
#[derive(Clone, Copy, Debug)]
enum Turn {
    None,
    All,
    Some,
}

/// Cuts a whole rectangle from edge to edge again and again until there are so many pieces; millimeters. The whole is used up, so no plan can do
/// with less stock than was cut.
fn cut_up(draw: &mut Draw, whole: (i64, i64), pieces: usize, kerf: i64) -> Vec<(i64, i64)> {
    let mut parts = vec![whole];
    while parts.len() < pieces {
        // The largest part is cut, now and then another.
        parts.sort_by_key(|(w, h)| w * h);
        let at = if draw.below(3) == 0 { draw.below(parts.len() as i64) as usize } else { parts.len() - 1 };
        let (w, h) = parts.swap_remove(at);
        let along_x = draw.below(w + h) < w;
        let length = if along_x { w } else { h };
        if length < 120 {
            parts.push((w, h));
            continue;
        }
        let first = length / 5 + draw.below(length * 3 / 5 - kerf);
        let second = length - kerf - first;
        parts.extend(if along_x { [(first, h), (second, h)] } else { [(w, first), (w, second)] });
    }
    parts
}

/// Pieces in meters, in any order, some asked for a quarter turned where they may turn.
fn asked(draw: &mut Draw, mut parts: Vec<(i64, i64)>, turn: Turn) -> Vec<Piece> {
    draw.shuffle(&mut parts);
    let piece = |(w, h): (i64, i64)| {
        let may_turn = match turn {
            Turn::None => false,
            Turn::All => true,
            Turn::Some => draw.below(2) == 0,
        };
        let (w, h) = if may_turn && draw.below(2) == 0 { (h, w) } else { (w, h) };
        Piece { size: dvec2(w as f64, h as f64) / 1000.0, may_turn }
    };
    parts.into_iter().map(piece).collect()
}

/// Whether what lies in this rectangle can be cut out from edge to edge, the kerf lost in every cut: found without knowing how it was laid.
fn is_guillotine(laid: &[&Laid], kerf: f64) -> bool {
    if laid.len() <= 1 {
        return true;
    }
    for axis in 0..2 {
        let mut sorted = laid.to_vec();
        sorted.sort_by(|one, other| one.low[axis].total_cmp(&other.low[axis]));
        let mut reach = f64::NEG_INFINITY;
        for at in 1..sorted.len() {
            reach = reach.max(sorted[at - 1].low[axis] + sorted[at - 1].size[axis]);
            if sorted[at].low[axis] >= reach + kerf - TOLERANCE {
                // If the whole can be cut at all, it can after any one cut that is possible: parts of a plan that can be cut can be cut.
                return is_guillotine(&sorted[..at], kerf) && is_guillotine(&sorted[at..], kerf);
            }
        }
    }
    false
}

/// Every piece once, of its size, turned only if it may, on its stock, a kerf from any other, cuttable.
fn check_laid(pieces: &[Piece], stock: DVec2, kerf: f64, plans: &[&[Laid]]) -> Result<(), String> {
    let mut cut = vec![0; pieces.len()];
    for laid in plans.iter().copied().flatten() {
        let piece = pieces[laid.piece];
        cut[laid.piece] += 1;
        let size = if laid.turned { dvec2(piece.size.y, piece.size.x) } else { piece.size };
        if laid.turned && !piece.may_turn || size.distance(laid.size) > 0.0 {
            return Err(format!("{laid:?} is not {piece:?}"));
        }
        if laid.low.min_element() < 0.0 || !(laid.low + laid.size).cmple(stock + TOLERANCE).all() {
            return Err(format!("{laid:?} is not on {stock}"));
        }
    }
    if cut.iter().any(|times| *times != 1) {
        return Err(format!("pieces are cut {cut:?} times"));
    }
    for plan in plans {
        for (at, one) in plan.iter().enumerate() {
            for other in &plan[at + 1..] {
                let gap = (one.low - other.low - other.size).max(other.low - one.low - one.size).max_element();
                if gap < kerf - TOLERANCE {
                    return Err(format!("{one:?} and {other:?} are {gap} m apart"));
                }
            }
        }
        if !is_guillotine(&plan.iter().collect::<Vec<_>>(), kerf) {
            return Err(format!("{plan:?} cannot be cut from edge to edge"));
        }
    }
    Ok(())
}

fn check_sheets(pieces: &[Piece], sheet: DVec2, kerf: f64, cuts: &Cuts) -> Result<(), String> {
    let plans: Vec<&[Laid]> = cuts.sheets.iter().map(|sheet| &sheet.laid[..]).collect();
    check_laid(pieces, sheet, kerf, &plans)?;
    let holds = cuts.least <= cuts.sheets.len() && plans.iter().all(|plan| !plan.is_empty());
    holds.then_some(()).ok_or_else(|| format!("{} sheets, least {}", plans.len(), cuts.least))
}

fn check_roll(pieces: &[Piece], width: f64, gap: f64, cut: &Roll) -> Result<(), String> {
    check_laid(pieces, dvec2(width, cut.length), gap, &[&cut.laid])?;
    let reach = cut.laid.iter().map(|laid| laid.low.y + laid.size.y).fold(0.0, f64::max);
    let holds = (reach - cut.length).abs() < TOLERANCE && cut.least <= cut.length;
    holds.then_some(()).ok_or_else(|| format!("length {} but reaches {reach}, least {}", cut.length, cut.least))
}

fn check_bars(pieces: &[f64], length: f64, kerf: f64, cut: &Bars) -> Result<(), String> {
    let mut times = vec![0; pieces.len()];
    for bar in &cut.bars {
        bar.pieces.iter().for_each(|&piece| times[piece] += 1);
        let used: f64 = bar.pieces.iter().map(|&piece| pieces[piece]).sum::<f64>() + kerf * (bar.pieces.len() as f64 - 1.0);
        if used > length + TOLERANCE || bar.pieces.is_empty() || (bar.rest - (length - used - kerf).max(0.0)).abs() > TOLERANCE {
            return Err(format!("{bar:?}: {used} of {length}"));
        }
    }
    let holds = times.iter().all(|times| *times == 1) && cut.least <= cut.bars.len();
    holds.then_some(()).ok_or_else(|| format!("cut {times:?} times, least {}", cut.least))
}

/// Boards as sold in many places, millimeters.
const BOARD: (i64, i64) = (1220, 2440);
const TURNS: [Turn; 3] = [Turn::None, Turn::All, Turn::Some];

fn meters(size: (i64, i64)) -> DVec2 {
    dvec2(size.0 as f64, size.1 as f64) / 1000.0
}

/// 32 instances, each cut from so many whole boards, 4 to 15 pieces a board: no plan needs fewer boards, and ours needs no more (ratio 1.000).
#[test]
fn exact_sheets_that_were_cut_from_whole_boards() {
    for (boards, kerf, seed) in (1..=8).flat_map(|boards| [(boards, 0, 1), (boards, 3, 2), (boards, 0, 3), (boards, 3, 4)]) {
        let mut draw = Draw(100 * seed + boards);
        let mut parts = Vec::new();
        for _ in 0..boards {
            let pieces = 4 + draw.below(12) as usize;
            parts.extend(cut_up(&mut draw, BOARD, pieces, kerf));
        }
        let pieces = asked(&mut draw, parts, TURNS[(boards + seed) as usize % 3]);
        let kerf_m = kerf as f64 / 1000.0;
        let cuts = sheets(&pieces, meters(BOARD), kerf_m).unwrap();
        check_sheets(&pieces, meters(BOARD), kerf_m, &cuts).unwrap();
        assert_eq!(cuts.sheets.len(), boards as usize, "{boards} boards, kerf {kerf} mm, seed {seed}, {} pieces", pieces.len());
        assert_eq!(cuts.least, boards as usize);
    }
}

/// 24 instances, each cut from a whole length of cloth: no plan is shorter, and ours is no longer (ratio 1.000).
#[test]
fn exact_rolls_that_were_cut_from_a_whole_length() {
    for (count, gap, seed) in
        [8, 15, 25, 40].into_iter().flat_map(|count| [0, 10].into_iter().flat_map(move |gap| (1..=3).map(move |seed| (count, gap, seed))))
    {
        let mut draw = Draw(1000 * seed + count as u64 + gap as u64);
        let whole = (1500, 2000 + draw.below(6000));
        let parts = cut_up(&mut draw, whole, count, gap);
        let pieces = asked(&mut draw, parts, TURNS[(count + seed as usize) % 3]);
        let gap_m = gap as f64 / 1000.0;
        let cut = roll(&pieces, 1.5, gap_m).unwrap();
        check_roll(&pieces, 1.5, gap_m, &cut).unwrap();
        let known = whole.1 as f64 / 1000.0;
        assert!((cut.length - known).abs() < TOLERANCE, "{count} pieces, gap {gap} mm, seed {seed}: {} m instead of {known} m", cut.length);
        assert!((cut.least - known).abs() < TOLERANCE);
    }
}

/// 20 instances, each cut from so many whole bars, 4 to 15 pieces a bar: no plan needs fewer bars, and ours needs no more (ratio 1.000).
#[test]
fn exact_bars_that_were_cut_from_whole_bars() {
    for (whole, kerf, seed) in [1, 2, 4, 8, 16].into_iter().flat_map(|whole| [(whole, 0, 1), (whole, 3, 2), (whole, 0, 3), (whole, 3, 4)]) {
        let mut draw = Draw(100 * seed + whole);
        let mut lengths = Vec::new();
        for _ in 0..whole {
            let pieces = 4 + draw.below(12) as usize;
            // A bar is a strip so narrow that it is cut in one way only.
            lengths.extend(cut_up(&mut draw, (4800, 1), pieces, kerf).into_iter().map(|(length, _)| length as f64 / 1000.0));
        }
        draw.shuffle(&mut lengths);
        let kerf_m = kerf as f64 / 1000.0;
        let cut = bars(&lengths, 4.8, kerf_m).unwrap();
        check_bars(&lengths, 4.8, kerf_m, &cut).unwrap();
        assert_eq!(cut.bars.len(), whole as usize, "{whole} bars, kerf {kerf} mm, seed {seed}, {} pieces", lengths.len());
        assert_eq!(cut.least, whole as usize);
    }
}

/// Triplets of pieces that fill a bar of 1.000 m without a rest, made by the recipe of E. Falkenauer, "A hybrid grouping genetic algorithm for bin
/// packing", Journal of Heuristics 2 (1996) 5-30 (recipe from memory; the numbers are drawn here, his lists are not used): the first of a triplet
/// is 0.380 to 0.490 m, the second from 0.250 m to half of what is left, the third is the rest. 20, 40 and 83 bars are his 60, 120 and 249 pieces.
pub(crate) static OF_TRIPLETS: LazyLock<Vec<Check>> = LazyLock::new(|| {
    let of = |(triplets, seed): (u64, u64)| {
        let mut draw = Draw(100 * seed + triplets);
        let mut lengths = Vec::new();
        for _ in 0..triplets {
            let first = 380 + draw.below(111);
            let second = 250 + draw.below((1000 - first) / 2 - 249);
            lengths.extend([first, second, 1000 - first - second].map(|length| length as f64 / 1000.0));
        }
        draw.shuffle(&mut lengths);
        let cut = bars(&lengths, 1.0, 0.0).expect("it is whole");
        check_bars(&lengths, 1.0, 0.0, &cut).expect("it is whole");
        [("bars", cut.bars.len()), ("bars that it says are needed", cut.least)].map(|(what, count)| Check {
            what: format!("{triplets} triplets of lengths, draw {seed}: {what}"),
            ours: count as f64,
            expected: triplets as f64,
            tolerance: 0.0,
            why: "a count",
            source: "E. Falkenauer, Journal of Heuristics 2 (1996) 5: recipe of triplets that fill a bar without a rest (from memory; drawn here)",
        })
    };
    [(20, 1), (20, 2), (20, 3), (40, 1), (40, 2), (40, 3), (83, 1), (83, 2)].into_iter().flat_map(of).collect()
});

#[test]
fn published_recipe_of_triplets() {
    hold(&OF_TRIPLETS);
}

/// The textbook case of paper rolls 5.6 m wide, 13 widths, 219 pieces: 73 rolls are needed and enough (widths, numbers and optimum from memory).
pub(crate) fn paper_rolls() -> Vec<Check> {
    let widths = [1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200];
    let numbers = [22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20];
    let pieces: Vec<f64> = widths.iter().zip(numbers).flat_map(|(width, number)| vec![f64::from(*width) / 1000.0; number]).collect();
    let cut = bars(&pieces, 5.6, 0.0).expect("it is whole");
    check_bars(&pieces, 5.6, 0.0, &cut).expect("it is whole");
    [("rolls", cut.bars.len()), ("rolls that it says are needed", cut.least)]
        .map(|(what, count)| Check {
            what: format!("219 pieces in 13 widths off paper rolls of 5.6 m: {what}"),
            ours: count as f64,
            expected: 73.0,
            tolerance: 0.0,
            why: "a count",
            source: "the textbook case of the cutting stock problem (widths, numbers and least from memory)",
        })
        .into()
}

#[test]
fn published_paper_rolls() {
    hold(&paper_rolls());
}

fn alike(number: usize, w: f64, h: f64, may_turn: bool) -> Vec<Piece> {
    vec![Piece { size: dvec2(w, h), may_turn }; number]
}

/// Counts that follow from the sizes: so many side by side, or any two too large to lie on one sheet.
#[test]
fn exact_counts_of_equal_pieces() {
    let cases = [
        // Two by two on a board.
        (alike(12, 0.6, 1.2, false), meters(BOARD), 0.003, 3),
        // As large as the sheet: no cut, no kerf.
        (alike(12, 0.6, 1.2, false), dvec2(0.6, 1.2), 0.003, 12),
        // Thirds, whose sum is rounded.
        (alike(9, 1.0 / 3.0, 1.0 / 3.0, false), dvec2(1.0, 1.0), 0.0, 1),
        // The kerf makes thirds too large: two by two.
        (alike(9, 1.0 / 3.0, 1.0 / 3.0, false), dvec2(1.0, 1.0), 0.003, 3),
        // Any two are too large for one sheet.
        (alike(3, 0.6, 0.6, true), dvec2(1.0, 1.0), 0.0, 3),
        // Five lying and five standing fill it: 10 of 0.2 x 0.5 on 1 x 1, and 10 more.
        (alike(20, 0.2, 0.5, true), dvec2(1.0, 1.0), 0.0, 2),
    ];
    for (pieces, sheet, kerf, known) in cases {
        let cuts = sheets(&pieces, sheet, kerf).unwrap();
        check_sheets(&pieces, sheet, kerf, &cuts).unwrap();
        assert_eq!((cuts.sheets.len(), cuts.least), (known, known), "{} x {:?} on {sheet}", pieces.len(), pieces[0]);
    }
    for (kerf, known, rest) in [(0.0, 1, 0.0), (0.003, 2, 0.497)] {
        let cut = bars(&[0.5, 0.5], 1.0, kerf).unwrap();
        assert_eq!((cut.bars.len(), cut.least), (known, known));
        assert!((cut.bars[0].rest - rest).abs() < TOLERANCE);
    }
}

/// Four pieces round a fifth fill the square, but no cut goes from edge to edge: such a plan needs two sheets.
#[test]
fn exact_pinwheel_is_not_cut() {
    let mut pieces = alike(4, 3.0, 2.0, true);
    pieces.push(Piece { size: dvec2(1.0, 1.0), may_turn: true });
    let cuts = sheets(&pieces, dvec2(5.0, 5.0), 0.0).unwrap();
    check_sheets(&pieces, dvec2(5.0, 5.0), 0.0, &cuts).unwrap();
    assert_eq!((cuts.sheets.len(), cuts.least), (2, 1));
}

/// The checks of this file see what they are for.
#[test]
fn keeps_checkers_sharp() {
    let lay = |piece: usize, low: DVec2, size: DVec2, turned: bool| Laid { piece, low, size, turned };
    let mut pieces = alike(4, 3.0, 2.0, true);
    pieces.push(Piece { size: dvec2(1.0, 1.0), may_turn: false });
    let pinwheel = [
        lay(0, dvec2(0.0, 0.0), dvec2(3.0, 2.0), false),
        lay(1, dvec2(3.0, 0.0), dvec2(2.0, 3.0), true),
        lay(2, dvec2(2.0, 3.0), dvec2(3.0, 2.0), false),
        lay(3, dvec2(0.0, 2.0), dvec2(2.0, 3.0), true),
        lay(4, dvec2(2.0, 2.0), dvec2(1.0, 1.0), false),
    ];
    let refused = |laid: &[Laid], kerf: f64, word: &str| {
        let told = check_laid(&pieces, dvec2(5.0, 5.0), kerf, &[laid]).unwrap_err();
        assert!(told.contains(word), "{told}");
    };
    refused(&pinwheel, 0.0, "edge to edge");
    refused(&pinwheel, 0.003, "apart");
    refused(&pinwheel[1..], 0.0, "times");
    refused(&[pinwheel[0], pinwheel[0]], 0.0, "times");
    refused(&[lay(4, dvec2(4.5, 0.0), dvec2(1.0, 1.0), false)], 0.0, "is not on");
    refused(&[lay(4, dvec2(0.0, 0.0), dvec2(1.0, 1.0), true)], 0.0, "is not Piece");
    let overlapping = [
        pinwheel[0],
        lay(1, dvec2(2.5, 0.0), dvec2(2.0, 3.0), true),
        pinwheel[2],
        lay(3, dvec2(0.0, 2.0), dvec2(2.0, 3.0), true),
        pinwheel[4],
    ];
    refused(&overlapping, 0.0, "apart");
    assert!(
        check_bars(
            &[0.5, 0.6],
            1.0,
            0.0,
            &Bars { bars: vec![roomwright::workshop::cutting::Bar { pieces: vec![0, 1], rest: 0.0 }], least: 1 }
        )
        .is_err()
    );
}

/// All that do not fit are named, and a quarter turn is tried only where it is allowed.
#[test]
fn keeps_account_of_all_that_is_too_large() {
    let piece = |w: f64, h: f64, may_turn: bool| Piece { size: dvec2(w, h), may_turn };
    let pieces = [
        piece(0.5, 0.5, false),
        piece(1.3, 0.5, false),
        piece(2.0, 1.0, true),
        piece(2.0, 1.0, false),
        piece(1.0, 2.5, true),
        piece(f64::NAN, 1.0, true),
        piece(0.0, 1.0, true),
        piece(-1.0, 1.0, true),
    ];
    let named = |list: Vec<TooLarge>| list.into_iter().map(|large| large.piece).collect::<Vec<_>>();
    assert_eq!(named(sheets(&pieces, meters(BOARD), 0.003).unwrap_err()), [1, 3, 4, 5, 6, 7]);
    assert_eq!(named(sheets(&pieces[..1], dvec2(0.0, 1.0), 0.0).unwrap_err()), [0]);
    // A roll has no end: only its width is in the way.
    assert_eq!(named(roll(&pieces, 1.22, 0.0).unwrap_err()), [1, 3, 5, 6, 7]);
    assert_eq!(named(bars(&[2.0, 2.5, 1.0, f64::INFINITY], 2.4, 0.003).unwrap_err()), [1, 3]);
    let turned = sheets(&pieces[2..3], meters(BOARD), 0.0).unwrap();
    assert!(turned.sheets[0].laid[0].turned);
    check_sheets(&pieces[2..3], meters(BOARD), 0.0, &turned).unwrap();
}

#[test]
fn keeps_nothing_for_nothing() {
    assert_eq!(sheets(&[], meters(BOARD), 0.003), Ok(Cuts { sheets: Vec::new(), least: 0 }));
    assert_eq!(roll(&[], 1.5, 0.0), Ok(Roll { laid: Vec::new(), length: 0.0, least: 0.0 }));
    assert_eq!(bars(&[], 2.4, 0.003), Ok(Bars { bars: Vec::new(), least: 0 }));
}

/// Pieces of a few sizes, in millimeters so that sums meet, some of which may turn.
fn some_pieces() -> impl Strategy<Value = Vec<Piece>> {
    let size = (40..1200_i32, 40..1200_i32, any::<bool>());
    let sizes = prop::collection::vec(size, 1..12);
    (sizes, prop::collection::vec(0..12_usize, 0..40)).prop_map(|(sizes, chosen)| {
        let piece = |at: usize| {
            let (w, h, may_turn) = sizes[at % sizes.len()];
            Piece { size: dvec2(f64::from(w), f64::from(h)) / 1000.0, may_turn }
        };
        chosen.into_iter().map(piece).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn keeps_pieces_of_sheets_apart_whole_and_cuttable(pieces in some_pieces(), kerf in prop_oneof![Just(0.0), 0.0..0.02_f64]) {
        let cuts = sheets(&pieces, meters(BOARD), kerf).unwrap();
        prop_assert_eq!(check_sheets(&pieces, meters(BOARD), kerf, &cuts), Ok(()));
        prop_assert_eq!(sheets(&pieces, meters(BOARD), kerf), Ok(cuts));
    }

    #[test]
    fn keeps_pieces_of_rolls_apart_whole_and_cuttable(pieces in some_pieces(), gap in prop_oneof![Just(0.0), 0.0..0.02_f64]) {
        let cut = roll(&pieces, 1.4, gap).unwrap();
        prop_assert_eq!(check_roll(&pieces, 1.4, gap, &cut), Ok(()));
        prop_assert_eq!(roll(&pieces, 1.4, gap), Ok(cut));
    }

    #[test]
    fn keeps_pieces_of_bars_apart_and_whole(pieces in prop::collection::vec(0.01..2.4_f64, 0..80), kerf in 0.0..0.01_f64) {
        let cut = bars(&pieces, 2.4, kerf).unwrap();
        prop_assert_eq!(check_bars(&pieces, 2.4, kerf, &cut), Ok(()));
        prop_assert_eq!(bars(&pieces, 2.4, kerf), Ok(cut));
    }
}
