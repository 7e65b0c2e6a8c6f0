//! Borders of a region, holes among them -> simple polygons without holes.
//!
//! A line through the largest hole, clear of every corner, cuts its region in two; sorted along the line, its crossings with the border are joined two
//! by two, and each side is followed round anew. Every cut opens a hole, so this ends.
//!
//! *Limits.* A border that touches itself in a point is not simple, and neither is one that rounding has folded: then the caller keeps triangles.

use glam::DVec2;

use super::WELD;
use crate::geometry::Polygon;

/// Simple polygons that cover what borders enclose, the region to the left of each; `None` where that does not come out.
pub(super) fn simple(borders: &[Vec<DVec2>]) -> Option<Vec<Polygon>> {
    let tidy: Vec<Polygon> = borders.iter().map(|border| straightened(border)).filter(|border| border.corners.len() >= 3).collect();
    let (outer, holes): (Vec<Polygon>, Vec<Polygon>) = tidy.into_iter().partition(|border| border.area() > 0.0);
    let mut owned: Vec<Vec<Polygon>> = vec![Vec::new(); outer.len()];
    for hole in holes {
        // Of outlines round it the least; its corners lie strictly inside, but for those where it touches.
        let holds = |outline: &Polygon| hole.corners.iter().filter(|&&corner| outline.winds(corner)).count() * 2 > hole.corners.len();
        let smallest = (0..outer.len()).filter(|&i| holds(&outer[i])).min_by(|&a, &b| outer[a].area().total_cmp(&outer[b].area()))?;
        owned[smallest].push(hole);
    }
    let mut simple = Vec::new();
    for (outline, holes) in outer.into_iter().zip(owned) {
        if holes.is_empty() {
            if !outline.is_simple() {
                return None;
            }
            simple.push(outline);
        } else {
            for side in split(&outline, &holes)? {
                simple.extend(self::simple(&side)?);
            }
        }
    }
    Some(simple)
}

/// A border without corners that are repeated or lie, within [`WELD`], on a straight line.
fn straightened(border: &[DVec2]) -> Polygon {
    let mut corners: Vec<DVec2> = Vec::with_capacity(border.len());
    let is_idle = |a: DVec2, b: DVec2, c: DVec2| {
        let way = c - a;
        let aside = (b - a).perp_dot(way).abs();
        b.distance(a) <= WELD || (aside <= WELD * way.length() && (b - a).dot(way) > 0.0 && (c - b).dot(way) > 0.0)
    };
    // Begin at a corner that surely counts: the lowest, and of these the leftmost.
    let order = |a: &usize, b: &usize| border[*a].y.total_cmp(&border[*b].y).then(border[*a].x.total_cmp(&border[*b].x));
    let Some(first) = (0..border.len()).min_by(order) else { return Polygon { corners } };
    for i in 0..border.len() {
        corners.push(border[(first + i) % border.len()]);
        while let [.., a, b, c] = corners[..]
            && is_idle(a, b, c)
        {
            corners.remove(corners.len() - 2);
        }
    }
    while let [first, .., a, b] = corners[..]
        && corners.len() > 3
        && is_idle(a, b, first)
    {
        corners.pop();
    }
    Polygon { corners }
}

/// A line across a chart where one coordinate has a level, clear of every corner.
#[derive(Clone, Copy)]
struct Cut {
    axis: usize,
    level: f64,
}

/// A stretch of border on one side of the cut, between two of its crossings.
struct Chain {
    corners: Vec<DVec2>,
    begins: usize,
    ends: usize,
}

impl Cut {
    /// 0 below it, 1 above.
    fn side(self, corner: DVec2) -> usize {
        usize::from(corner[self.axis] > self.level)
    }

    fn crossing(self, from: DVec2, to: DVec2) -> DVec2 {
        let mut point = from + (to - from) * ((self.level - from[self.axis]) / (to[self.axis] - from[self.axis]));
        point[self.axis] = self.level;
        point
    }

    /// Takes a border apart where it crosses, adding its crossings; `None` where it does not.
    fn chains(self, border: &[DVec2], crossings: &mut Vec<DVec2>) -> Option<Vec<Chain>> {
        let n = border.len();
        let begin = crossings.len();
        let first = (0..n).find(|&i| self.side(border[i]) != self.side(border[(i + n - 1) % n]))?;
        let mut chains: Vec<Chain> = Vec::new();
        for step in 0..n {
            let (corner, last) = (border[(first + step) % n], border[(first + step + n - 1) % n]);
            if self.side(corner) != self.side(last) {
                let point = self.crossing(last, corner);
                if let Some(chain) = chains.last_mut() {
                    chain.corners.push(point);
                    chain.ends = crossings.len();
                }
                chains.push(Chain { corners: vec![point], begins: crossings.len(), ends: begin });
                crossings.push(point);
            }
            if let Some(chain) = chains.last_mut() {
                chain.corners.push(corner);
            }
        }
        // Back where it began.
        if let Some(chain) = chains.last_mut() {
            chain.corners.push(crossings[begin]);
        }
        Some(chains)
    }
}

/// Both sides of a cut through the largest of the holes, as borders.
fn split(outline: &Polygon, holes: &[Polygon]) -> Option<[Vec<Vec<DVec2>>; 2]> {
    let largest = holes.iter().min_by(|a, b| a.area().total_cmp(&b.area()))?;
    let (low, high) = largest.bounds();
    // Across the longer side of the hole.
    let axis = usize::from(high.y - low.y > high.x - low.x);
    let borders: Vec<&Polygon> = std::iter::once(outline).chain(holes).collect();
    let cut = Cut { axis, level: level(&borders, axis, low[axis], high[axis])? };
    let mut sides: [Vec<Vec<DVec2>>; 2] = [Vec::new(), Vec::new()];
    let mut chains: [Vec<Chain>; 2] = [Vec::new(), Vec::new()];
    let mut crossings = Vec::new();
    for border in borders {
        match cut.chains(&border.corners, &mut crossings) {
            // Between its crossings, which lie on the line, a chain keeps to one side.
            Some(found) => found.into_iter().for_each(|chain| chains[cut.side(chain.corners[1])].push(chain)),
            None => sides[cut.side(border.corners[0])].push(border.corners.clone()),
        }
    }
    let partner = partners(&crossings.iter().map(|crossing| crossing[1 - axis]).collect::<Vec<_>>())?;
    for (side, chains) in sides.iter_mut().zip(chains) {
        side.extend(joined(&chains, &partner)?);
    }
    Some(sides)
}

/// A level within a hole's bounds that is as clear of corners as can be.
fn level(borders: &[&Polygon], axis: usize, low: f64, high: f64) -> Option<f64> {
    let inside = |level: &f64| *level >= low && *level <= high;
    let mut levels: Vec<f64> = borders.iter().flat_map(|border| &border.corners).map(|corner| corner[axis]).filter(inside).collect();
    levels.sort_by(f64::total_cmp);
    let widest = levels.windows(2).map(|pair| (pair[1] - pair[0], pair[0].midpoint(pair[1])));
    // Beyond rounding, so that of equal gaps it is the lowest.
    let best = widest.fold((0.0, f64::NAN), |best, gap| if gap.0 > best.0 + 1e-9 { gap } else { best });
    best.1.is_finite().then_some(best.1)
}

/// Which crossing is the other end of each stretch of the cut within the region.
fn partners(crossings: &[f64]) -> Option<Vec<usize>> {
    let mut order: Vec<usize> = (0..crossings.len()).collect();
    order.sort_by(|&a, &b| crossings[a].total_cmp(&crossings[b]).then(a.cmp(&b)));
    let mut partner = vec![usize::MAX; crossings.len()];
    for pair in order.chunks(2) {
        let &[a, b] = pair else { return None };
        (partner[a], partner[b]) = (b, a);
    }
    Some(partner)
}

/// Chains of one side, followed along the cut.
fn joined(chains: &[Chain], partner: &[usize]) -> Option<Vec<Vec<DVec2>>> {
    let mut used = vec![false; chains.len()];
    let mut borders = Vec::new();
    for start in 0..chains.len() {
        let (mut border, mut index) = (Vec::new(), start);
        while !used[index] {
            used[index] = true;
            border.extend(&chains[index].corners);
            index = chains.iter().position(|chain| chain.begins == partner[chains[index].ends])?;
        }
        if !border.is_empty() {
            borders.push(border);
        }
    }
    Some(borders)
}
