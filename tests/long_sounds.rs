//! An hour of sound takes no more memory than a minute: it is read, played and written in pieces of one size. Stopped or gone on the way, it
//! leaves nothing behind.

use std::io::{self, Read, Seek, SeekFrom, Write};
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

use roomwright::dsp::wav::{Layout, ReadError, Reading, Sound};
use roomwright::listen::supply::{Open, PIECE, Supply};
use roomwright::progress::Progress;
use roomwright::report::{PlayedError, write_played};
use roomwright::study::{self, ListenAsked, ListenError, Listened, Listener};

use crate::support::small_scene;

/// A WAV file of 16 bits that nobody has written: its samples are made as they are read, and what is asked of it is counted.
struct Unwritten {
    head: Vec<u8>,
    bytes: u64,
    at: u64,
    asked: Arc<Asked>,
}

/// What was asked of a file.
#[derive(Default)]
struct Asked {
    /// The most bytes at once.
    largest: AtomicUsize,
    /// The furthest that were given.
    furthest: AtomicU64,
}

impl Unwritten {
    fn new((rate, channels): (u32, u16), seconds: u64, asked: Arc<Asked>) -> Self {
        let frame = 2 * channels;
        let bytes = seconds * u64::from(rate) * u64::from(frame);
        let mut head = b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x01\0".to_vec();
        head.extend(channels.to_le_bytes());
        head.extend(rate.to_le_bytes());
        head.extend((rate * u32::from(frame)).to_le_bytes());
        head.extend(frame.to_le_bytes());
        head.extend(b"\x10\0data");
        head.extend((bytes as u32).to_le_bytes());
        Self { head, bytes, at: 0, asked }
    }

    /// What opens it, again and again.
    fn opened(form: (u32, u16), seconds: u64, asked: &Arc<Asked>) -> Open {
        let asked = asked.clone();
        Arc::new(move || Ok(Box::new(Self::new(form, seconds, asked.clone())) as Box<dyn Reading>))
    }
}

impl Read for Unwritten {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let left = (self.head.len() as u64 + self.bytes).saturating_sub(self.at);
        let count = (buffer.len() as u64).min(left) as usize;
        for (value, at) in buffer[..count].iter_mut().zip(self.at..) {
            *value = self.head.get(at as usize).copied().unwrap_or((at / 64 % 50) as u8);
        }
        self.at += count as u64;
        self.asked.largest.fetch_max(buffer.len(), Ordering::Relaxed);
        self.asked.furthest.fetch_max(self.at, Ordering::Relaxed);
        Ok(count)
    }
}

impl Seek for Unwritten {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        match to {
            SeekFrom::Start(at) => self.at = at,
            SeekFrom::End(0) => self.at = self.head.len() as u64 + self.bytes,
            _ => return Err(io::ErrorKind::Unsupported.into()),
        }
        Ok(self.at)
    }
}

/// A file that counts what it is given and keeps nothing of it.
#[derive(Default)]
struct Counting {
    bytes: u64,
    largest: usize,
    /// The most bytes that were read and not written yet, in samples of a channel.
    behind: u64,
    asked: Arc<Asked>,
}

impl Write for Counting {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        // 24 bits of one ear, out of 16 bits of one channel.
        self.behind = self.behind.max((self.asked.furthest.load(Ordering::Relaxed) / 2).saturating_sub(self.bytes / 3));
        self.bytes += bytes.len() as u64;
        self.largest = self.largest.max(bytes.len());
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn heard(dry: Supply) -> Result<Listened, ListenError> {
    let dry = vec![("long".to_owned(), dry)];
    let asked = ListenAsked { dry, receiver: 0, listener: Listener::Point, measured: None, turned_deg: 0.0, rate: 48_000, turn_s: 4.0 };
    study::hear_and_listen(&Progress::new(), &small_scene(1_000), None, &asked).map(|(_, _, listened)| listened)
}

#[test]
fn keeps_pieces_of_one_size_however_long_the_sound() {
    let mut found = Vec::new();
    for seconds in [60, 3600] {
        let asked = Arc::new(Asked::default());
        let listened = heard(Supply::file(Unwritten::opened((48_000, 1), seconds, &asked)).expect("it is a sound")).expect("it is heard");
        asked.furthest.store(0, Ordering::Relaxed);
        let mut file = Counting { asked: asked.clone(), ..Counting::default() };
        write_played(&Progress::new(), &listened, &listened.played[0], &mut [&mut file]).expect("it is written");
        assert!(file.bytes > seconds * 48_000 * 3, "{seconds} s: {} bytes", file.bytes);
        found.push((asked.largest.load(Ordering::Relaxed), file.largest, file.behind));
    }
    assert_eq!(found[0], found[1], "bytes asked for at once, written at once, read and not written yet");
    let (read, written, behind) = found[0];
    // Two bytes of a piece, and what a reader asks for beyond; three bytes of a piece, or of the rest with the tail; a piece and a block.
    assert!(read <= 4 * PIECE && written < 3 * 8 * PIECE && behind <= 2 * PIECE as u64 + 1_000, "{found:?}");
}

#[test]
fn keeps_a_sentence_for_files_beyond_two_gibibytes() {
    // Three hours of one channel make 518 million samples, 3.1 GB at 24 bits for two ears.
    let asked = Arc::new(Asked::default());
    let open = Unwritten::opened((48_000, 1), 3 * 3600, &asked);
    let mut file = open().expect("it opens");
    let layout = Layout::read(&mut *file, 1 << 40).expect("a file may be long, as long as it is read in pieces");
    let dry = vec![("long".to_owned(), Supply::File { layout, peak: 0.5, open })];
    let head = ListenAsked { dry, receiver: 0, listener: Listener::Head, measured: None, turned_deg: 0.0, rate: 48_000, turn_s: 4.0 };
    let progress = Progress::new();
    let why = study::hear_and_listen(&progress, &small_scene(1_000), None, &head).expect_err("it is too long");
    assert!(why.to_string().starts_with("long: a WAV file of 10800 s would hold 3110400000 bytes"), "{why}");
    assert_eq!(progress.state().0, "", "nothing was begun");
    assert!(asked.furthest.load(Ordering::Relaxed) < 100, "none of its samples was read");
}

#[test]
fn keeps_a_stop_while_it_is_written() {
    let asked = Arc::new(Asked::default());
    let listened = heard(Supply::file(Unwritten::opened((48_000, 1), 60, &asked)).expect("it is a sound")).expect("it is heard");
    /// Somebody presses Ctrl-C once something is written.
    struct Stopping(Progress, u64);
    impl Write for Stopping {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.1 += bytes.len() as u64;
            if self.1 > 1_000 {
                self.0.cancel();
            }
            Ok(bytes.len())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }
    let progress = Progress::new();
    let mut file = Stopping(progress.clone(), 0);
    let stopped = write_played(&progress, &listened, &listened.played[0], &mut [&mut file]);
    assert!(matches!(stopped, Err(PlayedError::Listen(ListenError::Stopped(_)))), "{stopped:?}");
    let (stage, done, total) = progress.state();
    assert_eq!((stage, total), ("writing sounds", 60 * 48_000));
    assert!(done < 5 * PIECE as u64 && file.1 < 60 * 48_000, "it ends soon: {done} samples, {} bytes", file.1);
}

#[test]
fn keeps_a_sentence_for_a_sound_that_is_gone_by_then() {
    let form = ((48_000, 1), Arc::new(Asked::default()));
    // Whole at first; then cut, then not there at all.
    let states = Arc::new(Mutex::new(vec![None, Some(2), Some(10), Some(10)]));
    let open: Open = Arc::new(move || match states.lock().expect("nobody panics").pop().flatten() {
        Some(seconds) => {
            let mut file = Unwritten::new(form.0, 10, form.1.clone());
            file.bytes = 96_000 * seconds;
            Ok(Box::new(file) as Box<dyn Reading>)
        }
        None => Err(io::Error::new(io::ErrorKind::NotFound, "there is no such file or folder")),
    });
    let listened = heard(Supply::file(open).expect("it is a sound")).expect("it is heard");
    let play = || write_played(&Progress::new(), &listened, &listened.played[0], &mut [&mut io::sink()]).expect_err("it is not there");
    let cut = play().to_string();
    assert_eq!(cut, "long: the file ends early: its header promises 10.00 s of sound and 2.00 s are there; copy or export it anew");
    assert_eq!(play().to_string(), "long: it cannot be read: there is no such file or folder");
}

#[test]
fn exact_supply_is_the_whole_sound() {
    let asked = Arc::new(Asked::default());
    let mut bytes = Vec::new();
    Unwritten::new((44_100, 2), 4, asked.clone()).read_to_end(&mut bytes).expect("it reads");
    let whole = roomwright::dsp::wav::read(&bytes).expect("it is a sound");
    let in_pieces = |supply: &Supply, rate: u32| {
        let mut channels = vec![Vec::new(); supply.channels()];
        for piece in supply.play(rate).expect("it opens") {
            channels.iter_mut().zip(piece.expect("it reads")).for_each(|(all, more)| all.extend(more));
        }
        assert_eq!(channels[0].len() as u64, supply.frames_at(rate));
        channels
    };
    let file = Supply::file(Unwritten::opened((44_100, 2), 4, &asked)).expect("it is a sound");
    let held = Supply::from(whole.clone());
    assert_eq!((file.channels(), file.rate(), file.frames(), file.peak()), (held.channels(), held.rate(), held.frames(), held.peak()));
    assert!(file.frames() > 2 * PIECE as u64, "several pieces");
    assert_eq!((&in_pieces(&file, 44_100), &in_pieces(&held, 44_100)), (&whole.channels, &whole.channels));
    let brought: Vec<Vec<f32>> =
        whole.channels.iter().map(|one| roomwright::dsp::resample::at_rate(one, 44_100, 96_000).expect("both rates are known")).collect();
    assert_eq!((&in_pieces(&file, 96_000), &in_pieces(&held, 96_000)), (&brought, &brought));
    assert!(matches!(Supply::from(Sound { rate: 22_050, channels: vec![vec![0.5]] }).play(48_000), Err(ReadError::System(_))));
}
