//! What the whole plan brings, as built: the early level that its use is judged by, before and after.
//!
//! `L = 10 lg(mean of E_early / E_direct)` over the pairs of source and receiver that the use is judged by.
//!
//! *Limits.* Pairs of one source share its rays; with several seats the error is that of seats that err together, which is a little too large.

use crate::findings::{Estimate, Findings};
use crate::plan::place::judged_pairs;
use crate::room::Room;
use crate::scene::Scene;

/// Early reflected level re direct, mean of the judged pairs, dB; none if no such pair was found.
#[must_use]
pub fn early_level(scene: &Scene, room: &Room, findings: &Findings) -> Option<Estimate> {
    let energies: Vec<(&str, Estimate)> = judged_pairs(scene, room)
        .into_iter()
        .filter_map(|(source, receiver)| {
            let (source, receiver) = (&room.sources[source].name, &room.receivers[receiver].name);
            findings.pairs.iter().find(|pair| pair.source == *source && pair.receiver == *receiver)
        })
        .map(|pair| {
            let energy = 10.0_f64.powf(0.1 * pair.early_level_db.value);
            let se = energy * pair.early_level_db.se * std::f64::consts::LN_10 / 10.0;
            (pair.source.as_str(), Estimate { value: energy, se })
        })
        .collect();
    Estimate::mean_of_sources(&energies).map(Estimate::level)
}
