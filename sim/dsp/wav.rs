//! Sound as a WAV file keeps it: bytes to samples, samples to bytes.
//!
//! A file is chunks in a RIFF: `fmt ` says how samples are kept, `data` holds them, frame by frame, channel by channel. An integer `n` of
//! `b` bits stands for `n / 2^(b-1)`. The way from bytes to samples is `hound`'s; chunks are walked here, so that nothing is taken on the
//! word of a header: what it promises is compared with what there is before a sample is read, and memory is taken for what there is.
//!
//! **Written.** Plain PCM of 24 bits or floats of 32 bits, and a `bext` chunk that says in words what the file is. The same sound gives the
//! same bytes whenever it is written: date and time are left blank. A value beyond full scale is refused for 24 bits, not clipped and
//! counted: a clipped signal measures something else, and the float form holds it as it is. There is no dither: a step of 24 bits is 138 dB
//! below full scale, far under the noise of any microphone or converter.
//!
//! *References.* Multimedia Programming Interface and Data Specifications 1.0, 1991 (RIFF and `WAVE`; from memory). EBU Tech 3285 version
//! 2, 2011 (`bext`; from memory).
//!
//! *Limits.* Integers of 16, 24 and 32 bits and floats of 32 bits; 1 to 64 channels; 8 to 384 kHz; one hour and 2 GiB. No RF64, no 24 bits
//! kept in 32, which writers align in two ways. Which loudspeaker a channel is for is neither read nor written, nor is `bext` read. Text in
//! `bext` is ASCII; any other letter becomes a question mark.

use std::io::Read;

use hound::WavReader;

/// Most channels of a file.
const CHANNELS_MAX: usize = 64;
/// Least and most samples a second.
const RATES: std::ops::RangeInclusive<u32> = 8_000..=384_000;
/// Most bytes of samples.
const BYTES_MAX: u64 = 1 << 31;
/// Longest sound, seconds.
const SECONDS_MAX: u64 = 3600;
/// Bytes of the description in `bext`.
const DESCRIPTION_BYTES: usize = 256;
/// Steps from zero to full scale in 24 bits.
const STEPS_24: f64 = 8_388_608.0;
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
    /// Longer than a measurement can be; a recording that was never closed promises as much.
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

/// A piece of a RIFF.
struct Chunk<'a> {
    id: &'a [u8],
    /// Bytes that its head promises.
    promised: u32,
    /// Those that are there.
    body: &'a [u8],
}

/// The chunks of a RIFF, as far as there are any; one of odd length is followed by a byte that fills up.
fn chunks(bytes: &[u8]) -> impl Iterator<Item = Chunk<'_>> {
    let mut rest = bytes.get(12..).unwrap_or_default();
    std::iter::from_fn(move || {
        let (head, after) = rest.split_at_checked(8)?;
        let promised = u32_at(head, 4)?;
        let (body, next) = after.split_at(after.len().min(promised as usize));
        rest = next.get((promised % 2) as usize..).unwrap_or_default();
        Some(Chunk { id: &head[..4], promised, body })
    })
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(*bytes.get(at..)?.first_chunk()?))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(*bytes.get(at..)?.first_chunk()?))
}

/// How samples are kept.
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

/// Whether samples of so many bytes are few enough; `there` is how many of them exist.
fn check_length(format: &Format, promised: u64, there: u64) -> Result<(), WavError> {
    let frames = promised / format.frame_bytes() as u64;
    if promised > BYTES_MAX || frames > SECONDS_MAX * u64::from(format.rate) {
        let (promised_s, there_s) = (format.seconds(promised), format.seconds(there));
        return Err(WavError::Long { promised_s, promised_bytes: promised, there_s });
    }
    Ok(())
}

/// The sound in the bytes of a WAV file.
///
/// # Errors
/// What they are instead, and what would do. Never panics, whatever the bytes.
pub fn read(bytes: &[u8]) -> Result<Sound, WavError> {
    if bytes.get(..4) != Some(b"RIFF") || bytes.get(8..12) != Some(b"WAVE") {
        return Err(WavError::NotWav);
    }
    let mut format = None;
    for chunk in chunks(bytes) {
        match chunk.id {
            b"fmt " => format = Some(Format::read(chunk.body)?),
            b"data" => {
                let format = format.ok_or_else(|| broken("it does not say how samples are kept"))?;
                return samples(&format, chunk.promised, chunk.body);
            }
            _ => {}
        }
    }
    Err(WavError::NoSamples)
}

/// The sound in a `data` chunk.
fn samples(format: &Format, promised: u32, body: &[u8]) -> Result<Sound, WavError> {
    let (promised, there) = (u64::from(promised), body.len() as u64);
    if promised == 0 {
        return Err(WavError::NoSamples);
    }
    check_length(format, promised, there)?;
    if there < promised {
        return Err(WavError::Truncated { promised_s: format.seconds(promised), there_s: format.seconds(there) });
    }
    if !promised.is_multiple_of(format.frame_bytes() as u64) {
        return Err(broken(&format!("{promised} bytes of samples are no whole number of frames of {} bytes", format.frame_bytes())));
    }
    // `hound` neither skips what fills up an odd chunk nor takes all heads in use; so it gets a plain one.
    let mut head = riff();
    chunk(&mut head, b"fmt ", &format.bytes());
    begin(&mut head, b"data", body.len());
    let mut reader = WavReader::new(head.as_slice().chain(body)).map_err(|error| broken(&error.to_string()))?;
    let count = usize::from(format.channels);
    let mut channels = vec![Vec::with_capacity(body.len() / format.frame_bytes()); count];
    let unit = 0.5_f64.powi(i32::from(format.bits) - 1);
    let values: &mut dyn Iterator<Item = hound::Result<f32>> = match format.tag {
        FLOAT => &mut reader.samples::<f32>(),
        _ => &mut reader.samples::<i32>().map(|value| value.map(|value| (f64::from(value) * unit) as f32)),
    };
    for (index, value) in values.enumerate() {
        channels[index % count].push(value.map_err(|error| broken(&error.to_string()))?);
    }
    let sound = Sound { rate: format.rate, channels };
    check_finite(&sound)?;
    Ok(sound)
}

/// Whether all values are numbers.
fn check_finite(sound: &Sound) -> Result<(), WavError> {
    let wrong = |channel: &Vec<f32>| channel.iter().filter(|value| !value.is_finite()).count();
    let count = sound.channels.iter().map(wrong).sum();
    let firsts = sound.channels.iter().enumerate();
    let firsts = firsts.filter_map(|(index, channel)| Some((channel.iter().position(|value| !value.is_finite())?, index + 1)));
    match firsts.min() {
        Some((at, channel)) => Err(WavError::NotFinite { channel, at_s: at as f64 / f64::from(sound.rate), count }),
        None => Ok(()),
    }
}

/// The bytes of a WAV file that holds this sound, with what it says of itself, if anything.
///
/// # Errors
/// What [`read`] would not take; channels of several lengths; values beyond full scale in 24 bits; a description that is too long.
pub fn write(sound: &Sound, form: Form, about: Option<&Broadcast>) -> Result<Vec<u8>, WavError> {
    let (tag, bits) = match form {
        Form::Pcm24 => (PCM, 24),
        Form::Float32 => (FLOAT, 32),
    };
    check(sound.channels.len(), sound.rate)?;
    let format = Format { tag, channels: sound.channels.len() as u16, rate: sound.rate, bits };
    let length = check_values(sound, &format)?;
    let mut file = riff();
    match form {
        Form::Pcm24 => chunk(&mut file, b"fmt ", &format.bytes()),
        Form::Float32 => {
            // Whatever is not PCM says how much more it has to say, nothing, and how many frames there are.
            chunk(&mut file, b"fmt ", &[format.bytes(), vec![0; 2]].concat());
            chunk(&mut file, b"fact", &(sound.frames() as u32).to_le_bytes());
        }
    }
    if let Some(about) = about {
        chunk(&mut file, b"bext", &broadcast(about)?);
    }
    begin(&mut file, b"data", length);
    file.reserve(length + 1);
    for frame in 0..sound.frames() {
        for channel in &sound.channels {
            match form {
                Form::Pcm24 => file.extend_from_slice(&step(channel[frame]).to_le_bytes()[..3]),
                Form::Float32 => file.extend_from_slice(&channel[frame].to_le_bytes()),
            }
        }
    }
    fill_up(&mut file, length);
    let size = (file.len() - 8) as u32;
    file[4..8].copy_from_slice(&size.to_le_bytes());
    Ok(file)
}

/// Whether a sound can be written like this; bytes of its samples.
fn check_values(sound: &Sound, format: &Format) -> Result<usize, WavError> {
    let lengths = || sound.channels.iter().map(Vec::len);
    let (shortest, longest) = (lengths().min().unwrap_or(0), lengths().max().unwrap_or(0));
    if shortest != longest {
        return Err(WavError::Uneven { shortest, longest });
    }
    if longest == 0 {
        return Err(WavError::NoSamples);
    }
    let bytes = longest as u64 * format.frame_bytes() as u64;
    check_length(format, bytes, bytes)?;
    check_finite(sound)?;
    if format.tag == PCM {
        let beyond = || sound.channels.iter().flatten().filter(|value| value.abs() > 1.0);
        if let Some(largest) = beyond().copied().map(f32::abs).reduce(f32::max) {
            return Err(WavError::Beyond { count: beyond().count(), excess_db: 20.0 * f64::from(largest).log10() });
        }
    }
    Ok(bytes as usize)
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
    let length = bytes.len();
    fill_up(&mut bytes, length);
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
fn begin(file: &mut Vec<u8>, id: &[u8; 4], length: usize) {
    file.extend(id);
    file.extend((length as u32).to_le_bytes());
}

/// A zero after an odd number of bytes.
fn fill_up(file: &mut Vec<u8>, length: usize) {
    if !length.is_multiple_of(2) {
        file.push(0);
    }
}

fn chunk(file: &mut Vec<u8>, id: &[u8; 4], body: &[u8]) {
    begin(file, id, body.len());
    file.extend(body);
    fill_up(file, body.len());
}
