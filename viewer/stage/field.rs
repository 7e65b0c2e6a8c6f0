//! A slice of the low end's field as a picture that lies level in the room: a pixel for each cell, in the colors of its level or of its pressure at a moment.
//!
//! A cell is drawn where its middle lies in air. Colors of cells are blended into each other; a pixel without air takes the mean of those round it, so that nothing strange bleeds in at walls.
//!
//! *Limits.* Walls at a slant show the corners of cells. What stands above the slice hides it, as it does the floor.

use bevy::asset::RenderAssetUsages;
use bevy::camera::visibility::{NoFrustumCulling, RenderLayers};
use bevy::image::ImageSampler;
use bevy::math::{DVec2, DVec3};
use bevy::prelude::*;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat};
use bevy_egui::egui::Color32;
use roomwright::geometry::{Chart, Polygon};
use roomwright::report::text::figures::number;
use roomwright::scene::Scene;
use roomwright::study::BassSlice;
use roomwright::units::Length;

use super::draw::{HeatMaterial, LAYER_IN_PRINT, LAYER_ON_SCREEN, Unsettled};
use super::mesh::Shape;
use crate::low_end::{Look, PERIOD_S, Slice, Sounds};
use crate::ui::tokens;
use crate::view::View;

/// The slice in the room.
#[derive(Clone, Copy, Component, Debug)]
pub(super) struct InRoom;

pub(super) fn plug(app: &mut App) {
    app.add_systems(Startup, |mut commands: Commands| {
        let both = RenderLayers::from_layers(&[LAYER_ON_SCREEN, LAYER_IN_PRINT]);
        commands.spawn((InRoom, Visibility::Hidden, Transform::IDENTITY, NoFrustumCulling, both));
    });
}

/// The color of a value on the scale of a look.
pub(super) fn color(look: Look, share: f64) -> Color32 {
    match look {
        Look::Level => tokens::loudness(share),
        Look::Pressure => tokens::swing(share),
    }
}

/// What is on screen.
#[derive(Default)]
pub(super) struct Drawn(Option<(Slice, Look, f64)>);

/// Where what is drawn is kept.
type Shelves<'w> = (ResMut<'w, Assets<Mesh>>, ResMut<'w, Assets<Image>>, ResMut<'w, Assets<HeatMaterial>>);

/// Draws the slice anew when it shows something else.
pub(super) fn make_slice(
    mut drawn: Local<Drawn>,
    (view, results): (Res<View>, Res<crate::results::Results>),
    mut commands: Commands,
    (mut meshes, mut images, mut heats): Shelves<'_>,
    places: Query<Entity, With<InRoom>>,
    mut unsettled: ResMut<Unsettled>,
) {
    let shown = results.slice.as_ref().zip(view.low_end.field);
    let periods = if shown.is_some_and(|(_, look)| look == Look::Pressure) { view.low_end.periods } else { 0.0 };
    let is_same = match (shown, &drawn.0) {
        (Some((slice, look)), Some((other, was, at))) => slice.is_same(other) && look == *was && periods == *at,
        (one, other) => one.is_none() && other.is_none(),
    };
    let Some(place) = places.iter().next().filter(|_| !is_same) else { return };
    unsettled.0 = unsettled.0.max(2);
    let is_same_shape =
        shown.is_some_and(|(slice, _)| drawn.0.as_ref().is_some_and(|(other, ..)| std::sync::Arc::ptr_eq(&slice.cells, &other.cells)));
    drawn.0 = shown.map(|(slice, look)| (slice.clone(), look, periods));
    let Some((slice, look)) = shown else {
        commands.entity(place).insert(Visibility::Hidden);
        return;
    };
    let map = images.add(picture(slice, look, periods));
    commands.entity(place).insert((MeshMaterial3d(heats.add(HeatMaterial { map })), Visibility::Inherited));
    if !is_same_shape {
        commands.entity(place).insert(Mesh3d(meshes.add(shape(slice).into_mesh())));
    }
}

/// Squares of all cells with air, seen from above and from below.
fn shape(slice: &Slice) -> Shape {
    let cells = &*slice.cells;
    let mut shape = Shape::default();
    let size = DVec2::new(cells.columns as f64, cells.rows as f64);
    // What is seen from below has its y turned round, so that it runs counterclockwise from there.
    let sides = [(cells.low_m.y, DVec3::Y, 1.0), (-cells.low_m.y, DVec3::NEG_Y, -1.0)];
    for (index, _) in slice.picture.pressures.iter().enumerate().filter(|(_, pressure)| pressure.is_some()) {
        let corner = DVec2::new((index % cells.columns) as f64, (index / cells.columns) as f64);
        for (low, up, sign) in sides {
            let chart = Chart::new(DVec3::new(cells.low_m.x, 0.0, cells.height_m), DVec3::X, up);
            let [from, to] = [corner.y, corner.y + 1.0].map(|row| low + sign * cells.cell_m * row);
            let [left, right] = [corner.x, corner.x + 1.0].map(|column| cells.cell_m * column);
            let square = Polygon::rectangle(DVec2::new(left, from.min(to)), DVec2::new(right, from.max(to)));
            shape.pictured(&chart, &square, |at| {
                let column = at.x / cells.cell_m;
                let row = sign * (at.y - low) / cells.cell_m;
                (DVec2::new(column, row) / size).as_vec2()
            });
        }
    }
    shape
}

/// A pixel for each cell.
fn picture(slice: &Slice, look: Look, periods: f64) -> Image {
    let BassSlice { columns, rows, .. } = *slice.cells;
    let marks = slice.marks(look);
    let colors: Vec<Option<Color32>> =
        slice.values(look, periods).into_iter().map(|value| value.map(|value| color(look, marks.share(value)))).collect();
    let size = Extent3d { width: columns as u32, height: rows as u32, depth_or_array_layers: 1 };
    let pixels = (0..colors.len()).flat_map(|index| filled(&colors, columns, index).to_array()).collect();
    let mut image = Image::new(size, TextureDimension::D2, pixels, TextureFormat::Rgba8UnormSrgb, RenderAssetUsages::RENDER_WORLD);
    image.sampler = ImageSampler::linear();
    image
}

/// The color of a cell; without air the mean of those round it, and paper where there are none.
fn filled(colors: &[Option<Color32>], columns: usize, index: usize) -> Color32 {
    if let Some(color) = colors[index] {
        return color;
    }
    let (column, row) = (index % columns, index / columns);
    let beside = |at: usize, most: usize| at.saturating_sub(1)..(at + 2).min(most);
    let round = beside(row, colors.len() / columns).flat_map(|row| beside(column, columns).map(move |column| row * columns + column));
    let round: Vec<Color32> = round.filter_map(|other| colors[other]).collect();
    let mean = |channel: fn(&Color32) -> u8| {
        let sum: u32 = round.iter().map(|color| u32::from(channel(color))).sum();
        (sum / round.len().max(1) as u32) as u8
    };
    if round.is_empty() { tokens::CARD } else { Color32::from_rgb(mean(Color32::r), mean(Color32::g), mean(Color32::b)) }
}

/// What the slice shows, in lines for a corner of the stage.
pub(super) fn headlines(scene: &Scene, view: &View, slice: &Slice) -> Vec<String> {
    let (who, frequency) = slice.heading();
    let what = match (view.low_end.field, &slice.sounds) {
        (Some(Look::Level), _) => "level",
        (_, Sounds::Mode(_)) => "shape",
        _ => "pressure",
    };
    let height = Length((slice.cells.height_m * 1000.0).round() / 1000.0).print(scene.unit);
    let mut lines = vec![format!("{who} | {what} at {} Hz", number(frequency, 1)), format!("{height} over the floor")];
    if view.low_end.playing {
        lines.push(format!("slowed down {} times", number(frequency * PERIOD_S, 0)));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_the_color_of_a_cell_and_lends_it_to_walls_beside() {
        let (red, blue) = (Color32::from_rgb(200, 0, 0), Color32::from_rgb(0, 0, 100));
        let colors = [Some(red), None, Some(blue), None, None, None, None, None, None];
        assert_eq!(filled(&colors, 3, 0), red);
        assert_eq!(filled(&colors, 3, 1), Color32::from_rgb(100, 0, 50));
        assert_eq!(filled(&colors, 3, 3), red);
        assert_eq!(filled(&colors, 3, 7), tokens::CARD);
    }

    /// Silence is paper; ends are as dark as each other, and the middle of either half lies between.
    #[test]
    fn keeps_the_colors_of_pressure_even() {
        assert_eq!(tokens::swing(0.5), tokens::CARD);
        let light = |share: f64| {
            let color = tokens::swing(share);
            0.2126 * f64::from(color.r()) + 0.7152 * f64::from(color.g()) + 0.0722 * f64::from(color.b())
        };
        for step in 0..8 {
            let [low, high] = [0.5 - f64::from(step) / 16.0, 0.5 + f64::from(step) / 16.0];
            assert!(light(low) > light(low - 0.06) && light(high) > light(high + 0.06), "{step}");
        }
        assert_eq!(tokens::swing(-3.0), tokens::swing(0.0));
    }
}
