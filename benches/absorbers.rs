//! Finishes by angle: a layered build-up, and a row of the table.

use std::hint::black_box;

use criterion::Criterion;
use roomwright::absorbers::{BuildUp, Finish, table};
use roomwright::bands::Bands;
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
    let row = table::find(&scene.floor_material).expect("the attic's floor is in the table");
    criterion.bench_function("absorbers/finish of a table row", |bencher| bencher.iter(|| black_box(row).finish()));
}
