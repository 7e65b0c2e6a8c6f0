//! One flat panel dragged about in the attic with its stock hung, as the viewer does it but for the screen: from the command to the new
//! findings of the early window. The text is edited and read, the layout is weighed; for what moves a body of the room, the room is built anew.
//!
//! What it must reach: 20 times a second on two cores, with the scene's 100,000 rays. And the first look at a loudspeaker dragged about,
//! which needs new paths.

use std::cell::Cell;

use criterion::Criterion;
use roomwright::progress::Progress;
use roomwright::scene::{Editor, PanelPlace, Scene, with_panels};
use roomwright::study::{self, EarlyFindings, Live, same_room};

use super::attic;

const DRAG: &str = "drag/one flat panel, command to early findings";
const TEXT: &str = "drag/of it the text: edit, read";
const ROOM: &str = "drag/the room, where it is another one";
const COARSE: &str = "drag/a loudspeaker, new paths to early findings (1,000 rays)";

pub(crate) fn benches(criterion: &mut Criterion) {
    if !attic::asked(&[DRAG, TEXT, ROOM, COARSE]) {
        return;
    }
    let progress = Progress::new();
    let bare = attic::scene();
    let hung = with_panels(attic::TEXT, &attic::spread(&bare)).expect("the rule of thumb hangs where it may");
    let scene = Editor::new(&hung).expect("a scene").scene().clone();
    let traced = study::trace_for_trials(&progress, &scene, scene.settings.rays).expect("nobody cancels");
    let mut live = Live::new(&progress, &traced).expect("nobody cancels");
    live.early(&progress, &scene).expect("nobody cancels");

    let movable = movable(&hung, &scene);
    let next = Cell::new(0);
    let edit = || {
        next.set(next.get() + 1);
        let (panel, places) = &movable[next.get() % movable.len()];
        moved((&hung, &scene), *panel, &places[next.get() / movable.len() % places.len()])
    };
    let live = std::cell::RefCell::new(live);
    let drag = || -> EarlyFindings {
        let after = edit();
        assert!(same_room(&scene, &after), "a flat panel is no geometry");
        live.borrow_mut().early(&progress, &after).expect("nobody cancels")
    };
    criterion.bench_function(DRAG, |bencher| bencher.iter(drag));
    attic::count(DRAG, &[], || drop(drag()));
    criterion.bench_function(TEXT, |bencher| bencher.iter(edit));
    criterion.bench_function(ROOM, |bencher| bencher.iter(|| study::room(&scene)));

    let coarse = || {
        let traced = study::trace_for_trials(&progress, &scene, 1_000).expect("nobody cancels");
        Live::new(&progress, &traced).and_then(|mut live| live.early(&progress, &scene)).expect("nobody cancels")
    };
    let mut group = criterion.benchmark_group("coarse");
    group.sample_size(10);
    group.bench_function(COARSE, |bencher| bencher.iter(coarse));
    group.finish();
    attic::count(COARSE, &[], || drop(coarse()));
}

/// The flat panels that can be moved a little, each with places to move to.
fn movable(text: &str, scene: &Scene) -> Vec<(usize, Vec<PanelPlace>)> {
    let places = |panel: usize| -> Vec<PanelPlace> {
        let PanelPlace::Surface { ref surface, left, bottom, lying, gap } = scene.panels[panel].place else { return Vec::new() };
        let at = |step: i32| PanelPlace::Surface { surface: surface.clone(), left: left + 0.01 * f64::from(step), bottom, lying, gap };
        let fits = |place: &PanelPlace| {
            let mut editor = Editor::of(text, scene);
            editor.move_panel(panel, place).is_ok() && editor.finish().is_ok()
        };
        (-10..=10).filter(|step| *step != 0).map(at).filter(fits).collect()
    };
    let all: Vec<_> = (0..scene.panels.len()).map(|panel| (panel, places(panel))).filter(|(_, places)| !places.is_empty()).collect();
    assert!(all.len() >= 4, "too few panels can be moved");
    all
}

fn moved((text, scene): (&str, &Scene), panel: usize, place: &PanelPlace) -> Scene {
    let mut editor = Editor::of(text, scene);
    editor.move_panel(panel, place).expect("there is this panel");
    editor.finish().expect("tried before").scene
}
