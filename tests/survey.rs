//! The survey: sizes, areas by material, treated share, Schroeder's frequency, axial modes; and the statistical estimate behind it.

use glam::{DVec2, DVec3};
use roomwright::bands::{Band, Bands};
use roomwright::directivity::Directivity;
use roomwright::directivity::polar::Polar;
use roomwright::findings::Survey;
use roomwright::findings::survey::{sending_limits, survey};
use roomwright::hanging::{self, Hanging};
use roomwright::room::{self, Bodies};
use roomwright::scene::{Cloud, Opening, OpeningKind, Panel, PanelPlace, Rectangle, Scene, Seat, Source, SourceKind, StockKind};

use crate::room::{attic, block, l_shape, panel_type, scene, shoebox};

fn surveyed(scene: &Scene) -> Survey {
    survey(scene, &room::build(scene, Bodies::Standing))
}

fn close(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-9 * b.abs().max(1.0), "{a} is not {b}");
}

fn area_of(survey: &Survey, name: &str) -> f64 {
    survey.surfaces.iter().find(|surface| surface.name == name).unwrap_or_else(|| panic!("no {name}")).area_m2
}

fn hung(kind: &str, surface: &str, left: f64, bottom: f64, gap: f64) -> Panel {
    Panel { kind: kind.to_owned(), place: PanelPlace::Surface { surface: surface.to_owned(), left, bottom, lying: false, gap } }
}

#[test]
fn exact_sizes_of_an_attic() {
    let mut scene = attic();
    let place = Rectangle { left: 1.0, bottom: 0.0, width: 0.8, height: 2.0 };
    let door = Opening { name: "door".into(), kind: OpeningKind::Door, surface: "wall 1".into(), place, material: "soft".into() };
    scene.openings = vec![door];
    scene.blocks = vec![block("desk", (2.0, 1.0, 0.0), (1.0, 0.5, 0.7), 0.0)];
    scene.seats = vec![Seat { name: "seat".into(), ear: DVec3::new(0.95, 2.6, 1.2), facing: DVec3::X, zone_radius: 0.3 }];
    let survey = surveyed(&scene);
    let section = 4.4 * 2.4 - 0.5 * 1.9 * 1.3;
    let slope = 1.9_f64.hypot(1.3) * 5.2;
    close(survey.volume_m3, section * 5.2 - 0.35);
    close(survey.floor_area_m2, 4.4 * 5.2);
    close(survey.surface_area_m2, 4.4 * 5.2 + 2.0 * section + (1.1 + 2.4 + 2.5) * 5.2 + slope);
    close(survey.height_m, 1.1 + 1.3 / 2.0);
    close(area_of(&survey, "wall 1"), 2.4 * 5.2 - 1.6);
    close(area_of(&survey, "door"), 1.6);
    close(area_of(&survey, "ceiling 1"), slope);
    close(area_of(&survey, "desk"), 0.5 + 2.0 * 1.5 * 0.7);
    let total: f64 = survey.surfaces.iter().filter(|surface| surface.name != "desk").map(|surface| surface.area_m2).sum();
    close(total, survey.surface_area_m2);
    assert_eq!(survey.surfaces[0].source, "test");
}

#[test]
fn exact_eyring_and_schroeder() {
    // Half the floor covered by a material of 0.5, the rest 0.1; air taken in.
    let scene = shoebox(5.0, 4.0, 2.5);
    let mut room = room::build(&scene, Bodies::Standing);
    let (volume, area) = (50.0, 2.0 * (20.0 + 12.5 + 10.0));
    let (constant, m) = (24.0 * std::f64::consts::LN_10 / room.medium.speed, room.medium.attenuation);
    let expected = |absorption: f64, m: f64| constant * volume / (-area * (1.0 - absorption).ln() + 4.0 * m * volume);
    for (band, time) in hanging::eyring(&room, &Hanging::default()).iter() {
        close(*time, expected(0.1, m[band]));
    }
    let middle = (expected(0.1, m[Band::new(3)]) + expected(0.1, m[Band::new(4)])) / 2.0;
    close(surveyed(&scene).schroeder_hz, 2000.0 * (middle / volume).sqrt());

    let mut rug = panel_type("rug", StockKind::Rug);
    rug.size = DVec2::new(4.0, 2.5);
    let with_rug = Scene { stock: vec![rug], panels: vec![hung("rug", "floor", 0.0, 0.0, 0.0)], ..scene.clone() };
    let patches = hanging::from_panels(&with_rug, &room, &with_rug.panels);
    let mixed = (0.1 * (area - 10.0) + 0.5 * 10.0) / area;
    assert!((patches.finishes[0].absorption[Band::new(4)] - 0.5).abs() < 1e-6);
    for (band, time) in hanging::eyring(&room, &patches).iter() {
        close(*time, expected(mixed, m[band]));
    }
    // Schroeder's frequency is the bare room's, whatever lies in it.
    close(surveyed(&with_rug).schroeder_hz, surveyed(&scene).schroeder_hz);
    room.medium.attenuation = Bands::splat(0.0);
    close(hanging::eyring(&room, &Hanging::default())[Band::new(7)], expected(0.1, 0.0));
}

#[test]
fn exact_patches_replace_what_they_cover() {
    // A patch half over a door, half over the wall.
    let mut scene = shoebox(5.0, 4.0, 2.5);
    let place = Rectangle { left: 1.0, bottom: 0.0, width: 0.8, height: 2.0 };
    scene.openings =
        vec![Opening { name: "door".into(), kind: OpeningKind::Door, surface: "wall 1".into(), place, material: "soft".into() }];
    scene.stock = vec![panel_type("flat", StockKind::Panel)];
    scene.stock[0].core = roomwright::scene::Core::Material("hard".into());
    let room = room::build(&scene, Bodies::Standing);
    let patches = hanging::from_panels(&scene, &room, &[hung("flat", "wall 1", 1.5, 0.4, 0.0)]);
    let (area, absorption) = hanging::absorption(&room, &patches);
    close(absorption[Band::new(4)], (0.1 * (area - 1.6 + 0.36) + 0.5 * (1.6 - 0.36)) / area);
}

#[test]
fn exact_treated_and_exposed_area() {
    let mut scene = attic();
    scene.stock = vec![
        panel_type("flat", StockKind::Panel),
        panel_type("trap", StockKind::Corner),
        panel_type("cloud", StockKind::Cloud),
        panel_type("rug", StockKind::Rug),
    ];
    scene.panels = vec![
        hung("flat", "wall 1", 1.0, 0.5, 0.05),
        hung("flat", "wall 1", 1.6, 0.5, 0.05),
        hung("rug", "floor", 1.0, 1.0, 0.0),
        Panel { kind: "trap".into(), place: PanelPlace::Corner { corner: 2, bottom: 0.0 } },
        Panel { kind: "cloud".into(), place: PanelPlace::Cloud(Cloud::level(DVec2::new(3.0, 2.6), 2.1, false)) },
    ];
    let survey = surveyed(&scene);
    close(survey.treated_area_m2, 5.0 * 0.72);
    close(survey.treated_share, 3.6 / survey.surface_area_m2);
    // Two panels side by side hide one edge each; the cloud shows two faces and four edges; the trap and the rug their fronts.
    let (edge, long_edge) = (0.6 * 0.05, 1.2 * 0.05);
    let flat = 2.0 * 0.72 + 4.0 * edge + 2.0 * long_edge;
    let cloud = 2.0 * 0.72 + 2.0 * edge + 2.0 * long_edge;
    close(survey.exposed_area_m2, flat + cloud + 2.0 * 0.72);
}

#[test]
fn exact_axial_modes() {
    let survey = surveyed(&shoebox(5.1, 3.9, 2.6));
    let speed = room::build(&shoebox(1.0, 1.0, 1.0), Bodies::All).medium.speed;
    let mut expected: Vec<f64> =
        [5.1, 3.9, 2.6].iter().flat_map(|length| (1..=3).map(move |n| f64::from(n) * speed / (2.0 * length))).collect();
    expected.sort_by(f64::total_cmp);
    assert_eq!(survey.axial_modes.len(), 9);
    for (mode, frequency) in survey.axial_modes.iter().zip(&expected) {
        close(mode.frequency_hz, *frequency);
    }
    assert_eq!(survey.axial_modes[0].between, ["wall 1", "wall 3"]);

    // An L: two pairs along each axis, and floor with ceiling.
    let pairs: std::collections::BTreeSet<_> = surveyed(&l_shape()).axial_modes.into_iter().map(|mode| mode.between).collect();
    assert_eq!(pairs.len(), 5);
    // A U: the inner walls turn their backs on each other, the outer ones see each other below the notch only: a quarter of them.
    let u = scene(&[(0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (4.0, 4.0), (4.0, 1.0), (2.0, 1.0), (2.0, 4.0), (0.0, 4.0)], &[(2.5, (0.0, 0.0))]);
    let pairs: std::collections::BTreeSet<_> = surveyed(&u).axial_modes.into_iter().map(|mode| mode.between).collect();
    assert!(!pairs.contains(&["wall 3".to_owned(), "wall 5".to_owned()]), "{pairs:?}");
    assert!(pairs.contains(&["wall 1".to_owned(), "wall 7".to_owned()]), "{pairs:?}");
    let mut deeper = u.clone();
    for corner in [4, 5] {
        deeper.outline[corner].y = 0.5;
    }
    let pairs: std::collections::BTreeSet<_> = surveyed(&deeper).axial_modes.into_iter().map(|mode| mode.between).collect();
    assert!(!pairs.contains(&["wall 1".to_owned(), "wall 7".to_owned()]), "{pairs:?}");
    // A sloped ceiling has no partner, the flat part and the floor are one.
    assert!(surveyed(&attic()).axial_modes.iter().all(|mode| !mode.between.contains(&"ceiling 1".to_owned())));
    assert!(surveyed(&attic()).axial_modes.iter().any(|mode| mode.between == ["floor".to_owned(), "ceiling 0".to_owned()]));
}

#[test]
fn exact_height_without_a_seat_and_under_a_cloud() {
    let mut scene = attic();
    close(surveyed(&scene).height_m, 2.4);
    scene.seats = vec![Seat { name: "seat".into(), ear: DVec3::new(3.0, 2.6, 1.2), facing: DVec3::X, zone_radius: 0.3 }];
    close(surveyed(&scene).height_m, 2.4);
    scene.stock = vec![panel_type("cloud", StockKind::Cloud)];
    scene.panels = vec![Panel { kind: "cloud".into(), place: PanelPlace::Cloud(Cloud::level(DVec2::new(3.0, 2.6), 2.1, false)) }];
    close(surveyed(&scene).height_m, 2.1);
}

/// Bearings go from +y (north) to +x (east); an omni source has no aim; the index is the mean over all directions, turned into decibels.
#[test]
fn exact_aims_and_directivity_of_sources() {
    let mut scene = shoebox(5.0, 4.0, 2.5);
    let piston = Source {
        name: "left".into(),
        kind: SourceKind::Loudspeaker,
        position: DVec3::new(1.0, 1.0, 1.2),
        aim: DVec3::new(0.0, -0.8, -0.6),
        directivity: Directivity::Piston { radius: 0.08 },
    };
    let levels = Bands::from_fn(|band| (band.nominal() == 1000).then(|| vec![0.0, -10.0, -10.0, -10.0]));
    let polar = Polar::new(&[0.0, 1e-6, 90.0, 180.0], &levels).expect("sound data");
    scene.sources = vec![
        piston.clone(),
        Source { name: "right".into(), aim: DVec3::X, ..piston.clone() },
        Source {
            name: "singer".into(),
            kind: SourceKind::Voice,
            aim: DVec3::new(-0.5, 0.75_f64.sqrt(), 0.0),
            directivity: Directivity::Forward,
            ..piston.clone()
        },
        Source {
            name: "horn".into(),
            kind: SourceKind::Instrument,
            aim: DVec3::Z,
            directivity: Directivity::Polar(polar),
            ..piston.clone()
        },
        Source { name: "drum".into(), kind: SourceKind::Instrument, directivity: Directivity::Omni, ..piston },
    ];
    let survey = surveyed(&scene);
    let words: Vec<[&str; 2]> = survey.sources.iter().map(|source| [source.kind.as_str(), source.directivity.as_str()]).collect();
    let kinds =
        [["loudspeaker", "piston"], ["loudspeaker", "piston"], ["voice", "forward"], ["instrument", "polar"], ["instrument", "omni"]];
    assert_eq!(words, kinds);
    let aims = [Some((Some(180.0), -36.869_897_645_844_02)), Some((Some(90.0), 0.0)), Some((Some(330.0), 0.0)), Some((None, 90.0)), None];
    for (source, aim) in survey.sources.iter().zip(aims) {
        let found = source.elevation_deg.map(|elevation| (source.bearing_deg, elevation));
        let is_same = match (found, aim) {
            (Some((None, elevation)), Some((None, expected))) => (elevation - expected).abs() < 1e-9,
            (Some((Some(bearing), elevation)), Some((Some(turn), expected))) => {
                (bearing - turn).abs().max((elevation - expected).abs()) < 1e-9
            }
            (found, aim) => found == aim,
        };
        assert!(is_same, "{}: {found:?}, expected {aim:?}", source.name);
    }
    for band in Band::ALL {
        let index = |source: usize| survey.sources[source].directivity_index_db[band];
        assert!((index(3) - 10.0).abs() < 1e-6 && index(4) == 0.0, "{}", band.label());
        // The forward law's mean is (1 - b)^2 + b^2 / 3, b from 0.05 at 63 Hz in steps of 0.05.
        let b = 0.05 * (1 + band.index()) as f64;
        close(index(2), -10.0 * ((1.0 - b) * (1.0 - b) + b * b / 3.0).log10());
    }
    assert_eq!(survey.sources[0].radius_m, Some(0.08));
    let limits = sending_limits(&survey.sources);
    assert_eq!(limits.iter().map(|limit| limit.split(": ").next().unwrap()).collect::<Vec<_>>(), ["left, right", "singer", "horn"]);
}
