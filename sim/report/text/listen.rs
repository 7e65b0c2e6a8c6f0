//! What it sounds like: the files, and what to know before one listens.

use super::columns::{Page, Table};
use super::figures::{number, optional};
use crate::study::listen::Sounds;

/// Who listens where, in a sentence.
#[must_use]
pub fn who(sounds: &Sounds) -> String {
    let softer = match sounds.softer_db {
        Some(softer) if softer >= 0.05 => format!(" With what hangs the first sound is {} dB softer than bare.", number(softer, 1)),
        Some(softer) if softer <= -0.05 => format!(" With what hangs the first sound is {} dB louder than bare.", number(-softer, 1)),
        _ => String::new(),
    };
    let (from, together) = match &sounds.sources[..] {
        [] => (String::new(), ""),
        [one] => (format!(" from {one}"), ""),
        all => (
            format!(" from {}", all.join(", ")),
            " A dry sound of one channel comes from all of them at once, one of as many channels from one each.",
        ),
    };
    format!(
        "Heard at {}{from} by {}, at {} samples a second.{together}{softer}",
        sounds.receiver,
        sounds.listener_is,
        number(sounds.rate_hz, 0)
    )
}

/// Heads of the files.
pub const HEADS: [&str; 5] = ["<file", "<what it is", "s", "LKFS", "gain, dB"];

/// A row for each.
#[must_use]
pub fn rows(sounds: &Sounds) -> Vec<[String; 5]> {
    let row = |file: &crate::study::listen::SoundFile| {
        [file.name.clone(), file.what.clone(), number(file.length_s, 1), optional(file.loudness_db, 1), number(file.gain_db, 1)]
    };
    sounds.files.iter().map(row).collect()
}

/// What stands under the page of `hear`.
#[must_use]
pub fn section(sounds: &Sounds) -> String {
    let mut page = Page::default();
    page.section("What it sounds like");
    page.paragraph(&who(sounds));
    let mut table = Table::new(&HEADS);
    rows(sounds).into_iter().for_each(|row| table.row(row));
    page.table(&table);
    page.paragraph("LKFS: loudness after ITU-R BS.1770; gain: by how much it was made louder than it came out.");
    for note in &sounds.notes {
        page.hanging("-", note);
    }
    page.finish()
}
