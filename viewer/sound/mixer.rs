//! What is heard, block by block: dry sound through the responses of two versions of the room side by side, of which one is heard.
//!
//! ```text
//! Dry ─block→ past ─feed→ version A ┐
//!                      └→ version B ┴─fade→ volume, guard ─→ two ears
//! ```
//!
//! Both versions run all the time, so that one takes the place of the other within a block. A response that is exchanged comes as a
//! convolver that has heard nothing; it is fed what the old one was fed, some blocks of the past with every block that is played, until it
//! is level with it and its tail is whole. In that block the old one fades into it, each at the gain that belongs to it; there is no gap.
//! What comes out is one block late. A gain falls within a block and rises no faster than the volume does.
//!
//! *Limits.* A response longer than [`PAST_S`] is exchanged without the end of its tail. One that comes while another is being fed waits;
//! of those that wait the latest is kept.

use std::collections::VecDeque;

use roomwright::listen::play::{PlayError, Playback, Stream};

use super::dry::Dry;
use super::gain::{RISE_DB_S, Volume, ease, factor, fade};

/// Two ears at one moment.
pub(crate) type Frame = [f32; 2];

/// What was played is remembered so long, seconds.
pub(crate) const PAST_S: f64 = 12.0;
/// Blocks of the past that a new response is fed with every block that is played.
const PACE: usize = 8;

/// Samples of a block at this rate: 21 to 23 ms.
pub(crate) fn block_of(rate: u32) -> usize {
    if rate > 48_000 { 2048 } else { 1024 }
}

/// Responses that sound runs through.
pub(crate) struct Version {
    stream: Stream,
    /// Loudspeakers.
    sources: usize,
    /// Samples of the longest response.
    reach: usize,
    mixed: Vec<f32>,
}

impl Version {
    /// Responses by loudspeaker, then ear, at a rate in samples a second.
    ///
    /// # Errors
    /// What [`Playback::new`] refuses.
    pub(crate) fn new(rate: u32, responses: Vec<Vec<Vec<f32>>>) -> Result<Self, PlayError> {
        let (sources, reach) = (responses.len(), responses.iter().flatten().map(Vec::len).max().unwrap_or(0));
        let stream = Playback::new(rate, responses)?.stream(sources, block_of(rate))?;
        Ok(Self { stream, sources, reach, mixed: Vec::new() })
    }

    /// Takes in a block of dry sound and gives a block of what is heard, the one before; one ear is heard in both.
    fn push(&mut self, dry: &[Vec<f32>], out: &mut [Frame]) {
        let Self { stream, sources, mixed, .. } = self;
        let pieces: Vec<&[f32]> = match dry {
            [one] => vec![one.as_slice(); *sources],
            _ if dry.len() == *sources => dry.iter().map(Vec::as_slice).collect(),
            _ => {
                mixed.clear();
                mixed.resize(out.len(), 0.0);
                let share = 1.0 / dry.len().max(1) as f32;
                dry.iter().for_each(|channel| mixed.iter_mut().zip(channel).for_each(|(sum, value)| *sum += share * value));
                vec![mixed.as_slice(); *sources]
            }
        };
        out.fill([0.0; 2]);
        // Values are finite and pieces of one length, so nothing is refused; the first block gives nothing yet.
        let Ok(ears) = stream.push(&pieces) else { return };
        let (Some(left), Some(right)) = (ears.first(), ears.last()) else { return };
        for ((frame, left), right) in out.iter_mut().zip(left).zip(right) {
            *frame = [*left, *right];
        }
    }
}

/// One of both versions.
#[derive(Default)]
struct Side {
    now: Option<Version>,
    /// One that is being fed, and the number of the block that it is fed next.
    coming: Option<(Version, u64)>,
    /// The one after that.
    waiting: Option<Version>,
    /// Its gain, at the end of the last block and where it is to be.
    gain: (f32, f32),
    /// Gains of the one that is being fed and of the one after that.
    gains_to_come: (f32, f32),
    /// By what factor a gain rises within a block at most.
    rise: f32,
    out: Vec<Frame>,
    scratch: Vec<Frame>,
    exchanges: u32,
}

impl Side {
    fn new(block: usize, rate: u32) -> Self {
        let rise = factor(RISE_DB_S * block as f64 / f64::from(rate));
        let (out, scratch) = (vec![[0.0; 2]; block], vec![[0.0; 2]; block]);
        Self { gain: (1.0, 1.0), gains_to_come: (1.0, 1.0), rise, out, scratch, ..Self::default() }
    }

    fn take(&mut self, version: Version, gain: f32) {
        (self.waiting, self.gains_to_come.1) = (Some(version), gain);
    }

    /// Another gain. While another response is on its way it is meant for that: the one that sounds is lowered by it and not raised.
    fn set_gain(&mut self, gain: f32) {
        let is_coming = self.coming.is_some() || self.waiting.is_some();
        self.gains_to_come = (gain, gain);
        self.gain.1 = if is_coming { self.gain.1.min(gain) } else { gain };
    }

    /// Brings the block to its gain.
    fn level(&mut self) {
        let (from, to) = (self.gain.0, self.gain.1.min(self.gain.0 * self.rise));
        let count = self.out.len() as f32;
        for (index, frame) in self.out.iter_mut().enumerate() {
            let gain = from + (to - from) * (index as f32 + 1.0) / count;
            frame.iter_mut().for_each(|value| *value *= gain);
        }
        self.gain.0 = to;
    }

    /// Takes in the last block of the past; `fed` counts them all.
    fn advance(&mut self, past: &VecDeque<Vec<Vec<f32>>>, fed: u64) {
        let Some(last) = past.back() else { return };
        let first = fed - past.len() as u64;
        match &mut self.now {
            Some(now) => now.push(last, &mut self.out),
            None => self.out.fill([0.0; 2]),
        }
        if self.coming.is_none()
            && let Some(version) = self.waiting.take()
        {
            let needed = (version.reach / self.out.len() + 2) as u64;
            self.coming = Some((version, fed.saturating_sub(needed).max(first)));
            self.gains_to_come.0 = self.gains_to_come.1;
        }
        self.level();
        if let Some((version, next)) = &mut self.coming {
            *next = (*next).max(first);
            for _ in 0..PACE {
                version.push(&past[(*next - first) as usize], &mut self.scratch);
                *next += 1;
                if *next == fed {
                    break;
                }
            }
            if *next == fed {
                let gain = self.gains_to_come.0;
                // Where nothing sounded yet there is nothing to rise from.
                self.gain = (if self.now.is_some() { gain.min(self.gain.0) } else { gain }, gain);
                self.scratch.iter_mut().flatten().for_each(|value| *value *= self.gain.0);
                match self.now {
                    Some(_) => fade(&mut self.out, &self.scratch),
                    None => self.out.copy_from_slice(&self.scratch),
                }
                self.now = self.coming.take().map(|(version, _)| version);
                self.exchanges += 1;
            }
        }
    }

    fn reach(&self) -> usize {
        self.now.as_ref().map_or(0, |version| version.reach)
    }

    /// Whether it sounds, or would with the next block.
    fn is_ready(&self) -> bool {
        self.now.is_some() || self.waiting.is_some() || self.coming.is_some()
    }
}

/// What playing is about to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Motion {
    Still,
    Starting,
    Running,
    Stopping,
}

/// Everything that is played, without a device.
pub(crate) struct Mixer {
    rate: u32,
    dry: Option<Box<dyn Dry>>,
    /// The dry sound that comes next.
    next: Option<Box<dyn Dry>>,
    repeats: bool,
    /// Blocks of silence after the end of a dry sound that is played once.
    after: usize,
    past: VecDeque<Vec<Vec<f32>>>,
    fed: u64,
    sides: [Side; 2],
    heard: usize,
    wanted: usize,
    motion: Motion,
    /// How often a sound that is played once came to its end.
    ends: u32,
    pub(crate) volume: Volume,
}

impl Mixer {
    /// Nothing to play yet, at so many samples a second, and a volume in dB re full scale.
    pub(crate) fn new(rate: u32, volume_db: f64) -> Self {
        let block = block_of(rate);
        Self {
            rate,
            dry: None,
            next: None,
            repeats: true,
            after: 0,
            past: VecDeque::new(),
            fed: 0,
            sides: [Side::new(block, rate), Side::new(block, rate)],
            heard: 0,
            wanted: 0,
            motion: Motion::Still,
            ends: 0,
            volume: Volume::new(volume_db),
        }
    }

    /// Frames of a block.
    pub(crate) fn block(&self) -> usize {
        block_of(self.rate)
    }

    /// Plays another dry sound, from its beginning.
    pub(crate) fn set_dry(&mut self, dry: Box<dyn Dry>) {
        if self.motion == Motion::Still {
            (self.dry, self.next, self.after) = (Some(dry), None, 0);
        } else {
            self.next = Some(dry);
        }
    }

    /// Whether the dry sound begins again when it ends.
    pub(crate) fn set_repeats(&mut self, repeats: bool) {
        self.repeats = repeats;
        if repeats {
            // One whose tail still rings begins again at once.
            self.after = 0;
        }
    }

    /// Exchanges the response of a version; its gain comes with it.
    pub(crate) fn set_version(&mut self, side: usize, version: Version, gain: f32) {
        self.sides[side].take(version, gain);
    }

    /// The gain of a version.
    pub(crate) fn set_gain(&mut self, side: usize, gain: f32) {
        self.sides[side].set_gain(gain);
    }

    /// Hears one of both; where that has no response yet the other one sounds on until it has.
    pub(crate) fn hear(&mut self, side: usize) {
        self.wanted = side;
    }

    /// Plays on, or holds.
    pub(crate) fn play(&mut self, plays: bool) {
        self.motion = match (plays, self.motion) {
            (true, Motion::Still) => Motion::Starting,
            (true, Motion::Stopping) => Motion::Running,
            (false, Motion::Running) => Motion::Stopping,
            (false, Motion::Starting) => Motion::Still,
            (_, motion) => motion,
        };
    }

    /// Whether it plays, or is about to.
    pub(crate) fn plays(&self) -> bool {
        matches!(self.motion, Motion::Starting | Motion::Running)
    }

    /// Which version is heard, how often each was exchanged, and how often a sound that is played once came to its end.
    pub(crate) fn told(&self) -> (usize, [u32; 2], u32) {
        (self.heard, [0, 1].map(|side| self.sides[side].exchanges), self.ends)
    }

    /// Whether there is something to play.
    fn can_sound(&self) -> bool {
        (self.dry.is_some() || self.next.is_some()) && (self.sides[self.heard].is_ready() || self.sides[self.wanted].is_ready())
    }

    /// The next block.
    pub(crate) fn render(&mut self, out: &mut [Frame]) {
        out.fill([0.0; 2]);
        if self.motion == Motion::Still || !self.can_sound() {
            return;
        }
        self.feed();
        for side in &mut self.sides {
            side.advance(&self.past, self.fed);
        }
        if self.sides[self.heard].now.is_none() && self.sides[self.wanted].now.is_some() {
            self.heard = self.wanted;
        }
        out.copy_from_slice(&self.sides[self.heard].out);
        if self.wanted != self.heard && self.sides[self.wanted].now.is_some() {
            fade(out, &self.sides[self.wanted].out);
            self.heard = self.wanted;
        }
        self.volume.apply(out, out.len() as f64 / f64::from(self.rate));
        match self.motion {
            Motion::Starting => {
                ease(out, true);
                self.motion = Motion::Running;
            }
            Motion::Stopping => {
                ease(out, false);
                self.motion = Motion::Still;
            }
            Motion::Running | Motion::Still => {}
        }
        let reach = self.sides.iter().map(Side::reach).max().unwrap_or(0);
        if self.after > reach / self.block() + 2 {
            (self.after, self.motion) = (0, Motion::Still);
            self.ends += 1;
            self.dry.iter_mut().for_each(|dry| dry.rewind());
        }
    }

    /// Puts the next block of dry sound to the past. One that is taken away fades out first.
    fn feed(&mut self) {
        let block = self.block();
        if self.dry.is_none() {
            (self.dry, self.after) = (self.next.take(), 0);
        }
        let Some(dry) = &mut self.dry else { return };
        let most = (PAST_S * f64::from(self.rate)) as usize / block;
        let mut piece = if self.past.len() > most { self.past.pop_front().unwrap_or_default() } else { Vec::new() };
        piece.resize_with(dry.channels(), Vec::new);
        piece.iter_mut().for_each(|channel| {
            channel.clear();
            channel.resize(block, 0.0);
        });
        let (mut done, mut ends) = (0, 0);
        // One that ends twice with nothing between has nothing in it.
        while done < block && self.after == 0 && ends < 2 {
            let given = dry.next(&mut piece, done);
            (done, ends) = (done + given, if given == 0 { ends + 1 } else { 0 });
            if done < block {
                self.after = usize::from(!self.repeats);
                dry.rewind();
            }
        }
        if done == 0 && self.after > 0 {
            self.after += 1;
        }
        if self.next.is_some() {
            for channel in &mut piece {
                let length = channel.len() as f32;
                channel.iter_mut().enumerate().for_each(|(index, value)| *value *= 1.0 - (index as f32 + 1.0) / length);
            }
            self.dry = None;
        }
        self.past.push_back(piece);
        self.fed += 1;
    }
}
