//! The step build: what needs a look, sums, marks and cautions as `study::build` has them, and the way to the sheets.

use roomwright::report::tape::Tape;
use roomwright::report::text::build::{loads, money, quantity, what};
use roomwright::scene::Cloud;
use roomwright::scene::prices::{example, plural};
use roomwright::study::Building;

use super::*;
use crate::marks;
use crate::reporting::ReportAsked;

/// The attic with a wall panel, one on the slope, one across a corner and a cloud; with what the stud finder says or without.
fn hung(with_structure: bool) -> String {
    let text = if with_structure { TEXT } else { TEXT.split("# What the stud finder says").next().unwrap() };
    let flat = |surface: &str, left: f64, bottom: f64| Panel {
        kind: "wall panel".into(),
        place: PanelPlace::Surface { surface: surface.into(), left, bottom, lying: false, gap: 0.05 },
    };
    let corner = Panel { kind: "corner panel".into(), place: PanelPlace::Corner { corner: 2, bottom: 0.3 } };
    let cloud = PanelPlace::Cloud(Cloud::level(bevy::math::DVec2::new(2.9, 3.4), 2.1, true));
    let cloud = Panel { kind: "cloud".into(), place: cloud };
    with_panels(text, &[flat("east", 1.5, 0.6), flat("slope", 3.4, 0.6), corner, cloud]).unwrap()
}

/// The step on a scene.
fn desk(text: String, path: Option<&str>) -> Desk {
    desk_in(text, path, LengthUnit::Meter)
}

/// The same with a tape of this unit.
fn desk_in(text: String, path: Option<&str>, unit: LengthUnit) -> Desk {
    let mut desk = Desk::empty();
    desk.document.open(path.map(Into::into), text, true);
    let scene = Arc::new(Scene { unit, ..(**desk.document.scene().expect("it reads")).clone() });
    let generation = Generation(desk.document.revision());
    desk.results.show(generation, &scene);
    let value = Arc::new(study::build(None, &scene, &example()));
    desk.results.build = Some(Known { generation, rays: 0, value });
    desk.with_view(|view| view.step = Step::Build)
}

fn building(desk: &Desk) -> Building {
    desk.results.building().expect("something hangs").clone()
}

/// The step drawn, taller than other panels.
fn drawn(desk: Desk) -> Harness<'static, Desk> {
    shown_in([480.0, 9000.0], desk, build_panel)
}

fn build_panel(ui: &mut Ui, shown: Shown<'_>, _: &mut Drafts, asked: &mut Asked) {
    build::build(ui, shown, asked);
}

#[test]
fn keeps_what_needs_a_look_before_everything_else() {
    for with_structure in [true, false] {
        let desk = desk(hung(with_structure), Some("attic.toml"));
        let found = building(&desk);
        let harness = drawn(desk);
        assert!(says(&harness, &what(&found.scene, &found.build)));
        assert_eq!(says(&harness, "Look at these first"), !found.build.troubles.is_empty());
        for trouble in &found.build.troubles {
            assert!(says(&harness, &trouble.message) && says(&harness, &trouble.hint), "{trouble:?}");
            let top = |words: &str| harness.query_all_by_label_contains(words).next().expect("it is said").rect().top();
            assert!(top(&trouble.message) < top("What to buy"), "{trouble:?}");
        }
        // Nothing to hang a cloud from is known without what the stud finder says.
        let overhead = found.build.overhead.iter().filter(|one| !one.not_to_be_hung.is_empty()).count();
        assert!(with_structure || overhead == 2, "the cloud and what lies under the slope");
    }
}

#[test]
fn keeps_the_sums_of_the_list() {
    let desk = desk(hung(true), Some("attic.toml"));
    let found = building(&desk).build;
    let harness = drawn(desk);
    let sum: f64 = found.purchases.iter().filter_map(|line| line.cost).sum();
    assert!((sum - found.costs.total).abs() < 1e-9 && sum > 0.0);
    let total = format!("all together, {}", money(found.costs.total, &found));
    assert!(says(&harness, &total), "{total}");
    for line in &found.purchases {
        let row = format!("{}, {} {}, ", line.name, quantity(line.needed), plural(&line.unit, line.needed));
        assert!(says(&harness, &row), "{row}");
    }
    assert_eq!(says(&harness, "The prices are invented examples"), found.prices_are_invented);
    for made in &found.types {
        assert!(says(&harness, &format!("{} ({})", made.kind, made.count)));
    }
}

/// Surface by surface: every mark in the marks of the tape, what could hurt there, the loads of what hangs overhead; and no other surface's.
#[test]
fn keeps_every_mark_and_every_caution() {
    for unit in [LengthUnit::Meter, LengthUnit::Foot] {
        let (text, tape) = (hung(true), Tape::of(unit));
        let found = building(&desk_in(text.clone(), Some("attic.toml"), unit));
        assert!(found.build.surfaces.len() >= 4, "{:?}", found.build.surfaces.len());
        let mut told = 0;
        for surface in &found.build.surfaces {
            let desk = desk_in(text.clone(), Some("attic.toml"), unit).with_view(|view| view.sheet = Some(surface.facet));
            let harness = drawn(desk);
            for (panel, mark) in surface.panels.iter().flat_map(|panel| panel.marks.iter().map(move |mark| (panel, mark))) {
                let row = format!(
                    "{}, {}, {}, {}, {}",
                    mark.name,
                    tape.read(mark.left_m),
                    tape.read(mark.bottom_m),
                    mark.what.word(),
                    marks::lies_on(surface, panel, mark)
                );
                assert!(says(&harness, &row), "panel {}: {row}", panel.number);
                told += 1;
            }
            for other in found.build.surfaces.iter().filter(|other| other.facet != surface.facet) {
                let names = |surface: &roomwright::workshop::MarkedSurface| -> Vec<String> {
                    surface.panels.iter().flat_map(|panel| &panel.marks).map(|mark| mark.name.clone()).collect()
                };
                for name in names(other).iter().filter(|name| !names(surface).contains(name)) {
                    assert!(!says(&harness, &format!("{name}, ")), "{name} is on {}", other.surface);
                }
            }
            let pages: Vec<_> = found.build.cautions.iter().filter(|page| page.facet == Some(surface.facet)).collect();
            assert_eq!(pages.len(), 1, "{}", surface.surface);
            assert!(pages[0].lines.iter().all(|line| says(&harness, line)), "{}", surface.surface);
            for overhead in &found.build.overhead {
                let is_here = surface.panels.iter().any(|panel| panel.number == overhead.number);
                assert_eq!(says(&harness, &loads(&found.scene, overhead)), is_here, "{overhead:?}");
                assert!(!is_here || overhead.not_to_be_hung.iter().all(|reason| says(&harness, reason)));
            }
        }
        assert!(told > 12, "{told}");
    }
}

#[test]
fn keeps_the_sheet_of_the_chosen_panel_in_front() {
    let slope = building(&desk(hung(true), None)).build.surfaces.iter().find(|one| one.surface == "slope").unwrap().facet;
    let desk = desk(hung(true), Some("attic.toml")).with_view(|view| view.choose(Some(Thing::Panel(1)), None));
    let mut harness = drawn(desk);
    assert!(says(&harness, "2a, ") && !says(&harness, "1a, "));
    assert_eq!(
        click(&mut harness, "east"),
        [Command::ChooseSheet(Some(building(harness.state()).build.surfaces.iter().find(|one| one.surface == "east").unwrap().facet))]
    );
    // Chosen already: let go, with the sheet as it is.
    assert_eq!(click(&mut harness, "2a, "), [Command::Choose(None), Command::ChooseSheet(Some(slope))]);
    let asked = click(&mut harness, "Look at it square on");
    let room = harness.state().results.room.as_ref().unwrap().value.clone();
    let [Command::CameraTo(crate::view::CameraView::Elevation(index))] = asked[..] else { panic!("{asked:?}") };
    assert_eq!(room.surfaces[index].name, "slope");
}

#[test]
fn keeps_the_sheets_a_click_away_once_there_is_a_file() {
    let mut harness = drawn(desk(hung(true), Some("rooms/attic.toml")));
    assert!(says(&harness, "They go into out/attic beside the scene,"));
    assert_eq!(click(&mut harness, "Write the sheets"), [Command::WriteSheets]);
    let mut harness = drawn(desk(hung(true), None));
    assert!(says(&harness, "save it first"));
    assert!(find_begin(&harness, "Write the sheets").accesskit_node().is_disabled());
    assert_eq!(click(&mut harness, "Write the sheets"), []);
}

#[test]
fn keeps_an_empty_room_a_click_from_the_step_place() {
    let mut harness = drawn(desk(TEXT.to_owned(), Some("attic.toml")));
    assert!(says(&harness, "Nothing hangs in this scene") && !says(&harness, "What to buy"));
    assert_eq!(click(&mut harness, "Go to the step place"), [Command::ChooseStep(Step::Place)]);
}

/// In every step, once there is a file; while one is made the button ends that.
#[test]
fn keeps_the_report_a_click_away_once_there_is_a_file() {
    let mut harness = shown(desk(hung(true), Some("rooms/attic.toml")), frame_panel);
    assert_eq!(click(&mut harness, "report"), [Command::WriteReport]);
    let asked = ReportAsked::of(&harness.state().document, &harness.state().results, &harness.state().view).unwrap();
    let errand = Errand::Report(Box::new(asked));
    harness.state_mut().results.status.errand = Some(Running { errand, stage: "tracing", done: 0.5, can_end: false });
    harness.run_ok();
    assert_eq!(click(&mut harness, "stop report"), [Command::StopErrand]);
    let harness = shown(desk(hung(true), None), frame_panel);
    assert!(find_begin(&harness, "report").accesskit_node().is_disabled());
}
