//! What is asked of a plan, changed in a person's scene text: the keys of `[goals]`, and only those that mean something else than before.
//!
//! What is no longer said goes with its key; a table that is left without keys stays.

use toml_edit::{Array, Item, Table, TableLike, Value};

use super::super::print::number_value;
use super::super::{Drilling, Goals, Term};
use super::{EditError, Editor, set};
use crate::units::LengthUnit;

impl Editor {
    /// Says what is asked of a plan.
    ///
    /// # Errors
    /// [`EditError::ByHand`] where `goals` is no table.
    pub fn set_goals(&mut self, goals: &Goals) -> Result<(), EditError> {
        let own = self.scene.goals.clone();
        if own == *goals {
            return Ok(());
        }
        let table = self.goals()?;
        for term in Term::ALL.into_iter().filter(|&term| own.weights[term] != goals.weights[term]) {
            write(table, term.key(), goals.weights[term].map(number_value));
        }
        if own.decay_s != goals.decay_s {
            let range = |(low, high): (f64, f64)| Value::Array([low, high].map(number_value).into_iter().collect());
            write(table, "decay_range", goals.decay_s.map(range));
        }
        if own.move_hung != goals.move_hung {
            write(table, "move_hung", goals.move_hung.then(|| true.into()));
        }
        if own.drilling != goals.drilling {
            let (drill, surfaces) = match &goals.drilling {
                Drilling::Anywhere => (None, None),
                Drilling::Nowhere => (Some(false.into()), None),
                Drilling::NotInto(surfaces) => (None, Some(Value::Array(surfaces.iter().map(String::as_str).collect::<Array>()))),
            };
            write(table, "drill", drill);
            write(table, "no_drill", surfaces);
        }
        if own.budget != goals.budget {
            write(table, "budget", goals.budget.map(number_value));
        }
        Ok(())
    }

    /// The table, made at the end if there is none.
    fn goals(&mut self) -> Result<&mut dyn TableLike, EditError> {
        let made = || {
            let mut table = Table::new();
            table.decor_mut().set_prefix("\n");
            Item::Table(table)
        };
        let item = self.document.as_table_mut().entry("goals").or_insert_with(made);
        item.as_table_like_mut().ok_or_else(|| EditError::ByHand("what is asked of a plan".to_owned()))
    }
}

/// A key with this value, or none; plain numbers, whatever the unit of lengths.
fn write(table: &mut dyn TableLike, key: &str, value: Option<Value>) {
    match value {
        Some(value) => set(table, key, value, LengthUnit::Meter),
        None => _ = table.remove(key),
    }
}
