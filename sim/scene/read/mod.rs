//! Scene text -> [`Scene`]: one function a table, all mistakes at once.
//!
//! The text is parsed with recovery, so that a slip in one line does not hide the next mistake; the tables are walked by hand; then the
//! rules of meaning (`check`) look at what could be read. What follows from a slip of grammar alone is not reported: a table with a
//! broken line is not blamed for the key that stood there.
//!
//! *Limits.* After an unclosed bracket the rest of the text is lost, and only what stands before it is judged.

mod goals;
mod making;
mod room;
mod sources;
mod stock;
mod things;

pub(super) use self::sources::header as polar_header;
pub(super) use self::stock::{FACINGS, FIBERS, FacingKind, LAWS, STOCK_KINDS};
pub(super) use self::things::{ANGLE_LAWS, OPENING_KINDS, PANEL_KEYS, PATTERNS, ZONE_RADIUS};

use glam::DVec3;
use toml::de::DeTable;

use super::diagnostic::{Diagnostic, Severity, line_and_column};
use super::walk::{Entry, Places, Span, Table, Walk};
use super::{Activity, AirState, Goals, Making, Panel, Scene, check};
use crate::bands::Bands;
use crate::settings::{Leaving, Settings};
use crate::units::{Length, LengthUnit};

/// The scene as far as it could be read, with the place of everything in the text. Where something could not be read there is a
/// diagnostic, and the value here is a stand-in that nobody gets to see.
pub(super) struct Draft {
    pub(super) scene: Scene,
    pub(super) at: At,
    /// The outline and the ceiling could be read and are sound, so that rules about places make sense.
    pub(super) shape_known: bool,
}

/// Where things stand in the text; lists are parallel to those of the scene.
#[derive(Default)]
pub(super) struct At {
    pub(super) room: Places,
    /// By corner of the outline, in the scene's order.
    pub(super) corners: Vec<Span>,
    pub(super) walls: Vec<Places>,
    pub(super) ceiling: Vec<Places>,
    pub(super) openings: Vec<Places>,
    pub(super) blocks: Vec<Places>,
    pub(super) sources: Vec<Places>,
    pub(super) seats: Vec<Places>,
    pub(super) microphones: Vec<Places>,
    pub(super) clearances: Vec<Places>,
    pub(super) panels: Vec<Places>,
    pub(super) stock: Vec<Places>,
    pub(super) materials: Vec<Places>,
    pub(super) structure: Vec<Places>,
    /// Names of things that have one, broken things included: kind, name, place.
    pub(super) names: Vec<(&'static str, String, Span)>,
    /// What sources, seats and microphones point at.
    pub(super) source_aims: Vec<Aim>,
    pub(super) seat_aims: Vec<Aim>,
    pub(super) goals: Places,
    pub(super) microphone_aims: Vec<Aim>,
    /// Zone radius as written, by seat.
    pub(super) zones: Vec<Option<f64>>,
    /// Measured distances between corners: corners, meters, place, how to call it.
    pub(super) measures: Vec<Measure>,
    /// Sources or receivers that could not be read: their lack is not to be reported.
    pub(super) broken_sources: bool,
    pub(super) broken_receivers: bool,
}

/// A measured distance between two corners of the floor.
pub(super) struct Measure {
    pub(super) corners: (usize, usize),
    pub(super) length: f64,
    pub(super) span: Span,
    /// The wall's name; nothing for a diagonal.
    pub(super) wall: Option<String>,
}

/// What a thing points at, as written.
#[derive(Clone, Debug)]
pub(super) enum Aim {
    /// Nothing is written.
    Unsaid,
    /// A point.
    Point(DVec3),
    /// A named thing.
    Toward(String),
    /// A direction.
    Direction(DVec3),
}

const ROOT_KEYS: &[&str] = &[
    "format",
    "name",
    "question",
    "unit",
    "use",
    "seed",
    "room",
    "air",
    "levels",
    "goals",
    "build",
    "structure",
    "settings",
    "opening",
    "block",
    "loudspeaker",
    "voice",
    "instrument",
    "seat",
    "microphone",
    "clearance",
    "panel",
    "stock",
    "material",
];

/// Reads a scene text.
///
/// # Errors
/// All mistakes of the text, in the order of their lines, errors and warnings.
pub fn read(text: &str) -> Result<(Scene, Vec<Diagnostic>), Vec<Diagnostic>> {
    let (document, slips) = DeTable::parse_recoverable(text);
    let mut walk = Walk::new(text);
    let root = Table { map: document.get_ref(), span: 0..0, what: "the scene" };
    let mut draft = scene(&mut walk, &root);
    check::check(&mut walk, &mut draft);
    let diagnostics = reported(walk, &root, &slips);
    if diagnostics.iter().any(|found| found.severity == Severity::Error) { Err(diagnostics) } else { Ok((draft.scene, diagnostics)) }
}

/// Reads panels that hang in a scene in place of its own, as [`print_panels`](super::print_panels) writes them.
///
/// # Errors
/// All mistakes of that text, and what of it cannot hang there.
pub fn read_panels(scene: &Scene, text: &str) -> Result<Vec<Panel>, Vec<Diagnostic>> {
    let bare = Scene { panels: Vec::new(), ..scene.clone() };
    read(&format!("{}\n{text}", super::print(&bare))).map(|(scene, _)| scene.panels)
}

/// What a walk found, with the slips of grammar and without what only follows from them, by line.
pub(super) fn reported(mut walk: Walk<'_>, root: &Table<'_>, slips: &[toml::de::Error]) -> Vec<Diagnostic> {
    let meaning = std::mem::take(&mut walk.diagnostics);
    let spoiled = syntax(&mut walk, root, slips);
    let text = walk.text;
    let mut diagnostics = walk.diagnostics;
    diagnostics.extend(meaning.into_iter().filter(|found| !follows_from_slip(text, found, &spoiled)));
    diagnostics.sort_by_key(|found| (found.span.start, found.span.end));
    diagnostics
}

/// The scene as far as it could be read, mistakes or not; `None` where outline or ceiling are not sound.
pub(super) fn draft(text: &str) -> Option<Scene> {
    let (document, _) = DeTable::parse_recoverable(text);
    let mut walk = Walk::new(text);
    let mut draft = scene(&mut walk, &Table { map: document.get_ref(), span: 0..0, what: "the scene" });
    check::check(&mut walk, &mut draft);
    draft.shape_known.then_some(draft.scene)
}

/// Reports slips of grammar, the first of each line, and returns the lines that cannot be trusted.
fn syntax(walk: &mut Walk<'_>, root: &Table<'_>, slips: &[toml::de::Error]) -> Vec<(usize, usize)> {
    let mut slips: Vec<(Span, &str)> = slips.iter().map(|slip| (slip.span().unwrap_or(0..0), slip.message())).collect();
    slips.sort_by_key(|(span, _)| span.start);
    let mut spoiled: Vec<(usize, usize)> = Vec::new();
    if slips.iter().any(|(_, message)| message.starts_with("unclosed array,")) {
        // Everything after the bracket was taken for its contents: say where it opens, once.
        let end = walk.text.trim_end().len();
        if let Some(span) = unclosed(root, end) {
            let hint = Some("close the list with `]`".to_owned());
            walk.error("syntax", span.start..span.start + 1, "this bracket is never closed", hint);
            spoiled.push((line_and_column(walk.text, span.start).0, usize::MAX));
        }
    }
    for (span, message) in slips {
        let line = line_and_column(walk.text, span.start).0;
        if spoiled.iter().any(|(first, last)| (*first..=*last).contains(&line)) {
            continue;
        }
        // What stands below a broken header belongs to nobody, up to the next header.
        let header = walk.text.lines().nth(line - 1).is_some_and(|text| text.trim_start().starts_with('['));
        spoiled.push((line, if header { next_header(walk.text, line) - 1 } else { line }));
        let (id, message, hint) = slip_words(walk, &span, message);
        walk.error(id, span, message, hint.map(str::to_owned));
    }
    spoiled
}

/// The line of the first header after this line, both from 1.
fn next_header(text: &str, line: usize) -> usize {
    text.lines().enumerate().skip(line).find(|(_, text)| text.trim_start().starts_with('[')).map_or(usize::MAX, |(index, _)| index + 1)
}

/// A slip of grammar in words: id, message, hint.
fn slip_words(walk: &Walk<'_>, span: &Span, message: &str) -> (&'static str, String, Option<&'static str>) {
    let quoted = walk.quoted(span);
    match message.split(',').next().unwrap_or(message) {
        "duplicate key" => {
            let hint = "write each key once; a second thing of a kind gets its own [[...]] header";
            ("duplicate-key", format!("{quoted} is written twice"), Some(hint))
        }
        "string values must be quoted" if span.is_empty() => ("syntax", "a value is missing here".to_owned(), Some("write key = value")),
        "string values must be quoted" => {
            let hint = "texts, and lengths with a unit, stand in quotes: \"2.4 m\", \"7 ft 8 in\"";
            ("syntax", format!("{quoted} is not a value"), Some(hint))
        }
        "unexpected key or value" => {
            let hint = "one key and one value a line; numbers have a decimal point, not a comma; texts stand in quotes";
            ("syntax", "the line should end here".to_owned(), Some(hint))
        }
        "invalid basic string" | "invalid literal string" => {
            let hint = "close it by a quote on the same line; a text with an inch sign stands in single quotes: '2 1/2\"'";
            ("syntax", "this text is not closed".to_owned(), Some(hint))
        }
        "missing comma between array elements" => {
            let hint = "put a comma between values, and a text with an inch sign in single quotes: '2 1/2\"'";
            ("syntax", "a comma is missing here".to_owned(), Some(hint))
        }
        "unclosed array table" | "unclosed table" => {
            ("syntax", "this header is not closed".to_owned(), Some("a thing has two brackets on each side: [[seat]]; a table one: [air]"))
        }
        // 7'8" begins a text in the middle of a number.
        "missing opening quote" => ("syntax", "this is not a value".to_owned(), Some("write feet and inches as \"7 ft 8 in\", in quotes")),
        _ => ("syntax", message.to_owned(), None),
    }
}

/// The innermost list that reaches to the end of the text although it is not closed.
fn unclosed(table: &Table<'_>, end: usize) -> Option<Span> {
    fn outermost(map: &DeTable<'_>, end: usize) -> Option<Span> {
        map.iter().find_map(|(_, value)| match value.get_ref() {
            toml::de::DeValue::Array(_) if value.span().end >= end && !is_header(value.span(), map) => Some(value.span()),
            toml::de::DeValue::Array(array) => {
                array.iter().find_map(|entry| entry.get_ref().as_table().and_then(|table| outermost(table, end)))
            }
            toml::de::DeValue::Table(inner) => outermost(inner, end),
            _ => None,
        })
    }
    /// The span of a list of `[[tables]]` covers headers; it ends where the last header ends.
    fn is_header(span: Span, map: &DeTable<'_>) -> bool {
        map.iter().any(|(key, value)| value.span() == span && key.span().start >= span.start)
    }
    outermost(table.map, end)
}

/// Whether a mistake of meaning only follows from a slip of grammar.
fn follows_from_slip(text: &str, found: &Diagnostic, spoiled: &[(usize, usize)]) -> bool {
    if spoiled.is_empty() {
        return false;
    }
    let last = line_and_column(text, found.span.end.max(found.span.start + 1) - 1).0;
    let touches = |first: usize, last: usize| spoiled.iter().any(|(from, to)| *from <= last && first <= *to);
    if touches(found.line, last) {
        return true;
    }
    // Whether a line that begins like this was lost, or everything from some line on.
    let lost = |beginnings: &[&str]| {
        let line = |number: usize| text.lines().nth(number - 1).unwrap_or("").trim_start();
        spoiled.iter().any(|(from, to)| *to == usize::MAX || beginnings.iter().any(|beginning| line(*from).starts_with(beginning)))
    };
    match found.id {
        // What is missing may have stood in a broken line of the same table.
        "key-missing" | "keys-conflict" => {
            let end = next_header(text, last) - 1;
            touches(found.line, end)
        }
        "no-source" | "no-receiver" => lost(&["["]),
        "surface-not-found" | "stock-not-found" | "material-not-found" | "target-not-found" | "corner-not-found" => lost(&["[", "name"]),
        _ => false,
    }
}

/// The whole scene.
fn scene(walk: &mut Walk<'_>, root: &Table<'_>) -> Draft {
    let mut draft = Draft { scene: blank(), at: At::default(), shape_known: false };
    walk.allow_only(root, ROOT_KEYS);
    header(walk, root, &mut draft.scene);
    if let Some(air) = sub_table(walk, root, "air", "[air]") {
        draft.scene.air = self::air(walk, &air);
    }
    if let Some(levels) = sub_table(walk, root, "levels", "[levels]") {
        self::levels(walk, &levels, &mut draft.scene);
    }
    if let Some(goals) = sub_table(walk, root, "goals", "[goals]") {
        draft.scene.goals = goals::goals(walk, &goals, draft.scene.activity);
        draft.at.goals = goals.places();
    }
    if let Some(build) = sub_table(walk, root, "build", "[build]") {
        draft.scene.making = making::build(walk, &build);
    }
    if let Some(settings) = sub_table(walk, root, "settings", "[settings]") {
        self::settings(walk, &settings, &mut draft.scene.settings);
    }
    match walk.required(root, "room", "[room]").and_then(|entry| walk.table(&entry, "[room]")) {
        Some(room) => room::room(walk, &room, &mut draft),
        None => draft.at.room = Places::default(),
    }
    things::things(walk, root, &mut draft);
    draft
}

fn sub_table<'t>(walk: &mut Walk<'_>, root: &Table<'t>, key: &str, what: &'static str) -> Option<Table<'t>> {
    walk.optional(root, key).and_then(|entry| walk.table(&entry, what))
}

/// Stand-ins and defaults.
fn blank() -> Scene {
    Scene {
        name: String::new(),
        question: None,
        unit: LengthUnit::Meter,
        tape_tolerance: Length(0.01),
        activity: Activity::Mixing,
        air: AirState { temperature_c: 20.0, humidity_percent: 50.0, pressure_kpa: 101.325 },
        noise_level: None,
        speech_level: None,
        outline: Vec::new(),
        walls: Vec::new(),
        floor_material: String::new(),
        ceiling: Vec::new(),
        openings: Vec::new(),
        blocks: Vec::new(),
        sources: Vec::new(),
        seats: Vec::new(),
        microphones: Vec::new(),
        clearances: Vec::new(),
        panels: Vec::new(),
        stock: Vec::new(),
        materials: Vec::new(),
        goals: Goals::default(),
        making: Making::default(),
        settings: Settings::DEFAULT,
    }
}

/// `format` and `unit`, which every text has.
pub(super) fn text_header(walk: &mut Walk<'_>, root: &Table<'_>) {
    if let Some(entry) = walk.required(root, "format", "format = 1")
        && walk.whole(&entry, (0.0, 1e9)).is_some_and(|format| format != 1)
    {
        walk.error("format-unknown", entry.1.clone(), "this program reads format 1", "write `format = 1`".to_owned());
    }
    if let Some(entry) = walk.optional(root, "unit") {
        let units = LengthUnit::ALL.map(|unit| (unit.symbol(), unit));
        if let Some(unit) = walk.word(&entry, &units) {
            walk.unit = unit;
        }
    }
}

/// The keys before the first table.
fn header(walk: &mut Walk<'_>, root: &Table<'_>, scene: &mut Scene) {
    text_header(walk, root);
    scene.unit = walk.unit;
    if let Some(name) = walk.required(root, "name", "name = \"Spare bedroom\"").and_then(|entry| walk.name(&entry)) {
        scene.name = name;
    }
    scene.question = walk.optional(root, "question").and_then(|entry| walk.text(&entry)).map(str::to_owned);
    if let Some(activity) = walk
        .required(root, "use", "use = \"mixing\"")
        .and_then(|entry| walk.word(&entry, &Activity::ALL.map(|activity| (activity.word(), activity))))
    {
        scene.activity = activity;
    }
    if let Some(seed) = walk.optional(root, "seed").and_then(|entry| walk.whole(&entry, (0.0, MOST_EXACT))) {
        scene.settings.seed = seed;
    }
}

/// Largest seed: whole numbers up to here are exact in every program that may read the text, 2^53.
const MOST_EXACT: f64 = 9_007_199_254_740_992.0;

/// `[air]`
fn air(walk: &mut Walk<'_>, table: &Table<'_>) -> AirState {
    walk.allow_only(table, &["temperature", "humidity", "pressure"]);
    let mut air = blank().air;
    let mut set = |key: &str, value: &mut f64, limits, unit| {
        if let Some(found) = walk.optional(table, key).and_then(|entry| walk.number(&entry, limits, unit)) {
            *value = found;
        }
    };
    set("temperature", &mut air.temperature_c, (-30.0, 60.0), "degrees Celsius");
    set("humidity", &mut air.humidity_percent, (0.0, 100.0), "percent");
    set("pressure", &mut air.pressure_kpa, (50.0, 110.0), "kPa");
    air
}

/// `[levels]`
fn levels(walk: &mut Walk<'_>, table: &Table<'_>, scene: &mut Scene) {
    walk.allow_only(table, &["noise", "speech"]);
    let mut level = |key: &str| -> Option<Bands<f64>> {
        let entry = walk.optional(table, key)?;
        walk.filled_octaves(&entry, (-20.0, 140.0), "dB")
    };
    (scene.noise_level, scene.speech_level) = (level("noise"), level("speech"));
}

/// `[settings]`
fn settings(walk: &mut Walk<'_>, table: &Table<'_>, settings: &mut Settings) {
    walk.allow_only(
        table,
        &[
            "rays",
            "rounds",
            "t30_error_percent",
            "early_error_db",
            "leaving",
            "tail_one_in",
            "early_ms",
            "image_order",
            "window_ms",
            "bin_ms",
            "late_radius",
            "patch",
            "leaders",
        ],
    );
    let whole = |walk: &mut Walk<'_>, key: &str, limits| walk.optional(table, key).and_then(|entry: Entry<'_>| walk.whole(&entry, limits));
    if let Some(rays) = whole(walk, "rays", (100.0, 1e7)) {
        settings.rays = rays as u32;
    }
    if let Some(rounds) = whole(walk, "rounds", (1.0, 64.0)) {
        settings.rounds = rounds as u32;
    }
    if let Some(percent) = walk.optional(table, "t30_error_percent").and_then(|entry| walk.number(&entry, (0.1, 50.0), "percent")) {
        settings.t30_error = percent / 100.0;
    }
    if let Some(decibels) = walk.optional(table, "early_error_db").and_then(|entry| walk.number(&entry, (0.005, 5.0), "dB")) {
        settings.early_error_db = decibels;
    }
    if let Some(leaving) = walk.optional(table, "leaving").and_then(|entry| walk.word(&entry, &Leaving::ALL)) {
        settings.leaving = leaving;
    }
    if let Some(one_in) = whole(walk, "tail_one_in", (1.0, 1000.0)) {
        settings.tail_one_in = one_in as u32;
    }
    if let Some(order) = whole(walk, "image_order", (0.0, 6.0)) {
        settings.image_order = order as u8;
    }
    if let Some(leaders) = whole(walk, "leaders", (1.0, 10_000.0)) {
        settings.leaders = leaders as u32;
    }
    let mut time = |key: &str, seconds: &mut f64, limits| {
        if let Some(found) = walk.optional(table, key).and_then(|entry| walk.number(&entry, limits, "ms")) {
            *seconds = found / 1000.0;
        }
    };
    time("early_ms", &mut settings.early_s, (5.0, 1000.0));
    time("window_ms", &mut settings.window_s, (1.0, 100.0));
    time("bin_ms", &mut settings.bin_s, (0.02, 10.0));
    if let Some(patch) = walk.optional(table, "patch").and_then(|entry| walk.length(&entry, (0.02, 1.0))) {
        settings.patch_m = patch;
    }
    if let Some(radius) = walk.optional(table, "late_radius").and_then(|entry| walk.length(&entry, (0.0, 3.0))) {
        settings.late_radius_m = radius;
    }
}
