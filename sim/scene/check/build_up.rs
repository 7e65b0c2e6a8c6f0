//! Rules about what panels are made of: the parts fill the whole, and leave the room a room.
//!
//! *Limits.* Whether a gap is too deep is judged by the box round the floor plan and the highest point of the ceiling.

use super::super::build_up::THIN;
use super::super::read::Draft;
use super::super::walk::Walk;
use super::super::{Core, CoreLayer, Facing, StockKind};

/// The sheet and the layers of a panel are as thick as the panel says.
pub(super) fn layers_fill(walk: &mut Walk<'_>, draft: &Draft) {
    for (stock, places) in draft.scene.stock.iter().zip(&draft.at.stock) {
        let sheet = stock.facing.as_ref().map_or(0.0, Facing::thickness);
        let whole = stock.thickness;
        match &stock.core {
            Core::Porous(_) | Core::Material(_) if sheet < whole => {}
            Core::Porous(_) | Core::Material(_) => {
                let message = format!("the sheet before \"{}\" is {} thick, the whole panel {}", stock.name, thin(sheet), thin(whole));
                let hint = "`thickness` is that of the panel: the sheet of its facing and all that is behind it".to_owned();
                walk.error("layers-too-thick", places.of("facing"), message, hint);
            }
            Core::Layers(layers) => {
                let sum = sheet + layers.iter().map(CoreLayer::thickness).sum::<f64>();
                let with_sheet = if sheet > 0.0 { " and the sheet before them" } else { "" };
                let parts = format!("the layers of \"{}\"{with_sheet} are {} together, the panel {}", stock.name, thin(sum), thin(whole));
                if sum > whole + THIN {
                    let hint = format!("write `thickness = \"{}\"`, or make a layer thinner", thin(sum));
                    walk.error("layers-too-thick", places.of("layers"), parts, hint);
                } else if sum < whole - THIN {
                    let rest = thin(whole - sum);
                    let hint = format!("say where it is by {{ air = \"{rest}\" }}; until then it counts as air behind the last layer");
                    walk.warning("layers-too-thin", places.of("layers"), parts, hint);
                }
            }
        }
    }
}

/// Millimeters to a tenth: sheets are thin in every unit.
fn thin(meters: f64) -> String {
    format!("{} mm", (meters * 10_000.0).round() / 10.0)
}

/// What lies before a measured row is in its values, if it is not as good as nothing.
pub(super) fn facings_are_computed(walk: &mut Walk<'_>, draft: &Draft) {
    for (stock, places) in draft.scene.stock.iter().zip(&draft.at.stock) {
        let open = stock.facing.is_none_or(|facing| facing == Facing::OpenCloth);
        if let (Core::Material(material), false) = (&stock.core, open) {
            let message =
                format!("what a facing does to \"{material}\" cannot be computed: the row holds what was measured, facing and all");
            let hint = "describe the core by `flow_resistivity`, `density` or `layers`, or leave out `facing`".to_owned();
            walk.error("keys-conflict", places.of("facing"), message, hint);
        }
    }
}

/// No panel with any of its gaps is as deep as the room.
pub(super) fn gaps_leave_room(walk: &mut Walk<'_>, draft: &Draft) {
    let (low, high) = draft.scene.floor_plan().bounds();
    let across = (high - low).max_element();
    let up = draft.scene.outline.iter().map(|&corner| draft.scene.ceiling_height(corner)).fold(0.0, f64::max);
    for (stock, places) in draft.scene.stock.iter().zip(&draft.at.stock) {
        let room = if matches!(stock.kind, StockKind::Cloud | StockKind::Rug) { up } else { across.max(up) };
        for gap in stock.gaps().filter(|&gap| gap > 0.0 && stock.thickness + gap >= room) {
            let most = (room - stock.thickness).max(0.0);
            let message = format!(
                "\"{}\" is {} deep with its gap, and the room only {}: expected a gap of 0 to {}",
                stock.name,
                walk.print(stock.thickness + gap),
                walk.print(room),
                walk.print(most)
            );
            let hint = "`gap` is the air between the panel and what it hangs on; 50 mm to 200 mm are usual".to_owned();
            walk.error("gap-too-deep", places.of("gap"), message, hint);
        }
    }
}

/// Several gaps are a choice only where a panel hangs or stands before a surface, and where what is known of it tells one gap from another.
pub(super) fn gaps_are_a_choice(walk: &mut Walk<'_>, draft: &Draft) {
    for (stock, places) in draft.scene.stock.iter().zip(&draft.at.stock).filter(|(stock, _)| !stock.other_gaps.is_empty()) {
        let (of, hint) = match (stock.kind, &stock.core) {
            (StockKind::Corner, _) => ("a corner panel", "the corner is the air behind it: leave `gap` out"),
            (StockKind::Cloud, _) => {
                ("a cloud", "`underside` is what a cloud hangs at, and `roomwright cloud` compares heights: leave `gap` out")
            }
            (StockKind::Rug, _) => ("a rug", "it lies on the floor: leave `gap` out"),
            (StockKind::Bookcase, _) => ("a bookcase", "it stands against the wall: leave `gap` out"),
            (_, Core::Material(_)) => (
                "a measured row, whose values are the same with any of them",
                "keep one, or describe the core by `flow_resistivity`, `density` or `layers`",
            ),
            _ => continue,
        };
        walk.error(
            "gap-no-choice",
            places.of("gap"),
            format!("there is nothing to choose between gaps of {of}: \"{}\"", stock.name),
            hint.to_owned(),
        );
    }
}
