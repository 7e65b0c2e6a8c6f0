//! The public evidence: what the program computes beside what others published or what a closed form gives.
//!
//! Every topic file has `checks()`, which returns rows; [`TOPICS`] lists the topics; one test holds every row to its tolerance, another holds the printed
//! table to `TABLE.txt`, so that a change of any printed digit shows in the diff. After an intended change: `UPDATE_EXPECT=1 cargo test --release validation`.
//!
//! To add a topic: write `tests/validation/TOPIC.rs` with `pub(crate) fn checks() -> Vec<Check>`, declare it below, and name it in [`TOPICS`]. The source stands
//! beside the number that it supplies: author or standard, year, clause or table. Reference values never come from our own program. The tolerance is the
//! rounding of the published digits, or has its reason in `why`; it is not widened to make a row pass.
//!
//! Where a test of its own says more than the table can, its file makes the rows and the test calls [`hold`] on them: nothing is computed in two ways. Of very many
//! the table has a few and the [`worst`].

mod absorbers;
mod air;
mod build_ups;
mod coverage;
mod decay;
mod directivity;
mod edges;
mod engine;
mod flutter;
mod images;
mod layers;
mod lessons;
mod listening;
mod low_end;
mod low_end_places;
mod materials;
mod measured;
mod modes;
mod pages;
mod plans;
mod positions;
mod rays;
mod rooms;
pub(crate) mod sized;
mod speech;
mod stacks;
pub(crate) mod suspended;
mod targets;
mod waves;
mod workshop;
mod zones;

use std::sync::LazyLock;

/// One check: one row of the table.
#[derive(Clone)]
pub(crate) struct Check {
    /// What is compared, with the unit of its numbers.
    pub(crate) what: String,
    /// What the program computes.
    pub(crate) ours: f64,
    /// What it should be.
    pub(crate) expected: f64,
    /// How far the two may lie apart, in the same unit.
    pub(crate) tolerance: f64,
    /// Why so far and no further.
    pub(crate) why: &'static str,
    /// Where the expected value comes from.
    pub(crate) source: &'static str,
}

/// Half a unit of the last digit of a number as printed: `"1.20"` -> 0.005.
pub(crate) fn rounding(printed: &str) -> f64 {
    let decimals = printed.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let decimals = i32::try_from(decimals).expect("a printed number is short");
    // A hair more than half a unit: the tie itself is a correct rounding.
    0.500_001 * 10.0_f64.powi(-decimals)
}

/// Half a unit of the third significant digit.
pub(crate) fn three_digits(value: f64) -> f64 {
    0.500_001 * 10.0_f64.powf(value.abs().log10().floor() - 2.0)
}

impl Check {
    /// What is wrong with it, if it is not met.
    fn failure(&self) -> Option<String> {
        let off = (self.ours - self.expected).abs();
        (off.is_nan() || off > self.tolerance).then(|| {
            let Self { what, ours, expected, tolerance, why, source } = self;
            format!("{what}: ours {ours}, expected {expected} within {tolerance} ({why}; {source})")
        })
    }
}

/// Holds a test to rows that it shares with the table.
#[track_caller]
pub(crate) fn hold(checks: &[Check]) {
    let failures: Vec<String> = checks.iter().filter_map(Check::failure).collect();
    assert!(!checks.is_empty() && failures.is_empty(), "{} of {} rows failed:\n{}", failures.len(), checks.len(), failures.join("\n"));
}

/// One row for many of one tolerance: the farthest from what it should be.
pub(crate) fn worst(what: &str, of: &[Check]) -> Check {
    let [Check { tolerance, why, source, .. }, ..] = *of else { panic!("{what}: no rows") };
    assert!(of.iter().all(|check| (check.tolerance - tolerance).abs() < 1e-12), "{what}: one tolerance");
    let ours = of.iter().map(|check| (check.ours - check.expected).abs()).max_by(f64::total_cmp).unwrap_or(f64::NAN);
    Check { what: format!("{what}: worst of {} values", of.len()), ours, expected: 0.0, tolerance, why, source }
}

/// One row for what is either so or not: how often it is not.
pub(crate) fn none(what: String, count: usize, why: &'static str, source: &'static str) -> Check {
    Check { what, ours: count as f64, expected: 0.0, tolerance: 0.0, why, source }
}

/// Every topic with its rows, computed once.
static TOPICS: LazyLock<Vec<(&str, Vec<Check>)>> = LazyLock::new(|| {
    vec![
        ("air", air::checks()),
        ("absorbers", absorbers::checks()),
        ("layers", layers::checks()),
        ("panels of finite size", sized::checks()),
        ("open on both sides", suspended::checks()),
        ("materials", materials::checks()),
        ("build-ups", build_ups::checks()),
        ("directivity", directivity::checks()),
        ("modes", modes::checks()),
        ("waves", waves::checks()),
        ("the low end in octaves, walls and corners", low_end::checks()),
        ("the low end from scene to study", low_end_places::checks()),
        ("images", images::checks()),
        ("edges", edges::checks()),
        ("flutter", flutter::checks()),
        ("zones", zones::checks()),
        ("workshop", workshop::checks()),
        ("positions", positions::checks()),
        ("decay", decay::checks()),
        ("speech", speech::checks()),
        ("targets", targets::checks()),
        ("recordings", measured::checks()),
        ("listening", listening::checks()),
        ("rays", rays::checks()),
        ("engine", engine::checks()),
        ("lessons", lessons::checks()),
        ("colors and widths", pages::checks()),
        ("intervals", coverage::checks().into_iter().chain(plans::checks()).collect()),
    ]
});

#[test]
fn published_and_exact_values_are_met() {
    let mut failures = Vec::new();
    for (topic, checks) in &*TOPICS {
        assert!(!checks.is_empty(), "{topic} has no rows");
        failures.extend(checks.iter().filter_map(Check::failure).map(|failure| format!("{topic}: {failure}")));
    }
    assert!(failures.is_empty(), "{} rows failed:\n{}", failures.len(), failures.join("\n"));
}

#[test]
fn locked_table_of_all_checks() {
    // Locked, so that a change of any predicted digit is seen and explained.
    let mut table = String::from("Checks against published values and closed forms; ours | expected | within | why | source\n");
    for (topic, checks) in &*TOPICS {
        table.push_str(&format!("\n{topic}\n"));
        for check in checks {
            let (ours, expected) = (rounded(check.ours, check.tolerance), rounded(check.expected, check.tolerance));
            table.push_str(&format!("{} | {ours} | {expected} | {:.1e} | {} | {}\n", check.what, check.tolerance, check.why, check.source));
        }
    }
    expect_test::expect_file!["TABLE.txt"].assert_eq(&table);
}

/// A value to one decimal more than its tolerance leaves meaningful, so that one sees how close it is; at most seven significant digits, so that machines whose last bits differ print the same.
fn rounded(value: f64, tolerance: f64) -> String {
    let significant = 6 - if value == 0.0 { 0 } else { value.abs().log10().floor() as i32 };
    let meaningful = if tolerance > 0.0 { (-tolerance.log10()).ceil() as i32 + 1 } else { 0 };
    let decimals = significant.min(meaningful).clamp(0, 12) as usize;
    let text = format!("{value:.decimals$}");
    let is_zero = text.trim_start_matches('-').chars().all(|digit| digit == '0' || digit == '.');
    if is_zero { text.trim_start_matches('-').to_owned() } else { text }
}
