//! Changes of a person's scene text: what was meant is changed, and nothing else, not even a space.

use glam::{DVec2, DVec3};
use proptest::prelude::*;
use roomwright::directivity::Directivity;
use roomwright::scene::{
    self, Activity, Block, Clearance, ClearanceRegion, EditError, Editor, FORMAT, Opening, OpeningKind, Panel, PanelPlace, Rectangle,
    Scene, StockKind, ThingKind,
};

use super::scenes::shipped;

/// The scene of a text that must read.
pub(crate) fn read(text: &str) -> Scene {
    scene::read(text).unwrap_or_else(|found| panic!("{found:?}\n{text}")).0
}

/// The text after a change that must succeed, read again.
pub(crate) fn edited(text: &str, change: impl FnOnce(&mut Editor) -> Result<(), EditError>) -> String {
    let mut editor = Editor::new(text).expect("a scene");
    change(&mut editor).expect("what is changed is there");
    let edited = editor.finish().unwrap_or_else(|refused| panic!("{refused}"));
    assert_eq!(read(&edited.text), edited.scene);
    edited.text
}

/// Lines of two texts of as many lines that differ: old, new.
fn changed<'a>(before: &'a str, after: &'a str) -> Vec<(&'a str, &'a str)> {
    assert_eq!(before.lines().count(), after.lines().count(), "{after}");
    before.lines().zip(after.lines()).filter(|(old, new)| old != new).collect()
}

/// All shipped scenes, and the one that has every key.
fn texts() -> Vec<String> {
    shipped().into_iter().map(|(_, text)| text).chain([FORMAT.to_owned()]).collect()
}

#[test]
fn keeps_a_text_that_nothing_is_changed_in() {
    for text in texts() {
        assert_eq!(edited(&text, |_| Ok(())), text);
        let scene = read(&text);
        let same = edited(&text, |editor| {
            for (index, panel) in scene.panels.iter().enumerate() {
                editor.move_panel(index, &panel.place)?;
            }
            for source in &scene.sources {
                editor.move_source(&source.name, source.position)?;
            }
            for seat in &scene.seats {
                editor.move_receiver(&seat.name, seat.ear)?;
            }
            for microphone in &scene.microphones {
                editor.move_receiver(&microphone.name, microphone.position)?;
            }
            for block in &scene.blocks {
                editor.move_block(&block.name, block.center)?;
                editor.set_material(&block.name, &block.material)?;
            }
            for opening in &scene.openings {
                editor.move_opening(&opening.name, DVec2::new(opening.place.left, opening.place.bottom))?;
                editor.set_material(&opening.name, &opening.material)?;
            }
            for clearance in &scene.clearances {
                editor.move_clearance(&clearance.name, &clearance.region)?;
            }
            for kind in &scene.stock {
                editor.set_stock_count(&kind.name, kind.count)?;
            }
            editor.set_activity(scene.activity);
            Ok(())
        });
        assert!(changed(&text, &same).is_empty());
    }
}

#[test]
fn keeps_a_text_when_a_panel_is_hung_and_taken_down_again() {
    let mut tried = 0;
    for text in texts() {
        let scene = read(&text);
        let kind = &scene.stock.iter().find(|kind| kind.kind == StockKind::Panel && kind.count > 0).unwrap().name;
        let hung = scene.walls.iter().flat_map(|wall| [0.1, 1.1, 2.1].map(|left| (&wall.name, left))).find_map(|(wall, left)| {
            let place = PanelPlace::Surface { surface: wall.clone(), left, bottom: 0.11, lying: true, gap: 0.03 };
            let mut editor = Editor::new(&text).unwrap();
            editor.add_panel(&Panel { kind: kind.clone(), place });
            editor.finish().ok()
        });
        // A room that is full takes none.
        let Some(hung) = hung else { continue };
        tried += 1;
        assert_eq!(hung.scene.panels.len(), scene.panels.len() + 1);
        assert_eq!(edited(&hung.text, |editor| editor.remove_panel(scene.panels.len())), text);
    }
    assert!(tried >= 3, "only {tried} texts took a panel");
}

/// A small room whose text has everything that an edit could spoil.
const ROOM: &str = r#"# A shed, measured on a wet day.
format = 1
name = "Shed"
unit = "ft"          # bare numbers are feet
use = "voice"

[room]
# Round the other way.
outline = [[0, 0], [0, 9], ["12 ft 6 in", 9], ["12 ft 6 in", 0]]
height = "8 ft 2 1/2 in"   # to the boards
floor = "Wood floor (on joists)"
wall_material = "Standard brickwork"
ceiling_material = "Plasterboard ceiling on battens, large air space above"

# Where the talker sits.
[[voice]]
position = [5, 4.25, "3 ft 11 in"] # mouth
toward = "microphone"

[[microphone]]
position = ["6 ft", 4.25, "3 ft 11 in"]
aim = [5, 4.25, 3.9]

[[block]]
name = "bench"
corner = [1, 0.5]
size = [3, 2, 2.5]
material = "Solid wooden door"

# These are built already.

# The heavy one.
[[panel]]
type = "wall panel"
surface = "east"
left = "2 ft"        # from the door post
bottom = 3

# The light one.
[[panel]]
type = "wall panel"
surface = "west"
left = 3
bottom = 3
lying = true
gap = "2 in"

[[stock]]
name = "wall panel"
kind = "panel"
size = [2, 4]
thickness = "2 in"
flow_resistivity = 12000
gap = "1 in"
count = 3            # left of five

# The end.
"#;

#[test]
fn exact_text_of_moves() {
    let moved = edited(ROOM, |editor| editor.move_source("voice", DVec3::new(5.5 * 0.3048, 4.25 * 0.3048, 47.0 * 0.0254)));
    assert_eq!(changed(ROOM, &moved), [("position = [5, 4.25, \"3 ft 11 in\"] # mouth", "position = [5.5, 4.25, \"3 ft 11 in\"] # mouth")]);
    let moved = edited(ROOM, |editor| editor.move_receiver("microphone", DVec3::new(6.0 * 0.3048, 4.0 * 0.3048, 1.0)));
    assert_eq!(changed(ROOM, &moved), [("position = [\"6 ft\", 4.25, \"3 ft 11 in\"]", "position = [\"6 ft\", 4, \"1000 mm\"]")]);
    let moved = edited(ROOM, |editor| editor.move_block("bench", DVec2::new(3.5, 1.5) * 0.3048));
    assert_eq!(changed(ROOM, &moved), [("corner = [1, 0.5]", "corner = [2, 0.5]")]);
    // The gap of the first panel is the usual one and stays unsaid.
    let place = PanelPlace::Surface { surface: "east".into(), left: 1.5 * 0.3048, bottom: 3.0 * 0.3048, lying: false, gap: 0.0254 };
    let moved = edited(ROOM, |editor| editor.move_panel(0, &place));
    assert_eq!(changed(ROOM, &moved), [("left = \"2 ft\"        # from the door post", "left = 1.5        # from the door post")]);
    let place = PanelPlace::Surface { surface: "north".into(), left: 3.0 * 0.3048, bottom: 3.0 * 0.3048, lying: false, gap: 0.0508 };
    let moved = edited(ROOM, |editor| editor.move_panel(1, &place));
    assert_eq!(changed(ROOM, &moved), [("surface = \"west\"", "surface = \"north\""), ("lying = true", "lying = false")]);
}

#[test]
fn exact_text_of_moved_openings_and_clearances() {
    let text = format!(
        "{ROOM}
[[opening]]
name = \"door\"
kind = \"door\"
surface = \"south\"
left = \"1 ft\"   # from the corner
width = 2.5
height = 6.5
material = \"Solid wooden door\"

[[clearance]]
name = \"socket\"
surface = \"north\"
left = 1
bottom = 1 # over the floor
width = 0.5
height = 0.5

[[clearance]]
name = \"heater\"
low = [10, 4, 0]
high = [12, 6, \"2 ft\"]
"
    );
    let feet = 0.3048;
    // The lower edge of a door is not said, and stays so.
    let slid = edited(&text, |editor| editor.move_opening("door", DVec2::new(2.0 * feet, 0.0)));
    assert_eq!(changed(&text, &slid), [("left = \"1 ft\"   # from the corner", "left = 2   # from the corner")]);
    let place = Rectangle { left: 2.0 * feet, bottom: feet, width: 0.5 * feet, height: 0.5 * feet };
    let on = |surface: &str| ClearanceRegion::Surface { surface: surface.into(), place };
    let moved = edited(&text, |editor| editor.move_clearance("socket", &on("south")));
    assert_eq!(changed(&text, &moved), [("surface = \"north\"", "surface = \"south\""), ("left = 1", "left = 2")]);
    let space = ClearanceRegion::Space { low: DVec3::new(9.0, 4.0, 0.0) * feet, high: DVec3::new(11.0, 6.0, 2.0) * feet };
    let moved = edited(&text, |editor| editor.move_clearance("heater", &space));
    assert_eq!(changed(&text, &moved), [("low = [10, 4, 0]", "low = [9, 4, 0]"), ("high = [12, 6, \"2 ft\"]", "high = [11, 6, \"2 ft\"]")]);
    let mut editor = Editor::new(&text).unwrap();
    assert!(matches!(editor.move_clearance("socket", &space), Err(EditError::ByHand(_))));
    assert_eq!(editor.move_opening("hatch", DVec2::ZERO).unwrap_err().to_string(), "there is no opening \"hatch\"");
    assert_eq!(editor.finish().unwrap().text, text, "what was refused changed nothing");
}

#[test]
fn exact_text_of_counts_and_uses() {
    let counted = edited(ROOM, |editor| editor.set_stock_count("wall panel", 7));
    assert_eq!(changed(ROOM, &counted), [("count = 3            # left of five", "count = 7            # left of five")]);
    let used = edited(ROOM, |editor| {
        editor.set_activity(Activity::Lesson);
        Ok(())
    });
    assert_eq!(changed(ROOM, &used), [("use = \"voice\"", "use = \"lesson\"")]);
}

#[test]
fn keeps_comments_that_are_set_off_from_a_removed_panel() {
    let first_gone = edited(ROOM, |editor| editor.remove_panel(0));
    assert_eq!(read(&first_gone).panels, read(ROOM).panels[1..]);
    assert!(first_gone.contains("\n# These are built already.\n\n# The light one.\n[[panel]]\n"), "{first_gone}");
    assert!(!first_gone.contains("The heavy one") && first_gone.contains("count = 4            # left of five"));
    let both_gone = edited(&edited(ROOM, |editor| editor.remove_panel(1)), |editor| editor.remove_panel(0));
    assert!(both_gone.contains("\n# These are built already.\n\n[[stock]]\n") && both_gone.ends_with("\n# The end.\n"), "{both_gone}");
    // Nothing follows: the comment goes to the end.
    let last = ROOM.split("[[stock]]").collect::<Vec<_>>();
    let stock_first =
        last[0].replace("# Where the talker sits.", &format!("[[stock]]{}\n# Where the talker sits.", last[1].replace("# The end.\n", "")));
    let gone = edited(&edited(&stock_first, |editor| editor.remove_panel(1)), |editor| editor.remove_panel(0));
    assert!(gone.trim_end().ends_with("# These are built already."), "{gone}");
}

#[test]
fn keeps_everything_but_the_material_that_is_set() {
    for text in texts().into_iter().chain([ROOM.to_owned()]) {
        let scene = read(&text);
        let material = "Rendered brickwork".to_owned();
        assert!(roomwright::absorbers::table::find(&material).is_some());
        let expect = |name: &str, change: &dyn Fn(&mut Scene)| {
            let mut expected = scene.clone();
            change(&mut expected);
            assert_ne!(expected, scene, "{name}");
            let after = edited(&text, |editor| editor.set_material(name, &material));
            assert_eq!(read(&after), expected, "{name}");
            // Undoing it by hand gives the text back, unless the material was a common one of several.
            let kept = text.lines().filter(|line| line.starts_with('#')).all(|line| after.lines().any(|other| other == line));
            assert!(kept, "{after}");
        };
        expect("floor", &|scene| scene.floor_material.clone_from(&material));
        for (index, wall) in scene.walls.iter().enumerate() {
            expect(&wall.name, &|scene| scene.walls[index].material.clone_from(&material));
        }
        for (index, plane) in scene.ceiling.iter().enumerate() {
            expect(&plane.name, &|scene| scene.ceiling[index].material.clone_from(&material));
        }
        for (index, opening) in scene.openings.iter().enumerate() {
            expect(&opening.name, &|scene| scene.openings[index].material.clone_from(&material));
        }
        for (index, block) in scene.blocks.iter().enumerate() {
            expect(&block.name, &|scene| scene.blocks[index].material.clone_from(&material));
        }
    }
}

#[test]
fn keeps_everything_but_the_material_of_all_walls() {
    for text in texts() {
        let mut expected = read(&text);
        expected.walls.iter_mut().for_each(|wall| wall.material = "Rendered brickwork".into());
        assert_eq!(read(&edited(&text, |editor| editor.set_wall_material("Rendered brickwork"))), expected);
    }
}

#[test]
fn keeps_everything_else_when_things_come_and_go() {
    let scene = read(ROOM);
    let opening = Opening {
        name: "hatch".into(),
        kind: OpeningKind::Hatch,
        surface: "north".into(),
        place: Rectangle { left: 0.3048, bottom: 0.6096, width: 0.9144, height: 0.6096 },
        material: "Solid wooden door".into(),
    };
    let block = Block {
        name: "crate".into(),
        center: DVec2::new(2.5, 2.2),
        base: 0.0,
        size: DVec3::new(0.5, 0.4, 0.3),
        rotation: 0.5,
        material: "Solid wooden door".into(),
        scattering: None,
    };
    let clearance = Clearance {
        name: "lamp".into(),
        region: ClearanceRegion::Space { low: DVec3::new(3.0, 2.0, 2.0), high: DVec3::new(3.3048, 2.3048, 2.3048) },
    };
    let added = edited(ROOM, |editor| {
        editor.add_opening(&opening);
        editor.add_block(&block);
        editor.add_clearance(&clearance);
        Ok(())
    });
    let mut expected = scene.clone();
    expected.openings.push(opening);
    expected.blocks.push(block);
    expected.clearances.push(clearance);
    assert_eq!(read(&added), expected);
    let mut removed = added;
    for (kind, name) in [(ThingKind::Block, "crate"), (ThingKind::Opening, "hatch"), (ThingKind::Clearance, "lamp")] {
        removed = edited(&removed, |editor| editor.remove_thing(kind, name));
    }
    assert_eq!(removed, ROOM);
}

#[test]
fn keeps_the_size_of_a_room_apart_from_its_outline() {
    let size = scene::RoomSize::read("3.6x2.9x2.4m").unwrap();
    let text = scene::starter("Room", &size);
    let wider = edited(&text, |editor| editor.set_size(DVec3::new(3.6, 3.1, 2.4)));
    assert_eq!(changed(&text, &wider).len(), 1);
    assert_eq!(read(&wider).wall_length(1), 3.1);
    let by_hand = Editor::new(ROOM).unwrap().set_size(DVec3::splat(3.0));
    assert!(matches!(by_hand, Err(EditError::ByHand(_))));
}

#[test]
fn keeps_what_is_not_there_from_being_changed() {
    let mut editor = Editor::new(ROOM).unwrap();
    assert!(editor.remove_panel(2).is_err() && editor.move_panel(2, &PanelPlace::Corner { corner: 0, bottom: 0.0 }).is_err());
    assert!(editor.move_source("bench", DVec3::ONE).is_err() && editor.move_receiver("voice", DVec3::ONE).is_err());
    assert!(editor.set_material("south east", "x").is_err() && editor.remove_thing(ThingKind::Block, "voice").is_err());
    assert_eq!(editor.set_stock_count("cloud", 1).unwrap_err().to_string(), "there is no type of panel \"cloud\"");
    assert_eq!(editor.finish().unwrap().text, ROOM);
    // A change that makes no sense gives the reasons, and the caller still has the old text.
    let mut editor = Editor::new(ROOM).unwrap();
    editor.move_source("voice", DVec3::new(9.0, 1.0, 1.0)).unwrap();
    let refused = editor.finish().unwrap_err();
    assert_eq!(refused.diagnostics.iter().map(|found| found.id).collect::<Vec<_>>(), ["outside-room"]);
    assert!(Editor::new("format = 1").is_err());
}

proptest! {
    /// A panel moved to where it hung before gives the text before, but for how a number is written: so a drag that comes back does no harm.
    #[test]
    fn keeps_the_scene_of_a_panel_moved_there_and_back(left in 0.0..2.0_f64, bottom in 0.0..1.0_f64, lying in any::<bool>()) {
        let home = read(ROOM).panels[1].place.clone();
        let place = PanelPlace::Surface { surface: "west".into(), left, bottom, lying, gap: 0.0508 };
        let mut editor = Editor::new(ROOM).unwrap();
        editor.move_panel(1, &place).unwrap();
        let there = editor.finish();
        prop_assume!(there.is_ok());
        let there = there.unwrap();
        let PanelPlace::Surface { left: written_left, .. } = there.scene.panels[1].place else { panic!() };
        prop_assert!((written_left - left).abs() < 1e-6);
        let back = edited(&there.text, |editor| editor.move_panel(1, &home));
        prop_assert_eq!(read(&back), read(ROOM));
        prop_assert_eq!(back, ROOM);
    }
}

/// A loudspeaker with polar data moves alone: its table, with what is remarked there, stays below it.
#[test]
fn keeps_polar_data_of_a_loudspeaker_that_moves() {
    let old = "position = [3.15, 3.4, 1.2]";
    assert!(FORMAT.contains(old) && FORMAT.contains("[loudspeaker.polar]               # measured data"));
    let text = edited(FORMAT, |editor| editor.move_source("right", DVec3::new(3.2, 3.4, 1.2)));
    assert_eq!(changed(FORMAT, &text), [(old, "position = [3.2, 3.4, 1.2]")]);
    let directivity = |text: &str| read(text).sources[1].directivity;
    assert!(matches!(directivity(&text), Directivity::Polar(_)));
    assert_eq!(directivity(&text), directivity(FORMAT));
    // Printed and read again, the data are the same, and below their own loudspeaker.
    let printed = scene::print(&read(&text));
    assert_eq!(directivity(&printed), directivity(FORMAT));
    assert!(
        printed
            .contains("directivity = \"polar\"\n\n[loudspeaker.polar]\nangles = [0, 15, 30, 45, 60, 90, 120, 150, 180]\n250 = [0, 0, -0.2")
    );
}

/// Only keys that mean something else are written, in the table that is there or in a new one; what is taken back goes without a trace.
#[test]
fn keeps_goals_that_are_changed_to_their_keys() {
    use roomwright::scene::{Drilling, Goals, Term, Terms};
    for text in texts() {
        let own = read(&text).goals;
        assert_eq!(edited(&text, |editor| editor.set_goals(&own)), text);
        let mut asked = Goals {
            weights: Terms::from_fn(|term| (term != Term::Speech).then_some(0.25)),
            decay_s: Some((0.21, 0.33)),
            move_hung: !own.move_hung,
            drilling: Drilling::Nowhere,
            budget: Some(120.0),
        };
        let said = edited(&text, |editor| editor.set_goals(&asked));
        assert_eq!(read(&said).goals, asked);
        asked.drilling = Drilling::NotInto(vec![read(&text).walls[0].name.clone()]);
        asked.weights[Term::Decay] = Some(2.0);
        asked.budget = None;
        let again = edited(&said, |editor| editor.set_goals(&asked));
        assert_eq!(read(&again).goals, asked);
        let lines: Vec<&str> = again.lines().filter(|line| !said.lines().any(|old| old == *line)).collect();
        assert!(lines.len() == 2 && lines[0].starts_with("decay = 2") && lines[1].starts_with("no_drill = ["), "{lines:?}");
        let back = edited(&again, |editor| editor.set_goals(&own));
        assert_eq!(read(&back), read(&text));
    }
    let inline = format!("goals = {{ decay = 1, likeness = 2 }}\n{}", include_str!("../scenes/attic-voice-room.toml"));
    let asked = Goals { weights: Terms::from_fn(|term| (term == Term::Decay).then_some(3.0)), ..Goals::default() };
    let said = edited(&inline, |editor| editor.set_goals(&asked));
    assert!(read(&said).goals == asked && said.starts_with("goals = { decay = 3"), "{said}");
}

/// What nothing can meet is refused with the diagnostic of the reader.
#[test]
fn keeps_goals_that_contradict_refused() {
    use roomwright::scene::{Goals, Terms};
    let text = include_str!("../scenes/attic-voice-room.toml");
    let refused = |goals: &Goals| {
        let mut editor = Editor::new(text).unwrap();
        editor.set_goals(goals).unwrap();
        editor.finish().unwrap_err().diagnostics.iter().any(|found| found.id == "goals-conflict")
    };
    let none = Goals { weights: Terms::from_fn(|_| Some(0.0)), ..Goals::default() };
    assert!(refused(&none));
    assert!(refused(&Goals { decay_s: Some((0.5, 0.3)), ..Goals::default() }));
}
