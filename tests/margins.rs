//! What flat panels draw in round them, on the walls of a room: the total that rays meet, corners, other panels, doors; what images and quick differences make of it.

use glam::{DVec2, DVec3};
use roomwright::absorbers::sized::capture::Capture;
use roomwright::absorbers::sized::sample::Sample;
use roomwright::absorbers::sized::{Array, Rectangle};
use roomwright::absorbers::{BuildUp, Finish};
use roomwright::bands::{Band, Bands};
use roomwright::geometry::Polygon;
use roomwright::hanging::{Flat, Hanging, Neighbors, Patch, absorption, from_panels, margins};
use roomwright::progress::Progress;
use roomwright::room::{Bodies, Lining, Room, build};
use roomwright::scene::build_up::Filling;
use roomwright::scene::{Core, Panel, PanelPlace, PanelType, StockKind};
use roomwright::settings::Settings;
use roomwright::weigh::early::{Change, EarlyIndex};
use roomwright::weigh::{Linings, Traced};

use crate::rays::uniform_box;
use crate::room::panel_type;

/// What shares of patches in single precision may leave of a wall, m2.
const PATCHES: f64 = 1e-4;

/// By how much a total may be off: what is known tone by tone in double precision is summed as rays meet it, and from 1 kHz on far panels are not heard of each other.
fn heard(band: Band) -> f64 {
    if band.nominal() <= 500 { 0.002 } else { 0.01 }
}

/// What its walls absorb.
const WALL: f64 = 0.1;

fn room() -> Room {
    uniform_box([6.1, 4.3, 3.0], WALL, Bands::splat(0.2), DVec3::new(1.2, 1.4, 1.1), DVec3::new(4.4, 2.6, 1.3))
}

/// 50 mm on the wall.
fn wool() -> BuildUp {
    BuildUp::panel(20_000.0, 0.05, 0.0)
}

fn finishes() -> Vec<Finish> {
    let thick = Finish::of("thick", &BuildUp::panel(10_000.0, 0.1, 0.05), Bands::splat(0.1));
    vec![Finish::of("thin", &wool(), Bands::splat(0.1)), thick]
}

fn panel(left: f64, bottom: f64) -> Rectangle {
    Rectangle::sized(0.6, 1.2).expect("a size").moved(DVec2::new(left, bottom))
}

/// These panels, each of a finish, on a wall.
fn hung(room: &Room, finishes: &[Finish], wall: &str, panels: &[(usize, Rectangle)]) -> Hanging {
    let flat: Vec<Flat<'_>> = panels.iter().map(|&(finish, rectangle)| Flat { surface: wall, rectangle, finish, is_body: false }).collect();
    let surface = room.named(wall).next().expect("there is such a wall").0;
    let patch = |&(finish, one): &(usize, Rectangle)| Patch { surface, region: Polygon::rectangle(one.low, one.high), finish };
    Hanging {
        finishes: finishes.to_vec(),
        patches: panels.iter().map(patch).collect(),
        margins: margins(room, finishes, &flat, &[], Neighbors::Heard),
    }
}

/// What a wall with these panels takes as rays meet it, m2.
fn losses(room: &Room, hanging: &Hanging, wall: &str) -> Bands<f64> {
    Linings::new(room, hanging).diffuse_losses(room, room.named(wall).next().expect("there is such a wall").0)
}

fn effective(rectangles: &[Rectangle], build_up: &BuildUp) -> Bands<f64> {
    let impedance = |frequency: f64, cosine: f64| build_up.surface_impedance(frequency, cosine);
    Array::new(rectangles).expect("an area").octaves().absorption(impedance)
}

/// The rest of a wall 6.1 x 3 m beside panels of this area takes so much, m2.
fn rest(area: f64) -> f64 {
    WALL * (6.1 * 3.0 - area)
}

#[test]
fn exact_total_as_rays_meet_it() {
    let (room, finishes) = (room(), finishes());
    let rows = |gap: f64| -> Vec<Rectangle> { (0..4).map(|index| panel(0.93 + f64::from(index) * (0.6 + gap), 0.87)).collect() };
    for panels in [vec![panel(2.04, 0.91)], rows(0.0), rows(0.137), rows(0.4)] {
        let hanging = hung(&room, &finishes, "wall 0", &panels.iter().map(|&panel| (0, panel)).collect::<Vec<_>>());
        let (ours, area) = (losses(&room, &hanging, "wall 0"), 0.72 * panels.len() as f64);
        let expected = effective(&panels, &wool()) * area;
        for band in Band::ALL {
            let ours = ours[band] - rest(area);
            assert!((ours / expected[band] - 1.0).abs() < heard(band), "{}: {ours} is not {}", band.label(), expected[band]);
            assert!(ours > area * finishes[0].absorption[band], "edges add to {}", band.label());
        }
        // As surfaces and areas tell it, without patches.
        let (all, absorption) = absorption(&room, &hanging);
        let bare = WALL * (all - 6.1 * 3.0);
        let by_areas = absorption * all;
        for band in Band::ALL {
            assert!((by_areas[band] - bare - ours[band]).abs() < PATCHES, "{}: {} and {}", band.label(), by_areas[band] - bare, ours[band]);
        }
    }
}

#[test]
fn exact_total_in_a_corner() {
    // On the floor, in the corner: a quarter of the panel with its three images. A wall 0.55 m away is no mirror.
    let (room, finishes) = (room(), finishes());
    let own = panel(0.0, 0.0);
    let images = [own, panel(-0.6, 0.0), panel(0.0, -1.2), panel(-0.6, -1.2)];
    let expected = effective(&images, &wool()) * 0.72;
    let ours = losses(&room, &hung(&room, &finishes, "wall 0", &[(0, own)]), "wall 0");
    for band in Band::ALL {
        let ours = ours[band] - rest(0.72);
        assert!((ours / expected[band] - 1.0).abs() < heard(band), "{}: {ours} is not {}", band.label(), expected[band]);
    }
    let apart = hung(&room, &finishes, "wall 0", &[(0, panel(0.55, 0.9))]);
    let single = effective(&[own], &wool()) * 0.72;
    for band in Band::ALL {
        let ours = losses(&room, &apart, "wall 0")[band] - rest(0.72);
        assert!((ours / single[band] - 1.0).abs() < heard(band), "{}: {ours} is not {}", band.label(), single[band]);
    }
}

#[test]
fn keeps_margins_off_doors_and_other_panels() {
    let (mut room, finishes) = (room(), finishes());
    let door = Polygon::rectangle(DVec2::new(2.7, 0.0), DVec2::new(3.5, 2.0));
    room.surfaces[0].linings.push(Lining { name: "door".to_owned(), region: door.clone(), finish: 0 });
    let panels = [(0, panel(2.05, 0.9)), (1, panel(1.4, 0.9)), (0, panel(4.4, 0.9))];
    let hanging = hung(&room, &finishes, "wall 0", &panels);
    assert_eq!(hanging.margins.len(), 2);
    let pieces: Vec<&Polygon> = hanging.margins.iter().flat_map(|margin| &margin.pieces).collect();
    for (index, piece) in pieces.iter().enumerate() {
        assert!(!piece.overlaps(&door, 1e-9) && hanging.patches.iter().all(|patch| !piece.overlaps(&patch.region, 1e-9)));
        assert!(pieces[index + 1..].iter().all(|other| !piece.overlaps(other, 1e-9)));
    }
    // A law that tells no impedance has no margin, nor has a value that holds the edges of its sample.
    let known = Finish::from_random_incidence("row", Bands::splat(0.6), Bands::splat(0.1), Bands::splat(false));
    let without = [Finish::uniform("even", Bands::splat(0.6), Bands::splat(0.1)), known];
    assert!(hung(&room, &without, "wall 0", &[(0, panel(0.5, 0.9)), (1, panel(1.5, 0.9))]).margins.is_empty());
}

/// A sample of the usual size, hung on a wall, takes what the table says, though more than its area.
#[test]
fn exact_sample_of_a_table() {
    let room = uniform_box([8.0, 6.0, 5.0], WALL, Bands::splat(0.2), DVec3::ONE, DVec3::splat(2.0));
    let materials = Bands([0.1, 0.25, 0.5, 0.8, 0.94, 0.94, 0.93, 0.9]);
    let tabled = Bands::from_fn(|band| Sample::usual().absorption(band, materials[band]));
    assert!(tabled.0.iter().any(|&value| value > 1.0), "{tabled:?}");
    let finish = Finish::from_sample("tabled", tabled, Bands::splat(0.1), Bands::splat(false));
    assert!(finish.absorption.0.iter().all(|&value| value <= 0.99) && finish.capped == Bands::splat(false));
    let sample = Rectangle::sized(3.6, 3.0).expect("a size").moved(DVec2::new(2.0, 1.0));
    let ours = losses(&room, &hung(&room, &[finish], "wall 0", &[(0, sample)]), "wall 0");
    for band in Band::ALL {
        let ours = (ours[band] - WALL * (8.0 * 5.0 - 10.8)) / 10.8;
        assert!((ours - tabled[band]).abs() < PATCHES, "{}: {ours} is not {}", band.label(), tabled[band]);
    }
}

fn traced() -> Traced {
    let settings = Settings { rays: 4_000, seed: 3, image_order: 2, ..Settings::DEFAULT };
    Traced::new(&Progress::new(), room(), settings, 0.06).expect("nobody cancels")
}

#[test]
fn keeps_images_and_differences() {
    let (traced, finishes, progress) = (traced(), finishes(), Progress::new());
    let room = &traced.room;
    let index = EarlyIndex::new(&progress, &traced).expect("nobody cancels");
    let weighed = |hanging: &Hanging| {
        let linings = Linings::new(room, hanging);
        let early = index.weigh(&progress, &linings).expect("nobody cancels");
        (linings, early)
    };
    let panels = [(0, panel(1.0, 0.9)), (0, panel(1.7, 0.9)), (1, panel(3.4, 0.6))];
    let hanging = hung(room, &finishes, "wall 0", &panels);
    let (linings, early) = weighed(&hanging);
    let (_, bare) = weighed(&Hanging { margins: Vec::new(), ..hanging.clone() });
    let mean = |early: &roomwright::weigh::early::EarlyEnergy, band: Band| early.rays[0][0].iter().map(|batch| batch[band]).sum::<f64>();
    for band in Band::ALL {
        let (with, without) = (early.images[0][0][band], bare.images[0][0][band]);
        assert!((with / without - 1.0).abs() < 1e-12, "images meet no margin: {with} {without}");
        assert!(mean(&early, band) < mean(&bare, band), "rays do, in {}", band.label());
    }
    // A third panel changes the margin of its whole group.
    for moved in [panel(2.4, 0.9), panel(0.2, 0.0), panel(5.0, 1.8)] {
        let after = hung(room, &finishes, "wall 0", &[&panels[..], &[(0, moved)]].concat());
        let places = hanging.differing(&after);
        assert!(!places.is_empty() && hanging.differing(&hanging).is_empty());
        let (after, whole) = weighed(&after);
        let quick = index.difference(&early, &Change { before: &linings, after: &after, places: &places });
        for band in Band::ALL.into_iter().filter(|band| band.nominal() >= 1000) {
            let scale = early.total(0, 0)[band];
            let images = whole.images[0][0][band] - early.images[0][0][band];
            assert!((quick.images[0][0][band] - images).abs() < 1e-9 * scale, "{}, images", band.label());
            for (batch, quick) in quick.rays[0][0].iter().enumerate() {
                let rays = whole.rays[0][0][batch][band] - early.rays[0][0][batch][band];
                // Whole sums are of f32 products: rounding of some thousand terms.
                assert!((quick[band] - rays).abs() < 1e-6 * scale, "{}: {} and {rays}", band.label(), quick[band]);
            }
        }
    }
}

#[test]
fn keeps_margins_with_their_materials() {
    let (room, finishes) = (room(), finishes());
    let linings = Linings::new(&room, &hung(&room, &finishes, "wall 0", &[(0, panel(2.0, 0.9))]));
    let less = linings.refinished(|finish| (finish.name == "thin").then(|| finish.with_absorption(finish.absorption * 0.5)));
    let softer = linings.refinished(|finish| (finish.name == "even").then(|| finish.with_absorption(Bands::splat(2.0 * WALL))));
    for band in Band::ALL {
        let of = |linings: &Linings| linings.diffuse_losses(&room, 0)[band];
        // Half the loss of every angle on panel and margin, whose strength is kept; walls take theirs before and after.
        assert!((of(&less) - rest(0.72) - 0.5 * (of(&linings) - rest(0.72))).abs() < PATCHES, "{}", band.label());
        let (panel, margin) = (0.72 * finishes[0].absorption[band], of(&linings) - rest(0.72) - 0.72 * finishes[0].absorption[band]);
        let wanted = 2.0 * rest(0.72) + panel + margin * (1.0 - 2.0 * WALL) / (1.0 - WALL);
        assert!((of(&softer) - wanted).abs() < PATCHES, "{}: {} is not {wanted}", band.label(), of(&softer));
    }
    let names: Vec<&str> = linings.in_use().iter().map(|finish| finish.name.as_str()).collect();
    assert_eq!(names.iter().filter(|name| **name == "thin").count(), 1, "{names:?}");
}

#[test]
fn exact_total_near_a_wall() {
    // The margin of a row reaches to the floor 0.35 m below it, which mirrors: half of both rows.
    let (room, finishes) = (room(), finishes());
    let row: Vec<Rectangle> = (0..4).map(|index| panel(1.2 + 0.6 * f64::from(index), 0.35)).collect();
    let images: Vec<Rectangle> = row.iter().map(|one| one.moved(DVec2::new(0.0, -1.9))).collect();
    let expected = effective(&[row.clone(), images].concat(), &wool()) * 2.88;
    let ours = losses(&room, &hung(&room, &finishes, "wall 0", &row.into_iter().map(|panel| (0, panel)).collect::<Vec<_>>()), "wall 0");
    for band in Band::ALL {
        let ours = ours[band] - rest(2.88);
        assert!((ours / expected[band] - 1.0).abs() < heard(band), "{}: {ours} is not {}", band.label(), expected[band]);
    }
}

#[test]
fn exact_total_of_a_piece_that_takes_less() {
    // No panel of a usual size does; a margin may say so all the same.
    let (room, finishes) = (room(), finishes());
    let mut hanging = hung(&room, &finishes, "wall 0", &[(0, panel(2.0, 0.9)), (0, panel(3.4, 0.9))]);
    let share = Bands::from_fn(|band| 1.0 - 0.1 * band.index() as f64);
    hanging.margins[0].capture = Capture { margin: 0.0, strength: Bands::splat(0.0), share, held: Bands::splat(false) };
    hanging.margins[0].pieces.clear();
    let ours = losses(&room, &hanging, "wall 0");
    let (all, absorption) = absorption(&room, &hanging);
    for band in Band::ALL {
        let expected = rest(1.44) + 1.44 * share[band] * finishes[0].absorption[band];
        assert!((ours[band] - expected).abs() < PATCHES, "{}: {} is not {expected}", band.label(), ours[band]);
        let by_areas = absorption[band] * all - WALL * (all - 6.1 * 3.0);
        assert!((by_areas - ours[band]).abs() < PATCHES, "{}: {by_areas} and {}", band.label(), ours[band]);
    }
}

/// A scene's panel by itself as a patch and as a body: the wall round either draws in the same.
#[test]
fn exact_margin_round_a_body() {
    let mut scene = crate::room::shoebox(6.1, 4.3, 3.0);
    let fiber = Core::Porous(Filling::of_resistivity(20_000.0));
    scene.stock = vec![PanelType { core: fiber, gap: 0.0, scattering: Some(Bands::splat(0.1)), ..panel_type("panel", StockKind::Panel) }];
    let place = PanelPlace::Surface { surface: "wall 0".to_owned(), left: 2.03, bottom: 0.87, lying: false, gap: 0.0 };
    scene.panels = vec![Panel { kind: "panel".to_owned(), place }];
    let expected = effective(&[panel(0.0, 0.0)], &wool()) * 0.72;
    for bodies in [Bodies::Standing, Bodies::All] {
        let room = build(&scene, bodies);
        let hanging = from_panels(&scene, &room, &scene.panels);
        let is_body = hanging.patches.is_empty();
        assert_eq!(is_body, bodies == Bodies::All);
        let ours = losses(&room, &hanging, "wall 0");
        for band in Band::ALL {
            let front = if is_body { 0.72 * hanging.finishes[0].absorption[band] } else { 0.0 };
            let ours = ours[band] + front - rest(0.72);
            // What lies beneath the back balances what is spread there, but for corners of patches.
            assert!((ours / expected[band] - 1.0).abs() < 0.01, "{bodies:?}, {}: {ours} is not {}", band.label(), expected[band]);
        }
    }
}
