//! The radiation of many panels on one wall as a sum over its pairs, each known from the panels that hung there before.
//!
//! Radiation goes by the set covariance (`radiation`), and that of panels which do not overlap is the sum over all pairs of them, each panel with itself counted once and
//! each two twice. A pair is told by its sizes and by how far one lies from the other, whichever way: so the panels of one size that are moved about a wall, one by one, ask for
//! few new ones, and the figure as a whole is had by adding up. Touching panels come out as the one that they make up.
//!
//! Lengths are rounded to 0.1 mm before anything is computed of them, so that an answer does not hang on who asked first.
//!
//! *Limits.* Two panels whose edges lie further apart than [`HEARD`] wavelengths of an octave are not heard of each other in it: in a small room that is so from 1 kHz on, and moves the
//! absorption of rows and fields of panels by less than 0.01 of it (`tests/sized.rs`). At [`MOST`] pairs all are forgotten.

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use glam::DVec2;
use num_complex::Complex64;

use super::radiation::Nodes;
use super::rectangles::{Covariance, Rectangle, disjoint};
use super::{ANGLES, Array, INCIDENCE, Octaves, Tone, wave_number};
use crate::absorbers::average::{FREQUENCIES_PER_OCTAVE, octave_frequencies};
use crate::air::REFERENCE_SPEED;
use crate::bands::{Band, Bands};

/// How far apart, in wavelengths at the middle of an octave, two panels are still heard of each other.
pub const HEARD: f64 = 8.0;

/// How many pairs are kept, at most 28 kB each: 115 MB.
pub const MOST: usize = 4096;

/// Tenths of a millimeter in a meter.
const STEPS_PER_METER: f64 = 1e4;

/// What one panel radiates on another, by tone and angle of incidence, m2; empty in octaves where they are not heard of each other.
type Radiated = Bands<Vec<[Complex64; ANGLES]>>;

/// Widths and heights of two panels, and twice the way from the middle of one to that of the other; in steps.
type Key = [i64; 6];

static KNOWN: LazyLock<Mutex<HashMap<Key, Arc<Radiated>>>> = LazyLock::new(Mutex::default);

/// The radiation of rectangles in one wall in all octaves, what two of them cover counted once; `None` without any. The same as [`Array::octaves`], to the limits above.
#[must_use]
pub fn octaves(rectangles: &[Rectangle]) -> Option<Octaves> {
    let overlap = |(index, one): (usize, &Rectangle)| {
        rectangles[index + 1..]
            .iter()
            .any(|other| (one.high.min(other.high) - one.low.max(other.low)).min_element() > 1.0 / STEPS_PER_METER)
    };
    if rectangles.iter().enumerate().any(overlap) {
        return Array::new(&disjoint(rectangles)).map(|array| array.octaves());
    }
    let area: f64 = rectangles.iter().map(|one| one.area()).sum();
    if area <= 0.0 {
        return None;
    }
    let mut counts: BTreeMap<Key, f64> = BTreeMap::new();
    for (index, one) in rectangles.iter().enumerate() {
        *counts.entry(key(one, one)).or_default() += 1.0;
        for other in &rectangles[index + 1..] {
            *counts.entry(key(one, other)).or_default() += 2.0;
        }
    }
    let mut sums = Bands::from_fn(|_| vec![[Complex64::ZERO; ANGLES]; FREQUENCIES_PER_OCTAVE]);
    for (key, count) in counts {
        let radiated = known(key);
        for band in Band::ALL {
            for (sum, own) in sums[band].iter_mut().zip(&radiated[band]) {
                sum.iter_mut().zip(own).for_each(|(sum, own)| *sum += own * count);
            }
        }
    }
    let tone = |(frequency, sum): (f64, &[Complex64; ANGLES])| Tone { frequency, radiation: sum.map(|value| value / area) };
    let tones = Bands::from_fn(|band| octave_frequencies(band, FREQUENCIES_PER_OCTAVE).zip(&sums[band]).map(tone).collect());
    Some(Octaves { tones, area })
}

/// The same for a pair and for its mirror images, whichever panel comes first.
fn key(one: &Rectangle, other: &Rectangle) -> Key {
    let steps = |length: f64| (length * STEPS_PER_METER).round() as i64;
    let size = |one: &Rectangle| (one.high - one.low).to_array().map(steps);
    let way = (one.low + one.high - other.low - other.high).abs().to_array().map(steps);
    let (first, second) = (size(one).min(size(other)), size(one).max(size(other)));
    [first[0], first[1], second[0], second[1], way[0], way[1]]
}

fn known(key: Key) -> Arc<Radiated> {
    // A pair is whole before it is kept, so a panic elsewhere leaves nothing half made.
    let kept = KNOWN.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
    kept.unwrap_or_else(|| {
        let radiated = Arc::new(radiated(key));
        let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
        if known.len() >= MOST {
            known.clear();
        }
        known.insert(key, Arc::clone(&radiated));
        radiated
    })
}

fn radiated(key: Key) -> Radiated {
    let [width, height, other_width, other_height, across, along] = key.map(|steps| steps as f64 / STEPS_PER_METER);
    let (size, other_size) = (DVec2::new(width, height), DVec2::new(other_width, other_height));
    let middle = 0.5 * DVec2::new(across, along);
    let one = Rectangle { low: -0.5 * size, high: 0.5 * size };
    let other = Rectangle { low: middle - 0.5 * other_size, high: middle + 0.5 * other_size };
    let apart = (other.low - one.high).max(DVec2::ZERO).length();
    let covariance = Covariance::between(&one, &other);
    Bands::from_fn(|band| {
        if apart > HEARD * REFERENCE_SPEED / band.center() {
            return Vec::new();
        }
        let nodes = Nodes::new(|distance| covariance.at(distance), &covariance.bends, wave_number(band.upper()));
        let tone = |frequency: f64| {
            let radiated = nodes.radiated(wave_number(frequency), &INCIDENCE.0);
            std::array::from_fn(|angle| radiated[angle])
        };
        octave_frequencies(band, FREQUENCIES_PER_OCTAVE).map(tone).collect()
    })
}
