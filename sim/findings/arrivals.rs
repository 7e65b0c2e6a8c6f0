//! What comes straight to an ear and what is bent round edges, each with what makes its level.
//!
//! The direct sound is told re what its source sends 1 m along its axis; all that comes later is told re the direct sound were nothing in its way.
//! What is bent is told as the mean energy of an octave, since an edge turns its phase over it; spreading, air and source are those at its center, and what
//! they change within it is a row of its own.
//!
//! *Limits.* Those of the edges (`images::wedge`, `images::twice`): two bends at most, faces that absorb an approximation without a reference.

use std::f64::consts::{LOG10_E, TAU};

use glam::{DVec2, DVec3};

use crate::bands::{Band, Bands};
use crate::images::edges::EdgePath;
use crate::room::Room;
use crate::weigh::ear::{Arrival, Ear, Ears};
use crate::weigh::{Traced, flat_weights};

use super::reflections::{decibels, head_angles, place};
use super::{BendMadeOf, DirectSound, EdgeArrival, NOTHING_DB, Place};

/// `k x half the lesser side` above which first order holds.
const FIRST_ORDER_HOLDS: f64 = 3.0;

/// Edges this far below the direct sound are not listed, dB.
const LISTED_DB: f64 = -40.0;

/// One ear of a traced room, and how loud the direct sound would be there.
pub(super) struct At<'a> {
    pub(super) ears: &'a Ears,
    pub(super) traced: &'a Traced,
    pub(super) ear: &'a Ear,
    /// Frequencies, Hz: as many in each octave, the lowest first.
    pub(super) frequencies: &'a [f64],
    /// Amplitude of the free direct sound at each.
    pub(super) direct: &'a [f64],
}

/// Something bent: its path, how it arrives, and its pressure at each frequency.
pub(super) struct Bent<'a> {
    pub(super) arrival: &'a Arrival<'a>,
    pub(super) pressures: &'a [DVec2],
}

impl At<'_> {
    fn room(&self) -> &Room {
        &self.traced.room
    }

    /// From the source to the ear.
    fn straight(&self) -> DVec3 {
        self.ear.position - self.room().sources[self.ear.source].position
    }

    /// What the source sends in a direction, re its axis.
    fn sent(&self, direction: DVec3) -> Bands<f64> {
        self.traced.directivity[self.ear.source].energy(direction.dot(self.room().sources[self.ear.source].aim))
    }

    /// What the pattern takes in from a direction, dB, and the direction at the head in degrees.
    fn heard(&self, from: DVec3) -> (f64, (f64, f64)) {
        let receiver = &self.room().receivers[self.ear.receiver];
        (decibels(receiver.pattern.energy(from.dot(receiver.facing)), 1.0), head_angles(receiver.facing, from))
    }

    fn air_db(&self, way: f64) -> Bands<f64> {
        self.room().medium.attenuation.map(|attenuation| -attenuation * way * 10.0 * LOG10_E)
    }

    /// What comes straight from the source.
    pub(super) fn direct_sound(&self) -> DirectSound {
        let way = self.straight().length();
        let straight = self.straight().try_normalize().unwrap_or(self.room().sources[self.ear.source].aim);
        let hidden_by: Vec<String> =
            self.ears.hidden_by(self.room(), self.ear).into_iter().map(|index| self.room().surfaces[index].name.clone()).collect();
        let (pattern_db, (azimuth_deg, elevation_deg)) = self.heard(-straight);
        let spreading_db = -20.0 * way.log10();
        let (air_db, source_db) = (self.air_db(way), self.sent(straight).map(|sent| decibels(sent, 1.0)));
        DirectSound {
            way_m: way,
            arrives_ms: way / self.room().medium.speed * 1000.0,
            level_db: if hidden_by.is_empty() { pattern_db } else { NOTHING_DB },
            hidden_by,
            azimuth_deg,
            elevation_deg,
            level_by_octave_db: air_db.zip(source_db, |air, source| spreading_db + air + source + pattern_db),
            spreading_db,
            air_db,
            source_db,
            pattern_db,
        }
    }

    /// The edges that can be heard, loudest first.
    pub(super) fn edges<'a>(&self, bent: impl Iterator<Item = Bent<'a>>) -> Vec<EdgeArrival> {
        let weights = flat_weights();
        let arrival = |(path, bent): (&EdgePath, Bent<'_>)| {
            let energy = self.octaves(|step| bent.pressures[step].length_squared() / self.direct[step].powi(2));
            let level_db = decibels((energy * weights).sum(), 1.0);
            (level_db >= LISTED_DB).then(|| self.edge(path, bent.arrival, energy, level_db))
        };
        let mut listed: Vec<EdgeArrival> = self.ear.edges.iter().zip(bent).filter_map(arrival).collect();
        listed.sort_by(|one, other| other.level_db.total_cmp(&one.level_db).then(one.delay_ms.total_cmp(&other.delay_ms)));
        listed
    }

    /// Mean over the frequencies of each octave.
    fn octaves(&self, energy: impl Fn(usize) -> f64) -> Bands<f64> {
        let count = self.frequencies.len() / Band::ALL.len();
        Bands::from_fn(|band| (band.index() * count..(band.index() + 1) * count).map(&energy).sum::<f64>() / count as f64)
    }

    fn edge(&self, path: &EdgePath, arrival: &Arrival<'_>, energy: Bands<f64>, level_db: f64) -> EdgeArrival {
        let room = self.room();
        let direct = self.straight().length();
        let half = path.faces.map(|face| half_size(room, face)).into_iter().fold(f64::INFINITY, f64::min);
        let (_, (azimuth_deg, elevation_deg)) = self.heard(path.arrival);
        EdgeArrival {
            faces: path.faces.map(|face| room.surfaces[face].name.clone()),
            bends: path.bends,
            points_m: path.points.map(|point| point.to_array()),
            places: path.points.map(|point| on_face(room, path.faces, point)),
            delay_ms: (path.length - direct) / room.medium.speed * 1000.0,
            level_db,
            level_by_octave_db: energy.map(|energy| decibels(energy, 1.0)),
            azimuth_deg,
            elevation_deg,
            holds_above_hz: FIRST_ORDER_HOLDS * room.medium.speed / (TAU * half),
            made_of: self.made_of(path, arrival, energy),
        }
    }

    /// What makes the mean energy by octave, re direct, of what is bent.
    fn made_of(&self, path: &EdgePath, arrival: &Arrival<'_>, energy: Bands<f64>) -> BendMadeOf {
        let room = self.room();
        let direct = self.straight().length();
        let [first, last] = path.points;
        let source = room.sources[self.ear.source].position;
        let legs = [first - source, last - first, self.ear.position - last];
        let hard: Vec<[f64; 2]> =
            self.frequencies.iter().map(|&frequency| arrival.hard(frequency, room.medium.speed).unwrap_or_default()).collect();
        let as_hard = self.octaves(|step| hard[step][0] / self.direct[step].powi(2)).map(|energy| decibels(energy, 1.0));
        let bend_db = self.octaves(|step| hard[step][1]).map(|bent| decibels(bent * path.length * path.length, 1.0));
        let (pattern_db, _) = self.heard(path.arrival);
        let spreading_db = 20.0 * (direct / path.length).log10();
        let air_db = self.air_db(path.length - direct);
        let straight = self.straight().try_normalize().unwrap_or(room.sources[self.ear.source].aim);
        let source_db = self.sent(path.departure).zip(self.sent(straight), decibels);
        let alike = Bands::from_fn(|band| spreading_db + air_db[band] + source_db[band] + pattern_db + bend_db[band]);
        let turn = |one: DVec3, other: DVec3| one.angle_between(other).to_degrees();
        let turns_deg = match path.bends {
            1 => [turn(legs[0], legs[2]); 2],
            // At a corner both at once.
            _ if legs[1].length() < 1e-6 => [turn(legs[0], legs[2]); 2],
            _ => [turn(legs[0], legs[1]), turn(legs[1], legs[2])],
        };
        BendMadeOf {
            legs_m: legs.map(DVec3::length),
            direct_m: direct,
            turns_deg,
            spreading_db,
            air_db,
            source_db,
            pattern_db,
            bend_db,
            faces_db: energy.zip(as_hard, |energy, hard| decibels(energy, 1.0) - hard),
            mirrored_db: arrival
                .mirrored()
                .map_or([Bands::splat(0.0); 2], |faces| faces.map(|face| face.map(|share| decibels(share, 1.0)))),
            within_octave_db: as_hard.zip(alike, |hard, alike| hard - alike),
        }
    }
}

/// Half the lesser side of a surface, meters.
fn half_size(room: &Room, surface: usize) -> f64 {
    let (low, high) = room.surfaces[surface].outline.bounds();
    0.5 * (high - low).min_element()
}

/// A point of an edge on that of its two faces that it lies on; on the first where it lies on both.
fn on_face(room: &Room, faces: [usize; 2], point: DVec3) -> Place {
    let off = |face: usize| room.surfaces[face].chart.height(point).abs();
    let [first, second] = faces;
    place(room, if off(second) < off(first) - 1e-9 { second } else { first }, point)
}
