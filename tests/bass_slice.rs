//! Slices of the low end's field: cells on places are those places, cells between them a standing wave in closed form, walls and corners; what a study takes is told beforehand.

use std::f64::consts::PI;
use std::sync::LazyLock;

use glam::DVec2;
use roomwright::progress::Progress;
use roomwright::scene::Scene;
use roomwright::study::{self, BassAsked, BassFields, BassSlice, BassStudy, MEMORY};

use super::edit::read;
use super::support::{even_box, taking};
use crate::validation::{Check, hold};

/// A box of 5.1 x 3.9 x 2.6 m, nearly rigid, a loudspeaker in its corner.
const BOX: &str = concat!(
    even_box!("mixing", "[5.1, 3.9, 2.6]", 400, 4, 0),
    r#"[[loudspeaker]]
name = "corner"
position = [0.4, 0.4, 0.4]
directivity = "omni"
[[seat]]
name = "seat"
ear = [3.4, 2.3, 1.2]
"#
);

static STUDIED: LazyLock<(Scene, BassStudy, BassFields)> = LazyLock::new(|| {
    let scene = read(&taking(BOX, 0.04));
    let asked = BassAsked { top_hz: 100.0, memory: MEMORY, others: 0, beside_bare: true };
    let (study, fields) =
        study::waves(&Progress::new(), &scene, &asked).map(|run| (run.study, run.fields)).unwrap_or_else(|why| panic!("{why}"));
    (scene, study, fields)
});

/// Height of the layer of places next to the ear.
fn layer() -> f64 {
    let (_, _, fields) = &*STUDIED;
    fields.points[fields.layer(1.2)[0]].z
}

fn at(height_m: f64) -> BassSlice {
    let (scene, _, fields) = &*STUDIED;
    fields.slice(&study::room(scene), height_m)
}

#[test]
fn exact_pressures_of_a_slice_at_its_places() {
    let (_, _, fields) = &*STUDIED;
    let slice = at(layer());
    assert!(slice.height_m == layer() && fields.heights().iter().any(|height| (height - layer()).abs() < 1e-9));
    let all = fields.pressures(&[0], 63.0);
    let picture = slice.sounding(fields, &[0], 63.0);
    let layer = fields.layer(1.2);
    assert!(layer.len() > 12);
    for place in layer {
        let cell = slice.cell_at(fields.points[place].truncate()).expect("it lies in the slice");
        let found = picture.pressures[cell].expect("it lies in air");
        assert!((found - all[place]).norm() < 1e-9 * all[place].norm(), "{found} for {}", all[place]);
        assert!((picture.levels()[cell].expect("air") - 20.0 * all[place].norm().log10()).abs() < 1e-9);
        // A quarter of a period later it is the imaginary part with its sign turned.
        assert!((picture.moment(0.25)[cell].expect("air") + all[place].im).abs() < 1e-9 * all[place].norm());
    }
}

/// From where both shapes come.
const SHAPE: &str = "modes of a rigid box, cosines along its sides (H. Kuttruff, Room Acoustics, ch. 3, from memory)";

/// The lowest mode of a rigid box is `cos(pi x / l)`, in every cell of a slice.
pub(crate) fn lowest_mode() -> Vec<Check> {
    let (_, study, fields) = &*STUDIED;
    let slice = at(1.2);
    let lowest = &study.stands.modes[0];
    assert!((lowest.frequency_hz - 33.5).abs() < 1.0, "{lowest:?}");
    let values = slice.mode(fields, 0).moment(0.0);
    let points: Vec<(DVec2, f64)> = values
        .iter()
        .enumerate()
        .filter_map(|(cell, value)| {
            let at = DVec2::new((cell % slice.columns) as f64 + 0.5, (cell / slice.columns) as f64 + 0.5);
            value.map(|value| (slice.low_m + slice.cell_m * at, value))
        })
        .collect();
    // Its sign is free.
    let sign = points.iter().find(|(at, _)| at.x < 1.0).map_or(1.0, |(_, value)| value.signum());
    let loudest = fields.points.iter().map(|point| (PI * point.x / 5.1).cos().abs()).fold(0.0, f64::max);
    let inside = |at: &DVec2| (at.x - 2.55).abs() < 2.0;
    assert!(points.len() > 200);
    let row = |(at, value): &(DVec2, f64)| Check {
        what: format!("lowest mode of a box in a slice, {:.2} m along and {:.2} m across, re its loudest", at.x, at.y),
        ours: sign * value,
        expected: (PI * at.x / 5.1).cos() / loudest,
        tolerance: 0.04,
        why: "cells between places are put together from them",
        source: SHAPE,
    };
    points.iter().filter(|(at, _)| inside(at)).map(row).collect()
}

#[test]
fn published_shape_of_the_lowest_mode_between_places() {
    hold(&lowest_mode());
}

/// The lowest mode upright is `cos(pi z / h)`: between layers as at them, and no farther than they go.
pub(crate) fn upright_mode() -> Vec<Check> {
    let (_, study, fields) = &*STUDIED;
    let upright =
        study.box_modes.as_ref().and_then(|modes| modes.iter().position(|mode| mode.half_waves == [0, 0, 1])).expect("below the top");
    let loudest = fields.points.iter().map(|point| (PI * point.z / 2.6).cos().abs()).fold(0.0, f64::max);
    let mean = |height: f64| {
        let values: Vec<f64> = at(height).mode(fields, upright).moment(0.0).into_iter().flatten().collect();
        values.iter().sum::<f64>() / values.len() as f64
    };
    let sign = mean(0.4).signum();
    let heights = fields.heights();
    let [.., second, inner, _] = heights[..] else { panic!("{heights:?}") };
    let row = |height: f64| {
        // Between the outermost layers linearly: off by `(k h)^2 / 8` at most; between the others by less than the mode itself is.
        let is_inner = (second..inner).contains(&height);
        let most = 0.02 + if is_inner { 0.0 } else { (PI / 2.6 * fields.apart_m).powi(2) / 8.0 };
        Check {
            what: format!("lowest upright mode of a box, slice at {height} m, re its loudest"),
            ours: sign * mean(height),
            expected: (PI * height / 2.6).cos() / loudest,
            tolerance: most,
            why: "0.02, and (k h)^2 / 8 more between the outermost layers, where lines are straight",
            source: SHAPE,
        }
    };
    [0.5, 0.9, 1.2, 1.3, 1.7, 2.1].map(row).into()
}

#[test]
fn published_shape_of_an_upright_mode_between_layers() {
    hold(&upright_mode());
    let (_, _, fields) = &*STUDIED;
    let heights = fields.heights();
    assert_eq!((at(-1.0).height_m, at(9.0).height_m), (heights[0], heights[heights.len() - 1]));
}

#[test]
fn keeps_cells_in_air_and_none_outside() {
    let slice = at(1.2);
    let (_, _, fields) = &*STUDIED;
    let picture = slice.sounding(fields, &[0], 40.0);
    let air = picture.pressures.iter().flatten().count() as f64 * slice.cell_m * slice.cell_m;
    assert!((air / (5.1 * 3.9) - 1.0).abs() < 0.1, "{air} m2");
    assert_eq!(slice.cell_at(DVec2::new(-1.0, 1.0)), None);
    assert_eq!(slice.cell_at(DVec2::new(1.0, 9.0)), None);
    let corner = slice.cell_at(DVec2::new(0.1, 0.1)).expect("in the room");
    assert!(picture.pressures[corner].is_some(), "between the last place and the walls");
    assert!(picture.loud > 0.0 && picture.pressures.iter().flatten().filter(|pressure| pressure.norm() > picture.loud).count() < 30);
}

#[test]
fn keeps_the_effort_what_the_study_took() {
    let (scene, study, fields) = &*STUDIED;
    let asked = BassAsked { top_hz: 100.0, memory: MEMORY, others: 0, beside_bare: true };
    let effort = study::bass_effort(scene, &asked).expect("it was made");
    // By hand: 21 cells to the shortest wave or cells of 150 mm, a cell of solid on every side, one source in one state of the room.
    let room = study::room(scene);
    let cell = (room.medium.speed / (21.0 * 100.0)).min(0.15);
    let cells: f64 = [5.1_f64, 3.9, 2.6].iter().map(|side| (side / cell).ceil() + 2.0).product();
    assert_eq!((effort.cells as f64, effort.runs, effort.larger_runs), (cells, 1, 0));
    assert!((effort.cell_m / cell - 1.0).abs() < 1e-12);
    assert_eq!((effort.cells, effort.memory_mb), (study.cost.cells, study.cost.memory_mb), "the study tells the same");
    // What it did hold: every cell eight figures of 8 bytes and two of 4, every place a figure of 4 bytes a moment, two moments a period at least (C. E. Shannon, Proc. IRE 37 (1949) 10, from memory).
    let moments = 2.0 * 100.0 * study.stands.longest_s;
    let held = (cells * 72.0 + 4.0 * fields.points.len() as f64 * moments) / 1e6;
    assert!((1.0..3.0).contains(&(effort.memory_mb / held)), "{} MB, held {held} MB at least", effort.memory_mb);
    // The box is nearly rigid and rings to the end: work as counted from the study itself, less than a part of half a second short.
    let steps = study.stands.longest_s / study.cost.step_s;
    let work = effort.updates / (room.volume / cell.powi(3) * steps);
    assert!((1.0..1.2).contains(&work), "{work} times what was done in {} s", study.stands.longest_s);
    let others = study::bass_effort(scene, &BassAsked { others: 3, ..asked }).expect("as well");
    assert!(others.larger_runs == 4 && (others.updates / effort.updates - 1.25).abs() < 1e-12);
    assert!(others.seconds(2) < others.seconds(1));
    let [once, twice] = [120.0, 240.0].map(|top_hz| study::bass_effort(scene, &BassAsked { top_hz, ..asked }).expect("as well").updates);
    assert!((15.0..17.0).contains(&(twice / once)), "{}", twice / once);
    assert!(study::bass_effort(scene, &BassAsked { memory: 1000, ..asked }).is_err());
    let silent = Scene { sources: Vec::new(), ..scene.clone() };
    assert!(study::bass_effort(&silent, &asked).is_err());
}
