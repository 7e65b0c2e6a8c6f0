//! `absorbers`: the materials table, and build-ups side by side. A list is printed and nothing is written; what is compared is drawn as well.

use std::path::Path;

use roomwright::report;
use roomwright::scene::Scene;
use roomwright::study::{self, Asked};

use super::arguments::Absorbers;
use super::{Failure, finish, json, print, read, say, write};

/// Lists, shows, compares.
pub(super) fn absorbers(given: &Absorbers, out: Option<&Path>) -> Result<(), Failure> {
    let scene_file = scene_among(given)?;
    let scene: Option<Scene> = scene_file.map(read).transpose()?.map(|(_, scene)| scene);
    let words = if scene_file.is_some() { String::new() } else { given.words.join(" ") };
    let asked = Asked { words: &words, rows: &given.show, panels: &given.panel, budget: given.budget };
    let answer = study::absorbers(&asked, scene.as_ref()).map_err(|mistakes| {
        for mistake in &mistakes {
            say(&mistake.render());
        }
        Failure::Typed(if mistakes.len() == 1 { "1 error".to_owned() } else { format!("{} errors", mistakes.len()) })
    })?;
    if let Some(path) = scene_file.filter(|_| answer.samples.is_empty()) {
        return Err(Failure::Usage(format!("{} has no [[stock]] to compare", path.display())));
    }
    let unit = study::absorbers::unit(&asked, scene.as_ref());
    let text = || report::text::absorbers(&answer, unit);
    if answer.samples.is_empty() {
        return if given.json { print(&json(&answer)?) } else { print(&text()) };
    }
    let chart = [("absorbers.svg".to_owned(), report::absorption::svg(&answer, unit).into_bytes())];
    let written = write("absorbers", scene_file, out, &chart)?;
    finish(given.json, &written, &json(&answer)?, text)
}

/// The scene that was named instead of words to search for.
fn scene_among(given: &Absorbers) -> Result<Option<&Path>, Failure> {
    let is_scene = |word: &String| Path::new(word).extension().is_some_and(|ending| ending.eq_ignore_ascii_case("toml"));
    let compares = !given.show.is_empty() || !given.panel.is_empty();
    match &given.words[..] {
        [only] if is_scene(only) => Ok(Some(Path::new(only))),
        [] => Ok(None),
        words if words.iter().any(is_scene) => {
            Err(Failure::Usage("one scene is compared at a time, and no words are searched for beside it".to_owned()))
        }
        words if compares => Err(Failure::Usage(format!(
            "\"{}\" would be searched for in the table, but rows or panels are to be compared: leave it out, or put it behind --show in quotation marks",
            words.join(" ")
        ))),
        _ => Ok(None),
    }
}
