//! `[build]` and `[[structure]]`: how panels are made, marked out and hung, and what stands behind the surfaces.

use glam::DVec2;

use super::super::making::{Making, OwnFixings, Paper, Runs, Structure, StructureKind};
use super::super::walk::{Limits, REACH, Table, Walk};
use super::things::{length, length_or};

/// Keys of `[build]`.
const KEYS: [&str; 19] = [
    "paper",
    "cloth_return",
    "patterned",
    "kerf",
    "table",
    "evening_hours",
    "harden_hours",
    "glue_hours",
    "spare_percent",
    "least_gap",
    "even_within",
    "fixings",
    "fixing_inset",
    "fixing_holds",
    "design_factor",
    "breaks_at",
    "least_wire",
    "wire_loop",
    "slack",
];

/// Keys of a `[[structure]]`.
pub(super) const STRUCTURE_KEYS: [&str; 7] = ["name", "kind", "surface", "runs", "first", "spacing", "width"];

/// Meters of cloth on the back: less than 50 mm gives staples no hold (common practice, no source).
const RETURN: Limits = (0.05, 0.5);
const KERF: Limits = (0.0, 0.02);
const TABLE: Limits = (0.2, 10.0);
const HOURS: Limits = (0.0, 500.0);
const EVENING: Limits = (0.25, 24.0);
const PERCENT: Limits = (0.0, 100.0);
const GAP: Limits = (0.0, 0.5);
const FIXINGS: Limits = (1.0, 100.0);
const INSET: Limits = (0.005, 2.0);
/// Kilograms.
const HOLDS: Limits = (0.05, 1000.0);
/// Below 5 nothing is figured for what hangs over heads.
const FACTOR: Limits = (5.0, 50.0);
/// Newtons.
const STRENGTH: Limits = (1.0, 1e6);
const WIRE: Limits = (0.0, 2.0);
/// Longer slack would let what falls gather speed.
const SLACK: Limits = (0.0, 0.05);
const SPACING: Limits = (0.1, 5.0);
const WIDTH: Limits = (0.005, 1.0);

/// `[build]`
pub(super) fn build(walk: &mut Walk<'_>, table: &Table<'_>) -> Making {
    walk.allow_only(table, &KEYS);
    let usual = Making::default();
    let mut meters = |key: &str, limits: Limits, usual: f64| length_or(walk, table, key, limits, usual).unwrap_or(usual);
    let cloth_return = meters("cloth_return", RETURN, usual.cloth_return);
    let kerf = meters("kerf", KERF, usual.kerf);
    let least_gap = meters("least_gap", GAP, usual.least_gap);
    let even_within = meters("even_within", GAP, usual.even_within);
    let least_wire = meters("least_wire", WIRE, usual.least_wire);
    let wire_loop = meters("wire_loop", WIRE, usual.wire_loop);
    let slack = meters("slack", SLACK, usual.slack);
    let mut number = |key: &str, limits: Limits, unit: &str| {
        let entry = walk.optional(table, key)?;
        walk.number(&entry, limits, unit)
    };
    let evening_hours = number("evening_hours", EVENING, "hours").unwrap_or(usual.evening_hours);
    let (harden_hours, glue_hours) = (number("harden_hours", HOURS, "hours"), number("glue_hours", HOURS, "hours"));
    let spare = number("spare_percent", PERCENT, "%").map_or(usual.spare, |percent| percent / 100.0);
    let fixing_holds = number("fixing_holds", HOLDS, "kg");
    let design_factor = number("design_factor", FACTOR, "").unwrap_or(usual.design_factor);
    let paper = walk.optional(table, "paper").and_then(|entry| walk.word(&entry, &Paper::WORDS));
    let patterned = walk.optional(table, "patterned").and_then(|entry| walk.truth(&entry)).unwrap_or(usual.patterned);
    let size = walk.optional(table, "table").and_then(|entry| walk.size2(&entry, "a size [width, length]", TABLE));
    Making {
        paper,
        cloth_return,
        patterned,
        kerf,
        table: size.map_or(usual.table, |size| DVec2::new(size.min_element(), size.max_element())),
        evening_hours,
        harden_hours,
        glue_hours,
        spare,
        least_gap,
        even_within,
        fixings: own_fixings(walk, table),
        fixing_holds,
        design_factor,
        breaks_at: breaks_at(walk, table),
        least_wire,
        wire_loop,
        slack,
        structure: Vec::new(),
    }
}

/// `fixings` and `fixing_inset`, which go together.
fn own_fixings(walk: &mut Walk<'_>, table: &Table<'_>) -> Option<OwnFixings> {
    let count = walk.optional(table, "fixings").map(|entry| walk.whole(&entry, FIXINGS));
    let inset = walk.optional(table, "fixing_inset").map(|entry| walk.length(&entry, INSET));
    match (count, inset) {
        (Some(count), Some(inset)) => Some(OwnFixings { count: count? as u32, inset: inset? }),
        (Some(_), None) => {
            walk.missing(
                table,
                &["fixing_inset"],
                "your own rule needs `fixing_inset` beside `fixings`",
                "add `fixing_inset = \"150 mm\"`",
            );
            None
        }
        (None, Some(_)) => {
            walk.missing(table, &["fixings"], "your own rule needs `fixings` beside `fixing_inset`", "add `fixings = 4`");
            None
        }
        (None, None) => None,
    }
}

/// `breaks_at = { wire = 1500, anchor = 2000 }`, newtons.
fn breaks_at(walk: &mut Walk<'_>, table: &Table<'_>) -> Vec<(String, f64)> {
    let Some(entry) = walk.optional(table, "breaks_at") else { return Vec::new() };
    let Some(parts) = walk.table(&entry, "`breaks_at`") else { return Vec::new() };
    let entries: Vec<_> = parts.map.iter().map(|(key, value)| (key.get_ref().to_string(), (value.get_ref(), value.span()))).collect();
    entries.into_iter().filter_map(|(name, entry)| Some((name, walk.number(&entry, STRENGTH, "newtons")?))).collect()
}

/// Which way members run, for whoever wrote another word.
const RUNS: &str =
    "\"up\" is from the lower edge of the surface to the upper one, \"across\" from left to right, as the surface's sheet shows it";

/// `[[structure]]`
pub(super) fn structure(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<Structure> {
    let kinds = StructureKind::ALL.map(|kind| (kind.word(), kind));
    let kind = walk.required(table, "kind", "kind = \"joists\"").and_then(|entry| walk.word(&entry, &kinds));
    let surface = walk.required(table, "surface", "surface = \"ceiling\"").and_then(|entry| walk.mention(table, "surface", &entry));
    if kind == Some(StructureKind::Solid) {
        // What carries everywhere has no lines.
        return Some(Structure { name, kind: kind?, surface: surface?, runs: Runs::Up, first: 0.0, spacing: None, width: 0.0 });
    }
    let runs = walk.required(table, "runs", "runs = \"up\"").and_then(|entry| walk.word_meaning(&entry, &Runs::WORDS, Some(RUNS)));
    let first = length(walk, table, "first", (-REACH, REACH));
    let spacing = walk.optional(table, "spacing").map_or(Some(None), |entry| walk.length(&entry, SPACING).map(Some));
    let width = length_or(walk, table, "width", WIDTH, 0.045);
    Some(Structure { name, kind: kind?, surface: surface?, runs: runs?, first: first?, spacing: spacing?, width: width? })
}
