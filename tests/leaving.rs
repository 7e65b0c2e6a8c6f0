//! Which way rays leave a source: whatever the way, their shares give back what an even source sends, and every batch has its part of each direction.

use glam::DVec3;
use roomwright::absorbers::Finish;
use roomwright::bands::{Band, Bands};
use roomwright::directivity::polar::Polar;
use roomwright::directivity::{Directivity, DirectivityTable};
use roomwright::progress::Progress;
use roomwright::rays::{Chunk, trace};
use roomwright::response::Estimate;
use roomwright::room::Room;
use roomwright::settings::{Leaving, Settings};

use crate::rays::uniform_box;

const SOURCE: DVec3 = DVec3::new(1.2, 1.0, 1.1);

fn beaming(directivity: Directivity) -> Room {
    let mut room = uniform_box([5.1, 3.9, 2.6], 0.1, Bands::splat(0.3), SOURCE, DVec3::new(3.6, 2.7, 1.3));
    room.sources[0].directivity = directivity;
    room.sources[0].aim = DVec3::new(0.6, 0.0, 0.8);
    room
}

/// Data that send most beside the axis, and from 45 degrees on next to nothing.
fn measured_lobe() -> Polar {
    let levels = Bands::from_fn(|band| (band.nominal() == 1000).then(|| vec![0.0, 8.0, -30.0, -60.0, -20.0]));
    Polar::new(&[0.0, 25.0, 45.0, 120.0, 180.0], &levels).expect("sound data")
}

/// Every batch's first chunk of the early part.
fn chunks(room: &Room, leaving: Leaving, rays: u32) -> Vec<Chunk> {
    let settings = Settings { rays, leaving, ..Settings::DEFAULT };
    let paths = trace(&Progress::new(), room, &settings, 0.02).expect("nobody cancels");
    assert!(paths.groups.len() == 1, "one way for all octaves");
    paths.groups[0].1[0].chunks.clone()
}

/// Where a ray of the early part leaves to.
fn direction(room: &Room, chunk: &Chunk, ray: usize) -> DVec3 {
    let hit = chunk.hits[chunk.hits_of(ray).start];
    let chart = &room.surfaces[usize::from(hit.surface)].chart;
    let way = chart.point(glam::DVec2::new(hit.position[0].into(), hit.position[1].into())) - SOURCE;
    way / way.length()
}

/// Mean over the batches of what the rays say of the mean of something over all directions.
fn mean(room: &Room, chunks: &[Chunk], something: impl Fn(DVec3) -> f64) -> Estimate {
    let of_chunk = |chunk: &Chunk| {
        let of_ray = |ray: usize| f64::from(chunk.rays[ray].share) * something(direction(room, chunk, ray));
        (0..chunk.rays.len()).map(of_ray).sum::<f64>()
    };
    Estimate::mean(&chunks.iter().map(of_chunk).collect::<Vec<f64>>())
}

/// Means over the sphere that are known: of squares and fourth powers of the cosines with three axes (1/3, 1/5), of the energy that a piston sends
/// or measured data say (`Directivity::mean_energy`, checked elsewhere), of a narrow cone about a normal. Shares of a batch add up to 1.
#[test]
fn exact_means_over_all_directions() {
    let piston = Directivity::Piston { radius: 0.15 };
    let lobe = Directivity::Polar(measured_lobe());
    for (directivity, leaving) in [
        (Directivity::Omni, Leaving::Even),
        (Directivity::Omni, Leaving::Aimed),
        (Directivity::Forward, Leaving::Aimed),
        (piston, Leaving::Aimed),
        (piston, Leaving::Even),
        (lobe, Leaving::Aimed),
        (lobe, Leaving::Even),
    ] {
        let room = beaming(directivity);
        let chunks = chunks(&room, leaving, 100_000);
        for chunk in &chunks {
            let sum: f64 = chunk.rays.iter().map(|ray| f64::from(ray.share)).sum();
            assert!((sum - 1.0).abs() < 1e-6, "{sum}");
        }
        let check = |what: &str, found: Estimate, expected: f64| {
            assert!(
                (found.value - expected).abs() < 4.0 * found.se + 1e-6,
                "{directivity:?} {leaving:?} {what}: {found:?}, expected {expected}"
            );
        };
        for axis in [DVec3::X, DVec3::Z, DVec3::new(0.48, 0.6, 0.64)] {
            check("square", mean(&room, &chunks, |way| way.dot(axis).powi(2)), 1.0 / 3.0);
            check("fourth power", mean(&room, &chunks, |way| way.dot(axis).powi(4)), 0.2);
            // Half a turn away as well: 2 x (1 - cos 3 degrees) / 2.
            let narrow = 3.0_f64.to_radians().cos();
            check("cone", mean(&room, &chunks, |way| f64::from(way.dot(axis).abs() > narrow)), 1.0 - narrow);
        }
        let table = DirectivityTable::new(directivity, room.medium.speed);
        for band in Band::ALL {
            let sent = mean(&room, &chunks, |way| table.energy(way.dot(room.sources[0].aim))[band]);
            check(band.label(), sent, table.mean_energy()[band]);
        }
    }
}

/// What a narrow beam sends is known much better by rays that are aimed; so is a narrow cone about the normal of a wall that faces another one.
#[test]
fn keeps_more_rays_where_the_energy_is() {
    let room = beaming(Directivity::Piston { radius: 0.15 });
    let table = DirectivityTable::new(room.sources[0].directivity, room.medium.speed);
    let error = |leaving: Leaving, something: &dyn Fn(DVec3) -> f64| mean(&room, &chunks(&room, leaving, 40_000), something).se;
    let beam = |way: DVec3| table.energy(way.dot(room.sources[0].aim))[Band::new(7)];
    let narrow = |way: DVec3| f64::from(way.x > 0.5_f64.to_radians().cos());
    for something in [&beam as &dyn Fn(DVec3) -> f64, &narrow] {
        let (even, aimed) = (error(Leaving::Even, something), error(Leaving::Aimed, something));
        assert!(aimed < 0.4 * even, "{aimed} aimed, {even} even");
    }
}

/// A hall whose source has walls to one side only, or stands before a slanting one, has no cones; nothing is lost by it.
#[test]
fn keeps_even_shares_where_nothing_faces_the_source() {
    let mut room = uniform_box([5.1, 3.9, 2.6], 0.1, Bands::splat(0.3), SOURCE, DVec3::new(3.6, 2.7, 1.3));
    // A lone floor, ceiling and wall each: their opposites turned away.
    for surface in &mut room.surfaces {
        surface.outline.corners.iter_mut().for_each(|corner| *corner *= if surface.chart.normal.min_element() < -0.5 { 0.01 } else { 1.0 });
    }
    room.finishes.iter_mut().for_each(|finish| *finish = Finish::uniform("even", Bands::splat(0.1), Bands::splat(0.3)));
    let shares: Vec<f32> = chunks(&room, Leaving::Aimed, 2_000).iter().flat_map(|chunk| chunk.rays.iter().map(|ray| ray.share)).collect();
    assert!(shares.iter().all(|share| (share - 0.01).abs() < 1e-7), "{:?}", &shares[..5]);
}
