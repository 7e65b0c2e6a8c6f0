//! Which finish lies where: walls, their doors and windows, and what hangs on them, in one look-up.
//!
//! A surface with anything on it carries a raster of cells; a cell that one finish fills answers at once, a cell on an edge asks the
//! regions themselves, the last hung first.

use glam::DVec2;

use crate::absorbers::{COSINE_BINS, Finish};
use crate::bands::{BAND_COUNT, Bands};
use crate::geometry::Polygon;
use crate::hanging::Hanging;
use crate::room::{Role, Room};

/// Side of a raster cell, meters.
const CELL: f64 = 0.1;

/// Marks a cell on the edge of a region.
const MIXED: u16 = u16::MAX;

/// A panel's face may stand this far off the wall that goes on round it, meters.
const BACKING_DISTANCE: f64 = 0.35;

struct Region {
    polygon: Polygon,
    low: DVec2,
    high: DVec2,
    finish: u16,
    rectangle: bool,
}

struct Raster {
    low: DVec2,
    columns: usize,
    rows: usize,
    cells: Vec<u16>,
}

struct Lined {
    base: u16,
    regions: Vec<Region>,
    raster: Option<Raster>,
    /// Normal and offset of each edge of the surface, where it is convex.
    frame: Option<Vec<(DVec2, f64)>>,
}

/// All finishes of a room with what hangs in it.
pub struct Linings {
    surfaces: Vec<Lined>,
    finishes: Vec<Finish>,
    /// `(1 - alpha)(1 - s)` by finish, cosine bin, band.
    specular: Vec<[f32; BAND_COUNT]>,
    /// `(1 - alpha) s` likewise.
    diffuse: Vec<[f32; BAND_COUNT]>,
    /// The shell surface that goes on round a panel's face.
    backing: Vec<Option<usize>>,
}

impl Linings {
    /// The finishes of `room` with `hanging` on its surfaces.
    #[must_use]
    pub fn new(room: &Room, hanging: &Hanging) -> Self {
        let mut finishes = room.finishes.clone();
        let first_hung = finishes.len();
        finishes.extend(hanging.finishes.iter().cloned());
        let mut surfaces: Vec<Lined> = room
            .surfaces
            .iter()
            .map(|surface| Lined {
                base: surface.finish as u16,
                regions: surface.linings.iter().map(|lining| Region::new(&lining.region, lining.finish)).collect(),
                raster: None,
                frame: frame(&surface.outline),
            })
            .collect();
        for patch in &hanging.patches {
            surfaces[patch.surface].regions.push(Region::new(&patch.region, first_hung + patch.finish));
        }
        for (lined, surface) in surfaces.iter_mut().zip(&room.surfaces) {
            if !lined.regions.is_empty() {
                lined.raster = Some(Raster::new(&surface.outline, lined.base, &lined.regions));
            }
        }
        let rows =
            |part: fn(&Finish) -> &Vec<Bands<f32>>| finishes.iter().flat_map(|finish| part(finish).iter().map(|row| row.0)).collect();
        let (specular, diffuse) = (rows(|finish| &finish.specular), rows(|finish| &finish.diffuse));
        Self { surfaces, finishes, specular, diffuse, backing: backing(room) }
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

    /// Index of the finish at a position on a surface.
    #[must_use]
    #[inline]
    pub fn finish_at(&self, surface: usize, position: DVec2) -> usize {
        let lined = &self.surfaces[surface];
        let Some(raster) = &lined.raster else { return usize::from(lined.base) };
        match raster.cell(position) {
            MIXED => usize::from(lined.exact(position)),
            finish => usize::from(finish),
        }
    }

    /// Index of the finish that a sample of a footprint sees: beyond the edge of a panel's face, the wall that goes on round it;
    /// `None` beyond any other surface.
    #[must_use]
    pub fn finish_seen(&self, room: &Room, surface: usize, position: DVec2) -> Option<usize> {
        if self.is_on(room, surface, position) {
            return Some(self.finish_at(surface, position));
        }
        let face = &room.surfaces[surface];
        let behind = self.backing[surface]?;
        let wall = &room.surfaces[behind];
        let on_wall = wall.chart.position(face.chart.point(position));
        self.is_on(room, behind, on_wall).then(|| self.finish_at(behind, on_wall))
    }

    /// Whether a position lies on a surface.
    #[must_use]
    pub fn is_on(&self, room: &Room, surface: usize, position: DVec2) -> bool {
        match &self.surfaces[surface].frame {
            Some(frame) => frame.iter().all(|&(normal, offset)| normal.dot(position) <= offset),
            None => room.surfaces[surface].outline.contains(position),
        }
    }

    /// The only finish within `reach` of a position (each way along the axes), if there is only one.
    #[must_use]
    pub fn only_finish(&self, surface: usize, center: DVec2, reach: f64) -> Option<usize> {
        if self.backing[surface].is_some() {
            return None;
        }
        let lined = &self.surfaces[surface];
        let (low, high) = (center - DVec2::splat(reach), center + DVec2::splat(reach));
        let touched = lined.regions.iter().any(|region| region.low.cmplt(high).all() && region.high.cmpgt(low).all());
        (!touched).then_some(usize::from(lined.base))
    }

    /// The finish with this index.
    #[must_use]
    pub fn finish(&self, index: usize) -> &Finish {
        &self.finishes[index]
    }

    /// `(1 - alpha)(1 - s)` by band.
    #[must_use]
    #[inline]
    pub fn specular(&self, finish: usize, cosine_bin: u8) -> &[f32; BAND_COUNT] {
        &self.specular[finish * COSINE_BINS + usize::from(cosine_bin)]
    }

    /// `(1 - alpha) s` by band.
    #[must_use]
    #[inline]
    pub fn diffuse(&self, finish: usize, cosine_bin: u8) -> &[f32; BAND_COUNT] {
        &self.diffuse[finish * COSINE_BINS + usize::from(cosine_bin)]
    }
}

impl Region {
    fn new(polygon: &Polygon, finish: usize) -> Self {
        let (low, high) = polygon.bounds();
        Self { rectangle: is_aligned_rectangle(polygon), polygon: polygon.clone(), low, high, finish: finish as u16 }
    }

    fn contains(&self, position: DVec2) -> bool {
        position.cmpge(self.low).all() && position.cmple(self.high).all() && (self.rectangle || self.polygon.contains(position))
    }
}

/// The half planes whose common part is a convex polygon; a hair wide, so that its border is in it.
fn frame(polygon: &Polygon) -> Option<Vec<(DVec2, f64)>> {
    polygon.is_convex().then(|| {
        polygon
            .edges()
            .filter_map(|(a, b)| {
                let normal = -(b - a).perp().try_normalize()?;
                Some((normal, normal.dot(a) + 1e-9))
            })
            .collect()
    })
}

/// Whether a polygon is its own bounding box.
fn is_aligned_rectangle(polygon: &Polygon) -> bool {
    let (low, high) = polygon.bounds();
    let size = high - low;
    polygon.corners.len() == 4 && (polygon.area() - size.x * size.y).abs() <= 1e-9 * size.x * size.y
}

impl Lined {
    /// The last region at this position, else the bare surface.
    fn exact(&self, position: DVec2) -> u16 {
        self.regions.iter().rev().find(|region| region.contains(position)).map_or(self.base, |region| region.finish)
    }
}

impl Raster {
    fn new(outline: &Polygon, base: u16, regions: &[Region]) -> Self {
        let (low, high) = outline.bounds();
        let size = ((high - low) / CELL).ceil().max(DVec2::ONE);
        let (columns, rows) = (size.x as usize, size.y as usize);
        let mut raster = Self { low, columns, rows, cells: vec![base; columns * rows] };
        for region in regions {
            let first = ((region.low - low) / CELL).floor().max(DVec2::ZERO);
            let last = ((region.high - low) / CELL).floor().min(DVec2::new(columns as f64, rows as f64) - 1.0);
            for row in first.y as usize..=(last.y.max(0.0) as usize) {
                for column in first.x as usize..=(last.x.max(0.0) as usize) {
                    let cell_low = low + CELL * DVec2::new(column as f64, row as f64);
                    let cell_high = cell_low + CELL;
                    let filled = region.rectangle && cell_low.cmpge(region.low).all() && cell_high.cmple(region.high).all();
                    raster.cells[row * columns + column] = if filled { region.finish } else { MIXED };
                }
            }
        }
        raster
    }

    #[inline]
    fn cell(&self, position: DVec2) -> u16 {
        let place = (position - self.low) * (1.0 / CELL);
        let column = (place.x.max(0.0) as usize).min(self.columns - 1);
        let row = (place.y.max(0.0) as usize).min(self.rows - 1);
        self.cells[row * self.columns + column]
    }
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
