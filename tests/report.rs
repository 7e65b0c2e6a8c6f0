//! Pages, drawings and pictures: true scale, nothing overlaps, same bytes every time, whatever the names and the numbers.

mod attic;
pub(crate) mod marks;

use expect_test::expect_file;
use glam::DVec2;
use resvg::usvg;

use roomwright::findings::{Estimate, Findings};
use roomwright::plan::{Plan, PlanPictures, thumb};
use roomwright::report::paper::{Color, Colormap};
use roomwright::report::svg::{Lettering, number};
use roomwright::report::tape::Tape;
use roomwright::report::{self, axis, dimension, hung, paper, raster};
use roomwright::room::{Bodies, Room, build};
use roomwright::scene::{Panel, PanelPlace, Scene};
use roomwright::units::LengthUnit;

/// The attic with its invented plan.
pub(crate) fn attic(unit: LengthUnit) -> (Scene, Room, Plan, PlanPictures) {
    let scene = attic::scene(unit);
    let room = attic::room(&scene);
    let (plan, pictures) = attic::plan(&scene, &room);
    (scene, room, plan, pictures)
}

/// All files of `place` and of `hear`.
fn all_files(unit: LengthUnit) -> Vec<(String, Vec<u8>)> {
    let (scene, room, plan, pictures) = attic(unit);
    let mut files = report::files(&scene, &room, &plan, &pictures);
    files.extend(report::hear_files(&scene, &room, &plan.before));
    files
}

/// The drawings among them, as text.
fn drawings(files: &[(String, Vec<u8>)]) -> Vec<(String, String)> {
    files
        .iter()
        .filter(|file| file.0.ends_with(".svg"))
        .map(|(name, bytes)| (name.clone(), String::from_utf8(bytes.clone()).expect("well-formed by construction")))
        .collect()
}

/// Every text of a laid-out drawing with the box of its letters as drawn, in pixels.
fn texts(group: &usvg::Group, all: &mut Vec<(String, usvg::Rect)>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(group) => texts(group, all),
            usvg::Node::Text(text) => {
                let words = text.chunks().iter().map(usvg::TextChunk::text).collect();
                all.push((words, text.flattened().bounding_box().transform(text.abs_transform()).expect("well-formed by construction")));
            }
            usvg::Node::Path(_) | usvg::Node::Image(_) => {}
        }
    }
}

/// Pairs of texts whose letters share ground, and texts that leave the page.
pub(crate) fn collisions(name: &str, svg: &str) -> Vec<String> {
    let tree = raster::lay_out(svg).expect("well-formed by construction");
    let mut all = Vec::new();
    texts(tree.root(), &mut all);
    let mut found = Vec::new();
    for (index, (text, area)) in all.iter().enumerate() {
        let inside =
            area.left() >= 0.0 && area.top() >= 0.0 && area.right() <= tree.size().width() && area.bottom() <= tree.size().height();
        if !inside {
            found.push(format!("{name}: `{text}` leaves the page"));
        }
        for (other, beside) in &all[index + 1..] {
            let width = area.right().min(beside.right()) - area.left().max(beside.left());
            let height = area.bottom().min(beside.bottom()) - area.top().max(beside.top());
            if width > 0.2 && height > 0.2 {
                found.push(format!("{name}: `{text}` meets `{other}`"));
            }
        }
    }
    found
}

#[test]
fn keeps_texts_apart_and_on_the_page() {
    for unit in LengthUnit::ALL {
        let found: Vec<String> = drawings(&all_files(unit)).iter().flat_map(|(name, svg)| collisions(name, svg)).collect();
        assert!(found.is_empty(), "{unit:?}:\n{}", found.join("\n"));
    }
}

#[test]
fn keeps_maps_free_of_collisions() {
    for unit in [LengthUnit::Meter, LengthUnit::Inch] {
        let (scene, room, plan, pictures) = attic(unit);
        let hung = hung::panels(&scene, &room, &plan.placed, &pictures.panels);
        let sheet = report::heatmap::Sheet { scene: &scene, room: &room, hung: &hung, hot_spots: &plan.hot_spots };
        let marks = report::heatmap::scale(&pictures.earning);
        for map in &pictures.earning {
            let svg = report::heatmap::svg(sheet, report::heatmap::Heat::Earning, map, marks);
            let found = collisions(&room.surfaces[map.surface].name, &svg);
            assert!(found.is_empty(), "{}", found.join("\n"));
        }
    }
}

#[test]
fn keeps_crowded_sheets_legible() {
    let (mut scene, room, mut plan, mut pictures) = attic(LengthUnit::Millimeter);
    scene.name = "a long name for a room under the roof of a house at the end of the lane, second attempt at the treatment".to_owned();
    // Fourteen narrow panels in ragged rows: edges a few centimeters apart everywhere.
    let mut narrow = scene.stock[0].clone();
    narrow.name = "narrow".to_owned();
    narrow.size = DVec2::new(0.3, 0.6);
    scene.stock.push(narrow);
    let template = plan.placed[0].clone();
    for index in 0..14_u32 {
        let (column, row) = (f64::from(index % 7), f64::from(index / 7));
        let (left, bottom) = (0.5 + 0.36 * column + 0.03 * row, 0.2 + 0.9 * row + 0.013 * column);
        let mut placed = template.clone();
        placed.number = plan.placed.len() as u32 + 1;
        plan.placed.push(placed);
        let place = PanelPlace::Surface { surface: "knee wall".to_owned(), left, bottom: bottom.min(0.45), lying: false, gap: 0.0 };
        pictures.panels.push(Panel { kind: "narrow".to_owned(), place });
    }
    let files = report::files(&scene, &room, &plan, &pictures);
    let sheets: Vec<(String, String)> = drawings(&files).into_iter().filter(|(name, _)| name.starts_with("sheet")).collect();
    assert!(sheets.iter().any(|(name, _)| name == "sheet-knee-wall.svg"));
    let found: Vec<String> = sheets.iter().flat_map(|(name, svg)| collisions(name, svg)).collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// The repository's rooms with all their stock spread by the rules of thumb: every sheet legible, in both kinds of measure.
#[test]
fn keeps_sheets_of_real_rooms_legible() {
    let texts = [
        include_str!("../scenes/attic-voice-room.toml"),
        include_str!("../scenes/basement-mix-room.toml"),
        include_str!("../scenes/l-shaped-rehearsal-room.toml"),
    ];
    for text in texts {
        let (mut scene, _) = roomwright::scene::read(text).expect("the repository's scenes are without mistakes");
        for unit in [LengthUnit::Meter, LengthUnit::Foot] {
            scene.unit = unit;
            let room = build(&scene, Bodies::Standing);
            let free = roomwright::layout::Free::new(&scene, &room);
            let counts: Vec<u32> = scene.stock.iter().map(|kind| kind.count).collect();
            for spread in [thumb::even_spread(&scene, &room, &free, &counts), thumb::first_points(&scene, &room, &free, &counts, &[])] {
                assert!(!spread.is_empty());
                let panels: Vec<Panel> = scene.panels.iter().cloned().chain(spread.clone()).collect();
                let hung = hung::panels(&scene, &room, &[], &panels);
                let numbered: std::collections::BTreeSet<u32> = hung.iter().filter_map(|panel| panel.number).collect();
                assert_eq!(numbered.len(), spread.len(), "every panel hangs on some surface");
                for index in 0..room.surfaces.len() {
                    if hung.iter().any(|panel| panel.surface == index) {
                        let job = report::sheet::Job {
                            scene: &scene,
                            room: &room,
                            hung: &hung,
                            hot_spots: &[],
                            sheet: 1,
                            sheets: 1,
                            planned: spread.len(),
                            held_back: &[],
                            command: "roomwright place",
                        };
                        let svg = report::sheet::svg(job, index);
                        let found = collisions(&room.surfaces[index].name, &svg);
                        assert!(found.is_empty(), "{}, {unit:?}: {}", scene.name, found.join("\n"));
                    }
                }
            }
        }
    }
}

/// A tower with six walls and a steep ridge: its ceilings narrow toward the wall that they rise from.
const TOWER: &str = r#"
format = 1
name = "a tower with six walls at the end of the lane, second attempt at its treatment"
unit = "ft"
use = "mixing"
[room]
outline = [[4, 0], [12, 0], [16, 7], [12, 14], [4, 14], [0, 7]]
floor = "Wood floor (on joists)"
wall_material = "Plasterboard on frame, 100 mm air space"
[[room.wall]]
edge = 1
name = "south"
[[room.wall]]
edge = 4
name = "north"
[[room.ceiling]]
name = "south slope"
material = "Plasterboard on battens, 18 mm air space with glass wool"
heights = { south = 5, north = 19 }
[[room.ceiling]]
name = "north slope"
material = "Plasterboard on battens, 18 mm air space with glass wool"
heights = { south = 19, north = 5 }
[[loudspeaker]]
name = "left"
position = [12, 9, 4]
toward = "seat"
[[seat]]
name = "seat"
ear = [8, 7, 4]
direction = [1, 0, 0]
[[stock]]
name = "cloud"
kind = "cloud"
size = [2, 4]
thickness = "2 in"
flow_resistivity = 12000
[[panel]]
type = "cloud"
center = [8, 4]
underside = "5 ft"
turned = true
"#;

/// The sheet of a surface of a scene with what hangs in it.
fn sheet_of(scene: &Scene, surface: &str) -> String {
    let room = build(scene, Bodies::Standing);
    let hung = hung::panels(scene, &room, &[], &scene.panels);
    let (index, _) = room.named(surface).next().expect("a surface of the scene");
    let job = report::sheet::Job {
        scene,
        room: &room,
        hung: &hung,
        hot_spots: &[],
        sheet: 1,
        sheets: 1,
        planned: 1,
        held_back: &[],
        command: "roomwright place",
    };
    report::sheet::svg(job, index)
}

#[test]
fn keeps_the_edges_to_measure_from() {
    let (tower, _) = roomwright::scene::read(TOWER).expect("a scene without mistakes");
    let sheet = sheet_of(&tower, "south slope");
    // The slope narrows downward: nothing runs up at its left, so that measures begin at its leftmost corner, the first of its outline.
    assert!(sheet.contains("from corner A and from the lower edge (south wall)."), "whole, though the name of the room is long:\n{sheet}");
    assert!(sheet.contains("a cloud hangs level, marked plumb above it"), "{sheet}");
    let wall = sheet_of(&tower, "south");
    assert!(wall.contains("from the left edge and from the floor."), "{wall}");
    // A slope of 5200 x 2302 mm (1.9 m level, 1.3 m up), whichever corner its outline begins at: across, then up.
    let (scene, ..) = attic(LengthUnit::Meter);
    let slope = sheet_of(&scene, "slope");
    assert!(slope.contains("5200 x 2302; diagonals"), "{slope}");
    assert!(slope.contains("from the left edge (south wall) and from the lower edge (knee wall)."), "{slope}");
}

#[test]
fn keeps_wall_names_off_dark_walls() {
    let text = include_str!("../scenes/l-shaped-rehearsal-room.toml");
    let (scene, _) = roomwright::scene::read(text).expect("the repository's scenes are without mistakes");
    let room = build(&scene, Bodies::Standing);
    let dark = |index: usize| roomwright::plan::SurfaceMap {
        surface: index,
        patch_m: 1.0,
        origin: DVec2::ZERO,
        columns: 6,
        rows: 3,
        values: vec![1e-3; 18],
        errors: vec![0.0; 18],
    };
    let maps: Vec<_> = (0..6).map(dark).collect();
    let view =
        report::axonometry::View { scene: &scene, room: &room, hung: &[], hot_spots: &[], maps: &maps, heat: report::heatmap::Heat::Early };
    let svg = report::axonometry::svg(view);
    for wall in &scene.walls {
        let line = svg.lines().find(|line| line.ends_with(&format!(">{}</text>", wall.name)));
        let line = line.unwrap_or_else(|| panic!("{} is named", wall.name));
        assert!(line.contains(&format!("stroke=\"{}\"", paper::CARD)), "a light rim, wherever it stands: {line}");
    }
}

#[test]
fn exact_scale_on_paper() {
    let (scene, room, plan, pictures) = attic(LengthUnit::Meter);
    let files = report::files(&scene, &room, &plan, &pictures);
    let sheet = drawings(&files).into_iter().find(|(name, _)| name == "sheet-east.svg").unwrap().1;
    assert!(sheet.contains("width=\"297mm\" height=\"210mm\" viewBox=\"0 0 297 210\""), "one unit of the drawing is a millimeter of paper");
    assert!(sheet.contains("1:25 on A4"));
    // The wall is 5200 x 2400 mm: 208 x 96 mm of paper at 1:25.
    let corners = polygon_with_size(&sheet, 208.0, 96.0);
    assert!(corners, "the outline of the wall is not 208 x 96 mm");
    // A panel of 600 x 1200 mm: 24 x 48 mm of paper.
    assert!(polygon_with_size(&sheet, 24.0, 48.0), "a panel is not 24 x 48 mm");
}

/// Whether the drawing has a polygon with a box of this size, mm.
fn polygon_with_size(svg: &str, width: f64, height: f64) -> bool {
    svg.lines().filter_map(|line| line.strip_prefix("<polygon points=\"")).any(|rest| {
        let points: Vec<DVec2> = rest
            .split('"')
            .next()
            .expect("points of a polygon")
            .split(' ')
            .map(|pair| {
                let (x, y) = pair.split_once(',').expect("points of a polygon");
                DVec2::new(x.parse().expect("points of a polygon"), y.parse().expect("points of a polygon"))
            })
            .collect();
        let low = points.iter().copied().reduce(DVec2::min).expect("points of a polygon");
        let high = points.iter().copied().reduce(DVec2::max).expect("points of a polygon");
        ((high - low) - DVec2::new(width, height)).abs().max_element() < 0.002
    })
}

#[test]
fn exact_strip_of_a_panel_across_a_right_corner() {
    let (scene, room, plan, pictures) = attic(LengthUnit::Meter);
    let hung = hung::panels(&scene, &room, &plan.placed, &pictures.panels);
    let strips: Vec<&hung::Hung> = hung.iter().filter(|panel| panel.number == Some(6)).collect();
    let names: Vec<&str> = strips.iter().map(|strip| room.surfaces[strip.surface].name.as_str()).collect();
    assert_eq!(names, ["east", "north"], "it touches both walls of corner 2");
    let leg = 0.6 / 2.0_f64.sqrt();
    // Corner 2 is the left end of the east wall and the right end of the north wall, seen from inside.
    assert!((strips[0].low().x).abs() < 1e-12 && (strips[0].high().x - leg).abs() < 1e-12);
    assert!((strips[1].high().x - 4.4).abs() < 1e-12 && (strips[1].low().x - (4.4 - leg)).abs() < 1e-12);
    for corner in &strips[0].front {
        let on_walls = [strips[0].surface, strips[1].surface].map(|wall| room.surfaces[wall].chart.height(*corner).abs());
        assert!(on_walls[0].min(on_walls[1]) < 1e-12, "every corner of its front lies on one of the walls");
    }
}

#[test]
fn exact_shadow_of_a_cloud_on_its_ceiling() {
    let (scene, room, plan, pictures) = attic(LengthUnit::Meter);
    let hung = hung::panels(&scene, &room, &plan.placed, &pictures.panels);
    let cloud = hung.iter().find(|panel| panel.number == Some(5)).unwrap();
    let chart = room.surfaces[cloud.surface].chart;
    assert_eq!(room.surfaces[cloud.surface].name, "ceiling");
    assert_eq!(cloud.size, DVec2::new(1.2, 1.8), "its own size as it lies on the sheet");
    for corner in &cloud.outline {
        let point = chart.point(*corner);
        assert!((point.z - 2.4).abs() < 1e-12);
        assert!(((point.x - 2.9).abs() - 0.6).abs() < 1e-12 && ((point.y - 3.9).abs() - 0.9).abs() < 1e-12, "{point}");
    }
}

#[test]
fn exact_early_level_as_built() {
    let (scene, room, mut plan, _) = attic(LengthUnit::Meter);
    let mut levels = [-3.0, -9.0].into_iter();
    for pair in &mut plan.after.pairs {
        let is_seat = room.receivers.iter().any(|receiver| receiver.name == pair.receiver && receiver.zone_radius.is_some());
        // What is heard at a microphone must not count here: the attic has loudspeakers only, so the seat judges.
        pair.early_level_db = Estimate { value: if is_seat { levels.next().unwrap() } else { 20.0 }, se: 0.1 };
    }
    assert!(levels.next().is_none(), "two loudspeakers at one seat");
    let energies = [-3.0, -9.0].map(|level: f64| 10.0_f64.powf(level / 10.0));
    let mean = 0.5 * (energies[0] + energies[1]);
    let level = report::as_built::early_level(&scene, &room, &plan.after).unwrap();
    assert!((level.value - 10.0 * mean.log10()).abs() < 1e-9, "{level:?}");
    // 0.1 dB on each energy, added as squares, halved, as dB of the mean.
    let se = 0.1 * 0.5 * energies[0].hypot(energies[1]) / mean;
    assert!((level.se - se).abs() < 1e-3, "{level:?}");
    plan.after.pairs.clear();
    assert!(report::as_built::early_level(&scene, &room, &plan.after).is_none());
}

#[test]
fn keeps_pictures_whole() {
    let files = all_files(LengthUnit::Meter);
    let pictures: Vec<_> = files.iter().filter(|file| file.0.ends_with(".png")).collect();
    assert_eq!(pictures.len(), 1 + 4 * 7, "the room, and four maps of each of seven surfaces");
    for (name, bytes) in pictures {
        assert_eq!(&bytes[..8], b"\x89PNG\r\n\x1a\n", "{name}");
        let width = u32::from_be_bytes(bytes[16..20].try_into().unwrap());
        assert_eq!(width, 1200, "{name}");
    }
    let mut names: Vec<&str> = files.iter().map(|file| file.0.as_str()).collect();
    let count = names.len();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), count, "two files of one name");
    // Every file that a page speaks of is there.
    for (page, bytes) in files.iter().filter(|file| file.0.ends_with(".html")) {
        let text = std::str::from_utf8(bytes).unwrap();
        for link in text.split("href=\"").skip(1).map(|rest| rest.split('"').next().unwrap()) {
            assert!(names.binary_search(&link).is_ok(), "{page} links to {link}");
        }
    }
}

#[test]
fn keeps_same_bytes_on_one_two_and_seven_threads() {
    let with = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(|| all_files(LengthUnit::Foot));
    let one = with(1);
    assert!(one == with(2), "two threads");
    assert!(one == with(7), "seven threads");
}

#[test]
fn keeps_names_harmless() {
    let (mut scene, room, mut plan, pictures) = attic(LengthUnit::Meter);
    let bad = "<script>alert(\"x\")</script> & \u{1}\u{8}\u{b} \u{1f3b8} ]]>".to_owned();
    scene.name.clone_from(&bad);
    scene.question = Some(bad.clone());
    for spot in &mut plan.hot_spots {
        spot.source.clone_from(&bad);
    }
    for findings in [&mut plan.before, &mut plan.after] {
        poison_names(findings, &bad);
    }
    for placed in &mut plan.placed {
        placed.serves.clone_from(&bad);
        placed.kind.clone_from(&bad);
    }
    plan.notes.push(bad.clone());
    plan.stopped_because = bad;
    let files = report::files(&scene, &room, &plan, &pictures);
    for (name, bytes) in files.iter().chain(&report::hear_files(&scene, &room, &plan.before)) {
        assert!(name.chars().all(|letter| letter.is_ascii_alphanumeric() || "-.".contains(letter)), "{name}");
        if let Ok(text) = std::str::from_utf8(bytes) {
            assert!(!text.contains("<script"), "{name}");
            assert!(!text.chars().any(|letter| letter.is_control() && letter != '\n'), "{name}");
            if name.ends_with(".svg") {
                raster::lay_out(text).unwrap_or_else(|error| panic!("{name}: {error}"));
            }
        }
    }
}

/// Bad names wherever findings name something.
fn poison_names(findings: &mut Findings, bad: &str) {
    bad.clone_into(&mut findings.targets[0].question);
    bad.clone_into(&mut findings.pairs[0].source);
    bad.clone_into(&mut findings.pairs[1].receiver);
    bad.clone_into(&mut findings.flutter[0].between[0]);
    findings.pairs[0].reflections[0].surfaces = vec![bad.to_owned(); 4];
}

#[test]
fn keeps_going_without_numbers() {
    let (scene, room, mut plan, mut pictures) = attic(LengthUnit::Meter);
    for findings in [&mut plan.before, &mut plan.after] {
        for pair in &mut findings.pairs {
            pair.early_level_db.value = f64::NAN;
            pair.energy_time.level_db.iter_mut().step_by(3).for_each(|level| *level = f64::NAN);
            pair.energy_time.level_db.iter_mut().step_by(7).for_each(|level| *level = f64::NEG_INFINITY);
            pair.reflections[0].level_db = f64::NAN;
            for octave in &mut pair.octaves {
                (octave.t30_s, octave.t20_s) = (None, None);
            }
        }
    }
    plan.hot_spots[0].level_db = f64::INFINITY;
    plan.placed[0].earns_early_db.value = f64::NAN;
    pictures.earning[0].values.fill(f64::NAN);
    pictures.late[1].values.fill(-1.0);
    for (name, bytes) in report::files(&scene, &room, &plan, &pictures) {
        if let Ok(text) = String::from_utf8(bytes) {
            assert!(!text.contains("NaN") && !text.contains("inf\"") && !text.contains(">inf"), "{name} shows what is no number");
        }
    }
}

#[test]
fn keeps_going_with_nothing_to_show() {
    let (mut scene, _, mut plan, mut pictures) = attic(LengthUnit::Meter);
    scene.panels.clear();
    scene.openings.clear();
    scene.blocks.clear();
    scene.sources.clear();
    scene.seats.clear();
    scene.microphones.clear();
    let room = attic::room(&scene);
    plan.placed.clear();
    plan.hot_spots.clear();
    plan.layouts.clear();
    for findings in [&mut plan.before, &mut plan.after] {
        findings.pairs.clear();
        findings.targets.clear();
        findings.flutter.clear();
        findings.likeness.clear();
    }
    pictures = PlanPictures {
        earning: Vec::new(),
        early: Vec::new(),
        clarity: Vec::new(),
        late: Vec::new(),
        panels: {
            pictures.panels.clear();
            pictures.panels
        },
        layouts: Vec::new(),
    };
    let files = report::files(&scene, &room, &plan, &pictures);
    assert!(files.iter().any(|file| file.0 == "index.html") && !files.iter().any(|file| file.0.starts_with("sheet")));
    assert!(!report::hear_files(&scene, &room, &plan.before).is_empty());
}

/// Drawings and pages as they are, so that a change of any line of them is seen. Figures are invented.
#[test]
fn locked_drawings() {
    let files = all_files(LengthUnit::Meter);
    let find = |name: &str| String::from_utf8(files.iter().find(|file| file.0 == name).unwrap().1.clone()).unwrap();
    expect_file!["snapshots/sheet-east.svg"].assert_eq(&find("sheet-east.svg"));
    expect_file!["snapshots/layouts.svg"].assert_eq(&find("layouts.svg"));
    expect_file!["snapshots/decay.svg"].assert_eq(&find("decay.svg"));
    expect_file!["snapshots/top-view.svg"].assert_eq(&find("top-view.svg"));
    expect_file!["snapshots/index.html"].assert_eq(&find("index.html"));
}
