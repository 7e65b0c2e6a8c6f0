//! Image and ray paths x what hangs on the surfaces -> energy over time and band, and how both depend on each patch of wall.
//!
//! Energies are relative to a source that sends 1 in all directions per unit of its on-axis level: the direct sound at distance r is
//! `D^2 / (4 pi r^2)` in 1/m2, D the directivity.

pub mod ear;
pub mod early;
mod footprint;
pub mod landing;
mod linings;
mod patchwork;
pub mod sensitivity;
mod specular;
mod stochastic;
pub mod variants;

pub use footprint::Footprint;
pub use linings::Linings;
pub use specular::{SpecularPath, ZoneImages, zone_points};
pub use stochastic::{RayCurve, RayStarts, weigh_rays};

use glam::DVec3;

use crate::bands::{Band, Bands};
use crate::directivity::DirectivityTable;
use crate::images;
use crate::progress::{Cancelled, Progress};
use crate::rays::{self, Paths};
use crate::room::Room;
use crate::settings::Settings;

/// Weight of each octave in the broadband energy 1-8 kHz of a source whose spectrum is flat over frequency: its bandwidth, as a share.
#[must_use]
pub fn flat_weights() -> Bands<f64> {
    let width = Bands::from_fn(|band: Band| if band.nominal() >= 1000 { band.upper() - band.lower() } else { 0.0 });
    width * (1.0 / width.sum())
}

/// Octaves that early sound is judged in: those that count in [`flat_weights`].
pub fn early_bands() -> impl Iterator<Item = Band> + Clone {
    let weights = flat_weights();
    Band::ALL.into_iter().filter(move |&band| weights[band] > 0.0)
}

/// A room traced once: everything that does not depend on what its surfaces absorb.
#[derive(Clone, Debug)]
pub struct Traced {
    /// The room.
    pub room: Room,
    /// What it was traced with: as asked, but for the order of the images, which is held where surfaces are too many for it, and for the rays, which
    /// are as many as there is room for.
    pub settings: Settings,
    /// How each source sends.
    pub directivity: Vec<DirectivityTable>,
    /// Class (a): `images[source][receiver]`.
    pub images: Vec<Vec<ZoneImages>>,
    /// Classes (b) and (c).
    pub paths: Paths,
    /// What each ray starts with: `starts[source][group][batch][ray]`.
    starts: Vec<Vec<Vec<RayStarts>>>,
}

impl Traced {
    /// Traces images and rays, the rays until `end_s` seconds of travel.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn new(progress: &Progress, room: Room, mut settings: Settings, end_s: f64) -> Result<Self, Cancelled> {
        let directivity: Vec<DirectivityTable> =
            room.sources.iter().map(|source| DirectivityTable::new(source.directivity, room.medium.speed)).collect();
        let mirrors = images::Prepared::new(&room);
        settings.image_order = images::affordable_order(progress, &room, &mirrors, settings.image_order)?;
        let images = ZoneImages::among(progress, &room, &mirrors, settings.image_order, &directivity)?;
        let paths = rays::trace(progress, &room, &settings, end_s)?;
        settings.rays = paths.rays;
        let starts = stochastic::starts(&directivity, &paths);
        Ok(Self { room, settings, directivity, images, paths, starts })
    }

    /// Traces more rays, as many rounds again: every figure rests on all of them then.
    ///
    /// # Errors
    /// [`Cancelled`]; some of the rounds may be in by then.
    pub fn refine(&mut self, progress: &Progress, rounds: u32) -> Result<(), Cancelled> {
        if rounds == 0 {
            return Ok(());
        }
        let done = rays::trace_more(progress, &self.room, &self.settings, &mut self.paths, rounds);
        self.starts = stochastic::starts(&self.directivity, &self.paths);
        done
    }

    /// Rays from each source, all rounds together.
    #[must_use]
    pub fn rays(&self) -> u32 {
        self.paths.rays.saturating_mul(self.paths.rounds)
    }

    /// How many rounds double those that there are: none where the settings or the store leave no room.
    #[must_use]
    pub fn rounds_left(&self) -> u32 {
        let Paths { rounds, reckoned_bytes, .. } = self.paths;
        let room_for = (rays::STORE_MOST / reckoned_bytes.max(1)).min(u64::from(u32::MAX)) as u32;
        rounds.min(self.settings.rounds.min(room_for).saturating_sub(rounds))
    }

    /// Direct distance from a source to a receiver, meters.
    #[must_use]
    pub fn distance(&self, source: usize, receiver: usize) -> f64 {
        self.room.sources[source].position.distance(self.room.receivers[receiver].position)
    }

    /// Free-field energy of the direct sound of a source at a point, by band, in 1/m2, whether or not anything stands between and
    /// whatever a microphone there makes of it: what levels are relative to.
    #[must_use]
    pub fn direct_energy(&self, source: usize, point: DVec3) -> Bands<f64> {
        let emitter = &self.room.sources[source];
        let way = point - emitter.position;
        let distance = way.length();
        let direction = way / distance;
        let spread = 1.0 / (4.0 * std::f64::consts::PI * distance * distance);
        let sent = self.directivity[source].energy(direction.dot(emitter.aim));
        Bands::from_fn(|band| sent[band] * spread * (-self.room.medium.attenuation[band] * distance).exp())
    }

    /// Share of the direct sound's energy that a receiver's pattern lets in; 1 at a seat.
    #[must_use]
    pub fn direct_share(&self, source: usize, receiver: usize) -> f64 {
        let receiver = &self.room.receivers[receiver];
        let towards = (self.room.sources[source].position - receiver.position).try_normalize().unwrap_or(receiver.facing);
        receiver.pattern.energy(towards.dot(receiver.facing))
    }
}
