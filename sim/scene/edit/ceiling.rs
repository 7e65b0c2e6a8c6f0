//! The ceiling by its measures: level parts, slopes that rise from a wall, slopes between two walls.
//!
//! A room whose one level ceiling is written by `size` or `height` gets a part of its own, called `ceiling`, as soon as there is another.
//!
//! *Limits.* A part that is written by three points or by its slope has no such measures; it can be removed, or given others.

use toml_edit::{InlineTable, Item, TableLike, Value};

use super::{EditError, Editor, child, count, meters, missing, push, remove, set};
use crate::scene::print::measured_value;
use crate::units::LengthUnit;

/// A part of the ceiling as a tape measures it.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPlane {
    /// Name.
    pub name: String,
    /// Name of its material.
    pub material: String,
    /// Its measures.
    pub shape: PlaneShape,
}

/// Measures of a part of the ceiling, meters.
#[derive(Clone, Debug, PartialEq)]
pub enum PlaneShape {
    /// Level.
    Level {
        /// Over the floor.
        height: f64,
    },
    /// Level along a wall, rising (or falling) away from it.
    Rise {
        /// The wall.
        from: String,
        /// Height over the floor at the wall: the knee wall.
        height: f64,
        /// Height that it reaches
        reaches: f64,
        /// so far into the room, measured level.
        after: f64,
    },
    /// Level along two parallel walls.
    Between {
        /// The walls, and the height over the floor at each.
        walls: [(String, f64); 2],
    },
}

/// The keys that give a part its shape.
const SHAPE_KEYS: [&str; 7] = ["height", "heights", "points", "slope", "from", "reaches", "after"];

impl Editor {
    /// How a part of the ceiling is measured; `None` if it is written by points or by its slope, or is not there.
    #[must_use]
    pub fn ceiling_part(&self, name: &str) -> Option<MeasuredPlane> {
        let unit = self.scene.unit;
        let index = self.scene.ceiling.iter().position(|plane| plane.name == name)?;
        let plane = &self.scene.ceiling[index];
        let room = self.document.get("room")?.as_table_like()?;
        let measured = |shape| Some(MeasuredPlane { name: plane.name.clone(), material: plane.material.clone(), shape });
        let table: &dyn TableLike = match room.get("ceiling") {
            None => return measured(PlaneShape::Level { height: plane.height }),
            Some(Item::ArrayOfTables(tables)) => tables.get(index)?,
            Some(Item::Value(Value::Array(array))) => array.get(index)?.as_inline_table()?,
            Some(_) => return None,
        };
        let length = |key: &str| meters(table.get(key)?.as_value()?, unit);
        if let Some(heights) = table.get("heights").and_then(Item::as_table_like) {
            let walls: Vec<(String, f64)> =
                heights.iter().filter_map(|(wall, height)| Some((wall.to_owned(), meters(height.as_value()?, unit)?))).collect();
            return measured(PlaneShape::Between { walls: walls.try_into().ok()? });
        }
        if let Some(from) = table.get("from").and_then(Item::as_str) {
            let from = from.to_owned();
            return measured(PlaneShape::Rise { from, height: length("height")?, reaches: length("reaches")?, after: length("after")? });
        }
        if table.contains_key("slope") {
            return None;
        }
        measured(PlaneShape::Level { height: length("height")? })
    }

    /// Takes parts of the ceiling away and adds others. Others keep their names.
    ///
    /// # Errors
    /// [`EditError::Missing`], [`EditError::ByHand`].
    pub fn set_ceiling(&mut self, away: &[String], add: &[MeasuredPlane]) -> Result<(), EditError> {
        self.tell_parts()?;
        let mut indices = Vec::new();
        for name in away {
            let index = self.scene.ceiling.iter().position(|plane| plane.name == *name);
            indices.push(index.ok_or_else(|| missing("part of the ceiling", name))?);
        }
        indices.sort_unstable();
        let unit = self.scene.unit;
        for plane in add {
            let room = self.room()?;
            let index = count(room, "ceiling");
            push(room, "ceiling", vec![("name".to_owned(), Value::from(plane.name.as_str()))]);
            let usual = room.get("ceiling_material").and_then(Item::as_str).map(str::to_owned);
            let table = child(room, "ceiling", index).ok_or_else(by_hand)?;
            if usual.as_deref() != Some(&plane.material) {
                set(table, "material", plane.material.as_str().into(), unit);
            }
            shape_keys(table, &plane.shape, unit);
        }
        for index in indices.into_iter().rev() {
            remove(&mut self.document, &["room", "ceiling"], index);
        }
        Ok(())
    }

    /// Gives a part of the ceiling other measures or another material. It keeps its name.
    ///
    /// # Errors
    /// [`EditError::Missing`], [`EditError::ByHand`].
    pub fn change_ceiling(&mut self, name: &str, plane: &MeasuredPlane) -> Result<(), EditError> {
        let unit = self.scene.unit;
        let index = self.scene.ceiling.iter().position(|known| known.name == name).ok_or_else(|| missing("part of the ceiling", name))?;
        if self.scene.ceiling[index].material != plane.material {
            self.set_material(name, &plane.material)?;
        }
        if self.ceiling_part(name).is_some_and(|known| known.shape == plane.shape) {
            return Ok(());
        }
        let room = self.room()?;
        if let (PlaneShape::Level { height }, false) = (&plane.shape, room.contains_key("ceiling")) {
            if room.contains_key("height") {
                set(room, "height", measured_value(*height, unit), unit);
                return Ok(());
            }
            let size = room.get_mut("size").and_then(Item::as_array_mut).and_then(|size| size.get_mut(2)).ok_or_else(by_hand)?;
            super::replace(size, measured_value(*height, unit), unit);
            return Ok(());
        }
        self.tell_parts()?;
        let table = child(self.room()?, "ceiling", index).ok_or_else(by_hand)?;
        shape_keys(table, &plane.shape, unit);
        Ok(())
    }

    /// Writes every part of the ceiling as a table with its name: a name that follows from the number of parts would change with it.
    fn tell_parts(&mut self) -> Result<(), EditError> {
        let names: Vec<String> = self.scene.ceiling.iter().map(|plane| plane.name.clone()).collect();
        let unit = self.scene.unit;
        let room = self.room()?;
        if !room.contains_key("ceiling") {
            let third = room.get("size").and_then(Item::as_array).and_then(|size| size.get(2)).cloned();
            push(room, "ceiling", vec![("name".to_owned(), Value::from(names.first().map_or("ceiling", String::as_str)))]);
            // What a person wrote beside the height goes with it.
            let key = room.key("height").cloned();
            let height = match room.remove("height") {
                Some(Item::Value(height)) => height,
                _ => third
                    .map(|mut height| {
                        height.decor_mut().clear();
                        height
                    })
                    .ok_or_else(by_hand)?,
            };
            let table = child(room, "ceiling", 0).ok_or_else(by_hand)?;
            table.insert("height", Item::Value(height));
            if let (Some(mut own), Some(key)) = (table.key_mut("height"), key) {
                *own.leaf_decor_mut() = key.leaf_decor().clone();
            }
        }
        for (index, name) in names.iter().enumerate() {
            let table = child(room, "ceiling", index).ok_or_else(by_hand)?;
            if !table.contains_key("name") {
                set(table, "name", name.as_str().into(), unit);
            }
        }
        Ok(())
    }
}

fn by_hand() -> EditError {
    EditError::ByHand("the ceiling".to_owned())
}

/// Gives a table these measures and no others.
fn shape_keys(table: &mut dyn TableLike, shape: &PlaneShape, unit: LengthUnit) {
    let length = |meters: f64| measured_value(meters, unit);
    let keys: Vec<(&str, Value)> = match shape {
        PlaneShape::Level { height } => vec![("height", length(*height))],
        PlaneShape::Rise { from, height, reaches, after } => {
            vec![("from", from.as_str().into()), ("height", length(*height)), ("reaches", length(*reaches)), ("after", length(*after))]
        }
        PlaneShape::Between { walls } => {
            let heights: InlineTable = walls.iter().map(|(wall, height)| (wall.as_str(), length(*height))).collect();
            vec![("heights", Value::InlineTable(heights))]
        }
    };
    for key in SHAPE_KEYS.into_iter().filter(|key| !keys.iter().any(|(other, _)| other == key)) {
        table.remove(key);
    }
    for (key, value) in keys {
        // Two heights at the same walls are changed one by one, as they are written.
        let same_walls =
            |old: &dyn TableLike, new: &InlineTable| old.len() == new.len() && new.iter().all(|(wall, _)| old.contains_key(wall));
        match (table.get_mut(key).and_then(Item::as_table_like_mut), value) {
            (Some(old), Value::InlineTable(new)) if same_walls(old, &new) => {
                for (wall, height) in new {
                    set(old, &wall, height, unit);
                }
            }
            (_, value) => set(table, key, value, unit),
        }
    }
}
