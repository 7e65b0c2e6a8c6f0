//! The layouts of a room, A and B: the text that is shown and the one that is not, as one value that undo gives back whole and that a
//! recovery copy holds whole.
//!
//! A copy of one layout is its text and nothing else. A copy of two begins with a line that says which is shown and how long both are,
//! and then holds the shown text and the other one:
//!
//! ```text
//! # Two layouts; shown first: B; bytes of each: 4213 and 4250
//! ```
//!
//! *Limits.* A copy whose lengths are not those of its first line was edited by someone: it is taken as one text, first line and all.

use std::sync::Arc;

/// What the first line of a copy of two begins with.
const HEAD: &str = "# Two layouts; shown first: ";
/// What stands before the lengths.
const LENGTHS: &str = "; bytes of each: ";
/// What stands between them.
const AND: &str = " and ";

/// The layouts of a room.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Layouts {
    /// The text that is shown.
    pub(crate) shown: String,
    /// The text of the layout that is not; `None` while there is only one.
    pub(crate) other: Option<Arc<str>>,
    /// Whether B is shown.
    pub(crate) shows_b: bool,
}

impl Layouts {
    /// One layout.
    pub(crate) fn one(text: String) -> Self {
        Self { shown: text, ..Self::default() }
    }

    /// With the other one shown; the first time both are alike.
    pub(crate) fn swapped(&self) -> Self {
        let shown = self.other.as_deref().unwrap_or(&self.shown).to_owned();
        Self { shown, other: Some(self.shown.as_str().into()), shows_b: !self.shows_b }
    }

    /// Letter of the layout that is shown.
    pub(crate) fn letter(&self) -> char {
        if self.shows_b { 'B' } else { 'A' }
    }

    /// Letter of the layout that is not.
    pub(crate) fn other_letter(&self) -> char {
        if self.shows_b { 'A' } else { 'B' }
    }

    /// The recovery copy.
    pub(crate) fn copy(&self) -> String {
        let Some(other) = &self.other else { return self.shown.clone() };
        let (letter, shown) = (self.letter(), &self.shown);
        format!("{HEAD}{letter}{LENGTHS}{}{AND}{}\n{shown}{other}", shown.len(), other.len())
    }

    /// What a recovery copy holds.
    pub(crate) fn of_copy(copy: String) -> Self {
        Self::two_of(&copy).unwrap_or_else(|| Self::one(copy))
    }

    fn two_of(copy: &str) -> Option<Self> {
        let (head, texts) = copy.strip_prefix(HEAD)?.split_once('\n')?;
        let (letter, lengths) = head.split_once(LENGTHS)?;
        let (shown, other) = lengths.split_once(AND)?;
        let (long, other_long) = (shown.parse::<usize>().ok()?, other.parse::<usize>().ok()?);
        let (shown, other) = texts.split_at_checked(long)?;
        let is_whole = other.len() == other_long && matches!(letter, "A" | "B");
        is_whole.then(|| Self { shown: shown.to_owned(), other: Some(other.into()), shows_b: letter == "B" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_both_layouts_in_a_copy() {
        let one = Layouts::one("name = \"Küche\"\n".to_owned());
        assert_eq!(one.copy(), one.shown, "a copy of one is a scene as it stands");
        let b = Layouts { shown: "name = \"Küche\"\n# B".to_owned(), ..one.swapped() };
        // Texts that end without a line break, are empty, or look like the first line themselves.
        let nested = Layouts { shown: b.copy(), other: Some(b.copy().into()), shows_b: false };
        for layouts in [one, b.clone(), b.swapped(), Layouts { shown: String::new(), ..b.clone() }, nested] {
            assert_eq!(Layouts::of_copy(layouts.copy()), layouts);
        }
        assert!(b.shows_b && (b.letter(), b.other_letter()) == ('B', 'A') && b.swapped().swapped() == b);
    }

    #[test]
    fn keeps_an_edited_copy_as_one_text() {
        let copy = Layouts::one("ä = 1\n".to_owned()).swapped().copy();
        let edits = [copy.clone() + "x", copy.replace("7 and", "8 and"), copy.replace("7 and", "1 and"), copy.replace(": B", ": C")];
        for edited in edits.into_iter().chain([copy.replace("7 and 7", "99999999999999999999999 and 7"), HEAD.to_owned()]) {
            assert_ne!(edited, copy);
            assert_eq!(Layouts::of_copy(edited.clone()), Layouts::one(edited));
        }
    }
}
