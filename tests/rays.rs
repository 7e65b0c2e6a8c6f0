//! Traced rays: exact decay rates, energy balance, and the three classes of path against one another.

use glam::DVec3;
use roomwright::absorbers::Finish;
use roomwright::bands::{Band, Bands};
use roomwright::directivity::{Directivity, Pattern};
use roomwright::hanging::Hanging;
use roomwright::progress::Progress;
use roomwright::response::{Estimate, Response};
use roomwright::room::{Bodies, Emitter, Receiver, Room, build};
use roomwright::scene::SourceKind;
use roomwright::settings::Settings;
use roomwright::weigh::{Linings, Traced, weigh_rays};

use crate::room::shoebox;

/// A box with one finish everywhere, an omni source and an omni seat, no air absorption, speed of sound 343 m/s.
fn uniform_box(size: [f64; 3], absorption: f64, scattering: Bands<f64>, source: DVec3, seat: DVec3) -> Room {
    let mut room = build(&shoebox(size[0], size[1], size[2]), Bodies::Standing);
    let finish = Finish::uniform("even", Bands::splat(absorption), scattering);
    room.finishes = vec![finish; room.finishes.len()];
    room.medium.speed = 343.0;
    room.medium.attenuation = Bands::splat(0.0);
    room.sources = vec![Emitter {
        name: "source".to_owned(),
        kind: SourceKind::Loudspeaker,
        position: source,
        aim: DVec3::X,
        directivity: Directivity::Omni,
    }];
    room.receivers = vec![Receiver {
        name: "seat".to_owned(),
        position: seat,
        facing: DVec3::X,
        zone_radius: Some(0.1),
        pattern: Pattern { omni: 1.0 },
    }];
    room
}

fn responses(room: Room, settings: Settings, end_s: f64) -> (Traced, Response) {
    let progress = Progress::new();
    let traced = Traced::new(&progress, room, settings, end_s).expect("nobody cancels");
    let linings = Linings::new(&traced.room, &Hanging::default());
    let rays = weigh_rays(&progress, &traced, &linings).expect("nobody cancels").remove(0).remove(0);
    let response = Response::new(&traced, &linings, rays, 0, 0);
    (traced, response)
}

/// Decay rate of the energy between two times, from the energies of two long windows.
fn decay_rate(response: &Response, band: Band, from_s: f64, window_s: f64) -> Estimate {
    let curve = response.resampled(band);
    let bins = |t: f64| (t / response.bin_s).round() as usize;
    curve
        .estimate(|energy| {
            let sum = |from: f64| energy[bins(from)..bins(from + window_s)].iter().sum::<f64>();
            Some((sum(from_s) / sum(from_s + window_s)).ln() / window_s)
        })
        .expect("the record is long enough")
}

/// Slowest decay rate of a Lambertian cube, computed independently by radiosity and Monte Carlo: edge 3 m, 343 m/s.
#[test]
fn exact_lambertian_cube() {
    for (absorption, rate, from_s, window_s) in [(0.1, 0.15471, 0.08, 0.12), (0.5, 0.93252, 0.03, 0.03)] {
        let edge = 3.0;
        let room = uniform_box([edge; 3], absorption, Bands::splat(1.0), DVec3::new(0.9, 1.1, 1.3), DVec3::new(2.0, 1.8, 1.4));
        let settings = Settings { rays: 200_000, tail_one_in: 1, image_order: 0, ..Settings::DEFAULT };
        let (_, response) = responses(room, settings, from_s + 2.0 * window_s + 0.02);
        let found = decay_rate(&response, Band::new(4), from_s, window_s);
        let expected = rate * 343.0 / edge;
        eprintln!("a {absorption}: {} +- {} expected {expected}: {:.3} %", found.value, found.se, 100.0 * (found.value / expected - 1.0));
        assert!((found.value / expected - 1.0).abs() < 0.005, "a = {absorption}: {found:?}, expected {expected}");
    }
}

pub(crate) fn furnished_attic() -> roomwright::scene::Scene {
    use glam::DVec2;
    use roomwright::scene::*;
    let mut scene = crate::room::attic();
    for wall in &mut scene.walls {
        wall.material = "Plasterboard on frame, 100 mm air space".to_owned();
    }
    scene.floor_material = "Wood floor (on joists)".to_owned();
    for plane in &mut scene.ceiling {
        plane.material = "Plasterboard on frame, 100 mm air space".to_owned();
    }
    let toward = |from: DVec3, to: DVec3| (to - from).try_normalize().expect("apart");
    let ear = DVec3::new(2.6, 2.3, 1.2);
    for (name, x) in [("left", 1.95), ("right", 3.25)] {
        let position = DVec3::new(x, 1.1, 1.2);
        scene.sources.push(Source {
            name: name.to_owned(),
            kind: SourceKind::Loudspeaker,
            position,
            aim: toward(position, ear),
            directivity: Directivity::Piston { radius: 0.065 },
        });
    }
    scene.seats.push(Seat { name: "seat".to_owned(), ear, facing: -DVec3::Y, zone_radius: 0.3 });
    scene.microphones.push(Microphone {
        name: "microphone".to_owned(),
        position: DVec3::new(3.0, 3.6, 1.4),
        aim: DVec3::Y,
        pattern: Pattern { omni: 0.5 },
    });
    scene.blocks.push(crate::room::block("desk", (1.9, 0.9, 0.7), (1.4, 0.6, 0.04), 0.0));
    let panel = |name: &str, kind, size: DVec2, count| PanelType {
        name: name.to_owned(),
        kind,
        size,
        thickness: 0.05,
        core: Core::Porous { flow_resistivity: 12_000.0 },
        facing: None,
        gap: 0.05,
        count,
        price: None,
        mass: None,
        scattering: Bands::splat(0.05),
        least_distance: 0.0,
    };
    scene.stock = vec![
        panel("wall panel", StockKind::Panel, DVec2::new(0.6, 1.2), 12),
        panel("corner panel", StockKind::Corner, DVec2::new(0.6, 1.2), 4),
        panel("cloud", StockKind::Cloud, DVec2::new(0.6, 1.2), 2),
    ];
    scene
}

#[test]
fn timing_probe() {
    use std::time::Instant;
    let scene = furnished_attic();
    let progress = Progress::new();
    let t = Instant::now();
    let (findings, traced) = roomwright::plan::place::as_it_stands(&progress, &scene).unwrap();
    eprintln!("hear {:?}; store {} MB; end {} s escaped {} groups {}", t.elapsed(), traced.paths.bytes() / 1_000_000, traced.paths.end_s, traced.paths.escaped, traced.paths.groups.len());
    for pair in &findings.pairs {
        eprintln!("{} -> {}: early {:?} excess {:.1} sti {:?} gap {:?}", pair.source, pair.receiver, pair.early_level_db, pair.early_excess_db, pair.speech_transmission_index, pair.initial_delay_gap_ms);
        for o in &pair.octaves {
            eprintln!("  {:5} {:?} EDT {:?} T30 {:?} C50 {:?} G {:?} ess {:.2} {:?}", o.frequency_hz, o.basis, o.edt_s, o.t30_s, o.c50_db, o.g_db, o.effective_sample_share, o.note);
        }
        for r in &pair.reflections { eprintln!("   {:.2} ms {:.1} dB {:?}", r.delay_ms, r.level_db, r.surfaces); }
    }
    let t = Instant::now();
    let room = traced.room.clone();
    let fresh = Traced::new(&progress, room, scene.settings.clone(), traced.paths.end_s).unwrap();
    eprintln!("trace {:?}", t.elapsed());
    let linings = Linings::new(&fresh.room, &Hanging::default());
    let t = Instant::now();
    weigh_rays(&progress, &fresh, &linings).unwrap();
    eprintln!("weigh {:?}", t.elapsed());
    let t = Instant::now();
    let placed = roomwright::study::place(&progress, &scene).unwrap();
    eprintln!("place {:?}", t.elapsed());
    for h in &placed.plan.hot_spots { eprintln!("{h:?}"); }
    for p in &placed.plan.placed { eprintln!("{p:?}"); }
    for l in &placed.plan.layouts { eprintln!("{l:?}"); }
    eprintln!("{}", placed.plan.stopped_because);
}
