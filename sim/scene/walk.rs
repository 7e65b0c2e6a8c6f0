//! Walking a parsed scene text: typed values with their place in the text, and a diagnostic for everything that is not as expected.
//!
//! A getter returns `None` after it has said what is wrong, so that the walk goes on and finds the next mistake.

use std::ops::Range;

use glam::{DVec2, DVec3};
use toml::de::{DeTable, DeValue};

use super::diagnostic::{Diagnostic, Severity, line_and_column, nearest};
use crate::bands::{Band, Bands};
use crate::units::{Length, LengthUnit};

/// Bytes of the text.
pub(super) type Span = Range<usize>;

/// Collects diagnostics while a text is read.
pub(super) struct Walk<'a> {
    pub(super) text: &'a str,
    pub(super) unit: LengthUnit,
    pub(super) diagnostics: Vec<Diagnostic>,
    /// Keys that are missing under their name, but there under a mistyped one: the table and the key that was meant.
    pub(super) mistyped: Vec<(Span, String)>,
    /// What things are called that other things speak of.
    pub(super) mentions: Vec<Mention>,
}

impl<'a> Walk<'a> {
    /// Nothing is read yet, and lengths are in meters.
    pub(super) fn new(text: &'a str) -> Self {
        Self { text, unit: LengthUnit::Meter, diagnostics: Vec::new(), mistyped: Vec::new(), mentions: Vec::new() }
    }
}

/// A name by which a table speaks of something that stands elsewhere. It is looked for whatever else is wrong with the table, so that nobody
/// mends a window only to be told afterwards that there is no such wall.
#[derive(Clone)]
pub(super) struct Mention {
    /// The key that it stands behind: `surface`, `material`, `type`.
    pub(super) key: &'static str,
    /// The table, as messages call it.
    pub(super) by: &'static str,
    pub(super) name: String,
    pub(super) span: Span,
}

/// A value of a table, with its place.
pub(super) type Entry<'a> = (&'a DeValue<'a>, Span);

/// A table of the text.
#[derive(Clone)]
pub(super) struct Table<'a> {
    pub(super) map: &'a DeTable<'a>,
    /// The header, or the whole inline table.
    pub(super) span: Span,
    /// How messages call it: `[[seat]]`.
    pub(super) what: &'static str,
}

/// Where the keys of a thing stand in the text.
#[derive(Clone, Debug, Default)]
pub(super) struct Places {
    pub(super) header: Span,
    keys: Vec<(String, Span)>,
}

impl Places {
    /// Where the value of a key stands, or else the header of its table.
    pub(super) fn of(&self, key: &str) -> Span {
        self.keys.iter().find(|(name, _)| name == key).map_or_else(|| self.header.clone(), |(_, span)| span.clone())
    }

    /// Where the first of these keys that is written stands.
    pub(super) fn first(&self, keys: &[&str]) -> Span {
        keys.iter().find_map(|key| self.keys.iter().find(|(name, _)| name == key)).map_or_else(|| self.header.clone(), |(_, s)| s.clone())
    }
}

impl Table<'_> {
    pub(super) fn places(&self) -> Places {
        let keys = self.map.iter().map(|(key, value)| (key.get_ref().to_string(), value.span())).collect();
        Places { header: self.span.clone(), keys }
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.map.contains_key(key)
    }
}

/// The range of a number, both ends allowed.
pub(super) type Limits = (f64, f64);

impl<'a> Walk<'a> {
    /// Notes a mistake.
    pub(super) fn error(&mut self, id: &'static str, span: Span, message: impl Into<String>, hint: impl Into<Option<String>>) {
        self.note(Severity::Error, id, span, message.into(), hint.into());
    }

    /// Notes something to look at.
    pub(super) fn warning(&mut self, id: &'static str, span: Span, message: impl Into<String>, hint: impl Into<Option<String>>) {
        self.note(Severity::Warning, id, span, message.into(), hint.into());
    }

    fn note(&mut self, severity: Severity, id: &'static str, span: Span, message: String, hint: Option<String>) {
        let (line, column) = line_and_column(self.text, span.start);
        self.diagnostics.push(Diagnostic { severity, id, span, line, column, message, hint });
    }

    /// The text of a place, shortened, for messages.
    pub(super) fn quoted(&self, span: &Span) -> String {
        let text = self.text.get(span.clone()).unwrap_or("").lines().next().unwrap_or("").trim();
        let short: String = text.chars().take(40).collect();
        if short.len() < text.len() { format!("`{short}...`") } else { format!("`{short}`") }
    }

    /// A length as the person would write it.
    pub(super) fn print(&self, meters: f64) -> String {
        Length(meters).print(self.unit)
    }

    /// Reports keys that nobody asks for.
    pub(super) fn allow_only(&mut self, table: &Table<'_>, known: &[&str]) {
        for (key, _) in table.map {
            let name = key.get_ref().as_ref();
            if !known.contains(&name) {
                let meant = meant(name).filter(|word| known.contains(word));
                let hint = match meant.or_else(|| nearest(name, known.iter().copied())) {
                    Some(near) => {
                        self.mistyped.push((table.span.clone(), near.to_owned()));
                        format!("did you mean `{near}`?")
                    }
                    None => format!("{} knows {}", table.what, list(known)),
                };
                self.error("unknown-key", key.span(), format!("{} has no key `{name}`", table.what), hint);
            }
        }
    }

    /// A value that may be left out.
    pub(super) fn optional<'t>(&self, table: &Table<'t>, key: &str) -> Option<Entry<'t>> {
        table.map.get(key).map(|value| (value.get_ref(), value.span()))
    }

    /// A value that must be there; `example` shows what to type.
    pub(super) fn required<'t>(&mut self, table: &Table<'t>, key: &str, example: &str) -> Option<Entry<'t>> {
        let entry = self.optional(table, key);
        if entry.is_none() {
            self.missing(table, &[key], format!("{} needs `{key}`", table.what), format!("add a line like `{example}`"));
        }
        entry
    }

    /// Reports that none of some keys is there, unless one of them was mistyped, which has been said.
    pub(super) fn missing(&mut self, table: &Table<'_>, keys: &[&str], message: impl Into<String>, hint: impl Into<String>) {
        if !self.mistyped.iter().any(|(span, key)| *span == table.span && keys.contains(&key.as_str())) {
            self.error("key-missing", table.span.clone(), message, hint.into());
        }
    }

    fn wrong_type(&mut self, entry: &Entry<'_>, expected: &str) {
        let found = match entry.0 {
            DeValue::String(_) => "a text in quotes",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date or time",
            DeValue::Array(_) => "a list in brackets",
            DeValue::Table(_) => "a table",
        };
        let message = format!("expected {expected}, found {found}: {}", self.quoted(&entry.1));
        self.error("wrong-type", entry.1.clone(), message, None);
    }

    /// A text.
    pub(super) fn text<'t>(&mut self, entry: &Entry<'t>) -> Option<&'t str> {
        let found = entry.0.as_str();
        if found.is_none() {
            self.wrong_type(entry, "a text in quotes");
        }
        found
    }

    /// The name of something that stands elsewhere.
    pub(super) fn mention(&mut self, table: &Table<'_>, key: &'static str, entry: &Entry<'_>) -> Option<String> {
        let name = self.name(entry)?;
        self.mentions.push(Mention { key, by: table.what, name: name.clone(), span: entry.1.clone() });
        Some(name)
    }

    /// A name: a short text on one line.
    pub(super) fn name(&mut self, entry: &Entry<'_>) -> Option<String> {
        let name = self.text(entry)?;
        let fits = !name.trim().is_empty() && name.trim() == name && name.chars().count() <= 80 && !name.chars().any(char::is_control);
        if !fits {
            let message =
                format!("{} is not a name: a name is 1 to 80 characters on one line, no spaces at its ends", self.quoted(&entry.1));
            self.error("not-a-name", entry.1.clone(), message, None);
        }
        fits.then(|| name.to_owned())
    }

    /// True or false.
    pub(super) fn truth(&mut self, entry: &Entry<'_>) -> Option<bool> {
        let found = entry.0.as_bool();
        if found.is_none() {
            self.wrong_type(entry, "true or false");
        }
        found
    }

    /// One of a few words.
    pub(super) fn word<T: Copy>(&mut self, entry: &Entry<'_>, words: &[(&str, T)]) -> Option<T> {
        self.word_meaning(entry, words, None)
    }

    /// The same of words that need telling what they mean.
    pub(super) fn word_meaning<T: Copy>(&mut self, entry: &Entry<'_>, words: &[(&str, T)], meaning: Option<&str>) -> Option<T> {
        let word = self.text(entry)?;
        let found = words.iter().find(|(known, _)| *known == word);
        if found.is_none() {
            let known: Vec<&str> = words.iter().map(|(known, _)| *known).collect();
            let hint = nearest(word, known.iter().copied()).map(|near| format!("did you mean \"{near}\"?"));
            let hint = hint.or_else(|| meaning.map(str::to_owned));
            self.error("unknown-word", entry.1.clone(), format!("\"{word}\" is not one of {}", list(&known)), hint);
        }
        found.map(|(_, value)| *value)
    }

    /// A finite number within limits; `unit` follows it in messages.
    pub(super) fn number(&mut self, entry: &Entry<'_>, limits: Limits, unit: &str) -> Option<f64> {
        let Some(number) = raw_number(entry.0) else {
            if let Some(bare) = entry.0.as_str().and_then(|text| bare_number(text, unit)) {
                let hint = format!("write the number alone, in {unit}: {bare}");
                self.error("wrong-type", entry.1.clone(), format!("expected a bare number in {unit}, found a text in quotes"), hint);
                return None;
            }
            self.wrong_type(entry, &if unit.is_empty() { "a number".to_owned() } else { format!("a bare number in {unit}") });
            return None;
        };
        self.within(number, &entry.1, limits, unit)
    }

    fn within(&mut self, number: f64, span: &Span, (low, high): Limits, unit: &str) -> Option<f64> {
        let space = if unit.is_empty() { "" } else { " " };
        if low <= number && number <= high {
            // A negative zero would print and compare differently from the zero that is meant.
            return Some(number + 0.0);
        }
        let message = format!("{} is out of range: expected {low} to {high}{space}{unit}", self.quoted(span));
        self.error("out-of-range", span.clone(), message, None);
        None
    }

    /// A whole number within limits.
    pub(super) fn whole(&mut self, entry: &Entry<'_>, limits: Limits) -> Option<u64> {
        if !matches!(entry.0, DeValue::Integer(_)) {
            self.wrong_type(entry, "a whole number");
            return None;
        }
        self.number(entry, limits, "").map(|number| number as u64)
    }

    /// A length in meters within limits, which are meters too: a number in the scene's unit or a text with a unit.
    pub(super) fn length(&mut self, entry: &Entry<'_>, limits: Limits) -> Option<f64> {
        self.length_told_in(self.unit, entry, limits)
    }

    /// The same for what no tape measures: its limits are told in another unit than the scene's.
    pub(super) fn length_told_in(&mut self, unit: LengthUnit, entry: &Entry<'_>, limits: Limits) -> Option<f64> {
        let (low, high) = limits;
        let meters = match entry.0 {
            DeValue::String(text) => match Length::read(text, self.unit) {
                Ok(length) => length.0,
                Err(reason) => {
                    let message = format!("{} is not a length: {reason}", self.quoted(&entry.1));
                    let hint = "write 2.4, \"2.4 m\", \"610 mm\", \"24.5 cm\", \"8 ft 2 1/2 in\" or \"98 1/2 in\"".to_owned();
                    self.error("not-a-length", entry.1.clone(), message, hint);
                    return None;
                }
            },
            value => match raw_number(value) {
                Some(number) => self.unit.to_meters(number),
                None => {
                    self.wrong_type(entry, "a length");
                    return None;
                }
            },
        };
        if low <= meters && meters <= high {
            return Some(meters + 0.0);
        }
        let [low, high] = [low, high].map(|meters| Length(meters).print(unit));
        let message = format!("{} is out of range: expected {low} to {high}", self.quoted(&entry.1));
        let bare = entry.0.as_str().map_or_else(|| raw_number(entry.0), |text| text.trim().parse().ok());
        let fits = |number: f64, part: f64| (limits.0..=limits.1).contains(&(number * part)) && number.abs() >= 1.0;
        let unit_of_scene = self.unit;
        let meant = |number: f64| {
            // Those of the scene's tape.
            let small = if matches!(unit_of_scene, LengthUnit::Foot | LengthUnit::Inch) {
                &[("in", 0.0254)][..]
            } else {
                &[("mm", 1e-3), ("cm", 1e-2)]
            };
            let words = small.iter().filter(|(_, part)| fits(number, *part));
            words.map(|(unit, _)| format!("\"{number} {unit}\"")).collect::<Vec<_>>().join(" or ")
        };
        let meant = bare.map(meant).filter(|words| !words.is_empty()).map_or_else(String::new, |words| format!("did you mean {words}? "));
        let hint = bare.map(|_| format!("{meant}a bare number is in the scene's unit, {}", self.unit.symbol()));
        self.error("out-of-range", entry.1.clone(), message, hint);
        None
    }

    /// The entries of a list.
    pub(super) fn list<'t>(&mut self, entry: &Entry<'t>, expected: &str) -> Option<Vec<Entry<'t>>> {
        let Some(array) = entry.0.as_array() else {
            self.wrong_type(entry, expected);
            return None;
        };
        Some(array.iter().map(|value| (value.get_ref(), value.span())).collect())
    }

    /// A list of exactly this many entries.
    pub(super) fn exactly<'t, const N: usize>(&mut self, entry: &Entry<'t>, expected: &str) -> Option<[Entry<'t>; N]> {
        let list = self.list(entry, expected)?;
        let count = list.len();
        let array = list.try_into().ok();
        if array.is_none() {
            let message = format!("expected {expected}, found a list of {count}: {}", self.quoted(&entry.1));
            let hint = (N < count && count <= 2 * N).then(|| "if these are decimal commas, write points: 3.6".to_owned());
            self.error("wrong-count", entry.1.clone(), message, hint);
        }
        array
    }

    /// A list of lengths that share their limits.
    fn lengths<const N: usize>(&mut self, entry: &Entry<'_>, expected: &str, limits: [Limits; N]) -> Option<[f64; N]> {
        let entries = self.exactly::<N>(entry, expected)?;
        let mut found = [None; N];
        for ((slot, entry), limits) in found.iter_mut().zip(&entries).zip(limits) {
            *slot = self.length(entry, limits);
        }
        let mut lengths = [0.0; N];
        for (length, found) in lengths.iter_mut().zip(found) {
            *length = found?;
        }
        Some(lengths)
    }

    /// A point of the floor plan.
    pub(super) fn plan_point(&mut self, entry: &Entry<'_>) -> Option<DVec2> {
        self.lengths(entry, "a point [x, y]", [(-REACH, REACH); 2]).map(DVec2::from_array)
    }

    /// A point in space.
    pub(super) fn point(&mut self, entry: &Entry<'_>) -> Option<DVec3> {
        self.lengths(entry, "a point [x, y, z]", [(-REACH, REACH); 3]).map(DVec3::from_array)
    }

    /// Two sizes.
    pub(super) fn size2(&mut self, entry: &Entry<'_>, expected: &str, limits: Limits) -> Option<DVec2> {
        self.lengths(entry, expected, [limits; 2]).map(DVec2::from_array)
    }

    /// Three sizes.
    pub(super) fn size3(&mut self, entry: &Entry<'_>, expected: &str, limits: Limits) -> Option<DVec3> {
        self.lengths(entry, expected, [limits; 3]).map(DVec3::from_array)
    }

    /// A list of plain numbers, without unit.
    pub(super) fn numbers<const N: usize>(&mut self, entry: &Entry<'_>, expected: &str, limits: Limits) -> Option<[f64; N]> {
        let entries = self.exactly::<N>(entry, expected)?;
        let mut numbers = [0.0; N];
        let mut complete = true;
        for (number, entry) in numbers.iter_mut().zip(&entries) {
            match self.number(entry, limits, "") {
                Some(found) => *number = found,
                None => complete = false,
            }
        }
        complete.then_some(numbers)
    }

    /// Values by octave: a list of 6 (125 Hz to 4 kHz), 7 (125 Hz to 8 kHz) or 8 (63 Hz to 8 kHz) numbers, or a table by nominal
    /// frequency that has at least 125 Hz to 4 kHz.
    pub(super) fn octaves(&mut self, entry: &Entry<'_>, limits: Limits, unit: &str) -> Option<Bands<Option<f64>>> {
        let mut bands = Bands([None; 8]);
        if let DeValue::Table(map) = entry.0 {
            let table = Table { map, span: entry.1.clone(), what: "a table by octave" };
            let names = Band::ALL.map(|band| band.nominal().to_string());
            self.allow_only(&table, &names.each_ref().map(String::as_str));
            for (band, name) in Band::ALL.into_iter().zip(&names) {
                if let Some(value) = self.optional(&table, name) {
                    bands[band] = Some(self.number(&value, limits, unit)?);
                } else if (1..=6).contains(&band.index()) {
                    let message = format!("the octave {} is missing; 125 Hz to 4 kHz are needed", band.label());
                    self.error("wrong-count", entry.1.clone(), message, None);
                    return None;
                }
            }
            return Some(bands);
        }
        let expected = "a list of octaves: 6 (125 Hz to 4 kHz), 7 (125 Hz to 8 kHz) or 8 (63 Hz to 8 kHz)";
        let list = self.list(entry, expected)?;
        let first = match list.len() {
            6 | 7 => 1,
            8 => 0,
            count => {
                self.error("wrong-count", entry.1.clone(), format!("expected {expected}, found {count} values"), None);
                return None;
            }
        };
        let mut complete = true;
        for (index, value) in list.iter().enumerate() {
            let number = self.number(value, limits, unit);
            complete &= number.is_some();
            bands.0[first + index] = number;
        }
        complete.then_some(bands)
    }

    /// Values by octave without holes: one number for all, or octaves, where 63 Hz and 8 kHz take their neighbor's value if missing.
    pub(super) fn filled_octaves(&mut self, entry: &Entry<'_>, limits: Limits, unit: &str) -> Option<Bands<f64>> {
        if matches!(entry.0, DeValue::Integer(_) | DeValue::Float(_)) {
            return self.number(entry, limits, unit).map(Bands::splat);
        }
        let bands = self.octaves(entry, limits, unit)?;
        let inner = |index: usize| bands.0[index.clamp(1, 6)].expect("octaves() returns 125 Hz to 4 kHz");
        Some(Bands::from_fn(|band| bands[band].unwrap_or_else(|| inner(band.index()))))
    }

    /// A table.
    pub(super) fn table<'t>(&mut self, entry: &Entry<'t>, what: &'static str) -> Option<Table<'t>> {
        let Some(map) = entry.0.as_table() else {
            self.wrong_type(entry, "a table");
            return None;
        };
        Some(Table { map, span: entry.1.clone(), what })
    }

    /// The tables of a list of tables, none if it is not written.
    pub(super) fn tables<'t>(&mut self, parent: &Table<'t>, key: &str, what: &'static str) -> Vec<Table<'t>> {
        let Some(entry) = self.optional(parent, key) else { return Vec::new() };
        if matches!(entry.0, DeValue::Table(_)) {
            let hint = format!("write the header with two brackets: {what}");
            self.error("wrong-type", entry.1.clone(), format!("`{key}` is a list of tables"), hint);
            return Vec::new();
        }
        let list = self.list(&entry, "a list of tables").unwrap_or_default();
        list.iter().filter_map(|entry| self.table(entry, what)).collect()
    }
}

/// The number of a value, which may be infinite or none; `None` if it is no number at all.
fn raw_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(integer) => {
            Some(i64::from_str_radix(integer.as_str(), integer.radix()).map_or(f64::NAN, |integer| integer as f64))
        }
        DeValue::Float(float) => Some(float.as_str().parse().unwrap_or(f64::NAN)),
        _ => None,
    }
}

/// Farthest coordinate in meters.
pub(super) const REACH: f64 = 100.0;

/// The table that holds what somebody calls by another word of the trade.
fn meant(word: &str) -> Option<&'static str> {
    match word {
        "lamp" | "light" | "socket" | "outlet" | "switch" | "detector" | "sprinkler" | "radiator" | "keep_clear" => Some("clearance"),
        "desk" | "table" | "sofa" | "shelf" | "bookcase" | "bed" | "furniture" | "beam" | "chimney" | "duct" => Some("block"),
        "door" | "window" | "hatch" => Some("opening"),
        "joist" | "joists" | "stud" | "studs" | "rafter" | "rafters" | "truss" | "trusses" => Some("structure"),
        "mic" | "mike" => Some("microphone"),
        "speaker" | "monitor" => Some("loudspeaker"),
        "listener" | "chair" => Some("seat"),
        "absorber" => Some("stock"),
        _ => None,
    }
}

/// The number of a text like "8 lb" or "3.6 kg" in the unit that is asked.
fn bare_number(text: &str, unit: &str) -> Option<f64> {
    let split = text.trim().find(|letter: char| letter.is_alphabetic())?;
    let (number, own) = text.trim().split_at(split);
    let number: f64 = number.trim().parse().ok()?;
    match (own.trim(), unit) {
        ("lb" | "lbs" | "pounds", "kg") => Some((45.359_237 * number).round() / 100.0),
        (own, unit) if own == unit => Some(number),
        _ => None,
    }
}

/// `a, b and c`.
pub(super) fn list(words: &[&str]) -> String {
    match words {
        [] => "nothing".to_owned(),
        [word] => format!("`{word}`"),
        [first @ .., last] => {
            let first: Vec<String> = first.iter().map(|word| format!("`{word}`")).collect();
            format!("{} and `{last}`", first.join(", "))
        }
    }
}
