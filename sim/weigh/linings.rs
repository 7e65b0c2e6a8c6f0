//! Which finish lies where: walls, their doors and windows, and what hangs on them, patch by patch.
//!
//! A patch holds a share of every finish that lies on it, what hung last covering what was there. *Images* take the mean over their
//! footprints (`footprint`). *Rays* meet what lies in their footing (`room::footing`), in whole decays that of their patch (`patchwork`).
//!
//! Round panels the wall draws sound in (`hanging`). To rays that margin is a finish of its own; to images it is the wall.

use std::sync::Arc;

use fearless_simd::{Simd, SimdBase, f32x8};
use glam::DVec2;
use smallvec::SmallVec;

use crate::absorbers::sized::capture::Capture;
use crate::absorbers::{COSINE_BINS, Finish, bin_weight};
use crate::bands::{BAND_COUNT, Band, Bands};
use crate::geometry::Polygon;
use crate::hanging::Hanging;
use crate::room::{Footing, PatchGrid, Role, Room, Surface, SurfaceGrid};

/// Up to the first of these distances from the wall behind it the face of a panel and that wall count as one surface, as flush panels do; from there to the second less and less, then not at all, meters.
/// That they part evenly in between is our own choice: a reflection must not jump where a cloud comes nearer to its ceiling.
const APART: [f64; 2] = [0.20, 0.35];

/// What counts of a surface that goes on at this distance from the plane of another, 0 to 1.
pub(super) fn goes_on(distance: f64) -> f64 {
    ((APART[1] - distance.abs()) / (APART[1] - APART[0])).clamp(0.0, 1.0)
}

/// A finish that is made of others, told by their index.
#[derive(Clone, Copy)]
struct Captured {
    capture: Capture,
    /// Of the panels.
    panel: usize,
    /// Of the wall, in a margin; on a panel nothing.
    wall: Option<usize>,
}

impl Captured {
    /// What images meet there.
    fn for_images(&self) -> usize {
        self.wall.unwrap_or(self.panel)
    }

    /// What a bounce leaves in a band, mirrored and scattered.
    fn leaves(&self, finishes: &[Finish], bin: usize, band: Band) -> [f32; 2] {
        let panel = &finishes[self.panel];
        let bounce = match self.wall {
            Some(wall) => self.capture.in_margin(panel, &finishes[wall], bin, band),
            None => self.capture.on_panel(panel, bin, band),
        };
        [bounce.mirrored as f32, bounce.scattered as f32]
    }
}

struct Region {
    polygon: Polygon,
    low: DVec2,
    high: DVec2,
    finish: u16,
    rectangle: bool,
}

/// The finishes in the footing of a bounce.
pub(super) enum Parts<'a> {
    /// One that fills it, or those round the bounce's patch.
    Known(&'a [Part]),
    /// Several, mixed for this bounce.
    Mixed(SmallVec<[Part; 4]>),
}

impl std::ops::Deref for Parts<'_> {
    type Target = [Part];

    #[inline]
    fn deref(&self) -> &[Part] {
        match self {
            Self::Known(parts) => parts,
            Self::Mixed(parts) => parts,
        }
    }
}

/// A finish in the footing of a bounce.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Part {
    /// Index of the finish.
    pub(super) finish: u16,
    /// Its number among the finishes of its surface.
    pub(super) layer: u16,
    /// Its share of the footing.
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
    /// Share of each finish in the spread round each patch, `spread[layer / 4][slot][layer % 4]`; empty where there is one finish only.
    spread: Vec<Vec<[f32; 4]>>,
    /// By patch: the finish that fills it and all its neighbors, if there is such a one, else [`MIXED`].
    alone: Vec<u16>,
    /// Each finish by itself.
    whole: Vec<Part>,
    /// `parts[start[slot]..start[slot + 1]]` is what the spread round a patch holds.
    start: Vec<u32>,
    parts: Vec<Part>,
}

/// No finish fills a patch and all its neighbors.
const MIXED: u16 = u16::MAX;

/// All finishes of a room with what hangs in it.
pub struct Linings {
    surfaces: Arc<Vec<Blend>>,
    /// As images meet them: those of the room, of what hangs, then of [`Self::captures`].
    finishes: Vec<Finish>,
    /// The finishes that rays meet as something else than images do.
    captures: Vec<Captured>,
    /// What rays meet, by finish and cosine bin, side by side: `(1 - alpha)(1 - s)` and `(1 - alpha) s` by band.
    rows: Vec<[[f32; BAND_COUNT]; 2]>,
    /// The surfaces that go on round each one in nearly its plane ([`beside`]).
    beside: Arc<Vec<Vec<usize>>>,
    grid: Arc<PatchGrid>,
}

impl Linings {
    /// The finishes of `room` with `hanging` on its surfaces.
    #[must_use]
    pub fn new(room: &Room, hanging: &Hanging) -> Self {
        let mut finishes = room.finishes.clone();
        let first_hung = finishes.len();
        finishes.extend(hanging.finishes.iter().cloned());
        let mut captures: Vec<Captured> = Vec::new();
        let mut regions: Vec<Vec<Region>> = room
            .surfaces
            .iter()
            .map(|surface| surface.linings.iter().map(|lining| Region::new(&lining.region, lining.finish)).collect())
            .collect();
        let own = finishes.len();
        // What rays meet on panels that as pieces absorb less than their material.
        let mut instead: Vec<(usize, usize, usize)> = Vec::new();
        for margin in &hanging.margins {
            let panel = first_hung + margin.finish;
            if margin.capture.share != Bands::splat(1.0) {
                instead.push((margin.surface, panel, own + captures.len()));
                captures.push(Captured { capture: margin.capture, panel, wall: None });
            }
            let index = own + captures.len();
            regions[margin.surface].extend(margin.pieces.iter().chain(&margin.beneath).map(|piece| Region::new(piece, index)));
            captures.push(Captured { capture: margin.capture, panel, wall: Some(room.surfaces[margin.surface].finish) });
        }
        for patch in &hanging.patches {
            let finish = first_hung + patch.finish;
            let piece = instead.iter().find(|(surface, panel, _)| (*surface, *panel) == (patch.surface, finish));
            regions[patch.surface].push(Region::new(&patch.region, piece.map_or(finish, |&(_, _, piece)| piece)));
        }
        let surfaces = (regions.iter().enumerate())
            .map(|(index, regions)| match &regions[..] {
                [] => Blend::plain(room.surfaces[index].finish as u16),
                regions => Blend::new(room, index, regions),
            })
            .collect();
        Self::of(Arc::new(surfaces), finishes, captures, Arc::new(beside(room)), Arc::clone(&room.patches))
    }

    /// Of surfaces with these finishes, those of captures not yet among them.
    fn of(
        surfaces: Arc<Vec<Blend>>,
        mut finishes: Vec<Finish>,
        captures: Vec<Captured>,
        beside: Arc<Vec<Vec<usize>>>,
        grid: Arc<PatchGrid>,
    ) -> Self {
        let rows = rows(&finishes, &captures);
        let for_images: Vec<Finish> = captures.iter().map(|captured| finishes[captured.for_images()].clone()).collect();
        finishes.extend(for_images);
        Self { surfaces, finishes, captures, rows, beside, grid }
    }

    /// The same surfaces with other finishes in the places of these, which `change` tells one by one; `None` leaves one as it is. What margins take changes with their panels and walls.
    #[must_use]
    pub fn refinished(&self, change: impl Fn(&Finish) -> Option<Finish>) -> Self {
        let changed = self.plain().iter().map(|finish| change(finish).unwrap_or_else(|| finish.clone())).collect();
        Self::of(Arc::clone(&self.surfaces), changed, self.captures.clone(), Arc::clone(&self.beside), Arc::clone(&self.grid))
    }

    /// The finishes that are not made of others.
    fn plain(&self) -> &[Finish] {
        &self.finishes[..self.finishes.len() - self.captures.len()]
    }

    /// The finishes that lie on some surface, in order, each once.
    #[must_use]
    pub fn in_use(&self) -> Vec<&Finish> {
        let plain = self.plain().len();
        let made_of = |index: u16| usize::from(index).checked_sub(plain).map_or(usize::from(index), |made| self.captures[made].panel);
        let mut indices: Vec<usize> = self.surfaces.iter().flat_map(|blend| blend.layers.iter().copied()).map(made_of).collect();
        indices.sort_unstable();
        indices.dedup();
        indices.into_iter().map(|index| &self.finishes[index]).collect()
    }

    /// What a surface of `room` takes of a diffuse field as rays meet it, m2 by octave: the sum over what of its patches meets air, each with the spread round it.
    #[must_use]
    pub fn diffuse_losses(&self, room: &Room, surface: usize) -> Bands<f64> {
        let grid = &self.grid.surfaces[surface];
        let covered: Vec<&Polygon> =
            room.contacts.iter().filter(|contact| contact.surface == surface).map(|contact| &contact.region).collect();
        let free = |slot: usize| {
            let corner = grid.corner(slot);
            let patch = Polygon::rectangle(corner, corner + grid.side);
            (grid.area[slot] - covered.iter().map(|region| region.overlap_area(&patch)).sum::<f64>()).max(0.0)
        };
        let lost = |finish: u16| {
            let bins = self.rows_of(finish).iter().enumerate();
            let kept = |band: Band| -> f64 {
                bins.clone().map(|(bin, ways)| bin_weight(bin) * ways.iter().map(|way| f64::from(way[band.index()])).sum::<f64>()).sum()
            };
            Bands::from_fn(|band| 1.0 - kept(band))
        };
        let lost: Vec<Bands<f64>> = self.layers(surface).iter().map(|&finish| lost(finish)).collect();
        (0..grid.len()).fold(Bands::splat(0.0), |sum, slot| {
            let free = free(slot);
            self.round(surface, slot).iter().fold(sum, |sum, part| sum + lost[usize::from(part.layer)] * (free * f64::from(part.share)))
        })
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

    /// The surfaces that go on round this one in nearly its plane, which a footprint on it shares: round a panel's face the wall and its other panels, round a wall its panels.
    #[must_use]
    pub fn beside(&self, surface: usize) -> &[usize] {
        &self.beside[surface]
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

    /// The finishes that a ray's bounce meets in its footing, with their shares.
    #[inline]
    pub(super) fn parts(&self, surface: usize, position: DVec2) -> Parts<'_> {
        let blend = &self.surfaces[surface];
        if blend.spread.is_empty() {
            return Parts::Known(&blend.whole);
        }
        match blend.alone[self.grid.surfaces[surface].slot(position)] {
            MIXED => Parts::Mixed(blend.mixed(&self.grid.footings().footing(surface, position))),
            layer => Parts::Known(std::slice::from_ref(&blend.whole[usize::from(layer)])),
        }
    }

    /// The finishes in the spread round a patch, with their shares; the bare surface's where the outline only touches a patch.
    pub(super) fn round(&self, surface: usize, slot: usize) -> &[Part] {
        let blend = &self.surfaces[surface];
        let round = if blend.spread.is_empty() { &[] } else { &blend.parts[blend.start[slot] as usize..blend.start[slot + 1] as usize] };
        if round.is_empty() { &blend.whole[..1] } else { round }
    }

    /// The patches of the room.
    #[inline]
    pub(super) fn grid(&self) -> &PatchGrid {
        &self.grid
    }

    /// By patch of a surface: whether a bounce there can meet something else than in another state of the room.
    pub(super) fn differing(&self, other: &Self, surface: usize) -> Vec<bool> {
        let (here, there) = (&self.surfaces[surface], &other.surfaces[surface]);
        let same = |finish: u16, twin: u16| self.finish(finish) == other.finish(twin) && self.rows_of(finish) == other.rows_of(twin);
        let twin = |&finish: &u16| there.layers.iter().position(|&twin| same(finish, twin));
        let twins: Vec<Option<usize>> = here.layers.iter().map(twin).collect();
        let new: Vec<usize> = (0..there.layers.len()).filter(|layer| !twins.contains(&Some(*layer))).collect();
        let grid = &self.grid.surfaces[surface];
        let differs = |slot: usize| {
            let gone = |(layer, twin): (usize, &Option<usize>)| here.share(slot, layer) != twin.map_or(0.0, |twin| there.share(slot, twin));
            twins.iter().enumerate().any(gone) || new.iter().any(|&layer| there.share(slot, layer) != 0.0)
        };
        let own: Vec<bool> = (0..grid.len()).map(differs).collect();
        // A footing holds the patches next to its own.
        (0..grid.len()).map(|slot| neighbors(grid, slot).any(|other| own[other])).collect()
    }

    /// Finishes on a surface, the bare one first.
    pub(super) fn layers(&self, surface: usize) -> &[u16] {
        &self.surfaces[surface].layers
    }

    /// Share of a patch that one of the surface's finishes fills.
    pub(super) fn cover(&self, surface: usize, layer: usize, slot: usize) -> f64 {
        self.surfaces[surface].cover.get(layer).map_or(1.0, |cover| cover[slot])
    }

    /// What rays meet of a finish.
    fn rows_of(&self, finish: u16) -> &[[[f32; BAND_COUNT]; 2]] {
        &self.rows[usize::from(finish) * COSINE_BINS..][..COSINE_BINS]
    }

    /// What one finish leaves, mirrored `(1 - alpha)(1 - s)` and scattered `(1 - alpha) s`, by band.
    #[inline]
    pub(super) fn both(&self, finish: u16, cosine_bin: u8) -> &[[f32; BAND_COUNT]; 2] {
        &self.rows[usize::from(finish) * COSINE_BINS + usize::from(cosine_bin)]
    }

    /// `(1 - alpha)(1 - s)` (mirrored) or `(1 - alpha) s` (scattered) of one finish, by band.
    #[inline]
    pub(super) fn row(&self, scattered: bool, finish: u16, cosine_bin: u8) -> &[f32; BAND_COUNT] {
        &self.both(finish, cosine_bin)[usize::from(scattered)]
    }

    /// The same of a footing: the mean of its finishes.
    #[inline(always)]
    pub(super) fn mean<S: Simd>(&self, simd: S, scattered: bool, parts: &[Part], cosine_bin: u8) -> f32x8<S> {
        if let [part] = parts {
            return f32x8::load_array_ref(simd, self.row(scattered, part.finish, cosine_bin));
        }
        let mut mean = f32x8::splat(simd, 0.0);
        for part in parts {
            mean += f32x8::load_array_ref(simd, self.row(scattered, part.finish, cosine_bin)) * part.share;
        }
        mean
    }
}

impl Blend {
    /// A surface with nothing on it.
    fn plain(finish: u16) -> Self {
        Self {
            layers: vec![finish],
            cover: Vec::new(),
            spread: Vec::new(),
            alone: Vec::new(),
            whole: wholes(&[finish]),
            start: Vec::new(),
            parts: Vec::new(),
        }
    }

    /// A surface with these regions, the last uppermost.
    fn new(room: &Room, surface: usize, regions: &[Region]) -> Self {
        let (grid, side) = (&room.patches.surfaces[surface], room.patches.side);
        let mut layers = vec![room.surfaces[surface].finish as u16];
        let mut cover = vec![vec![1.0; grid.len()]];
        for (index, region) in regions.iter().enumerate() {
            let layer = layers.iter().position(|&finish| finish == region.finish).unwrap_or_else(|| {
                layers.push(region.finish);
                cover.push(vec![0.0; grid.len()]);
                layers.len() - 1
            });
            let below = regions[..index].iter().rev().filter(|below| region.meets(below));
            let below = below.filter_map(|below| Some((layers.iter().position(|&finish| finish == below.finish)?, region.common(below))));
            region.lay(grid, side, &mut cover, layer, &below.collect::<Vec<_>>());
        }
        let mut spread = vec![vec![[0.0; 4]; grid.len()]; layers.len().div_ceil(4)];
        for (layer, cover) in cover.iter().enumerate() {
            let mut own = cover.clone();
            room.patches.footings().spread(surface, grid, &mut own);
            for (shares, share) in spread[layer / 4].iter_mut().zip(own) {
                shares[layer % 4] = share as f32;
            }
        }
        let only = |slot: usize| {
            let mut present = (0..layers.len()).filter(|layer| spread[layer / 4][slot][layer % 4] > 0.0);
            let first = present.next();
            if present.next().is_none() { first.map_or(MIXED, |layer| layer as u16) } else { MIXED }
        };
        let only: Vec<u16> = (0..grid.len()).map(only).collect();
        let alone = (0..grid.len()).map(|slot| alone(grid, &only, slot)).collect();
        let whole = wholes(&layers);
        let (mut start, mut parts) = (vec![0], Vec::new());
        let of = |part: &Part, slot: usize| {
            let layer = usize::from(part.layer);
            Part { share: spread[layer / 4][slot][layer % 4], ..*part }
        };
        for slot in 0..grid.len() {
            parts.extend(whole.iter().map(|part| of(part, slot)).filter(|part| part.share > 0.0));
            start.push(parts.len() as u32);
        }
        Self { layers, cover, spread, alone, whole, start, parts }
    }

    /// Share of a finish in the spread round a patch.
    fn share(&self, slot: usize, layer: usize) -> f32 {
        self.spread.get(layer / 4).map_or(1.0, |shares| shares[slot][layer % 4])
    }

    /// What a footing holds of each finish.
    #[inline]
    fn mixed(&self, footing: &Footing) -> SmallVec<[Part; 4]> {
        let mut parts = SmallVec::new();
        for (block, spread) in self.spread.iter().enumerate() {
            for (layer, share) in (4 * block..).zip(footing.mean(spread)).filter(|(_, share)| *share > 0.0) {
                parts.push(Part { finish: self.layers[layer], layer: layer as u16, share });
            }
        }
        parts
    }
}

/// What each finish leaves, by cosine bin, then what those leave that are made of them.
fn rows(finishes: &[Finish], captures: &[Captured]) -> Vec<[[f32; BAND_COUNT]; 2]> {
    let both = |finish: &Finish| -> Vec<_> {
        finish.specular.iter().zip(&finish.diffuse).map(|(specular, diffuse)| [specular.0, diffuse.0]).collect()
    };
    let captured = |captured: &Captured| -> Vec<_> {
        let at = |bin: usize| {
            let leaves = Bands::from_fn(|band| captured.leaves(finishes, bin, band));
            [0, 1].map(|way| leaves.map(|leaves| leaves[way]).0)
        };
        (0..COSINE_BINS).map(at).collect()
    };
    finishes.iter().flat_map(both).chain(captures.iter().flat_map(captured)).collect()
}

/// Each finish by itself.
fn wholes(layers: &[u16]) -> Vec<Part> {
    layers.iter().enumerate().map(|(layer, &finish)| Part { finish, layer: layer as u16, share: 1.0 }).collect()
}

/// The finish that fills a patch and all its neighbors, if one does; `only` is the one that fills each by itself. Patches beyond the outline
/// hold nothing.
fn alone(grid: &SurfaceGrid, only: &[u16], slot: usize) -> u16 {
    let mut within = neighbors(grid, slot).filter(|&other| grid.area[other] > 0.0).map(|other| only[other]);
    let first = within.next().unwrap_or(0);
    if within.all(|other| other == first) { first } else { MIXED }
}

/// A patch and the up to eight round it.
fn neighbors(grid: &SurfaceGrid, slot: usize) -> impl Iterator<Item = usize> {
    let (columns, rows) = (grid.columns, grid.rows);
    let (column, row) = (slot % columns, slot / columns);
    let along = column.saturating_sub(1)..(column + 2).min(columns);
    (row.saturating_sub(1)..(row + 2).min(rows)).flat_map(move |row| along.clone().map(move |column| row * columns + column))
}

impl Region {
    fn new(polygon: &Polygon, finish: usize) -> Self {
        let (low, high) = polygon.bounds();
        Self { rectangle: is_aligned_rectangle(polygon), polygon: polygon.clone(), low, high, finish: finish as u16 }
    }

    /// Whether the bounds of two have more than an edge in common.
    fn meets(&self, other: &Self) -> bool {
        (self.high.min(other.high) - self.low.max(other.low)).min_element() > 1e-9
    }

    /// What two have in common.
    fn common(&self, other: &Self) -> Vec<Self> {
        self.polygon.intersection(&other.polygon).iter().map(|piece| Self::new(piece, usize::from(other.finish))).collect()
    }

    /// Covers what it takes of each patch with its finish: first what lies `below` it, layer by layer from the uppermost with what of it is covered, then the bare surface.
    fn lay(&self, grid: &SurfaceGrid, side: f64, cover: &mut [Vec<f64>], layer: usize, below: &[(usize, Vec<Self>)]) {
        let mut left: Vec<(usize, f64)> = Vec::new();
        self.shares(grid, side, |slot, share| left.push((slot, share)));
        let mut take = |from: usize, slot: usize, wanted: f64, left: &mut f64| {
            let taken = wanted.min(*left).min(cover[from][slot]);
            cover[from][slot] -= taken;
            cover[layer][slot] += taken;
            *left -= taken;
        };
        for (from, pieces) in below {
            for piece in pieces {
                piece.shares(grid, side, |slot, share| {
                    if let Some((_, left)) = left.iter_mut().find(|(other, _)| *other == slot) {
                        take(*from, slot, share, left);
                    }
                });
            }
        }
        for (slot, left) in &mut left {
            // What lies in three layers, or was rounded, is taken from whatever is there.
            for from in (0..below.len() + 1).map(|index| below.get(index.wrapping_sub(1)).map_or(0, |(from, _)| *from)) {
                take(from, *slot, f64::INFINITY, left);
            }
        }
    }

    /// What share of each patch it takes.
    fn shares(&self, grid: &SurfaceGrid, side: f64, mut take: impl FnMut(usize, f64)) {
        let last = DVec2::new(grid.columns as f64, grid.rows as f64) - 1.0;
        let first = ((self.low - grid.low) / side).floor().clamp(DVec2::ZERO, last);
        let last = ((self.high - grid.low) / side).floor().clamp(DVec2::ZERO, last);
        for row in first.y as usize..=last.y as usize {
            for column in first.x as usize..=last.x as usize {
                let slot = row * grid.columns + column;
                let corner = grid.corner(slot);
                let common = (self.high.min(corner + side) - self.low.max(corner)).max(DVec2::ZERO);
                let taken = if self.rectangle {
                    common.x * common.y
                } else {
                    self.polygon.overlap_area(&Polygon::rectangle(corner, corner + side))
                };
                if taken > 0.0 && grid.area[slot] > 1e-9 {
                    take(slot, (taken / grid.area[slot]).min(1.0));
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

/// For each surface those that go on round it in nearly its plane: round the face of a panel the wall that it hangs on; where edges do not count on it
/// ([`Surface::edge_scattering`]), the other such faces on that wall, and all of them round the wall.
fn beside(room: &Room) -> Vec<Vec<usize>> {
    let backing: Vec<Option<usize>> = room.surfaces.iter().map(|face| backing(room, face)).collect();
    let is_large = |&face: &usize| room.surfaces[face].edge_scattering == Bands::splat(0.0);
    let on = |wall: usize| -> Vec<usize> { (0..backing.len()).filter(|&face| backing[face] == Some(wall)).filter(is_large).collect() };
    let of = |surface: usize| match backing[surface] {
        None => on(surface),
        Some(wall) if is_large(&surface) => [wall].into_iter().chain(on(wall).into_iter().filter(|&face| face != surface)).collect(),
        Some(wall) => vec![wall],
    };
    (0..backing.len()).map(of).collect()
}

/// The shell surface close behind the face of a panel that faces the same way.
fn backing(room: &Room, face: &Surface) -> Option<usize> {
    if !matches!(face.role, Role::Panel(_)) {
        return None;
    }
    let middle = face.chart.point(face.outline.centroid());
    room.surfaces.iter().position(|wall| {
        let distance = wall.chart.height(middle);
        wall.role.is_shell()
            && wall.chart.normal.dot(face.chart.normal) > 0.9999
            && (0.0..APART[1]).contains(&distance)
            && wall.outline.contains(wall.chart.position(middle))
    })
}
