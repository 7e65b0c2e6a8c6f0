//! What a signal sounds like through a response: fast convolution, as it comes in or as a whole.
//!
//! `y[n] = sum over k of h[k] x[n - k]`, by overlap-save: the spectrum of the last `N` samples times that of `h` is a convolution round a
//! circle, of which the last `N - L + 1` values are those of the line if `h` has `L` samples. A step takes in as many new samples. A
//! longer response is cut into parts of equal length, each as long as a step, so that part `k` meets the spectrum of `k` steps ago.
//!
//! *References.* A. V. Oppenheim and R. W. Schafer, Discrete-Time Signal Processing, section 8.7 (overlap-save; from memory). W. G.
//! Gardner, J. Audio Eng. Soc. 43 (1995) 127 (responses in parts; from memory).
//!
//! *Limits.* `f32` throughout: an error of some 1e-7 of the largest value, spread over the whole block, so that what is 140 dB below what
//! sounds beside it is lost. Parts are all of one length: short blocks and long responses take time in proportion to their ratio.

use std::sync::Arc;

use num_complex::Complex32;
use rayon::prelude::{IntoParallelRefIterator, ParallelIterator};
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

/// Most samples of a transform of a whole signal: longer ones take more time than they save, for they leave the cache.
const TRANSFORM_MAX: usize = 1 << 18;

/// A response that signals run through block by block.
pub struct Convolver {
    steps: Steps,
    /// The block that is coming in.
    arriving: Vec<f32>,
    /// What the block before it has become.
    leaving: Vec<f32>,
    /// Samples of both that are done with.
    at: usize,
    given: Vec<f32>,
}

impl Convolver {
    /// A convolver with this response that works by so many samples at a time (at least one), and with silence before.
    #[must_use]
    pub fn new(response: &[f32], block: usize) -> Self {
        let block = block.max(1);
        let steps = Steps::new(response, block, 2 * block);
        Self { steps, arriving: vec![0.0; block], leaving: vec![0.0; block], at: 0, given: Vec::new() }
    }

    /// How many samples later sound comes out than it would by the response alone: one block.
    #[must_use]
    pub fn latency(&self) -> usize {
        self.arriving.len()
    }

    /// Takes in a piece of the signal and gives as many samples of the outcome, [`Self::latency`] late. Pieces may have any size: the
    /// outcome does not depend on it, to the last bit. Zeros bring out the rest: latency and length of the response, less one.
    pub fn push(&mut self, mut piece: &[f32]) -> &[f32] {
        self.given.clear();
        while !piece.is_empty() {
            let (now, later) = piece.split_at(piece.len().min(self.arriving.len() - self.at));
            let end = self.at + now.len();
            self.given.extend_from_slice(&self.leaving[self.at..end]);
            self.arriving[self.at..end].copy_from_slice(now);
            self.at = end;
            if end == self.arriving.len() {
                self.steps.next(&self.arriving, &mut self.leaving);
                self.at = 0;
            }
            piece = later;
        }
        &self.given
    }
}

/// The whole of a signal through a response, with the tail: as many samples as both together, less one; nothing if either is empty.
#[must_use]
pub fn convolve(signal: &[f32], response: &[f32]) -> Vec<f32> {
    // Either may be called the response, and the shorter one takes fewer parts.
    let (signal, response) = if signal.len() < response.len() { (response, signal) } else { (signal, response) };
    if response.is_empty() {
        return Vec::new();
    }
    let total = signal.len() + response.len() - 1;
    let (step, transform) = sizes(total, response.len());
    let mut steps = Steps::new(response, step, transform);
    let mut arriving = vec![0.0; step];
    let mut outcome = vec![0.0; total.next_multiple_of(step)];
    let pieces = signal.chunks(step).chain(std::iter::repeat(&[][..]));
    for (leaving, piece) in outcome.chunks_mut(step).zip(pieces) {
        arriving[..piece.len()].copy_from_slice(piece);
        arriving[piece.len()..].fill(0.0);
        steps.next(&arriving, leaving);
    }
    outcome.truncate(total);
    outcome
}

/// Signals through responses, pair by pair, on all cores; each as [`convolve`] has it alone, whatever the number of threads.
#[must_use]
pub fn convolve_pairs(pairs: &[(&[f32], &[f32])]) -> Vec<Vec<f32>> {
    pairs.par_iter().map(|(signal, response)| convolve(signal, response)).collect()
}

/// New samples a step and samples of a transform that take the least work for `total` samples out of a response of this length.
fn sizes(total: usize, response: usize) -> (usize, usize) {
    if 2 * response > TRANSFORM_MAX {
        return (TRANSFORM_MAX / 2, TRANSFORM_MAX);
    }
    let mut best = (usize::MAX, (1, 2));
    let mut transform = (2 * response).next_power_of_two();
    while transform <= TRANSFORM_MAX {
        let step = transform - response + 1;
        // Two transforms a step, and what goes in proportion to their length: products and copies.
        let work = total.div_ceil(step) * transform * (transform.ilog2() as usize + 4);
        if work < best.0 {
            best = (work, (step, transform));
        }
        transform *= 2;
    }
    best.1
}

/// Overlap-save step by step.
struct Steps {
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    /// Spectra of the parts of the response, each divided by the length of the transform.
    parts: Vec<Vec<Complex32>>,
    /// Spectra of as many steps, round a ring.
    heard: Vec<Vec<Complex32>>,
    /// Where the last one stands; those before it follow.
    newest: usize,
    /// The last samples, as many as a transform has.
    window: Vec<f32>,
    /// What transforms use up.
    buffer: Vec<f32>,
    sum: Vec<Complex32>,
    scratch: Vec<Complex32>,
}

impl Steps {
    /// Steps of so many new samples, by transforms of so many: twice as many, or enough for the whole response beside them.
    fn new(response: &[f32], step: usize, transform: usize) -> Self {
        let mut planner = RealFftPlanner::new();
        let (forward, inverse) = (planner.plan_fft_forward(transform), planner.plan_fft_inverse(transform));
        let part = if response.len() + step <= transform + 1 { response.len().max(1) } else { step };
        let scratch = vec![Complex32::ZERO; forward.get_scratch_len().max(inverse.get_scratch_len())];
        let silence = vec![Complex32::ZERO; transform / 2 + 1];
        let heard = vec![silence.clone(); response.len().div_ceil(part)];
        let mut steps = Self {
            forward,
            inverse,
            parts: Vec::new(),
            heard,
            newest: 0,
            window: vec![0.0; transform],
            buffer: vec![0.0; transform],
            sum: silence,
            scratch,
        };
        steps.parts = response.chunks(part).map(|part| steps.spectrum_of_part(part)).collect();
        steps
    }

    fn spectrum_of_part(&mut self, part: &[f32]) -> Vec<Complex32> {
        let scale = 1.0 / self.buffer.len() as f32;
        self.buffer.fill(0.0);
        self.buffer[..part.len()].copy_from_slice(part);
        let mut spectrum = self.sum.clone();
        self.transform(&mut spectrum);
        for value in &mut spectrum {
            *value *= scale;
        }
        spectrum
    }

    /// The spectrum of the buffer, which is used up.
    fn transform(&mut self, spectrum: &mut [Complex32]) {
        let done = self.forward.process_with_scratch(&mut self.buffer, spectrum, &mut self.scratch);
        debug_assert!(done.is_ok(), "buffers are as long as the transform: {done:?}");
    }

    /// Takes in a step of the signal and gives as much of the outcome, no later.
    fn next(&mut self, arriving: &[f32], leaving: &mut [f32]) {
        let kept = self.window.len() - arriving.len();
        self.window.copy_within(arriving.len().., 0);
        self.window[kept..].copy_from_slice(arriving);
        let count = self.parts.len();
        if count == 0 {
            return leaving.fill(0.0);
        }
        self.newest = (self.newest + count - 1) % count;
        self.buffer.copy_from_slice(&self.window);
        let mut spectrum = std::mem::take(&mut self.heard[self.newest]);
        self.transform(&mut spectrum);
        self.heard[self.newest] = spectrum;
        self.multiply();
        // Products of real values at both ends are real; the transform back asks that they be so to the last bit, infinite or not.
        for end in [0, self.sum.len() - 1] {
            self.sum[end].im = 0.0;
        }
        let done = self.inverse.process_with_scratch(&mut self.sum, &mut self.buffer, &mut self.scratch);
        debug_assert!(done.is_ok(), "buffers are as long as the transform: {done:?}");
        leaving.copy_from_slice(&self.buffer[kept..]);
    }

    /// Each part of the response times the step that it meets.
    fn multiply(&mut self) {
        let (before, from_newest) = self.heard.split_at(self.newest);
        self.sum.fill(Complex32::ZERO);
        for (part, heard) in self.parts.iter().zip(from_newest.iter().chain(before)) {
            for ((sum, part), heard) in self.sum.iter_mut().zip(part).zip(heard) {
                *sum += part * heard;
            }
        }
    }
}
