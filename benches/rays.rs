//! Tracing: rays and bounces a second, and what a stored ray takes.

use criterion::{Criterion, Throughput};
use roomwright::plan::place::record_length;
use roomwright::progress::Progress;
use roomwright::rays::{Paths, trace};
use roomwright::room::Room;
use roomwright::scene::Scene;

use super::attic;

pub(crate) fn benches(criterion: &mut Criterion) {
    let names =
        ["rays/trace, bare (rays)", "rays/trace, bare (bounces)", "rays/trace, furnished (rays)", "rays/trace, furnished (bounces)"];
    if !attic::asked(&names) {
        return;
    }
    let scene = attic::scene();
    let hung = Scene { panels: attic::spread(&scene), ..scene.clone() };
    let mut group = criterion.benchmark_group("rays");
    group.sample_size(10);
    for (name, scene, room) in [("bare", &scene, attic::bare_room(&scene)), ("furnished", &hung, attic::furnished_room(&scene))] {
        let end_s = record_length(&Progress::new(), &room, &scene.settings).expect("nobody cancels");
        let run = || trace(&Progress::new(), &room, &scene.settings, end_s).expect("nobody cancels");
        let paths = run();
        stored(name, &room, &paths);
        group.throughput(Throughput::Elements(paths.traced));
        group.bench_function(format!("trace, {name} (rays)"), |bencher| bencher.iter(run));
        attic::count(&format!("rays/trace, {name}"), &[(paths.traced, "rays"), (bounces(&paths), "bounces")], || drop(run()));
    }
    group.finish();
}

/// Bounces in store.
pub(crate) fn bounces(paths: &Paths) -> u64 {
    paths.groups.iter().flat_map(|(_, sources)| sources).flat_map(|source| &source.chunks).map(|chunk| chunk.hits.len() as u64).sum()
}

fn stored(name: &str, room: &Room, paths: &Paths) {
    attic::say(&format!(
        "rays, {name}: {} rays ({} sources x {} groups of bands), {} bounces, {:.1} a ray, {:.3} s of travel; {:.1} MB stored, {:.0} bytes a ray, {:.1} a bounce",
        paths.traced,
        room.sources.len(),
        paths.groups.len(),
        bounces(paths),
        bounces(paths) as f64 / paths.traced as f64,
        paths.end_s,
        paths.bytes() as f64 / 1e6,
        paths.bytes() as f64 / paths.traced as f64,
        paths.bytes() as f64 / bounces(paths) as f64,
    ));
}
