//! The third step: where do the panels go? Before and now, hot spots, the stock, maps, what each hung panel earns, layouts A and B.

use std::ops::Range;

use bevy_egui::egui::{Align, Button, Label, RichText, Sense, Ui};
use roomwright::bands::Band;
use roomwright::plan::HotSpot;
use roomwright::report::heatmap::Heat;
use roomwright::report::text::figures::{
    asked as wanted, estimate, length_cell, length_head, number, optional, optional_estimate, standing, verdict,
};
use roomwright::report::text::plan::{SINGLE, asks};
use roomwright::scene::{Panel, PanelPlace, PanelType, Scene};
use roomwright::study::{EarlyPair, usual_panel};

use super::say::{choose_pair, folded, known, pair, question, remark, section};
use super::table::Table;
use super::tokens::{ACCENT, INK, QUIET, wrong};
use super::{Asked, Drafts, Shown, cloud, forms, hang, lesson, listen, plan, positions};
use crate::arrival::pair_in_front;
use crate::command::Command;
use crate::results::Known;
use crate::stage;
use crate::view::{MapChoice, Quantity, Thing};

/// Hot spots that are listed at once.
const SPOTS: usize = 8;

/// The panel.
pub(crate) fn place(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    let Some(scene) = shown.results.scene.as_deref().filter(|_| !shown.results.is_sketch) else {
        question(ui, "Where do the panels go?", RichText::new("Not answered while the scene text has mistakes.").color(QUIET));
        return;
    };
    question(ui, "Where do the panels go?", RichText::new(answer(scene)).color(QUIET));
    layouts(ui, shown, drafts, asked);
    choose_pair(ui, shown, asked);
    before_and_now(ui, shown);
    // A spot and what is hung on it, in one look.
    hot_spots(ui, shown, scene, asked);
    stock(ui, shown, scene, drafts, asked);
    listen::listen(ui, shown, asked);
    maps(ui, shown, scene, asked);
    hung(ui, shown, scene, drafts, asked);
    targets(ui, shown);
    positions::positions(ui, shown, drafts, asked);
    cloud::cloud(ui, shown, scene, asked);
    forms::goals::goals(ui, shown, scene, &mut drafts.form, asked);
    if std::mem::take(&mut drafts.to_plan) {
        ui.scroll_to_cursor(Some(Align::TOP));
    }
    plan::plan(ui, shown, scene, asked);
}

fn answer(scene: &Scene) -> String {
    let left: Vec<String> = scene.stock.iter().map(|kind| format!("{} x {}", kind.count, kind.name)).collect();
    let left = if left.is_empty() { "nothing".to_owned() } else { left.join(", ") };
    match scene.panels.iter().map(Panel::count).sum::<u32>() {
        0 => format!("Nothing hangs yet; in stock: {left}."),
        hung => format!("{hung} hung; in stock: {left}."),
    }
}

/// Two layouts to compare.
fn layouts(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    ui.horizontal_wrapped(|ui| {
        let (now, button) = match shown.document.shows_b() {
            None => ("One layout.", "Keep it as A and go on with B"),
            Some(false) => ("Layout A is shown.", "Show B"),
            Some(true) => ("Layout B is shown.", "Show A"),
        };
        ui.label(RichText::new(now).color(QUIET));
        if ui.button(button).on_hover_text("Key: B").clicked() {
            asked.push(Command::ToggleLayout);
        }
        if ui.button("To the plan").on_hover_text("Further down: where the program would hang the stock, and what that brings.").clicked() {
            drafts.to_plan = true;
        }
        if shown.document.is_other_unsaved() {
            ui.label(wrong(format!("{} is in no file.", shown.document.layouts().other_letter())).size(11.0));
        }
    });
    // A lesson has it above.
    if shown.view.lesson.is_none() {
        lesson::difference(ui, shown, asked);
    }
}

/// Every single figure of the pair in front with nothing hung and with what hangs. What is refreshed while a panel is dragged is taken from
/// the early window.
fn before_and_now(ui: &mut Ui, shown: Shown<'_>) {
    let results = shown.results;
    let early = known(ui, shown, results.early.as_ref()).and_then(|early| pair_in_front(shown.view, early)).map(|(_, pair)| pair);
    let bare_early = results.bare_early.as_ref().and_then(|known| pair_in_front(shown.view, &known.value)).map(|(_, pair)| pair);
    let now = results.findings.as_ref().and_then(|known| pair(shown, &known.value));
    let bare = results.bare.as_ref().and_then(|known| pair(shown, &known.value));
    let is_old = |known: Option<&Known<_>>| known.is_some_and(|known| !results.is_fresh(known));
    let mut table = Table::new(&["<what", "bare", "now"]);
    for (what, read) in LIVE {
        table.row([what.to_owned(), dash(bare_early, read), dash(early, read)]);
    }
    for (what, read) in SINGLE.iter().skip(LIVE.len()) {
        let (was, is) = (dash(bare, *read), dash(now, *read));
        if was != "-" || is != "-" {
            let color = if is_old(results.findings.as_ref()) { QUIET } else { INK };
            table.row([(*what).to_owned(), was, is]).colored(color);
        }
    }
    table.show(ui);
}

/// A figure of the early window, as printed.
type Live = (&'static str, fn(&EarlyPair) -> String);

/// The first figures of [`SINGLE`], as the early window has them.
const LIVE: [Live; 3] = [
    (SINGLE[0].0, |pair| estimate(pair.level_db, 1)),
    (SINGLE[1].0, |pair| number(pair.excess_db, 1)),
    (SINGLE[2].0, |pair| optional(pair.strongest_db(), 1)),
];

fn dash<T>(from: Option<&T>, read: impl Fn(&T) -> String) -> String {
    from.map_or_else(|| "-".to_owned(), read)
}

fn targets(ui: &mut Ui, shown: Shown<'_>) {
    let (Some(now), bare) = (&shown.results.findings, &shown.results.bare) else { return };
    section(ui, "Targets");
    let mut table = Table::new(&["<what is asked", "<asked", "<bare", "<now", "<verdict"]);
    for target in &now.value.targets {
        let was = bare.as_ref().and_then(|bare| bare.value.targets.iter().find(|other| asks(other) == asks(target)));
        let row = table.row([target.question.clone(), wanted(target), dash(was, standing), standing(target), verdict(target)]);
        row.colored(if verdict(target).starts_with("too") { ACCENT } else { INK }).hint(&target.source);
    }
    table.show(ui);
}

/// Which map lies on the surfaces.
fn maps(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, asked: &mut Asked) {
    section(ui, "Map on the surfaces");
    let now = shown.view.map;
    let source = now.and_then(|map| map.source);
    ui.horizontal_wrapped(|ui| {
        if ui.selectable_label(now.is_none(), "none").clicked() {
            asked.push(Command::ChooseMap(None));
        }
        for (quantity, word, _) in QUANTITIES {
            if ui.selectable_label(now.is_some_and(|map| map.quantity == quantity), word).clicked() {
                let octave = now.and_then(|map| map.octave).filter(|octave| octaves(shown, quantity).contains(octave));
                asked.push(Command::ChooseMap(Some(MapChoice { quantity, source, octave })));
            }
        }
    });
    let Some(map) = now else { return };
    ui.horizontal_wrapped(|ui| {
        let sources = std::iter::once((None, "all sources together"));
        for (index, name) in sources.chain(scene.sources.iter().enumerate().map(|(index, source)| (Some(index), source.name.as_str()))) {
            if ui.selectable_label(map.source == index, name).clicked() {
                asked.push(Command::ChooseMap(Some(MapChoice { source: index, ..map })));
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        let all = octaves(shown, map.quantity);
        for octave in std::iter::once(None).chain(all.into_iter().map(Some)) {
            let word = octave.map_or("all octaves, weighted", |octave| octave.label());
            if ui.selectable_label(map.octave == octave, word).clicked() {
                asked.push(Command::ChooseMap(Some(MapChoice { octave, ..map })));
            }
        }
    });
    let heat = QUANTITIES.into_iter().find(|(quantity, ..)| *quantity == map.quantity).map_or(Heat::Early, |(_, _, heat)| heat);
    remark(ui, format!("{}, {}.", heat.meaning(), heat.unit()));
}

/// The octaves that a map may show.
fn octaves(shown: Shown<'_>, quantity: Quantity) -> Vec<Band> {
    shown.results.survey.as_ref().map_or_else(Vec::new, |survey| MapChoice::octaves(quantity, survey.value.schroeder_hz))
}

const QUANTITIES: [(Quantity, &str, Heat); 5] = [
    (Quantity::Early, "early, by area", Heat::Early),
    (Quantity::Earning, "early, one panel", Heat::Earning),
    (Quantity::Clarity, "clarity, by area", Heat::Clarity),
    (Quantity::Late, "decay, by area", Heat::Late),
    (Quantity::LateEarning, "decay, one panel", Heat::LateEarning),
];

/// Where absorber earns most; a click points at it in the room.
fn hot_spots(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, asked: &mut Asked) {
    section(ui, "Hot spots of the room as it stands");
    let Some(spots) = known(ui, shown, shown.results.hot_spots.as_ref()) else { return };
    if spots.is_empty() {
        remark(ui, "None.");
        return;
    }
    let heads = [
        "<surface".to_owned(),
        length_head("from left", scene),
        length_head("from below", scene),
        "<from".to_owned(),
        "<to".to_owned(),
        "ms".to_owned(),
        "dB".to_owned(),
        "share %".to_owned(),
    ];
    let rows = |ui: &mut Ui, range: Range<usize>, asked: &mut Asked| {
        let mut table = Table::new(&heads);
        for (index, spot) in spots.iter().enumerate().skip(range.start).take(range.len()) {
            table.row(spot_cells(spot, scene)).chosen(shown.view.hot_spot == Some(index));
        }
        if let Some(row) = table.choose(ui).map(|row| row + range.start) {
            asked.push(Command::ChooseHotSpot((shown.view.hot_spot != Some(row)).then_some(row)));
        }
    };
    rows(ui, 0..spots.len().min(SPOTS), asked);
    if spots.len() > SPOTS {
        folded(ui, &format!("{} weaker spots", spots.len() - SPOTS), |ui| rows(ui, SPOTS..spots.len(), asked));
    }
    remark(ui, "Share: of this source's early reflected energy there. Choose one to hang a panel on it.");
}

fn spot_cells(spot: &HotSpot, scene: &Scene) -> [String; 8] {
    [
        spot.center.surface.clone(),
        length_cell(spot.center.left_m, scene),
        length_cell(spot.center.bottom_m, scene),
        spot.source.clone(),
        spot.receiver.clone(),
        number(spot.delay_ms, 1),
        number(spot.level_db, 1),
        number(100.0 * spot.share, 0),
    ]
}

/// The types of panel, how many there are, and a button that hangs one on the chosen hot spot.
fn stock(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, drafts: &mut Drafts, asked: &mut Asked) {
    section(ui, "In stock");
    if scene.stock.is_empty() {
        remark(ui, "Nothing; a type of panel is a [[stock]] in the scene text.");
        return;
    }
    let chosen = shown.view.stock.or_else(|| usual_panel(scene));
    let heads = ["<type".to_owned(), length_head("<size", scene), length_head("thick", scene), "left".to_owned()];
    let mut table = Table::new(&heads);
    for (index, kind) in scene.stock.iter().enumerate() {
        let size = format!("{} x {}", length_cell(kind.size.x, scene), length_cell(kind.size.y, scene));
        let cells = [kind.name.clone(), size, length_cell(kind.thickness, scene), kind.count.to_string()];
        table.row(cells).chosen(chosen == Some(index)).colored(if kind.count == 0 { QUIET } else { INK });
    }
    if let Some(row) = table.choose(ui) {
        asked.push(Command::ChooseStock(Some(row)));
    }
    let Some(kind) = chosen.and_then(|index| scene.stock.get(index)) else { return };
    ui.add_enabled_ui(!shown.document.is_broken(), |ui| {
        ui.horizontal_wrapped(|ui| {
            by_hand(ui, shown, kind, asked);
            hang_one(ui, shown, scene, kind, drafts, asked);
            for (word, count) in [("One less", kind.count.checked_sub(1)), ("One more", kind.count.checked_add(1))] {
                let button = ui.add_enabled(count.is_some(), Button::new(word));
                if let (true, Some(count)) = (button.clicked(), count) {
                    asked.push(Command::SetStockCount { kind: kind.name.clone(), count });
                }
            }
        });
    });
    let refused = shown.view.refused.as_ref().map(|refused| &refused.reason).or(drafts.refusal.as_ref());
    if let Some(reason) = refused {
        ui.add(Label::new(wrong(reason)).wrap());
    }
}

/// A switch: a press on the stage hangs a panel of this type.
fn by_hand(ui: &mut Ui, shown: Shown<'_>, kind: &PanelType, asked: &mut Asked) {
    let is_on = shown.view.hanging;
    let button = Button::new(if is_on { "Press where it is to hang" } else { "Hang by hand" }).selected(is_on);
    let button = button.sense(Sense::click_and_drag());
    let hint =
        format!("Then press on the stage where a {} is to hang, and drag it into place; or drag one from here. Escape ends it.", kind.name);
    let response = ui.add_enabled(kind.count > 0 || is_on, button).on_disabled_hover_text("None of this type is left in stock.");
    if response.drag_started() {
        asked.push(Command::HangByHand(true));
    } else if response.on_hover_text(hint).clicked() {
        asked.push(Command::HangByHand(!is_on));
    }
}

fn hang_one(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, kind: &PanelType, drafts: &mut Drafts, asked: &mut Asked) {
    let spots = shown.results.hot_spots.as_ref().filter(|known| shown.results.is_fresh(known));
    let spot = shown.view.hot_spot.and_then(|index| spots?.value.get(index));
    let room = shown.results.room.as_ref().filter(|known| shown.results.is_fresh(known));
    let why_not = match (spot, room) {
        _ if kind.count == 0 => "None of this type is left in stock.",
        (None, _) => "Choose a hot spot first.",
        (_, None) => "The room is being built.",
        _ => "",
    };
    let button = Button::new(format!("Hang one {} there", kind.name));
    let response = ui.add_enabled(why_not.is_empty(), button).on_disabled_hover_text(why_not);
    if let (true, Some(spot), Some(room)) = (response.clicked(), spot, room) {
        drafts.refusal = None;
        match hang::near(scene, &room.value, kind, spot) {
            // The spots are others then; the choice would point at the next one.
            Ok(panel) => asked.extend([Command::AddPanel(panel), Command::ChooseHotSpot(None)]),
            Err(refusal) => drafts.refusal = Some(format!("{} cannot hang there: {refusal}.", kind.name)),
        }
    }
}

/// What hangs, where, and what is lost when it alone is taken down.
fn hung(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, drafts: &mut Drafts, asked: &mut Asked) {
    section(ui, "What each hung panel earns");
    if scene.panels.is_empty() {
        remark(ui, "Nothing hangs.");
        return;
    }
    let earnings = shown.results.earnings.as_ref();
    let mut table = Table::new(&["no", "<type", "<where", "early, dB"]);
    for (index, panel) in scene.panels.iter().enumerate() {
        let (earns, _) = shown.results.earning_of(index);
        table
            .row([(index + 1).to_string(), panel.kind.clone(), place_words(panel, scene), optional_estimate(earns, 2)])
            .chosen(shown.view.panel() == Some(index));
    }
    if let Some(row) = table.choose(ui) {
        asked.push(Command::Choose((shown.view.panel() != Some(row)).then_some(Thing::Panel(row))));
    }
    known(ui, shown, earnings);
    remark(
        ui,
        "What the room loses when this panel alone is taken down again; earnings do not add up, since panels share the same bounces. \
         -: not flat on a surface, or not known yet.",
    );
    forms::cloud::chosen(ui, shown, scene, &mut drafts.form, asked);
    let chosen = shown.view.panel();
    let button = ui.add_enabled(chosen.is_some() && !shown.document.is_broken(), Button::new("Take the chosen panel down"));
    if let (true, Some(panel)) = (button.on_disabled_hover_text("Choose a panel first.").on_hover_text("Key: Delete").clicked(), chosen) {
        asked.push(Command::RemovePanel(panel));
    }
}

/// Where a panel hangs, in words.
fn place_words(panel: &Panel, scene: &Scene) -> String {
    match &panel.place {
        PanelPlace::Surface { surface, left, bottom, .. } => {
            format!("{surface}, {} from left, {} up", length_cell(*left, scene), length_cell(*bottom, scene))
        }
        PanelPlace::Corner { corner, bottom } => {
            let walls = scene.walls.len().max(1);
            let name = |wall: usize| scene.walls.get(wall % walls).map_or("-", |wall| wall.name.as_str());
            format!("corner of {} and {}, {} up", name(corner + walls - 1), name(*corner), length_cell(*bottom, scene))
        }
        PanelPlace::Cloud(cloud) => {
            let [x, y, up] = [cloud.center.x, cloud.center.y, cloud.underside].map(|meters| length_cell(meters, scene));
            let shape = stage::shape_words(scene, panel).map_or_else(String::new, |words| format!("; {words}"));
            format!("cloud at {x}, {y}, {up} over the floor{shape}")
        }
    }
}
