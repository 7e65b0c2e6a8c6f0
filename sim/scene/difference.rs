//! In what do two scene texts differ? Key by key, as a person would say it, not line by line: comments, order and spaces do not count.
//!
//! Entries of a list (`[[seat]]`) belong together that have the same name; those without one, panels for instance, that are the same
//! number among their like (`type`, `edge`). What one text leaves out is not filled in: a key that is written in one only is told as such.
//!
//! *Limits.* A thing that is called otherwise is another thing. Texts must be TOML; whether they are scenes is not asked.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use toml::{Table, Value};

/// One thing that differs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Difference {
    /// Where it stands: `room`, `seat "seat"`; nothing at the top of the text.
    pub part: String,
    /// Which key; nothing where a whole part is there or not.
    pub key: String,
    /// What the first text has; nothing where it has none.
    pub was: Option<String>,
    /// What the other text has; nothing where it has none.
    pub is: Option<String>,
}

/// All that differs between two texts, in the order of parts and keys; nothing where one of them is no TOML.
#[must_use]
pub fn differences(first: &str, other: &str) -> Vec<Difference> {
    let (Ok(first), Ok(other)) = (first.parse::<Table>(), other.parse::<Table>()) else { return Vec::new() };
    let (first, other) = (parts(&first), parts(&other));
    let mut names: Vec<&String> = first.keys().chain(other.keys()).collect();
    names.sort();
    names.dedup();
    names.into_iter().flat_map(|name| of_part(name, first.get(name), other.get(name))).collect()
}

/// Keys of a part, with their values as they are written.
type Part = BTreeMap<String, String>;

/// What differs in a part.
fn of_part(name: &str, first: Option<&Part>, other: Option<&Part>) -> Vec<Difference> {
    let whole = |part: &Part| part.iter().map(|(key, value)| format!("{key} = {value}")).collect::<Vec<_>>().join(", ");
    let difference =
        |key: &str, was: Option<String>, is: Option<String>| Difference { part: name.to_owned(), key: key.to_owned(), was, is };
    let (Some(first), Some(other)) = (first, other) else { return vec![difference("", first.map(whole), other.map(whole))] };
    let mut keys: Vec<&String> = first.keys().chain(other.keys()).collect();
    keys.sort();
    keys.dedup();
    let differs = keys.into_iter().filter(|key| first.get(*key) != other.get(*key));
    differs.map(|key| difference(key, first.get(key).cloned(), other.get(key).cloned())).collect()
}

/// The parts of a text, each under its name.
fn parts(text: &Table) -> BTreeMap<String, Part> {
    let mut parts = BTreeMap::new();
    gather("", text, &mut parts);
    parts
}

/// The keys of a table, and the tables in it as parts of their own.
fn gather(name: &str, table: &Table, parts: &mut BTreeMap<String, Part>) {
    let below = |key: &str| if name.is_empty() { key.to_owned() } else { format!("{name}.{key}") };
    let mut own = Part::new();
    for (key, value) in table {
        match value {
            Value::Table(inner) => gather(&below(key), inner, parts),
            Value::Array(entries) if !entries.is_empty() && entries.iter().all(Value::is_table) => {
                let mut like: BTreeMap<String, usize> = BTreeMap::new();
                for entry in entries.iter().filter_map(Value::as_table) {
                    let called = called(&below(key), entry);
                    let number = like.entry(called.clone()).or_default();
                    *number += 1;
                    gather(&if *number > 1 { format!("{called} ({number})") } else { called }, entry, parts);
                }
            }
            value => _ = own.insert(key.clone(), value.to_string()),
        }
    }
    if !own.is_empty() {
        parts.insert(name.to_owned(), own);
    }
}

/// What an entry of a list is called.
fn called(list: &str, entry: &Table) -> String {
    let by = ["name", "type", "edge"].into_iter().find_map(|key| entry.get(key));
    by.map_or_else(|| list.to_owned(), |by| format!("{list} {by}"))
}
