//! The low end of a listening set at the places of a search: the modes of a box in closed form, the figures of the floor, what rays say untouched, threads, pages.

use std::f64::consts::{PI, TAU};
use std::sync::LazyLock;

use glam::DVec3;
use num_complex::Complex64;
use roomwright::absorbers::impedance::from_random_incidence;
use roomwright::findings::bass::BassEvenness;
use roomwright::plan::positions::{PositionsStudy, SetPlace};
use roomwright::progress::{Cancelled, Progress};
use roomwright::report::{self, text};
use roomwright::scene::Scene;
use roomwright::study::{self, BassAsked, PositionsAsked, PositionsError};

use super::edit::read;
use super::schema::check as check_schema;
use super::support::{even_box, on_threads};
use super::text as pages;
use crate::validation::{Check, hold, none};

const SIDES: [f64; 3] = [5.5, 3.4, 2.4];

/// A hard box whose first mode along its length, 31 Hz, is alone in its third octave; two loudspeakers 0.9 m before a seat in the middle of it.
const HARD: &str = concat!(
    even_box!("mixing", "[5.5, 3.4, 2.4]", 200, 2, 0),
    r#"[[loudspeaker]]
name = "left"
position = [3.65, 2.2, 1.1]
directivity = "omni"
[[loudspeaker]]
name = "right"
position = [3.65, 1.2, 1.1]
directivity = "omni"
[[seat]]
name = "seat"
ear = [2.75, 1.7, 1.2]
"#
);

fn hard_of(size: &str) -> Scene {
    let text = HARD.replace("0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2", "0.04, 0.04, 0.04, 0.04, 0.04, 0.04, 0.04, 0.04");
    read(&text.replace("[5.5, 3.4, 2.4]", size))
}

fn hard() -> Scene {
    hard_of("[5.5, 3.4, 2.4]")
}

fn waves(top_hz: f64) -> BassAsked {
    BassAsked { top_hz, others: 0, beside_bare: false, ..BassAsked::default() }
}

fn asked(step_m: f64) -> PositionsAsked {
    PositionsAsked { step_m: Some(step_m), ..PositionsAsked::default() }
}

#[track_caller]
fn done(scene: &Scene, step_m: f64, top_hz: f64) -> PositionsStudy {
    study::positions_with(&Progress::new(), scene, &asked(step_m), Some(&waves(top_hz))).unwrap_or_else(|why| panic!("{why}"))
}

/// A mode of the box: its wave numbers, its complex frequency squared re that of sound, and how many halves of its energy a place may have.
struct Mode {
    waves: DVec3,
    square: Complex64,
    doubled: f64,
}

/// All modes up to some 3.3 kHz, whose sum is right to some percent of the direct sound a meter away; walls with a small admittance: `delta = (c b / 2 V) sum of e S`.
fn modes(speed: f64) -> Vec<Mode> {
    let volume: f64 = SIDES.iter().product();
    let admittance = 1.0 / from_random_incidence(0.04);
    let most = SIDES.map(|side| (60.0 * side / PI) as usize);
    let mut all = Vec::new();
    for x in 0..=most[0] {
        for y in 0..=most[1] {
            for z in 0..=most[2] {
                let halves = [x, y, z];
                let waves = DVec3::from_array([0, 1, 2].map(|axis| PI * halves[axis] as f64 / SIDES[axis]));
                let share = |axis: usize| if halves[axis] == 0 { 1.0 } else { 2.0 };
                let area: f64 = (0..3).map(|axis| 2.0 * volume / SIDES[axis] * share(axis)).sum();
                let delta = speed * admittance / (2.0 * volume) * area;
                if waves.length() < 60.0 {
                    all.push(Mode {
                        waves,
                        square: Complex64::new(waves.length(), delta / speed).powi(2),
                        doubled: (0..3).map(share).product(),
                    });
                }
            }
        }
    }
    all
}

/// Evenness of third octaves 31.5 to 80 Hz by the sum of all modes of a box, `H = (4 pi / V) sum of e p(r) p(s) / (k_n^2 - k^2)` re the free field at 1 m (H. Kuttruff, *Room Acoustics*,
/// chapter 3, from memory); the second weakest third octave re the weakest besides.
fn by_modes(all: &[Mode], speed: f64, seat: DVec3, sources: &[DVec3]) -> (BassEvenness, f64) {
    let volume: f64 = SIDES.iter().product();
    let shape = |mode: &Mode, at: DVec3| (mode.waves * at).to_array().map(f64::cos).iter().product::<f64>();
    let weights: Vec<f64> =
        all.iter().map(|mode| mode.doubled * shape(mode, seat) * sources.iter().map(|source| shape(mode, *source)).sum::<f64>()).collect();
    let free: f64 = sources.iter().map(|source| source.distance(seat).powi(-2)).sum();
    let energy = |frequency: f64| {
        let k = TAU * frequency / speed;
        let sum: Complex64 = all.iter().zip(&weights).map(|(mode, weight)| weight / (mode.square - k * k)).sum();
        (4.0 * PI / volume * sum).norm_sqr() / free
    };
    let thirds = [(31.5, 15), (40.0, 16), (50.0, 17), (63.0, 18), (80.0, 19)];
    let level = |(nominal, index): &(f64, i32)| {
        let middle = 10.0_f64.powf(f64::from(*index) / 10.0);
        let (low, high) = (middle / 10.0_f64.powf(0.05), (middle * 10.0_f64.powf(0.05)).min(80.0));
        let count = (high - low).ceil() as u32;
        let at = |line: u32| low + (f64::from(line) + 0.5) * (high - low) / f64::from(count);
        (10.0 * ((0..count).map(|line| energy(at(line))).sum::<f64>() / f64::from(count)).log10(), *nominal)
    };
    let mut levels: Vec<(f64, f64)> = thirds.iter().map(level).collect();
    let mean = levels.iter().map(|level| level.0).sum::<f64>() / levels.len() as f64;
    let evenness_db = (levels.iter().map(|level| (level.0 - mean).powi(2)).sum::<f64>() / levels.len() as f64).sqrt();
    levels.sort_by(|a, b| a.0.total_cmp(&b.0));
    (BassEvenness { evenness_db, weakest_db: levels[0].0 - mean, weakest_hz: levels[0].1 }, levels[1].0 - levels[0].0)
}

/// Where seat and sources stand at a place, by hand.
fn points(place: SetPlace) -> (DVec3, [DVec3; 2]) {
    let turn = glam::DVec2::from_angle(f64::from(place.turned_deg).to_radians());
    let at = |x: f64, y: f64, z: f64| (place.middle() + turn.rotate(glam::DVec2::new(x, y))).extend(z);
    (at(0.0, 0.0, 1.2), [at(0.9, 0.5, 1.1), at(0.9, -0.5, 1.1)])
}

const SUM: &str =
    "sum of all modes of a box, H = (4 pi / V) sum of e p(r) p(s) / (k_n^2 - k^2) (H. Kuttruff, Room Acoustics, ch. 3, from memory)";

/// What is told of places beside the sum of modes: every place of the grid, the present one and every finalist.
pub(crate) struct AtPlaces {
    pub(crate) evenness: Vec<Check>,
    pub(crate) weakest: Vec<Check>,
    /// Weakest third octaves that are others, where one is weaker than the next by a decibel.
    pub(crate) others: Check,
}

/// Some third octave is all but lost at some places: what is lost is off by more.
pub(crate) static AT_PLACES: LazyLock<AtPlaces> = LazyLock::new(|| {
    let scene = hard();
    let speed = study::room(&scene).medium.speed;
    let study = done(&scene, 1.0, 80.0);
    let all = modes(speed);
    let (mut evenness, mut weakest, mut others, mut of) = (Vec::new(), Vec::new(), 0, 0);
    let tried = study.tried.iter().map(|one| (one.place, one.figures.bass));
    let count = tried.len();
    let more = study.finalists.iter().map(|one| (one.place, one.bass));
    for (place, told) in tried.chain([(study.present.place, study.present.bass)]).chain(more) {
        let told = told.expect("in the air");
        let (seat, sources) = points(place);
        let (exact, ahead) = by_modes(&all, speed, seat, &sources);
        let row = |what: &str, ours: f64, expected: f64, tolerance: f64, why| Check {
            what: format!("third octaves 31.5 to 80 Hz of a hard box, seat at {:.2} m, {:.2} m: {what}, dB", seat.x, seat.y),
            ours,
            expected,
            tolerance,
            why,
            source: SUM,
        };
        evenness.push(row("off their mean", told.evenness_db, exact.evenness_db, 0.5, "cells, and a sum that is right to some percent"));
        let why = "what is all but lost is off by more";
        weakest.push(row("the weakest re the mean", told.weakest_db, exact.weakest_db, 1.0, why));
        if ahead >= 1.0 {
            of += 1;
            others += usize::from(told.weakest_hz != exact.weakest_hz);
        }
    }
    let even = evenness[..count].iter().map(|row: &Check| row.expected);
    let (low, high) = even.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| (low.min(one), high.max(one)));
    assert!(count >= 10 && high - low > 3.0, "{count} places of {low} to {high} dB: one told for another would not show");
    let what = format!("the same: weakest third octaves that are others, of {of} that are weaker than all others by 1 dB");
    AtPlaces { evenness, weakest, others: none(what, others, "none may", SUM) }
});

#[test]
fn published_evenness_of_a_box_at_every_place() {
    hold(&AT_PLACES.evenness);
    hold(&AT_PLACES.weakest);
    hold(std::slice::from_ref(&AT_PLACES.others));
}

/// Half way along a box the pressure of its first mode is `cos(pi / 2)`: nobody there hears its third octave, whoever sits off it does (H. Kuttruff, *Room Acoustics*, chapter 3, from memory). In this
/// box every other third octave holds a mode that is heard.
pub(crate) static HALF_WAY: LazyLock<Vec<Check>> = LazyLock::new(|| {
    let at = |x: f64| {
        let mut scene = hard_of("[5.5, 4.3, 3.4]");
        scene.seats[0].ear = DVec3::new(x, 1.2, 1.2);
        scene.sources.iter_mut().zip([1.7, 0.7]).for_each(|(source, y)| source.position = DVec3::new(x + 0.9, y, 1.1));
        done(&scene, 1.0, 80.0).present.bass.expect("in the air")
    };
    let half_way = at(2.75);
    assert!(half_way.weakest_db < -7.0, "{half_way:?}");
    let row = |along: f64, told: BassEvenness, expected: f64| Check {
        what: format!("hard box 5.5 m long, seat {along} m along it: weakest third octave, Hz"),
        ours: told.weakest_hz,
        expected,
        tolerance: 1e-9,
        why: "a name",
        source: "half way along a box nobody hears its first mode, cos(pi / 2) (H. Kuttruff, Room Acoustics, ch. 3, from memory)",
    };
    vec![row(2.75, half_way, 31.5), row(1.0, at(1.0), 80.0), row(3.5, at(3.5), 80.0)]
});

#[test]
fn published_first_mode_is_lost_half_way() {
    hold(&HALF_WAY);
}

/// The map over the floor runs from the loudspeakers, a place of the set from the seat: at one point both tell the same.
#[test]
fn keeps_the_figures_of_the_floor() {
    let scene = hard();
    let bass = study::bass(&Progress::new(), &scene, &waves(80.0)).expect("it can be");
    let floor = bass.stands.floor.expect("the room as it stands has one");
    let place = floor.places[floor.at_receivers[0]];
    let mut there = scene;
    there.seats[0].ear = DVec3::new(place.point_m[0], place.point_m[1], floor.height_m);
    // The loudspeakers stay where they were heard from.
    let study = done(&there, 1.0, 80.0);
    let told = study.present.bass.expect("in the air");
    assert!((told.evenness_db - place.evenness_db).abs() < 0.02 && (told.weakest_db - place.weakest_db).abs() < 0.05, "{told:?} {place:?}");
    assert_eq!(told.weakest_hz, place.weakest_hz);
    let low = study.bass.expect("waves were asked for");
    assert_eq!((low.sources.as_slice(), low.octaves_hz), (floor.sources.as_slice(), floor.octaves_hz));
}

/// Waves stand beside the score: rays say what they say without them, and the evenest place is no less even than any other that was heard like it.
#[test]
fn keeps_the_low_end_out_of_the_score() {
    let scene = hard();
    let rays = study::positions(&Progress::new(), &scene, &asked(1.0)).expect("it moves");
    let study = done(&scene, 1.0, 80.0);
    assert!(rays.bass.is_none() && rays.present.bass.is_none() && rays.finalists.iter().all(|one| one.bass.is_none()));
    assert_eq!(rays.finalists.len(), study.finalists.len());
    for one in &rays.finalists {
        let same = study.finalists.iter().find(|other| other.place == one.place).expect("the same places");
        assert_eq!((same.score_steps, same.is_better, &same.standing), (one.score_steps, one.is_better, &one.standing));
    }
    assert!(study.finalists.is_sorted_by_key(|one| one.number) && study.finalists[0].number == 1);
    let present = study.present.bass.expect("in the air").evenness_db;
    let evenest = study.bass.as_ref().and_then(|bass| bass.evenest.as_ref()).expect("one is");
    assert!(evenest.bass.evenness_db <= present);
    for one in &study.finalists {
        let own = one.bass.expect("in the air").evenness_db;
        assert!(evenest.bass.evenness_db <= own && one.evener_db == Some(present - own));
    }
    // What is better by more than its error is never behind what is not, where rays leave them open.
    let first = study.finalists.iter().position(|one| one.is_better);
    assert_eq!(first.is_some(), study.suggested().is_some(), "a suggestion stands first");
}

#[test]
fn keeps_low_ends_with_1_and_3_threads() {
    let scene = hard();
    let json = |threads: usize| on_threads(threads, || serde_json::to_string(&done(&scene, 1.0, 80.0)).expect("JSON"));
    assert!(json(1) == json(3), "threads show");
}

#[test]
fn keeps_low_ends_on_the_page_and_reasons_why_there_are_none() {
    let scene = hard();
    let study = done(&scene, 1.0, 80.0);
    check_schema(&study);
    let page = text::positions(&scene, &study);
    pages::keeps_its_columns(&page);
    assert!(study.reasons.iter().any(|reason| reason.contains("third octaves of 31.5 to 80 Hz are off their mean by")), "{page}");
    assert!(!page.contains("Bass is not computed") && !page.contains("NaN"), "{page}");
    let files = report::positions_files(&scene, &study);
    let html = String::from_utf8(files[0].1.clone()).expect("UTF-8");
    assert!(
        files.iter().any(|file| file.0 == "positions-bass.svg")
            && html.contains("positions-bass.svg")
            && html.contains("For the low end alone")
    );
    // Too little memory: said so, and the rest stands.
    let little = BassAsked { memory: 1000, ..waves(80.0) };
    let without = study::positions_with(&Progress::new(), &scene, &asked(1.0), Some(&little)).expect("rays need none of it");
    assert!(without.bass.is_none() && without.notes[0].starts_with("The low end was not computed: "), "{:?}", without.notes);
    assert!(text::positions(&scene, &without).contains("Bass is not computed"));
    let progress = Progress::new();
    progress.cancel();
    let stopped = study::positions_with(&progress, &scene, &asked(1.0), Some(&waves(80.0)));
    assert_eq!(stopped, Err(PositionsError::Stopped(Cancelled)));
}
