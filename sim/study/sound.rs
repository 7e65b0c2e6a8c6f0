//! What does a click of each source sound like at a seat? Impulse responses, of the same rays, images and waves that the findings are of.
//!
//! *References.* None of its own; see `response::impulse`.

use crate::findings::judge::Heard;
use crate::progress::{Cancelled, Progress};
use crate::response::impulse;
use crate::scene::Scene;
use crate::weigh::Traced;

pub use crate::response::impulse::{Impulse, Pickup, Point};

use super::{LowEnd, Sounded};

/// Which impulse responses are asked for: those of every source.
#[derive(Clone, Copy)]
pub struct SoundAsked<'a> {
    /// The receiver, counted as the scene has them: seats, then microphones.
    pub receiver: usize,
    /// What hears there; made for the rate.
    pub pickup: &'a dyn Pickup,
    /// Samples a second.
    pub rate_hz: f64,
}

/// The impulse response of every source of a scene at a receiver, with what waves brought below the crossover if they were run in it as it stands.
///
/// # Errors
/// [`Cancelled`].
pub fn impulses(progress: &Progress, scene: &Scene, low: Option<&LowEnd>, asked: &SoundAsked<'_>) -> Result<Vec<Impulse>, Cancelled> {
    let sounded = Sounded::new(progress, scene, low)?;
    impulses_of(progress, (&sounded.traced, low), &sounded.heard, asked)
}

/// The same of a room that is traced and heard.
///
/// # Errors
/// [`Cancelled`].
pub fn impulses_of(
    progress: &Progress,
    (traced, low): (&Traced, Option<&LowEnd>),
    heard: &Heard,
    asked: &SoundAsked<'_>,
) -> Result<Vec<Impulse>, Cancelled> {
    let SoundAsked { receiver, pickup, rate_hz } = *asked;
    let of = |source: usize| {
        let asked = impulse::Asked { source, receiver, pickup, rate_hz, seed: traced.settings.seed };
        impulse::impulse(progress, (traced, heard.linings()), heard.response((source, receiver)), low, &asked)
    };
    (0..traced.room.sources.len()).map(of).collect()
}
