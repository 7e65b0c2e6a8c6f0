//! What does a second thread bring, and what do more rays cost?
//!
//! Gain: how many times as much two threads do as one, for whole bounces with and without what is written down of them in a hall with boxes, and
//! for the attic traced as shipped and heard as a whole. With a peer (see `peer_program`) it bounces in the same triangles on one thread and on
//! two, in turns with ours, and the ratio of the two gains of each turn is told: what two processors give less than twice one, because of their
//! clock, their memory or whoever else uses the machine, is in both.
//!
//! Rays: the attic with more and more rays a source, and how far the times are from the straight line that fits them best.
//!
//! *Limits.* What else runs on the machine takes from two threads more than from one. Freeing the store is not in the times; what comes before
//! the first ray is not in those of the bounces, as building is not in the peer's, but in all of the attic's.

use std::path::Path;

use criterion::Criterion;
use rayon::{ThreadPool, ThreadPoolBuilder};
use roomwright::plan::place::record_length;
use roomwright::progress::Progress;
use roomwright::rays::{self, Flights};
use roomwright::settings::{BATCHES, Settings};
use roomwright::study;

use super::attic::{self, median};
use super::kernel::{HALLS, all_stored, hall, triangles};
use super::peer_program::Peer;
use super::rays::bounces;

const BOUNCES: &str = "gain/whole bounces, one thread to two (bounces)";
const ATTIC: &str = "gain/attic traced and heard, one thread to two (rays)";
const LINE: &str = "gain/attic with more and more rays (rays)";

/// Turns of each with the others; the middle one counts.
const TURNS: usize = 9;
/// What is timed takes about this long on one thread, seconds: so long that neither the start of a thread nor a tick of the scheduler matters.
const LONG_S: f64 = 0.25;
/// Share of the peer's gain that ours should be at the least.
const WANTED: f64 = 0.95;
/// Share of a processor that others may take in a turn that counts, and how many times as many turns are tried at the most as are wanted.
const OTHERS: f64 = 0.05;
const TRIES: usize = 3;
/// Rays of each source, and turns with all of these.
const RAYS: [u32; 4] = [50_000, 100_000, 200_000, 400_000];
const LINE_TURNS: usize = 5;

pub(crate) fn benches(_: &mut Criterion) {
    let asked = |name| attic::asked(&[name]);
    if ![BOUNCES, ATTIC, LINE].into_iter().any(asked) {
        return;
    }
    let peer = Peer::asked();
    if asked(BOUNCES) {
        HALLS.iter().for_each(|&boxes| whole_bounces(boxes as u32, peer.as_ref()));
    }
    if asked(ATTIC) {
        of_attic(peer.as_ref());
    }
    if asked(LINE) {
        more_and_more_rays();
    }
}

/// Something of ours to do again and again, timed from within: millions of its unit a second.
type Work<'a> = (&'a str, &'a (dyn Fn() -> f64 + Sync));

fn whole_bounces(boxes: u32, peer: Option<&Peer>) {
    let (hall, triangles) = hall(boxes);
    let unstored = |rays: f64| {
        let flights = Flights { rays: rays as u64, left_out: 0, counted: 200 };
        timed(|| rays::free_paths(&Progress::new(), &hall, &Settings::DEFAULT, flights).expect("nobody cancels"), |paths| paths[0].count)
    };
    let end_s = 50.0 * hall.mean_free_path() / hall.medium.speed;
    let stored = |rays: f64| {
        let settings = all_stored(rays as u32, end_s);
        timed(|| rays::trace(&Progress::new(), &hall, &settings, end_s).expect("nobody cancels"), bounces)
    };
    // The least that can be traced tells what comes before the first ray.
    let least = [1.0, f64::from(BATCHES)];
    let [one, _] = pools();
    let rays = one.install(|| [enough(unstored, 5000.0), enough(stored, 10_000.0)]);
    let mesh = peer.map(|peer| (peer, peer.files("gain", &triangles, &[]).0));
    let peer = mesh.as_ref().map(|(peer, mesh)| (*peer, mesh.as_path()));
    let count = triangles.len() / 3;
    gain(
        &format!("gain/whole bounces, {count} triangles"),
        "bounces",
        &[("", &|| beyond(unstored(least[0]), unstored(rays[0]))), (", stored", &|| beyond(stored(least[1]), stored(rays[1])))],
        peer,
    );
    let before = pools().map(|pool| {
        let of = |work: &(dyn Fn() -> f64 + Sync)| 1e3 * median((0..TURNS).map(|_| pool.install(work)).collect());
        [of(&|| unstored(least[0]).1), of(&|| stored(least[1]).1)]
    });
    attic::say(&format!(
        "gain/before the first ray, {count} triangles: {:.1} ms on one thread, {:.1} on two; where bounces are stored {:.1} and {:.1}",
        before[0][0], before[1][0], before[0][1], before[1][1]
    ));
}

fn of_attic(peer: Option<&Peer>) {
    let scene = attic::scene();
    let room = attic::bare_room(&scene);
    let end_s = record_length(&Progress::new(), &room, &scene.settings).expect("nobody cancels");
    let mesh = peer.map(|peer| (peer, peer.files("attic", &triangles(&room), &[]).0));
    let peer = mesh.as_ref().map(|(peer, mesh)| (*peer, mesh.as_path()));
    let rays = u64::from(scene.settings.rays) * scene.sources.len() as u64;
    let traced = || speed(timed(|| rays::trace(&Progress::new(), &room, &scene.settings, end_s).expect("nobody cancels"), |_| rays));
    let heard = || speed(timed(|| study::hear(&Progress::new(), &scene).expect("nobody cancels"), |_| rays));
    gain("gain/attic", "rays", &[(" traced", &traced), (" heard as a whole", &heard)], peer);
}

/// How much of something was done, and in how many seconds; to free the result takes none.
fn timed<T>(work: impl FnOnce() -> T, count: impl FnOnce(&T) -> u64) -> (f64, f64) {
    let begin = attic::now();
    let done = work();
    let seconds = begin.elapsed().as_secs_f64();
    (count(&done) as f64, seconds)
}

/// Millions a second.
fn speed((count, seconds): (f64, f64)) -> f64 {
    count / seconds / 1e6
}

/// Millions a second of what the second did more than the first.
fn beyond(first: (f64, f64), second: (f64, f64)) -> f64 {
    speed((second.0 - first.0, second.1 - first.1))
}

/// As many rays as are traced in about [`LONG_S`], from the times of two tries.
fn enough(work: impl Fn(f64) -> (f64, f64), few: f64) -> f64 {
    LONG_S * few / (work(2.0 * few).1 - work(few).1).max(1e-4)
}

/// One thread and two.
fn pools() -> [ThreadPool; 2] {
    [1, 2].map(|threads| ThreadPoolBuilder::new().num_threads(threads).build().expect("threads can be had"))
}

/// Ours and the peer on one thread and on two, in turns.
fn gain(name: &str, unit: &str, works: &[Work<'_>], peer: Option<(&Peer, &Path)>) {
    let pools = pools();
    let bounce = |(peer, mesh): (&Peer, &Path), count: f64, threads: usize| {
        peer.run("bounce", mesh, &[&format!("{count:.0}"), &threads.to_string()])[0]
    };
    let count = peer.map_or(0.0, |peer| 1e6 * bounce(peer, 1e5, 1) * LONG_S);
    let turn = |turn: usize| {
        let mut own = vec![[0.0; 2]; works.len()];
        let mut beside = [0.0; 2];
        // Every other turn begins with two, so that a machine that grows slower or faster favours neither.
        for at in [turn % 2, 1 - turn % 2] {
            for (own, (_, work)) in own.iter_mut().zip(works) {
                own[at] = pools[at].install(work);
            }
            beside[at] = peer.map_or(0.0, |peer| bounce(peer, count, at + 1));
        }
        (own, beside)
    };
    let (turns, note) = undisturbed(TURNS, turn);
    let theirs: Vec<[f64; 2]> = turns.iter().map(|turn| turn.1).collect();
    for (index, (what, _)) in works.iter().enumerate() {
        let own: Vec<[f64; 2]> = turns.iter().map(|turn| turn.0[index]).collect();
        let beside = peer.map_or_else(String::new, |_| beside(&own, &theirs));
        attic::say(&format!("{name}{what}: {} million {unit}/s{beside}{note}", told(&own)));
    }
}

/// So many turns in which nobody else ran, and what is to be said of the others. Where there are not enough, all count, and it is told.
fn undisturbed<T>(wanted: usize, turn: impl Fn(usize) -> T) -> (Vec<T>, String) {
    let (mut quiet, mut loud) = (Vec::new(), Vec::new());
    for tried in 0..TRIES * wanted {
        let (before, begin) = (attic::others_s(), attic::now());
        let done = turn(tried);
        let others = attic::others_s().zip(before).map_or(0.0, |(after, before)| (after - before) / begin.elapsed().as_secs_f64());
        if others < OTHERS { &mut quiet } else { &mut loud }.push(done);
        if quiet.len() == wanted {
            let out = loud.len();
            return (quiet, if out == 0 { String::new() } else { format!("; {out} turns in which others ran are left out") });
        }
    }
    let note = format!("; NOT TO BE TRUSTED: others ran in {} of {} turns", loud.len(), loud.len() + quiet.len());
    quiet.append(&mut loud);
    (quiet, note)
}

/// Speeds on one thread and on two, and the gain.
fn told(speeds: &[[f64; 2]]) -> String {
    let of = |at: usize| median(speeds.iter().map(|both| both[at]).collect());
    format!("{:.2} to {:.2} ({:.3} times)", of(0), of(1), median(speeds.iter().map(|[one, two]| two / one).collect()))
}

/// The same of the peer, and what our gain is of its.
fn beside(own: &[[f64; 2]], theirs: &[[f64; 2]]) -> String {
    let mut ratios: Vec<f64> = own.iter().zip(theirs).map(|(own, theirs)| own[1] / own[0] / (theirs[1] / theirs[0])).collect();
    ratios.sort_by(f64::total_cmp);
    let [low, middle, high] = [1, 2, 3].map(|quarter| ratios[quarter * (ratios.len() - 1) / 4]);
    format!(
        "; Embree fast {} million bounces/s: {middle:.3} of its gain (half of the turns {low:.3} to {high:.3}; wanted {WANTED})",
        told(theirs)
    )
}

fn more_and_more_rays() {
    let scene = attic::scene();
    let room = attic::bare_room(&scene);
    let end_s = record_length(&Progress::new(), &room, &scene.settings).expect("nobody cancels");
    let [one, _] = pools();
    let turn = |_| {
        RAYS.map(|rays| {
            let settings = Settings { rays, ..scene.settings.clone() };
            let trace = || rays::trace(&Progress::new(), &room, &settings, end_s).expect("nobody cancels");
            let (count, seconds) = timed(|| one.install(trace), |paths| u64::from(paths.rays) * room.sources.len() as u64);
            1e9 * seconds / count
        })
    };
    let (turns, note) = undisturbed(LINE_TURNS, turn);
    let times: [f64; RAYS.len()] = std::array::from_fn(|at| median(turns.iter().map(|times| times[at]).collect()));
    let all = RAYS.map(|rays| f64::from(rays) * room.sources.len() as f64);
    let (at_once, a_ray) = line(&all, &times);
    let each: Vec<String> = RAYS.iter().zip(times).map(|(rays, time)| format!("{time:.0} with {rays}")).collect();
    let departures = all.iter().zip(times).map(|(all, time)| time / (a_ray + at_once / all) - 1.0);
    let farthest = departures.fold(0.0, |farthest: f64, departure| if departure.abs() > farthest.abs() { departure } else { farthest });
    attic::say(&format!(
        "gain/attic with more and more rays, one thread: ns a ray {} a source; the line through them: {:.2} ms and {a_ray:.0} ns a ray, farthest from it {:+.1} %{note}",
        each.join(", "),
        1e-6 * at_once,
        100.0 * farthest,
    ));
}

/// Time at once and time a ray, of the line from which the times a ray depart least in their own measure, by least squares.
fn line(rays: &[f64], times: &[f64]) -> (f64, f64) {
    // at_once / (rays time) + a_ray / time = 1.
    let rows: Vec<[f64; 2]> = rays.iter().zip(times).map(|(rays, time)| [1.0 / (rays * time), 1.0 / time]).collect();
    let sum = |of: fn(&[f64; 2]) -> f64| rows.iter().map(of).sum::<f64>();
    let (first, mixed, second) = (sum(|row| row[0] * row[0]), sum(|row| row[0] * row[1]), sum(|row| row[1] * row[1]));
    let (to_first, to_second) = (sum(|row| row[0]), sum(|row| row[1]));
    let determinant = first * second - mixed * mixed;
    ((to_first * second - to_second * mixed) / determinant, (first * to_second - mixed * to_first) / determinant)
}
