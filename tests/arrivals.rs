//! The direct sound and what edges bend, one by one: where the way bends, what makes the level, what hides what.

use glam::DVec3;
use roomwright::absorbers::Finish;
use roomwright::bands::{Band, Bands};
use roomwright::findings::response::early_response;
use roomwright::findings::{BendMadeOf, DirectSound, EarlyResponse, EdgeArrival};
use roomwright::hanging::Hanging;
use roomwright::images::Prepared;
use roomwright::images::edges::{edge_paths, edges};
use roomwright::progress::Progress;
use roomwright::room::{Bodies, Room, build};
use roomwright::settings::Settings;
use roomwright::weigh::ear::Ears;
use roomwright::weigh::{Linings, Traced};

use crate::early_response::{omni, receiver};
use crate::room::{block, shoebox};

fn traced(room: Room) -> Traced {
    let settings = Settings { image_order: 1, rays: 100, ..Settings::DEFAULT };
    Traced::new(&Progress::new(), room, settings, 0.03).expect("nobody cancels")
}

fn responses(traced: &Traced, source: usize, receiver: usize) -> Vec<EarlyResponse> {
    let linings = Linings::new(&traced.room, &Hanging::default());
    early_response(&Progress::new(), &Ears::new(&traced.room), traced, &linings, source, receiver).expect("nobody cancels")
}

/// The shipped attic as it stands, with its desk, shelf and microphone: all that arrives at its ears.
fn attic() -> (Traced, Vec<EarlyResponse>) {
    let (scene, _) = roomwright::scene::read(include_str!("../scenes/attic-voice-room.toml")).expect("a shipped scene reads");
    let traced = traced(build(&scene, Bodies::All));
    let pairs = (0..traced.room.sources.len()).flat_map(|source| (0..traced.room.receivers.len()).map(move |receiver| (source, receiver)));
    let all = pairs.collect::<Vec<_>>().into_iter().flat_map(|(source, receiver)| responses(&traced, source, receiver)).collect();
    (traced, all)
}

/// Spreading, air, aim, pattern, bend, faces and what changes within the octave make the level of all that is bent, octave by octave.
#[test]
fn exact_sum_of_what_makes_a_bend() {
    let (traced, all) = attic();
    let mut twice = 0;
    let mut checked = 0;
    for EdgeArrival { bends, points_m, delay_ms, level_by_octave_db, made_of, places, .. } in all.iter().flat_map(|ear| &ear.edges) {
        let BendMadeOf {
            legs_m: [to, across, on],
            direct_m,
            turns_deg,
            spreading_db,
            air_db,
            source_db,
            pattern_db,
            bend_db,
            faces_db,
            mirrored_db,
            within_octave_db,
        } = made_of;
        let way = to + across + on;
        assert!((spreading_db - 20.0 * (direct_m / way).log10()).abs() < 1e-9);
        assert!((delay_ms - (way - direct_m) / traced.room.medium.speed * 1000.0).abs() < 1e-9);
        assert!((across - DVec3::from_array(points_m[0]).distance(DVec3::from_array(points_m[1]))).abs() < 1e-12);
        assert!(*bends == 2 || (*across == 0.0 && turns_deg[0] == turns_deg[1]));
        for (place, point) in places.iter().zip(points_m) {
            let surface = traced.room.surfaces.iter().find(|surface| surface.name == place.surface).expect("it is a surface of the room");
            let there = surface.chart.point(glam::DVec2::new(place.left_m, place.bottom_m));
            assert!(there.distance(DVec3::from_array(*point)) < 1e-6, "{place:?} and {point:?}");
        }
        for band in Band::ALL {
            let sum = spreading_db + air_db[band] + source_db[band] + pattern_db + bend_db[band] + faces_db[band] + within_octave_db[band];
            assert!((sum - level_by_octave_db[band]).abs() < 1e-9, "{sum} and {}", level_by_octave_db[band]);
            assert!(mirrored_db.iter().all(|mirrored| mirrored[band] <= 0.0));
            // What is left is no more than source and air change to the next octaves, not what the other rows forgot.
            let sent = |index: usize| source_db.0[index] + air_db.0[index];
            let (low, high) = (band.index().saturating_sub(1), (band.index() + 1).min(7));
            let changes = (sent(low) - sent(band.index())).abs().max((sent(high) - sent(band.index())).abs());
            assert!(within_octave_db[band].abs() < 0.1 + changes, "{} dB: {made_of:?}", within_octave_db[band]);
            checked += 1;
        }
        twice += usize::from(*bends == 2);
    }
    assert!(checked > 200 && twice > 5, "{checked}, {twice} twice");
}

/// What the direct sound loses on its way, re 1 m on the axis.
#[test]
fn exact_sum_of_what_makes_the_direct_sound() {
    let (traced, all) = attic();
    for (number, ear) in all.iter().enumerate() {
        let DirectSound { way_m, arrives_ms, hidden_by, level_db, level_by_octave_db, spreading_db, air_db, source_db, pattern_db, .. } =
            &ear.direct;
        let speed = traced.room.medium.speed;
        assert!((arrives_ms * speed / 1000.0 - way_m).abs() < 1e-9 && (spreading_db + 20.0 * way_m.log10()).abs() < 1e-12);
        let nearest = traced.room.sources.iter().map(|source| (source.position.distance(DVec3::from_array(ear.position_m)) - way_m).abs());
        assert!(nearest.fold(f64::INFINITY, f64::min) < 1e-12);
        assert!(hidden_by.is_empty() && level_db == pattern_db, "{number}");
        for band in Band::ALL {
            let air = -10.0 * traced.room.medium.attenuation[band] * way_m * std::f64::consts::LOG10_E;
            assert!((air_db[band] - air).abs() < 1e-12 && source_db[band] <= 1e-9);
            assert!((spreading_db + air_db[band] + source_db[band] + pattern_db - level_by_octave_db[band]).abs() < 1e-12);
        }
    }
    assert!(all.len() >= 6, "{}", all.len());
}

/// A hard room with a screen between source and microphone; the source sends alike to all sides.
fn screened(height: f64) -> Room {
    let mut scene = shoebox(12.0, 12.0, 12.0);
    scene.blocks = vec![block("screen", (5.98, 5.0, 0.5), (0.04, 2.0, height), 0.0)];
    let mut room = build(&scene, Bodies::All);
    for finish in &mut room.finishes {
        *finish = Finish::uniform("hard", Bands::splat(0.0), Bands::splat(0.0));
    }
    room.sources = vec![omni(DVec3::new(5.0, 6.1, 1.4))];
    room.receivers = vec![receiver(DVec3::new(7.0, 5.9, 1.2), None)];
    room
}

/// A screen hides the direct sound and is named for it; one that ends lower does not. Its faces are hard and the source sends alike to all sides, so that
/// only way, air and bend make the level; air is all that changes within an octave.
#[test]
fn keeps_what_hides_the_direct_sound() {
    for (height, hidden) in [(1.2, true), (0.6, false)] {
        let found = responses(&traced(screened(height)), 0, 0);
        let [EarlyResponse { direct, edges, .. }] = &found[..] else { panic!("one microphone, {}", found.len()) };
        assert_eq!(direct.hidden_by.len(), usize::from(hidden), "{:?}", direct.hidden_by);
        assert!(direct.hidden_by.iter().all(|name| name.starts_with("screen")), "{:?}", direct.hidden_by);
        assert_eq!(direct.level_db == 0.0, !hidden);
        assert!(edges.len() > 3);
        for edge in edges {
            let made = &edge.made_of;
            for band in Band::ALL {
                assert!(made.source_db[band].abs() < 1e-12 && made.faces_db[band].abs() < 1e-9 && made.mirrored_db[0][band].abs() < 1e-9);
                assert!(made.within_octave_db[band].abs() < 0.03, "{}: {}", band.label(), made.within_octave_db[band]);
            }
        }
    }
    // Over the upper edge: up and down again by as much as the triangle says.
    let found = responses(&traced(screened(1.2)), 0, 0);
    let over = found[0].edges.iter().find(|edge| edge.bends == 1 && (edge.points_m[0][2] - 1.7).abs() < 1e-9).expect("the upper edge");
    let [source, at, point] = [DVec3::new(5.0, 6.1, 1.4), DVec3::from_array(over.points_m[0]), DVec3::new(7.0, 5.9, 1.2)];
    let turned = (at - source).angle_between(point - at).to_degrees();
    assert!((over.made_of.turns_deg[0] - turned).abs() < 1e-9 && turned > 20.0);
    assert!((over.elevation_deg - ((1.7 - 1.2) / over.made_of.legs_m[2]).asin().to_degrees()).abs() < 1e-6);
}

/// No way by other points of the same edges is shorter: single bends against a fine comb of points, double ones against all pairs.
#[test]
fn exact_points_of_the_shortest_way() {
    let (mut once, mut twice) = (0, 0);
    // One body at a time, so that nothing hides a part of its edges.
    for body in [block("top", (2.0, 2.0, 0.7), (1.6, 0.7, 0.04), 20.0), block("chest", (4.4, 0.6, 0.0), (0.7, 0.5, 1.1), 0.0)] {
        let mut scene = shoebox(6.0, 5.0, 3.0);
        scene.blocks = vec![body];
        let room = build(&scene, Bodies::All);
        let (first, second) = shortest_ways(&room);
        (once, twice) = (once + first, twice + second);
    }
    assert!(once > 10 && twice > 5, "{once} single, {twice} double bends");
}

/// How many single and double bends were tried.
fn shortest_ways(room: &Room) -> (usize, usize) {
    let (prepared, edges) = (Prepared::new(room), edges(room));
    let (mut once, mut twice) = (0, 0);
    for (source, point) in [
        (DVec3::new(1.5, 2.2, 1.2), DVec3::new(3.9, 2.6, 0.3)),
        (DVec3::new(2.4, 3.4, 1.0), DVec3::new(2.9, 1.2, 1.1)),
        (DVec3::new(5.6, 0.9, 0.9), DVec3::new(3.2, 1.0, 0.8)),
    ] {
        let bends = edge_paths(&prepared, room, &edges, source, point, 9.0);
        for bend in &bends {
            let [first, last] = bend.points;
            let way = |a: DVec3, b: DVec3| source.distance(a) + a.distance(b) + b.distance(point);
            assert!((way(first, last) - bend.length).abs() < 1e-12);
            let comb = |at: DVec3| {
                // The edges that a point lies on, by their ends among the corners of the two bodies.
                let sides = room.surfaces.iter().filter(|surface| !surface.role.is_shell()).flat_map(|surface| {
                    let corners: Vec<DVec3> = surface.outline.corners.iter().map(|corner| surface.chart.point(*corner)).collect();
                    (0..corners.len()).map(move |k| [corners[k], corners[(k + 1) % corners.len()]])
                });
                let on = |[a, b]: &[DVec3; 2]| a.distance(at) + at.distance(*b) - a.distance(*b) < 1e-9;
                sides.filter(on).collect::<Vec<_>>()
            };
            let points = |[a, b]: [DVec3; 2]| (0..=200).map(move |step| a.lerp(b, f64::from(step) / 200.0));
            if bend.bends == 1 {
                assert_eq!(first, last);
                let least = comb(first).into_iter().map(|side| points(side).map(|at| way(at, at)).fold(f64::INFINITY, f64::min));
                // One of the edges that meet there is the one that bends, and on it nothing is shorter.
                assert!(least.fold(0.0, f64::max) >= bend.length - 1e-9, "{} m by {first}", bend.length);
                once += 1;
            } else {
                let pairs = comb(first).into_iter().flat_map(|one| comb(last).into_iter().map(move |other| (one, other)));
                let least = pairs.map(|(one, other)| {
                    points(one).flat_map(|a| points(other).map(move |b| (a, b))).map(|(a, b)| way(a, b)).fold(f64::INFINITY, f64::min)
                });
                assert!(least.fold(0.0, f64::max) >= bend.length - 1e-6, "{} m by {first}, {last}", bend.length);
                twice += 1;
            }
        }
    }
    (once, twice)
}
