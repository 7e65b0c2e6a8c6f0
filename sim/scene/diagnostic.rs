//! What is wrong with a scene text, where, and what to type instead.
//!
//! Every mistake is one [`Diagnostic`]; all of a text are collected before anything is said. Ids are short and stable, so that tests
//! and people can name them.
//!
//! *Limits.* Columns count characters, not the width on a screen.

use std::fmt;
use std::ops::Range;

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The scene cannot be used.
    Error,
    /// The scene can be used; the person should look.
    Warning,
}

/// One mistake.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// Error or warning.
    pub severity: Severity,
    /// Stable short name of the rule, `surface-not-found`.
    pub id: &'static str,
    /// Bytes of the scene text it is about.
    pub span: Range<usize>,
    /// Line of its first character, from 1.
    pub line: usize,
    /// Column of its first character, from 1.
    pub column: usize,
    /// What is, and what was expected.
    pub message: String,
    /// What to type instead.
    pub hint: Option<String>,
}

impl Diagnostic {
    /// The diagnostic as a person reads it: the message, the offending line with carets under the offending text, the hint.
    ///
    /// `source` is the text that was read; `file` is how the person calls it.
    #[must_use]
    pub fn render(&self, source: &str, file: &str) -> String {
        let line = source.lines().nth(self.line - 1).unwrap_or("");
        let gutter = self.line.to_string();
        let blank = " ".repeat(gutter.len());
        let offending = source.get(self.span.clone()).unwrap_or("").lines().next().unwrap_or("").chars().count();
        let room = line.chars().count().saturating_sub(self.column - 1);
        let carets = "^".repeat(offending.min(room).max(1));
        // Tabs stay tabs under the line, so that the carets stand below the text whatever a tab is wide.
        let indent: String = line.chars().take(self.column - 1).map(|c| if c == '\t' { '\t' } else { ' ' }).collect();
        let mut text = format!("{self}\n{blank}--> {file}:{}:{}\n", self.line, self.column);
        text.push_str(&format!("{blank} |\n{gutter} | {line}\n{blank} | {indent}{carets}\n"));
        if let Some(hint) = &self.hint {
            text.push_str(&format!("{blank} = hint: {hint}\n"));
        }
        text
    }
}

impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let severity = match self.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        };
        write!(f, "{severity}[{}]: {}", self.id, self.message)
    }
}

/// Line and column, both from 1 and counted in characters, of a byte of the text.
#[must_use]
pub fn line_and_column(source: &str, byte: usize) -> (usize, usize) {
    let mut byte = byte.min(source.len());
    while !source.is_char_boundary(byte) {
        byte -= 1;
    }
    let before = &source[..byte];
    let start = before.rfind('\n').map_or(0, |newline| newline + 1);
    (before.matches('\n').count() + 1, before[start..].chars().count() + 1)
}

/// The word nearest to a mistyped one, if any is near enough to be meant.
#[must_use]
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    let limit = (word.chars().count() / 3).max(2);
    let distances = known.into_iter().map(|candidate| (edit_distance(&word, &candidate.to_lowercase()), candidate));
    distances
        .filter(|(distance, candidate)| *distance <= limit && *distance < candidate.chars().count())
        .min_by_key(|(d, _)| *d)
        .map(|(_, c)| c)
}

/// How many letters must be put in, left out, exchanged or swapped with their neighbor to turn one word into the other.
#[must_use]
pub fn edit_distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().take(100).collect(), b.chars().take(100).collect());
    let mut rows: Vec<Vec<usize>> = vec![(0..=b.len()).collect()];
    for (i, from) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, to) in b.iter().enumerate() {
            let mut best = (rows[i][j] + usize::from(from != to)).min(rows[i][j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && *from == b[j - 1] && a[i - 1] == *to {
                best = best.min(rows[i - 1][j - 1] + 1);
            }
            row.push(best);
        }
        rows.push(row);
    }
    rows[a.len()][b.len()]
}
