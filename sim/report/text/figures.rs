//! Numbers as they are printed, on pages and on screen: estimates, lengths and areas in the scene's unit, octaves, places.

use glam::DVec2;

use crate::bands::Band;
use crate::findings::{Basis, Estimate, Findings, Pair, Place, Span, Target};
use crate::scene::shell::FLOOR;
use crate::scene::{Activity, Scene};
use crate::units::{Length, LengthUnit, POUND_KG};

/// What the `+-` of a page means, and its ranges.
pub const ERRORS: &str = "+- holds 95 of 100 repeats of the tracing. Inputs: where a figure lies in two of three rooms, by the doubt of \
     absorption values (0.1 up to 250 Hz, 0.05 above, at most a factor of 2; twice that where filled by rule) and, for decay times, of the tape; below the crossover, where waves were run, what rooms with other walls do.";
/// What a row of early reflections is.
pub const MERGED: &str = "A reflection is all that arrives within 1 ms, summed, where in the zone the criterion is missed most, and named after its strongest bounce; hot spots are single bounces.";
/// What the mark of a statistical octave means.
pub const STATISTICAL: &str = "* below Schroeder's frequency of the bare room, where waves rule: a statistical reading, judged by nothing.";

/// A plain number; `-` where there is none that can be printed.
#[must_use]
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "-".to_owned();
    }
    if value.abs() >= 1e6 {
        return format!("{value:.1e}");
    }
    let text = format!("{value:.decimals$}");
    // A rounded zero has no sign.
    if text.starts_with('-') && text.chars().all(|c| matches!(c, '-' | '0' | '.')) { text[1..].to_owned() } else { text }
}

/// A number, or `-`.
#[must_use]
pub fn optional(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |value| number(value, decimals))
}

/// `value +-half width`; the value alone where it is exact, `+-<0.1` where the half width would print as zero.
#[must_use]
pub fn estimate(estimate: Estimate, decimals: usize) -> String {
    let value = number(estimate.value, decimals);
    let least = 10.0_f64.powi(-(decimals as i32));
    match half_width(estimate) {
        0.0 => value,
        half if half < 0.5 * least => format!("{value} +-<{}", number(least, decimals)),
        half => format!("{value} +-{}", number(half, decimals)),
    }
}

/// `0.412 +- 0.013`: a value with its standard error, two digits of the error, three decimals at most; a value that rounds to nothing has no
/// sign, an error is never nothing.
#[must_use]
pub fn with_error(estimate: Estimate) -> String {
    let Estimate { value, se } = estimate;
    let digits = if se > 0.0 { (1.0 - se.log10().floor()).clamp(0.0, 3.0) as usize } else { 3 };
    let value = number(value, digits);
    match se {
        0.0 => value,
        se if se < 0.001 => format!("{value} +- under 0.001"),
        se => format!("{value} +- {}", number(se, digits)),
    }
}

/// An estimate, or `-`.
#[must_use]
pub fn optional_estimate(value: Option<Estimate>, decimals: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |value| estimate(value, decimals))
}

/// `0.43-0.63`: the range of a decay time, for a column whose head names the unit; `-` where there is none.
#[must_use]
pub fn inputs_cell(inputs: Option<Span>) -> String {
    match inputs {
        Some(Span { low, high }) if low.is_finite() && high.is_finite() => format!("{}-{}", number(low, 2), number(high, 2)),
        _ => "-".to_owned(),
    }
}

/// `-1.4 to 0.3`: the range of a figure that may lie below zero, for a column whose head names the unit; `-` where there is none.
#[must_use]
pub fn inputs_to(inputs: Option<Span>, decimals: usize) -> String {
    match inputs {
        Some(Span { low, high }) if low.is_finite() && high.is_finite() => {
            format!("{} to {}", number(low, decimals), number(high, decimals))
        }
        _ => "-".to_owned(),
    }
}

/// ` (inputs -1.4 to 0.3 dB)`, behind a value in a sentence; nothing where there is no range.
#[must_use]
pub fn inputs_behind(inputs: Option<Span>, decimals: usize, unit: &str) -> String {
    let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
    inputs.map_or_else(String::new, |_| format!(" (inputs {}{unit})", inputs_to(inputs, decimals)))
}

/// Half width of the interval that holds 95 of 100 repeats.
#[must_use]
pub fn half_width(estimate: Estimate) -> f64 {
    estimate.half_width_95()
}

/// A length with its unit, for sentences.
#[must_use]
pub fn length(meters: f64, scene: &Scene) -> String {
    Length(meters).print(scene.unit)
}

/// A mass: kilograms, with pounds beside them where lengths are in feet or inches.
#[must_use]
pub fn mass(kilograms: f64, scene: &Scene) -> String {
    match scene.unit {
        LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => format!("{kilograms:.1} kg"),
        LengthUnit::Foot | LengthUnit::Inch => format!("{kilograms:.1} kg ({:.0} lb)", kilograms / POUND_KG),
    }
}

/// A length for a column of [`length_head`]: a bare number in metric units, with feet and inches otherwise.
#[must_use]
pub fn length_cell(meters: f64, scene: &Scene) -> String {
    match scene.unit {
        LengthUnit::Meter => number(meters, 3),
        LengthUnit::Centimeter => number(100.0 * meters, 1),
        LengthUnit::Millimeter => number(1000.0 * meters, 0),
        LengthUnit::Micrometer => number(1e6 * meters, 1),
        LengthUnit::Foot | LengthUnit::Inch => length(meters, scene),
    }
}

/// The head of a column of lengths, with the unit where the cells are bare numbers.
#[must_use]
pub fn length_head(head: &str, scene: &Scene) -> String {
    match scene.unit {
        LengthUnit::Foot | LengthUnit::Inch => head.to_owned(),
        metric => format!("{head}, {}", metric.symbol()),
    }
}

/// Width and height of a rectangle, for a column.
#[must_use]
pub fn extent(size: [f64; 2], scene: &Scene) -> String {
    format!("{} x {}", length_cell(size[0], scene), length_cell(size[1], scene))
}

fn feet(scene: &Scene) -> bool {
    matches!(scene.unit, LengthUnit::Foot | LengthUnit::Inch)
}

/// Meters in a foot (exact by definition).
const FOOT: f64 = 0.3048;

/// An area with its unit.
#[must_use]
pub fn area(square_meters: f64, scene: &Scene) -> String {
    format!("{} {}", area_cell(square_meters, scene), area_unit(scene))
}

/// An area without its unit.
#[must_use]
pub fn area_cell(square_meters: f64, scene: &Scene) -> String {
    if feet(scene) { number(square_meters / (FOOT * FOOT), 1) } else { number(square_meters, 2) }
}

/// Unit of areas.
#[must_use]
pub fn area_unit(scene: &Scene) -> &'static str {
    if feet(scene) { "ft2" } else { "m2" }
}

/// A volume with its unit.
#[must_use]
pub fn volume(cubic_meters: f64, scene: &Scene) -> String {
    if feet(scene) { format!("{} ft3", number(cubic_meters / (FOOT * FOOT * FOOT), 0)) } else { format!("{} m3", number(cubic_meters, 2)) }
}

/// The octave's name, marked where its figures are a statistical reading.
#[must_use]
pub fn octave_label(frequency_hz: u32, statistical: bool) -> String {
    let name = Band::ALL.into_iter().find(|band| band.nominal() == frequency_hz);
    format!("{}{}", name.map_or_else(|| format!("{frequency_hz} Hz"), |band| band.label().to_owned()), if statistical { " *" } else { "" })
}

/// Octaves as heads of narrow columns: `63`, `125`, ... `8k`.
pub const OCTAVES: [&str; 8] = ["63", "125", "250", "500", "1k", "2k", "4k", "8k"];

/// Whether findings read this octave statistically.
#[must_use]
pub fn is_statistical(findings: &Findings, band: Band) -> bool {
    let octaves = findings.pairs.iter().flat_map(|pair| &pair.octaves);
    octaves.into_iter().any(|octave| octave.frequency_hz == band.nominal() && octave.basis == Basis::Statistical)
}

/// Whether waves rule in this octave, whether or not they were run: images alone are no more than a part of it.
#[must_use]
pub fn is_of_waves(findings: &Findings, band: Band) -> bool {
    let octaves = findings.pairs.iter().flat_map(|pair| &pair.octaves);
    octaves.into_iter().any(|octave| octave.frequency_hz == band.nominal() && octave.basis != Basis::Geometric)
}

/// Heads of eight octave columns, marked where the findings read the octave statistically.
#[must_use]
pub fn octave_heads(findings: &Findings) -> Vec<String> {
    let head = |band: Band| format!("{}{}", OCTAVES[band.index()], if is_statistical(findings, band) { "*" } else { "" });
    Band::ALL.into_iter().map(head).collect()
}

/// `west, 1.425 m from left, 1.2 m from floor`.
#[must_use]
pub fn place(place: &Place, scene: &Scene) -> String {
    if place.surface == FLOOR {
        // A floor has no left: its measures are those of the plan.
        let low = scene.outline.iter().copied().reduce(DVec2::min).unwrap_or(DVec2::ZERO);
        return format!("{FLOOR}, at x {}, y {}", length(low.x + place.left_m, scene), length(low.y + place.bottom_m, scene));
    }
    let below = if scene.walls.iter().any(|wall| wall.name == place.surface) { "from the floor" } else { "from its lower edge" };
    format!("{}, {} from its left edge, {} {below}", place.surface, length(place.left_m, scene), length(place.bottom_m, scene))
}

/// `left to desk`.
#[must_use]
pub fn pair_label(pair: &Pair) -> String {
    format!("{} to {}", pair.source, pair.receiver)
}

/// The bounds of a target with their unit.
#[must_use]
pub fn asked(target: &Target) -> String {
    let decimals = target_decimals(target);
    let unit = if target.unit.is_empty() { String::new() } else { format!(" {}", target.unit) };
    match (target.low, target.high) {
        (Some(low), Some(high)) => format!("{} to {}{unit}", number(low, decimals), number(high, decimals)),
        (Some(low), None) => format!("at least {}{unit}", number(low, decimals)),
        (None, Some(high)) => format!("at most {}{unit}", number(high, decimals)),
        (None, None) => "-".to_owned(),
    }
}

/// The verdict on a target; where the document is about rooms of another size, what it would be by that.
#[must_use]
pub fn verdict(target: &Target) -> String {
    if target.verdict == OUTSIDE && target.value.is_some() {
        return format!("{}; the document is about other rooms", beyond(target).unwrap_or("met"));
    }
    target.verdict.clone()
}

/// Said of a room that a document is not about.
const OUTSIDE: &str = "outside its range";

/// Whether a figure misses the bounds of a target whose document is about other rooms, and on which side.
#[must_use]
pub fn misses_outside(target: &Target) -> Option<&'static str> {
    beyond(target).filter(|_| target.verdict == OUTSIDE)
}

/// On which side of the bounds a figure is.
fn beyond(target: &Target) -> Option<&'static str> {
    let value = target.value?.value;
    let is_high = target.high.is_some_and(|high| value > high);
    let is_low = target.low.is_some_and(|low| value < low);
    if is_high { Some("too high") } else { is_low.then_some("too low") }
}

/// Where the room stands to a target, with its unit.
#[must_use]
pub fn standing(target: &Target) -> String {
    match target.value {
        None => "-".to_owned(),
        Some(value) => {
            let standing = format!("{} {}", estimate(value, target_decimals(target)), target.unit);
            standing.trim_end().to_owned() + &inputs_behind(target.inputs, target_decimals(target), &target.unit)
        }
    }
}

/// Decimals of a target's figures: one more where a figure that misses its bound would read like it.
fn target_decimals(target: &Target) -> usize {
    let usual = match target.unit.as_str() {
        "dB" | "%" => 1,
        _ => 2,
    };
    let Some(value) = target.value.filter(|_| beyond(target).is_some()) else { return usual };
    let reads_like = |bound: &f64| number(value.value, usual) == number(*bound, usual);
    usual + usize::from([target.low, target.high].iter().flatten().any(reads_like))
}

/// The use in words.
#[must_use]
pub fn activity(activity: Activity) -> &'static str {
    match activity {
        Activity::Mixing => "mixing on loudspeakers",
        Activity::Voice => "a voice at a microphone",
        Activity::Rehearsal => "rehearsing music",
        Activity::Lesson => "teaching and talking",
    }
}

/// A share in percent.
#[must_use]
pub fn percent(share: Estimate) -> Estimate {
    Estimate { value: 100.0 * share.value, se: 100.0 * share.se }
}
