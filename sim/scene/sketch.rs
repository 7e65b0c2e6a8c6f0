//! A scene text with mistakes, as far as it can be drawn: the shell, and in it what stands by itself.
//!
//! Something to look at while the mistakes are mended. What could not be read, lies off its surface or outside the room is left out; a
//! material that nobody knows becomes the first of the table. No number may be taken from it.
//!
//! *Limits.* Without a sound outline and ceiling there is nothing to draw. Only flat panels are kept.

use super::read::draft;
use super::{ClearanceRegion, Core, Panel, PanelPlace, Rectangle, Scene};
use crate::absorbers::table;

/// What can be drawn of a text, `None` if that is not even the shell.
#[must_use]
pub fn sketch(text: &str) -> Option<Scene> {
    let mut scene = draft(text)?;
    let stand_in = table::rows().first()?.name;
    let own: Vec<String> = scene.materials.iter().map(|material| material.name.clone()).collect();
    let is_known = |name: &str| own.iter().any(|own| own == name) || table::find(name).is_some();
    let mend = |name: &mut String| {
        if !is_known(name) {
            stand_in.clone_into(name);
        }
    };
    mend(&mut scene.floor_material);
    scene.walls.iter_mut().for_each(|wall| mend(&mut wall.material));
    scene.ceiling.iter_mut().for_each(|plane| mend(&mut plane.material));
    scene.openings.iter_mut().for_each(|opening| mend(&mut opening.material));
    scene.blocks.iter_mut().for_each(|block| mend(&mut block.material));
    scene.stock.retain(|kind| !matches!(&kind.core, Core::Material(name) if !is_known(name)));

    let shell = scene.clone();
    let lies = |surface: &str, place: &Rectangle| shell.surface(surface).is_some_and(|index| shell.off_surface(index, place).is_none());
    scene.openings.retain(|opening| lies(&opening.surface, &opening.place));
    scene.clearances.retain(|clearance| match &clearance.region {
        ClearanceRegion::Surface { surface, place } => lies(surface, place),
        ClearanceRegion::Space { .. } => true,
    });
    scene.panels.retain(|panel| rectangle(&shell, panel).is_some_and(|(surface, place)| lies(surface, &place)));
    scene.blocks.retain(|block| {
        let top = block.base + block.size.z;
        shell.in_shell(block.center.extend(f64::midpoint(block.base, top))) && top <= shell.ceiling_height(block.center)
    });
    scene.sources.retain(|source| shell.in_shell(source.position));
    scene.seats.retain(|seat| shell.in_shell(seat.ear));
    scene.microphones.retain(|microphone| shell.in_shell(microphone.position));
    Some(scene)
}

/// Surface and place of a flat panel of a known type.
fn rectangle<'a>(scene: &Scene, panel: &'a Panel) -> Option<(&'a str, Rectangle)> {
    let PanelPlace::Surface { surface, left, bottom, lying, .. } = &panel.place else { return None };
    let size = scene.stock.iter().find(|kind| kind.name == panel.kind)?.size;
    let (width, height) = if *lying { (size.y, size.x) } else { (size.x, size.y) };
    Some((surface, Rectangle { left: *left, bottom: *bottom, width, height }))
}
