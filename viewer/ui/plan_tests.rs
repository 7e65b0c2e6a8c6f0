//! The plan as the step place shows it, panel by panel; what hangs and what it earns.

use roomwright::report::text::explain::{how_many, sums, terms};
use roomwright::report::text::figures::{estimate, optional_estimate};

use super::*;

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
