//! What moves as one piece: the sources and receivers of the judged pairs, and what stands under or among them.
//!
//! **Along with them** goes a source, microphone or seat that is not judged, or a block, that lies within [`REACH`] of the hull of those that are, and a block that stands over or under such a
//! block. Blocks that touch the ceiling are built in, and those over everybody's head hang: both stay. Whoever asks may name more that stays.
//!
//! A set is moved by a shift and quarter turns, both exact; heights stay. What points at something moves its aim along.
//!
//! *Limits.* Whether a block can be moved is not known: it is told what moves. Panels stay where they hang, also those that stand free.

use std::f64::consts::FRAC_PI_2;

use glam::{DVec2, DVec3};

use super::{PositionsAsked, SetPlace, Standing, WallDistance};
use crate::geometry::Polygon;
use crate::geometry::polygon::distance_to_segment;
use crate::plan::place::judged_pairs;
use crate::room::{Bodies, build};
use crate::scene::diagnostic::nearest;
use crate::scene::{Block, CROWN, Scene};

/// How far beyond its outermost points a set reaches: a head, a box, the edge of a desk; meters.
pub(super) const REACH: f64 = 0.3;

/// Nearer to the ceiling than this a block is built in, meters.
const BUILT_IN: f64 = 0.02;

/// Walls at a smaller angle than this are as good as parallel, as a sine.
const LEAST_SINE: f64 = 0.5;

/// Why nothing can be moved.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CannotMove {
    /// All that is judged is to stay.
    #[error("nothing is left to move: no source and no receiver that is judged may move; they are {0}")]
    Nothing(String),
    /// No such thing.
    #[error("there is nothing called \"{name}\" that could move along{instead}")]
    Unknown {
        /// What was asked for.
        name: String,
        /// What there is, as the end of the sentence.
        instead: String,
    },
    /// Nowhere a place.
    #[error(
        "the set fits at none of {places} places, {step} from one to the next: {reasons}; a smaller `--step` or `--from-walls` may find one"
    )]
    Nowhere {
        /// How many places were looked at.
        places: usize,
        /// From one to the next.
        step: String,
        /// What was in the way, the most frequent first.
        reasons: String,
    },
    /// What was asked makes no sense.
    #[error("{0}")]
    Asked(String),
}

/// What moves: numbers in the lists of the scene.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ListeningSet {
    pub(super) sources: Vec<usize>,
    pub(super) seats: Vec<usize>,
    pub(super) microphones: Vec<usize>,
    pub(super) blocks: Vec<usize>,
    /// Its middle as it stands, meters.
    pub(super) middle: DVec2,
    /// What that is, in words.
    pub(super) middle_words: String,
    /// From there to the sources, a unit vector; the way it faces.
    pub(super) ahead: DVec2,
}

impl ListeningSet {
    /// The set of a scene.
    pub(super) fn of(scene: &Scene, asked: &PositionsAsked) -> Result<Self, CannotMove> {
        let pairs = judged_pairs(scene, &build(scene, Bodies::Standing));
        let seats = scene.seats.len();
        let judged_source = |index: usize| pairs.iter().any(|pair| pair.0 == index);
        let judged_receiver = |index: usize| pairs.iter().any(|pair| pair.1 == index);
        let points: Vec<DVec2> = pairs
            .iter()
            .flat_map(|&(source, receiver)| [scene.sources[source].position, receiver_at(scene, receiver)])
            .map(DVec3::truncate)
            .collect();
        let reach = hull(&points);
        let is_named = |name: &str| asked.stays.iter().any(|stays| stays == name);
        let moves = |judged: bool, point: DVec3, name: &str| (judged || reach.contains(point.truncate())) && !is_named(name);
        let set = Self {
            sources: (0..scene.sources.len())
                .filter(|&index| moves(judged_source(index), scene.sources[index].position, &scene.sources[index].name))
                .collect(),
            seats: (0..seats).filter(|&index| moves(judged_receiver(index), scene.seats[index].ear, &scene.seats[index].name)).collect(),
            microphones: (0..scene.microphones.len())
                .filter(|&index| moves(judged_receiver(seats + index), scene.microphones[index].position, &scene.microphones[index].name))
                .collect(),
            blocks: blocks_along(scene, &reach, is_named),
            middle: DVec2::ZERO,
            middle_words: String::new(),
            ahead: DVec2::Y,
        };
        set.known(scene, asked)?;
        set.centered(scene, &pairs)
    }

    /// Every name that is to stay is that of something that would move.
    fn known(&self, scene: &Scene, asked: &PositionsAsked) -> Result<(), CannotMove> {
        let names: Vec<&str> = (scene.sources.iter().map(|thing| thing.name.as_str()))
            .chain(scene.seats.iter().map(|thing| thing.name.as_str()))
            .chain(scene.microphones.iter().map(|thing| thing.name.as_str()))
            .chain(scene.blocks.iter().map(|thing| thing.name.as_str()))
            .collect();
        match asked.stays.iter().find(|name| !names.contains(&name.as_str())) {
            None => Ok(()),
            Some(name) => {
                let instead = nearest(name, names.iter().copied()).map_or_else(String::new, |near| format!("; did you mean \"{near}\"?"));
                Err(CannotMove::Unknown { name: name.clone(), instead })
            }
        }
    }

    /// With its middle: the mean of the judged receivers that move, else of the judged sources that do.
    fn centered(self, scene: &Scene, pairs: &[(usize, usize)]) -> Result<Self, CannotMove> {
        let seats = scene.seats.len();
        let mut receivers: Vec<usize> = pairs.iter().map(|pair| pair.1).collect();
        let mut sources: Vec<usize> = pairs.iter().map(|pair| pair.0).collect();
        for list in [&mut receivers, &mut sources] {
            list.sort_unstable();
            list.dedup();
        }
        let is_receiver =
            |&receiver: &usize| self.seats.contains(&receiver) || receiver >= seats && self.microphones.contains(&(receiver - seats));
        let moving_receivers: Vec<usize> = receivers.iter().copied().filter(is_receiver).collect();
        let moving_sources: Vec<usize> = sources.iter().copied().filter(|source| self.sources.contains(source)).collect();
        let mean = |points: Vec<DVec2>| points.iter().sum::<DVec2>() / points.len().max(1) as f64;
        let heard = mean(receivers.iter().map(|&receiver| receiver_at(scene, receiver).truncate()).collect());
        let sent = mean(sources.iter().map(|&source| scene.sources[source].position.truncate()).collect());
        let ahead = (sent - heard).try_normalize().unwrap_or(DVec2::Y);
        let one_of = |names: Vec<&str>, what: &str| match names[..] {
            [name] => format!("{what} \"{name}\""),
            _ => format!("the middle between {}", names.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", ")),
        };
        if !moving_receivers.is_empty() {
            let middle = mean(moving_receivers.iter().map(|&receiver| receiver_at(scene, receiver).truncate()).collect());
            let what = if moving_receivers.iter().all(|&receiver| receiver < seats) { "the head at" } else { "the microphone" };
            let words = one_of(moving_receivers.iter().map(|&receiver| receiver_name(scene, receiver)).collect(), what);
            return Ok(Self { middle, middle_words: words, ahead, ..self });
        }
        if !moving_sources.is_empty() {
            let middle = mean(moving_sources.iter().map(|&source| scene.sources[source].position.truncate()).collect());
            let words = one_of(moving_sources.iter().map(|&source| scene.sources[source].name.as_str()).collect(), "the source");
            return Ok(Self { middle, middle_words: words, ahead, ..self });
        }
        let names = sources
            .iter()
            .map(|&source| scene.sources[source].name.as_str())
            .chain(receivers.iter().map(|&receiver| receiver_name(scene, receiver)));
        Err(CannotMove::Nothing(names.map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", ")))
    }

    /// Where it stands now.
    pub(super) fn present(&self) -> SetPlace {
        SetPlace { middle_m: self.middle.to_array(), turned_deg: 0 }
    }

    /// The scene with the set elsewhere.
    pub(super) fn at(&self, scene: &Scene, place: SetPlace) -> Scene {
        let turn = |way: DVec2| turned(way, place.quarters());
        let point = |point: DVec3| (place.middle() + turn(point.truncate() - self.middle)).extend(point.z);
        let way = |way: DVec3| turn(way.truncate()).extend(way.z);
        let mut moved = scene.clone();
        for &index in &self.sources {
            let source = &mut moved.sources[index];
            (source.position, source.aim) = (point(source.position), way(source.aim));
        }
        for &index in &self.seats {
            let seat = &mut moved.seats[index];
            (seat.ear, seat.facing) = (point(seat.ear), way(seat.facing));
        }
        for &index in &self.microphones {
            let microphone = &mut moved.microphones[index];
            (microphone.position, microphone.aim) = (point(microphone.position), way(microphone.aim));
        }
        for &index in &self.blocks {
            let block = &mut moved.blocks[index];
            block.center = place.middle() + turn(block.center - self.middle);
            block.rotation = half_turn(block.rotation, place.quarters());
        }
        moved
    }

    /// What moves, in words.
    pub(super) fn words(&self, scene: &Scene) -> Vec<String> {
        self.parts(scene).into_iter().map(|(kind, name, ..)| format!("{kind} \"{name}\"")).collect()
    }

    /// Kind, name, point and own direction of each part.
    fn parts(&self, scene: &Scene) -> Vec<(&'static str, String, DVec3, Option<f64>)> {
        let seats = self.seats.iter().map(|&index| &scene.seats[index]).map(|seat| ("seat", seat.name.clone(), seat.ear, None));
        let sources = self.sources.iter().map(|&index| &scene.sources[index]);
        let sources = sources.map(|source| (source.kind.word(), source.name.clone(), source.position, None));
        let microphones = self.microphones.iter().map(|&index| &scene.microphones[index]);
        let microphones = microphones.map(|microphone| ("microphone", microphone.name.clone(), microphone.position, None));
        let blocks = self.blocks.iter().map(|&index| &scene.blocks[index]);
        let blocks = blocks.map(|block| ("block", block.name.clone(), block.center.extend(block.base), Some(block.rotation.to_degrees())));
        seats.chain(sources).chain(microphones).chain(blocks).collect()
    }

    /// Where its parts stand in a scene.
    pub(super) fn standing(&self, scene: &Scene) -> Vec<Standing> {
        let one = |(kind, name, point, rotation_deg): (&'static str, String, DVec3, Option<f64>)| Standing {
            kind: kind.to_owned(),
            name,
            point_m: point.to_array(),
            from_walls: wall_distances(scene, point.truncate()),
            rotation_deg,
        };
        self.parts(scene).into_iter().map(one).collect()
    }
}

/// A direction after quarter turns counterclockwise, exact.
pub(super) fn turned(way: DVec2, quarters: u32) -> DVec2 {
    (0..quarters % 4).fold(way, |way, _| way.perp())
}

/// A box's rotation after quarter turns, over -90 to 90 degrees: after a half turn it is the same; radians.
fn half_turn(rotation: f64, quarters: u32) -> f64 {
    if quarters.is_multiple_of(2) {
        return rotation;
    }
    if rotation > 0.0 { rotation - FRAC_PI_2 } else { rotation + FRAC_PI_2 }
}

/// Position of a receiver: seats come first.
pub(super) fn receiver_at(scene: &Scene, receiver: usize) -> DVec3 {
    let seats = scene.seats.len();
    if receiver < seats { scene.seats[receiver].ear } else { scene.microphones[receiver - seats].position }
}

/// Name of a receiver.
pub(super) fn receiver_name(scene: &Scene, receiver: usize) -> &str {
    let seats = scene.seats.len();
    if receiver < seats { &scene.seats[receiver].name } else { &scene.microphones[receiver - seats].name }
}

/// The hull of discs of [`REACH`] round these points, as octagons.
fn hull(points: &[DVec2]) -> Polygon {
    let round = |&point: &DVec2| disc(point, REACH).corners;
    Polygon::hull(&points.iter().flat_map(round).collect::<Vec<_>>())
}

/// An octagon round a disc.
pub(super) fn disc(middle: DVec2, radius: f64) -> Polygon {
    let outer = radius / (FRAC_PI_2 / 4.0).cos();
    Polygon { corners: (0..8).map(|corner| middle + outer * DVec2::from_angle((f64::from(corner) + 0.5) * FRAC_PI_2 / 2.0)).collect() }
}

/// Blocks within reach that are neither built in nor over heads, and those over or under them.
fn blocks_along(scene: &Scene, reach: &Polygon, is_named: impl Fn(&str) -> bool) -> Vec<usize> {
    let crown =
        scene.seats.iter().map(|seat| seat.ear.z + CROWN).chain(scene.sources.iter().map(|source| source.position.z)).fold(0.0, f64::max);
    let may_move = |block: &Block| {
        let foot = block.footprint();
        let under = foot.corners.iter().map(|&corner| scene.ceiling_height(corner)).fold(f64::INFINITY, f64::min);
        !is_named(&block.name) && block.base < crown && block.base + block.size.z < under - BUILT_IN
    };
    let mut along: Vec<usize> = Vec::new();
    loop {
        let is_reached = |block: &Block| {
            let foot = block.footprint();
            foot.overlaps(reach, 1e-6) || along.iter().any(|&other: &usize| foot.overlaps(&scene.blocks[other].footprint(), 1e-6))
        };
        let more: Vec<usize> = (0..scene.blocks.len())
            .filter(|index| !along.contains(index) && may_move(&scene.blocks[*index]) && is_reached(&scene.blocks[*index]))
            .collect();
        if more.is_empty() {
            along.sort_unstable();
            return along;
        }
        along.extend(more);
    }
}

/// The nearest wall and the nearest of those across it, square distances; meters.
fn wall_distances(scene: &Scene, point: DVec2) -> Vec<WallDistance> {
    let mut walls: Vec<(f64, DVec2, usize)> = (0..scene.walls.len())
        .filter_map(|wall| {
            let (from, to) = scene.wall_ends(wall);
            let along = (to - from).try_normalize()?;
            let foot = (point - from).dot(along);
            // Where the square foot falls beside the wall a tape finds nothing to lie against.
            (-1e-9..=from.distance(to) + 1e-9).contains(&foot).then(|| (distance_to_segment(point, from, to), along, wall))
        })
        .collect();
    walls.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
    let Some(&first) = walls.first() else { return Vec::new() };
    let second = walls.iter().copied().find(|wall| wall.1.perp_dot(first.1).abs() > LEAST_SINE);
    let told = |(distance_m, _, wall): (f64, DVec2, usize)| WallDistance { wall: scene.walls[wall].name.clone(), distance_m };
    std::iter::once(first).chain(second).map(told).collect()
}
