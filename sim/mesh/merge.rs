//! Connected faces in one plane with one finish become polygons on charts.
//!
//! A region grows from the largest face left: a neighbor joins where all its corners lie within [`WELD`] of that face's plane and it looks the
//! same way. Its border is followed with the region to the left; where it touches itself in a point, it keeps to the same part of the
//! region. Borders go onto the chart and are made simple (`cut`); where that fails, the region stays in its triangles.
//!
//! Whether a region **protrudes** is told by its border: an edge behind which the next face falls away is one where sound goes round. A
//! face with most of its border of this kind is a face of a body (`room`, edges).
//!
//! *Limits.* Parts of a region that touch in a point only are one region.

use std::collections::BTreeMap;

use glam::{DVec2, DVec3};

use super::shells::Seams;
use super::weld::Skin;
use super::{Face, WELD, cut};
use crate::geometry::{Chart, Polygon};

/// Faces look the same way if the cosine between them is above this; what is flatter than [`WELD`] and steeper than this is a step.
const ALIKE: f64 = 0.999;

/// A neighbor's middle this far, as a share of its distance from the edge, off the plane has turned away from it.
const TURNED: f64 = 1e-4;

/// Faces that will be polygons.
struct Region {
    shell: usize,
    facets: Vec<usize>,
    /// Edges of its border as pairs of points, the region to the left.
    border: Vec<(usize, usize)>,
    /// Length of the border, and of what of it sticks out; meters.
    length: f64,
    protruding: f64,
}

/// All polygons: shell by shell, largest regions first.
pub(super) fn faces(skin: &Skin, seams: &Seams, shell_of: &[Option<usize>]) -> Vec<Face> {
    let merger = Merger { skin, seams, shell_of };
    let mut by_area: Vec<usize> = (0..skin.facets.len()).filter(|&facet| shell_of[facet].is_some()).collect();
    // To a thousandth of a square millimeter, so that rounding does not choose among equal triangles.
    let size = |facet: usize| (skin.area(&skin.facets[facet]).length() * 1e9).round() as u64;
    by_area.sort_by_cached_key(|&facet| (shell_of[facet], std::cmp::Reverse(size(facet)), facet));
    let mut region_of = vec![usize::MAX; skin.facets.len()];
    let mut members: Vec<Vec<usize>> = Vec::new();
    for facet in by_area {
        if region_of[facet] == usize::MAX {
            members.push(merger.grow(facet, members.len(), &mut region_of));
        }
    }
    members.into_iter().enumerate().flat_map(|(index, facets)| merger.polygons(&merger.region(index, facets, &region_of))).collect()
}

struct Merger<'a> {
    skin: &'a Skin,
    seams: &'a Seams,
    shell_of: &'a [Option<usize>],
}

impl Merger<'_> {
    /// Points round a face as seen from the air: the room's own faces look outwards until here.
    fn ring(&self, facet: usize) -> Vec<usize> {
        let mut ring = self.skin.facets[facet].ring.clone();
        if self.shell_of[facet] == Some(0) {
            ring[1..].reverse();
        }
        ring
    }

    /// Vector area into the air, m2.
    fn area(&self, facet: usize) -> DVec3 {
        let area = self.skin.area(&self.skin.facets[facet]);
        if self.shell_of[facet] == Some(0) { -area } else { area }
    }

    fn point(&self, index: usize) -> DVec3 {
        self.skin.points[index]
    }

    /// The faces in one plane that hang together with this one.
    fn grow(&self, seed: usize, region: usize, region_of: &mut [usize]) -> Vec<usize> {
        let normal = self.area(seed).try_normalize().unwrap_or(DVec3::Z);
        let base = self.point(self.skin.facets[seed].ring[0]);
        let finish = self.skin.facets[seed].finish;
        let joins = |facet: usize| {
            let own = &self.skin.facets[facet];
            own.finish == finish
                && self.area(facet).try_normalize().is_some_and(|other| other.dot(normal) > ALIKE)
                && own.ring.iter().all(|&point| (self.point(point) - base).dot(normal).abs() <= WELD)
        };
        region_of[seed] = region;
        let mut members = vec![seed];
        let mut next = 0;
        while let Some(&facet) = members.get(next) {
            next += 1;
            for (a, b) in self.skin.facets[facet].edges() {
                let Some(other) = self.seams.across(facet, a, b) else { continue };
                if region_of[other] == usize::MAX && joins(other) {
                    region_of[other] = region;
                    members.push(other);
                }
            }
        }
        members.sort_unstable();
        members
    }

    fn region(&self, index: usize, facets: Vec<usize>, region_of: &[usize]) -> Region {
        let normal = facets.iter().map(|&facet| self.area(facet)).sum::<DVec3>().try_normalize().unwrap_or(DVec3::Z);
        let shell = self.shell_of[facets[0]].unwrap_or(0);
        let mut region = Region { shell, facets, border: Vec::new(), length: 0.0, protruding: 0.0 };
        for &facet in &region.facets {
            let ring = self.ring(facet);
            for (i, &a) in ring.iter().enumerate() {
                let b = ring[(i + 1) % ring.len()];
                let Some(other) = self.seams.across(facet, a, b).filter(|&other| region_of[other] != index) else { continue };
                region.border.push((a, b));
                let (start, way) = (self.point(a), self.point(b) - self.point(a));
                region.length += way.length();
                let aside = self.skin.middle(&self.skin.facets[other]) - start;
                let aside = aside - way * (aside.dot(way) / way.length_squared());
                if aside.dot(normal) < -TURNED * aside.length() {
                    region.protruding += way.length();
                }
            }
        }
        region
    }

    /// A region as simple polygons.
    fn polygons(&self, region: &Region) -> Vec<Face> {
        let vector: DVec3 = region.facets.iter().map(|&facet| self.area(facet)).sum();
        let normal = vector.try_normalize().unwrap_or(DVec3::Z);
        // Through the middle of its corners, so that what is not quite flat departs to both sides alike.
        let count = (2 * region.border.len()) as f64;
        let middle = region.border.iter().map(|&(a, b)| (self.point(a) + self.point(b)) / count).sum();
        let flat = chart(middle, normal);
        let loops = self.loops(&region.border, &flat);
        let outlines = cut::simple(&loops).unwrap_or_else(|| {
            let triangle = |&facet: &usize| {
                Polygon { corners: self.ring(facet).iter().map(|&point| flat.position(self.point(point))).collect() }.tidied()
            };
            region.facets.iter().map(triangle).collect()
        });
        let first = region.facets.iter().map(|&facet| self.skin.facets[facet].number).min().unwrap_or(0);
        let face = |outline: Polygon| {
            let (low, _) = outline.bounds();
            Face {
                first,
                shell: region.shell,
                finish: self.skin.facets[region.facets[0]].finish,
                chart: Chart { origin: flat.point(low), ..flat },
                outline: outline.moved(-low),
                whole_area: vector.length(),
                protrudes: 2.0 * region.protruding > region.length,
            }
        };
        outlines.into_iter().map(face).collect()
    }

    /// The border as closed runs on a chart.
    fn loops(&self, border: &[(usize, usize)], chart: &Chart) -> Vec<Vec<DVec2>> {
        let mut from: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for &(a, b) in border {
            from.entry(a).or_default().push(b);
        }
        let at = |point: usize| chart.position(self.point(point));
        let mut loops = Vec::new();
        while let Some((&first, _)) = from.first_key_value() {
            let mut run = vec![first];
            let mut before: Option<usize> = None;
            let mut point = first;
            while let Some(ways) = from.get_mut(&point) {
                let chosen = before.map_or(0, |before| nearest_clockwise(at(before), at(point), ways.iter().map(|&way| at(way))));
                let next = ways.remove(chosen);
                if ways.is_empty() {
                    from.remove(&point);
                }
                (before, point) = (Some(point), next);
                if point == first {
                    break;
                }
                run.push(point);
            }
            loops.push(run.into_iter().map(at).collect());
        }
        loops
    }
}

/// Which of some ways on from a point comes first, turning clockwise from the way back.
fn nearest_clockwise(before: DVec2, point: DVec2, ways: impl Iterator<Item = DVec2>) -> usize {
    let back = before - point;
    let turn = |way: DVec2| {
        let angle = -back.angle_to(way - point);
        if angle <= 0.0 { angle + std::f64::consts::TAU } else { angle }
    };
    ways.map(turn).enumerate().fold((0, f64::INFINITY), |best, (index, angle)| if angle < best.1 { (index, angle) } else { best }).0
}

/// The chart of a plane, seen from the air.
fn chart(origin: DVec3, normal: DVec3) -> Chart {
    // Steeper than this against the horizontal, and there is a way up.
    const LEVEL: f64 = 1e-6;
    let rise = DVec3::Z - normal * normal.z;
    let up = if rise.length() > LEVEL { rise } else { DVec3::Y - normal * normal.y };
    let up = up.try_normalize().unwrap_or(DVec3::X);
    Chart { origin, right: up.cross(normal), up, normal }
}
