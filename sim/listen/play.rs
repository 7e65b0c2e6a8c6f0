//! Dry sound through responses: `ears[channel] = sum over loudspeakers of dry[loudspeaker] * response[loudspeaker][channel]`.
//!
//! One channel of dry sound goes to all loudspeakers alike; otherwise each has its own. Whole sounds go through [`convolve_pairs`], long
//! ones through a [`Convolver`] for each loudspeaker and ear, block by block; both give the same samples within 1e-5 of the largest
//! (tested). What comes out begins where the dry sound begins: a response's own lead is in it.
//!
//! *Limits.* What goes in whole is brought to the rate of the responses first, as a whole; what goes in block by block has that rate.
//! `f32`, as in [`crate::dsp::convolve`].

use rayon::prelude::{IntoParallelIterator, ParallelIterator};

use crate::dsp::convolve::{Convolver, convolve_pairs};
use crate::dsp::resample::at_rate;
use crate::dsp::wav::Sound;

/// Samples of a block that is worth other cores. With shorter ones somebody listens, who must not wait for what those do else.
const LONG_BLOCK: usize = 1 << 14;

/// Responses from loudspeakers to ears.
#[derive(Clone, Debug, PartialEq)]
pub struct Playback {
    rate: u32,
    /// By loudspeaker, then ear; all of one length.
    responses: Vec<Vec<Vec<f32>>>,
}

/// Why nothing can be played.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PlayError {
    /// No loudspeakers, no ears, or not as many ears for each.
    #[error("there is a response from every loudspeaker to every ear, at least one, and none is empty")]
    Responses,
    /// No dry sound, or channels of several lengths.
    #[error("the dry sound has no samples, or not as many in each channel")]
    Dry,
    /// A value that is none.
    #[error("{of} holds values that are not numbers")]
    NotFinite {
        /// Which of both.
        of: &'static str,
    },
    /// Channels that nobody plays, or loudspeakers with nothing to play.
    #[error("a dry sound of {channels} channels cannot be played by {loudspeakers} loudspeakers: give it one channel, or one for each")]
    Channels {
        /// Channels of the dry sound.
        channels: usize,
        /// Loudspeakers that there are responses of.
        loudspeakers: usize,
    },
    /// Another rate that sound is not brought to or from.
    #[error(
        "the dry sound has {dry} samples a second and the responses have {responses}; only 44100, 48000 and 96000 are brought to each other"
    )]
    Rates {
        /// Of the dry sound.
        dry: u32,
        /// Of the responses.
        responses: u32,
    },
}

impl Playback {
    /// Responses by loudspeaker, then ear, at a rate in samples a second. Shorter ones are filled up with silence.
    ///
    /// # Errors
    /// None, not as many ears for each loudspeaker, an empty one, or values that are not numbers.
    pub fn new(rate: u32, mut responses: Vec<Vec<Vec<f32>>>) -> Result<Self, PlayError> {
        let ears = responses.first().map_or(0, Vec::len);
        let even = ears > 0 && responses.iter().all(|loudspeaker| loudspeaker.len() == ears);
        if !even || responses.iter().flatten().any(Vec::is_empty) {
            return Err(PlayError::Responses);
        }
        if responses.iter().flatten().flatten().any(|value| !value.is_finite()) {
            return Err(PlayError::NotFinite { of: "a response" });
        }
        let length = responses.iter().flatten().map(Vec::len).max().unwrap_or(0);
        responses.iter_mut().flatten().for_each(|response| response.resize(length, 0.0));
        Ok(Self { rate, responses })
    }

    /// Samples a second of the responses.
    #[must_use]
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// Loudspeakers.
    #[must_use]
    pub fn loudspeakers(&self) -> usize {
        self.responses.len()
    }

    /// Ears.
    #[must_use]
    pub fn ears(&self) -> usize {
        self.responses[0].len()
    }

    /// Samples that sound on after a dry sound.
    #[must_use]
    pub fn tail(&self) -> usize {
        self.responses[0][0].len() - 1
    }

    /// What the ears hear of a dry sound, with the tail.
    ///
    /// # Errors
    /// A dry sound that is none, or that does not go with the loudspeakers or the rate.
    pub fn whole(&self, dry: &Sound) -> Result<Sound, PlayError> {
        let dry = self.ready(dry)?;
        let from = |loudspeaker: usize| dry.channels[loudspeaker.min(dry.channels.len() - 1)].as_slice();
        let heard = |ear: usize| {
            let pairs: Vec<_> = self.responses.iter().enumerate().map(|(index, to)| (from(index), to[ear].as_slice())).collect();
            convolve_pairs(&pairs).into_iter().reduce(|mut sum, one| {
                sum.iter_mut().zip(one).for_each(|(sum, one)| *sum += one);
                sum
            })
        };
        Ok(Sound { rate: self.rate, channels: (0..self.ears()).filter_map(heard).collect() })
    }

    /// A dry sound as it can be played: at the rate of the responses, one channel or one for each loudspeaker.
    ///
    /// # Errors
    /// As [`Self::whole`].
    pub fn ready(&self, dry: &Sound) -> Result<Sound, PlayError> {
        self.check_channels(dry.channels.len())?;
        if dry.frames() == 0 || dry.channels.iter().any(|channel| channel.len() != dry.frames()) {
            return Err(PlayError::Dry);
        }
        if dry.channels.iter().flatten().any(|value| !value.is_finite()) {
            return Err(PlayError::NotFinite { of: "the dry sound" });
        }
        if dry.rate == self.rate {
            return Ok(dry.clone());
        }
        let channels = dry.channels.iter().map(|channel| at_rate(channel, dry.rate, self.rate)).collect::<Option<_>>();
        let channels = channels.ok_or(PlayError::Rates { dry: dry.rate, responses: self.rate })?;
        Ok(Sound { rate: self.rate, channels })
    }

    /// The same block by block, for a dry sound of so many channels at the rate of the responses.
    ///
    /// # Errors
    /// Channels that do not go with the loudspeakers.
    pub fn stream(&self, channels: usize, block: usize) -> Result<Stream, PlayError> {
        self.check_channels(channels)?;
        let convolvers: Vec<Vec<Convolver>> =
            self.responses.iter().map(|to| to.iter().map(|response| Convolver::new(response, block)).collect()).collect();
        let early = convolvers[0][0].latency();
        Ok(Stream { convolvers, channels, early, tail: self.tail(), taken: false, heard: vec![Vec::new(); self.ears()] })
    }

    fn check_channels(&self, channels: usize) -> Result<(), PlayError> {
        check_channels(channels, self.loudspeakers())
    }
}

/// Whether so many loudspeakers can play a dry sound of so many channels.
///
/// # Errors
/// [`PlayError::Channels`].
pub fn check_channels(channels: usize, loudspeakers: usize) -> Result<(), PlayError> {
    if channels == 1 || channels == loudspeakers { Ok(()) } else { Err(PlayError::Channels { channels, loudspeakers }) }
}

/// A dry sound on its way to the ears.
pub struct Stream {
    /// By loudspeaker, then ear.
    convolvers: Vec<Vec<Convolver>>,
    channels: usize,
    /// Samples still to be left out, which come before the first of the outcome.
    early: usize,
    /// Samples that sound on after the dry sound.
    tail: usize,
    /// Whether any sample has come in.
    taken: bool,
    heard: Vec<Vec<f32>>,
}

impl Stream {
    /// Takes in a piece of each channel, all of one length, and gives what can be told by now of what each ear hears: all pieces together
    /// are what [`Playback::whole`] gives.
    ///
    /// # Errors
    /// Another number of channels, several lengths, or values that are not numbers: then nothing is taken in.
    pub fn push(&mut self, pieces: &[&[f32]]) -> Result<&[Vec<f32>], PlayError> {
        if pieces.len() != self.channels {
            return Err(PlayError::Channels { channels: pieces.len(), loudspeakers: self.convolvers.len() });
        }
        let length = pieces[0].len();
        if pieces.iter().any(|piece| piece.len() != length) {
            return Err(PlayError::Dry);
        }
        if pieces.iter().copied().flatten().any(|value| !value.is_finite()) {
            return Err(PlayError::NotFinite { of: "the dry sound" });
        }
        self.taken |= length > 0;
        Ok(self.run(pieces, length))
    }

    /// Ends the dry sound and gives the rest; nothing if there was none.
    #[must_use]
    pub fn finish(mut self) -> Vec<Vec<f32>> {
        if self.taken {
            let length = self.tail + self.convolvers[0][0].latency();
            let silence = vec![0.0; length];
            let pieces = vec![silence.as_slice(); self.channels];
            self.run(&pieces, length);
        } else {
            self.heard.iter_mut().for_each(Vec::clear);
        }
        self.heard
    }

    fn run(&mut self, pieces: &[&[f32]], length: usize) -> &[Vec<f32>] {
        let left_out = self.early.min(length);
        self.early -= left_out;
        for heard in &mut self.heard {
            heard.clear();
            heard.resize(length - left_out, 0.0);
        }
        let is_long = self.convolvers[0][0].latency() >= LONG_BLOCK;
        let ears = self.heard.len();
        let piece = |index: usize| pieces[index.min(pieces.len() - 1)];
        let pairs = self.convolvers.iter_mut().enumerate().flat_map(|(index, to)| to.iter_mut().map(move |one| (piece(index), one)));
        let pairs: Vec<_> = pairs.collect();
        let came: Vec<&[f32]> =
            if is_long { pairs.into_par_iter().map(through).collect() } else { pairs.into_iter().map(through).collect() };
        for (one, ear) in came.into_iter().zip((0..ears).cycle()) {
            self.heard[ear].iter_mut().zip(&one[left_out..]).for_each(|(sum, one)| *sum += one);
        }
        &self.heard
    }
}

/// A piece through a response.
fn through<'a>((piece, convolver): (&[f32], &'a mut Convolver)) -> &'a [f32] {
    convolver.push(piece)
}
