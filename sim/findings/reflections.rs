//! The early reflections: which bounces reach the ear first, from where, how loud.
//!
//! At the center of the zone and six points on its radius, arrivals within 1 ms of one another are one reflection; its level is their
//! energy in the octaves 1-8 kHz for a source flat over frequency, re the direct sound at the same point. What is reported is the point
//! where the sum of excesses over the criterion is worst.
//!
//! *References.* ITU-R BS.1116-3, 8.2.2.3.1 and EBU Tech 3276 (early reflections 10 dB below the direct sound within 15 ms, 1-8 kHz;
//! clause numbers and values from memory).
//!
//! *Limits.* Specular reflections only; what arrives scattered is in the early level, not in this table.

use glam::DVec3;

use crate::bands::Bands;
use crate::room::Room;
use crate::weigh::{Linings, SpecularPath, Traced, flat_weights, zone_points};

use super::targets::CRITERION_DB;
use super::{MadeOf, NOTHING_DB, Place, Reflection};

/// Arrivals this close merge, seconds.
const MERGE_S: f64 = 0.001;

/// Reflections this far below the direct sound are left out of the table, dB.
const TABLE_FLOOR_DB: f64 = -40.0;

/// The reflections at the worst point of a zone, and the sum of their excess.
#[derive(Clone, Debug)]
pub struct EarlyReflections {
    /// In order of delay.
    pub reflections: Vec<Reflection>,
    /// Sum of excesses over the criterion in the window, dB.
    pub excess_db: f64,
    /// The head position that they arrive at, meters.
    pub point: DVec3,
}

/// The early reflections of one source at one receiver.
#[must_use]
pub fn early_reflections(traced: &Traced, linings: &Linings, source: usize, receiver: usize) -> EarlyReflections {
    let zone = &traced.images[source][receiver];
    let points = zone_points(&traced.room, &traced.room.receivers[receiver]);
    let mut worst: Option<EarlyReflections> = None;
    for (paths, &point) in zone.points.iter().zip(&points) {
        let here = at_point(traced, linings, (source, receiver), paths, point);
        if worst.as_ref().is_none_or(|worst| here.excess_db > worst.excess_db + 1e-12) {
            worst = Some(here);
        }
    }
    worst.unwrap_or(EarlyReflections { reflections: Vec::new(), excess_db: 0.0, point: traced.room.receivers[receiver].position })
}

/// Sum of excess at the worst point, without the table.
#[must_use]
pub fn early_excess(traced: &Traced, linings: &Linings, source: usize, receiver: usize) -> f64 {
    early_reflections(traced, linings, source, receiver).excess_db
}

fn at_point(traced: &Traced, linings: &Linings, pair: (usize, usize), paths: &[SpecularPath], point: DVec3) -> EarlyReflections {
    let (source, receiver) = pair;
    let weights = flat_weights();
    let direct = traced.direct_energy(source, point);
    let direct_flat = (direct * weights).sum();
    let speed = traced.room.medium.speed;
    let direct_length = traced.room.sources[source].position.distance(point);
    let limit = direct_length + traced.settings.window_s * speed;
    let mut early: Vec<(&SpecularPath, Bands<f64>)> = paths
        .iter()
        .filter(|path| !path.path.bounces.is_empty() && path.path.length <= limit)
        .map(|path| (path, path.energy(&traced.room, linings)))
        .collect();
    early.sort_by(|a, b| a.0.path.length.total_cmp(&b.0.path.length));

    let mut reflections = Vec::new();
    let mut excess_db = 0.0;
    let mut first = 0;
    while first < early.len() {
        let end = first + early[first..].partition_point(|(path, _)| path.path.length - early[first].0.path.length <= MERGE_S * speed);
        let cluster = &early[first..end];
        let energy = cluster.iter().fold(Bands::splat(0.0), |sum, &(_, energy)| sum + energy);
        let level_db = 10.0 * ((energy * weights).sum() / direct_flat).log10();
        let excess = (level_db - CRITERION_DB).max(0.0);
        excess_db += excess;
        let strongest = cluster.iter().max_by(|a, b| (a.1 * weights).sum().total_cmp(&(b.1 * weights).sum()));
        if let Some((path, own)) = strongest
            && level_db >= TABLE_FLOOR_DB
        {
            let bounces = &path.path.bounces;
            let (azimuth_deg, elevation_deg) = head_angles(traced.room.receivers[receiver].facing, path.path.arrival);
            reflections.push(Reflection {
                delay_ms: (path.path.length - direct_length) / speed * 1000.0,
                level_db,
                level_by_octave_db: energy.zip(direct, decibels),
                excess_db: excess,
                order: bounces.len() as u32,
                surfaces: bounces.iter().map(|bounce| traced.room.surfaces[bounce.surface].name.clone()).collect(),
                points_m: bounces.iter().map(|bounce| bounce.point.to_array()).collect(),
                places: bounces.iter().map(|bounce| place(&traced.room, bounce.surface, bounce.point)).collect(),
                azimuth_deg,
                elevation_deg,
                made_of: made_of(traced, linings, pair, path, point, energy.zip(*own, decibels)),
            });
        }
        first = end;
    }
    EarlyReflections { reflections, excess_db, point }
}

/// Level of an energy re another, dB.
pub(super) fn decibels(energy: f64, other: f64) -> f64 {
    (10.0 * (energy / other).log10()).max(NOTHING_DB)
}

/// What makes the level of a path at a point re the direct sound there; `others_db` is what joins it.
fn made_of(
    traced: &Traced,
    linings: &Linings,
    (source, receiver): (usize, usize),
    path: &SpecularPath,
    point: DVec3,
    others_db: Bands<f64>,
) -> MadeOf {
    let (emitter, receiver) = (&traced.room.sources[source], &traced.room.receivers[receiver]);
    let direct = emitter.position.distance(point);
    let way = path.path.length;
    let sent = |direction: DVec3| traced.directivity[source].energy(direction.dot(emitter.aim));
    let straight = (point - emitter.position).try_normalize().unwrap_or(emitter.aim);
    let longer = 10.0 * (way - direct) * std::f64::consts::LOG10_E;
    MadeOf {
        way_m: [way, direct],
        spreading_db: 20.0 * (direct / way).log10(),
        air_db: traced.room.medium.attenuation.map(|attenuation| -attenuation * longer),
        source_db: sent(path.path.departure).zip(sent(straight), decibels),
        pattern_db: decibels(receiver.pattern.energy(path.path.arrival.dot(receiver.facing)), 1.0),
        bounces_db: path.shares(&traced.room, linings).into_iter().map(|share| share.map(|share| decibels(share, 1.0))).collect(),
        angles_deg: path.path.bounces.iter().map(|bounce| bounce.cosine.clamp(-1.0, 1.0).acos().to_degrees()).collect(),
        others_db,
    }
}

/// Where a point lies on a surface.
#[must_use]
pub fn place(room: &Room, surface: usize, point: DVec3) -> Place {
    let position = room.surfaces[surface].chart.position(point);
    Place { surface: room.surfaces[surface].name.clone(), left_m: position.x, bottom_m: position.y }
}

/// Azimuth (counterclockwise from the facing, seen from above) and elevation of a direction at a head, degrees.
#[must_use]
pub fn head_angles(facing: DVec3, direction: DVec3) -> (f64, f64) {
    let azimuth = direction.y.atan2(direction.x) - facing.y.atan2(facing.x);
    let turned = azimuth.sin().atan2(azimuth.cos());
    (turned.to_degrees(), direction.z.clamp(-1.0, 1.0).asin().to_degrees())
}
