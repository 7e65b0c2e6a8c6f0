//! [`Scene`] -> scene text: the inverse of `read`.
//!
//! [`print()`] writes everything out in one canonical form: what is printed reads back as the same scene, bit for bit.
//!
//! A number is written with the fewest decimals that read back as the same number; a length in feet as feet and inches where a tape
//! shows them, or in whole millimeters; a length that no number of the scene's unit gives exactly, in meters.
//!
//! *Limits.* Measured lengths and diagonals only check an outline; a scene does not keep them, and neither does its print.

mod making;

use std::fmt::Write as _;

use glam::{DVec2, DVec3};
use toml_edit::{Array, Value};

use super::read::{ANGLE_LAWS, FACINGS, FIBERS, FacingKind, LAWS, OPENING_KINDS, PATTERNS, STOCK_KINDS, polar_header};
use super::{
    Block, Clearance, ClearanceRegion, Core, CoreLayer, Drilling, Facing, Filling, Goals, Opening, Panel, PanelPlace, PanelType, PorousLaw,
    Rectangle, Scene, SourceKind, Term, UserMaterial,
};
use crate::bands::{Band, Bands};
use crate::directivity::Directivity;
use crate::settings::Leaving;
use crate::units::{Length, LengthUnit};

/// The scene as text.
#[must_use]
pub fn print(scene: &Scene) -> String {
    let mut page = Page { text: String::new(), unit: scene.unit };
    header(&mut page, scene);
    room(&mut page, scene);
    things(&mut page, scene);
    people(&mut page, scene);
    stock(&mut page, scene);
    let panels = print_panels(scene, &scene.panels);
    if panels.is_empty() { page.text } else { page.text + "\n" + &panels }
}

/// Panels that hang in a scene, as its text has them; [`read_panels`](super::read_panels) is the inverse.
#[must_use]
pub fn print_panels(scene: &Scene, panels: &[Panel]) -> String {
    let mut page = Page { text: String::new(), unit: scene.unit };
    for panel in panels {
        page.head("[[panel]]");
        for (key, value) in panel_keys(scene, panel) {
            page.line(key, value.to_string().trim());
        }
    }
    page.text
}

/// The keys of a `[[panel]]`.
pub(super) fn panel_keys(scene: &Scene, panel: &Panel) -> Vec<(&'static str, Value)> {
    let length = |meters: f64| measured_value(meters, scene.unit);
    let mut keys = vec![("type", Value::from(panel.kind.as_str()))];
    match &panel.place {
        PanelPlace::Surface { surface, left, bottom, lying, gap } => {
            keys.push(("surface", surface.as_str().into()));
            keys.push(("left", length(*left)));
            keys.push(("bottom", length(*bottom)));
            keys.extend(lying.then_some(("lying", true.into())));
            keys.push(("gap", length(*gap)));
        }
        PanelPlace::Corner { corner, bottom } => {
            let count = scene.walls.len();
            let walls = [(corner + count - 1) % count, *corner].map(|wall| scene.walls[wall].name.as_str());
            keys.push(("corner", Value::Array(walls.into_iter().collect())));
            keys.push(("bottom", length(*bottom)));
        }
        PanelPlace::Cloud(cloud) => {
            let list = |values: [Value; 2]| Value::Array(values.into_iter().collect::<Array>());
            keys.push(("center", list(cloud.center.to_array().map(length))));
            keys.push(("underside", length(cloud.underside)));
            keys.extend(cloud.turned.then_some(("turned", true.into())));
            keys.extend((cloud.tilt != DVec2::ZERO).then(|| ("tilt", list(cloud.tilt.to_array().map(number_value)))));
            keys.extend((cloud.panels != [1, 1]).then(|| ("panels", list(cloud.panels.map(|count| i64::from(count).into())))));
        }
    }
    keys
}

/// A length that was computed or came from a mouse: sums of steps end in `3.9000000000000004`, which no tape can show. Nanometers are kept,
/// which takes in every fraction of an inch that a tape has.
pub(super) fn measured_value(meters: f64, unit: LengthUnit) -> Value {
    length_value(rounded(meters, 9), unit)
}

/// A length as a value that reads back as the same number: in the scene's unit where that is short, else in millimeters if those are
/// whole, else in the scene's unit with all its decimals.
fn length_value(meters: f64, unit: LengthUnit) -> Value {
    let exact = |number: f64| (unit.to_meters(number) == meters).then_some(number);
    let number = unit.from_meters(meters);
    let plain = |decimals: std::ops::Range<usize>| decimals.into_iter().find_map(|decimals| exact(rounded(number, decimals)));
    let tape = |unit: LengthUnit| {
        let text = Length(meters).print(unit);
        (Length::read(&text, unit) == Ok(Length(meters))).then(|| Value::from(text))
    };
    if let Some(number) = plain(0..3) {
        return number_value(number);
    }
    if matches!(unit, LengthUnit::Foot | LengthUnit::Inch)
        && let Some(text) = tape(unit).or_else(|| tape(LengthUnit::Millimeter))
    {
        return text;
    }
    let near = [number, number.next_up(), number.next_down(), number.next_up().next_up(), number.next_down().next_down()];
    match plain(3..13).or_else(|| near.into_iter().find_map(exact)) {
        Some(number) => number_value(number),
        None => Value::from(format!("{meters} m")),
    }
}

/// A share in percent.
fn percent_value(share: f64) -> Value {
    number_value(inverse(share, share * 100.0, |percent| percent / 100.0))
}

/// A length in micrometers where those are short and exact.
fn micrometers_value(meters: f64) -> Value {
    let unit = LengthUnit::Micrometer;
    let short = (0..4).map(|decimals| rounded(unit.from_meters(meters), decimals)).find(|&number| unit.to_meters(number) == meters);
    short.map_or_else(|| Value::from(format!("{meters} m")), |number| Value::from(format!("{number} um")))
}

/// A number rounded to decimals, as its decimal text reads.
pub(super) fn rounded(number: f64, decimals: usize) -> f64 {
    format!("{number:.decimals$}").parse().expect("a printed number can be read")
}

/// Whole numbers without a point.
pub(super) fn number_value(number: f64) -> Value {
    if number.fract() == 0.0 && number.abs() < 1e15 { Value::from(number as i64) } else { Value::from(number) }
}

/// The number that, changed by `forth`, gives `wanted`: the one with the fewest decimals near `number`.
fn inverse(wanted: f64, number: f64, forth: impl Fn(f64) -> f64) -> f64 {
    let near = [number, number.next_up(), number.next_down(), number.next_up().next_up(), number.next_down().next_down()];
    let short = (0..13).map(|decimals| rounded(number, decimals));
    short.chain(near).find(|&candidate| forth(candidate) == wanted).unwrap_or(number)
}

/// One thing as text, its header first; lengths in `unit`.
pub(super) fn one(unit: LengthUnit, write: impl FnOnce(&mut Page)) -> String {
    let mut page = Page { text: String::new(), unit };
    write(&mut page);
    page.text
}

/// The text being written.
pub(super) struct Page {
    text: String,
    unit: LengthUnit,
}

impl Page {
    fn head(&mut self, header: &str) {
        let gap = if self.text.is_empty() { "" } else { "\n" };
        writeln!(self.text, "{gap}{header}").expect("writing to a string does not fail");
    }

    fn line(&mut self, key: &str, value: &str) {
        writeln!(self.text, "{key} = {value}").expect("writing to a string does not fail");
    }

    fn words(&mut self, key: &str, words: &str) {
        self.line(key, &Value::from(words).to_string());
    }

    fn number(&mut self, key: &str, number: f64) {
        self.line(key, &number_value(number).to_string());
    }

    fn length(&mut self, key: &str, meters: f64) {
        self.line(key, &length_value(meters, self.unit).to_string());
    }

    fn lengths(&mut self, key: &str, meters: &[f64]) {
        let values: Array = meters.iter().map(|&meters| length_value(meters, self.unit)).collect();
        self.line(key, &values.to_string());
    }

    fn numbers(&mut self, key: &str, numbers: &[f64]) {
        let values: Array = numbers.iter().map(|&number| number_value(number)).collect();
        self.line(key, &values.to_string());
    }

    fn spectrum(&mut self, key: &str, bands: &Bands<f64>) {
        if bands.0.iter().all(|value| *value == bands.0[0]) { self.number(key, bands.0[0]) } else { self.numbers(key, &bands.0) }
    }

    fn rectangle(&mut self, place: &Rectangle) {
        self.length("left", place.left);
        self.length("bottom", place.bottom);
        self.length("width", place.width);
        self.length("height", place.height);
    }
}

/// The word for a value.
fn word<T: PartialEq>(words: &[(&'static str, T)], value: &T) -> &'static str {
    words.iter().find(|(_, known)| known == value).map_or("", |(word, _)| word)
}

fn header(page: &mut Page, scene: &Scene) {
    page.line("format", "1");
    page.words("name", &scene.name);
    if let Some(question) = &scene.question {
        page.words("question", question);
    }
    page.words("unit", scene.unit.symbol());
    page.words("use", scene.activity.word());
    page.line("seed", &scene.settings.seed.to_string());

    page.head("[air]");
    page.number("temperature", scene.air.temperature_c);
    page.number("humidity", scene.air.humidity_percent);
    page.number("pressure", scene.air.pressure_kpa);
    if scene.noise_level.is_some() || scene.speech_level.is_some() {
        page.head("[levels]");
    }
    for (key, level) in [("noise", &scene.noise_level), ("speech", &scene.speech_level)] {
        if let Some(level) = level {
            page.numbers(key, &level.0);
        }
    }

    goals(page, &scene.goals);
    making::making(page, &scene.making);
    let settings = &scene.settings;
    page.head("[settings]");
    page.line("rays", &settings.rays.to_string());
    page.line("rounds", &settings.rounds.to_string());
    page.number("t30_error_percent", inverse(settings.t30_error, settings.t30_error * 100.0, |percent| percent / 100.0));
    page.number("early_error_db", settings.early_error_db);
    page.words("leaving", word(&Leaving::ALL, &settings.leaving));
    page.line("tail_one_in", &settings.tail_one_in.to_string());
    page.line("image_order", &settings.image_order.to_string());
    for (key, seconds) in [("early_ms", settings.early_s), ("window_ms", settings.window_s), ("bin_ms", settings.bin_s)] {
        page.number(key, inverse(seconds, seconds * 1000.0, |milliseconds| milliseconds / 1000.0));
    }
    page.length("late_radius", settings.late_radius_m);
    page.length("patch", settings.patch_m);
    page.line("leaders", &settings.leaders.to_string());
}

/// `[goals]`, where the scene says anything of them.
fn goals(page: &mut Page, goals: &Goals) {
    if *goals == Goals::default() {
        return;
    }
    page.head("[goals]");
    for term in Term::ALL {
        if let Some(weight) = goals.weights[term] {
            page.number(term.key(), weight);
        }
    }
    if let Some((low, high)) = goals.decay_s {
        page.numbers("decay_range", &[low, high]);
    }
    if goals.move_hung {
        page.line("move_hung", "true");
    }
    match &goals.drilling {
        Drilling::Anywhere => {}
        Drilling::Nowhere => page.line("drill", "false"),
        Drilling::NotInto(surfaces) => {
            page.line("no_drill", &surfaces.iter().map(String::as_str).collect::<Array>().to_string());
        }
    }
    if let Some(budget) = goals.budget {
        page.number("budget", budget);
    }
}

fn room(page: &mut Page, scene: &Scene) {
    page.head("[room]");
    let corners: Array = scene
        .outline
        .iter()
        .map(|corner| [corner.x, corner.y].map(|meters| length_value(meters, page.unit)).into_iter().collect::<Array>())
        .collect();
    page.line("outline", &corners.to_string());
    page.words("floor", &scene.floor_material);
    page.length("tape_tolerance", scene.tape_tolerance.0);
    for (index, wall) in scene.walls.iter().enumerate() {
        page.head("[[room.wall]]");
        page.line("edge", &(index + 1).to_string());
        page.words("name", &wall.name);
        page.words("material", &wall.material);
    }
    for plane in &scene.ceiling {
        page.head("[[room.ceiling]]");
        page.words("name", &plane.name);
        page.words("material", &plane.material);
        page.length("height", plane.height);
        if plane.slope != DVec2::ZERO {
            page.numbers("slope", &plane.slope.to_array());
        }
    }
}

fn things(page: &mut Page, scene: &Scene) {
    scene.openings.iter().for_each(|thing| opening(page, thing));
    scene.blocks.iter().for_each(|thing| block(page, thing));
    scene.clearances.iter().for_each(|thing| clearance(page, thing));
}

pub(super) fn opening(page: &mut Page, opening: &Opening) {
    page.head("[[opening]]");
    page.words("name", &opening.name);
    page.words("kind", word(&OPENING_KINDS, &opening.kind));
    page.words("surface", &opening.surface);
    page.rectangle(&opening.place);
    page.words("material", &opening.material);
}

pub(super) fn block(page: &mut Page, block: &Block) {
    page.head("[[block]]");
    page.words("name", &block.name);
    page.lengths("center", &block.center.to_array());
    page.length("base", block.base);
    page.lengths("size", &block.size.to_array());
    page.number("rotation", inverse(block.rotation, block.rotation.to_degrees(), f64::to_radians));
    page.words("material", &block.material);
    if let Some(scattering) = &block.scattering {
        page.spectrum("scattering", scattering);
    }
}

pub(super) fn clearance(page: &mut Page, clearance: &Clearance) {
    page.head("[[clearance]]");
    page.words("name", &clearance.name);
    match &clearance.region {
        ClearanceRegion::Surface { surface, place } => {
            page.words("surface", surface);
            page.rectangle(place);
        }
        ClearanceRegion::Space { low, high } => {
            page.lengths("low", &low.to_array());
            page.lengths("high", &high.to_array());
        }
    }
}

fn people(page: &mut Page, scene: &Scene) {
    let direction = |page: &mut Page, direction: DVec3| page.numbers("direction", &direction.to_array());
    for source in &scene.sources {
        page.head(match source.kind {
            SourceKind::Loudspeaker => "[[loudspeaker]]",
            SourceKind::Voice => "[[voice]]",
            SourceKind::Instrument => "[[instrument]]",
        });
        page.words("name", &source.name);
        page.lengths("position", &source.position.to_array());
        direction(page, source.aim);
        page.words("directivity", source.directivity.word());
        match &source.directivity {
            Directivity::Omni | Directivity::Forward => {}
            Directivity::Piston { radius } => page.length("radius", *radius),
            Directivity::Polar(polar) => {
                page.head(polar_header(source.kind));
                page.numbers("angles", polar.angles_deg());
                for band in Band::ALL {
                    if let Some(levels) = polar.given_db(band) {
                        page.numbers(&band.nominal().to_string(), &levels);
                    }
                }
            }
        }
    }
    for seat in &scene.seats {
        page.head("[[seat]]");
        page.words("name", &seat.name);
        page.lengths("ear", &seat.ear.to_array());
        direction(page, seat.facing);
        page.length("zone_radius", seat.zone_radius);
    }
    for microphone in &scene.microphones {
        page.head("[[microphone]]");
        page.words("name", &microphone.name);
        page.lengths("position", &microphone.position.to_array());
        direction(page, microphone.aim);
        match word(&PATTERNS, &microphone.pattern.omni) {
            "" => page.number("pattern", microphone.pattern.omni),
            pattern => page.words("pattern", pattern),
        }
    }
}

fn stock(page: &mut Page, scene: &Scene) {
    scene.materials.iter().for_each(|one| material(page, one));
    scene.stock.iter().for_each(|kind| panel_type(page, kind));
}

pub(super) fn material(page: &mut Page, material: &UserMaterial) {
    page.head("[[material]]");
    page.words("name", &material.name);
    page.line("absorption", &absorption(&material.absorption));
    page.spectrum("scattering", &material.scattering);
    page.words("angle", word(&ANGLE_LAWS, &material.law));
    if !material.moves_like.is_empty() {
        page.words("moves_like", &material.moves_like);
    }
    if !material.source.is_empty() {
        page.words("source", &material.source);
    }
}

pub(super) fn panel_type(page: &mut Page, stock: &PanelType) {
    page.head("[[stock]]");
    page.words("name", &stock.name);
    page.words("kind", word(&STOCK_KINDS, &stock.kind));
    page.lengths("size", &stock.size.to_array());
    page.length("thickness", stock.thickness);
    core(page, &stock.core);
    if let Some(facing) = &stock.facing {
        page.line("facing", &facing_value(facing, page.unit).to_string());
    }
    if stock.other_gaps.is_empty() {
        page.length("gap", stock.gap);
    } else {
        page.lengths("gap", &stock.gaps().collect::<Vec<_>>());
    }
    page.line("count", &stock.count.to_string());
    if let Some(other) = &stock.instead_of {
        page.words("instead_of", other);
    }
    for (key, number) in [("price", stock.price), ("mass", stock.mass)] {
        if let Some(number) = number {
            page.number(key, number);
        }
    }
    if let Some(made) = stock.made {
        page.words("made", made.word());
    }
    if let Some(fixing) = stock.fixing {
        page.words("fixing", fixing.word());
    }
    if let Some(drill) = stock.drill {
        page.line("drill", if drill { "true" } else { "false" });
    }
    if let Some(scattering) = &stock.scattering {
        page.spectrum("scattering", scattering);
    }
    page.length("least_distance", stock.least_distance);
}

/// What a panel absorbs with.
fn core(page: &mut Page, core: &Core) {
    match core {
        Core::Porous(filling) => filling_keys(filling).into_iter().for_each(|(key, value)| page.line(key, value.to_string().trim())),
        Core::Layers(layers) => {
            let layers: Array = layers.iter().map(|layer| layer_value(layer, page.unit)).collect();
            page.line("layers", &layers.to_string());
        }
        Core::Material(material) => page.words("material", material),
    }
}

fn filling_keys(filling: &Filling) -> Vec<(&'static str, Value)> {
    let mut keys = Vec::new();
    keys.extend(filling.flow_resistivity.map(|number| ("flow_resistivity", number_value(number))));
    if let Some(fiber) = &filling.fiber {
        keys.push(("density", number_value(fiber.density)));
        keys.push(("fiber", word(&FIBERS, &fiber.kind).into()));
        keys.extend(fiber.diameter.map(|meters| ("fiber_diameter", micrometers_value(meters))));
    }
    if let PorousLaw::Pores(pores) = filling.law {
        keys.extend(pores.porosity.map(|share| ("porosity", percent_value(share))));
        keys.extend(pores.tortuosity.map(|number| ("tortuosity", number_value(number))));
        keys.extend(pores.viscous_length.map(|meters| ("viscous_length", micrometers_value(meters))));
        keys.extend(pores.thermal_length.map(|meters| ("thermal_length", micrometers_value(meters))));
    }
    let model = word(&LAWS, &filling.law);
    // Known pores say by themselves what computes them.
    keys.extend((filling.law != PorousLaw::default() && !model.is_empty()).then(|| ("model", model.into())));
    keys
}

fn layer_value(layer: &CoreLayer, unit: LengthUnit) -> Value {
    let keys = match layer {
        CoreLayer::Porous { filling, thickness } => {
            [("thickness", length_value(*thickness, unit))].into_iter().chain(filling_keys(filling)).collect()
        }
        CoreLayer::Air { thickness } => vec![("air", length_value(*thickness, unit))],
        CoreLayer::Sheet(sheet) => facing_keys(sheet, unit),
    };
    Value::InlineTable(keys.into_iter().collect())
}

/// The word of an open cloth, the table of every other facing.
fn facing_value(facing: &Facing, unit: LengthUnit) -> Value {
    match facing {
        Facing::OpenCloth => word(&FACINGS, &FacingKind::OpenCloth).into(),
        _ => Value::InlineTable(facing_keys(facing, unit).into_iter().collect()),
    }
}

fn facing_keys(facing: &Facing, unit: LengthUnit) -> Vec<(&'static str, Value)> {
    let kind = |kind: FacingKind| ("kind", Value::from(word(&FACINGS, &kind)));
    let length = |meters: f64| length_value(meters, unit);
    match *facing {
        Facing::OpenCloth => vec![kind(FacingKind::OpenCloth)],
        Facing::Cloth { flow_resistance, mass } => {
            vec![kind(FacingKind::Cloth), ("flow_resistance", number_value(flow_resistance)), ("mass", number_value(mass))]
        }
        Facing::Membrane { mass } => vec![kind(FacingKind::Membrane), ("mass", number_value(mass))],
        Facing::Perforated { hole, open, thickness } => {
            vec![kind(FacingKind::Perforated), ("hole", length(hole)), ("open", percent_value(open)), ("thickness", length(thickness))]
        }
        Facing::Slotted { slot, open, thickness } => {
            vec![kind(FacingKind::Slotted), ("slot", length(slot)), ("open", percent_value(open)), ("thickness", length(thickness))]
        }
    }
}

/// Absorption by octave, as a list where the form allows it.
fn absorption(bands: &Bands<Option<f64>>) -> String {
    let first = usize::from(bands.0[0].is_none());
    let known: Vec<f64> = bands.0[first..].iter().map_while(|value| *value).collect();
    let complete = match (first, known.len()) {
        (0, 8) | (1, 7) => true,
        (1, 6) => bands.0[7].is_none(),
        _ => false,
    };
    if complete {
        return known.into_iter().map(number_value).collect::<Array>().to_string();
    }
    let entries = Band::ALL.into_iter().filter_map(|band| Some(format!("{} = {}", band.nominal(), number_value(bands[band]?))));
    format!("{{ {} }}", entries.collect::<Vec<_>>().join(", "))
}
