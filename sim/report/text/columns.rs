//! Pages as text: headings, wrapped paragraphs, tables whose columns line up.

use super::Extent;
use crate::report::content::{Align, Block};
pub(super) use crate::report::content::{Page, Table};

/// Widest line, in characters.
pub(super) const WIDTH: usize = 100;
/// What stands in place of what an answer rests on.
const LEFT_OUT: &str = "That is the answer. Every table that it rests on is in what was written, and printed here with --full.";
/// Spaces before a line of a section.
const INDENT: usize = 2;
/// Spaces between two columns.
const GAP: usize = 2;
/// Narrowest a column of words is made.
const NARROW: usize = 6;

impl Page {
    /// The page as text.
    pub(super) fn finish(self) -> String {
        self.print(Extent::Full)
    }

    /// So much of it as text, and what is left out.
    pub(super) fn print(self, extent: Extent) -> String {
        let rest = self.blocks.iter().position(|block| *block == Block::Rest).filter(|_| extent == Extent::Short);
        let shown = rest.unwrap_or(self.blocks.len());
        let mut text = Text::default();
        self.blocks[..shown].iter().for_each(|block| text.block(block));
        if rest.is_some() {
            text.text.push('\n');
            text.paragraph("", LEFT_OUT);
        }
        text.text
    }
}

/// Text in the making.
#[derive(Debug, Default)]
struct Text {
    text: String,
    /// Whether a table was the last thing on it: a second one keeps a line's distance.
    after_table: bool,
}

impl Text {
    fn block(&mut self, block: &Block) {
        match block {
            Block::Title(title) => {
                let lines = wrapped(title, WIDTH);
                let longest = lines.iter().map(|line| count(line)).max().unwrap_or(0);
                lines.iter().for_each(|line| self.line(line));
                self.line(&"=".repeat(longest));
            }
            Block::Section(heading) => {
                self.text.push('\n');
                wrapped(heading, WIDTH).iter().for_each(|line| self.line(line));
            }
            Block::Paragraph { mark, text } => self.paragraph(mark, text),
            Block::Table(table) => self.table(table),
            Block::Rest => {}
        }
    }

    /// A paragraph, wrapped; its further lines stand under its first word.
    fn paragraph(&mut self, mark: &str, text: &str) {
        let lead = if mark.is_empty() { String::new() } else { format!("{mark} ") };
        let inner = INDENT + count(&lead);
        for (index, line) in wrapped(text, WIDTH - inner).iter().enumerate() {
            let before = if index == 0 { format!("{}{lead}", " ".repeat(INDENT)) } else { " ".repeat(inner) };
            self.line(&format!("{before}{line}"));
        }
    }

    fn table(&mut self, table: &Table) {
        if self.after_table {
            self.text.push('\n');
        }
        let widths = widths(table);
        let heads: Vec<String> = table.heads.iter().map(|(head, _)| head.clone()).collect();
        self.row(table, &heads, &widths);
        let rules: Vec<String> = widths.iter().map(|&width| "-".repeat(width)).collect();
        self.row(table, &rules, &widths);
        for row in &table.rows {
            self.row(table, row, &widths);
        }
        self.after_table = true;
    }

    fn row(&mut self, table: &Table, cells: &[String], widths: &[usize]) {
        let wrapped_cells: Vec<Vec<String>> = cells.iter().zip(widths).map(|(cell, &width)| wrapped(cell, width)).collect();
        let height = wrapped_cells.iter().map(Vec::len).max().unwrap_or(0);
        for line in 0..height {
            let mut text = " ".repeat(INDENT);
            for (((_, align), cell), &width) in table.heads.iter().zip(&wrapped_cells).zip(widths) {
                let part = cell.get(line).map_or("", String::as_str);
                let space = " ".repeat(width.saturating_sub(count(part)));
                match align {
                    Align::Left => text.extend([part, &space]),
                    Align::Right => text.extend([&space, part]),
                }
                text.push_str(&" ".repeat(GAP));
            }
            self.line(&text);
        }
    }

    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
        self.after_table = false;
    }
}

/// Natural widths; columns of words give way, the widest first, until the line fits.
fn widths(table: &Table) -> Vec<usize> {
    let widest = |column: usize| table.rows.iter().map(|row| count(&row[column])).max().unwrap_or(0);
    let mut widths: Vec<usize> = table.heads.iter().enumerate().map(|(column, (head, _))| count(head).max(widest(column))).collect();
    let mut excess = (INDENT + widths.iter().sum::<usize>() + GAP * widths.len().saturating_sub(1)).saturating_sub(WIDTH);
    while excess > 0 {
        let words = table.heads.iter().zip(&mut widths).filter(|((_, align), width)| *align == Align::Left && **width > NARROW);
        let Some((_, width)) = words.max_by_key(|(_, width)| **width) else { break };
        *width -= 1;
        excess -= 1;
    }
    widths
}

fn count(text: &str) -> usize {
    text.chars().count()
}

/// Lines of at most this width, broken between words; a longer word is cut. At least one line.
fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut length = 0;
    for word in text.split_whitespace() {
        let mut word: Vec<char> = word.chars().collect();
        if length > 0 && length + 1 + word.len() > width {
            lines.push(String::new());
            length = 0;
        }
        while word.len() > width {
            let rest = word.split_off(width);
            let last = lines.len() - 1;
            lines[last].extend(word);
            lines.push(String::new());
            word = rest;
        }
        let last = lines.len() - 1;
        if length > 0 {
            lines[last].push(' ');
            length += 1;
        }
        length += word.len();
        lines[last].extend(word);
    }
    lines
}
