//! Sounds played through responses, whole and in blocks, and versions in turns.

use std::f64::consts::TAU;

use roomwright::dsp::resample::at_rate;
use roomwright::dsp::wav::Sound;
use roomwright::listen::alternate::{AlternateError, Turns, alternate};
use roomwright::listen::play::{PlayError, Playback};

use super::listen::{mono, noise, sine};

/// The sums of `listen::play` as they are written.
fn by_sums(dry: &[Vec<f32>], responses: &[Vec<Vec<f32>>], ear: usize) -> Vec<f64> {
    let length = dry[0].len() + responses[0][0].len() - 1;
    let mut heard = vec![0.0; length];
    for (loudspeaker, to) in responses.iter().enumerate() {
        for (at, value) in dry[loudspeaker.min(dry.len() - 1)].iter().enumerate() {
            for (back, weight) in to[ear].iter().enumerate() {
                heard[at + back] += f64::from(*value) * f64::from(*weight);
            }
        }
    }
    heard
}

fn closest(a: &[f32], b: impl IntoIterator<Item = f64>) -> f64 {
    let b: Vec<f64> = b.into_iter().collect();
    assert_eq!(a.len(), b.len());
    a.iter().zip(b).fold(0.0_f64, |miss, (a, b)| miss.max((f64::from(*a) - b).abs()))
}

#[test]
fn exact_sums_over_loudspeakers_whole_and_in_blocks() {
    let responses: Vec<Vec<Vec<f32>>> = (0..2).map(|speaker| (0..3).map(|ear| noise(10 * speaker + ear, 401)).collect()).collect();
    let playback = Playback::new(44_100, responses.clone()).unwrap();
    assert_eq!((playback.rate(), playback.loudspeakers(), playback.ears()), (44_100, 2, 3));
    for channels in [1, 2] {
        let dry = Sound { rate: 44_100, channels: (0..channels).map(|channel| noise(90 + channel, 1500)).collect() };
        let whole = playback.whole(&dry).unwrap();
        assert_eq!((whole.rate, whole.channels.len(), whole.frames()), (44_100, 3, 1900));
        let largest = whole.channels.iter().flatten().fold(0.0_f32, |largest, value| largest.max(value.abs()));
        for (ear, heard) in whole.channels.iter().enumerate() {
            assert!(closest(heard, by_sums(&dry.channels, &responses, ear)) < 1e-5);
        }
        for (block, step) in [(64, 100), (256, 1), (1000, 5000), (1, 7)] {
            let mut stream = playback.stream(channels as usize, block).unwrap();
            let mut heard = vec![Vec::new(); 3];
            for begin in (0..1500).step_by(step) {
                let pieces: Vec<&[f32]> = dry.channels.iter().map(|channel| &channel[begin..(begin + step).min(1500)]).collect();
                let told = stream.push(&pieces).unwrap();
                heard.iter_mut().zip(told).for_each(|(all, more)| all.extend(more));
            }
            heard.iter_mut().zip(stream.finish()).for_each(|(all, more)| all.extend(more));
            for (ear, heard) in heard.iter().enumerate() {
                let miss = closest(heard, whole.channels[ear].iter().map(|value| f64::from(*value)));
                assert!(miss < 1e-5 * f64::from(largest), "blocks of {block}, {step} at a time: {miss}");
            }
        }
    }
}

#[test]
fn keeps_the_rate_of_the_responses() {
    let playback = Playback::new(48_000, vec![vec![vec![1.0]]]).unwrap();
    let dry = mono(44_100, sine(44_100, 1000.0, -6.0, 0.5));
    let heard = playback.whole(&dry).unwrap();
    assert_eq!((heard.rate, heard.frames()), (48_000, 24_000));
    let expected = sine(48_000, 1000.0, -6.0, 0.5);
    // Away from the ends, where the sine begins and stops all at once.
    assert!(closest(&heard.channels[0][2000..22_000], expected[2000..22_000].iter().map(|value| f64::from(*value))) < 1e-5);
    let brought = at_rate(&dry.channels[0], 44_100, 48_000).unwrap();
    assert!(closest(&heard.channels[0], brought.into_iter().map(f64::from)) < 1e-6);
    assert_eq!(playback.whole(&mono(22_050, vec![1.0])), Err(PlayError::Rates { dry: 22_050, responses: 48_000 }));
}

#[test]
fn keeps_what_cannot_be_played_apart() {
    assert_eq!(Playback::new(48_000, vec![]), Err(PlayError::Responses));
    assert_eq!(Playback::new(48_000, vec![vec![]]), Err(PlayError::Responses));
    assert_eq!(Playback::new(48_000, vec![vec![vec![]]]), Err(PlayError::Responses));
    assert_eq!(Playback::new(48_000, vec![vec![vec![1.0]], vec![]]), Err(PlayError::Responses));
    assert_eq!(Playback::new(48_000, vec![vec![vec![f32::NAN]]]), Err(PlayError::NotFinite { of: "a response" }));
    let one = Playback::new(48_000, vec![vec![vec![1.0, 0.5], vec![0.5]]]).unwrap();
    let stereo = Sound { rate: 48_000, channels: vec![vec![1.0]; 2] };
    assert_eq!(one.whole(&stereo), Err(PlayError::Channels { channels: 2, loudspeakers: 1 }), "stereo into mono");
    assert_eq!(one.whole(&mono(48_000, vec![])), Err(PlayError::Dry));
    assert_eq!(one.whole(&Sound { rate: 48_000, channels: vec![] }), Err(PlayError::Channels { channels: 0, loudspeakers: 1 }));
    assert_eq!(one.whole(&mono(48_000, vec![f32::INFINITY])), Err(PlayError::NotFinite { of: "the dry sound" }));
    assert_eq!(one.whole(&mono(48_000, vec![1.0])).unwrap().channels, [[1.0, 0.5], [0.5, 0.0]], "one sample");
    assert_eq!(one.whole(&mono(48_000, vec![0.0; 4])).unwrap().channels, [[0.0; 5]; 2], "silence");
    assert!(one.stream(2, 64).is_err());
    let mut stream = one.stream(1, 64).unwrap();
    assert!(stream.push(&[]).is_err() && stream.push(&[&[1.0], &[1.0]]).is_err() && stream.push(&[&[f32::NAN]]).is_err());
    let nothing = vec![Vec::<f32>::new(); 2];
    assert_eq!(stream.push(&[&[]]).unwrap(), nothing);
    assert_eq!(stream.finish(), nothing, "nothing came in");
}

// Turns.

#[test]
fn keeps_versions_in_turns() {
    let rate = 48_000;
    let steps = |value: f32, frames: usize| Sound { rate, channels: vec![vec![value; frames], vec![-value; frames]] };
    // Three versions of 7.3 s at the most, 2 s each: 0, 1, 2, 0; one that ends early is silent then.
    let versions = [steps(0.1, 350_400), steps(0.2, 350_400), steps(0.3, 240_000)];
    let made = alternate(&versions, 2.0).unwrap();
    assert_eq!((made.sound.rate, made.sound.channels.len(), made.sound.frames()), (rate, 2, 350_400));
    let turns: Vec<_> = made.turns.iter().map(|turn| (turn.version, turn.from_s, turn.to_s)).collect();
    assert_eq!(turns, [(0, 0.0, 2.0), (1, 2.0, 4.0), (2, 4.0, 6.0), (0, 6.0, 7.3)]);
    let heard = |seconds: f64| made.sound.channels[0][(seconds * 48e3) as usize];
    for (seconds, expected) in
        [(0.0, 0.1), (1.98, 0.1), (2.02, 0.2), (3.98, 0.2), (4.02, 0.3), (4.98, 0.3), (5.02, 0.0), (5.98, 0.0), (6.02, 0.1), (7.29, 0.1)]
    {
        assert_eq!(heard(seconds), expected, "{seconds} s");
    }
    assert!(
        made.sound.channels[0].windows(2).all(|pair| (pair[0] - pair[1]).abs() < 0.002 || pair == [0.3, 0.0]),
        "no clicks but where a version ends"
    );
}

#[test]
fn exact_turns_in_pieces() {
    let rate = 8_000;
    for lengths in [vec![20_000, 20_000], vec![9_000, 20_000], vec![20_000, 7_000, 15_001], vec![700, 801]] {
        let of = |(seed, frames): (u64, &usize)| Sound { rate, channels: vec![noise(seed, *frames), noise(seed + 50, *frames)] };
        let versions: Vec<Sound> = (0..).zip(&lengths).map(of).collect();
        let frames = *lengths.iter().max().unwrap();
        let whole = alternate(&versions, 0.1).unwrap().sound;
        for step in [1, 97, 160, 4_000, frames] {
            let mut turns = Turns::new((versions.len(), 2), (rate, frames), 0.1).unwrap();
            let mut heard = vec![Vec::new(); 2];
            let (mut came, mut behind) = (0, 0);
            for from in (0..frames).step_by(step) {
                let part = |one: &Vec<f32>| one[from.min(one.len())..one.len().min(from + step)].to_vec();
                let pieces: Vec<Vec<Vec<f32>>> = versions.iter().map(|version| version.channels.iter().map(part).collect()).collect();
                let mut told = turns.push(&pieces.iter().map(Vec::as_slice).collect::<Vec<_>>()).into_iter();
                let mut sum = told.next().unwrap();
                told.for_each(|part| sum.iter_mut().flatten().zip(part.iter().flatten()).for_each(|(sum, value)| *sum += value));
                heard.iter_mut().zip(sum).for_each(|(all, more)| all.extend(more));
                came += pieces.iter().map(|version| version[0].len()).max().unwrap();
                behind = behind.max(came - heard[0].len());
            }
            assert_eq!(heard, whole.channels, "{lengths:?}, {step} at a time");
            assert!(behind < 160, "no more than a change is held back: {behind}");
        }
    }
}

#[test]
fn exact_power_through_a_change() {
    let rate = 48_000;
    let power = |samples: &[f32]| samples.iter().map(|value| f64::from(*value).powi(2)).sum::<f64>() / samples.len() as f64;
    // Alike: not a sample changes; with nothing in common: the same power all the way.
    let one = mono(rate, noise(1, 96_000));
    let same = alternate(&[one.clone(), one.clone()], 1.0).unwrap();
    assert!(closest(&same.sound.channels[0], one.channels[0].iter().map(|value| f64::from(*value))) < 1e-6);
    let sines =
        [0.0, 0.25].map(|turn| mono(rate, (0..96_000).map(|index| (TAU * (f64::from(index) / 48.0 + turn)).sin() as f32).collect()));
    let made = alternate(&sines, 1.0).unwrap();
    for middle in (47_520..48_480).step_by(48) {
        let found = power(&made.sound.channels[0][middle - 24..middle + 24]);
        assert!((found - 0.5).abs() < 0.035, "at {middle}: {found}");
    }
}

#[test]
fn keeps_what_takes_no_turns_apart() {
    let one = mono(48_000, vec![0.5; 100]);
    assert_eq!(alternate(&[], 1.0), Err(AlternateError::TooFew));
    assert_eq!(alternate(std::slice::from_ref(&one), 1.0), Err(AlternateError::TooFew));
    for seconds in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(alternate(&[one.clone(), one.clone()], seconds), Err(AlternateError::Seconds { .. })));
    }
    let stereo = Sound { rate: 48_000, channels: vec![vec![0.0; 100]; 2] };
    assert_eq!(alternate(&[one.clone(), stereo], 1.0), Err(AlternateError::Unlike { version: 2 }));
    assert_eq!(alternate(&[one.clone(), mono(44_100, vec![0.0])], 1.0), Err(AlternateError::Unlike { version: 2 }));
    assert_eq!(alternate(&[mono(0, vec![0.0]), mono(0, vec![0.0])], 1.0), Err(AlternateError::Rate { rate: 0 }));
    assert_eq!(alternate(&[one.clone(), mono(48_000, vec![f32::NAN])], 1.0), Err(AlternateError::NotFinite { version: 2 }));
    assert_eq!(alternate(&[mono(48_000, vec![]), mono(48_000, vec![])], 1.0), Err(AlternateError::Empty));
    // Shorter than a turn: the first alone.
    let short = alternate(&[one.clone(), mono(48_000, vec![])], 1.0).unwrap();
    assert_eq!((short.turns.len(), short.sound), (1, one));
}
