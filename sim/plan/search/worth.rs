//! What a square meter of each type of panel is worth everywhere, in steps of the score: the derivative of all terms together.
//!
//! With the score's `sum_b c_b ln T_b` for decay and evenness, `c_b = dS / d ln T_b`, one backward pass gives what a patch takes off that sum; another what it takes off the early level;
//! reflections over the criterion come from their own paths. A map says what wall, or whatever hangs there, is worth as panel and as bare wall; the difference is the worth of a panel there
//! against nothing, also where one hangs.
//!
//! *Limits.* First order: it ranks, and what is moved is weighed exactly. Terms that are the worst of several pairs count as their mean; likeness, speech and flutter have no derivative here.

use crate::bands::{Band, Bands};
use crate::findings::reflections::excess_slopes;
use crate::findings::targets::CRITERION_DB;
use crate::hotspots::{self, Octaves};
use crate::plan::integral::Integral;
use crate::plan::score::{DECAY_STEP, Figures, Ground, Weighed};
use crate::progress::{Cancelled, Progress};
use crate::weigh::{Linings, SpecularPath, early_bands, flat_weights};

/// What a square meter of some types of panel is worth everywhere against nothing, steps per m2, in the order of `exchanged`; `bare` is the room without what is planned.
///
/// # Errors
/// [`Cancelled`].
pub(super) fn worth(
    progress: &Progress,
    ground: Ground<'_>,
    now: (&Weighed, &Figures),
    exchanged: &[Linings],
    bare: &Linings,
) -> Result<Vec<Integral>, Cancelled> {
    let Ground { traced, goal, .. } = ground;
    let (weighed, figures) = now;
    let mut quantities = Vec::new();
    let slopes = slopes(figures, goal.bands, (goal.target, goal.weights.decay, goal.weights.evenness));
    if Band::ALL.into_iter().any(|band| slopes[band] != 0.0) {
        // A quantity of the decay is in percent.
        let weights = slopes.map(|slope| 0.01 * slope);
        quantities.extend(hotspots::decay(traced, &weighed.responses, goal.pairs, Octaves::Weighted(goal.bands, weights)));
    }
    if goal.weights.early_level > 0.0 && figures.early_level_db.value > CRITERION_DB {
        let judged: Vec<Band> = early_bands().collect();
        let mut level = hotspots::early(traced, &weighed.early, goal.pairs, (flat_weights(), Octaves::Together(&judged)));
        for phi in level.phi.iter_mut().flatten().flatten() {
            *phi = *phi * goal.weights.early_level;
        }
        quantities.push(level);
    }
    let of_pair = |&(source, receiver): &(usize, usize)| excess_slopes(traced, weighed.linings(), source, receiver);
    let share = -goal.weights.reflections / goal.pairs.len().max(1) as f64;
    let reflections: Vec<(&SpecularPath, Bands<f64>)> =
        goal.pairs.iter().flat_map(of_pair).map(|(path, slope)| (path, slope * share)).collect();
    let states: Vec<&Linings> = exchanged.iter().chain([bare]).collect();
    let mut maps = hotspots::sum_of_maps(progress, traced, weighed.linings(), &states, &quantities, &reflections)?;
    let nothing = maps.pop().unwrap_or_default();
    let against = |map: Vec<f64>| {
        let worth: Vec<f64> = map.iter().zip(&nothing).map(|(panel, nothing)| panel - nothing).collect();
        Integral::new(&traced.room.patches, &worth)
    };
    Ok(maps.into_iter().map(against).collect())
}

/// By how many steps decay and evenness together grow with the logarithm of each octave's decay time.
fn slopes(figures: &Figures, bands: &[Band], (target, decay, evenness): (Option<(f64, f64)>, f64, f64)) -> Bands<f64> {
    let known: Vec<(Band, f64)> = bands.iter().filter_map(|&band| Some((band, figures.t30_s[band]?.value))).collect();
    let count = known.len() as f64;
    let middle = known.iter().map(|(_, time)| time).sum::<f64>() / count;
    let side = match target {
        Some((low, _)) if middle < low => -1.0,
        Some((_, high)) if middle <= high => 0.0,
        _ => 1.0,
    };
    let signs = known.iter().map(|(_, time)| (time / middle).ln().signum()).sum::<f64>() / count;
    let mut slopes = Bands::splat(0.0);
    for (band, time) in known {
        let part = time / (count * middle);
        slopes[band] = (decay * side * part + evenness * ((time / middle).ln().signum() / count - part * signs)) / DECAY_STEP.ln_1p();
    }
    slopes
}
