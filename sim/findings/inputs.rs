//! How far off may a figure be because of what went in: absorption values and the tape?
//!
//! *Materials.* One after the other is set to either end of its own range ([`crate::absorbers::Finish::absorption_range`]) wherever it lies or hangs, in all octaves at once, the others
//! kept, and the stored paths are weighed again: images all of them, rays side by side in one walk ([`crate::weigh::variants::shares`]). What a figure moves by, material by material, is
//! added in squares, upward and downward apart. That is the propagation of GUM 5.1.2 with differences in place of derivatives (its note 2 to 5.1.3), and each end by itself: materials
//! that are hard, or of which half is soft already, do not move a decay alike in both directions. A finish at an end is [`crate::absorbers::Finish::with_absorption`].
//!
//! Decay times move by a factor, so their logarithms are added; levels, clarity and speech by a difference. The rays are those of the figure itself, so their noise is not in it.
//!
//! *Tape.* All lengths are longer or shorter together, as with one tape: each by the share `tolerance S / (6 V)`, which in a cube is the tolerance over the edge. It moves decay times,
//! by Eyring's formula, and is added in squares. Levels re the direct sound keep still then but for the air, and clarity and speech move with the decay by less than is printed.
//!
//! *Octaves of waves* are off by their walls as rooms with other walls tell it (`findings::bass`), the farthest of these down and up. Where rays have a part in them, what moves the rays is added plainly:
//! it is the same walls, off together. The tape is added in squares.
//!
//! *One standard uncertainty*, which two of three rooms keep to; the standard error of the tracing is not in it. A wider promise (95 of 100) is not made: how tables
//! disagree is known as a typical difference, not as a distribution.
//!
//! *Not taken: all materials at once*, each up or down by a balanced design (12 or 20 runs). For effects that add up it gives the same, for as many runs as materials have ends; but what it
//! adds is their mean of both directions, and products of effects stand in it under other names. `tests/inputs.rs` holds this sum to such an ensemble, drawn by lot.
//!
//! *References.* Propagation: JCGM 100:2008 (GUM), 5.1.2, 5.1.3 (from memory). Ranges: common practice, no source, see `absorbers::table`.
//!
//! *Limits.* A room with less absorption may ring longer than its record: then the factor of T30 is that of T20, or of the early decay. Materials are off independently of one another.
//! A box is not scaled by a tape but longer by it: for 5 x 4 x 2.5 m that is 8 % more than the small share taken here.

use rayon::prelude::*;

use crate::absorbers::Finish;
use crate::bands::{Band, Bands};
use crate::hanging::{self, Hanging};
use crate::metrics::clarity::Clarity;
use crate::metrics::decay::{DecayCurve, Range, Tail};
use crate::metrics::speech::speech_transmission_index;
use crate::progress::{Cancelled, Progress};
use crate::response::Response;
use crate::room::Room;
use crate::weigh::early::EarlyEnergy;
use crate::weigh::variants::{Shares, shares};
use crate::weigh::{Linings, RayCurve, Traced, flat_weights};

use super::reflections::in_states;
use super::{Octave, Pair, Reflection, Span};

/// No tape is so far off: the share of its lengths is held at this.
const SHARE_MAX: f64 = 0.5;

/// The ranges that decay times are read from, in the order of [`Figures::times`].
const RANGES: [Range; 3] = [Range::Early, Range::Twenty, Range::Thirty];

/// A traced room with each of its materials at either end of its range, and with a longer or shorter tape.
pub struct Inputs<'a> {
    traced: &'a Traced,
    linings: &'a Linings,
    /// Less and more of each material in turn.
    ends: Vec<Linings>,
    /// What share of the rays' energy there is at each end, `[end][source x receivers + receiver]`.
    shares: Vec<Vec<Shares>>,
    /// By which factor a tape moves decay times, down and up, as logarithms.
    tape: Bands<Option<Span>>,
}

impl<'a> Inputs<'a> {
    /// Weighs a traced room with `hanging` on its surfaces, which are its `linings`; `curves` are its rays weighed so, the tape is off by `tolerance` meters.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn new(
        progress: &Progress,
        traced: &'a Traced,
        hanging: &Hanging,
        (linings, curves): (&'a Linings, &[Vec<RayCurve>]),
        tolerance: f64,
    ) -> Result<Self, Cancelled> {
        let ends = ends(linings);
        let receivers = traced.room.receivers.len();
        let pairs: Vec<(usize, usize)> =
            (0..traced.room.sources.len()).flat_map(|source| (0..receivers).map(move |receiver| (source, receiver))).collect();
        let shares = shares(progress, traced, (linings, curves), &ends.iter().collect::<Vec<_>>(), &pairs)?;
        Ok(Self { traced, linings, ends, shares, tape: tape(&traced.room, hanging, tolerance) })
    }

    /// A pair with its ranges; `response` is its own, `speech_to_noise` what its speech index is told with, dB.
    #[must_use]
    pub fn told(
        &self,
        pair: Pair,
        response: &Response,
        early: &EarlyEnergy,
        (source, receiver): (usize, usize),
        speech_to_noise: Option<Bands<f64>>,
    ) -> Pair {
        let number = source * self.traced.room.receivers.len() + receiver;
        let shares: Vec<&Shares> = self.shares.iter().map(|of_pairs| &of_pairs[number]).collect();
        let figures = |curves: &Bands<Vec<f64>>| Figures::new(curves, response.bin_s, speech_to_noise);
        let own = figures(&Bands::from_fn(|band| response.curve(band)));
        let curves = response.in_states(self.traced, (self.linings, &self.ends), &shares, (source, receiver));
        let ends: Vec<Figures> = curves.par_iter().map(figures).collect();
        let octave = |(octave, band): (Octave, Band)| {
            let members = Members::of(response, band);
            let is_of_waves = response.rays_share(band) < 1.0;
            let time = |value: Option<f64>, range: usize| {
                let log = |end: &Figures| log_factor(&own.times[band], &end.times[band], range);
                let (materials, tape) = (added(ends.iter().map(log))?, self.tape[band]?);
                let waves = if is_of_waves { members.as_ref()?.longer(range)? } else { Span { low: 0.0, high: 0.0 } };
                let span = |end: fn(&Span) -> f64| (end(&materials) + end(&waves)).hypot(end(&tape));
                value.map(|value| Span { low: value * (-span(|span| span.low)).exp(), high: value * span(|span| span.high).exp() })
            };
            let difference = |value: Option<f64>, of: fn(&Figures) -> &Bands<Option<f64>>, clearer: fn(&Members) -> Option<Span>| {
                let (value, materials) = (value?, added(ends.iter().map(|end| Some(of(end)[band]? - of(&own)[band]?)))?);
                let waves = if is_of_waves { members.as_ref().and_then(clearer)? } else { Span { low: 0.0, high: 0.0 } };
                Some(Span { low: value - materials.low - waves.low, high: value + materials.high + waves.high })
            };
            Octave {
                edt_inputs_s: time(octave.edt_s.map(|time| time.value), 0),
                t20_inputs_s: time(octave.t20_s.map(|time| time.value), 1),
                t30_inputs_s: time(octave.t30_s.map(|time| time.value), 2),
                c50_inputs_db: difference(
                    octave.c50_db.map(|level| level.value),
                    |figures| &figures.c50_db,
                    |members| members.clearer(|clarity| clarity.c50_db),
                ),
                c80_inputs_db: difference(
                    octave.c80_db.map(|level| level.value),
                    |figures| &figures.c80_db,
                    |members| members.clearer(|clarity| clarity.c80_db),
                ),
                ..octave
            }
        };
        let speech = ends.iter().map(|end| Some(end.speech? - own.speech?));
        let louder = in_states(self.traced, self.linings, &self.ends, source, receiver);
        let reflection = |(reflection, louder): (Reflection, Vec<f64>)| {
            let level_inputs_db = about(Some(reflection.level_db), louder.into_iter().map(Some));
            Reflection { level_inputs_db, ..reflection }
        };
        Pair {
            reflections: pair.reflections.into_iter().zip(louder).map(reflection).collect(),
            early_level_inputs_db: about(Some(pair.early_level_db.value), self.early(response, early, &shares, (source, receiver))),
            speech_transmission_index_inputs: about(pair.speech_transmission_index.map(|index| index.value), speech),
            octaves: pair.octaves.into_iter().zip(Band::ALL).map(octave).collect(),
            ..pair
        }
    }

    /// By how much each end moves the early level, dB.
    fn early(
        &self,
        response: &Response,
        early: &EarlyEnergy,
        shares: &[&Shares],
        (source, receiver): (usize, usize),
    ) -> impl Iterator<Item = Option<f64>> {
        let Traced { room, settings, images, .. } = self.traced;
        let whole = early.total(source, receiver);
        let rays = whole.zip(early.images[source][receiver], |whole, images| whole - images);
        let images = images[source][receiver].early_energies(settings.window_s * room.medium.speed, room, self.linings, &self.ends);
        let energy = |(images, shares): (Bands<f64>, &&Shares)| {
            let is = ((images + rays * response.share_within(settings.window_s, shares)) * flat_weights()).sum();
            let was = (whole * flat_weights()).sum();
            (is > 0.0 && was > 0.0).then(|| 10.0 * (is / was).log10())
        };
        images.into_iter().zip(shares).map(energy).collect::<Vec<_>>().into_iter()
    }
}

/// What is read from the curves of one source at one receiver.
struct Figures {
    /// Of each of [`RANGES`], seconds.
    times: Bands<[Option<f64>; 3]>,
    c50_db: Bands<Option<f64>>,
    c80_db: Bands<Option<f64>>,
    speech: Option<f64>,
}

impl Figures {
    fn new(curves: &Bands<Vec<f64>>, bin_s: f64, speech_to_noise: Option<Bands<f64>>) -> Self {
        let clarity = Bands::from_fn(|band| Clarity::new(&curves[band], bin_s));
        Self {
            times: Bands::from_fn(|band| times(&curves[band], bin_s)),
            c50_db: clarity.map(|clarity| clarity?.c50_db),
            c80_db: clarity.map(|clarity| clarity?.c80_db),
            speech: speech_transmission_index(curves, bin_s, speech_to_noise),
        }
    }
}

/// An octave that waves have a part in, in rooms with other walls.
struct Members {
    /// Decays and clarity with the nominal walls in the same cells.
    nominal: Reading,
    others: Vec<Reading>,
}

/// Decay times of each of [`RANGES`] and clarity of one curve.
struct Reading {
    times: [Option<f64>; 3],
    clarity: Option<Clarity>,
}

impl Members {
    /// `None` where waves have no part or no other rooms were run.
    fn of(response: &Response, band: Band) -> Option<Self> {
        let (nominal, others) = response.beside(band)?;
        let read = |curve: &Vec<f64>| Reading { times: times(curve, response.bin_s), clarity: Clarity::new(curve, response.bin_s) };
        Some(Self { nominal: read(&nominal), others: others.iter().map(read).collect() })
    }

    /// How far off a decay may be, down and up, as logarithms of a factor.
    fn longer(&self, range: usize) -> Option<Span> {
        envelope(self.others.iter().map(|other| log_factor(&self.nominal.times, &other.times, range)))
    }

    /// How far off a clarity may be, down and up.
    fn clearer(&self, part: fn(&Clarity) -> Option<f64>) -> Option<Span> {
        let nominal = self.nominal.clarity.as_ref().and_then(part)?;
        envelope(self.others.iter().map(|other| Some(other.clarity.as_ref().and_then(part)? - nominal)))
    }
}

/// The farthest down and up of some changes, as distances; `None` where one of them is not known.
fn envelope(changes: impl Iterator<Item = Option<f64>>) -> Option<Span> {
    let none = Span { low: 0.0, high: 0.0 };
    changes
        .collect::<Option<Vec<f64>>>()
        .map(|changes| changes.into_iter().fold(none, |span, change| Span { low: span.low.max(-change), high: span.high.max(change) }))
}

/// Decay times of each of [`RANGES`].
fn times(curve: &[f64], bin_s: f64) -> [Option<f64>; 3] {
    let curve = DecayCurve::new(curve, bin_s, Tail::Exponential).ok();
    RANGES.map(|range| Some(curve.as_ref()?.fit(range).ok()?.time_s))
}

/// Logarithm of the factor between two decays over this range, or the nearest that both reach.
fn log_factor(own: &[Option<f64>; 3], end: &[Option<f64>; 3], range: usize) -> Option<f64> {
    let factor = |range: usize| Some((end[range]? / own[range]?).ln());
    factor(range).or_else(|| factor(1)).or_else(|| factor(0)).or_else(|| factor(2))
}

/// What changes by the ends of materials, two after two, add up to, in squares, downward and upward apart; `None` where one of them is not known.
fn added(changes: impl Iterator<Item = Option<f64>>) -> Option<Span> {
    let changes: Vec<f64> = changes.collect::<Option<_>>()?;
    let sum = |way: f64| {
        let most = |ends: &[f64]| ends.iter().map(|change| way * change).fold(0.0, f64::max);
        changes.chunks(2).map(|ends| most(ends).powi(2)).sum::<f64>().sqrt()
    };
    Some(Span { low: sum(-1.0), high: sum(1.0) })
}

/// A value and what moves it.
fn about(value: Option<f64>, changes: impl Iterator<Item = Option<f64>>) -> Option<Span> {
    let (value, moved) = (value?, added(changes)?);
    Some(Span { low: value - moved.low, high: value + moved.high })
}

/// Linings with less and with more of each material in turn: one entry a name, since a panel type hung with two gaps, or a desk of the floor's material, is off together.
#[must_use]
pub fn ends(linings: &Linings) -> Vec<Linings> {
    let mut names: Vec<&str> = Vec::new();
    for finish in linings.in_use() {
        if !names.contains(&finish.name.as_str()) {
            names.push(&finish.name);
        }
    }
    let moved = |name: &str, end: fn((f64, f64)) -> f64| {
        let at_end = |finish: &Finish| finish.with_absorption(Bands::from_fn(|band| end(finish.absorption_range(band))));
        linings.refinished(|finish| (finish.name == name).then(|| at_end(finish)))
    };
    names.into_iter().flat_map(|name| [moved(name, |(less, _)| less), moved(name, |(_, more)| more)]).collect()
}

/// By which factor a tape that is off by `tolerance` meters moves decay times, down and up, as logarithms of 0 or more; `None` where Eyring's formula gives no decay.
#[must_use]
pub fn tape(room: &Room, hanging: &Hanging, tolerance: f64) -> Bands<Option<Span>> {
    let (area, absorption) = hanging::absorption(room, hanging);
    let share = (tolerance * area / (6.0 * room.volume)).clamp(0.0, SHARE_MAX);
    Bands::from_fn(|band| {
        let time = |scale: f64| {
            let size = (room.volume * scale.powi(3), area * scale.powi(2));
            hanging::eyring_time(room.medium.speed, size, absorption[band], room.medium.attenuation[band])
        };
        let own = time(1.0);
        let log = |scale: f64| (time(scale) / own).ln().abs();
        (own > 0.0 && own.is_finite()).then(|| Span { low: log(1.0 - share), high: log(1.0 + share) })
    })
}
