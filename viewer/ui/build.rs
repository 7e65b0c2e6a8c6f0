//! The fourth step: what do I cut, and where do I drill? What needs a look first, what to buy, what to cut and when; then surface by surface every
//! mark, what hangs overhead, and what could hurt.
//!
//! Everything that hangs in the scene on screen is built. Sentences are those of the command line; the cautions of the surface in front stay open.

use bevy::math::DVec2;
use bevy_egui::egui::{Button, Label, RichText, Ui};
use roomwright::report::tape::Tape;
use roomwright::report::text::build::{bought, cost_lines, loads, money, one, quantity, schedule_line, what};
use roomwright::report::text::figures::{length, length_cell, length_head};
use roomwright::scene::Scene;
use roomwright::scene::prices::plural;
use roomwright::study::Building;
use roomwright::workshop::{Build, Cautions, MarkedPanel, MarkedSurface, Overhead};

use super::say::{folded, question, remark, section};
use super::table::Table;
use super::tokens::{ACCENT, INK, QUIET, wrong};
use super::{Asked, Shown};
use crate::command::Command;
use crate::sheets::Prices;
use crate::view::{CameraView, Step, Thing};
use crate::{marks, sheets};

/// Less is no move that a tape shows, meters.
const MOVED_LEAST: f64 = 0.0005;

/// The panel.
pub(crate) fn build(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let asks = "What do I cut, and where do I drill?";
    let quiet = |words: &str| RichText::new(words).color(QUIET);
    if shown.results.scene.is_none() || shown.results.is_sketch {
        question(ui, asks, quiet("Not answered while the scene text has mistakes."));
        return;
    }
    let Some(known) = &shown.results.build else {
        question(ui, asks, quiet("It is being worked out."));
        return;
    };
    let Ok(building) = &*known.value else {
        question(ui, asks, quiet("Nothing hangs in this scene, so there is nothing to cut and nowhere to drill."));
        remark(ui, "The step place hangs panels: by hand, on hot spots, or by a plan. What hangs there is built here.");
        if ui.button("Go to the step place").clicked() {
            asked.push(Command::ChooseStep(Step::Place));
        }
        return;
    };
    let (scene, build) = (&building.scene, &building.build);
    question(ui, asks, quiet(&what(scene, build)));
    if shown.document.is_broken() {
        remark(ui, "This is of the scene as it was before its text had mistakes.");
    }
    troubles(ui, build);
    write(ui, shown, asked);
    to_buy(ui, scene, build, &shown.results.prices);
    to_cut(ui, scene, build);
    when(ui, build);
    to_drill(ui, shown, building, asked);
    for page in build.cautions.iter().filter(|page| page.facet.is_none()) {
        folded(ui, &page.heading, |ui| sentences(ui, &page.lines));
    }
}

fn sentences(ui: &mut Ui, lines: &[String]) {
    for line in lines {
        remark(ui, format!("- {line}"));
    }
}

fn troubles(ui: &mut Ui, build: &Build) {
    if build.troubles.is_empty() {
        return;
    }
    section(ui, "Look at these first");
    for trouble in &build.troubles {
        ui.add(Label::new(wrong(&trouble.message)).wrap());
        remark(ui, &trouble.hint);
    }
}

/// The button that writes the sheets, and where they go.
fn write(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    section(ui, "To print");
    let why_not = sheets::why_not(shown.document, shown.results);
    if ui.add_enabled(why_not.is_empty(), Button::new("Write the sheets")).on_disabled_hover_text(why_not).clicked() {
        asked.push(Command::WriteSheets);
    }
    match shown.document.path() {
        Some(path) if why_not.is_empty() => {
            let folder = sheets::folder(path);
            let beside = path.parent().and_then(|parent| folder.strip_prefix(parent).ok()).unwrap_or(&folder);
            remark(ui, format!("They go into {} beside the scene, as this room is on screen.", beside.display()));
        }
        _ => remark(ui, why_not),
    }
}

/// The shopping list and what it comes to.
fn to_buy(ui: &mut Ui, scene: &Scene, build: &Build, prices: &Prices) {
    section(ui, "What to buy");
    let mut table = Table::new(&["<what", "<needed", "<buy", "price", "cost"]);
    let sum = |sum: Option<f64>| sum.map_or_else(|| "-".to_owned(), |sum| format!("{sum:.2}"));
    for line in &build.purchases {
        let needed = format!("{} {}", quantity(line.needed), plural(&line.unit, line.needed));
        let (count, unit) = bought(line);
        let price = line.price.map(|price| if line.is_cut_to_length() { price / line.pack } else { price });
        table.row([line.name.clone(), needed, format!("{count} {unit}"), sum(price), sum(line.cost)]);
    }
    let none = String::new;
    table.row(["all together".to_owned(), none(), none(), none(), money(build.costs.total, build)]);
    table.show(ui);
    if build.prices_are_invented {
        ui.add(Label::new(wrong("The prices are invented examples.")).wrap());
        let own = "Write your own into prices.toml, which the sheets come with: it is taken from there.";
        remark(ui, if prices.is_own() { "Write your own into prices.toml beside the sheets: it is taken from there." } else { own });
    }
    if let Some(trouble) = &prices.trouble {
        ui.add(Label::new(wrong(trouble)).wrap());
    }
    let asks: Vec<String> =
        build.purchases.iter().filter(|line| !line.ask_for.is_empty()).map(|line| format!("- {}: {}", line.name, line.ask_for)).collect();
    folded(ui, "What to ask for", |ui| asks.iter().for_each(|line| remark(ui, line)));
    remark(ui, format!("With {:.0} % spare, in whole packs.", 100.0 * scene.making.spare));
    if !build.costs.without_price.is_empty() {
        remark(ui, format!("No price is known of {}.", build.costs.without_price.join(", ")));
    }
    section(ui, "Made against bought");
    let mut table = Table::new(&["<panel", "pieces", "made, each", "bought, each"]);
    for cost in &build.costs.types {
        table.row([cost.kind.clone(), cost.count.to_string(), sum(cost.made_each), sum(cost.bought_each)]);
    }
    table.show(ui);
    for line in cost_lines(build) {
        ui.add(Label::new(line).wrap());
    }
}

/// What each type is made of, and out of how much.
fn to_cut(ui: &mut Ui, scene: &Scene, build: &Build) {
    section(ui, "What to cut");
    for made in &build.types {
        ui.add(Label::new(one(scene, made)).wrap());
    }
    if build.boards.is_empty() && build.cloths.is_empty() && build.timbers.is_empty() {
        return;
    }
    let mut table = Table::new(&["<from", "<used", "least", "pieces", "waste, %"]);
    let waste = |share: f64| format!("{:.0}", 100.0 * share);
    for cut in &build.boards {
        let pieces: usize = cut.sheets.iter().map(|sheet| sheet.pieces.len()).sum();
        let count = cut.sheets.len();
        let used = format!("{count} {}", plural("sheet", count as f64));
        table.row([cut.board.clone(), used, cut.least_sheets.to_string(), pieces.to_string(), waste(cut.waste_share)]);
    }
    for cut in &build.cloths {
        let (used, least) = (format!("{:.2} m", cut.length_m), format!("{:.2}", cut.least_m));
        table.row([cut.cloth.clone(), used, least, cut.pieces.len().to_string(), waste(cut.waste_share)]);
    }
    for cut in &build.timbers {
        let pieces: usize = cut.lengths.iter().map(|length| length.pieces.len()).sum();
        let count = cut.lengths.len();
        let used = format!("{count} {}", plural("length", count as f64));
        table.row([cut.timber.clone(), used, cut.least_lengths.to_string(), pieces.to_string(), waste(cut.waste_share)]);
    }
    table.show(ui);
    remark(ui, "Least: no cutting plan takes less. Where each piece lies is on the sheets.");
}

fn when(ui: &mut Ui, build: &Build) {
    let Some(schedule) = &build.schedule else { return };
    section(ui, "When");
    ui.add(Label::new(schedule_line(build)).wrap());
    folded(ui, "Evening by evening", |ui| {
        let mut table = Table::new(&["evening", "<work", "<panels", "hours", "dries, h"]);
        for task in &schedule.tasks {
            let batch = task.batch.map_or_else(String::new, |batch| format!(", batch {batch}"));
            let dries = if task.dries_h > 0.0 { format!("{:.0}", task.dries_h) } else { "-".to_owned() };
            let panels = format!("{} x {}{batch}", task.panels, task.kind);
            table
                .row([task.evening.to_string(), task.work.clone(), panels, format!("{:.1}", task.work_h), dries])
                .colored(if task.critical { ACCENT } else { INK });
        }
        table.show(ui);
        remark(ui, "In the accent: what decides the end.");
    });
}

/// The surface whose marks are listed: the one that is asked for, else that of the chosen panel, else the first.
fn in_front<'a>(shown: Shown<'_>, build: &'a Build) -> Option<&'a MarkedSurface> {
    let asked = build.surfaces.iter().find(|surface| shown.view.sheet == Some(surface.facet));
    let is_chosen = |panel: &MarkedPanel| shown.view.panel() == Some(marks::scene_panel(panel));
    asked.or_else(|| build.surfaces.iter().find(|surface| surface.panels.iter().any(is_chosen))).or(build.surfaces.first())
}

/// One surface: its marks, what hangs overhead there, what could hurt.
fn to_drill(ui: &mut Ui, shown: Shown<'_>, building: &Building, asked: &mut Asked) {
    let (scene, build) = (&building.scene, &building.build);
    let Some(front) = in_front(shown, build) else { return };
    section(ui, "Where to drill");
    ui.horizontal_wrapped(|ui| {
        for surface in &build.surfaces {
            if ui.selectable_label(surface.facet == front.facet, &surface.surface).clicked() {
                asked.push(Command::ChooseSheet(Some(surface.facet)));
            }
        }
    });
    cautions(ui, build.cautions.iter().filter(|page| page.facet == Some(front.facet)));
    marked(ui, shown, scene, front, asked);
    square_on(ui, shown, front, asked);
    for overhead in build.overhead.iter().filter(|overhead| front.panels.iter().any(|panel| panel.number == overhead.number)) {
        section(ui, &format!("Overhead: panel {}, {}", overhead.number, overhead.kind));
        hung(ui, scene, overhead);
    }
}

/// What could hurt there: read before anything is marked, never folded away.
fn cautions<'a>(ui: &mut Ui, pages: impl Iterator<Item = &'a Cautions>) {
    for page in pages {
        ui.label(wrong(&page.heading));
        sentences(ui, &page.lines);
    }
}

/// The marks in the marks of the tape; a click chooses the panel.
fn marked(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, surface: &MarkedSurface, asked: &mut Asked) {
    let tape = Tape::of(scene.unit);
    let head = |words: &str| if tape.is_inch() { words.to_owned() } else { format!("{words}, mm") };
    let mut table =
        Table::new(&["<mark".to_owned(), head("from left"), head("from lower edge"), "<what".to_owned(), "<lies on".to_owned()]);
    let mut panels = Vec::new();
    for panel in &surface.panels {
        let is_chosen = shown.view.panel() == Some(marks::scene_panel(panel));
        let [left, bottom] = [panel.left_m, panel.bottom_m].map(|meters| tape.read(meters));
        table.row([format!("panel {}", panel.number), left, bottom, "corner".to_owned(), String::new()]).chosen(is_chosen);
        panels.push(panel);
        for mark in &panel.marks {
            let [left, bottom] = [mark.left_m, mark.bottom_m].map(|meters| tape.read(meters));
            let name = if mark.in_line_with.is_some() { format!("{} !", mark.name) } else { mark.name.clone() };
            let on = marks::lies_on(surface, panel, mark).to_owned();
            let cells = [name, left, bottom, mark.what.word().to_owned(), on];
            table.row(cells).chosen(is_chosen);
            panels.push(panel);
        }
    }
    if let Some(panel) = table.choose(ui).and_then(|row| panels.get(row)) {
        let panel = marks::scene_panel(panel);
        let choice = (shown.view.panel() != Some(panel)).then_some(Thing::Panel(panel));
        asked.extend([Command::Choose(choice), Command::ChooseSheet(Some(surface.facet))]);
    }
    for (thing, names) in surface.in_line() {
        let text = format!("! {}: in line with \"{thing}\". Expect its cable or pipe behind them.", names.join(", "));
        ui.add(Label::new(wrong(text)).wrap());
    }
    for panel in &surface.panels {
        if panel.moved_m.abs() > MOVED_LEAST {
            let way = if panel.moved_m > 0.0 { "right" } else { "left" };
            let by = tape.say(panel.moved_m.abs());
            remark(
                ui,
                format!("- panel {}: {by} farther {way} than it hangs in the scene, so that the spaces of its row are alike", panel.number),
            );
        }
        if !panel.notes.is_empty() {
            remark(ui, format!("- panel {}: {}", panel.number, panel.notes.join("; ")));
        }
    }
    remark(ui, "Corner: the lower left one of the panel. Measures are those of the scene: what a tape says on the day wins.");
}

/// Looks at the surface as its sheet does.
fn square_on(ui: &mut Ui, shown: Shown<'_>, surface: &MarkedSurface, asked: &mut Asked) {
    let Some(panel) = surface.panels.first() else { return };
    let middle = DVec2::new(panel.left_m + 0.5 * panel.width_m, panel.bottom_m + 0.5 * panel.height_m);
    let index = shown.results.room.as_ref().and_then(|room| room.value.surface_at(&surface.surface, middle));
    if let Some(index) = index.filter(|index| shown.view.camera != CameraView::Elevation(*index)) {
        if ui.button("Look at it square on").clicked() {
            asked.push(Command::CameraTo(CameraView::Elevation(index)));
        }
    } else if ui.button("Look from outside").clicked() {
        asked.push(Command::CameraTo(CameraView::Orbit));
    }
}

/// What hangs over heads: whether it may, its loads, its wires.
fn hung(ui: &mut Ui, scene: &Scene, overhead: &Overhead) {
    if !overhead.not_to_be_hung.is_empty() {
        ui.label(wrong("NOT TO BE HUNG:"));
        for reason in &overhead.not_to_be_hung {
            ui.add(Label::new(wrong(format!("- {reason}"))).wrap());
        }
    }
    ui.add(Label::new(loads(scene, overhead)).wrap());
    if let Some(suspension) = overhead.suspension.as_ref().filter(|suspension| !suspension.points.is_empty()) {
        let heads = [
            "wire".to_owned(),
            length_head("x", scene),
            length_head("y", scene),
            length_head("long", scene),
            length_head("cut", scene),
            "<in".to_owned(),
        ];
        let mut table = Table::new(&heads);
        for point in &suspension.points {
            let [x, y, long] = [point.x_m, point.y_m, point.wire_m].map(|meters| length_cell(meters, scene));
            let cut = point.cut_m.map_or_else(|| "link".to_owned(), |cut| length_cell(cut, scene));
            table.row([point.number.to_string(), x, y, long, cut, point.member.clone().unwrap_or_default()]);
        }
        table.show(ui);
        let mut table = Table::new(&["eye of wire".to_owned(), length_head("from lower x", scene), length_head("from lower y", scene)]);
        for point in &suspension.points {
            let [x, y] = point.on_back_m.map(|meters| length_cell(meters, scene));
            table.row([point.number.to_string(), x, y]);
        }
        table.show(ui);
        remark(
            ui,
            "Cut: with a loop at both ends; link: too short for loops, a rated chain or link instead. Eyes: on the back of the cloud, from its edges at the lower x and the lower y.",
        );
        for wire in &suspension.secondary {
            let [straight, longest] = [wire.straight_m, wire.longest_m].map(|meters| length(meters, scene));
            let from = format!("- secondary wire from beside wire {} to {}", wire.beside_number, wire.member);
            remark(ui, format!("{from}: {straight} straight, at most {longest} long"));
        }
    }
    for distance in &overhead.distances {
        remark(ui, format!("- {} to \"{}\"", length(distance.distance_m, scene), distance.name));
    }
    sentences(ui, &overhead.remarks);
}
