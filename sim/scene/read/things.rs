//! What stands and hangs in the room: one function a table.
//!
//! Names may be left out: the only seat without one is called `seat`; of several, the second in the text `seat 2`.

use glam::{DVec2, DVec3};

use super::super::cloud::{Cloud, SIDE_BY_SIDE_MOST, TILT_MOST};
use super::super::plausible::GAP;
use super::super::shell::FLOOR;
use super::super::walk::{Entry, Limits, Places, REACH, Table, Walk};
use super::super::{
    AngleLaw, Block, Clearance, ClearanceRegion, Microphone, Opening, OpeningKind, Panel, PanelPlace, Rectangle, Scene, Seat, SourceKind,
    UserMaterial,
};
use super::making::structure;
use super::sources::source;
use super::stock::stock;
use super::{Aim, At, Draft};
use crate::absorbers::table;
use crate::bands::Bands;
use crate::directivity::Pattern;

const ANYWHERE: Limits = (-REACH, REACH);
const SIZE: Limits = (0.001, REACH);
const COEFFICIENT: Limits = (0.0, 1.0);
/// Radius of the zone round the head where none is written, meters.
pub(in crate::scene) const ZONE_RADIUS: f64 = 0.3;
/// Scattering coefficient of materials where none is written.
const SCATTERING: f64 = 0.1;

pub(in crate::scene) const OPENING_KINDS: [(&str, OpeningKind); 3] =
    [("door", OpeningKind::Door), ("window", OpeningKind::Window), ("hatch", OpeningKind::Hatch)];
pub(in crate::scene) const PATTERNS: [(&str, f64); 5] =
    [("omni", 1.0), ("subcardioid", 0.7), ("cardioid", 0.5), ("hypercardioid", 0.25), ("figure of eight", 0.0)];
pub(in crate::scene) const ANGLE_LAWS: [(&str, AngleLaw); 2] = [("local", AngleLaw::LocalReaction), ("uniform", AngleLaw::Uniform)];

/// All lists of things.
pub(super) fn things(walk: &mut Walk<'_>, root: &Table<'_>, draft: &mut Draft) {
    let Draft { scene, at, .. } = draft;
    (scene.materials, at.materials) = each(walk, root, at, &KINDS[0], material);
    let budget = scene.goals.budget;
    (scene.stock, at.stock) = each(walk, root, at, &KINDS[1], |walk, table, name| stock(walk, table, name, budget));
    (scene.openings, at.openings) = each(walk, root, at, &KINDS[2], opening);
    (scene.blocks, at.blocks) = each(walk, root, at, &KINDS[3], block);
    (scene.clearances, at.clearances) = each(walk, root, at, &KINDS[4], clearance);
    for (kind, source_kind) in KINDS[5..8].iter().zip([SourceKind::Loudspeaker, SourceKind::Voice, SourceKind::Instrument]) {
        let (sources, places) = each(walk, root, at, kind, |walk, table, name| source(walk, table, name, source_kind));
        at.broken_sources |=
            root.map.get(kind.key).is_some_and(|value| value.get_ref().as_array().is_none_or(|list| list.len() > sources.len()));
        at.sources.extend(places);
        for (source, aim) in sources {
            scene.sources.push(source);
            at.source_aims.push(aim);
        }
    }
    let (seats, places) = each(walk, root, at, &KINDS[8], seat);
    at.broken_receivers |= root.map.get("seat").is_some_and(|value| value.get_ref().as_array().is_none_or(|list| list.len() > seats.len()));
    at.seats = places;
    for (seat, aim, zone) in seats {
        scene.seats.push(seat);
        at.seat_aims.push(aim);
        at.zones.push(zone);
    }
    let (microphones, places) = each(walk, root, at, &KINDS[9], microphone);
    at.broken_receivers |=
        root.map.get("microphone").is_some_and(|value| value.get_ref().as_array().is_none_or(|list| list.len() > microphones.len()));
    at.microphones = places;
    for (microphone, aim) in microphones {
        scene.microphones.push(microphone);
        at.microphone_aims.push(aim);
    }
    (scene.making.structure, at.structure) = each(walk, root, at, &KINDS[10], structure);
    for table in walk.tables(root, "panel", "[[panel]]") {
        if let Some(panel) = panel(walk, &table, scene) {
            scene.panels.push(panel);
            at.panels.push(table.places());
        }
    }
}

/// A kind of thing with names.
struct Kind {
    key: &'static str,
    what: &'static str,
    /// Things of one group must differ in name.
    group: &'static str,
    keys: &'static [&'static str],
}

const KINDS: [Kind; 11] = [
    Kind {
        key: "material",
        what: "[[material]]",
        group: "material",
        keys: &["name", "absorption", "scattering", "angle", "moves_like", "source"],
    },
    Kind { key: "stock", what: "[[stock]]", group: "stock", keys: &super::stock::KEYS },
    Kind {
        key: "opening",
        what: "[[opening]]",
        group: "opening",
        keys: &["name", "kind", "surface", "left", "bottom", "width", "height", "material"],
    },
    Kind {
        key: "block",
        what: "[[block]]",
        group: "surface",
        keys: &["name", "center", "corner", "base", "size", "rotation", "material", "scattering"],
    },
    Kind {
        key: "clearance",
        what: "[[clearance]]",
        group: "clearance",
        keys: &["name", "surface", "left", "bottom", "width", "height", "low", "high"],
    },
    Kind {
        key: "loudspeaker",
        what: "[[loudspeaker]]",
        group: "source",
        keys: &["name", "position", "aim", "toward", "direction", "directivity", "radius", "polar"],
    },
    Kind {
        key: "voice",
        what: "[[voice]]",
        group: "source",
        keys: &["name", "position", "aim", "toward", "direction", "directivity", "polar"],
    },
    Kind {
        key: "instrument",
        what: "[[instrument]]",
        group: "source",
        keys: &["name", "position", "aim", "toward", "direction", "directivity", "polar"],
    },
    Kind { key: "seat", what: "[[seat]]", group: "receiver", keys: &["name", "ear", "aim", "toward", "direction", "zone_radius"] },
    Kind {
        key: "microphone",
        what: "[[microphone]]",
        group: "receiver",
        keys: &["name", "position", "aim", "toward", "direction", "pattern"],
    },
    Kind { key: "structure", what: "[[structure]]", group: "structure", keys: &super::making::STRUCTURE_KEYS },
];

/// Reads every table of a kind; also those that break leave their name behind, so that nobody is told it does not exist.
fn each<T>(
    walk: &mut Walk<'_>,
    root: &Table<'_>,
    at: &mut At,
    kind: &Kind,
    mut read: impl FnMut(&mut Walk<'_>, &Table<'_>, String) -> Option<T>,
) -> (Vec<T>, Vec<Places>) {
    let tables = walk.tables(root, kind.key, kind.what);
    let nameless = tables.iter().filter(|table| !table.has("name")).count();
    let mut found = (Vec::new(), Vec::new());
    for (index, table) in tables.into_iter().enumerate() {
        walk.allow_only(&table, kind.keys);
        let name = match walk.optional(&table, "name") {
            Some(entry) => {
                let name = walk.name(&entry);
                at.names.extend(name.clone().map(|name| (kind.group, name, entry.1)));
                name
            }
            None => {
                let name = if nameless == 1 { kind.key.to_owned() } else { format!("{} {}", kind.key, index + 1) };
                at.names.push((kind.group, name.clone(), table.span.clone()));
                Some(name)
            }
        };
        // A broken name must not hide what else is wrong.
        let thing = read(walk, &table, name.clone().unwrap_or_default());
        if let (Some(_), Some(thing)) = (name, thing) {
            found.0.push(thing);
            found.1.push(table.places());
        }
    }
    found
}

/// A length that must be there.
pub(super) fn length(walk: &mut Walk<'_>, table: &Table<'_>, key: &str, limits: Limits) -> Option<f64> {
    let entry = walk.required(table, key, &format!("{key} = 1.2"))?;
    walk.length(&entry, limits)
}

/// A length that may be left out.
pub(super) fn length_or(walk: &mut Walk<'_>, table: &Table<'_>, key: &str, limits: Limits, usual: f64) -> Option<f64> {
    walk.optional(table, key).map_or(Some(usual), |entry| walk.length(&entry, limits))
}

/// The name of something that stands elsewhere, which must be given.
fn named(walk: &mut Walk<'_>, table: &Table<'_>, key: &'static str, example: &str) -> Option<String> {
    let entry = walk.required(table, key, example)?;
    walk.mention(table, key, &entry)
}

/// A scattering coefficient that may be left out.
pub(super) fn scattering(walk: &mut Walk<'_>, table: &Table<'_>) -> Option<Option<Bands<f64>>> {
    walk.optional(table, "scattering").map_or(Some(None), |entry| walk.filled_octaves(&entry, COEFFICIENT, "").map(Some))
}

/// `left`, `bottom`, `width`, `height` on a surface; some lie on the floor line if nothing is said.
fn rectangle(walk: &mut Walk<'_>, table: &Table<'_>, usual_bottom: Option<f64>) -> Option<Rectangle> {
    let left = length(walk, table, "left", ANYWHERE);
    let bottom = match usual_bottom {
        Some(usual) => length_or(walk, table, "bottom", ANYWHERE, usual),
        None => length(walk, table, "bottom", ANYWHERE),
    };
    let width = length(walk, table, "width", SIZE);
    let height = length(walk, table, "height", SIZE);
    Some(Rectangle { left: left?, bottom: bottom?, width: width?, height: height? })
}

/// The name of a row of the table.
fn row(walk: &mut Walk<'_>, entry: &Entry<'_>) -> Option<String> {
    let name = walk.name(entry)?;
    let row = table::find(&name);
    if row.is_none() {
        let near: Vec<String> = table::nearest(&name, 3).into_iter().map(|row| format!("\"{}\"", row.name)).collect();
        let message = format!("the table of materials has no row \"{name}\"");
        walk.error("material-not-found", entry.1.clone(), message, format!("near it: {}", near.join(", ")));
    }
    row.map(|row| row.name.to_owned())
}

/// `[[material]]`
fn material(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<UserMaterial> {
    let example = "absorption = [0.3, 0.12, 0.08, 0.06, 0.06, 0.05]";
    let absorption = walk.required(table, "absorption", example).and_then(|entry| walk.octaves(&entry, (0.0, 1.3), ""));
    let scattering = scattering(walk, table).map(|given| given.unwrap_or(Bands::splat(SCATTERING)));
    let law = walk.optional(table, "angle").map_or(Some(AngleLaw::LocalReaction), |entry| walk.word(&entry, &ANGLE_LAWS));
    let moves_like = walk.optional(table, "moves_like").map_or_else(|| Some(String::new()), |entry| row(walk, &entry));
    let source = walk.optional(table, "source").map_or(Some(""), |entry| walk.text(&entry)).map(str::to_owned);
    Some(UserMaterial { name, absorption: absorption?, scattering: scattering?, law: law?, moves_like: moves_like?, source: source? })
}

/// `[[opening]]`
fn opening(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<Opening> {
    let kind = walk.required(table, "kind", "kind = \"door\"").and_then(|entry| walk.word(&entry, &OPENING_KINDS));
    let surface = named(walk, table, "surface", "surface = \"north\"");
    // A door starts at the floor; a window must say where.
    let place = rectangle(walk, table, (kind != Some(OpeningKind::Window)).then_some(0.0));
    let material = named(walk, table, "material", "material = \"Solid wooden door\"");
    Some(Opening { name, kind: kind?, surface: surface?, place: place?, material: material? })
}

/// `[[block]]`
fn block(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<Block> {
    let size = walk
        .required(table, "size", "size = [1.6, 0.7, 0.75]")
        .and_then(|entry| walk.size3(&entry, "a size [along x, along y, height]", SIZE));
    let rotation = walk.optional(table, "rotation").map_or(Some(0.0), |entry| walk.number(&entry, (-360.0, 360.0), "degrees"));
    let center = match (walk.optional(table, "center"), walk.optional(table, "corner")) {
        (Some(entry), None) => walk.plan_point(&entry),
        (None, Some(entry)) => {
            if rotation.is_some_and(|rotation| rotation != 0.0) {
                let hint = "give the middle of its footprint by `center`".to_owned();
                walk.error("keys-conflict", entry.1.clone(), "`corner` is only clear for a block that is not turned", hint);
            }
            let corner = walk.plan_point(&entry);
            size.and_then(|size| Some(corner? + size.truncate() / 2.0))
        }
        (Some(_), Some(entry)) => {
            walk.error("keys-conflict", entry.1, "[[block]] has both `center` and `corner`", "keep one of them".to_owned());
            None
        }
        (None, None) => {
            let hint = "add `center = [1.2, 0.5]`, or `corner = [x, y]` for the corner with the least x and y".to_owned();
            walk.missing(table, &["center", "corner"], "[[block]] needs `center` or `corner`", hint);
            None
        }
    };
    let base = length_or(walk, table, "base", (0.0, REACH), 0.0);
    let material = named(walk, table, "material", "material = \"Solid wooden door\"");
    let scattering = scattering(walk, table);
    let rotation = rotation?.to_radians();
    Some(Block { name, center: center?, base: base?, size: size?, rotation, material: material?, scattering: scattering? })
}

/// `[[clearance]]`
fn clearance(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<Clearance> {
    let boxed = table.has("low") || table.has("high");
    if boxed && table.has("surface") {
        let hint = "keep `surface` with `left`, `bottom`, `width`, `height`, or `low` and `high`".to_owned();
        walk.error("keys-conflict", table.span.clone(), "[[clearance]] is both on a surface and a box", hint);
        return None;
    }
    if boxed {
        let mut corner = |key: &str| walk.required(table, key, &format!("{key} = [0, 0, 0]")).and_then(|entry| walk.point(&entry));
        let (low, high) = (corner("low")?, corner("high")?);
        if low.cmpge(high).any() {
            let hint = "`low` is the corner with the least x, y and z".to_owned();
            walk.error("out-of-range", table.places().of("high"), "`high` must be greater than `low` along x, y and z", hint);
            return None;
        }
        return Some(Clearance { name, region: ClearanceRegion::Space { low, high } });
    }
    if !table.has("surface") {
        let hint =
            "add `surface = \"north\"` with `left`, `bottom`, `width`, `height`; or `low = [x, y, z]` and `high = [x, y, z]`".to_owned();
        walk.missing(table, &["surface", "low", "high"], "[[clearance]] needs a surface or a box", hint);
        return None;
    }
    let surface = named(walk, table, "surface", "surface = \"north\"");
    let place = rectangle(walk, table, None);
    Some(Clearance { name, region: ClearanceRegion::Surface { surface: surface?, place: place? } })
}

/// Keys that say where something points.
pub(super) const AIMS: [&str; 3] = ["aim", "toward", "direction"];

/// `aim`, `toward` or `direction`.
pub(super) fn aim(walk: &mut Walk<'_>, table: &Table<'_>) -> Option<Aim> {
    let ways: Vec<(&str, Entry<'_>)> = AIMS.into_iter().filter_map(|key| Some((key, walk.optional(table, key)?))).collect();
    match &ways[..] {
        [] => Some(Aim::Unsaid),
        [("aim", entry)] => walk.point(entry).map(Aim::Point),
        [("toward", entry)] => walk.name(entry).map(Aim::Toward),
        [(_, entry)] => {
            let direction = DVec3::from_array(walk.numbers::<3>(entry, "a direction [x, y, z]", (-1e6, 1e6))?);
            // A unit vector stays the number it is, so that printing and reading gives the same scene.
            let unit = if (direction.length() - 1.0).abs() < 1e-12 { Some(direction) } else { direction.try_normalize() };
            if unit.is_none() {
                walk.error("aim-unclear", entry.1.clone(), "a direction cannot be zero", "write `direction = [0, 1, 0]` for +y".to_owned());
            }
            unit.map(Aim::Direction)
        }
        [_, (_, entry), ..] => {
            walk.error(
                "keys-conflict",
                entry.1.clone(),
                "it points at several things",
                "keep one of `aim`, `toward`, `direction`".to_owned(),
            );
            None
        }
    }
}

/// `[[seat]]`
fn seat(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<(Seat, Aim, Option<f64>)> {
    let ear = walk.required(table, "ear", "ear = [1.8, 1.4, 1.2]").and_then(|entry| walk.point(&entry));
    let aim = aim(walk, table);
    let zone = walk.optional(table, "zone_radius").map_or(Some(None), |entry| walk.length(&entry, (0.01, 1.0)).map(Some));
    Some((Seat { name, ear: ear?, facing: DVec3::Y, zone_radius: ZONE_RADIUS }, aim?, zone?))
}

/// `[[microphone]]`
fn microphone(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<(Microphone, Aim)> {
    let position = walk.required(table, "position", "position = [1.8, 1.4, 1.2]").and_then(|entry| walk.point(&entry));
    let aim = aim(walk, table);
    let omni = match walk.optional(table, "pattern") {
        None => Some(1.0),
        Some(entry) if entry.0.as_str().is_some() => walk.word(&entry, &PATTERNS),
        Some(entry) => walk.number(&entry, COEFFICIENT, ""),
    };
    let (aim, omni) = (aim?, omni?);
    if matches!(aim, Aim::Unsaid) && omni < 1.0 {
        let hint = "add `toward = \"...\"` with the name of who sounds, `aim = [x, y, z]` or `direction = [x, y, z]`".to_owned();
        walk.missing(table, &AIMS, "[[microphone]] does not say where it points", hint);
        return None;
    }
    Some((Microphone { name, position: position?, aim: DVec3::Y, pattern: Pattern { omni } }, aim))
}

/// `[[panel]]`: on a surface, across a corner, or as a cloud.
fn panel(walk: &mut Walk<'_>, table: &Table<'_>, scene: &Scene) -> Option<Panel> {
    walk.allow_only(table, &PANEL_KEYS);
    let kind = named(walk, table, "type", "type = \"wall panel\"");
    let ways: Vec<&str> = ["surface", "corner", "center"].into_iter().filter(|key| table.has(key)).collect();
    let (way, others): (&str, &[&str]) = match ways[..] {
        ["surface"] => ("surface", &CLOUD_KEYS),
        ["corner"] => ("corner", &["left", "lying", "gap", "underside", "turned", "tilt", "panels"]),
        ["center"] => ("center", &["left", "bottom", "lying", "gap"]),
        [] => {
            let hint = "add `surface = \"north\"` with `left` and `bottom`; `corner = [\"north\", \"east\"]` with `bottom`; \
                        or `center = [x, y]` with `underside`"
                .to_owned();
            walk.missing(table, &["surface", "corner", "center"], "[[panel]] does not say where it hangs", hint);
            return None;
        }
        [..] => {
            let hint = "keep one of `surface`, `corner`, `center`".to_owned();
            walk.error("keys-conflict", table.span.clone(), format!("[[panel]] hangs in several ways: {}", ways.join(", ")), hint);
            return None;
        }
    };
    for key in others.iter().filter(|key| table.has(key)) {
        walk.error("keys-conflict", table.places().of(key), format!("`{key}` does not go with `{way}`"), format!("leave out `{key}`"));
    }
    let place = match way {
        "surface" => flat_place(walk, table, kind.as_deref(), scene),
        "corner" => corner_place(walk, table, scene),
        _ => cloud_place(walk, table),
    };
    Some(Panel { kind: kind?, place: place? })
}

/// The keys of a `[[panel]]`.
pub(in crate::scene) const PANEL_KEYS: [&str; 12] =
    ["type", "surface", "left", "bottom", "lying", "gap", "corner", "center", "underside", "turned", "tilt", "panels"];
/// Those that only a cloud has, beside its `center`.
const CLOUD_KEYS: [&str; 4] = ["underside", "turned", "tilt", "panels"];

fn truth_or_no(walk: &mut Walk<'_>, table: &Table<'_>, key: &str) -> Option<bool> {
    walk.optional(table, key).map_or(Some(false), |entry| walk.truth(&entry))
}

fn flat_place(walk: &mut Walk<'_>, table: &Table<'_>, kind: Option<&str>, scene: &Scene) -> Option<PanelPlace> {
    let surface = named(walk, table, "surface", "surface = \"north\"");
    let left = length(walk, table, "left", ANYWHERE);
    let bottom = length(walk, table, "bottom", ANYWHERE);
    let lying = truth_or_no(walk, table, "lying");
    let usual = scene.stock.iter().find(|stock| Some(stock.name.as_str()) == kind).map_or(0.0, |stock| stock.gap);
    let gap = length_or(walk, table, "gap", GAP, usual);
    Some(PanelPlace::Surface { surface: surface?, left: left?, bottom: bottom?, lying: lying?, gap: gap? })
}

fn corner_place(walk: &mut Walk<'_>, table: &Table<'_>, scene: &Scene) -> Option<PanelPlace> {
    let entry = walk.optional(table, "corner")?;
    let names = walk.exactly::<2>(&entry, "the two walls that meet there [\"north\", \"east\"]");
    let bottom = length(walk, table, "bottom", (0.0, REACH));
    let [first, second] = names?;
    let mut index = |entry: &Entry<'_>| {
        let name = walk.name(entry)?;
        let index = scene.walls.iter().position(|wall| wall.name == name);
        if index.is_none() && !scene.walls.is_empty() {
            let hint = super::check::name_hint(&name, scene.walls.iter().map(|wall| wall.name.as_str()), "the walls are");
            let message = if name == FLOOR { "the floor has no upright corner".to_owned() } else { format!("there is no wall \"{name}\"") };
            walk.error("surface-not-found", entry.1.clone(), message, hint);
        }
        index
    };
    let (first, second) = (index(&first), index(&second));
    let (first, second, count) = (first?, second?, scene.walls.len());
    let corner = match (first, second) {
        _ if (first + 1) % count == second => second,
        _ if (second + 1) % count == first => first,
        _ => {
            let message = format!("the walls \"{}\" and \"{}\" do not meet in a corner", scene.walls[first].name, scene.walls[second].name);
            walk.error("corner-not-found", entry.1, message, "name two neighboring walls".to_owned());
            return None;
        }
    };
    Some(PanelPlace::Corner { corner, bottom: bottom? })
}

fn cloud_place(walk: &mut Walk<'_>, table: &Table<'_>) -> Option<PanelPlace> {
    let center = walk.optional(table, "center").and_then(|entry| walk.plan_point(&entry));
    let underside = length(walk, table, "underside", (0.0, REACH));
    let turned = truth_or_no(walk, table, "turned");
    let tilt = walk.optional(table, "tilt").map_or(Some(DVec2::ZERO), |entry| tilt(walk, &entry));
    let panels = walk.optional(table, "panels").map_or(Some([1, 1]), |entry| side_by_side(walk, &entry));
    Some(PanelPlace::Cloud(Cloud { center: center?, underside: underside?, turned: turned?, tilt: tilt?, panels: panels? }))
}

/// How steeply a cloud rises along x and along y, degrees.
fn tilt(walk: &mut Walk<'_>, entry: &Entry<'_>) -> Option<DVec2> {
    let tilt = DVec2::from_array(walk.numbers::<2>(entry, "two tilts in degrees [along x, along y]", (-TILT_MOST, TILT_MOST))?);
    if tilt.x != 0.0 && tilt.y != 0.0 {
        let hint = "make one of the two numbers 0".to_owned();
        walk.error("keys-conflict", entry.1.clone(), "a cloud leans one way, along x or along y", hint);
        return None;
    }
    Some(tilt)
}

/// How many panels side by side along x and along y.
fn side_by_side(walk: &mut Walk<'_>, entry: &Entry<'_>) -> Option<[u32; 2]> {
    let [x, y] = walk.exactly::<2>(entry, "two numbers of panels [along x, along y]")?;
    let mut count = |entry| walk.whole(entry, (1.0, f64::from(SIDE_BY_SIDE_MOST))).and_then(|count| u32::try_from(count).ok());
    let (x, y) = (count(&x), count(&y));
    Some([x?, y?])
}
