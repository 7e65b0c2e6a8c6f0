//! A voice before and after: depths of its loudness in rooms whose shares are known, what is refused, and the command line.

use std::f64::consts::PI;

use roomwright::bands::Band;
use roomwright::dsp::convolve::convolve;
use roomwright::dsp::filter::{Direction, Filter};
use roomwright::dsp::wav::{self, Form, Sound};
use roomwright::listen::dry::Dry;
use roomwright::listen::loudness::loudness;
use roomwright::measured::Hint;
use roomwright::measured::take::TakeError;
use roomwright::measured::voice::{FOLLOWED, RATES_HZ, VoiceError, VoiceTake};
use roomwright::progress::Progress;
use roomwright::prove::voice::VoiceProof;
use roomwright::random::{Purpose, Stream};
use roomwright::scene::{self, Scene};
use roomwright::study::{self, Point, ProveError, SoundAsked, VoiceRecording};

use crate::support::{Folder, quick, run, small_scene_text};

const RATE: u32 = 48_000;

/// Gaussian numbers of variance 1 (Box and Muller).
fn noise(seed: u64, length: usize) -> Vec<f64> {
    let mut stream = Stream::new(seed, Purpose::Search, 78);
    (0..length).map(|_| (-2.0_f64 * (1.0_f64 - stream.unit()).ln()).sqrt() * (2.0 * PI * stream.unit()).cos()).collect()
}

/// A text of some 45 s, half a second of silence before and after it.
fn text(seed: u64) -> Vec<f32> {
    let mut samples = vec![0.0; RATE as usize / 2];
    for part in 0..8 {
        samples.extend(Dry::SpeechLike.sound(RATE, 100 * seed + part).expect("a rate of its own").channels.swap_remove(0));
    }
    samples.extend(vec![0.0; RATE as usize / 2]);
    samples
}

/// A room of late sound alone, which falls by 60 dB in so many seconds.
fn tail(decay_s: f64, seed: u64) -> Vec<f32> {
    let fall = 3.0 * std::f64::consts::LN_10 / decay_s / f64::from(RATE);
    let samples = noise(seed, (1.2 * decay_s * f64::from(RATE)) as usize);
    samples.iter().enumerate().map(|(index, value)| (value * (-fall * index as f64).exp()) as f32).collect()
}

/// Natural logarithm of the share of a voice's modulation that a response leaves about a rate (T. Houtgast and H. J. M. Steeneken, Acustica 28 (1973) 66): of an octave, `|sum h^2 e^(-j 2 pi F t)| / sum h^2`,
/// mean of the octaves 500 Hz to 4 kHz, root mean square over the third octaves about the rate.
fn share(response: &[f32], rate: f64) -> f64 {
    let samples: Vec<f64> = response.iter().map(|value| f64::from(*value)).collect();
    let octaves = FOLLOWED
        .map(|index| Filter::octave(Band::new(index), f64::from(RATE)).expect("far below half the rate").run(&samples, Direction::Forward));
    let octaves: Vec<Vec<f64>> = octaves.collect();
    let square = |third: f64| {
        let turn = 2.0 * PI * rate * 2.0_f64.powf(third / 3.0) / f64::from(RATE);
        let of = |octave: &Vec<f64>| {
            let (mut real, mut imaginary, mut whole) = (0.0, 0.0, 0.0);
            for (index, value) in octave.iter().enumerate() {
                let (sine, cosine) = (turn * index as f64).sin_cos();
                real += value * value * cosine;
                imaginary += value * value * sine;
                whole += value * value;
            }
            f64::hypot(real, imaginary) / whole
        };
        (octaves.iter().map(of).sum::<f64>() / octaves.len() as f64).powi(2)
    };
    0.5 * ([-1.0, 0.0, 1.0].map(square).iter().sum::<f64>() / 3.0).ln()
}

/// A text read in a room over noise of some level re full scale.
fn read_in(text: &[f32], room: &[f32], noise_db: f64) -> Sound {
    let mut heard = convolve(text, room);
    let peak = heard.iter().fold(0.0_f32, |peak, value| peak.max(value.abs()));
    let hiss = 10.0_f64.powf(0.05 * noise_db);
    let noise = noise(1000, heard.len());
    heard.iter_mut().zip(noise).for_each(|(value, noise)| *value = 0.5 * *value / peak + (hiss * noise) as f32);
    Sound { rate: RATE, channels: vec![heard] }
}

/// Decibels of a natural logarithm.
const DB: f64 = 20.0 * std::f64::consts::LOG10_E;

#[test]
fn published_shares_of_two_rooms_out_of_a_voice() {
    // The same text read in a drier room, and another text.
    for (seed, decays, other) in [(0, [0.25, 0.7], 0), (3, [0.3, 0.5], 0), (1, [0.25, 0.7], 50)] {
        let rooms = [tail(decays[0], 2 * seed), tail(decays[1], 2 * seed + 1)];
        let take = |text: &[f32], room: &[f32]| VoiceTake::new(&read_in(text, room, -70.0), None).expect("a voice");
        let (after, before) = (take(&text(seed), &rooms[0]), take(&text(seed + other), &rooms[1]));
        let (after, before) = (after.depth.expect("over the noise"), before.depth.expect("over the noise"));
        for (rate, (after, before)) in RATES_HZ.into_iter().zip(after.iter().zip(&before)) {
            let (change, error) = after.over(before);
            let wanted = share(&rooms[0], rate) - share(&rooms[1], rate);
            println!("{seed} {rate} Hz: {:+.2} dB +-{:.2} for {:+.2}", DB * change, DB * error, DB * wanted);
        }
    }
}

#[test]
fn keeps_what_a_recorder_does_to_a_voice() {
    let (text, room) = (text(1), tail(0.4, 1));
    let heard = read_in(&text, &room, -60.0);
    let said = |sound: &Sound| VoiceTake::new(sound, None).expect("a voice").about.hints;
    assert_eq!(said(&heard), [], "a voice as it is");
    // A gate: what is 40 dB below the largest sample for 20 ms is cut to nothing.
    let mut gated = heard.clone();
    for part in gated.channels[0].chunks_mut(960) {
        if part.iter().all(|value| value.abs() < 0.005) {
            part.fill(0.0);
        }
    }
    assert!(matches!(said(&gated)[..], [Hint::CutSilent { share_percent }] if share_percent > 5.0), "{:?}", said(&gated));
    // Noise as loud as the voice leaves nothing to be told.
    let loud = VoiceTake::new(&read_in(&text, &room, -22.0), None).expect("a voice");
    assert_eq!(loud.depth, None);
}

#[test]
fn keeps_a_sentence_for_every_take_that_tells_nothing() {
    let text = text(2);
    let sound = |rate: u32, samples: &[f32]| Sound { rate, channels: vec![samples.to_vec()] };
    let refused = |sound: &Sound| VoiceTake::new(sound, None).expect_err("it tells nothing");
    assert_eq!(refused(&sound(RATE, &[0.0; 960_000])), TakeError::Silent);
    assert_eq!(refused(&sound(8000, &text)), TakeError::Voice(VoiceError::Rate { rate: 8000 }));
    assert!(matches!(refused(&sound(RATE, &text[..400_000])), TakeError::Voice(VoiceError::TooLittle { seconds }) if seconds < 9.0));
    assert!(matches!(refused(&sound(RATE, &[])), TakeError::Silent | TakeError::Voice(VoiceError::TooLittle { .. })));
    // All of both takes at once.
    let scene = scene(false);
    let takes = VoiceRecording {
        sound: sound(RATE, &text[..400_000]),
        before: sound(RATE, &[0.0; 960_000]),
        channel: None,
        source: 0,
        receiver: 0,
    };
    let Err(ProveError::Recordings(wrong)) = study::prove_voices(&Progress::new(), &scene, &[takes]) else {
        panic!("nothing comes of them")
    };
    let told: Vec<(bool, String)> = wrong.iter().map(|one| (one.is_before, one.to_string())).collect();
    assert_eq!(told.len(), 2);
    assert!(!told[0].0 && told[0].1.contains("read aloud"), "{told:?}");
    assert!(told[1].0 && told[1].1.contains("silent"), "{told:?}");
}

/// A small room: bare, or with panels on two walls.
fn scene(is_hung: bool) -> Scene {
    let text = quick(&small_scene_text(), 4_000);
    let hung = ["west", "east", "north"]
        .map(|wall| format!("\n[[panel]]\ntype = \"wall panel\"\nsurface = \"{wall}\"\nleft = 1.0\nbottom = 0.8\n"))
        .concat();
    let text = text.replace("count = 1", "count = 3") + if is_hung { &hung } else { "" };
    scene::read(&text).unwrap_or_else(|mistakes| panic!("{}", mistakes[0].render(&text, "room"))).0
}

/// What the program predicts a voice to sound like in both states of a room is what it reads out of it again.
#[test]
fn exact_predicted_change_comes_back_out_of_two_takes() {
    let text = text(4);
    let take = |is_hung: bool, seed: u64| {
        let mut scene = scene(is_hung);
        scene.settings.seed = seed;
        let asked = SoundAsked { receiver: 0, pickup: &Point, rate_hz: f64::from(RATE) };
        let responses = study::impulses(&Progress::new(), &scene, None, &asked).expect("nobody stops it");
        read_in(&text, &responses[0].channels[0], -70.0)
    };
    let takes = VoiceRecording { sound: take(true, 11), before: take(false, 12), channel: None, source: 0, receiver: 0 };
    let (proof, heard) = study::prove_voices(&Progress::new(), &scene(true), &[takes]).expect("two takes of a voice");
    let change = &proof.voices[0].clearer_db;
    let (measured, predicted) = (change.measured.value.expect("it is told"), change.predicted.expect("panels hang"));
    let open = change.measured_sure.expect("told").hypot(predicted.se).hypot(change.predicted_scatter.expect("told"));
    println!("{measured:.2} for {predicted:?} {change:?}");
    assert!((measured - predicted.value).abs() < 3.0 * open, "{measured:.2} dB for {:.2} dB, {open:.2} dB open", predicted.value);
    // Equally loud, which ears are the judges of; and the turns begin with the take of before.
    let [before, after] = [&heard[0].before, &heard[0].after].map(|sound| loudness(sound).expect("it sounds"));
    assert!((before - after).abs() < 0.05, "{before} and {after} LKFS");
    let same = heard[0].turns.channels[0].iter().zip(&heard[0].before.channels[0]).take(3 * RATE as usize).all(|(turn, own)| turn == own);
    assert!(same, "the first turn is the take of before");
}

#[test]
fn keeps_a_voice_on_the_command_line() {
    let folder = Folder::new("cli-voice");
    folder.put("den.toml", quick(&small_scene_text(), 2_000));
    let text = text(5);
    let wav = |sound: &Sound| wav::write(sound, Form::Pcm24, None).expect("it fits");
    folder.put("after.wav", wav(&read_in(&text, &tail(0.25, 1), -70.0)));
    folder.put("before.wav", wav(&read_in(&text, &tail(0.7, 2), -70.0)));
    let typed = ["prove", "den.toml", "after.wav", "--is", "voice", "--source", "left"];
    let done = run(&folder, &[&typed[..], &["--before", "before.wav"]].concat());
    assert_eq!(done.code, Some(0), "{}\n{}", done.err, done.out);
    assert!(done.out.contains("clearer after the work"), "{}", done.out);
    let proof: VoiceProof = serde_json::from_str(&folder.text("out/den/voice.json")).expect("it reads");
    assert!(proof.voices[0].clearer_db.measured.value > Some(2.0), "{:?}", proof.voices[0].clearer_db);
    for name in ["voice.html", "voice-before.wav", "voice-after.wav", "voice-turns.wav"] {
        assert!(folder.names("out/den").contains(&name.to_owned()), "{name} is missing: {:?}", folder.names("out/den"));
    }
    let alone = run(&folder, &typed);
    assert!(alone.code == Some(2) && alone.err.contains("--before"), "{}", alone.err);
}
