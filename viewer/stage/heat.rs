//! Maps as one picture: every patch a pixel, in the colors and on the scale that the report uses, all surfaces on one sheet.
//!
//! Maps lie on the sheet in shelves, the tallest first, each with a rim of one pixel that repeats its edge, so that a place on the edge
//! of a surface never takes the color of another one. Pixels are not blended: a patch has one value. A patch without a value is paper.

use bevy::asset::RenderAssetUsages;
use bevy::image::{Image, ImageSampler};
use bevy::math::{UVec2, Vec2};
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat};
use roomwright::plan::SurfaceMap;
use roomwright::report::axis::Marks;
use roomwright::report::heatmap::{self, Heat};
use roomwright::report::paper;
use roomwright::room::{Role, Room};
use roomwright::study::{Landing, Quantity};

use super::mesh::Shape;

/// Width of the sheet at least, pixels.
const SHEET: u32 = 512;
/// Height of the sheet at most: what every graphics driver takes. Maps that find no place on it are not drawn.
const HIGHEST: u32 = 8192;

/// What the report calls a quantity.
pub(super) fn heat_of(quantity: Quantity) -> Heat {
    match quantity {
        Quantity::Earning => Heat::Earning,
        Quantity::Early => Heat::Early,
        Quantity::Clarity => Heat::Clarity,
        Quantity::Late => Heat::Late,
        Quantity::LateEarning => Heat::LateEarning,
    }
}

/// How far below the brightest patch the scale of the energy that lands begins, dB.
const LANDING_RANGE_DB: f64 = 30.0;

/// The energy that has landed by a moment, on every surface but those of panels, and the scale for all moments together. What has none
/// yet is as dark as the scale goes.
pub(super) fn landed(room: &Room, landing: &Landing, time_s: f64) -> (Vec<SurfaceMap>, Marks) {
    let is_painted = |map: &SurfaceMap| !matches!(room.surfaces.get(map.surface).map(|surface| surface.role), Some(Role::Panel(_)) | None);
    let mut end: Vec<f64> = landing.maps(f64::INFINITY).into_iter().flat_map(|map| map.values).filter(|level| level.is_finite()).collect();
    end.sort_by(f64::total_cmp);
    // Without the brightest half percent, as the scales of the other maps.
    let high = end.iter().rev().nth(end.len() / 200).copied().unwrap_or(0.0);
    let marks = Marks::round(high - LANDING_RANGE_DB, high, 6);
    let mut maps = landing.maps(time_s);
    maps.retain(is_painted);
    for level in maps.iter_mut().flat_map(|map| &mut map.values) {
        *level = if level.is_nan() { f64::NAN } else { level.max(marks.low) };
    }
    (maps, marks)
}

/// The maps that are painted: of walls and ceilings, where panels hang; of the floor where it is looked at from above. Blocks stay paper,
/// so that what is painted is what can be hung.
pub(super) fn painted(room: &Room, maps: &[SurfaceMap], with_floor: bool) -> Vec<SurfaceMap> {
    let is_painted = |map: &&SurfaceMap| match room.surfaces.get(map.surface).map(|surface| surface.role) {
        Some(Role::Wall(_) | Role::Ceiling(_)) => true,
        Some(Role::Floor) => with_floor,
        Some(Role::Block(_) | Role::Panel(_) | Role::Face(_)) | None => false,
    };
    maps.iter().filter(is_painted).cloned().collect()
}

/// The scale of walls, ceilings and floor together, whatever of them is painted.
pub(super) fn scale(room: &Room, maps: &[SurfaceMap]) -> Marks {
    heatmap::scale(maps.iter().filter(|map| room.surfaces.get(map.surface).is_some_and(|surface| surface.role.is_shell())))
}

/// Maps on one sheet.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Sheet {
    /// Width and height, pixels.
    pub(super) size: UVec2,
    /// Red, green, blue, opacity of each pixel, sRGB.
    pub(super) pixels: Vec<u8>,
    /// The left upper corner of each map's first patch, pixels; `None` where there was no room for it. Row 0 of a map is its highest row
    /// on the sheet.
    pub(super) places: Vec<Option<UVec2>>,
}

/// Where each map goes, and the size of the sheet.
fn laid_out(maps: &[SurfaceMap]) -> (Vec<Option<UVec2>>, UVec2) {
    let mut order: Vec<usize> = (0..maps.len()).collect();
    order.sort_by_key(|&index| (std::cmp::Reverse(maps[index].rows), index));
    let width = maps.iter().map(|map| map.columns as u32 + 2).max().unwrap_or(1).max(SHEET);
    let mut places = vec![None; maps.len()];
    let (mut x, mut y, mut shelf) = (0, 0, 0);
    for index in order {
        let (columns, rows) = (maps[index].columns as u32 + 2, maps[index].rows as u32 + 2);
        if x + columns > width {
            (x, y, shelf) = (0, y + shelf, 0);
        }
        if y + rows > HIGHEST || columns > HIGHEST {
            continue;
        }
        places[index] = Some(UVec2::new(x + 1, y + 1));
        x += columns;
        shelf = shelf.max(rows);
    }
    (places, UVec2::new(width.min(HIGHEST), (y + shelf).max(1)))
}

impl Sheet {
    /// Paints maps of the surfaces of a room.
    pub(super) fn new(room: &Room, maps: &[SurfaceMap], heat: Heat, marks: Marks) -> Self {
        let (places, size) = laid_out(maps);
        let mut pixels = vec![0; (size.x * size.y * 4) as usize];
        for (map, place) in maps.iter().zip(&places) {
            let (Some(place), Some(surface)) = (place, room.surfaces.get(map.surface)) else { continue };
            let levels = heatmap::levels(map, marks, &surface.outline);
            let (columns, rows) = (map.columns as i64, map.rows as i64);
            for row in -1..=rows {
                for column in -1..=columns {
                    let patch = row.clamp(0, rows - 1) * columns + column.clamp(0, columns - 1);
                    let level = levels.get(patch as usize).copied().flatten();
                    let color = level.map_or(paper::NONE, |level| heatmap::level_color(heat, level));
                    let at = (i64::from(place.y) + row) * i64::from(size.x) + i64::from(place.x) + column;
                    pixels[(at * 4) as usize..][..4].copy_from_slice(&[color.0, color.1, color.2, 255]);
                }
            }
        }
        Self { size, pixels, places }
    }

    /// The surfaces of these maps, as triangles with their places on the sheet.
    pub(super) fn shape(&self, room: &Room, maps: &[SurfaceMap]) -> Shape {
        let mut shape = Shape::default();
        for (map, place) in maps.iter().zip(&self.places) {
            let (Some(place), Some(surface)) = (place, room.surfaces.get(map.surface)) else { continue };
            let most = Vec2::new(map.columns as f32, map.rows as f32) + 0.5;
            shape.pictured(&surface.chart, &surface.outline, |position| {
                let patch = ((position - map.origin) / map.patch_m).as_vec2().clamp(Vec2::splat(-0.5), most);
                (place.as_vec2() + patch) / self.size.as_vec2()
            });
        }
        shape
    }

    /// Whether this map is on the sheet.
    pub(super) fn holds(&self, maps: &[SurfaceMap], surface: usize) -> bool {
        maps.iter().zip(&self.places).any(|(map, place)| map.surface == surface && place.is_some())
    }

    /// As the engine takes it.
    pub(super) fn image(&self) -> Image {
        let size = Extent3d { width: self.size.x, height: self.size.y, depth_or_array_layers: 1 };
        let mut image =
            Image::new(size, TextureDimension::D2, self.pixels.clone(), TextureFormat::Rgba8UnormSrgb, RenderAssetUsages::RENDER_WORLD);
        image.sampler = ImageSampler::nearest();
        image
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stage::samples;
    use roomwright::report::paper::Colormap;

    fn map(surface: usize, room: &Room, patch_m: f64, value: impl Fn(usize, usize) -> f64) -> SurfaceMap {
        let (origin, high) = room.surfaces[surface].outline.bounds();
        let (columns, rows) = (((high.x - origin.x) / patch_m).ceil() as usize, ((high.y - origin.y) / patch_m).ceil() as usize);
        let values = (0..columns * rows).map(|patch| value(patch % columns, patch / columns)).collect();
        SurfaceMap { surface, patch_m, origin, columns, rows, errors: vec![0.0; columns * rows], values }
    }

    fn pixel(sheet: &Sheet, at: UVec2) -> [u8; 4] {
        let first = ((at.y * sheet.size.x + at.x) * 4) as usize;
        sheet.pixels[first..first + 4].try_into().expect("four")
    }

    #[test]
    fn keeps_the_ends_of_the_scale_and_paper_for_no_number() {
        let (_, room) = samples::attic();
        // 0 to 10 over a whole wall, one patch without a value in its middle.
        let steps = |column: usize, row: usize| if (column, row) == (5, 5) { f64::NAN } else { (column % 11) as f64 };
        let maps = vec![map(0, &room, 0.2, steps)];
        let marks = scale(&room, &maps);
        assert_eq!((marks.low, marks.high), (0.0, 10.0));
        let sheet = Sheet::new(&room, &maps, Heat::Early, marks);
        let place = sheet.places[0].expect("there is room");
        let colors = |share: f64| {
            let color = Colormap::Viridis.color(share);
            [color.0, color.1, color.2, 255]
        };
        assert_eq!(pixel(&sheet, place), colors(0.0));
        assert_eq!(pixel(&sheet, place + UVec2::new(10, 3)), colors(1.0));
        assert_eq!(pixel(&sheet, place + UVec2::new(5, 5)), [paper::NONE.0, paper::NONE.1, paper::NONE.2, 255]);
        // The rim repeats the edge.
        assert_eq!(pixel(&sheet, place - UVec2::ONE), colors(0.0));
    }

    #[test]
    fn keeps_maps_apart_and_every_corner_on_its_own() {
        for (_, room) in samples::all() {
            let maps: Vec<SurfaceMap> = (0..room.surfaces.len()).map(|surface| map(surface, &room, 0.1, |c, r| (c + r) as f64)).collect();
            let sheet = Sheet::new(&room, &maps, Heat::Late, scale(&room, &maps));
            let frame = |index: usize| {
                let place = sheet.places[index].expect("there is room");
                (place - UVec2::ONE, place + UVec2::new(maps[index].columns as u32 + 1, maps[index].rows as u32 + 1))
            };
            for one in 0..maps.len() {
                let (low, high) = frame(one);
                assert!(high.cmple(sheet.size).all());
                for other in 0..one {
                    let (other_low, other_high) = frame(other);
                    let apart = high.cmple(other_low).any() || other_high.cmple(low).any();
                    assert!(apart, "{one} lies over {other}");
                }
                let shape = sheet.shape(&room, &maps[one..=one]);
                assert!(!shape.places.is_empty() && shape.places.len() == shape.positions.len());
            }
            let whole = sheet.shape(&room, &maps);
            assert!(whole.places.iter().all(|place| place.cmpge(Vec2::ZERO).all() && place.cmple(Vec2::ONE).all()));
        }
    }

    /// What is painted is what can be hung, and the colors do not change with the view.
    #[test]
    fn keeps_blocks_paper_and_one_scale() {
        let (_, room) = samples::attic();
        let value = |surface: usize| if room.surfaces[surface].role.is_shell() { 1.0 } else { 50.0 };
        let maps: Vec<SurfaceMap> = (0..room.surfaces.len()).map(|surface| map(surface, &room, 0.2, |_, _| value(surface))).collect();
        assert!(scale(&room, &maps).high < 2.0);
        let (walls, with_floor) = (painted(&room, &maps, false), painted(&room, &maps, true));
        assert_eq!(with_floor.len(), walls.len() + 1);
        assert!(with_floor.iter().all(|map| room.surfaces[map.surface].role.is_shell()));
    }

    #[test]
    fn keeps_no_map_drawable() {
        let (_, room) = samples::attic();
        let sheet = Sheet::new(&room, &[], Heat::Early, scale(&room, &[]));
        assert!(sheet.shape(&room, &[]).indices.is_empty() && sheet.size.min_element() > 0);
    }
}
