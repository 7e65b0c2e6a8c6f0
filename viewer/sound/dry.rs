//! Dry sound on its way into the room: one that lies in memory, and a file that is read ahead of what is played, piece by piece.
//!
//! A file is looked at once: its head, whether its length is there, whether there is anything to hear. Then a thread of its own reads
//! pieces of half a second, brings them to the rate of the device and waits while two lie ready, so that an hour takes no more memory than
//! a minute. A piece is brought to another rate with a margin of the sound before and after it, so that pieces together are what the whole
//! would be.
//!
//! *References.* `roomwright::dsp::wav` (what is read, and its sentences), `roomwright::dsp::resample`.
//!
//! *Limits.* One or two channels; 44.1, 48 and 96 kHz; one hour and 2 GiB. Pieces that cannot be read once it plays are silent, and that
//! is said; a piece that is late is left out until it is there, for whoever plays never waits.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::thread;
use std::time::Duration;

use roomwright::dsp::resample::{RATES, at_rate};
use roomwright::dsp::wav::{self, Sound, WavError};

/// Samples to either side that no way from one rate to another reaches beyond.
const MARGIN: usize = 1024;
/// Pieces that lie ready.
const READY: usize = 2;
/// So long is waited for a piece that is late, before it is left out: not at all, for a block that waits is late itself.
const LATE: Duration = Duration::ZERO;
/// Length of a sound that its loudness is taken from, seconds.
const EXCERPT_S: f64 = 20.0;
/// What counts as silence, re full scale: -90 dB.
const SILENT: f32 = 3.2e-5;

/// A source of dry sound at the rate that is played.
pub(crate) trait Dry: Send {
    /// Its channels.
    fn channels(&self) -> usize;
    /// Fills channels from a sample on with what comes next; how many samples that was: fewer than there is room for at the end alone.
    fn next(&mut self, out: &mut [Vec<f32>], from: usize) -> usize;
    /// Begins anew; called at the end alone.
    fn rewind(&mut self);
}

/// One that lies in memory.
pub(crate) struct Held {
    sound: Arc<Sound>,
    at: usize,
}

impl Held {
    pub(crate) fn new(sound: Arc<Sound>) -> Self {
        Self { sound, at: 0 }
    }
}

impl Dry for Held {
    fn channels(&self) -> usize {
        self.sound.channels.len()
    }

    fn next(&mut self, out: &mut [Vec<f32>], from: usize) -> usize {
        let room = out.first().map_or(0, |channel| channel.len().saturating_sub(from));
        let count = room.min(self.sound.frames() - self.at);
        for (out, samples) in out.iter_mut().zip(&self.sound.channels) {
            out[from..from + count].copy_from_slice(&samples[self.at..self.at + count]);
        }
        self.at += count;
        count
    }

    fn rewind(&mut self) {
        self.at = 0;
    }
}

/// How samples lie in a file.
#[derive(Clone, Debug, PartialEq)]
struct Layout {
    /// Head of the file and how samples are kept, as a file of samples begins.
    head: Vec<u8>,
    at: u64,
    bytes: u64,
    frame: u64,
}

/// A file that can be played.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Take {
    /// Where it lies.
    pub(crate) path: PathBuf,
    /// Samples a second.
    pub(crate) rate: u32,
    /// Channels.
    pub(crate) channels: usize,
    /// Length, seconds.
    pub(crate) seconds: f64,
    layout: Layout,
}

impl Take {
    /// Looks at a file.
    ///
    /// # Errors
    /// Why it cannot be played, in one sentence.
    pub(crate) fn look_at(path: &Path) -> Result<Self, String> {
        let name = path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned());
        let mut file = File::open(path).map_err(|cause| format!("{name} cannot be read: {cause}."))?;
        let there = file.metadata().map_err(|cause| format!("{name} cannot be read: {cause}."))?.len();
        let take = Self::of(&mut file, path, there).map_err(|why| format!("{name}: {why}."))?;
        take.has_sound(&mut file).map_err(|why| format!("{name}: {why}."))?;
        Ok(take)
    }

    /// The same of an open file of so many bytes, whether or not there is anything to hear.
    ///
    /// # Errors
    /// Why it cannot be played.
    pub(crate) fn of(file: &mut (impl Read + Seek), path: &Path, there: u64) -> Result<Self, String> {
        let layout = Layout::read(file)?;
        // The head is judged by the library, with as much as is there of what it promises.
        let some = layout.bytes.min(there.saturating_sub(layout.at)).min(64 * layout.frame.max(1));
        let sound = match wav::read(&layout.piece(file, 0, some).map_err(|cause| cause.to_string())?) {
            Ok(sound) => sound,
            Err(why) => return Err(why.to_string()),
        };
        let (rate, channels) = (sound.rate, sound.channels.len());
        let seconds = (layout.bytes / layout.frame) as f64 / f64::from(rate);
        layout.judge_length(rate, there)?;
        if layout.bytes % layout.frame != 0 {
            return Err(format!(
                "its {} bytes of samples are no whole number of frames of {} bytes; export it anew",
                layout.bytes, layout.frame
            ));
        }
        if channels > 2 {
            return Err(format!("it has {channels} channels; one or two are played"));
        }
        if !RATES.contains(&rate) {
            return Err(format!("it has {rate} samples a second; 44100, 48000 and 96000 are played, export it at one of them"));
        }
        Ok(Self { path: path.into(), rate, channels, seconds, layout })
    }

    /// Whether there is anything to hear, before it is played.
    fn has_sound(&self, file: &mut (impl Read + Seek)) -> Result<(), String> {
        let mut from = 0;
        while from < self.layout.bytes {
            let bytes = self.piece_bytes(from);
            let piece = self.layout.sound(file, from, bytes)?;
            if piece.channels.iter().flatten().any(|value| value.abs() > SILENT) {
                return Ok(());
            }
            from += bytes;
        }
        Err("it is silent throughout (below -90 dB re full scale)".to_owned())
    }

    /// Bytes of the piece that begins there: half a second, and whole steps of every pair of rates.
    fn piece_bytes(&self, from: u64) -> u64 {
        let frames = u64::from(self.rate) / 2;
        (frames * self.layout.frame).min(self.layout.bytes - from)
    }

    /// What its loudness is taken from, at another rate: the first seconds that are not silent.
    ///
    /// # Errors
    /// Why it cannot be read.
    pub(crate) fn excerpt(&self, rate: u32) -> Result<Sound, String> {
        let mut file = File::open(&self.path).map_err(|cause| cause.to_string())?;
        let most = ((EXCERPT_S * f64::from(self.rate)) as u64 * self.layout.frame).min(self.layout.bytes);
        let mut from = 0;
        let mut sound = self.layout.sound(&mut file, from, most)?;
        while sound.channels.iter().flatten().all(|value| value.abs() <= SILENT) && from + most < self.layout.bytes {
            from += most;
            sound = self.layout.sound(&mut file, from, most.min(self.layout.bytes - from))?;
        }
        let channels = sound.channels.iter().map(|channel| at_rate(channel, self.rate, rate)).collect::<Option<Vec<_>>>();
        channels.map(|channels| Sound { rate, channels }).ok_or_else(|| "its rate cannot be brought to that of the device".to_owned())
    }

    /// Plays it at another rate; what becomes silence because it cannot be read is told, once each time that it begins.
    pub(crate) fn play(&self, rate: u32, tell: impl Fn(String) + Send + 'static) -> Tape {
        let path = self.path.clone();
        self.play_from(rate, move || File::open(&path), tell)
    }

    /// The same from whatever is opened anew each time that it begins.
    pub(crate) fn play_from<R: Read + Seek + 'static>(
        &self,
        rate: u32,
        open: impl FnMut() -> io::Result<R> + Send + 'static,
        tell: impl Fn(String) + Send + 'static,
    ) -> Tape {
        Tape::new(self.clone(), rate, open, tell)
    }

    fn name(&self) -> String {
        self.path.file_name().map_or_else(|| self.path.display().to_string(), |name| name.to_string_lossy().into_owned())
    }
}

impl Layout {
    /// Walks the chunks up to the samples.
    fn read(file: &mut (impl Read + Seek)) -> Result<Self, String> {
        let not_there = |bytes: &[u8]| wav::read(bytes).err().unwrap_or(WavError::NoSamples).to_string();
        let mut head = vec![0; 12];
        if file.read_exact(&mut head).is_err() || wav::read(&head) == Err(WavError::NotWav) {
            return Err(WavError::NotWav.to_string());
        }
        let mut at = 12;
        loop {
            let mut chunk = [0; 8];
            if file.read_exact(&mut chunk).is_err() {
                return Err(not_there(&head));
            }
            let bytes = u64::from(u32::from_le_bytes([chunk[4], chunk[5], chunk[6], chunk[7]]));
            at += 8;
            match &chunk[..4] {
                b"data" => {
                    let field = |at: usize| head.get(at..at + 2).map_or(0, |two| u64::from(u16::from_le_bytes([two[0], two[1]])));
                    // Channels and bits stand in the third and the eighth word of how samples are kept.
                    let frame = (field(22) * (field(34) / 8)).max(1);
                    return Ok(Self { head, at, bytes, frame });
                }
                b"fmt " if bytes <= 4096 && head.len() == 12 => {
                    head.extend(chunk);
                    let from = head.len();
                    head.resize(from + bytes as usize, 0);
                    if file.read_exact(&mut head[from..]).is_err() {
                        return Err(not_there(&head[..from]));
                    }
                    at += bytes;
                }
                _ => at += bytes,
            }
            at += bytes % 2;
            file.seek(SeekFrom::Start(at)).map_err(|cause| cause.to_string())?;
        }
    }

    /// A file of its own of some of the samples.
    fn piece(&self, file: &mut (impl Read + Seek), from: u64, bytes: u64) -> io::Result<Vec<u8>> {
        file.seek(SeekFrom::Start(self.at + from))?;
        let mut piece = self.head.clone();
        piece.extend(b"data");
        piece.extend((bytes as u32).to_le_bytes());
        file.take(bytes).read_to_end(&mut piece)?;
        Ok(piece)
    }

    fn sound(&self, file: &mut (impl Read + Seek), from: u64, bytes: u64) -> Result<Sound, String> {
        let piece = self.piece(file, from, bytes).map_err(|cause| cause.to_string())?;
        wav::read(&piece).map_err(|why| why.to_string())
    }

    /// Whether the samples that are promised are there, and not too many.
    fn judge_length(&self, rate: u32, there: u64) -> Result<(), String> {
        let seconds = |bytes: u64| (bytes / self.frame) as f64 / f64::from(rate);
        let (promised_s, there_s) = (seconds(self.bytes), seconds(there.saturating_sub(self.at)));
        if self.bytes > 1 << 31 || promised_s > 3600.0 {
            return Err(WavError::Long { promised_s, promised_bytes: self.bytes, there_s }.to_string());
        }
        if there < self.at + self.bytes {
            return Err(WavError::Truncated { promised_s, there_s }.to_string());
        }
        Ok(())
    }
}

/// Samples of each channel, or the end of the file.
type Piece = Option<Vec<Vec<f32>>>;

/// A file that is being played.
pub(crate) struct Tape {
    channels: usize,
    pieces: Receiver<Piece>,
    now: Vec<Vec<f32>>,
    at: usize,
    /// Whether the end was met, and is not told yet.
    ended: bool,
    /// So long is waited for a piece.
    late: Duration,
}

impl Tape {
    /// Plays what a file of this layout holds, over and over, at another rate; `open` gives the file.
    fn new<R: Read + Seek + 'static>(
        take: Take,
        rate: u32,
        mut open: impl FnMut() -> io::Result<R> + Send + 'static,
        tell: impl Fn(String) + Send + 'static,
    ) -> Self {
        let (sender, pieces) = sync_channel(READY);
        let channels = take.channels;
        thread::spawn(move || {
            loop {
                match open() {
                    Ok(mut file) => {
                        if run(&take, rate, &mut file, &sender, &tell).is_none() || sender.send(None).is_err() {
                            return;
                        }
                    }
                    Err(cause) => {
                        tell(format!(
                            "{} cannot be read any more: {cause}. It is silent from here on; choose it again, or another sound.",
                            take.name()
                        ));
                        return;
                    }
                }
            }
        });
        Self { channels, pieces, now: Vec::new(), at: 0, ended: false, late: LATE }
    }
}

#[cfg(test)]
impl Tape {
    /// Waits for pieces as long as a busy machine may take.
    pub(crate) fn patient(self) -> Self {
        Self { late: Duration::from_secs(60), ..self }
    }
}

/// Reads a file from its beginning to its end; `None` when nobody listens any more.
fn run(take: &Take, rate: u32, file: &mut (impl Read + Seek), sender: &SyncSender<Piece>, tell: &impl Fn(String)) -> Option<()> {
    let frame = take.layout.frame;
    // Rates have so large a divisor in common that whole steps of one are whole steps of the other within a second.
    let step = (take.rate / divisor(take.rate, rate)) as usize;
    let margin = MARGIN.next_multiple_of(step);
    let chunk = (take.rate as usize / 2).next_multiple_of(step);
    let mut held = vec![Vec::new(); take.channels];
    let (mut from, mut before, mut is_told) = (0, 0, false);
    loop {
        let wanted = (before + chunk + margin).saturating_sub(held[0].len()) as u64 * frame;
        let bytes = wanted.min(take.layout.bytes - from);
        if bytes > 0 {
            let sound = take.layout.sound(file, from, bytes);
            let frames = (bytes / frame) as usize;
            if let Err(why) = &sound
                && !is_told
            {
                is_told = true;
                let at_s = (from / frame) as f64 / f64::from(take.rate);
                tell(format!(
                    "{}: a part of it after {at_s:.1} s is silent here, for it cannot be read: {}.",
                    take.name(),
                    why.trim_end_matches('.')
                ));
            }
            for (channel, held) in held.iter_mut().enumerate() {
                match sound.as_ref().ok().and_then(|sound| sound.channels.get(channel)) {
                    Some(samples) => held.extend_from_slice(samples),
                    None => held.extend(std::iter::repeat_n(0.0, frames)),
                }
            }
            from += bytes;
        }
        let is_last = from >= take.layout.bytes;
        let to = |frames: usize| frames / step * (rate / divisor(take.rate, rate)) as usize;
        let piece = held.iter().map(|samples| {
            let mut piece = at_rate(samples, take.rate, rate).unwrap_or_default();
            if !is_last {
                piece.truncate(to(before + chunk));
            }
            piece.drain(..to(before).min(piece.len()));
            piece
        });
        sender.send(Some(piece.collect())).ok()?;
        if is_last {
            return Some(());
        }
        let gone = before + chunk - margin;
        held.iter_mut().for_each(|samples| drop(samples.drain(..gone)));
        before = margin;
    }
}

fn divisor(one: u32, other: u32) -> u32 {
    if other == 0 { one } else { divisor(other, one % other) }
}

impl Dry for Tape {
    fn channels(&self) -> usize {
        self.channels
    }

    fn next(&mut self, out: &mut [Vec<f32>], from: usize) -> usize {
        let room = out.first().map_or(0, |channel| channel.len().saturating_sub(from));
        let mut done = 0;
        while done < room && !self.ended {
            let left = self.now.first().map_or(0, Vec::len) - self.at;
            if left == 0 {
                match self.pieces.recv_timeout(self.late) {
                    Ok(Some(piece)) => (self.now, self.at) = (piece, 0),
                    Ok(None) => self.ended = true,
                    // The disk is late, or the file is gone: silence, and on.
                    Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => return room,
                }
                continue;
            }
            let count = left.min(room - done);
            for (out, samples) in out.iter_mut().zip(&self.now) {
                out[from + done..from + done + count].copy_from_slice(&samples[self.at..self.at + count]);
            }
            (done, self.at) = (done + count, self.at + count);
        }
        done
    }

    fn rewind(&mut self) {
        // The thread has begun anew already.
        self.ended = false;
    }
}

#[cfg(test)]
#[path = "dry_tests.rs"]
mod tests;
