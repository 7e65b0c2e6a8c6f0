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
//! Techniques, ch. 5. Sampling along a space-filling curve: Z. He, A. B. Owen, J. R. Stat. Soc. B 78
//! (2016) 917 (from memory).

use std::f64::consts::TAU;

use glam::{DVec3, Vec3};

use crate::bands::{Band, Bands};
use crate::directivity::DirectivityTable;
use crate::geometry::hilbert;
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
        Origin { share: weight, parent, off_aim: off_aim(direction, emitter.aim), key, place }
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
        let direction = aimed.direction(hilbert::position(((place / part).min(1.0) * hilbert::PLACES as f64) as u64));
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

/// What a ray keeps of its direction: the share of the sphere that lies nearer to the aim of its source. In single precision it tells what even a wide piston sends there, as
/// a cosine would not.
#[must_use]
pub fn off_aim(direction: Vec3, aim: DVec3) -> f32 {
    nearer(direction.as_dvec3(), aim) as f32
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
