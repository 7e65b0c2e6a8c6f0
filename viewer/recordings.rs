//! Recordings of the room as they are listed, to be set beside what the scene says: which file, what it is of, from where to where, and the file of before.
//!
//! A file is read when it is listed, and looked at anew when the step *prove* is opened and when anything is compared: what another program wrote meanwhile counts. What cannot be read stays in the list
//! with the reason beside it. A recording may be long (`roomwright::files` has the limit), so a thread of its own reads it, `Reader`, or that of the comparison; the window goes on drawing meanwhile.
//!
//! *Limits.* What is listed is saved nowhere. Between two looks a file that changes is not noticed.

use std::fmt;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread;

use roomwright::dsp::sweep::Sweep;
use roomwright::dsp::wav::{self, Sound};
use roomwright::files::{self, Disk};
use roomwright::measured::take::Signal;
use roomwright::scene::Scene;
use roomwright::study::{Recording, VoiceRecording, usual_ends};

/// A sound file as it was when it was read last.
#[derive(Clone)]
pub(crate) struct SoundFile {
    /// Where it is.
    pub(crate) path: PathBuf,
    /// What it holds, or why it cannot be taken, in a sentence; `None` until it is read for the first time.
    pub(crate) found: Option<Result<Arc<Sound>, String>>,
    /// Tells its bytes from others; `None` where they could not be read.
    mark: Option<u64>,
}

impl SoundFile {
    /// A file that is still to be read.
    pub(crate) fn unread(path: &Path) -> Self {
        Self { path: path.into(), found: None, mark: None }
    }

    /// Reads a file.
    #[cfg(test)]
    pub(crate) fn read(path: &Path, disk: &dyn Disk) -> Self {
        let mut file = Self::unread(path);
        file.look_anew(disk);
        file
    }

    /// Reads it; what it held stays as it is if it is the same file.
    pub(crate) fn look_anew(&mut self, disk: &dyn Disk) {
        let bytes = match files::read_sound(disk, &self.path) {
            Ok(bytes) => bytes,
            Err(failure) => {
                (self.found, self.mark) = (Some(Err(sentence(&failure.to_string()))), None);
                return;
            }
        };
        let mark = Some(mark(&bytes));
        if self.mark == mark {
            return;
        }
        let found = match wav::read(&bytes) {
            _ if bytes.is_empty() => Err("The file is empty: nothing was recorded, or it was not copied to its end.".to_owned()),
            Ok(sound) => Ok(Arc::new(sound)),
            Err(why) => Err(sentence(&why.to_string())),
        };
        (self.found, self.mark) = (Some(found), mark);
    }

    /// What it holds, as far as that could be read.
    pub(crate) fn sound(&self) -> Option<&Arc<Sound>> {
        self.found.as_ref()?.as_ref().ok()
    }

    /// Its name without the folder.
    pub(crate) fn name(&self) -> String {
        self.path.file_name().unwrap_or_default().to_string_lossy().into_owned()
    }

    /// How many channels it has, as far as that is known.
    fn channels(&self) -> usize {
        self.sound().map_or(0, |sound| sound.channels.len())
    }
}

/// Whether a path leads to a folder; reads no more than a byte of what it leads to.
pub(crate) fn is_folder(path: &Path, disk: &dyn Disk) -> bool {
    disk.read(path, 0).is_err_and(|cause| cause.kind() == std::io::ErrorKind::IsADirectory)
}

/// A file to be read, and where it lies.
type ToRead = (SoundFile, Arc<dyn Disk + Send + Sync>);

/// Reads files one after the other, on a thread of its own.
pub(crate) struct Reader(Sender<ToRead>);

impl Reader {
    /// One that hands over each file when it is read.
    pub(crate) fn new(hand_over: impl Fn(SoundFile) + Send + 'static) -> Self {
        let (ask, asked): (_, Receiver<ToRead>) = mpsc::channel();
        thread::spawn(move || {
            for (mut file, disk) in asked {
                file.look_anew(&*disk);
                hand_over(file);
            }
        });
        Self(ask)
    }

    /// Has a file read.
    pub(crate) fn read(&self, file: SoundFile, disk: Arc<dyn Disk + Send + Sync>) {
        // The thread lives as long as we do.
        drop(self.0.send((file, disk)));
    }
}

impl PartialEq for SoundFile {
    /// A file that is not read yet is not the one that could not be read.
    fn eq(&self, other: &Self) -> bool {
        self.path == other.path && self.mark == other.mark && self.found.is_some() == other.found.is_some()
    }
}

impl fmt::Debug for SoundFile {
    /// Not sample by sample.
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "{} ({:?}, {:?})", self.path.display(), self.mark, self.sound().map(|sound| sound.frames()))
    }
}

fn mark(bytes: &[u8]) -> u64 {
    let mut hasher = DefaultHasher::new();
    bytes.hash(&mut hasher);
    hasher.finish()
}

/// Words as a sentence.
pub(crate) fn sentence(words: &str) -> String {
    let mut letters = words.trim_end_matches('.').chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
}

/// What a recording is of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Kind {
    /// A sweep of this program through a loudspeaker.
    #[default]
    Sweep,
    /// An impulse response already.
    Response,
    /// A clap or a bursting balloon.
    Clap,
    /// Somebody reads.
    Voice,
}

impl Kind {
    /// All of them.
    pub(crate) const ALL: [Self; 4] = [Self::Sweep, Self::Response, Self::Clap, Self::Voice];

    /// What it is called.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Sweep => "a sweep",
            Self::Response => "an impulse response",
            Self::Clap => "a clap or a bursting balloon",
            Self::Voice => "a voice",
        }
    }
}

/// One recording of the list.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Listed {
    /// The file.
    pub(crate) file: SoundFile,
    /// That of before, made the same way.
    pub(crate) before: Option<SoundFile>,
    /// What both are of.
    pub(crate) kind: Kind,
    /// How the sweep was made, where they are of one.
    pub(crate) sweep: Sweep,
    /// The channel to take, counted from 1; `None`: the one that holds a sound, else the first.
    pub(crate) channel: Option<usize>,
    /// Name of the source, where it was chosen.
    pub(crate) source: Option<String>,
    /// Name of the seat or microphone, likewise.
    pub(crate) receiver: Option<String>,
}

/// The sweep that `roomwright sweep` writes if nothing else is asked of it.
pub(crate) fn usual_sweep() -> Sweep {
    Sweep::new(20.0, 20_000.0, 10.0, 48_000.0)
}

/// Names of sources.
pub(crate) fn sources(scene: &Scene) -> Vec<&str> {
    scene.sources.iter().map(|source| source.name.as_str()).collect()
}

/// Names of seats and microphones, as the room counts them.
pub(crate) fn receivers(scene: &Scene) -> Vec<&str> {
    let microphones = scene.microphones.iter().map(|one| one.name.as_str());
    scene.seats.iter().map(|seat| seat.name.as_str()).chain(microphones).collect()
}

impl Listed {
    /// A file that is listed, taken for what the one listed last is of.
    pub(crate) fn new(file: SoundFile, last: Option<&Self>) -> Self {
        let (kind, sweep) = last.map_or((Kind::default(), usual_sweep()), |last| (last.kind, last.sweep));
        Self { file, before: None, kind, sweep, channel: None, source: None, receiver: None }
    }

    /// The file, and that of before.
    pub(crate) fn files(&self) -> impl Iterator<Item = &SoundFile> {
        std::iter::once(&self.file).chain(&self.before)
    }

    /// Both, to be changed.
    pub(crate) fn files_mut(&mut self) -> impl Iterator<Item = &mut SoundFile> {
        std::iter::once(&mut self.file).chain(&mut self.before)
    }

    /// How many channels there are to choose from.
    pub(crate) fn channels(&self) -> usize {
        self.files().map(SoundFile::channels).max().unwrap_or(0)
    }

    /// Whether it is a voice: it is compared with its take of before, and tells no decay.
    pub(crate) fn is_voice(&self) -> bool {
        self.kind == Kind::Voice
    }

    /// The number of its source, or what is to be said about that.
    pub(crate) fn source(&self, scene: &Scene) -> Result<usize, String> {
        let [usual, _] = usual_ends(scene, self.kind == Kind::Clap);
        which(self.source.as_deref(), &sources(scene), usual, ["source", "Which source was recorded?"])
    }

    /// The number of its seat or microphone, likewise.
    pub(crate) fn receiver(&self, scene: &Scene) -> Result<usize, String> {
        let [_, usual] = usual_ends(scene, self.kind == Kind::Clap);
        which(self.receiver.as_deref(), &receivers(scene), usual, ["seat or microphone", "Where was it recorded?"])
    }

    /// All that is known to be in the way of comparing it, each in a sentence, with whether it is about the file of before.
    pub(crate) fn faults(&self, scene: &Scene) -> Vec<(bool, String)> {
        let of_file = |file: &SoundFile| file.found.as_ref().and_then(|found| found.as_ref().err().cloned());
        let mut faults: Vec<(bool, String)> = of_file(&self.file).map(|why| (false, why)).into_iter().collect();
        faults.extend(self.before.as_ref().and_then(of_file).map(|why| (true, why)));
        faults.extend((self.is_voice() && self.before.is_none()).then(|| (false, ALONE.to_owned())));
        let ends = [self.source(scene), self.receiver(scene)];
        faults.extend(ends.into_iter().filter_map(Result::err).map(|why| (false, why)));
        let sweep = (self.kind == Kind::Sweep).then(|| self.sweep.check().err()).flatten();
        faults.extend(sweep.map(|why| (false, sentence(&why.to_string()))));
        faults
    }

    /// What is compared; `None` where something is in the way, and of a voice.
    pub(crate) fn recording(&self, scene: &Scene) -> Option<Recording> {
        Some(Recording {
            sound: sound(&self.file)?,
            before: match &self.before {
                Some(before) => Some(sound(before)?),
                None => None,
            },
            signal: match self.kind {
                Kind::Sweep => Signal::Sweep(self.sweep),
                Kind::Response => Signal::Response,
                Kind::Clap => Signal::Clap,
                Kind::Voice => return None,
            },
            channel: self.channel,
            source: self.source(scene).ok()?,
            receiver: self.receiver(scene).ok()?,
        })
    }

    /// Both takes of a voice; `None` where something is in the way.
    pub(crate) fn voice(&self, scene: &Scene) -> Option<VoiceRecording> {
        Some(VoiceRecording {
            sound: sound(&self.file)?,
            before: sound(self.before.as_ref()?)?,
            channel: self.channel,
            source: self.source(scene).ok()?,
            receiver: self.receiver(scene).ok()?,
        })
    }
}

/// Said of a voice without a take of before.
const ALONE: &str = "A voice is compared with a take of before, the same text at the same place: choose it.";

fn sound(file: &SoundFile) -> Option<Sound> {
    file.sound().map(|sound| (**sound).clone())
}

/// The number of what was chosen, else the usual one; `what` it is and what is asked.
fn which(chosen: Option<&str>, names: &[&str], usual: Option<usize>, [what, asks]: [&str; 2]) -> Result<usize, String> {
    match chosen {
        _ if names.is_empty() => Err(format!("The scene has no {what}.")),
        Some(name) => names.iter().position(|other| *other == name).ok_or_else(|| format!("The scene has no \"{name}\" any more. {asks}")),
        None => usual.ok_or_else(|| asks.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use roomwright::scene::{Activity, read, starter};

    use super::*;
    use crate::test_disk::Memory;

    /// A file that holds nothing of use.
    fn listed() -> Listed {
        Listed::new(SoundFile::read("a.wav".as_ref(), &Memory::default()), None)
    }

    fn scene(text: &str) -> Scene {
        read(text).unwrap().0
    }

    #[test]
    fn keeps_the_usual_ends_as_the_command_line_has_them() {
        let size = roomwright::scene::RoomSize::read("3.6x2.9x2.4m").unwrap();
        let two = scene(&starter("Room", &size));
        assert_eq!((two.sources.len(), two.seats.len()), (2, 1));
        let mut one = listed();
        assert_eq!((one.source(&two), one.receiver(&two)), (Err("Which source was recorded?".to_owned()), Ok(0)));
        one.kind = Kind::Clap;
        assert_eq!(one.source(&two), Ok(0), "a clap is no source");
        one.source = Some(two.sources[1].name.clone());
        assert_eq!(one.source(&two), Ok(1));
        one.source = Some("gone".to_owned());
        assert_eq!(one.source(&two).unwrap_err(), "The scene has no \"gone\" any more. Which source was recorded?");
        // A voice is judged at its microphone.
        let attic = scene(include_str!("../scenes/attic-voice-room.toml"));
        for activity in [Activity::Voice, Activity::Mixing] {
            let used = Scene { activity, ..attic.clone() };
            let own = if activity == Activity::Voice { &used.microphones[0].name } else { &used.seats[0].name };
            assert_eq!(receivers(&used)[listed().receiver(&used).unwrap()], *own);
        }
        let nobody = Scene { sources: Vec::new(), seats: Vec::new(), microphones: Vec::new(), ..two };
        assert_eq!(listed().source(&nobody).unwrap_err(), "The scene has no source.");
        assert_eq!(listed().receiver(&nobody).unwrap_err(), "The scene has no seat or microphone.");
    }

    #[test]
    fn keeps_all_faults_at_once_each_a_sentence() {
        let size = roomwright::scene::RoomSize::read("3.6x2.9x2.4m").unwrap();
        let scene = scene(&starter("Room", &size));
        let disk = Memory::default();
        disk.put("notes.wav", "Dear all");
        disk.put("empty.wav", "");
        let file = |path: &str| SoundFile::read(path.as_ref(), &disk);
        let mut one = Listed { before: Some(file("notes.wav")), ..Listed::new(file("empty.wav"), None) };
        one.sweep.low_hz = 15_000.0;
        let faults = one.faults(&scene);
        let said: Vec<&str> = faults.iter().map(|(_, why)| why.as_str()).collect();
        assert_eq!(faults.iter().map(|(is_before, _)| *is_before).collect::<Vec<_>>(), [false, true, false, false]);
        assert!(said[0].starts_with("The file is empty"), "{said:?}");
        assert!(said[1].starts_with("This is not a WAV file"), "{said:?}");
        assert_eq!(said[2], "Which source was recorded?");
        assert!(said[3].starts_with("A sweep goes from above 0 Hz"), "{said:?}");
        assert!(said.iter().all(|sentence| sentence.ends_with(['.', '?'])), "{said:?}");
        assert!(one.recording(&scene).is_none());
        one.kind = Kind::Response;
        assert_eq!(one.faults(&scene).len(), 3, "how a sweep was made is asked of sweeps alone");
        // A voice says nothing by itself.
        one.kind = Kind::Voice;
        assert_eq!(one.faults(&scene).len(), 3);
        one.before = None;
        let faults = one.faults(&scene);
        assert!(faults.len() == 3 && faults[1] == (false, ALONE.to_owned()) && one.voice(&scene).is_none(), "{faults:?}");
        let missing = listed().faults(&scene)[0].1.clone();
        assert!(missing.starts_with("Cannot read a.wav: "), "{missing}");
    }

    /// On the disk of this machine: of a file that is longer than nothing no more is read than that it is none.
    #[test]
    fn keeps_folders_apart_from_files() {
        let here: &Path = env!("CARGO_MANIFEST_DIR").as_ref();
        let is_folder = |path: &Path| is_folder(path, &files::RealDisk);
        assert!(is_folder(here) && !is_folder(&here.join("Cargo.toml")) && !is_folder(&here.join("nothing of this name")));
    }

    #[test]
    fn keeps_a_file_until_it_is_another_one() {
        let disk = Memory::default();
        let sound = |level: f32| Sound { rate: 48_000, channels: vec![vec![level; 100], vec![0.0; 100]] };
        let put = |level: f32| disk.put("a.wav", wav::write(&sound(level), wav::Form::Float32, None).unwrap());
        put(0.5);
        let first = Listed::new(SoundFile::read("a.wav".as_ref(), &disk), None);
        assert_eq!((first.channels(), first.file.sound().unwrap().seconds()), (2, 100.0 / 48_000.0));
        let mut now = first.clone();
        now.file.look_anew(&disk);
        assert!(now == first && Arc::ptr_eq(now.file.sound().unwrap(), first.file.sound().unwrap()), "read once");
        put(0.25);
        now.file.look_anew(&disk);
        assert!(now != first && **now.file.sound().unwrap() == sound(0.25));
        disk.remove("a.wav".as_ref()).unwrap();
        now.file.look_anew(&disk);
        assert!(matches!(now.file.found, Some(Err(_))));
        assert_ne!(now.file, SoundFile::unread("a.wav".as_ref()), "what cannot be read was read");
        put(0.5);
        now.file.look_anew(&disk);
        assert_eq!(now, first);
    }
}
