//! Reading, checking and measuring a scene: the answer before anything is traced.

use std::hint::black_box;

use criterion::Criterion;
use roomwright::scene::read;
use roomwright::study;

use super::attic;

const SCENES: [(&str, &str); 3] = [
    ("attic", attic::TEXT),
    ("basement", include_str!("../scenes/basement-mix-room.toml")),
    ("l-shaped", include_str!("../scenes/l-shaped-rehearsal-room.toml")),
];

pub(crate) fn benches(criterion: &mut Criterion) {
    for (name, text) in SCENES {
        criterion.bench_function(&format!("survey/read, check, measure, {name}"), |bencher| {
            bencher.iter(|| read(black_box(text)).map(|(scene, _)| study::survey(&scene)));
        });
    }
}
