//! Lengths, frequencies and levels with their unit: how a tape measure writes them, and back.
//!
//! A length is read from a bare number (in the unit of the scene) or from words: `2.4 m`, `610 mm`, `24.5 cm`, `8 ft 2 1/2 in`,
//! `98 1/2 in`, `8' 2 1/2"`, and `6 um` for fibers. Inside the program it is meters: 1 in = 25.4 mm, 1 ft = 12 in, both exact.
//! A level is `10 lg(ratio of energies)`.
//!
//! *References.* The inch of 25.4 mm: international yard and pound agreement, 1959 (from memory).
//!
//! *Limits.* No yards, no decimal commas, no fractions of meters. Printing rounds to 1 mm (metric units; 0.1 um in micrometers)
//! or 1/16 in (feet and inches).

use std::fmt;

/// A pound in kilograms, exact (the same agreement; from memory).
pub const POUND_KG: f64 = 0.453_592_37;
/// Newtons in a pound-force: a pound times standard gravity.
pub const POUND_FORCE_N: f64 = 4.448_221_615_260_5;

/// Defines a quantity: a number in one SI unit that cannot be mixed up with another.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
        pub struct $name(pub f64);

        impl $name {
            /// Symbol of the unit inside.
            pub const UNIT: &'static str = $unit;

            /// The number in the unit inside.
            #[must_use]
            pub const fn value(self) -> f64 {
                self.0
            }
        }

        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
    };
}

quantity! {
    /// A length; meters inside.
    Length, "m"
}
quantity! {
    /// A frequency; hertz inside.
    Frequency, "Hz"
}
quantity! {
    /// A level or a difference of levels; decibels inside.
    Decibels, "dB"
}

impl Decibels {
    /// The level of a ratio of energies; minus infinity for a ratio of zero.
    #[must_use]
    pub fn from_energy_ratio(ratio: f64) -> Self {
        Self(10.0 * ratio.log10())
    }

    /// The ratio of energies of this level.
    #[must_use]
    pub fn energy_ratio(self) -> f64 {
        10.0_f64.powf(self.0 / 10.0)
    }
}

impl fmt::Display for Decibels {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} dB", self.0)
    }
}

impl fmt::Display for Frequency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 < 1000.0 { write!(f, "{:.1} Hz", self.0) } else { write!(f, "{:.2} kHz", self.0 / 1000.0) }
    }
}

/// Units a length may be written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthUnit {
    /// Meters.
    Meter,
    /// Centimeters.
    Centimeter,
    /// Millimeters.
    Millimeter,
    /// Micrometers, for what no tape shows; no scene is in them.
    Micrometer,
    /// Feet.
    Foot,
    /// Inches.
    Inch,
}

impl LengthUnit {
    /// Those that a scene may be in.
    pub const ALL: [Self; 5] = [Self::Meter, Self::Centimeter, Self::Millimeter, Self::Foot, Self::Inch];

    /// Its symbol, as the scene's `unit` writes it.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Meter => "m",
            Self::Centimeter => "cm",
            Self::Millimeter => "mm",
            Self::Micrometer => "um",
            Self::Foot => "ft",
            Self::Inch => "in",
        }
    }

    /// The unit with this symbol or name.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        Some(match word {
            "m" | "meter" | "meters" | "metre" | "metres" => Self::Meter,
            "cm" | "centimeter" | "centimeters" | "centimetre" | "centimetres" => Self::Centimeter,
            "mm" | "millimeter" | "millimeters" | "millimetre" | "millimetres" => Self::Millimeter,
            "um" | "\u{b5}m" | "\u{3bc}m" | "micrometer" | "micrometers" | "micrometre" | "micrometres" => Self::Micrometer,
            "ft" | "foot" | "feet" | "'" | "\u{2032}" | "\u{2019}" => Self::Foot,
            "in" | "inch" | "inches" | "\"" | "\u{2033}" | "\u{201d}" | "''" => Self::Inch,
            _ => return None,
        })
    }

    /// Meters from a number of this unit. Divides where it can, so that 610 mm is the same number as 0.61 m.
    #[must_use]
    pub fn to_meters(self, number: f64) -> f64 {
        match self {
            Self::Meter => number,
            Self::Centimeter => number / 100.0,
            Self::Millimeter => number / 1000.0,
            Self::Micrometer => number / 1e6,
            Self::Foot => number * 3048.0 / 10_000.0,
            Self::Inch => number * 254.0 / 10_000.0,
        }
    }

    /// A number of this unit from meters.
    #[must_use]
    pub fn from_meters(self, meters: f64) -> f64 {
        match self {
            Self::Meter => meters,
            Self::Centimeter => meters * 100.0,
            Self::Millimeter => meters * 1000.0,
            Self::Micrometer => meters * 1e6,
            Self::Foot => meters * 10_000.0 / 3048.0,
            Self::Inch => meters * 10_000.0 / 254.0,
        }
    }
}

/// Why a text is not a length.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LengthError {
    /// Nothing there.
    #[error("there is no number in it")]
    Empty,
    /// A decimal comma.
    #[error("a decimal comma is not understood; write a point")]
    Comma,
    /// A word that is no unit.
    #[error("`{0}` is not a unit of length")]
    Unit(String),
    /// A number that cannot be read.
    #[error("`{0}` is not a number")]
    Number(String),
    /// Only feet may be followed by a second measure, in inches below 12.
    #[error("two measures in a row are only understood as feet and then less than 12 inches, as in 13 ft 5 in")]
    Sequence,
}

/// One word of a written length.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Word<'a> {
    Number(f64),
    Fraction(f64),
    Unit(&'a str),
}

impl Length {
    /// Reads a length as a tape measure writes it; a bare number is in `unit`.
    ///
    /// # Errors
    /// If the text is not a length: the error says which part.
    pub fn read(text: &str, unit: LengthUnit) -> Result<Self, LengthError> {
        let text = text.trim();
        if text.contains(',') {
            return Err(LengthError::Comma);
        }
        let (sign, text) = match text.strip_prefix('-') {
            Some(rest) => (-1.0, rest.trim_start()),
            None => (1.0, text),
        };
        let measures = measures(&words(text)?)?;
        let meters = match measures[..] {
            [(number, None)] => unit.to_meters(number),
            [(number, Some(unit))] => unit.to_meters(number),
            // Feet without a fraction and inches add up exactly in inches.
            [(feet, Some(LengthUnit::Foot)), (inches, Some(LengthUnit::Inch))] if inches < 12.0 => {
                LengthUnit::Inch.to_meters(feet * 12.0 + inches)
            }
            _ => return Err(LengthError::Sequence),
        };
        Ok(Self(sign * meters))
    }

    /// Prints it as one reads it off a tape: `2.405 m`, `240.5 cm`, `2405 mm`, `7 ft 10 11/16 in`, `94 11/16 in`.
    #[must_use]
    pub fn print(self, unit: LengthUnit) -> String {
        let number = unit.from_meters(self.0);
        match unit {
            LengthUnit::Meter => trimmed(number, 3, "m"),
            LengthUnit::Centimeter => trimmed(number, 1, "cm"),
            LengthUnit::Millimeter => trimmed(number, 0, "mm"),
            LengthUnit::Micrometer => trimmed(number, 1, "um"),
            LengthUnit::Foot | LengthUnit::Inch => sixteenths(LengthUnit::Inch.from_meters(self.0), unit == LengthUnit::Foot),
        }
    }
}

/// A number with at most this many decimals, and its unit.
fn trimmed(number: f64, decimals: usize, symbol: &str) -> String {
    let text = format!("{number:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format!("{} {symbol}", if text == "-0" { "0" } else { text })
}

/// Inches to the nearest sixteenth, with feet split off if wanted.
fn sixteenths(inches: f64, split_feet: bool) -> String {
    let parts = (inches.abs() * 16.0).round();
    let sign = if inches < 0.0 && parts > 0.0 { "-" } else { "" };
    let feet = if split_feet { (parts / 192.0).floor() } else { 0.0 };
    let rest = parts - feet * 192.0;
    let (whole, mut numerator, mut denominator) = ((rest / 16.0).floor(), (rest % 16.0) as u32, 16);
    while numerator > 0 && numerator.is_multiple_of(2) {
        numerator /= 2;
        denominator /= 2;
    }
    let inches = match (whole > 0.0, numerator > 0) {
        (true, true) => format!("{whole} {numerator}/{denominator} in"),
        (false, true) => format!("{numerator}/{denominator} in"),
        (_, false) => format!("{whole} in"),
    };
    match (feet > 0.0, rest > 0.0) {
        (true, true) => format!("{sign}{feet} ft {inches}"),
        (true, false) => format!("{sign}{feet} ft"),
        (false, _) => format!("{sign}{inches}"),
    }
}

/// Splits a written length into numbers, fractions and units.
fn words(text: &str) -> Result<Vec<Word<'_>>, LengthError> {
    let mut words = Vec::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let length = if first.is_whitespace() {
            rest = rest.trim_start();
            continue;
        } else if first.is_ascii_digit() || first == '.' {
            rest.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '/')).unwrap_or(rest.len())
        } else if first.is_alphabetic() {
            rest.find(|c: char| !c.is_alphabetic()).unwrap_or(rest.len())
        } else if rest.starts_with("''") {
            2
        } else {
            first.len_utf8()
        };
        let (word, after) = rest.split_at(length);
        words.push(if first.is_ascii_digit() || first == '.' { number(word)? } else { Word::Unit(word) });
        rest = after;
    }
    Ok(words)
}

/// A decimal number or a fraction.
fn number(word: &str) -> Result<Word<'_>, LengthError> {
    let wrong = || LengthError::Number(word.to_owned());
    let read = |text: &str| text.parse::<f64>().ok().filter(|number| number.is_finite()).ok_or_else(wrong);
    match word.split_once('/') {
        None => Ok(Word::Number(read(word)?)),
        Some((above, below)) => match (read(above)?, read(below)?) {
            (above, below) if below > 0.0 && above.fract() == 0.0 && below.fract() == 0.0 => Ok(Word::Fraction(above / below)),
            _ => Err(wrong()),
        },
    }
}

/// Joins words into measures: a number, a fraction, or a whole number and a fraction, each with its unit if it has one.
fn measures(words: &[Word<'_>]) -> Result<Vec<(f64, Option<LengthUnit>)>, LengthError> {
    let mut measures = Vec::new();
    let mut pending: Option<(f64, bool)> = None;
    for word in words {
        match (*word, pending) {
            (Word::Number(number), None) => pending = Some((number, false)),
            (Word::Fraction(part), None) => pending = Some((part, true)),
            (Word::Fraction(part), Some((whole, false))) if whole.fract() == 0.0 => pending = Some((whole + part, true)),
            (Word::Unit(word), Some((number, _))) => {
                let unit = LengthUnit::named(&word.to_lowercase()).ok_or_else(|| LengthError::Unit(word.to_owned()))?;
                measures.push((number, Some(unit)));
                pending = None;
            }
            (Word::Unit(word), None) if measures.is_empty() => {
                return Err(LengthUnit::named(word).map_or_else(|| LengthError::Unit(word.to_owned()), |_| LengthError::Empty));
            }
            _ => return Err(LengthError::Sequence),
        }
    }
    if let Some((number, _)) = pending {
        measures.push((number, None));
    }
    if measures.is_empty() { Err(LengthError::Empty) } else { Ok(measures) }
}
