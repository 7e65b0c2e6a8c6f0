//! One flush panel moved in the attic with its stock hung: what the early window does, and what everything does.
//!
//! Each iteration moves the next of the flat panels, so a figure is the mean over them. Making the linings is part of it.

use std::cell::Cell;
use std::time::Duration;

use criterion::{Criterion, Throughput};
use roomwright::bands::Band;
use roomwright::plan::decay::responses;
use roomwright::plan::flush::Flush;
use roomwright::progress::Progress;
use roomwright::scene::{Panel, PanelPlace};
use roomwright::weigh::early::{Change, EarlyIndex};
use roomwright::weigh::{Linings, landing, weigh_rays};

use super::{attic, rays};

const EARLY: &str = "early window, one panel moved";
const LININGS: &str = "linings alone";
const EVERYTHING: &str = "everything, one panel moved (hits)";
const CURVES: &str = "everything, ray curves alone (hits)";
const WINDOW: &str = "early window of all paths (hits)";
const INDEX: &str = "index of the early window (hits)";
const LANDING: &str = "energy that lands, one source, one octave (hits)";

/// How far a panel moves, meters.
const MOVE: f64 = 0.05;

pub(crate) fn benches(criterion: &mut Criterion) {
    let names = [EARLY, LININGS, EVERYTHING, CURVES, WINDOW, INDEX, LANDING].map(|name| format!("reweigh/{name}"));
    if !attic::asked(&names.each_ref().map(String::as_str)) {
        return;
    }
    let scene = attic::scene();
    let traced = attic::traced(&scene);
    let progress = Progress::new();
    let flush = Flush::new(&scene, &traced.room);
    let panels = attic::spread(&scene);
    let moves = moved(&panels);
    let hung = flush.hanging(&panels);
    let standing = Linings::new(&traced.room, &hung);
    let index = EarlyIndex::new(&progress, &traced).expect("nobody cancels");
    let state = index.weigh(&progress, &standing).expect("nobody cancels");
    let early = |after: &Vec<Panel>| {
        let after = flush.hanging(after);
        let changed = hung.differing(&after);
        index.difference(&state, &Change { before: &standing, after: &Linings::new(&traced.room, &after), places: &changed })
    };
    let next = Cell::new(0);
    let step = || {
        next.set((next.get() + 1) % moves.len());
        &moves[next.get()]
    };
    let slowest = moves.iter().map(|case| median(|| drop(early(case)))).max().expect("flat panels hang");
    attic::say(&format!("reweigh/early: the slowest of {} panels takes {:.2} ms", moves.len(), 1e3 * slowest.as_secs_f64()));

    let hits = rays::bounces(&traced.paths);
    let mut group = criterion.benchmark_group("reweigh");
    group.sample_size(20);
    group.bench_function(EARLY, |bencher| bencher.iter(|| early(step())));
    attic::count(&format!("reweigh/{EARLY}"), &[], || drop(early(step())));
    group.bench_function(LININGS, |bencher| bencher.iter(|| flush.linings(step())));
    group.throughput(Throughput::Elements(hits));
    let everything = || drop(responses(&progress, &traced, &flush.linings(step())).expect("nobody cancels"));
    let curves = || drop(weigh_rays(&progress, &traced, &standing).expect("nobody cancels"));
    let window = || drop(index.weigh(&progress, &flush.linings(step())).expect("nobody cancels"));
    let indexed = || drop(EarlyIndex::new(&progress, &traced).expect("nobody cancels"));
    let landing = || drop(landing::landing(&progress, &traced, &standing, 0, Band::new(4)).expect("nobody cancels"));
    let parts: [(&str, &dyn Fn()); 5] =
        [(EVERYTHING, &everything), (CURVES, &curves), (WINDOW, &window), (INDEX, &indexed), (LANDING, &landing)];
    for (name, run) in parts {
        group.bench_function(name, |bencher| bencher.iter(run));
        attic::count(&format!("reweigh/{name}"), &[(hits, "stored hits")], run);
    }
    group.finish();
}

/// All panels with each flat one moved by itself.
fn moved(panels: &[Panel]) -> Vec<Vec<Panel>> {
    (0..panels.len())
        .filter_map(|number| {
            let mut after = panels.to_vec();
            let PanelPlace::Surface { left, .. } = &mut after[number].place else { return None };
            *left += MOVE;
            Some(after)
        })
        .collect()
}

/// Median of eleven runs.
fn median(run: impl Fn()) -> Duration {
    let mut times: Vec<Duration> = (0..11)
        .map(|_| {
            let begin = attic::now();
            run();
            begin.elapsed()
        })
        .collect();
    times.sort_unstable();
    times[times.len() / 2]
}
