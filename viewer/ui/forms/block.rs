//! Solid boxes that stand or hang in the room: desk, shelf, chimney, beam, sofa.

use bevy::math::{DVec2, DVec3};
use bevy_egui::egui::{TextEdit, Ui};
use roomwright::report::text::figures::length;
use roomwright::scene::{Block, Scene};

use super::{Draft, Measure, PLACE, SIZE, adding, free_name, line, material, name, pressed_measure, rows, to_nanometers, usual};
use crate::command::Command;
use crate::ui::say::remark;
use crate::ui::tokens::{quiet, small, wrong};
use crate::ui::{Asked, Shown};
use crate::view::Pressed;

/// Coordinates on the floor plan may lie on either side of its origin, meters.
const POINT: std::ops::RangeInclusive<f64> = -100.0..=100.0;

/// What is typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Form {
    name: String,
    /// Along its own x, its own y, upward.
    size: [Measure; 3],
    /// Whether `at` is the corner with the least x and y, or the middle.
    by_corner: bool,
    at: [Measure; 2],
    /// Degrees.
    turn: String,
    /// The turn as it is, radians, and its text: a text has fewer decimals.
    known_turn: (String, f64),
    /// Height of its underside.
    base: Measure,
    pub(super) material: String,
    scattering: Option<roomwright::bands::Bands<f64>>,
}

impl Form {
    fn blank(scene: &Scene) -> Self {
        let field = |meters: f64| usual(meters, scene);
        Self {
            name: free_name("desk", scene.blocks.iter().map(|block| block.name.as_str())),
            size: [1.4, 0.7, 0.75].map(field),
            by_corner: true,
            at: Default::default(),
            turn: "0".to_owned(),
            known_turn: ("0".to_owned(), 0.0),
            base: field(0.0),
            material: "Solid wooden door".to_owned(),
            scattering: None,
        }
    }

    fn of(scene: &Scene, block: &Block) -> Self {
        let field = |meters: f64| Measure::of(meters, scene.unit);
        let by_corner = block.rotation == 0.0;
        let at = if by_corner { (block.center - block.size.truncate() / 2.0).map(to_nanometers) } else { block.center };
        let turn = format!("{:.2}", block.rotation.to_degrees()).trim_end_matches('0').trim_end_matches('.').to_owned();
        Self {
            name: block.name.clone(),
            size: block.size.to_array().map(field),
            by_corner,
            at: at.to_array().map(field),
            known_turn: (turn.clone(), block.rotation),
            turn,
            base: field(block.base),
            material: block.material.clone(),
            scattering: block.scattering,
        }
    }

    /// The turn, radians.
    fn turned(&self) -> Result<f64, &'static str> {
        if self.turn == self.known_turn.0 {
            return Ok(self.known_turn.1);
        }
        let degrees = self.turn.trim().trim_end_matches('\u{b0}').trim().parse::<f64>();
        degrees.ok().filter(|degrees| degrees.abs() <= 360.0).map(f64::to_radians).ok_or("Degrees from -360 to 360.")
    }

    pub(super) fn show(&mut self, ui: &mut Ui, scene: &Scene) {
        name(ui, &mut self.name);
        for (field, what) in self.size.iter_mut().zip(["along x", "along y", "height"]) {
            field.show(ui, what, scene.unit, &SIZE);
        }
        line(ui, "turned by", |ui, label| {
            ui.add(TextEdit::singleline(&mut self.turn).desired_width(92.0)).labelled_by(label);
            ui.label(quiet("degrees, counterclockwise from above"));
        });
        let turned = self.turned();
        if let Err(mistake) = turned {
            ui.label(wrong(mistake).size(11.0));
        }
        let is_turned = turned != Ok(0.0);
        self.by_corner &= !is_turned;
        line(ui, "place of its", |ui, _| {
            ui.add_enabled_ui(!is_turned, |ui| ui.radio_value(&mut self.by_corner, true, small("nearest corner")));
            ui.radio_value(&mut self.by_corner, false, small("middle"));
        });
        for (field, what) in self.at.iter_mut().zip(["x", "y"]) {
            field.show(ui, what, scene.unit, &POINT);
        }
        self.base.show(ui, "underside", scene.unit, &PLACE);
        material(ui, scene, &mut self.material);
        remark(ui, "x and y run from the origin of the floor plan; an underside of 0 stands on the floor, a higher one hangs.");
    }

    pub(super) fn command(&self, scene: &Scene, of: Option<&str>) -> Option<Command> {
        let name = Some(self.name.trim()).filter(|name| !name.is_empty())?;
        let read = |field: &Measure, range| field.read(scene.unit, range).ok();
        let [along, across, height] = &self.size;
        let size = DVec3::new(read(along, &SIZE)?, read(across, &SIZE)?, read(height, &SIZE)?);
        let at = DVec2::new(read(&self.at[0], &POINT)?, read(&self.at[1], &POINT)?);
        let center = if self.by_corner { (at + size.truncate() / 2.0).map(to_nanometers) } else { at };
        let block = Block {
            name: name.to_owned(),
            center,
            base: read(&self.base, &PLACE)?,
            size,
            rotation: self.turned().ok()?,
            material: self.material.clone(),
            scattering: self.scattering,
        };
        Some(match of {
            Some(old) => Command::ChangeBlock { name: old.to_owned(), block },
            None => Command::AddBlock(block),
        })
    }

    /// Its middle comes to stand there.
    pub(super) fn place(&mut self, scene: &Scene, pressed: &Pressed) {
        let size = |field: &Measure| field.read(scene.unit, &SIZE).unwrap_or(0.0);
        let half = if self.by_corner { DVec2::new(size(&self.size[0]), size(&self.size[1])) / 2.0 } else { DVec2::ZERO };
        self.at = (pressed.point.truncate() - half).to_array().map(|meters| pressed_measure(meters, scene));
    }
}

/// The list of blocks.
pub(super) fn list(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, draft: &mut Draft, asked: &mut Asked) {
    let is_kind = |form: &super::Form| matches!(form, super::Form::Block(_));
    let words = scene.blocks.iter().map(|block| {
        let [along, across, height] = block.size.to_array().map(|meters| length(meters, scene));
        let up = if block.base > 0.0 { format!("hangs {} up", length(block.base, scene)) } else { "stands".to_owned() };
        (block.name.clone(), [format!("{along} x {across} x {height}"), up])
    });
    let none = "Nothing but the walls.";
    let heads = ["<name", "<along x, along y, height", "<how"];
    let clicked = rows(ui, "Furniture, beams, chimneys", none, heads, words.collect(), |name| draft.is_of(name, is_kind));
    if let Some(block) = clicked.and_then(|row| scene.blocks.get(row)) {
        draft.open(super::Form::Block(Form::of(scene, block)), Some(block.name.clone()));
    }
    if adding(ui, &["add a box"]).is_some() {
        draft.open(super::Form::Block(Form::blank(scene)), None);
    }
    draft.show(ui, shown, scene, asked, is_kind);
}
