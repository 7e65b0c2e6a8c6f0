//! A hall with ten thousand triangles of boxes: each step from the text to the first findings, as the viewer walks them.

use criterion::Criterion;
use roomwright::hanging::from_panels;
use roomwright::progress::Progress;
use roomwright::scene::{self, Editor};
use roomwright::study::{self, Live};

use super::{attic, crowd_scene};

/// Boxes of twelve triangles.
const BOXES: u32 = 833;
/// Rays of the viewer's first look.
const FIRST_LOOK: u32 = 1000;

const STEPS: [&str; 8] = [
    "crowd/read and check",
    "crowd/edit",
    "crowd/room",
    "crowd/survey",
    "crowd/first trace",
    "crowd/first early window",
    "crowd/first hot spots",
    "crowd/first findings",
];

pub(crate) fn benches(criterion: &mut Criterion) {
    if !attic::asked(&STEPS) {
        return;
    }
    let text = crowd_scene::text(BOXES);
    let progress = Progress::new();
    let scene = scene::read(&text).expect("the hall is without mistakes").0;
    let kind = &scene.stock[study::usual_panel(&scene).expect("the starter has stock")];
    let traced = study::trace_for_trials(&progress, &scene, FIRST_LOOK).expect("nobody cancels");
    let hanging = from_panels(&scene, &traced.room, &scene.panels);
    let mut group = criterion.benchmark_group("crowd");
    group.sample_size(10);
    group.bench_function("read and check", |bencher| bencher.iter(|| scene::read(&text)));
    let moved = scene.sources[0].position + glam::DVec3::new(0.02, 0.01, 0.0);
    group.bench_function("edit", |bencher| {
        bencher.iter(|| {
            let mut editor = Editor::new(&text).expect("the hall reads");
            editor.move_source(&scene.sources[0].name, moved).expect("it is there");
            editor.finish().expect("it may stand there")
        });
    });
    group.bench_function("room", |bencher| bencher.iter(|| study::room(&scene)));
    group.bench_function("survey", |bencher| bencher.iter(|| study::survey(&scene)));
    group.bench_function("first trace", |bencher| bencher.iter(|| study::trace_for_trials(&progress, &scene, FIRST_LOOK)));
    group.bench_function("first early window", |bencher| {
        bencher.iter(|| Live::new(&progress, &traced).and_then(|mut live| live.early(&progress, &scene)));
    });
    let live = Live::new(&progress, &traced).expect("nobody cancels");
    group.bench_function("first hot spots", |bencher| bencher.iter(|| live.hot_spots(&scene, kind)));
    group.bench_function("first findings", |bencher| bencher.iter(|| study::study(&progress, &scene, &traced, &hanging)));
    group.finish();
}
