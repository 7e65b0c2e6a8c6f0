//! Finishes by angle: layered build-ups, and a row of the table; panels of finite size.

use std::hint::black_box;

use criterion::{Criterion, Throughput};
use glam::DVec2;
use num_complex::Complex64;
use rayon::prelude::{IntoParallelIterator, ParallelIterator};
use roomwright::absorbers::cache::Cache;
use roomwright::absorbers::sized::sample::Sample;
use roomwright::absorbers::sized::{Array, Rectangle};
use roomwright::absorbers::{BuildUp, Finish, Layer, table};
use roomwright::bands::{Band, Bands};
use roomwright::scene::Core;

use super::attic;

pub(crate) fn benches(criterion: &mut Criterion) {
    let scene = attic::scene();
    let panel = &scene.stock[0];
    let Core::Porous(filling) = &panel.core else { panic!("the attic's first stock is porous") };
    let flow_resistivity = filling.resistivity().likely;
    criterion.bench_function("absorbers/finish of a layered panel", |bencher| {
        bencher.iter(|| Finish::of("panel", &BuildUp::panel(black_box(flow_resistivity), panel.thickness, panel.gap), Bands::splat(0.1)));
    });
    sized(criterion);
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

/// Panels of finite size: the radiation of a size in all octaves, then materials on it, and a table's value turned back.
fn sized(criterion: &mut Criterion) {
    let panel = |index: f64| Rectangle::sized(0.6, 1.2).expect("a size").moved(DVec2::new(0.75 * index, 0.0));
    let (one, four) = ([panel(0.0)], [0.0, 1.0, 2.0, 3.0].map(panel));
    for (name, panels) in [("one panel", &one[..]), ("a row of four with gaps", &four[..])] {
        criterion.bench_function(&format!("absorbers/radiation of {name}, all octaves"), |bencher| {
            bencher.iter(|| Array::new(black_box(panels)).expect("panels").octaves());
        });
    }
    let octaves = Array::new(&one).expect("a panel").octaves();
    criterion.bench_function("absorbers/a material on a known size, all octaves", |bencher| {
        bencher.iter(|| octaves.absorption(|_, cosine| Complex64::new(black_box(1.5), cosine - 2.0)));
    });
    let sample = Sample::usual();
    criterion.bench_function("absorbers/a table's row turned back into a material", |bencher| {
        bencher.iter(|| sample.material(black_box(Bands([0.3, 0.6, 0.9, 1.0, 1.1, 1.0, 0.9, 0.8]))));
    });
}
