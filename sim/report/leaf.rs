//! Lays lists, drawings and cautions out on portrait pages, as many as they take, so that nothing overlaps and nothing runs off.
//!
//! A [`Writer`] fills one chapter from the top down: what has no room goes on with the next page under the same heading. Every block leaves its box behind, and
//! [`Leaf::faults`] says what lies on something else or off the page. [`bind`] numbers the pages of all chapters.
//!
//! *References.* Paper: ISO 216 (A4, 210 x 297 mm); US Letter, 8 1/2 x 11 in, `ANSI/ASME Y14.1` (both from memory).
//!
//! *Limits.* A figure taller than a page is not made smaller: whoever draws it chooses its scale by [`Writer::width`] and [`Writer::tallest`].

use glam::DVec2;

use super::dimension;
use super::paper;
use super::svg::{Area, Drawing, Lettering, Look, size_of};
use super::tape::Tape;
use crate::scene::Scene;
use crate::scene::making::Paper;

use super::leaf_table::{self, Table};

/// Lines of a paragraph that stay together.
const TOGETHER: usize = 3;
/// White round everything, mm.
pub const MARGIN: f64 = 12.0;
/// From the top of the page to the first block, mm.
const TOP: f64 = 28.0;
/// From the last block to the bottom of the page: the ruler and the foot line, mm.
const BOTTOM: f64 = 24.0;
/// From base line to base line of running text, mm.
pub const LINE: f64 = 3.9;
/// From one block to the next, mm.
const BETWEEN: f64 = 2.4;
/// What stays free inside a box, mm.
const PADDING: f64 = 3.0;

/// What all pages have in common.
#[derive(Clone, Debug, PartialEq)]
pub struct Format {
    /// Width and height of the paper, mm.
    pub size: DVec2,
    /// Title of the scene.
    pub scene: String,
    /// The tape that is read.
    pub tape: Tape,
}

impl Format {
    /// The paper that the scene asks for; else US Letter for feet and inches and A4 for meters.
    #[must_use]
    pub fn of(scene: &Scene) -> Self {
        let tape = Tape::of(scene.unit);
        let usual = if tape.is_inch() { Paper::Letter } else { Paper::A4 };
        let size = match scene.making.paper.unwrap_or(usual) {
            Paper::A4 => DVec2::new(210.0, 297.0),
            Paper::Letter => DVec2::new(215.9, 279.4),
        };
        Self { size, scene: scene.name.clone(), tape }
    }
}

/// One page in the making.
#[derive(Clone, Debug)]
pub struct Leaf {
    /// The page.
    pub drawing: Drawing,
    /// Boxes of its blocks, mm.
    pub blocks: Vec<Area>,
    /// Whether something on it is drawn to scale.
    pub to_scale: bool,
    /// Whether it is a sheet, with a head and a foot of its own.
    pub is_sheet: bool,
}

impl Leaf {
    fn new(format: &Format, heading: &str) -> Self {
        let mut drawing = Drawing::new(format.size.x, format.size.y, paper::WHITE);
        let letters = Lettering::new(paper::HEAD, paper::INK).bold();
        drawing.text(DVec2::new(MARGIN, 16.5), &letters.fit(heading, format.size.x - 2.0 * MARGIN), letters);
        Self { drawing, blocks: Vec::new(), to_scale: false, is_sheet: false }
    }

    /// What lies on something else or off the page, in words; empty on a sound page.
    #[must_use]
    pub fn faults(&self) -> Vec<String> {
        let page = Area { low: DVec2::splat(5.0), high: self.drawing.size - DVec2::splat(5.0) };
        let inner = Area { low: DVec2::new(MARGIN - 0.01, TOP - 0.01), high: self.drawing.size - DVec2::new(MARGIN - 0.01, BOTTOM - 0.01) };
        let mut faults = Vec::new();
        for (index, block) in self.blocks.iter().enumerate() {
            if !inner.holds(block) {
                faults.push(format!("block {index} runs off the page: {block:?}"));
            }
            faults.extend(
                self.blocks[..index].iter().filter(|other| other.overlaps(block, 0.01)).map(|_| format!("block {index} lies on another")),
            );
        }
        let labels = &self.drawing.labels;
        for (index, label) in labels.iter().enumerate() {
            if !page.holds(&label.area) {
                faults.push(format!("\"{}\" runs off the page", label.text));
            }
            // Head and foot have no block.
            let in_block =
                |block: &Area| Area { low: block.low - DVec2::splat(1.0), high: block.high + DVec2::splat(1.0) }.holds(&label.area);
            let is_between = label.area.high.y > TOP && label.area.low.y < self.drawing.size.y - BOTTOM;
            if is_between && !self.blocks.iter().any(in_block) {
                faults.push(format!("\"{}\" stands outside its block", label.text));
            }
            let under = labels[..index].iter().filter(|other| other.area.overlaps(&label.area, 0.05));
            faults.extend(under.map(|other| format!("\"{}\" lies on \"{}\"", label.text, other.text)));
        }
        faults
    }
}

/// How loudly a box speaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Voice {
    /// A thin rim.
    Plain,
    /// A thick rim, and the heading white on black.
    Heavy,
}

/// Fills the pages of one chapter.
#[derive(Clone, Debug)]
pub struct Writer {
    format: Format,
    heading: String,
    leaves: Vec<Leaf>,
    /// What waits until this page is full.
    sheets: Vec<Leaf>,
    y: f64,
}

impl Writer {
    /// A chapter with its first, empty page.
    #[must_use]
    pub fn new(format: &Format, heading: &str) -> Self {
        Self { format: format.clone(), heading: heading.to_owned(), leaves: vec![Leaf::new(format, heading)], sheets: Vec::new(), y: TOP }
    }

    /// The tape that is read.
    #[must_use]
    pub fn tape(&self) -> Tape {
        self.format.tape
    }

    /// Width of a block, mm.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.format.size.x - 2.0 * MARGIN
    }

    /// Height of the tallest block, mm.
    #[must_use]
    pub fn tallest(&self) -> f64 {
        self.format.size.y - TOP - BOTTOM
    }

    /// Height that is left on this page, mm.
    #[must_use]
    pub fn left(&self) -> f64 {
        self.format.size.y - BOTTOM - self.y
    }

    /// Goes on with a new page unless this height, mm, is left on this one.
    pub fn keep(&mut self, height: f64) {
        if height > self.left() && self.y > TOP {
            self.leaves.append(&mut self.sheets);
            self.leaves.push(Leaf::new(&self.format, &format!("{} (continued)", self.heading)));
            self.y = TOP;
        }
    }

    /// A block of this height on this page or the next: its box, and what it is drawn on.
    fn block(&mut self, height: f64, after: f64) -> (&mut Leaf, Area) {
        self.keep(height);
        let area = Area::new(MARGIN, self.y, self.width(), height);
        self.y += height + after;
        let last = self.leaves.len() - 1;
        let leaf = &mut self.leaves[last];
        leaf.blocks.push(area);
        (leaf, area)
    }

    /// A sheet (an SVG document of ours) as a page by itself, in its own size, behind the page that is being filled.
    pub fn sheet(&mut self, svg: &str) {
        let Some(size) = size_of(svg) else { return };
        let mut drawing = Drawing::new(size.x, size.y, paper::WHITE);
        drawing.inlay(svg, Area::new(0.0, 0.0, size.x, size.y));
        self.sheets.push(Leaf { drawing, blocks: Vec::new(), to_scale: true, is_sheet: true });
    }

    /// White space, mm.
    pub fn space(&mut self, height: f64) {
        if self.y > TOP {
            self.y += height;
        }
    }

    /// A heading within the chapter, kept together with at least `follows` mm of what comes after it.
    pub fn section(&mut self, text: &str, follows: f64) {
        self.space(2.0);
        self.heading(text, Lettering::new(paper::SUBHEAD, paper::INK).bold(), ([5.0, 3.6, 1.0], follows));
    }

    /// A heading of first rank within the chapter, kept together with at least `follows` mm of what comes after it.
    pub fn part(&mut self, text: &str, follows: f64) {
        self.space(5.0);
        let (leaf, area) = self.heading(text, Lettering::new(paper::HEAD, paper::INK).bold(), ([7.0, 6.0, 2.0], follows));
        leaf.drawing.line(area.low, area.low + DVec2::new(area.size().x, 0.0), Look::line(paper::SOFT, 0.3));
    }

    /// Lines of a heading: from one to the next, to the first base line, and white after them, mm; then what it is kept together with.
    fn heading(&mut self, text: &str, letters: Lettering, ([step, base, after], follows): ([f64; 3], f64)) -> (&mut Leaf, Area) {
        let lines = wrap(letters, text, self.width());
        let height = step * lines.len() as f64;
        self.keep((height + follows + after).min(self.tallest()));
        let (leaf, area) = self.block(height, after);
        for (index, line) in lines.iter().enumerate() {
            leaf.drawing.text(area.low + DVec2::new(0.0, base + step * index as f64), line, letters);
        }
        (leaf, area)
    }

    /// Running text.
    pub fn paragraph(&mut self, text: &str) {
        self.lines(text, Lettering::new(paper::BODY, paper::INK), 0.0);
    }

    /// Running text of second rank.
    pub fn note(&mut self, text: &str) {
        self.lines(text, Lettering::new(paper::BODY, paper::QUIET), 0.0);
    }

    /// Sentences one below another, each behind its number or sign.
    pub fn list(&mut self, items: &[(String, String)]) {
        for (sign, text) in items {
            let letters = Lettering::new(paper::BODY, paper::INK);
            self.keep_first(&wrap(letters, text, self.width() - 6.0));
            let (leaf, y) = (self.leaves.len() - 1, self.y);
            self.lines(text, letters, 6.0);
            self.leaves[leaf].drawing.text(DVec2::new(MARGIN, y + 3.0), sign, letters.bold());
        }
    }

    /// What running text of so many words takes, mm.
    #[must_use]
    pub fn height_of(&self, text: &str) -> f64 {
        LINE * wrap(Lettering::new(paper::BODY, paper::INK), text, self.width()).len() as f64 + BETWEEN - 0.8
    }

    /// Nothing is left alone: neither the first line of a paragraph nor, of short ones, the last.
    fn keep_first(&mut self, lines: &[String]) {
        self.keep(LINE * lines.len().min(TOGETHER) as f64);
    }

    fn lines(&mut self, text: &str, letters: Lettering, indent: f64) {
        let lines = wrap(letters, text, self.width() - indent);
        self.keep_first(&lines);
        for line in lines {
            let (leaf, area) = self.block(LINE, 0.0);
            leaf.drawing.text(area.low + DVec2::new(indent, 3.0), &line, letters);
        }
        self.space(if indent > 0.0 { 0.8 } else { BETWEEN - 0.8 });
    }

    /// A table; its head is repeated on every page that it goes on to.
    pub fn table(&mut self, table: &Table) {
        let widths = leaf_table::widths(table, self.width());
        let most = ((self.tallest() - 20.0) / LINE).floor().max(1.0) as usize;
        let rows = leaf_table::rows(table, &widths, most);
        let head = leaf_table::head(table, &widths);
        let mut page = 0;
        for row in &rows {
            if page != self.leaves.len() || row.height > self.left() {
                self.keep(head.height + row.height);
                let (leaf, area) = self.block(head.height, 0.0);
                head.draw(&mut leaf.drawing, area, &widths, table);
                page = self.leaves.len();
            }
            let (leaf, area) = self.block(row.height, 0.0);
            row.draw(&mut leaf.drawing, area, &widths, table);
        }
        self.space(BETWEEN + 1.0);
    }

    /// A drawing of this height in mm; `draw` gets the page and its box.
    pub fn figure(&mut self, height: f64, to_scale: bool, draw: impl FnOnce(&mut Drawing, Area)) {
        let (leaf, area) = self.block(height, BETWEEN);
        leaf.to_scale |= to_scale;
        draw(&mut leaf.drawing, area);
    }

    /// A box with a heading, kept whole wherever a page can hold it.
    pub fn boxed(&mut self, heading: &str, lines: &[String], voice: Voice) {
        let letters = Lettering::new(paper::BODY, paper::INK);
        let room = self.width() - 2.0 * PADDING - 4.0;
        // Each sentence behind a dash, its further lines below its first.
        let all: Vec<(bool, String)> = lines
            .iter()
            .flat_map(|line| wrap(letters, line, room).into_iter().enumerate().map(|(index, line)| (index == 0, line)))
            .collect();
        let frame = 7.6 + 2.0 * PADDING;
        let most = (((self.tallest() - frame) / LINE).floor() as usize).max(1);
        for (part, chunk) in all.chunks(most).enumerate() {
            let heading = if part == 0 { heading.to_owned() } else { format!("{heading} (continued)") };
            let (leaf, area) = self.block(frame + LINE * chunk.len() as f64, BETWEEN + 1.0);
            let page = &mut leaf.drawing;
            let (rim, band) = match voice {
                Voice::Plain => (0.4, false),
                Voice::Heavy => (1.2, true),
            };
            let inside = Area { low: area.low + DVec2::splat(0.5 * rim), high: area.high - DVec2::splat(0.5 * rim) };
            page.rect(inside, Look::line(paper::INK, rim));
            if band {
                page.rect(Area::new(area.low.x, area.low.y, area.size().x, 8.0), Look::fill(paper::INK));
            }
            let title = Lettering::new(paper::SUBHEAD, if band { paper::WHITE } else { paper::INK }).bold();
            page.text(area.low + DVec2::new(PADDING, 5.4), &title.fit(&heading, area.size().x - 2.0 * PADDING), title);
            for (index, (first, line)) in chunk.iter().enumerate() {
                let at = area.low + DVec2::new(PADDING, 7.6 + PADDING + LINE * (index as f64 + 0.5));
                if *first {
                    page.text(at, "-", letters);
                }
                page.text(at + DVec2::new(3.0, 0.0), line, letters);
            }
        }
    }
}

/// A chapter that is done.
#[derive(Clone, Debug)]
pub struct Chapter {
    /// Stem of its file names.
    pub stem: String,
    /// What the list of contents calls it.
    pub title: String,
    /// Its pages.
    pub leaves: Vec<Leaf>,
}

impl Writer {
    /// Its pages.
    #[must_use]
    pub fn finish(mut self, stem: &str) -> Chapter {
        self.leaves.append(&mut self.sheets);
        Chapter { stem: stem.to_owned(), title: self.heading, leaves: self.leaves }
    }
}

/// Numbers pages, and names the command that wrote them: name of the file without its ending, and the page. `numbers` are those of each chapter's first page, of `of` together.
#[must_use]
pub fn bind(format: &Format, chapters: Vec<Chapter>, (numbers, of): (&[usize], usize), command: &str) -> Vec<(String, Leaf)> {
    let mut all = Vec::new();
    for (chapter, first) in chapters.into_iter().zip(numbers) {
        let Chapter { stem, leaves, .. } = chapter;
        for (index, mut leaf) in leaves.into_iter().enumerate() {
            let name = if index == 0 { stem.clone() } else { format!("{stem}-{}", index + 1) };
            if leaf.is_sheet {
                all.push((name, leaf));
                continue;
            }
            let page = &mut leaf.drawing;
            let quiet = Lettering::new(paper::BODY, paper::QUIET);
            let text = format!(" | page {} of {of} | {command}", first + index);
            let width = format.size.x - 2.0 * MARGIN;
            let text = quiet.fit(&format.scene, width - quiet.length(&text)) + &text;
            page.text(DVec2::new(MARGIN, 22.4), text.trim_start_matches(" | "), quiet);
            if leaf.to_scale {
                dimension::ruler(page, DVec2::new(MARGIN, format.size.y - 17.5), format.tape);
                let small = Lettering::new(paper::SMALL, paper::QUIET).end();
                page.text(format.size - DVec2::new(MARGIN, 12.9), "print at 100 %, not \"fit to page\"", small);
            }
            all.push((name, leaf));
        }
    }
    all
}

/// Text in lines no longer than `room` mm, broken at spaces; a word that is longer is broken where it must, so that no letter is lost.
#[must_use]
pub fn wrap(letters: Lettering, text: &str, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(char::is_whitespace).filter(|word| !word.is_empty()) {
        if let Some(line) = lines.last_mut()
            && letters.length(&format!("{line} {word}")) <= room
        {
            line.push(' ');
            line.push_str(word);
            continue;
        }
        let mut part = String::new();
        for letter in word.chars() {
            if !part.is_empty() && letters.length(&format!("{part}{letter}")) > room {
                lines.push(std::mem::take(&mut part));
            }
            part.push(letter);
        }
        lines.push(part);
    }
    lines
}
