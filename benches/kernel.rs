//! The ray kernel by itself, one thread: closest hits of diffuse bounces, and whole bounces, in rooms of more and more boxes.
//!
//! Closest hits: a room with boxes at random places, all in triangles, rays that begin where a ray before ended; by looking at all pieces
//! and by the tree, which tells where one should give way to the other. Whole bounces: a hall with boxes as the viewer is timed with,
//! random numbers, hit, what is written down of it, and the new direction, as they are traced for every room; and the same without
//! writing anything down.
//!
//! With `ROOMWRIGHT_PEER="PROGRAM LIBRARY"`, the program of `benches/peer` and the library that it loads, the peer does the same in turns with
//! ours, on the same triangles, and the ratios are printed.

use criterion::Criterion;
use glam::{DVec3, Vec3};
use rayon::ThreadPoolBuilder;
use roomwright::absorbers::Finish;
use roomwright::bands::Bands;
use roomwright::geometry::instructions::Instructions;
use roomwright::geometry::packets::{First, NOTHING, Packets, Piece};
use roomwright::progress::Progress;
use roomwright::random::{Purpose, Stream};
use roomwright::rays::{self, Flights};
use roomwright::room::{Bodies, Room, Surface, build};
use roomwright::scene;
use roomwright::settings::Settings;

use super::attic::{self, median};
use super::crowd_scene;
use super::peer_program::Peer;

/// Boxes in the rooms for closest hits.
const BOXES: [usize; 9] = [0, 2, 4, 6, 10, 20, 32, 100, 832];
/// Those of them that the peer is run in too, and those in the halls for whole bounces.
pub(crate) const HALLS: [usize; 3] = [0, 32, 832];
const RAYS: usize = 100_000;
/// Turns of each with the other; the middle one counts.
const TURNS: usize = 7;

pub(crate) fn benches(_: &mut Criterion) {
    if !attic::asked(&["kernel"]) {
        return;
    }
    let peer = Peer::asked();
    for boxes in BOXES {
        closest_hits(boxes, peer.as_ref());
    }
    for boxes in HALLS {
        whole_bounces(boxes as u32, peer.as_ref());
    }
}

fn closest_hits(boxes: usize, peer: Option<&Peer>) {
    let pieces = room(boxes);
    let packets = [false, true].map(|by_tree| Packets::forced(Instructions::Widest, &pieces, by_tree));
    let (is_tree, reckoned) = (Packets::new(&pieces).is_tree(), Packets::costs(&pieces));
    let rays = bounces(&packets[1], &pieces);
    let peer = peer.filter(|_| HALLS.contains(&boxes)).map(|peer| (peer, peer.files("hits", &corners(&pieces), &rays)));
    let (mut ours, mut theirs, mut missed) = ([Vec::new(), Vec::new()], Vec::new(), 0);
    for _ in 0..TURNS {
        for (ours, packets) in ours.iter_mut().zip(&packets) {
            let mut firsts = vec![First { distance: f32::INFINITY, surface: NOTHING }; rays.len()];
            let begin = attic::now();
            packets.first_of(&rays, &mut firsts);
            ours.push(rays.len() as f64 / begin.elapsed().as_secs_f64() / 1e6);
            missed = firsts.iter().filter(|first| first.surface == NOTHING).count();
        }
        theirs.extend(peer.as_ref().map(|(peer, files)| peer.run("replay", &files.0, &[&files.1.display().to_string()])));
    }
    let [list, tree] = ours.map(median);
    let (own, chosen) = if is_tree { (tree, "tree") } else { (list, "list") };
    attic::say(&format!(
        "kernel/closest hit, {} triangles: list {list:.1}, tree {tree:.1} million rays/s, {:.1} and {:.1} ns (reckoned {reckoned:.1?}); \
         chosen: {chosen}; {missed} missed{}",
        12 * (boxes + 1),
        1e3 / list,
        1e3 / tree,
        beside(own, &theirs),
    ));
}

fn whole_bounces(boxes: u32, peer: Option<&Peer>) {
    let (hall, triangles) = hall(boxes);
    // About two million bounces.
    let end_s = 50.0 * hall.mean_free_path() / hall.medium.speed;
    let settings = all_stored(40_000, end_s);
    let pool = ThreadPoolBuilder::new().num_threads(1).build().expect("one thread can be had");
    let peer = peer.map(|peer| (peer, peer.files("bounces", &triangles, &[])));
    let (mut stored, mut alone, mut theirs, mut escaped) = (Vec::new(), Vec::new(), Vec::new(), 0);
    for _ in 0..TURNS {
        let begin = attic::now();
        let paths = pool.install(|| rays::trace(&Progress::new(), &hall, &settings, end_s)).expect("nobody cancels");
        stored.push(super::rays::bounces(&paths) as f64 / begin.elapsed().as_secs_f64() / 1e6);
        escaped = paths.escaped;
        drop(paths);
        let begin = attic::now();
        // So many that what comes before the first ray, which the peer leaves out too, is no more than a hundredth.
        let flights = Flights { rays: 10_000, left_out: 0, counted: 2_000 };
        let paths = pool.install(|| rays::free_paths(&Progress::new(), &hall, &settings, flights)).expect("nobody cancels");
        alone.push(paths[0].count as f64 / begin.elapsed().as_secs_f64() / 1e6);
        theirs.extend(peer.as_ref().map(|(peer, files)| peer.run("bounce", &files.0, &["1000000"])));
    }
    let (stored, alone, count) = (median(stored), median(alone), triangles.len() / 3);
    attic::say(&format!("kernel/whole bounce, {count} triangles: {alone:.1} million bounces/s{}", beside(alone, &theirs)));
    attic::say(&format!("kernel/the same, stored: {stored:.1} million bounces/s, {escaped} escaped{}", beside(stored, &theirs)));
}

/// What the peer did, and how many times as much that we did.
fn beside(own: f64, theirs: &[[f64; 2]]) -> String {
    if theirs.is_empty() {
        return String::new();
    }
    let [fast, robust] = [0, 1].map(|scene| median(theirs.iter().map(|both| both[scene]).collect()));
    format!("; Embree fast {fast:.1}, robust {robust:.1}: {:.2} and {:.2} times as much", own / fast, own / robust)
}

/// Three corners of each triangle.
fn corners(pieces: &[Piece]) -> Vec<DVec3> {
    pieces.iter().flat_map(|piece| [piece.corner, piece.corner + piece.a, piece.corner + piece.b]).collect()
}

/// So many rays until the end, no tail apart from them: the rays that are sent ahead go as far as the early part, so that must not be longer.
pub(crate) fn all_stored(rays: u32, end_s: f64) -> Settings {
    Settings { rays, tail_one_in: 1, early_s: end_s, image_order: 0, ..Settings::DEFAULT }
}

/// A hall with boxes, nobody to listen, all of it scattering by Lambert's law; and its triangles.
pub(crate) fn hall(boxes: u32) -> (Room, Vec<DVec3>) {
    let scene = scene::read(&crowd_scene::text(boxes)).expect("the hall is without mistakes").0;
    let mut room = build(&scene, Bodies::Standing);
    for finish in &mut room.finishes {
        *finish = Finish::uniform("even", Bands::splat(0.1), Bands::splat(1.0));
    }
    room.takes_patches = false;
    room.receivers.clear();
    room.sources.truncate(1);
    let triangles = triangles(&room);
    (room, triangles)
}

/// Three corners of each triangle of a room's surfaces.
pub(crate) fn triangles(room: &Room) -> Vec<DVec3> {
    let of = |surface: &Surface| {
        let triangles = surface.outline.triangles().into_iter().flatten();
        triangles.map(|corner| surface.chart.point(corner)).collect::<Vec<_>>()
    };
    room.surfaces.iter().flat_map(of).collect()
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
        let Some((surface, distance)) = packets.first_hit(origin, direction, f32::INFINITY) else {
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
