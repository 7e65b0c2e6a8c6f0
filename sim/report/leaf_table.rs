//! Tables of the list pages: columns as wide as what stands in them, cells that wrap, boxes to tick.
//!
//! *Limits.* Where all columns together are wider than the page, each gives way in proportion to what it can spare; the longest words break last.

use glam::DVec2;

use super::paper;
use super::svg::{Area, Drawing, Lettering, Look};

use super::leaf::{LINE, wrap};

/// A cell that holds a box to tick.
pub const TICK: &str = "\u{2610}";
/// Between two columns, mm.
const GAP: f64 = 4.0;
/// Side of a box to tick, mm.
const BOX: f64 = 3.0;

/// A table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// Headings; one that begins with `#` has its column set to the right.
    pub heads: Vec<String>,
    /// Rows.
    pub rows: Vec<Row>,
}

/// A row of cells.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// What stands in it.
    pub cells: Vec<String>,
    /// A sum.
    pub bold: bool,
}

impl Table {
    /// A table with these headings; one that begins with `#` has its column set to the right.
    #[must_use]
    pub fn new(heads: &[&str]) -> Self {
        Self { heads: heads.iter().map(|head| (*head).to_owned()).collect(), rows: Vec::new() }
    }

    /// A further row.
    pub fn row(&mut self, cells: Vec<String>) {
        self.rows.push(Row { cells, bold: false });
    }

    /// A further row in bold.
    pub fn sum(&mut self, cells: Vec<String>) {
        self.rows.push(Row { cells, bold: true });
    }

    fn is_right(&self, column: usize) -> bool {
        self.heads.get(column).is_some_and(|head| head.starts_with('#'))
    }
}

/// A row with its cells in lines.
#[derive(Clone, Debug)]
pub struct SetRow {
    /// Height, mm.
    pub height: f64,
    lines: Vec<Vec<String>>,
    letters: Lettering,
    rule: f64,
}

fn body(bold: bool) -> Lettering {
    let letters = Lettering::new(paper::BODY, paper::INK);
    if bold { letters.bold() } else { letters }
}

fn heading() -> Lettering {
    Lettering::new(paper::SMALL, paper::QUIET)
}

/// Widths of the columns within `room` mm.
#[must_use]
pub fn widths(table: &Table, room: f64) -> Vec<f64> {
    let count = table.heads.len();
    let room = room - GAP * count.saturating_sub(1) as f64;
    let mut least = vec![BOX; count];
    let mut most = vec![BOX; count];
    let mut ask = |column: usize, text: &str, letters: Lettering| {
        let word = text.split(char::is_whitespace).map(|word| letters.length(word)).fold(0.0, f64::max);
        // Figures stay in one line with their unit.
        let word = if table.is_right(column) && letters.size > paper::SMALL { letters.length(text) } else { word };
        least[column] = least[column].max(word + 0.1);
        most[column] = most[column].max(letters.length(text) + 0.1);
    };
    for (column, head) in table.heads.iter().enumerate() {
        ask(column, head.trim_start_matches('#'), heading());
    }
    for row in &table.rows {
        for (column, cell) in row.cells.iter().enumerate().take(count).filter(|(_, cell)| *cell != TICK) {
            ask(column, cell, body(row.bold));
        }
    }
    let (sum_least, sum_most): (f64, f64) = (least.iter().sum(), most.iter().sum());
    if sum_most <= room {
        // What is left over goes to the columns of text.
        let grows = |column: usize| !table.is_right(column) && !table.heads[column].is_empty();
        let texts = (0..count).filter(|column| grows(*column)).count().max(1);
        let share = ((room - sum_most) / texts as f64).min(24.0);
        return (0..count).map(|column| most[column] + if grows(column) { share } else { 0.0 }).collect();
    }
    if sum_least <= room {
        let share = (room - sum_least) / (sum_most - sum_least);
        return least.iter().zip(&most).map(|(least, most)| least + share * (most - least)).collect();
    }
    // Even single words are too long: narrow columns keep what they need, the others share the rest.
    let fair = room / count as f64;
    let narrow: f64 = least.iter().filter(|width| **width <= fair).sum();
    let wide: f64 = least.iter().filter(|width| **width > fair).sum();
    least.iter().map(|width| if *width <= fair { *width } else { width * (room - narrow) / wide }).collect()
}

/// The rows, each no taller than `most` lines: what is taller goes on in the next.
#[must_use]
pub fn rows(table: &Table, widths: &[f64], most: usize) -> Vec<SetRow> {
    let mut all = Vec::new();
    for row in &table.rows {
        let letters = body(row.bold);
        let cells: Vec<Vec<String>> = row
            .cells
            .iter()
            .zip(widths)
            .map(|(cell, width)| if cell == TICK { vec![TICK.to_owned()] } else { wrap(letters, cell, *width) })
            .collect();
        let tallest = cells.iter().map(Vec::len).max().unwrap_or(0).max(1);
        for start in (0..tallest).step_by(most) {
            let part = |lines: &Vec<String>| lines.iter().skip(start).take(most).cloned().collect::<Vec<_>>();
            let lines: Vec<Vec<String>> = cells.iter().map(part).collect();
            let count = (tallest - start).min(most);
            all.push(SetRow { height: LINE * count as f64 + 1.4, lines, letters, rule: if row.bold { 0.35 } else { 0.15 } });
        }
    }
    all
}

/// The row of headings.
#[must_use]
pub fn head(table: &Table, widths: &[f64]) -> SetRow {
    let lines: Vec<Vec<String>> =
        table.heads.iter().zip(widths).map(|(head, width)| wrap(heading(), head.trim_start_matches('#'), *width)).collect();
    let count = lines.iter().map(Vec::len).max().unwrap_or(0).max(1);
    SetRow { height: LINE * count as f64 + 1.2, lines, letters: heading(), rule: 0.35 }
}

impl SetRow {
    /// Draws it into its box.
    pub fn draw(&self, page: &mut Drawing, area: Area, widths: &[f64], table: &Table) {
        let mut x = area.low.x;
        for (column, (lines, width)) in self.lines.iter().zip(widths).enumerate() {
            for (index, line) in lines.iter().enumerate() {
                let y = area.low.y + 3.4 + LINE * index as f64;
                if line == TICK {
                    page.rect(Area::new(x, y - 2.6, BOX, BOX), Look::line(paper::INK, 0.3));
                } else if table.is_right(column) {
                    page.text(DVec2::new(x + width, y), line, self.letters.end());
                } else {
                    page.text(DVec2::new(x, y), line, self.letters);
                }
            }
            x += width + GAP;
        }
        let color = if self.rule > 0.2 { paper::INK } else { paper::SOFT };
        let end = (x - GAP).min(area.high.x);
        page.line(DVec2::new(area.low.x, area.high.y), DVec2::new(end, area.high.y), Look::line(color, self.rule));
    }
}
