//! What of the sound goes on from one edge of a thin sheet over its faces to another edge, and is bent there again.
//!
//! `p = 1/2 (1 / 8 pi)^2 sum over faces Int Int e^(-ik(m1 + m2 + m3)) / (m1 m2 m3) b1 b2 dz1 dz2`, `b = 4 C cos(th / 2) / (C^2 - sin^2(th / 2))`,
//!
//! with the ways `m1` to the first edge, `m2` across the face, `m3` on from the second, and at either edge `C = cosh(eta / 2)` of `wedge`, which this is where one of the
//! two points lies on the sheet; half of it, since along a face the wave and its image are one. Since `dz / (m1 m2) = d eta / (m1 + m2)`, and `b d eta` is the difference of
//! `8 atan(sinh(eta / 2) / cos(th / 2))`, a cell of either edge counts exactly however sharp `b` is: nearly in the plane of the sheet it is a peak. The double sum over both
//! edges is sorted by way.
//!
//! *References.* U. P. Svensson, R. I. Fred, J. Vanderkooy, J. Acoust. Soc. Am. 106 (1999) 2331 (second order; from memory).
//!
//! *Limits.* No third order.

use std::f64::consts::{FRAC_PI_2, PI};

use glam::DVec3;

use super::wedge::{Diffraction, Seen, Wedge};

/// Cells along the middle of an edge are no longer than this, meters.
const CELL: f64 = 0.06;
/// So many cells to an edge.
const CELLS: (f64, f64) = (12.0, 40.0);
/// Width of the bins of the way, meters.
const BIN: f64 = 0.008;
/// The shortest way is known when its points move by less than this in a round, meters; rounds at most.
const CLOSE: f64 = 1e-9;
const ROUNDS: usize = 500;

/// What goes by way of a first edge and on to others.
pub(super) struct Twice {
    pub(super) diffraction: Diffraction,
    /// Where the shortest way meets the first edge, and from where it comes.
    pub(super) first: DVec3,
    pub(super) last: DVec3,
}

/// An edge with what of it one end of the way sees.
#[derive(Clone, Copy)]
pub(super) struct Rim<'a> {
    pub(super) wedge: &'a Wedge,
    pub(super) parts: &'a [[f64; 2]],
}

/// A piece of an edge.
struct Cell {
    ends: [f64; 2],
    point: DVec3,
    width: f64,
}

impl Rim<'_> {
    /// Its cells, finer towards the ends, those only that are seen.
    fn cells(&self) -> Vec<Cell> {
        let length = self.wedge.length;
        let count = (FRAC_PI_2 * length / CELL).ceil().clamp(CELLS.0, CELLS.1);
        let border = |index: f64| 0.5 * length * (1.0 - (PI * index / count).cos());
        let cell = |index: usize| {
            let (low, high) = (border(index as f64), border(index as f64 + 1.0));
            let place = 0.5 * (low + high);
            let is_seen = self.parts.iter().any(|part| part[0] <= place && place <= part[1]);
            is_seen.then(|| Cell { ends: [low, high], point: self.wedge.point(place), width: high - low })
        };
        (0..count as usize).filter_map(cell).collect()
    }
}

/// A point outside the sheet as an edge of it sees it.
struct Outside {
    radius: f64,
    place: f64,
    /// Of half the angle about the edge.
    cosine: f64,
}

impl Outside {
    fn new(wedge: &Wedge, point: DVec3) -> Self {
        let Seen { radius, angle, place } = wedge.sees(point);
        Self { radius, place, cosine: (0.5 * angle).cos() }
    }

    /// The integral of `b` over a cell of the edge, on to a point of the sheet.
    fn bend(&self, cell: &Cell, onward: Seen) -> f64 {
        let sum = |place: f64| {
            let [near, far] =
                [(self.place, self.radius), (onward.place, onward.radius)].map(|(from, radius)| halved((place - from) / radius));
            let sinh = near[0] * far[1] + near[1] * far[0];
            8.0 * (sinh * self.cosine.signum()).atan2(self.cosine.abs())
        };
        sum(cell.ends[1]) - sum(cell.ends[0])
    }
}

/// Sinh and cosh of half the number whose sinh this is.
fn halved(sinh: f64) -> [f64; 2] {
    let cosh = (0.5 * (1.0 + sinh.hypot(1.0))).sqrt();
    [0.5 * sinh / cosh, cosh]
}

/// What goes from a source to a first edge of a sheet, over it to each of the others, and on to a point; ways up to `most` meters.
pub(super) fn twice(source: DVec3, point: DVec3, first: Rim<'_>, others: &[Rim<'_>], most: f64) -> Option<Twice> {
    let begin = Outside::new(first.wedge, source);
    let firsts = first.cells();
    let mut bins = vec![0.0; (most / BIN) as usize + 2];
    let mut nearest: Option<(f64, Rim<'_>, [f64; 2])> = None;
    for other in others {
        let end = Outside::new(other.wedge, point);
        let others = other.cells();
        for one in &firsts {
            let there = other.wedge.sees(one.point);
            let near = source.distance(one.point);
            for two in &others {
                let (across, far) = (one.point.distance(two.point), two.point.distance(point));
                let way = near + across + far;
                if way > most {
                    continue;
                }
                let bent = begin.bend(one, first.wedge.sees(two.point)) * end.bend(two, there);
                let pressure = bent * across / ((near + across) * (across + far) * (8.0 * PI).powi(2));
                let along = (two.point - one.point) / across;
                let slope = |from: DVec3, cell: &Cell, wedge: &Wedge, distance: f64, onward: DVec3| {
                    0.5 * cell.width * ((cell.point - from).dot(wedge.along) / distance - onward.dot(wedge.along)).abs()
                };
                let half = slope(source, one, first.wedge, near, along).max(slope(point, two, other.wedge, far, -along));
                spread(&mut bins, way, half, pressure);
                if nearest.is_none_or(|(least, ..)| way < least) {
                    nearest = Some((way, *other, [one, two].map(|cell| 0.5 * (cell.ends[0] + cell.ends[1]))));
                }
            }
        }
    }
    let (_, last, places) = nearest?;
    let [first, last] = shortest(source, point, [first, last], places);
    let diffraction = Diffraction::over(bins.iter().enumerate().map(|(bin, &pressure)| ((bin as f64 + 0.5) * BIN, 0.5 * BIN, pressure)));
    Some(Twice { diffraction, first, last })
}

/// Where the shortest way over two edges bends, within what is seen of them about the places where a search begins: each edge's place in turn, exact for where the other's is.
fn shortest(source: DVec3, point: DVec3, [first, last]: [Rim<'_>; 2], places: [f64; 2]) -> [DVec3; 2] {
    let part = |rim: &Rim<'_>, place: f64| {
        let holds = |part: &&[f64; 2]| part[0] <= place && place <= part[1];
        rim.parts.iter().find(holds).copied().unwrap_or([place; 2])
    };
    let parts = [part(&first, places[0]), part(&last, places[1])];
    let [mut one, mut two] = places;
    for _ in 0..ROUNDS {
        let before = [one, two];
        one = first.wedge.shortest(source, last.wedge.point(two), parts[0]);
        two = last.wedge.shortest(first.wedge.point(one), point, parts[1]);
        if (one - before[0]).abs().max((two - before[1]).abs()) < CLOSE {
            break;
        }
    }
    [first.wedge.point(one), last.wedge.point(two)]
}

/// Shares a pressure among the bins of the ways that a cell stands for.
fn spread(bins: &mut [f64], way: f64, half: f64, pressure: f64) {
    let half = half.max(0.5 * BIN);
    let (low, high) = ((way - half) / BIN, (way + half) / BIN);
    let last = bins.len() - 1;
    for (bin, sum) in bins.iter_mut().enumerate().take((high as usize).min(last) + 1).skip(low.max(0.0) as usize) {
        let shared = (high.min(bin as f64 + 1.0) - low.max(bin as f64)).max(0.0);
        *sum += pressure * shared / (high - low);
    }
}
