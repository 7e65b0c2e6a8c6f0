//! How panels are made: steps by construction, and by evening who does what while what dries.
//!
//! *References.* As `workshop::schedule`; the steps are common practice without a source, and makers' sheets rank above them.
//!
//! *Limits.* Days are drawn with the hours between evenings shortened: evenings are what somebody has to be there for.

use glam::DVec2;

use crate::report::html::plain;
use crate::report::paper;
use crate::report::svg::{Area, Drawing, Lettering, Look};
use crate::scene::making::{Construction, Making};
use crate::workshop::caution::Place;
use crate::workshop::schedule::{GLUE_HOURS, HARDEN_HOURS, Task};
use crate::workshop::{self, Schedule};

use super::cut_plans::hatch;
use super::shop_list::quantity_of;
use super::shop_pages::{Job, cautions, counted};
use crate::report::leaf::{Chapter, Format, Writer};
use crate::report::leaf_table::{TICK, Table};

/// Days that one chart holds side by side at most.
const DAYS_MOST: u32 = 21;
/// Height of a task's row, mm.
const ROW: f64 = 4.6;
/// Part of a day's width that its evening takes.
const EVENING: f64 = 0.6;
/// Width of the words before the bars, mm.
const WORDS: f64 = 62.0;

/// The chapter; `None` where all is bought.
#[must_use]
pub fn chapter(format: &Format, job: Job<'_>) -> Option<Chapter> {
    let build = job.build;
    let schedule = build.schedule.as_ref()?;
    let mut page = Writer::new(format, "Making the panels");
    cautions(&mut page, build, Place::Making, None);
    for construction in [Construction::HardenedBoard, Construction::WoodenFrame] {
        let kinds: Vec<&str> = build.types.iter().filter(|made| made.construction == construction).map(|made| made.kind.as_str()).collect();
        if kinds.is_empty() {
            continue;
        }
        page.section(&format!("{}: {}", capital(construction.word()), kinds.join(", ")), 30.0);
        let steps = steps(construction, &job.scene.making);
        page.list(&steps.into_iter().enumerate().map(|(index, step)| (format!("{}.", index + 1), step)).collect::<Vec<_>>());
    }
    battens(&mut page, job);
    page.section("Tools", 20.0);
    page.paragraph(
        "Tape, rule, square, pencil; a long knife with new blades, a saw and clamps; screwdriver and bits, countersink; stapler for frames; brush and bucket; level or laser, plumb line; detector for cables and members; drill, \
         masonry and wood bits; pliers and wrench for clamps; ladder; mask, gloves, glasses.",
    );
    plan(&mut page, schedule, &job.scene.making);
    Some(page.finish("build-making"))
}

fn capital(word: &str) -> String {
    super::shop_pages::sentence(word)
}

/// Where the cross-battens of every framed panel lie, so that all are let in at the bench.
fn battens(page: &mut Writer, job: Job<'_>) {
    let places = workshop::battens::of_panels(job.panels, job.build);
    if places.is_empty() {
        return;
    }
    let tape = page.tape();
    page.section("Cross-battens", 30.0);
    page.paragraph(&format!(
        "Middles of the battens{}, from the end that is named, as it is seen hung: from its left end is from the right one with the back up.",
        if tape.is_inch() { ", ft and in" } else { ", mm" }
    ));
    let mut table = Table::new(&["", "panel", "type", "from its", "middles"]);
    for place in places {
        let middles: Vec<String> = place.middles_m.iter().map(|meters| tape.read(*meters)).collect();
        table.row(vec![TICK.to_owned(), place.panel.to_string(), place.kind, place.from.to_owned(), middles.join(", ")]);
    }
    page.table(&table);
}

/// How long something dries, and whose word that is.
fn dries(hours: Option<f64>, guess: f64) -> String {
    match hours {
        Some(hours) => format!("{} h by the maker's sheet, as the scene has it", quantity_of(hours)),
        None => format!("{} h, a guess: the maker's sheet holds; write it into [build]", plain(guess, 0)),
    }
}

fn steps(construction: Construction, making: &Making) -> Vec<String> {
    match construction {
        Construction::HardenedBoard => vec![
            "Lay out each type and count; cut the cores that are not the size of a sheet, by the cutting plans.".to_owned(),
            format!("Harden edges and corners with the hardener, a strip round the back included, on the table, side by side; let them dry {}.", dries(making.harden_hours, HARDEN_HOURS)),
            format!(
                "Lay the cloth face down, the core on it; pull it tight from the middles to the corners, fold the corners flat, glue what lies on the back, and the backing cloth over it; let it dry {}.",
                dries(making.glue_hours, GLUE_HOURS)
            ),
            "Fix the clips or fittings to the hardened back by their maker's sheet; number each panel on its back as on the sheets.".to_owned(),
        ],
        Construction::WoodenFrame => vec![
            "Cut frame sides and cores by the cutting plans; mark each side with its type.".to_owned(),
            format!(
                "Glue and screw the frames at their corners; check that both diagonals are equal. The screws hold meanwhile, so the work goes on; nothing is hung before the glue is dry: {}. Sides that stand askew (across a corner) are sawn to the angle of the cut list at both edges, ends and cores as trapezoids.",
                dries(making.glue_hours, GLUE_HOURS)
            ),
            "Lay the frame face down and write its number on the back, and which edge is up; under a ceiling or a slope, which edge is the lower one of its sheet and which the left one as seen from below. Every measure of a sheet is seen from the room: on the back left and right change sides.".to_owned(),
            "What lies flat overhead: the eye bolts of its secondary wires go now, before the core, through the sides of the frame at the places on its own page, eye outside, nut and washer inside.".to_owned(),
            "Cross-battens lie flat, their wide face flush with the back: for each cut a groove into the back of the core, as wide as that face and as deep as the batten is thick, where the table below has them. A cloud's eyes go through the battens now, nut and washer on the side of the core; keyhole plates of corner panels into their long sides. Lay in the core, press the battens in flush with the back, screw them to both long sides. Fixings and eyes go into battens, never into the core.".to_owned(),
            "Lay the cloth face down, a mist of spray adhesive on the core, the frame on it; pull it tight from the middles to the corners, fold the corners flat, staple on the back; the backing cloth over it.".to_owned(),
            "Screw clips through the cloth into battens and frame; cut the cloth free round eyes and plates. Number each panel on its back as on the sheets.".to_owned(),
        ],
        Construction::Bought => Vec::new(),
    }
}

/// What is done on which evening: in words, as a table, as bars.
fn plan(page: &mut Writer, schedule: &Schedule, making: &Making) {
    page.section("Evening by evening", 40.0);
    page.paragraph(&format!(
        "{} with work, {} h each at most, {} h of work together; {} on a table of {}; {} days until the last panel is dry. After: how long into its evening a task begins. Minutes of work are guesses{}. One person works, and \
         what dries stays on the table.",
        counted(schedule.evenings, "evening", "evenings"),
        plain(making.evening_hours, 1),
        plain(schedule.work_h, 1),
        counted(schedule.batches, "batch", "batches"),
        page.tape().say_size(making.table.x, making.table.y),
        plain(schedule.until_dry_h / 24.0, 1),
        if schedule.drying_is_guess { ", and so are drying times" } else { "" }
    ));
    let mut table = Table::new(&[
        "",
        "#no.",
        "#evening",
        "#after, h:min",
        "what",
        "type",
        "#batch",
        "#panels",
        "#work, h",
        "#dries, h",
        "delays the end",
    ]);
    for (index, task) in schedule.tasks.iter().enumerate() {
        table.row(vec![
            TICK.to_owned(),
            (index + 1).to_string(),
            task.evening.to_string(),
            clock(task.begins_h),
            task.work.clone(),
            task.kind.clone(),
            task.batch.map_or_else(|| "all".to_owned(), |batch| batch.to_string()),
            task.panels.to_string(),
            plain(task.work_h, 1),
            if task.dries_h > 0.0 { plain(task.dries_h, 0) } else { String::new() },
            if task.critical { "yes *".to_owned() } else { String::new() },
        ]);
    }
    page.table(&table);
    page.section("The same as bars", 50.0);
    page.paragraph(
        "Black: work that delays the end if it is late, with a * behind its name. White: other work. Hatched: drying. Each column is one day: the evening wide, the hours until the next one shortened; numbers are evenings.",
    );
    let days = (schedule.until_dry_h / 24.0).ceil().max(1.0) as u32;
    let most = ((page.tallest() - 10.0) / ROW).floor() as usize;
    // Charts side by side in time are equally long, so that a day is as wide in each.
    let count = days.div_ceil(days.div_ceil(DAYS_MOST));
    for first in (0..days).step_by(count as usize) {
        let within = |task: &&(usize, &Task)| {
            let end = end_of(task.1, making);
            f64::from(first) * 24.0 < end && start_of(task.1) < f64::from(first + count) * 24.0
        };
        let tasks: Vec<(usize, &Task)> = schedule.tasks.iter().enumerate().collect::<Vec<_>>().iter().filter(within).copied().collect();
        let mut left = &tasks[..];
        while !left.is_empty() {
            page.keep((6.0 + ROW * left.len() as f64).min(0.6 * page.tallest()) + 1.0);
            let fits = (((page.left() - 8.0) / ROW).floor().max(1.0) as usize).min(most);
            let (now, later) = left.split_at(left.len().min(fits));
            left = later;
            page.figure(6.0 + ROW * now.len() as f64, false, |page, area| {
                let chart = Chart { making, first, days: count, last: days, area };
                chart.draw(page, now);
            });
        }
    }
}

/// Hours and minutes: `0:36`.
fn clock(hours: f64) -> String {
    let minutes = (60.0 * hours).round() as u32;
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

/// Hours from the first evening's beginning.
fn start_of(task: &Task) -> f64 {
    24.0 * (f64::from(task.evening) - 1.0) + task.begins_h
}

/// Stretches of work, evening by evening.
fn worked(task: &Task, making: &Making) -> Vec<(f64, f64)> {
    let (mut at, mut left) = (start_of(task), task.work_h);
    let mut all = Vec::new();
    while left > 1e-9 && making.evening_hours > 0.0 {
        let evening = (at / 24.0 + 1e-9).floor() * 24.0;
        let hours = left.min((evening + making.evening_hours - at).max(0.0));
        if hours > 1e-9 {
            all.push((at, at + hours));
        }
        left -= hours;
        at = evening + 24.0;
    }
    all
}

/// When a task's last panel is dry.
fn end_of(task: &Task, making: &Making) -> f64 {
    worked(task, making).last().map_or(start_of(task), |last| last.1) + task.dries_h
}

struct Chart<'a> {
    making: &'a Making,
    /// Day that it begins with, from 0.
    first: u32,
    /// Days that it holds.
    days: u32,
    /// Days of the whole work.
    last: u32,
    area: Area,
}

impl Chart<'_> {
    /// Where an hour lies across the page.
    fn x(&self, hour: f64) -> f64 {
        let day = (hour / 24.0).floor();
        let within = hour - 24.0 * day;
        let evening = self.making.evening_hours.clamp(0.1, 23.9);
        let share =
            if within <= evening { EVENING * within / evening } else { EVENING + (1.0 - EVENING) * (within - evening) / (24.0 - evening) };
        let room = self.area.size().x - WORDS;
        let place = (day + share - f64::from(self.first)) / f64::from(self.days);
        self.area.low.x + WORDS + room * place.clamp(0.0, 1.0)
    }

    fn draw(&self, page: &mut Drawing, tasks: &[(usize, &Task)]) {
        let small = Lettering::new(paper::SMALL, paper::QUIET);
        let (top, bottom) = (self.area.low.y + 4.6, self.area.low.y + 5.0 + ROW * tasks.len() as f64);
        for day in 0..=self.days {
            let x = self.x(24.0 * f64::from(self.first + day));
            page.line(DVec2::new(x, top), DVec2::new(x, bottom), Look::line(paper::LINE, 0.2));
            if day < self.days && self.first + day < self.last {
                page.text(DVec2::new(x + 0.4, self.area.low.y + 3.2), &(self.first + day + 1).to_string(), small);
            }
        }
        for (row, (index, task)) in tasks.iter().enumerate() {
            let y = self.area.low.y + 5.0 + ROW * row as f64;
            let letters = Lettering::new(paper::SMALL, paper::INK);
            let letters = if task.critical { letters.bold() } else { letters };
            let star = if task.critical { " *" } else { "" };
            page.text(DVec2::new(self.area.low.x, y + 3.2), &format!("{} {}{star}", index + 1, task.work), letters);
            let bar = |from: f64, to: f64| Area { low: DVec2::new(self.x(from), y + 0.7), high: DVec2::new(self.x(to), y + ROW - 0.7) };
            let end = worked(task, self.making).last().map_or(start_of(task), |last| last.1);
            if task.dries_h > 0.0 {
                let area = bar(end, end + task.dries_h);
                hatch(page, area);
                page.rect(area, Look::line(paper::SOFT, 0.2));
            }
            for (from, to) in worked(task, self.making) {
                let area = bar(from, to);
                if area.size().x > 0.05 {
                    page.rect(area, Look::fill(if task.critical { paper::INK } else { paper::WHITE }).edged(paper::INK, 0.3));
                }
            }
        }
        page.line(DVec2::new(self.area.low.x, bottom), DVec2::new(self.area.high.x, bottom), Look::line(paper::INK, 0.25));
    }
}
