//! What it sounds like: a rigid sphere against sums computed elsewhere, pickups against their spectra, dry sounds.

use std::f64::consts::{PI, TAU};

use glam::DVec3;
use num_complex::Complex64;
use roomwright::bands::Band;
use roomwright::dsp::resample::RATES;
use roomwright::dsp::transform::spectrum;
use roomwright::dsp::wav::Sound;
use roomwright::listen::dry::{Dry, DryError};
use roomwright::listen::ears::{Arrangement, EarsError, Head, Pair, RADIUS};
use roomwright::listen::limit::Limit;
use roomwright::listen::loudness::peak_db;
use roomwright::listen::sphere::{near, plane};
use roomwright::random::{Purpose, Stream};
use roomwright::response::Pickup;
use serde::Deserialize;

use crate::validation::{Check, hold};

/// Speed of sound of all checks, m/s.
const SPEED: f64 = 343.0;

#[derive(Deserialize)]
struct Cases {
    a: f64,
    c: f64,
    sphere: Vec<Surface>,
    itd: Vec<Arrival>,
}

#[derive(Deserialize)]
#[expect(non_snake_case, reason = "the keys of the table")]
struct Surface {
    mu: f64,
    theta: f64,
    dB_plane: f64,
    phase_rad_plane: f64,
    dB_rho1_25: Option<f64>,
    dB_rho2: f64,
    dB_rho5: f64,
    dB_rho100: f64,
}

#[derive(Deserialize)]
struct Arrival {
    azimuth: f64,
    woodworth_us: f64,
    kuhn_low_f_us: f64,
}

fn cases() -> Cases {
    serde_json::from_str(include_str!("cases/binaural.json")).expect("the cases can be read")
}

fn db(value: Complex64) -> f64 {
    20.0 * value.norm().log10()
}

/// A phase between -pi and pi.
fn turned(phase: f64) -> f64 {
    (phase + PI).rem_euclid(TAU) - PI
}

fn cosine(degrees: f64) -> f64 {
    degrees.to_radians().cos()
}

/// From this many degrees to the left of straight ahead (along y), on the level.
fn from(azimuth: f64) -> DVec3 {
    DVec3::new(-azimuth.to_radians().sin(), cosine(azimuth), 0.0)
}

/// What a response does to a frequency, time zero at the sample `lead`.
fn at(response: &[f64], lead: usize, frequency_hz: f64, rate: u32) -> Complex64 {
    let step = TAU * frequency_hz / f64::from(rate);
    response.iter().enumerate().map(|(index, value)| value * Complex64::cis(-step * (index as f64 - lead as f64))).sum()
}

pub(crate) fn mono(rate: u32, samples: Vec<f32>) -> Sound {
    Sound { rate, channels: vec![samples] }
}

pub(crate) fn noise(seed: u64, length: usize) -> Vec<f32> {
    let mut stream = Stream::new(seed, Purpose::Search, 0);
    (0..length).map(|_| (stream.unit() - 0.5) as f32).collect()
}

pub(crate) fn sine(rate: u32, frequency_hz: f64, level_db: f64, seconds: f64) -> Vec<f32> {
    let (step, gain) = (TAU * frequency_hz / f64::from(rate), 10.0_f64.powf(0.05 * level_db));
    (0..(seconds * f64::from(rate)) as usize).map(|index| (gain * (step * index as f64).sin()) as f32).collect()
}

// The sphere.

/// Pressures on a rigid sphere, by its radius over the length of a wave: their levels and their phases.
pub(crate) struct OnASphere {
    pub(crate) levels: Vec<Check>,
    pub(crate) phases: Vec<Check>,
}

/// Those whose radius in wave numbers and angle in degrees are wanted.
pub(crate) fn on_a_sphere(wanted: impl Fn(f64, f64) -> bool) -> OnASphere {
    const SOURCE: &str =
        "R. O. Duda and W. L. Martens, J. Acoust. Soc. Am. 104 (1998) 3048: series computed independently (cases/binaural.json)";
    let (mut levels, mut phases) = (Vec::new(), Vec::new());
    for one in cases().sphere.iter().filter(|one| wanted(one.mu, one.theta)) {
        let row = |what: &str, ours: f64, expected: f64, tolerance: f64| Check {
            what: format!("rigid sphere, k a {}, {} degrees from the source: {what}", one.mu, one.theta),
            ours,
            expected,
            tolerance,
            why: "half of the last digit, and a hair",
            source: SOURCE,
        };
        let there = plane(one.mu, cosine(one.theta));
        levels.push(row("level of a plane wave, dB", db(there), one.dB_plane, 0.00052));
        let phase = one.phase_rad_plane + turned(there.arg() - one.phase_rad_plane);
        phases.push(row("phase of a plane wave, rad", phase, one.phase_rad_plane, 0.000_052));
        for (rho, expected) in [(1.25, one.dB_rho1_25), (2.0, Some(one.dB_rho2)), (5.0, Some(one.dB_rho5)), (100.0, Some(one.dB_rho100))] {
            let Some(expected) = expected else { continue };
            let there = db(near(one.mu, rho, cosine(one.theta)));
            levels.push(row(&format!("level of a point source {rho} radii away, dB"), there, expected, 0.00052));
        }
    }
    OnASphere { levels, phases }
}

#[test]
fn exact_pressures_on_a_rigid_sphere() {
    let cases = cases();
    assert_eq!((cases.a, cases.c, cases.sphere.len()), (RADIUS, SPEED, 49));
    let OnASphere { levels, phases } = on_a_sphere(|_, _| true);
    assert!(levels.len() > 200 && phases.len() == 49, "{}", levels.len());
    hold(&levels);
    hold(&phases);
}

#[test]
fn exact_limits_on_a_sphere_at_low_and_high_frequencies() {
    assert!((plane(0.0, 0.3) - 1.0).norm() < 1e-3, "a wave that is longer than any ear notices");
    // At rest a point source leaves sum (2n + 1) / (n + 1) rho^-n P_n; P_n is 1 ahead, (-1)^n behind, and to the side 0 or -(n - 1) / n
    // times the last but one. At mu = 0.01 what is left is of the order of mu^2.
    let aside =
        |order: i32| if order % 2 == 1 { 0.0 } else { (1..=order / 2).map(|k| -f64::from(2 * k - 1) / f64::from(2 * k)).product::<f64>() };
    for (rho, cosine) in [(1.25_f64, 1.0), (1.25, 0.0), (1.25, -1.0), (2.0, 1.0), (2.0, 0.0), (11.4, -1.0)] {
        let polynomial = |order: i32| if cosine == 0.0 { aside(order) } else { f64::powi(cosine, order) };
        let term = |order: i32| f64::from(2 * order + 1) / f64::from(order + 1) * rho.powi(-order) * polynomial(order);
        let expected: f64 = (0..400).map(term).sum();
        let found = near(0.01, rho, cosine).norm();
        assert!((found / expected - 1.0).abs() < 2e-4, "{rho} radii, cosine {cosine}: {found} for {expected}");
    }
    // In the light of a short wave a hard wall doubles the pressure, at the phase of the way that is saved; the next term of its series is
    // of the order of 1 / (mu cos^3).
    for degrees in [0.0, 30.0, 60.0_f64] {
        let (mu, cosine) = (900.0, cosine(degrees));
        let miss = (plane(mu, cosine) - 2.0 * Complex64::cis(mu * cosine)).norm();
        assert!(miss < 2.0 / (mu * cosine.powi(3)), "{degrees} degrees: {miss}");
    }
    // Far away, a point source sends plane waves.
    assert!((near(3.0, 1e5, -0.4) - plane(3.0, -0.4)).norm() < 1e-4);
}

#[test]
fn locked_miss_of_plane_waves_near_by() {
    // What the note in `listen::ears` says: by how much waves that are plane miss a source 1 m and 0.5 m from a head.
    for (distance, expected) in [(1.0, 1.3), (0.5, 2.5)] {
        let miss = |(frequency_hz, degrees): (f64, f64)| {
            let (mu, there) = (TAU * frequency_hz * RADIUS / SPEED, cosine(degrees));
            db(near(mu, distance / RADIUS, there) / plane(mu, there)).abs()
        };
        let places = [100.0, 300.0, 1000.0, 4000.0]
            .into_iter()
            .flat_map(|frequency_hz| [0.0, 60.0, 150.0, 180.0].map(|degrees| (frequency_hz, degrees)));
        let worst = places.map(miss).fold(0.0, f64::max);
        assert!((worst - expected).abs() < 0.05, "{distance} m: {worst} dB");
    }
}

/// By how much later the far ear of a sphere hears, in low and in high octaves.
pub(crate) fn differences_in_time_of_arrival() -> Vec<Check> {
    let cases = cases();
    let radius_s = cases.a / cases.c;
    let of = |one: Arrival| {
        let row = |octaves: &str, ours: f64, expected: f64, tolerance: f64, why, source| Check {
            what: format!("difference in time of arrival, {octaves} octaves, {} degrees from ahead, us", one.azimuth),
            ours,
            expected,
            tolerance,
            why,
            source,
        };
        let ears = [90.0 - one.azimuth, 90.0 + one.azimuth].map(cosine);
        // Low: phases over frequency, at mu = 0.001.
        let late = |mu: f64| turned(plane(mu, ears[0]).arg() - plane(mu, ears[1]).arg());
        let low_us = 1e6 * radius_s * late(0.001) / 0.001;
        // High: slope of the phase round mu = 1000. What creeps round a sphere is slower than sound by a share of mu^(-2/3) / 7.4 (first
        // zero of Ai', 1.0188, times cos(60 degrees) 2^(-1/3) / 3), 0.14 % here. At 75 degrees what comes round the other way, 30 degrees
        // further, ripples the phase with a period of 12.
        let expected = 1e-6 * one.woodworth_us / radius_s;
        let slope = expected + turned(late(1006.0) - late(994.0) - 12.0 * expected) / 12.0;
        let high_us = 1e6 * radius_s * slope;
        let slower = 0.003 * one.woodworth_us + 0.01;
        [
            row("low", low_us, one.kuhn_low_f_us, 0.006, "printed digits", "3 a / c sin, G. F. Kuhn (1977), computed independently"),
            row(
                "high",
                high_us,
                one.woodworth_us,
                slower,
                "what creeps round is slower than sound by 0.14 %, what comes the other way ripples",
                "a / c (angle + sin), R. S. Woodworth (1938), computed independently",
            ),
        ]
    };
    cases.itd.into_iter().flat_map(of).collect()
}

#[test]
fn published_differences_in_time_of_arrival() {
    hold(&differences_in_time_of_arrival());
}

// Pickups.

#[test]
fn exact_responses_of_a_head() {
    for rate in RATES {
        let head = Head::new(DVec3::Y, RADIUS, SPEED, rate).unwrap();
        assert_eq!(head.channels(), 2);
        let limit = Limit::new(rate);
        // On the degrees of the table, and as far from them as can be.
        for azimuth in [0.0, 17.0, 30.5, 59.5, 89.5, 90.0, -45.25, -89.7, 135.5, 180.0] {
            for (channel, ear) in [DVec3::NEG_X, DVec3::X].into_iter().enumerate() {
                let response = head.response(channel, from(azimuth));
                for frequency_hz in [20.0, 63.0, 250.0, 1000.0, 3000.0, 6000.0, 10_000.0, 15_000.0, 19_800.0, 21_500.0] {
                    let expected = limit.share(frequency_hz) * plane(TAU * frequency_hz * RADIUS / SPEED, ear.dot(from(azimuth)));
                    let found = at(&response, head.lead(), frequency_hz, rate);
                    // Of the pressure without a head: what the cubic between degrees misses, 0.03 dB at 20 kHz, and what is cut at the corner.
                    let allowed = if frequency_hz < 7000.0 { 1e-4 } else { 0.0035 };
                    let miss = (found - expected).norm();
                    assert!(miss < allowed, "{rate}: {azimuth} degrees, ear {channel}, {frequency_hz} Hz: {miss}");
                }
            }
        }
    }
}

#[test]
fn keeps_a_head_the_same_wherever_it_faces() {
    let head = Head::new(DVec3::Y, RADIUS, SPEED, 48_000).unwrap();
    let same = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-9) && a.len() == b.len();
    let (left, right) = (head.response(0, from(40.0)), head.response(1, from(40.0)));
    let power = |response: &[f64]| response.iter().map(|value| value * value).sum::<f64>();
    assert!(power(&left) > 2.0 * power(&right), "what comes from the left is louder at the left ear");
    assert!(same(&left, &head.response(1, from(-40.0))), "mirrored");
    assert!(same(&left, &head.response(0, from(140.0))), "a sphere does not tell front from back");
    let turned = head.turned(from(75.0)).unwrap();
    assert!(same(&left, &turned.response(0, from(115.0))), "turned with the source");
    let raised = head.turned(DVec3::new(0.0, 1.0, 3.0)).unwrap();
    assert!(same(&left, &raised.response(0, from(40.0))), "ears stay level");
    assert!(same(&left, &head.response(0, 5.0 * from(40.0))), "a direction has no length");
    assert!(same(&head.response(0, DVec3::Z), &head.response(1, DVec3::Z)), "from above");
    for nowhere in [head.response(2, DVec3::Y), head.response(0, DVec3::ZERO), head.response(0, DVec3::NAN)] {
        assert_eq!(nowhere, vec![0.0; left.len()]);
    }
}

#[test]
fn exact_spectra_of_pairs() {
    for rate in RATES {
        for arrangement in [Arrangement::CROSSED, Arrangement::APART, Arrangement::SPLAYED] {
            let pair = Pair::new(DVec3::new(0.0, 2.0, 0.0), arrangement, SPEED, rate).unwrap();
            assert_eq!(pair.channels(), 2);
            for (channel, side) in [1.0, -1.0].into_iter().enumerate() {
                for azimuth in [0.0, 25.0, 90.0, -110.0] {
                    let response = pair.response(channel, from(azimuth));
                    let to_axis = azimuth - side * 0.5 * arrangement.opening_deg;
                    let gain = arrangement.pattern.omni + (1.0 - arrangement.pattern.omni) * cosine(to_axis);
                    let early_s = side * 0.5 * arrangement.spacing * azimuth.to_radians().sin() / SPEED;
                    for frequency_hz in [0.0, 100.0, 1000.0, 8000.0, 19_800.0, 21_000.0, 23_000.0_f64] {
                        let passes = if frequency_hz < 0.5 * f64::from(rate) { Limit::new(rate).share(frequency_hz) } else { continue };
                        let expected = gain * passes * Complex64::cis(TAU * frequency_hz * early_s);
                        let miss = (at(&response, pair.lead(), frequency_hz, rate) - expected).norm();
                        // What is cut off the ends of a pulse matters most at the corner of the limit.
                        let allowed = if frequency_hz < 10_000.0 { 3e-5 } else { 4e-4 };
                        assert!(miss < allowed, "{rate}, {arrangement:?}: {azimuth} degrees, {frequency_hz} Hz: {miss}");
                    }
                }
            }
        }
    }
    let crossed = Pair::new(DVec3::Y, Arrangement::CROSSED, SPEED, 48_000).unwrap();
    let peak = |channel| crossed.response(channel, from(45.0)).into_iter().fold(0.0_f64, |peak, value| peak.max(value.abs()));
    assert!((20.0 * (peak(0) / peak(1)).log10() - 6.0206).abs() < 1e-3, "on one axis and at 90 degrees from the other: 1 and a half");
    assert!(crossed.response(0, DVec3::ZERO).iter().chain(&crossed.response(9, DVec3::Y)).all(|value| *value == 0.0));
}

#[test]
fn keeps_what_is_no_head_and_no_pair_out() {
    let head = |facing, radius, speed, rate| Head::new(facing, radius, speed, rate).map(|_| ()).unwrap_err();
    for facing in [DVec3::ZERO, DVec3::Z, DVec3::NEG_Z, DVec3::NAN, DVec3::splat(f64::INFINITY)] {
        assert_eq!(head(facing, RADIUS, SPEED, 48_000), EarsError::Facing);
        assert_eq!(Pair::new(facing, Arrangement::APART, SPEED, 48_000), Err(EarsError::Facing));
    }
    assert_eq!(head(DVec3::Y, 0.0, SPEED, 48_000), EarsError::Radius { radius: 0.0 });
    assert!(matches!(head(DVec3::Y, f64::NAN, SPEED, 48_000), EarsError::Radius { .. }));
    assert_eq!(head(DVec3::Y, RADIUS, 0.0, 48_000), EarsError::Speed { speed: 0.0 });
    assert_eq!(head(DVec3::Y, RADIUS, SPEED, 0), EarsError::Rate { rate: 0 });
    let wide = Arrangement { spacing: f64::NAN, ..Arrangement::APART };
    assert_eq!(Pair::new(DVec3::Y, wide, SPEED, 48_000), Err(EarsError::Arrangement));
}

// Dry sounds.

#[test]
fn keeps_dry_sounds_the_same_and_within_their_level() {
    for dry in Dry::ALL {
        assert_eq!(Dry::named(dry.word()), Some(dry));
        assert!(!dry.shows().is_empty());
        assert_eq!(dry.sound(22_050, 1), Err(DryError::Rate { rate: 22_050 }));
        let made = RATES.map(|rate| dry.sound(rate, 7).unwrap());
        for sound in &made {
            assert_eq!(sound.channels.len(), 1);
            assert!((2.0..9.0).contains(&sound.seconds()), "{}: {} s", dry.word(), sound.seconds());
            let peak = peak_db(sound).unwrap();
            assert!((-12.1..=-12.0).contains(&peak), "{}: peak {peak} dB", dry.word());
            let middle = sound.channels[0].iter().map(|value| f64::from(*value)).sum::<f64>() / sound.frames() as f64;
            assert!(middle.abs() < 1e-4, "{}: an offset of {middle}", dry.word());
        }
        assert_eq!(dry.sound(48_000, 7).unwrap(), made[1]);
        assert_ne!(dry.sound(48_000, 8).unwrap(), made[1], "{}: another seed, other chance", dry.word());
        // The same sound at every rate: every second sample of 96 kHz is one of 48 kHz, but for the gain.
        let [_, low, high] = made;
        let pairs = low.channels[0].iter().zip(high.channels[0].iter().step_by(2));
        let (miss, all) = pairs.fold((0.0_f32, 0.0_f32), |(miss, all), (a, b)| (miss + (a - b).powi(2), all + a * a));
        assert!(miss < 0.01 * all, "{}: {} of the power differs", dry.word(), miss / all);
    }
    assert_eq!(Dry::named("trumpet"), None);
    assert!(Dry::SpeechLike.shows().contains("not speech"));
}

/// Energy of each octave from its lower to its upper edge, dB.
fn octaves_db(sound: &Sound) -> [f64; 8] {
    let samples: Vec<f64> = sound.channels[0].iter().map(|value| f64::from(*value)).collect();
    let lines = spectrum(&samples, samples.len());
    let line_hz = f64::from(sound.rate) / samples.len() as f64;
    Band::ALL.map(|band| {
        let of_band = (band.lower() / line_hz).ceil() as usize..(band.upper() / line_hz).ceil() as usize;
        10.0 * of_band.map(|line| lines[line].norm_sqr()).sum::<f64>().log10()
    })
}

#[test]
fn exact_octaves_of_a_pink_burst() {
    for (rate, seed) in RATES.into_iter().zip(1..) {
        let levels = octaves_db(&Dry::Pink.sound(rate, seed).unwrap());
        let mean = levels.iter().sum::<f64>() / 8.0;
        // 22 lines lie in the lowest octave; half of one is 0.1 dB.
        assert!(levels.iter().all(|level| (level - mean).abs() < 0.3), "{rate}: {levels:?}");
    }
    let sound = Dry::Pink.sound(48_000, 1).unwrap();
    let loud =
        |from_s: f64, to_s: f64| sound.channels[0][(from_s * 48e3) as usize..(to_s * 48e3) as usize].iter().any(|value| value.abs() > 1e-4);
    assert!((0..3).map(|burst| 1.5 * f64::from(burst)).all(|from_s| loud(from_s, from_s + 0.5) && !loud(from_s + 0.505, from_s + 1.49)));
}

#[test]
fn keeps_a_clap_short() {
    let sound = Dry::Clap.sound(48_000, 3).unwrap();
    let powers: Vec<f64> =
        sound.channels[0][..72_000].chunks(48).map(|piece| piece.iter().map(|value| f64::from(*value).powi(2)).sum()).collect();
    let highest = powers.iter().copied().fold(0.0, f64::max);
    let last = powers.iter().rposition(|power| *power > 0.01 * highest).unwrap();
    assert!((11..40).contains(&last), "20 dB down after {last} ms");
    let humps =
        (1..last).filter(|at| powers[*at] > 0.1 * highest && powers[*at] > 2.0 * powers[at + 2] && powers[*at] >= powers[at - 1]).count();
    assert!(humps >= 2, "{humps} strokes: {:?}", &powers[..20]);
}

/// Period of a signal in samples near an expected one: the highest of its autocorrelation, by a parabola.
fn period(samples: &[f32], expected: f64) -> f64 {
    let likeness = |lag: usize| samples.iter().zip(&samples[lag..]).map(|(a, b)| f64::from(a * b)).sum::<f64>();
    let lags = (0.97 * expected) as usize..(1.03 * expected) as usize + 1;
    let best = lags.max_by(|a, b| likeness(*a).total_cmp(&likeness(*b))).expect("lags round the expected one");
    let [before, top, after] = [best - 1, best, best + 1].map(likeness);
    best as f64 + 0.5 * (before - after) / (before - 2.0 * top + after)
}

#[test]
fn exact_notes_of_strings() {
    let plucked = Dry::Plucked.sound(48_000, 5).unwrap();
    let first = period(&plucked.channels[0][2400..16_800], 48_000.0 / 110.0);
    // 0.1 %, less than 2 cents, beside what the decay does to the parabola.
    assert!((first * 110.0 / 48_000.0 - 1.0).abs() < 1e-3, "{} Hz", 48_000.0 / first);
    let last = &plucked.channels[0][(0.36 * 8.0 * 48_000.0) as usize + 60_000..];
    assert!((period(&last[..14_400], 48_000.0 / 110.0) * 110.0 / 48_000.0 - 1.0).abs() < 1e-3);
    let bowed = Dry::Bowed.sound(48_000, 5).unwrap();
    // Before the vibrato begins; overtones of a sawtooth fall as 1 / k, and a little more by our own roll-off.
    let steady: Vec<f64> = bowed.channels[0][10_000..16_612].iter().map(|value| f64::from(*value)).collect();
    let overtone = |order: f64| {
        let hann = |index: usize| 0.5 - 0.5 * (TAU * index as f64 / steady.len() as f64).cos();
        let windowed: Vec<f64> = steady.iter().enumerate().map(|(index, value)| value * hann(index)).collect();
        db(at(&windowed, 0, 196.0 * order, 48_000))
    };
    for order in [2.0, 3.0, 5.0, 8.0_f64] {
        let expected = -20.0 * (order * (1.0 + (196.0 * order / 4000.0_f64).powi(2))).log10();
        assert!((overtone(order) - overtone(1.0) - expected).abs() < 0.3, "overtone {order}: {}", overtone(order) - overtone(1.0));
    }
}

/// What is like speech at the usual rates.
fn speech_like() -> impl Iterator<Item = Sound> {
    RATES.into_iter().zip(4..).map(|(rate, seed)| Dry::SpeechLike.sound(rate, seed).expect("it is sound"))
}

/// Its octaves.
pub(crate) fn spectra_of_speech() -> Vec<Check> {
    let standard = [2.9, 2.9, -0.8, -6.8, -12.8, -18.8, -24.8];
    let of = |sound: Sound| {
        let levels = octaves_db(&sound);
        let row = |(band, expected): (Band, f64)| Check {
            what: format!("sound like speech at {} Hz a second, octave {}, dB", sound.rate, band.label()),
            ours: levels[band.index()] - levels[3] - 0.8,
            expected,
            tolerance: 0.2,
            why: "told to a tenth, and what is cut at either end of an octave",
            source: "IEC 60268-16:2011, spectrum of male speech (from memory)",
        };
        Band::ALL[1..].iter().copied().zip(standard).map(row).collect::<Vec<_>>()
    };
    speech_like().flat_map(of).collect()
}

#[test]
fn published_octaves_and_rhythm_of_what_is_like_speech() {
    hold(&spectra_of_speech());
    for sound in speech_like() {
        let rate = sound.rate;
        let step = rate as usize / 50;
        let powers: Vec<f64> =
            sound.channels[0].chunks(step).map(|piece| piece.iter().map(|value| f64::from(*value).powi(2)).sum()).collect();
        let mean = powers.iter().sum::<f64>() / powers.len() as f64;
        let silent = powers.iter().filter(|power| **power < 1e-4 * mean).count() as f64 / powers.len() as f64;
        assert!((0.15..0.5).contains(&silent), "{silent} of it is pauses");
        // Modulation by octaves of its frequency: most between 2 and 8 Hz.
        let lines = spectrum(&powers, powers.len());
        let line_hz = 50.0 / powers.len() as f64;
        let within = |low: f64| {
            lines[(low / line_hz).ceil() as usize..(2.0 * low / line_hz).ceil() as usize].iter().map(Complex64::norm_sqr).sum::<f64>()
        };
        let slow = [0.5, 1.0, 2.0, 4.0, 8.0].map(within);
        let most = (0..5).max_by(|a, b| slow[*a].total_cmp(&slow[*b])).unwrap();
        assert!(most == 2 || most == 3, "{rate}: modulation {slow:?}");
    }
}
