//! In which order, and how many evenings: batches on the table, what dries meanwhile, and the chain that decides the end.
//!
//! One person works, in the evenings; what dries goes on drying by day, and stays on the table. A batch is as many panels as lie on the table side by side, 50 mm apart.
//!
//! *References.* The critical path: J. E. Kelley, M. R. Walker, *Critical-path planning and scheduling*, 1959 (from memory). Minutes of work are guesses, and so are drying times until
//! the makers' sheets are typed in: 24 h for a hardener, 12 h for an adhesive.
//!
//! *Limits.* Work is taken up batch by batch, in the order of the list: the shortest schedule of all is not sought.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::pieces::Made;
use crate::scene::making::{Construction, Making};

/// Hours that a hardener dries where nobody said.
pub const HARDEN_HOURS: f64 = 24.0;
/// Hours that an adhesive dries where nobody said.
pub const GLUE_HOURS: f64 = 12.0;

/// A step of the work on a type of construction.
struct Step {
    name: &'static str,
    /// Minutes for one panel (a guess).
    minutes: f64,
    /// Whether it takes the table.
    on_table: bool,
    dries: Dries,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Dries {
    Not,
    Hardener,
    Glue,
    /// Glue of a joint that screws hold meanwhile: the work goes on, the table is free.
    GlueInScrews,
}

const HARDENED: [Step; 3] = [
    Step { name: "lay out and cut the cores", minutes: 4.0, on_table: false, dries: Dries::Not },
    Step { name: "harden the edges", minutes: 8.0, on_table: true, dries: Dries::Hardener },
    Step { name: "wrap and glue the cloth", minutes: 12.0, on_table: true, dries: Dries::Glue },
];
const FRAMED: [Step; 3] = [
    Step { name: "cut frames and cores", minutes: 12.0, on_table: false, dries: Dries::Not },
    Step { name: "screw the frames, lay in the cores", minutes: 15.0, on_table: true, dries: Dries::GlueInScrews },
    Step { name: "wrap and staple the cloth", minutes: 12.0, on_table: true, dries: Dries::Not },
];

/// A step of a batch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Task {
    /// What is done.
    pub work: String,
    /// Type of panel.
    pub kind: String,
    /// Number of the batch of this type, from 1; none for what is done for all of them at once.
    pub batch: Option<u32>,
    /// How many panels.
    pub panels: u32,
    /// The evening that it begins on, from 1.
    pub evening: u32,
    /// When it begins, hours after that evening begins.
    pub begins_h: f64,
    /// Hours of work.
    pub work_h: f64,
    /// Hours of drying afterwards.
    pub dries_h: f64,
    /// Whether a delay of it delays the end.
    pub critical: bool,
}

/// The whole work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Schedule {
    /// In order.
    pub tasks: Vec<Task>,
    /// On how many evenings something is done.
    pub evenings: u32,
    /// How many batches lie on the table.
    pub batches: u32,
    /// Hours of work together.
    pub work_h: f64,
    /// Hours from the first evening's beginning until the last panel is dry.
    pub until_dry_h: f64,
    /// Whether a drying time is a guess.
    pub drying_is_guess: bool,
}

/// Between panels on the table, meters: so that edges stay free of each other and of the hand (common practice, no source).
const APART: f64 = 0.05;
/// Hours of a day.
const DAY: f64 = 24.0;

/// A task in the making: all times in hours from the first evening's beginning.
struct Planned {
    task: Task,
    start: f64,
    work_end: f64,
    dry_end: f64,
    /// The task whose end decided when this one begins.
    after: Option<usize>,
}

/// When what is made; `None` where nothing is.
#[must_use]
pub fn schedule(making: &Making, made: &[Made]) -> Option<Schedule> {
    let mut plan: Vec<Planned> = Vec::new();
    let (mut worker, mut table): (Option<usize>, Option<(usize, bool)>) = (None, None);
    let mut batches = 0;
    for made in made.iter().filter(|made| made.construction != Construction::Bought && made.count > 0) {
        let steps = if made.construction == Construction::HardenedBoard { &HARDENED } else { &FRAMED };
        let most = on_table(making, made);
        // What takes no table is done for all panels at once.
        let (bench, table_steps): (Vec<&Step>, Vec<&Step>) = steps.iter().partition(|step| !step.on_table);
        let mut prepared: Option<usize> = None;
        for step in bench {
            let task = task(making, made, step, (None, made.count));
            plan.push(begin(making, &plan, task, [worker.map(|w| (w, false)), prepared.map(|p| (p, true)), None]));
            (worker, prepared) = (Some(plan.len() - 1), Some(plan.len() - 1));
        }
        let (mut left, mut number) = (made.count, 0);
        while left > 0 {
            let panels = left.min(most);
            left -= panels;
            number += 1;
            batches += 1;
            let mut before = prepared.map(|task| (task, true));
            for step in &table_steps {
                let task = task(making, made, step, (Some(number), panels));
                plan.push(begin(making, &plan, task, [worker.map(|w| (w, false)), before, table]));
                let index = plan.len() - 1;
                let held = Some((index, step.dries != Dries::GlueInScrews));
                (worker, before, table) = (Some(index), held, held);
            }
        }
    }
    let last = (0..plan.len()).max_by(|a, b| plan[*a].dry_end.total_cmp(&plan[*b].dry_end))?;
    let mut on_path = Some(last);
    while let Some(index) = on_path {
        plan[index].task.critical = true;
        on_path = plan[index].after;
    }
    let until_dry_h = plan[last].dry_end;
    let evenings = evenings_of(&plan);
    let work_h = plan.iter().map(|planned| planned.task.work_h).sum();
    let is_made = |construction: Construction| made.iter().any(|made| made.construction == construction && made.count > 0);
    let is_hardened = is_made(Construction::HardenedBoard);
    let is_glued = is_hardened || is_made(Construction::WoodenFrame);
    let drying_is_guess = making.harden_hours.is_none() && is_hardened || making.glue_hours.is_none() && is_glued;
    Some(Schedule {
        tasks: plan.into_iter().map(|planned| planned.task).collect(),
        evenings,
        batches,
        work_h,
        until_dry_h,
        drying_is_guess,
    })
}

/// How many panels lie on the table side by side: at least one, which then lies over its edge.
fn on_table(making: &Making, made: &Made) -> u32 {
    let [width, height] = made.face_m;
    let count = |side: f64, panel: f64| ((side + APART + 1e-9) / (panel + APART)).floor();
    let fits = |across: f64, along: f64| count(making.table.x, across) * count(making.table.y, along);
    fits(width, height).max(fits(height, width)).max(1.0) as u32
}

fn task(making: &Making, made: &Made, step: &Step, (batch, panels): (Option<u32>, u32)) -> Task {
    let dries_h = match step.dries {
        Dries::Not => 0.0,
        Dries::Hardener => making.harden_hours.unwrap_or(HARDEN_HOURS),
        Dries::Glue | Dries::GlueInScrews => making.glue_hours.unwrap_or(GLUE_HOURS),
    };
    Task {
        work: step.name.to_owned(),
        kind: made.kind.clone(),
        batch,
        panels,
        evening: 0,
        begins_h: 0.0,
        work_h: step.minutes * f64::from(panels) / 60.0,
        dries_h,
        critical: false,
    }
}

/// Begins a task as soon as those before it allow: each with whether its drying must be over, too.
fn begin(making: &Making, plan: &[Planned], mut task: Task, before: [Option<(usize, bool)>; 3]) -> Planned {
    let ends = before.into_iter().flatten().map(|(index, dry)| (if dry { plan[index].dry_end } else { plan[index].work_end }, index));
    let latest = ends.max_by(|a, b| a.0.total_cmp(&b.0));
    let (ready, after) = latest.map_or((0.0, None), |(end, index)| (end, Some(index)));
    let start = in_an_evening(making, ready, task.work_h);
    let work_end = after_work(making, start, task.work_h);
    task.evening = (start / DAY).floor() as u32 + 1;
    task.begins_h = start.rem_euclid(DAY);
    let dry_end = work_end + task.dries_h;
    Planned { task, start, work_end, dry_end, after }
}

/// The first hour from `ready` on at which work can begin: within an evening, and so that it ends in it where an evening is long enough.
fn in_an_evening(making: &Making, ready: f64, work: f64) -> f64 {
    let evening = (ready / DAY).floor() * DAY;
    let left = evening + making.evening_hours - ready;
    if left >= work.min(making.evening_hours) - 1e-9 { ready } else { evening + DAY }
}

/// When work that begins then ends, over as many evenings as it takes.
fn after_work(making: &Making, start: f64, work: f64) -> f64 {
    let evening = (start / DAY).floor() * DAY;
    let first = evening + making.evening_hours - start;
    if work <= first + 1e-9 {
        return start + work;
    }
    let rest = work - first;
    // A rest that fills evenings exactly ends with the last of them.
    let more = (rest / making.evening_hours - 1e-9).ceil().max(1.0);
    evening + DAY * more + rest - (more - 1.0) * making.evening_hours
}

/// On how many evenings somebody works.
fn evenings_of(plan: &[Planned]) -> u32 {
    let mut evenings: Vec<u32> = plan
        .iter()
        .flat_map(|planned| {
            let first = (planned.start / DAY).floor() as u32;
            let last = ((planned.work_end - 1e-9).max(planned.start) / DAY).floor() as u32;
            first..=last
        })
        .collect();
    evenings.sort_unstable();
    evenings.dedup();
    evenings.len() as u32
}
