//! What sends: loudspeakers, voices, instruments, and the polar data that any of them may have.
//!
//! Of polar data every mistake is told: a broken list of angles does not hide what is wrong with the levels.

use glam::DVec3;

use super::super::walk::{Entry, Table, Walk};
use super::super::{Source, SourceKind};
use super::Aim;
use super::things::{AIMS, aim};
use crate::bands::{Band, Bands};
use crate::directivity::Directivity;
use crate::directivity::polar::{self, ANGLES_MOST, LEVELS_DB, Polar, REACHES_DEG};

/// Radius of a loudspeaker's piston where none is written, meters: a driver of six inches.
const PISTON_RADIUS: f64 = 0.065;

/// Least and greatest radius of a piston, meters.
const PISTON_RADII: (f64, f64) = (0.005, 0.5);

/// What `directivity` may say.
#[derive(Clone, Copy, PartialEq)]
enum Word {
    Omni,
    Piston,
    Forward,
    Polar,
}

/// `[[loudspeaker]]`, `[[voice]]`, `[[instrument]]`
pub(super) fn source(walk: &mut Walk<'_>, table: &Table<'_>, name: String, kind: SourceKind) -> Option<(Source, Aim)> {
    let position = walk.required(table, "position", "position = [1.2, 0.6, 1.2]").and_then(|entry| walk.point(&entry));
    let aim = aim(walk, table);
    let directivity = directivity(walk, table, kind);
    let (aim, directivity) = (aim?, directivity?);
    if matches!(aim, Aim::Unsaid) && directivity != Directivity::Omni {
        let hint = "add `toward = \"seat\"`, `aim = [x, y, z]` or `direction = [x, y, z]`".to_owned();
        walk.missing(table, &AIMS, format!("{} does not say where it points", table.what), hint);
        return None;
    }
    Some((Source { name, kind, position: position?, aim: DVec3::Y, directivity }, aim))
}

/// `directivity`, with the `radius` of a piston and the `polar` data.
fn directivity(walk: &mut Walk<'_>, table: &Table<'_>, kind: SourceKind) -> Option<Directivity> {
    // Read whatever the word says, so that nothing that is wrong with them waits for the next reading.
    let radius = walk.optional(table, "radius").map_or(Some(PISTON_RADIUS), |entry| walk.length(&entry, PISTON_RADII));
    let polar = walk.optional(table, "polar").map(|entry| polar_data(walk, &entry, kind));
    let words: &[(&str, Word)] = match kind {
        SourceKind::Loudspeaker => &[("omni", Word::Omni), ("piston", Word::Piston), ("polar", Word::Polar)],
        SourceKind::Voice | SourceKind::Instrument => &[("omni", Word::Omni), ("forward", Word::Forward), ("polar", Word::Polar)],
    };
    let entry = walk.optional(table, "directivity");
    let word = match (&entry, kind) {
        (Some(entry), _) => walk.word(entry, words)?,
        (None, _) if polar.is_some() => Word::Polar,
        (None, SourceKind::Loudspeaker) => Word::Piston,
        (None, SourceKind::Voice) => Word::Forward,
        (None, SourceKind::Instrument) => Word::Omni,
    };
    if polar.is_some() && word != Word::Polar {
        let hint = "write `directivity = \"polar\"`, or take the polar data out".to_owned();
        let span = entry.map_or_else(|| table.span.clone(), |(_, span)| span);
        walk.error("keys-conflict", span, format!("{} has polar data, and is said to send otherwise", table.what), hint);
        return None;
    }
    if table.has("radius") && matches!(word, Word::Omni | Word::Polar) {
        let (message, hint) = match word {
            Word::Polar => ("a source with polar data has no radius", "leave out `radius`, or the polar data"),
            _ => ("an omni source has no radius", "leave out `radius`, or write `directivity = \"piston\"`"),
        };
        walk.error("keys-conflict", table.places().of("radius"), message, hint.to_owned());
        return None;
    }
    match word {
        Word::Omni => Some(Directivity::Omni),
        Word::Piston => radius.map(|radius| Directivity::Piston { radius }),
        Word::Forward => Some(Directivity::Forward),
        Word::Polar => {
            if polar.is_none() {
                let hint = format!("add a table `{}` with `angles` and levels, or another `directivity`", header(kind));
                walk.missing(table, &["polar"], format!("{} has no polar data", table.what), hint);
            }
            polar?.map(Directivity::Polar)
        }
    }
}

/// How the table of polar data is headed.
pub(in crate::scene) fn header(kind: SourceKind) -> &'static str {
    match kind {
        SourceKind::Loudspeaker => "[loudspeaker.polar]",
        SourceKind::Voice => "[voice.polar]",
        SourceKind::Instrument => "[instrument.polar]",
    }
}

/// `[loudspeaker.polar]`: `angles` in degrees, and by octave as many levels in dB re the axis.
fn polar_data(walk: &mut Walk<'_>, entry: &Entry<'_>, kind: SourceKind) -> Option<Polar> {
    let table = walk.table(entry, header(kind))?;
    let is_known = octaves_known(walk, &table);
    let angles = walk.required(&table, "angles", "angles = [0, 15, 30, 45, 60, 90, 120, 150, 180]");
    let (count, angles) = match &angles {
        Some(entry) => angles_of(walk, entry),
        None => (None, None),
    };
    let lists = Band::ALL.map(|band| walk.optional(&table, &band.nominal().to_string()));
    let given = Bands(lists.each_ref().map(Option::is_some));
    let levels = lists.map(|list| list.map(|entry| levels_of(walk, &entry, count)));
    if let Some(band) = polar::gap(given) {
        let hint = format!("add `{} = [...]`; octaves above and below those given are taken from the nearest", band.nominal());
        let message = format!("{} has octaves on both sides of {}, but not that one", table.what, band.label());
        walk.error("key-missing", table.span.clone(), message, hint);
        return None;
    }
    if is_known && !given.0.contains(&true) {
        let hint = "add a list like `1000 = [0, -0.5, -2, ...]`: a level for every angle, dB re the axis".to_owned();
        walk.error("key-missing", table.span.clone(), format!("{} has no octave", table.what), hint);
    }
    let mut lists = Bands([const { None }; 8]);
    for (slot, levels) in lists.0.iter_mut().zip(levels) {
        if let Some(levels) = levels {
            *slot = Some(levels?);
        }
    }
    let angles = angles?;
    if !is_known || !given.0.contains(&true) {
        return None;
    }
    Some(Polar::new(&angles, &lists).expect("whatever an arc may not be has been reported"))
}

/// Whether all keys are `angles` or octaves that the program knows.
fn octaves_known(walk: &mut Walk<'_>, table: &Table<'_>) -> bool {
    let names = Band::ALL.map(|band| band.nominal().to_string());
    let before = walk.diagnostics.len();
    let mut known = vec!["angles"];
    known.extend(names.iter().map(String::as_str));
    for (key, _) in table.map {
        let name = key.get_ref().as_ref();
        // A frequency that is none of ours is not a mistyped one.
        if !known.contains(&name) && name.parse::<f64>().is_ok() {
            let hint = format!("the octaves are {} Hz; leave this one out", names.join(", "));
            walk.error("unknown-key", key.span(), format!("{} has an octave `{name}`, which is not computed", table.what), hint);
            known.push(name);
        }
    }
    walk.allow_only(table, &known);
    walk.diagnostics.len() == before
}

/// How many angles are written, and the angles if they are sound.
fn angles_of(walk: &mut Walk<'_>, entry: &Entry<'_>) -> (Option<usize>, Option<Vec<f64>>) {
    let Some(list) = walk.list(entry, "a list of angles in degrees") else { return (None, None) };
    let count = list.len();
    let before = walk.diagnostics.len();
    let angles: Vec<Option<f64>> = list.iter().map(|entry| walk.number(entry, (0.0, 180.0), "degrees")).collect();
    for (index, pair) in angles.windows(2).enumerate() {
        if let [Some(one), Some(next)] = *pair
            && next <= one
        {
            let hint = "write them from 0 on, each greater than the one before".to_owned();
            walk.error("angles-unclear", list[index + 1].1.clone(), format!("the angle {next} follows {one}: angles must rise"), hint);
        }
    }
    if let Some(&Some(first)) = angles.first()
        && first != 0.0
    {
        let hint = "begin with 0, the axis, where every level is 0".to_owned();
        walk.error("angles-unclear", list[0].1.clone(), format!("the angles begin at {first} degrees, not on the axis"), hint);
    }
    match angles.last() {
        None => {
            let hint = "write `angles = [0, 15, 30, 45, 60, 90, 120, 150, 180]`".to_owned();
            walk.error("wrong-count", entry.1.clone(), "there are no angles", hint);
        }
        Some(&Some(last)) if last < REACHES_DEG => {
            let hint = format!("go on to 180 degrees, or to {REACHES_DEG} at least: what lies behind would be made up");
            let span = list[count - 1].1.clone();
            walk.error("angles-unclear", span, format!("the angles end at {last} degrees"), hint);
        }
        Some(_) => {}
    }
    if count > ANGLES_MOST {
        let message = format!("expected at most {ANGLES_MOST} angles, found {count}");
        walk.error("wrong-count", entry.1.clone(), message, "every 5 degrees from 0 to 180 is enough".to_owned());
    }
    let is_sound = walk.diagnostics.len() == before;
    (Some(count), angles.into_iter().collect::<Option<Vec<f64>>>().filter(|_| is_sound))
}

/// The levels of an octave, one for each of so many angles, if they are sound.
fn levels_of(walk: &mut Walk<'_>, entry: &Entry<'_>, count: Option<usize>) -> Option<Vec<f64>> {
    let list = walk.list(entry, "a list of levels, dB re the axis")?;
    let before = walk.diagnostics.len();
    let levels: Vec<Option<f64>> = list.iter().map(|entry| walk.number(entry, LEVELS_DB, "dB re the axis")).collect();
    if let Some(&Some(first)) = levels.first()
        && first != 0.0
    {
        let hint = format!("take {first} off every level of this octave: they count from the axis");
        walk.error("axis-not-zero", list[0].1.clone(), format!("the level on the axis is {first} dB, and must be 0"), hint);
    }
    if let Some(count) = count
        && count != list.len()
    {
        let message = format!("expected {count} levels, one for each angle, found {}", list.len());
        walk.error("wrong-count", entry.1.clone(), message, None);
    }
    let is_sound = walk.diagnostics.len() == before;
    levels.into_iter().collect::<Option<Vec<f64>>>().filter(|_| is_sound)
}
