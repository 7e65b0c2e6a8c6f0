//! Whole commands as a person runs them, in a process of their own, and the steps of the search that count.
//!
//! *Limits.* Memory and processor time are read from `/proc` and are left out where there is none; the peak is read every 5 ms, so
//! what grows and ends within that is missed, and commands under 50 ms show none.

use std::fs;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

use criterion::{Criterion, Throughput};
use roomwright::findings::survey::survey;
use roomwright::layout::{Free, candidates};
use roomwright::plan::flush::Flush;
use roomwright::plan::place::{asked_range, judged_bands, judged_pairs, search_paths, spots};
use roomwright::plan::score::Ground;
use roomwright::plan::search::{Corners, Found, Goal, places, search};
use roomwright::plan::stock::Stock;
use roomwright::progress::Progress;
use roomwright::scene::{PanelType, Scene};
use roomwright::study;
use roomwright::weigh::Linings;
use roomwright::weigh::early::{Change, EarlyIndex};

use super::attic;

/// Runs of each command.
const RUNS: usize = 3;

/// Grid of places, meters.
const STEP: f64 = 0.1;

/// Places weighed exactly in one iteration, taken evenly from all.
const WEIGHED: usize = 64;

pub(crate) fn benches(criterion: &mut Criterion) {
    let scene = attic::scene();
    let mut group = criterion.benchmark_group("place");
    group.sample_size(10);
    if attic::asked(&["place/candidates of one type (places)", "place/candidates weighed exactly, one thread (candidates)"]) {
        let room = attic::bare_room(&scene);
        let free = Free::new(&scene, &room);
        let count = candidates(&scene, &room, &free, &scene.stock[0], STEP).len();
        group.throughput(Throughput::Elements(count as u64));
        group.bench_function("candidates of one type (places)", |bencher| {
            bencher.iter(|| candidates(&scene, &room, &free, &scene.stock[0], STEP));
        });

        let traced = attic::traced(&scene);
        let progress = Progress::new();
        let flush = Flush::new(&scene, &traced.room);
        let standing = flush.without_margins(&scene.panels);
        let index = EarlyIndex::new(&progress, &traced).expect("nobody cancels");
        let state = index.weigh(&progress, &standing).expect("nobody cancels");
        let all = candidates(&scene, &traced.room, &free, &scene.stock[0], STEP);
        let some: Vec<_> = all.iter().step_by((all.len() / WEIGHED).max(1)).take(WEIGHED).collect();
        group.throughput(Throughput::Elements(some.len() as u64));
        group.bench_function("candidates weighed exactly, one thread (candidates)", |bencher| {
            bencher.iter(|| {
                for candidate in &some {
                    let after = flush.without_margins(std::slice::from_ref(&candidate.panel));
                    let changed = places(&flush, &candidate.panel);
                    std::hint::black_box(index.difference(&state, &Change { before: &standing, after: &after, places: &changed }));
                }
            });
        });
    }
    group.finish();

    // A group of its own: what is counted above is not counted here.
    let mut group = criterion.benchmark_group("hear");
    group.sample_size(10);
    if attic::asked(&["hear/findings, without start and pictures"]) {
        let hear = || drop(study::hear(&Progress::new(), &scene).expect("nobody cancels"));
        group.bench_function("findings, without start and pictures", |bencher| bencher.iter(hear));
        attic::count("hear/findings, without start and pictures", &[], hear);
    }
    group.finish();
}

/// From the scene to the places of its stock, without what is drawn and judged afterwards: the attic with more and more panels, and with two types of them, so with twice as many places.
pub(crate) fn searches() {
    for (panels, types) in [(6, 1), (12, 1), (24, 1), (24, 2)] {
        let mut scene = attic::scene();
        let wall_panel = scene.stock[0].clone();
        // Walls alone: what hangs in corners and under the ceiling has few places.
        scene.stock = (0..types).map(|number| PanelType { count: panels / types, ..thicker(&wall_panel, number) }).collect();
        let room = attic::bare_room(&scene);
        let free = Free::new(&scene, &room);
        let places: usize = scene.stock.iter().map(|kind| candidates(&scene, &room, &free, kind, STEP).len()).sum();
        let name = format!("search/{panels} panels among {places} places");
        if attic::asked(&[name.as_str()]) {
            attic::count(&name, &[], || {
                assert!(!found(&scene).hung.is_empty(), "panels are worth something in the attic");
            });
        }
    }
}

/// The same panel 10 mm thicker, and again, by another name.
fn thicker(panel: &PanelType, number: u32) -> PanelType {
    PanelType { name: format!("{} {number}", panel.name), thickness: panel.thickness + 0.01 * f64::from(number), ..panel.clone() }
}

/// What the search finds, from the scene on.
fn found(scene: &Scene) -> Found {
    let progress = Progress::new();
    let traced = attic::traced(scene);
    let (pairs, standing) = (judged_pairs(scene, &traced.room), survey(scene, &traced.room));
    let bands = judged_bands(standing.schroeder_hz);
    let target = asked_range(scene, &standing);
    let goal = Goal { pairs: &pairs, bands: &bands, target, weights: scene.goals.weights(scene.activity) };
    let flush = Flush::new(scene, &traced.room);
    let exchanged = Linings::everywhere(&traced.room, &flush.finish(0, scene.stock[0].gap));
    let spots = spots(&traced, &flush.linings(&scene.panels), &exchanged, &pairs);
    let paths = search_paths(&progress, scene).expect("nobody cancels");
    let index = EarlyIndex::new(&progress, &paths).expect("nobody cancels");
    let trials = Flush::for_trials(scene, &paths.room);
    let ground = Ground { traced: &paths, index: &index, flush: &trials, goal: &goal };
    search(&progress, &Stock::of(scene), ground, (&spots, &Corners::default())).expect("nobody cancels")
}

/// `survey`, `hear` and `place` of the attic, each in a process of its own.
pub(crate) fn commands() {
    for command in ["survey", "hear", "place"] {
        if attic::asked(&[format!("command/{command}").as_str()]) {
            let mut runs: Vec<Run> = (0..RUNS).map(|_| run(command)).collect();
            runs.sort_by_key(|run| run.wall);
            let middle = &runs[RUNS / 2];
            let peak = runs.iter().filter_map(|run| run.peak_kb).max();
            attic::say(&format!(
                "command/{command:<7} wall [{:.3} s {:.3} s {:.3} s]  user {}  peak {}",
                runs[0].wall.as_secs_f64(),
                middle.wall.as_secs_f64(),
                runs[RUNS - 1].wall.as_secs_f64(),
                middle.user_s.map_or_else(|| "not measured".to_owned(), |user| format!("{user:.2} s")),
                peak.map_or_else(|| "not measured".to_owned(), |peak| format!("{:.0} MB", peak as f64 * 1.024e-3)),
            ));
        }
    }
}

/// After this the program runs, whatever the system did to start it.
const STARTED: Duration = Duration::from_millis(50);

struct Run {
    wall: Duration,
    user_s: Option<f64>,
    peak_kb: Option<u64>,
}

fn run(command: &str) -> Run {
    let folder = std::env::temp_dir().join(format!("roomwright-bench-{}", std::process::id()));
    let before = attic::user_s(attic::CHILDREN);
    let begin = attic::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_roomwright"))
        .args([command, concat!(env!("CARGO_MANIFEST_DIR"), "/scenes/attic-voice-room.toml"), "--out"])
        .arg(&folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts");
    let mut peak_kb = None;
    let status = loop {
        // A process that has only begun is not the program yet, and small: a command shorter than this has no peak to show.
        if begin.elapsed() > STARTED {
            peak_kb = peak_kb.max(high_water_kb(child.id()));
        }
        if let Some(status) = child.try_wait().expect("the program can be waited for") {
            break status;
        }
        sleep(Duration::from_millis(5));
    };
    let wall = begin.elapsed();
    let user_s = attic::user_s(attic::CHILDREN).zip(before).map(|(after, before)| after - before);
    assert!(status.success(), "`{command}` of a shipped scene ends well");
    if folder.exists() {
        fs::remove_dir_all(&folder).expect("what was just written can be removed");
    }
    Run { wall, user_s, peak_kb }
}

/// Most memory a process has had so far, in units of 1024 bytes.
fn high_water_kb(process: u32) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?.split_whitespace().next()?.parse().ok()
}
