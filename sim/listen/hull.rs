//! Which three of many directions stand round another one, and what share each has of it.
//!
//! Directions are points of the unit sphere. Their convex hull is made point by point: the faces that a new point sees are taken away, and
//! the edge of what is left is joined to it. A direction goes through one face, and as a sum of its corners `d = x a + y b + z c` it has
//! positive parts, `(x, y, z) = [a b c]^-1 d`; divided by their sum these are the shares. Corners of one circle, as in a grid, would lie in
//! one plane: each point is moved outward by up to 1e-7 of its distance while the hull is made, no two alike.
//!
//! *References.* Incremental hull: M. de Berg, O. Cheong, M. van Kreveld, M. Overmars, Computational Geometry, 3rd ed., chapter 11 (from
//! memory). Shares of three directions: V. Pulkki, J. Audio Eng. Soc. 45 (1997) 456 (from memory), there for loudspeakers.
//!
//! *Limits.* Time grows as the square of the number of points: 0.1 s for 3,000. Of directions within 0.05 degrees of one another the first
//! is taken.

use glam::{DMat3, DVec3};

/// Cosine of the angle within which two directions are one: 0.05 degrees.
const ONE: f64 = 1.0 - 3.8e-7;
/// How far points are moved outward at most.
const MOVED: f64 = 1e-7;
/// Least volume of three directions, as six times that of the body between them and the center.
const FLAT: f64 = 1e-9;

/// The faces round a set of directions.
#[derive(Debug)]
pub(super) struct Hull {
    faces: Vec<([usize; 3], DMat3)>,
}

/// A face while the hull is made: what lies beyond its plane sees it.
#[derive(Clone, Copy)]
struct Face {
    corners: [usize; 3],
    normal: DVec3,
    distance: f64,
}

impl Face {
    fn new(points: &[DVec3], corners: [usize; 3]) -> Self {
        let [a, b, c] = corners.map(|corner| points[corner]);
        let normal = (b - a).cross(c - a);
        Self { corners, normal, distance: normal.dot(a) }
    }

    fn is_seen_from(&self, point: DVec3) -> bool {
        self.normal.dot(point) > self.distance
    }

    fn edges(&self) -> [[usize; 2]; 3] {
        let [a, b, c] = self.corners;
        [[a, b], [b, c], [c, a]]
    }
}

impl Hull {
    /// Round these unit vectors; no faces where all lie in one plane.
    pub(super) fn new(directions: &[DVec3]) -> Self {
        // The golden ratio's multiples: no two near each other are alike.
        let moved = |(index, direction): (usize, &DVec3)| *direction * (1.0 + MOVED * (index as f64 * 0.618_033_988_749_895).fract());
        let points: Vec<DVec3> = directions.iter().enumerate().map(moved).collect();
        let mut kept: Vec<usize> = Vec::new();
        for (index, direction) in directions.iter().enumerate() {
            if kept.iter().all(|other| directions[*other].dot(*direction) < ONE) {
                kept.push(index);
            }
        }
        let mut faces = begun(&points, &kept);
        if faces.is_empty() {
            return Self { faces: Vec::new() };
        }
        for index in kept {
            add(&mut faces, &points, index);
        }
        let outward = |face: Face| {
            let whole = DMat3::from_cols_array_2d(&face.corners.map(|corner| directions[corner].to_array()));
            (whole.determinant() > FLAT).then(|| (face.corners, whole.inverse()))
        };
        Self { faces: faces.into_iter().filter_map(outward).collect() }
    }

    /// The corners round a direction and the share of each; `None` where no face is.
    pub(super) fn around(&self, direction: DVec3) -> Option<[(usize, f64); 3]> {
        let parts = self.faces.iter().map(|(corners, inverse)| (corners, *inverse * direction));
        let (corners, parts) = parts.max_by(|(_, a), (_, b)| a.min_element().total_cmp(&b.min_element()))?;
        // What lies on an edge may be outside both faces by rounding.
        let is_inside = parts.min_element() > -1e-6;
        let parts = parts.max(DVec3::ZERO);
        let sum = parts.element_sum();
        (is_inside && sum > 0.0).then(|| std::array::from_fn(|corner| (corners[corner], parts[corner] / sum)))
    }
}

/// Four faces between four points that stand far from one another.
fn begun(points: &[DVec3], kept: &[usize]) -> Vec<Face> {
    let farthest = |far: &dyn Fn(DVec3) -> f64| kept.iter().copied().max_by(|a, b| far(points[*a]).total_cmp(&far(points[*b])));
    let Some(&a) = kept.first() else { return Vec::new() };
    let Some(b) = farthest(&|point| point.distance(points[a])) else { return Vec::new() };
    let Some(c) = farthest(&|point| (point - points[a]).cross(points[b] - points[a]).length()) else { return Vec::new() };
    let base = Face::new(points, [a, b, c]);
    let Some(d) = farthest(&|point| (base.normal.dot(point) - base.distance).abs()) else { return Vec::new() };
    // Points of one plane are apart by what they were moved alone.
    if (base.normal.dot(points[d]) - base.distance).abs() < 1e-4 {
        return Vec::new();
    }
    let [a, b] = if base.is_seen_from(points[d]) { [b, a] } else { [a, b] };
    [[a, b, c], [b, a, d], [c, b, d], [a, c, d]].map(|corners| Face::new(points, corners)).to_vec()
}

/// Joins a point to the hull.
fn add(faces: &mut Vec<Face>, points: &[DVec3], index: usize) {
    let point = points[index];
    let mut edges: Vec<[usize; 2]> = Vec::new();
    faces.retain(|face| {
        let is_seen = face.is_seen_from(point) && !face.corners.contains(&index);
        if is_seen {
            edges.extend(face.edges());
        }
        !is_seen
    });
    let borders = edges.iter().filter(|[from, to]| !edges.contains(&[*to, *from]));
    faces.extend(borders.map(|[from, to]| Face::new(points, [*from, *to, index])));
}
