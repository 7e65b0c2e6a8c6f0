//! The second step: what does the seat hear now? What is wrong first, then the early arrivals, the low end, decay, clarity, flutter, likeness.

use bevy_egui::egui::{Label, RichText, Ui};
use roomwright::bands::Band;
use roomwright::findings::{Basis, Findings, Pair, Reflection};
use roomwright::report::text::figures::{
    ERRORS, STATISTICAL, asked as wanted, inputs_cell, inputs_to, is_statistical, length_cell, length_head, number, octave_heads,
    octave_label, optional, optional_estimate, percent, standing, verdict,
};
use roomwright::report::text::findings::{FLUTTER_OCTAVES, direction, longest, pair_sentence, signed, wrong as what_is_wrong};
use roomwright::scene::Scene;

use super::say::{choose_pair, folded, known, label, pair, question, remark, section};
use super::table::Table;
use super::tokens::{ACCENT, INK, QUIET, quiet, wrong};
use super::{Asked, Shown, arrivals, listen, low_end, tone, wave};
use crate::arrival;
use crate::view::{ArrivalChoice, Which};

/// The panel.
pub(crate) fn hear(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let results = shown.results;
    let Some(scene) = results.scene.as_deref() else {
        question(ui, "What does the seat hear now?", quiet("Nothing is open."));
        return;
    };
    let findings = results.findings.as_ref();
    let wrong = findings.map(|known| what_is_wrong(scene, &known.value));
    question(ui, "What does the seat hear now?", answer(wrong.as_deref()));
    let findings = known(ui, shown, findings);
    for (index, sentence) in wrong.iter().flatten().enumerate() {
        ui.add(Label::new(format!("{}. {sentence}", index + 1)).wrap());
    }
    choose_pair(ui, shown, asked);
    reflections(ui, shown, asked);
    arrivals::straight_and_bent(ui, shown, asked);
    listen::listen(ui, shown, asked);
    low_end::low_end(ui, shown, scene, asked);
    wave::wave(ui, shown, asked);
    let Some(findings) = findings else { return };
    if let Some(pair) = pair(shown, findings) {
        remark(ui, pair_sentence(pair));
        tone::tone(ui, scene, findings, pair);
        low_octaves(ui, shown);
        decay(ui, pair);
        clarity(ui, pair);
        inputs(ui, pair);
    }
    targets(ui, findings);
    likeness(ui, findings);
    flutter(ui, scene, findings);
    folded(ui, "How to read the tables", |ui| {
        remark(ui, ERRORS);
        if Band::ALL.into_iter().any(|band| is_statistical(findings, band)) {
            remark(ui, STATISTICAL);
        }
        for note in &findings.notes {
            remark(ui, format!("- {note}"));
        }
    });
}

fn answer(wrong: Option<&[String]>) -> RichText {
    match wrong {
        None => quiet(""),
        Some([]) => RichText::new("Nothing that these figures can judge.").color(QUIET),
        Some(_) => RichText::new("What is wrong here:").color(QUIET),
    }
}

/// The early reflections of the pair in front; a click draws the path.
fn reflections(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    section(ui, "Early reflections");
    known(ui, shown, shown.results.early.as_ref());
    let Some((index, pair)) = arrival::in_front(shown.view, shown.results) else { return };
    if pair.reflections.is_empty() {
        remark(ui, "No reflection found in the early window.");
        return;
    }
    choose_reflection(ui, shown, asked, (index, &pair.reflections), Which::Reflection);
    remark(
        ui,
        "re direct, at the place of the head where they are worst; a row's path is drawn in the room. Directions are degrees from where the head faces.",
    );
    let row = shown.view.arrival.filter(|choice| choice.pair == index).and_then(|choice| match choice.which {
        Which::Reflection(row) | Which::Joined { row, .. } => Some(row),
        Which::Direct { .. } | Which::Edge { .. } => None,
    });
    let joined_by = row.and_then(|row| Some((row, &pair.reflections.get(row)?.joined_by)));
    if let Some((row, joined_by)) = joined_by.filter(|(_, joined_by)| !joined_by.is_empty()) {
        section(ui, "Within a millisecond of it, counted with it");
        choose_reflection(ui, shown, asked, (index, joined_by), |member| Which::Joined { row, member });
    }
    arrivals::making(ui, shown, |which| matches!(which, Which::Reflection(_) | Which::Joined { .. }));
}

/// Reflections of a pair as a table; a row is chosen by a click.
fn choose_reflection(
    ui: &mut Ui,
    shown: Shown<'_>,
    asked: &mut Asked,
    (pair, reflections): (usize, &[Reflection]),
    which: impl Fn(usize) -> Which,
) {
    let mut table = Table::new(&["ms", "dB", "too loud", "order", "<bounces off", "<comes from"]);
    for (row, one) in reflections.iter().enumerate() {
        let excess = if one.is_too_loud() { number(one.excess_db, 1) } else { String::new() };
        let cells = [
            number(one.delay_ms, 2),
            number(one.level_db, 1),
            excess,
            one.order.to_string(),
            one.surfaces.join(", then "),
            direction(one.azimuth_deg, one.elevation_deg),
        ];
        let levels = Band::ALL.map(|band| format!("{} {} dB", band.label(), number(one.level_by_octave_db[band], 1)));
        table
            .row(cells)
            .chosen(shown.view.arrival == Some(ArrivalChoice { pair, which: which(row) }))
            .colored(if one.is_too_loud() { ACCENT } else { INK })
            .hint(levels.join("\n"));
    }
    if let Some(row) = table.choose(ui) {
        asked.push(arrivals::chosen_or_let_go(shown, ArrivalChoice { pair, which: which(row) }));
    }
}

/// What the octaves below the crossover rest on, where waves were run at all.
fn low_octaves(ui: &mut Ui, shown: Shown<'_>) {
    let results = shown.results;
    match (results.low_end(), &results.low_end) {
        (Some(of), _) if results.is_joined(false) => {
            let crossover = of.found.as_ref().map_or(0.0, |run| run.study.crossover_hz);
            remark(ui, format!("Octaves below {} Hz are those of the waves that were sent through this room.", number(crossover, 0)));
        }
        (Some(_), _) => remark(ui, "The octaves of the waves follow."),
        (None, Some(of)) if of.found.is_ok() => {
            let words = "Low end of an earlier state: run it again. Until then octaves with * are a statistical reading.";
            ui.add(Label::new(wrong(words).size(11.0)).wrap());
        }
        (None, _) => {}
    }
}

fn decay(ui: &mut Ui, pair: &Pair) {
    section(ui, &format!("{}: decay", label(Some(pair))));
    let mut table = Table::new(&["<octave", "EDT s", "T20 s", "T30 s", "rays that count"]);
    for octave in &pair.octaves {
        let is_statistical = octave.basis == Basis::Statistical;
        let cells = [
            octave_label(octave.frequency_hz, is_statistical),
            optional_estimate(octave.edt_s, 3),
            optional_estimate(octave.t20_s, 3),
            optional_estimate(octave.t30_s, 3),
            format!("{} %", number(100.0 * octave.effective_sample_share, 0)),
        ];
        table.row(cells).colored(if is_statistical { QUIET } else { INK }).hint(octave.note.clone().unwrap_or_default());
    }
    table.show(ui);
    let mut notes: Vec<&str> = pair.octaves.iter().filter_map(|octave| octave.note.as_deref()).collect();
    notes.dedup();
    for note in notes {
        remark(ui, note);
    }
}

fn clarity(ui: &mut Ui, pair: &Pair) {
    section(ui, &format!("{}: clarity", label(Some(pair))));
    let mut table = Table::new(&["<octave", "C50 dB", "C80 dB", "D50 %", "Ts ms", "G dB"]);
    for octave in &pair.octaves {
        let is_statistical = octave.basis == Basis::Statistical;
        let cells = [
            octave_label(octave.frequency_hz, is_statistical),
            optional_estimate(octave.c50_db, 1),
            optional_estimate(octave.c80_db, 1),
            optional_estimate(octave.d50.map(percent), 1),
            optional_estimate(octave.ts_ms, 1),
            optional_estimate(octave.g_db, 1),
        ];
        table.row(cells).colored(if is_statistical { QUIET } else { INK });
    }
    table.show(ui);
}

/// Where materials and tape may move what the two tables above tell.
fn inputs(ui: &mut Ui, pair: &Pair) {
    section(ui, &format!("{}: decay and clarity within the inputs", label(Some(pair))));
    let mut table = Table::new(&["<octave", "EDT s", "T20 s", "T30 s", "C50 dB", "C80 dB"]);
    for octave in &pair.octaves {
        let is_statistical = octave.basis == Basis::Statistical;
        let cells = [
            octave_label(octave.frequency_hz, is_statistical),
            inputs_cell(octave.edt_inputs_s),
            inputs_cell(octave.t20_inputs_s),
            inputs_cell(octave.t30_inputs_s),
            inputs_to(octave.c50_inputs_db, 1),
            inputs_to(octave.c80_inputs_db, 1),
        ];
        table.row(cells).colored(if is_statistical { QUIET } else { INK });
    }
    table.show(ui);
}

fn targets(ui: &mut Ui, findings: &Findings) {
    section(ui, "Targets");
    let mut table = Table::new(&["<what is asked", "<here", "<asked", "<verdict"]);
    for target in &findings.targets {
        let row = table.row([target.question.clone(), standing(target), wanted(target), verdict(target)]);
        row.colored(if verdict(target).starts_with("too") { ACCENT } else { INK }).hint(&target.source);
    }
    table.show(ui);
    remark(ui, "Point at a row to see which document asks for it.");
}

fn likeness(ui: &mut Ui, findings: &Findings) {
    if findings.likeness.is_empty() {
        return;
    }
    section(ui, "Left against right: level difference by octave (Hz), dB");
    let mut heads = vec!["<of".to_owned()];
    heads.extend(octave_heads(findings));
    for one in &findings.likeness {
        remark(ui, format!("{}: {} - {}", one.seat, one.left, one.right));
        let mut table = Table::new(&heads);
        for (what, difference) in [("early", one.early_difference_db), ("direct", one.direct_difference_db)] {
            table.row(std::iter::once(what.to_owned()).chain(signed(difference)));
        }
        table.show(ui);
    }
}

fn flutter(ui: &mut Ui, scene: &Scene, findings: &Findings) {
    let Some(first) = findings.flutter.first() else { return };
    section(ui, "Flutter: how long facing surfaces ring by themselves, s");
    let mut heads = vec!["<between".to_owned(), length_head("apart", scene), "every ms".to_owned()];
    heads.extend(FLUTTER_OCTAVES.map(|index| Band::new(index).label().to_owned()));
    heads.push("<heard".to_owned());
    let mut table = Table::new(&heads);
    for pair in longest(&findings.flutter) {
        let mut cells = vec![format!("{} and {}", pair.between[0], pair.between[1])];
        cells.extend([length_cell(pair.distance_m, scene), number(pair.period_ms, 1)]);
        cells.extend(FLUTTER_OCTAVES.map(|index| number(pair.t_s[Band::new(index)], 2)));
        cells.push(if pair.audible { "yes" } else { "no" }.to_owned());
        table.row(cells).colored(if pair.audible { ACCENT } else { INK });
    }
    let mut room = vec!["the room itself".to_owned(), String::new(), String::new()];
    room.extend(FLUTTER_OCTAVES.map(|index| optional(first.room_t_s[Band::new(index)], 2)));
    room.push(String::new());
    table.row(room).colored(QUIET);
    table.show(ui);
    remark(ui, "Heard: more than twice slower than the room in some octave from 500 Hz up (a rule from memory).");
}
