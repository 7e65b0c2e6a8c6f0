//! Who keeps the ring full: takes orders, renders blocks ahead of what is played, and says how it goes.
//!
//! Whoever plays (the callback of a device) takes frames out of the ring and nothing else: no lock, no memory, no word. [`AHEAD`] blocks
//! lie ready, 64 to 70 ms: so much later an order is heard, and one block of the device. A device that takes more at once than a block has
//! as much more ready. Orders are read before every block, so that a machine that renders more slowly than the device plays obeys all the
//! same.

use std::sync::atomic::{AtomicU32, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError};
use std::sync::{Arc, Mutex};

use super::device::Line;
use super::dry::Dry;
use super::mixer::{Frame, Mixer, Version};
use super::ring::{Filler, Taker, ring};

/// Blocks that lie ready.
pub(crate) const AHEAD: usize = 3;
/// Blocks that there is room for.
const ROOM: usize = 32;
/// After so many looks at which nothing plays the device may be let go, and after so many without a gap the gaps are forgotten: ten seconds
/// and somewhat more, at a look every 4 ms.
pub(crate) const LOOKS: u32 = 2500;
/// What is left of a frame one sample later when no frame is there: gone within some milliseconds, without a click.
const GOING: f32 = 0.98;

/// What a feeder is told.
pub(crate) enum Order {
    /// Another dry sound, and the gains of both versions with it.
    Dry(Box<dyn Dry>, [f32; 2]),
    /// Whether it begins again at its end.
    Repeat(bool),
    /// Another response for a version, and its gain.
    Version(usize, Box<Version>, f32),
    /// The gain of a version.
    Gain(usize, f32),
    /// Which one is heard.
    Hear(usize),
    /// Plays or holds.
    Play(bool),
    /// The hand moves the volume, dB re full scale.
    Volume(f64),
}

/// How it goes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Pulse {
    /// Whether it plays.
    pub(crate) plays: bool,
    /// Which version is heard.
    pub(crate) heard: usize,
    /// How often the response of each was exchanged.
    pub(crate) exchanges: [u32; 2],
    /// By how much the guard has lowered the volume, dB.
    pub(crate) guard_db: f64,
    /// How often a sound that is played once came to its end.
    pub(crate) ends: u32,
}

/// Fills the ring.
pub(crate) struct Feeder {
    mixer: Mixer,
    filler: Filler,
    orders: Receiver<Order>,
    block: Vec<Frame>,
    pulse: Arc<Mutex<Pulse>>,
    /// Most frames that were taken at once.
    taken: Arc<AtomicUsize>,
    gaps: Arc<AtomicU32>,
    /// Gaps at the last look, and looks since there were fewer.
    calm: (u32, u32),
    /// Looks since something played.
    still: u32,
}

/// Empties it.
pub(crate) struct Player {
    taker: Taker,
    last: Frame,
    pub(super) gaps: Arc<AtomicU32>,
    taken: Arc<AtomicUsize>,
}

impl Feeder {
    /// A feeder of a line at so many samples a second, and the player that it feeds.
    pub(crate) fn new(rate: u32, line: Line) -> (Self, Player) {
        let Line { orders, pulse, gaps, volume_db, .. } = line;
        let mixer = Mixer::new(rate, volume_db);
        let (filler, taker) = ring(ROOM * mixer.block());
        let block = vec![[0.0; 2]; mixer.block()];
        let taken = Arc::new(AtomicUsize::new(0));
        let player = Player { taker, last: [0.0; 2], gaps: gaps.clone(), taken: taken.clone() };
        (Self { mixer, filler, orders, block, pulse, taken, gaps, calm: (0, 0), still: 0 }, player)
    }

    /// Takes orders and fills up. Whether anybody is left who gives some; whether something has changed.
    pub(crate) fn step(&mut self) -> (bool, bool) {
        let mut is_alive = self.obey();
        let ahead = AHEAD.max(self.taken.load(Ordering::Relaxed).div_ceil(self.block.len()) + 2).min(ROOM);
        // No more rounds than blocks that are to lie ready: a device that takes them faster than they are made would never let this end.
        for _ in 0..ahead {
            if self.filler.waiting() + self.block.len() > ahead * self.block.len() {
                break;
            }
            self.mixer.render(&mut self.block);
            self.filler.put(&self.block);
            is_alive = self.obey();
        }
        let (heard, exchanges, ends) = self.mixer.told();
        let now = Pulse { plays: self.mixer.plays(), heard, exchanges, guard_db: self.mixer.volume.guard_db(), ends };
        self.still = if now.plays { 0 } else { self.still.saturating_add(1) };
        let forgets = self.forgets_gaps();
        let Ok(mut pulse) = self.pulse.lock() else { return (false, false) };
        let is_new = *pulse != now || forgets;
        *pulse = now;
        (is_alive, is_new)
    }

    /// Whether nothing has played for so long that the device may be let go.
    pub(crate) fn is_idle(&self) -> bool {
        self.still >= LOOKS
    }

    /// Takes all orders that there are. Whether anybody is left who gives some.
    fn obey(&mut self) -> bool {
        loop {
            match self.orders.try_recv() {
                Ok(order) => self.take(order),
                Err(TryRecvError::Empty) => return true,
                Err(TryRecvError::Disconnected) => return false,
            }
        }
    }

    /// Forgets gaps that lie some time back. Whether it did.
    fn forgets_gaps(&mut self) -> bool {
        let gaps = self.gaps.load(Ordering::Relaxed);
        self.calm = if gaps == self.calm.0 { (gaps, self.calm.1.saturating_add(1)) } else { (gaps, 0) };
        // One that comes just now is kept.
        gaps > 0 && self.calm.1 >= LOOKS && self.gaps.compare_exchange(gaps, 0, Ordering::Relaxed, Ordering::Relaxed).is_ok()
    }

    fn take(&mut self, order: Order) {
        let mixer = &mut self.mixer;
        match order {
            Order::Dry(dry, gains) => {
                mixer.set_dry(dry);
                gains.into_iter().enumerate().for_each(|(side, gain)| mixer.set_gain(side, gain));
            }
            Order::Repeat(repeats) => mixer.set_repeats(repeats),
            Order::Version(side, version, gain) => mixer.set_version(side, *version, gain),
            Order::Gain(side, gain) => mixer.set_gain(side, gain),
            Order::Hear(side) => mixer.hear(side),
            Order::Play(plays) => mixer.play(plays),
            Order::Volume(volume_db) => mixer.volume.set(volume_db),
        }
    }
}

impl Player {
    /// The next frame. Where none is there it dies away, and that is counted.
    pub(crate) fn frame(&mut self) -> Frame {
        self.last = self.taker.take().unwrap_or_else(|| {
            if self.last != [0.0; 2] {
                self.gaps.fetch_add(1, Ordering::Relaxed);
            }
            self.last.map(|value| if value.abs() < 1e-6 { 0.0 } else { GOING * value })
        });
        self.last
    }

    /// The next frames, for so many channels side by side: one hears the mean of both ears, of more than two the first two sound.
    pub(crate) fn fill<T>(&mut self, out: &mut [T], channels: usize, of: impl Fn(f32) -> T) {
        self.taken.fetch_max(out.len() / channels.max(1), Ordering::Relaxed);
        for frame in out.chunks_mut(channels.max(1)) {
            let [left, right] = self.frame();
            match frame {
                [one] => *one = of(0.5 * (left + right)),
                [first, second, rest @ ..] => {
                    (*first, *second) = (of(left), of(right));
                    rest.iter_mut().for_each(|value| *value = of(0.0));
                }
                [] => {}
            }
        }
    }
}
