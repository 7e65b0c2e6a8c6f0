//! Where absorber earns, patch by patch, in the bare attic: one map of the early level, of clarity, of the decay, and all that there is.

use criterion::{Criterion, Throughput};
use roomwright::bands::Band;
use roomwright::hotspots::{self, Octaves};
use roomwright::plan::decay::responses;
use roomwright::plan::flush::Flush;
use roomwright::plan::maps::late_patches;
use roomwright::plan::place::{judged_bands, judged_pairs};
use roomwright::progress::Progress;
use roomwright::room::PatchGrid;
use roomwright::weigh::early::EarlyIndex;
use roomwright::weigh::sensitivity::Quantity;
use roomwright::weigh::{Linings, flat_weights};

use super::{attic, rays};

const EARLY: &str = "early level (hits)";
const DECAY: &str = "decay (hits)";
const CLARITY: &str = "clarity (hits)";
const BOTH: &str = "clarity and decay (hits)";
const ALL: &str = "early level, clarity and decay of each pair in each octave (hits)";

/// Octaves of the decay begin here, Hz: about Schroeder's frequency of the attic.
const SCHROEDER_HZ: f64 = 250.0;

pub(crate) fn benches(criterion: &mut Criterion) {
    let names = [EARLY, DECAY, CLARITY, BOTH, ALL].map(|name| format!("maps/{name}"));
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
    let both = [hotspots::clarity, hotspots::decay]
        .map(|of| of(&traced, &responses, &pairs, Octaves::Together(&bands)).expect("there is a decay"));
    let of = |quantities: &[Quantity]| {
        let grids: Vec<&PatchGrid> = quantities.iter().map(|quantity| if quantity.early { &*traced.room.patches } else { &grid }).collect();
        drop(hotspots::maps(&progress, &traced, &standing, &exchanged, quantities, &grids).expect("nobody cancels"));
    };
    let judged: Vec<Band> = Band::ALL.into_iter().filter(|&band| flat_weights()[band] > 0.0).collect();
    let every: Vec<(usize, usize)> = (0..2).flat_map(|source| (0..2).map(move |receiver| (source, receiver))).collect();
    let each = every.iter().flat_map(|pair| {
        let pair = std::slice::from_ref(pair);
        let octaves = Octaves::Apart(&bands);
        let early = hotspots::early(&traced, &energy, pair, (flat_weights(), Octaves::Apart(&judged)));
        let clarity = hotspots::clarity(&traced, &responses, pair, octaves);
        std::iter::once(early).chain(clarity).chain(hotspots::decay(&traced, &responses, pair, octaves))
    });
    let each: Vec<Quantity> = each.collect();
    let (clarity, both, all) = (|| of(&both[..1]), || of(&both), || of(&each));
    let hits = rays::bounces(&traced.paths);
    let mut group = criterion.benchmark_group("maps");
    group.sample_size(20);
    group.throughput(Throughput::Elements(hits));
    let parts: [(&str, &dyn Fn()); 5] = [(EARLY, &early), (DECAY, &decay), (CLARITY, &clarity), (BOTH, &both), (ALL, &all)];
    for (name, run) in parts {
        group.bench_function(name, |bencher| bencher.iter(run));
        attic::count(&format!("maps/{name}"), &[(hits, "stored hits")], run);
    }
    group.finish();
}
