//! What a square meter of each type of panel is worth everywhere, in steps of the score: the derivative of all terms together.
//!
//! With the score's `sum_b c_b ln T_b` for decay and evenness, `c_b = dS / d ln T_b`, one backward pass gives what a patch takes off that sum; another what it takes off the early level;
//! reflections over the criterion come from their own paths, likeness and the clarity of voices from one pass more each, flutter from the surfaces that ring. A map says what wall, or whatever hangs there, is worth as panel and as bare wall; the difference is the worth of a panel there
//! against nothing, also where one hangs.
//!
//! *Limits.* First order: it ranks, and what is moved is weighed exactly. Reflections, the worst of several pairs, count as the mean of all; likeness and speech as those where most is wrong now. Flutter has steps;
//! what is covered of a place that rings counts.

use crate::absorbers::Finish;
use crate::bands::{Band, Bands};
use crate::findings::flutter::{SLOWER, audible_bands, ringing_ended};
use crate::findings::reflections::excess_slopes;
use crate::findings::targets::CRITERION_DB;
use crate::hanging::Hanging;
use crate::hotspots::{self, Octaves};
use crate::plan::integral::Integral;
use crate::plan::score::{DECAY_STEP, FLUTTER_STEP, Figures, Ground, Weighed, clarity_slopes, likeness_slopes};
use crate::progress::{Cancelled, Progress};
use crate::weigh::sensitivity::Quantity;
use crate::weigh::{Linings, SpecularPath, early_bands, flat_weights};

/// What a square meter of some finishes is worth everywhere against nothing, steps per m2, in their order; `bare`: what hangs without what is planned.
///
/// # Errors
/// [`Cancelled`].
pub(super) fn worth(
    progress: &Progress,
    ground: Ground<'_>,
    now: (&Weighed, &Figures),
    finishes: &[Finish],
    bare: &Hanging,
) -> Result<Vec<Integral>, Cancelled> {
    let Ground { traced, goal, .. } = ground;
    let weighed = now.0;
    let of_pair = |&(source, receiver): &(usize, usize)| excess_slopes(traced, weighed.linings(), source, receiver);
    let share = -goal.weights.reflections / goal.pairs.len().max(1) as f64;
    let reflections: Vec<(&SpecularPath, Bands<f64>)> =
        goal.pairs.iter().flat_map(of_pair).map(|(path, slope)| (path, slope * share)).collect();
    let states = finishes.iter().map(|finish| Linings::everywhere(&traced.room, finish)).chain([Linings::new(&traced.room, bare)]);
    let states: Vec<Linings> = states.collect();
    let quantities = quantities(ground, now);
    let mut maps =
        hotspots::sum_of_maps(progress, traced, weighed.linings(), &states.iter().collect::<Vec<_>>(), &quantities, &reflections)?;
    let nothing = maps.pop().unwrap_or_default();
    let flutter = flutter(ground, weighed.hanging(), bare);
    let against = |(map, finish): (Vec<f64>, &Finish)| {
        let ends = 1.0 - mirrored(finish);
        let ringing = |patch: usize| flutter.get(patch).map_or(0.0, |steps| ends * steps);
        let worth: Vec<f64> =
            map.iter().zip(&nothing).enumerate().map(|(patch, (panel, nothing))| panel - nothing + ringing(patch)).collect();
        Integral::new(&traced.room.patches, &worth)
    };
    Ok(maps.into_iter().zip(finishes).map(against).collect())
}

/// What the score falls by that is a sum over arrivals, each times its weight.
fn quantities(Ground { traced, goal, .. }: Ground<'_>, (weighed, figures): (&Weighed, &Figures)) -> Vec<Quantity> {
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
    if goal.weights.likeness > 0.0 {
        let slopes = likeness_slopes(traced, goal, &weighed.early);
        let weighted: Vec<_> = slopes.into_iter().map(|(pair, slope)| (pair, slope * -goal.weights.likeness)).collect();
        quantities.extend((!weighted.is_empty()).then(|| hotspots::early_energies(traced, &weighted)));
    }
    if goal.weights.speech > 0.0
        && let Some((pair, slopes)) = clarity_slopes(traced, goal, &weighed.responses)
    {
        let octaves: Vec<Band> = Band::ALL.into_iter().filter(|&band| slopes[band] > 0.0).collect();
        let weights = slopes * goal.weights.speech;
        quantities.extend(hotspots::clarity(traced, &weighed.responses, &[pair], Octaves::Weighted(&octaves, weights)));
    }
    quantities
}

/// What a square meter that mirrors nothing takes off the flutter, steps per m2 on the room's patches; empty where it does not count.
fn flutter(Ground { traced, goal, .. }: Ground<'_>, hanging: &Hanging, bare: &Hanging) -> Vec<f64> {
    let asked = goal.target.filter(|_| goal.weights.flutter > 0.0);
    asked.map_or_else(Vec::new, |(_, high)| {
        let mut ended = ringing_ended(&traced.room, (hanging, bare), SLOWER * high);
        ended.iter_mut().for_each(|share| *share *= goal.weights.flutter / FLUTTER_STEP);
        ended
    })
}

/// What a finish mirrors straight back of the octaves in which flutter is heard, where it mirrors most.
fn mirrored(finish: &Finish) -> f64 {
    let specular = finish.specular_at(1.0);
    audible_bands().map(|band| specular[band].clamp(0.0, 1.0)).fold(0.0, f64::max)
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
