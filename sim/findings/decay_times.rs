//! How long a room rings, octave by octave: what the sources and receivers that its use is judged by say together.
//!
//! Decay times of one source's pairs are averaged with their errors added plainly, as if they erred together; those of sources in squares.
//!
//! *Limits.* T20 stands in where no pair of an octave decays far enough for T30.

use super::targets::judged;
use super::{Basis, Findings, Span};
use crate::bands::Bands;
use crate::response::Estimate;

/// Decay time of an octave: mean over the pairs, whether it is T20, whether it is a statistical reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DecayTime {
    /// Seconds.
    pub time_s: Estimate,
    /// Where it may lie because of materials and tape, seconds.
    pub inputs_s: Option<Span>,
    /// From T20 for want of range.
    pub is_t20: bool,
    /// Below Schroeder's frequency.
    pub statistical: bool,
}

/// Decay times by octave, mean over the pairs that the use is judged by.
#[must_use]
pub fn decay_times(findings: &Findings) -> Bands<Option<DecayTime>> {
    let pairs = judged(&findings.pairs);
    Bands::from_fn(|band| {
        let octaves = || pairs.iter().filter_map(|pair| Some((pair.source.as_str(), pair.octaves.get(band.index())?)));
        let t30: Vec<(&str, Estimate, Option<Span>)> =
            octaves().filter_map(|(source, octave)| Some((source, octave.t30_s?, octave.t30_inputs_s))).collect();
        let t20: Vec<(&str, Estimate, Option<Span>)> =
            octaves().filter_map(|(source, octave)| Some((source, octave.t20_s?, octave.t20_inputs_s))).collect();
        let (times, is_t20) = if t30.is_empty() { (t20, true) } else { (t30, false) };
        let statistical = octaves().any(|(_, octave)| octave.basis == Basis::Statistical);
        let inputs: Vec<Option<Span>> = times.iter().map(|(_, _, inputs)| *inputs).collect();
        let times: Vec<(&str, Estimate)> = times.into_iter().map(|(source, time, _)| (source, time)).collect();
        Some(DecayTime { time_s: Estimate::mean_of_sources(&times)?, inputs_s: Span::mean(&inputs), is_t20, statistical })
    })
}
