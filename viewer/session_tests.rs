//! Commands on a bare application: no window, no graphics, a disk in memory, a clock that goes a second a frame.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use bevy::math::{DVec2, DVec3};
use bevy::time::TimeUpdateStrategy;
use roomwright::bands::Band;
use roomwright::files::Disk;
use roomwright::report::absorption::Field;
use roomwright::report::positions_map::Shown as PlaceMap;
use roomwright::scene::{
    Activity, Block, Clearance, ClearanceRegion, Cloud, Goals, MeasuredPlane, Opening, OpeningKind, Panel, PanelPlace, PlaneShape,
    Rectangle, RoomSize, ThingKind, with_panels,
};
use roomwright::study::absorbers::panel_type;

use super::*;
use crate::command::NewRoom;
use crate::comparison::{Choice, Target};
use crate::compute::Report;
use crate::results::Known;
use crate::test_disk::Memory;
use crate::view::{ArrivalChoice, CameraView, Cut, MapChoice, Quantity, Section, Step, Strip, Which};

const FILE: &str = "rooms/attic.toml";
const COPY: &str = "rooms/.attic.toml.unsaved";

#[path = "session_absorber_tests.rs"]
mod absorber_tests;
#[path = "lesson_tests.rs"]
mod lesson_tests;
#[path = "shelf_tests.rs"]
mod shelf_tests;

/// The attic, few rays, with two panels hung.
fn attic() -> String {
    let text = include_str!("../scenes/attic-voice-room.toml").replace("[air]", "[settings]\nrays = 2000\nrounds = 1\npatch = 0.3\n[air]");
    with_panels(&text, &[panel("east", 0.8), panel("north", 2.0)]).unwrap()
}

fn panel(surface: &str, left: f64) -> Panel {
    Panel { kind: "wall panel".into(), place: place(surface, left) }
}

fn place(surface: &str, left: f64) -> PanelPlace {
    PanelPlace::Surface { surface: surface.into(), left, bottom: 0.6, lying: false, gap: 0.05 }
}

fn app(disk: &Arc<Memory>) -> App {
    let mut app = App::new();
    app.add_plugins((MinimalPlugins, SessionPlugin))
        .insert_resource(TimeUpdateStrategy::ManualDuration(Duration::from_secs(1)))
        .insert_resource(Storage(disk.clone()));
    app.update();
    app
}

fn opened(disk: &Arc<Memory>) -> App {
    let mut app = app(disk);
    send(&mut app, Command::Open(FILE.into()));
    app
}

/// A room that no file holds yet.
fn shed() -> NewRoom {
    let size = RoomSize::read("3x2.5x2.2m").unwrap();
    NewRoom { name: "Shed".into(), size, activity: Activity::Voice, materials: Default::default() }
}

fn send(app: &mut App, command: Command) {
    app.world_mut().write_message(command);
    app.update();
}

fn document(app: &App) -> &Document {
    app.world().resource()
}

fn view(app: &App) -> &View {
    app.world().resource()
}

fn results(app: &App) -> &Results {
    app.world().resource()
}

fn has_exited(app: &App) -> bool {
    !app.world().resource::<Messages<AppExit>>().is_empty()
}

/// Updates until something is so of the results.
#[track_caller]
fn wait(app: &mut App, until: impl Fn(&Results) -> bool) {
    wait_for(app, "results as the test wants them", |app| until(results(app)));
}

/// Updates until something is so; `what`, if it never is. Five minutes are long for a room of few rays, on a slow machine that others use, too.
#[track_caller]
fn wait_for(app: &mut App, what: &str, until: impl Fn(&App) -> bool) {
    for _ in 0..60_000 {
        app.update();
        if until(app) {
            return;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("waited in vain until {what}: {:?}", results(app).status);
}

/// Everything is known of the scene on screen.
fn is_done(results: &Results) -> bool {
    results.status.stage.is_none()
        && results.has(None, None).findings > 0
        && results.bare.as_ref().is_some_and(|known| results.is_fresh(known))
}

/// Every command that edits the text.
fn edits() -> Vec<Command> {
    let opening = Opening {
        name: "hatch".into(),
        kind: OpeningKind::Hatch,
        surface: "north".into(),
        place: Rectangle { left: 3.0, bottom: 0.3, width: 0.6, height: 0.6 },
        material: "Solid wooden door".into(),
    };
    let block = Block {
        name: "crate".into(),
        center: DVec2::new(3.0, 1.5),
        base: 0.0,
        size: DVec3::new(0.5, 0.4, 0.3),
        rotation: 0.0,
        material: "Solid wooden door".into(),
        scattering: None,
    };
    let place_of_lamp = Rectangle { left: 2.0, bottom: 1.5, width: 0.3, height: 0.3 };
    let clearance = Clearance { name: "fan".into(), region: ClearanceRegion::Surface { surface: "ceiling".into(), place: place_of_lamp } };
    let lower = MeasuredPlane {
        name: "lower part".into(),
        material: "Rendered brickwork".into(),
        shape: PlaneShape::Rise { from: "north".into(), height: 2.1, reaches: 2.4, after: 1.0 },
    };
    vec![
        Command::AddPanel(panel("north", 3.0)),
        Command::RemovePanel(0),
        Command::MovePanel { panel: 1, place: place("north", 2.3) },
        // Hung as a cloud of two, leaning.
        Command::MovePanel {
            panel: 1,
            place: PanelPlace::Cloud(Cloud {
                tilt: DVec2::new(0.0, 10.0),
                panels: [2, 1],
                ..Cloud::level(DVec2::new(3.2, 3.4), 2.0, true)
            }),
        },
        Command::MoveSource { name: "left".into(), position: DVec3::new(1.6, 4.4, 1.2) },
        Command::MoveReceiver { name: "seat".into(), position: DVec3::new(2.4, 3.2, 1.2) },
        Command::MoveReceiver { name: "microphone".into(), position: DVec3::new(2.6, 3.5, 1.25) },
        Command::SetMaterial { surface: "door".into(), material: "Rendered brickwork".into() },
        Command::SetWallMaterial("Rendered brickwork".into()),
        Command::AddStock(panel_type("50 mm, 12000, gap 50 mm, size 60 x 120 cm, price 45", "thin").unwrap()),
        Command::SetStockCount { kind: "cloud".into(), count: 5 },
        Command::SetActivity(Activity::Rehearsal),
        Command::SetGoals(Box::new(Goals { decay_s: Some((0.2, 0.3)), ..Goals::default() })),
        Command::AddOpening(opening.clone()),
        Command::ChangeOpening { name: "door".into(), opening: Opening { name: "way in".into(), ..opening } },
        Command::AddBlock(block.clone()),
        Command::ChangeBlock { name: "shelf".into(), block },
        Command::MoveBlock { name: "shelf".into(), center: DVec2::new(4.25, 2.0) },
        Command::MoveOpening { name: "door".into(), low: DVec2::new(0.4, 0.0) },
        Command::MoveClearance {
            name: "swing of the door".into(),
            region: ClearanceRegion::Space { low: DVec3::new(3.2, 0.0, 0.0), high: DVec3::new(4.0, 0.85, 2.0) },
        },
        Command::AddClearance(clearance.clone()),
        Command::ChangeClearance { name: "socket".into(), clearance },
        Command::RemoveThing(ThingKind::Clearance, "socket".into()),
        Command::SetCeiling { away: Vec::new(), add: vec![lower.clone()] },
        Command::ChangeCeiling { name: "ceiling".into(), plane: lower },
        Command::SetText(attic().replace("Attic voice room", "Attic")),
    ]
}

#[test]
fn keeps_every_edit_one_step_back_and_forth() {
    let text = attic();
    for command in edits() {
        let disk = Memory::holding(FILE, &text);
        let mut app = opened(&disk);
        assert_eq!(document(&app).text(), text);
        send(&mut app, command.clone());
        let edited = document(&app).text().to_owned();
        assert!(view(&app).refused.is_none(), "{command:?}: {:?}", view(&app).refused);
        assert_ne!(edited, text, "{command:?}");
        assert!(document(&app).scene().is_some() && document(&app).is_unsaved(), "{command:?}");
        assert_eq!(results(&app).generation.0, document(&app).revision(), "{command:?}");
        send(&mut app, Command::Undo);
        assert_eq!(document(&app).text(), text, "{command:?}");
        assert!(!document(&app).is_unsaved());
        send(&mut app, Command::Redo);
        assert_eq!(document(&app).text(), edited, "{command:?}");
        assert_eq!(disk.text(FILE).as_deref(), Some(text.as_str()), "nothing is saved unasked");
    }
}

#[test]
fn keeps_the_list_of_edits_complete() {
    let tried = edits();
    let named = |command: &Command| format!("{command:?}").split(['(', ' ']).next().unwrap().to_owned();
    for command in &tried {
        assert!(is_edit(command) || matches!(command, Command::SetText(_)), "{command:?}");
    }
    let source = include_str!("edits.rs");
    let list = source.split("fn is_edit").nth(1).unwrap().split("/// Makes the edit").next().unwrap();
    let listed = list.matches("Command::").count();
    let tried: BTreeSet<String> = tried.iter().map(named).collect();
    // SetText is an edit, but of the whole text.
    assert_eq!(tried.len() - 1, listed, "{tried:?}");
}

#[test]
fn keeps_the_text_whatever_is_looked_at() {
    let text = attic();
    let mut app = opened(&Memory::holding(FILE, &text));
    let arrival = ArrivalChoice { pair: 0, which: Which::Reflection(1) };
    let map = MapChoice { quantity: Quantity::Late, source: Some(1), octave: None };
    let section = Section { cut: Cut::AlongLength, at: 1.7 };
    for command in [
        Command::ChooseStep(Step::Place),
        Command::ChooseStrip(Strip::Absorbers),
        Command::Compare(Choice::Material("Rough concrete".into())),
        Command::LeaveOut(Choice::Material("Rough concrete".into())),
        Command::ChooseField(Field::Normal),
        Command::ChooseTarget(Some(Target::One("floor".into()))),
        Command::ChooseArrival(Some(arrival)),
        Command::ChooseHotSpot(Some(2)),
        Command::Choose(Some(Thing::Panel(1))),
        Command::ChooseStock(Some(0)),
        Command::ChooseHeight(Some(3)),
        Command::ChoosePlace(Some(2)),
        Command::ChoosePlaceMap(PlaceMap::Likeness, 90),
        Command::ChooseSheet(Some(2)),
        Command::HangByHand(true),
        Command::ChooseSource(1),
        Command::ChooseEar(1),
        Command::ChooseReceiver(1),
        Command::ChooseMap(Some(map)),
        Command::Play(true),
        Command::Play(false),
        Command::SetTime(12.5),
        Command::SetSlowness(0.5),
        Command::AskPlace(true),
        Command::GivePlace(crate::view::Pressed { surface: "east".into(), position: DVec2::ONE, point: DVec3::ONE }),
        Command::AskPlace(false),
        Command::ChooseLanding(None),
        Command::ChooseSection(Some(section)),
        Command::CameraTo(CameraView::Plan),
    ] {
        let before = view(&app).clone();
        send(&mut app, command.clone());
        assert_ne!(*view(&app), before, "{command:?}");
        assert_eq!(document(&app).text(), text);
        assert!(!document(&app).is_unsaved() && document(&app).can_undo_redo() == (false, false));
    }
    let mut comparison = crate::comparison::Comparison::default();
    let scene = document(&app).scene().unwrap().clone();
    let concrete = Choice::Material("Rough concrete".into());
    assert!(comparison.put(Some(&scene), &concrete));
    comparison.leave_out(Some(&scene), &concrete);
    (comparison.field, comparison.target) = (Field::Normal, Some(Target::One("floor".into())));
    let expected = View {
        step: Step::Place,
        strip: Strip::Absorbers,
        comparison,
        arrival: Some(arrival),
        // Other spots count for another type of panel.
        height: Some(3),
        place: Some(2),
        place_map: (PlaceMap::Likeness, 90),
        sheet: Some(2),
        hot_spot: None,
        chosen: Some(Thing::Panel(1)),
        stock: Some(0),
        hanging: true,
        source: 1,
        receiver: 1,
        // A microphone is one ear.
        ear: 0,
        map: Some(map),
        time_ms: 12.5,
        playing: false,
        slowness: 0.5,
        landing: None,
        section: Some(section),
        camera: CameraView::Plan,
        ..View::default()
    };
    assert_eq!(*view(&app), expected);
    // What the scene does not have cannot be chosen.
    let none = Command::Choose(Some(Thing::Panel(2)));
    for command in [none, Command::ChooseStock(Some(9)), Command::ChooseSource(7), Command::SetTime(1e9)] {
        send(&mut app, command);
    }
    let view = view(&app);
    assert_eq!((view.chosen, view.stock, view.source, view.time_ms), (None, None, 1, View::TIME_MOST_MS));
}

#[test]
fn keeps_the_wavefront_running_to_its_end() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    for command in [Command::SetSlowness(0.5), Command::SetTime(97.0), Command::Play(true)] {
        send(&mut app, command);
    }
    // A frame is a second of the clock, of which the engine takes a quarter at most: half a millisecond of sound.
    let before = view(&app).time_ms;
    app.update();
    assert!((view(&app).time_ms - before - 0.5).abs() < 1e-9);
    for _ in 0..6 {
        app.update();
    }
    assert_eq!((view(&app).time_ms, view(&app).playing), (View::TIME_MOST_MS, false));
}

#[test]
fn keeps_a_new_room_until_it_has_a_file() {
    let disk = Memory::holding("taken.toml", "mine");
    let mut app = app(&disk);
    assert!(!document(&app).is_open() && !document(&app).is_unsaved());
    let room = NewRoom {
        name: "Spare room, north".into(),
        size: RoomSize::read("3.6x2.9x2.4m").unwrap(),
        activity: Activity::Voice,
        materials: [Some("Rendered brickwork".into()), None, Some("Rendered brickwork".into())],
    };
    send(&mut app, Command::New(NewRoom { materials: [None, Some("Cheese".into()), None], ..room.clone() }));
    assert!(!document(&app).is_open() && view(&app).notice.as_ref().unwrap().contains("Cheese"));
    send(&mut app, Command::New(room));
    let scene = document(&app).scene().unwrap().clone();
    assert_eq!((scene.microphones.len(), scene.seats.len()), (1, 0), "a voice talks into a microphone");
    assert_eq!((scene.activity, scene.walls[2].material.as_str(), scene.wall_length(0)), (Activity::Voice, "Rendered brickwork", 3.6));
    assert!(document(&app).is_unsaved());
    assert_eq!(disk.text(".new-room.toml.unsaved").as_deref(), Some(document(&app).text()));
    send(&mut app, Command::Save);
    assert_eq!(view(&app).question, Some(Question::WhereTo("spare-room-north.toml".into())));
    send(&mut app, Command::SaveAs("taken.toml".into()));
    assert_eq!((disk.text("taken.toml").as_deref(), document(&app).is_unsaved()), (Some("mine"), true));
    assert!(view(&app).question.is_some() && view(&app).notice.as_ref().unwrap().contains("exists already"));
    send(&mut app, Command::SaveAs("spare".into()));
    assert_eq!(disk.text("spare.toml").as_deref(), Some(document(&app).text()));
    assert!(!document(&app).is_unsaved() && view(&app).question.is_none());
    assert_eq!(disk.names(), ["spare.toml", "taken.toml"], "no copy is left");
    send(&mut app, Command::SetActivity(Activity::Lesson));
    send(&mut app, Command::Save);
    assert!(disk.text("spare.toml").unwrap().contains("use = \"lesson\""));
}

#[test]
fn keeps_unsaved_work_from_being_left_unasked() {
    let text = attic();
    let other = text.replace("Attic voice room", "Other");
    for leave in [Command::Close, Command::Open("rooms/other.toml".into())] {
        let disk = Memory::holding(FILE, &text);
        disk.put("rooms/other.toml", &other);
        let mut app = opened(&disk);
        let count = |count: u32| Command::SetStockCount { kind: "cloud".into(), count };
        send(&mut app, count(5));
        let edited = document(&app).text().to_owned();
        send(&mut app, leave.clone());
        assert!(!has_exited(&app) && view(&app).question == Some(Question::Unsaved) && document(&app).text() == edited);
        send(&mut app, Command::Stay);
        assert!(!has_exited(&app) && view(&app).question.is_none() && document(&app).text() == edited);
        send(&mut app, leave.clone());
        send(&mut app, Command::Discard);
        assert_eq!(disk.text(FILE).as_deref(), Some(text.as_str()));
        assert_eq!(disk.text(COPY), None, "what was given up is not offered again");
        if leave == Command::Close {
            assert!(has_exited(&app));
        } else {
            assert_eq!(document(&app).text(), other);
            assert_eq!(document(&app).can_undo_redo(), (false, false));
        }
    }
    // Save answers too.
    let disk = Memory::holding(FILE, &text);
    let mut app = opened(&disk);
    send(&mut app, Command::SetStockCount { kind: "cloud".into(), count: 5 });
    let edited = document(&app).text().to_owned();
    send(&mut app, Command::Close);
    send(&mut app, Command::Save);
    assert!(has_exited(&app) && disk.text(FILE).as_deref() == Some(edited.as_str()));
}

#[test]
fn keeps_everything_when_the_disk_is_full() {
    let text = attic();
    let disk = Memory::holding(FILE, &text);
    let mut app = opened(&disk);
    *disk.full.lock().unwrap() = true;
    send(&mut app, Command::SetStockCount { kind: "cloud".into(), count: 5 });
    assert!(view(&app).notice.as_ref().unwrap().contains("No recovery copy"));
    let edited = document(&app).text().to_owned();
    send(&mut app, Command::Save);
    assert_eq!(
        (disk.text(FILE).as_deref(), document(&app).text(), document(&app).is_unsaved()),
        (Some(text.as_str()), edited.as_str(), true)
    );
    assert!(view(&app).notice.as_ref().unwrap().contains("the disk is full"));
    send(&mut app, Command::Close);
    send(&mut app, Command::Save);
    assert!(!has_exited(&app) && view(&app).question == Some(Question::Unsaved));
}

#[test]
fn keeps_unsaved_work_through_a_crash() {
    let text = attic();
    let disk = Memory::holding(FILE, &text);
    let mut app = opened(&disk);
    assert_eq!(disk.text(COPY), None);
    send(&mut app, Command::MovePanel { panel: 1, place: place("north", 2.3) });
    let edited = document(&app).text().to_owned();
    assert_eq!(disk.text(COPY).as_deref(), Some(edited.as_str()));
    drop(app);

    let mut app = opened(&disk);
    assert_eq!((view(&app).question.as_ref(), document(&app).text()), (Some(&Question::Recovery), text.as_str()));
    for command in [Command::Stay, Command::Save, Command::SetStockCount { kind: "cloud".into(), count: 5 }] {
        send(&mut app, command);
    }
    assert_eq!((view(&app).question.as_ref(), document(&app).text()), (Some(&Question::Recovery), text.as_str()));
    assert_eq!(disk.text(COPY).as_deref(), Some(edited.as_str()), "the copy waits for the answer");
    send(&mut app, Command::RestoreRecovery);
    assert_eq!((view(&app).question.as_ref(), document(&app).text()), (None, edited.as_str()));
    assert!(document(&app).is_unsaved() && disk.text(COPY).is_some());
    drop(app);

    let mut app = opened(&disk);
    send(&mut app, Command::RestoreRecovery);
    send(&mut app, Command::Undo);
    assert_eq!(document(&app).text(), text);
    assert_eq!(disk.text(COPY), None, "nothing is unsaved any more");
    send(&mut app, Command::Redo);
    assert_eq!(disk.text(COPY).as_deref(), Some(edited.as_str()));
    send(&mut app, Command::Save);
    assert_eq!((disk.text(FILE).as_deref(), disk.text(COPY)), (Some(edited.as_str()), None));
    drop(app);

    disk.put(COPY, &text);
    let mut app = opened(&disk);
    send(&mut app, Command::DiscardRecovery);
    assert_eq!((document(&app).text(), disk.text(COPY), view(&app).question.as_ref()), (edited.as_str(), None, None));
    drop(app);
    disk.put(COPY, &edited);
    assert_eq!(view(&opened(&disk)).question, None, "a copy that says the same is no question");
}

#[test]
fn keeps_a_new_room_through_a_crash() {
    let disk = Arc::new(Memory::default());
    let room = shed();
    let mut first = app(&disk);
    send(&mut first, Command::New(room.clone()));
    let text = document(&first).text().to_owned();
    drop(first);
    let mut second = app(&disk);
    assert!(!document(&second).is_open() && view(&second).question == Some(Question::Recovery));
    send(&mut second, Command::RestoreRecovery);
    assert_eq!((document(&second).text(), document(&second).is_unsaved()), (text.as_str(), true));
    assert!(results(&second).room.is_some());
    drop(second);
    // Another scene may be opened before it is answered: the copy waits.
    disk.put(FILE, attic());
    let mut third = opened(&disk);
    assert_eq!(view(&third).question, None);
    send(&mut third, Command::Close);
    assert!(has_exited(&third) && disk.names().contains(&".new-room.toml.unsaved".to_owned()));
    let mut fourth = app(&disk);
    send(&mut fourth, Command::DiscardRecovery);
    assert!(!document(&fourth).is_open() && disk.names() == [FILE]);
}

#[test]
fn keeps_what_another_program_wrote() {
    let text = attic();
    let theirs = text.replace("Attic voice room", "Attic of others");
    let disk = Memory::holding(FILE, &text);
    let mut app = opened(&disk);
    for _ in 0..3 {
        app.update();
    }
    assert_eq!(view(&app).question, None);
    send(&mut app, Command::SetStockCount { kind: "cloud".into(), count: 5 });
    let ours = document(&app).text().to_owned();
    disk.put(FILE, &theirs);
    for _ in 0..3 {
        app.update();
    }
    assert_eq!(view(&app).question, Some(Question::ChangedOnDisk), "noticed within seconds");
    send(&mut app, Command::Stay);
    for _ in 0..5 {
        app.update();
    }
    assert_eq!(view(&app).question, None, "and not said twice");
    send(&mut app, Command::Save);
    assert_eq!((view(&app).question.as_ref(), disk.text(FILE).as_deref()), (Some(&Question::ChangedOnDisk), Some(theirs.as_str())));
    send(&mut app, Command::Reload);
    assert_eq!((document(&app).text(), document(&app).is_unsaved()), (theirs.as_str(), false));
    send(&mut app, Command::Undo);
    assert_eq!(document(&app).text(), ours);
    send(&mut app, Command::Save);
    assert_eq!(disk.text(FILE).as_deref(), Some(ours.as_str()), "their text was read, so this is no surprise");

    disk.put(FILE, &theirs);
    send(&mut app, Command::SetStockCount { kind: "cloud".into(), count: 6 });
    send(&mut app, Command::Save);
    send(&mut app, Command::Overwrite);
    assert_eq!(disk.text(FILE).as_deref(), Some(document(&app).text()));
    assert!(view(&app).question.is_none() && !document(&app).is_unsaved());
    disk.remove(Path::new(FILE)).unwrap();
    for _ in 0..3 {
        app.update();
    }
    assert!(document(&app).is_unsaved() && view(&app).notice.as_ref().unwrap().contains("is gone"));
    send(&mut app, Command::Save);
    assert!(disk.text(FILE).is_some());
}

#[test]
fn keeps_a_broken_scene_open_until_it_is_mended() {
    let text = attic();
    let broken = text.replace("surface = \"south\"", "surface = \"sotuh\"");
    let mut app = opened(&Memory::holding(FILE, &broken));
    assert!(document(&app).is_broken() && results(&app).is_sketch && results(&app).survey.is_none());
    let drawn = results(&app).scene.clone().unwrap();
    assert_eq!((drawn.walls.len(), drawn.openings.len(), drawn.panels.len()), (4, 1, 2), "all but the door that is nowhere");
    let line = broken.lines().position(|line| line.contains("sotuh")).unwrap() + 1;
    assert_eq!(document(&app).mistakes().iter().map(|mistake| mistake.line).collect::<Vec<_>>(), [line]);
    send(&mut app, Command::Begin(Errand::Plan(None)));
    assert!(view(&app).notice.as_ref().unwrap().contains("mistakes"));
    send(&mut app, Command::SetText(text));
    assert!(results(&app).room.is_some() && !results(&app).is_sketch);
    // A mistake made here leaves the last sound room on screen.
    send(&mut app, Command::SetText(broken));
    assert!(document(&app).is_broken() && !results(&app).is_sketch && results(&app).scene.is_some());
    // A file that is not there, or not text, changes nothing.
    let before = document(&app).text().to_owned();
    send(&mut app, Command::Save);
    send(&mut app, Command::Open("rooms/none.toml".into()));
    assert_eq!(document(&app).text(), before);
    assert!(view(&app).notice.as_ref().unwrap().contains("no such file"));
}

#[test]
fn keeps_newer_results() {
    let mut results = Results::default();
    let text = attic();
    let scene = Arc::new(scene::read(&text).unwrap().0);
    results.show(Generation(7), &scene);
    let spots = |generation, rays| Report::HotSpots(Known { generation: Generation(generation), rays, value: Arc::default() });
    let earnings = |generation, rays| Report::Earnings(Known { generation: Generation(generation), rays, value: Arc::default() });
    assert!(results.take(spots(7, 100)) && !results.take(spots(7, 50)) && results.take(spots(7, 100)) && results.take(spots(7, 200)));
    assert!(!results.take(spots(6, 1000)) && !results.take(earnings(6, 1000)));
    let findings = |generation, rays| {
        let value = Arc::new(study_of(&scene));
        Report::Findings(Known { generation: Generation(generation), rays, value }, None)
    };
    assert!(results.take(findings(5, 100)), "an older one is better than none");
    assert!(results.take(findings(7, 5)), "few rays of the scene on screen are better than many of an older one");
    assert!(!results.take(findings(6, 1000)) && results.findings.as_ref().unwrap().rays == 5);
    assert_eq!(results.has(None, None).findings, 5);
    results.show(Generation(8), &scene);
    assert_eq!(results.has(None, None), crate::compute::Has { map: u32::MAX, landing: u32::MAX, ..Default::default() });
}

fn study_of(scene: &scene::Scene) -> roomwright::findings::Findings {
    let traced = study::trace_for_trials(&roomwright::progress::Progress::new(), scene, 200).unwrap();
    study::study(&roomwright::progress::Progress::new(), scene, &traced, &roomwright::hanging::Hanging::default()).unwrap()
}

#[path = "session_errand_tests.rs"]
mod errands;

#[path = "session_prove_tests.rs"]
mod recordings;

#[path = "session_bass_tests.rs"]
mod low_end;

#[path = "session_build_tests.rs"]
mod builds;

#[path = "session_results_tests.rs"]
mod coming;

#[path = "session_drag_tests.rs"]
mod drag;

#[path = "layout_tests.rs"]
mod layouts;
