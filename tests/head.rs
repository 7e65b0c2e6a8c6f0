//! A measured head: filters made of the program's own sphere give the sphere back, delays between directions by Woodworth, level, time zero
//! and low octaves, directions as the head has them, what makes no head.

use std::f64::consts::{PI, TAU};

use glam::{DMat3, DVec3};
use num_complex::Complex64;
use roomwright::listen::ears::{EarsError, Head, RADIUS};
use roomwright::listen::filtered::{Filtered, Filters, FiltersError};
use roomwright::listen::limit::Limit;
use roomwright::response::Pickup;

use crate::validation::{Check, hold};

/// Speed of sound of all checks, m/s.
const SPEED: f64 = 343.0;
/// Samples a second of most of them.
const RATE: u32 = 48_000;

/// From this many degrees to the left and up, as a head that faces along x has them.
pub(crate) fn way(azimuth: f64, elevation: f64) -> DVec3 {
    let ((sine, cosine), (height, flat)) = (azimuth.to_radians().sin_cos(), elevation.to_radians().sin_cos());
    DVec3::new(flat * cosine, flat * sine, height)
}

/// Directions every so many degrees, from the nadir to the zenith.
fn grid(step: usize) -> Vec<DVec3> {
    let rings = (step..180).step_by(step).flat_map(|down| (0..360).step_by(step).map(move |azimuth| (azimuth, 90.0 - down as f64)));
    let mut ways: Vec<DVec3> = rings.map(|(azimuth, elevation)| way(azimuth as f64, elevation)).collect();
    ways.extend([DVec3::Z, DVec3::NEG_Z]);
    ways
}

/// Filters of whatever an ear (0 left, 1 right) makes of a direction.
fn set(directions: Vec<DVec3>, of: impl Fn(usize, DVec3) -> Vec<f64>) -> Filters {
    let responses = directions.iter().map(|direction| [0, 1].map(|ear| of(ear, *direction))).collect();
    let delays = vec![[0.0; 2]; directions.len()];
    Filters { title: "made".to_owned(), rate_hz: f64::from(RATE), directions, responses, delays }
}

/// The program's own sphere, facing along x.
pub(crate) fn sphere(rate: u32) -> Head {
    Head::new(DVec3::X, RADIUS, SPEED, rate).expect("a head")
}

fn of_sphere(step: usize) -> Filters {
    let head = sphere(RATE);
    set(grid(step), |ear, direction| head.response(ear, direction))
}

fn heard(filters: &Filters, rate: u32) -> Filtered {
    Filtered::new(DVec3::X, filters, SPEED, rate).expect("a head")
}

/// What an ear makes of a direction at a frequency, time zero when the wave passes the middle of the head.
pub(crate) fn at(pickup: &dyn Pickup, (ear, from): (usize, DVec3), (frequency_hz, rate): (f64, u32)) -> Complex64 {
    let step = TAU * frequency_hz / f64::from(rate);
    let lead = pickup.lead() as f64;
    pickup.response(ear, from).iter().enumerate().map(|(index, value)| value * Complex64::cis(-step * (index as f64 - lead))).sum()
}

/// Difference of two pressures in dB and radians.
pub(crate) fn apart(a: Complex64, b: Complex64) -> (f64, f64) {
    (20.0 * (a / b).norm().log10().abs(), (a / b).arg().abs())
}

/// Directions between those of any grid here.
const BETWEEN: [(f64, f64); 7] = [(2.5, 2.5), (37.0, 12.0), (88.0, -3.0), (143.0, 41.0), (-61.0, -52.0), (-112.0, 77.0), (181.0, 3.0)];

#[test]
fn exact_sphere_where_filters_are_of_the_sphere() {
    let filters = of_sphere(30);
    for rate in [44_100, 48_000, 96_000] {
        let (head, sphere) = (heard(&filters, rate), sphere(rate));
        for from in filters.directions.iter().step_by(5).copied() {
            for frequency_hz in [60.0, 250.0, 1000.0, 4000.0, 10_000.0, 16_000.0] {
                for ear in [0, 1] {
                    let (level, phase) =
                        apart(at(&head, (ear, from), (frequency_hz, rate)), at(&sphere, (ear, from), (frequency_hz, rate)));
                    assert!(level < 0.02 && phase < 0.005, "{rate}: {from}, {frequency_hz} Hz: {level} dB, {phase} rad");
                }
            }
        }
    }
}

#[test]
fn bounds_what_is_between_directions() {
    let sphere = sphere(RATE);
    for (step, allowed) in [(5, 0.1), (10, 0.4)] {
        let head = heard(&of_sphere(step), RATE);
        for (azimuth, elevation) in BETWEEN {
            for (frequency_hz, ear) in
                [100.0, 500.0, 2000.0, 5000.0, 10_000.0].into_iter().flat_map(|frequency| [(frequency, 0), (frequency, 1)])
            {
                let from = way(azimuth, elevation);
                let (level, phase) = apart(at(&head, (ear, from), (frequency_hz, RATE)), at(&sphere, (ear, from), (frequency_hz, RATE)));
                // Opposite to the source, sound from all round the sphere meets in a spot. At 10 kHz it is 17 degrees across (first zero
                // of J0), and at its edge there is hardly any: no straight line between directions follows that.
                let allowed = if from.y * [1.0, -1.0][ear] < -0.98 { 2.0 } else { allowed };
                assert!(level < allowed, "{step}: {azimuth}, {elevation} at {frequency_hz} Hz: {level} dB");
                assert!(phase < 0.01, "{step}: {azimuth}, {elevation} at {frequency_hz} Hz: {phase} rad");
            }
        }
    }
}

/// By how much later the right ear hears than the left one between 3 and 8 kHz, seconds: the largest of the correlation of both.
fn later_s(head: &dyn Pickup, from: DVec3) -> f64 {
    let lines: Vec<(f64, Complex64)> = (60..160)
        .map(|line| 50.0 * f64::from(line))
        .map(|frequency_hz| {
            let [left, right] = [0, 1].map(|ear| at(head, (ear, from), (frequency_hz, RATE)));
            (frequency_hz, left * right.conj())
        })
        .collect();
    let alike =
        |time_s: f64| lines.iter().map(|(frequency_hz, both)| (both * Complex64::cis(-TAU * frequency_hz * time_s)).re).sum::<f64>();
    let times = (-10_000..=10_000).map(|tenth| 1e-7 * f64::from(tenth));
    times.max_by(|a, b| alike(*a).total_cmp(&alike(*b))).expect("times")
}

/// Delays between directions of a set whose ears hear nothing but Woodworth's delay.
pub(crate) fn delays_in_high_octaves() -> Vec<Check> {
    let woodworth = |across: f64| RADIUS / SPEED * (across.asin() + across);
    let limit = Limit::new(RATE);
    // Ears that hear nothing but that delay, half of it each: 10 degrees from one direction to the next it changes by 4 samples.
    let filters = set(grid(10), |ear, direction| {
        let late_s = 0.5 * woodworth(direction.y) * [-1.0, 1.0][ear];
        (0..300).map(|sample| limit.pulse((f64::from(sample) - 150.0) / f64::from(RATE) - late_s)).collect()
    });
    let head = heard(&filters, RATE);
    let row = |(azimuth, elevation): (f64, f64)| {
        let from = way(azimuth, elevation);
        Check {
            what: format!("delay of the far ear out of filters every 10 degrees, {azimuth} degrees to the left, {elevation} up, us"),
            ours: 1e6 * later_s(&head, from),
            expected: 1e6 * woodworth(from.y),
            tolerance: 3.0,
            why: "a twentieth of a sample is 1 us; just noticed are 10",
            source: "R. S. Woodworth (1938): (r / c)(a + sin a), far source (from memory)",
        }
    };
    BETWEEN.map(row).into()
}

#[test]
fn published_delay_between_ears_in_high_octaves() {
    hold(&delays_in_high_octaves());
    // And out of filters of the sphere comes the sphere's own delay (which is Woodworth's within some percent, `listen.rs`).
    let (head, sphere) = (heard(&of_sphere(5), RATE), sphere(RATE));
    for (azimuth, elevation) in BETWEEN {
        let from = way(azimuth, elevation);
        let miss = later_s(&head, from) - later_s(&sphere, from);
        assert!(miss.abs() < 3e-6, "{azimuth}, {elevation}: {miss} s");
    }
}

#[test]
fn keeps_level_and_time_zero_whatever_a_file_has() {
    let plain = of_sphere(30);
    let mut other = plain.clone();
    for (ears, delays) in other.responses.iter_mut().zip(&mut other.delays) {
        for (ear, delay) in ears.iter_mut().zip(delays) {
            // Later by 100.25 samples: by zeros before, by the delay of the set, by less than a sample.
            ear.splice(0..0, [0.0; 60]);
            ear.iter_mut().for_each(|value| *value *= 0.037);
            *delay = 40.25;
        }
    }
    let (plain, other) = (heard(&plain, RATE), heard(&other, RATE));
    for (azimuth, elevation) in BETWEEN {
        let from = way(azimuth, elevation);
        for frequency_hz in [100.0, 500.0, 2000.0, 8000.0, 16_000.0] {
            let (level, phase) = apart(at(&plain, (0, from), (frequency_hz, RATE)), at(&other, (0, from), (frequency_hz, RATE)));
            assert!(level < 0.005 && phase < 0.005, "{azimuth}, {elevation} at {frequency_hz} Hz: {level} dB, {phase} rad");
        }
    }
    assert_eq!(plain.lead(), other.lead());
}

#[test]
fn keeps_low_octaves_that_a_file_does_not_hold() {
    // Only 1 ms of each filter: nothing of 63 Hz, the rest as it was.
    let head = sphere(RATE);
    let short = set(grid(15), |ear, direction| head.response(ear, direction)[head.lead() - 20..][..48].to_vec());
    let bare = |frequency_hz: f64| {
        let step = TAU * frequency_hz / f64::from(RATE);
        short.responses[0][0]
            .iter()
            .enumerate()
            .map(|(index, value)| value * Complex64::cis(-step * index as f64))
            .sum::<Complex64>()
            .norm()
    };
    assert!(20.0 * bare(63.0).log10() < -0.3, "the filters are short of it: {} dB", 20.0 * bare(63.0).log10());
    let made = heard(&short, RATE);
    for (azimuth, elevation) in BETWEEN {
        let from = way(azimuth, elevation);
        let (level, phase) = apart(at(&made, (1, from), (63.0, RATE)), at(&head, (1, from), (63.0, RATE)));
        assert!(level < 0.05 && phase < 0.01, "{azimuth}, {elevation}: {level} dB, {phase} rad");
    }
}

/// Filters that are a pulse as strong as the direction says: what is ahead, to the left and above is louder.
fn told_apart() -> Filters {
    let limit = Limit::new(RATE);
    let strength = |ear: usize, direction: DVec3| 1.0 + 0.4 * direction.x + [0.2, -0.2][ear] * direction.y + 0.3 * direction.z;
    let pulse: Vec<f64> = (0..200).map(|sample| limit.pulse((f64::from(sample) - 100.0) / f64::from(RATE))).collect();
    set(grid(10), |ear, direction| pulse.iter().map(|value| strength(ear, direction) * value).collect())
}

#[test]
fn keeps_directions_as_the_head_has_them() {
    let filters = told_apart();
    let level = |head: &Filtered, ear: usize, from: DVec3| at(head, (ear, from), (3000.0, RATE)).norm();
    // A head that faces north (y): ahead is y, left is -x.
    let head = Filtered::new(DVec3::Y, &filters, SPEED, RATE).expect("a head");
    let front = level(&head, 0, DVec3::Y);
    for (from, expected) in
        [(DVec3::NEG_Y, 0.6 / 1.4), (DVec3::NEG_X, 1.2 / 1.4), (DVec3::X, 0.8 / 1.4), (DVec3::Z, 1.3 / 1.4), (DVec3::NEG_Z, 0.5)]
    {
        let ratio = level(&head, 0, from) / front;
        assert!((ratio / expected - 1.0).abs() < 0.01, "{from}: {ratio} for {expected}");
    }
    assert!((level(&head, 1, DVec3::NEG_X) / front / (0.8 / 1.4) - 1.0).abs() < 0.01, "the other ear");
    // Turned by 30 degrees to the left, the same from 30 degrees farther to the left; tilted up by 20, from 20 degrees farther up.
    let turned = head.turned(DMat3::from_rotation_z(PI / 6.0) * DVec3::Y).expect("a head");
    let tilted = head.turned(DMat3::from_rotation_x(PI / 9.0) * DVec3::Y).expect("a head");
    for (azimuth, elevation) in BETWEEN {
        let from = DMat3::from_rotation_z(PI / 2.0) * way(azimuth, elevation);
        let expected = head.response(0, from);
        for (other, turn) in [(&turned, DMat3::from_rotation_z(PI / 6.0)), (&tilted, DMat3::from_rotation_x(PI / 9.0))] {
            let found = other.response(0, turn * from);
            let miss = expected.iter().zip(&found).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            assert!(miss < 1e-9, "{azimuth}, {elevation}: {miss}");
        }
    }
    let silent = |ear: usize, from: DVec3| head.response(ear, from).iter().all(|value| *value == 0.0);
    assert!(silent(2, DVec3::Y) && silent(0, DVec3::ZERO) && silent(0, DVec3::NAN));
    assert!(!silent(0, DVec3::Y));
}

#[test]
fn keeps_the_nearest_direction_where_none_are_round() {
    // A ring on the level alone: from above one of them is heard as it is, and nothing of all of them.
    let ring: Vec<DVec3> = (0..24).map(|number| way(15.0 * f64::from(number), 0.0)).collect();
    let head = sphere(RATE);
    let filters = set(ring, |ear, direction| head.response(ear, direction));
    assert!((filters.gap_deg() - 90.0).abs() < 2.0, "{}", filters.gap_deg());
    let made = heard(&filters, RATE);
    for from in [way(30.0, 50.0), way(30.0, -50.0)] {
        let nearest = at(&made, (0, way(30.0, 0.0)), (4000.0, RATE)).norm();
        let (level, _) = apart(at(&made, (0, from), (4000.0, RATE)), Complex64::from(nearest));
        assert!(level < 0.01, "{from}: {level} dB");
    }
}

#[test]
fn keeps_a_sentence_for_what_makes_no_head() {
    let good = of_sphere(30);
    let count = good.directions.len();
    let wrong = |change: &dyn Fn(&mut Filters)| {
        let mut filters = good.clone();
        change(&mut filters);
        let why = Filtered::new(DVec3::X, &filters, SPEED, RATE).map(|_| ()).expect_err("no head");
        assert!(why.to_string().len() > 30, "{why}");
        why
    };
    let cut = |filters: &mut Filters, count: usize| {
        filters.directions.truncate(count);
        filters.responses.truncate(count);
        filters.delays.truncate(count);
    };
    assert_eq!(wrong(&|filters| cut(filters, 11)), FiltersError::Directions { count: 11 });
    assert_eq!(wrong(&|filters| cut(filters, 0)), FiltersError::Directions { count: 0 });
    assert!(matches!(wrong(&|filters| cut(filters, 12)), FiltersError::OneSided { .. }));
    assert_eq!(wrong(&|filters| filters.responses[3][1].push(0.0)), FiltersError::Uneven);
    assert_eq!(wrong(&|filters| filters.delays.truncate(5)), FiltersError::Uneven);
    assert_eq!(wrong(&|filters| filters.responses.iter_mut().flatten().for_each(Vec::clear)), FiltersError::Uneven);
    assert_eq!(wrong(&|filters| filters.responses[3][1][0] = f64::NAN), FiltersError::NoNumber { number: 4 });
    assert_eq!(wrong(&|filters| filters.delays[6][0] = f64::INFINITY), FiltersError::NoNumber { number: 7 });
    assert_eq!(wrong(&|filters| filters.directions[2] = DVec3::ZERO), FiltersError::NoNumber { number: 3 });
    assert!(matches!(wrong(&|filters| filters.delays[6][0] = 1e5), FiltersError::Delays { .. }));
    assert_eq!(wrong(&|filters| filters.rate_hz = 44_123.0), FiltersError::FilterRate { rate_hz: 44_123.0 });
    assert!(matches!(wrong(&|filters| filters.rate_hz = f64::NAN), FiltersError::FilterRate { .. }));
    assert_eq!(wrong(&|filters| filters.responses.iter_mut().flatten().flatten().for_each(|value| *value = 0.0)), FiltersError::Silent);
    let long = FiltersError::Long { samples: 20_000, count };
    assert_eq!(wrong(&|filters| filters.responses.iter_mut().flatten().for_each(|ear| ear.resize(20_000, 0.0))), long);
    let with = |facing, speed, rate| Filtered::new(facing, &good, speed, rate).map(|_| ()).expect_err("no head");
    assert_eq!(with(DVec3::Z, SPEED, RATE), FiltersError::Ears(EarsError::Facing));
    assert_eq!(with(DVec3::X, 3.0, RATE), FiltersError::Ears(EarsError::Speed { speed: 3.0 }));
    assert_eq!(with(DVec3::X, SPEED, 1), FiltersError::Ears(EarsError::Rate { rate: 1 }));
    assert_eq!(with(DVec3::X, SPEED, 44_101), FiltersError::Rate { rate_hz: 48_000.0, rate: 44_101 });
}

#[cfg(not(feature = "sofa"))]
#[test]
fn keeps_a_sentence_for_a_build_that_reads_no_heads() {
    use crate::support::{Folder, quick, run, small_scene_text};
    let folder = Folder::new("cli-no-head");
    folder.put("den.toml", quick(&small_scene_text(), 500));
    let ran = run(&folder, &["hear", "den.toml", "--sound", "clap", "--head", "mine.sofa"]);
    assert_eq!(ran.code, Some(2), "{}", ran.err);
    assert!(ran.err.contains("--head mine.sofa") && ran.err.contains("cargo build --release --features sofa"), "{}", ran.err);
    assert_eq!(folder.names("."), ["den.toml"], "nothing is written");
}
