//! The scenes of the repository, the starter and the reference: they read without a complaint, and print back the same.

use std::fs;
use std::path::PathBuf;

use glam::{DVec2, DVec3};
use proptest::prelude::*;
use roomwright::scene::starter::RoomSizeError;
use roomwright::scene::{self, Activity, Diagnostic, FORMAT, Panel, PanelPlace, RoomSize, Scene};
use roomwright::units::LengthUnit;

/// Name and text of every file in `scenes/`.
pub(crate) fn shipped() -> Vec<(String, String)> {
    texts("scenes")
}

/// Those and the rooms of the lessons.
pub(crate) fn shipped_with_lessons() -> Vec<(String, String)> {
    [shipped(), texts("scenes/lessons")].concat()
}

/// Name and text of every file in a folder.
fn texts(folder: &str) -> Vec<(String, String)> {
    let folder = fs::read_dir(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(folder)).expect("the folder is there");
    let paths = folder.map(|entry| entry.expect("a folder can be listed").path());
    let mut files: Vec<PathBuf> = paths.filter(|path| path.extension().is_some_and(|ending| ending == "toml")).collect();
    files.sort();
    let name = |path: &PathBuf| path.file_stem().expect("a file has a name").to_string_lossy().into_owned();
    files.iter().map(|path| (name(path), fs::read_to_string(path).expect("a scene can be read"))).collect()
}

fn rendered(diagnostics: &[Diagnostic], text: &str) -> String {
    diagnostics.iter().map(|found| found.render(text, "scene.toml")).collect::<Vec<_>>().join("\n")
}

/// The scene of a text that has no fault and no warning.
fn clean(text: &str) -> Scene {
    match scene::read(text) {
        Ok((scene, warnings)) if warnings.is_empty() => scene,
        Ok((_, found)) | Err(found) => panic!("{}\n{text}", rendered(&found, text)),
    }
}

#[test]
fn keeps_shipped_scenes_clean() {
    let shipped = shipped();
    assert!(shipped.len() >= 3);
    for (name, text) in &shipped {
        let scene = clean(text);
        assert!(scene.question.is_some(), "{name} asks nothing");
    }
    clean(FORMAT);
}

/// The rooms that plans are held against rules of thumb in.
#[test]
fn keeps_rooms_for_comparison_clean() {
    let rooms = texts("tests/cases/rooms");
    assert_eq!(rooms.len(), 8);
    for (name, text) in &rooms {
        let scene = clean(text);
        assert!(scene.question.is_some() && scene.stock.iter().any(|kind| kind.count > 0), "{name}");
        assert_eq!(clean(&scene::print(&scene)), scene, "{name}");
    }
}

#[test]
fn keeps_scenes_through_print_and_read() {
    for (name, text) in shipped().into_iter().chain([("reference".to_owned(), FORMAT.to_owned())]) {
        let scene = clean(&text);
        let printed = scene::print(&scene);
        assert_eq!(clean(&printed), scene, "{name}");
        assert_eq!(scene::print(&clean(&printed)), printed, "{name}");
    }
}

#[test]
fn exact_attic_is_the_room_that_was_measured() {
    let (_, text) = shipped().into_iter().find(|(name, _)| name == "attic-voice-room").unwrap();
    let scene = clean(&text);
    assert_eq!(scene.walls.iter().map(|wall| wall.name.as_str()).collect::<Vec<_>>(), ["south", "east", "north", "knee wall"]);
    let height = |x: f64| scene.ceiling_height(DVec2::new(x, 2.0));
    assert!((height(0.0) - 1.1).abs() < 1e-12);
    assert!((height(0.95) - 1.75).abs() < 1e-12);
    assert!((height(1.9) - 2.4).abs() < 1e-12);
    assert!((height(4.4) - 2.4).abs() < 1e-12);
    // The triangle of loudspeakers and seat has equal sides.
    let side = scene.sources[0].position.distance(scene.sources[1].position);
    assert!((side - 1.3).abs() < 1e-12);
    for source in &scene.sources {
        assert!((source.position.distance(scene.seats[0].ear) - side).abs() < 0.001);
        assert!((source.aim.length() - 1.0).abs() < 1e-12);
    }
    // The zone is held by nothing: 0.30 m is under a quarter of 1.30 m.
    assert_eq!(scene.seats[0].zone_radius, 0.3);
    assert!((scene.seats[0].facing - DVec3::Y).length() < 1e-12);
}

/// What editors of other systems do to a text does not matter.
#[test]
fn keeps_scenes_whatever_the_line_ends() {
    for (name, text) in shipped() {
        assert_eq!(clean(&text.replace('\n', "\r\n")), clean(&text), "{name}");
        assert_eq!(clean(&format!("\u{feff}{text}")), clean(&text), "{name}");
        assert_eq!(clean(text.trim_end()), clean(&text), "{name}");
    }
}

/// Position on a chart, by hand: the knee wall is seen facing west, so that left is south.
#[test]
fn exact_charts() {
    let (_, text) = shipped().into_iter().find(|(name, _)| name == "attic-voice-room").unwrap();
    let scene = clean(&text);
    let at = |name: &str, left: f64, bottom: f64| scene.chart(scene.surface(name).unwrap()).point(DVec2::new(left, bottom));
    let close = |found: DVec3, expected: [f64; 3]| assert!(found.distance(DVec3::from_array(expected)) < 1e-12, "{found} {expected:?}");
    close(at("knee wall", 1.0, 0.5), [0.0, 1.0, 0.5]);
    close(at("south", 1.0, 0.5), [3.4, 0.0, 0.5]);
    close(at("east", 1.0, 0.5), [4.4, 4.2, 0.5]);
    close(at("north", 1.0, 0.5), [1.0, 5.2, 0.5]);
    close(at("floor", 1.0, 0.5), [1.0, 0.5, 0.0]);
    close(at("ceiling", 1.0, 0.5), [3.4, 0.5, 2.4]);
    // Up the slope by its whole length, from the top of the knee wall.
    close(at("slope", 2.0, 1.9_f64.hypot(1.3)), [1.9, 2.0, 2.4]);
    for surface in ["knee wall", "south", "east", "north", "floor", "ceiling", "slope"] {
        let chart = scene.chart(scene.surface(surface).unwrap());
        assert!(chart.height(DVec3::new(2.4, 2.6, 1.0)) > 0.0, "the normal of {surface} does not point into the room");
    }
}

/// One room, written in several ways.
#[test]
fn keeps_the_room_however_it_is_written() {
    let room = |room: &str| {
        clean(&format!(
            "format = 1\nname = \"r\"\nuse = \"voice\"\n[[seat]]\near = [1, 1, 1.2]\n[[voice]]\nposition = [2, 1, 1.5]\ntoward = \"seat\"\n\
             [room]\nfloor = \"Concrete floor\"\nwall_material = \"Glass 4 mm\"\nceiling_material = \"Glass 6 mm\"\n{room}"
        ))
    };
    let by_size = room("size = [4, 3, 2.5]");
    assert_eq!(room("outline = [[0, 0], [4, 0], [4, 3], [0, 3]]\nheight = \"250 cm\""), by_size);
    // Clockwise: the first corner stays the first, and names follow the sides.
    assert_eq!(room("outline = [[0, 0], [0, 3], [4, 3], [4, 0]]\nheight = 2.5"), by_size);
    assert_eq!(room("size = [4, 3, 9]\n[[room.ceiling]]\nheight = 2.5"), by_size);
    let named = room("outline = [[0, 0], [0, 3], [4, 3], [4, 0]]\nheight = 2.5\n[[room.wall]]\nedge = 2\nname = \"street\"");
    assert_eq!(named.walls.iter().map(|wall| wall.name.as_str()).collect::<Vec<_>>(), ["south", "east", "street", "west"]);

    let sloped = room("outline = [[0, 0], [4, 0], [4, 3], [0, 3]]\n[[room.ceiling]]\nheights = { west = 1.5, east = 2.5 }");
    let close = |other: Scene| {
        assert!((other.ceiling[0].height - 1.5).abs() < 1e-12 && (other.ceiling[0].slope - DVec2::new(0.25, 0.0)).length() < 1e-12);
    };
    close(sloped);
    close(room("outline = [[0, 0], [4, 0], [4, 3], [0, 3]]\n[[room.ceiling]]\nfrom = \"west\"\nheight = 1.5\nreaches = 2\nafter = 2"));
    close(room("outline = [[0, 0], [4, 0], [4, 3], [0, 3]]\n[[room.ceiling]]\npoints = [[0, 3, 1.5], [4, 0, 2.5], [2, 1, 2]]"));
    close(room("outline = [[0, 0], [4, 0], [4, 3], [0, 3]]\n[[room.ceiling]]\nheight = 1.5\nslope = [0.25, 0]"));
}

#[test]
fn keeps_comments_when_panels_are_added() {
    for (name, text) in shipped() {
        let before = clean(&text);
        let kind = |index: usize| before.stock[index].name.clone();
        let wall = before.walls.iter().position(|wall| !before.openings.iter().any(|opening| opening.surface == wall.name)).unwrap();
        let panels = [
            Panel {
                kind: kind(0),
                place: PanelPlace::Surface { surface: before.walls[wall].name.clone(), left: 1.3, bottom: 0.311, lying: true, gap: 0.0254 },
            },
            Panel { kind: kind(1), place: PanelPlace::Corner { corner: 0, bottom: 0.02 } },
        ];
        let panels = &panels[..if name == "l-shaped-rehearsal-room" { 2 } else { 1 }];
        let written = scene::with_panels(&text, panels).unwrap_or_else(|refused| panic!("{name}\n{refused}"));
        let after = clean(&written);
        let expected: Vec<Panel> = before.panels.iter().chain(panels).cloned().collect();
        assert_eq!(after.panels, expected, "{name}");
        // What was hung is off the stock, and nothing else has changed.
        let mut left = before.clone();
        for kind in left.stock.iter_mut().filter(|kind| panels.iter().any(|panel| panel.kind == kind.name)) {
            kind.count -= 1;
        }
        assert_eq!(Scene { panels: before.panels.clone(), ..after }, left);
        // Every line of the person is still there, in order, but for those counts.
        let mut lines = written.lines();
        for line in text.lines().filter(|line| !line.starts_with("count = ")) {
            assert!(lines.any(|kept| kept == line), "{name}: {line}");
        }
    }
}

#[test]
fn keeps_panels_where_the_text_writes_them_inline() {
    let text = FORMAT
        .split("[[panel]]")
        .next()
        .unwrap()
        .replace("[air]", "panel = [{ type = \"cloud\", center = [2.5, 2.6], underside = 2.2 }] # mine\n[air]");
    let panel = Panel {
        kind: "wall panel".to_owned(),
        place: PanelPlace::Surface { surface: "north".to_owned(), left: 2.0, bottom: 0.8, lying: false, gap: 0.05 },
    };
    let written = scene::with_panels(&text, std::slice::from_ref(&panel)).unwrap();
    assert_eq!(clean(&written).panels[1], panel);
    assert!(written.contains("# mine"));
}

#[test]
fn keeps_bad_panels_out() {
    let panel = Panel {
        kind: "wall panel".to_owned(),
        place: PanelPlace::Surface { surface: "north".to_owned(), left: 4.8, bottom: 0.8, lying: false, gap: 0.05 },
    };
    let refused = scene::with_panels(FORMAT, &[panel]).unwrap_err();
    assert!(refused.text.ends_with("gap = 0.05\n") && refused.to_string().contains("error[panel-off-surface]"));
    assert_eq!(refused.diagnostics.iter().map(|found| found.id).collect::<Vec<_>>(), ["panel-off-surface"]);
}

#[test]
fn exact_room_sizes() {
    let size = |text: &str| RoomSize::read(text).map(|size| ([size.length.0, size.width.0, size.height.0], size.unit));
    assert_eq!(size("3.6x2.9x2.4m"), Ok(([3.6, 2.9, 2.4], LengthUnit::Meter)));
    assert_eq!(size("12 x 10 x 8"), Err(RoomSizeError::Unit), "feet or meters?");
    assert_eq!(size("360x290x240cm"), Ok(([3.6, 2.9, 2.4], LengthUnit::Centimeter)));
    assert_eq!(size("3600 \u{d7} 2900 \u{d7} 2400 mm"), Ok(([3.6, 2.9, 2.4], LengthUnit::Millimeter)));
    assert_eq!(size("12ftx9ft6inx8ft"), Ok(([3.6576, 2.8956, 2.4384], LengthUnit::Foot)));
    assert_eq!(size("12x9x8ft"), Ok(([3.6576, 2.7432, 2.4384], LengthUnit::Foot)));
    assert_eq!(size("12'x9'6\"x8'"), Ok(([3.6576, 2.8956, 2.4384], LengthUnit::Foot)));
    assert_eq!(size("144x114x96in"), Ok(([3.6576, 2.8956, 2.4384], LengthUnit::Inch)));
    assert_eq!(size("12ftx9ftx8ft 2in"), Ok(([3.6576, 2.7432, 98.0 * 0.0254], LengthUnit::Foot)));
    assert_eq!(size("3.6x2.9"), Err(RoomSizeError::Count(2)));
    assert_eq!(size(""), Err(RoomSizeError::Count(1)));
    assert!(matches!(size("3.6x2,9x2.4m"), Err(RoomSizeError::Length(part, _)) if part == "2,9"));
    assert_eq!(size("36x2.9x2.4m"), Err(RoomSizeError::Range("36".to_owned())));
    assert_eq!(size("3.6x2.9x1.2m"), Err(RoomSizeError::Range("1.2m".to_owned())));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 200, ..ProptestConfig::default() })]

    /// The starter reads without a complaint for any room, and says what it was told.
    #[test]
    fn keeps_the_starter_clean(length in 150..3000_u32, width in 150..3000_u32, height in 160..1000_u32, name in "\\PC{0,90}") {
        let size = RoomSize::read(&format!("{length}x{width}x{height}cm")).unwrap();
        let scene = clean(&scene::starter(&name, &size));
        let corner = scene.outline[2];
        prop_assert_eq!([corner.x, corner.y, scene.ceiling[0].height], [size.length.0, size.width.0, size.height.0]);
        if !name.trim().is_empty() && name.chars().count() <= 80 {
            prop_assert_eq!(scene.name.as_str(), name.trim());
        }
        prop_assert_eq!(scene::read(&scene::print(&scene)).unwrap().0, scene);
        for activity in Activity::ALL {
            let scene = clean(&scene::starter_for(&name, &size, activity));
            prop_assert_eq!(scene.activity, activity);
            let (loudspeakers, others) = match activity {
                Activity::Mixing => (2, 0),
                Activity::Voice | Activity::Rehearsal | Activity::Lesson => (0, 1),
            };
            let is_loudspeaker = |source: &&scene::Source| source.kind == scene::SourceKind::Loudspeaker;
            prop_assert_eq!(scene.sources.iter().filter(is_loudspeaker).count(), loudspeakers);
            prop_assert_eq!(scene.sources.len(), loudspeakers + others);
            let at_microphone = usize::from(activity == Activity::Voice);
            prop_assert_eq!((scene.seats.len(), scene.microphones.len()), (1 - at_microphone, at_microphone));
        }
    }

    #[test]
    fn keeps_the_starter_clean_in_feet(length in 5..98_u32, width in 5..98_u32, height in 6..32_u32, inches in 0..12_u32, last in "in|ft") {
        let text = if last == "in" { format!("{}x{}x{}in", length * 12 + inches, width * 12 + 1, height * 12) } else { format!("{length}ft{inches}inx{width}ftx{height}ft") };
        let size = RoomSize::read(&text).unwrap();
        clean(&scene::starter("Garage", &size));
    }
}
