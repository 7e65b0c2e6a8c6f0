//! No ray slips through a closed surface, however it is cut into pieces and wherever it is aimed.

use std::sync::LazyLock;

use glam::{DMat3, DVec3, Vec3};
use roomwright::geometry::instructions::Instructions;
use roomwright::geometry::packets::{First, NOTHING, Packets, Piece};
use roomwright::random::{Purpose, Stream};
use roomwright::rays::{Flights, free_paths};

use roomwright::bands::Bands;
use roomwright::progress::Progress;
use roomwright::settings::Settings;

use crate::rays::uniform_box;

const SIZE: DVec3 = DVec3::new(5.1, 3.9, 2.6);

/// A box that stands askew and off the origin, so that nothing about it is a round number.
struct Askew {
    turn: DMat3,
    shift: DVec3,
    pieces: Vec<Piece>,
    /// Corners of all pieces.
    corners: Vec<DVec3>,
}

impl Askew {
    /// Each face cut into `n x n` rectangles of two triangles, or left whole; neighbors have unlike `n`, so that corners meet edges.
    fn new(cuts: [u32; 3]) -> Self {
        let turn = DMat3::from_axis_angle(DVec3::new(1.0, 2.0, 3.0).try_normalize().expect("length"), 0.7);
        let shift = DVec3::new(3.3, -1.7, 0.9);
        let (mut pieces, mut corners) = (Vec::new(), Vec::new());
        for (axis, n) in cuts.into_iter().enumerate() {
            let (one, other) = (DVec3::AXES[(axis + 1) % 3] * SIZE, DVec3::AXES[(axis + 2) % 3] * SIZE);
            for (corner, is_far) in [(DVec3::ZERO, false), (DVec3::AXES[axis] * SIZE, true)] {
                let surface = pieces.len() as u16;
                // `a x b` points into the air.
                let (a, b) = if is_far { (other, one) } else { (one, other) };
                if n == 0 {
                    pieces.push(Piece { surface, corner: turn * corner + shift, a: turn * a, b: turn * b, parallelogram: true });
                    corners.extend([corner, corner + a, corner + b, corner + a + b].map(|at| turn * at + shift));
                }
                for (i, j) in (0..n * n).map(|index| (f64::from(index % n), f64::from(index / n))) {
                    let (a, b) = (a / f64::from(n), b / f64::from(n));
                    let at = |x: f64, y: f64| turn * (corner + a * x + b * y) + shift;
                    let cell = [at(i, j), at(i + 1.0, j), at(i, j + 1.0), at(i + 1.0, j + 1.0)];
                    corners.extend(cell);
                    for [from, to_a, to_b] in [[cell[0], cell[1], cell[2]], [cell[3], cell[2], cell[1]]] {
                        let surface = pieces.len() as u16;
                        pieces.push(Piece { surface, corner: from, a: to_a - from, b: to_b - from, parallelogram: false });
                    }
                }
            }
        }
        Self { turn, shift, pieces, corners }
    }

    /// How far a ray goes within the box.
    fn exact(&self, origin: Vec3, direction: Vec3) -> f64 {
        let [from, along] = [origin.as_dvec3() - self.shift, direction.as_dvec3()].map(|vector| self.turn.transpose() * vector);
        (0..3)
            .map(|axis| (if along[axis] > 0.0 { SIZE[axis] - from[axis] } else { -from[axis] }) / along[axis])
            .fold(f64::INFINITY, f64::min)
    }
}

/// Rays aimed at corners, edges and diagonals of the pieces, each from where the one before it ended.
fn no_ray_slips(askew: &Askew, packets: &Packets) {
    let mut random = Stream::new(7, Purpose::Search, 0);
    let mut pick = |count: usize| ((random.unit() * count as f64) as usize).min(count - 1);
    let mut origin = (askew.turn * (0.5 * SIZE) + askew.shift).as_vec3();
    let mut met = 0;
    for step in 0..200_000 {
        let [one, other] = [0, 1].map(|_| askew.corners[pick(askew.corners.len())]);
        // A corner, or a point on the line between two, which is an edge, a diagonal or a point within the room.
        let target = if step % 2 == 0 { one } else { one.lerp(other, f64::from(pick(1000) as u32) / 999.0) };
        let Some(direction) = (target - origin.as_dvec3()).try_normalize().map(DVec3::as_vec3) else { continue };
        let mut first = [First { distance: f32::INFINITY, surface: NOTHING }];
        packets.first_of(&[(origin, direction)], &mut first);
        let exact = askew.exact(origin, direction);
        if first[0].surface == NOTHING {
            // Away from the room it may meet nothing: so it begins in a wall and runs out of it.
            assert!(exact < 2e-5, "step {step}: slips from {origin} along {direction}, {exact} m before a wall");
            continue;
        }
        let distance = first[0].distance;
        met += 1;
        let end = askew.turn.transpose() * ((origin + distance * direction).as_dvec3() - askew.shift);
        let out = (-end).max(end - SIZE).max_element();
        assert!(out < 2e-5, "step {step}: ends {out} m beyond a wall");
        origin += distance * direction;
    }
    assert!(met > 150_000, "{met} met");
}

#[test]
fn keeps_every_ray_in_a_box_however_it_is_cut() {
    for cuts in [[0, 0, 0], [1, 1, 1], [2, 3, 1], [7, 5, 11]] {
        let askew = Askew::new(cuts);
        for by_tree in [false, true] {
            for with in [Instructions::Widest, Instructions::Portable] {
                no_ray_slips(&askew, &Packets::forced(with, &askew.pieces, by_tree));
            }
        }
    }
}

/// Sizes of two boxes in meters, one of them flat; how often rays were followed from wall to wall there, and how many of them slipped out.
pub(crate) static SLIPPED: LazyLock<[([f64; 3], u64, u64); 2]> = LazyLock::new(|| {
    [[3.0; 3], [10.0, 10.0, 0.4]].map(|size| {
        let middle = 0.4 * DVec3::from(size);
        let room = uniform_box(size, 0.1, Bands::splat(1.0), middle, middle);
        let flights = Flights { rays: 200_000, left_out: 0, counted: 200 };
        let paths = free_paths(&Progress::new(), &room, &Settings::DEFAULT, flights).expect("nobody cancels");
        (size, paths[0].count, paths[0].escaped)
    })
});

/// Forty million bounces in each of two boxes: three in twelve million slipped out by a corner before pieces reached a hair beyond what they are.
#[test]
fn keeps_millions_of_bounces_within() {
    for &(size, count, escaped) in &*SLIPPED {
        assert_eq!((count, escaped), (40_000_000, 0), "{size:?}");
    }
}
