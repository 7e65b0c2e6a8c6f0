//! The materials table: published random-incidence absorption coefficients, each with its source.
//!
//! The rows are in `table.csv` beside this file: name, category, kind of face, rule below 125 Hz, eight octaves (empty where the source prints none), source, whether a
//! transcription of the source was read or the row is from memory, and the wall as a [`Body`]: mass in kg/m2, what is behind (meters of shut air, `open` or `solid`) and what both are taken from;
//! empty where sound goes into it, or nothing is known. Values are as printed; those above 1 are measured that way (edge effect of a sample of 10 m2).
//!
//! Bands that the source leaves open are filled ([`fill`], told to the user by [`FILL_RULE`]) and marked as extrapolated: no table has a 63 Hz column, few have 8 kHz.
//!
//! Scattering is not in any table: it follows from the kind of face ([`Face::scattering`]), common values from memory, no verified table.
//!
//! *References.* With each row. Scattering coefficient, its definition: ISO 17497-1:2004.
//!
//! *Limits.* Tables disagree about the same material: window glass 0.08 to 0.35, carpet on concrete 0.02 to 0.15, 50 mm mineral wool 0.11 to 0.30 at 125 Hz. No
//! value is more certain than [`uncertainty`] and [`UNCERTAINTY_FACTOR`] say. Rooms behind boards differ from laboratories.

use std::sync::LazyLock;

use super::{Body, Finish};
use crate::bands::{BAND_COUNT, Band, Bands};

/// The rule that fills bands without a published value, for print.
pub const FILL_RULE: &str = "63 Hz without a published value: half the 125 Hz value for porous and resonant materials (absorbers, curtains, carpets, \
     ceiling tiles and baffles without a plenum), the 125 Hz value for all others; 8 kHz without a published value: the 4 kHz value";

const TABLE: &str = include_str!("table.csv");

static ROWS: LazyLock<Vec<Row>> = LazyLock::new(|| TABLE.lines().skip(1).map(row).collect());

/// What a material is used as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Category {
    /// Masonry, concrete, plaster, tile.
    Hard,
    /// Boards and plaster on a frame.
    Light,
    /// Windows.
    Glass,
    /// Wooden lining.
    Wood,
    /// Doors.
    Door,
    /// Floors and carpets.
    Floor,
    /// Curtains.
    Curtain,
    /// Seats, empty.
    Seating,
    /// People.
    People,
    /// Porous and other absorbers.
    Absorber,
    /// Ceilings.
    Ceiling,
    /// Furniture.
    Furniture,
}

impl Category {
    /// All categories, in the order in which they are listed.
    pub const ALL: [Self; 12] = [
        Self::Absorber,
        Self::Ceiling,
        Self::Curtain,
        Self::Floor,
        Self::Hard,
        Self::Light,
        Self::Wood,
        Self::Glass,
        Self::Door,
        Self::Furniture,
        Self::Seating,
        Self::People,
    ];

    /// What is in it, for print.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Hard => "masonry, concrete, plaster, tile",
            Self::Light => "boards and plaster on a frame",
            Self::Glass => "windows",
            Self::Wood => "wooden lining",
            Self::Door => "doors",
            Self::Floor => "floors and carpets",
            Self::Curtain => "curtains",
            Self::Seating => "seats, empty",
            Self::People => "people",
            Self::Absorber => "absorbers",
            Self::Ceiling => "ceilings",
            Self::Furniture => "furniture",
        }
    }
}

/// How rough a material is; decides its scattering coefficient.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// Plaster, glass, concrete, carpet.
    Flat,
    /// Brick, block, rough plaster.
    Rough,
    /// Wooden lining, doors.
    Paneling,
    /// Absorber panels and ceiling tiles, whose joints scatter a little.
    Panel,
    /// Curtains.
    Cloth,
    /// Rows of seats or people.
    Seats,
    /// Shelves with things on them, baffles, wedges.
    Furniture,
}

/// Whether the printed source was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// A transcription of the source was read.
    TranscriptionRead,
    /// The row is from memory.
    FromMemory,
}

/// One material.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Name, unique in the table.
    pub name: &'static str,
    /// What it is used as.
    pub category: Category,
    /// How rough it is.
    pub face: Face,
    /// Whether its absorption falls towards low frequencies, like that of a porous layer or below a resonance: decides how 63 Hz is filled.
    pub porous: bool,
    /// Random-incidence absorption coefficient as published; `None` where the source prints none.
    pub published: Bands<Option<f64>>,
    /// Where the values come from.
    pub source: &'static str,
    /// Whether the source was seen.
    pub status: Status,
    /// How it moves as a whole; `None` where that is not known.
    pub body: Option<Body>,
    /// Where its mass and gap come from; empty without a body.
    pub body_source: &'static str,
}

impl Row {
    /// Absorption coefficient in all bands, and which of them were filled by [`FILL_RULE`].
    #[must_use]
    pub fn absorption(&self) -> (Bands<f64>, Bands<bool>) {
        fill(self.published, self.porous)
    }

    /// Scattering coefficient: the default of its kind of face.
    #[must_use]
    pub fn scattering(&self) -> Bands<f64> {
        self.face.scattering()
    }

    /// The surface finish.
    #[must_use]
    pub fn finish(&self) -> Finish {
        let (absorption, extrapolated) = self.absorption();
        Finish { body: self.body, ..Finish::tabled(self.name, absorption, self.scattering(), extrapolated) }
    }
}

impl Status {
    /// `transcription read` or `from memory`.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::TranscriptionRead => "transcription read",
            Self::FromMemory => "from memory",
        }
    }
}

impl Face {
    /// Default scattering coefficient: common values from memory, no verified table. Where a range is common, it rises over the octaves.
    #[must_use]
    pub fn scattering(self) -> Bands<f64> {
        Bands(match self {
            Self::Flat => [0.05; BAND_COUNT],
            Self::Rough => [0.10, 0.10, 0.10, 0.12, 0.15, 0.18, 0.20, 0.20],
            Self::Paneling | Self::Panel => [0.10; BAND_COUNT],
            Self::Cloth => [0.10, 0.10, 0.12, 0.15, 0.20, 0.25, 0.30, 0.30],
            Self::Seats => [0.30, 0.30, 0.40, 0.50, 0.60, 0.70, 0.70, 0.70],
            Self::Furniture => [0.30, 0.30, 0.35, 0.45, 0.55, 0.65, 0.70, 0.70],
        })
    }
}

/// All rows, in the order of the table.
#[must_use]
pub fn rows() -> &'static [Row] {
    &ROWS
}

/// All names, in the order of the table.
pub fn names() -> impl Iterator<Item = &'static str> {
    rows().iter().map(|row| row.name)
}

/// The row of this name; case and the amount of white space do not matter.
#[must_use]
pub fn find(name: &str) -> Option<&'static Row> {
    // Most names come from the table.
    rows().iter().find(|row| row.name == name).or_else(|| {
        let wanted = normal_form(name);
        rows().iter().find(|row| normal_form(row.name) == wanted)
    })
}

/// The rows whose names are most like `name`, best first: those that need the fewest letters changed to hold the beginnings of all its words, then the shortest.
#[must_use]
pub fn nearest(name: &str, count: usize) -> Vec<&'static Row> {
    ranked(name).into_iter().take(count).map(|(_, row)| row).collect()
}

/// All rows that `words` may mean, the shortest name first: none hold them with fewer letters changed. Empty where even these would need more than a quarter of the letters
/// changed, which is another word rather than a slip.
#[must_use]
pub fn search(words: &str) -> Vec<&'static Row> {
    let letters = words.chars().filter(|letter| letter.is_alphanumeric()).count();
    let ranked = ranked(words);
    let Some(&(least, _)) = ranked.first().filter(|(missed, _)| letters > 0 && 4 * missed <= letters) else { return Vec::new() };
    ranked.into_iter().take_while(|(missed, _)| *missed == least).map(|(_, row)| row).collect()
}

/// All rows with the letters of `name` that they miss, best first, the shorter name before the longer one.
fn ranked(name: &str) -> Vec<(usize, &'static Row)> {
    let wanted = words(name);
    let mut ranked: Vec<(usize, &'static Row)> = rows().iter().map(|row| (letters_missed(&wanted, &words(row.name)), row)).collect();
    // Stable: rows as good and as long as each other stay in the order of the table.
    ranked.sort_by_key(|(missed, row)| (*missed, row.name.chars().count()));
    ranked
}

/// Fills bands without a value and says which: between two values linearly over the octaves; below the lowest half its value if that lies at 125 Hz or above
/// and the material is `porous`, else its value; above the highest its value. A spectrum without any value becomes 0.
#[must_use]
pub fn fill(values: Bands<Option<f64>>, porous: bool) -> (Bands<f64>, Bands<bool>) {
    let known = |index: usize| values.0[index].map(|value| (index, value));
    let filled = Bands::from_fn(|band: Band| {
        let here = band.index();
        let below = (0..=here).rev().find_map(known);
        let above = (here..BAND_COUNT).find_map(known);
        match (below, above) {
            (Some((low, value)), Some((high, other))) if low < high => value + (other - value) * (here - low) as f64 / (high - low) as f64,
            (Some((_, value)), _) => value,
            // Halved for each octave below the lowest value.
            (None, Some((high, value))) if porous => value * 0.5_f64.powi((high - here) as i32),
            (None, Some((_, value))) => value,
            (None, None) => 0.0,
        }
    });
    (filled, values.map(|value| value.is_none()))
}

/// How far published tables disagree about the same material, as a standard uncertainty of the absorption coefficient: 0.1 up to 250 Hz, 0.05 above.
#[must_use]
pub fn uncertainty(band: Band) -> f64 {
    if band.nominal() <= 250 { 0.10 } else { 0.05 }
}

/// Hard surfaces differ by a factor rather than by a difference, and none absorbs less than nothing: a value is never taken to be off by more than this factor
/// either way (common practice, no source; the spread of window glass at 125 Hz that stands above, 0.08 to 0.35, is this factor to either side of its middle).
pub const UNCERTAINTY_FACTOR: f64 = 2.0;

/// Between which values a published or modeled absorption coefficient may lie, one standard uncertainty to either side: it is off by [`uncertainty`], but at most by the
/// factor [`UNCERTAINTY_FACTOR`], so a small value may be too small by more than too large. What was `filled` by rule or lies outside the range of its model is
/// twice as uncertain: twice the difference, the square of the factor. The upper end may pass 1, as measured values do.
#[must_use]
pub fn range(value: f64, band: Band, filled: bool) -> (f64, f64) {
    let (mut difference, mut factor) = (uncertainty(band), UNCERTAINTY_FACTOR);
    if filled {
        difference *= 2.0;
        factor *= factor;
    }
    ((value - difference).max(value / factor), (value + difference).min(value * factor))
}

/// A range widened by what a second doubt, independent of the first, moves its value to: the two add up in squares.
#[must_use]
pub fn wider(value: f64, (low, high): (f64, f64), ends: [f64; 2]) -> (f64, f64) {
    let down = (value - low).hypot(value - ends[0].min(ends[1]).min(value));
    let up = (high - value).hypot(ends[0].max(ends[1]).max(value) - value);
    ((value - down).max(0.0), value + up)
}

/// Lower case, single spaces.
fn normal_form(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

/// The words of a name, in lower case.
fn words(name: &str) -> Vec<String> {
    name.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty()).map(str::to_lowercase).collect()
}

/// How many letters of the `wanted` words must change so that each begins a word of the candidate, or two words of it run together.
fn letters_missed(wanted: &[String], candidate: &[String]) -> usize {
    let pairs = candidate.windows(2).map(<[String]>::concat);
    let all: Vec<String> = candidate.iter().cloned().chain(pairs).collect();
    wanted.iter().map(|word| all.iter().map(|other| letters_to_begin(word, other)).min().unwrap_or(word.len())).sum()
}

/// Letters to insert, drop or replace to turn `word` into a beginning of `other`.
fn letters_to_begin(word: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut costs: Vec<usize> = (0..=other.len()).collect();
    for (row, letter) in word.chars().enumerate() {
        let mut diagonal = row;
        costs[0] = row + 1;
        for column in 0..other.len() {
            let replaced = diagonal + usize::from(letter != other[column]);
            diagonal = costs[column + 1];
            costs[column + 1] = replaced.min(diagonal + 1).min(costs[column] + 1);
        }
    }
    costs.into_iter().min().unwrap_or(0)
}

/// Reads one line of the table. The table is part of the program, and a test reads all of it: a mistake in it is a bug, not a user's.
fn row(line: &'static str) -> Row {
    let fields = fields(line);
    assert!(fields.len() == 9 + BAND_COUNT, "each row of the materials table has seventeen fields: {line}");
    Row {
        name: fields[0],
        category: category(fields[1]),
        face: face(fields[2]),
        porous: match fields[3] {
            "half" => true,
            "same" => false,
            other => panic!("rule below 125 Hz in the materials table: {other}"),
        },
        published: Bands(std::array::from_fn(|band| {
            let text = fields[4 + band];
            (!text.is_empty()).then(|| text.parse().expect("values in the materials table are numbers"))
        })),
        source: fields[4 + BAND_COUNT],
        status: match fields[5 + BAND_COUNT] {
            "transcription read" => Status::TranscriptionRead,
            "from memory" => Status::FromMemory,
            other => panic!("status in the materials table: {other}"),
        },
        body: body(fields[6 + BAND_COUNT], fields[7 + BAND_COUNT]),
        body_source: fields[8 + BAND_COUNT],
    }
}

fn body(mass: &str, behind: &str) -> Option<Body> {
    let number = |text: &str| text.parse().expect("masses and gaps in the materials table are numbers");
    match behind {
        "" => None,
        "open" => Some(Body::Leaf { mass: number(mass) }),
        "solid" => Some(Body::Massive { mass: number(mass) }),
        gap => Some(Body::Board { mass: number(mass), gap: number(gap) }),
    }
}

/// Splits a line at its commas, except inside quotation marks.
fn fields(line: &'static str) -> Vec<&'static str> {
    let mut fields = Vec::new();
    let (mut start, mut quoted) = (0, false);
    for (place, letter) in line.char_indices() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => {
                fields.push(line[start..place].trim_matches('"'));
                start = place + 1;
            }
            _ => {}
        }
    }
    fields.push(line[start..].trim_matches('"'));
    fields
}

fn category(word: &str) -> Category {
    match word {
        "hard" => Category::Hard,
        "light" => Category::Light,
        "glass" => Category::Glass,
        "wood" => Category::Wood,
        "door" => Category::Door,
        "floor" => Category::Floor,
        "curtain" => Category::Curtain,
        "seating" => Category::Seating,
        "people" => Category::People,
        "absorber" => Category::Absorber,
        "ceiling" => Category::Ceiling,
        "furniture" => Category::Furniture,
        other => panic!("category in the materials table: {other}"),
    }
}

fn face(word: &str) -> Face {
    match word {
        "flat" => Face::Flat,
        "rough" => Face::Rough,
        "paneling" => Face::Paneling,
        "panel" => Face::Panel,
        "cloth" => Face::Cloth,
        "seats" => Face::Seats,
        "furniture" => Face::Furniture,
        other => panic!("kind of face in the materials table: {other}"),
    }
}
