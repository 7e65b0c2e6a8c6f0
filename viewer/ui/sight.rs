//! Where the room is looked at from: from outside, from above, square on to a surface, from a head.

use bevy_egui::egui::{Area, ComboBox, Id, Rect, Ui, vec2};

use crate::command::Command;
use crate::view::CameraView;

use super::{Asked, Shown};

/// The chooser, in the upper left corner of the stage.
pub(crate) fn chooser(ui: &mut Ui, shown: Shown<'_>, stage: Rect, asked: &mut Asked) {
    let Some(room) = &shown.results.room else { return };
    let room = &room.value;
    let mut views = vec![("from outside".to_owned(), CameraView::Orbit), ("from above".to_owned(), CameraView::Plan)];
    let surfaces = room.surfaces.iter().enumerate().filter(|(_, surface)| surface.role.is_shell());
    views.extend(surfaces.map(|(index, surface)| (format!("square on: {}", surface.name), CameraView::Elevation(index))));
    let heads = room.receivers.iter().enumerate().filter(|(_, receiver)| receiver.zone_radius.is_some());
    views.extend(heads.map(|(index, receiver)| (format!("from the {}", receiver.name), CameraView::Ear(index))));
    let now = views.iter().find(|(_, view)| *view == shown.view.camera).map_or("from outside", |(name, _)| name);
    Area::new(Id::new("sight")).fixed_pos(stage.min + vec2(8.0, 8.0)).show(ui.ctx(), |ui| {
        ComboBox::from_id_salt("sight").selected_text(now).width(150.0).show_ui(ui, |ui| {
            for (name, view) in &views {
                if ui.selectable_label(*view == shown.view.camera, name).clicked() {
                    asked.push(Command::CameraTo(*view));
                }
            }
        });
    });
}
