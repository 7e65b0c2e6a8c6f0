//! Lengths, levels and frequencies with their unit.

/// A length; SI inside.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
pub struct Length(pub f64);

/// Units a length may be written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthUnit {
    /// Meters.
    Meter,
    /// Centimeters.
    Centimeter,
    /// Millimeters.
    Millimeter,
    /// Feet.
    Foot,
    /// Inches.
    Inch,
}
