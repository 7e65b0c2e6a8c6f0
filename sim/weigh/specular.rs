//! Energies of the specular paths: every reflection multiplied by `(1 - s)(1 - alpha)` at its angle, averaged over its footprint.

use glam::DVec3;
use rayon::prelude::*;

use crate::bands::Bands;
use crate::directivity::DirectivityTable;
use crate::images::{self, ImagePath};
use crate::progress::{Cancelled, Progress};
use crate::room::{Receiver, Room};

use super::{Footprint, Linings};

/// One specular path with all that its weight needs.
#[derive(Clone, Debug)]
pub struct SpecularPath {
    /// The path itself.
    pub path: ImagePath,
    /// One for each bounce.
    pub footprints: Vec<Footprint>,
    /// Directivity, spreading, air and pattern, by band, in 1/m2: the energy with perfect mirrors.
    pub mirror_energy: Bands<f64>,
}

impl SpecularPath {
    /// Mirrored share at each bounce, by band.
    #[must_use]
    pub fn shares(&self, room: &Room, linings: &Linings) -> Vec<Bands<f64>> {
        self.footprints.iter().map(|footprint| Bands::from_fn(|band| footprint.specular(room, linings, band))).collect()
    }

    /// Energy at the receiver by band, in 1/m2.
    #[must_use]
    pub fn energy(&self, room: &Room, linings: &Linings) -> Bands<f64> {
        self.shares(room, linings).into_iter().fold(self.mirror_energy, |energy, share| energy * share)
    }
}

/// Specular paths from one source to the head and six points on the zone's radius (or to a microphone alone).
#[derive(Clone, Debug)]
pub struct ZoneImages {
    /// One list a point, the center first; each sorted by length, the direct sound included where it is visible.
    pub points: Vec<Vec<SpecularPath>>,
    /// Straight distance from the source to each point, meters, whether or not anything stands between.
    pub direct: Vec<f64>,
}

/// Center of the zone and six points on its radius along the axes, those inside the room; a microphone is its own only point.
#[must_use]
pub fn zone_points(room: &Room, receiver: &Receiver) -> Vec<DVec3> {
    let mut points = vec![receiver.position];
    if let Some(radius) = receiver.zone_radius {
        for axis in [DVec3::X, DVec3::Y, DVec3::Z] {
            points.extend([radius, -radius].map(|step| receiver.position + step * axis).into_iter().filter(|&point| room.contains(point)));
        }
    }
    points
}

impl ZoneImages {
    /// The reflections that reach each point within `window` meters of way after its direct sound.
    pub fn early(&self, window: f64) -> impl Iterator<Item = impl Iterator<Item = &SpecularPath>> {
        self.points.iter().zip(&self.direct).map(move |(paths, direct)| {
            paths.iter().filter(move |path| !path.path.bounces.is_empty() && path.path.length <= direct + window)
        })
    }

    /// The specular paths of every source at every receiver: `[source][receiver]`.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn all(progress: &Progress, room: &Room, order: u8, directivity: &[DirectivityTable]) -> Result<Vec<Vec<Self>>, Cancelled> {
        progress.begin("mirroring sources", room.sources.len() as u64);
        (0..room.sources.len())
            .into_par_iter()
            .map(|source| {
                let points: Vec<Vec<DVec3>> = room.receivers.iter().map(|receiver| zone_points(room, receiver)).collect();
                let flat: Vec<DVec3> = points.iter().flatten().copied().collect();
                let mut paths = images::paths(progress, room, room.sources[source].position, &flat, order)?.into_iter();
                let zones = room.receivers.iter().zip(&points).map(|(receiver, points)| Self {
                    direct: points.iter().map(|point| point.distance(room.sources[source].position)).collect(),
                    points: paths
                        .by_ref()
                        .take(points.len())
                        .map(|paths| {
                            let ball = receiver.zone_radius.unwrap_or(0.0) / (points.len() as f64).cbrt();
                            paths.into_iter().map(|path| specular_path(room, source, receiver, &directivity[source], path, ball)).collect()
                        })
                        .collect(),
                });
                Ok(zones.collect())
            })
            .collect()
    }
}

fn specular_path(
    room: &Room,
    source: usize,
    receiver: &Receiver,
    directivity: &DirectivityTable,
    path: ImagePath,
    ball: f64,
) -> SpecularPath {
    let emitter = &room.sources[source];
    let pattern = receiver.pattern.energy(path.arrival.dot(receiver.facing));
    let spread = pattern / (4.0 * std::f64::consts::PI * path.length * path.length);
    let sent = directivity.energy(path.departure.dot(emitter.aim));
    let mirror_energy = Bands::from_fn(|band| sent[band] * spread * (-room.medium.attenuation[band] * path.length).exp());
    let footprints = (0..path.bounces.len()).map(|bounce| Footprint::new(room, &path, emitter.position, bounce, ball)).collect();
    SpecularPath { path, footprints, mirror_energy }
}
