//! A build-up as it is typed: `thin: 50 mm, 12000, gap 50 mm, size 60 x 120 cm, price 45`.
//!
//! Parts stand between commas, the layers front first, as sound meets them:
//!
//! - a length with its unit is the thickness of a layer of fiber or open foam; what follows it is that layer's flow resistivity, `12000` Pa s/m2 or `12 kPa s/m2`, or, where no maker
//!   says it, the density of glass, mineral or polyester fiber, `45 kg/m3 mineral`;
//! - `gap 50 mm` is air;
//! - `cloth 200 Pa s/m`, `cloth 200 Pa s/m 0.3 kg/m2`, `membrane 2.5 kg/m2`, `perforated 3 mm with 20 % of 5 mm holes`, `slotted 16 mm with 15 % of 6 mm slots` lie before or
//!   between them; cloth that one can breathe through is left out;
//! - `suspended` hangs it in free air, `cells` puts partitions across it; without these it lies before a hard wall, and sound runs sideways in it;
//! - `size 60 x 120 cm` and `price 45` are those of one panel; `price 62 per m2` needs no size;
//! - what stands before a colon is its name.
//!
//! *Limits.* Prices are numbers in whatever currency, the same for all. Fibers known by their density have the usual diameter of their kind.

use std::ops::Range;

use glam::DVec2;

use crate::absorbers::resistivity::{Estimate, Fiber};
use crate::absorbers::{Backing, BuildUp, Layer};
use crate::scene::diagnostic::nearest;
use crate::scene::{CoreLayer, Diagnostic, Facing, Fibers, Filling, PorousLaw, Severity, plausible};
use crate::units::{Length, LengthUnit};

/// Least and greatest value that is plausible, in SI units but for percent, what it is, and its unit for print.
struct Plausible {
    low: f64,
    high: f64,
    what: &'static str,
    unit: &'static str,
}

impl Plausible {
    const fn of((low, high): (f64, f64), what: &'static str, unit: &'static str) -> Self {
        Self { low, high, what, unit }
    }
}

const RESISTIVITY: Plausible = Plausible::of(plausible::FLOW_RESISTIVITY, "a flow resistivity", " Pa s/m2");
const DENSITY: Plausible = Plausible::of(plausible::DENSITY, "a density of fiber", " kg/m3");
const RESISTANCE: Plausible = Plausible::of(plausible::FLOW_RESISTANCE, "the flow resistance of a cloth", " Pa s/m");
const CLOTH_MASS: Plausible = Plausible::of(plausible::CLOTH_MASS, "the mass of a cloth", " kg/m2");
const MEMBRANE_MASS: Plausible = Plausible::of(plausible::MEMBRANE_MASS, "the mass of a membrane", " kg/m2");
const HOLES_OPEN: Plausible = Plausible::of(plausible::ROUND_OPEN, "an open share of round holes", " %");
const SLOTS_OPEN: Plausible = Plausible::of(plausible::SLOT_OPEN, "an open share of slots", " %");
const PRICE: Plausible = Plausible { low: 0.01, high: 1e6, what: "a price", unit: "" };
const THICKNESS: Plausible = Plausible::of(plausible::LAYER, "a thickness", "");
const GAP: Plausible = Plausible::of(plausible::GAP, "a gap", "");
const SHEET: Plausible = Plausible::of(plausible::SHEET, "the thickness of a sheet", "");
const OPENING: Plausible = Plausible::of(plausible::HOLE, "a hole or slot", "");
const SIDE: Plausible = Plausible { low: 0.05, high: 5.0, what: "the side of a panel", unit: "" };

/// Words that begin a part.
const WORDS: [&str; 9] = ["gap", "size", "price", "cloth", "membrane", "perforated", "slotted", "suspended", "cells"];

/// How a build-up may be written, for hints.
const EXAMPLE: &str =
    "write it like \"50 mm, 12000, gap 50 mm\": a thickness with its unit, its flow resistivity in Pa s/m2, air behind it";

/// How a sheet with openings is written.
const SHEETS: &str = "write it like perforated 3 mm with 20 % of 5 mm holes, or slotted 16 mm with 15 % of 6 mm slots";

/// What was typed.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Written {
    /// What stands before the colon, or else all parts but size and price.
    pub(super) name: String,
    pub(super) build_up: BuildUp,
    /// Its layers as a scene says them; `None` of a cloth whose mass is not told, which a scene does not take.
    pub(super) parts: Vec<Option<CoreLayer>>,
    /// The same with the lowest and the highest flow resistivities that its densities leave open.
    pub(super) extremes: Option<[BuildUp; 2]>,
    /// Sides of one panel, meters.
    pub(super) size: Option<DVec2>,
    pub(super) price: Option<Price>,
    /// Unit of the first length.
    pub(super) unit: Option<LengthUnit>,
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
    let mut reader = Reader {
        text,
        written: Written::default(),
        is_first: true,
        told: Vec::new(),
        open: None,
        estimates: Vec::new(),
        mistakes: Vec::new(),
    };
    let mut start = 0;
    for part in text.split(',') {
        reader.part(start..start + part.len());
        start += part.len() + 1;
    }
    reader.finish()
}

/// A piece of the text and where it stands, without the white space round it.
#[derive(Clone, Debug)]
struct Piece<'t> {
    text: &'t str,
    span: Range<usize>,
}

impl<'t> Piece<'t> {
    /// What stands there in the whole text.
    fn of(whole: &'t str, span: Range<usize>) -> Self {
        let piece = &whole[span.clone()];
        let start = span.start + (piece.len() - piece.trim_start().len());
        let text = piece.trim();
        Self { text, span: start..start + text.len() }
    }

    /// What stands before and behind a word or sign in it.
    fn split(&self, at: &str) -> Option<(Self, Self)> {
        let place = self.text.find(at)?;
        Some((self.part(0..place), self.part(place + at.len()..self.text.len())))
    }

    fn part(&self, range: Range<usize>) -> Self {
        let inner = Self::of(self.text, range);
        Self { text: inner.text, span: self.span.start + inner.span.start..self.span.start + inner.span.end }
    }

    /// The word it begins with, and the rest.
    fn first_word(&self) -> (Self, Self) {
        let end = self.text.find(|letter: char| !letter.is_alphabetic()).unwrap_or(self.text.len());
        (self.part(0..end), self.part(end..self.text.len()))
    }

    /// The number it begins with, and the rest.
    fn number(&self) -> Option<(f64, Self)> {
        let end = self.text.find(|letter: char| !(letter.is_ascii_digit() || matches!(letter, '.' | '-'))).unwrap_or(self.text.len());
        let number = self.text[..end].parse().ok()?;
        Some((number, self.part(end..self.text.len())))
    }

    /// A unit without the signs and spaces that people write it with.
    fn as_unit(&self) -> String {
        let letters = self.text.chars().filter(|letter| !matches!(letter, ' ' | '.' | '*' | '\u{b7}'));
        letters.collect::<String>().replace('\u{b2}', "2").replace('\u{b3}', "3").to_lowercase()
    }
}

/// What is known so far.
struct Reader<'t> {
    text: &'t str,
    written: Written,
    is_first: bool,
    /// Parts that say what it is made of.
    told: Vec<&'t str>,
    /// A thickness that waits for its flow resistivity.
    open: Option<(f64, Piece<'t>)>,
    /// Layers known by their density, by their index.
    estimates: Vec<(usize, Estimate)>,
    mistakes: Vec<Diagnostic>,
}

impl<'t> Reader<'t> {
    fn wrong(&mut self, id: &'static str, span: Range<usize>, message: String, hint: impl Into<String>) {
        let column = self.text[..span.start].chars().count() + 1;
        self.mistakes.push(Diagnostic { severity: Severity::Error, id, span, line: 1, column, message, hint: Some(hint.into()) });
    }

    fn part(&mut self, span: Range<usize>) {
        let mut part = Piece::of(self.text, span);
        if let Some((name, rest)) = part.split(":").filter(|_| std::mem::take(&mut self.is_first)) {
            name.text.clone_into(&mut self.written.name);
            part = rest;
        }
        self.is_first = false;
        let (word, rest) = part.first_word();
        let named = word.text.to_lowercase();
        if !matches!(named.as_str(), "size" | "price") {
            self.told.push(part.text);
        }
        if WORDS[3..].contains(&named.as_str()) {
            self.close();
        }
        match named.as_str() {
            "" if part.text.is_empty() => self.wrong("key-missing", part.span, "there is nothing between two commas".to_owned(), EXAMPLE),
            "" => self.fiber(part),
            "gap" => {
                self.close();
                if let Some(thickness) = self.length(&rest, &GAP) {
                    self.layer(Layer::Air { thickness }, Some(CoreLayer::Air { thickness }));
                }
            }
            "size" => self.size(&rest),
            "price" => self.price(&rest),
            "cloth" => self.cloth(&rest),
            "membrane" => self.membrane(&rest),
            "perforated" | "slotted" => self.sheet(&rest, named == "slotted"),
            "suspended" if rest.text.is_empty() => self.written.build_up.backing = Backing::FreeAir,
            "cells" if rest.text.is_empty() => self.written.build_up.cells = true,
            "suspended" | "cells" => {
                self.wrong("unknown-word", rest.span, format!("nothing may follow \"{named}\""), "put a comma before the next part");
            }
            _ => self.unknown(&word),
        }
    }

    /// The next layer, and the same as a scene says it.
    fn layer(&mut self, layer: Layer, part: Option<CoreLayer>) {
        self.written.build_up.layers.push(layer);
        self.written.parts.push(part);
    }

    fn unknown(&mut self, word: &Piece<'t>) {
        let hint = nearest(word.text, WORDS).map_or_else(|| EXAMPLE.to_owned(), |near| format!("did you mean \"{near}\"?"));
        self.wrong("unknown-word", word.span.clone(), format!("\"{}\" is no part of a build-up", word.text), hint);
    }

    /// The thickness of a layer of fiber, or what its thickness waits for.
    fn fiber(&mut self, part: Piece<'t>) {
        let Some((number, unit)) = part.number() else {
            let what = self.length(&part, &THICKNESS);
            debug_assert!(what.is_none(), "what begins with no number is no length");
            return;
        };
        let kind = unit.as_unit();
        let value = match kind.as_str() {
            "" | "pas/m2" => self.within(number, &part, &RESISTIVITY).then_some((number, None)),
            "kpas/m2" => self.within(1000.0 * number, &part, &RESISTIVITY).then_some((1000.0 * number, None)),
            _ if kind.starts_with("kg/m3") => self.density(number, &part, kind.trim_start_matches("kg/m3")),
            _ => {
                self.close();
                self.open = self.length(&part, &THICKNESS).map(|thickness| (thickness, part));
                return;
            }
        };
        match (self.open.take(), value) {
            (Some((thickness, _)), Some((flow_resistivity, known))) => {
                let index = self.written.build_up.layers.len();
                let filling = match known {
                    Some((estimate, fiber)) => {
                        self.estimates.push((index, estimate));
                        Filling { flow_resistivity: None, fiber: Some(fiber), law: PorousLaw::default() }
                    }
                    None => Filling::of_resistivity(flow_resistivity),
                };
                self.layer(Layer::fiber(flow_resistivity, thickness), Some(CoreLayer::Porous { filling, thickness }));
            }
            (None, Some(_)) => {
                let message = format!("\"{}\" is that of no layer", part.text);
                self.wrong("key-missing", part.span, message, "write the thickness before it, like 50 mm, 12000");
            }
            _ => {}
        }
    }

    /// The flow resistivity of fiber of this density in kg/m3, and what it follows from.
    fn density(&mut self, density: f64, part: &Piece<'t>, kind: &str) -> Option<(f64, Option<(Estimate, Fibers)>)> {
        let kind = match kind {
            "glass" => Fiber::Glass,
            "mineral" => Fiber::Mineral,
            "polyester" => Fiber::Polyester,
            _ => {
                let message = format!("\"{}\" is the density of what?", part.text);
                let hint = "write 45 kg/m3 mineral, or glass, or polyester; better the flow resistivity from the maker's sheet, in Pa s/m2";
                self.wrong("unknown-word", part.span.clone(), message, hint);
                // Nothing is missing but the word.
                self.open = None;
                return None;
            }
        };
        let estimate = self.within(density, part, &DENSITY).then(|| kind.resistivity(density, None)).flatten()?;
        Some((estimate.likely, Some((estimate, Fibers { kind, density, diameter: None }))))
    }

    fn cloth(&mut self, rest: &Piece<'t>) {
        let hint = "write it like cloth 200 Pa s/m, or cloth 200 Pa s/m 0.3 kg/m2; cloth that one can breathe through changes nothing: leave it out";
        let parsed = rest.number().and_then(|(resistance, unit)| {
            let place = unit.text.find(|letter: char| letter.is_ascii_digit()).unwrap_or(unit.text.len());
            let (unit, mass) = (unit.part(0..place), unit.part(place..unit.text.len()));
            let mass = if mass.text.is_empty() { f64::INFINITY } else { mass.number().filter(|(_, unit)| unit.as_unit() == "kg/m2")?.0 };
            (unit.as_unit() == "pas/m").then_some((resistance, mass))
        });
        let Some((resistance, mass)) = parsed else {
            self.wrong("wrong-type", rest.span.clone(), format!("\"{}\" is not what a cloth resists", rest.text), hint);
            return;
        };
        let fits = self.within(resistance, rest, &RESISTANCE) & (mass.is_infinite() || self.within(mass, rest, &CLOTH_MASS));
        if fits {
            let part = mass.is_finite().then_some(CoreLayer::Sheet(Facing::Cloth { flow_resistance: resistance, mass }));
            self.layer(Layer::Cloth { resistance, mass }, part);
        }
    }

    fn membrane(&mut self, rest: &Piece<'t>) {
        match rest.number().filter(|(_, unit)| unit.as_unit() == "kg/m2") {
            Some((mass, _)) => {
                if self.within(mass, rest, &MEMBRANE_MASS) {
                    self.layer(Layer::Membrane { mass, resistance: 0.0 }, Some(CoreLayer::Sheet(Facing::Membrane { mass })));
                }
            }
            None => self.wrong(
                "wrong-type",
                rest.span.clone(),
                format!("\"{}\" is not the mass of a membrane", rest.text),
                "write it like membrane 2.5 kg/m2",
            ),
        }
    }

    /// A sheet with holes or slots.
    fn sheet(&mut self, rest: &Piece<'t>, slotted: bool) {
        let parts = rest.split("with").and_then(|(thickness, openings)| Some((thickness, openings.split("of")?)));
        let Some((thickness, (share, opening))) = parts else {
            self.wrong("wrong-type", rest.span.clone(), format!("\"{}\" is no sheet with openings", rest.text), SHEETS);
            return;
        };
        let word = if slotted { "slots" } else { "holes" };
        let end = opening.text.strip_suffix(word).map_or(opening.text.len(), str::len);
        let opening = opening.part(0..end);
        let share_percent = match share.number().filter(|(_, unit)| unit.text == "%") {
            Some((percent, _)) => self.within(percent, &share, if slotted { &SLOTS_OPEN } else { &HOLES_OPEN }).then_some(percent),
            None => {
                self.wrong("wrong-type", share.span.clone(), format!("\"{}\" is no open share in percent", share.text), SHEETS);
                None
            }
        };
        let (thickness, width) = (self.length(&thickness, &SHEET), self.length(&opening, &OPENING));
        if let (Some(percent), Some(thickness), Some(width)) = (share_percent, thickness, width) {
            let open = percent / 100.0;
            let (layer, facing) = if slotted {
                (Layer::Slotted { slot: width, open, thickness }, Facing::Slotted { slot: width, open, thickness })
            } else {
                (Layer::Perforated { hole: width, open, thickness }, Facing::Perforated { hole: width, open, thickness })
            };
            self.layer(layer, Some(CoreLayer::Sheet(facing)));
        }
    }

    fn size(&mut self, rest: &Piece<'t>) {
        let sides =
            ["x", "X", "\u{d7}"].iter().find_map(|sign| rest.split(sign)).filter(|(_, other)| !other.text.contains(['x', 'X', '\u{d7}']));
        let Some((one, other)) = sides else {
            self.wrong(
                "wrong-count",
                rest.span.clone(),
                format!("\"{}\" is not width x height", rest.text),
                "write it like size 60 x 120 cm",
            );
            return;
        };
        // A side without a unit takes that of the other.
        let other_unit = unit_in(other.text).unwrap_or(LengthUnit::Millimeter);
        let one = if unit_in(one.text).is_some() { self.length(&one, &SIDE) } else { self.length_in(&one, &SIDE, other_unit) };
        let other = self.length(&other, &SIDE);
        self.written.size = one.zip(other).map(|(one, other)| DVec2::new(one, other)).or(self.written.size);
    }

    fn price(&mut self, rest: &Piece<'t>) {
        let hint = "write a bare number: price 45 of one panel, or price 62 per m2";
        let Some((value, per)) = rest.number() else {
            self.wrong("wrong-type", rest.span.clone(), format!("\"{}\" is not a price", rest.text), hint);
            return;
        };
        let price = match per.as_unit().as_str() {
            "" | "perpanel" | "each" => Price::Each(value),
            "perm2" => Price::SquareMeter(value),
            _ => {
                self.wrong("unknown-word", per.span, format!("a price is not \"{}\"", per.text), hint);
                return;
            }
        };
        if self.within(value, rest, &PRICE) {
            self.written.price = Some(price);
        }
    }

    /// A length with its unit, in meters.
    fn length(&mut self, piece: &Piece<'t>, plausible: &Plausible) -> Option<f64> {
        if let Some(unit) = unit_in(piece.text) {
            return self.length_in(piece, plausible, unit);
        }
        let message = format!("\"{}\" as {} has no unit", piece.text, plausible.what);
        self.wrong("not-a-length", piece.span.clone(), message, "write it like 50 mm, 5 cm, 0.05 m, 2 in or 1 ft 6 in");
        None
    }

    /// A length, in meters; a bare number is in `unit`, which is the one that limits are told in.
    fn length_in(&mut self, piece: &Piece<'t>, plausible: &Plausible, unit: LengthUnit) -> Option<f64> {
        match Length::read(piece.text, unit) {
            Ok(Length(meters)) if (plausible.low..=plausible.high).contains(&meters) => {
                self.written.unit = self.written.unit.or(Some(unit));
                Some(meters)
            }
            Ok(_) => {
                // Less than a tape shows is told in millimeters.
                let low = if plausible.low < 0.001 { format!("{} mm", 1000.0 * plausible.low) } else { Length(plausible.low).print(unit) };
                let high = Length(plausible.high).print(unit);
                self.wrong(
                    "out-of-range",
                    piece.span.clone(),
                    format!("{} is out of range as {}", piece.text, plausible.what),
                    format!("expected {low} to {high}"),
                );
                None
            }
            Err(reason) => {
                let message = format!("\"{}\" as {}: {reason}", piece.text, plausible.what);
                self.wrong("not-a-length", piece.span.clone(), message, "write it like 50 mm, 5 cm, 0.05 m, 2 in or 1 ft 6 in");
                None
            }
        }
    }

    fn within(&mut self, value: f64, piece: &Piece<'t>, plausible: &Plausible) -> bool {
        let Plausible { low, high, what, unit } = plausible;
        let fits = (*low..=*high).contains(&value);
        if !fits {
            let bare = if piece.text.chars().all(|letter| letter.is_ascii_digit() || letter == '.') && *what == RESISTIVITY.what {
                "; a length needs its unit, like 50 mm, and thousands take no comma"
            } else {
                ""
            };
            let message = format!("{} is out of range as {what}", piece.text);
            self.wrong("out-of-range", piece.span.clone(), message, format!("expected {low} to {high}{unit}{bare}"));
        }
        fits
    }

    /// A thickness that still waits has no flow resistivity.
    fn close(&mut self) {
        if let Some((_, Piece { text, span })) = self.open.take() {
            let hint = format!("write {text}, 12000 (Pa s/m2, from the maker's sheet) or {text}, 45 kg/m3 mineral");
            self.wrong("key-missing", span, format!("{text} of what? Its flow resistivity is missing"), hint);
        }
    }

    fn finish(mut self) -> Result<Written, Vec<Diagnostic>> {
        self.close();
        let whole = 0..self.text.len();
        let only_air = self.written.build_up.layers.iter().all(|layer| matches!(layer, Layer::Air { .. }));
        if self.mistakes.is_empty() && only_air {
            self.wrong("key-missing", whole.clone(), "there is no layer but air".to_owned(), EXAMPLE);
        }
        if let (Some(Price::Each(_)), None) = (self.written.price, self.written.size) {
            let hint = "add size 60 x 120 cm, or write price 62 per m2";
            self.wrong("key-missing", whole, "the price of one panel says nothing without its size".to_owned(), hint);
        }
        if !self.mistakes.is_empty() {
            self.mistakes.sort_by_key(|mistake| mistake.span.start);
            return Err(self.mistakes);
        }
        if self.written.name.is_empty() {
            self.written.name = self.told.join(", ").split_whitespace().collect::<Vec<_>>().join(" ");
        }
        self.written.extremes =
            (!self.estimates.is_empty()).then(|| [|e: &Estimate| e.low, |e: &Estimate| e.high].map(|end| self.with_resistivity(end)));
        Ok(self.written)
    }

    /// The build-up with another flow resistivity in the layers that are known by their density.
    fn with_resistivity(&self, end: impl Fn(&Estimate) -> f64) -> BuildUp {
        let mut build_up = self.written.build_up.clone();
        for (index, estimate) in &self.estimates {
            if let Some(Layer::Porous { flow_resistivity, .. }) = build_up.layers.get_mut(*index) {
                *flow_resistivity = end(estimate);
            }
        }
        build_up
    }
}

/// The unit that a length is written in, the smallest where there are two; `None` for a bare number.
fn unit_in(text: &str) -> Option<LengthUnit> {
    let words = text.split(|letter: char| letter.is_ascii_digit() || letter.is_whitespace() || matches!(letter, '.' | '/' | '-'));
    words.filter(|word| !word.is_empty()).filter_map(|word| LengthUnit::named(&word.to_lowercase())).next_back()
}
