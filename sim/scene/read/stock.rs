//! `[[stock]]`: types of panel, and what they are made of.

use glam::DVec2;
use toml::de::DeValue;

use super::super::diagnostic::nearest;
use super::super::plausible::{
    CLOTH_MASS, DENSITY, FIBER_DIAMETER, FLOW_RESISTANCE, FLOW_RESISTIVITY, GAP, HOLE, LAYER, MEMBRANE_MASS, ROUND_OPEN, SHEET, SLOT_OPEN,
};
use super::super::walk::{Entry, Limits, Table, Walk, list};
use super::super::{Construction, Core, CoreLayer, Facing, Fiber, Fibers, Filling, HeldBy, PanelType, PorousLaw, StockKind};
use super::things::{length, length_or, scattering};
use crate::absorbers::fluid::Pores;
use crate::units::LengthUnit;

/// Panels and their like, meters.
const PANEL_SIZE: Limits = (0.05, 10.0);

pub(in crate::scene) const STOCK_KINDS: [(&str, StockKind); 8] = [
    ("panel", StockKind::Panel),
    ("corner", StockKind::Corner),
    ("cloud", StockKind::Cloud),
    ("free-standing", StockKind::FreeStanding),
    ("curtain", StockKind::Curtain),
    ("rug", StockKind::Rug),
    ("bookcase", StockKind::Bookcase),
    ("diffuser", StockKind::Diffuser),
];
/// Pieces of a type at most.
const COUNT_MOST: f64 = 1000.0;
/// The word for as many as the budget buys.
const BY_BUDGET: &str = "budget";
/// Share of the volume that is air, percent.
const POROSITY: Limits = (10.0, 100.0);
const TORTUOSITY: Limits = (1.0, 10.0);
/// Viscous and thermal length of pores, meters.
const PORE: Limits = (1e-6, 0.005);

pub(in crate::scene) const FIBERS: [(&str, Fiber); 3] =
    [("glass", Fiber::Glass), ("mineral", Fiber::Mineral), ("polyester", Fiber::Polyester)];

/// Nothing known: those of loose fiber.
const FIBER_PORES: Pores = Pores { porosity: None, tortuosity: None, viscous_length: None, thermal_length: None };

pub(in crate::scene) const LAWS: [(&str, PorousLaw); 3] =
    [("miki", PorousLaw::Miki), ("delany-bazley", PorousLaw::DelanyBazley), ("johnson-champoux-allard", PorousLaw::Pores(FIBER_PORES))];

/// Keys that say what a filling is; one of the first two is needed.
const FILLING_KEYS: [&str; 9] =
    ["flow_resistivity", "density", "fiber", "fiber_diameter", "model", "porosity", "tortuosity", "viscous_length", "thermal_length"];

/// Keys of a `[[stock]]`.
pub(super) const KEYS: [&str; 26] = [
    "name",
    "kind",
    "size",
    "thickness",
    "flow_resistivity",
    "density",
    "fiber",
    "fiber_diameter",
    "model",
    "porosity",
    "tortuosity",
    "viscous_length",
    "thermal_length",
    "layers",
    "material",
    "facing",
    "gap",
    "count",
    "instead_of",
    "price",
    "drill",
    "made",
    "fixing",
    "mass",
    "scattering",
    "least_distance",
];

/// What a list of gaps is called where something else is found.
const GAPS: &str = "a gap or a list of gaps";

/// Gaps nearer to each other are one, meters: what `plan/flush` tells apart.
const GAPS_APART: f64 = 0.01;

/// Kinds of facing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::scene) enum FacingKind {
    OpenCloth,
    Cloth,
    Membrane,
    Perforated,
    Slotted,
}

pub(in crate::scene) const FACINGS: [(&str, FacingKind); 5] = [
    ("open cloth", FacingKind::OpenCloth),
    ("cloth", FacingKind::Cloth),
    ("membrane", FacingKind::Membrane),
    ("perforated", FacingKind::Perforated),
    ("slotted", FacingKind::Slotted),
];

/// What people call facings beside the words of the scene.
const ALSO_CALLED: [(&str, &str); 12] = [
    ("fabric", "open cloth"),
    ("burlap", "open cloth"),
    ("canvas", "cloth"),
    ("film", "membrane"),
    ("foil", "membrane"),
    ("plastic", "membrane"),
    ("vinyl", "membrane"),
    ("plywood", "membrane"),
    ("board", "membrane"),
    ("pegboard", "perforated"),
    ("holes", "perforated"),
    ("slats", "slotted"),
];

impl FacingKind {
    /// Its keys beside `kind`, and how it is written.
    fn form(self) -> (&'static [&'static str], &'static str) {
        match self {
            Self::OpenCloth => (&[], "facing = \"open cloth\""),
            Self::Cloth => (&["flow_resistance", "mass"], "facing = { kind = \"cloth\", flow_resistance = 200, mass = 0.3 }"),
            Self::Membrane => (&["mass"], "facing = { kind = \"membrane\", mass = 0.2 }"),
            Self::Perforated => {
                (&["hole", "open", "thickness"], "facing = { kind = \"perforated\", hole = \"5 mm\", open = 20, thickness = \"3 mm\" }")
            }
            Self::Slotted => {
                (&["slot", "open", "thickness"], "facing = { kind = \"slotted\", slot = \"6 mm\", open = 15, thickness = \"16 mm\" }")
            }
        }
    }
}

/// `[[stock]]`
pub(super) fn stock(walk: &mut Walk<'_>, table: &Table<'_>, name: String, budget: Option<f64>) -> Option<PanelType> {
    let kind = walk.required(table, "kind", "kind = \"panel\"").and_then(|entry| walk.word(&entry, &STOCK_KINDS));
    let size = walk.required(table, "size", "size = [0.6, 1.2]").and_then(|entry| walk.size2(&entry, "a size [width, height]", PANEL_SIZE));
    let thickness = length(walk, table, "thickness", LAYER);
    let core = core(walk, table);
    let facing = walk.optional(table, "facing").map_or(Some(None), |entry| facing(walk, &entry).map(Some));
    let gaps = walk.optional(table, "gap").map_or(Some(vec![0.0]), |entry| gaps(walk, &entry));
    let instead_of = walk.optional(table, "instead_of").map_or(Some(None), |entry| walk.name(&entry).map(Some));
    let mut number =
        |key: &str, limits, unit| walk.optional(table, key).map_or(Some(None), |entry| walk.number(&entry, limits, unit).map(Some));
    let price = number("price", (0.0, 1e6), "");
    let count = count(walk, table, price.flatten(), budget);
    let drill = walk.optional(table, "drill").map_or(Some(None), |entry| walk.truth(&entry).map(Some));
    let mut number =
        |key: &str, limits, unit| walk.optional(table, key).map_or(Some(None), |entry| walk.number(&entry, limits, unit).map(Some));
    let mass = number("mass", (0.0, 1000.0), "kg");
    let made = word_or_none(walk, table, "made", &Construction::ALL.map(|made| (made.word(), made)));
    let fixing = word_or_none(walk, table, "fixing", &HeldBy::ALL.map(|fixing| (fixing.word(), fixing)));
    let scatters = kind == Some(StockKind::Diffuser);
    let scattering = scattering(walk, table);
    let least_distance = if scatters {
        length(walk, table, "least_distance", (0.0, 20.0))
    } else {
        length_or(walk, table, "least_distance", (0.0, 20.0), 0.0)
    };
    let size = size.map(|size| DVec2::new(size.min_element(), size.max_element()));
    let (gap, other_gaps) = gaps.as_deref().and_then(<[f64]>::split_first).map(|(usual, others)| (*usual, others.to_vec())).unzip();
    Some(PanelType {
        name,
        kind: kind?,
        size: size?,
        thickness: thickness?,
        core: core?,
        facing: facing?,
        gap: gap?,
        other_gaps: other_gaps?,
        count: count?,
        instead_of: instead_of?,
        price: price?,
        drill: drill?,
        mass: mass?,
        made: made?,
        fixing: fixing?,
        scattering: scattering?,
        least_distance: least_distance?,
    })
}

/// One of a few words, or nothing.
fn word_or_none<T: Copy>(walk: &mut Walk<'_>, table: &Table<'_>, key: &str, words: &[(&str, T)]) -> Option<Option<T>> {
    walk.optional(table, key).map_or(Some(None), |entry| walk.word(&entry, words).map(Some))
}

/// `gap`: a length, or the lengths that the fixings allow, the usual one first, no two of them alike.
fn gaps(walk: &mut Walk<'_>, entry: &Entry<'_>) -> Option<Vec<f64>> {
    if entry.0.as_array().is_none() {
        return walk.length(entry, GAP).map(|gap| vec![gap]);
    }
    let entries = walk.list(entry, GAPS)?;
    if entries.is_empty() {
        let hint = "write one gap, or those that the fixings allow, the usual one first: gap = [\"0 mm\", \"50 mm\"]".to_owned();
        walk.error("wrong-count", entry.1.clone(), "there is no gap in this list", hint);
        return None;
    }
    let mut found: Vec<f64> = Vec::new();
    let mut is_good = true;
    for entry in &entries {
        let gap = walk.length(entry, GAP);
        let twin = gap.and_then(|gap| found.iter().find(|other| (gap - **other).abs() < GAPS_APART - 1e-9));
        if let Some(&twin) = twin {
            let message = format!("this gap is as good as the {} before it", walk.print(twin));
            let hint = format!("take one of them out: gaps nearer to each other than {} are not told apart", walk.print(GAPS_APART));
            walk.error("gap-twice", entry.1.clone(), message, hint);
        }
        is_good &= gap.is_some() && twin.is_none();
        found.extend(gap);
    }
    is_good.then_some(found)
}

/// `count`: a number, or `"budget"` for as many as the money buys.
fn count(walk: &mut Walk<'_>, table: &Table<'_>, price: Option<f64>, budget: Option<f64>) -> Option<u32> {
    let Some(entry) = walk.optional(table, "count") else { return Some(0) };
    if !matches!(entry.0, DeValue::String(_)) {
        return walk.whole(&entry, (0.0, COUNT_MOST)).map(|count| count as u32);
    }
    if walk.text(&entry)? != BY_BUDGET {
        let message = format!("{} is no count: expected a whole number, or \"{BY_BUDGET}\"", walk.quoted(&entry.1));
        walk.error("unknown-word", entry.1, message, "write it as a number: count = 12".to_owned());
        return None;
    }
    match (budget, price) {
        (Some(budget), Some(price)) if price > 0.0 => {
            // One where it buys none, so that the plan can tell what is missing.
            Some((budget / price + 1e-9).clamp(1.0, COUNT_MOST) as u32)
        }
        (_, Some(_)) => {
            let hint = "write `budget` in [goals] and a `price` above 0, or how many there are".to_owned();
            walk.error("key-missing", entry.1, "as many as the money buys needs `budget` in [goals] and a price above 0", hint);
            None
        }
        (_, None) => {
            walk.missing(table, &["price"], "as many as the money buys needs the `price` of one", "add `price = 45`");
            None
        }
    }
}

/// What a panel absorbs with: a filling, `layers`, or `material`.
fn core(walk: &mut Walk<'_>, table: &Table<'_>) -> Option<Core> {
    let filling_key = FILLING_KEYS.into_iter().find(|key| table.has(key));
    let written: Vec<&str> = filling_key.into_iter().chain(["layers", "material"].into_iter().filter(|key| table.has(key))).collect();
    if let [first, .., last] = written[..]
        && let Some(entry) = walk.optional(table, last)
    {
        let hint =
            "keep `flow_resistivity` or `density` for one layer of fiber or open foam, `layers` for several, `material` for a measured \
                    row"
            .to_owned();
        walk.error("keys-conflict", entry.1, format!("[[stock]] has both `{first}` and `{last}`"), hint);
    }
    // Each is read, so that its own mistakes are told, too.
    let porous = filling_key.map(|_| filling(walk, table).map(Core::Porous));
    let layers = walk.optional(table, "layers").map(|entry| layers(walk, &entry).map(Core::Layers));
    let material = walk.optional(table, "material").map(|entry| walk.mention(table, "material", &entry).map(Core::Material));
    if written.is_empty() {
        let hint =
            "add `flow_resistivity = 12000` (Pa s/m2, from the maker's sheet), `density = 48` (kg/m3) with `fiber = \"glass\"`, `layers = \
                    [...]` or `material = \"...\"`"
                .to_owned();
        let keys = ["flow_resistivity", "density", "layers", "material"];
        walk.missing(table, &keys, "[[stock]] needs `flow_resistivity`, `density`, `layers` or `material`", hint);
    }
    let mut found = [porous, layers, material].into_iter().flatten();
    match (found.next(), found.next()) {
        (Some(core), None) => core,
        _ => None,
    }
}

/// Fiber or open foam: `flow_resistivity`, or `density` and `fiber`, or all of them; and how its pores are, where that is known.
fn filling(walk: &mut Walk<'_>, table: &Table<'_>) -> Option<Filling> {
    let flow_resistivity =
        walk.optional(table, "flow_resistivity").map_or(Some(None), |entry| walk.number(&entry, FLOW_RESISTIVITY, "Pa s/m2").map(Some));
    let fiber = fibers(walk, table);
    let law = porous_law(walk, table);
    if !table.has("flow_resistivity") && fiber == Some(None) {
        let hint = "add `flow_resistivity = 12000` (Pa s/m2, from the maker's sheet), or `density = 48` (kg/m3) with `fiber = \"glass\"`";
        walk.missing(table, &FILLING_KEYS[..2], format!("{} needs `flow_resistivity` or `density`", table.what), hint);
        return None;
    }
    Some(Filling { flow_resistivity: flow_resistivity?, fiber: fiber?, law: law? })
}

/// `density`, `fiber` and `fiber_diameter`.
fn fibers(walk: &mut Walk<'_>, table: &Table<'_>) -> Option<Option<Fibers>> {
    if !["density", "fiber", "fiber_diameter"].into_iter().any(|key| table.has(key)) {
        return Some(None);
    }
    let diameter = walk
        .optional(table, "fiber_diameter")
        .map_or(Some(None), |entry| walk.length_told_in(LengthUnit::Micrometer, &entry, FIBER_DIAMETER).map(Some));
    if !table.has("density") && table.has("flow_resistivity") {
        let stray = if table.has("fiber") { "fiber" } else { "fiber_diameter" };
        let hint = format!("leave `{stray}` out, `flow_resistivity` is enough, or add a line like `density = 48`");
        walk.missing(table, &["density"], format!("{} has `{stray}` without the `density` it goes with", table.what), hint);
        return None;
    }
    let density = walk.required(table, "density", "density = 48").and_then(|entry| walk.number(&entry, DENSITY, "kg/m3"));
    let kind = walk.required(table, "fiber", "fiber = \"glass\"").and_then(|entry| walk.word(&entry, &FIBERS));
    Some(Some(Fibers { kind: kind?, density: density?, diameter: diameter? }))
}

/// `model`, or what is known of the pores, which only one model takes.
fn porous_law(walk: &mut Walk<'_>, table: &Table<'_>) -> Option<PorousLaw> {
    let mut number =
        |key: &str, limits, unit| walk.optional(table, key).map_or(Some(None), |entry| walk.number(&entry, limits, unit).map(Some));
    let porosity = number("porosity", POROSITY, "percent");
    let tortuosity = number("tortuosity", TORTUOSITY, "");
    let mut length = |key: &str| {
        walk.optional(table, key).map_or(Some(None), |entry| walk.length_told_in(LengthUnit::Micrometer, &entry, PORE).map(Some))
    };
    let (viscous_length, thermal_length) = (length("viscous_length"), length("thermal_length"));
    let known = ["porosity", "tortuosity", "viscous_length", "thermal_length"].into_iter().find(|key| table.has(key));
    let model = walk.optional(table, "model");
    let law = model.as_ref().map_or(Some(PorousLaw::default()), |entry| walk.word(entry, &LAWS))?;
    let Some(known) = known else { return Some(law) };
    if let Some(entry) = model.filter(|_| !matches!(law, PorousLaw::Pores(_))) {
        let hint = "leave out `model`: what is known of pores is computed by \"johnson-champoux-allard\"".to_owned();
        walk.error("keys-conflict", entry.1, format!("this model takes no `{known}`"), hint);
        return None;
    }
    let porosity = porosity?.map(|percent| percent / 100.0);
    Some(PorousLaw::Pores(Pores { porosity, tortuosity: tortuosity?, viscous_length: viscous_length?, thermal_length: thermal_length? }))
}

/// `layers`, front first.
fn layers(walk: &mut Walk<'_>, entry: &Entry<'_>) -> Option<Vec<CoreLayer>> {
    let entries = walk.list(entry, "a list of layers, front first")?;
    if entries.is_empty() {
        let hint =
            "write one table a layer, front first: layers = [{ thickness = \"50 mm\", flow_resistivity = 12000 }, { air = \"50 mm\" }]";
        walk.error("wrong-count", entry.1.clone(), "there is no layer in this list", hint.to_owned());
        return None;
    }
    let found: Vec<Option<CoreLayer>> = entries.iter().map(|entry| layer(walk, entry)).collect();
    found.into_iter().collect()
}

/// One layer: `air`, a sheet with its `kind`, or a filling with its `thickness`.
fn layer(walk: &mut Walk<'_>, entry: &Entry<'_>) -> Option<CoreLayer> {
    let table = walk.table(entry, "a layer")?;
    if table.has("kind") {
        return facing(walk, entry).map(CoreLayer::Sheet);
    }
    if let Some(air) = walk.optional(&table, "air") {
        walk.allow_only(&table, &["air"]);
        return walk.length(&air, LAYER).map(|thickness| CoreLayer::Air { thickness });
    }
    let known: Vec<&str> = ["thickness"].into_iter().chain(FILLING_KEYS).chain(["air", "kind"]).collect();
    walk.allow_only(&table, &known);
    let thickness = length(walk, &table, "thickness", LAYER);
    let filling = filling(walk, &table);
    Some(CoreLayer::Porous { filling: filling?, thickness: thickness? })
}

/// A facing: the word for an open cloth, or a table.
fn facing(walk: &mut Walk<'_>, entry: &Entry<'_>) -> Option<Facing> {
    if let DeValue::String(_) = entry.0 {
        let kind = facing_word(walk, entry)?;
        if kind != FacingKind::OpenCloth {
            let (keys, form) = kind.form();
            let message = format!("the facing {} needs {}", walk.quoted(&entry.1), list(keys));
            walk.error("key-missing", entry.1.clone(), message, format!("write it like `{form}`"));
        }
        return (kind == FacingKind::OpenCloth).then_some(Facing::OpenCloth);
    }
    let table = walk.table(entry, "a facing")?;
    let kind = walk.required(&table, "kind", "kind = \"membrane\"").and_then(|entry| facing_word(walk, &entry))?;
    let (keys, form) = kind.form();
    let known: Vec<&str> = ["kind"].iter().chain(keys).copied().collect();
    walk.allow_only(&table, &known);
    let mut value = |index: usize| {
        let key = *keys.get(index)?;
        let entry = walk.optional(&table, key);
        if entry.is_none() {
            walk.missing(&table, &[key], format!("this facing needs `{key}`"), format!("write it like `{form}`"));
        }
        facing_value(walk, kind, key, &entry?)
    };
    let [first, second, third] = [value(0), value(1), value(2)];
    Some(match kind {
        FacingKind::OpenCloth => Facing::OpenCloth,
        FacingKind::Cloth => Facing::Cloth { flow_resistance: first?, mass: second? },
        FacingKind::Membrane => Facing::Membrane { mass: first? },
        FacingKind::Perforated => Facing::Perforated { hole: first?, open: second?, thickness: third? },
        FacingKind::Slotted => Facing::Slotted { slot: first?, open: second?, thickness: third? },
    })
}

/// The value of a key of a facing, SI; shares as such.
fn facing_value(walk: &mut Walk<'_>, kind: FacingKind, key: &str, entry: &Entry<'_>) -> Option<f64> {
    match (key, kind) {
        ("flow_resistance", _) => walk.number(entry, FLOW_RESISTANCE, "Pa s/m"),
        ("mass", FacingKind::Cloth) => walk.number(entry, CLOTH_MASS, "kg/m2"),
        ("mass", _) => walk.number(entry, MEMBRANE_MASS, "kg/m2"),
        ("open", FacingKind::Perforated) => walk.number(entry, ROUND_OPEN, "percent").map(|percent| percent / 100.0),
        ("open", _) => walk.number(entry, SLOT_OPEN, "percent").map(|percent| percent / 100.0),
        ("thickness", _) => walk.length_told_in(LengthUnit::Millimeter, entry, SHEET),
        _ => walk.length_told_in(LengthUnit::Millimeter, entry, HOLE),
    }
}

/// The word of a facing; of one that is not known, the nearest.
fn facing_word(walk: &mut Walk<'_>, entry: &Entry<'_>) -> Option<FacingKind> {
    let word = walk.text(entry)?;
    if let Some((_, kind)) = FACINGS.iter().find(|(known, _)| *known == word) {
        return Some(*kind);
    }
    let known = FACINGS.map(|(known, _)| known);
    let lower = word.to_lowercase();
    let called = known.map(|known| (known, known)).into_iter().chain(ALSO_CALLED).find(|(part, _)| lower.contains(part));
    let hint = called.map(|(_, known)| known).or_else(|| nearest(word, known)).map_or_else(
        || "a cloth that one can breathe through is \"open cloth\"".to_owned(),
        |near| {
            let form = FACINGS.iter().find(|(word, _)| *word == near).map_or("", |(_, kind)| kind.form().1);
            format!("did you mean \"{near}\"? write it like `{form}`")
        },
    );
    walk.error("unknown-word", entry.1.clone(), format!("the facing \"{word}\" is not one of {}", list(&known)), hint);
    None
}
