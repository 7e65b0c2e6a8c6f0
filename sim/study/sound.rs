//! What does a click of each source sound like at a seat? Impulse responses, of the same rays, images and waves that the findings are of.
//!
//! *References.* None of its own; see `response::impulse`.

use crate::findings::judge::Heard;
use crate::hanging::Hanging;
use crate::progress::{Cancelled, Progress};
use crate::response::{Response, impulse};
use crate::scene::Scene;
use crate::weigh::{Linings, RayCurve, Traced, weigh_rays};

pub use crate::response::impulse::{Impulse, Pickup, Point, Tails};

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
    impulses_of(progress, (&sounded.traced, low), &sounded.heard, (asked, &mut Tails::default()))
}

/// The same of a room that is traced and heard; `tails` keep what the next room can take over.
///
/// # Errors
/// [`Cancelled`].
pub fn impulses_of(
    progress: &Progress,
    (traced, low): (&Traced, Option<&LowEnd>),
    heard: &Heard,
    (asked, tails): (&SoundAsked<'_>, &mut Tails),
) -> Result<Vec<Impulse>, Cancelled> {
    let of = |source: usize| {
        let response = heard.response((source, asked.receiver));
        impulse_of(progress, (traced, heard.linings(), low), response, (source, asked, &mut *tails))
    };
    (0..traced.room.sources.len()).map(of).collect()
}

/// The same of a room that is traced, with what hangs flat in it and what waves bring in it then; nothing else is weighed.
///
/// # Errors
/// [`Cancelled`].
pub fn impulses_with(
    progress: &Progress,
    (traced, low): (&Traced, Option<&LowEnd>),
    hanging: &Hanging,
    (asked, tails): (&SoundAsked<'_>, &mut Tails),
) -> Result<Vec<Impulse>, Cancelled> {
    let linings = Linings::new(&traced.room, hanging);
    let receiver = asked.receiver;
    let of = |(source, mut curves): (usize, Vec<RayCurve>)| {
        let rays = Response::new(traced, &linings, curves.swap_remove(receiver), source, receiver);
        let response = match low {
            Some(low) => rays.with_low(low, (source, receiver)),
            None => rays,
        };
        impulse_of(progress, (traced, &linings, low), &response, (source, asked, &mut *tails))
    };
    weigh_rays(progress, traced, &linings)?.into_iter().enumerate().map(of).collect()
}

/// The impulse response of one source.
fn impulse_of(
    progress: &Progress,
    (traced, linings, low): (&Traced, &Linings, Option<&LowEnd>),
    response: &Response,
    (source, asked, tails): (usize, &SoundAsked<'_>, &mut Tails),
) -> Result<Impulse, Cancelled> {
    let SoundAsked { receiver, pickup, rate_hz } = *asked;
    let asked = impulse::Asked { source, receiver, pickup, rate_hz, seed: traced.settings.seed };
    impulse::impulse(progress, (traced, linings), response, low, (&asked, tails))
}
