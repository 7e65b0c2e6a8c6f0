//! Steps that people count in: round marks for axes and color scales.
//!
//! A step is 1, 2, 2.5 or 5 times a power of ten, the smallest that leaves at most so many marks.

/// Marks of an axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Marks {
    /// Lowest mark.
    pub low: f64,
    /// Highest mark.
    pub high: f64,
    /// Between two marks.
    pub step: f64,
}

impl Marks {
    /// Round marks that enclose `low` to `high`, at most about `most` of them.
    #[must_use]
    pub fn round(low: f64, high: f64, most: usize) -> Self {
        let (low, high) = if low.is_finite() && high.is_finite() && high - low > 1e-12 { (low, high) } else { (0.0, 1.0) };
        let step = step((high - low) / most.max(1) as f64);
        Self { low: (low / step + 1e-9).floor() * step, high: (high / step - 1e-9).ceil() * step, step }
    }

    /// The marks, lowest first.
    #[must_use]
    pub fn values(&self) -> Vec<f64> {
        let count = ((self.high - self.low) / self.step).round().clamp(0.0, 1000.0) as usize;
        (0..=count).map(|index| self.low + index as f64 * self.step).collect()
    }

    /// A mark as written, with the digits that the step needs.
    #[must_use]
    pub fn print(&self, value: f64) -> String {
        print(value, self.step)
    }

    /// 0 at the lowest mark, 1 at the highest.
    #[must_use]
    pub fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }
}

/// The smallest round step that is no smaller than this.
#[must_use]
pub fn step(least: f64) -> f64 {
    if !(least.is_finite() && least > 0.0) {
        return 1.0;
    }
    let power = 10.0_f64.powf(least.log10().floor());
    [1.0, 2.0, 2.5, 5.0, 10.0].into_iter().map(|factor| factor * power).find(|step| *step >= least * (1.0 - 1e-9)).unwrap_or(10.0 * power)
}

/// A value with the digits that multiples of `step` need.
#[must_use]
pub fn print(value: f64, step: f64) -> String {
    let digits = (0..6).find(|digits| {
        let scaled = step * 10.0_f64.powi(*digits);
        (scaled - scaled.round()).abs() < 1e-6
    });
    let text = format!("{value:.*}", usize::try_from(digits.unwrap_or(6)).unwrap_or(6));
    if text.trim_start_matches('-').chars().all(|letter| matches!(letter, '0' | '.')) {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}
