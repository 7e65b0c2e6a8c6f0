//! Places to keep clear: the swing of a door, a lamp, a smoke detector, a socket, a radiator.

use bevy::math::DVec3;
use bevy_egui::egui::Ui;
use roomwright::report::text::figures::length;
use roomwright::scene::shell::FLOOR;
use roomwright::scene::{Clearance, ClearanceRegion, Scene};

use super::rectangle::Fields;
use super::{Draft, Measure, adding, choice, free_name, line, name, pressed_measure, rows, surfaces};
use crate::command::Command;
use crate::ui::say::remark;
use crate::ui::tokens::small;
use crate::ui::{Asked, Shown};
use crate::view::Pressed;

/// Coordinates of a box, meters.
const POINT: std::ops::RangeInclusive<f64> = -100.0..=100.0;

/// What is typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Form {
    name: String,
    /// Whether it is a rectangle on a surface, or a box in space.
    on_surface: bool,
    surface: String,
    place: Fields,
    low: [Measure; 3],
    high: [Measure; 3],
}

impl Form {
    fn blank(scene: &Scene) -> Self {
        Self {
            name: free_name("socket", scene.clearances.iter().map(|clearance| clearance.name.as_str())),
            on_surface: true,
            surface: surfaces(scene).next().unwrap_or_default().to_owned(),
            place: Fields::sized(0.2, 0.3, 0.3, scene),
            low: Default::default(),
            high: Default::default(),
        }
    }

    fn of(scene: &Scene, clearance: &Clearance) -> Self {
        let blank = Self { name: clearance.name.clone(), ..Self::blank(scene) };
        let corner = |point: DVec3| point.to_array().map(|meters| Measure::of(meters, scene.unit));
        match &clearance.region {
            ClearanceRegion::Surface { surface, place } => Self { surface: surface.clone(), place: Fields::of(place, scene), ..blank },
            ClearanceRegion::Space { low, high } => Self { on_surface: false, low: corner(*low), high: corner(*high), ..blank },
        }
    }

    pub(super) fn show(&mut self, ui: &mut Ui, scene: &Scene) {
        name(ui, &mut self.name);
        line(ui, "it is", |ui, _| {
            ui.radio_value(&mut self.on_surface, true, small("on a surface"));
            ui.radio_value(&mut self.on_surface, false, small("a box in the room"));
        });
        if self.on_surface {
            choice(ui, "on", surfaces(scene).chain([FLOOR]), &mut self.surface);
            self.place.show(ui, scene, true);
        } else {
            for (corner, words) in [(&mut self.low, ["x from", "y from", "height from"]), (&mut self.high, ["x to", "y to", "height to"])] {
                for (field, what) in corner.iter_mut().zip(words) {
                    field.show(ui, what, scene.unit, &POINT);
                }
            }
        }
        remark(ui, "Nothing is hung there, and the plan leaves it free. Keep lamps, heaters, detectors, sockets and ways out clear.");
    }

    pub(super) fn command(&self, scene: &Scene, of: Option<&str>) -> Option<Command> {
        let name = Some(self.name.trim()).filter(|name| !name.is_empty())?.to_owned();
        let region = if self.on_surface {
            ClearanceRegion::Surface { surface: self.surface.clone(), place: self.place.read(scene)? }
        } else {
            let corner = |fields: &[Measure; 3]| {
                let [x, y, z] = fields.each_ref().map(|field| field.read(scene.unit, &POINT).ok());
                Some(DVec3::new(x?, y?, z?))
            };
            ClearanceRegion::Space { low: corner(&self.low)?, high: corner(&self.high)? }
        };
        let clearance = Clearance { name, region };
        Some(match of {
            Some(old) => Command::ChangeClearance { name: old.to_owned(), clearance },
            None => Command::AddClearance(clearance),
        })
    }

    /// On a surface its middle comes there; a box keeps its size, if it has one, and stands there.
    pub(super) fn place(&mut self, scene: &Scene, pressed: &Pressed) {
        if self.on_surface {
            if surfaces(scene).chain([FLOOR]).any(|surface| surface == pressed.surface) {
                self.surface.clone_from(&pressed.surface);
                self.place.place(scene, pressed, true);
            }
            return;
        }
        for axis in 0..2 {
            let read = |field: &Measure| field.read(scene.unit, &POINT).ok();
            let size = read(&self.high[axis]).zip(read(&self.low[axis])).map_or(0.8, |(high, low)| (high - low).max(0.0));
            self.low[axis] = pressed_measure(pressed.point[axis] - size / 2.0, scene);
            self.high[axis] = pressed_measure(pressed.point[axis] + size / 2.0, scene);
        }
        for (field, usual) in [(&mut self.low[2], 0.0), (&mut self.high[2], 2.0)] {
            if field.read(scene.unit, &POINT).is_err() {
                *field = Measure::of(usual, scene.unit);
            }
        }
    }
}

/// The list of clearances.
pub(super) fn list(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, draft: &mut Draft, asked: &mut Asked) {
    let is_kind = |form: &super::Form| matches!(form, super::Form::Clearance(_));
    let words = scene.clearances.iter().map(|clearance| {
        let words = match &clearance.region {
            ClearanceRegion::Surface { surface, place } => {
                let at = format!("{surface}, {} from the left, {} up", length(place.left, scene), length(place.bottom, scene));
                [at, format!("{} x {}", length(place.width, scene), length(place.height, scene))]
            }
            ClearanceRegion::Space { low, high } => {
                let size = (*high - *low).to_array().map(|meters| length(meters, scene));
                [format!("from x {}, y {}", length(low.x, scene), length(low.y, scene)), size.join(" x ")]
            }
        };
        (clearance.name.clone(), words)
    });
    let none = "Nothing yet: sockets, lamps, detectors, the swing of the door.";
    let heads = ["<name", "<where", "<size"];
    let clicked = rows(ui, "Kept clear", none, heads, words.collect(), |name| draft.is_of(name, is_kind));
    if let Some(clearance) = clicked.and_then(|row| scene.clearances.get(row)) {
        draft.open(super::Form::Clearance(Form::of(scene, clearance)), Some(clearance.name.clone()));
    }
    if adding(ui, &["keep a place clear"]).is_some() {
        draft.open(super::Form::Clearance(Form::blank(scene)), None);
    }
    draft.show(ui, shown, scene, asked, is_kind);
}
