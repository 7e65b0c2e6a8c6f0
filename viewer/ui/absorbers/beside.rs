//! What stands side by side: its number and line, what it is made of, where its values come from; what is done with it. A material is given to
//! a surface, an opening, a block, or taken into the form that is open; a build-up as typed goes into the stock.

use bevy_egui::egui::{Button, ComboBox, Label, ScrollArea, Stroke, Ui, Vec2, vec2};
use roomwright::report::text::absorbers::made_of;
use roomwright::report::text::figures::number;
use roomwright::scene::{PanelType, Scene};
use roomwright::study::absorbers::{Sample, SampleKind, panel_type};
use roomwright::units::LengthUnit;

use super::super::forms;
use super::super::say::remark;
use super::super::tokens::{CARD, GAP, bold, quiet, small};
use super::super::{Asked, Drafts, Shown};
use super::Draft;
use super::curves::{look, piece};
use crate::command::Command;
use crate::comparison::{Choice, Target, spelled, surfaces, uses};
use crate::edits::objection;
use crate::view::Step;

/// Size of a line's sample.
const LINE: Vec2 = vec2(30.0, 12.0);

/// The column.
pub(super) fn beside(ui: &mut Ui, shown: Shown<'_>, scene: Option<&Scene>, drafts: &mut Drafts, asked: &mut Asked) {
    if let Some(scene) = scene {
        target(ui, shown, scene, asked);
    }
    ScrollArea::vertical().id_salt("absorbers side by side").auto_shrink(false).show(ui, |ui| {
        let chosen = shown.view.comparison.chosen(scene);
        let before = drafts.absorbers.seen.replace(chosen.clone());
        for one in chosen {
            let (number, choice) = &one;
            let sample = shown.results.absorbers.samples.iter().find(|sample| sample.number == *number);
            let Some(sample) = sample else { continue };
            let drawn = ui.scope(|ui| {
                head(ui, sample, choice, asked);
                acts(ui, shown, scene, choice, drafts, asked);
                about(ui, scene, sample, choice);
            });
            ui.add_space(GAP);
            // What has just come is what one wants to do something with.
            if before.as_ref().is_some_and(|before| !before.contains(&one)) {
                drawn.response.scroll_to_me(None);
            }
        }
        remark(ui, "~, hollow: filled by rule, or beyond what the model was fitted on; twice as uncertain. Squares: known by octave; circles: by layers.");
    });
}

/// What a material is given to.
fn target(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, asked: &mut Asked) {
    let now = shown.view.comparison.target.as_ref();
    ui.horizontal(|ui| {
        ui.label(small("give to"));
        let said = match now {
            None => "choose, or press it on the stage".to_owned(),
            Some(target) => words(target).to_owned(),
        };
        let combo = ComboBox::from_id_salt("give to").selected_text(small(said)).width(ui.available_width() - 8.0).truncate().height(320.0);
        combo.show_ui(ui, |ui| {
            let all = std::iter::once((Target::Walls, String::new()));
            let each = surfaces(scene).map(|(surface, material)| (Target::One(surface.to_owned()), format!(": {material}")));
            for (target, material) in all.chain(each) {
                if ui.selectable_label(now == Some(&target), small(format!("{}{material}", words(&target)))).clicked() {
                    asked.push(Command::ChooseTarget(Some(target)));
                }
            }
        });
    });
}

fn words(target: &Target) -> &str {
    match target {
        Target::Walls => "all walls",
        Target::One(name) => name,
    }
}

/// Number, line, name, and a button that takes it out.
fn head(ui: &mut Ui, sample: &Sample, choice: &Choice, asked: &mut Asked) {
    ui.horizontal(|ui| {
        if ui.small_button("x").on_hover_text("Leave it out.").clicked() {
            asked.push(Command::LeaveOut(choice.clone()));
        }
        let (color, _) = look(sample.number);
        ui.label(small(sample.number.to_string()).family(bold()).color(color));
        drawn(ui, sample);
        let name = Label::new(small(&sample.name).family(bold())).truncate();
        ui.add(name).on_hover_text(&sample.name);
    });
}

/// A piece of its line with a mark.
fn drawn(ui: &mut Ui, sample: &Sample) {
    let is_material = sample.kind == SampleKind::Material;
    let rect = piece(ui, LINE, sample.number, if is_material { 1.0 } else { 1.8 });
    let (color, painter) = (look(sample.number).0, ui.painter());
    if is_material {
        let square = bevy_egui::egui::Rect::from_center_size(rect.center(), Vec2::splat(6.0));
        painter.rect_filled(square, 0.0, color);
    } else {
        painter.circle(rect.center(), 3.2, color, Stroke::new(0.5, CARD));
    }
}

/// What it is made of, its price, where its values come from, what is of it now.
fn about(ui: &mut Ui, scene: Option<&Scene>, sample: &Sample, choice: &Choice) {
    let unit = scene.map_or(LengthUnit::Millimeter, |scene| scene.unit);
    let price = sample.price_per_m2.map_or_else(String::new, |price| format!("; {} per m2", number(price, 2)));
    let left = match (choice, scene) {
        (Choice::Stock(name), Some(scene)) => {
            let left = scene.stock.iter().find(|kind| kind.name == *name).map_or(0, |kind| kind.count);
            format!("; {left} left in stock")
        }
        _ => String::new(),
    };
    remark(ui, format!("{}{price}{left}", made_of(sample, unit)));
    if let Some(source) = &sample.source {
        remark(ui, format!("Source: {source}"));
    }
    if let (Choice::Material(name), Some(scene)) = (choice, scene) {
        let on = uses(scene, name);
        if !on.is_empty() {
            remark(ui, format!("Now of it: {}.", on.join(", ")));
        }
    }
}

/// Buttons of what is done with it.
fn acts(ui: &mut Ui, shown: Shown<'_>, scene: Option<&Scene>, choice: &Choice, drafts: &mut Drafts, asked: &mut Asked) {
    let Some(scene) = scene else { return };
    let Drafts { form, absorbers, .. } = drafts;
    ui.add_enabled_ui(!shown.document.is_broken() && !shown.results.is_sketch, |ui| match choice {
        Choice::Material(name) => give(ui, shown, scene, name, form, asked),
        Choice::Typed(text) => typed(ui, shown, scene, text, absorbers, asked),
        Choice::Stock(_) => {}
    });
}

/// Gives a material to what is chosen, or takes it into the form that is open.
fn give(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, material: &str, form: &mut forms::Draft, asked: &mut Asked) {
    ui.horizontal_wrapped(|ui| {
        if let Some(target) = &shown.view.comparison.target {
            let is_it = |of: &str| spelled(scene, of) == material;
            let is_of_it = match target {
                Target::Walls => scene.walls.iter().all(|wall| is_it(&wall.material)),
                Target::One(name) => surfaces(scene).any(|(surface, of)| surface == name && is_it(of)),
            };
            let button = Button::new(small(format!("give it to {}", words(target))));
            if ui.add_enabled(!is_of_it, button).on_disabled_hover_text("It is of this material.").clicked() {
                asked.push(match target {
                    Target::Walls => Command::SetWallMaterial(material.to_owned()),
                    Target::One(surface) => Command::SetMaterial { surface: surface.clone(), material: material.to_owned() },
                });
            }
        }
        if let Some((title, in_form)) = form.material().filter(|_| shown.view.step == Step::Survey) {
            let button = Button::new(small(format!("into the form: {title}")));
            if ui.add_enabled(in_form != material, button).clicked() {
                material.clone_into(in_form);
            }
        }
    });
}

/// Takes a build-up back into its field, or puts it in stock as a type of panel.
fn typed(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, text: &str, draft: &mut Draft, asked: &mut Asked) {
    let offer = offer(shown, scene, text, draft);
    ui.horizontal_wrapped(|ui| {
        if ui.small_button("type on").on_hover_text("Into the field again, to be changed.").clicked() {
            text.clone_into(&mut draft.typed);
        }
        let button = ui.add_enabled(offer.is_ok(), Button::new(small("put it in stock")));
        let button = button.on_hover_text("As a type of panel, one of it; undo takes it back.");
        if let (true, Ok(kind)) = (button.clicked(), &offer) {
            asked.push(Command::AddStock(kind.clone()));
        }
    });
    if let Err(reason) = offer {
        ui.add(Label::new(quiet(format!("Not for stock: {reason}"))).wrap());
    }
}

/// The type of panel that it would be, or why it cannot be one, in a sentence. The scene's rules are asked anew when it or the scene is another.
fn offer(shown: Shown<'_>, scene: &Scene, text: &str, draft: &mut Draft) -> Result<PanelType, String> {
    let name = roomwright::study::absorbers::typed_name(text).unwrap_or_default();
    let name = forms::free_name(&name, scene.stock.iter().map(|kind| kind.name.as_str()));
    let kind = panel_type(text, &name).map_err(|mistakes| {
        mistakes.first().map_or_else(String::new, |mistake| {
            let hint = mistake.diagnostic.hint.as_ref().map_or_else(String::new, |hint| format!(" - {hint}"));
            format!("{}{hint}", mistake.diagnostic.message)
        })
    })?;
    let (revision, judged) = &mut draft.judged;
    if *revision != shown.document.revision() {
        (*revision, *judged) = (shown.document.revision(), Vec::new());
    }
    let known = judged.iter().find(|(of, _)| of == text).map(|(_, said)| said.clone());
    let said = known.unwrap_or_else(|| {
        let said = objection(shown.document, &Command::AddStock(kind.clone()));
        judged.push((text.to_owned(), said.clone()));
        said
    });
    said.map_or(Ok(kind), Err)
}
