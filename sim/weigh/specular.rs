//! Energies of the specular paths: every reflection multiplied by `(1 - s)(1 - alpha)` at its angle, averaged over its footprint.
//!
//! The early criterion hears a listening zone at its center and six points on its radius. What joins the rays over time is heard as these
//! are, all over the zone: the mean over points that fill it, each way of reflection at the mean of its times, so that a mirror that an
//! edge hides from a part of the zone counts by the part that sees it, whichever class has it.

use std::collections::BTreeMap;

use glam::DVec3;
use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::directivity::DirectivityTable;
use crate::images::{self, ImagePath};
use crate::progress::{Cancelled, Progress};
use crate::rays::ball_points;
use crate::room::{Receiver, Room};

use super::early::{Change, is_judged};
use super::footprint::Face;
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

    /// The same after a change, `before` being what it was: anew in the octaves in which the change touches a bounce.
    #[must_use]
    pub fn energy_after(&self, room: &Room, change: &Change<'_>, before: Bands<f64>) -> Bands<f64> {
        let is_met = |band: Band| self.footprints.iter().any(|footprint| change.meets(room, footprint, band));
        Bands::from_fn(|band| if is_met(band) { self.energy_in(room, change.after, band) } else { before[band] })
    }

    /// The same in the octaves of the early criterion, 0 in the others.
    #[must_use]
    pub fn judged_energy(&self, room: &Room, linings: &Linings) -> Bands<f64> {
        Bands::from_fn(|band| if is_judged(band) { self.energy_in(room, linings, band) } else { 0.0 })
    }

    fn energy_in(&self, room: &Room, linings: &Linings, band: Band) -> f64 {
        self.footprints.iter().fold(self.mirror_energy[band], |energy, footprint| energy * footprint.specular(room, linings, band))
    }

    /// The same as [`Self::energy`] in other states of the room, which differ in nothing but what their finishes are ([`Linings::refinished`]); 0 in octaves that are not asked for.
    #[must_use]
    pub fn energies(&self, room: &Room, own: &Linings, others: &[Linings], is_asked: impl Fn(Band) -> bool) -> Vec<Bands<f64>> {
        let asked = Bands::from_fn(&is_asked);
        let mut energies = vec![self.mirror_energy.zip(asked, |energy, asked| if asked { energy } else { 0.0 }); others.len()];
        for footprint in &self.footprints {
            for band in Band::ALL.into_iter().filter(|&band| asked[band]) {
                let faces = footprint.faces(room, own, band);
                for (energy, other) in energies.iter_mut().zip(others) {
                    let mirrored = |face: &Face| face.share * other.finish(face.finish).specular_in(footprint.cosine, band);
                    energy[band] *= faces.iter().map(mirrored).sum::<f64>();
                }
            }
        }
        energies
    }
}

/// Specular paths from one source to the head and six points on the zone's radius (or to a microphone alone).
#[derive(Clone, Debug)]
pub struct ZoneImages {
    /// One list a point, the center first; each sorted by length, the direct sound included where it is visible.
    pub points: Vec<Vec<SpecularPath>>,
    /// Straight distance from the source to each point, meters, whether or not anything stands between.
    pub direct: Vec<f64>,
    /// What joins the rays: the direct sound at the center, and every way of reflection that any part of the zone hears, its energy the mean
    /// over the zone; sorted by length.
    pub heard: Vec<SpecularPath>,
}

/// Points that fill a listening zone where images join the rays: the energy of the reflections is known to about 0.5 %.
const ZONE_FILL: u32 = 64;

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

    /// Energy of the reflections within `window` meters of way after the direct sound in other states of the room ([`SpecularPath::energies`]), mean over the points, in the octaves
    /// of the early criterion, 1/m2.
    #[must_use]
    pub fn early_energies(&self, window: f64, room: &Room, own: &Linings, others: &[Linings]) -> Vec<Bands<f64>> {
        let mut sums = vec![Bands::splat(0.0); others.len()];
        for path in self.early(window).flatten() {
            for (sum, energy) in sums.iter_mut().zip(path.energies(room, own, others, is_judged)) {
                *sum = *sum + energy;
            }
        }
        let share = 1.0 / self.points.len().max(1) as f64;
        sums.into_iter().map(|sum| sum * share).collect()
    }

    /// The paths no longer than `most` meters from a source to one point that belongs to a receiver.
    pub(super) fn at_point(
        room: &Room,
        source: usize,
        receiver: usize,
        directivity: &DirectivityTable,
        paths: Vec<ImagePath>,
        most: f64,
    ) -> Vec<SpecularPath> {
        let maker = Maker { room, source, receiver: &room.receivers[receiver], directivity };
        paths.into_iter().filter(|path| path.length <= most).map(|path| maker.path(path, 0.0)).collect()
    }

    /// The specular paths of every source at every receiver: `[source][receiver]`.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn all(progress: &Progress, room: &Room, order: u8, directivity: &[DirectivityTable]) -> Result<Vec<Vec<Self>>, Cancelled> {
        Self::among(progress, room, &images::Prepared::new(room), order, directivity)
    }

    /// The same among surfaces that are prepared.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn among(
        progress: &Progress,
        room: &Room,
        mirrors: &images::Prepared,
        order: u8,
        directivity: &[DirectivityTable],
    ) -> Result<Vec<Vec<Self>>, Cancelled> {
        progress.begin("mirroring sources", (room.sources.len() * room.surfaces.len()) as u64);
        (0..room.sources.len())
            .into_par_iter()
            .map(|source| {
                let points: Vec<Vec<DVec3>> = room.receivers.iter().map(|receiver| zone_points(room, receiver)).collect();
                let fill: Vec<Vec<DVec3>> = room.receivers.iter().map(|receiver| zone_fill(room, receiver)).collect();
                let flat: Vec<DVec3> = points.iter().zip(&fill).flat_map(|(points, fill)| points.iter().chain(fill)).copied().collect();
                let mut paths = images::paths_among(progress, mirrors, room.sources[source].position, &flat, order)?.into_iter();
                let zones = room.receivers.iter().zip(points.iter().zip(&fill)).map(|(receiver, (points, fill))| {
                    let maker = Maker { room, source, receiver, directivity: &directivity[source] };
                    let ball = receiver.zone_radius.unwrap_or(0.0) / (points.len() as f64).cbrt();
                    let of_point = |paths: Vec<ImagePath>| paths.into_iter().map(|path| maker.path(path, ball)).collect();
                    let of_points: Vec<Vec<SpecularPath>> = paths.by_ref().take(points.len()).map(of_point).collect();
                    let filling: Vec<Vec<ImagePath>> = paths.by_ref().take(fill.len()).collect();
                    let heard = if fill.is_empty() { of_points[0].clone() } else { maker.heard(&of_points[0], fill, filling, ball) };
                    let direct = points.iter().map(|point| point.distance(room.sources[source].position)).collect();
                    Self { points: of_points, direct, heard }
                });
                Ok(zones.collect())
            })
            .collect()
    }
}

/// Points that fill a listening zone evenly, as far as it is air; none for a microphone.
fn zone_fill(room: &Room, receiver: &Receiver) -> Vec<DVec3> {
    let Some(radius) = receiver.zone_radius else { return Vec::new() };
    ball_points(receiver.position, radius, ZONE_FILL).filter(|&point| room.contains(point)).collect()
}

/// Makes the specular paths of one source at one receiver.
struct Maker<'a> {
    room: &'a Room,
    source: usize,
    receiver: &'a Receiver,
    directivity: &'a DirectivityTable,
}

/// One way of reflection, as the points of a zone hear it.
struct Mean {
    first: ImagePath,
    energy: Bands<f64>,
    length: f64,
    seen_by: u32,
}

impl Maker<'_> {
    fn path(&self, path: ImagePath, ball: f64) -> SpecularPath {
        let position = self.room.sources[self.source].position;
        let footprints = (0..path.bounces.len()).map(|bounce| Footprint::new(self.room, &path, position, bounce, ball)).collect();
        SpecularPath { mirror_energy: self.mirror_energy(&path), footprints, path }
    }

    fn mirror_energy(&self, path: &ImagePath) -> Bands<f64> {
        let pattern = self.receiver.pattern.energy(path.arrival.dot(self.receiver.facing));
        let spread = pattern / (4.0 * std::f64::consts::PI * path.length * path.length);
        let sent = self.directivity.energy(path.departure.dot(self.room.sources[self.source].aim));
        Bands::from_fn(|band| sent[band] * spread * (-self.room.medium.attenuation[band] * path.length).exp())
    }

    /// The direct sound of the center, and the reflections as the mean over the points that fill the zone. A reflection is drawn as the
    /// center has it, or where that does not hear it as the first point does.
    fn heard(&self, center: &[SpecularPath], fill: &[DVec3], filling: Vec<Vec<ImagePath>>, ball: f64) -> Vec<SpecularPath> {
        let mut means: BTreeMap<Vec<usize>, Mean> = BTreeMap::new();
        let way = |path: &ImagePath| path.bounces.iter().map(|bounce| bounce.surface).collect::<Vec<usize>>();
        let count = fill.len() as f64;
        for (&point, paths) in fill.iter().zip(filling) {
            for path in paths.into_iter().filter(|path| !path.bounces.is_empty()) {
                // A ray that crosses the zone is heard in the middle of its chord.
                let length = path.length - (self.receiver.position - point).dot(path.arrival);
                let energy = self.mirror_energy(&path) * (1.0 / count);
                let mean =
                    means.entry(way(&path)).or_insert_with(|| Mean { first: path, energy: Bands::splat(0.0), length: 0.0, seen_by: 0 });
                mean.energy = mean.energy + energy;
                mean.length += length;
                mean.seen_by += 1;
            }
        }
        let mut heard: Vec<SpecularPath> = center.iter().filter(|path| path.path.bounces.is_empty()).cloned().collect();
        for (way_of, mean) in means {
            let own = center.iter().find(|path| way(&path.path) == way_of).cloned();
            let mut path = own.unwrap_or_else(|| self.path(mean.first, ball));
            path.mirror_energy = mean.energy;
            path.path.length = mean.length / f64::from(mean.seen_by);
            heard.push(path);
        }
        heard.sort_by(|a, b| a.path.length.total_cmp(&b.path.length));
        heard
    }
}
