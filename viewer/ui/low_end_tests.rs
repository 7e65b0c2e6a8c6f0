//! The low end as the step hear shows it.

use roomwright::report::text::bass::{dips, heading, modes_heading, what};
use roomwright::study::{BassAsked, MEMORY};

use super::cloud_tests::painted;
use super::*;
use crate::errand::{LowEnd, OfScene};
use crate::low_end::{Look, LowEndChoice, response};

/// A coarse study of the attic, for all tests.
static HEARD: LazyLock<Arc<OfScene<LowEnd>>> = LazyLock::new(|| {
    let asked = BassAsked { top_hz: 100.0, memory: MEMORY, others: 1, beside_bare: true };
    let found =
        study::waves(&Progress::new(), &STUDIED.scene, &asked).map(|run| (run.study, run.fields)).unwrap_or_else(|why| panic!("{why}"));
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
    let (study, _) = HEARD.found.as_ref().unwrap();
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
    let (study, fields) = HEARD.found.as_ref().unwrap();
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
    let (study, _) = HEARD.found.as_ref().unwrap();
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
