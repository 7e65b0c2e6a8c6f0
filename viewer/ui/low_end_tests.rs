//! The low end as the step hear shows it.

use roomwright::findings::Basis;
use roomwright::report::text::bass::{dips, heading, modes_heading, what};
use roomwright::study::{BassAsked, BassRun, MEMORY};

use super::cloud_tests::painted;
use super::*;
use crate::errand::{LowEnd, OfScene};
use crate::low_end::{Look, LowEndChoice, PlaceEffort, response};

/// A coarse study of the attic, for all tests.
static HEARD: LazyLock<Arc<LowEnd>> = LazyLock::new(|| {
    let asked = BassAsked { top_hz: 100.0, memory: MEMORY, others: 1, beside_bare: true };
    let found = study::waves(&Progress::new(), &STUDIED.scene, &asked).unwrap_or_else(|why| panic!("{why}"));
    Arc::new(OfScene { scene: STUDIED.scene.clone(), found: Ok(found) })
});

fn heard() -> Desk {
    let mut desk = Desk::studied();
    desk.results.low_end = Some(HEARD.clone());
    desk
}

fn low_end_panel(ui: &mut Ui, shown: Shown<'_>, _: &mut Drafts, asked: &mut Asked) {
    let scene = shown.results.scene.clone().unwrap();
    low_end::low_end(ui, shown, &scene, asked);
}

#[test]
fn keeps_the_low_end_a_click_away_and_stoppable() {
    let mut harness = shown(Desk::studied(), hear_panel);
    assert_eq!(click(&mut harness, "Send waves"), [Command::Begin(Errand::LowEnd(BassAsked::default()))]);
    let others = click(&mut shown(Desk::studied(), low_end_panel), "how sure, by other walls");
    let without = BassAsked { others: 0, ..BassAsked::default() };
    assert_eq!(others, [Command::LowEnd(LowEndChoice::Ask(without))]);
    let errand = Errand::LowEnd(without);
    let mut harness = shown(Desk::studied().with_view(|view| view.low_end.asked = without), low_end_panel);
    assert_eq!(click(&mut harness, "Send waves"), [Command::Begin(errand.clone())]);
    let mut desk = Desk::studied();
    desk.results.status.errand = Some(Running { errand, stage: "waves", done: 0.4, can_end: false });
    assert_eq!(click(&mut shown(desk, low_end_panel), "Stop"), [Command::StopErrand]);
    assert!(find_begin(&shown(Desk::broken(), low_end_panel), "Send waves").accesskit_node().is_disabled());
    // Why it cannot be run, and what it was of.
    let mut desk = Desk::studied();
    desk.results.low_end = Some(Arc::new(OfScene { scene: STUDIED.scene.clone(), found: Err("nobody sounds".into()) }));
    assert!(says(&shown(desk, low_end_panel), "nobody sounds"));
    let mut desk = heard();
    desk.results.scene = Some(Arc::new(Scene { panels: Vec::new(), ..(*STUDIED.scene).clone() }));
    assert!(says(&shown(desk, low_end_panel), "This is of the scene as it was"));
}

#[test]
fn keeps_the_chart_its_key_and_what_it_says() {
    let BassRun { study, .. } = HEARD.found.as_ref().unwrap();
    let harness = shown(heard(), low_end_panel);
    let index = response(study, &STUDIED.scene, &View::default()).unwrap();
    let told = &study.stands.responses[index];
    for words in [what(study), heading(told), modes_heading(study)].into_iter().chain(dips(told)) {
        assert!(says(&harness, &words), "{words}");
    }
    // Something hangs, and other walls were tried.
    for words in ["with all that hangs", "bare", "with other walls", "0 dB: free field", "likely"] {
        assert!(says(&harness, words), "{words}");
    }
    let painted = painted(&harness);
    for words in ["frequency, Hz", "level, dB re free field", "20", "100", "-30"] {
        assert!(painted.iter().any(|text| text == words), "{words}: {painted:?}");
    }
}

#[test]
fn keeps_a_mode_and_the_field_a_click_away() {
    let BassRun { study, fields, .. } = HEARD.found.as_ref().unwrap();
    let first = number(study.stands.modes[0].frequency_hz, 1);
    let row = format!("{first}, ");
    assert_eq!(click(&mut shown(heard(), low_end_panel), &row), [Command::LowEnd(LowEndChoice::Mode(Some(0)))]);
    // It is let go by a second click.
    let chosen = || heard().with_view(|view| view.low_end.mode = Some(0));
    assert_eq!(click(&mut shown(chosen(), low_end_panel), &row), [Command::LowEnd(LowEndChoice::Mode(None))]);
    let field = |look: Look| Command::LowEnd(LowEndChoice::Field(Some(look)));
    assert_eq!(click(&mut shown(heard(), low_end_panel), "pressure"), [field(Look::Pressure)]);
    let drawn = || heard().with_view(|view| view.low_end.field = Some(Look::Pressure));
    assert_eq!(click(&mut shown(drawn(), low_end_panel), "Let it swing"), [Command::LowEnd(LowEndChoice::Play(true))]);
    assert!(find_begin(&shown(heard(), low_end_panel), "Let it swing").accesskit_node().is_disabled(), "nothing is drawn");
    let high = || heard().with_view(|view| view.low_end.height_m = fields.heights().last().copied());
    assert_eq!(click(&mut shown(high(), low_end_panel), "at the ear"), [Command::LowEnd(LowEndChoice::Height(None))]);
}

/// A drag on the chart leads the frequency: farther right is higher.
#[test]
fn keeps_a_drag_on_the_chart_in_hand() {
    let mut harness = shown(heard(), low_end_panel);
    let BassRun { study, .. } = HEARD.found.as_ref().unwrap();
    let heading = heading(&study.stands.responses[response(study, &STUDIED.scene, &View::default()).unwrap()]);
    let below = harness.query_all_by_label_contains(&heading).next().unwrap().rect().bottom() + 100.0;
    let mut last = 0.0;
    for x in [150.0, 250.0, 350.0] {
        harness.state_mut().asked.clear();
        harness.drag_at(egui::pos2(x, below));
        harness.run_ok();
        harness.hover_at(egui::pos2(x + 20.0, below));
        harness.run_ok();
        harness.drop_at(egui::pos2(x + 20.0, below));
        harness.run_ok();
        let frequency = harness.state().asked.iter().rev().find_map(|command| match command {
            Command::LowEnd(LowEndChoice::Frequency(frequency)) => Some(*frequency),
            _ => None,
        });
        let frequency = frequency.expect("the chart answers");
        assert!(frequency > last + 2.0 && (20.0..=100.0).contains(&frequency), "{frequency} Hz after {last} Hz");
        last = frequency;
    }
}

/// What the octaves below the crossover rest on stands over the tables, and the mark of a statistical reading goes where waves rule.
#[test]
fn keeps_low_octaves_told_by_what_they_rest_on() {
    let traced = study::trace_for_trials(&Progress::new(), &STUDIED.scene, 2000).unwrap();
    let hanging = from_panels(&STUDIED.scene, &traced.room, &STUDIED.scene.panels);
    let run = HEARD.found.as_ref().unwrap();
    let findings = study::study_with(&Progress::new(), &STUDIED.scene, (&traced, Some(&run.low)), &hanging).unwrap();
    assert!(matches!(findings.pairs[0].octaves[0].basis, Basis::Waves | Basis::Joined));
    let joined = || {
        let mut desk = heard();
        desk.results.findings = Some(Known { generation: desk.results.generation, rays: 2000, value: Arc::new(findings.clone()) });
        desk.results.joined = [Some(HEARD.clone()), None];
        desk
    };
    let harness = shown(joined(), hear_panel);
    let words = format!("Octaves below {} Hz are those of the waves", number(run.study.crossover_hz, 0));
    assert!(says(&harness, &words) && says(&harness, "63 Hz, ") && !says(&harness, "63 Hz *"), "{words}");
    // Of combs the images are a part alone, whoever tells of the decay.
    assert!(says(&harness, "at, 63*, 125*"));
    // Known, and on its way.
    assert!(says(&shown(heard(), hear_panel), "The octaves of the waves follow."));
    // Of an earlier state, and run never.
    let mut desk = heard();
    desk.results.scene = Some(Arc::new(Scene { panels: Vec::new(), ..(*STUDIED.scene).clone() }));
    let harness = shown(desk, hear_panel);
    assert!(says(&harness, "Low end of an earlier state: run it again") && says(&harness, "63 Hz *"));
    let harness = shown(Desk::studied(), hear_panel);
    assert!(!says(&harness, "Low end of an earlier state") && !says(&harness, "Octaves below"));
}

/// One setting rules: what the step hear asks of waves is asked of plan and places, which say what that takes and can do without.
#[test]
fn keeps_waves_of_plan_and_places_a_choice_with_its_cost() {
    let asked = BassAsked { top_hz: 100.0, memory: MEMORY, others: 1, beside_bare: true };
    let costing = |asked: BassAsked| {
        let mut desk = Desk::studied().with_view(|view| view.low_end.asked = asked);
        desk.results.place_effort = Some(PlaceEffort::of(desk.results.generation, &STUDIED.scene, asked));
        desk
    };
    let effort = study::place_effort(&STUDIED.scene, &asked).unwrap();
    let alone = study::bass_effort(&STUDIED.scene, &asked).unwrap();
    // A panel hangs: as it stands, planned, bare, by both rules of thumb, without each of four corner panels; these are of fiber and to be ranked.
    assert!(effort.runs == (5 + 4) * STUDIED.scene.sources.len() && effort.updates > 1.5 * alone.updates);
    let mut harness = shown(costing(asked), place::place);
    for effort in [effort, study::positions_effort(&STUDIED.scene, &asked).unwrap()] {
        let words = format!("Waves up to 100 Hz, as the step hear asks, take at most {} runs through", effort.runs);
        assert!(says(&harness, &words) && says(&harness, &format!("and {} in larger cells", effort.larger_runs)), "{words}");
    }
    assert_eq!(click(&mut harness, "Plan where"), [Command::Begin(Errand::Plan(Some(asked)))]);
    let places = Errand::Positions(study::PositionsAsked::default(), Some(asked));
    assert_eq!(click(&mut harness, "Try other places"), [Command::Begin(places)]);
    assert_eq!(click(&mut harness, "low end by waves"), [Command::LowEnd(LowEndChoice::ByWaves(false))]);
    // By rays alone: nothing is taken, and nothing said of it.
    let mut harness = shown(costing(asked).with_view(|view| view.low_end.by_waves = false), place::place);
    assert!(!says(&harness, "as the step hear asks"));
    assert_eq!(click(&mut harness, "Plan where"), [Command::Begin(Errand::Plan(None))]);
    assert_eq!(click(&mut harness, "low end by waves"), [Command::LowEnd(LowEndChoice::ByWaves(true))]);
    // Where waves cannot be, it is said before.
    let harness = shown(costing(BassAsked { memory: 1000, ..asked }), place::place);
    assert!(says(&harness, "Rays alone: ") && says(&harness, "GB are allowed") && !says(&harness, "--memory"));
}
