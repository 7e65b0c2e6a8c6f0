//! Cutting plans to scale: every pattern of a sheet once with how often, the roll along its length, lengths of timber as bars.
//!
//! Sheets and lengths that are cut alike are drawn once. What is left over is hatched. The roll is broken over rows where no piece is cut through, if there is such a place.
//!
//! *References.* Dimensions as in `dimension`: chains of differences of rounded running measures.
//!
//! *Limits.* A piece too small for its letter on paper stands without it; `cuts.csv` holds all positions.

use glam::DVec2;

use crate::report::dimension::{self, Along, Chain};
use crate::report::html::plain;
use crate::report::paper;
use crate::report::svg::{Area, Drawing, Lettering, Look};
use crate::report::tape::Tape;
use crate::workshop::caution::Place;
use crate::workshop::{BoardCuts, Build, ClothCuts, CutPiece, TimberCuts};

use super::shop_pages::{Job, cautions, percent};
use crate::report::leaf::{Chapter, Format, LINE, Writer, wrap};

/// Scales of drawings: 1 to these.
const SCALES: [f64; 22] =
    [1.0, 2.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 16.0, 20.0, 24.0, 25.0, 30.0, 40.0, 48.0, 50.0, 60.0, 75.0, 100.0, 150.0, 200.0];
/// Room for a chain of dimensions and its running measures, beside or below a drawing, mm.
#[must_use]
pub(crate) fn chains(tape: Tape) -> f64 {
    if tape.is_inch() { 28.0 } else { 21.0 }
}

/// The largest scale at which this many meters fit into `room` mm, both ways.
#[must_use]
pub(crate) fn scale(meters: DVec2, room: DVec2) -> f64 {
    let fits = |scale: &&f64| (meters * 1000.0 / **scale).cmple(room + DVec2::splat(1e-6)).all();
    SCALES.iter().find(fits).copied().unwrap_or_else(|| (meters * 1000.0 / room).max_element().ceil())
}

/// The chapter; `None` where nothing is cut.
#[must_use]
pub fn chapter(format: &Format, job: Job<'_>) -> Option<Chapter> {
    let build = job.build;
    if build.boards.is_empty() && build.cloths.is_empty() && build.timbers.is_empty() {
        return None;
    }
    let mut page = Writer::new(format, "Cutting plans");
    cautions(&mut page, build, Place::Cutting, None);
    page.paragraph(&format!(
        "Each pattern is drawn once, to scale; what is left over is hatched. Cuts are straight and go from edge to edge, each {} wide. Letters: {}.",
        format.tape.say(job.scene.making.kerf),
        build.types.iter().enumerate().map(|(index, made)| format!("{} {}", letter(index), made.kind)).collect::<Vec<_>>().join(", ")
    ));
    build.boards.iter().for_each(|board| sheets(&mut page, build, board));
    build.cloths.iter().for_each(|cloth| roll(&mut page, build, cloth, job.scene.making.patterned));
    build.timbers.iter().for_each(|timber| bars(&mut page, build, timber, job.scene.making.kerf));
    Some(page.finish("build-cutting"))
}

/// The letter of a type: `A`, `B`, after `Z` two of them.
fn letter(index: usize) -> String {
    let one = |index: usize| char::from(b'A' + (index % 26) as u8);
    if index < 26 { one(index).to_string() } else { format!("{}{}", one(index / 26 - 1), one(index)) }
}

fn letter_of(build: &Build, kind: &str) -> String {
    build.types.iter().position(|made| made.kind == kind).map_or_else(|| "?".to_owned(), letter)
}

/// What is alike once, with how often and where it comes first.
fn grouped<'a, T: PartialEq>(all: &'a [T]) -> Vec<(&'a T, usize)> {
    let mut found: Vec<(&'a T, usize)> = Vec::new();
    for one in all {
        match found.iter_mut().find(|(other, _)| *other == one) {
            Some((_, count)) => *count += 1,
            None => found.push((one, 1)),
        }
    }
    found
}

/// Lines of a hatch of 45 degrees within a box, 2 mm apart.
pub(crate) fn hatch(page: &mut Drawing, area: Area) {
    let size = area.size();
    let mut along = 2.0;
    while along < size.x + size.y {
        let from = DVec2::new((along - size.y).max(0.0), along.min(size.y));
        let to = DVec2::new(along.min(size.x), (along - size.x).max(0.0));
        page.line(area.low + from, area.low + to, Look::line(paper::SOFT, 0.15));
        along += 2.0;
    }
}

/// All patterns of a board.
fn sheets(page: &mut Writer, build: &Build, cuts: &BoardCuts) {
    let tape = page.tape();
    page.section(&cuts.board, 60.0);
    page.paragraph(&format!(
        "{} of {}; no plan takes fewer than {}. Waste {}.",
        counted(cuts.sheets.len(), "sheet"),
        tape.say_size(cuts.sheet_m[0], cuts.sheet_m[1]),
        cuts.least_sheets,
        percent(cuts.waste_share)
    ));
    let view = SheetView::of(cuts, tape, DVec2::new(page.width() - chains(tape) - BESIDE - 4.0, 85.0));
    let patterns = grouped(&cuts.sheets);
    let many = patterns.len();
    for (index, (pattern, count)) in patterns.into_iter().enumerate() {
        let used: f64 = pattern.pieces.iter().map(|piece| piece.size_m[0] * piece.size_m[1]).sum();
        let waste = 1.0 - used / (cuts.sheet_m[0] * cuts.sheet_m[1]);
        let mut lines =
            vec![format!("Pattern {} of {many}: x {count}", index + 1), format!("1:{}, waste {}", plain(view.scale, 0), percent(waste))];
        if waste.abs() < 1e-6 && pattern.pieces.len() == 1 {
            lines.push("The sheet as it is sold: nothing is cut.".to_owned());
        }
        lines.extend(counted_pieces(build, &pattern.pieces, tape));
        let letters = Lettering::new(paper::BODY, paper::INK);
        let wrapped: Vec<(bool, String)> = lines
            .iter()
            .enumerate()
            .flat_map(|(index, line)| wrap(letters, line, BESIDE).into_iter().map(move |line| (index == 0, line)))
            .collect();
        let height = (view.drawn.y + chains(tape)).max(LINE * wrapped.len() as f64 + 2.0);
        page.figure(height, true, |page, area| {
            view.draw(page, build, &pattern.pieces, area.low + DVec2::new(chains(tape), 0.5));
            for (index, (bold, line)) in wrapped.iter().enumerate() {
                let at = DVec2::new(area.high.x - BESIDE, area.low.y + 3.0 + LINE * index as f64);
                page.text(at, line, if *bold { letters.bold() } else { letters });
            }
        });
    }
}

/// Width of the words beside a pattern, mm.
const BESIDE: f64 = 58.0;

/// How sheets of a board are drawn.
struct SheetView {
    tape: Tape,
    /// Whether the longer side was the upright one: it lies across the page.
    turned: bool,
    /// Across and up the page, meters.
    sheet: DVec2,
    scale: f64,
    /// Across and up the page, mm.
    drawn: DVec2,
}

impl SheetView {
    /// Within this room, mm.
    fn of(cuts: &BoardCuts, tape: Tape, room: DVec2) -> Self {
        let turned = cuts.sheet_m[1] > cuts.sheet_m[0];
        let sheet = DVec2::from_array(cuts.sheet_m);
        let sheet = if turned { DVec2::new(sheet.y, sheet.x) } else { sheet };
        let scale = scale(sheet, room);
        Self { tape, turned, sheet, scale, drawn: sheet * 1000.0 / scale }
    }

    fn turn(&self, pair: [f64; 2]) -> DVec2 {
        if self.turned { DVec2::new(pair[1], pair[0]) } else { DVec2::from_array(pair) }
    }

    /// Draws a sheet with its upper left corner at this place.
    fn draw(&self, page: &mut Drawing, build: &Build, pieces: &[CutPiece], corner: DVec2) {
        let place = Area { low: corner, high: corner + self.drawn };
        hatch(page, place);
        for piece in pieces {
            let (low, size) = (self.turn(piece.low_m) * 1000.0 / self.scale, self.turn(piece.size_m) * 1000.0 / self.scale);
            let area = Area::new(place.low.x + low.x, place.high.y - low.y - size.y, size.x, size.y);
            draw_piece(page, area, &letter_of(build, &piece.kind), &piece.kind, &self.tape.say_size(piece.size_m[0], piece.size_m[1]));
        }
        page.rect(place, Look::line(paper::INK, 0.5));
        let ends = |axis: usize| {
            let cut = pieces.iter().flat_map(|piece| {
                let (low, size) = (self.turn(piece.low_m), self.turn(piece.size_m));
                [low[axis], low[axis] + size[axis]]
            });
            let at = |meters: f64| {
                let along = meters * 1000.0 / self.scale;
                if axis == 0 { place.low.x + along } else { place.high.y - along }
            };
            dimension::distinct(self.tape, cut.chain([0.0, self.sheet[axis]]).map(|meters| (meters, at(meters))).collect())
        };
        let limits = (place.low.x, place.high.x + 8.0);
        chain(page, self.tape, Along::Right, (&ends(0), 1), (place.high.y, limits));
        chain(page, self.tape, Along::Up, (&ends(1), 1), (place.low.x, (place.low.y, place.high.y)));
    }
}

/// A chain of dimensions along an edge of a drawing; running measures from the `skip`th end on, between these limits.
pub(crate) fn chain(page: &mut Drawing, tape: Tape, along: Along, (ends, skip): (&[(f64, f64)], usize), (edge, limits): (f64, (f64, f64))) {
    let running = ends.get(skip..).unwrap_or_default();
    dimension::draw(page, &Chain { along, tape, ends, running, edge, offset: 5.0, limits });
}

/// `1 sheet`, `3 sheets`.
fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// Pieces alike in one line: `2 A wall panel, 600 x 1200`.
fn counted_pieces(build: &Build, pieces: &[CutPiece], tape: Tape) -> Vec<String> {
    let all: Vec<String> = pieces
        .iter()
        .map(|piece| {
            let [width, height] = [piece.size_m[0].min(piece.size_m[1]), piece.size_m[0].max(piece.size_m[1])];
            format!("{} {}, {}", letter_of(build, &piece.kind), piece.kind, tape.say_size(width, height))
        })
        .collect();
    grouped(&all).into_iter().map(|(text, count)| format!("{count} x {text}")).collect()
}

/// A piece with its letter, and its type and size where they have room.
fn draw_piece(page: &mut Drawing, area: Area, letter: &str, kind: &str, size: &str) {
    page.rect(area, Look::fill(paper::WHITE).edged(paper::INK, 0.3));
    let (room, middle) = (area.size(), area.middle());
    let large = Lettering::new(4.2, paper::INK).bold().middle();
    let small = Lettering::new(paper::SMALL, paper::INK).middle();
    let widest = small.length(kind).max(small.length(size));
    if room.y > 14.0 && widest + 1.6 < room.x {
        page.text(middle + DVec2::new(0.0, -1.6), letter, large);
        page.text(middle + DVec2::new(0.0, 2.4), kind, small);
        page.text(middle + DVec2::new(0.0, 5.8), size, small);
    } else if room.x > 14.0 && widest + 1.6 < room.y {
        page.text(middle + DVec2::new(-2.0, 0.0), letter, large.upright());
        page.text(middle + DVec2::new(2.0, 0.0), kind, small.upright());
        page.text(middle + DVec2::new(5.4, 0.0), size, small.upright());
    } else if large.length(letter) + 0.8 < room.x && room.y > 5.0 {
        page.text(middle + DVec2::new(0.0, 1.5), letter, large);
    } else if small.length(letter) + 0.6 < room.x && room.y > 3.2 {
        page.text(middle + DVec2::new(0.0, 0.9), letter, small);
    }
}

/// The roll along its length.
fn roll(page: &mut Writer, build: &Build, cuts: &ClothCuts, patterned: bool) {
    let tape = page.tape();
    page.section(&cuts.cloth, 70.0);
    page.paragraph(&format!(
        "{} off a roll {} wide; no plan takes less than {}. Waste {}. {}",
        tape.say(cuts.length_m),
        tape.say(cuts.width_m),
        tape.say(cuts.least_m),
        percent(cuts.waste_share),
        if patterned { "The cloth has a direction: no piece is turned." } else { "Pieces may be turned." }
    ));
    page.paragraph(&format!("{}.", counted_pieces(build, &cuts.pieces, tape).join("; ")));
    let room = page.width() - chains(tape) - 4.0;
    let scale = scale(DVec2::new(cuts.length_m.min(6.0), cuts.width_m), DVec2::new(room, 60.0));
    let rows = breaks(cuts, room * scale / 1000.0);
    let many = rows.len();
    for (index, (from, to)) in rows.into_iter().enumerate() {
        let drawn = DVec2::new(to - from, cuts.width_m) * 1000.0 / scale;
        page.figure(drawn.y + chains(tape) + 5.0, true, |page, area| {
            let small = Lettering::new(paper::SMALL, paper::QUIET);
            let row =
                format!("1:{}, row {} of {many}: from {} to {} along the roll", plain(scale, 0), index + 1, tape.read(from), tape.say(to));
            page.text(area.low + DVec2::new(chains(tape), 2.6), &row, small);
            let place = Area::new(area.low.x + chains(tape), area.low.y + 5.0, drawn.x, drawn.y);
            hatch(page, place);
            let within = |piece: &&CutPiece| piece.low_m[1] < to - 1e-6 && piece.low_m[1] + piece.size_m[1] > from + 1e-6;
            for piece in cuts.pieces.iter().filter(within) {
                let (start, end) = (piece.low_m[1].max(from), (piece.low_m[1] + piece.size_m[1]).min(to));
                let low = DVec2::new(start - from, piece.low_m[0]) * 1000.0 / scale;
                let size = DVec2::new(end - start, piece.size_m[0]) * 1000.0 / scale;
                let area = Area::new(place.low.x + low.x, place.high.y - low.y - size.y, size.x, size.y);
                draw_piece(page, area, &letter_of(build, &piece.kind), &piece.kind, &tape.say_size(piece.size_m[0], piece.size_m[1]));
            }
            page.rect(place, Look::line(paper::INK, 0.5));
            let along = cuts.pieces.iter().flat_map(|piece| [piece.low_m[1], piece.low_m[1] + piece.size_m[1]]);
            let along = along.filter(|at| *at > from - 1e-9 && *at < to + 1e-9).chain([from, to]);
            let along = dimension::distinct(tape, along.map(|at| (at, place.low.x + (at - from) * 1000.0 / scale)).collect());
            let across = cuts
                .pieces
                .iter()
                .filter(within)
                .flat_map(|piece| [piece.low_m[0], piece.low_m[0] + piece.size_m[0]])
                .chain([0.0, cuts.width_m]);
            let across = dimension::distinct(tape, across.map(|at| (at, place.high.y - at * 1000.0 / scale)).collect());
            chain(page, tape, Along::Right, (&along, usize::from(index == 0)), (place.high.y, (area.low.x + 2.0, area.high.x - 1.0)));
            chain(page, tape, Along::Up, (&across, 1), (place.low.x, (place.low.y, place.high.y)));
        });
    }
}

/// Where rows of the roll begin and end, none longer than `most` meters: where no piece is cut through, if there is such a place in the farther half of the row.
fn breaks(cuts: &ClothCuts, most: f64) -> Vec<(f64, f64)> {
    let mut rows = Vec::new();
    let mut from = 0.0;
    while cuts.length_m - from > most + 1e-9 {
        let uncut =
            |at: &f64| cuts.pieces.iter().all(|piece| *at <= piece.low_m[1] + 1e-6 || *at >= piece.low_m[1] + piece.size_m[1] - 1e-6);
        let ends = cuts.pieces.iter().map(|piece| piece.low_m[1] + piece.size_m[1]);
        let found = ends.filter(|at| *at > from + 0.3 * most && *at <= from + most + 1e-9).filter(uncut).reduce(f64::max);
        let to = found.unwrap_or(from + most);
        rows.push((from, to));
        from = to;
    }
    rows.push((from, cuts.length_m));
    rows
}

/// Lengths of timber as bars.
fn bars(page: &mut Writer, build: &Build, cuts: &TimberCuts, kerf: f64) {
    let tape = page.tape();
    page.section(&cuts.timber, 30.0);
    page.paragraph(&format!(
        "{} of {}; no plan takes fewer than {}. Waste {}.",
        counted(cuts.lengths.len(), "length"),
        tape.say(cuts.length_m),
        cuts.least_lengths,
        percent(cuts.waste_share)
    ));
    let room = page.width() - 26.0;
    let scale = scale(DVec2::new(cuts.length_m, 0.0), DVec2::new(room, 1.0));
    for (bar, count) in grouped(&cuts.lengths) {
        let letters = Lettering::new(paper::BODY, paper::INK);
        let sides: Vec<String> =
            bar.pieces.iter().map(|side| format!("{} {}", letter_of(build, &side.kind), tape.read(side.length_m))).collect();
        let told: Vec<String> = grouped(&sides).into_iter().map(|(side, count)| format!("{count} x {side}")).collect();
        let text = format!("{}; left over {}; 1:{}.", told.join(", "), tape.say(bar.rest_m), plain(scale, 0));
        let lines = wrap(letters, &text, room);
        page.figure(9.0 + LINE * lines.len() as f64, true, |page, area| {
            page.text(area.low + DVec2::new(0.0, 5.4), &format!("x {count}"), Lettering::new(paper::SUBHEAD, paper::INK).bold());
            let place = Area::new(area.low.x + 22.0, area.low.y + 0.5, cuts.length_m * 1000.0 / scale, 7.0);
            hatch(page, place);
            let mut at = 0.0;
            for (side, told) in bar.pieces.iter().zip(&sides) {
                let area = Area::new(place.low.x + at * 1000.0 / scale, place.low.y, side.length_m * 1000.0 / scale, 7.0);
                page.rect(area, Look::fill(paper::WHITE).edged(paper::INK, 0.3));
                let small = Lettering::new(paper::SMALL, paper::INK).middle();
                let short = letter_of(build, &side.kind);
                let text = if small.length(told) + 1.0 < area.size().x { told } else { &short };
                if small.length(text) + 0.6 < area.size().x {
                    page.text(area.middle() + DVec2::new(0.0, 0.9), text, small);
                }
                at += side.length_m + kerf;
            }
            page.rect(place, Look::line(paper::INK, 0.5));
            for (index, line) in lines.iter().enumerate() {
                page.text(DVec2::new(place.low.x, area.low.y + 11.2 + LINE * index as f64), line, letters);
            }
        });
    }
}
