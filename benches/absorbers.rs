//! Finishes by angle: layered build-ups, and a row of the table.

use std::hint::black_box;

use criterion::{Criterion, Throughput};
use rayon::prelude::{IntoParallelIterator, ParallelIterator};
use roomwright::absorbers::cache::Cache;
use roomwright::absorbers::{BuildUp, Finish, Layer, table};
use roomwright::bands::{Band, Bands};
use roomwright::scene::Core;

use super::attic;

pub(crate) fn benches(criterion: &mut Criterion) {
    let scene = attic::scene();
    let panel = &scene.stock[0];
    let Core::Porous { flow_resistivity } = panel.core else { panic!("the attic's first stock is porous") };
    criterion.bench_function("absorbers/finish of a layered panel", |bencher| {
        bencher.iter(|| Finish::of("panel", &BuildUp::panel(black_box(flow_resistivity), panel.thickness, panel.gap), Bands::splat(0.1)));
    });
    let row = table::find(&scene.floor_material).expect("the attic's floor is in the table");
    criterion.bench_function("absorbers/finish of a table row", |bencher| bencher.iter(|| black_box(row).finish()));
    build_ups(criterion);
}

/// Build-ups as a search would try them, no two alike, on all cores.
fn build_ups(criterion: &mut Criterion) {
    const COUNT: usize = 1000;
    let shelf: Vec<BuildUp> = (0..COUNT).map(build_up).collect();
    let mut group = criterion.benchmark_group("absorbers/1000 build-ups [build-up]");
    group.throughput(Throughput::Elements(COUNT as u64));
    group.bench_function("diffuse at band centers", |bencher| {
        let centers = |build_up: &BuildUp| Bands::from_fn(|band: Band| build_up.diffuse(band.center()));
        bencher.iter(|| black_box(&shelf).into_par_iter().map(centers).collect::<Vec<_>>());
    });
    group.bench_function("tables by angle, band-averaged", |bencher| {
        bencher.iter(|| black_box(&shelf).into_par_iter().map(|build_up| build_up.bins()[0][Band::new(0)]).collect::<Vec<_>>());
    });
    let cache = Cache::new();
    group.bench_function("tables that were made before", |bencher| {
        bencher.iter(|| black_box(&shelf).into_par_iter().map(|build_up| cache.bins(build_up)[0][Band::new(0)]).collect::<Vec<_>>());
    });
    group.finish();
}

/// A fifth each: bare fiber, before a gap, behind breathing cloth, behind foil and behind a sheet with holes.
fn build_up(index: usize) -> BuildUp {
    let fiber = Layer::fiber(4_000.0 + 30.0 * index as f64, 0.025 + 1e-4 * index as f64);
    let gap = Layer::Air { thickness: 0.02 + 1e-4 * index as f64 };
    match index % 5 {
        0 => BuildUp::new([fiber]),
        1 => BuildUp::new([fiber, gap]),
        2 => BuildUp::new([Layer::Cloth { resistance: 200.0, mass: 0.3 }, fiber, gap]),
        3 => BuildUp::new([Layer::Membrane { mass: 0.1, resistance: 0.0 }, fiber, gap]),
        _ => BuildUp::new([Layer::Perforated { hole: 0.005, open: 0.1, thickness: 0.006 }, fiber, gap]),
    }
}
