//! How loud: the volume that the user's hand sets, a guard that only lowers, and the fade from one version into another.
//!
//! **Volume** follows the hand by [`RISE_DB_S`] at most when it goes up, and quickly when it goes down; within a block it runs in a
//! straight line.
//! **Guard.** What would pass [`CEILING`] is lowered from there on, and stays lowered until the hand raises the volume: nothing here ever
//! raises a gain, and a hand that pulls the volume down makes nothing louder. A sample that is no finite number is silent.
//! **Fade.** One version goes into the next over a block as `roomwright::listen::alternate` has it between files: the power stays whatever they
//! have in common, and what is the same in both passes unchanged.
//!
//! *Limits.* The guard looks at samples; between them a signal may rise further, by less than 3 dB in music (common practice, no source).

use roomwright::listen::alternate::Fade;

/// Fastest rise of the volume, dB a second: from silence to full in five seconds.
pub(crate) const RISE_DB_S: f64 = 12.0;
/// Fastest fall, dB a second.
const FALL_DB_S: f64 = 400.0;
/// What no sample passes, re full scale: -1 dB.
pub(crate) const CEILING: f32 = 0.891;
/// A step of the guard, dB.
const GUARD_STEP_DB: f64 = 0.5;

/// The factor of a gain in dB.
pub(crate) fn factor(gain_db: f64) -> f32 {
    10.0_f64.powf(0.05 * gain_db) as f32
}

/// The volume, and what lowers it.
#[derive(Clone, Debug)]
pub(crate) struct Volume {
    /// Where the hand has put it, dB re full scale.
    wanted_db: f64,
    /// Where it is.
    now_db: f64,
    /// By how much less the guard lets through, dB: 0 or less.
    guard_db: f64,
    /// The factor at the end of the last block.
    last: f32,
}

impl Volume {
    /// A volume that stands at so many dB.
    pub(crate) fn new(volume_db: f64) -> Self {
        Self { wanted_db: volume_db, now_db: volume_db, guard_db: 0.0, last: factor(volume_db) }
    }

    /// The hand moves it. Up, the guard begins anew, and the volume starts from what was heard; down, what is heard ends no higher than it
    /// would have.
    pub(crate) fn set(&mut self, volume_db: f64) {
        let (heard_db, end_db, volume_db) = (self.now_db + self.guard_db, self.wanted_db + self.guard_db, volume_db.min(0.0));
        self.guard_db = if volume_db > self.wanted_db { 0.0 } else { end_db.min(volume_db) - volume_db };
        (self.wanted_db, self.now_db) = (volume_db, heard_db - self.guard_db);
    }

    /// By how much the guard has lowered it, dB: 0 or less.
    pub(crate) fn guard_db(&self) -> f64 {
        self.guard_db
    }

    /// Brings a block of so many seconds to its volume.
    pub(crate) fn apply(&mut self, block: &mut [[f32; 2]], seconds: f64) {
        self.now_db = self.wanted_db.clamp(self.now_db - FALL_DB_S * seconds, self.now_db + RISE_DB_S * seconds);
        let count = block.len() as f32;
        let (from, to) = (self.last, factor(self.now_db + self.guard_db));
        for (index, frame) in block.iter_mut().enumerate() {
            let gain = from + (to - from) * (index as f32 + 1.0) / count;
            for value in frame {
                let heard = *value * gain;
                *value = if heard.is_finite() { heard } else { 0.0 };
            }
        }
        self.last = to;
        self.guard(block);
    }

    /// Lowers what would be too much, from the beginning of the block to the first such sample in a straight line, and all after it.
    fn guard(&mut self, block: &mut [[f32; 2]]) {
        let size = |frame: &[f32; 2]| frame[0].abs().max(frame[1].abs());
        let Some(first) = block.iter().position(|frame| size(frame) > CEILING) else { return };
        let most = block.iter().map(size).fold(0.0, f32::max);
        let mut more_db = 0.0;
        while most * factor(more_db) > CEILING {
            more_db -= GUARD_STEP_DB;
        }
        self.guard_db += more_db;
        let lower = factor(more_db);
        for (index, frame) in block.iter_mut().enumerate() {
            let gone = ((index as f32 + 1.0) / (first as f32 + 1.0)).min(1.0);
            frame.iter_mut().for_each(|value| *value *= 1.0 + (lower - 1.0) * gone);
        }
        self.last *= lower;
    }
}

/// Fades a block into another one, in place of the first.
pub(crate) fn fade(from: &mut [[f32; 2]], to: &[[f32; 2]]) {
    let both = from.iter().flatten().zip(to.iter().flatten()).map(|(from, to)| [*from, *to]);
    let fade = Fade::new(both, from.len());
    for (index, (from, to)) in from.iter_mut().zip(to).enumerate() {
        from.iter_mut().zip(to).for_each(|(from, to)| *from = fade.heard(index, [*from, *to]));
    }
}

/// Lets a block begin, or end, in silence.
pub(crate) fn ease(block: &mut [[f32; 2]], begins: bool) {
    let length = block.len() as f32;
    for (index, frame) in block.iter_mut().enumerate() {
        let place = (index as f32 + 0.5) / length;
        let share = 0.5 - 0.5 * (std::f32::consts::PI * if begins { place } else { 1.0 - place }).cos();
        frame.iter_mut().for_each(|value| *value *= share);
    }
}
