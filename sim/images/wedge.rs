//! What does an edge add to the sound that goes from one point to another? A line integral along the edge, of any wedge whose faces are rigid.
//!
//! A source and a point at distances `rS`, `rR` from the edge's line, at angles `thS`, `thR` about it, measured from one face through the air, and `Z`
//! apart along it. The wave that leaves the edge is, re a free wave `e^(-ikR) / R`,
//!
//! `p = -(nu / 4 pi) sum over 4 of Int e^(-ikL) / L  sin(nu phi) / (cosh(nu eta) - cos(nu phi)) d eta`, `nu = pi / open`, `phi = pi +- thS +- thR`,
//!
//! where `eta`, the sum of `asinh((z - zS) / rS)` and `asinh((z - zR) / rR)`, counts along the edge from the point of the shortest way, and
//! `L^2 = (rS + rR)^2 + Z^2 + 4 rS rR sinh^2(eta / 2)` is the way by there: an edge of finite length is a part of that axis, exactly.
//! The factor behind `e^(-ikL) / L` is `1 / nu` times the derivative of `2 atan(cot(nu phi / 2) tanh(nu eta / 2))`, however sharp its peak, so the
//! edge is cut into slices of the way, each half with the exact difference of that: no boundary of light and shadow is singular. Two of the four belong to the
//! boundary of the shadow, one to that of each face's mirror image, and are scaled by what the face reflects.
//!
//! *References.* U. P. Svensson, R. I. Fred, J. Vanderkooy, J. Acoust. Soc. Am. 106 (1999) 2331 (the line integral; from memory); H. M. Macdonald, Proc.
//! London Math. Soc. 14 (1915) 410 (the half-plane, which it equals); R. J. Luebbers, IEEE Trans. Antennas Propag. 32 (1984) 70 (terms scaled by face; from
//! memory).
//!
//! *Limits.* First order: what leaves an edge meets no other. On rigid faces that holds where `k x half the size` of the face is above about 3. Faces that absorb are an approximation without a reference.

use std::f64::consts::{FRAC_1_PI, PI, TAU};

use glam::{DVec2, DVec3};

/// The first slice of a way, meters: no phase that is heard turns over it.
const FIRST: f64 = 1e-5;
/// Each further slice ends this much farther from the shortest way.
const GROWTH: f64 = 1.07;

/// An edge with the faces that meet there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wedge {
    /// One end, meters.
    pub begin: DVec3,
    /// Unit vector to the other end.
    pub along: DVec3,
    /// Length in meters.
    pub length: f64,
    /// Unit vector from the edge into the first face, at right angles to the edge.
    pub into: DVec3,
    /// Unit normal of the first face, into the air.
    pub normal: DVec3,
    /// Angle of the air between the faces, radians: a whole turn about a thin sheet.
    pub open: f64,
}

/// A point as an edge sees it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    /// Distance from the line of the edge, meters.
    pub(super) radius: f64,
    /// From the first face through the air, radians.
    pub(super) angle: f64,
    /// Along the edge from its beginning, meters.
    pub(super) place: f64,
}

/// What an edge adds to the sound between two points.
#[derive(Clone, Debug, Default)]
pub struct Diffraction {
    slices: Vec<Slice>,
}

/// A part of an edge, or two either side of the shortest way.
#[derive(Clone, Copy, Debug)]
struct Slice {
    /// Middle of the ways by it, and half the difference of the longest and the shortest; meters.
    way: f64,
    half: f64,
    /// Pressure re that 1 m away from the source: of the shadow's boundary, of the first face's image, of the second's.
    pressure: [f64; 3],
    /// How much more of it comes by the longer half of the ways than by the shorter.
    tilt: [f64; 3],
}

impl Wedge {
    /// The edge from one point to another on a face with this normal; the face lies to the left, seen against the normal.
    #[must_use]
    pub fn new(ends: [DVec3; 2], normal: DVec3, open: f64) -> Self {
        let way = ends[1] - ends[0];
        let along = way.try_normalize().unwrap_or(DVec3::X);
        Self { begin: ends[0], along, length: way.length(), into: normal.cross(along), normal, open }
    }

    /// The point so many meters from its beginning.
    #[must_use]
    pub fn point(&self, place: f64) -> DVec3 {
        self.begin + self.along * place
    }

    /// Where a point is as the edge sees it.
    pub(super) fn sees(&self, point: DVec3) -> Seen {
        let away = point - self.begin;
        let place = away.dot(self.along);
        let across = DVec2::new(away.dot(self.into), away.dot(self.normal));
        let turned = across.y.atan2(across.x);
        Seen { radius: across.length(), angle: if turned < 0.0 { turned + TAU } else { turned }, place }
    }

    /// Whether a point lies in the air between the faces, as far as these go on.
    #[must_use]
    pub fn faces(&self, point: DVec3) -> bool {
        let Seen { angle, radius, .. } = self.sees(point);
        angle < self.open && radius > 0.0
    }

    /// Where between these two places on the edge the way from one point to the other is shortest, meters from its beginning.
    #[must_use]
    pub fn shortest(&self, source: DVec3, point: DVec3, part: [f64; 2]) -> f64 {
        let (from, to) = (self.sees(source), self.sees(point));
        let all = from.radius + to.radius;
        let share = if all > 0.0 { from.radius / all } else { 0.5 };
        (from.place + (to.place - from.place) * share).clamp(part[0], part[1])
    }

    /// What the parts of the edge from one place to another, in meters from its beginning, add to the sound from a source at a point; neither lies on
    /// the line of the edge.
    #[must_use]
    pub fn diffraction(&self, source: DVec3, point: DVec3, parts: &[[f64; 2]]) -> Diffraction {
        let (from, to) = (self.sees(source), self.sees(point));
        let mut diffraction = Diffraction::default();
        if from.radius <= 0.0 || to.radius <= 0.0 {
            return diffraction;
        }
        let apex = Apex::new(self.open, from, to);
        let eta = |place: f64| ((place - from.place) / from.radius).asinh() + ((place - to.place) / to.radius).asinh();
        for part in parts {
            let [low, high] = part.map(eta);
            if low < 0.0 && high > 0.0 {
                apex.cut([0.0, -low], &mut diffraction);
                apex.cut([0.0, high], &mut diffraction);
            } else {
                let (one, other) = (low.abs(), high.abs());
                apex.cut([one.min(other), one.max(other)], &mut diffraction);
            }
        }
        diffraction
    }
}

/// The edge about the point of the shortest way.
struct Apex {
    /// The shortest way, meters.
    shortest: f64,
    /// `4 rS rR`, m2.
    spread: f64,
    nu: f64,
    /// Sine and cosine of half of `nu phi`, the sine not negative: for `pi + thS - thR`, `pi - thS + thR`, `pi - thS - thR`, `pi + thS + thR`.
    terms: [[f64; 2]; 4],
}

impl Apex {
    fn new(open: f64, from: Seen, to: Seen) -> Self {
        let nu = PI / open;
        let term = |phi: f64| {
            let (sine, cosine) = (0.5 * nu * phi).sin_cos();
            if sine < 0.0 { [-sine, -cosine] } else { [sine, cosine] }
        };
        let (one, other) = (from.angle, to.angle);
        Self {
            shortest: (from.radius + to.radius).hypot(from.place - to.place),
            spread: 4.0 * from.radius * to.radius,
            nu,
            terms: [PI + one - other, PI - one + other, PI - one - other, PI + one + other].map(term),
        }
    }

    /// How much longer than the shortest the way by there is, meters.
    fn longer(&self, eta: f64) -> f64 {
        let squares = self.spread * (0.5 * eta).sinh().powi(2);
        squares / (self.shortest + (self.shortest * self.shortest + squares).sqrt())
    }

    /// The inverse of that.
    fn eta(&self, longer: f64) -> f64 {
        2.0 * (longer * (longer + 2.0 * self.shortest) / self.spread).sqrt().asinh()
    }

    /// `-(1 / 2 pi) atan(cot(nu phi / 2) tanh(nu eta / 2))`, its derivative's sum over what lies on one side of the shortest way.
    fn sums(&self, eta: f64) -> [f64; 3] {
        let tanh = (0.5 * self.nu * eta).tanh();
        let [one, other, first, second] = self.terms.map(|[sine, cosine]| -0.5 * FRAC_1_PI * (cosine * tanh).atan2(sine));
        [one + other, first, second]
    }

    /// Adds the slices from one `eta` to another.
    fn cut(&self, [from, to]: [f64; 2], diffraction: &mut Diffraction) {
        let (nearest, farthest) = (self.longer(from), self.longer(to));
        let (mut begin, mut before) = (nearest, self.sums(from));
        let mut width = FIRST;
        while begin < farthest {
            let reached = nearest + width;
            let (end, after) = if reached < farthest { (reached, self.sums(self.eta(reached))) } else { (farthest, self.sums(to)) };
            let half = 0.5 * (end - begin);
            let (middle, way) = (self.sums(self.eta(begin + half)), self.shortest + begin + half);
            let pressure = std::array::from_fn(|term| (after[term] - before[term]) / way);
            let tilt = std::array::from_fn(|term| (after[term] - 2.0 * middle[term] + before[term]) / way);
            diffraction.slices.push(Slice { way, half, pressure, tilt });
            (begin, before) = (end, after);
            width *= GROWTH;
        }
    }
}

impl Diffraction {
    /// What comes evenly over ways of these middles and half widths in meters, half of it over either face.
    pub(super) fn over(slices: impl Iterator<Item = (f64, f64, f64)>) -> Self {
        let slice =
            |(way, half, pressure): (f64, f64, f64)| Slice { way, half, pressure: [0.0, 0.5 * pressure, 0.5 * pressure], tilt: [0.0; 3] };
        Self { slices: slices.filter(|slice| slice.2 != 0.0).map(slice).collect() }
    }

    /// Complex pressure re that 1 m away from the source, real and imaginary part, at this wavenumber in 1/m; `mirrored` is what of the pressure the first and
    /// the second face reflect.
    #[must_use]
    pub fn pressure(&self, wavenumber: f64, mirrored: [f64; 2]) -> DVec2 {
        let mut sum = DVec2::ZERO;
        let scaled = |[shadow, first, second]: [f64; 3]| shadow + mirrored[0] * first + mirrored[1] * second;
        for slice in &self.slices {
            let turn = wavenumber * slice.half;
            let (sine, cosine) = turn.sin_cos();
            // Means over the slice of the phase, and of the phase times how much later than the middle it is.
            let (mean, later) =
                if turn < 1e-3 { (1.0, turn * (2.0 / 3.0)) } else { (sine / turn, 2.0 * (sine - turn * cosine) / (turn * turn)) };
            let level = DVec2::new(mean * scaled(slice.pressure), -later * scaled(slice.tilt));
            sum += DVec2::from_angle(-wavenumber * slice.way).rotate(level);
        }
        sum
    }
}
