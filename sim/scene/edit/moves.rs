//! What is moved in a person's scene text: panels, loudspeakers, seats, blocks, openings, places that must stay clear.
//!
//! Each change says the whole place, and rewrites the numbers of it that are others.

use glam::{DVec2, DVec3};
use toml_edit::{Item, TableLike, Value};

use super::super::print::{measured_value, panel_keys};
use super::super::read::PANEL_KEYS;
use super::super::{ClearanceRegion, Panel, PanelPlace, Rectangle};
use super::things::ThingKind;
use super::{EditError, Editor, child_or_by_hand, lengths, meters, missing, nth, set};
use crate::units::LengthUnit;

impl Editor {
    /// Hangs a panel elsewhere, or otherwise. A cloud of more panels takes them from the stock, one of fewer gives them back.
    ///
    /// # Errors
    /// [`EditError::Missing`]; [`EditError::OutOfStock`].
    pub fn move_panel(&mut self, index: usize, place: &PanelPlace) -> Result<(), EditError> {
        let panel = self.panel(index)?;
        let (kind, grows) = (panel.kind.clone(), i64::from(place.count()) - i64::from(panel.count()));
        self.has_in_stock(&kind, grows)?;
        let usual_gap = self.scene.stock.iter().find(|stock| stock.name == kind).map_or(0.0, |stock| stock.gap);
        let keys = panel_keys(&self.scene, &Panel { kind: kind.clone(), place: place.clone() });
        let unit = self.scene.unit;
        let table = nth(&mut self.document, "panel", index).ok_or_else(|| EditError::Missing(format!("panel {}", index + 1)))?;
        // What is usual is not printed; where it stands in the text already it stays, with what is written beside it.
        let pair = |usual: i64| Value::Array([usual, usual].into_iter().collect());
        let usual: Vec<(&str, Value)> = match place {
            PanelPlace::Surface { .. } => vec![("lying", false.into())],
            PanelPlace::Corner { .. } => Vec::new(),
            PanelPlace::Cloud(_) => vec![("turned", false.into()), ("tilt", pair(0)), ("panels", pair(1))],
        };
        for key in PANEL_KEYS.into_iter().skip(1).filter(|key| !keys.iter().any(|(said, _)| said == key)) {
            match usual.iter().find(|(other, _)| *other == key).filter(|_| table.contains_key(key)) {
                Some((_, usual)) => set(table, key, usual.clone(), unit),
                None => drop(table.remove(key)),
            }
        }
        for (key, value) in keys.into_iter().skip(1) {
            // A gap that is not said is the usual one; a corner may name its walls in either order.
            let is_same = match key {
                "gap" => !table.contains_key(key) && meters(&value, unit) == Some(usual_gap),
                "corner" => has_walls(table, &value),
                _ => false,
            };
            if !is_same {
                set(table, key, value, unit);
            }
        }
        self.count_stock(&kind, -grows);
        Ok(())
    }

    /// Moves a loudspeaker, voice or instrument to a point in the room, meters.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn move_source(&mut self, name: &str, position: DVec3) -> Result<(), EditError> {
        let scene = &self.scene;
        let index = scene.sources.iter().position(|source| source.name == name).ok_or_else(|| missing("source", name))?;
        let kind = scene.sources[index].kind;
        let index = scene.sources[..index].iter().filter(|source| source.kind == kind).count();
        self.set_point(kind.word(), index, "position", position)
    }

    /// Moves a seat or a microphone to a point in the room, meters.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn move_receiver(&mut self, name: &str, position: DVec3) -> Result<(), EditError> {
        if let Some(index) = self.scene.seats.iter().position(|seat| seat.name == name) {
            return self.set_point("seat", index, "ear", position);
        }
        let index = self.scene.microphones.iter().position(|microphone| microphone.name == name);
        self.set_point("microphone", index.ok_or_else(|| missing("seat or microphone", name))?, "position", position)
    }

    /// Moves the middle of a block's footprint, meters.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn move_block(&mut self, name: &str, center: DVec2) -> Result<(), EditError> {
        let index = ThingKind::Block.find(&self.scene, name)?;
        let (unit, corner) = (self.scene.unit, center - self.scene.blocks[index].size.truncate() / 2.0);
        let table = child_or_by_hand(&mut self.document, "block", index)?;
        let (key, point) = if table.contains_key("corner") { ("corner", corner) } else { ("center", center) };
        set(table, key, lengths(&point.to_array(), unit), unit);
        Ok(())
    }

    /// Moves a door, window or hatch on its surface: its left and lower edge, meters.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn move_opening(&mut self, name: &str, low: DVec2) -> Result<(), EditError> {
        let index = ThingKind::Opening.find(&self.scene, name)?;
        let (unit, place) = (self.scene.unit, self.scene.openings[index].place);
        let table = child_or_by_hand(&mut self.document, "opening", index)?;
        set_rectangle(table, &Rectangle { left: low.x, bottom: low.y, ..place }, &place, unit);
        Ok(())
    }

    /// Gives a place that must stay clear another region; a region on a surface stays one, and so does a box.
    ///
    /// # Errors
    /// [`EditError::Missing`]; [`EditError::ByHand`] where the one is to become the other.
    pub fn move_clearance(&mut self, name: &str, region: &ClearanceRegion) -> Result<(), EditError> {
        let index = ThingKind::Clearance.find(&self.scene, name)?;
        let (unit, before) = (self.scene.unit, self.scene.clearances[index].region.clone());
        let table = child_or_by_hand(&mut self.document, "clearance", index)?;
        match (&before, region) {
            (ClearanceRegion::Surface { place: before, .. }, ClearanceRegion::Surface { surface, place }) => {
                set(table, "surface", surface.as_str().into(), unit);
                set_rectangle(table, place, before, unit);
            }
            (ClearanceRegion::Space { .. }, ClearanceRegion::Space { low, high }) => {
                set(table, "low", lengths(&low.to_array(), unit), unit);
                set(table, "high", lengths(&high.to_array(), unit), unit);
            }
            _ => return Err(EditError::ByHand(format!("the kind of region of \"{name}\""))),
        }
        Ok(())
    }

    pub(super) fn set_point(&mut self, list: &str, index: usize, key: &str, point: DVec3) -> Result<(), EditError> {
        let unit = self.scene.unit;
        let table = child_or_by_hand(&mut self.document, list, index)?;
        set(table, key, lengths(&point.to_array(), unit), unit);
        Ok(())
    }
}

/// Sets those edges and sizes that are others: what is not said and stays the usual one stays unsaid.
fn set_rectangle(table: &mut dyn TableLike, place: &Rectangle, before: &Rectangle, unit: LengthUnit) {
    let all = [
        ("left", place.left, before.left),
        ("bottom", place.bottom, before.bottom),
        ("width", place.width, before.width),
        ("height", place.height, before.height),
    ];
    for (key, now, _) in all.into_iter().filter(|(_, now, was)| now != was) {
        set(table, key, measured_value(now, unit), unit);
    }
}

/// Whether a panel's `corner` names these walls.
fn has_walls(table: &dyn TableLike, walls: &Value) -> bool {
    let names = |value: &Value| {
        let mut names: Vec<String> = value.as_array().into_iter().flatten().filter_map(Value::as_str).map(str::to_owned).collect();
        names.sort_unstable();
        names
    };
    table.get("corner").and_then(Item::as_value).is_some_and(|written| names(written) == names(walls))
}
