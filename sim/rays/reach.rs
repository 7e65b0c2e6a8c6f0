//! How far must rays be followed? A few of them tell how the energy in the room falls, whatever the shape of the decay.
//!
//! What all rays of a source carry at the borders of the stages of their tail, `E(t)`, is what is left in the room. It falls in a straight line only where
//! the field is mixed: between hard walls under a soft ceiling the end of the decay is that of the walls alone, and lasts twice as long as the mean
//! absorption says.
//!
//! *Limits.* The surfaces as they are: what lies flat on them, and is left to be weighed, shortens the decay. A few thousand rays know the level to a decibel.

use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::progress::{Cancelled, Progress};
use crate::room::Room;
use crate::settings::{BATCHES, Settings};

use super::parts::Line;
use super::trace::Tracer;

/// Rays from each source, and how many of them go on for one in each stage of the tail.
const RAYS: (u32, u32) = (2000, 5);

/// Travel time in seconds after which what is left of every source in every octave has fallen by so many decibels; at most `most_s`.
///
/// # Errors
/// [`Cancelled`].
pub fn reach(progress: &Progress, room: &Room, settings: &Settings, fall_db: f64, most_s: f64) -> Result<f64, Cancelled> {
    let settings = Settings { rays: RAYS.0, tail_one_in: RAYS.1, ..settings.clone() };
    let tracer = Tracer { balls: Vec::new(), ..Tracer::new(room, &settings, most_s) };
    let lines = tracer.lines(progress)?;
    let tasks: Vec<(&Line, usize)> = lines.iter().flat_map(|line| (0..room.sources.len()).map(move |source| (line, source))).collect();
    let times = tasks.into_par_iter().map(|(line, source)| {
        let left = left_of(progress, &tracer, line, source)?;
        let times = Band::ALL.into_iter().filter(|&band| line.early.group.member[band]).map(|band| fallen_by(&left, band, fall_db));
        Ok(times.map(|way| way.map_or(most_s, |way| way / room.medium.speed)).fold(0.0, f64::max))
    });
    Ok(times.collect::<Result<Vec<f64>, Cancelled>>()?.into_iter().fold(0.0, f64::max).min(most_s))
}

/// Ways in meters and the energy that is left of a source after them, by band; bands of other lines have none.
fn left_of(progress: &Progress, tracer: &Tracer<'_>, line: &Line, source: usize) -> Result<Vec<(f64, Bands<f64>)>, Cancelled> {
    let mut left: Vec<(f64, Bands<f64>)> = vec![(0.0, tracer.leavings.sources[source].mean_energy())];
    for batch in 0..BATCHES {
        let legs = tracer.batch(progress, line, source, batch, 0)?;
        for (part, leg) in line.parts().zip(legs) {
            let way = f64::from(part.end);
            let air = tracer.room.medium.attenuation.map(|attenuation| (-attenuation * way).exp() / f64::from(BATCHES));
            let mut sum = Bands::splat(0.0);
            for (band, energy) in leg.carried.iter().flat_map(|ray| Band::ALL.into_iter().zip(ray)) {
                sum[band] += f64::from(*energy);
            }
            let member = part.group.member;
            let own = Bands::from_fn(|band| if member[band] { sum[band] * air[band] } else { 0.0 });
            match left.iter_mut().find(|(at, _)| *at == way) {
                Some((_, left)) => *left = *left + own,
                None => left.push((way, own)),
            }
        }
    }
    left.sort_by(|a, b| a.0.total_cmp(&b.0));
    Ok(left)
}

/// The way after which a band has fallen by so much, on straight lines of its level; `None` where it has not.
fn fallen_by(left: &[(f64, Bands<f64>)], band: Band, fall_db: f64) -> Option<f64> {
    let level = |energy: &Bands<f64>| 10.0 * (energy[band] / left[0].1[band]).max(f64::MIN_POSITIVE).log10();
    left.windows(2).find(|pair| level(&pair[1].1) <= -fall_db).map(|pair| {
        let (before, after) = (level(&pair[0].1), level(&pair[1].1));
        let share = ((before + fall_db) / (before - after)).clamp(0.0, 1.0);
        pair[0].0 + share * (pair[1].0 - pair[0].0)
    })
}
