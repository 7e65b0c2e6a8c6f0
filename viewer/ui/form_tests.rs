//! The room entered by typed measures, and files chosen in the window: what a form sends, and what it keeps to itself.

use std::sync::Mutex;

use bevy::math::{DVec2, DVec3};
use roomwright::files::{Disk, Held};
use roomwright::scene::{
    Block, ClearanceRegion, Cloud, MeasuredPlane, Opening, OpeningKind, Panel, PanelPlace, PlaneShape, Rectangle, ThingKind,
};

use super::*;
use crate::edits::objection;
use crate::test_disk::Memory;
use crate::view::Pressed;

/// The forms alone, of a scene as it is.
fn lists(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    let scene = shown.document.scene().unwrap().clone();
    forms::lists(ui, shown, &scene, drafts, asked);
}

/// A room of this text.
fn of(text: &str) -> Desk {
    let mut desk = Desk::empty();
    desk.document.open(None, text.to_owned(), true);
    assert!(desk.document.scene().is_some(), "{:?}", desk.document.mistakes());
    desk
}

fn attic() -> Harness<'static, Desk> {
    shown(of(TEXT), lists)
}

/// A level room by its size in feet.
fn shed() -> Harness<'static, Desk> {
    let size = RoomSize::read("12ftx9ftx8ft").unwrap();
    shown(of(&roomwright::scene::starter("Shed", &size)), lists)
}

/// The scene after a command, which must be taken.
fn after(harness: &Harness<'_, Desk>, command: &Command) -> Scene {
    assert_eq!(objection(&harness.state().document, command), None, "{command:?}");
    crate::edits::tried(&harness.state().document, command).unwrap().scene
}

fn is_enabled(harness: &Harness<'_, Desk>, word: &str) -> bool {
    !find_begin(harness, word).accesskit_node().is_disabled()
}

#[test]
fn keeps_a_window_as_it_is_measured() {
    let mut harness = attic();
    assert!(click(&mut harness, "add a window").is_empty());
    assert!(!is_enabled(&harness, "Add it"), "its place is not said");
    for (label, text) in [("left edge", "70 cm"), ("lower edge", "2 ft 6 in"), ("width", "1.1"), ("height", "800 mm")] {
        retype(&mut harness, label, text);
    }
    let asked = click(&mut harness, "Add it");
    let place = Rectangle { left: 0.7, bottom: 30.0 * 0.0254, width: 1.1, height: 0.8 };
    let window = Opening {
        name: "window".into(),
        kind: OpeningKind::Window,
        surface: harness.state().document.scene().unwrap().walls[0].name.clone(),
        place,
        material: "Glass 4 mm".into(),
    };
    // The south wall has the door; it is left of the window's right edge there.
    assert_eq!(asked, [], "what lies over the door is not sent");
    assert!(says(&harness, "lies over \"door\""));
    retype(&mut harness, "left edge", "2 m");
    let asked = click(&mut harness, "Add it");
    let opening = Opening { place: Rectangle { left: 2.0, ..place }, ..window };
    assert_eq!(asked, [Command::AddOpening(opening.clone())]);
    assert_eq!(after(&harness, &asked[0]).openings.last(), Some(&opening));
    assert!(!says(&harness, "Add it"), "the form is done with");
}

#[test]
fn keeps_measures_by_the_mouse_alone() {
    let mut harness = attic();
    let door = |scene: &Scene| scene.openings.iter().find(|opening| opening.name == "door").unwrap().place;
    let before = door(harness.state().document.scene().unwrap());
    click(&mut harness, "door, south");
    for name in ["height: less", "height: less", "width: more"] {
        assert!(click(&mut harness, name).is_empty());
    }
    let asked = click(&mut harness, "Change it");
    let now = door(&after(&harness, &asked[0]));
    assert!((now.height - before.height + 0.02).abs() < 1e-9 && (now.width - before.width - 0.01).abs() < 1e-9, "{now:?}");
}

#[test]
fn keeps_mistakes_in_the_form() {
    let mut harness = attic();
    click(&mut harness, "door, south");
    assert!(says(&harness, "Change \"door\"") && is_enabled(&harness, "Change it"));
    for (text, said) in [("0,8", "a decimal comma"), ("wide", "Not a length"), ("0", "At least"), ("9 m", "reaches"), ("", "is needed")] {
        retype(&mut harness, "width", text);
        assert!(says(&harness, said), "{text}");
        assert!(!is_enabled(&harness, "Change it"), "{text}");
        assert!(click(&mut harness, "Change it").is_empty());
    }
    // Nothing of it has reached the scene, and leaving it leaves nothing.
    assert_eq!(harness.state().document.text(), TEXT);
    assert!(click(&mut harness, "Leave it").is_empty());
    assert!(!says(&harness, "Change \"door\""));
}

#[test]
fn keeps_what_is_not_touched_when_something_is_changed() {
    let mut harness = attic();
    let scene = harness.state().document.scene().unwrap().clone();
    let door = scene.openings.iter().find(|opening| opening.name == "door").unwrap();
    click(&mut harness, "door, south");
    retype(&mut harness, "width", "90 cm");
    let asked = click(&mut harness, "Change it");
    let opening = Opening { place: Rectangle { width: 0.9, ..door.place }, ..door.clone() };
    assert_eq!(asked, [Command::ChangeOpening { name: "door".into(), opening }]);
    let text = crate::edits::tried(&harness.state().document, &asked[0]).unwrap().text;
    let lines: Vec<(&str, &str)> = TEXT.lines().zip(text.lines()).filter(|(old, new)| old != new).collect();
    assert_eq!(lines, [("width = 0.8", "width = 0.9")]);
    click(&mut harness, "door, south");
    assert_eq!(click(&mut harness, "Remove it"), [Command::RemoveThing(ThingKind::Opening, "door".into())]);
}

/// The form of the cloud that is chosen.
fn cloud_form(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    let scene = shown.document.scene().unwrap().clone();
    forms::cloud::chosen(ui, shown, &scene, &mut drafts.form, asked);
}

#[test]
fn keeps_a_cloud_as_it_is_typed() {
    let cloud = Cloud::level(DVec2::new(2.9, 3.4), 2.1, true);
    let text = with_panels(TEXT, &[Panel { kind: "cloud".into(), place: PanelPlace::Cloud(cloud) }]).unwrap();
    let mut desk = of(&text);
    desk.view.chosen = Some(Thing::Panel(0));
    let mut harness = shown(desk, cloud_form);
    click(&mut harness, "Change its height, tilt and size");
    assert!(says(&harness, "Change \"cloud, no. 1\"") && says(&harness, "about 4.8 kg"));
    for (label, text, said) in [
        ("tilt", "steep", "Not a number of degrees"),
        ("tilt", "61", "At most 60 degrees"),
        ("panels along x", "1.5", "A whole number, 1 to 20"),
        ("underside", "two", "Not a length"),
    ] {
        let before = ["tilt", "panels along x", "underside"].map(|label| harness.get_by_label(label).value().unwrap_or_default());
        retype(&mut harness, label, text);
        assert!(says(&harness, said) && !is_enabled(&harness, "Change it"), "{text}");
        for (label, text) in ["tilt", "panels along x", "underside"].into_iter().zip(&before) {
            retype(&mut harness, label, text);
        }
    }
    for (label, text) in [("underside", "6 ft 10 in"), ("tilt", "-8"), ("panels along x", "2")] {
        retype(&mut harness, label, text);
    }
    assert!(says(&harness, "about 9.6 kg"), "of two");
    let asked = click(&mut harness, "Change it");
    let changed = Cloud { underside: 2.0828, tilt: DVec2::new(-8.0, 0.0), panels: [2, 1], ..cloud };
    assert_eq!(asked, [Command::MovePanel { panel: 0, place: PanelPlace::Cloud(changed) }]);
    assert_eq!(after(&harness, &asked[0]).stock[2].count, 0, "the second one is taken from the stock");
    // One more than there is: said, not sent.
    click(&mut harness, "Change its height, tilt and size");
    retype(&mut harness, "panels along y", "3");
    assert!(says(&harness, "It takes 2 more \"cloud\"; 1 is left in stock") && !is_enabled(&harness, "Change it"));
    click(&mut harness, "Leave it");
    click(&mut harness, "Change its height, tilt and size");
    assert_eq!(click(&mut harness, "Remove it"), [Command::RemovePanel(0)]);
}

#[test]
fn keeps_a_slope_and_a_ridge_as_measured() {
    let mut harness = shed();
    click(&mut harness, "add a slope from a knee wall");
    // It rises from the first of the two walls that face each other along the room.
    for (label, text) in [("height there", "4 ft"), ("after, level", "3 ft 6 in")] {
        retype(&mut harness, label, text);
    }
    let asked = click(&mut harness, "Add it");
    let [Command::SetCeiling { away, add }] = &asked[..] else { panic!("{asked:?}") };
    assert!(away.is_empty(), "the level part cuts it off");
    let [MeasuredPlane { shape: PlaneShape::Rise { from, height, reaches, after: run }, .. }] = &add[..] else { panic!("{add:?}") };
    let feet = |feet: f64| LengthUnit::Foot.to_meters(feet);
    assert_eq!((from.as_str(), *height, *reaches, *run), ("south", feet(4.0), feet(8.0), feet(3.5)));
    let scene = after(&harness, &asked[0]);
    assert_eq!(scene.ceiling.len(), 2);
    assert!((scene.ceiling_height(DVec2::ZERO) - 48.0 * 0.0254).abs() < 1e-9);

    let mut harness = shed();
    click(&mut harness, "add two slopes and a ridge");
    for (label, text) in [("height at one", "5 ft"), ("height at other", "6 ft"), ("ridge height", "9 ft")] {
        retype(&mut harness, label, text);
    }
    let asked = click(&mut harness, "Add it");
    let scene = after(&harness, &asked[0]);
    let foot = 0.3048;
    assert_eq!(scene.ceiling.iter().map(|plane| plane.name.as_str()).collect::<Vec<_>>(), ["slope, south", "slope, north"]);
    // The room is 9 ft from south to north.
    for (y, height) in [(0.0, 5.0), (4.5, 9.0), (9.0, 6.0)] {
        assert!((scene.ceiling_height(DVec2::new(1.0, y * foot)) - height * foot).abs() < 1e-6, "{y}");
    }
}

#[test]
fn keeps_a_level_ceiling_and_its_last_part() {
    let mut harness = shed();
    click(&mut harness, "ceiling, level");
    assert!(!says(&harness, "Remove it"), "a room has a ceiling");
    retype(&mut harness, "height", "7 ft 10 in");
    let asked = click(&mut harness, "Change it");
    assert!((after(&harness, &asked[0]).ceiling[0].height - 94.0 * 0.0254).abs() < 1e-9);
    // What hangs or opens on a part keeps it from being removed, and that is said.
    let mut harness = attic();
    click(&mut harness, "slope, slopes");
    assert!(click(&mut harness, "Remove it").is_empty());
    assert!(says(&harness, "It stays: there is no wall or ceiling \"slope\""));
    retype(&mut harness, "height there", "1.2");
    let asked = click(&mut harness, "Change it");
    let text = crate::edits::tried(&harness.state().document, &asked[0]).unwrap().text;
    assert_eq!(text, TEXT.replace("height = 1.1  ", "height = 1.2  "));
}

#[test]
fn keeps_a_box_by_its_corner_or_its_middle() {
    let mut harness = shed();
    click(&mut harness, "add a box");
    for (label, text) in [("along x", "3 ft"), ("along y", "18 in"), ("x", "1 ft"), ("y", "6 in"), ("underside", "1 ft")] {
        retype(&mut harness, label, text);
    }
    retype(&mut harness, "name", "bench");
    let asked = click(&mut harness, "Add it");
    let [Command::AddBlock(block)] = &asked[..] else { panic!("{asked:?}") };
    let Block { name, center, base, size, rotation, .. } = after(&harness, &asked[0]).blocks.pop().unwrap();
    assert_eq!((name.as_str(), base, rotation), ("bench", 0.3048, 0.0));
    assert!(center.distance(DVec2::new(2.5, 1.25) * 0.3048) < 1e-8 && size.x == LengthUnit::Foot.to_meters(3.0), "{block:?}");
    // A turned one is placed by its middle.
    click(&mut harness, "add a box");
    for (label, text) in [("turned by", "30"), ("x", "6 ft"), ("y", "4 ft")] {
        retype(&mut harness, label, text);
    }
    let asked = click(&mut harness, "Add it");
    let turned = after(&harness, &asked[0]).blocks.pop().unwrap();
    assert!(turned.center.distance(DVec2::new(6.0, 4.0) * 0.3048) < 1e-9 && (turned.rotation.to_degrees() - 30.0).abs() < 1e-9);
    click(&mut harness, "add a box");
    retype(&mut harness, "turned by", "north");
    assert!(says(&harness, "Degrees from -360 to 360") && !is_enabled(&harness, "Add it"));
}

#[test]
fn keeps_a_place_clear_on_a_surface_or_in_space() {
    let mut harness = attic();
    click(&mut harness, "keep a place clear");
    retype(&mut harness, "name", "radiator");
    retype(&mut harness, "left edge", "2.5 m");
    let asked = click(&mut harness, "Add it");
    let region = &after(&harness, &asked[0]).clearances.pop().unwrap().region;
    assert!(matches!(region, ClearanceRegion::Surface { place, .. } if place.left == 2.5 && place.bottom == 0.2));
    click(&mut harness, "keep a place clear");
    click(&mut harness, "a box in the room");
    for (label, text) in [("x from", "2"), ("y from", "1"), ("height from", "0"), ("x to", "3"), ("y to", "2"), ("height to", "2")] {
        retype(&mut harness, label, text);
    }
    let asked = click(&mut harness, "Add it");
    let expected = ClearanceRegion::Space { low: DVec3::new(2.0, 1.0, 0.0), high: DVec3::new(3.0, 2.0, 2.0) };
    assert_eq!(after(&harness, &asked[0]).clearances.pop().unwrap().region, expected);
}

#[test]
fn keeps_the_height_of_a_loudspeaker_and_a_seat() {
    let mut harness = attic();
    let scene = harness.state().document.scene().unwrap().clone();
    click(&mut harness, "left, loudspeaker");
    retype(&mut harness, "height", "1.05 m");
    let position = DVec3 { z: 1.05, ..scene.sources[0].position };
    assert_eq!(click(&mut harness, "Change it"), [Command::MoveSource { name: "left".into(), position }]);
    click(&mut harness, "seat, seat");
    retype(&mut harness, "height", "9 m");
    assert!(says(&harness, "is outside the room") && !is_enabled(&harness, "Change it"));
    retype(&mut harness, "height", "1.1 m");
    let position = DVec3 { z: 1.1, ..scene.seats[0].ear };
    assert_eq!(click(&mut harness, "Change it"), [Command::MoveReceiver { name: "seat".into(), position }]);
}

#[test]
fn keeps_a_press_in_the_form_that_asked_for_it() {
    let mut harness = attic();
    click(&mut harness, "add a hatch");
    assert_eq!(click(&mut harness, "press it in the room"), [Command::AskPlace(true)]);
    let asks = harness.into_state().with_view(|view| view.asks_place = true);
    let mut harness = shown(asks, lists);
    assert!(says(&harness, "Press the middle of it on its wall or ceiling in the room."));
    assert_eq!(click(&mut harness, "never mind"), [Command::AskPlace(false)]);
    let pressed = Pressed { surface: "east".into(), position: DVec2::new(2.004, 1.301), point: DVec3::new(4.4, 2.004, 1.301) };
    let given = harness.into_state().with_view(|view| (view.asks_place, view.pressed) = (false, Some(pressed)));
    let harness = shown(given, lists);
    assert!(harness.state().asked.contains(&Command::AskPlace(false)), "it is taken");
    let desk = harness.into_state().with_view(|view| view.pressed = None);
    let mut harness = shown(desk, lists);
    let asked = click(&mut harness, "Add it");
    let [Command::AddOpening(hatch)] = &asked[..] else { panic!("{asked:?}") };
    // Its middle, to the centimeter; 0.6 m square.
    assert_eq!((hatch.surface.as_str(), hatch.place), ("east", Rectangle { left: 1.7, bottom: 1.0, width: 0.6, height: 0.6 }));
}

/// A folder with these things.
struct Folder(Mutex<Vec<Held>>);

impl Disk for Folder {
    fn read(&self, _: &std::path::Path, _: u64) -> std::io::Result<Vec<u8>> {
        Err(std::io::ErrorKind::NotFound.into())
    }
    fn write(&self, _: &std::path::Path, _: &[u8], _: bool) -> std::io::Result<()> {
        Err(std::io::ErrorKind::ReadOnlyFilesystem.into())
    }
    fn rename(&self, _: &std::path::Path, _: &std::path::Path) -> std::io::Result<()> {
        Err(std::io::ErrorKind::ReadOnlyFilesystem.into())
    }
    fn remove(&self, _: &std::path::Path) -> std::io::Result<()> {
        Err(std::io::ErrorKind::ReadOnlyFilesystem.into())
    }
    fn make_folder(&self, _: &std::path::Path) -> std::io::Result<()> {
        Err(std::io::ErrorKind::ReadOnlyFilesystem.into())
    }
    fn canonical(&self, _: &std::path::Path) -> std::io::Result<std::path::PathBuf> {
        Err(std::io::ErrorKind::NotFound.into())
    }
    fn list(&self, _: &std::path::Path) -> std::io::Result<Vec<Held>> {
        Ok(self.0.lock().unwrap().clone())
    }
}

fn choosing(question: Question) -> Harness<'static, Desk> {
    let held = [("rooms", true), ("attic.toml", false), ("shed.toml", false)];
    let folder = Folder(Mutex::new(held.map(|(name, is_folder)| Held { name: name.to_owned(), is_folder }).to_vec()));
    let mut desk = Desk::studied().with_view(|view| view.question = Some(question));
    desk.shelf.look_into("/house/rooms".as_ref(), &folder).unwrap();
    shown(desk, |ui, shown, drafts, asked| ask::ask(ui, shown, shown.view.question.as_ref().unwrap(), drafts, asked))
}

fn pressed(harness: &mut Harness<'_, Desk>, keys: &[Key]) -> Asked {
    harness.state_mut().asked.clear();
    for key in keys {
        harness.key_press(*key);
        harness.run_ok();
    }
    std::mem::take(&mut harness.state_mut().asked)
}

#[test]
fn keeps_a_file_chosen_by_mouse_keyboard_or_name() {
    let mut harness = choosing(Question::Which);
    assert!(says(&harness, "/house/rooms"));
    // By mouse: a folder is looked into, a scene named and then opened.
    assert_eq!(click(&mut harness, "rooms"), [Command::LookInto("/house/rooms/rooms".into())]);
    let mut harness = choosing(Question::Which);
    assert_eq!(click(&mut harness, ".."), [Command::LookInto("/house/rooms/..".into())]);
    let mut harness = choosing(Question::Which);
    assert!(click(&mut harness, "attic.toml").is_empty());
    assert_eq!(click(&mut harness, "Open"), [Command::Open("/house/rooms/attic.toml".into())]);
    // By keyboard, from the top: the folder, the first scene, the second, the first.
    let mut harness = choosing(Question::Which);
    let down = Key::ArrowDown;
    assert_eq!(pressed(&mut harness, &[down, Key::Enter]), [Command::LookInto("/house/rooms/rooms".into())]);
    let mut harness = choosing(Question::Which);
    let keys = [down, down, down, Key::ArrowUp, Key::Enter];
    assert_eq!(pressed(&mut harness, &keys), [Command::Open("/house/rooms/attic.toml".into())]);
    // By name, and by a whole path.
    for (typed, command) in [
        ("barn.toml", Command::Open("/house/rooms/barn.toml".into())),
        ("/tmp/barn.toml", Command::Open("/tmp/barn.toml".into())),
        ("/tmp/", Command::LookInto("/tmp/".into())),
    ] {
        let mut harness = choosing(Question::Which);
        retype(&mut harness, "file", typed);
        assert_eq!(pressed(&mut harness, &[Key::Enter]), [command]);
    }
    let mut harness = choosing(Question::Which);
    assert_eq!(pressed(&mut harness, &[Key::Escape]), [Command::Stay]);
}

#[test]
fn keeps_a_place_chosen_to_save_to() {
    let mut harness = choosing(Question::WhereTo("my-room.toml".into()));
    assert_eq!(click(&mut harness, "Save there"), [Command::SaveAs("/house/rooms/my-room.toml".into())]);
    let mut harness = choosing(Question::WhereTo("my-room.toml".into()));
    assert_eq!(click(&mut harness, "rooms"), [Command::LookInto("/house/rooms/rooms".into())]);
    // The name is still there in the other folder.
    assert_eq!(click(&mut harness, "Save there"), [Command::SaveAs("/house/rooms/my-room.toml".into())]);
}

#[test]
fn keeps_the_scenes_opened_last_on_the_first_page() {
    let mut desk = Desk::empty();
    let folder = Folder(Mutex::default());
    desk.shelf.remember("/house/rooms/attic.toml".as_ref(), &folder);
    let mut harness = shown(desk, start::start);
    assert_eq!(click(&mut harness, "attic.toml"), [Command::Open("/house/rooms/attic.toml".into())]);
    // This disk knows no file: it is gone.
    let mut desk = harness.into_state();
    desk.shelf.look(&folder);
    let mut harness = shown(desk, start::start);
    assert!(says(&harness, "is gone from /house/rooms"));
    assert_eq!(click(&mut harness, "forget"), [Command::Forget("/house/rooms/attic.toml".into())]);
    assert_eq!(click(&mut harness, "Open a scene file"), [Command::AskFile]);
}

#[test]
fn keeps_unsaved_work_marked_on_the_first_page() {
    let disk = Memory::holding("/house/rooms/attic.toml", TEXT);
    let page = || {
        let mut desk = Desk::empty();
        desk.shelf.remember("/house/rooms/attic.toml".as_ref(), &*disk);
        desk.shelf.look(&*disk);
        shown(desk, start::start)
    };
    assert!(!says(&page(), "has unsaved work"));
    disk.put("/house/rooms/.attic.toml.unsaved", TEXT.replace("Attic", "Loft"));
    let mut harness = page();
    assert!(says(&harness, "has unsaved work"));
    assert_eq!(click(&mut harness, "attic.toml"), [Command::Open("/house/rooms/attic.toml".into())]);
}

/// Who leaves with a layout that is in no file is told which it is, and can save it in a file of its own.
#[test]
fn keeps_the_hidden_layout_in_the_question() {
    fn ask_panel(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
        ask::ask(ui, shown, shown.view.question.as_ref().unwrap(), drafts, asked);
    }
    let mut desk = Desk::studied().with_view(|view| view.question = Some(Question::Unsaved));
    let text = desk.document.text().to_owned();
    desk.document.toggle_layout();
    desk.document.replace(text.clone() + "# B\n");
    desk.document.toggle_layout();
    let mut harness = shown(desk, ask_panel);
    assert!(says(&harness, "Layout B is in no file") && !says(&harness, "work that no file holds"));
    assert_eq!(click(&mut harness, "Save it in a file"), [Command::ToggleLayout, Command::AskWhere]);
    assert_eq!(click(&mut harness, "Drop it"), [Command::Discard]);
    assert_eq!(click(&mut harness, "Go on"), [Command::Stay]);
    let mut desk = harness.into_state();
    desk.document.replace(text + "# A\n");
    let mut harness = shown(desk, ask_panel);
    assert!(says(&harness, "two layouts that no file holds: A is shown"));
    assert_eq!(click(&mut harness, "Drop both"), [Command::Discard]);
}

#[test]
fn keeps_the_window_at_rest_while_a_field_waits_for_letters() {
    let mut harness = shown(Desk::empty(), start::start);
    let field = harness.get_by_label("name");
    field.focus();
    // A tip or the fading of a color may need a few looks.
    for _ in 0..20 {
        harness.step();
    }
    assert!(harness.ctx.egui_wants_keyboard_input(), "it is written in");
    assert!(!harness.ctx.has_requested_repaint(), "{:?}", harness.ctx.repaint_causes());
}
