//! What of a surface mirrors a specular path: not a point but its first Fresnel zone, as wide as the listener lets it be.
//!
//! The zone is an ellipse of half width `w = sqrt(lambda d1 d2 / (d1 + d2))` across the plane of incidence and `w / cos` along it, d1 and d2
//! the ways before and behind. Seven points stand for a listening zone, each for a seventh of its ball, `b = r / 7^(1/3)`; seen over a
//! bounce that is `b d1 / (d1 + d2)` wide on the wall, and its square is added to that of the half width. A microphone is a point.
//! The share of the ellipse that a finish fills is its share of the reflection: a panel half the zone wide is not a wall of wool, and a
//! mirror point beside a panel is not bare. What of it lies beyond an edge sees no finish; beyond the edge of a panel's face it sees the wall
//! that goes on round it and the faces of other panels there, and on the wall the faces of its panels, less of it the further both planes are apart. Beside the source or a microphone the zone shrinks to a point; narrower than a millimeter either way, it is the patch that it lies in.
//!
//! *References.* H. Kuttruff, Room Acoustics, ch. 2 (reflection by finite surfaces); J. H. Rindel, Proc. Nordic Acoustical Meeting 1982
//! (attenuation of reflections by finite size; from memory).
//!
//! *Limits.* The zone counts evenly, without phase; energies of the finishes are mixed. Edges add nothing of their own. Finishes are known
//! patch by patch: where in a patch an edge runs is not.

use std::borrow::Cow;
use std::sync::OnceLock;

use glam::DVec2;

use crate::bands::{BAND_COUNT, Band};
use crate::geometry::{Chart, Polygon};
use crate::images::ImagePath;
use crate::room::{PatchGrid, Room, Surface};

use super::Linings;
use super::early::is_judged;
use super::linings::goes_on;

/// Grazing incidence stretches the zone no further than this.
const STRETCH_MAX: f64 = 4.0;

/// Lines across half an ellipse, at least two to a patch, along which the area that it shares with the patches is summed.
const LINES: f64 = 16.0;

/// An ellipse of less half width than this is a point, meters.
const POINT: f64 = 1e-3;

/// The footprint of one reflection.
#[derive(Clone, Debug)]
pub struct Footprint {
    /// Surface it lies on.
    pub surface: usize,
    /// Mirror point on the surface's chart, meters.
    pub center: DVec2,
    /// Cosine of the angle of incidence.
    pub cosine: f64,
    /// Unit vector along the plane of incidence, on the chart.
    along: DVec2,
    /// `d1 d2 / (d1 + d2)` in meters.
    reduced: f64,
    /// What of the receiver's ball the path stands for, thrown back onto the surface; radius in meters.
    heard: f64,
    stretch: f64,
    speed: f64,
    /// By band, found when first asked for; kept in the octaves of the early criterion, where they are few and asked for again and again.
    cells: [OnceLock<Cells>; BAND_COUNT],
}

/// The patches that a footprint covers, each with the area covered in m2; thousands of footprints are kept, so in few bytes.
#[derive(Clone, Debug, Default)]
pub(super) struct Cells {
    /// Patches of its own surface, by their number there.
    pub(super) on: Vec<(u32, f32)>,
    /// The surfaces that go on round it, and their patches.
    pub(super) round: Vec<(usize, Vec<(u32, f32)>)>,
    /// All of it.
    pub(super) total: f64,
}

/// What of a finish lies within a footprint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Face {
    /// Index of the finish.
    pub(super) finish: u16,
    /// Its share of the footprint.
    pub(super) share: f64,
    /// How far its front stands before the surface that the path meets, meters; below 0 where it lies behind.
    pub(super) ahead: f64,
}

/// An ellipse on a chart.
struct Ellipse {
    center: DVec2,
    /// Unit vector of the first axis.
    along: DVec2,
    /// Half axes: along, across.
    half: DVec2,
}

impl Footprint {
    /// Of one bounce of a path from `source`; `ball` is the radius of the part of the listening zone that the path stands for, meters.
    pub(super) fn new(room: &Room, path: &ImagePath, source: glam::DVec3, bounce: usize, ball: f64) -> Self {
        let here = path.bounces[bounce];
        let mut from = source;
        let mut before = 0.0;
        for earlier in &path.bounces[..=bounce] {
            before += from.distance(earlier.point);
            from = earlier.point;
        }
        let previous = if bounce == 0 { source } else { path.bounces[bounce - 1].point };
        let chart = &room.surfaces[here.surface].chart;
        let incoming = here.point - previous;
        let along = DVec2::new(incoming.dot(chart.right), incoming.dot(chart.up)).try_normalize().unwrap_or(DVec2::X);
        let behind = (path.length - before).max(0.0);
        Self {
            surface: here.surface,
            center: chart.position(here.point),
            cosine: here.cosine,
            along,
            reduced: before * behind / path.length,
            heard: ball * before / path.length,
            stretch: (1.0 / here.cosine.max(1e-6)).min(STRETCH_MAX),
            speed: room.medium.speed,
            cells: Default::default(),
        }
    }

    /// Half width across the plane of incidence in this band, meters.
    #[must_use]
    pub fn half_width(&self, band: Band) -> f64 {
        (self.speed / band.center() * self.reduced + self.heard * self.heard).sqrt()
    }

    /// Whether a change within these bounds on a surface could touch it in this band.
    #[must_use]
    pub fn meets(&self, room: &Room, linings: &Linings, band: Band, surface: usize, low: DVec2, high: DVec2) -> bool {
        if self.surface != surface {
            return linings.beside(self.surface).contains(&surface);
        }
        // Finishes are known patch by patch.
        let reach = self.half_width(band) * self.stretch + room.patches.side;
        (self.center + reach).cmpgt(low).all() && (self.center - reach).cmplt(high).all()
    }

    /// Mirrored share of the energy in this band: the mean over the footprint.
    #[must_use]
    pub fn specular(&self, room: &Room, linings: &Linings, band: Band) -> f64 {
        if let ([finish], []) = (linings.layers(self.surface), linings.beside(self.surface)) {
            return linings.finish(*finish).specular_in(self.cosine, band);
        }
        let cells = self.cells(room, linings, band);
        let sum = |surface: usize, cells: &[(u32, f32)]| {
            let mirrors = linings.mirrors(surface, self.cosine, band);
            cells.iter().map(|&(slot, area)| f64::from(area) * mirrors.at(slot as usize)).sum::<f64>()
        };
        let round: f64 = cells.round.iter().map(|(other, cells)| sum(*other, cells)).sum();
        (sum(self.surface, &cells.on) + round) / cells.total
    }

    /// The finishes within it in this band.
    pub(super) fn faces(&self, room: &Room, linings: &Linings, band: Band) -> Vec<Face> {
        if let ([finish], []) = (linings.layers(self.surface), linings.beside(self.surface)) {
            return vec![Face { finish: *finish, share: 1.0, ahead: 0.0 }];
        }
        let cells = self.cells(room, linings, band);
        let total = cells.total;
        let of_surface = |surface: usize, cells: &[(u32, f32)], ahead: f64| -> Vec<Face> {
            let face = |(layer, &finish): (usize, &u16)| {
                let area: f64 = cells.iter().map(|&(slot, area)| f64::from(area) * linings.cover(surface, layer, slot as usize)).sum();
                let hung = if layer == 0 { 0.0 } else { linings.finish(finish).depth };
                Face { finish, share: area / total, ahead: ahead + hung }
            };
            linings.layers(surface).iter().enumerate().map(face).filter(|face| face.share > 0.0).collect()
        };
        let mut faces = of_surface(self.surface, &cells.on, 0.0);
        let chart = &room.surfaces[self.surface].chart;
        for (other, cells) in &cells.round {
            let own = &room.surfaces[*other].chart;
            let ahead = chart.height(own.point(own.position(chart.point(self.center))));
            faces.extend(of_surface(*other, cells, ahead));
        }
        faces
    }

    /// The patches of the room that it covers in this band.
    pub(super) fn cells(&self, room: &Room, linings: &Linings, band: Band) -> Cow<'_, Cells> {
        let find = || self.cells_on(room, &room.patches, linings.beside(self.surface), band);
        if is_judged(band) { Cow::Borrowed(self.cells[band.index()].get_or_init(find)) } else { Cow::Owned(find()) }
    }

    /// The patches of any grid of the room that it covers in this band, `beside` being the surfaces that go on round its own.
    pub(super) fn cells_on(&self, room: &Room, grid: &PatchGrid, beside: &[usize], band: Band) -> Cells {
        let width = self.half_width(band);
        let ellipse = Ellipse { center: self.center, along: self.along, half: DVec2::new(width * self.stretch, width) };
        let is_wall = |surface: usize| room.surfaces[surface].role.is_shell();
        // What shades the wall.
        let faces: Vec<usize> = match beside {
            [] => Vec::new(),
            _ => [self.surface].iter().chain(beside).copied().filter(|&surface| !is_wall(surface)).collect(),
        };
        let on_one = |surface: usize, ellipse: &Ellipse| {
            let cells = ellipse.cells(grid, surface);
            if is_wall(surface) && !faces.is_empty() { free_of(cells, room, grid, surface, &faces) } else { cells }
        };
        let chart = &room.surfaces[self.surface].chart;
        let mut on = on_one(self.surface, &ellipse);
        let thrown = beside.iter().map(|&other| {
            let plane = &room.surfaces[other].chart;
            let counts = goes_on(plane.height(chart.point(self.center))) as f32;
            let cells = on_one(other, &ellipse.thrown(chart, plane));
            let cells: Vec<(u32, f32)> = cells.into_iter().map(|(slot, area)| (slot, counts * area)).filter(|cell| cell.1 > 0.0).collect();
            (other, cells)
        });
        let round: Vec<(usize, Vec<(u32, f32)>)> = thrown.filter(|(_, cells)| !cells.is_empty()).collect();
        if on.is_empty() && round.is_empty() {
            on.push((grid.surfaces[self.surface].slot(self.center) as u32, 1.0));
        }
        let total = on.iter().chain(round.iter().flat_map(|(_, cells)| cells)).map(|cell| f64::from(cell.1)).sum();
        Cells { on, round, total }
    }
}

/// What of these patches of a wall the faces of panels on it leave free.
fn free_of(cells: Vec<(u32, f32)>, room: &Room, grid: &PatchGrid, wall: usize, faces: &[usize]) -> Vec<(u32, f32)> {
    let (chart, own) = (&room.surfaces[wall].chart, &grid.surfaces[wall]);
    let shade = |&face: &usize| {
        let Surface { chart: of_face, outline, .. } = &room.surfaces[face];
        let shade = Polygon::new(outline.corners.iter().map(|&corner| chart.position(of_face.point(corner))).collect());
        (shade.bounds(), shade)
    };
    let shades: Vec<((DVec2, DVec2), Polygon)> = faces.iter().map(shade).collect();
    let free = |slot: u32| {
        let corner = own.corner(slot as usize);
        let meets = |&((low, high), _): &&((DVec2, DVec2), Polygon)| low.cmplt(corner + grid.side).all() && high.cmpgt(corner).all();
        let patch = Polygon::rectangle(corner, corner + grid.side);
        let shaded: f64 = shades.iter().filter(meets).map(|(_, shade)| shade.overlap_area(&patch)).sum();
        (1.0 - shaded / (grid.side * grid.side)).max(0.0) as f32
    };
    cells.into_iter().map(|(slot, area)| (slot, area * free(slot))).filter(|cell| cell.1 > 0.0).collect()
}

impl Ellipse {
    /// The same on another chart of nearly the same plane.
    fn thrown(&self, from: &Chart, to: &Chart) -> Self {
        let thrown = |position: DVec2| to.position(from.point(position));
        let center = thrown(self.center);
        Self { center, along: (thrown(self.center + self.along) - center).try_normalize().unwrap_or(DVec2::X), half: self.half }
    }

    /// Area in m2 that it shares with each patch of a surface, to about a percent; none of a point.
    fn cells(&self, grid: &PatchGrid, surface: usize) -> Vec<(u32, f32)> {
        if self.half.min_element() < POINT {
            return Vec::new();
        }
        let own = &grid.surfaces[surface];
        let across = self.along.perp();
        let (a, b) = (self.half.x.powi(-2), self.half.y.powi(-2));
        let (xx, xy, yy) = (
            a * self.along.x * self.along.x + b * across.x * across.x,
            a * self.along.x * self.along.y + b * across.x * across.y,
            a * self.along.y * self.along.y + b * across.y * across.y,
        );
        let high = (self.half.x * self.along.y).hypot(self.half.y * across.y);
        let lines = (LINES * grid.side / high).ceil().max(2.0);
        let step = grid.side / lines;
        let (bottom, top) = (self.center.y - high - own.low.y, self.center.y + high - own.low.y);
        let first = (bottom / grid.side).max(0.0) as usize;
        let end = ((top / grid.side).ceil().max(0.0) as usize).min(own.rows);
        let mut cells = Vec::new();
        let mut row_areas = vec![0.0; own.columns];
        for row in first..end {
            for line in 0..lines as usize {
                let y = row as f64 * grid.side + (line as f64 + 0.5) * step + own.low.y - self.center.y;
                let root = xy * xy * y * y - xx * (yy * y * y - 1.0);
                if root > 0.0 {
                    let (middle, half) = (self.center.x - own.low.x - xy * y / xx, root.sqrt() / xx);
                    share_out(&mut row_areas, grid.side, middle - half, middle + half, step);
                }
            }
            for (column, area) in row_areas.iter_mut().enumerate().filter(|(_, area)| **area > 0.0) {
                let slot = row * own.columns + column;
                // Of a patch at the edge, what lies on the surface.
                let inside = *area * own.area[slot] / (grid.side * grid.side);
                if inside > 0.0 {
                    cells.push((slot as u32, inside as f32));
                }
                *area = 0.0;
            }
        }
        cells
    }
}

/// Adds a strip from `from` to `to`, `wide` across, to the patches of its row.
fn share_out(areas: &mut [f64], side: f64, from: f64, to: f64, wide: f64) {
    let first = (from / side).max(0.0) as usize;
    for (column, area) in areas.iter_mut().enumerate().skip(first) {
        let (left, right) = (column as f64 * side, (column + 1) as f64 * side);
        if left >= to {
            break;
        }
        *area += (right.min(to) - left.max(from)).max(0.0) * wide;
    }
}
