//! Which surface does a ray meet first: eight flat pieces at a time.
//!
//! A piece is a parallelogram or a triangle `corner + u a + v b`; the ray `o + t d` meets its plane at
//! `t = (n . corner - n . o) / n . d` and lies in it where `0 <= u, v` and `u, v <= 1` (parallelogram) or `u + v <= 1` (triangle), with
//! `u` and `v` from dual vectors. Pieces reach a hair (one part in 10^5) beyond their edges, so that neighbors overlap and no ray
//! slips between them.
//!
//! The loops are compiled once for every set of vector instructions ([`Instructions`]).
//!
//! Eight packets have their boxes side by side: those that a ray passes by cost it one look for all eight.
//!
//! *Limits.* Single precision: a position on a surface is good to about 1e-6 of the room's size. Every box is looked at for every ray; above
//! some hundreds of pieces a tree would be faster.

use fearless_simd::{Level, dispatch};
use glam::{DVec3, Vec3};

use super::instructions::{Instructions, chosen};

const LANES: usize = 8;
type Lanes = [f32; LANES];

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
    fn corners(&self) -> [DVec3; 4] {
        let last = if self.parallelogram { self.a + self.b } else { self.a };
        [self.corner, self.corner + self.a, self.corner + self.b, self.corner + last]
    }

    fn middle(&self) -> DVec3 {
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
    /// Lowest and highest corner of a box round its pieces, meters.
    low: Vec3,
    high: Vec3,
}

/// Boxes are this much wider than their pieces, meters.
const BOX_MARGIN: f32 = 1e-3;

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
        low: Vec3::INFINITY,
        high: Vec3::NEG_INFINITY,
    };

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

/// The boxes round eight packets, side by side.
#[derive(Clone, Debug)]
struct Boxes {
    low: [Lanes; 3],
    high: [Lanes; 3],
}

impl Boxes {
    fn new(packets: &[Packet]) -> Self {
        let corners = |corner: fn(&Packet) -> Vec3, none: f32| {
            std::array::from_fn(|axis| std::array::from_fn(|lane| packets.get(lane).map_or(none, |packet| corner(packet)[axis])))
        };
        Self { low: corners(|packet| packet.low, f32::INFINITY), high: corners(|packet| packet.high, f32::NEG_INFINITY) }
    }

    /// How far a ray goes before it enters each box between `near` and `far`, infinite where it passes by; `inverse` is one over each
    /// component of the direction.
    #[inline(always)]
    fn enter(&self, origin: Vec3, inverse: Vec3, near: f32, far: f32) -> Lanes {
        let (origin, inverse) = (origin.to_array(), inverse.to_array());
        let mut result = [f32::INFINITY; LANES];
        for (lane, result) in result.iter_mut().enumerate() {
            let (mut enter, mut leave) = (near, far);
            for axis in 0..3 {
                let first = (self.low[axis][lane] - origin[axis]) * inverse[axis];
                let second = (self.high[axis][lane] - origin[axis]) * inverse[axis];
                // `min` and `max` leave out what is not a number: a ray that runs within a face of the box.
                enter = enter.max(first.min(second));
                leave = leave.min(first.max(second));
            }
            *result = if enter <= leave { enter } else { f32::INFINITY };
        }
        result
    }
}

/// All pieces of a room, in packets of eight.
#[derive(Clone, Debug)]
pub struct Packets {
    /// One for each eight packets.
    boxes: Vec<Boxes>,
    packets: Vec<Packet>,
    /// Of the instructions asked for.
    level: Level,
}

impl Packets {
    /// Packs the pieces, in the order given.
    #[must_use]
    pub fn new(pieces: &[Piece]) -> Self {
        Self::with(chosen(), pieces)
    }

    /// The same with these instructions.
    #[must_use]
    pub fn with(instructions: Instructions, pieces: &[Piece]) -> Self {
        let packets: Vec<Packet> = packed(pieces)
            .iter()
            .map(|together| {
                let mut packet = Packet::EMPTY;
                for (lane, piece) in together.iter().enumerate() {
                    set_lane(&mut packet, lane, piece);
                }
                packet
            })
            .collect();
        let boxes = packets.chunks(LANES).map(Boxes::new).collect();
        Self { boxes, packets, level: instructions.level() }
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

/// Pieces in groups of eight at most that lie close together, so that most rays pass the box round a group by; large ones, walls, come
/// first, among themselves: what a ray meets there leaves it less way to look at.
fn packed(pieces: &[Piece]) -> Vec<Vec<Piece>> {
    let bounds = |pieces: &[Piece]| {
        pieces.iter().flat_map(Piece::corners).fold((DVec3::INFINITY, DVec3::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)))
    };
    let size = |pieces: &[Piece]| {
        let (low, high) = bounds(pieces);
        (high - low).max_element()
    };
    let all = size(pieces);
    let (large, small): (Vec<Piece>, Vec<Piece>) = pieces.iter().partition(|&&piece| 2.0 * size(&[piece]) > all);
    let mut groups: Vec<Vec<Piece>> = large.chunks(LANES).map(<[Piece]>::to_vec).collect();
    // Halved across their longest side until eight are left.
    let mut open = vec![small];
    while let Some(mut group) = open.pop() {
        if group.len() > LANES {
            let (low, high) = bounds(&group);
            let axis = (high - low).max_position();
            group.sort_by(|one, other| one.middle()[axis].total_cmp(&other.middle()[axis]));
            let rest = group.split_off(group.len() / 2);
            open.extend([rest, group]);
        } else if !group.is_empty() {
            groups.push(group);
        }
    }
    groups
}

#[inline(always)]
fn first_hit(all: &Packets, origin: Vec3, direction: Vec3, near: f32, far: f32) -> Option<(u16, f32)> {
    let mut best = far;
    let mut surface = None;
    let inverse = direction.recip();
    for (boxes, packets) in all.boxes.iter().zip(all.packets.chunks(LANES)) {
        let enters = boxes.enter(origin, inverse, near, best);
        for (packet, enter) in packets.iter().zip(enters) {
            if enter > best {
                continue;
            }
            let distances = packet.distances(origin, direction, near, best);
            let nearest = least(&distances);
            if nearest < best {
                best = nearest;
                let mut lane = 0;
                while lane < LANES - 1 && distances[lane] != nearest {
                    lane += 1;
                }
                surface = Some(packet.surface[lane]);
            }
        }
    }
    surface.map(|surface| (surface, best))
}

#[inline(always)]
fn is_blocked(all: &Packets, origin: Vec3, direction: Vec3, near: f32, far: f32) -> bool {
    // Plain loops: a closure handed to an iterator would lose the vector instructions.
    let inverse = direction.recip();
    for (boxes, packets) in all.boxes.iter().zip(all.packets.chunks(LANES)) {
        let enters = boxes.enter(origin, inverse, near, far);
        for (packet, enter) in packets.iter().zip(enters) {
            if enter <= far && least(&packet.distances(origin, direction, near, far)) < far {
                return true;
            }
        }
    }
    false
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

fn set_lane(packet: &mut Packet, lane: usize, piece: &Piece) {
    let normal = piece.a.cross(piece.b);
    let Some(unit) = normal.try_normalize() else { return };
    // Dual vectors: u . a = 1, u . b = 0, and the other way round.
    let u = piece.b.cross(normal) / normal.length_squared();
    let v = normal.cross(piece.a) / normal.length_squared();
    for axis in 0..3 {
        packet.normal[axis][lane] = unit[axis] as f32;
        packet.u[axis][lane] = u[axis] as f32;
        packet.v[axis][lane] = v[axis] as f32;
    }
    packet.offset[lane] = unit.dot(piece.corner) as f32;
    packet.u_offset[lane] = u.dot(piece.corner) as f32;
    packet.v_offset[lane] = v.dot(piece.corner) as f32;
    packet.sum_limit[lane] = if piece.parallelogram { 3.0 } else { 1.0 + OVERLAP };
    packet.surface[lane] = piece.surface;
    let far_corner = if piece.parallelogram { piece.corner + piece.a + piece.b } else { piece.corner };
    for corner in [piece.corner, piece.corner + piece.a, piece.corner + piece.b, far_corner] {
        packet.low = packet.low.min(corner.as_vec3() - BOX_MARGIN);
        packet.high = packet.high.max(corner.as_vec3() + BOX_MARGIN);
    }
}
