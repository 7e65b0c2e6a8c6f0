//! Two buttons that make a measure smaller and larger, for a hand that stays on the mouse: a press is a step, and holding one goes on.

use std::ops::RangeInclusive;

use bevy_egui::egui::{Button, Id, Sense, Ui, WidgetInfo, WidgetType, vec2};
use roomwright::units::LengthUnit;

/// A button that is held begins to go on after this time, seconds.
const PATIENCE_S: f64 = 0.4;
/// Steps a second from then on.
const PACE: f64 = 25.0;

/// What a step changes a measure by, meters.
const CENTIMETER: f64 = 0.01;
const INCH: f64 = 0.0254;

/// A measure after steps of its tape, meters, as far as it may go.
pub(crate) fn stepped(meters: f64, steps: i32, unit: LengthUnit, range: &RangeInclusive<f64>) -> f64 {
    let step = if matches!(unit, LengthUnit::Foot | LengthUnit::Inch) { INCH } else { CENTIMETER };
    (((meters / step).round() + f64::from(steps)) * step).clamp(*range.start(), *range.end())
}

/// How many steps are asked for, by buttons that are for `what`.
pub(crate) fn stepper(ui: &mut Ui, what: &str) -> i32 {
    ui.spacing_mut().item_spacing.x = 2.0;
    let less = steps(ui, "-", &format!("{what}: less"));
    let more = steps(ui, "+", &format!("{what}: more"));
    more - less
}

/// How many steps one of them is asked for now.
fn steps(ui: &mut Ui, sign: &str, name: &str) -> i32 {
    let side = ui.spacing().interact_size.y;
    // A press that is only a click counts no longer as one on the button after a while.
    let button = Button::new(sign).min_size(vec2(side, side)).sense(Sense::click_and_drag());
    let response = ui.add(button).on_hover_text("hold to go on");
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, name));
    let gone: Id = response.id.with("gone");
    let before = ui.data(|data| data.get_temp(gone).unwrap_or(0));
    if !response.is_pointer_button_down_on() {
        ui.data_mut(|data| data.insert_temp(gone, 0));
        // One that went on has had its steps.
        return i32::from(before == 0 && response.clicked());
    }
    ui.ctx().request_repaint();
    let held_s = ui.input(|input| input.pointer.press_start_time().map_or(0.0, |start| input.time - start));
    let now = ((held_s - PATIENCE_S) * PACE).max(0.0) as i32;
    ui.data_mut(|data| data.insert_temp(gone, now));
    now - before
}
