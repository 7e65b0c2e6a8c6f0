//! The one bench binary: throughput in the units of the job (rays a second, re-weighings a second), on scenes of `scenes/`.
//!
//! Results go to `benches/RESULTS.md` by hand, with machine and commit.

use criterion::Criterion;

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    survey(&mut criterion);
    criterion.final_summary();
}

/// Reading, checking and surveying the attic room: the answer before anything is traced.
fn survey(criterion: &mut Criterion) {
    let text = include_str!("../scenes/attic-voice-room.toml");
    criterion.bench_function("survey, attic voice room", |bencher| {
        bencher.iter(|| roomwright::scene::read(std::hint::black_box(text)).map(|(scene, _)| roomwright::study::survey(&scene)));
    });
}
