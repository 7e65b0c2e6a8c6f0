//! The stage: the room in three dimensions, its maps, paths and panels, and the mouse on them.
//!
//! z is up in `roomwright` and y in the engine: [`point`] turns it, here and nowhere else.
//!
//! # Files in reading order
//! `camera` where the room is looked at from; `mesh` surfaces as triangles; `heat` maps as one picture; `wave` the curves of the wavefront in their colors; `field` a slice of the low end;
//! `thing` what can be taken hold of; `picking` what lies under the mouse; `snap` what a panel falls into line with; `handle` what a chosen cloud is pulled
//! at; `drag` where what is held goes; `hand` mouse and keys that move things; `ink` the lines; `proved` those of a recording; `overlay` what is written over the picture; `draw` all of it for the
//! engine; `control` mouse and camera; `painter` the overlay on screen and in files; `picture` the stage as a file.

#[cfg(test)]
mod build_tests;
mod camera;
mod control;
mod drag;
mod draw;
mod field;
mod hand;
mod handle;
mod heat;
mod ink;
mod mesh;
mod overlay;
mod painter;
mod picking;
mod picture;
mod proved;
#[cfg(test)]
mod proved_tests;
#[cfg(test)]
mod samples;
mod snap;
#[cfg(test)]
mod tests;
mod thing;
mod wave;

pub(crate) use camera::{Rig, bounds};
pub(crate) use control::{StageCamera, multisampling};

use bevy::math::DVec3;
use bevy::prelude::*;
use bevy_egui::{EguiPreUpdateSet, EguiPrimaryContextPass};

pub(crate) use thing::{removed, shape_words};

use crate::session::Session;

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
        draw::plug(app);
        field::plug(app);
        app.init_resource::<StageArea>()
            .init_resource::<camera::Sight>()
            .init_resource::<Rig>()
            .init_resource::<picture::Exports>()
            .init_resource::<hand::Hand>()
            .init_resource::<control::Gesture>()
            .add_message::<bevy::window::WindowEvent>()
            .add_systems(Startup, control::set_up)
            .add_systems(
                Update,
                (
                    control::follow,
                    hand::reach,
                    hand::nudge,
                    control::steer,
                    control::fit,
                    control::place,
                    draw::make_meshes,
                    draw::make_lines,
                    draw::make_wave,
                    field::make_slice,
                    picture::export,
                    control::keep_drawing,
                )
                    .chain()
                    .after(Session),
            )
            .add_systems(PreUpdate, painter::keep_quiet.after(EguiPreUpdateSet::ProcessInput).before(EguiPreUpdateSet::BeginPass))
            .add_systems(EguiPrimaryContextPass, painter::paint);
    }
}

/// A point of the room as the engine has it.
pub(crate) fn point(room: DVec3) -> Vec3 {
    Vec3::new(room.x as f32, room.z as f32, -room.y as f32)
}

/// Triangles that a scene is drawn with.
pub(crate) fn triangles(scene: &roomwright::scene::Scene, room: &roomwright::room::Room) -> usize {
    let shapes = [mesh::shell(room, |_| false), mesh::panels(scene, room), mesh::people(room)];
    shapes.iter().map(|shape| shape.indices.len() / 3).sum()
}
