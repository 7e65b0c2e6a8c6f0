//! A rectangle on a surface by its measures: from the left edge as seen from inside, from the floor or the lower edge, width, height.

use bevy_egui::egui::Ui;
use roomwright::scene::{Rectangle, Scene};

use super::{Measure, PLACE, SIZE, pressed_measure, usual};
use crate::view::Pressed;

/// What is typed.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Fields {
    left: Measure,
    bottom: Measure,
    width: Measure,
    height: Measure,
}

impl Fields {
    /// Fields that hold this rectangle.
    pub(super) fn of(place: &Rectangle, scene: &Scene) -> Self {
        let field = |meters: f64| Measure::of(meters, scene.unit);
        Self { left: field(place.left), bottom: field(place.bottom), width: field(place.width), height: field(place.height) }
    }

    /// Nothing said of where, but of its height over the floor and its size.
    pub(super) fn sized(bottom: f64, width: f64, height: f64, scene: &Scene) -> Self {
        let field = |meters: f64| usual(meters, scene);
        Self { left: Measure::default(), bottom: field(bottom), width: field(width), height: field(height) }
    }

    /// The lines of the form. `bottom`: whether it is asked how far up it begins.
    pub(super) fn show(&mut self, ui: &mut Ui, scene: &Scene, bottom: bool) {
        self.left.show(ui, "left edge", scene.unit, &PLACE);
        if bottom {
            self.bottom.show(ui, "lower edge", scene.unit, &PLACE);
        }
        self.width.show(ui, "width", scene.unit, &SIZE);
        self.height.show(ui, "height", scene.unit, &SIZE);
    }

    /// The rectangle, if all of it reads.
    pub(super) fn read(&self, scene: &Scene) -> Option<Rectangle> {
        let place = |field: &Measure| field.read(scene.unit, &PLACE).ok();
        let size = |field: &Measure| field.read(scene.unit, &SIZE).ok();
        Some(Rectangle { left: place(&self.left)?, bottom: place(&self.bottom)?, width: size(&self.width)?, height: size(&self.height)? })
    }

    /// Puts its middle where was pressed. `upright`: its height over the floor as well.
    pub(super) fn place(&mut self, scene: &Scene, pressed: &Pressed, upright: bool) {
        let half = |field: &Measure| field.read(scene.unit, &SIZE).unwrap_or(0.0) / 2.0;
        self.left = pressed_measure((pressed.position.x - half(&self.width)).max(0.0), scene);
        if upright {
            self.bottom = pressed_measure((pressed.position.y - half(&self.height)).max(0.0), scene);
        }
    }
}
