//! A value and how sure it is.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::settings::BATCHES;

/// A value and its standard error (of the tracing alone).
#[derive(Clone, Copy, Debug, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard error; 0 where the value is exact.
    pub se: f64,
}

impl Estimate {
    /// A value without error.
    #[must_use]
    pub fn exact(value: f64) -> Self {
        Self { value, se: 0.0 }
    }

    /// `value` with the jackknife standard error `sqrt((n - 1) / n sum (x_i - mean)^2)` of the values with one batch left out.
    #[must_use]
    pub fn jackknife(value: f64, without: &[f64]) -> Self {
        let n = without.len() as f64;
        let mean = without.iter().sum::<f64>() / n;
        let squares: f64 = without.iter().map(|x| (x - mean).powi(2)).sum();
        let se = if without.len() > 1 { ((n - 1.0) / n * squares).sqrt() } else { 0.0 };
        Self { value, se }
    }

    /// Mean of independent batches and its standard error.
    #[must_use]
    pub fn mean(batches: &[f64]) -> Self {
        let n = batches.len() as f64;
        let mean = batches.iter().sum::<f64>() / n;
        let squares: f64 = batches.iter().map(|x| (x - mean).powi(2)).sum();
        let se = if batches.len() > 1 { (squares / (n * (n - 1.0))).sqrt() } else { 0.0 };
        Self { value: mean, se }
    }

    /// Mean of estimates, each with the name of its source; `None` of none. Those of one source stand on the same rays, so their errors are added plainly, as if they
    /// erred together, which never flatters; sources are traced apart, so theirs are added in squares.
    #[must_use]
    pub fn mean_of_sources(estimates: &[(&str, Self)]) -> Option<Self> {
        let mut errors: BTreeMap<&str, f64> = BTreeMap::new();
        for (source, estimate) in estimates {
            *errors.entry(source).or_default() += estimate.se;
        }
        let count = estimates.len() as f64;
        (!estimates.is_empty()).then(|| Self {
            value: estimates.iter().map(|(_, estimate)| estimate.value).sum::<f64>() / count,
            se: errors.values().map(|error| error * error).sum::<f64>().sqrt() / count,
        })
    }

    /// An energy as a level in dB; no energy at all is -120 dB.
    #[must_use]
    pub fn level(energy: Self) -> Self {
        if energy.value <= 1e-12 {
            return Self::exact(-120.0);
        }
        Self { value: 10.0 * energy.value.log10(), se: 10.0 / std::f64::consts::LN_10 * energy.se / energy.value }
    }

    /// Half the width of the 95 % interval by Student's t with the number of batches.
    #[must_use]
    pub fn half_width_95(self) -> f64 {
        STUDENT_95 * self.se
    }
}

/// Student's t, two-sided 95 %, for 19 degrees of freedom. *Source:* any table of the t distribution, 2.093; `tests/validation/coverage.rs` integrates
/// its density.
const STUDENT_95: f64 = 2.093_024;
const _: () = assert!(BATCHES == 20, "Student's t above is that of 20 batches");
