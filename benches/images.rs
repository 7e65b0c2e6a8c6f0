//! Mirror sources to third order from one loudspeaker to the seven points of the seat's zone.

use std::hint::black_box;

use criterion::{Criterion, Throughput};
use roomwright::images::paths;
use roomwright::progress::Progress;
use roomwright::weigh::zone_points;

use super::attic;

const ORDER: u8 = 3;

pub(crate) fn benches(criterion: &mut Criterion) {
    if !attic::asked(&["images/order 3, bare (paths)", "images/order 3, furnished (paths)"]) {
        return;
    }
    let scene = attic::scene();
    let mut group = criterion.benchmark_group("images");
    group.sample_size(10);
    for (name, room) in [("bare", attic::bare_room(&scene)), ("furnished", attic::furnished_room(&scene))] {
        let points = zone_points(&room, &room.receivers[0]);
        assert_eq!(points.len(), 7, "the whole zone of the attic's seat is inside");
        let source = room.sources[0].position;
        let find = || paths(&Progress::new(), &room, black_box(source), &points, ORDER).expect("nobody cancels");
        let found: usize = find().iter().map(Vec::len).sum();
        attic::say(&format!("images, {name}: {} surfaces, {found} paths to {} points", room.surfaces.len(), points.len()));
        group.throughput(Throughput::Elements(found as u64));
        group.bench_function(format!("order {ORDER}, {name} (paths)"), |bencher| bencher.iter(find));
    }
    group.finish();
}
