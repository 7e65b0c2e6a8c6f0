//! Did it work? The recordings that are listed, what they said when they were set beside the scene, and what of that is looked at.
//!
//! What was said is kept with the scene and the recordings that it is of. Where nothing came of some of them, what was said before stays, and the reasons stand beside their files.

use std::path::PathBuf;
use std::sync::Arc;

use bevy::math::DVec3;
use bevy::prelude::ResMut;
use roomwright::files::Disk;
use roomwright::progress::{Cancelled, Progress};
use roomwright::prove::voice::{ProvedVoice, VoiceProof};
use roomwright::prove::{Agreement, Matched, New, Proof, Proved};
use roomwright::room::Room;
use roomwright::scene::Scene;
use roomwright::scene::edit::Edited;
use roomwright::study::{self, BassAsked, FitError, Fitted, MatchedVoice, ProveError, Recording, VoiceRecording};

use crate::compute::{Compute, Report};
use crate::document::Document;
use crate::errand::{Errand, Outcome};
use crate::pages;
use crate::reason::{reason, without_options};
use crate::recordings::{Listed, SoundFile, is_folder, sentence};
use crate::recovery::Storage;
use crate::results::Results;
use crate::shelf::Shelf;
use crate::view::{Question, View};

/// A reflection that a recording tells of, by its number in the answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Told {
    /// One that was predicted.
    Predicted(usize),
    /// One that nothing predicts.
    New(usize),
}

/// One thing that is done on the page.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ProveChoice {
    /// Asks for a file: a recording, or that of before of the one with this number.
    Ask(Option<usize>),
    /// Lists this one.
    Take(Option<usize>, PathBuf),
    /// Says something else of the recording with this number.
    Change(usize, Box<Listed>),
    /// Takes it off the list.
    LeaveOut(usize),
    /// Puts the answer of a recording in front.
    Show(usize),
    /// Puts a reflection in front, or none.
    Tell(Option<Told>),
    /// Writes the takes of voices equally loud, with their page.
    WriteVoices,
    /// Writes the scene with fitted materials, with its page.
    WriteFit,
}

/// What is chosen.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct ProveView {
    /// The recordings.
    pub(crate) listed: Vec<Listed>,
    /// The one whose answer is in front, by its number in the answer.
    pub(crate) shown: usize,
    /// The reflection in front.
    pub(crate) told: Option<Told>,
    /// Where the scene with fitted materials of the answer was written.
    pub(crate) fitted: Option<PathBuf>,
}

impl ProveView {
    /// Has all of them read again: what another program wrote meanwhile counts.
    pub(crate) fn look_anew(&self, compute: &Compute, disk: &Storage) {
        compute.read(self.listed.iter().flat_map(Listed::files), disk);
    }

    /// Takes in files as they were read, wherever they are listed.
    fn put(&mut self, read: &[&SoundFile]) {
        for file in self.listed.iter_mut().flat_map(Listed::files_mut) {
            if let Some(now) = read.iter().find(|now| now.path == file.path) {
                file.clone_from(now);
            }
        }
    }
}

/// What recordings are asked.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct ProveAsked {
    /// The recordings.
    pub(crate) listed: Vec<Listed>,
    /// What waves of the prediction are asked, if they are run.
    pub(crate) waves: Option<BassAsked>,
    /// The text of the scene, where materials are fitted to them.
    pub(crate) fits: Option<Arc<str>>,
}

/// What recordings said.
#[derive(Clone, Debug)]
pub(crate) struct Proven {
    /// Beside which scene.
    pub(crate) scene: Arc<Scene>,
    /// Its room.
    pub(crate) room: Room,
    /// The recordings.
    pub(crate) listed: Vec<Listed>,
    /// The answer of those that are no voices, in their order; `None` where all are.
    pub(crate) proof: Option<Proof>,
    /// That of the voices, likewise.
    pub(crate) voices: Option<Voices>,
    /// The scene with fitted materials, where some were told.
    pub(crate) variant: Option<Edited>,
}

/// What voices said, and their takes equally loud where they can be.
#[derive(Clone, Debug)]
pub(crate) struct Voices {
    /// The answer; one for each voice.
    pub(crate) proof: VoiceProof,
    /// The takes, likewise.
    pub(crate) heard: Vec<Option<MatchedVoice>>,
}

/// The answer of one recording.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Front<'a> {
    /// Of a sweep, a response, a clap.
    Recording(&'a Proved),
    /// Of a voice.
    Voice(&'a ProvedVoice),
}

/// Why nothing comes of a recording.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Fault {
    /// The recording as it was listed.
    pub(crate) listed: Listed,
    /// Whether it is about the file of before.
    pub(crate) is_before: bool,
    /// Why, in a sentence.
    pub(crate) why: String,
}

/// Why there is no answer.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Refusal {
    /// What is wrong with recordings: all of it.
    pub(crate) faults: Vec<Fault>,
    /// Why no materials are fitted, in a sentence.
    pub(crate) fit: Option<String>,
}

/// What recordings said, or why there is no answer.
pub(crate) type Answer = Result<Arc<Proven>, Refusal>;

/// What became of a comparison.
#[derive(Clone, Debug)]
pub(crate) struct Answered {
    /// The recordings as they lay on disk.
    listed: Vec<Listed>,
    /// What they said.
    pub(crate) answer: Answer,
}

impl ProveAsked {
    /// Reads them as they lie on disk now, and sets them beside the scene.
    pub(crate) fn run(&self, progress: &Progress, scene: &Arc<Scene>, disk: &dyn Disk) -> Result<Answered, Cancelled> {
        let mut now = self.clone();
        progress.begin("reading the files", now.listed.iter().flat_map(Listed::files).count() as u64);
        for file in now.listed.iter_mut().flat_map(Listed::files_mut) {
            file.look_anew(disk);
            progress.step(1)?;
        }
        let answer = now.answer(progress, scene)?;
        Ok(Answered { listed: now.listed, answer })
    }

    /// Sets them beside the scene as they are.
    pub(crate) fn answer(&self, progress: &Progress, scene: &Arc<Scene>) -> Result<Answer, Cancelled> {
        let faults: Vec<Fault> = self.listed.iter().flat_map(|one| of_list(one, scene)).collect();
        let (voices, others): (Vec<&Listed>, Vec<&Listed>) = self.listed.iter().partition(|one| one.is_voice());
        let takes: Option<Vec<VoiceRecording>> = voices.iter().map(|one| one.voice(scene)).collect();
        let recordings: Option<Vec<Recording>> = others.iter().map(|one| one.recording(scene)).collect();
        let Some((recordings, takes)) = recordings.zip(takes).filter(|_| faults.is_empty()) else {
            return Ok(Err(Refusal { faults, fit: None }));
        };
        let mut refusal = Refusal::default();
        let told = match recordings.is_empty() {
            true => None,
            false => refusal.sort(self.compared(progress, scene, &recordings), &others)?,
        };
        let spoken = match takes.is_empty() {
            true => None,
            false => refusal.sort(study::prove_voices(progress, scene, &takes).map_err(FitError::from), &voices)?,
        };
        if refusal != Refusal::default() {
            return Ok(Err(refusal));
        }
        let (proof, variant) = told.map(|Fitted { proof, variant }| (proof, variant)).unzip();
        let voices = spoken.map(|(proof, heard)| Voices { proof, heard });
        let (scene, room, listed) = (scene.clone(), study::room(scene), self.listed.clone());
        Ok(Ok(Arc::new(Proven { scene, room, listed, proof, voices, variant: variant.flatten() })))
    }

    /// What those that are no voices say, with materials fitted to them where that is asked for.
    fn compared(&self, progress: &Progress, scene: &Scene, recordings: &[Recording]) -> Result<Fitted, FitError> {
        match &self.fits {
            Some(text) => study::prove_and_fit(progress, (text.as_ref(), scene), recordings, self.waves.as_ref()),
            None => {
                let proof = study::prove(progress, scene, recordings, self.waves.as_ref())?;
                Ok(Fitted { proof, variant: None })
            }
        }
    }
}

impl Refusal {
    /// What was found of these recordings; why nothing was is kept.
    fn sort<T>(&mut self, found: Result<T, FitError>, of: &[&Listed]) -> Result<Option<T>, Cancelled> {
        let fault = |one: &study::NoTake| {
            let listed = (*of.get(one.recording)?).clone();
            Some(Fault { listed, is_before: one.is_before, why: sentence(&one.to_string()) })
        };
        match found {
            Ok(found) => return Ok(Some(found)),
            Err(FitError::Prove(ProveError::Stopped(stopped))) => return Err(stopped),
            Err(FitError::Prove(ProveError::Recordings(wrong))) => self.faults.extend(wrong.iter().filter_map(fault)),
            Err(FitError::Text(why)) => self.fit = Some(sentence(&reason(&why))),
        }
        Ok(None)
    }
}

/// What is in the way of a recording before it is listened to.
fn of_list(one: &Listed, scene: &Scene) -> impl Iterator<Item = Fault> {
    let fault = |(is_before, why)| Fault { listed: one.clone(), is_before, why };
    one.faults(scene).into_iter().map(fault)
}

/// What is in the way of comparing a recording as it is listed now: what the list says itself, else what was found when it was listened to.
pub(crate) fn faults(results: &Results, scene: &Scene, one: &Listed) -> Vec<(bool, String)> {
    let own = one.faults(scene);
    if !own.is_empty() {
        return own;
    }
    let found = results.faults.iter().filter(|fault| fault.listed == *one);
    found.map(|fault| (fault.is_before, fault.why.clone())).collect()
}

impl Proven {
    /// The answers of those that are no voices.
    pub(crate) fn recordings(&self) -> &[Proved] {
        self.proof.as_ref().map_or(&[], |proof| &proof.recordings)
    }

    /// The answer in sentences.
    pub(crate) fn verdict(&self) -> Vec<&str> {
        let (proof, voices) =
            (self.proof.iter().flat_map(|proof| &proof.verdict), self.voices.iter().flat_map(|voices| &voices.proof.verdict));
        proof.chain(voices).map(String::as_str).collect()
    }

    /// What the notes say, in words of the screen.
    pub(crate) fn notes(&self) -> Vec<String> {
        let (proof, voices) = (self.proof.iter().flat_map(|proof| &proof.notes), self.voices.iter().flat_map(|voices| &voices.proof.notes));
        proof.chain(voices).map(|note| without_options(note)).collect()
    }

    /// The answer of the recording with this number.
    pub(crate) fn of(&self, number: usize) -> Option<Front<'_>> {
        let one = self.listed.get(number)?;
        let place = self.listed[..number].iter().filter(|other| other.is_voice() == one.is_voice()).count();
        match &self.voices {
            Some(voices) if one.is_voice() => voices.proof.voices.get(place).map(Front::Voice),
            _ => self.recordings().get(place).map(Front::Recording),
        }
    }

    /// The takes of a voice, equally loud.
    pub(crate) fn heard(&self, one: &ProvedVoice) -> Option<&MatchedVoice> {
        let voices = self.voices.as_ref()?;
        let place = voices.proof.voices.iter().position(|other| std::ptr::eq(other, one))?;
        voices.heard.get(place)?.as_ref()
    }

    /// How many octaves of all recordings ring as predicted, of how many that are judged.
    pub(crate) fn agreeing(&self) -> (usize, usize) {
        let octaves = self.recordings().iter().flat_map(|one| &one.octaves);
        let judged = octaves.map(|octave| octave.decay().agreement).filter(|agreement| *agreement != Agreement::NotJudged);
        judged.fold((0, 0), |(agree, all), agreement| (agree + usize::from(agreement == Agreement::AsPredicted), all + 1))
    }

    /// The way of a predicted reflection of a recording, from the source to where it is heard, meters.
    pub(crate) fn way(&self, one: &Proved, matched: &Matched) -> Option<Vec<DVec3>> {
        let source = self.room.sources.iter().find(|source| source.name == one.source)?.position;
        let end = self.room.receivers.iter().find(|receiver| receiver.name == one.receiver)?.position;
        let bounces = matched.points_m.iter().copied().map(DVec3::from_array);
        Some(std::iter::once(source).chain(bounces).chain([end]).collect())
    }

    /// Numbers of the surfaces that a new reflection could come by, each once.
    pub(crate) fn candidates(&self, new: &New) -> Vec<usize> {
        let names: Vec<&String> = new.ways.iter().flat_map(|way| &way.surfaces).collect();
        (0..self.room.surfaces.len()).filter(|&surface| names.contains(&&self.room.surfaces[surface].name)).collect()
    }
}

/// The answer in front.
pub(crate) fn front<'a>(view: &View, results: &'a Results) -> Option<(&'a Proven, Front<'a>)> {
    let proven = results.proof.as_deref()?;
    Some((proven, proven.of(view.proving.shown).or_else(|| proven.of(0))?))
}

/// The same where it is not that of a voice.
pub(crate) fn in_front<'a>(view: &View, results: &'a Results) -> Option<(&'a Proven, &'a Proved)> {
    match front(view, results)? {
        (proven, Front::Recording(one)) => Some((proven, one)),
        (_, Front::Voice(_)) => None,
    }
}

/// Applies what is done on the page; files are looked for beside the one listed last, else beside the scene.
pub(crate) fn choose(
    choice: &ProveChoice,
    (view, shelf): (&mut View, &mut Shelf),
    (document, results): (&Document, &Results),
    (compute, storage): (&Compute, &Storage),
) {
    let (listed, disk) = (&mut view.proving.listed, &*storage.0);
    match choice {
        ProveChoice::Ask(before_of) => {
            let last = listed.last().map(|one| one.file.path.clone());
            let folder = shelf.nearby(last.as_deref().or(document.path()));
            view.notice = shelf.look_into(&folder, disk).err();
            view.question = Some(Question::WhichRecording(*before_of));
        }
        ProveChoice::Take(_, path) if is_folder(path, disk) => view.notice = shelf.look_into(path, disk).err(),
        ProveChoice::Take(before_of, path) => {
            let file = SoundFile::unread(path);
            compute.read(std::iter::once(&file), storage);
            match before_of.and_then(|number| listed.get_mut(number)) {
                Some(one) => one.before = Some(file),
                None => {
                    let one = Listed::new(file, listed.last());
                    listed.push(one);
                }
            }
            (view.question, view.notice) = (None, None);
        }
        ProveChoice::Change(number, changed) => {
            if let Some(one) = listed.get_mut(*number) {
                one.clone_from(changed);
            }
        }
        ProveChoice::LeaveOut(number) => {
            if *number < listed.len() {
                listed.remove(*number);
            }
        }
        ProveChoice::Show(number) => (view.proving.shown, view.proving.told) = (*number, None),
        ProveChoice::Tell(told) => {
            view.proving.told = *told;
            // One path is in front at a time.
            view.arrival = view.arrival.filter(|_| told.is_none());
        }
        ProveChoice::WriteVoices => view.notice = Some(pages::voices(disk, document, results).unwrap_or_else(|why| why)),
        ProveChoice::WriteFit => match pages::fit(disk, document, results) {
            Ok((said, variant)) => (view.notice, view.proving.fitted) = (Some(said), Some(variant)),
            Err(why) => view.notice = Some(why),
        },
    }
}

/// Takes in recordings that were read: one that was listed, or those that were compared.
pub(crate) fn take_in(report: &Report, view: &mut ResMut<'_, View>) {
    let read: Vec<&SoundFile> = match report {
        Report::Read(file) => vec![file],
        Report::Errand(_, _, Some(Outcome::Answer(answered))) => {
            if answered.answer.is_ok() {
                view.proving.fitted = None;
            }
            answered.listed.iter().flat_map(Listed::files).collect()
        }
        _ => return,
    };
    view.proving.put(&read);
}

/// The errand as it is begun: recordings are those that are listed, and the text is that of the scene; it reads them. `None`, with a sentence in the foot, where something is known to be in their way.
pub(crate) fn made_ready(errand: &Errand, view: &mut View, (text, scene): (&str, &Scene)) -> Option<Errand> {
    let Errand::Prove(asked) = errand else { return Some(errand.clone()) };
    let listed = view.proving.listed.clone();
    let is_ready = !listed.is_empty() && listed.iter().all(|one| one.faults(scene).is_empty());
    let tells = asked.fits.is_none() || listed.iter().any(|one| !one.is_voice());
    if !is_ready {
        view.notice = Some("Nothing was compared: what is in the way stands beside the recordings.".to_owned());
    } else if !tells {
        view.notice = Some(format!("Nothing was fitted. {NO_DECAY}"));
    }
    let fits = asked.fits.as_ref().map(|_| text.into());
    (is_ready && tells).then_some(Errand::Prove(ProveAsked { listed, waves: asked.waves, fits }))
}

/// Why nothing is fitted to voices.
pub(crate) const NO_DECAY: &str = "Materials are fitted to decay times, which a voice does not tell: record a sweep or a clap.";
