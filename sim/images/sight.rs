//! Which surfaces can see which: each has some part in front of the other.
//!
//! A bit for each pair up to [`HELD_MOST`] surfaces, 32 MB at most (a mesh of 5,000 takes 3 MB); of more, asked anew whenever a search comes
//! by, which costs about what the look at the next surface costs anyway. What comes is the same either way, in the same order.

use rayon::prelude::*;

use super::mirrors::Mirror;

/// Surfaces up to which every pair is held.
pub(super) const HELD_MOST: usize = 16_384;

/// Sight among the surfaces of a room.
pub(super) enum Sight {
    /// Of so many surfaces that no pair is held.
    Asked,
    /// Bit `k` of row `i`: surface `i` sees surface `k`. Rows begin at a whole word.
    Held { words: usize, rows: Vec<u64> },
}

impl Sight {
    /// Among these surfaces, pairs held up to so many.
    pub(super) fn new(all: &[Mirror], held_most: usize) -> Self {
        if all.len() > held_most {
            return Self::Asked;
        }
        let words = all.len().div_ceil(64).max(1);
        let mut rows = vec![0_u64; words * all.len()];
        rows.par_chunks_mut(words).zip(all).for_each(|(row, from)| {
            for seen in (0..all.len()).filter(|&k| from.sees(&all[k])) {
                row[seen / 64] |= 1 << (seen % 64);
            }
        });
        Self::Held { words, rows }
    }

    /// Every surface that this one sees, in order, until one of them fails.
    pub(super) fn try_each<E>(&self, all: &[Mirror], from: usize, mut visit: impl FnMut(usize) -> Result<(), E>) -> Result<(), E> {
        match self {
            Self::Asked => (0..all.len()).filter(|&k| all[from].sees(&all[k])).try_for_each(visit),
            Self::Held { words, rows } => {
                for (word, &bits) in rows[from * words..(from + 1) * words].iter().enumerate() {
                    let mut left = bits;
                    while left != 0 {
                        visit(word * 64 + left.trailing_zeros() as usize)?;
                        left &= left - 1;
                    }
                }
                Ok(())
            }
        }
    }

    /// How many surfaces this one sees.
    pub(super) fn count(&self, all: &[Mirror], from: usize) -> usize {
        match self {
            Self::Asked => all.iter().filter(|other| all[from].sees(other)).count(),
            Self::Held { words, rows } => rows[from * words..(from + 1) * words].iter().map(|bits| bits.count_ones() as usize).sum(),
        }
    }
}
