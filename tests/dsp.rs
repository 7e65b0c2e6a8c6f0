//! Signals: convolution against plain sums and transforms of the whole; sines at another rate.

use num_complex::Complex64;
use realfft::RealFftPlanner;
use roomwright::dsp::convolve::{Convolver, convolve, convolve_pairs};
use roomwright::dsp::resample::{AtRate, RATES, at_rate, frames_at};
use roomwright::random::{Purpose, Stream};

/// Noise in [-1, 1), the same for the same seed.
pub(crate) fn noise(seed: u64, length: usize) -> Vec<f32> {
    let mut stream = Stream::new(seed, Purpose::Search, 0);
    (0..length).map(|_| (2.0 * stream.unit() - 1.0) as f32).collect()
}

// Convolution.

/// The plain sum, in f64.
fn direct(signal: &[f32], response: &[f32]) -> Vec<f64> {
    let mut outcome = vec![0.0; signal.len() + response.len() - 1];
    for (at, &value) in signal.iter().enumerate() {
        for (later, &factor) in response.iter().enumerate() {
            outcome[at + later] += f64::from(value) * f64::from(factor);
        }
    }
    outcome
}

/// One transform of the whole, in f64.
fn at_once(signal: &[f32], response: &[f32]) -> Vec<f64> {
    let total = signal.len() + response.len() - 1;
    let size = total.next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let spectrum = |values: &[f32]| {
        let mut input: Vec<f64> = values.iter().map(|value| f64::from(*value)).collect();
        input.resize(size, 0.0);
        let mut spectrum = forward.make_output_vec();
        forward.process(&mut input, &mut spectrum).expect("lengths fit");
        spectrum
    };
    let mut product: Vec<Complex64> =
        spectrum(signal).iter().zip(spectrum(response)).map(|(one, other)| one * other / size as f64).collect();
    let mut outcome = inverse.make_output_vec();
    inverse.process(&mut product, &mut outcome).expect("lengths fit");
    outcome.truncate(total);
    outcome
}

/// The largest difference re the peak of what is expected.
fn off(found: &[f32], expected: &[f64]) -> f64 {
    assert_eq!(found.len(), expected.len());
    let peak = expected.iter().fold(0.0_f64, |peak, value| peak.max(value.abs()));
    found.iter().zip(expected).map(|(found, expected)| (f64::from(*found) - expected).abs()).fold(0.0, f64::max) / peak
}

/// Noise that dies away by 60 dB in its length, as a room's response does.
fn decaying(seed: u64, length: usize) -> Vec<f32> {
    let fall = |index: usize| 10.0_f32.powf(-3.0 * index as f32 / length as f32);
    noise(seed, length).into_iter().enumerate().map(|(index, value)| value * fall(index)).collect()
}

/// Everything a convolver gives for a signal fed in pieces of these sizes, over and over, without its latency.
fn streamed(signal: &[f32], response: &[f32], block: usize, pieces: &[usize]) -> Vec<f32> {
    let mut convolver = Convolver::new(response, block);
    let mut fed = signal.to_vec();
    fed.resize(signal.len() + response.len() - 1 + convolver.latency(), 0.0);
    let (mut rest, mut outcome) = (&fed[..], Vec::new());
    for &size in pieces.iter().cycle() {
        let (now, later) = rest.split_at(size.min(rest.len()));
        let given = convolver.push(now);
        assert_eq!(given.len(), now.len(), "as many come out as go in");
        outcome.extend_from_slice(given);
        rest = later;
        if rest.is_empty() {
            break;
        }
    }
    outcome.split_off(convolver.latency())
}

// Errors of a transform in f32 are some 1e-7 re the root mean square, a few times as much at worst among many values: 1e-5 of the peak
// leaves room for signals far below their peak.
const NEAR: f64 = 1e-5;

#[test]
fn exact_sums_of_short_signals() {
    for (signal, response) in [(1, 1), (1, 7), (7, 1), (2, 2), (100, 3), (3, 100), (1000, 257), (257, 1000), (1023, 1024)] {
        let (signal, response) = (noise(1, signal), noise(2, response));
        let expected = direct(&signal, &response);
        assert!(off(&convolve(&signal, &response), &expected) < NEAR);
        for block in [1, 2, 3, 16, 100, 256, 2000] {
            let found = streamed(&signal, &response, block, &[64]);
            assert!(off(&found, &expected) < NEAR, "{} by {} in blocks of {block}", signal.len(), response.len());
        }
    }
    assert!(convolve(&[], &[1.0]).is_empty() && convolve(&[1.0], &[]).is_empty() && convolve(&[], &[]).is_empty());
    assert_eq!(Convolver::new(&[], 4).push(&[1.0; 9]), [0.0; 9], "no response, no sound");
    assert_eq!(Convolver::new(&[1.0], 0).latency(), 1, "a block has a sample at least");
}

#[test]
fn exact_half_a_minute_through_two_seconds() {
    let (signal, response) = (noise(3, 30 * 48_000), decaying(4, 2 * 48_000));
    let expected = at_once(&signal, &response);
    assert!(off(&convolve(&signal, &response), &expected) < NEAR);
    // Parts: 24 of 4096.
    assert!(off(&streamed(&signal, &response, 4096, &[48_000]), &expected) < NEAR);
    // The transform that it is compared with, itself against the plain sum.
    let (signal, response) = (&signal[..2000], &response[..500]);
    let found: Vec<f32> = at_once(signal, response).iter().map(|value| *value as f32).collect();
    assert!(off(&found, &direct(signal, response)) < 1e-6);
}

#[test]
fn exact_response_to_a_pulse() {
    for length in [1, 500, 96_000, 300_000] {
        let response = decaying(5, length);
        let mut pulse = vec![0.0; 1000];
        pulse[0] = 1.0;
        let worst = |found: &[f32]| {
            let differences = found.iter().zip(response.iter().chain(std::iter::repeat(&0.0)));
            differences.map(|(found, expected)| (found - expected).abs()).fold(0.0, f32::max)
        };
        // Values of the response reach 1.
        assert!(worst(&convolve(&pulse, &response)) < 1e-6);
        assert!(worst(&streamed(&pulse, &response, 8192, &[1000])) < 1e-6);
    }
}

#[test]
fn keeps_long_responses_right_in_parts() {
    // Both are longer than half of the largest transform.
    let (signal, response) = (noise(6, 400_000), decaying(7, 350_000));
    let expected = at_once(&signal, &response);
    let found = convolve(&signal, &response);
    assert!(off(&found, &expected) < NEAR);
    assert_eq!(convolve(&response, &signal), found, "which of the two is the response does not matter to the longer one");
}

#[test]
fn keeps_the_outcome_whatever_the_pieces() {
    let (signal, response) = (noise(8, 20_000), decaying(9, 3_000));
    for block in [1, 64, 255, 1024, 4096] {
        let (signal, response) = if block == 1 { (&signal[..300], &response[..40]) } else { (&signal[..], &response[..]) };
        let whole = streamed(signal, response, block, &[usize::MAX]);
        for pieces in [&[1][..], &[7, 1, 64, 300], &[block], &[4095, 2, 0, 513], &[10_000]] {
            assert_eq!(streamed(signal, response, block, pieces), whole, "blocks of {block}, pieces of {pieces:?}");
        }
    }
}

#[test]
fn keeps_sums_and_factors() {
    let (one, other, response) = (noise(10, 30_000), noise(11, 30_000), decaying(12, 5_000));
    let mixed: Vec<f32> = one.iter().zip(&other).map(|(one, other)| 0.5 * one - 0.25 * other).collect();
    let apart = convolve(&one, &response).into_iter().zip(convolve(&other, &response));
    let expected: Vec<f64> = apart.map(|(one, other)| 0.5 * f64::from(one) - 0.25 * f64::from(other)).collect();
    assert!(off(&convolve(&mixed, &response), &expected) < NEAR);
    // A power of two moves no digit.
    let half: Vec<f32> = one.iter().map(|value| 0.5 * value).collect();
    let expected: Vec<f32> = convolve(&one, &response).iter().map(|value| 0.5 * value).collect();
    assert_eq!(convolve(&half, &response), expected);
}

#[test]
fn keeps_pairs_as_each_is_alone() {
    let signals = [noise(13, 50_000), noise(14, 40_000)];
    let responses = [decaying(15, 6_000), decaying(16, 100)];
    let pairs: Vec<(&[f32], &[f32])> =
        signals.iter().flat_map(|signal| responses.iter().map(move |response| (&signal[..], &response[..]))).collect();
    let alone: Vec<Vec<f32>> = pairs.iter().map(|(signal, response)| convolve(signal, response)).collect();
    for threads in [1, 3] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        assert_eq!(pool.install(|| convolve_pairs(&pairs)), alone, "{threads} threads");
    }
}

// Rates.

/// Largest miss of a sine at another rate, away from the ends, re its own size.
fn miss_of_sine(frequency: f64, from: u32, to: u32) -> f64 {
    let wave = |rate: u32, index: usize| (std::f64::consts::TAU * frequency * index as f64 / f64::from(rate)).sin();
    let heard: Vec<f32> = (0..from as usize / 4).map(|index| wave(from, index) as f32).collect();
    let found = at_rate(&heard, from, to).expect("both rates are known");
    assert_eq!(found.len(), (heard.len() * to as usize).div_ceil(from as usize));
    let expected = |index: usize| if frequency < 0.5 * f64::from(from.min(to)) { wave(to, index) } else { 0.0 };
    (1000..found.len() - 1000).fold(0.0, |miss, index| (f64::from(found[index]) - expected(index)).abs().max(miss))
}

#[test]
fn exact_sines_at_another_rate() {
    for (from, to) in RATES.into_iter().flat_map(|from| RATES.map(|to| (from, to))) {
        for frequency in [1.0, 100.0, 997.0, 7000.0, 15_000.0, 19_000.0, 19_990.0] {
            // 1e-5 is 100 dB down and holds ripple, images and rounding together.
            let miss = miss_of_sine(frequency, from, to);
            assert!(miss < 1.2e-5, "{frequency} Hz from {from} to {to}: {miss}");
        }
    }
    // What the lower rate cannot hold is 100 dB down from half of it on.
    for (from, to, frequencies) in [
        (48_000, 44_100, [22_060.0, 22_500.0, 23_900.0]),
        (96_000, 44_100, [22_060.0, 30_000.0, 47_000.0]),
        (96_000, 48_000, [24_010.0, 28_000.0, 47_000.0]),
    ] {
        for frequency in frequencies {
            let miss = miss_of_sine(frequency, from, to);
            assert!(miss < 1e-5, "{frequency} Hz from {from} to {to}: {miss}");
        }
    }
}

#[test]
fn exact_pieces_at_another_rate_are_the_whole() {
    let heard = noise(3, 5_000);
    for (from, to) in RATES.iter().flat_map(|from| RATES.map(|to| (*from, to))) {
        let whole = at_rate(&heard, from, to).expect("both rates are known");
        assert_eq!(frames_at(5_000, from, to), whole.len() as u64);
        for step in [1, 147, 1_000, 4_999] {
            let mut way = AtRate::new(from, to).expect("both rates are known");
            let mut found: Vec<f32> = heard.chunks(step).flat_map(|piece| way.push(piece)).collect();
            found.extend(way.finish());
            assert_eq!(found, whole, "{from} to {to}, {step} at a time");
        }
    }
}

#[test]
fn keeps_short_sounds_and_unknown_rates() {
    assert_eq!((at_rate(&[1.0], 22_050, 48_000), at_rate(&[1.0], 48_000, 0)), (None, None));
    assert_eq!(at_rate(&[], 44_100, 48_000), Some(Vec::new()));
    assert_eq!(at_rate(&[0.5, 0.25], 48_000, 48_000), Some(vec![0.5, 0.25]));
    let one = at_rate(&[1.0], 48_000, 96_000).expect("both rates are known");
    // A pulse: nearly all of it in place, at the beginning.
    assert!(one.len() == 2 && (0.9..1.0).contains(&one[0]) && (0.5..0.7).contains(&one[1]), "{one:?}");
    assert!(at_rate(&[f32::NAN; 3], 96_000, 44_100).is_some_and(|samples| samples[0].is_nan()), "told, not hidden");
}
