//! Dips of a level, and the wall whose bounce makes them.
//!
//! A source and its mirror image in a wall cancel where the image's way is longer by an odd number of half waves.
//!
//! *References.* Interference of a source with its image: text books (from memory).
//!
//! *Limits.* A dip that no single image explains has no name; one image near it may be a chance.

use super::{Dip, decibels};
use crate::room::Room;

/// A dip is so deep at the least, dB.
pub const DEEP_DB: f64 = 6.0;
/// A dip lies this near to where an image cancels, re its frequency.
const MATCHED: f64 = 0.06;
/// Minima nearer than this, re their frequency, are one dip.
const ONE_DIP: f64 = 0.03;

/// Dips of a level, the deepest first.
pub(super) fn dips(room: &Room, (together, receiver): (&[usize], usize), frequencies: &[f64], level_db: &[f64]) -> Vec<Dip> {
    let energies: Vec<f64> = level_db.iter().map(|level| 10.0_f64.powf(level / 10.0)).collect();
    let around = |frequency: f64| {
        let half = 2.0_f64.powf(1.0 / 3.0);
        let near = frequencies
            .iter()
            .zip(&energies)
            .filter(|(other, _)| (frequency / half..=frequency * half).contains(*other))
            .map(|(_, energy)| *energy);
        let (sum, count) = near.fold((0.0, 0.0), |(sum, count), energy| (sum + energy, count + 1.0));
        decibels(sum / count)
    };
    let mut found: Vec<Dip> = (1..level_db.len() - 1)
        .filter(|at| level_db[*at] < level_db[at - 1] && level_db[*at] <= level_db[at + 1])
        .map(|at| {
            let depth_db = around(frequencies[at]) - level_db[at];
            Dip { frequency_hz: frequencies[at], level_db: level_db[at], depth_db, surface: None }
        })
        .filter(|dip| dip.depth_db >= DEEP_DB)
        .collect();
    found.sort_by(|a, b| b.depth_db.total_cmp(&a.depth_db));
    // Two minima side by side are one dip.
    let mut kept: Vec<Dip> = Vec::new();
    for dip in found {
        if kept.iter().all(|other| (dip.frequency_hz / other.frequency_hz - 1.0).abs() > ONE_DIP) {
            kept.push(dip);
        }
    }
    let mut found = kept;
    if let [source] = together {
        for dip in &mut found {
            dip.surface = cancelling(room, (*source, receiver), dip.frequency_hz);
        }
    }
    found
}

/// The surface of the shell whose image comes later by an odd number of half waves, the nearest to it.
fn cancelling(room: &Room, (source, receiver): (usize, usize), frequency: f64) -> Option<String> {
    let (from, to) = (room.sources[source].position, room.receivers[receiver].position);
    let direct = from.distance(to);
    let off = |surface: &crate::room::Surface| {
        let image = from - 2.0 * surface.chart.height(from) * surface.chart.normal;
        // Where the way meets the plane of the surface.
        let share = surface.chart.height(from) / (surface.chart.height(from) + surface.chart.height(to));
        let meets = surface.outline.contains(surface.chart.position(image.lerp(to, share)));
        let half_waves = (image.distance(to) - direct) * frequency / (0.5 * room.medium.speed);
        // The first and the second time that it cancels: beyond that others have come.
        let odd = if half_waves < 2.0 { 1.0 } else { 3.0 };
        meets.then_some((half_waves / odd - 1.0).abs())
    };
    let shell = room.surfaces.iter().filter(|surface| surface.role.is_shell());
    let near = shell.filter_map(|surface| off(surface).map(|off| (off, surface))).filter(|(off, _)| *off < MATCHED);
    near.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, surface)| surface.name.clone())
}
