//! Corners that are one, triangles that are none or twice there, and corners that lie on the edges of others.
//!
//! Points are welded in the order of their coordinates and faces are sorted by their points, so that the order in which triangles were given
//! means nothing. A corner on the edge of another triangle (a T-junction) becomes a corner of that triangle too: edges of both sides then pair
//! up, piece by piece.
//!
//! *Limits.* Welding is by the first point within [`WELD`]; a chain of points each within reach of the next is not one point.

use std::collections::HashMap;

use glam::DVec3;

use super::{Diagnostic, Triangle, WELD, is_finite};

/// Faces that share points.
#[derive(Debug)]
pub(super) struct Skin {
    pub(super) points: Vec<DVec3>,
    pub(super) facets: Vec<Facet>,
}

/// A triangle, its edges split where corners of others lie on them.
#[derive(Clone, Debug)]
pub(super) struct Facet {
    /// Its number in the order given.
    pub(super) number: usize,
    pub(super) finish: usize,
    /// Points round it, right-handed about its normal, its least corner first.
    pub(super) ring: Vec<usize>,
    /// Whether it is turned the other way than given.
    pub(super) turned: bool,
}

impl Skin {
    /// Vector area of a face, m2.
    pub(super) fn area(&self, facet: &Facet) -> DVec3 {
        let base = self.points[facet.ring[0]];
        let edges = facet.ring[1..].windows(2);
        edges.map(|edge| (self.points[edge[0]] - base).cross(self.points[edge[1]] - base)).sum::<DVec3>() / 2.0
    }

    /// Mean of its corners.
    pub(super) fn middle(&self, facet: &Facet) -> DVec3 {
        facet.ring.iter().map(|&point| self.points[point]).sum::<DVec3>() / facet.ring.len() as f64
    }
}

impl Facet {
    /// Turns it round, keeping its first point.
    pub(super) fn turn(&mut self) {
        self.ring[1..].reverse();
        self.turned = !self.turned;
    }

    /// Its edges as pairs of points, in order.
    pub(super) fn edges(&self) -> impl Iterator<Item = (usize, usize)> {
        (0..self.ring.len()).map(|i| (self.ring[i], self.ring[(i + 1) % self.ring.len()]))
    }
}

/// Welds the corners of the usable triangles and leaves out what has no area or is there already.
pub(super) fn weld(triangles: &[Triangle], found: &mut Vec<Diagnostic>) -> Skin {
    let usable: Vec<usize> = (0..triangles.len()).filter(|&number| is_finite(&triangles[number])).collect();
    let (points, point_of) = welded(&usable.iter().flat_map(|&number| triangles[number].corners).collect::<Vec<_>>());
    let facet = |(place, &number): (usize, &usize)| Facet {
        number,
        finish: triangles[number].finish,
        ring: from_least(&point_of[3 * place..3 * place + 3]),
        turned: false,
    };
    let all: Vec<Facet> = usable.iter().enumerate().map(facet).collect();
    let (mut facets, none): (Vec<Facet>, Vec<Facet>) = all.into_iter().partition(|facet| has_area(&points, facet));
    if !none.is_empty() {
        let at = points[none[0].ring[0]];
        let message = format!("{} faces have no area and were left out", none.len());
        found.push(Diagnostic::note("mesh-zero-area", numbers(&none), Some(at), message));
    }
    facets.sort_by_cached_key(|facet| (sorted(&facet.ring), facet.number));
    let (mut kept, mut twice): (Vec<Facet>, Vec<Facet>) = (Vec::new(), Vec::new());
    for facet in facets {
        match kept.last() {
            Some(last) if sorted(&last.ring) == sorted(&facet.ring) => {
                if last.finish != facet.finish {
                    found.push(two_finishes(&points, last, &facet));
                }
                twice.push(facet);
            }
            _ => kept.push(facet),
        }
    }
    if !twice.is_empty() {
        let at = points[twice[0].ring[0]];
        let message = format!("{} faces were given twice; one of each was kept", twice.len());
        found.push(Diagnostic::note("mesh-duplicate", numbers(&twice), Some(at), message));
    }
    Skin { points, facets: kept }
}

/// A ring begun at its least point, so that sums over it do not depend on where it was begun, to the last bit.
fn from_least(ring: &[usize]) -> Vec<usize> {
    let mut ring = ring.to_vec();
    let least = (0..ring.len()).min_by_key(|&place| ring[place]).unwrap_or(0);
    ring.rotate_left(least);
    ring
}

fn two_finishes(points: &[DVec3], one: &Facet, other: &Facet) -> Diagnostic {
    let message = format!("the same face is given twice, with finish {} and with finish {}", one.finish, other.finish);
    let at = Some(points[one.ring[0]]);
    Diagnostic::error("mesh-two-finishes", vec![one.number, other.number], at, message, "leave out one of the two")
}

pub(super) fn numbers(facets: &[Facet]) -> Vec<usize> {
    let mut numbers: Vec<usize> = facets.iter().map(|facet| facet.number).collect();
    numbers.sort_unstable();
    numbers
}

fn sorted(ring: &[usize]) -> Vec<usize> {
    let mut ring = ring.to_vec();
    ring.sort_unstable();
    ring
}

/// Whether it is wider than [`WELD`].
fn has_area(points: &[DVec3], facet: &Facet) -> bool {
    let [a, b, c] = [0, 1, 2].map(|corner| points[facet.ring[corner]]);
    let longest = a.distance(b).max(b.distance(c)).max(c.distance(a));
    (b - a).cross(c - a).length() > WELD * longest
}

/// Points that stand for all, and which of them stands for each.
fn welded(corners: &[DVec3]) -> (Vec<DVec3>, Vec<usize>) {
    let mut order: Vec<usize> = (0..corners.len()).collect();
    let key = |index: usize| corners[index].to_array();
    order.sort_by(|&a, &b| key(a).iter().zip(&key(b)).fold(std::cmp::Ordering::Equal, |so_far, (a, b)| so_far.then(a.total_cmp(b))));
    // Looked up, never walked through.
    let mut cells: HashMap<[i64; 3], Vec<usize>> = HashMap::new();
    let (mut points, mut point_of) = (Vec::new(), vec![0; corners.len()]);
    for index in order {
        let corner = corners[index];
        let cell = (corner / WELD).floor().as_i64vec3().to_array();
        let near = |shift: [i64; 3]| cells.get(&[cell[0] + shift[0], cell[1] + shift[1], cell[2] + shift[2]]);
        let known = neighbors().filter_map(near).flatten().copied().filter(|&point: &usize| corner.distance(points[point]) <= WELD).min();
        point_of[index] = known.unwrap_or_else(|| {
            points.push(corner);
            cells.entry(cell).or_default().push(points.len() - 1);
            points.len() - 1
        });
    }
    (points, point_of)
}

/// A cell and the 26 round it.
fn neighbors() -> impl Iterator<Item = [i64; 3]> {
    (0..27).map(|index| [index % 3 - 1, index / 3 % 3 - 1, index / 9 - 1])
}

/// Makes corners that lie on edges of other faces corners of these too.
pub(super) fn split_edges(skin: &mut Skin) {
    let mut uses: Vec<(usize, usize)> = skin.facets.iter().flat_map(Facet::edges).map(|(a, b)| (a.min(b), a.max(b))).collect();
    uses.sort_unstable();
    let loose: Vec<(usize, usize)> = uses.chunk_by(|a, b| a == b).filter(|same| same.len() == 1).map(|same| same[0]).collect();
    let mut ends: Vec<usize> = loose.iter().flat_map(|&(a, b)| [a, b]).collect();
    ends.sort_unstable();
    ends.dedup();
    let along = |axis: usize| {
        let mut sorted = ends.clone();
        sorted.sort_by(|&a, &b| skin.points[a][axis].total_cmp(&skin.points[b][axis]).then(a.cmp(&b)));
        sorted
    };
    let by_axis = [along(0), along(1), along(2)];
    let mut facets = std::mem::take(&mut skin.facets);
    for facet in &mut facets {
        let edges: Vec<(usize, usize)> = facet.edges().collect();
        facet.ring.clear();
        for (a, b) in edges {
            facet.ring.push(a);
            if loose.binary_search(&(a.min(b), a.max(b))).is_ok() {
                facet.ring.extend(between(&skin.points, &by_axis, a, b));
            }
        }
    }
    skin.facets = facets;
}

/// Points on the way from one to another, in order.
fn between(points: &[DVec3], by_axis: &[Vec<usize>; 3], a: usize, b: usize) -> Vec<usize> {
    let (from, way) = (points[a], points[b] - points[a]);
    let axis = (0..3).fold(0, |longest, axis| if way[axis].abs() > way[longest].abs() { axis } else { longest });
    let (low, high) = (from[axis].min(points[b][axis]), from[axis].max(points[b][axis]));
    let candidates = &by_axis[axis];
    let first = candidates.partition_point(|&point| points[point][axis] < low);
    let share = |point: usize| (points[point] - from).dot(way) / way.length_squared();
    let lies_on = |&point: &usize| {
        let share = share(point);
        point != a && point != b && share > 0.0 && share < 1.0 && points[point].distance(from + share * way) <= WELD
    };
    let mut on: Vec<usize> = candidates[first..].iter().copied().take_while(|&point| points[point][axis] <= high).filter(lies_on).collect();
    on.sort_by(|&a, &b| share(a).total_cmp(&share(b)).then(a.cmp(&b)));
    on
}
