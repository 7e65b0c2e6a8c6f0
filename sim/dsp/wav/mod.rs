//! Sound as a WAV file keeps it: bytes to samples, samples to bytes.
//!
//! A file is chunks in a RIFF: `fmt ` says how samples are kept, `data` holds them, frame by frame, channel by channel. An integer `n` of
//! `b` bits stands for `n / 2^(b-1)`.
//!
//! **Read** (`read`): whole, or piece by piece from whatever can be read and sought in. Nothing is taken on the word of a header: what it
//! promises is compared with what there is before a sample is read, and memory is taken for what there is, of a file in pieces for a piece.
//!
//! **Written** (`write`): whole, or the head first and then frame by frame. Plain PCM of 24 bits or floats of 32 bits, and a `bext` chunk
//! that says in words what the file is. The same sound gives the same bytes whenever it is written: date and time are left blank. A value
//! beyond full scale is refused for 24 bits, not clipped and counted: a clipped signal measures something else, and the float form holds it
//! as it is. There is no dither: a step of 24 bits is 138 dB below full scale, far under the noise of any microphone or converter.
//!
//! *References.* Multimedia Programming Interface and Data Specifications 1.0, 1991 (RIFF and `WAVE`; from memory). EBU Tech 3285 version
//! 2, 2011 (`bext`; from memory).
//!
//! *Limits.* Integers of 16, 24 and 32 bits and floats of 32 bits; 1 to 64 channels; 8 to 384 kHz; 2 GiB, and an hour of what is read
//! whole. No RF64, no 24 bits kept in 32, which writers align in two ways. Which loudspeaker a channel is for is neither read nor written,
//! nor is `bext` read. Text in `bext` is ASCII; any other letter becomes a question mark.

mod read;
mod write;

pub use read::{Layout, ReadError, Reading, read};
pub use write::{Broadcast, Form, Frames, Shape, write};

/// Most channels of a file.
const CHANNELS_MAX: usize = 64;
/// Least and most samples a second.
const RATES: std::ops::RangeInclusive<u32> = 8_000..=384_000;
/// Most bytes of samples.
const BYTES_MAX: u64 = 1 << 31;
/// Encoding of integers, as `fmt ` has it.
const PCM: u16 = 1;
/// Encoding of floats.
const FLOAT: u16 = 3;
/// Encoding that stands further on in `fmt `, as the first two bytes of sixteen.
const EXTENSIBLE: u16 = 0xFFFE;
/// The other fourteen.
const EXTENSIBLE_TAIL: [u8; 14] = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71];

/// Samples of one or more channels.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// Samples a second.
    pub rate: u32,
    /// Samples by channel, all of one length; full scale is 1.
    pub channels: Vec<Vec<f32>>,
}

impl Sound {
    /// Samples of each channel.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.channels.first().map_or(0, Vec::len)
    }

    /// Length in seconds.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        self.frames() as f64 / f64::from(self.rate)
    }
}

/// Why bytes are no sound, or a sound no file.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum WavError {
    /// Not a WAV file.
    #[error(
        "this is not a WAV file (it does not begin with RIFF and WAVE); export it as WAV, 24-bit or 32-bit float, not as RF64 or compressed"
    )]
    NotWav,
    /// The header lacks something or contradicts itself.
    #[error("the header of this WAV file is broken: {what}; export it anew as WAV, 24-bit or 32-bit float")]
    Header {
        /// What is wrong with it.
        what: String,
    },
    /// Integers of fewer than 16 bits.
    #[error("samples of {bits} bits are too coarse to measure with; record and export 16, 24 or 32 bits")]
    TooCoarse {
        /// Bits of a sample.
        bits: u16,
    },
    /// Neither integers nor floats that are read here.
    #[error("samples are kept as {}, which is not read; export PCM of 16, 24 or 32 bits or 32-bit float", encoding(*.tag, *.bits))]
    Encoding {
        /// The encoding as the header numbers it.
        tag: u16,
        /// Bits of a sample.
        bits: u16,
    },
    /// Not a single sample.
    #[error("there are no samples in it; record or export it anew")]
    NoSamples,
    /// The file ends early.
    #[error("the file ends early: its header promises {promised_s:.2} s of sound and {there_s:.2} s are there; copy or export it anew")]
    Truncated {
        /// Seconds that the header promises.
        promised_s: f64,
        /// Seconds that are there.
        there_s: f64,
    },
    /// A value that is not a number, or infinite.
    #[error(
        "channel {channel} has a value that is no finite number at {at_s:.4} s, the first of {count}; export it anew without what made it"
    )]
    NotFinite {
        /// Channel of the first such value in time, from 1.
        channel: usize,
        /// When it stands, seconds from the beginning.
        at_s: f64,
        /// How many there are in all channels.
        count: usize,
    },
    /// No channel, or very many.
    #[error("a file of {count} channels is not taken; 1 to 64 are")]
    Channels {
        /// How many it has, or its header says so.
        count: usize,
    },
    /// Too few or too many samples a second.
    #[error("a rate of {rate} Hz is not taken; 8000 to 384000 Hz are")]
    Rate {
        /// Samples a second.
        rate: u32,
    },
    /// Longer than what is read; a recording that was never closed promises as much.
    #[error("{promised_s:.0} s in {promised_bytes} bytes are not taken, and {there_s:.2} s are there; cut it to an hour and 2 GiB at most")]
    Long {
        /// Seconds that the header promises.
        promised_s: f64,
        /// Bytes of samples that it promises.
        promised_bytes: u64,
        /// Seconds that are there.
        there_s: f64,
    },
    /// Channels of a sound that differ in length.
    #[error("channels of {shortest} and of {longest} samples do not make one file; fill the shorter with zeros")]
    Uneven {
        /// Samples of the shortest channel.
        shortest: usize,
        /// Samples of the longest.
        longest: usize,
    },
    /// More samples than a file may hold.
    #[error("a WAV file of {seconds:.0} s would hold {bytes} bytes of samples, more than the 2 GiB that it may; cut the sound")]
    Large {
        /// Its length.
        seconds: f64,
        /// Bytes of its samples.
        bytes: u64,
    },
    /// Not as many samples as the head of the file says.
    #[error("{came} samples came for a file of {promised}; the sound was changed while it was read, read it again")]
    Changed {
        /// Samples of each channel that the head promises.
        promised: u64,
        /// Those that came.
        came: u64,
    },
    /// Values that 24 bits cannot hold.
    #[error("{count} values are beyond full scale, by up to {excess_db:.2} dB; write 32-bit float, or lower the sound by as much")]
    Beyond {
        /// How many.
        count: usize,
        /// The largest re full scale.
        excess_db: f64,
    },
    /// More to say than `bext` has room for.
    #[error("a description of {length} characters is too long for a WAV file, which holds 256; say the rest in the history")]
    Description {
        /// Its characters.
        length: usize,
    },
}

/// An encoding in words.
fn encoding(tag: u16, bits: u16) -> String {
    match tag {
        PCM => format!("integers of {bits} bits"),
        FLOAT => format!("floats of {bits} bits"),
        2 => "ADPCM".to_owned(),
        6 => "A-law".to_owned(),
        7 => "mu-law".to_owned(),
        0x55 => "MPEG layer 3".to_owned(),
        _ => format!("encoding {tag:#06x}"),
    }
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(*bytes.get(at..)?.first_chunk()?))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(*bytes.get(at..)?.first_chunk()?))
}

/// How samples are kept.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Format {
    /// [`PCM`] or [`FLOAT`].
    tag: u16,
    channels: u16,
    rate: u32,
    bits: u16,
}

impl Format {
    /// What a `fmt ` chunk says, if it is a way to keep samples that is read here.
    fn read(body: &[u8]) -> Result<Self, WavError> {
        let fields = || {
            let tag = u16_at(body, 0)?;
            let inner = if tag == EXTENSIBLE { u16_at(body, 24)? } else { tag };
            Some((tag, inner, u16_at(body, 2)?, u32_at(body, 4)?, u16_at(body, 12)?, u16_at(body, 14)?))
        };
        let (outer, tag, channels, rate, frame_bytes, bits) = fields().ok_or_else(|| broken("it breaks off"))?;
        let is_known = outer != EXTENSIBLE || body.get(26..40) == Some(&EXTENSIBLE_TAIL);
        match (tag, bits) {
            _ if !is_known => return Err(WavError::Encoding { tag: outer, bits }),
            (PCM, 1..16) => return Err(WavError::TooCoarse { bits }),
            (PCM, 16 | 24 | 32) | (FLOAT, 32) => {}
            _ => return Err(WavError::Encoding { tag, bits }),
        }
        let format = Self { tag, channels, rate, bits };
        check(usize::from(channels), rate)?;
        if usize::from(frame_bytes) != format.frame_bytes() {
            return Err(broken(&format!("{channels} channels of {bits} bits make no frames of {frame_bytes} bytes")));
        }
        Ok(format)
    }

    /// Bytes of one sample of every channel.
    fn frame_bytes(&self) -> usize {
        usize::from(self.channels) * usize::from(self.bits / 8)
    }

    fn seconds(&self, bytes: u64) -> f64 {
        (bytes / self.frame_bytes() as u64) as f64 / f64::from(self.rate)
    }

    /// The `fmt ` chunk without its head.
    fn bytes(&self) -> Vec<u8> {
        let frame = self.frame_bytes() as u32;
        let mut bytes = Vec::new();
        bytes.extend(self.tag.to_le_bytes());
        bytes.extend(self.channels.to_le_bytes());
        bytes.extend(self.rate.to_le_bytes());
        bytes.extend((self.rate * frame).to_le_bytes());
        bytes.extend((frame as u16).to_le_bytes());
        bytes.extend(self.bits.to_le_bytes());
        bytes
    }
}

fn broken(what: &str) -> WavError {
    WavError::Header { what: what.to_owned() }
}

/// Whether so many channels at this rate are taken at all.
fn check(channels: usize, rate: u32) -> Result<(), WavError> {
    if !(1..=CHANNELS_MAX).contains(&channels) {
        return Err(WavError::Channels { count: channels });
    }
    if !RATES.contains(&rate) {
        return Err(WavError::Rate { rate });
    }
    Ok(())
}

/// The first value that is no number - its sample, its channel from 1 - and how many there are.
fn strange(channels: &[Vec<f32>]) -> Option<(usize, usize, usize)> {
    let count = channels.iter().flatten().filter(|value| !value.is_finite()).count();
    let first = |(index, channel): (usize, &Vec<f32>)| Some((channel.iter().position(|value| !value.is_finite())?, index + 1));
    let (at, channel) = channels.iter().enumerate().filter_map(first).min()?;
    Some((at, channel, count))
}
