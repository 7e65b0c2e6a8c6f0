//! Modes of a room as it stands, and how loud each is at its receivers.
//!
//! *References.* As in `wave::ringing`.
//!
//! *Limits.* As there. The length of the room's edges, which counts for little, is taken as that of a prism over the outline.

use std::f64::consts::LN_10;

use glam::DVec3;

use super::{BassMode, decibels};
use crate::modes::mode_count;
use crate::progress::{Cancelled, Progress};
use crate::room::Room;
use crate::scene::Scene;
use crate::wave::dispersion::in_air;
use crate::wave::{Heard, Hearing, Resonance, Ringing, Sounding, resonances};

/// Modes are looked for from here on, Hz.
const FIRST_MODE: f64 = 18.0;

/// How a room rings whose sources were heard all over it.
pub(super) fn ringing(progress: &Progress, scene: &Scene, room: &Room, heard: &[Hearing], top: f64) -> Result<Ringing, Cancelled> {
    let shortest = heard.iter().filter_map(|heard| heard.places.first()).map(Vec::len).min().unwrap_or(0);
    let records: Vec<Vec<Vec<f32>>> =
        heard.iter().map(|heard| heard.places.iter().map(|place| place[heard.after.min(shortest)..shortest].to_vec()).collect()).collect();
    let rate = 1.0 / (heard[0].pulse.every() as f64 * heard[0].pulse.step);
    let perimeter: f64 = scene.outline.iter().zip(scene.outline.iter().cycle().skip(1)).map(|(a, b)| a.distance(*b)).sum();
    let edges = 2.0 * perimeter + scene.outline.len() as f64 * room.volume / scene.floor_plan().area();
    let count = |frequency: f64| mode_count(frequency, room.volume, room.shell_area(), edges, room.medium.speed);
    let density = |frequency: f64| count(frequency + 0.5) - count(frequency - 0.5);
    let step = heard[0].pulse.step;
    let mut ringing = resonances(progress, &Heard { records: &records, rate }, FIRST_MODE..top, &density)?;
    ringing.told_apart_to = in_air(ringing.told_apart_to, step).min(top);
    for found in &mut ringing.resonances {
        found.frequency = in_air(found.frequency, step);
    }
    Ok(ringing)
}

/// Its modes, as they are told.
pub(super) fn modes(room: &Room, sounding: &Sounding, ringing: &Ringing) -> Vec<BassMode> {
    let at_receivers = |shape: &[nalgebra::Complex<f64>]| -> Vec<f64> {
        let at = |position: DVec3| {
            let round = sounding.lattice.round(&sounding.grid, &sounding.stencil, position).unwrap_or_default();
            let sum: nalgebra::Complex<f64> = round.iter().map(|(place, weight)| shape[*place] * *weight).sum();
            decibels(sum.norm_sqr())
        };
        room.receivers.iter().map(|receiver| at(receiver.position)).collect()
    };
    let mode = |found: &Resonance| BassMode {
        frequency_hz: found.frequency,
        frequency_error_hz: found.frequency_error,
        frequency_span_hz: None,
        decay_span_s: None,
        decay_s: (found.decay > 0.0).then(|| 3.0 * LN_10 / found.decay),
        at_receivers_db: at_receivers(&found.shape),
    };
    ringing.resonances.iter().map(mode).collect()
}
