//! Which surface does a ray meet first: eight flat pieces at a time.
//!
//! A piece is a parallelogram or a triangle `corner + u a + v b`; the ray `o + t d` meets its plane at
//! `t = (n . corner - n . o) / n . d` and lies in it where `0 <= u, v` and `u, v <= 1` (parallelogram) or `u + v <= 1` (triangle), with
//! `u` and `v` from dual vectors. Pieces reach a hair (one part in 10^5) beyond their edges, so that neighbors overlap and no ray
//! slips between them.
//!
//! The loops are compiled once for every set of vector instructions that a machine may have ([`Instructions`]). They are plain sums and
//! comparisons, which no compiler may reorder or fuse, so the hits are the same to the last bit on all of them.
//!
//! *Limits.* Single precision: a position on a surface is good to about 1e-6 of the room's size. Every packet's box is looked at for every
//! ray; above some two hundred pieces a tree would be faster.

use std::sync::OnceLock;

use fearless_simd::{Level, dispatch};
use glam::{DVec3, Vec3};

const LANES: usize = 8;
type Lanes = [f32; LANES];

/// Which vector instructions the loops use: a matter of speed alone.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Instructions {
    /// The widest that this machine has.
    #[default]
    Widest,
    /// Those that every machine of the build's target has.
    Portable,
}

impl Instructions {
    fn level(self) -> Level {
        match self {
            Self::Widest => Level::new(),
            Self::Portable => Level::baseline(),
        }
    }
}

/// What [`Packets::new`] uses, from the first time that anything asks.
static CHOSEN: OnceLock<Instructions> = OnceLock::new();

/// Fixes the instructions of every [`Packets::new`] of this process and returns those in force. The first call decides, or the first
/// room that is traced: call it before.
pub fn choose(instructions: Instructions) -> Instructions {
    *CHOSEN.get_or_init(|| instructions)
}

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

    /// Whether a ray passes its box between `near` and `far`; `inverse` is one over each component of the direction.
    #[inline(always)]
    fn may_meet(&self, origin: Vec3, inverse: Vec3, near: f32, far: f32) -> bool {
        let (first, second) = ((self.low - origin) * inverse, (self.high - origin) * inverse);
        // `min` and `max` leave out what is not a number: a ray that runs within a face of the box.
        let enter = first.x.min(second.x).max(first.y.min(second.y)).max(first.z.min(second.z)).max(near);
        let leave = first.x.max(second.x).min(first.y.max(second.y)).min(first.z.max(second.z)).min(far);
        enter <= leave
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
    /// Of the instructions asked for.
    level: Level,
}

impl Packets {
    /// Packs the pieces, in the order given.
    #[must_use]
    pub fn new(pieces: &[Piece]) -> Self {
        Self::with(choose(Instructions::default()), pieces)
    }

    /// The same with these instructions.
    #[must_use]
    pub fn with(instructions: Instructions, pieces: &[Piece]) -> Self {
        let packets = pieces
            .chunks(LANES)
            .map(|chunk| {
                let mut packet = Packet::EMPTY;
                for (lane, piece) in chunk.iter().enumerate() {
                    set_lane(&mut packet, lane, piece);
                }
                packet
            })
            .collect();
        Self { packets, level: instructions.level() }
    }

    /// The first surface met between `near` and `far`, and how far away it is.
    #[must_use]
    pub fn first_hit(&self, origin: Vec3, direction: Vec3, near: f32, far: f32) -> Option<(u16, f32)> {
        dispatch!(self.level, _simd => first_hit(&self.packets, origin, direction, near, far))
    }

    /// Whether anything is met between `near` and `far`.
    #[must_use]
    pub fn is_blocked(&self, origin: Vec3, direction: Vec3, near: f32, far: f32) -> bool {
        dispatch!(self.level, _simd => is_blocked(&self.packets, origin, direction, near, far))
    }
}

#[inline(always)]
fn first_hit(packets: &[Packet], origin: Vec3, direction: Vec3, near: f32, far: f32) -> Option<(u16, f32)> {
    let mut best = far;
    let mut surface = None;
    let inverse = direction.recip();
    for packet in packets {
        if !packet.may_meet(origin, inverse, near, best) {
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
    surface.map(|surface| (surface, best))
}

#[inline(always)]
fn is_blocked(packets: &[Packet], origin: Vec3, direction: Vec3, near: f32, far: f32) -> bool {
    // A plain loop: a closure handed to an iterator would lose the vector instructions.
    let inverse = direction.recip();
    for packet in packets {
        if packet.may_meet(origin, inverse, near, far) && least(&packet.distances(origin, direction, near, far)) < far {
            return true;
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
