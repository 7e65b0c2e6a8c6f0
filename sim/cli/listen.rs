//! `hear --sound`: which sounds, who listens where, as typed; findings as ever, and sound files beside them.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use roomwright::files::{self, Broken, Disk as _, RealDisk, Written};
use roomwright::listen::dry::Dry;
use roomwright::listen::filtered::Filters;
use roomwright::listen::supply::{Open, Supply};
use roomwright::progress::Progress;
use roomwright::report::text::Extent;
use roomwright::report::{self, PlayedError};
use roomwright::scene::{Activity, Scene};
use roomwright::study::{self, BassAsked, ListenAsked, ListenError, Listened, Listener};

use super::arguments::{Hear, SoundGiven};
use super::{Failure, begin_sheets, finish, json, read, say, waiting, with_bass};

/// What the seat hears, and what that sounds like.
pub(super) fn hear_and_listen(given: &Hear, out: Option<&Path>, extent: Extent) -> Result<(), Failure> {
    let path = &given.judged.of.scene;
    let (_, scene) = read(path)?;
    let asked = asked(&given.sound, &scene)?;
    let waves = (!given.judged.rays_only).then(|| BassAsked { beside_bare: false, ..given.judged.waves.asked() });
    let folder = out.map_or_else(|| files::default_folder(path), PathBuf::from);
    let (findings, sounds, written) = waiting::wait_and_write(|progress| {
        let (findings, room, listened) = study::hear_and_listen(progress, &scene, waves.as_ref(), &asked)?;
        begin_sheets(progress)?;
        let sheets = report::hear_files(&scene, &room, &findings);
        progress.step(1)?;
        let mut files = with_bass(sheets, findings.bass.as_ref())?;
        files.extend(report::sound_files(&scene, &listened).map_err(|why| Failure::Usage(why.to_string()))?);
        files.push(("sound.json".into(), format!("{}\n", json(&listened.sounds)?).into_bytes()));
        let written = write(progress, (&folder, "hear", path), &files, Some(&listened))?;
        Ok::<_, Failure>((findings, listened.sounds, written))
    })?;
    let text = || format!("{}\n{}", report::text::hear(&scene, &findings, extent).trim_end(), report::text::listen::section(&sounds));
    finish(given.judged.of.json, &written, &json(&findings)?, text)
}

impl From<ListenError> for Failure {
    fn from(why: ListenError) -> Self {
        match why {
            ListenError::Stopped(stopped) => stopped.into(),
            why => Self::Usage(why.to_string()),
        }
    }
}

/// Writes everything of a command, each dry sound as it is played once more. Ctrl-C stops that; then nothing is written.
pub(super) fn write(
    progress: &Progress,
    (folder, command, scene): (&Path, &str, &Path),
    files: &[(String, Vec<u8>)],
    listened: Option<&Listened>,
) -> Result<Written, Failure> {
    let broken = |why| match why {
        PlayedError::Disk(cause) => Broken::Disk(cause),
        why => Broken::Content(Box::new(why)),
    };
    let streams = listened.into_iter().flat_map(|listened| listened.played.iter().map(move |played| (listened, played)));
    let streams = streams.map(|(listened, played)| files::Stream {
        names: played.names().map(str::to_owned).collect(),
        write: Box::new(move |to| report::write_played(progress, listened, played, to).map_err(broken)),
    });
    let streams = streams.collect();
    let written = waiting::uninterrupted(|| files::write_streams(&RealDisk, (folder, command, scene), files, streams));
    if written.is_err() {
        progress.step(0)?;
    }
    Ok(written?)
}

/// What was typed, or all that is wrong with it.
pub(super) fn asked(given: &SoundGiven, scene: &Scene) -> Result<ListenAsked, Failure> {
    let mut wrong = Vec::new();
    let mut dry = Vec::new();
    let words: Vec<&str> =
        given.sound.iter().flat_map(|word| if word == "all" { Dry::ALL.map(Dry::word).to_vec() } else { vec![word.as_str()] }).collect();
    for word in words {
        match sound(word, given.sound_rate, scene.settings.seed) {
            Ok(sound) => dry.push(sound),
            Err(why) => wrong.push(why),
        }
    }
    for (index, (name, _)) in dry.iter().enumerate() {
        if dry[..index].iter().any(|(other, _)| other == name) {
            wrong.push(format!("--sound: two sounds are called \"{name}\", and so would their files be; give one of them another name"));
        }
    }
    let names: Vec<&str> =
        scene.seats.iter().map(|seat| seat.name.as_str()).chain(scene.microphones.iter().map(|one| one.name.as_str())).collect();
    // A voice is heard at its microphone, all else at the first seat.
    let usual = if scene.activity == Activity::Voice && !scene.microphones.is_empty() { scene.seats.len() } else { 0 };
    let receiver = match &given.at {
        None => usual,
        Some(name) => names.iter().position(|other| other.eq_ignore_ascii_case(name)).unwrap_or_else(|| {
            wrong.push(format!("--at: there is no \"{name}\" in the scene; it has {}", names.join(", ")));
            0
        }),
    };
    let is_microphone = receiver >= scene.seats.len();
    let listener = match &given.ears {
        Some(word) => Listener::named(word).unwrap_or(Listener::Head),
        None if is_microphone => Listener::Point,
        None => Listener::Head,
    };
    if is_microphone && listener != Listener::Point {
        wrong.push("--ears: a microphone of the scene hears by its own pattern; leave --ears out, or choose a seat by --at".to_owned());
    }
    let measured = given.head.as_deref().and_then(|path| measured(path, listener).map_err(|why| wrong.push(why)).ok());
    if wrong.is_empty() {
        let (turned_deg, rate, turn_s) = (given.turned, given.sound_rate, given.each);
        return Ok(ListenAsked { dry, receiver, listener, measured, turned_deg, rate, turn_s });
    }
    wrong.iter().for_each(|why| say(&format!("error: {why}")));
    Err(Failure::Typed(if wrong.len() == 1 { "1 error".to_owned() } else { format!("{} errors", wrong.len()) }))
}

/// A dry sound by its word, or a file.
fn sound(word: &str, rate: u32, seed: u64) -> Result<(String, Supply), String> {
    if let Some(dry) = Dry::named(word) {
        return dry.sound(rate, seed).map(|sound| (word.to_owned(), sound.into())).map_err(|why| format!("--sound {word}: {why}"));
    }
    let path = Path::new(word);
    if !path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("wav")) {
        let words = Dry::ALL.map(Dry::word).join(", ");
        return Err(format!("--sound: \"{word}\" is neither a sound of the program ({words}, all) nor a WAV file"));
    }
    files::open_sound(&RealDisk, path).map_err(|why| why.to_string())?;
    let again = path.to_owned();
    let open: Open = Arc::new(move || RealDisk.open(&again).map_err(|cause| io::Error::new(cause.kind(), files::plain(&cause))));
    let sound = Supply::file(open).map_err(|why| format!("{word}: {why}"))?;
    let name = path.file_stem().map_or_else(|| "own".to_owned(), |stem| stem.to_string_lossy().into_owned());
    Ok((name, sound))
}

/// The measured head of a file, for a listener that is one.
fn measured(path: &Path, listener: Listener) -> Result<Filters, String> {
    if listener != Listener::Head {
        return Err(format!(
            "--head: a measured head hears with its two ears, not as \"{}\"; leave --ears out and choose a seat",
            listener.word()
        ));
    }
    of_file(path)
}

/// What a file in the format SOFA holds.
#[cfg(feature = "sofa")]
fn of_file(path: &Path) -> Result<Filters, String> {
    let bytes = files::read_head(&RealDisk, path).map_err(|why| format!("--head: {why}"))?;
    roomwright::listen::sofa::read(&bytes).map_err(|why| format!("--head {}: {why}", path.display()))
}

/// This build reads none.
#[cfg(not(feature = "sofa"))]
fn of_file(path: &Path) -> Result<Filters, String> {
    Err(format!(
        "--head {}: this build does not read measured heads; build it with them: cargo build --release --features sofa",
        path.display()
    ))
}
