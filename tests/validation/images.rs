//! Image sources of a box: an independently computed list of arrivals and counts; 500 boxes in closed form; random rooms against every
//! sequence of reflections; what comes back when source and microphone change places.

use glam::DVec3;
use roomwright::images::ImagePath;

use super::{Check, rounding};
use crate::completeness::{MEDIUM, SMALL};
use crate::images::{build, paths};
use crate::reciprocity::{BOXES, EXCHANGED};
use crate::room::shoebox;

const SOURCE: &str = "image-source list of a 5.1 x 3.9 x 2.6 m box, computed independently of this program";

/// Pressure reflection factors of x0, x1, y0, y1, z0, z1.
const FACTORS: [f64; 6] = [0.9, 0.8, 0.85, 0.95, 0.7, 0.75];

pub(crate) fn checks() -> Vec<Check> {
    let room = build(&shoebox(5.1, 3.9, 2.6));
    let found = paths(&room, DVec3::new(1.2, 1.0, 1.1), DVec3::new(3.6, 2.7, 1.3), 11);
    // Our surfaces: south, east, north, west wall, floor, ceiling.
    let face = [2, 1, 3, 0, 4, 5];
    let hits = |path: &ImagePath| {
        let mut hits = [0_i32; 6];
        path.bounces.iter().for_each(|bounce| hits[face[bounce.surface]] += 1);
        hits
    };
    let mut checks = Vec::new();
    for (number, line) in include_str!("../cases/image_sources.csv").lines().skip(1).enumerate() {
        let fields: Vec<&str> = line.split(',').collect();
        let wanted: Vec<i32> = fields[3..9].iter().map(|count| count.parse().expect("the case holds counts")).collect();
        // Some arrivals are equally long, some meet the same walls: both together tell them apart.
        let printed: f64 = fields[0].parse().expect("the case holds numbers");
        let off = |path: &&ImagePath| (path.length - printed).abs();
        let path = found.iter().filter(|path| hits(path)[..] == wanted[..]).min_by(|a, b| off(a).total_cmp(&off(b)));
        let factor: f64 = wanted.iter().zip(FACTORS).map(|(&count, factor)| factor.powi(count)).product();
        let length = path.map_or(f64::NAN, |path| path.length);
        let mut check = |what: &str, ours: f64, printed: &str| {
            let expected = printed.parse().expect("the case holds numbers");
            let what = format!("arrival {number}, {what}");
            checks.push(Check { what, ours, expected, tolerance: rounding(printed), why: "printed digits", source: SOURCE });
        };
        check("m", length, fields[0]);
        check("ms", length / 343.0 * 1000.0, fields[1]);
        check("factor over distance, 1/m", factor / length, fields[10]);
        check("distance in order of arrival, m", found[number].length, fields[0]);
    }
    for (within, expected) in [(10.0, 1.0), (20.0, 26.0), (30.0, 96.0), (50.0, 411.0)] {
        let ours = found.iter().filter(|path| path.length / 343.0 * 1000.0 <= within).count() as f64;
        let what = format!("arrivals within {within} ms");
        checks.push(Check { what, ours, expected, tolerance: 0.0, why: "exact", source: SOURCE });
    }
    checks.extend(boxes());
    checks.extend(complete());
    checks.extend(exchanged());
    checks
}

/// 500 random boxes, orders 0 to 10.
fn boxes() -> [Check; 3] {
    const BOX: &str = "images of a box at 2nL + x and 2nL - x: Allen and Berkley 1979 (from memory)";
    let row = |what: &str, ours: f64, expected: f64, tolerance: f64, why: &'static str| Check {
        what: what.to_owned(),
        ours,
        expected,
        tolerance,
        why,
        source: BOX,
    };
    [
        row("500 random boxes, orders 0 to 10: arrivals", BOXES.found as f64, BOXES.expected as f64, 0.0, "exact"),
        row("boxes of them with a number of arrivals of their own", BOXES.unlike as f64, 0.0, 0.0, "exact"),
        row("largest departure of a length, relative", BOXES.off, 0.0, 1e-9, "rounding of ten mirrors, with room"),
    ]
}

/// Random rooms that are not convex, with blocks, tilted clouds and standing panels.
fn complete() -> [Check; 4] {
    const EVERY: &str = "every sequence of surfaces tried by code of its own (tests/completeness.rs)";
    let row = |what: &str, ours: usize, expected: usize| Check {
        what: what.to_owned(),
        ours: ours as f64,
        expected: expected as f64,
        tolerance: 0.0,
        why: "exact",
        source: EVERY,
    };
    [
        row("40 random rooms of at most 10 polygons, orders 0 to 6: paths found", SMALL.shared, SMALL.expected),
        row("paths missed or made up there", SMALL.unlike, 0),
        row("40 random rooms of at most 25 polygons, orders 0 to 4: paths found", MEDIUM.shared, MEDIUM.expected),
        row("paths missed or made up there", MEDIUM.unlike, 0),
    ]
}

/// Source and microphone exchanged, both omnidirectional.
fn exchanged() -> [Check; 4] {
    const RAYLEIGH: &str = "reciprocity: Rayleigh, The Theory of Sound, vol. 2 (from memory)";
    let [plain, furnished] = &*EXCHANGED;
    let row = |what: &str, ours: f64, tolerance: f64, why: &'static str| Check {
        what: what.to_owned(),
        ours,
        expected: 0.0,
        tolerance,
        why,
        source: RAYLEIGH,
    };
    [
        row("source and microphone exchanged, 500 boxes: largest difference of a length, relative", BOXES.off_back, 1e-12, "rounding"),
        row("the same, L-shaped room, order 6: of an energy in any octave", plain.energy, 1e-12, "rounding"),
        row("the same, attic with 31 panels, order 4: of a length", furnished.length, 1e-12, "rounding"),
        row("the same there: of an energy in any octave", furnished.energy, 1e-12, "rounding"),
    ]
}
