//! The low end in a few lines, for the pages of other steps.

use super::bass::nearest;
use super::columns::Page;
use super::figures::number;
use crate::findings::bass::{BassMode, BassResponse, BassStudy, Third};

/// Heading over the lines.
pub const HEADING: &str = "The low end";
/// Modes that are told.
const MODES: usize = 3;

/// The section of a page.
pub(super) fn print(page: &mut Page, study: &BassStudy) {
    page.section(HEADING);
    for line in lines(study) {
        page.hanging("-", &line);
    }
}

/// What the low end does, and where there is more of it.
#[must_use]
pub fn lines(study: &BassStudy) -> Vec<String> {
    let more = format!("{} The page of the low end, bass.html, has every level, decay, dip and mode.", rests_on(study));
    told(study).into_iter().chain([more]).collect()
}

/// What it rests on.
#[must_use]
pub fn rests_on(study: &BassStudy) -> String {
    format!(
        "Waves up to {} Hz in cells of {} mm, in place of rays below {} Hz, the crossover of the bare room.",
        number(study.top_hz, 0),
        number(1e3 * study.cost.cell_m, 0),
        number(study.crossover_hz, 0)
    )
}

/// Strongest and weakest, named dips, what rings longest; with the bare room's beside it where it is told.
#[must_use]
pub fn told(study: &BassStudy) -> Vec<String> {
    let all = &study.stands.responses;
    // What sounds together is told together.
    let is_part = |one: &BassResponse| {
        let holds = |other: &BassResponse| one.sources.iter().all(|source| other.sources.contains(source));
        all.iter().any(|other| other.receiver == one.receiver && other.sources.len() > one.sources.len() && holds(other))
    };
    let levels = all.iter().enumerate().filter(|(_, response)| !is_part(response));
    let mut lines: Vec<String> = levels.flat_map(|(index, response)| of_response(study, response, index)).collect();
    lines.extend(longest(study));
    lines
}

/// Levels and dips.
fn of_response(study: &BassStudy, response: &BassResponse, index: usize) -> Vec<String> {
    let by_level = |a: &&Third, b: &&Third| a.level_db.total_cmp(&b.level_db);
    let told = |third: &Third| format!("{} Hz at {} dB", number(third.band_hz, 0), number(third.level_db, 1));
    let (Some(high), Some(low)) = (response.thirds.iter().max_by(by_level), response.thirds.iter().min_by(by_level)) else {
        return Vec::new();
    };
    let names = response.sources.join(" and ");
    let mut lines = vec![format!("{names} at {}, re free field: strongest {}, weakest {}.", response.receiver, told(high), told(low))];
    let before = study.bare.as_ref().and_then(|bare| bare.responses.get(index));
    if let Some(before) = before {
        let change = |(with, without): (&Third, &Third)| (with.band_hz, with.level_db - without.level_db);
        let most = response.thirds.iter().zip(&before.thirds).map(change).max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        lines.extend(most.map(|(band, change)| format!("What hangs changes {} Hz most: by {} dB.", number(band, 0), signed(change))));
    }
    let named = response.dips.iter().filter_map(|dip| Some(format!("{} Hz ({})", number(dip.frequency_hz, 0), dip.surface.as_ref()?)));
    let named: Vec<String> = named.take(MODES).collect();
    if !named.is_empty() {
        lines.push(format!("Dips where a bounce cancels the direct sound: {}.", named.join(", ")));
    }
    lines
}

fn signed(value: f64) -> String {
    if value > 0.0 { format!("+{}", number(value, 1)) } else { number(value, 1) }
}

/// The modes that ring longest.
fn longest(study: &BassStudy) -> Option<String> {
    let mut modes: Vec<(&BassMode, f64)> = study.stands.modes.iter().filter_map(|mode| Some((mode, mode.decay_s?))).collect();
    modes.sort_by(|a, b| b.1.total_cmp(&a.1));
    let told = |(mode, decay): &(&BassMode, f64)| {
        let before = study.bare.as_ref().and_then(|bare| nearest(&bare.modes, mode.frequency_hz, |other| other.frequency_hz)?.decay_s);
        let bare = before.map_or_else(String::new, |before| format!(" (bare {} s)", number(before, 2)));
        format!("{} Hz, {} s{bare}", number(mode.frequency_hz, 1), number(*decay, 2))
    };
    let modes: Vec<String> = modes.iter().take(MODES).map(told).collect();
    (!modes.is_empty()).then(|| format!("Modes that ring longest: {}.", modes.join("; ")))
}
