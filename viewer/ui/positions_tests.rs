//! Places for the set as the step place shows them.

use roomwright::report::positions_map::{Shown as Map, marks};
use roomwright::report::text::figures::length;
use roomwright::report::text::positions::{bass, better, measures, weakest};
use roomwright::study::{BassAsked, PositionsAsked, PositionsStudy};

use super::*;
use crate::errand::{OfScene, Positions, Running};

/// A small study of the attic, for all tests.
static TRIED: LazyLock<Arc<OfScene<Positions>>> = LazyLock::new(|| {
    let settings = roomwright::settings::Settings { rays: 200, rounds: 1, ..STUDIED.scene.settings.clone() };
    let scene = Scene { settings, ..(*STUDIED.scene).clone() };
    let asked = PositionsAsked { step_m: Some(0.5), ..PositionsAsked::default() };
    let found = study::positions(&Progress::new(), &scene, &asked).unwrap();
    Arc::new(OfScene { scene: STUDIED.scene.clone(), found: Ok((asked, found)) })
});

fn study() -> &'static PositionsStudy {
    &TRIED.found.as_ref().unwrap().1
}

fn tried() -> Desk {
    let mut desk = Desk::studied();
    desk.results.positions = Some(TRIED.clone());
    desk
}

fn positions_panel(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    positions::positions(ui, shown, drafts, asked);
}

#[test]
fn keeps_places_for_the_set_a_click_away_and_stoppable() {
    let mut harness = shown(Desk::studied(), place::place);
    assert_eq!(
        click(&mut harness, "Try other places"),
        [Command::Begin(Errand::Positions(PositionsAsked::default(), Some(BassAsked::default())))]
    );
    let mut desk = Desk::studied();
    desk.results.status.errand = Some(Running {
        errand: Errand::Positions(PositionsAsked::default(), None),
        stage: "places for the set",
        done: 0.4,
        can_end: false,
    });
    let mut harness = shown(desk, place::place);
    assert!(says(&harness, "places for the set") && find_begin(&harness, "Try the cloud").accesskit_node().is_disabled());
    assert_eq!(click(&mut harness, "Stop"), [Command::StopErrand]);
    // What moved along may stay the next time.
    let mut harness = shown(tried(), positions_panel);
    let block = study().present.standing.iter().find(|part| part.kind == "block").expect("a desk moves along").name.clone();
    assert!(click(&mut harness, &block).is_empty());
    let stays = PositionsAsked { stays: vec![block.clone()], ..PositionsAsked::default() };
    assert_eq!(click(&mut harness, "Try other places"), [Command::Begin(Errand::Positions(stays, Some(BassAsked::default())))]);
    assert!(click(&mut harness, &block).is_empty());
    assert_eq!(
        click(&mut harness, "Try other places"),
        [Command::Begin(Errand::Positions(PositionsAsked::default(), Some(BassAsked::default())))]
    );
}

#[test]
fn keeps_the_best_places_with_gains_and_measures() {
    let mut harness = shown(tried(), positions_panel);
    for reason in &study().reasons {
        assert!(says(&harness, reason), "{reason}");
    }
    assert!(find_begin(&harness, "Move the set").accesskit_node().is_disabled());
    for part in &study().present.standing {
        let cells = measures(&TRIED.scene, part).map(|cell| cell.trim().to_owned());
        assert!(says(&harness, &format!("{}, {}", cells[0], cells[1])), "{cells:?}");
    }
    assert!(study().finalists.len() > 1);
    for one in &study().finalists {
        assert!(says(&harness, &better(one)));
        let row = format!("{}, {}, {}", one.number, one.facing, length(one.moved_m, &TRIED.scene));
        let map = Command::ChoosePlaceMap(Map::Score, one.place.turned_deg);
        assert_eq!(click(&mut harness, &row), [Command::ChoosePlace(Some(one.number)), map], "{row}");
    }
    let one = &study().finalists[1];
    let desk = tried().with_view(|view| (view.place, view.place_map) = (Some(2), (Map::Score, one.place.turned_deg)));
    let mut harness = shown(desk, positions_panel);
    for part in &one.standing {
        let cells = measures(&TRIED.scene, part);
        assert!(says(&harness, &format!("{}, {}", cells[0], cells[1])), "{cells:?}");
    }
    assert_eq!(click(&mut harness, "Move the set to place 2"), [Command::TakePlace(2)]);
    // Of a scene that is another meanwhile it says so, and moves nothing.
    let mut desk = harness.into_state();
    desk.results.scene = Some(Arc::new(Scene { panels: Vec::new(), ..(*STUDIED.scene).clone() }));
    let harness = shown(desk, positions_panel);
    assert!(says(&harness, "This is of the scene as it was") && find_begin(&harness, "Move the set").accesskit_node().is_disabled());
}

/// The low end of each place: how even it is and what is weakest, the best place for it alone, its map; none of it without waves.
#[test]
fn keeps_the_low_end_of_each_place() {
    let (asked, _) = TRIED.found.as_ref().unwrap();
    let settings = roomwright::settings::Settings { rays: 200, rounds: 1, ..STUDIED.scene.settings.clone() };
    let scene = Scene { settings, ..(*STUDIED.scene).clone() };
    let asked = PositionsAsked { step_m: Some(1.0), ..asked.clone() };
    let quick = BassAsked { top_hz: 80.0, ..BassAsked::default() };
    let by_waves = study::positions_with(&Progress::new(), &scene, &asked, Some(&quick)).unwrap();
    let with = |study: PositionsStudy| {
        let mut desk = Desk::studied();
        desk.results.positions = Some(Arc::new(OfScene { scene: STUDIED.scene.clone(), found: Ok((asked.clone(), study)) }));
        desk
    };
    let harness = shown(with(by_waves.clone()), positions_panel);
    let all = by_waves.finalists.iter().map(|one| one.bass).chain([by_waves.present.bass]);
    for row in all.map(|even| format!("{}, {}", bass(even), weakest(even))) {
        assert!(says(&harness, &row), "{row}");
    }
    let evenest = by_waves.bass.as_ref().and_then(|bass| bass.evenest.as_ref()).unwrap();
    let words = format!("{} dB off their mean, the weakest {}", bass(Some(evenest.bass)), weakest(Some(evenest.bass)));
    assert!(says(&harness, "The best place for the low end alone") && says(&harness, &words), "{words}");
    assert!(Map::Bass.is_known(&by_waves));
    let harness = shown(with(by_waves).with_view(|view| view.place_map = (Map::Bass, 0)), positions_panel);
    assert!(says(&harness, &format!("color: {}", Map::Bass.unit())));
    // By rays alone there is nothing of it but that it is not known.
    let harness = shown(tried(), positions_panel);
    assert!(!says(&harness, "The best place for the low end alone") && !says(&harness, "weakest"));
    assert!(says(&harness, "Bass is not computed here"));
}

/// The map has axes with their unit, one square a place, numbers where the best ones are, and a scale of color with its unit; each term has its own.
#[test]
fn keeps_axes_and_units_of_the_map() {
    for map in Map::ALL.into_iter().filter(|map| map.is_known(study())) {
        let harness = shown(tried().with_view(|view| view.place_map = (map, 0)), positions_panel);
        let painted = cloud_tests::painted(&harness);
        for words in ["x, m", "y, m", map.unit()] {
            assert!(painted.iter().any(|text| text == words), "{words}: {painted:?}");
        }
        let scale = marks(study(), map);
        let words = format!("color: {}, {} to {}", map.unit(), scale.print(scale.low), scale.print(scale.high));
        assert!(says(&harness, &words), "{words}");
        assert!(says(&harness, "facing") && says(&harness, "as now"));
    }
    let filled = |turned: u32| {
        let harness = shown(tried().with_view(|view| view.place_map = (Map::Score, turned)), positions_panel);
        let scale = marks(study(), Map::Score);
        let of_score = |one: &&roomwright::plan::positions::TriedPlace| one.place.turned_deg == turned;
        let all: Vec<egui::Color32> = study()
            .tried
            .iter()
            .filter(of_score)
            .map(|one| Map::Score.color(scale.share(one.figures.better_steps.value).clamp(0.0, 1.0)))
            .map(|color| egui::Color32::from_rgb(color.0, color.1, color.2))
            .collect();
        let mut painted = Vec::new();
        harness.output().shapes.iter().for_each(|clipped| fills(&clipped.shape, &mut painted));
        all.iter().for_each(|color| assert!(painted.contains(color), "{color:?}"));
        all.len()
    };
    let fitting: Vec<usize> = [0, 90, 180, 270].map(filled).to_vec();
    assert_eq!(fitting.iter().sum::<usize>(), study().tried.len());
}

/// Fills of all paths.
fn fills(shape: &egui::Shape, found: &mut Vec<egui::Color32>) {
    match shape {
        egui::Shape::Path(path) => found.push(path.fill),
        egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| fills(shape, found)),
        _ => {}
    }
}
