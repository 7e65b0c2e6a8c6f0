//! Measured heads out of SOFA files: one that another program wrote, sets that are made here, and what is no head: damaged, cut off, empty,
//! of another kind, with one ear, with values that are none.

use glam::DVec3;
use hdf5_pure::{AttrValue, FileBuilder};
use roomwright::listen::ears::RADIUS;
use roomwright::listen::filtered::{Filtered, Filters, FiltersError};
use roomwright::listen::sofa::{SofaError, read};
use roomwright::random::{Purpose, Stream};

use crate::head::{apart, at, sphere, way};
use crate::support::{Folder, quick, run, small_scene_text};

/// A rigid sphere, computed apart from the program and written by a public implementation of the format: see `sphere.py` beside it.
const SPHERE: &[u8] = include_bytes!("cases/sofa/sphere.sofa");
const RATE: u32 = 48_000;

#[test]
fn exact_sphere_out_of_a_file() {
    let filters = read(SPHERE).expect("a head");
    assert_eq!((filters.title.as_str(), filters.rate_hz, filters.directions.len()), ("A rigid sphere", 44_100.0, 109));
    assert!(filters.directions[18 + 1].distance(way(20.0, -20.0)) < 1e-12, "{}", filters.directions[19]);
    let sphere = sphere(RATE);
    let head = Filtered::new(DVec3::X, &filters, 343.0, RATE).expect("a head");
    for from in filters.directions.iter().step_by(7).copied() {
        for frequency_hz in [80.0, 400.0, 1000.0, 4000.0, 10_000.0, 16_000.0] {
            for ear in [0, 1] {
                let (level, phase) = apart(at(&head, (ear, from), (frequency_hz, RATE)), at(&sphere, (ear, from), (frequency_hz, RATE)));
                // 2.9 ms of each ear's answer are in the file, to 16 bits; 0.01 rad at 16 kHz are 0.1 us.
                assert!(level < 0.1 && phase < 0.02, "{from} at {frequency_hz} Hz: {level} dB, {phase} rad");
            }
        }
    }
}

/// Arrays and words of a set, to be spoiled one by one.
#[derive(Clone)]
struct Parts {
    words: Vec<(&'static str, String)>,
    arrays: Vec<(&'static str, Vec<u64>, Vec<f64>, &'static str)>,
}

impl Parts {
    /// 26 directions 45 degrees apart; a pulse that is louder where the ear is.
    fn new() -> Self {
        let rings = [-45.0, 0.0, 45.0].into_iter().flat_map(|elevation| (0..8).map(move |eighth| (45.0 * f64::from(eighth), elevation)));
        let ways: Vec<(f64, f64)> = rings.chain([(0.0, 90.0), (0.0, -90.0)]).collect();
        let of_ear = |(azimuth, elevation): (f64, f64), side: f64| {
            let mut ear = vec![0.0; 32];
            ear[8] = 1.0 + 0.3 * side * way(azimuth, elevation).y;
            ear
        };
        let filters = ways.iter().flat_map(|at| [of_ear(*at, 1.0), of_ear(*at, -1.0)]).flatten().collect();
        let sources = ways.iter().flat_map(|(azimuth, elevation)| [*azimuth, *elevation, 2.0]).collect();
        let words = [("Conventions", "SOFA"), ("SOFAConventions", "SimpleFreeFieldHRIR"), ("DataType", "FIR"), ("Title", "Made\there")];
        Self {
            words: words.map(|(name, word)| (name, word.to_owned())).to_vec(),
            arrays: vec![
                ("Data.IR", vec![26, 2, 32], filters, ""),
                ("Data.SamplingRate", vec![1], vec![48_000.0], ""),
                ("Data.Delay", vec![1, 2], vec![0.0, 0.0], ""),
                ("SourcePosition", vec![26, 3], sources, "spherical"),
                ("ListenerPosition", vec![1, 3], vec![0.0; 3], "cartesian"),
                ("ListenerView", vec![1, 3], vec![1.0, 0.0, 0.0], "cartesian"),
                ("ListenerUp", vec![1, 3], vec![0.0, 0.0, 1.0], ""),
                ("ReceiverPosition", vec![2, 3, 1], vec![0.0, RADIUS, 0.0, 0.0, -RADIUS, 0.0], "cartesian"),
            ],
        }
    }

    fn word(mut self, name: &str, word: &str) -> Self {
        let one = self.words.iter_mut().find(|one| one.0 == name).expect("a word of it");
        one.1 = word.to_owned();
        self
    }

    fn array(mut self, name: &str, change: impl Fn(&mut Vec<u64>, &mut Vec<f64>, &mut &'static str)) -> Self {
        let (_, shape, values, kind) = self.arrays.iter_mut().find(|one| one.0 == name).expect("an array of it");
        change(shape, values, kind);
        self
    }

    fn without(mut self, name: &str) -> Self {
        self.words.retain(|one| one.0 != name);
        self.arrays.retain(|one| one.0 != name);
        self
    }

    fn bytes(&self) -> Vec<u8> {
        let mut file = FileBuilder::new();
        for (name, word) in &self.words {
            file.set_attr(name, AttrValue::AsciiString(word.clone()));
        }
        for (name, shape, values, kind) in &self.arrays {
            let data = file.create_dataset(name).with_f64_data(values).with_shape(shape);
            if !kind.is_empty() {
                data.set_attr("Type", AttrValue::AsciiString((*kind).to_owned()));
            }
        }
        file.finish().expect("it can be written")
    }

    fn read(&self) -> Result<Filters, SofaError> {
        read(&self.bytes())
    }
}

#[test]
fn keeps_what_a_set_may_say_in_other_words() {
    let made = Parts::new().read().expect("a head");
    assert_eq!((made.title.as_str(), made.directions.len()), ("Made here", 26));
    assert!((made.responses[2][0][8] - 1.0 - 0.3 * made.directions[2].y).abs() < 1e-12, "the left ear is the first");
    let alike = |parts: Parts| {
        let other = parts.read().expect("a head");
        assert_eq!((&other.responses, other.delays.len()), (&made.responses, made.delays.len()));
        let miss = other.directions.iter().zip(&made.directions).map(|(a, b)| a.distance(*b)).fold(0.0, f64::max);
        assert!(miss < 1e-12, "{miss}");
    };
    alike(Parts::new().array("SourcePosition", |_, values, kind| {
        let to = |row: &[f64]| (3.0 * way(row[0], row[1])).to_array();
        *values = values.chunks(3).flat_map(to).collect();
        *kind = "Cartesian";
    }));
    // Receivers the other way round, with their filters.
    let swapped = |values: &mut Vec<f64>, length: usize| {
        *values = values.chunks(2 * length).flat_map(|pair| [&pair[length..], &pair[..length]].concat()).collect();
    };
    alike(Parts::new().array("Data.IR", |_, values, _| swapped(values, 32)).array("ReceiverPosition", |_, values, _| swapped(values, 3)));
    alike(Parts::new().array("ReceiverPosition", |_, values, kind| {
        *values = vec![90.0, 0.0, RADIUS, 270.0, 0.0, RADIUS];
        *kind = "spherical";
    }));
    // The head faces along y, from another place: sources turn and move with it.
    let about = |values: &mut Vec<f64>| {
        let to = |row: &[f64]| (way(row[0] + 90.0, row[1]) + DVec3::new(5.0, -1.0, 2.0)).to_array();
        *values = values.chunks(3).flat_map(to).collect();
    };
    alike(
        Parts::new()
            .array("SourcePosition", |_, values, kind| {
                about(values);
                *kind = "cartesian";
            })
            .array("ListenerView", |_, values, _| *values = vec![0.0, 2.0, 0.0])
            .array("ListenerPosition", |_, values, _| *values = vec![5.0, -1.0, 2.0]),
    );
    // Once more from half as far: what is near is left out.
    alike(
        Parts::new()
            .array("SourcePosition", |shape, values, _| {
                let near: Vec<f64> = values.chunks(3).flat_map(|row| [row[0], row[1], 0.5 * row[2]]).collect();
                values.extend(near);
                shape[0] = 52;
            })
            .array("Data.IR", |shape, values, _| {
                values.extend(values.clone());
                shape[0] = 52;
            }),
    );
    let later = Parts::new().array("Data.Delay", |shape, values, _| {
        *shape = vec![26, 2];
        *values = (0..52).map(f64::from).collect();
    });
    assert_eq!(later.read().expect("a head").delays[3], [6.0, 7.0]);
}

#[test]
fn keeps_a_sentence_for_what_is_no_head() {
    let why = |bytes: &[u8]| {
        let why = read(bytes).expect_err("no head");
        assert!(why.to_string().len() > 25, "{why}");
        why
    };
    assert_eq!(why(b""), SofaError::Empty);
    assert_eq!(why(b"RIFF....WAVEfmt "), SofaError::Strange);
    assert_eq!(why(&[0; 4096]), SofaError::Strange);
    for length in [9, 100, 2000, SPHERE.len() / 2] {
        assert!(matches!(why(&SPHERE[..length]), SofaError::Damaged { .. }), "cut after {length} bytes: {}", why(&SPHERE[..length]));
    }
    let of = |parts: Parts| why(&parts.bytes());
    assert_eq!(of(Parts::new().word("Conventions", "COARDS")), SofaError::Other);
    assert_eq!(of(Parts::new().without("Conventions")), SofaError::Other);
    let found = "SimpleHeadphoneIR".to_owned();
    assert_eq!(of(Parts::new().word("SOFAConventions", &found)), SofaError::Convention { found });
    let none = |_: &mut Vec<u64>, values: &mut Vec<f64>, _: &mut &'static str| values[5] = f64::NAN;
    assert_eq!(of(Parts::new().array("Data.IR", none)), SofaError::Filters(FiltersError::NoNumber { number: 1 }));
    assert_eq!(of(Parts::new().array("SourcePosition", none)), SofaError::NoDirection { what: "SourcePosition", number: 2 });
    let view = |_: &mut Vec<u64>, values: &mut Vec<f64>, _: &mut &'static str| *values = vec![0.0, 0.0, 1.0];
    assert_eq!(of(Parts::new().array("ListenerView", view)), SofaError::NoDirection { what: "ListenerUp", number: 1 });
    let one = |shape: &mut Vec<u64>, _: &mut Vec<f64>, _: &mut &'static str| *shape = vec![52, 1, 32];
    assert_eq!(of(Parts::new().array("Data.IR", one)), SofaError::Receivers { count: 1 });
    let flat = |shape: &mut Vec<u64>, _: &mut Vec<f64>, _: &mut &'static str| *shape = vec![shape.iter().product()];
    for what in ["Data.IR", "SourcePosition", "ReceiverPosition", "Data.Delay", "ListenerView", "ListenerPosition"] {
        let found = of(Parts::new().array(what, flat));
        assert!(matches!(&found, SofaError::Shape { what: of, .. } if *of == what), "{what}: {found}");
    }
    for what in ["Data.IR", "SourcePosition", "ReceiverPosition", "Data.Delay", "ListenerView", "ListenerPosition", "Data.SamplingRate"] {
        let found = of(Parts::new().without(what));
        assert!(matches!(&found, SofaError::Damaged { what: of, .. } if *of == what), "{what}: {found}");
    }
    let odd = |_: &mut Vec<u64>, _: &mut Vec<f64>, kind: &mut &'static str| *kind = "spherical harmonics";
    assert!(matches!(of(Parts::new().array("SourcePosition", odd)), SofaError::Coordinates { .. }));
    let rates = |shape: &mut Vec<u64>, values: &mut Vec<f64>, _: &mut &'static str| (*shape, *values) = (vec![2], vec![48e3, 44.1e3]);
    assert_eq!(of(Parts::new().array("Data.SamplingRate", rates)), SofaError::Rates);
    let slow = |_: &mut Vec<u64>, values: &mut Vec<f64>, _: &mut &'static str| *values = vec![8000.0];
    assert_eq!(of(Parts::new().array("Data.SamplingRate", slow)), SofaError::Filters(FiltersError::FilterRate { rate_hz: 8000.0 }));
    // More than a set has is not read at all.
    let huge =
        |shape: &mut Vec<u64>, values: &mut Vec<f64>, _: &mut &'static str| (*shape, *values) = (vec![20_000, 2, 1], vec![0.0; 40_000]);
    assert_eq!(of(Parts::new().array("Data.IR", huge)), SofaError::Filters(FiltersError::Directions { count: 20_000 }));
}

#[test]
fn keeps_any_damage_from_stopping_the_program() {
    let mut stream = Stream::new(1, Purpose::Search, 0);
    let mut below = |most: usize| (stream.unit() * most as f64) as usize;
    let made = Parts::new().bytes();
    let (mut read_all_the_same, mut refused) = (0, 0);
    for number in 0..12_000 {
        // The file of another program takes longer, so it has its turn less often; heads of objects are all over both.
        let mut bytes = if number % 4 == 0 { SPHERE.to_vec() } else { made.clone() };
        for _ in 0..1 + below(8) {
            let place = if below(3) == 0 { below(512) } else { below(bytes.len()) };
            bytes[place] = match below(4) {
                0 => 0,
                1 => 255,
                2 => bytes[place] ^ (1 << below(8)),
                _ => below(256) as u8,
            };
        }
        if below(16) == 0 {
            bytes.truncate(below(bytes.len()));
        }
        // Whatever it is: an answer or a sentence.
        match read(&bytes) {
            Ok(filters) => {
                read_all_the_same += 1;
                assert!(filters.check().is_ok());
            }
            Err(why) => {
                refused += 1;
                assert!(!why.to_string().contains('\n'), "{why}");
            }
        }
    }
    assert!(read_all_the_same > 500 && refused > 3000, "{read_all_the_same} read, {refused} refused: the damage is too little or too much");
}

#[test]
fn keeps_the_command_for_a_measured_head() {
    let folder = Folder::new("cli-head");
    folder.put("den.toml", quick(&small_scene_text(), 500));
    folder.put("sphere.sofa", SPHERE);
    folder.put("cut.sofa", &SPHERE[..3000]);
    let hear =
        |head: &str, more: &[&str]| run(&folder, &[&["hear", "den.toml", "--rays-only", "--sound", "clap", "--head", head], more].concat());
    let ran = hear("sphere.sofa", &["--turned", "30"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    let out = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(out.contains("from left, right by two ears as measured on a head (\"A rigid sphere\", 109 directions"), "{out}");
    let told = folder.text("out/den/sound.json");
    assert!(told.contains("A rigid sphere") && !told.contains("sphere.sofa"), "{told}");
    for (head, more, sentence) in [
        ("cut.sofa", &[][..], "is damaged or cut off"),
        ("none.sofa", &[], "cannot read"),
        ("den.toml", &[], "no SOFA file"),
        ("sphere.sofa", &["--ears", "apart"], "not as \"apart\""),
    ] {
        let ran = hear(head, more);
        assert_eq!(ran.code, Some(2), "{head}: {}", ran.err);
        assert!(ran.err.contains("error: --head") && ran.err.contains(sentence), "{head}: {}", ran.err);
    }
}
