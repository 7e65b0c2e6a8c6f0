//! What the low end is like at every place at ear height: one run of each source tells it all over the room.
//!
//! At each place of the lattice's layer nearest to ear height, of all loudspeakers together (of the first source where there are fewer than two): the `evenness` of the third octaves, and the weakest of
//! them re their mean.
//!
//! *References.* None of its own.
//!
//! *Limits.* Those of `evenness`. The loudspeakers stay where they are, and what hangs stays where it hangs. Places lie [`BassFloor::apart_m`] apart: between them it is not known.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::evenness::{BassEvenness, Way, octaves};
use crate::room::Room;
use crate::scene::{Scene, SourceKind};
use crate::wave::{Hearing, Record, Sounding};

/// What heads keep from walls and blocks at least, meters (common practice, no source).
pub const FROM_WALLS: f64 = 0.5;
/// Best places that are told, and how far they are apart at least, meters.
const BEST: usize = 3;
const BEST_APART: f64 = 0.6;

/// The low end over the floor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassFloor {
    /// Sources that sound.
    pub sources: Vec<String>,
    /// Height of the places.
    pub height_m: f64,
    /// From one place to the next.
    pub apart_m: f64,
    /// Third octaves that count, nominal middles of the lowest and the highest.
    pub octaves_hz: [f64; 2],
    /// Places, row by row.
    pub places: Vec<BassPlace>,
    /// The evenest places where a head may be, the best first: indices into the places.
    pub best: Vec<usize>,
    /// The place nearest to each seat and microphone, in the order of the receivers.
    pub at_receivers: Vec<usize>,
}

/// A place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassPlace {
    /// On the floor plan.
    pub point_m: [f64; 2],
    /// Standard deviation of the levels of the third octaves.
    pub evenness_db: f64,
    /// The weakest third octave re their mean.
    pub weakest_db: f64,
    /// Which one that is.
    pub weakest_hz: f64,
    /// Whether it is far enough from walls and blocks for a head.
    pub is_free: bool,
}

/// The floor of a room whose sources were heard.
pub(super) fn floor(scene: &Scene, room: &Room, sounding: &Sounding, heard: &[Hearing], top: f64) -> BassFloor {
    let speakers: Vec<usize> = (0..room.sources.len()).filter(|index| room.sources[*index].kind == SourceKind::Loudspeaker).collect();
    let together = if speakers.len() > 1 { speakers } else { vec![0] };
    let ear = room.receivers[0].position.z;
    let layer = |place: usize| sounding.grid.place(sounding.lattice.cells[place])[2];
    let height = |place: usize| sounding.lattice.point(&sounding.grid, place).z;
    let nearest =
        (0..sounding.lattice.cells.len()).min_by(|a, b| (height(*a) - ear).abs().total_cmp(&(height(*b) - ear).abs())).unwrap_or(0);
    let there: Vec<usize> = (0..sounding.lattice.cells.len()).filter(|place| layer(*place) == layer(nearest)).collect();
    let octaves = octaves(top);
    let place = |index: &usize| {
        let at = sounding.lattice.point(&sounding.grid, *index);
        let way = |source: &usize| {
            let pulse = &heard[*source].pulse;
            Way {
                record: Record::new(pulse, pulse.every(), &heard[*source].places[*index]),
                pulse,
                distance: room.sources[*source].position.distance(at).max(sounding.grid.spacing),
            }
        };
        let BassEvenness { evenness_db, weakest_db, weakest_hz } =
            BassEvenness::of(&together.iter().map(way).collect::<Vec<_>>(), &octaves);
        BassPlace { point_m: [at.x, at.y], evenness_db, weakest_db, weakest_hz, is_free: is_free(scene, room, at) }
    };
    let places: Vec<BassPlace> = there.par_iter().map(place).collect();
    let near = |point: glam::DVec3| {
        let away = |place: &BassPlace| glam::DVec2::from_array(place.point_m).distance(point.truncate());
        (0..places.len()).min_by(|a, b| away(&places[*a]).total_cmp(&away(&places[*b]))).unwrap_or(0)
    };
    BassFloor {
        sources: together.iter().map(|index| room.sources[*index].name.clone()).collect(),
        height_m: height(nearest),
        apart_m: sounding.lattice.every as f64 * sounding.grid.spacing,
        octaves_hz: [octaves[0].0, octaves[octaves.len() - 1].0],
        best: best(&places),
        at_receivers: room.receivers.iter().map(|receiver| near(receiver.position)).collect(),
        places,
    }
}

/// Whether a head may be at a point: in the air, and far enough from walls and blocks.
fn is_free(scene: &Scene, room: &Room, at: glam::DVec3) -> bool {
    let inside = |off: glam::DVec3| room.contains(at + off);
    let round = [glam::DVec3::X, glam::DVec3::NEG_X, glam::DVec3::Y, glam::DVec3::NEG_Y].map(|axis| FROM_WALLS * axis);
    let over_block = scene.blocks.iter().any(|block| block.footprint().contains(at.truncate()));
    inside(glam::DVec3::ZERO) && round.into_iter().all(inside) && !over_block
}

/// The evenest free places that are apart.
fn best(places: &[BassPlace]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..places.len()).filter(|index| places[*index].is_free).collect();
    order.sort_by(|a, b| places[*a].evenness_db.total_cmp(&places[*b].evenness_db));
    let mut chosen: Vec<usize> = Vec::new();
    for index in order {
        let away = |other: &usize| glam::DVec2::from_array(places[*other].point_m).distance(glam::DVec2::from_array(places[index].point_m));
        if chosen.len() < BEST && chosen.iter().all(|other| away(other) >= BEST_APART) {
            chosen.push(index);
        }
    }
    chosen
}
