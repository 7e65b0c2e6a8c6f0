//! Whether a listening set fits where it is put, and if not, why.
//!
//! Points lie in the room; heads have room for their crowns; loudspeakers, voices and microphones keep [`POINT_FROM_WALL`] from walls or what is asked, heads [`HEAD_FROM_WALL`]; blocks of the set stay
//! between the walls and below the ceiling; nothing stands before a door, as wide as it is and as deep as its leaf swings and a way of [`CLEAR_WAY`] beyond, in a region that must stay clear, or in
//! what stands there already. What passes is held against all rules of a scene, so that a suggestion is a scene that reads.
//!
//! *References.* Common practice, no source: the distances.
//!
//! *Limits.* Somebody takes up a disc of [`super::set::REACH`] from the floor to the crown, a loudspeaker or microphone half of that. Which way a door swings is not known: inward is taken. Whether one can walk round the set is not asked.

use glam::{DVec2, DVec3};

use super::set::{ListeningSet, REACH, disc};
use crate::geometry::{Polygon, Solid};
use crate::scene::{Block, CROWN, ClearanceRegion, OpeningKind, Scene, Severity, SourceKind, SurfaceIndex, print, read};
use crate::units::Length;

/// What loudspeakers, voices and microphones keep from walls at least, meters: a box, its port, its cables.
pub const POINT_FROM_WALL: f64 = 0.3;

/// What heads keep from walls at least, meters: whoever sits there, and the back of a chair.
pub const HEAD_FROM_WALL: f64 = 0.5;

/// The way that stays clear beyond where the leaf of a door may swing, meters.
pub const CLEAR_WAY: f64 = 0.6;

/// Lengths below this are no overlap, meters.
const OVERLAP: f64 = 1e-4;

/// What a set must keep clear of.
pub(super) struct Fit<'a> {
    set: &'a ListeningSet,
    points_from_walls: f64,
    /// Before each door.
    doors: Vec<(String, Polygon)>,
    /// What must stay clear, and blocks that stay.
    regions: Vec<(String, Solid)>,
    blocks: Vec<&'a Block>,
}

/// A point of a set: what it is in words, where, how far from walls, and how much room it takes on the floor; meters.
struct Point {
    words: String,
    at: DVec3,
    from_wall: f64,
    radius: f64,
    /// How high it reaches.
    top: f64,
}

impl<'a> Fit<'a> {
    pub(super) fn new(scene: &'a Scene, set: &'a ListeningSet, points_from_walls: f64) -> Self {
        let doors = scene.openings.iter().filter(|opening| opening.kind == OpeningKind::Door);
        let before = |wall: usize, left: f64, width: f64| {
            let chart = scene.chart(SurfaceIndex::Wall(wall));
            let ends = [left, left + width].map(|along| chart.point(DVec2::new(along, 0.0)).truncate());
            let depth = chart.normal.truncate() * (width + CLEAR_WAY);
            Polygon::new(vec![ends[0], ends[1], ends[1] + depth, ends[0] + depth])
        };
        let doors = doors.filter_map(|door| match scene.surface(&door.surface)? {
            SurfaceIndex::Wall(wall) => Some((door.name.clone(), before(wall, door.place.left, door.place.width))),
            SurfaceIndex::Ceiling(_) | SurfaceIndex::Floor => None,
        });
        let regions = scene.clearances.iter().filter_map(|clearance| match clearance.region {
            ClearanceRegion::Space { low, high } => Some((clearance.name.clone(), Solid::upright(low, high))),
            ClearanceRegion::Surface { .. } => None,
        });
        let stays = (0..scene.blocks.len()).filter(|index| !set.blocks.contains(index));
        Self {
            set,
            points_from_walls,
            doors: doors.collect(),
            regions: regions.collect(),
            blocks: stays.map(|index| &scene.blocks[index]).collect(),
        }
    }

    /// What speaks against a scene with the set moved, by the distances and the room that it needs.
    pub(super) fn objection(&self, moved: &Scene) -> Option<String> {
        let points = self.points(moved);
        let told = |meters: f64| Length(meters).print(moved.unit);
        let plan = moved.floor_plan();
        let outside = points.iter().find_map(|point| outside(moved, point));
        let blocks = || self.set.blocks.iter().find_map(|&index| block_outside(moved, &moved.blocks[index]));
        let at_wall = || {
            let near = points.iter().find(|point| plan.distance_to_boundary(point.at.truncate()) < point.from_wall - OVERLAP);
            near.map(|point| format!("{} would be less than {} from a wall", point.words, told(point.from_wall)))
        };
        outside.or_else(blocks).or_else(at_wall).or_else(|| self.in_the_way(moved, &points))
    }

    /// What speaks against it by that or by the rules of a scene.
    pub(super) fn refusal(&self, moved: &Scene) -> Option<String> {
        self.objection(moved).or_else(|| rules(moved))
    }

    /// Doors, clear regions and what stands there already.
    fn in_the_way(&self, moved: &Scene, points: &[Point]) -> Option<String> {
        let own: Vec<(String, Solid, Polygon)> = (points.iter().map(|point| {
            let foot = disc(point.at.truncate(), point.radius);
            (point.words.clone(), Solid::column(&foot.corners, 0.0, point.top), foot)
        }))
        .chain(self.set.blocks.iter().map(|&index| {
            let block = &moved.blocks[index];
            (format!("\"{}\"", block.name), Solid::turned(block.center, block.base, block.size, block.rotation), block.footprint())
        }))
        .collect();
        for (words, solid, foot) in &own {
            if let Some((door, _)) = self.doors.iter().find(|(_, before)| before.overlaps(foot, OVERLAP)) {
                return Some(format!("{words} would stand before the door \"{door}\""));
            }
            if let Some((region, _)) = self.regions.iter().find(|(_, region)| !region.apart(solid, -OVERLAP)) {
                return Some(format!("{words} would stand in \"{region}\", which must stay clear"));
            }
            let meets = |block: &&&Block| !Solid::turned(block.center, block.base, block.size, block.rotation).apart(solid, -OVERLAP);
            if let Some(block) = self.blocks.iter().find(meets) {
                return Some(format!("{words} would stand in \"{}\"", block.name));
            }
        }
        None
    }

    fn points(&self, moved: &Scene) -> Vec<Point> {
        let head = |words: String, at: DVec3| Point {
            words,
            at,
            from_wall: HEAD_FROM_WALL.max(self.points_from_walls),
            radius: REACH,
            top: at.z + CROWN,
        };
        let seats =
            self.set.seats.iter().map(|&index| &moved.seats[index]).map(|seat| head(format!("the head at \"{}\"", seat.name), seat.ear));
        let sources = self.set.sources.iter().map(|&index| &moved.sources[index]).map(|source| {
            let words = format!("the {} \"{}\"", source.kind.word(), source.name);
            let at = source.position;
            match source.kind {
                SourceKind::Voice => head(words, at),
                SourceKind::Loudspeaker | SourceKind::Instrument => {
                    Point { words, at, from_wall: self.points_from_walls, radius: REACH / 2.0, top: at.z }
                }
            }
        });
        let microphones = self.set.microphones.iter().map(|&index| &moved.microphones[index]).map(|microphone| Point {
            words: format!("the microphone \"{}\"", microphone.name),
            at: microphone.position,
            from_wall: self.points_from_walls,
            radius: REACH / 2.0,
            top: microphone.position.z,
        });
        seats.chain(sources).chain(microphones).collect()
    }
}

/// Outside the walls, or in or above the ceiling.
fn outside(moved: &Scene, point: &Point) -> Option<String> {
    if !moved.floor_plan().contains(point.at.truncate()) {
        return Some(format!("{} would be outside the room", point.words));
    }
    let ceiling = moved.ceiling_height(point.at.truncate());
    (point.top > ceiling - OVERLAP || point.at.z > ceiling - OVERLAP).then(|| format!("the ceiling is too low over {}", point.words))
}

fn block_outside(moved: &Scene, block: &Block) -> Option<String> {
    let foot = block.footprint();
    if !moved.floor_plan().covers(&foot, OVERLAP) {
        return Some(format!("\"{}\" would reach through a wall", block.name));
    }
    let under = foot.corners.iter().map(|&corner| moved.ceiling_height(corner)).fold(f64::INFINITY, f64::min);
    (block.base + block.size.z > under + OVERLAP).then(|| format!("the ceiling is too low over \"{}\"", block.name))
}

/// What the rules of a scene say of it.
fn rules(moved: &Scene) -> Option<String> {
    let mistakes = read(&print(moved)).err()?;
    let first = mistakes.into_iter().find(|mistake| mistake.severity == Severity::Error);
    Some(first.map_or_else(|| "it would not read as a scene".to_owned(), |mistake| mistake.message))
}
