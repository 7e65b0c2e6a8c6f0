//! Clouds that are tilted or made of several panels: corners, the body, what is counted, edits, refusals, sheets.
//!
//! Heights of the edges are checked by the sine, widths seen from above by the cosine; reflections by the mirror image in the plane.

use glam::{DVec2, DVec3};
use roomwright::layout::{Free, Refusal, place};
use roomwright::report::{hung, sheet};
use roomwright::room::{Bodies, Role, build};
use roomwright::scene::{self, Cloud, EditError, Editor, Panel, PanelPlace, Scene};
use roomwright::study;

use super::edit::{edited, read};

/// A box of 5 x 4 x 2.8 m with a cloud of 1.2 x 0.6 m panels, two along x, that rises by 10 degrees along x.
const TEXT: &str = r#"
format = 1
name = "Box"
use = "mixing"
[room]
size = [5, 4, 2.8]
floor = "Concrete floor"
wall_material = "Plaster on solid wall"
ceiling_material = "Plaster on solid wall"
[[loudspeaker]]
name = "left"
position = [1, 2, 1.2]
directivity = "omni"
[[seat]]
name = "seat"
ear = [4, 2, 1.2]
toward = "left"
[settings]
rays = 2000
image_order = 1
[[stock]]
name = "cloud"
kind = "cloud"
size = [0.6, 1.2]
thickness = "50 mm"
flow_resistivity = 12000
count = 3     # in the shed
mass = 4
[[panel]]
type = "cloud"
center = [2.5, 2]
underside = 2.2
tilt = [10, 0]   # up toward the window
# two, end to end
panels = [2, 1]
"#;

fn cloud(scene: &Scene) -> Cloud {
    let PanelPlace::Cloud(cloud) = scene.panels[0].place else { panic!() };
    cloud
}

fn with(text: &str, change: impl FnOnce(&mut Cloud)) -> PanelPlace {
    let mut cloud = cloud(&read(text));
    change(&mut cloud);
    PanelPlace::Cloud(cloud)
}

#[test]
fn exact_corners_of_a_tilted_cloud() {
    let scene = read(TEXT);
    let (cloud, kind) = (cloud(&scene), &scene.stock[0]);
    assert_eq!((cloud.size(kind), cloud.count()), (DVec2::new(2.4, 0.6), 2));
    let (sine, cosine) = 10.0_f64.to_radians().sin_cos();
    let corners = cloud.underside_corners(kind);
    for (corner, (x, y)) in corners.iter().zip([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]) {
        let expected = DVec3::new(2.5 + x * 1.2 * cosine, 2.0 + y * 0.3, 2.2 + x * 1.2 * sine);
        assert!(corner.distance(expected) < 1e-12, "{corner} for {expected}");
    }
    let (low, high) = cloud.solid(kind).bounds();
    assert!(low.distance(DVec3::new(2.5 - 1.2 * cosine - 0.05 * sine, 1.7, 2.2 - 1.2 * sine)) < 1e-12, "{low}");
    assert!(high.distance(DVec3::new(2.5 + 1.2 * cosine, 2.3, 2.2 + 1.2 * sine + 0.05 * cosine)) < 1e-12, "{high}");
    let lean = cloud.lean(kind).expect("it leans");
    assert_eq!(lean.axis, 0);
    assert!((lean.edges[0] - (2.2 - 1.2 * sine)).abs() < 1e-12 && (lean.edges[1] - (2.2 + 1.2 * sine)).abs() < 1e-12);
    // Turned the other way round it leans the other way; level it does not lean.
    let other = Cloud { tilt: DVec2::new(0.0, -10.0), turned: true, panels: [1, 2], ..cloud };
    let lean = other.lean(kind).expect("it leans");
    assert!(lean.axis == 1 && (lean.edges[0] - (2.2 + 1.2 * sine)).abs() < 1e-12 && lean.edges[1] < 2.2);
    assert_eq!(Cloud { tilt: DVec2::ZERO, ..cloud }.lean(kind), None);
}

/// The body in the room: one, with the area of two panels below and above, its faces square to one another, its volume out of the air.
#[test]
fn exact_body_of_several_panels() {
    let scene = read(TEXT);
    let room = build(&scene, Bodies::Standing);
    let faces: Vec<_> = room.surfaces.iter().filter(|surface| surface.role == Role::Panel(0)).collect();
    assert_eq!(faces.len(), 6);
    let area: f64 = faces.iter().map(|face| face.outline.area()).sum();
    assert!((area - 2.0 * (2.4 * 0.6 + 2.4 * 0.05 + 0.6 * 0.05)).abs() < 1e-12, "{area}");
    let (sine, cosine) = 10.0_f64.to_radians().sin_cos();
    let under = faces.iter().find(|face| face.name == "cloud 1, underside").expect("its underside");
    assert!(under.chart.normal.distance(DVec3::new(sine, 0.0, -cosine)) < 1e-12);
    assert!(under.chart.height(DVec3::new(2.5, 2.0, 2.2)).abs() < 1e-12, "the middle of its underside stays");
    assert!((room.volume - (5.0 * 4.0 * 2.8 - 2.4 * 0.6 * 0.05)).abs() < 1e-9);
    assert!(!room.contains(DVec3::new(3.6, 2.0, 2.42)) && room.contains(DVec3::new(3.6, 2.0, 2.2)), "its high end");
    assert!(!room.contains(DVec3::new(1.4, 2.0, 2.02)) && room.contains(DVec3::new(1.4, 2.0, 2.2)), "its low end");
}

/// The first bounce from its underside comes by the mirror image of the loudspeaker in the tilted plane.
#[test]
fn exact_reflection_by_the_tilted_underside() {
    // Of concrete, so that its bounce is loud enough for the table.
    let scene = read(&TEXT.replace("flow_resistivity = 12000", "material = \"Concrete floor\""));
    let (findings, _) = study::hear(&roomwright::progress::Progress::new(), &scene).expect("nobody cancels");
    let found = findings.pairs[0].reflections.iter().find(|reflection| reflection.surfaces == ["cloud 1, underside"]);
    let found = found.unwrap_or_else(|| panic!("it mirrors: {:?}", findings.pairs[0].reflections));
    let (source, ear) = (DVec3::new(1.0, 2.0, 1.2), DVec3::new(4.0, 2.0, 1.2));
    let (sine, cosine) = 10.0_f64.to_radians().sin_cos();
    let (through, normal) = (DVec3::new(2.5, 2.0, 2.2), DVec3::new(-sine, 0.0, cosine));
    let image = source - 2.0 * (source - through).dot(normal) * normal;
    let point = DVec3::from(found.points_m[0]);
    let (away, along) = ((point - through).dot(normal), (point - ear).cross(image - ear).length());
    assert!(away.abs() < 0.05 && along < 0.2, "on the plane, on the way to the image: {point}");
    // The table is of the worst head position of the zone, at most 0.3 m from the ear: the delay moves by no more than both ways do.
    let delay = (image.distance(ear) - source.distance(ear)) / 343.2 * 1000.0;
    assert!((found.delay_ms - delay).abs() < 2.0 * 0.3 / 0.3432, "{} ms for {delay}", found.delay_ms);
    // A level cloud there sends its bounce elsewhere.
    let level = -((ear - through).dot(DVec3::Z) * 2.0);
    assert!(((DVec3::new(1.0, 2.0, 1.2 + level)).distance(ear) - image.distance(ear)).abs() > 0.01);
}

#[test]
fn exact_area_and_stock_of_several_panels() {
    let scene = read(TEXT);
    assert!((study::survey(&scene).treated_area_m2 - 2.0 * 0.72).abs() < 1e-12);
    let count = |text: &str| read(text).stock[0].count;
    // Two more are hung with it, and go back into the stock with it.
    let place = with(TEXT, |cloud| (cloud.center, cloud.panels) = (DVec2::new(4.35, 2.0), [1, 3]));
    let more = edited(TEXT, |editor| {
        editor.add_panel(&Panel { kind: "cloud".into(), place: place.clone() });
        Ok(())
    });
    assert_eq!((count(TEXT), count(&more)), (3, 0));
    assert_eq!(count(&edited(&more, |editor| editor.remove_panel(1))), 3);
    // A cloud that grows takes its panels from the stock, and one that shrinks gives them back.
    let grown = edited(TEXT, |editor| editor.move_panel(0, &with(TEXT, |cloud| cloud.panels = [2, 2])));
    assert_eq!((count(&grown), cloud(&read(&grown)).count()), (1, 4));
    assert_eq!(count(&edited(&grown, |editor| editor.move_panel(0, &with(TEXT, |cloud| cloud.panels = [1, 1])))), 4);
    assert_eq!(edited(&grown, |editor| editor.move_panel(0, &with(TEXT, |_| ()))), TEXT, "back again it is the same text");
    let refused = Editor::new(&grown).expect("a scene").move_panel(0, &with(TEXT, |cloud| cloud.panels = [2, 3]));
    assert_eq!(refused, Err(EditError::OutOfStock { kind: "cloud".into(), needed: 2, left: 1 }));
    assert_eq!(refused.unwrap_err().to_string(), "It takes 2 more \"cloud\"; 1 is left in stock");
}

#[test]
fn keeps_what_is_written_beside_tilt_and_panels() {
    let level = edited(TEXT, |editor| editor.move_panel(0, &with(TEXT, |cloud| (cloud.tilt, cloud.panels) = (DVec2::ZERO, [1, 1]))));
    assert!(level.contains("tilt = [0, 0]   # up toward the window\n# two, end to end\npanels = [1, 1]\n"), "{level}");
    let steeper = edited(TEXT, |editor| editor.move_panel(0, &with(TEXT, |cloud| cloud.tilt = DVec2::new(0.0, 12.5))));
    assert_eq!(steeper, TEXT.replace("tilt = [10, 0]", "tilt = [0, 12.5]"));
    // What is usual is not written where nothing was.
    let bare = TEXT.replace("tilt = [10, 0]   # up toward the window\n", "").replace("panels = [2, 1]\n", "");
    assert_eq!(edited(&bare, |editor| editor.move_panel(0, &with(&bare, |_| ()))), bare);
    let printed = scene::print(&read(TEXT));
    assert!(printed.contains("tilt = [10, 0]\npanels = [2, 1]\n") && read(&printed) == read(TEXT), "{printed}");
    assert!(!scene::print(&read(&bare)).contains("tilt"));
}

#[test]
fn exact_headroom_and_place_of_a_tilted_cloud() {
    let mut scene = read(TEXT);
    let own = cloud(&scene);
    scene.panels.clear();
    let free = Free::new(&scene, &build(&scene, Bodies::Standing));
    let fits = |cloud: Cloud| {
        let panel = Panel { kind: "cloud".into(), place: PanelPlace::Cloud(cloud) };
        free.fits_panel(&panel, &scene.stock[0]).map(|_| ())
    };
    // Its lowest edge decides: 2.2 - 1.2 sin 10 = 1.992 m.
    assert_eq!(fits(own), Err(Refusal::Headroom));
    let sine = 10.0_f64.to_radians().sin();
    assert_eq!(fits(Cloud { underside: 2.0 + 1.2 * sine, ..own }), Ok(()));
    assert_eq!(fits(Cloud { tilt: DVec2::ZERO, ..own }), Ok(()));
    // Up into the ceiling at 2.8 m.
    assert_eq!(fits(Cloud { underside: 2.6, ..own }), Err(Refusal::Shell("ceiling".into())));
    // Measured plumb above its underside, from the ceiling's left edge in the east; its own size.
    let panel = Panel { kind: "cloud".into(), place: PanelPlace::Cloud(own) };
    let (at, size) = place(&free, &panel, &scene.stock[0]).expect("a ceiling");
    let half = 1.2 * 10.0_f64.to_radians().cos();
    assert!((at.left_m - (2.5 - half)).abs() < 1e-9 && (at.bottom_m - 1.7).abs() < 1e-9, "{at:?}");
    assert!(size.distance(DVec2::new(2.4, 0.6)) < 1e-12);
}

#[test]
fn keeps_the_heights_of_both_edges_on_the_sheet() {
    let scene = read(TEXT);
    let room = build(&scene, Bodies::Standing);
    let hung = hung::panels(&scene, &room, &[], &scene.panels);
    let [low, high] = hung[0].edges().expect("it leans");
    let (sine, cosine) = 10.0_f64.to_radians().sin_cos();
    assert!(low.0.distance(DVec3::new(2.5 - 1.2 * cosine, 2.0, 2.2 - 1.2 * sine)) < 1e-12 && (high.1 - (2.2 + 1.2 * sine)).abs() < 1e-12);
    let (index, _) = room.named("ceiling").next().expect("a ceiling");
    let job = sheet::Job {
        scene: &scene,
        room: &room,
        hung: &hung,
        hot_spots: &[],
        sheet: 1,
        sheets: 1,
        planned: 0,
        held_back: &[],
        command: "roomwright place",
    };
    let drawn = sheet::svg(job, index);
    // 2.2 -+ 1.2 sin 10 = 1.992 and 2.408 m.
    for words in ["edge 1992", "edge 2408", "tilted cloud, 2 panels", "shorter than it is"] {
        assert!(drawn.contains(words), "{words}:\n{drawn}");
    }
}
