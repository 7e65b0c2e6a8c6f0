//! Levels, spreads and decays at a receiver.
//!
//! *References.* IEC 61260-1:2014 (from memory). Bandwidth times decay time, 16 for filters that run forward and 4 for those that run backward: ISO 3382-2 (from memory); ours ring to both sides, and 8 is
//! our own choice between.
//!
//! *Limits.* A level is that of the energy over the frequencies of the curves; decays of several modes in a band are those of all of them together.

use std::f64::consts::TAU;

use glam::DVec3;
use num_complex::Complex64;

use super::dips::dips;
use super::over_time::over_time;
use super::{BassResponse, LOWEST, Third, decibels};
use crate::metrics::decay::{DecayCurve, Tail};
use crate::room::Room;
use crate::scene::SourceKind;
use crate::wave::{Hearing, Record};

/// Bandwidth times decay time from which on a decay in a band is the room's and not the filter's.
pub const SLOWER: f64 = 8.0;
/// What of a band's record is its own: the last fifth fades out, and what a filter without delay rings before time zero comes round to the end.
pub(super) const OWN: f64 = 0.6;

/// Transfer functions from a source to the zone of a receiver.
struct Way {
    /// Free field at the middle.
    distance: f64,
    /// Point by point, frequency by frequency, re the free field at 1 m.
    transfers: Vec<Vec<Complex64>>,
    /// What the middle heard.
    record: Record,
}

/// From each source to each receiver, and from all loudspeakers together; `is_told`: with how each dies away.
pub(super) fn responses(room: &Room, zones: &[Vec<DVec3>], heard: &[Hearing], frequencies: &[f64], is_told: bool) -> Vec<BassResponse> {
    let mut all = Vec::new();
    let mut first = 0;
    for (receiver, zone) in zones.iter().enumerate() {
        let ways: Vec<Way> = room
            .sources
            .iter()
            .zip(heard)
            .map(|(source, heard)| Way {
                distance: source.position.distance(zone[0]),
                transfers: heard.ears[first..first + zone.len()]
                    .iter()
                    .map(|record| frequencies.iter().map(|frequency| record.transfer(&heard.pulse, *frequency)).collect())
                    .collect(),
                record: heard.ears[first].clone(),
            })
            .collect();
        for (index, heard) in heard.iter().enumerate() {
            all.push(response(room, (&[index], receiver), &ways, heard, frequencies, is_told));
        }
        let speakers: Vec<usize> = (0..room.sources.len()).filter(|index| room.sources[*index].kind == SourceKind::Loudspeaker).collect();
        if speakers.len() > 1 {
            all.push(response(room, (&speakers, receiver), &ways, &heard[speakers[0]], frequencies, is_told));
        }
        first += zone.len();
    }
    all
}

fn response(
    room: &Room,
    (together, receiver): (&[usize], usize),
    ways: &[Way],
    heard: &Hearing,
    frequencies: &[f64],
    is_told: bool,
) -> BassResponse {
    let speed = room.medium.speed;
    let free: Vec<f64> = frequencies
        .iter()
        .map(|frequency| {
            let sum: Complex64 =
                together.iter().map(|index| Complex64::cis(-TAU * frequency * ways[*index].distance / speed) / ways[*index].distance).sum();
            sum.norm_sqr()
        })
        .collect();
    let points = ways[together[0]].transfers.len();
    // Energy re free field at the middle, point by point.
    let energies: Vec<Vec<f64>> = (0..points)
        .map(|point| {
            let energy = |(index, free): (usize, &f64)| {
                together.iter().map(|way| ways[*way].transfers[point][index]).sum::<Complex64>().norm_sqr() / free
            };
            free.iter().enumerate().map(energy).collect()
        })
        .collect();
    let level_db: Vec<f64> = energies[0].iter().map(|energy| decibels(*energy)).collect();
    let summed = summed(together, ways);
    let third = |(band_hz, low, high): (f64, f64, f64)| {
        let mean = |energies: &[f64]| {
            let within: Vec<f64> = frequencies
                .iter()
                .zip(energies)
                .filter(|(frequency, _)| (low..high).contains(*frequency))
                .map(|(_, energy)| *energy)
                .collect();
            decibels(within.iter().sum::<f64>() / within.len() as f64)
        };
        let levels: Vec<f64> = energies.iter().map(|energies| mean(energies)).collect();
        let middle = levels.iter().sum::<f64>() / levels.len() as f64;
        let spread = || (levels.iter().map(|level| (level - middle).powi(2)).sum::<f64>() / (levels.len() - 1) as f64).sqrt();
        Third {
            band_hz,
            level_db: levels[0],
            level_span_db: None,
            decay_span_s: None,
            spread_db: (levels.len() > 1).then(spread),
            decay_s: decay(&summed, heard, low, high),
        }
    };
    let dips = dips(room, (together, receiver), frequencies, &level_db);
    let fallen_db = together.iter().map(|index| ways[*index].record.fallen_db()).fold(f64::INFINITY, f64::min);
    let top = frequencies[frequencies.len() - 1];
    BassResponse {
        over_time: is_told.then(|| over_time(&summed, &heard.pulse)),
        sources: together.iter().map(|index| room.sources[*index].name.clone()).collect(),
        receiver: room.receivers[receiver].name.clone(),
        thirds: thirds(top).map(third).collect(),
        dips,
        level_db,
        level_low_db: Vec::new(),
        level_high_db: Vec::new(),
        fallen_db,
    }
}

/// What the middle hears of several sources together, the longest record's length.
fn summed(together: &[usize], ways: &[Way]) -> Record {
    let records: Vec<&Record> = together.iter().map(|index| &ways[*index].record).collect();
    let longest = records.iter().map(|record| record.pressures.len()).max().unwrap_or(0);
    let at = |index: usize| records.iter().filter_map(|record| record.pressures.get(index)).sum();
    Record::of(records[0].interval, (0..longest).map(at).collect())
}

/// Nominal middle, Hz, of the third octave so many tenths of a decade over 1 Hz.
pub(super) fn nominal(tenths: i32) -> f64 {
    const NOMINAL: [f64; 10] = [1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0];
    NOMINAL[tenths.rem_euclid(10) as usize] * 10.0_f64.powi(tenths.div_euclid(10))
}

/// Third octaves that lie between the lowest frequency and `top`: nominal middle, lower and upper border, Hz.
pub(super) fn thirds(top: f64) -> impl Iterator<Item = (f64, f64, f64)> {
    (13..30_i32).filter_map(move |index| {
        let exact = 10.0_f64.powf(f64::from(index) / 10.0);
        let half = 10.0_f64.powf(0.05);
        let (low, high) = (exact / half, exact * half);
        (low >= LOWEST * 0.85 && high <= top * 1.13).then_some((nominal(index), low.max(LOWEST), high.min(top)))
    })
}

/// Decay time in a band.
fn decay(record: &Record, heard: &Hearing, low: f64, high: f64) -> Option<f64> {
    // The band's skirts stay below the pulse's top.
    let high = high.min(heard.pulse.top / 1.1);
    let energy: Vec<f64> = record.band(&heard.pulse, low, high).iter().map(|value| value * value).collect();
    let own = &energy[..(OWN * energy.len() as f64) as usize];
    let time = DecayCurve::new(own, record.interval, Tail::Exponential).ok()?.t20().ok()?;
    ((high - low) * time > SLOWER).then_some(time)
}
