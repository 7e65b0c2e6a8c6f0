//! Rules about where things are: openings, blocks, sources, seats, microphones, clearances; and what follows from it: aims, zones.

use glam::{DVec2, DVec3};

use super::super::read::{Aim, At, Draft};
use super::super::shell::{Miss, SLACK, SurfaceIndex, overlap};
use super::super::walk::{Places, Span, Walk};
use super::super::{Block, ClearanceRegion, Rectangle, Scene, SourceKind};
use crate::directivity::Directivity;
use crate::units::LengthUnit;

/// Height of the crown over the ears, meters.
pub const CROWN: f64 = 0.15;
/// Nearer than this two things are at the same point, meters.
const SAME_POINT: f64 = 0.01;

/// What a rectangle does that misses its surface, in words, with the key to blame and what to type.
pub(super) fn miss_words(walk: &Walk<'_>, place: &Rectangle, surface: &str, miss: Miss) -> (&'static str, String, Option<String>) {
    match miss {
        Miss::Left => ("left", format!("starts beyond the left edge of \"{surface}\""), Some("`left` is 0 or more".to_owned())),
        Miss::Bottom => ("bottom", format!("starts below the lower edge of \"{surface}\""), Some("`bottom` is 0 or more".to_owned())),
        Miss::Right(length) => {
            let reach = walk.print(place.left + place.width);
            let hint = if length > place.width { format!("`left` is at most {}", walk.print(length - place.width)) } else { in_unit(walk) };
            ("left", format!("reaches {reach} from the left end of \"{surface}\", which is {} long", walk.print(length)), Some(hint))
        }
        Miss::Top(height) => {
            let reach = walk.print(place.bottom + place.height);
            let message = format!("reaches up to {reach} on \"{surface}\", where the ceiling is at {}", walk.print(height));
            let hint = if height > place.height {
                format!("`bottom` is at most {} there", walk.print(height - place.height))
            } else {
                in_unit(walk)
            };
            ("bottom", message, Some(hint))
        }
        Miss::Outline => ("left", format!("reaches beyond the walls from \"{surface}\""), None),
        Miss::Plane => ("left", format!("reaches beyond \"{surface}\" into another part of the ceiling"), None),
    }
}

/// What a bare number is in, for whoever meant another unit.
fn in_unit(walk: &Walk<'_>) -> String {
    let other = match walk.unit {
        LengthUnit::Foot => "32 in",
        LengthUnit::Inch => "7 ft 8 in",
        LengthUnit::Meter => "80 cm",
        LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => "2.4 m",
    };
    format!("a bare number is in the scene's unit, {}: others are written with theirs, like \"{other}\"", walk.unit.symbol())
}

/// Openings lie on their surface.
pub(super) fn openings_on_surfaces(walk: &mut Walk<'_>, draft: &Draft) {
    for (opening, places) in draft.scene.openings.iter().zip(&draft.at.openings) {
        let Some(surface) = draft.scene.surface(&opening.surface) else { continue };
        if let Some(miss) = draft.scene.off_surface(surface, &opening.place) {
            let (key, message, hint) = miss_words(walk, &opening.place, &opening.surface, miss);
            walk.error("opening-off-surface", places.of(key), format!("the opening \"{}\" {message}", opening.name), hint);
        }
    }
}

/// Openings of one surface do not overlap.
pub(super) fn openings_apart(walk: &mut Walk<'_>, draft: &Draft) {
    let openings = &draft.scene.openings;
    for (index, opening) in openings.iter().enumerate() {
        for earlier in openings[..index].iter().filter(|earlier| earlier.surface == opening.surface) {
            if overlap(&earlier.place, &opening.place) {
                let message = format!("the opening \"{}\" lies over \"{}\"", opening.name, earlier.name);
                walk.error("openings-overlap", draft.at.openings[index].of("left"), message, None);
            }
        }
    }
}

/// Whether a point lies in a block or on its faces.
fn in_block(block: &Block, point: DVec3) -> bool {
    let local = DVec2::from_angle(-block.rotation).rotate(point.truncate() - block.center);
    let inside = local.abs().cmple(block.size.truncate() / 2.0 + SLACK).all();
    inside && (block.base - SLACK..=block.base + block.size.z + SLACK).contains(&point.z)
}

/// Blocks lie between the walls, the floor and the ceiling.
pub(super) fn blocks_inside(walk: &mut Walk<'_>, draft: &Draft) {
    let scene = &draft.scene;
    for (block, places) in scene.blocks.iter().zip(&draft.at.blocks) {
        let foot = block.footprint();
        let top = block.base + block.size.z;
        let under = foot.corners.iter().map(|&corner| scene.ceiling_height(corner)).fold(f64::INFINITY, f64::min);
        if !scene.floor_plan().covers(&foot, SLACK) {
            let (low, high) = foot.bounds();
            let message = format!(
                "\"{}\" reaches through a wall: it stands from x = {} to {}, y = {} to {}",
                block.name,
                walk.print(low.x),
                walk.print(high.x),
                walk.print(low.y),
                walk.print(high.y)
            );
            walk.error("block-outside", places.first(&["center", "corner"]), message, "move it, or make it smaller".to_owned());
        } else if top > under + SLACK {
            let message = format!("\"{}\" reaches up to {}, where the ceiling is at {}", block.name, walk.print(top), walk.print(under));
            walk.error("block-outside", places.first(&["size"]), message, "lower `base` or the third number of `size`".to_owned());
        }
    }
}

/// Blocks do not reach into each other.
pub(super) fn blocks_apart(walk: &mut Walk<'_>, draft: &Draft) {
    let blocks = &draft.scene.blocks;
    for (index, block) in blocks.iter().enumerate() {
        for earlier in &blocks[..index] {
            let levels = block.base + SLACK < earlier.base + earlier.size.z && earlier.base + SLACK < block.base + block.size.z;
            if levels && block.footprint().overlaps(&earlier.footprint(), SLACK) {
                let message = format!("\"{}\" reaches into \"{}\"", block.name, earlier.name);
                let hint = "move one of them, or describe the two as blocks that touch".to_owned();
                walk.error("blocks-overlap", draft.at.blocks[index].first(&["center", "corner"]), message, hint);
            }
        }
    }
}

/// A thing at a point: kind, name, point.
type Dot<'a> = (&'static str, &'a str, DVec3);

/// Sources, seats and microphones.
pub(super) fn dots(scene: &Scene) -> Vec<Dot<'_>> {
    let sources = scene.sources.iter().map(|source| (source.kind.word(), source.name.as_str(), source.position));
    let seats = scene.seats.iter().map(|seat| ("seat", seat.name.as_str(), seat.ear));
    let microphones = scene.microphones.iter().map(|microphone| ("microphone", microphone.name.as_str(), microphone.position));
    sources.chain(seats).chain(microphones).collect()
}

/// Where the points of [`dots`] stand in the text.
fn dot_spans(at: &At) -> Vec<Span> {
    let places = at.sources.iter().chain(&at.seats).chain(&at.microphones);
    places.map(|places| places.first(&["position", "ear"])).collect()
}

/// Sources, seats and microphones are in the air of the room, and heads are below the ceiling.
pub(super) fn points_inside(walk: &mut Walk<'_>, draft: &Draft) {
    let scene = &draft.scene;
    for ((kind, name, point), span) in dots(scene).into_iter().zip(dot_spans(&draft.at)) {
        let ceiling = scene.ceiling_height(point.truncate());
        let crown = point + DVec3::Z * CROWN;
        if !scene.in_shell(point) {
            let why = if !scene.floor_plan().contains_strictly(point.truncate(), SLACK) {
                "it is not between the walls".to_owned()
            } else if point.z < SLACK {
                "it is not above the floor".to_owned()
            } else {
                format!("it is {} up, where the ceiling is at {}", walk.print(point.z), walk.print(ceiling))
            };
            let hint = "a point is [x, y, height over the floor] from the same origin as the outline".to_owned();
            walk.error("outside-room", span, format!("the {kind} \"{name}\" is outside the room: {why}"), hint);
        } else if let Some(block) = scene.blocks.iter().find(|block| in_block(block, point)) {
            let hint = "move one of them; a loudspeaker on a desk stands above its top".to_owned();
            walk.error("inside-block", span, format!("the {kind} \"{name}\" is inside \"{}\"", block.name), hint);
        } else if kind == "seat" && (crown.z > ceiling || scene.blocks.iter().any(|block| in_block(block, crown))) {
            let message =
                format!("the head at \"{name}\" has no room: its crown is at {}, {} over the ears", walk.print(crown.z), walk.print(CROWN));
            walk.error("head-above-ceiling", span, message, "move the seat to where the ceiling is higher, or lower it".to_owned());
        }
    }
}

/// No two things are at the same point; only a microphone may be at a seat.
pub(super) fn points_apart(walk: &mut Walk<'_>, draft: &Draft) {
    let dots = dots(&draft.scene);
    for ((index, (kind, name, point)), span) in dots.iter().enumerate().zip(dot_spans(&draft.at)) {
        let listens = |kind: &str| matches!(kind, "seat" | "microphone");
        let meets = |other: &&Dot<'_>| other.2.distance(*point) < SAME_POINT && !(listens(kind) && listens(other.0) && *kind != other.0);
        if let Some((other_kind, other, ..)) = dots[..index].iter().find(meets) {
            let message = format!("the {kind} \"{name}\" is where the {other_kind} \"{other}\" is");
            walk.error("points-meet", span, message, "move one of them by at least 10 mm".to_owned());
        }
    }
}

/// Turns what was written about aims into directions.
pub(super) fn aims(walk: &mut Walk<'_>, draft: &mut Draft) {
    let Draft { scene, at, .. } = draft;
    let targets: Vec<(String, DVec3)> = dots(scene).into_iter().map(|(_, name, point)| (name.to_owned(), point)).collect();
    let broken: Vec<&str> =
        at.names.iter().filter(|(group, ..)| matches!(*group, "source" | "receiver")).map(|(_, name, _)| name.as_str()).collect();
    let listened = middle(scene);
    for ((source, aim), places) in scene.sources.iter_mut().zip(&at.source_aims).zip(&at.sources) {
        // Where an omni source points makes no difference.
        let usual = (source.directivity == Directivity::Omni).then_some(DVec3::Y);
        source.aim = resolve(walk, aim, source.position, places, &targets, &broken, usual).unwrap_or(DVec3::Y);
    }
    for ((seat, aim), places) in scene.seats.iter_mut().zip(&at.seat_aims).zip(&at.seats) {
        let level = listened.and_then(|middle| (middle - seat.ear).truncate().try_normalize()).map(|level| level.extend(0.0));
        // Without sources that is said elsewhere.
        let usual = if listened.is_none() { Some(DVec3::Y) } else { level };
        seat.facing = resolve(walk, aim, seat.ear, places, &targets, &broken, usual).unwrap_or(DVec3::Y);
    }
    for ((microphone, aim), places) in scene.microphones.iter_mut().zip(&at.microphone_aims).zip(&at.microphones) {
        microphone.aim = resolve(walk, aim, microphone.position, places, &targets, &broken, Some(DVec3::Y)).unwrap_or(DVec3::Y);
    }
}

/// The middle of the loudspeakers, or of all sources if there is none.
fn middle(scene: &Scene) -> Option<DVec3> {
    let mean = |points: Vec<DVec3>| (!points.is_empty()).then(|| points.iter().copied().sum::<DVec3>() / points.len() as f64);
    let loudspeakers = scene.sources.iter().filter(|source| source.kind == SourceKind::Loudspeaker);
    mean(loudspeakers.map(|source| source.position).collect())
        .or_else(|| mean(scene.sources.iter().map(|source| source.position).collect()))
}

fn resolve(
    walk: &mut Walk<'_>,
    aim: &Aim,
    from: DVec3,
    places: &Places,
    targets: &[(String, DVec3)],
    broken: &[&str],
    usual: Option<DVec3>,
) -> Option<DVec3> {
    let target = match aim {
        Aim::Direction(direction) => return Some(*direction),
        Aim::Unsaid if usual.is_some() => return usual,
        Aim::Unsaid => {
            let hint = "add `toward`, `aim` or `direction`".to_owned();
            walk.error("aim-unclear", places.header.clone(), "it does not say where it faces, and the sources stand all round it", hint);
            return None;
        }
        Aim::Point(point) => *point,
        // A singer and the singer's microphone may share a name: something else than itself is meant.
        Aim::Toward(name) => {
            match targets.iter().filter(|(known, _)| known == name).max_by_key(|(_, point)| point.distance(from) >= SAME_POINT) {
                Some((_, point)) => *point,
                None if broken.contains(&name.as_str()) => return None,
                None => {
                    let hint =
                        super::name_hint(name, targets.iter().map(|(name, _)| name.as_str()).chain(broken.iter().copied()), "there are");
                    let message = format!("there is no source, seat or microphone \"{name}\"");
                    walk.error("target-not-found", places.of("toward"), message, hint);
                    return None;
                }
            }
        }
    };
    let direction = (target - from).try_normalize();
    if direction.is_none() || target.distance(from) < SAME_POINT {
        walk.error(
            "aim-unclear",
            places.first(&["aim", "toward"]),
            "it points at itself",
            "write a point that lies ahead of it".to_owned(),
        );
        return None;
    }
    direction
}

/// Holds zones to a quarter of the distance to the nearest source.
pub(super) fn zones(walk: &mut Walk<'_>, draft: &mut Draft) {
    let Draft { scene, at, .. } = draft;
    for ((seat, written), places) in scene.seats.iter_mut().zip(&at.zones).zip(&at.seats) {
        let nearest = scene.sources.iter().map(|source| source.position.distance(seat.ear)).fold(f64::INFINITY, f64::min);
        let wanted = written.unwrap_or(super::super::read::ZONE_RADIUS);
        let most = nearest / 4.0;
        if written.is_some() && wanted > most * (1.0 + 1e-9) {
            let message =
                format!("the zone of \"{}\" is held to {}, a quarter of the way to the nearest source", seat.name, walk.print(most));
            walk.warning("zone-held", places.of("zone_radius"), message, "leave `zone_radius` out, or make it smaller".to_owned());
        }
        seat.zone_radius = wanted.min(most);
    }
}

/// Clearances on surfaces lie on them: if not, something is measured wrong.
pub(super) fn clearances_on_surfaces(walk: &mut Walk<'_>, draft: &Draft) {
    for (clearance, places) in draft.scene.clearances.iter().zip(&draft.at.clearances) {
        let ClearanceRegion::Surface { surface: name, place } = &clearance.region else { continue };
        let Some(surface) = draft.scene.surface(name) else { continue };
        if let Some(miss) = draft.scene.off_surface(surface, place) {
            let (key, message, hint) = miss_words(walk, place, name, miss);
            walk.warning("clearance-off-surface", places.of(key), format!("the clearance \"{}\" {message}", clearance.name), hint);
        }
    }
}

/// A surface by name, for rules that need its kind.
pub(super) fn is_ceiling(scene: &Scene, name: &str) -> bool {
    matches!(scene.surface(name), Some(SurfaceIndex::Ceiling(_)))
}
