//! The cloud against its height as the step place shows it.

use roomwright::report::cloud::{frames, tape_symbol};
use roomwright::report::text::figures::length;
use roomwright::study::{CloudAsked, CloudStudy};

use super::*;
use crate::errand::{OfScene, Running};

/// A small study of the attic, for all tests.
static TRIED: LazyLock<Arc<OfScene<CloudStudy>>> = LazyLock::new(|| {
    let scene = Scene { settings: few_rays(&STUDIED.scene), ..(*STUDIED.scene).clone() };
    let asked = CloudAsked { heights: 5, ..CloudAsked::default() };
    let found = study::cloud(&Progress::new(), &scene, &asked).unwrap();
    Arc::new(OfScene { scene: STUDIED.scene.clone(), found: Ok(found) })
});

fn few_rays(scene: &Scene) -> roomwright::settings::Settings {
    roomwright::settings::Settings { rays: 400, rounds: 1, ..scene.settings.clone() }
}

fn tried() -> Desk {
    let mut desk = Desk::studied();
    desk.results.cloud = Some(TRIED.clone());
    desk
}

fn cloud_panel(ui: &mut Ui, shown: Shown<'_>, _: &mut Drafts, asked: &mut Asked) {
    let scene = shown.results.scene.clone().unwrap();
    cloud::cloud(ui, shown, &scene, asked);
}

#[test]
fn keeps_the_cloud_study_a_click_away_and_stoppable() {
    let mut harness = shown(Desk::studied(), place::place);
    assert_eq!(click(&mut harness, "Try the cloud"), [Command::Begin(Errand::Cloud(CloudAsked::default()))]);
    // The type that is chosen in the stock, if it is a cloud.
    let kind = STUDIED.scene.stock.iter().position(|kind| kind.name == "cloud");
    let mut harness = shown(Desk::studied().with_view(|view| view.stock = kind), cloud_panel);
    let named = CloudAsked { kind: Some("cloud".into()), ..CloudAsked::default() };
    assert_eq!(click(&mut harness, "Try the cloud"), [Command::Begin(Errand::Cloud(named.clone()))]);
    // While it runs it can be stopped, and nothing else can be begun.
    let mut desk = Desk::studied();
    desk.results.status.errand = Some(Running { errand: Errand::Cloud(named), stage: "heights of the cloud", done: 0.4, can_end: false });
    let mut harness = shown(desk, place::place);
    assert!(says(&harness, "heights of the cloud") && find_begin(&harness, "Plan where").accesskit_node().is_disabled());
    assert_eq!(click(&mut harness, "Stop"), [Command::StopErrand]);
    assert!(find_begin(&shown(Desk::broken(), cloud_panel), "Try the cloud").accesskit_node().is_disabled());
    // Where the scene speaks of no cloud there is nothing to try.
    let mut desk = Desk::studied();
    let stock = STUDIED.scene.stock.iter().filter(|kind| kind.name != "cloud").cloned().collect();
    desk.results.scene = Some(Arc::new(Scene { stock, ..(*STUDIED.scene).clone() }));
    assert!(!says(&shown(desk, cloud_panel), "How high"));
}

#[test]
fn keeps_the_best_height_its_reasons_and_the_button_that_hangs_it() {
    let study = TRIED.found.as_ref().unwrap();
    let mut harness = shown(tried(), cloud_panel);
    assert!(study.reasons.len() > 2);
    for reason in &study.reasons {
        assert!(says(&harness, reason), "{reason}");
    }
    let best = study.best().unwrap();
    let words = format!("Hang it at {}, the best height", length(best.underside_m, &STUDIED.scene));
    assert_eq!(click(&mut harness, &words), [Command::TakeCloud(study.best)]);
    assert!(says(&harness, "of headroom below its lowest edge. It hangs over heads"));
    // Another height by its row.
    let other = study.heights.iter().find(|one| one.number != study.best).unwrap();
    click(&mut harness, "Every height in figures");
    let row = roomwright::report::text::cloud::on_tape(other.underside_m, &STUDIED.scene);
    assert_eq!(click(&mut harness, &format!("{row}, ")), [Command::ChooseHeight(Some(other.number))]);
    let mut harness = shown(tried().with_view(|view| view.height = Some(other.number)), cloud_panel);
    let words = format!("Hang it at {}", length(other.underside_m, &STUDIED.scene));
    assert_eq!(click(&mut harness, &words), [Command::TakeCloud(other.number)]);
    // Of a scene that is another meanwhile it says so, and hangs nothing.
    let mut desk = tried();
    desk.results.scene = Some(Arc::new(Scene { panels: Vec::new(), ..(*STUDIED.scene).clone() }));
    let harness = shown(desk, cloud_panel);
    assert!(says(&harness, "This is of the scene as it was") && find_begin(&harness, "Hang it at").accesskit_node().is_disabled());
    // What cannot be tried says why.
    let mut desk = Desk::studied();
    desk.results.cloud = Some(Arc::new(OfScene { scene: STUDIED.scene.clone(), found: Err("the ceiling is too low".into()) }));
    assert!(says(&shown(desk, cloud_panel), "the ceiling is too low"));
}

/// Every frame of the printed chart with its title, its unit, and the names of its lines; the axis of heights with its unit; the key.
#[test]
fn keeps_titles_units_and_keys_of_the_chart() {
    let study = TRIED.found.as_ref().unwrap();
    let harness = shown(tried(), cloud_panel);
    let all = frames(&STUDIED.scene, study);
    assert_eq!(all.len(), 6);
    for frame in &all {
        assert!(says(&harness, frame.name), "{}", frame.name);
        for line in &frame.lines {
            assert!(says(&harness, &line.name), "{}", line.name);
            assert_eq!(line.values.len(), study.heights.len());
        }
        let painted = painted(&harness);
        assert!(painted.iter().any(|text| text == frame.unit), "{}: {painted:?}", frame.unit);
    }
    let below = format!("underside over the floor, {}", tape_symbol(STUDIED.scene.unit));
    assert!(painted(&harness).contains(&below));
    for words in ["best height", "not told apart from it", "without the cloud"] {
        assert!(says(&harness, words), "{words}");
    }
}

/// All texts that were painted: a plot writes on its axes without a word to a screen reader.
pub(super) fn painted(harness: &Harness<'_, Desk>) -> Vec<String> {
    fn texts(shape: &egui::Shape, found: &mut Vec<String>) {
        match shape {
            egui::Shape::Text(text) => found.push(text.galley.text().to_owned()),
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| texts(shape, found)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    harness.output().shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
    found
}
