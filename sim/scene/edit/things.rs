//! Doors, windows, hatches, solid boxes and places to keep clear, and types of panel: added, changed, removed.
//!
//! Changing one compares what it was with what it is to be, key by key: what reads the same stays as it is written, and a key that was
//! left out because its default was meant stays out.

use toml_edit::{DocumentMut, Item, Table, Value};

use super::{EditError, Editor, child_or_by_hand, lengths, missing, remove, set};
use crate::scene::print::{self, Page};
use crate::scene::{Block, Clearance, Opening, PanelType, Scene};

/// Lists that such things stand in. Names differ within a list only.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ThingKind {
    /// Doors, windows, hatches.
    Opening,
    /// Solid boxes.
    Block,
    /// Places to keep clear.
    Clearance,
}

impl ThingKind {
    /// The key of its list.
    pub(super) fn key(self) -> &'static str {
        match self {
            Self::Opening => "opening",
            Self::Block => "block",
            Self::Clearance => "clearance",
        }
    }

    /// The number of the thing of this name in its list.
    pub(super) fn index(self, scene: &Scene, name: &str) -> Option<usize> {
        match self {
            Self::Opening => scene.openings.iter().position(|thing| thing.name == name),
            Self::Block => scene.blocks.iter().position(|thing| thing.name == name),
            Self::Clearance => scene.clearances.iter().position(|thing| thing.name == name),
        }
    }

    pub(super) fn find(self, scene: &Scene, name: &str) -> Result<usize, EditError> {
        self.index(scene, name).ok_or_else(|| missing(self.key(), name))
    }
}

impl Editor {
    /// Adds a door, window or hatch.
    pub fn add_opening(&mut self, opening: &Opening) {
        self.add(ThingKind::Opening.key(), |page| print::opening(page, opening));
    }

    /// Adds a solid box.
    pub fn add_block(&mut self, block: &Block) {
        self.add(ThingKind::Block.key(), |page| print::block(page, block));
    }

    /// Adds a place that must stay clear.
    pub fn add_clearance(&mut self, clearance: &Clearance) {
        self.add(ThingKind::Clearance.key(), |page| print::clearance(page, clearance));
    }

    /// Makes the opening of this name another one.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn change_opening(&mut self, name: &str, opening: &Opening) -> Result<(), EditError> {
        let index = ThingKind::Opening.find(&self.scene, name)?;
        let old = self.scene.openings[index].clone();
        self.change(ThingKind::Opening.key(), index, |page| print::opening(page, &old), |page| print::opening(page, opening))
    }

    /// Makes the block of this name another one. One that is written by its corner stays so unless it is turned.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn change_block(&mut self, name: &str, block: &Block) -> Result<(), EditError> {
        let index = ThingKind::Block.find(&self.scene, name)?;
        let old = self.scene.blocks[index].clone();
        let unit = self.scene.unit;
        let table = child_or_by_hand(&mut self.document, "block", index)?;
        let corner = table.contains_key("corner");
        self.change(ThingKind::Block.key(), index, |page| print::block(page, &old), |page| print::block(page, block))?;
        let table = child_or_by_hand(&mut self.document, "block", index)?;
        if corner && block.rotation == 0.0 {
            table.remove("center");
            set(table, "corner", lengths(&(block.center - block.size.truncate() / 2.0).to_array(), unit), unit);
        } else if corner {
            table.remove("corner");
            set(table, "center", lengths(&block.center.to_array(), unit), unit);
        }
        Ok(())
    }

    /// Makes the clearance of this name another one.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn change_clearance(&mut self, name: &str, clearance: &Clearance) -> Result<(), EditError> {
        let index = ThingKind::Clearance.find(&self.scene, name)?;
        let old = self.scene.clearances[index].clone();
        self.change(ThingKind::Clearance.key(), index, |page| print::clearance(page, &old), |page| print::clearance(page, clearance))
    }

    /// Adds a type of panel.
    pub fn add_stock(&mut self, kind: &PanelType) {
        self.add("stock", |page| print::panel_type(page, kind));
    }

    /// Makes the type of panel of this name another one.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn change_stock(&mut self, name: &str, kind: &PanelType) -> Result<(), EditError> {
        let index = self.scene.stock.iter().position(|stock| stock.name == name).ok_or_else(|| missing("type of panel", name))?;
        let old = self.scene.stock[index].clone();
        self.change("stock", index, |page| print::panel_type(page, &old), |page| print::panel_type(page, kind))
    }

    /// Removes the thing of this name.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn remove_thing(&mut self, kind: ThingKind, name: &str) -> Result<(), EditError> {
        let index = kind.find(&self.scene, name)?;
        remove(&mut self.document, &[kind.key()], index);
        Ok(())
    }

    pub(super) fn add(&mut self, key: &'static str, write: impl FnOnce(&mut Page)) {
        let keys = self.printed(key, write);
        self.push(key, keys);
    }

    fn change(
        &mut self,
        key: &'static str,
        index: usize,
        before: impl FnOnce(&mut Page),
        after: impl FnOnce(&mut Page),
    ) -> Result<(), EditError> {
        let (before, after) = (self.printed(key, before), self.printed(key, after));
        let unit = self.scene.unit;
        let table = child_or_by_hand(&mut self.document, key, index)?;
        for (key, _) in before.iter().filter(|(key, _)| !after.iter().any(|(other, _)| other == key)) {
            table.remove(key);
        }
        for (key, value) in after {
            let was = before.iter().find(|(other, _)| *other == key);
            if was.is_none_or(|(_, was)| was.to_string() != value.to_string()) {
                set(table, &key, value, unit);
            }
        }
        Ok(())
    }

    /// What the print of one thing says, key by key.
    fn printed(&self, key: &str, write: impl FnOnce(&mut Page)) -> Vec<(String, Value)> {
        let printed: DocumentMut = print::one(self.scene.unit, write).parse().expect("our own print is TOML");
        let table = printed.get(key).and_then(Item::as_array_of_tables).and_then(|tables| tables.get(0));
        table.into_iter().flat_map(Table::iter).filter_map(|(key, item)| Some((key.to_owned(), item.as_value()?.clone()))).collect()
    }
}
