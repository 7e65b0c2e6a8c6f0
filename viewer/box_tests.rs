//! A small box for tests: soon rung out and soon planned, a loudspeaker, a seat and two corner panels of fiber; and recordings that are made of what the program itself hears in it.

use std::sync::{Arc, LazyLock};

use roomwright::dsp::convolve::convolve;
use roomwright::dsp::wav::{self, Form, Sound};
use roomwright::listen::dry::Dry;
use roomwright::progress::Progress;
use roomwright::scene::{self, Scene};
use roomwright::study::{self, BassAsked, Point, SoundAsked};

use crate::proving::{ProveAsked, Proven};
use crate::recordings::{Kind, Listed, SoundFile};
use crate::test_disk::Memory;

/// Its text; walls take 6 % at every angle.
pub(crate) const SMALL: &str = r#"
format = 1
name = "Box"
use = "mixing"
[settings]
rays = 400
rounds = 1
image_order = 2
patch = "200 mm"
[room]
size = [3.1, 2.7, 2.3]
floor = "even"
wall_material = "even"
ceiling_material = "even"
[[material]]
name = "even"
absorption = [0.06, 0.06, 0.06, 0.06, 0.06, 0.06, 0.06, 0.06]
scattering = 0
angle = "uniform"
[[loudspeaker]]
name = "left"
position = [0.6, 0.5, 0.4]
directivity = "omni"
[[seat]]
name = "seat"
ear = [2.1, 1.4, 1.2]
[[stock]]
name = "corner panel"
kind = "corner"
count = 2
size = [0.6, 1.0]
thickness = 0.1
flow_resistivity = 12000
"#;

/// Waves that are coarse, and without other walls.
pub(crate) const COARSE: BassAsked = BassAsked { top_hz: 125.0, memory: study::MEMORY, others: 0, beside_bare: true };

/// Samples a second of recordings.
pub(crate) const RATE: u32 = 48_000;

/// What walls of the box take as it is recorded, and took before.
pub(crate) const TAKEN: [f64; 2] = [0.16, 0.07];

/// The box with walls that scatter and take this much: its decays are straight, and rays enough to tell them.
pub(crate) fn taking(absorption: f64) -> String {
    let row = |absorption: f64| format!("{:?}", [absorption; 8]);
    let text = SMALL.replace(&row(0.06), &row(absorption)).replace("scattering = 0\n", "scattering = 0.3\n");
    assert!(text.contains(&row(absorption)) && text.contains("scattering = 0.3"));
    text.replace("rays = 400", "rays = 6000")
}

/// The scene of a text.
pub(crate) fn read(text: &str) -> Arc<Scene> {
    Arc::new(scene::read(text).unwrap().0)
}

/// What is heard at its seat, largest at half of full scale; and when the direct sound is there, in samples.
pub(crate) fn heard(scene: &Scene) -> (Vec<f32>, usize) {
    let asked = SoundAsked { receiver: 0, pickup: &Point, rate_hz: f64::from(RATE) };
    let impulse = study::impulses(&Progress::new(), scene, None, &asked).unwrap().remove(0);
    let peak = impulse.channels[0].iter().fold(0.0_f32, |peak, value| peak.max(value.abs()));
    let samples = impulse.channels[0].iter().map(|value| 0.5 * value / peak).collect();
    (samples, (impulse.arrival_s * impulse.rate_hz).round() as usize)
}

/// A file of these channels.
pub(crate) fn wave(channels: Vec<Vec<f32>>) -> Vec<u8> {
    wav::write(&Sound { rate: RATE, channels }, Form::Float32, None).unwrap()
}

/// A delay after the direct sound at which nothing of the box stands out, ms: there [`foreign`] adds a reflection.
pub(crate) const FOREIGN_MS: f64 = 9.7;

/// The same recording with a reflection in it that the box does not have.
pub(crate) fn foreign((mut samples, arrival): (Vec<f32>, usize)) -> Vec<f32> {
    samples[arrival + (0.001 * FOREIGN_MS * f64::from(RATE)) as usize] += 0.6;
    samples
}

/// A recording of the box that is listed as a response.
pub(crate) fn response(name: &str, samples: Vec<f32>, before: Option<Vec<f32>>) -> Listed {
    let disk = Memory::default();
    let file = |name: &str, samples: Vec<f32>| {
        disk.put(name, wave(vec![samples]));
        SoundFile::read(name.as_ref(), &disk)
    };
    let before = before.map(|samples| file("before.wav", samples));
    Listed { before, kind: Kind::Response, ..Listed::new(file(name, samples), None) }
}

/// What two recordings of the box say: one of itself, its walls harder before; and one with a reflection too many.
pub(crate) static PROVEN: LazyLock<Arc<Proven>> = LazyLock::new(|| {
    let [scene, before] = TAKEN.map(|taken| read(&taking(taken)));
    let own = heard(&scene);
    let listed = vec![response("after.wav", own.0.clone(), Some(heard(&before).0)), response("again.wav", foreign(own), None)];
    ProveAsked { listed, waves: None, fits: None }.answer(&Progress::new(), &scene).unwrap().unwrap()
});

/// What walls of the box take as it is written, where materials are fitted to what was recorded in it.
pub(crate) const WRITTEN: f64 = 0.11;

/// What a recording of the box says beside a scene whose walls take less, with materials fitted to it.
pub(crate) static FITTED: LazyLock<Arc<Proven>> = LazyLock::new(|| {
    let text = taking(WRITTEN);
    let listed = vec![response("after.wav", heard(&read(&taking(TAKEN[0]))).0, None)];
    let asked = ProveAsked { listed, waves: None, fits: Some(text.as_str().into()) };
    asked.answer(&Progress::new(), &read(&text)).unwrap().unwrap()
});

/// A text of half a minute, read in the box as it is recorded and as it was before, between silences.
pub(crate) fn spoken() -> [Vec<f32>; 2] {
    let silence = || vec![0.0_f32; RATE as usize];
    let mut text = silence();
    for part in 0..6 {
        text.extend(Dry::SpeechLike.sound(RATE, part).unwrap().channels.swap_remove(0));
    }
    text.extend(silence());
    TAKEN.map(|taken| {
        let heard = convolve(&text, &heard(&read(&taking(taken))).0);
        let peak = heard.iter().fold(0.0_f32, |peak, value| peak.max(value.abs()));
        // A hiss far below, as every microphone has.
        heard.iter().zip(0_u32..).map(|(value, step)| 0.5 * value / peak + 1e-4 * (f64::from(step).powi(2) * 0.618).sin() as f32).collect()
    })
}

/// Two takes of a voice that are listed.
pub(crate) fn takes() -> Listed {
    let [after, before] = spoken();
    let mut listed = Listed { kind: Kind::Voice, ..response("voice.wav", after, Some(before)) };
    listed.before.iter_mut().for_each(|before| before.path = "bare-voice.wav".into());
    listed
}

/// What a voice in the box says, and a recording that is listed behind it.
pub(crate) static VOICED: LazyLock<Arc<Proven>> = LazyLock::new(|| {
    let scene = read(&taking(TAKEN[0]));
    let listed = vec![takes(), PROVEN.listed[0].clone()];
    ProveAsked { listed, waves: None, fits: None }.answer(&Progress::new(), &scene).unwrap().unwrap()
});
