//! Materials of a person's own: added, and used in the places of others.

use toml_edit::{Item, TableLike, Value};

use super::{EditError, Editor, child, count, missing, nth, set};
use crate::absorbers::table;
use crate::scene::UserMaterial;
use crate::scene::print;

impl Editor {
    /// Adds a material.
    pub fn add_material(&mut self, material: &UserMaterial) {
        self.add("material", |page| print::material(page, material));
    }

    /// Makes everything of another material that is of this one: walls, floor, ceiling, openings, blocks; not what panels are made of.
    pub fn exchange_material(&mut self, old: &str, new: &str) {
        let unit = self.scene.unit;
        let exchange = |table: &mut dyn TableLike, key: &str| {
            if table.get(key).and_then(Item::as_str).is_some_and(|name| is_same(name, old)) {
                set(table, key, Value::from(new), unit);
            }
        };
        if let Ok(room) = self.room() {
            for key in ["floor", "wall_material", "ceiling_material"] {
                exchange(room, key);
            }
            for list in ["wall", "ceiling"] {
                (0..count(room, list)).for_each(|index| {
                    if let Some(table) = child(room, list, index) {
                        exchange(table, "material");
                    }
                });
            }
        }
        for list in ["opening", "block"] {
            (0..count(self.document.as_table(), list)).for_each(|index| {
                if let Some(table) = nth(&mut self.document, list, index) {
                    exchange(table, "material");
                }
            });
        }
    }

    /// Makes a type of panel whose core is a material of another one.
    ///
    /// # Errors
    /// [`EditError::Missing`].
    pub fn set_stock_material(&mut self, kind: &str, material: &str) -> Result<(), EditError> {
        let unit = self.scene.unit;
        let index = self.scene.stock.iter().position(|stock| stock.name == kind);
        let table = index.and_then(|index| nth(&mut self.document, "stock", index)).ok_or_else(|| missing("type of panel", kind))?;
        set(table, "material", Value::from(material), unit);
        Ok(())
    }
}

/// Whether a name as it is written is that of a material: the table forgives case and spaces.
fn is_same(written: &str, name: &str) -> bool {
    let row = |name: &str| table::find(name).map(|row| row.name);
    written == name || row(written).is_some_and(|written| Some(written) == row(name))
}
