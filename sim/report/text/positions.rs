//! Where seat and loudspeakers stand: the place and its reasons first, then how to measure it, what else was tried, why the set does not fit elsewhere.

use super::bass::hertz;
use super::columns::{Page, Table};
use super::figures::{estimate, length, number, optional, optional_estimate};
use super::score::STEPS;
use crate::findings::Estimate;
use crate::findings::bass::BassEvenness;
use crate::plan::Figures;
use crate::plan::positions::{Finalist, PositionsStudy, Standing};
use crate::scene::Scene;

/// Reasons that are told of places that do not fit, the most frequent first.
pub const REASONS: usize = 8;

/// The page.
pub(super) fn print(scene: &Scene, study: &PositionsStudy) -> String {
    let mut page = Page::new(&format!("{}: where seat and loudspeakers stand", scene.name));
    page.paragraph(&what(scene, study));
    page.section("Where to stand, and why");
    for reason in &study.reasons {
        page.hanging("-", reason);
    }
    for one in study.finalists.iter().filter(|one| one.is_better) {
        page.section(&tape_heading(one));
        tape(&mut page, scene, &one.standing);
    }
    page.section("Where it stands now");
    tape(&mut page, scene, &study.present.standing);
    page.section("The best places against the present one");
    let mut table = Table::new(&FINALISTS);
    finalists(scene, study).into_iter().for_each(|row| table.row(row));
    page.table(&table);
    for line in columns() {
        page.paragraph(&line);
    }
    page.section("By facing");
    by_facing(&mut page, study);
    left_out(&mut page, study);
    page.section("Before you move anything");
    for caution in &study.cautions {
        page.hanging("-", caution);
    }
    page.section("How sure this is");
    page.hanging("-", &rays(study));
    for note in &study.notes {
        page.hanging("-", note);
    }
    page.finish()
}

/// What moves, and over which places.
#[must_use]
pub fn what(scene: &Scene, study: &PositionsStudy) -> String {
    let stays = if study.stays.is_empty() {
        String::new()
    } else {
        format!(" What stays: {}.", study.stays.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(", "))
    };
    format!(
        "As one piece move: {}.{stays} Their middle, {}, is put on a grid of {} in the present facing and its three quarter turns; loudspeakers and microphones keep {} from walls, heads {}, and before a door its own width and {} stay clear.",
        study.moves.join(", "),
        study.middle,
        length(study.step_m, scene),
        length(study.points_from_walls_m, scene),
        length(study.heads_from_walls_m, scene),
        length(study.clear_way_m, scene)
    )
}

/// The heading over the measures of a place.
#[must_use]
pub fn tape_heading(one: &Finalist) -> String {
    format!("Place {} with a tape, facing {}", one.number, one.facing)
}

/// What the columns of the comparison mean.
#[must_use]
pub fn columns() -> Vec<String> {
    vec![
        "Moved: how far the middle of the set is from the present one. Over: how many dB are over the criterion octave by octave, mean of 1-8 kHz. L-R: early level of left against right. Bass: by how many dB third octaves of the low end are off their mean by waves, which has no part in the gain. Steps: by how many \
         just-noticed steps it is better than the present place, with an interval for all of these together; yes: more than that, so it is suggested."
            .to_owned(),
        STEPS.to_owned(),
    ]
}

/// How many rays, and whether they were enough.
#[must_use]
pub fn rays(study: &PositionsStudy) -> String {
    let [grid, closer, least, most] = study.rays_per_source.map(super::super::sheet::grouped);
    let last = if least == most { most } else { format!("{least} to {most}") };
    let sure = if study.errors_met {
        "as sure as the scene's settings ask"
    } else {
        "not all as sure as the scene's settings ask: more `rays` or `rounds` help"
    };
    format!(
        "Rays from each source: {grid} at each place of the grid, {closer} round the best of it, {last} for the places that are told here with a gain, whose figures are {sure}. \
         +- holds 95 of 100 repeats of the tracing."
    )
}

/// Two square distances from walls and the height of a part of the set, for a table.
#[must_use]
pub fn measures(scene: &Scene, standing: &Standing) -> [String; 5] {
    let wall = |index: usize| {
        standing
            .from_walls
            .get(index)
            .map_or_else(|| "-".to_owned(), |wall| format!("{} from {}", length(wall.distance_m, scene), wall.wall))
    };
    // A block is put by its middle; how it lies is told where it is turned.
    let turned = standing
        .rotation_deg
        .filter(|turned| turned.abs() > 0.05)
        .map_or_else(String::new, |turned| format!("turned {} deg", number(turned, 0)));
    [format!("{} {}", standing.kind, standing.name), wall(0), wall(1), length(standing.point_m[2], scene), turned]
}

/// Heads of that table.
pub const MEASURES: [&str; 5] = ["what", "from a wall", "and from another", "up", ""];

fn tape(page: &mut Page, scene: &Scene, standing: &[Standing]) {
    let mut table = Table::new(&MEASURES.map(|head| format!("<{head}")));
    standing.iter().for_each(|one| table.row(measures(scene, one)));
    page.table(&table);
}

/// The gain of a place with its interval.
#[must_use]
pub fn better(one: &Finalist) -> String {
    format!("{} +-{}", number(one.score_steps.value, 1), number(one.half_width_steps.max(0.05), 1))
}

fn figures(figures: &Figures) -> [String; 4] {
    let maybe = |value: Option<Estimate>, decimals: usize| optional_estimate(value, decimals);
    [estimate(figures.early_level_db, 1), number(figures.octave_mean_db(), 1), maybe(figures.likeness_db, 1), maybe(figures.t_mid_s, 2)]
}

/// How even the low end is, for a table; `-` without waves.
#[must_use]
pub fn bass(bass: Option<BassEvenness>) -> String {
    optional(bass.map(|bass| bass.evenness_db), 1)
}

/// The weakest third octave, for a table; `-` without waves.
#[must_use]
pub fn weakest(bass: Option<BassEvenness>) -> String {
    bass.map_or_else(|| "-".to_owned(), |bass| format!("{} Hz: {} dB", hertz(bass.weakest_hz), number(bass.weakest_db, 1)))
}

/// Heads of the comparison of the best places.
pub const FINALISTS: [&str; 10] = ["<place", "<facing", "moved", "early, dB", "over", "L-R, dB", "decay, s", "bass", "steps", "<"];

/// The present place and the best ones against it, for that table.
#[must_use]
pub fn finalists(scene: &Scene, study: &PositionsStudy) -> Vec<Vec<String>> {
    let facing = study.facings.first().map_or("", |facing| facing.wall.as_str());
    let now = ["now".to_owned(), facing.to_owned(), "-".to_owned()];
    let now =
        now.into_iter().chain(figures(&study.present.figures)).chain([bass(study.present.bass), "-".to_owned(), String::new()]).collect();
    let row = |one: &Finalist| {
        let place = [one.number.to_string(), one.facing.clone(), length(one.moved_m, scene)];
        let suggested = if one.is_better { "yes" } else { "" };
        place.into_iter().chain(figures(&one.figures)).chain([bass(one.bass), better(one), suggested.to_owned()]).collect()
    };
    std::iter::once(now).chain(study.finalists.iter().map(row)).collect()
}

/// Facing, how many places, the best of them and what it is like; for a table.
#[must_use]
pub fn facings(study: &PositionsStudy) -> Vec<[String; 4]> {
    let of = |turned_deg: u32| {
        let values = study.tried.iter().filter(move |one| one.place.turned_deg == turned_deg).map(|one| one.figures.better_steps.value);
        values.clone().reduce(f64::max).zip(values.reduce(f64::min))
    };
    let row = |facing: &crate::plan::positions::Facing| {
        let (best, worst) =
            of(facing.turned_deg).map_or(("-".to_owned(), "-".to_owned()), |(best, worst)| (number(best, 1), number(worst, 1)));
        let how = if facing.turned_deg == 0 { format!("{}, as now", facing.wall) } else { facing.wall.clone() };
        [how, format!("{} of {}", facing.places_fitting, facing.places), best, worst]
    };
    study.facings.iter().map(row).collect()
}

/// Heads of that table.
pub const FACINGS: [&str; 4] = ["facing", "fits at places", "best, steps", "worst, steps"];

fn by_facing(page: &mut Page, study: &PositionsStudy) {
    let mut table = Table::new(&["<facing", FACINGS[1], FACINGS[2], FACINGS[3]]);
    facings(study).into_iter().for_each(|row| table.row(row));
    page.table(&table);
    page.paragraph("Against the present place, early terms of the score alone: these say where to look, the table above what it is worth.");
}

/// What is in the way, one line a reason.
#[must_use]
pub fn reasons(study: &PositionsStudy) -> Vec<String> {
    let all = study.in_the_way();
    let rest: usize = all.iter().skip(REASONS).map(|(_, count)| count).sum();
    let told = all.iter().take(REASONS).map(|(reason, count)| format!("{count}: {reason}."));
    told.chain((rest > 0).then(|| format!("{rest}: for other reasons, each of fewer places."))).collect()
}

fn left_out(page: &mut Page, study: &PositionsStudy) {
    if study.left_out.is_empty() {
        return;
    }
    page.section("At how many places it does not fit, and why");
    for line in reasons(study) {
        page.hanging("-", &line);
    }
}
