//! Where absorber earns, patch by patch: one map of the early level, one of the decay, in the bare attic.

use criterion::{Criterion, Throughput};
use roomwright::hotspots;
use roomwright::plan::decay::responses;
use roomwright::plan::flush::Flush;
use roomwright::plan::maps::late_patches;
use roomwright::plan::place::{judged_bands, judged_pairs};
use roomwright::progress::Progress;
use roomwright::weigh::early::EarlyIndex;
use roomwright::weigh::{Linings, flat_weights};

use super::{attic, rays};

const EARLY: &str = "early level (hits)";
const DECAY: &str = "decay (hits)";

/// Octaves of the decay begin here, Hz: about Schroeder's frequency of the attic.
const SCHROEDER_HZ: f64 = 250.0;

pub(crate) fn benches(criterion: &mut Criterion) {
    let names = [EARLY, DECAY].map(|name| format!("maps/{name}"));
    if !attic::asked(&names.each_ref().map(String::as_str)) {
        return;
    }
    let scene = attic::scene();
    let traced = attic::traced(&scene);
    let progress = Progress::new();
    let flush = Flush::new(&scene, &traced.room);
    let standing = flush.linings(&scene.panels);
    let exchanged = Linings::everywhere(&traced.room, &flush.finish(0, 0.05));
    let index = EarlyIndex::new(&progress, &traced).expect("nobody cancels");
    let energy = index.weigh(&progress, &standing).expect("nobody cancels");
    let responses = responses(&progress, &traced, &standing).expect("nobody cancels");
    let pairs = judged_pairs(&scene, &traced.room);
    let bands = judged_bands(SCHROEDER_HZ);
    let grid = late_patches(&traced.room);

    let early = || {
        drop(
            hotspots::early_maps(&progress, &traced, &standing, &[&exchanged], &energy, (&pairs, flat_weights())).expect("nobody cancels"),
        );
    };
    let decay = || {
        drop(
            hotspots::late_maps(&progress, &traced, &standing, &[&exchanged], &grid, &responses, (&pairs, &bands)).expect("nobody cancels"),
        );
    };
    let hits = rays::bounces(&traced.paths);
    let mut group = criterion.benchmark_group("maps");
    group.sample_size(20);
    group.throughput(Throughput::Elements(hits));
    let parts: [(&str, &dyn Fn()); 2] = [(EARLY, &early), (DECAY, &decay)];
    for (name, run) in parts {
        group.bench_function(name, |bencher| bencher.iter(run));
        attic::count(&format!("maps/{name}"), &[(hits, "stored hits")], run);
    }
    group.finish();
}
