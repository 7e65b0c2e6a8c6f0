//! The `[room]` table: outline, walls, ceiling, and what the tape says about them.
//!
//! *Limits.* A measured length or diagonal only checks the outline; it does not correct it.

use glam::{DVec2, DVec3};

use super::super::walk::{Limits, Places, REACH, Span, Table, Walk};
use super::super::{CeilingPlane, Wall, check};
use super::{Draft, Measure};
use crate::geometry::Polygon;
use crate::units::Length;

/// Least and greatest height of a room and of its sides, meters.
const ROOM_SIZE: Limits = (0.5, REACH);
/// Heights of ceiling planes at measured places may lie below the floor where another plane is lower, meters.
const PLANE_HEIGHT: Limits = (-REACH, REACH);

const ROOM_KEYS: &[&str] =
    &["outline", "size", "height", "floor", "wall_material", "ceiling_material", "tape_tolerance", "wall", "ceiling", "diagonal"];

/// `[room]`
pub(super) fn room(walk: &mut Walk<'_>, table: &Table<'_>, draft: &mut Draft) {
    walk.allow_only(table, ROOM_KEYS);
    draft.at.room = table.places();
    if let Some(tolerance) = walk.optional(table, "tape_tolerance").and_then(|entry| walk.length(&entry, (0.0, 0.2))) {
        draft.scene.tape_tolerance = Length(tolerance);
    }
    if let Some(floor) = walk.required(table, "floor", "floor = \"Wood floor (on joists)\"").and_then(|entry| walk.name(&entry)) {
        draft.scene.floor_material = floor;
    }
    let corners = outline(walk, table);
    let outline_sound = corners.as_ref().is_some_and(|corners| check::outline(walk, &table.places(), corners));
    let clockwise = corners.as_ref().is_some_and(|corners| Polygon { corners: corners.iter().map(|(c, _)| *c).collect() }.area() < 0.0);
    let mut corners = corners.unwrap_or_default();
    if clockwise {
        // The first corner stays the first.
        corners[1..].reverse();
    }
    (draft.scene.outline, draft.at.corners) = corners.into_iter().unzip();
    let numbering = Numbering { count: draft.scene.outline.len(), clockwise };
    walls(walk, table, draft, numbering);
    diagonals(walk, table, draft, numbering);
    let ceiling_sound = outline_sound && ceiling(walk, table, draft);
    draft.shape_known = ceiling_sound && check::ceiling(walk, draft);
}

/// How corners and edges as written are numbered in the scene, where the outline runs counterclockwise.
#[derive(Clone, Copy)]
struct Numbering {
    count: usize,
    clockwise: bool,
}

impl Numbering {
    fn corner(self, written: usize) -> usize {
        if self.clockwise && written > 1 { self.count + 1 - written } else { written - 1 }
    }

    fn edge(self, written: usize) -> usize {
        if self.clockwise { self.count - written } else { written - 1 }
    }
}

/// The corners as written, each with its place.
fn outline(walk: &mut Walk<'_>, table: &Table<'_>) -> Option<Vec<(DVec2, Span)>> {
    match (walk.optional(table, "outline"), walk.optional(table, "size")) {
        (Some(_), Some(size)) => {
            let hint = "keep `outline` and give the height by `height` or [[room.ceiling]]".to_owned();
            walk.error("keys-conflict", size.1, "[room] has both `outline` and `size`", hint);
            None
        }
        (None, None) => {
            let hint = "add `size = [3.6, 2.9, 2.4]` (along x, along y, height) or `outline = [[0, 0], [3.6, 0], ...]`".to_owned();
            walk.missing(table, &["size", "outline"], "[room] needs `size` or `outline`", hint);
            None
        }
        (None, Some(size)) => {
            let size_m = walk.size3(&size, "a size [along x, along y, height]", ROOM_SIZE)?;
            let corners = [(0.0, 0.0), (size_m.x, 0.0), (size_m.x, size_m.y), (0.0, size_m.y)];
            Some(corners.map(|(x, y)| (DVec2::new(x, y), size.1.clone())).to_vec())
        }
        (Some(outline), None) => {
            let list = walk.list(&outline, "a list of corners [[x, y], ...]")?;
            let corners: Vec<_> = list.iter().map(|corner| Some((walk.plan_point(corner)?, corner.1.clone()))).collect();
            corners.into_iter().collect()
        }
    }
}

/// A wall as written.
#[derive(Clone)]
struct WrittenWall {
    name: Option<String>,
    material: Option<String>,
    places: Places,
}

/// `[[room.wall]]`, and walls that are not mentioned.
fn walls(walk: &mut Walk<'_>, table: &Table<'_>, draft: &mut Draft, numbering: Numbering) {
    let usual = walk.optional(table, "wall_material").and_then(|entry| walk.name(&entry));
    let mut written = vec![None; numbering.count];
    let mut broken = table.has("wall_material") && usual.is_none();
    for wall in walk.tables(table, "wall", "[[room.wall]]") {
        broken |= !one_wall(walk, &wall, draft, numbering, &mut written);
    }
    let compass = compass_names(&draft.scene.outline);
    let mut bare = Vec::new();
    for (wall, compass) in written.into_iter().zip(compass) {
        let wall = wall.unwrap_or_else(|| WrittenWall { name: None, material: None, places: draft.at.room.clone() });
        let name = wall.name.unwrap_or(compass);
        if wall.material.is_none() && usual.is_none() {
            bare.push(name.clone());
        }
        let material = wall.material.or_else(|| usual.clone()).unwrap_or_default();
        draft.scene.walls.push(Wall { name, material });
        draft.at.walls.push(wall.places);
    }
    if !bare.is_empty() && !broken {
        let hint = "add `wall_material = \"...\"` to [room], or a [[room.wall]] with `edge` and `material`".to_owned();
        walk.missing(table, &["wall_material", "wall"], format!("no material is given for: {}", bare.join(", ")), hint);
    }
}

/// One `[[room.wall]]`. Whether it can be told which wall it is and what it is made of.
fn one_wall(walk: &mut Walk<'_>, wall: &Table<'_>, draft: &mut Draft, numbering: Numbering, written: &mut [Option<WrittenWall>]) -> bool {
    walk.allow_only(wall, &["edge", "name", "material", "length"]);
    let entry = walk.optional(wall, "edge");
    if entry.is_none() {
        let hint =
            "add a line like `edge = 2`: 1 is south, 2 east, 3 north, 4 west; of an `outline` 1 runs from its first corner to its second";
        walk.missing(wall, &["edge"], "[[room.wall]] needs `edge`", hint);
    }
    let edge = entry.and_then(|entry| Some((walk.whole(&entry, (1.0, 1000.0))? as usize, entry.1)));
    let name = walk.optional(wall, "name").and_then(|entry| Some((walk.name(&entry)?, entry.1)));
    let material = walk.optional(wall, "material").and_then(|entry| walk.name(&entry));
    let length = walk.optional(wall, "length").and_then(|entry| Some((walk.length(&entry, (0.0, 2.0 * REACH))?, entry.1)));
    if let Some((name, span)) = &name {
        draft.at.names.push(("surface", name.clone(), span.clone()));
    }
    let (Some((edge, span)), count @ 1..) = (edge, numbering.count) else { return false };
    if edge > count {
        let hint = format!("edge 1 runs from corner 1 to corner 2, and so on up to edge {count}, which runs back to corner 1");
        walk.error("edge-not-found", span, format!("there is no edge {edge}: the outline has {count}"), hint);
        return false;
    }
    let index = numbering.edge(edge);
    if written[index].is_some() {
        walk.error("edge-twice", span, format!("edge {edge} is described twice"), "join the two tables into one".to_owned());
        return false;
    }
    if let Some((length, span)) = length {
        let wall = name.as_ref().map_or_else(|| format!("edge {edge}"), |(name, _)| name.clone());
        draft.at.measures.push(Measure { corners: (index, (index + 1) % count), length, span, wall: Some(wall) });
    }
    let sound = material.is_some() || !wall.has("material");
    written[index] = Some(WrittenWall { name: name.map(|(name, _)| name), material, places: wall.places() });
    sound
}

/// Names of walls by the side of the room they stand on (north is +y); a second wall on the same side is `north 2`.
pub(in crate::scene) fn compass_names(outline: &[DVec2]) -> Vec<String> {
    const SIDES: [&str; 8] = ["east", "northeast", "north", "northwest", "west", "southwest", "south", "southeast"];
    let mut counts = [0; 8];
    let ends = outline.iter().zip(outline.iter().cycle().skip(1));
    ends.map(|(from, to)| {
        let along = *to - *from;
        // Out of a counterclockwise outline is to the right of its edges.
        let eighths = DVec2::new(along.y, -along.x).to_angle() / std::f64::consts::FRAC_PI_4;
        let side = (eighths.round() as i64).rem_euclid(8) as usize;
        counts[side] += 1;
        if counts[side] == 1 { SIDES[side].to_owned() } else { format!("{} {}", SIDES[side], counts[side]) }
    })
    .collect()
}

/// `[[room.diagonal]]`
fn diagonals(walk: &mut Walk<'_>, table: &Table<'_>, draft: &mut Draft, numbering: Numbering) {
    for diagonal in walk.tables(table, "diagonal", "[[room.diagonal]]") {
        walk.allow_only(&diagonal, &["from", "to", "length"]);
        let mut corner = |key: &str| {
            let entry = walk.required(&diagonal, key, &format!("{key} = 1"))?;
            let number = walk.whole(&entry, (1.0, 1000.0))? as usize;
            if numbering.count > 0 && number > numbering.count {
                let message = format!("there is no corner {number}: the outline has {}", numbering.count);
                walk.error("corner-not-found", entry.1, message, None);
                return None;
            }
            (numbering.count > 0).then(|| numbering.corner(number))
        };
        let (from, to) = (corner("from"), corner("to"));
        let length =
            walk.required(&diagonal, "length", "length = 4.62").and_then(|entry| Some((walk.length(&entry, (0.0, 3.0 * REACH))?, entry.1)));
        if let (Some(from), Some(to), Some((length, span))) = (from, to, length) {
            draft.at.measures.push(Measure { corners: (from, to), length, span, wall: None });
        }
    }
}

/// The ceiling: planes, or the flat one of `size` or `height`. Whether it could be read.
fn ceiling(walk: &mut Walk<'_>, table: &Table<'_>, draft: &mut Draft) -> bool {
    let usual = walk.optional(table, "ceiling_material").and_then(|entry| walk.name(&entry));
    let usual_broken = table.has("ceiling_material") && usual.is_none();
    let planes = walk.tables(table, "ceiling", "[[room.ceiling]]");
    let flat = flat_height(walk, table, !planes.is_empty());
    let mut sound = true;
    if let Some((height, _)) = flat {
        let material = usual.clone().unwrap_or_default();
        if material.is_empty() && !usual_broken {
            let hint = "add `ceiling_material = \"...\"` to [room]".to_owned();
            walk.missing(table, &["ceiling_material"], "no material is given for the ceiling", hint);
        }
        draft.scene.ceiling.push(CeilingPlane { name: "ceiling".to_owned(), material, height, slope: DVec2::ZERO });
        draft.at.ceiling.push(draft.at.room.clone());
    }
    let count = planes.len();
    for (index, plane) in planes.into_iter().enumerate() {
        walk.allow_only(&plane, &["name", "material", "height", "heights", "points", "slope", "from", "reaches", "after"]);
        let name = match walk.optional(&plane, "name") {
            Some(entry) => {
                let name = walk.name(&entry);
                draft.at.names.extend(name.clone().map(|name| ("surface", name, entry.1)));
                name
            }
            None if count == 1 => Some("ceiling".to_owned()),
            None => Some(format!("ceiling {}", index + 1)),
        };
        let material = match walk.optional(&plane, "material") {
            Some(entry) => walk.name(&entry),
            None => usual.clone(),
        };
        if material.is_none() && !plane.has("material") && !usual_broken {
            let hint = "add `material = \"...\"` here, or `ceiling_material = \"...\"` to [room]".to_owned();
            walk.missing(&plane, &["material"], "no material is given for this part of the ceiling", hint);
        }
        let shape = plane_shape(walk, &plane, draft);
        sound &= shape.is_some();
        if let (Some(name), Some((height, slope))) = (name, shape) {
            draft.scene.ceiling.push(CeilingPlane { name, material: material.unwrap_or_default(), height, slope });
            draft.at.ceiling.push(plane.places());
        }
    }
    sound && !draft.scene.ceiling.is_empty()
}

/// The height that makes one flat plane, from `size` or `height`, if it is written.
fn flat_height(walk: &mut Walk<'_>, table: &Table<'_>, planes: bool) -> Option<(f64, Span)> {
    let of_size = walk.optional(table, "size").and_then(|entry| {
        let third = entry.0.as_array()?.get(2)?;
        Some((third.get_ref(), third.span()))
    });
    match (walk.optional(table, "height"), of_size, planes) {
        (Some(height), None, false) => Some((walk.length(&height, ROOM_SIZE)?, height.1)),
        // `size` has been read with the outline; what is wrong with it is said.
        (None, Some(height), false) => {
            let said = walk.diagnostics.len();
            let length = walk.length(&height, ROOM_SIZE);
            walk.diagnostics.truncate(said);
            Some((length?, height.1))
        }
        // The planes of [[room.ceiling]] take the place of the height of `size`.
        (None, Some(_), true) | (None, None, true) => None,
        (Some(height), _, _) => {
            let message = "the ceiling's height is given twice: by `height` and by `size` or [[room.ceiling]]";
            walk.error("keys-conflict", height.1, message, "leave out `height`".to_owned());
            None
        }
        (None, None, false) => {
            if table.has("outline") {
                let hint = "add `height = 2.4` to [room], or [[room.ceiling]] tables".to_owned();
                walk.missing(table, &["height", "ceiling"], "[room] has no ceiling", hint);
            }
            None
        }
    }
}

/// Height over the origin and slope of a plane of `[[room.ceiling]]`.
fn plane_shape(walk: &mut Walk<'_>, plane: &Table<'_>, draft: &Draft) -> Option<(f64, DVec2)> {
    let ways = ["heights", "points", "from", "height"];
    let found: Vec<&str> = ways.into_iter().filter(|key| plane.has(key)).collect();
    match found[..] {
        ["heights"] => by_walls(walk, plane, draft),
        ["points"] => by_points(walk, plane),
        ["from", "height"] | ["from"] => by_rise(walk, plane, draft),
        ["height"] => {
            let height = walk.optional(plane, "height").and_then(|entry| walk.length(&entry, PLANE_HEIGHT));
            let slope = match walk.optional(plane, "slope") {
                Some(entry) => {
                    walk.numbers::<2>(&entry, "a slope [rise per length along x, along y]", (-20.0, 20.0)).map(DVec2::from_array)
                }
                None => Some(DVec2::ZERO),
            };
            Some((height?, slope?))
        }
        [] => {
            let hint = "add `height = 2.4`; for a slope see `heights`, `from` or `points`".to_owned();
            walk.missing(plane, &["height", "heights", "points", "from"], "this part of the ceiling has no height", hint);
            None
        }
        [..] => {
            let hint = "keep one of `height`, `heights`, `points`, or `from` with `height`, `reaches` and `after`".to_owned();
            walk.error("keys-conflict", plane.span.clone(), format!("its height is given in several ways: {}", found.join(", ")), hint);
            None
        }
    }
}

/// A wall by name, among those of the outline.
fn wall_named(walk: &mut Walk<'_>, draft: &Draft, name: &str, span: &Span) -> Option<usize> {
    let index = draft.scene.walls.iter().position(|wall| wall.name == name);
    if index.is_none() {
        let names = draft.scene.walls.iter().map(|wall| wall.name.as_str());
        let hint = check::name_hint(name, names, "the walls are");
        walk.error("surface-not-found", span.clone(), format!("there is no wall \"{name}\""), hint);
    }
    index
}

/// `heights = { "knee wall" = 1.1, "ridge wall" = 2.4 }`: level along two parallel walls.
fn by_walls(walk: &mut Walk<'_>, plane: &Table<'_>, draft: &Draft) -> Option<(f64, DVec2)> {
    let entry = walk.optional(plane, "heights")?;
    let table = walk.table(&entry, "`heights`")?;
    let mut ends = Vec::new();
    for (key, value) in table.map {
        let wall = wall_named(walk, draft, key.get_ref(), &key.span());
        let height = walk.length(&(value.get_ref(), value.span()), PLANE_HEIGHT);
        ends.push((|| Some((wall?, height?)))());
    }
    if ends.len() != 2 {
        let message = format!("expected heights at two walls, found {}", ends.len());
        walk.error("wrong-count", entry.1, message, "write heights = { \"west\" = 1.1, \"east\" = 2.4 }".to_owned());
        return None;
    }
    let (first, second) = (ends[0]?, ends[1]?);
    let (a, b) = (draft.scene.wall_ends(first.0), draft.scene.wall_ends(second.0));
    let along = (a.1 - a.0).try_normalize()?;
    let across = DVec2::new(-along.y, along.x);
    let distance = across.dot(b.0 - a.0);
    // Parallel within what a tape can tell: the far end of the second wall off by its tolerance.
    let skew = (b.1 - b.0).dot(across).abs();
    if skew > draft.scene.tape_tolerance.0.max(1e-6) || distance.abs() < 0.01 {
        let message =
            format!("\"{}\" and \"{}\" are not two parallel walls", draft.scene.walls[first.0].name, draft.scene.walls[second.0].name);
        let hint = "give the plane by three points: points = [[0, 0, 1.1], [0, 5.2, 1.1], [1.9, 0, 2.4]]".to_owned();
        walk.error("ceiling-unclear", entry.1, message, hint);
        return None;
    }
    let slope = across * ((second.1 - first.1) / distance);
    Some((first.1 - slope.dot(a.0), slope))
}

/// `from = "knee wall"`, `height = 1.1`, `reaches = 2.4`, `after = 1.9`: level along a wall, rising away from it.
fn by_rise(walk: &mut Walk<'_>, plane: &Table<'_>, draft: &Draft) -> Option<(f64, DVec2)> {
    let from = walk.optional(plane, "from").and_then(|entry| {
        let name = walk.name(&entry)?;
        wall_named(walk, draft, &name, &entry.1)
    });
    let height = walk.required(plane, "height", "height = 1.1").and_then(|entry| walk.length(&entry, PLANE_HEIGHT));
    let reaches = walk.required(plane, "reaches", "reaches = 2.4").and_then(|entry| walk.length(&entry, PLANE_HEIGHT));
    let after = walk.required(plane, "after", "after = 1.9").and_then(|entry| walk.length(&entry, (0.05, REACH)));
    let (from, height) = (from?, height?);
    let (start, end) = draft.scene.wall_ends(from);
    let along = (end - start).try_normalize()?;
    // The room lies to the left of the edges of a counterclockwise outline.
    let slope = DVec2::new(-along.y, along.x) * ((reaches? - height) / after?);
    Some((height - slope.dot(start), slope))
}

/// `points = [[x, y, z], [x, y, z], [x, y, z]]`
fn by_points(walk: &mut Walk<'_>, plane: &Table<'_>) -> Option<(f64, DVec2)> {
    let entry = walk.optional(plane, "points")?;
    let points = walk.exactly::<3>(&entry, "three points [[x, y, z], ...]")?.map(|point| walk.point(&point));
    let [a, b, c]: [DVec3; 3] = [points[0]?, points[1]?, points[2]?];
    let normal = (b - a).cross(c - a);
    if normal.z.abs() < 1e-3 || normal.z.abs() < 0.05 * normal.length() {
        let message = "these three points lie on a line as seen from above, or on a plane that is almost upright";
        walk.error("ceiling-unclear", entry.1, message, "measure three corners of the slope that are far apart".to_owned());
        return None;
    }
    let slope = -normal.truncate() / normal.z;
    Some((a.z - slope.dot(a.truncate()), slope))
}
