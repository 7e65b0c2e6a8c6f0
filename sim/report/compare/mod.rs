//! Versions of a room as a page: what differs, what it does, figures, decays and arrivals of all of them in one frame; and a lesson, which
//! is such a page with what there is to learn from it, also on paper.
//!
//! One of the rooms can be turned in the page.
//!
//! *Limits.* Drawings are of the values given; nothing is computed here.

pub mod chart;
pub mod image;

use crate::plan::PlanPictures;
use crate::report::content::Section;
use crate::report::document::{self, Part, Piece, drawing, heard, part, pieces, take};
use crate::report::handout::{self, Handout};
use crate::report::heatmap::Heat;
use crate::report::pdf::{self, PdfError};
use crate::report::text::compare::letter;
use crate::report::text::{compare, lesson as words};
use crate::report::{axonometry, hung, top_view};
use crate::room::Room;
use crate::scene::Scene;
use crate::scene::lessons::Lesson;
use crate::study::compare::{Compared, ComparedRooms, Comparison, Kind};
use crate::study::listen::Sounds;

/// Names and bytes.
type Files = Vec<(String, Vec<u8>)>;

/// What `compare` writes beside compare.json: name and bytes.
#[must_use]
pub fn compare_files(scenes: &[Scene], compared: &ComparedRooms, sounds: Option<&Sounds>) -> Files {
    let name = scenes.first().map_or("", |scene| scene.name.as_str());
    let title = format!("{name}: versions side by side");
    let mut sections = compare::page(name, &compared.comparison).sections();
    let mut parts = vec![part(
        "What differs, and what it does",
        [take(&mut sections, "What differs", true), take(&mut sections, "What it does", true)].concat(),
    )];
    let rooms = std::iter::once(turned(scenes, compared, 0)).chain(from_above(scenes, compared));
    parts.push(part("The rooms", rooms.collect()));
    parts.push(part("Side by side", side_by_side(&compared.comparison, sections)));
    parts.extend(by_ear(sounds));
    vec![("compare.html".to_owned(), html(&title, &parts, scenes, compared, 0))]
}

/// What `lesson` writes beside lesson.json and its scenes: name and bytes.
///
/// # Errors
/// [`PdfError`].
pub fn lesson_files(lesson: &Lesson, scenes: &[Scene], compared: &ComparedRooms, sounds: Option<&Sounds>) -> Result<Files, PdfError> {
    let title = format!("Lesson {}: {}", lesson.number, lesson.title);
    let mut sections = words::page(lesson, scenes, compared).sections();
    let names: Vec<&str> = compared.comparison.versions.iter().map(|version| version.name.as_str()).collect();
    let mut asked = take(&mut sections, words::ASKED, false);
    let mirror = lesson.mirror.and_then(|edge| image::images(scenes, &names, edge));
    asked.extend(mirror.map(|svg| drawing(svg, "The source, its image behind the wall, the mirror point and the seat, from above")));
    asked.push(turned(scenes, compared, lesson.shown));
    let mut parts = vec![part(words::ASKED, asked), part(words::HAPPENS, take(&mut sections, words::HAPPENS, false))];
    parts.push(part("Where the first bounces touch", from_above(scenes, compared)));
    let change = part(words::CHANGE, take(&mut sections, words::CHANGE, false));
    let rests = part(words::RESTS, take(&mut sections, words::RESTS, false));
    parts.push(part("Side by side", side_by_side(&words::shown(lesson, &compared.comparison), sections)));
    parts.extend(by_ear(sounds).or_else(|| {
        let how = format!("To hear the versions, one after the other and in turns: `roomwright lesson {} --sound clap`.", lesson.word);
        Some(part("By ear", vec![Piece::Gap(how)]))
    }));
    parts.extend([change, rests]);
    let pages = document::pages((&title, &parts), (&scenes[0], "roomwright lesson"));
    Ok(vec![
        ("lesson.html".to_owned(), html(&title, &parts, scenes, compared, lesson.shown)),
        ("lesson.pdf".to_owned(), pdf::pdf(&title, &pages)?),
    ])
}

/// The page, with the room of one version to be turned.
fn html(title: &str, parts: &[Part], scenes: &[Scene], compared: &ComparedRooms, shown: usize) -> Vec<u8> {
    let none = PlanPictures::default();
    let handout = Handout {
        scene: &scenes[shown],
        room: &compared.rooms[shown],
        now: &compared.comparison.versions[shown].findings,
        plan: Err(String::new()),
        maps: &none,
        doubt: None,
        proof: Err(String::new()),
        voice: None,
        sounds: Err(String::new()),
    };
    let room = |still: &str, about: &str| handout::turned(&handout, still, about);
    document::page((title, parts), (&room, handout::STYLE)).into_bytes()
}

/// What a version is called.
fn called(compared: &ComparedRooms, index: usize) -> String {
    format!("{}, {}", letter(index), compared.comparison.versions[index].name)
}

/// The room of a version, to be turned.
fn turned(scenes: &[Scene], compared: &ComparedRooms, shown: usize) -> Piece {
    let (scene, room) = (&scenes[shown], &compared.rooms[shown]);
    let hung = hung::panels(scene, room, &[], &scene.panels);
    let svg = axonometry::svg(axonometry::View { scene, room, hung: &hung, hot_spots: &[], maps: &[], heat: Heat::Early });
    Piece::Room { svg, about: format!("The room: {}", called(compared, shown)) }
}

/// Each version from above with its first bounces.
fn from_above(scenes: &[Scene], compared: &ComparedRooms) -> Vec<Piece> {
    let view = |(index, ((scene, room), version)): (usize, ((&Scene, &Room), &Compared))| {
        let svg = top_view::svg(scene, room, &version.findings, 1000.0 * scene.settings.window_s);
        drawing(svg, format!("From above, with the first bounces: {}", called(compared, index)))
    };
    scenes.iter().zip(&compared.rooms).zip(&compared.comparison.versions).enumerate().map(view).collect()
}

/// Charts and tables.
fn side_by_side(comparison: &Comparison, sections: Vec<Section>) -> Vec<Piece> {
    let mut all = Vec::new();
    if comparison.figure(Kind::Decay).is_some() {
        all.push(drawing(chart::decays(comparison), "How long each version rings, octave by octave"));
    }
    all.push(drawing(chart::arrivals(comparison), "What arrives at the first seat in each version, and when"));
    all.extend(sections.into_iter().flat_map(|section| pieces(section, true)));
    all
}

/// Sounds to play, where there are any.
fn by_ear(sounds: Option<&Sounds>) -> Option<Part> {
    sounds.map(|sounds| part("By ear", heard(sounds, "")))
}
