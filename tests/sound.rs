//! What it sounds like: a predicted response through a sweep and back, bare beside what hangs, in pieces as whole, files, what is refused.

use roomwright::dsp::convolve::convolve;
use roomwright::dsp::resample::stretched;
use roomwright::dsp::sweep::Sweep;
use roomwright::dsp::wav::{self, Sound};
use roomwright::listen::alternate::alternate;
use roomwright::listen::dry::Dry;
use roomwright::listen::loudness::{by_gain, loudness, matched, same_scale};
use roomwright::listen::play::Playback;
use roomwright::measured::early::{Arrival, Early};
use roomwright::measured::take::{Signal, Take};
use roomwright::progress::Progress;
use roomwright::report;
use roomwright::scene;
use roomwright::study::{self, ListenAsked, ListenError, Listener, Point, SoundAsked, Sounds};

use crate::support::{Folder, gaussian, quick, run, small_scene, small_scene_text};

const RATE: f64 = 48_000.0;

fn root_mean_square(samples: &[f64]) -> f64 {
    (samples.iter().map(|value| value * value).sum::<f64>() / samples.len() as f64).sqrt()
}

#[test]
fn exact_predicted_response_comes_back_out_of_a_recording() {
    // Played as a sweep, with 1 % of second-order distortion, recorded by a clock that is off by 50 parts in a million, noise 40 dB under the sweep: T30 within 3 % and C50 within 0.3 dB from 250 Hz to 8 kHz, the first
    // reflections that lie more than 1 ms apart within 0.1 ms and 1 dB.
    let scene = small_scene(4_000);
    let asked = SoundAsked { receiver: 0, pickup: &Point, rate_hz: RATE };
    let impulses = study::impulses(&Progress::new(), &scene, None, &asked).expect("nobody cancels");
    let clean: Vec<f32> = impulses[0].channels[0].clone();
    let sound = |samples: Vec<f32>| Sound { rate: 48_000, channels: vec![samples] };
    let known = Take::new(&sound(clean.clone()), &Signal::Response, None).expect("it sounds");

    let sweep = Sweep { silence_s: 1.5, ..Sweep::new(20.0, 20_000.0, 6.0, RATE) };
    let played: Vec<f64> = convolve(&sweep.signal(), &clean).into_iter().map(f64::from).collect();
    let peak = played.iter().fold(0.0_f64, |peak, value| peak.max(value.abs()));
    let bent: Vec<f64> = played.iter().map(|value| value + 0.01 * (2.0 * value * value / peak - peak)).collect();
    let loud = root_mean_square(&bent[..sweep.length()]);
    let mut heard = vec![0.0; 31_000];
    heard.extend(stretched(&bent, 1.0 / (1.0 + 50e-6)));
    let hiss = gaussian(4, 99, heard.len());
    let recording: Vec<f32> = heard.iter().zip(hiss).map(|(value, hiss)| (value + 0.01 * loud * hiss) as f32).collect();
    let take = Take::new(&sound(recording), &Signal::Sweep(sweep), None).expect("it is that sweep");

    let drift = take.about.drift_ppm.expect("two repeats tell");
    assert!((drift.abs() - 50.0).abs() < 2.0, "{drift} ppm");
    let second = take.about.distortion_db[0].expect("it stands out");
    assert!((-46.0..-34.0).contains(&second), "{second} dB");
    for (back, known) in take.measured.octaves[2..].iter().zip(&known.measured.octaves[2..]) {
        let (value, expected) = (back.t30_s.value.expect("it reaches"), known.t30_s.value.expect("it reaches"));
        assert!((value / expected - 1.0).abs() < 0.03, "{:?} Hz: T30 {value} s for {expected} s", back.nominal_hz);
        let (value, expected) = (back.c50_db.value.expect("it reaches"), known.c50_db.value.expect("it reaches"));
        assert!((value - expected).abs() < 0.3, "{:?} Hz: C50 {value} dB for {expected} dB", back.nominal_hz);
    }
    let early = |take: &Take| Early::new(&take.response, (take.measured.onset_s * RATE).round() as usize, RATE, 0.02).arrivals;
    let (known, back) = (early(&known), early(&take));
    let alone = |index: usize| {
        let gap = |other: usize| (known[index].delay_ms - known.get(other).map_or(f64::INFINITY, |one: &Arrival| one.delay_ms)).abs();
        index.checked_sub(1).is_none_or(|before| gap(before) > 1.0) && gap(index + 1) > 1.0
    };
    // What else stands out may be noise of the tail, at the edge of what counts as standing out.
    let traced = study::trace(&Progress::new(), &scene).expect("nobody cancels");
    let delay_ms = |length: f64| 1000.0 * (length - traced.distance(0, 0)) / traced.room.medium.speed;
    let images = || traced.images[0][0].heard.iter().filter(|image| !image.path.bounces.is_empty());
    let is_reflection = |one: &Arrival| images().any(|image| (delay_ms(image.path.length) - one.delay_ms).abs() < 0.05);
    let first: Vec<Arrival> =
        (0..known.len()).filter(|index| alone(*index)).map(|index| known[index]).filter(is_reflection).take(6).collect();
    assert!(first.len() >= 3, "{known:?}");
    for one in first {
        let near = back
            .iter()
            .min_by(|a, b| (a.delay_ms - one.delay_ms).abs().total_cmp(&(b.delay_ms - one.delay_ms).abs()))
            .expect("there are some");
        assert!((near.delay_ms - one.delay_ms).abs() < 0.1 && (near.level_db - one.level_db).abs() < 1.0, "{one:?} came back as {near:?}");
    }
}

/// The small room with its plan hung.
fn hung() -> scene::Scene {
    let text = quick(&small_scene_text(), 2_000);
    let (scene, _) = scene::read(&text).expect("it reads");
    let placement = study::place(&Progress::new(), &scene).expect("nobody cancels");
    let panels = placement.plan.to_hang(&placement.pictures.panels[scene.panels.len()..]);
    let planned = scene::with_moves(&text, &placement.plan.leaving(), &panels, (&placement.plan.out(), None)).expect("it is a scene");
    scene::read(&planned).expect("it reads").0
}

fn asked(listener: Listener) -> ListenAsked {
    let dry = Dry::Pink.sound(48_000, 1).expect("that rate");
    ListenAsked {
        dry: vec![("pink".to_owned(), dry.into())],
        receiver: 0,
        listener,
        measured: None,
        turned_deg: 0.0,
        rate: 48_000,
        turn_s: 1.0,
    }
}

#[test]
fn keeps_bare_and_hung_beside_each_other() {
    let scene = hung();
    let (findings, _, listened) = study::hear_and_listen(&Progress::new(), &scene, None, &asked(Listener::Head)).expect("nothing is wrong");
    // What is told of the room does not hang on whether somebody listens.
    let (alone, _) = study::hear_with(&Progress::new(), &scene, None).expect("nobody cancels");
    assert_eq!(serde_json::to_string(&findings).expect("it is JSON"), serde_json::to_string(&alone).expect("it is JSON"));
    crate::schema::check(&listened.sounds);
    let names: Vec<&str> = listened.sounds.files.iter().map(|file| file.name.as_str()).collect();
    let responses = names.iter().filter(|name| name.starts_with("response-")).count();
    assert_eq!((responses, names.len()), (4, 9), "{names:?}");
    assert!(listened.sounds.softer_db.is_some_and(|softer| softer > 0.0), "absorber makes it softer: {:?}", listened.sounds.softer_db);
    let loudness =
        |name: &str| listened.sounds.files.iter().find(|file| file.name == name).and_then(|file| file.loudness_db).expect("it is heard");
    assert!((loudness("sound-pink-bare-matched.wav") - loudness("sound-pink-hung-matched.wav")).abs() < 0.05, "{names:?}");
    assert!(loudness("sound-pink-bare.wav") > loudness("sound-pink-hung.wav"));
    let files = report::sound_files(&scene, &listened).expect("they fit");
    assert_eq!(files.len(), responses + 1);
    let read = wav::read(&files[1].1).expect("what is written reads");
    assert_eq!(read.channels, listened.responses[0].channels, "a response is written as it is");
    let written: Vec<String> = listened.played.iter().flat_map(|played| played.names().map(str::to_owned)).collect();
    assert_eq!(written, names[responses..]);
}

/// What a dry sound makes, out of the files that it is written into.
fn written(listened: &study::Listened, played: &study::Played) -> Vec<Sound> {
    let mut files = vec![Vec::new(); played.names().count()];
    let mut to: Vec<&mut dyn std::io::Write> = files.iter_mut().map(|file| file as &mut dyn std::io::Write).collect();
    report::write_played(&Progress::new(), listened, played, &mut to).expect("memory takes it");
    files.iter().map(|file| wav::read(file).expect("what is written reads")).collect()
}

#[test]
fn exact_pieces_are_what_whole_sounds_are() {
    let scene = hung();
    // Longer than some pieces, at another rate, and a short one of one channel.
    let stereo = Sound {
        rate: 44_100,
        channels: [5, 6].map(|seed| gaussian(seed, 99, 200_000).iter().map(|value| 0.1 * *value as f32).collect()).to_vec(),
    };
    let pink = Dry::Pink.sound(48_000, 1).expect("that rate");
    let dry = [("stereo", stereo), ("pink", pink)];
    let asked = ListenAsked { dry: dry.clone().map(|(name, sound)| (name.to_owned(), sound.into())).to_vec(), ..asked(Listener::Head) };
    let (_, _, listened) = study::hear_and_listen(&Progress::new(), &scene, None, &asked).expect("nothing is wrong");
    let responses: Vec<Vec<Vec<f32>>> = listened.responses.iter().map(|sound| sound.channels.clone()).collect();
    let playbacks = responses.chunks(2).map(|state| Playback::new(48_000, state.to_vec()).expect("responses"));
    let playbacks: Vec<Playback> = playbacks.collect();
    let mut told = listened.sounds.files[responses.len()..].iter();
    for ((_, dry), played) in dry.iter().zip(&listened.played) {
        let heard: Vec<Sound> = playbacks.iter().map(|playback| playback.whole(dry).expect("it can be played")).collect();
        let (scale_db, gains_db) = (same_scale(&heard).expect("it sounds"), matched(&heard).expect("it sounds"));
        let equally: Vec<Sound> = heard.iter().zip(&gains_db).map(|(sound, gain_db)| by_gain(sound, *gain_db)).collect();
        let turns = alternate(&equally, 1.0).expect("two versions").sound;
        let expected: Vec<Sound> = heard.iter().map(|sound| by_gain(sound, scale_db)).chain(equally).chain([turns]).collect();
        let gains = [vec![scale_db; 2], gains_db, vec![0.0]].concat();
        for (((found, expected), gain_db), file) in written(&listened, played).iter().zip(&expected).zip(gains).zip(&mut told) {
            assert_eq!((found.channels.len(), found.frames()), (2, expected.frames()), "{}", file.name);
            let pairs = found.channels.iter().flatten().zip(expected.channels.iter().flatten());
            let miss = pairs.fold(0.0_f32, |miss, (found, expected)| miss.max((found - expected).abs()));
            assert!(miss < 1e-5, "{}: {miss}", file.name);
            let near = |found: f64, expected: f64| (found - expected).abs() < 1e-4;
            assert!(near(file.loudness_db.expect("it is heard"), loudness(expected).expect("it sounds")), "{file:?}");
            assert!(near(file.gain_db, gain_db) && near(file.length_s, expected.seconds()), "{file:?}, {gain_db} dB");
            let peak = found.channels.iter().flatten().fold(0.0_f32, |peak, value| peak.max(value.abs()));
            assert!(peak <= 0.7080, "{}: {peak}", file.name);
        }
    }
    assert!(told.next().is_none(), "no file is left over");
}

#[test]
fn keeps_the_louder_ear_on_the_side_of_the_source() {
    let scene = small_scene(1_000);
    let (_, _, listened) = study::hear_and_listen(&Progress::new(), &scene, None, &asked(Listener::Head)).expect("nothing is wrong");
    // The left loudspeaker's direct sound reaches the left ear first, and louder.
    let [left, right] = &listened.responses[0].channels[..] else { panic!("two ears") };
    let first = |ear: &[f32]| {
        let peak = ear.iter().fold(0.0_f32, |peak, value| peak.max(value.abs()));
        ear.iter().position(|value| value.abs() > 0.3 * peak).expect("it sounds")
    };
    assert!(first(left) < first(right), "{} and {}", first(left), first(right));
}

#[test]
fn keeps_a_sentence_for_what_cannot_be_heard() {
    let scene = small_scene(1_000);
    let listen = |asked: &ListenAsked| study::hear_and_listen(&Progress::new(), &scene, None, asked).expect_err("it cannot be heard");
    let silent = Sound { rate: 48_000, channels: vec![vec![0.0; 4_800]] };
    assert!(matches!(
        listen(&ListenAsked { dry: vec![("quiet".into(), silent.into())], ..asked(Listener::Point) }),
        ListenError::Loudness { .. }
    ));
    let many = Sound { rate: 48_000, channels: vec![vec![0.1; 480]; 5] };
    assert!(matches!(listen(&ListenAsked { dry: vec![("many".into(), many.into())], ..asked(Listener::Point) }), ListenError::Play { .. }));
    assert!(matches!(listen(&ListenAsked { rate: 1, ..asked(Listener::Head) }), ListenError::Ears(_)));
}

#[test]
fn keeps_sound_on_the_command_line() {
    let folder = Folder::new("cli-sound");
    folder.put("den.toml", quick(&small_scene_text(), 1_000));
    let done = run(&folder, &["hear", "den.toml", "--sound", "clap", "--ears", "splayed", "--rays-only"]);
    assert_eq!(done.code, Some(0), "{}", done.err);
    assert!(done.out.contains("What it sounds like") && done.out.lines().all(|line| line.chars().count() <= 100), "{}", done.out);
    let names = folder.names("out/den");
    for name in ["sound.html", "sound.json", "sound-clap-room.wav", "response-left-at-seat-room.wav"] {
        assert!(names.iter().any(|other| other == name), "{name} is missing: {names:?}");
    }
    let _: Sounds = serde_json::from_str(&folder.text("out/den/sound.json")).expect("it reads");
    let wrong = run(&folder, &["hear", "den.toml", "--sound", "trumpet", "--sound", "none.wav", "--at", "nobody", "--out", "elsewhere"]);
    assert_eq!(wrong.code, Some(2));
    for word in ["trumpet", "none.wav", "nobody", "3 errors"] {
        assert!(wrong.err.contains(word), "{word} is missing: {}", wrong.err);
    }
    assert!(!folder.path().join("elsewhere").exists());
}

#[test]
fn keeps_a_sentence_for_every_file_that_is_no_dry_sound() {
    let folder = Folder::new("cli-dry");
    folder.put("den.toml", quick(&small_scene_text(), 1_000));
    let good = wav::write(&Sound { rate: 48_000, channels: vec![vec![0.25; 96_000]; 2] }, wav::Form::Float32, None).expect("it fits");
    let mut hole = good.clone();
    let at = hole.len() - 4;
    hole[at..].copy_from_slice(&f32::NAN.to_le_bytes());
    hole[at - 400_000..at - 399_996].copy_from_slice(&f32::NAN.to_le_bytes());
    folder.put("hole.wav", hole);
    folder.put("cut.wav", &good[..good.len() / 2]);
    let mut coarse = good.clone();
    (coarse[20], coarse[34]) = (1, 8);
    folder.put("coarse.wav", coarse);
    folder.put("text.wav", "once upon a time there was a room");
    folder.put("good.wav", good);
    std::fs::create_dir_all(folder.path().join("other")).expect("the test's own folder");
    folder.put("other/good.wav", "");
    let words = ["hole", "cut", "coarse", "text", "none", "good", "other/good"].map(|name| format!("{name}.wav"));
    let sounds = words.iter().flat_map(|name| ["--sound", name.as_str()]);
    let wrong = run(&folder, &["hear", "den.toml", "--rays-only"].into_iter().chain(sounds).collect::<Vec<_>>());
    assert_eq!(wrong.code, Some(2));
    for said in [
        "hole.wav: channel 2 has a value that is no finite number at 0.9583 s, the first of 2;",
        "cut.wav: the file ends early: its header promises 2.00 s of sound and",
        "coarse.wav: samples of 8 bits are too coarse",
        "text.wav: this is not a WAV file",
        "cannot read none.wav: there is no such file or folder",
        "other/good.wav: this is not a WAV file",
        "6 errors in what was typed",
    ] {
        assert!(wrong.err.contains(said), "{said} is missing: {}", wrong.err);
    }
    assert!(!folder.path().join("out").exists());
    let twice = run(&folder, &["hear", "den.toml", "--rays-only", "--sound", "good.wav", "--sound", "./good.wav"]);
    assert!(twice.code == Some(2) && twice.err.contains("two sounds are called \"good\""), "{}", twice.err);
    // Known before anything is traced: as many channels as neither one nor all loudspeakers take.
    let three = wav::write(&Sound { rate: 48_000, channels: vec![vec![0.25; 9_600]; 3] }, wav::Form::Pcm24, None).expect("it fits");
    folder.put("three.wav", three);
    let many = run(&folder, &["hear", "den.toml", "--sound", "three.wav"]);
    assert!(
        many.code == Some(2) && many.err.contains("three: a dry sound of 3 channels cannot be played by 2 loudspeakers"),
        "{}",
        many.err
    );
    assert!(!folder.path().join("out").exists());
}
