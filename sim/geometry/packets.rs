//! Which surface does a ray meet first: eight flat pieces at a time.
//!
//! A piece is a parallelogram or a triangle `corner + u a + v b`; the ray `o + t d` meets its plane at
//! `t = (n . corner - n . o) / n . d` and lies in it where `0 <= u, v` and `u, v <= 1` (parallelogram) or `u + v <= 1` (triangle), with
//! `u` and `v` from dual vectors. Pieces reach a hair (one part in 10^5) beyond their edges, so that neighbors overlap and no ray
//! slips between them.
//!
//! The loops are compiled once for every set of vector instructions ([`Instructions`]).
//!
//! Packets stand in boxes (`tree`), those of large pieces, walls, first: what a ray meets there leaves it less way to look at.
//!
//! *Limits.* Single precision: a position on a surface is good to about 1e-6 of the room's size.

use fearless_simd::{Level, dispatch};
use glam::{DVec3, Vec3};

use super::instructions::{Instructions, chosen};
use super::tree::{LANES, Lanes, Tree, Walk};

/// How far a piece reaches beyond its edges, as a share of its size.
const OVERLAP: f32 = 1e-5;

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

    pub(super) fn middle(&self) -> DVec3 {
        self.corners().iter().sum::<DVec3>() / 4.0
    }
}

/// Eight pieces side by side.
#[derive(Clone, Debug)]
struct Packet {
    normal: [Lanes; 3],
    offset: Lanes,
    u: [Lanes; 3],
    u_offset: Lanes,
    v: [Lanes; 3],
    v_offset: Lanes,
    /// `u + v` may reach this.
    sum_limit: Lanes,
    surface: [u16; LANES],
}

impl Packet {
    const EMPTY: Self = Self {
        normal: [[0.0; LANES]; 3],
        offset: [-1.0; LANES],
        u: [[0.0; LANES]; 3],
        u_offset: [2.0; LANES],
        v: [[0.0; LANES]; 3],
        v_offset: [2.0; LANES],
        sum_limit: [0.0; LANES],
        surface: [0; LANES],
    };

    fn new(pieces: &[Piece]) -> Self {
        let mut packet = Self::EMPTY;
        for (lane, piece) in pieces.iter().enumerate() {
            packet.set(lane, piece);
        }
        packet
    }

    fn set(&mut self, lane: usize, piece: &Piece) {
        let normal = piece.a.cross(piece.b);
        let Some(unit) = normal.try_normalize() else { return };
        // Dual vectors: u . a = 1, u . b = 0, and the other way round.
        let u = piece.b.cross(normal) / normal.length_squared();
        let v = normal.cross(piece.a) / normal.length_squared();
        for axis in 0..3 {
            self.normal[axis][lane] = unit[axis] as f32;
            self.u[axis][lane] = u[axis] as f32;
            self.v[axis][lane] = v[axis] as f32;
        }
        self.offset[lane] = unit.dot(piece.corner) as f32;
        self.u_offset[lane] = u.dot(piece.corner) as f32;
        self.v_offset[lane] = v.dot(piece.corner) as f32;
        self.sum_limit[lane] = if piece.parallelogram { 3.0 } else { 1.0 + OVERLAP };
        self.surface[lane] = piece.surface;
    }

    /// Distance to each piece, infinite where it is not met from the air between `near` and `far`.
    #[inline(always)]
    fn distances(&self, origin: Vec3, direction: Vec3, near: f32, far: f32) -> Lanes {
        let mut result = [f32::INFINITY; LANES];
        for (lane, distance) in result.iter_mut().enumerate() {
            let [nx, ny, nz] = [self.normal[0][lane], self.normal[1][lane], self.normal[2][lane]];
            let facing = nx * direction.x + ny * direction.y + nz * direction.z;
            let height = self.offset[lane] - (nx * origin.x + ny * origin.y + nz * origin.z);
            let t = height / facing;
            let (x, y, z) = (origin.x + t * direction.x, origin.y + t * direction.y, origin.z + t * direction.z);
            let u = self.u[0][lane] * x + self.u[1][lane] * y + self.u[2][lane] * z - self.u_offset[lane];
            let v = self.v[0][lane] * x + self.v[1][lane] * y + self.v[2][lane] * z - self.v_offset[lane];
            let inside = (facing < 0.0)
                & (t > near)
                & (t < far)
                & (u >= -OVERLAP)
                & (v >= -OVERLAP)
                & (u <= 1.0 + OVERLAP)
                & (v <= 1.0 + OVERLAP)
                & (u + v <= self.sum_limit[lane]);
            *distance = if inside { t } else { f32::INFINITY };
        }
        result
    }
}

/// All pieces of a room, in packets of eight.
#[derive(Clone, Debug)]
pub struct Packets {
    packets: Vec<Packet>,
    tree: Tree,
    /// Of the instructions asked for.
    level: Level,
}

impl Packets {
    /// Packs the pieces.
    #[must_use]
    pub fn new(pieces: &[Piece]) -> Self {
        Self::with(chosen(), pieces)
    }

    /// The same with these instructions.
    #[must_use]
    pub fn with(instructions: Instructions, pieces: &[Piece]) -> Self {
        let mut packets = Vec::new();
        let tree = Tree::new(pieces, &mut |leaf: &[Piece]| {
            packets.push(Packet::new(leaf));
            packets.len() - 1
        });
        Self { packets, tree, level: instructions.level() }
    }

    /// The first surface met between `near` and `far`, and how far away it is.
    #[must_use]
    pub fn first_hit(&self, origin: Vec3, direction: Vec3, near: f32, far: f32) -> Option<(u16, f32)> {
        dispatch!(self.level, _simd => first_hit(self, origin, direction, near, far))
    }

    /// Whether anything is met between `near` and `far`.
    #[must_use]
    pub fn is_blocked(&self, origin: Vec3, direction: Vec3, near: f32, far: f32) -> bool {
        dispatch!(self.level, _simd => is_blocked(self, origin, direction, near, far))
    }
}

#[inline(always)]
fn first_hit(all: &Packets, origin: Vec3, direction: Vec3, near: f32, far: f32) -> Option<(u16, f32)> {
    let mut first = First { distance: far, surface: None };
    let ray = (origin, direction.recip());
    for node in all.tree.list() {
        for (enter, packet) in node.enter(ray, near, first.distance).into_iter().zip(node.packets()) {
            if enter <= first.distance {
                first.meet(&all.packets[packet], origin, direction, near);
            }
        }
    }
    if all.tree.has_nodes() {
        let mut walk = Walk::new();
        while let Some(leaf) = walk.next(&all.tree, ray, near, first.distance) {
            first.meet(&all.packets[leaf], origin, direction, near);
        }
    }
    first.surface.map(|surface| (surface, first.distance))
}

#[inline(always)]
fn is_blocked(all: &Packets, origin: Vec3, direction: Vec3, near: f32, far: f32) -> bool {
    let ray = (origin, direction.recip());
    // Plain loops: a closure handed to an iterator would lose the vector instructions.
    for node in all.tree.list() {
        for (enter, packet) in node.enter(ray, near, far).into_iter().zip(node.packets()) {
            if enter <= far && any_below(&all.packets[packet].distances(origin, direction, near, far), far) {
                return true;
            }
        }
    }
    if all.tree.has_nodes() {
        let mut walk = Walk::new();
        while let Some(leaf) = walk.next(&all.tree, ray, near, far) {
            if any_below(&all.packets[leaf].distances(origin, direction, near, far), far) {
                return true;
            }
        }
    }
    false
}

/// The nearest piece met so far.
struct First {
    distance: f32,
    surface: Option<u16>,
}

impl First {
    #[inline(always)]
    fn meet(&mut self, packet: &Packet, origin: Vec3, direction: Vec3, near: f32) {
        let distances = packet.distances(origin, direction, near, self.distance);
        if any_below(&distances, self.distance) {
            let nearest = least(&distances);
            self.distance = nearest;
            let mut lane = 0;
            while lane < LANES - 1 && distances[lane] != nearest {
                lane += 1;
            }
            self.surface = Some(packet.surface[lane]);
        }
    }
}

/// Whether any of eight is below a limit.
#[inline(always)]
fn any_below(lanes: &Lanes, limit: f32) -> bool {
    let mut any = false;
    for &lane in lanes {
        any |= lane < limit;
    }
    any
}

/// The least of eight, in halves: no NaN is among them.
#[inline(always)]
fn least(lanes: &Lanes) -> f32 {
    let mut least = lanes[0];
    for &lane in &lanes[1..] {
        least = if lane < least { lane } else { least };
    }
    least
}
