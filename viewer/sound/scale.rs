//! The gains of both versions: on one scale, or equally loud, and never raised but by the hand.
//!
//! On one scale both have one gain. Equally loud, each has the gain `L - loudness`, `L` the loudest that both can be without a gain above
//! what it was: what is softer now pulls the other one down, and what is louder now comes down itself. Both lie so far below the scale of
//! the responses that no sound passes full scale with the volume all the way up.
//!
//! So gains only fall while panels move; [`Scale::anew`] is for the hand: another scale, another sound, a volume that is raised.
//!
//! *Limits.* One version whose loudness is not known keeps the gain that it has.

use super::ready::Loud;

/// What the largest sample may be with the volume all the way up, and where it is brought if it is more, dB re full scale.
const PEAKS_DB: (f64, f64) = (-1.0, -3.0);

/// Gains, as they were set last.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Scale {
    /// Gains of both, dB: 0 or less, and no gain ever passes it.
    now_db: [f64; 2],
    /// How far below the scale of the responses both lie, dB: 0 or less.
    pad_db: f64,
}

impl Scale {
    /// The hand has moved: gains may be anything again.
    pub(crate) fn anew(&mut self) {
        *self = Self::default();
    }

    /// Gains for versions so loud, dB.
    pub(crate) fn follow(&mut self, equal: bool, loud: [Option<Loud>; 2]) -> [f64; 2] {
        for loud in loud.iter().flatten() {
            if loud.peak_db + self.pad_db > PEAKS_DB.0 {
                self.pad_db = PEAKS_DB.1 - loud.peak_db;
            }
        }
        let most = self.now_db.map(|now_db| now_db.min(self.pad_db));
        self.now_db = match loud.map(|loud| loud.map(|loud| loud.loudness_db)) {
            [Some(a), Some(b)] if equal => {
                let level = (a + most[0]).min(b + most[1]);
                [level - a, level - b]
            }
            _ if equal => most,
            _ => [most[0].min(most[1]); 2],
        };
        self.now_db
    }

    /// By how much both are softer than they would be if the hand began anew, dB: 0 or more.
    pub(crate) fn held_back_db(&self, equal: bool, loud: [Option<Loud>; 2]) -> f64 {
        let fresh = Self::default().follow(equal, loud);
        (0..2).map(|side| fresh[side] - self.now_db[side]).fold(0.0, f64::max)
    }
}
