//! A feeder that is late, that is held, that had gaps.

use std::sync::Mutex;

use super::super::feeder::LOOKS;
use super::*;

/// A sound that takes longer to render than to play: while a block is made the device takes three, and then the hand holds.
struct Slow {
    player: Arc<Mutex<Option<Player>>>,
    orders: Sender<Order>,
    made: usize,
}

impl Dry for Slow {
    fn channels(&self) -> usize {
        1
    }

    fn next(&mut self, out: &mut [Vec<f32>], from: usize) -> usize {
        self.made += 1;
        assert!(self.made < 1000, "the order to hold was never read");
        if let Some(player) = &mut *self.player.lock().unwrap() {
            (0..3 * BLOCK).for_each(|_| _ = player.frame());
        }
        if self.made == 2 {
            self.orders.send(Order::Play(false)).unwrap();
        }
        out[0][from..].fill(0.5);
        out[0].len() - from
    }

    fn rewind(&mut self) {}
}

#[test]
fn keeps_obeying_when_the_machine_is_too_slow() {
    let (orders, mut feeder, player) = line(0.0);
    let player = Arc::new(Mutex::new(Some(player)));
    let slow = Slow { player: player.clone(), orders: orders.clone(), made: 0 };
    orders.send(Order::Dry(Box::new(slow), [1.0; 2])).unwrap();
    orders.send(Order::Version(0, Box::new(version(&[vec![vec![1.0]]])), 1.0)).unwrap();
    orders.send(Order::Play(true)).unwrap();
    feeder.step();
    let mut player = player.lock().unwrap().take().unwrap();
    feeder.step();
    (0..20 * BLOCK).for_each(|_| _ = player.frame());
    assert!(player.frame()[0].abs() < 1e-5, "it is held");
}

/// Held long enough the device may be let go, and gaps that lie back are forgotten.
#[test]
fn keeps_a_held_device_and_old_gaps_no_longer_than_needed() {
    let (orders, mut feeder, mut player) = line(0.0);
    orders.send(Order::Dry(held(vec![vec![0.5; 48_000]]), [1.0; 2])).unwrap();
    orders.send(Order::Version(0, Box::new(version(&[vec![vec![1.0]]])), 1.0)).unwrap();
    orders.send(Order::Play(true)).unwrap();
    feeder.step();
    (0..4 * BLOCK).for_each(|_| _ = player.frame());
    let gaps = |player: &Player| player.gaps.load(std::sync::atomic::Ordering::Relaxed);
    assert!(gaps(&player) > 0);
    (0..LOOKS).for_each(|_| _ = feeder.step());
    assert!(gaps(&player) > 0 && !feeder.is_idle(), "it plays");
    assert!(feeder.step().1 && gaps(&player) == 0, "and what has changed is said");
    orders.send(Order::Play(false)).unwrap();
    for _ in 0..LOOKS {
        feeder.step();
        (0..BLOCK).for_each(|_| _ = player.frame());
    }
    assert!(feeder.is_idle());
    orders.send(Order::Play(true)).unwrap();
    feeder.step();
    assert!(!feeder.is_idle());
}
