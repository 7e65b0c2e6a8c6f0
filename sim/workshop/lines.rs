//! Members above a cloud as lines of the floor plan, as far as they run.
//!
//! A member ends where its facet does. Where one of the next facet goes on in the same line (a rafter and the collar tie beside it), the two carry a cloud below both as one
//! line would, each the wires that are under it.
//!
//! *Limits.* Lines run along the axes of the plan. Two that meet within 50 mm count as joined: whether they are, nobody knows but who looks.

use glam::DVec2;

use super::anchors::Member;
use super::marking::{MarkedMembers, members};
use crate::layout::places::Axis;
use crate::room::{Role, Room};
use crate::scene::Scene;
use crate::scene::making::StructureKind;

/// Lines that stand for what carries everywhere, meters apart.
const EVERYWHERE: f64 = 0.1;
/// Lines nearer to each other than this are one, meters.
const SAME: f64 = 0.01;
/// Ends nearer to each other than this meet, meters.
const MEET: f64 = 0.05;

/// A line with all that lies on it.
#[derive(Clone, Debug)]
pub(super) struct Line {
    along: Axis,
    center: f64,
    width: f64,
    is_structural: bool,
    /// From where to where each member on it runs, and what it is called.
    parts: Vec<(f64, f64, String)>,
}

impl Line {
    fn covers(&self, center: DVec2, half: DVec2) -> bool {
        let (at, half) = if self.along == Axis::X { (center.x, half.x) } else { (center.y, half.y) };
        let (from, to) = (self.parts[0].0, self.parts[self.parts.len() - 1].1);
        from <= at - half + 1e-9 && at + half <= to + 1e-9
    }

    /// What it is called at a place in plan.
    pub(super) fn name_at(&self, place: DVec2) -> &str {
        let at = if self.along == Axis::X { place.x } else { place.y };
        let off = |part: &(f64, f64, String)| (part.0 - at).max(at - part.1).max(0.0);
        let nearest = self.parts.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.map_or("", |part| part.2.as_str())
    }

    /// The line for the reckoning of wires.
    pub(super) fn member(&self) -> Member {
        Member { name: self.parts[0].2.clone(), along: self.along, center: self.center, width: self.width, structural: self.is_structural }
    }
}

/// All lines that run over the whole of a cloud with this middle and half size in plan; `None` where a member runs askew to the plan's axes.
pub(super) fn over(scene: &Scene, room: &Room, center: DVec2, half: DVec2) -> Option<Vec<Line>> {
    let mut lines: Vec<Line> = Vec::new();
    for facet in (0..room.surfaces.len()).filter(|facet| matches!(room.surfaces[*facet].role, Role::Ceiling(_))) {
        for members in members(scene, room, facet) {
            lines.extend(of_facet(room, facet, &members)?);
        }
    }
    let mut joined: Vec<Line> = Vec::new();
    // So that a line that goes on comes after the one that it goes on from.
    lines.sort_by(|a, b| a.parts[0].0.total_cmp(&b.parts[0].0).then(a.center.total_cmp(&b.center)));
    for line in lines {
        let goes_on = joined.iter_mut().find(|other| {
            let ends = other.parts[other.parts.len() - 1].1;
            other.along == line.along
                && other.is_structural == line.is_structural
                && (other.center - line.center).abs() < SAME
                && (line.parts[0].0 - ends).abs() < MEET
        });
        match goes_on {
            Some(other) => other.parts.extend(line.parts),
            None => joined.push(line),
        }
    }
    joined.retain(|line| line.covers(center, half));
    Some(joined)
}

/// The lines of one kind of member on a facet.
fn of_facet(room: &Room, facet: usize, members: &MarkedMembers) -> Option<Vec<Line>> {
    let surface = &room.surfaces[facet];
    let (chart, corners) = (&surface.chart, &surface.outline.corners);
    let flat = if members.upright { chart.up } else { chart.right }.truncate();
    let along = match (flat.x.abs() < 1e-6, flat.y.abs() < 1e-6) {
        (false, true) => Axis::X,
        (true, false) => Axis::Y,
        _ => return None,
    };
    let is_solid = members.kind == StructureKind::Solid;
    let at: Vec<(usize, f64)> =
        if is_solid { everywhere(corners, members.upright).into_iter().enumerate().collect() } else { members.carrying().collect() };
    let line = |(index, at): &(usize, f64)| {
        let (from, to) = crossed(corners, members.upright, *at)?;
        let point = |along: f64| chart.point(if members.upright { DVec2::new(*at, along) } else { DVec2::new(along, *at) }).truncate();
        let (one, other) = (point(from), point(to));
        let (center, ends) = if along == Axis::X { (one.y, [one.x, other.x]) } else { (one.x, [one.y, other.y]) };
        let name = if is_solid { members.name.clone() } else { members.name_of(*index) };
        let parts = vec![(ends[0].min(ends[1]), ends[0].max(ends[1]), name)];
        Some(Line { along, center, width: members.width_m, is_structural: members.kind.is_structural(), parts })
    };
    Some(at.iter().filter_map(line).collect())
}

/// Between which coordinates a line at `at` lies within an outline: along y where it is upright, else along x.
#[must_use]
pub fn crossed(corners: &[DVec2], upright: bool, at: f64) -> Option<(f64, f64)> {
    let turned = |corner: DVec2| if upright { corner } else { DVec2::new(corner.y, corner.x) };
    let crossings = (0..corners.len()).filter_map(|index| {
        let (from, to) = (turned(corners[index]), turned(corners[(index + 1) % corners.len()]));
        let crosses = (from.x - at) * (to.x - at) <= 0.0 && (to.x - from.x).abs() > 1e-12;
        crosses.then(|| from.y + (to.y - from.y) * (at - from.x) / (to.x - from.x))
    });
    let (low, high) = crossings.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| (low.min(y), high.max(y)));
    (low < high).then_some((low, high))
}

/// Lines over the whole of an outline.
fn everywhere(corners: &[DVec2], upright: bool) -> Vec<f64> {
    let across = |corner: &DVec2| if upright { corner.x } else { corner.y };
    let (low, high) = corners.iter().map(across).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
    let count = ((high - low) / EVERYWHERE).floor().max(0.0) as usize;
    (0..=count).map(|step| low + step as f64 * EVERYWHERE).collect()
}
