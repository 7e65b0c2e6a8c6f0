//! What a panel across each corner buys at the low end: places by rank, what each changes by third octave and by mode, depth, one panel after the other.

use super::bass::hertz;
use super::columns::{Page, Table};
use super::figures::{length, number, optional};
use crate::findings::bass::corners::{
    BassCornerChange, BassCorners, BassModeChange, BassThirdChange, CornerCandidate, CornerDepth, CornerPlace, CornerStep,
};
use crate::scene::Scene;

/// Heading of the section.
pub const HEADING: &str = "What a corner panel buys, corner by corner";

/// A table of the section: what it shows, its heads (`<` before words), its rows.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// What it shows.
    pub title: String,
    /// Heads; `<` before one makes a column of words.
    pub heads: Vec<String>,
    /// Rows.
    pub rows: Vec<Vec<String>>,
}

/// The section.
pub(super) fn print(page: &mut Page, scene: &Scene, corners: &BassCorners) {
    page.section(HEADING);
    page.paragraph(&what(scene, corners));
    for block in blocks(scene, corners) {
        page.paragraph(&block.title);
        let mut table = Table::new(&block.heads);
        block.rows.into_iter().for_each(|row| table.row(row));
        page.table(&table);
    }
    for line in sure(scene, corners) {
        page.hanging("-", &line);
    }
}

/// What was computed.
#[must_use]
pub fn what(scene: &Scene, corners: &BassCorners) -> String {
    let [width, height] = corners.size_m;
    format!(
        "\"{}\", {} by {} and {} thick, across each corner where it fits. Ring: energy of the third octaves from {} to {} Hz at all who hear, what is late counting more; less than 0 dB is taken away. Predicted from two fields of the room without it; verified by a run with it.",
        corners.kind,
        length(width, scene),
        length(height, scene),
        length(corners.thickness_m, scene),
        hertz(corners.bands_hz[0]),
        hertz(corners.bands_hz[1]),
    )
}

/// The tables, those without rows left out.
#[must_use]
pub fn blocks(scene: &Scene, corners: &BassCorners) -> Vec<Block> {
    let run: Vec<(usize, &CornerCandidate, &BassCornerChange)> = corners
        .candidates
        .iter()
        .enumerate()
        .filter_map(|(index, candidate)| candidate.change.as_ref().map(|change| (index + 1, candidate, change)))
        .collect();
    let changes: Vec<(String, &BassCornerChange)> = run
        .iter()
        .map(|(number, _, change)| (number.to_string(), *change))
        .chain(corners.settled.as_ref().map(|settled| ("all hung".to_owned(), &settled.change)))
        .collect();
    let all = [
        ranks(scene, corners),
        by_third(&format!("Change of level at {}, dB, by third octave", corners.receiver), corners, &changes, |third| {
            number(third.level_change_db, 1)
        }),
        by_third(&format!("Change of decay time at {}, s (-: the filter rings as long)", corners.receiver), corners, &changes, |third| {
            optional(third.decay_change_s, 2)
        }),
        by_mode(&changes),
        depths(scene, &corners.depths),
        steps(scene, &corners.steps),
    ];
    all.into_iter().filter(|block| !block.rows.is_empty()).collect()
}

fn heads(all: &[&str]) -> Vec<String> {
    all.iter().map(|head| (*head).to_owned()).collect()
}

fn ranks(scene: &Scene, corners: &BassCorners) -> Block {
    let row = |(index, candidate): (usize, &CornerCandidate)| {
        vec![
            (index + 1).to_string(),
            place(&candidate.place),
            bottoms(scene, &candidate.place),
            number(candidate.predicted_db, 2),
            optional(candidate.verified_db, 2),
            candidate.verified_rank.map_or_else(|| "-".to_owned(), |rank| rank.to_string()),
        ]
    };
    Block {
        title: "Places, the best predicted first".to_owned(),
        heads: heads(&["no.", "<corner", "<over the floor", "ring, predicted, dB", "verified, dB", "rank"]),
        rows: corners.candidates.iter().enumerate().map(row).collect(),
    }
}

fn by_third(
    title: &str,
    corners: &BassCorners,
    changes: &[(String, &BassCornerChange)],
    cell: impl Fn(&BassThirdChange) -> String,
) -> Block {
    let scored = |change: &BassCornerChange| scored(corners, change);
    let bands: Vec<String> =
        changes.first().map(|(_, change)| scored(change)).unwrap_or_default().iter().map(|third| hertz(third.band_hz)).collect();
    let row =
        |(name, change): &(String, &BassCornerChange)| std::iter::once(name.clone()).chain(scored(change).iter().map(&cell)).collect();
    Block {
        title: title.to_owned(),
        heads: std::iter::once("<no.".to_owned()).chain(bands.into_iter().map(|band| format!("{band} Hz"))).collect(),
        rows: changes.iter().map(row).collect(),
    }
}

/// Most modes that are told.
const MODES: usize = 8;

fn by_mode(changes: &[(String, &BassCornerChange)]) -> Block {
    let first: Vec<BassModeChange> =
        changes.first().map(|(_, change)| change.modes.iter().take(MODES).copied().collect()).unwrap_or_default();
    let near = |change: &BassCornerChange, frequency: f64| {
        let off = |mode: &BassModeChange| (mode.frequency_hz - frequency).abs();
        change.modes.iter().min_by(|a, b| off(a).total_cmp(&off(b))).filter(|mode| off(mode) < 0.01 * frequency).copied()
    };
    let row = |(name, change): &(String, &BassCornerChange)| {
        let cell = |mode: &BassModeChange| optional(near(change, mode.frequency_hz).and_then(|near| near.decay_change_s), 3);
        std::iter::once(name.clone()).chain(first.iter().map(cell)).collect()
    };
    let without = std::iter::once("without, s".to_owned()).chain(first.iter().map(|mode| optional(mode.decay_s, 2))).collect();
    Block {
        title: "Change of the decay time of the first modes, s (-: not found in both)".to_owned(),
        heads: std::iter::once("<no.".to_owned()).chain(first.iter().map(|mode| format!("{} Hz", number(mode.frequency_hz, 1)))).collect(),
        rows: if first.is_empty() { Vec::new() } else { std::iter::once(without).chain(changes.iter().map(row)).collect() },
    }
}

fn depths(scene: &Scene, depths: &[CornerDepth]) -> Block {
    let row = |depth: &CornerDepth| vec![length(depth.thickness_m, scene), number(depth.predicted_db, 2), number(depth.verified_db, 2)];
    Block {
        title: "Thickness, in the corner that was best for one panel".to_owned(),
        heads: heads(&["thick", "ring, predicted, dB", "verified, dB"]),
        rows: depths.iter().map(row).collect(),
    }
}

fn steps(scene: &Scene, steps: &[CornerStep]) -> Block {
    let row = |(index, step): (usize, &CornerStep)| {
        vec![
            (index + 1).to_string(),
            place(&step.place),
            bottoms(scene, &step.place),
            number(step.predicted_db, 2),
            number(step.verified_db, 2),
            number(step.together_db, 2),
        ]
    };
    Block {
        title: "One after the other, each where those before it hang".to_owned(),
        heads: heads(&["panel", "<corner", "<over the floor", "ring, predicted, dB", "verified, dB", "all so far, dB"]),
        rows: steps.iter().enumerate().map(row).collect(),
    }
}

/// The third octaves of a change that are scored.
#[must_use]
pub fn scored(corners: &BassCorners, change: &BassCornerChange) -> Vec<BassThirdChange> {
    let [low, high] = corners.bands_hz;
    change.thirds.iter().filter(|third| (low..=high).contains(&third.band_hz)).copied().collect()
}

/// A place in a line: both walls, and how high over the floor.
#[must_use]
pub fn named(scene: &Scene, told: &CornerPlace) -> String {
    format!("{}, {}", place(told), bottoms(scene, told))
}

fn place(place: &CornerPlace) -> String {
    place.walls.join(" / ")
}

fn bottoms(scene: &Scene, place: &CornerPlace) -> String {
    place.bottoms_m.iter().map(|bottom| length(*bottom, scene)).collect::<Vec<_>>().join(" and ")
}

/// How well prediction and runs agree, and limits.
#[must_use]
pub fn sure(scene: &Scene, corners: &BassCorners) -> Vec<String> {
    let agree = (corners.verified > 0).then(|| {
        format!(
            "Of {} places that were run, {} pairs of {} come in the order predicted, {} have the sign predicted.",
            corners.verified, corners.same_order, corners.pairs, corners.same_sign
        )
    });
    let settled = corners.settled.as_ref().map(|settled| {
        format!(
            "All that hang in the end, in cells of {}: {} dB of the ring. Places are compared in cells of {}.",
            length(settled.cell_m, scene),
            number(settled.verified_db, 2),
            length(corners.cell_m, scene)
        )
    });
    agree.into_iter().chain(settled).chain(corners.notes.iter().cloned()).collect()
}
