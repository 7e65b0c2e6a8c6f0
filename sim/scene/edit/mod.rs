//! A person's scene text with something changed: comments, order and everything that was not meant stay as they were.
//!
//! An [`Editor`] is opened on a text that reads, takes one or more changes, and gives the new text together with its scene; or, where the
//! change makes no sense, what is wrong with it, and the old text stands.
//!
//! A value is only rewritten where it reads as another one: `"50 mm"` stays `"50 mm"` while its neighbor moves. A new length is written as
//! [`print()`](super::print()) would. What is added goes after the last of its kind, or to the end. With a table that is removed go the
//! comments that stand right above it; comments set off by an empty line stay.
//!
//! `things` are doors, windows, hatches, blocks and clearances; `moves` puts what is there elsewhere; `ceiling` its parts as a tape measures
//! them; `goals` what is asked of a plan; `materials` what surfaces are made of; `together` many things moved at once.
//!
//! *Limits.* Corners of an outline, and parts of a ceiling that are written by points or by their slope, are changed by hand.

pub mod ceiling;
mod goals;
mod materials;
mod moves;
pub mod things;
mod together;

use glam::{DVec2, DVec3};
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

use self::things::ThingKind;
pub use self::together::with_positions;
use super::print::{measured_value, panel_keys};
use super::read::read;
use super::{Activity, Diagnostic, Panel, Scene, SurfaceIndex};
use crate::geometry::Polygon;
use crate::units::{Length, LengthUnit};

/// A text that does not read, with what is wrong with it.
#[derive(Clone, Debug, PartialEq)]
pub struct Refused {
    /// The text that the diagnostics point into.
    pub text: String,
    /// Errors, and warnings beside them.
    pub diagnostics: Vec<Diagnostic>,
}

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.diagnostics.iter().try_for_each(|found| write!(f, "{}", found.render(&self.text, "changed scene")))
    }
}

impl std::error::Error for Refused {}

/// Why a change was not made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum EditError {
    /// What was to be changed is not in the scene.
    #[error("there is no {0}")]
    Missing(String),
    /// It is written in a way that only a person can change.
    #[error("{0} is written in a way that is changed by hand only")]
    ByHand(String),
    /// The stock does not hold as many panels.
    #[error("It takes {needed} more \"{kind}\"; {} left in stock", is_left(*.left))]
    OutOfStock {
        /// Name of the type.
        kind: String,
        /// How many more are needed.
        needed: u32,
        /// How many are left.
        left: u32,
    },
    /// The text does not read, or would not with the change.
    #[error(transparent)]
    Refused(#[from] Refused),
}

/// A changed text and what it reads as.
#[derive(Clone, Debug, PartialEq)]
pub struct Edited {
    /// The text.
    pub text: String,
    /// Its scene.
    pub scene: Scene,
    /// Its warnings.
    pub warnings: Vec<Diagnostic>,
}

/// A scene text under change. Things are told by their number or name in the scene as it was opened: after a removal of one, open anew.
#[derive(Clone, Debug)]
pub struct Editor {
    scene: Scene,
    document: DocumentMut,
}

/// A person's scene text with panels added, after those that hang already or at the end; what was hung is taken off the `count` of
/// its stock.
///
/// # Errors
/// If the text does not read, or does not with the panels in it: [`Refused::text`] is the one or the other.
pub fn with_panels(text: &str, panels: &[Panel]) -> Result<String, Refused> {
    with_plan(text, panels, &[])
}

/// The same for a plan that chose between types: of those that are out, nothing is left to hang.
///
/// # Errors
/// As [`with_panels`].
pub fn with_plan(text: &str, panels: &[Panel], out: &[&str]) -> Result<String, Refused> {
    let mut editor = Editor::new(text)?;
    editor.add_plan(panels, out);
    Ok(editor.finish()?.text)
}

/// The same for a plan that moves what hangs already: the panels with these numbers, from 0, leave their places; `rest` is what is left of the budget, where there is one.
///
/// # Errors
/// [`EditError`]: there is no such panel, or the text would not read.
pub fn with_moves(text: &str, leaving: &[usize], panels: &[Panel], (out, rest): (&[&str], Option<f64>)) -> Result<String, EditError> {
    let mut editor = Editor::new(text)?;
    editor.take_plan(leaving, panels, (out, rest))?;
    Ok(editor.finish()?.text)
}

/// A person's scene text with a cloud hung, or moved where one with this number, from 0, hangs already; the stock counts as many less as it takes.
///
/// # Errors
/// [`EditError`]: the stock does not hold as many, or the text would not read.
pub fn with_cloud(text: &str, hung: Option<usize>, cloud: &Panel) -> Result<String, EditError> {
    let mut editor = Editor::new(text)?;
    match hung {
        Some(index) => editor.move_panel(index, &cloud.place)?,
        None => editor.add_panel(cloud),
    }
    Ok(editor.finish()?.text)
}

fn judge(text: String) -> Result<Edited, Refused> {
    match read(&text) {
        Ok((scene, warnings)) => Ok(Edited { text, scene, warnings }),
        Err(diagnostics) => Err(Refused { text, diagnostics }),
    }
}

impl Editor {
    /// Opens a text.
    ///
    /// # Errors
    /// If it does not read.
    pub fn new(text: &str) -> Result<Self, Refused> {
        let Edited { text, scene, .. } = judge(text.to_owned())?;
        Ok(Self { scene, document: text.parse().expect("what `read` accepts is TOML") })
    }

    /// Opens a text whose scene is known: `scene` is what it reads as. Saves reading it again.
    #[must_use]
    pub fn of(text: &str, scene: &Scene) -> Self {
        Self { scene: scene.clone(), document: text.parse().expect("what `read` accepts is TOML") }
    }

    /// The scene as it was opened.
    #[must_use]
    pub fn scene(&self) -> &Scene {
        &self.scene
    }

    /// The changed text, read anew.
    ///
    /// # Errors
    /// If it does not read with the changes.
    pub fn finish(self) -> Result<Edited, Refused> {
        judge(self.document.to_string())
    }

    /// Adds a panel; what its type has left in stock is less by as many as it is made of.
    pub fn add_panel(&mut self, panel: &Panel) {
        let keys = panel_keys(&self.scene, panel);
        self.push("panel", keys.into_iter().map(|(key, value)| (key.to_owned(), value)).collect());
        self.count_stock(&panel.kind, -i64::from(panel.count()));
    }

    /// Adds the panels of a plan, and leaves none in stock of the types that it decided against.
    pub fn add_plan(&mut self, panels: &[Panel], out: &[&str]) {
        panels.iter().for_each(|panel| self.add_panel(panel));
        for (index, _) in self.scene.stock.iter().enumerate().filter(|(_, kind)| kind.count > 0 && out.contains(&kind.name.as_str())) {
            if let Some(table) = nth(&mut self.document, "stock", index) {
                set(table, "count", Value::from(0), self.scene.unit);
            }
        }
    }

    /// The same for a plan that moves what hangs already, see [`with_moves`].
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn take_plan(&mut self, leaving: &[usize], panels: &[Panel], (out, rest): (&[&str], Option<f64>)) -> Result<(), EditError> {
        let mut leaving = leaving.to_vec();
        leaving.sort_unstable();
        // From the last on, so that numbers hold.
        leaving.iter().rev().try_for_each(|&index| self.remove_panel(index))?;
        self.add_plan(panels, out);
        if let (Some(rest), Some(goals)) = (rest, self.document.get_mut("goals").and_then(Item::as_table_like_mut)) {
            set(goals, "budget", super::print::number_value(rest), self.scene.unit);
        }
        Ok(())
    }

    /// Takes a panel down: it goes back into the stock.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn remove_panel(&mut self, index: usize) -> Result<(), EditError> {
        let panel = self.panel(index)?;
        let (kind, count) = (panel.kind.clone(), i64::from(panel.count()));
        remove(&mut self.document, &["panel"], index);
        self.count_stock(&kind, count);
        Ok(())
    }

    /// Makes a wall, a part of the ceiling, the floor, an opening or a block of another material.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn set_material(&mut self, surface: &str, material: &str) -> Result<(), EditError> {
        let unit = self.scene.unit;
        let table: &mut dyn TableLike = match self.scene.surface(surface) {
            Some(SurfaceIndex::Wall(wall)) => self.wall(wall)?,
            Some(SurfaceIndex::Ceiling(plane)) => {
                let room = self.room()?;
                if room.contains_key("ceiling") {
                    child(room, "ceiling", plane).ok_or_else(|| missing("part of the ceiling", surface))?
                } else {
                    set(room, "ceiling_material", material.into(), unit);
                    return Ok(());
                }
            }
            Some(SurfaceIndex::Floor) => {
                set(self.room()?, "floor", material.into(), unit);
                return Ok(());
            }
            None => {
                let of = |kind: ThingKind| Some((kind.key(), kind.index(&self.scene, surface)?));
                of(ThingKind::Opening)
                    .or_else(|| of(ThingKind::Block))
                    .and_then(|(key, index)| nth(&mut self.document, key, index))
                    .ok_or_else(|| missing("surface, opening or block", surface))?
            }
        };
        set(table, "material", material.into(), unit);
        Ok(())
    }

    /// Makes every wall of one material.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn set_wall_material(&mut self, material: &str) -> Result<(), EditError> {
        let unit = self.scene.unit;
        let room = self.room()?;
        set(room, "wall_material", material.into(), unit);
        for index in 0..count(room, "wall") {
            if let Some(wall) = child(room, "wall", index) {
                wall.remove("material");
            }
        }
        Ok(())
    }

    /// Says how many of a type there are to hang.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn set_stock_count(&mut self, kind: &str, count: u32) -> Result<(), EditError> {
        let unit = self.scene.unit;
        let index = self.scene.stock.iter().position(|stock| stock.name == kind);
        let table = index.and_then(|index| nth(&mut self.document, "stock", index)).ok_or_else(|| missing("type of panel", kind))?;
        // None is what is meant where nothing is said.
        if count > 0 || table.contains_key("count") {
            set(table, "count", Value::from(i64::from(count)), unit);
        }
        Ok(())
    }

    /// Says what the room is for.
    pub fn set_activity(&mut self, activity: Activity) {
        let unit = self.scene.unit;
        set(self.document.as_table_mut(), "use", activity.word().into(), unit);
    }

    /// Sets length, width and height of a room that is written by its `size`, meters.
    ///
    /// # Errors
    /// [`EditError::ByHand`] where it is written by its outline.
    pub fn set_size(&mut self, size: DVec3) -> Result<(), EditError> {
        let unit = self.scene.unit;
        let room = self.room()?;
        if !room.contains_key("size") {
            return Err(EditError::ByHand("the outline of the room".to_owned()));
        }
        set(room, "size", lengths(&size.to_array(), unit), unit);
        Ok(())
    }

    fn panel(&self, index: usize) -> Result<&Panel, EditError> {
        self.scene.panels.get(index).ok_or_else(|| EditError::Missing(format!("panel {}", index + 1)))
    }

    fn room(&mut self) -> Result<&mut dyn TableLike, EditError> {
        self.document.get_mut("room").and_then(Item::as_table_like_mut).ok_or_else(|| EditError::Missing("room".to_owned()))
    }

    /// The `[[room.wall]]` of a wall, made if there is none.
    fn wall(&mut self, wall: usize) -> Result<&mut dyn TableLike, EditError> {
        let edge = self.edge(wall) as i64;
        let room = self.room()?;
        let is_it = |table: &dyn TableLike| table.get("edge").and_then(Item::as_integer) == Some(edge);
        let known = count(room, "wall");
        let found = (0..known).find(|&index| child(room, "wall", index).is_some_and(|table| is_it(table)));
        let index = found.unwrap_or_else(|| {
            push(room, "wall", vec![("edge".to_owned(), Value::from(edge))]);
            known
        });
        child(room, "wall", index).ok_or_else(|| EditError::ByHand("the list of walls".to_owned()))
    }

    /// The number of a wall's edge as the text counts them: a clockwise outline is turned round by the reader.
    fn edge(&self, wall: usize) -> usize {
        let unit = self.scene.unit;
        let outline = self.document.get("room").and_then(|room| room.get("outline")).and_then(Item::as_array);
        let corner = |value: &Value| {
            let pair = value.as_array()?;
            Some(DVec2::new(meters(pair.get(0)?, unit)?, meters(pair.get(1)?, unit)?))
        };
        let corners: Vec<DVec2> = outline.into_iter().flatten().filter_map(corner).collect();
        if (Polygon { corners }).area() < 0.0 { self.scene.walls.len() - wall } else { wall + 1 }
    }

    /// Whether so many more of a type are left in stock; fewer always are.
    fn has_in_stock(&self, kind: &str, more: i64) -> Result<(), EditError> {
        let left = self.scene.stock.iter().find(|stock| stock.name == kind).map_or(0, |stock| stock.count);
        match u32::try_from(more) {
            Ok(needed) if needed > left => Err(EditError::OutOfStock { kind: kind.to_owned(), needed, left }),
            _ => Ok(()),
        }
    }

    /// Changes how many of a type are left in stock.
    fn count_stock(&mut self, kind: &str, change: i64) {
        let unit = self.scene.unit;
        let index = self.scene.stock.iter().position(|stock| stock.name == kind);
        if let Some(table) = index.and_then(|index| nth(&mut self.document, "stock", index)) {
            let count = table.get("count").and_then(Item::as_integer).unwrap_or(0);
            let changed = (count + change).max(0);
            if changed != count {
                set(table, "count", Value::from(changed), unit);
            }
        }
    }

    fn push(&mut self, key: &str, keys: Vec<(String, Value)>) {
        push(self.document.as_table_mut(), key, keys);
    }
}

/// `none is`, `1 is`, `2 are`
fn is_left(count: u32) -> String {
    match count {
        0 => "none is".to_owned(),
        1 => "1 is".to_owned(),
        _ => format!("{count} are"),
    }
}

fn missing(what: &str, name: &str) -> EditError {
    EditError::Missing(format!("{what} \"{name}\""))
}

/// How many tables a list has; it may be written as `[[headers]]` or as `[{ ... }]`.
fn count(parent: &dyn TableLike, key: &str) -> usize {
    match parent.get(key) {
        Some(Item::ArrayOfTables(tables)) => tables.len(),
        Some(Item::Value(Value::Array(array))) => array.len(),
        _ => 0,
    }
}

/// A table of a list.
fn child<'a>(parent: &'a mut dyn TableLike, key: &str, index: usize) -> Option<&'a mut dyn TableLike> {
    match parent.get_mut(key)? {
        Item::ArrayOfTables(tables) => tables.get_mut(index).map(|table| table as &mut dyn TableLike),
        Item::Value(Value::Array(array)) => array.get_mut(index)?.as_inline_table_mut().map(|table| table as &mut dyn TableLike),
        Item::None | Item::Value(_) | Item::Table(_) => None,
    }
}

fn nth<'a>(document: &'a mut DocumentMut, key: &str, index: usize) -> Option<&'a mut dyn TableLike> {
    child(document.as_table_mut(), key, index)
}

/// The same, for something that is known to be there.
fn child_or_by_hand<'a>(document: &'a mut DocumentMut, key: &str, index: usize) -> Result<&'a mut dyn TableLike, EditError> {
    nth(document, key, index).ok_or_else(|| EditError::ByHand(format!("the list of {key}s")))
}

/// Adds a table after the last of a list.
fn push(parent: &mut dyn TableLike, key: &str, keys: Vec<(String, Value)>) {
    let list = parent.entry(key).or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new()));
    match list {
        Item::ArrayOfTables(tables) => {
            let mut table = Table::new();
            table.decor_mut().set_prefix("\n");
            for (key, value) in keys {
                table.insert(&key, Item::Value(value));
            }
            tables.push(table);
        }
        // Somebody wrote `panel = [{ ... }]`.
        Item::Value(Value::Array(array)) => array.push(keys.into_iter().collect::<InlineTable>()),
        Item::None | Item::Value(_) | Item::Table(_) => {}
    }
}

/// Removes a table of the list at a path, and the list with its last one. Comments above it that an empty line sets off go to what follows.
fn remove(document: &mut DocumentMut, path: &[&str], index: usize) {
    let Some((key, above)) = path.split_last() else { return };
    let mut parent: &mut dyn TableLike = document.as_table_mut();
    for step in above {
        let Some(inner) = parent.get_mut(step).and_then(Item::as_table_like_mut) else { return };
        parent = inner;
    }
    let mut set_off = None;
    let mut empty = false;
    match parent.get_mut(key) {
        Some(Item::ArrayOfTables(tables)) if index < tables.len() => {
            let table = tables.remove(index);
            let above = table.decor().prefix().and_then(|prefix| prefix.as_str()).unwrap_or("");
            set_off = Some((table.position(), above[..above.rfind("\n\n").map_or(0, |at| at + 1)].to_owned()));
            empty = tables.is_empty();
        }
        Some(Item::Value(Value::Array(array))) if index < array.len() => {
            array.remove(index);
        }
        _ => {}
    }
    if empty {
        parent.remove(key);
    }
    if let Some((position, comment)) = set_off.filter(|(_, comment)| !comment.trim().is_empty()) {
        let next = position.and_then(|position| next_position(document.as_table(), position));
        if let Some(table) = next.and_then(|next| at_position(document.as_table_mut(), next)) {
            let own = table.decor().prefix().and_then(|prefix| prefix.as_str()).unwrap_or("").to_owned();
            table.decor_mut().set_prefix(comment + &own);
        } else {
            let trailing = document.trailing().as_str().unwrap_or("").to_owned();
            document.set_trailing(comment + &trailing);
        }
    }
}

/// The first position of a header after this one.
fn next_position(table: &Table, after: isize) -> Option<isize> {
    let within = |inner: &Table| inner.position().filter(|&at| at > after).into_iter().chain(next_position(inner, after)).min();
    let positions = table.iter().filter_map(|(_, item)| match item {
        Item::Table(inner) => within(inner),
        Item::ArrayOfTables(tables) => tables.iter().filter_map(within).min(),
        Item::None | Item::Value(_) => None,
    });
    positions.min()
}

/// The table whose header stands at a position.
fn at_position(table: &mut Table, position: isize) -> Option<&mut Table> {
    let within = |inner: &Table| inner.position() == Some(position) || next_position(inner, position - 1) == Some(position);
    let inner = table.iter_mut().find_map(|(_, item)| match item {
        Item::Table(inner) if within(inner) => Some(inner),
        Item::ArrayOfTables(tables) => tables.iter_mut().find(|inner| within(inner)),
        Item::None | Item::Value(_) | Item::Table(_) => None,
    })?;
    if inner.position() == Some(position) { Some(inner) } else { at_position(inner, position) }
}

/// The length that a value reads as, meters.
fn meters(value: &Value, unit: LengthUnit) -> Option<f64> {
    match value {
        Value::String(text) => Length::read(text.value(), unit).ok().map(|length| length.0),
        Value::Integer(number) => Some(unit.to_meters(*number.value() as f64)),
        Value::Float(number) => Some(unit.to_meters(*number.value())),
        Value::Boolean(_) | Value::Datetime(_) | Value::Array(_) | Value::InlineTable(_) => None,
    }
}

/// Lengths as a list.
fn lengths(meters: &[f64], unit: LengthUnit) -> Value {
    Value::Array(meters.iter().map(|&meters| measured_value(meters, unit)).collect::<Array>())
}

/// Whether two values read as the same.
fn same(one: &Value, other: &Value, unit: LengthUnit) -> bool {
    match (one, other) {
        (Value::String(one), Value::String(other)) if one.value() == other.value() => true,
        (Value::Boolean(one), Value::Boolean(other)) => one.value() == other.value(),
        _ => meters(one, unit).is_some_and(|one| meters(other, unit) == Some(one)),
    }
}

/// Sets a value and keeps what stands round it, where it reads as another one; of a list only the entries that do.
fn set(table: &mut dyn TableLike, key: &str, value: Value, unit: LengthUnit) {
    match table.get_mut(key) {
        Some(Item::Value(old)) => replace(old, value, unit),
        _ => {
            table.insert(key, Item::Value(value));
        }
    }
}

fn replace(old: &mut Value, new: Value, unit: LengthUnit) {
    match (old, new) {
        (Value::Array(old), Value::Array(new)) if old.len() == new.len() => {
            for (old, new) in old.iter_mut().zip(new) {
                replace(old, new, unit);
            }
        }
        (old, new) if !same(old, &new, unit) => {
            let decor = old.decor().clone();
            *old = new;
            *old.decor_mut() = decor;
        }
        _ => {}
    }
}
