//! The price list: what panels are made of, in which sizes it is sold, what a panel uses of it, and what that costs.
//!
//! A text of its own, read by the same rules as a scene: every mistake at once, each with its line. [`EXAMPLE`] is the list that is used where
//! a person has none; every figure in it is invented, and says so.
//!
//! *Limits.* One price a thing: no discounts, no delivery. The currency is a word that is printed behind figures.

use std::borrow::Cow;

use glam::DVec2;
use toml::de::DeTable;

use super::diagnostic::{Diagnostic, Severity};
use super::making::Construction;
use super::read::{reported, text_header};
use super::walk::{Limits, Table, Walk};

/// A price list of invented examples.
pub const EXAMPLE: &str = include_str!("prices.toml");

/// What things are made of and cost.
#[derive(Clone, Debug, PartialEq)]
pub struct PriceList {
    /// A word behind every sum; empty for none.
    pub currency: String,
    /// Whether these prices are examples.
    pub invented: bool,
    /// Cores.
    pub boards: Vec<Board>,
    /// Cloths.
    pub cloths: Vec<Cloth>,
    /// Timber of frames.
    pub timbers: Vec<Timber>,
    /// What goes by consumption.
    pub supplies: Vec<Supply>,
}

/// Core, in sheets.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// Name.
    pub name: String,
    /// Thickness, meters.
    pub thickness: f64,
    /// Shorter and longer side of a sheet, meters.
    pub size: DVec2,
    /// Kilograms a sheet, where known.
    pub mass: Option<f64>,
    /// Price of a sheet.
    pub price: f64,
}

/// Cloth off the roll.
#[derive(Clone, Debug, PartialEq)]
pub struct Cloth {
    /// Name.
    pub name: String,
    /// Width of the roll, meters.
    pub width: f64,
    /// Kilograms a square meter, where known.
    pub mass: Option<f64>,
    /// Price of a meter.
    pub price: f64,
}

/// Timber of frames, in lengths.
#[derive(Clone, Debug, PartialEq)]
pub struct Timber {
    /// Name.
    pub name: String,
    /// Thickness, and depth of the frame, meters.
    pub section: DVec2,
    /// Length that it is sold in, meters.
    pub length: f64,
    /// Kilograms a length, where known.
    pub mass: Option<f64>,
    /// Price of a length.
    pub price: f64,
}

/// What a panel uses something for each of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// Panel.
    Panel,
    /// Meter round the panel.
    Edge,
    /// Square meter of its narrow sides.
    EdgeArea,
    /// Square meter of its front.
    Face,
    /// Square meter of cloth.
    Cloth,
    /// Joint of its frame.
    Joint,
    /// Point that it is fixed at.
    FixingPoint,
    /// Point of a panel that clips hold.
    ClipPoint,
    /// Point of a panel across a corner.
    CornerPoint,
    /// Point that it is fixed at with air behind.
    StandOff,
    /// Meter of rail behind what no member lies behind.
    Rail,
    /// Where a rail is screwed into a member.
    RailScrew,
    /// Point that it hangs from overhead.
    OverheadPoint,
    /// The same point, for what is in its wire and not in the ceiling.
    OverheadFitting,
    /// Secondary wire.
    SecondaryWire,
    /// The same wire, for what is at the panel's end of it and not in the ceiling.
    SecondaryFitting,
    /// Wire too short for a loop at both ends.
    ShortWire,
    /// End of a wire with loops.
    WireEnd,
    /// Meter of wire.
    Wire,
}

impl Per {
    /// All of them with their words.
    pub const WORDS: [(&'static str, Self); 19] = [
        ("panel", Self::Panel),
        ("m of edge", Self::Edge),
        ("m2 of edge", Self::EdgeArea),
        ("m2 of face", Self::Face),
        ("m2 of cloth", Self::Cloth),
        ("frame joint", Self::Joint),
        ("fixing point", Self::FixingPoint),
        ("clip point", Self::ClipPoint),
        ("corner point", Self::CornerPoint),
        ("stand-off point", Self::StandOff),
        ("m of rail", Self::Rail),
        ("rail screw", Self::RailScrew),
        ("overhead point", Self::OverheadPoint),
        ("overhead fitting", Self::OverheadFitting),
        ("secondary wire", Self::SecondaryWire),
        ("secondary fitting", Self::SecondaryFitting),
        ("short wire", Self::ShortWire),
        ("wire end", Self::WireEnd),
        ("m of wire", Self::Wire),
    ];

    /// Whether it goes into making a panel, not into hanging it.
    #[must_use]
    pub fn is_making(self) -> bool {
        matches!(self, Self::Panel | Self::Edge | Self::EdgeArea | Self::Face | Self::Cloth | Self::Joint)
    }

    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, per)| *per == self).map_or("", |(word, _)| word)
    }
}

/// What goes by consumption.
#[derive(Clone, Debug, PartialEq)]
pub struct Supply {
    /// Name.
    pub name: String,
    /// Of which construction it is a part; `None`: of each that is made.
    pub construction: Option<Construction>,
    /// What it is used for each of.
    pub per: Per,
    /// How much of its unit for each.
    pub uses: f64,
    /// Unit, singular: `liter`, `piece`.
    pub unit: String,
    /// How much of its unit a pack holds.
    pub pack: f64,
    /// Kilograms that a unit adds to a panel, where known.
    pub mass: Option<f64>,
    /// Price of a pack.
    pub price: f64,
}

const PRICE: Limits = (0.0, 1e6);
const THICKNESS: Limits = (0.001, 1.0);
const SHEET: Limits = (0.05, 10.0);
const SECTION: Limits = (0.003, 0.5);
const ROLL: Limits = (0.1, 10.0);
const MASS: Limits = (0.0, 1000.0);
const USES: Limits = (0.0, 1e4);
const PACK: Limits = (1e-3, 1e6);

/// Reads a price list.
///
/// # Errors
/// All mistakes of the text, in the order of their lines.
pub fn prices(text: &str) -> Result<(PriceList, Vec<Diagnostic>), Vec<Diagnostic>> {
    let (document, slips) = DeTable::parse_recoverable(text);
    let mut walk = Walk::new(text);
    let root = Table { map: document.get_ref(), span: 0..0, what: "the price list" };
    walk.allow_only(&root, &["format", "unit", "currency", "invented", "board", "cloth", "timber", "supply"]);
    text_header(&mut walk, &root);
    let currency = walk.optional(&root, "currency").and_then(|entry| walk.text(&entry)).unwrap_or_default().trim().to_owned();
    let invented = walk.optional(&root, "invented").and_then(|entry| walk.truth(&entry)).unwrap_or(false);
    let list = PriceList {
        currency,
        invented,
        boards: each(&mut walk, &root, ("board", "[[board]]"), &["name", "thickness", "size", "mass", "price"], board),
        cloths: each(&mut walk, &root, ("cloth", "[[cloth]]"), &["name", "width", "mass", "price"], cloth),
        timbers: each(&mut walk, &root, ("timber", "[[timber]]"), &["name", "section", "length", "mass", "price"], timber),
        supplies: each(
            &mut walk,
            &root,
            ("supply", "[[supply]]"),
            &["name", "for", "per", "uses", "unit", "pack", "mass", "price"],
            supply,
        ),
    };
    let found = reported(walk, &root, &slips);
    if found.iter().any(|found| found.severity == Severity::Error) { Err(found) } else { Ok((list, found)) }
}

/// The list that is used where a person has none.
#[must_use]
pub fn example() -> PriceList {
    prices(EXAMPLE).expect("our own price list reads, which a test holds").0
}

/// Reads every table of a kind; names must differ.
fn each<T>(
    walk: &mut Walk<'_>,
    root: &Table<'_>,
    (key, what): (&'static str, &'static str),
    keys: &[&str],
    mut read: impl FnMut(&mut Walk<'_>, &Table<'_>, String) -> Option<T>,
) -> Vec<T> {
    let mut names: Vec<String> = Vec::new();
    let mut found = Vec::new();
    for table in walk.tables(root, key, what) {
        walk.allow_only(&table, keys);
        let entry = walk.required(&table, "name", &format!("name = \"{key}\""));
        let name = entry.as_ref().and_then(|entry| walk.name(entry));
        if let (Some(name), Some(entry)) = (&name, &entry) {
            if names.contains(name) {
                let message = format!("there is a {what} \"{name}\" already");
                walk.error("name-taken", entry.1.clone(), message, "give each its own name".to_owned());
            }
            names.push(name.clone());
        }
        let thing = read(walk, &table, name.clone().unwrap_or_default());
        found.extend(name.and(thing));
    }
    found
}

fn number(walk: &mut Walk<'_>, table: &Table<'_>, key: &str, limits: Limits, example: &str) -> Option<f64> {
    let entry = walk.required(table, key, example)?;
    walk.number(&entry, limits, "")
}

fn meters(walk: &mut Walk<'_>, table: &Table<'_>, key: &str, limits: Limits, example: &str) -> Option<f64> {
    let entry = walk.required(table, key, example)?;
    walk.length(&entry, limits)
}

fn mass(walk: &mut Walk<'_>, table: &Table<'_>) -> Option<Option<f64>> {
    walk.optional(table, "mass").map_or(Some(None), |entry| walk.number(&entry, MASS, "kg").map(Some))
}

fn pair(walk: &mut Walk<'_>, table: &Table<'_>, key: &str, what: &str, limits: Limits, example: &str) -> Option<DVec2> {
    let entry = walk.required(table, key, example)?;
    walk.size2(&entry, what, limits)
}

fn board(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<Board> {
    let thickness = meters(walk, table, "thickness", THICKNESS, "thickness = \"50 mm\"");
    let size = pair(walk, table, "size", "a size [width, length]", SHEET, "size = [0.6, 1.2]");
    let (mass, price) = (mass(walk, table), number(walk, table, "price", PRICE, "price = 11"));
    let size = size.map(|size| DVec2::new(size.min_element(), size.max_element()));
    Some(Board { name, thickness: thickness?, size: size?, mass: mass?, price: price? })
}

fn cloth(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<Cloth> {
    let width = meters(walk, table, "width", ROLL, "width = 1.5");
    let (mass, price) = (mass(walk, table), number(walk, table, "price", PRICE, "price = 7"));
    Some(Cloth { name, width: width?, mass: mass?, price: price? })
}

fn timber(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<Timber> {
    let section = pair(walk, table, "section", "a section [thickness, depth]", SECTION, "section = [\"18 mm\", \"50 mm\"]");
    let length = meters(walk, table, "length", SHEET, "length = 2.4");
    let (mass, price) = (mass(walk, table), number(walk, table, "price", PRICE, "price = 3"));
    Some(Timber { name, section: section?, length: length?, mass: mass?, price: price? })
}

fn supply(walk: &mut Walk<'_>, table: &Table<'_>, name: String) -> Option<Supply> {
    let made = [Construction::HardenedBoard, Construction::WoodenFrame].map(|made| (made.word(), made));
    let construction = walk.optional(table, "for").map_or(Some(None), |entry| walk.word(&entry, &made).map(Some));
    let per = walk.required(table, "per", "per = \"panel\"").and_then(|entry| walk.word(&entry, &Per::WORDS));
    let uses = number(walk, table, "uses", USES, "uses = 1");
    let unit = walk.required(table, "unit", "unit = \"piece\"").and_then(|entry| walk.name(&entry));
    let pack = number(walk, table, "pack", PACK, "pack = 1");
    let (mass, price) = (mass(walk, table), number(walk, table, "price", PRICE, "price = 5"));
    Some(Supply { name, construction: construction?, per: per?, uses: uses?, unit: unit?, pack: pack?, mass: mass?, price: price? })
}

/// The unit for a quantity.
#[must_use]
pub fn plural(unit: &str, quantity: f64) -> Cow<'_, str> {
    let is_counted = matches!(unit, "piece" | "sheet" | "length" | "panel" | "liter");
    if is_counted && (quantity - 1.0).abs() > 1e-9 { Cow::Owned(format!("{unit}s")) } else { Cow::Borrowed(unit) }
}
