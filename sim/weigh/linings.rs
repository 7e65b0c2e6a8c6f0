//! Which finish lies where: walls, their doors and windows, and what hangs on them, patch by patch.
//!
//! A patch holds a share of every finish that lies on it, what hung last covering what was there. *Images* take the mean over their
//! footprints (`footprint`). *Rays* meet what the patches round a bounce hold, blended by diffusion (`room::patches`).

use std::sync::Arc;

use glam::DVec2;

use crate::absorbers::{COSINE_BINS, Finish};
use crate::bands::{BAND_COUNT, Band, Bands};
use crate::geometry::Polygon;
use crate::hanging::Hanging;
use crate::room::{BLEND, PatchGrid, Role, Room, SurfaceGrid};

/// A panel's face may stand this far off the wall that goes on round it, meters.
const BACKING_DISTANCE: f64 = 0.35;

struct Region {
    polygon: Polygon,
    low: DVec2,
    high: DVec2,
    finish: u16,
    rectangle: bool,
}

/// A finish in the footprint of a bounce.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Part {
    /// Index of the finish.
    pub(super) finish: u16,
    /// Its number among the finishes of its surface.
    pub(super) layer: u16,
    /// Its share of the footprint.
    pub(super) share: f32,
}

/// How the patches of one surface mirror in one band.
pub(super) struct Mirrors<'a> {
    cover: &'a [Vec<f64>],
    /// Mirrored share of each finish.
    shares: Vec<f64>,
}

impl Mirrors<'_> {
    /// Mirrored share of a patch.
    #[inline]
    pub(super) fn at(&self, slot: usize) -> f64 {
        if self.cover.is_empty() {
            self.shares[0]
        } else {
            self.cover.iter().zip(&self.shares).map(|(cover, share)| cover[slot] * share).sum()
        }
    }
}

/// The finishes of one surface, patch by patch.
struct Blend {
    /// Finishes on the surface, the bare one first.
    layers: Vec<u16>,
    /// `cover[layer][slot]`: share of the patch that the finish fills; empty where there is one finish only.
    cover: Vec<Vec<f64>>,
    /// `parts[start[slot]..start[slot + 1]]` is what a bounce in the patch meets; `start` is empty where there is one finish only.
    start: Vec<u32>,
    parts: Vec<Part>,
}

/// All finishes of a room with what hangs in it.
pub struct Linings {
    surfaces: Vec<Blend>,
    finishes: Vec<Finish>,
    /// `(1 - alpha)(1 - s)` by finish, cosine bin, band.
    specular: Vec<[f32; BAND_COUNT]>,
    /// `(1 - alpha) s` likewise.
    diffuse: Vec<[f32; BAND_COUNT]>,
    /// The shell surface that goes on round a panel's face.
    backing: Vec<Option<usize>>,
    grid: Arc<PatchGrid>,
    /// Finishes of the room itself; those of what hangs follow.
    first_hung: usize,
}

impl Linings {
    /// The finishes of `room` with `hanging` on its surfaces.
    #[must_use]
    pub fn new(room: &Room, hanging: &Hanging) -> Self {
        let mut finishes = room.finishes.clone();
        let first_hung = finishes.len();
        finishes.extend(hanging.finishes.iter().cloned());
        let mut regions: Vec<Vec<Region>> = room
            .surfaces
            .iter()
            .map(|surface| surface.linings.iter().map(|lining| Region::new(&lining.region, lining.finish)).collect())
            .collect();
        for patch in &hanging.patches {
            regions[patch.surface].push(Region::new(&patch.region, first_hung + patch.finish));
        }
        let grid = &room.patches;
        let surfaces = (room.surfaces.iter().zip(&grid.surfaces).zip(&regions))
            .map(|((surface, own), regions)| match &regions[..] {
                [] => Blend::plain(surface.finish as u16),
                regions => Blend::new(own, grid.side, surface.finish as u16, regions),
            })
            .collect();
        let rows =
            |part: fn(&Finish) -> &Vec<Bands<f32>>| finishes.iter().flat_map(|finish| part(finish).iter().map(|row| row.0)).collect();
        let (specular, diffuse) = (rows(|finish| &finish.specular), rows(|finish| &finish.diffuse));
        Self { surfaces, finishes, specular, diffuse, backing: backing(room), grid: Arc::clone(&room.patches), first_hung }
    }

    /// One finish on every surface of `room`: what a map exchanges the walls for.
    #[must_use]
    pub fn everywhere(room: &Room, finish: &Finish) -> Self {
        let mut plain = room.clone();
        plain.finishes = vec![finish.clone()];
        for surface in &mut plain.surfaces {
            surface.finish = 0;
            surface.linings.clear();
        }
        Self::new(&plain, &Hanging::default())
    }

    /// The wall that goes on round a panel's face, if the surface is one.
    #[must_use]
    pub fn behind(&self, surface: usize) -> Option<usize> {
        self.backing[surface]
    }

    /// How each patch of a surface mirrors at this cosine of incidence in this band.
    pub(super) fn mirrors(&self, surface: usize, cosine: f64, band: Band) -> Mirrors<'_> {
        let blend = &self.surfaces[surface];
        Mirrors { cover: &blend.cover, shares: blend.layers.iter().map(|&finish| self.finish(finish).specular_in(cosine, band)).collect() }
    }

    /// The finish with this index.
    #[must_use]
    pub fn finish(&self, index: u16) -> &Finish {
        &self.finishes[usize::from(index)]
    }

    /// The finishes that a ray's bounce meets, with their shares.
    #[inline]
    pub(super) fn parts(&self, surface: usize, position: DVec2) -> &[Part] {
        let blend = &self.surfaces[surface];
        if blend.start.is_empty() {
            return &blend.parts;
        }
        let slot = self.grid.surfaces[surface].slot(self.grid.side, position);
        &blend.parts[blend.start[slot] as usize..blend.start[slot + 1] as usize]
    }

    /// Whether a bounce meets the room's own finishes only, and the same as in another state of the room.
    pub(super) fn meets_as(&self, other: &Self, surface: usize, position: DVec2) -> bool {
        let parts = self.parts(surface, position);
        parts == other.parts(surface, position) && parts.iter().all(|part| usize::from(part.finish) < self.first_hung)
    }

    /// Finishes on a surface, the bare one first.
    pub(super) fn layers(&self, surface: usize) -> &[u16] {
        &self.surfaces[surface].layers
    }

    /// Share of a patch that one of the surface's finishes fills.
    pub(super) fn cover(&self, surface: usize, layer: usize, slot: usize) -> f64 {
        self.surfaces[surface].cover.get(layer).map_or(1.0, |cover| cover[slot])
    }

    /// `(1 - alpha)(1 - s)` (mirrored) or `(1 - alpha) s` (scattered) of one finish, by band.
    #[inline]
    pub(super) fn row(&self, scattered: bool, finish: u16, cosine_bin: u8) -> &[f32; BAND_COUNT] {
        let rows = if scattered { &self.diffuse } else { &self.specular };
        &rows[usize::from(finish) * COSINE_BINS + usize::from(cosine_bin)]
    }

    /// The same of a footprint: the mean of its finishes.
    #[inline]
    pub(super) fn mean(&self, scattered: bool, parts: &[Part], cosine_bin: u8) -> [f32; BAND_COUNT] {
        if let [part] = parts {
            return *self.row(scattered, part.finish, cosine_bin);
        }
        let mut mean = [0.0; BAND_COUNT];
        for part in parts {
            let row = self.row(scattered, part.finish, cosine_bin);
            for band in 0..BAND_COUNT {
                mean[band] += part.share * row[band];
            }
        }
        mean
    }
}

impl Blend {
    /// A surface with nothing on it.
    fn plain(finish: u16) -> Self {
        Self { layers: vec![finish], cover: Vec::new(), start: Vec::new(), parts: vec![Part { finish, layer: 0, share: 1.0 }] }
    }

    fn new(grid: &SurfaceGrid, side: f64, base: u16, regions: &[Region]) -> Self {
        let mut layers = vec![base];
        let mut cover = vec![vec![1.0; grid.len()]];
        for region in regions {
            let layer = layers.iter().position(|&finish| finish == region.finish).unwrap_or_else(|| {
                layers.push(region.finish);
                cover.push(vec![0.0; grid.len()]);
                layers.len() - 1
            });
            region.lay(grid, side, &mut cover, layer);
        }
        let blended: Vec<Vec<f64>> = cover
            .iter()
            .map(|cover| {
                let mut blended = cover.clone();
                grid.blend(side, BLEND, &mut blended);
                blended
            })
            .collect();
        let (mut start, mut parts) = (vec![0], Vec::new());
        for slot in 0..grid.len() {
            parts.extend(
                layers
                    .iter()
                    .zip(&blended)
                    .enumerate()
                    .filter(|(_, (_, blended))| blended[slot] > 0.0)
                    .map(|(layer, (&finish, blended))| Part { finish, layer: layer as u16, share: blended[slot] as f32 }),
            );
            start.push(parts.len() as u32);
        }
        Self { layers, cover, start, parts }
    }
}

impl Region {
    fn new(polygon: &Polygon, finish: usize) -> Self {
        let (low, high) = polygon.bounds();
        Self { rectangle: is_aligned_rectangle(polygon), polygon: polygon.clone(), low, high, finish: finish as u16 }
    }

    /// Covers what it takes of each patch with its finish, whatever lay there before.
    fn lay(&self, grid: &SurfaceGrid, side: f64, cover: &mut [Vec<f64>], layer: usize) {
        let last = DVec2::new(grid.columns as f64, grid.rows as f64) - 1.0;
        let first = ((self.low - grid.low) / side).floor().clamp(DVec2::ZERO, last);
        let last = ((self.high - grid.low) / side).floor().clamp(DVec2::ZERO, last);
        for row in first.y as usize..=last.y as usize {
            for column in first.x as usize..=last.x as usize {
                let slot = row * grid.columns + column;
                let corner = grid.corner(side, slot);
                let common = (self.high.min(corner + side) - self.low.max(corner)).max(DVec2::ZERO);
                let taken = if self.rectangle {
                    common.x * common.y
                } else {
                    self.polygon.overlap_area(&Polygon::rectangle(corner, corner + side))
                };
                if taken > 0.0 && grid.area[slot] > 1e-9 {
                    let share = (taken / grid.area[slot]).min(1.0);
                    for cover in cover.iter_mut() {
                        cover[slot] *= 1.0 - share;
                    }
                    cover[layer][slot] += share;
                }
            }
        }
    }
}

/// Whether a polygon is its own bounding box.
fn is_aligned_rectangle(polygon: &Polygon) -> bool {
    let (low, high) = polygon.bounds();
    let size = high - low;
    polygon.corners.len() == 4 && (polygon.area() - size.x * size.y).abs() <= 1e-9 * size.x * size.y
}

/// For each face of a panel: the shell surface close behind it that faces the same way.
fn backing(room: &Room) -> Vec<Option<usize>> {
    room.surfaces
        .iter()
        .map(|face| {
            if !matches!(face.role, Role::Panel(_)) {
                return None;
            }
            let middle = face.chart.point(face.outline.centroid());
            room.surfaces.iter().position(|wall| {
                let distance = wall.chart.height(middle);
                wall.role.is_shell()
                    && wall.chart.normal.dot(face.chart.normal) > 0.9999
                    && (0.0..BACKING_DISTANCE).contains(&distance)
                    && wall.outline.contains(wall.chart.position(middle))
            })
        })
        .collect()
}
