//! A simple polygon in the plane: areas, containment, clipping, overlap, triangles.
//!
//! Area and centroid by the shoelace sums. A half plane cuts a polygon by following its boundary: chains of corners on the kept
//! side end on the cutting line, where the crossings, in order along the line, are joined two by two; a polygon that is not convex
//! may so fall into several. Overlap with a polygon that is not convex goes through its triangles (ear clipping).
//!
//! *References.* G. H. Meisters, "Polygons have ears", American Mathematical Monthly 82 (1975) 648-651 (from memory).
//!
//! *Limits.* No holes. Lengths below [`TOLERANCE`] are nothing: rooms are meters, tapes read millimeters.

use glam::DVec2;

/// Lengths below this, in meters, are nothing.
pub const TOLERANCE: f64 = 1e-9;

/// A simple polygon, corners counterclockwise, in meters.
#[derive(Clone, Debug, PartialEq)]
pub struct Polygon {
    /// Corners, counterclockwise.
    pub corners: Vec<DVec2>,
}

impl Polygon {
    /// The polygon with these corners, which are turned counterclockwise if they run clockwise.
    #[must_use]
    pub fn new(corners: Vec<DVec2>) -> Self {
        let mut polygon = Self { corners };
        if polygon.area() < 0.0 {
            polygon.corners.reverse();
        }
        polygon
    }

    /// The rectangle with these lowest and highest corners, edges along the axes.
    #[must_use]
    pub fn rectangle(low: DVec2, high: DVec2) -> Self {
        Self { corners: vec![low, DVec2::new(high.x, low.y), high, DVec2::new(low.x, high.y)] }
    }

    /// The convex hull of points (monotone chain); without area where they lie on a line.
    #[must_use]
    pub fn hull(points: &[DVec2]) -> Self {
        let mut sorted = points.to_vec();
        sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        let half = |points: &mut dyn Iterator<Item = &DVec2>| {
            let mut chain: Vec<DVec2> = Vec::new();
            for &point in points {
                while let [.., a, b] = chain[..]
                    && (b - a).perp_dot(point - a) <= 0.0
                {
                    chain.pop();
                }
                chain.push(point);
            }
            chain.pop();
            chain
        };
        let mut corners = half(&mut sorted.iter());
        corners.extend(half(&mut sorted.iter().rev()));
        Self { corners }
    }

    /// Its edges as pairs of corners, in order.
    pub fn edges(&self) -> impl Iterator<Item = (DVec2, DVec2)> {
        let n = self.corners.len();
        (0..n).map(move |i| (self.corners[i], self.corners[(i + 1) % n]))
    }

    /// Area in m2; negative where the corners run clockwise.
    #[must_use]
    pub fn area(&self) -> f64 {
        let Some(&base) = self.corners.first() else { return 0.0 };
        0.5 * self.edges().map(|(a, b)| (a - base).perp_dot(b - base)).sum::<f64>()
    }

    /// Length of its boundary in meters.
    #[must_use]
    pub fn perimeter(&self) -> f64 {
        self.edges().map(|(a, b)| a.distance(b)).sum()
    }

    /// Middle of its area; of its corners where it has no area.
    #[must_use]
    pub fn centroid(&self) -> DVec2 {
        let Some(&base) = self.corners.first() else { return DVec2::ZERO };
        let (mut twice, mut moment) = (0.0, DVec2::ZERO);
        for (a, b) in self.edges() {
            let cross = (a - base).perp_dot(b - base);
            twice += cross;
            moment += (a - base + b - base) * cross;
        }
        if twice.abs() < TOLERANCE * TOLERANCE {
            return self.corners.iter().sum::<DVec2>() / self.corners.len() as f64;
        }
        base + moment / (3.0 * twice)
    }

    /// Lowest and highest coordinates.
    #[must_use]
    pub fn bounds(&self) -> (DVec2, DVec2) {
        self.corners.iter().fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), &corner| (low.min(corner), high.max(corner)))
    }

    /// Whether a point lies inside or on the boundary (within [`TOLERANCE`]).
    #[must_use]
    pub fn contains(&self, point: DVec2) -> bool {
        self.winds(point) || self.edges().any(|(a, b)| distance_to_segment(point, a, b) <= TOLERANCE)
    }

    /// Whether a point lies inside and farther than `margin` meters from the boundary.
    #[must_use]
    pub fn contains_strictly(&self, point: DVec2, margin: f64) -> bool {
        self.winds(point) && self.edges().all(|(a, b)| distance_to_segment(point, a, b) > margin)
    }

    /// Half-open containment: of polygons that share edges, each point belongs to exactly one.
    #[must_use]
    pub fn winds(&self, point: DVec2) -> bool {
        let mut inside = false;
        for (a, b) in self.edges() {
            if (a.y > point.y) != (b.y > point.y) {
                // The lower end first, whichever way the edge runs, so that neighbors compute the same crossing.
                let (low, high) = if a.y < b.y { (a, b) } else { (b, a) };
                if point.x < low.x + (point.y - low.y) / (high.y - low.y) * (high.x - low.x) {
                    inside = !inside;
                }
            }
        }
        inside
    }

    /// Whether all of another polygon lies inside or on the boundary, but for slivers narrower than `tolerance` meters.
    #[must_use]
    pub fn covers(&self, other: &Self, tolerance: f64) -> bool {
        let missing = other.area() - self.overlap_area(other);
        missing <= tolerance * other.perimeter() + TOLERANCE * TOLERANCE
    }

    /// Distance of a point from the boundary in meters.
    #[must_use]
    pub fn distance_to_boundary(&self, point: DVec2) -> f64 {
        self.edges().map(|(a, b)| distance_to_segment(point, a, b)).fold(f64::INFINITY, f64::min)
    }

    /// Distance of a point in meters, 0 inside.
    #[must_use]
    pub fn distance_to(&self, point: DVec2) -> f64 {
        if self.contains(point) { 0.0 } else { self.distance_to_boundary(point) }
    }

    /// Distance between two polygons in meters, 0 where they overlap or touch.
    #[must_use]
    pub fn distance(&self, other: &Self) -> f64 {
        let inside = |a: &Self, b: &Self| b.corners.iter().any(|&corner| a.contains(corner));
        if inside(self, other) || inside(other, self) {
            return 0.0;
        }
        let mut nearest = f64::INFINITY;
        for (a, b) in self.edges() {
            for (c, d) in other.edges() {
                if segments_meet(a, b, c, d) {
                    return 0.0;
                }
                nearest = nearest
                    .min(distance_to_segment(a, c, d))
                    .min(distance_to_segment(b, c, d))
                    .min(distance_to_segment(c, a, b))
                    .min(distance_to_segment(d, a, b));
            }
        }
        nearest
    }

    /// Whether no edge is nothing, and edges meet only at the corners they share.
    #[must_use]
    pub fn is_simple(&self) -> bool {
        self.crossing().is_none() && self.corners.len() >= 3
    }

    /// The first pair of edges (by number) that meet where they must not; an edge without length meets itself.
    #[must_use]
    pub fn crossing(&self) -> Option<(usize, usize)> {
        let n = self.corners.len();
        let edges: Vec<_> = self.edges().collect();
        for i in 0..n {
            let (a, b) = edges[i];
            if a.distance(b) <= TOLERANCE {
                return Some((i, i));
            }
            for (j, &(c, d)) in edges.iter().enumerate().skip(i + 1) {
                let meets = if j == i + 1 {
                    distance_to_segment(d, a, b) <= TOLERANCE || (n > 2 && distance_to_segment(a, c, d) <= TOLERANCE && a != d)
                } else if i == 0 && j == n - 1 {
                    distance_to_segment(c, a, b) <= TOLERANCE || distance_to_segment(b, c, d) <= TOLERANCE
                } else {
                    segments_meet(a, b, c, d)
                };
                if meets {
                    return Some((i, j));
                }
            }
        }
        None
    }

    /// Whether no inner angle exceeds a straight one.
    #[must_use]
    pub fn is_convex(&self) -> bool {
        let n = self.corners.len();
        (0..n).all(|i| {
            let (a, b, c) = (self.corners[i], self.corners[(i + 1) % n], self.corners[(i + 2) % n]);
            (b - a).perp_dot(c - b) >= -TOLERANCE * (b.distance(a) + c.distance(b))
        })
    }

    /// Whether it has four right angles (to within `tolerance` meters at the corners), whichever way it is turned.
    #[must_use]
    pub fn is_rectangle(&self, tolerance: f64) -> bool {
        let tidy = self.tidied();
        let [a, b, c, d] = tidy.corners[..] else { return false };
        let middle = (a + b + c + d) / 4.0;
        let radius = a.distance(middle);
        (a + c - b - d).length() <= 2.0 * tolerance && [b, c, d].iter().all(|corner| (corner.distance(middle) - radius).abs() <= tolerance)
    }

    /// The same polygon without repeated corners and without corners on a straight line.
    #[must_use]
    pub fn tidied(&self) -> Self {
        let mut corners = self.corners.clone();
        loop {
            let n = corners.len();
            let idle = (0..n).find(|&i| {
                let (a, b, c) = (corners[(i + n - 1) % n], corners[i], corners[(i + 1) % n]);
                n >= 3 && (distance_to_segment(b, a, c) <= TOLERANCE || a.distance(b) <= TOLERANCE)
            });
            match idle {
                Some(i) => corners.remove(i),
                None => return Self { corners },
            };
        }
    }

    /// What remains where `normal . point <= offset`: no polygon, one, or several. A normal of no length keeps all or nothing.
    #[must_use]
    pub fn clip(&self, normal: DVec2, offset: f64) -> Vec<Self> {
        let n = self.corners.len();
        let Some(unit) = normal.try_normalize() else {
            return if offset >= 0.0 { vec![self.clone()] } else { Vec::new() };
        };
        let (normal, offset) = (unit, offset / normal.length());
        let depth: Vec<f64> = self.corners.iter().map(|&corner| offset - normal.dot(corner)).collect();
        let kept = |i: usize| depth[i] > TOLERANCE;
        if (0..n).all(kept) {
            return vec![self.clone()];
        }
        let Some(first) = (0..n).find(|&i| kept(i) && !kept((i + n - 1) % n)) else { return Vec::new() };
        let along = DVec2::new(normal.y, -normal.x);
        let chains = self.chains(first, &depth, along);

        // Crossings in order along the line, seen a little within the kept side; there, a chain's end (the boundary leaves) and
        // the next chain's beginning (it comes back) are the two ends of one stretch of the cut.
        let mut ends: Vec<(f64, f64, usize, bool)> = Vec::with_capacity(2 * chains.len());
        for (index, chain) in chains.iter().enumerate() {
            ends.push((chain.leave.0, chain.leave.1, index, true));
            ends.push((chain.enter.0, chain.enter.1, index, false));
        }
        ends.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(b.3.cmp(&a.3)));
        let mut next = vec![usize::MAX; chains.len()];
        for pair in ends.chunks_exact(2) {
            match (pair[0].3, pair[1].3) {
                (true, false) => next[pair[0].2] = pair[1].2,
                (false, true) => next[pair[1].2] = pair[0].2,
                _ => return self.clip_triangles(normal, offset),
            }
        }
        join(&chains, &next)
    }

    /// The stretches of the boundary on the kept side, each from its crossing in to its crossing out.
    fn chains(&self, first: usize, depth: &[f64], along: DVec2) -> Vec<Chain> {
        let n = self.corners.len();
        let crossing = |inner: usize, outer: usize| {
            let (a, b) = (self.corners[inner], self.corners[outer]);
            let point = if depth[outer] >= -TOLERANCE { b } else { a + (b - a) * (depth[inner] / (depth[inner] - depth[outer])) };
            // Second key: where the boundary heads, per meter of depth, to tell apart chains that meet in one point.
            (point, (along.dot(point), along.dot(a - point) / depth[inner]))
        };
        let mut chains: Vec<Chain> = Vec::new();
        let mut open: Option<Chain> = None;
        for step in 0..n {
            let (i, before, after) = ((first + step) % n, (first + step + n - 1) % n, (first + step + 1) % n);
            if depth[i] <= TOLERANCE {
                continue;
            }
            let mut chain = open.take().unwrap_or_else(|| {
                let (point, enter) = crossing(i, before);
                Chain { points: vec![point], enter, leave: enter }
            });
            chain.points.push(self.corners[i]);
            if depth[after] > TOLERANCE {
                open = Some(chain);
            } else {
                let (point, leave) = crossing(i, after);
                chain.points.push(point);
                chain.leave = leave;
                chains.push(chain);
            }
        }
        chains
    }

    /// The fallback of [`Polygon::clip`] where rounding confuses the order along the cut: triangle by triangle.
    fn clip_triangles(&self, normal: DVec2, offset: f64) -> Vec<Self> {
        if self.corners.len() <= 3 {
            return Vec::new();
        }
        self.triangles().into_iter().flat_map(|corners| Self { corners: corners.to_vec() }.clip(normal, offset)).collect()
    }

    /// The common part of two polygons, as polygons that do not overlap.
    #[must_use]
    pub fn intersection(&self, other: &Self) -> Vec<Self> {
        let (low, high) = self.bounds();
        let (other_low, other_high) = other.bounds();
        if low.cmpgt(other_high - TOLERANCE).any() || high.cmplt(other_low + TOLERANCE).any() {
            return Vec::new();
        }
        if other.is_convex() {
            return self.clip_convex(&other.corners);
        }
        if self.is_convex() {
            return other.clip_convex(&self.corners);
        }
        other.triangles().iter().flat_map(|triangle| self.clip_convex(triangle)).collect()
    }

    fn clip_convex(&self, window: &[DVec2]) -> Vec<Self> {
        let mut pieces = vec![self.clone()];
        for (i, &a) in window.iter().enumerate() {
            let b = window[(i + 1) % window.len()];
            let Some(along) = (b - a).try_normalize() else { continue };
            let outward = DVec2::new(along.y, -along.x);
            pieces = pieces.iter().flat_map(|piece| piece.clip(outward, outward.dot(a))).collect();
        }
        pieces.retain(|piece| piece.area() > TOLERANCE * TOLERANCE);
        pieces
    }

    /// Area of the common part in m2.
    #[must_use]
    pub fn overlap_area(&self, other: &Self) -> f64 {
        self.intersection(other).iter().map(Self::area).sum()
    }

    /// Whether the common part is more than a sliver (narrower than `tolerance` meters); touching is no overlap.
    #[must_use]
    pub fn overlaps(&self, other: &Self, tolerance: f64) -> bool {
        self.intersection(other).iter().any(|piece| piece.area() > tolerance * piece.perimeter() / 2.0)
    }

    /// The polygon moved by an offset.
    #[must_use]
    pub fn moved(&self, offset: DVec2) -> Self {
        Self { corners: self.corners.iter().map(|&corner| corner + offset).collect() }
    }

    /// Triangles that cover it without overlap, counterclockwise.
    #[must_use]
    pub fn triangles(&self) -> Vec<[DVec2; 3]> {
        let mut left = self.tidied().corners;
        let mut triangles = Vec::with_capacity(left.len().saturating_sub(2));
        while left.len() > 3 {
            let n = left.len();
            let corner = |i: usize| [left[(i + n - 1) % n], left[i], left[(i + 1) % n]];
            let is_ear = |i: usize| {
                let [a, b, c] = corner(i);
                turn(a, b, c) > 0.0 && left.iter().all(|&point| point == a || point == b || point == c || !in_triangle(point, [a, b, c]))
            };
            // The fattest ear keeps slivers away. A simple polygon always has one; rounding is met with the widest corner.
            let fatness = |i: &usize| {
                let [a, b, c] = corner(*i);
                turn(a, b, c) / (a.distance_squared(b) + b.distance_squared(c) + c.distance_squared(a))
            };
            let widest = |a: &usize, b: &usize| fatness(a).total_cmp(&fatness(b)).then(b.cmp(a));
            let Some(ear) = (0..n).filter(|&i| is_ear(i)).max_by(widest).or_else(|| (0..n).max_by(widest)) else { break };
            triangles.push(corner(ear));
            left.remove(ear);
        }
        if let [a, b, c] = left[..] {
            triangles.push([a, b, c]);
        }
        triangles.retain(|&[a, b, c]| turn(a, b, c) > 0.0);
        triangles
    }
}

/// A stretch of boundary on the kept side of a cut; `enter` and `leave` are the sort keys of its ends along the cut.
struct Chain {
    points: Vec<DVec2>,
    enter: (f64, f64),
    leave: (f64, f64),
}

/// Joins chains end to beginning into polygons.
fn join(chains: &[Chain], next: &[usize]) -> Vec<Polygon> {
    let mut used = vec![false; chains.len()];
    let mut pieces = Vec::new();
    for start in 0..chains.len() {
        let mut corners: Vec<DVec2> = Vec::new();
        let mut index = start;
        while !used[index] {
            used[index] = true;
            corners.extend(&chains[index].points);
            index = next[index];
        }
        corners.dedup_by(|a, b| a.distance(*b) <= TOLERANCE);
        while corners.len() > 1 && corners[0].distance(corners[corners.len() - 1]) <= TOLERANCE {
            corners.pop();
        }
        if corners.len() >= 3 {
            pieces.push(Polygon { corners });
        }
    }
    pieces
}

/// Twice the area of the triangle, positive if it turns left.
fn turn(a: DVec2, b: DVec2, c: DVec2) -> f64 {
    (b - a).perp_dot(c - a)
}

fn in_triangle(point: DVec2, [a, b, c]: [DVec2; 3]) -> bool {
    turn(a, b, point) >= 0.0 && turn(b, c, point) >= 0.0 && turn(c, a, point) >= 0.0
}

/// Distance of a point from the segment `a b`, meters.
#[must_use]
pub fn distance_to_segment(point: DVec2, a: DVec2, b: DVec2) -> f64 {
    let along = b - a;
    let length_squared = along.length_squared();
    let share = if length_squared > 0.0 { ((point - a).dot(along) / length_squared).clamp(0.0, 1.0) } else { 0.0 };
    point.distance(a + along * share)
}

/// Whether the segments `a b` and `c d` cross or come within [`TOLERANCE`].
#[must_use]
pub fn segments_meet(a: DVec2, b: DVec2, c: DVec2, d: DVec2) -> bool {
    // Clearly on either side of each other's line; where an end lies on the other's line, its distance from the segment decides.
    let parts = |a: DVec2, b: DVec2, c: DVec2, d: DVec2| {
        let (left, right, least) = (turn(a, b, c), turn(a, b, d), TOLERANCE * a.distance(b));
        left.abs() > least && right.abs() > least && (left > 0.0) != (right > 0.0)
    };
    parts(a, b, c, d) && parts(c, d, a, b)
        || distance_to_segment(a, c, d) <= TOLERANCE
        || distance_to_segment(b, c, d) <= TOLERANCE
        || distance_to_segment(c, a, b) <= TOLERANCE
        || distance_to_segment(d, a, b) <= TOLERANCE
}
