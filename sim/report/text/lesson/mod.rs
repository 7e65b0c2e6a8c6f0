//! The page of a lesson: what is asked, what happens and why, every figure side by side, and what to change next.
//!
//! Sentences hold the numbers of the run that the page is of. Where a thing can be reckoned by hand, the hand's figure stands beside the
//! program's.
//!
//! - `ways`: lessons about single reflections: one wall, the mirror point, a cloud;
//! - `rooms`: lessons about how a room rings: flutter, scattering, shares, corners, a room too dead.

mod rooms;
mod ways;

use super::columns::{Page, Table};
use super::compare;
use super::findings::rests_on;
use crate::report::content::Block;
use crate::scene::Scene;
use crate::scene::lessons::{Change, Lesson, Variation};
use crate::study::compare::{ComparedRooms, Comparison, Kind};

/// What a lesson says of its versions.
pub(super) struct Told {
    /// What happens, in sentences with the numbers of this run.
    pub(super) sentences: Vec<String>,
    /// The same beside what can be reckoned by hand, or by version.
    pub(super) table: Table,
    /// What stands below the table.
    pub(super) below: &'static str,
}

/// Headings of its sections, which the page with drawings asks for by name.
pub(in crate::report) const ASKED: &str = "What is asked";
/// What happens.
pub(in crate::report) const HAPPENS: &str = "What happens";
/// What to change.
pub(in crate::report) const CHANGE: &str = "Change one thing";
/// What it rests on.
pub(in crate::report) const RESTS: &str = "What the numbers rest on";

/// The page.
pub(in crate::report) fn page(lesson: &Lesson, scenes: &[Scene], compared: &ComparedRooms) -> Page {
    let told = told(lesson, scenes, compared);
    let mut page = Page::new(&format!("Lesson {}: {}", lesson.number, lesson.title));
    page.section(ASKED);
    page.paragraph(scenes.first().and_then(|scene| scene.question.as_deref()).unwrap_or_default());
    page.paragraph(lesson.about);
    page.section(HAPPENS);
    for sentence in &told.sentences {
        page.hanging("-", sentence);
    }
    page.table(&told.table);
    page.paragraph(told.below);
    page.paragraph(lesson.kept);
    let comparison = &shown(lesson, &compared.comparison);
    let blocks = compare::page(lesson.title, comparison).blocks.into_iter().filter(|block| !matches!(block, Block::Title(_)));
    // What the whole room does says nothing of the one reflection that such a lesson is about.
    let mut is_of_whole = false;
    page.blocks.extend(blocks.filter(|block| {
        if let Block::Section(heading) = block {
            is_of_whole = is_of_one_bounce(lesson) && heading == compare::DOES;
        }
        !is_of_whole
    }));
    page.section(CHANGE);
    changes(&mut page, lesson);
    page.section(RESTS);
    for (index, version) in comparison.versions.iter().enumerate() {
        page.hanging(&format!("{}.", compare::letter(index)), &rests_on(version.findings.tracing));
    }
    notes(&mut page, comparison);
    page
}

/// A comparison with the figures that a lesson is about: where all but one wall is as good as open, or one reflection is looked at, it is no room that rings.
#[must_use]
pub fn shown(lesson: &Lesson, comparison: &Comparison) -> Comparison {
    let mut shown = comparison.clone();
    if is_of_one_bounce(lesson) {
        shown.figures.retain(|figure| matches!(figure.kind, Kind::EarlyLevel | Kind::Strongest));
    }
    shown
}

/// Whether a lesson looks at a single reflection.
fn is_of_one_bounce(lesson: &Lesson) -> bool {
    matches!(lesson.word, "one-wall" | "mirror-point")
}

/// What a lesson says.
fn told(lesson: &Lesson, scenes: &[Scene], compared: &ComparedRooms) -> Told {
    let comparison = &compared.comparison;
    match lesson.word {
        "one-wall" => ways::one_wall(scenes, compared),
        "mirror-point" => ways::mirror_point(scenes, compared),
        "cloud-heights" => ways::cloud(comparison),
        "flutter" => rooms::flutter(comparison),
        "absorb-or-scatter" => rooms::scatter(comparison),
        "twenty-per-cent" => rooms::share(comparison),
        "corners" => rooms::corners(comparison),
        _ => rooms::too_dead(comparison),
    }
}

/// How each version is made of the first, and what to try next.
fn changes(page: &mut Page, lesson: &Lesson) {
    page.paragraph(&format!(
        "The rooms lie beside this page as scene files, the first as {}. Each other version is that text with one thing written anew:",
        file_name(lesson, 0)
    ));
    for (index, variation) in lesson.variations.iter().enumerate() {
        page.hanging("-", &format!("{} ({}): {}.", variation.name, file_name(lesson, index + 1), written(variation)));
    }
    page.paragraph(&format!("Now you: {}", lesson.try_next));
    page.paragraph(&format!(
        "Copy {0} under another name, change one thing in it, and ask for the difference: `roomwright compare {0} mine.toml`. In the viewer open the lesson from the first page: its versions are layouts A and B.",
        file_name(lesson, 0)
    ));
}

/// What is written anew, in the words of the text.
fn written(variation: &Variation) -> String {
    let one = |change: &Change| match change {
        Change::Piece { was, is: "" } => format!("without `{}`", first_line(was)),
        Change::Piece { was, is } => format!("`{}` in place of `{}`", plain(is), plain(was)),
        Change::End(_) | Change::Panels(..) => {
            let added = change.added();
            let panels = added.matches("[[panel]]").count();
            match panels {
                0 => format!("`{}` and what follows at the end", first_line(&added)),
                1 => "one `[[panel]]` at the end".to_owned(),
                _ => format!("{panels} `[[panel]]` at the end"),
            }
        }
    };
    variation.changes.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn first_line(text: &str) -> &str {
    text.lines().next().unwrap_or_default()
}

/// A piece of a text on one line, without its comment.
fn plain(text: &str) -> String {
    let code = text.split('#').next().unwrap_or_default();
    code.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The file of a version.
#[must_use]
pub fn file_name(lesson: &Lesson, index: usize) -> String {
    if index == 0 {
        format!("{}.toml", lesson.word)
    } else {
        format!("{}-{}.toml", lesson.word, compare::letter(index).to_ascii_lowercase())
    }
}

/// Where theory or data stop, each said once.
fn notes(page: &mut Page, comparison: &Comparison) {
    let mut said: Vec<&String> = Vec::new();
    for note in comparison.versions.iter().flat_map(|version| &version.findings.notes) {
        if !said.contains(&note) {
            said.push(note);
            page.hanging("-", note);
        }
    }
}

/// All lessons, for whoever asks which there are.
#[must_use]
pub fn list() -> String {
    let mut page = Page::new("Lessons");
    page.paragraph("Eight small rooms that each show one thing by number, picture and sound. `roomwright lesson WORD` computes one and writes its page.");
    let mut table = Table::new(&["", "<word", "<lesson", "<compared"]);
    for lesson in &Lesson::ALL {
        let versions = lesson.versions().iter().map(|version| version.name).collect::<Vec<_>>().join("; ");
        table.row([lesson.number.to_string(), lesson.word.to_owned(), lesson.title.to_owned(), versions]);
    }
    page.table(&table);
    page.finish()
}
