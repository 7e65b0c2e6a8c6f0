//! Things and ceilings changed by typed measures: the keys that are meant change, and nothing else, not even a space.

use glam::{DVec2, DVec3};
use roomwright::scene::{
    self, Activity, Block, Clearance, ClearanceRegion, EditError, Editor, FORMAT, MeasuredPlane, Opening, PlaneShape, Rectangle, RoomSize,
    ThingKind,
};

use super::edit::{edited, read};
use super::scenes::shipped;

const ROOM: &str = r#"# A shed.
format = 1
name = "Shed"
unit = "cm"
use = "mixing"

[room]
size = [400, 300, "2.4 m"] # to the boards
floor = "Wood floor (on joists)"
wall_material = "Standard brickwork"
ceiling_material = "Plasterboard ceiling on battens, large air space above"

# The way in.
[[opening]]
kind = "door"
surface = "south"
left = "200 mm"    # from the corner
width = 80
height = 198
material = "Solid wooden door"

[[block]]
name = "bench"
corner = [ 20, 30 ] # against the wall
size = [120, 60, 90]
material = "Solid wooden door"

[[clearance]]
name = "opening" # of the door
low = [20, 0, 0]
high = [100, 80, 200]

[[loudspeaker]]
name = "left"
position = [300, 100, 120]
toward = "seat"

[[seat]]
ear = [200, 150, 120]
"#;

#[test]
fn keeps_a_text_whose_things_are_changed_to_what_they_are() {
    for text in shipped().into_iter().map(|(_, text)| text).chain([FORMAT.to_owned(), ROOM.to_owned()]) {
        let scene = read(&text);
        let same = edited(&text, |editor| {
            for opening in &scene.openings {
                editor.change_opening(&opening.name, opening)?;
            }
            for block in &scene.blocks {
                editor.change_block(&block.name, block)?;
            }
            for clearance in &scene.clearances {
                editor.change_clearance(&clearance.name, clearance)?;
            }
            for plane in &scene.ceiling {
                if let Some(measured) = editor.ceiling_part(&plane.name) {
                    editor.change_ceiling(&plane.name, &measured)?;
                }
            }
            Ok(())
        });
        assert_eq!(same, text);
    }
}

#[test]
fn exact_text_of_a_changed_opening() {
    let door = read(ROOM).openings[0].clone();
    let wide = Opening { place: Rectangle { width: 0.9, ..door.place }, ..door.clone() };
    assert_eq!(edited(ROOM, |editor| editor.change_opening("opening", &wide)), ROOM.replace("width = 80\n", "width = 90\n"));
    // Its name and its zero bottom follow from a rule and are not written as long as they are meant.
    let moved = Opening { surface: "east".into(), place: Rectangle { left: 0.5, ..door.place }, ..door.clone() };
    let expected = ROOM.replace("\"south\"", "\"east\"").replace("\"200 mm\"", "50");
    assert_eq!(edited(ROOM, |editor| editor.change_opening("opening", &moved)), expected);
    let named = Opening { name: "way in".into(), ..door.clone() };
    let text = edited(ROOM, |editor| editor.change_opening("opening", &named));
    assert_eq!(text, ROOM.replace("\"Solid wooden door\"\n\n[[block", "\"Solid wooden door\"\nname = \"way in\"\n\n[[block"));
    // Of two things of a name the one that is meant.
    let none = edited(ROOM, |editor| editor.remove_thing(ThingKind::Clearance, "opening"));
    assert_eq!((read(&none).openings.len(), read(&none).clearances.len()), (1, 0));
    // What makes no sense is refused with its reason.
    let mut editor = Editor::new(ROOM).unwrap();
    editor.change_opening("opening", &Opening { place: Rectangle { left: 3.9, ..door.place }, ..door }).unwrap();
    assert_eq!(editor.finish().unwrap_err().diagnostics[0].id, "opening-off-surface");
}

#[test]
fn exact_text_of_a_changed_block() {
    let bench = read(ROOM).blocks[0].clone();
    // A longer bench stays with its corner, which is how it is written.
    let longer = Block { size: DVec3::new(1.4, 0.6, 0.9), center: bench.center + DVec2::new(0.1, 0.0), ..bench.clone() };
    assert_eq!(edited(ROOM, |editor| editor.change_block("bench", &longer)), ROOM.replace("[120, 60", "[140, 60"));
    let moved = Block { center: bench.center + DVec2::new(0.0, 0.1), ..bench.clone() };
    assert_eq!(edited(ROOM, |editor| editor.change_block("bench", &moved)), ROOM.replace("[ 20, 30 ]", "[ 20, 40 ]"));
    // A turned one has no such corner.
    let turned = Block { rotation: 90.0_f64.to_radians(), ..bench.clone() };
    let text = edited(ROOM, |editor| editor.change_block("bench", &turned));
    assert_eq!(read(&text).blocks[0], turned);
    assert!(!text.contains("corner =") && text.contains("center = [80, 60]") && text.contains("rotation = 90"), "{text}");
    let hung = Block { base: 0.5, ..bench };
    assert!(edited(ROOM, |editor| editor.change_block("bench", &hung)).contains("base = 50\n"));
}

#[test]
fn exact_text_of_a_changed_clearance() {
    let region = ClearanceRegion::Space { low: DVec3::new(0.2, 0.0, 0.0), high: DVec3::new(1.1, 0.8, 2.0) };
    let swing = Clearance { name: "opening".into(), region };
    assert_eq!(edited(ROOM, |editor| editor.change_clearance("opening", &swing)), ROOM.replace("high = [100,", "high = [110,"));
    let place = Rectangle { left: 1.0, bottom: 0.2, width: 0.3, height: 0.3 };
    let socket = Clearance { name: "socket".into(), region: ClearanceRegion::Surface { surface: "west".into(), place } };
    let text = edited(ROOM, |editor| editor.change_clearance("opening", &socket));
    assert_eq!(read(&text).clearances[0], socket);
    assert!(!text.contains("low =") && text.contains("name = \"socket\" # of the door"), "{text}");
}

fn level(name: &str, height: f64) -> MeasuredPlane {
    MeasuredPlane {
        name: name.into(),
        material: "Plasterboard ceiling on battens, large air space above".into(),
        shape: PlaneShape::Level { height },
    }
}

fn knee(name: &str, from: &str) -> MeasuredPlane {
    let shape = PlaneShape::Rise { from: from.into(), height: 1.1, reaches: 2.4, after: 1.5 };
    MeasuredPlane { shape, ..level(name, 0.0) }
}

#[test]
fn keeps_a_level_ceiling_where_it_is_written() {
    let lower = edited(ROOM, |editor| editor.change_ceiling("ceiling", &level("ceiling", 2.2)));
    assert_eq!(lower, ROOM.replace("\"2.4 m\"", "220"));
    let by_height = ROOM
        .replace("size = [400, 300, \"2.4 m\"]", "outline = [[0, 0], [400, 0], [400, 300], [0, 300]]\n# As measured.\nheight = \"2.4 m\"");
    let lower = edited(&by_height, |editor| editor.change_ceiling("ceiling", &level("ceiling", 2.2)));
    assert_eq!(lower, by_height.replace("\"2.4 m\"", "220"));
    // A second part: the first keeps what was written about it.
    let sloped = edited(&by_height, |editor| editor.set_ceiling(&[], &[knee("west slope", "west")]));
    assert!(sloped.contains("[[room.ceiling]]\nname = \"ceiling\"\n# As measured.\nheight = \"2.4 m\" # to the boards\n"), "{sloped}");
    let scene = read(&sloped);
    assert_eq!(scene.ceiling.len(), 2);
    assert!((scene.ceiling_height(DVec2::new(0.0, 1.0)) - 1.1).abs() < 1e-12);
    assert!((scene.ceiling_height(DVec2::new(3.0, 1.0)) - 2.4).abs() < 1e-12);
    // Without it the ceiling is the level one again.
    let gone = edited(&sloped, |editor| editor.set_ceiling(&["west slope".to_owned()], &[]));
    assert_eq!(read(&gone), read(&by_height));
}

#[test]
fn keeps_every_shape_of_ceiling_as_measured() {
    let between = |low: f64| {
        let walls = [("west".to_owned(), low), ("east".to_owned(), 2.4)];
        MeasuredPlane { shape: PlaneShape::Between { walls }, material: "Standard brickwork".into(), ..level("between", 0.0) }
    };
    for plane in [level("flat", 2.1), knee("slope", "north"), between(1.5)] {
        // Instead of the level one: the roof goes up to the ridge.
        let text = edited(ROOM, |editor| editor.set_ceiling(&["ceiling".to_owned()], std::slice::from_ref(&plane)));
        let scene = read(&text);
        assert_eq!(Editor::new(&text).unwrap().ceiling_part(&plane.name).as_ref(), Some(&plane), "{text}");
        assert_eq!((scene.ceiling.len(), &scene.ceiling[0].material), (1, &plane.material));
        // Into each of the others and back.
        for other in [level("", 2.0), knee("", "north"), between(1.2)] {
            let other = MeasuredPlane { name: plane.name.clone(), ..other };
            let changed = edited(&text, |editor| editor.change_ceiling(&plane.name, &other));
            assert_eq!(Editor::new(&changed).unwrap().ceiling_part(&plane.name), Some(other.clone()));
            let back = edited(&changed, |editor| editor.change_ceiling(&plane.name, &plane));
            assert_eq!(read(&back), scene);
        }
    }
    let text = edited(ROOM, |editor| editor.set_ceiling(&[], &[between(1.5)]));
    let lower = edited(&text, |editor| editor.change_ceiling("between", &between(1.4)));
    assert_eq!(lower, text.replace("west = 150", "west = 140"));
    // A slope by its rise and one by points have no measures of these kinds.
    let reference = Editor::new(FORMAT).unwrap();
    let known: Vec<bool> = ["flat", "west slope", "east slope", "north slope"].map(|name| reference.ceiling_part(name).is_some()).to_vec();
    assert_eq!(known, [true, true, true, false]);
    assert!(matches!(Editor::new(ROOM).unwrap().set_ceiling(&["loft".to_owned()], &[]), Err(EditError::Missing(_))));
}

#[test]
fn keeps_two_slopes_one_ridge() {
    let side = |name: &str, from: &str| MeasuredPlane {
        shape: PlaneShape::Rise { from: from.into(), height: 2.0, reaches: 2.9, after: 2.0 },
        ..level(name, 0.0)
    };
    let away = ["ceiling".to_owned()];
    let text = edited(ROOM, |editor| editor.set_ceiling(&away, &[side("west slope", "west"), side("east slope", "east")]));
    let scene = read(&text);
    for (x, height) in [(0.0, 2.0), (2.0, 2.9), (4.0, 2.0)] {
        assert!((scene.ceiling_height(DVec2::new(x, 1.5)) - height).abs() < 1e-9);
    }
}

/// What the smallest and a large room to begin with are: read without a word, for every use.
#[test]
fn keeps_small_and_large_rooms_free_of_mistakes() {
    for size in ["2.0x2.0x2.2m", "12x9x4m", "6ft7inx6ft7inx7ft3in"] {
        for activity in Activity::ALL {
            let text = scene::starter_for("Room", &RoomSize::read(size).unwrap(), activity);
            let (scene, warnings) = scene::read(&text).unwrap();
            assert!(warnings.is_empty(), "{size}: {warnings:?}");
            let survey = roomwright::study::survey(&scene);
            assert!(survey.volume_m3 > 8.0, "{size}");
        }
    }
}
