//! The fifth step: did it work? The answer in sentences, recordings that are chosen in `list`, materials fitted to them in `fit`, then decay, clarity and reflections as measured beside what was predicted, or of a
//! `voice` how deep its loudness goes up and down, in words and columns of the printed page; `charts` has the charts in the strip beneath the stage.
//!
//! All of it is drawn with the scene and the recordings that were compared.

mod charts;
mod fit;
mod list;
mod voice;

use bevy_egui::egui::{Color32, Label, RichText, Ui};
use roomwright::prove::{Compared, Found, Proved, ProvedOctave};
use roomwright::report::text::figures::{number, optional};
use roomwright::report::text::prove::{
    COLUMNS, MEASURES, NEW_HEADS, REFLECTION_HEADS, REFLECTIONS, about, bent, cells, heading, heads, new, octave, reasons, reflection,
    speech,
};
use roomwright::scene::Scene;

use super::errand::{errand, holds};
use super::low_end::by_waves;
use super::say::{folded, question, remark, section};
use super::table::Table;
use super::tokens::{ACCENT, INK, QUIET, small};
use super::{Asked, Shown};
use crate::command::Command;
use crate::errand::Errand;
use crate::low_end::Effort;
use crate::proving::{Front, ProveAsked, ProveChoice, Proven, Told, faults, front};

pub(super) use charts::charts;

/// A measure of the tables: its name, unit, digits, and what of an octave it is.
type Measure = (&'static str, &'static str, usize, fn(&ProvedOctave) -> &Compared);

/// The panel.
pub(crate) fn prove(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let proven = shown.results.proof.as_deref();
    let answer = match proven.and_then(|proven| proven.verdict().first().copied()) {
        Some(sentence) => RichText::new(sentence),
        None => RichText::new("A recording of the room tells: it is set beside what this scene predicts.").color(QUIET),
    };
    question(ui, "Did it work?", answer);
    if let Some(proven) = proven {
        verdict(ui, shown, proven);
    }
    section(ui, "Recordings");
    list::list(ui, shown, asked);
    compare(ui, shown, asked);
    fit::fit(ui, shown, asked);
    if let Some((proven, one)) = front(shown.view, shown.results) {
        choose(ui, shown, proven, asked);
        match one {
            Front::Recording(one) => answered(ui, shown, proven, one, asked),
            Front::Voice(one) => voice::answered(ui, shown, (proven, one), asked),
        }
        folded(ui, "How sure this is", |ui| proven.notes().iter().for_each(|note| remark(ui, format!("- {note}"))));
    }
    by_ear(ui);
}

/// The other sentences, and what they are of.
fn verdict(ui: &mut Ui, shown: Shown<'_>, proven: &Proven) {
    for sentence in proven.verdict().into_iter().skip(1) {
        ui.add(Label::new(sentence).wrap());
    }
    if let Some(by) = proven.proof.as_ref().and_then(|proof| proof.asked_by.as_ref()) {
        remark(ui, format!("What is asked of the decay: {by}."));
    }
    holds(ui, shown, &proven.scene, "compare again");
    let now = &shown.view.proving.listed;
    let files =
        |listed: &[crate::recordings::Listed]| listed.iter().flat_map(|one| one.files().cloned().collect::<Vec<_>>()).collect::<Vec<_>>();
    let (then, today) = (files(&proven.listed), files(now));
    let changed = then.iter().filter(|file| today.iter().any(|other| other.path == file.path && other != *file));
    let names: Vec<String> = changed.map(crate::recordings::SoundFile::name).collect();
    if !names.is_empty() {
        remark(ui, format!("Changed on disk since: {}; compare again.", names.join(", ")));
    } else if proven.listed != *now {
        remark(ui, "This is of the recordings as they were listed then; compare again.");
    }
}

/// The button, and what is asked of the prediction.
fn compare(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let Some(scene) = &shown.results.scene else { return };
    let listed = &shown.view.proving.listed;
    if listed.is_empty() {
        return;
    }
    let effort = shown.results.effort.as_ref().map(|Effort { found, .. }| found);
    by_waves(ui, shown, effort, asked);
    let in_the_way = is_in_the_way(shown, scene);
    let wanted = ProveAsked { listed: listed.clone(), waves: shown.view.low_end.waves(), fits: None };
    ui.add_enabled_ui(!in_the_way, |ui| errand(ui, shown, "Compare with the room", Errand::Prove(wanted), asked));
    if in_the_way {
        remark(ui, "First see to what is said beside the recordings.");
    }
}

/// Whether something is in the way of a recording.
fn is_in_the_way(shown: Shown<'_>, scene: &Scene) -> bool {
    shown.view.proving.listed.iter().any(|one| !faults(shown.results, scene, one).is_empty())
}

/// Which recording is told of, where there are several.
fn choose(ui: &mut Ui, shown: Shown<'_>, proven: &Proven, asked: &mut Asked) {
    if proven.listed.len() < 2 {
        return;
    }
    section(ui, "Recording in front");
    for (number, listed) in proven.listed.iter().enumerate() {
        let name = match proven.of(number) {
            Some(Front::Recording(one)) => heading(one),
            Some(Front::Voice(one)) => voice::heading(one),
            None => continue,
        };
        let is_chosen = number == shown.view.proving.shown;
        if ui.selectable_label(is_chosen, small(format!("{name} ({})", listed.file.name()))).clicked() {
            asked.push(Command::Prove(ProveChoice::Show(number)));
        }
    }
}

fn answered(ui: &mut Ui, shown: Shown<'_>, proven: &Proven, one: &Proved, asked: &mut Asked) {
    section(ui, &heading(one));
    remark(ui, about(one));
    ui.add(Label::new(speech(one)).wrap());
    for (place, measure) in MEASURES.into_iter().enumerate() {
        let name = capital(measure.0);
        if place == 0 {
            section(ui, &name);
            compared(ui, one, measure, one.decay_s.as_ref());
            mean(ui, proven, one);
            remark(ui, COLUMNS);
            bent(one).into_iter().chain(reasons(one)).for_each(|line| remark(ui, line));
        } else {
            folded(ui, &name, |ui| compared(ui, one, measure, None));
        }
    }
    reflections(ui, shown, one, asked);
    new_ones(ui, shown, one, asked);
}

/// What one measure is by octave, and its mean where that is told: measured beside predicted, then beside before.
fn compared(ui: &mut Ui, one: &Proved, (_, unit, digits, of): Measure, mean: Option<&Compared>) {
    let rows = || one.octaves.iter().map(|each| (octave(each), of(each))).chain(mean.map(|mean| ("mean".to_owned(), mean)));
    let mut table = Table::new(&heads(unit, false));
    for (name, each) in rows() {
        table.row(std::iter::once(name).chain(cells(each, digits, false))).colored(color(each));
    }
    table.show(ui);
    if one.before.is_none() {
        return;
    }
    let mut table = Table::new(&["<octave".to_owned(), format!("before, {unit}"), format!("measured, {unit}"), "change, steps".to_owned()]);
    for (name, each) in rows() {
        let before = each.before.as_ref().and_then(|before| before.value);
        table.row([name, optional(before, digits), optional(each.measured.value, digits), optional(each.change_steps, 1)]);
    }
    table.show(ui);
}

/// What differs stands out.
fn color(one: &Compared) -> Color32 {
    use roomwright::prove::Agreement;
    match one.agreement {
        Agreement::Higher | Agreement::Lower => ACCENT,
        Agreement::AsPredicted => INK,
        Agreement::NotJudged => QUIET,
    }
}

/// What is asked of the decay, s.
fn asked_s(proven: &Proven) -> Option<[f64; 2]> {
    proven.proof.as_ref()?.asked_s
}

/// Which octaves the mean is of, and what is asked of it.
fn mean(ui: &mut Ui, proven: &Proven, one: &Proved) {
    let of = one.decay_octaves_hz.map(|[first, last]| format!("Mean: {first} Hz to {last} Hz, in which the use is judged."));
    let asked = asked_s(proven).map(|[low, high]| format!("Asked for: {} s to {} s.", number(low, 2), number(high, 2)));
    let words: Vec<String> = of.into_iter().chain(asked).collect();
    if !words.is_empty() {
        remark(ui, words.join(" "));
    }
}

/// Predicted reflections; a click draws one in front.
fn reflections(ui: &mut Ui, shown: Shown<'_>, one: &Proved, asked: &mut Asked) {
    if one.reflections.is_empty() {
        return;
    }
    section(ui, "Early reflections");
    let mut table = Table::new(&REFLECTION_HEADS);
    for (row, each) in one.reflections.iter().enumerate() {
        let ink = match each.found {
            Found::Louder => ACCENT,
            Found::AsPredicted | Found::Weaker => INK,
            Found::NotToldApart | Found::Missing => QUIET,
        };
        table.row(reflection(each)).colored(ink).chosen(shown.view.proving.told == Some(Told::Predicted(row)));
    }
    if let Some(row) = table.choose(ui) {
        asked.push(told_or_let_go(shown, Told::Predicted(row)));
    }
    remark(ui, REFLECTIONS);
}

/// Reflections that nothing predicts; a click outlines what they could come by.
fn new_ones(ui: &mut Ui, shown: Shown<'_>, one: &Proved, asked: &mut Asked) {
    if one.new_reflections.is_empty() {
        return;
    }
    section(ui, "Reflections that nothing predicts");
    let mut table = Table::new(&NEW_HEADS);
    for (row, each) in one.new_reflections.iter().enumerate() {
        table.row(new(each)).colored(ACCENT).chosen(shown.view.proving.told == Some(Told::New(row)));
    }
    if let Some(row) = table.choose(ui) {
        asked.push(told_or_let_go(shown, Told::New(row)));
    }
    remark(
        ui,
        "Ways are as long as what was measured; that sound took them is not proven. The surfaces of the one that is chosen are outlined in the room.",
    );
}

/// Puts a reflection in front, or lets go of it where it is there already.
fn told_or_let_go(shown: Shown<'_>, told: Told) -> Command {
    Command::Prove(ProveChoice::Tell((shown.view.proving.told != Some(told)).then_some(told)))
}

fn by_ear(ui: &mut Ui) {
    section(ui, "By ear");
    ui.add(
        Label::new(
            "Clap where the flutter of \"hear\" says to stand, before and after. Record your voice, too, the same text at the same place, before and \
             after; listed as a voice, both takes are compared, and written equally loud to listen to.",
        )
        .wrap(),
    );
}

/// What is said of the step in a few letters.
pub(super) fn words(shown: Shown<'_>) -> String {
    let listed = shown.view.proving.listed.len();
    if let Some(proven) = shown.results.proof.as_deref() {
        if !shown.results.shows(&proven.scene) {
            return "earlier scene".to_owned();
        }
        let (agree, all) = proven.agreeing();
        return if all == 0 { "compared".to_owned() } else { format!("{agree} of {all} agree") };
    }
    match listed {
        0 => "no recording".to_owned(),
        1 => "1 recording".to_owned(),
        more => format!("{more} recordings"),
    }
}

/// An octave's decay as it is compared.
fn decays(one: &Proved) -> impl Iterator<Item = (&ProvedOctave, &Compared)> {
    one.octaves.iter().map(|octave| (octave, octave.decay()))
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
