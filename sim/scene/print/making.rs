//! `[build]` and `[[structure]]` as text.

use toml_edit::{InlineTable, Value};

use super::{Page, inverse, number_value, word};
use crate::scene::making::{Making, Paper, Runs, StructureKind};

/// What the scene says of making and hanging, where it says anything.
pub(super) fn making(page: &mut Page, making: &Making) {
    let usual = Making { structure: making.structure.clone(), ..Making::default() };
    if *making != usual {
        build(page, making, &usual);
    }
    for structure in &making.structure {
        page.head("[[structure]]");
        page.words("name", &structure.name);
        page.words("kind", structure.kind.word());
        page.words("surface", &structure.surface);
        if structure.kind == StructureKind::Solid {
            continue;
        }
        page.words("runs", word(&Runs::WORDS, &structure.runs));
        page.length("first", structure.first);
        if let Some(spacing) = structure.spacing {
            page.length("spacing", spacing);
        }
        page.length("width", structure.width);
    }
}

/// `[build]`: only what departs from what is usual.
fn build(page: &mut Page, making: &Making, usual: &Making) {
    page.head("[build]");
    if let Some(paper) = making.paper {
        page.words("paper", word(&Paper::WORDS, &paper));
    }
    let lengths = [
        ("cloth_return", making.cloth_return, usual.cloth_return),
        ("kerf", making.kerf, usual.kerf),
        ("least_gap", making.least_gap, usual.least_gap),
        ("even_within", making.even_within, usual.even_within),
        ("least_wire", making.least_wire, usual.least_wire),
        ("wire_loop", making.wire_loop, usual.wire_loop),
        ("slack", making.slack, usual.slack),
    ];
    for (key, meters, usual) in lengths {
        if meters != usual {
            page.length(key, meters);
        }
    }
    if making.patterned {
        page.line("patterned", "true");
    }
    if making.table != usual.table {
        page.lengths("table", &making.table.to_array());
    }
    if making.evening_hours != usual.evening_hours {
        page.number("evening_hours", making.evening_hours);
    }
    for (key, hours) in [("harden_hours", making.harden_hours), ("glue_hours", making.glue_hours), ("fixing_holds", making.fixing_holds)] {
        if let Some(hours) = hours {
            page.number(key, hours);
        }
    }
    if making.spare != usual.spare {
        page.number("spare_percent", inverse(making.spare, making.spare * 100.0, |percent| percent / 100.0));
    }
    if let Some(own) = making.fixings {
        page.line("fixings", &own.count.to_string());
        page.length("fixing_inset", own.inset);
    }
    if making.design_factor != usual.design_factor {
        page.number("design_factor", making.design_factor);
    }
    if !making.breaks_at.is_empty() {
        let parts: InlineTable = making.breaks_at.iter().map(|(name, newtons)| (name.as_str(), number_value(*newtons))).collect();
        page.line("breaks_at", &Value::InlineTable(parts).to_string());
    }
}
