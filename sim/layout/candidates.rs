//! All the places worth trying for one type of panel.
//!
//! Flat things take a grid over every surface that carries them, in both orientations, and beside the grid the places that a
//! person with a level would choose: flush with an edge, beside an opening or another panel, level with it, in the middle of the wall,
//! at ear height. Corner panels stack from the floor up, clouds hang over the way from the sources to the seats.
//!
//! *Limits.* Positions are multiples of the measuring step (10 mm or half an inch) except where they continue the line of
//! something that hangs already.

use std::collections::BTreeMap;
use std::f64::consts::PI;

use glam::{DVec2, DVec3};

use super::body::{Body, Corner, carries, size_as_hung};
use super::free::{EDGE_MARGIN, Free, HEADROOM, PANEL_GAP};
use super::refusal::Refusal;
use super::{is_overhead, measure_step};
use crate::geometry::Polygon;
use crate::room::{Role, Room};
use crate::scene::{Cloud, Panel, PanelPlace, PanelType, Scene, StockKind};

/// Air between the top of a cloud and the ceiling, meters, where the room is high enough.
const CLOUD_AIR: [f64; 2] = [0.10, 0.20];
/// How far to each side of the way from source to seat a cloud is tried, meters.
const CLOUD_REACH: f64 = 0.6;
/// Two positions closer than this, in meters, are one.
const SAME: f64 = 0.001;

/// A place for one panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// The panel as it would stand in the scene.
    pub panel: Panel,
    /// Index of its type in the scene's stock.
    pub kind_index: usize,
    /// Index into the room's surfaces; for a corner panel the wall left of the corner, for a cloud the ceiling facet above.
    pub surface: Option<usize>,
    /// What it covers in chart coordinates, if it hangs or lies flat on its surface; `None` for corner panels and clouds.
    pub region: Option<Polygon>,
    /// Middle on the chart of its surface; for corner panels and clouds on the floor plan. Meters.
    pub center: DVec2,
    /// Middle of its front, meters.
    pub point: DVec3,
    /// It hangs over people and needs a fixing that cannot fail.
    pub overhead: bool,
}

/// Places, and why others were refused.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// Places that fit.
    pub candidates: Vec<Candidate>,
    /// What was in the way elsewhere, and at how many tried places; most frequent first.
    pub refusals: Vec<(Refusal, u32)>,
}

/// All places for one type of panel, on a grid of `step_m` meters (made a whole number of measuring steps), in a fixed order.
#[must_use]
pub fn candidates(scene: &Scene, room: &Room, free: &Free, kind: &PanelType, step_m: f64) -> Vec<Candidate> {
    search(scene, room, free, kind, step_m).candidates
}

/// All places for one type of panel, and what was in the way elsewhere.
#[must_use]
pub fn search(scene: &Scene, room: &Room, free: &Free, kind: &PanelType, step_m: f64) -> Found {
    // A whole number of measuring steps, so that every position reads well on the tape.
    let unit = measure_step(scene.unit);
    let step = (step_m / unit).round().max(1.0) * unit;
    let mut trial = Trial { scene, free, kind, step, found: Vec::new(), refusals: BTreeMap::new() };
    match kind.kind {
        StockKind::Corner => trial.corners(),
        StockKind::Cloud => trial.clouds(),
        _ => {
            for index in 0..room.surfaces.len() {
                trial.surface(index);
            }
        }
    }
    if trial.found.is_empty() && trial.refusals.is_empty() {
        trial.refusals.insert(Refusal::NoPlace(kind.name.clone()), 1);
    }
    let mut refusals: Vec<_> = trial.refusals.into_iter().collect();
    refusals.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    Found { candidates: trial.found, refusals }
}

/// The place whose middle is nearest to a point of a surface, measures rounded.
///
/// # Errors
/// Names what is in the way there.
pub fn centered(scene: &Scene, free: &Free, kind: &PanelType, surface: usize, center: DVec2, lying: bool) -> Result<Candidate, Refusal> {
    let name = free.name(surface).ok_or_else(|| Refusal::NoSurface(format!("surface {surface}")))?;
    let unit = measure_step(scene.unit);
    let low = ((center - size_as_hung(kind, lying) / 2.0) / unit).round() * unit;
    let place = PanelPlace::Surface { surface: name.to_owned(), left: low.x, bottom: low.y, lying, gap: kind.gap };
    placed(scene, free, kind, place)
}

/// A panel of a type at this place.
///
/// # Errors
/// Names what is in the way there.
pub fn placed(scene: &Scene, free: &Free, kind: &PanelType, place: PanelPlace) -> Result<Candidate, Refusal> {
    let panel = Panel { kind: kind.name.clone(), place };
    let body = free.fits_panel(&panel, kind)?;
    Ok(candidate(free, panel, kind_index(scene, kind), &body))
}

/// Index of a type in the stock.
fn kind_index(scene: &Scene, kind: &PanelType) -> usize {
    scene.stock.iter().position(|other| other.name == kind.name).unwrap_or(scene.stock.len())
}

fn candidate(free: &Free, panel: Panel, kind_index: usize, body: &Body) -> Candidate {
    let overhead = match panel.place {
        PanelPlace::Surface { .. } => body.surface.and_then(|surface| free.role(surface)).is_some_and(is_overhead),
        PanelPlace::Corner { .. } => false,
        PanelPlace::Cloud { .. } => true,
    };
    Candidate {
        panel,
        kind_index,
        surface: body.surface,
        region: body.span.map(|(low, high)| Polygon::rectangle(low, high)),
        center: body.center,
        point: body.front,
        overhead,
    }
}

/// A search under way.
struct Trial<'a> {
    scene: &'a Scene,
    free: &'a Free,
    kind: &'a PanelType,
    step: f64,
    found: Vec<Candidate>,
    refusals: BTreeMap<Refusal, u32>,
}

impl Trial<'_> {
    fn try_place(&mut self, place: PanelPlace) {
        let panel = Panel { kind: self.kind.name.clone(), place };
        match self.free.fits_panel(&panel, self.kind) {
            Ok(body) => self.found.push(candidate(self.free, panel, kind_index(self.scene, self.kind), &body)),
            Err(refusal) => *self.refusals.entry(refusal).or_default() += 1,
        }
    }

    fn surface(&mut self, index: usize) {
        let (Some(role), Some((_, outline)), Some(name)) = (self.free.role(index), self.free.surface(index), self.free.name(index)) else {
            return;
        };
        if !carries(self.kind.kind, role) {
            return;
        }
        let (low, high) = outline.bounds();
        let landmarks = self.free.landmarks(index);
        let square = (self.kind.size.x - self.kind.size.y).abs() < SAME;
        let turns = !matches!(self.kind.kind, StockKind::Bookcase | StockKind::FreeStanding) && !square;
        for lying in [false, true] {
            if lying && !turns {
                continue;
            }
            let size = size_as_hung(self.kind, lying);
            let spots: Vec<_> = landmarks.iter().map(|&(from, to)| (from.x, to.x)).collect();
            let lefts = self.positions(low.x, high.x, size.x, &spots, &[]);
            let bottoms = if matches!(self.kind.kind, StockKind::Bookcase | StockKind::FreeStanding) {
                vec![0.0]
            } else {
                let spots: Vec<_> = landmarks.iter().map(|&(from, to)| (from.y, to.y)).collect();
                let ears = matches!(role, Role::Wall(_)).then(|| self.scene.seats.first().map(|seat| seat.ear.z)).flatten();
                self.positions(low.y, high.y, size.y, &spots, ears.as_slice())
            };
            for &bottom in &bottoms {
                for &left in &lefts {
                    self.try_place(PanelPlace::Surface { surface: name.to_owned(), left, bottom, lying, gap: self.kind.gap });
                }
            }
        }
    }

    /// Lower ends for something of this length between `low` and `high`: the grid, both ends, the middle, beside and level with
    /// what is there (`spots`), centered at `centers`.
    fn positions(&self, low: f64, high: f64, length: f64, spots: &[(f64, f64)], centers: &[f64]) -> Vec<f64> {
        let unit = measure_step(self.scene.unit);
        let up = |value: f64| (value / unit - 1e-6).ceil() * unit;
        let down = |value: f64| (value / unit + 1e-6).floor() * unit;
        let (first, last) = (low + EDGE_MARGIN, high - EDGE_MARGIN - length);
        if !(last >= first - 1e-9 && (last - first) / self.step < 1e5) {
            return Vec::new();
        }
        // Multiples of the step, so that they read well on a tape; on a chart whose zero lies elsewhere they are as good.
        let (from, to) = ((first / self.step - 1e-9).ceil() as i64, (last / self.step + 1e-9).floor() as i64);
        let mut all: Vec<f64> = (from..=to).map(|i| i as f64 * self.step).collect();
        all.extend([up(first), down(last)]);
        all.extend(centers.iter().copied().chain([f64::midpoint(low, high)]).map(|center| up(center - length / 2.0)));
        for &(start, end) in spots {
            all.extend([down(start - PANEL_GAP - length), up(end + PANEL_GAP), start, end - length]);
        }
        all.retain(|&at| at >= first - 1e-9 && at <= last + 1e-9);
        all.sort_by(f64::total_cmp);
        all.dedup_by(|a, b| (*a - *b).abs() < SAME);
        all
    }

    fn corners(&mut self) {
        let height = self.kind.size.y;
        for corner in 0..self.free.outline().corners.len() {
            let Some(shape) = Corner::of(self.free.outline(), corner) else { continue };
            if shape.angle >= PI - 0.01 {
                continue;
            }
            // From the floor up, and from the top of whatever stands or hangs in the corner.
            let wall = (0..self.free.surface_count()).find(|&index| self.free.role(index) == Some(Role::Wall(corner)));
            let Some((_, outline)) = wall.and_then(|index| self.free.surface(index)) else { continue };
            let ceiling = outline.bounds().1.y;
            let mut starts = vec![0.0];
            if let Some(index) = wall {
                starts.extend(self.free.landmarks(index).iter().map(|(_, high)| high.y));
            }
            let unit = measure_step(self.scene.unit);
            let mut bottoms: Vec<f64> = Vec::new();
            for start in starts {
                let start = (start / unit - 1e-6).ceil() * unit;
                let levels = ((ceiling - start) / height + 1e-9).floor().clamp(0.0, 16.0) as u32;
                bottoms.extend((0..levels.max(1)).map(|level| start + f64::from(level) * height));
            }
            bottoms.sort_by(f64::total_cmp);
            bottoms.dedup_by(|a, b| (*a - *b).abs() < SAME);
            for bottom in bottoms {
                self.try_place(PanelPlace::Corner { corner, bottom });
            }
        }
    }

    fn clouds(&mut self) {
        let seats: Vec<DVec2> = if self.scene.seats.is_empty() {
            self.scene.microphones.iter().map(|microphone| microphone.position.truncate()).collect()
        } else {
            self.scene.seats.iter().map(|seat| seat.ear.truncate()).collect()
        };
        let sources = self.scene.sources.iter().map(|source| source.position.truncate());
        let mut ways: Vec<DVec2> = sources.flat_map(|source| seats.iter().map(move |&seat| (source + seat) / 2.0)).collect();
        if ways.is_empty() {
            ways.push(self.free.outline().centroid());
        }
        let low = ways.iter().fold(DVec2::INFINITY, |low, &way| low.min(way)) - CLOUD_REACH;
        let high = ways.iter().fold(DVec2::NEG_INFINITY, |high, &way| high.max(way)) + CLOUD_REACH;
        let near = |center: DVec2| ways.iter().any(|&way| (center - way).abs().max_element() <= CLOUD_REACH + 1e-9);
        let from = (low / self.step - 1e-9).ceil().as_i64vec2();
        let to = (high / self.step + 1e-9).floor().as_i64vec2();
        if (to - from).max_element() > 10_000 {
            return;
        }
        for turned in [false, true] {
            for j in from.y..=to.y {
                for i in from.x..=to.x {
                    let center = DVec2::new(i as f64, j as f64) * self.step;
                    if near(center) {
                        self.cloud_at(center, turned);
                    }
                }
            }
        }
    }

    /// Under the lowest ceiling over its footprint, with each of the usual depths of air, as high as the headroom allows.
    fn cloud_at(&mut self, center: DVec2, turned: bool) {
        let size = 0.5 * Cloud::level(center, 0.0, turned).size(self.kind);
        let corners = [DVec2::new(-1.0, -1.0), DVec2::new(1.0, -1.0), DVec2::new(-1.0, 1.0), DVec2::new(1.0, 1.0)];
        let Some(ceiling) = corners.iter().filter_map(|corner| self.free.ceiling_height(center + size * *corner)).min_by(f64::total_cmp)
        else {
            return;
        };
        let unit = measure_step(self.scene.unit);
        let mut heights: Vec<f64> =
            CLOUD_AIR.iter().map(|air| ((ceiling - air - self.kind.thickness) / unit + 1e-6).floor() * unit).collect();
        // A cloud under the usual height is refused, unless less air above it keeps the headroom.
        let snug = ceiling - self.kind.thickness;
        if heights.iter().all(|&height| height < HEADROOM) && snug >= HEADROOM + 0.02 {
            heights.push((HEADROOM / unit - 1e-6).ceil() * unit);
        }
        for underside in heights {
            self.try_place(PanelPlace::Cloud(Cloud::level(center, underside, turned)));
        }
    }
}
