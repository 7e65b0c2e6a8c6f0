//! What the whole plan brings, as built: the early level that its use is judged by, before and after.
//!
//! `L = 10 lg(mean of E_early / E_direct)` over the pairs of source and receiver that the use is judged by; the error of the mean is the
//! root of the sum of squares over the number of pairs, as if pairs were independent.
//!
//! *Limits.* Pairs of one source share its rays, so that with several seats the error is a little too small.

use crate::findings::{Estimate, Findings};
use crate::plan::place::judged_pairs;
use crate::room::Room;
use crate::scene::Scene;

/// Early reflected level re direct, mean of the judged pairs, dB; none if no such pair was found.
#[must_use]
pub fn early_level(scene: &Scene, room: &Room, findings: &Findings) -> Option<Estimate> {
    let energies: Vec<Estimate> = judged_pairs(scene, room)
        .into_iter()
        .filter_map(|(source, receiver)| {
            let (source, receiver) = (&room.sources[source].name, &room.receivers[receiver].name);
            findings.pairs.iter().find(|pair| pair.source == *source && pair.receiver == *receiver)
        })
        .map(|pair| {
            let energy = 10.0_f64.powf(0.1 * pair.early_level_db.value);
            Estimate { value: energy, se: energy * pair.early_level_db.se * std::f64::consts::LN_10 / 10.0 }
        })
        .collect();
    let count = energies.len() as f64;
    let mean = Estimate {
        value: energies.iter().map(|energy| energy.value).sum::<f64>() / count,
        se: energies.iter().map(|energy| energy.se * energy.se).sum::<f64>().sqrt() / count,
    };
    (!energies.is_empty()).then(|| Estimate::level(mean))
}
