//! What is cut out of what: cores out of sheets, cloth off the roll, frames out of lengths, with what is left over.
//!
//! ```text
//! waste = 1 - area (or length) of the pieces / area (or length) of what is cut up
//! ```
//!
//! *Limits.* Off-cuts of one board are not laid on one another to make up another. Cuts are straight and go from edge to edge.

use glam::DVec2;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::cutting::{self, Laid, Piece};
use super::pieces::Made;
use super::trouble::Trouble;
use super::words;
use crate::scene::making::Making;
use crate::scene::prices::{Board, Cloth, PriceList, Timber};
use crate::units::LengthUnit;

/// A piece where it is cut out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutPiece {
    /// The type that it is for.
    pub kind: String,
    /// Left and lower edge, meters.
    pub low_m: [f64; 2],
    /// Width and height as it lies, meters.
    pub size_m: [f64; 2],
    /// Whether it lies across.
    pub turned: bool,
}

/// One sheet with its pieces.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutSheet {
    /// What is cut out of it.
    pub pieces: Vec<CutPiece>,
}

/// All sheets of a board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoardCuts {
    /// Name of the board.
    pub board: String,
    /// Width and height of a sheet, meters.
    pub sheet_m: [f64; 2],
    /// The sheets, one after another.
    pub sheets: Vec<CutSheet>,
    /// No plan takes fewer sheets than this.
    pub least_sheets: u32,
    /// Share that is wasted.
    pub waste_share: f64,
}

/// What is cut off a roll.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClothCuts {
    /// Name of the cloth.
    pub cloth: String,
    /// Width of the roll, meters.
    pub width_m: f64,
    /// Length that is used, meters.
    pub length_m: f64,
    /// No plan takes less than this, meters.
    pub least_m: f64,
    /// The pieces: from the left edge, and along the roll.
    pub pieces: Vec<CutPiece>,
    /// Share that is wasted.
    pub waste_share: f64,
}

/// A length of timber with its pieces.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutLength {
    /// What is cut off, from one end: type and length in meters.
    pub pieces: Vec<CutSide>,
    /// What is left, meters.
    pub rest_m: f64,
}

/// A side of a frame on its length of timber.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutSide {
    /// The type that it is for.
    pub kind: String,
    /// Length, meters.
    pub length_m: f64,
}

/// All lengths of a timber.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TimberCuts {
    /// Name of the timber.
    pub timber: String,
    /// Length that it is sold in, meters.
    pub length_m: f64,
    /// The lengths, one after another.
    pub lengths: Vec<CutLength>,
    /// No plan takes fewer lengths than this.
    pub least_lengths: u32,
    /// Share that is wasted.
    pub waste_share: f64,
}

/// Cores out of sheets.
#[must_use]
pub fn boards(prices: &PriceList, making: &Making, unit: LengthUnit, made: &[Made], troubles: &mut Vec<Trouble>) -> Vec<BoardCuts> {
    prices.boards.iter().filter_map(|board| sheets(board, making, unit, made, troubles)).collect()
}

fn sheets(board: &Board, making: &Making, unit: LengthUnit, made: &[Made], troubles: &mut Vec<Trouble>) -> Option<BoardCuts> {
    let mut pieces: Vec<(Piece, &str)> = Vec::new();
    for made in made {
        for core in made.cores.iter().filter(|core| core.board == board.name) {
            let piece = Piece { size: DVec2::from_array(core.size_m), may_turn: true };
            pieces.extend(std::iter::repeat_n((piece, made.kind.as_str()), (made.count * core.layers) as usize));
        }
    }
    let cuts = without_too_large(
        &mut pieces,
        |pieces| cutting::sheets(pieces, board.size, making.kerf),
        |piece, kind| {
            let [width, height, sheet_width, sheet_height] =
                [piece.size.x, piece.size.y, board.size.x, board.size.y].map(|meters| words::print(meters, unit));
            troubles.push(
                Trouble::new(
                    "board-too-small",
                    format!(
                        "the core of \"{kind}\", {width} x {height}, is larger than a sheet of \"{}\", {sheet_width} x {sheet_height}",
                        board.name
                    ),
                    "take a larger sheet, or lay two pieces edge to edge in a frame that holds both",
                )
                .of(kind),
            );
        },
    )?;
    let used: f64 = pieces.iter().map(|(piece, _)| piece.size.x * piece.size.y).sum();
    let sheets: Vec<CutSheet> =
        cuts.sheets.iter().map(|sheet| CutSheet { pieces: sheet.laid.iter().map(|laid| cut_piece(laid, &pieces)).collect() }).collect();
    let waste_share = 1.0 - used / (sheets.len() as f64 * board.size.x * board.size.y);
    Some(BoardCuts { board: board.name.clone(), sheet_m: board.size.to_array(), sheets, least_sheets: cuts.least as u32, waste_share })
}

/// Cloth off the roll.
#[must_use]
pub fn cloths(prices: &PriceList, making: &Making, made: &[Made]) -> Vec<ClothCuts> {
    prices.cloths.iter().filter_map(|cloth| roll(cloth, making, made)).collect()
}

fn roll(cloth: &Cloth, making: &Making, made: &[Made]) -> Option<ClothCuts> {
    let mut pieces: Vec<(Piece, &str)> = Vec::new();
    for made in made {
        if let Some(piece) = made.cloth.as_ref().filter(|piece| piece.cloth == cloth.name) {
            let piece = Piece { size: DVec2::from_array(piece.size_m), may_turn: !making.patterned };
            pieces.extend(std::iter::repeat_n((piece, made.kind.as_str()), made.count as usize));
        }
    }
    // Pieces too wide for every roll were told when the cloth was chosen.
    let cuts = without_too_large(&mut pieces, |pieces| cutting::roll(pieces, cloth.width, 0.0), |_, _| {})?;
    let used: f64 = pieces.iter().map(|(piece, _)| piece.size.x * piece.size.y).sum();
    Some(ClothCuts {
        cloth: cloth.name.clone(),
        width_m: cloth.width,
        length_m: cuts.length,
        least_m: cuts.least,
        pieces: cuts.laid.iter().map(|laid| cut_piece(laid, &pieces)).collect(),
        waste_share: 1.0 - used / (cuts.length * cloth.width),
    })
}

/// Frames out of lengths.
#[must_use]
pub fn timbers(prices: &PriceList, making: &Making, unit: LengthUnit, made: &[Made], troubles: &mut Vec<Trouble>) -> Vec<TimberCuts> {
    prices.timbers.iter().filter_map(|timber| lengths(timber, making, unit, made, troubles)).collect()
}

fn lengths(timber: &Timber, making: &Making, unit: LengthUnit, made: &[Made], troubles: &mut Vec<Trouble>) -> Option<TimberCuts> {
    let mut pieces: Vec<(f64, &str)> = Vec::new();
    for made in made {
        for (index, side) in made.frame.iter().enumerate().filter(|(_, side)| side.timber == timber.name) {
            // Cross-battens are among what lies between the long sides.
            let spare = if index == 1 { made.battens_spare } else { 0 };
            pieces.extend(std::iter::repeat_n((side.length_m, made.kind.as_str()), (made.count * side.count - spare) as usize));
        }
    }
    let cuts = without_too_large(
        &mut pieces,
        |pieces| cutting::bars(pieces, timber.length, making.kerf),
        |length, kind| {
            troubles.push(
                Trouble::new(
                    "timber-too-short",
                    format!(
                        "the frame of \"{kind}\" has a side of {}, and \"{}\" is sold in lengths of {}",
                        words::print(*length, unit),
                        timber.name,
                        words::print(timber.length, unit)
                    ),
                    "take longer timber, or splice the side where a brace crosses it",
                )
                .of(kind),
            );
        },
    )?;
    let side = |piece: usize| CutSide { kind: pieces[piece].1.to_owned(), length_m: pieces[piece].0 };
    let lengths: Vec<CutLength> =
        cuts.bars.iter().map(|bar| CutLength { pieces: bar.pieces.iter().map(|piece| side(*piece)).collect(), rest_m: bar.rest }).collect();
    let used: f64 = pieces.iter().map(|(length, _)| length).sum();
    let waste_share = 1.0 - used / (lengths.len() as f64 * timber.length);
    Some(TimberCuts { timber: timber.name.clone(), length_m: timber.length, lengths, least_lengths: cuts.least as u32, waste_share })
}

fn cut_piece(laid: &Laid, pieces: &[(Piece, &str)]) -> CutPiece {
    CutPiece { kind: pieces[laid.piece].1.to_owned(), low_m: laid.low.to_array(), size_m: laid.size.to_array(), turned: laid.turned }
}

/// Cuts what can be cut; what is too large is told once for each type, and left out. `None` where nothing is left.
fn without_too_large<P: Clone, C>(
    pieces: &mut Vec<(P, &str)>,
    cut: impl Fn(&[P]) -> Result<C, Vec<cutting::TooLarge>>,
    mut tell: impl FnMut(&P, &str),
) -> Option<C> {
    let bare = |pieces: &[(P, &str)]| pieces.iter().map(|(piece, _)| piece.clone()).collect::<Vec<P>>();
    if pieces.is_empty() {
        return None;
    }
    let found = match cut(&bare(pieces)) {
        Ok(cuts) => return Some(cuts),
        Err(found) => found,
    };
    let mut told: Vec<&str> = Vec::new();
    for too_large in &found {
        let (piece, kind) = &pieces[too_large.piece];
        if !told.contains(kind) {
            told.push(kind);
            tell(piece, kind);
        }
    }
    let mut index = 0;
    pieces.retain(|_| {
        index += 1;
        !found.iter().any(|too_large| too_large.piece == index - 1)
    });
    if pieces.is_empty() { None } else { cut(&bare(pieces)).ok() }
}
