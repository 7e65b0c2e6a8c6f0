//! `compare` and `lesson`: scenes side by side, as typed or as a lesson has them; the page, and of a lesson its scenes and its pages to print.

use std::path::{Path, PathBuf};

use roomwright::report::{self, text};
use roomwright::scene::difference::differences;
use roomwright::scene::lessons::Lesson;
use roomwright::scene::{self, Scene};
use roomwright::study::{self, BassAsked, ComparedRooms, USUAL_TOP, VERSIONS_MOST, Version};

use super::arguments::{Compare, LessonGiven};
use super::{Failure, begin_sheets, finish, json, print, read, waiting, write};

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
    let scenes: Vec<Scene> = texts.iter().map(|one| one.scene.clone()).collect();
    let (compared, mut sheets) = heard(&texts, waves.as_ref(), |compared| report::compare_files(&scenes, compared, None))?;
    let json = json(&compared.comparison)?;
    sheets.insert(1, ("compare.json".into(), format!("{json}\n").into_bytes()));
    let written = write("compare", Some(&given.scene), out, &sheets)?;
    finish(given.json, &written, &json, || text::compare(&scenes[0].name, &compared.comparison))
}

/// The scene of a file.
fn text_of(path: &Path) -> Result<Text, Failure> {
    let (text, scene) = read(path)?;
    let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    Ok(Text { name, text, scene })
}

/// Hears all of them and draws.
fn heard<T: Send>(
    texts: &[Text],
    waves: Option<&BassAsked>,
    draw: impl FnOnce(&ComparedRooms) -> T + Send,
) -> Result<(ComparedRooms, T), Failure> {
    let version =
        |one: &Text| Version { name: one.name.clone(), scene: one.scene.clone(), differs: differences(&texts[0].text, &one.text) };
    let versions: Vec<Version> = texts.iter().map(version).collect();
    Ok(waiting::wait(|progress| {
        let compared = study::compare(progress, &versions, waves)?;
        begin_sheets(progress)?;
        let drawn = draw(&compared);
        progress.step(1)?;
        Ok((compared, drawn))
    })?)
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
    let scenes: Vec<Scene> = texts.iter().map(|one| one.scene.clone()).collect();
    let waves = BassAsked { top_hz: USUAL_TOP, memory: study::MEMORY, others: 0, beside_bare: false };
    let (compared, drawn) =
        heard(&texts, lesson.is_by_waves.then_some(&waves), |compared| report::lesson_files(lesson, &scenes, compared, None))?;
    let mut sheets = drawn.map_err(|why| Failure::Usage(why.to_string()))?;
    let json = json(&compared.comparison)?;
    sheets.push(("lesson.json".into(), format!("{json}\n").into_bytes()));
    sheets.extend(texts.into_iter().enumerate().map(|(index, one)| (text::lesson::file_name(lesson, index), one.text.into_bytes())));
    let folder = out.map_or_else(|| Path::new("out").join("lessons").join(lesson.word), Path::to_path_buf);
    let written = write("lesson", None, Some(&folder), &sheets)?;
    finish(given.json, &written, &json, || text::lesson(lesson, &scenes, &compared))
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
