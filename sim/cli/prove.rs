//! `sweep` and `prove`: the test signal as typed, and recordings of it beside the scene.

use std::path::{Path, PathBuf};

use roomwright::dsp::sweep::Sweep;
use roomwright::dsp::wav::{self, Sound};
use roomwright::files::{self, RealDisk, Written};
use roomwright::measured::take::Signal;
use roomwright::progress::Cancelled;
use roomwright::report;
use roomwright::scene::{Activity, Scene};
use roomwright::study::{self, ProveError, Recording, VoiceRecording};

use super::arguments::{Prove, SignalWord, SweepAsked, SweepGiven};
use super::{Failure, begin_sheets, finish, json, read, say, waiting, write};

/// Writes the test signal and what undoes it.
pub(super) fn sweep(given: &SweepGiven, out: Option<&Path>) -> Result<(), Failure> {
    let sweep = given.sweep.asked();
    let signal = study::sweep(&sweep).map_err(|why| Failure::Usage(why.to_string()))?;
    let files = report::sweep_files(&sweep, &signal).map_err(|why| Failure::Usage(why.to_string()))?;
    let written = write("sweep", None, out, &files)?;
    finish(given.json, &written, &json(&signal)?, || report::text::sweep::print(&signal))
}

/// Recordings beside the scene.
pub(super) fn prove(given: &Prove, out: Option<&Path>) -> Result<(), Failure> {
    let (_, scene) = read(&given.scene)?;
    let given_files = recordings(given, &scene)?;
    let Some(signal) = given.signal() else { return voices(given, (&scene, given_files), out) };
    let recording = |one: GivenFiles| {
        let GivenFiles { sound, before, source, receiver } = one;
        Recording { sound, before, signal, channel: given.channel, source, receiver }
    };
    let recordings: Vec<Recording> = given_files.into_iter().map(recording).collect();
    let waves = (!given.rays_only).then(|| given.waves.asked());
    let (proof, sheets) = waiting::wait(|progress| match study::prove(progress, &scene, &recordings, waves.as_ref()) {
        Ok(proof) => {
            begin_sheets(progress)?;
            let sheets = report::prove_files(&scene, &proof);
            progress.step(1)?;
            Ok(Ok((proof, sheets)))
        }
        Err(why) => refused(given, why),
    })??;
    let json = json(&proof)?;
    let mut files = sheets;
    files.insert(1, ("prove.json".into(), format!("{json}\n").into_bytes()));
    finish(given.json, &written("prove", given, out, &files)?, &json, || report::text::prove(&scene, &proof))
}

/// Two takes of each voice.
fn voices(given: &Prove, (scene, given_files): (&Scene, Vec<GivenFiles>), out: Option<&Path>) -> Result<(), Failure> {
    let take = |one: GivenFiles| {
        let GivenFiles { sound, before, source, receiver } = one;
        Some(VoiceRecording { sound, before: before?, channel: given.channel, source, receiver })
    };
    let takes: Vec<VoiceRecording> = given_files.into_iter().filter_map(take).collect();
    let (proof, heard) = waiting::wait(|progress| match study::prove_voices(progress, scene, &takes) {
        Ok(told) => Ok(Ok(told)),
        Err(why) => refused(given, why),
    })??;
    let json = json(&proof)?;
    let mut files = report::voice_files(scene, &proof, &heard).map_err(|why| Failure::Usage(why.to_string()))?;
    files.insert(1, ("voice.json".into(), format!("{json}\n").into_bytes()));
    finish(given.json, &written("voice", given, out, &files)?, &json, || report::text::voice(scene, &proof))
}

/// All that is wrong with recordings, printed; or that it was stopped.
fn refused<T>(given: &Prove, why: ProveError) -> Result<Result<T, Failure>, Cancelled> {
    let wrong = match why {
        ProveError::Recordings(wrong) => wrong,
        ProveError::Stopped(stopped) => return Err(stopped),
    };
    for one in &wrong {
        let file = if one.is_before { &given.before[one.recording] } else { &given.recordings[one.recording] };
        say(&format!("error: {}: {one}{}", file.display(), hint(given)));
    }
    Ok(Err(typed(wrong.len())))
}

/// Writes what is proved: of a plan, beside it. A voice and the other recordings leave each other's files alone.
fn written(what: &str, given: &Prove, out: Option<&Path>, files: &[(String, Vec<u8>)]) -> Result<Written, Failure> {
    let folder = out.map_or_else(|| files::sheets_folder(&given.scene, "".as_ref()), PathBuf::from);
    write(what, Some(&given.scene), Some(&folder), files)
}

/// So many mistakes, all printed.
fn typed(count: usize) -> Failure {
    Failure::Typed(if count == 1 { "1 error".to_owned() } else { format!("{count} errors") })
}

/// What else a recording could be.
fn hint(given: &Prove) -> &'static str {
    match given.is {
        SignalWord::Sweep => {
            "\n  if it was another sweep, type how it was made as for `sweep`; if it is an impulse response, --is response; a clap, --is clap"
        }
        SignalWord::Response | SignalWord::Clap | SignalWord::Voice => "",
    }
}

/// What was recorded where.
struct GivenFiles {
    sound: Sound,
    before: Option<Sound>,
    source: usize,
    receiver: usize,
}

/// Every recording with where it is of, or all that is wrong with them.
fn recordings(given: &Prove, scene: &Scene) -> Result<Vec<GivenFiles>, Failure> {
    let mut wrong = Vec::new();
    let count = given.recordings.len();
    if given.is == SignalWord::Voice && given.before.is_empty() {
        wrong.push("--before is missing: a voice is compared with a take of before, the same text at the same place".to_owned());
    }
    if !given.before.is_empty() && given.before.len() != count {
        wrong.push(format!("--before: {} given for {count} of after; one for each, in the same order", given.before.len()));
    }
    let sources: Vec<&str> = scene.sources.iter().map(|source| source.name.as_str()).collect();
    let receivers: Vec<&str> =
        scene.seats.iter().map(|seat| seat.name.as_str()).chain(scene.microphones.iter().map(|one| one.name.as_str())).collect();
    let usual_source = (sources.len() == 1 || given.is == SignalWord::Clap).then_some(0);
    // A voice is judged at its microphone, all else at a seat.
    let usual_receiver = match (scene.activity, scene.seats.len(), scene.microphones.len()) {
        (Activity::Voice, seats, 1) => Some(seats),
        (_, 1, _) => Some(0),
        (_, 0, 1) => Some(0),
        _ => None,
    };
    let mut ends = |flag: &str, typed: &[String], names: &[&str], usual: Option<usize>| {
        which(flag, typed, names, (usual, count)).unwrap_or_else(|why| {
            wrong.push(why);
            Vec::new()
        })
    };
    let at_sources = ends("source", &given.source, &sources, usual_source);
    let at_receivers = ends("at", &given.at, &receivers, usual_receiver);
    let mut sound = |path: &PathBuf| match sound(path) {
        Ok(sound) => Some(sound),
        Err(why) => {
            wrong.push(why);
            None
        }
    };
    let sounds: Vec<Option<Sound>> = given.recordings.iter().map(&mut sound).collect();
    let befores: Vec<Option<Sound>> = given.before.iter().map(&mut sound).collect();
    if let Some(Signal::Sweep(sweep)) = given.signal()
        && let Err(why) = sweep.check()
    {
        wrong.push(why.to_string());
    }
    if !wrong.is_empty() {
        for why in &wrong {
            say(&format!("error: {why}"));
        }
        return Err(typed(wrong.len()));
    }
    let each = sounds.into_iter().flatten().enumerate();
    let recording = |(index, sound): (usize, Sound)| GivenFiles {
        sound,
        before: befores.get(index).cloned().flatten(),
        source: at_sources[index],
        receiver: at_receivers[index],
    };
    Ok(each.map(recording).collect())
}

/// A number for each recording: of the names typed (one for all, or one each), or the usual one.
fn which(flag: &str, typed: &[String], names: &[&str], (usual, count): (Option<usize>, usize)) -> Result<Vec<usize>, String> {
    let list = || names.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", ");
    let find = |typed: &String| {
        let alike: Vec<usize> = (0..names.len()).filter(|&index| names[index].eq_ignore_ascii_case(typed)).collect();
        alike.first().copied().ok_or_else(|| format!("--{flag}: there is no \"{typed}\" in the scene; it has {}", list()))
    };
    match (typed, usual) {
        ([], _) if names.is_empty() => Err(format!("--{flag}: the scene has none")),
        ([], Some(usual)) => Ok(vec![usual; count]),
        ([], None) => Err(format!(
            "--{flag} is missing: which of {} was recorded? Type it once for all recordings, or once for each, in their order",
            list()
        )),
        ([one], _) => Ok(vec![find(one)?; count]),
        (each, _) if each.len() == count => each.iter().map(find).collect(),
        (each, _) => Err(format!("--{flag}: {} given for {count} recordings; one for all, or one for each", each.len())),
    }
}

/// A sound file.
fn sound(path: &Path) -> Result<Sound, String> {
    let bytes = files::read_sound(&RealDisk, path).map_err(|why| why.to_string())?;
    wav::read(&bytes).map_err(|why| format!("{}: {why}", path.display()))
}

impl SweepAsked {
    /// As the library takes it.
    pub(super) fn asked(&self) -> Sweep {
        let sweep = Sweep::new(self.from, self.to, self.seconds, f64::from(self.rate));
        Sweep { level_db: self.level, repeats: self.repeats as usize, silence_s: self.pause, ..sweep }
    }
}

impl Prove {
    /// What the recordings are of, but for a voice, which gives no response.
    fn signal(&self) -> Option<Signal> {
        match self.is {
            SignalWord::Sweep => Some(Signal::Sweep(self.sweep.asked())),
            SignalWord::Response => Some(Signal::Response),
            SignalWord::Clap => Some(Signal::Clap),
            SignalWord::Voice => None,
        }
    }
}
