//! A build-up as it is typed: `thin: 50 mm, 12000, gap 50 mm, size 60 x 120 cm, price 45`.
//!
//! Parts stand between commas, the layers front first, as sound meets them:
//!
//! - a length with its unit is the thickness of a layer of fiber or open foam, and the number after it that layer's flow resistivity in Pa s/m2 (or `12 kPa s/m2`);
//! - `gap 50 mm` is air behind it, before the hard wall;
//! - `size 60 x 120 cm` and `price 45` are those of one panel; `price 62 per m2` needs no size;
//! - what stands before a colon is its name.
//!
//! *Limits.* Prices are numbers in whatever currency, the same for all.

use std::ops::Range;

use glam::DVec2;

use crate::scene::diagnostic::nearest;
use crate::scene::{Diagnostic, Severity};
use crate::units::{Length, LengthUnit};

/// Least and greatest flow resistivity of what is sold, Pa s/m2; as a scene takes them.
const RESISTIVITIES: (f64, f64) = (500.0, 500_000.0);
/// Least and greatest thickness of a layer, meters.
const THICKNESSES: (f64, f64) = (0.001, 1.0);
/// Least and greatest gap, meters.
const GAPS: (f64, f64) = (0.001, 2.0);
/// Least and greatest side of a panel, meters.
const SIDES: (f64, f64) = (0.05, 5.0);
/// Least and greatest price.
const PRICES: (f64, f64) = (0.01, 1e6);

/// Words that begin a part.
const WORDS: [&str; 3] = ["gap", "size", "price"];

/// How a layer may be written, for hints.
const EXAMPLE: &str =
    "a panel is written like \"50 mm, 12000, gap 50 mm\": a thickness with its unit, a flow resistivity in Pa s/m2, air behind it";

/// What was typed, as far as it could be read.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Written {
    pub(super) name: Option<String>,
    pub(super) layers: Vec<WrittenLayer>,
    /// Sides of one panel, meters.
    pub(super) size: Option<DVec2>,
    pub(super) price: Option<Price>,
    /// Unit of the first length.
    pub(super) unit: Option<LengthUnit>,
}

/// A layer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum WrittenLayer {
    /// Fiber or open foam: thickness in meters, flow resistivity in Pa s/m2.
    Fiber { thickness: f64, flow_resistivity: f64 },
    /// Meters of air.
    Air(f64),
}

/// What it costs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Price {
    /// One panel.
    Each(f64),
    /// A square meter.
    SquareMeter(f64),
}

impl Written {
    /// Price of a square meter, as far as it can be known.
    pub(super) fn price_per_m2(&self) -> Option<f64> {
        match (self.price?, self.size) {
            (Price::SquareMeter(price), _) => Some(price),
            (Price::Each(price), Some(size)) => Some(price / (size.x * size.y)),
            (Price::Each(_), None) => None,
        }
    }

    /// Price of one panel, as far as it can be known.
    pub(super) fn price_each(&self) -> Option<f64> {
        match (self.price?, self.size) {
            (Price::Each(price), _) => Some(price),
            (Price::SquareMeter(price), Some(size)) => Some(price * size.x * size.y),
            (Price::SquareMeter(_), None) => None,
        }
    }
}

/// Reads a build-up.
///
/// # Errors
/// Everything that is wrong with it.
pub(super) fn read(text: &str) -> Result<Written, Vec<Diagnostic>> {
    let mut reader = Reader { text, written: Written::default(), open: None, mistakes: Vec::new() };
    let mut start = 0;
    for part in text.split(',') {
        reader.part(start..start + part.len());
        start += part.len() + 1;
    }
    reader.finish()
}

/// What is known so far.
struct Reader<'t> {
    text: &'t str,
    written: Written,
    /// A thickness that waits for its flow resistivity, and where it stands.
    open: Option<(f64, Range<usize>)>,
    mistakes: Vec<Diagnostic>,
}

impl<'t> Reader<'t> {
    fn wrong(&mut self, id: &'static str, span: Range<usize>, message: String, hint: impl Into<String>) {
        let column = self.text[..span.start].chars().count() + 1;
        let hint = Some(hint.into());
        self.mistakes.push(Diagnostic { severity: Severity::Error, id, span, line: 1, column, message, hint });
    }

    /// A part of the text without the white space round it.
    fn trimmed(&self, span: Range<usize>) -> (&'t str, Range<usize>) {
        let whole = &self.text[span.clone()];
        let start = span.start + (whole.len() - whole.trim_start().len());
        let text = whole.trim();
        (text, start..start + text.len())
    }

    fn part(&mut self, span: Range<usize>) {
        let (mut text, mut span) = self.trimmed(span);
        if let (Some(colon), None, true) = (text.find(':'), &self.written.name, self.written.layers.is_empty() && self.open.is_none()) {
            let (name, _) = self.trimmed(span.start..span.start + colon);
            self.written.name = Some(name.to_owned()).filter(|name| !name.is_empty());
            (text, span) = self.trimmed(span.start + colon + 1..span.end);
        }
        let word = text.split(|letter: char| !letter.is_alphabetic()).next().unwrap_or_default();
        let rest = || (text[word.len()..].trim(), span.end - text[word.len()..].trim_start().len()..span.end);
        match word.to_lowercase().as_str() {
            "" if text.is_empty() => self.wrong("key-missing", span, "there is nothing here".to_owned(), EXAMPLE),
            "" => self.layer(text, span),
            "gap" => self.gap(rest()),
            "size" => self.size(rest()),
            "price" => self.price(rest()),
            other => {
                let hint = match nearest(other, WORDS) {
                    Some(near) => format!("did you mean \"{near}\"?"),
                    None => EXAMPLE.to_owned(),
                };
                self.wrong("unknown-word", span.start..span.start + word.len(), format!("\"{word}\" is no part of a build-up"), hint);
            }
        }
    }

    /// A thickness or a flow resistivity.
    fn layer(&mut self, text: &str, span: Range<usize>) {
        if let Some(resistivity) = resistivity(text) {
            let within = self.within(
                resistivity,
                &span,
                RESISTIVITIES,
                "a flow resistivity in Pa s/m2",
                "a length needs its unit, like 50 mm; thousands take no comma",
            );
            match self.open.take() {
                Some((thickness, _)) if within => {
                    self.written.layers.push(WrittenLayer::Fiber { thickness, flow_resistivity: resistivity });
                }
                None if within => {
                    self.wrong(
                        "key-missing",
                        span,
                        format!("\"{text}\" is the flow resistivity of no layer"),
                        "write the thickness before it, like 50 mm, 12000",
                    );
                }
                _ => {}
            }
            return;
        }
        if text.to_lowercase().replace(' ', "").ends_with("kg/m3") {
            self.wrong(
                "unknown-word",
                span,
                format!("\"{text}\" is a density"),
                "what counts is the flow resistivity, from the maker's sheet, in Pa s/m2",
            );
            return;
        }
        self.close();
        let mistakes = self.mistakes.len();
        let thickness = self.length((text, span.clone()), THICKNESSES, "a thickness");
        if self.mistakes.len() == mistakes {
            self.open = thickness.map(|thickness| (thickness, span));
        }
    }

    fn gap(&mut self, (text, span): (&str, Range<usize>)) {
        self.close();
        if let Some(gap) = self.length((text, span), GAPS, "a gap") {
            self.written.layers.push(WrittenLayer::Air(gap));
        }
    }

    fn size(&mut self, (text, span): (&str, Range<usize>)) {
        let sides: Vec<&str> = text.split(['x', 'X', '\u{d7}']).collect();
        let [one, other] = sides[..] else {
            self.wrong("wrong-count", span, format!("\"{text}\" is not width x height"), "write it like size 60 x 120 cm");
            return;
        };
        let end = span.start + one.len();
        // A side without a unit takes that of the other.
        let unit = other.trim_start_matches(|letter: char| letter.is_ascii_digit() || letter == '.' || letter == ' ');
        let unit = unit.split(|letter: char| letter.is_ascii_digit() || letter == ' ').next().unwrap_or_default();
        let bare = one.trim().chars().all(|letter| letter.is_ascii_digit() || letter == '.');
        let first = if bare { format!("{} {unit}", one.trim()) } else { one.trim().to_owned() };
        let one = self.length((&first, span.start..end), SIDES, "the side of a panel");
        let other = self.length((other.trim(), span.end - other.trim_start().len()..span.end), SIDES, "the side of a panel");
        if let (Some(one), Some(other)) = (one, other) {
            self.written.size = Some(DVec2::new(one, other));
        }
    }

    fn price(&mut self, (text, span): (&str, Range<usize>)) {
        let (number, per) = match text.split_once("per") {
            Some((number, per)) => (number.trim(), Some(per.trim())),
            None => (text, None),
        };
        let Ok(value) = number.parse::<f64>() else {
            self.wrong("wrong-type", span, format!("\"{text}\" is not a price"), "write a bare number: price 45, or price 62 per m2");
            return;
        };
        if !self.within(value, &span, PRICES, "a price", "write a bare number in your currency, the same for all") {
            return;
        }
        self.written.price = match per {
            None | Some("panel") => Some(Price::Each(value)),
            Some("m2" | "m\u{b2}") => Some(Price::SquareMeter(value)),
            Some(other) => {
                self.wrong(
                    "unknown-word",
                    span,
                    format!("a price is that of one panel or \"per m2\", not \"per {other}\""),
                    "write price 45, or price 62 per m2",
                );
                None
            }
        };
    }

    /// A length with its unit, within limits in meters.
    fn length(&mut self, (text, span): (&str, Range<usize>), limits: (f64, f64), what: &str) -> Option<f64> {
        let has_unit = text.contains(|letter: char| letter.is_alphabetic() || "'\"\u{2032}\u{2033}\u{2019}\u{201d}".contains(letter));
        if !has_unit {
            let message = format!("\"{text}\" as {what} has no unit");
            self.wrong(
                "not-a-length",
                span,
                message,
                format!(
                    "write it like {} mm or {} in",
                    if text.is_empty() { "50" } else { text },
                    if text.is_empty() { "2" } else { text }
                ),
            );
            return None;
        }
        match Length::read(text, LengthUnit::Millimeter) {
            Ok(Length(meters)) => {
                let unit = LengthUnit::ALL.into_iter().rev().find(|unit| named_in(text, *unit)).unwrap_or(LengthUnit::Millimeter);
                self.written.unit = self.written.unit.or(Some(unit));
                let print = |meters: f64| Length(meters).print(unit);
                let hint = format!("expected {} to {}", print(limits.0), print(limits.1));
                self.within(meters, &span, limits, what, &hint).then_some(meters)
            }
            Err(reason) => {
                self.wrong(
                    "not-a-length",
                    span,
                    format!("\"{text}\" as {what}: {reason}"),
                    "write it like 50 mm, 5 cm, 0.05 m, 2 in or 1 ft 6 in",
                );
                None
            }
        }
    }

    fn within(&mut self, value: f64, span: &Range<usize>, (low, high): (f64, f64), what: &str, hint: &str) -> bool {
        let fits = (low..=high).contains(&value);
        if !fits {
            let typed = &self.text[span.clone()];
            let hint = if hint.starts_with("expected") { hint.to_owned() } else { format!("expected {low} to {high}; {hint}") };
            self.wrong("out-of-range", span.clone(), format!("{typed} is out of range as {what}"), hint);
        }
        fits
    }

    /// A thickness that still waits has no flow resistivity.
    fn close(&mut self) {
        if let Some((_, span)) = self.open.take() {
            let typed = self.text[span.clone()].to_owned();
            self.wrong(
                "key-missing",
                span,
                format!("{typed} of what? Its flow resistivity is missing"),
                format!("write it like {typed}, 12000 (Pa s/m2, from the maker's sheet)"),
            );
        }
    }

    fn finish(mut self) -> Result<Written, Vec<Diagnostic>> {
        self.close();
        let whole = 0..self.text.len();
        if self.mistakes.is_empty() && !self.written.layers.iter().any(|layer| matches!(layer, WrittenLayer::Fiber { .. })) {
            self.wrong("key-missing", whole.clone(), "there is no layer that absorbs".to_owned(), EXAMPLE);
        }
        if let (Some(Price::Each(_)), None) = (self.written.price, self.written.size) {
            self.wrong(
                "key-missing",
                whole,
                "the price of one panel says nothing without its size".to_owned(),
                "add size 60 x 120 cm, or write price 62 per m2",
            );
        }
        self.mistakes.sort_by_key(|mistake| mistake.span.start);
        if self.mistakes.is_empty() { Ok(self.written) } else { Err(self.mistakes) }
    }
}

/// A bare number, or one in Pa s/m2 or kPa s/m2; in Pa s/m2.
fn resistivity(text: &str) -> Option<f64> {
    let end = text.find(|letter: char| !(letter.is_ascii_digit() || matches!(letter, '.' | '-'))).unwrap_or(text.len());
    let number: f64 = text[..end].parse().ok()?;
    let unit: String = text[end..].chars().filter(|letter| !matches!(letter, ' ' | '.' | '*' | '\u{b7}')).collect();
    match unit.replace('\u{b2}', "2").to_lowercase().as_str() {
        "" | "pas/m2" => Some(number),
        "kpas/m2" => Some(1000.0 * number),
        _ => None,
    }
}

/// Whether a length that reads is written in this unit.
fn named_in(text: &str, unit: LengthUnit) -> bool {
    let words = text.split(|letter: char| letter.is_ascii_digit() || letter.is_whitespace() || matches!(letter, '.' | '/'));
    words.filter(|word| !word.is_empty()).any(|word| LengthUnit::named(&word.to_lowercase()) == Some(unit))
}
