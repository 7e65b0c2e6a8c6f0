//! WAV files against `hound`, both ways; the chunk of broadcasters, pieces, and broken ones by the thousand.

use std::io::Cursor;

use hound::{SampleFormat, WavReader, WavSpec, WavWriter};
use roomwright::dsp::wav::{Broadcast, Form, Frames, Layout, ReadError, Shape, Sound, WavError, read, write};
use roomwright::random::{Purpose, Stream};

use super::dsp::noise;
use crate::validation::{Check, hold};

fn sound(channels: usize, frames: usize, rate: u32) -> Sound {
    Sound { rate, channels: (0..channels as u64).map(|seed| noise(seed, frames)).collect() }
}

fn about() -> Broadcast {
    Broadcast {
        description: "Sweep; full scale is 100 dB re 20 uPa".to_owned(),
        history: "A=PCM,F=48000,W=24,M=mono\nsecond line".to_owned(),
    }
}

/// A file by `hound`, from values as it takes them.
fn by_hound<S: hound::Sample + Copy>(
    channels: u16,
    sample_rate: u32,
    bits_per_sample: u16,
    sample_format: SampleFormat,
    values: &[S],
) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let mut writer =
        WavWriter::new(&mut bytes, WavSpec { channels, sample_rate, bits_per_sample, sample_format }).expect("a form that hound writes");
    for &value in values {
        writer.write_sample(value).expect("memory");
    }
    writer.finalize().expect("memory");
    bytes.into_inner()
}

/// Chunks of a file as the standard has them: name, body.
fn chunks(file: &[u8]) -> Vec<(String, Vec<u8>)> {
    assert_eq!((&file[..4], &file[8..12]), (&b"RIFF"[..], &b"WAVE"[..]));
    assert_eq!(u32::from_le_bytes(file[4..8].try_into().expect("four bytes")) as usize, file.len() - 8, "the size of the whole");
    let (mut at, mut found) = (12, Vec::new());
    while at < file.len() {
        let length = u32::from_le_bytes(file[at + 4..at + 8].try_into().expect("four bytes")) as usize;
        found.push((String::from_utf8(file[at..at + 4].to_vec()).expect("letters"), file[at + 8..at + 8 + length].to_vec()));
        at += 8 + length + length % 2;
    }
    assert_eq!(at, file.len(), "what fills up the last chunk is there");
    found
}

/// A file with a chunk put before its samples.
fn with_chunk(file: &[u8], id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let at = file.windows(4).position(|window| window == b"data").expect("samples");
    let fill: &[u8] = if body.len() % 2 == 1 { &[0] } else { &[] };
    let mut file = [&file[..at], id, &(body.len() as u32).to_le_bytes(), body, fill, &file[at..]].concat();
    let size = (file.len() - 8) as u32;
    file[4..8].copy_from_slice(&size.to_le_bytes());
    file
}

fn put(file: &mut [u8], at: usize, bytes: &[u8]) {
    file[at..at + bytes.len()].copy_from_slice(bytes);
}

#[test]
fn exact_values_of_integers_and_floats_are_read() {
    // n / 2^(b - 1): extremes, a step, halves.
    let expected = [-1.0, 0.5, -0.25, 0.0];
    for bits in [16_u16, 24, 32] {
        let full = 1_i64 << (bits - 1);
        let values = [-full, full / 2, -full / 4, 0].map(|value| value as i32);
        let found = read(&by_hound(2, 44_100, bits, SampleFormat::Int, &values)).unwrap();
        assert_eq!(found, Sound { rate: 44_100, channels: vec![vec![-1.0, -0.25], vec![0.5, 0.0]] }, "{bits} bits");
    }
    let found = read(&by_hound(1, 8_000, 32, SampleFormat::Float, &expected)).unwrap();
    assert_eq!(found, Sound { rate: 8_000, channels: vec![expected.to_vec()] });
    assert_eq!(read(&by_hound(1, 384_000, 24, SampleFormat::Int, &[1])).unwrap().channels[0][0], 1.0 / 8_388_608.0);
}

#[test]
fn keeps_what_it_wrote_and_hound_reads_the_same() {
    for (channels, frames) in [(1, 1), (1, 2), (1, 101), (2, 101), (3, 7), (64, 5)] {
        let sound = sound(channels, frames, 48_000);
        let interleaved: Vec<f32> = (0..frames).flat_map(|frame| sound.channels.iter().map(move |channel| channel[frame])).collect();
        for about in [None, Some(&about())] {
            let floats = write(&sound, Form::Float32, about).unwrap();
            chunks(&floats);
            assert_eq!(read(&floats).unwrap(), sound, "floats keep every bit");
            let mut reader = WavReader::new(floats.as_slice()).unwrap();
            assert_eq!((usize::from(reader.spec().channels), reader.spec().sample_rate), (channels, 48_000));
            assert_eq!(reader.samples::<f32>().map(Result::unwrap).collect::<Vec<_>>(), interleaved);

            let integers = write(&sound, Form::Pcm24, about).unwrap();
            chunks(&integers);
            let steps: Vec<i32> = interleaved.iter().map(|value| (f64::from(*value) * 8_388_608.0).round() as i32).collect();
            let mut reader = WavReader::new(integers.as_slice()).unwrap();
            assert_eq!((reader.spec().bits_per_sample, reader.spec().sample_format), (24, SampleFormat::Int));
            assert_eq!(reader.samples::<i32>().map(Result::unwrap).collect::<Vec<_>>(), steps, "to the nearest step");
            let back = read(&integers).unwrap();
            assert_eq!(write(&back, Form::Pcm24, about).unwrap(), integers, "what is in steps stays");
        }
    }
}

#[test]
fn keeps_what_hound_wrote() {
    for (channels, frames) in [(1_u16, 1_usize), (1, 101), (2, 101), (6, 11)] {
        let sound = sound(usize::from(channels), frames, 96_000);
        let interleaved: Vec<f32> = (0..frames).flat_map(|frame| sound.channels.iter().map(move |channel| channel[frame])).collect();
        assert_eq!(read(&by_hound(channels, 96_000, 32, SampleFormat::Float, &interleaved)).unwrap(), sound);
        let steps: Vec<i32> = interleaved.iter().map(|value| (f64::from(*value) * 8_388_608.0).round() as i32).collect();
        let ours = write(&sound, Form::Pcm24, None).unwrap();
        assert_eq!(read(&by_hound(channels, 96_000, 24, SampleFormat::Int, &steps)), read(&ours));
    }
}

/// Where fields of `bext` lie: what is known of each is looked for from the field before it on.
pub(crate) fn fields_of_the_broadcast_chunk() -> Vec<Check> {
    let about = about();
    let file = write(&sound(1, 3, 48_000), Form::Float32, Some(&about)).expect("it can be written");
    let (_, bext) = chunks(&file).into_iter().find(|(id, _)| id == "bext").expect("it is written");
    let row = |(field, from, known, expected): (&str, usize, &[u8], usize)| {
        let found = bext[from..].windows(known.len()).position(|bytes| bytes == known);
        Check {
            what: format!("broadcast chunk of a WAV file: {field} begins at byte"),
            ours: found.map_or(f64::NAN, |at| (from + at) as f64),
            expected: expected as f64,
            tolerance: 0.0,
            why: "a count",
            source: "EBU Tech 3285 version 2, fields of bext (from memory)",
        }
    };
    let fields: [(&str, usize, &[u8], usize); 5] = [
        ("description", 0, about.description.as_bytes(), 0),
        ("originator", 0, b"Roomwright", 256),
        ("version (2)", 266, &[2, 0], 346),
        ("loudness (five times 0x7FFF: not in use)", 348, &[0xFF, 0x7F, 0xFF, 0x7F, 0xFF, 0x7F, 0xFF, 0x7F, 0xFF, 0x7F], 412),
        ("coding history", 422, b"A=PCM", 602),
    ];
    fields.into_iter().map(row).collect()
}

/// EBU Tech 3285 version 2, table of the fields of `bext` (from memory).
#[test]
fn published_fields_of_the_broadcast_chunk() {
    hold(&fields_of_the_broadcast_chunk());
    let sound = sound(1, 3, 48_000);
    let file = write(&sound, Form::Float32, Some(&about())).unwrap();
    let found = chunks(&file);
    assert_eq!(found.iter().map(|(id, _)| id.as_str()).collect::<Vec<_>>(), ["fmt ", "fact", "bext", "data"]);
    assert_eq!(found[1].1, 3_u32.to_le_bytes(), "frames");
    let bext = &found[2].1;
    let text =
        |from: usize, length: usize| String::from_utf8(bext[from..from + length].to_vec()).unwrap().trim_end_matches('\0').to_owned();
    assert_eq!(text(0, 256), about().description);
    assert_eq!(text(256, 32), "Roomwright");
    assert_eq!((text(288, 32), text(320, 10), text(330, 8)), (String::new(), String::new(), String::new()), "reference, date, time");
    assert_eq!(bext[338..346], [0; 8], "time reference");
    assert_eq!(bext[346..348], [2, 0], "version");
    assert_eq!(bext[348..412], [0; 64], "identifier");
    assert_eq!(bext[412..422], [0xFF, 0x7F, 0xFF, 0x7F, 0xFF, 0x7F, 0xFF, 0x7F, 0xFF, 0x7F], "loudness not in use");
    assert_eq!(bext[422..602], [0; 180], "reserved");
    assert_eq!(text(602, bext.len() - 602), "A=PCM,F=48000,W=24,M=mono\r\nsecond line\r\n");
    assert!(bext.len().is_multiple_of(2), "readers that do not fill up find the samples");

    let of = |description: String| write(&sound, Form::Pcm24, Some(&Broadcast { description, history: String::new() }));
    assert!(of("x".repeat(256)).is_ok());
    assert_eq!(of("x".repeat(257)), Err(WavError::Description { length: 257 }));
    assert_eq!(chunks(&of("20 \u{b5}Pa".to_owned()).unwrap())[1].1[..6], *b"20 ?Pa");
}

#[test]
fn keeps_chunks_of_other_programs_apart_from_the_sound() {
    let sound = sound(2, 9, 48_000);
    let file = write(&sound, Form::Float32, None).unwrap();
    for length in [0, 1, 2, 3, 602, 1001] {
        let other = with_chunk(&file, b"JUNK", &vec![b'd'; length]);
        assert_eq!(read(&other).unwrap(), sound, "a chunk of {length} bytes before the samples");
    }
    let behind = [&file[..], b"LIST\x03\0\0\0abc\0"].concat();
    assert_eq!(read(&behind).unwrap(), sound, "after them");
    // The byte that fills up the last chunk is often left out.
    let odd = write(&Sound { rate: 48_000, channels: vec![vec![0.5]] }, Form::Pcm24, None).unwrap();
    assert_eq!(read(&odd[..odd.len() - 1]), read(&odd));
    assert_eq!(read(&odd).unwrap().channels, [[0.5]]);
}

#[test]
fn keeps_full_scale_in_24_bits_and_refuses_what_is_beyond() {
    let of = |values: &[f32]| write(&Sound { rate: 48_000, channels: vec![values.to_vec()] }, Form::Pcm24, None);
    let back = read(&of(&[1.0, -1.0, 0.999_999_9]).unwrap()).unwrap();
    assert_eq!(back.channels[0], [8_388_607.0 / 8_388_608.0, -1.0, 8_388_607.0 / 8_388_608.0]);
    let Err(WavError::Beyond { count, excess_db }) = of(&[2.0, -1.000_000_1, 0.5]) else { panic!("two values are beyond full scale") };
    assert_eq!(count, 2);
    assert!((excess_db - 20.0 * 2.0_f64.log10()).abs() < 1e-9);
    let loud = Sound { rate: 48_000, channels: vec![vec![2.0, -1e6]] };
    assert_eq!(read(&write(&loud, Form::Float32, None).unwrap()), Ok(loud), "floats hold it");
}

/// A file of 48,000 frames a second: 4 bytes a frame, 44 bytes before them.
fn plain(frames: usize) -> Vec<u8> {
    by_hound(2, 48_000, 16, SampleFormat::Int, &vec![1000_i16; 2 * frames])
}

#[track_caller]
fn refused(bytes: &[u8], expected: &WavError) -> String {
    assert_eq!(read(bytes).as_ref(), Err(expected));
    let mut file = Cursor::new(bytes);
    let in_pieces = Layout::read(&mut file, bytes.len() as u64).and_then(|layout| layout.look_through(&mut file));
    assert_eq!(in_pieces, Err(ReadError::Wav(expected.clone())), "piece by piece");
    expected.to_string()
}

#[test]
fn keeps_pieces_of_a_file_what_the_whole_is() {
    for bytes in good_files() {
        let file = &mut Cursor::new(with_chunk(&bytes, b"LIST", &[7; 33]));
        let (layout, whole) = (Layout::read(file, file.get_ref().len() as u64).unwrap(), read(file.get_ref()).unwrap());
        assert_eq!((layout.rate(), layout.channels(), layout.frames() as usize), (whole.rate, whole.channels.len(), whole.frames()));
        let largest = whole.channels.iter().flatten().fold(0.0_f32, |largest, value| largest.max(value.abs()));
        assert_eq!(layout.look_through(file), Ok(largest));
        for step in [1, 3, 7, 100] {
            let mut channels = vec![Vec::new(); whole.channels.len()];
            for from in (0..layout.frames()).step_by(step) {
                let piece = layout.piece(file, from, step as u64).unwrap();
                channels.iter_mut().zip(piece.channels).for_each(|(all, more)| all.extend(more));
            }
            assert_eq!(channels, whole.channels, "{step} at a time");
        }
        assert_eq!(layout.piece(file, layout.frames(), 5).unwrap().frames(), 0, "after the end");
        // What is shorter by now says so, and what is there still reads.
        let frames = layout.frames();
        let bytes = file.get_mut();
        bytes.truncate(bytes.len() - 5);
        assert!(matches!(layout.piece(file, 0, frames), Err(ReadError::Wav(WavError::Truncated { .. }))));
        assert_eq!(layout.piece(file, 0, 2).unwrap().frames(), 2);
    }
}

#[test]
fn keeps_the_bytes_of_a_file_that_is_written_in_pieces() {
    for (channels, frames, form) in [(1, 7, Form::Pcm24), (2, 8, Form::Pcm24), (3, 5, Form::Float32)] {
        let sound = sound(channels, frames, 48_000);
        let whole = write(&sound, form, Some(&about())).unwrap();
        let shape = Shape { rate: 48_000, channels, frames: frames as u64, form };
        for step in [1, 2, 5] {
            let (mut file, mut bytes) = Frames::begin(shape, Some(&about())).unwrap();
            for from in (0..frames).step_by(step) {
                let piece: Vec<Vec<f32>> = sound.channels.iter().map(|channel| channel[from..frames.min(from + step)].to_vec()).collect();
                file.add(&piece, &mut bytes).unwrap();
            }
            bytes.extend(file.end().unwrap());
            assert_eq!(bytes, whole, "{step} at a time");
        }
        // Neither fewer nor more than the head says.
        let (mut file, mut bytes) = Frames::begin(Shape { frames: frames as u64 + 1, ..shape }, None).unwrap();
        file.add(&sound.channels, &mut bytes).unwrap();
        let (promised, came) = (frames as u64 + 1, frames as u64);
        assert_eq!(file.clone().end(), Err(WavError::Changed { promised, came }));
        let before = bytes.len();
        assert_eq!(file.add(&sound.channels, &mut bytes), Err(WavError::Changed { promised, came: 2 * came }));
        assert_eq!(bytes.len(), before, "nothing is added");
    }
    let (mut file, mut bytes) = Frames::begin(Shape { rate: 48_000, channels: 1, frames: 48_000, form: Form::Pcm24 }, None).unwrap();
    file.add(&[vec![0.0; 24_000]], &mut bytes).unwrap();
    assert_eq!(file.add(&[vec![f32::NAN]], &mut bytes), Err(WavError::NotFinite { channel: 1, at_s: 0.5, count: 1 }));
}

#[test]
fn keeps_a_sentence_for_whatever_is_not_read() {
    let good = plain(48_000);
    let changed = |at: usize, bytes: &[u8]| {
        let mut file = good.clone();
        put(&mut file, at, bytes);
        file
    };
    for bytes in [&b""[..], b"RIFF", b"RIFF\0\0\0\0AVI ", b"fLaC and so on and on", &changed(0, b"RF64")] {
        refused(bytes, &WavError::NotWav);
    }
    assert!(
        refused(&by_hound(1, 48_000, 8, SampleFormat::Int, &[1_i8]), &WavError::TooCoarse { bits: 8 }).contains("8 bits are too coarse")
    );
    for (tag, words) in [(2_u16, "ADPCM"), (6, "A-law"), (7, "mu-law"), (0x55, "MPEG layer 3"), (0x1234, "encoding 0x1234")] {
        assert!(refused(&changed(20, &tag.to_le_bytes()), &WavError::Encoding { tag, bits: 16 }).contains(words));
    }
    let mut double = changed(20, &3_u16.to_le_bytes());
    put(&mut double, 34, &64_u16.to_le_bytes());
    assert!(refused(&double, &WavError::Encoding { tag: 3, bits: 64 }).contains("floats of 64 bits"));

    refused(&changed(40, &0_u32.to_le_bytes()), &WavError::NoSamples);
    refused(&good[..36], &WavError::NoSamples);
    let half = &good[..44 + 24_000 * 4];
    let said = refused(half, &WavError::Truncated { promised_s: 1.0, there_s: 0.5 });
    assert!(said.contains("1.00 s") && said.contains("0.50 s"), "{said}");
    refused(&good[..good.len() - 1], &WavError::Truncated { promised_s: 1.0, there_s: 47_999.0 / 48_000.0 });

    refused(&changed(22, &0_u16.to_le_bytes()), &WavError::Channels { count: 0 });
    refused(&changed(22, &65_u16.to_le_bytes()), &WavError::Channels { count: 65 });
    for rate in [0_u32, 7_999, 384_001, u32::MAX] {
        refused(&changed(24, &rate.to_le_bytes()), &WavError::Rate { rate });
    }
    for head in [changed(32, &5_u16.to_le_bytes()), changed(40, &191_999_u32.to_le_bytes()), good[..30].to_vec(), changed(12, b"junk")] {
        assert!(matches!(read(&head), Err(WavError::Header { .. })), "{:?}", read(&head));
    }
}

#[test]
fn keeps_memory_to_what_there_is() {
    // Promised: 4 GiB; 2 GiB and a frame, 23 minutes at 384 kHz; an hour and a frame at 8 kHz. What is less is merely not there.
    let mut file = plain(3840);
    put(&mut file, 24, &384_000_u32.to_le_bytes());
    for promised in [u32::MAX, (1 << 31) + 4] {
        put(&mut file, 40, &promised.to_le_bytes());
        let Err(WavError::Long { promised_bytes, there_s, .. }) = read(&file) else { panic!("{promised} bytes are too many") };
        assert_eq!((promised_bytes, there_s), (u64::from(promised), 0.01));
    }
    put(&mut file, 40, &(1_u32 << 31).to_le_bytes());
    assert!(matches!(read(&file), Err(WavError::Truncated { there_s: 0.01, .. })));
    put(&mut file, 24, &8_000_u32.to_le_bytes());
    put(&mut file, 40, &(4 * (3600 * 8_000 + 1) as u32).to_le_bytes());
    assert!(matches!(read(&file), Err(WavError::Long { .. })));
    put(&mut file, 40, &(4 * 3600 * 8_000_u32).to_le_bytes());
    assert_eq!(read(&file), Err(WavError::Truncated { promised_s: 3600.0, there_s: 0.48 }));
}

#[test]
fn keeps_values_that_are_no_numbers_out() {
    for wrong in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        let mut sound = sound(2, 48_000, 48_000);
        sound.channels[0][36_000] = wrong;
        sound.channels[1][12_000] = wrong;
        let expected = WavError::NotFinite { channel: 2, at_s: 0.25, count: 2 };
        let interleaved: Vec<f32> = (0..48_000).flat_map(|frame| [sound.channels[0][frame], sound.channels[1][frame]]).collect();
        let said = refused(&by_hound(2, 48_000, 32, SampleFormat::Float, &interleaved), &expected);
        assert!(said.contains("channel 2") && said.contains("0.2500 s"), "{said}");
        assert_eq!(write(&sound, Form::Float32, None), Err(expected.clone()));
        assert_eq!(write(&sound, Form::Pcm24, None), Err(expected));
    }
}

#[test]
fn keeps_sounds_that_make_no_file_out() {
    let of = |rate, channels| write(&Sound { rate, channels }, Form::Pcm24, None);
    assert_eq!(of(48_000, vec![]), Err(WavError::Channels { count: 0 }));
    assert_eq!(of(48_000, vec![vec![0.0]; 65]), Err(WavError::Channels { count: 65 }));
    assert_eq!(of(7_999, vec![vec![0.0]]), Err(WavError::Rate { rate: 7_999 }));
    assert_eq!(of(48_000, vec![vec![]; 2]), Err(WavError::NoSamples));
    assert_eq!(of(48_000, vec![vec![0.0; 3], vec![0.0; 5]]), Err(WavError::Uneven { shortest: 3, longest: 5 }));
    // 2 GiB and a frame.
    let shape = Shape { rate: 96_000, channels: 2, frames: (1 << 31) / 6, form: Form::Pcm24 };
    assert_eq!(shape.check(), Ok(()));
    let Err(why) = (Shape { frames: shape.frames + 1, ..shape }).check() else { panic!("it is too long") };
    assert!(why.to_string().contains("3728 s") && why.to_string().contains("2 GiB"), "{why}");
}

/// The six forms that are read, in files of `hound` and of ours.
fn good_files() -> Vec<Vec<u8>> {
    let sound = sound(2, 20, 48_000);
    let integers: Vec<i32> = (0..40).map(|index| 700 * index - 15_000).collect();
    vec![
        by_hound(2, 48_000, 16, SampleFormat::Int, &integers),
        by_hound(1, 44_100, 24, SampleFormat::Int, &integers),
        by_hound(2, 96_000, 32, SampleFormat::Int, &integers),
        by_hound(4, 48_000, 32, SampleFormat::Float, &sound.channels.concat()),
        write(&sound, Form::Pcm24, Some(&about())).expect("a file"),
        write(&sound, Form::Float32, None).expect("a file"),
    ]
}

#[test]
fn keeps_from_panicking_whatever_the_bytes() {
    let files = good_files();
    let mut random = Stream::new(20, Purpose::Search, 0);
    let mut draw = move |below: usize| (random.bits() % below as u64) as usize;
    let telling = [0, 1, 2, 3, 4, 8, 15, 16, 17, 24, 32, 64, 127, 128, 254, 255];
    let (mut taken, mut refused) = (0, Vec::new());
    for _ in 0..10_000 {
        let mut file = files[draw(files.len())].clone();
        // All but the sound itself: what stands before the samples.
        let head = file.windows(4).position(|window| window == b"data").unwrap() + 8;
        for _ in 0..=draw(3) {
            let at = draw(head);
            file[at] = if draw(2) == 0 { telling[draw(telling.len())] } else { draw(256) as u8 };
        }
        match draw(8) {
            0 => file.truncate(draw(file.len())),
            1 => drop(file.drain(draw(head)..head)),
            2 => file.extend((0..draw(9)).map(|_| 7)),
            _ => {}
        }
        match read(&file) {
            Ok(sound) => {
                taken += 1;
                assert!(sound.channels.len() * sound.frames() <= file.len() / 2, "no more samples than there are bytes for");
            }
            Err(error) => refused.push(error.to_string()),
        }
    }
    // Both happen, or the changes are too wild or too tame to look for anything.
    assert!(taken > 500 && refused.len() > 2_000, "{taken} taken, {} refused", refused.len());
    refused.sort_unstable();
    refused.dedup_by_key(|said| said.chars().take(12).collect::<String>());
    assert!(refused.len() >= 8, "many kinds of refusal: {refused:?}");
}
