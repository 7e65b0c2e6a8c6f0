//! The list pages of a build: what this is, what to buy, what to cut, in which order, and what hangs over heads.
//!
//! [`pages`] gives them in the order of work. Sheets of walls and ceilings stand between the making and what hangs overhead; whoever puts them there names them, so that
//! contents and page numbers count them.
//!
//! *Limits.* What stands on the sheets of walls and ceilings (marks, rows, their cautions) is not repeated here, except for what hangs overhead.

use crate::report::html::plain;
use crate::report::tape::Tape;
use crate::room::Room;
use crate::scene::making::Construction;
use crate::scene::{Panel, Scene};
use crate::units::POUND_KG;
use crate::workshop::caution::Place;
use crate::workshop::{Build, Made, Trouble};

use super::{cut_plans, overhead_pages, room_plan, shop_list, work_pages};
use crate::report::leaf::{Chapter, Format, Leaf, Voice, Writer, bind};
use crate::report::leaf_table::Table;

/// What pages are made of.
#[derive(Clone, Copy, Debug)]
pub struct Job<'a> {
    /// The scene with what hangs in it already.
    pub scene: &'a Scene,
    /// Its room.
    pub room: &'a Room,
    /// What is to be made, bought, cut, marked and hung.
    pub build: &'a Build,
    /// What is to be hung, in hanging order, as it is marked.
    pub panels: &'a [Panel],
    /// Titles of the sheets of walls and ceilings that are put in after the making, one a page.
    pub sheets: &'a [String],
}

/// All pages as drawings: stem of the file's name, and the SVG document.
#[must_use]
pub fn pages(job: Job<'_>) -> Vec<(String, String)> {
    leaves(job).into_iter().map(|(stem, leaf)| (stem, leaf.drawing.finish())).collect()
}

/// All pages, before they are written, so that they can be checked.
#[must_use]
pub fn leaves(job: Job<'_>) -> Vec<(String, Leaf)> {
    let format = Format::of(job.scene);
    let mut before = vec![shop_list::shopping(&format, job), shop_list::cut_list(&format, job)];
    before.extend(cut_plans::chapter(&format, job));
    before.extend(work_pages::chapter(&format, job));
    let overhead = overhead_pages::chapters(&format, job);
    // The list of contents is as long as it is, whatever numbers stand in it.
    let count = |chapters: &[Chapter]| chapters.iter().map(|chapter| chapter.leaves.len()).sum::<usize>();
    let own = first(&format, job, &[]).leaves.len().max(first(&format, job, &contents(&before, &overhead, job, 1)).leaves.len());
    let of = own + count(&before) + job.sheets.len() + count(&overhead);
    let mut numbers = vec![1];
    let mut next = own + 1;
    for chapter in &before {
        numbers.push(next);
        next += chapter.leaves.len();
    }
    next += job.sheets.len();
    for chapter in &overhead {
        numbers.push(next);
        next += chapter.leaves.len();
    }
    let mut chapters = vec![first(&format, job, &contents(&before, &overhead, job, own + 1))];
    chapters.extend(before);
    chapters.extend(overhead);
    bind(&format, chapters, (&numbers, of), "roomwright build")
}

/// Titles and numbers of the first pages, from `next` on.
fn contents(before: &[Chapter], overhead: &[Chapter], job: Job<'_>, mut next: usize) -> Vec<(String, usize)> {
    let mut all = Vec::new();
    let mut tell = |title: &str, pages: usize| {
        all.push((title.to_owned(), next));
        next += pages;
    };
    before.iter().for_each(|chapter| tell(&chapter.title, chapter.leaves.len()));
    job.sheets.iter().for_each(|title| tell(title, 1));
    overhead.iter().for_each(|chapter| tell(&chapter.title, chapter.leaves.len()));
    all
}

/// What this is, what to look at first, what is built, where it stands.
fn first(format: &Format, job: Job<'_>, contents: &[(String, usize)]) -> Chapter {
    let build = job.build;
    let mut page = Writer::new(format, "From plan to workshop");
    if !build.troubles.is_empty() {
        // The gravest first.
        let (down, others): (Vec<&Trouble>, Vec<&Trouble>) = build.troubles.iter().partition(|trouble| trouble.id == "not-to-be-hung");
        let lines: Vec<String> = down.into_iter().chain(others).map(trouble).collect();
        page.boxed("Look at these first", &lines, Voice::Heavy);
    }
    page.paragraph(
        "What to buy, what to cut, in which order to make it, where each mark goes, and what hangs over heads. Measures are those of the scene: what your tape says on the day \
         wins. No permit and no proof: local codes, makers' sheets and licensed people rank above every figure here.",
    );
    page.section("What is built", 20.0);
    let mut table = Table::new(&["type", "how", "#face", "#thickness", "held by", "#mass each", "#how many"]);
    let tape = format.tape;
    for made in &build.types {
        table.row(vec![
            made.kind.clone(),
            made.construction.word().to_owned(),
            tape.say_size(made.face_m[0], made.face_m[1]),
            tape.say(made.thickness_m),
            made.fixing.word().to_owned(),
            mass(made.mass_kg, tape),
            made.count.to_string(),
        ]);
    }
    let count: u32 = build.types.iter().map(|made| made.count).sum();
    table.sum(vec![
        "together".into(),
        String::new(),
        String::new(),
        String::new(),
        String::new(),
        mass(mass_of_all(&build.types), tape),
        count.to_string(),
    ]);
    page.table(&table);
    page.paragraph(&effort(build));
    page.paragraph(&cost(build));
    if build.prices_are_invented {
        page.paragraph(INVENTED);
    }
    room_plan::draw(&mut page, job);
    if !contents.is_empty() {
        page.section("Pages", 20.0);
        let mut table = Table::new(&["what", "#page"]);
        contents.iter().for_each(|(title, number)| table.row(vec![title.clone(), number.to_string()]));
        page.table(&table);
    }
    page.finish("build")
}

/// Said wherever money is.
pub(crate) const INVENTED: &str = "Prices are invented examples: write your shop's into a price list before you believe a sum.";

/// What is wrong, where, and what to do. Which panels and which surface stands in brackets as far as the message does not name them itself.
fn trouble(trouble: &Trouble) -> String {
    let numbers: Vec<String> = trouble.panels.iter().map(u32::to_string).collect();
    let told = named(&trouble.message);
    let panels = (!numbers.iter().all(|number| told.contains(&number.as_str())))
        .then(|| format!("panel{} {}", if numbers.len() == 1 { "" } else { "s" }, numbers.join(", ")));
    let surface = trouble.surface.clone().filter(|surface| !trouble.message.contains(surface.as_str()));
    let whose: Vec<String> = panels.into_iter().chain(surface).collect();
    let whose = if whose.is_empty() { String::new() } else { format!(" ({})", whose.join(", ")) };
    format!("{}{whose}. To do: {}.", sentence(&trouble.message), trouble.hint.trim_end_matches('.'))
}

/// The numbers that a message calls panels by: all that follow `panel` or `panels` as a list, `2`, `2 and 6`, `2, 4 and 6`.
fn named(message: &str) -> Vec<&str> {
    let is_number = |word: &str| word.bytes().all(|letter| letter.is_ascii_digit());
    let mut in_list = false;
    let words = message.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty());
    words
        .filter(|word| {
            in_list = matches!(*word, "panel" | "panels") || in_list && (*word == "and" || is_number(word));
            in_list && is_number(word)
        })
        .collect()
}

/// With a capital and without a stop.
pub(crate) fn sentence(text: &str) -> String {
    let text = text.trim_end_matches('.');
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |letter| letter.to_uppercase().chain(letters).collect())
}

/// `1 evening`, `2 evenings`.
pub(super) fn counted(count: u32, one: &str, several: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { several })
}

fn effort(build: &Build) -> String {
    let Some(schedule) = &build.schedule else {
        return "Nothing is made here: all of it is bought.".to_owned();
    };
    format!(
        "Making takes about {}, {} hours of work in {}; the last panel is dry {} days after the first evening begins.",
        counted(schedule.evenings, "evening", "evenings"),
        plain(schedule.work_h, 1),
        counted(schedule.batches, "batch", "batches"),
        plain(schedule.until_dry_h / 24.0, 1)
    )
}

fn cost(build: &Build) -> String {
    let costs = &build.costs;
    let mut text = format!("All that is on the shopping list costs {}.", money(costs.total, build));
    if !costs.without_price.is_empty() {
        text += &format!(" Without a price and in no sum: {}.", costs.without_price.join(", "));
    }
    text
}

/// All panels together, where each type's mass is known.
fn mass_of_all(types: &[Made]) -> Option<f64> {
    types.iter().map(|made| made.mass_kg.map(|mass| mass * f64::from(made.count))).sum()
}

/// A mass: kilograms, and pounds beside them for a tape in inches.
pub(crate) fn mass(kg: Option<f64>, tape: Tape) -> String {
    match kg.filter(|kg| kg.is_finite()) {
        Some(kg) if tape.is_inch() => format!("{} kg ({} lb)", plain(kg, 1), plain(kg / POUND_KG, 1)),
        Some(kg) => format!("{} kg", plain(kg, 1)),
        None => "not known".to_owned(),
    }
}

/// A sum of money.
pub(crate) fn money(sum: f64, build: &Build) -> String {
    format!("{} {}", plain(sum, 2), build.currency).trim_end().to_owned()
}

/// A share in percent.
pub(crate) fn percent(share: f64) -> String {
    format!("{} %", plain(100.0 * share, 0))
}

/// Boxes of what could hurt at this place.
pub(crate) fn cautions(page: &mut Writer, build: &Build, place: Place, facet: Option<usize>) {
    for cautions in build.cautions.iter().filter(|cautions| cautions.place == place && cautions.facet == facet) {
        page.boxed(&cautions.heading, &cautions.lines, Voice::Plain);
    }
}

/// Whether a type is made here.
pub(crate) fn is_made(made: &Made) -> bool {
    made.construction != Construction::Bought
}
