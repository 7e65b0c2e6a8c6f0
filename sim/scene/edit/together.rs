//! Many things moved at once in a person's scene text: a listening set that is put elsewhere, turned with all that belongs to it.
//!
//! What points at a thing by its name goes on doing so; a point that is aimed at moves along; a direction is turned.

use glam::DVec3;
use toml_edit::Item;

use super::super::print::rounded;
use super::super::{Block, Scene};
use super::{EditError, Editor, child_or_by_hand, lengths, meters, set};
use crate::units::LengthUnit;

/// Directions nearer to each other than this are one, radians.
const SAME_WAY: f64 = 1e-6;

/// A person's scene text with sources, seats, microphones and blocks where they are in `moved`, which holds the same things.
///
/// # Errors
/// [`EditError`]: something is missing there, or the text would not read.
pub fn with_positions(text: &str, moved: &Scene) -> Result<String, EditError> {
    let mut editor = Editor::new(text)?;
    editor.put_as(moved)?;
    let put = editor.finish()?;
    let mut editor = Editor::of(&put.text, &put.scene);
    editor.aim_as(moved)?;
    Ok(editor.finish()?.text)
}

impl Editor {
    /// Puts things where they are in another scene, and with them the points that they aim at.
    fn put_as(&mut self, moved: &Scene) -> Result<(), EditError> {
        let own = self.scene.clone();
        for (list, index, was, is) in aimed(&own, moved) {
            self.aim_point(list, index, was, is)?;
        }
        for (was, is) in own.sources.iter().zip(&moved.sources).filter(|(was, is)| was.position != is.position) {
            self.move_source(&was.name, is.position)?;
        }
        for (was, is) in own.seats.iter().zip(&moved.seats).filter(|(was, is)| was.ear != is.ear) {
            self.move_receiver(&was.name, is.ear)?;
        }
        for (index, (was, is)) in own.microphones.iter().zip(&moved.microphones).enumerate() {
            // By its number: a seat may have the same name.
            if was.position != is.position {
                self.set_point("microphone", index, "position", is.position)?;
            }
        }
        for (was, is) in own.blocks.iter().zip(&moved.blocks).filter(|(was, is)| was != is) {
            // A turned sum ends in digits that no tape can show.
            let center = is.center.to_array().map(|meters| rounded(meters, 9));
            self.change_block(&was.name, &Block { center: center.into(), ..is.clone() })?;
        }
        Ok(())
    }

    /// Moves the point that something aims at, where it aims at one.
    fn aim_point(&mut self, list: &str, index: usize, was: Aimed, is: Aimed) -> Result<(), EditError> {
        let unit = self.scene.unit;
        let table = child_or_by_hand(&mut self.document, list, index)?;
        let point =
            table.get("aim").and_then(Item::as_array).map(|array| array.iter().filter_map(|value| meters(value, unit)).collect::<Vec<_>>());
        if let Some([x, y, z]) = point.as_deref()
            && was != is
        {
            let far = DVec3::new(*x, *y, *z).distance(was.0);
            set(table, "aim", lengths(&(is.0 + far * is.1).to_array(), unit), unit);
        }
        Ok(())
    }

    /// Turns what does not point as in another scene, once all is in its place.
    fn aim_as(&mut self, moved: &Scene) -> Result<(), EditError> {
        let own = self.scene.clone();
        for (list, index, _, is) in aimed(&own, moved).into_iter().filter(|(_, _, was, is)| was.1.angle_between(is.1) > SAME_WAY) {
            let table = child_or_by_hand(&mut self.document, list, index)?;
            table.remove("toward");
            table.remove("aim");
            // Its components are plain numbers, whatever the unit of lengths.
            set(table, "direction", lengths(&is.1.to_array(), LengthUnit::Meter), LengthUnit::Meter);
        }
        Ok(())
    }
}

/// Where something is, meters, and the way it points, a unit vector.
type Aimed = (DVec3, DVec3);

/// Everything that points somewhere: its list, its number there, and how it does in two scenes.
fn aimed(own: &Scene, moved: &Scene) -> Vec<(&'static str, usize, Aimed, Aimed)> {
    let mut all: Vec<(&'static str, usize, Aimed, Aimed)> = Vec::new();
    for (was, is) in own.sources.iter().zip(&moved.sources) {
        let list = was.kind.word();
        let index = all.iter().filter(|one| one.0 == list).count();
        all.push((list, index, (was.position, was.aim), (is.position, is.aim)));
    }
    let seats = own.seats.iter().zip(&moved.seats).enumerate();
    all.extend(seats.map(|(index, (was, is))| ("seat", index, (was.ear, was.facing), (is.ear, is.facing))));
    let microphones = own.microphones.iter().zip(&moved.microphones).enumerate();
    all.extend(microphones.map(|(index, (was, is))| ("microphone", index, (was.position, was.aim), (is.position, is.aim))));
    all
}
