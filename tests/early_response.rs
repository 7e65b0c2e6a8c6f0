//! The first sound summed with its phases: a box against its closed form, continuity where direct sound and images end, and what makes a level.

use std::f64::consts::TAU;

use glam::{DVec2, DVec3};
use num_complex::Complex64;
use roomwright::absorbers::{BuildUp, Finish};
use roomwright::bands::{Band, Bands};
use roomwright::directivity::{Directivity, Pattern};
use roomwright::findings::reflections::early_reflections;
use roomwright::findings::response::{early_response, frequencies};
use roomwright::findings::{EarlyResponse, MadeOf, Reflection};
use roomwright::geometry::Polygon;
use roomwright::hanging::{Hanging, Patch};
use roomwright::progress::Progress;
use roomwright::room::{Bodies, Emitter, Receiver, Room, build};
use roomwright::scene::SourceKind;
use roomwright::settings::Settings;
use roomwright::weigh::ear::{Ears, HEAD_RADIUS};
use roomwright::weigh::{Linings, Traced, flat_weights};

use crate::images::box_images;
use crate::room::{block, shoebox};

/// What is traced of rays does not matter here.
fn traced(room: Room, image_order: u8) -> Traced {
    let settings = Settings { image_order, rays: 100, ..Settings::DEFAULT };
    Traced::new(&Progress::new(), room, settings, 0.05).expect("nobody cancels")
}

fn responses(traced: &Traced) -> Vec<EarlyResponse> {
    let linings = Linings::new(&traced.room, &Hanging::default());
    early_response(&Progress::new(), &Ears::new(&traced.room), traced, &linings, 0, 0).expect("nobody cancels")
}

pub(crate) fn omni(position: DVec3) -> Emitter {
    Emitter { name: "source".into(), kind: SourceKind::Loudspeaker, position, aim: DVec3::X, directivity: Directivity::Omni }
}

pub(crate) fn receiver(position: DVec3, zone_radius: Option<f64>) -> Receiver {
    Receiver { name: "here".into(), position, facing: DVec3::NEG_X, zone_radius, pattern: Pattern { omni: 1.0 } }
}

/// All images of a box up to order 3, each with the root of what its walls keep, and the air's part: the sum is that of the closed form.
#[test]
fn exact_sum_of_a_box() {
    let size = DVec3::new(5.1, 3.9, 2.6);
    let (source, point) = (DVec3::new(1.2, 1.0, 1.1), DVec3::new(3.6, 2.7, 1.3));
    let mut room = build(&shoebox(size.x, size.y, size.z), Bodies::All);
    for finish in &mut room.finishes {
        *finish = Finish::uniform("even", Bands::splat(0.2), Bands::splat(0.1));
    }
    (room.sources, room.receivers) = (vec![omni(source)], vec![receiver(point, None)]);
    let traced = traced(room, 3);
    let (speed, direct) = (traced.room.medium.speed, source.distance(point));
    let window = traced.settings.window_s * speed;
    let found = responses(&traced);
    let [response] = &found[..] else { panic!("one microphone, {}", found.len()) };
    assert_eq!(response.edges_counted, 0);
    assert_eq!(response.frequency_hz, frequencies());
    let mut compared = 0;
    for band in Band::ALL {
        // At the center of an octave its own values count, so air and walls are known without a rule for what lies between.
        let (frequency, air) = (band.center(), traced.room.medium.attenuation[band]);
        let pressure: DVec2 = box_images(size, source, point, 3)
            .into_iter()
            .filter(|(way, _)| *way <= direct + window)
            .map(|(way, order)| {
                DVec2::from_angle(-TAU * frequency / speed * way) * (0.72_f64.powi(order as i32) * (-air * way).exp()).sqrt() / way
            })
            .sum();
        let expected = 20.0 * (pressure.length() * direct).log10() + 10.0 * air * direct * std::f64::consts::LOG10_E;
        // The frequencies drawn lie on either side of it.
        let ear = Ears::new(&traced.room);
        let heard = ear.hear(&Progress::new(), &traced, 0, 0).expect("nobody cancels");
        let linings = Linings::new(&traced.room, &Hanging::default());
        let ours: DVec2 = ear.arrivals(&traced, &linings, &heard[0]).iter().map(|arrival| arrival.at(frequency, speed)).sum();
        let free = ear.free(&traced, &heard[0]).at(frequency, speed).length();
        let level = 20.0 * (ours.length() / free).log10();
        assert!((level - expected).abs() < 1e-4, "{}: {level} and {expected}", band.label());
        compared += 1;
    }
    assert_eq!(compared, 8);
    for dip in &response.boundary_dips {
        assert!((dip.frequency_hz * 2.0 * dip.longer_m - speed).abs() < 1e-6, "{dip:?}");
    }
    assert!(response.boundary_dips.iter().any(|dip| dip.surface == "floor"), "{:?}", response.boundary_dips);
}

/// Pressure at a microphone of what a wall mirrors once, re that of the same way without any wall, with a panel on this part of the wall (from its middle: low, high).
fn mirrored_once(wall: &str, panel: Option<(DVec2, DVec2)>, finish: &Finish, frequency: f64) -> (DVec2, f64) {
    let size = DVec3::new(5.0, 6.0, 4.0);
    let (source, point) = (DVec3::new(2.0, 1.6, 2.0), DVec3::new(2.0, 4.4, 2.0));
    let mut room = build(&shoebox(size.x, size.y, size.z), Bodies::All);
    for finish in &mut room.finishes {
        *finish = Finish::uniform("hard", Bands::splat(0.0), Bands::splat(0.0));
    }
    (room.sources, room.receivers) = (vec![omni(source)], vec![receiver(point, None)]);
    room.medium.attenuation = Bands::splat(0.0);
    let traced = traced(room, 1);
    let room = &traced.room;
    let surface = room.surfaces.iter().position(|surface| surface.name == wall).expect("a wall");
    let mut hanging = Hanging { finishes: vec![finish.clone()], patches: Vec::new(), ..Hanging::default() };
    if let Some((low, high)) = panel {
        let middle = room.surfaces[surface].outline.centroid();
        hanging.patches.push(Patch { surface, region: Polygon::rectangle(middle + low, middle + high), finish: 0 });
    }
    let linings = Linings::new(room, &hanging);
    let ears = Ears::new(room);
    let heard = &ears.hear(&Progress::new(), &traced, 0, 0).expect("nobody cancels")[0];
    let image = heard.images.iter().position(|image| image.path.bounces.iter().any(|bounce| bounce.surface == surface)).expect("an image");
    let way = &heard.images[image].path;
    let alone = DVec2::from_angle(-TAU * frequency / room.medium.speed * way.length) / way.length;
    let pressure = ears.arrivals(&traced, &linings, heard)[image].at(frequency, room.medium.speed);
    // Complex division.
    (DVec2::new(alone.x, -alone.y).rotate(pressure) / alone.length_squared(), way.bounces[0].cosine)
}

/// What a panel that fills a wall mirrors is the reflection factor of its layers at the angle, met at its front face.
///
/// *Source.* The cotangent formulas of two layers with Miki's constants (`tests/cases/porous_miki.csv` names them), written down here apart from the program's chain.
#[test]
fn exact_phase_of_a_panel() {
    let (resistivity, thickness, gap) = (12_000.0, 0.05, 0.1);
    let finish = Finish::of("panel", &BuildUp::panel(resistivity, thickness, gap), Bands::splat(0.0));
    let wall = (DVec2::splat(-10.0), DVec2::splat(10.0));
    let mut turned = 0.0_f64;
    for frequency in [80.0, 200.0, 315.0, 500.0, 900.0, 2_500.0] {
        let (found, cosine) = mirrored_once("wall 3", Some(wall), &finish, frequency);
        let i = Complex64::i();
        let x: f64 = frequency / resistivity;
        let k0 = TAU * frequency / roomwright::air::REFERENCE_SPEED;
        let k = k0 * Complex64::new(1.0 + 0.109 * x.powf(-0.618), -0.160 * x.powf(-0.618));
        let zc = Complex64::new(1.0 + 0.070 * x.powf(-0.632), -0.107 * x.powf(-0.632));
        let kz = (k * k - k0 * k0 * (1.0 - cosine * cosine)).sqrt();
        let z1 = zc * k / kz;
        let zb = -i / (cosine * (k0 * cosine * gap).tan());
        let cot = 1.0 / (kz * thickness).tan();
        let zs = z1 * (z1 - i * zb * cot) / (zb - i * z1 * cot);
        let factor = (zs * cosine - 1.0) / (zs * cosine + 1.0);
        let speed = build(&shoebox(5.0, 6.0, 4.0), Bodies::All).medium.speed;
        let expected = factor * Complex64::from_polar(1.0, 2.0 * TAU * frequency / speed * (thickness + gap) * cosine);
        let off = (found.x - expected.re).hypot(found.y - expected.im);
        assert!(off < 1e-6, "{frequency} Hz at {cosine}: {found} and {expected}");
        turned = turned.max(found.to_angle().abs());
    }
    assert!(turned > 1.0, "phases matter here: {turned} rad at most");
}

/// A panel half as wide as the zone is not a wall of wool, and a mirror point 20 cm beside a panel is not covered.
#[test]
fn mixes_what_a_panel_leaves_free() {
    let finish = Finish::of("panel", &BuildUp::panel(20_000.0, 0.1, 0.0), Bands::splat(0.0));
    let energy = |panel: Option<(DVec2, DVec2)>, frequency: f64| mirrored_once("wall 3", panel, &finish, frequency).0.length_squared();
    let everywhere = (DVec2::splat(-10.0), DVec2::splat(10.0));
    let covered = |frequency: f64| energy(Some(everywhere), frequency);
    assert!((energy(None, 500.0) - 1.0).abs() < 1e-9);
    // Ways of 2.44 m before and behind, a cosine of 0.82: half the zone is 0.9 m high and 1.1 m wide at 500 Hz, 0.23 m high and 0.28 m wide at 8 kHz.
    let half = Some((DVec2::new(-0.55, -3.0), DVec2::new(0.55, 3.0)));
    let share = (1.0 - energy(half, 500.0)) / (1.0 - covered(500.0));
    assert!((0.55..0.67).contains(&share), "a strip half as wide as an ellipse holds 0.61 of it, found {share}");
    let beside = Some((DVec2::new(0.20, -0.6), DVec2::new(0.80, 0.6)));
    let high = (1.0 - energy(beside, 8_000.0)) / (1.0 - covered(8_000.0));
    assert!(high < 0.2, "20 cm beside the point a panel takes {high} of what a covered one does");
    let low = (1.0 - energy(beside, 250.0)) / (1.0 - covered(250.0));
    assert!((0.05..0.5).contains(&low), "{low}");
}

#[test]
fn exact_places_of_the_ears() {
    let mut room = build(&shoebox(5.0, 4.0, 2.5), Bodies::All);
    (room.sources, room.receivers) = (vec![omni(DVec3::new(1.0, 2.0, 1.2))], vec![receiver(DVec3::new(3.5, 2.0, 1.2), Some(0.3))]);
    let found = responses(&traced(room, 1));
    let at: Vec<&str> = found.iter().map(|ear| ear.at.as_str()).collect();
    assert_eq!(at, ["left ear", "right ear"]);
    // Facing west, the left is south.
    assert!(DVec3::from_array(found[0].position_m).distance(DVec3::new(3.5, 2.0 - HEAD_RADIUS, 1.2)) < 1e-12);
    // The room is alike left and right of the line to the source.
    for (left, right) in found[0].level_db.iter().zip(&found[1].level_db) {
        assert!((left - right).abs() < 1e-6);
    }
}

/// A microphone moves by millimeters through the shadow of a thin hard screen and across where its mirror image ends: direct sound and image come and go
/// at once, and the pressure does not jump, since the edges make up for it. Without them it would, by what comes or goes.
#[test]
fn keeps_the_pressure_across_the_boundaries_of_light_and_mirror() {
    let mut scene = shoebox(12.0, 12.0, 12.0);
    scene.blocks = vec![block("screen", (5.975, 5.0, 5.0), (0.05, 2.0, 2.0), 0.0)];
    let mut plain = build(&scene, Bodies::All);
    for finish in &mut plain.finishes {
        *finish = Finish::uniform("hard", Bands::splat(0.0), Bands::splat(0.0));
    }
    for surface in &mut plain.surfaces {
        surface.edge_scattering = Bands::splat(0.0);
    }
    let source = DVec3::new(4.6, 6.1, 5.7);
    plain.sources = vec![omni(source)];
    // Heights at which the straight way and the mirrored one pass the upper edge, at 7 m, in the plane of the face that is met.
    let over = |x: f64, plane: f64| 5.7 + 1.3 * ((x - plane).abs() + (plane - 4.6)) / (plane - 4.6);
    for (name, x, boundary) in [("behind", 7.3, over(7.3, 5.975)), ("before", 5.0, over(5.0, 5.975))] {
        let at = |z: f64| pressure_at(&plain, DVec3::new(x, 5.9, z));
        let ((low, few), (high, many)) = (at(boundary - 1e-4), at(boundary + 1e-4));
        assert_eq!(few.abs_diff(many), 1, "{name}: {few} and {many} images at {boundary}");
        for (one, other) in low.iter().zip(high) {
            assert!(one.distance(other) < 0.02, "{name}: {one} and {other}");
        }
    }
}

/// Pressure at a microphone there, of the only source, re the free wave, at 250 Hz, 1 and 4 kHz; and how many images it hears. Only what comes within some
/// milliseconds: no wall takes part.
fn pressure_at(room: &Room, place: DVec3) -> ([DVec2; 3], usize) {
    let room = Room { receivers: vec![receiver(place, None)], ..room.clone() };
    let settings = Settings { image_order: 1, window_s: 0.006, rays: 100, ..Settings::DEFAULT };
    let traced = Traced::new(&Progress::new(), room, settings, 0.01).expect("nobody cancels");
    let ears = Ears::new(&traced.room);
    let heard = ears.hear(&Progress::new(), &traced, 0, 0).expect("nobody cancels");
    let linings = Linings::new(&traced.room, &Hanging::default());
    let speed = traced.room.medium.speed;
    let pressure = [250.0, 1000.0, 4000.0].map(|frequency| {
        let all: DVec2 = ears.arrivals(&traced, &linings, &heard[0]).iter().map(|arrival| arrival.at(frequency, speed)).sum();
        all / ears.free(&traced, &heard[0]).at(frequency, speed).length()
    });
    (pressure, heard[0].images.len())
}

/// A microphone exactly on a rim of a screen, on its face or its narrow side: it hears what the air a micrometer beside it hears. Near a rim the field grows with the root
/// of `k` times the distance, here by 0.01. On a corner, where first order itself hangs on the side that one comes from, and in the plane of the face beyond the rim,
/// where what is missing of three bends turns round, it hears no more than a free wave and its image.
#[test]
fn keeps_the_pressure_on_rims_corners_and_planes() {
    let mut scene = shoebox(12.0, 12.0, 12.0);
    scene.blocks = vec![block("screen", (5.975, 5.0, 5.0), (0.05, 2.0, 2.0), 0.0)];
    let mut plain = build(&scene, Bodies::All);
    plain.sources = vec![omni(DVec3::new(4.6, 6.1, 5.7))];
    let at = |place: DVec3| pressure_at(&plain, place).0;
    for (what, place, aside) in [
        ("rim", DVec3::new(5.975, 6.0, 7.0), DVec3::new(-1.0, 0.0, 1.0)),
        ("face", DVec3::new(5.975, 6.2, 6.1), DVec3::NEG_X),
        ("far face", DVec3::new(6.025, 6.2, 6.1), DVec3::X),
        ("narrow side", DVec3::new(6.0, 6.0, 7.0), DVec3::Z),
    ] {
        let (on, beside) = (at(place), at(place + aside * 1e-6));
        for (on, beside) in on.into_iter().zip(beside) {
            assert!(on.is_finite() && on.distance(beside) < 0.02, "{what}: {on} and {beside}");
        }
    }
    let corners = [DVec3::new(5.975, 7.0, 7.0), DVec3::new(6.025, 7.0, 7.0)];
    let in_plane = [DVec3::new(5.975, 6.0, 7.4), DVec3::new(5.975, 7.6, 7.0), DVec3::new(6.025, 7.6, 7.4)];
    for place in corners.into_iter().chain(in_plane) {
        assert!(at(place).into_iter().all(|on| on.is_finite() && on.length() <= 2.0));
    }
}

/// Spreading, air, aim, each bounce, and what joins within a millisecond make the level of every reflection, octave by octave. What joins is told as well, the same way, and
/// its energy is part of what joins; what is too weak to be told, under -40 dB each in 1-8 kHz, is no more than ten of these.
#[test]
fn exact_sum_of_what_makes_a_level() {
    let (scene, _) = roomwright::scene::read(include_str!("../scenes/attic-voice-room.toml")).expect("a shipped scene reads");
    let traced = traced(build(&scene, Bodies::All), 3);
    let linings = Linings::new(&traced.room, &Hanging::default());
    let (mut checked, mut joined) = (0, 0);
    for source in 0..traced.room.sources.len() {
        for receiver in 0..traced.room.receivers.len() {
            let found = early_reflections(&traced, &linings, source, receiver);
            let direct = traced.direct_energy(source, found.point) * flat_weights();
            for reflection in found.reflections {
                checked += made_of_its_parts(&reflection);
                let mut louder = f64::INFINITY;
                for one in &reflection.joined_by {
                    joined += made_of_its_parts(one);
                    assert!(
                        one.joined_by.is_empty() && one.excess_db == 0.0 && one.level_db <= louder && one.level_db <= reflection.level_db
                    );
                    assert!((one.delay_ms - reflection.delay_ms).abs() <= 1.0 + 1e-9);
                    assert!(one.made_of.others_db.0.iter().all(|others| others.abs() < 1e-12));
                    assert_ne!(one.points_m, reflection.points_m, "the same path twice");
                    louder = one.level_db;
                }
                let energy = |level: f64| 10.0_f64.powf(0.1 * level);
                let missed = Bands::from_fn(|band| {
                    let own = energy(reflection.level_by_octave_db[band] - reflection.made_of.others_db[band]);
                    let others: f64 = reflection.joined_by.iter().map(|one| energy(one.level_by_octave_db[band])).sum();
                    energy(reflection.level_by_octave_db[band]) - own - others
                });
                // A few that are under -40 dB each.
                assert!(missed.0.iter().all(|missed| *missed > -1e-9), "{missed:?}: {reflection:?}");
                assert!((missed * direct).sum() < 1e-3 * direct.sum(), "{missed:?}: {reflection:?}");
            }
        }
    }
    assert!(checked > 200 && joined > 100, "{checked}, {joined}");
}

/// Asserts it octave by octave; how many octaves.
fn made_of_its_parts(reflection: &Reflection) -> usize {
    let MadeOf { way_m: [way, direct], spreading_db, air_db, source_db, pattern_db, bounces_db, angles_deg, others_db } =
        &reflection.made_of;
    assert!((spreading_db - 20.0 * (direct / way).log10()).abs() < 1e-12);
    assert_eq!((bounces_db.len(), angles_deg.len()), (reflection.surfaces.len(), reflection.surfaces.len()));
    for band in Band::ALL {
        let bounces: f64 = bounces_db.iter().map(|bounce| bounce[band]).sum();
        let sum = spreading_db + air_db[band] + source_db[band] + pattern_db + bounces + others_db[band];
        let level = reflection.level_by_octave_db[band];
        assert!((sum - level).abs() < 1e-9 || level <= -100.0, "{sum} and {level}: {reflection:?}");
        assert!(others_db[band] >= -1e-9 && air_db[band] <= 0.0);
    }
    Band::ALL.len()
}
