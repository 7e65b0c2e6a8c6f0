//! How much of each cell is air, through how much of each of its faces air passes, and how much of which surface it meets: the room's own surfaces, cut exactly.
//!
//! Every surface is clipped to the cells that it crosses. Along a line in +x a point lies in air where more surfaces that look along +x than against it have been passed, so a piece in cell
//! `i` with area vector `a` (its area times its unit normal into the air) and middle `c` adds, with lengths in cells,
//!
//! ```text
//! air of the cell       a_x (x_high - c_x)      and a_x to every cell after it in the row
//! open share of a face  a_x to every face across x after it in the row; likewise along y and z
//! ```
//!
//! Sums over pieces need no decision of what is inside, so nothing depends on how a wall lies to the grid, and every cell closes: the open shares of its two faces across an axis
//! differ by what its pieces have of that axis. A room with a hole has no air by these sums but wrong numbers: whoever cuts one asks before whether it closes (`leak`).
//!
//! *References.* The divergence theorem. Cut cells in room acoustics: S. Bilbao, B. Hamilton, J. Botts, L. Savioja, "Finite Volume Time Domain Room Acoustics Simulation under General
//! Impedance Boundary Conditions", IEEE/ACM Trans. Audio Speech Lang. Process. 24 (2016) 161 (from memory).
//!
//! *Thin bodies.* A body thinner than a cell leaves air on both of its sides in one cell, which would join them. Where it fills a good part of the cell ([`Cells::parted`]) the face beyond it is
//! closed, so that all air of the cell belongs to one side: the body stands, up to a cell from its place.
//!
//! *Limits.* Thin bodies are seen along the axes of the grid: one that lies slantwise to all of them may leak where cells meet at their edges.

use glam::{DVec2, DVec3};
use rayon::prelude::*;

use super::grid::Grid;
use crate::room::{FinishIndex, Room};

/// A surface that lies in a border between cells belongs to the cell on its air side: it is looked for this far before itself, in cells.
const BEFORE: f64 = 1e-7;
/// Less than this of a cell, of a face or of a surface in a cell counts as none, and as the whole where it lacks: what rounding leaves.
const NONE: f64 = 1e-9;
/// A body that covers more than this of what is open of a cell's faces across an axis parts the cell.
const MUCH: f64 = 0.9;

/// What each cell of a grid holds.
#[derive(Clone, Debug)]
pub struct Cells {
    /// The grid.
    pub grid: Grid,
    /// Share of each cell that is air.
    pub air: Vec<f64>,
    /// Open share of the face between each cell and the one before it along x, y and z.
    pub open: [Vec<f64>; 3],
    /// What meets air, ordered by cell, then by finish.
    pub facets: Vec<Facet>,
    /// Cells with air on both sides of a body that is thinner than a cell, and the axis that it lies across.
    pub parted: Vec<(usize, usize)>,
}

/// A part of a finish within a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Facet {
    /// The cell.
    pub cell: usize,
    /// Index into the room's finishes.
    pub finish: FinishIndex,
    /// Its area, m2.
    pub area: f64,
}

/// A piece of a surface in a cell, lengths in cells.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    pub(super) cell: usize,
    /// Area times unit normal into the air; 0 where only the finish changes.
    pub(super) vector: DVec3,
    /// Its middle.
    pub(super) middle: DVec3,
    finish: FinishIndex,
    /// Area, below 0 where it is taken from that finish.
    area: f64,
}

/// A part of a plane: what it does to the geometry and to the finishes.
pub(super) struct Sheet {
    corners: Vec<DVec3>,
    /// Unit normal into the air.
    normal: DVec3,
    /// How many times it counts as a border of the air: 1, -1 where a body stands against it, 0 where only the finish changes.
    border: f64,
    /// Finishes that gain or lose its area.
    finishes: Vec<(FinishIndex, f64)>,
}

impl Cells {
    /// Cuts a room.
    #[must_use]
    pub fn new(room: &Room, grid: Grid) -> Self {
        let mut pieces: Vec<Piece> = sheets(room).par_iter().flat_map_iter(|sheet| cut(&grid, sheet)).collect();
        pieces.sort_by_key(|piece| (piece.cell, piece.finish));
        let borders = summed(&grid, &pieces);
        let [air, x] = along(&grid, 0, &borders);
        let [_, y] = along(&grid, 1, &borders);
        let [_, z] = along(&grid, 2, &borders);
        let facets = facets(&pieces, grid.spacing);
        let mut open = [x, y, z];
        let parted = parted(&grid, &pieces, &air, &open);
        for (cell, axis) in &parted {
            open[*axis][cell + grid.strides()[*axis]] = 0.0;
        }
        Self { grid, air, open, facets, parted }
    }

    /// Air of the whole room, m3.
    #[must_use]
    pub fn volume(&self) -> f64 {
        self.air.iter().sum::<f64>() * self.grid.spacing.powi(3)
    }
}

/// What share of each cell lies within a convex body, cells of a share above none: its faces with their outward normals, corners in order.
pub(super) fn share(grid: &Grid, faces: &[(Vec<DVec3>, DVec3)]) -> Vec<(usize, f64)> {
    let sheet = |(corners, normal): &(Vec<DVec3>, DVec3)| {
        let mut corners = corners.clone();
        corners.reverse();
        // The body is what the sheets look into.
        Sheet { corners, normal: -*normal, border: 1.0, finishes: vec![(0, 0.0)] }
    };
    let mut pieces: Vec<Piece> = faces.iter().flat_map(|face| cut(grid, &sheet(face))).collect();
    pieces.sort_by_key(|piece| piece.cell);
    let [air, _] = along(grid, 0, &summed(grid, &pieces));
    air.into_iter().enumerate().filter(|(_, share)| *share > 0.0).collect()
}

/// Every surface in triangles: its outline, what bodies cover of it, its linings.
pub(super) fn sheets(room: &Room) -> Vec<Sheet> {
    let mut all = Vec::new();
    for (index, surface) in room.surfaces.iter().enumerate() {
        let mut add = |region: &crate::geometry::Polygon, border: f64, finishes: &[(FinishIndex, f64)]| {
            for corners in region.triangles() {
                let corners: Vec<DVec3> = corners.iter().map(|corner: &DVec2| surface.chart.point(*corner)).collect();
                all.push(Sheet { corners, normal: surface.chart.normal, border, finishes: finishes.to_vec() });
            }
        };
        add(&surface.outline, 1.0, &[(surface.finish, 1.0)]);
        for lining in &surface.linings {
            add(&lining.region, 0.0, &[(surface.finish, -1.0), (lining.finish, 1.0)]);
        }
        for contact in room.contacts.iter().filter(|contact| contact.surface == index) {
            add(&contact.region, -1.0, &[(surface.finish, -1.0)]);
            for lining in &surface.linings {
                for both in contact.region.intersection(&lining.region) {
                    add(&both, 0.0, &[(surface.finish, 1.0), (lining.finish, -1.0)]);
                }
            }
        }
    }
    all
}

/// A sheet cell by cell.
pub(super) fn cut(grid: &Grid, sheet: &Sheet) -> Vec<Piece> {
    let corners: Vec<DVec3> = sheet.corners.iter().map(|corner| (*corner - grid.origin) / grid.spacing).collect();
    let mut found = Vec::new();
    for (x, column) in slabs(&corners, sheet.normal, 0) {
        for (y, bar) in slabs(&column, sheet.normal, 1) {
            for (z, piece) in slabs(&bar, sheet.normal, 2) {
                let (area, middle) = measure(&piece, sheet.normal);
                if area <= NONE {
                    continue;
                }
                let cell = grid.index([x, y, z]);
                let vector = sheet.border * area * sheet.normal;
                for (index, (finish, sign)) in sheet.finishes.iter().enumerate() {
                    // Its border counts once.
                    let vector = if index == 0 { vector } else { DVec3::ZERO };
                    found.push(Piece { cell, vector, middle, finish: *finish, area: sign * area });
                }
            }
        }
    }
    found
}

/// The parts of a convex polygon between whole numbers along an axis, with the number that each begins at.
fn slabs(corners: &[DVec3], normal: DVec3, axis: usize) -> Vec<(usize, Vec<DVec3>)> {
    let (low, high) = corners.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at[axis]), high.max(at[axis])));
    let before = BEFORE * normal[axis];
    let (first, last) = ((low + before).floor().max(0.0), (high + before).floor().max(0.0));
    let mut found = Vec::new();
    let mut at = first;
    while at <= last {
        // The first and the last take what rounding leaves beyond them.
        let from = if at == first { f64::NEG_INFINITY } else { at };
        let to = if at == last { f64::INFINITY } else { at + 1.0 };
        let part = clip(&clip(corners, |point| point[axis] - from), |point| to - point[axis]);
        if part.len() >= 3 {
            found.push((at as usize, part));
        }
        at += 1.0;
    }
    found
}

/// What of a convex polygon has a depth of 0 and more, which is linear in the point; infinite: all of it.
pub(super) fn clip(corners: &[DVec3], depth: impl Fn(&DVec3) -> f64) -> Vec<DVec3> {
    if corners.first().is_some_and(|corner| depth(corner).is_infinite()) {
        return corners.to_vec();
    }
    let mut kept = Vec::with_capacity(corners.len() + 1);
    for (index, to) in corners.iter().enumerate() {
        let from = &corners[(index + corners.len() - 1) % corners.len()];
        let (a, b) = (depth(from), depth(to));
        if a * b < 0.0 {
            kept.push(from.lerp(*to, a / (a - b)));
        }
        if b >= 0.0 {
            kept.push(*to);
        }
    }
    kept
}

/// Area and middle of a flat convex polygon.
fn measure(corners: &[DVec3], normal: DVec3) -> (f64, DVec3) {
    let first = corners[0];
    let (area, moment) = corners[1..].windows(2).fold((0.0, DVec3::ZERO), |(area, moment), pair| {
        let own = 0.5 * (pair[0] - first).cross(pair[1] - first).dot(normal).abs();
        (area + own, moment + own * (first + pair[0] + pair[1]) / 3.0)
    });
    (area, if area > 0.0 { moment / area } else { first })
}

/// Borders of each cell together: cell, area vector, air behind them.
fn summed(grid: &Grid, pieces: &[Piece]) -> Vec<(usize, DVec3, f64)> {
    let of_cell = |all: &[Piece]| {
        let cell = all[0].cell;
        let high = (grid.place(cell)[0] + 1) as f64;
        let behind = all.iter().map(|piece| piece.vector.x * (high - piece.middle.x)).sum();
        (cell, all.iter().map(|piece| piece.vector).sum(), behind)
    };
    pieces.chunk_by(|a, b| a.cell == b.cell).map(of_cell).collect()
}

/// Along every row of an axis: air of the cells (right along x only), and open share of the face before each cell.
fn along(grid: &Grid, axis: usize, borders: &[(usize, DVec3, f64)]) -> [Vec<f64>; 2] {
    let stride = grid.strides()[axis];
    let mut passed = vec![0.0; grid.len()];
    let mut air = vec![0.0; if axis == 0 { grid.len() } else { 0 }];
    for (cell, vector, behind) in borders {
        passed[*cell] = vector[axis];
        if axis == 0 {
            air[*cell] = *behind;
        }
    }
    let rounded = |share: f64| match share {
        _ if share < NONE => 0.0,
        _ if share > 1.0 - NONE => 1.0,
        _ => share,
    };
    let mut open = vec![0.0; grid.len()];
    for cell in 0..grid.len() {
        if grid.place(cell)[axis] == 0 {
            continue;
        }
        let before = cell - stride;
        open[cell] = open[before] + passed[before];
    }
    if axis == 0 {
        air.iter_mut().zip(&open).for_each(|(air, open)| *air = rounded(*air + open));
    }
    open.iter_mut().for_each(|open| *open = rounded(*open));
    [air, open]
}

/// Finishes by cell.
fn facets(pieces: &[Piece], spacing: f64) -> Vec<Facet> {
    let together = |all: &[Piece]| Facet {
        cell: all[0].cell,
        finish: all[0].finish,
        area: all.iter().map(|piece| piece.area).sum::<f64>() * spacing * spacing,
    };
    pieces
        .chunk_by(|a, b| (a.cell, a.finish) == (b.cell, b.finish))
        .map(together)
        .filter(|facet| facet.area > NONE * spacing * spacing)
        .collect()
}

/// Cells with air on both sides of what takes up a good part of them across an axis: borders that look back along it, and behind these borders that look on.
fn parted(grid: &Grid, pieces: &[Piece], air: &[f64], open: &[Vec<f64>; 3]) -> Vec<(usize, usize)> {
    let across = |all: &[Piece], axis: usize, side: f64| {
        let looking = all.iter().filter(|piece| side * piece.vector[axis] > 0.0);
        let (area, moment) = looking.fold((0.0, 0.0), |(area, moment), piece| {
            let own = side * piece.vector[axis];
            (area + own, moment + own * piece.middle[axis])
        });
        (area, moment / area)
    };
    let is_parted = |all: &[Piece], axis: usize| {
        let ((back, first), (on, second)) = (across(all, axis, -1.0), across(all, axis, 1.0));
        let cell = all[0].cell;
        let much = MUCH * open[axis][cell].max(open[axis][cell + grid.strides()[axis]]);
        air[cell] > NONE && back.min(on) > much.max(NONE) && first < second
    };
    let cells = pieces.chunk_by(|a, b| a.cell == b.cell);
    cells.flat_map(|all| (0..3).filter(|axis| is_parted(all, *axis)).map(|axis| (all[0].cell, axis))).collect()
}
