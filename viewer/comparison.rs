//! Absorbers side by side: what is chosen, six at most, each under a number that it keeps; their figures; which surface one is given to.
//!
//! Until somebody chooses, the scene's stock stands there.

use bevy::prelude::{Res, ResMut};
use roomwright::absorbers::table;
use roomwright::report::absorption::Field;
use roomwright::scene::shell::FLOOR;
use roomwright::scene::{PanelType, Scene, UserMaterial};
pub(crate) use roomwright::study::absorbers::Choice;
use roomwright::study::absorbers::Sample;

use crate::results::Results;
use crate::view::{Strip, View};

/// How many may stand side by side: as many as there are lines that can be told from each other.
pub(crate) const MOST: usize = roomwright::report::absorption::LINES.len();

/// What is chosen, by the number that it is drawn with, from 1.
pub(crate) type Numbered = (usize, Choice);

/// What a material is given to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Target {
    /// Every wall.
    Walls,
    /// A wall, a part of the ceiling, the floor, an opening or a block, by its name.
    One(String),
}

/// What is chosen, and how it is looked at.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Comparison {
    /// `None` until somebody chooses.
    chosen: Option<Vec<Numbered>>,
    /// In a diffuse field or at normal incidence.
    pub(crate) field: Field,
    /// What a material is given to.
    pub(crate) target: Option<Target>,
}

impl Comparison {
    /// What stands side by side, by number.
    pub(crate) fn chosen(&self, scene: Option<&Scene>) -> Vec<Numbered> {
        let stock = || {
            let names = scene.into_iter().flat_map(|scene| &scene.stock).map(|kind| Choice::Stock(kind.name.clone()));
            (1..).zip(names).take(MOST).collect()
        };
        self.chosen.clone().unwrap_or_else(stock)
    }

    /// The number that something stands there under.
    pub(crate) fn number(&self, scene: Option<&Scene>, choice: &Choice) -> Option<usize> {
        self.chosen(scene).into_iter().find(|(_, other)| other == choice).map(|(number, _)| number)
    }

    /// Puts something beside the others, under the first number that is free. Whether there was room for it.
    pub(crate) fn put(&mut self, scene: Option<&Scene>, choice: &Choice) -> bool {
        let mut chosen = self.chosen(scene);
        if chosen.iter().any(|(_, other)| other == choice) {
            return true;
        }
        let Some(free) = (1..=MOST).find(|number| chosen.iter().all(|(taken, _)| taken != number)) else { return false };
        chosen.push((free, choice.clone()));
        chosen.sort_by_key(|(number, _)| *number);
        self.chosen = Some(chosen);
        true
    }

    /// Takes something out; the others keep their numbers.
    pub(crate) fn leave_out(&mut self, scene: Option<&Scene>, choice: &Choice) {
        let chosen = self.chosen(scene).into_iter().filter(|(_, other)| other != choice);
        self.chosen = Some(chosen.collect());
    }

    /// Lets go of what a scene does not have.
    pub(crate) fn keep_within(&mut self, scene: &Scene) {
        let is_there = |choice: &Choice| match choice {
            Choice::Material(name) => scene.materials.iter().any(|own| own.name == *name) || table::find(name).is_some(),
            Choice::Stock(name) => scene.stock.iter().any(|kind| kind.name == *name),
            Choice::Typed(_) => true,
        };
        if let Some(chosen) = &mut self.chosen {
            chosen.retain(|(_, choice)| is_there(choice));
        }
        let is_surface = |target: &Target| match target {
            Target::Walls => true,
            Target::One(name) => surfaces(scene).any(|(surface, _)| surface == name),
        };
        self.target = self.target.take().filter(is_surface);
    }
}

/// What can be given a material, with the one that it has: walls, the ceiling, the floor, openings, blocks.
pub(crate) fn surfaces(scene: &Scene) -> impl Iterator<Item = (&str, &str)> {
    let walls = scene.walls.iter().map(|wall| (wall.name.as_str(), wall.material.as_str()));
    let ceiling = scene.ceiling.iter().map(|plane| (plane.name.as_str(), plane.material.as_str()));
    let openings = scene.openings.iter().map(|opening| (opening.name.as_str(), opening.material.as_str()));
    let blocks = scene.blocks.iter().map(|block| (block.name.as_str(), block.material.as_str()));
    walls.chain(ceiling).chain([(FLOOR, scene.floor_material.as_str())]).chain(openings).chain(blocks)
}

/// The name that a material goes by: the table's own spelling of a row, which takes capitals or none.
pub(crate) fn spelled<'a>(scene: &Scene, material: &'a str) -> &'a str {
    let own = scene.materials.iter().any(|own| own.name == material);
    table::find(material).filter(|_| !own).map_or(material, |row| row.name)
}

/// Names of what is of a material now.
pub(crate) fn uses<'a>(scene: &'a Scene, material: &str) -> Vec<&'a str> {
    let wanted = spelled(scene, material);
    surfaces(scene).filter(|(_, of)| spelled(scene, of) == wanted).map(|(surface, _)| surface).collect()
}

/// The figures of what stands side by side, as the front door gives them.
#[derive(Debug, Default)]
pub(crate) struct Figures {
    /// What they are of.
    of: Option<Of>,
    /// By number.
    pub(crate) samples: Vec<Sample>,
}

/// All that the figures follow from.
#[derive(Debug, PartialEq)]
struct Of {
    chosen: Vec<Numbered>,
    stock: Vec<PanelType>,
    materials: Vec<UserMaterial>,
}

impl Of {
    fn is(&self, chosen: &[Numbered], scene: Option<&Scene>) -> bool {
        chosen == self.chosen
            && scene.map_or(&[][..], |scene| &scene.stock) == self.stock
            && scene.map_or(&[][..], |scene| &scene.materials) == self.materials
    }
}

impl Figures {
    /// Whether they are those of what is chosen now.
    pub(crate) fn is_of(&self, chosen: &[Numbered], scene: Option<&Scene>) -> bool {
        self.of.as_ref().is_some_and(|of| of.is(chosen, scene))
    }

    /// The figures of what is chosen; what was known stays where nothing that it follows from is another.
    pub(crate) fn follow(&mut self, chosen: &[Numbered], scene: Option<&Scene>) {
        let is_kept = self.of.as_ref().is_some_and(|of| of.is(&of.chosen, scene));
        let known = std::mem::take(&mut self.samples);
        let before = self.of.as_ref().map_or(&[][..], |of| &of.chosen);
        let sample = |(number, choice): &Numbered| {
            let kept = || known.iter().find(|sample| sample.number == *number).cloned();
            let is_same = is_kept && before.iter().any(|(other, was)| other == number && was == choice);
            is_same.then(kept).flatten().or_else(|| choice.sample(*number, scene).ok())
        };
        self.samples = chosen.iter().filter_map(sample).collect();
        let (stock, materials) = scene.map(|scene| (scene.stock.clone(), scene.materials.clone())).unwrap_or_default();
        self.of = Some(Of { chosen: chosen.to_vec(), stock, materials });
    }
}

/// Keeps the figures of what stands side by side, while they are looked at.
pub(crate) fn compare(view: Res<View>, mut results: ResMut<Results>) {
    if view.strip == Strip::Absorbers {
        let scene = results.scene.clone();
        let chosen = view.comparison.chosen(scene.as_deref());
        if !results.absorbers.is_of(&chosen, scene.as_deref()) {
            results.absorbers.follow(&chosen, scene.as_deref());
        }
    }
}
