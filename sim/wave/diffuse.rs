//! What does a surface of complex admittance absorb of sound from everywhere?
//!
//! A locally reacting surface of impedance `z = r e^(j t)` (re that of air) absorbs `4 c Re z / |1 + z c|^2` at cosine `c` of the angle of incidence; in a diffuse field, weight `2 c dc`,
//!
//! ```text
//! alpha = (8 cos t / r) [1 + cos 2t / (r sin t) arctan(r sin t / (1 + r cos t)) - (cos t / r) ln(1 + 2 r cos t + r^2)]
//! ```
//!
//! For `t = 0` that is the closed form of `absorbers::impedance`.
//!
//! *References.* H. Kuttruff, Room Acoustics, chapter 2 (from memory; held to a sum over angles by the tests).
//!
//! *Limits.* Surfaces that react locally. Above an admittance of a thousand, what the brackets leave is lost in rounding.

use num_complex::Complex64;

/// Random-incidence absorption coefficient of a locally reacting surface of this admittance re that of air; 0 where it takes nothing.
#[must_use]
pub fn absorbed(admittance: Complex64) -> f64 {
    if admittance.re <= 0.0 {
        return 0.0;
    }
    let (size, phase) = admittance.inv().to_polar();
    let (sine, cosine) = phase.sin_cos();
    let angle = (size * sine / (1.0 + size * cosine)).atan();
    // Arc tangent over sine where both are nothing.
    let turned = if sine.abs() > 1e-9 { angle / sine } else { size / (1.0 + size) };
    let logarithm = (size * (2.0 * cosine + size)).ln_1p();
    8.0 * cosine / size * (1.0 + (2.0 * phase).cos() / size * turned - cosine / size * logarithm)
}
