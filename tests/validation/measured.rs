//! What recordings are read with: band filters and their names, figures of analytic responses, the speech index, how far a single place scatters, what two takes of a voice tell of two rooms, how often fitted materials hold the truth.

use roomwright::measured::band::Look;
use roomwright::measured::measure;
use roomwright::measured::voice::RATES_HZ;
use roomwright::prove::scatter::Measure;

use super::{Check, none, worst};
use crate::cliff::{CUT, Cut};
use crate::fit::SMALL;
use crate::measured::{
    Breakpoint, RATE, breakpoints, centers, decaying, double_slopes, exponentials, mean_and_error, names_of_third_octaves,
};
use crate::prove::DRAWN;
use crate::voice::OFF;

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = filters();
    checks.extend(names_of_third_octaves());
    checks.extend(closed_forms());
    checks.extend(double_slopes());
    checks.extend(speech());
    checks.extend(scatter());
    checks.extend(DRAWN.iter().cloned());
    checks.extend(voices());
    checks.extend(fits());
    checks.extend(ends());
    checks
}

/// Decays that were cut, beside those that go on.
fn ends() -> [Check; 2] {
    let Cut { t30, c50 } = &*CUT;
    [
        worst("decays cut 75 dB down over four floors: T30 re that of the decay that goes on", t30),
        worst("decays cut 75 dB down over four floors: C50 less that of the decay that goes on, dB", c50),
    ]
}

/// Octaves and third octaves against the limits of class 1: how many breakpoints are outside, and those of one band as they are.
fn filters() -> Vec<Check> {
    const LIMITS: &str = "IEC 61260-1:2014, table 1, class 1 (from memory)";
    let all = breakpoints();
    let outside = |rate: f64| {
        let of_rate: Vec<_> = all.iter().filter(|one| (one.rate - rate).abs() < 1.0).collect();
        let count = of_rate.iter().filter(|one| !one.is_within()).count();
        let what = format!("breakpoints of filters of octaves and thirds at {rate} Hz a second outside their limits, of {}", of_rate.len());
        none(what, count, "none may", LIMITS)
    };
    let middle = |center: f64, part: f64| (center - 1000.0).abs() < 1.0 && part < 2.0;
    let mut kilohertz: Vec<&Breakpoint> =
        all.iter().filter(|one| (one.rate - 48_000.0).abs() < 1.0 && middle(one.band.0, one.band.1) && one.most.is_finite()).collect();
    kilohertz.dedup_by(|a, b| (a.frequency - b.frequency).abs() < 1e-9);
    let row = |one: &Breakpoint| Check {
        what: format!("filter of the octave of 1 kHz at 48000 Hz a second: attenuation at {:.1} Hz, dB", one.frequency),
        ours: one.found,
        expected: 0.5 * (one.least + one.most),
        tolerance: 0.5 * (one.most - one.least),
        why: "between both limits: their middle and half of what lies between",
        source: LIMITS,
    };
    let mut rows: Vec<Check> = [44_100.0, 48_000.0, 96_000.0].map(outside).into();
    rows.extend(kilohertz.into_iter().map(row));
    rows.push(worst("filters of octaves and thirds: attenuation at the center, dB", &centers()));
    rows
}

/// A single exponential as samples at 48 kHz.
fn closed_forms() -> Vec<Check> {
    let mut rows = Vec::new();
    for (decay, c50, c80, center) in [(0.2, 14.860_446, 23.982_676, 14.476_483), (0.5, 4.743_724, 9.095_618, 36.191_207)] {
        let response = exponentials(&[(1.0, decay)], (1.5 * decay).max(0.6));
        let found = Look { response: &response, onset: 0, rate_hz: RATE }.broadband();
        let value = |figure: &roomwright::measured::Figure| figure.value.unwrap_or(f64::NAN);
        let source = "closed forms of one exponential, computed independently of this project";
        let figures = [
            ("T30, s", value(&found.t30_s), decay, 1e-3 * decay, "demanded: 0.1 %"),
            ("C50, dB", value(&found.c50_db), c50, 0.02, "demanded: 0.02 dB"),
            ("C80, dB", value(&found.c80_db), c80, 0.02, "demanded: 0.02 dB"),
            ("center time, ms", value(&found.center_time_ms), center, 0.1, "two samples"),
        ];
        rows.extend(figures.map(|(name, ours, expected, tolerance, why)| Check {
            what: format!("measured response that falls by 60 dB in {decay} s: {name}"),
            ours,
            expected,
            tolerance,
            why,
            source,
        }));
    }
    rows
}

/// Noise that dies away, mean of eight draws.
fn speech() -> Vec<Check> {
    let row = |(decay, expected): (f64, f64)| {
        let index = |seed| measure(&decaying(seed, decay, -90.0, 1.4 * decay), RATE).ok()?.speech_transmission_index.value;
        let values: Vec<f64> = (0..8).map(|seed| index(seed).unwrap_or(f64::NAN)).collect();
        Check {
            what: format!("speech transmission index measured of a response that falls by 60 dB in {decay} s"),
            ours: values.iter().sum::<f64>() / 8.0,
            expected,
            tolerance: 0.005,
            why: "demanded: 0.005",
            source: "IEC 60268-16, closed form of one exponential, computed independently of this project",
        }
    };
    [(0.5, 0.736_30), (1.0, 0.588_48)].into_iter().map(row).collect()
}

/// How far one place scatters.
fn scatter() -> Vec<Check> {
    // By hand: 0.88 * 0.5 * sqrt(1.19 / (707.1 * 0.5)) and 0.55 * 0.5 * sqrt(1.152 / (707.1 * 0.5)).
    let row = |(name, measure, expected): (&str, Measure, f64)| Check {
        what: format!("scatter of {name} of 0.5 s at one place in the octave of 1 kHz, ms"),
        ours: 1000.0 * measure.scatter(0.5, 707.1, 0.5),
        expected,
        tolerance: 0.02,
        why: "four digits by hand",
        source: "ISO 3382-2:2008, annex A (from memory), with 10 decays for an impulse response",
    };
    [("T20", Measure::Twenty, 25.527), ("T30", Measure::Thirty, 15.697)].into_iter().map(row).collect()
}

/// How deep the loudness of a voice goes up and down, after re before.
fn voices() -> Vec<Check> {
    let row = |(rate, off): (f64, &Vec<f64>)| {
        let (mean, error) = mean_and_error(off);
        Check {
            what: format!(
                "depth of a voice's modulation at {rate:.0} Hz, after re before, less what the responses leave of it, dB: mean of {} pairs of rooms",
                off.len()
            ),
            ours: mean,
            expected: 0.0,
            tolerance: 3.0 * error,
            why: "three standard errors of the mean; one room scatters by a decibel",
            source: "T. Houtgast, H. J. M. Steeneken, Acustica 28 (1973) 66: share of a modulation that a response leaves (from memory)",
        }
    };
    RATES_HZ.into_iter().zip(&*OFF).map(row).collect()
}

/// How often intervals of fitted materials hold what was true.
fn fits() -> Vec<Check> {
    let row = |what: &str, (held, of): (usize, usize)| Check {
        what: format!("intervals that hold the true absorption, %: {what}, {of} intervals of 100 rooms"),
        ours: 100.0 * held as f64 / of as f64,
        expected: 89.5,
        tolerance: 6.5,
        why: "demanded: 83 to 96",
        source: "what an interval of 90 % is; true coefficients off by a factor of up to 2",
    };
    let factors = ["one factor a material", "one factor a material and octave"];
    factors
        .into_iter()
        .zip(*SMALL)
        .flat_map(|(factor, [all, fitted])| {
            [row(&format!("all materials, {factor}"), all), row(&format!("those called fitted, {factor}"), fitted)]
        })
        .collect()
}
