//! What is heard, sample by sample, without a device.

use std::sync::Arc;
use std::sync::mpsc::{Sender, channel};

use roomwright::dsp::wav::Sound;
use roomwright::listen::play::Playback;

use super::device::{Line, Voice};
use super::dry::{Dry, Held};
use super::feeder::{AHEAD, Feeder, Order, Player};
use super::gain::{CEILING, RISE_DB_S, Volume, factor};
use super::mixer::{Frame, Mixer, Version, block_of};

#[path = "feeder_tests.rs"]
mod feeder_tests;

const RATE: u32 = 48_000;
const BLOCK: usize = 1024;

/// Noise between -1 and 1 that is the same at every run.
fn noise(seed: u64, count: usize) -> Vec<f32> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut next = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 40) as f32 / (1 << 23) as f32 - 1.0
    };
    (0..count).map(|_| next()).collect()
}

/// Responses that die away, so that nothing comes near full scale.
fn responses(seed: u64, sources: usize, ears: usize, count: usize) -> Vec<Vec<Vec<f32>>> {
    let one = |seed: u64| {
        let fall = |index: usize| 0.006 * (-6.0 * index as f32 / count as f32).exp();
        noise(seed, count).iter().enumerate().map(|(index, value)| value * fall(index)).collect()
    };
    (0..sources).map(|source| (0..ears).map(|ear| one(seed + (10 * source + ear) as u64)).collect()).collect()
}

fn version(responses: &[Vec<Vec<f32>>]) -> Version {
    Version::new(RATE, responses.to_vec()).unwrap()
}

fn held(channels: Vec<Vec<f32>>) -> Box<dyn Dry> {
    Box::new(Held::new(Arc::new(Sound { rate: RATE, channels })))
}

/// A mixer that plays a dry sound through A and B at full volume.
fn playing(dry: &[Vec<f32>], versions: &[&[Vec<Vec<f32>>]]) -> Mixer {
    let mut mixer = Mixer::new(RATE, 0.0);
    mixer.set_dry(held(dry.to_vec()));
    versions.iter().enumerate().for_each(|(side, responses)| mixer.set_version(side, version(responses), 1.0));
    mixer.play(true);
    mixer
}

fn blocks(mixer: &mut Mixer, count: usize) -> Vec<Frame> {
    let mut heard = Vec::new();
    for _ in 0..count {
        let mut block = vec![[0.0; 2]; mixer.block()];
        mixer.render(&mut block);
        heard.extend(block);
    }
    heard
}

/// What the ears hear of the whole, by the library; one ear is heard in both.
fn whole(dry: &[Vec<f32>], responses: &[Vec<Vec<f32>>]) -> Vec<Frame> {
    let heard = Playback::new(RATE, responses.to_vec()).unwrap().whole(&Sound { rate: RATE, channels: dry.to_vec() }).unwrap();
    let (left, right) = (heard.channels.first().unwrap(), heard.channels.last().unwrap());
    left.iter().zip(right).map(|(left, right)| [*left, *right]).collect()
}

fn far(one: &[Frame], other: &[Frame]) -> f32 {
    one.iter().flatten().zip(other.iter().flatten()).map(|(one, other)| (one - other).abs()).fold(0.0, f32::max)
}

fn loudest(frames: &[Frame]) -> f32 {
    frames.iter().flatten().map(|value| value.abs()).fold(0.0, f32::max)
}

/// The same samples as the library has them, a block later, with the tail; then it rests. Sound `exact` within 1e-5 of the largest, as
/// `listen::play` is.
#[test]
fn exact_as_the_whole_sound() {
    for (channels, sources, ears) in [(1, 1, 1), (1, 2, 2), (2, 2, 2), (1, 3, 2), (1, 2, 1)] {
        let dry: Vec<Vec<f32>> = (0..channels).map(|channel| noise(7 + channel, 30_000)).collect();
        let responses = responses(3, sources, ears, 20_000);
        let expected = whole(&dry, &responses);
        let mut mixer = playing(&dry, &[&responses]);
        mixer.set_repeats(false);
        let heard = blocks(&mut mixer, 55);
        let most = loudest(&expected);
        assert!(most > 0.05 && most < CEILING, "{most}");
        assert_eq!(loudest(&heard[..BLOCK]), 0.0, "one block late");
        let error = far(&heard[BLOCK..], &expected);
        assert!(error <= 1e-5 * most, "{channels} {sources} {ears}: {error} of {most}");
        assert!(loudest(&heard[BLOCK + expected.len() + BLOCK..]) < 1e-9);
        assert!(!mixer.plays(), "a sound that is played once ends by itself");
        mixer.play(true);
        let again = blocks(&mut mixer, 30);
        assert!(far(&again[BLOCK..], &expected) <= 1e-5 * most, "and begins anew");
    }
}

/// Two channels that are not one for each loudspeaker come from all as their mean.
#[test]
fn exact_mean_of_channels_that_do_not_fit() {
    let dry = vec![noise(1, 9_000), noise(2, 9_000)];
    let mean: Vec<f32> = dry[0].iter().zip(&dry[1]).map(|(left, right)| 0.5 * (left + right)).collect();
    for sources in [1, 3] {
        let responses = responses(5, sources, 2, 4_000);
        let heard = blocks(&mut playing(&dry, &[&responses]), 8);
        assert!(far(&heard[BLOCK..], &whole(std::slice::from_ref(&mean), &responses)) < 1e-5);
    }
}

#[test]
fn exact_over_and_over() {
    // Ends within a block, at its edge, and several times in one.
    for length in [2_500, 3 * BLOCK, 300] {
        let (once, responses) = (noise(11, length), responses(2, 2, 2, 5_000));
        let many: Vec<f32> = once.iter().copied().cycle().take(20 * BLOCK).collect();
        let heard = blocks(&mut playing(&[once], &[&responses]), 20);
        assert!(far(&heard[BLOCK..], &whole(&[many], &responses)) < 1e-5, "{length}");
    }
}

/// A response that is the same passes the exchange as if nothing had been.
#[test]
fn keeps_what_is_the_same_in_both_while_it_is_exchanged() {
    let (dry, responses) = (vec![noise(1, 60_000)], responses(9, 2, 2, 40_000));
    let mut mixer = playing(&dry, &[&responses]);
    let mut heard = blocks(&mut mixer, 45);
    mixer.set_version(0, version(&responses), 1.0);
    heard.extend(blocks(&mut mixer, 25));
    assert_eq!(mixer.told().1[0], 2, "it was exchanged");
    let expected = whole(&[dry[0].iter().copied().cycle().take(70 * BLOCK).collect()], &responses);
    assert!(far(&heard[BLOCK..], &expected) < 1e-5);
}

/// An exchange of what differs: the old one until a block, the new one from there on with its whole tail, and no jump that neither has.
#[test]
fn keeps_an_exchange_free_of_gaps_and_clicks() {
    // A tone that glides, so that the largest jump of each version is that of its tone and not of noise.
    let glide = |index: usize| {
        let time = index as f64 / f64::from(RATE);
        0.5 * (std::f64::consts::TAU * (180.0 * time + 35.0 * time * time)).sin() as f32
    };
    let dry: Vec<f32> = (0..100 * BLOCK).map(glide).collect();
    let (old, new) = (responses(21, 2, 2, 40_000), responses(22, 2, 2, 30_000));
    let mut mixer = playing(std::slice::from_ref(&dry), &[&old]);
    let mut heard = blocks(&mut mixer, 50);
    mixer.set_version(0, version(&new), 1.0);
    heard.extend(blocks(&mut mixer, 40));
    let (before, after) = (whole(std::slice::from_ref(&dry), &old), whole(&[dry], &new));
    let heard = &heard[BLOCK..];
    let is_new = |block: usize| far(&heard[block * BLOCK..(block + 1) * BLOCK], &after[block * BLOCK..]) < 1e-5;
    let is_old = |block: usize| far(&heard[block * BLOCK..(block + 1) * BLOCK], &before[block * BLOCK..]) < 1e-5;
    let first_new = (0..89).find(|block| is_new(*block)).unwrap();
    assert!((0..first_new - 1).all(is_old) && (first_new..89).all(is_new), "one block lies between");
    assert!(first_new - 49 <= 8, "the past is made up for within {} blocks", first_new - 49);
    let jump =
        |frames: &[Frame]| frames.windows(2).flat_map(|pair| [0, 1].map(|ear| (pair[1][ear] - pair[0][ear]).abs())).fold(0.0, f32::max);
    let around = (first_new - 2) * BLOCK..(first_new + 1) * BLOCK;
    let most = jump(&before[around.clone()]).max(jump(&after[around.clone()]));
    assert!(jump(&heard[around.clone()]) <= most, "{} over {most}", jump(&heard[around]));
    // A hard change would have been noticed.
    let cut: Vec<Frame> = [&before[..first_new * BLOCK], &after[first_new * BLOCK..]].concat();
    assert!(jump(&cut[(first_new - 1) * BLOCK..(first_new + 1) * BLOCK]) > 1.2 * most);
}

/// One that comes while another is being fed waits, and of those that wait the latest is heard.
#[test]
fn keeps_the_latest_of_many_responses() {
    let dry = vec![noise(1, 200 * BLOCK)];
    let all: Vec<_> = (0..5).map(|seed| responses(100 * seed, 1, 2, 60_000)).collect();
    let mut mixer = playing(&dry, &[&all[0]]);
    let mut heard = blocks(&mut mixer, 70);
    for one in &all[1..] {
        mixer.set_version(0, version(one), 1.0);
        heard.extend(blocks(&mut mixer, 2));
    }
    heard.extend(blocks(&mut mixer, 30));
    assert_eq!(mixer.told().1[0], 3, "the first, the one that was being fed, the latest");
    let expected = whole(&dry, &all[4]);
    assert!(far(&heard[100 * BLOCK..107 * BLOCK], &expected[99 * BLOCK..]) < 1e-5);
}

#[test]
fn keeps_both_versions_a_block_apart() {
    let dry = vec![noise(1, 60 * BLOCK)];
    let (a, b) = (responses(31, 2, 2, 30_000), responses(32, 2, 2, 30_000));
    let mut mixer = playing(&dry, &[&a, &b]);
    let mut heard = blocks(&mut mixer, 40);
    mixer.hear(1);
    heard.extend(blocks(&mut mixer, 5));
    mixer.hear(0);
    heard.extend(blocks(&mut mixer, 5));
    let (a, b) = (whole(&dry, &a), whole(&dry, &b));
    let is = |block: usize, of: &[Frame]| far(&heard[block * BLOCK..(block + 1) * BLOCK], &of[(block - 1) * BLOCK..]) < 1e-5;
    assert!((1..40).all(|block| is(block, &a)) && (41..45).all(|block| is(block, &b)) && (46..50).all(|block| is(block, &a)));
    // The same in both passes the change unchanged, where plain `cos` and `sin` would bump by 3 dB.
    let same = responses(31, 2, 2, 30_000);
    let mut mixer = playing(&dry, &[&same, &same]);
    let mut heard = blocks(&mut mixer, 20);
    mixer.hear(1);
    heard.extend(blocks(&mut mixer, 20));
    assert!(far(&heard[BLOCK..], &a) < 1e-5);
}

#[test]
fn keeps_the_version_that_is_there_until_the_other_is() {
    let (dry, a) = (vec![noise(1, 60 * BLOCK)], responses(31, 2, 2, 9_000));
    let mut mixer = playing(&dry, &[&a]);
    let mut heard = blocks(&mut mixer, 10);
    mixer.hear(1);
    heard.extend(blocks(&mut mixer, 10));
    assert!(far(&heard[BLOCK..], &whole(&dry, &a)) < 1e-5);
    mixer.set_version(1, version(&responses(32, 2, 2, 9_000)), 1.0);
    blocks(&mut mixer, 10);
    assert_eq!(mixer.told().0, 1);
    // Nothing goes by unheard before there is any response.
    let mut mixer = playing(&dry, &[]);
    assert_eq!(loudest(&blocks(&mut mixer, 10)), 0.0);
    mixer.set_version(0, version(&a), 1.0);
    assert!(far(&blocks(&mut mixer, 20)[BLOCK..], &whole(&dry, &a)) < 1e-5);
}

#[test]
fn keeps_a_pause_between_what_belongs_together() {
    let (dry, a) = (vec![noise(1, 60 * BLOCK)], responses(31, 2, 2, 9_000));
    let expected = whole(&dry, &a);
    let mut mixer = playing(&dry, &[&a]);
    let before = blocks(&mut mixer, 20);
    mixer.play(false);
    let stop = blocks(&mut mixer, 1);
    assert_eq!(loudest(&blocks(&mut mixer, 5)), 0.0);
    mixer.play(true);
    let after = blocks(&mut mixer, 10);
    assert!(far(&before[BLOCK..], &expected) < 1e-5);
    // It goes down within a block and comes up within one; what is between goes on where it was held.
    let (at, held) = (19 * BLOCK, stop.len());
    assert!(far(&stop[..8], &expected[at..]) < 1e-3 && loudest(&stop[held - 8..]) < 1e-3 * loudest(&expected));
    assert!(loudest(&after[..8]) < 1e-3 * loudest(&expected));
    assert!(far(&after[BLOCK..], &expected[21 * BLOCK..]) < 1e-5);
}

/// A constant 1 through a response of 1: what is heard is the gain.
fn gain_of(orders: impl Fn(&mut Mixer, usize), volume_db: f64, count: usize) -> Vec<f32> {
    let mut mixer = Mixer::new(RATE, volume_db);
    mixer.set_dry(held(vec![vec![1.0; 4 * BLOCK]]));
    (0..2).for_each(|side| mixer.set_version(side, version(&[vec![vec![1.0]]]), 1.0));
    mixer.play(true);
    let mut gains = Vec::new();
    for index in 0..count {
        orders(&mut mixer, index);
        gains.extend(blocks(&mut mixer, 1).into_iter().map(|frame| frame[0]));
    }
    gains
}

#[test]
fn keeps_the_volume_to_the_hand_and_its_rise_slow() {
    let seconds = BLOCK as f64 / f64::from(RATE);
    let gains = gain_of(
        |mixer, index| {
            if index == 10 {
                mixer.volume.set(-6.0);
            }
        },
        -36.0,
        160,
    );
    assert!((gains[9 * BLOCK] - factor(-36.0)).abs() < 1e-6 && (gains[159 * BLOCK] - factor(-6.0)).abs() < 1e-5);
    let steps = gains[10 * BLOCK..].windows(2).map(|pair| pair[1] / pair[0]);
    // In a straight line over a block the first sample rises fastest, by a little more than the mean.
    let most = f64::from(factor(RISE_DB_S * seconds) - 1.0) / BLOCK as f64;
    assert!(steps.clone().all(|step| f64::from(step) > 1.0 - 1e-6 && f64::from(step) < 1.0 + most + 1e-6));
    let until = gains.iter().position(|gain| *gain > factor(-6.01)).unwrap();
    let took_s = (until - 10 * BLOCK) as f64 / f64::from(RATE);
    assert!((took_s - 30.0 / RISE_DB_S).abs() < 0.05, "{took_s} s for 30 dB");
    // Down at once, without a jump.
    let gains = gain_of(
        |mixer, index| {
            if index == 10 {
                mixer.volume.set(-60.0);
            }
        },
        -12.0,
        30,
    );
    assert!(gains[18 * BLOCK] < 1.01 * factor(-60.0));
    assert!(
        gains[9 * BLOCK..].windows(2).all(|pair| pair[1] - pair[0] < 1e-6 && pair[0] - pair[1] < 2.0 * gains[9 * BLOCK] / BLOCK as f32)
    );
}

/// Nothing but the hand raises a gain: whatever is exchanged, chosen, held and played, a gain of 0 dB or less stays below the volume.
#[test]
fn keeps_every_gain_below_the_volume() {
    let chance = noise(77, 900);
    let orders = |mixer: &mut Mixer, index: usize| match (8.0 * (chance[index] + 1.0)) as usize {
        0 => mixer.set_version(index % 2, version(&[vec![vec![1.0]]]), 1.0),
        1 => mixer.set_version(index % 2, version(&[vec![vec![0.3]]]), 1.0),
        2 => mixer.set_gain(1, 0.2),
        3 => mixer.set_gain(index % 2, 1.0),
        4 => mixer.hear(index % 2),
        5 => mixer.play(false),
        6 | 7 => mixer.play(true),
        8 => mixer.set_dry(held(vec![vec![1.0; 3000]])),
        9 => mixer.set_repeats(index.is_multiple_of(2)),
        _ => {}
    };
    let gains = gain_of(
        |mixer, index| {
            if index == 150 {
                mixer.volume.set(-32.0);
            }
            orders(mixer, index);
        },
        -20.0,
        300,
    );
    let most = |blocks: std::ops::Range<usize>| gains[blocks.start * BLOCK..blocks.end * BLOCK].iter().copied().fold(0.0, f32::max);
    assert!(most(0..150) <= factor(-20.0) + 1e-6 && most(152..300) <= factor(-32.0) + 1e-6, "{} {}", most(0..150), most(152..300));
    assert!(most(0..150) > 0.05 * factor(-20.0) && most(152..300) > 0.05 * factor(-32.0), "and it was heard, at the least of both gains");
}

/// A gain belongs to its response: one that comes with a lower gain is never heard at the gain of the one before, nor that at its gain.
#[test]
fn exact_gain_with_the_response_that_it_belongs_to() {
    let gains = gain_of(
        |mixer, index| {
            if index == 20 {
                mixer.set_version(0, version(&[vec![vec![4.0]]]), 0.25);
            }
        },
        -20.0,
        60,
    );
    assert!(gains[BLOCK..].iter().all(|gain| (gain / factor(-20.0) - 1.0).abs() < 1e-4), "what both make is the same");
    // A gain that the hand raises rises as slowly as the volume, and not before the response that it is meant for is there.
    let gains = gain_of(
        |mixer, index| {
            if index == 5 {
                mixer.set_gain(0, 0.1);
            } else if index == 20 {
                mixer.set_version(0, version(&[vec![vec![1.0]]]), 0.1);
                mixer.set_gain(0, 1.0);
            }
        },
        -20.0,
        200,
    );
    assert!((gains[20 * BLOCK - 1] - factor(-40.0)).abs() < 1e-6 && (gains[199 * BLOCK] - factor(-20.0)).abs() < 1e-5);
    let seconds = BLOCK as f64 / f64::from(RATE);
    assert!((20..199).all(|block| gains[(block + 1) * BLOCK] <= gains[block * BLOCK] * factor(1.01 * RISE_DB_S * seconds)));
    let until = gains[20 * BLOCK..].iter().position(|gain| *gain > factor(-20.01)).unwrap() as f64 / f64::from(RATE);
    assert!(until > 20.0 / RISE_DB_S - 0.05, "{until} s for 20 dB");
}

/// A hand that pulls the volume down makes nothing louder, whatever the guard has lowered; one that raises it begins anew.
#[test]
fn keeps_the_way_down_a_way_down() {
    let seconds = BLOCK as f64 / f64::from(RATE);
    let mut volume = Volume::new(-6.0);
    let heard = |volume: &mut Volume, size: f32, count: usize| {
        let mut last = 0.0;
        for _ in 0..count {
            let mut block = vec![[size; 2]; BLOCK];
            volume.apply(&mut block, seconds);
            last = block[BLOCK - 1][0] / size;
        }
        last
    };
    let lowered = heard(&mut volume, 6.0, 4);
    assert!(volume.guard_db() < -9.0 && 6.0 * lowered <= CEILING);
    for volume_db in [-8.0, -8.0, -12.0] {
        volume.set(volume_db);
        assert!((heard(&mut volume, 0.1, 100) / lowered - 1.0).abs() < 1e-3, "at {volume_db} dB");
    }
    volume.set(-40.0);
    assert!((heard(&mut volume, 0.1, 100) / factor(-40.0) - 1.0).abs() < 1e-3 && volume.guard_db() == 0.0);
    volume.set(-30.0);
    assert!((heard(&mut volume, 0.1, 100) / factor(-30.0) - 1.0).abs() < 1e-3);
}

#[test]
fn keeps_what_is_no_number_silent() {
    let mut volume = Volume::new(0.0);
    let mut block = vec![[0.5; 2]; BLOCK];
    (block[7], block[9][0], block[11][1]) = ([f32::NAN; 2], f32::INFINITY, f32::NEG_INFINITY);
    volume.apply(&mut block, 0.02);
    assert_eq!((block[7], block[9], block[11], volume.guard_db()), ([0.0; 2], [0.0, 0.5], [0.5, 0.0], 0.0));
    assert!(block.iter().flatten().filter(|value| **value == 0.5).count() == 2 * BLOCK - 4);
}

/// Asked to repeat while its tail still rings, a sound that was to play once begins again, and is not at its end.
#[test]
fn keeps_a_sound_that_is_to_repeat_after_all() {
    let mut mixer = playing(&[vec![0.5; 2 * BLOCK]], &[&responses(1, 1, 2, 60_000)]);
    mixer.set_repeats(false);
    blocks(&mut mixer, 10);
    mixer.set_repeats(true);
    blocks(&mut mixer, 200);
    assert!(mixer.plays() && mixer.told().2 == 0 && loudest(&blocks(&mut mixer, 1)) > 0.0);
    mixer.set_repeats(false);
    blocks(&mut mixer, 200);
    assert!(!mixer.plays() && mixer.told().2 == 1);
}

/// What would pass full scale is lowered, and stays so when it is soft again, until the hand raises the volume.
#[test]
fn keeps_the_guard_lowering_only() {
    let mut mixer = Mixer::new(RATE, 0.0);
    let levels = [vec![0.4; 8 * BLOCK], vec![3.0; 8 * BLOCK], vec![0.4; 200 * BLOCK]].concat();
    mixer.set_dry(held(vec![levels]));
    mixer.set_version(0, version(&[vec![vec![1.0]]]), 1.0);
    mixer.play(true);
    let heard = blocks(&mut mixer, 40);
    assert!(loudest(&heard) <= CEILING);
    let lowered = mixer.volume.guard_db();
    assert!((-11.5..=-10.5).contains(&lowered), "{lowered} dB for 3 over 0.891");
    assert!((heard[5 * BLOCK][0] - 0.4).abs() < 1e-5);
    assert!((heard[39 * BLOCK][0] - 0.4 * factor(lowered)).abs() < 1e-4);
    mixer.volume.set(-1.0);
    mixer.volume.set(0.0);
    let heard = blocks(&mut mixer, 100);
    assert!(mixer.volume.guard_db() == 0.0 && (heard[99 * BLOCK][0] - 0.4).abs() < 1e-3, "the hand begins anew, slowly");
    assert!(heard.windows(2).all(|pair| pair[1][0] < 1.001 * pair[0][0]));
}

/// Another dry sound: the one before fades out, its tail rings on.
#[test]
fn keeps_the_tail_of_a_sound_that_another_takes_the_place_of() {
    let (one, other, a) = (vec![0.5; 30 * BLOCK], vec![-0.25; 30 * BLOCK], vec![vec![vec![0.5]]]);
    let mut mixer = playing(&[one], &[&a]);
    blocks(&mut mixer, 10);
    mixer.set_dry(held(vec![other.clone(), other]));
    let heard = blocks(&mut mixer, 6);
    assert!((heard[BLOCK / 2][0] - 0.25).abs() < 1e-5 && (heard[5 * BLOCK][0] + 0.125).abs() < 1e-5);
    assert!(heard[..2 * BLOCK].windows(2).all(|pair| (pair[1][0] - pair[0][0]).abs() < 1e-3));
}

/// A feeder by hand, and whoever plays.
fn line(volume_db: f64) -> (Sender<Order>, Feeder, Player) {
    let (orders, taken) = channel();
    let voice = Voice { line: 1, back: channel().0, wake: Arc::new(|| ()) };
    let line = Line { orders: taken, voice, pulse: Arc::default(), gaps: Arc::default(), volume_db };
    let (feeder, player) = Feeder::new(RATE, line);
    (orders, feeder, player)
}

/// From the key to the ear: less than 150 ms, with a device that takes 10 ms at a time.
#[test]
fn keeps_the_other_version_within_a_moment() {
    let (orders, mut feeder, mut player) = line(0.0);
    orders.send(Order::Dry(held(vec![vec![0.5; 48_000]]), [1.0; 2])).unwrap();
    for (side, gain) in [(0, 1.0), (1, -1.0)] {
        orders.send(Order::Version(side, Box::new(version(&[vec![vec![gain]]])), 1.0)).unwrap();
    }
    orders.send(Order::Play(true)).unwrap();
    let mut out = vec![0.0; 2 * 480];
    let mut play = |player: &mut Player| {
        player.fill(&mut out, 2, |value| value);
        out[2 * 479]
    };
    for _ in 0..50 {
        feeder.step();
        play(&mut player);
    }
    orders.send(Order::Hear(1)).unwrap();
    let mut callbacks = 0;
    while play(&mut player) > -0.49 {
        feeder.step();
        callbacks += 1;
        assert!(callbacks < 15, "{} ms", 10 * callbacks);
    }
    assert!(callbacks >= 5, "what lay ready was played first");
    drop(orders);
    assert!(!feeder.step().0, "nobody gives orders any more");
}

/// Where nothing lies ready sound dies away and is counted; a device that takes much at once has more ready the next time.
#[test]
fn keeps_a_gap_from_clicking() {
    let (orders, mut feeder, mut player) = line(0.0);
    orders.send(Order::Dry(held(vec![vec![0.5; 48_000]]), [1.0; 2])).unwrap();
    orders.send(Order::Version(0, Box::new(version(&[vec![vec![1.0]]])), 1.0)).unwrap();
    orders.send(Order::Play(true)).unwrap();
    feeder.step();
    let mut out = vec![0.0_f32; 6 * BLOCK];
    player.fill(&mut out, 1, |value| value);
    assert!(out.windows(2).skip(2 * BLOCK).all(|pair| pair[1] <= pair[0] + 1e-6 && pair[0] - pair[1] < 0.011));
    assert!(out[AHEAD * BLOCK - 1] > 0.49 && out[AHEAD * BLOCK + 500] < 1e-3 && out[6 * BLOCK - 1] == 0.0);
    feeder.step();
    player.fill(&mut out, 1, |value| value);
    assert!(out.iter().skip(1).all(|value| *value > 0.49), "six blocks lay ready");
    let mut four = vec![9.0; 8];
    feeder.step();
    player.fill(&mut four, 4, |value| value);
    assert!(four[0] == four[1] && four[0] > 0.49 && four[2..4] == [0.0; 2], "channels beyond two are silent");
}

/// How much faster than it is heard two sources at two ears are rendered, both versions at once; printed, not judged.
#[test]
#[ignore = "a figure to read, not a rule: cargo test -p viewer -- --ignored --nocapture faster"]
#[expect(clippy::disallowed_methods, clippy::print_stdout, reason = "looks at the clock, for the one who asks")]
fn faster_than_it_is_heard() {
    let dry = vec![noise(1, 48_000)];
    let (a, b) = (responses(1, 2, 2, 96_000), responses(2, 2, 2, 96_000));
    let mut mixer = playing(&dry, &[&a, &b]);
    blocks(&mut mixer, 100);
    let begun = std::time::Instant::now();
    blocks(&mut mixer, 1000);
    let took = begun.elapsed().as_secs_f64();
    let heard = 1000.0 * block_of(RATE) as f64 / f64::from(RATE);
    println!("two versions of 2 sources x 2 ears x 2 s at 48 kHz: {:.0} times faster than heard", heard / took);
    let slowest = (0..12).map(|_| {
        mixer.set_version(0, version(&b), 1.0);
        (0..20)
            .map(|_| {
                let begun = std::time::Instant::now();
                blocks(&mut mixer, 1);
                begun.elapsed()
            })
            .max()
            .unwrap()
    });
    println!(
        "the slowest block while a response is exchanged: {:?} of {:.1} ms",
        slowest.max().unwrap(),
        1e3 * BLOCK as f64 / f64::from(RATE)
    );
}
