//! The low end: what each loudspeaker does at each seat, third octave by third octave; dips and their walls; modes; what all of it took.

use super::columns::{Page, Table};
use super::figures::{length, number, optional};
use crate::findings::Span;
use crate::findings::bass::{BassFloor, BassMode, BassResponse, BassStudy, BoxSpread, Dip, ENOUGH, ONE, Third, WHOLE};
use crate::scene::Scene;

/// Dips that are told of a response.
pub const DIPS: usize = 5;

/// The page.
pub(in crate::report) fn page(scene: &Scene, study: &BassStudy) -> Page {
    let mut page = Page::new(&format!("{}: the low end", scene.name));
    page.paragraph(&what(study));
    for (index, response) in study.stands.responses.iter().enumerate() {
        let bare = study.bare.as_ref().and_then(|bare| bare.responses.get(index));
        page.section(&heading(response));
        let mut table = Table::new(&heads(study));
        thirds(response, bare).into_iter().for_each(|row| table.row(row));
        page.table(&table);
        for line in dips(response) {
            page.hanging("-", &line);
        }
    }
    page.paragraph(COLUMNS);
    if let Some(floor) = &study.stands.floor {
        page.section(FLOOR);
        for line in places(scene, floor) {
            page.hanging("-", &line);
        }
    }
    page.section(&modes_heading(study));
    let mut table = Table::new(&mode_heads(study).iter().map(|head| format!("<{head}")).collect::<Vec<_>>());
    modes(study).into_iter().for_each(|row| table.row(row));
    page.table(&table);
    page.paragraph(MODES);
    if let Some(spread) = &study.box_spread {
        page.section(BOX);
        for line in criteria(scene, spread) {
            page.hanging("-", &line);
        }
    }
    if let Some(corners) = &study.corners {
        super::bass_corners::print(&mut page, scene, corners);
    }
    page.paragraph(&pictures(study));
    page.section("How sure this is, and what it took");
    for line in sure(scene, study) {
        page.hanging("-", &line);
    }
    page
}

/// What it is about.
#[must_use]
pub fn what(study: &BassStudy) -> String {
    let states = if study.bare.is_some() { "with all that hangs in it, and bare" } else { "as it stands" };
    format!(
        "Waves in the room {states}, from 20 to {} Hz. Levels are re the same sources as far away in the free field.",
        number(study.top_hz, 0)
    )
}

/// Who sounds, and who hears it.
#[must_use]
pub fn heading(response: &BassResponse) -> String {
    format!("{} at {}", response.sources.join(" and "), response.receiver)
}

/// What the columns mean.
pub const COLUMNS: &str = "Level: mean of the energy in the third octave. Likely: where it lies with other walls, within what tables leave open. Spread: how much it differs over the seat's zone (standard deviation of seven points). Decay: time for 60 dB, from -5 to -25 dB; \
     - where the filter of the band rings as long as the room: there the modes tell.";

/// What the levels of modes mean.
pub const MODES: &str = "A mode's level at a place is re where in the room it is loudest: a seat at -30 dB hardly hears it, and a loudspeaker that stands there hardly drives it.";

/// What the pictures show.
fn pictures(study: &BassStudy) -> String {
    let corners = if study.corners.is_some() { "; what a panel across each corner takes (bass-corners.svg)" } else { "" };
    format!(
        "In pictures, on bass.html: the level of each response over frequency, and over time how it dies away (bass-time-...); how even it is over the floor (bass-floor.svg); the shapes of the first modes (bass-modes.svg){corners}."
    )
}

/// Heading over the criteria of boxes.
pub const BOX: &str = "What published criteria say of its box";

/// What they say, and of what.
#[must_use]
pub fn criteria(scene: &Scene, spread: &BoxSpread) -> Vec<String> {
    let bands = |bands: &[f64]| bands.iter().map(|band| hertz(*band)).collect::<Vec<_>>().join(", ");
    let counts: Vec<String> = spread.thirds.iter().map(|third| third.count.to_string()).collect();
    let [first, last] = [spread.thirds.first(), spread.thirds.last()].map(|third| third.map_or(0.0, |third| third.band_hz));
    let falls =
        if spread.falls_hz.is_empty() { "they never fall".to_owned() } else { format!("they fall at {} Hz", bands(&spread.falls_hz)) };
    let crowded =
        if spread.crowded_hz.is_empty() { "so they are".to_owned() } else { format!("not so at {} Hz", bands(&spread.crowded_hz)) };
    let meets = if spread.is_recommended { "so it is" } else { "it is not so" };
    let [long, wide, high] = [spread.length_m, spread.width_m, spread.height_m].map(|side| length(side, scene));
    let range = if spread.most_length_m < spread.least_length_m {
        "no length at all".to_owned()
    } else {
        format!("a length from {} to {}", length(spread.least_length_m, scene), length(spread.most_length_m, scene))
    };
    let whole = spread.near_whole.iter().map(|sides| {
        format!(
            "Its {} is {} times its {}: within {} % of a whole number, which EBU Tech 3276 says to avoid.",
            sides.longer,
            number(sides.ratio, 2),
            sides.shorter,
            number(100.0 * WHOLE, 0)
        )
    });
    [
        "Said of the rigid, empty box of these sides, and no verdict on this room: its walls give way, things stand in it, and who sits where matters more.".to_owned(),
        format!(
            "Modes in third octaves from {} to {} Hz: {}. From one to the next they should not fall (O. J. Bonello, 1981, from memory): {falls}.",
            hertz(first),
            hertz(last),
            counts.join(", ")
        ),
        format!("Modes of one frequency (within {} %) should lie only where a third octave has {ENOUGH} or more (the same): {crowded}.", number(100.0 * ONE, 2)),
        format!(
            "{long} long, {wide} wide, {high} high. Of rooms to listen in ITU-R BS.1116 and EBU Tech 3276 (from memory) ask, for this width and height, for {range}, and for length and width under {}: {meets}.",
            length(spread.longest_m, scene)
        ),
    ]
    .into_iter()
    .chain(whole)
    .collect()
}

/// Heads of the third octaves; with the bare room beside it if it is told.
#[must_use]
pub fn heads(study: &BassStudy) -> Vec<String> {
    let likely = || (study.cost.others > 0).then(|| "likely".to_owned());
    let level = ["Hz", "level, dB"].map(str::to_owned).into_iter().chain(likely());
    let rest = ["spread, dB", "decay, s"].map(str::to_owned).into_iter().chain(likely());
    let bare = study.bare.iter().flat_map(|_| ["bare: level, dB", "decay, s"].map(str::to_owned));
    level.chain(rest).chain(bare).collect()
}

/// Third octaves of a response for that table.
#[must_use]
pub fn thirds(response: &BassResponse, bare: Option<&BassResponse>) -> Vec<Vec<String>> {
    let has_spans = response.thirds.iter().any(|third| third.level_span_db.is_some());
    let likely = |span: Option<Span>, decimals: usize| has_spans.then(|| range(span, decimals));
    let row = |(index, third): (usize, &Third)| {
        let level = [hertz(third.band_hz), number(third.level_db, 1)].into_iter().chain(likely(third.level_span_db, 0));
        let rest = [optional(third.spread_db, 1), optional(third.decay_s, 2)].into_iter().chain(likely(third.decay_span_s, 2));
        let beside = bare.and_then(|bare| bare.thirds.get(index)).map(|third| [number(third.level_db, 1), optional(third.decay_s, 2)]);
        level.chain(rest).chain(beside.into_iter().flatten()).collect()
    };
    response.thirds.iter().enumerate().map(row).collect()
}

/// From where to where.
fn range(span: Option<Span>, decimals: usize) -> String {
    span.map_or_else(|| "-".to_owned(), |span| format!("{} to {}", number(span.low, decimals), number(span.high, decimals)))
}

/// A nominal frequency with the digits that it has.
#[must_use]
pub fn hertz(frequency: f64) -> String {
    number(frequency, usize::from(frequency.fract() != 0.0))
}

/// Dips of a response in words, the deepest first.
#[must_use]
pub fn dips(response: &BassResponse) -> Vec<String> {
    let line = |dip: &Dip| {
        let whose = dip
            .surface
            .as_ref()
            .map_or_else(String::new, |surface| format!(": the bounce from {surface} comes late by odd half waves and cancels there"));
        format!("Dip at {} Hz, {} dB under its surroundings{whose}.", number(dip.frequency_hz, 0), number(dip.depth_db, 0))
    };
    response.dips.iter().take(DIPS).map(line).collect()
}

/// Heading over the places.
pub const FLOOR: &str = "Where it is evenest at ear height";

/// How even it is at each receiver and at the best places.
#[must_use]
pub fn places(scene: &Scene, floor: &BassFloor) -> Vec<String> {
    let figures = |index: usize| {
        let place = &floor.places[index];
        format!(
            "{} dB; weakest {} Hz, {} dB under the mean",
            number(place.evenness_db, 1),
            hertz(place.weakest_hz),
            number(-place.weakest_db, 0)
        )
    };
    let names = scene.seats.iter().map(|seat| &seat.name).chain(scene.microphones.iter().map(|microphone| &microphone.name));
    let now = names.zip(&floor.at_receivers).map(|(name, index)| format!("At {name}: {}.", figures(*index)));
    let best = floor.best.iter().enumerate().map(|(rank, index)| {
        let [x, y] = floor.places[*index].point_m;
        format!("Place {}, x {} and y {} on the plan: {}.", rank + 1, length(x, scene), length(y, scene), figures(*index))
    });
    let what = format!(
        "Evenness: standard deviation of the third octaves from {} to {} Hz, of {}; less is better. Loudspeakers stay where they are; between places, {} apart, it is not known; decay and early reflections may ask for another place.",
        hertz(floor.octaves_hz[0]),
        hertz(floor.octaves_hz[1]),
        floor.sources.join(" and "),
        length(floor.apart_m, scene)
    );
    now.chain(best).chain([what]).collect()
}

/// Heading over the modes.
#[must_use]
pub fn modes_heading(study: &BassStudy) -> String {
    format!("Modes that stand apart, up to {} Hz", number(study.stands.modes_to_hz, 0))
}

/// A mode by its frequency and its decay.
#[must_use]
pub fn mode_heading(mode: &BassMode) -> String {
    let decay = mode.decay_s.map_or_else(String::new, |decay| format!(", decay {} s", number(decay, 2)));
    format!("{} Hz{decay}", number(mode.frequency_hz, 1))
}

/// Heads of the modes.
#[must_use]
pub fn mode_heads(study: &BassStudy) -> Vec<String> {
    let likely = || (study.cost.others > 0).then(|| "likely".to_owned());
    let fixed = std::iter::once("Hz".to_owned()).chain(likely()).chain(std::iter::once("decay, s".to_owned())).chain(likely());
    let seats = study.receivers.iter().map(|receiver| format!("at {receiver}, dB"));
    let bare = study.bare.iter().flat_map(|_| ["bare: Hz", "decay, s"].map(str::to_owned));
    let rigid = study.box_modes.iter().flat_map(|_| ["rigid box: Hz", "half waves"].map(str::to_owned));
    fixed.chain(seats).chain(bare).chain(rigid).collect()
}

/// Modes for that table: each beside the nearest of the bare room and of the rigid box.
#[must_use]
pub fn modes(study: &BassStudy) -> Vec<Vec<String>> {
    let dash = || "-".to_owned();
    let row = |mode: &BassMode| {
        let likely = |span: Option<Span>, decimals: usize| (study.cost.others > 0).then(|| range(span, decimals));
        let own = std::iter::once(number(mode.frequency_hz, 1)).chain(likely(mode.frequency_span_hz, 1));
        let own = own.chain(std::iter::once(optional(mode.decay_s, 2))).chain(likely(mode.decay_span_s, 2));
        let seats = mode.at_receivers_db.iter().map(|level| number(*level, 0));
        let bare = study.bare.iter().flat_map(|bare| {
            let near = nearest(&bare.modes, mode.frequency_hz, |other| other.frequency_hz);
            near.map_or_else(|| [dash(), dash()], |near| [number(near.frequency_hz, 1), optional(near.decay_s, 2)])
        });
        let rigid = study.box_modes.iter().flat_map(|rigid| {
            let near = nearest(rigid, mode.frequency_hz, |other| other.frequency_hz);
            near.map_or_else(
                || [dash(), dash()],
                |near| [number(near.frequency_hz, 1), near.half_waves.map(|half| half.to_string()).join(" ")],
            )
        });
        own.chain(seats).chain(bare).chain(rigid).collect()
    };
    study.stands.modes.iter().map(row).collect()
}

/// The mode of another state of the room that may be the one of this frequency: the nearest, within 5 %.
pub(super) fn nearest<T>(all: &[T], frequency: f64, of: impl Fn(&T) -> f64) -> Option<&T> {
    let off = |mode: &T| (of(mode) / frequency - 1.0).abs();
    all.iter().min_by(|a, b| off(a).total_cmp(&off(b))).filter(|mode| off(mode) < 0.05)
}

/// Limits, what is left out, what it took.
#[must_use]
pub fn sure(scene: &Scene, study: &BassStudy) -> Vec<String> {
    let cost = &study.cost;
    let took = format!(
        "{} cells of {}, steps of {} us, {} runs of {} s at most, {} MB; {} rooms with other walls in cells twice as large. Waves along an axis of the grid are slow by {} % at {} Hz.",
        super::super::sheet::grouped(cost.cells as u32),
        length(cost.cell_m, scene),
        number(1e6 * cost.step_s, 0),
        cost.runs,
        number(study.stands.longest_s.max(study.bare.as_ref().map_or(0.0, |bare| bare.longest_s)), 1),
        number(cost.memory_mb, 0),
        cost.others,
        number(cost.slow_percent, 2),
        number(study.top_hz, 0)
    );
    let left_out = (!study.left_out.is_empty()).then(|| format!("Not in it: {}.", study.left_out.join(", ")));
    study.notes.iter().cloned().chain(left_out).chain([took]).collect()
}
