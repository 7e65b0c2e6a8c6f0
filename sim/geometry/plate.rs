//! Where does a ray meet a flat piece of a surface? Asked eight times side by side: of eight rays and one piece, or of eight pieces and
//! one ray.
//!
//! A piece is a parallelogram, or the triangle that is half of one. The ray `o + t d` meets its plane at `t = (n . corner - n . o) / n . d`
//! and the piece itself where the distances `u` and `v` of that point from the two middle lines are within half the widths, and, for a
//! triangle, where it is not beyond the third side, whose distance is `a u + b v` since it goes through the middle.
//!
//! *Watertight.* Rounding makes a height over a plane uncertain by a hair ([`Plates::hair`]) and a point of the plane by `hair / |n . d|`
//! along the ray. A piece is met by every ray that passes it within some times as much: neighbors overlap, whatever their angle and wherever
//! their corners lie, and no ray slips between. A ray may also begin some hairs behind a piece. One side is met only, that towards the air, so a ray
//! never meets the surface that it leaves.
//!
//! *Limits.* Single precision: a position on a surface is good to about 1e-6 of the room's size. A ray that runs within a hair of a plane
//! is held by its pieces for no more than [`HAIRS`] hairs beyond their edges; what slips by there is counted as escaped.

use bytemuck::{Pod, Zeroable};
use fearless_simd::prelude::*;
use fearless_simd::{f32x8, mask32x8};
use glam::{DVec3, Vec3};

use super::lanes::{LANES, Lanes, RayLanes, Some8, Vec3Lanes};

/// A hair, as a share of the greatest coordinate: six roundings of 2^-24, and some to spare.
const HAIR: f64 = 5e-7;
/// A piece reaches so many hairs beyond its edges where a ray meets it head-on: the point met, its distance from the edge, and the same for the
/// neighbor, all are uncertain by a hair.
const REACH: f32 = 3.0;
/// A ray begins no more hairs behind a piece that it can meet.
const BEHIND: f32 = 4.0;
/// A piece reaches no more hairs than this beyond its edges, however flat the ray.
const HAIRS: f32 = 64.0;

/// A flat piece of a surface: one corner and the two edges that leave it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Index of the surface it belongs to.
    pub surface: u16,
    /// Corner, meters.
    pub corner: DVec3,
    /// First edge, meters.
    pub a: DVec3,
    /// Second edge, meters; `a x b` points into the air.
    pub b: DVec3,
    /// A whole parallelogram, or only the triangle between the edges.
    pub parallelogram: bool,
}

impl Piece {
    pub(super) fn corners(&self) -> [DVec3; 4] {
        let last = if self.parallelogram { self.a + self.b } else { self.a };
        [self.corner, self.corner + self.a, self.corner + self.b, self.corner + last]
    }
}

/// How far pieces reach beyond what they are, meters: the hair of a room.
#[must_use]
pub(super) fn hair(pieces: &[Piece]) -> f32 {
    let greatest = pieces.iter().flat_map(Piece::corners).map(|corner| corner.abs().max_element()).fold(1.0, f64::max);
    (HAIR * greatest) as f32
}

/// What is known of a piece, in single precision.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plate {
    /// Unit normal, and `n . corner`.
    normal: Vec3,
    height: f32,
    /// Unit vectors in the plane, across each edge, and where the middle line lies along them.
    across: [Vec3; 2],
    middle: [f32; 2],
    /// Half the width along each.
    half: [f32; 2],
    /// `a` and `b` of the third side; 0 for a parallelogram.
    third: [f32; 2],
    pub(super) surface: u16,
}

impl Plate {
    /// None where the piece has no area.
    pub(super) fn new(piece: &Piece) -> Option<Self> {
        let Piece { surface, corner, a, b, parallelogram } = *piece;
        let normal = a.cross(b).try_normalize()?;
        let (across_b, across_a) = (b.cross(normal).try_normalize()?, normal.cross(a).try_normalize()?);
        let middle = corner + 0.5 * (a + b);
        let half = [0.5 * across_b.dot(a), 0.5 * across_a.dot(b)];
        let outward = (b - a).cross(normal).try_normalize()?;
        let third = if parallelogram { [0.0; 2] } else { [outward.dot(a) / (2.0 * half[0]), outward.dot(b) / (2.0 * half[1])] };
        Some(Self {
            normal: normal.as_vec3(),
            height: normal.dot(corner) as f32,
            across: [across_b.as_vec3(), across_a.as_vec3()],
            middle: [across_b.dot(middle) as f32, across_a.dot(middle) as f32],
            half: half.map(|half| half as f32),
            third: third.map(|third| third as f32),
            surface,
        })
    }

    /// Against eight rays; `third` says whether it may be a triangle.
    #[inline(always)]
    pub(super) fn meet<S: Simd>(&self, simd: S, ray: &RayLanes<S>, best: f32x8<S>, third: bool, hair: f32) -> (f32x8<S>, mask32x8<S>) {
        let sides = Sides {
            normal: Vec3Lanes::splat(simd, self.normal),
            height: f32x8::splat(simd, self.height),
            across: [Vec3Lanes::splat(simd, self.across[0]), Vec3Lanes::splat(simd, self.across[1])],
            middle: [f32x8::splat(simd, self.middle[0]), f32x8::splat(simd, self.middle[1])],
            half: [f32x8::splat(simd, self.half[0]), f32x8::splat(simd, self.half[1])],
            third: if third { Some([f32x8::splat(simd, self.third[0]), f32x8::splat(simd, self.third[1])]) } else { None },
        };
        sides.meet(simd, ray, best, hair)
    }
}

/// Eight pieces side by side.
#[derive(Clone, Copy, Debug, Pod, Zeroable)]
#[repr(C, align(64))]
pub(super) struct Packet {
    normal: [Lanes; 3],
    height: Lanes,
    across: [[Lanes; 3]; 2],
    middle: [Lanes; 2],
    half: [Lanes; 2],
    third: [Lanes; 2],
    surface: [u16; LANES],
    /// Up to nine lines of the cache.
    rest: [u16; 3 * LANES],
}

impl Packet {
    /// No piece is met: a half width is below what any point can lie within.
    const EMPTY: Self = Self {
        normal: [[0.0; LANES]; 3],
        height: [0.0; LANES],
        across: [[[0.0; LANES]; 3]; 2],
        middle: [[0.0; LANES]; 2],
        half: [[f32::NEG_INFINITY; LANES]; 2],
        third: [[0.0; LANES]; 2],
        surface: [u16::MAX; LANES],
        rest: [0; 3 * LANES],
    };

    /// Of up to eight plates.
    pub(super) fn new(plates: impl IntoIterator<Item = Plate>) -> Self {
        let mut packet = Self::EMPTY;
        for (lane, plate) in plates.into_iter().enumerate() {
            for axis in 0..3 {
                packet.normal[axis][lane] = plate.normal[axis];
                packet.across[0][axis][lane] = plate.across[0][axis];
                packet.across[1][axis][lane] = plate.across[1][axis];
            }
            packet.height[lane] = plate.height;
            for side in 0..2 {
                packet.middle[side][lane] = plate.middle[side];
                packet.half[side][lane] = plate.half[side];
                packet.third[side][lane] = plate.third[side];
            }
            packet.surface[lane] = plate.surface;
        }
        packet
    }

    /// Against one ray, the same in all lanes: what is nearest of it and of what was met before. Of two that are met at the same distance
    /// the one with the lower number counts, whichever was looked at first.
    #[inline(always)]
    pub(super) fn nearer<S: Simd>(&self, simd: S, ray: &RayLanes<S>, first: First, hair: f32) -> First {
        let sides = Sides {
            normal: Vec3Lanes::load(simd, &self.normal),
            height: f32x8::load_array_ref(simd, &self.height),
            across: [Vec3Lanes::load(simd, &self.across[0]), Vec3Lanes::load(simd, &self.across[1])],
            middle: [f32x8::load_array_ref(simd, &self.middle[0]), f32x8::load_array_ref(simd, &self.middle[1])],
            half: [f32x8::load_array_ref(simd, &self.half[0]), f32x8::load_array_ref(simd, &self.half[1])],
            third: Some([f32x8::load_array_ref(simd, &self.third[0]), f32x8::load_array_ref(simd, &self.third[1])]),
        };
        let best = f32x8::splat(simd, first.distance);
        let (distance, met) = sides.meet(simd, ray, best, hair);
        let met_by = Some8::of(met);
        if met_by == Some8(0) {
            return first;
        }
        let distance = met.select(distance, best);
        let least = distance.reduce_min();
        let nearest = Some8::of(distance.simd_eq(f32x8::splat(simd, least)));
        let lane = (nearest.0 & met_by.0).trailing_zeros() as usize % LANES;
        let surface = u32::from(self.surface[lane]);
        if least == first.distance && first.surface < surface { first } else { First { distance: least, surface } }
    }
}

/// The nearest that a ray has met so far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct First {
    /// How far away it is, meters; how far the ray is looked along where nothing is met.
    pub distance: f32,
    /// Index of the surface, or [`NOTHING`].
    pub surface: u32,
}

/// No surface.
pub const NOTHING: u32 = u32::MAX;

/// A plate against eight rays, or eight plates against one.
struct Sides<S: Simd> {
    normal: Vec3Lanes<S>,
    height: f32x8<S>,
    across: [Vec3Lanes<S>; 2],
    middle: [f32x8<S>; 2],
    half: [f32x8<S>; 2],
    third: Option<[f32x8<S>; 2]>,
}

impl<S: Simd> Sides<S> {
    /// Distances, and where they are met no farther away than `best`.
    #[inline(always)]
    fn meet(&self, simd: S, ray: &RayLanes<S>, best: f32x8<S>, hair: f32) -> (f32x8<S>, mask32x8<S>) {
        let facing = self.normal.dot(ray.direction);
        let behind = self.height - self.normal.dot(ray.origin);
        let inverse = f32x8::splat(simd, 1.0) / facing;
        // Where it begins behind the piece it meets it at once.
        let distance = (behind * inverse).max(f32x8::splat(simd, 0.0));
        let slack = (inverse * f32x8::splat(simd, -REACH * hair)).min(f32x8::splat(simd, HAIRS * hair));
        let point = ray.at(distance);
        let u = self.across[0].dot(point) - self.middle[0];
        let v = self.across[1].dot(point) - self.middle[1];
        let begins = facing.simd_lt(f32x8::splat(simd, 0.0)) & behind.simd_lt(f32x8::splat(simd, BEHIND * hair));
        let beyond = (u.abs() - self.half[0]).max(v.abs() - self.half[1]);
        let met = begins & beyond.simd_le(slack) & distance.simd_le(best);
        match self.third {
            Some([a, b]) => (distance, met & (a * u + b * v).simd_le(slack)),
            None => (distance, met),
        }
    }
}
