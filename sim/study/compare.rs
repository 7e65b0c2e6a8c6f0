//! What does a change do? Versions of a room beside each other: every figure of each, and by how much it differs from the first, with
//! its error and in steps that are just noticed.
//!
//! All versions are traced with the seed of their own scene, until each is sure. A difference has the errors of both, added in squares:
//! versions that share rays err alike, so that this is rather too wide than too narrow. It is **told apart** where it is more than half
//! its interval of 95 %; of exact figures, where it does not round to nothing.
//!
//! *References.* Steps that are just noticed: `prove::scatter` (5 % of a decay time, 1 dB of clarity; ISO 3382-1:2009, table A.1);
//! 0.03 of the speech transmission index (Bradley, Reich, Norcross, J. Acoust. Soc. Am. 106 (1999) 1820; from memory); 1 dB of early
//! levels, borrowed from G.
//!
//! *Limits.* Sources and receivers belong together by their names. What inputs leave open is not in a difference: what is not known of
//! a material is the same in all versions that have it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::listen::{self, ListenAsked, ListenError, Listened, State};
use super::sound::{SoundAsked, Tails, impulses_of};
use super::{BassAsked, LowEnd, Sounded, room, waves_or_why};
use crate::bands::Band;
use crate::findings::decay_times::decay_times;
use crate::findings::{Basis, Estimate, Findings, Pair};
use crate::progress::{Cancelled, Progress};
use crate::prove::scatter::Measure;
use crate::room::{Bodies, Room, build};
use crate::scene::Scene;
use crate::scene::difference::Difference;

/// Versions that are compared at most: as many as there are lines that can be told from each other.
pub const VERSIONS_MOST: usize = 6;

/// The speech transmission index that is just noticed.
const SPEECH_STEP: f64 = 0.03;

/// A version of a room, to be compared.
#[derive(Clone, Debug)]
pub struct Version {
    /// What it is called.
    pub name: String,
    /// Its scene.
    pub scene: Scene,
    /// In what it differs from the first.
    pub differs: Vec<Difference>,
}

/// A version and what is found in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Compared {
    /// What it is called.
    pub name: String,
    /// In what its text differs from the first.
    pub differs: Vec<Difference>,
    /// What is found in it.
    pub findings: Findings,
}

/// By how much a figure differs from that of the first version.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// This one less the first, in the unit of the figure.
    pub by: Estimate,
    /// The same in steps that are just noticed.
    pub by_steps: f64,
    /// Whether it is more than its error.
    pub told_apart: bool,
}

/// A figure of one version.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cell {
    /// Its value, in the unit of the figure; nothing where it cannot be told.
    pub value: Option<Estimate>,
    /// How it differs from the first; nothing for the first, and where one of both cannot be told.
    pub change: Option<Change>,
}

/// What a figure is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Energy of all early reflections, 1-8 kHz, re direct, dB.
    EarlyLevel,
    /// The strongest early reflection, 1-8 kHz, re direct, dB.
    Strongest,
    /// Clarity, 50 ms, mean of 500 Hz to 2 kHz, dB.
    Clarity,
    /// The speech transmission index.
    Speech,
    /// Decay time, mean of the octaves 500 Hz to 4 kHz, s.
    MeanDecay,
    /// Decay time of an octave, mean of all pairs, s.
    Decay,
}

impl Kind {
    /// What it is, for print.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::EarlyLevel => "early reflections together",
            Self::Strongest => "strongest early reflection",
            Self::Clarity => "clarity C50, 500 Hz - 2 kHz",
            Self::Speech => "speech transmission index",
            Self::MeanDecay => "decay time, 500 Hz - 4 kHz",
            Self::Decay => "decay time",
        }
    }

    /// Its unit; nothing where it has none.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::EarlyLevel | Self::Strongest | Self::Clarity => "dB",
            Self::Speech => "",
            Self::MeanDecay | Self::Decay => "s",
        }
    }

    /// Digits behind the point that it is told with.
    #[must_use]
    pub fn decimals(self) -> usize {
        if self.unit() == "dB" { 1 } else { 2 }
    }

    /// By how many just noticed steps one value is more than another.
    fn steps(self, value: f64, other: f64) -> f64 {
        match self {
            Self::EarlyLevel | Self::Strongest => value - other,
            Self::Clarity => Measure::C50.steps(value, other),
            Self::Speech => (value - other) / SPEECH_STEP,
            Self::MeanDecay | Self::Decay => Measure::Thirty.steps(value, other),
        }
    }
}

/// A figure in all versions.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ComparedFigure {
    /// What it is.
    pub kind: Kind,
    /// The source and the receiver that it is of; nothing where it is of all.
    pub pair: Option<[String; 2]>,
    /// The octave that it is of.
    pub frequency_hz: Option<u32>,
    /// Whether nothing is judged by it, in one of the versions at least: a statistical reading below Schroeder's frequency.
    pub statistical: bool,
    /// One for each version, in their order.
    pub cells: Vec<Cell>,
}

/// Versions of a room beside each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Comparison {
    /// Each with its findings, the first being what the others are compared with.
    pub versions: Vec<Compared>,
    /// Every figure that one of them has.
    pub figures: Vec<ComparedFigure>,
}

impl Comparison {
    /// The figure of this kind of the first pair, or of all.
    #[must_use]
    pub fn figure(&self, kind: Kind) -> Option<&ComparedFigure> {
        self.figures.iter().find(|figure| figure.kind == kind)
    }
}

/// A comparison, and the rooms that it is drawn in.
#[derive(Clone, Debug)]
pub struct ComparedRooms {
    /// What was found.
    pub comparison: Comparison,
    /// The room of each version.
    pub rooms: Vec<Room>,
}

/// Hears each version, and compares.
///
/// # Errors
/// [`Cancelled`].
pub fn compare(progress: &Progress, versions: &[Version], waves: Option<&BassAsked>) -> Result<ComparedRooms, Cancelled> {
    each(progress, versions, waves, |_, _, _| Ok(()))
}

/// The same, and what each version sounds like at a receiver: on one scale, equally loud, and all of them in turns.
///
/// # Errors
/// [`ListenError`].
pub fn compare_and_listen(
    progress: &Progress,
    versions: &[Version],
    waves: Option<&BassAsked>,
    asked: &ListenAsked,
) -> Result<(ComparedRooms, Listened), ListenError> {
    let rooms: Vec<Room> = versions.iter().map(|version| build(&version.scene, Bodies::Standing)).collect();
    let at = |room: &Room| room.receivers.get(asked.receiver).map(|receiver| receiver.name.clone());
    let first = rooms.first().and_then(at).unwrap_or_default();
    for (version, room) in versions.iter().zip(&rooms) {
        if at(room).as_ref() != Some(&first) || room.sources.len() != rooms[0].sources.len() {
            return Err(ListenError::Unlike { version: version.name.clone(), receiver: first });
        }
    }
    let pickup = |room: &Room| asked.listener.pickup((room, asked.receiver), (asked.turned_deg, asked.rate), asked.measured.as_ref());
    let pickups = rooms.iter().map(pickup).collect::<Result<Vec<_>, _>>()?;
    listen::check(asked, (rooms[0].sources.len(), pickups[0].channels()), versions.len())?;
    let (mut tails, mut states) = (Tails::default(), Vec::new());
    let compared = each(progress, versions, waves, |index, sounded, low| {
        let heard = SoundAsked { receiver: asked.receiver, pickup: &*pickups[index], rate_hz: f64::from(asked.rate) };
        let impulses = impulses_of(progress, (&sounded.traced, low), &sounded.heard, (&heard, &mut tails))?;
        let word = char::from(b'a' + index as u8).to_string();
        states.push(State { what: format!("{}: {}", word.to_uppercase(), versions[index].name), word, impulses });
        Ok(())
    })?;
    let mut listened = listen::listened(progress, &rooms[0], &states, asked)?;
    // Which of them is softer stands in no order here.
    listened.sounds.softer_db = None;
    Ok((compared, listened))
}

/// Hears each version; `also` has it before it is judged.
fn each(
    progress: &Progress,
    versions: &[Version],
    waves: Option<&BassAsked>,
    mut also: impl FnMut(usize, &Sounded, Option<&LowEnd>) -> Result<(), Cancelled>,
) -> Result<ComparedRooms, Cancelled> {
    let mut compared = Vec::new();
    let mut rooms = Vec::new();
    for (index, version) in versions.iter().enumerate() {
        let (run, why) = waves_or_why(progress, &version.scene, waves)?;
        let sounded = Sounded::new(progress, &version.scene, run.as_ref().map(|run| &run.low))?;
        also(index, &sounded, run.as_ref().map(|run| &run.low))?;
        let (findings, ..) = sounded.judged(progress, &version.scene, (run, why), waves)?;
        compared.push(Compared { name: version.name.clone(), differs: version.differs.clone(), findings });
        rooms.push(room(&version.scene));
    }
    let figures = figures(&compared);
    Ok(ComparedRooms { comparison: Comparison { versions: compared, figures }, rooms })
}

/// Every figure of versions.
fn figures(versions: &[Compared]) -> Vec<ComparedFigure> {
    let mut pairs: Vec<[String; 2]> = Vec::new();
    for pair in versions.iter().flat_map(|version| &version.findings.pairs) {
        let names = [pair.source.clone(), pair.receiver.clone()];
        if !pairs.contains(&names) {
            pairs.push(names);
        }
    }
    let mut figures = Vec::new();
    for names in pairs {
        for (kind, of) in OF_A_PAIR {
            let values = versions.iter().map(|version| pair(&version.findings, &names).and_then(of)).collect();
            figures.push(figure(kind, (Some(names.clone()), None), false, values));
        }
    }
    let mean = versions.iter().map(|version| mean_decay(&version.findings)).collect();
    figures.push(figure(Kind::MeanDecay, (None, None), false, mean));
    for band in Band::ALL {
        let times: Vec<_> = versions.iter().map(|version| decay_times(&version.findings)[band]).collect();
        let is_statistical = times.iter().flatten().any(|time| time.statistical);
        let values = times.into_iter().map(|time| time.map(|time| time.time_s)).collect();
        figures.push(figure(Kind::Decay, (None, Some(band.nominal())), is_statistical, values));
    }
    figures.retain(|figure| figure.cells.iter().any(|cell| cell.value.is_some()));
    figures
}

/// Reads a figure of a pair.
type OfPair = fn(&Pair) -> Option<Estimate>;

/// Figures that every pair has by itself.
const OF_A_PAIR: [(Kind, OfPair); 4] = [
    (Kind::EarlyLevel, |pair| Some(pair.early_level_db)),
    (Kind::Strongest, |pair| pair.strongest_db().map(Estimate::exact)),
    (Kind::Clarity, clarity),
    (Kind::Speech, |pair| pair.speech_transmission_index),
];

fn pair<'a>(findings: &'a Findings, [source, receiver]: &[String; 2]) -> Option<&'a Pair> {
    findings.pairs.iter().find(|pair| pair.source == *source && pair.receiver == *receiver)
}

/// Octaves that clarity is the mean of: 500 Hz to 2 kHz.
const CLEAR: std::ops::RangeInclusive<usize> = 3..=5;

/// Octaves that a decay is the mean of: 500 Hz to 4 kHz, as targets have it in small rooms.
const DECAYING: std::ops::RangeInclusive<usize> = 3..=6;

/// Mean of its octaves, their errors added plainly; nothing where one of them is not known or says nothing.
fn clarity(pair: &Pair) -> Option<Estimate> {
    let of = |index: usize| pair.octaves.get(index).filter(|octave| octave.basis != Basis::Statistical).and_then(|octave| octave.c50_db);
    mean(CLEAR.map(of).collect::<Option<Vec<_>>>()?)
}

/// The same of decay times.
fn mean_decay(findings: &Findings) -> Option<Estimate> {
    let times = decay_times(findings);
    let of = |index: usize| times[Band::new(index)].filter(|time| !time.statistical).map(|time| time.time_s);
    mean(DECAYING.map(of).collect::<Option<Vec<_>>>()?)
}

/// Mean of figures that rest on the same rays.
fn mean(estimates: Vec<Estimate>) -> Option<Estimate> {
    Estimate::mean_of_sources(&estimates.into_iter().map(|estimate| ("", estimate)).collect::<Vec<_>>())
}

/// A figure with its changes.
fn figure(
    kind: Kind,
    (pair, frequency_hz): (Option<[String; 2]>, Option<u32>),
    statistical: bool,
    values: Vec<Option<Estimate>>,
) -> ComparedFigure {
    let first = values.first().copied().flatten();
    let cell = |(index, value): (usize, Option<Estimate>)| {
        let change = first.zip(value).filter(|_| index > 0).map(|(first, value)| change(kind, first, value));
        Cell { value, change }
    };
    ComparedFigure { kind, pair, frequency_hz, statistical, cells: values.into_iter().enumerate().map(cell).collect() }
}

fn change(kind: Kind, first: Estimate, value: Estimate) -> Change {
    let by = Estimate { value: value.value - first.value, se: first.se.hypot(value.se) };
    let least = by.half_width_95().max(0.5 * 10.0_f64.powi(-(kind.decimals() as i32)));
    Change { by, by_steps: kind.steps(value.value, first.value), told_apart: by.value.abs() > least }
}
