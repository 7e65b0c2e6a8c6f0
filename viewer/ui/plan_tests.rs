//! The plan as the step place shows it, panel by panel; what hangs and what it earns.

use roomwright::report::text::bass_short::told;
use roomwright::report::text::explain::{how_many, sums, terms};
use roomwright::report::text::figures::{estimate, inputs_cell, optional_estimate};
use roomwright::report::text::plan::{against_rules, held_back, meanwhile, what_is_left};
use roomwright::report::text::score::bass;

use roomwright::scene;

use super::*;
use crate::box_tests::{COARSE, SMALL};

/// Alone, last and the curve stand in the plan with the words of the page.
#[test]
fn keeps_the_plan_explained_panel_by_panel() {
    let mut desk = Desk::studied();
    let mut scene = (*STUDIED.scene).clone();
    scene.settings.rounds = 1;
    scene.stock.iter_mut().for_each(|kind| kind.count = kind.count.min(2));
    let placement = Arc::new(study::place(&Progress::new(), &scene).unwrap());
    desk.results.plan = Some(Known { generation: desk.results.generation, rays: 0, value: placement.clone() });
    let harness = shown(desk, place::place);
    let (plan, first) = (&placement.plan, &placement.plan.placed[0].earns);
    let row = format!("{}, {}", estimate(first.alone_steps, 1), estimate(first.last_steps, 1));
    assert!(says(&harness, &row), "{row}, {}", terms(first));
    let curve = plan.curve.as_ref().unwrap();
    for words in how_many(curve).into_iter().chain(sums(curve)) {
        assert!(says(&harness, &words), "{words}");
    }
    // What may not hang yet, and what the rest brings until then.
    let held = held_back(plan).into_iter().chain(meanwhile(&scene, &placement.room, plan));
    let told: Vec<String> = held.collect();
    assert!(told.len() == 2 * usize::from(!plan.held_back.is_empty()) && told.iter().all(|words| says(&harness, words)), "{told:?}");
    // How it stands against rules of thumb, and what no panel ends.
    let left: Vec<String> = against_rules(plan).into_iter().chain(what_is_left(&placement.room, plan)).collect();
    assert!(!left.is_empty() && left.iter().all(|words| says(&harness, words)), "{left:?}");
}

/// What waves tell of a plan: the term of the score, decays before and after without the mark, what corner panels serve, the low end in short; and why there is none.
#[test]
fn keeps_the_low_end_of_a_plan() {
    let (scene, _) = scene::read(SMALL).unwrap();
    let planned = |waves: &BassAsked| study::place_with(&Progress::new(), &scene, Some(waves)).unwrap();
    let shown_with = |placement: study::Placement| {
        let mut desk = Desk::studied();
        desk.results.scene = Some(Arc::new(scene.clone()));
        desk.results.plan = Some(Known { generation: desk.results.generation, rays: 0, value: Arc::new(placement) });
        shown(desk, place::place)
    };
    let placement = planned(&COARSE);
    let plan = placement.plan.clone();
    let harness = shown_with(placement);
    assert!(says(&harness, "layout, early, dB, too loud, dB, decay, s, wrong, steps, bass"));
    for layout in &plan.layouts {
        let steps = [layout.together_steps, layout.faults_steps.bass.unwrap()].map(|steps| estimate(steps, 1));
        assert!(says(&harness, &steps.join(", ")), "{steps:?}");
    }
    assert!(says(&harness, &bass(&plan).unwrap()));
    let [was, is] = [&plan.before, &plan.after].map(|findings| findings.pairs[0].octaves[0].clone());
    let cells =
        [optional_estimate(was.t30_s, 3), optional_estimate(is.t30_s, 3), inputs_cell(was.t30_inputs_s), inputs_cell(is.t30_inputs_s)];
    let row = format!("63 Hz, {}, waves", cells.join(", "));
    assert!(says(&harness, &row), "{row}");
    assert!(!plan.placed.is_empty());
    for panel in &plan.placed {
        let words = format!("{}, corner panel: {}.", panel.number, panel.serves);
        assert!(panel.serves.contains("by waves") && says(&harness, &words), "{words}");
    }
    for line in told(plan.after.bass.as_ref().unwrap()) {
        assert!(says(&harness, &line), "{line}");
    }
    // Where waves cannot be run octaves are a statistical reading, and no bass stands in the table.
    let harness = shown_with(planned(&BassAsked { memory: 1000, ..COARSE }));
    assert!(says(&harness, "63 Hz *, ") && !says(&harness, "wrong, steps, bass") && says(&harness, "Bass is not told"));
    assert!(says(&harness, "its bass is not computed") && !says(&harness, "The low end with all"));
}

#[test]
fn keeps_what_a_hung_panel_earns_and_the_early_level_with_their_errors() {
    let harness = shown(Desk::studied(), place::place);
    assert!(says(&harness, &format!("up, {}", optional_estimate(STUDIED.earnings[0], 2))));
    let level = |early: &EarlyFindings| {
        let pair = early.pairs.iter().find(|pair| pair.source == 0 && pair.receiver == 0).unwrap();
        estimate(pair.level_db, 1)
    };
    let words = format!("early reflections together, dB re direct, {}, {}", level(&STUDIED.bare_early), level(&STUDIED.early));
    assert!(says(&harness, &words), "{words}");
}
