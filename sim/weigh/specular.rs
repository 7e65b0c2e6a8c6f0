//! Energies of the specular paths: every reflection multiplied by `(1 - s)(1 - alpha)` at its angle.
//!
//! What mirrors sound at a bounce is not a point but the first Fresnel zone round it: an ellipse of half width
//! `sqrt(lambda d1 d2 / (d1 + d2))` across the plane of incidence and `1 / cos` times that along it, d1 and d2 the ways before and
//! behind. The share of the ellipse that a finish fills is its share of the reflection. A panel half the zone wide is not a wall of
//! wool, and a mirror point beside a panel is not bare.
//!
//! *References.* H. Kuttruff, Room Acoustics, ch. 2 (reflection by finite surfaces); J. H. Rindel, Proc. Nordic Acoustical Meeting 1982
//! (attenuation of reflections by finite size; from memory).
//!
//! *Limits.* The zone counts evenly, without phase; energies of the finishes are mixed. Edges add nothing of their own.

use std::sync::LazyLock;

use glam::{DVec2, DVec3};
use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::directivity::DirectivityTable;
use crate::images::{self, ImagePath};
use crate::progress::{Cancelled, Progress};
use crate::room::{Receiver, Room};

use super::Linings;
use super::early::Change;

/// Samples of a footprint.
pub(super) const FOOTPRINT_SAMPLES: usize = 256;

/// Samples of the finest footprint.
const FINEST_SAMPLES: usize = 8192;

/// Directions of a golden-angle spiral, whose points at radius `sqrt((i + 1/2) / n)` fill the unit disc evenly.
static SPIRAL: LazyLock<Vec<DVec2>> =
    LazyLock::new(|| (0..FINEST_SAMPLES).map(|index| DVec2::from_angle(index as f64 * 2.399_963_229_728_653)).collect());

/// Grazing incidence stretches the zone no further than this.
const STRETCH_MAX: f64 = 4.0;

/// The first Fresnel zone round one bounce.
#[derive(Clone, Copy, Debug)]
pub struct Footprint {
    /// Surface it lies on.
    pub surface: usize,
    /// Mirror point on the surface's chart, meters.
    pub center: DVec2,
    /// Cosine of the angle of incidence.
    pub cosine: f64,
    /// Unit vector along the plane of incidence, on the chart.
    along: DVec2,
    /// `d1 d2 / (d1 + d2)` in meters.
    reduced: f64,
    stretch: f64,
    speed: f64,
}

impl Footprint {
    fn new(room: &Room, path: &ImagePath, source: DVec3, bounce: usize) -> Self {
        let here = path.bounces[bounce];
        let mut from = source;
        let mut before = 0.0;
        for earlier in &path.bounces[..=bounce] {
            before += from.distance(earlier.point);
            from = earlier.point;
        }
        let previous = if bounce == 0 { source } else { path.bounces[bounce - 1].point };
        let chart = &room.surfaces[here.surface].chart;
        let incoming = here.point - previous;
        let along = DVec2::new(incoming.dot(chart.right), incoming.dot(chart.up)).try_normalize().unwrap_or(DVec2::X);
        let behind = (path.length - before).max(0.0);
        Self {
            surface: here.surface,
            center: chart.position(here.point),
            cosine: here.cosine,
            along,
            reduced: before * behind / path.length,
            stretch: (1.0 / here.cosine.max(1e-6)).min(STRETCH_MAX),
            speed: room.medium.speed,
        }
    }

    /// Half width of the zone across the plane of incidence in this band, meters.
    #[must_use]
    pub fn half_width(&self, band: Band) -> f64 {
        (self.speed / band.center() * self.reduced).sqrt()
    }

    /// How far it reaches in this band, meters.
    #[must_use]
    pub fn reach(&self, band: Band) -> f64 {
        self.half_width(band) * self.stretch
    }

    /// Whether a change within these bounds on a surface could touch it in this band.
    #[must_use]
    pub fn meets(&self, band: Band, surface: usize, low: DVec2, high: DVec2) -> bool {
        if self.surface != surface {
            return false;
        }
        let reach = self.reach(band);
        (self.center + reach).cmpgt(low).all() && (self.center - reach).cmplt(high).all()
    }

    /// Positions that fill the zone evenly.
    pub fn samples(&self, band: Band) -> impl Iterator<Item = DVec2> + '_ {
        self.fine_samples(band, FOOTPRINT_SAMPLES)
    }

    /// So many samples that each patch of this side in the zone gets several.
    #[must_use]
    pub fn samples_for(&self, band: Band, side: f64) -> usize {
        let patches = std::f64::consts::PI * self.half_width(band) * self.reach(band) / (side * side);
        ((4.0 * patches) as usize).clamp(FOOTPRINT_SAMPLES, FINEST_SAMPLES)
    }

    /// `count` positions that fill the zone evenly, at most 8192.
    pub fn fine_samples(&self, band: Band, count: usize) -> impl Iterator<Item = DVec2> + '_ {
        let width = self.half_width(band);
        let across = self.along.perp();
        SPIRAL.iter().take(count).enumerate().map(move |(index, direction)| {
            let radius = width * ((index as f64 + 0.5) / count as f64).sqrt();
            self.center + radius * (self.stretch * direction.x * self.along + direction.y * across)
        })
    }

    /// Mirrored share of the energy in this band: the mean over the zone.
    #[must_use]
    pub fn specular(&self, room: &Room, linings: &Linings, band: Band) -> f64 {
        if let Some(finish) = linings.only_finish(self.surface, self.center, self.reach(band)) {
            return linings.finish(finish).specular_in(self.cosine, band);
        }
        let mut shares: Vec<(usize, u32)> = Vec::new();
        for position in self.samples(band) {
            let Some(finish) = linings.finish_seen(room, self.surface, position) else { continue };
            match shares.iter_mut().find(|share| share.0 == finish) {
                Some(share) => share.1 += 1,
                None => shares.push((finish, 1)),
            }
        }
        let count: u32 = shares.iter().map(|share| share.1).sum();
        if count == 0 {
            return linings.finish(linings.finish_at(self.surface, self.center)).specular_in(self.cosine, band);
        }
        shares.iter().map(|&(finish, n)| f64::from(n) * linings.finish(finish).specular_in(self.cosine, band)).sum::<f64>()
            / f64::from(count)
    }

    /// The mirrored share in this band after a change, its share before given: only samples in changed places are looked up.
    #[must_use]
    pub fn specular_after(&self, room: &Room, change: &Change<'_>, band: Band, share: f64) -> f64 {
        let (mut seen, mut difference) = (0_u32, 0.0);
        for position in self.samples(band) {
            if !change.after.is_on(room, self.surface, position) {
                continue;
            }
            seen += 1;
            let changed = |&(surface, low, high): &(usize, DVec2, DVec2)| {
                surface == self.surface && position.cmpge(low).all() && position.cmple(high).all()
            };
            if change.places.iter().any(changed) {
                let mirrored = |linings: &Linings| linings.finish(linings.finish_at(self.surface, position)).specular_in(self.cosine, band);
                difference += mirrored(change.after) - mirrored(change.before);
            }
        }
        share + difference / f64::from(seen.max(1))
    }
}

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
                            paths.into_iter().map(|path| specular_path(room, source, receiver, &directivity[source], path)).collect()
                        })
                        .collect(),
                });
                Ok(zones.collect())
            })
            .collect()
    }
}

fn specular_path(room: &Room, source: usize, receiver: &Receiver, directivity: &DirectivityTable, path: ImagePath) -> SpecularPath {
    let emitter = &room.sources[source];
    let pattern = receiver.pattern.energy(path.arrival.dot(receiver.facing));
    let spread = pattern / (4.0 * std::f64::consts::PI * path.length * path.length);
    let sent = directivity.energy(path.departure.dot(emitter.aim));
    let mirror_energy = Bands::from_fn(|band| sent[band] * spread * (-room.medium.attenuation[band] * path.length).exp());
    let footprints = (0..path.bounces.len()).map(|bounce| Footprint::new(room, &path, emitter.position, bounce)).collect();
    SpecularPath { path, footprints, mirror_energy }
}
