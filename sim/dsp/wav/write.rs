//! From samples to the bytes of a WAV file: a whole sound, or the head of one whose length is known and then its frames as they come.
//!
//! *Limits.* What the format has.

use super::{BYTES_MAX, FLOAT, Format, PCM, Sound, WavError, check, strange};

/// Bytes of the description in `bext`.
const DESCRIPTION_BYTES: usize = 256;
/// Steps from zero to full scale in 24 bits.
const STEPS_24: f64 = 8_388_608.0;

/// How samples are kept in a file that is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Integers of 24 bits, rounded to the nearest; nothing beyond full scale. Full scale itself is one step too high and becomes the
    /// highest.
    Pcm24,
    /// Floats of 32 bits, as they are.
    Float32,
}

/// What a file says of itself in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Broadcast {
    /// What it is, with the level that full scale stands for; at most 256 characters.
    pub description: String,
    /// How it came about, one step a line.
    pub history: String,
}

/// What is known of a file before its first sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shape {
    /// Samples a second.
    pub rate: u32,
    /// Channels.
    pub channels: usize,
    /// Samples of each channel.
    pub frames: u64,
    /// How they are kept.
    pub form: Form,
}

impl Shape {
    /// The same as the format has it, if it makes a file.
    fn format(&self) -> Result<Format, WavError> {
        let (tag, bits) = match self.form {
            Form::Pcm24 => (PCM, 24),
            Form::Float32 => (FLOAT, 32),
        };
        check(self.channels, self.rate)?;
        let format = Format { tag, channels: self.channels as u16, rate: self.rate, bits };
        if self.frames == 0 {
            return Err(WavError::NoSamples);
        }
        let bytes = self.frames.saturating_mul(format.frame_bytes() as u64);
        if bytes > BYTES_MAX {
            return Err(WavError::Large { seconds: self.frames as f64 / f64::from(self.rate), bytes });
        }
        Ok(format)
    }

    /// Whether it makes a file.
    ///
    /// # Errors
    /// No samples, or too many; channels or a rate that no file has here.
    pub fn check(&self) -> Result<(), WavError> {
        self.format().map(drop)
    }

    /// The bytes before the first sample.
    ///
    /// # Errors
    /// As [`Self::check`]; a description that is too long.
    fn head(&self, about: Option<&Broadcast>) -> Result<Vec<u8>, WavError> {
        let format = self.format()?;
        let bytes = self.frames * format.frame_bytes() as u64;
        let mut file = riff();
        match self.form {
            Form::Pcm24 => chunk(&mut file, b"fmt ", &format.bytes()),
            Form::Float32 => {
                // Whatever is not PCM says how much more it has to say, nothing, and how many frames there are.
                chunk(&mut file, b"fmt ", &[format.bytes(), vec![0; 2]].concat());
                chunk(&mut file, b"fact", &(self.frames as u32).to_le_bytes());
            }
        }
        if let Some(about) = about {
            chunk(&mut file, b"bext", &broadcast(about)?);
        }
        begin(&mut file, b"data", bytes);
        let size = (file.len() as u64 - 8 + bytes + bytes % 2) as u32;
        file[4..8].copy_from_slice(&size.to_le_bytes());
        Ok(file)
    }
}

/// A file on its way from samples to bytes.
#[derive(Clone, Debug)]
pub struct Frames {
    shape: Shape,
    /// Samples of each channel that have come.
    came: u64,
}

impl Frames {
    /// A file of this shape with what it says of itself, if anything, and the bytes that it begins with.
    ///
    /// # Errors
    /// A shape that makes no file; a description that is too long.
    pub fn begin(shape: Shape, about: Option<&Broadcast>) -> Result<(Self, Vec<u8>), WavError> {
        Ok((Self { shape, came: 0 }, shape.head(about)?))
    }

    /// Adds the bytes of more samples of every channel.
    ///
    /// # Errors
    /// Channels of several lengths, values that are not numbers or beyond full scale in 24 bits, more samples than were promised; then
    /// nothing is added.
    pub fn add(&mut self, channels: &[Vec<f32>], bytes: &mut Vec<u8>) -> Result<(), WavError> {
        self.check(channels)?;
        let frames = channels.first().map_or(0, Vec::len);
        bytes.reserve(frames * channels.len() * 4);
        for frame in 0..frames {
            for channel in channels {
                match self.shape.form {
                    Form::Pcm24 => bytes.extend_from_slice(&step(channel[frame]).to_le_bytes()[..3]),
                    Form::Float32 => bytes.extend_from_slice(&channel[frame].to_le_bytes()),
                }
            }
        }
        self.came += frames as u64;
        Ok(())
    }

    /// Whether these can follow.
    fn check(&self, channels: &[Vec<f32>]) -> Result<(), WavError> {
        let Shape { rate, channels: count, frames: promised, form } = self.shape;
        if channels.len() != count {
            return Err(WavError::Channels { count: channels.len() });
        }
        let longest = even(channels)?;
        if let Some((at, channel, count)) = strange(channels) {
            return Err(WavError::NotFinite { channel, at_s: (self.came + at as u64) as f64 / f64::from(rate), count });
        }
        if form == Form::Pcm24 {
            let beyond = || channels.iter().flatten().filter(|value| value.abs() > 1.0);
            if let Some(largest) = beyond().copied().map(f32::abs).reduce(f32::max) {
                return Err(WavError::Beyond { count: beyond().count(), excess_db: 20.0 * f64::from(largest).log10() });
            }
        }
        let came = self.came + longest as u64;
        if came > promised { Err(WavError::Changed { promised, came }) } else { Ok(()) }
    }

    /// The bytes that the file ends with.
    ///
    /// # Errors
    /// Fewer samples than were promised.
    pub fn end(self) -> Result<Vec<u8>, WavError> {
        let (promised, came) = (self.shape.frames, self.came);
        if came < promised {
            return Err(WavError::Changed { promised, came });
        }
        let bytes = came * self.shape.format()?.frame_bytes() as u64;
        Ok(vec![0; (bytes % 2) as usize])
    }
}

/// The one length of all channels.
fn even(channels: &[Vec<f32>]) -> Result<usize, WavError> {
    let lengths = || channels.iter().map(Vec::len);
    let (shortest, longest) = (lengths().min().unwrap_or(0), lengths().max().unwrap_or(0));
    if shortest == longest { Ok(longest) } else { Err(WavError::Uneven { shortest, longest }) }
}

/// The bytes of a WAV file that holds this sound, with what it says of itself, if anything.
///
/// # Errors
/// No samples, or more than a file holds; channels or a rate that no file has here; channels of several lengths; values that are not
/// numbers, or beyond full scale in 24 bits; a description that is too long.
pub fn write(sound: &Sound, form: Form, about: Option<&Broadcast>) -> Result<Vec<u8>, WavError> {
    let frames = even(&sound.channels)? as u64;
    let (mut rest, mut file) = Frames::begin(Shape { rate: sound.rate, channels: sound.channels.len(), frames, form }, about)?;
    rest.add(&sound.channels, &mut file)?;
    file.extend(rest.end()?);
    Ok(file)
}

/// A value in steps of 24 bits.
fn step(value: f32) -> i32 {
    (f64::from(value) * STEPS_24).round().min(STEPS_24 - 1.0) as i32
}

/// A `bext` chunk without its head, version 2.
fn broadcast(about: &Broadcast) -> Result<Vec<u8>, WavError> {
    let description = ascii(&about.description);
    if description.len() > DESCRIPTION_BYTES {
        return Err(WavError::Description { length: description.len() });
    }
    let mut bytes = Vec::new();
    field(&mut bytes, &description, DESCRIPTION_BYTES);
    field(&mut bytes, b"Roomwright", 32);
    // Reference of the originator, date and time: blank.
    field(&mut bytes, b"", 32 + 10 + 8);
    // Samples since midnight, in two words.
    field(&mut bytes, b"", 8);
    bytes.extend(2_u16.to_le_bytes());
    // Unique material identifier: none.
    field(&mut bytes, b"", 64);
    // Loudness, its range, highest true peak, momentary and short-term loudness: not in use.
    bytes.extend([0x7FFF_u16; 5].iter().flat_map(|value| value.to_le_bytes()));
    field(&mut bytes, b"", 180);
    for line in about.history.lines() {
        bytes.extend(ascii(line));
        bytes.extend(b"\r\n");
    }
    // Even already, so that readers which do not know of filling up find what follows.
    bytes.resize(bytes.len().next_multiple_of(2), 0);
    Ok(bytes)
}

fn ascii(text: &str) -> Vec<u8> {
    text.chars().map(|letter| if letter.is_ascii() { letter as u8 } else { b'?' }).collect()
}

/// Text and zeros, `length` bytes in all.
fn field(bytes: &mut Vec<u8>, text: &[u8], length: usize) {
    let end = bytes.len() + length;
    bytes.extend(text);
    bytes.resize(end, 0);
}

/// The beginning of a WAV file whose size is still to be said.
fn riff() -> Vec<u8> {
    b"RIFF\0\0\0\0WAVE".to_vec()
}

/// The head of a chunk of so many bytes.
fn begin(file: &mut Vec<u8>, id: &[u8; 4], length: u64) {
    file.extend(id);
    file.extend((length as u32).to_le_bytes());
}

/// A chunk, with a zero after an odd number of bytes.
fn chunk(file: &mut Vec<u8>, id: &[u8; 4], body: &[u8]) {
    begin(file, id, body.len() as u64);
    file.extend(body);
    if !body.len().is_multiple_of(2) {
        file.push(0);
    }
}
