//! The table of rooms as text: aligned, for a person who knows the trade.

use roomwright::findings::Estimate;
use roomwright::settings::{BATCHES, Settings};

use super::Asked;
use super::disturbed::Disturbance;
use super::judged::{Judged, Told};

/// So near to the bound nothing is left that is noticed, steps.
const AT_BOUND_STEPS: f64 = 0.2;

/// The rules of thumb in short.
const RULES: [&str; 2] = ["mirror points", "even spread"];

/// The whole table.
pub(super) fn print(rooms: &[Judged], asked: Asked) -> String {
    [head(asked), summary(rooms), same_panels(rooms), fewer_panels(rooms), early_excess(rooms), not_optimized(rooms), disturbed(rooms)]
        .join("\n")
}

fn head(Asked { rays, rounds, drawings, drawn_one_in }: Asked) -> String {
    let rays = rays.unwrap_or(Settings::DEFAULT.rays);
    let drawn = rays / drawn_one_in;
    format!(
        "Rooms: the plan against two rules of thumb with as many pieces of each type, all on one trace that no plan was made with.\n\
         Made by: SLOW=1 UPDATE_EXPECT=1 cargo test --release locked_table_of_rooms\n\
         Plans: {rays} rays a source, seed of the scene. Judged: {rounds} x {rays} rays, a seed 1000 higher. Disturbed: {drawings} drawings of {drawn} rays each, seeds from 2000 higher on.\n\
         A step is what is just noticed (1 dB; 5 % of a decay time; plan::score); steps of all terms, each times its weight for the use of the room, add up. Fewer are better.\n\
         +-: interval of 95 % by Student's t over {BATCHES} batches of rays; of a lead that of the difference on the same rays. What has none is exact: mirror images.\n\
         mirror points: a panel on every mirror point, corners filled, the rest spread evenly at ear height; even spread: all spread evenly over the walls, clouds over the seat.\n"
    )
}

/// What is better than what, in how many rooms.
fn summary(rooms: &[Judged]) -> String {
    let of = rooms.len();
    let count = |is: &dyn Fn(&Judged) -> bool| rooms.iter().filter(|room| is(room)).count();
    let at_bound = |room: &Judged| room.plan.steps.value - room.bound.steps() <= AT_BOUND_STEPS;
    let mut lines = vec![
        format!(
            "same panels: better than both rules by more than the error in {} of {of} rooms",
            count(&|room| room.leads.iter().all(is_won))
        ),
        format!(
            "             not so, but within {AT_BOUND_STEPS} steps of the bound in {}",
            count(&|room| !room.leads.iter().all(is_won) && at_bound(room))
        ),
        format!(
            "             lead in the median room {:.2} steps over mirror points, {:.2} over the even spread, {:.2} over the better of the two",
            median_of(rooms, |room| room.leads[0].value),
            median_of(rooms, |room| room.leads[1].value),
            median_of(rooms, |room| least(values(room.leads))),
        ),
        format!(
            "a quarter fewer: as good as both rules with all of theirs, or better, in {} of {of}; lead over the better of the two in the median room {:+.2} steps",
            count(&|room| least(values(room.fewer_leads)) >= 0.0),
            median_of(rooms, |room| least(values(room.fewer_leads))),
        ),
        format!(
            "early excess: in the median room {:.1} dB less than mirror points, {:.1} less than the even spread; by octave {:.1} and {:.1} dB",
            median_of(rooms, |room| room.rules[0].excess_db - room.plan.excess_db),
            median_of(rooms, |room| room.rules[1].excess_db - room.plan.excess_db),
            median_of(rooms, |room| room.rules[0].octave_excess_db - room.plan.octave_excess_db),
            median_of(rooms, |room| room.rules[1].octave_excess_db - room.plan.octave_excess_db),
        ),
    ];
    let worse_c50 = |room: &Judged| least_of(room, |rule| differ(room.plan.c50_db, rule.c50_db).unwrap_or(0.0)) < 0.0;
    let worse_loudest = |room: &Judged| least_of(room, |rule| rule.loudest_db - room.plan.loudest_db) < 0.0;
    lines.push(format!(
        "not optimized: C50 under one of the rules in {} of {of}, a louder worst reflection in {} of {of}; against the better rule in the median room C50 {:+.2} dB, worst reflection {:+.2} dB",
        count(&worse_c50),
        count(&worse_loudest),
        median_of(rooms, |room| least_of(room, |rule| differ(room.plan.c50_db, rule.c50_db).unwrap_or(0.0))),
        -median_of(rooms, |room| least_of(room, |rule| rule.loudest_db - room.plan.loudest_db)),
    ));
    for disturbance in Disturbance::ALL {
        let lead = |room: &Judged| least(drawn(room, disturbance).map(|drawn| median(drawn.iter().map(|one| one.value).collect())));
        lines.push(format!(
            "{}: median of the drawings better than both rules in {} of {of}; lead over the better of the two in the median room {:+.2} steps",
            disturbance.words(),
            count(&|room| lead(room) > 0.0),
            median_of(rooms, lead),
        ));
    }
    format!("Summary\n{}\n", lines.join("\n"))
}

fn same_panels(rooms: &[Judged]) -> String {
    let mut rows = vec![cells(&[
        "room",
        "use",
        "pieces",
        "bare",
        "plan",
        RULES[0],
        RULES[1],
        "lead over mirror points",
        "over even spread",
        "bound",
        "of reflections",
        "of early level",
        "plan above it",
        "",
    ])];
    for room in rooms {
        let won = match (room.leads.iter().all(is_won), room.plan.steps.value - room.bound.steps() <= AT_BOUND_STEPS) {
            (true, _) => "won",
            (false, true) => "at the bound",
            (false, false) => "not won",
        };
        rows.push(vec![
            room.name.to_owned(),
            room.activity.to_owned(),
            pieces(room),
            with_error(room.bare.steps),
            with_error(room.plan.steps),
            with_error(room.rules[0].steps),
            with_error(room.rules[1].steps),
            lead(room.leads[0]),
            lead(room.leads[1]),
            format!("{:.2}", room.bound.steps()),
            format!("{:.2}", room.bound.reflections_steps),
            format!("{:.2}", room.bound.early_level_steps),
            format!("{:.2}", room.plan.steps.value - room.bound.steps()),
            won.to_owned(),
        ]);
    }
    section(
        "Same panels: what is wrong with the room, steps\n\
         Pieces: of the plan (of the rules, where they have place for fewer). Bound: what no layout of any number of these pieces goes below: every place that one could cover leaves the least\n\
         of what lies there and all in stock; reflections and early level then, all other terms 0. A decay that these pieces are too few to shorten is not in it.",
        &rows,
    )
}

fn fewer_panels(rooms: &[Judged]) -> String {
    let mut rows =
        vec![cells(&["room", "pieces", "of", "plan of fewer", RULES[0], RULES[1], "lead over mirror points", "over even spread"])];
    for room in rooms {
        rows.push(vec![
            room.name.to_owned(),
            room.fewer.panels.to_string(),
            room.plan.panels.to_string(),
            with_error(room.fewer.steps),
            with_error(room.rules[0].steps),
            with_error(room.rules[1].steps),
            lead(room.fewer_leads[0]),
            lead(room.fewer_leads[1]),
        ]);
    }
    section("A quarter fewer: a plan of three quarters of the pieces, rounded down, against the rules with all of theirs, steps", &rows)
}

fn early_excess(rooms: &[Judged]) -> String {
    let mut rows = vec![cells(&[
        "room",
        "bare",
        "plan",
        RULES[0],
        RULES[1],
        "plan less than mirror points",
        "than even spread",
        "by octave: bare",
        "plan",
        RULES[0],
        RULES[1],
        "plan less than mirror points",
        "than even spread",
    ])];
    for room in rooms {
        let of = |read: &dyn Fn(&Told) -> f64| {
            let [bare, plan, points, even] = [&room.bare, &room.plan, &room.rules[0], &room.rules[1]].map(read);
            [bare, plan, points, even, points - plan, even - plan].map(|value| format!("{:.1}", value + 0.0))
        };
        let (whole, octaves) = (of(&|told| told.excess_db), of(&|told| told.octave_excess_db));
        rows.push(std::iter::once(room.name.to_owned()).chain(whole).chain(octaves).collect());
    }
    section(
        "Early excess: sum of what reflections are over -10 dB re direct within 15 ms, worst head position and pair, dB; 1-8 kHz together, and octave by octave, mean of 1-8 kHz",
        &rows,
    )
}

fn not_optimized(rooms: &[Judged]) -> String {
    let mut rows = vec![cells(&[
        "room",
        "C50: bare",
        "plan",
        RULES[0],
        RULES[1],
        "plan over mirror points",
        "over even spread",
        "worst reflection: bare",
        "plan",
        RULES[0],
        RULES[1],
        "plan over mirror points",
        "over even spread",
    ])];
    for room in rooms {
        let four = [&room.bare, &room.plan, &room.rules[0], &room.rules[1]];
        let clarity =
            four.map(|told| told.c50_db.map_or_else(|| "-".to_owned(), |c50| format!("{:.2} +-{:.2}", c50.value, c50.half_width_95())));
        let clearer =
            [0, 1].map(|rule| differ(room.plan.c50_db, room.rules[rule].c50_db).map_or_else(|| "-".to_owned(), |by| format!("{by:+.2}")));
        let loudest = four.map(|told| format!("{:.2}", told.loudest_db));
        let louder = [0, 1].map(|rule| format!("{:+.2}", room.plan.loudest_db - room.rules[rule].loudest_db));
        rows.push(std::iter::once(room.name.to_owned()).chain(clarity).chain(clearer).chain(loudest).chain(louder).collect());
    }
    section(
        "Not optimized: C50, mean of the judged pairs and of 500 Hz - 4 kHz (a part of it in voice, rehearsal and lesson rooms), dB; the loudest reflection anywhere in the zone, 1-8 kHz\n\
         re direct, worst pair, dB",
        &rows,
    )
}

fn disturbed(rooms: &[Judged]) -> String {
    let mut rows = vec![cells(&["room", "disturbed", "lead over mirror points", "least", "error", "over even spread", "least", "error"])];
    for room in rooms {
        for disturbance in Disturbance::ALL {
            let of_rule = |drawn: Vec<Estimate>| {
                let values: Vec<f64> = drawn.iter().map(|one| one.value).collect();
                let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
                let error = drawn.iter().map(|one| one.half_width_95()).fold(0.0, f64::max);
                [format!("{:+.2}", median(values)), format!("{lowest:+.2}"), format!("+-{error:.2}")]
            };
            let both = drawn(room, disturbance).map(of_rule);
            rows.push([room.name, disturbance.words()].map(str::to_owned).into_iter().chain(both.into_iter().flatten()).collect());
        }
    }
    section(
        "Disturbed: lead of the plan, steps; nothing planned anew, each drawing on a trace of its own. Median of the drawings, the least of them, and the largest error of one.\n\
         Panels each 25 mm off along their surface, both ways; seats and microphones 50 mm off; sources turned by 5 degrees; every material, panels too, at one end of its range by lot.",
        &rows,
    )
}

/// Pieces of the plan, and of the rules where they hang fewer.
fn pieces(room: &Judged) -> String {
    let [points, even] = [&room.rules[0], &room.rules[1]].map(|rule| rule.panels);
    if [points, even] == [room.plan.panels; 2] { room.plan.panels.to_string() } else { format!("{} ({points}, {even})", room.plan.panels) }
}

/// Whether a lead is larger than its error.
fn is_won(lead: &Estimate) -> bool {
    lead.value > lead.half_width_95()
}

fn values(leads: [Estimate; 2]) -> [f64; 2] {
    leads.map(|lead| lead.value)
}

fn least([one, other]: [f64; 2]) -> f64 {
    one.min(other)
}

fn least_of(room: &Judged, read: impl Fn(&Told) -> f64) -> f64 {
    least([read(&room.rules[0]), read(&room.rules[1])])
}

fn differ(one: Option<Estimate>, other: Option<Estimate>) -> Option<f64> {
    Some(one?.value - other?.value)
}

/// The leads over each rule, drawing by drawing.
fn drawn(room: &Judged, disturbance: Disturbance) -> [Vec<Estimate>; 2] {
    let all = room.disturbed.iter().filter(|(other, _)| *other == disturbance).flat_map(|(_, drawn)| drawn);
    let all: Vec<&[Estimate; 2]> = all.collect();
    [0, 1].map(|rule| all.iter().map(|leads| leads[rule]).collect())
}

fn median_of(rooms: &[Judged], read: impl Fn(&Judged) -> f64) -> f64 {
    median(rooms.iter().map(read).collect())
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    if values.len().is_multiple_of(2) { f64::midpoint(values[middle - 1], values[middle]) } else { values[middle] }
}

fn with_error(steps: Estimate) -> String {
    format!("{:.2} +-{:.2}", steps.value, steps.half_width_95())
}

fn lead(steps: Estimate) -> String {
    format!("{:+.2} +-{:.2}", steps.value, steps.half_width_95())
}

fn cells(words: &[&str]) -> Vec<String> {
    words.iter().map(|&word| word.to_owned()).collect()
}

/// A heading and rows in columns, the first to the left, all others to the right.
fn section(heading: &str, rows: &[Vec<String>]) -> String {
    let widths: Vec<usize> =
        (0..rows[0].len()).map(|column| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0)).collect();
    let line = |row: &Vec<String>| {
        let cell = |(column, cell): (usize, &String)| {
            let width = widths[column];
            if column == 0 { format!("{cell:width$}") } else { format!("{cell:>width$}") }
        };
        row.iter().enumerate().map(cell).collect::<Vec<_>>().join("  ").trim_end().to_owned()
    };
    format!("{heading}\n{}\n", rows.iter().map(line).collect::<Vec<_>>().join("\n"))
}
