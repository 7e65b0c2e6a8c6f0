//! What there is to pick from: a search, a build-up as typed on the command line, and rows: what the room is made of now, the scene's own
//! materials, its stock, and the table by category. A click puts one beside the others, another takes it out.

use bevy_egui::egui::text::{LayoutJob, TextFormat};
use bevy_egui::egui::{Button, Id, Key, Label, Response, ScrollArea, TextBuffer, TextEdit, Ui};
use roomwright::absorbers::table;
use roomwright::bands::Bands;
use roomwright::report::text::figures::{OCTAVES, number};
use roomwright::scene::Scene;
use roomwright::study::absorbers::{Asked as Question, Listed, Mistake, absorbers};

use super::super::say::remark;
use super::super::table::Table;
use super::super::tokens::{ACCENT, INK, body_letters, quiet, small, subheading, wrong};
use super::super::{Asked, Shown};
use super::Draft;
use crate::command::Command;
use crate::comparison::{Choice, spelled, surfaces};

/// Octaves whose values stand beside a name where there is room: 125 Hz, 500 Hz, 2 kHz. All are told where a row is pointed at.
const TOLD: [usize; 3] = [1, 3, 5];
/// Width from which on there is room.
const WIDE: f32 = 300.0;
/// Width of the words before a field.
const WHAT: f32 = 50.0;
/// How a build-up is typed.
const EXAMPLE: &str = "50 mm, 12000, gap 50 mm";

/// One row to pick.
struct Row {
    choice: Choice,
    name: String,
    absorption: Option<Bands<Option<f64>>>,
    hint: String,
}

/// The column.
pub(super) fn list(ui: &mut Ui, shown: Shown<'_>, scene: Option<&Scene>, draft: &mut Draft, asked: &mut Asked) {
    search(ui, shown, scene, draft, asked);
    typed(ui, shown, scene, draft, asked);
    let groups = groups(scene, draft);
    ScrollArea::vertical().id_salt("absorbers to pick").auto_shrink(false).show(ui, |ui| {
        for note in draft.listed.iter().flat_map(|(_, listed)| &listed.notes) {
            remark(ui, note);
        }
        for (title, rows) in &groups {
            ui.label(subheading(title));
            self::rows(ui, shown, scene, rows, asked);
        }
    });
}

/// The search; Enter puts the first that is found beside the others.
fn search(ui: &mut Ui, shown: Shown<'_>, scene: Option<&Scene>, draft: &mut Draft, asked: &mut Asked) {
    let entered = line(ui, "search", |ui, label| {
        let field = ui.add(TextEdit::singleline(&mut draft.words).hint_text("rock wool 50").desired_width(ui.available_width() - 8.0));
        let field = field.labelled_by(label).on_hover_text("Words of its name. Enter puts the first that is found beside the others.");
        let entered = is_entered(ui, &field);
        if !draft.was_shown {
            field.request_focus();
        }
        entered
    });
    if draft.listed.as_ref().is_none_or(|(words, _)| *words != draft.words) {
        let found = absorbers(&Question { words: &draft.words, ..Question::default() }, None);
        draft.listed = found.ok().map(|listed| (draft.words.clone(), listed));
    }
    if entered && !draft.words.trim().is_empty() {
        let groups = groups(scene, draft);
        let mut rows = groups.iter().flat_map(|(_, rows)| rows);
        let first = rows.find(|row| shown.view.comparison.number(scene, &row.choice).is_none());
        asked.extend(first.map(|row| Command::Compare(row.choice.clone())));
    }
}

/// Whether Enter was pressed in a field; it goes on waiting for letters.
fn is_entered(ui: &Ui, field: &Response) -> bool {
    let is_entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
    if is_entered {
        field.request_focus();
    }
    is_entered
}

/// A word before a field.
fn line<R>(ui: &mut Ui, what: &str, add: impl FnOnce(&mut Ui, Id) -> R) -> R {
    ui.horizontal(|ui| {
        let before = ui.cursor().left();
        let label = ui.label(small(what)).id;
        ui.add_space((WHAT - (ui.cursor().left() - before)).max(0.0));
        add(ui, label)
    })
    .inner
}

/// A build-up as typed, and all that is wrong with it; it stays in its field.
fn typed(ui: &mut Ui, shown: Shown<'_>, scene: Option<&Scene>, draft: &mut Draft, asked: &mut Asked) {
    let choice = Choice::Typed(draft.typed.trim().to_owned());
    let is_there = shown.view.comparison.number(scene, &choice).is_some();
    let can = draft.read().is_ok() && !is_there;
    let known = draft.read.clone();
    let entered = line(ui, "build-up", |ui, label| {
        let mut letters =
            |ui: &Ui, text: &dyn TextBuffer, _: f32| ui.fonts_mut(|fonts| fonts.layout_job(marked(text.as_str(), known.as_ref())));
        let field = TextEdit::singleline(&mut draft.typed).hint_text(EXAMPLE).layouter(&mut letters);
        let field = ui.add(field.desired_width(ui.available_width() - 8.0)).labelled_by(label);
        let entered = is_entered(ui, &field);
        field.on_hover_text(
            "Front first, parts between commas: a thickness, its flow resistivity in Pa s/m2 (or 45 kg/m3 mineral), gap 50 mm, membrane 2.5 kg/m2, \
             perforated 3 mm with 20 % of 5 mm holes, suspended; size 60 x 120 cm and price 45 of one; a name before a colon. Enter puts it beside the others.",
        );
        entered
    });
    let is_typed = !draft.typed.trim().is_empty();
    let button = Button::new(small(if is_there { "it stands beside the others" } else { "put it beside the others" }));
    let is_clicked = is_typed && ui.add_enabled(can, button).clicked();
    let asks = (is_clicked || entered) && can;
    if asks {
        asked.push(Command::Compare(choice));
    }
    if is_typed && let Err(mistakes) = draft.read() {
        for Mistake { diagnostic, .. } in mistakes {
            ui.add(Label::new(wrong(&diagnostic.message).size(11.0)).wrap());
            diagnostic.hint.iter().for_each(|hint| _ = ui.add(Label::new(quiet(hint)).wrap()));
        }
    }
}

/// What is typed, with the wrong parts of it in the accent.
fn marked(text: &str, read: Option<&(String, Result<String, Vec<Mistake>>)>) -> LayoutJob {
    let mut job = LayoutJob::default();
    let font = body_letters();
    let wrong = match read {
        Some((known, Err(mistakes))) if known == text => mistakes.iter().map(|mistake| mistake.diagnostic.span.clone()).collect(),
        _ => Vec::new(),
    };
    for (at, letter) in text.char_indices() {
        let is_wrong = wrong.iter().any(|span| span.contains(&at));
        job.append(letter.encode_utf8(&mut [0; 4]), 0.0, TextFormat::simple(font.clone(), if is_wrong { ACCENT } else { INK }));
    }
    job
}

/// Surfaces, openings and blocks with their materials, as the table spells them.
type Made<'a> = Vec<(&'a str, &'a str)>;

/// All rows, in groups; of what is searched for those that are called so.
fn groups(scene: Option<&Scene>, draft: &Draft) -> Vec<(String, Vec<Row>)> {
    let words: Vec<String> = draft.words.split_whitespace().map(str::to_lowercase).collect();
    let is_called = |name: &str| words.iter().all(|word| name.to_lowercase().contains(word));
    let made: Made<'_> =
        scene.map_or_else(Vec::new, |scene| surfaces(scene).map(|(surface, material)| (surface, spelled(scene, material))).collect());
    let mut groups = Vec::new();
    if let Some(scene) = scene {
        groups.push(("The room now".to_owned(), in_the_room(scene, &made)));
        let stock = scene.stock.iter().map(|kind| Row {
            choice: Choice::Stock(kind.name.clone()),
            name: kind.name.clone(),
            absorption: None,
            hint: format!("{} left in stock", kind.count),
        });
        groups.push(("In stock".to_owned(), stock.collect()));
        let own = scene.materials.iter().map(|own| of_material(scene, &own.name, &made));
        groups.push(("Materials of the scene".to_owned(), own.collect()));
        groups.iter_mut().for_each(|(_, rows)| rows.retain(|row| is_called(&row.name)));
    }
    let listed = draft.listed.as_ref().map_or(&[][..], |(_, answer)| &answer.listed);
    // What is searched for comes in the order of how well it fits.
    let is_one = |one: &Listed, other: &Listed| !words.is_empty() || one.category == other.category;
    for rows in listed.chunk_by(is_one) {
        let title = if words.is_empty() { capital(&rows[0].category) } else { "In the table".to_owned() };
        groups.push((title, rows.iter().map(|row| of_table(row, &made)).collect()));
    }
    groups.retain(|(_, rows)| !rows.is_empty());
    groups
}

/// Materials of surfaces, openings and blocks, in the order of first mention.
fn in_the_room(scene: &Scene, made: &Made<'_>) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for (_, material) in made {
        if rows.iter().all(|known| known.name != *material) {
            rows.push(of_material(scene, material, made));
        }
    }
    rows
}

/// The row of a material of the scene's own, or of one of the table by its own spelling.
fn of_material(scene: &Scene, material: &str, made: &Made<'_>) -> Row {
    let own = scene.materials.iter().find(|own| own.name == material);
    let row = table::find(material).filter(|_| own.is_none());
    let status = row.map_or("material of the scene", |row| row.status.label());
    Row {
        choice: Choice::Material(material.to_owned()),
        name: material.to_owned(),
        absorption: own.map(|own| own.absorption).or(row.map(|row| row.published)),
        hint: with_uses(material, status, made),
    }
}

fn of_table(row: &Listed, made: &Made<'_>) -> Row {
    Row {
        choice: Choice::Material(row.name.clone()),
        name: row.name.clone(),
        absorption: Some(row.absorption),
        hint: with_uses(&row.name, &row.status, made),
    }
}

fn with_uses(material: &str, status: &str, made: &Made<'_>) -> String {
    let on: Vec<&str> = made.iter().filter(|(_, of)| *of == material).map(|(surface, _)| *surface).collect();
    if on.is_empty() { status.to_owned() } else { format!("{status}\nnow of it: {}", on.join(", ")) }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn cell(value: Option<f64>) -> String {
    value.map_or_else(|| "-".to_owned(), |value| number(value, 2))
}

/// Rows to click.
fn rows(ui: &mut Ui, shown: Shown<'_>, scene: Option<&Scene>, rows: &[Row], asked: &mut Asked) {
    let told: &[usize] = if ui.available_width() >= WIDE { &TOLD } else { &[] };
    let heads: Vec<String> =
        ["".to_owned(), "<".to_owned()].into_iter().chain(told.iter().map(|&octave| OCTAVES[octave].to_owned())).collect();
    let mut table = Table::new(&heads);
    for row in rows {
        let number = shown.view.comparison.number(scene, &row.choice);
        let values = told.iter().map(|&octave| row.absorption.map_or_else(String::new, |absorption| cell(absorption.0[octave])));
        let cells = [number.map_or_else(|| " ".to_owned(), |number| number.to_string()), row.name.clone()].into_iter().chain(values);
        let all = row.absorption.map_or_else(String::new, |absorption| {
            let octaves: Vec<String> =
                OCTAVES.iter().zip(absorption.0).map(|(octave, value)| format!("{octave} {}", cell(value))).collect();
            format!("\n{}", octaves.join("   "))
        });
        table.row(cells).chosen(number.is_some()).hint(format!("{}{all}\n{}", row.name, row.hint));
    }
    if let Some(row) = table.choose(ui).and_then(|row| rows.get(row)) {
        let is_there = shown.view.comparison.number(scene, &row.choice).is_some();
        let choice = row.choice.clone();
        asked.push(if is_there { Command::LeaveOut(choice) } else { Command::Compare(choice) });
    }
}
