//! The first step: what is the room? Sizes, surfaces and their materials, first modes, and what is wrong with the scene text.

use bevy_egui::egui::{Align, ComboBox, CursorIcon, Grid, Label, Layout, RichText, Sense, Ui, vec2};
use roomwright::absorbers::table;
use roomwright::bands::Band;
use roomwright::findings::survey::sending_limits;
use roomwright::findings::{SurfaceArea, Survey};
use roomwright::report::text::figures::{OCTAVES, activity, area, area_cell, area_unit, number, volume};
use roomwright::report::text::holding;
use roomwright::report::text::room::{BEARINGS, absorption, aim, sends_as, size_rows};
use roomwright::scene::{Activity, Diagnostic, Scene, Severity};

use super::say::{folded, known, question, remark, section};
use super::table::Table;
use super::tokens::{ACCENT, QUIET, quiet, small, wrong};
use super::{Asked, Drafts, Shown, forms};
use crate::command::Command;
use crate::comparison::{Choice, Target, spelled};
use crate::view::Strip;

/// Octaves that the table of surfaces shows: 125 Hz, 500 Hz, 2 kHz. All eight are told where a surface is pointed at.
const SHOWN: [usize; 3] = [1, 3, 5];

/// Width of a number beside a material.
const NUMBER: f32 = 38.0;

/// The panel.
pub(crate) fn survey(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    let scene = shown.results.scene.as_deref();
    question(ui, "What is the room?", answer(shown));
    mistakes(ui, shown, drafts, asked);
    let Some(scene) = scene else { return };
    if let Some(text) = &scene.question {
        remark(ui, text);
    }
    if shown.results.is_sketch {
        remark(ui, "Drawn is what could be read of the text; nothing is computed until its mistakes are mended.");
        return;
    }
    uses(ui, shown, scene, asked);
    let Some(survey) = known(ui, shown, shown.results.survey.as_ref()) else { return };
    sizes(ui, scene, survey);
    forms::lists(ui, shown, scene, drafts, asked);
    surfaces(ui, shown, scene, survey, asked);
    sources(ui, scene, survey);
    senders(ui, scene, survey);
    modes(ui, survey);
    holding(ui, scene, survey);
    section(ui, "What panels do not do");
    remark(ui, "Panels do not keep sound in or out: what the neighbors hear is decided by mass, tightness and distance.");
}

/// What holds behind the surfaces, what stays free before them, and what of that the scene does not say.
fn holding(ui: &mut Ui, scene: &Scene, survey: &Survey) {
    let rows = holding::rows(scene);
    if rows.is_empty() && survey.unsaid.is_empty() {
        return;
    }
    section(ui, holding::HEADING);
    let mut table = Table::new(&["<what", "<where", "<how"]);
    rows.into_iter().for_each(|row| {
        table.row(row);
    });
    table.show(ui);
    if holding::has_lines(scene) {
        remark(ui, holding::EDGES);
    }
    survey.unsaid.iter().for_each(|sentence| remark(ui, sentence));
}

/// The room in one line.
fn answer(shown: Shown<'_>) -> RichText {
    if shown.document.is_broken() {
        return wrong("The scene text has mistakes.");
    }
    match (&shown.results.scene, &shown.results.survey) {
        (Some(scene), Some(known)) => {
            let survey = &known.value;
            RichText::new(format!(
                "{} of air over {} of floor, for {}.",
                volume(survey.volume_m3, scene),
                area(survey.floor_area_m2, scene),
                activity(scene.activity)
            ))
            .color(QUIET)
        }
        (Some(_), None) => quiet("The room is being measured."),
        (None, _) => quiet("Nothing is open."),
    }
}

/// What is wrong with the text; a click shows the line.
fn mistakes(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    let mut found: Vec<&Diagnostic> = shown.document.mistakes().iter().collect();
    if found.is_empty() {
        return;
    }
    found.sort_by_key(|one| (one.severity == Severity::Warning, one.line));
    section(ui, "What is wrong with the text");
    let mut table = Table::new(&["line", "<what", "<what to type"]);
    for one in &found {
        let row = table.row([one.line.to_string(), one.message.clone(), one.hint.clone().unwrap_or_default()]);
        row.colored(if one.severity == Severity::Error { ACCENT } else { QUIET }).hint("Click to see the line in the scene text.");
    }
    if let Some(row) = table.choose(ui) {
        asked.push(Command::ChooseStrip(Strip::Text));
        drafts.text.show_line(found[row].line);
    }
}

/// What the room is for.
fn uses(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, asked: &mut Asked) {
    ui.add_enabled_ui(!shown.document.is_broken(), |ui| {
        ui.horizontal(|ui| {
            ui.label("used for");
            ComboBox::from_id_salt("use").selected_text(activity(scene.activity)).width(190.0).show_ui(ui, |ui| {
                for other in [Activity::Mixing, Activity::Voice, Activity::Rehearsal, Activity::Lesson] {
                    if ui.selectable_label(other == scene.activity, activity(other)).clicked() && other != scene.activity {
                        asked.push(Command::SetActivity(other));
                    }
                }
            });
            ui.label(quiet("decides the targets"));
        });
    });
}

fn sizes(ui: &mut Ui, scene: &Scene, survey: &Survey) {
    section(ui, "Size");
    let mut table = Table::new(&["<what", "how much", "<remark"]);
    // The use stands above, where it can be changed.
    for row in size_rows(scene, survey).into_iter().skip(1) {
        table.row(row);
    }
    table.show(ui);
}

/// Every surface with a material to choose.
fn surfaces(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, survey: &Survey, asked: &mut Asked) {
    section(ui, "Surfaces, with random-incidence absorption by octave (Hz)");
    let is_open = !shown.document.is_broken();
    Grid::new("surfaces").num_columns(3 + SHOWN.len()).spacing([8.0, 3.0]).show(ui, |ui| {
        ui.label(quiet("surface"));
        right(ui, quiet(area_unit(scene)));
        ui.label(quiet("material"));
        SHOWN.into_iter().for_each(|index| right(ui, quiet(OCTAVES[index])));
        ui.end_row();
        for surface in &survey.surfaces {
            let all = all_octaves(surface);
            let name = ui.add(Label::new(small(&surface.name)).sense(Sense::click())).on_hover_cursor(CursorIcon::PointingHand);
            if name.on_hover_text(format!("{all}\nClick to see its material beside others.")).clicked() {
                let target = Target::One(surface.name.clone());
                let choice = Choice::Material(spelled(scene, &surface.material).to_owned());
                asked.extend([Command::ChooseTarget(Some(target)), Command::Compare(choice), Command::ChooseStrip(Strip::Absorbers)]);
            }
            right(ui, small(area_cell(surface.area_m2, scene)));
            ui.add_enabled_ui(is_open, |ui| material(ui, scene, surface, asked));
            SHOWN.into_iter().for_each(|index| right(ui, small(absorption(surface, Band::new(index)).trim_end())));
            ui.end_row();
        }
    });
    if survey.surfaces.iter().any(|surface| surface.extrapolated.0.contains(&true)) {
        remark(ui, "~ no table holds this octave: filled by rule, not measured.");
    }
}

fn right(ui: &mut Ui, text: RichText) {
    ui.allocate_ui_with_layout(vec2(NUMBER, ui.spacing().interact_size.y), Layout::right_to_left(Align::Center), |ui| ui.label(text));
}

fn all_octaves(surface: &SurfaceArea) -> String {
    let octaves: Vec<String> =
        Band::ALL.iter().map(|&band| format!("{} {}", OCTAVES[band.index()], absorption(surface, band).trim_end())).collect();
    format!("{}\n{}\n{}", surface.material, octaves.join("   "), surface.source)
}

/// The materials of the scene, then those of the table.
fn material(ui: &mut Ui, scene: &Scene, surface: &SurfaceArea, asked: &mut Asked) {
    let shown =
        ComboBox::from_id_salt(("material", &surface.name)).selected_text(small(&surface.material)).width(150.0).truncate().height(320.0);
    let mut names: Vec<&str> = scene.materials.iter().map(|material| material.name.as_str()).collect();
    table::names().for_each(|name| names.push(name));
    shown.show_ui(ui, |ui| {
        for name in names {
            let choice = ui.selectable_label(name == surface.material, small(name));
            if choice.clicked() && name != surface.material {
                asked.push(Command::SetMaterial { surface: surface.name.clone(), material: name.to_owned() });
            }
        }
    });
}

/// Areas by material with their sources, in the order of first mention.
fn sources(ui: &mut Ui, scene: &Scene, survey: &Survey) {
    folded(ui, "Materials", |ui| {
        let mut table = Table::new(&["<material", "<source of its absorption"]);
        let mut told: Vec<&str> = Vec::new();
        for surface in &survey.surfaces {
            if !told.contains(&surface.material.as_str()) {
                told.push(&surface.material);
                table.row([surface.material.clone(), surface.source.clone()]);
            }
        }
        table.show(ui);
        if scene.materials.is_empty() {
            remark(ui, "A material of your own is a [[material]] in the scene text.");
        }
    });
}

/// Where each source points, how it sends, and what that leaves out.
fn senders(ui: &mut Ui, scene: &Scene, survey: &Survey) {
    if survey.sources.is_empty() {
        return;
    }
    folded(ui, "Where sources point, how they send", |ui| {
        let mut heads = ["<source", "<points to", "<sends as"].map(str::to_owned).to_vec();
        heads.extend(SHOWN.map(|octave| format!("{} dB", OCTAVES[octave])));
        let mut table = Table::new(&heads);
        for source in &survey.sources {
            let indices = SHOWN.map(|octave| number(source.directivity_index_db.0[octave], 1));
            table.row([source.name.clone(), aim(source), sends_as(source, scene)].into_iter().chain(indices));
        }
        table.show(ui);
        remark(ui, BEARINGS);
        for limits in sending_limits(&survey.sources) {
            remark(ui, &limits);
        }
    });
}

fn modes(ui: &mut Ui, survey: &Survey) {
    folded(ui, "First axial modes, for orientation only", |ui| {
        if survey.axial_modes.is_empty() {
            remark(ui, "No two walls face each other in parallel.");
            return;
        }
        let mut table = Table::new(&["Hz", "order", "<between"]);
        for mode in &survey.axial_modes {
            table.row([number(mode.frequency_hz, 1), mode.order.to_string(), format!("{} and {}", mode.between[0], mode.between[1])]);
        }
        table.show(ui);
        remark(ui, "They are those of rigid parallel surfaces; a room with slopes and corners has others beside them.");
    });
}
