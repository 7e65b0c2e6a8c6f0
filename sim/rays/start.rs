//! Which way rays leave a source: evenly, more of them into its beam, and some to and fro between walls that face each other.
//!
//! A ray's share makes up for how often its direction is chosen: with chance `q` re an even one, it stands for `1 / q` of what an even one would.
//!
//! - *The beam.* Half of the rays of a source that does not send alike to all sides go where it sends, all octaves of the group counting alike. A loudspeaker
//!   that sends its top octave into a hundredth of the sphere would else have a hundredth of the rays for it.
//! - *Between walls.* What runs to and fro between two bare walls outlasts the rest, and the longer it has run the narrower is the cone that it left in:
//!   a few rays of a hundred thousand carry the end of a decay. A twentieth of the rays go into cones about the normals of the walls that face
//!   each other across the source, as many into each octave of angle.
//!
//! The rays of a batch divide the sphere into as many pieces of like chance, one ray in each, anywhere in it. The pieces follow each other along
//! a Hilbert curve over (share of the chance from the axis on, azimuth), so that rays of like direction have like numbers, and whoever takes every
//! twentieth of them in order, as the draw for the tail does, takes them evenly spread.
//!
//! *References.* Several ways to draw at once, with one weight (balance heuristic): E. Veach, thesis 1997, ch. 9. Stratified sampling: W. G. Cochran, Sampling
//! Techniques, ch. 5. Hilbert's curve: D. Hilbert, Math. Ann. 38 (1891) 459. Sampling along a space-filling curve: Z. He, A. B. Owen, J. R. Stat. Soc. B 78
//! (2016) 917 (from memory).

use std::f64::consts::TAU;

use glam::{DVec3, Vec3};

use crate::bands::{Band, Bands};
use crate::directivity::DirectivityTable;
use crate::random::{Purpose, Stream};
use crate::room::{Emitter, Room};
use crate::settings::Leaving;

use super::flight::{Origin, Place};

/// Part of the rays that goes into the beam, where there is one.
const INTO_BEAM: f64 = 0.5;

/// Part of the rays that goes to and fro between walls, where there are such.
const BETWEEN_WALLS: f64 = 0.05;

/// Rings about the axis in which the chance of a direction is the same: equal steps of `sin(theta / 2)`.
const RINGS: usize = 512;

/// Share of the sphere in the innermost part of a cone, and in all of it: `sin(theta / 2)^2` at 0.1 and 16 degrees.
const CONE: [f64; 2] = [1e-6, 0.02];

/// Cosine between one wall's normal and the other's opposite, at the least: 1 degree.
const FACING: f64 = 0.999_85;

/// Binary digits of each coordinate on the square that the Hilbert curve fills.
const DIGITS: u32 = 24;

/// How the rays of a group of bands leave one source.
#[derive(Clone, Debug)]
pub(super) struct Starts {
    /// Each way to draw, with its part of the rays.
    ways: Vec<(f64, Aimed)>,
    /// Whether each ray has a piece of its own.
    is_in_pieces: bool,
}

/// A density of directions about an axis.
#[derive(Clone, Debug)]
struct Aimed {
    /// Axis, and two directions across.
    frame: [DVec3; 3],
    about: About,
}

/// How a density depends on `x`, the share of the sphere that lies nearer to the axis.
#[derive(Clone, Debug)]
enum About {
    Even,
    /// Chance of a direction in each ring, re an even one; chance of all rings before each.
    Beam {
        chances: Vec<f64>,
        before: Vec<f64>,
    },
    Cone,
}

/// How a ray begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Start {
    pub(super) direction: Vec3,
    /// What it stands for, re a direction drawn evenly.
    pub(super) weight: f32,
    /// How many times more often it is chosen than it would be without the cones.
    pub(super) worth: f32,
}

impl Start {
    /// The ray that begins like this, its share that of one drawn evenly.
    pub(super) fn origin(self, emitter: &Emitter, parent: u32, key: u64) -> Origin {
        let Self { direction, weight, .. } = self;
        let place = Place { point: emitter.position.as_vec3(), direction, all_specular: true, ..Place::default() };
        Origin { share: weight, parent, off_aim: nearer(direction.as_dvec3(), emitter.aim) as f32, key, place }
    }
}

impl Starts {
    /// For the bands that are members.
    pub(super) fn new(room: &Room, emitter: &Emitter, directivity: &DirectivityTable, member: &Bands<bool>, leaving: Leaving) -> Self {
        if leaving == Leaving::Even {
            return Self { ways: vec![(1.0, Aimed::new(emitter.aim, About::Even))], is_in_pieces: false };
        }
        let normals = across(room, emitter.position);
        let beam = About::beam(directivity, member);
        let into_beam = if beam.is_some() { INTO_BEAM } else { 0.0 };
        let between = if normals.is_empty() { 0.0 } else { BETWEEN_WALLS };
        let mut ways = vec![(1.0 - into_beam - between, Aimed::new(emitter.aim, About::Even))];
        ways.extend(beam.map(|beam| (into_beam, Aimed::new(emitter.aim, beam))));
        let each = between / normals.len().max(1) as f64;
        ways.extend(normals.into_iter().map(|normal| (each, Aimed::new(normal, About::Cone))));
        Self { ways, is_in_pieces: true }
    }

    /// Ray `number` of a batch of `count`; `index` is that of its random numbers.
    pub(super) fn ray(&self, seed: u64, index: u64, number: u64, count: u64) -> Start {
        let unit = Stream::new(seed, Purpose::Start, index).unit();
        let mut place = if self.is_in_pieces { (number as f64 + unit) / count as f64 } else { unit };
        let mut chosen = &self.ways[0];
        for way in &self.ways {
            chosen = way;
            if place < way.0 {
                break;
            }
            place -= way.0;
        }
        let (part, aimed) = chosen;
        let direction = aimed.direction(hilbert(((place / part).min(1.0) * (1_u64 << (2 * DIGITS)) as f64) as u64));
        let (mut plain, mut cones) = (0.0, 0.0);
        for (part, aimed) in &self.ways {
            let sum = if matches!(aimed.about, About::Cone) { &mut cones } else { &mut plain };
            *sum += part * aimed.chance(direction);
        }
        Start { direction: direction.as_vec3(), weight: (1.0 / (plain + cones)) as f32, worth: (1.0 + cones / plain) as f32 }
    }
}

impl Aimed {
    fn new(axis: DVec3, about: About) -> Self {
        let (across, up) = axis.any_orthonormal_pair();
        Self { frame: [axis, across, up], about }
    }

    /// The direction at a place of the unit square: (chance nearer to the axis, turns about it).
    fn direction(&self, [along, turn]: [f64; 2]) -> DVec3 {
        let x = self.about.within(along).clamp(0.0, 1.0);
        let (cosine, sine) = (1.0 - 2.0 * x, 2.0 * (x * (1.0 - x)).sqrt());
        let (up, across) = (TAU * turn).sin_cos();
        self.frame[0] * cosine + (self.frame[1] * across + self.frame[2] * up) * sine
    }

    /// How often a direction is drawn, re an even density.
    fn chance(&self, direction: DVec3) -> f64 {
        self.about.chance(nearer(direction, self.frame[0]))
    }
}

impl About {
    /// The beam of a source in some bands; nothing where it sends alike to all sides.
    fn beam(directivity: &DirectivityTable, member: &Bands<bool>) -> Option<Self> {
        let bands: Vec<Band> = Band::ALL.into_iter().filter(|&band| member[band]).collect();
        let sent: Vec<Bands<f64>> = (0..RINGS).map(|ring| directivity.energy(1.0 - border(ring) - border(ring + 1))).collect();
        let area = |ring: usize| border(ring + 1) - border(ring);
        let all = (0..RINGS).fold(Bands::splat(0.0), |sum, ring| sum + sent[ring] * area(ring));
        let towards = |sent: &Bands<f64>| bands.iter().map(|&band| sent[band] / all[band]).sum::<f64>() / bands.len() as f64;
        let chances: Vec<f64> = sent.iter().map(towards).collect();
        let mut before = vec![0.0; RINGS + 1];
        for ring in 0..RINGS {
            before[ring + 1] = before[ring] + chances[ring] * area(ring);
        }
        let is_beam = chances.iter().any(|chance| (chance - 1.0).abs() > 1e-3);
        is_beam.then_some(Self::Beam { chances, before })
    }

    /// The share of the sphere nearer to the axis than so much of the chance.
    fn within(&self, along: f64) -> f64 {
        match self {
            Self::Even => along,
            Self::Beam { chances, before } => {
                let chance = along * before[RINGS];
                let ring = before.partition_point(|&before| before <= chance).clamp(1, RINGS) - 1;
                border(ring) + (chance - before[ring]) / chances[ring]
            }
            Self::Cone => {
                let [core, all] = CONE;
                let octaves = along * (1.0 + (all / core).ln());
                if octaves < 1.0 { octaves * core } else { core * (octaves - 1.0).exp() }
            }
        }
    }

    /// How often a direction is drawn that has so much of the sphere nearer to the axis, re an even density.
    fn chance(&self, x: f64) -> f64 {
        match self {
            Self::Even => 1.0,
            Self::Beam { chances, .. } => chances[((x.sqrt() * RINGS as f64) as usize).min(RINGS - 1)],
            Self::Cone => {
                let [core, all] = CONE;
                if x < all { 1.0 / (x.max(core) * (1.0 + (all / core).ln())) } else { 0.0 }
            }
        }
    }
}

/// Share of the sphere nearer to an axis than a direction: a quarter of the square of the chord, exact near the axis, where the cosine is not.
fn nearer(direction: DVec3, axis: DVec3) -> f64 {
    0.25 * (direction - axis).length_squared()
}

/// Share of the sphere within the rings before this one.
fn border(ring: usize) -> f64 {
    (ring as f64 / RINGS as f64).powi(2)
}

/// Directions from a point to the surfaces that face another one across it: straight onto the surface, the other one straight behind.
fn across(room: &Room, point: DVec3) -> Vec<DVec3> {
    let facing: Vec<DVec3> = room
        .surfaces
        .iter()
        .filter(|surface| surface.chart.height(point) > 0.0 && surface.outline.contains(surface.chart.position(point)))
        .map(|surface| -surface.chart.normal)
        .collect();
    let mut found: Vec<DVec3> = Vec::new();
    for &direction in &facing {
        let is_new = found.iter().all(|other| other.dot(direction) < FACING);
        if is_new && facing.iter().any(|other| other.dot(direction) < -FACING) {
            found.push(direction);
        }
    }
    found
}

/// The place on the unit square of a place on the Hilbert curve, given in `2 DIGITS` binary digits.
fn hilbert(place: u64) -> [f64; 2] {
    let (mut x, mut y) = (0_u64, 0_u64);
    for digit in 0..DIGITS {
        let quarter = place >> (2 * digit);
        let right = (quarter >> 1) & 1;
        let up = (quarter ^ right) & 1;
        if up == 0 {
            if right == 1 {
                let last = (1 << digit) - 1;
                (x, y) = (last - x, last - y);
            }
            (x, y) = (y, x);
        }
        x += right << digit;
        y += up << digit;
    }
    [x, y].map(|part| part as f64 / (1_u64 << DIGITS) as f64)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;
    use crate::directivity::Directivity;
    use crate::scene::SourceKind;

    /// What a ray keeps of its direction, in single precision, tells what even the widest piston sends there: within 1e-6 of the axis, from next to the axis to the rear.
    #[test]
    fn keeps_what_a_ray_is_sent_with() {
        let (piston, speed) = (Directivity::Piston { radius: 0.5 }, 343.0);
        let table = DirectivityTable::new(piston, speed);
        let aim = DVec3::new(0.48, 0.6, 0.64);
        let emitter = Emitter { name: String::new(), kind: SourceKind::Loudspeaker, position: DVec3::ZERO, aim, directivity: piston };
        let (across, up) = aim.any_orthonormal_pair();
        let mut by_cosine = 0.0_f64;
        for step in 1..=20_000 {
            let angle = PI * (f64::from(step) / 20_000.0).powi(3);
            let turned = (across * (0.7 * f64::from(step)).cos() + up * (0.7 * f64::from(step)).sin()) * angle.sin() + aim * angle.cos();
            let start = Start { direction: turned.as_vec3(), weight: 1.0, worth: 1.0 };
            let off_aim = start.origin(&emitter, 0, 0).off_aim;
            // The angle of what was rounded, by its tangent.
            let direction = start.direction.as_dvec3();
            let exact = piston.energy(aim.cross(direction).length().atan2(aim.dot(direction)).cos(), speed);
            let off = |ours: Bands<f64>| ours.zip(exact, |ours, exact| (ours - exact).abs()).0.into_iter().fold(0.0, f64::max);
            let worst = off(table.energy(1.0 - 2.0 * f64::from(off_aim)));
            assert!(worst < 1e-6, "off by {worst} at {angle} rad");
            by_cosine = by_cosine.max(off(table.energy(f64::from(start.direction.dot(aim.as_vec3())))));
        }
        assert!(by_cosine > 1e-5, "a cosine in single precision would have done: off by {by_cosine}");
    }

    #[test]
    fn goes_through_every_cell_of_the_square_in_steps_to_the_side() {
        let cells = 64_u64;
        let cell = |place: u64| hilbert(place << (2 * (DIGITS - 6))).map(|part| (part * cells as f64) as i64);
        let all: Vec<[i64; 2]> = (0..cells * cells).map(cell).collect();
        for pair in all.windows(2) {
            assert_eq!((pair[0][0] - pair[1][0]).abs() + (pair[0][1] - pair[1][1]).abs(), 1);
        }
        let mut sorted = all.clone();
        sorted.sort_unstable();
        sorted.dedup();
        assert_eq!(sorted.len(), all.len());
    }
}
