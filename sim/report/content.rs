//! What a page says, before it is printed: headings, sentences, tables in their order. The command line prints it in columns of letters ([`super::text`]), the report as HTML and on paper (`handout`).
//!
//! *Limits.* Our own words are ASCII (`+-`, `m2`); a printer that can do better puts the sign in their place.

/// A page in the making, and made.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Page {
    /// What it says, in order.
    pub blocks: Vec<Block>,
}

/// A part of a page.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// The title.
    Title(String),
    /// A heading over a section.
    Section(String),
    /// A paragraph; behind a mark such as `1.` or `-`, or behind none.
    Paragraph {
        /// The mark.
        mark: String,
        /// The text.
        text: String,
    },
    /// A table that has rows.
    Table(Table),
    /// The answer ends here; what follows is what it rests on.
    Rest,
}

impl Page {
    /// A page that begins with its title.
    #[must_use]
    pub fn new(title: &str) -> Self {
        Self { blocks: vec![Block::Title(clean(title))] }
    }

    /// A heading over a section.
    pub fn section(&mut self, heading: &str) {
        self.blocks.push(Block::Section(clean(heading)));
    }

    /// Ends the answer: the sections that follow are what it rests on.
    pub fn rest(&mut self) {
        self.blocks.push(Block::Rest);
    }

    /// A paragraph of a section.
    pub fn paragraph(&mut self, text: &str) {
        self.hanging("", text);
    }

    /// A paragraph behind a mark such as `1.` or `-`.
    pub fn hanging(&mut self, mark: &str, text: &str) {
        self.blocks.push(Block::Paragraph { mark: mark.to_owned(), text: clean(text) });
    }

    /// A table; nothing if it has no rows.
    pub fn table(&mut self, table: &Table) {
        if !table.rows.is_empty() {
            self.blocks.push(Block::Table(table.clone()));
        }
    }

    /// Its sections, each with its heading; what stands before the first one is left out.
    #[must_use]
    pub fn sections(self) -> Vec<Section> {
        let mut sections: Vec<Section> = Vec::new();
        for block in self.blocks {
            match (block, sections.last_mut()) {
                (Block::Rest, _) => {}
                (Block::Section(heading), _) => sections.push(Section { heading, blocks: Vec::new() }),
                (block, Some(section)) => section.blocks.push(block),
                (_, None) => {}
            }
        }
        sections
    }
}

/// A section of a page.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Its heading.
    pub heading: String,
    /// Paragraphs and tables.
    pub blocks: Vec<Block>,
}

/// Where the text of a column stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words: wrapped where there is no room.
    Left,
    /// Numbers: never wrapped.
    Right,
}

/// Rows under heads.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Heads, and where their columns stand.
    pub heads: Vec<(String, Align)>,
    /// A cell for each head.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table with these heads; `<` before a head makes a column of words, anything else is a column of numbers.
    #[must_use]
    pub fn new<S: AsRef<str>>(heads: &[S]) -> Self {
        let head = |head: &S| match head.as_ref().strip_prefix('<') {
            Some(words) => (words.to_owned(), Align::Left),
            None => (head.as_ref().to_owned(), Align::Right),
        };
        Self { heads: heads.iter().map(head).collect(), rows: Vec::new() }
    }

    /// Adds a row; it has a cell for each head.
    pub fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        let cells: Vec<String> = cells.into_iter().map(|cell| clean(&cell)).collect();
        assert_eq!(cells.len(), self.heads.len(), "a row has a cell for each head");
        self.rows.push(cells);
    }
}

/// Text without control characters, which a terminal would obey.
fn clean(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '?' } else { c }).collect()
}
