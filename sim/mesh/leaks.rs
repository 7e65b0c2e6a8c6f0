//! Where a surface is open: edges with one face only, joined into borders and measured.
//!
//! A border's *length* `P` is that of its edges, its *area* `A` half the length of the sum of `a x b` along it (exact where it is flat). Its *width* is that
//! of the rectangle with this length and area, `P / 4 - sqrt(P^2 / 16 - A)`; the side of the square where there is none. Where another border runs along it
//! nearer than that, both are the sides of one gap: its width is the farthest that a corner of the one lies from the other.
//!
//! *Limits.* What is wider than a hand is a hole, which is told in the same words. A gap narrower than [`super::WELD`] is none.

use glam::DVec3;

use super::shells::Seams;
use super::weld::Skin;
use super::{Diagnostic, Triangle, VolumeSum};

/// A closed run of open edges.
struct Border {
    points: Vec<DVec3>,
    faces: Vec<usize>,
}

impl Border {
    fn edges(&self) -> impl Iterator<Item = (DVec3, DVec3)> {
        (0..self.points.len()).map(|i| (self.points[i], self.points[(i + 1) % self.points.len()]))
    }

    fn length(&self) -> f64 {
        self.edges().map(|(a, b)| a.distance(b)).sum()
    }

    fn area(&self) -> f64 {
        self.edges().map(|(a, b)| (a - self.points[0]).cross(b - self.points[0])).sum::<DVec3>().length() / 2.0
    }

    fn width(&self) -> f64 {
        let (quarter, area) = (self.length() / 4.0, self.area());
        let rest = quarter * quarter - area;
        if rest > 0.0 { quarter - rest.sqrt() } else { area.sqrt() }
    }

    /// How far a corner of it is at most from another border.
    fn farthest_from(&self, other: &Self, give_up: f64) -> f64 {
        let mut farthest: f64 = 0.0;
        for &point in &self.points {
            let nearest = other.edges().map(|(a, b)| distance_to_segment(point, a, b)).fold(f64::INFINITY, f64::min);
            farthest = farthest.max(nearest);
            if farthest >= give_up {
                break;
            }
        }
        farthest
    }

    /// Middle of its longest edge.
    fn at(&self) -> DVec3 {
        let longer = |best: (DVec3, DVec3), edge: (DVec3, DVec3)| {
            // Beyond rounding, so that of equal edges it is the first.
            if edge.0.distance(edge.1) > best.0.distance(best.1) + 1e-9 { edge } else { best }
        };
        let (a, b) = self.edges().fold((self.points[0], self.points[0]), longer);
        a.midpoint(b)
    }
}

fn distance_to_segment(point: DVec3, a: DVec3, b: DVec3) -> f64 {
    let way = b - a;
    let square = way.length_squared();
    let share = if square > 0.0 { ((point - a).dot(way) / square).clamp(0.0, 1.0) } else { 0.0 };
    point.distance(a + share * way)
}

/// A gap or hole, measured.
struct Leak {
    is_gap: bool,
    /// Meters.
    width: f64,
    length: f64,
    /// Square meters.
    area: f64,
    at: DVec3,
    faces: Vec<usize>,
}

/// Leaks that are told one by one; the smaller ones after them are counted.
const TOLD: usize = 20;

/// Tells every gap and hole, the largest first.
pub(super) fn find(skin: &Skin, seams: &Seams, found: &mut Vec<Diagnostic>) {
    let mut leaks = leaks(&borders(skin, seams));
    // To a thousandth of a square millimeter, so that of equal ones it is the first.
    leaks.sort_by_key(|leak| std::cmp::Reverse((1e9 * leak.area).round() as u64));
    let by_volume = if leaks.is_empty() { String::new() } else { by_volume(skin) };
    let hint =
        "close it by moving the corners together or by adding the faces that are missing; a door or window is a face with its own finish";
    let rest = leaks.split_off(leaks.len().min(TOLD));
    for leak in leaks {
        let shape = if leak.is_gap { "a gap" } else { "a hole" };
        let (width, area) = (millimeters(leak.width), square(leak.area));
        let message = format!("the surface is open: {shape} {width} wide, its border {:.3} m long, {area} in area{by_volume}", leak.length);
        found.push(Diagnostic::error("mesh-leak", leak.faces, Some(leak.at), message, hint));
    }
    if let Some(first) = rest.first() {
        let message = format!("the surface is open in {} more places, none of them larger", rest.len());
        let faces = rest.iter().flat_map(|leak| leak.faces.iter().copied()).collect();
        let hint =
            "where faces hang together nowhere, corners that should be one are farther apart than 20 micrometers: merge them by distance";
        found.push(Diagnostic::error("mesh-leak", faces, Some(first.at), message, hint));
    }
}

/// Borders, and what runs along them.
fn leaks(borders: &[Border]) -> Vec<Leak> {
    let mut told = vec![false; borders.len()];
    let mut leaks = Vec::new();
    for (index, border) in borders.iter().enumerate() {
        if told[index] {
            continue;
        }
        let (mut width, mut area, mut length) = (border.width(), border.area(), border.length());
        let mut faces = border.faces.clone();
        let mut facing = None;
        for (other, along) in borders.iter().enumerate().skip(index + 1).filter(|(other, _)| !told[*other]) {
            let between = border.farthest_from(along, width).max(along.farthest_from(border, width));
            if between < width {
                (width, facing) = (between, Some(other));
            }
        }
        if let Some(other) = facing {
            told[other] = true;
            // The two sides of a gap are as long as each other, or nearly.
            length = (length + borders[other].length()) / 2.0;
            area = length * width;
            faces.extend(&borders[other].faces);
        }
        faces.sort_unstable();
        faces.dedup();
        leaks.push(Leak { is_gap: facing.is_some(), width, length, area, at: border.at(), faces });
    }
    leaks
}

fn millimeters(width: f64) -> String {
    if width < 0.1 { format!("{:.2} mm", 1e3 * width) } else { format!("{width:.3} m") }
}

fn square(area: f64) -> String {
    if area < 0.1 { format!("{:.1} cm2", 1e4 * area) } else { format!("{area:.3} m2") }
}

/// What the volume says of it; nothing where it sees no hole.
fn by_volume(skin: &Skin) -> String {
    let triangles = skin.facets.iter().flat_map(|facet| {
        let corner = |index: usize| skin.points[facet.ring[index]];
        (1..facet.ring.len() - 1).map(move |i| Triangle { corners: [corner(0), corner(i), corner(i + 1)], finish: 0 })
    });
    let open = VolumeSum::of(&triangles.collect::<Vec<_>>()).open.length();
    // Seen from a meter farther away, the volume is another by a third of the open area.
    if open > 1e-6 { format!("; its volume depends on where it is seen from, by {:.2e} m3 a meter", open / 3.0) } else { String::new() }
}

/// Follows open edges round; where several borders meet in a point, along the edge with the lowest point first.
fn borders(skin: &Skin, seams: &Seams) -> Vec<Border> {
    let mut from: Vec<(usize, usize)> = seams.open.iter().enumerate().flat_map(|(index, &((a, b), _))| [(a, index), (b, index)]).collect();
    from.sort_unstable();
    let mut used = vec![false; seams.open.len()];
    let mut borders = Vec::new();
    for first in 0..seams.open.len() {
        let mut border = Border { points: Vec::new(), faces: Vec::new() };
        let (mut edge, mut point) = (Some(first), seams.open[first].0.0);
        while let Some(index) = edge.filter(|&index| !used[index]) {
            used[index] = true;
            let ((a, b), facet) = seams.open[index];
            border.points.push(skin.points[point]);
            border.faces.push(skin.facets[facet].number);
            point = if point == a { b } else { a };
            let place = from.partition_point(|&(other, _)| other < point);
            edge = from[place..].iter().take_while(|&&(other, _)| other == point).map(|&(_, next)| next).find(|&next| !used[next]);
        }
        if !border.points.is_empty() {
            borders.push(border);
        }
    }
    borders
}
