//! Dry sound on its way into the room: one that lies in memory, and a file that is read ahead of what is played, piece by piece.
//!
//! A file is looked at once: its head, whether its length is there, whether there is anything to hear. Then a thread of its own reads
//! pieces of half a second, brings them to the rate of the device and waits while two lie ready, so that an hour takes no more memory than
//! a minute.
//!
//! *References.* `roomwright::dsp::wav` (what is read, and its sentences), `roomwright::dsp::resample` (pieces together are what the whole
//! would be).
//!
//! *Limits.* One or two channels; 44.1, 48 and 96 kHz; 2 GiB. Pieces that cannot be read once it plays are silent, and that
//! is said; a piece that is late is left out until it is there, for whoever plays never waits.

use std::fs::File;
use std::io::{self, Read, Seek};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::thread;
use std::time::Duration;

use roomwright::dsp::resample::{AtRate, RATES, at_rate};
use roomwright::dsp::wav::{Layout, Sound};

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
        let layout = Layout::read(file, there).map_err(|why| why.to_string())?;
        let (rate, channels, seconds) = (layout.rate(), layout.channels(), layout.seconds());
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
        for from in (0..self.layout.frames()).step_by(self.piece() as usize) {
            let piece = self.layout.piece(file, from, self.piece()).map_err(|why| why.to_string())?;
            if piece.channels.iter().flatten().any(|value| value.abs() > SILENT) {
                return Ok(());
            }
        }
        Err("it is silent throughout (below -90 dB re full scale)".to_owned())
    }

    /// Samples of each channel in a piece: half a second.
    fn piece(&self) -> u64 {
        u64::from(self.rate) / 2
    }

    /// What its loudness is taken from, at another rate: the first seconds that are not silent.
    ///
    /// # Errors
    /// Why it cannot be read.
    pub(crate) fn excerpt(&self, rate: u32) -> Result<Sound, String> {
        let mut file = File::open(&self.path).map_err(|cause| cause.to_string())?;
        let most = (EXCERPT_S * f64::from(self.rate)) as u64;
        let mut from = 0;
        let mut take = |from: u64| self.layout.piece(&mut file, from, most).map_err(|why| why.to_string());
        let mut sound = take(from)?;
        while sound.channels.iter().flatten().all(|value| value.abs() <= SILENT) && from + most < self.layout.frames() {
            from += most;
            sound = take(from)?;
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
    let mut ways = (0..take.channels).map(|_| AtRate::new(take.rate, rate)).collect::<Option<Vec<_>>>()?;
    let mut is_told = false;
    for from in (0..take.layout.frames()).step_by(take.piece() as usize) {
        let channels = take.layout.piece(file, from, take.piece()).map(|sound| sound.channels).unwrap_or_else(|why| {
            if !is_told {
                is_told = true;
                let (at_s, why) = (from as f64 / f64::from(take.rate), why.to_string());
                let why = why.trim_end_matches('.');
                tell(format!("{}: a part of it after {at_s:.1} s is silent here, for it cannot be read: {why}.", take.name()));
            }
            vec![vec![0.0; take.piece().min(take.layout.frames() - from) as usize]; take.channels]
        });
        sender.send(Some(ways.iter_mut().zip(&channels).map(|(way, channel)| way.push(channel)).collect())).ok()?;
    }
    let rest = ways.into_iter().map(AtRate::finish).collect();
    sender.send(Some(rest)).ok()
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
