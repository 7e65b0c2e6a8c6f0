//! Materials fitted to a measured decay: sentences, decays before and after, every material octave by octave; columns and words that text and page share.

use super::columns::{Page, Table};
use super::figures::number;
use crate::bands::Band;
use crate::prove::fit::{Fit, FitDecay, FitMaterial, FitOctave, Outcome};

/// Heading of the section.
pub const HEADING: &str = "Materials fitted to what was measured";

/// What the columns of the decays are.
pub const DECAYS: &str = "Off: measured less predicted in standard uncertainties (place, tracing, tape, what the filter reads of neighbors, materials that are not fitted); within 2 is as good as one place tells.";

/// What the columns of the materials are.
pub const MATERIALS: &str = "May be: between what it may absorb before the recording. 90 of 100: in what it lies by the recording. Narrower: by how much that is narrower than before, in logarithms; from 30 % on it is called fitted. \
     Value: the middle of that. Together: told only with others, see above. Written: what fitted.toml says, where it says something else than the scene.";

/// Heads of the decays.
pub const DECAY_HEADS: [&str; 7] = ["<octave", "<place", "measured, s", "predicted, s", "fitted, s", "off before", "off now"];

/// Heads of the materials.
pub const MATERIAL_HEADS: [&str; 9] =
    ["<material", "<octave", "scene says", "<may be", "value", "<90 of 100", "narrower, %", "<told", "written"];

fn octave(octave: &FitOctave) -> String {
    Band::ALL.into_iter().find(|band| band.nominal() == octave.frequency_hz).map_or_else(String::new, |band| band.label().to_owned())
}

/// Rows of the decays.
#[must_use]
pub fn decays(fit: &Fit) -> Vec<[String; 7]> {
    let row = |octave: String, one: &FitDecay| {
        let off = |predicted: Option<f64>| {
            predicted.map_or_else(|| "-".to_owned(), |predicted| number((one.measured_s - predicted) / one.sure_s, 1))
        };
        [
            octave,
            format!("{} at {}", one.source, one.receiver),
            number(one.measured_s, 2),
            number(one.predicted_s, 2),
            one.fitted_s.map_or_else(|| "-".to_owned(), |fitted| number(fitted, 2)),
            off(Some(one.predicted_s)),
            off(one.fitted_s),
        ]
    };
    fit.octaves.iter().flat_map(|each| each.decays.iter().map(move |one| row(octave(each), one))).collect()
}

/// Rows of the materials, one after the other.
#[must_use]
pub fn materials(fit: &Fit) -> Vec<[String; 9]> {
    let row = |name: &str, octave: String, (one, is_met): (&FitMaterial, bool)| {
        let to = |low: f64, high: f64| format!("{} to {}", number(low, 2), number(high, 2));
        // Where no materials ring as was measured nothing is told of any.
        let told = |text: String| if is_met { text } else { "-".to_owned() };
        let outcome = match one.outcome {
            _ if !is_met => "not met",
            Outcome::Fitted => "fitted",
            Outcome::NotToldApart => "together",
            Outcome::NotTold => "not told",
        };
        [
            name.to_owned(),
            octave,
            number(one.absorption, 2),
            to(one.bounds.low, one.bounds.high),
            told(number(one.fitted.value, 2)),
            told(to(one.fitted.low, one.fitted.high)),
            told(number(one.narrowed_percent.max(0.0), 0)),
            outcome.to_owned(),
            one.written.map_or_else(|| "-".to_owned(), |written| number(written, 2)),
        ]
    };
    let count = fit.octaves.first().map_or(0, |octave| octave.materials.len());
    let of = |index: usize| {
        fit.octaves.iter().enumerate().filter_map(move |(number, each)| {
            let one = each.materials.get(index)?;
            Some(row(if number == 0 { &one.name } else { "" }, octave(each), (one, each.is_met)))
        })
    };
    (0..count).flat_map(of).collect()
}

/// The section of a page of text.
pub(super) fn section(page: &mut Page, fit: &Fit) {
    page.section(HEADING);
    for sentence in &fit.verdict {
        page.hanging("-", sentence);
    }
    let mut table = Table::new(&DECAY_HEADS);
    decays(fit).into_iter().for_each(|row| table.row(row));
    page.table(&table);
    page.paragraph(DECAYS);
    let mut table = Table::new(&MATERIAL_HEADS);
    materials(fit).into_iter().for_each(|row| table.row(row));
    page.table(&table);
    page.paragraph(MATERIALS);
    for note in &fit.notes {
        page.hanging("-", note);
    }
}
