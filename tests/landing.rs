//! Energy that lands on surfaces: the whole source, the solid angle of a wall, the time of flight, the geometric series of the bounces.
//!
//! Where every bounce leaves the same share in every octave the energy of a ray is not drawn by lot, and sums hold to single precision.

use std::f64::consts::PI;

use glam::DVec3;
use roomwright::bands::{Band, Bands};
use roomwright::hanging::Hanging;
use roomwright::plan::SurfaceMap;
use roomwright::progress::Progress;
use roomwright::room::Room;
use roomwright::settings::Settings;
use roomwright::study::Landing;
use roomwright::weigh::{Linings, Traced, landing};

use crate::rays::uniform_box;
use crate::support::on_threads;

const SIZE: [f64; 3] = [5.1, 3.9, 2.6];
const SOURCE: DVec3 = DVec3::new(1.2, 1.0, 1.1);
const SEAT: DVec3 = DVec3::new(3.6, 2.7, 1.3);
const RAYS: u32 = 20_000;
fn kilohertz() -> Band {
    Band::new(4)
}

/// Scattering that the stored chance of a way, in 255ths, holds exactly.
const SCATTERING: f64 = 102.0 / 255.0;

fn test_box(absorption: f64) -> Room {
    uniform_box(SIZE, absorption, Bands::splat(SCATTERING), SOURCE, SEAT)
}

fn landed(room: Room, settings: &Settings) -> (Traced, Landing) {
    let traced = Traced::new(&Progress::new(), room, Settings { rays: RAYS, ..settings.clone() }, 0.12).expect("nobody cancels");
    let linings = Linings::new(&traced.room, &Hanging::default());
    let landing = landing::landing(&Progress::new(), &traced, &linings, 0, kilohertz()).expect("nobody cancels");
    (traced, landing)
}

/// Share of an omni source's energy on each surface, of these values by patch.
fn shares(landing: &Landing, value: impl Fn(usize) -> f64) -> Vec<f64> {
    let share = |own: &roomwright::room::SurfaceGrid| {
        let patch = |(slot, area): (usize, &f64)| if *area > 1e-9 { value(own.first + slot) * area / (4.0 * PI) } else { 0.0 };
        own.area.iter().enumerate().map(patch).sum()
    };
    landing.grid.surfaces.iter().map(share).collect()
}

/// Solid angle of a rectangle over its share of the sphere, seen from `height` over a point of its plane; `low` and `high` are its
/// corners from there (Van Oosterom and Strackee's formula for a rectangle: four corners of `atan(x y / (h r))`).
fn exact_share(low: [f64; 2], high: [f64; 2], height: f64) -> f64 {
    let corner = |x: f64, y: f64| (x * y / (height * (x * x + y * y + height * height).sqrt())).atan();
    (corner(high[0], high[1]) - corner(low[0], high[1]) - corner(high[0], low[1]) + corner(low[0], low[1])) / (4.0 * PI)
}

#[test]
fn exact_whole_source_at_the_first_bounce() {
    let (_, landing) = landed(test_box(1.0), &Settings::DEFAULT);
    let straight: f64 = shares(&landing, |patch| landing.directly(patch).value).iter().sum();
    assert!((straight - 1.0).abs() < 1e-5, "{straight}");
    let all: f64 = shares(&landing, |patch| landing.at(patch, 0.1).value).iter().sum();
    assert!((all - 1.0).abs() < 1e-5, "walls that take all send nothing back: {all}");
}

/// The share of rays that meet a wall is a share of independent tries: 4 standard errors, odds 1 in 16,000 a wall.
#[test]
fn exact_solid_angle_of_every_wall() {
    let (traced, landing) = landed(test_box(0.3), &Settings::DEFAULT);
    let found = shares(&landing, |patch| landing.directly(patch).value);
    let mut sum = 0.0;
    for (surface, found) in traced.room.surfaces.iter().zip(found) {
        let (low, high) = surface.outline.bounds();
        let foot = surface.chart.position(SOURCE);
        let expected = exact_share((low - foot).to_array(), (high - foot).to_array(), surface.chart.height(SOURCE));
        let se = (expected * (1.0 - expected) / f64::from(RAYS)).sqrt();
        assert!((found - expected).abs() < 4.0 * se, "{}: {found}, expected {expected} +- {se}", surface.name);
        sum += expected;
    }
    assert!((sum - 1.0).abs() < 1e-12, "six walls are the whole sphere: {sum}");
}

/// Every bounce leaves 0.4: in all `1 / 0.6` of the source lands. The part that is traced twice, before the tail, counts once.
#[test]
fn exact_sum_of_all_bounces() {
    for early_s in [0.005, 0.02, 0.2] {
        let (_, landing) = landed(test_box(0.6), &Settings { early_s, tail_one_in: 1, window_s: 0.004, ..Settings::DEFAULT });
        let all: f64 = shares(&landing, |patch| landing.at(patch, 0.1).value).iter().sum();
        // 34 m are at least 6 bounces of any ray, 20 of most.
        assert!((all - 1.0 / 0.6).abs() < 2e-3, "{early_s}: {all}");
        let early: f64 = shares(&landing, |patch| landing.at(patch, 0.03).value).iter().sum();
        assert!(early > 1.4 && early < all);
    }
}

/// Nothing lands before sound can be there, and what comes straight has landed when sound has been at the farthest corner.
#[test]
fn exact_time_of_flight() {
    let (traced, landing) = landed(test_box(1.0), &Settings::DEFAULT);
    for (surface, own) in traced.room.surfaces.iter().zip(&landing.grid.surfaces) {
        for slot in 0..own.len() {
            let (low, patch) = (own.corner(slot), own.first + slot);
            let (_, edge) = surface.outline.bounds();
            let high = (low + landing.grid.side).min(edge);
            let foot = surface.chart.position(SOURCE);
            let way = |position: glam::DVec2| position.distance(foot).hypot(surface.chart.height(SOURCE)) / 343.0;
            let nearest = way(foot.clamp(low, high));
            let farthest = [low, high, glam::DVec2::new(low.x, high.y), glam::DVec2::new(high.x, low.y)].map(way);
            let farthest = farthest.into_iter().fold(0.0, f64::max);
            // Steps that are over: the last before the nearest point, the first after the farthest.
            let before = (nearest * 1000.0).floor() / 1000.0;
            let after = (farthest * 1000.0).floor() / 1000.0 + 0.001;
            assert_eq!(landing.at(patch, before).value, 0.0, "{} {slot}", surface.name);
            assert!((landing.at(patch, after).value - landing.directly(patch).value).abs() < 1e-6);
        }
    }
}

#[test]
fn keeps_energy_that_has_landed() {
    let (_, landing) = landed(test_box(0.2), &Settings::DEFAULT);
    for patch in (0..landing.grid.count).step_by(7) {
        let values: Vec<f64> = (0..=100).map(|step| landing.at(patch, f64::from(step) * 0.001).value).collect();
        assert!(values.windows(2).all(|two| two[0] <= two[1]) && values[0] == 0.0);
        assert!(landing.at(patch, 7.0) == landing.at(patch, 0.1), "nothing is known beyond");
    }
    let maps = landing.maps(0.02);
    assert_eq!(maps.len(), landing.grid.surfaces.len());
    let ceiling: &SurfaceMap = maps.iter().find(|map| map.surface == 5).expect("six surfaces");
    let patch = landing.grid.surfaces[5].first + ceiling.columns + 2;
    let level = 10.0 * landing.at(patch, 0.02).value.log10();
    assert_eq!(ceiling.at(ceiling.origin + landing.grid.side * glam::DVec2::new(2.5, 1.5)).map(|found| found.value), Some(level));
}

/// The differences of two seeds, each over its standard error, squared: 20 batches say 19/17 on average (variance of Student's t).
#[test]
fn keeps_standard_errors_honest() {
    let (_, one) = landed(test_box(0.2), &Settings::DEFAULT);
    let (_, other) = landed(test_box(0.2), &Settings { seed: 2, ..Settings::DEFAULT });
    let (mut sum, mut count) = (0.0, 0.0);
    for patch in 0..one.grid.count {
        let (a, b) = (one.at(patch, 0.1), other.at(patch, 0.1));
        if a.se > 0.0 && b.se > 0.0 {
            sum += (a.value - b.value).powi(2) / (a.se.powi(2) + b.se.powi(2));
            count += 1.0;
        }
    }
    assert!(count > 1000.0);
    // Some 2000 patches, neighbors nearly independent: 0.15 is four standard errors and more.
    assert!((sum / count - 19.0 / 17.0).abs() < 0.15, "{}", sum / count);
}

#[test]
fn keeps_the_same_numbers_on_any_threads() {
    let run = || landed(test_box(0.3), &Settings::DEFAULT).1;
    assert_eq!(on_threads(1, run), on_threads(3, run));
}
