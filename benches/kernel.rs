//! The ray kernel by itself: closest hits of diffuse bounces, one thread, in rooms of more and more triangles.
//!
//! A box of 12 triangles with boxes of 12 in it, at random places; rays begin where a ray before ended and go on by Lambert's law.

use criterion::{Criterion, Throughput};
use glam::{DVec3, Vec3};
use roomwright::geometry::packets::{Packets, Piece};
use roomwright::random::{Purpose, Stream};

use super::attic;

/// Boxes in the room.
const BOXES: [usize; 7] = [0, 4, 10, 20, 32, 100, 832];
const RAYS: usize = 50_000;
/// Away from the surface that a ray leaves, meters.
const NEAR: f32 = 1e-4;

pub(crate) fn benches(criterion: &mut Criterion) {
    let name = |boxes: usize| format!("kernel/closest hit, {} triangles (rays)", 12 * (boxes + 1));
    let names = BOXES.map(name);
    if !attic::asked(&names.each_ref().map(String::as_str)) {
        return;
    }
    for boxes in BOXES {
        let pieces = room(boxes);
        let packets = Packets::new(&pieces);
        let rays = bounces(&packets, &pieces);
        let mut group = criterion.benchmark_group("kernel");
        group.sample_size(10);
        group.throughput(Throughput::Elements(rays.len() as u64));
        let run = || rays.iter().filter_map(|&(origin, direction)| packets.first_hit(origin, direction, NEAR, f32::INFINITY)).count();
        group.bench_function(&name(boxes)["kernel/".len()..], |bencher| bencher.iter(run));
        group.finish();
    }
}

/// A room of 8 x 6 x 4 m with boxes in it, all in triangles.
fn room(boxes: usize) -> Vec<Piece> {
    let mut random = Stream::new(1, Purpose::Search, 0);
    let size = DVec3::new(8.0, 6.0, 4.0);
    let mut pieces = Vec::new();
    cuboid(&mut pieces, DVec3::ZERO, size, true);
    let side = 2.0 / ((boxes + 1) as f64).cbrt();
    for _ in 0..boxes {
        let place = DVec3::new(random.unit(), random.unit(), random.unit()) * (size - side);
        cuboid(&mut pieces, place, place + side * (0.3 + 0.7 * DVec3::new(random.unit(), random.unit(), random.unit())), false);
    }
    pieces
}

/// The twelve triangles of a box; seen from inside or from outside.
fn cuboid(pieces: &mut Vec<Piece>, low: DVec3, high: DVec3, inside: bool) {
    let size = high - low;
    for axis in 0..3 {
        let (one, other) = (DVec3::AXES[(axis + 1) % 3] * size, DVec3::AXES[(axis + 2) % 3] * size);
        for (corner, faces_up) in [(low, false), (low + DVec3::AXES[axis] * size, true)] {
            let surface = (pieces.len() / 2) as u16;
            // `a x b` points into the air.
            let (a, b) = if faces_up == inside { (other, one) } else { (one, other) };
            pieces.push(Piece { surface, corner, a, b, parallelogram: false });
            pieces.push(Piece { surface, corner: corner + a + b, a: -a, b: -b, parallelogram: false });
        }
    }
}

/// Rays that bounce about by Lambert's law.
fn bounces(packets: &Packets, pieces: &[Piece]) -> Vec<(Vec3, Vec3)> {
    let mut random = Stream::new(2, Purpose::Search, 0);
    let mut rays = Vec::with_capacity(RAYS);
    let (mut origin, mut direction) = (Vec3::new(0.05, 0.05, 0.05), Vec3::new(0.3, 0.5, 0.8).normalize_or(Vec3::Z));
    while rays.len() < RAYS {
        rays.push((origin, direction));
        let Some((surface, distance)) = packets.first_hit(origin, direction, NEAR, f32::INFINITY) else {
            (origin, direction) = rays[0];
            continue;
        };
        let piece = &pieces[2 * usize::from(surface)];
        let normal = piece.a.cross(piece.b).normalize_or(DVec3::Z).as_vec3();
        let (height, angle) = (2.0 * random.unit() - 1.0, std::f64::consts::TAU * random.unit());
        let round = (1.0 - height * height).sqrt();
        let on_sphere = DVec3::new(round * angle.cos(), round * angle.sin(), height).as_vec3();
        (origin, direction) = (origin + distance * direction, (normal + on_sphere).normalize_or(normal));
    }
    rays
}
