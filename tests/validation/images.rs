//! Image sources of a box: an independently computed list of arrivals and counts.

use glam::DVec3;
use roomwright::images::ImagePath;

use super::{Check, rounding};
use crate::images::{build, paths};
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
    checks
}
