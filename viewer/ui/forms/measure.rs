//! A measure that is typed: any length that a tape shows, in any unit, with what is wrong with it beside it.

use std::ops::RangeInclusive;

use bevy_egui::egui::{Id, Label, TextEdit, Ui};
use roomwright::units::{Length, LengthUnit};

use crate::ui::say;
use crate::ui::stepper::{stepped, stepper};
use crate::ui::tokens::{quiet, wrong};

/// Width of the words before a field.
const WHAT: f32 = 112.0;
/// Width of a field of a length.
const FIELD: f32 = 92.0;

/// A field of a form.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Measure {
    /// What is typed.
    text: String,
    /// What was put there for a length that is known, and that length in meters: a tape may show fewer decimals than it has.
    known: Option<(String, f64)>,
}

impl Measure {
    /// A field that holds this length, meters.
    pub(crate) fn of(meters: f64, unit: LengthUnit) -> Self {
        let text = Length(meters).print(unit);
        Self { known: Some((text.clone(), meters)), text }
    }

    /// The length, meters, or what is wrong with it in one sentence. A bare number is in `unit`.
    pub(crate) fn read(&self, unit: LengthUnit, range: &RangeInclusive<f64>) -> Result<f64, String> {
        let meters = match &self.known {
            Some((text, meters)) if *text == self.text => *meters,
            _ => Length::read(&self.text, unit).map_err(|error| format!("Not a length: {error}."))?.0,
        };
        let printed = |meters: f64| Length(meters).print(unit);
        if meters < *range.start() {
            Err(format!("At least {}.", printed(*range.start())))
        } else if meters > *range.end() {
            Err(format!("At most {}.", printed(*range.end())))
        } else {
            Ok(meters)
        }
    }

    /// Makes it larger or smaller by steps of its tape; one that is not known begins at the least that it may be.
    fn step(&mut self, steps: i32, unit: LengthUnit, range: &RangeInclusive<f64>) {
        let known = self.read(unit, &(f64::NEG_INFINITY..=f64::INFINITY)).ok();
        match (steps, known) {
            (0, _) => {}
            (_, Some(meters)) => *self = Self::of(stepped(meters, steps, unit, range), unit),
            (_, None) if self.text.trim().is_empty() => *self = Self::of(*range.start(), unit),
            (_, None) => {}
        }
    }

    /// The line of the form.
    pub(super) fn show(&mut self, ui: &mut Ui, what: &str, unit: LengthUnit, range: &RangeInclusive<f64>) {
        line(ui, what, |ui, label| {
            let field = TextEdit::singleline(&mut self.text).desired_width(FIELD);
            ui.add(field).labelled_by(label).on_hover_text("\"2.4 m\", \"610 mm\", \"8 ft 2 1/2 in\"");
            ui.label(quiet(unit.symbol()));
            let steps = ui.scope(|ui| stepper(ui, what)).inner;
            self.step(steps, unit, range);
            if self.text.trim().is_empty() {
                ui.label(quiet("is needed"));
            } else if let Err(mistake) = self.read(unit, range) {
                ui.add(Label::new(wrong(mistake).size(11.0)).wrap());
            }
        });
    }
}

/// A line of a form: what it is, then what is typed or chosen.
pub(super) fn line(ui: &mut Ui, what: &str, add: impl FnOnce(&mut Ui, Id)) {
    say::line(ui, what, WHAT, add);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_a_mistake_in_the_field() {
        let read = |text: &str, unit| Measure { text: text.to_owned(), known: None }.read(unit, &(0.1..=10.0));
        assert_eq!(read("8 ft 2 1/2 in", LengthUnit::Meter), Ok(98.5 * 0.0254));
        assert_eq!(read("610 mm", LengthUnit::Foot), Ok(0.61));
        assert_eq!(read("2.4", LengthUnit::Meter), Ok(2.4));
        assert_eq!(read("2,4", LengthUnit::Meter).unwrap_err(), "Not a length: a decimal comma is not understood; write a point.");
        assert_eq!(read("", LengthUnit::Meter).unwrap_err(), "Not a length: there is no number in it.");
        assert_eq!(read("9 mm", LengthUnit::Meter).unwrap_err(), "At least 0.1 m.");
        assert_eq!(Measure::of(1.0 / 3.0, LengthUnit::Meter).read(LengthUnit::Meter, &(0.1..=10.0)), Ok(1.0 / 3.0), "untouched");
        assert_eq!(read("11", LengthUnit::Meter).unwrap_err(), "At most 10 m.");
    }

    #[test]
    fn keeps_steps_on_the_tape_and_within_the_range() {
        let after = |text: &str, steps, unit| {
            let mut measure = Measure { text: text.to_owned(), known: None };
            measure.step(steps, unit, &(0.1..=10.0));
            measure.text
        };
        assert_eq!(after("2.403", 3, LengthUnit::Meter), "2.43 m");
        assert_eq!(after("8 ft", -2, LengthUnit::Foot), "7 ft 10 in");
        assert_eq!(after("9.99", 5, LengthUnit::Meter), "10 m");
        assert_eq!(after("0.05", -1, LengthUnit::Meter), "0.1 m");
        assert_eq!(after("", 1, LengthUnit::Meter), "0.1 m", "it begins at the least");
        assert_eq!((after("wide", 1, LengthUnit::Meter), after("", 0, LengthUnit::Meter)), ("wide".to_owned(), String::new()));
    }
}
