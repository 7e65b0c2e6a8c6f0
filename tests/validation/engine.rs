//! The engine held to itself and to exact answers elsewhere in the tests: the rows of what those find.

use roomwright::bands::Band;

use super::Check;
use crate::classes::re_order_zero;
use crate::engine::{EARLY_MAP, NEAR_FLOOR, STORES};
use crate::geometry::BOTH_INSTRUCTIONS;
use crate::sensitivity::{CLARITY_MAPS, DECAY_MAPS};
use crate::support::chi_square_99;
use crate::variance::re_plain;
use crate::watertight::SLIPPED;

/// The octave of rows that stand for eight.
const KILOHERTZ: usize = 4;

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = watertight();
    checks.extend(instructions());
    checks.extend(classes());
    checks.extend(near_field());
    checks.extend(links());
    checks.extend(store());
    checks.extend(derivatives());
    checks
}

fn watertight() -> Vec<Check> {
    let row = |&([x, y, z], count, escaped): &([f64; 3], u64, u64)| Check {
        what: format!("rays that slip out of a closed box of {x} x {y} x {z} m in {} million bounces", count / 1_000_000),
        ours: escaped as f64,
        expected: 0.0,
        tolerance: 0.0,
        why: "none may; those aimed at corners and edges are followed in watertight.rs",
        source: "a closed surface is closed",
    };
    SLIPPED.iter().map(row).collect()
}

fn instructions() -> Vec<Check> {
    let mut checks = Vec::new();
    for both in &*BOTH_INSTRUCTIONS {
        let how = if both.by_tree { "by the tree" } else { "one after the other" };
        checks.push(Check {
            what: format!(
                "rays of {} that meet another of {} pieces without this machine's vector instructions, {how}",
                both.hits, both.pieces
            ),
            ours: both.others as f64,
            expected: 0.0,
            tolerance: 2.0,
            why: "of one in 2000 rays rounding decides at an edge",
            source: "the same kernel built for any machine of its kind",
        });
        checks.push(Check {
            what: format!("of the others those whose ways differ by more than 8 micrometers, {how}"),
            ours: both.flat as f64,
            expected: 0.0,
            tolerance: 25.0,
            why: "one in a hundred goes nearly in the plane of the piece; single precision of 4 m elsewhere",
            source: "the same kernel built for any machine of its kind",
        });
    }
    checks
}

fn classes() -> Vec<Check> {
    const WHY: &str = "four standard errors; all octaves, bins and loudspeakers in classes.rs";
    const SOURCE: &str = "every path belongs to one class: what images gain the rays lose";
    let mut checks = Vec::new();
    for (order, total, decay) in re_order_zero(Band::new(KILOHERTZ)) {
        for (what, ratio) in [("total energy", total), ("early decay time", decay)] {
            checks.push(Check {
                what: format!("attic, left > seat, 1 kHz: {what} with images up to order {order} re none"),
                ours: ratio.value,
                expected: 1.0,
                tolerance: 4.0 * ratio.se,
                why: WHY,
                source: SOURCE,
            });
        }
    }
    checks
}

fn near_field() -> Vec<Check> {
    let row = |&(height, linked, difference): &(f64, roomwright::response::Estimate, roomwright::response::Estimate)| Check {
        what: format!("zone of 0.3 m, {height} m over the floor: energy linked from bounces re what of the same rays passes through it"),
        ours: 1.0 + difference.value / linked.value,
        expected: 1.0,
        tolerance: 4.0 * difference.se / linked.value,
        why: "four standard errors",
        source: "a chord in the ball over its volume inside the room, by the way of every ray",
    };
    NEAR_FLOOR.iter().map(row).collect()
}

fn links() -> Vec<Check> {
    let mut checks: Vec<Check> = re_plain(Band::new(KILOHERTZ))
        .into_iter()
        .map(|(what, ratio)| Check {
            what: format!("{what}, 1 kHz, by links and crossings re plain crossings of the same rays"),
            ours: ratio.value,
            expected: 1.0,
            tolerance: 4.0 * ratio.se,
            why: "four standard errors of the difference",
            source: "two estimates of one energy (variance.rs)",
        })
        .collect();
    for line in include_str!("VARIANCE.txt").lines().skip(1) {
        let mut cells = line.split(" | ");
        let octave = cells.next().expect("an octave").trim();
        for cell in cells.filter(|cell| cell.starts_with("0-15") || cell.starts_with("T30")) {
            let (window, ratio) = cell.split_once(':').expect("a window and its ratio");
            let what = if window == "T30" { window.to_owned() } else { format!("energy {window} ms") };
            checks.push(Check {
                what: format!("variance of links and crossings re plain crossings of as many rays: {what}, {octave}"),
                ours: 1.0 / ratio.trim().parse::<f64>().expect("a number"),
                expected: 0.5,
                tolerance: 0.5,
                why: "no more than that of the plain way, 1",
                source: "counted over 40 seeds of 20 batches, VARIANCE.txt",
            });
        }
    }
    checks
}

fn store() -> Vec<Check> {
    let row = |(name, _, bytes, reckoned): &(&str, roomwright::room::Room, u64, u64)| Check {
        what: format!("stored paths of the {name} room, bytes re what was reckoned before tracing"),
        ours: *bytes as f64 / *reckoned as f64,
        expected: 0.9,
        tolerance: 0.15,
        why: "never more than a twentieth above; rays drawn because they keep to hard walls bounce less often than others",
        source: "counted by what is held",
    };
    STORES.iter().map(row).collect()
}

fn derivatives() -> Vec<Check> {
    let (chi_square, count) = *EARLY_MAP;
    let mut checks = vec![Check {
        what: format!("map of the early level, {count} patches against weighing other rays anew: chi-square per patch"),
        ours: chi_square / count as f64,
        expected: 1.0,
        tolerance: chi_square_99(count) / count as f64 - 1.0,
        why: "upper 1 % point",
        source: "finite difference on rays traced afresh (engine.rs)",
    }];
    checks.push(Check {
        what: format!(
            "map of clarity over a rectangle of wall against weighing the same rays anew, farthest of {}, dB",
            CLARITY_MAPS.count
        ),
        ours: CLARITY_MAPS.farthest,
        expected: 0.0,
        tolerance: CLARITY_MAPS.bound,
        why: "the difference is of second order in a share of 0.1; rounding of single precision",
        source: "finite difference on the same rays (sensitivity.rs)",
    });
    checks.push(Check {
        what: format!("map of T30 over walls and parts of them re weighing the same rays anew, farthest from 1 of {}", DECAY_MAPS.count),
        ours: DECAY_MAPS.farthest,
        expected: 0.0,
        tolerance: DECAY_MAPS.bound,
        why: "where the fit ends the curve is looked at over a tenth of it, not bin by bin",
        source: "finite difference on the same rays, everything fitted anew (sensitivity.rs)",
    });
    checks
}
