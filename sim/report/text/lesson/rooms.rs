//! Lessons about how a room rings as a whole.

use super::Told;
use super::ways::single;
use crate::bands::Band;
use crate::findings::decay_times::decay_times;
use crate::findings::{Estimate, Findings, Flutter};
use crate::report::chart::decay_target;
use crate::report::text::columns::Table;
use crate::report::text::compare::letter;
use crate::report::text::figures::{number, optional, optional_estimate};
use crate::study::compare::{Comparison, Kind};

/// The figure of a version.
fn value(comparison: &Comparison, kind: Kind, index: usize) -> Option<Estimate> {
    comparison.figure(kind)?.cells.get(index)?.value
}

/// Decay of an octave.
fn decay(findings: &Findings, band: usize) -> Option<Estimate> {
    decay_times(findings)[Band::new(band)].map(|time| time.time_s)
}

/// The same for a table, marked where nothing is judged by it.
fn decay_cell(findings: &Findings, band: usize) -> String {
    let time = decay_times(findings)[Band::new(band)];
    let mark = if time.is_some_and(|time| time.statistical) { "*" } else { "" };
    format!("{}{mark}", optional_estimate(time.map(|time| time.time_s), 2))
}

pub(super) fn flutter(comparison: &Comparison) -> Told {
    /// 1 kHz.
    const BAND: usize = 4;
    let mut table = Table::new(&["", "<between", "m apart", "every, ms", "the pair alone, s", "the room, s", "<heard"]);
    let mut sentences = Vec::new();
    for (index, version) in comparison.versions.iter().enumerate() {
        let band = Band::new(BAND);
        let ratio = |one: &Flutter| one.room_t_s[band].map_or(0.0, |room| one.t_s[band] / room);
        let worst = version.findings.flutter.iter().max_by(|a, b| ratio(a).total_cmp(&ratio(b)));
        let room = decay(&version.findings, BAND);
        let Some(worst) = worst else {
            table.row([
                letter(index).to_string(),
                "no walls that face each other".to_owned(),
                "-".to_owned(),
                "-".to_owned(),
                "-".to_owned(),
                optional_estimate(room, 2),
                "no".to_owned(),
            ]);
            sentences.push(format!(
                "{}: no two walls face each other any more; the room rings {} s at 1 kHz.",
                version.name,
                optional(room.map(|room| room.value), 2)
            ));
            continue;
        };
        table.row([
            letter(index).to_string(),
            worst.between.join(", "),
            number(worst.distance_m, 2),
            number(worst.period_ms, 1),
            number(worst.t_s[band], 2),
            optional_estimate(room, 2),
            if worst.audible { "yes" } else { "no" }.to_owned(),
        ]);
        sentences.push(format!(
            "{}: between {}, where both are bare, sound comes back every {} ms, {} times a second, and that alone rings {} s at 1 kHz; the room as a whole rings {} s.",
            version.name,
            worst.between.join(" and "),
            number(worst.period_ms, 1),
            number(1000.0 / worst.period_ms, 0),
            number(worst.t_s[band], 2),
            optional(room.map(|room| room.value), 2),
        ));
    }
    Told {
        sentences,
        table,
        below: "The pair alone: decay to -60 dB of what goes to and fro, from what both walls take and scatter. Heard: more than twice as long as the room in some octave from 500 Hz up.",
    }
}

pub(super) fn scatter(comparison: &Comparison) -> Told {
    let mut table = Table::new(&["", "<walls", "off a wall, dB", "early, dB", "decay, s", "C50, dB"]);
    let off_a_wall = |index: usize| {
        let findings = &comparison.versions.get(index)?.findings;
        let is_on_wall = |point: glam::DVec3| (0.05..findings.survey.height_m - 0.05).contains(&point.z);
        single(findings, is_on_wall).map(|(_, one)| one.level_db)
    };
    for (index, version) in comparison.versions.iter().enumerate() {
        table.row([
            letter(index).to_string(),
            version.name.clone(),
            optional(off_a_wall(index), 1),
            optional_estimate(value(comparison, Kind::EarlyLevel, index), 1),
            optional_estimate(value(comparison, Kind::MeanDecay, index), 2),
            optional_estimate(value(comparison, Kind::Clarity, index), 1),
        ]);
    }
    let mut sentences = Vec::new();
    for index in 1..comparison.versions.len() {
        let by = |kind: Kind, decimals: usize| {
            optional(comparison.figure(kind).and_then(|figure| figure.cells[index].change).map(|change| change.by.value), decimals)
        };
        sentences.push(format!(
            "{}: the strongest bounce off a wall has {} dB re direct for {}; all early reflections together change by {} dB, the decay by {} s.",
            comparison.versions[index].name,
            optional(off_a_wall(index), 1),
            optional(off_a_wall(0), 1),
            by(Kind::EarlyLevel, 1),
            by(Kind::MeanDecay, 2),
        ));
    }
    Told {
        sentences,
        table,
        below: "Walls alone change; floor and ceiling stay hard and smooth. Early: 15 ms after the direct sound; decay and C50: mean of 500 Hz to 2 kHz.",
    }
}

pub(super) fn share(comparison: &Comparison) -> Told {
    let mut table = Table::new(&["", "<panels", "share, %", "decay, s", "early, dB", "strongest, dB", "63-250 Hz, s"]);
    for (index, version) in comparison.versions.iter().enumerate() {
        let low: Vec<f64> = (0..3).filter_map(|band| decay(&version.findings, band)).map(|time| time.value).collect();
        let low = (!low.is_empty()).then(|| low.iter().sum::<f64>() / low.len() as f64);
        table.row([
            letter(index).to_string(),
            version.name.clone(),
            number(100.0 * version.findings.survey.treated_share, 1),
            optional_estimate(value(comparison, Kind::MeanDecay, index), 2),
            optional_estimate(value(comparison, Kind::EarlyLevel, index), 1),
            optional_estimate(value(comparison, Kind::Strongest, index), 1),
            format!("{}*", optional(low, 2)),
        ]);
    }
    let asked = comparison
        .versions
        .first()
        .and_then(|version| decay_target(&version.findings))
        .and_then(|target| Some((target.low?, target.high?)));
    let mut sentences = Vec::new();
    for (index, version) in comparison.versions.iter().enumerate().skip(1) {
        let (decay, early) = (value(comparison, Kind::MeanDecay, index), value(comparison, Kind::EarlyLevel, index));
        let stands = match (asked, decay) {
            (Some((_, high)), Some(decay)) if decay.value > high => format!(", longer than the {} s that mixing asks for", number(high, 2)),
            (Some((low, _)), Some(decay)) if decay.value < low => format!(", shorter than the {} s that mixing asks for", number(low, 2)),
            (Some(_), Some(_)) => ", as mixing asks for".to_owned(),
            _ => String::new(),
        };
        sentences.push(format!(
            "{} ({} % of the surface): the room rings {} s{stands}, and early reflections have {} dB re direct.",
            version.name,
            number(100.0 * version.findings.survey.treated_share, 1),
            optional(decay.map(|decay| decay.value), 2),
            optional(early.map(|early| early.value), 1),
        ));
    }
    Told {
        sentences,
        table,
        below: "The same 21 panels of 50 mm fiber in three arrangements. *: below Schroeder's frequency, a statistical reading.",
    }
}

pub(super) fn corners(comparison: &Comparison) -> Told {
    let mut table = Table::new(&["", "<fiber", "63 Hz, s", "125 Hz, s", "250 Hz, s", "1 kHz, s"]);
    for (index, version) in comparison.versions.iter().enumerate() {
        let of = |band: usize| decay_cell(&version.findings, band);
        table.row([letter(index).to_string(), version.name.clone(), of(0), of(1), of(2), of(4)]);
    }
    let ratio = |index: usize, band: usize| {
        let [one, first] = [index, 0].map(|index| decay(&comparison.versions.get(index)?.findings, band));
        Some(one?.value / first?.value)
    };
    let mut sentences = Vec::new();
    for (index, version) in comparison.versions.iter().enumerate().skip(1) {
        let percent = |band: usize| ratio(index, band).map_or_else(|| "-".to_owned(), |ratio| number(100.0 * ratio, 0));
        sentences.push(format!(
            "{}: at 63 Hz the room rings {} % as long as bare, at 125 Hz {} %, at 1 kHz {} %.",
            version.name,
            percent(0),
            percent(1),
            percent(4),
        ));
    }
    let first = comparison.versions.first().and_then(|version| version.findings.survey.axial_modes.first());
    if let Some(mode) = first {
        sentences.insert(
            0,
            format!(
                "The lowest tone that stands between two walls here is {} Hz, between {}; by hand c / (2 d).",
                number(mode.frequency_hz, 1),
                mode.between.join(" and ")
            ),
        );
    }
    Told {
        sentences,
        table,
        below: "Octaves up to the crossover come from waves (the equation of sound, solved on a grid), above it from rays. *: between both, a statistical reading, judged by nothing.",
    }
}

pub(super) fn too_dead(comparison: &Comparison) -> Told {
    let mut table = Table::new(&["", "<lining", "125 Hz, s", "250 Hz, s", "1 kHz, s", "4 kHz, s", "125 Hz : 1 kHz"]);
    let mut sentences = Vec::new();
    for (index, version) in comparison.versions.iter().enumerate() {
        let of = |band: usize| decay(&version.findings, band);
        let ratio = of(1).zip(of(4)).map(|(low, high)| low.value / high.value);
        let cell = |band: usize| decay_cell(&version.findings, band);
        table.row([letter(index).to_string(), version.name.clone(), cell(1), cell(2), cell(4), cell(6), optional(ratio, 1)]);
        sentences.push(format!(
            "{}: {} s at 1 kHz and {} s at 125 Hz, {} times as long.",
            version.name,
            optional(of(4).map(|time| time.value), 2),
            optional(of(1).map(|time| time.value), 2),
            optional(ratio, 1),
        ));
    }
    Told {
        sentences,
        table,
        below: "Octaves up to the crossover come from waves, above it from rays; *: a statistical reading, judged by nothing. Voice asks for 0.15 to 0.30 s (common practice, no source), alike from octave to octave.",
    }
}
