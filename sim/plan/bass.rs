//! The bass of the layouts that a plan compares: each run through waves, and what is wrong with it there, in steps that are just noticed.
//!
//! ```text
//! steps of an octave = max(0, ln(T / T_asked) / ln 1.05), or ln(T / T_bare) / ln 1.05 where nothing is asked;   bass = their mean
//! ```
//!
//! *Which octaves.* Those whose basis is waves, or waves and rays joined (`findings::pairs`), and that the term `decay` does not hold already. Each is read as in findings: T30, or T20 where one of the
//! layouts does not reach that far, the mean over the judged pairs; an octave whose filter rings as long as one of the rooms counts in none.
//!
//! *Which cells.* Those of findings, for all layouts: the plan, and the room as it stands or without panels, were run in them anyway; the others are run beside (`findings::bass::beside`).
//!
//! *What is asked.* For mixing the bounds of `findings::targets` at 63 Hz and 125 Hz. The ranges of other uses are those of octaves from 250 Hz on: of what lies below nothing is asked, and it is held
//! against the bare room.
//!
//! *References.* As `score` and `findings::bass`.
//!
//! *What corner panels earn.* The plan without each of them is one of the layouts, so what it earns last has its bass in it.
//!
//! *Limits.* Waves have no error of the tracing, so neither has an octave that is theirs alone; walls that tables do not tell move all layouts together and are not told here. The search does not know
//! this term, and flat panels and clouds earn nothing by it.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::decay::SideBySide;
use super::score::{DECAY_STEP, Faults, Ground, Weighed};
use crate::bands::Band;
use crate::findings::bass::{BassAsked, BassError, in_rooms};
use crate::findings::pairs::{basis, rings};
use crate::findings::targets::longest_asked;
use crate::findings::{Basis, Estimate, Survey};
use crate::progress::{Cancelled, Progress};
use crate::response::{LowEnd, Resampled, Response};
use crate::scene::{Panel, Scene};

/// An octave that the term `bass` counts.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassOctave {
    /// Its center.
    pub frequency_hz: u32,
    /// The longest decay time that is asked of it; `null` where nothing is and it is held against the bare room.
    pub longest_s: Option<f64>,
}

/// By what waves layouts are judged.
#[derive(Clone)]
pub struct ByWaves<'a> {
    /// How waves are run.
    pub asked: &'a BassAsked,
    /// What they bring in the planned room.
    pub planned: &'a LowEnd,
    /// The same of other rooms that were run, by what hangs there.
    pub others: Vec<(&'a [Panel], &'a LowEnd)>,
    /// The bare room: its Schroeder frequency, and what is asked of one of its size.
    pub survey: &'a Survey,
}

/// The bass of layouts side by side.
pub(super) struct Bass {
    /// What is counted.
    pub(super) octaves: Vec<BassOctave>,
    /// Decay times of each layout in these octaves, seconds.
    times: Vec<Vec<Decay>>,
}

/// An octave's decay time, seconds.
type Decay = (Band, Resampled<f64>);

impl ByWaves<'_> {
    /// That of layouts of a scene, the plan one of them, as weighed by rays; or why it cannot be told.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub(super) fn layouts(
        &self,
        progress: &Progress,
        (ground, scene): (Ground<'_>, &Scene),
        layouts: &[(&[Panel], &Weighed)],
        plan: usize,
    ) -> Result<Result<Bass, String>, Cancelled> {
        let known =
            |(number, (panels, _)): (usize, &(&[Panel], &Weighed))| if number == plan { Some(self.planned) } else { self.other(panels) };
        let known: Vec<Option<&LowEnd>> = layouts.iter().enumerate().map(known).collect();
        let left = layouts.iter().zip(&known).filter(|(_, known)| known.is_none()).map(|((panels, _), _)| *panels);
        let rooms: Vec<Scene> = left.map(|panels| Scene { panels: panels.to_vec(), ..scene.clone() }).collect();
        match in_rooms(progress, &rooms, self.asked, self.planned.crossover) {
            Ok(run) => Ok(Ok(self.beside((ground, scene), layouts, (&known, &run), plan))),
            Err(BassError::Stopped(stopped)) => Err(stopped),
            Err(why) => Ok(Err(why.to_string())),
        }
    }

    /// What waves bring where just these panels hang; `None` where that was not run.
    fn other(&self, panels: &[Panel]) -> Option<&LowEnd> {
        let is_same = |other: &[Panel]| other.len() == panels.len() && other.iter().all(|panel| panels.contains(panel));
        self.others.iter().find(|(other, _)| is_same(other)).map(|(_, low)| *low)
    }

    /// Layouts by what waves bring, as known or as run, those that are left in their order.
    fn beside(
        &self,
        (Ground { goal, .. }, scene): (Ground<'_>, &Scene),
        layouts: &[(&[Panel], &Weighed)],
        (known, run): (&[Option<&LowEnd>], &[LowEnd]),
        plan: usize,
    ) -> Bass {
        let joined = |weighed: &Weighed, low: &LowEnd| -> BTreeMap<(usize, usize), Response> {
            weighed.responses.iter().map(|(&pair, response)| (pair, response.clone().with_low(low, pair))).collect()
        };
        let mut run = run.iter();
        let each = layouts.iter().zip(known);
        let responses: Vec<_> = each.filter_map(|((_, weighed), known)| Some(joined(weighed, known.or_else(|| run.next())?))).collect();
        let decays = SideBySide::of(&responses.iter().collect::<Vec<_>>(), goal);
        let is_of_waves = |band: &Band| {
            let basis = |response: &Response| basis(self.survey.schroeder_hz, response, *band);
            !goal.bands.contains(band) && responses[plan].values().all(|response| matches!(basis(response), Basis::Waves | Basis::Joined))
        };
        let mut bass = Bass { octaves: Vec::new(), times: vec![Vec::new(); layouts.len()] };
        for band in Band::ALL.into_iter().filter(is_of_waves) {
            let Some(times) = decays.iter().map(|decays| of_octave(decays, band)).collect::<Option<Vec<_>>>() else { continue };
            if times.iter().any(|time| time.whole <= rings(band)) {
                continue;
            }
            let longest_s = longest_asked((scene.activity, goal.target), self.survey, band);
            bass.octaves.push(BassOctave { frequency_hz: band.nominal(), longest_s });
            bass.times.iter_mut().zip(times).for_each(|(layout, time)| layout.push((band, time)));
        }
        bass
    }
}

/// Mean over the pairs of one octave's decay time; `None` where it cannot be read.
fn of_octave(decays: &SideBySide, band: Band) -> Option<Resampled<f64>> {
    let known = decays.known(&[band]);
    known.measure(|times| times.first().copied())
}

impl Bass {
    /// By how many percent decay times grow from one layout to another, octave by octave.
    pub(super) fn growth(&self, from: usize, to: usize) -> impl Iterator<Item = (Band, Estimate)> {
        let both = self.times[from].iter().zip(&self.times[to]);
        both.map(|((band, from), (_, to))| (*band, from.with(to, |from, to| 100.0 * (to / from - 1.0)).error()))
    }

    /// What is wrong with a layout, its bass with the rest; the first is the bare room.
    pub(super) fn joined(&self, number: usize, faults: Faults, weight: f64) -> Faults {
        let share = 1.0 / (self.octaves.len() as f64 * DECAY_STEP.ln_1p());
        let lack = |((octave, (_, own)), (_, bare)): ((&BassOctave, &Decay), &Decay)| {
            let over = |own: &f64, bare: &f64| octave.longest_s.map_or_else(|| own / bare, |longest| (own / longest).max(1.0));
            own.with(bare, |own, bare| share * over(own, bare).ln())
        };
        let lacks = self.octaves.iter().zip(&self.times[number]).zip(&self.times[0]).map(lack);
        let times = self.times[number].iter().map(|(band, time)| (*band, time.error()));
        match lacks.reduce(|sum, one| sum.with(&one, |sum, one| sum + one)) {
            Some(steps) => faults.with_bass(weight, times, &steps),
            None => faults,
        }
    }
}
