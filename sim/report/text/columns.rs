//! Pages of text: headings, wrapped paragraphs, tables whose columns line up.

/// Widest line, in characters.
pub(super) const WIDTH: usize = 100;
/// Spaces before a line of a section.
const INDENT: usize = 2;
/// Spaces between two columns.
const GAP: usize = 2;
/// Narrowest a column of words is made.
const NARROW: usize = 6;

/// Where the text of a column stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Align {
    /// Words: wrapped where there is no room.
    Left,
    /// Numbers: never wrapped.
    Right,
}

/// A text page in the making.
#[derive(Debug, Default)]
pub(super) struct Page {
    text: String,
    /// Whether a table was the last thing on it: a second one keeps a line's distance.
    after_table: bool,
}

impl Page {
    /// A page that begins with its title.
    pub(super) fn new(title: &str) -> Self {
        let mut page = Self::default();
        let lines = wrapped(&clean(title), WIDTH);
        let longest = lines.iter().map(|line| count(line)).max().unwrap_or(0);
        for line in lines {
            page.line(&line);
        }
        page.line(&"=".repeat(longest));
        page
    }

    /// A heading over a section.
    pub(super) fn section(&mut self, heading: &str) {
        self.text.push('\n');
        for line in wrapped(&clean(heading), WIDTH) {
            self.line(&line);
        }
    }

    /// A paragraph of a section, wrapped.
    pub(super) fn paragraph(&mut self, text: &str) {
        self.hanging("", text);
    }

    /// A paragraph behind a mark such as `1.` or `-`, its further lines under its first word.
    pub(super) fn hanging(&mut self, mark: &str, text: &str) {
        let lead = if mark.is_empty() { String::new() } else { format!("{mark} ") };
        let inner = INDENT + count(&lead);
        for (index, line) in wrapped(&clean(text), WIDTH - inner).iter().enumerate() {
            let before = if index == 0 { format!("{}{lead}", " ".repeat(INDENT)) } else { " ".repeat(inner) };
            self.line(&format!("{before}{line}"));
        }
    }

    /// A table; nothing if it has no rows.
    pub(super) fn table(&mut self, table: &Table) {
        if table.rows.is_empty() {
            return;
        }
        if self.after_table {
            self.text.push('\n');
        }
        let widths = table.widths();
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

    /// The page as text.
    pub(super) fn finish(self) -> String {
        self.text
    }
}

/// Rows under heads.
#[derive(Debug)]
pub(super) struct Table {
    heads: Vec<(String, Align)>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table with these heads; `<` before a head makes a column of words, anything else is a column of numbers.
    pub(super) fn new<S: AsRef<str>>(heads: &[S]) -> Self {
        let head = |head: &S| match head.as_ref().strip_prefix('<') {
            Some(words) => (words.to_owned(), Align::Left),
            None => (head.as_ref().to_owned(), Align::Right),
        };
        Self { heads: heads.iter().map(head).collect(), rows: Vec::new() }
    }

    /// Adds a row; it has a cell for each head.
    pub(super) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        let cells: Vec<String> = cells.into_iter().map(|cell| clean(&cell)).collect();
        assert_eq!(cells.len(), self.heads.len(), "a row has a cell for each head");
        self.rows.push(cells);
    }

    /// Natural widths; columns of words give way, the widest first, until the line fits.
    fn widths(&self) -> Vec<usize> {
        let widest = |column: usize| self.rows.iter().map(|row| count(&row[column])).max().unwrap_or(0);
        let mut widths: Vec<usize> = self.heads.iter().enumerate().map(|(column, (head, _))| count(head).max(widest(column))).collect();
        let mut excess = (INDENT + widths.iter().sum::<usize>() + GAP * widths.len().saturating_sub(1)).saturating_sub(WIDTH);
        while excess > 0 {
            let words = self.heads.iter().zip(&mut widths).filter(|((_, align), width)| *align == Align::Left && **width > NARROW);
            let Some((_, width)) = words.max_by_key(|(_, width)| **width) else { break };
            *width -= 1;
            excess -= 1;
        }
        widths
    }
}

/// Text without control characters, which a terminal would obey.
fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '?' } else { c }).collect()
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
