//! `sweep` and `prove`: the test signal as typed, and recordings of it beside the scene.

use std::path::{Path, PathBuf};

use roomwright::dsp::sweep::Sweep;
use roomwright::dsp::wav::{self, Sound};
use roomwright::files::{self, RealDisk};
use roomwright::measured::take::Signal;
use roomwright::progress::{Cancelled, Progress};
use roomwright::prove::Proof;
use roomwright::prove::fit::variant::PLANNED;
use roomwright::report;
use roomwright::report::text::Extent;
use roomwright::scene::Scene;
use roomwright::scene::edit::Edited;
use roomwright::study::{self, FitError, Fitted, NoTake, Placement, ProveError, Recording, fit};

use super::arguments::{Prove, SignalWord, SweepAsked, SweepGiven};
use super::{Failure, begin_sheets, finish, json, plan_files, read, say, say_kept, voice, waiting, write};

/// Writes the test signal and what undoes it.
pub(super) fn sweep(given: &SweepGiven, out: Option<&Path>) -> Result<(), Failure> {
    let sweep = given.sweep.asked();
    let signal = study::sweep(&sweep).map_err(|why| Failure::Usage(why.to_string()))?;
    let files = report::sweep_files(&sweep, &signal).map_err(|why| Failure::Usage(why.to_string()))?;
    let written = write("sweep", None, out, &files)?;
    finish(given.json, &written, &json(&signal)?, || report::text::sweep::print(&signal))
}

/// Recordings beside the scene, with materials fitted to them where that is asked for.
pub(super) fn prove(given: &Prove, out: Option<&Path>, extent: Extent) -> Result<(), Failure> {
    if given.recordings.is_empty() {
        return Err(Failure::Usage(format!(
            "no recording is named. Measure first: `roomwright sweep` writes the signal and says how to record it; then `roomwright prove {} RECORDING.wav` \
             (or --is clap, a clap on a phone; --is voice --before OTHER.wav, a voice before and after)",
            given.scene.display()
        )));
    }
    let (text, scene) = read(&given.scene)?;
    let taken = taken(given, &scene)?;
    let Some(signal) = given.signal() else { return voice::voices(given, (&scene, taken), out) };
    let recording = |one: Taken| {
        let Taken { sound, before, source, receiver } = one;
        Recording { sound, before, signal, channel: given.channel, source, receiver }
    };
    let recordings: Vec<Recording> = taken.into_iter().map(recording).collect();
    let waves = (!given.rays_only).then(|| given.waves.asked());
    let proved = waiting::wait(|progress| {
        let proved = match given.fit {
            true => fitted(progress, given, (&text, &scene), &recordings),
            false => match study::prove(progress, &scene, &recordings, waves.as_ref()) {
                Ok(proof) => Ok(Ok(Proved { proof, variant: None, plan: None })),
                Err(why) => Ok(Err(FitError::from(why))),
            },
        };
        let proved = match proved? {
            Ok(proved) => proved,
            Err(FitError::Prove(ProveError::Stopped(stopped))) => return Err(stopped),
            Err(why) => return Ok(Err(refused(given, why))),
        };
        begin_sheets(progress)?;
        let sheets = report::prove_files(&scene, &proved.proof, proved.variant.as_ref());
        progress.step(1)?;
        Ok(Ok((proved, sheets)))
    })?;
    let (Proved { proof, variant, plan }, files) = proved?;
    let json = json(&proof)?;
    let folder = folder(given, out);
    let written = write("prove", Some(&given.scene), Some(&folder), &files)?;
    let planned = folder.join(PLANNED);
    if let Some(((placement, sheets), variant)) = plan.zip(variant) {
        let sheets = plan_files(&variant.text, &study::planned(&variant.scene), &placement, sheets)?;
        say_kept(&write("place", Some(&given.scene), Some(&planned), &sheets)?);
    } else if planned.is_dir() {
        // The plan of a variant that is no more.
        say_kept(&write("place", Some(&given.scene), Some(&planned), &[])?);
    }
    finish(given.json, &written, &json, || report::text::prove(&scene, &proof, extent))
}

/// Names and bytes of files.
type Sheets = Vec<(String, Vec<u8>)>;

/// What comes of recordings.
struct Proved {
    proof: Proof,
    /// The scene with fitted materials.
    variant: Option<Edited>,
    /// Its plan, and the drawings of that.
    plan: Option<(Placement, Sheets)>,
}

/// Recordings beside the scene, materials fitted to them, and the scene with those planned anew.
fn fitted(
    progress: &Progress,
    given: &Prove,
    (text, scene): (&str, &Scene),
    recordings: &[Recording],
) -> Result<Result<Proved, FitError>, Cancelled> {
    let waves = (!given.rays_only).then(|| given.waves.asked());
    let Fitted { proof, variant } = match study::prove_and_fit(progress, (text, scene), recordings, waves.as_ref()) {
        Ok(fitted) => fitted,
        Err(why) => return Ok(Err(why)),
    };
    let Some(scene) = variant.as_ref().map(|variant| &variant.scene) else {
        return Ok(Ok(Proved { proof, variant, plan: None }));
    };
    let why = if given.no_plan { Some("Not planned anew: --no-plan.".to_owned()) } else { fit::nothing_to_plan(scene) };
    if let Some(why) = why {
        return Ok(Ok(Proved { proof: fit::with_plan(proof, Err(why)), variant, plan: None }));
    }
    let placement = study::place_with(progress, scene, waves.as_ref())?;
    let sheets = report::files(&study::planned(scene), &placement.room, &placement.plan, &placement.pictures);
    let proof = fit::with_plan(proof, Ok(fit::replan(scene, &placement.plan)));
    Ok(Ok(Proved { proof, variant, plan: Some((placement, sheets)) }))
}

/// All that is wrong, printed.
fn refused(given: &Prove, why: FitError) -> Failure {
    match why {
        FitError::Prove(ProveError::Recordings(wrong)) => unusable(given, &wrong),
        FitError::Prove(ProveError::Stopped(stopped)) => stopped.into(),
        FitError::Text(why) => Failure::Variant(why),
    }
}

/// Where what is proved is written: of a plan, beside it.
pub(super) fn folder(given: &Prove, out: Option<&Path>) -> PathBuf {
    out.map_or_else(|| files::sheets_folder(&given.scene, "".as_ref()), PathBuf::from)
}

/// All that is wrong with recordings, printed.
pub(super) fn unusable(given: &Prove, wrong: &[NoTake]) -> Failure {
    for one in wrong {
        let file = if one.is_before { &given.before[one.recording] } else { &given.recordings[one.recording] };
        say(&format!("error: {}: {one}{}", file.display(), hint(given)));
    }
    typed(wrong.len())
}

/// So many mistakes, all printed.
pub(super) fn typed(count: usize) -> Failure {
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
pub(super) struct Taken {
    pub(super) sound: Sound,
    pub(super) before: Option<Sound>,
    pub(super) source: usize,
    pub(super) receiver: usize,
}

/// Every recording with where it is of, or all that is wrong with them.
fn taken(given: &Prove, scene: &Scene) -> Result<Vec<Taken>, Failure> {
    let mut wrong = Vec::new();
    let count = given.recordings.len();
    if given.is == SignalWord::Voice && given.before.is_empty() {
        wrong.push("--before is missing: a voice is compared with a take of before, the same text at the same place".to_owned());
    }
    if given.is == SignalWord::Voice && given.fit {
        wrong.push("--fit: materials are fitted to decay times, which a voice does not tell; record a sweep or a clap".to_owned());
    }
    if !given.before.is_empty() && given.before.len() != count {
        wrong.push(format!("--before: {} given for {count} of after; one for each, in the same order", given.before.len()));
    }
    let sources: Vec<&str> = scene.sources.iter().map(|source| source.name.as_str()).collect();
    let receivers: Vec<&str> =
        scene.seats.iter().map(|seat| seat.name.as_str()).chain(scene.microphones.iter().map(|one| one.name.as_str())).collect();
    let [usual_source, usual_receiver] = study::usual_ends(scene, given.is == SignalWord::Clap);
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
    let recording = |(index, sound): (usize, Sound)| Taken {
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
