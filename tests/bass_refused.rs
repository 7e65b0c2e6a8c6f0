//! What waves refuse and what they see too roughly: rooms with a hole, whatever its place and size; things smaller than a cell, and what smaller cells would cost.

use glam::DVec3;
use roomwright::findings::bass::too_small;
use roomwright::progress::Progress;
use roomwright::room::{self, Bodies, Room};
use roomwright::scene::{Block, Scene};
use roomwright::study::{self, BassAsked, BassError, MEMORY};
use roomwright::wave::leak::closed;
use roomwright::wave::{Cells, Grid, Leak};

use super::bass::MIXING;
use super::edit::read;
use super::room::{block, l_shape};
use super::scenes::shipped_with_lessons;
use super::wave::attic;

fn built(scene: &Scene) -> Room {
    room::build(scene, Bodies::All)
}

/// The room without one of its surfaces.
fn without(room: &Room, surface: usize) -> Room {
    let mut room = room.clone();
    room.surfaces.remove(surface);
    room.contacts.retain(|contact| contact.surface != surface);
    room.contacts.iter_mut().filter(|contact| contact.surface > surface).for_each(|contact| contact.surface -= 1);
    room
}

#[test]
fn keeps_rooms_of_scenes_closed() {
    let mut scenes: Vec<Scene> = shipped_with_lessons().iter().map(|(_, text)| read(text)).collect();
    let mut desk = l_shape();
    desk.blocks = vec![block("desk", (0.0, 1.2, 0.0), (0.7, 0.9, 0.72), 0.0), block("stool", (3.1, 0.4, 0.0), (0.5, 0.5, 0.6), 0.4)];
    scenes.extend([attic(), l_shape(), desk, read(MIXING)]);
    assert!(scenes.len() >= 16);
    for scene in &scenes {
        assert_eq!(closed(&built(scene)), Ok(()), "{}", scene.name);
    }
}

/// Whichever surface is taken out: what is missing is told by its area, and by where it was.
#[test]
fn keeps_a_missing_surface_an_error() {
    let mut desk = attic();
    desk.blocks = vec![block("desk", (1.3, 1.2, 0.4), (1.1, 0.9, 0.3), 0.0)];
    for scene in [attic(), l_shape(), desk] {
        let whole = built(&scene);
        for (index, surface) in whole.surfaces.iter().enumerate() {
            let room = without(&whole, index);
            let corners: Vec<DVec3> = surface.outline.triangles().iter().flatten().map(|corner| surface.chart.point(*corner)).collect();
            let (low, high) = corners.iter().fold((DVec3::MAX, DVec3::MIN), |(low, high), at| (low.min(*at), high.max(*at)));
            let Err(Leak::Hole { area, middle, extent }) = closed(&room) else { panic!("{} is missed by nobody", surface.name) };
            assert!((area / surface.outline.area() - 1.0).abs() < 1e-6, "{area} m2 for {} m2 of {}", surface.outline.area(), surface.name);
            let margin = DVec3::splat(0.11);
            assert!(middle.cmpge(low - margin).all() && middle.cmple(high + margin).all(), "{}: {middle}", surface.name);
            assert!((extent - (high - low)).abs().cmple(2.0 * margin).all(), "{}: {extent} for {}", surface.name, high - low);
        }
    }
}

/// What an error stands for: without a wall cells hold another room.
#[test]
fn keeps_cells_of_an_open_room_from_being_run() {
    let whole = built(&read(MIXING));
    let volume = |room: &Room| Cells::new(room, Grid::over(&whole, 0.1)).volume();
    assert!((volume(&whole) / whole.volume - 1.0).abs() < 1e-9);
    let west = whole.surfaces.iter().position(|surface| surface.chart.normal.x > 0.99).expect("a box has one");
    let open = without(&whole, west);
    assert!((volume(&open) / whole.volume - 1.0).abs() > 0.5, "{} m3", volume(&open));
    let why = BassError::from(closed(&open).expect_err("it is open")).to_string();
    for said in ["do not close", "10.140 m2", "(0.00, 1.95, 1.30) m", "nothing is run", "draw the surface"] {
        assert!(why.contains(said), "{said}: {why}");
    }
}

#[test]
fn keeps_a_slit_and_holes_that_face_each_other_errors() {
    let whole = built(&read(MIXING));
    // Two millimeters of a wall, top to bottom.
    let mut slit = whole.clone();
    let outline = &mut slit.surfaces[0].outline;
    let width = outline.corners.iter().map(|corner| corner.x).fold(0.0, f64::max);
    outline.corners.iter_mut().filter(|corner| corner.x == width).for_each(|corner| corner.x -= 0.002);
    let Err(Leak::Hole { area, .. }) = closed(&slit) else { panic!("a slit is a hole") };
    assert!((area - 0.002 * 2.6).abs() < 1e-8, "{area} m2");
    let upright = |room: &Room| room.surfaces.iter().position(|surface| surface.chart.normal.z.abs() > 0.99);
    let once = without(&whole, upright(&whole).expect("a floor"));
    let twice = without(&once, upright(&once).expect("a ceiling"));
    let Err(Leak::Facing { axis, found, volume }) = closed(&twice) else { panic!("{:?}", closed(&twice)) };
    assert!(axis == 'z' && found.abs() < 1e-9 && (volume - 5.1 * 3.9 * 2.6).abs() < 1e-9);
}

fn asked(top_hz: f64) -> BassAsked {
    BassAsked { top_hz, memory: MEMORY, others: 0, beside_bare: false }
}

fn furnished(blocks: &[Block]) -> Scene {
    let mut scene = read(MIXING);
    for block in blocks {
        scene.blocks.push(Block { material: "even".to_owned(), ..block.clone() });
    }
    scene
}

#[test]
fn keeps_names_and_costs_of_things_smaller_than_a_cell() {
    let shelf = block("shelf", (2.0, 1.0, 0.7), (0.9, 0.4, 0.04), 0.0);
    let scene = furnished(&[shelf.clone(), block("cupboard", (2.0, 2.0, 0.0), (0.6, 0.6, 0.9), 0.3)]);
    let speed = study::room(&scene).medium.speed;
    let told = too_small(&scene, &asked(250.0)).expect("a board of 40 mm in cells of 65 mm");
    let top = (speed / (21.0 * 0.04)).ceil();
    let effort = study::bass_effort(&scene, &BassAsked { memory: u64::MAX, ..asked(top) }).expect("it can be");
    let cost = format!("{:.2} GB of memory", effort.memory_mb / 1e3);
    assert!(effort.cell_m <= 0.04, "{} m", effort.cell_m);
    for said in ["Cells of 65 mm", "shelf (40 mm)", &format!("--top {top:.0}: {cost}"), "min on one thread"] {
        assert!(told.contains(said), "{said}: {told}");
    }
    assert!(!told.contains("cupboard") && !told.contains("--memory"), "{told}");
    let poor = too_small(&scene, &BassAsked { memory: 400_000_000, ..asked(250.0) }).expect("the same");
    assert!(poor.contains("which --memory must allow"), "{poor}");
    // In cells as small nothing is said; of what stands flush neither.
    assert_eq!(too_small(&scene, &asked(top)), None);
    let flush = [block("platform", (2.0, 1.0, 0.0), (0.9, 0.8, 0.03), 0.0), block("board", (0.0, 1.0, 0.5), (0.02, 0.8, 0.9), 0.0)];
    assert_eq!(too_small(&furnished(&flush), &asked(250.0)), None);
    // On edge and turned it is as thin; cells of 14 mm are not to be had.
    let fin = furnished(&[block("fin", (2.0, 1.0, 0.5), (0.014, 0.8, 0.9), 0.5)]);
    let told = too_small(&fin, &asked(250.0)).expect("14 mm");
    assert!(told.contains("fin (14 mm)") && told.contains("500 is the most") && told.contains("GB of memory"), "{told}");
}

#[test]
fn keeps_that_warning_in_studies_and_findings() {
    let scene = furnished(&[block("shelf", (2.0, 1.0, 0.7), (0.9, 0.4, 0.1), 0.0)]);
    let wanted = too_small(&scene, &asked(80.0)).expect("a board of 100 mm in cells of 150 mm");
    let study = study::bass(&Progress::new(), &scene, &asked(80.0)).expect("it can be");
    assert!(study.notes.contains(&wanted), "{:?}", study.notes);
    let findings = study::hear_with(&Progress::new(), &scene, Some(&asked(80.0))).expect("nobody cancels").0;
    assert!(findings.notes.contains(&wanted), "{:?}", findings.notes);
    let by_rays = study::hear(&Progress::new(), &scene).expect("nobody cancels").0;
    assert!(by_rays.notes.iter().all(|note| !note.contains("shelf")), "{:?}", by_rays.notes);
}
