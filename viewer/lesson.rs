//! A lesson in the window: its room as layout A, one of its versions as layout B; and two layouts beside each other, a study that is made
//! when somebody asks for the difference.
//!
//! *Limits.* A version is made of the lesson's own room: what was changed in A does not go into it.

use std::sync::Arc;

use roomwright::progress::{Cancelled, Progress};
use roomwright::scene::difference::differences;
use roomwright::scene::lessons::Lesson;
use roomwright::scene::{self, Scene};
use roomwright::study::{self, BassAsked, Comparison, Version};

use crate::document::Document;

/// Layouts of which the difference is asked for.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Beside {
    /// Texts of A and B.
    pub(crate) texts: [Arc<str>; 2],
    /// What they are called.
    pub(crate) names: [String; 2],
    /// The low end by waves, where they are asked something.
    pub(crate) waves: Option<BassAsked>,
}

impl Beside {
    /// The layouts of a document; `None` while there is only one.
    pub(crate) fn of(document: &Document, lesson: Option<&'static Lesson>) -> Option<Self> {
        let layouts = document.layouts();
        let (shown, other): (Arc<str>, Arc<str>) = (layouts.shown.as_str().into(), layouts.other.clone()?);
        let texts = if layouts.shows_b { [other, shown] } else { [shown, other] };
        let called = |text: &str, letter: &str| {
            let versions = lesson.into_iter().flat_map(Lesson::versions);
            versions
                .into_iter()
                .find(|version| version.text == text)
                .map_or_else(|| format!("layout {letter}"), |version| version.name.to_owned())
        };
        let names = [called(&texts[0], "A"), called(&texts[1], "B")];
        let waves = lesson.is_some_and(|lesson| lesson.is_by_waves).then(BassAsked::default);
        Some(Self { texts, names, waves })
    }

    /// Hears both.
    pub(crate) fn run(&self, progress: &Progress) -> Result<Arc<Difference>, Cancelled> {
        let found = match self.versions() {
            Ok(versions) => Ok(study::compare::compare(progress, &versions, self.waves.as_ref())?.comparison),
            Err(why) => Err(why),
        };
        Ok(Arc::new(Difference { asked: self.clone(), found }))
    }

    /// Both as scenes, or which of them has mistakes.
    fn versions(&self) -> Result<Vec<Version>, String> {
        let version = |index: usize| {
            let read: Result<(Scene, _), _> = scene::read(&self.texts[index]);
            let (scene, _) =
                read.map_err(|_mistakes| format!("Layout {} has mistakes; show it and mend them first.", ["A", "B"][index]))?;
            Ok(Version { name: self.names[index].clone(), scene, differs: differences(&self.texts[0], &self.texts[index]) })
        };
        (0..2).map(version).collect()
    }
}

/// What came of it.
#[derive(Clone, Debug)]
pub(crate) struct Difference {
    /// What was asked.
    pub(crate) asked: Beside,
    /// Both side by side, or why not.
    pub(crate) found: Result<Comparison, String>,
}

/// The room of a lesson, and its first version.
pub(crate) fn layouts(lesson: &Lesson) -> (String, String) {
    let b = lesson.variations.first().map_or_else(String::new, |variation| variation.applied(lesson.text));
    (lesson.text.to_owned(), b)
}

/// Makes a version of a lesson layout B, by its number among the lesson's variations; which layout is shown stays.
pub(crate) fn show_version(document: &mut Document, lesson: &Lesson, number: usize) {
    if let Some(variation) = lesson.variations.get(number) {
        document.change_other(lesson.text, variation.applied(lesson.text));
    }
}
