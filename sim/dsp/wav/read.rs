//! From the bytes of a WAV file to its samples, as a whole or piece by piece.
//!
//! *Limits.* What the format has; a file in pieces is taken to stay as it is, and one that has become shorter says so.

use std::io::{self, Cursor, Read, Seek, SeekFrom};

use super::{BYTES_MAX, FLOAT, Format, Sound, WavError, broken, strange, u32_at};

/// Longest sound that is read whole, seconds.
const SECONDS_MAX: u64 = 3600;
/// Full scale in 32 bits.
const FULL_32: f64 = 2_147_483_648.0;
/// Bytes of a `fmt ` chunk that are looked at; it has 40 at the most.
const FORMAT_BYTES: u64 = 64;
/// Frames that are looked at together.
const PIECE: u64 = 1 << 15;

/// What is read piece by piece: a file, or bytes in memory.
pub trait Reading: Read + Seek + Send {}

impl<T: Read + Seek + Send> Reading for T {}

/// Why nothing, or no more, is read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ReadError {
    /// What is wrong with the file.
    #[error(transparent)]
    Wav(#[from] WavError),
    /// What the system said.
    #[error("it cannot be read: {0}")]
    System(String),
}

impl From<io::Error> for ReadError {
    fn from(cause: io::Error) -> Self {
        Self::System(cause.to_string())
    }
}

/// Where the samples of a WAV file lie, and how they are kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    format: Format,
    /// First byte of the samples.
    at: u64,
    /// Bytes of samples.
    bytes: u64,
}

impl Layout {
    /// Looks at the head of a file of so many bytes; the samples themselves are not read.
    ///
    /// # Errors
    /// What it is instead of a sound, and what would do.
    pub fn read(file: &mut (impl Read + Seek + ?Sized), there: u64) -> Result<Self, ReadError> {
        Self::within(file, there, u64::MAX)
    }

    /// The same of one that lasts so many seconds at the most.
    fn within(file: &mut (impl Read + Seek + ?Sized), there: u64, seconds_max: u64) -> Result<Self, ReadError> {
        let head = some(file, 0, 12)?;
        if head.get(..4) != Some(b"RIFF") || head.get(8..12) != Some(b"WAVE") {
            return Err(WavError::NotWav.into());
        }
        let (mut at, mut format) = (12, None);
        loop {
            let head = some(file, at, 8)?;
            let promised = u64::from(u32_at(&head, 4).ok_or(WavError::NoSamples)?);
            at += 8;
            match &head[..4] {
                b"fmt " => format = Some(Format::read(&some(file, at, promised.min(FORMAT_BYTES))?)?),
                b"data" => {
                    let format = format.ok_or_else(|| broken("it does not say how samples are kept"))?;
                    let layout = Self { format, at, bytes: promised };
                    layout.judge(there.saturating_sub(at).min(promised), seconds_max)?;
                    return Ok(layout);
                }
                _ => {}
            }
            // One of odd length is followed by a byte that fills up.
            at += promised + promised % 2;
        }
    }

    /// Whether what is promised can be read, of which so many bytes are there.
    fn judge(&self, there: u64, seconds_max: u64) -> Result<(), WavError> {
        let Self { format, bytes: promised, .. } = *self;
        let (promised_s, there_s) = (format.seconds(promised), format.seconds(there));
        if promised == 0 {
            return Err(WavError::NoSamples);
        }
        if promised > BYTES_MAX || self.frames() > seconds_max.saturating_mul(u64::from(format.rate)) {
            return Err(WavError::Long { promised_s, promised_bytes: promised, there_s });
        }
        if there < promised {
            return Err(WavError::Truncated { promised_s, there_s });
        }
        if !promised.is_multiple_of(format.frame_bytes() as u64) {
            return Err(broken(&format!("{promised} bytes of samples are no whole number of frames of {} bytes", format.frame_bytes())));
        }
        Ok(())
    }

    /// Samples a second.
    #[must_use]
    pub fn rate(&self) -> u32 {
        self.format.rate
    }

    /// Channels.
    #[must_use]
    pub fn channels(&self) -> usize {
        usize::from(self.format.channels)
    }

    /// Samples of each channel.
    #[must_use]
    pub fn frames(&self) -> u64 {
        self.bytes / self.format.frame_bytes() as u64
    }

    /// Length in seconds.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        self.format.seconds(self.bytes)
    }

    /// So many samples of each channel, or as many as there are, from one on.
    ///
    /// # Errors
    /// Values that are not numbers; a file that has become shorter, or cannot be read.
    pub fn piece(&self, file: &mut (impl Read + Seek + ?Sized), from: u64, frames: u64) -> Result<Sound, ReadError> {
        let sound = self.taken(file, from, frames)?;
        match strange(&sound.channels) {
            Some((at, channel, count)) => Err(self.not_finite((from + at as u64, channel), count).into()),
            None => Ok(sound),
        }
    }

    /// Looks through the whole file, piece by piece: its largest sample.
    ///
    /// # Errors
    /// Values that are not numbers, all counted; a file that has become shorter, or cannot be read.
    pub fn look_through(&self, file: &mut (impl Read + Seek + ?Sized)) -> Result<f32, ReadError> {
        let (mut first, mut count, mut largest) = (None, 0, 0.0_f32);
        for from in (0..self.frames()).step_by(PIECE as usize) {
            let sound = self.taken(file, from, PIECE)?;
            if let Some((at, channel, more)) = strange(&sound.channels) {
                first = first.or(Some((from + at as u64, channel)));
                count += more;
            }
            largest = sound.channels.iter().flatten().fold(largest, |largest, value| largest.max(value.abs()));
        }
        match first {
            Some(first) => Err(self.not_finite(first, count).into()),
            None => Ok(largest),
        }
    }

    fn not_finite(&self, (at, channel): (u64, usize), count: usize) -> WavError {
        WavError::NotFinite { channel, at_s: at as f64 / f64::from(self.format.rate), count }
    }

    /// Samples whatever they hold.
    fn taken(&self, file: &mut (impl Read + Seek + ?Sized), from: u64, frames: u64) -> Result<Sound, ReadError> {
        let frame = self.format.frame_bytes() as u64;
        let wanted = frames.min(self.frames().saturating_sub(from)) * frame;
        let body = some(file, self.at + from * frame, wanted)?;
        if (body.len() as u64) < wanted {
            let there_s = self.format.seconds(from * frame + body.len() as u64);
            return Err(WavError::Truncated { promised_s: self.seconds(), there_s }.into());
        }
        Ok(decoded(&self.format, &body))
    }
}

/// So many bytes from one on, or as many as there are.
fn some(file: &mut (impl Read + Seek + ?Sized), at: u64, count: u64) -> io::Result<Vec<u8>> {
    file.seek(SeekFrom::Start(at))?;
    let mut bytes = Vec::new();
    Read::take(file, count).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Frames as they are kept, as samples; the lowest bytes come first, and what an integer lacks of 32 bits is filled up below.
fn decoded(format: &Format, body: &[u8]) -> Sound {
    let integer = |bytes: [u8; 4]| (f64::from(i32::from_le_bytes(bytes)) / FULL_32) as f32;
    let count = usize::from(format.channels);
    let channels = match (format.tag, format.bits) {
        (FLOAT, _) => parted(body, count, f32::from_le_bytes),
        (_, 16) => parted(body, count, |[low, high]| integer([0, 0, low, high])),
        (_, 24) => parted(body, count, |[low, middle, high]| integer([0, low, middle, high])),
        _ => parted(body, count, integer),
    };
    Sound { rate: format.rate, channels }
}

/// Samples of so many channels, of which each takes as many bytes.
fn parted<const BYTES: usize>(body: &[u8], count: usize, value: impl Fn([u8; BYTES]) -> f32) -> Vec<Vec<f32>> {
    let (samples, _) = body.as_chunks::<BYTES>();
    let channel = |index: usize| samples.iter().skip(index).step_by(count).map(|bytes| value(*bytes)).collect();
    (0..count).map(channel).collect()
}

/// The sound in the bytes of a WAV file.
///
/// # Errors
/// What they are instead, and what would do. Never panics, whatever the bytes.
pub fn read(bytes: &[u8]) -> Result<Sound, WavError> {
    let layout = Layout::within(&mut Cursor::new(bytes), bytes.len() as u64, SECONDS_MAX).map_err(of_bytes)?;
    let sound = decoded(&layout.format, &bytes[layout.at as usize..][..layout.bytes as usize]);
    match strange(&sound.channels) {
        Some((at, channel, count)) => Err(layout.not_finite((at as u64, channel), count)),
        None => Ok(sound),
    }
}

/// Of bytes that are there no system says anything.
fn of_bytes(error: ReadError) -> WavError {
    match error {
        ReadError::Wav(why) => why,
        ReadError::System(cause) => broken(&cause),
    }
}
