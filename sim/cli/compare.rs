//! `compare` and `lesson`: scenes side by side, as typed or as a lesson has them; the page, and of a lesson its scenes and its pages to print.

use std::path::{Path, PathBuf};

use roomwright::files::{self, Written};
use roomwright::report::{self, text};
use roomwright::scene::difference::differences;
use roomwright::scene::lessons::Lesson;
use roomwright::scene::{self, Scene};
use roomwright::study::{self, BassAsked, ComparedRooms, Sounds, USUAL_TOP, VERSIONS_MOST, Version};

use super::arguments::{Compare, LessonGiven, SoundGiven};
use super::{Failure, begin_sheets, finish, json, listen, print, read, waiting};

/// Names and bytes.
type Sheets = Vec<(String, Vec<u8>)>;

/// A file or a part of a lesson, before it is heard.
struct Text {
    name: String,
    text: String,
    scene: Scene,
}

/// Scenes side by side.
pub(super) fn compare(given: &Compare, out: Option<&Path>) -> Result<(), Failure> {
    let paths: Vec<&PathBuf> = std::iter::once(&given.scene).chain(&given.others).collect();
    if paths.len() > VERSIONS_MOST {
        return Err(Failure::Usage(format!(
            "{} scenes are too many to be told apart: {VERSIONS_MOST} at most stand side by side",
            paths.len()
        )));
    }
    // All mistakes in all files are told before anything ends.
    let read: Vec<Result<Text, Failure>> = paths.iter().map(|path| text_of(path)).collect();
    let texts = read.into_iter().collect::<Result<Vec<_>, _>>()?;
    let waves = (!given.rays_only).then(|| given.reach.asked());
    let folder = out.map_or_else(|| files::default_folder(&given.scene), Path::to_path_buf);
    let job = Job { texts: &texts, waves: waves.as_ref(), sound: &given.sound, place: (&folder, "compare", &given.scene) };
    let made = job.run(|scenes, compared, sounds| {
        let mut sheets = report::compare_files(scenes, compared, sounds);
        sheets.insert(1, ("compare.json".into(), format!("{}\n", json(&compared.comparison)?).into_bytes()));
        Ok(sheets)
    })?;
    let comparison = &made.compared.comparison;
    finish(given.json, &made.written, &json(comparison)?, || made.told(text::compare(&made.scenes[0].name, comparison)))
}

/// The scene of a file.
fn text_of(path: &Path) -> Result<Text, Failure> {
    let (text, scene) = read(path)?;
    let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    Ok(Text { name, text, scene })
}

/// Texts to be heard side by side.
struct Job<'a> {
    texts: &'a [Text],
    waves: Option<&'a BassAsked>,
    sound: &'a SoundGiven,
    /// Folder, command, and the scene that is not to be written to.
    place: (&'a Path, &'a str, &'a Path),
}

/// What came of it.
struct Made {
    scenes: Vec<Scene>,
    compared: ComparedRooms,
    sounds: Option<Sounds>,
    written: Written,
}

impl Job<'_> {
    /// Hears all of them, draws and writes; with sound, where that is asked for.
    fn run(self, draw: impl FnOnce(&[Scene], &ComparedRooms, Option<&Sounds>) -> Result<Sheets, Failure> + Send) -> Result<Made, Failure> {
        let Self { texts, waves, sound, place } = self;
        let version =
            |one: &Text| Version { name: one.name.clone(), scene: one.scene.clone(), differs: differences(&texts[0].text, &one.text) };
        let versions: Vec<Version> = texts.iter().map(version).collect();
        let scenes: Vec<Scene> = texts.iter().map(|one| one.scene.clone()).collect();
        let asked = if sound.sound.is_empty() { None } else { Some(listen::asked(sound, &scenes[0])?) };
        waiting::wait_and_write(|progress| {
            let (compared, listened) = match &asked {
                None => (study::compare(progress, &versions, waves)?, None),
                Some(asked) => {
                    let (compared, listened) = study::compare_and_listen(progress, &versions, waves, asked)?;
                    (compared, Some(listened))
                }
            };
            begin_sheets(progress)?;
            let sounds = listened.as_ref().map(|listened| listened.sounds.clone());
            let mut sheets = draw(&scenes, &compared, sounds.as_ref())?;
            progress.step(1)?;
            if let Some(listened) = &listened {
                sheets.extend(report::sound_files(&scenes[0], listened).map_err(|why| Failure::Usage(why.to_string()))?);
                sheets.push(("sound.json".into(), format!("{}\n", json(&listened.sounds)?).into_bytes()));
            }
            let written = listen::write(progress, place, &sheets, listened.as_ref())?;
            Ok(Made { scenes, compared, sounds, written })
        })
    }
}

impl Made {
    /// A text with what there is to hear.
    fn told(&self, text: String) -> String {
        match &self.sounds {
            None => text,
            Some(sounds) => format!("{}\n{}", text.trim_end(), text::listen::section(sounds)),
        }
    }
}

/// A lesson, all of them, or which there are.
pub(super) fn lesson(given: &LessonGiven, out: Option<&Path>) -> Result<(), Failure> {
    match given.lesson.as_deref() {
        None => print(&text::lesson::list()),
        Some("all") if given.json => Err(Failure::Usage("--json prints one result: name one lesson".to_owned())),
        Some("all") => Lesson::ALL.iter().try_for_each(|lesson| one(lesson, given, out.map(|out| out.join(lesson.word)).as_deref())),
        Some(word) => match Lesson::named(word) {
            Some(lesson) => one(lesson, given, out),
            None => {
                let words = Lesson::ALL.map(|lesson| lesson.word).join(", ");
                Err(Failure::Usage(format!("there is no lesson \"{word}\"; there are {words}, or all")))
            }
        },
    }
}

fn one(lesson: &Lesson, given: &LessonGiven, out: Option<&Path>) -> Result<(), Failure> {
    let texts = texts(lesson)?;
    let waves = BassAsked { top_hz: USUAL_TOP, memory: study::MEMORY, others: 0, beside_bare: false };
    let folder = out.map_or_else(|| Path::new("out").join("lessons").join(lesson.word), Path::to_path_buf);
    let waves = lesson.is_by_waves.then_some(&waves);
    let job = Job { texts: &texts, waves, sound: &given.sound, place: (&folder, "lesson", Path::new("")) };
    let made = job.run(|scenes, compared, sounds| {
        let mut sheets = report::lesson_files(lesson, scenes, compared, sounds).map_err(|why| Failure::Usage(why.to_string()))?;
        sheets.push(("lesson.json".into(), format!("{}\n", json(&compared.comparison)?).into_bytes()));
        let rooms = texts.iter().enumerate();
        sheets.extend(rooms.map(|(index, one)| (text::lesson::file_name(lesson, index), one.text.clone().into_bytes())));
        Ok(sheets)
    })?;
    let text = || made.told(text::lesson(lesson, &made.scenes, &made.compared));
    finish(given.json, &made.written, &json(&made.compared.comparison)?, text)
}

/// The rooms of a lesson.
fn texts(lesson: &Lesson) -> Result<Vec<Text>, Failure> {
    let of = |version: scene::lessons::Version| match scene::read(&version.text) {
        Ok((scene, _)) => Ok(Text { name: version.name.to_owned(), text: version.text, scene }),
        Err(mistakes) => {
            let told = mistakes.first().map_or_else(String::new, |one| one.message.clone());
            Err(Failure::Usage(format!("the lesson \"{}\" does not read, which is a fault of ours: {told}", lesson.word)))
        }
    };
    lesson.versions().into_iter().map(of).collect()
}
