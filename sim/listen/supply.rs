//! Where dry sound comes from: samples in memory, or a WAV file that is opened anew each time that it is played. Both give it piece by
//! piece at the rate that is asked for, so that an hour takes no more memory than a minute.
//!
//! *Limits.* Rates as in [`crate::dsp::resample`]; a file that changes between two times gives what it holds then, or an error.

use std::fmt;
use std::io;
use std::sync::Arc;

use super::play::PlayError;
use crate::dsp::resample::{AtRate, RATES, frames_at};
use crate::dsp::wav::{Layout, ReadError, Reading, Sound};

/// Samples of each channel in a piece, before it is brought to another rate.
pub const PIECE: usize = 1 << 16;

/// Opens a file.
pub type Open = Arc<dyn Fn() -> io::Result<Box<dyn Reading>> + Send + Sync>;

/// A dry sound, wherever it lies.
#[derive(Clone)]
pub enum Supply {
    /// In memory.
    Held(Arc<Sound>),
    /// In a file.
    File {
        /// How it lies there.
        layout: Layout,
        /// Its largest sample.
        peak: f32,
        /// What opens it.
        open: Open,
    },
}

impl From<Sound> for Supply {
    fn from(sound: Sound) -> Self {
        Self::Held(Arc::new(sound))
    }
}

impl fmt::Debug for Supply {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Held(sound) => formatter.debug_tuple("Held").field(sound).finish(),
            Self::File { layout, .. } => formatter.debug_struct("File").field("layout", layout).finish_non_exhaustive(),
        }
    }
}

impl Supply {
    /// A file with something wrong nowhere in it, which is looked through once.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn file(open: Open) -> Result<Self, ReadError> {
        let mut file = open()?;
        let there = file.seek(io::SeekFrom::End(0))?;
        let layout = Layout::read(&mut *file, there)?;
        let peak = layout.look_through(&mut *file)?;
        Ok(Self::File { layout, peak, open })
    }

    /// Channels.
    #[must_use]
    pub fn channels(&self) -> usize {
        match self {
            Self::Held(sound) => sound.channels.len(),
            Self::File { layout, .. } => layout.channels(),
        }
    }

    /// Samples a second.
    #[must_use]
    pub fn rate(&self) -> u32 {
        match self {
            Self::Held(sound) => sound.rate,
            Self::File { layout, .. } => layout.rate(),
        }
    }

    /// Samples of each channel.
    #[must_use]
    pub fn frames(&self) -> u64 {
        match self {
            Self::Held(sound) => sound.frames() as u64,
            Self::File { layout, .. } => layout.frames(),
        }
    }

    /// Its largest sample; full scale is 1.
    #[must_use]
    pub fn peak(&self) -> f32 {
        match self {
            Self::Held(sound) => sound.channels.iter().flatten().fold(0.0, |peak, value| peak.max(value.abs())),
            Self::File { peak, .. } => *peak,
        }
    }

    /// Samples of each channel at another rate.
    #[must_use]
    pub fn frames_at(&self, rate: u32) -> u64 {
        frames_at(self.frames(), self.rate(), rate)
    }

    /// Whether it can be played at a rate at all.
    ///
    /// # Errors
    /// Why not, as far as it can be told before it is.
    pub fn check(&self, rate: u32) -> Result<(), PlayError> {
        if self.rate() != rate && !(RATES.contains(&self.rate()) && RATES.contains(&rate)) {
            return Err(PlayError::Rates { dry: self.rate(), responses: rate });
        }
        let Self::Held(sound) = self else { return Ok(()) };
        if sound.frames() == 0 || sound.channels.iter().any(|channel| channel.len() != sound.frames()) {
            return Err(PlayError::Dry);
        }
        let is_finite = sound.channels.iter().flatten().all(|value| value.is_finite());
        if is_finite { Ok(()) } else { Err(PlayError::NotFinite { of: "the dry sound" }) }
    }

    /// Begins to play it at a rate.
    ///
    /// # Errors
    /// A file that cannot be opened any more; rates that are not brought to each other.
    pub fn play(&self, rate: u32) -> Result<Pieces<'_>, ReadError> {
        let source = match self {
            Self::Held(sound) => Source::Held(sound),
            Self::File { layout, open, .. } => Source::File(layout, open()?),
        };
        let is_other = self.rate() != rate;
        let ways = (0..self.channels()).filter(|_| is_other).map(|_| AtRate::new(self.rate(), rate)).collect::<Option<_>>();
        let ways = ways.ok_or_else(|| ReadError::System(format!("{} samples a second are not brought to {rate}", self.rate())))?;
        Ok(Pieces { source, ways, left: self.frames(), at: 0 })
    }
}

/// A dry sound on its way out, piece by piece, each by channel.
pub struct Pieces<'a> {
    source: Source<'a>,
    /// One for each channel, where the rate is another.
    ways: Vec<AtRate>,
    /// Samples that were given and are to come.
    at: u64,
    left: u64,
}

/// What pieces are taken out of.
enum Source<'a> {
    Held(&'a Sound),
    File(&'a Layout, Box<dyn Reading>),
}

impl Source<'_> {
    /// So many samples of each channel from one on.
    fn piece(&mut self, from: u64, frames: u64) -> Result<Vec<Vec<f32>>, ReadError> {
        match self {
            Self::Held(sound) => Ok(sound.channels.iter().map(|channel| channel[from as usize..][..frames as usize].to_vec()).collect()),
            Self::File(layout, file) => Ok(layout.piece(&mut **file, from, frames)?.channels),
        }
    }
}

impl Iterator for Pieces<'_> {
    type Item = Result<Vec<Vec<f32>>, ReadError>;

    fn next(&mut self) -> Option<Self::Item> {
        let frames = self.left.min(PIECE as u64);
        if frames == 0 {
            let rest: Vec<_> = std::mem::take(&mut self.ways).into_iter().map(AtRate::finish).collect();
            return (!rest.is_empty()).then_some(Ok(rest));
        }
        let piece = self.source.piece(self.at, frames);
        (self.at, self.left) = (self.at + frames, self.left - frames);
        Some(piece.map(|piece| match self.ways.is_empty() {
            true => piece,
            false => self.ways.iter_mut().zip(&piece).map(|(way, channel)| way.push(channel)).collect(),
        }))
    }
}
