//! Rules of meaning: a function a rule. Each looks at what could be read and says what cannot be.
//!
//! *Limits.* Rules about places wait until outline and ceiling are sound.

mod alternatives;
mod build_up;
mod hanging;
mod owned;
mod places;

pub use places::CROWN;

use std::collections::BTreeMap;

use glam::DVec2;

use super::diagnostic::nearest;
use super::read::Draft;
use super::shell::FLOOR;
use super::walk::{Mention, Places, REACH, Span, Walk};
use crate::absorbers::table;
use crate::geometry::Polygon;

/// Least height of a room, meters.
const LEAST_HEIGHT: f64 = 0.5;
/// Least length of a wall, meters.
const LEAST_WALL: f64 = 0.01;

/// Applies every rule, and fills in what follows from several tables: aims and zones.
pub(super) fn check(walk: &mut Walk<'_>, draft: &mut Draft) {
    names_differ(walk, draft);
    surface_names_differ(walk, draft);
    materials_exist(walk, draft);
    surfaces_exist(walk, draft);
    stock_exists(walk, draft);
    alternatives::exclude_one_another(walk, draft);
    owned::money_buys(walk, draft);
    owned::undrilled_exist(walk, draft);
    build_up::layers_fill(walk, draft);
    build_up::facings_are_computed(walk, draft);
    build_up::gaps_are_a_choice(walk, draft);
    something_sounds_and_someone_listens(walk, draft);
    measures_agree(walk, draft);
    places::aims(walk, draft);
    places::points_apart(walk, draft);
    places::zones(walk, draft);
    if draft.shape_known {
        places::openings_on_surfaces(walk, draft);
        places::openings_apart(walk, draft);
        places::blocks_inside(walk, draft);
        places::blocks_apart(walk, draft);
        places::points_inside(walk, draft);
        places::clearances_on_surfaces(walk, draft);
        build_up::gaps_leave_room(walk, draft);
        hanging::stock_fits(walk, draft);
        owned::drill_allowed(walk, draft);
        hanging::panels_hang(walk, draft);
    }
}

/// The outline is a simple polygon with an area, of walls of some length. Whether it is.
pub(super) fn outline(walk: &mut Walk<'_>, room: &Places, corners: &[(DVec2, Span)]) -> bool {
    let count = corners.len();
    if count < 3 {
        let hint = "write at least three corners, in order round the room: outline = [[0, 0], [3.6, 0], [3.6, 2.9], [0, 2.9]]".to_owned();
        walk.error("outline-too-few", room.first(&["outline", "size"]), format!("the outline has {count} corners"), hint);
        return false;
    }
    let mut sound = true;
    for (index, (corner, span)) in corners.iter().enumerate() {
        let (next, _) = &corners[(index + 1) % count];
        if corner.distance(*next) < LEAST_WALL {
            let message = format!("corner {} lies on corner {}", index + 1, (index + 1) % count + 1);
            walk.error("outline-repeats", span.clone(), message, "leave one of them out; the outline closes by itself".to_owned());
            sound = false;
        }
    }
    if !sound {
        return false;
    }
    let polygon = Polygon { corners: corners.iter().map(|(corner, _)| *corner).collect() };
    let (base, along) = (polygon.corners[0], polygon.corners[1] - polygon.corners[0]);
    let on_a_line = polygon.corners.iter().all(|corner| along.perp_dot(*corner - base).abs() <= LEAST_WALL * along.length());
    if let Some((first, second)) = polygon.crossing().filter(|_| !on_a_line) {
        let message = format!("the outline crosses or touches itself: edge {} and edge {}", first + 1, second + 1);
        let hint = "write the corners in order as you walk round the room".to_owned();
        walk.error("outline-crosses", corners[second].1.clone(), message, hint);
        return false;
    }
    if on_a_line || polygon.area().abs() < LEAST_WALL * LEAST_WALL {
        walk.error("outline-no-area", room.first(&["outline", "size"]), "the outline encloses no area", None);
        return false;
    }
    true
}

/// The ceiling is high enough everywhere, not too high, and every plane of it is seen. Whether it can be used.
pub(super) fn ceiling(walk: &mut Walk<'_>, draft: &Draft) -> bool {
    let scene = &draft.scene;
    // The envelope is concave, so that its least height is over a corner.
    let heights = scene.outline.iter().map(|&corner| (scene.ceiling_height(corner), corner));
    let Some((least, corner)) = heights.min_by(|a, b| a.0.total_cmp(&b.0)) else { return false };
    let plane = (0..scene.ceiling.len()).min_by(|&a, &b| scene.ceiling[a].height_at(corner).total_cmp(&scene.ceiling[b].height_at(corner)));
    let span = plane.map_or(0..0, |plane| draft.at.ceiling[plane].first(&["height", "heights", "points", "from", "size"]));
    if least < LEAST_HEIGHT {
        let message = format!("the ceiling is only {} high at [{:.2}, {:.2}] m", walk.print(least), corner.x, corner.y);
        let hint = format!("a room is at least {} high everywhere; end the outline where it gets lower", walk.print(LEAST_HEIGHT));
        walk.error("ceiling-too-low", span, message, hint);
        return false;
    }
    for (index, plane) in scene.ceiling.iter().enumerate() {
        let facets = scene.ceiling_facets(index);
        let highest = facets.iter().flat_map(|facet| &facet.corners).map(|&corner| plane.height_at(corner)).fold(0.0, f64::max);
        if facets.is_empty() {
            let message = format!("\"{}\" is nowhere the lowest part of the ceiling", plane.name);
            walk.warning("ceiling-unused", draft.at.ceiling[index].header.clone(), message, "check its height, or leave it out".to_owned());
        } else if highest > REACH {
            let message = format!("\"{}\" reaches a height of {}", plane.name, walk.print(highest));
            let hint = format!("at most {} can be computed", walk.print(REACH));
            walk.error("out-of-range", draft.at.ceiling[index].header.clone(), message, hint);
            return false;
        }
    }
    true
}

/// Things of a kind differ in name.
fn names_differ(walk: &mut Walk<'_>, draft: &Draft) {
    let mut seen: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for (group, name, span) in draft.at.names.iter().filter(|(group, ..)| *group != "surface") {
        if let Some(first) = seen.get(&(*group, name.as_str())) {
            let line = super::diagnostic::line_and_column(walk.text, *first).0;
            let message = format!("the name \"{name}\" is taken by line {line}");
            walk.error("name-taken", span.clone(), message, "give each its own name".to_owned());
        } else {
            seen.insert((group, name), span.start);
        }
    }
    for (_, name, span) in draft.at.names.iter().filter(|(group, ..)| *group == "material") {
        if table::find(name).is_some() {
            let message = format!("the table of materials has a row \"{name}\" already");
            walk.error("name-taken", span.clone(), message, "give your material its own name".to_owned());
        }
    }
}

/// Walls, parts of the ceiling and blocks differ in name, from each other and from the floor.
fn surface_names_differ(walk: &mut Walk<'_>, draft: &Draft) {
    let (scene, at) = (&draft.scene, &draft.at);
    let walls = scene.walls.iter().map(|wall| &wall.name).zip(&at.walls);
    let ceiling = scene.ceiling.iter().map(|plane| &plane.name).zip(&at.ceiling);
    let blocks = scene.blocks.iter().map(|block| &block.name).zip(&at.blocks);
    let all: Vec<(&String, Span, bool)> =
        walls.chain(ceiling).chain(blocks).map(|(name, places)| (name, places.of("name"), places.of("name") != places.header)).collect();
    let mut seen = vec![FLOOR.to_owned()];
    // Names that follow from a rule come first: the blame goes to a name that somebody wrote.
    for written in [false, true] {
        for (name, span, _) in all.iter().filter(|(.., said)| *said == written) {
            if seen.contains(name) {
                let message = format!("the name \"{name}\" is taken by another surface or block");
                walk.error("name-taken", span.clone(), message, "give each its own name".to_owned());
            } else {
                seen.push((*name).clone());
            }
        }
    }
}

/// Every material is a row of the table or the user's own.
fn materials_exist(walk: &mut Walk<'_>, draft: &Draft) {
    let (scene, at) = (&draft.scene, &draft.at);
    let mentions = walk.mentions.clone();
    let mut used: Vec<(&str, Span)> = vec![(&scene.floor_material, at.room.of("floor"))];
    for (wall, places) in scene.walls.iter().zip(&at.walls) {
        let place = if places.of("material") == places.header { at.room.of("wall_material") } else { places.of("material") };
        used.push((&wall.material, place));
    }
    for (plane, places) in scene.ceiling.iter().zip(&at.ceiling) {
        let place = if places.of("material") == places.header { at.room.of("ceiling_material") } else { places.of("material") };
        used.push((&plane.material, place));
    }
    used.extend(mentions.iter().filter(|mention| mention.key == "material").map(|mention| (mention.name.as_str(), mention.span.clone())));
    let own: Vec<&str> = at.names.iter().filter(|(group, ..)| *group == "material").map(|(_, name, _)| name.as_str()).collect();
    let mut said: Vec<Span> = Vec::new();
    for (name, span) in used {
        // An empty name stands for a material that is missing, which has been said.
        if name.is_empty() || own.contains(&name) || table::find(name).is_some() || said.contains(&span) {
            continue;
        }
        let near = nearest(name, own.iter().copied()).into_iter().chain(table::nearest(name, 3).into_iter().map(|row| row.name));
        let near: Vec<String> = near.take(3).map(|name| format!("\"{name}\"")).collect();
        let hint = format!("near it: {}; or describe your own by [[material]]", near.join(", "));
        said.push(span.clone());
        walk.error("material-not-found", span, format!("there is no material \"{name}\""), hint);
    }
}

/// `did you mean ...`, or what there is.
pub(super) fn name_hint<'a>(name: &str, names: impl Iterator<Item = &'a str> + Clone, lead: &str) -> String {
    match nearest(name, names.clone()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => format!("{lead} {}", names.map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", ")),
    }
}

/// Openings, clearances, panels and structures are on surfaces that there are; the floor takes panels and clearances alone.
fn surfaces_exist(walk: &mut Walk<'_>, draft: &Draft) {
    let (scene, at) = (&draft.scene, &draft.at);
    if scene.walls.is_empty() {
        return;
    }
    let names: Vec<&str> =
        scene.walls.iter().map(|wall| wall.name.as_str()).chain(scene.ceiling.iter().map(|plane| plane.name.as_str())).collect();
    // A surface with a mistake of its own is there, too.
    let written = at.names.iter().filter(|(group, name, _)| *group == "surface" && !scene.blocks.iter().any(|block| block.name == *name));
    let all: Vec<&str> =
        names.iter().copied().chain(written.map(|(_, name, _)| name.as_str()).filter(|name| !names.contains(name))).collect();
    for Mention { by, name: surface, span, .. } in walk.mentions.clone().into_iter().filter(|mention| mention.key == "surface") {
        let broken = at
            .names
            .iter()
            .any(|(group, name, _)| *group == "surface" && *name == surface && !scene.blocks.iter().any(|block| block.name == *name));
        let floor_allowed = matches!(by, "[[clearance]]" | "[[panel]]");
        if names.contains(&surface.as_str()) || broken || (surface == FLOOR && floor_allowed) {
            continue;
        }
        let message = match surface.as_str() {
            FLOOR => "this is in a wall or in the ceiling, not in the floor".to_owned(),
            _ => format!("there is no wall or ceiling \"{surface}\""),
        };
        walk.error("surface-not-found", span, message, name_hint(&surface, all.iter().copied(), "the surfaces are"));
    }
}

/// Panels are of a type that is described.
fn stock_exists(walk: &mut Walk<'_>, draft: &Draft) {
    let known: Vec<&str> = draft.at.names.iter().filter(|(group, ..)| *group == "stock").map(|(_, name, _)| name.as_str()).collect();
    for Mention { name: kind, span, .. } in walk.mentions.clone().into_iter().filter(|mention| mention.key == "type") {
        if !known.contains(&kind.as_str()) {
            let hint = match known[..] {
                [] => "describe the type by [[stock]]".to_owned(),
                _ => name_hint(&kind, known.iter().copied(), "the types are"),
            };
            walk.error("stock-not-found", span, format!("there is no panel type \"{kind}\""), hint);
        }
    }
}

/// There is something to hear and someone to hear it.
fn something_sounds_and_someone_listens(walk: &mut Walk<'_>, draft: &Draft) {
    if draft.scene.sources.is_empty() && !draft.at.broken_sources {
        let hint = "add a [[loudspeaker]], [[voice]] or [[instrument]] with `position`".to_owned();
        walk.error("no-source", 0..0, "nothing makes a sound in this scene", hint);
    }
    if draft.scene.seats.is_empty() && draft.scene.microphones.is_empty() && !draft.at.broken_receivers {
        walk.error(
            "no-receiver",
            0..0,
            "nobody listens in this scene",
            "add a [[seat]] with `ear`, or a [[microphone]] with `position`".to_owned(),
        );
    }
}

/// Measured walls and diagonals agree with the outline to within the tape's tolerance.
fn measures_agree(walk: &mut Walk<'_>, draft: &Draft) {
    let outline = &draft.scene.outline;
    for measure in &draft.at.measures {
        let drawn = outline[measure.corners.0].distance(outline[measure.corners.1]);
        if (drawn - measure.length).abs() <= draft.scene.tape_tolerance.0 + 1e-9 {
            continue;
        }
        let (measured, by_outline) = (walk.print(measure.length), walk.print(drawn));
        let off = walk.print((drawn - measure.length).abs());
        let tolerance = walk.print(draft.scene.tape_tolerance.0);
        let (id, message) = match &measure.wall {
            Some(wall) => ("wall-length-differs", format!("\"{wall}\" measures {measured}; the outline makes it {by_outline}, {off} off")),
            None => ("out-of-square", format!("the diagonal measures {measured}; the outline makes it {by_outline}, {off} off")),
        };
        let hint = format!("more than the tape's tolerance of {tolerance}: measure again, or move the corners of the outline");
        walk.warning(id, measure.span.clone(), message, hint);
    }
}
