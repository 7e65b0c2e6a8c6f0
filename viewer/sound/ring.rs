//! Samples on their way from whoever renders them to whoever plays them, without a lock: a ring that one thread fills and another empties.
//!
//! Frames of two samples each, kept as the bits of a float in atomic words. `head` counts the frames put in, `tail` those taken out; each
//! is written by one side alone, with `Release`, and read by the other with `Acquire`, so that a frame is seen only when it is whole.
//!
//! *Limits.* One filler and one taker: each end can be had once.

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, AtomicUsize, Ordering};

/// What both ends share.
struct Ring {
    slots: Vec<[AtomicU32; 2]>,
    head: AtomicUsize,
    tail: AtomicUsize,
}

/// The end that is filled.
pub(crate) struct Filler(Arc<Ring>);

/// The end that is emptied.
pub(crate) struct Taker(Arc<Ring>);

/// Both ends of a ring for so many frames.
pub(crate) fn ring(frames: usize) -> (Filler, Taker) {
    let slots = (0..frames.max(1)).map(|_| [AtomicU32::new(0), AtomicU32::new(0)]).collect();
    let ring = Arc::new(Ring { slots, head: AtomicUsize::new(0), tail: AtomicUsize::new(0) });
    (Filler(ring.clone()), Taker(ring))
}

impl Filler {
    /// Frames that wait to be taken.
    pub(crate) fn waiting(&self) -> usize {
        self.0.head.load(Ordering::Relaxed).wrapping_sub(self.0.tail.load(Ordering::Acquire))
    }

    /// Puts frames in as far as there is room; how many went in.
    pub(crate) fn put(&mut self, frames: &[[f32; 2]]) -> usize {
        let head = self.0.head.load(Ordering::Relaxed);
        let count = frames.len().min(self.0.slots.len() - self.waiting());
        for (index, frame) in frames[..count].iter().enumerate() {
            let slot = &self.0.slots[head.wrapping_add(index) % self.0.slots.len()];
            slot.iter().zip(frame).for_each(|(slot, value)| slot.store(value.to_bits(), Ordering::Relaxed));
        }
        self.0.head.store(head.wrapping_add(count), Ordering::Release);
        count
    }
}

impl Taker {
    /// The next frame, if one waits.
    pub(crate) fn take(&mut self) -> Option<[f32; 2]> {
        let tail = self.0.tail.load(Ordering::Relaxed);
        if self.0.head.load(Ordering::Acquire) == tail {
            return None;
        }
        let slot = &self.0.slots[tail % self.0.slots.len()];
        let frame = [0, 1].map(|ear| f32::from_bits(slot[ear].load(Ordering::Relaxed)));
        self.0.tail.store(tail.wrapping_add(1), Ordering::Release);
        Some(frame)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_every_frame_in_order_across_threads() {
        let (mut filler, mut taker) = ring(64);
        let count = 20_000;
        let filling = std::thread::spawn(move || {
            let mut next = 0;
            while next < count {
                let frames: Vec<[f32; 2]> = (next..count.min(next + 37)).map(|frame| [frame as f32, -(frame as f32)]).collect();
                next += filler.put(&frames);
                std::thread::yield_now();
            }
        });
        for frame in 0..count {
            let taken = loop {
                match taker.take() {
                    Some(taken) => break taken,
                    None => std::thread::yield_now(),
                }
            };
            assert_eq!(taken, [frame as f32, -(frame as f32)]);
        }
        filling.join().unwrap();
        assert!(taker.take().is_none());
    }

    #[test]
    fn keeps_what_waits_when_it_is_full() {
        let (mut filler, mut taker) = ring(3);
        assert_eq!(filler.put(&[[1.0; 2], [2.0; 2], [3.0; 2], [4.0; 2]]), 3);
        assert_eq!((filler.waiting(), filler.put(&[[5.0; 2]])), (3, 0));
        assert_eq!(taker.take(), Some([1.0; 2]));
        assert_eq!(filler.put(&[[5.0; 2]]), 1);
        assert_eq!([taker.take(), taker.take(), taker.take(), taker.take()], [Some([2.0; 2]), Some([3.0; 2]), Some([5.0; 2]), None]);
    }
}
