//! Rectangles on a wall: their union, and how much of it is met again at a distance.
//!
//! The *set covariance* of a figure is the area that it shares with itself moved by `h`. Its mean over the directions of `h`, at the distance `R = |h|`, is
//! all that radiation from the figure asks of its shape (`radiation`). It begins with the area `S`, falls at first by the perimeter,
//! `C(R) = S - R P / pi + ...`, and ends at the figure's diameter.
//!
//! Two rectangles with parallel edges share a rectangle: as long as two trapezoids of `h.x` and of `h.y` say. Between the angles where either trapezoid bends the
//! integrand is `(a + b R cos psi)(c + d R sin psi)`, whose integral is closed. A set of rectangles sums over its pairs; equal pairs are counted, not computed.
//!
//! *References.* The perimeter as the first slope: G. Matheron, Random Sets and Integral Geometry, 1975 (from memory). The integral is our own; tests hold it to sums over points.
//!
//! *Limits.* Edges lie along the axes.

use std::f64::consts::{PI, TAU};

use glam::DVec2;
use smallvec::SmallVec;

/// Lengths that differ by less are equal, meters.
const EQUAL: f64 = 1e-9;

/// A rectangle on a wall with edges along the axes, meters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rectangle {
    /// Lowest corner.
    pub low: DVec2,
    /// Highest corner.
    pub high: DVec2,
}

impl Rectangle {
    /// Between two corners; `None` where it has no area or a corner is no number.
    #[must_use]
    pub fn new(low: DVec2, high: DVec2) -> Option<Self> {
        let size = high - low;
        (low.is_finite() && high.is_finite() && size.min_element() > EQUAL).then_some(Self { low, high })
    }

    /// Width and height in meters from the corner 0, 0 on; `None` where they are no sizes.
    #[must_use]
    pub fn sized(width: f64, height: f64) -> Option<Self> {
        Self::new(DVec2::ZERO, DVec2::new(width, height))
    }

    /// The same moved by an offset.
    #[must_use]
    pub fn moved(self, offset: DVec2) -> Self {
        Self { low: self.low + offset, high: self.high + offset }
    }

    /// The same with a margin of this many meters on all sides.
    #[must_use]
    pub fn grown(self, margin: f64) -> Self {
        Self { low: self.low - margin, high: self.high + margin }
    }

    /// Area in m2.
    #[must_use]
    pub fn area(self) -> f64 {
        (self.high - self.low).element_product()
    }
}

/// The union of rectangles as rectangles that do not overlap: strips from the left to the right, joined where they go on alike.
#[must_use]
pub fn disjoint(rectangles: &[Rectangle]) -> Vec<Rectangle> {
    beside(rectangles, &[])
}

/// What of the union of `rectangles` lies beside all those that are `taken`, in the same way.
#[must_use]
pub fn beside(rectangles: &[Rectangle], taken: &[Rectangle]) -> Vec<Rectangle> {
    let mut edges: Vec<f64> = rectangles.iter().chain(taken).flat_map(|one| [one.low.x, one.high.x]).collect();
    edges.sort_by(f64::total_cmp);
    edges.dedup_by(|next, kept| *next - *kept < EQUAL);
    let mut closed: Vec<Rectangle> = Vec::new();
    let mut open: Vec<Rectangle> = Vec::new();
    for strip in edges.windows(2) {
        let (left, right) = (strip[0], strip[1]);
        let middle = 0.5 * (left + right);
        let on = |all: &[Rectangle]| spans(all.iter().filter(|one| one.low.x < middle && middle < one.high.x));
        let here = outside(on(rectangles), &on(taken));
        let goes_on = |one: &Rectangle| here.iter().any(|span| same(*span, (one.low.y, one.high.y)));
        let (kept, ended): (Vec<_>, Vec<_>) = open.into_iter().partition(goes_on);
        closed.extend(ended);
        open = kept;
        for &(low, high) in &here {
            match open.iter_mut().find(|one| same((low, high), (one.low.y, one.high.y))) {
                Some(one) => one.high.x = right,
                None => open.push(Rectangle { low: DVec2::new(left, low), high: DVec2::new(right, high) }),
            }
        }
    }
    closed.extend(open);
    closed
}

/// Area of the union of rectangles in m2.
#[must_use]
pub fn union_area(rectangles: &[Rectangle]) -> f64 {
    disjoint(rectangles).into_iter().map(Rectangle::area).sum()
}

fn same(one: (f64, f64), other: (f64, f64)) -> bool {
    (one.0 - other.0).abs() < EQUAL && (one.1 - other.1).abs() < EQUAL
}

/// Where upright lines through some rectangles lie in their union, lowest first.
fn spans<'a>(rectangles: impl Iterator<Item = &'a Rectangle>) -> Vec<(f64, f64)> {
    let mut all: Vec<(f64, f64)> = rectangles.map(|one| (one.low.y, one.high.y)).collect();
    all.sort_by(|one, other| one.0.total_cmp(&other.0));
    let mut joined: Vec<(f64, f64)> = Vec::new();
    for (low, high) in all {
        match joined.last_mut() {
            Some(last) if low < last.1 + EQUAL => last.1 = last.1.max(high),
            _ => joined.push((low, high)),
        }
    }
    joined
}

/// What of some stretches of a line lies outside of others, both lowest first.
fn outside(stretches: Vec<(f64, f64)>, taken: &[(f64, f64)]) -> Vec<(f64, f64)> {
    taken.iter().fold(stretches, |left, &(from, to)| {
        let pieces = left.into_iter().flat_map(|(low, high)| [(low, high.min(from)), (low.max(to), high)]);
        pieces.filter(|(low, high)| high - low > EQUAL).collect()
    })
}

/// The length that two stretches of a line share when one is moved by `u`: it rises from the first of four places to the second with slope 1, stays, and falls from the third
/// to the fourth.
#[derive(Clone, Copy, Debug)]
struct Trapezoid([f64; 4]);

impl Trapezoid {
    /// Of the stretches `one` and `other`.
    fn new(one: (f64, f64), other: (f64, f64)) -> Self {
        let (a, b) = (other.0 - one.0, other.1 - one.1);
        Self([other.0 - one.1, a.min(b), a.max(b), other.1 - one.0])
    }

    /// Value at 0 and slope of the line that it follows at `u`; `None` where nothing is shared.
    fn line(&self, u: f64) -> Option<(f64, f64)> {
        let [begin, full, less, end] = self.0;
        match u {
            _ if u <= begin || u >= end => None,
            _ if u < full => Some((-begin, 1.0)),
            _ if u <= less => Some((full - begin, 0.0)),
            _ => Some((end, -1.0)),
        }
    }
}

/// Two rectangles of a set, `count` times.
#[derive(Clone, Copy, Debug)]
struct Pair {
    across: Trapezoid,
    along: Trapezoid,
    count: f64,
}

impl Pair {
    fn new(one: &Rectangle, other: &Rectangle, count: f64) -> Self {
        let of = |axis: usize| Trapezoid::new((one.low[axis], one.high[axis]), (other.low[axis], other.high[axis]));
        Self { across: of(0), along: of(1), count }
    }

    /// Whether two pairs share the same, whichever way round each is seen: the mean over all directions is the same.
    fn alike(&self, other: &Self) -> bool {
        let equal = |one: &Trapezoid, other: &Trapezoid| {
            let as_is = (0..4).all(|place| (one.0[place] - other.0[place]).abs() < EQUAL);
            as_is || (0..4).all(|place| (one.0[place] + other.0[3 - place]).abs() < EQUAL)
        };
        equal(&self.across, &other.across) && equal(&self.along, &other.along)
    }

    /// Mean over all directions of the area shared at this distance, m2.
    fn mean_at(&self, distance: f64) -> f64 {
        let mut bends: SmallVec<[f64; 24]> = SmallVec::from_slice(&[-PI, PI]);
        for share in self.across.0.map(|place| place / distance).into_iter().filter(|share| share.abs() < 1.0) {
            bends.extend([share.acos(), -share.acos()]);
        }
        for share in self.along.0.map(|place| place / distance).into_iter().filter(|share| share.abs() < 1.0) {
            let angle = share.asin();
            bends.extend([angle, if angle > 0.0 { PI - angle } else { -PI - angle }]);
        }
        bends.sort_by(f64::total_cmp);
        let mut sum = 0.0;
        for ends in bends.windows(2) {
            let (sine, cosine) = (0.5 * (ends[0] + ends[1])).sin_cos();
            let Some((a, b)) = self.across.line(distance * cosine) else { continue };
            let Some((c, d)) = self.along.line(distance * sine) else { continue };
            let up_to = |angle: f64| {
                let (sine, cosine) = angle.sin_cos();
                a * c * angle + distance * (b * c * sine - a * d * cosine) + 0.5 * b * d * distance * distance * sine * sine
            };
            sum += up_to(ends[1]) - up_to(ends[0]);
        }
        sum / TAU
    }

    /// The shorter of the ways, across or along, over which anything is shared on one side; m.
    fn least_side(&self) -> f64 {
        let half = |trapezoid: &Trapezoid| 0.5 * (trapezoid.0[3] - trapezoid.0[0]);
        half(&self.across).min(half(&self.along))
    }

    /// Distances at which that mean bends, m.
    fn bends(&self) -> impl Iterator<Item = f64> {
        let (across, along) = (self.across.0, self.along.0);
        let far = across.into_iter().flat_map(move |x| along.into_iter().map(move |y| x.hypot(y)));
        far.chain(across.into_iter().chain(along).map(f64::abs))
    }

    fn counted(self, pairs: &mut Vec<Self>) {
        match pairs.iter_mut().find(|known| known.alike(&self)) {
            Some(known) => known.count += self.count,
            None => pairs.push(self),
        }
    }
}

/// The set covariance of rectangles, mean over directions.
#[derive(Clone, Debug)]
pub struct Covariance {
    pairs: Vec<Pair>,
    /// Distances at which it bends, m: 0 first, its end last.
    pub bends: Vec<f64>,
}

impl Covariance {
    /// Of rectangles that do not overlap ([`disjoint`]).
    #[must_use]
    pub fn of(rectangles: &[Rectangle]) -> Self {
        let mut pairs = Vec::new();
        for (index, one) in rectangles.iter().enumerate() {
            Pair::new(one, one, 1.0).counted(&mut pairs);
            for other in &rectangles[index + 1..] {
                // Seen from the other one it is the same, turned round.
                Pair::new(one, other, 2.0).counted(&mut pairs);
            }
        }
        Self::from_pairs(pairs)
    }

    /// Of one rectangle with another: the area of the first that is met by the second when it is moved by a distance, mean over directions.
    #[must_use]
    pub fn between(one: &Rectangle, other: &Rectangle) -> Self {
        Self::from_pairs(vec![Pair::new(one, other, 1.0)])
    }

    fn from_pairs(pairs: Vec<Pair>) -> Self {
        let mut all: Vec<f64> = pairs.iter().flat_map(Pair::bends).collect();
        all.sort_by(f64::total_cmp);
        let end = all.last().copied().unwrap_or(0.0);
        // What bends a hair from where it bent before is met well enough by nodes that thicken there: a fiftieth of the narrowest panel.
        let hair = pairs.iter().map(Pair::least_side).fold(end, f64::min) / 50.0;
        let mut bends = vec![0.0];
        for bend in all {
            if bend - bends[bends.len() - 1] > hair {
                bends.push(bend);
            }
        }
        if let Some(last) = bends.last_mut() {
            *last = end;
        }
        Self { pairs, bends }
    }

    /// The mean over directions at this distance in meters, m2.
    #[must_use]
    pub fn at(&self, distance: f64) -> f64 {
        if distance <= 0.0 {
            // Only what lies on itself shares anything without being moved.
            let shared = |trapezoid: &Trapezoid| trapezoid.line(0.0).map_or(0.0, |(value, _)| value);
            return self.pairs.iter().map(|pair| pair.count * shared(&pair.across) * shared(&pair.along)).sum();
        }
        self.pairs.iter().map(|pair| pair.count * pair.mean_at(distance)).sum()
    }
}
