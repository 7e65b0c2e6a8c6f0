//! One room twice: from a scene, and from more than ten thousand small triangles in any order.
//!
//! A sloped ceiling and two blocks, one on the floor (the floor has a hole under it, as drawn in a mesh) and one that hangs free.

use std::sync::LazyLock;

use glam::{DVec2, DVec3};
use roomwright::absorbers::Finish;
use roomwright::bands::{Band, Bands};
use roomwright::directivity::{Directivity, Pattern};
use roomwright::geometry::Polygon;
use roomwright::images::{self, ImagePath};
use roomwright::mesh::{Triangle, close};
use roomwright::metrics::clarity::early_to_late_db;
use roomwright::metrics::decay::{DecayCurve, Tail};
use roomwright::progress::Progress;
use roomwright::response::{Estimate, Response};
use roomwright::room::{Bodies, Emitter, Receiver, Role, Room, build, of_mesh};
use roomwright::scene::SourceKind;
use roomwright::settings::Settings;
use roomwright::weigh::flat_weights;

use super::{near, shuffled, split, told};
use crate::rays::responses;
use crate::room::{block, scene};

const SOURCE: DVec3 = DVec3::new(3.3, 1.2, 1.15);
const SEAT: DVec3 = DVec3::new(2.2, 3.9, 1.2);

/// What walls, floor, ceiling and blocks are made of: they differ by band.
fn finishes() -> Vec<Finish> {
    let rising = |from: f64, to: f64| Bands::from_fn(|band| from + (to - from) * band.index() as f64 / 7.0);
    vec![
        Finish::uniform("walls and blocks", rising(0.06, 0.12), rising(0.3, 0.5)),
        Finish::uniform("floor", rising(0.05, 0.4), rising(0.2, 0.4)),
        Finish::uniform("ceiling", rising(0.3, 0.1), rising(0.25, 0.4)),
    ]
}

fn finish_of(role: Role) -> usize {
    match role {
        Role::Floor => 1,
        Role::Ceiling(_) => 2,
        _ => 0,
    }
}

fn heard(mut room: Room) -> Room {
    room.sources = vec![Emitter {
        name: "source".to_owned(),
        kind: SourceKind::Loudspeaker,
        position: SOURCE,
        aim: DVec3::Y,
        directivity: Directivity::Omni,
    }];
    room.receivers = vec![Receiver {
        name: "seat".to_owned(),
        position: SEAT,
        facing: DVec3::NEG_Y,
        zone_radius: Some(0.3),
        pattern: Pattern { omni: 1.0 },
    }];
    room
}

fn of_scene() -> Room {
    let mut scene = scene(&[(0.0, 0.0), (4.4, 0.0), (4.4, 5.2), (0.0, 5.2)], &[(2.4, (0.0, 0.0)), (1.1, (1.3 / 1.9, 0.0))]);
    scene.blocks = vec![block("chest", (1.3, 1.9, 0.0), (0.8, 0.6, 0.7), 0.0), block("shelf", (2.9, 2.6, 1.5), (0.9, 0.35, 0.3), 0.4)];
    let mut room = build(&scene, Bodies::Standing);
    let plain = finishes();
    room.finishes.clear();
    for surface in &mut room.surfaces {
        room.finishes.push(plain[finish_of(surface.role)].with_edge(surface.edge_scattering));
        surface.finish = room.finishes.len() - 1;
    }
    heard(room)
}

/// The triangles of its surfaces, what a block covers of the floor left out.
fn soup(room: &Room) -> Vec<Triangle> {
    let mut soup = Vec::new();
    for (index, surface) in room.surfaces.iter().enumerate() {
        let mut parts = vec![surface.outline.clone()];
        for contact in room.contacts.iter().filter(|contact| contact.surface == index) {
            parts = parts.iter().flat_map(|part| without(part, &contact.region)).collect();
        }
        for corners in parts.iter().flat_map(Polygon::triangles) {
            let corners = corners.map(|corner| surface.chart.point(corner));
            soup.push(Triangle { corners, finish: finish_of(surface.role) });
        }
    }
    let mut times = 0;
    while soup.len() << (2 * times) < 10_000 {
        times += 1;
    }
    split(&soup, times)
}

/// A polygon without a rectangle along its axes: what lies left and right of it, below and above.
fn without(part: &Polygon, hole: &Polygon) -> Vec<Polygon> {
    let (low, high) = hole.bounds();
    let mut left = part.clip(DVec2::X, low.x);
    left.extend(part.clip(DVec2::NEG_X, -high.x));
    for strip in part.clip(DVec2::NEG_X, -low.x).iter().flat_map(|strip| strip.clip(DVec2::X, high.x)) {
        left.extend(strip.clip(DVec2::Y, low.y));
        left.extend(strip.clip(DVec2::NEG_Y, -high.y));
    }
    left
}

fn of_soup(seed: u64) -> Room {
    let drawn = of_scene();
    let soup = shuffled(&soup(&drawn), seed, true);
    assert!(soup.len() >= 10_000, "{} triangles", soup.len());
    let mesh = close(&soup, 3).unwrap_or_else(|found| panic!("{}", told(&found)));
    heard(of_mesh(&mesh, &finishes(), drawn.medium, Settings::DEFAULT.patch_m))
}

#[test]
fn exact_room_from_ten_thousand_triangles() {
    let (one, other) = (of_scene(), of_soup(1));
    // The floor is cut in two at the chest's hole.
    assert_eq!(other.surfaces.len(), one.surfaces.len() + 1);
    near(one.volume, other.volume, 1e-9);
    near(one.mean_free_path(), other.mean_free_path(), 1e-9);
    let sum = |room: &Room, is_counted: &dyn Fn(usize) -> bool| -> f64 {
        (0..room.surfaces.len()).filter(|&surface| is_counted(surface)).map(|surface| room.open_area(surface)).sum()
    };
    for name in ["walls and blocks", "floor", "ceiling"] {
        let of = |room: &Room| sum(room, &|surface| room.finishes[room.surfaces[surface].finish].name == name);
        near(of(&one), of(&other), 1e-9);
    }
    // Faces of blocks are finite there as here: the same areas with the same shares.
    let shares = |room: &Room| {
        let mut shares: Vec<_> =
            room.surfaces.iter().map(|surface| surface.edge_scattering[Band::new(2)]).filter(|&share| share > 0.0).collect();
        shares.sort_by(f64::total_cmp);
        shares
    };
    let (a, b) = (shares(&one), shares(&other));
    assert_eq!(a.len(), b.len());
    assert!(a.len() >= 8 && a.iter().zip(&b).all(|(a, b)| (a - b).abs() < 1e-9));
    assert!(!one.is_shell_convex || other.surfaces.iter().any(|surface| surface.role == Role::Face(1)));
    let mut random = roomwright::random::Stream::new(3, roomwright::random::Purpose::Search, 0);
    for _ in 0..2000 {
        let point = DVec3::new(5.0 * random.unit() - 0.3, 6.0 * random.unit() - 0.4, 2.8 * random.unit() - 0.2);
        assert_eq!(one.contains(point), other.contains(point), "{point}");
    }
}

/// Every image path, in whatever order the surfaces stand.
#[test]
fn exact_image_arrivals_of_ten_thousand_triangles() {
    let points = [SEAT, DVec3::new(0.9, 4.6, 0.8), DVec3::new(1.7, 2.2, 1.3), DVec3::new(3.0, 3.4, 0.4)];
    let paths = |room: &Room| images::paths(&Progress::new(), room, SOURCE, &points, 3).expect("nobody cancels");
    let (one, other) = (paths(&of_scene()), paths(&of_soup(2)));
    for (one, mut other) in one.iter().zip(other) {
        assert!(one.len() > 30, "{} paths", one.len());
        assert_eq!(one.len(), other.len());
        for path in one {
            let off = |other: &ImagePath| {
                let bounces = path.bounces.iter().zip(&other.bounces);
                let most = bounces.map(|(a, b)| a.point.distance(b.point).max((a.cosine - b.cosine).abs())).fold(0.0, f64::max);
                if path.bounces.len() == other.bounces.len() { most.max((path.length - other.length).abs()) } else { f64::INFINITY }
            };
            let nearest = (0..other.len()).min_by(|&a, &b| off(&other[a]).total_cmp(&off(&other[b]))).expect("as many");
            let found = other.swap_remove(nearest);
            assert!(off(&found) < 1e-9, "{path:?} and {found:?}");
            assert!(path.departure.distance(found.departure) < 1e-9 && path.arrival.distance(found.arrival) < 1e-9);
        }
    }
}

/// What the seat hears, by octave: T30, C50, and the early reflected level 1-8 kHz.
fn findings(room: Room, seed: u64) -> Vec<(String, Estimate)> {
    let settings = Settings { seed, rays: 100_000, ..Settings::DEFAULT };
    let (traced, response) = responses(room, settings, 1.1);
    assert_eq!(traced.paths.escaped, 0, "rays escaped");
    let mut all = Vec::new();
    for band in Band::ALL {
        let curve = response.resampled(band);
        let t30 = |energy: &Vec<f64>| DecayCurve::new(energy, response.bin_s, Tail::Exponential).ok()?.t30().ok();
        all.push((format!("T30 {}", band.label()), curve.estimate(t30).expect("the record is long enough")));
        let c50 = curve.estimate(|energy| early_to_late_db(energy, response.bin_s, 0.05)).expect("energy");
        all.push((format!("C50 {}", band.label()), c50));
    }
    all.push(("early level".to_owned(), early_level(&response)));
    all
}

fn early_level(response: &Response) -> Estimate {
    let bins = (0.015 / response.bin_s).round() as usize;
    let curve = response.weighted(flat_weights());
    // The direct sound stands in bin 0; nothing else comes so soon.
    curve.estimate(|energy| Some(10.0 * (energy[1..bins].iter().sum::<f64>() / energy[0]).log10())).expect("energy")
}

/// What is heard in the room from a scene and in the same from ten thousand triangles.
pub(crate) static BOTH: LazyLock<Vec<(String, Estimate, Estimate)>> = LazyLock::new(|| {
    let (one, other) = (findings(of_scene(), 71), findings(of_soup(3), 72));
    one.into_iter().zip(other).map(|((what, a), (_, b))| (what, a, b)).collect()
});

/// 17 figures at 4 standard errors with 19 degrees of freedom: one false alarm in 75 choices of seeds.
#[test]
fn keeps_the_findings_of_ten_thousand_triangles() {
    for (what, a, b) in &*BOTH {
        let se = a.se.hypot(b.se);
        assert!(se > 0.0 && se < if what.starts_with('T') { 0.04 * a.value } else { 0.2 }, "{what}: {a:?} shows nothing");
        assert!((a.value - b.value).abs() < 4.0 * se, "{what}: {a:?} and {b:?}");
    }
}

/// The way of a triangle among ten thousand means nothing: bit by bit.
#[test]
fn keeps_a_room_whatever_the_order_of_its_triangles() {
    let surfaces =
        |seed| format!("{:?}", of_soup(seed).surfaces.iter().map(|s| (s.chart, s.outline.clone(), s.finish)).collect::<Vec<_>>());
    assert_eq!(surfaces(4), surfaces(5));
}
