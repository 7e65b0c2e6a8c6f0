//! Files as they are played: in pieces, at another rate, over and over, or not at all.

use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use roomwright::dsp::resample::at_rate;
use roomwright::dsp::wav::{self, Form, Sound};

use super::*;

const RATE: u32 = 48_000;
const BLOCK: usize = 1024;

/// A WAV file of an hour that nobody has written: its samples are made when they are read.
struct Endless {
    head: Vec<u8>,
    bytes: u64,
    at: u64,
    furthest: Arc<AtomicU64>,
}

impl Endless {
    fn new(rate: u32, seconds: u64, furthest: Arc<AtomicU64>) -> Self {
        let bytes = seconds * u64::from(rate) * 2;
        let mut head = b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0".to_vec();
        head.extend(rate.to_le_bytes());
        head.extend((2 * rate).to_le_bytes());
        head.extend([2, 0, 16, 0]);
        head.extend(b"data");
        head.extend((bytes as u32).to_le_bytes());
        Self { head, bytes, at: 0, furthest }
    }
}

impl Read for Endless {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let end = self.head.len() as u64 + self.bytes;
        let count = buffer.len().min((end - self.at) as usize);
        for value in &mut buffer[..count] {
            let index = self.at as usize;
            *value = self.head.get(index).copied().unwrap_or((index / 64 % 50) as u8);
            self.at += 1;
        }
        self.furthest.fetch_max(self.at, Ordering::Relaxed);
        Ok(count)
    }
}

impl Seek for Endless {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        match to {
            SeekFrom::Start(at) => self.at = at,
            _ => return Err(io::ErrorKind::Unsupported.into()),
        }
        Ok(self.at)
    }
}

/// Reads a block of a file that is being read ahead: waits for what the thread has not read yet.
fn next(tape: &mut dyn Dry, frames: usize) -> Vec<f32> {
    let mut out = vec![vec![0.0; frames]];
    assert_eq!(tape.next(&mut out, 0), frames);
    out.remove(0)
}

#[test]
fn keeps_a_long_file_in_pieces() {
    let furthest = Arc::new(AtomicU64::new(0));
    let make = {
        let furthest = furthest.clone();
        move || Endless::new(44_100, 3000, furthest.clone())
    };
    let take = Take::of(&mut make(), Path::new("long.wav"), 1 << 40).unwrap();
    assert_eq!((take.rate, take.channels, take.seconds), (44_100, 1, 3000.0));
    furthest.store(0, Ordering::Relaxed);
    let mut tape = take.play_from(RATE, move || Ok(make()), |why| panic!("{why}")).patient();
    let mut most = 0;
    for block in 1..=600 {
        next(&mut tape, BLOCK);
        thread::sleep(Duration::from_micros(300));
        let played = (block * BLOCK) as u64 * 44_100 / 48_000 * 2;
        most = most.max(furthest.load(Ordering::Relaxed).saturating_sub(played));
    }
    // Two pieces that lie ready, the one that waits for room, the one that is played, margins: of half a second each.
    assert!(most < 5 * 44_100 * 2 / 2 + 20_000, "{most} bytes ahead of {} in the file", 3000 * 44_100 * 2);
    assert!(most > 44_100, "it is read ahead: {most} bytes");
    let told = furthest.load(Ordering::Relaxed);
    assert!(told < 3000 * 44_100 * 2 / 100, "{told} bytes of the file are read, not all");
}

/// Pieces at another rate are together what the whole is.
#[test]
fn exact_pieces_of_a_file_at_another_rate() {
    for (from, to) in [(44_100, 48_000), (48_000, 48_000), (96_000, 44_100), (44_100, 96_000)] {
        let make = move || Endless::new(from, 3, Arc::default());
        let take = Take::of(&mut make(), Path::new("short.wav"), 1 << 40).unwrap();
        let mut bytes = Vec::new();
        make().read_to_end(&mut bytes).unwrap();
        let whole = at_rate(&wav::read(&bytes).unwrap().channels[0], from, to).unwrap();
        let mut tape = take.play_from(to, move || Ok(make()), |why| panic!("{why}")).patient();
        let mut heard = vec![vec![0.0; whole.len() + 500]];
        let mut count = 0;
        while count < whole.len() {
            count += tape.next(&mut heard, count);
        }
        assert_eq!(count, whole.len(), "it ends where the file does: {from} to {to}");
        tape.rewind();
        assert_eq!(tape.next(&mut heard, count), 500, "and begins anew");
        let again = whole.iter().chain(&whole).take(whole.len() + 500);
        assert!(heard[0].iter().zip(again).all(|(heard, whole)| (heard - whole).abs() < 1e-6), "{from} to {to}");
    }
}

/// Each kind of file that cannot be played has its sentence.
#[test]
fn keeps_a_sentence_for_every_file_that_cannot_be_played() {
    let folder = std::env::temp_dir().join(format!("roomwright-sound-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let tone = |rate: u32, channels: usize, size: f32| {
        let one: Vec<f32> = (0..rate / 2).map(|index| size * (0.05 * index as f32).sin()).collect();
        wav::write(&Sound { rate, channels: vec![one; channels] }, Form::Pcm24, None).unwrap()
    };
    let good = tone(RATE, 2, 0.5);
    let mut long = good.clone();
    let data = long.windows(4).position(|word| word == b"data").unwrap();
    long[data + 4..data + 8].copy_from_slice(&u32::MAX.to_le_bytes());
    let mut odd = good.clone();
    odd.extend([0; 6]);
    odd[data + 4..data + 8].copy_from_slice(&((good.len() - data - 8 + 5) as u32).to_le_bytes());
    let cases: [(&str, Vec<u8>, &str); 10] = [
        ("text.wav", b"once upon a time there was a room".to_vec(), "not a WAV file"),
        ("empty.wav", Vec::new(), "not a WAV file"),
        ("silent.wav", tone(RATE, 1, 0.0), "it is silent throughout"),
        ("three.wav", tone(RATE, 3, 0.5), "it has 3 channels; one or two are played"),
        ("slow.wav", tone(22_050, 1, 0.5), "it has 22050 samples a second; 44100, 48000 and 96000"),
        ("cut.wav", good[..good.len() / 2].to_vec(), "the file ends early"),
        ("head.wav", good[..40].to_vec(), "there are no samples in it"),
        ("odd.wav", odd, "are no whole number of frames of 6 bytes"),
        ("long.wav", long, "cut it to an hour and 2 GiB"),
        (
            "coarse.wav",
            {
                let mut eight = good.clone();
                eight[34] = 8;
                eight
            },
            "too coarse",
        ),
    ];
    for (name, bytes, says) in cases {
        let path = folder.join(name);
        std::fs::write(&path, bytes).unwrap();
        let why = Take::look_at(&path).unwrap_err();
        assert!(why.starts_with(&format!("{name}: ")) && why.contains(says) && why.ends_with('.') && why.len() > name.len() + 20, "{why}");
    }
    assert!(Take::look_at(&folder.join("none.wav")).unwrap_err().starts_with("none.wav cannot be read"));
    let path = folder.join("good.wav");
    std::fs::write(&path, &good).unwrap();
    let take = Take::look_at(&path).unwrap();
    assert_eq!((take.channels, take.rate, take.excerpt(44_100).unwrap().frames()), (2, RATE, 22_050));
    std::fs::remove_dir_all(&folder).unwrap();
}

/// What cannot be read once it plays is silent, is told with its place, and the rest goes on; a file that is gone is told.
#[test]
fn keeps_silence_within_a_file_no_secret() {
    let seconds = 4;
    let mut bytes = b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x03\0\x01\0".to_vec();
    bytes.extend(RATE.to_le_bytes());
    bytes.extend((4 * RATE).to_le_bytes());
    bytes.extend([4, 0, 32, 0]);
    bytes.extend(b"data");
    bytes.extend((4 * RATE * seconds).to_le_bytes());
    let samples = |index: u32| if index == 2 * RATE + 700 { f32::NAN } else { 0.25 };
    bytes.extend((0..RATE * seconds).flat_map(|index| samples(index).to_le_bytes()));
    let there = bytes.len() as u64;
    let mut file = io::Cursor::new(bytes);
    let take = Take::of(&mut file, Path::new("hole.wav"), there).unwrap();
    let (say, told) = std::sync::mpsc::channel();
    let mut files = vec![file];
    let open = move || files.pop().ok_or_else(|| io::ErrorKind::NotFound.into());
    let mut tape = take.play_from(RATE, open, move |why| say.send(why).unwrap()).patient();
    let heard = next(&mut tape, (RATE * seconds) as usize);
    let at = |second: f64| heard[(second * f64::from(RATE)) as usize];
    assert!(at(0.1) == 0.25 && at(2.0 + 700.0 / 48_000.0) == 0.0 && at(3.9) == 0.25);
    let first = told.recv().unwrap();
    assert!(first.starts_with("hole.wav: a part of it after ") && first.contains("no finite number"), "{first}");
    let then = told.recv().unwrap();
    assert!(then.starts_with("hole.wav cannot be read any more"), "{then}");
    assert!(told.recv().is_err(), "and nothing else");
}

/// Whoever plays never waits for the disk: a block that is not there is silence at once.
#[test]
fn keeps_a_late_disk_from_holding_the_sound() {
    let take = Take::of(&mut Endless::new(RATE, 3, Arc::default()), Path::new("late.wav"), 1 << 40).unwrap();
    let (go, wait) = std::sync::mpsc::channel::<()>();
    let open = move || {
        wait.recv().unwrap();
        Ok(Endless::new(RATE, 3, Arc::default()))
    };
    let mut tape = take.play_from(RATE, open, |why| panic!("{why}"));
    // The file is let be opened only afterwards. A block lasts 21 ms.
    assert!(tape.late < Duration::from_millis(2) && next(&mut tape, BLOCK).iter().all(|value| *value == 0.0));
    go.send(()).unwrap();
    assert!(next(&mut tape.patient(), BLOCK).iter().any(|value| *value != 0.0));
}
