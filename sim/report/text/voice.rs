//! A voice before and after, in sentences, then octave by octave; columns and words that text and page share.

use super::columns::{Page, Table};
use super::figures::{number, octave_label, optional};
use crate::measured::voice::RATES_HZ;
use crate::prove::voice::{Change, ChangedOctave, ProvedVoice, T95, VoiceProof};
use crate::scene::Scene;

/// What a person is told before they listen.
pub const CARE: &str =
    "Begin with the volume all the way down and raise it slowly. All three are equally loud, which is how rooms are compared.";

/// Said where takes cannot be listened to.
pub const NO_FILES: &str =
    "No files to listen to: the takes have sample rates that are not brought to one another (44100, 48000 and 96000 are).";

/// What the columns of the octaves are.
pub const OCTAVES: &str = "Level: how much more there is of the octave after, both takes equally loud. Noise: re the voice.";

/// What those of the ups and downs are.
pub const DEPTHS: &str = "How much deeper loudness goes up and down so many times a second, after re before, 500 Hz to 4 kHz together; up to: if late sound goes up and down by itself as noise does; predicted for the panels of the scene. +- holds 95 of 100.";

/// Heads of the ups and downs.
pub const DEPTH_HEADS: [&str; 4] = ["<times a second", "deeper by, dB", "or up to, dB", "predicted, dB"];

/// Rows of them.
#[must_use]
pub fn depths(one: &ProvedVoice) -> Vec<[String; 4]> {
    let names = RATES_HZ.map(|rate| format!("{rate:.0}"));
    let rows = names.into_iter().zip(&one.depth_change_db).chain([("4 and 8".to_owned(), &one.clearer_db)]);
    rows.map(|(name, change)| [name, measured(change), up_to(change), predicted(change)]).collect()
}

/// A change as measured.
fn measured(one: &Change) -> String {
    match (one.measured.value, one.measured_sure) {
        (Some(value), Some(sure)) => format!("{} +-{}", signed(value), number(T95 * sure, 1)),
        _ => "-".to_owned(),
    }
}

/// The most that it may be.
fn up_to(one: &Change) -> String {
    one.measured.value.zip(one.measured_more).map_or_else(|| "-".to_owned(), |(value, more)| signed(value + more))
}

/// A change as predicted, with the error of the tracing and how far one place lies off.
fn predicted(one: &Change) -> String {
    match (one.predicted, one.predicted_scatter) {
        (Some(predicted), Some(scatter)) => format!("{} +-{}", signed(predicted.value), number(2.0 * predicted.se.hypot(scatter), 1)),
        _ => "-".to_owned(),
    }
}

/// Heads of the octaves.
pub const OCTAVE_HEADS: [&str; 4] = ["<octave", "level, dB", "noise before, dB", "noise after, dB"];

/// A row of them.
#[must_use]
pub fn octave(one: &ChangedOctave) -> [String; 4] {
    let [before, after] = one.noise_db;
    let level = one.level_change_db.value.map_or_else(|| "-".to_owned(), signed);
    [octave_label(one.frequency_hz, false), level, optional(before, 0), optional(after, 0)]
}

fn signed(value: f64) -> String {
    let text = number(value, 1);
    if value > 0.0 && text != "0.0" { format!("+{text}") } else { text }
}

/// Whose voice, and where.
#[must_use]
pub fn heading(one: &ProvedVoice) -> String {
    format!("{} at {}", one.source, one.receiver)
}

/// How both takes came about.
#[must_use]
pub fn about(one: &ProvedVoice) -> String {
    format!(
        "Takes: before {} s, after {} s. As recorded the one of after is {} dB {}; all below is with both equally loud.",
        number(one.before.length_s, 1),
        number(one.recording.length_s, 1),
        number(one.louder_db.abs(), 1),
        if one.louder_db < 0.0 { "softer" } else { "louder" }
    )
}

/// Why depths are missing.
#[must_use]
pub fn reason(one: &ProvedVoice) -> Option<String> {
    one.clearer_db.measured.reason.as_ref().map(|reason| format!("No ups and downs: {reason}."))
}

/// The page.
pub(in crate::report) fn page(scene: &Scene, proof: &VoiceProof) -> Page {
    let mut page = Page::new(&format!("{}: the voice before and after", scene.name));
    for sentence in &proof.verdict {
        page.hanging("-", sentence);
    }
    for one in &proof.voices {
        page.section(&heading(one));
        page.paragraph(&about(one));
        let mut table = Table::new(&DEPTH_HEADS);
        depths(one).into_iter().for_each(|row| table.row(row));
        page.table(&table);
        page.paragraph(&reason(one).unwrap_or_else(|| DEPTHS.to_owned()));
        let mut table = Table::new(&OCTAVE_HEADS);
        one.octaves.iter().for_each(|each| table.row(octave(each)));
        page.table(&table);
        page.paragraph(OCTAVES);
    }
    page.section("How sure this is");
    for note in &proof.notes {
        page.hanging("-", note);
    }
    page
}
