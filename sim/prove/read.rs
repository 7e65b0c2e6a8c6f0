//! What the filter of an octave reads of predicted sound: some of its neighbors as well.
//!
//! A filter of class 1 lets through what lies beside its octave, and where a neighbor rings much longer, that is what remains in the end: 0.48 s are read at 125 Hz for 0.35 s beside 0.59 s at 250 Hz. A recording can tell nothing
//! else, so it is compared with a prediction that is read the same way: the curves of all octaves, each with the share of the filter's power that lies in it,
//!
//! ```text
//! E_read(t) = sum over octaves of w E(t),   w = int over the octave of |H(f)|^2 df / int of |H(f)|^2 df
//! ```
//!
//! the lowest octave down to 0 and the highest up to half the rate. What inputs leave open moves along: decay times by the same factor, levels by the same step.
//!
//! *References.* IEC 61260-1:2014 (class 1); `dsp::filter`.
//!
//! *Limits.* Octaves are steps: within an octave nothing changes over frequency. Images interfere in a recording, and their energies add up here.

use crate::bands::{Band, Bands};
use crate::dsp::filter::Filter;
use crate::findings::pairs::{decay_curves, decay_time};
use crate::findings::{Estimate, Octave, Pair, Span};
use crate::metrics::clarity::Clarity;
use crate::metrics::decay::Range;
use crate::response::{Resampled, Response};

/// Frequencies to the octave at which a filter's power is summed.
const PER_OCTAVE: usize = 64;

/// What a filter lets through of each octave, as a share of all of it.
#[must_use]
pub fn shares(filter: &Filter, rate_hz: f64) -> Bands<f64> {
    let power = |band: Band| {
        let low = if band.index() == 0 { 1.0 } else { band.lower() };
        let high = if band.index() == 7 { 0.5 * rate_hz } else { band.upper() };
        let steps = (PER_OCTAVE as f64 * (high / low).log2()).ceil();
        let of_step = |step: usize| {
            let at = |part: f64| low * (high / low).powf((step as f64 + part) / steps);
            filter.gain(at(0.5)).norm_sqr() * (at(1.0) - at(0.0))
        };
        (0..steps as usize).map(of_step).sum::<f64>()
    };
    let powers = Bands::from_fn(power);
    powers * (1.0 / powers.sum())
}

/// A pair with the figures of its octaves as filters at a rate read them; an octave that the rate does not hold stays as it is.
#[must_use]
pub fn as_read(pair: &Pair, response: &Response, rate_hz: f64) -> Pair {
    let octave = |(own, band): (&Octave, Band)| match Filter::octave(band, rate_hz) {
        Some(filter) => read(own, &response.weighted(shares(&filter, rate_hz)), response.bin_s),
        None => own.clone(),
    };
    Pair { octaves: pair.octaves.iter().zip(Band::ALL).map(octave).collect(), ..pair.clone() }
}

/// An octave with the figures of other curves.
fn read(own: &Octave, curves: &Resampled<Vec<f64>>, bin_s: f64) -> Octave {
    let decays = decay_curves(curves, bin_s);
    let time = |range: Range, own: Option<Estimate>, inputs: Option<Span>| {
        let read = own.and_then(|_| decay_time(&decays, range)).map(|time| time.error());
        let factor = read.zip(own).map(|(read, own)| read.value / own.value);
        let moved = factor.zip(inputs).map(|(factor, span)| Span { low: factor * span.low, high: factor * span.high });
        (read, moved)
    };
    let clarities = curves.map(|curve| Clarity::new(curve, bin_s));
    let clarity = |part: fn(Clarity) -> Option<f64>| clarities.estimate(|clarity| (*clarity).and_then(part));
    let level = |read: Option<Estimate>, own: Option<Estimate>, inputs: Option<Span>| {
        let step = read.zip(own).map(|(read, own)| read.value - own.value);
        let moved = step.zip(inputs).map(|(step, span)| Span { low: span.low + step, high: span.high + step });
        (own.and(read), moved)
    };
    let (edt_s, edt_inputs_s) = time(Range::Early, own.edt_s, own.edt_inputs_s);
    let (t20_s, t20_inputs_s) = time(Range::Twenty, own.t20_s, own.t20_inputs_s);
    let (t30_s, t30_inputs_s) = time(Range::Thirty, own.t30_s, own.t30_inputs_s);
    let (c50_db, c50_inputs_db) = level(clarity(|clarity| clarity.c50_db), own.c50_db, own.c50_inputs_db);
    let (c80_db, c80_inputs_db) = level(clarity(|clarity| clarity.c80_db), own.c80_db, own.c80_inputs_db);
    Octave {
        edt_s,
        edt_inputs_s,
        t20_s,
        t20_inputs_s,
        t30_s,
        t30_inputs_s,
        c50_db,
        c50_inputs_db,
        c80_db,
        c80_inputs_db,
        d50: clarity(|clarity| Some(clarity.d50)),
        ts_ms: clarity(|clarity| Some(clarity.center_time_s * 1000.0)),
        ..own.clone()
    }
}
