//! Lengths as one reads them off a tape: whole millimeters, or feet and inches to the sixteenth.
//!
//! A chain of dimensions is the difference of rounded positions, never rounded lengths, so that it adds up to the running measure.
//!
//! *References.* Foot 0.3048 m, inch 25.4 mm, exact (international yard and pound agreement, 1959; from memory).
//!
//! *Limits.* Rounding is half a millimeter or 1/32 inch.

use crate::units::LengthUnit;

/// The tape in the user's hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tape {
    /// Whole millimeters.
    Millimeters,
    /// Feet, inches and sixteenths.
    FeetAndInches,
    /// Inches and sixteenths.
    Inches,
}

/// Meters in a sixteenth of an inch.
const SIXTEENTH: f64 = 0.0254 / 16.0;

impl Tape {
    /// The tape for lengths in this unit.
    #[must_use]
    pub fn of(unit: LengthUnit) -> Self {
        match unit {
            LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => Self::Millimeters,
            LengthUnit::Foot => Self::FeetAndInches,
            LengthUnit::Inch => Self::Inches,
        }
    }

    /// Whether it is marked in inches.
    #[must_use]
    pub fn is_inch(self) -> bool {
        !matches!(self, Self::Millimeters)
    }

    /// What its marks are, for headings.
    #[must_use]
    pub fn heading(self) -> &'static str {
        match self {
            Self::Millimeters => "Millimeters",
            Self::FeetAndInches => "Feet and inches",
            Self::Inches => "Inches",
        }
    }

    /// The nearest mark: whole millimeters, or sixteenths of an inch.
    #[must_use]
    pub fn mark(self, meters: f64) -> i64 {
        let step = if self.is_inch() { SIXTEENTH } else { 0.001 };
        (meters / step).round() as i64
    }

    /// What stands at a mark.
    #[must_use]
    pub fn print(self, mark: i64) -> String {
        let sign = if mark < 0 { "-" } else { "" };
        let size = mark.unsigned_abs();
        match self {
            Self::Millimeters => format!("{sign}{size}"),
            Self::Inches => format!("{sign}{}\"", inches(size)),
            Self::FeetAndInches if size < 192 => format!("{sign}{}\"", inches(size)),
            Self::FeetAndInches if size.is_multiple_of(192) => format!("{sign}{}'", size / 192),
            // A zero between feet and a lone fraction: 17' 0 3/4", not 17' 3/4".
            Self::FeetAndInches if size % 192 < 16 => format!("{sign}{}' 0 {}\"", size / 192, inches(size % 192)),
            Self::FeetAndInches => format!("{sign}{}' {}\"", size / 192, inches(size % 192)),
        }
    }

    /// A length as one reads it.
    #[must_use]
    pub fn read(self, meters: f64) -> String {
        self.print(self.mark(meters))
    }

    /// A length with its unit, for running text.
    #[must_use]
    pub fn say(self, meters: f64) -> String {
        match self {
            Self::Millimeters => format!("{} mm", self.read(meters)),
            _ => self.read(meters),
        }
    }

    /// Width and height with their unit.
    #[must_use]
    pub fn say_size(self, width: f64, height: f64) -> String {
        format!("{} x {}", self.read(width), self.say(height))
    }
}

/// Sixteenths as inches and a reduced fraction: `4 1/4`, `3/16`, `0`.
fn inches(sixteenths: u64) -> String {
    let (whole, rest) = (sixteenths / 16, sixteenths % 16);
    if rest == 0 {
        return whole.to_string();
    }
    let halvings = rest.trailing_zeros();
    let fraction = format!("{}/{}", rest >> halvings, 16 >> halvings);
    if whole == 0 { fraction } else { format!("{whole} {fraction}") }
}
