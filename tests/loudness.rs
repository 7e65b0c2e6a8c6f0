//! How loud a sound is: sines and gated sequences of the standards, gains that make versions comparable, in pieces and of parts.

use roomwright::dsp::resample::RATES;
use roomwright::dsp::wav::Sound;
use roomwright::listen::loudness::{LoudnessError, Meter, by_gain, gain_to_match, loudness, matched, peak_db, same_scale};

use super::listen::{mono, noise, sine};
use crate::validation::{Check, hold};

/// Loudness of sines in one channel: at full scale, and where the shelf is up.
pub(crate) fn loudness_of_sines() -> Vec<Check> {
    let full = |rate: u32| Check {
        what: format!("sine of 997 Hz at full scale in one channel at {rate} Hz a second, LKFS"),
        ours: loudness(&mono(rate, sine(rate, 997.0, 0.0, 5.0))).expect("it is sound"),
        expected: -3.01,
        tolerance: 0.01,
        why: "one of the last printed digit",
        source: "ITU-R BS.1770 (from memory)",
    };
    let low = |frequency_hz: f64| loudness(&mono(48_000, sine(48_000, frequency_hz, -6.0, 2.0))).expect("it is sound");
    let mut rows: Vec<Check> = RATES.map(full).into();
    rows.push(Check {
        what: "loudness of a sine of 12 kHz re one of 997 Hz, LU".to_owned(),
        ours: low(12_000.0) - low(997.0),
        expected: 4.0 - 0.691,
        tolerance: 0.06,
        why: "the shelf is not all up at 12 kHz",
        source: "ITU-R BS.1770: a shelf 4 dB up at high frequencies, of which 997 Hz has 0.691 dB",
    });
    rows
}

#[test]
fn published_loudness_of_sines() {
    hold(&loudness_of_sines());
    // The same filters at every rate: what warps near half of the rate is a few hundredths up to 8 kHz.
    for frequency_hz in [20.0, 38.0, 100.0, 500.0, 1681.0, 4000.0, 8000.0] {
        let [low, published, high] = RATES.map(|rate| loudness(&mono(rate, sine(rate, frequency_hz, -6.0, 5.0))).unwrap());
        assert!((low - published).abs() < 0.05 && (high - published).abs() < 0.05, "{frequency_hz} Hz: {low}, {published}, {high}");
    }
}

/// Stereo sines of 1 kHz, levels in dB re full scale and seconds: what gates leave out.
pub(crate) fn gates_of_loudness() -> Vec<Check> {
    let cases: [(&[(f64, f64)], f64); 5] = [
        (&[(-23.0, 20.0)], -23.0),
        (&[(-33.0, 20.0)], -33.0),
        (&[(-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)], -23.0),
        (&[(-72.0, 10.0), (-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0), (-72.0, 10.0)], -23.0),
        (&[(-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)], -23.0),
    ];
    let row = |number: usize, parts: &[(f64, f64)], expected: f64| {
        let channel: Vec<f32> = parts.iter().flat_map(|(level, seconds)| sine(48_000, 1000.0, *level, *seconds)).collect();
        Check {
            what: format!("test case {number} of loudness, stereo sines of 1 kHz, parts: {}, LUFS", parts.len()),
            ours: loudness(&Sound { rate: 48_000, channels: vec![channel.clone(), channel] }).expect("it is sound"),
            expected,
            tolerance: 0.1,
            why: "asked for there",
            source: "EBU Tech 3341, cases 1 to 5 (from memory)",
        }
    };
    (1..).zip(cases).map(|(number, (parts, expected))| row(number, parts, expected)).collect()
}

#[test]
fn published_gates_of_loudness() {
    hold(&gates_of_loudness());
}

#[test]
fn keeps_versions_comparable() {
    let quiet = mono(48_000, sine(48_000, 500.0, -20.0, 1.0));
    let loud = mono(48_000, sine(48_000, 500.0, -2.0, 1.0));
    let silent = mono(48_000, vec![0.0; 48_000]);
    let near = |a: f64, b: f64| (a - b).abs() < 1e-3;
    assert!(near(peak_db(&by_gain(&loud, 5.0)).unwrap(), 3.0));
    // Down is always free; up only as far as full scale lets it.
    let down = gain_to_match(&quiet, &loud).unwrap();
    assert!(near(down.reference_db, 0.0) && near(down.other_db, -18.0), "{down:?}");
    let up = gain_to_match(&loud, &quiet).unwrap();
    assert!(near(up.reference_db, 0.0) && near(up.other_db, 18.0), "{up:?}");
    let spiked = mono(48_000, [sine(48_000, 500.0, -20.0, 1.0), vec![0.5]].concat());
    let held = gain_to_match(&loud, &spiked).unwrap();
    assert!(held.reference_db < -5.0 && near(peak_db(&by_gain(&spiked, held.other_db)).unwrap(), -1.0), "{held:?}");
    let levels = [by_gain(&loud, held.reference_db), by_gain(&spiked, held.other_db)].map(|sound| loudness(&sound).unwrap());
    assert!(near(levels[0], levels[1]));

    let versions = [quiet.clone(), loud.clone(), silent.clone()];
    assert!(near(same_scale(&versions).unwrap(), -1.0), "one gain for all");
    assert_eq!(matched(&versions), Err(LoudnessError::Silent));
    let gains = matched(&versions[..2]).unwrap();
    assert!(near(gains[0], 17.0) && near(gains[1], -1.0), "{gains:?}");
    let gains = matched(&[loud.clone(), spiked.clone()]).unwrap();
    let played = [by_gain(&loud, gains[0]), by_gain(&spiked, gains[1])];
    assert!(near(played.each_ref().map(|sound| peak_db(sound).unwrap()).into_iter().fold(f64::MIN, f64::max), -3.0));
    assert!(near(loudness(&played[0]).unwrap(), loudness(&played[1]).unwrap()));
}

#[test]
fn keeps_what_has_no_loudness_apart() {
    let sound = |channels| Sound { rate: 48_000, channels };
    assert_eq!(loudness(&sound(vec![])), Err(LoudnessError::Channels { count: 0 }));
    assert_eq!(loudness(&sound(vec![vec![0.1]; 3])), Err(LoudnessError::Channels { count: 3 }));
    assert_eq!(loudness(&sound(vec![vec![]])), Err(LoudnessError::Shape));
    assert_eq!(loudness(&sound(vec![vec![0.1], vec![]])), Err(LoudnessError::Shape));
    assert_eq!(loudness(&sound(vec![vec![0.1, f32::NAN]])), Err(LoudnessError::NotFinite));
    assert_eq!(loudness(&sound(vec![vec![0.0; 48_000]])), Err(LoudnessError::Silent));
    assert_eq!(loudness(&Sound { rate: 0, channels: vec![vec![0.1]] }), Err(LoudnessError::Rate { rate: 0 }));
    assert_eq!((same_scale(&[]), matched(&[])), (Err(LoudnessError::Nothing), Err(LoudnessError::Nothing)));
    assert_eq!(same_scale(&[sound(vec![vec![0.0]])]), Err(LoudnessError::Silent));
    assert!(same_scale(&[sound(vec![vec![0.0]]), sound(vec![vec![0.5]])]).is_ok());
    // One sample is one block: its first value, through both filters' first coefficients.
    let one = loudness(&sound(vec![vec![1.0]])).unwrap();
    assert!((one - (-0.691 + 20.0 * 1.535_124_859_586_97_f64.log10())).abs() < 1e-9);
}

#[test]
fn exact_loudness_in_pieces_and_of_parts() {
    // Rates whose blocks begin between samples too; lengths under a block, of one, of a block and a sample, and on the way.
    for (rate, frames) in [(8_001, 12_345), (44_100, 17_640), (44_100, 17_641), (48_000, 100), (48_000, 100_003), (96_000, 250_000)] {
        let parts = [1, 2].map(|seed| Sound { rate, channels: vec![noise(seed, frames), noise(seed + 10, frames)] });
        let gains_db = [-3.5, 1.25];
        let added = {
            let [one, other] = [0, 1].map(|part| by_gain(&parts[part], gains_db[part]).channels);
            let sum = |(one, other): (Vec<f32>, Vec<f32>)| one.iter().zip(other).map(|(one, other)| one + other).collect();
            Sound { rate, channels: one.into_iter().zip(other).map(sum).collect() }
        };
        for step in [1, 777, frames] {
            let (mut alone, mut both) = (Meter::<1>::new(rate, 2).unwrap(), Meter::<2>::new(rate, 2).unwrap());
            for from in (0..frames).step_by(step) {
                let piece = |sound: &Sound| -> Vec<Vec<f32>> {
                    sound.channels.iter().map(|one| one[from..frames.min(from + step)].to_vec()).collect()
                };
                alone.push([&piece(&parts[0])]).unwrap();
                both.push([&piece(&parts[0]), &piece(&parts[1])]).unwrap();
            }
            let (alone, both) = (alone.finish().unwrap(), both.finish().unwrap());
            assert_eq!(alone.loudness_db([0.0]), loudness(&parts[0]), "{rate}, {frames}, {step} at a time: to the last bit");
            assert_eq!(alone.peak_db(), peak_db(&parts[0]));
            let miss = both.loudness_db(gains_db).unwrap() - loudness(&added).unwrap();
            // Gains and sums in single precision: 6e-8 of a value each.
            assert!(miss.abs() < 1e-5, "{rate}, {frames}: {miss} dB");
        }
    }
    let mut meter = Meter::<1>::new(48_000, 1).unwrap();
    assert_eq!(meter.push([&[vec![0.1], vec![0.1]]]), Err(LoudnessError::Shape));
    assert_eq!(meter.push([&[vec![f32::NAN]]]), Err(LoudnessError::NotFinite));
    assert_eq!(meter.finish(), Err(LoudnessError::Shape), "nothing came in");
}
