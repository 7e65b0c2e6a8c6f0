//! A listening set at many places of a box: the early level of each against the sum of its image sources by hand.

use super::Check;
use crate::positions::told_and_by_hand;

pub(crate) fn checks() -> Vec<Check> {
    let mut all = told_and_by_hand();
    all.sort_by(|a, b| a.1.total_cmp(&b.1));
    let row = |what: &str, (ours, expected): (f64, f64)| Check {
        what: format!("early level at the place of a grid where it is {what}, box of 5 x 4 x 2.7 m that keeps 0.8 of each bounce, dB"),
        ours,
        expected,
        tolerance: 2e-3,
        why: "tables of directions and angles are kept in single precision",
        source: "sum of all image sources within 15 ms, J. B. Allen and D. A. Berkley, J. Acoust. Soc. Am. 65 (1979) 943-950 (from memory)",
    };
    let ends = [("least", all.first()), ("greatest", all.last())];
    ends.into_iter().filter_map(|(what, one)| Some(row(what, *one?))).collect()
}
