//! The wavefront, to be led by hand: its moment, how slowly it runs, what it lights up, and the plane that it is drawn on.

use bevy_egui::egui::{ComboBox, DragValue, Slider, Ui};
use roomwright::bands::Band;
use roomwright::room::Room;
use roomwright::scene::Scene;
use roomwright::units::{Length, LengthUnit};

use super::say::{remark, section};
use super::{Asked, Shown};
use crate::command::Command;
use crate::stage::bounds;
use crate::view::{Cut, Section, View};

/// Seconds on the clock for a millisecond of sound, fastest and slowest.
const SLOWNESS: (f64, f64) = (0.01, 2.0);

/// The section of the panel.
pub(crate) fn wave(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let (Some(scene), Some(room)) = (&shown.results.scene, &shown.results.room) else { return };
    if room.value.sources.is_empty() {
        return;
    }
    section(ui, "The wavefront");
    moment(ui, shown.view, asked);
    ui.horizontal_wrapped(|ui| {
        pace(ui, shown.view, asked);
        surfaces(ui, shown.view, asked);
    });
    plane(ui, shown, (scene, &room.value), asked);
    remark(
        ui,
        "Curves: where the sound is now, direct in red, first bounces off walls, floor and ceiling in gray; what bounces again, bends or \
         comes off blocks and panels is not drawn. Brightness: all that has landed so far, from stored rays, every bounce counted.",
    );
}

/// When.
fn moment(ui: &mut Ui, view: &View, asked: &mut Asked) {
    ui.horizontal(|ui| {
        let is_over = view.time_ms >= View::TIME_MOST_MS;
        if ui.button(if view.playing { "Stop" } else { "Run" }).clicked() {
            if is_over {
                asked.push(Command::SetTime(0.0));
            }
            asked.push(Command::Play(!view.playing));
        }
        let mut time = view.time_ms;
        ui.spacing_mut().slider_width = (ui.available_width() - 90.0).max(80.0);
        let slider = Slider::new(&mut time, 0.0..=View::TIME_MOST_MS).suffix(" ms").fixed_decimals(1).drag_value_speed(0.1);
        if ui.add(slider).on_hover_text("Time after the source sounded; at 0 there is no wavefront").changed() {
            asked.push(Command::SetTime(time));
        }
    });
}

/// How slowly.
fn pace(ui: &mut Ui, view: &View, asked: &mut Asked) {
    let mut slowness = view.slowness;
    ui.label("1 ms takes");
    let value = DragValue::new(&mut slowness).range(SLOWNESS.0..=SLOWNESS.1).speed(0.005).suffix(" s").max_decimals(2);
    if ui.add(value).on_hover_text("On the clock").changed() {
        asked.push(Command::SetSlowness(slowness));
    }
}

/// What lights up.
fn surfaces(ui: &mut Ui, view: &View, asked: &mut Asked) {
    ui.label("surfaces show");
    let name = |landing: Option<Band>| landing.map_or_else(|| "the map".to_owned(), |band| format!("what lands, {}", band.label()));
    ComboBox::from_id_salt("landing").selected_text(name(view.landing)).width(140.0).show_ui(ui, |ui| {
        for choice in std::iter::once(None).chain(Band::ALL.into_iter().map(Some)) {
            if ui.selectable_label(choice == view.landing, name(choice)).clicked() {
                asked.push(Command::ChooseLanding(choice));
            }
        }
    });
}

fn cut_words(section: Option<Section>) -> &'static str {
    match section.map(|section| section.cut) {
        None => "level, at the ear",
        Some(Cut::Level) => "level",
        Some(Cut::AlongLength) => "along the length",
        Some(Cut::AcrossWidth) => "across the width",
    }
}

/// On which plane.
fn plane(ui: &mut Ui, shown: Shown<'_>, (scene, room): (&Scene, &Room), asked: &mut Asked) {
    let (low, high) = bounds(room);
    ui.horizontal(|ui| {
        ui.label("section");
        let now = shown.view.section;
        ComboBox::from_id_salt("section").selected_text(cut_words(now)).width(130.0).show_ui(ui, |ui| {
            let middle = |cut: Cut| Some(Section { cut, at: 0.5 * (low + high)[cut.axis()] });
            for choice in [None, middle(Cut::AlongLength), middle(Cut::AcrossWidth), middle(Cut::Level)] {
                let is_now = choice.map(|section| section.cut) == now.map(|section| section.cut);
                if ui.selectable_label(is_now, cut_words(choice)).clicked() && !is_now {
                    asked.push(Command::ChooseSection(choice));
                }
            }
        });
        if let Some(Section { cut, at }) = now {
            let mut to = at;
            let (least, most) = (low[cut.axis()], high[cut.axis()]);
            let read = move |text: &str, unit: LengthUnit| Length::read(text, unit).ok().map(|length| length.0);
            let unit = scene.unit;
            ui.spacing_mut().slider_width = (ui.available_width() - 110.0).max(80.0);
            let slider = Slider::new(&mut to, least..=most)
                .custom_formatter(move |meters, _| Length((meters * 1000.0).round() / 1000.0).print(unit))
                .custom_parser(move |text| read(text, unit));
            let from = ["from the corner, along", "from the corner, across", "over the floor"][cut.axis()];
            if ui.add(slider).on_hover_text(format!("Slide, or type a measure; {from}")).changed() {
                asked.push(Command::ChooseSection(Some(Section { cut, at: to })));
            }
        }
    });
}
