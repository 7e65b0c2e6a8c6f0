//! Image and ray paths x what hangs on the surfaces -> energy over time and band, and how both depend on each patch of wall.
//!
//! Energies are relative to a source that sends 1 in all directions per unit of its on-axis level: the direct sound at distance r is
//! `D^2 / (4 pi r^2)` in 1/m2, D the directivity.

pub mod early;
mod linings;
pub mod sensitivity;
mod specular;
mod stochastic;

pub use linings::Linings;
pub use specular::{Footprint, SpecularPath, ZoneImages, zone_points};
pub use stochastic::{RayCurve, weigh_rays};

use crate::bands::{Band, Bands};
use crate::directivity::DirectivityTable;
use crate::room::Room;

/// Weight of each octave in the broadband energy 1-8 kHz of a source whose spectrum is flat over frequency: its bandwidth, as a share.
#[must_use]
pub fn flat_weights() -> Bands<f64> {
    let width = Bands::from_fn(|band: Band| if band.nominal() >= 1000 { band.upper() - band.lower() } else { 0.0 });
    width * (1.0 / width.sum())
}

/// One directivity table for each source of the room.
#[must_use]
pub fn directivity_tables(room: &Room) -> Vec<DirectivityTable> {
    room.sources.iter().map(|source| DirectivityTable::new(source.directivity, room.medium.speed)).collect()
}
