//! The early reflections: which bounces reach the ear first, from where, how loud.
//!
//! At the center of the zone and six points on its radius, arrivals within 1 ms of one another are one reflection; its level is their
//! energy in the octaves 1-8 kHz for a source flat over frequency, re the direct sound at the same point. What is reported is the point
//! where the sum of excesses over the criterion is worst. A plan is scored by the same octave by octave ([`excesses`]): a reflection that a thin panel leaves loud at 1 kHz alone is
//! still loud.
//!
//! *References.* ITU-R BS.1116-3, 8.2.2.3.1 and EBU Tech 3276 (early reflections 10 dB below the direct sound within 15 ms, 1-8 kHz;
//! clause numbers and values from memory).
//!
//! *Limits.* Specular reflections only; what arrives scattered is in the early level, not in this table.

use glam::DVec3;

use crate::bands::Bands;
use crate::room::Room;
use crate::weigh::{Linings, SpecularPath, Traced, early_bands, flat_weights, zone_points};

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
    let Worst { reached, paths, excess_db, .. } = worst(traced, linings, source, receiver);
    let together = reached.together(paths, SpecularPath::energy);
    let reflections = together.iter().filter_map(|together| reached.merged(together)).collect();
    EarlyReflections { reflections, excess_db, point: reached.point }
}

/// Those at the middle of the head, or at the microphone: what stands in that place hears.
#[must_use]
pub fn at_middle(traced: &Traced, linings: &Linings, source: usize, receiver: usize) -> Vec<Reflection> {
    let reached = Reached::new(traced, linings, (source, receiver), traced.room.receivers[receiver].position);
    let paths = traced.images[source][receiver].points.first().map_or(&[][..], Vec::as_slice);
    reached.together(paths, SpecularPath::energy).iter().filter_map(|together| reached.merged(together)).collect()
}

/// Sums of excess over the criterion, dB.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Excess {
    /// Of reflections as a whole, 1-8 kHz, at the point where that is worst.
    pub whole_db: f64,
    /// Of each octave of 1-8 kHz by itself, at the point where their mean is worst; 0 in the others.
    pub by_octave_db: Bands<f64>,
}

impl Excess {
    /// Mean of the octaves of 1-8 kHz, dB.
    #[must_use]
    pub fn mean_db(&self) -> f64 {
        octave_mean(self.by_octave_db)
    }
}

/// Mean of the octaves that early sound is judged in.
#[must_use]
pub fn octave_mean(values: Bands<f64>) -> f64 {
    early_bands().map(|band| values[band]).sum::<f64>() / early_bands().count() as f64
}

/// Sums of excess of one source at one receiver, whole and by octave.
#[must_use]
pub fn excesses(traced: &Traced, linings: &Linings, source: usize, receiver: usize) -> Excess {
    let points = zone_points(&traced.room, &traced.room.receivers[receiver]);
    let mut worst = Excess { whole_db: 0.0, by_octave_db: Bands::splat(0.0) };
    for (paths, &point) in traced.images[source][receiver].points.iter().zip(&points) {
        let reached = Reached::new(traced, linings, (source, receiver), point);
        let together: Vec<Bands<f64>> =
            reached.together(paths, SpecularPath::judged_energy).iter().map(|together| total(together)).collect();
        let whole_db = together.iter().map(|&energy| excess(reached.level(energy))).sum();
        let mut here = Excess { whole_db, by_octave_db: Bands::splat(0.0) };
        for band in early_bands() {
            here.by_octave_db[band] = together.iter().map(|energy| excess(decibels(energy[band], reached.direct[band]))).sum();
        }
        worst.whole_db = worst.whole_db.max(here.whole_db);
        if here.mean_db() > worst.mean_db() {
            worst.by_octave_db = here.by_octave_db;
        }
    }
    worst
}

/// By how many dB [`Excess::mean_db`] grows for each unit of energy that a path brings, octave by octave: the paths that are over the criterion, at the point where it is worst.
#[must_use]
pub fn excess_slopes<'a>(traced: &'a Traced, linings: &'a Linings, source: usize, receiver: usize) -> Vec<(&'a SpecularPath, Bands<f64>)> {
    let points = zone_points(&traced.room, &traced.room.receivers[receiver]);
    let octaves = early_bands().count() as f64;
    let at_point = |(paths, &point): (&'a Vec<SpecularPath>, &DVec3)| {
        let reached = Reached::new(traced, linings, (source, receiver), point);
        let (mut sum, mut slopes) = (0.0, Vec::new());
        for together in reached.together(paths, SpecularPath::judged_energy) {
            let energy = total(&together);
            let mut slope = Bands::splat(0.0);
            for band in early_bands() {
                let over = excess(decibels(energy[band], reached.direct[band]));
                sum += over;
                slope[band] = if over > 0.0 { 10.0 / std::f64::consts::LN_10 / energy[band] / octaves } else { 0.0 };
            }
            slopes.extend(together.iter().map(|&(path, _)| (path, slope)));
        }
        (sum, slopes)
    };
    let all = traced.images[source][receiver].points.iter().zip(&points).map(at_point);
    all.reduce(|worst, one| if one.0 > worst.0 { one } else { worst }).map_or_else(Vec::new, |(_, slopes)| slopes)
}

/// Sum of excess at the worst point, without the table.
#[must_use]
pub fn early_excess(traced: &Traced, linings: &Linings, source: usize, receiver: usize) -> f64 {
    worst(traced, linings, source, receiver).excess_db
}

/// Level of the loudest reflection of one source anywhere in the zone of one receiver, 1-8 kHz re direct, dB.
#[must_use]
pub fn loudest_db(traced: &Traced, linings: &Linings, source: usize, receiver: usize) -> f64 {
    let points = zone_points(&traced.room, &traced.room.receivers[receiver]);
    let at_point = |(paths, &point): (&Vec<SpecularPath>, &DVec3)| {
        let reached = Reached::new(traced, linings, (source, receiver), point);
        let together = reached.together(paths, SpecularPath::judged_energy);
        together.iter().map(|together| reached.level(total(together))).fold(NOTHING_DB, f64::max)
    };
    traced.images[source][receiver].points.iter().zip(&points).map(at_point).fold(NOTHING_DB, f64::max)
}

/// By how much each of [`early_reflections`] is louder in other states of the room ([`Linings::refinished`]), at the same point, dB: `[reflection][state]`.
#[must_use]
pub fn in_states(traced: &Traced, linings: &Linings, others: &[Linings], source: usize, receiver: usize) -> Vec<Vec<f64>> {
    let Worst { reached, together, .. } = worst(traced, linings, source, receiver);
    let weights = flat_weights();
    let listed = together.iter().filter(|together| reached.level(total(together)) >= TABLE_FLOOR_DB);
    let louder = |together: &Vec<Arriving<'_>>| {
        let mut states = vec![0.0; others.len()];
        for (path, _) in together {
            let energies = path.energies(&traced.room, linings, others, |band| weights[band] > 0.0);
            states.iter_mut().zip(energies).for_each(|(sum, energy)| *sum += (energy * weights).sum());
        }
        let own = (total(together) * weights).sum();
        states.into_iter().map(|state| decibels(state, own)).collect()
    };
    listed.map(louder).collect()
}

/// The point of a zone where the excess is largest.
struct Worst<'a> {
    reached: Reached<'a>,
    /// All that reaches it.
    paths: &'a [SpecularPath],
    /// What of that arrives together, in the octaves of the criterion.
    together: Vec<Vec<Arriving<'a>>>,
    excess_db: f64,
}

fn worst<'a>(traced: &'a Traced, linings: &'a Linings, source: usize, receiver: usize) -> Worst<'a> {
    let zone = &traced.images[source][receiver];
    let points = zone_points(&traced.room, &traced.room.receivers[receiver]);
    let at_point = |(paths, &point): (&'a Vec<SpecularPath>, &DVec3)| {
        let reached = Reached::new(traced, linings, (source, receiver), point);
        let together = reached.together(paths, SpecularPath::judged_energy);
        let excess_db = together.iter().map(|together| excess(reached.level(total(together)))).sum();
        Worst { reached, paths, together, excess_db }
    };
    let all = zone.points.iter().zip(&points).map(at_point);
    all.reduce(|worst, one| if one.excess_db > worst.excess_db + 1e-12 { one } else { worst }).unwrap_or_else(|| {
        let center = traced.room.receivers[receiver].position;
        let reached = Reached::new(traced, linings, (source, receiver), center);
        Worst { reached, paths: &[], together: Vec::new(), excess_db: 0.0 }
    })
}

/// A path and the energy that comes along it, by band.
type Arriving<'a> = (&'a SpecularPath, Bands<f64>);

fn total(together: &[Arriving<'_>]) -> Bands<f64> {
    together.iter().fold(Bands::splat(0.0), |sum, &(_, energy)| sum + energy)
}

/// By how much a level is over the criterion, dB.
fn excess(level_db: f64) -> f64 {
    (level_db - CRITERION_DB).max(0.0)
}

/// A point that reflections of a source reach.
struct Reached<'a> {
    traced: &'a Traced,
    linings: &'a Linings,
    source: usize,
    receiver: usize,
    point: DVec3,
    /// Energy of the direct sound there, and its way in meters.
    direct: Bands<f64>,
    direct_length: f64,
}

impl<'a> Reached<'a> {
    fn new(traced: &'a Traced, linings: &'a Linings, (source, receiver): (usize, usize), point: DVec3) -> Self {
        let direct_length = traced.room.sources[source].position.distance(point);
        Self { traced, linings, source, receiver, point, direct: traced.direct_energy(source, point), direct_length }
    }

    /// Level of an energy re direct, 1-8 kHz, dB.
    fn level(&self, energy: Bands<f64>) -> f64 {
        decibels((energy * flat_weights()).sum(), (self.direct * flat_weights()).sum())
    }

    /// What of these paths arrives early, in groups of one reflection each, all in order of delay.
    fn together(&self, paths: &'a [SpecularPath], energy: fn(&SpecularPath, &Room, &Linings) -> Bands<f64>) -> Vec<Vec<Arriving<'a>>> {
        let speed = self.traced.room.medium.speed;
        let limit = self.direct_length + self.traced.settings.window_s * speed;
        let mut early: Vec<Arriving<'a>> = paths
            .iter()
            .filter(|path| !path.path.bounces.is_empty() && path.path.length <= limit)
            .map(|path| (path, energy(path, &self.traced.room, self.linings)))
            .collect();
        early.sort_by(|a, b| a.0.path.length.total_cmp(&b.0.path.length));
        let mut groups: Vec<Vec<Arriving<'a>>> = Vec::new();
        for one in early {
            match groups.last_mut() {
                Some(group) if one.0.path.length - group[0].0.path.length <= MERGE_S * speed => group.push(one),
                _ => groups.push(vec![one]),
            }
        }
        groups
    }

    /// What arrives together as one reflection, unless it is too weak: the way of the loudest, joined by the others.
    fn merged(&self, together: &[Arriving<'a>]) -> Option<Reflection> {
        let mut loudest: Vec<(f64, Arriving<'a>)> = together.iter().map(|&one| (self.level(one.1), one)).collect();
        // Of two alike the later.
        loudest.reverse();
        loudest.sort_by(|a, b| b.0.total_cmp(&a.0));
        let (first, others) = loudest.split_first()?;
        let reflection = self.reflection(first.1, total(together));
        let listed = others.iter().take_while(|(level_db, _)| *level_db >= TABLE_FLOOR_DB);
        let joined_by = || listed.map(|&(_, one)| Reflection { excess_db: 0.0, ..self.reflection(one, one.1) }).collect();
        (reflection.level_db >= TABLE_FLOOR_DB).then(|| Reflection { joined_by: joined_by(), ..reflection })
    }

    /// A path with its own energy, told with the energy of all that arrives with it.
    fn reflection(&self, (path, own): Arriving<'_>, energy: Bands<f64>) -> Reflection {
        let room = &self.traced.room;
        let bounces = &path.path.bounces;
        let level_db = self.level(energy);
        let (azimuth_deg, elevation_deg) = head_angles(room.receivers[self.receiver].facing, path.path.arrival);
        Reflection {
            delay_ms: (path.path.length - self.direct_length) / room.medium.speed * 1000.0,
            level_db,
            level_inputs_db: None,
            level_by_octave_db: energy.zip(self.direct, decibels),
            excess_db: excess(level_db),
            order: bounces.len() as u32,
            surfaces: bounces.iter().map(|bounce| room.surfaces[bounce.surface].name.clone()).collect(),
            points_m: bounces.iter().map(|bounce| bounce.point.to_array()).collect(),
            places: bounces.iter().map(|bounce| place(room, bounce.surface, bounce.point)).collect(),
            azimuth_deg,
            elevation_deg,
            made_of: self.made_of(path, energy.zip(own, decibels)),
            joined_by: Vec::new(),
        }
    }

    /// What makes the level of a path re the direct sound; `others_db` is what joins it.
    fn made_of(&self, path: &SpecularPath, others_db: Bands<f64>) -> MadeOf {
        let (emitter, receiver) = (&self.traced.room.sources[self.source], &self.traced.room.receivers[self.receiver]);
        let (way, direct) = (path.path.length, self.direct_length);
        let sent = |direction: DVec3| self.traced.directivity[self.source].energy(direction.dot(emitter.aim));
        let straight = (self.point - emitter.position).try_normalize().unwrap_or(emitter.aim);
        let longer = 10.0 * (way - direct) * std::f64::consts::LOG10_E;
        MadeOf {
            way_m: [way, direct],
            spreading_db: 20.0 * (direct / way).log10(),
            air_db: self.traced.room.medium.attenuation.map(|attenuation| -attenuation * longer),
            source_db: sent(path.path.departure).zip(sent(straight), decibels),
            pattern_db: decibels(receiver.pattern.energy(path.path.arrival.dot(receiver.facing)), 1.0),
            bounces_db: path
                .shares(&self.traced.room, self.linings)
                .into_iter()
                .map(|share| share.map(|share| decibels(share, 1.0)))
                .collect(),
            angles_deg: path.path.bounces.iter().map(|bounce| bounce.cosine.clamp(-1.0, 1.0).acos().to_degrees()).collect(),
            others_db,
        }
    }
}

/// Level of an energy re another, dB.
pub(super) fn decibels(energy: f64, other: f64) -> f64 {
    (10.0 * (energy / other).log10()).max(NOTHING_DB)
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
