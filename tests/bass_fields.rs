//! The low end all over the room and over time: shapes and pressures of a box, a lone mode that dies away, what criteria say of boxes counted by hand, pictures.

use std::f64::consts::PI;
use std::sync::LazyLock;

use glam::DVec3;
use roomwright::absorbers::impedance::from_random_incidence;
use roomwright::findings::bass::{BoxSpread, SideRatio};
use roomwright::progress::Progress;
use roomwright::report::{self, raster};
use roomwright::scene::Scene;
use roomwright::study::{self, BassAsked, BassFields, BassStudy, Complex64, MEMORY};
use roomwright::wave::{Pulse, Record, record::readers};

use super::bass::MIXING;
use super::edit::read;
use super::support::taking;
use crate::validation::{Check, hold};

const SIDES: DVec3 = DVec3::new(5.1, 3.9, 2.6);
/// What its walls take.
const HARD: f64 = 0.04;

fn done(scene: &Scene, top_hz: f64) -> (BassStudy, BassFields) {
    let asked = BassAsked { top_hz, memory: MEMORY, others: 0, beside_bare: true };
    study::waves(&Progress::new(), scene, &asked).map(|run| (run.study, run.fields)).unwrap_or_else(|why| panic!("{why}"))
}

/// The box of `bass`, harder.
fn hard() -> Scene {
    read(&taking(MIXING, 0.04))
}

/// Shapes of a box with hard walls: `cos(nx pi x / lx) cos(ny pi y / ly) cos(nz pi z / lz)` (H. Kuttruff, *Room Acoustics*, chapter 3, from memory).
#[test]
fn exact_shapes_of_a_box_at_every_place() {
    let (study, fields) = done(&hard(), 100.0);
    let rigid = study.box_modes.as_ref().expect("it is a box");
    assert_eq!(fields.modes_hz, study.stands.modes.iter().map(|mode| mode.frequency_hz).collect::<Vec<_>>());
    assert!(rigid.len() > 8 && rigid.len() == fields.modes_hz.len(), "{:?}", fields.modes_hz);
    for (mode, wanted) in rigid.iter().enumerate() {
        let waves = DVec3::from_array(wanted.half_waves.map(f64::from)) * PI / SIDES;
        let exact = |point: &DVec3| (waves * *point).to_array().map(f64::cos).iter().product::<f64>();
        let exact: Vec<f64> = fields.points.iter().map(exact).collect();
        let loudest = exact.iter().fold(0.0_f64, |loudest, value| loudest.max(value.abs()));
        let shape = fields.shape(mode);
        // Its sign is free.
        let sign = shape.iter().zip(&exact).map(|(found, wanted)| found * wanted).sum::<f64>().signum();
        let off = shape.iter().zip(&exact).map(|(found, wanted)| (found - sign * wanted / loudest).abs()).fold(0.0, f64::max);
        assert!(off < 0.03, "{:?} is off by {off}", wanted.half_waves);
        assert_eq!(shape.iter().fold(0.0_f64, |loudest, value| loudest.max(value.abs())), 1.0);
    }
}

#[test]
fn pressures_are_those_that_a_seat_there_hears() {
    let mut scene = read(MIXING);
    let (_, before) = done(&scene, 80.0);
    let place = before.points.len() / 2 + 3;
    scene.seats[0].ear = before.points[place];
    let (study, fields) = done(&scene, 80.0);
    assert_eq!(fields.points, before.points);
    for (together, response) in [&[0][..], &[1], &[0, 1]].into_iter().zip(&study.stands.responses) {
        // A seat is put together from the cells round it, right to the fourth degree: from 70 Hz on, a tenth of a percent less in cells of 150 mm.
        for (frequency, level) in
            study.frequencies_hz.iter().zip(&response.level_db).step_by(10).filter(|(frequency, _)| **frequency < 70.0)
        {
            let pressures = fields.pressures(together, *frequency);
            let speed = study::room(&scene).medium.speed;
            let free = |source: &usize| {
                let distance = scene.sources[*source].position.distance(scene.seats[0].ear);
                Complex64::cis(-2.0 * PI * frequency * distance / speed) / distance
            };
            let own = 20.0 * (pressures[place] / together.iter().map(free).sum::<Complex64>()).norm().log10();
            assert!((own - level).abs() < 0.001, "{own} dB for {level} dB at {frequency} Hz of {together:?}");
            let crest = BassFields::moment(&pressures, -pressures[place].arg())[place];
            assert!((crest / pressures[place].norm() - 1.0).abs() < 1e-12, "a moment is at most the amplitude: {crest}");
        }
    }
}

#[test]
fn readers_are_the_transfer_function_of_a_record() {
    let pulse = Pulse::new(100.0, 2e-4);
    let heard: Vec<f32> = (0..700).map(|index| ((index * index) as f32 * 0.37).sin()).collect();
    let record = Record::new(&pulse, 12, &heard);
    for frequency in [20.0, 47.3, 99.0] {
        let readers = readers(&pulse, record.interval, heard.len(), frequency);
        let sum: Complex64 = readers.iter().zip(&record.pressures).map(|(reader, value)| reader * value).sum();
        let off = (sum / record.transfer(&pulse, frequency) - 1.0).norm();
        assert!(off < 1e-10, "{off} at {frequency} Hz");
    }
}

#[test]
fn layers_part_the_places() {
    let (_, fields) = done(&read(MIXING), 80.0);
    let all: usize = [0.0, 0.7, 1.5, 2.5].into_iter().map(|height| fields.layer(height).len()).sum();
    let mut heights: Vec<f64> = fields.points.iter().map(|point| point.z).collect();
    heights.dedup();
    assert_eq!((heights.len(), all), (4, fields.points.len()), "one height in each layer: {heights:?}");
    for asked in [0.0, 1.2, 9.0] {
        let layer = fields.layer(asked);
        let nearest = heights.iter().copied().min_by(|a, b| (a - asked).abs().total_cmp(&(b - asked).abs())).expect("there are layers");
        assert!(!layer.is_empty() && layer.iter().all(|place| fields.points[*place].z == nearest), "{asked} m: {nearest} m");
    }
}

/// The lowest mode of the box is alone below 40 Hz: its bands fall by 60 dB in `3 ln 10 / delta`, `delta = (c b / 2 V) sum of e S` (H. Kuttruff, *Room Acoustics*, chapter 3, from memory).
pub(crate) static LONE_MODE: LazyLock<Check> = LazyLock::new(|| {
    let scene = hard();
    let (study, _) = done(&scene, 100.0);
    let told = study.stands.responses[0].over_time.as_ref().expect("it is told");
    let area = |axis: usize| 2.0 * SIDES.element_product() / SIDES[axis] * if axis == 0 { 2.0 } else { 1.0 };
    let speed = study::room(&scene).medium.speed;
    let delta = speed / from_random_incidence(HARD) / (2.0 * SIDES.element_product()) * (0..3).map(area).sum::<f64>();
    let exact = 20.0 * delta / 10.0_f64.ln();
    let band = told.bands_hz.iter().position(|band| (band - 31.6).abs() < 0.1).expect("it is a third octave");
    // From twice the filter's length on.
    let first = (2.0 / told.widths_hz[band] / told.step_s).ceil() as usize;
    let levels = &told.levels_db[band][first..];
    // Of the earlier half against the later: a step holds no whole period.
    let half = levels.len() / 2;
    let mean = |levels: &[f64]| levels.iter().sum::<f64>() / levels.len() as f64;
    let slope = (mean(&levels[..half]) - mean(&levels[half..2 * half])) / (half as f64 * told.step_s);
    assert!(half > 20, "{half} steps twice");
    assert!(told.levels_db.iter().flatten().all(|level| *level <= 0.0) && told.levels_db.iter().flatten().any(|level| *level == 0.0));
    Check {
        what: "lowest mode of a box, walls that take 0.04, alone in its third octave: fall over time, dB/s".to_owned(),
        ours: slope,
        expected: exact,
        tolerance: 0.03 * exact,
        why: "as the decays of modes; a step holds no whole period",
        source: "delta = (c b / 2 V) sum of e S (H. Kuttruff, Room Acoustics, ch. 3, from memory); b by E. T. Paris's average",
    }
});

#[test]
fn published_decay_of_a_lone_mode_over_time() {
    hold(std::slice::from_ref(&*LONE_MODE));
}

/// A cube of 3.43 m where sound travels at 343 m/s: `50 sqrt(n) Hz`, `n` a sum of three squares, as often as there are ways to write it; counted by hand.
#[test]
fn counted_by_hand_modes_of_a_cube() {
    let cube = BoxSpread::new(DVec3::splat(3.43), 343.0);
    let told: Vec<(f64, usize, usize)> = cube.thirds.iter().map(|third| (third.band_hz, third.count, third.coinciding)).collect();
    let counted = [(50.0, 3, 3), (63.0, 3, 3), (80.0, 1, 0), (100.0, 9, 9), (125.0, 3, 3), (160.0, 19, 18), (200.0, 39, 39)];
    assert_eq!(told, counted);
    assert_eq!((cube.falls_hz, cube.crowded_hz), (vec![80.0, 125.0], vec![50.0, 63.0, 125.0]));
    assert!(!cube.is_recommended && cube.most_length_m < cube.least_length_m && cube.near_whole.len() == 3);
}

/// 1.1 x 3.9 = 4.29 m and 4.5 x 3.9 - 4 x 2.6 = 7.15 m; 5.1 / 2.6 = 1.96.
#[test]
fn counted_by_hand_sides_of_a_room() {
    let spread = BoxSpread::new(DVec3::new(3.9, 5.1, 2.6), 343.0);
    assert_eq!((spread.length_m, spread.width_m, spread.height_m), (5.1, 3.9, 2.6));
    assert!((spread.least_length_m - 4.29).abs() < 1e-12 && (spread.most_length_m - 7.15).abs() < 1e-12 && spread.is_recommended);
    let [SideRatio { longer, shorter, ratio }] = &spread.near_whole[..] else { panic!("{:?}", spread.near_whole) };
    assert!(longer == "length" && shorter == "height" && (ratio - 5.1 / 2.6).abs() < 1e-12);
    // Modes of the box up to 56 Hz, by hand: 33.6 (100), 44.0 (010), 55.4 (110).
    let counts: Vec<(f64, usize)> = spread.thirds.iter().take(3).map(|third| (third.band_hz, third.count)).collect();
    assert_eq!(counts, [(31.5, 1), (40.0, 1), (50.0, 1)]);
    let too_long = BoxSpread::new(DVec3::new(7.2, 3.9, 2.6), 343.0);
    let too_flat = BoxSpread::new(DVec3::new(7.0, 6.0, 2.3), 343.0);
    assert!(!too_long.is_recommended && !too_flat.is_recommended, "7.15 m, and three heights, are the most");
}

#[test]
fn keeps_pictures_of_fields_legible() {
    let scene = hard();
    let (study, fields) = done(&scene, 100.0);
    let files = report::bass_files(&scene, &study, Some(&fields));
    let text = |wanted: &str| {
        let bytes = files.iter().find(|(name, _)| name == wanted).unwrap_or_else(|| panic!("{wanted} is not written")).1.clone();
        String::from_utf8(bytes).expect("UTF-8")
    };
    for (name, words) in
        [("bass-modes.svg", ["33.6 Hz", "plan,", "section along"]), ("bass-time-3.svg", ["time, ms", "frequency, Hz", "dB re the loudest"])]
    {
        let drawn = text(name);
        raster::lay_out(&drawn).unwrap_or_else(|why| panic!("{name}: {why}"));
        assert!(words.iter().all(|word| drawn.contains(word)), "{name}");
    }
    let page = text("bass.html");
    assert!(["bass-modes.svg", "bass-time-1.svg", "no verdict on this room"].iter().all(|word| page.contains(word)));
}
