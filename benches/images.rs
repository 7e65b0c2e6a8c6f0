//! Mirror sources from one loudspeaker to the seven points of the seat's zone: the attic to third order, bare, furnished and crowded, and
//! the L-shaped room without its panel to sixth.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput};
use glam::{DVec2, DVec3};
use roomwright::images::paths;
use roomwright::layout::Free;
use roomwright::plan::thumb::even_spread;
use roomwright::progress::Progress;
use roomwright::room::{Bodies, Room, build};
use roomwright::scene::{Block, Panel, Scene, print, read};
use roomwright::weigh::zone_points;

use super::attic;

/// Text of the room that is bare to sixth order.
const L_SHAPED: &str = include_str!("../scenes/l-shaped-rehearsal-room.toml");

/// Panels in the crowded attic.
const PANELS: usize = 30;

pub(crate) fn benches(criterion: &mut Criterion) {
    let names = ["order 3, bare", "order 3, furnished", "order 3, crowded", "order 6, L-shaped, bare"];
    if !attic::asked(&names.map(|name| format!("images/{name} (paths)")).each_ref().map(String::as_str)) {
        return;
    }
    let scene = attic::scene();
    let l_shaped = read(L_SHAPED).expect("the shipped scene reads").0;
    let l_shaped = build(&Scene { panels: Vec::new(), ..l_shaped }, Bodies::All);
    let rooms = [(3, attic::bare_room(&scene)), (3, attic::furnished_room(&scene)), (3, crowded_attic(scene)), (6, l_shaped)];
    let mut group = criterion.benchmark_group("images");
    group.sample_size(10);
    for (name, (order, room)) in names.into_iter().zip(rooms) {
        let points = zone_points(&room, &room.receivers[0]);
        assert_eq!(points.len(), 7, "the whole zone of the seat is inside");
        let source = room.sources[0].position;
        let find = || paths(&Progress::new(), &room, black_box(source), &points, order).expect("nobody cancels");
        let found: usize = find().iter().map(Vec::len).sum();
        attic::say(&format!("images, {name}: {} surfaces, {found} paths to {} points", room.surfaces.len(), points.len()));
        attic::count(&format!("images, {name}"), &[], || drop(black_box(find())));
        group.throughput(Throughput::Elements(found as u64));
        group.bench_function(BenchmarkId::from_parameter(format!("{name} (paths)")), |bencher| bencher.iter(find));
    }
    group.finish();
}

/// The attic with so much furniture that walls, floor, ceiling and boxes are some 40 polygons, and 30 panels hung in it as bodies.
fn crowded_attic(mut scene: Scene) -> Room {
    let block = |(name, center, base, size, degrees): (&str, [f64; 2], f64, [f64; 3], f64)| Block {
        name: name.to_owned(),
        center: DVec2::from(center),
        base,
        size: DVec3::from(size),
        rotation: degrees.to_radians(),
        material: "Solid wooden door".to_owned(),
        scattering: None,
    };
    let furniture = [
        ("left stand", [1.75, 4.57], 0.0, [0.25, 0.25, 0.9], 0.0),
        ("right stand", [3.05, 4.57], 0.0, [0.25, 0.25, 0.9], 0.0),
        ("cabinet", [0.2, 1.4], 0.0, [0.4, 0.8, 0.6], 0.0),
        ("rack", [3.5, 3.2], 0.0, [0.5, 0.5, 0.6], 15.0),
        ("case", [1.0, 2.9], 0.0, [0.5, 0.4, 0.5], -20.0),
    ];
    scene.blocks.extend(furniture.map(block));
    let bare = attic::bare_room(&scene);
    for (kind, count) in scene.stock.iter_mut().zip([30, 4, 6]) {
        kind.count = count;
    }
    let counts: Vec<u32> = scene.stock.iter().map(|kind| kind.count).collect();
    let mut panels: Vec<Panel> = even_spread(&scene, &bare, &Free::new(&scene, &bare), &counts);
    attic::say(&format!("images, crowded: {} polygons before {} panels", bare.surfaces.len(), panels.len()));
    assert!((38..=42).contains(&bare.surfaces.len()) && panels.len() >= PANELS, "the attic is as full as the figure says");
    panels.truncate(PANELS);
    scene.panels = panels;
    assert!(read(&print(&scene)).is_ok(), "everything stands and hangs where it can");
    build(&scene, Bodies::All)
}
