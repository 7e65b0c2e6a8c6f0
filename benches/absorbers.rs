//! Finishes by angle: a layered build-up, and a row of the table; panels of finite size.

use std::hint::black_box;

use criterion::Criterion;
use glam::DVec2;
use num_complex::Complex64;
use roomwright::absorbers::sized::sample::Sample;
use roomwright::absorbers::sized::{Array, Rectangle};
use roomwright::absorbers::{Finish, table};
use roomwright::bands::Bands;
use roomwright::scene::Core;

use super::attic;

pub(crate) fn benches(criterion: &mut Criterion) {
    let scene = attic::scene();
    let panel = &scene.stock[0];
    let Core::Porous { flow_resistivity } = panel.core else { panic!("the attic's first stock is porous") };
    criterion.bench_function("absorbers/finish of a layered panel", |bencher| {
        bencher.iter(|| Finish::layered("panel", black_box(flow_resistivity), panel.thickness, panel.gap, Bands::splat(0.1)));
    });
    sized(criterion);
    let row = table::find(&scene.floor_material).expect("the attic's floor is in the table");
    criterion.bench_function("absorbers/finish of a table row", |bencher| bencher.iter(|| black_box(row).finish()));
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
