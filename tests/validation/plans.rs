//! Whether the errors that `place` prints are true: one plan, judged by many tracings that differ in their seed alone.
//!
//! **Which figures.** Every one with an error in the layouts (early level, T30 by octave, mean decay), in what each panel earns (early level, decay), and in the
//! findings `after` of the room as built; found in their JSON as in `coverage`. `before` is what `hear` says, which `coverage` counts.
//!
//! **One plan**: what the search hangs goes by its own seed and would be another plan in many tracings; it is searched for once, and the judgement, which
//! sees other rays than the search, is made again and again.
//!
//! **The long-run value** is the mean over tracings with four times the rays and other seeds; its own error, a ninth of that of one that is tested, lowers a coverage of
//! 95 % by a third of a percent.
//!
//! **What is asked** (`SLOW=1`, the attic with some of its stock, the default number of rays, 60 seeds): of all intervals of a kind together 93 to 97 % hold the long-run
//! value, widened by the scatter of the seeds' shares; no single figure is held in so few that, were all of them held in 88 %, one choice of seeds in 1000 would
//! show it. The table is `PLANS.txt`: `SLOW=1 UPDATE_EXPECT=1 cargo test --release plans` writes it anew (some ten minutes of processor time).
//!
//! **What is asked of every change**: the same of a tenth of the rays and 40 seeds, without `after`, whose figures are of the kind that `coverage` counts.
//!
//! **What is left out of an error**: what a panel earns in decay is a derivative, and the curve that it is taken at has an error of its own, which only as many backward
//! passes as there are batches would tell.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use rayon::prelude::*;
use roomwright::findings::Estimate;
use roomwright::findings::survey::survey;
use roomwright::plan::place::{Judgement, as_built, judged_bands, judged_pairs};
use roomwright::plan::search::{Found, Goal, Hung};
use roomwright::progress::Progress;
use roomwright::room::{Bodies, build};
use roomwright::scene::{self, Scene};
use roomwright::settings::Settings;
use roomwright::study;

use super::Check;
use super::coverage::{Kind, Said, Table, estimates, objections, pooled};

/// Which tracings.
struct Tracings {
    /// Rays a source of those that are tested; the long-run value is the mean of some with four times as many.
    rays: u32,
    seeds: RangeInclusive<u64>,
    long_seeds: RangeInclusive<u64>,
    /// Whether the room as built is traced, too.
    after: bool,
}

const QUICK: Tracings = Tracings { rays: 10_000, seeds: 1..=40, long_seeds: 1001..=1010, after: false };
const WHOLE: Tracings = Tracings { rays: Settings::DEFAULT.rays, seeds: 1..=60, long_seeds: 1001..=1016, after: true };

/// The attic with four panels and a corner panel in stock.
fn scene() -> Scene {
    let (mut scene, _) = scene::read(include_str!("../../scenes/attic-voice-room.toml")).expect("a shipped scene reads");
    scene.settings = Settings { rays: QUICK.rays, leaders: 6, ..scene.settings };
    for (kind, count) in scene.stock.iter_mut().zip([4, 1, 0]) {
        kind.count = count;
    }
    scene
}

/// What the search hangs, once for all tracings.
fn found(scene: &Scene) -> (Found, f64) {
    let placement = study::place(&Progress::new(), scene).expect("nobody cancels");
    let hung = placement.pictures.panels[scene.panels.len()..].iter().zip(&placement.plan.placed);
    let hung: Vec<Hung> =
        hung.map(|(panel, placed)| Hung { panel: panel.clone(), reason: "as planned", serves: placed.serves.clone() }).collect();
    assert!(hung.len() >= 4, "{} panels", hung.len());
    let left = |name: &str| placement.plan.left_over.iter().find(|(other, _)| other == name).map_or(0, |(_, left)| *left);
    let left = scene.stock.iter().map(|kind| left(&kind.name)).collect();
    (Found { hung, left, stopped_because: String::new() }, placement.plan.before.survey.schroeder_hz)
}

/// What is printed of a plan as judged with this seed and so many rays a round, `after` in so many rounds at most, if at all.
fn said(scene: &Scene, (found, schroeder_hz): &(Found, f64), (seed, rays): (u64, u32), after_rounds: Option<u32>) -> Said {
    let progress = Progress::new();
    let settings = Settings { seed, rays, ..scene.settings.clone() };
    let room = build(scene, Bodies::Standing);
    let (pairs, bands) = (judged_pairs(scene, &room), judged_bands(survey(scene, &room).schroeder_hz));
    let goal = Goal { pairs: &pairs, bands: &bands, target: None };
    let judged = Judgement::new(&progress, scene, settings.clone(), &goal, found).expect("nobody cancels");
    let mut all = Said::new();
    for layout in &judged.layouts {
        estimates(&serde_json::to_value(layout).expect("plain data"), &format!("layout {}", layout.name), &mut all);
    }
    for panel in &judged.placed {
        estimates(&serde_json::to_value(panel).expect("plain data"), &format!("panel {}", panel.number), &mut all);
    }
    if let Some(rounds) = after_rounds {
        let panels: Vec<_> = scene.panels.iter().cloned().chain(found.hung.iter().map(|hung| hung.panel.clone())).collect();
        let after = as_built(&progress, scene, Settings { rounds, ..settings }, &panels, *schroeder_hz).expect("nobody cancels");
        estimates(&serde_json::to_value(&after).expect("plain data"), "after", &mut all);
    }
    all
}

/// What is said by the tracings that are tested, and the long-run values of it.
struct Figures {
    said: Vec<Said>,
    long: BTreeMap<String, Estimate>,
}

impl Figures {
    fn new(Tracings { rays, seeds, long_seeds, after }: Tracings) -> Self {
        let scene = scene();
        let found = found(&scene);
        let rounds = |rounds: u32| after.then_some(rounds);
        let (half, mut values) = (long_seeds.clone().count() / 2, BTreeMap::<String, Vec<f64>>::new());
        let long: Vec<Said> = long_seeds.into_par_iter().map(|seed| said(&scene, &found, (seed, 4 * rays), rounds(1))).collect();
        for (name, estimate) in long.into_iter().flatten() {
            values.entry(name).or_default().push(estimate.value);
        }
        let long = values.into_iter().filter(|(_, values)| values.len() >= half).map(|(name, values)| (name, Estimate::mean(&values)));
        let said = seeds.into_par_iter().map(|seed| said(&scene, &found, (seed, rays), rounds(scene.settings.rounds))).collect();
        Self { said, long: long.collect() }
    }

    /// The figures whose names begin so, their errors times a factor.
    fn table(&self, part: &str, factor: f64) -> Table {
        let own = |said: &Said| {
            let own = said.iter().filter(|(name, _)| name.starts_with(part));
            own.map(|(name, one)| (name.clone(), Estimate { se: factor * one.se, ..*one })).collect()
        };
        Table::new(self.said.iter().map(own).collect(), |name| self.long.get(name).copied())
    }
}

/// Kinds of figures: how their names begin, and what they are.
const PARTS: [(&str, &str); 3] =
    [("layout", "levels and decay times of layouts"), ("panel", "what each panel earns"), ("after", "findings of the room as built")];

/// What the committed table says, as rows of the table of all checks.
pub(crate) fn checks() -> Vec<Check> {
    let text = include_str!("PLANS.txt");
    let row = |(_, what): (&str, &str)| {
        let line = text.lines().find_map(|line| line.strip_prefix(&format!("{what}: together "))).expect("the table begins with its kinds");
        let numbers: Vec<f64> = line.split([' ', '%']).filter_map(|word| word.parse().ok()).collect();
        let [together, error] = numbers[..2] else { panic!("not a share and its error: {line}") };
        Check {
            what: format!("intervals of a plan that hold the long-run value, %: {what}"),
            ours: together,
            expected: 95.0,
            tolerance: 2.0 + SLACK * error,
            why: "93 to 97 asked, and 3.1 standard errors of so few seeds",
            source: "what an interval of 95 % is; counted over 60 seeds, PLANS.txt",
        }
    };
    PARTS.into_iter().map(row).collect()
}

/// One-sided 0.2 % for Student's t of 40 tracings, as in `coverage`.
const SLACK: f64 = 3.1;

#[test]
fn keeps_intervals_of_a_plan_that_hold_the_long_run_value() {
    let figures = Figures::new(QUICK);
    let mut found = Vec::new();
    for (part, what) in &PARTS[..2] {
        let table = figures.table(part, 1.0);
        found.extend(objections(&table).into_iter().map(|objection| format!("{what}: {objection}")));
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
    // Errors that are too small or too large are noticed.
    for factor in [0.7, 1.5] {
        assert!(!objections(&figures.table("", factor)).is_empty(), "errors times {factor} pass");
    }
}

#[test]
fn locked_table_of_plans() {
    if std::env::var_os("SLOW").is_none() {
        return;
    }
    let figures = Figures::new(WHOLE);
    let mut text = format!(
        "Plans: of {} judgements of one plan with {} rays a source, how many have the long-run value in their interval of 95 %.\n\
         Long-run value: mean of {} judgements with four times the rays and other seeds; with its standard error.\n\
         figure | judgements that print it | of these hold the value, % | error (root of the mean square) re scatter | bias re scatter | long-run value | its error\n\n",
        WHOLE.seeds.count(),
        WHOLE.rays,
        WHOLE.long_seeds.count(),
    );
    let mut found = Vec::new();
    for (part, what) in PARTS {
        let table = figures.table(part, 1.0);
        let share = pooled(&table.by_tracing(Kind::All));
        text += &format!("{what}: together {:.2} % +- {:.2} % (a standard error)\n", 100.0 * share.value, 100.0 * share.se);
        found.extend(objections(&table).into_iter().map(|objection| format!("{what}: {objection}")));
    }
    for (part, what) in PARTS {
        text += &format!("\n{what}\n");
        for (name, row) in figures.table(part, 1.0).rows(Kind::All) {
            text += &format!("{name} | {}\n", row.print());
        }
    }
    expect_test::expect_file!["PLANS.txt"].assert_eq(&text);
    assert!(found.is_empty(), "{}", found.join("\n"));
}
