//! A voice before and after: depths of its loudness in rooms whose shares are known, what is refused, and the command line.

use std::f64::consts::PI;
use std::sync::LazyLock;

use roomwright::bands::Band;
use roomwright::dsp::convolve::convolve;
use roomwright::dsp::filter::{Direction, Filter};
use roomwright::dsp::transform::{hann_power, quick_length, signal, spectrum};
use roomwright::dsp::wav::{self, Form, Sound};
use roomwright::listen::dry::Dry;
use roomwright::listen::loudness::loudness;
use roomwright::measured::Hint;
use roomwright::measured::take::TakeError;
use roomwright::measured::voice::{FOLLOWED, RATES_HZ, VoiceError, VoiceTake};
use roomwright::progress::Progress;
use roomwright::prove::voice::VoiceProof;
use roomwright::scene::{self, Scene};
use roomwright::study::{self, Point, ProveError, SoundAsked, VoiceRecording};

use crate::measured::mean_and_error;
use crate::support::{Folder, gaussian, quick, run, small_scene_text};

const RATE: u32 = 48_000;

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
    let samples = gaussian(seed, 78, (1.2 * decay_s * f64::from(RATE)) as usize);
    samples.iter().enumerate().map(|(index, value)| (value * (-fall * index as f64).exp()) as f32).collect()
}

/// A response as sound with the spectrum of a text would have it, over windows of 40 ms.
fn shaped(response: &[f32], text: &[f32]) -> Vec<f32> {
    let window = 1920;
    let mut power = vec![0.0; window / 2 + 1];
    for part in text.chunks_exact(window) {
        let part: Vec<f64> = part.iter().map(|value| f64::from(*value)).collect();
        power.iter_mut().zip(hann_power(&part)).for_each(|(sum, value)| *sum += value);
    }
    let length = quick_length(response.len() + window);
    let samples: Vec<f64> = response.iter().map(|value| f64::from(*value)).collect();
    let at = |line: usize| power[(line * (power.len() - 1) + length / 4) / (length / 2)].sqrt();
    let lines = spectrum(&samples, length).into_iter().enumerate().map(|(line, value)| value * at(line)).collect();
    // What rings before the response by the windows' length goes round the end: it is turned to the front.
    let mut shaped = signal(lines, length);
    shaped.rotate_right(window / 2);
    shaped.into_iter().map(|value| value as f32).collect()
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
    let noise = gaussian(1000, 78, heard.len());
    heard.iter_mut().zip(noise).for_each(|(value, noise)| *value = 0.5 * *value / peak + (hiss * noise) as f32);
    Sound { rate: RATE, channels: vec![heard] }
}

/// Decibels of a natural logarithm.
const DB: f64 = 20.0 * std::f64::consts::LOG10_E;

/// By how many decibels takes of six pairs of rooms, one of them with another text, are off from the shares of these rooms, at each rate.
pub(crate) static OFF: LazyLock<[Vec<f64>; 3]> = LazyLock::new(|| {
    let pairs = [(0, [0.25, 0.7], 0), (3, [0.3, 0.5], 0), (1, [0.25, 0.7], 50), (5, [0.2, 0.6], 0), (6, [0.2, 0.6], 0), (7, [0.2, 0.6], 0)];
    let mut off: [Vec<f64>; 3] = std::array::from_fn(|_| Vec::new());
    for (seed, decays, other) in pairs {
        let rooms = [tail(decays[0], 2 * seed), tail(decays[1], 2 * seed + 1)];
        let texts = [text(seed), text(seed + other)];
        let take =
            |which: usize| VoiceTake::new(&read_in(&texts[which], &rooms[which], -70.0), None).expect("a voice").depth.expect("heard");
        let (after, before) = (take(0), take(1));
        let shaped = [0, 1].map(|which| shaped(&rooms[which], &texts[which]));
        for (index, rate) in RATES_HZ.into_iter().enumerate() {
            let change = after[index].over(&before[index]).0;
            // What noise adds to both is between nothing and all that it may.
            let ends = [change, change + before[index].noise - after[index].noise];
            let wanted = share(&shaped[0], rate) - share(&shaped[1], rate);
            off[index].push(DB * (wanted - wanted.clamp(ends[0].min(ends[1]), ends[0].max(ends[1]))));
        }
    }
    off
});

/// What takes say of two rooms is what their shares are: on the mean within three standard errors of how these scatter (`validation::measured`). One room is off by some decibel, since vowel by vowel a voice hears another part
/// of it than its mean spectrum does.
#[test]
fn published_shares_of_two_rooms_out_of_a_voice() {
    for (rate, off) in RATES_HZ.into_iter().zip(&*OFF) {
        let (mean, error) = mean_and_error(off);
        assert!(error * (off.len() as f64).sqrt() < 1.6, "{rate} Hz: {off:.2?}");
        assert!(mean.abs() < 3.0 * error, "{rate} Hz: {off:.2?}");
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

/// What the program predicts a voice to sound like in both states of a room is what it reads out of takes of both, on the mean of three draws of the noise, within three times what it says is open; and a change of the wrong
/// sign would not be.
#[test]
fn exact_predicted_change_comes_back_out_of_takes() {
    let text = text(4);
    let take = |is_hung: bool, seed: u64| {
        let mut scene = scene(is_hung);
        scene.settings.seed = seed;
        let asked = SoundAsked { receiver: 0, pickup: &Point, rate_hz: f64::from(RATE) };
        let responses = study::impulses(&Progress::new(), &scene, None, &asked).expect("nobody stops it");
        read_in(&text, &responses[0].channels[0], -70.0)
    };
    let takes = [11, 21, 31].map(|seed| VoiceRecording {
        sound: take(true, seed),
        before: take(false, seed + 1),
        channel: None,
        source: 0,
        receiver: 0,
    });
    let (proof, heard) = study::prove_voices(&Progress::new(), &scene(true), &takes).expect("takes of a voice");
    let (mut off, mut open, mut least) = (0.0, 0.0, f64::INFINITY);
    for voice in &proof.voices {
        let change = &voice.clearer_db;
        let (measured, predicted) = (change.measured.value.expect("it is told"), change.predicted.expect("panels hang"));
        let ends = [measured, measured + change.measured_more.expect("told")];
        off += predicted.value - predicted.value.clamp(ends[0].min(ends[1]), ends[0].max(ends[1]));
        open += change.measured_sure.expect("told").powi(2) + predicted.se.powi(2) + change.predicted_scatter.expect("told").powi(2);
        least = least.min(predicted.value);
    }
    let open = open.sqrt();
    assert!(off.abs() < 3.0 * open, "{off:.2} dB off in three, {open:.2} dB open: {:?}", proof.verdict);
    assert!(3.0 * 2.0 * least > 3.0 * open, "{least:.2} dB predicted, {open:.2} dB open");
    // Equally loud, which ears are the judges of; and the turns begin with the take of before.
    let heard = heard[0].as_ref().expect("both have one rate");
    let [before, after] = [&heard.before, &heard.after].map(|sound| loudness(sound).expect("it sounds"));
    assert!((before - after).abs() < 0.05, "{before} and {after} LKFS");
    let first = heard.turns.channels[0].iter().zip(&heard.before.channels[0]).take(3 * RATE as usize);
    assert!(first.into_iter().all(|(turn, own)| turn == own), "the first turn is the take of before");
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
    // What was written is no take of the next run: it would be replaced, or gone.
    let again =
        run(&folder, &["prove", "den.toml", "out/den/voice-after.wav", "--is", "voice", "--source", "left", "--before", "before.wav"]);
    assert!(
        again.code == Some(2) && again.err.contains("voice-after.wav is a take and would be replaced"),
        "{:?} {}",
        again.code,
        again.err
    );
    let alone = run(&folder, &typed);
    assert!(alone.code == Some(2) && alone.err.contains("--before"), "{}", alone.err);
}
