//! Reflections that a recording tells of, on the stage: a path and a pen for each, the legend that says so without color, the one in front, and what a new one could come by.

use std::collections::BTreeSet;

use bevy::math::{DVec3, Vec2};
use roomwright::prove::Found;
use roomwright::report::text::prove::found;

use super::camera::{Rig, Sight};
use super::hand::Hand;
use super::ink::{Pen, Strip};
use super::overlay::{self, Mark, Seen};
use super::{StageArea, picking, proved};
use crate::box_tests::{FOREIGN_MS, PROVEN, TAKEN, read, taking};
use crate::command::Command;
use crate::proving::{ProveChoice, Proven, Told};
use crate::results::{Generation, Results};
use crate::ui::tokens;
use crate::view::{CameraView, Step, View};

fn sight() -> Sight {
    let (room, camera) = (&PROVEN.room, CameraView::Orbit);
    let mut rig = Rig::default();
    rig.fit(room, 1.5);
    Sight { pose: rig.pose(room, camera), area: StageArea { low: Vec2::ZERO, high: Vec2::new(1100.0, 700.0) } }
}

/// The box with its answer; reflections of the first recording become one state after the other.
fn answered() -> Results {
    let mut proof = PROVEN.proof.clone().unwrap();
    for (one, state) in proof.recordings[0].reflections.iter_mut().zip(proved::STATES.into_iter().cycle()) {
        one.found = state;
    }
    let proven = Proven { proof: Some(proof), ..(**PROVEN).clone() };
    let mut results = Results::default();
    results.show(Generation(1), &PROVEN.scene);
    results.proof = Some(proven.into());
    results
}

fn asking() -> View {
    View { step: Step::Prove, ..View::default() }
}

fn laid_out(view: &View, results: &Results) -> Vec<Mark> {
    let sight = sight();
    overlay::laid_out(&Seen { scene: &PROVEN.scene, room: &PROVEN.room, view, results, sight: &sight, hand: &Hand::default(), marks: None })
}

fn texts(marks: &[Mark]) -> Vec<&str> {
    marks.iter().filter_map(|mark| if let Mark::Text { text, .. } = mark { Some(text.as_str()) } else { None }).collect()
}

/// A path leads from the source by its bounces to the middle of the head: a single bounce off a wall as its mirror has it, and is as much longer than the direct way as its delay says.
#[test]
fn exact_paths_from_source_to_head() {
    let results = answered();
    let paths = proved::paths(&asking(), &results);
    let one = &PROVEN.recordings()[0];
    assert_eq!(paths.len(), one.reflections.len());
    for ((told, _, way), (row, matched)) in paths.iter().zip(one.reflections.iter().enumerate()) {
        assert_eq!((*told, way.len()), (Told::Predicted(row), matched.surfaces.len() + 2));
        assert_eq!((way[0], way[way.len() - 1]), (DVec3::new(0.6, 0.5, 0.4), DVec3::new(2.1, 1.4, 1.2)));
        let length: f64 = way.windows(2).map(|ends| ends[0].distance(ends[1])).sum();
        let later_ms = 1000.0 * (length - way[0].distance(way[way.len() - 1])) / PROVEN.room.medium.speed;
        assert!((later_ms - matched.delay_ms).abs() < 1e-3, "{later_ms} {matched:?}");
    }
    let elsewhere = View { step: Step::Hear, ..View::default() };
    assert!(proved::paths(&elsewhere, &results).is_empty() && proved::lines(&elsewhere, &results).is_empty());
    assert!(proved::lines(&asking(), &Results::default()).is_empty());
}

/// Every state has a pen of its own, and pens differ in width or dashes: nothing hangs on color.
#[test]
fn keeps_states_apart_without_color() {
    let look = |pen: Pen| format!("{} {:?}", pen.width(), pen.dashes());
    let looks: BTreeSet<String> = proved::STATES.map(|state| look(proved::pen(state).0)).into();
    assert_eq!(looks.len(), proved::STATES.len(), "{looks:?}");
    let results = answered();
    let lines = proved::lines(&asking(), &results);
    let marks = laid_out(&asking(), &results);
    let said = texts(&marks);
    for state in proved::STATES {
        let count = PROVEN.recordings()[0].reflections.len();
        let own = proved::STATES.iter().position(|other| *other == state).unwrap();
        let expected = (0..count).filter(|row| row % proved::STATES.len() == own).count();
        let (pen, color) = proved::pen(state);
        assert_eq!(lines.iter().filter(|line| line.pen == pen && line.color == color).count(), expected, "{state:?}");
        // The legend says how many, and has a piece of the line: as many strokes as its dashes make.
        assert!(said.contains(&format!("{} ({expected})", found(state)).as_str()), "{state:?} in {said:?}");
        let strokes =
            marks.iter().filter(|mark| matches!(mark, Mark::Line { width, color: own, .. } if *width == pen.width() && *own == color));
        let drawn = strokes.count();
        assert!(if pen.dashes().is_none() { drawn >= 1 } else { drawn > 1 }, "{state:?}: {drawn}");
    }
    assert!(said.iter().any(|text| text.starts_with("measured reflections, left at seat")));
    assert!(texts(&laid_out(&View::default(), &results)).iter().all(|text| !text.starts_with("measured reflections")));
}

/// The one that is chosen is drawn before the others and told; one that is missing stays dashed, and is seen through everything.
#[test]
fn keeps_the_chosen_reflection_in_front() {
    let results = answered();
    for (row, matched) in results.proof.as_ref().unwrap().recordings()[0].reflections.iter().enumerate() {
        let mut view = asking();
        view.proving.told = Some(Told::Predicted(row));
        let lines = proved::lines(&view, &results);
        let front: Vec<&Strip> = lines.iter().filter(|line| matches!(line.pen, Pen::Chosen | Pen::Refused)).collect();
        assert_eq!(front.len(), 1);
        let is_there = !matches!(matched.found, Found::Missing | Found::NotToldApart);
        assert_eq!(front[0].pen, if is_there { Pen::Chosen } else { Pen::Refused });
        assert_eq!(front[0].points[1], DVec3::from_array(matched.points_m[0]));
        let marks = laid_out(&view, &results);
        let told = format!("off {}: {}", matched.surfaces.join(", "), found(matched.found));
        assert!(texts(&marks).contains(&told.as_str()), "{told} in {:?}", texts(&marks));
    }
}

/// A click on a path chooses its row; one on nothing lets go of it.
#[test]
fn keeps_a_path_a_click_from_its_row() {
    let (results, sight, mut view) = (answered(), sight(), asking());
    let clicked = |view: &View, at: Vec2| picking::clicked(&PROVEN.scene, &PROVEN.room, view, &results, &sight, at);
    let mut met = 0;
    for (told, _, way) in proved::paths(&view, &results) {
        let at = sight.screen(way[0].lerp(way[1], 0.6)).unwrap();
        let commands = clicked(&view, at);
        // Another path, or somebody, may stand before it.
        met += usize::from(commands == [Command::Prove(ProveChoice::Tell(Some(told)))]);
    }
    assert!(met >= 3, "{met}");
    view.proving.told = Some(Told::Predicted(0));
    assert!(clicked(&view, Vec2::new(3.0, 3.0)).contains(&Command::Prove(ProveChoice::Tell(None))));
}

/// Surfaces that a new reflection could come by are outlined: those of all in the pattern that the legend tells, those of the one in front full.
#[test]
fn keeps_what_a_new_reflection_could_come_by_outlined() {
    let mut results = answered();
    let mut proof = PROVEN.proof.clone().unwrap();
    // A way that the room has, so that it is named: the reflection was put in at a delay that no way of two surfaces has for certain.
    let new = proof.recordings[1].new_reflections.iter_mut().find(|new| (new.delay_ms - FOREIGN_MS).abs() < 0.1).unwrap();
    new.ways = vec![roomwright::prove::reflections::Way { surfaces: vec!["north".into(), "ceiling".into()], delay_ms: FOREIGN_MS }];
    let number = proof.recordings[1].new_reflections.iter().position(|new| (new.delay_ms - FOREIGN_MS).abs() < 0.1).unwrap();
    let proven = Proven { proof: Some(proof), ..(**PROVEN).clone() };
    results.proof = Some(proven.into());
    let mut view = asking();
    view.proving.shown = 1;
    let outlines = |view: &View, pen: Pen| -> Vec<Vec<DVec3>> {
        let is_ring = |line: &Strip| line.points.first() == line.points.last();
        proved::lines(view, &results).into_iter().filter(|line| line.pen == pen && is_ring(line)).map(|line| line.points).collect()
    };
    assert!(outlines(&view, proved::candidate(&view).0).len() >= 2);
    assert!(texts(&laid_out(&view, &results)).contains(&"what a new one could come by"));
    view.proving.told = Some(Told::New(number));
    let full = outlines(&view, Pen::Chosen);
    let surfaces = ["north", "ceiling"].map(|name| PROVEN.room.named(name).next().unwrap().1);
    assert_eq!(full.len(), 2);
    for surface in surfaces {
        let lies_in = |points: &Vec<DVec3>| points.iter().all(|point| surface.chart.height(*point).abs() < 1e-9);
        assert!(full.iter().any(lies_in), "{}", surface.name);
    }
    assert!(texts(&laid_out(&view, &results)).iter().any(|text| text.starts_with("could come by north, ceiling")));
    // A predicted one in front: no outline.
    view.proving.told = Some(Told::Predicted(0));
    assert!(proved::candidates(&view, &results).is_empty());
}

/// Of a scene that is not on screen any more all is pale, its pens still tell what became of what, and the legend and the one in front say so.
#[test]
fn keeps_paths_of_an_earlier_scene_pale() {
    let (mut results, mut view) = (answered(), asking());
    view.proving.told = Some(Told::Predicted(0));
    let then = proved::lines(&view, &results);
    let says = |results: &Results| {
        let marks = laid_out(&view, results);
        texts(&marks).iter().filter(|text| text.ends_with("of the scene as it was")).count()
    };
    assert!(then.iter().all(|line| line.color != tokens::PALE) && says(&results) == 0);
    let moved = taking(TAKEN[0]).replace("position = [0.6, 0.5, 0.4]", "position = [0.8, 0.5, 0.4]");
    results.show(Generation(2), &read(&moved));
    let now = proved::lines(&view, &results);
    assert!(now.len() == then.len() && now.iter().all(|line| line.color == tokens::PALE));
    assert!(now.iter().zip(&then).all(|(now, then)| (now.pen, &now.points) == (then.pen, &then.points)));
    assert_eq!(says(&results), 2);
    // The edit is taken back: the scene is read anew, and is the same.
    results.show(Generation(3), &read(&taking(TAKEN[0])));
    assert!(proved::lines(&view, &results) == then && says(&results) == 0);
}
