//! Speech transmission index of exponential decays, with and without noise.

use roomwright::bands::{Band, Bands};
use roomwright::metrics::speech::{
    MODULATION_FREQUENCIES, kept_in_noise, modulation_transfer, rating, speech_transmission_index, transmission_index, weighted,
};
use serde_json::Value;

use super::Check;
use super::decay::{cases, exponentials, rate};

const BIN: f64 = 1e-5;

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number in the case file")
}

pub(crate) fn checks() -> Vec<Check> {
    let cases = cases();
    let mut checks = Vec::new();
    let mut push = |what: String, ours: f64, expected: f64, tolerance: f64| {
        checks.push(Check {
            what,
            ours,
            expected,
            tolerance,
            why: "printed digits",
            source: "IEC 60268-16 formulas for exponential decays, closed form, computed independently (weights b from memory)",
        });
    };
    for case in cases["STI_exponential"].as_array().expect("a list") {
        let time = number(&case["T"]);
        let record = exponentials(&[(1.0, rate(time))], BIN, 1.3 * time);
        let modulation = modulation_transfer(&record, BIN).expect("energy");
        for (index, frequency) in MODULATION_FREQUENCIES.into_iter().enumerate() {
            push(format!("modulation left at {frequency} Hz, {time} s"), modulation[index], number(&case["m"][index]), 5.01e-6);
        }
        push(format!("STI, {time} s"), weighted([transmission_index(&modulation); 7]), number(&case["STI_male_ed4_5"]), 5.01e-6);
        for (ratio, key) in [(15.0, "MTI_snr15"), (10.0, "MTI_snr10"), (0.0, "MTI_snr0")] {
            let index = transmission_index(&modulation.map(|depth| depth * kept_in_noise(ratio)));
            push(format!("transmission index, {time} s, {ratio} dB over noise"), index, number(&case[key]), 5.01e-6);
        }
    }
    for case in cases["STI_single_band_checks"].as_array().expect("a list") {
        let on: Vec<f64> = case["bands_on"].as_array().expect("a list").iter().map(number).collect();
        let indices = std::array::from_fn(|index| if on.contains(&f64::from(Band::new(index + 1).nominal())) { 1.0 } else { 0.0 });
        push(format!("STI with only {on:?} Hz"), weighted(indices), number(&case["STI"]), 1e-9);
    }
    let mixed = &cases["STI_mixed"];
    let energy = Bands::from_fn(|band| match band.index() {
        0 => Vec::new(),
        index => exponentials(&[(1.0, rate(number(&mixed["T_per_band"][index - 1])))], BIN, 0.8),
    });
    let ours = speech_transmission_index(&energy, BIN, None).expect("energy");
    push("STI of a decay that falls with frequency".to_owned(), ours, number(&mixed["STI_male"]), 5.01e-6);
    checks
}

#[test]
fn exact_direct_sound_alone_is_perfect() {
    let energy = Bands::from_fn(|_| vec![1.0, 0.0, 0.0]);
    assert!((speech_transmission_index(&energy, 1e-3, None).expect("energy") - 1.0).abs() < 1e-12);
    // At 0 dB over noise half of each modulation is left, which counts one half.
    let half = speech_transmission_index(&energy, 1e-3, Some(Bands::splat(0.0))).expect("energy");
    assert!((half - 0.5).abs() < 1e-12);
    assert_eq!(speech_transmission_index(&Bands::from_fn(|_| vec![0.0]), 1e-3, None), None);
    assert_eq!(speech_transmission_index(&Bands::from_fn(|_| Vec::new()), 1e-3, None), None);
}

#[test]
fn keeps_the_index_in_millisecond_bins() {
    let fine = modulation_transfer(&exponentials(&[(1.0, rate(0.3))], 1e-5, 0.6), 1e-5).expect("energy");
    let coarse = modulation_transfer(&exponentials(&[(1.0, rate(0.3))], 1e-3, 0.6), 1e-3).expect("energy");
    assert!((transmission_index(&fine) - transmission_index(&coarse)).abs() < 1e-3);
}

#[test]
fn published_words_for_the_index() {
    // IEC 60268-16, as commonly printed (read in part).
    for (index, word) in [(0.9, "excellent"), (0.7, "good"), (0.5, "fair"), (0.4, "poor"), (0.2, "bad")] {
        assert_eq!(rating(index), word);
    }
}
