//! Where loudspeakers, voices, instruments, seats and microphones are.
//!
//! *Limits.* They are moved here; added, removed and aimed in the scene text.

use bevy::math::DVec3;
use bevy_egui::egui::Ui;
use roomwright::report::text::figures::length;
use roomwright::scene::Scene;

use super::{Draft, Measure, pressed_measure, rows};
use crate::command::Command;
use crate::ui::say::remark;
use crate::ui::{Asked, Shown};
use crate::view::Pressed;

/// Coordinates, meters.
const POINT: std::ops::RangeInclusive<f64> = -100.0..=100.0;

/// What is typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Form {
    name: String,
    is_source: bool,
    /// x, y, height.
    at: [Measure; 3],
}

/// Somebody or something at a point.
struct Person<'a> {
    name: &'a str,
    what: &'static str,
    is_source: bool,
    at: DVec3,
}

fn people(scene: &Scene) -> Vec<Person<'_>> {
    let sources = scene.sources.iter().map(|source| {
        let what = source.kind.word();
        Person { name: &source.name, what, is_source: true, at: source.position }
    });
    let seats = scene.seats.iter().map(|seat| Person { name: &seat.name, what: "seat, at the ears", is_source: false, at: seat.ear });
    let microphones = scene.microphones.iter();
    let microphones = microphones.map(|one| Person { name: &one.name, what: "microphone", is_source: false, at: one.position });
    sources.chain(seats).chain(microphones).collect()
}

impl Form {
    pub(super) fn show(&mut self, ui: &mut Ui, scene: &Scene) {
        for (field, what) in self.at.iter_mut().zip(["x", "y", "height"]) {
            field.show(ui, what, scene.unit, &POINT);
        }
        remark(ui, "From the origin of the floor plan, and from the floor: the middle of the cone, the mouth, the ears.");
    }

    pub(super) fn command(&self, scene: &Scene) -> Option<Command> {
        let [x, y, z] = self.at.each_ref().map(|field| field.read(scene.unit, &POINT).ok());
        let (name, position) = (self.name.clone(), DVec3::new(x?, y?, z?));
        Some(if self.is_source { Command::MoveSource { name, position } } else { Command::MoveReceiver { name, position } })
    }

    /// It keeps its height.
    pub(super) fn place(&mut self, scene: &Scene, pressed: &Pressed) {
        self.at[0] = pressed_measure(pressed.point.x, scene);
        self.at[1] = pressed_measure(pressed.point.y, scene);
    }
}

/// The list of all who send and listen.
pub(super) fn list(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, draft: &mut Draft, asked: &mut Asked) {
    let is_kind = |form: &super::Form| matches!(form, super::Form::Person(_));
    let people = people(scene);
    let words = people.iter().map(|one| {
        let [x, y, z] = one.at.to_array().map(|meters| length(meters, scene));
        (one.name.to_owned(), [one.what.to_owned(), format!("x {x}, y {y}, height {z}")])
    });
    let heads = ["<name", "<what", "<where"];
    let clicked = rows(ui, "Who sends and who listens", "", heads, words.collect(), |name| draft.is_of(name, is_kind));
    if let Some(one) = clicked.and_then(|row| people.get(row)) {
        let at = one.at.to_array().map(|meters| Measure::of(meters, scene.unit));
        let form = Form { name: one.name.to_owned(), is_source: one.is_source, at };
        draft.open(super::Form::Person(form), Some(one.name.to_owned()));
    }
    draft.show(ui, shown, scene, asked, is_kind);
}
