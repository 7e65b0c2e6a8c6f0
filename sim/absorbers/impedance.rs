//! A surface of which only the random-incidence absorption coefficient is known: how does it absorb at each angle?
//!
//! A locally reacting surface of real impedance `z` (re that of air) absorbs `alpha(c) = 4 z c / (1 + z c)^2` at cosine `c` of the angle of incidence. Its average
//! in a diffuse field, weight `2 c dc`, is
//!
//! `alpha = (8 / z) [1 + 1 / (1 + z) - (2 / z) ln(1 + z)]`
//!
//! which rises to 0.95122 at `z` = 1.5669 and falls again for harder surfaces. The branch above that `z` is inverted by bisection: hard surfaces have large impedances.
//! The mean over a bin of the cosine follows from `int c^2 / (1 + z c)^2 dc = [u - 2 ln u - 1 / u] / z^3`, `u = 1 + z c`.
//!
//! Taking the tabulated value as one for normal incidence instead would damp hard walls almost twice too much.
//!
//! *Above the maximum* no such surface exists: sound must run on inside. A deep layer whose waves travel as fast as those in air (refraction index 1) keeps their
//! angle, so the cosines cancel in `R = (zeta - 1) / (zeta + 1)`, and matched to air (`zeta = 1`) it returns nothing at any angle. The surface is a fine mosaic of this
//! layer and of the impedance that absorbs most, the layer's share `x = (alpha - 0.95122) / (1 - 0.95122)`: the average is linear in it, so the value is met exactly, and value
//! and law over the angle go on from the maximum without a step. A layer alone, its `zeta` taken from the value, would absorb alike at every angle: at 80 degrees
//! 0.95 where the impedance absorbs 0.67, and two thousandths more in a table would shorten the early decay of a furnished basement by a fifth at 500 Hz.
//!
//! *The most that is kept* is 0.99, common practice without a source. A value of 1 would be an open window: no flat material returns nothing. Tables round to 0.01
//! and round results above 1 down to it, and these are measured on samples whose edges absorb too.
//!
//! *References.* E. T. Paris, Phil. Mag. 5 (1928) (from memory); H. Kuttruff, Room Acoustics, chapter 2 (from memory). Maximum: computed independently.
//!
//! *Limits.* One number cannot tell a resistance from a reactance: the law over the angle is the mildest one that has the right average. Panels that resonate
//! and layers that carry sound sideways differ; a layer model knows better. The mosaic stands in for thick layers, whose law over the angle no table tells. Values
//! that hold the edges of a sample are turned back first (`sized::sample`).

use super::{COSINE_BINS, bin_weight};

/// The impedance, re air, at which a real locally reacting surface absorbs most in a diffuse field.
pub const IMPEDANCE_OF_GREATEST_ABSORPTION: f64 = 1.566_9;

/// What it absorbs then: no real locally reacting surface absorbs more.
pub const GREATEST_ABSORPTION: f64 = 0.951_22;

/// The most that a material known by its random-incidence value alone absorbs (common practice, no source).
pub const GREATEST_KEPT: f64 = 0.99;

/// Absorption of a real locally reacting impedance `z` (re air) at this cosine of incidence.
#[must_use]
pub fn absorption_at(z: f64, cosine: f64) -> f64 {
    let product = z * cosine;
    4.0 * product / ((1.0 + product) * (1.0 + product))
}

/// Its average in a diffuse field.
#[must_use]
pub fn random_incidence_absorption(z: f64) -> f64 {
    8.0 / z * (1.0 + 1.0 / (1.0 + z) - 2.0 / z * z.ln_1p())
}

/// The impedance (re air) whose diffuse average is `absorption`, on the branch of hard surfaces; infinite for 0, held at
/// [`IMPEDANCE_OF_GREATEST_ABSORPTION`] above [`GREATEST_ABSORPTION`].
#[must_use]
pub fn from_random_incidence(absorption: f64) -> f64 {
    if absorption.is_nan() || absorption <= 0.0 {
        return f64::INFINITY;
    }
    if absorption >= GREATEST_ABSORPTION {
        return IMPEDANCE_OF_GREATEST_ABSORPTION;
    }
    // The average stays below 8 / z, which bounds the search from above.
    let (mut low, mut high) = (IMPEDANCE_OF_GREATEST_ABSORPTION, 8.0 / absorption);
    // Sixty halvings take any interval to the last bits.
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if random_incidence_absorption(middle) > absorption {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// How much of the mosaic is deep layer where no impedance absorbs as much in a diffuse field, 0 to 1; 0 up to [`GREATEST_ABSORPTION`].
#[must_use]
pub fn deep_share(absorption: f64) -> f64 {
    ((absorption.min(GREATEST_KEPT) - GREATEST_ABSORPTION) / (1.0 - GREATEST_ABSORPTION)).max(0.0)
}

/// Absorption at this cosine of incidence of the surface whose diffuse average is `absorption`, held at [`GREATEST_KEPT`].
#[must_use]
pub fn law(absorption: f64, cosine: f64) -> f64 {
    let z = from_random_incidence(absorption);
    if z.is_infinite() {
        return 0.0;
    }
    let (one, share) = (absorption_at(z, cosine), deep_share(absorption));
    one + share * (1.0 - one)
}

/// Absorption by cosine bin of the surface whose diffuse average is `absorption`; the average over the bins is `absorption` to the last digits.
pub(crate) fn bins(absorption: f64) -> [f64; COSINE_BINS] {
    if absorption > GREATEST_ABSORPTION {
        let share = deep_share(absorption);
        return bins(GREATEST_ABSORPTION).map(|value| value + share * (1.0 - value));
    }
    let z = from_random_incidence(absorption);
    if z.is_infinite() {
        return [0.0; COSINE_BINS];
    }
    // int_0^c 2 c' alpha(c') dc'.
    let absorbed_below = |edge: usize| {
        let u = 1.0 + z * edge as f64 / COSINE_BINS as f64;
        8.0 / (z * z) * (u - 2.0 * u.ln() - 1.0 / u)
    };
    let mut bins: [f64; COSINE_BINS] =
        std::array::from_fn(|bin| ((absorbed_below(bin + 1) - absorbed_below(bin)) / bin_weight(bin)).clamp(0.0, 1.0));
    let average: f64 = bins.iter().enumerate().map(|(bin, value)| value * bin_weight(bin)).sum();
    // What bisection and rounding left.
    for value in &mut bins {
        *value = (*value * absorption / average).min(1.0);
    }
    bins
}
