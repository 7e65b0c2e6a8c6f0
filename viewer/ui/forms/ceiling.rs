//! The ceiling: level parts, slopes from a knee wall, slopes between two walls, and two slopes that meet in a ridge.
//!
//! *Limits.* A ridge is that of two parallel walls. Once it is there its two slopes are changed one by one.

use bevy_egui::egui::{Checkbox, Ui};
use roomwright::report::text::figures::length;
use roomwright::scene::{MeasuredPlane, PlaneShape, Scene};

use super::{Draft, Measure, adding, choice, free_name, line, material, name, rows};
use crate::command::Command;
use crate::ui::say::remark;
use crate::ui::tokens::{small, wrong};
use crate::ui::{Asked, Shown};

/// Heights of a ceiling and how far a slope reaches, meters.
const HEIGHT: std::ops::RangeInclusive<f64> = 0.0..=100.0;
const REACH: std::ops::RangeInclusive<f64> = 0.05..=100.0;

/// Shapes, with the word of the button that adds one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Shape {
    Level,
    Rise,
    Between,
    Ridge,
}

const SHAPES: [(Shape, &str, &str); 4] = [
    (Shape::Level, "level", "add a level part"),
    (Shape::Rise, "slope from a wall", "add a slope from a knee wall"),
    (Shape::Between, "heights at two walls", "add heights at two walls"),
    (Shape::Ridge, "two slopes and a ridge", "add two slopes and a ridge"),
];

/// What is typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Form {
    shape: Shape,
    name: String,
    pub(super) material: String,
    /// The walls; a slope rises from the first.
    walls: [String; 2],
    /// Heights at the walls; the first is that of a level part too.
    at_walls: [Measure; 2],
    /// Height that a slope or the ridge reaches.
    reaches: Measure,
    /// How far from the first wall, measured level.
    after: Measure,
    /// Whether level parts stay and cut the slopes off at their height.
    level_stays: bool,
    /// It was written by points or by its slope.
    is_unmeasured: bool,
}

impl Form {
    fn blank(scene: &Scene, shape: Shape) -> Self {
        let highest = scene.outline.iter().map(|&corner| scene.ceiling_height(corner)).fold(0.0, f64::max);
        let (first, second) = facing_walls(scene);
        let field = |meters: f64| Measure::of(meters, scene.unit);
        let word = if shape == Shape::Level { "level ceiling" } else { "slope" };
        let half = distance(scene, &first, &second).map_or_else(Measure::default, |meters| field(super::to_nanometers(meters / 2.0)));
        Self {
            shape,
            name: free_name(word, scene.ceiling.iter().map(|plane| plane.name.as_str())),
            material: scene.ceiling.first().map(|plane| plane.material.clone()).unwrap_or_default(),
            walls: [first, second],
            at_walls: if shape == Shape::Level { [field(highest), field(highest)] } else { Default::default() },
            reaches: if shape == Shape::Rise { field(highest) } else { Measure::default() },
            after: if shape == Shape::Ridge { half } else { Measure::default() },
            // A slope from a knee wall meets the level ceiling; a roof takes its place.
            level_stays: matches!(shape, Shape::Level | Shape::Rise),
            is_unmeasured: false,
        }
    }

    /// What is known of a part; of one without such measures the empty form of a level one.
    fn of(scene: &Scene, name: &str, material: &str, measured: Option<MeasuredPlane>) -> Self {
        let blank = Self { name: name.to_owned(), material: material.to_owned(), ..Self::blank(scene, Shape::Rise) };
        let field = |meters: f64| Measure::of(meters, scene.unit);
        let [first, second] = blank.walls.clone();
        match measured.map(|measured| measured.shape) {
            Some(PlaneShape::Level { height }) => Self { shape: Shape::Level, at_walls: [field(height), Measure::default()], ..blank },
            Some(PlaneShape::Rise { from, height, reaches, after }) => Self {
                shape: Shape::Rise,
                walls: [from.clone(), if from == second { first } else { second }],
                at_walls: [field(height), Measure::default()],
                reaches: field(reaches),
                after: field(after),
                ..blank
            },
            Some(PlaneShape::Between { walls: [(first, low), (second, high)] }) => {
                Self { shape: Shape::Between, walls: [first, second], at_walls: [field(low), field(high)], ..blank }
            }
            None => Self { is_unmeasured: true, ..blank },
        }
    }

    pub(super) fn new_title(&self) -> String {
        let title = SHAPES.into_iter().find(|(shape, ..)| *shape == self.shape).map_or("", |(.., title)| title);
        format!("Ceiling: {title}")
    }

    pub(super) fn show(&mut self, ui: &mut Ui, scene: &Scene, is_new: bool) {
        if self.is_unmeasured {
            remark(ui, "It is written by points or by its slope; change those in the scene text, or give these measures in their place.");
        }
        if is_new {
            name(ui, &mut self.name);
        } else {
            line(ui, "shape", |ui, _| {
                for (shape, word, _) in &SHAPES[..3] {
                    ui.radio_value(&mut self.shape, *shape, small(*word));
                }
            });
        }
        self.measures(ui, scene);
        material(ui, scene, &mut self.material);
        if is_new && self.shape != Shape::Level && scene.ceiling.iter().any(|plane| is_level(scene, &plane.name)) {
            let stays = Checkbox::new(&mut self.level_stays, small("the level ceiling stays and cuts it off at its height"));
            ui.add(stays);
        }
    }

    fn measures(&mut self, ui: &mut Ui, scene: &Scene) {
        let unit = scene.unit;
        let walls = || scene.walls.iter().map(|wall| wall.name.as_str());
        let [first, second] = &mut self.at_walls;
        match self.shape {
            Shape::Level => first.show(ui, "height", unit, &HEIGHT),
            Shape::Rise => {
                choice(ui, "rises from", walls(), &mut self.walls[0]);
                first.show(ui, "height there", unit, &HEIGHT);
                self.reaches.show(ui, "reaches", unit, &HEIGHT);
                self.after.show(ui, "after, level", unit, &REACH);
                remark(ui, "The knee wall's height; then any height of the slope, and how far into the room that is, measured level.");
            }
            Shape::Between | Shape::Ridge => {
                choice(ui, "one wall", walls(), &mut self.walls[0]);
                first.show(ui, "height at one", unit, &HEIGHT);
                choice(ui, "other wall", walls(), &mut self.walls[1]);
                second.show(ui, "height at other", unit, &HEIGHT);
                if self.shape == Shape::Ridge {
                    self.reaches.show(ui, "ridge height", unit, &HEIGHT);
                    self.after.show(ui, "ridge from one", unit, &REACH);
                }
                if distance(scene, &self.walls[0], &self.walls[1]).is_none() {
                    ui.label(wrong("The two walls are not parallel.").size(11.0));
                }
            }
        }
    }

    pub(super) fn command(&self, scene: &Scene, of: Option<&str>) -> Option<Command> {
        let name = Some(self.name.trim()).filter(|name| !name.is_empty())?;
        let add = self.planes(scene, name)?;
        match (of, &add[..]) {
            (Some(old), [plane]) => Some(Command::ChangeCeiling { name: old.to_owned(), plane: plane.clone() }),
            (Some(_), _) => None,
            (None, _) => {
                let levels = scene.ceiling.iter().filter(|plane| !self.level_stays && is_level(scene, &plane.name));
                Some(Command::SetCeiling { away: levels.map(|plane| plane.name.clone()).collect(), add })
            }
        }
    }

    /// The parts that the measures make, if all of them read.
    fn planes(&self, scene: &Scene, name: &str) -> Option<Vec<MeasuredPlane>> {
        let height = |field: &Measure| field.read(scene.unit, &HEIGHT).ok();
        let plane = |name: String, shape| MeasuredPlane { name, material: self.material.clone(), shape };
        let [one, other] = &self.walls;
        let rise = |from: &String, at: &Measure, after: f64| {
            Some(PlaneShape::Rise { from: from.clone(), height: height(at)?, reaches: height(&self.reaches)?, after })
        };
        let after = || self.after.read(scene.unit, &REACH).ok();
        let shapes = match self.shape {
            Shape::Level => vec![(name.to_owned(), PlaneShape::Level { height: height(&self.at_walls[0])? })],
            Shape::Rise => vec![(name.to_owned(), rise(one, &self.at_walls[0], after()?)?)],
            Shape::Between => {
                distance(scene, one, other)?;
                let walls = [(one.clone(), height(&self.at_walls[0])?), (other.clone(), height(&self.at_walls[1])?)];
                vec![(name.to_owned(), PlaneShape::Between { walls })]
            }
            Shape::Ridge => {
                let rest = super::to_nanometers(distance(scene, one, other)? - after()?);
                if !REACH.contains(&rest) {
                    return None;
                }
                let side = |wall: &String| format!("{name}, {wall}");
                vec![(side(one), rise(one, &self.at_walls[0], after()?)?), (side(other), rise(other, &self.at_walls[1], rest)?)]
            }
        };
        Some(shapes.into_iter().map(|(name, shape)| plane(name, shape)).collect())
    }
}

fn is_level(scene: &Scene, name: &str) -> bool {
    scene.ceiling.iter().any(|plane| plane.name == name && plane.slope == bevy::math::DVec2::ZERO)
}

/// How far two parallel walls that face each other are apart, meters.
fn distance(scene: &Scene, one: &str, other: &str) -> Option<f64> {
    let ends = |name: &str| Some(scene.wall_ends(scene.walls.iter().position(|wall| wall.name == name)?));
    let ((from, to), (other_from, other_to)) = (ends(one)?, ends(other)?);
    let along = (to - from).try_normalize()?;
    let off = |point: bevy::math::DVec2| along.perp_dot(point - from);
    let tolerance = scene.tape_tolerance.0.max(1e-6);
    ((off(other_from) - off(other_to)).abs() <= tolerance && off(other_from) >= 0.05).then(|| off(other_from))
}

/// The two longest walls that face each other, or the first two.
fn facing_walls(scene: &Scene) -> (String, String) {
    let mut best: Option<(f64, usize, usize)> = None;
    for one in 0..scene.walls.len() {
        for other in one + 1..scene.walls.len() {
            let length = scene.wall_length(one).min(scene.wall_length(other));
            let faces = distance(scene, &scene.walls[one].name, &scene.walls[other].name).is_some();
            if faces && best.is_none_or(|(longest, ..)| length > longest) {
                best = Some((length, one, other));
            }
        }
    }
    let name = |index: usize| scene.walls.get(index).map(|wall| wall.name.clone()).unwrap_or_default();
    best.map_or_else(|| (name(0), name(1)), |(_, one, other)| (name(one), name(other)))
}

/// The list of the ceiling's parts.
pub(super) fn list(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, draft: &mut Draft, asked: &mut Asked) {
    let is_kind = |form: &super::Form| matches!(form, super::Form::Ceiling(_));
    let words = scene.ceiling.iter().enumerate().map(|(index, plane)| {
        let facets = scene.ceiling_facets(index);
        let heights = facets.iter().flat_map(|facet| &facet.corners).map(|&corner| plane.height_at(corner));
        let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), height| (low.min(height), high.max(height)));
        let words = if facets.is_empty() {
            "nowhere the lowest".to_owned()
        } else if is_level(scene, &plane.name) {
            format!("level, {}", length(plane.height, scene))
        } else {
            format!("slopes from {} to {}", length(low, scene), length(high, scene))
        };
        (plane.name.clone(), [words, plane.material.clone()])
    });
    let heads = ["<part", "<height", "<material"];
    let clicked = rows(ui, "Ceiling", "", heads, words.collect(), |name| draft.is_of(name, is_kind));
    if let Some(plane) = clicked.and_then(|row| scene.ceiling.get(row)) {
        let measured = shown.document.editor().ok().and_then(|editor| editor.ceiling_part(&plane.name));
        let form = Form::of(scene, &plane.name, &plane.material, measured);
        draft.open(super::Form::Ceiling(form), Some(plane.name.clone()));
    }
    if let Some(word) = adding(ui, &SHAPES.map(|(.., word)| word))
        && let Some((shape, ..)) = SHAPES.into_iter().find(|(.., known)| *known == word)
    {
        draft.open(super::Form::Ceiling(Form::blank(scene, shape)), None);
    }
    draft.show(ui, shown, scene, asked, is_kind);
}
