//! Did it work? The answer in sentences, then decay, clarity and reflections as measured, beside what was predicted; columns and words that text, page and viewer share.

use super::columns::{Page, Table};
use super::figures::{estimate, inputs_to, number, octave_label, optional};
use crate::findings::Basis;
use crate::measured::Figure;
use crate::prove::{Agreement, Compared, Found, Matched, New, Proof, Proved, ProvedOctave};
use crate::scene::Scene;

/// What the columns of a comparison are.
pub const COLUMNS: &str = "+- holds 95 of 100. Of what was measured: by how much a single place scatters about the mean of many. Of what was predicted: repeats of the tracing; inputs: where it lies in two of three rooms by materials \
     and tape. Off: measured less predicted, with all three; steps: the same in just noticeable steps. Agrees: off by no more than its +-. *: statistical, judged by nothing.";

/// What the columns of the reflections are.
pub const REFLECTIONS: &str = "Level: energy in 1-8 kHz within half a millisecond to either side re the direct sound. As predicted: within two standard uncertainties, of 2 dB for a single bounce (common practice, no \
     source) and of what materials leave open. At the middle of the head, not at the worst place of its zone, as `hear` lists them. Not told apart: something as loud arrives then, and nothing stands out.";

/// Heads of a comparison of decay times or levels, `unit` behind those with one.
#[must_use]
pub fn heads(unit: &str, with_before: bool) -> Vec<String> {
    let with_unit = |head: &str| format!("{head}, {unit}");
    let before = with_before.then(|| with_unit("before"));
    let fixed = [
        with_unit("measured"),
        with_unit("predicted"),
        format!("<{}", with_unit("inputs")),
        with_unit("off"),
        "steps".to_owned(),
        "<".to_owned(),
    ];
    std::iter::once("<octave".to_owned()).chain(before).chain(fixed).collect()
}

/// A row of a comparison behind its first cell.
#[must_use]
pub fn cells(one: &Compared, digits: usize, with_before: bool) -> Vec<String> {
    let before = with_before.then(|| one.before.as_ref().map_or_else(|| "-".to_owned(), |before| optional(before.value, digits)));
    // Two standard uncertainties, as everywhere behind these signs.
    let with = |value: Option<f64>, sure: Option<f64>, print: fn(f64, usize) -> String| match (value, sure) {
        (None, _) => "-".to_owned(),
        (Some(value), Some(sure)) => format!("{} +-{}", print(value, digits), number(2.0 * sure, digits)),
        (Some(value), None) => print(value, digits),
    };
    let fixed = [
        with(one.measured.value, one.scatter, number),
        one.predicted.map_or_else(|| "-".to_owned(), |predicted| estimate(predicted, digits)),
        inputs_to(one.predicted_inputs, digits),
        with(one.difference, one.difference_sure, signed),
        one.difference_steps.map_or_else(|| "-".to_owned(), |steps| signed(steps, 1)),
        agreement(one.agreement).to_owned(),
    ];
    before.into_iter().chain(fixed).collect()
}

/// A number with its sign.
fn signed(value: f64, digits: usize) -> String {
    let text = number(value, digits);
    if value > 0.0 && text.chars().any(|letter| matches!(letter, '1'..='9')) { format!("+{text}") } else { text }
}

/// What an agreement is called.
#[must_use]
pub fn agreement(agreement: Agreement) -> &'static str {
    match agreement {
        Agreement::AsPredicted => "agrees",
        Agreement::Higher => "higher",
        Agreement::Lower => "lower",
        Agreement::NotJudged => "",
    }
}

/// What became of a reflection.
#[must_use]
pub fn found(found: Found) -> &'static str {
    match found {
        Found::AsPredicted => "as predicted",
        Found::Louder => "louder",
        Found::Weaker => "weaker",
        Found::NotToldApart => "not told apart",
        Found::Missing => "missing",
    }
}

/// Something of an octave that is compared.
type Of = fn(&ProvedOctave) -> &Compared;

/// What is compared by octave: heading, unit, digits, what it is of.
pub const MEASURES: [(&str, &str, usize, Of); 4] = [
    ("decay, T30 (or T20 where the record does not reach that far)", "s", 2, |octave| octave.decay()),
    ("early decay time", "s", 2, |octave| &octave.edt_s),
    ("clarity, C50", "dB", 1, |octave| &octave.c50_db),
    ("clarity, C80", "dB", 1, |octave| &octave.c80_db),
];

/// The name of an octave in these tables.
#[must_use]
pub fn octave(octave: &ProvedOctave) -> String {
    octave_label(octave.frequency_hz, octave.basis == Basis::Statistical)
}

/// Which source at which receiver, of which file.
#[must_use]
pub fn heading(one: &Proved) -> String {
    format!("{} at {}", one.source, one.receiver)
}

/// How the recording came about, in a sentence.
#[must_use]
pub fn about(one: &Proved) -> String {
    let about = &one.recording;
    let signal = match about.signal.as_str() {
        "sweep" => "a sweep",
        "clap" => "a clap",
        _ => "an impulse response as it is",
    };
    let mut parts = vec![format!(
        "{signal}, {} s at {} samples a second, peak {} dB re full scale",
        number(about.length_s, 1),
        number(about.rate_hz, 0),
        number(about.peak_db, 1)
    )];
    parts.extend(about.drift_ppm.map(|drift| format!("clock off by {} parts in a million, put right", number(drift, 0))));
    let distortion = about
        .distortion_db
        .iter()
        .enumerate()
        .filter_map(|(index, level)| Some(format!("order {} {} dB", index + 2, number((*level)?, 0))));
    let distortion: Vec<String> = distortion.collect();
    parts.extend((!distortion.is_empty()).then(|| format!("distortion re the response: {}", distortion.join(", "))));
    let text = parts.join("; ");
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| format!("Recording: {}{}.", first, letters.as_str()))
}

/// Why figures are missing, each reason once with its octaves.
#[must_use]
pub fn reasons(one: &Proved) -> Vec<String> {
    let mut told: Vec<(String, Vec<String>)> = Vec::new();
    for octave in &one.octaves {
        let figures: [(&str, &Figure); 3] =
            [("T30", &octave.t30_s.measured), ("EDT", &octave.edt_s.measured), ("C50", &octave.c50_db.measured)];
        for (name, figure) in figures {
            let Some(reason) = &figure.reason else { continue };
            let label = format!("{name} at {}", octave_label(octave.frequency_hz, false));
            match told.iter_mut().find(|(other, _)| other == reason) {
                Some((_, labels)) => labels.push(label),
                None => told.push((reason.clone(), vec![label])),
            }
        }
    }
    told.into_iter().map(|(reason, labels)| format!("No {}: {reason}.", labels.join(", "))).collect()
}

/// How straight decays are, where they are not.
#[must_use]
pub fn bent(one: &Proved) -> Option<String> {
    let is_bent = |octave: &&ProvedOctave| {
        octave.measured.curvature_percent.value.is_some_and(|curvature| curvature.abs() > 10.0)
            || octave.measured.t30_nonlinearity_permille.value.is_some_and(|off| off > 10.0)
    };
    let bent: Vec<String> = one.octaves.iter().filter(is_bent).map(|octave| octave_label(octave.frequency_hz, false)).collect();
    (!bent.is_empty()).then(|| {
        format!("Not straight (T30 off T20 by more than 10 %, or non-linearity above 10 permille): {}. One time does not tell all of such a decay.", bent.join(", "))
    })
}

/// Heads of the reflections.
pub const REFLECTION_HEADS: [&str; 7] = ["ms", "measured ms", "dB", "<inputs, dB", "measured dB", "<", "<surfaces"];

/// A row of the predicted ones.
#[must_use]
pub fn reflection(one: &Matched) -> [String; 7] {
    [
        number(one.delay_ms, 2),
        optional(one.measured_delay_ms, 2),
        number(one.level_db, 1),
        inputs_to(one.level_inputs_db, 1),
        optional(one.measured_level_db, 1),
        found(one.found).to_owned(),
        one.surfaces.join(", "),
    ]
}

/// Heads of the new ones.
pub const NEW_HEADS: [&str; 4] = ["ms", "dB", "longer by, m", "<could come by"];

/// A row of the new ones.
#[must_use]
pub fn new(one: &New) -> [String; 4] {
    let ways: Vec<String> = one.ways.iter().map(|way| format!("{} ({} ms)", way.surfaces.join(", "), number(way.delay_ms, 2))).collect();
    let ways = if ways.is_empty() { "no one or two surfaces of the scene: something that it lacks".to_owned() } else { ways.join("; or ") };
    [number(one.delay_ms, 2), number(one.level_db, 1), number(one.longer_m, 2), ways]
}

/// The speech transmission index in a sentence.
#[must_use]
pub fn speech(one: &Proved) -> String {
    let index = &one.speech_transmission_index;
    match index.measured.value {
        None => format!("Speech transmission index: not known, {}.", index.measured.reason.clone().unwrap_or_default()),
        Some(value) => {
            let before = index
                .before
                .as_ref()
                .and_then(|before| before.value)
                .map_or_else(String::new, |before| format!(", before {}", number(before, 2)));
            let predicted = index.predicted.map_or_else(String::new, |predicted| format!(", predicted {}", estimate(predicted, 2)));
            format!("Speech transmission index without noise: {}{before}{predicted}.", number(value, 2))
        }
    }
}

/// The page.
pub(in crate::report) fn page(scene: &Scene, proof: &Proof) -> Page {
    let mut page = Page::new(&format!("{}: did it work?", scene.name));
    for sentence in &proof.verdict {
        page.hanging("-", sentence);
    }
    if let Some(fit) = &proof.fit {
        super::fit::section(&mut page, fit);
    }
    page.section("How sure this is");
    for note in &proof.notes {
        page.hanging("-", note);
    }
    page.rest();
    for one in &proof.recordings {
        recording(&mut page, one);
    }
    page
}

fn recording(page: &mut Page, one: &Proved) {
    page.section(&heading(one));
    page.paragraph(&about(one));
    page.paragraph(&speech(one));
    let with_before = one.before.is_some();
    for (name, unit, digits, of) in MEASURES {
        page.section(&format!("{}: {name}", heading(one)));
        let mut table = Table::new(&heads(unit, with_before));
        for each in &one.octaves {
            table.row(std::iter::once(octave(each)).chain(cells(of(each), digits, with_before)));
        }
        page.table(&table);
    }
    page.paragraph(COLUMNS);
    for line in bent(one).into_iter().chain(reasons(one)) {
        page.paragraph(&line);
    }
    if !one.reflections.is_empty() {
        page.section(&format!("{}: early reflections", heading(one)));
        let mut table = Table::new(&REFLECTION_HEADS);
        one.reflections.iter().for_each(|each| table.row(reflection(each)));
        page.table(&table);
        page.paragraph(REFLECTIONS);
    }
    if !one.new_reflections.is_empty() {
        page.section(&format!("{}: reflections that nothing predicts", heading(one)));
        let mut table = Table::new(&NEW_HEADS);
        one.new_reflections.iter().for_each(|each| table.row(new(each)));
        page.table(&table);
    }
}
