//! Where seat and loudspeakers could stand: the place and its reasons, what moves, the map over the grid, the best places with what they gain, what their low end is like and
//! how to measure them, the best place for the low end alone; and the button that moves the set there.
//!
//! All of it is drawn with the scene that it was studied in.

use bevy_egui::egui::{Button, ComboBox, Label, Ui};
use roomwright::plan::positions::{Finalist, Standing};
use roomwright::report::positions_map::{Shown as Map, facing_words, facings};
use roomwright::report::text::figures::{length, optional_estimate};
use roomwright::report::text::positions::{
    FINALISTS, MEASURES, bass, columns, finalists, measures, rays, reasons, tape_heading, weakest, what,
};
use roomwright::scene::{Scene, Term};
use roomwright::study::{PositionsAsked, PositionsStudy};

use super::errand::{errand, holds};
use super::low_end::by_waves;
use super::places::{key, map};
use super::say::{folded, remark, section};
use super::table::Table;
use super::tokens::{MAP, small, wrong};
use super::{Asked, Drafts, Shown};
use crate::command::Command;
use crate::errand::Errand;
use crate::reason::without_options;

/// Columns of the comparison that have room beside the stage, the gain first; the others are told where a row is pointed at.
const SHOWN: [usize; 7] = [0, 1, 2, 8, 9, 3, 4];
/// The same where waves were run: what the low end is like takes the room of early terms, and the weakest third octave stands behind it.
const BY_WAVES: [usize; 6] = [0, 1, 2, 8, 9, 7];

/// The section.
pub(super) fn positions(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    section(ui, "Where seat and loudspeakers could stand");
    let of = shown.results.positions.as_deref();
    match of {
        Some(of) => stays(ui, of.found.as_ref().ok().map(|(_, study)| study), &mut drafts.stays),
        // Nothing was tried yet of this scene: what is to stay was said of another.
        None => drafts.stays.clear(),
    }
    let wanted = PositionsAsked { stays: drafts.stays.clone(), ..PositionsAsked::default() };
    by_waves(ui, shown, shown.results.place_effort.as_ref().map(|effort| &effort.positions), asked);
    errand(ui, shown, "Try other places for them", Errand::Positions(wanted, shown.view.low_end.waves()), asked);
    let Some(of) = of else {
        remark(
            ui,
            "Before a panel hangs: the room is traced anew at each place, which takes a minute and more; nothing moves until you say so.",
        );
        return;
    };
    let is_fresh = holds(ui, shown, &of.scene, "try the places again");
    match &of.found {
        Ok((_, study)) => found(ui, shown, (&of.scene, study), is_fresh, asked),
        Err(why) => _ = ui.add(Label::new(wrong(why)).wrap()),
    }
}

/// What moved along last and what stayed, to be changed before the places are tried again.
fn stays(ui: &mut Ui, study: Option<&PositionsStudy>, stays: &mut Vec<String>) {
    let mut names: Vec<String> = study.into_iter().flat_map(|study| &study.present.standing).map(|part| part.name.clone()).collect();
    names.extend(stays.iter().filter(|name| !names.contains(name)).cloned().collect::<Vec<_>>());
    if names.is_empty() {
        return;
    }
    ui.horizontal_wrapped(|ui| {
        ui.label(small("As one piece move:"));
        for name in names {
            let mut moves = !stays.contains(&name);
            if ui.checkbox(&mut moves, small(&name)).changed() {
                stays.retain(|other| *other != name);
                if !moves {
                    stays.push(name);
                }
            }
        }
    });
}

fn found(ui: &mut Ui, shown: Shown<'_>, (scene, study): (&Scene, &PositionsStudy), is_fresh: bool, asked: &mut Asked) {
    for reason in &study.reasons {
        ui.add(Label::new(reason).wrap());
    }
    let (chosen_map, turned) = chosen_map(shown, study);
    choose_map(ui, study, (chosen_map, turned), asked);
    let place = shown.view.place.filter(|number| study.finalists.iter().any(|one| one.number == *number));
    if let Some(number) = map(ui, (scene, study), (chosen_map, turned), place) {
        asked.extend(choose(study, chosen_map, place, number));
    }
    key(ui, study, chosen_map);
    best(ui, (scene, study), chosen_map, place, asked);
    tape(ui, scene, study, place);
    evenest(ui, scene, study);
    section(ui, "Before you move anything");
    for caution in &study.cautions {
        remark(ui, caution);
    }
    let words = place.map_or_else(|| "Move the set".to_owned(), |number| format!("Move the set to place {number}"));
    let why_not = if is_fresh { "Choose a place first." } else { "The scene has changed since; try the places again." };
    let button = ui.add_enabled(is_fresh && place.is_some(), Button::new(words)).on_disabled_hover_text(why_not);
    if let (true, Some(number)) = (button.clicked(), place) {
        asked.push(Command::TakePlace(number));
    }
    folded(ui, "How sure the places are", |ui| {
        remark(ui, what(scene, study));
        remark(ui, rays(study));
        for note in &study.notes {
            remark(ui, format!("- {}", without_options(note)));
        }
        for line in reasons(study) {
            remark(ui, format!("Does not fit at {line}"));
        }
    });
}

/// What the map shows: as chosen, where that is known and the set fits in that facing.
fn chosen_map(shown: Shown<'_>, study: &PositionsStudy) -> (Map, u32) {
    let (map, turned) = shown.view.place_map;
    let map = if map.is_known(study) { map } else { Map::Score };
    (map, if facings(study).any(|facing| facing.turned_deg == turned) { turned } else { 0 })
}

/// Which term, and which facing.
fn choose_map(ui: &mut Ui, study: &PositionsStudy, (map, turned): (Map, u32), asked: &mut Asked) {
    ui.horizontal(|ui| {
        ui.label("map of");
        // Never as wide as the panel: that would widen it, pass by pass.
        let list = ComboBox::from_id_salt("map of places").width(ui.available_width() - MAP.aside).truncate();
        list.selected_text(map.meaning()).show_ui(ui, |ui| {
            for one in Map::ALL.into_iter().filter(|one| one.is_known(study)) {
                if ui.selectable_label(one == map, one.meaning()).clicked() {
                    asked.push(Command::ChoosePlaceMap(one, turned));
                }
            }
        });
    });
    ui.horizontal_wrapped(|ui| {
        for facing in facings(study) {
            if ui.selectable_label(facing.turned_deg == turned, facing_words(facing)).clicked() {
                asked.push(Command::ChoosePlaceMap(map, facing.turned_deg));
            }
        }
    });
}

/// Chooses a place and shows the map of its facing, or lets go of it.
fn choose(study: &PositionsStudy, map: Map, before: Option<usize>, number: usize) -> Vec<Command> {
    let Some(one) = study.finalists.iter().find(|one| one.number == number && before != Some(number)) else {
        return vec![Command::ChoosePlace(None)];
    };
    vec![Command::ChoosePlace(Some(number)), Command::ChoosePlaceMap(map, one.place.turned_deg)]
}

/// The best places against the present one; a click chooses one.
fn best(ui: &mut Ui, (scene, study): (&Scene, &PositionsStudy), map: Map, place: Option<usize>, asked: &mut Asked) {
    section(ui, "The best places against the present one");
    let by_waves = study.bass.is_some();
    let shown = if by_waves { &BY_WAVES[..] } else { &SHOWN };
    let heads = shown.iter().map(|column| FINALISTS[*column]).chain(by_waves.then_some("<weakest"));
    let mut table = Table::new(&heads.collect::<Vec<_>>());
    // The first row is the present place.
    for (row, all) in finalists(scene, study).into_iter().enumerate() {
        let cells = shown.iter().map(|column| all[*column].clone());
        let one = row.checked_sub(1).and_then(|index| study.finalists.get(index));
        let gain =
            |term: Term| one?.gains_steps[term].map(|steps| format!("{}: {} steps", term.words(), optional_estimate(Some(steps), 1)));
        let others =
            (0..all.len()).filter(|column| !shown.contains(column)).map(|column| format!("{}: {}", FINALISTS[column], all[column]));
        let more: Vec<String> = others.chain(Term::ALL.into_iter().filter_map(gain)).collect();
        let weak = by_waves.then(|| weakest(one.map_or(study.present.bass, |one| one.bass)));
        table.row(cells.chain(weak)).chosen(one.is_some_and(|one| place == Some(one.number))).hint(more.join("\n"));
    }
    let chosen = table.choose(ui).and_then(|row| study.finalists.get(row.checked_sub(1)?));
    if let Some(one) = chosen {
        asked.extend(choose(study, map, place, one.number));
    }
    for line in columns() {
        remark(ui, line);
    }
}

/// How to measure the chosen place, or where it stands now.
fn tape(ui: &mut Ui, scene: &Scene, study: &PositionsStudy, place: Option<usize>) {
    let one = study.finalists.iter().find(|one| Some(one.number) == place);
    section(ui, &one.map_or_else(|| "Where it stands now".to_owned(), tape_heading));
    measured(ui, scene, one.map_or(&study.present.standing, |one| &one.standing));
}

fn measured(ui: &mut Ui, scene: &Scene, standing: &[Standing]) {
    let mut table = Table::new(&MEASURES.map(|head| format!("<{head}")));
    for part in standing {
        table.row(measures(scene, part));
    }
    table.show(ui);
}

/// The best place for the low end alone, and how it is measured where that is another one.
fn evenest(ui: &mut Ui, scene: &Scene, study: &PositionsStudy) {
    let Some(evenest) = study.bass.as_ref().and_then(|bass| bass.evenest.as_ref()) else { return };
    section(ui, "The best place for the low end alone");
    let even = format!("third octaves {} dB off their mean, the weakest {}", bass(Some(evenest.bass)), weakest(Some(evenest.bass)));
    if evenest.place == study.present.place {
        remark(ui, format!("The present one: {even}."));
    } else if let Some(one) = study.finalists.iter().find(|one: &&Finalist| one.place == evenest.place) {
        remark(ui, format!("Place {}: {even}.", one.number));
    } else {
        remark(ui, format!("Another one, {} from where it is now, facing {}: {even}.", length(evenest.moved_m, scene), evenest.facing));
        measured(ui, scene, &evenest.standing);
    }
}
