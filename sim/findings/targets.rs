//! Targets: what published recommendations and common practice ask of a room for its use, and where the room stands.
//!
//! | use | what is asked | document |
//! | --- | --- | --- |
//! | mixing | `Tm = 0.25 (V / 100 m3)^(1/3)` s within 0.05 s, mean of the octaves 250 Hz to 4 kHz | ITU-R BS.1116-3, EBU Tech 3276 |
//! | mixing | below 200 Hz up to 0.15 s more than that at 125 Hz, 0.3 s more at 63 Hz, where waves were run | EBU Tech 3276, ITU-R BS.1116-3 |
//! | mixing | every reflection within 15 ms at least 10 dB under the direct sound, 1 to 8 kHz | ITU-R BS.1116-3, EBU Tech 3276 |
//! | mixing | both loudspeakers within 2 dB of each other, 250 Hz to 2 kHz | ITU-R BS.1116-3 |
//! | voice | 0.15 to 0.30 s at the microphone; reflections as for mixing | common practice, no source |
//! | rehearsal | 0.3 to 0.6 s | common practice, no source |
//! | lesson | `T = 0.32 lg V - 0.17` s (A3) and `0.26 lg V - 0.14` s (A4, inclusive), within 20 % | DIN 18041:2016 |
//! | lesson | at most 0.6 s under 283 m3, 0.7 s under 566 m3 | ANSI/ASA S12.60 |
//! | lesson | speech transmission index at least 0.60 | IEC 60268-16 |
//! | all | 15 to 20 % of floor, walls and ceiling treated | common practice, no source |
//!
//! Below 51 m3 the mixing law would ask for less than 0.2 s, under the floor that EBU Tech 3276 itself sets; there it is held at 0.2 s.
//!
//! The decay is the mean over octaves and over sources and receivers. Octaves whose basis is statistical take no part.
//! Its standard error: octaves and receivers of one source share their rays, so they are averaged batch by batch and the jackknife is
//! that of their mean; sources are traced apart, so theirs are added in squares. (Added plainly, as if all octaves erred together, the error is a
//! quarter too large in the attic.)
//!
//! *References.* The formulas were read in stored transcriptions. From memory: the tolerance that grows from 0.05 s at 200 Hz to 0.3 s at 63 Hz, over the logarithm of the frequency; that of 0.05 s and the floor areas of
//! ITU-R BS.1116-3; the wording of the -10 dB, 15 ms rule; the 300 m3 of EBU Tech 3276; the 2 dB between loudspeakers; the tolerance of 20 % and
//! the octaves of DIN 18041; the octaves of S12.60. The standard for music rehearsal rooms, ISO 23591, was not read.
//!
//! *Limits.* DIN 18041 asks for the occupied room; ours is as written. A document is judged only inside its own range of volume
//! or floor area; outside it the bounds are shown and the verdict is `outside its range`.

use crate::bands::Band;
use crate::findings::{Basis, Estimate, Likeness, Octave, Pair, Reflection, Span, Survey, Target};
use crate::response::Resampled;
use crate::room::Room;
use crate::scene::{Activity, SourceKind};

use super::pairs::Decays;

/// A reflection within the early window is too loud above this level re direct, dB (ITU-R BS.1116-3, from memory).
pub const CRITERION_DB: f64 = -10.0;
/// Length of the window of that rule in milliseconds (ITU-R BS.1116-3, from memory).
pub const CRITERION_WINDOW_MS: f64 = 15.0;
/// The question about early reflections, so that a page can answer it with the reflections themselves.
pub const REFLECTION_QUESTION: &str = "strongest reflection within 15 ms, 1 - 8 kHz, re direct";

/// Octaves 250 Hz to 4 kHz, as indices.
const MID: (usize, usize) = (2, 6);
/// Octaves 250 Hz to 2 kHz, as indices.
const SPEECH: (usize, usize) = (2, 5);
/// Least number of octaves a mean decay rests on.
const OCTAVES_MIN: usize = 3;
/// Slack of a comparison with a bound, in the bound's unit: rounding, not acoustics.
const ROUNDING: f64 = 1e-9;

/// A decay law with its document, bounds in seconds.
struct DecayLaw {
    question: &'static str,
    source: &'static str,
    /// Octaves of the mean, as indices, both included.
    octaves: (usize, usize),
    low: Option<f64>,
    high: Option<f64>,
    /// Whether the room lies inside the document's own range.
    applies: bool,
}

/// Every target of a use and how the room stands to it, a decay range that the scene asks for by itself first; `decays` in the order of `pairs`; see [`likeness_target`] for the one that needs both loudspeakers.
#[must_use]
pub fn targets((activity, own_range): (Activity, Option<(f64, f64)>), survey: &Survey, pairs: &[Pair], decays: &[Decays]) -> Vec<Target> {
    let (volume, floor) = (survey.volume_m3, survey.floor_area_m2);
    let listened = judged(pairs);
    let heard: Vec<(&Pair, &Decays)> =
        pairs.iter().zip(decays).filter(|(pair, _)| listened.iter().any(|one| std::ptr::eq(*one, *pair))).collect();
    let laws = own_range.map(|range| own_law(activity, range)).into_iter().chain(decay_laws(activity, volume, floor));
    let mut targets: Vec<Target> = laws.map(|law| decay_target(&law, &heard)).collect();
    if activity == Activity::Mixing {
        targets.extend(low_targets(survey, &heard));
    }
    match activity {
        Activity::Mixing => targets.push(reflection_target("ITU-R BS.1116-3 and EBU Tech 3276 (from memory)", &listened)),
        Activity::Voice => targets.push(reflection_target("common practice, the rule for listening rooms borrowed", &listened)),
        Activity::Lesson => targets.push(speech_target(&listened)),
        Activity::Rehearsal => {}
    }
    targets.push(coverage_target(survey));
    targets
}

/// The band of mean decay times in seconds that a plan should keep to; `None` where no document or practice speaks.
///
/// For mixing a floor under the document's 20 m2 does not silence the law: the planner has nothing better to keep to, though the
/// target itself is then shown as outside its range.
#[must_use]
pub fn reverberation_range(activity: Activity, volume: f64, floor_area: f64) -> Option<(f64, f64)> {
    let laws = decay_laws(activity, volume, floor_area);
    let law = laws.first()?;
    let known = law.applies || (activity == Activity::Mixing && mixing_volume(volume) && floor_area < MIXING_FLOOR.0);
    match (law.low, law.high) {
        (Some(low), Some(high)) if known => Some((low, high)),
        _ => None,
    }
}

/// The octaves that the mean decay of a use is taken over, as indices, both included.
#[must_use]
pub fn decay_octaves(activity: Activity) -> (usize, usize) {
    if activity == Activity::Lesson { SPEECH } else { MID }
}

/// The longest decay that is asked of an octave by itself, seconds: for mixing at 63 Hz and 125 Hz by the document, from 250 Hz on the upper end of the `range` that the mean is asked for;
/// `None` where nothing is asked.
#[must_use]
pub fn longest_asked((activity, range): (Activity, Option<(f64, f64)>), survey: &Survey, band: Band) -> Option<f64> {
    let volume = survey.volume_m3;
    match LOW.iter().find(|(low, _)| *low == band.index()) {
        // Where the law speaks of the room, as for its mean.
        Some((_, longer)) if activity == Activity::Mixing => {
            reverberation_range(activity, volume, survey.floor_area_m2).map(|_| mixing_decay(volume) + longer)
        }
        None if band.index() >= MID.0 => range.map(|(_, high)| high),
        _ => None,
    }
}

/// The mean decay time for mixing in a room of this volume (m3), in seconds: `0.25 (V / 100)^(1/3)`, never under 0.2.
#[must_use]
pub fn mixing_decay(volume: f64) -> f64 {
    (0.25 * (volume / 100.0).cbrt()).max(0.2)
}

/// Floor areas that ITU-R BS.1116-3 speaks of for two loudspeakers, m2 (from memory).
const MIXING_FLOOR: (f64, f64) = (20.0, 60.0);

/// EBU Tech 3276 speaks of rooms under 300 m3 (from memory).
fn mixing_volume(volume: f64) -> bool {
    volume > 0.0 && volume < 300.0
}

/// The range that the scene asks for, seconds.
fn own_law(activity: Activity, (low, high): (f64, f64)) -> DecayLaw {
    DecayLaw {
        question: "reverberation, as this scene asks",
        source: "the scene's own goal",
        octaves: decay_octaves(activity),
        low: Some(low),
        high: Some(high),
        applies: true,
    }
}

fn decay_laws(activity: Activity, volume: f64, floor: f64) -> Vec<DecayLaw> {
    match activity {
        Activity::Mixing => {
            let middle = mixing_decay(volume);
            vec![DecayLaw {
                question: "reverberation",
                source: "ITU-R BS.1116-3 and EBU Tech 3276 (law read; tolerance, floor 20-60 m2, volume < 300 m3 from memory)",
                octaves: MID,
                low: Some(middle - 0.05),
                high: Some(middle + 0.05),
                applies: mixing_volume(volume) && (MIXING_FLOOR.0..=MIXING_FLOOR.1).contains(&floor),
            }]
        }
        Activity::Voice => vec![DecayLaw {
            question: "reverberation at the microphone",
            source: "common practice, no source",
            octaves: MID,
            low: Some(0.15),
            high: Some(0.30),
            applies: true,
        }],
        Activity::Rehearsal => vec![DecayLaw {
            question: "reverberation",
            source: "common practice for loud music in small rooms, no source (ISO 23591 was not read)",
            octaves: MID,
            low: Some(0.3),
            high: Some(0.6),
            applies: true,
        }],
        Activity::Lesson => vec![
            din_18041("reverberation, teaching (A3)", 0.32, -0.17, volume, 1000.0),
            din_18041("reverberation, teaching, inclusive (A4)", 0.26, -0.14, volume, 500.0),
            classroom(volume),
        ],
    }
}

/// Octaves under the mean of the mixing law, as indices, and by how much longer than it they may ring, seconds.
const LOW: [(usize, f64); 2] = [(0, 0.30), (1, 0.15)];

/// Decay of the octaves 63 Hz and 125 Hz, as far as waves tell it.
fn low_targets(survey: &Survey, heard: &[(&Pair, &Decays)]) -> impl Iterator<Item = Target> {
    let middle = mixing_decay(survey.volume_m3);
    let is_of_waves = |band: usize| {
        let basis = |pair: &Pair| octave(pair, band).map(|octave| octave.basis);
        heard.iter().all(|(pair, _)| matches!(basis(pair), Some(Basis::Waves | Basis::Joined)))
    };
    let target = |(band, longer): (usize, f64)| {
        let law = DecayLaw {
            question: "reverberation of the bass",
            source: "EBU Tech 3276 and ITU-R BS.1116-3 (tolerance under 200 Hz from memory)",
            octaves: (band, band),
            low: None,
            high: Some(middle + longer),
            applies: mixing_volume(survey.volume_m3) && (MIXING_FLOOR.0..=MIXING_FLOOR.1).contains(&survey.floor_area_m2),
        };
        let target = decay_target(&law, heard);
        Target { question: format!("{}, {}", law.question, Band::new(band).label()), ..target }
    };
    let told: Vec<Target> = LOW.into_iter().filter(|(band, _)| !heard.is_empty() && is_of_waves(*band)).map(target).collect();
    told.into_iter()
}

/// DIN 18041:2016, a line `slope lg V + offset` for volumes from 30 m3 to `volume_max`, within 20 %.
fn din_18041(question: &'static str, slope: f64, offset: f64, volume: f64, volume_max: f64) -> DecayLaw {
    let applies = (30.0..=volume_max).contains(&volume);
    let asked = slope * volume.log10() + offset;
    let bound = |factor: f64| Some(factor * asked).filter(|bound| *bound > 0.0);
    DecayLaw {
        question,
        source: "DIN 18041:2016 (line read; 20 % tolerance and octaves from memory)",
        octaves: SPEECH,
        low: bound(0.8),
        high: bound(1.2),
        applies,
    }
}

/// ANSI/ASA S12.60: 0.6 s under 10 000 cubic feet, 0.7 s up to 20 000.
fn classroom(volume: f64) -> DecayLaw {
    let high = if volume < 283.0 { 0.6 } else { 0.7 };
    DecayLaw {
        question: "reverberation, classroom",
        source: "ANSI/ASA S12.60 (limits read; octaves from memory)",
        octaves: (3, 5),
        low: None,
        high: Some(high),
        applies: volume > 0.0 && volume <= 566.0,
    }
}

/// The pairs of source and receiver that a use is judged by: loudspeakers at seats for mixing, voices and instruments at microphones for a voice, everything at every seat otherwise; where
/// there are none of those everything at the seats, or at all.
#[must_use]
pub fn judged_pairs(activity: Activity, room: &Room) -> Vec<(usize, usize)> {
    let receivers = 0..room.receivers.len();
    let all: Vec<(usize, usize)> =
        (0..room.sources.len()).flat_map(|source| receivers.clone().map(move |receiver| (source, receiver))).collect();
    let at_seat = |&(_, receiver): &(usize, usize)| room.receivers[receiver].zone_radius.is_some();
    let from_loudspeaker = |&(source, _): &(usize, usize)| room.sources[source].kind == SourceKind::Loudspeaker;
    let is_asked = |pair: &(usize, usize)| match activity {
        Activity::Mixing => from_loudspeaker(pair) && at_seat(pair),
        Activity::Voice => !from_loudspeaker(pair) && !at_seat(pair),
        Activity::Rehearsal | Activity::Lesson => at_seat(pair),
    };
    let of = |is: &dyn Fn(&(usize, usize)) -> bool| -> Vec<(usize, usize)> { all.iter().copied().filter(is).collect() };
    [of(&is_asked), of(&at_seat), all.clone()].into_iter().find(|pairs| !pairs.is_empty()).unwrap_or_default()
}

/// Those of some pairs that a use is judged by; all, where none of them is said to be.
#[must_use]
pub fn judged(pairs: &[Pair]) -> Vec<&Pair> {
    let judged: Vec<&Pair> = pairs.iter().filter(|pair| pair.judged).collect();
    if judged.is_empty() { pairs.iter().collect() } else { judged }
}

/// The reflections over the criterion of the pairs that the use is judged by, loudest first, each with its pair.
#[must_use]
pub fn too_loud(pairs: &[Pair]) -> Vec<(&Pair, &Reflection)> {
    let mut loud: Vec<(&Pair, &Reflection)> = Vec::new();
    for pair in judged(pairs) {
        loud.extend(pair.reflections.iter().filter(|reflection| reflection.is_too_loud()).map(|reflection| (pair, reflection)));
    }
    loud.sort_by(|a, b| b.1.level_db.total_cmp(&a.1.level_db));
    loud
}

fn decay_target(law: &DecayLaw, heard: &[(&Pair, &Decays)]) -> Target {
    let mean = mean_decay(heard, law.octaves);
    let pairs: Vec<&Pair> = heard.iter().map(|(pair, _)| *pair).collect();
    let octaves = mean.as_ref().map_or(law.octaves, |(octaves, _)| *octaves);
    let value = mean.map(|(_, value)| value);
    let inputs = value.and_then(|_| mean_inputs(&pairs, octaves));
    Target {
        question: format!("{}, mean of {} - {}", law.question, Band::new(octaves.0).label(), Band::new(octaves.1).label()),
        source: law.source.to_owned(),
        low: law.low,
        high: law.high,
        unit: "s".to_owned(),
        value,
        inputs,
        verdict: verdict(law.applies, value, law.low, law.high).to_owned(),
    }
}

/// Where a value stands to its bounds.
fn verdict(applies: bool, value: Option<Estimate>, low: Option<f64>, high: Option<f64>) -> &'static str {
    match value {
        _ if !applies => "outside its range",
        None => "not known",
        Some(estimate) if high.is_some_and(|high| estimate.value > high + ROUNDING) => "too high",
        Some(estimate) if low.is_some_and(|low| estimate.value < low - ROUNDING) => "too low",
        Some(_) => "met",
    }
}

/// Mean decay time over the octaves (indices, both included) that every pair knows on another than a statistical basis, and which octaves these were:
/// T30, or T20 where the decay does not reach that far.
#[must_use]
pub fn mean_decay(heard: &[(&Pair, &Decays)], octaves: (usize, usize)) -> Option<((usize, usize), Estimate)> {
    let pairs: Vec<&Pair> = heard.iter().map(|(pair, _)| *pair).collect();
    let known = known_octaves(&pairs, octaves);
    if known.len() < OCTAVES_MIN.min(octaves.1 + 1 - octaves.0) {
        return None;
    }
    let share = 1.0 / (known.len() * heard.len()) as f64;
    let figures = heard
        .iter()
        .flat_map(|(_, decays)| known.iter().filter_map(move |&band| Some((decays.source, share, decays.octaves.0[band].as_ref()?))));
    Some(((known[0], known[known.len() - 1]), Resampled::weighted_sum(figures)))
}

/// Where [`mean_decay`] of these octaves may lie because of materials and tape, which move all octaves and pairs together.
#[must_use]
pub fn mean_inputs(pairs: &[&Pair], octaves: (usize, usize)) -> Option<Span> {
    let known = known_octaves(pairs, octaves);
    let spans = pairs.iter().flat_map(|pair| known.iter().map(|&band| octave(pair, band).and_then(inputs)));
    Span::mean(&spans.collect::<Vec<_>>())
}

/// The octaves of a range of which every pair knows a decay time.
fn known_octaves(pairs: &[&Pair], octaves: (usize, usize)) -> Vec<usize> {
    (octaves.0..=octaves.1).filter(|&band| !pairs.is_empty() && pairs.iter().all(|pair| decay(pair, band).is_some())).collect()
}

/// An octave of a pair, unless it is a statistical reading.
fn octave(pair: &Pair, band: usize) -> Option<&Octave> {
    let nominal = Band::new(band).nominal();
    pair.octaves.iter().find(|octave| octave.frequency_hz == nominal && octave.basis != Basis::Statistical)
}

fn decay(pair: &Pair, band: usize) -> Option<Estimate> {
    octave(pair, band).and_then(|octave| octave.t30_s.or(octave.t20_s))
}

/// The range of what [`decay`] takes.
fn inputs(octave: &Octave) -> Option<Span> {
    if octave.t30_s.is_some() { octave.t30_inputs_s } else { octave.t20_inputs_s }
}

/// The largest of what is told of each of some reflections; `None` where one of them does not tell it, or there are none.
fn strongest(reflections: &[&Reflection], of: impl Fn(&Reflection) -> Option<f64>) -> Option<f64> {
    let levels: Vec<f64> = reflections.iter().map(|reflection| of(reflection)).collect::<Option<_>>()?;
    levels.into_iter().max_by(f64::total_cmp)
}

/// The strongest reflection in the early window over all pairs; images are exact, so its error is 0.
fn reflection_target(source: &str, pairs: &[&Pair]) -> Target {
    let early = |delay_ms: f64| delay_ms > 0.0 && delay_ms <= CRITERION_WINDOW_MS;
    let reflections = pairs.iter().flat_map(|pair| &pair.reflections).filter(|reflection| early(reflection.delay_ms));
    let reflections: Vec<&Reflection> = reflections.collect();
    let value = strongest(&reflections, |reflection| Some(reflection.level_db)).map(Estimate::exact);
    let end = |end: fn(Span) -> f64| strongest(&reflections, |reflection| reflection.level_inputs_db.map(end));
    let inputs = end(|span| span.low).zip(end(|span| span.high)).map(|(low, high)| Span { low, high });
    let verdict = match value {
        None if !pairs.is_empty() => "met",
        _ => verdict(true, value, None, Some(CRITERION_DB)),
    };
    Target {
        question: REFLECTION_QUESTION.to_owned(),
        source: source.to_owned(),
        low: None,
        high: Some(CRITERION_DB),
        unit: "dB".to_owned(),
        value,
        inputs,
        verdict: verdict.to_owned(),
    }
}

/// The worst speech transmission index of the pairs.
fn speech_target(pairs: &[&Pair]) -> Target {
    let known: Option<Vec<Estimate>> = pairs.iter().map(|pair| pair.speech_transmission_index).collect();
    let value = known.and_then(|known| known.into_iter().min_by(|a, b| a.value.total_cmp(&b.value)));
    let noise_free = pairs.iter().any(|pair| pair.speech_index_noise_free);
    let low = Some(0.60);
    Target {
        question: format!("speech transmission index{}", if noise_free { ", without noise" } else { "" }),
        source: "IEC 60268-16, rated good (rating read in part)".to_owned(),
        low,
        high: None,
        unit: String::new(),
        value,
        inputs: None,
        verdict: verdict(true, value, low, None).to_owned(),
    }
}

/// A start to compare with, not a goal: nobody's room is wrong by it.
fn coverage_target(survey: &Survey) -> Target {
    let value = Some(Estimate { value: 100.0 * survey.treated_share, se: 0.0 });
    let (low, high) = (Some(15.0), Some(20.0));
    let verdict = match verdict(true, value, low, high) {
        "too high" => "more",
        "too low" => "less",
        _ => "as usual",
    };
    Target {
        question: "treated share of floor, walls and ceiling".to_owned(),
        source: "common practice, no source: a start, not a goal".to_owned(),
        low,
        high,
        unit: "%".to_owned(),
        value,
        inputs: None,
        verdict: verdict.to_owned(),
    }
}

/// Whether the direct sound of left and right is alike: largest difference in the octaves 250 Hz to 2 kHz over all seats; `None`
/// without such a pair or for another use than mixing.
#[must_use]
pub fn likeness_target(activity: Activity, likeness: &[Likeness]) -> Option<Target> {
    if activity != Activity::Mixing {
        return None;
    }
    let octaves = || (SPEECH.0..=SPEECH.1).map(Band::new);
    let differences = likeness.iter().flat_map(|one| octaves().map(|band| one.direct_difference_db[band].abs()));
    let value = Some(Estimate { value: differences.max_by(f64::total_cmp)?, se: 0.0 });
    let high = Some(2.0);
    Some(Target {
        question: "direct sound left against right, 250 Hz - 2 kHz, largest difference".to_owned(),
        source: "ITU-R BS.1116-3 (from memory)".to_owned(),
        low: None,
        high,
        unit: "dB".to_owned(),
        value,
        inputs: None,
        verdict: verdict(true, value, None, high).to_owned(),
    })
}
