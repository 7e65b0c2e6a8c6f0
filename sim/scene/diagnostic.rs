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

/// All of them as a person reads them, and how many there are.
#[must_use]
pub fn report(found: &[Diagnostic], source: &str, file: &str) -> String {
    let errors = found.iter().filter(|found| found.severity == Severity::Error).count();
    let counted = |count: usize, word: &str| match count {
        0 => None,
        1 => Some(format!("1 {word}")),
        _ => Some(format!("{count} {word}s")),
    };
    let mut text: String = found.iter().map(|found| found.render(source, file) + "\n").collect();
    let counts: Vec<String> = [counted(errors, "error"), counted(found.len() - errors, "warning")].into_iter().flatten().collect();
    if !counts.is_empty() {
        text.push_str(&format!("{file}: {}\n", counts.join(", ")));
    }
    text
}

/// Every id, and what it means.
pub const IDS: [(&str, &str); 62] = [
    ("aim-unclear", "something points at itself, nowhere, or cannot know where to face"),
    ("angles-unclear", "the angles of polar data do not begin on the axis, rise, and reach the side"),
    ("axis-not-zero", "a level of polar data on the axis is not 0 dB: levels are re the axis"),
    ("block-outside", "a block reaches through a wall or the ceiling"),
    ("blocks-overlap", "two blocks reach into each other"),
    ("budget-unused", "warning: a budget that has nothing to buy, or buys nothing"),
    ("ceiling-too-low", "the ceiling comes down to less than 0.5 m"),
    ("ceiling-unclear", "the walls or points given for a part of the ceiling make no plane"),
    ("ceiling-unused", "warning: a part of the ceiling is nowhere the lowest"),
    ("clearance-off-surface", "warning: a clearance reaches beyond its surface"),
    ("corner-not-found", "there is no such corner, or two walls do not meet"),
    ("drill-needed", "warning: a type of panel is screwed on, and nothing may be drilled where it could go"),
    ("duplicate-key", "a key or table is written twice"),
    ("edge-not-found", "the outline has no such edge"),
    ("edge-twice", "an edge of the outline is described twice"),
    ("format-unknown", "the text is of a format that this program does not read"),
    ("gap-no-choice", "several gaps are given for a panel that there is no choice of gap for"),
    ("gap-too-deep", "a panel with the air behind it is deeper than the room"),
    ("gap-twice", "two gaps of a panel are as good as one"),
    ("goals-conflict", "goals that nothing can meet, or none at all"),
    ("head-above-ceiling", "the head at a seat has no room below the ceiling or a block"),
    ("inside-block", "a source, ear or microphone is inside a block"),
    ("instead-unclear", "a type of panel stands instead of itself, or of one that itself stands instead of another"),
    ("key-missing", "something that is needed is not said"),
    ("keys-conflict", "the same is said in two ways, or keys do not go together"),
    ("layers-too-thick", "the parts of a panel are thicker than the panel"),
    ("layers-too-thin", "warning: the layers of a panel do not fill it"),
    ("material-not-found", "no row of the table and no [[material]] has this name"),
    ("name-taken", "two things of a kind have one name"),
    ("no-receiver", "there is no seat and no microphone"),
    ("no-source", "there is no loudspeaker, voice or instrument"),
    ("not-a-length", "a text cannot be read as a length"),
    ("not-a-name", "a name is empty, too long, or has line breaks or spaces at its ends"),
    ("opening-off-surface", "a door, window or hatch reaches beyond its surface"),
    ("openings-overlap", "two openings lie over one another"),
    ("out-of-range", "a number is not finite, or not within its limits"),
    ("out-of-square", "warning: a measured diagonal departs from the outline"),
    ("outline-crosses", "the outline crosses or touches itself"),
    ("outline-no-area", "the outline encloses no area"),
    ("outline-repeats", "two corners in a row are at the same point"),
    ("outline-too-few", "the outline has fewer than three corners"),
    ("outside-room", "a source, ear or microphone is outside the room"),
    ("panel-in-the-way", "a panel hangs inside a block, or where a source, ear or microphone is"),
    ("panel-off-surface", "a panel reaches beyond its surface or does not fit its corner"),
    ("panel-over-clearance", "a panel hangs where something must stay clear"),
    ("panel-over-opening", "a panel hangs over a door, window or hatch"),
    ("panel-too-near", "a panel is nearer to a seat than its type allows"),
    ("panel-wrong-place", "a type of panel hangs where its kind does not go"),
    ("panels-overlap", "two panels hang in each other's way"),
    ("points-meet", "two things are at the same point"),
    ("stock-not-found", "a panel is, or stands instead of, a type that no [[stock]] describes"),
    ("stock-too-large", "a type of panel in stock fits nowhere in the room"),
    ("surface-not-found", "there is no wall or ceiling of this name"),
    ("syntax", "the text is not TOML"),
    ("target-not-found", "something points toward a name that is not there"),
    ("too-many-alternatives", "types of panel that exclude one another leave more combinations than can be planned"),
    ("unknown-key", "a key is not one of those that the table knows"),
    ("unknown-word", "a word is not one of those that the key knows"),
    ("wall-length-differs", "warning: a measured wall departs from the outline"),
    ("wrong-count", "a list has too many or too few values"),
    ("wrong-type", "a value is of another kind: a number, a text, a list, a table"),
    ("zone-held", "warning: a zone is held to a quarter of the way to the nearest source"),
];

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
    // Who cuts a word short means the whole of it, and so does who writes the end of one of several words.
    let is_begun = |candidate: &str| {
        let candidate = candidate.to_lowercase();
        let ends = candidate.strip_suffix(&word).is_some_and(|start| start.ends_with(['_', '-', ' ']));
        word.chars().count() >= 3 && candidate.starts_with(&word) || word.chars().count() >= 5 && ends
    };
    let distances = known.into_iter().map(|candidate| (edit_distance(&word, &candidate.to_lowercase()), candidate));
    distances
        .filter(|(distance, candidate)| (*distance <= limit && *distance < candidate.chars().count()) || is_begun(candidate))
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
