//! Convolution of half a minute of stereo with a response of two seconds, at 48 kHz: as a whole, and live in blocks of 256 samples.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput};
use roomwright::dsp::convolve::{Convolver, convolve_pairs};
use roomwright::random::{Purpose, Stream};

const RATE: usize = 48_000;
const SECONDS: usize = 30;
const RESPONSE_SECONDS: usize = 2;
/// Samples of a block where sound comes in live.
const BLOCK: usize = 256;

pub(crate) fn benches(criterion: &mut Criterion) {
    let signals = [1, 2].map(|seed| noise(seed, SECONDS * RATE));
    let responses = [3, 4].map(|seed| noise(seed, RESPONSE_SECONDS * RATE));
    let mut group = criterion.benchmark_group("convolve/stereo, 2 s response [second of sound]");
    group.sample_size(10);
    group.throughput(Throughput::Elements(SECONDS as u64));
    let pair = |signal: usize, response: usize| (&signals[signal][..], &responses[response][..]);
    for (name, pairs) in [
        ("each channel its own", vec![pair(0, 0), pair(1, 1)]),
        ("each channel to both ears", (0..4).map(|i| pair(i / 2, i % 2)).collect()),
    ] {
        group.bench_function(BenchmarkId::from_parameter(name), |bencher| bencher.iter(|| convolve_pairs(black_box(&pairs))));
    }
    group.throughput(Throughput::Elements(1));
    let mut live = responses.each_ref().map(|response| Convolver::new(response, BLOCK));
    group.bench_function(BenchmarkId::from_parameter("live, one thread"), |bencher| {
        bencher.iter(|| {
            for (convolver, signal) in live.iter_mut().zip(&signals) {
                for piece in signal[..RATE].chunks(BLOCK) {
                    black_box(convolver.push(piece));
                }
            }
        });
    });
    group.finish();
}

fn noise(seed: u64, length: usize) -> Vec<f32> {
    let mut stream = Stream::new(seed, Purpose::Search, 0);
    (0..length).map(|_| (2.0 * stream.unit() - 1.0) as f32).collect()
}
