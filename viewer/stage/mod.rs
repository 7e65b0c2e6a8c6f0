//! The stage: the room in three dimensions, its maps, paths and panels, and the mouse on them.
//!
//! z is up in `roomwright` and y in the engine: [`point`] turns it, here and nowhere else.

use bevy::math::DVec3;
use bevy::prelude::*;

/// The part of the window that the stage is drawn in, in logical pixels; the panels set it when they are laid out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Resource)]
pub(crate) struct StageArea {
    /// Left upper corner.
    pub(crate) low: Vec2,
    /// Right lower corner.
    pub(crate) high: Vec2,
}

/// Draws the room.
pub(crate) struct StagePlugin;

impl Plugin for StagePlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<StageArea>();
    }
}

/// A point of the room as the engine has it.
pub(crate) fn point(room: DVec3) -> Vec3 {
    Vec3::new(room.x as f32, room.z as f32, -room.y as f32)
}
