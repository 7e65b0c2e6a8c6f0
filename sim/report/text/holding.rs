//! What the scene says of hanging: what holds behind the surfaces, what stays free before them; and what it does not say.

use super::columns::{Page, Table};
use super::figures::length;
use crate::findings::Survey;
use crate::layout::free::leaf;
use crate::scene::making::Runs;
use crate::scene::{Clearance, ClearanceRegion, Opening, Scene, Structure, StructureKind};

/// What the section is called.
pub const HEADING: &str = "What holds, and what stays free";

/// Which edges members are told from.
pub const EDGES: &str = "Left and lower edge: of a wall as it is seen from inside the room; of a level ceiling as it is seen from below with north (+y) ahead, so that left is its east side and lower its south side; of a slope facing the wall that it rises from.";

/// What holds and what stays free: what it is called, where it is, how far it goes.
#[must_use]
pub fn rows(scene: &Scene) -> Vec<[String; 3]> {
    let structure =
        scene.making.structure.iter().map(|structure| [structure.name.clone(), structure.surface.clone(), members(structure, scene)]);
    let swings = scene.openings.iter().filter_map(|opening| Some([opening.name.clone(), opening.surface.clone(), swing(opening, scene)?]));
    structure.chain(swings).chain(scene.clearances.iter().map(|clearance| kept_free(clearance, scene))).collect()
}

/// Whether a member is told from an edge.
#[must_use]
pub fn has_lines(scene: &Scene) -> bool {
    scene.making.structure.iter().any(|structure| structure.kind != StructureKind::Solid)
}

/// The section of a page.
pub(super) fn section(page: &mut Page, scene: &Scene, survey: &Survey) {
    let rows = rows(scene);
    if rows.is_empty() && survey.unsaid.is_empty() {
        return;
    }
    page.section(HEADING);
    if !rows.is_empty() {
        let mut table = Table::new(&["<what", "<where", "<how"]);
        rows.into_iter().for_each(|row| table.row(row));
        page.table(&table);
    }
    if has_lines(scene) {
        page.paragraph(EDGES);
    }
    survey.unsaid.iter().for_each(|sentence| page.hanging("-", sentence));
}

fn members(structure: &Structure, scene: &Scene) -> String {
    let kind = structure.kind.word();
    if structure.kind == StructureKind::Solid {
        return format!("{kind} all over");
    }
    let (way, edge) = match structure.runs {
        Runs::Up => ("up", "left"),
        Runs::Across => ("across", "lower"),
    };
    let way = compass(structure, scene).map_or_else(|| way.to_owned(), |compass| format!("{way} ({compass})"));
    let next = structure.spacing.map_or_else(String::new, |spacing| format!(", then every {}", length(spacing, scene)));
    let (first, width) = (length(structure.first, scene), length(structure.width, scene));
    format!("{kind} running {way}, {width} wide: the first {first} from the {edge} edge to its middle{next}")
}

/// Which way members of a level ceiling run, as its walls lie: the sheet's up is north.
fn compass(structure: &Structure, scene: &Scene) -> Option<&'static str> {
    let is_level = match scene.ceiling.iter().find(|plane| plane.name == structure.surface) {
        Some(plane) => plane.slope.length() < 1e-6,
        None => structure.surface == "ceiling",
    };
    is_level.then_some(match structure.runs {
        Runs::Up => "from south to north, along y",
        Runs::Across => "from east to west, along x",
    })
}

/// What is kept free for the leaf of a door or hatch.
fn swing(opening: &Opening, scene: &Scene) -> Option<String> {
    leaf(opening).map(|deep| format!("taken to open into the room: it keeps {} before it free", length(deep, scene)))
}

fn kept_free(clearance: &Clearance, scene: &Scene) -> [String; 3] {
    let (place, how) = match &clearance.region {
        ClearanceRegion::Surface { surface, place } => {
            let [width, height] = [place.width, place.height].map(|side| length(side, scene));
            let way = if scene.walls.iter().any(|wall| wall.name == *surface) { "high" } else { "deep" };
            (surface.clone(), format!("{width} wide, {height} {way} on it stay free"))
        }
        ClearanceRegion::Space { low, high } => {
            let [x, y, z] = (*high - *low).to_array().map(|side| length(side, scene));
            ("the room".to_owned(), format!("a box of {x} along x, {y} along y, {z} high stays free"))
        }
    };
    [clearance.name.clone(), place, how]
}
