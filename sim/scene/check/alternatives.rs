//! Rules about types of panel that exclude one another: all of a group name the same type, and the combinations can be planned.

use super::super::alternatives::ALTERNATIVES_MOST;
use super::super::read::Draft;
use super::super::walk::Walk;
use super::name_hint;

/// What stands instead of another names a type that is described and that stands for itself; and there are not too many combinations.
pub(super) fn exclude_one_another(walk: &mut Walk<'_>, draft: &Draft) {
    let stock = &draft.scene.stock;
    let known: Vec<&str> = draft.at.names.iter().filter(|(group, ..)| *group == "stock").map(|(_, name, _)| name.as_str()).collect();
    let mut is_clear = true;
    for (kind, places) in stock.iter().zip(&draft.at.stock) {
        let Some(other) = kind.instead_of.as_deref() else { continue };
        let further = || stock.iter().find(|kind| kind.name == other)?.instead_of.as_deref().filter(|further| *further != other);
        let (id, message, hint) = if other == kind.name {
            let hint = "name the type that it may stand instead of, or leave out `instead_of`";
            ("instead-unclear", format!("\"{other}\" stands instead of itself"), hint.to_owned())
        } else if !known.contains(&other) {
            ("stock-not-found", format!("there is no panel type \"{other}\""), name_hint(other, known.iter().copied(), "the types are"))
        } else if let Some(further) = further() {
            let hint = if further == kind.name {
                "of two types that exclude each other one names the other: leave out one `instead_of`".to_owned()
            } else {
                format!("all that exclude one another name the same type: write `instead_of = \"{further}\"`")
            };
            ("instead-unclear", format!("\"{other}\" itself stands instead of \"{further}\""), hint)
        } else {
            continue;
        };
        is_clear = false;
        walk.error(id, places.of("instead_of"), message, hint);
    }
    let groups = draft.scene.groups();
    let combinations = groups.iter().map(Vec::len).fold(1, usize::saturating_mul);
    let last = groups.iter().flatten().filter(|&&kind| stock[kind].instead_of.is_some()).max();
    if let (true, Some(&last)) = (is_clear && combinations > ALTERNATIVES_MOST, last) {
        let message = format!("types that exclude one another leave {combinations} combinations; at most {ALTERNATIVES_MOST} are planned");
        let hint = "ask one question at a time: write `count = 0` for what is out of the question".to_owned();
        walk.error("too-many-alternatives", draft.at.stock[last].of("instead_of"), message, hint);
    }
}
